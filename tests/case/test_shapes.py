"""Events as bodies of the record: written the same for ever, read back whole, and nothing unknown is let through."""

import json
from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace
from itertools import combinations
from typing import Any, get_args

import pytest
from cattrs.errors import ForbiddenExtraKeysError

from hourmark.case import calls, checks, kits, night, opening, orders, sheets, slots
from hourmark.case import events as e
from hourmark.case.day import fold_day, fold_roll, fold_rules
from hourmark.case.shapes import (
    EVENTS,
    SHAPES,
    Recorded,
    Upcast,
    from_body,
    from_entry,
    kind_of,
    request_bytes,
    to_fact,
)
from hourmark.case.state import fold_case
from hourmark.desk import Command
from hourmark.ledger import Act, Entry, Fact, MemoryStore, append, erase
from tests.case.bodies import EXAMPLES, kept
from tests.case.voiding import every_change
from tests.case.world import CASE, LATER, NURSE

KEPT = kept()


def test_every_kind_of_event_has_an_example_and_a_body_and_no_body_is_of_another() -> None:
    assert list(EXAMPLES) == list(EVENTS)
    assert {kind for kind, _ in KEPT} == set(EVENTS)
    assert {(kind, SHAPES.get(kind, 1)) for kind in EVENTS} <= set(KEPT)


def test_every_event_in_the_code_has_a_kind() -> None:
    parts = (e.Due, e.Follows, e.Page, e.Problem, e.Reading, e.Said)
    written = {thing for thing in vars(e).values() if is_dataclass(thing)} - set(parts)
    assert set(EVENTS.values()) == written


@pytest.mark.parametrize("kind", EVENTS)
def test_an_event_is_written_to_the_byte_as_ever(kind: str) -> None:
    fact = to_fact("some/stream", EXAMPLES[kind])
    assert (fact.stream, fact.kind, fact.shape) == ("some/stream", kind, SHAPES.get(kind, 1))
    assert fact.body == KEPT[kind, fact.shape]


_SHEET: Any = EXAMPLES["sheet-issued"]
_TOLD: Any = EXAMPLES["escalated"]
_NOTED: Any = EXAMPLES["incident-noted"]
OLDER = {
    ("sheet-issued", 1): replace(_SHEET, dues=tuple(replace(due, holds=None, follows=None) for due in _SHEET.dues)),
    ("escalated", 1): replace(_TOLD, reached=True, rung=None, tell=None),
    ("escalated", 2): replace(_TOLD, tell=None),
    ("incident-noted", 1): replace(_NOTED, settles=None),
}
"""What a body of an older shape says: what was not kept then is not known."""


@pytest.mark.parametrize(("kind", "shape"), KEPT)
def test_a_body_of_any_shape_that_was_ever_written_is_read(kind: str, shape: int) -> None:
    assert from_body(kind, shape, KEPT[kind, shape]) == OLDER.get((kind, shape), EXAMPLES[kind])


@pytest.mark.parametrize("kind", EVENTS)
def test_a_key_that_nobody_knows_is_refused(kind: str) -> None:
    table = json.loads(KEPT[kind, SHAPES.get(kind, 1)]) | {"colour": "red"}
    with pytest.raises(ForbiddenExtraKeysError):
        from_body(kind, SHAPES.get(kind, 1), json.dumps(table).encode())


@pytest.mark.parametrize("kind", EVENTS)
def test_a_key_that_is_missing_is_refused(kind: str) -> None:
    table = json.loads(KEPT[kind, SHAPES.get(kind, 1)])
    for name in table:
        less = {key: value for key, value in table.items() if key != name}
        with pytest.raises(KeyError, match=name):
            from_body(kind, SHAPES.get(kind, 1), json.dumps(less).encode())


@pytest.mark.parametrize(
    ("kind", "inside"),
    [("sheet-issued", "dues"), ("sheet-issued", "pages"), ("read-back", "fields"), ("handed-over", "problems")],
)
def test_an_unknown_key_deep_inside_is_refused_too(kind: str, inside: str) -> None:
    table = json.loads(KEPT[kind, 1])
    table[inside][0]["colour"] = "red"
    with pytest.raises(ForbiddenExtraKeysError):
        from_body(kind, 1, json.dumps(table).encode())


