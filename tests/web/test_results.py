"""The morning's results on their pages: typed or as a list, read against what went in, what presses first, and never called failed.

The levels and hours are those of the published limits: LH under 15 at 8 to 14 h after an agonist is judged, at 14 to 18 h read with care
(Shapiro et al. and Kummer et al. as the levels room cites them); hCG under 10 units/L at 12 h after a full dose shows no effective dose.
"""

from dataclasses import replace
from typing import Any

import pytest
from django.test import Client

from hourmark.case import events as e
from hourmark.case.morning import FIRST_NEEDLE, morning_words
from hourmark.case.night import Confirm
from hourmark.case.opening import CloseCase
from hourmark.case.results import Drawn, EnterResults, InFact, WithdrawResult, read_results, result_lines
from hourmark.case.trouble import ReportTrouble
from hourmark.clock import parse_zone
from hourmark.desk import Desk
from hourmark.desk.states import morning_of
from hourmark.desk.trouble import in_fact_of
from hourmark.web import work
from hourmark.web.lists import read_list
from tests.web.manners import (
    Act,
    SignIn,
    by,
    do,
    does_it,
    heads,
    hides_from_strangers,
    is_done_once,
    is_not_for,
    knows_only,
    marks,
    refuses,
    refuses_a_used_key,
    sends_to_sign_in,
    written,
)
from tests.web.seen import look, read, text_of
from tests.web.test_tonight import damage

CASE = "/cases/K-103/results/"
EVENING = "2026-11-19T03:10:00Z"
AFTERNOON = "2026-11-19T21:00:00Z"
"""15:00 at the clinic, on the day before the retrievals."""

TYPED = {
    "clock": "08:00",
    "day": "2026-11-19",
    "LH.value": "48",
    "LH.unit": "IU/L",
    "hCG.value": "27",
    "hCG.unit": "mIU/mL",
    "progesterone.value": "5",
    "progesterone.unit": "ng/mL",
}
SAMPLE = Act("kowal", CASE, TYPED, ("case/K-103 result-entered",), leads_to=CASE, other={"LH.value": "47"})


