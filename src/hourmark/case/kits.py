"""The kit: what is at home as read off the boxes, and the cartons that two people read."""

from dataclasses import dataclass
from typing import Any

from hourmark.case import events as e
from hourmark.case.asked import Asked, Refused, Role, blank, only, refusal, refused, same_person
from hourmark.case.opening import not_open, nothing_changed
from hourmark.case.rests import voided_by
from hourmark.case.state import CaseState

READERS = (Role.NURSE, Role.PHARMACIST, Role.PRESCRIBER)
"""Who reads kits and cartons."""


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


def read_kit(state: CaseState, command: ReadKit, asked: Asked) -> tuple[e.CaseEvent, ...] | Refused:
    """The kit is this; a sheet that rested on another is void, and cartons are read anew."""
    if refusal := only(asked, *READERS) or not_open(state, command.case):
        return refusal
    if state.kit is not None and state.kit.kit == command.kit:
        return nothing_changed("kit")
    void = voided_by(state, {"kit": command.kit}, "the kit was read anew")
    return (e.KitRead(state.kits + 1, command.kit, command.how), *void)


def check_carton(state: CaseState, command: CheckCarton, asked: Asked) -> tuple[e.CaseEvent, ...] | Refused:
    """The carton was read by two. No sheet changes by it."""
    if wrong := only(asked, *READERS) or not_open(state, command.case):
        return wrong
    kit: dict[str, Any] = state.kit.kit if state.kit else {}
    if command.product not in [box["product"] for box in kit.get("products") or []]:
        return refused(
            "carton-not-there",
            f"There is no {command.product} in the kit of case {command.case}.",
            "Read the kit first, and check the product.",
            "a carton that is at home",
        )
    first, second = command.readers
    recorder = any(same_person(asked.by, name) for name in command.readers)
    findings = []
    if not first.strip() or not second.strip() or same_person(first, second) or not recorder:
        findings.append(
            refusal(
                "carton-readers",
                "A carton check takes two people, and whoever records it is one of them.",
                "Name both who read the box.",
                "two people read the box",
            )
        )
    read = {"strength": command.strength, "volume": command.volume, "route": command.route}
    missing = blank(**{name: (words, f"the {name}") for name, words in read.items()})
    if findings or missing:
        return Refused((*findings, *(missing.findings if missing else ())))
    return (e.CartonChecked(command.product, command.readers, command.strength, command.volume, command.route),)
