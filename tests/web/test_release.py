"""The release: a named person lets the page count, and everything that stands against it is said at once."""

from dataclasses import replace
from typing import Any

import pytest

from hourmark.case.calls import HearReadBack
from hourmark.case.kits import ReadKit
from hourmark.case.orders import SignOrder
from hourmark.desk import Desk
from hourmark.web import work
from tests.case.world import kit, order
from tests.web.manners import (
    RANG,
    Act,
    SignIn,
    do,
    does_it,
    heads,
    hides_from_strangers,
    is_done_once,
    is_not_for,
    keeps,
    knows_only,
    refuses,
    refuses_a_used_key,
    refuses_what_is_stale,
    sends_to_sign_in,
    somebody_rings,
)
from tests.web.seen import look, read

K = "/cases/K-107/release/"
WRITES = ("case/K-107 sheet-issued", *("pages/K-107 page",) * 5)
WITHOUT_CALL = Act(
    "kowal",
    K,
    {"call_waived_why": "she stands beside me"},
    WRITES,
    leads_to="/cases/K-107/",
    other={"call_waived_why": "another reason"},
)


def heard(site: Desk) -> None:
    taken = (
        ("agonist day", "Wednesday"),
        ("agonist time", "22:30"),
        ("agonist dose", "400 mcg"),
        ("agonist sprays", "2"),
    )
    said = (*taken, ("stop 1", "medroxyprogesterone"), ("stop 2", "follitropin"))
    do(site, HearReadBack("K-107", "she herself", ("name", "birthday"), said, "dinner bell"), "ortiz")


def changed(site: Desk) -> None:
    """Nobody has checked the case as it now is, and nobody has read it to her."""
    do(site, SignOrder("K-107", order("K-107") | {"stop": ["follitropin"]}), "aumont")


def test_what_stands_behind_the_page_is_shown_before_it_is_released(sign_in: SignIn, site: Desk) -> None:
    heard(site)
    words = look(sign_in("kowal"), K).main()
    for part in (
        "nafarelin 400 mcg",
        "2 sprays",
        "10:30 pm (22:30)",
        "Second checkagrees: L. Ortiz",
        "Read-backall of it rightly",
        "Check wordsdinner bell",
        "You release it as A. Kowal",
        "Release version 1",
    ):
        assert part in words


def test_a_page_that_was_checked_and_read_back_is_released_with_its_pages(sign_in: SignIn, site: Desk) -> None:
    heard(site)
    client = does_it(sign_in, site, replace(WITHOUT_CALL, typed={}))
    sheet = site.states().case("K-107").sheet
    assert sheet is not None
    assert (sheet.event.version, sheet.actor, sheet.event.checked_by, sheet.event.call_waived_why) == (
        1,
        "A. Kowal",
        "L. Ortiz",
        None,
    )
    assert "released, version 1" in look(client, "/").main()
    assert client.get("/cases/K-107/sheets/1/sheet.pdf").content.startswith(b"%PDF-")


def test_it_goes_out_without_the_call_only_with_a_reason_which_stands_there(sign_in: SignIn, site: Desk) -> None:
    page = refuses(sign_in, site, replace(WITHOUT_CALL, typed={"call_waived_why": "  "}))
    assert "release-untold" in page.summary()
    client = does_it(sign_in, site, WITHOUT_CALL)
    assert "without a call: she stands beside me" in look(client, "/cases/K-107/").main()


def test_everything_that_stands_against_it_is_said_at_once(sign_in: SignIn, site: Desk) -> None:
    changed(site)
    page = refuses(sign_in, site, replace(WITHOUT_CALL, typed={}))
    assert "release-unchecked" in page.summary()
    assert "release-untold" in page.summary()


def test_without_a_check_only_the_prescriber_releases_and_says_why(sign_in: SignIn, site: Desk) -> None:
    changed(site)
    nurse = refuses(sign_in, site, WITHOUT_CALL, unchecked_why="nobody is here")
    assert "release-unchecked" in nurse.summary()
    assert nurse.shown("call_waived_why") == "she stands beside me"
    form = look(sign_in("kowal"), K).form()
    assert "unchecked_why" not in form
    alone = replace(WITHOUT_CALL, who="aumont")
    assert "release-unchecked" in refuses(sign_in, site, alone).summary()
    does_it(sign_in, site, replace(alone, typed={**alone.typed, "unchecked_why": "nobody is here"}))
    sheet = site.states().case("K-107").sheet
    assert sheet is not None
    assert (sheet.event.checked_by, sheet.event.unchecked_why) == (None, "nobody is here")
    assert "not second-checked: nobody is here" in look(sign_in("kowal"), "/cases/K-107/").main()


