"""Tonight: who is next, silent or late, each on its own clock; a board that says how old it is and when the watch is gone."""

import re
import time
from typing import Any

import pytest

from hourmark.case.calls import NoteCall
from hourmark.case.night import Confirm
from hourmark.case.opening import CloseCase, OpenCase
from hourmark.case.orders import SignOrder
from hourmark.case.phone import AskHelp
from hourmark.case.rules import SignRules
from hourmark.case.sheets import VoidSheet
from hourmark.case.slots import PlaceSlot
from hourmark.cli.watch import _look
from hourmark.desk import Desk, Done
from hourmark.desk.states import Memo
from hourmark.web import work
from hourmark.web.models import Used, WatchBeat
from hourmark.web.pages.tonight import SHAPES
from tests.case.test_history import STATES
from tests.case.world import HER_PHONE, order
from tests.web.conftest import CLINIC, NOW, SECRET_NAME, SECRET_PHONE
from tests.web.manners import SignIn, do, heads, is_not_for, knows_only, sends_to_sign_in
from tests.web.seen import Page, look

NIGHT, ROWS = "/night/", "/night/rows/"
K103_DUE = "2026-11-19T03:00:00Z"
"""21:00 at the clinic, 36 h before the slot of K-103."""


@pytest.fixture
def at(site: Desk, monkeypatch: pytest.MonkeyPatch) -> Any:
    """Moves the clock of the pages; the watch has just looked."""

    def moved(moment: str, watched: bool = True) -> None:
        monkeypatch.setattr(work, "instant", lambda: moment)
        if watched:
            WatchBeat.objects.update_or_create(clinic=CLINIC, defaults={"at": moment})

    return moved


def turns(page: Page) -> list[str]:
    """The rows of the board, in words."""
    return [" ".join(one.text.split()) for one in page.elements if one.has_class("turn")]


def turn(page: Page, name: str) -> str:
    return " ".join(page.by_id(f"turn-{name}").text.split())


def report(injection: str, reported: str, **more: Any) -> Confirm:
    said = ("America/Chicago", "she herself", "the clock on her phone", "all", "nothing")
    return Confirm("K-103", injection, reported, *said, **more)


def test_the_next_to_inject_comes_first_and_has_its_clock_its_countdown_and_its_hours(sign_in: SignIn, at: Any) -> None:
    at("2026-11-19T01:30:00Z")
    page = look(sign_in("kowal"), NIGHT)
    first = turn(page, "K-103-agonist")
    for words in ("21:00", "Wed 18 Nov", "in 1 h 30 min", "1 of 2", "TOLD 16:16", "mark 80 (0.8 mL)", "36 h"):
        assert words in first
    assert "Next: K-105 at 19:45" in page.main()
    clocks = [one.text for one in page.elements if one.has_class("big") and one.text[:1].isdigit()]
    assert clocks.index("21:00") > clocks.index("20:30")


def test_every_state_has_a_word_and_a_shape_of_its_own() -> None:
    assert set(SHAPES) == STATES
    assert len(set(SHAPES.values())) == len(SHAPES)


def test_a_two_medicine_plan_with_one_report_is_one_of_two_given_and_silence_on_the_other_goes_on(
    sign_in: SignIn, site: Desk, at: Any
) -> None:
    do(site, report("agonist", "2026-11-18 21:01"), "kowal", "2026-11-19T03:03:00Z")
    at("2026-11-19T03:16:00Z")
    page = look(sign_in("kowal"), NIGHT)
    assert "GIVEN 21:01 · 1 of 2 given" in turn(page, "K-103-agonist")
    silent = turn(page, "K-103-hcg")
    assert "UNKNOWN SINCE 21:00 · 1 of 2 given" in silent
    assert "Tell her own number, owed since 21:15 (line 1 of the ladder)" in silent
    assert "owed" not in turn(page, "K-103-agonist")
    assert "confirmed" not in page.main().lower()


