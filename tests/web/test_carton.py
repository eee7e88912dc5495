"""A carton, read by two people: whoever records it is one of them."""

from dataclasses import replace
from typing import Any

import pytest

from hourmark.desk import Desk
from tests.web.manners import (
    RANG,
    Act,
    SignIn,
    does_it,
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
)
from tests.web.seen import look

PRODUCT = "choriogonadotropin-alfa-250mcg-syringe"
K = "/cases/K-110/"
TYPED = {"other": "L. Ortiz", "strength": "250 mcg", "volume": "0.5 mL", "route": "subcutaneous"}
READ = Act(
    "kowal",
    f"{K}kit/{PRODUCT}/carton/",
    TYPED,
    ("case/K-110 carton-checked",),
    leads_to=K,
    other={"volume": "5 mL"},
)


def test_two_people_read_a_carton(sign_in: SignIn, site: Desk) -> None:
    client = does_it(sign_in, site, READ)
    (one,) = site.states().case("K-110").cartons
    assert one.event.readers == ("A. Kowal", "L. Ortiz")
    assert (one.event.product, one.event.strength, one.event.volume, one.event.route) == (
        PRODUCT,
        "250 mcg",
        "0.5 mL",
        "subcutaneous",
    )
    assert f"The carton of {PRODUCT} was read by A. Kowal and L. Ortiz" in look(client, K).main()


def test_the_case_leads_to_the_cartons_of_its_kit(sign_in: SignIn) -> None:
    assert READ.page in look(sign_in("kowal"), K).links()


def test_the_other_reader_is_chosen_among_the_colleagues(sign_in: SignIn) -> None:
    page = look(sign_in("devi"), READ.page)
    others = [
        one.attributes["value"]
        for one in page.elements
        if one.name == "option" and one.within[-1].attributes["name"] == "other"
    ]
    assert "A. Kowal" in others
    assert "M. Devi" not in others
    assert "B. Other" not in others


@pytest.mark.parametrize("other", ["", "A. Kowal", " a. kowal "])
def test_one_person_alone_reads_no_carton(sign_in: SignIn, site: Desk, other: str) -> None:
    page = refuses(sign_in, site, replace(READ, typed={**TYPED, "other": other}))
    assert "carton-readers" in page.summary()
    keeps(page, {name: value for name, value in TYPED.items() if name != "other"})


def test_the_second_reader_is_somebody_who_works_here(sign_in: SignIn, site: Desk) -> None:
    refuses(sign_in, site, replace(READ, typed={**TYPED, "other": "nobody in particular"}))


@pytest.mark.parametrize("name", ["strength", "volume", "route"])
def test_what_was_not_read_is_not_recorded_as_read(sign_in: SignIn, site: Desk, name: str) -> None:
    page = refuses(sign_in, site, replace(READ, typed={**TYPED, name: ""}))
    assert name in page.marked()


def test_a_carton_that_is_not_in_the_kit_is_not_read(sign_in: SignIn, site: Desk) -> None:
    page = refuses(sign_in, site, replace(READ, page=f"{K}kit/hcg-10000-units/carton/"))
    assert "carton-not-there" in page.summary()
    keeps(page, TYPED)


def test_it_is_recorded_one_time_however_often_the_form_is_sent(sign_in: SignIn, site: Desk) -> None:
    is_done_once(sign_in, site, READ)


def test_a_form_that_recorded_a_carton_records_no_other(sign_in: SignIn, site: Desk) -> None:
    refuses_a_used_key(sign_in, site, READ)


def test_a_carton_read_before_somebody_else_changed_the_case_is_shown_what_happened(
    sign_in: SignIn, site: Desk
) -> None:
    refuses_what_is_stale(sign_in, site, READ, somebody_rings(site, "K-110"), RANG)


@pytest.mark.parametrize("who", ["aumont", "brandt"])
def test_cartons_are_read_by_nurse_and_pharmacist_alone(sign_in: SignIn, site: Desk, who: str) -> None:
    is_not_for(sign_in, site, who, READ.page, "GET", "POST")


def test_another_clinic_has_no_such_carton(sign_in: SignIn, site: Desk) -> None:
    hides_from_strangers(sign_in, site, READ.page, "GET", "POST")


def test_nobody_comes_in_without_signing_in(client_of_nobody: Any) -> None:
    sends_to_sign_in(client_of_nobody, READ.page, "GET", "POST")


def test_other_methods_are_refused(sign_in: SignIn) -> None:
    knows_only(sign_in("kowal"), READ.page, "GET", "POST")
