"""The end of the night: handed from one nurse to the other, and the morning list."""

import datetime as dt
from dataclasses import dataclass

from hourmark.case import events as e
from hourmark.case.asked import Asked, Refused, Role, only, refused, same_person
from hourmark.case.day import DayState
from hourmark.case.opening import nothing_changed
from hourmark.clock import ENGLISH, Zone, moment_from_utc

NOON = 12
"""Before noon it is still the night that began the evening before; from noon on it is the one to come (our own rule)."""


@dataclass(frozen=True, slots=True)
class HandOver:
    """Hand a night to another nurse, with what is open; `day` is the date of the evening on which it begins."""

    day: str
    to: str
    problems: tuple[e.Problem, ...]


@dataclass(frozen=True, slots=True)
class TakeHandover:
    """Sign for a handover on the stream of that day; `entry` is its number, None the last that is to whoever signs."""

    day: str
    entry: int | None = None


@dataclass(frozen=True, slots=True)
class ListMorning:
    """Give out the morning list of a theatre day; what it says follows from the cases."""

    day: str


def night_of(now: e.Instant, zone: Zone) -> str:
    """The night that a moment belongs to on a clinic's clock: the date of the evening on which it begins, such as "2026-11-18"."""
    wall = moment_from_utc(now, zone).wall
    return str((wall if wall.hour >= NOON else wall - dt.timedelta(days=1)).date())


def night_words(night: str) -> str:
    """A night by the days that it joins: "the night of Wednesday 18 November into Thursday"."""
    evening = dt.date.fromisoformat(night)
    morning = evening + dt.timedelta(days=1)
    begins = f"{ENGLISH.days[evening.weekday()]} {evening.day} {ENGLISH.months[evening.month - 1]}"
    return ENGLISH.night.format(evening=begins, morning=ENGLISH.days[morning.weekday()])


def hand_over(_: DayState, command: HandOver, asked: Asked) -> tuple[e.DayEvent, ...] | Refused:
    """The night is handed over, and waits for the other's signature."""
    if wrong := only(asked, Role.NURSE):
        return wrong
    if not command.to.strip() or same_person(command.to, asked.by):
        return refused(
            "handover-to-self",
            "A handover has two people.",
            "Name the nurse who takes over.",
            "both nurses sign",
        )
    return (e.HandedOver(command.to, command.problems),)


def take_handover(day: DayState, command: TakeHandover, asked: Asked) -> tuple[e.DayEvent, ...] | Refused:
    """The other nurse has signed."""
    mine = [
        entry for entry, one in day.handovers.items() if same_person(one.to, asked.by) and entry not in day.taken_by
    ]
    entry = command.entry if command.entry is not None else max(mine, default=0)
    handed = day.handovers.get(entry)
    if handed is None or entry in day.taken_by:
        return nothing_changed("handover")
    if not same_person(handed.to, asked.by):
        return refused(
            "handover-other",
            f"This handover is to {handed.to}.",
            "Whoever takes over signs; a change is handed over anew.",
            "both nurses sign",
        )
    return (e.HandoverTaken(entry),)


def list_morning(day: DayState, _: ListMorning, __: Asked, lines: tuple[str, ...]) -> tuple[e.DayEvent, ...] | Refused:
    """The list is out under the next number."""
    if day.lists and day.lists[-1].lines == lines:
        return nothing_changed("morning list")
    return (e.MorningListed(len(day.lists) + 1, lines),)
