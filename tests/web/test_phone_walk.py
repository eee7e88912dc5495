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
from hourmark.case.night import Confirm, NoteIncident
from hourmark.case.phone import AskHelp, GiveHelp
from hourmark.case.sheets import VoidSheet
from hourmark.case.streams import case_stream
from hourmark.clock import Moment, moment_from_utc, parse_zone
from hourmark.desk import Desk, recorded
from hourmark.dose.steps import phrases
from hourmark.handout.language import language
from hourmark.ledger import NotStored
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
    PROVISIONAL_IN_SPANISH,
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
    found = re.search(r'<nav class="steps(?: at-hand)?">.*class="button main" href="([^"]+)"', source)
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
    """K-105 at 38 h 15 min and 32 h 15 min before Friday 10:00 in Chicago: Wednesday 19:45 and Thursday 01:45."""
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
            told = re.findall(r'(?s)role="alert" data-after="2026-11-19T04:00:00Z"( hidden)?>(.*?)</div>', source)
            assert {unsure in one and "It is past your time, 9:00 pm (21:00)." in one for _, one in told} == {True}
            assert {not hidden for hidden, _ in told} == {alarms}, (now, path)
            assert {f'href="tel:{NUMBER_AT_NIGHT.replace(" ", "")}"' in one for _, one in told} == {True}, path
            ask = r'data-after="2026-11-19T03:00:00Z" data-before="2026-11-19T04:00:00Z"( hidden)?><summary>Late, and'
            assert {not hidden for hidden in re.findall(ask, source)} == {asked}, (now, path)
            question = "Is it past 9:00 pm (21:00), and nothing is given yet? Call before you inject."
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
            assert "Is it past 9:00 pm (21:00), and nothing is given yet? Call before you inject." in shown(source)
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
    ring = "Your time was 9:00 pm (21:00). Not given yet? Call before you inject."
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
        assert ("Your time was 9:00 pm (21:00). Not given yet? Call before you inject." in words) is not over


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
            assert ("This time may have moved. Call first." in words) is not holds, path
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
        assert (" Not given yet? Call before you inject." in words) is asked


@pytest.mark.parametrize("code", ["en", "es"])
def test_a_minute_that_may_still_move_is_said_to_on_every_page_that_shows_it(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch, code: str
) -> None:
    """Her list, its text in full, the boxes, and the steps of getting ready: wherever the second's minute stands, so does what it hangs on."""
    from hourmark.web.pages import phone as pages

    says = {"en": PROVISIONAL, "es": PROVISIONAL_IN_SPANISH}[code]
    words = language(code)
    counted_from_the_first(monkeypatch, says=says)
    monkeypatch.setattr(pages.Visit, "words", words)
    phone, clock = her_phone(sign_in, TWO_TIMES), clock_of(monkeypatch)
    clock("2026-11-19T01:30:00Z")
    boxes = text_of(phone.get("/t/2/boxes/"))
    assert says in shown(boxes)
    assert says not in shown(text_of(phone.get("/t/1/boxes/")))
    home = text_of(phone.get("/t/"))
    read_all = home.split("<details>")[-1]
    assert read_all.count(says) == home.split("<details>")[0].count(says) == 1
    step = shown(text_of(phone.get(read_boxes(phone, 2))))
    too_early = words.word("phone.too-early", clock=words.clock_time(early(site))).replace("\ue000", "")
    assert step.index(too_early) < step.index(says) < step.index(words.word("phone.step-of", number=2, count=99)[:4])


def early(site: Desk) -> Moment:
    """Before when nothing of the second of two is mixed."""
    at = walk_of(site, TWO_TIMES).injections[1].mix_at
    assert at is not None
    return moment_from_utc(at, parse_zone("America/Chicago"))


