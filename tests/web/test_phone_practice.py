"""Practice on her phone: /t/practice/<place>/, /t/practice/ and /t/practice/now/, with her own mark unseen, or with an invented one before there is a page."""

import re

import pytest
from django.test import Client

from hourmark.case import events as e
from hourmark.case.orders import SignOrder
from hourmark.case.phone import RevokeLink
from hourmark.desk import Desk
from hourmark.desk.made import Planned, plan_of
from hourmark.formulary import barrels
from hourmark.handout.language import language
from hourmark.handout.show import Stop, show_barrel
from hourmark.quantity import parse_volume
from hourmark.web.models import Link
from hourmark.web.pages.phone import Visit
from hourmark.web.pages.phone_practice import said_line
from tests.web.conftest import NOW
from tests.web.hers import CASE, clock_of, give, her_phone, opened, read_boxes, report_form, stranger, walk_of
from tests.web.manners import SignIn, do, heads, written
from tests.web.seen import look, text_of
from tests.web.test_phone_walk import events

AGONIST, HCG = "/t/practice/1/", "/t/practice/2/"
WITHOUT_KEYS = re.compile(r'(csrfmiddlewaretoken|name="key)" value="[^"]*"|translate\([^)]*\)')


def here(phone: Client, path: str, at: int, **more: str) -> str:
    """She moves the plunger to a line and says "here"."""
    form = look(phone, path).form() | {"at": str(at)} | more
    answer = phone.post(path, form)
    assert answer.status_code == 200
    return text_of(answer)


def place_of(site: Desk, injection: str) -> int:
    show = walk_of(site).injection(injection).show
    assert show is not None
    return next(number for number, line in enumerate(show.lines, 1) if line.mark == show.stops[0].mark)


# Blind


