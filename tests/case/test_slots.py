"""Slots: theatre places and moves them, each belongs to one case, and each case has one."""

import pytest

from hourmark.case import events as e
from hourmark.case import kits, opening, orders, rules, slots
from hourmark.case.asked import Refused
from hourmark.case.day import DayState
from hourmark.clock import parse_zone
from tests.case.world import (
    CASE,
    DAY,
    LATER,
    LEAD,
    NURSE,
    PRESCRIBER,
    SLOT,
    THEATRE,
    Stage,
    at_stage,
    clinic,
    details,
    empty,
    kinds,
    kit,
    order,
    slot,
    written,
)

LATE = slot() | {"at": "2026-11-20 09:45"}


def test_placing_a_slot_writes_what_its_clock_time_means() -> None:
    world = at_stage("opened")
    new: e.Table = {"id": "s10", "at": "2026-11-20 12:30", "room": "Room 2"}
    entries = world.do(slots.PlaceSlot(new, "one more"), THEATRE)
    assert kinds(entries) == ["day/2026-11-20 slot-placed"]
    # Chicago is six hours behind UTC in November (IANA time-zone database).
    assert written(entries, e.SlotPlaced) == e.SlotPlaced(new, "2026-11-20T18:30:00Z", "one more")


def test_a_slot_that_is_nobodys_moves_alone() -> None:
    world = at_stage("opened")
    assert kinds(world.do(slots.PlaceSlot(LATE, "moved"), THEATRE)) == ["day/2026-11-20 slot-placed"]
    assert world.desk.states().day(DAY).slots["s3"].slot == LATE


def test_a_moved_slot_takes_its_case_along() -> None:
    world = at_stage("planned")
    entries = world.do(slots.PlaceSlot(LATE, "a long case before"), THEATRE)
    assert kinds(entries) == ["day/2026-11-20 slot-placed", "case/K-103 slot-given"]
    assert world.case().slot == e.SlotGiven(LATE, "2026-11-20T15:45:00Z", "a long case before")
    assert world.planned().readings[0].at == "2026-11-19T03:45:00Z"


def test_a_moved_slot_voids_the_sheet_of_its_case_and_somebody_has_to_ring() -> None:
    world = at_stage("released")
    assert world.messages() == []
    entries = world.do(slots.PlaceSlot(LATE, "a long case before"), THEATRE)
    assert kinds(entries) == [
        "day/2026-11-20 slot-placed",
        "case/K-103 slot-given",
        "case/K-103 sheet-voided",
    ]
    voided = written(entries, e.SheetVoided)
    assert (voided.version, voided.changed) == (1, ("slot",))
    assert "a long case before" in voided.why
    (queued,) = world.store.queued()
    assert (queued.message.kind, queued.message.to) == ("call-owed", CASE)
    assert queued.message.text == f"Sheet 1 is void: {voided.why}."


def test_a_slot_placed_just_as_it_stands_is_no_change() -> None:
    assert at_stage("planned").codes(slots.PlaceSlot(slot(), "again"), THEATRE) == ["nothing-changed"]


def test_the_same_slot_id_on_another_day_is_another_slot() -> None:
    world = at_stage("planned")
    monday = slot() | {"at": "2026-11-23 09:00"}
    assert kinds(world.do(slots.PlaceSlot(monday, "Monday's list"), THEATRE)) == ["day/2026-11-23 slot-placed"]
    assert world.case().slot == e.SlotGiven(slot(), SLOT, "as listed")


# A whole list


NEW: e.Table = {"id": "s12", "at": "2026-11-20 13:15"}


def test_a_list_is_placed_in_one_act_and_what_stands_there_just_so_stays() -> None:
    world = at_stage("released")
    listed = slots.PlaceSlots((LATE, slot("s4"), NEW, NEW | {"at": "2026-11-23 08:00"}), "the list came anew")
    entries = world.do(listed, THEATRE)
    assert kinds(entries) == [
        "day/2026-11-20 slot-placed",
        "case/K-103 slot-given",
        "case/K-103 sheet-voided",
        "day/2026-11-20 slot-placed",
        "day/2026-11-23 slot-placed",
    ]
    assert len({entry.read_header().act for entry in entries}) == 1
    assert world.messages() == [("call-owed", CASE)]


def test_a_list_with_one_line_that_cannot_be_is_refused_whole_with_every_reason_at_its_place() -> None:
    world = at_stage("opened")
    skipped: e.Table = {"id": "s1", "at": "2027-03-14 02:30"}
    refused = world.refused(slots.PlaceSlots((NEW, skipped, NEW | {"id": "S3"}, NEW | {"id": "S12"}), "list"), THEATRE)
    assert [(one.code, one.where.partition(",")[0]) for one in refused.findings] == [
        ("file-id-repeated", "slots[4]"),
        ("time-skipped", "slots[2]"),
        ("slot-alike", "slots[3]"),
    ]


