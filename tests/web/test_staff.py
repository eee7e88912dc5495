"""The staff: everybody sees who works here, the manager enters somebody."""

from typing import Any

import pytest
from django.contrib.auth import get_user_model
from django.test import Client

from hourmark.desk import Desk
from hourmark.web.models import Look, Member
from tests.web.conftest import CLINIC, STAFF
from tests.web.manners import SignIn, heads, is_not_for, knows_only, sends_to_sign_in
from tests.web.seen import Page, look, read

TYPED = {"name": "P. Lindqvist", "username": "lindqvist", "role": "nurse"}


def enter(sign_in: SignIn, **change: str) -> tuple[int, Page]:
    client = sign_in("brandt")
    answer = client.post("/staff/", look(client, "/staff/").form() | TYPED | change)
    return answer.status_code, read(answer)


def password_of(page: Page) -> str:
    (said,) = [one for one in page.elements if one.name == "strong" and one.within[-1].has_class("said")]
    return said.text


@pytest.mark.parametrize("who", [who for who in STAFF if who != "sorel"])
def test_everybody_sees_who_works_here(sign_in: SignIn, who: str) -> None:
    page = look(sign_in(who), "/staff/")
    rows = page.texts("th")[3:]
    assert rows == sorted(name for name, _ in STAFF.values())
    assert "B. Other" not in page.main()
    assert ("Enter somebody" in page.main()) == (who == "brandt")


def test_the_manager_enters_somebody_who_then_signs_in_with_a_password_shown_one_time(
    sign_in: SignIn, site: Desk
) -> None:
    before = heads(site)
    status, page = enter(sign_in)
    assert status == 200
    member = Member.objects.get(clinic=CLINIC, name="P. Lindqvist")
    assert (member.role, member.manager, member.user.username) == ("nurse", False, "lindqvist")
    password = password_of(page)
    assert len(password) >= 20
    assert password not in look(sign_in("brandt"), "/staff/").source
    client = Client(SERVER_NAME="localhost")
    answer = client.post("/accounts/login/", {"login": "lindqvist", "password": password})
    assert (answer.status_code, answer["Location"]) == (302, "/")
    assert client.get("/").status_code == 200
    assert heads(site) == before


@pytest.mark.parametrize("role", ["nurse", "prescriber", "pharmacist", "theatre", "lead"])
def test_every_role_can_be_entered(sign_in: SignIn, site: Desk, role: str) -> None:
    enter(sign_in, role=role)
    assert Member.objects.get(name="P. Lindqvist").role == role


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("name", ""),
        ("name", "   "),
        ("name", "A. Kowal"),
        ("name", "a.  kowal"),
        ("username", ""),
        ("username", "kowal"),
        ("username", "stranger"),
        ("role", ""),
        ("role", "owner"),
    ],
)
def test_what_cannot_be_entered_is_said_beside_its_field(sign_in: SignIn, site: Desk, name: str, value: str) -> None:
    before = Member.objects.count(), get_user_model().objects.count()
    status, page = enter(sign_in, **{name: value})
    assert status == 422
    assert page.marked() == [name]
    assert page.wrong_at(name)
    assert name in page.summary()
    assert {other: page.shown(other) for other in TYPED if other not in (name, "role")} == {
        other: words for other, words in TYPED.items() if other not in (name, "role")
    }
    assert (Member.objects.count(), get_user_model().objects.count()) == before


def test_somebody_is_entered_one_time_however_often_the_form_is_sent(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("brandt")
    form = look(client, "/staff/").form() | TYPED
    first = client.post("/staff/", form)
    second = client.post("/staff/", form)
    assert Member.objects.filter(name="P. Lindqvist").count() == 1
    assert first.status_code == 200
    assert second.status_code == 422
    assert "lindqvist" in read(second).summary()


def test_nobody_else_enters_anybody(sign_in: SignIn, site: Desk) -> None:
    for who in ("kowal", "aumont", "devi", "theatre"):
        is_not_for(sign_in, site, who, "/staff/", "POST")
        client = sign_in(who)
        client.post("/staff/", TYPED)
    assert not Member.objects.filter(name="P. Lindqvist").exists()


def test_another_clinics_manager_enters_their_own(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("stranger")
    client.post("/staff/", look(client, "/staff/").form() | TYPED)
    assert Member.objects.get(name="P. Lindqvist").clinic != CLINIC
    assert "P. Lindqvist" not in look(sign_in("brandt"), "/staff/").main()


def test_a_look_outside_a_role_is_listed_for_the_manager_of_that_clinic_alone(sign_in: SignIn, site: Desk) -> None:
    theatre = Member.objects.get(user__username="theatre")
    Look.objects.create(
        clinic=CLINIC, case="K-103", member=theatre, at="2026-11-18T22:25:00Z", page="case", reason="Dr. Sorel asked"
    )
    words = "Theatre desk looked at K-103: Dr. Sorel asked"
    assert words in look(sign_in("brandt"), "/staff/").main()
    for who in ("kowal", "aumont", "devi", "theatre", "stranger"):
        assert "Dr. Sorel asked" not in look(sign_in(who), "/staff/").source


def test_somebody_who_no_longer_works_here_is_out_at_once(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("kowal")
    assert client.get("/").status_code == 200
    get_user_model().objects.filter(username="kowal").update(is_active=False)
    answer = client.get("/")
    assert (answer.status_code, answer["Location"]) == (302, "/accounts/login/?next=/")


def test_nobody_comes_in_without_signing_in(client_of_nobody: Any) -> None:
    sends_to_sign_in(client_of_nobody, "/staff/", "GET", "POST")


def test_other_methods_are_refused(sign_in: SignIn) -> None:
    knows_only(sign_in("brandt"), "/staff/", "GET", "POST")
