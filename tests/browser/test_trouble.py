"""Ten calls from the board to their answer, on a telephone held in one hand in the dark, counted in taps; and the results of the morning.

A tap is a touch of the screen: on a link, a button, a choice, or a field before something is typed into it. Scrolling is none.
"""

import datetime as dt
import io
import re
from collections.abc import Callable
from dataclasses import dataclass, field

import pypdfium2
import pytest
from playwright.sync_api import BrowserContext, Page, expect

from tests.browser.conftest import Site, sign_in
from tests.browser.test_every_page import looked_at

CASE = "K-103"
"""Ten thousand units in 2 mL, of which 1,000 units are ordered, and an agonist with them."""

MOST_TAPS = 6


class Thumb:
    """A thumb on a page: it counts what it touches, and looks at every page that it comes to."""

    def __init__(self, page: Page) -> None:
        self.page, self.taps = page, 0

    def tap(self, where: str) -> None:
        self.page.locator(where).first.tap()
        self.taps += 1

    def type_into(self, where: str, words: str) -> None:
        self.tap(where)
        self.page.keyboard.type(words)

    def look(self) -> None:
        assert looked_at(self.page) == [], self.page.url


@pytest.fixture
def thumb(open_context: Callable[..., BrowserContext], site: Site) -> Thumb:
    """The board at 360 px in the dark, touched."""
    page = open_context(360, "dark", has_touch=True, is_mobile=True).new_page()
    sign_in(page, site, "kowal")
    page.goto("/night/")
    return Thumb(page)


def clock(page: Page, minutes_ago: int = 10) -> str:
    """A clock time a little before now on the board's own clock, never on the day before."""
    shown = page.locator("#as-of").inner_text().strip()
    now = dt.datetime.strptime(shown[-5:], "%H:%M")
    return f"{now - dt.timedelta(minutes=minutes_ago):%H:%M}"


@dataclass(frozen=True)
class Call:
    """One call: the row it comes from, its kind, what is chosen and what is typed, and what stands on the answer."""

    about: str
    row: str
    kind: str
    chosen: tuple[str, ...]
    typed: dict[str, str]
    shows: tuple[str, ...]
    taps: int = MOST_TAPS
    danger: bool = field(default=False)


NONE = "label[for=symptoms-no]"
CALLS = (
    Call("0.3 instead of 0.2", "hcg", "wrong-mark", (NONE,), {"at": "", "drawn": "0.3"}, ("1,500 units, 150 %",)),
    Call("only the water", "hcg", "water-only", (NONE,), {"at": ""}, ("0 units, 0 %", "10,000 units"), 5),
    Call("forgotten", "hcg", "missed", (NONE,), {}, ("hcg: not given",), 4),
    Call("a half leaked", "hcg", "partial", (NONE,), {"at": "", "lost": "half"}, ("500 units, 50 %",)),
    Call(
        "early, all of it",
        "hcg",
        "early",
        (NONE, "label[for=all-1]"),
        {"at": ""},
        ("1,000 units, 100 %", "Hours to the slot"),
    ),
    Call(
        "under the skin or not",
        "hcg",
        "wrong-route",
        (NONE, "label[for=route-intramuscular]"),
        {"at": ""},
        ("intramuscular; subcutaneous was ordered",),
    ),
    Call("another medicine", "hcg", "other-drug", (NONE, "label[for=instead-2]"), {"drug": "aspirin"}, ("aspirin",)),
    Call(
        "all the water",
        "hcg",
        "wrong-water",
        (NONE,),
        {"at": "", "water": "10"},
        ("200 units, 20 %", "prescriber"),
    ),
    Call("kept on the sill", "hcg", "storage", (NONE, "label[for=injected-2]"), {"kept": "on the sill"}, ("label",)),
    Call("she cannot breathe", "hcg", "", (), {}, ("Emergency services first",), 2, danger=True),
)