def test_a_list_that_cannot_be_read_is_refused_at_each_line() -> None:
    unread = at_stage("opened").refused(slots.PlaceSlots(({"id": "s 1", "at": "2026-11-20 09:00"}, {}), "x"), THEATRE)
    assert {one.where for one in unread.findings} == {"slots[1], id", "slots[2], id", "slots[2], at"}


def test_a_list_that_changes_nothing_is_no_change_and_one_before_the_rules_has_no_clock() -> None:
    world = at_stage("opened")
    assert world.codes(slots.PlaceSlots((slot(), slot("s4")), "again"), THEATRE) == ["nothing-changed"]
    assert world.codes(slots.PlaceSlots((), "again"), THEATRE) == ["nothing-changed"]
    assert empty().codes(slots.PlaceSlots((slot(),), "the list"), THEATRE) == ["rules-missing"]


def test_why_a_list_would_be_refused_is_told_without_writing_anything() -> None:
    world = at_stage("opened")
    before = world.everything()
    asked = THEATRE.at(LATER)
    assert world.desk.why_not(slots.PlaceSlots((NEW,), "list"), asked) == ()
    for command in (slots.PlaceSlots((NEW, NEW), "list"), slots.PlaceSlots(({},), "list")):
        assert world.desk.why_not(command, asked) == world.refused(command, THEATRE).findings
    assert world.everything() == before


# Clocks in the United States go forward on the second Sunday of March and back on the first of November
# (15 U.S.C. 260a, from memory; the instants are those of the IANA time-zone database).


def test_a_clock_time_that_is_skipped_is_no_slot() -> None:
    skipped: e.Table = {"id": "s1", "at": "2026-03-08 02:30"}
    assert at_stage("opened").codes(slots.PlaceSlot(skipped, "listed"), THEATRE) == ["time-skipped"]


def test_a_clock_time_that_happens_twice_is_a_slot_only_with_which() -> None:
    world = at_stage("opened")
    twice: e.Table = {"id": "s1", "at": "2026-11-01 01:30"}
    assert world.codes(slots.PlaceSlot(twice, "listed"), THEATRE) == ["time-repeated"]
    first = world.do(slots.PlaceSlot(twice | {"which": "first"}, "listed"), THEATRE)
    assert written(first, e.SlotPlaced).instant == "2026-11-01T06:30:00Z"
    second = world.do(slots.PlaceSlot(twice | {"which": "second"}, "the other"), THEATRE)
    assert written(second, e.SlotPlaced).instant == "2026-11-01T07:30:00Z"


@pytest.mark.parametrize(("which", "instant"), [("first", "2026-11-01T06:30:00Z"), ("second", "2026-11-01T07:30:00Z")])
def test_which_of_two_equal_clock_times_may_stand_behind_the_time(which: str, instant: str) -> None:
    world = at_stage("opened")
    new: e.Table = {"id": "s1", "at": f"2026-11-01 01:30 {which}"}
    entries = world.do(slots.PlaceSlot(new, "listed"), THEATRE)
    assert kinds(entries) == ["day/2026-11-01 slot-placed"]
    assert written(entries, e.SlotPlaced) == e.SlotPlaced(new, instant, "listed")
    world.do(slots.GiveSlot("2026-11-01", "s1", CASE, "as listed"), NURSE)
    world.do(orders.SignOrder(CASE, order() | {"signed_at": "2026-10-30 13:15"}), PRESCRIBER)
    world.do(kits.ReadKit(CASE, kit(), "seen"), NURSE)
    # The plan counts from the same moment as the record.
    planned_at = world.planned().case.slot_at
    assert planned_at is not None
    assert planned_at.utc == instant


def test_a_time_that_is_no_clock_time_is_none_with_first_behind_it_either() -> None:
    world = at_stage("opened")
    for at in ("2026-11-01 01:30 third", "2026-11-01 25:30 first", "first", "2026-11-01 01:30 First"):
        assert world.codes(slots.PlaceSlot({"id": "s1", "at": at}, "listed"), THEATRE) == ["file-value"]


@pytest.mark.parametrize("name", ["S3", "S9"])
def test_two_slots_of_a_day_never_differ_by_upper_and_lower_case_alone(name: str) -> None:
    world = at_stage("opened")
    alike: e.Table = {"id": name, "at": "2026-11-20 12:30"}
    refused = world.refused(slots.PlaceSlot(alike, "one more"), THEATRE)
    assert [finding.code for finding in refused.findings] == ["slot-alike"]
    assert f"slot {name.lower()} " in refused.findings[0].what
    # On another day it is another slot.
    elsewhere = world.do(slots.PlaceSlot(alike | {"at": "2026-11-23 12:30"}, "one more"), THEATRE)
    assert kinds(elsewhere) == ["day/2026-11-23 slot-placed"]


@pytest.mark.parametrize("stage", ["planned", "released"])
def test_moving_the_slot_of_a_closed_case_writes_nothing_to_that_case(stage: Stage) -> None:
    world = at_stage(stage)
    world.do(opening.CloseCase(CASE, "she withdrew"), NURSE)
    before = world.case()
    assert kinds(world.do(slots.PlaceSlot(LATE, "a long case before"), THEATRE)) == ["day/2026-11-20 slot-placed"]
    assert world.case() == before
    assert world.messages() == []


