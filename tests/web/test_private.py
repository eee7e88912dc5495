"""What must not stand in a page, a log or a file does not, and every page is sent with what keeps it private."""

import io
import json
import logging
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pypdfium2 as pdfium
import pytest
from allauth.mfa.models import Authenticator
from django.conf import settings
from django.contrib.auth import get_user_model
from django.test import Client

from hourmark.desk import Desk
from hourmark.store.logs import JsonLines
from hourmark.web import guard, work
from tests.web.conftest import ROOT, SECRET_NAME, SECRET_PHONE
from tests.web.manners import SignIn
from tests.web.seen import look, read, text_of
from tests.web.test_every_address import ACCOUNTS, BEGINS, OURS, WHO

FAKE_KEY = "KRUGKIDROVUWG2ZAMJZG653OEBTG66BA"
"""A member's own secret for codes: planted, and searched for wherever it must not stand."""

BORN = "1993-04-02"
WORDS = (SECRET_NAME, "Quartermain", BORN, FAKE_KEY, settings.SECRET_KEY)
HERS = (SECRET_NAME, "Quartermain", BORN)
CALL, WHO_SHE_IS = "/cases/K-103/call/", "/cases/K-103/who/"
RINGS = ("/night/", "/cases/K-103/night/", "/cases/K-103/trouble/")
"""Where her number stands, to be rung, and not her name."""

PAGES = sorted(one.path for one in OURS.values())
EVERYWHERE = (*PAGES, "/nothing/here/", *(f"/{BEGINS}{one}" for one in ACCOUNTS))


@pytest.fixture
def planted(site: Desk) -> Desk:
    user = get_user_model().objects.get(username="kowal")
    Authenticator.objects.create(user=user, type="totp", data={"secret": FAKE_KEY})
    return site


def some(sign_in: SignIn) -> Iterator[Client]:
    """A member, an account of no clinic, and nobody."""
    yield from (sign_in("kowal"), sign_in("nobody"), Client(SERVER_NAME="localhost"))


def bytes_of(answer: Any) -> bytes:
    content: bytes = b"".join(answer.streaming_content) if answer.streaming else answer.content
    return content


# Pages


def test_who_she_is_stands_where_she_is_spoken_to_and_nowhere_else(sign_in: SignIn, planted: Desk) -> None:
    for username in WHO.values():
        client = sign_in(username) if username else Client(SERVER_NAME="localhost")
        for path in PAGES:
            source = bytes_of(client.get(path)).decode("utf-8", "replace")
            speaks_to_her, reads = username in ("kowal", "aumont"), username in ("kowal", "aumont", "devi", "brandt")
            names_her = speaks_to_her and path in (CALL, WHO_SHE_IS)
            assert SECRET_PHONE in source or not names_her, (username, path)
            assert SECRET_PHONE not in source or names_her or (reads and path.startswith(RINGS)), (username, path)
            for word in WORDS:
                assert word not in source or (names_her and word in HERS), (username, path)


def test_ones_own_pages_of_keys_show_no_key(sign_in: SignIn, planted: Desk) -> None:
    client = sign_in("kowal")
    for address in ACCOUNTS:
        source = text_of(client.get(f"/{BEGINS}{address}"))
        for word in (*WORDS, SECRET_PHONE):
            assert word not in source, address


def test_whoever_typed_who_she_is_is_shown_it_on_their_own_form_alone(sign_in: SignIn, planted: Desk) -> None:
    client = sign_in("kowal")
    typed = {"case": "", "person.name": SECRET_NAME, "person.born": BORN, "details.zone": "America/Chicago"}
    answer = client.post("/cases/new/", look(client, "/cases/new/").form() | typed)
    assert answer.status_code == 422
    assert SECRET_NAME in text_of(answer)
    assert SECRET_NAME not in text_of(client.get("/cases/new/"))
    assert SECRET_NAME not in text_of(sign_in("ortiz").get("/cases/new/"))


