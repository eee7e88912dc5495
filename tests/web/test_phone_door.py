"""The way in: /t/<token>, what leads nowhere under /t/, /t/now/, /robots.txt; robots, codes, strangers, cookies, logs."""

import io
import json
import logging
import re
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.db import DatabaseError, connections
from django.test import Client

from hourmark.case.opening import CloseCase
from hourmark.case.sheets import VoidSheet
from hourmark.desk import Desk
from hourmark.store.logs import JsonLines
from hourmark.web.models import Link
from hourmark.web.pages import phone_door, phone_number
from hourmark.web.pages.phone_token import MOST_WRONG, Tried, digest_of, try_code, typed_code
from tests.web.conftest import SECRET_NAME, SECRET_PHONE
from tests.web.hers import (
    CASE,
    NUMBER_AT_NIGHT,
    NUMBER_BY_DAY,
    UNKNOWN,
    clock_of,
    give,
    her_phone,
    opened,
    report_form,
    stranger,
)
from tests.web.manners import SignIn, do, heads
from tests.web.seen import read, text_of

ROBOTS = ("GET", "HEAD", "GET", "OPTIONS")
OTHERS = ("K-101", "K-102", "K-104", "K-105", "triptorelin", "intramuscular")


def rows() -> list[tuple[object, ...]]:
    return list(Link.objects.order_by("pk").values_list())


# Robots


def test_whoever_looks_first_changes_nothing_and_learns_nothing(sign_in: SignIn, site: Desk) -> None:
    address, _ = give(sign_in)
    before, kept = heads(site), rows()
    for method in ROBOTS:
        answer = stranger().generic(method, address)
        assert answer.status_code in (200, 405)
        assert "hourmark-page" not in answer.cookies
    assert (heads(site), rows()) == (before, kept)
    assert opened(address).get("/t/").status_code == 200


def test_the_first_page_says_nothing_of_anybody(sign_in: SignIn, site: Desk) -> None:
    source = text_of(stranger().get(give(sign_in)[0]))
    for word in (CASE, SECRET_NAME, "Z. Q.", "leuprolide", "gonadotropin", "21:00", "mark 80", "Quillmere", "inject"):
        assert word not in source
    page = read(stranger().get(give(sign_in)[0]))
    assert page.texts("title") == ["Your steps"]
    names = [
        one.attributes.get("name", one.attributes.get("property", "")) for one in page.elements if one.name == "meta"
    ]
    assert sorted(filter(None, names)) == ["color-scheme", "robots", "viewport"]
    assert len(page.forms) == 1
    assert sum(one.name == "button" for one in page.elements) == 1


def test_two_kinds_of_link_have_the_same_first_page(sign_in: SignIn, site: Desk) -> None:
    pages = [text_of(stranger().get(give(sign_in, kind=kind)[0])) for kind in ("page", "practice")]
    first, second = (re.sub(r'(csrfmiddlewaretoken" value=")\w+', r"\1", one) for one in pages)
    assert first == second


def test_lists_of_pages_are_told_to_leave_it_out(site: Desk) -> None:
    answer = stranger().get("/robots.txt")
    assert text_of(answer) == "User-agent: *\nDisallow: /\n"
    assert "noindex" in stranger().get(UNKNOWN)["X-Robots-Tag"]


# The button


def test_the_button_opens_a_page_whose_address_holds_no_token(sign_in: SignIn, site: Desk) -> None:
    address, _ = give(sign_in)
    phone = stranger()
    before = heads(site)
    answer = phone.post(address)
    assert (answer.status_code, answer["Location"]) == (303, "/t/")
    cookie = answer.cookies["hourmark-page"]
    assert (cookie["httponly"], cookie["samesite"], cookie["path"], cookie["domain"]) == (True, "Lax", "/", "")
    assert 0 < int(cookie["max-age"]) <= 55 * 3600
    token = address.removeprefix("/t/")
    assert token not in cookie.value
    assert token not in text_of(phone.get("/t/"))
    assert heads(site) == before


