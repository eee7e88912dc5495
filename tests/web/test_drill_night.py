"""A drill's night on the real pages: who rings and when, what is kept of a call, its score out of the record, and a banner on everything."""

import datetime as dt
import io
import re
import shutil
from collections.abc import Callable, Iterator
from html import escape, unescape
from pathlib import Path

import pypdfium2
import pytest
from django.contrib.auth import get_user_model
from django.db import connections
from django.test import Client, override_settings

from hourmark.case.asked import Asked, Role
from hourmark.case.phone import GiveLink
from hourmark.desk import Done
from hourmark.drill import NIGHT_BANNER, Answers, scene
from hourmark.drill.cast import Caller, cast
from hourmark.drill.clock import NightClock, read_clock, write_clock
from hourmark.drill.folder import CLOCK, Answered, Drill, keep_answer, open_folder, read_answers
from hourmark.drill.making import NotMade
from hourmark.drill.recorded import Recorded
from hourmark.store.database import DatabaseStore
from hourmark.store.settings import DRILL_CLINIC
from hourmark.store.setup import migrate
from hourmark.web import drilling, work
from hourmark.web.drill_start import take_up
from hourmark.web.models import Link, Member, Person, Used, WatchBeat
from hourmark.web.pages.phone_link import expires_of
from hourmark.web.pages.phone_token import digest_of, new_token
from hourmark.web.pages.today import not_a_drills
from tests.web.conftest import _use, hashed_quickly
from tests.web.seen import text_of
from tests.web.test_every_address import OURS

SEED = 2418
SAID, COMPUTED = cast(SEED, 2)
"""Small bubbles at 20:55, and 0.3 instead of 0.2 at 22:30."""

SignIn = Callable[[str], Client]
RIGHT = {"symptoms": "no", "injection": "hcg", "injected": "yes", "at": "22:02", "drawn": "0.3"}
TOLD = {"told": "Dr. L. Aumont", "reached": "yes", "about": "hcg: went in 1,500 units", "reply": "leave it"}
DECIDED = {
    "decided_by": "Dr. L. Aumont",
    "decision": "1,500 units went in: nothing more",
    "follows": "",
    "settled": "false",
}


