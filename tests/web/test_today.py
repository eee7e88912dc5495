"""Today: every open case with what is owed next."""

from collections.abc import Callable

from django.test import Client

from hourmark.case.streams import case_stream
from hourmark.desk import Desk
from tests.web.conftest import SECRET_NAME


def test_every_open_case_stands_there_with_what_it_needs(sign_in: Callable[[str], Client]) -> None:
    page = sign_in("kowal").get("/")
    text = page.content.decode()
    assert page.status_code == 200
    for case in ("K-101", "K-103", "K-110"):
        assert f'href="/cases/{case}/"' in text
    assert "released, version 1" in text
    assert "call her and have her read it back" in text
    assert "Z. Q." in text
    assert SECRET_NAME not in text


def test_nobody_comes_in_without_signing_in(client_of_nobody: Client) -> None:
    answer = client_of_nobody.get("/")
    assert (answer.status_code, answer["Location"]) == (302, "/accounts/login/?next=/")


def test_an_account_of_no_clinic_is_told_so_and_signed_out(sign_in: Callable[[str], Client]) -> None:
    client = sign_in("nobody")
    assert client.get("/").status_code == 403
    assert client.get("/").status_code == 302


def test_another_clinic_sees_its_own_cases_alone(sign_in: Callable[[str], Client]) -> None:
    text = sign_in("stranger").get("/").content.decode()
    assert "X-1" in text
    assert "K-103" not in text


def test_another_method_is_refused(sign_in: Callable[[str], Client]) -> None:
    assert sign_in("kowal").post("/").status_code == 405


def test_looking_at_the_list_writes_nothing(sign_in: Callable[[str], Client], site: Desk) -> None:
    before = {head.stream: head.seq for head in site.store.heads()}
    sign_in("kowal").get("/")
    assert {head.stream: head.seq for head in site.store.heads()} == before
    assert site.store.head(case_stream("K-103")).seq > 0