def test_a_fault_of_the_program_shows_nothing(sign_in: SignIn, planted: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: Any) -> str:
        raise RuntimeError(f"{SECRET_NAME} {FAKE_KEY}")

    monkeypatch.setattr(work, "instant", broken)
    client = sign_in("kowal")
    client.raise_request_exception = False
    answer = client.get("/cases/K-103/call/")
    assert answer.status_code == 500
    assert "hourmark has failed" in text_of(answer)
    for word in (*WORDS, SECRET_PHONE, "Traceback", "RuntimeError", str(ROOT)):
        assert word not in text_of(answer)


# Logs


@pytest.fixture
def logged() -> Iterator[io.StringIO]:
    """Everything that is logged, as it would be written."""
    out = io.StringIO()
    handler = logging.StreamHandler(out)
    handler.setFormatter(JsonLines())
    root = logging.getLogger()
    level = root.level
    root.addHandler(handler)
    root.setLevel(logging.DEBUG)
    yield out
    root.removeHandler(handler)
    root.setLevel(level)


def much_happens(sign_in: SignIn, monkeypatch: pytest.MonkeyPatch) -> None:
    """Pages looked at, acts done and refused, an address that is not there, a wrong password, a form of another site, a fault."""
    client = sign_in("kowal")
    for path in PAGES:
        client.get(path)
    typed = {
        "case": "K-299",
        "person.name": SECRET_NAME,
        "person.initials": "Z.Q.",
        "person.born": BORN,
        "person.phones": SECRET_PHONE,
    }
    client.post("/cases/new/", look(client, "/cases/new/").form() | typed)
    client.post("/cases/K-103/call/tried/", {"key": "one", "number": SECRET_PHONE, "result": f"{SECRET_NAME} answered"})
    client.post("/cases/K-103/call/note/", {"key": "two", "caller": SECRET_NAME, "received": FAKE_KEY})
    client.get(f"/cases/{SECRET_NAME}/")
    client.get("/cases/K-999/")
    sign_in("devi").post("/cases/K-103/release/", {"key": "three", "call_waived_why": SECRET_NAME})
    Client(SERVER_NAME="localhost").post("/accounts/login/", {"login": SECRET_NAME, "password": FAKE_KEY})
    Client(SERVER_NAME="localhost").post("/accounts/login/", {"login": "kowal", "password": FAKE_KEY})
    strict = Client(SERVER_NAME="localhost", enforce_csrf_checks=True)
    strict.force_login(get_user_model().objects.get(username="kowal"))
    strict.post("/cases/K-103/call/note/", {"caller": SECRET_NAME, "csrfmiddlewaretoken": "x"})
    Client(SERVER_NAME="elsewhere.example").get("/")

    def broken(*_: Any) -> str:
        raise RuntimeError(f"{SECRET_NAME} {FAKE_KEY}")

    monkeypatch.setattr(work, "instant", broken)
    client.raise_request_exception = False
    client.post("/cases/K-103/call/note/", {"key": "four", "caller": SECRET_NAME})


def test_no_log_tells_of_a_person_a_case_or_a_key(
    sign_in: SignIn, planted: Desk, logged: io.StringIO, monkeypatch: pytest.MonkeyPatch
) -> None:
    much_happens(sign_in, monkeypatch)
    lines = [json.loads(line) for line in logged.getvalue().splitlines()]
    assert {"OpenCase", "TryCall", "NoteCall"} <= {line.get("act") for line in lines}
    assert "RuntimeError" in {line.get("fault") for line in lines}
    assert any(line["from"] == "django.request" for line in lines)
    for word in (*WORDS, SECRET_PHONE, "Zinnia", "K-103", "K-299", "K-999", "kowal", "Kowal"):
        assert word not in logged.getvalue(), word


