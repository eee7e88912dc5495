"""What a second reading of the acts found: each once went wrong."""

from dataclasses import replace

from hourmark.case import night, opening, owed, rules, sheets, slots
from tests.case.world import CASE, LATER, LEAD, NURSE, RELEASED, THEATRE, at_stage, read_back


def test_a_page_released_without_the_call_is_told_once_she_has_read_just_it_back() -> None:
    world = at_stage("checked")
    world.do(sheets.Release(CASE, call_waived_why="no answer"), NURSE, RELEASED)
    word = world.case().sheets[0].event.check_word
    assert world.desk.states().board(LATER)[0].state == "to tell"
    world.do(replace(read_back(world), check_word=word, old_alarm_deleted=None), NURSE, LATER)
    assert {row.state for row in world.desk.states().board(LATER)} == {"told"}


def test_hearing_a_released_page_again_leaves_her_told() -> None:
    world = at_stage("released")
    word = world.case().sheets[0].event.check_word
    world.do(replace(read_back(world), check_word=word, old_alarm_deleted=None), NURSE, LATER)
    assert {row.state for row in world.desk.states().board(LATER)} == {"told"}


def test_nothing_given_and_settled_is_never_given() -> None:
    world = at_stage("released")
    report = night.Confirm(
        CASE, "agonist", "?", "America/Chicago", "she", "saw it", "nothing: the vial fell", "all of it"
    )
    world.do(report, NURSE, LATER)
    world.do(
        night.NoteIncident(CASE, "agonist", "nothing of it", "Dr. L. Aumont", "settled", settled=True), NURSE, LATER
    )
    rows = {row.medicine.split(" ")[0]: row for row in world.desk.states().board("2026-11-19T04:00:00Z")}
    assert rows["leuprolide"].state == "settled"
    assert "given" not in rows["chorionic"].why


def test_after_a_page_was_voided_by_hand_a_call_is_owed() -> None:
    world = at_stage("released")
    world.do(sheets.VoidSheet(CASE, 1, "a letter was wrong"), NURSE, LATER)
    states = world.desk.states()
    assert owed.owed(states.case(CASE), states.rules()).step is owed.Step.CALL


def test_a_slot_placed_before_the_clinic_moved_is_placed_again_first() -> None:
    world = at_stage("opened", CASE)
    clinic = dict(world.desk.states().rules().clinic)
    world.do(slots.PlaceSlot({"id": "z9", "at": "2026-11-20 09:00"}, "list"), THEATRE, LATER)
    for case in world.desk.states().roll():
        world.do(opening.CloseCase(case, "moving"), NURSE, LATER)
    moved = {**clinic, "zone": "America/New_York"}
    world.do(rules.SignRules(moved), LEAD, LATER)
    world.do(opening.OpenCase("M-1", {"zone": "America/New_York"}), NURSE, LATER)
    assert world.codes(slots.GiveSlot("2026-11-20", "z9", "M-1", "list"), NURSE, LATER) == ["slot-zone"]
    world.do(slots.PlaceSlot({"id": "z9", "at": "2026-11-20 09:00"}, "list"), THEATRE, LATER)
    world.do(slots.GiveSlot("2026-11-20", "z9", "M-1", "list"), NURSE, LATER)
    given = world.desk.states().case("M-1").slot
    assert given is not None
    assert given.instant == "2026-11-20T14:00:00Z"