def test_whoever_made_the_check_does_not_release(sign_in: SignIn, site: Desk) -> None:
    page = refuses(sign_in, site, replace(WITHOUT_CALL, who="ortiz"))
    assert "release-by-checker" in page.summary()
    keeps(page, WITHOUT_CALL.typed)


def test_what_the_plan_leaves_open_is_answered_first_and_the_answer_is_kept(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(work, "instant", lambda: "2026-11-19T04:31:00Z")
    page = refuses(sign_in, site, WITHOUT_CALL)
    assert "release-question-open" in page.summary()
    answers = {name for name in page.form() if name.startswith("answered.")}
    assert "answered.injection-past" in answers
    typed = {**WITHOUT_CALL.typed, **dict.fromkeys(answers, "Dr. Aumont: give it now, one minute late")}
    act = replace(WITHOUT_CALL, typed=typed)
    assert "release-question-open" in refuses(sign_in, site, act, **{"answered.injection-past": " "}).summary()
    does_it(sign_in, site, act)
    sheet = site.states().case("K-107").sheet
    assert sheet is not None
    assert dict(sheet.event.answered)["injection-past"] == "Dr. Aumont: give it now, one minute late"


def test_a_question_is_asked_in_words_and_not_by_its_code_alone(
    sign_in: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(work, "instant", lambda: "2026-11-19T04:31:00Z")
    assert "The planned minute passed 1 min ago" in look(sign_in("kowal"), K).main()


def test_what_cannot_be_planned_is_not_released_and_shows_why(sign_in: SignIn, site: Desk) -> None:
    do(site, ReadKit("K-107", kit("K-107") | {"products": []}, "seen"), "ortiz")
    page = look(sign_in("kowal"), K)
    assert "STOP" in page.main()
    assert not [one for one in page.elements if one.has_class("figure")]
    before = heads(site)
    answer = sign_in("kowal").post(K, {"key": "one", "seen": str(before["case/K-107"]), "call_waived_why": "x"})
    assert answer.status_code == 422
    assert site.states().case("K-107").sheets == ()


def test_a_page_that_holds_is_not_released_again(sign_in: SignIn, site: Desk) -> None:
    act = Act("kowal", "/cases/K-103/release/", {}, ())
    assert "nothing-changed" in refuses(sign_in, site, act).summary()


def test_it_is_released_one_time_however_often_the_form_is_sent(sign_in: SignIn, site: Desk) -> None:
    is_done_once(sign_in, site, WITHOUT_CALL)
    assert len(site.states().case("K-107").sheets) == 1


def test_a_form_that_released_releases_nothing_else(sign_in: SignIn, site: Desk) -> None:
    refuses_a_used_key(sign_in, site, WITHOUT_CALL)


def test_a_page_that_changed_since_it_was_looked_at_is_not_released(sign_in: SignIn, site: Desk) -> None:
    refuses_what_is_stale(sign_in, site, WITHOUT_CALL, somebody_rings(site, "K-107"), RANG)


def test_an_order_that_came_meanwhile_is_shown_and_the_reason_stays(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("kowal")
    form = WITHOUT_CALL.form(client)
    changed(site)
    answer = client.post(K, form)
    assert answer.status_code == 422
    page = read(answer)
    assert "order 2 was signed" in page.summary()
    assert page.shown("call_waived_why") == "she stands beside me"
    assert site.states().case("K-107").sheets == ()


def test_whoever_opens_it_has_seen_the_plan(sign_in: SignIn, site: Desk) -> None:
    look(sign_in("aumont"), K)
    assert site.states().case("K-107").opened_by == {"Dr. L. Aumont"}


@pytest.mark.parametrize("who", ["devi", "brandt"])
def test_it_is_released_by_nurse_and_prescriber_alone(sign_in: SignIn, site: Desk, who: str) -> None:
    is_not_for(sign_in, site, who, K, "GET", "POST")


def test_another_clinic_releases_nothing_here(sign_in: SignIn, site: Desk) -> None:
    hides_from_strangers(sign_in, site, K, "GET", "POST")


def test_nobody_comes_in_without_signing_in(client_of_nobody: Any) -> None:
    sends_to_sign_in(client_of_nobody, K, "GET", "POST")


def test_other_methods_are_refused(sign_in: SignIn) -> None:
    knows_only(sign_in("kowal"), K, "GET", "POST")
