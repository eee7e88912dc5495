"""What the nights came to, counted: every injection is in one heap, and none of the figures names anybody."""

from dataclasses import replace

from hourmark.case.figures import Figures, figures
from hourmark.case.night import Escalate, NoteIncident
from hourmark.case.sheets import Release, VoidSheet
from tests.case.test_night import AT_FOUR_PAST
from tests.case.world import (
    CASE,
    CHECKED,
    DUE,
    HEARD,
    LATER,
    MORNING,
    NIGHT,
    NURSE,
    ORDERED,
    PRESCRIBER,
    World,
    at_stage,
)

SINCE = "2026-11-18T00:00:00Z"
HCG_TOO = replace(AT_FOUR_PAST, injection="hcg")


def counted(world: World, until: str = MORNING) -> Figures:
    return figures([world.case()], SINCE, until)


def test_what_nobody_reported_is_unknown() -> None:
    found = counted(at_stage("released"))
    assert (found.injections, found.unknown, found.given) == (2, 2, 0)


def test_only_what_was_due_in_that_time_counts() -> None:
    assert counted(at_stage("released"), until=DUE) == Figures()
    assert figures([at_stage("released").case()], "2026-11-19T03:00:01Z", MORNING) == Figures()


def test_each_injection_is_in_one_heap() -> None:
    world = at_stage("released")
    world.do(AT_FOUR_PAST, NURSE, NIGHT)
    world.do(replace(HCG_TOO, amount="half of it"), NURSE, NIGHT)
    found = counted(world)
    assert (found.injections, found.given, found.asked) == (2, 1, 1)
    world = at_stage("released")
    world.do(replace(AT_FOUR_PAST, reported="2026-11-18 19:30"), NURSE, NIGHT)
    world.do(replace(HCG_TOO, reported="2026-11-18 22:30"), NURSE, "2026-11-19T05:00:00Z")
    found = counted(world)
    assert (found.early, found.late, found.given + found.asked + found.unknown) == (1, 1, 0)


def test_from_the_order_to_her_read_back_in_minutes() -> None:
    found = counted(at_stage("released"))
    # From 13:55 to 14:30 at the clinic, see the moments of the invented afternoon.
    assert (ORDERED[11:16], HEARD[11:16]) == ("19:55", "20:30")
    assert found.to_told == (35,)
    assert found.median_to_told == 35
    assert counted(at_stage("checked")).median_to_told is None


def test_the_middle_of_an_even_number_is_the_longer_of_the_two() -> None:
    assert Figures(to_told=(10, 20, 30, 40)).median_to_told == 30
    assert Figures(to_told=(10, 20, 30)).median_to_told == 20


def test_what_was_gone_past_stands_with_its_reason() -> None:
    world = at_stage("planned")
    world.do(Release(CASE, unchecked_why="nobody else is in", call_waived_why="she stands here"), PRESCRIBER, CHECKED)
    found = counted(world)
    assert found.unchecked == ((CASE, "nobody else is in"),)
    assert found.without_call == ((CASE, "she stands here"),)


def test_pages_that_did_not_stay_and_who_was_told_are_counted() -> None:
    world = at_stage("released")
    world.do(VoidSheet(CASE, 1, "a smudge"), NURSE, LATER)
    world.do(Escalate(CASE, "hcg", "the prescriber", "silence", "ring"), NURSE, NIGHT)
    world.do(NoteIncident(CASE, None, "x", "y", "z", True), NURSE, NIGHT)
    found = counted(world)
    assert (found.voided, found.told) == (1, 1)