def test_silence_is_never_read_as_given_or_as_not_given(sign_in: SignIn, at: Any) -> None:
    at("2026-11-19T04:00:00Z")
    words = look(sign_in("kowal"), NIGHT).main().lower()
    assert "unknown since" in words
    assert "not injected" not in words
    assert "not given" not in words
    assert "missed" not in words


def test_a_slot_moved_after_she_injected_changes_the_hours_and_the_report_stands(
    sign_in: SignIn, site: Desk, at: Any
) -> None:
    do(
        site,
        PlaceSlot({"id": "s3", "at": "2026-11-20 09:45", "room": "Room 1"}, "late"),
        "theatre",
        "2026-11-19T02:50:00Z",
    )
    do(site, report("agonist", "2026-11-18 21:00", sheet=1), "kowal", "2026-11-19T03:03:00Z")
    at("2026-11-19T03:05:00Z")
    row = turn(look(sign_in("kowal"), NIGHT), "K-103-agonist")
    assert "GIVEN 21:00" in row
    assert "36 h 45 min" in row
    assert "she followed a page that was void" in row


def test_an_injection_outside_the_window_is_late_until_somebody_was_told(sign_in: SignIn, site: Desk, at: Any) -> None:
    do(site, report("agonist", "2026-11-18 22:05"), "kowal", "2026-11-19T04:06:00Z")
    at("2026-11-19T04:07:00Z")
    row = turn(look(sign_in("kowal"), NIGHT), "K-103-agonist")
    assert "LATE 22:05" in row
    assert "34 h 55 min" in row
    assert "outside the order's window" in row


def test_who_asks_for_a_call_on_her_phone_is_a_problem_until_she_is_answered(
    sign_in: SignIn, site: Desk, at: Any
) -> None:
    answer = site.perform(AskHelp("K-103", "hcg", "step 4", "I am stuck"), HER_PHONE.at(NOW), "phone-1")
    assert isinstance(answer, Done)
    at("2026-11-19T02:50:00Z")
    page = look(sign_in("kowal"), NIGHT)
    assert "PROBLEM" in turn(page, "K-103-hcg")
    assert "she asks for a call, step 4: I am stuck" in turn(page, "K-103-hcg")
    assert any("/night/helped/" in link for link in page.links())


def test_it_rings_her_first_number_with_one_tap(sign_in: SignIn, at: Any) -> None:
    at("2026-11-19T02:50:00Z")
    assert f"tel:{SECRET_PHONE.replace(' ', '')}" in look(sign_in("kowal"), NIGHT).links()


def test_while_no_page_holds_and_nobody_has_checked_it_minute_and_mark_are_not_read_off_the_board(
    sign_in: SignIn, site: Desk, at: Any
) -> None:
    do(site, SignOrder("K-103", order("K-103") | {"stop": ["ganirelix"]}), "aumont")
    at("2026-11-19T01:30:00Z")
    page = look(sign_in("devi"), NIGHT)
    for name in ("K-103-agonist", "K-103-hcg"):
        row = turn(page, name)
        assert "NO SHEET" in row
        assert "page 1 is void: " in row
        assert "its minute stands here once the second check agrees" in row
        for word in ("21:00", "mark", "0.8 mL", "0.2 mL", "36 h", "in 1 h 30 min"):
            assert word not in row
    assert "2026-11-19T03:00:00Z" not in page.source


def test_where_the_page_is_void_and_the_check_agrees_the_minute_is_by_the_order_without_what_to_take(
    sign_in: SignIn, site: Desk, at: Any
) -> None:
    do(site, VoidSheet("K-103", 1, "a smudge"), "kowal")
    at("2026-11-19T01:30:00Z")
    row = turn(look(sign_in("devi"), NIGHT), "K-103-agonist")
    for words in ("21:00", "by the order", "NO SHEET", "page 1 is void: a smudge", "Call overdue since 18:00", "36 h"):
        assert words in row
    assert "mark" not in row
    assert "mL" not in row
    handed = look(sign_in("kowal"), "/handover/").main()
    assert "no sheet, to inject at Wed 18 Nov 21:00 by the order; call overdue since Wed 18 Nov 18:00" in handed


