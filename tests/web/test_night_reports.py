"""What the nurse writes down in the night: an injection reported by phone, somebody told, a call returned. A report is always kept."""

import re
from dataclasses import replace
from typing import Any

import pytest
from django.contrib.auth import get_user_model
from django.test import Client

from hourmark.case.night import Confirm
from hourmark.case.phone import AskHelp
from hourmark.case.rules import SignRules
from hourmark.case.sheets import VoidSheet
from hourmark.desk import Desk, Done
from hourmark.ledger import Head
from hourmark.store.database import DatabaseStore
from hourmark.web import work
from hourmark.web.models import Member
from tests.case.world import HER_PHONE
from tests.night.worlds import night as clocks_change
from tests.web.conftest import NOW
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

K = "/cases/K-103/night/"
TYPED = {
    "time": "21:04",
    "day": "2026-11-18",
    "amount": "all",
    "remains": "nothing in the syringe",
    "told_by": "she herself",
    "source": "she saw the clock as it went in",
}
GIVEN = Act(
    "kowal", f"{K}agonist/given/", TYPED, ("case/K-103 confirmed",), leads_to="/night/", other={"time": "21:09"}
)
TOLD = Act(
    "kowal",
    f"{K}hcg/told/",
    {"told": "her second number", "about": "silence since 21:00", "reply": "no answer", "reached": "no", "rung": "2"},
    ("case/K-103 escalated",),
    leads_to="/night/",
    other={"reply": "she answered"},
)
LATE = "2026-11-19T03:30:00Z"


@pytest.fixture(autouse=True)
def night(site: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """It is half past nine at the clinic."""
    monkeypatch.setattr(work, "instant", lambda: LATE)


def last_report(site: Desk, case: str = "K-103") -> Any:
    return site.states().case(case).confirmations[-1].event


# An injection reported by phone


def test_a_report_says_when_how_much_what_is_left_and_who_says_so(sign_in: SignIn, site: Desk) -> None:
    client = does_it(sign_in, site, GIVEN)
    kept = last_report(site)
    assert (kept.injection, kept.reported, kept.zone) == ("agonist", "2026-11-18 21:04", "America/Chicago")
    assert (kept.instant, kept.amount, kept.remains) == ("2026-11-19T03:04:00Z", "all", "nothing in the syringe")
    assert (kept.told_by, kept.source, kept.sheet, kept.doubts) == (TYPED["told_by"], TYPED["source"], 1, ())
    assert "GIVEN 21:04" in look(client, "/night/").main()


def test_the_board_leads_to_it_in_one_tap(sign_in: SignIn) -> None:
    assert GIVEN.page in look(sign_in("kowal"), "/night/").links()


def test_nothing_is_chosen_for_her(sign_in: SignIn) -> None:
    form = look(sign_in("kowal"), GIVEN.page).form()
    assert {name: form.get(name, "") for name in ("time", "amount", "remains", "told_by", "source")} == dict.fromkeys(
        ("time", "amount", "remains", "told_by", "source"), ""
    )


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"time": "22:30"}, "time-future"),
        ({"time": "14:00"}, "before-release"),
        ({"amount": "other", "amount_words": "1.2 mL"}, "more-than-held"),
        ({"amount": "other", "amount_words": "she does not know"}, "not-all"),
    ],
)
def test_what_is_doubtful_is_kept_and_asked_at_once(
    sign_in: SignIn, site: Desk, change: dict[str, str], code: str
) -> None:
    client = sign_in("kowal")
    before = heads(site)
    answer = client.post(GIVEN.page, GIVEN.form(client) | change)
    assert answer.status_code == 200
    assert written(site, before) == ["case/K-103 confirmed"]
    assert code in last_report(site).doubts
    page = read(answer)
    assert "Kept. Ask her now" in page.main()
    assert code in page.main()


def test_a_report_on_a_void_page_is_kept_and_flagged(sign_in: SignIn, site: Desk) -> None:
    do(site, VoidSheet("K-103", 1, "a smudge"), "kowal", "2026-11-19T02:00:00Z")
    client = sign_in("kowal")
    answer = client.post(GIVEN.page, GIVEN.form(client) | {"sheet": "1"})
    assert "she followed a page that was void" in text_of(answer).lower()
    assert (last_report(site).sheet, last_report(site).doubts) == (1, ("sheet-void",))


