"""The kit: what is at home, read off the boxes; and what follows from it as it is typed."""

from dataclasses import replace
from typing import Any

import pytest

from hourmark.case.kits import ReadKit
from hourmark.desk import Desk
from tests.case.world import kit
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
    marks,
    refuses,
    refuses_a_used_key,
    refuses_what_is_stale,
    sends_to_sign_in,
    somebody_rings,
    written,
)
from tests.web.seen import look, read, text_of

K = "/cases/K-107/"
PREVIEW = f"{K}kit/preview/"
READ = Act(
    "kowal",
    f"{K}kit/",
    {"products[1].lot": "N107-B", "products[1].words": "nafarelin acetate, “200 mcg” a spray", "how": "photographed"},
    ("case/K-107 kit-read",),
    leads_to=K,
    other={"products[1].lot": "N107-C"},
)


def test_the_kit_is_recorded_as_typed_and_how_it_was_read(sign_in: SignIn, site: Desk) -> None:
    does_it(sign_in, site, READ)
    read_now = site.states().case("K-107").kit
    assert read_now is not None
    box = kit("K-107")["products"][0] | {"lot": "N107-B", "words": "nafarelin acetate, “200 mcg” a spray"}
    assert (read_now.version, read_now.kit, read_now.how) == (2, {"products": [box]}, "photographed")


def test_everything_of_a_kit_stands_on_its_form_and_comes_back_as_it_was(sign_in: SignIn, site: Desk) -> None:
    act = replace(
        READ,
        page="/cases/K-103/kit/",
        typed={"needles[2].gauge": "30", "needles[2].length": "13 mm", "needles[2].count": "4"},
    )
    act = replace(act, writes=("case/K-103 kit-read", "case/K-103 sheet-voided"), leads_to="/cases/K-103/")
    does_it(sign_in, site, act)
    read_now = site.states().case("K-103").kit
    assert read_now is not None
    before = kit("K-103")
    assert read_now.kit == before | {"needles": [*before["needles"], {"gauge": 30, "length": "13 mm", "count": 4}]}


