"""Every file of a printed night, one after the other: for each patient the page, for staff what they work from."""

import datetime as dt
import json
import os
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import partial
from typing import TypeAlias, TypeVar

from hourmark.exchange.answers import plan_json
from hourmark.exchange.checked import page_rechecked
from hourmark.finding import Finding, Level
from hourmark.handout import Sheet, patient_sheet, sheet_text
from hourmark.handout.pdf import Paper
from hourmark.handout.scene import Scene
from hourmark.handout.typesetter import Unprintable
from hourmark.plan import CasePlan, NightPlan

File: TypeAlias = tuple[str, bytes]
Made = TypeVar("Made")


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

    paper = _paper(at, Printing(), sheet)
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
    return by_several(partial(_paper, at, printing), sheets)


def by_several(make: Callable[[Sheet], Made], sheets: list[Sheet]) -> Iterator[Made]:
    """What is made of each page, in order; of many pages by several processes at a time, which import `make` by its name.

    Pages with the same steps are made one after the other: the typesetter remembers for a while what it has laid out.
    """
    order = _like_beside_like(sheets)
    work = [sheets[place] for place in order]
    helpers = min(os.cpu_count() or 1, len(work))
    if helpers < 2 or len(work) < _WORTH_HELPERS:
        yield from _in_turn(order, map(make, work))
        return
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import get_context

    context = get_context("forkserver")
    context.set_forkserver_preload(_NEEDED_BY_HELPERS)
    with ProcessPoolExecutor(helpers, mp_context=context) as pool:
        yield from _in_turn(order, pool.map(make, work, chunksize=max(1, len(work) // helpers // _PORTIONS)))


_PORTIONS = 8
"""How many portions each process gets: large enough that like pages stay together, small enough that all end at about the same time."""

_NEEDED_BY_HELPERS = [__name__, "typst", "pypdfium2"]


def _like_beside_like(sheets: list[Sheet]) -> list[int]:
    """The places of the pages, those with the same steps beside one another, otherwise in order."""
    first: dict[tuple[str, ...], int] = {}
    kinds = [first.setdefault(_steps_shown(sheet), place) for place, sheet in enumerate(sheets)]
    return sorted(range(len(sheets)), key=kinds.__getitem__)


def _steps_shown(sheet: Sheet) -> tuple[str, ...]:
    rows = (row for part in sheet.hands for row in part.rows)
    return tuple(row.picture.seen.picture for row in rows if isinstance(row.picture.seen, Scene))


def _in_turn(order: list[int], made: Iterable[Made]) -> Iterator[Made]:
    """What was made in that order, given out by place."""
    waiting: dict[int, Made] = {}
    turn = 0
    for place, one in zip(order, made, strict=True):
        waiting[place] = one
        while turn in waiting:
            yield waiting.pop(turn)
            turn += 1


def _paper(at: dt.datetime, printing: Printing, sheet: Sheet) -> Printed:
    from hourmark.handout.pdf import pictures_pdf, sheet_read

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