def test_a_table_of_a_night_file_is_kept_as_it_was_written_whatever_its_keys() -> None:
    event = e.CaseOpened("K-1", {"zone": "Europe/Madrid", "later": {"shoe": [38, None, True, "é"]}})
    assert from_body("case-opened", 1, to_fact("x", event).body) == event


@pytest.mark.parametrize("kind", EVENTS)
@pytest.mark.parametrize("shape", [0, 99])
def test_a_shape_that_nobody_knows_is_refused(kind: str, shape: int) -> None:
    with pytest.raises(ValueError, match=f'Shape {shape} of "{kind}" is not known here'):
        from_body(kind, shape, KEPT[kind, SHAPES.get(kind, 1)])


# Entries


def entries_of(*facts: Fact) -> tuple[Entry, ...]:
    store = MemoryStore("invented")
    with store.writing() as record:
        append(record, Act("key", b"asked", NURSE.name, LATER, facts), {}, lambda: bytes(16))
    return tuple(store.read_all())


@pytest.mark.parametrize("kind", EVENTS)
def test_an_entry_gives_its_event_with_who_and_when(kind: str) -> None:
    (entry,) = entries_of(to_fact("some/stream", EXAMPLES[kind]))
    recorded = from_entry(entry)
    assert recorded is not None
    assert (recorded.seq, recorded.at, recorded.actor) == (1, LATER, NURSE.name)
    assert recorded.event == EXAMPLES[kind]


def test_an_entry_of_a_kind_that_nobody_knows_is_refused() -> None:
    (entry,) = entries_of(Fact("some/stream", "moon-phased", 1, b"{}"))
    with pytest.raises(ValueError, match=r'"moon-phased" is not known here: the record was written by a newer version'):
        from_entry(entry)


def test_erased_entries_and_the_one_that_says_so_have_no_event() -> None:
    store = MemoryStore("invented")
    with store.writing() as record:
        fact = to_fact("case/K-1", EXAMPLES["case-closed"])
        append(record, Act("key", b"asked", NURSE.name, LATER, (fact,)), {}, lambda: bytes(16))
        erase(record, "case/K-1", "long ago", key="erase", actor=NURSE.name, at=LATER, salt=lambda: bytes(16))
    assert [from_entry(entry) for entry in store.read("case/K-1")] == [None, None]


# Older shapes, made up: a slot that once was "taken" without a reason, and before that under another name.


def with_reason(table: dict[str, Any]) -> dict[str, Any]:
    return table | {"why": "no reason was asked for then"}


def renamed(table: dict[str, Any]) -> dict[str, Any]:
    return {"slot": table["place"]}


UPCASTS: dict[tuple[str, int], Upcast] = {("slot-taken", 1): renamed, ("slot-taken", 2): with_reason}
TODAY = {"slot-taken": 3}


@pytest.mark.parametrize(("shape", "body"), [(1, b'{"place":"s3"}'), (2, b'{"slot":"s3"}')])
def test_an_older_body_is_read_through_every_shape_after_it(shape: int, body: bytes) -> None:
    found = from_body("slot-taken", shape, body, UPCASTS, TODAY)
    assert found == e.SlotTaken("s3", "no reason was asked for then")


def test_a_body_of_today_goes_through_no_upcast() -> None:
    body = b'{"slot":"s3","why":"cancelled"}'
    assert from_body("slot-taken", 3, body, UPCASTS, TODAY) == e.SlotTaken("s3", "cancelled")


@pytest.mark.parametrize("shape", [0, 4])
def test_a_shape_before_the_first_or_after_the_last_is_refused(shape: int) -> None:
    with pytest.raises(ValueError, match=f"Shape {shape} of"):
        from_body("slot-taken", shape, b'{"slot":"s3","why":"x"}', UPCASTS, TODAY)


def test_a_step_that_is_missing_between_two_shapes_is_refused() -> None:
    with pytest.raises(ValueError, match="Shape 2 of"):
        from_body("slot-taken", 1, b'{"place":"s3"}', {("slot-taken", 1): renamed}, TODAY)


def test_an_upcast_that_leaves_an_old_key_behind_is_refused() -> None:
    with pytest.raises(ForbiddenExtraKeysError):
        from_body("slot-taken", 1, b'{"slot":"s3","old":1}', {("slot-taken", 1): with_reason}, {"slot-taken": 2})


