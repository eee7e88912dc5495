"""The night in a real browser: two people at one board, a network that goes, a keyboard alone, and the morning list on paper."""

import io
from collections.abc import Callable
from typing import Any

import pypdfium2
import pytest
from playwright.sync_api import BrowserContext, Page, expect

from tests.browser.conftest import Site, sign_in
from tests.browser.test_every_page import looked_at

CASE, INJECTION = "K-107", "nafarelin"
"""Somebody whose minute is later tonight, and whom no other test reports."""

WITHIN = 5_000
"""How long a board may take to show what somebody else recorded, in ms."""


@pytest.fixture
def at_night(open_context: Callable[..., BrowserContext], site: Site) -> Callable[..., Page]:
    """A window with the board open, as somebody has it in front of them."""

    def opened(username: str, width: int = 320, **more: Any) -> Page:
        page = open_context(width, "dark", **more).new_page()
        sign_in(page, site, username)
        page.goto("/night/")
        return page

    return opened


ROWS_BEGIN = 340
"""The most pixels above the first row at 320 px: what is left holds a row with its first button."""


def rows_of(page: Page, case: str) -> Any:
    return page.locator(".turn", has=page.locator(f"a:text-matches('^{case}')"))


def report(page: Page, case: str) -> None:
    """An injection reported by phone, from the board, by keyboard alone."""
    rows_of(page, case).first.locator("a:has-text('Given by phone')").focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**/given/")
    shown = page.locator("main").inner_text()
    clock = shown.partition("(")[2][:5]
    for name, words in (("time", clock), ("remains", "nothing"), ("told_by", "she herself")):
        page.focus(f"[name={name}]")
        page.keyboard.type(words)
    page.focus("[name=amount][value=all]")
    page.keyboard.press("Space")
    page.focus("[name=source]")
    page.keyboard.type("she")
    page.focus("button:text-is('Keep this report')")
    page.keyboard.press("Enter")


def test_what_one_nurse_writes_down_the_other_sees_within_five_seconds(at_night: Callable[..., Page]) -> None:
    hers, theirs = at_night("kowal"), at_night("ortiz", 1280)
    report(hers, "K-110")
    expect(hers.locator("h1")).to_contain_text("Kept")
    expect(rows_of(theirs, "K-110").first).to_contain_text("PROBLEM", timeout=WITHIN)
    expect(rows_of(theirs, "K-110").first).to_contain_text("the time is still to come")


def test_the_board_counts_by_itself_and_keeps_the_focus(at_night: Callable[..., Page]) -> None:
    page = at_night("kowal")
    link = page.locator(".turn a[id^=case-]").nth(3)
    link.focus()
    name = link.get_attribute("id")
    page.wait_for_timeout(7_000)
    assert page.evaluate("document.activeElement.id") == name
    expect(page.locator("#lost")).to_be_hidden()
    assert "seconds ago" not in page.locator("#age").inner_text()


def test_a_network_that_is_gone_is_said_and_ends_when_it_is_back(at_night: Callable[..., Page]) -> None:
    page = at_night("kowal")
    page.context.set_offline(True)
    expect(page.locator("#lost")).to_be_visible(timeout=15_000)
    expect(page.locator("#lost")).to_contain_text("NO ANSWER FROM THE SERVER")
    assert looked_at(page) == []
    page.context.set_offline(False)
    expect(page.locator("#lost")).to_be_hidden(timeout=10_000)


def test_without_script_the_board_comes_anew_by_itself(at_night: Callable[..., Page]) -> None:
    page = at_night("kowal", java_script_enabled=False)
    assert page.locator("meta[http-equiv=refresh]").get_attribute("content") == "5"
    assert page.locator(".turn").count() > 5
    assert page.locator(".count").first.inner_text()


def test_clock_times_are_large_and_every_act_is_a_thumb_wide(at_night: Callable[..., Page]) -> None:
    page = at_night("kowal")
    size = page.evaluate("parseFloat(getComputedStyle(document.querySelector('.big')).fontSize)")
    assert size >= 40
    small = page.evaluate(
        "[...document.querySelectorAll('.turn a')].filter(a => a.getBoundingClientRect().height < 44).length"
    )
    assert small == 0


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_first_row_is_seen_on_the_smallest_screen_without_scrolling(
    open_context: Callable[..., BrowserContext], site: Site, scheme: str
) -> None:
    """320 by 640 px: the clock time, who it is, how it stands and what it is; and above it whose list it is, of when, and what it is not."""
    page = open_context(320, scheme).new_page()
    page.set_viewport_size({"width": 320, "height": 640})
    sign_in(page, site, "kowal")
    page.goto("/night/")
    row = page.locator(".turn").first
    words = ["p[role=note]", "text=A. Kowal, nurse", "button:text-is('Sign out')", "#as-of", "#board > p strong"]
    for part in (
        *map(page.locator, words),
        *map(row.locator, (".big", ".turn-who a", ".turn-state", ".turn-state + p")),
    ):
        box = part.first.bounding_box()
        assert box is not None, part
        assert box["y"] >= 0
        assert box["y"] + box["height"] <= 640, part
    first = row.bounding_box()
    assert first is not None
    assert first["y"] <= ROWS_BEGIN
    assert looked_at(page) == []


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_morning_list_prints_on_one_page(at_night: Callable[..., Page], paper: str) -> None:
    page = at_night("kowal", 1280)
    page.goto("/morning/")
    page.click("button:has-text('Give out list')")
    page.goto("/morning/")
    page.locator("a:text-matches('^List [0-9]+$')").last.click()
    expect(page.locator("h1")).to_contain_text("Morning list")
    printed = page.pdf(format=paper)
    document = pypdfium2.PdfDocument(io.BytesIO(printed))
    words = document[0].get_textpage().get_text_range()
    assert len(document) == 1
    assert "Morning list" in words
    for case in ("K-101", "K-105", "K-109"):
        assert case in words
    assert "Sign out" not in words