@pytest.mark.parametrize(
    ("now", "first_was", "moved"),
    [
        ("2026-11-19T01:30:00Z", None, False),
        ("2026-11-19T01:45:00Z", None, True),
        ("2026-11-19T03:00:00Z", "20:25", True),
        ("2026-11-19T01:30:00Z", "19:20", True),
        ("2026-11-19T03:00:00Z", "19:45", False),
    ],
)
def test_when_to_get_ready_may_have_moved_with_the_minute_once_the_first_is_due_or_told(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch, now: str, first_was: str | None, moved: bool
) -> None:
    """Laying out and mixing are planned back from a minute that hangs on the first, which was to be at 19:45."""
    counted_from_the_first(monkeypatch)
    phone, clock = her_phone(sign_in, TWO_TIMES), clock_of(monkeypatch)
    step = read_boxes(phone, 2)
    if first_was is not None:
        first = site.states().case(TWO_TIMES).sheets[-1].event.dues[0]
        said = (f"2026-11-18 {first_was}", first.zone, "she", "saw", "all", "nothing")
        do(site, Confirm(TWO_TIMES, first.injection, *said, sheet=1), "kowal", now)
    clock(now)
    rings = language("en").word("phone.time-hangs")
    card = shown("<main>" + text_of(phone.get("/t/")).split('id="m2"')[1].split("</section>")[0] + "</main>")
    assert "Get ready from" in card
    assert (card.count(rings) == 2) is moved
    assert (rings in card) is moved
    words = shown(text_of(phone.get(step)))
    assert "Do not mix before" in words
    assert (rings in words) is moved


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


@pytest.mark.parametrize(
    ("code", "says"),
    [("en", "Largest number: 100. Lines: every "), ("es", "Número más grande: 100. Líneas: cada ")],
)
def test_the_words_for_a_barrel_hold_its_lines_as_well_as_its_number(
    sign_in: SignIn, site: Desk, code: str, says: str
) -> None:
    """A 1 mL U-100 barrel with lines every 2 marks has the same largest number as one with lines every mark."""
    for case in ("K-101", "K-102", "K-103", "K-104", "K-105"):
        for one in (
            box for each in walk_of(site, case).injections for box in each.boxes if box.code == "syringe-check"
        ):
            assert re.fullmatch(r"Largest number: \S.*\. Lines: every \S.*\.", str(one.expected)), str(one.expected)
    pattern = phrases(code)["syringe-check"]["expected"]
    assert pattern.format(largest="100", line="2 marks").startswith(says)


def test_room_is_kept_for_every_picture_before_it_is_there(sign_in: SignIn, site: Desk) -> None:
    phone, walk = her_phone(sign_in), walk_of(site)
    sources = [text_of(phone.get("/t/1/boxes/")), *whole_walk(phone, started(phone)).values()]
    sizes = {one.key: re.findall(r'viewBox="0 0 (\d+) (\d+)"', one.still) for one in walk.pictures}
    pictures = [one for source in sources for one in re.findall(r'<img class="drawing"[^>]+>', source)]
    assert len(pictures) > len(sources)
    for one in pictures:
        key = re.search(r"/pictures/(\w+)/", one)
        assert key is not None
        assert [f'width="{width}" height="{height}"' in one for width, height in sizes[key[1]]] == [True], one


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
            assert "Stop. Open nothing. Call." in page.main()
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
    assert "Stop. Open nothing. Call." in said(phone, "/t/1/boxes/")
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
    second = text_of(phone.get("/t/2/boxes/"))
    other = read(phone.get("/t/2/boxes/")).form() | dict.fromkeys(re.findall(r'name="(box-[\w-]+)"', second), "yes")
    phone.post("/t/1/boxes/", form | {names[0]: "no"})
    before = heads(site)
    assert phone.post("/t/1/boxes/", form)["Location"] == "/t/1/boxes/"
    assert written(site, before) == []
    assert "Stop. Open nothing. Call." in said(phone, "/t/1/boxes/")
    assert "Stop. Open nothing. Call." in said(phone, "/t/1/boxes/?again=1")
    assert phone.post("/t/2/boxes/", other)["Location"] == "/t/2/boxes/", "the other's form was open before it"
    assert written(site, before) == []
    assert phone.get("/t/steps/1/3/")["Location"] == "/t/1/boxes/"


STOP = "STOP. Open nothing. Give nothing more until you have spoken with the clinic."


def answered(site: Desk, case: str = CASE, now: str = AT_NINE_TEN) -> None:
    """The clinic calls her, and says so in the record."""
    for one in site.states().case(case).waiting:
        do(site, GiveHelp(case, one.seq, "called her"), "kowal", now)


def leads_on(phone: Client, path: str) -> list[str]:
    """Where a page leads her among the boxes, the steps and practice."""
    return [one for one in look(phone, path).links() if re.search(r"/(boxes|steps|practice)/", one)]


