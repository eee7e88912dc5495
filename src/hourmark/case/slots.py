"""Slots: placed and moved by theatre, given to a case, taken away."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, get_args

from hourmark.case import events as e
from hourmark.case.asked import Asked, Refused, Role, only, refusal, refused
from hourmark.case.day import DayState
from hourmark.case.opening import not_open, nothing_changed
from hourmark.case.rests import voided_by
from hourmark.case.state import CaseState
from hourmark.case.streams import On, case_stream, day_of, day_stream, on
from hourmark.clock import Which, Zone, moment, parse_wall
from hourmark.finding import Finding, Unreadable

PLACERS = (Role.THEATRE, Role.NURSE, Role.PRESCRIBER)
"""Who enters the theatre list."""


@dataclass(frozen=True, slots=True)
class PlaceSlot:
    """Place a slot on the theatre list, or move the one of that id within its day. `slot` is as in a night file."""

    slot: e.Table
    why: str


@dataclass(frozen=True, slots=True)
class PlaceSlots:
    """Place a whole theatre list, all of it or nothing. What stands there just so stays; each of `slots` is as in a night file."""

    slots: tuple[e.Table, ...]
    why: str


@dataclass(frozen=True, slots=True)
class GiveSlot:
    """Give a slot of that day to a case."""

    day: str
    slot: str
    case: str
    why: str


@dataclass(frozen=True, slots=True)
class FreeSlot:
    """Take a slot of that day away from the case that has it."""

    day: str
    slot: str
    why: str


def place_slot(
    day: DayState, case: CaseState | None, command: PlaceSlot, asked: Asked, zone: Zone
) -> tuple[On, ...] | Refused:
    """The slot stands at this time; the case that has it has it there, and its sheet is void where that is another time or room."""
    name, at = str(command.slot["id"]), str(command.slot["at"])
    if wrong := only(asked, *PLACERS) or _another_case(day, name):
        return wrong
    instant = _instant(command.slot, zone)
    if isinstance(instant, Refused):
        return instant
    if (there := day.slots.get(name)) is not None and (there.slot, there.instant) == (command.slot, instant):
        return nothing_changed("slot")
    placed = (On(day_stream(day_of(at)), e.SlotPlaced(command.slot, instant, command.why)),)
    if case is None or case.closed or day.cases.get(name) != case.id:
        return placed
    moved = e.SlotGiven(command.slot, instant, command.why)
    void = voided_by(case, {"slot": command.slot}, f"slot {name} was moved: {command.why}")
    return (*placed, *on(case_stream(case.id), moved, *void))


def place_slots(
    standing: Callable[[e.Table], tuple[DayState, CaseState | None]], command: PlaceSlots, asked: Asked, zone: Zone
) -> tuple[On, ...] | Refused:
    """Every slot of the list stands; refused whole for every reason in any of its lines, each at its place.

    `standing` gives the day of a slot as it is, and the case that has that slot.
    """
    if wrong := only(asked, *PLACERS):
        return wrong
    events: list[On] = []
    findings = list(_twice(command.slots))
    for place, slot in enumerate(command.slots, 1):
        answer = place_slot(*standing(slot), PlaceSlot(slot, command.why), asked, zone)
        if isinstance(answer, Refused):
            findings += [one.at(f"slots[{place}]") for one in answer.findings if one.code != "nothing-changed"]
        else:
            events += answer
    if findings:
        return Refused(tuple(findings))
    return tuple(events) or nothing_changed("theatre list")


def give_slot(day: DayState, case: CaseState, command: GiveSlot, asked: Asked, zone: Zone) -> tuple[On, ...] | Refused:
    """The case has this slot, and no other of that day."""
    if refusal := (
        only(asked, *PLACERS) or not_open(case, command.case) or _not_placed(day, command.day, command.slot)
    ):
        return refusal
    whose = day.cases.get(command.slot)
    if whose == command.case:
        return nothing_changed("slot")
    if whose is not None:
        return refused(
            "slot-taken",
            f"Slot {command.slot} of {command.day} belongs to case {whose}.",
            "Choose another slot, or free this one first.",
            "one case a slot",
        )
    if case.slot is not None and (old := _day_of(case.slot)) != command.day:
        return refused(
            "slot-elsewhere",
            f"Case {command.case} still has slot {case.slot.slot['id']} of {old}.",
            "Free that slot first.",
            "one slot a case",
        )
    stream = day_stream(command.day)
    given_up = [On(stream, e.SlotAssigned(slot, None)) for slot, owner in day.cases.items() if owner == command.case]
    placed = day.slots[command.slot]
    if _instant(placed.slot, zone) != placed.instant:
        return refused(
            "slot-zone",
            f"Slot {command.slot} was placed before the clinic's zone changed, and means another moment now.",
            "Have theatre place it again.",
            "slots are clock times of the clinic",
        )
    given = e.SlotGiven(placed.slot, placed.instant, command.why)
    void = voided_by(case, {"slot": placed.slot}, f"another slot was given: {command.why}")
    return (
        *given_up,
        On(stream, e.SlotAssigned(command.slot, command.case)),
        *on(case_stream(command.case), given, *void),
    )


def free_slot(day: DayState, case: CaseState | None, command: FreeSlot, asked: Asked) -> tuple[On, ...] | Refused:
    """The slot is nobody's; the case that had it has none, and its sheet is void."""
    if refusal := only(asked, *PLACERS) or _not_placed(day, command.day, command.slot):
        return refusal
    whose = day.cases.get(command.slot)
    if whose is None or case is None or case.id != whose:
        return nothing_changed("slot")
    freed = On(day_stream(command.day), e.SlotAssigned(command.slot, None))
    if case.closed:
        return (freed,)
    void = voided_by(case, {"slot": None}, f"slot {command.slot} was taken away: {command.why}")
    return (
        freed,
        *on(case_stream(whose), e.SlotTaken(command.slot, command.why), *void),
    )


