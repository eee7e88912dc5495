"""The order: signed by the prescriber or taken by telephone, countersigned, withdrawn."""

from dataclasses import replace
from typing import Any

import pytest

from hourmark.case import events as e
from hourmark.case.kits import ReadKit
from hourmark.case.opening import OpenCase
from hourmark.case.orders import SignOrder, TelephoneOrder
from hourmark.desk import Desk
from hourmark.web import work
from tests.case.world import kit, order
from tests.web.manners import (
    RANG,
    Act,
    SignIn,
    acts_since,
    do,
    does_it,
    heads,
    hides_from_strangers,
    is_done_once,
    is_not_for,
    keeps,
    knows_only,
    marks,
    refuses,
    refuses_a_used_key,
    refuses_what_is_stale,
    sends_to_sign_in,
    somebody_rings,
    written,
)
from tests.web.seen import look, read

K = "/cases/K-107/"
SIGN = Act(
    "aumont",
    f"{K}order/",
    {"injections[1].dose": "800 mcg", "stop": "medroxyprogesterone\nfollitropin\nletrozole"},
    ("case/K-107 order-signed",),
    leads_to=K,
    other={"injections[1].dose": "400 mcg"},
)
RING = Act(
    "kowal",
    f"{K}order/",
    {
        "signed_by": "Dr. I. Sorel",
        "words": "K one oh seven: make it eight hundred micrograms, same time.",
        "read_back": "true",
        "second_listener": "L. Ortiz",
        "injections[1].dose": "800 mcg",
    },
    ("case/K-107 order-telephoned",),
    leads_to=K,
    other={"words": "something else"},
)
LATER = "2026-11-18T22:26:10Z"
"""The next minute."""


def spoken(site: Desk, case: str = "K-107") -> None:
    """An order taken by telephone, which Dr. Sorel has not signed yet."""
    table = order(case) | {"signed_by": "Dr. I. Sorel", "largest_gap": "5 min"}
    do(site, TelephoneOrder(case, table, "as before, five minutes apart", True), "kowal")


# Signed


def test_the_prescriber_signs_what_was_typed_in_their_own_name_and_now(sign_in: SignIn, site: Desk) -> None:
    does_it(sign_in, site, SIGN)
    standing = site.states().case("K-107").order
    assert standing is not None
    assert isinstance(standing.event, e.OrderSigned)
    assert standing.event.version == 2
    assert standing.event.order == order("K-107") | {
        "signed_by": "Dr. L. Aumont",
        "signed_at": "2026-11-18 16:25",
        "stop": ["medroxyprogesterone", "follitropin", "letrozole"],
        "injections": [order("K-107")["injections"][0] | {"dose": "800 mcg"}],
    }


def test_nobody_signs_in_anothers_name(sign_in: SignIn, site: Desk) -> None:
    does_it(
        sign_in, site, replace(SIGN, typed={**SIGN.typed, "signed_by": "Dr. I. Sorel", "signed_at": "2026-11-18 09:00"})
    )
    standing = site.states().case("K-107").order
    assert standing is not None
    assert (standing.event.order["signed_by"], standing.event.order["signed_at"]) == (
        "Dr. L. Aumont",
        "2026-11-18 16:25",
    )


def test_the_page_that_rested_on_the_old_order_is_void(sign_in: SignIn, site: Desk) -> None:
    act = replace(
        SIGN,
        page="/cases/K-103/order/",
        typed={"largest_gap": "10 min"},
        writes=("case/K-103 order-signed", "case/K-103 sheet-voided"),
        leads_to="/cases/K-103/",
    )
    client = does_it(sign_in, site, act)
    words = look(client, "/cases/K-103/").main()
    assert "VOID" in words
    assert "Version 1, replaced" in words
    assert "Version 2 Signed by Dr. L. Aumont at Wed 18 Nov 16:25" in words


def test_a_first_order_is_written_on_an_empty_form(sign_in: SignIn, site: Desk) -> None:
    do(site, OpenCase("K-201", {"zone": "America/Chicago"}), "kowal")
    page = look(sign_in("aumont"), "/cases/K-201/order/")
    filled = {name for name, value in page.form().items() if value} - {"key", "seen", "purpose"}
    assert filled == set()


# By telephone


def test_who_gave_it_is_chosen_from_those_who_prescribe_here_and_never_filled_in(sign_in: SignIn, site: Desk) -> None:
    spoken(site)
    page = look(sign_in("kowal"), RING.page)
    assert page.shown("signed_by") == ""
    select = next(one for one in page.elements if one.attributes.get("name") == "signed_by")
    inside = [one for one in page.elements if one.name == "option" and select in one.within]
    assert [one.attributes["value"] for one in inside] == ["", "Dr. I. Sorel", "Dr. L. Aumont"]


