"""Signing in and out: with name and password, for members alone, and no way to open an account by oneself."""

import pytest
from django.contrib.auth import get_user_model
from django.core.cache import cache
from django.test import Client

from hourmark.desk import Desk
from tests.web.manners import SignIn
from tests.web.seen import look, read

RIGHT = {"login": "kowal", "password": "a long enough password"}
LOGIN = "/accounts/login/"


def test_with_name_and_password_one_comes_in(client_of_nobody: Client) -> None:
    form = look(client_of_nobody, LOGIN).form(LOGIN)
    answer = client_of_nobody.post(LOGIN, form | RIGHT)
    assert (answer.status_code, answer["Location"]) == (302, "/")
    assert "A. Kowal, nurse" in look(client_of_nobody, "/").source


def test_one_comes_in_where_one_wanted_to_go(client_of_nobody: Client) -> None:
    first = client_of_nobody.get("/cases/K-103/")
    page = look(client_of_nobody, first["Location"])
    answer = client_of_nobody.post(LOGIN, page.form(LOGIN) | RIGHT)
    assert (answer.status_code, answer["Location"]) == (302, "/cases/K-103/")


@pytest.mark.parametrize("to", ["https://example.org/", "//example.org/", "/\\example.org/", "javascript:alert(1)"])
def test_one_never_leaves_the_site_by_it(client_of_nobody: Client, to: str) -> None:
    answer = client_of_nobody.post(f"{LOGIN}?next={to}", RIGHT | {"next": to})
    assert (answer.status_code, answer["Location"]) == (302, "/")


@pytest.mark.parametrize("wrong", [{"password": "another long password"}, {"login": "nobody-here"}, {"password": ""}])
def test_who_gets_it_wrong_is_told_the_same_whoever_they_are(client_of_nobody: Client, wrong: dict[str, str]) -> None:
    answer = client_of_nobody.post(LOGIN, RIGHT | wrong)
    page = read(answer)
    assert "Not signed in" in page.main()
    assert client_of_nobody.get("/").status_code == 302
    assert RIGHT["password"] not in page.source


def test_a_wrong_name_and_a_wrong_password_are_told_apart_by_nothing(client_of_nobody: Client) -> None:
    name, password = (
        read(client_of_nobody.post(LOGIN, RIGHT | wrong)).summary()
        for wrong in ({"login": "nobody-here"}, {"password": "another long password"})
    )
    assert name == password


def test_guessing_is_slowed_down(client_of_nobody: Client) -> None:
    cache.clear()
    for _ in range(10):
        client_of_nobody.post(LOGIN, RIGHT | {"password": "another long password"})
    answer = client_of_nobody.post(LOGIN, RIGHT)
    assert answer.status_code == 200
    assert "Not signed in" in read(answer).main()
    assert client_of_nobody.get("/").status_code == 302
    cache.clear()


def test_the_session_is_another_after_signing_in(client_of_nobody: Client) -> None:
    client_of_nobody.get(LOGIN)
    client_of_nobody.cookies["hourmark-session"] = "chosenbysomebodyelse"
    client_of_nobody.post(LOGIN, RIGHT)
    assert client_of_nobody.cookies["hourmark-session"].value != "chosenbysomebodyelse"
    assert client_of_nobody.get("/").status_code == 200


def test_nobody_opens_an_account_by_themselves(client_of_nobody: Client) -> None:
    before = get_user_model().objects.count()
    typed = {"username": "intruder", "password1": "a long enough password", "password2": "a long enough password"}
    answer = client_of_nobody.post("/accounts/signup/", typed)
    assert "closed" in read(answer).main().lower()
    assert get_user_model().objects.count() == before


def test_signing_out_takes_a_form_and_ends_the_session(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("kowal")
    assert client.get("/").status_code == 200
    assert client.get("/accounts/logout/").status_code == 200
    assert client.get("/").status_code == 200
    assert client.post("/accounts/logout/").status_code == 302
    assert client.get("/").status_code == 302


def test_a_member_of_no_clinic_sees_no_page_of_any(sign_in: SignIn, site: Desk) -> None:
    for path in ("/", "/cases/K-103/", "/slots/", "/rules/", "/staff/", "/sources/"):
        client = sign_in("nobody")
        answer = client.get(path)
        assert answer.status_code == 403
        page = read(answer)
        assert "This account belongs to no clinic" in page.main()
        assert "K-103" not in page.source


def test_the_form_has_a_label_for_every_field(client_of_nobody: Client) -> None:
    page = look(client_of_nobody, LOGIN)
    assert page.label("login") == "Name to sign in with"
    assert page.label("password") == "Password"
    assert page.control("password")["autocomplete"] == "current-password"


def test_the_passkey_button_needs_no_script_within_the_page(client_of_nobody: Client) -> None:
    page = look(client_of_nobody, LOGIN)
    inline = [one for one in page.elements if one.name == "script" and "src" not in one.attributes]
    assert all(one.attributes.get("type") == "application/json" for one in inline)
