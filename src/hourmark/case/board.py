"""Tonight as it stands at a moment: one row an injection, from what was recorded and nothing else."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from hourmark.case import events as e
from hourmark.case.night import ALL
from hourmark.case.sheets import told
from hourmark.case.state import CaseState, Kept, SheetStanding
from hourmark.clock import Span, elapsed


@dataclass(frozen=True, slots=True)
class Row:
    """One injection on the board, or a case that has no sheet: then only `case`, `state` and `why` are there.

    `place` counts within the case ("1 of 2"); `since` is when the state began; `to_slot` the hours from the injection, given or due,
    to the slot. `why` says more, in words.
    """

    case: str
    state: str
    why: str = ""
    place: str = ""
    medicine: str = ""
    take: str = ""
    due: e.Instant | None = None
    since: e.Instant | None = None
    to_slot: Span | None = None


def board(cases: Iterable[CaseState], now: e.Instant) -> list[Row]:
    """Every open case's rows: what is unknown or in trouble first, then by the minute at which it is due, what is given last."""
    rows = [row for case in cases if not case.closed for row in _rows(case, now)]
    return sorted(rows, key=lambda row: (_WEIGHT.get(row.state, 1), row.due or "", row.case))


PROBLEM, UNKNOWN, NO_SHEET, MIXING, TOLD, TO_TELL, SETTLED, GIVEN = (
    "problem",
    "unknown since",
    "no sheet",
    "mixing",
    "told",
    "to tell",
    "settled",
    "given",
)
_WEIGHT = {PROBLEM: 0, UNKNOWN: 0, SETTLED: 2, GIVEN: 2}


def reports(case: CaseState, injection: str) -> list[Kept[e.Confirmed]]:
    """What was reported of one injection, in the order in which it was recorded."""
    return [one for one in case.confirmations if one.event.injection == injection]


def given_at(case: CaseState, injection: str) -> e.Instant | None:
    """When an injection was given, by the last report; None where nobody said so, or the time is not known."""
    said = reports(case, injection)
    return said[-1].event.instant if said else None


def is_given(case: CaseState, injection: str) -> bool:
    """Whether the last report says that all of it went in, at a known time, and nothing of it is left to ask."""
    said = reports(case, injection)
    if not said or _open_doubt(case, said[-1]):
        return False
    return said[-1].event.instant is not None and said[-1].event.amount == ALL


_TO_ASK = ("time-future", "injection-unknown")
"""Doubts about a report for which it does not count as given; so do an unknown time, a part of it, and two reports that differ."""


def _open_doubt(case: CaseState, said: Kept[e.Confirmed]) -> bool:
    """Whether a report leaves something to ask, and no incident was settled since."""
    report = said.event
    said_so_far = {(one.event.instant, one.event.amount) for one in reports(case, report.injection)}
    doubtful = (
        report.instant is None
        or report.amount != ALL
        or len(said_so_far) > 1
        or any(one in _TO_ASK for one in report.doubts)
    )
    settled = any(
        one.event.settled and one.event.injection in (report.injection, None) and one.seq > said.seq
        for one in case.incidents
    )
    return doubtful and not settled


def _rows(case: CaseState, now: e.Instant) -> Iterator[Row]:
    last = case.sheets[-1] if case.sheets else None
    yield from _beside_the_page(case, last)
    if last is None:
        yield Row(case.id, NO_SHEET, _why_no_sheet(case))
        return
    count = len(last.event.dues)
    given = sum(is_given(case, due.injection) for due in last.event.dues)
    for number, due in enumerate(last.event.dues, 1):
        state, since, why = _state(case, last, due, now)
        yield Row(
            case=case.id,
            state=state,
            why="; ".join(filter(None, (why, f"{given} of {count} given" if 0 < given < count else ""))),
            place=f"{number} of {count}",
            medicine=f"{due.medicine} {due.dose}",
            take=due.take,
            due=due.at,
            since=since,
            to_slot=_to_slot(case, given_at(case, due.injection) or due.at),
        )


def _beside_the_page(case: CaseState, sheet: SheetStanding | None) -> Iterator[Row]:
    """Reports and problems of something that is on no page: they are never left out."""
    known = {due.injection for due in sheet.event.dues} if sheet else set()
    for one in case.confirmations:
        if one.event.injection not in known:
            why = doubt_words(one.event) or "her page has no such injection"
            yield Row(case.id, PROBLEM, why, medicine=one.event.injection, since=one.at)
    for problem in case.problems:
        whole_case = problem.event.injection is None
        if problem.event.injection not in known and not (whole_case and known):
            yield Row(
                case.id, PROBLEM, problem.event.happened, medicine=problem.event.injection or "", since=problem.at
            )


def _state(case: CaseState, sheet: SheetStanding, due: e.Due, now: e.Instant) -> tuple[str, e.Instant | None, str]:
    open_problem = next((one for one in case.problems if one.event.injection in (due.injection, None)), None)
    if open_problem is not None:
        return PROBLEM, open_problem.at, open_problem.event.happened
    if said := reports(case, due.injection):
        report = said[-1].event
        if _open_doubt(case, said[-1]):
            return PROBLEM, said[-1].at, doubt_words(report)
        if not is_given(case, due.injection):
            return SETTLED, said[-1].at, doubt_words(report)
        return GIVEN, report.instant, doubt_words(report)
    if due.at <= now:
        return UNKNOWN, due.at, "the page is void" if sheet.voided else ""
    if sheet.voided is not None:
        return NO_SHEET, sheet.voided.at, f"sheet {sheet.event.version} is void: {sheet.voided.event.why}"
    heard = told(case, sheet.event.rests_on, sheet.event.check_word)
    if due.mix_at is not None and due.mix_at <= now:
        return MIXING, due.mix_at, "" if heard else "nobody has told her"
    if heard:
        return TOLD, case.read_back.at if case.read_back else None, ""
    return TO_TELL, None, sheet.event.call_waived_why or ""


def doubt_words(report: e.Confirmed) -> str:
    """What is doubtful in a report, in words."""
    return ", ".join(DOUBTS.get(doubt, doubt) for doubt in report.doubts)


DOUBTS = {
    "time-unreadable": "the time cannot be read",
    "time-skipped": "that time does not exist that night",
    "time-repeated": "that time happens twice: ask which",
    "time-future": "the time is still to come: ask again",
    "not-all": "not all of it went in, or nobody knows",
    "no-sheet": "she had no released page",
    "sheet-void": "she followed a page that was void",
    "injection-unknown": "her page has no such injection",
    "before-release": "given before the page was released",
    "reports-differ": "two reports differ",
}
"""What each doubt about a report means, in words."""


def _why_no_sheet(case: CaseState) -> str:
    missing = [name for name, there in (("order", case.order), ("kit", case.kit), ("slot", case.slot)) if there is None]
    return f"missing: {', '.join(missing)}" if missing else "not released"


def _to_slot(case: CaseState, at: e.Instant) -> Span | None:
    return elapsed(at, case.slot.instant) if case.slot is not None else None