@pytest.mark.parametrize("name", ["", "A. Kowal", "Dr. Nobody", "dr. i. sorel"])
def test_somebody_who_does_not_prescribe_here_gave_no_order(sign_in: SignIn, site: Desk, name: str) -> None:
    page = refuses(sign_in, site, replace(RING, typed={**RING.typed, "signed_by": name, "injections[1].dose": "800"}))
    assert "order-prescriber" in page.summary()
    assert {"signed_by", "injections[1].dose"} <= set(page.marked())
    assert page.shown("signed_by") == name


def test_a_nurse_takes_it_by_telephone_and_it_awaits_the_signature(sign_in: SignIn, site: Desk) -> None:
    client = does_it(sign_in, site, RING)
    standing = site.states().case("K-107").order
    assert standing is not None
    assert isinstance(standing.event, e.OrderTelephoned)
    assert (standing.event.words, standing.event.second_listener) == (RING.typed["words"], "L. Ortiz")
    assert standing.event.order["signed_by"] == "Dr. I. Sorel"
    assert "words" not in standing.event.order
    assert "read_back" not in standing.event.order
    assert "Awaits the signature of Dr. I. Sorel" in look(client, K).main()
    assert "Telephone orders without a signature" in look(client, "/").main()


def test_a_pharmacist_takes_it_too_and_without_a_second_listener(sign_in: SignIn, site: Desk) -> None:
    does_it(sign_in, site, replace(RING, who="devi", typed={**RING.typed, "second_listener": " "}))
    standing = site.states().case("K-107").order
    assert standing is not None
    assert isinstance(standing.event, e.OrderTelephoned)
    assert standing.event.second_listener is None


@pytest.mark.parametrize("change", [{"read_back": ""}, {"words": "  "}])
def test_what_was_not_written_down_and_read_back_is_no_order(
    sign_in: SignIn, site: Desk, change: dict[str, str]
) -> None:
    page = refuses(sign_in, site, RING, **change)
    assert "telephone-order-unread" in page.summary()
    typed = {**RING.typed, **change}
    checked = typed.pop("read_back")
    keeps(page, typed)
    assert ("checked" in page.control("read_back")) is bool(checked)


# Refused


@pytest.mark.parametrize(
    ("name", "value", "says"),
    [
        ("injections[1].dose", "400 ug", 'Write "400 mcg"'),
        ("injections[1].dose", "400", "400"),
        ("injections[1].lead", "36", "is not a number of hours or minutes"),
        ("injections[1].window[1]", "soon", "is not a number of hours or minutes"),
        ("injections[1].drug", "moonshine", "moonshine"),
        ("injections[1].at", "9 pm", "is not a date and clock time"),
        ("largest_gap", "a while", "is not a number of hours or minutes"),
    ],
)
def test_an_error_stands_beside_its_field(sign_in: SignIn, site: Desk, name: str, value: str, says: str) -> None:
    marks(sign_in, site, SIGN, name, value, says)


def test_a_word_that_no_list_has_is_refused_at_its_field(sign_in: SignIn, site: Desk) -> None:
    page = refuses(sign_in, site, replace(SIGN, typed={**SIGN.typed, "injections[1].route": "by air"}))
    assert "by air" in page.wrong_at("injections[1].route")


@pytest.mark.parametrize(
    "name", ["injections[1].id", "injections[1].drug", "injections[1].dose", "injections[1].route", "purpose"]
)
def test_what_is_missing_is_asked_for_at_its_field(sign_in: SignIn, site: Desk, name: str) -> None:
    page = refuses(sign_in, site, replace(SIGN, typed={**SIGN.typed, name: ""}))
    assert "missing" in page.wrong_at(name)
    assert name in page.summary()