def test_the_page_is_the_same_wherever_the_right_line_is(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The source of the page for two marks, byte for byte, but for the keys of its forms: nobody can read the answer out of it."""
    from dataclasses import replace

    phone, walk = her_phone(sign_in), walk_of(site)
    sources = []
    for mark in ("20", "37", "99"):
        injections = tuple(
            replace(one, show=replace(one.show, stops=(Stop(mark, f"0.{mark} mL"),))) if one.show else one
            for one in walk.injections
        )
        monkeypatch.setattr(Visit, "walk", replace(walk, injections=injections))
        places = (HCG, f"{HCG}?at=20", f"{HCG}?at=55")
        sources += [WITHOUT_KEYS.sub("", text_of(phone.get(path))) for path in places]
    assert sources[0:3] == sources[3:6] == sources[6:9]


def test_every_printed_line_stands_there_and_no_other_number(sign_in: SignIn, site: Desk) -> None:
    source = text_of(her_phone(sign_in).get(HCG))
    numbered = re.findall(r"<text [^>]*>([^<]+)</text>", source)
    assert numbered == [str(one) for one in range(10, 101, 10)]
    assert source.count('class="line"') == 100
    words = source.split("<main")[1].split("<svg")[0]
    for shown in ("mark 20", "0.2 mL", "1,000", "0.20"):
        assert shown not in source.split("<footer")[0], shown
    assert "20" not in re.sub(r'value="[^"]*"|data-[a-z-]+="[^"]*"', "", words)


def test_without_a_script_the_plunger_is_moved_by_buttons(sign_in: SignIn, site: Desk) -> None:
    phone = her_phone(sign_in)
    source = text_of(phone.get(HCG))
    assert re.findall(r'name="at" value="(\d+)" data-by="(-?\d+)"', source) == [
        ("10", "10"),
        ("5", "5"),
        ("1", "1"),
        ("0", "-1"),
        ("0", "-5"),
        ("0", "-10"),
    ]
    moved = text_of(phone.get(f"{HCG}?at=17"))
    assert "The ring is 7 lines past number 10." in moved
    assert re.search(r'id="at" name="at" value="17"', moved)
    assert ("27", "10") in re.findall(r'name="at" value="(\d+)" data-by="(-?\d+)"', moved)
    assert text_of(phone.get(f"{HCG}?at=101")).count("The plunger is all the way in.") >= 1


@pytest.mark.parametrize(
    ("barrel", "at", "words"),
    [
        ("u100-1mL-1", 0, "The plunger is all the way in."),
        ("u100-1mL-1", 1, "The ring is 1 line past number 0."),
        ("u100-1mL-1", 10, "The ring is at number 10."),
        ("u100-1mL-1", 83, "The ring is 3 lines past number 80."),
        ("mL-3-0.1", 5, "The ring is at number 0.5."),
        ("mL-3-0.1", 6, "The ring is 1 line past number 0.5."),
    ],
)
def test_where_the_plunger_stands_in_words(barrel: str, at: int, words: str) -> None:
    """Lines and numbers of these barrels: ISO 8537 (U-100, numbers every 10) and ISO 7886-1 (3 mL, from memory: every 0.5)."""
    assert said_line(show_barrel(barrels()[barrel], ()).lines, at, language("en")) == words


# Here


def test_the_right_line_is_said_to_be_right_only_after_here(sign_in: SignIn, site: Desk) -> None:
    phone = her_phone(sign_in)
    before = heads(site)
    source = here(phone, HCG, place_of(site, "hcg"))
    assert "Yes. You stopped at mark 20. That is what your page says." in source
    source = here(phone, AGONIST, place_of(site, "agonist"))
    assert "Yes. You stopped at mark 80." in source
    assert written(site, before) == []


@pytest.mark.parametrize("off", [-20, -1, 1, 50])
def test_any_other_line_is_not_and_the_right_one_is_not_told(sign_in: SignIn, site: Desk, off: int) -> None:
    phone = her_phone(sign_in)
    source = here(phone, HCG, place_of(site, "hcg") + off)
    assert "Not that line. Read your page again. Then try again." in source
    assert "mark 20" not in source
    assert "0.2 mL" not in source


def test_two_misses_ask_the_nurse_to_ring_and_stop_nothing(sign_in: SignIn, site: Desk) -> None:
    phone = her_phone(sign_in)
    before = heads(site)
    here(phone, HCG, 30)
    assert written(site, before) == []
    source = here(phone, HCG, 30)
    assert written(site, before) == [f"case/{CASE} help-asked"]
    assert events(site, e.HelpAsked) == [
        e.HelpAsked("hcg", "practice", "the plunger was not stopped at the right line, two times or more")
    ]
    assert "Your nurse sees this and will call you." in source
    assert "This never stops you from injecting at your time." in source
    here(phone, HCG, 31)
    assert len(events(site, e.HelpAsked)) == 1
    assert read_boxes(phone, 1) == "/t/2/boxes/"
    assert read_boxes(phone, 2).startswith("/t/steps/")


def test_a_right_one_between_them_starts_the_count_again(sign_in: SignIn, site: Desk) -> None:
    phone = her_phone(sign_in)
    for at in (30, place_of(site, "hcg"), 30):
        here(phone, HCG, at)
    assert events(site, e.HelpAsked) == []


def test_one_answer_sent_twice_is_one_miss(sign_in: SignIn, site: Desk) -> None:
    phone = her_phone(sign_in)
    form = look(phone, HCG).form() | {"at": "30"}
    for _ in range(4):
        phone.post(HCG, form)
    assert Link.objects.get().misses == 1
    assert events(site, e.HelpAsked) == []


# When there is none


@pytest.mark.parametrize(
    ("now", "closed"), [("2026-11-19T02:29:59Z", False), ("2026-11-19T02:30:00Z", True), ("2026-11-19T03:10:00Z", True)]
)
def test_in_the_last_half_hour_there_is_none(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch, now: str, closed: bool
) -> None:
    phone = her_phone(sign_in)
    invented = opened(give(sign_in, kind="practice")[0])
    form = look(phone, HCG).form() | {"at": "30"}
    clock_of(monkeypatch)(now)
    for one in (phone, invented):
        path = HCG if one is phone else "/t/practice/"
        assert ("Practice is closed now" in text_of(one.get(path))) is closed
    assert ("Practice is closed now" in text_of(phone.post(HCG, form))) is closed
    assert Link.objects.order_by("pk")[0].misses == (0 if closed else 1)


def test_there_is_none_once_she_has_begun_or_told(sign_in: SignIn, site: Desk) -> None:
    phone = her_phone(sign_in)
    assert "Practice is closed now" not in text_of(phone.get(HCG))
    read_boxes(phone, 2)
    assert "Practice is closed now" in text_of(phone.get(HCG))
    assert "Practice is closed now" not in text_of(phone.get(AGONIST))
    phone.post("/t/1/done/", report_form(phone) | {"hour": "16", "minute": "20", "how": "all"})
    assert "Practice is closed now" in text_of(phone.get(AGONIST))


def test_where_nothing_is_measured_there_is_nothing_to_practise(sign_in: SignIn, site: Desk) -> None:
    phone = her_phone(sign_in, "K-105")
    assert all(one.show is None for one in walk_of(site, "K-105").injections)
    assert "There is no syringe to practise with here." in text_of(phone.get("/t/practice/2/"))
    assert "/t/practice/" not in text_of(phone.get("/t/"))
    assert "There is no syringe" in text_of(her_phone(sign_in).get("/t/practice/9/"))


# Before there is a page


def test_before_a_release_the_number_is_invented_and_said_to_be(sign_in: SignIn, site: Desk) -> None:
    phone = opened(give(sign_in, "K-109", "practice")[0])
    assert phone.get("/t/").status_code == 404
    page = look(phone, "/t/practice/")
    assert "This number is invented. It is NOT your dose." in page.main()
    number = re.search(r"Practice number: ([\d.]+ mL)", page.main())
    assert number is not None
    lines = show_barrel(barrels()["mL-2-0.1"], ()).lines
    at = next(place for place, line in enumerate(lines, 1) if line.volume == number[1])
    assert "That is the practice number." in here(phone, "/t/practice/", at)
    assert "Not that line. Look at the numbers on the syringe." in here(phone, "/t/practice/", at + 1)
    for word in ("5,000", "gonadotropin", "21:", "K-109"):
        assert word not in page.main()


def test_an_invented_number_is_never_hers_nor_beside_it(sign_in: SignIn, site: Desk) -> None:
    """For 24 numbers in a row: none is the planned volume, one printed line from it, or a printed number next to it."""
    phone = opened(give(sign_in, kind="practice")[0])
    made = plan_of(site.states().case(CASE), site.states().rules(), NOW)
    assert isinstance(made, Planned)
    drawn = [fill.volume for one in made.case.injections if one.drawn for fill in one.drawn.fills if fill.volume]
    assert {str(one) for one in drawn} == {"0.8 mL", "0.2 mL"}
    shown = set()
    for number in range(1, 25):
        mark = re.search(r"Practice number: mark (\d+)", text_of(phone.get(f"/t/practice/?round={number}")))
        assert mark is not None
        shown.add(int(mark[1]))
    assert len(shown) > 8
    for mine in (80, 20):
        assert not {mine, mine - 1, mine + 1} & shown
        assert not {mine - 10, mine + 10} & shown


def test_on_one_phone_practice_and_page_live_beside_each_other(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    page, practice = give(sign_in)[0], give(sign_in, kind="practice")[0]
    phone = stranger()
    for first, second in ((page, practice), (practice, page)):
        phone = opened(first)
        assert phone.post(second).status_code == 303
        assert "Medicine 1" in text_of(phone.get("/t/"))
        assert "This number is invented." in text_of(phone.get("/t/practice/"))
        assert "How much does your page say" in text_of(phone.get(HCG))
        assert phone.get("/t/now/").status_code == phone.get("/t/practice/now/").status_code == 200
        assert 'data-sync="/t/now/"' in text_of(phone.get(HCG))
        assert 'data-sync="/t/practice/now/"' in text_of(phone.get("/t/practice/"))
    do(site, RevokeLink(CASE, 2, "another telephone"), "kowal")
    assert "Medicine 1" in text_of(phone.get("/t/"))
    assert phone.get("/t/practice/").status_code == phone.get("/t/practice/now/").status_code == 404
    third = give(sign_in, kind="practice")[0]
    assert phone.post(third).status_code == 303
    do(site, RevokeLink(CASE, 1, "forwarded"), "kowal")
    assert phone.get("/t/").status_code == phone.get("/t/now/").status_code == phone.get(HCG).status_code == 404
    assert "This number is invented." in text_of(phone.get("/t/practice/"))


def test_the_cookie_of_one_kind_opens_nothing_of_the_other(sign_in: SignIn, site: Desk) -> None:
    practice, page = opened(give(sign_in, kind="practice")[0]), opened(give(sign_in)[0])
    practice.cookies["hourmark-page"] = practice.cookies["hourmark-practice"].value
    page.cookies["hourmark-practice"] = page.cookies["hourmark-page"].value
    assert practice.get("/t/").status_code == page.get("/t/practice/").status_code == 404


def test_a_practice_link_leads_to_nothing_else(sign_in: SignIn, site: Desk) -> None:
    phone = opened(give(sign_in, kind="practice")[0])
    for path in ("/t/1/boxes/", "/t/1/done/", "/t/steps/1/3/", "/t/pictures/p0/still.svg"):
        assert phone.get(path).status_code == 404
        assert phone.post(path).status_code in (404, 405)
    assert phone.post("/t/call/").status_code == 404
    source = text_of(phone.get("/t/practice/"))
    for word in ("leuprolide", "21:00", "mark 80", "mark 20", "4 mg", "Medicine"):
        assert word not in source.split("<footer")[0]


def test_two_misses_with_an_invented_number_ask_as_well(sign_in: SignIn, site: Desk) -> None:
    phone = opened(give(sign_in, "K-109", "practice")[0])
    here(phone, "/t/practice/", 1)
    here(phone, "/t/practice/", 1)
    (waiting,) = site.states().case("K-109").waiting
    assert (waiting.event.injection, waiting.event.where) == (None, "practice")


def test_a_changed_order_changes_the_barrel_that_is_practised_with(sign_in: SignIn, site: Desk) -> None:
    """Practice makes nobody ready: it leaves nothing in the record that a new order would have to take away."""
    phone = opened(give(sign_in, kind="practice")[0])
    before = heads(site)
    for number in range(1, 5):
        phone.get(f"/t/practice/?round={number}")
    assert heads(site) == before
    order = dict(site.states().case(CASE).order.event.order)  # type: ignore[union-attr]
    first, *others = order["injections"]
    do(site, SignOrder(CASE, order | {"injections": [first | {"dose": "2 mg"}, *others]}), "aumont")
    marks = set()
    for number in range(1, 25):
        found = re.search(r"Practice number: mark (\d+)", text_of(phone.get(f"/t/practice/?round={number}")))
        assert found is not None
        marks.add(int(found[1]))
    assert not {39, 40, 41, 30, 50} & marks


def test_without_a_kit_there_is_no_barrel(sign_in: SignIn, site: Desk) -> None:
    phone = opened(give(sign_in, "K-110", "practice")[0])
    assert "There is no syringe to practise with here." in text_of(phone.get("/t/practice/"))


def test_volumes_are_said_as_on_her_page() -> None:
    show = show_barrel(barrels()["mL-3-0.1"], [parse_volume("1.5 mL")])
    assert show.stops[0].volume == "1.5 mL"
