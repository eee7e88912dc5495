"""Nights to play: invented clinics whose sheets are released. Each is made one time a process, through the front door, and then copied."""

import json
import tomllib
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Any
from unittest import mock

from hourmark.case import calls, checks, kits, opening, orders, rules, sheets, slots
from hourmark.case.asked import Role
from hourmark.case.day import RulesState
from hourmark.case.shapes import from_entry
from hourmark.case.state import CaseState
from hourmark.clock import parse_span, shifted
from hourmark.desk import Command, Desk, Done, made
from hourmark.desk.made import Planned, plan_of
from hourmark.exchange import plain_table
from hourmark.handout import Sheet, patient_sheet
from hourmark.ledger import Entry, MemoryStore, Message
from hourmark.plan import CasePlan, NightPlan
from tests.case.world import LEAD, NURSE, ROOT, SECOND, THEATRE, Person, desk_over, shown
from tests.night.clocks import instant, minutes, wall

LADDER = [
    {"after": "15 min", "tell": "her own number"},
    {"after": "25 min", "tell": "her second number"},
    {"after": "40 min", "tell": "the prescriber on call"},
]
"""What the lead has signed for these nights."""


@dataclass(frozen=True)
class Night:
    """One released night: its very entries, the messages that wait, and what its people may still do to it.

    `tables` are its cases as in a night file; `day` is the theatre day, `ready` the minute at which everything is released, and
    `folded` are its states, as a desk that runs since the afternoon remembers them.
    """

    name: str
    day: str
    clinic: dict[str, Any]
    tables: dict[str, dict[str, Any]]
    slots: dict[str, dict[str, Any]]
    entries: tuple[Entry, ...]
    messages: tuple[Message, ...]
    ready: int
    folded: dict[Any, Any]

    def store(self) -> MemoryStore:
        """The night in a store of its own."""
        store = MemoryStore("invented")
        with store.writing() as record:
            record.write(self.entries, [])
            record.queue(self.messages)
        return store


@dataclass(frozen=True, slots=True)
class _Wanted:
    """Which cases of which night file, how far each comes, and what is written otherwise there."""

    file: str
    cases: tuple[str, ...]
    waived: tuple[str, ...] = ()
    unreleased: tuple[str, ...] = ()
    written: tuple[tuple[str, str], ...] = ()


_FORWARD = (
    ("2026-10-31", "2027-03-13"),
    ("2026-11-01", "2027-03-14"),
    ("2026-11-02", "2027-03-15"),
    ("2027-02-28", "2027-04-30"),
)
"""New York's clocks go back on Sunday 1 November 2026 and forward on Sunday 14 March 2027 (IANA time-zone database)."""

NIGHTS = {
    "two medicines": _Wanted("ordinary-night", ("K-103", "K-108", "K-110")),
    "six hours apart": _Wanted("ordinary-night", ("K-105", "K-104", "K-107"), waived=("K-107",)),
    "measured and sprayed": _Wanted("ordinary-night", ("K-101", "K-102", "K-109"), unreleased=("K-109",)),
    "clocks go back": _Wanted("clocks-go-back", ("L-203", "L-204", "L-205")),
    "clocks go forward": _Wanted("clocks-go-back", ("L-202", "L-203", "L-205"), written=_FORWARD),
    "travellers": _Wanted("travellers", ("L-301", "L-302", "L-303"), waived=("L-303",)),
    "all ten": _Wanted("ordinary-night", tuple(f"K-{number}" for number in range(101, 111)), unreleased=("K-106",)),
}
"""Every night by its name."""


def prescriber(table: dict[str, Any]) -> Person:
    return Person(table["order"]["signed_by"], Role.PRESCRIBER)


@cache
def night(name: str) -> Night:
    """One of the nights, ready to be copied."""
    wanted = NIGHTS[name]
    table = _table(wanted)
    day = table["slots"][0]["at"][:10]
    tables = {one["id"]: one for one in table["cases"] if one["id"] in wanted.cases}
    store = MemoryStore("invented")
    maker = _Maker(desk_over(store), table, minutes(wall(table["as_of"], table["clinic"]["zone"])))
    with lean():
        maker.clinic(day)
        for case in wanted.cases:
            maker.case(case, day, wanted)
        maker.desk.states().board(instant(maker.minute))
        maker.desk.states().day(day)
    return Night(
        name=name,
        day=day,
        clinic=table["clinic"],
        tables=tables,
        slots={one["id"]: one for one in table["slots"]},
        entries=tuple(store.read_all()),
        messages=tuple(one.message for one in store.queued()),
        ready=maker.minute,
        folded=dict(maker.desk._memo._states),
    )


def _table(wanted: _Wanted) -> dict[str, Any]:
    text = (ROOT / "examples" / f"{wanted.file}.toml").read_text(encoding="utf-8")
    for here, instead in wanted.written:
        text = text.replace(here, instead)
    table: dict[str, Any] = plain_table(tomllib.loads(text))
    table["clinic"]["rules"] |= {"checkers": ["nurse", "pharmacist"], "ladder": LADDER}
    return table