def test_an_order_without_any_injection_is_none(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("aumont")
    form = {name: "" if name.startswith("injections") else value for name, value in SIGN.form(client).items()}
    before = heads(site)
    answer = client.post(SIGN.address, form)
    assert answer.status_code == 422
    assert "injections" in read(answer).summary()
    assert heads(site) == before


def test_an_error_stands_beside_its_field_also_below_an_injection_left_blank(sign_in: SignIn, site: Desk) -> None:
    marks(sign_in, site, SIGN, "injections[3].dose", "soon", "soon")


@pytest.mark.parametrize(
    "case", ["K-101", "K-102", "K-103", "K-104", "K-105", "K-106", "K-107", "K-108", "K-109", "K-110"]
)
def test_an_order_sent_back_as_it_stands_is_the_order_that_was_there(sign_in: SignIn, site: Desk, case: str) -> None:
    told = {"signed_by": order(case)["signed_by"], "words": "as before", "read_back": "true"}
    before = order(case)
    client = sign_in("devi")
    form = look(client, f"/cases/{case}/order/").form() | told
    client.post(f"/cases/{case}/order/", form)
    standing = site.states().case(case).order
    assert standing is not None
    assert standing.event.order | {"signed_at": before["signed_at"]} == before


def test_nothing_of_an_order_is_lost_on_its_form(sign_in: SignIn, site: Desk) -> None:
    first = order("K-107")["injections"][0]
    override = {"by": "Dr. I. Sorel", "reason": "as agreed", "at": "2026-11-18 15:00"}
    more = [
        first | {"id": "second", "override": override, "diluent": "1 mL", "diluent_into": "each"},
        *(first | {"id": f"at-{place}", "at": "2026-11-18 23:00"} for place in range(3)),
        first | {"id": "then", "after": {"injection": "second", "gap": "12 h", "window": ["11 h", "13 h"]}},
    ]
    for one in more[1:]:
        del one["lead"], one["window"]
    table = order("K-107") | {"signed_by": "Dr. I. Sorel", "injections": [first, *more]}
    do(site, SignOrder("K-107", table), "sorel")
    client = sign_in("sorel")
    client.post(SIGN.page, look(client, SIGN.page).form())
    standing = site.states().case("K-107").order
    assert standing is not None
    assert standing.event.order["injections"] == table["injections"]


def test_the_same_order_once_more_is_no_change(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("aumont")
    form = SIGN.form(client)
    client.post(SIGN.address, form)
    again = look(client, SIGN.page).form()
    before = heads(site)
    answer = client.post(SIGN.address, again)
    assert answer.status_code == 422
    assert "nothing-changed" in read(answer).summary()
    assert heads(site) == before


def test_an_order_is_not_the_leads(sign_in: SignIn, site: Desk) -> None:
    is_not_for(sign_in, site, "brandt", SIGN.page, "GET", "POST")


# Late, doubled, changed


@pytest.mark.parametrize("act", [SIGN, RING], ids=["signed", "spoken"])
def test_an_order_is_recorded_one_time_however_often_the_form_is_sent(sign_in: SignIn, site: Desk, act: Act) -> None:
    is_done_once(sign_in, site, act)


@pytest.mark.parametrize("act", [SIGN, RING], ids=["signed", "spoken"])
def test_a_form_sent_again_a_minute_later_is_still_the_same_form(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch, act: Act
) -> None:
    client = sign_in(act.who)
    form = act.form(client)
    before = heads(site)
    client.post(act.address, form)
    monkeypatch.setattr(work, "instant", lambda: LATER)
    answer = client.post(act.address, form)
    assert (answer.status_code, answer.get("Location")) == (302, K)
    assert acts_since(site, before) == 1


@pytest.mark.parametrize("act", [SIGN, RING], ids=["signed", "spoken"])
def test_a_form_that_recorded_an_order_records_no_other(sign_in: SignIn, site: Desk, act: Act) -> None:
    refuses_a_used_key(sign_in, site, act)


@pytest.mark.parametrize("act", [SIGN, RING], ids=["signed", "spoken"])
def test_an_order_written_before_somebody_else_changed_the_case_is_shown_what_happened(
    sign_in: SignIn, site: Desk, act: Act
) -> None:
    refuses_what_is_stale(sign_in, site, act, somebody_rings(site, "K-107"), RANG)


def test_what_happened_meanwhile_is_not_forgotten_over_a_typing_error(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("aumont")
    form = SIGN.form(client)
    table = kit("K-107")
    table["products"][0]["lot"] = "N107-B"
    do(site, ReadKit("K-107", table, "seen"), "ortiz")
    wrong = client.post(SIGN.address, form | {"injections[1].dose": "800 ug"})
    assert wrong.status_code == 422
    answer = client.post(SIGN.address, read(wrong).form() | dict(SIGN.typed))
    assert answer.status_code == 422
    assert "L. Ortiz: kit 2 was read: seen" in read(answer).summary()


def test_a_colleague_who_only_looks_does_not_make_a_form_stale(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("aumont")
    form = SIGN.form(client)
    look(sign_in("devi"), f"{K}plan/")
    answer = client.post(SIGN.address, form)
    assert (answer.status_code, answer.get("Location")) == (302, K)


# Countersigned and withdrawn


def test_the_prescriber_countersigns_what_was_taken_by_telephone(sign_in: SignIn, site: Desk) -> None:
    spoken(site)
    act = Act("sorel", K, {}, ("case/K-107 order-countersigned",), to=f"{K}order/2/countersign/", leads_to=K)
    client = does_it(sign_in, site, act)
    assert "Countersigned by Dr. I. Sorel" in look(client, K).main()
    assert "Telephone orders without a signature" not in look(client, "/").main()


def test_whoever_did_not_give_the_order_does_not_countersign_it(sign_in: SignIn, site: Desk) -> None:
    spoken(site)
    act = Act("aumont", K, {}, (), to=f"{K}order/2/countersign/")
    page = refuses(sign_in, site, act)
    assert "order-by-other" in page.summary()
    assert K in page.links()


def test_an_order_is_countersigned_one_time(sign_in: SignIn, site: Desk) -> None:
    spoken(site)
    act = Act("sorel", K, {}, ("case/K-107 order-countersigned",), to=f"{K}order/2/countersign/", leads_to=K)
    is_done_once(sign_in, site, act)
    answer = sign_in("sorel").post(act.address, {"key": "another"})
    assert answer.status_code == 422
    assert "nothing-changed" in read(answer).summary()


@pytest.mark.parametrize("version", [1, 9])
def test_what_awaits_no_signature_is_not_countersigned(sign_in: SignIn, site: Desk, version: int) -> None:
    before = heads(site)
    answer = sign_in("aumont").post(f"{K}order/{version}/countersign/", {"key": "one"})
    assert answer.status_code == 422
    assert heads(site) == before


def test_the_prescriber_withdraws_an_order_and_its_page_is_void(sign_in: SignIn, site: Desk) -> None:
    before = heads(site)
    client = sign_in("aumont")
    answer = client.post("/cases/K-103/order/1/withdraw/", {"key": "gone", "why": "the wrong case"})
    assert (answer.status_code, answer["Location"]) == (302, "/cases/K-103/")
    assert written(site, before) == ["case/K-103 order-withdrawn", "case/K-103 sheet-voided"]
    words = look(client, "/cases/K-103/").main()
    assert "Version 1, withdrawn" in words
    assert "Owed next: an order" in words
    assert client.post("/cases/K-103/order/1/withdraw/", {"key": "gone", "why": "the wrong case"}).status_code == 302
    assert acts_since(site, before) == 1
    other = client.post("/cases/K-103/order/1/withdraw/", {"key": "gone", "why": "another reason"})
    assert other.status_code == 422
    assert "form-used" in read(other).summary()


def test_the_prescriber_finds_on_the_case_how_to_withdraw_its_order(sign_in: SignIn) -> None:
    page = look(sign_in("aumont"), K)
    assert f"{K}order/1/withdraw/" in [form.action for form in page.forms]


@pytest.mark.parametrize("what", ["countersign", "withdraw"])
def test_only_prescribers_countersign_and_withdraw(sign_in: SignIn, site: Desk, what: str) -> None:
    for who in ("kowal", "devi", "brandt"):
        is_not_for(sign_in, site, who, f"{K}order/1/{what}/", "POST")


# Who may come


def test_another_clinic_sees_no_order_here(sign_in: SignIn, site: Desk) -> None:
    hides_from_strangers(sign_in, site, f"{K}order/", "GET", "POST")
    for what in ("countersign", "withdraw"):
        hides_from_strangers(sign_in, site, f"{K}order/1/{what}/", "POST")


def test_nobody_orders_without_signing_in(client_of_nobody: Any) -> None:
    for path in (f"{K}order/", f"{K}order/1/countersign/", f"{K}order/1/withdraw/"):
        sends_to_sign_in(client_of_nobody, path, "GET", "POST")


def test_other_methods_are_refused(sign_in: SignIn) -> None:
    client = sign_in("aumont")
    knows_only(client, f"{K}order/", "GET", "POST")
    knows_only(client, f"{K}order/1/countersign/", "POST")
    knows_only(client, f"{K}order/1/withdraw/", "POST")


def test_an_order_before_the_rules_are_signed_is_refused_in_words(sign_in: SignIn) -> None:
    client = sign_in("stranger")
    form = look(client, "/cases/X-1/order/").form() | dict(RING.typed)
    answer = client.post("/cases/X-1/order/", form)
    assert answer.status_code == 422
    assert read(answer).summary()
