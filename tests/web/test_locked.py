"""The lock: after half an hour nobody sees a page, and nothing that was typed is lost."""

import json
import re
import time
from collections.abc import Callable
from typing import Any

import pytest
from django.contrib.auth import get_user_model
from django.core.cache import cache
from django.test import Client

from hourmark.desk import Desk
from hourmark.web import guard
from tests.web.manners import SignIn, heads, sends_to_sign_in, somebody_rings, written
from tests.web.seen import Page, look, read, text_of

PASSWORD = "a long enough password"
K = "/cases/K-107/"
NOTE = f"{K}call/note/"
TYPED = {
    "caller": "she herself, “from work” & <quickly>",
    "number": "+1 555 0107",
    "received": "is it one spray\r\nin each side?",
    "advice": "that her page says so",
    "referred_to": "",
    "follow_up": "none",
}

Passes = Callable[[float], None]


@pytest.fixture
def passes(monkeypatch: pytest.MonkeyPatch) -> Passes:
    """Time passes for the pages: so many minutes."""
    now = [time.time()]

    class Clock:
        @staticmethod
        def time() -> float:
            return now[0]

    monkeypatch.setattr(guard, "time", Clock)

    def pass_by(minutes: float) -> None:
        now[0] += minutes * 60

    return pass_by


def is_locked(answer: Any) -> bool:
    return answer.status_code == 403 and "Locked after 30 minutes" in text_of(answer)


def opens(client: Client, page: Page, password: str = PASSWORD) -> Any:
    """The password entered on the page of the lock."""
    return client.post("/unlock", page.form("/unlock") | {"password": password})


# Locked


@pytest.mark.parametrize("path", ["/", K, f"{K}plan/", "/slots/", "/staff/", "/cases/K-103/sheets/1/sheet.pdf"])
def test_after_half_an_hour_every_page_is_locked_and_shows_nothing(
    sign_in: SignIn, passes: Passes, site: Desk, path: str
) -> None:
    client = sign_in("kowal")
    look(client, "/")
    passes(31)
    before = heads(site)
    answer = client.get(path)
    assert is_locked(answer)
    assert answer["Cache-Control"] == "no-store"
    assert read(answer).form("/unlock") == {"next": path, "password": ""}
    for word in ("K-107,", "nafarelin", "Quillmere", "A. Kowal"):
        assert word not in text_of(answer)
    assert heads(site) == before


def test_whoever_goes_on_working_is_never_locked(sign_in: SignIn, passes: Passes) -> None:
    client = sign_in("kowal")
    for _ in range(20):
        assert client.get("/").status_code == 200
        passes(29)


def test_the_lock_stays_until_the_password_is_right(sign_in: SignIn, passes: Passes) -> None:
    client = sign_in("kowal")
    look(client, "/")
    passes(31)
    for _ in range(3):
        assert is_locked(client.get(K))
        passes(0.1)
    assert opens(client, read(client.get(K))).status_code == 302
    assert client.get(K).status_code == 200


def test_with_the_password_one_is_back_where_one_was(sign_in: SignIn, passes: Passes) -> None:
    client = sign_in("kowal")
    look(client, "/")
    passes(31)
    answer = opens(client, read(client.get(K)))
    assert (answer.status_code, answer["Location"]) == (302, K)


@pytest.mark.parametrize("password", ["", "another long password", PASSWORD.upper()])
def test_a_wrong_password_opens_nothing_and_loses_nothing(
    sign_in: SignIn, passes: Passes, site: Desk, password: str
) -> None:
    client = sign_in("kowal")
    form = look(client, NOTE).form() | TYPED
    passes(31)
    locked = read(client.post(NOTE, form))
    answer = opens(client, locked, password)
    assert answer.status_code == 403
    page = read(answer)
    assert "That is not the password of this account" in page.summary()
    assert page.form("/unlock") == locked.form("/unlock")
    assert is_locked(client.get(K))
    assert opens(client, page).status_code == 200


def test_another_members_password_opens_nothing(sign_in: SignIn, passes: Passes, site: Desk) -> None:
    user = get_user_model().objects.get(username="ortiz")
    user.set_password("the password of Ortiz")
    user.save()
    client = sign_in("kowal")
    look(client, "/")
    passes(31)
    locked = read(client.get(K))
    answer = client.post("/unlock", locked.form("/unlock") | {"username": "ortiz", "password": "the password of Ortiz"})
    assert answer.status_code == 403
    assert is_locked(client.get(K))


def test_guessing_at_the_lock_is_slowed_down(sign_in: SignIn, passes: Passes) -> None:
    cache.clear()
    client = sign_in("kowal")
    look(client, "/")
    passes(31)
    locked = read(client.get(K))
    for guess in range(12):
        opens(client, locked, f"guess number {guess}")
    assert opens(client, locked).status_code == 403
    assert is_locked(client.get(K))
    cache.clear()


