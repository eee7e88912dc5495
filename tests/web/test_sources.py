"""The sources: where every figure comes from."""

from typing import Any

import pytest

from hourmark.desk import Desk
from hourmark.formulary.audit import every_fact
from tests.web.conftest import STAFF
from tests.web.manners import SignIn, heads, knows_only, sends_to_sign_in
from tests.web.seen import look


def keys(sign_in: SignIn, begins: str, who: str = "kowal") -> list[str]:
    return look(sign_in(who), f"/sources/?key={begins}").texts("th")[4:]


@pytest.mark.parametrize("who", [*STAFF, "stranger"])
def test_everybody_reads_them(sign_in: SignIn, site: Desk, who: str) -> None:
    before = heads(site)
    assert keys(sign_in, "", who) == sorted(every_fact())[:400]
    assert heads(site) == before


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