class _Maker:
    """Brings cases from nothing to a released sheet, one act a minute."""

    def __init__(self, desk: Desk, table: dict[str, Any], minute: int) -> None:
        self.desk, self.table, self.minute, self.acts = desk, table, minute, 0

    def do(self, command: Command, who: Person) -> None:
        self.acts += 1
        self.minute += self.acts % 3 == 0
        answer = self.desk.perform(command, who.at(instant(self.minute)), f"afternoon-{self.acts}")
        assert isinstance(answer, Done), shown(answer)

    def clinic(self, day: str) -> None:
        self.do(rules.SignRules(self.table["clinic"]), LEAD)
        self.do(slots.PlaceSlots(tuple(self.table["slots"]), "the list"), THEATRE)

    def case(self, name: str, day: str, wanted: _Wanted) -> None:
        table = next(one for one in self.table["cases"] if one["id"] == name)
        apart = ("id", "slot", "order", "kit")
        self.do(opening.OpenCase(name, {key: said for key, said in table.items() if key not in apart}), NURSE)
        if "slot" in table:
            self.do(slots.GiveSlot(day, table["slot"], name, "as listed"), NURSE)
        self.do(orders.SignOrder(name, table["order"]), prescriber(table))
        self.do(kits.ReadKit(name, table["kit"], "read aloud by her on the telephone"), NURSE)
        for box in table["kit"]["products"]:
            readers = (NURSE.name, SECOND.name)
            self.do(kits.CheckCarton(name, box["product"], readers, box["strength"], "as printed", "as printed"), NURSE)
        if name in wanted.unreleased:
            return
        for command, who in released(self.desk, name, self.minute, told=name not in wanted.waived):
            self.do(command, who)


def released(desk: Desk, case: str, minute: int, told: bool = True) -> Iterator[tuple[Command, Person]]:
    """From a plan to a released sheet, each act as it has to be when its turn comes; nothing where there is no plan."""
    planned = plan_now(desk, case, minute)
    if planned is None or not planned.readings or any(one.code != "rests-on-unread" for one in planned.made.blocks):
        return
    yield checks.SecondCheck(case, planned.readings), SECOND
    answers = tuple((code, "the prescriber says: go ahead") for code in planned.made.open_questions)
    if told:
        deleted = True if desk.states().case(case).sheets else None
        fields, word = tuple(planned.to_read_back.items()), planned.made.check_word
        identified = ("full name", "date of birth")
        yield calls.HearReadBack(case, "she herself", identified, fields, word, deleted), NURSE
        yield sheets.Release(case, answered=answers), NURSE
    else:
        yield sheets.Release(case, call_waived_why="nobody answers her number", answered=answers), NURSE


def plan_now(desk: Desk, case: str, minute: int) -> Planned | None:
    states = desk.states()
    planned = plan_of(states.case(case), states.rules(), instant(minute))
    return planned if isinstance(planned, Planned) else None


# What takes long and says nothing about a night: pages are not set, and a plan is made one time for what it is made of


@contextmanager
def lean() -> Iterator[None]:
    """Inside it pages are one word long, and plans, entries and spans that were made before are remembered."""
    with (
        mock.patch("hourmark.desk.desk.printed", return_value={"sheet.txt": b"as printed then"}),
        mock.patch("hourmark.desk.made._night", _planned_once),
        mock.patch("hourmark.desk.states.from_entry", _read_once),
        mock.patch("hourmark.desk.made.patient_sheet", _sheet_once),
        mock.patch("hourmark.case.watch.parse_span", _span_once),
        mock.patch("hourmark.case.watch.shifted", _shifted_once),
    ):
        yield


_read_once = lru_cache(maxsize=1 << 16)(from_entry)
_span_once = cache(parse_span)
_shifted_once = cache(shifted)
_plan: Callable[..., NightPlan | tuple[Any, ...]] = made._night
_PLANS: dict[str, Any] = {}


def _planned_once(state: CaseState, clinic: RulesState, at: str) -> Any:
    """What is planned does not depend on the minute at which that is done, but for questions about times gone by."""
    slot, cartons = state.slot.slot if state.slot else None, [one.event.product for one in state.cartons]
    order, kit = state.order.event.order if state.order else None, state.kit.kit if state.kit else None
    told = {name: said for name, said in clinic.clinic["rules"].items() if name != "ladder"}  # type: ignore[union-attr]
    name = json.dumps([clinic.clinic["zone"], told, state.id, state.details, slot, order, kit, cartons])
    if name not in _PLANS:
        _PLANS[name] = _plan(state, clinic, at)
    return _PLANS[name]


_SHEETS: dict[tuple[object, ...], tuple[object, Sheet]] = {}


def _sheet_once(case: CasePlan, night: NightPlan, *, version: int, earlier: Sequence[str]) -> Sheet:
    """Plans are remembered, so one at the same place in memory is the same plan; each is kept for as long as its sheet is."""
    name = (id(case), version, *earlier)
    if name not in _SHEETS:
        _SHEETS[name] = case, patient_sheet(case, night, version=version, earlier=earlier)
    return _SHEETS[name][1]
