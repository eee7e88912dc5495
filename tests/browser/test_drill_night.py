"""A drill's night on the real pages at 360 px in the dark: two calls from ringing to score sheet, and the banner wherever one comes."""

import datetime as dt
import io
import json
import re
from collections.abc import Iterator
from pathlib import Path

import pypdfium2
import pytest
from playwright.sync_api import Browser, Page

from hourmark.drill import NIGHT_BANNER, scene
from hourmark.drill.cast import cast
from hourmark.drill.clock import NightClock, read_clock, write_clock
from tests.browser.conftest import Site, serving, sign_in
from tests.browser.test_every_page import looked_at

SEED = 2418
SAID, COMPUTED = cast(SEED, 2)
"""Small bubbles, at five to nine; 0.3 instead of 0.2, at half past ten."""
ASKED = {"ask": COMPUTED.round.first, "typed": None, "recorded": None, "by": ""}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("drilled")


@pytest.fixture(scope="module")
def drill(folder: Path) -> Iterator[Site]:
    options = ("--drill", str(folder / "drill"), "--seed", str(SEED), "--calls", "2", "--pace", "1")
    with serving(folder, *options) as served:
        yield served


@pytest.fixture
def page(browser: Browser, drill: Site) -> Iterator[Page]:
    context = browser.new_context(
        base_url=drill.address, viewport={"width": 360, "height": 800}, color_scheme="dark", has_touch=True
    )
    yield context.new_page()
    context.close()


def look(page: Page) -> None:
    """The page is whole, and says above and below that it is a drill; on paper on every sheet of it."""
    page.evaluate("scrollTo(0, 0)")  # the bar stays in sight over whatever is scrolled under it
    assert looked_at(page) == [], page.url
    bars = page.locator(".drill-bar")
    assert bars.all_inner_texts() == [NIGHT_BANNER, NIGHT_BANNER], page.url
    assert page.title().startswith("DRILL: "), page.url
    assert page.evaluate("document.documentElement.classList.contains('drill')")
    main = page.locator("main").bounding_box()
    above, below = (bars.nth(place).bounding_box() for place in (0, 1))
    assert main is not None
    assert above is not None
    assert below is not None
    assert above["y"] <= main["y"] < main["y"] + main["height"] <= below["y"] + 1, page.url
    printed = pypdfium2.PdfDocument(io.BytesIO(page.pdf(format="A5")))
    for sheet in printed:
        assert sheet.get_textpage().get_text_bounded().count("DRILL: an invented night, no patient") == 2, page.url


def test_two_calls_from_ringing_to_score_sheet(page: Page, drill: Site, folder: Path) -> None:
    assert (SAID.round.scene.call.id, COMPUTED.round.scene.call.id) == ("C13", "C18")
    page.goto("/accounts/login/")
    look(page)
    sign_in(page, drill, "kowal")
    look(page)
    page.goto("/drill/night/")
    look(page)
    page.get_by_role("button", name="Nobody rings until Wed 18 Nov 20:55: go on to then").click()
    page.goto("/night/")
    page.wait_for_load_state("networkidle")
    look(page)
    assert page.locator("#as-of").inner_text() in ("20:55", "20:56")
    assert page.request.get("/readyz").json() | {"codes": []} == {"ready": True, "watched": True, "codes": []}

    # One that is only said: asked, answered and hung up on the drill's own page.
    page.get_by_role("link", name=re.compile(f"{SAID.case}.*rings since 20:55")).click()
    look(page)
    page.get_by_label(SAID.round.first, exact=True).check()
    page.get_by_role("button", name="Ask it").click()
    assert scene("C13").told in page.locator("main").inner_text()
    page.get_by_text("Nothing went wrong").click()
    page.select_option("#kind", "question")
    page.select_option("#who", "nurse")
    page.fill("#note", "The nurse decides: bubbles pushed out, line right.")
    look(page)
    page.press("#note", "Enter")
    assert "Nothing can be added afterwards." in page.locator("main").inner_text()
    look(page)
    page.get_by_role("button", name="Not yet").click()
    assert page.input_value("#note") == "The nurse decides: bubbles pushed out, line right."
    page.get_by_role("button", name="Hang up …").click()
    page.get_by_role("button", name="Hang up and score").click()
    assert page.locator("td strong").all_inner_texts() == ["● right"] * 4
    assert scene("C13").call.say[0].source in page.locator("main").inner_text()
    look(page)

    # One that is computed: from the strip on the board to the real trouble page, the real answer, told whom, and the note.
    page.goto("/drill/night/")
    page.get_by_role("button", name="Nobody rings until Wed 18 Nov 22:30: go on to then").click()
    page.get_by_role("link", name=re.compile(COMPUTED.case)).click()
    page.get_by_label(COMPUTED.round.first, exact=True).check()
    page.get_by_role("button", name="Ask it").click()
    look(page)
    page.get_by_role("link", name="Trouble …").click()
    look(page)
    page.click("#kind-wrong-mark")
    page.set_viewport_size({"width": 360, "height": 3000})  # all of it in sight: its last row then stands over nothing
    look(page)
    page.set_viewport_size({"width": 360, "height": 800})
    for choice in ("symptoms-no", "injection-hcg", "injected-1"):
        page.click(f"label[for={choice}]")
    page.fill("#at", "22:02")
    page.fill("#drawn", "0.3")
    page.get_by_role("button", name="Keep it, and show the numbers").click()
    page.wait_for_url("**/kept/*/")
    assert "1,500 units, 150 %" in page.locator("main").inner_text()
    look(page)
    page.fill("#told", "Dr. L. Aumont")
    page.click("label[for=reached]")
    page.fill("#reply", "1,500 units went in: leave it, no second dose")
    page.get_by_role("button", name="Record who was told").click()
    page.wait_for_url("**/settle/")
    look(page)
    assert page.get_by_role("link", name=f"Back to the call of {COMPUTED.case}").is_visible()
    page.get_by_role("button", name="Note it, and keep it open").click()
    page.goto(f"/drill/night/{COMPUTED.case}/")
    page.get_by_role("button", name="Hang up …").click()
    page.get_by_role("button", name="Hang up and score").click()
    assert page.locator("td strong").all_inner_texts() == ["● right"] * 6
    look(page)

    page.goto("/drill/night/score/")
    assert "10 of 10" in page.locator("main").inner_text()
    look(page)
    page.goto("/drill/night/")
    assert "Nobody rings any more" in page.locator("main").inner_text()
    the_strip_keeps_the_focus_and_the_bar_is_one_line(page, folder)


