"""The call: the page read out, and what she repeats, field by field."""

from dataclasses import replace
from typing import Any

import pytest

from hourmark.case.kits import ReadKit
from hourmark.case.opening import CloseCase
from hourmark.case.orders import SignOrder
from hourmark.case.sheets import VoidSheet
from hourmark.desk import Desk
from tests.case.world import kit, order
from tests.web.conftest import SECRET_PHONE
from tests.web.manners import (
    RANG,
    Act,
    SignIn,
    do,
    does_it,
    heads,
    hides_from_strangers,
    is_done_once,
    is_not_for,
    keeps,
    knows_only,
    refuses,
    refuses_a_used_key,
    refuses_what_is_stale,
    sends_to_sign_in,
    somebody_rings,
    written,
)
from tests.web.seen import look, read
from tests.web.test_blind import planned_of

K = "/cases/K-107/call/"
SAID = {
    "on_the_line": "she herself",
    "first_identifier": "full name",
    "second_identifier": "date of birth",
    "said.agonist day": "wednesday",
    "said.agonist time": "22:30",
    "said.agonist dose": "400 mcg",
    "said.agonist mark": "2",
    "check_word": "cherry  apple",
}
HEARD = Act(
    "kowal",
    K,
    SAID,
    ("case/K-107 read-back",),
    leads_to="/cases/K-107/release/",
    other={"on_the_line": "her sister"},
)
TRIED = Act(
    "kowal",
    K,
    {"number": "+1 555 0107", "result": "no answer"},
    ("case/K-107 call-tried",),
    to=f"{K}tried/",
    leads_to=K,
    other={"result": "engaged"},
)


# The read-back


def test_the_page_is_there_word_for_word_with_its_check_words_and_the_number_to_ring(
    sign_in: SignIn, site: Desk
) -> None:
    words = planned_of(site, "K-103").made.check_word
    page = look(sign_in("kowal"), "/cases/K-103/call/")
    assert SECRET_PHONE in [one.text for one in page.elements if one.has_class("figure")]
    assert words in page.main()
    script = " ".join(page.texts("pre"))
    assert "9:00 pm" in script
    assert words in script


def test_what_she_repeats_begins_empty(sign_in: SignIn) -> None:
    form = look(sign_in("kowal"), K).form()
    assert {name for name in form if name.startswith("said.")} == {name for name in SAID if name.startswith("said.")}
    assert not any(value for name, value in form.items() if name not in ("key", "seen"))


def test_a_page_read_back_rightly_goes_on_the_record_and_leads_to_the_release(sign_in: SignIn, site: Desk) -> None:
    does_it(sign_in, site, HEARD)
    heard = site.states().case("K-107").read_back
    assert heard is not None
    assert heard.event.on_the_line == "she herself"
    assert heard.event.identified_by == ("full name", "date of birth")
    assert heard.event.old_alarm_deleted is None
    assert all(one.agreed for one in heard.event.fields)


@pytest.mark.parametrize(
    ("name", "value", "right"),
    [
        ("said.agonist mark", "3", "2"),
        ("said.agonist time", "10:30", "22:30"),
        ("said.agonist day", "", "Wednesday"),
        ("check_word", "cherry", "cherry apple"),
    ],
)
def test_what_she_says_wrongly_is_kept_and_shown_with_what_is_right(
    sign_in: SignIn, site: Desk, name: str, value: str, right: str
) -> None:
    client = sign_in("kowal")
    form = HEARD.form(client) | {name: value}
    before = heads(site)
    answer = client.post(K, form)
    assert answer.status_code == 200
    assert written(site, before) == ["case/K-107 read-back"]
    page = read(answer)
    assert "She said something else" in page.main()
    said = f"“{value}”" if value else "nothing"
    called = name.removeprefix("said.").replace("_", " ")
    assert page.texts("li")[-1] == f"{called}: she said {said}, her page says {right}"
    heard = site.states().case("K-107").read_back
    assert heard is not None
    assert [one.said for one in heard.event.fields if not one.agreed] == [value]


@pytest.mark.parametrize("second", ["", "Full name "])
def test_one_thing_that_shows_who_she_is_is_not_enough(sign_in: SignIn, site: Desk, second: str) -> None:
    page = refuses(sign_in, site, replace(HEARD, typed={**SAID, "second_identifier": second}))
    assert "call-identity" in page.summary()
    keeps(page, {**SAID, "second_identifier": second})


def test_somebody_is_on_the_line(sign_in: SignIn, site: Desk) -> None:
    page = refuses(sign_in, site, replace(HEARD, typed={**SAID, "on_the_line": " "}))
    assert "on_the_line" in page.marked()


def test_the_old_alarm_is_deleted_where_there_was_a_page_before(sign_in: SignIn, site: Desk) -> None:
    do(site, VoidSheet("K-103", 1, "smudged"), "ortiz")
    fields = {
        "agonist day": "Wednesday",
        "agonist time": "21:00",
        "agonist dose": "4 mg",
        "agonist mark": "80",
        "hcg day": "Wednesday",
        "hcg time": "21:00",
        "hcg dose": "1,000 units",
        "hcg mark": "20",
    }
    word = " ".join(look(sign_in("kowal"), "/cases/K-103/call/").texts("strong")[0].split())
    typed = {
        "on_the_line": "she herself",
        "first_identifier": "full name",
        "second_identifier": "date of birth",
        **{f"said.{name}": said for name, said in fields.items()},
        "check_word": word,
    }
    act = Act("kowal", "/cases/K-103/call/", typed, ("case/K-103 read-back",), leads_to="/cases/K-103/release/")
    for told in ({}, {"old_alarm": "no"}):
        page = refuses(sign_in, site, replace(act, typed={**typed, **told}))
        assert "old-alarm" in page.summary()
        keeps(page, typed)
    does_it(sign_in, site, replace(act, typed={**typed, "old_alarm": "yes"}))
    heard = site.states().case("K-103").read_back
    assert heard is not None
    assert heard.event.old_alarm_deleted is True


