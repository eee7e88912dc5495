"""What went in by another page, and what is not due yet when the sample is drawn: neither is read as if none went in."""

from dataclasses import replace

import pytest

from hourmark.case import events as e
from hourmark.case.night import ALL, NONE, Confirm
from hourmark.case.results import Drawn, EnterResults, Read, read_results
from hourmark.case.state import CaseState
from hourmark.finding import Level
from hourmark.levels import Says
from tests.case.test_board import SECOND_ALONE, moved, re_released
from tests.case.world import CASE, MORNING, NIGHT, NURSE, PRESCRIBER, World, at_stage

GIVEN = Confirm(CASE, "agonist", "2026-11-18 21:00", "America/Chicago", "she", "clock", ALL, "nothing")
SAMPLE = Drawn(CASE, "2026-11-19 06:00", ("LH 48 IU/L",), "typed")


def lh_of(state: CaseState) -> tuple[Says, str]:
    (read,) = read_results(state)
    (lh,) = read.sample.readings
    return lh.says, lh.why


def asks(read: Read) -> list[str]:
    return [one.code for one in read.findings if one.level is not Level.NOTE]


def test_what_was_given_by_a_page_before_is_not_none() -> None:
    """The agonist went in by the first page; the second has the hCG alone."""
    world = at_stage("released")
    world.do(GIVEN, NURSE, NIGHT)
    world.do(SECOND_ALONE, PRESCRIBER, NIGHT)
    re_released(world)
    world.do(replace(GIVEN, injection="hcg"), NURSE, NIGHT)
    world.do(EnterResults((SAMPLE,)), NURSE, MORNING)
    assert lh_of(world.case()) == (Says.CARE, "it is not known what of the agonist went in")


def test_a_minute_that_passed_in_silence_on_a_page_before_is_not_none_either() -> None:
    world = at_stage("released")
    world.do(SECOND_ALONE, PRESCRIBER, NIGHT)
    re_released(world)
    world.do(replace(GIVEN, injection="hcg"), NURSE, NIGHT)
    world.do(EnterResults((SAMPLE,)), NURSE, MORNING)
    assert lh_of(world.case()) == (Says.CARE, "it is not known what of the agonist went in")


def test_a_page_before_of_which_it_is_reported_that_nothing_went_in_is_none() -> None:
    world = at_stage("released")
    world.do(replace(GIVEN, amount=NONE, sheet=1), NURSE, NIGHT)
    world.do(SECOND_ALONE, PRESCRIBER, NIGHT)
    re_released(world)
    world.do(replace(GIVEN, injection="hcg"), NURSE, NIGHT)
    world.do(EnterResults((SAMPLE,)), NURSE, MORNING)
    assert lh_of(world.case()) == (Says.SILENT, "LH answers for an agonist, and none went in.")


def test_silence_on_a_page_before_is_answered_by_what_is_reported_of_the_same_injection() -> None:
    """Her slot moved by an hour and a half, and she injected at half past ten: the sample at half past six is of 8 h."""
    world = at_stage("released")
    moved(world, NIGHT)
    for name in ("agonist", "hcg"):
        world.do(replace(GIVEN, injection=name, reported="2026-11-18 22:30"), NURSE, "2026-11-19T04:40:00Z")
    world.do(EnterResults((replace(SAMPLE, drawn="2026-11-19 06:30"),)), NURSE, "2026-11-19T12:40:00Z")
    assert lh_of(world.case())[0] is Says.EXPECTED


# What is not due yet


def with_a_repeat(world: World) -> CaseState:
    """The second injection is the agonist once more, 12 h after the first, at 09:00: between 08:30 and 09:30."""
    state = world.case()
    sheet = state.sheets[-1]
    first, second = sheet.event.dues
    agonist, other = (first, second) if first.injection == "agonist" else (second, first)
    repeat = replace(
        other, medicine=agonist.medicine, dose=agonist.dose, follows=e.Follows("agonist", 720, 690, 750), leads=None
    )
    return replace(
        state, sheets=(*state.sheets[:-1], replace(sheet, event=replace(sheet.event, dues=(agonist, repeat))))
    )


@pytest.mark.parametrize(
    ("drawn", "says", "asked"),
    [
        pytest.param("2026-11-19 08:00", Says.EXPECTED, [], id="before its window"),
        pytest.param("2026-11-19 08:45", Says.CARE, ["injection-not-known"], id="in its window"),
        pytest.param("2026-11-19 10:30", Says.CARE, ["injection-not-known"], id="after it"),
    ],
)
def test_a_repeat_that_is_still_to_come_takes_nothing_from_the_first(drawn: str, says: Says, asked: list[str]) -> None:
    world = at_stage("released")
    world.do(GIVEN, NURSE, NIGHT)
    world.do(EnterResults((replace(SAMPLE, drawn=drawn),)), NURSE, "2026-11-19T18:00:00Z")
    state = with_a_repeat(world)
    assert lh_of(state)[0] is says
    assert asks(read_results(state)[0]) == asked


def test_what_is_still_to_come_and_was_measured_is_not_said_to_be_none() -> None:
    """Fifteen minutes after the agonist, hCG is drawn before anybody has spoken of it, and before its window."""
    world = at_stage("released")
    world.do(replace(GIVEN, reported="2026-11-18 18:00"), NURSE, NIGHT)
    sample = replace(SAMPLE, drawn="2026-11-18 18:15", results=("hCG 3 IU/L",))
    world.do(EnterResults((sample,)), NURSE, MORNING)
    assert lh_of(world.case()) == (Says.CARE, "it is not known whether or when the hCG went in")