def test_what_was_reported_without_a_page_is_nowhere_to_be_told_and_injected(
    sign_in: SignIn, site: Desk, at: Any
) -> None:
    now = "2026-11-18T23:00:00Z"
    said = Confirm(
        "K-110", "hcg", "2026-11-18 16:50", "America/Chicago", "she herself", "she remembers", "all", "nothing"
    )
    do(site, said, "kowal", now)
    at(now)
    page = look(sign_in("devi"), NIGHT)
    row = turn(page, "K-110-hcg")
    assert "Reported: 2026-11-18 16:50, all of it (she herself)" in row
    assert "ask the prescriber before she is told to inject" in row
    for words in ("21:30", "18:30", "Tell her by", "Call overdue"):
        assert words not in row
    (problem,) = [one for one in turns(page) if "PROBLEM" in one and "K-110" in one]
    assert "Reported: 2026-11-18 16:50, all of it (she herself)" in problem
    assert "0 of 13 injections given" in page.main()
    handed = re.findall("K-110: .*?(?=K-1| Who)", look(sign_in("kowal"), "/handover/").main())
    assert len(handed) == 2
    for words in handed:
        assert "reported: 2026-11-18 16:50, all of it (she herself)" in words
        assert not [one for one in ("21:30", "18:30", "tell her by", "overdue") if one in words]


def test_the_next_is_only_the_next_of_those_with_a_minute_where_some_may_not_be_read(
    sign_in: SignIn, site: Desk, at: Any
) -> None:
    at("2026-11-19T04:31:00Z")
    main = look(sign_in("devi"), NIGHT).main()
    assert "Next: K-108" in main
    do(site, SignOrder("K-109", order("K-109") | {"stop": ["follitropin"]}), "sorel")
    main = look(sign_in("devi"), NIGHT).main()
    assert "Next of those with a minute: K-108" in main
    damage(site, "K-106")
    main = look(sign_in("devi"), NIGHT).main()
    assert "Next of those shown with a minute: K-108" in main


def test_a_case_that_is_checked_and_has_no_page_stands_with_its_minute_by_the_order(
    sign_in: SignIn, site: Desk, at: Any
) -> None:
    at("2026-11-19T01:30:00Z")
    page = look(sign_in("devi"), NIGHT)
    for name, words in {
        "K-109-hcg": ("23:30", "by the order", "in 4 h", "NO SHEET", "no page", "Tell her by 20:30"),
        "K-106-agonist": ("22:00", "by the order", "Call overdue since 19:00"),
    }.items():
        row = turn(page, name)
        assert not [one for one in words if one not in row]
        assert "mark" not in row
        assert "mL" not in row, "what to take stands on a page alone"
    order = [row.case for row in site.states().board("2026-11-19T01:30:00Z")]
    assert order[:2] == ["K-110", "K-106"], "whose call is overdue comes first"
    assert order.index("K-109") < len(order) - 1, "and K-105's second, at 01:45, comes after it"
    assert "0 of 13 injections given" in page.main()


def test_a_minute_that_somebody_still_has_to_check_is_not_read_off_the_board(
    sign_in: SignIn, site: Desk, at: Any
) -> None:
    do(site, SignOrder("K-109", order("K-109") | {"stop": ["follitropin"]}), "sorel")
    at("2026-11-19T02:31:00Z")
    page = look(sign_in("devi"), NIGHT)
    row = turn(page, "K-109-hcg")
    for words in ("NO SHEET", "no page: its minute stands here once the second check agrees", "Call overdue"):
        assert words in row
    for words in ("23:30", "20:30", "36 h", "by the order"):
        assert words not in row
    assert "2026-11-19T05:30:00Z" not in page.source
    assert "0 of 13 injections given" in page.main()
    handed = look(sign_in("kowal"), "/handover/").main()
    assert "chorionic gonadotropin 5,000 units; no sheet; call overdue; not released" in handed


