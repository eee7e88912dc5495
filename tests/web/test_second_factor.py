"""The second factor: where it is asked for, nothing opens for whoever has none, except what it takes to set one up."""

from collections.abc import Iterator
from typing import Any

import pytest
from allauth.mfa.models import Authenticator
from allauth.mfa.totp.internal.auth import format_hotp_value, hotp_value, yield_hotp_counters_from_time
from django.contrib.auth import get_user_model
from django.test import Client, override_settings

from hourmark.desk import Desk
from tests.web.conftest import STAFF
from tests.web.manners import SignIn, heads, written
from tests.web.seen import look, read, text_of
from tests.web.test_every_address import OURS

SETS_UP = {"/accounts/2fa/webauthn/add/", "/accounts/2fa/totp/activate/"}


@pytest.fixture
def asked_for(site: Desk) -> Iterator[Desk]:
    with override_settings(SECOND_FACTOR=True):
        yield site


def has(username: str, kind: str) -> None:
    user = get_user_model().objects.get(username=username)
    Authenticator.objects.create(user=user, type=kind, data={"secret": "x"})


@pytest.mark.parametrize("who", STAFF)
def test_nothing_opens_for_whoever_has_none_but_the_way_to_one(sign_in: SignIn, asked_for: Desk, who: str) -> None:
    client = sign_in(who)
    page = read(client.get("/"))
    assert "A second factor first" in page.main()
    assert set(page.links()) >= SETS_UP
    for path in sorted(SETS_UP):
        answer = client.get(path)
        assert answer.status_code in (200, 302)
        assert answer.get("Location", "/accounts/reauthenticate/").startswith("/accounts/")


def test_no_page_of_ours_is_shown_and_nothing_is_recorded_before(sign_in: SignIn, asked_for: Desk) -> None:
    before = heads(asked_for)
    client = sign_in("kowal")
    for one in OURS.values():
        if one.path in ("/livez", "/readyz", "/unlock") or one.path.startswith(("/t/", "/robots.txt")):
            continue
        for method in ("GET", "POST"):
            answer = client.generic(method, one.path)
            assert answer.status_code == 403, (method, one.path)
            assert "A second factor first" in text_of(answer)
            assert "Quillmere" not in text_of(answer)
    assert written(asked_for, before) == []


@pytest.mark.parametrize("kind", ["totp", "webauthn"])
def test_with_a_passkey_or_one_time_codes_everything_opens(sign_in: SignIn, asked_for: Desk, kind: str) -> None:
    has("kowal", kind)
    assert "Calls owed" in look(sign_in("kowal"), "/").main()
    assert "A second factor first" in text_of(sign_in("ortiz").get("/"))


def test_recovery_codes_alone_are_none(sign_in: SignIn, asked_for: Desk) -> None:
    has("kowal", "recovery_codes")
    assert "A second factor first" in text_of(sign_in("kowal").get("/"))


def test_whoever_has_none_can_sign_out_and_reach_their_own_keys(sign_in: SignIn, asked_for: Desk) -> None:
    client = sign_in("kowal")
    assert client.get("/accounts/2fa/").status_code == 200
    assert client.post("/accounts/logout/").status_code == 302
    assert client.get("/")["Location"].startswith("/accounts/login/")


def test_codes_are_set_up_with_the_password_and_open_the_rest(asked_for: Desk) -> None:
    client = Client(SERVER_NAME="localhost")
    client.post("/accounts/login/", {"login": "kowal", "password": "a long enough password"})
    assert "A second factor first" in text_of(client.get("/"))
    sure = client.get("/accounts/2fa/totp/activate/")
    assert client.post(sure["Location"], {"password": "a long enough password"}).status_code == 302
    page = look(client, "/accounts/2fa/totp/activate/")
    secret = next(
        one.attributes["value"] for one in page.elements if one.attributes.get("id") == "authenticator_secret"
    )
    wrong = client.post("/accounts/2fa/totp/activate/", {"code": "000000"})
    summary = read(wrong)
    assert [one.attributes["href"] for one in summary.elements if one.has_class("to-field")] == ["#id_code"]
    code = format_hotp_value(hotp_value(secret, next(iter(yield_hotp_counters_from_time()))))
    assert client.post("/accounts/2fa/totp/activate/", {"code": code}).status_code == 302
    assert "Calls owed" in look(client, "/").main()


def test_where_it_is_switched_off_every_page_says_so(sign_in: SignIn, site: Desk) -> None:
    assert "The second factor is switched off" in text_of(sign_in("kowal").get("/"))
    with override_settings(SECOND_FACTOR=True):
        has("kowal", "totp")
        assert "The second factor is switched off" not in text_of(sign_in("kowal").get("/"))


def test_an_account_of_no_clinic_is_told_that_first(sign_in: SignIn, asked_for: Desk) -> None:
    assert "This account belongs to no clinic" in text_of(sign_in("nobody").get("/"))


def test_outside_nothing_changes(client_of_nobody: Any, asked_for: Desk) -> None:
    assert client_of_nobody.get("/")["Location"] == "/accounts/login/?next=/"
    assert client_of_nobody.get("/livez").status_code == 200