@pytest.fixture(scope="session")
def _drilled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A drill of two calls as it is when it is first opened, made one time and copied for every test."""
    folder = tmp_path_factory.mktemp("drilled") / "drill"
    drill = open_folder(folder, SEED, 2)
    assert isinstance(drill, Drill)
    _use(folder / "record.sqlite")
    migrate("default")
    with hashed_quickly():
        take_up(drill, None, "a long enough password")
    connections["default"].close()
    work._DESKS.clear()
    return folder


@pytest.fixture
def night(_drilled: Path, tmp_path: Path) -> Iterator[Path]:
    """The folder of the drill, served, five minutes before the first call."""
    folder = Path(shutil.copytree(_drilled, tmp_path / "drill"))
    _use(folder / "record.sqlite")
    work._DESKS.clear()
    with hashed_quickly(), override_settings(SECOND_FACTOR=False, DRILL=str(folder)):
        stand(folder, "2026-11-19T02:50:00Z")
        yield folder
    connections["default"].close()
    work._DESKS.clear()


@pytest.fixture
def enter(night: Path) -> SignIn:
    def signed_in(username: str) -> Client:
        client = Client(SERVER_NAME="localhost")
        client.force_login(get_user_model().objects.get(username=username))
        return client

    return signed_in


def stand(folder: Path, moment: str) -> None:
    """The clock of the night put to a moment of it (UTC), back as well; of its minutes each takes one."""
    write_clock(folder / CLOCK, NightClock(dt.datetime.now(dt.UTC), dt.datetime.fromisoformat(moment), 1))


def post(client: Client, path: str, **fields: str) -> str:
    """Sends a form with a key of its own; where it leads."""
    answer = client.post(path, fields | {"key": f"key-{path}-{sorted(fields.items())}"[:100], "seen": "0"})
    assert answer.status_code == 302, text_of(answer)
    return str(answer["Location"])


def answered_on_the_real_pages(nurse: Client, **other: str) -> None:
    """Everything that the computed call wants, done on the real pages."""
    kept = post(nurse, f"/cases/{COMPUTED.case}/trouble/wrong-mark/", **(RIGHT | other))
    settle = post(nurse, f"{kept}told/", **TOLD)
    post(nurse, settle, **DECIDED)


def taken(nurse: Client, one: Caller, ask: str = "") -> str:
    """She is asked the first question; the address of her call."""
    return post(nurse, f"/drill/night/{one.case}/", ask=ask or one.round.first)


def score_lines(client: Client, one: Caller) -> dict[str, str]:
    """What the page says of each part: right or wrong."""
    page = text_of(client.get(f"/drill/night/{one.case}/"))
    return dict(re.findall(r'<th scope="row">([^<]+)</th><td><strong>. (right|wrong)<', page))


# Who rings


def test_nobody_rings_before_her_minute(enter: SignIn, night: Path) -> None:
    nurse = enter("kowal")
    page = text_of(nurse.get("/drill/night/"))
    assert "Nobody rings until Wed 18 Nov 20:55: go on to then" in page
    assert SAID.case not in page
    assert nurse.get(f"/drill/night/{SAID.case}/").status_code == 404
    assert SAID.case not in text_of(nurse.get("/drill/night/ringing/"))


def test_the_clock_is_put_forward_to_the_next_call_and_no_further(enter: SignIn, night: Path) -> None:
    nurse = enter("kowal")
    assert post(nurse, "/drill/night/on/", to=SAID.rings_at) == "/drill/night/"
    page = text_of(nurse.get("/drill/night/"))
    assert f"☎ {SAID.case}, {SAID.initials}: rings since 20:55" in page
    assert COMPUTED.case not in page
    assert work.instant()[:16] == SAID.rings_at[:16]


@pytest.mark.parametrize("to", ["", "2026-11-19T09:00:00Z", COMPUTED.rings_at, "yesterday"])
def test_to_no_other_moment(enter: SignIn, night: Path, to: str) -> None:
    before = read_clock(night / CLOCK)
    post(enter("kowal"), "/drill/night/on/", to=to)
    assert read_clock(night / CLOCK) == before


def test_while_somebody_rings_it_is_not_put_forward(enter: SignIn, night: Path) -> None:
    stand(night, SAID.rings_at)
    nurse, before = enter("kowal"), read_clock(night / CLOCK)
    answer = nurse.post("/drill/night/on/", {"to": COMPUTED.rings_at}, follow=True)
    assert "Somebody rings: hang up first" in text_of(answer)
    assert "go on to then" not in text_of(answer)
    taken(nurse, SAID)
    nurse.post("/drill/night/on/", {"to": COMPUTED.rings_at})
    assert read_clock(night / CLOCK) == before


def test_a_night_that_cannot_be_made_is_said_and_the_clock_stands(
    enter: SignIn, night: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(*_: object) -> None:
        raise NotMade("SecondCheck, DRILL-01-check")

    monkeypatch.setattr(drilling, "make_until", refused)
    nurse, before = enter("kowal"), read_clock(night / CLOCK)
    answer = nurse.post("/drill/night/on/", {"to": SAID.rings_at}, follow=True)
    assert "The next night cannot be made: SecondCheck" in text_of(answer)
    assert read_clock(night / CLOCK) == before


def test_a_form_sent_twice_goes_on_one_time(enter: SignIn, night: Path) -> None:
    nurse = enter("kowal")
    post(nurse, "/drill/night/on/", to=SAID.rings_at)
    on = read_clock(night / CLOCK)
    post(nurse, "/drill/night/on/", to=SAID.rings_at)
    assert read_clock(night / CLOCK) == on


def test_the_board_shows_who_rings_and_who_is_on_the_line(enter: SignIn, night: Path) -> None:
    stand(night, SAID.rings_at)
    nurse = enter("kowal")
    for path in ("/night/", "/drill/night/ringing/"):
        assert f"{SAID.case}, {SAID.initials}: rings since 20:55" in text_of(nurse.get(path))
    taken(nurse, SAID)
    assert f"{SAID.case}, {SAID.initials}: on the line, rang at 20:55" in text_of(nurse.get("/drill/night/ringing/"))
    board = text_of(nurse.get("/night/"))
    assert 'data-pace="1"' in board
    assert "20:55" in board


def test_nothing_before_the_answer_says_which_call_it_is(enter: SignIn, night: Path) -> None:
    """Neither call nor kind stand on the page, and both ways of answering stand on it, whatever rings."""
    stand(night, COMPUTED.rings_at)
    nurse = enter("kowal")
    for one in (SAID, COMPUTED):
        taken(nurse, one)
        page = text_of(nurse.get(f"/drill/night/{one.case}/"))
        assert one.round.scene.call.id not in page
        assert one.round.scene.call.question not in page
        assert "Trouble …" in page
        assert "Nothing went wrong" in page
        assert "The number that she asks for, where there is one" in page


# A call


def test_what_she_says_comes_after_the_first_question(enter: SignIn, night: Path) -> None:
    stand(night, SAID.rings_at)
    nurse = enter("kowal")
    page = text_of(nurse.get(f"/drill/night/{SAID.case}/"))
    assert scene("C13").words in page
    assert scene("C13").told not in page
    taken(nurse, SAID)
    assert scene("C13").told in text_of(nurse.get(f"/drill/night/{SAID.case}/"))


def test_a_call_that_is_only_said_is_scored_by_what_was_typed(enter: SignIn, night: Path) -> None:
    stand(night, SAID.rings_at)
    nurse = enter("ortiz")
    path = taken(nurse, SAID)
    post(nurse, path, end="1", kind="question", number="", who="nurse", note="the nurse decides")
    assert set(score_lines(nurse, SAID).values()) == {"right"}
    assert list(score_lines(nurse, SAID)) == ["What it is", "Asked first", "Who decides", "The note"]
    kept = read_answers(night)[SAID.case]
    assert (kept.by, kept.recorded) == ("L. Ortiz", None)


def test_a_call_with_trouble_is_scored_by_its_record_alone(enter: SignIn, night: Path) -> None:
    stand(night, COMPUTED.rings_at)
    nurse = enter("kowal")
    path = taken(nurse, COMPUTED)
    answered_on_the_real_pages(nurse)
    post(nurse, path, end="1", kind="late", number="7 units", who="nurse", note="typed, and not what counts")
    assert score_lines(nurse, COMPUTED) == dict.fromkeys(
        ("What it is", "Asked first", "The facts", "The number", "Who decides", "The note"), "right"
    )
    page = text_of(nurse.get(path))
    assert "1,500 units" in page
    for said in scene("C18").call.say:
        assert f"[{escape(said.source)}]" in page
    recorded = read_answers(night)[COMPUTED.case].recorded
    assert recorded is not None
    assert (recorded.number, recorded.deciders, recorded.at) == ("1,500 units", ("prescriber",), "2026-11-18 22:30")


@pytest.mark.parametrize(
    ("other", "wrong"),
    [
        ({"drawn": "0.2"}, {"The facts", "The number", "The note"}),
        ({"at": "22:07"}, {"The facts"}),
        ({"injection": "agonist"}, {"The facts", "The number", "The note"}),
        ({"symptoms": "yes"}, {"What it is", "The facts", "The number", "The note"}),
        ({"symptoms": ""}, {"The facts", "The number", "The note"}),
    ],
)
def test_a_fact_that_was_recorded_otherwise_is_wrong(
    enter: SignIn, night: Path, other: dict[str, str], wrong: set[str]
) -> None:
    stand(night, COMPUTED.rings_at)
    nurse = enter("kowal")
    path = taken(nurse, COMPUTED)
    answered_on_the_real_pages(nurse, **other)
    post(nurse, path, end="1")
    assert {part for part, said in score_lines(nurse, COMPUTED).items() if said == "wrong"} == wrong
    sheet = text_of(nurse.get("/drill/night/score/"))
    assert sheet.count("(answered: ") == len(wrong)
    recorded = read_answers(night)[COMPUTED.case].recorded
    assert recorded is not None
    words = "At what time, by which clock, did it go in"
    assert ("The facts" in wrong) is (f"{words}: {recorded.said['at']}" in sheet.partition("(answered: ")[2])
    assert "symptoms:" not in sheet


def test_another_kind_another_first_question_and_nothing_noted(enter: SignIn, night: Path) -> None:
    stand(night, COMPUTED.rings_at)
    nurse = enter("kowal")
    other = next(words for words in COMPUTED.round.first_questions if words != COMPUTED.round.first)
    path = taken(nurse, COMPUTED, other)
    post(nurse, f"/cases/{COMPUTED.case}/trouble/late/", **{**RIGHT, "drawn": "", "all": "yes"})
    post(nurse, path, end="1")
    assert set(score_lines(nurse, COMPUTED).values()) == {"wrong"}


def test_only_who_was_reached_counts_and_the_last_report(enter: SignIn, night: Path) -> None:
    stand(night, COMPUTED.rings_at)
    nurse = enter("kowal")
    path = taken(nurse, COMPUTED)
    answered_on_the_real_pages(nurse, drawn="0.2")
    kept = post(nurse, f"/cases/{COMPUTED.case}/trouble/wrong-mark/", **RIGHT)
    post(nurse, f"{kept}told/", **(TOLD | {"reached": "no"}))
    post(nurse, path, end="1")
    recorded = read_answers(night)[COMPUTED.case].recorded
    assert recorded is not None
    assert (recorded.number, recorded.deciders, recorded.note) == ("1,500 units", (), "")


def test_nothing_recorded_is_wrong_throughout(enter: SignIn, night: Path) -> None:
    stand(night, COMPUTED.rings_at)
    nurse = enter("kowal")
    path = taken(nurse, COMPUTED)
    post(nurse, path, end="1")
    lines = score_lines(nurse, COMPUTED)
    assert {part for part, said in lines.items() if said == "right"} == {"Asked first"}
    assert read_answers(night)[COMPUTED.case].recorded == Recorded(until="2026-11-18 22:30")


def test_after_she_hung_up_nothing_changes_the_score(enter: SignIn, night: Path) -> None:
    stand(night, COMPUTED.rings_at)
    nurse = enter("kowal")
    path = taken(nurse, COMPUTED)
    post(nurse, path, end="1")
    before, lines = read_answers(night), score_lines(nurse, COMPUTED)
    answered_on_the_real_pages(nurse)
    post(nurse, path, end="1", kind="wrong-mark")
    post(nurse, path, ask="something")
    assert (read_answers(night), score_lines(nurse, COMPUTED)) == (before, lines)


@pytest.mark.parametrize(
    ("name", "who"),
    [
        ("Dr. I. Sorel", "prescriber"),
        ("A. Kowal", "nurse"),
        ("M. Devi", "pharmacist"),
        ("Theatre desk", "theatre or laboratory"),
        ("the laboratory", "theatre or laboratory"),
        ("Emergency services, by her sister", "emergency services"),
        ("the prescriber on call", "prescriber"),
        ("our signed rule", "signed rule"),
        ("Dr. Aumont", "prescriber"),
        ("AUMONT", "prescriber"),
        ("kowal", "nurse"),
        ("the ambulance", "emergency services"),
        ("911", "emergency services"),
        ("the lab", "theatre or laboratory"),
        ("labour ward", ""),
        ("Dr. Nobody", ""),
        ("9110", ""),
        ("her husband", ""),
    ],
)
def test_who_somebody_is_stands_in_the_clinics_list_or_in_the_word_itself(
    enter: SignIn, night: Path, name: str, who: str
) -> None:
    stand(night, COMPUTED.rings_at)
    nurse = enter("kowal")
    path = taken(nurse, COMPUTED)
    kept = post(nurse, f"/cases/{COMPUTED.case}/trouble/wrong-mark/", **RIGHT)
    post(nurse, f"{kept}told/", **(TOLD | {"told": name}))
    post(nurse, path, end="1")
    recorded = read_answers(night)[COMPUTED.case].recorded
    assert recorded is not None
    assert recorded.deciders == ((who,) if who else ())


def test_the_score_sheet_has_every_call_that_is_over(enter: SignIn, night: Path) -> None:
    stand(night, COMPUTED.rings_at)
    nurse = enter("kowal")
    assert "0 of 2 calls answered" in text_of(nurse.get("/drill/night/score/"))
    post(nurse, taken(nurse, SAID), end="1", kind="question", who="nurse", note="nurse")
    path = taken(nurse, COMPUTED)
    answered_on_the_real_pages(nurse)
    assert "1 of 2 calls answered" in text_of(nurse.get("/drill/night/score/"))
    post(nurse, path, end="1")
    sheet = text_of(enter("brandt").get("/drill/night/score/"))
    assert "2 of 2 calls answered" in sheet
    assert "<strong>10 of 10</strong>" in sheet
    assert f"{COMPUTED.case}, answered by A. Kowal" in sheet
    assert "Nobody rings any more" in text_of(nurse.get("/drill/night/"))


# Its own clock


def test_the_real_pages_write_by_the_clock_of_the_night(enter: SignIn, night: Path) -> None:
    stand(night, COMPUTED.rings_at)
    nurse = enter("kowal")
    answered_on_the_real_pages(nurse)
    kept = work.desk_of(DRILL_CLINIC).states().case(COMPUTED.case).incidents[0]
    assert kept.at[:16] == COMPUTED.rings_at[:16]


def test_at_another_pace_its_minutes_pass_faster(night: Path) -> None:
    machine = dt.datetime(2026, 11, 26, 10, 0, tzinfo=dt.UTC)
    write_clock(night / CLOCK, NightClock(machine, dt.datetime.fromisoformat(SAID.rings_at), 30))
    assert work.shown_at(machine + dt.timedelta(minutes=2)) == "2026-11-19T03:55:00Z"
    assert drilling.drill_pace() == 30


def test_the_watch_is_judged_by_the_machine(enter: SignIn, night: Path) -> None:
    nurse, now = enter("kowal"), dt.datetime.now(dt.UTC)
    began = NightClock(now - dt.timedelta(minutes=10), dt.datetime.fromisoformat("2026-11-19T02:50:00Z"), 1)
    write_clock(night / CLOCK, began)
    WatchBeat.objects.update_or_create(clinic=DRILL_CLINIC, defaults={"at": work.machine_instant()})
    assert "THE WATCH IS SILENT" not in text_of(nurse.get("/night/"))
    old = now - dt.timedelta(minutes=3)
    WatchBeat.objects.update_or_create(clinic=DRILL_CLINIC, defaults={"at": f"{old:%Y-%m-%dT%H:%M:%SZ}"})
    assert re.search("THE WATCH IS SILENT</strong> since 20:5[67]", text_of(nurse.get("/night/")))


def test_the_end_of_a_sign_in_is_told_on_the_clock_of_the_night(enter: SignIn, night: Path) -> None:
    nurse = enter("kowal")
    assert "Your sign-in ends" not in text_of(nurse.get("/night/"))
    Used.objects.update(since=Used.objects.get().since - 12 * 3600 + 10 * 60 + 30)
    assert "Your sign-in ends at 21:00" in text_of(nurse.get("/night/"))


def test_the_lock_goes_by_the_machine_and_the_board_goes_on_under_it(enter: SignIn, night: Path) -> None:
    stand(night, SAID.rings_at)
    nurse = enter("kowal")
    nurse.get("/night/")
    Used.objects.update(at=Used.objects.get().at - 31 * 60)
    assert nurse.get("/drill/night/").status_code == 403
    assert nurse.get("/night/").status_code == 200
    strip = nurse.get("/drill/night/ringing/", headers={"hx-request": "true"})
    assert (strip.status_code, SAID.case in text_of(strip)) == (200, True)


def test_a_drill_that_is_taken_up_again_goes_on_from_where_it_was_last_seen(night: Path) -> None:
    began = dt.datetime(2026, 11, 20, 10, 0, tzinfo=dt.UTC)
    write_clock(night / CLOCK, NightClock(began, dt.datetime.fromisoformat(SAID.rings_at), 2))
    looked = began + dt.timedelta(minutes=10)
    WatchBeat.objects.update_or_create(clinic=DRILL_CLINIC, defaults={"at": f"{looked:%Y-%m-%dT%H:%M:%SZ}"})
    drill = open_folder(night, None, None)
    assert isinstance(drill, Drill)
    again = take_up(drill, None, "another long password")
    assert (again.shown, again.pace) == (dt.datetime(2026, 11, 19, 3, 15, tzinfo=dt.UTC), 2)
    assert take_up(drill, 40, "another long password").pace == 40
    assert Member.objects.count() == 8
    assert Person.objects.count() == 2
    assert get_user_model().objects.get(username="kowal").check_password("another long password")


# Never taken for a night


def test_every_address_says_so(enter: SignIn, night: Path) -> None:
    """Every page that there is, in every role; what is no page is listed here."""
    stand(night, COMPUTED.rings_at)
    nurse = enter("kowal")
    answered_on_the_real_pages(nurse)
    no_pages = ("/livez", "/readyz", "/robots.txt", "/night/rows/", "/drill/night/ringing/", "/unlock")
    paths = [one.path.replace("K-103", COMPUTED.case) for one in OURS.values() if one.path not in no_pages]
    seen = 0
    for who in ("kowal", "aumont", "devi", "brandt", "theatre", ""):
        client = enter(who) if who else Client(SERVER_NAME="localhost")
        for path in paths:
            answer = client.get(path, follow=True)
            if answer["Content-Type"].startswith("text/html") and answer.status_code != 405:
                assert_says_so(text_of(answer), path)
                seen += 1
    assert seen > 300


def assert_says_so(page: str, path: str) -> None:
    assert page.count(NIGHT_BANNER) == 2, path
    assert "<title>DRILL: " in page, path
    assert re.search(r'<html lang="[a-z-]+" class="[^"]*drill', page), path
    assert "hourmark/drill.css" in page, path
    assert page.index("drill-bar") < page.index("<main"), path
    assert page.rindex("drill-bar") > page.index("</main>"), path


@pytest.mark.parametrize("path", ["/accounts/login/", "/accounts/password/reset/", "/accounts/signup/", "/nowhere"])
def test_the_sign_in_says_so_to_whoever_is_outside(night: Path, path: str) -> None:
    assert_says_so(text_of(Client(SERVER_NAME="localhost").get(path, follow=True)), path)


def test_one_s_own_keys_say_so(enter: SignIn, night: Path) -> None:
    for path in ("/accounts/2fa/", "/accounts/sessions/", "/accounts/logout/", "/accounts/password/change/"):
        assert_says_so(text_of(enter("kowal").get(path, follow=True)), path)


def test_errors_say_so(enter: SignIn, night: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    nurse = enter("kowal")
    assert_says_so(text_of(nurse.get("/nowhere/")), "404")
    Used.objects.update(at=0)
    locked = nurse.get("/")
    assert locked.status_code == 403
    assert_says_so(text_of(locked), "locked")
    nurse = enter("kowal")

    def fails(*_: object) -> None:
        raise RuntimeError("a fault")

    monkeypatch.setattr(work.Work, "page", fails)
    nurse.raise_request_exception = False
    failed = nurse.get("/handover/")
    assert failed.status_code == 500
    assert_says_so(text_of(failed), "500")


def test_forms_that_are_refused_say_so(enter: SignIn, night: Path) -> None:
    answer = enter("kowal").post("/cases/new/", {"case": "K-200", "key": "k", "details.zone": "America/Chicago"})
    assert answer.status_code == 422
    assert_says_so(text_of(answer), "422")


def test_her_phone_says_so(night: Path) -> None:
    stand(night, SAID.rings_at)
    desk, token = work.desk_of(DRILL_CLINIC), new_token()
    state = desk.states().case(SAID.case)
    nurse = Asked("A. Kowal", Role.NURSE, work.instant())
    assert isinstance(desk.perform(GiveLink(SAID.case, "page", expires_of(state, work.instant())), nurse, "l"), Done)
    Link.objects.create(clinic=DRILL_CLINIC, case=SAID.case, number=1, digest=digest_of(token))
    phone = Client(SERVER_NAME="localhost")
    assert_says_so(text_of(phone.get("/t/")), "no link")
    assert_says_so(text_of(phone.get(f"/t/{token}")), "door")
    phone.post(f"/t/{token}")
    home = text_of(phone.get("/t/"))
    assert 'data-pace="1"' in home
    for path in ("/t/", "/t/1/boxes/", "/t/steps/1/1/", "/t/1/done/"):
        answer = phone.get(path, follow=True)
        assert answer.status_code == 200, path
        assert_says_so(text_of(answer), path)


@pytest.mark.parametrize("one", [SAID, COMPUTED], ids=lambda one: one.round.scene.call.id)
def test_every_page_of_her_paper_says_so(enter: SignIn, night: Path, one: Caller) -> None:
    nurse = enter("kowal")
    for name in ("sheet.pdf", "pictures.pdf"):
        paper = nurse.get(f"/cases/{one.case}/sheets/1/{name}")
        assert f"{one.case}-1-{name}" in paper["Content-Disposition"]
        for sheet in pypdfium2.PdfDocument(io.BytesIO(paper.content)):
            assert f"Case {one.case}," in sheet.get_textpage().get_text_bounded().replace("⁠", "")
    assert one.case.startswith("DRILL-")
    first = pypdfium2.PdfDocument(io.BytesIO(nurse.get(f"/cases/{one.case}/sheets/1/sheet.pdf").content))[0]
    assert "DRILL clinic (invented, no patients)" in first.get_textpage().get_text_bounded()
    assert b"DRILL clinic" in nurse.get(f"/cases/{one.case}/sheets/1/sheet.txt").content


def test_an_entry_for_a_calendar_says_so(enter: SignIn, night: Path) -> None:
    entry = enter("kowal").get(f"/cases/{SAID.case}/sheets/1/calendar.ics").content
    titles = re.findall(rb"(?:SUMMARY|DESCRIPTION):([^\r]*)\r\n(?! )", entry)
    assert titles == [b"DRILL: Medicine time"] * 5
    stored = work.desk_of(DRILL_CLINIC).pages(SAID.case, 1)["calendar.ics"]
    assert entry.replace(b"DRILL: ", b"") == stored


def test_outside_a_drill_a_page_of_a_sheet_is_given_out_as_it_is() -> None:
    entry = b"SUMMARY:Medicine time\r\n"
    assert drilling.marked("calendar.ics", entry) == entry


def test_a_case_that_is_opened_in_a_drill_says_so_in_its_id(enter: SignIn, night: Path) -> None:
    who = {"initials": "A. B.", "name": "Invented", "born": "1990-01-01", "phones": "+1 555 0299"}
    form = {"key": "k", **{f"person.{name}": words for name, words in who.items()}}
    details = {"details.zone": "America/Chicago", "details.language": "en"}
    refused = enter("kowal").post("/cases/new/", form | details | {"case": "K-200"})
    assert refused.status_code == 422
    assert [one.code for one in not_a_drills("K-200")] == ["drill-case-id"]
    assert "Begin it with DRILL-." in text_of(refused)
    post(enter("kowal"), "/cases/new/", **(form | details | {"case": "DRILL-200"}))


def test_outside_a_drill_no_case_is_opened_as_one_of_a_drill(sign_in: SignIn) -> None:
    """It could not be told from an invented one on her paper."""
    for case in ("DRILL-01", "drill-01", "Drill-K-201"):
        assert [one.code for one in not_a_drills(case)] == ["drill-case-id"]
    assert list(not_a_drills("K-201")) == list(not_a_drills("")) == []
    form = {"key": "k", "case": "DRILL-01", "details.zone": "America/Chicago", "details.language": "en"}
    refused = sign_in("kowal").post("/cases/new/", form)
    assert (refused.status_code, "an invented case of a drill" in text_of(refused)) == (422, True)


def test_in_a_drill_that_cannot_be_read_an_id_still_says_so(enter: SignIn, night: Path) -> None:
    (night / "drill.json").write_text("{", "utf-8")
    assert [one.code for one in not_a_drills("K-200")] == ["drill-case-id"]
    assert list(not_a_drills("DRILL-200")) == []


# One slip ends nothing


def test_a_first_question_that_nobody_chose_is_not_asked(enter: SignIn, night: Path) -> None:
    stand(night, SAID.rings_at)
    nurse, path = enter("kowal"), f"/drill/night/{SAID.case}/"
    assert text_of(nurse.get(path)).count('name="ask"') == text_of(nurse.get(path)).count(" required>") == 4
    for said in ({}, {"ask": ""}, {"ask": " "}):
        refused = nurse.post(path, said)
        assert (refused.status_code, SAID.round.first in text_of(refused)) == (422, True)
    assert nurse.post(path, {"ask": "Something that nobody offers?"}).status_code == 404
    assert read_answers(night) == {}
    taken(nurse, SAID)
    assert read_answers(night)[SAID.case].ask == SAID.round.first


def test_hanging_up_is_asked_for_again_with_what_was_typed(enter: SignIn, night: Path) -> None:
    stand(night, SAID.rings_at)
    nurse = enter("kowal")
    path = taken(nurse, SAID)
    assert 'name="end"' not in text_of(nurse.get(path))
    typed = {"kind": "question", "number": "", "who": "nurse", "note": 'the nurse decides, "now"'}
    sure = nurse.post(path, typed | {"hang": "1"})
    page = text_of(sure)
    assert (sure.status_code, "Nothing can be added afterwards." in page) == (200, True)
    assert not read_answers(night)[SAID.case].over
    hidden = {name: unescape(words) for name, words in re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', page)}
    assert {name: hidden[name] for name in typed} == typed
    assert '<input id="note"' not in page  # in no field does Enter press the button
    back = text_of(nurse.post(path, typed | {"back": "1"}))
    assert 'value="the nurse decides, &quot;now&quot;"' in back.replace("&#34;", "&quot;")
    assert '<option value="nurse" selected>' in back
    assert 'name="end"' not in back
    post(nurse, path, **typed, end="1")
    assert set(score_lines(nurse, SAID).values()) == {"right"}


# The strip


def test_the_strip_is_sent_again_only_when_it_is_another(enter: SignIn, night: Path) -> None:
    stand(night, SAID.rings_at)
    nurse = enter("kowal")
    polls = set()
    for path in ("/night/", "/drill/night/", "/drill/night/ringing/"):
        page = text_of(nurse.get(path))
        assert f'id="ringing-{SAID.case}"' in page, path
        polls |= set(re.findall(r'hx-get="(/drill/night/ringing/\?strip=[^"]+)" hx-trigger="every 3s"', page))
    (poll,) = polls
    assert nurse.get(poll).status_code == 204
    taken(nurse, SAID)
    changed = nurse.get(poll)
    assert (changed.status_code, "on the line" in text_of(changed)) == (200, True)


def test_from_each_page_of_her_case_a_link_leads_back_to_her_call(enter: SignIn, night: Path) -> None:
    stand(night, COMPUTED.rings_at)
    nurse = enter("kowal")
    pages = (f"/cases/{COMPUTED.case}/trouble/", f"/cases/{COMPUTED.case}/trouble/wrong-mark/")
    back = f'href="/drill/night/{COMPUTED.case}/"'
    assert back not in text_of(nurse.get(pages[0]))
    path = taken(nurse, COMPUTED)
    for one in pages:
        assert back in text_of(nurse.get(one)), one
    assert back not in text_of(nurse.get(f"/cases/{SAID.case}/trouble/"))
    post(nurse, path, end="1")
    assert back not in text_of(nurse.get(pages[0]))


# The answer that a page has ready is no note


def test_the_number_that_the_page_has_ready_is_not_the_nurses_note(enter: SignIn, night: Path) -> None:
    stand(night, COMPUTED.rings_at)
    nurse = enter("kowal")
    path = taken(nurse, COMPUTED)
    kept = post(nurse, f"/cases/{COMPUTED.case}/trouble/wrong-mark/", **RIGHT)
    settle = post(nurse, f"{kept}told/", **TOLD)
    post(nurse, settle, **(DECIDED | {"decision": "11,500 units went in"}))
    post(nurse, path, end="1")
    assert {part for part, said in score_lines(nurse, COMPUTED).items() if said == "wrong"} == {"The note"}


# Taken up again


def taken_up(night: Path) -> dt.datetime:
    drill = open_folder(night, None, None)
    assert isinstance(drill, Drill)
    return take_up(drill, None, "another long password").shown


def test_it_never_goes_back_behind_a_call_that_was_answered(night: Path) -> None:
    """Without the watch nobody noted how late it was: who was answered has rung."""
    stand(night, SAID.rings_at)
    assert keep_answer(night, COMPUTED.case, Answered("Which line?"))
    assert taken_up(night) == dt.datetime.fromisoformat(COMPUTED.rings_at)
    over = Answered("Which line?", Answers("late"), Recorded(until="2026-11-18 22:52"), "A. Kowal")
    assert keep_answer(night, COMPUTED.case, over)
    assert taken_up(night) == dt.datetime(2026, 11, 19, 4, 52, tzinfo=dt.UTC)


def test_without_its_clock_it_goes_on_from_what_stands_on_the_record(enter: SignIn, night: Path) -> None:
    stand(night, COMPUTED.rings_at)
    answered_on_the_real_pages(enter("kowal"))
    (night / CLOCK).unlink()
    assert taken_up(night) >= dt.datetime.fromisoformat(COMPUTED.rings_at)


# The second night comes by itself


@pytest.fixture
def two_nights(night: Path, tmp_path: Path) -> Iterator[Path]:
    """A drill that begins on the night on which the clocks go back, with the other one to come."""
    seed = next(one for one in range(100) if len({caller.night["as_of"] for caller in cast(one, 2)}) == 2)
    folder = tmp_path / "two"
    drill = open_folder(folder, seed, 2)
    assert isinstance(drill, Drill)
    connections["default"].close()
    _use(folder / "record.sqlite")
    work._DESKS.clear()
    with override_settings(DRILL=str(folder)):
        migrate("default")
        take_up(drill, None, "a long enough password")
        yield folder


@pytest.mark.parametrize("path", ["/drill/night/", "/drill/night/ringing/"])
def test_the_next_night_is_made_when_time_gets_there_by_itself(two_nights: Path, enter: SignIn, path: str) -> None:
    served = drilling.drill()
    assert served is not None
    _, second = cast(served.seed, served.count)
    nurse = enter("kowal")
    assert f"/cases/{second.case}/" not in text_of(nurse.get("/"))
    stand(two_nights, f"{second.rings_at[:17]}01Z")
    assert second.case in text_of(nurse.get(path))
    assert f"/cases/{second.case}/" in text_of(nurse.get("/"))
    assert work.desk_of(DRILL_CLINIC).states().case(second.case).sheet is not None
    entries = sum(head.seq for head in DatabaseStore(DRILL_CLINIC).heads())
    nurse.get(path)
    assert sum(head.seq for head in DatabaseStore(DRILL_CLINIC).heads()) == entries


@pytest.mark.parametrize("path", ["/drill/night/", "/drill/night/ringing/"])
def test_a_next_night_that_cannot_be_made_is_said_where_it_comes_by_itself(
    enter: SignIn, night: Path, monkeypatch: pytest.MonkeyPatch, path: str
) -> None:
    def refused(*_: object) -> None:
        raise NotMade("SecondCheck, DRILL-01-check")

    monkeypatch.setattr(drilling, "make_until", refused)
    assert "cannot be made: SecondCheck" in text_of(enter("kowal").get(path))


# What cannot be read


@pytest.mark.parametrize("text", ["{", "[]", '{"DRILL-01": {}}', '{"DRILL-01": 3}', '{"DRILL-01": {"ask": 3}}'])
def test_answers_that_cannot_be_read_are_said_and_the_board_goes_on(enter: SignIn, night: Path, text: str) -> None:
    stand(night, COMPUTED.rings_at)
    (night / "answers.json").write_text(text, "utf-8")
    nurse = enter("kowal")
    for path in ("/night/", "/drill/night/", "/drill/night/ringing/", "/drill/night/score/"):
        page = nurse.get(path)
        assert page.status_code == 200, path
        assert "The drill&#x27;s answers cannot be read" in page.content.decode(), path
        assert "drill-folder" in text_of(page), path
    assert "go on to then" not in text_of(nurse.get("/drill/night/"))
    assert "turn-who" in text_of(nurse.get("/night/"))
    for answer in (
        nurse.get(f"/drill/night/{SAID.case}/"),
        nurse.post(f"/drill/night/{SAID.case}/", {"ask": "?"}),
        nurse.post("/drill/night/on/", {"to": SAID.rings_at}),
    ):
        assert answer.status_code == 302
    assert (night / "answers.json").read_text("utf-8") == text


# The answers are no link away


@pytest.mark.parametrize("path", ["/drill/", f"/drill/{SEED}/2/1/", f"/drill/{SEED}/2/score/"])
def test_the_practice_of_the_same_calls_is_shut_while_a_drill_is_served(enter: SignIn, night: Path, path: str) -> None:
    nurse = enter("kowal")
    assert nurse.get(path).status_code == 404
    assert nurse.post(path, {"note": "x"}).status_code in (404, 405)
    assert "Practice calls" not in text_of(nurse.get("/night/"))


def test_outside_a_drill_the_practice_is_open(sign_in: SignIn) -> None:
    assert "Practice calls" in text_of(sign_in("kowal").get("/night/"))
    assert sign_in("kowal").get("/drill/7/2/1/").status_code == 200


@pytest.mark.parametrize("path", ["/drill/night/", "/drill/night/score/", "/drill/night/ringing/", "/drill/night/D/"])
def test_where_no_drill_is_served_there_is_no_such_page(sign_in: SignIn, path: str) -> None:
    nurse = sign_in("kowal")
    assert nurse.get(path).status_code == 404
    assert nurse.post("/drill/night/on/", {"to": ""}).status_code == 404
    assert "drill" not in text_of(nurse.get("/night/")).replace("/drill/", "").replace("drill.css", "")
