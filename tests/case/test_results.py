"""The morning's results on the record: all of a list or nothing, two numbers for one sample both stand, and a mistake stays readable."""

from dataclasses import replace

import pytest

from hourmark.case import events as e
from hourmark.case.night import ALL, Confirm
from hourmark.case.opening import CloseCase
from hourmark.case.results import Drawn, EnterResults, InFact, WithdrawResult, read_results, result_lines
from hourmark.case.trouble import ReportTrouble
from hourmark.finding import Level
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


def only(*results: str) -> Drawn:
    """The sample of six with these results alone."""
    return replace(AT_SIX, results=results)


def test_two_numbers_for_one_sample_both_stand_until_one_is_withdrawn() -> None:
    world = given()
    world.do(EnterResults((only("LH 4.8 IU/L"),)), NURSE, MORNING)
    first = world.case().results[-1].seq
    world.do(EnterResults((AT_SIX,)), PRESCRIBER, MORNING)
    one, other = read_results(world.case())
    assert [text for read in (one, other) for text, _ in read.values] == ["LH 4.8 IU/L", "LH 48 IU/L", "hCG 27 IU/L"]
    assert [(one.code, one.level) for one in one.differs] == [("results-disagree", Level.ASK)]
    assert one.differs == other.differs
    assert one.differs[0].what == "LH 4.8 IU/L and LH 48 IU/L stand for one sample, drawn 2026-11-19 06:00."
    assert result_lines(world.case()) == (
        "LH 4.8 units/L at 9 h: lower than expected",
        "LH 4.8 IU/L and LH 48 IU/L stand for one sample, drawn 2026-11-19 06:00. Ask the laboratory.",
        "LH 48 units/L at 9 h: as expected",
        "hCG 27 units/L at 9 h: as expected",
    )
    world.do(WithdrawResult(CASE, first, "the laboratory corrected it"), NURSE, MORNING)
    assert result_lines(world.case()) == ("LH 48 units/L at 9 h: as expected", "hCG 27 units/L at 9 h: as expected")
    assert world.codes(WithdrawResult(CASE, 1, "x"), NURSE, MORNING) == ["nothing-changed"]


def test_what_comes_later_of_one_sample_is_read_with_what_was_there() -> None:
    """LH first, progesterone an hour later, of the same tube: both are read, and together."""
    world = given()
    world.do(EnterResults((only("LH 9 IU/L"),)), NURSE, MORNING)
    world.do(EnterResults((only("progesterone 1.1 ng/mL"),)), NURSE, MORNING)
    (read,) = read_results(world.case())
    assert [text for text, _ in read.values] == ["LH 9 IU/L", "progesterone 1.1 ng/mL"]
    assert read.sample.legs[0].says is Says.FAILED
    assert read.differs == ()


@pytest.mark.parametrize("again", ["LH 48 IU/L", "LH 48 mIU/mL", "LH 48.0 IU/L"])
def test_the_same_number_is_one_in_whatever_unit_and_however_it_came(again: str) -> None:
    world = given()
    world.do(EnterResults((only("LH 48 IU/L"),)), NURSE, MORNING)
    same = replace(only(again), how="the laboratory's list")
    assert world.codes(EnterResults((same,)), NURSE, MORNING) == ["nothing-changed"]
    world.do(EnterResults((replace(same, results=(again, "hCG 27 IU/L")),)), NURSE, MORNING)
    (read,) = read_results(world.case())
    assert [text for text, _ in read.values] == ["LH 48 IU/L", "hCG 27 IU/L"]


def test_a_list_may_hold_two_numbers_for_one_sample_and_two_that_are_the_same_are_one() -> None:
    world = given()
    entries = world.do(EnterResults((only("LH 48 IU/L"), only("LH 47 IU/L"), only("LH 48 mIU/mL"))), NURSE, MORNING)
    assert kinds(entries) == ["case/K-103 result-entered", "case/K-103 result-entered"]
    assert [one.differs[0].code for one in read_results(world.case())] == ["results-disagree", "results-disagree"]


def test_progesterone_from_before_is_hers_where_it_is_one_number() -> None:
    world = given()
    before = replace(AT_SIX, drawn="2026-11-18 09:00", results=("progesterone 0.9 ng/mL",))
    after = only("progesterone 2.4 ng/mL")
    world.do(EnterResults((before, after)), NURSE, MORNING)
    assert read_results(world.case())[-1].sample.readings[0].why.startswith("risen")
    world.do(EnterResults((replace(before, results=("progesterone 1.9 ng/mL",)),)), NURSE, MORNING)
    assert not read_results(world.case())[-1].sample.readings[0].why.startswith("risen")


def roll(world: World) -> tuple[str, ...]:
    return world.desk.states().roll()


def test_a_late_result_puts_a_closed_case_on_the_roll_until_it_was_read() -> None:
    world = given()
    world.do(CloseCase(CASE, "over"), NURSE, MORNING)
    assert roll(world) == ()
    entries = world.do(EnterResults((AT_SIX,)), NURSE, MORNING)
    assert kinds(entries) == ["case/K-103 result-entered", "roll case-listed"]
    assert (roll(world), len(world.case().late_results)) == ((CASE,), 1)
    world.do(CloseCase(CASE, "the late results were read"), NURSE, MORNING)
    assert (roll(world), world.case().late_results) == ((), ())
    assert world.codes(CloseCase(CASE, "once more"), NURSE, MORNING) == ["case-closed"]


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
    assert nothing.unread == ("hcg: nothing of it went in, as it was reported",)
    (other,) = read_results(world.case(), {"hcg": InFact(parse_dose("1 units") * 0, instead=True)})
    assert other.unread[0].endswith("another medicine was taken in its place: no level is read against that")
    assert [one.says for one in other.sample.legs] == [Says.EXPECTED]


def test_the_morning_list_reads_against_what_really_went_in() -> None:
    """300 units/L after 10,000 units of hCG at 9 h; against the 1,000 that were ordered it would be far too high."""
    world = given()
    world.do(EnterResults((only("hCG 300 IU/L"),)), NURSE, MORNING)
    assert result_lines(world.case()) == ("hCG 300 units/L at 9 h: higher than expected",)
    tenfold = {"hcg": InFact(parse_dose("10,000 units"), "intramuscular")}
    assert result_lines(world.case(), tenfold) == (
        "hCG 300 units/L at 9 h: as expected",
        "read against chorionic gonadotropin 10,000 units intramuscular, as it was reported; "
        "1,000 units subcutaneous was ordered",
    )
    unknown = "not read against hcg: what went in is not known: a report of trouble with it has to be read first"
    assert result_lines(world.case(), {"hcg": InFact(None)})[-1] == unknown


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


@pytest.mark.parametrize(("amount", "told_on"), [("0.3 mL", " (0.3 mL)"), ("Mrs. Q. says some leaked", "")])
def test_the_words_of_an_amount_go_out_on_no_list(amount: str, told_on: str) -> None:
    world = given()
    world.do(replace(GIVEN, injection="hcg", amount=amount), NURSE, NIGHT)
    world.do(EnterResults((AT_SIX,)), NURSE, MORNING)
    (read,) = read_results(world.case())
    assert read.unread == (f"hcg: how much went in is not known ({amount})",)
    assert f"not read against hcg: how much went in is not known{told_on}" in result_lines(world.case())