def test_what_is_handed_to_the_log_tells_of_no_person_and_no_key(
    sign_in: SignIn, planted: Desk, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    caplog.set_level(logging.DEBUG, logger="hourmark")
    much_happens(sign_in, monkeypatch)
    ours = [record for record in caplog.records if record.name.startswith("hourmark")]
    assert len(ours) >= 4
    for record in ours:
        for word in (*WORDS, SECRET_PHONE, "Zinnia", "K-103", "K-299"):
            assert word not in f"{record.getMessage()} {vars(record)}", word


# Files


@pytest.mark.parametrize("name", ["sheet.pdf", "pictures.pdf"])
def test_a_page_on_paper_tells_no_name_number_or_place_of_the_machine(planted: Desk, name: str) -> None:
    content = planted.pages("K-103", 1)[name]
    document = pdfium.PdfDocument(content)
    about = document.get_metadata_dict()
    words = "\n".join(page.get_textpage().get_text_bounded() for page in document)
    document.close()
    for word in (*WORDS, SECRET_PHONE, "Zinnia", "Z. Q.", str(Path.home()), str(ROOT)):
        assert word not in f"{about}"
        assert word not in words
        assert word.encode() not in content


def test_an_alarm_and_the_words_of_a_page_tell_none_either(planted: Desk) -> None:
    for name in ("calendar.ics", "sheet.txt"):
        words = planted.pages("K-103", 1)[name].decode()
        for word in (*WORDS, SECRET_PHONE, "Zinnia", "Z. Q."):
            assert word not in words


def test_the_record_itself_holds_no_name_and_no_number(planted: Desk) -> None:
    for entry in planted.store.read_all():
        for word in (SECRET_NAME, SECRET_PHONE, BORN, FAKE_KEY):
            assert word.encode() not in (entry.body or b"") + entry.header


# How pages are sent


def test_every_page_stays_out_of_every_cache(sign_in: SignIn, site: Desk) -> None:
    for client in some(sign_in):
        for path in EVERYWHERE:
            for method in ("GET", "POST") if path in PAGES else ("GET",):
                answer = client.generic(method, path)
                assert "no-store" in answer.get("Cache-Control", ""), (method, path, answer.status_code)


def test_every_page_says_what_a_browser_may_do_with_it(sign_in: SignIn, site: Desk) -> None:
    for client in some(sign_in):
        for path in EVERYWHERE:
            answer = client.get(path)
            policy = dict(part.strip().split(" ", 1) for part in answer["Content-Security-Policy"].split(";"))
            assert policy["default-src"] == "'none'"
            for name in ("script-src", "style-src", "connect-src", "form-action"):
                assert policy[name] == "'self'", path
            for name in ("object-src", "base-uri", "frame-ancestors"):
                assert policy[name] == "'none'", path
            assert "unsafe" not in answer["Content-Security-Policy"]
            assert "*" not in answer["Content-Security-Policy"]
            assert answer["X-Content-Type-Options"] == "nosniff"
            assert answer["X-Frame-Options"] == "DENY"
            assert answer["Referrer-Policy"] == ("no-referrer" if path.startswith(guard.HERS) else "same-origin")
            assert answer["Cross-Origin-Opener-Policy"] == "same-origin"


def test_every_cookie_is_out_of_reach_of_scripts_and_of_other_sites(sign_in: SignIn, site: Desk) -> None:
    client = Client(SERVER_NAME="localhost")
    client.get("/accounts/login/")
    client.post("/accounts/login/", {"login": "kowal", "password": "a long enough password"})
    for path in PAGES:
        client.get(path)
    client.post("/cases/K-103/call/note/", {"key": "one", "caller": "she", "received": "x"})
    found = {name: cookie for name, cookie in client.cookies.items() if cookie.value}
    assert {"hourmark-session", "hourmark-form"} <= set(found)
    for name, cookie in found.items():
        assert cookie["httponly"] is True, name
        assert cookie["samesite"] in ("Lax", "Strict"), name
        assert cookie["domain"] == "", name


def test_no_page_needs_anything_from_anywhere_else(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("kowal")
    for path in EVERYWHERE:
        answer = client.get(path)
        if not answer["Content-Type"].startswith("text/html") or not answer.content:
            continue
        page = read(answer)
        for one in page.elements:
            for name in ("src", "href", "action", "formaction", "srcset", "hx-post", "data", "poster"):
                target = one.attributes.get(name, "")
                ours = target.startswith(("data:", "tel:"))
                assert ours or not re.match(r"(?i)[a-z]+:|//", target), (path, target)
            assert "style" not in one.attributes, path
            assert not [key for key in one.attributes if key.startswith("on")], path
            assert one.name not in ("style", "iframe", "object", "embed"), path
            if one.name == "script" and "src" not in one.attributes:
                assert one.attributes.get("type") == "application/json", path


def test_neither_do_the_files_that_pages_are_drawn_with() -> None:
    ours = Path(sys.modules["hourmark.web"].__file__ or "").parent / "static"
    files = [path for path in ours.rglob("*") if path.suffix in (".css", ".js")]
    assert files
    for path in files:
        assert not re.search(r"(?i)(url\(|@import|fetch\(|src=)\s*[\"']?(https?:)?//", path.read_text("utf-8")), path


# With the settings of a clinic


def in_production(code: str, **environment: str) -> subprocess.CompletedProcess[str]:
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("HOURMARK_", "DJANGO_"))}
    given = {
        "HOURMARK_HOSTS": "clinic.example",
        "HOURMARK_SECRET_KEY": "4Xk9" * 12 + "aBcDeFgHiJkLmNoP",
        "HOURMARK_DATABASE": "sqlite::memory:",
        "DJANGO_SETTINGS_MODULE": "hourmark.web.settings",
        "PYTHONPATH": os.pathsep.join(path for path in sys.path if path),
        "PYTHONWARNINGS": "error",
    }
    return subprocess.run(
        [sys.executable, "-c", f"import django; django.setup()\n{code}"],
        env=kept | given | environment,
        capture_output=True,
        text=True,
        check=False,
    )


