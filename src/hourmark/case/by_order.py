"""What the order alone says of a case of which no page holds: at which minute each injection is, and until when she has to be told.

Counted by the clock from slot and order as they stand on the record. No mark and no dose comes from here, and no page.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from hourmark.case import events as e
from hourmark.case.day import RulesState
from hourmark.case.injections import reports
from hourmark.case.owed import BEFORE_THE_CHECK, Step, owed
from hourmark.case.state import CaseState
from hourmark.clock import Which, moment, parse_span, parse_wall, parse_zone, shifted
from hourmark.finding import Finding, Unreadable


@dataclass(frozen=True, slots=True)
class ByOrder:
    """One injection of an order of which no page holds: `at` where slot and order give its minute, `tell_by` where a rule is signed.

    `said` is whether that minute may be read yet: before the second check agrees, whoever reads it can check the case blind no more.
    `past` and `overdue`, that it is past and that she should have been told, are no minute: they may always be read. `told` is whether
    she has read it back, all of it rightly: then she waits for her page alone. `reported` is whether anybody has said anything of it:
    then nobody is to tell her of its minute, and `past` only says that what was said was of a time still to come.
    """

    injection: str
    place: str
    medicine: str
    route: str
    zone: str
    at: e.Instant | None
    tell_by: e.Instant | None
    said: bool
    told: bool
    past: bool
    overdue: bool
    reported: bool


def by_order(state: CaseState, rules: RulesState, now: e.Instant) -> tuple[ByOrder, ...]:
    """Each injection of the order that holds, in its order; nothing without an order, and nothing while a page holds."""
    return () if state.sheet is not None else tuple(_by_order(state, rules, now))


def _by_order(state: CaseState, rules: RulesState, now: e.Instant) -> Iterator[ByOrder]:
    listed = _listed(state)
    minutes = _minutes(state, listed)
    before, step = tell_by_span(rules), owed(state, rules).step
    told = step is Step.RELEASE
    for place, one in enumerate(listed, 1):
        name = str(one["id"])
        at = minutes.get(name)
        said = reports(state, name)
        to_tell = at is not None and before is not None and not told and not said
        tell_by = shifted(at, -before) if to_tell and at is not None and before is not None else None
        silent = all("time-future" in each.event.doubts for each in said)
        yield ByOrder(
            injection=name,
            place=f"{place} of {len(listed)}",
            medicine=f"{one['drug']} {one['dose']}",
            route=str(one["route"]),
            zone=str(state.details.get("zone") or ""),
            at=at,
            tell_by=tell_by,
            said=step not in BEFORE_THE_CHECK and at is not None and not said,
            told=told,
            past=silent and at is not None and at <= now,
            overdue=tell_by is not None and tell_by < now,
            reported=bool(said),
        )


def tell_by_span(rules: RulesState) -> int | None:
    """So many minutes before an injection she has to have been told, by the signed rule; None where none is signed."""
    signed: Any = rules.clinic.get("rules") or {}
    return parse_span(signed["tell_by"]).minutes if "tell_by" in signed else None


def _listed(state: CaseState) -> list[dict[str, Any]]:
    order: Any = state.order.event.order if state.order is not None else {}
    return [one for one in order.get("injections") or () if isinstance(one, dict)]


def _minutes(state: CaseState, listed: list[dict[str, Any]]) -> dict[str, e.Instant]:
    """The minute of each injection that has one; what follows another is counted from that one as it is ordered."""
    found: dict[str, e.Instant] = {}
    for _ in listed:
        for one in listed:
            at = _minute(state, one, found)
            if at is not None:
                found[str(one["id"])] = at
    return found


def _minute(state: CaseState, one: dict[str, Any], known: dict[str, e.Instant]) -> e.Instant | None:
    try:
        if "lead" in one:
            slot = state.slot
            return shifted(slot.instant, -parse_span(one["lead"]).minutes) if slot is not None else None
        if "after" in one:
            first = known.get(str(one["after"]["injection"]))
            return shifted(first, parse_span(one["after"]["gap"]).minutes) if first is not None else None
        found = moment(parse_wall(one.get("at"), _which(one)), parse_zone(state.details.get("zone")))
    except Unreadable:
        return None
    return None if isinstance(found, Finding) else found.utc


def _which(one: dict[str, Any]) -> Which | None:
    return "first" if one.get("which") == "first" else "second" if one.get("which") == "second" else None
