"""The morning's results on the record: all of a list or nothing, two numbers for one sample both stand, and a mistake stays readable."""

from dataclasses import replace

import pytest

from hourmark.case import events as e
from hourmark.case.night import ALL, NONE, Confirm, NoteIncident
from hourmark.case.opening import CloseCase
from hourmark.case.results import Drawn, EnterResults, InFact, Read, WithdrawResult, read_results, result_lines
from hourmark.case.trouble import ReportTrouble
from hourmark.finding import Level
from hourmark.levels import Says, StripReading
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


# What nobody knows to have gone in


def alone(injection: str, *also: Confirm) -> World:
    """One of the two went in at 21:00; of the other only what `also` says is reported."""
    world = at_stage("released")
    world.do(replace(GIVEN, injection=injection), NURSE, NIGHT)
    for report in also:
        world.do(report, NURSE, NIGHT)
    return world


def read_of(world: World, *results: str) -> Read:
    world.do(EnterResults((only(*results),)), NURSE, MORNING)
    (found,) = read_results(world.case())
    return found


def says_of(found: Read, text: str) -> tuple[Says, str]:
    """What one result or strip of a sample says, and why."""
    readings = {entered: (one.says, one.why) for entered, one in found.values if one is not None}
    strips = {str(strip): (one.says, one.why) for strip, one in found.strips if isinstance(one, StripReading)}
    return (readings | strips)[text]


UNREPORTED = [
    ("hcg", "LH 2 IU/L", "it is not known whether or when the agonist went in"),
    ("hcg", "LH 48 IU/L", "it is not known whether or when the agonist went in"),
    ("hcg", "LH strip negative", "it is not known whether or when the agonist went in"),
    ("hcg", "LH strip positive", "it is not known whether or when the agonist went in"),
    ("agonist", "hCG 3 IU/L", "it is not known whether or when the hCG went in"),
    ("agonist", "pregnancy strip negative", "it is not known whether or when the hCG went in"),
    ("agonist", "pregnancy strip unclear", "it is not known whether or when the hCG went in"),
    ("agonist", "LH strip positive", "it is not known whether or when the hCG went in"),
    ("hcg", "progesterone 5 ng/mL", "it is not known whether or when the agonist went in"),
    ("agonist", "progesterone 5 ng/mL", "it is not known whether or when the hCG went in"),
]


@pytest.mark.parametrize(("given_one", "text", "why"), UNREPORTED)
def test_of_what_nobody_reported_it_is_never_said_that_none_went_in(given_one: str, text: str, why: str) -> None:
    found = read_of(alone(given_one), text)
    assert says_of(found, text)[0] is Says.CARE
    assert why in says_of(found, text)[1]
    assert "none went in" not in says_of(found, text)[1]
    asked = [one for one in found.findings if one.code == "injection-not-known"]
    assert [one.level for one in asked] == [Level.ASK]
    assert why in asked[0].what


@pytest.mark.parametrize(
    ("report", "why"),
    [
        pytest.param(replace(GIVEN, amount="some leaked"), "how much of the agonist went in", id="a part of it"),
        pytest.param(replace(GIVEN, amount="not known"), "how much of the agonist went in", id="an amount not known"),
        pytest.param(replace(GIVEN, reported="not known"), "whether or when the agonist went in", id="no time"),
        pytest.param(replace(GIVEN, reported="2026-11-18 23:00"), "whether or when the agonist went in", id="to ask"),
    ],
)
@pytest.mark.parametrize("text", ["LH 2 IU/L", "LH strip negative", "progesterone 5 ng/mL"])
def test_what_was_reported_and_cannot_be_read_is_not_known_either(report: Confirm, why: str, text: str) -> None:
    found = read_of(alone("hcg", report), text)
    assert says_of(found, text)[0] is Says.CARE
    assert f"it is not known {why}" in says_of(found, text)[1]
    assert [one.level for one in found.findings if one.code == "injection-not-known"] == [Level.ASK]


@pytest.mark.parametrize("text", ["LH 2 IU/L", "LH strip negative"])
def test_where_it_is_reported_that_none_of_it_went_in_that_is_said(text: str) -> None:
    nothing = replace(GIVEN, amount=NONE)
    found = read_of(alone("hcg", nothing), text)
    assert says_of(found, text)[0] is Says.SILENT
    assert "went in" in says_of(found, text)[1]
    assert found.findings == found.sample.findings
    assert not [one for one in found.findings if one.level is not Level.NOTE]
    assert found.unread == ("agonist: nothing of it went in, as it was reported",)


def test_none_of_it_against_another_report_that_it_went_in_is_not_known() -> None:
    found = read_of(alone("hcg", GIVEN, replace(GIVEN, amount=NONE)), "LH 2 IU/L")
    assert says_of(found, "LH 2 IU/L")[0] is Says.CARE
    assert found.unread == ("agonist: two reports of it differ, whether it went in is not known",)


