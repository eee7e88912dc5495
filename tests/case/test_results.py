"""The morning's results on the record: all of a list or nothing, the last of one moment counts, and a mistake stays readable."""

from dataclasses import replace

import pytest

from hourmark.case import events as e
from hourmark.case.night import ALL, Confirm
from hourmark.case.results import Drawn, EnterResults, InFact, WithdrawResult, read_results, result_lines
from hourmark.case.trouble import ReportTrouble
from hourmark.levels import Says
from hourmark.quantity import parse_dose
from tests.case.world import (
    CASE,
    LEAD,
    MORNING,
    NIGHT,
    NURSE,
    PHARMACIST,
    PRESCRIBER,
    World,
    at_stage,
    kinds,
    open_case,
)

AT_SIX = Drawn(CASE, "2026-11-19 06:00", ("LH 48 IU/L", "hCG 27 IU/L"), "typed")
GIVEN = Confirm(CASE, "agonist", "2026-11-18 21:00", "America/Chicago", "she", "clock", ALL, "nothing")


def given() -> World:
    """Both medicines went in at 21:00; the sample at 06:00 is nine hours later."""
    world = at_stage("released")
    for injection in ("agonist", "hcg"):
        world.do(replace(GIVEN, injection=injection), NURSE, NIGHT)
    return world


def test_a_list_is_entered_whole_or_not_at_all() -> None:
    world = given()
    open_case(world, "K-104")
    other = replace(AT_SIX, case="K-104")
    assert world.codes(EnterResults((AT_SIX, replace(other, results=("LH 4,8 IU/L",)))), NURSE, MORNING) == [
        "result-unreadable"
    ]
    entries = world.do(EnterResults((AT_SIX, other)), NURSE, MORNING)
    assert kinds(entries) == ["case/K-103 result-entered", "case/K-104 result-entered"]
    assert len({entry.read_header().act for entry in entries}) == 1


def test_what_is_there_already_is_not_entered_again() -> None:
    world = given()
    world.do(EnterResults((AT_SIX,)), NURSE, MORNING)
    assert world.codes(EnterResults((AT_SIX,)), NURSE, MORNING) == ["nothing-changed"]
    later = replace(AT_SIX, drawn="2026-11-19 06:05")
    assert kinds(world.do(EnterResults((AT_SIX, later)), NURSE, MORNING)) == ["case/K-103 result-entered"]


def test_of_one_moment_the_last_entry_counts_and_a_mistake_is_withdrawn() -> None:
    world = given()
    world.do(EnterResults((replace(AT_SIX, results=("LH 4.8 IU/L",)),)), NURSE, MORNING)
    world.do(EnterResults((AT_SIX,)), PRESCRIBER, MORNING)
    assert result_lines(world.case()) == ("LH 48 units/L at 9 h: as expected", "hCG 27 units/L at 9 h: as expected")
    world.do(WithdrawResult(CASE, world.case().results[-1].seq, "another person"), NURSE, MORNING)
    assert result_lines(world.case())[0].startswith("LH 4.8 units/L at 9 h: lower than expected")
    assert world.codes(WithdrawResult(CASE, 1, "x"), NURSE, MORNING) == ["nothing-changed"]


def test_a_sample_is_past_and_an_hour_that_does_not_exist_is_none() -> None:
    world = given()
    assert world.codes(EnterResults((replace(AT_SIX, drawn="2026-11-19 09:00"),)), NURSE, MORNING) == ["result-time"]
    assert world.codes(EnterResults((replace(AT_SIX, drawn="2026-03-08 02:30"),)), NURSE, MORNING) == ["time-skipped"]
    assert world.codes(EnterResults((replace(AT_SIX, drawn="2026-11-01 01:30"),)), NURSE, MORNING) == ["time-repeated"]
    world.do(EnterResults((replace(AT_SIX, drawn="2026-11-01 01:30 second"),)), NURSE, MORNING)
    assert world.case().results[-1].event == e.ResultEntered(
        "2026-11-01 01:30 second", "2026-11-01T07:30:00Z", AT_SIX.results, "typed"
    )


def test_only_nurse_and_prescriber_enter_and_withdraw() -> None:
    world = given()
    for who in (PHARMACIST, LEAD):
        assert world.codes(EnterResults((AT_SIX,)), who, MORNING) == ["act-role"]
        assert world.codes(WithdrawResult(CASE, 1, "x"), who, MORNING) == ["act-role"]


def test_another_dose_that_is_known_takes_the_place_of_the_one_ordered() -> None:
    """27 units/L fit 1,000 units; after ten times as much they are far below half of what is expected."""
    world = given()
    world.do(EnterResults((AT_SIX,)), NURSE, MORNING)
    (as_ordered,) = read_results(world.case())
    (tenfold,) = read_results(world.case(), {"hcg": InFact(parse_dose("10,000 units"))})
    assert [one.says for one in as_ordered.sample.readings] == [Says.EXPECTED, Says.EXPECTED]
    assert tenfold.sample.readings[1].says is Says.LOW
    assert tenfold.says[0] is Says.LOW
    (by_muscle,) = read_results(world.case(), {"hcg": InFact(parse_dose("1,000 units"), "intramuscular")})
    assert str(by_muscle.sample.legs[1].leg) == "chorionic gonadotropin 1,000 units intramuscular"
    (nothing,) = read_results(world.case(), {"hcg": InFact(parse_dose("1 units") * 0)})
    assert nothing.unread == ("hcg: nothing of it went in",)


def test_a_report_with_an_open_doubt_is_not_read_before_it_was_asked_about() -> None:
    """She said at 21:10 that it went in at 23:00; the sample at 06:00 is after both."""
    world = at_stage("released")
    world.do(replace(GIVEN, reported="2026-11-18 23:00"), NURSE, NIGHT)
    world.do(EnterResults((AT_SIX,)), NURSE, MORNING)
    assert "time-future" in world.case().confirmations[-1].event.doubts
    (read,) = read_results(world.case())
    assert read.unread[0] == "agonist: its report has to be asked about first (time-future)"


def test_first_or_second_of_an_hour_that_happens_once_is_asked_again() -> None:
    world = given()
    assert world.codes(EnterResults((replace(AT_SIX, drawn="2026-11-19 06:00 second"),)), NURSE, MORNING) == [
        "which-needless"
    ]


def test_what_trouble_left_open_is_not_read() -> None:
    world = given()
    world.do(EnterResults((AT_SIX,)), NURSE, MORNING)
    (read,) = read_results(world.case(), {"hcg": InFact(None)})
    assert [str(one.leg) for one in read.sample.legs] == ["leuprolide acetate 4 mg subcutaneous"]
    assert read.unread == ("hcg: what went in is not known: a report of trouble with it has to be read first",)


@pytest.mark.parametrize("kind", ["missed", "one-of-two", "wrong-product", "wrong-route"])
def test_the_morning_list_reads_nothing_against_what_may_not_be_as_ordered(kind: str) -> None:
    world = given()
    world.do(EnterResults((AT_SIX,)), NURSE, MORNING)
    world.do(ReportTrouble(CASE, "hcg", kind, (("symptoms", "no"),)), NURSE, MORNING)
    unread = "not read against hcg: what went in is not known: a report of trouble with it has to be read first"
    assert unread in result_lines(world.case())
    assert result_lines(world.case())[0] == "LH 48 units/L at 9 h: as expected"
    world.do(replace(GIVEN, injection="hcg"), NURSE, MORNING)
    assert unread not in result_lines(world.case())