def test_a_case_without_an_order_is_counted_and_comes_before_all_that_is_to_come(
    sign_in: SignIn, site: Desk, at: Any
) -> None:
    do(site, OpenCase("K-201", {"zone": "America/Chicago"}), "kowal")
    at("2026-11-18T22:26:00Z")
    page = look(sign_in("devi"), NIGHT)
    assert turns(page)[0].startswith("no page K-201")
    assert "no page: minute not known" in turns(page)[0]
    assert "0 of 14 injections given" in page.main()


def test_what_was_given_without_any_page_can_be_reported_from_its_row(sign_in: SignIn, site: Desk, at: Any) -> None:
    at("2026-11-19T04:10:00Z")
    client = sign_in("kowal")
    assert look(client, NIGHT).by_id("given-K-106-agonist").attributes["href"] == "/cases/K-106/night/agonist/given/"
    form = look(client, "/cases/K-106/night/agonist/given/").form()
    told = {"time": "22:01", "day": form["day"], "told_by": "she herself", "source": "she remembers"}
    answer = client.post("/cases/K-106/night/agonist/given/", form | told | {"amount": "all", "remains": "nothing"})
    assert answer.status_code in (200, 302)
    (kept,) = site.states().case("K-106").confirmations
    assert (kept.event.reported, kept.event.doubts) == ("2026-11-18 22:01", ("no-sheet",))


def test_it_names_nobody(sign_in: SignIn, at: Any) -> None:
    at("2026-11-19T02:50:00Z")
    page = look(sign_in("kowal"), NIGHT)
    assert SECRET_NAME not in page.source
    assert "Z. Q." in page.main()


@pytest.mark.parametrize(("watched", "now", "silent"), [
    ("2026-11-19T03:00:00Z", "2026-11-19T03:01:59Z", False),
    ("2026-11-19T03:00:00Z", "2026-11-19T03:02:00Z", True),
])  # fmt: skip
def test_a_watch_that_does_not_look_is_said_within_two_minutes(
    sign_in: SignIn, at: Any, watched: str, now: str, silent: bool
) -> None:
    WatchBeat.objects.create(clinic=CLINIC, at=watched)
    at(now, watched=False)
    assert ("THE WATCH IS SILENT since 21:00" in look(sign_in("kowal"), NIGHT).main()) is silent


def test_a_watch_that_never_looked_is_said(sign_in: SignIn, at: Any) -> None:
    at("2026-11-19T03:00:00Z", watched=False)
    assert "THE WATCH IS SILENT" in look(sign_in("kowal"), NIGHT).main()


def test_without_a_signed_ladder_it_says_that_it_tells_nobody(sign_in: SignIn, site: Desk, at: Any) -> None:
    clinic: Any = dict(site.states().rules().clinic)
    rules = {name: value for name, value in clinic["rules"].items() if name != "ladder"}
    do(site, SignRules(clinic | {"rules": rules}), "brandt")
    at("2026-11-19T03:30:00Z")
    page = look(sign_in("kowal"), NIGHT)
    assert "Nobody has signed a ladder for silence" in page.main()
    assert "owed since" not in page.main()


# A damaged case


def damage(site: Desk, case: str = "K-103") -> None:
    """A body of her record is gone, and the pages read it anew."""
    with site.store.writing() as record:
        record.drop_bodies(f"case/{case}", [1])
    site._memo = Memo()


def test_a_damaged_case_is_named_with_its_number_to_ring_and_hides_no_other(
    sign_in: SignIn, site: Desk, at: Any
) -> None:
    at("2026-11-19T02:50:00Z")
    damage(site)
    page = look(sign_in("kowal"), NIGHT)
    assert "K-103, Z. Q.: NOBODY WATCHES IT. Its record is damaged; it is not shown." in page.main()
    assert page.by_id("ring-unseen-K-103-1").attributes["href"] == "tel:+15550177"
    assert "turn-K-105-agonist" in page.source
    assert "turn-K-103" not in page.source
    assert "0 of 11 injections given, K-103 not counted. Next of those shown: K-110 at 21:30." in page.main()
    handed = look(sign_in("kowal"), "/handover/").main()
    assert "K-103, Z. Q.: its record is damaged, and nobody watches it" in handed
    assert "K-105" in handed


