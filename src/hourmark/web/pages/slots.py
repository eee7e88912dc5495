"""Slots of the coming days: typed or as CSV, all or nothing; given to cases, moved, freed."""

import re
from dataclasses import replace
from typing import Any

from django.http import HttpResponse

from hourmark.case.asked import Role
from hourmark.case.slots import FreeSlot, GiveSlot, PlaceSlot, PlaceSlots
from hourmark.case.streams import day_of, day_stream
from hourmark.finding import Finding, Level
from hourmark.order.clinic import SlotKind
from hourmark.web.forms import fields_of, table_of
from hourmark.web.lists import Listed, read_list
from hourmark.web.work import Work, page

WRITERS = (Role.THEATRE, Role.NURSE, Role.PRESCRIBER)
COLUMNS = ("id", "at", "kind", "room", "which")


@page("GET", roles=(*WRITERS, Role.PHARMACIST, Role.LEAD))
def slots(work: Work) -> HttpResponse:
    """Every theatre day that is on the record, today's and the coming ones first; a slot that is to be moved stands in the form as it is."""
    names = names_of_days(work)
    coming = [name for name in names if name >= work.now[: len("2026-11-20")]] or names[-3:]
    moves = _standing(work, work.request.GET.get("day", ""), work.request.GET.get("move", ""))
    return _shown(work, coming, {f"slot.{name}": value for name, value in fields_of(moves).items()})


def _standing(work: Work, day: str, slot: str) -> dict[str, Any]:
    """A slot as it stands on its day; nothing where there is none."""
    placed = work.states.day(day).slots.get(slot) if _DAY.fullmatch(day) else None
    return dict(placed.slot) if placed is not None else {}


@page("POST", roles=WRITERS)
def place(work: Work) -> HttpResponse:
    """A slot placed or moved; one that moves stays of its kind where no other is named."""
    table = table_of(work.typed, "slot.")
    there = _standing(work, day_of(str(table.get("at", ""))), str(table.get("id", "")))
    table |= {"kind": there["kind"]} if "kind" in there and "kind" not in table else {}
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
    listed = read_list(text)
    numbers = [number for number, row in listed.lines if row is not None]
    rows: list[Any] = [{name: value for name, value in row.items() if value} for row in listed.rows]
    command = PlaceSlots(tuple(rows), "theatre list")
    work.findings = (*listed.problems("a slot"), *_nothing_listed(listed)) or _by_line(_against(work, command), numbers)
    sure = work.typed.get("sure", "")
    other = bool(sure) and sure != listed.digest
    if not work.findings and sure == listed.digest:
        if done := work.perform(command, _seen(work)):
            placed = len([entry for entry in done.entries if entry.read_header().kind == "slot-placed"])
            return work.done(f"{placed} slots are placed or moved; {len(rows) - placed} stood there just so.", "slots")
        work.findings = _by_line(work.findings, numbers)
    return work.page(
        "slots-csv",
        422 if other else 200,
        rows=command.slots,
        columns=COLUMNS,
        text=text,
        sure=listed.digest,
        other=other,
        had=_had(work, command),
    )


def _against(work: Work, command: PlaceSlots) -> tuple[Finding, ...]:
    """Every reason for which the list could not be recorded; none where it is known already, as then it gets the first answer."""
    if work.desk.store.of_act(work.typed.get("key", "")):
        return ()
    return work.desk.why_not(command, work.asked)


def _seen(work: Work) -> dict[str, int]:
    """The days as they stood when the list was looked at."""
    begins = "seen."
    typed = {name.removeprefix(begins): seq for name, seq in work.typed.items() if name.startswith(begins)}
    return {day_stream(day): int(seq) for day, seq in typed.items() if _WHOLE.fullmatch(seq) and _DAY.fullmatch(day)}


def _had(work: Work, command: PlaceSlots) -> list[tuple[str, int]]:
    """The days of the list, each with its last entry that is known to whoever looks at the page."""
    days = sorted({day_of(str(slot.get("at", ""))) for slot in command.slots})
    told = {stream: events[-1].seq for stream, events in work.moved.items() if events}
    return [(day, told.get(day_stream(day), work.head_of(day_stream(day)))) for day in days if _DAY.fullmatch(day)]


def _by_line(findings: tuple[Finding, ...], numbers: list[int]) -> tuple[Finding, ...]:
    """The findings about slots of a list, each at the line in which it stands."""

    def line(where: str) -> str:
        return _PLACE.sub(lambda found: f"line {numbers[int(found[1]) - 1]}", where)

    return tuple(replace(one, where=line(one.where)) for one in findings)


_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_PLACE = re.compile(r"^slots\[([0-9]+)\]")
_WHOLE = re.compile(r"[0-9]{1,9}")


def names_of_days(work: Work) -> list[str]:
    """The theatre days that are on the record."""
    return [head.stream.removeprefix("day/") for head in work.desk.store.heads("day/")]


def _shown(work: Work, names: list[str], fields: dict[str, str] | None = None) -> HttpResponse:
    days = [(name, _lines(work, name), work.head_of(day_stream(name))) for name in names]
    return work.page(
        "slots",
        days=days,
        columns=COLUMNS,
        open_cases=[one.id for one in work.states.in_sight()[0] if not one.closed],
        kinds=list(map(str, SlotKind)),
        writes=work.role in WRITERS,
        fields=work.typed or fields or {},
    )


def _lines(work: Work, day: str) -> list[dict[str, Any]]:
    state = work.states.day(day)
    lines = [
        {
            "slot": name,
            "at": placed.slot["at"],
            "kind": placed.slot.get("kind", ""),
            "room": placed.slot.get("room", ""),
            "case": state.cases.get(name, ""),
        }
        for name, placed in state.slots.items()
        if day_of(str(placed.slot["at"])) == day
    ]
    return sorted(lines, key=lambda line: (line["at"], line["slot"]))


def _nothing_listed(listed: Listed) -> tuple[Finding, ...]:
    if listed.lines:
        return ()
    return (
        Finding(
            "list-empty",
            Level.STOP,
            "There is no slot in this list.",
            f"Write a first line with the columns {', '.join(COLUMNS)}, then one line a slot.",
            "list",
            "the columns of a theatre list",
            "docs/manual/afternoon.md, A whole list",
        ),
    )