def test_two_reports_that_differed_and_were_settled_are_read_by_the_last() -> None:
    world = alone("hcg", GIVEN, replace(GIVEN, amount=NONE))
    settled = NoteIncident(
        CASE, "agonist", "it was the hCG alone", PRESCRIBER.name, "nothing of the agonist", settled=True
    )
    world.do(settled, NURSE, NIGHT)
    assert says_of(read_of(world, "LH 2 IU/L"), "LH 2 IU/L")[0] is Says.SILENT


def test_what_a_report_of_trouble_left_open_is_not_known_and_what_it_settles_is() -> None:
    world = alone("hcg", GIVEN)
    world.do(EnterResults((only("LH 2 IU/L"),)), NURSE, MORNING)
    (left_open,) = read_results(world.case(), {"agonist": InFact(None)})
    assert says_of(left_open, "LH 2 IU/L") == (Says.CARE, "it is not known what of the agonist went in")
    (nothing,) = read_results(world.case(), {"agonist": InFact(parse_dose("1 mg") * 0)})
    assert says_of(nothing, "LH 2 IU/L") == (Says.SILENT, "LH answers for an agonist, and none went in.")


def test_where_nothing_can_be_read_at_all_it_is_asked_for_what_was_measured() -> None:
    """Nobody reported either of the two: the values stand unread, and somebody is asked."""
    world = at_stage("released")
    found = read_of(world, "LH 2 IU/L", "pregnancy strip negative")
    assert found.sample.readings == ()
    assert [one.what for one in found.findings] == [
        "LH 2 units/L: it is not known whether or when the agonist went in.",
        "pregnancy strip negative: it is not known whether or when the hCG went in.",
    ]
    assert "LH 2 IU/L, drawn 2026-11-19 06:00: not read" in result_lines(world.case())


def test_a_sample_from_before_anything_was_due_asks_nothing() -> None:
    """Her own progesterone of the morning before; both are due at 21:00, and the order's window opens at 20:00."""
    world = at_stage("released")
    before = replace(AT_SIX, drawn="2026-11-18 09:00", results=("progesterone 0.9 ng/mL",))
    world.do(EnterResults((before,)), NURSE, NIGHT)
    (found,) = read_results(world.case())
    assert found.findings == ()


@pytest.mark.parametrize(("kind", "instead"), [("other-drug", "yes"), ("other-drug", "no"), ("wrong-product", "")])
def test_another_trigger_that_was_taken_is_not_read_as_none(kind: str, instead: str) -> None:
    """In the place of the hCG, or beside it, she took an agonist: whatever LH shows, it is not said that none went in."""
    nothing = replace(GIVEN, amount=NONE)
    world = alone("hcg", nothing)
    told: tuple[tuple[str, str], ...] = (("symptoms", "no"), ("injection", "hcg"), ("drug", "triptorelin acetate"))
    told += (("instead", instead),) if instead else (("injected", "yes"), ("strength", "0.1 mg"))
    world.do(ReportTrouble(CASE, "hcg", kind, told), NURSE, MORNING)
    found = read_of(world, "hCG 27 IU/L", "LH 2 IU/L")
    asked = [one for one in found.findings if one.where == "LH"]
    assert [(one.code, one.level) for one in asked] == [("injection-not-known", Level.ASK)]
    assert asked[0].what == "LH 2 units/L: it is not known what of the agonist went in."


@pytest.mark.parametrize("instead", ["yes", "not known", None])
def test_another_medicine_of_no_known_name_leaves_open_what_went_in(instead: str | None) -> None:
    world = given()
    told: tuple[tuple[str, str], ...] = (("symptoms", "no"), ("injection", "agonist"), ("drug", "the white box"))
    told += (("instead", instead),) if instead else ()
    world.do(ReportTrouble(CASE, "agonist", "other-drug", told), NURSE, MORNING)
    found = read_of(world, "LH 2 IU/L")
    assert says_of(found, "LH 2 IU/L") == (Says.CARE, "it is not known what of the agonist went in")
    assert found.unread == ("agonist: what went in is not known: a report of trouble with it has to be read first",)


def test_what_was_taken_beside_it_takes_nothing_from_the_reading() -> None:
    world = given()
    told = (("symptoms", "no"), ("injection", "agonist"), ("drug", "aspirin"), ("instead", "no"))
    world.do(ReportTrouble(CASE, "agonist", "other-drug", told), NURSE, MORNING)
    assert says_of(read_of(world, "LH 48 IU/L"), "LH 48 IU/L")[0] is Says.EXPECTED


def test_an_agonist_that_was_taken_beside_it_stays_whatever_is_said_of_the_injection_since() -> None:
    world = alone("hcg", replace(GIVEN, amount=NONE))
    told = (("symptoms", "no"), ("injection", "hcg"), ("drug", "triptorelin acetate"), ("instead", "no"))
    world.do(ReportTrouble(CASE, "hcg", "other-drug", told), NURSE, MORNING)
    world.do(replace(GIVEN, injection="hcg"), NURSE, MORNING)
    assert says_of(read_of(world, "LH 2 IU/L"), "LH 2 IU/L")[0] is Says.CARE
