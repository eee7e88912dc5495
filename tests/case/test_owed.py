"""What a case needs next: one step at a time, and until when she has to have been told."""

from dataclasses import replace

import pytest

from hourmark.case import kits, opening, orders, sheets, slots
from hourmark.case.day import RulesState
from hourmark.case.owed import Owed, Step, owed
from tests.case.world import (
    CASE,
    CHECKED,
    DAY,
    HEARD,
    LATER,
    NURSE,
    PRESCRIBER,
    RELEASED,
    SECOND,
    THEATRE,
    World,
    at_stage,
    check,
    clinic,
    kit,
    order,
    plan_case,
    read_back,
    release_case,
    slot,
    wrongly,
)

TELL_BY = "2026-11-19T00:00:00Z"
"""Three hours, as the lead signed, before 36 h before the slot."""


def next_of(world: World, case: str = CASE) -> Owed:
    return owed(world.case(case), world.desk.states().rules())


def test_each_step_is_owed_until_it_is_done() -> None:
    world = at_stage("opened")
    world.do(slots.GiveSlot(DAY, "s3", CASE, "as listed"), NURSE)
    assert next_of(world) == Owed(Step.ORDER, "an order", None)
    world.do(orders.SignOrder(CASE, order()), PRESCRIBER)
    assert next_of(world) == Owed(Step.KIT, "the kit, read off the boxes", None)
    world.do(kits.ReadKit(CASE, kit(), "seen"), NURSE)
    assert next_of(world) == Owed(Step.CHECK, "a second check", None)
    world.do(check(world), SECOND)
    assert next_of(world) == Owed(Step.CALL, "call her and have her read it back", TELL_BY)
    world.do(read_back(world), NURSE)
    assert next_of(world) == Owed(Step.RELEASE, "the release", TELL_BY)
    world.do(sheets.Release(CASE), NURSE)
    assert next_of(world) == Owed(Step.DONE, "released, version 1", TELL_BY)


def test_she_is_told_by_the_minute_that_her_sheet_says() -> None:
    world = at_stage("released")
    due = world.case().sheets[0].event.dues[0]
    assert next_of(world).tell_by == due.tell_by == TELL_BY


def test_a_check_that_differs_and_a_read_back_that_was_not_right_are_owed_anew() -> None:
    world = at_stage("planned")
    world.do(wrongly(check(world), 0, at="2026-11-19T04:00:00Z"), SECOND, CHECKED)
    assert (next_of(world).step, next_of(world).why) == (Step.CHECK, "a second check: the last one differs")
    world.do(check(world), SECOND, CHECKED)
    world.do(replace(read_back(world), check_word="other words"), NURSE, HEARD)
    assert (next_of(world).step, next_of(world).why) == (Step.CALL, "call her again: not all of it was right")
    world.do(read_back(world), NURSE, HEARD)
    assert next_of(world).step is Step.RELEASE


def test_after_a_change_the_case_is_checked_and_heard_again_and_told_why() -> None:
    world = at_stage("released")
    world.do(slots.PlaceSlot(slot() | {"at": "2026-11-20 09:45"}, "a long case before"), THEATRE, LATER)
    assert next_of(world) == Owed(Step.CHECK, "a second check", None)
    world.do(check(world), SECOND, LATER)
    assert (next_of(world).step, next_of(world).tell_by) == (Step.CALL, "2026-11-19T00:45:00Z")
    assert next_of(world).why == "call her again: slot s3 was moved: a long case before"
    world.do(read_back(world), NURSE, LATER)
    assert next_of(world).step is Step.RELEASE


def test_without_a_slot_or_a_lead_or_a_signed_rule_no_minute_can_be_counted() -> None:
    world = at_stage("checked", "K-110")
    assert next_of(world, "K-110") == Owed(Step.CALL, "call her and have her read it back", None)
    world.do(slots.GiveSlot(DAY, "s9", "K-110", "a slot after all"), NURSE)
    assert next_of(world, "K-110").tell_by is None
    world = at_stage("checked")
    assert next_of(world).tell_by == TELL_BY
    table = clinic()
    del table["rules"]["tell_by"]
    assert owed(world.case(), RulesState(1, table)).tell_by is None
    world.do(slots.FreeSlot(DAY, "s3", "cancelled"), THEATRE)
    assert next_of(world).tell_by is None


@pytest.mark.parametrize("case", [CASE, "K-104"])
def test_a_case_is_done_once_its_sheet_is_out(case: str) -> None:
    world = at_stage("opened", case)
    plan_case(world, case)
    release_case(world, case)
    assert next_of(world, case).step is Step.DONE


def test_a_withdrawn_order_is_owed_first_of_all() -> None:
    world = at_stage("released")
    world.do(opening.ChangeDetails(CASE, {"zone": "America/Chicago"}, "fewer words"), NURSE, RELEASED)
    world.do(orders.WithdrawOrder(CASE, 1, "not tonight"), PRESCRIBER, LATER)
    assert next_of(world) == Owed(Step.ORDER, "an order", None)
