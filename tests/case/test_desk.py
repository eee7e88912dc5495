"""The desk: each act once, whole, on what whoever asks has seen; and nothing out of a record that is damaged."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from typing import Any

import pytest

from hourmark.case import calls, checks, handover, kits, night, opening, orders, sheets, slots
from hourmark.case import events as e
from hourmark.case.asked import Refused
from hourmark.case.shapes import Recorded, from_entry
from hourmark.desk import TRIES, Damaged, Desk, Done, Moved
from hourmark.desk.states import until
from hourmark.ledger import Entry, KeyTaken, MemoryStore, NotStored, verify
from tests.case.world import (
    CASE,
    CHECKED,
    DAY,
    GIVEN,
    LATER,
    NIGHT,
    NURSE,
    ORDERED,
    PRESCRIBER,
    RELEASED,
    SECOND,
    THEATRE,
    World,
    at_stage,
    check,
    desk_over,
    details,
    empty,
    kinds,
    order,
    slot,
    written,
)

RINGS = calls.TryCall(CASE, "+1 555 0188", True, "she answered")
LOOKS = checks.OpenPlan(CASE, "the plan")
CLOSER = orders.SignOrder(CASE, order() | {"largest_gap": "10 min"})


# What whoever asks has seen


def test_an_act_on_what_has_moved_since_is_not_done_and_says_what_happened() -> None:
    world = at_stage("planned")
    seen = world.store.head("case/K-103").seq
    world.do(CLOSER, PRESCRIBER)
    world.do(RINGS, SECOND)
    before = world.everything()
    answer = world.ask(LOOKS, NURSE, expected={"case/K-103": seen})
    assert isinstance(answer, Moved)
    assert list(answer.since) == ["case/K-103"]
    assert [(one.seq, one.actor, type(one.event)) for one in answer.since["case/K-103"]] == [
        (seen + 1, PRESCRIBER.name, e.OrderSigned),
        (seen + 2, SECOND.name, e.CallTried),
    ]
    assert world.everything() == before


def test_only_the_streams_that_moved_are_told() -> None:
    world = at_stage("planned")
    seen = {stream: world.store.head(stream).seq for stream in ("case/K-103", "day/2026-11-20", "rules", "never")}
    assert seen["never"] == 0
    world.do(slots.PlaceSlot(slot("s9") | {"at": "2026-11-20 12:00"}, "late"), THEATRE)
    answer = world.ask(LOOKS, NURSE, expected=seen)
    assert isinstance(answer, Moved)
    assert list(answer.since) == ["day/2026-11-20"]


def test_an_act_on_what_stands_as_it_was_seen_is_done() -> None:
    world = at_stage("planned")
    seen = {stream: world.store.head(stream).seq for stream in ("case/K-103", "day/2026-11-20", "never")}
    assert isinstance(world.ask(LOOKS, NURSE, expected=seen), Done)


def test_a_release_of_what_was_seen_before_the_slot_moved_is_not_done() -> None:
    world = at_stage("heard")
    seen = {"case/K-103": world.store.head("case/K-103").seq}
    world.do(slots.PlaceSlot(slot() | {"at": "2026-11-20 09:45"}, "late"), THEATRE)
    assert isinstance(world.ask(sheets.Release(CASE), NURSE, expected=seen), Moved)
    assert world.case().sheets == ()


WANT_A_PLAN: dict[str, Any] = {
    "release": sheets.Release(CASE),
    "second check": checks.SecondCheck(CASE, ()),
    "read-back": calls.HearReadBack(CASE, "she", ("full name", "date of birth"), (), "", None),
}


@pytest.mark.parametrize("what", WANT_A_PLAN)
def test_what_has_moved_is_told_also_where_there_is_no_plan_any_more(what: str) -> None:
    world = at_stage("heard")
    seen = world.store.head("case/K-103").seq
    world.do(orders.WithdrawOrder(CASE, 1, "not tonight"), PRESCRIBER)
    assert world.codes(WANT_A_PLAN[what], SECOND) == ["case-incomplete"]
    before = world.everything()
    answer = world.ask(WANT_A_PLAN[what], SECOND, expected={"case/K-103": seen})
    assert isinstance(answer, Moved)
    assert [type(one.event) for one in answer.since["case/K-103"]] == [e.OrderWithdrawn]
    assert world.everything() == before


def test_what_has_moved_is_told_of_a_case_that_is_closed_and_of_a_list_without_rules() -> None:
    world = at_stage("heard")
    seen = world.store.head("case/K-103").seq
    world.do(opening.CloseCase(CASE, "she withdrew"), NURSE)
    assert isinstance(world.ask(sheets.Release(CASE), NURSE, expected={"case/K-103": seen}), Moved)
    world = empty()
    world.do(opening.OpenCase(CASE, details()), NURSE)
    assert isinstance(world.ask(handover.ListMorning(DAY), NURSE, expected={"roll": 0}), Moved)
    assert world.codes(handover.ListMorning(DAY), NURSE) == ["rules-missing"]


def test_a_repeat_is_the_first_answer_also_where_there_is_no_plan_any_more() -> None:
    world = at_stage("heard")
    seen = {"case/K-103": world.store.head("case/K-103").seq}
    first = world.ask(sheets.Release(CASE), NURSE, RELEASED, key="release", expected=seen)
    assert isinstance(first, Done)
    world.do(orders.WithdrawOrder(CASE, 1, "not tonight"), PRESCRIBER)
    again = world.ask(sheets.Release(CASE), NURSE, RELEASED, key="release", expected=seen)
    assert again == Done(first.entries, again=True)
    other = world.ask(sheets.Release(CASE, "alone"), PRESCRIBER, key="release", expected=seen)
    assert other == KeyTaken(first.entries)


# Once for each key


def test_the_same_thing_asked_for_again_is_done_once() -> None:
    world = at_stage("planned")
    first = world.ask(RINGS, NURSE, LATER, key="one")
    assert isinstance(first, Done)
    before = world.everything()
    for who, at in ((NURSE, LATER), (NURSE, NIGHT), (SECOND, NIGHT)):
        assert world.ask(RINGS, who, at, key="one") == Done(first.entries, again=True)
    assert world.everything() == before


def test_a_repeat_is_the_first_answer_also_when_the_case_has_changed_since() -> None:
    world = at_stage("heard")
    first = world.ask(sheets.Release(CASE), NURSE, RELEASED, key="release")
    assert isinstance(first, Done)
    pages = world.desk.pages(CASE, 1)
    assert world.ask(sheets.Release(CASE), NURSE, RELEASED, key="release") == Done(first.entries, again=True)
    world.do(slots.PlaceSlot(slot() | {"at": "2026-11-20 09:45"}, "late"), THEATRE)
    before = world.everything()
    assert world.ask(sheets.Release(CASE), NURSE, NIGHT, key="release") == Done(first.entries, again=True)
    world.do(opening.CloseCase(CASE, "over"), NURSE)
    assert world.ask(sheets.Release(CASE), NURSE, NIGHT, key="release") == Done(first.entries, again=True)
    assert world.desk.pages(CASE, 1) == pages
    assert len(world.messages()) == len(before[2])  # type: ignore[arg-type]


def test_a_repeat_is_the_first_answer_whatever_its_asker_has_seen() -> None:
    world = at_stage("planned")
    seen = {"case/K-103": world.store.head("case/K-103").seq}
    first = world.ask(RINGS, NURSE, key="one", expected=seen)
    assert isinstance(first, Done)
    assert world.ask(RINGS, NURSE, key="one", expected=seen) == Done(first.entries, again=True)


def test_a_repeat_queues_no_second_message() -> None:
    world = at_stage("released")
    late = slots.PlaceSlot(slot() | {"at": "2026-11-20 09:45"}, "late")
    for _ in range(3):
        world.ask(late, THEATRE, key="late")
    assert world.messages() == [("call-owed", CASE)]


@pytest.mark.parametrize(
    "other",
    [
        replace(RINGS, result="voice mail"),
        replace(RINGS, case="K-999"),
        LOOKS,
        sheets.Release(CASE),
        sheets.Release("K-999"),
    ],
    ids=["other words", "other case", "other act", "an act that is prepared", "one that is refused at once"],
)
def test_a_key_that_was_used_for_something_else_does_nothing(other: Any) -> None:
    world = at_stage("heard")
    first = world.ask(RINGS, NURSE, key="one")
    assert isinstance(first, Done)
    before = world.everything()
    assert world.ask(other, NURSE, key="one") == KeyTaken(first.entries)
    assert world.everything() == before


def test_what_was_refused_is_judged_anew_under_the_same_key() -> None:
    world = at_stage("opened")
    assert isinstance(world.ask(sheets.Release(CASE), NURSE, key="release"), Refused)
    assert isinstance(world.ask(LOOKS, NURSE, key="release"), Done)
    world = at_stage("checked")
    waived = sheets.Release(CASE, call_waived_why="shown on the ward")
    assert isinstance(world.ask(waived, SECOND, key="release"), Refused)
    assert isinstance(world.ask(waived, NURSE, key="release"), Done)


# Several desks


def test_two_desks_over_one_store_see_each_others_acts() -> None:
    world = at_stage("planned")
    other = desk_over(world.store)
    assert other.states().case(CASE) == world.case()
    world.do(CLOSER, PRESCRIBER)
    assert other.states().case(CASE).order == world.case().order
    answer = other.perform(RINGS, SECOND.at(LATER), "from the other")
    assert isinstance(answer, Done)
    assert [one.event.result for one in world.case().calls] == ["she answered"]
    assert world.ask(RINGS, SECOND, key="from the other") == Done(answer.entries, again=True)


def test_a_desk_checks_what_the_other_has_changed() -> None:
    world = at_stage("heard")
    other = desk_over(world.store)
    assert other.states().case(CASE).sheet is None
    world.do(sheets.Release(CASE), NURSE, RELEASED)
    answer = other.perform(sheets.Release(CASE), PRESCRIBER.at(LATER), "again")
    assert isinstance(answer, Refused)
    assert [finding.code for finding in answer.findings] == ["nothing-changed"]


# Others who are faster, while a sheet is being printed


def interrupted(monkeypatch: pytest.MonkeyPatch, world: World, act: Callable[[int], object]) -> list[int]:
    """Between what a release prepares and what it writes, somebody else acts through a desk of their own."""
    times: list[int] = []

    def printed(*_: object) -> dict[str, bytes]:
        times.append(len(times))
        act(times[-1])
        return {"sheet.txt": b"as printed"}

    monkeypatch.setattr("hourmark.desk.desk.printed", printed)
    return times


def test_a_sheet_printed_before_the_slot_moved_is_not_released(monkeypatch: pytest.MonkeyPatch) -> None:
    world = at_stage("heard")
    late = slots.PlaceSlot(slot() | {"at": "2026-11-20 09:45"}, "late")
    other = desk_over(world.store)
    times = interrupted(monkeypatch, world, lambda _: other.perform(late, THEATRE.at(LATER), "late"))
    answer = world.ask(sheets.Release(CASE), NURSE)
    assert isinstance(answer, Refused)
    assert [finding.code for finding in answer.findings] == ["release-unchecked", "release-untold"]
    assert times == [0]
    assert world.case().sheets == ()
    assert world.store.read("pages/K-103") == ()


def test_a_sheet_is_made_anew_where_somebody_else_only_rang(monkeypatch: pytest.MonkeyPatch) -> None:
    world = at_stage("heard")
    other = desk_over(world.store)

    def rings(time: int) -> None:
        if time == 0:
            other.perform(RINGS, SECOND.at(LATER), "rings")

    times = interrupted(monkeypatch, world, rings)
    answer = world.ask(sheets.Release(CASE), NURSE)
    assert isinstance(answer, Done)
    assert kinds(answer.entries) == ["case/K-103 sheet-issued", "pages/K-103 page"]
    assert times == [0, 1]
    assert list(verify(world.store)) == []


def test_others_who_never_stop_make_it_fail_without_a_trace(monkeypatch: pytest.MonkeyPatch) -> None:
    world = at_stage("heard")
    other = desk_over(world.store)
    times = interrupted(monkeypatch, world, lambda time: other.perform(RINGS, SECOND.at(LATER), f"rings-{time}"))
    with pytest.raises(NotStored) as failed:
        world.ask(sheets.Release(CASE), NURSE)
    assert failed.value.passing
    assert len(times) == TRIES
    assert world.case().sheets == ()
    assert len(world.case().calls) == TRIES


class Failing(MemoryStore):
    """A store that cannot write for the first times it is asked to."""

    def __init__(self, fails: int, passing: bool) -> None:
        super().__init__("invented")
        self.fails, self.passing, self.asked = fails, passing, 0

    @contextmanager
    def writing(self) -> Iterator[MemoryStore]:
        self.asked += 1
        if self.asked <= self.fails:
            raise NotStored("The store is busy.", passing=self.passing)
        with super().writing() as record:
            yield record


OPENS = opening.OpenCase(CASE, details())


@pytest.mark.parametrize("fails", range(TRIES))
def test_a_store_that_is_busy_is_asked_again(fails: int) -> None:
    store = Failing(fails, passing=True)
    assert isinstance(desk_over(store).perform(OPENS, NURSE.at(LATER), "one"), Done)
    assert store.asked == fails + 1


@pytest.mark.parametrize(("passing", "asked"), [(True, TRIES), (False, 1)])
def test_a_store_that_cannot_says_so_and_has_nothing_of_it(passing: bool, asked: int) -> None:
    store = Failing(99, passing)
    with pytest.raises(NotStored):
        desk_over(store).perform(OPENS, NURSE.at(LATER), "one")
    assert store.asked == asked
    assert list(store.read_all()) == []


def test_an_act_that_breaks_off_inside_leaves_no_part_of_it() -> None:
    """Salt is asked for entry by entry, so it can fail in the middle of an act."""
    world = at_stage("heard")
    grains = iter([bytes(16)])
    broken = Desk(world.store, lambda: next(grains))
    before = world.everything()
    with pytest.raises(StopIteration):
        broken.perform(slots.PlaceSlot(slot() | {"at": "2026-11-20 09:45"}, "late"), THEATRE.at(LATER), "late")
    assert world.everything() == before
    assert kinds(world.do(slots.PlaceSlot(slot() | {"at": "2026-11-20 09:45"}, "late"), THEATRE)) == [
        "day/2026-11-20 slot-placed",
        "case/K-103 slot-given",
    ]


# A damaged record


def with_entry(world: World, stream: str, seq: int, change: Callable[[Entry], Entry | None]) -> MemoryStore:
    """The same record with one entry changed, or left out."""
    store = MemoryStore(world.store.clinic)
    with store.writing() as record:
        for entry in world.entries:
            there = change(entry) if (entry.stream, entry.seq) == (stream, seq) else entry
            record.write([there] if there is not None else [], [])
    return store


DAMAGE: dict[str, Callable[[Entry], Entry | None]] = {
    "body": lambda entry: replace(entry, body=(entry.body or b"").replace(b"36 h", b"30 h")),
    "body gone": lambda entry: replace(entry, body=None, salt=None),
    "header": lambda entry: replace(entry, header=entry.header.replace(b"Aumont", b"Sorel")),
    "entry gone": lambda _: None,
}


@pytest.mark.parametrize("how", DAMAGE)
def test_nothing_is_done_on_a_case_whose_record_is_damaged(how: str) -> None:
    world = at_stage("heard")
    signed = next(entry for entry in world.entries if entry.read_header().kind == "order-signed")
    store = with_entry(world, signed.stream, signed.seq, DAMAGE[how])
    before = list(store.read_all())
    desk = desk_over(store)
    for command in (RINGS, CLOSER, sheets.Release(CASE), slots.FreeSlot(DAY, "s3", "cancelled")):
        with pytest.raises(Damaged) as damaged:
            desk.perform(command, PRESCRIBER.at(LATER), "one")
        assert all(finding.code.startswith("record-") for finding in damaged.value.findings)
        assert "case/K-103" in damaged.value.findings[0].where
    with pytest.raises(Damaged):
        desk.states().board(LATER)
    assert list(store.read_all()) == before
    assert not store.queued()


def test_a_damaged_case_does_not_keep_another_from_being_cared_for() -> None:
    world = at_stage("planned")
    world.do(opening.OpenCase("K-7", details()), NURSE)
    desk = desk_over(with_entry(world, "case/K-7", 1, DAMAGE["body gone"]))
    assert isinstance(desk.perform(RINGS, NURSE.at(LATER), "one"), Done)
    with pytest.raises(Damaged):
        desk.perform(replace(RINGS, case="K-7"), NURSE.at(LATER), "two")


# Clocks that were put back


def test_an_act_under_an_earlier_time_is_kept_in_its_place() -> None:
    world = at_stage("planned")
    world.do(CLOSER, PRESCRIBER, NIGHT)
    world.do(kits.CheckCarton(CASE, "hcg-10000-units", (NURSE.name, SECOND.name), "a", "b", "c"), NURSE, GIVEN)
    recorded = [entry.read_header() for entry in world.store.read("case/K-103")]
    assert [header.at for header in recorded[-2:]] == [NIGHT, GIVEN]
    assert world.case().orders[-1].event.version == 2
    assert world.case().cartons[-1].at == GIVEN
    assert list(verify(world.store)) == []


def test_a_case_can_be_released_on_a_clock_that_was_put_back() -> None:
    world = at_stage("planned")
    world.do(CLOSER, PRESCRIBER, LATER)
    world.do(check(world), SECOND, CHECKED)
    waived = sheets.Release(CASE, call_waived_why="shown on the ward")
    assert written(world.do(waived, NURSE, RELEASED), e.SheetIssued).checked_by == SECOND.name


def test_a_plan_of_a_moment_before_its_own_carton_check_is_stopped_and_not_guessed() -> None:
    world = at_stage("checked")
    assert set(world.codes(sheets.Release(CASE, call_waived_why="shown on the ward"), NURSE, ORDERED)) == {
        "signed-later"
    }


def test_a_report_is_judged_by_the_clock_under_which_it_was_entered() -> None:
    world = at_stage("released")
    report = night.Confirm(CASE, "agonist", "2026-11-18 21:04", "America/Chicago", "she", "clock", night.ALL, "nothing")
    assert written(world.do(report, NURSE, LATER), e.Confirmed).doubts == ("time-future",)


def recorded(*times: str) -> tuple[Recorded, ...]:
    return tuple(Recorded(place, at, "A. Kowal", e.SlotTaken("s3", "x")) for place, at in enumerate(times, 1))


@pytest.mark.parametrize(
    ("moment", "seqs"),
    [
        ("2026-11-18T17:59:59Z", []),
        ("2026-11-18T18:00:00Z", [1]),
        ("2026-11-18T18:30:00Z", [1, 2, 3]),
        ("2026-11-18T19:00:00Z", [1, 2, 3]),
        ("2026-11-18T20:59:59Z", [1, 2, 3]),
        ("2026-11-18T21:00:00Z", [1, 2, 3, 4]),
    ],
)
def test_as_of_a_moment_is_up_to_the_last_that_was_recorded_by_then(moment: str, seqs: list[int]) -> None:
    records = recorded("2026-11-18T18:00:00Z", "2026-11-18T19:00:00Z", "2026-11-18T18:30:00Z", "2026-11-18T21:00:00Z")
    assert [one.seq for one in until(records, moment)] == seqs


def test_as_of_before_everything_there_is_nothing() -> None:
    states = at_stage("released").desk.states("2020-01-01T00:00:00Z")
    assert not states.case(CASE).there
    assert states.roll() == ()
    assert states.rules().version == 0
    assert states.board(LATER) == []


def test_as_of_a_moment_leaves_what_is_now_as_it_is() -> None:
    world = at_stage("released")
    now = world.case()
    assert world.desk.states(GIVEN).case(CASE).order is None
    assert world.desk.states(ORDERED).case(CASE).order is not None
    assert world.case() == now


def test_a_state_is_what_its_events_say_and_no_more() -> None:
    world = at_stage("released")
    kept = [one for entry in world.store.read("case/K-103") if (one := from_entry(entry))]
    assert [one.seq for one in kept] == list(range(1, len(kept) + 1))
    assert [one.at for one in kept] == sorted(one.at for one in kept)