def test_the_checks_for_a_real_installation_have_nothing_to_say() -> None:
    ran = in_production(
        "from django.core.management import call_command; call_command('check', deploy=True, fail_level='DEBUG')"
    )
    assert (ran.returncode, ran.stderr) == (0, "")
    assert ran.stdout.strip() in ("", "System check identified no issues (0 silenced).")


def test_a_real_installation_sends_everything_by_a_certificate() -> None:
    ran = in_production(
        """
import json
from django.conf import settings
from django.test import Client
client = Client(SERVER_NAME="clinic.example")
plain = client.get("/livez")
safe = client.get("/livez", secure=True)
other = Client(SERVER_NAME="other.example", raise_request_exception=False).get("/livez", secure=True)
print(json.dumps([plain.status_code, plain["Location"], safe.status_code, safe["Strict-Transport-Security"], other.status_code,
    settings.SESSION_COOKIE_SECURE, settings.CSRF_COOKIE_SECURE, settings.SESSION_COOKIE_NAME, settings.CSRF_COOKIE_NAME]))
"""
    )
    assert ran.returncode == 0, ran.stderr
    plain, where, safe, held, other, session, form, *names = json.loads(ran.stdout.splitlines()[-1])
    assert (plain, where, safe, other) == (301, "https://clinic.example/livez", 200, 400)
    assert held == "max-age=31536000; includeSubDomains; preload"
    assert (session, form, names) == (True, True, ["__Host-hourmark-session", "__Host-hourmark-form"])


def test_a_short_key_is_refused_by_name() -> None:
    ran = in_production("", HOURMARK_SECRET_KEY="short")
    assert ran.returncode != 0
    assert "HOURMARK_SECRET_KEY" in ran.stderr
    assert "Traceback" not in ran.stderr