def test_it_can_be_opened_again_and_on_another_phone(sign_in: SignIn, site: Desk) -> None:
    address, _ = give(sign_in)
    for _ in range(3):
        assert opened(address).get("/t/").status_code == 200


def test_a_cookie_that_somebody_made_up_opens_nothing(sign_in: SignIn, site: Desk) -> None:
    give(sign_in)
    digest = Link.objects.get().digest
    for value in (digest, f"{digest}:{'x' * 43}", "", ":", "a:b:c"):
        phone = stranger()
        phone.cookies["hourmark-page"] = value
        assert phone.get("/t/").content == stranger().get(UNKNOWN).content


def test_a_form_without_its_token_does_nothing(sign_in: SignIn, site: Desk) -> None:
    address, _ = give(sign_in)
    strict = Client(SERVER_NAME="localhost", enforce_csrf_checks=True)
    answer = strict.post(address)
    assert answer.status_code == 403
    assert "hourmark-page" not in answer.cookies
    assert answer["Referrer-Policy"] == "no-referrer"
    assert "Not stored yet" in text_of(answer)


@pytest.mark.parametrize(
    ("sent", "status"),
    [
        ({"HTTP_ORIGIN": "null", "HTTP_SEC_FETCH_SITE": "same-origin"}, 303),
        ({"HTTP_ORIGIN": "null"}, 303),
        ({"HTTP_ORIGIN": "http://localhost"}, 303),
        ({"HTTP_ORIGIN": "null", "HTTP_SEC_FETCH_SITE": "cross-site"}, 403),
        ({"HTTP_ORIGIN": "null", "HTTP_SEC_FETCH_SITE": "same-site"}, 403),
        ({"HTTP_ORIGIN": "https://elsewhere.example"}, 403),
    ],
    ids=["own page", "old browser", "named", "another site", "a sister site", "named other"],
)
def test_a_form_from_another_site_does_nothing(sign_in: SignIn, site: Desk, sent: dict[str, str], status: int) -> None:
    """Without a referrer a browser sends "null" as the origin of its own forms (Fetch standard): what it says of the site decides."""
    address, _ = give(sign_in)
    strict = Client(SERVER_NAME="localhost", enforce_csrf_checks=True)
    token = re.search(r'csrfmiddlewaretoken" value="(\w+)"', text_of(strict.get(address)))
    assert token is not None
    answer = strict.post(address, {"csrfmiddlewaretoken": token[1]}, **sent)  # type: ignore[arg-type]
    assert answer.status_code == status


def test_by_a_certificate_it_is_the_same(sign_in: SignIn, site: Desk) -> None:
    address, _ = give(sign_in)
    strict = Client(SERVER_NAME="localhost", enforce_csrf_checks=True)
    for fetch, status in (("same-origin", 303), ("cross-site", 403)):
        token = re.search(r'csrfmiddlewaretoken" value="(\w+)"', text_of(strict.get(address, secure=True)))
        assert token is not None
        sent = {"csrfmiddlewaretoken": token[1]}
        answer = strict.post(address, sent, secure=True, HTTP_SEC_FETCH_SITE=fetch)
        assert answer.status_code == status


# What leads nowhere


def nowhere(sign_in: SignIn, site: Desk, clock: object) -> Iterator[tuple[str, str]]:
    """Every way in which a link comes to lead nowhere."""
    yield "unknown", UNKNOWN
    yield "too short", "/t/abc"
    yield "too long", "/t/" + "x" * 200
    yield "no token at all", "/t/some/thing/else/"
    revoked, _ = give(sign_in)
    give(sign_in)
    yield "revoked", revoked
    void, _ = give(sign_in, "K-101")
    do(site, VoidSheet("K-101", 1, "by hand"), "kowal")
    yield "void", void
    closed, _ = give(sign_in, "K-102", "practice")
    do(site, CloseCase("K-102", "over"), "kowal")
    yield "closed", closed
    locked, _ = give(sign_in, "K-104", code=True)
    Link.objects.filter(case="K-104").update(wrong=MOST_WRONG)
    yield "locked", locked


