"""The call: the page read out, and what she repeats, field by field."""

from dataclasses import replace
from typing import Any

import pytest

from hourmark.case import events as e
from hourmark.case.calls import TryCall
from hourmark.case.kits import ReadKit
from hourmark.case.opening import CloseCase
from hourmark.case.orders import SignOrder
from hourmark.case.rules import SignRules
from hourmark.case.sheets import VoidSheet
from hourmark.case.sheets import told as is_told
from hourmark.case.state import Kept
from hourmark.desk import Desk
from hourmark.web import work
from hourmark.web.models import Person
from tests.case.world import kit, order
from tests.web.conftest import CLINIC, NOW, SECRET_PHONE
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
    "said.agonist sprays": "2",
    "said.stop 1": "Medroxyprogesterone",
    "said.stop 2": "follitropin",
    "check_word": "dinner  bell",
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


def test_it_asks_for_the_water_and_the_mark_where_there_are_some_and_for_what_she_stops(sign_in: SignIn) -> None:
    asked = [name.removeprefix("said.") for name in look(sign_in("kowal"), "/cases/K-103/call/").form()]
    told = ("day", "time", "dose")
    assert [name for name in asked if name.startswith(("agonist", "hcg", "stop"))] == [
        *(f"agonist {name}" for name in (*told, "mark")),
        *(f"hcg {name}" for name in (*told, "water", "mark")),
        *("stop 1", "stop 2"),
    ]


@pytest.mark.parametrize(("case", "wanted"), [("K-101", "all"), ("K-106", "all of 2"), ("K-105", "all")])
def test_where_all_of_it_is_given_it_asks_for_that_and_for_no_mark(
    sign_in: SignIn, site: Desk, case: str, wanted: str
) -> None:
    planned = planned_of(site, case).to_read_back
    amounts = {name: right for name, right in planned.items() if name.endswith("amount")}
    assert set(amounts.values()) == {wanted}
    assert not [name for name in planned if name.endswith("mark")]
    page = look(sign_in("kowal"), f"/cases/{case}/call/")
    assert {f"said.{name}" for name in amounts} <= set(page.form())
    assert 'all; "all of 2" where she names two; or what she says instead' in page.main(), (
        "the same for one and for two"
    )


def test_a_read_back_of_an_older_form_stays_as_good_as_it_was(sign_in: SignIn, site: Desk) -> None:
    """She was heard while fewer fields were asked for: that page is released without ringing her again."""
    made = planned_of(site, "K-107").made
    told = (
        ("day", "Wednesday"),
        ("time", "22:30"),
        ("dose", "400 mcg"),
        ("mark", "2"),
        ("check word", made.check_word),
    )
    fields = tuple(e.Said(name, right, right, True) for name, right in told)
    heard = e.ReadBack("she herself", ("name", "birthday"), fields, made.check_word, None, made.rests_on)
    state = site.states().case("K-107")
    assert is_told(
        replace(state, read_back=Kept(heard, 99, "2026-11-18T21:00:00Z", "L. Ortiz")), made.rests_on, made.check_word
    )


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
        ("said.agonist sprays", "3", "2"),
        ("said.agonist time", "10:30", "22:30"),
        ("said.agonist day", "", "Wednesday"),
        ("said.stop 1", "progesterone", "medroxyprogesterone"),
        ("said.stop 2", "", "follitropin"),
        ("check_word", "dinner", "dinner bell"),
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
        "hcg water": "2 mL",
        "hcg mark": "20",
        "stop 1": "ganirelix",
        "stop 2": "menotropins",
    }
    word = next(
        " ".join(one.text.split())
        for one in look(sign_in("kowal"), "/cases/K-103/call/").elements
        if one.name == "strong" and one.has_class("figure")
    )
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
    assert "(tried 1 time)" in look(client, "/").main()


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


# A try while a read-back is half typed


def half(client: Any) -> dict[str, str]:
    return look(client, K).form(TRIED.address) | {"on_the_line": "she herself", "said.agonist day": "Wednesday"}