def test_a_box_struck_out_is_not_in_the_kit(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("devi")
    form = look(client, "/cases/K-103/kit/").form()
    form |= {name: "" for name in form if name.startswith("products[1].")}
    assert client.post("/cases/K-103/kit/", form).status_code == 302
    read_now = site.states().case("K-103").kit
    assert read_now is not None
    assert read_now.kit["products"] == kit("K-103")["products"][1:]


def test_a_kit_of_nothing_at_all_can_be_recorded(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("kowal")
    form = {name: "" if "[" in name else value for name, value in READ.form(client).items()}
    assert client.post(READ.address, form).status_code == 302
    read_now = site.states().case("K-107").kit
    assert read_now is not None
    assert read_now.kit == {"products": []}


@pytest.mark.parametrize(
    ("name", "value", "says"),
    [
        ("products[1].product", "nafarelin", "nafarelin"),
        ("products[1].count", "two", "is not a count"),
        ("products[1].expiry", "soon", "is not a date"),
        ("products[1].opened", "today", "is not a date and clock time"),
        ("syringes[1].syringe", "the blue one", "is not a syringe known here"),
        ("needles[1].length", "long", "is not a needle length"),
    ],
)
def test_an_error_stands_beside_its_field(sign_in: SignIn, site: Desk, name: str, value: str, says: str) -> None:
    marks(sign_in, site, READ, name, value, says)


def test_an_error_stands_beside_its_field_also_below_a_row_left_blank(sign_in: SignIn, site: Desk) -> None:
    marks(sign_in, site, READ, "needles[3].length", "long", "is not a needle length")


@pytest.mark.parametrize(
    "case", ["K-101", "K-102", "K-103", "K-104", "K-105", "K-106", "K-107", "K-108", "K-109", "K-110"]
)
def test_a_kit_sent_back_as_it_stands_is_the_kit_that_was_there(sign_in: SignIn, site: Desk, case: str) -> None:
    page = refuses(sign_in, site, replace(READ, page=f"/cases/{case}/kit/", typed={}))
    assert "nothing-changed" in page.summary()


def test_a_kit_with_more_rows_than_usual_loses_none_of_them(sign_in: SignIn, site: Desk) -> None:
    table = kit("K-103")
    table["products"] += [
        table["products"][0] | {"lot": f"C-{place}", "opened": "2026-11-17 08:00"} for place in range(4)
    ]
    table["syringes"] = [{"syringe": "u100-1mL-1", "count": 1, "fixed": True}] * 6
    table["needles"] += [{"gauge": 30, "length": "13 mm", "count": place} for place in range(1, 6)]
    do(site, ReadKit("K-103", table, "seen"), "ortiz")
    page = refuses(sign_in, site, replace(READ, page="/cases/K-103/kit/", typed={}))
    assert "nothing-changed" in page.summary()


def test_the_same_kit_once_more_is_no_change(sign_in: SignIn, site: Desk) -> None:
    page = refuses(sign_in, site, replace(READ, typed={}))
    assert "nothing-changed" in page.summary()


def test_it_is_recorded_one_time_however_often_the_form_is_sent(sign_in: SignIn, site: Desk) -> None:
    is_done_once(sign_in, site, READ)


def test_a_form_that_recorded_a_kit_records_no_other(sign_in: SignIn, site: Desk) -> None:
    refuses_a_used_key(sign_in, site, READ)


def test_a_kit_typed_before_somebody_else_changed_the_case_is_shown_what_happened(sign_in: SignIn, site: Desk) -> None:
    refuses_what_is_stale(sign_in, site, READ, somebody_rings(site, "K-107"), RANG)


@pytest.mark.parametrize("who", ["aumont", "brandt"])
def test_a_kit_is_read_by_nurse_and_pharmacist_alone(sign_in: SignIn, site: Desk, who: str) -> None:
    is_not_for(sign_in, site, who, READ.page, "GET", "POST")
    is_not_for(sign_in, site, who, PREVIEW, "POST")


def test_another_clinic_has_no_such_kit(sign_in: SignIn, site: Desk) -> None:
    hides_from_strangers(sign_in, site, READ.page, "GET", "POST")
    hides_from_strangers(sign_in, site, PREVIEW, "POST")


def test_nobody_comes_in_without_signing_in(client_of_nobody: Any) -> None:
    sends_to_sign_in(client_of_nobody, READ.page, "GET", "POST")
    sends_to_sign_in(client_of_nobody, PREVIEW, "POST")


def test_other_methods_are_refused(sign_in: SignIn) -> None:
    client = sign_in("kowal")
    knows_only(client, READ.page, "GET", "POST")
    knows_only(client, PREVIEW, "POST")


# What follows from it


def test_what_follows_from_the_kit_as_typed_is_shown_and_no_kit_is_recorded(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("kowal")
    form = READ.form(client)
    before = heads(site)
    answer = client.post(PREVIEW, form)
    assert answer.status_code == 200
    assert "<strong>2 sprays</strong>, Wednesday 18 November 2026, 10:30 pm (22:30)" in text_of(answer)
    assert "Nothing is recorded yet" in text_of(answer)
    assert written(site, before) == ["case/K-107 plan-opened"]


def test_a_kit_from_which_nothing_can_be_planned_shows_why(sign_in: SignIn) -> None:
    client = sign_in("kowal")
    form = look(client, "/cases/K-103/kit/").form()
    form |= {name: "" for name in form if name.startswith("syringes")}
    words = text_of(client.post("/cases/K-103/kit/preview/", form))
    assert "STOP" in words
    assert "mark 20" not in words
    assert "Nothing can be planned: see the stops" in words


def test_a_kit_that_cannot_be_read_shows_what_to_write(sign_in: SignIn) -> None:
    client = sign_in("kowal")
    words = text_of(client.post(PREVIEW, READ.form(client) | {"products[1].expiry": "soon"}))
    assert "products[1].expiry" in words
    assert "is not a date" in words
    assert "sprays" not in words


def test_a_kit_is_recorded_after_a_look_at_what_follows_from_it(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("kowal")
    form = READ.form(client)
    assert client.post(PREVIEW, form).status_code == 200
    before = heads(site)
    answer = client.post(READ.address, form)
    assert (answer.status_code, answer.get("Location")) == (302, K), read(answer).summary()
    assert written(site, before) == ["case/K-107 kit-read"]


def test_whoever_saw_what_follows_cannot_check_it_blind(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("devi")
    client.post(PREVIEW, look(client, READ.page).form())
    form = look(client, f"{K}check/").form() | {
        "entered.agonist.at": "2026-11-18 22:30",
        "entered.agonist.fills[1].mark": "2",
    }
    answer = client.post(f"{K}check/", form)
    assert answer.status_code == 422
    assert "checker-saw-plan" in read(answer).summary()
    keeps(read(answer), {"entered.agonist.at": "2026-11-18 22:30", "entered.agonist.fills[1].mark": "2"})