def test_a_report_of_another_minute_is_kept_beside_the_first(sign_in: SignIn, site: Desk) -> None:
    client = does_it(sign_in, site, GIVEN)
    answer = client.post(GIVEN.page, GIVEN.form(client) | {"time": "21:20"})
    assert "reports-differ" in text_of(answer)
    assert len(site.states().case("K-103").confirmations) == 2


def test_the_same_minute_from_two_people_is_one_fact_with_both_sources(sign_in: SignIn, site: Desk) -> None:
    client = does_it(sign_in, site, GIVEN)
    again = client.post(GIVEN.page, GIVEN.form(client) | {"told_by": "her sister"})
    assert again.status_code == 302
    assert [one.event.told_by for one in site.states().case("K-103").confirmations] == ["she herself", "her sister"]
    assert "GIVEN 21:04" in look(client, "/night/").main()


def test_a_report_of_something_on_no_page_of_hers_is_no_address(sign_in: SignIn, site: Desk) -> None:
    before = heads(site)
    for method in ("GET", "POST"):
        assert sign_in("kowal").generic(method, f"{K}third/given/").status_code == 404
        assert sign_in("kowal").generic(method, f"{K}third/told/").status_code == 404
    assert heads(site) == before


@pytest.mark.parametrize("name", ["time", "told_by", "source", "remains"])
def test_a_report_says_all_of_it(sign_in: SignIn, site: Desk, name: str) -> None:
    marks(sign_in, site, GIVEN, name, " ", "Enter ")


@pytest.mark.parametrize("time", ["nine", "25:00", "21.04", "9pm", "21:60", "-1:00", "she fell asleep"])
def test_a_time_that_is_none_is_kept_as_it_was_said_and_asked_again(sign_in: SignIn, site: Desk, time: str) -> None:
    client = sign_in("kowal")
    answer = client.post(GIVEN.page, GIVEN.form(client) | {"time": time})
    assert "time-unreadable" in text_of(answer)
    assert last_report(site).reported == f"2026-11-18 {time}"
    assert "PROBLEM" in look(client, "/night/").by_id("turn-K-103-agonist").text


