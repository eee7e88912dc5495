"""A scripted evening: who did what at which moment, as TOML beside a night file, read into commands. See docs/record.md."""

import hashlib
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

from hourmark.case import calls, checks, handover, kits, night, opening, orders, rules, sheets, slots
from hourmark.case import events as e
from hourmark.case.asked import Asked, Role
from hourmark.clock import WallTime, Zone, moment
from hourmark.exchange.keys import Count, Id, Text
from hourmark.exchange.nightfile import dotted, read_night
from hourmark.exchange.structure import Problem, structure
from hourmark.exchange.tables import plain_table
from hourmark.finding import Finding, Level
from hourmark.order import Night

DOCUMENT = "docs/record.md"


@dataclass(frozen=True, kw_only=True)
class PersonKeys:
    """One `[[people]]`: somebody who acts, and in which role."""

    name: Text
    role: Role


@dataclass(frozen=True, kw_only=True)
class EveningKeys:
    """The script beside its acts: the night file that it plays on, and who acts."""

    schema: Literal[1]
    night: Text
    people: tuple[PersonKeys, ...]


@dataclass(frozen=True, kw_only=True)
class ActKeys:
    """What every `[[acts]]` says: when on the clinic's clock, who, what; `refused` is the code it is refused with, where it is."""

    at: WallTime
    by: Text
    do: Text
    refused: Text | None = None


@dataclass(frozen=True, kw_only=True)
class CaseKeys(ActKeys):
    """An act on a case that says no more."""

    case: Id


@dataclass(frozen=True, kw_only=True)
class WhyKeys(CaseKeys):
    """An act on a case, with its reason."""

    why: Text


@dataclass(frozen=True, kw_only=True)
class SlotActKeys(CaseKeys):
    """The case's slot in the night file given to it, or another."""

    slot: Id | None = None
    why: Text


@dataclass(frozen=True, kw_only=True)
class MoveActKeys(ActKeys):
    """A slot of the night file moved `to` another time, or to another `room`; or freed."""

    slot: Id
    to: WallTime | None = None
    room: Text | None = None
    why: Text


@dataclass(frozen=True, kw_only=True)
class OrderActKeys(CaseKeys):
    """The case's order in the night file, with other values in `change` by the id of the injection, where one is signed anew."""

    change: Any = None
    stop: tuple[Text, ...] | None = None
    signed_at: Text | None = None
    words: Text | None = None
    read_back: bool = True
    second_listener: Text | None = None
    version: Count | None = None
    why: Text | None = None


@dataclass(frozen=True, kw_only=True)
class KitActKeys(CaseKeys):
    """The case's kit in the night file, with other values in `change` by the id of the product, where it is read anew."""

    how: Text
    change: Any = None


@dataclass(frozen=True, kw_only=True)
class CartonActKeys(CaseKeys):
    """Two people read one box."""

    product: Text
    readers: tuple[Text, Text]
    strength: Text
    volume: Text
    route: Text


@dataclass(frozen=True, kw_only=True)
class CheckActKeys(CaseKeys):
    """What the second person entered: by injection the clock time in her zone, and volume and mark of each fill."""

    entered: Any = None


@dataclass(frozen=True, kw_only=True)
class TryActKeys(CaseKeys):
    """A call tried."""

    number: Text
    reached: bool
    result: Text


@dataclass(frozen=True, kw_only=True)
class ReadBackActKeys(CaseKeys):
    """What was read back: by field what was said, and the check word. Both left out: all of it rightly."""

    on_the_line: Text
    identified_by: tuple[Text, Text]
    said: Any = None
    check_word: Text | None = None
    old_alarm_deleted: bool | None = None


@dataclass(frozen=True, kw_only=True)
class NoteActKeys(CaseKeys):
    """The note of a call."""

    caller: Text
    number: Text
    received: Text
    advice: Text
    referred_to: Text
    follow_up: Text


@dataclass(frozen=True, kw_only=True)
class ReleaseActKeys(CaseKeys):
    """A release; `answered` holds by code what the prescriber said to each open question."""

    unchecked_why: Text | None = None
    call_waived_why: Text | None = None
    answered: Any = None


