"""The sources: where every figure comes from."""

from typing import Any

import pytest

from hourmark.desk import Desk
from hourmark.formulary.audit import every_fact
from hourmark.web.pages import clinic
from tests.web.conftest import STAFF
from tests.web.manners import SignIn, heads, knows_only, sends_to_sign_in
from tests.web.seen import look

A_PAGE = 100


def keys(sign_in: SignIn, begins: str, who: str = "kowal") -> list[str]:
    return look(sign_in(who), f"/sources/?key={begins}").texts("th")[4:]


@pytest.mark.parametrize("who", [*STAFF, "stranger"])
def test_everybody_reads_them(sign_in: SignIn, site: Desk, who: str) -> None:
    before = heads(site)
    assert keys(sign_in, "", who) == sorted(every_fact())[:A_PAGE]
    assert heads(site) == before


def test_there_is_no_end_before_the_last(sign_in: SignIn) -> None:
    client, address, found = sign_in("kowal"), "/sources/", []
    while address:
        page = look(client, address)
        found += page.texts("th")[4:]
        following = [one for one in page.elements if one.name == "a" and one.text == "The next ones"]
        address = f"/sources/{following[0].attributes['href']}" if following else ""
        assert f"of {len(every_fact())}" in page.main()
    assert found == sorted(every_fact())
    assert len(found) > 2 * A_PAGE


@pytest.mark.parametrize("page", ["0", "-1", "99999", "two", "%00"])
def test_a_page_that_is_none_is_the_first_or_the_last(sign_in: SignIn, page: str) -> None:
    assert set(look(sign_in("kowal"), f"/sources/?page={page}").texts("th")[4:]) <= set(every_fact())


def test_pages_of_a_search_stay_within_it(sign_in: SignIn, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clinic, "_A_PAGE", 10)
    client = sign_in("kowal")
    assert [link for link in look(client, "/sources/?key=drugs").links() if "page=" in link] == ["?key=drugs&page=2"]
    second = look(client, "/sources/?key=drugs&page=2").texts("th")[4:]
    assert second == sorted(key for key in every_fact() if key.startswith("drugs"))[10:20]


def test_a_figure_stands_there_with_its_status_and_its_source(sign_in: SignIn) -> None:
    key, fact = next((key, fact) for key, fact in sorted(every_fact().items()) if fact.status)
    page = look(sign_in("kowal"), f"/sources/?key={key}")
    assert page.texts("td")[:3] == [" ".join(str(part).split()) for part in (fact.text, fact.status, fact.cite())]


def test_only_what_begins_so_is_shown(sign_in: SignIn) -> None:
    begins = f"{max(every_fact()).rpartition('.')[0]}."
    found = keys(sign_in, begins)
    assert found == [key for key in sorted(every_fact()) if key.startswith(begins)]
    assert 0 < len(found) < len(every_fact())


@pytest.mark.parametrize("begins", ["nothing-begins-so", "%00", "<script>alert(1)</script>"])
def test_where_nothing_begins_so_it_is_said(sign_in: SignIn, begins: str) -> None:
    page = look(sign_in("kowal"), f"/sources/?key={begins}")
    assert "Nothing begins so" in page.main()
    assert "<script>alert" not in page.source


def test_every_figure_can_be_reached(sign_in: SignIn) -> None:
    beyond = max(every_fact())
    assert beyond in keys(sign_in, beyond)


def test_nobody_comes_in_without_signing_in(client_of_nobody: Any) -> None:
    sends_to_sign_in(client_of_nobody, "/sources/", "GET")


def test_other_methods_are_refused(sign_in: SignIn) -> None:
    knows_only(sign_in("kowal"), "/sources/", "GET")
