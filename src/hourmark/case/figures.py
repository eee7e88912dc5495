"""What a clinic's nights came to, counted from the record: for whoever answers for them, by number and never by name."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from hourmark.case import events as e
from hourmark.case.injections import Standing, in_window, is_given, is_late, open_doubt, standings
from hourmark.case.state import CaseState
from hourmark.clock import elapsed


@dataclass(frozen=True, slots=True)
class Figures:
    """Injections whose minute lies in the time counted, and what became of each; then of the cases they belong to.

    `to_told` are the minutes from the order that held to the read-back that was all right, one a case, the shortest first. `unchecked`,
    `without_call` and `overrides` are releases that nobody checked, releases without the call, and stops of an order gone past, each with
    the reason given.
    """

    injections: int = 0
    given: int = 0
    early: int = 0
    late: int = 0
    unknown: int = 0
    asked: int = 0
    settled: int = 0
    voided: int = 0
    told: int = 0
    to_told: tuple[int, ...] = ()
    unchecked: tuple[tuple[str, str], ...] = ()
    without_call: tuple[tuple[str, str], ...] = ()
    overrides: tuple[tuple[str, str], ...] = ()

    @property
    def median_to_told(self) -> int | None:
        """The middle of them; the longer of two middles. None where nobody was told."""
        return self.to_told[len(self.to_told) // 2] if self.to_told else None


def figures(cases: Iterable[CaseState], since: e.Instant, until: e.Instant) -> Figures:
    """The figures of every injection due from `since` up to `until`."""
    counted = [(case, one) for case in cases for one in standings(case) if since <= one.due.at < until]
    states = [_became(case, one) for case, one in counted]
    whose = list({case.id: case for case, _ in counted}.values())
    sheets = [(case.id, sheet) for case in whose for sheet in case.sheets]
    return Figures(
        injections=len(counted),
        given=states.count("given"),
        early=states.count("early"),
        late=states.count("late"),
        unknown=states.count("unknown"),
        asked=states.count("asked"),
        settled=states.count("settled"),
        voided=sum(sheet.voided is not None for _, sheet in sheets),
        told=sum(len(case.escalations) for case in whose),
        to_told=tuple(sorted(minutes for case in whose if (minutes := _to_told(case)) is not None)),
        unchecked=tuple((case, why) for case, sheet in sheets if (why := sheet.event.unchecked_why)),
        without_call=tuple((case, why) for case, sheet in sheets if (why := sheet.event.call_waived_why)),
        overrides=tuple(one for case in whose for one in _overrides(case)),
    )


def _became(case: CaseState, one: Standing) -> str:
    if one.silent:
        return "unknown"
    if open_doubt(case, one):
        return "asked"
    at = one.given_at
    if at is None or not is_given(case, one):
        return "settled"
    if in_window(case, one.due, at) is not False:
        return "given"
    return "late" if is_late(case, one.due, at) else "early"


def _to_told(case: CaseState) -> int | None:
    heard, order = case.read_back, case.order
    if heard is None or order is None or heard.at < order.at or not all(one.agreed for one in heard.event.fields):
        return None
    return elapsed(order.at, heard.at).minutes


def _overrides(case: CaseState) -> tuple[tuple[str, str], ...]:
    order: Any = case.order.event.order if case.order is not None else {}
    return tuple(
        (case.id, f"{one['override']['by']}: {one['override']['reason']}")
        for one in order.get("injections") or ()
        if "override" in one
    )
