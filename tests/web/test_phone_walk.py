"""The walk-through on her phone: /t/, /t/<place>/boxes/, /t/steps/<leg>/<number>/, /t/pictures/<key>/<name>.svg, /t/call/."""

import datetime as dt
import re
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import pytest
from django.test import Client

from hourmark.case import events as e
from hourmark.case.calls import TryCall
from hourmark.case.night import Confirm
from hourmark.case.phone import GiveHelp
from hourmark.case.sheets import VoidSheet
from hourmark.case.streams import case_stream
from hourmark.desk import Desk, recorded
from hourmark.dose.steps import phrases
from hourmark.handout.language import language
from hourmark.web.pages.phone_time import countdown
from hourmark.web.pages.phone_walk import last_moment
from tests.web.conftest import ROOT
from tests.web.hers import (
    AT_NINE_TEN,
    CASE,
    DUE,
    NUMBER_AT_NIGHT,
    NUMBER_BY_DAY,
    UNKNOWN,
    clock_of,
    give,
    her_phone,
    opened,
    read_boxes,
    report_form,
    stranger,
    walk_of,
)
from tests.web.manners import SignIn, do, heads, written
from tests.web.minutes import (
    PROVISIONAL,
    TWO_TIMES,
    counted_from_the_first,
    shown,
    step_of_waiting,
    without_window,
)
from tests.web.seen import look, read, text_of

STATIC = ROOT / "src/hourmark/web/static/hourmark"
FIRST_PAGE = 50_000
"""The most that the first page may weigh, all of it (W3C TAG and common practice for slow networks; the figure is this project's own)."""

MISSTEPS = ("all the water supplied", "ten times", "too much", "too little", "misstep", "tolerance", "percent", "%")


def said(phone: Client, path: str) -> str:
    return look(phone, path).main()


def events(site: Desk, kind: type[e.Event]) -> list[e.Event]:
    return [one.event for one in recorded(site.store, case_stream(CASE)) if isinstance(one.event, kind)]


def started(phone: Client) -> str:
    """All boxes of the minute compared, and the first step's address."""
    assert read_boxes(phone, 1) == "/t/2/boxes/"
    return read_boxes(phone, 2)


def onward(source: str) -> str:
    found = re.search(r'<nav class="steps">.*class="button main" href="([^"]+)"', source)
    assert found is not None
    return found[1]


def whole_walk(phone: Client, begins: str) -> dict[str, str]:
    """Every page from the first step on, by its address, up to the report."""
    pages, path = {}, begins
    while "/done/" not in path:
        assert path not in pages
        answer = phone.get(path)
        assert answer.status_code == 200
        pages[path] = text_of(answer)
        path = onward(pages[path])
    return pages


# The list of her medicines


def test_every_medicine_has_its_place_its_minute_and_its_time_left(sign_in: SignIn, site: Desk) -> None:
    words = said(her_phone(sign_in), "/t/")
    assert "Medicine 1 of 2: leuprolide acetate" in words
    assert "Medicine 2 of 2: chorionic gonadotropin" in words
    minute = "Wednesday 18 November 2026, 9:00 pm (21:00), the night of Wednesday into Thursday, Chicago time"
    assert words.count(minute) >= 2
    assert words.count("In 4 h 35 min") == 2