@pytest.fixture(autouse=True)
def after_the_night(site: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """Both of K-103 went in at 21:00, that of K-101 at 20:00; nobody knows of anybody else's."""
    for case, injection, clock in (("K-103", "agonist", "21:00"), ("K-103", "hcg", "21:00"), ("K-101", "hcg", "20:00")):
        do(site, given(case, injection, clock), "kowal", EVENING)
    monkeypatch.setattr(work, "instant", lambda: AFTERNOON)


def given(case: str, injection: str, clock: str, amount: str = "all") -> Confirm:
    zone = "America/Chicago"
    return Confirm(case, injection, f"2026-11-18 {clock}", zone, "she herself", "her clock", amount, "nothing")


def enter(site: Desk, *results: str, case: str = "K-103", at: str = "08:00") -> int:
    do(site, EnterResults((Drawn(case, f"2026-11-19 {at}", results, "typed"),)), "kowal", AFTERNOON)
    return int(site.states().case(case).results[-1].seq)


# Read against what went in


def test_two_medicines_are_judged_each_alone(sign_in: SignIn, site: Desk) -> None:
    """Eleven hours after both: LH 48 answers for the agonist, hCG 27 for the 1,000 units, progesterone 5 for the ovary."""
    client = does_it(sign_in, site, SAMPLE)
    page = look(client, CASE).main()
    assert "LH 48 units/L at 11 h: as expected" in page
    assert "hCG 27 units/L at 11 h: as expected" in page
    assert "progesterone 5 ng/mL at 11 h: supports that it worked" in page
    assert "leuprolide acetate 4 mg subcutaneous: as expected" in page
    assert "chorionic gonadotropin 1,000 units subcutaneous: as expected" in page
    kept = site.states().case("K-103").results[-1].event
    assert kept == e.ResultEntered(
        "2026-11-19 08:00",
        "2026-11-19T14:00:00Z",
        ("LH 48 IU/L", "hCG 27 mIU/mL", "progesterone 5 ng/mL"),
        "typed off the report",
    )


def test_a_low_lh_at_seventeen_hours_is_read_with_care_and_never_failed(sign_in: SignIn, site: Desk) -> None:
    enter(site, "LH 12 IU/L", at="14:00")
    client = sign_in("kowal")
    for page in (look(client, CASE), look(client, "/results/")):
        assert "LH 12 units/L at 17 h: read with care" in page.main()
        assert "level-with-care" in page.main()
        assert "fail" not in page.main().lower()
    assert result_lines(site.states().case("K-103"))[0] == "LH 12 units/L at 17 h: read with care"


@pytest.mark.parametrize(
    ("case", "results", "says"),
    [
        ("K-103", ("LH 9 IU/L", "progesterone 1.1 ng/mL"), "the pattern of too small a surge"),
        ("K-103", ("LH 9 IU/L",), "lower than expected"),
        ("K-101", ("hCG 4 IU/L",), "no effective dose is seen"),
    ],
)
def test_no_page_says_that_it_failed_or_was_missed(
    sign_in: SignIn, site: Desk, case: str, results: tuple[str, ...], says: str
) -> None:
    enter(site, *results, case=case)
    words = look(sign_in("kowal"), "/results/").main().lower()
    assert says in words
    assert "failed" not in words.replace("lh-failed-pattern", "")
    assert "missed" not in words.replace("no proof of a missed injection", "")
    assert "call dr. l. aumont" in words


def test_what_presses_stands_first(sign_in: SignIn, site: Desk) -> None:
    enter(site, "LH 48 IU/L", "hCG 27 IU/L")
    enter(site, "hCG 4 IU/L", case="K-101", at="07:00")
    headings = look(sign_in("kowal"), "/results/").texts("h2")
    assert [one.partition(",")[0] for one in headings[:2]] == ["K-101", "K-103"]
    page = look(sign_in("kowal"), "/results/")
    assert page.by_id("of-K-101").within[-1].has_class("presses")
    assert not page.by_id("of-K-103").within[-1].has_class("presses")


def test_a_sample_that_came_too_early_is_drawn_again_and_nobody_is_called(sign_in: SignIn, site: Desk) -> None:
    """An hour and a half after 21:00; the published limits begin at 2 h."""
    do(site, EnterResults((Drawn("K-103", "2026-11-18 22:30", ("LH 4 IU/L",), "typed"),)), "kowal", AFTERNOON)
    page = look(sign_in("kowal"), "/results/")
    assert "LH 4 units/L at 1 h 30 min: too early to judge" in page.main()
    assert "Draw another sample from 8 h on" in page.main()
    assert "Call Dr." not in page.main()
    assert not page.by_id("of-K-103").within[-1].has_class("presses")


def test_whoever_is_to_be_rung_is_named_with_her_number(sign_in: SignIn, site: Desk) -> None:
    enter(site, "LH 9 IU/L")
    page = look(sign_in("kowal"), "/results/")
    assert "Call Dr. L. Aumont" in page.main()
    assert "tel:+15550177" in page.links()


def test_the_hours_follow_what_was_reported_last(sign_in: SignIn, site: Desk) -> None:
    enter(site, "LH 48 IU/L")
    do(site, given("K-103", "agonist", "22:00"), "kowal", AFTERNOON)
    assert "LH 48 units/L at 10 h" in look(sign_in("kowal"), CASE).main()


def test_without_a_time_nothing_is_read(sign_in: SignIn, site: Desk) -> None:
    enter(site, "LH 48 IU/L", case="K-102")
    page = look(sign_in("kowal"), "/cases/K-102/results/").main()
    assert "agonist: the time at which it went in is not known" in page
    assert "LH 48 IU/L: not read" in page


def test_part_of_it_is_not_read_as_all_of_it(sign_in: SignIn, site: Desk) -> None:
    do(site, given("K-101", "hcg", "20:00", "some of it leaked"), "kowal", AFTERNOON)
    enter(site, "hCG 90 IU/L", case="K-101", at="07:00")
    page = look(sign_in("kowal"), "/cases/K-101/results/").main()
    assert "how much went in is not known (some of it leaked)" in page
    assert "hCG 90 IU/L: not read" in page


def test_what_trouble_was_worked_out_to_be_is_what_it_is_read_against(sign_in: SignIn, site: Desk) -> None:
    """0.3 mL of 10,000 units in 2 mL are 1,500 units: the level is read against them, not against the 1,000 ordered."""
    said = (("symptoms", "no"), ("injection", "hcg"), ("at", "2026-11-18 21:00"), ("drawn", "0.3 mL"))
    do(
        site,
        ReportTrouble("K-103", "hcg", "wrong-mark", said, given("K-103", "hcg", "21:00", "0.3 mL")),
        "kowal",
        EVENING,
    )
    enter(site, "hCG 33 IU/L")
    page = look(sign_in("kowal"), CASE).main()
    against = (
        "chorionic gonadotropin 1,500 units subcutaneous, as it was reported; 1,000 units subcutaneous was ordered"
    )
    assert "chorionic gonadotropin 1,500 units subcutaneous: as expected" in page
    assert f"Read against {against}" in page
    assert "not read against hcg: how much went in is not known (0.3 mL)" in result_lines(site.states().case("K-103"))
    (line,) = [one for one in morning_of(site.states(), "2026-11-20", AFTERNOON) if one.case == "K-103"]
    assert line.results[0] == "hCG 33 units/L at 11 h: as expected"
    assert f"read against {against}" in line.results


def test_the_morning_reads_by_the_route_and_the_hour_that_were_reported(site: Desk) -> None:
    """By muscle at 22:00: ten hours before the sample, and read by that route."""
    said = (
        *(("symptoms", "no"), ("injection", "hcg"), ("at", "2026-11-18 22:00")),
        *(("route", "intramuscular"), ("all", "yes")),
    )
    do(site, ReportTrouble("K-103", "hcg", "wrong-route", said, given("K-103", "hcg", "22:00")), "kowal", AFTERNOON)
    enter(site, "hCG 27 IU/L")
    (line,) = [one for one in morning_of(site.states(), "2026-11-20", AFTERNOON) if one.case == "K-103"]
    assert line.results[0].startswith("hCG 27 units/L at 10 h: ")
    assert any("1,000 units intramuscular, as it was reported" in one for one in line.results)


def test_a_route_that_she_cannot_say_is_not_the_ordered_one(sign_in: SignIn, site: Desk) -> None:
    said = (
        *(("symptoms", "no"), ("injection", "hcg"), ("at", "2026-11-18 21:00")),
        *(("route", "not known"), ("all", "yes")),
    )
    do(site, ReportTrouble("K-103", "hcg", "wrong-route", said, given("K-103", "hcg", "21:00")), "kowal", EVENING)
    enter(site, "hCG 27 IU/L")
    unread = "hcg: what went in is not known: a report of trouble with it has to be read first"
    assert f"Not read against {unread}" in look(sign_in("kowal"), CASE).main()
    (line,) = [one for one in morning_of(site.states(), "2026-11-20", AFTERNOON) if one.case == "K-103"]
    assert f"not read against {unread}" in line.results


def test_another_trouble_with_it_leaves_the_route_that_was_reported_before(site: Desk) -> None:
    """By muscle first, then that 0.3 mL were drawn: 1,500 units by muscle, until it is said to have gone in as on her page."""
    by_muscle = (
        *(("symptoms", "no"), ("injection", "hcg"), ("at", "2026-11-18 21:00")),
        *(("route", "intramuscular"), ("all", "yes")),
    )
    do(site, ReportTrouble("K-103", "hcg", "wrong-route", by_muscle, given("K-103", "hcg", "21:00")), "kowal", EVENING)
    said = (("symptoms", "no"), ("injection", "hcg"), ("at", "2026-11-18 21:00"), ("drawn", "0.3 mL"))
    report = given("K-103", "hcg", "21:00", "0.3 mL")
    do(site, ReportTrouble("K-103", "hcg", "wrong-mark", said, report), "kowal", AFTERNOON)
    enter(site, "hCG 33 IU/L")

    def lines() -> str:
        (line,) = [one for one in morning_of(site.states(), "2026-11-20", AFTERNOON) if one.case == "K-103"]
        return "\n".join(line.results)

    assert "read against chorionic gonadotropin 1,500 units intramuscular, as it was reported" in lines()
    do(site, given("K-103", "hcg", "21:00"), "kowal", AFTERNOON)
    assert "intramuscular" not in lines()
    assert "hCG 33 units/L at 11 h" in lines()


def test_what_was_taken_instead_is_not_read_as_the_ordered_medicine(sign_in: SignIn, site: Desk) -> None:
    told = (
        *(("symptoms", "no"), ("injection", "hcg"), ("at", "2026-11-18 21:00")),
        *(("drug", "leuprolide acetate"), ("strength", "5 mg/mL"), ("drawn", "0.8 mL")),
    )
    report = given("K-103", "hcg", "21:00", "none of it")
    do(site, ReportTrouble("K-103", "hcg", "wrong-product", told, report), "kowal", EVENING)
    enter(site, "hCG 27 IU/L")
    unread = (
        "hcg: nothing of it went in, as it was reported, and another medicine was taken in its place: "
        "no level is read against that"
    )
    assert f"Not read against {unread}" in look(sign_in("kowal"), CASE).main()
    (line,) = [one for one in morning_of(site.states(), "2026-11-20", AFTERNOON) if one.case == "K-103"]
    assert f"not read against {unread}" in line.results


def test_another_vial_of_the_ordered_medicine_is_read_by_what_it_held(sign_in: SignIn, site: Desk) -> None:
    """0.3 mL of 5,000 units in 1 mL are 1,500 units."""
    told = (
        *(("symptoms", "no"), ("injection", "hcg"), ("at", "2026-11-18 21:00"), ("drug", "chorionic gonadotropin")),
        *(("strength", "5,000 units"), ("water", "1 mL"), ("drawn", "0.3 mL")),
    )
    report = given("K-103", "hcg", "21:00", "strength 5,000 units")
    do(site, ReportTrouble("K-103", "hcg", "wrong-product", told, report), "kowal", EVENING)
    enter(site, "hCG 33 IU/L")
    assert "chorionic gonadotropin 1,500 units subcutaneous: as expected" in look(sign_in("kowal"), CASE).main()


@pytest.mark.parametrize(
    ("kind", "since", "read_as"),
    [
        ("missed", "all", "chorionic gonadotropin 1,000 units subcutaneous: as expected"),
        ("wrong-mark", "all", "chorionic gonadotropin 1,000 units subcutaneous: as expected"),
        ("wrong-mark", "half leaked", "how much went in is not known (half leaked)"),
    ],
)
def test_what_was_said_of_it_later_counts_and_not_the_trouble_before(
    sign_in: SignIn, site: Desk, kind: str, since: str, read_as: str
) -> None:
    said = (("symptoms", "no"), ("injection", "hcg"), ("at", "2026-11-18 21:00"), ("drawn", "0.3 mL"))
    do(site, ReportTrouble("K-103", "hcg", kind, said if kind == "wrong-mark" else said[:2]), "kowal", EVENING)
    do(site, given("K-103", "hcg", "21:00", since), "kowal", AFTERNOON)
    enter(site, "hCG 27 IU/L")
    assert read_as in look(sign_in("kowal"), CASE).main()


def test_another_route_that_was_reported_is_the_route_it_is_read_by(sign_in: SignIn, site: Desk) -> None:
    said = (
        *(("symptoms", "no"), ("injection", "hcg"), ("at", "2026-11-18 21:00")),
        *(("route", "intramuscular"), ("all", "yes")),
    )
    do(site, ReportTrouble("K-103", "hcg", "wrong-route", said, given("K-103", "hcg", "21:00")), "kowal", EVENING)
    enter(site, "hCG 27 IU/L")
    assert "chorionic gonadotropin 1,000 units intramuscular: as expected" in look(sign_in("kowal"), CASE).main()


def test_another_product_is_not_read_as_the_one_ordered(sign_in: SignIn, site: Desk) -> None:
    """It is said that all of another vial of the same strength went in: of what it was the strength says nothing."""
    told = (("symptoms", "no"), ("injection", "hcg"), ("at", "2026-11-18 21:00"), ("strength", "10,000 units"))
    do(site, ReportTrouble("K-103", "hcg", "wrong-product", told), "kowal", EVENING)
    enter(site, "hCG 27 IU/L")
    page = look(sign_in("kowal"), CASE).main()
    assert "a report of trouble with it has to be read first" in page
    assert "chorionic gonadotropin 1,000 units" not in page


def test_what_is_said_to_be_missed_and_is_on_the_record_is_not_read(sign_in: SignIn, site: Desk) -> None:
    do(site, ReportTrouble("K-103", "hcg", "missed", (("symptoms", "no"), ("injection", "hcg"))), "kowal", EVENING)
    enter(site, "hCG 27 IU/L")
    assert "a report of trouble with it has to be read first" in look(sign_in("kowal"), CASE).main()


def test_a_later_report_of_the_other_injection_leaves_the_route_of_this_one(sign_in: SignIn, site: Desk) -> None:
    said = (("symptoms", "no"), ("injection", "hcg"), ("at", "2026-11-18 21:00"), ("all", "yes"))
    by_muscle = (*said, ("route", "intramuscular"))
    do(site, ReportTrouble("K-103", "hcg", "wrong-route", by_muscle, given("K-103", "hcg", "21:00")), "kowal", EVENING)
    other = tuple((key, "agonist" if key == "injection" else words) for key, words in said)
    do(site, ReportTrouble("K-103", "agonist", "late", other, given("K-103", "agonist", "21:00")), "kowal", EVENING)
    enter(site, "hCG 27 IU/L")
    assert "chorionic gonadotropin 1,000 units intramuscular: as expected" in look(sign_in("kowal"), CASE).main()


def test_progesterone_from_before_is_her_own_value(site: Desk) -> None:
    do(
        site,
        EnterResults(
            (
                Drawn("K-101", "2026-11-18 09:00", ("progesterone 0.9 ng/mL",), "typed"),
                Drawn("K-101", "2026-11-19 07:00", ("progesterone 2.4 ng/mL",), "typed"),
            )
        ),
        "kowal",
        AFTERNOON,
    )
    before, after = read_results(site.states().case("K-101"))
    assert [one.code for one in before.sample.findings] == ["sample-before-injection"]
    assert "her own value before the trigger" in after.sample.readings[0].why


def test_a_sample_before_the_injection_is_asked_again(sign_in: SignIn, site: Desk) -> None:
    do(site, EnterResults((Drawn("K-103", "2026-11-18 20:00", ("LH 48 IU/L",), "typed"),)), "kowal", AFTERNOON)
    page = look(sign_in("kowal"), CASE).main()
    assert "sample-before-injection" in page
    assert "LH 48 IU/L: not read" in page


# Typed


@pytest.mark.parametrize(
    ("name", "value", "says"),
    [
        ("LH.value", "forty", "is not a number as laboratories print it"),
        ("LH.unit", "U/L", "is not a unit of LH known here"),
        ("LH.unit", "", "has no unit"),
        ("hCG.unit", "ng/mL", "is not a unit of hCG known here"),
        ("progesterone.unit", "ng/dL", "is not a unit of progesterone known here"),
        ("LH.value", "999,999", "is not a result that an assay gives"),
        ("clock", "eight", "is not a date and clock time"),
        ("clock", "23:10", "has not come yet"),
        ("clock", "", "is not a date and clock time"),
    ],
)
def test_what_cannot_be_read_stands_beside_its_field_and_nothing_is_recorded(
    sign_in: SignIn, site: Desk, name: str, value: str, says: str
) -> None:
    page = refuses(sign_in, site, replace(SAMPLE, typed={**TYPED, name: value}))
    assert says in page.summary()
    field = name if name == "clock" else f"{name.partition('.')[0]}.value"
    assert field in page.marked()
    assert {key: page.shown(key) for key in TYPED} == {**TYPED, name: value}


def test_codes_of_what_is_refused(site: Desk) -> None:
    def refused(*samples: Drawn) -> list[str]:
        return [one.code for one in site.why_not(EnterResults(samples), by("kowal", AFTERNOON))]

    good = Drawn("K-103", "2026-11-19 08:00", ("LH 48 IU/L",), "typed")
    assert refused(good) == []
    assert refused(replace(good, results=("LH 48",))) == ["result-unreadable"]
    assert refused(replace(good, drawn="2026-11-19 16:00")) == ["result-time"]
    assert refused(replace(good, drawn="soon")) == ["result-time"]
    assert refused(replace(good, results=("LH 48 IU/L", "LH 47 IU/L"))) == ["result-twice"]
    assert refused(good, replace(good, results=("LH 47 IU/L",))) == []
    assert refused(replace(good, results=("hCG 9,999,999 IU/L",))) == ["result-no-assay"]
    assert refused(replace(good, results=())) == ["field-blank"]
    assert refused(replace(good, case="K-999")) == ["case-unknown"]
    assert refused(replace(good, drawn="soon", results=("LH x", "hCG 1 U/L"))) == [
        "result-time",
        "result-unreadable",
        "result-unreadable",
    ]
    outsider = [one.code for one in site.why_not(EnterResults((good,)), by("devi", AFTERNOON))]
    assert outsider == ["act-role"]
    withdrawn = [one.code for one in site.why_not(WithdrawResult("K-103", 1, "x"), by("devi", AFTERNOON))]
    assert withdrawn == ["act-role"]


def test_nothing_typed_is_said(sign_in: SignIn, site: Desk) -> None:
    nothing = dict.fromkeys(TYPED, "") | {"clock": "08:00", "day": "2026-11-19"}
    assert "There is no result" in refuses(sign_in, site, replace(SAMPLE, typed=nothing)).summary()


def test_a_sample_is_recorded_one_time(sign_in: SignIn, site: Desk) -> None:
    is_done_once(sign_in, site, SAMPLE)


def test_a_form_of_a_sample_is_used_one_time(sign_in: SignIn, site: Desk) -> None:
    refuses_a_used_key(sign_in, site, SAMPLE)


def test_two_numbers_for_one_sample_stand_beside_each_other_until_one_is_withdrawn(sign_in: SignIn, site: Desk) -> None:
    first = enter(site, "LH 4.8 IU/L")
    enter(site, "LH 48 IU/L")
    client = sign_in("kowal")
    says = "LH 4.8 IU/L and LH 48 IU/L stand for one sample, drawn 2026-11-19 08:00."
    for page in (look(client, CASE), look(client, "/results/")):
        for words in ("LH 48 units/L at 11 h: as expected", "LH 4.8 units/L at 11 h: lower than expected", says):
            assert words in page.main()
        assert "results-disagree" in page.main()
    assert look(client, "/results/").by_id("of-K-103").within[-1].has_class("presses")
    assert look(client, "/results/").main().count(says) == 1
    form = look(client, CASE).form(f"{CASE}{first}/withdraw/") | {"why": "the laboratory corrected it"}
    assert client.post(f"{CASE}{first}/withdraw/", form).status_code == 302
    left = look(client, CASE).main()
    assert "results-disagree" not in left
    assert "4.8" not in left
    assert "a result was withdrawn: the laboratory corrected it" in look(client, "/cases/K-103/").main()


def test_what_comes_later_of_one_tube_stands_in_the_same_sample_with_a_withdrawal_of_its_own(
    sign_in: SignIn, site: Desk
) -> None:
    entries = [enter(site, "LH 48 IU/L"), enter(site, "hCG 27 IU/L", "LH 48 mIU/mL")]
    client = sign_in("kowal")
    page = look(client, CASE)
    assert len([one for one in page.texts("h2") if one.startswith("Drawn")]) == 1
    assert page.main().count("LH 48 units/L at 11 h") == 1
    for entry in entries:
        page.form(f"{CASE}{entry}/withdraw/")
    for number in (0, 1):
        assert client.get(f"{CASE}{entries[0]}/{number}-light.svg").status_code == 200


def test_from_the_top_of_a_case_with_samples_it_is_one_tap_to_where_the_next_is_entered(
    sign_in: SignIn, site: Desk
) -> None:
    client = sign_in("kowal")
    assert "#enter" not in look(client, CASE).links()
    enter(site, "LH 48 IU/L")
    page = look(client, CASE)
    assert "#enter" in page.links()
    assert page.by_id("enter").text == "Enter a sample"
    assert "#enter" not in look(sign_in("brandt"), CASE).links()


def test_a_sample_of_a_closed_case_is_still_kept(sign_in: SignIn, site: Desk) -> None:
    do(site, CloseCase("K-101", "she withdrew"), "kowal", AFTERNOON)
    enter(site, "hCG 300 IU/L", case="K-101", at="07:00")
    client = sign_in("kowal")
    assert "hCG 300 units/L" in look(client, "/cases/K-101/results/").main()
    assert "CLOSED" in look(client, "/cases/K-101/results/").main()


def test_a_late_result_of_a_closed_case_stands_in_the_list_marked_closed_until_it_was_read(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(work, "instant", lambda: "2026-12-09T21:00:00Z")
    do(site, CloseCase("K-101", "she withdrew"), "kowal", AFTERNOON)
    enter(site, "hCG 4 IU/L", case="K-101", at="07:00")
    client = sign_in("kowal")
    page = look(client, "/results/")
    assert page.texts("h2")[0].endswith("CLOSED")
    assert "no effective dose is seen" in page.main()
    assert "It came from the laboratory after the case was closed." in page.main()
    assert "close K-101 again" in page.main()
    case = look(client, "/cases/K-101/")
    assert "something was heard of it since" in case.main()
    form = case.form("/cases/K-101/close/") | {"why": "the late results were read"}
    do(site, given("K-101", "hcg", "20:04"), "ortiz", "2026-12-09T20:59:00Z")
    assert client.post("/cases/K-101/close/", form).status_code == 422
    assert site.states().case("K-101").heard_again
    form = look(client, "/cases/K-101/").form("/cases/K-101/close/") | {"why": "all of it was read"}
    assert client.post("/cases/K-101/close/", form).status_code == 302
    assert "hCG 4 units/L" not in look(client, "/results/").main()
    assert "I have read them" not in look(sign_in("brandt"), "/results/").main()


def test_a_damaged_case_is_named_and_hides_no_other_result(sign_in: SignIn, site: Desk) -> None:
    enter(site, "hCG 300 IU/L", case="K-101", at="07:00")
    damage(site)
    for address in ("/results/", "/"):
        page = look(sign_in("kowal"), address)
        assert "The record of K-103 is damaged" in page.main()
        assert "K-101" in page.main()
    words = look(sign_in("kowal"), "/results/").main()
    assert words.index("The record of K-103 is damaged") < words.index("hCG 300")


def test_a_case_closed_this_morning_keeps_its_results_in_the_list(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    enter(site, "hCG 300 IU/L", case="K-101", at="07:00")
    do(site, CloseCase("K-101", "she withdrew"), "kowal", AFTERNOON)
    client = sign_in("kowal")
    page = look(client, "/results/")
    assert "K-101" in " ".join(one for one in page.texts("h2") if "CLOSED" in one)
    assert "after the case was closed" not in page.main()
    assert "K-101" not in page.main().partition("None yet")[2]
    monkeypatch.setattr(work, "instant", lambda: "2026-12-09T21:00:00Z")
    assert "hCG 300 units/L" not in look(client, "/results/").main()


# Withdrawn


def withdrawing(site: Desk) -> Act:
    entry = enter(site, "LH 48 IU/L")
    return Act(
        "kowal",
        CASE,
        {"why": "another person's"},
        ("case/K-103 result-withdrawn",),
        to=f"{CASE}{entry}/withdraw/",
        leads_to=CASE,
        other={"why": "x"},
    )


def test_a_mistake_is_withdrawn_and_stays_readable(sign_in: SignIn, site: Desk) -> None:
    client = does_it(sign_in, site, withdrawing(site))
    assert "No result is on the record" in look(client, CASE).main()
    assert "results of 2026-11-19 08:00: LH 48 IU/L (typed)" in look(client, "/cases/K-103/").main()
    assert "a result was withdrawn: another person's" in look(client, "/cases/K-103/").main()


def test_a_withdrawal_is_done_one_time(sign_in: SignIn, site: Desk) -> None:
    is_done_once(sign_in, site, withdrawing(site))


def test_what_is_not_there_is_not_withdrawn(sign_in: SignIn, site: Desk) -> None:
    act = withdrawing(site)
    client = sign_in("kowal")
    answer = client.post(f"{CASE}2/withdraw/", act.form(client) | {"key": "another"})
    assert answer.status_code == 422
    assert "nothing-changed" in text_of(answer)


# A whole list

LIST = """case,drawn,analyte,value,unit
K-103,2026-11-19 08:00,LH,48,IU/L
K-103,2026-11-19 08:00,hCG,27,IU/L
K-101,2026-11-19 07:00,hCG,230,IU/L
"""


def looked_at_first(client: Client, text: str) -> Any:
    form = look(client, "/results/").form("/results/list/")
    return client.post("/results/list/", form | {"list": text})


def test_a_list_is_shown_first_and_then_recorded_whole(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("kowal")
    before = heads(site)
    shown = looked_at_first(client, LIST)
    assert shown.status_code == 200
    assert written(site, before) == []
    assert "Record 2 samples" in text_of(shown)
    form = read(shown).form("/results/list/")
    first, second = client.post("/results/list/", form), client.post("/results/list/", form)
    assert (first.status_code, first["Location"]) == (302, "/results/")
    assert second.status_code == 302
    assert sorted(written(site, before)) == ["case/K-101 result-entered", "case/K-103 result-entered"]
    assert "2 samples are on the record" in look(client, "/results/").main()


@pytest.mark.parametrize(
    ("line", "where", "says"),
    [
        ("K-103,2026-11-19 08:00,LH,48,U/L", "K-103, 2026-11-19 08:00", "is not a unit of LH"),
        ("K-999,2026-11-19 08:00,LH,48,IU/L", "K-999, 2026-11-19 08:00", "There is no case K-999"),
        ("K-103,2026-11-19 23:00,LH,48,IU/L", "K-103, 2026-11-19 23:00", "has not come yet"),
        ("K-103,2026-11-19 08:00,estradiol,48,IU/L", "K-103, 2026-11-19 08:00", "is not read here"),
        ("K-103,2026-11-19 08:00,LH,48", "line 3", "There is no unit"),
        ("K-103,2026-11-19 08:00,LH,1,200,IU/L", "line 3", "more parts than there are columns"),
    ],
)
def test_every_problem_of_a_list_is_named_and_nothing_of_it_is_recorded(
    sign_in: SignIn, site: Desk, line: str, where: str, says: str
) -> None:
    client = sign_in("kowal")
    before = heads(site)
    good = "case,drawn,analyte,value,unit\nK-101,2026-11-19 07:00,hCG,230,IU/L\n"
    answer = looked_at_first(client, good + line)
    assert answer.status_code == 422
    page = read(answer)
    assert says in page.summary()
    assert where in page.summary()
    assert "sure" not in page.form("/results/list/")
    for digest in ("true", read_list(good + line).digest):
        sure = client.post("/results/list/", page.form("/results/list/") | {"sure": digest})
        assert sure.status_code == 422
    assert written(site, before) == []


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "There is no result in this list"),
        ("a,b\n1,2", "The first line names a, b"),
        (
            "case,drawn,analyte,value,unit,value\nK-101,2026-11-19 07:00,hCG,230,IU/L,2",
            'The first line names "value" twice',
        ),
    ],
)
def test_a_list_that_is_none_is_said(sign_in: SignIn, site: Desk, text: str, says: str) -> None:
    answer = looked_at_first(sign_in("kowal"), text)
    assert answer.status_code == 422
    assert says in read(answer).summary()


@pytest.mark.parametrize(
    ("said", "instead"),
    [
        ("LH,48,IU/L", "LH,4.8,IU/L"),
        ("LH,48,IU/L", "hCG,48,IU/L"),
        ("K-103,2026-11-19 08:00,LH", "K-101,2026-11-19 08:00,LH"),
        ("K-103,2026-11-19 08:00,LH", "K-103,2026-11-19 08:01,LH"),
        ("hCG,27,IU/L", "hCG,27,mIU/mL"),
        ("case,drawn,analyte,value,unit", "case,drawn,value,analyte,unit"),
        ("K-101,2026-11-19 07:00,hCG,230,IU/L\n", ""),
        (
            "K-101,2026-11-19 07:00,hCG,230,IU/L\n",
            "K-101,2026-11-19 07:00,hCG,230,IU/L\nK-102,2026-11-19 07:00,LH,9,IU/L\n",
        ),
    ],
)
def test_another_list_than_the_one_that_was_shown_is_shown_first(
    sign_in: SignIn, site: Desk, said: str, instead: str
) -> None:
    client = sign_in("kowal")
    form = read(looked_at_first(client, LIST)).form("/results/list/")
    assert said in LIST
    before = heads(site)
    other = LIST.replace(said, instead, 1)
    answer = client.post("/results/list/", form | {"list": other})
    assert answer.status_code == 422
    assert written(site, before) == []
    if "value,analyte" in other:
        return
    assert "this is not the list that was shown" in text_of(answer)
    assert client.post("/results/list/", read(answer).form("/results/list/")).status_code == 302
    assert written(site, before) != []


def test_blanks_and_empty_lines_make_no_other_list(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("kowal")
    form = read(looked_at_first(client, LIST)).form("/results/list/")
    first, _, rest = LIST.partition("\n")
    spaced = f"\n{first}\n" + rest.replace(",", " , ").replace("\nK-101", "\n\nK-101") + "\n"
    assert read_list(spaced).digest == read_list(LIST).digest == form["sure"]
    assert client.post("/results/list/", form | {"list": LIST.replace("\n", "\r\n")}).status_code == 302


@pytest.mark.parametrize("sure", ["true", "", "0" * 64])
def test_a_list_is_recorded_by_the_digest_of_what_was_shown_alone(sign_in: SignIn, site: Desk, sure: str) -> None:
    client = sign_in("kowal")
    form = read(looked_at_first(client, LIST)).form("/results/list/")
    before = heads(site)
    assert client.post("/results/list/", form | {"sure": sure}).status_code == (422 if sure else 200)
    assert written(site, before) == []


def test_two_numbers_for_one_sample_are_said_before_the_list_is_recorded(sign_in: SignIn, site: Desk) -> None:
    enter(site, "hCG 200 IU/L", case="K-101", at="07:00")
    client = sign_in("kowal")
    shown = looked_at_first(client, LIST + "K-103,2026-11-19 08:00,LH,47,IU/L\nK-103,2026-11-19 08:00,LH,48,mIU/mL\n")
    assert shown.status_code == 200
    assert "LH 48 IU/L and LH 47 IU/L stand for one sample" in text_of(shown)
    assert "hCG 200 IU/L and hCG 230 IU/L stand for one sample" in text_of(shown)
    before = heads(site)
    assert client.post("/results/list/", read(shown).form("/results/list/")).status_code == 302
    assert sorted(written(site, before)) == ["case/K-101 result-entered", *["case/K-103 result-entered"] * 2]
    page = look(client, "/results/").main()
    for value in ("LH 48 units/L", "LH 47 units/L", "hCG 200 units/L", "hCG 230 units/L"):
        assert value in page


def test_a_list_that_was_looked_at_too_long_ago_is_not_recorded(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("kowal")
    form = read(looked_at_first(client, LIST)).form("/results/list/")
    enter(site, "LH 4.8 IU/L")
    before = heads(site)
    answer = client.post("/results/list/", form)
    assert answer.status_code == 422
    assert "Somebody else was faster" in read(answer).summary()
    assert written(site, before) == []


def test_a_list_that_is_on_the_record_already_is_said(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("kowal")
    client.post("/results/list/", read(looked_at_first(client, LIST)).form("/results/list/"))
    assert "nothing-changed" in text_of(looked_at_first(client, LIST))


# The picture


def test_the_curve_stands_on_the_page_for_light_and_dark(sign_in: SignIn, site: Desk) -> None:
    entry = enter(site, "LH 48 IU/L")
    client = sign_in("kowal")
    page = look(client, CASE)
    images = [one.attributes for one in page.elements if one.name in ("img", "source")]
    assert [one.get("srcset", one.get("src")) for one in images] == [
        f"{CASE}{entry}/0-dark.svg",
        f"{CASE}{entry}/0-light.svg",
    ]
    assert images[1]["alt"].startswith("LH 48 units/L at 11 h: as expected.")
    looks = [client.get(f"{CASE}{entry}/0-{one}.svg") for one in ("light", "dark", "paper")]
    assert {(one.status_code, one["Content-Type"]) for one in looks} == {(200, "image/svg+xml")}
    assert len({one.content for one in looks}) == 3
    assert all(b"<svg" in one.content for one in looks)


@pytest.mark.parametrize("name", ["0-pink.svg", "1-light.svg", "9-light.svg"])
def test_there_is_no_other_picture(sign_in: SignIn, site: Desk, name: str) -> None:
    entry = enter(site, "LH 48 IU/L")
    client = sign_in("kowal")
    assert client.get(f"{CASE}{entry}/{name}").status_code == 404
    assert client.get(f"{CASE}2/0-light.svg").status_code == 404


# The morning list


def test_the_morning_list_has_the_results_and_what_to_do_at_the_first_needle(site: Desk) -> None:
    enter(site, "LH 12 IU/L", at="14:00")
    lines = morning_of(site.states(), "2026-11-20", AFTERNOON)
    by_case = {line.case: line for line in lines}
    assert by_case["K-103"].results == ("LH 12 units/L at 17 h: read with care",)
    assert by_case["K-103"].needle == ""
    assert by_case["K-102"].needle == f"agonist not known: {FIRST_NEEDLE}"
    words = morning_words(lines, parse_zone("America/Chicago"))
    assert "    results: LH 12 units/L at 17 h: read with care" in words
    assert f"    AT THE FIRST NEEDLE: agonist not known: {FIRST_NEEDLE}" in words


def test_theatre_reads_both_on_its_page(sign_in: SignIn, site: Desk) -> None:
    enter(site, "LH 12 IU/L", at="14:00")
    page = look(sign_in("theatre"), "/morning/?day=2026-11-20").main()
    assert "Results: LH 12 units/L at 17 h: read with care" in page
    assert "At the first needle: agonist not known" in page


# Who may

PAGES = ("/results/", CASE)
SENDS = ("/results/list/", f"{CASE}9/withdraw/")
PICTURE = f"{CASE}9/0-light.svg"


@pytest.mark.parametrize("page", [*PAGES, PICTURE])
def test_results_are_read_by_nurse_prescriber_and_lead(sign_in: SignIn, site: Desk, page: str) -> None:
    is_not_for(sign_in, site, "devi", page, "GET")


@pytest.mark.parametrize("who", ["devi", "brandt"])
def test_results_are_entered_by_nurse_and_prescriber(sign_in: SignIn, site: Desk, who: str) -> None:
    for page in SENDS:
        is_not_for(sign_in, site, who, page, "POST")
    before = heads(site)
    assert sign_in(who).post(CASE, {"key": "x"} | TYPED).status_code == 403
    assert [one for one in written(site, before) if "plan-opened" not in one] == []


def test_the_lead_reads_and_enters_nothing(sign_in: SignIn) -> None:
    page = look(sign_in("brandt"), "/results/")
    assert "A whole list" not in page.main()
    assert "Enter a sample" not in look(sign_in("brandt"), CASE).main()


@pytest.mark.parametrize("page", [CASE, PICTURE])
def test_another_clinic_finds_nothing(sign_in: SignIn, site: Desk, page: str) -> None:
    hides_from_strangers(sign_in, site, page, "GET")
    hides_from_strangers(sign_in, site, f"{CASE}9/withdraw/", "POST")
    assert "K-10" not in text_of(sign_in("stranger").get("/results/"))


def test_nobody_comes_in_without_signing_in(client_of_nobody: Client) -> None:
    for page in (*PAGES, PICTURE):
        sends_to_sign_in(client_of_nobody, page, "GET")


def test_other_methods_are_refused(sign_in: SignIn) -> None:
    client = sign_in("kowal")
    knows_only(client, "/results/", "GET")
    knows_only(client, CASE, "GET", "POST")
    knows_only(client, PICTURE, "GET")
    for page in SENDS:
        knows_only(client, page, "POST")


def test_each_wrong_field_keeps_what_was_typed(sign_in: SignIn, site: Desk) -> None:
    marks(sign_in, site, SAMPLE, "LH.value", "4,8", "is not a number as laboratories print it")


# A strip that was read at home

READ = {"strip.clock": "08:00", "strip.day": "2026-11-19", "strip.kind": "LH strip", "strip.shows": "negative"}
STRIP = Act(
    "kowal",
    CASE,
    READ,
    ("case/K-103 result-entered",),
    to=f"{CASE}?of=strip",
    leads_to=CASE,
    other={"strip.shows": "positive"},
)


def test_a_strip_is_read_as_the_command_reads_it_and_a_negative_one_is_no_verdict(sign_in: SignIn, site: Desk) -> None:
    """Eleven hours after the agonist; hCG went in beside it, which an LH strip may read as LH."""
    client = does_it(sign_in, site, STRIP)
    page = look(client, CASE).main()
    assert "LH strip negative at 11 h: read with care; hCG went in as well" in page
    assert "strip-of-two" in page
    assert "to judge it by" not in page
    kept = site.states().case("K-103").results[-1].event
    assert (kept.results, kept.how) == (("LH strip negative",), "a strip, as it was read")
    assert result_lines(site.states().case("K-103")) == (
        "LH strip negative, read 11 h after the injection: read with care",
    )


@pytest.mark.parametrize(
    ("results", "at", "says", "code"),
    [
        (("pregnancy strip negative",), "07:00", "pregnancy strip negative at 11 h: read with care", "strip-negative"),
        (("pregnancy strip unclear",), "07:00", "pregnancy strip unclear at 11 h: read with care", "strip-unclear"),
        (("pregnancy strip positive",), "07:00", "pregnancy strip positive at 11 h: supports that it worked", None),
        (("LH strip negative",), "07:00", "LH strip negative at 11 h: says nothing of this injection", None),
    ],
)
def test_what_strips_say_of_hcg_alone(
    sign_in: SignIn, site: Desk, results: tuple[str, ...], at: str, says: str, code: str | None
) -> None:
    enter(site, *results, case="K-101", at=at)
    page = look(sign_in("kowal"), "/results/")
    assert says in page.main()
    assert page.by_id("of-K-101").within[-1].has_class("presses") == (code is not None)
    if code is not None:
        assert code in page.main()
        assert "Ask the prescriber for hCG in blood." in page.main()


def test_a_strip_before_the_injection_is_asked_about_and_not_read(sign_in: SignIn, site: Desk) -> None:
    enter_at = Drawn("K-101", "2026-11-18 19:00", ("pregnancy strip negative",), "a strip, as it was read")
    do(site, EnterResults((enter_at,)), "kowal", AFTERNOON)
    page = look(sign_in("kowal"), "/cases/K-101/results/").main()
    assert "sample-before-injection" in page
    assert "pregnancy strip negative: not read" in page


def test_a_strip_without_an_injection_to_read_it_against_is_kept_and_not_read(sign_in: SignIn, site: Desk) -> None:
    enter(site, "LH strip positive", case="K-102")
    assert "LH strip positive: not read" in look(sign_in("kowal"), "/cases/K-102/results/").main()
    assert "LH strip positive, read 2026-11-19 08:00: not read" in result_lines(site.states().case("K-102"))


def test_a_strip_stands_beside_the_blood_of_the_same_minute_and_two_that_differ_are_said(
    sign_in: SignIn, site: Desk
) -> None:
    enter(site, "hCG 230 IU/L", case="K-101", at="07:00")
    enter(site, "pregnancy strip positive", case="K-101", at="07:00")
    (read_as,) = read_results(site.states().case("K-101"))
    assert [str(one) for one, _ in read_as.strips] == ["pregnancy strip positive"]
    enter(site, "pregnancy strip negative", case="K-101", at="07:00")
    page = look(sign_in("kowal"), "/results/").main()
    assert "pregnancy strip positive and pregnancy strip negative stand for one sample" in page


@pytest.mark.parametrize(
    ("name", "value", "says"),
    [
        ("strip.shows", "", "is not a strip as read"),
        ("strip.kind", "", "is not a strip as read"),
        ("strip.shows", "faint", "is not a strip as read"),
        ("strip.clock", "eight", "is not a date and clock time"),
        ("strip.clock", "23:10", "has not come yet"),
    ],
)
def test_a_strip_that_cannot_be_read_is_asked_again_at_its_own_form(
    sign_in: SignIn, site: Desk, name: str, value: str, says: str
) -> None:
    page = refuses(sign_in, site, replace(STRIP, typed={**READ, name: value}))
    assert says in page.summary()
    assert page.marked() == ["strip.clock" if name == "strip.clock" else "strip.shows"]
    assert {key: page.shown(key) for key in READ} == {**READ, name: value}


def test_nothing_of_a_strip_is_chosen_beforehand(sign_in: SignIn, site: Desk) -> None:
    form = look(sign_in("kowal"), CASE).form(f"{CASE}?of=strip")
    assert (form["strip.kind"], form["strip.shows"], form["strip.clock"]) == ("", "", "")
    nothing = dict.fromkeys(READ, "") | {"strip.clock": "08:00", "strip.day": "2026-11-19"}
    assert "There is no result" in refuses(sign_in, site, replace(STRIP, typed=nothing)).summary()


def test_a_strip_is_recorded_one_time(sign_in: SignIn, site: Desk) -> None:
    is_done_once(sign_in, site, STRIP)


def test_a_strip_with_a_wrong_field_keeps_what_was_typed(sign_in: SignIn, site: Desk) -> None:
    marks(sign_in, site, STRIP, "strip.clock", "eight", "is not a date and clock time")


# What nobody knows to have gone in


@pytest.mark.parametrize(
    ("amount", "why"), [("not known", "how much of the agonist went in"), ("some leaked", "how much of the agonist")]
)
@pytest.mark.parametrize("text", ["LH 2 IU/L", "LH strip negative", "LH strip positive"])
def test_a_level_of_what_is_not_known_presses_and_is_never_said_to_be_of_nothing(
    sign_in: SignIn, site: Desk, amount: str, why: str, text: str
) -> None:
    do(site, given("K-103", "agonist", "21:00", amount), "kowal", EVENING)
    enter(site, text)
    page = look(sign_in("kowal"), "/results/")
    assert page.by_id("of-K-103").within[-1].has_class("presses")
    assert "Call Dr. L. Aumont" in page.main()
    assert f"read with care; it is not known {why}" in page.main()
    assert "injection-not-known" in page.main()
    assert "none went in" not in page.main()
    assert "no injection that it could answer for" not in page.main()
    (line,) = [one for one in morning_of(site.states(), "2026-11-20", AFTERNOON) if one.case == "K-103"]
    assert "read with care" in line.results[0]


@pytest.mark.parametrize("text", ["LH 2 IU/L", "LH strip negative"])
def test_where_nobody_reported_anything_somebody_is_called_for_what_was_measured(
    sign_in: SignIn, site: Desk, text: str
) -> None:
    enter(site, text, case="K-102")
    page = look(sign_in("kowal"), "/results/")
    assert f"{text}: not read" in page.main()
    assert "it is not known whether or when the agonist went in" in page.main()
    assert page.by_id("of-K-102").within[-1].has_class("presses")


NOT_YET = (("symptoms", "no"), ("injection", "agonist"), ("injected", "no"))


@pytest.mark.parametrize(("kind", "also"), [("late", ()), ("wrong-mark", (("drawn", "0.3 mL"),))])
def test_that_it_has_not_gone_in_yet_says_nothing_of_what_came_after(
    sign_in: SignIn, site: Desk, kind: str, also: tuple[tuple[str, str], ...]
) -> None:
    do(site, ReportTrouble("K-102", "agonist", kind, NOT_YET + also), "kowal", EVENING)
    enter(site, "LH 2 IU/L", case="K-102")
    page = look(sign_in("kowal"), "/cases/K-102/results/").main()
    assert "nothing of it went in" not in page
    assert "it is not known whether or when the agonist went in" in page


def test_that_it_was_missed_is_a_report_that_none_of_it_went_in(sign_in: SignIn, site: Desk) -> None:
    do(site, ReportTrouble("K-102", "agonist", "missed", NOT_YET[:2]), "kowal", EVENING)
    enter(site, "LH 2 IU/L", case="K-102")
    page = look(sign_in("kowal"), "/cases/K-102/results/").main()
    assert "Not read against agonist: nothing of it went in, as it was reported" in page
    assert "injection-not-known" not in page


@pytest.mark.parametrize("named", ["the white box", "not known", ""])
def test_another_medicine_without_a_known_name_may_have_been_the_ordered_one(
    sign_in: SignIn, site: Desk, named: str
) -> None:
    told = [("symptoms", "no"), ("injection", "agonist"), ("instead", "yes"), *([("drug", named)] if named else [])]
    do(site, ReportTrouble("K-102", "agonist", "other-drug", tuple(told)), "kowal", EVENING)
    state = site.states().case("K-102")
    assert in_fact_of(state, site.states().rules(), AFTERNOON) == {"agonist": InFact(None)}
    enter(site, "LH 2 IU/L", case="K-102")
    page = look(sign_in("kowal"), "/cases/K-102/results/").main()
    assert "nothing of it went in" not in page
    assert "a report of trouble with it has to be read first" in page
    assert "injection-not-known" in page


def test_another_medicine_of_a_known_name_was_not_the_ordered_one(site: Desk) -> None:
    told = (("symptoms", "no"), ("injection", "agonist"), ("instead", "yes"), ("drug", "ganirelix"))
    do(site, ReportTrouble("K-102", "agonist", "other-drug", told), "kowal", EVENING)
    (known,) = in_fact_of(site.states().case("K-102"), site.states().rules(), AFTERNOON).values()
    assert known.dose is not None
    assert known == InFact(known.dose * 0, instead=True)