def test_a_damaged_case_hides_no_other_on_the_morning_list(sign_in: SignIn, site: Desk, at: Any) -> None:
    at("2026-11-19T12:50:00Z")
    damage(site)
    page = look(sign_in("kowal"), "/morning/?day=2026-11-20").main()
    assert "09:00 Room 1: K-103, Z. Q." in page
    assert "its record is damaged, ask the nurse in charge: time UNKNOWN" in page
    assert "At the first needle: nothing known: ask the prescriber before it" in page
    assert page.count("its record is damaged") == 1
    assert "K-101" in page
    done = sign_in("kowal").post("/morning/", look(sign_in("kowal"), "/morning/?day=2026-11-20").form())
    assert done.status_code == 302
    lines = site.states().day("2026-11-20").lists[-1].lines
    unknown = "time UNKNOWN, nobody has said that it was given or not"
    assert f"    its record is damaged, ask the nurse in charge: {unknown}" in lines


def test_what_the_watch_cannot_read_is_said_also_where_the_board_read_it_before(
    sign_in: SignIn, site: Desk, at: Any
) -> None:
    at("2026-11-19T02:50:00Z")
    client = sign_in("kowal")
    digest = look(client, NIGHT).by_id("board").attributes["data-digest"]
    WatchBeat.objects.update(unwatched="K-103")
    answer = client.get(ROWS, {"have": digest})
    assert answer.status_code == 200
    page = look(client, NIGHT)
    assert "K-103, Z. Q.: NOBODY WATCHES IT. Its record is damaged; what stands below of it may be old." in page.main()
    assert "turn-K-103-agonist" in page.source
    assert "0 of 13 injections given. Next: K-103, Z. Q. at 21:00." in page.main()
    WatchBeat.objects.update(unwatched="")
    assert "NOBODY WATCHES IT" not in look(client, NIGHT).main()


