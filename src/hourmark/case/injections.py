"""The injections of a case, page by page: which reports belong to which, whether it was given, and whether it lies in the order's window.

A later page that has the same medicine, dose, route and minute is about the same injection. One that has another is about another: what was
said before it was released, or passed in silence, belongs to the page before, and stays in sight there.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from hourmark.case import events as e
from hourmark.case.events import ALL, NONE
from hourmark.case.state import CaseState, Kept, SheetStanding
from hourmark.clock import elapsed

Report = Kept[e.Confirmed]

TO_ASK = ("time-future", "injection-unknown", "more-than-held", "other-dose")
"""Doubts about a report for which it does not count as given; so do an unknown time, a part of it, and two reports that differ."""


@dataclass(frozen=True, slots=True)
class Standing:
    """One injection of one page: its place there, and what was reported of it; `current` on the last page that was released."""

    sheet: SheetStanding
    place: int
    due: e.Due
    reports: tuple[Report, ...]
    current: bool

    @property
    def silent(self) -> bool:
        """Whether nobody has said anything of it; a time that was still to come when it was said says nothing."""
        return all("time-future" in one.event.doubts for one in self.reports)

    @property
    def given_at(self) -> e.Instant | None:
        """When it was given, by the last report; None where nobody said so, or the time is not known, or none of it went in."""
        if not self.reports or self.reports[-1].event.amount == NONE:
            return None
        return self.reports[-1].event.instant


def standings(case: CaseState) -> tuple[Standing, ...]:
    """Every injection of the last page; and before them those of earlier pages that were reported, or whose minute had passed in silence."""
    return tuple(_standings(case))


def _standings(case: CaseState) -> Iterator[Standing]:
    for sheet, after in pairwise(case.sheets):
        for one in _of(case, sheet, current=False):
            if _same_on(after, one.due) is None and (one.reports or one.due.at <= after.at):
                yield one
    for sheet in case.sheets[-1:]:
        yield from _of(case, sheet, current=True)


def _of(case: CaseState, sheet: SheetStanding, *, current: bool) -> Iterator[Standing]:
    for place, due in enumerate(sheet.event.dues, 1):
        mine = (one for one in case.confirmations if one.event.injection == due.injection)
        version = sheet.event.version
        yield Standing(sheet, place, due, tuple(one for one in mine if _page_of(case, one) == version), current)


def _page_of(case: CaseState, report: Report) -> int | None:
    """The version of the page whose injection a report is about: the last that had it, when it was reported.

    That nothing went in belongs to the page that was followed.
    """
    had = [
        sheet.event.version
        for sheet in case.sheets
        if sheet.seq < report.seq and report.event.injection in [due.injection for due in sheet.event.dues]
    ]
    if not had:
        return None
    version = report.event.sheet if report.event.amount == NONE and report.event.sheet in had else had[-1]
    return _last_of_the_same(case, version, report.event.injection)


def _last_of_the_same(case: CaseState, version: int, injection: str) -> int:
    """The version of the last page that is about the same injection as this one."""
    for sheet, after in pairwise(case.sheets):
        if sheet.event.version == version:
            due = next(one for one in sheet.event.dues if one.injection == injection)
            if _same_on(after, due) is None:
                return version
            version = after.event.version
    return version


def _same_on(sheet: SheetStanding, due: e.Due) -> e.Due | None:
    """The same injection on another page: same medicine, dose, route and minute; None where it has none."""
    wanted = (due.injection, due.medicine, due.dose, due.route, due.at)
    return next(
        (one for one in sheet.event.dues if (one.injection, one.medicine, one.dose, one.route, one.at) == wanted), None
    )


def after_closing(case: CaseState) -> tuple[Report, ...]:
    """What was reported of a case after it was closed, and nobody has seen yet: whoever closes it again has."""
    return tuple(one for one in case.confirmations if case.closed and one.seq > case.closed_entry)


def withdrawn_since(case: CaseState) -> tuple[Standing, ...]:
    """What is silent in a closed case although it was due when that was closed, and so spoken of: its report was withdrawn since."""
    return tuple(one for one in standings(case) if case.closed and one.silent and one.due.at <= case.closed_at)


def on_no_page(case: CaseState) -> tuple[Report, ...]:
    """Reports of what no page had when they were made."""
    return tuple(one for one in case.confirmations if _page_of(case, one) is None)


def current(case: CaseState, injection: str) -> Standing | None:
    """An injection of the last page by its id; None where that page has none."""
    return next((one for one in standings(case) if one.current and one.due.injection == injection), None)


def reports(case: CaseState, injection: str) -> tuple[Report, ...]:
    """What was reported of an injection of the last page; of one that no page has, everything that was."""
    found = current(case, injection)
    if found is not None:
        return found.reports
    return tuple(one for one in case.confirmations if one.event.injection == injection)


def given_at(case: CaseState, injection: str) -> e.Instant | None:
    """When an injection of the last page was given, by the last report; None where nobody knows."""
    found = current(case, injection)
    if found is not None:
        return found.given_at
    said = reports(case, injection)
    return said[-1].event.instant if said else None


def is_given(case: CaseState, one: Standing) -> bool:
    """Whether the last report says that all of it went in, at a known time, and nothing of it is left to ask."""
    return one.given_at is not None and one.reports[-1].event.amount == ALL and not open_doubt(case, one)


def open_doubt(case: CaseState, one: Standing) -> bool:
    """Whether the last report leaves something to ask, and no incident with this injection was settled since."""
    if not one.reports:
        return False
    last = one.reports[-1]
    said = {(report.event.instant or last.event.instant, report.event.amount) for report in one.reports}
    doubtful = (
        last.event.instant is None
        or last.event.amount != ALL
        or len(said) > 1
        or any(doubt in TO_ASK for doubt in last.event.doubts)
    )
    return doubtful and not settled_since(case, last)


def settled_since(case: CaseState, said: Report) -> bool:
    """Whether a problem with just this injection was settled after the report."""
    return settling(case, said) is not None


def settling(case: CaseState, said: Report) -> Kept[e.IncidentNoted] | None:
    """What settled a problem with just this injection last after the report; None where nothing did."""
    ends = [one for one in case.incidents if one.event.settled and one.event.injection == said.event.injection]
    return next((one for one in reversed(ends) if one.seq > said.seq), None)


def told_since(case: CaseState, said: Report) -> bool:
    """Whether somebody was reached and told of the injection after the report, or a problem with it was settled."""
    name = said.event.injection
    told = any(one.event.injection == name and one.event.reached and one.seq > said.seq for one in case.escalations)
    return told or settled_since(case, said)


def followed(case: CaseState, report: Report) -> e.Due | None:
    """The injection as the page had it that was followed; None where that is not known."""
    page = next((one for one in case.sheets if one.event.version == report.event.sheet), None)
    dues = page.event.dues if page is not None else ()
    return next((due for due in dues if due.injection == report.event.injection), None)


def in_window(case: CaseState, due: e.Due, at: e.Instant) -> bool | None:
    """Whether a moment lies in the order's window: counted to the slot as it now is, or from the first injection as it really was.

    None where the order has no window for it, or where nobody knows when the first was.
    """
    if due.follows is not None:
        first = given_at(case, due.follows.injection)
        if first is None or due.follows.least is None or due.follows.most is None:
            return None
        return first <= at and due.follows.least <= elapsed(first, at).minutes <= due.follows.most
    if due.leads is not None and case.slot is not None:
        least, most = due.leads
        return least <= elapsed(at, case.slot.instant).minutes <= most
    if due.earliest is not None and due.latest is not None:
        return due.earliest <= at <= due.latest
    return None


def is_late(case: CaseState, due: e.Due, at: e.Instant) -> bool:
    """Of a moment outside the order's window: whether it is after it, and not before."""
    if due.follows is not None:
        first = given_at(case, due.follows.injection) or at
        return first <= at and elapsed(first, at).minutes > (due.follows.most or 0)
    if due.leads is not None and case.slot is not None:
        return elapsed(at, case.slot.instant).minutes < due.leads[0]
    return due.latest is not None and at > due.latest
