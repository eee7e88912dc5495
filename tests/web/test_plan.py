"""The plan, for staff: minutes, marks, what else, what could go wrong; and whoever opens it is on the record."""

import re
from typing import Any

import pytest

from hourmark.case.kits import ReadKit
from hourmark.case.opening import CloseCase, OpenCase
from hourmark.case.orders import SignOrder
from hourmark.case.sheets import VoidSheet
from hourmark.desk import Desk
from hourmark.web import work
from hourmark.web.models import Look
from tests.case.world import kit, order
from tests.web.conftest import STAFF
from tests.web.manners import SignIn, do, heads, hides_from_strangers, knows_only, sends_to_sign_in, written
from tests.web.seen import look

K = "/cases/K-103/plan/"


def test_it_shows_minute_mark_and_what_follows(sign_in: SignIn) -> None:
    page = look(sign_in("kowal"), K)
    figures = [one.text for one in page.elements if one.has_class("figure")]
    assert figures == ["mark 80 (0.8 mL)", "mark 20 (0.2 mL) of 2 mL mix"]
    words = page.main()
    for part in (
        "leuprolide acetate 4 mg, subcutaneous",
        "chorionic gonadotropin 1,000 units, subcutaneous",
        "9:00 pm (21:00)",
        "Tell her byWed 18 Nov 18:00",
        "The order allowsWed 18 Nov 20:00 to Wed 18 Nov 22:00",
        "10 mL",
        "= 0.2 mL",
    ):
        assert part in words
    assert "Refused" not in words


def test_every_syringe_is_drawn_at_its_mark_with_words_for_who_does_not_see_it(sign_in: SignIn) -> None:
    page = look(sign_in("kowal"), K)
    drawn = [one.attributes for one in page.elements if one.name == "img"]
    assert len(drawn) == 2
    assert all(one["src"].startswith("data:image/svg+xml,") and one["alt"] for one in drawn)
    assert any("80" in one["alt"] for one in drawn)
    assert any("20" in one["alt"] for one in drawn)


def test_a_mix_that_cannot_be_given_says_the_true_reason(sign_in: SignIn) -> None:
    page = look(sign_in("kowal"), K)
    marks = [one.text for one in page.elements if one.name == "td" and one.attributes.get("data-label") == "Mark"]
    assert "a part of it needs a signed rule" in marks, "1 mL of water would give 0.1 mL, a line of its own"
    assert "20" in marks
    assert "between lines" not in marks


def test_a_dose_between_lines_is_still_called_that(sign_in: SignIn, site: Desk) -> None:
    do(site, SignOrder("K-103", order() | {"injections": [order()["injections"][0], _of_1037_units()]}), "aumont")
    words = look(sign_in("kowal"), K).texts("td")
    assert "between lines" in words
    assert "a part of it needs a signed rule" in words


def _of_1037_units() -> dict[str, Any]:
    """Her second injection with a dose that no mix puts on a line."""
    injections: list[dict[str, Any]] = order()["injections"]
    return injections[1] | {"dose": "1037 units"}


def test_a_foreseen_mistake_says_what_she_would_give(sign_in: SignIn) -> None:
    page = look(sign_in("kowal"), K)
    cells = page.texts("td")
    assert "4,000 units" in cells
    assert any(re.fullmatch(r"400 %, .*", cell) for cell in cells)


def test_a_case_that_cannot_be_planned_shows_why_and_no_minute(sign_in: SignIn, site: Desk) -> None:
    do(site, ReadKit("K-103", kit() | {"syringes": []}, "seen"), "ortiz")
    page = look(sign_in("kowal"), K)
    assert "Refused: use no minute and no mark of this case" in page.main()
    assert "STOP" in page.main()
    assert not [one for one in page.elements if one.has_class("figure") or one.name == "img"]
    assert "9:00 pm" not in page.main()
    assert "mark 80" not in page.main()


def test_a_case_without_order_and_kit_says_what_is_missing(sign_in: SignIn, site: Desk) -> None:
    do(site, OpenCase("K-201", {"zone": "America/Chicago"}), "kowal")
    words = look(sign_in("kowal"), "/cases/K-201/plan/").main()
    assert "an order and a kit not on the record" in words


def test_a_minute_that_has_passed_is_said_to_have_passed(sign_in: SignIn, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(work, "instant", lambda: "2026-11-19T03:01:00Z")
    assert "injection-past" in look(sign_in("kowal"), K).source


SHE_SHOULD_KNOW_BY_NOW = "2026-11-19T00:30:00Z"
"""18:30 at the clinic: K-103 is to be told by 18:00."""


@pytest.mark.parametrize("path", [K, "/cases/K-103/call/"])
def test_whoever_was_told_is_not_to_be_called_now(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch, path: str
) -> None:
    monkeypatch.setattr(work, "instant", lambda: SHE_SHOULD_KNOW_BY_NOW)
    assert "tell-by-past" not in look(sign_in("kowal"), path).source
    do(site, VoidSheet("K-103", 1, "smudged"), "ortiz")
    words = look(sign_in("kowal"), K).main()
    assert "She should have been told by 18:00" in words, "nobody has read her the page that comes next"
    assert "Call now" in words


@pytest.mark.parametrize("who", ["kowal", "devi", "aumont", "brandt"])
def test_whoever_opens_it_goes_on_the_record_one_time(sign_in: SignIn, site: Desk, who: str) -> None:
    client = sign_in(who)
    before = heads(site)
    look(client, K)
    look(client, K)
    assert written(site, before) == ["case/K-103 plan-opened"]
    assert site.states().case("K-103").opened_by == {STAFF[who][0]}
    assert Look.objects.filter(case="K-103", page="plan").count() == 2


def test_the_plan_of_a_closed_case_can_be_read_and_writes_nothing(sign_in: SignIn, site: Desk) -> None:
    do(site, CloseCase("K-103", "over"), "ortiz")
    before = heads(site)
    look(sign_in("kowal"), K)
    assert heads(site) == before


def test_another_clinic_has_no_such_plan(sign_in: SignIn, site: Desk) -> None:
    hides_from_strangers(sign_in, site, K, "GET")


def test_nobody_comes_in_without_signing_in(client_of_nobody: Any, site: Desk) -> None:
    before = heads(site)
    sends_to_sign_in(client_of_nobody, K, "GET")
    assert heads(site) == before


def test_other_methods_are_refused(sign_in: SignIn) -> None:
    knows_only(sign_in("kowal"), K, "GET")
