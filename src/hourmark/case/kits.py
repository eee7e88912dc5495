"""The kit: what is at home as read off the boxes, and the cartons that two people read."""

from dataclasses import dataclass
from typing import Any

from hourmark.case import events as e
from hourmark.case.asked import Asked, Refused, refused
from hourmark.case.opening import not_open, nothing_changed
from hourmark.case.rests import voided_by
from hourmark.case.state import CaseState


@dataclass(frozen=True, slots=True)
class ReadKit:
    """Read what is at home, as in a night file but without carton checks; how it was read."""

    case: str
    kit: e.Table
    how: str


@dataclass(frozen=True, slots=True)
class CheckCarton:
    """Read strength, volume and route off one box of the kit, by two people."""

    case: str
    product: str
    readers: tuple[str, str]
    strength: str
    volume: str
    route: str


def read_kit(state: CaseState, command: ReadKit, _: Asked) -> tuple[e.CaseEvent, ...] | Refused:
    """The kit is this; a sheet that rested on another is void, and cartons are read anew."""
    if refusal := not_open(state, command.case):
        return refusal
    if state.kit is not None and state.kit.kit == command.kit:
        return nothing_changed("kit")
    void = voided_by(state, {"kit": command.kit}, "the kit was read anew")
    return (e.KitRead(state.kits + 1, command.kit, command.how), *void)


def check_carton(state: CaseState, command: CheckCarton, asked: Asked) -> tuple[e.CaseEvent, ...] | Refused:
    """The carton was read by two. No sheet changes by it."""
    if refusal := not_open(state, command.case):
        return refusal
    kit: dict[str, Any] = state.kit.kit if state.kit else {}
    if command.product not in [box["product"] for box in kit.get("products") or []]:
        return refused(
            "carton-not-there",
            f"There is no {command.product} in the kit of case {command.case}.",
            "Read the kit first, and check the product.",
            "a carton that is at home",
        )
    first, second = (name.strip().lower() for name in command.readers)
    if not first or not second or first == second or asked.by.strip().lower() not in (first, second):
        return refused(
            "carton-readers",
            "A carton check takes two people, and whoever records it is one of them.",
            "Name both who read the box.",
            "two people read the box",
        )
    return (e.CartonChecked(command.product, command.readers, command.strength, command.volume, command.route),)