# What was asked, as bytes


def commands() -> list[Command]:
    """One command of every kind."""
    found = {type(command := change.act(change.sheet())[0]): command for change in every_change().values()}
    return [*found.values(), sheets.Release(CASE)]


def test_every_kind_of_command_has_bytes() -> None:
    asked = commands()
    assert {type(command) for command in asked} == set(get_args(Command))
    assert len({request_bytes(command) for command in asked}) == len(asked)


FILLED = {
    "problems": (e.Problem(CASE, "open"),),
    "answered": (("injection-past", "go ahead"),),
    "differs": ("the needles",),
}
"""Something to stand where the example has nothing."""


def others(command: Any) -> Iterator[Any]:
    """The command with each of its fields another."""
    for field in fields(command):
        value = getattr(command, field.name)
        match value:
            case bool():
                yield replace(command, **{field.name: not value})
            case str():
                yield replace(command, **{field.name: f"{value} "})
            case int():
                yield replace(command, **{field.name: value + 1})
            case tuple():
                yield replace(command, **{field.name: value[::-1] if value else FILLED[field.name]})
            case dict():
                yield replace(command, **{field.name: value | {"another": None}})
            case None:
                yield replace(command, **{field.name: ""})
            case night.Confirm():
                yield replace(command, **{field.name: next(others(value))})


def test_a_command_that_differs_in_one_field_has_other_bytes() -> None:
    for command in commands():
        changed = list(others(command))
        assert len(changed) == len(fields(command)), type(command)
        found = [request_bytes(one) for one in (command, *changed)]
        assert len(set(found)) == len(found), type(command)


def test_two_kinds_of_command_with_the_same_fields_have_other_bytes() -> None:
    alike: list[Any] = [
        slots.GiveSlot("2026-11-20", "s3", CASE, "x"),
        orders.SignOrder(CASE, {}),
        orders.WithdrawOrder(CASE, 1, "x"),
        sheets.VoidSheet(CASE, 1, "x"),
        night.WithdrawConfirmation(CASE, 1, "x"),
        opening.OpenCase(CASE, {}),
        opening.CloseCase(CASE, "x"),
        checks.OpenPlan(CASE, "x"),
        checks.SecondCheck(CASE, ()),
        kits.ReadKit(CASE, {}, "x"),
        opening.ChangeDetails(CASE, {}, "x"),
    ]
    for one, other in combinations(alike, 2):
        assert request_bytes(one) != request_bytes(other)


def test_the_same_command_has_the_same_bytes_in_whatever_order_its_tables_were_written() -> None:
    one = opening.OpenCase(CASE, {"zone": "America/Chicago", "lh": "1.8 units/L"})
    other = opening.OpenCase(CASE, {"lh": "1.8 units/L", "zone": "America/Chicago"})
    assert request_bytes(one) == request_bytes(other)
    assert request_bytes(calls.TryCall(CASE, "1", True, "x")) == request_bytes(calls.TryCall(CASE, "1", True, "x"))


def test_kinds_are_named_as_people_say_them() -> None:
    assert kind_of(e.CaseOpened("K-1", {})) == "case-opened"
    assert kind_of(e.HandoverTaken(1)) == "handover-taken"
    assert all(kind == kind.lower() and not kind.startswith("-") for kind in EVENTS)


@pytest.mark.parametrize(
    ("fold", "kinds"),
    [(fold_case, get_args(e.CaseEvent)), (fold_day, get_args(e.DayEvent)), (fold_rules, get_args(e.RulesEvent))],
    ids=["case", "day", "rules"],
)
def test_an_event_of_another_stream_is_folded_by_none(fold: Any, kinds: tuple[type, ...]) -> None:
    for example in EXAMPLES.values():
        record = Recorded(1, LATER, NURSE.name, example)
        if isinstance(example, kinds):
            fold([record])
        else:
            with pytest.raises(ValueError, match=f"{type(example).__name__} is not an event of"):
                fold([record])


def test_only_what_opens_and_closes_a_case_is_folded_into_the_roll() -> None:
    for example in EXAMPLES.values():
        if not isinstance(example, get_args(e.RollEvent)):
            with pytest.raises(ValueError, match="is not an event of the roll"):
                fold_roll([Recorded(1, LATER, NURSE.name, example)])
