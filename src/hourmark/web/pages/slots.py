"""Slots of the coming days: typed or as CSV, all or nothing; given to cases, moved, freed."""

import csv
import io
import secrets
from typing import Any

from django.http import HttpResponse

from hourmark.case.asked import Role
from hourmark.case.slots import FreeSlot, GiveSlot, PlaceSlot
from hourmark.case.streams import day_of
from hourmark.desk import Done
from hourmark.exchange import table_problems
from hourmark.finding import Finding, Level
from hourmark.web.forms import table_of
from hourmark.web.work import Work, page

WRITERS = (Role.THEATRE, Role.NURSE, Role.PRESCRIBER)
COLUMNS = ("id", "at", "kind", "room", "which")


@page("GET", roles=(*WRITERS, Role.PHARMACIST, Role.LEAD))
def slots(work: Work) -> HttpResponse:
    """Every theatre day that is on the record, today's and the coming ones first."""
    names = [head.stream.removeprefix("day/") for head in work.desk.store.heads("day/")]
    coming = [name for name in names if name >= work.now[: len("2026-11-20")]] or names[-3:]
    days = [(name, _lines(work, name)) for name in coming]
    return work.page("slots", days=days, columns=COLUMNS, open_cases=work.states.roll(), fields=work.typed)


@page("POST", roles=WRITERS)
def place(work: Work) -> HttpResponse:
    """A slot placed or moved."""
    table = table_of(work.typed, "slot.")
    if work.perform(PlaceSlot(table, work.typed.get("why", "").strip() or "theatre list")):
        return work.done("The slot is on the list.", "slots")
    return _again(work)


@page("POST", roles=WRITERS)
def give(work: Work, day: str, slot: str) -> HttpResponse:
    """A slot given to a case, or freed where none is named."""
    case, why = work.typed.get("case", "").strip(), work.typed.get("why", "").strip() or "theatre list"
    command = GiveSlot(day, slot, case, why) if case else FreeSlot(day, slot, why)
    if work.perform(command):
        return work.done(f"Slot {slot} is {'given to ' + case if case else 'free'}.", "slots")
    return _again(work)


@page("POST", roles=WRITERS)
def upload(work: Work) -> HttpResponse:
    """A theatre list as CSV: shown first with every problem; recorded whole once it is confirmed, or not at all."""
    text = work.typed.get("list", "")
    rows = _rows(text)
    work.findings = tuple(
        finding.at(f"line {number}") for number, row in enumerate(rows, 2) for finding in _problems(row)
    ) or _no_rows(rows)
    if work.findings or work.typed.get("sure") != "true":
        return work.page("slots-csv", rows=rows, columns=COLUMNS, text=text)
    key = work.request.POST.get("key", secrets.token_hex(8))
    answers = [work.desk.perform(PlaceSlot(row, "theatre list"), work.asked, f"{key}-{row['id']}") for row in rows]
    placed = sum(isinstance(answer, Done) for answer in answers)
    return work.done(f"{placed} slots are placed or moved; {len(rows) - placed} stood there just so.", "slots")


def _again(work: Work) -> HttpResponse:
    names = [head.stream.removeprefix("day/") for head in work.desk.store.heads("day/")]
    return work.page(
        "slots",
        days=[(name, _lines(work, name)) for name in names[-3:]],
        columns=COLUMNS,
        open_cases=work.states.roll(),
        fields=work.typed,
    )


def _lines(work: Work, day: str) -> list[dict[str, Any]]:
    state = work.states.day(day)
    lines = [
        {"slot": name, "at": placed.slot["at"], "room": placed.slot.get("room", ""), "case": state.cases.get(name, "")}
        for name, placed in state.slots.items()
        if day_of(str(placed.slot["at"])) == day
    ]
    return sorted(lines, key=lambda line: (line["at"], line["slot"]))


def _rows(text: str) -> list[dict[str, Any]]:
    read = csv.DictReader(io.StringIO(text.strip()), skipinitialspace=True)
    return [{name: value for name, value in row.items() if name and value} for row in read]


def _problems(row: dict[str, Any]) -> tuple[Finding, ...]:
    return table_problems("slot", row)


def _no_rows(rows: list[dict[str, Any]]) -> tuple[Finding, ...]:
    if rows:
        return ()
    return (
        Finding(
            "list-empty",
            Level.STOP,
            "There is no slot in this list.",
            f"Write a first line with the columns {', '.join(COLUMNS)}, then one line a slot.",
            "list",
            "the columns of a theatre list",
            "docs/manual",
        ),
    )
