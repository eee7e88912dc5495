"""The watch over silent injections: which rung of the signed ladder is reached, claimed one time, and answered when somebody was told."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from hourmark.case import events as e
from hourmark.case.asked import Asked, Refused, Role, only
from hourmark.case.day import RulesState
from hourmark.case.injections import Standing, standings
from hourmark.case.opening import not_open, nothing_changed
from hourmark.case.state import CaseState, Kept
from hourmark.clock import parse_span, shifted


@dataclass(frozen=True, slots=True)
class Rung:
    """One rung of the clinic's signed ladder: so many minutes of silence after the minute of an injection, this one is told."""

    number: int
    after: int
    tell: str


@dataclass(frozen=True, slots=True)
class Reached:
    """A rung that a silent injection has reached, and since when; `told` once somebody was told for it."""

    injection: str
    sheet: int
    rung: Rung
    since: e.Instant
    told: bool


@dataclass(frozen=True, slots=True)
class ClaimRung:
    """Put a rung that was reached on the record, one time."""

    case: str
    injection: str
    sheet: int
    rung: int


def ladder(rules: RulesState) -> tuple[Rung, ...]:
    """The signed ladder, by its minutes; empty where nobody signed one."""
    signed: Any = rules.clinic.get("rules") or {}
    rungs = sorted((parse_span(one["after"]).minutes, str(one["tell"])) for one in signed.get("ladder") or ())
    return tuple(Rung(number, after, tell) for number, (after, tell) in enumerate(rungs, 1))


def reached(case: CaseState, rungs: tuple[Rung, ...], now: e.Instant) -> tuple[Reached, ...]:
    """Every rung that each silent injection has reached, the lowest first: of the last page, and of earlier ones that were passed in silence.

    Nothing is silent that anybody spoke of.
    """
    return () if case.closed else tuple(_reached(case, rungs, now))


def claim_rung(
    state: CaseState, command: ClaimRung, asked: Asked, rules: RulesState
) -> tuple[e.CaseEvent, ...] | Refused:
    """The rung is on the record; only where it is reached, and not there yet."""
    if closed := only(asked, Role.WATCH) or not_open(state, command.case):
        return closed
    wanted = (command.injection, command.sheet, command.rung)
    owed = {(one.injection, one.sheet, one.rung.number): one for one in reached(state, ladder(rules), asked.at)}
    claimed = {(one.event.injection, one.event.sheet, one.event.rung) for one in state.owed}
    if wanted not in owed or wanted in claimed:
        return nothing_changed("escalation")
    one = owed[wanted]
    return (e.EscalationOwed(one.injection, one.sheet, one.rung.number, one.rung.tell, one.since),)


def _reached(case: CaseState, rungs: tuple[Rung, ...], now: e.Instant) -> Iterator[Reached]:
    for one in standings(case):
        for rung in rungs if one.silent else ():
            since = shifted(one.due.at, rung.after)
            if since <= now:
                answers = {_answered(each, rungs) for each in case.escalations if _is_about(each, one)}
                told = any(number >= rung.number for number in answers)
                yield Reached(one.due.injection, one.sheet.event.version, rung, since, told)


def _is_about(told: Kept[e.Escalated], one: Standing) -> bool:
    """Whether somebody was told of this silence: of that injection, once it was due."""
    return told.event.injection == one.due.injection and told.at >= one.due.at


def _answered(told: Kept[e.Escalated], rungs: tuple[Rung, ...]) -> int:
    """The highest line of the ladder that telling somebody answers; 0 for none.

    Whoever goes further up has gone past what lies below, also where nobody answered; what lies above is still owed. The last line has
    nothing above it: it is owed until somebody was reached.
    """
    number = _rung_of(told, rungs)
    top = rungs[-1].number if rungs else 0
    return number if told.event.reached or number < top else top - 1


def _rung_of(told: Kept[e.Escalated], rungs: tuple[Rung, ...]) -> int:
    """The line that was named, or the highest that names whoever was told; 0 for none."""
    if told.event.rung is not None:
        return told.event.rung
    return max((rung.number for rung in rungs if rung.tell == told.event.told), default=0)
