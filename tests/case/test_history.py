"""Long histories of whatever people ask for: after every act the record, its states and its promises agree."""

import datetime as dt
import itertools
import random
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from typing import Any, TypeVar

import pytest

from hourmark.case import events as e
from hourmark.case.asked import Asked, Refused
from hourmark.case.day import DayState, RulesState, fold_day, fold_roll, fold_rules
from hourmark.case.injections import standings
from hourmark.case.night import ALL, NONE
from hourmark.case.rests import rests_on
from hourmark.case.shapes import Recorded, from_entry
from hourmark.case.state import CaseState, Kept, fold_case
from hourmark.case.streams import ROLL, RULES, case_stream, day_stream
from hourmark.desk import Command, Done, States
from hourmark.ledger import Entry, MemoryStore, Reader, verify
from tests.case.histories import CASES, next_command
from tests.case.world import DAY, World, desk_over

SEEDS = range(6)
STEPS = 110

S = TypeVar("S")

read_event = cache(from_entry)
"""The event of an entry. Histories are read over and over, and an entry never changes."""


@dataclass(frozen=True, slots=True)
class Standing:
    """Everything that folds out of a record."""

    cases: dict[str, CaseState]
    day: DayState
    rules: RulesState
    roll: tuple[str, ...]


STATES = {
    *(
        "problem",
        "unknown since",
        "given early",
        "given late",
        "no sheet",
        "due",
        "mixing",
        "told",
        "to tell",
        "settled",
        "given",
    )
}
"""Every state that a row of the board can be in."""


def as_the_desk_has_it(states: States) -> Standing:
    return Standing({case: states.case(case) for case in CASES}, states.day(DAY), states.rules(), states.roll())


def folded(record: Reader) -> Standing:
    """The same, from the entries alone."""
    return Standing(
        {case: fold_case(events(record, case_stream(case))) for case in CASES},
        fold_day(events(record, day_stream(DAY))),
        fold_rules(events(record, RULES)),
        fold_roll(events(record, ROLL)),
    )


def events(record: Reader, stream: str) -> list[Recorded]:
    return [event for entry in record.read(stream) if (event := read_event(entry)) is not None]


@dataclass(frozen=True, slots=True)
class Step:
    """One thing asked for, what it wrote, and how everything stood afterwards."""

    command: Command
    asked: Asked
    written: tuple[Entry, ...]
    after: Standing


@cache
def history(seed: int) -> tuple[World, tuple[Step, ...]]:
    """One history, with everything that must hold checked after each act."""
    store = MemoryStore("invented")
    world = World(store, desk_over(store), [], itertools.count(1))
    draw, steps = random.Random(seed), []
    with pytest.MonkeyPatch.context() as patch:
        # Setting a page takes a fifth of a second and says nothing about the record; test_sheets.py prints real ones.
        patch.setattr("hourmark.desk.desk.printed", lambda *_: {"sheet.txt": b"as printed then"})
        for number in range(STEPS):
            command, asked = next_command(draw, world.desk.states())
            before = world.everything()
            answer = world.desk.perform(command, asked, f"key-{number}")
            if isinstance(answer, Done):
                world.entries += answer.entries
                calls_are_owed(world, answer.entries, len(before[2]))  # type: ignore[arg-type]
            else:
                assert isinstance(answer, Refused), answer
                assert world.everything() == before, command
            standing = as_the_desk_has_it(world.desk.states())
            check(world, standing, asked.at)
            if isinstance(answer, Done) and answer.entries and draw.random() < 0.3:
                again = world.desk.perform(command, asked, f"key-{number}")
                assert again == Done(answer.entries, again=True)
                assert as_the_desk_has_it(world.desk.states()) == standing
            steps.append(Step(command, asked, answer.entries if isinstance(answer, Done) else (), standing))
    return world, tuple(steps)


def check(world: World, now: Standing, at: str) -> None:
    """What holds after every act, whatever it was."""
    assert folded(world.store) == now
    assert list(verify(world.store)) == []
    assert list(world.store.read_all()) == sorted(world.entries, key=lambda entry: (entry.stream, entry.seq))
    assert sorted(now.roll) == sorted(case for case, state in now.cases.items() if state.there and not state.closed)
    versions_count_up(now)
    for case, state in now.cases.items():
        slots_agree(case, state, now.day)
        sheets_hold(state, now.rules)
    board_is_recorded(world, now, at)