@pytest.mark.parametrize("code", ["en", "es"])
@pytest.mark.parametrize("begun", [False, True], ids=["not read", "read"])
def test_after_a_no_she_is_stopped_on_every_page_of_every_medicine_until_the_clinic_has_answered(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch, code: str, begun: bool
) -> None:
    """K-105: the second is hours later, and its boxes may be read and right: what is wrong with the first stops it all the same."""
    from hourmark.web.pages import phone as pages

    words = language(code)
    monkeypatch.setattr(pages.Visit, "words", words)
    stop, called = (words.tables["phone"][name] for name in ("stop", "called"))
    phone = her_phone(sign_in, TWO_TIMES)
    if begun:
        read_boxes(phone, 2)
    first = walk_of(site, TWO_TIMES).injections[0].boxes[0].code
    read_boxes(phone, 1, f"box-{first}")
    told = phone.get("/t/now/").json()["told"]
    assert told == str(site.states().case(TWO_TIMES).waiting[0].seq)
    for path in ("/t/", "/t/2/boxes/", "/t/steps/3/3/", "/t/2/done/", "/t/practice/2/"):
        source = text_of(phone.get(path, follow=True))
        assert stop in shown(source), path
        assert f'href="tel:{NUMBER_BY_DAY.replace(" ", "")}"' in source
        assert called.split(" (")[0] in shown(source)
    assert leads_on(phone, "/t/") == leads_on(phone, "/t/2/boxes/") == []
    assert 'role="timer"' in text_of(phone.get("/t/"))
    assert 'role="timer"' in text_of(phone.get("/t/2/boxes/"))
    assert "/t/2/done/?wrong=1" in look(phone, "/t/").links(), "a report is always taken"
    answered(site, TWO_TIMES)
    for path in ("/t/", "/t/1/boxes/", "/t/2/done/"):
        assert stop not in said(phone, path)
        assert called.split(" (")[0] not in said(phone, path)
    assert leads_on(phone, "/t/")
    assert phone.get("/t/now/").json()["told"] == ""


def test_it_is_not_said_that_she_asked_where_she_did_not(sign_in: SignIn, site: Desk) -> None:
    phone = her_phone(sign_in)
    read_boxes(phone, 1, f"box-{walk_of(site).injections[0].boxes[0].code}")
    home = said(phone, "/t/")
    assert "You asked" not in home
    assert "The clinic has been asked to call you (asked at 4:25 pm (16:25)). If nobody calls soon, call." in home
    assert 'class="said"' not in text_of(phone.get("/t/"))


def test_whoever_is_stuck_or_practises_is_not_stopped(sign_in: SignIn, site: Desk) -> None:
    phone = her_phone(sign_in)
    phone.post("/t/call/", {"leg": "1", "step": "3"})
    assert STOP not in said(phone, "/t/")
    assert leads_on(phone, "/t/")


@pytest.mark.parametrize(
    ("typed", "why"),
    [
        ({"how": "wrong", "reason": "other-medicine"}, "You told the clinic that something went wrong."),
        ({"how": "all", "words": "it stung, and some came out"}, "You told the clinic that something went wrong."),
        ({}, "You did not say how much was given."),
    ],
    ids=["reason", "words", "not said"],
)
def test_after_a_report_that_something_went_wrong_nothing_leads_on(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch, typed: dict[str, str], why: str
) -> None:
    phone = her_phone(sign_in)
    started(phone)
    give_step = f"/t/steps/4/{walk_of(site).steps(walk_of(site).legs[3])[0].number}/"
    clock_of(monkeypatch)(AT_NINE_TEN)
    assert phone.post("/t/1/done/", report_form(phone) | {"hour": "21", "minute": "02"} | typed).status_code == 303
    for path in ("/t/", "/t/1/done/", "/t/2/done/", give_step):
        words = said(phone, path)
        assert STOP in words, path
        assert why in words
        assert leads_on(phone, path) == [], path
        assert NUMBER_AT_NIGHT in words, path
    assert "Then you see:" not in said(phone, give_step)
    answered(site)
    if not typed:
        assert STOP in said(phone, "/t/"), "nobody was asked to call: her next report says it"
        assert (
            phone.post("/t/1/done/", look(phone, "/t/1/done/").form("/t/1/done/") | {"how": "all"}).status_code == 303
        )
    assert STOP not in said(phone, "/t/")
    assert leads_on(phone, "/t/")
    assert "Then you see:" in said(phone, give_step)


