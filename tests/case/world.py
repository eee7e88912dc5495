"""An invented clinic's record, brought to where a test begins. Everything in it went in through the front door."""

import copy
import itertools
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any, Literal, TypeAlias, TypeVar, get_args

from hourmark.case import calls, checks, kits, opening, orders, rules, sheets, slots
from hourmark.case import events as e
from hourmark.case.asked import Asked, Refused, Role
from hourmark.case.shapes import from_entry
from hourmark.case.state import CaseState
from hourmark.desk import Answer, Command, Desk, Done
from hourmark.desk.made import Planned, plan_of
from hourmark.exchange import plain_table
from hourmark.ledger import Entry, KeyTaken, MemoryStore, Store

ROOT = Path(__file__).resolve().parents[2]

E = TypeVar("E", bound=e.Event)


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody at the clinic, in the role in which they act."""

    name: str
    role: Role

    def at(self, moment: str) -> Asked:
        return Asked(self.name, self.role, moment)


NURSE = Person("A. Kowal", Role.NURSE)
SECOND = Person("L. Ortiz", Role.NURSE)
PRESCRIBER = Person("Dr. L. Aumont", Role.PRESCRIBER)
OTHER_PRESCRIBER = Person("Dr. I. Sorel", Role.PRESCRIBER)
PHARMACIST = Person("T. Brenholt", Role.PHARMACIST)
THEATRE = Person("Theatre desk", Role.THEATRE)
LEAD = Person("Dr. O. Brandt, medical lead", Role.LEAD)
HER_PHONE = Person("her phone", Role.PATIENT)
WATCH = Person("the watch", Role.WATCH)

# The afternoon of Wednesday 18 November 2026. Chicago is six hours behind UTC then (IANA time-zone database).
SIGNED = "2026-11-18T18:00:00Z"
PLACED = "2026-11-18T19:00:00Z"
OPENED = "2026-11-18T19:01:00Z"
GIVEN = "2026-11-18T19:05:00Z"
ORDERED = "2026-11-18T19:55:00Z"
READ = "2026-11-18T20:05:00Z"
CARTONS = "2026-11-18T20:10:00Z"
CHECKED = "2026-11-18T20:20:00Z"
HEARD = "2026-11-18T20:30:00Z"
RELEASED = "2026-11-18T20:40:00Z"
LATER = "2026-11-18T21:00:00Z"
NIGHT = "2026-11-19T03:10:00Z"
MORNING = "2026-11-19T12:10:00Z"

DUE = "2026-11-19T03:00:00Z"
"""When K-103 injects: 36 h of elapsed time before its slot, 21:00 in Chicago."""

SLOT = "2026-11-20T15:00:00Z"
"""The slot of K-103: 09:00 in Chicago."""

DAY = "2026-11-20"
CASE = "K-103"
"""Two medicines together; nothing keeps this case from being released."""

Stage: TypeAlias = Literal["opened", "planned", "checked", "heard", "released"]


@dataclass
class World:
    """One clinic's desk and store, and every entry in the order in which it was written."""

    store: MemoryStore
    desk: Desk
    entries: list[Entry]
    numbers: Iterator[int]

    def ask(
        self,
        command: Command,
        who: Person,
        at: str = LATER,
        key: str | None = None,
        expected: Mapping[str, int] | None = None,
    ) -> Answer:
        answer = self.desk.perform(command, who.at(at), key or f"act-{next(self.numbers)}", expected)
        if isinstance(answer, Done) and not answer.again:
            self.entries += answer.entries
        return answer

    def do(self, command: Command, who: Person, at: str = LATER, key: str | None = None) -> tuple[Entry, ...]:
        """What was written; the act has to be possible."""
        answer = self.ask(command, who, at, key)
        assert isinstance(answer, Done), shown(answer)
        assert not answer.again
        return answer.entries

    def refused(self, command: Command, who: Person, at: str = LATER) -> Refused:
        """Why it was refused; a refusal leaves no trace, in the record or in the queue."""
        before = self.everything()
        answer = self.ask(command, who, at)
        assert isinstance(answer, Refused), shown(answer)
        assert answer.findings
        assert all(one.what and one.do and one.limit and one.source for one in answer.findings)
        assert self.everything() == before
        return answer

    def codes(self, command: Command, who: Person, at: str = LATER) -> list[str]:
        """The codes of all reasons why it was refused."""
        return [finding.code for finding in self.refused(command, who, at).findings]

    def everything(self) -> tuple[object, ...]:
        """All that a store holds."""
        return tuple(self.store.read_all()), tuple(self.store.heads()), tuple(self.store.queued())

    def case(self, case: str = CASE) -> CaseState:
        return self.desk.states().case(case)

    def messages(self) -> list[tuple[str, str]]:
        """Who has to be told of what, oldest first."""
        return [(one.message.kind, one.message.to) for one in self.store.queued()]

    def planned(self, case: str = CASE, at: str = CHECKED) -> Planned:
        states = self.desk.states()
        planned = plan_of(states.case(case), states.rules(), at)
        assert isinstance(planned, Planned), planned
        return planned

    def copy(self) -> "World":
        """The same record in a store of its own, so that what one test does never meets another."""
        store = MemoryStore(self.store.clinic)
        with store.writing() as record:
            record.write(self.entries, [])
            record.queue([one.message for one in self.store.queued()])
        return _world(store, list(self.entries))


def empty() -> World:
    """A clinic in which nobody has signed or entered anything yet."""
    return _world(MemoryStore("invented"), [])


def _world(store: MemoryStore, entries: list[Entry]) -> World:
    numbers = itertools.count(len(entries) + 1)
    return World(store, desk_over(store), entries, numbers)


