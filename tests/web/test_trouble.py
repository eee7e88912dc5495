"""Trouble on the night, on its pages: kept before anything is made of it, danger before any number, and every number with its working.

The numbers are worked by hand beside each row: K-103 has 10,000 units in 2 mL, 1,000 units ordered 36 h before a slot at 09:00, 35 h to
37 h allowed. The bands are the invented clinic's own.
"""

import re
from dataclasses import replace
from typing import Any

import pytest
from django.test import Client

from hourmark.case.night import Escalate, NoteIncident
from hourmark.case.opening import ChangeDetails, CloseCase
from hourmark.case.orders import SignOrder, WithdrawOrder
from hourmark.case.trouble import DANGER, ELSE, ReportTrouble, read_report, report_words
from hourmark.desk import Desk
from hourmark.incident import KIND_WORDS, RED_FLAGS, Kind, questions
from hourmark.incident.calls import Asked, Sort, calls
from hourmark.web import work
from tests.case.world import order
from tests.web.manners import (
    Act,
    SignIn,
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
from tests.web.seen import Page, look, read, text_of

K = "/cases/K-103/trouble/"
LATE = "2026-11-19T03:30:00Z"
"""21:30 at the clinic."""

AT_HALF_PAST_ONE = "2026-11-19T07:30:00Z"
FACTS = {"symptoms": "no", "injection": "hcg", "at": "21:00", "drawn": "0.3"}


@pytest.fixture(autouse=True)
def night(site: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """It is half past nine at the clinic."""
    monkeypatch.setattr(work, "instant", lambda: LATE)


def send(client: Client, kind: str, **typed: str) -> Any:
    """A report of that kind from its page, with nothing typed but this."""
    page = f"{K}{kind}/"
    form = look(client, page).form()
    return client.post(page, dict.fromkeys(form, "") | {name: form[name] for name in _OWN} | typed)


_OWN = ("key", "seen")


def told(client: Client, kind: str, **typed: str) -> Page:
    """What the page says after a report."""
    answer = send(client, kind, **typed)
    assert answer.status_code == 302, text_of(answer)
    return look(client, answer["Location"])


def number_lines(page: Page) -> dict[str, str]:
    """The lines of an answer: each name with what stands behind it."""
    names = [" ".join(one.text.split()) for one in page.elements if one.name == "dt"]
    words = [" ".join(one.text.split()) for one in page.elements if one.name == "dd"]
    return dict(zip(names, words, strict=True))


def incidents(site: Desk, case: str = "K-103") -> list[Any]:
    return [one.event for one in site.states().case(case).incidents]


def the_last(site: Desk) -> int:
    return site.states().case("K-103").incidents[-1].seq


# What a nurse is shown for the calls that come most


def test_three_tenths_instead_of_two_is_half_as_much_again_and_the_prescribers(sign_in: SignIn, site: Desk) -> None:
    """10,000 units / 2 mL x 0.3 mL = 1,500 units; 0.3 / 0.2 = 150 %; 2 - 0.3 = 1.7 mL = 8,500 units are left."""
    client = sign_in("kowal")
    before = heads(site)
    answer = send(client, "wrong-mark", **FACTS)
    assert written(site, before) == ["case/K-103 confirmed", "case/K-103 incident-noted"]
    page = look(client, answer["Location"])
    lines = number_lines(page)
    assert lines["Went in"] == "1,500 units, 150 % of the order"
    assert lines["Left in the vials"] == "1.7 mL, 8,500 units: it is kept, and not injected"
    assert "chorionic gonadotropin 1,000 units" in lines["Ordered"]
    assert lines["Hours to the slot"] == "36 h"
    assert "Decides: the prescriber" in page.main()
    assert "powder / water x (drawn - lost) = 1,500 units" in page.main()
    assert "2 mL of water into each vial" in lines["As on her page, not asked"]


def test_one_in_the_morning_is_the_very_edge_and_the_starts_restore_it(
    sign_in: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    """09:00 less 01:00 of the day before is 32 h; 01:00 + 35 h, 36 h, 37 h are 12:00, 13:00, 14:00."""
    monkeypatch.setattr(work, "instant", lambda: AT_HALF_PAST_ONE)
    page = told(
        sign_in("kowal"),
        "late",
        symptoms="no",
        injection="agonist",
        injected="yes",
        at="01:00",
        all="yes",
        open="11:30, 12:30",
    )
    lines = number_lines(page)
    assert lines["Hours to the slot"] == "32 h"
    assert lines["Order's own window"] == "35 h to 37 h: OUTSIDE"
    assert lines["Clinic's signed bands"] == "inside the band that the prescriber confirms"
    assert lines["Starts that restore the window"] == "from Fri 20 Nov 12:00 to Fri 20 Nov 14:00"
    assert lines["The ordered hours exactly"] == "Fri 20 Nov 13:00"
    assert lines["Open start"] == "Fri 20 Nov 12:30, 35 h 30 min to it"
    assert "32 h is the very edge" in page.main()
    assert "Tell also: theatre and laboratory" in page.main()
    assert "the night of Wednesday into Thursday" in lines["Time"]


def test_water_only_is_no_units_and_the_spare_vials_are_counted(sign_in: SignIn) -> None:
    """One vial at home, and it is open: none is left. 09:00 less 35 h is 22:00, which is 30 minutes from now."""
    page = told(sign_in("kowal"), "water-only", symptoms="no", injection="hcg", at="21:00")
    lines = number_lines(page)
    assert lines["Went in"] == "0 units, 0 % of the order"
    assert lines["Left in the vials"].startswith("10,000 units")
    assert "0 x chorionic gonadotropin 10,000 units" in lines["Unopened at home"]
    assert lines["The order still allows it for"] == "30 min"
    assert "the pharmacist" in page.main()


def test_a_leak_of_a_third_to_a_half_makes_a_range(sign_in: SignIn) -> None:
    """1,000 units per mL x 0.2 mL = 200 units; a half to two thirds of it is 100 to 133 1/3."""
    page = told(
        sign_in("kowal"),
        "wrong-water",
        symptoms="no",
        injection="hcg",
        injected="yes",
        at="21:00",
        water="10",
        drawn="0.2",
        lost="a third to a half",
    )
    assert number_lines(page)["Went in"] == "100 to about 133.333 units, 10 to 13.3 % of the order"


def test_sixty_three_minutes_late_is_the_prescribers_by_the_orders_own_window(
    sign_in: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    """36 h less 63 minutes is 34 h 57; the clinic's band from 34 h would only be noted."""
    monkeypatch.setattr(work, "instant", lambda: "2026-11-19T04:10:00Z")
    page = told(sign_in("kowal"), "late", symptoms="no", injection="agonist", injected="yes", at="22:03", all="yes")
    lines = number_lines(page)
    assert lines["Hours to the slot"] == "34 h 57 min"
    assert lines["Clinic's signed bands"] == "inside the band that is noted"
    assert "Decides: the prescriber" in page.main()


def test_one_of_two_left_out_judges_each_alone(sign_in: SignIn) -> None:
    page = told(sign_in("kowal"), "one-of-two", symptoms="no", missed="hcg", at="21:02", all="yes")
    assert "hcg: not given" in page.texts("h2")
    assert "agonist: given" in page.texts("h2")


def test_the_starts_that_keep_both_windows_stand_on_the_page_and_in_the_message(
    sign_in: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The agonist at 21:20, hCG if it were given now, at 22:30; 21:20 + 37 h is 10:20, and 22:30 + 35 h is 09:30."""
    monkeypatch.setattr(work, "instant", lambda: "2026-11-19T04:30:00Z")
    client = sign_in("kowal")
    page = told(client, "one-of-two", symptoms="no", missed="hcg", at="21:20", all="yes")
    words = "Fri 20 Nov 09:30 to Fri 20 Nov 10:20"
    assert number_lines(page)["Starts that keep every window"] == words
    assert f"Starts that keep every window: {words}" in message(page).splitlines()
    monkeypatch.setattr(work, "instant", lambda: "2026-11-19T09:30:00Z")
    far = told(client, "one-of-two", symptoms="no", missed="hcg", at="21:00", all="yes")
    assert number_lines(far)["Starts that keep every window"] == "none is certain to"


def test_of_one_injection_alone_no_common_start_is_named(sign_in: SignIn) -> None:
    page = told(sign_in("kowal"), "wrong-mark", **FACTS)
    assert "every window" not in page.main()
    assert "every window" not in message(page)


def test_another_medicine_gave_nothing_of_the_ordered_one_and_is_said_as_told(sign_in: SignIn, site: Desk) -> None:
    """0.8 mL of 5 mg/mL are 4 mg of the agonist; of the 1,000 units of hCG it gave none."""
    client = sign_in("kowal")
    page = told(
        client,
        "wrong-product",
        symptoms="no",
        injection="hcg",
        injected="yes",
        at="21:00",
        drug="leuprolide acetate",
        strength="5 mg/mL",
        drawn="0.8",
    )
    lines = number_lines(page)
    assert "hcg: not given" in page.texts("h2")
    assert lines["Went in"] == "0 units, 0 % of the order"
    assert lines["Instead, as told"] == "leuprolide acetate, 0.8 mL, 4 mg"
    assert "- Instead, as told: leuprolide acetate, 0.8 mL, 4 mg" in message(page).splitlines()
    assert "Decides: the prescriber" in page.main()
    assert "It is ordered too, as agonist" in page.main()
    report = site.states().case("K-103").confirmations[-1].event
    assert (report.injection, report.amount) == ("hcg", "none of it")


def test_a_name_that_is_no_medicine_known_here_is_asked_again(sign_in: SignIn, site: Desk) -> None:
    typed = {"at": "21:00", "strength": "10,000 units", "drawn": "0.2", "drug": "the blue one"}
    page = told(sign_in("kowal"), "wrong-product", symptoms="no", injection="hcg", injected="yes", **typed)
    assert number_lines(page)["Went in"] == "not known"
    assert "is not the full generic name of a drug known here" in page.main()
    assert "the blue one" in page.main()
    assert site.states().case("K-103").confirmations[-1].event.amount != "none of it"


def test_a_time_between_two_makes_hours_between_two(sign_in: SignIn) -> None:
    page = told(
        sign_in("kowal"),
        "late",
        symptoms="no",
        injection="agonist",
        injected="yes",
        at="20:50",
        at_to="21:20",
        all="yes",
    )
    assert number_lines(page)["Hours to the slot"] == "35 h 40 min to 36 h 10 min"


# Kept before anything is made of it


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"at": "23:50"}, "has not come yet"),
        ({"drawn": "1.2 mL"}, "is more than the syringe takes"),
        ({"drawn": "3 mL"}, "is more than the vial held"),
        ({"drawn": "lots"}, "The words are kept as they were said"),
        ({"drawn": ".3"}, "The words are kept as they were said"),
        ({"at": "nine"}, "is not a date and clock time"),
        ({"drawn": "0.3", "mark": "40"}, "is 0.4 mL, not 0.3 mL"),
        ({"stayed": "0.9"}, "is more than was in the syringe"),
        ({"lost": "two drops"}, "is neither a volume nor a part"),
        ({"at": ""}, "Not answered yet"),
    ],
)
def test_what_cannot_be_is_kept_asked_again_and_not_computed(
    sign_in: SignIn, site: Desk, typed: dict[str, str], says: str
) -> None:
    page = told(sign_in("kowal"), "wrong-mark", **FACTS | typed)
    assert says in page.main()
    if "cannot be read" in says or "kept as they were said" in says:
        assert f"{next(iter(typed))}: what she said cannot be read" in number_lines(page)["Not known"]
    not_computed = "Hours to the slot" if "at" in typed else "1,500 units"
    assert not_computed not in page.main()
    found = read_report(incidents(site)[-1].happened)
    assert found is not None
    for name, words in typed.items():
        assert words.removesuffix(" mL") in found[1].get(name, "")


def test_a_time_that_had_not_come_stays_one_to_ask_again_when_it_has(
    sign_in: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    client = sign_in("kowal")
    address = send(client, "wrong-mark", **FACTS | {"at": "23:50"})["Location"]
    monkeypatch.setattr(work, "instant", lambda: AT_HALF_PAST_ONE)
    page = look(client, address)
    assert "trouble-time-future" in page.main()
    assert "Hours to the slot" not in number_lines(page)


def test_nothing_at_all_is_a_report_too(sign_in: SignIn, site: Desk) -> None:
    page = told(sign_in("kowal"), "wrong-mark")
    assert incidents(site)[-1].happened == "drawn to another mark"
    assert "Ask this first" in page.main()
    assert "units" not in page.by_id("main").text


def test_no_number_stands_before_the_question_of_danger(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("kowal")
    page = told(client, "wrong-mark", **FACTS | {"symptoms": ""})
    assert "Ask this first. Any of this now?" in page.main()
    for flag in RED_FLAGS:
        assert flag[1:] in page.main()
    assert "1,500" not in page.main()
    form = page.form(f"{K}wrong-mark/") | {"symptoms": "no"}
    before = heads(site)
    answer = client.post(f"{K}wrong-mark/", form)
    assert number_lines(look(client, answer["Location"]))["Went in"] == "1,500 units, 150 % of the order"
    assert written(site, before) == ["case/K-103 incident-noted"]
    assert [one.event.happened for one in site.states().case("K-103").problems] == [incidents(site)[-1].happened]
    again = client.post(f"{K}wrong-mark/", form | {"key": "another form with the same answer"})
    assert again["Location"] == answer["Location"]
    assert written(site, before) == ["case/K-103 incident-noted"]


def test_what_was_told_before_the_answer_about_danger_stands_with_it(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("kowal")
    first = send(client, "wrong-mark", **FACTS | {"symptoms": ""})["Location"]
    do(site, Escalate("K-103", "hcg", "Dr. L. Aumont", "0.3 drawn", "ask about danger"), "kowal", LATE)
    form = look(client, first).form(f"{K}wrong-mark/") | {"symptoms": "no"}
    last = client.post(f"{K}wrong-mark/", form)["Location"]
    assert "ask about danger" in look(client, last).main()
    assert "Said before, in the same call" in look(client, last).main()
    assert last in look(client, first).links()
    assert "stands in the place of this" in look(client, first).main()
    assert "Settled." not in look(client, first).main()
    settle = f"{first}settle/"
    settled = look(client, settle).form() | {"decided_by": "Dr. L. Aumont", "decision": "it stays", "settled": "true"}
    assert client.post(settle, settled).status_code == 302
    assert site.states().case("K-103").problems == ()
    assert "Settled." in look(client, first).main()


def test_a_second_call_stands_beside_the_first(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("kowal")
    told(client, "wrong-mark", **FACTS)
    told(client, "wrong-mark", **FACTS)
    assert len(site.states().case("K-103").problems) == 2
    assert look(client, f"{K}?of=hcg").main().count("Open: drawn to another mark") == 2


def test_a_sign_of_danger_is_kept_and_no_number_is_worked_out(sign_in: SignIn, site: Desk) -> None:
    page = told(sign_in("kowal"), "wrong-mark", **FACTS | {"symptoms": "yes"})
    assert "Emergency services first" in page.main()
    for number in ("1,500", "150 %", "36 h", "1.7 mL"):
        assert number not in page.main()
    assert "symptoms: yes" in incidents(site)[-1].happened


def test_words_of_danger_stand_before_the_numbers_though_the_answer_was_no(sign_in: SignIn) -> None:
    page = told(sign_in("kowal"), "wrong-mark", **FACTS | {"words": "and now she cannot breathe"})
    assert page.texts("h2")[0] == "Her own words may be a sign of danger: ask again before any number"
    assert "may be a sign of danger" not in told(sign_in("kowal"), "wrong-mark", **FACTS | {"words": "sorry"}).main()


def test_the_words_of_the_caller_are_kept_word_for_word(sign_in: SignIn, site: Desk) -> None:
    words = "I pulled it to 0.3; not 0.2: sorry"
    page = told(sign_in("kowal"), "wrong-mark", **FACTS | {"words": words})
    assert words in page.main()
    assert read_report(incidents(site)[-1].happened) == (
        "wrong-mark",
        {"symptoms": "no", "injection": "hcg", "at": "2026-11-18 21:00", "drawn": "0.3 mL", "words": words},
    )


def test_what_went_in_is_a_report_of_the_injection_as_well(sign_in: SignIn, site: Desk) -> None:
    told(sign_in("kowal"), "wrong-mark", **FACTS)
    report = site.states().case("K-103").confirmations[-1].event
    assert (report.injection, report.reported, report.amount) == ("hcg", "2026-11-18 21:00", "0.3 mL")
    assert (report.instant, report.told_by) == ("2026-11-19T03:00:00Z", "the caller")
    assert "not-all" in report.doubts


@pytest.mark.parametrize(
    ("kind", "typed", "amount"),
    [
        ("late", {"injected": "yes", "at": "21:20", "all": "yes"}, "all"),
        ("late", {"injected": "yes", "at": "21:20", "all": "no"}, "not all of it"),
        ("late", {"injected": "yes"}, "not known"),
        ("late", {"injected": "no"}, None),
        ("missed", {}, None),
        ("other-drug", {"drug": "aspirin", "instead": "no"}, None),
        ("water-only", {"at": "21:00"}, "none of it"),
        ("repeated", {"at": "21:00", "times": "2", "all": "yes"}, "times 2"),
        ("partial", {"at": "21:00", "lost": "half"}, "lost half"),
        ("wrong-product", {"at": "21:00", "strength": "5,000 units"}, "strength 5,000 units"),
        ("storage", {"injected": "no", "kept": "on the sill"}, None),
    ],
)
def test_what_is_reported_of_each_kind(
    sign_in: SignIn, site: Desk, kind: str, typed: dict[str, str], amount: str | None
) -> None:
    before = len(site.states().case("K-103").confirmations)
    told(sign_in("kowal"), kind, symptoms="no", injection="hcg", **typed)
    reports = [one.event.amount for one in site.states().case("K-103").confirmations[before:]]
    assert reports == ([] if amount is None else [amount])


def test_of_one_of_two_the_other_is_reported(sign_in: SignIn, site: Desk) -> None:
    told(sign_in("kowal"), "one-of-two", symptoms="no", missed="hcg", at="21:02", all="yes")
    report = site.states().case("K-103").confirmations[-1].event
    assert (report.injection, report.amount) == ("agonist", "all")
    assert incidents(site)[-1].injection == "hcg"


@pytest.mark.parametrize(
    ("clock", "day", "meant"),
    [
        ("21:04", "", "2026-11-18 21:04"),
        ("9:04", "", "2026-11-18 09:04"),
        ("01:00", "", "2026-11-19 01:00"),
        ("08:59", "", "2026-11-19 08:59"),
        ("21:04", "2026-11-17", "2026-11-17 21:04"),
        ("2026-11-17 20:00", "", "2026-11-17 20:00"),
    ],
)
def test_a_clock_time_alone_is_of_the_night_around_her_minute(
    sign_in: SignIn, site: Desk, clock: str, day: str, meant: str
) -> None:
    """Her minute is 21:00 on Wednesday: the night goes from 09:00 on Wednesday to 09:00 on Thursday."""
    client = sign_in("kowal")
    assert "Wed 18 Nov 09:00 to Thu 19 Nov 09:00" in look(client, f"{K}wrong-mark/").main()
    told(client, "wrong-mark", **FACTS | {"at": clock, "at_day": day})
    found = read_report(incidents(site)[-1].happened)
    assert found is not None
    assert found[1]["at"] == meant


@pytest.mark.parametrize(
    ("now", "days"),
    [
        ("2026-11-19T03:30:00Z", ["2026-11-17", "2026-11-18"]),
        ("2026-11-19T06:30:00Z", ["2026-11-17", "2026-11-18", "2026-11-19"]),
        ("2026-11-20T18:00:00Z", ["2026-11-17", "2026-11-18", "2026-11-19", "2026-11-20"]),
        ("2026-11-18T05:59:00Z", ["2026-11-16", "2026-11-17"]),
        ("2026-11-16T15:00:00Z", ["2026-11-15", "2026-11-16"]),
    ],
)
def test_no_day_that_is_still_to_come_is_offered_for_what_has_happened(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch, now: str, days: list[str]
) -> None:
    """Her minute is 21:00 on Wednesday 18 November in Chicago, six hours behind UTC: half past midnight there is the 19th."""
    client = sign_in("kowal")
    monkeypatch.setattr(work, "instant", lambda: now)
    page = look(client, f"{K}wrong-mark/?of=hcg")
    assert [one.attributes["value"] for one in page.elements if one.attributes.get("name") == "at_day"] == days


def test_a_closed_case_is_still_heard(sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    do(site, CloseCase("K-109", "she withdrew"), "kowal")
    client = sign_in("kowal")
    before = heads(site)
    answer = client.post("/cases/K-109/trouble/missed/", {"key": "once", "symptoms": "no"})
    assert answer.status_code == 302
    assert written(site, before) == ["case/K-109 incident-noted", "roll case-listed"]
    assert client.get(answer["Location"]).status_code == 200


def test_a_page_that_is_void_is_said_beside_the_numbers(sign_in: SignIn, site: Desk) -> None:
    do(site, SignOrder("K-103", order() | {"largest_gap": "9 min"}), "aumont")
    assert "Her page 1 is void" in told(sign_in("kowal"), "wrong-mark", **FACTS).main()


def test_without_an_order_nothing_is_worked_out_and_it_is_the_prescribers(sign_in: SignIn, site: Desk) -> None:
    do(site, WithdrawOrder("K-103", 1, "another cycle"), "aumont")
    page = told(sign_in("kowal"), "wrong-mark", **FACTS)
    assert "case-incomplete" in page.main()
    assert "Decides: the prescriber" in page.main()
    assert "1,500" not in page.main()


def void(site: Desk) -> None:
    """Another order is signed: her page holds no longer."""
    do(site, SignOrder("K-103", order() | {"largest_gap": "9 min"}), "aumont")


def test_all_of_it_says_nothing_where_no_page_holds(sign_in: SignIn, site: Desk) -> None:
    void(site)
    typed = {"symptoms": "no", "injection": "hcg", "injected": "yes", "at": "21:00", "all": "yes"}
    page = told(sign_in("kowal"), "late", **typed)
    lines = number_lines(page)
    assert lines["Went in"] == "not known"
    assert "all: no released page holds by which it could have been all" in lines["Not known"]
    assert "Decides: the prescriber" in page.main()


def test_on_a_void_page_nothing_is_carried_out_and_it_is_the_prescribers(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """20:30 is before her minute: with a page that holds it would be the nurse's, and the order could still be carried out."""
    monkeypatch.setattr(work, "instant", lambda: "2026-11-19T02:30:00Z")
    client = sign_in("kowal")
    typed = {"symptoms": "no", "injection": "hcg", "injected": "no", "drawn": "0.2"}
    holds = told(client, "wrong-mark", **typed)
    assert "on her page as it is" in message(holds)
    assert "Decides: the nurse" in holds.main()
    void(site)
    page = told(client, "wrong-mark", **typed)
    assert "on her page as it is" not in message(page)
    assert "Decides: the prescriber" in page.main()
    assert "No released page holds: nothing is injected before a new one is released and read back." in page.main()


def test_missed_though_it_is_on_the_record_is_asked_again_and_not_allowed(sign_in: SignIn, site: Desk) -> None:
    typed = {"symptoms": "no", "injection": "hcg", "injected": "yes", "at": "21:00", "all": "yes"}
    client = sign_in("kowal")
    told(client, "late", **typed)
    page = told(client, "missed", symptoms="no", injection="hcg")
    assert "the record has it given" in page.main()
    assert "Decides: the prescriber" in page.main()
    assert "The order still allows it for" not in number_lines(page)
    assert "on her page as it is" not in message(page)


@pytest.mark.parametrize(("typed", "words"), [({"all": "yes"}, "1,000 units"), ({"lost": "half"}, "not known")])
def test_of_the_other_injection_stands_what_was_reported_of_it(
    sign_in: SignIn, typed: dict[str, str], words: str
) -> None:
    client = sign_in("kowal")
    kind = "partial" if "lost" in typed else "early"
    told(client, kind, symptoms="no", injection="hcg", at="20:50", **typed)
    page = told(client, "late", symptoms="no", injection="agonist", injected="yes", at="21:20", all="yes")
    other = message(page).partition("[hcg]")[2].partition("[")[0]
    assert f"Went in: {words}" in other


def test_the_hours_stay_those_of_the_clock_by_which_it_was_kept(sign_in: SignIn, site: Desk) -> None:
    """21:00 in Chicago is 36 h before 09:00 there, whatever is said of her zone afterwards."""
    client = sign_in("kowal")
    typed = {"symptoms": "no", "injection": "hcg", "injected": "yes", "at": "21:00", "all": "yes", "drawn": "0.2"}
    address = send(client, "late", **typed)["Location"]
    assert number_lines(look(client, address))["Hours to the slot"] == "36 h"
    details = dict(site.states().case("K-103").details)
    do(site, ChangeDetails("K-103", details | {"zone": "America/New_York"}, "she is in New York"), "kowal")
    assert number_lines(look(client, address))["Hours to the slot"] == "36 h"


def test_a_day_that_is_chosen_anew_takes_the_place_of_the_one_before(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("kowal")
    told(client, "wrong-mark", **FACTS)
    form = look(client, f"{K}wrong-mark/?after={the_last(site)}").form()
    client.post(f"{K}wrong-mark/", form | {"at_day": "2026-11-17"})
    found = read_report(incidents(site)[-1].happened)
    assert found is not None
    assert found[1]["at"] == "2026-11-17 21:00"


@pytest.mark.parametrize("day", ["9999-12-31", "9999-99-99", "0000-00-00"])
def test_a_day_at_the_end_of_the_calendar_is_kept_and_asked_again(sign_in: SignIn, site: Desk, day: str) -> None:
    page = told(sign_in("kowal"), "wrong-mark", **FACTS | {"at_day": day, "at_to": "20:00"})
    assert day in incidents(site)[-1].happened
    assert "Hours to the slot" not in number_lines(page)


# What is asked, and in which order


@pytest.mark.parametrize("kind", list(Kind))
def test_every_question_of_a_kind_has_its_field_in_its_order_and_nothing_is_chosen(sign_in: SignIn, kind: Kind) -> None:
    page = look(sign_in("kowal"), f"{K}{kind}/")
    names = [one.attributes["name"] for one in page.elements if one.attributes.get("name")]
    asked = [one.key for one in questions(kind)]
    assert [name for name in dict.fromkeys(names) if name in asked] == asked
    form = page.form()
    assert {name: words for name, words in form.items() if name in asked and words} == {}


def test_the_row_that_was_tapped_is_the_injection(sign_in: SignIn) -> None:
    client = sign_in("kowal")
    assert look(client, f"{K}late/?of=hcg").form()["injection"] == "hcg"
    assert "injection" not in look(client, f"{K}late/?of=third").form()
    assert "missed" not in look(client, f"{K}one-of-two/?of=hcg").form()


def test_the_board_leads_to_it_from_every_row(sign_in: SignIn) -> None:
    page = look(sign_in("kowal"), "/night/")
    assert f"{K}?of=hcg" in page.links()
    rows = [one for one in page.elements if one.has_class("turn")]
    assert len([one for one in page.links() if "/trouble/" in one]) == len(rows)


def test_a_report_is_corrected_by_another_with_its_words_before_her(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("kowal")
    told(client, "wrong-mark", **FACTS)
    form = look(client, f"{K}wrong-mark/?after={the_last(site)}").form()
    assert (form["drawn"], form["at"], form["symptoms"]) == ("0.3 mL", "2026-11-18 21:00", "no")
    again = client.post(f"{K}wrong-mark/", form | {"drawn": "0.25 mL"})
    assert number_lines(look(client, again["Location"]))["Went in"] == "1,250 units, 125 % of the order"
    assert len(incidents(site)) == 2
    assert [one.event.happened for one in site.states().case("K-103").problems] == [incidents(site)[-1].happened]
    assert "Open: drawn to another mark" in look(client, f"{K}?of=hcg").main()


def test_more_that_says_nothing_new_is_kept_one_time(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("kowal")
    address = send(client, "wrong-mark", **FACTS)["Location"]
    form = look(client, f"{K}wrong-mark/?after={the_last(site)}").form()
    before = heads(site)
    assert client.post(f"{K}wrong-mark/", form)["Location"] == address
    assert written(site, before) == []


def test_a_time_that_had_not_come_stays_one_to_ask_again_though_more_was_said(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    client = sign_in("kowal")
    page = told(client, "wrong-mark", **FACTS | {"at": "23:50", "symptoms": ""})
    monkeypatch.setattr(work, "instant", lambda: AT_HALF_PAST_ONE)
    form = page.form(f"{K}wrong-mark/") | {"symptoms": "no"}
    answered = look(client, client.post(f"{K}wrong-mark/", form)["Location"])
    assert "trouble-time-future" in answered.main()
    assert "Hours to the slot" not in number_lines(answered)


# The prescriber's one screen


def message(page: Page) -> str:
    return next(one.text for one in page.elements if one.attributes.get("id") == "message")


def test_the_message_holds_the_numbers_the_window_and_what_needs_a_yes(sign_in: SignIn) -> None:
    words = message(told(sign_in("kowal"), "wrong-mark", **FACTS))
    for part in (
        "Case K-103",
        "drawn 0.3 mL",
        "1,000 units, subcutaneous, 36 h before the slot (35 h to 37 h allowed)",
        "Went in: 1,500 units, 150 % of the order",
        "Hours to the slot: 36 h",
        "Your yes or no, please:",
        "Nothing is given, repeated or moved before you have said so.",
    ):
        assert part in words
    assert len(words.splitlines()) <= 26
    assert "Z. Q." not in words
    assert "own words" not in words


def test_the_message_holds_the_callers_own_words_as_they_were_said(sign_in: SignIn) -> None:
    own = "I pulled it to 0.3; not 0.2: sorry"
    words = message(told(sign_in("kowal"), "wrong-mark", **FACTS | {"words": own}))
    assert f"In her own words: \u201c{own}\u201d" in words.splitlines()


def test_what_an_earlier_call_used_is_not_counted_as_unopened(sign_in: SignIn) -> None:
    """Four unit syringes at home: the agonist at 0.8 mL took one, this takes one, and the call before said that it took two."""
    client = sign_in("kowal")
    told(client, "repeated", symptoms="no", injection="agonist", at="20:50", times="2", all="yes")
    unopened = number_lines(told(client, "wrong-mark", **FACTS))["Unopened at home"]
    assert 'if the call before, "injected more than one time", used 2 for agonist' in unopened


@pytest.mark.parametrize(
    ("kind", "typed"),
    [
        ("wrong-mark", {"at": "21:00", "drawn": "0.3"}),
        ("missed", {}),
        ("water-only", {"at": "21:00"}),
        ("partial", {"at": "21:00", "lost": "half"}),
        ("repeated", {"at": "21:00", "times": "2", "all": "yes"}),
    ],
)
def test_no_page_names_a_dose_that_was_neither_ordered_nor_reported(
    sign_in: SignIn, kind: str, typed: dict[str, str]
) -> None:
    """The options at the end are acts that need a yes: not one number, drug or route stands in them."""
    words = message(told(sign_in("kowal"), kind, symptoms="no", injection="hcg", **typed))
    options = words.partition("Your yes or no, please:")[2]
    assert options
    for line in options.splitlines():
        assert not re.search(r"[0-9]", re.sub(r"^[0-9]\. ", "", line)), line
        assert not re.search(r"unit|mg|mL|gonadotropin|leuprolide|subcutaneous|muscular", line), line


def test_a_new_order_goes_the_ordinary_road(sign_in: SignIn) -> None:
    assert "/cases/K-103/order/" in told(sign_in("kowal"), "wrong-mark", **FACTS).links()


# Told, decided, settled


def kept_report(site: Desk) -> int:
    do(site, ReportTrouble("K-103", "hcg", "wrong-mark", tuple(_SAID.items())), "ortiz", LATE)
    return the_last(site)


_SAID = {"symptoms": "no", "injection": "hcg", "at": "2026-11-18 21:00", "drawn": "0.3 mL"}
TELLING = {
    "told": "Dr. L. Aumont",
    "when": "21:33",
    "about": "1,500 of 1,000 units",
    "reply": "draw hCG at eight",
    "reached": "yes",
}
SETTLING = {"decided_by": "Dr. L. Aumont", "decision": "it stays; hCG at eight", "follows": "ring her at 23:15"}


def telling(site: Desk) -> Act:
    entry = kept_report(site)
    page = f"{K}kept/{entry}/"
    return Act(
        "kowal",
        page,
        TELLING,
        ("case/K-103 escalated",),
        to=f"{page}told/",
        leads_to=f"{page}settle/",
        other={"reply": "no answer"},
    )


def settling(site: Desk) -> Act:
    page = f"{K}kept/{kept_report(site)}/settle/"
    return Act(
        "kowal",
        page,
        SETTLING | {"settled": "true"},
        ("case/K-103 incident-noted",),
        leads_to="/night/",
        other={"decision": "x"},
    )


def reporting() -> Act:
    return Act(
        "kowal",
        f"{K}missed/",
        {"symptoms": "no", "injection": "agonist"},
        ("case/K-103 incident-noted",),
        other={"symptoms": "yes"},
    )


def test_whom_when_and_what_they_said_is_on_the_record_and_leads_to_what_was_decided(
    sign_in: SignIn, site: Desk
) -> None:
    act = telling(site)
    look(sign_in("kowal"), act.page)
    client = does_it(sign_in, site, act)
    said = site.states().case("K-103").escalations[-1].event
    assert (said.told, said.injection) == ("Dr. L. Aumont", "hcg")
    assert said.about == "1,500 of 1,000 units (told at 21:33)"
    form = look(client, act.leads_to).form()
    assert (form["decided_by"], form["decision"]) == ("Dr. L. Aumont", "draw hCG at eight")
    assert "draw hCG at eight" in look(client, act.page).main()


def test_the_numbers_are_what_is_told(sign_in: SignIn, site: Desk) -> None:
    form = telling(site).form(sign_in("kowal"))
    assert look(sign_in("kowal"), f"{K}kept/{the_last(site)}/").form(f"{K}kept/{the_last(site)}/told/")["about"] == (
        "drawn to another mark; hcg: went in 1,500 units, 150 % of the order, hours to the slot 36 h"
    )
    assert form["told"] == "Dr. L. Aumont"


@pytest.mark.parametrize("name", ["told", "about", "reply"])
def test_telling_says_all_of_it(sign_in: SignIn, site: Desk, name: str) -> None:
    marks(sign_in, site, telling(site), name, " ", "This was left empty")


def test_a_time_of_telling_that_is_none_is_asked_again(sign_in: SignIn, site: Desk) -> None:
    marks(sign_in, site, telling(site), "when", "late", "is no clock time")


def test_it_stands_on_the_board_until_it_is_settled(sign_in: SignIn, site: Desk) -> None:
    act = settling(site)
    client = sign_in("kowal")

    def row() -> str:
        return look(client, "/night/").by_id("turn-K-103-hcg").text

    assert "PROBLEM" in row()
    assert "drawn to another mark" in row()
    kept_open = replace(act, typed=SETTLING | {"settled": "false"}, writes=("case/K-103 call-noted",))
    does_it(sign_in, site, kept_open)
    assert "PROBLEM" in row()
    assert "Open: drawn to another mark, hcg" in look(client, f"{K}?of=hcg").main()
    note = site.states().case("K-103").notes[-1].event
    assert (note.referred_to, note.advice, note.follow_up) == tuple(SETTLING.values())
    assert "Dr. L. Aumont said: it stays; hCG at eight" in look(client, act.page.removesuffix("settle/")).main()
    does_it(sign_in, site, act)
    assert "PROBLEM" not in row()
    assert "Open:" not in look(client, f"{K}?of=hcg").main()
    noted = incidents(site)[-1]
    assert (noted.decided_by, noted.settled) == ("Dr. L. Aumont", True)
    assert noted.decision == "it stays; hCG at eight; what follows: ring her at 23:15"
    assert "Settled." in look(client, act.page.removesuffix("settle/")).main()


@pytest.mark.parametrize("name", ["decided_by", "decision"])
def test_a_decision_says_whose_and_what(sign_in: SignIn, site: Desk, name: str) -> None:
    act = settling(site)
    marks(sign_in, site, replace(act, typed=SETTLING), name, " ", "This was left empty")


def test_another_trouble_with_it_stays_open(sign_in: SignIn, site: Desk) -> None:
    do(site, ReportTrouble("K-103", "hcg", "late", (("symptoms", "no"),)), "ortiz", LATE)
    act = settling(site)
    client = does_it(sign_in, site, act)
    page = look(client, f"{K}?of=hcg").main()
    assert "Open: injected too late, hcg" in page
    assert "Open: drawn to another mark" not in page


def test_what_is_settled_is_not_settled_again(sign_in: SignIn, site: Desk) -> None:
    act = settling(site)
    client = does_it(sign_in, site, act)
    assert "It is settled already." in look(client, act.page).main()
    answer = client.post(act.page, act.form(client))
    assert answer.status_code == 422
    assert "nothing-changed" in read(answer).summary()


def test_somebody_who_was_not_reached_was_not_told(sign_in: SignIn, site: Desk) -> None:
    act = telling(site)
    does_it(sign_in, site, replace(act, typed=TELLING | {"reached": "no", "reply": "nobody answered"}))
    assert not site.states().case("K-103").escalations[-1].event.reached
    assert "Dr. L. Aumont (not reached)" in look(sign_in("kowal"), act.page).main()
    assert look(sign_in("kowal"), act.leads_to).form()["decided_by"] == ""


def test_whether_they_were_reached_is_never_taken_for_granted(sign_in: SignIn, site: Desk) -> None:
    act = telling(site)
    typed = {name: words for name, words in TELLING.items() if name != "reached"}
    page = refuses(sign_in, site, replace(act, typed=typed))
    assert "Nobody says whether they were reached." in page.summary()


def test_each_act_is_done_one_time(sign_in: SignIn, site: Desk) -> None:
    is_done_once(sign_in, site, telling(site))
    is_done_once(sign_in, site, settling(site))


def test_a_form_that_was_used_is_used_up(sign_in: SignIn, site: Desk) -> None:
    refuses_a_used_key(sign_in, site, telling(site))
    refuses_a_used_key(sign_in, site, settling(site))


def test_a_report_that_comes_twice_is_one(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("kowal")
    act = reporting()
    form = act.form(client)
    before = heads(site)
    first, second = client.post(act.page, form), client.post(act.page, form)
    assert first["Location"] == second["Location"]
    assert written(site, before) == list(act.writes)
    other = client.post(act.page, form | dict(act.other))
    assert other.status_code == 422
    assert "form-used" in read(other).summary()
    assert "symptoms" in read(other).main()


# A few words, and the 62 calls


@pytest.mark.parametrize(
    ("words", "question"),
    [
        ("half of it leaked out", "Some of it ran out again."),
        ("I put in all the water", "I put all the water into the powder."),
        ("se salio la mitad", "Some of it ran out again."),
    ],
)
def test_a_few_words_find_the_call(sign_in: SignIn, words: str, question: str) -> None:
    page = look(sign_in("kowal"), f"{K}?of=hcg&words={words.replace(' ', '+')}")
    assert page.shown("words") == words
    assert question in page.main()


def test_words_of_danger_come_before_everything(sign_in: SignIn) -> None:
    page = look(sign_in("kowal"), f"{K}?words=she+cannot+breathe+and+the+plunger+came+out")
    assert "emergency services first" in page.main().partition("What happened")[0]
    assert page.texts("h2")[0] == "This may be a sign of danger: emergency services first"


def test_words_that_nobody_knows_are_said(sign_in: SignIn) -> None:
    page = look(sign_in("kowal"), f"{K}?words=xyzzyq")
    assert "None is found" in page.main()
    assert "xyzzyq" in page.main()


@pytest.mark.parametrize("one", calls(), ids=lambda one: one.id)
def test_every_call_has_its_page_with_sentences_and_sources(sign_in: SignIn, one: Any) -> None:
    client = sign_in("kowal")
    page = look(client, f"{K}call/{one.id}/?of=hcg")
    assert one.question in page.main()
    for sentence in one.say:
        assert f"{sentence.text} [{sentence.source}]" in page.main()
    for never in one.never:
        assert never in page.main()
    assert one.red_flag == ("Emergency services first" in page.texts("h2"))
    leads_to_numbers = any("/trouble/number/" in link for link in page.links())
    assert leads_to_numbers == (one.sort is Sort.COMPUTED and isinstance(one.kind, Asked))
    facts = [link for link in page.links() if re.search(r"/trouble/[a-z-]+/\?", link)]
    assert bool(facts)
    if one.sort is not Sort.COMPUTED:
        said = " ".join(element.text for element in page.elements if element.name == "li")
        assert not re.search(r"[0-9](?: ?(?:units|mg|mL|mcg|h)\b)", re.sub(r"\[[^]]*\]", "", said))


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ("mark", "mark 20 (0.2 mL)"),
        ("minute", "9:00 pm (21:00)"),
        ("window", "from Wed 18 Nov 20:00 to Wed 18 Nov 22:00 on her clock"),
        ("fasting", "Fri 20 Nov 01:00, 8 h before the slot (signed rule)"),
        ("second-dose", "The order has no such thing"),
        ("pen", "no pen is in the plan"),
    ],
)
def test_what_is_asked_before_anything_went_wrong_comes_from_her_plan(sign_in: SignIn, asked: str, words: str) -> None:
    """09:00 less 37 h and 35 h are 20:00 and 22:00; less 8 h is 01:00; 1,000 of 10,000 units in 2 mL are 0.2 mL."""
    assert words in look(sign_in("kowal"), f"{K}number/{asked}/").main()


def test_all_that_can_be_asked_has_its_page() -> None:
    assert {"mark", "minute", "window", "fasting", "second-dose", "pen"} == set(Asked)


# The words in the record


@pytest.mark.parametrize("kind", [*Kind, DANGER, ELSE])
def test_a_report_reads_back_as_it_was_kept(kind: str) -> None:
    said = {"symptoms": "no", "at": "2026-11-18 21:00 first to 2026-11-18 22:00", "words": "a; b: c;  d"}
    words = report_words(kind, said | {"kept": " "})
    assert read_report(words) == (str(kind), {**said, "words": "a; b: c; d"})
    assert words.startswith(KIND_WORDS[Kind(kind)] if kind in set(Kind) else kind)


@pytest.mark.parametrize("words", ["the vial fell", "", "injected too late;\nwithout a key"])
def test_another_incident_is_no_report(words: str) -> None:
    assert read_report(words) is None


def test_an_incident_written_otherwise_has_no_such_page(sign_in: SignIn, site: Desk) -> None:
    do(site, NoteIncident("K-103", "hcg", "the vial fell", "nobody yet", "nothing yet", False), "kowal", LATE)
    do(site, Escalate("K-103", "hcg", "x", "y", "z"), "kowal", LATE)
    client = sign_in("kowal")
    for entry in (the_last(site), the_last(site) + 1, 9999):
        for end in ("", "settle/"):
            assert client.get(f"{K}kept/{entry}/{end}").status_code == 404


# A sign of danger, and something else


def test_every_sign_of_danger_stands_above_what_happened(sign_in: SignIn) -> None:
    above = look(sign_in("kowal"), K).main().partition("What happened")[0]
    for flag in RED_FLAGS:
        assert flag[1:] in above


def test_a_sign_of_danger_is_one_tap_and_is_kept(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("kowal")
    form = look(client, f"{K}?of=hcg&words=cannot+breathe").form(f"{K}danger/")
    before = heads(site)
    answer = client.post(f"{K}danger/", form)
    assert written(site, before) == ["case/K-103 incident-noted"]
    assert "Emergency services first" in look(client, answer["Location"]).main()
    assert read_report(incidents(site)[-1].happened) == (
        DANGER,
        {"symptoms": "yes", "injection": "hcg", "words": "cannot breathe"},
    )
    assert incidents(site)[-1].injection == "hcg"


def test_something_else_is_kept_and_nothing_is_worked_out(sign_in: SignIn, site: Desk) -> None:
    page = told(sign_in("kowal"), "other", symptoms="no", injection="hcg", words="the cat ate the box")
    assert "tell the prescriber in her own words" in page.main()
    assert "the cat ate the box" in page.main()
    assert read_report(incidents(site)[-1].happened) == (
        ELSE,
        {"symptoms": "no", "injection": "hcg", "words": "the cat ate the box"},
    )


def test_something_else_is_asked_about_danger_as_well(sign_in: SignIn) -> None:
    client = sign_in("kowal")
    assert "Ask this first" in told(client, "other", words="x").main()
    assert "Emergency services first" in told(client, "other", symptoms="yes").main()


@pytest.mark.parametrize("typed", [{"injection": "third"}, {"injection": "../x"}, {"injection": "' or 1"}])
def test_an_injection_that_is_none_of_hers_is_kept_as_words_alone(
    sign_in: SignIn, site: Desk, typed: dict[str, str]
) -> None:
    client = sign_in("kowal")
    page = told(client, "wrong-mark", **FACTS | typed)
    assert incidents(site)[-1].injection is None
    assert typed["injection"] in incidents(site)[-1].happened
    assert "is no injection of this order" in page.main()
    assert client.get("/night/").status_code == 200


@pytest.mark.parametrize("address", ["nothing/", "call/C99/", "number/nothing/", "kept/1/"])
def test_what_is_none_has_no_page(sign_in: SignIn, address: str) -> None:
    assert sign_in("kowal").get(K + address).status_code == 404


# Who may


LOOKS = (K, "/cases/K-103/trouble/call/C12/", f"{K}number/mark/", f"{K}kept/9/")
FORMS = (f"{K}wrong-mark/", f"{K}kept/9/settle/")
SENDS = ("/cases/K-103/trouble/danger/", f"{K}kept/9/told/")


@pytest.mark.parametrize("who", ["devi", "brandt"])
def test_it_is_for_nurse_and_prescriber(sign_in: SignIn, site: Desk, who: str) -> None:
    for page in LOOKS:
        is_not_for(sign_in, site, who, page, "GET")
    for page in FORMS:
        is_not_for(sign_in, site, who, page, "GET", "POST")
    for page in SENDS:
        is_not_for(sign_in, site, who, page, "POST")


@pytest.mark.parametrize("page", [*LOOKS, *FORMS])
def test_another_clinic_finds_nothing(sign_in: SignIn, site: Desk, page: str) -> None:
    hides_from_strangers(sign_in, site, page, "GET")


@pytest.mark.parametrize("page", [*FORMS, *SENDS])
def test_another_clinic_sends_nothing(sign_in: SignIn, site: Desk, page: str) -> None:
    hides_from_strangers(sign_in, site, page, "POST")


def test_nobody_comes_in_without_signing_in(client_of_nobody: Client) -> None:
    for page in (*LOOKS, *FORMS):
        sends_to_sign_in(client_of_nobody, page, "GET")


def test_other_methods_are_refused(sign_in: SignIn) -> None:
    client = sign_in("kowal")
    for page in LOOKS:
        knows_only(client, page, "GET")
    for page in FORMS:
        knows_only(client, page, "GET", "POST")
    for page in SENDS:
        knows_only(client, page, "POST")


def test_whoever_has_seen_the_numbers_cannot_check_the_plan_blind(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("kowal")
    do(site, ReportTrouble("K-109", None, "missed", ()), "ortiz", LATE)
    entry = site.states().case("K-109").incidents[-1].seq
    assert client.get("/cases/K-109/trouble/").status_code == 200
    assert client.get("/cases/K-109/trouble/late/").status_code == 200
    assert "A. Kowal" not in site.states().case("K-109").opened_by
    assert client.get(f"/cases/K-109/trouble/kept/{entry}/").status_code == 200
    assert "A. Kowal" in site.states().case("K-109").opened_by
