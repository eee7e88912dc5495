"""A case: everything in order without minute or mark, and the two things that are done from there."""

from dataclasses import replace

import pytest

from hourmark.case.checks import OpenPlan
from hourmark.case.opening import CloseCase
from hourmark.case.orders import SignOrder
from hourmark.case.sheets import Release
from hourmark.desk import Desk
from hourmark.web.models import Look, Member
from tests.case.world import order
from tests.web.conftest import SECRET_NAME, SECRET_PHONE
from tests.web.manners import (
    Act,
    SignIn,
    do,
    does_it,
    heads,
    hides_from_strangers,
    is_done_once,
    is_not_for,
    knows_only,
    refuses_a_used_key,
    sends_to_sign_in,
    written,
)
from tests.web.seen import look, read

K = "/cases/K-101/"
VOID = Act(
    "kowal",
    K,
    {"why": "the print was smudged"},
    ("case/K-101 sheet-voided",),
    to=f"{K}void/",
    leads_to=K,
    other={"why": "another reason"},
)
CLOSE = Act(
    "kowal",
    K,
    {"why": "the cycle was cancelled"},
    ("case/K-101 case-closed", "roll case-delisted"),
    to=f"{K}close/",
    other={"why": "another reason"},
)


def test_a_case_shows_what_it_is_made_of_and_what_it_needs_next(sign_in: SignIn) -> None:
    page = look(sign_in("kowal"), "/cases/K-107/")
    words = page.main()
    for part in (
        "Owed next: call her and have her read it back",
        "None was released",
        "Friday 20 November 2026, 10:30 am (10:30)",
        "Signed by Dr. L. Aumont at Wed 18 Nov 13:35",
        "nafarelin 400 mcg, nasal, 36 h before the slot",
        "nafarelin-200mcg-spray, 200 mcg",
        "The carton of nafarelin-200mcg-spray was read by A. Kowal and L. Ortiz",
        "second check: the same",
    ):
        assert part in words
    assert page.texts("title") == ["Case K-107"]


def test_a_released_case_shows_who_stands_behind_its_page_and_leads_to_it(sign_in: SignIn) -> None:
    page = look(sign_in("devi"), K)
    assert "Version 1, released Wed 18 Nov 16:0" in page.main()
    assert "by A. Kowal, checked by L. Ortiz. HOLDS" in page.main()
    assert f"{K}sheets/1/sheet.pdf" in page.links()


def test_a_void_page_is_said_to_be_void_and_why(sign_in: SignIn, site: Desk) -> None:
    do(site, SignOrder("K-101", order("K-101") | {"stop": ["ganirelix"]}), "aumont")
    words = look(sign_in("kowal"), K).main()
    assert "VOID since Wed 18 Nov 16:25: a new order was signed" in words
    assert "HOLDS" not in words
    assert "Version 1, replaced" in words


def test_her_name_and_her_number_are_not_on_it(sign_in: SignIn) -> None:
    client = sign_in("kowal")
    source = look(client, "/cases/K-103/").source
    assert "Z. Q." in source
    assert SECRET_NAME not in source
    assert SECRET_PHONE not in source


@pytest.mark.parametrize("who", ["kowal", "devi", "aumont", "brandt"])
def test_looking_writes_nothing_on_the_record_but_is_kept(sign_in: SignIn, site: Desk, who: str) -> None:
    client = sign_in(who)
    before = heads(site)
    look(client, K)
    assert written(site, before) == []
    (kept,) = Look.objects.filter(case="K-101")
    assert (kept.member.user.username, kept.page, kept.reason) == (who, "case", "")


def test_a_case_is_this_clinics_or_there_is_none(sign_in: SignIn, site: Desk) -> None:
    hides_from_strangers(sign_in, site, K, "GET")
    hides_from_strangers(sign_in, site, f"{K}void/", "POST")
    hides_from_strangers(sign_in, site, f"{K}close/", "POST")
    assert not Look.objects.exists()


def test_nobody_reads_or_ends_a_case_without_signing_in(client_of_nobody: object, site: Desk) -> None:
    for path in (K, f"{K}void/", f"{K}close/"):
        sends_to_sign_in(client_of_nobody, path, "GET", "POST")  # type: ignore[arg-type]


def test_other_methods_are_refused(sign_in: SignIn) -> None:
    client = sign_in("kowal")
    knows_only(client, K, "GET")
    knows_only(client, f"{K}void/", "POST")
    knows_only(client, f"{K}close/", "POST")


# The page that holds, voided by hand


def test_a_page_is_voided_by_hand(sign_in: SignIn, site: Desk) -> None:
    does_it(sign_in, site, VOID)
    gone = site.states().case("K-101").sheets[-1].voided
    assert gone is not None
    assert (gone.event.why, gone.event.changed) == ("the print was smudged", ())
    owed = [text for text in look(sign_in("kowal"), "/").texts("li") if "K-101" in text]
    assert owed
    assert "call her again" in owed[0]


def test_voiding_is_for_nurse_and_prescriber(sign_in: SignIn, site: Desk) -> None:
    for who in ("devi", "brandt"):
        is_not_for(sign_in, site, who, VOID.address, "POST")
    does_it(sign_in, site, replace(VOID, who="aumont"))