def test_before_any_rules_are_signed_there_is_no_clock_for_a_slot() -> None:
    world = empty()
    assert world.codes(slots.PlaceSlot(slot(), "the list"), THEATRE) == ["rules-missing"]
    world.do(rules.SignRules(clinic()), LEAD)
    assert kinds(world.do(slots.PlaceSlot(slot(), "the list"), THEATRE)) == ["day/2026-11-20 slot-placed"]


def test_a_slot_that_cannot_be_read_is_refused_with_every_reason() -> None:
    refused = at_stage("opened").refused(slots.PlaceSlot({"id": "s 1", "at": "nine", "floor": "2"}, "x"), THEATRE)
    assert {finding.where for finding in refused.findings} == {"id", "at", "floor"}


def test_the_act_itself_refuses_a_clock_time_that_it_cannot_read() -> None:
    command = slots.PlaceSlot({"id": "s1", "at": "half past nine"}, "x")
    answer = slots.place_slot(DayState(), None, command, THEATRE.at(LATER), parse_zone("America/Chicago"))
    assert isinstance(answer, Refused)
    assert [finding.code for finding in answer.findings] == ["slot-time"]


def test_giving_a_slot_writes_it_on_the_day_and_on_the_case() -> None:
    world = at_stage("opened")
    entries = world.do(slots.GiveSlot(DAY, "s3", CASE, "as listed"), NURSE)
    assert kinds(entries) == ["day/2026-11-20 slot-assigned", "case/K-103 slot-given"]
    assert written(entries, e.SlotAssigned) == e.SlotAssigned("s3", CASE)
    assert written(entries, e.SlotGiven) == e.SlotGiven(slot(), SLOT, "as listed")


def test_another_slot_of_the_same_day_frees_the_first_and_voids_the_sheet() -> None:
    world = at_stage("released")
    entries = world.do(slots.GiveSlot(DAY, "s4", CASE, "rooms swapped"), NURSE)
    assert kinds(entries) == [
        "day/2026-11-20 slot-assigned",
        "day/2026-11-20 slot-assigned",
        "case/K-103 slot-given",
        "case/K-103 sheet-voided",
    ]
    assert world.desk.states().day(DAY).cases == {"s4": CASE}
    assert world.codes(slots.GiveSlot(DAY, "s4", CASE, "again"), NURSE) == ["nothing-changed"]


def test_one_slot_is_for_one_case() -> None:
    world = at_stage("planned")
    world.do(opening.OpenCase("K-7", details()), NURSE)
    refused = world.refused(slots.GiveSlot(DAY, "s3", "K-7", "as listed"), NURSE)
    assert [finding.code for finding in refused.findings] == ["slot-taken"]
    assert CASE in refused.findings[0].what


def test_a_case_has_one_slot_on_one_day() -> None:
    world = at_stage("planned")
    world.do(slots.PlaceSlot({"id": "m1", "at": "2026-11-23 09:00"}, "Monday's list"), THEATRE)
    assert world.codes(slots.GiveSlot("2026-11-23", "m1", CASE, "postponed"), NURSE) == ["slot-elsewhere"]
    world.do(slots.FreeSlot(DAY, "s3", "postponed"), NURSE)
    world.do(slots.GiveSlot("2026-11-23", "m1", CASE, "postponed"), NURSE)
    assert world.case().slot == e.SlotGiven({"id": "m1", "at": "2026-11-23 09:00"}, "2026-11-23T15:00:00Z", "postponed")


@pytest.mark.parametrize(("day", "name"), [(DAY, "s99"), ("2026-11-21", "s3")])
def test_only_a_slot_that_was_placed_is_given_or_freed(day: str, name: str) -> None:
    world = at_stage("planned")
    assert world.codes(slots.GiveSlot(day, name, CASE, "x"), NURSE) == ["slot-unknown"]
    assert world.codes(slots.FreeSlot(day, name, "x"), NURSE) == ["slot-unknown"]


def test_freeing_a_slot_leaves_its_case_without_one_and_its_sheet_void() -> None:
    world = at_stage("released")
    entries = world.do(slots.FreeSlot(DAY, "s3", "cancelled"), THEATRE)
    assert kinds(entries) == [
        "day/2026-11-20 slot-assigned",
        "case/K-103 slot-taken",
        "case/K-103 sheet-voided",
    ]
    assert written(entries, e.SlotAssigned) == e.SlotAssigned("s3", None)
    assert written(entries, e.SlotTaken) == e.SlotTaken("s3", "cancelled")
    assert world.case().slot is None
    assert world.case().sheet is None


def test_a_slot_that_is_nobodys_cannot_be_freed() -> None:
    world = at_stage("planned")
    assert world.codes(slots.FreeSlot(DAY, "s4", "x"), THEATRE) == ["nothing-changed"]
