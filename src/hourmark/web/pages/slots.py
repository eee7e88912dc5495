"""Slots of the coming days: typed or as CSV, all or nothing; given to cases, moved, freed."""

import csv
import io
from dataclasses import replace
from typing import Any, TypeAlias

from django.contrib import messages
from django.http import HttpResponse

from hourmark.case.asked import Refused, Role
from hourmark.case.rules import no_rules
from hourmark.case.slots import FreeSlot, GiveSlot, PlaceSlot, place_slot
from hourmark.case.streams import day_of, day_stream
from hourmark.clock import parse_zone
from hourmark.desk import Done, Moved
from hourmark.exchange import table_problems
from hourmark.finding import Finding, Level
from hourmark.ledger import KeyTaken
from hourmark.web.forms import table_of
from hourmark.web.work import Work, page, used, wrong

WRITERS = (Role.THEATRE, Role.NURSE, Role.PRESCRIBER)
COLUMNS = ("id", "at", "kind", "room", "which")


@page("GET", roles=(*WRITERS, Role.PHARMACIST, Role.LEAD))
def slots(work: Work) -> HttpResponse:
    """Every theatre day that is on the record, today's and the coming ones first."""
    names = names_of_days(work)
    coming = [name for name in names if name >= work.now[: len("2026-11-20")]] or names[-3:]
    return _shown(work, coming)


@page("POST", roles=WRITERS)
def place(work: Work) -> HttpResponse:
    """A slot placed or moved."""
    table = table_of(work.typed, "slot.")
    if work.perform(PlaceSlot(table, work.typed.get("why", "").strip() or "theatre list"), begins="slot."):
        return work.done("The slot is on the list.", "slots")
    work.findings = tuple(
        replace(one, where="slot.at") if one.code in ("time-skipped", "time-repeated", "slot-time") else one
        for one in work.findings
    )
    return _shown(work, names_of_days(work)[-3:])


@page("POST", roles=WRITERS)
def give(work: Work, day: str, slot: str) -> HttpResponse:
    """A slot given to a case, or freed where none is named."""
    case, why = work.typed.get("case", "").strip(), work.typed.get("why", "").strip() or "theatre list"
    command = GiveSlot(day, slot, case, why) if case else FreeSlot(day, slot, why)
    if work.perform(command, day_stream(day)):
        return work.done(f"Slot {slot} is {'given to ' + case if case else 'free'}.", "slots")
    return _shown(work, names_of_days(work)[-3:])


@page("POST", roles=WRITERS)
def upload(work: Work) -> HttpResponse:
    """A theatre list as CSV: shown first with every problem; recorded whole once it is confirmed, or not at all."""
    text = work.typed.get("list", "")
    rows = _rows(text)
    numbered = [(number, row) for number, row in rows if isinstance(row, dict)]
    work.findings = _against(work, rows) or _no_rows(rows)
    if work.findings or work.typed.get("sure") != "true":
        return work.page("slots-csv", rows=[row for _, row in numbered], columns=COLUMNS, text=text)
    key, before = work.request.POST.get("key", ""), 0
    for number, row in numbered:
        answer = work.desk.perform(PlaceSlot(row, "theatre list"), work.asked, f"{key}-{row['id']}")
        if isinstance(answer, Refused) and all(one.code == "nothing-changed" for one in answer.findings):
            continue
        if not isinstance(answer, Done):
            return _stopped(work, answer, number, before)
        before += 1
    stood = len(numbered) - before
    return work.done(f"{before} slots are placed or moved; {stood} stood there just so.", "slots")


def _stopped(work: Work, answer: Refused | Moved | KeyTaken, number: int, before: int) -> HttpResponse:
    """Somebody changed the day while the list was being recorded: what is on the record is said."""
    if isinstance(answer, Refused):
        work.findings = tuple(one.at(f"line {number}") for one in answer.findings)
    else:
        work.findings = (used().at(f"line {number}"),)
    messages.warning(work.request, f"{before} slots of the list were placed or moved before line {number} was refused.")
    work.states = work.desk.states()
    return _shown(work, names_of_days(work)[-3:])


def names_of_days(work: Work) -> list[str]:
    """The theatre days that are on the record."""
    return [head.stream.removeprefix("day/") for head in work.desk.store.heads("day/")]


def _shown(work: Work, names: list[str]) -> HttpResponse:
    days = [(name, _lines(work, name), work.head_of(day_stream(name))) for name in names]
    return work.page("slots", days=days, columns=COLUMNS, open_cases=work.states.roll(), fields=work.typed)


def _lines(work: Work, day: str) -> list[dict[str, Any]]:
    state = work.states.day(day)
    lines = [
        {"slot": name, "at": placed.slot["at"], "room": placed.slot.get("room", ""), "case": state.cases.get(name, "")}
        for name, placed in state.slots.items()
        if day_of(str(placed.slot["at"])) == day
    ]
    return sorted(lines, key=lambda line: (line["at"], line["slot"]))


_Row: TypeAlias = dict[str, Any] | None
"""One line as a slot; None where it has more parts than the first line has columns."""


def _rows(text: str) -> list[tuple[int, _Row]]:
    """The lines of the list, each with its number."""
    read = csv.DictReader(io.StringIO(text.strip()), skipinitialspace=True)
    rows: list[tuple[int, _Row]] = []
    try:
        for row in read:
            whole = None if None in row else {name: value for name, value in row.items() if value}
            rows.append((read.line_num, whole))
    except csv.Error:
        rows.append((read.line_num, None))
    return rows


def _against(work: Work, rows: list[tuple[int, _Row]]) -> tuple[Finding, ...]:
    """Everything for which one line or another could not be recorded: a list goes on the record whole or not at all."""
    found: list[Finding] = []
    seen: set[tuple[str, str]] = set()
    for number, row in rows:
        problems = _not_placed(work, row, seen)
        found += [one.at(f"line {number}") for one in problems]
    return tuple(found)


def _not_placed(work: Work, row: _Row, seen: set[tuple[str, str]]) -> tuple[Finding, ...]:
    if row is None:
        return (wrong("file-value", "This line has more parts than there are columns.", "Write one line a slot.", ""),)
    if problems := table_problems("slot", row):
        return problems
    if missing := no_rules(work.states.rules()):
        return missing.findings
    date, name = day_of(str(row["at"])), str(row["id"])
    if (date, name.lower()) in seen:
        return (
            wrong("file-id-repeated", f"Slot {name} of {date} is in the list twice.", "Keep one line of it.", "id"),
        )
    seen.add((date, name.lower()))
    day = work.states.day(date)
    whose = day.cases.get(name)
    case = work.states.case(whose) if whose else None
    zone = parse_zone(work.states.rules().clinic.get("zone"))
    answer = place_slot(day, case, PlaceSlot(row, "theatre list"), work.asked, zone)
    refused = answer.findings if isinstance(answer, Refused) else ()
    return tuple(one for one in refused if one.code != "nothing-changed")


def _no_rows(rows: list[tuple[int, _Row]]) -> tuple[Finding, ...]:
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