def desk_over(store: Store) -> Desk:
    """A desk whose salts are the same on every run. Real salts are random; here nothing has to be kept secret."""
    grains = itertools.count(1)
    return Desk(store, lambda: next(grains).to_bytes(16, "big"))


def night() -> dict[str, Any]:
    """The ordinary night as a table of its own, to be changed at will."""
    return copy.deepcopy(_night())


@cache
def _night() -> dict[str, Any]:
    text = (ROOT / "examples" / "ordinary-night.toml").read_text(encoding="utf-8")
    table = plain_table(tomllib.loads(text))
    table["clinic"]["rules"]["checkers"] = ["nurse", "pharmacist"]
    return table


def clinic() -> dict[str, Any]:
    """The clinic with its rules, as its lead signed them."""
    table: dict[str, Any] = night()["clinic"]
    return table


def case_table(case: str = CASE) -> dict[str, Any]:
    return next(one for one in night()["cases"] if one["id"] == case)


def details(case: str = CASE) -> dict[str, Any]:
    """What a case is opened with."""
    return {key: value for key, value in case_table(case).items() if key not in ("id", "slot", "order", "kit")}


def order(case: str = CASE) -> dict[str, Any]:
    table: dict[str, Any] = case_table(case)["order"]
    return table


def kit(case: str = CASE) -> dict[str, Any]:
    table: dict[str, Any] = case_table(case)["kit"]
    return table


def slot(name: str = "s3") -> dict[str, Any]:
    return next(one for one in night()["slots"] if one["id"] == name)


def prescriber(case: str = CASE) -> Person:
    """Whoever signed the order of a case."""
    return Person(order(case)["signed_by"], Role.PRESCRIBER)


def check(world: World, case: str = CASE) -> checks.SecondCheck:
    """The second check of somebody who works out the same."""
    return checks.SecondCheck(case, world.planned(case).readings)


def read_back(world: World, case: str = CASE) -> calls.HearReadBack:
    """The page read back rightly, word for word."""
    planned = world.planned(case)
    fields, word = tuple(planned.to_read_back.items()), planned.made.check_word
    deleted = True if world.case(case).sheets else None
    return calls.HearReadBack(case, "she herself", ("full name", "date of birth"), fields, word, deleted)


def carton_checks(case: str = CASE) -> list[kits.CheckCarton]:
    return [
        kits.CheckCarton(case, box["product"], (NURSE.name, SECOND.name), box["strength"], "as printed", "as printed")
        for box in kit(case)["products"]
    ]


def at_stage(stage: Stage, case: str = CASE) -> World:
    """A clinic in which this case has come so far."""
    return _at_stage(stage, case).copy()


@cache
def _at_stage(stage: Stage, case: str) -> World:
    before = get_args(Stage)[: get_args(Stage).index(stage)]
    world = at_stage(before[-1], case) if before else empty()
    match stage:
        case "opened":
            world.do(rules.SignRules(clinic()), LEAD, SIGNED)
            for one in night()["slots"]:
                world.do(slots.PlaceSlot(one, "the list"), THEATRE, PLACED)
            open_case(world, case)
        case "planned":
            plan_case(world, case)
        case "checked":
            check_case(world, case)
        case "heard":
            world.do(read_back(world, case), NURSE, HEARD)
        case "released":
            world.do(sheets.Release(case), NURSE, RELEASED)
    return world


def open_case(world: World, case: str) -> None:
    world.do(opening.OpenCase(case, details(case)), NURSE, OPENED)


def plan_case(world: World, case: str, cartons: bool = True) -> None:
    """Slot, order, kit, and the boxes read by two."""
    table = case_table(case)
    if "slot" in table:
        world.do(slots.GiveSlot(DAY, table["slot"], case, "as listed"), NURSE, GIVEN)
    world.do(orders.SignOrder(case, order(case)), prescriber(case), ORDERED)
    world.do(kits.ReadKit(case, kit(case), "read aloud by her on the telephone"), NURSE, READ)
    for one in carton_checks(case) if cartons else ():
        world.do(one, NURSE, CARTONS)


def check_case(world: World, case: str) -> None:
    world.do(check(world, case), SECOND, CHECKED)


def release_case(world: World, case: str) -> None:
    """From an order on the record to a released sheet."""
    check_case(world, case)
    world.do(read_back(world, case), NURSE, HEARD)
    world.do(sheets.Release(case), NURSE, RELEASED)


def shown(answer: Answer) -> object:
    """An answer for a failed test to show: a page printed whole would hide it."""
    match answer:
        case Done(entries) | KeyTaken(entries):
            return type(answer).__name__, kinds(entries)
        case Refused(findings):
            return [(finding.code, finding.what) for finding in findings]
        case _:
            return answer


def kinds(entries: tuple[Entry, ...]) -> list[str]:
    """Each entry as its stream and its kind, in the order of the act."""
    return [f"{entry.stream} {entry.read_header().kind}" for entry in entries]


def written(entries: tuple[Entry, ...], kind: type[E]) -> E:
    """The one event of its kind that an act wrote."""
    recorded = [one.event for entry in entries if entry.read_header().kind != "page" and (one := from_entry(entry))]
    (found,) = [event for event in recorded if isinstance(event, kind)]
    return found


def wrongly(command: checks.SecondCheck, place: int, **change: object) -> checks.SecondCheck:
    """The same check with one reading worked out otherwise."""
    entered = list(command.entered)
    entered[place] = replace(entered[place], **change)  # type: ignore[arg-type]
    return replace(command, entered=tuple(entered))