@pytest.mark.parametrize("call", CALLS, ids=lambda call: call.about)
def test_ten_calls_in_so_many_taps(thumb: Thumb, call: Call) -> None:
    page, when = thumb.page, clock(thumb.page)
    thumb.tap(f"#trouble-{CASE}-{call.row}")
    page.wait_for_url("**/trouble/?of=*")
    thumb.look()
    if call.danger:
        thumb.tap(".alarm")
    else:
        thumb.tap(f"#kind-{call.kind}")
        page.wait_for_url(f"**/{call.kind}/*")
        thumb.look()
        for choice in call.chosen:
            thumb.tap(choice)
        for name, words in call.typed.items():
            thumb.type_into(f"[name={name}]", words or when)
        thumb.tap(".go button")
    page.wait_for_url("**/kept/**")
    thumb.look()
    words = page.locator("main").inner_text()
    for shown in call.shows:
        assert shown in words
    assert thumb.taps == call.taps
    assert thumb.taps <= MOST_TAPS
    assert "Kept" in words


def test_a_few_words_lead_to_the_facts(thumb: Thumb) -> None:
    page = thumb.page
    thumb.tap(f"#trouble-{CASE}-hcg")
    thumb.type_into("#words", "half of it leaked out")
    thumb.tap("button:text-is('Find it')")
    page.wait_for_url("**words=half*")
    thumb.look()
    thumb.tap("a:has-text('Some of it ran out again')")
    page.wait_for_url("**/call/C12/*")
    thumb.look()
    thumb.tap("a:has-text('Write down the facts')")
    page.wait_for_url("**/partial/*")
    assert thumb.taps == 5


def test_from_the_answer_to_the_board_told_decided_and_settled(thumb: Thumb) -> None:
    page, when = thumb.page, clock(thumb.page)
    page.goto(f"/cases/{CASE}/trouble/wrong-mark/?of=agonist")
    page.check("#symptoms-no")
    page.fill("[name=at]", when)
    page.fill("[name=drawn]", "0.9")
    page.click(".go button")
    expect(page.locator("#message")).to_have_value(re.compile("Your yes or no, please:"))
    page.fill("[name=told]", "Dr. L. Aumont")
    page.check("#reached")
    page.fill("[name=reply]", "it stays")
    page.click("button:text-is('Record who was told')")
    page.wait_for_url("**/settle/")
    page.wait_for_load_state()
    thumb.look()
    assert page.input_value("[name=decided_by]") == "Dr. L. Aumont"
    page.click("button:has-text('keep it open')")
    page.wait_for_url("**/night/")
    row = page.locator(f"#turn-{CASE}-agonist")
    expect(row).to_contain_text("PROBLEM")
    expect(row).to_contain_text("drawn to another mark")
    row.locator("a:has-text('Trouble')").click()
    page.locator(".owed a").first.click()
    page.click("a:has-text('What was decided')")
    page.click("button:has-text('It is settled')")
    page.wait_for_url("**/night/")
    expect(row).not_to_contain_text("PROBLEM")


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [360, 1280])
def test_the_pages_of_trouble_and_of_results_stand_in_nobodys_way(
    open_context: Callable[..., BrowserContext], site: Site, width: int, scheme: str
) -> None:
    page = open_context(width, scheme).new_page()
    sign_in(page, site, "kowal")
    found = []
    for address in (
        f"/cases/{CASE}/trouble/?of=hcg&words=she+cannot+breathe",
        f"/cases/{CASE}/trouble/late/?of=hcg",
        f"/cases/{CASE}/trouble/partial/?of=hcg",
        f"/cases/{CASE}/trouble/wrong-product/?of=hcg",
        f"/cases/{CASE}/trouble/other/",
        f"/cases/{CASE}/trouble/call/C13/?of=hcg",
        f"/cases/{CASE}/trouble/number/mark/",
        f"/cases/{CASE}/trouble/number/fasting/",
        "/results/",
        "/drill/",
        "/drill/7/5/1/",
        "/drill/7/5/score/",
        "/cases/K-101/results/",
    ):
        page.goto(address)
        for summary in page.locator("summary").all():
            summary.click()
        found.append((address, looked_at(page)))
    assert [one for one in found if one[1]] == []