def test_that_nobody_knows_when_is_a_report_of_its_own(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("kowal")
    answer = client.post(GIVEN.page, GIVEN.form(client) | {"time": "", "not_known": "true"})
    assert answer.status_code == 200
    assert (last_report(site).reported, last_report(site).instant) == ("not known", None)
    assert "the time is not known" in look(client, "/night/").by_id("turn-K-103-agonist").text


def test_that_she_has_not_injected_is_a_report_too(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("kowal")
    answer = client.post(GIVEN.page, GIVEN.form(client) | {"amount": "none of it"})
    assert answer.status_code == 200
    assert last_report(site).amount == "none of it"
    row = look(client, "/night/").by_id("turn-K-103-agonist").text
    assert "PROBLEM" in row
    assert "given" not in row.lower().replace("if given at its minute", "")


@pytest.mark.parametrize(
    ("change", "name"),
    [
        ({"not_known": "true"}, "time"),
        ({"amount_words": "a lot leaked out"}, "amount"),
        ({"which": "banana"}, "which"),
        ({"sheet": "v1"}, "sheet"),
        ({"sheet": "9" * 5000}, "sheet"),
        ({"sheet": "0"}, "sheet"),
        ({"sheet": "2"}, "sheet"),
    ],
)
def test_what_says_two_things_or_names_no_page_of_hers_is_asked_before_it_is_kept(
    sign_in: SignIn, site: Desk, change: dict[str, str], name: str
) -> None:
    client = sign_in("kowal")
    before = heads(site)
    answer = client.post(GIVEN.page, GIVEN.form(client) | change)
    assert answer.status_code == 422
    assert written(site, before) == []
    assert ("field-twice" in text_of(answer)) is (name in ("time", "amount"))
    assert client.get("/night/").status_code == 200


@pytest.mark.parametrize("amount", [{"amount": ""}, {"amount": "other", "amount_words": " "}, {"amount": "half"}])
def test_how_much_is_never_taken_for_granted(sign_in: SignIn, site: Desk, amount: dict[str, str]) -> None:
    page = refuses(sign_in, site, replace(GIVEN, typed=TYPED | amount))
    assert "Nobody says how much went in" in page.summary()


@pytest.mark.parametrize("change", [{"day": "2026-13-40"}, {"zone": "Mars/Base"}, {"day": ""}, {"zone": ""}])
def test_what_no_form_sends_is_kept_as_unreadable_and_breaks_nothing(
    sign_in: SignIn, site: Desk, change: dict[str, str]
) -> None:
    client = sign_in("kowal")
    answer = client.post(GIVEN.page, GIVEN.form(client) | change)
    assert answer.status_code in (200, 302, 422)
    assert len(site.states().case("K-103").confirmations) <= 1


def test_it_is_recorded_one_time_however_often_the_form_is_sent(sign_in: SignIn, site: Desk) -> None:
    is_done_once(sign_in, site, GIVEN)


def test_a_form_that_kept_a_report_keeps_no_other(sign_in: SignIn, site: Desk) -> None:
    refuses_a_used_key(sign_in, site, GIVEN)


# Somebody told


def test_who_was_told_of_what_is_on_the_record_and_answers_the_rung(sign_in: SignIn, site: Desk) -> None:
    before = look(sign_in("kowal"), "/night/").by_id("turn-K-103-hcg").text
    assert "owed since 21:25 (line 2 of the ladder)" in " ".join(before.split())
    client = does_it(sign_in, site, TOLD)
    assert "owed since" not in look(client, "/night/").by_id("turn-K-103-hcg").text
    assert "her second number (not reached), silence since 21:00; no answer" in look(client, TOLD.page).main()


def test_it_proposes_whom_the_signed_ladder_names(sign_in: SignIn) -> None:
    assert look(sign_in("kowal"), TOLD.page).form()["told"] == "her second number"


@pytest.mark.parametrize("change", [{"reached": ""}, {"reached": "maybe"}, {"rung": "9"}, {"rung": "x"}])
def test_telling_says_whether_they_were_reached_and_for_which_line(
    sign_in: SignIn, site: Desk, change: dict[str, str]
) -> None:
    refuses(sign_in, site, replace(TOLD, typed={**TOLD.typed, **change}))


def test_a_number_that_nobody_answered_leaves_the_next_line_owed(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    client = does_it(sign_in, site, TOLD)
    monkeypatch.setattr(work, "instant", lambda: "2026-11-19T03:41:00Z")
    row = " ".join(look(client, "/night/").by_id("turn-K-103-hcg").text.split())
    assert "Tell the prescriber on call, owed since 21:40 (line 3 of the ladder)" in row


# A report entered by mistake


def entered_by_mistake(site: Desk) -> Act:
    report = Confirm("K-103", "agonist", "2026-11-18 12:04", "America/Chicago", "she", "her clock", "all", "nothing")
    do(site, report, "kowal", LATE)
    (one,) = site.states().case("K-103").confirmations
    page = f"{K}withdraw/{one.seq}/"
    return Act(
        "kowal",
        page,
        {"why": "12:04 for 21:04"},
        ("case/K-103 confirmation-withdrawn",),
        leads_to="/night/",
        other={"why": "x"},
    )


def test_a_report_entered_by_mistake_counts_no_longer_and_stays_readable(sign_in: SignIn, site: Desk) -> None:
    act = entered_by_mistake(site)
    links = look(sign_in("kowal"), GIVEN.page).links()
    assert act.page in [one for one in links if "/night/withdraw/" in one]
    client = does_it(sign_in, site, act)
    assert site.states().case("K-103").confirmations == ()
    assert "a report was withdrawn: 12:04 for 21:04" in look(client, "/cases/K-103/").main()
    assert client.get(act.page).status_code == 404


def test_it_says_why_it_was_a_mistake(sign_in: SignIn, site: Desk) -> None:
    marks(sign_in, site, entered_by_mistake(site), "why", " ", "Enter ")


def test_it_is_withdrawn_one_time(sign_in: SignIn, site: Desk) -> None:
    is_done_once(sign_in, site, entered_by_mistake(site))


def test_telling_says_whom_of_what_and_what_they_said(sign_in: SignIn, site: Desk) -> None:
    page = refuses(sign_in, site, replace(TOLD, typed=dict.fromkeys(TOLD.typed, " ")))
    assert {"told", "about", "reply"} <= set(page.marked())


def test_it_is_told_one_time(sign_in: SignIn, site: Desk) -> None:
    is_done_once(sign_in, site, TOLD)


def test_a_form_of_telling_is_used_one_time(sign_in: SignIn, site: Desk) -> None:
    refuses_a_used_key(sign_in, site, TOLD)


# A call returned


def asked_for_a_call(site: Desk) -> Act:
    answer = site.perform(AskHelp("K-103", "hcg", "step 4", "I am stuck"), HER_PHONE.at(NOW), "phone-1")
    assert isinstance(answer, Done)
    (waiting,) = site.states().case("K-103").waiting
    page = f"{K}helped/{waiting.seq}/"
    return Act(
        "kowal",
        page,
        {"how": "held the needles up"},
        ("case/K-103 help-given",),
        leads_to="/night/",
        other={"how": "x"},
    )


def test_who_asked_for_a_call_was_answered(sign_in: SignIn, site: Desk) -> None:
    act = asked_for_a_call(site)
    assert "step 4: I am stuck" in look(sign_in("kowal"), act.page).main()
    client = does_it(sign_in, site, act)
    assert site.states().case("K-103").waiting == ()
    assert client.get(act.page).status_code == 404


def test_an_answer_says_what_was_said(sign_in: SignIn, site: Desk) -> None:
    marks(sign_in, site, asked_for_a_call(site), "how", " ", "Enter ")


def test_a_call_is_answered_one_time(sign_in: SignIn, site: Desk) -> None:
    is_done_once(sign_in, site, asked_for_a_call(site))


def test_an_answer_to_nothing_is_refused(sign_in: SignIn, site: Desk) -> None:
    act = asked_for_a_call(site)
    client = sign_in("kowal")
    form = act.form(client)
    does_it(sign_in, site, act)
    answer = client.post(act.page, form | {"key": "another", "how": "again"})
    assert answer.status_code == 422
    assert "nothing-changed" in text_of(answer)


# Who may


PAGES = (GIVEN.page, TOLD.page)


@pytest.mark.parametrize("who", ["devi", "brandt"])
@pytest.mark.parametrize("page", [*PAGES, f"{K}helped/3/", f"{K}withdraw/3/"])
def test_it_is_for_nurse_and_prescriber(sign_in: SignIn, site: Desk, who: str, page: str) -> None:
    is_not_for(sign_in, site, who, page, "GET", "POST")


@pytest.mark.parametrize("page", [*PAGES, f"{K}helped/3/", f"{K}withdraw/3/"])
def test_another_clinic_finds_nothing(sign_in: SignIn, site: Desk, page: str) -> None:
    hides_from_strangers(sign_in, site, page, "GET", "POST")


def test_nobody_comes_in_without_signing_in(client_of_nobody: Client) -> None:
    for page in PAGES:
        sends_to_sign_in(client_of_nobody, page, "GET", "POST")


def test_other_methods_are_refused(sign_in: SignIn) -> None:
    for page in (*PAGES, f"{K}helped/3/", f"{K}withdraw/3/"):
        knows_only(sign_in("kowal"), page, "GET", "POST")


def test_a_line_of_a_ladder_that_was_signed_anew_since_is_asked_again(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Line 2 was her second number when the form was opened, and is her helper when it is sent."""
    monkeypatch.setattr(work, "instant", lambda: LATE)
    client = sign_in("kowal")
    form = look(client, TOLD.page).form() | dict(TOLD.typed)
    clinic: Any = dict(site.states().rules().clinic)
    first, _, last = clinic["rules"]["ladder"]
    ladder = [first, {"after": "25 min", "tell": "her helper"}, last]
    do(site, SignRules(clinic | {"rules": clinic["rules"] | {"ladder": ladder}}), "brandt", LATE)
    before = heads(site)
    answer = client.post(TOLD.page, form)
    assert answer.status_code == 422
    page = read(answer)
    assert "The ladder was signed anew since this form was opened" in page.main()
    assert page.shown("rung") == ""
    assert written(site, before) == []
    assert client.post(TOLD.page, page.form() | {"rung": "2", "reached": "no"}).status_code == 302
    assert site.states().case("K-103").escalations[-1].event.tell == "her helper"


# Days


def offered(page: Page) -> list[str]:
    return re.findall(r'<option value="(2026-[\d-]+)"', page.source)


@pytest.mark.parametrize(
    ("now", "days"),
    [
        ("2026-11-19T03:30:00Z", ["2026-11-18", "2026-11-17"]),
        ("2026-11-19T05:59:59Z", ["2026-11-18", "2026-11-17"]),
        ("2026-11-19T06:00:00Z", ["2026-11-18", "2026-11-19", "2026-11-17"]),
        ("2026-11-18T22:25:00Z", ["2026-11-18", "2026-11-17"]),
        ("2026-11-24T15:00:00Z", ["2026-11-18", "2026-11-19", "2026-11-17", "2026-11-24", "2026-11-23"]),
    ],
)
def test_no_day_is_offered_that_is_still_to_come(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch, now: str, days: list[str]
) -> None:
    """K-103 injects on 18 November at 21:00 in Chicago, whose midnight is 06:00 in UTC."""
    monkeypatch.setattr(work, "instant", lambda: now)
    assert offered(look(sign_in("kowal"), GIVEN.page)) == days


def test_a_form_that_was_opened_before_midnight_asks_the_day_again_and_keeps_what_is_typed(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(work, "instant", lambda: "2026-11-19T05:50:00Z")
    client = sign_in("kowal")
    form = look(client, GIVEN.page).form() | TYPED
    monkeypatch.setattr(work, "instant", lambda: "2026-11-19T06:05:00Z")
    before = heads(site)
    answer = client.post(GIVEN.page, form | {"time": "0:01"})
    assert answer.status_code == 422
    page = read(answer)
    assert "Midnight has passed since this form was opened" in page.wrong_at("day")
    assert (page.shown("day"), page.shown("time"), page.shown("told_by")) == ("", "0:01", "she herself")
    assert written(site, before) == []
    assert client.post(GIVEN.page, page.form() | {"day": "2026-11-19"}).status_code == 302
    assert site.states().case("K-103").confirmations[-1].event.instant == "2026-11-19T06:01:00Z"


@pytest.mark.parametrize("change", [{"time": "23:58"}, {"time": "0:20"}, {"time": "", "not_known": "true"}])
def test_what_can_only_have_been_before_midnight_is_not_asked_again(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch, change: dict[str, str]
) -> None:
    monkeypatch.setattr(work, "instant", lambda: "2026-11-19T05:50:00Z")
    client = sign_in("kowal")
    form = look(client, GIVEN.page).form() | TYPED | change
    monkeypatch.setattr(work, "instant", lambda: "2026-11-19T06:05:00Z")
    before = heads(site)
    client.post(GIVEN.page, form)
    assert written(site, before) == ["case/K-103 confirmed"]


# The night the clocks go back


@pytest.fixture
def autumn(site: Desk, monkeypatch: pytest.MonkeyPatch) -> tuple[Client, Desk]:
    """A nurse of a clinic in New York, on the night of Saturday 31 October 2026 into Sunday (IANA time-zone database)."""
    tonight = clocks_change("clocks go back")
    store = DatabaseStore("invented")
    heads_there = {one.stream: Head(one.stream, one.seq, one.hash) for one in tonight.entries}
    with store.writing() as record:
        record.write(tonight.entries, list(heads_there.values()))
    user = get_user_model().objects.create_user(username="autumn", password="a long enough password")
    Member.objects.create(user=user, clinic="invented", name="A. Kowal", role="nurse")
    monkeypatch.setattr(work, "instant", lambda: "2026-11-01T08:00:00Z")
    client = Client(SERVER_NAME="localhost")
    client.force_login(user)
    return client, work.desk_of("invented")


def test_in_the_hour_that_happens_twice_it_is_kept_and_asked_which(autumn: tuple[Client, Desk]) -> None:
    client, desk = autumn
    path = "/cases/L-203/night/hcg/given/"
    page = look(client, path)
    assert "In the hour that happens twice" in page.main()
    form = page.form() | TYPED | {"time": "1:40", "day": "2026-11-01"}
    asked = read(client.post(path, form))
    assert "that night the hour happens twice" in asked.main().lower()
    (kept,) = desk.states().case("L-203").confirmations
    assert (kept.event.reported, kept.event.instant) == ("2026-11-01 01:40", None)
    assert "35 h 50 min or 34 h 50 min to the slot" in look(client, "/night/").main()
    answer = client.post(path, asked.form(path) | {"which": "first"})
    assert answer.status_code == 302
    assert "GIVEN 01:40 FIRST" in look(client, "/night/").main()
    assert "35 h 50 min before the slot" in look(client, "/night/").main()


def test_on_another_night_nothing_is_asked_of_it(sign_in: SignIn) -> None:
    assert "which" not in look(sign_in("kowal"), GIVEN.page).form()