def test_a_try_takes_nothing_of_what_was_typed_of_a_read_back(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("kowal")
    form = half(client) | dict(TRIED.typed)
    before = heads(site)
    answer = client.post(TRIED.address, form)
    assert answer.status_code == 200
    assert written(site, before) == ["case/K-107 call-tried"]
    page = read(answer)
    assert "The attempt is on the record" in page.main()
    keeps(page, {"on_the_line": "she herself", "said.agonist day": "Wednesday", "number": "", "result": ""})
    answer = client.post(K, page.form(TRIED.address) | SAID)
    assert (answer.status_code, answer["Location"]) == (302, HEARD.leads_to)


def test_a_read_back_half_typed_still_tells_what_happened_before_the_try(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("kowal")
    form = half(client) | dict(TRIED.typed)
    do(site, SignOrder("K-107", order("K-107") | {"stop": ["follitropin"]}), "aumont")
    page = read(client.post(TRIED.address, form))
    answer = client.post(K, page.form(TRIED.address) | SAID)
    assert answer.status_code == 422
    assert "Dr. L. Aumont: order 2 was signed" in read(answer).summary()


def test_a_try_that_is_refused_keeps_the_read_back_as_well(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("kowal")
    answer = client.post(TRIED.address, half(client) | {"number": "", "result": "nobody"})
    assert answer.status_code == 422
    page = read(answer)
    assert page.marked() == ["number"]
    keeps(page, {"on_the_line": "she herself", "said.agonist day": "Wednesday", "result": "nobody"})


def test_a_try_and_a_read_back_of_one_form_are_two_acts(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("kowal")
    form = look(client, K).form(TRIED.address)
    assert client.post(TRIED.address, form | dict(TRIED.typed)).status_code == 302
    again = look(client, K).form(TRIED.address)
    assert client.post(K, form | SAID | {"seen": again["seen"]}).status_code == 302


# Not reached


TOLD = Act(
    "kowal",
    K,
    {"told": "the prescriber on call", "reply": "try her sister"},
    ("case/K-107 unreached-told",),
    to="/cases/K-107/call/told/",
    leads_to=K,
    other={"reply": "another reply"},
)


def in_vain(site: Desk, at: str = NOW) -> None:
    do(site, TryCall("K-107", "+1 555 0107", False, "nobody"), "ortiz", at)


def with_numbers(phones: str) -> None:
    Person.objects.create(clinic=CLINIC, case="K-107", initials="P. S.", name="x", born="1991-06-17", phones=phones)


def test_whom_to_tell_at_which_hour_stands_on_the_call_and_on_todays_list(sign_in: SignIn, site: Desk) -> None:
    with_numbers("+1 555 0107\n+1 555 0108")
    in_vain(site)
    client = sign_in("kowal")
    # The rule that the clinic of the example has signed: after 15 min and after 60 min; it is 16:25 there.
    says = (
        "Not reached since 16:25, 1 try. Next number: +1 555 0108. Whom to tell: at 16:40 whoever she said may be told;"
        " at 17:25 the prescriber on call."
    )
    assert says in look(client, K).main()
    assert says in look(client, "/").main()
    assert "+1 555 0107 tried 1 time" in look(client, K).main()
    assert "Not reached: to be told now" not in look(client, "/").main()
    assert "Next number" not in look(client, "/cases/K-107/").main()


def test_once_the_hour_has_come_it_is_chased_until_somebody_was_told(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    in_vain(site)
    monkeypatch.setattr(work, "instant", lambda: "2026-11-18T23:25:00Z")
    client = sign_in("kowal")
    chased = "the prescriber on call, due since 17:25"
    assert chased in look(client, K).main()
    today = look(client, "/").main()
    assert "Not reached: to be told now" in today
    assert "the prescriber on call, since 17:25: K-107" in today
    does_it(sign_in, site, TOLD)
    assert chased not in look(client, K).main()
    assert "the prescriber on call was told." in look(client, K).main()
    assert "the prescriber on call, " not in look(client, "/").main()


def test_without_a_signed_rule_it_is_said_that_there_is_none(sign_in: SignIn, site: Desk) -> None:
    clinic = dict(site.states().rules().clinic)
    signed = {name: value for name, value in clinic["rules"].items() if name != "unreached"}  # type: ignore[union-attr]
    do(site, SignRules({**clinic, "rules": signed}), "brandt")
    in_vain(site)
    page = look(sign_in("kowal"), K).main()
    assert "Nobody has signed a rule that says whom to tell" in page
    assert "Whom to tell" not in page


def test_who_was_told_is_asked_for_and_only_of_somebody_not_reached(sign_in: SignIn, site: Desk) -> None:
    in_vain(site)
    page = refuses(sign_in, site, TOLD, told=" ")
    assert page.marked() == ["told"]
    client = sign_in("kowal")
    form = TOLD.form(client)
    do(site, TryCall("K-107", "+1 555 0107", True, "she herself"), "ortiz")
    before = heads(site)
    answer = client.post(TOLD.address, form)
    assert answer.status_code == 422
    assert "she herself" in read(answer).summary()
    assert heads(site) == before


def test_that_somebody_was_told_is_recorded_one_time(sign_in: SignIn, site: Desk) -> None:
    in_vain(site)
    is_done_once(sign_in, site, TOLD)
    refuses_a_used_key(sign_in, site, replace(TOLD, typed={**TOLD.typed, "reply": "again"}))


def test_who_may_say_that_somebody_was_told(sign_in: SignIn, site: Desk, client_of_nobody: Any) -> None:
    for who in ("devi", "brandt"):
        is_not_for(sign_in, site, who, TOLD.address, "POST")
    hides_from_strangers(sign_in, site, TOLD.address, "POST")
    sends_to_sign_in(client_of_nobody, TOLD.address, "GET", "POST")
    knows_only(sign_in("kowal"), TOLD.address, "POST")


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
