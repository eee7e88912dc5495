"""The watch over silent injections: which rung of the signed ladder is reached, claimed one time, and answered when somebody was told."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from hourmark.case import events as e
from hourmark.case.asked import Asked, Refused, Role, only, same_person
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
    """Put a rung that was reached on the record, one time: that this one is to be told, for the how manieth time by the ladder.

    Not by the number of the line: a ladder that is signed anew in the middle of a night has other lines under the same numbers.
    """

    case: str
    injection: str
    sheet: int
    tell: str
    time: int = 1


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


def unclaimed(case: CaseState, rungs: tuple[Rung, ...], now: e.Instant) -> tuple[tuple[ClaimRung, Reached], ...]:
    """Every rung that is reached and not on the record, with the claim that puts it there.

    A ladder that is signed anew claims nobody a second time for the same silence, whatever its minutes are now; whom it names and the
    old one did not, it claims. Somebody whom it names in two of its lines is claimed two times.
    """
    return tuple(_unclaimed(case, reached(case, rungs, now)))


def claim_rung(
    state: CaseState, command: ClaimRung, asked: Asked, rules: RulesState
) -> tuple[e.CaseEvent, ...] | Refused:
    """The rung is on the record; only where it is reached, and not there yet."""
    if closed := only(asked, Role.WATCH) or not_open(state, command.case):
        return closed
    one = dict(unclaimed(state, ladder(rules), asked.at)).get(command)
    if one is None or command.time != _claimed(state, one) + 1:
        return nothing_changed("escalation")
    return (e.EscalationOwed(one.injection, one.sheet, one.rung.number, one.rung.tell, one.since),)


def _unclaimed(case: CaseState, found: tuple[Reached, ...]) -> Iterator[tuple[ClaimRung, Reached]]:
    for place, one in enumerate(found):
        before = (other for other in found[:place] if (other.injection, other.sheet) == (one.injection, one.sheet))
        time = 1 + sum(same_person(other.rung.tell, one.rung.tell) for other in before)
        if time > _claimed(case, one):
            yield ClaimRung(case.id, one.injection, one.sheet, one.rung.tell, time), one


def _claimed(case: CaseState, one: Reached) -> int:
    """How often whoever a rung names was put on the record for that injection of that page."""
    of = [owed.event for owed in case.owed if (owed.event.injection, owed.event.sheet) == (one.injection, one.sheet)]
    return sum(same_person(owed.tell, one.rung.tell) for owed in of)


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
    number = _rung_of(told.event, rungs)
    top = rungs[-1].number if rungs else 0
    return number if told.event.reached or number < top else top - 1


def _rung_of(told: e.Escalated, rungs: tuple[Rung, ...]) -> int:
    """The line that was named, as far as the ladder still has it, or the lowest that names whoever was told; 0 for none.

    A line is what it says: under a ladder that was signed anew it is the line that names the same, and where none does, none.
    """
    as_then = [rung.number for rung in rungs if told.tell is not None and same_person(rung.tell, told.tell)]
    if as_then:
        return told.rung if told.rung in as_then else min(as_then)
    return min((rung.number for rung in rungs if same_person(rung.tell, told.told)), default=0)