@dataclass(frozen=True, kw_only=True)
class ReportActKeys(CaseKeys):
    """A report of an injection."""

    injection: Id
    given_at: Text
    which: Text | None = None
    zone: Text | None = None
    told_by: Text
    source: Text
    amount: Text
    remains: Text
    sheet: Count | None = None


@dataclass(frozen=True, kw_only=True)
class TellActKeys(CaseKeys):
    """Somebody told of an injection."""

    injection: Id
    told: Text
    about: Text
    reply: Text
    reached: bool = True
    rung: Count | None = None


@dataclass(frozen=True, kw_only=True)
class IncidentActKeys(CaseKeys):
    """What went wrong, who decided and what."""

    injection: Id | None = None
    happened: Text
    decided_by: Text
    decision: Text
    settled: bool


@dataclass(frozen=True, kw_only=True)
class DayActKeys(ActKeys):
    """An act on a theatre day, such as "2026-11-20"."""

    day: Text


@dataclass(frozen=True, kw_only=True)
class HandOverActKeys(DayActKeys):
    """The night handed to somebody, with what is open: a list of tables with `case` and `what`."""

    to: Text
    problems: Any = None


@dataclass(frozen=True, kw_only=True)
class RulesActKeys(ActKeys):
    """The night file's rules signed, or signed anew with other values in `change`."""

    change: Any = None


@dataclass(frozen=True, slots=True)
class Scripted:
    """One act of the script: what is asked for, by whom and when, and the code it is expected to be refused with.

    `rightly`: a read-back whose fields and check word the script leaves out, because all of it was said rightly.
    """

    number: int
    command: Any
    asked: Asked
    refused: str | None
    rightly: bool = False


@dataclass(frozen=True, slots=True)
class Evening:
    """A script read: the night it plays on, its acts in order, and a digest by which a repeat is known."""

    night: Night
    acts: tuple[Scripted, ...]
    digest: str


def read_evening(path: Path) -> Evening | tuple[Finding, ...]:
    """The script in a file, or everything in it that cannot be read."""
    try:
        raw = path.read_bytes()
        table = tomllib.loads(raw.decode("utf-8-sig"))
    except (OSError, ValueError, RecursionError) as error:
        return (
            _problem(
                path,
                Problem(
                    (), "file-unreadable", f"This is no script of an evening: {error}.", f"Write it as in {DOCUMENT}."
                ),
            ),
        )
    acts = table.pop("acts", None) or [{}]
    head = structure(table, EveningKeys)
    if isinstance(head, list):
        return tuple(_problem(path, one) for one in head)
    beside = path.parent / head.night
    night_read = read_night(beside)
    if isinstance(night_read, tuple):
        return night_read
    roles = {str(person.name): person.role for person in head.people}
    reader = _Reader(night_read, roles)
    problems = [_problem(path, one) for one in reader.read_all(acts if isinstance(acts, list) else [acts])]
    if problems:
        return tuple(problems)
    digest = hashlib.sha256(raw + beside.read_bytes()).hexdigest()
    return Evening(night_read, tuple(reader.acts), digest)


class _Reader:
    """Reads acts against a night."""

    def __init__(self, played_on: Night, roles: Mapping[str, Role]) -> None:
        self.roles, self.zone = roles, played_on.clinic.zone
        self.table = plain_table(played_on.written)
        self.cases = {case["id"]: case for case in self.table["cases"]}
        self.slots = {slot["id"]: slot for slot in self.table.get("slots", [])}
        self.acts: list[Scripted] = []

    def read_all(self, acts: list[Any]) -> list[Problem]:
        problems: list[Problem] = []
        for place, table in enumerate(acts):
            problems += [replace(one, path=("acts", place, *one.path)) for one in self._read(table, place + 1)]
        return problems

    def _read(self, table: Any, number: int) -> list[Problem]:
        do = table.get("do") if isinstance(table, dict) else None
        if not isinstance(do, str) or do not in _DO:
            return [Problem(("do",), "file-value", f"{_shown(do)} is not an act.", f"Write one of: {', '.join(_DO)}.")]
        keys, make = _DO[do]
        read = structure(table, keys)
        if isinstance(read, list):
            return read
        role, at = self.roles.get(read.by), moment(read.at, self.zone, "at")
        if role is None:
            return [
                Problem(("by",), "file-id-unknown", f'"{read.by}" is nobody under people.', "Add a [[people]] table.")
            ]
        if isinstance(at, Finding):
            return [Problem(("at",), at.code, at.what, at.do)]
        try:
            commands = make(self, read)
        except KeyError as missing:
            return [
                Problem((), "file-id-unknown", f"{missing} is not in the night file.", "Write an id that stands there.")
            ]
        except (TypeError, ValueError, AttributeError) as wrong:
            return [Problem((), "file-value", f"This cannot be read: {wrong}.", f"Write it as in {DOCUMENT}.")]
        asked = Asked(read.by, role, at.utc)
        rightly = isinstance(read, ReadBackActKeys) and read.check_word is None
        self.acts += [Scripted(number, command, asked, read.refused, rightly) for command in commands]
        return []