def versions_count_up(now: Standing) -> None:
    for state in now.cases.values():
        assert [one.event.version for one in state.orders] == list(range(1, len(state.orders) + 1))
        assert [one.event.version for one in state.sheets] == list(range(1, len(state.sheets) + 1))
        assert state.kit is None or state.kit.version == state.kits
    assert [one.version for one in now.day.lists] == list(range(1, len(now.day.lists) + 1))


def slots_agree(case: str, state: CaseState, day: DayState) -> None:
    """An open case has the slot that the day says it has, where theatre last put it; a closed one keeps what it had."""
    if state.closed:
        return
    mine = [name for name, whose in day.cases.items() if whose == case]
    if state.slot is None:
        assert mine == []
    else:
        assert mine == [state.slot.slot["id"]]
        placed = day.slots[mine[0]]
        assert (state.slot.slot, state.slot.instant) == (placed.slot, placed.instant)


def sheets_hold(state: CaseState, rules: RulesState) -> None:
    """One sheet holds at most, and it rests on exactly what is now; no two have the same check words."""
    assert all(sheet.voided is not None for sheet in state.sheets[:-1])
    words = [sheet.event.check_word for sheet in state.sheets]
    assert len(set(words)) == len(words)
    if state.sheet is not None and not state.closed:
        then = state.sheet.event.rests_on
        bands = [name.removeprefix("rules.bands.") for name in then if name.startswith("rules.bands.")]
        assert rests_on(state, rules.clinic, bands) == then


def calls_are_owed(world: World, written: tuple[Entry, ...], queued: int) -> None:
    """Whoever has a page that is void is rung, unless she has another already."""
    kinds = [(entry.stream.removeprefix("case/"), entry.read_header().kind) for entry in written]
    issued = [case for case, kind in kinds if kind == "sheet-issued"]
    void = [("call-owed", case) for case, kind in kinds if kind == "sheet-voided" and case not in issued]
    assert [message for message in world.messages()[queued:] if message[0] == "call-owed"] == void


def board_is_recorded(world: World, now: Standing, at: str) -> None:
    """What is given was reported with its minute and in full; what is silent after its minute is unknown."""
    rows = world.desk.states().board(at)
    assert {row.case for row in rows} == set(now.roll)
    for row in rows:
        state = now.cases[row.case]
        assert row.state in STATES
        if row.sheet is None and row.place:
            assert row.state == "no sheet"
            assert not state.sheets
            assert state.order is not None
            ordered: Any = state.order.event.order["injections"]
            assert row.injection in [one["id"] for one in ordered]
        if row.sheet is None or not row.place:
            continue
        (one,) = [
            one
            for one in standings(state)
            if (one.sheet.event.version, one.due.injection) == (row.sheet, row.injection)
        ]
        due, said = one.due, one.reports
        if row.state == "given":
            report = said[-1].event
            assert report.instant is not None
            assert (report.instant, report.amount) == (row.since, ALL)
            assert nothing_to_ask(said) or settled_since(state, said[-1])
        elif row.state == "settled":
            assert settled_since(state, said[-1]) or (said[-1].event.amount == NONE and not one.current)
        elif row.state in ("given early", "given late"):
            assert (said[-1].event.instant, said[-1].event.amount) == (row.since, ALL)
            assert outside(due, row.since, state) == row.state
        elif said:
            assert row.state == "problem"
        elif row.state != "problem":
            assert (row.state == "unknown since") is (due.at <= at)


def outside(due: e.Due, at: e.Instant | None, state: CaseState) -> str:
    """On which side of the order's window it lies, by the minutes before the slot as it now is."""
    assert at is not None
    if due.leads is not None and state.slot is not None:
        before = dt.datetime.fromisoformat(state.slot.instant) - dt.datetime.fromisoformat(at)
        return "given late" if before < dt.timedelta(minutes=due.leads[0]) else "given early"
    return "given late" if due.latest is not None and at > due.latest else "given early"


def nothing_to_ask(said: tuple[Kept[e.Confirmed], ...]) -> bool:
    report = said[-1].event
    doubts = {"time-future", "injection-unknown"} & set(report.doubts)
    alike = len({(one.event.instant, one.event.amount) for one in said}) == 1
    return report.instant is not None and report.amount == ALL and not doubts and alike