def test_all_that_leads_nowhere_is_one_page_to_the_last_byte(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = {}
    for why, address in nowhere(sign_in, site, None):
        for method in ("GET", "POST"):
            answer = stranger().generic(method, address)
            found[why, method] = (answer.status_code, answer.content, sorted(answer.items()), dict(answer.cookies))
    expired, _ = give(sign_in)
    clock_of(monkeypatch)("2026-11-21T16:25:00Z")
    later = stranger().get(expired), stranger().get(UNKNOWN)
    assert later[0].content == later[1].content
    assert later[0].status_code == later[1].status_code == 404
    assert len({str(one) for one in found.values()}) == 1, found.keys()
    status, content, _, cookies = next(iter(found.values()))
    assert (status, cookies) == (404, {})
    assert NUMBER_BY_DAY.encode() in content
    assert b"<form" not in content
    for word in (CASE, *OTHERS, SECRET_NAME, "leuprolide"):
        assert word.encode() not in content


def test_the_number_is_the_one_that_is_answered_now(site: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    clock = clock_of(monkeypatch)
    for instant, there, not_there in (
        ("2026-11-18T23:59:00Z", NUMBER_BY_DAY, NUMBER_AT_NIGHT),
        ("2026-11-19T00:00:00Z", NUMBER_AT_NIGHT, NUMBER_BY_DAY),
        ("2026-11-19T12:59:00Z", NUMBER_AT_NIGHT, NUMBER_BY_DAY),
        ("2026-11-19T13:00:00Z", NUMBER_BY_DAY, NUMBER_AT_NIGHT),
    ):
        clock(instant)
        source = text_of(stranger().get(UNKNOWN))
        assert there in source
        assert not_there not in source
        assert f'href="tel:{there.replace(" ", "")}"' in source


def test_where_no_number_is_answered_all_of_them_stand_there() -> None:
    import datetime as dt

    from hourmark.clock import parse_zone
    from hourmark.order import Clinic, Day, Phone

    by_day = Phone("+1 555 0150", (Day.MONDAY,), dt.time(9), dt.time(10))
    clinic = Clinic("Somewhere", parse_zone("America/Chicago"), phones=(by_day,))
    found = phone_number.lines_of(clinic, "2026-11-19T03:00:00Z")
    assert not found.answered
    assert [one.number for one in found.lines] == ["+1 555 0150"]
    assert phone_number.lines_of(None, "2026-11-19T03:00:00Z").lines == ()


# The code


def test_with_a_code_the_link_alone_opens_nothing(sign_in: SignIn, site: Desk) -> None:
    address, code = give(sign_in, code=True)
    phone = stranger()
    assert phone.post(address).status_code == 422
    assert Link.objects.get().wrong == 0
    wrong = f"{(int(code) + 1) % 10_000:04d}"
    answer = phone.post(address, {"code": wrong})
    assert answer.status_code == 422
    assert "Tries left: 9" in text_of(answer)
    assert phone.get("/t/").status_code == 404
    assert opened(address, f"{code[:2]} {code[2:]}").get("/t/").status_code == 200
    assert Link.objects.get().wrong == 1
    assert code not in str(vars(Link.objects.get()))


def test_ten_wrong_codes_end_it_for_good_also_for_the_right_one(sign_in: SignIn, site: Desk) -> None:
    address, code = give(sign_in, code=True)
    inside = opened(address, code)
    wrong = f"{(int(code) + 1) % 10_000:04d}"
    statuses = [stranger().post(address, {"code": wrong}).status_code for _ in range(MOST_WRONG)]
    assert statuses == [422] * 9 + [404]
    nobodys = stranger().get(UNKNOWN).content
    for answer in (stranger().post(address, {"code": code}), stranger().get(address)):
        assert (answer.status_code, answer.content) == (404, nobodys)
    assert inside.get("/t/").status_code == 200, "a stranger who guesses does not take her page from her"
    assert "locked after 10 wrong codes" in text_of(sign_in("kowal").get(f"/cases/{CASE}/link/"))
    again, new = give(sign_in, code=True)
    assert opened(again, new).get("/t/").status_code == 200


def test_a_hundred_guesses_at_a_time_are_ten(sign_in: SignIn, site: Desk) -> None:
    _, code = give(sign_in, code=True)
    link = Link.objects.get()
    wrong = f"{(int(code) + 1) % 10_000:04d}"
    found: list[Tried] = []

    def guess() -> None:
        for _ in range(25):
            while True:
                try:
                    found.append(try_code(link, wrong))
                    break
                except DatabaseError:
                    continue
        connections.close_all()

    threads = [threading.Thread(target=guess) for _ in range(4)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert sorted(one.name for one in found) == ["OVER"] * 90 + ["WRONG"] * MOST_WRONG
    assert Link.objects.get().wrong == MOST_WRONG
    assert try_code(link, code) is Tried.OVER


@pytest.mark.parametrize(
    ("typed", "read_as"),
    [
        ("0123", "0123"),
        (" 01 23 ", "0123"),
        ("01-23", "0123"),
        ("123", None),
        ("12345", None),
        ("abcd", None),
        ("", None),
        ("٠١٢٣", None),
    ],
)
def test_a_code_as_it_is_typed(typed: str, read_as: str | None) -> None:
    assert typed_code(typed) == read_as


# Nothing of one in the other


def test_her_cookie_opens_nothing_of_the_staff(sign_in: SignIn, site: Desk) -> None:
    phone = her_phone(sign_in)
    for path in ("/", f"/cases/{CASE}/", f"/cases/{CASE}/plan/", "/night/", "/rules/"):
        answer = phone.get(path)
        assert (answer.status_code, answer["Location"]) == (302, f"/accounts/login/?next={path}")


@pytest.mark.parametrize("who", ["kowal", "stranger", "nobody"])
def test_a_session_of_the_staff_opens_nothing_of_hers(sign_in: SignIn, site: Desk, who: str) -> None:
    client = sign_in(who)
    for path in ("/t/", "/t/1/boxes/", "/t/1/done/", "/t/practice/1/", "/t/steps/1/1/", "/t/now/"):
        assert client.get(path).content == stranger().get(UNKNOWN).content
    client.post(give(sign_in)[0])
    page = client.get("/t/")
    assert page.status_code == 200
    for word in ("<nav aria-label", "kowal", "Sign out", "/cases/"):
        assert word not in text_of(page)


def test_a_link_shows_one_case_alone(sign_in: SignIn, site: Desk) -> None:
    phone = her_phone(sign_in)
    for path in ("/t/", "/t/1/boxes/", "/t/2/boxes/", "/t/1/done/", "/t/practice/1/"):
        source = text_of(phone.get(path))
        for word in (*OTHERS, SECRET_NAME, SECRET_PHONE, "Z. Q."):
            assert word not in source, (path, word)
    for path in ("/t/3/boxes/", "/t/0/done/", "/t/3/done/", "/t/pictures/p999/still.svg", "/t/pictures/p0/other.svg"):
        assert phone.get(path).content == stranger().get(UNKNOWN).content


# Time


def test_the_page_asks_whether_it_still_counts(sign_in: SignIn, site: Desk) -> None:
    phone = her_phone(sign_in)
    assert json.loads(phone.get("/t/now/").content) == {
        "now": "2026-11-18T22:25:00Z",
        "checked": "4:25 pm (16:25)",
        "told": "",
    }
    do(site, VoidSheet(CASE, 1, "the slot may move"), "kowal")
    assert phone.get("/t/now/").status_code == 404


# How it is sent, and what is written down


def test_every_answer_is_sealed(sign_in: SignIn, site: Desk) -> None:
    address, _ = give(sign_in)
    phone = opened(address)
    for path in (
        address,
        UNKNOWN,
        "/t/",
        "/t/1/boxes/",
        "/t/1/done/",
        "/t/practice/1/",
        "/t/now/",
        "/t/pictures/p0/still.svg",
    ):
        for method in ("GET", "POST"):
            answer = phone.generic(method, path)
            assert answer["Referrer-Policy"] == "no-referrer", (method, path)
            assert answer["Cache-Control"] == "no-store"
            assert answer["X-Content-Type-Options"] == "nosniff"
            assert answer["X-Frame-Options"] == "DENY"
            assert "default-src 'none'" in answer["Content-Security-Policy"]
            assert "noindex" in answer["X-Robots-Tag"]


def test_only_their_own_methods(sign_in: SignIn, site: Desk) -> None:
    phone = her_phone(sign_in)
    for path, *methods in (("/t/", "GET"), ("/t/now/", "GET"), ("/t/call/", "POST"), (UNKNOWN, "GET", "POST")):
        for method in {"GET", "POST", "PUT", "DELETE", "PATCH"} - set(methods):
            assert phone.generic(method, path).status_code == 405, (method, path)


def test_no_log_and_no_record_holds_a_token(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    out = io.StringIO()
    handler = logging.StreamHandler(out)
    handler.setFormatter(JsonLines())
    logging.getLogger().addHandler(handler)
    caplog.set_level(logging.DEBUG)
    address, code = give(sign_in, code=True)
    phone = stranger()
    phone.get(address)
    phone.post(address, {"code": "0000" if code != "0000" else "1111"})
    phone.post(address, {"code": code})
    phone.post("/t/1/done/", report_form(phone) | {"hour": "16", "minute": "20", "how": "all"})
    phone.put(address)
    phone.get(address + "x")
    Client(SERVER_NAME="localhost", enforce_csrf_checks=True).post(address)
    monkeypatch.setattr(phone_door, "link_of", lambda _: 1 / 0)
    phone.raise_request_exception = False
    assert phone.get(address).status_code == 500
    logging.getLogger().removeHandler(handler)
    token, digest = address.removeprefix("/t/"), Link.objects.get().digest
    assert "Confirm" in out.getvalue()
    assert "ZeroDivisionError" in out.getvalue()
    for secret in (token, digest, digest_of(token)):
        assert secret not in out.getvalue()
        for entry in site.store.read_all():
            assert secret.encode() not in entry.header + (entry.body or b"")
        for waiting in site.store.queued():
            assert secret not in str(waiting)
    assert code not in re.sub(r'"at": "[^"]*"|"ms": [\d.]+', "", out.getvalue())
    ours = [record for record in caplog.records if record.name.startswith("hourmark")]
    assert ours
    assert not any(token in f"{record.getMessage()} {vars(record)}" for record in ours)


def test_the_log_of_the_process_that_serves_holds_no_token() -> None:
    """Refused forms and faults are logged by Django with their address: in the process as it is served, with its own handlers."""
    from tests.web.test_private import in_production

    token = "q7" * 21 + "z"
    asked = f"""
from wsgiref.util import setup_testing_defaults
from hourmark.web.wsgi import application
for method in ("GET", "POST"):
    environ = {{"REQUEST_METHOD": method, "PATH_INFO": "/t/{token}", "HTTP_HOST": "clinic.example", "wsgi.url_scheme": "https"}}
    setup_testing_defaults(environ)
    application(environ, lambda status, headers: print(status))
"""
    ran = in_production(asked)
    assert ran.stdout.splitlines() == ["503 Service Unavailable", "403 Forbidden"], ran
    assert "django.request" in ran.stderr
    assert token not in ran.stderr


def test_the_server_keeps_no_list_of_addresses() -> None:
    """gunicorn writes no access log unless told to (its documentation, "accesslog": default None)."""
    from hourmark.cli import serve

    source = Path(serve.__file__).read_text(encoding="utf-8")
    assert "gunicorn" in source
    assert "access" not in source


def test_with_the_settings_of_a_clinic_the_cookie_is_its_hosts_alone() -> None:
    from tests.web.test_private import in_production

    ran = in_production("from hourmark.web.pages import phone; print(phone.PAGE_COOKIE, phone.LOOK_COOKIE)")
    assert ran.stdout.split() == ["__Host-hourmark-page", "__Host-hourmark-look"], ran.stderr


def test_knows_only_get_and_head_for_robots(site: Desk) -> None:
    for method in ("POST", "PUT", "DELETE"):
        assert stranger().generic(method, "/robots.txt").status_code == 405