def _shown(value: Any) -> str:
    return f'"{value[:40]}"' if isinstance(value, str) else str(value)[:40]


def _problem(path: Path, problem: Problem) -> Finding:
    where = f"{path}, {dotted(problem.path)}" if problem.path else str(path)
    return Finding(
        problem.code, Level.STOP, problem.what, problem.do, where, "the keys of a scripted evening", DOCUMENT
    )


def _changed(table: dict[str, Any], name: str, change: Any, key: str) -> dict[str, Any]:
    """The table with other values for some of the rows of one of its lists, found by their id."""
    rows = [row | (change or {}).get(row[key], {}) for row in table[name]]
    return table | {name: rows}


def _sign_rules(read: _Reader, act: RulesActKeys) -> list[Any]:
    clinic = dict(read.table["clinic"])
    change = dict(act.change or {})
    clinic["rules"] = clinic.get("rules", {}) | change.pop("rules", {})
    return [rules.SignRules(plain_table(clinic | change))]


def _place_slots(read: _Reader, _: ActKeys) -> list[Any]:
    return [slots.PlaceSlot(slot, "theatre list") for slot in read.slots.values()]


def _open_case(read: _Reader, act: CaseKeys) -> list[Any]:
    details = {
        name: value for name, value in read.cases[act.case].items() if name not in ("id", "slot", "order", "kit")
    }
    return [opening.OpenCase(act.case, details)]


def _give_slot(read: _Reader, act: SlotActKeys) -> list[Any]:
    name = act.slot or read.cases[act.case]["slot"]
    return [slots.GiveSlot(read.slots[name]["at"][:10], name, act.case, act.why)]


def _move_slot(read: _Reader, act: MoveActKeys) -> list[Any]:
    slot = dict(read.slots[act.slot])
    if act.to is not None:
        slot["at"] = f"{act.to.local:%Y-%m-%d %H:%M}"
        slot.pop("which", None)
        if act.to.which is not None:
            slot["which"] = act.to.which
    if act.room is not None:
        slot["room"] = act.room
    return [slots.PlaceSlot(slot, act.why)]


def _free_slot(read: _Reader, act: MoveActKeys) -> list[Any]:
    return [slots.FreeSlot(read.slots[act.slot]["at"][:10], act.slot, act.why)]


def _order(read: _Reader, act: OrderActKeys) -> e.Table:
    order = _changed(read.cases[act.case]["order"], "injections", act.change, "id")
    signed_at = {"signed_at": act.signed_at} if act.signed_at is not None else {}
    return plain_table(order | signed_at | ({"stop": list(act.stop)} if act.stop is not None else {}))


def _sign_order(read: _Reader, act: OrderActKeys) -> list[Any]:
    return [orders.SignOrder(act.case, _order(read, act))]


def _telephone_order(read: _Reader, act: OrderActKeys) -> list[Any]:
    return [orders.TelephoneOrder(act.case, _order(read, act), act.words or "", act.read_back, act.second_listener)]


def _read_kit(read: _Reader, act: KitActKeys) -> list[Any]:
    kit = _changed(read.cases[act.case]["kit"], "products", act.change, "product")
    boxes = [{name: value for name, value in box.items() if name != "carton_check"} for box in kit["products"]]
    return [kits.ReadKit(act.case, plain_table(kit | {"products": boxes}), act.how)]