def test_the_pages_of_ones_own_keys_are_locked_as_well(sign_in: SignIn, passes: Passes) -> None:
    client = sign_in("kowal")
    look(client, "/")
    passes(31)
    for path in ("/accounts/2fa/", "/accounts/sessions/", "/accounts/password/change/", "/accounts/email/"):
        assert is_locked(client.get(path)), path


# What was typed


def test_what_was_typed_is_carried_shown_and_recorded_one_time(sign_in: SignIn, passes: Passes, site: Desk) -> None:
    client = sign_in("kowal")
    form = look(client, NOTE).form() | TYPED
    passes(31)
    before = heads(site)
    locked = client.post(NOTE, form)
    assert is_locked(locked)
    assert heads(site) == before
    opened = opens(client, read(locked))
    assert opened.status_code == 200
    page = read(opened)
    assert "Nothing of it is recorded yet" in page.main()
    assert [text for text in page.texts("dd") if text] == [" ".join(one.split()) for one in TYPED.values() if one]
    assert "key" not in page.texts("dt")
    assert "seen" not in page.texts("dt")
    assert heads(site) == before
    for _ in range(2):
        answer = client.post(NOTE, page.form(NOTE))
        assert (answer.status_code, answer["Location"]) == (302, K)
    assert written(site, before) == ["case/K-107 call-noted"]
    (note,) = site.states().case("K-107").notes
    assert note.event.caller == TYPED["caller"]
    assert note.event.received.split() == TYPED["received"].split()


def test_what_somebody_changed_behind_the_lock_is_shown(sign_in: SignIn, passes: Passes, site: Desk) -> None:
    client = sign_in("kowal")
    form = look(client, f"{K}details/").form() | {"details.zone": "America/Denver"}
    passes(31)
    locked = client.post(f"{K}details/", form)
    somebody_rings(site, "K-107")()
    page = read(opens(client, read(locked)))
    answer = client.post(f"{K}details/", page.form(f"{K}details/"))
    assert answer.status_code == 422
    assert "Somebody else was faster" in read(answer).summary()
    assert read(answer).shown("details.zone") == "America/Denver"


def test_no_password_is_carried_or_shown(sign_in: SignIn, passes: Passes) -> None:
    client = sign_in("kowal")
    look(client, "/")
    passes(31)
    locked = client.post("/staff/", {"name": "P.", "password": PASSWORD, "csrfmiddlewaretoken": "x" * 64})
    assert PASSWORD not in text_of(locked)
    assert PASSWORD not in text_of(opens(client, read(locked)))


def test_what_was_typed_is_never_read_as_a_page(sign_in: SignIn, passes: Passes) -> None:
    client = sign_in("kowal")
    look(client, "/")
    passes(31)
    hostile = '"><script>alert(1)</script>'
    locked = client.post(NOTE, {"caller": hostile, hostile: "x"})
    opened = opens(client, read(locked))
    for answer in (locked, opened):
        assert "<script>alert" not in text_of(answer)


@pytest.mark.parametrize("path", ["/slots/place/", f"{K}call/tried/", f"{K}void/"])
def test_no_way_on_from_the_lock_leads_to_a_page_that_is_none(sign_in: SignIn, passes: Passes, path: str) -> None:
    client = sign_in("kowal")
    look(client, "/")
    passes(31)
    locked = client.post(path, {"key": "one", "why": "smudged"})
    page = read(opens(client, read(locked)))
    inside = [link for link in page.links() if link.startswith("/") and "accounts" not in link]
    assert inside
    for link in inside:
        assert client.get(link).status_code == 200, link


# Where it leads


@pytest.mark.parametrize(
    "to", ["https://example.org/", "//example.org/", "/\\example.org/", "\\\\example.org/", "javascript:alert(1)", ""]
)
@pytest.mark.parametrize("typed", [{}, {"kept-caller": "she"}], ids=["nothing typed", "something typed"])
def test_the_lock_never_leads_off_the_site(sign_in: SignIn, passes: Passes, to: str, typed: dict[str, str]) -> None:
    client = sign_in("kowal")
    look(client, "/")
    passes(31)
    for password in ("wrong", PASSWORD):
        answer = client.post("/unlock", {"next": to, "password": password} | typed)
        if answer.status_code == 302:
            found = [answer["Location"]]
        else:
            page = read(answer)
            found = [form.action for form in page.forms] + page.links()
            found += [form.fields["next"] for form in page.forms if "next" in form.fields]
        for where in found:
            assert where in ("", "#main", "#password") or re.match(r"/(?![/\\])", where), where