def the_strip_keeps_the_focus_and_the_bar_is_one_line(page: Page, folder: Path) -> None:
    """By now everybody was answered: one call is taken out of the answers, so that it rings again."""
    kept = folder / "drill" / "answers.json"
    answers = json.loads(kept.read_text("utf-8"))
    kept.write_text(json.dumps({SAID.case: answers[SAID.case]}), "utf-8")
    try:
        for address in ("/night/", "/drill/night/"):
            page.goto(address)
            link = page.locator(f"#ringing-{COMPUTED.case}")
            link.focus()
            page.evaluate("document.activeElement.marked = true")
            with page.expect_response(re.compile("/drill/night/ringing/")) as answer:
                pass
            assert answer.value.status == 204
            assert page.evaluate("document.activeElement.marked === true"), address
            kept.write_text(json.dumps({SAID.case: answers[SAID.case], COMPUTED.case: ASKED}), "utf-8")
            page.get_by_text(f"{COMPUTED.case}, {COMPUTED.initials}: on the line").wait_for()
            assert page.evaluate("document.activeElement.id") == f"ringing-{COMPUTED.case}", address
            kept.write_text(json.dumps({SAID.case: answers[SAID.case]}), "utf-8")
        box = page.locator(".drill-bar").first.bounding_box()
        assert box is not None
        assert box["height"] <= 45
        shown = "DRILL. An invented night: no patient"
        width = page.evaluate(
            "words => { const bar = document.querySelector('.drill-bar'), text = document.createRange();"
            "text.setStart(bar.firstChild, 0); text.setEnd(bar.firstChild, words.length);"
            "return [text.getBoundingClientRect().right, bar.getBoundingClientRect().right]; }",
            shown,
        )
        assert width[0] < width[1] - 16, width
    finally:
        kept.write_text(json.dumps(answers), "utf-8")


@pytest.mark.parametrize(
    "address",
    [
        "/",
        "/cases/DRILL-01/",
        "/cases/DRILL-01/plan/",
        "/handover/",
        "/morning/",
        "/rules/",
        "/staff/",
        "/nowhere/",
        "/results/",
    ],
)
def test_every_other_page_says_so_as_well(page: Page, drill: Site, address: str) -> None:
    sign_in(page, drill, "kowal")
    page.goto(address)
    look(page)


def at_pace(folder: Path, pace: int) -> None:
    """Lets the night go on from where it is, at another pace."""
    path, now = folder / "drill" / "clock.json", dt.datetime.now(dt.UTC)
    write_clock(path, NightClock(now, read_clock(path).at(now), pace))


def test_at_a_faster_pace_the_minutes_on_the_board_run_faster(page: Page, drill: Site, folder: Path) -> None:
    sign_in(page, drill, "kowal")
    at_pace(folder, 60)
    try:
        page.goto("/night/")
        assert page.locator("#as-of").get_attribute("data-pace") == "60"
        now = page.evaluate("() => [...document.querySelectorAll('[data-due]')].map(one => one.textContent)")
        page.wait_for_timeout(2500)
        later = page.evaluate("() => [...document.querySelectorAll('[data-due]')].map(one => one.textContent)")
        assert all(one != other for one, other in zip(now, later, strict=True)), (now, later)
        assert now
    finally:
        at_pace(folder, 1)


def test_the_practice_of_the_same_calls_is_shut(page: Page, drill: Site) -> None:
    sign_in(page, drill, "kowal")
    page.goto("/drill/")
    look(page)
    assert "Practice calls" not in page.locator("main").inner_text()
