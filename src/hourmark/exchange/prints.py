"""Every file of a printed night, one after the other: for each patient the page, for staff what they work from."""

import datetime as dt
import json
import os
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from multiprocessing import get_context
from typing import TypeAlias

from hourmark.exchange.answers import plan_json
from hourmark.exchange.checked import page_rechecked
from hourmark.finding import Finding, Level
from hourmark.handout import Sheet, patient_sheet, sheet_text
from hourmark.handout.pdf import Paper, Unprintable
from hourmark.plan import CasePlan, NightPlan

File: TypeAlias = tuple[str, bytes]


@dataclass(frozen=True, slots=True)
class Printing:
    """How pages are printed: the language of all of them (None: each in the case's own), paper, large type, and for which cases.

    `only` holds ids of cases; empty means all.
    """

    language: str | None = None
    paper: Paper = "a4"
    large: bool = False
    only: tuple[str, ...] = ()

    def wants(self, case: str) -> bool:
        """Whether the pages of this case are printed."""
        return not self.only or case in self.only


class PageRefused(Exception):
    """A page that may not be given out as it is; carries the findings that say why."""

    def __init__(self, findings: tuple[Finding, ...]) -> None:
        super().__init__(findings[0].what)
        self.findings = findings


def printed(plan: NightPlan, printing: Printing, done: Callable[[], None] = lambda: None) -> Iterator[File]:
    """Every file by its path within the output. `done` is called after each case.

    Raises PageRefused when a page cannot be set, or when its own words, read back from the paper, do not give the plan.
    """
    from hourmark.handout.staff import case_pdf, night_pdf

    assert plan.as_of is not None
    at = plan.as_of.instant
    yield "staff/night.json", (json.dumps(plan_json(plan), indent=1, ensure_ascii=False) + "\n").encode()
    yield "staff/night.pdf", _set("staff/night.pdf", lambda: night_pdf(plan, at, printing.paper))
    wanted = [case for case in plan.cases if printing.wants(case.case.id)]
    sheets = [patient_sheet(case, plan, printing.language) for case in wanted]
    on_paper = papers([sheet for case, sheet in zip(wanted, sheets, strict=True) if not case.refused], at, printing)
    for case, sheet in zip(wanted, sheets, strict=True):
        folder = f"patients/{case.case.id}"
        yield f"{folder}/draft.txt", sheet_text(sheet).encode()
        if not case.refused:
            yield from _patient(folder, case, plan, sheet, next(on_paper))
        yield (
            f"staff/cases/{case.case.id}.pdf",
            _set(f"case {case.case.id}", partial(case_pdf, case, plan, at, printing.paper)),
        )
        done()


@dataclass(frozen=True, slots=True)
class Printed:
    """A page on paper, the same in pictures alone, and its words read back; or why it could not be set."""

    page: bytes = b""
    pictures: bytes = b""
    words: tuple[str, ...] = ()
    refused: str | None = None


def _patient(folder: str, case: CasePlan, plan: NightPlan, sheet: Sheet, paper: Printed) -> Iterator[File]:
    from hourmark.handout.calendar import calendar_file

    if paper.refused is not None:
        raise PageRefused((_unprintable(f"case {case.case.id}", paper.refused),))
    if findings := page_rechecked(sheet, "\n".join(paper.words), case, plan):
        raise PageRefused(findings)
    yield f"{folder}/draft.pdf", paper.page
    yield f"{folder}/draft-pictures.pdf", paper.pictures
    yield f"{folder}/draft-calendar.ics", calendar_file(case, plan, sheet)


def released_pages(case: CasePlan, plan: NightPlan, sheet: Sheet, at: dt.datetime) -> dict[str, bytes]:
    """The files of a released sheet by name: the page, the same in pictures alone, the calendar file, and the walk-through.

    Raises PageRefused when a page cannot be set, or when its own words, read back from the paper or from the walk-through as it
    is stored, do not give the plan.
    """
    from hourmark.handout.calendar import calendar_file
    from hourmark.handout.walk import walk_bytes, walk_from, walk_through, walk_words

    paper = _paper((sheet, at, Printing()))
    if paper.refused is not None:
        raise PageRefused((_unprintable(f"case {case.case.id}", paper.refused),))
    if findings := page_rechecked(sheet, "\n".join(paper.words), case, plan):
        raise PageRefused(findings)
    walk = walk_bytes(walk_through(case, plan, sheet))
    if findings := page_rechecked(sheet, walk_words(walk_from(walk)), case, plan):
        raise PageRefused(findings)
    return {
        "sheet.pdf": paper.page,
        "pictures.pdf": paper.pictures,
        "calendar.ics": calendar_file(case, plan, sheet),
        "walk.json": walk,
    }


_WORTH_HELPERS = 6
"""Fewer pages than this are set faster by this process alone than by others that first have to start."""


def papers(sheets: list[Sheet], at: dt.datetime, printing: Printing) -> Iterator[Printed]:
    """Every page on paper, in order; many are set by several processes at a time."""
    work = [(sheet, at, printing) for sheet in sheets]
    helpers = min(os.cpu_count() or 1, len(work))
    if helpers < 2 or len(work) < _WORTH_HELPERS:
        yield from map(_paper, work)
        return
    with ProcessPoolExecutor(helpers, mp_context=get_context("forkserver")) as pool:
        yield from pool.map(_paper, work, chunksize=2)


def _paper(work: tuple[Sheet, dt.datetime, Printing]) -> Printed:
    from hourmark.handout.pdf import pictures_pdf, sheet_read

    sheet, at, printing = work
    try:
        page, words = sheet_read(sheet, at, printing.paper, large=printing.large)
        return Printed(page, pictures_pdf(sheet, at, printing.paper), words)
    except Unprintable as refused:
        return Printed(refused=str(refused))


def _set(where: str, make: Callable[[], bytes]) -> bytes:
    try:
        return make()
    except Unprintable as refused:
        raise PageRefused((_unprintable(where, str(refused)),)) from refused


def _unprintable(where: str, why: str) -> Finding:
    return Finding(
        "page-unprintable",
        Level.STOP,
        f"This page cannot be set: {why}.",
        "Write names and words with letters that the page's font has; nothing was written.",
        where,
        "a page is whole, or it is not printed",
        "hourmark's own rule",
    )