def _second_check(read: _Reader, act: CheckActKeys) -> list[Any]:
    zone = Zone(read.cases[act.case]["zone"])
    readings = []
    for injection, (at, *fills) in act.entered.items():
        found = moment(structure_wall(at), zone)
        if isinstance(found, Finding):
            raise ValueError(found.what)
        readings.append(e.Reading(injection, found.utc, tuple((volume, mark) for volume, mark in fills)))
    return [checks.SecondCheck(act.case, tuple(readings))]


def structure_wall(text: str) -> WallTime:
    """A clock time as in a night file: "2026-11-18 21:00", with "first" or "second" after it where that hour happens twice."""
    read = structure({"at": text, "by": "-", "do": "-"}, ActKeys)
    if isinstance(read, list):
        raise ValueError(read[0].what)
    return read.at


def _read_back(_: _Reader, act: ReadBackActKeys) -> list[Any]:
    said = tuple((name, str(words)) for name, words in (act.said or {}).items())
    return [
        calls.HearReadBack(
            act.case, act.on_the_line, act.identified_by, said, act.check_word or "", act.old_alarm_deleted
        )
    ]


def _tell(act: TellActKeys) -> night.Escalate:
    return night.Escalate(act.case, act.injection, act.told, act.about, act.reply, act.reached, act.rung)


def _report(read: _Reader, act: ReportActKeys) -> list[Any]:
    zone = act.zone or read.cases[act.case]["zone"]
    return [
        night.Confirm(
            act.case,
            act.injection,
            act.given_at,
            zone,
            act.told_by,
            act.source,
            act.amount,
            act.remains,
            act.which,
            act.sheet,
        )
    ]


def _hand_over(_: _Reader, act: HandOverActKeys) -> list[Any]:
    problems = tuple(e.Problem(one["case"], one["what"]) for one in act.problems or ())
    return [handover.HandOver(act.day, act.to, problems)]


_Make = Callable[[_Reader, Any], list[Any]]
_DO: dict[str, tuple[type[Any], _Make]] = {
    "sign-rules": (RulesActKeys, _sign_rules),
    "place-slots": (ActKeys, _place_slots),
    "move-slot": (MoveActKeys, _move_slot),
    "give-slot": (SlotActKeys, _give_slot),
    "free-slot": (MoveActKeys, _free_slot),
    "open-case": (CaseKeys, _open_case),
    "close-case": (WhyKeys, lambda _, act: [opening.CloseCase(act.case, act.why)]),
    "sign-order": (OrderActKeys, _sign_order),
    "telephone-order": (OrderActKeys, _telephone_order),
    "countersign": (OrderActKeys, lambda _, act: [orders.CountersignOrder(act.case, int(act.version))]),
    "withdraw-order": (OrderActKeys, lambda _, act: [orders.WithdrawOrder(act.case, int(act.version), act.why or "")]),
    "read-kit": (KitActKeys, _read_kit),
    "check-carton": (
        CartonActKeys,
        lambda _, act: [kits.CheckCarton(act.case, act.product, act.readers, act.strength, act.volume, act.route)],
    ),
    "open-plan": (CaseKeys, lambda _, act: [checks.OpenPlan(act.case, "the plan")]),
    "second-check": (CheckActKeys, _second_check),
    "try-call": (TryActKeys, lambda _, act: [calls.TryCall(act.case, act.number, act.reached, act.result)]),
    "read-back": (ReadBackActKeys, _read_back),
    "note-call": (
        NoteActKeys,
        lambda _, act: [
            calls.NoteCall(act.case, act.caller, act.number, act.received, act.advice, act.referred_to, act.follow_up)
        ],
    ),
    "release": (
        ReleaseActKeys,
        lambda _, act: [
            sheets.Release(act.case, act.unchecked_why, act.call_waived_why, tuple((act.answered or {}).items()))
        ],
    ),
    "report": (ReportActKeys, _report),
    "tell": (TellActKeys, lambda _, act: [_tell(act)]),
    "note-incident": (
        IncidentActKeys,
        lambda _, act: [
            night.NoteIncident(act.case, act.injection, act.happened, act.decided_by, act.decision, act.settled)
        ],
    ),
    "hand-over": (HandOverActKeys, _hand_over),
    "take-handover": (DayActKeys, lambda _, act: [handover.TakeHandover(act.day)]),
    "list-morning": (DayActKeys, lambda _, act: [handover.ListMorning(act.day)]),
}
"""Every act that a script can name."""
