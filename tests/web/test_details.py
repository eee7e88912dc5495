"""The details: what a plan rests on beside slot, order and kit."""

from dataclasses import replace
from typing import Any

import pytest

from hourmark.case.opening import ChangeDetails
from hourmark.desk import Desk
from tests.case.world import details
from tests.web.manners import (
    RANG,
    Act,
    SignIn,
    do,
    does_it,
    hides_from_strangers,
    is_done_once,
    is_not_for,
    knows_only,
    marks,
    refuses,
    refuses_a_used_key,
    refuses_what_is_stale,
    sends_to_sign_in,
    somebody_rings,
)
from tests.web.seen import look

K = "/cases/K-107/"
TRAVELS = Act(
    "kowal",
    f"{K}details/",
    {
        "details.zone": "America/Denver",
        "details.allergies": "latex\npenicillin",
        "details.helper": "Her sister",
        "details.bmi": "24.5",
        "details.follicles": "14",
        "details.last_antagonist.drug": "ganirelix",
        "details.last_antagonist.at": "2026-11-18 08:00",
        "why": "she is at her sister's tonight",
    },
    ("case/K-107 details-changed",),
    leads_to=K,
    other={"details.zone": "America/Phoenix"},
)


def test_the_details_change_as_typed_and_the_reason_is_kept(sign_in: SignIn, site: Desk) -> None:
    client = does_it(sign_in, site, TRAVELS)
    assert site.states().case("K-107").details == details("K-107") | {
        "zone": "America/Denver",
        "allergies": ["latex", "penicillin"],
        "helper": "Her sister",
        "bmi": "24.5",
        "follicles": 14,
        "last_antagonist": {"drug": "ganirelix", "at": "2026-11-18 08:00"},
    }
    assert "the details changed: she is at her sister's tonight" in look(client, K).main()


def test_a_tick_is_kept_and_can_be_taken_away(sign_in: SignIn, site: Desk) -> None:
    ticked = replace(TRAVELS, typed={"details.left_handed": "true", "why": "asked"})
    client = does_it(sign_in, site, ticked)
    assert site.states().case("K-107").details["left_handed"] is True
    form = look(client, TRAVELS.page).form()
    assert form.pop("details.left_handed") == "true"
    assert client.post(TRAVELS.page, form).status_code == 302
    assert "left_handed" not in site.states().case("K-107").details


def test_the_page_that_rested_on_them_is_void(sign_in: SignIn, site: Desk) -> None:
    act = replace(
        TRAVELS,
        page="/cases/K-103/details/",
        writes=("case/K-103 details-changed", "case/K-103 sheet-voided"),
        leads_to="/cases/K-103/",
    )
    client = does_it(sign_in, site, act)
    assert "VOID" in look(client, "/cases/K-103/").main()


@pytest.mark.parametrize(
    ("name", "value", "says"),
    [
        ("details.zone", "Chicago", "is not an Area/City name"),
        ("details.language", "fr", "is not one of the words"),
        ("details.bmi", "fat", "is not a value"),
        ("details.follicles", "many", "is not a count"),
        ("details.e2", "1,000", "is not a value"),
        ("details.lh", "low", "is not a value"),
        ("details.last_antagonist.drug", "gani", "is not the full generic name"),
        ("details.last_antagonist.at", "breakfast", "is not a date and clock time"),
    ],
)
def test_an_error_stands_beside_its_field(sign_in: SignIn, site: Desk, name: str, value: str, says: str) -> None:
    marks(sign_in, site, TRAVELS, name, value, says)


def test_an_error_in_one_line_of_a_list_stands_beside_the_list(sign_in: SignIn, site: Desk) -> None:
    marks(sign_in, site, TRAVELS, "details.allergies", "latex\n" + "x" * 500, "too long")


def test_the_same_details_once_more_are_no_change(sign_in: SignIn, site: Desk) -> None:
    page = refuses(sign_in, site, replace(TRAVELS, typed={"why": "nothing"}))
    assert "nothing-changed" in page.summary()


def test_nothing_of_them_is_lost_on_their_form(sign_in: SignIn, site: Desk) -> None:
    whole = details("K-103") | {
        "helper": "Her sister",
        "allergies": ["latex", "penicillin"],
        "weight": "61 kg",
        "bmi": "23.1",
        "e2": "2,100 pg/mL",
        "language": "es",
        "left_handed": True,
    }
    do(site, ChangeDetails("K-107", whole, "asked"), "ortiz")
    page = refuses(sign_in, site, replace(TRAVELS, typed={}))
    assert "nothing-changed" in page.summary()


def test_they_change_one_time_however_often_the_form_is_sent(sign_in: SignIn, site: Desk) -> None:
    is_done_once(sign_in, site, TRAVELS)


def test_a_form_that_changed_them_changes_nothing_else(sign_in: SignIn, site: Desk) -> None:
    refuses_a_used_key(sign_in, site, TRAVELS)


def test_details_typed_before_somebody_else_changed_the_case_are_shown_what_happened(
    sign_in: SignIn, site: Desk
) -> None:
    refuses_what_is_stale(sign_in, site, TRAVELS, somebody_rings(site, "K-107"), RANG)


@pytest.mark.parametrize("who", ["devi", "brandt"])
def test_they_are_changed_by_nurse_and_prescriber_alone(sign_in: SignIn, site: Desk, who: str) -> None:
    is_not_for(sign_in, site, who, TRAVELS.page, "GET", "POST")


def test_another_clinic_has_no_such_details(sign_in: SignIn, site: Desk) -> None:
    hides_from_strangers(sign_in, site, TRAVELS.page, "GET", "POST")


def test_nobody_comes_in_without_signing_in(client_of_nobody: Any) -> None:
    sends_to_sign_in(client_of_nobody, TRAVELS.page, "GET", "POST")


def test_other_methods_are_refused(sign_in: SignIn) -> None:
    knows_only(sign_in("kowal"), TRAVELS.page, "GET", "POST")
