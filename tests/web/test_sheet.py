"""A page of a sheet: byte for byte as it was given out, and whoever opens it has seen the plan."""

from typing import Any

import pytest

from hourmark.case.orders import SignOrder
from hourmark.desk import Desk
from tests.case.world import order
from tests.web.manners import SignIn, do, heads, hides_from_strangers, knows_only, sends_to_sign_in, written

KINDS = {
    "sheet.txt": "text/plain; charset=utf-8",
    "sheet.pdf": "application/pdf",
    "pictures.pdf": "application/pdf",
    "calendar.ics": "text/calendar; charset=utf-8",
    "walk.json": "application/json",
}


def at(name: str, version: int = 1, case: str = "K-103") -> str:
    return f"/cases/{case}/sheets/{version}/{name}"


@pytest.mark.parametrize("name", KINDS)
def test_a_page_is_given_out_byte_for_byte_as_it_was(sign_in: SignIn, site: Desk, name: str) -> None:
    kept = site.pages("K-103", 1)
    assert set(kept) == set(KINDS)
    answer = sign_in("kowal").get(at(name))
    assert (answer.status_code, answer["Content-Type"]) == (200, KINDS[name])
    assert answer.content == kept[name]
    assert answer["Content-Disposition"] == f'inline; filename="K-103-1-{name}"'
    assert answer["Cache-Control"] == "no-store"


def test_it_stays_as_it_was_when_the_case_changes(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("kowal")
    before = client.get(at("sheet.pdf")).content
    do(site, SignOrder("K-103", order() | {"largest_gap": "10 min"}), "aumont")
    assert client.get(at("sheet.pdf")).content == before
    assert before.startswith(b"%PDF-")


@pytest.mark.parametrize("name", KINDS)
def test_opening_it_goes_on_the_record_one_time(sign_in: SignIn, site: Desk, name: str) -> None:
    client = sign_in("devi")
    before = heads(site)
    client.get(at(name))
    client.get(at(name))
    assert written(site, before) == ["case/K-103 plan-opened"]
    assert site.states().case("K-103").opened_by == {"M. Devi"}


@pytest.mark.parametrize(
    "path", [at("sheet.pdf", 2), at("sheet.pdf", 0), at("sheet.docx"), at("..%2f..%2fetc%2fpasswd"), at("%20")]
)
def test_a_page_that_was_never_given_out_is_not_there(sign_in: SignIn, path: str) -> None:
    assert sign_in("kowal").get(path).status_code == 404


def test_a_case_without_a_sheet_has_no_page(sign_in: SignIn) -> None:
    assert sign_in("kowal").get(at("sheet.pdf", case="K-107")).status_code == 404


def test_another_clinic_is_not_given_it(sign_in: SignIn, site: Desk) -> None:
    hides_from_strangers(sign_in, site, at("sheet.pdf"), "GET")


def test_nobody_is_given_it_without_signing_in(client_of_nobody: Any) -> None:
    sends_to_sign_in(client_of_nobody, at("sheet.pdf"), "GET")


def test_other_methods_are_refused(sign_in: SignIn) -> None:
    knows_only(sign_in("kowal"), at("sheet.pdf"), "GET")