def test_what_was_said_of_the_old_alarm_stays_on_a_page_that_was_refused(sign_in: SignIn, site: Desk) -> None:
    act = replace(HEARD, page="/cases/K-103/call/", typed={"on_the_line": "she herself", "old_alarm": "yes"})
    page = refuses(sign_in, site, act)
    assert page.form()["old_alarm"] == "yes"


def test_nothing_is_read_out_where_nothing_can_be_planned(sign_in: SignIn, site: Desk) -> None:
    do(site, ReadKit("K-103", kit() | {"syringes": []}, "seen"), "ortiz")
    client = sign_in("kowal")
    page = look(client, "/cases/K-103/call/")
    assert "STOP" in page.main()
    assert "Read it to her" not in page.main()
    before = heads(site)
    answer = client.post("/cases/K-103/call/", {"key": "one", "seen": str(before["case/K-103"]), **SAID})
    assert answer.status_code == 422
    assert heads(site) == before


def test_it_is_recorded_one_time_however_often_the_form_is_sent(sign_in: SignIn, site: Desk) -> None:
    is_done_once(sign_in, site, HEARD)


def test_a_form_that_recorded_a_read_back_records_no_other(sign_in: SignIn, site: Desk) -> None:
    refuses_a_used_key(sign_in, site, HEARD)


def test_a_page_that_changed_while_it_was_read_out_is_not_read_back(sign_in: SignIn, site: Desk) -> None:
    refuses_what_is_stale(sign_in, site, HEARD, somebody_rings(site, "K-107"), RANG)


def test_a_colleague_who_opens_the_plan_meanwhile_does_not_spoil_the_call(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("kowal")
    form = HEARD.form(client)
    look(sign_in("brandt"), "/cases/K-107/plan/")
    answer = client.post(K, form)
    assert (answer.status_code, answer.get("Location")) == (302, HEARD.leads_to)


def test_an_order_that_came_while_she_was_on_the_line_is_shown(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("kowal")
    form = HEARD.form(client)
    do(site, SignOrder("K-107", order("K-107") | {"stop": ["follitropin"]}), "aumont")
    before = heads(site)
    answer = client.post(K, form)
    assert answer.status_code == 422
    assert "Dr. L. Aumont: order 2 was signed" in read(answer).summary()
    assert "case/K-107 read-back" not in written(site, before)


# A try


def test_a_try_is_kept_with_its_number_and_what_came_of_it(sign_in: SignIn, site: Desk) -> None:
    client = does_it(sign_in, site, TRIED)
    (one,) = site.states().case("K-107").calls
    assert (one.event.number, one.event.reached, one.event.result) == ("+1 555 0107", False, "no answer")
    assert "+1 555 0107: not reached, no answer" in look(client, K).main()
    assert "(tried 1 times)" in look(client, "/").main()


def test_somebody_who_answered_is_kept_as_reached(sign_in: SignIn, site: Desk) -> None:
    does_it(sign_in, site, replace(TRIED, typed={**TRIED.typed, "reached": "true", "result": "her partner"}))
    (one,) = site.states().case("K-107").calls
    assert one.event.reached


def test_a_try_is_recorded_one_time_however_often_the_form_is_sent(sign_in: SignIn, site: Desk) -> None:
    is_done_once(sign_in, site, TRIED)


def test_a_form_that_recorded_a_try_records_no_other(sign_in: SignIn, site: Desk) -> None:
    refuses_a_used_key(sign_in, site, TRIED)


def test_a_try_that_was_not_recorded_is_never_said_to_be(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("kowal")
    form = TRIED.form(client)
    do(site, CloseCase("K-107", "over"), "ortiz")
    before = heads(site)
    answer = client.post(TRIED.address, form)
    assert answer.status_code == 422
    assert "Case K-107 is closed" in read(answer).summary()
    assert heads(site) == before


def test_a_try_that_names_no_number_is_asked_for_it(sign_in: SignIn, site: Desk) -> None:
    page = refuses(sign_in, site, replace(TRIED, typed={"number": " ", "result": ""}))
    assert "number" in page.marked()


# Who may come


def test_whoever_opens_it_has_seen_the_plan(sign_in: SignIn, site: Desk) -> None:
    look(sign_in("kowal"), K)
    assert site.states().case("K-107").opened_by == {"A. Kowal"}


@pytest.mark.parametrize("who", ["devi", "brandt"])
def test_she_is_rung_by_nurse_and_prescriber_alone(sign_in: SignIn, site: Desk, who: str) -> None:
    is_not_for(sign_in, site, who, K, "GET", "POST")
    is_not_for(sign_in, site, who, TRIED.address, "POST")


def test_another_clinic_rings_nobody_here(sign_in: SignIn, site: Desk) -> None:
    hides_from_strangers(sign_in, site, K, "GET", "POST")
    hides_from_strangers(sign_in, site, TRIED.address, "POST")


def test_nobody_comes_in_without_signing_in(client_of_nobody: Any) -> None:
    for path in (K, TRIED.address):
        sends_to_sign_in(client_of_nobody, path, "GET", "POST")


def test_other_methods_are_refused(sign_in: SignIn) -> None:
    client = sign_in("kowal")
    knows_only(client, K, "GET", "POST")
    knows_only(client, TRIED.address, "POST")