def settled_since(state: CaseState, report: Kept[e.Confirmed]) -> bool:
    settled = [one for one in state.incidents if one.event.settled and one.seq > report.seq]
    return any(one.event.injection == report.event.injection for one in settled)


# The histories


@pytest.mark.parametrize("seed", SEEDS)
def test_after_every_act_record_states_and_promises_agree(seed: int) -> None:
    _, steps = history(seed)
    assert len(steps) == STEPS


def test_the_histories_meet_most_of_what_can_happen() -> None:
    played = [step for seed in SEEDS for step in history(seed)[1]]
    done = {entry.read_header().kind for step in played for entry in step.written}
    assert len([step for step in played if not step.written]) > STEPS
    assert done >= {
        "sheet-issued",
        "sheet-voided",
        "second-checked",
        "read-back",
        "order-telephoned",
        "order-withdrawn",
        "slot-taken",
        "kit-read",
        "carton-checked",
        "confirmed",
        "incident-noted",
        "rules-signed",
        "barrel-measured",
        "morning-listed",
        "handover-taken",
    }
    assert sum(entry.read_header().kind == "sheet-issued" for step in played for entry in step.written) >= 15


@pytest.mark.parametrize("seed", SEEDS)
def test_every_prefix_of_a_history_stands_as_it_stood_then(seed: int) -> None:
    _, steps = history(seed)
    store = MemoryStore("invented")
    for step in steps:
        with store.writing() as record:
            record.write(step.written, [])
        assert folded(store) == step.after
        assert as_the_desk_has_it(desk_over(store).states()) == step.after


@pytest.mark.parametrize("seed", SEEDS)
def test_folding_step_by_step_is_folding_at_once(seed: int) -> None:
    world, _ = history(seed)
    folds: list[tuple[str, Any]] = [(case_stream(case), fold_case) for case in CASES]
    folds += [(day_stream(DAY), fold_day), (RULES, fold_rules), (ROLL, fold_roll)]
    for stream, fold in folds:
        records = events(world.store, stream)
        state = fold([])
        for place, record in enumerate(records, 1):
            state = fold([record], state)
            assert state == fold(records[:place])


@pytest.mark.parametrize("seed", SEEDS)
def test_the_states_of_a_moment_are_the_fold_of_what_was_recorded_by_then(seed: int) -> None:
    world, steps = history(seed)
    assert any(later.asked.at < earlier.asked.at for earlier, later in itertools.pairwise(steps))
    for moment in sorted(
        {step.asked.at for step in steps[:: STEPS // 20]} | {"2026-01-01T00:00:00Z", "2027-01-01T00:00:00Z"}
    ):
        states = world.desk.states(moment)
        for case in CASES:
            assert states.case(case) == fold_case(by(moment, events(world.store, case_stream(case))))
        assert states.day(DAY) == fold_day(by(moment, events(world.store, day_stream(DAY))))
        assert states.rules() == fold_rules(by(moment, events(world.store, RULES)))
        assert states.roll() == fold_roll(by(moment, events(world.store, ROLL)))


def by(moment: str, records: Iterable[Recorded]) -> list[Recorded]:
    """Everything before the last record that was made by a moment, and that record."""
    found = list(records)
    while found and found[-1].at > moment:
        found.pop()
    return found


@pytest.mark.parametrize("seed", SEEDS)
def test_no_act_that_was_recorded_is_ever_lost(seed: int) -> None:
    world, steps = history(seed)
    for number, step in enumerate(steps):
        assert tuple(world.store.of_act(f"key-{number}")) == step.written


def test_the_same_draws_make_the_same_history() -> None:
    world, steps = history(0)
    draw, states = random.Random(0), desk_over(MemoryStore("invented")).states()
    assert next_command(draw, states) == (steps[0].command, steps[0].asked)
    assert [entry.read_header().clinic for entry in world.entries[:1]] == ["invented"]


def test_every_withdrawn_report_is_gone_from_the_state_and_still_in_the_record() -> None:
    for seed in SEEDS:
        world, _ = history(seed)
        for case in CASES:
            recorded = events(world.store, case_stream(case))
            taken = [one.event.entry for one in recorded if isinstance(one.event, e.ConfirmationWithdrawn)]
            assert not set(taken) & {one.seq for one in world.case(case).confirmations}
            assert all(isinstance(recorded[seq - 1].event, e.Confirmed) for seq in taken)