def test_two_medicines_at_two_times_have_each_their_own_clock(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """K-105 at 40 h and 34 h before Friday 10:00 in Chicago: Wednesday 18:00 and Thursday 00:00."""
    due = site.states().case("K-105").sheets[-1].event.dues
    phone = her_phone(sign_in, "K-105")
    clock = clock_of(monkeypatch)
    clock("2026-11-18T23:00:00Z")
    words = said(phone, "/t/")
    at = [dt.datetime.fromisoformat(one.at) - dt.datetime(2026, 11, 18, 23, tzinfo=dt.UTC) for one in due]
    for left in at:
        minutes = int(left.total_seconds()) // 60
        assert f"In {minutes // 60} h {minutes % 60} min" in words if minutes >= 60 else f"In {minutes} min" in words
    assert len(set(at)) == 2


@pytest.mark.parametrize(
    ("now", "words"),
    [
        ("2026-11-19T00:59:59Z", "In 2 h 0 min"),
        ("2026-11-19T01:59:59Z", "In 1 h 0 min"),
        ("2026-11-19T02:00:01Z", "In 59 min"),
        ("2026-11-19T02:59:00Z", "In 1 min"),
        ("2026-11-19T02:59:01Z", "In less than 1 minute"),
        ("2026-11-19T03:00:00Z", "The time is NOW"),
        ("2026-11-19T03:00:59Z", "The time is NOW"),
        ("2026-11-19T03:01:00Z", "1 min ago"),
        ("2026-11-19T04:05:00Z", "1 h 5 min ago"),
    ],
)
def test_how_long_it_is(now: str, words: str) -> None:
    """The difference of two instants, by the standard library's own arithmetic in the row above each."""
    found = countdown("2026-11-19T03:00:00Z", "21:00", now, language("en"))
    assert found.words == words
    assert found.over is (dt.datetime.fromisoformat(now) >= dt.datetime(2026, 11, 19, 3, tzinfo=dt.UTC))


def test_at_the_minute_nobody_is_frightened_and_after_the_window_she_is_told_to_ring(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The order's window of K-103 is 35 to 37 h before Friday 09:00: it ends at 22:00, which is 04:00 in UTC."""
    phone = her_phone(sign_in)
    first = started(phone)
    unsure = (
        "Late, and nothing given yet: call before you inject. Wrong or unsure: do not repeat and do not add a dose."
    )
    for now, alarms, asked in (
        ("2026-11-19T02:59:00Z", False, False),
        ("2026-11-19T03:00:10Z", False, True),
        ("2026-11-19T04:00:00Z", False, True),
        ("2026-11-19T04:00:01Z", True, False),
    ):
        clock_of(monkeypatch)(now)
        for path in ("/t/", first, "/t/1/boxes/?again=1"):
            source = text_of(phone.get(path))
            told = re.findall(r'role="alert" data-after="2026-11-19T04:00:00Z"( hidden)?>(.*?)</div>', source)
            assert {unsure in one and "It is past your time, 9:00 pm (21:00)." in one for _, one in told} == {True}
            assert {not hidden for hidden, _ in told} == {alarms}, (now, path)
            ask = r'data-after="2026-11-19T03:00:00Z" data-before="2026-11-19T04:00:00Z"( hidden)?><summary>Late, and'
            assert {not hidden for hidden in re.findall(ask, source)} == {asked}, (now, path)
            question = "Is it past 9:00 pm (21:00), and nothing is given yet? Ring before you inject."
            assert (question in shown(source)) is not alarms, (now, path)


def test_the_late_question_needs_no_script_and_no_lack_of_one(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the script fails to load, a browser shows nothing of <noscript>: it stands there in full until a script hides it."""
    phone = her_phone(sign_in)
    first = started(phone)
    for now in ("2026-11-19T02:20:00Z", "2026-11-19T03:30:00Z"):
        clock_of(monkeypatch)(now)
        for path in ("/t/", first, "/t/1/boxes/?again=1"):
            source = text_of(phone.get(path))
            assert "Is it past 9:00 pm (21:00), and nothing is given yet? Ring before you inject." in shown(source)
            assert "<noscript" not in source
    give_first(phone)
    assert "Is it past" not in shown(text_of(phone.get(first)))


def test_the_last_moment_is_the_orders_and_there_is_none_where_the_order_has_no_window(
    sign_in: SignIn, site: Desk
) -> None:
    """One that follows another has the window to the first as that was given; none while nobody knows when.

    Without a window no moment is too late by the order: the minute itself would alarm whoever is exactly on time.
    """
    state = site.states().case(CASE)
    due = state.sheets[0].event.dues[0]
    assert (due.at, due.latest, last_moment(state, due)) == (DUE, "2026-11-19T04:00:00Z", "2026-11-19T04:00:00Z")
    assert last_moment(state, replace(due, latest=None)) is None
    follows = e.Follows("hcg", 360, 350, 365)
    counted = replace(due, latest=None, follows=follows)
    assert last_moment(state, counted) is None
    do(
        site,
        Confirm(CASE, "hcg", "2026-11-18 21:10", due.zone, "she", "saw", "all", "nothing"),
        "kowal",
        "2026-11-19T04:00:00Z",
    )
    given = site.states().case(CASE)
    assert last_moment(given, counted) == "2026-11-19T09:15:00Z"
    assert last_moment(given, replace(counted, follows=replace(follows, least=None, most=None))) is None


@pytest.mark.parametrize(
    ("now", "waits", "over", "asked"),
    [
        ("2026-11-19T02:59:59Z", True, False, False),
        ("2026-11-19T03:00:00Z", False, True, False),
        ("2026-11-19T03:00:01Z", False, True, False),
        ("2026-11-19T03:00:59Z", False, True, False),
        ("2026-11-19T03:01:00Z", False, False, True),
        ("2026-11-19T07:00:00Z", False, False, True),
    ],
)
def test_without_a_window_whoever_is_on_time_is_not_told_to_ring(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch, now: str, waits: bool, over: bool, asked: bool
) -> None:
    without_window(monkeypatch)
    phone = her_phone(sign_in)
    first = started(phone)
    clock_of(monkeypatch)(now)
    ring = "Your time was 9:00 pm (21:00). Not given yet? Ring before you inject."
    for path in ("/t/", first, "/t/1/boxes/?again=1", step_of_waiting(site, CASE, 1)):
        source = text_of(phone.get(path))
        words = shown(source)
        assert "It is past your time" not in source
        assert words.count(ring) == asked * (2 if path == "/t/" else 1), path  # both of her medicines have that minute
        waiting = path == step_of_waiting(site, CASE, 1)
        assert ("WAIT: do not inject before 9:00 pm" in words) is (waiting and waits)
        assert ("It is 9:00 pm (21:00) or later. The wait is over." in words) is (waiting and over)
        assert ("Late, and nothing given yet: call before you inject." in words) is asked


def test_after_its_window_the_step_of_waiting_does_not_say_go_and_ring_at_once(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    phone = her_phone(sign_in)
    started(phone)
    for now, over in (("2026-11-19T04:00:00Z", True), ("2026-11-19T04:00:01Z", False)):
        clock_of(monkeypatch)(now)
        words = shown(text_of(phone.get(step_of_waiting(site, CASE, 1))))
        assert ("The wait is over." in words) is over
        assert ("It is past your time, 9:00 pm (21:00)." in words) is not over
        assert ("Your time was 9:00 pm (21:00). Not given yet? Ring before you inject." in words) is not over


@pytest.mark.parametrize(
    ("first_was", "amount", "too_late"),
    [
        (None, "all", ""),
        ("20:25", "all", ""),
        ("19:56", "all", ""),
        ("19:39", "all", ""),
        ("19:45", "0.1 mL", ""),
        ("19:45", "none", ""),
        ("19:45", "all", "2026-11-19T07:50:01Z"),
        ("19:55", "all", "2026-11-19T08:00:01Z"),
        ("19:40", "all", "2026-11-19T07:45:01Z"),
    ],
)
def test_a_minute_that_hangs_on_the_first_is_said_to_have_come_only_where_it_keeps_the_window_to_it(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch, first_was: str | None, amount: str, too_late: str
) -> None:
    """19:45 and 5 h 50 to 6 h 5 after the actual first, planned for 1:45: so the first was from 19:40 to 19:55, and from it she may be late."""
    counted_from_the_first(monkeypatch)
    holds = bool(too_late)
    phone, clock = her_phone(sign_in, TWO_TIMES), clock_of(monkeypatch)
    assert read_boxes(phone, 2).startswith("/t/steps/3/")
    first = site.states().case(TWO_TIMES).sheets[-1].event.dues[0]
    assert first.at == "2026-11-19T01:45:00Z"
    if first_was is not None:
        said = (f"2026-11-18 {first_was}", first.zone, "she", "saw", amount, "nothing")
        do(site, Confirm(TWO_TIMES, first.injection, *said, sheet=1), "kowal", "2026-11-19T03:00:00Z")
    waits = step_of_waiting(site, TWO_TIMES, 2)
    late = "It is past your time, 1:45 am (01:45)"
    for now, past in (("2026-11-19T07:45:00Z", False), (too_late or "2026-11-19T08:00:01Z", True)):
        clock(now)
        source = text_of(phone.get(waits))
        step = source.split("<article>")[1].split("</article>")[0]
        assert ("The wait is over." in shown(source)) is (holds and not past)
        assert ("The wait is over." in source) is holds
        assert (PROVISIONAL in shown(f"<main>{step}</main>")) is not holds
        assert (f'href="tel:{NUMBER_AT_NIGHT.replace(" ", "")}"' in step) is not holds
        for path in (waits, "/t/", "/t/2/boxes/?again=1"):
            page = text_of(phone.get(path))
            card = page.split('id="m2"')[1] if path == "/t/" else page
            words = shown(f"<main>{card}</main>")
            assert (late in words) is (holds and past), path
            assert (late in card) is holds
            assert ("This time may have moved. Ring first." in words) is not holds, path
            assert not re.search(r"The time is NOW|\d min ago", words) or holds
    clock("2026-11-19T07:44:00Z")
    words = shown(text_of(phone.get(waits)))
    assert "WAIT: do not inject before 1:45 am (01:45)" in words
    assert PROVISIONAL in words
    assert "In 1 min" in words


def test_a_page_from_before_the_record_knew_what_follows_goes_by_its_own_words(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nobody knows on which of the others it hangs: it is never said to have come."""
    counted_from_the_first(monkeypatch, kept=False)
    phone = her_phone(sign_in, TWO_TIMES)
    read_boxes(phone, 2)
    said = ("2026-11-18 19:45", "America/Chicago", "she", "saw", "all", "nothing")
    first = site.states().case(TWO_TIMES).sheets[-1].event.dues[0]
    do(site, Confirm(TWO_TIMES, first.injection, *said, sheet=1), "kowal", "2026-11-19T03:00:00Z")
    clock_of(monkeypatch)("2026-11-19T08:30:00Z")
    source = text_of(phone.get(step_of_waiting(site, TWO_TIMES, 2)))
    assert PROVISIONAL in shown(source)
    assert "The wait is over." not in source
    assert "It is past your time" not in source


def test_one_that_follows_without_a_window_asks_softly_as_well(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    counted_from_the_first(monkeypatch, window=False)
    phone = her_phone(sign_in, TWO_TIMES)
    read_boxes(phone, 2)
    first = site.states().case(TWO_TIMES).sheets[-1].event.dues[0]
    said = ("2026-11-18 19:45", first.zone, "she", "saw", "all", "nothing")
    do(site, Confirm(TWO_TIMES, first.injection, *said, sheet=1), "kowal", "2026-11-19T03:00:00Z")
    for now, asked in (("2026-11-19T07:45:59Z", False), ("2026-11-19T07:46:00Z", True)):
        clock_of(monkeypatch)(now)
        words = shown(text_of(phone.get(step_of_waiting(site, TWO_TIMES, 2))))
        assert ("The wait is over." in words) is not asked
        assert (" Not given yet? Ring before you inject." in words) is asked


# Pages that stay open


def test_a_page_with_a_form_in_use_or_an_answer_to_a_form_is_not_loaded_anew(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    phone = her_phone(sign_in)
    changed = "Something new was noted about your medicines. Look before you give anything."
    keeps = {"/t/1/boxes/": True, "/t/1/done/": True, "/t/practice/2/": True, "/t/": False}
    answered = phone.post("/t/practice/2/", look(phone, "/t/practice/2/").form() | {"at": "3"})
    assert answered.status_code == 200
    sources = {path: (text_of(phone.get(path)), kept) for path, kept in keeps.items()}
    sources |= {"answered": (text_of(answered), True), "step": (text_of(phone.get(started(phone))), False)}
    for path, (source, kept) in sources.items():
        assert bool(re.search(r"<body[^>]* data-keeps[ >]", source)) is kept, path
        line = re.search(r'<p class="alarm" id="changed" role="alert" hidden>(.*?)</p>', source)
        assert line is not None
        assert changed in line[1]
        assert 'href="/t/"' in line[1]


def test_what_the_clinic_was_told_by_a_void_page_is_not_asked_after_again(sign_in: SignIn, site: Desk) -> None:
    phone = her_phone(sign_in)
    form = report_form(phone) | {"hour": "15", "minute": "02", "how": "all"}
    assert not re.search(r"<body[^>]* data-void[ >]", text_of(phone.get("/t/1/done/")))
    do(site, VoidSheet(CASE, 1, "the slot may move"), "kowal")
    answer = text_of(phone.post("/t/1/done/", form))
    assert "Your answer is stored all the same." in answer
    assert re.search(r"<body[^>]* data-void[ >]", answer)


def test_what_is_read_late_without_a_script_is_true_then_as_well(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    phone = her_phone(sign_in)
    clock_of(monkeypatch)("2026-11-19T02:20:00Z")
    for path in ("/t/", started(phone)):
        page = look(phone, path)
        assert "In 40 min, counted at 8:20 pm (20:20)" in page.main()
        assert "Too early" not in page.main()
    assert 'data-before="2026-11-19T02:40:00Z">Do not mix before 8:40 pm (20:40).' in text_of(
        phone.get("/t/steps/1/3/")
    )


def test_a_page_from_before_there_were_steps_still_takes_her_report(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    from hourmark.web.pages import phone as pages

    monkeypatch.setattr(pages.Visit, "walk", None)
    phone = her_phone(sign_in)
    words = said(phone, "/t/")
    assert "This page has no steps for the phone. Follow your printed page." in words
    assert "9:00 pm (21:00)" in words
    assert look(phone, "/t/1/done/").form("/t/1/done/")["key"]
    assert phone.get("/t/1/boxes/").status_code == phone.get("/t/steps/1/1/").status_code == 404


# The boxes


def test_no_step_is_shown_before_the_boxes_are_read(sign_in: SignIn, site: Desk) -> None:
    phone = her_phone(sign_in)
    answer = phone.get("/t/steps/1/3/")
    assert (answer.status_code, answer["Location"]) == (302, "/t/1/boxes/")
    assert read_boxes(phone, 1) == "/t/2/boxes/"
    assert phone.get("/t/steps/1/3/")["Location"] == "/t/2/boxes/", "both are opened at one minute: both are read first"


def test_all_as_on_her_page_is_kept_and_leads_to_the_steps(sign_in: SignIn, site: Desk) -> None:
    phone = her_phone(sign_in)
    before = heads(site)
    assert started(phone).startswith("/t/steps/1/")
    assert written(site, before) == [f"case/{CASE} boxes-read"] * 2
    assert events(site, e.BoxesRead) == [e.BoxesRead("agonist", 1, ()), e.BoxesRead("hcg", 1, ())]
    assert phone.get("/t/1/boxes/")["Location"].startswith("/t/steps/1/")
    rows = {row.injection: row.state for row in site.states().board("2026-11-18T22:25:00Z") if row.case == CASE}
    assert rows == {"agonist": "mixing", "hcg": "mixing"}


def test_every_question_has_the_words_that_must_be_there(sign_in: SignIn, site: Desk) -> None:
    phone, walk = her_phone(sign_in), walk_of(site)
    for place, injection in enumerate(walk.injections, 1):
        words = said(phone, f"/t/{place}/boxes/")
        assert injection.boxes
        for one in injection.boxes:
            assert str(one.ask) in words
            assert str(one.expected) in words


def test_any_no_is_kept_and_ends_at_the_number(sign_in: SignIn, site: Desk) -> None:
    phone, walk = her_phone(sign_in), walk_of(site)
    for place, injection in enumerate(walk.injections, 1):
        for one in injection.boxes:
            before = heads(site)
            phone_now = opened(give(sign_in)[0])
            before = heads(site)
            assert read_boxes(phone_now, place, f"box-{one.code}") == f"/t/{place}/boxes/"
            assert sorted(written(site, before)) == sorted([f"case/{CASE} boxes-read", f"case/{CASE} help-asked"])
            page = look(phone_now, f"/t/{place}/boxes/")
            assert "Stop. Open nothing. Ring." in page.main()
            assert NUMBER_BY_DAY in page.main()
            assert f"tel:{NUMBER_BY_DAY.replace(' ', '')}" in page.links()
            assert not [form for form in page.forms if form.method == "post"]
            for step in ("/t/steps/1/3/", "/t/steps/2/5/"):
                assert phone_now.get(step).status_code == 302
            for waiting in site.states().case(CASE).waiting:
                do(site, GiveHelp(CASE, waiting.seq, "rang her"), "kowal")
    assert phone.get("/t/").status_code == 404, "each new link ended the one before"


def test_a_question_left_open_counts_as_no(sign_in: SignIn, site: Desk) -> None:
    phone = her_phone(sign_in)
    form = look(phone, "/t/1/boxes/").form()
    answer = phone.post("/t/1/boxes/", form)
    assert answer["Location"] == "/t/1/boxes/"
    assert "Stop. Open nothing. Ring." in said(phone, "/t/1/boxes/")
    (kept,) = events(site, e.BoxesRead)
    assert isinstance(kept, e.BoxesRead)
    assert kept.differs
    assert all("not answered" in one for one in kept.differs)


def test_once_she_was_rung_she_reads_the_boxes_again(sign_in: SignIn, site: Desk) -> None:
    phone = her_phone(sign_in)
    first = walk_of(site).injections[0].boxes[0].code
    read_boxes(phone, 1, f"box-{first}")
    (waiting,) = site.states().case(CASE).waiting
    assert first.replace("-", " ") in waiting.event.about
    do(site, GiveHelp(CASE, waiting.seq, "the right vial stood behind it"), "kowal")
    assert "The clinic has answered you. Read the boxes again now." in said(phone, "/t/1/boxes/")
    assert read_boxes(phone, 1) == "/t/2/boxes/"


def test_the_same_answers_sent_twice_are_kept_one_time(sign_in: SignIn, site: Desk) -> None:
    phone = her_phone(sign_in)
    source = text_of(phone.get("/t/1/boxes/"))
    form = read(phone.get("/t/1/boxes/")).form()
    form |= dict.fromkeys(re.findall(r'name="(box-[\w-]+)"', source), "yes")
    before = heads(site)
    for _ in range(3):
        assert phone.post("/t/1/boxes/", form)["Location"] == "/t/2/boxes/"
    assert written(site, before) == [f"case/{CASE} boxes-read"]


def test_a_no_is_not_undone_by_another_answer(sign_in: SignIn, site: Desk) -> None:
    """She goes back and answers yes to everything; only the call that she waits for ends it."""
    phone = her_phone(sign_in)
    source = text_of(phone.get("/t/1/boxes/"))
    names = list(dict.fromkeys(re.findall(r'name="(box-[\w-]+)"', source)))
    form = read(phone.get("/t/1/boxes/")).form() | dict.fromkeys(names, "yes")
    phone.post("/t/1/boxes/", form | {names[0]: "no"})
    before = heads(site)
    assert phone.post("/t/1/boxes/", form)["Location"] == "/t/1/boxes/"
    assert written(site, before) == []
    assert "Stop. Open nothing. Ring." in said(phone, "/t/1/boxes/")
    assert "Stop. Open nothing. Ring." in said(phone, "/t/1/boxes/?again=1")
    assert read_boxes(phone, 2) == "/t/1/boxes/"
    assert phone.get("/t/steps/1/3/")["Location"] == "/t/1/boxes/"


# One of two is given


def give_first(phone: Client) -> None:
    form = report_form(phone) | {"hour": "21", "minute": "02", "how": "all"}
    assert phone.post("/t/1/done/", form).status_code == 303


def test_what_is_given_is_never_led_into_again(sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    phone, walk = her_phone(sign_in), walk_of(site)
    started(phone)
    clock_of(monkeypatch)(AT_NINE_TEN)
    give_first(phone)
    address = phone.get("/t/2/boxes/")["Location"]
    assert address.startswith("/t/steps/4/")
    assert (walk.legs[3].injection, walk.legs[3].part) == ("hcg", "give")
    form = look(phone, "/t/2/done/").form("/t/2/done/") | {"hour": "21", "minute": "04", "how": "all"}
    assert phone.post("/t/2/done/", form).status_code == 303
    assert phone.get("/t/2/boxes/")["Location"] == phone.get("/t/1/boxes/")["Location"] == "/t/"


def test_the_steps_of_what_is_given_say_so(sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """The nurse has written it down; the phone stands open at a step of the same medicine."""
    phone = her_phone(sign_in)
    first = started(phone)
    clock_of(monkeypatch)(AT_NINE_TEN)
    already = "The clinic has noted that this one is given. Do not give it again. If it is not given: ring."
    again = "/t/1/boxes/?again=1"
    assert already not in said(phone, first)
    assert already not in said(phone, again)
    nurse = Confirm(CASE, "agonist", "2026-11-18 21:02", "America/Chicago", "she", "saw", "all", "nothing", sheet=1)
    do(site, nurse, "kowal", AT_NINE_TEN)
    assert already in said(phone, first)
    assert already in said(phone, again)
    assert already not in said(phone, "/t/steps/2/5/")
    assert "Do nothing because of this screen." in said(phone, "/t/practice/1/")


def test_before_its_time_nothing_is_mixed(sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    phone, injection = her_phone(sign_in), walk_of(site).injections[0]
    assert injection.mix_at is not None
    first, clock = started(phone), clock_of(monkeypatch)
    mix_at = dt.datetime.fromisoformat(injection.mix_at)
    for off, early in ((-1, True), (0, False)):
        clock(f"{mix_at + dt.timedelta(seconds=off):%Y-%m-%dT%H:%M:%SZ}")
        assert ("Do not mix before" in said(phone, first)) is early
    assert str(injection.clock) in said(phone, "/t/1/boxes/?again=1")


# Steps


def test_the_walk_is_the_page_step_by_step(sign_in: SignIn, site: Desk) -> None:
    """Every step that the boxes did not ask, in the order of hands, and each as its page has it."""
    phone, walk = her_phone(sign_in), walk_of(site)
    pages = whole_walk(phone, started(phone))
    wanted = []
    for number, leg in enumerate(walk.legs, 1):
        if (leg.injection, leg.part) == ("hcg", "give"):
            break
        wanted += [(f"/t/steps/{number}/{one.number}/", one) for one in walk.steps(leg) if not one.box]
    assert list(pages) == [path for path, _ in wanted]
    for (_, step), source in zip(wanted, pages.values(), strict=True):
        words = read_words(source)
        for text in (step.do, step.see, step.stuck.look, step.stuck.never, *filter(None, (step.warn,))):
            assert str(text) in words
        assert f"/t/pictures/{step.picture}/still.svg" in source
        assert f'alt="{step.alt}"'.replace('"', "") in source.replace("&#x27;", "'").replace("&quot;", "").replace(
            '"', ""
        )


def read_words(source: str) -> str:
    from tests.web.seen import Page

    return Page(source).main()


def test_both_are_made_ready_before_the_first_is_given(sign_in: SignIn, site: Desk) -> None:
    walk = walk_of(site)
    assert [(leg.injection, leg.part) for leg in walk.legs] == [
        ("agonist", "ready"),
        ("hcg", "ready"),
        ("agonist", "give"),
        ("hcg", "give"),
    ]


def test_what_is_injected_at_another_time_is_opened_at_another_time(sign_in: SignIn, site: Desk) -> None:
    """K-105: two medicines six hours apart. The boxes of one lead to its own steps, and the other's stay closed."""
    phone, walk = her_phone(sign_in, "K-105"), walk_of(site, "K-105")
    assert [leg.part for leg in walk.legs] == ["ready", "give", "ready", "give"]
    assert read_boxes(phone, 1).startswith("/t/steps/1/")
    assert phone.get("/t/steps/3/3/")["Location"] == "/t/2/boxes/"
    assert read_boxes(phone, 2).startswith("/t/steps/3/")


@pytest.mark.parametrize("case", ["K-101", "K-102", "K-103", "K-104", "K-105"])
def test_every_page_that_is_released_can_be_walked_to_its_end(sign_in: SignIn, site: Desk, case: str) -> None:
    phone, walk = her_phone(sign_in, case), walk_of(site, case)
    for place, injection in enumerate(walk.injections, 1):
        read_boxes(phone, place) if injection.boxes else None
    walked = 0
    for number, leg in enumerate(walk.legs, 1):
        for one in walk.steps(leg):
            answer = phone.get(f"/t/steps/{number}/{one.number}/")
            assert answer.status_code == 200
            assert str(one.do) in read_words(text_of(answer))
            walked += 1
    assert walked == sum(len(one.steps) for one in walk.injections)
    for place in range(1, len(walk.injections) + 1):
        assert phone.get(f"/t/{place}/done/").status_code == 200


def test_back_goes_back_the_way_that_next_came(sign_in: SignIn, site: Desk) -> None:
    phone = her_phone(sign_in)
    pages = whole_walk(phone, started(phone))
    back = [re.search(r'<nav class="steps"><a class="button second" href="([^"]+)"', one) for one in pages.values()]
    assert [one[1] for one in back if one] == ["/t/", *list(pages)[:-1]]


def test_every_step_carries_the_number_the_emergency_and_when_it_was_checked(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    phone = her_phone(sign_in)
    first = started(phone)
    clock_of(monkeypatch)("2026-11-19T00:40:00Z")
    for source in (text_of(phone.get("/t/")), *whole_walk(phone, first).values()):
        assert source.index("Severe symptoms: emergency services first.") < source.index("<main")
        assert source.index(f"Ring {NUMBER_AT_NIGHT}") < source.index("<main")
        assert NUMBER_BY_DAY not in source.split("Everything on your page")[0]
        assert "Checked at 6:40 pm (18:40). If you cannot reload this page, ring before you mix anything." in source


def test_what_keeps_from_injecting_stands_before_it(sign_in: SignIn, site: Desk) -> None:
    phone, walk = her_phone(sign_in), walk_of(site)
    flags = str(walk.red_flags)
    assert "do not inject yet" in flags
    assert flags in said(phone, "/t/")
    assert flags in said(phone, "/t/1/boxes/")
    pages = whole_walk(phone, started(phone))
    waits = [path for path, source in pages.items() if "WAIT: do not inject before" in source]
    assert waits
    assert all(flags in read_words(pages[path]) for path in waits)
    assert flags in read_words(next(iter(pages.values())))


def test_the_minute_stands_on_every_step(sign_in: SignIn, site: Desk) -> None:
    phone = her_phone(sign_in)
    for source in whole_walk(phone, started(phone)).values():
        assert 'data-until="2026-11-19T03:00:00Z" data-wall="21:00">In 4 h 35 min' in source
        assert "<strong>9:00 pm (21:00)</strong>" in source


def test_seconds_are_the_labels_or_the_clinics(sign_in: SignIn, site: Desk) -> None:
    phone, walk = her_phone(sign_in), walk_of(site)
    pages = whole_walk(phone, started(phone))
    timed = {int(one) for source in pages.values() for one in re.findall(r'data-seconds="(\d+)"', source)}
    assert timed == {one.seconds for leg in walk.legs[:3] for one in walk.steps(leg) if one.seconds and not one.box}
    assert walk.drying_seconds in timed


def test_a_step_that_is_not_there_is_nowhere(sign_in: SignIn, site: Desk) -> None:
    phone = her_phone(sign_in)
    started(phone)
    for path in ("/t/steps/0/1/", "/t/steps/9/1/", "/t/steps/1/99/", "/t/steps/1/0/"):
        assert phone.get(path).content == stranger().get(UNKNOWN).content


def test_where_she_stood_is_found_again(sign_in: SignIn, site: Desk) -> None:
    phone = her_phone(sign_in)
    first = started(phone)
    second = onward(text_of(phone.get(first)))
    phone.get(second)
    number = second.split("/")[-2]
    page = look(phone, "/t/")
    assert f"Go on at step {number}" in page.main()
    assert second in page.links()
    clean = opened(give(sign_in)[0])
    assert "Go on at step" not in said(clean, "/t/")


def test_a_page_that_becomes_void_ends_the_walk_at_once(sign_in: SignIn, site: Desk) -> None:
    phone = her_phone(sign_in)
    first = started(phone)
    do(site, VoidSheet(CASE, 1, "the slot may move"), "kowal")
    nobodys = stranger().get(UNKNOWN).content
    for path in ("/t/", first, "/t/1/boxes/", "/t/1/done/", "/t/pictures/p0/still.svg", "/t/practice/1/"):
        assert phone.get(path).content == nobodys


def test_what_else_happens_to_the_case_changes_nothing(sign_in: SignIn, site: Desk) -> None:
    phone = her_phone(sign_in)
    first = started(phone)
    before = text_of(phone.get(first))
    do(site, TryCall(CASE, "+1 555 0199", False, "engaged"), "ortiz")
    without = re.compile(r'csrfmiddlewaretoken" value="\w+"')
    assert without.sub("", text_of(phone.get(first))) == without.sub("", before)


# Pictures


def test_every_picture_is_the_one_of_her_page(sign_in: SignIn, site: Desk) -> None:
    phone, walk = her_phone(sign_in), walk_of(site)
    assert any(one.moving for one in walk.pictures)
    for one in walk.pictures:
        still = phone.get(f"/t/pictures/{one.key}/still.svg")
        assert still["Content-Type"] == "image/svg+xml"
        assert text_of(still) == one.still
        ElementTree.fromstring(text_of(still))
        moving = phone.get(f"/t/pictures/{one.key}/moving.svg")
        assert (moving.status_code, text_of(moving) if one.moving else None) == (200 if one.moving else 404, one.moving)
        for source in (one.still, one.moving or ""):
            assert "<script" not in source
            assert not re.search(r'(href|src)="(?!#)', source)


def test_it_moves_when_asked_and_stays_still_for_whoever_wants_no_motion(sign_in: SignIn, site: Desk) -> None:
    phone, walk = her_phone(sign_in), walk_of(site)
    pages = whole_walk(phone, started(phone))
    for path, source in pages.items():
        assert "moving.svg" not in source
        leg, number = (int(one) for one in path.split("/")[3:5])
        step = next(one for one in walk.steps(walk.legs[leg - 1]) if one.number == number)
        moves = walk.picture(step.picture).moving is not None
        assert ("?move=1" in source) is moves
        if moves:
            moved = text_of(phone.get(f"{path}?move=1"))
            still = f'<source media="(prefers-reduced-motion: reduce)" srcset="/t/pictures/{step.picture}/still.svg">'
            assert f'<picture>{still}<img class="drawing" src="/t/pictures/{step.picture}/moving.svg"' in moved


# Stuck


def test_she_asks_for_a_call_where_she_stands(sign_in: SignIn, site: Desk) -> None:
    phone = her_phone(sign_in)
    first = started(phone)
    page = look(phone, first)
    form = page.form("/t/call/")
    before = heads(site)
    answer = phone.post("/t/call/", form)
    assert (answer.status_code, answer["Location"]) == (302, first)
    assert written(site, before) == [f"case/{CASE} help-asked"]
    (asked,) = events(site, e.HelpAsked)
    step = walk_of(site).steps(walk_of(site).legs[0])
    code = next(one.code for one in step if first.endswith(f"/{one.number}/"))
    assert asked == e.HelpAsked("agonist", f"get ready, step {form['step']}: {code.replace('-', ' ')}", "stuck")
    for path in ("/t/", first, "/t/1/done/"):
        assert "You asked for a call at 4:25 pm (16:25). If nobody rings soon, ring." in said(phone, path)
    for _ in range(3):
        phone.post("/t/call/", form)
    assert len(events(site, e.HelpAsked)) == 1
    do(site, GiveHelp(CASE, site.states().case(CASE).waiting[0].seq, "rang her"), "kowal")
    assert "You asked for a call" not in said(phone, first)
    phone.post("/t/call/", form)
    assert len(events(site, e.HelpAsked)) == 2


def test_a_call_asked_for_from_nowhere_is_asked_for_all_the_same(sign_in: SignIn, site: Desk) -> None:
    phone = her_phone(sign_in)
    answer = phone.post("/t/call/", {"leg": "x", "step": "-1"})
    assert answer["Location"] == "/t/"
    assert events(site, e.HelpAsked) == [e.HelpAsked(None, "the list of her medicines", "stuck")]


# What stands on no page, and how she likes it


def test_no_page_holds_a_misstep_or_a_tolerance(sign_in: SignIn, site: Desk) -> None:
    phone = her_phone(sign_in)
    pages = {"/t/": text_of(phone.get("/t/")), "/t/1/boxes/": text_of(phone.get("/t/1/boxes/"))}
    pages |= whole_walk(phone, started(phone))
    pages |= {path: text_of(phone.get(path)) for path in ("/t/1/done/", "/t/practice/2/")}
    for path, source in pages.items():
        for word in MISSTEPS:
            assert word not in source.lower(), (path, word)


def test_larger_type_and_the_scheme_are_kept(sign_in: SignIn, site: Desk) -> None:
    phone = her_phone(sign_in)
    assert '<html lang="en" class="">' in text_of(phone.get("/t/"))
    assert 'class="large dark">' in text_of(phone.get("/t/?type=large&light=dark"))
    first = started(phone)
    assert 'class="large dark">' in text_of(phone.get(first))
    assert 'class="large bright">' in text_of(phone.get("/t/1/done/?light=bright"))
    assert 'class="bright">' in text_of(phone.get("/t/?type=plain"))
    phone.cookies["hourmark-look"] = "<script>.x.y.z"
    assert '<html lang="en" class="">' in text_of(phone.get("/t/"))


def test_the_first_page_and_all_that_it_needs_weigh_less_than_fifty_kilobytes(sign_in: SignIn, site: Desk) -> None:
    address, _ = give(sign_in)
    phone = opened(address)
    shared = sum((STATIC / name).stat().st_size for name in ("phone.css", "phone.js"))
    for path in (address, "/t/"):
        answer = phone.get(path)
        needs = [one.attributes for one in read(answer).elements if one.name in ("script", "link", "img")]
        files = [one.get("src") or one.get("href") for one in needs if not one.get("href", "").startswith("data:")]
        assert sorted(filter(None, files)) == ["/static/hourmark/phone.css", "/static/hourmark/phone.js"]
        headers = sum(len(f"{name}: {value}\r\n") for name, value in answer.items())
        assert len(answer.content) + shared + headers < FIRST_PAGE


def test_nothing_comes_from_anywhere_else(sign_in: SignIn, site: Desk) -> None:
    phone = her_phone(sign_in)
    first = started(phone)
    for path in ("/t/", first, f"{first}?move=1", "/t/1/done/", "/t/practice/2/", UNKNOWN):
        page = read(phone.get(path))
        for one in page.elements:
            assert one.name not in ("style", "iframe", "object", "embed")
            assert "style" not in one.attributes
            assert not [name for name in one.attributes if name.startswith("on")]
            for name in ("src", "href", "action", "srcset"):
                assert not re.match(r"(?i)(?!tel:|data:)[a-z]+:|//", one.attributes.get(name, "")), (path, one)
    for name in ("phone.css", "phone.js"):
        assert not re.search(r"https?://|//[a-z]", (STATIC / name).read_text("utf-8").replace("// ", ""))


def test_her_language_is_the_language_of_the_page(sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    from hourmark.web.pages import phone as pages

    monkeypatch.setattr(pages.Visit, "words", language("es"))
    source = text_of(her_phone(sign_in).get("/t/"))
    assert '<html lang="es"' in source
    assert "Síntomas graves: primero a urgencias." in source
    assert "Faltan 4 h 35 min" in source


def templates() -> str:
    folder = Path(ROOT / "src/hourmark/web")
    files = [*folder.glob("templates/phone/**/*.html"), *folder.glob("pages/phone*.py")]
    return "\n".join(path.read_text("utf-8") for path in files)


def test_every_phrase_of_hers_is_said_somewhere() -> None:
    sources = templates()
    put_together = re.compile(r"(time|practice|done)-(hours|minutes|soon|now|past|past-hours|none|at|past-one)")
    from hourmark.web.pages.phone_done import LEFT
    from hourmark.web.pages.phone_said import REASONS

    made = {f"done-{name}" for name in (*REASONS, *LEFT)}
    for name in language("en").tables["phone"]:
        assert (
            f'"{name}"' in sources
            or f"'{name}'" in sources
            or f"phone.{name}" in sources
            or name in made
            or put_together.fullmatch(name)
        ), name


def test_what_her_phone_says_is_grade_6_or_lower_by_two_formulas() -> None:
    """Automated readability index (Smith and Senter 1967); Coleman-Liau index (1975). Grade 6: AMA and NIH as cited in CORR 2014."""
    said = [one for one in language("en").tables["phone"].values() if re.search(r"[.?!]$", one)]
    text = re.sub(r"\{\w+\}", "six", " ".join(said))
    words, sentences = re.findall(r"[^\W\d_]+", text), len(re.findall(r"[.:;!?](?:\s|$)", text))
    letters = sum(map(len, words))
    assert 4.71 * letters / len(words) + 0.5 * len(words) / sentences - 21.43 <= 6
    assert 5.88 * letters / len(words) - 29.6 * sentences / len(words) - 15.8 <= 6


def test_every_step_that_there_is_has_words_for_whoever_is_stuck() -> None:
    for code in ("en", "es"):
        for name, words in phrases(code).items():
            if "do" in words:
                assert words["look"], name
                assert words["never"], name
