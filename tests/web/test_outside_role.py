"""A case outside one's role: asked for a reason, then shown, and the manager is told."""

from typing import Any

import pytest
from django.test import Client

from hourmark.desk import Desk
from hourmark.web.models import Look
from tests.web.conftest import CLINIC
from tests.web.manners import SignIn, heads, knows_only, sends_to_sign_in
from tests.web.seen import look, read, text_of

K = "/cases/K-103/"
REASON = "/cases/K-103/reason/"
WHY = "Dr. Sorel asked whether she is the one at nine"
PAGES = [
    K,
    *(f"{K}{page}" for page in ("order/", "kit/", "details/", "plan/", "check/", "call/", "call/note/", "release/")),
]
PAGES += [f"{K}kit/hcg-10000-units/carton/", f"{K}sheets/1/sheet.pdf", f"{K}sheets/1/sheet.txt"]


def with_reason(sign_in: SignIn) -> Client:
    client = sign_in("theatre")
    page = read(client.get(K))
    answer = client.post(REASON, page.form(REASON) | {"reason": WHY})
    assert (answer.status_code, answer["Location"]) == (302, K)
    return client


@pytest.mark.parametrize("path", PAGES)
def test_whoever_reads_no_cases_is_asked_for_a_reason_and_shown_nothing(sign_in: SignIn, site: Desk, path: str) -> None:
    before = heads(site)
    answer = sign_in("theatre").get(path)
    assert answer.status_code == 403
    page = read(answer)
    assert "Case K-103 is outside your role" in page.main()
    assert "the manager is told" in page.main()
    assert page.form(REASON)["next"] == path
    for word in ("leuprolide", "orange coat", "Z. Q.", "21:00", "ganirelix"):
        assert word not in page.source
    assert not Look.objects.exists()
    assert heads(site) == before


def test_with_a_reason_the_case_is_shown_and_the_look_is_kept_with_it(sign_in: SignIn, site: Desk) -> None:
    client = with_reason(sign_in)
    assert "leuprolide acetate 4 mg" in look(client, K).main()
    (kept,) = Look.objects.all()
    assert (kept.clinic, kept.case, kept.page, kept.reason, kept.member.name) == (
        CLINIC,
        "K-103",
        "case",
        WHY,
        "Theatre desk",
    )
    assert kept.at == "2026-11-18T22:25:00Z"


def test_the_manager_reads_it_under_staff_and_nobody_else_does(sign_in: SignIn, site: Desk) -> None:
    look(with_reason(sign_in), K)
    assert f"Theatre desk looked at K-103: {WHY}" in look(sign_in("brandt"), "/staff/").main()
    for who in ("kowal", "ortiz", "aumont", "devi", "theatre", "stranger"):
        assert WHY not in look(sign_in(who), "/staff/").source


def test_a_look_in_the_course_of_the_work_is_not_listed(sign_in: SignIn, site: Desk) -> None:
    look(sign_in("kowal"), K)
    assert Look.objects.count() == 1
    assert "looked at" not in look(sign_in("brandt"), "/staff/").main()


@pytest.mark.parametrize("reason", ["", "   ", "\n"])
def test_without_a_word_nothing_opens(sign_in: SignIn, site: Desk, reason: str) -> None:
    client = sign_in("theatre")
    answer = client.post(REASON, {"reason": reason, "next": K})
    assert answer.status_code == 403
    assert read(answer).form(REASON)["next"] == K
    assert client.get(K).status_code == 403
    assert not Look.objects.exists()


def test_a_reason_opens_its_own_case_and_in_its_own_session(sign_in: SignIn, site: Desk) -> None:
    client = with_reason(sign_in)
    assert client.get("/cases/K-104/").status_code == 403
    assert sign_in("theatre").get(K).status_code == 403
    client.post("/accounts/logout/")
    assert client.get(K).status_code == 302


def test_whoever_looks_with_a_reason_can_only_look(sign_in: SignIn, site: Desk) -> None:
    client = with_reason(sign_in)
    seen = str(site.store.head("case/K-103").seq)
    before = heads(site)
    for path in (
        *(f"{K}{page}" for page in ("close/", "void/", "details/", "order/", "kit/", "check/", "call/", "call/tried/")),
        *(f"{K}{page}" for page in ("call/note/", "release/", "order/1/countersign/", "order/1/withdraw/")),
        f"{K}kit/hcg-10000-units/carton/",
    ):
        typed = {"key": f"by-{path}", "seen": seen, "why": "x", "details.zone": "America/Denver", "other": "A. Kowal"}
        answer = client.post(path, typed | {"call_waived_why": "x", "number": "1", "caller": "x", "received": "x"})
        assert answer.status_code == 403, path
        assert [stream for stream, seq in heads(site).items() if before.get(stream) != seq] == [], path


def test_a_plan_seen_with_a_reason_is_on_the_record_like_any_other(sign_in: SignIn, site: Desk) -> None:
    client = with_reason(sign_in)
    assert client.get(f"{K}plan/").status_code == 200
    assert "Theatre desk" in site.states().case("K-103").opened_by


def test_a_case_that_is_not_there_is_not_there_for_anybody(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("theatre")
    for case in ("K-999", "X-1"):
        assert client.get(f"/cases/{case}/").status_code == 404
        client.post(f"/cases/{case}/reason/", {"reason": WHY, "next": f"/cases/{case}/"})
        assert client.get(f"/cases/{case}/").status_code == 404
    assert not Look.objects.exists()


def test_another_clinics_reason_opens_nothing(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("stranger")
    client.post(REASON, {"reason": WHY, "next": K})
    assert client.get(K).status_code == 404
    assert not Look.objects.exists()


@pytest.mark.parametrize(
    "to", ["https://example.org/", "//example.org/", "/\\example.org/", "\\\\example.org", "javascript:alert(1)"]
)
def test_a_reason_never_leads_off_the_site(sign_in: SignIn, site: Desk, to: str) -> None:
    answer = sign_in("theatre").post(REASON, {"reason": WHY, "next": to})
    assert answer.status_code == 302
    assert answer["Location"].startswith("/")
    assert not answer["Location"].startswith(("//", "/\\"))


def test_a_long_reason_is_kept_as_far_as_it_goes_and_never_read_as_a_page(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("theatre")
    client.post(REASON, {"reason": "<script>alert(1)</script>" + "x" * 5000, "next": K})
    look(client, K)
    source = text_of(sign_in("brandt").get("/staff/"))
    assert "<script>alert" not in source
    assert "&lt;script&gt;" in source


def test_nobody_gives_a_reason_without_signing_in(client_of_nobody: Any) -> None:
    sends_to_sign_in(client_of_nobody, REASON, "GET", "POST")


def test_other_methods_are_refused(sign_in: SignIn) -> None:
    knows_only(sign_in("theatre"), REASON, "POST")