def test_the_watch_says_which_case_it_passes_over_and_looks_at_the_others(
    site: Desk, at: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    at("2026-11-19T03:30:00Z", watched=False)
    damage(site)
    _look(CLINIC, None)()
    assert capsys.readouterr().err == "Nobody watches K-103: the record is damaged.\n"
    beat = WatchBeat.objects.get(clinic=CLINIC)
    assert (beat.at, beat.unwatched) == ("2026-11-19T03:30:00Z", "K-103")
    assert [one.event.tell for one in site.states().case("K-105").owed][:1] == ["her own number"]


# What is heard of a case after it was closed


def test_a_report_of_a_closed_case_is_on_the_board_and_in_the_handover_until_somebody_has_seen_it(
    sign_in: SignIn, site: Desk, at: Any
) -> None:
    for injection in ("agonist", "hcg"):
        do(site, report(injection, "2026-11-18 21:02"), "kowal", "2026-11-19T03:05:00Z")
    do(site, CloseCase("K-103", "both given"), "kowal", "2026-11-19T05:00:00Z")
    at("2026-11-19T05:30:00Z")
    client = sign_in("ortiz")
    assert "turn-K-103" not in look(client, NIGHT).source
    do(site, report("hcg", "2026-11-18 22:50"), "kowal", "2026-11-19T05:30:00Z")
    page = look(client, NIGHT)
    assert [one for one in turns(page) if "K-103" in one] == [turn(page, "K-103-hcg")]
    for words in ("PROBLEM 23:30", "reported after the case was closed; two reports differ", "2026-11-18 22:50"):
        assert words in turn(page, "K-103-hcg")
    assert page.by_id("seen-K-103-hcg").attributes["href"] == "/cases/K-103/#close"
    handed = look(client, "/handover/").main()
    assert "23:30; reported after the case was closed; two reports differ" in " ".join(handed.split())
    case = look(client, "/cases/K-103/")
    assert "something was heard of it since" in case.main()
    sent = client.post("/cases/K-103/close/", {**case.form("/cases/K-103/close/"), "why": "told Dr. L. Aumont"})
    assert sent.status_code == 302
    assert "turn-K-103" not in look(client, NIGHT).source
    assert "nothing changes any more" in look(client, "/cases/K-103/").main()


# The rows alone


def test_the_rows_come_only_when_something_but_the_time_has_changed(sign_in: SignIn, site: Desk, at: Any) -> None:
    at("2026-11-19T02:50:00Z")
    client = sign_in("kowal")
    digest = look(client, NIGHT).by_id("board").attributes["data-digest"]
    at("2026-11-19T02:50:30Z")
    same = client.get(ROWS, {"have": digest})
    assert (same.status_code, same["X-Now"], same["X-Clock"]) == (204, "2026-11-19T02:50:30Z", "20:50")
    do(site, NoteCall("K-103", "she", "", "hello", "", "", ""), "kowal")
    assert client.get(ROWS, {"have": digest}).status_code == 204
    do(site, report("agonist", "2026-11-18 20:50"), "kowal", "2026-11-19T02:51:00Z")
    answer = client.get(ROWS, {"have": digest})
    assert answer.status_code == 200
    assert b"GIVEN 20:50" in answer.content
    assert b"<html" not in answer.content


def test_looking_at_the_board_writes_nothing(sign_in: SignIn, site: Desk, at: Any) -> None:
    at("2026-11-19T02:50:00Z")
    before = heads(site)
    client = sign_in("kowal")
    for path in (NIGHT, ROWS):
        client.get(path)
    assert heads(site) == before


def test_the_board_stays_in_sight_without_a_click_and_everything_else_is_locked(
    sign_in: SignIn, site: Desk, at: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    at("2026-11-19T02:50:00Z")
    client = sign_in("kowal")
    look(client, NIGHT)
    clicked = Used.objects.get().at
    monkeypatch.setattr(time, "time", lambda: clicked + 29 * 60)
    look(client, NIGHT)
    assert Used.objects.get().at == clicked
    monkeypatch.setattr(time, "time", lambda: clicked + 31 * 60)
    assert client.get(NIGHT).status_code == 200
    assert client.get(ROWS).status_code == 200
    assert client.get("/cases/K-103/").status_code == 403
    assert client.get("/cases/K-103/night/hcg/given/").status_code == 403
    assert client.post(NIGHT).status_code == 403


# Who may look


@pytest.mark.parametrize("path", [NIGHT, ROWS])
def test_theatre_has_the_morning_list_and_not_the_board(sign_in: SignIn, site: Desk, path: str) -> None:
    is_not_for(sign_in, site, "theatre", path, "GET")


@pytest.mark.parametrize("who", ["devi", "brandt"])
def test_pharmacist_and_lead_see_it_and_report_nothing(sign_in: SignIn, at: Any, who: str) -> None:
    at("2026-11-19T02:50:00Z")
    assert not any("/given/" in link or "/told/" in link for link in look(sign_in(who), NIGHT).links())


def test_another_clinic_sees_its_own_board(sign_in: SignIn, at: Any) -> None:
    at("2026-11-19T02:50:00Z")
    page = look(sign_in("stranger"), NIGHT)
    assert [row[:3] for row in turns(page)] == ["no "]
    assert "K-103" not in page.source


def test_nobody_comes_in_without_signing_in(client_of_nobody: Any) -> None:
    for path in (NIGHT, ROWS):
        sends_to_sign_in(client_of_nobody, path, "GET")


def test_other_methods_are_refused(sign_in: SignIn) -> None:
    for path in (NIGHT, ROWS):
        knows_only(sign_in("kowal"), path, "GET")