def _twice(listed: tuple[e.Table, ...]) -> Iterator[Finding]:
    """The slots that stand in one list more than one time: nobody could say which of them counts."""
    seen: set[tuple[str, str]] = set()
    for place, slot in enumerate(listed, 1):
        day, name = day_of(str(slot["at"])), str(slot["id"])
        if (day, name.lower()) in seen:
            yield refusal(
                "file-id-repeated",
                f"Slot {name} of {day} is in the list twice.",
                "Keep one line of it.",
                "upper and lower case count as the same",
                f"slots[{place}], id",
            )
        seen.add((day, name.lower()))


def _another_case(day: DayState, slot: str) -> Refused | None:
    """A slot whose id differs from another's by upper and lower case alone."""
    alike = next((name for name in day.slots if name != slot and name.lower() == slot.lower()), None)
    if alike is None:
        return None
    return refused(
        "slot-alike",
        f"There is a slot {alike} on that day: {slot} would be read as the same.",
        f"Write {alike}, or give this slot an id of its own.",
        "upper and lower case count as the same",
    )


def _not_placed(day: DayState, date: str, slot: str) -> Refused | None:
    if slot in day.slots:
        return None
    return refused(
        "slot-unknown",
        f"There is no slot {slot} on the list of {date}.",
        "Check the day and the slot, or have theatre place it.",
        "a slot is placed first",
    )


def _day_of(slot: e.SlotGiven) -> str:
    return day_of(str(slot.slot["at"]))


def _instant(slot: dict[str, Any], zone: Zone) -> str | Refused:
    """What the clinic's clock time means, or why it means nothing."""
    at = str(slot["at"])
    behind = next((one for one in get_args(Which) if at.endswith(f" {one}")), None)
    try:
        wall = parse_wall(at.removesuffix(f" {behind}"), slot.get("which") or behind)
    except Unreadable as unreadable:
        return refused("slot-time", unreadable.what, unreadable.do, "a date and clock time")
    found = moment(wall, zone, f"slot {slot['id']}")
    return Refused((found,)) if isinstance(found, Finding) else found.utc