COVERED = """() => {
    const bar = document.querySelector('.go'), kinds = 'h1, p, li, legend, label, input, select, textarea, summary, span, a';
    const others = [...document.querySelectorAll('main :is(' + kinds + ')')];
    const seen = others.filter(one => one.offsetParent && !bar.contains(one) && !one.contains(bar));
    const covered = new Set();
    const look = () => {
        const over = bar.getBoundingClientRect();
        for (const one of seen) {
            const under = one.getBoundingClientRect();
            if (under.height && under.top < over.bottom && under.bottom > over.top) covered.add(one.outerHTML.slice(0, 80));
        }
    };
    for (let y = 0; y < document.documentElement.scrollHeight; y += 50) { scrollTo(0, y); look(); }
    for (const one of seen) { one.focus(); look(); }
    return [seen.length, ...covered];
}"""
"""How many things stand on the page, and what of it lies under the button at some place to which it is scrolled, or is focused."""


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [320, 360, 1280])
def test_the_button_that_keeps_it_covers_nothing(
    open_context: Callable[..., BrowserContext], site: Site, width: int, scheme: str
) -> None:
    page = open_context(width, scheme).new_page()
    sign_in(page, site, "kowal")
    for kind in ("late", "partial", "wrong-mark", "other"):
        page.goto(f"/cases/{CASE}/trouble/{kind}/?of=hcg")
        for summary in page.locator("summary").all():
            summary.click()
        count, *covered = page.evaluate(COVERED)
        assert count > 15
        assert covered == [], kind
        assert looked_at(page) == []


def test_a_drill_on_paper_says_so_above_and_below(open_context: Callable[..., BrowserContext], site: Site) -> None:
    page = open_context(1280).new_page()
    sign_in(page, site, "kowal")
    page.goto("/drill/7/3/1/")
    page.locator("[name=ask]").first.check()
    page.click("button:text-is('Ask it')")
    assert looked_at(page) == []
    page.click("button:text-is('Score this call')")
    assert looked_at(page) == []
    page.click("a:text-is('Score sheet')")
    document = pypdfium2.PdfDocument(io.BytesIO(page.pdf(format="A4")))
    words = " ".join(one.get_textpage().get_text_range() for one in document)
    assert words.count("DRILL. An invented night") >= 2


def test_a_result_stands_beside_its_curve_in_the_scheme_of_the_page(
    open_context: Callable[..., BrowserContext], site: Site
) -> None:
    for scheme in ("dark", "light"):
        page = open_context(360, scheme).new_page()
        sign_in(page, site, "kowal")
        page.goto("/night/")
        when = clock(page, 5)
        if scheme == "dark":
            page.goto("/cases/K-104/trouble/early/?of=hcg")
            page.check("#symptoms-no")
            page.fill("[name=at]", clock_before(when))
            page.check("[name=all][value=yes]")
            page.click(".go button")
            page.goto("/cases/K-104/results/")
            page.fill("[name=clock]", when)
            page.fill("[name='hCG.value']", "9")
            page.fill("[name='hCG.unit']", "IU/L")
            page.click("button:text-is('Record the sample')")
        page.goto("/cases/K-104/results/")
        image = page.locator("img.curve").first
        image.scroll_into_view_if_needed()
        expect(image).to_have_js_property("complete", True)
        assert page.evaluate("document.querySelector('img.curve').naturalWidth") > 300
        assert scheme in page.evaluate("document.querySelector('img.curve').currentSrc")
        expect(page.locator("main")).to_contain_text("too early to judge")
        assert looked_at(page) == []


def clock_before(when: str) -> str:
    """Two minutes before a clock time."""
    return f"{dt.datetime.strptime(when, '%H:%M') - dt.timedelta(minutes=2):%H:%M}"