def test_a_report_that_was_settled_since_stops_nobody(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    phone = her_phone(sign_in)
    started(phone)
    clock_of(monkeypatch)(AT_NINE_TEN)
    assert phone.post("/t/1/done/", report_form(phone) | {"hour": "21", "minute": "02"}).status_code == 303
    before = phone.get("/t/now/").json()["told"]
    other = NoteIncident(CASE, "hcg", "a vial broke", "Dr. L. Aumont", "take the spare", settled=True)
    do(site, other, "kowal", AT_NINE_TEN)
    assert STOP in said(phone, "/t/"), "that was another medicine"
    settle = NoteIncident(CASE, "agonist", "she left out how much", "Dr. L. Aumont", "go on", settled=True)
    do(site, settle, "kowal", AT_NINE_TEN)
    assert STOP not in said(phone, "/t/")
    assert leads_on(phone, "/t/")
    assert phone.get("/t/now/").json()["told"] != before, "a page that stands open is told that it changed"


def test_a_call_ends_by_its_answer_alone(sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    phone = her_phone(sign_in)
    started(phone)
    clock_of(monkeypatch)(AT_NINE_TEN)
    form = report_form(phone) | {"hour": "21", "minute": "02", "how": "wrong", "reason": "leaked"}
    assert phone.post("/t/1/done/", form).status_code == 303
    settle = NoteIncident(CASE, "agonist", "some leaked", "Dr. L. Aumont", "go on", settled=True)
    do(site, settle, "kowal", AT_NINE_TEN)
    assert STOP in said(phone, "/t/")
    answered(site)
    assert STOP not in said(phone, "/t/")


@pytest.mark.parametrize("ends", ["sent again", "settled", "clinic's report", "all"])
def test_she_is_stopped_by_her_report_also_where_the_call_could_not_be_stored(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch, ends: str
) -> None:
    from hourmark.web.pages import phone as pages

    phone = her_phone(sign_in)
    started(phone)
    clock_of(monkeypatch)(AT_NINE_TEN)
    form = report_form(phone) | {"hour": "21", "minute": "02", "how": "wrong", "reason": "leaked"}
    really = pages.Visit.perform

    def full(visit: pages.Visit, command: object, key: str) -> object:
        if isinstance(command, AskHelp):
            raise NotStored("The disk is full.", passing=False)
        return really(visit, command, key)  # type: ignore[arg-type]

    with monkeypatch.context() as broken:
        broken.setattr(pages.Visit, "perform", full)
        assert phone.post("/t/1/done/", form).status_code == 503
    assert site.states().case(CASE).waiting == ()
    give_step = f"/t/steps/4/{walk_of(site).steps(walk_of(site).legs[3])[0].number}/"
    for path in ("/t/", "/t/1/done/", "/t/2/done/", give_step):
        assert STOP in said(phone, path), path
        assert "You told the clinic that something went wrong." in said(phone, path)
        assert leads_on(phone, path) == [], path
    if ends == "sent again":
        assert phone.post("/t/1/done/", form).status_code == 303
        assert STOP in said(phone, "/t/")
        answered(site)
    elif ends == "settled":
        settle = NoteIncident(CASE, "agonist", "some leaked", "Dr. L. Aumont", "go on", settled=True)
        do(site, settle, "kowal", AT_NINE_TEN)
    elif ends == "all":
        anew = look(phone, "/t/1/done/?anew=1").form("/t/1/done/") | {"hour": "21", "minute": "02", "how": "all"}
        assert phone.post("/t/1/done/", anew).status_code == 303
    else:
        nurse = Confirm(CASE, "agonist", "2026-11-18 21:02", "America/Chicago", "she", "saw", "all", "nothing", sheet=1)
        do(site, nurse, "kowal", AT_NINE_TEN)
    assert STOP not in said(phone, "/t/")


def test_a_time_still_to_come_is_not_taken_for_given(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    phone, walk = her_phone(sign_in), walk_of(site)
    started(phone)
    clock_of(monkeypatch)("2026-11-19T02:30:00Z")
    form = report_form(phone) | {"hour": "21", "minute": "00", "how": "all"}
    assert phone.post("/t/1/done/", form).status_code == 303
    steps = walk.steps(walk.legs[2])
    assert (walk.legs[2].injection, walk.legs[2].part) == ("agonist", "give")
    words = said(phone, f"/t/steps/3/{steps[-1].number}/")
    assert "NOT YET." in words
    assert "The clinic has noted that this one is given." not in words
    assert "Give 2 of 2" not in look(phone, "/t/1/done/").main()
    assert phone.get("/t/2/boxes/")["Location"].startswith("/t/steps/1/"), "nothing of that minute is given yet"
    assert look(phone, "/t/").main().count("In 30 min") == 2


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
    already = "The clinic has noted that this one is given. Do not give it again. If it is not given: call."
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
    back = [
        re.search(r'<nav class="steps(?: at-hand)?"><a class="button second" href="([^"]+)"', one)
        for one in pages.values()
    ]
    assert [one[1] for one in back if one] == ["/t/", *list(pages)[:-1]]


def test_every_step_carries_the_number_the_emergency_and_when_it_was_checked(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    phone = her_phone(sign_in)
    first = started(phone)
    clock_of(monkeypatch)("2026-11-19T00:40:00Z")
    for source in (text_of(phone.get("/t/")), *whole_walk(phone, first).values()):
        assert source.index("Severe symptoms: emergency services first.") < source.index("<main")
        assert source.index(f"Call {NUMBER_AT_NIGHT}") < source.index("<main")
        assert NUMBER_BY_DAY not in source.split("Everything on your page")[0]
        assert "Checked at 6:40 pm (18:40). If you cannot reload this page, call before you mix anything." in source


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
    assert page.main().count(f"Go on at step {number}: Get ready 1 of 2") == 2, "both are got ready together"
    assert page.links().count(second) == 2
    assert "Start: read the boxes" not in page.main()
    clean = opened(give(sign_in)[0])
    assert "Go on at step" not in said(clean, "/t/")
    assert said(clean, "/t/").count("The boxes are read: go to the steps") == 2


def test_her_list_leads_on_from_where_she_stood_and_never_back_to_what_is_done(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Boxes, then both drawn up, then the first given: each time her list says which part comes next, and of which medicine."""
    phone, walk = her_phone(sign_in), walk_of(site)
    assert said(phone, "/t/").count("Start: read the boxes") == 2
    assert read_boxes(phone, 1) == "/t/2/boxes/"
    assert said(phone, "/t/").count("Start: read the boxes") == 2, "the boxes of both are read before either is begun"
    read_boxes(phone, 2)
    for leg, words in ((2, "Get ready 2 of 2"), (3, "Give 1 of 2")):
        last = walk.steps(walk.legs[leg - 1])[-1].number
        phone.get(f"/t/steps/{leg}/{last}/")
        home = look(phone, "/t/")
        assert home.main().count(f"Go on at step {last}: {words}") == 2
        assert {one for one in home.links() if "/steps/" in one} == {f"/t/steps/{leg}/{last}/"}
        assert "Start: read the boxes" not in home.main()
    clock_of(monkeypatch)(AT_NINE_TEN)
    give_first(phone)
    first = next(one.number for one in walk.steps(walk.legs[3]) if not one.box)
    assert said(phone, "/t/").count(f"Go on at step {first}: Give 2 of 2") == 1
    assert [one for one in look(phone, "/t/").links() if "/steps/" in one] == [f"/t/steps/4/{first}/"]


def test_practice_is_offered_only_where_it_is_open(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It closes 30 minutes before the minute, here at 20:30, and once the boxes are read."""
    phone, clock = her_phone(sign_in), clock_of(monkeypatch)
    offered = len([one for one in walk_of(site).injections if one.show is not None])
    assert offered
    for now, there in (("2026-11-19T02:29:59Z", offered), ("2026-11-19T02:30:00Z", 0)):
        clock(now)
        links = [one for one in look(phone, "/t/").links() if "/practice/" in one]
        assert len(links) == there
        assert all("Do nothing because of this screen." not in said(phone, one) for one in links)
    clock("2026-11-18T22:25:00Z")
    assert 'data-before="2026-11-19T02:30:00Z"' in text_of(phone.get("/t/"))
    started(phone)
    assert not [one for one in look(phone, "/t/").links() if "/practice/" in one]


# Not before the minute


@pytest.mark.parametrize(
    ("code", "words"),
    [
        ("en", "NOT YET. Do not inject before 9:00 pm (21:00), Wednesday 18 November 2026."),
        ("es", "TODAVÍA NO. No inyecte antes de las 9:00 p. m. (21:00), miércoles 18 de noviembre de 2026."),
    ],
)
def test_before_the_minute_every_step_of_giving_says_first_that_it_is_not_yet_time(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch, code: str, words: str
) -> None:
    from hourmark.web.pages import phone as pages

    monkeypatch.setattr(pages.Visit, "words", language(code))
    phone, walk, clock = her_phone(sign_in), walk_of(site), clock_of(monkeypatch)
    started(phone)
    seen = 0
    for now, early in (("2026-11-19T02:59:59Z", True), ("2026-11-19T03:00:00Z", False)):
        clock(now)
        for number, leg in enumerate(walk.legs, 1):
            for one in walk.steps(leg):
                source = text_of(phone.get(f"/t/steps/{number}/{one.number}/"))
                assert (words in shown(source)) is (early and leg.part == "give"), (number, one.number)
                if early and leg.part == "give":
                    seen += 1
                    top = re.search(r'<p class="alarm not-yet" data-before="([^"]+)"><strong>([^<]+)</strong>', source)
                    assert top is not None
                    assert (top[1], top[2]) == (DUE, words)
                    assert source.index(words) < source.index('class="where"') < source.index("<article>")
    assert seen == sum(len(walk.steps(leg)) for leg in walk.legs if leg.part == "give") > 10


def test_before_a_minute_that_hangs_on_the_first_it_says_that_it_may_move(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """And does not go at the minute, until it is known that the first was given so that this one keeps the order's window."""
    counted_from_the_first(monkeypatch)
    phone, walk, clock = her_phone(sign_in, TWO_TIMES), walk_of(site, TWO_TIMES), clock_of(monkeypatch)
    read_boxes(phone, 2)
    path = f"/t/steps/4/{walk.steps(walk.legs[3])[-1].number}/"
    moves = "NOT YET. Your time is 1:45 am (01:45), Thursday 19 November 2026, and it may move with the first one."
    fixed = "NOT YET. Do not inject before 1:45 am (01:45), Thursday 19 November 2026."
    for now in ("2026-11-19T07:44:00Z", "2026-11-19T07:45:00Z"):
        clock(now)
        source = text_of(phone.get(path))
        assert f"{moves} Do not inject before you have called." in shown(source)
        assert 'class="alarm not-yet"><' in source
        assert fixed not in source
    first = site.states().case(TWO_TIMES).sheets[-1].event.dues[0]
    given = ("2026-11-18 19:45", first.zone, "she", "saw", "all", "nothing")
    do(site, Confirm(TWO_TIMES, first.injection, *given, sheet=1), "kowal", "2026-11-19T03:00:00Z")
    for now, early in (("2026-11-19T07:44:00Z", True), ("2026-11-19T07:45:00Z", False)):
        clock(now)
        words = shown(text_of(phone.get(path)))
        assert moves not in words
        assert (fixed in words) is early


def test_what_is_given_already_is_not_said_to_be_not_yet(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """She gave the first early and said so: whether that holds is for the clinic, and its steps do not tell her to wait."""
    phone, walk = her_phone(sign_in), walk_of(site)
    started(phone)
    clock_of(monkeypatch)("2026-11-19T02:50:00Z")
    assert (
        phone.post("/t/1/done/", report_form(phone) | {"hour": "20", "minute": "40", "how": "all"}).status_code == 303
    )
    for leg, early in ((3, False), (4, True)):
        assert ("NOT YET." in said(phone, f"/t/steps/{leg}/{walk.steps(walk.legs[leg - 1])[-1].number}/")) is early


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
        assert "The clinic has been asked to call you (asked at 4:25 pm (16:25)). If nobody calls soon, call." in said(
            phone, path
        )
    for _ in range(3):
        phone.post("/t/call/", form)
    assert len(events(site, e.HelpAsked)) == 1
    do(site, GiveHelp(CASE, site.states().case(CASE).waiting[0].seq, "rang her"), "kowal")
    assert "The clinic has been asked to call you" not in said(phone, first)
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
    assert language("es").word("call.emergency") in source
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