def test_a_page_is_voided_one_time_however_often_the_form_is_sent(sign_in: SignIn, site: Desk) -> None:
    is_done_once(sign_in, site, VOID)


def test_the_page_that_is_voided_is_the_one_that_was_seen(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("kowal")
    form = VOID.form(client)
    do(site, SignOrder("K-101", order("K-101") | {"stop": ["ganirelix"]}), "aumont")
    do(site, Release("K-101", "nobody is here", "she stands beside me"), "aumont")
    answer = client.post(VOID.address, form)
    assert answer.status_code == 422
    assert "sheet 2 was released" in read(answer).summary()
    holds = site.states().case("K-101").sheet
    assert holds is not None
    assert holds.event.version == 2


# The end of a case


def test_a_case_is_closed_and_leaves_the_list(sign_in: SignIn, site: Desk) -> None:
    client = does_it(sign_in, site, CLOSE)
    assert site.states().case("K-101").closed
    assert K not in look(client, "/").links()


def test_closing_is_for_nurse_and_prescriber(sign_in: SignIn, site: Desk) -> None:
    for who in ("devi", "brandt"):
        is_not_for(sign_in, site, who, CLOSE.address, "POST")
    does_it(sign_in, site, replace(CLOSE, who="aumont"))


def test_a_case_is_closed_one_time_however_often_the_form_is_sent(sign_in: SignIn, site: Desk) -> None:
    is_done_once(sign_in, site, CLOSE)


def test_a_form_that_voided_or_closed_does_nothing_else(sign_in: SignIn, site: Desk) -> None:
    refuses_a_used_key(sign_in, site, CLOSE)


def test_a_case_that_is_closed_already_is_not_said_to_be_closed_anew(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("kowal")
    first, second = CLOSE.form(client), CLOSE.form(client)
    assert client.post(CLOSE.address, first).status_code == 302
    before = heads(site)
    answer = client.post(CLOSE.address, second)
    assert answer.status_code == 422
    assert "closed" in read(answer).summary()
    assert heads(site) == before


def test_a_closed_case_can_be_read_and_changes_no_more(sign_in: SignIn, site: Desk) -> None:
    client = does_it(sign_in, site, CLOSE)
    page = look(client, K)
    assert "the case was closed: the cycle was cancelled" in page.main()
    before = heads(site)
    typed = {"key": "late", "seen": str(before["case/K-101"]), "other": "L. Ortiz"}
    read_off = {"strength": "10,000 units", "volume": "as printed", "route": "intramuscular"}
    answer = client.post(f"{K}kit/hcg-10000-units/carton/", typed | read_off)
    assert answer.status_code == 422
    assert "case-closed" in read(answer).summary()
    assert heads(site) == before


# Closed


def test_a_closed_case_is_read_and_offers_nothing_to_do(sign_in: SignIn, site: Desk) -> None:
    do(site, CloseCase("K-107", "she withdrew"), "ortiz")
    for who in ("kowal", "aumont"):
        page = look(sign_in(who), "/cases/K-107/")
        assert "CLOSED: nothing is owed, and nothing changes any more" in page.main()
        posts = [form.action for form in page.forms if form.method == "post"]
        assert posts == ["/accounts/logout/"]
        inside = {link.removeprefix("/cases/K-107/") for link in page.links() if link.startswith("/cases/K-107/")}
        assert {one for one in inside if not one.startswith("sheets/")} <= {
            "plan/",
            "who/",
            "call/note/",
            "phone/",
            "results/",
        }


def test_a_closed_case_leads_to_its_results_as_they_can_still_come_in(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("kowal")
    assert look(client, "/cases/K-107/").links().count("/cases/K-107/results/") == 1
    do(site, CloseCase("K-107", "she withdrew"), "ortiz")
    assert look(client, "/cases/K-107/").links().count("/cases/K-107/results/") == 1
    page = look(client, "/cases/K-107/results/")
    assert "CLOSED" in page.main()
    form = page.form() | {"clock": "16:20", "day": "2026-11-18", "LH.value": "48", "LH.unit": "IU/L"}
    assert client.post("/cases/K-107/results/", form).status_code == 302
    assert "LH 48" in look(client, "/cases/K-107/results/").main()


@pytest.mark.parametrize("path", ["order/", "kit/", "check/", "call/", "release/", "details/", "allowed/"])
def test_a_form_of_a_closed_case_is_not_shown(sign_in: SignIn, site: Desk, path: str) -> None:
    do(site, CloseCase("K-107", "she withdrew"), "ortiz")
    page = look(sign_in("kowal"), f"/cases/K-107/{path}")
    assert "A closed case changes no more" in page.main()
    assert [form.action for form in page.forms] == ["/accounts/logout/"]


def test_whoever_is_known_by_another_spelling_has_seen_the_plan_once(sign_in: SignIn, site: Desk) -> None:
    Member.objects.filter(name="A. Kowal").update(name="a.  kowal")
    do(site, OpenPlan("K-107", "plan"), "kowal")
    before = heads(site)
    look(sign_in("kowal"), "/cases/K-107/plan/")
    assert written(site, before) == []