def test_an_address_that_looks_like_anothers_leads_nowhere_else(sign_in: SignIn, passes: Passes) -> None:
    client = sign_in("kowal")
    look(client, "/")
    passes(31)
    page = read(client.get("//example.org/"))
    assert opens(client, page)["Location"] == "/"


def test_whoever_is_not_signed_in_has_nothing_to_unlock(client_of_nobody: Client) -> None:
    for method in ("GET", "POST"):
        answer = client_of_nobody.generic(method, "/unlock")
        assert (answer.status_code, answer["Location"]) == (302, "/accounts/login/")


def test_asking_for_the_lock_itself_leads_to_today(sign_in: SignIn) -> None:
    assert sign_in("kowal").get("/unlock")["Location"] == "/"


# The end of a session


def test_after_twelve_hours_the_session_is_over_however_busy_it_was(
    sign_in: SignIn, passes: Passes, site: Desk
) -> None:
    client = sign_in("kowal")
    for _ in range(26):
        assert client.get("/").status_code == 200
        passes(28)
    assert client.get("/").status_code != 200
    sends_to_sign_in(client, "/", "GET")
    assert client.post("/unlock", {"next": "/", "password": PASSWORD})["Location"] == "/accounts/login/"


def test_what_was_typed_before_the_session_ended_is_shown_and_not_recorded(
    sign_in: SignIn, passes: Passes, site: Desk
) -> None:
    client = sign_in("kowal")
    form = look(client, NOTE).form() | TYPED
    passes(12 * 60 + 1)
    before = heads(site)
    answer = client.post(NOTE, form)
    assert answer.status_code != 200
    assert heads(site) == before
    words = read(answer).main()
    assert TYPED["advice"] in words
    assert "Locked after 30 minutes" not in words


# A form that is too old


def test_a_form_that_is_too_old_shows_its_words_and_records_nothing(site: Desk) -> None:
    client = Client(SERVER_NAME="localhost", enforce_csrf_checks=True)
    client.force_login(get_user_model().objects.get(username="kowal"))
    form = look(client, NOTE).form() | TYPED
    before = heads(site)
    answer = client.post(NOTE, form)
    assert answer.status_code == 403
    assert answer["Cache-Control"] == "no-store"
    page = read(answer)
    assert "Nothing was recorded" in page.main()
    assert [text for text in page.texts("dd") if text] == [" ".join(one.split()) for one in TYPED.values() if one]
    assert "key" not in page.texts("dt")
    assert NOTE in page.links()
    assert heads(site) == before


def test_a_form_of_this_session_is_taken(site: Desk) -> None:
    client = Client(SERVER_NAME="localhost", enforce_csrf_checks=True)
    client.force_login(get_user_model().objects.get(username="kowal"))
    page = look(client, NOTE)
    token = next(form.fields["csrfmiddlewaretoken"] for form in page.forms if form.action == "")
    answer = client.post(NOTE, page.form() | TYPED | {"csrfmiddlewaretoken": token})
    assert (answer.status_code, answer["Location"]) == (302, K)


@pytest.mark.parametrize("path", ["/unlock", "/staff/", "/accounts/logout/", f"{K}close/", "/slots/place/"])
def test_no_form_is_taken_from_another_site(site: Desk, path: str) -> None:
    client = Client(SERVER_NAME="localhost", enforce_csrf_checks=True)
    client.force_login(get_user_model().objects.get(username="kowal"))
    before = heads(site)
    answer = client.post(path, {"key": "one", "password": PASSWORD})
    assert answer.status_code == 403
    assert PASSWORD not in text_of(answer)
    assert heads(site) == before
    assert client.get("/").status_code == 200


# A part of a page


def test_a_preview_asked_for_while_locked_says_so_in_its_place(sign_in: SignIn, passes: Passes) -> None:
    client = sign_in("kowal")
    page = look(client, "/cases/K-107/kit/")
    meta = next(one for one in page.elements if one.attributes.get("name") == "htmx-config")
    handling = json.loads(meta.attributes["content"])["responseHandling"]
    assert {"code": "403", "swap": True} in handling
    passes(31)
    answer = client.post("/cases/K-107/kit/preview/", {"products[1].product": "x"}, headers={"HX-Request": "true"})
    assert answer.status_code == 403
    assert "LOCKED" in text_of(answer)
    assert "what you typed still stands" in text_of(answer)
    assert "<html" not in text_of(answer)


def test_a_form_sent_after_the_session_is_gone_loses_nothing(client_of_nobody: Client) -> None:
    answer = client_of_nobody.post("/cases/K-107/call/note/", {"caller": "she rang", "received": "sore", "key": "k"})
    assert answer.status_code == 403
    assert "she rang" in text_of(answer)
    assert "Nothing was recorded" in text_of(answer)
    assert client_of_nobody.post("/cases/K-107/call/note/")["Location"].startswith("/accounts/login/")
