"""Her phone in a browser, 320 px wide: from the link to "stored", with and without a script, on a good, a slow and a broken network."""

import datetime as dt
import re
import threading
from collections.abc import Callable, Iterator
from socketserver import ThreadingMixIn
from typing import Any
from wsgiref.simple_server import WSGIRequestHandler, WSGIServer, make_server

import pytest
from django.core.wsgi import get_wsgi_application
from django.db import connections
from playwright.sync_api import Browser, BrowserContext, Locator, Page, Route, expect

from hourmark.case import events as e
from hourmark.case.night import Confirm
from hourmark.case.sheets import VoidSheet
from hourmark.case.streams import case_stream
from hourmark.desk import Desk, recorded
from hourmark.web import work
from tests.browser.test_every_page import AXE, RULES, looked_at
from tests.web.conftest import NOW, _afternoon, sign_in, site
from tests.web.hers import CASE, UNKNOWN, clock_of, give
from tests.web.manners import SignIn, do
from tests.web.minutes import PROVISIONAL, TWO_TIMES, counted_from_the_first, step_of_waiting, without_window

__all__ = ["_afternoon", "sign_in", "site"]  # fixtures

EVENING = "2026-11-19T02:20:00Z"
"""20:20 in Chicago, forty minutes before her minute."""

AFTER = "2026-11-19T03:10:00Z"
WIDTH, HEIGHT, LEAST_TARGET = 320, 640, 44


class _Quiet(WSGIRequestHandler):
    def log_message(self, *_: Any) -> None:
        pass


class _Server(ThreadingMixIn, WSGIServer):
    daemon_threads = True
    block_on_close = True


@pytest.fixture
def address(site: Desk, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """The pages, served from this process, in the evening of a night that stands still until a test moves it."""
    clock_of(monkeypatch)(EVENING)
    server = make_server("localhost", 0, get_wsgi_application(), server_class=_Server, handler_class=_Quiet)
    running = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05})
    running.start()
    yield f"http://localhost:{server.server_port}"
    server.shutdown()
    running.join()
    server.server_close()
    connections.close_all()


Open = Callable[..., Page]


@pytest.fixture
def phone(browser: Browser, address: str) -> Iterator[Open]:
    """Phones: the clock of each is the server's, and its zone the clinic's, unless a test says otherwise."""
    opened: list[BrowserContext] = []

    def new(*, ahead: float = 0, zone: str = "America/Chicago", at: str = EVENING, **more: Any) -> Page:
        options: dict[str, Any] = {"color_scheme": "light", "has_touch": True, **more}
        context = browser.new_context(
            base_url=address, viewport={"width": WIDTH, "height": HEIGHT}, timezone_id=zone, **options
        )
        opened.append(context)
        off = (dt.datetime.fromisoformat(at) - dt.datetime.now(dt.UTC)).total_seconds() + ahead
        context.add_init_script(f"Date.now = ((real) => () => real() + {off * 1000:.0f})(Date.now);")
        page = context.new_page()
        page.set_default_timeout(15_000)
        return page

    yield new
    for context in opened:
        context.close()


def enter(page: Page, link: str) -> None:
    page.goto(link)
    page.click("button.main")
    page.wait_for_url("**/t/")


def reports(site: Desk) -> list[e.Confirmed]:
    every = (one.event for one in recorded(site.store, case_stream(CASE)))
    return [one for one in every if isinstance(one, e.Confirmed)]


def until(page: Page, true: str) -> None:
    """Wait for it; the policy of the pages lets nothing be evaluated inside them, the browser itself does it."""
    for _ in range(150):
        if page.evaluate(true):
            return
        page.wait_for_timeout(100)
    raise AssertionError(true)


def answer_boxes(page: Page) -> None:
    """Every box is as on her page."""
    while "/boxes/" in page.url:
        before = page.url
        for one in page.locator("input[value=yes]").all():
            one.check()
        page.click("button.main")
        page.wait_for_url(re.compile(f"^(?!{re.escape(before)}$)"))


def fill_report(page: Page, minute: str = "02") -> None:
    page.select_option("#hour", "21")
    page.select_option("#minute", minute)
    page.check("input[name=how][value=all]")


def wrong_with(page: Page) -> list[str]:
    """What axe finds or cannot decide, what runs over the edge, and every target under 44 px.

    axe takes the numbers on the drawn barrel for a part of a picture: their contrast is measured in a test of its own.
    """
    page.evaluate(AXE)
    axe = page.evaluate("rules => axe.run({exclude: [['#barrel text']]}, rules)", RULES)
    found = [f"{rule['id']}: {node['html'][:120]}" for rule in axe["violations"] for node in rule["nodes"]]
    found += [rule["id"] for rule in axe["incomplete"]]
    if page.evaluate("document.documentElement.scrollWidth > document.documentElement.clientWidth"):
        found.append("it runs over the edge")
    small = page.evaluate(
        """least => [...document.querySelectorAll('.choice, .call, .button, button, summary, select, textarea, input')]
            .filter(one => one.offsetParent && !['hidden', 'radio'].includes(one.type))
            .filter(one => { const box = one.getBoundingClientRect(); return box.height < least || box.width < least; })
            .map(one => one.outerHTML.slice(0, 80))""",
        LEAST_TARGET,
    )
    return found + [f"small: {one}" for one in small]


# From the link to "stored"


@pytest.mark.parametrize(("scheme", "script"), [("light", True), ("dark", False)], ids=["script", "no script"])
def test_from_the_link_to_stored(
    phone: Open, sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch, scheme: str, script: bool
) -> None:
    link, _ = give(sign_in)
    page = phone(color_scheme=scheme, java_script_enabled=script)
    complaints: list[str] = []
    page.on("console", lambda said: complaints.append(said.text) if said.type in ("error", "warning") else None)
    page.on("pageerror", lambda fault: complaints.append(str(fault)))
    enter(page, link)
    assert re.search(r"In (40|39) min", page.locator(".card").first.inner_text())
    page.locator("a.main").first.click()
    answer_boxes(page)
    steps = 0
    while "/done/" not in page.url:
        assert page.locator(".do:visible").inner_text()
        assert not script or page.locator("img.drawing").evaluate("one => one.decode().then(() => one.naturalWidth)")
        page.locator("nav.steps a.main").click()
        steps += 1
    assert steps > 40
    clock_of(monkeypatch)(AFTER)
    fill_report(page)
    page.locator("form button.main").click()
    page.wait_for_selector("h1:text-is('Stored. The clinic has your answer.')")
    assert [one.reported for one in reports(site)] == ["2026-11-18 21:02"]
    assert "9:02 pm (21:02)" in page.locator("main").inner_text()
    page.locator("a.main").click()
    assert "Give 2 of 2" in page.locator(".where").inner_text()
    assert complaints == []


@pytest.mark.parametrize(("scheme", "size"), [("light", "plain"), ("dark", "large")])
def test_nothing_stands_in_her_way(phone: Open, sign_in: SignIn, site: Desk, scheme: str, size: str) -> None:
    link, code = give(sign_in, code=True)
    practice, _ = give(sign_in, kind="practice")
    page = phone(color_scheme=scheme)
    found: list[tuple[str, list[str]]] = []

    def looked(name: str) -> None:
        found.append((name, wrong_with(page)))

    page.goto(link)
    looked("door")
    page.fill("#code", "0000" if code != "0000" else "1111")
    page.click("button.main")
    looked("wrong code")
    page.fill("#code", code)
    page.click("button.main")
    page.goto(f"/t/?type={size}")
    looked("home")
    page.locator("summary:visible").click()
    looked("everything on the page")
    page.goto("/t/practice/2/")
    looked("practice")
    page.locator("[data-by='10']").click()
    page.locator("button.main").click()
    looked("missed")
    page.goto("/t/1/boxes/")
    looked("boxes")
    answer_boxes(page)
    looked("first step")
    page.locator("summary:visible").first.click()
    looked("stuck")
    page.locator("details[open] form button").click()
    page.wait_for_selector(".said")
    looked("asked for a call")
    page.goto(f"{page.url}?move=1")
    looked("moving")
    for leg, number in _waiting(site):
        page.goto(f"/t/steps/{leg}/{number}/")
        looked("waiting")
    page.goto("/t/1/done/?wrong=1")
    looked("report")
    page.locator("form button.main").click()
    page.wait_for_selector("h1:text-is('Stored. The clinic has your answer.')")
    looked("asked again")
    page.goto(UNKNOWN)
    looked("nowhere")
    page.goto(practice)
    page.click("button.main")
    looked("invented")
    assert [one for one in found if one[1]] == []
    assert len(found) >= 16


def _waiting(site: Desk) -> list[tuple[int, int]]:
    from tests.web.hers import walk_of

    walk = walk_of(site)
    legs = enumerate(walk.legs, 1)
    return [(number, one.number) for number, leg in legs for one in walk.steps(leg) if one.waits][:1]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_barrel_is_drawn_in_full_contrast(phone: Open, sign_in: SignIn, scheme: str) -> None:
    """Contrast by relative luminance (WCAG 2.2, definition): numbers and lines on the barrel's own ground, 7 to 1 at least."""
    page = phone(color_scheme=scheme)
    enter(page, give(sign_in)[0])
    page.goto("/t/practice/2/")

    def colour(wanted: str, name: str) -> float:
        found = page.locator(wanted).first.evaluate(f"one => getComputedStyle(one)['{name}']")
        parts = [int(one) / 255 for one in re.findall(r"\d+", found)[:3]]
        linear = [one / 12.92 if one <= 0.04045 else ((one + 0.055) / 1.055) ** 2.4 for one in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    ground = colour("#barrel", "background-color")
    for wanted, name in (("#barrel text", "fill"), ("#barrel .line", "stroke"), ("#barrel .ring", "fill")):
        assert (ground + 0.05) / (colour(wanted, name) + 0.05) >= 7


def test_a_no_ends_at_the_number(phone: Open, sign_in: SignIn) -> None:
    page = phone()
    enter(page, give(sign_in)[0])
    page.goto("/t/1/boxes/")
    page.locator("input[value=no]").first.check()
    page.click("button.main")
    page.wait_for_selector("h1:text-is('Stop. Open nothing. Call.')")
    assert page.locator("main a.call").get_attribute("href") == "tel:+15550101"
    assert page.locator("main a.main").count() == 0
    assert wrong_with(page) == []


# A bad network


def test_an_answer_that_is_lost_after_it_was_stored(phone: Open, sign_in: SignIn, site: Desk) -> None:
    page = phone()
    enter(page, give(sign_in)[0])
    page.goto("/t/1/done/")
    fill_report(page)

    def lose(route: Route) -> None:
        route.fetch(max_redirects=0)
        route.abort()

    page.route("**/t/1/done/", lose)
    page.locator("form button.main").click()
    page.wait_for_selector("#unsent:not([hidden])")
    assert len(reports(site)) == 1, "it is stored; she cannot know"
    words = page.locator("main").inner_text()
    assert "Not stored yet" in words
    assert "If it is given, it counts. Do not give it again." in words
    assert "Stored." not in words
    assert page.locator("#unsent a.call").is_visible()
    assert page.evaluate("document.activeElement.id") == "unsent"
    assert page.input_value("#minute") == "02"
    page.unroute("**/t/1/done/")
    page.locator("form button.main").click()
    page.wait_for_selector("h1:text-is('Stored. The clinic has your answer.')")
    assert len(reports(site)) == 1


def test_an_answer_that_is_lost_without_a_script(phone: Open, sign_in: SignIn, site: Desk) -> None:
    page = phone(java_script_enabled=False)
    enter(page, give(sign_in)[0])
    page.goto("/t/1/done/")
    fill_report(page)

    def lose(route: Route) -> None:
        if route.request.method != "POST":
            route.continue_()
            return
        route.fetch(max_redirects=0)
        route.abort()

    page.route("**/t/1/done/", lose)
    page.locator("form button.main").click()
    page.wait_for_timeout(500)
    assert len(reports(site)) == 1
    page.unroute("**/t/1/done/")
    page.goto("/t/1/done/")
    assert "Stored. The clinic has your answer." in page.locator("main").inner_text()
    assert len(reports(site)) == 1


def test_without_a_network_nothing_is_lost_and_nothing_is_said_to_be_stored(
    phone: Open, sign_in: SignIn, site: Desk
) -> None:
    page = phone()
    enter(page, give(sign_in)[0])
    page.goto("/t/1/done/")
    fill_report(page)
    page.context.set_offline(True)
    for _ in range(2):
        page.locator("form button.main").click()
        page.wait_for_selector("#unsent:not([hidden])")
    assert reports(site) == []
    assert page.input_value("#hour") == "21"
    page.context.set_offline(False)
    page.locator("form button.main").click()
    page.wait_for_selector("h1:text-is('Stored. The clinic has your answer.')")
    assert len(reports(site)) == 1


def test_a_phone_too_old_to_end_a_request_by_a_clock_still_sends(phone: Open, sign_in: SignIn, site: Desk) -> None:
    """AbortSignal.timeout came to browsers in 2022 (MDN, "AbortSignal: timeout() static method"): an older one has none."""
    page = phone()
    page.add_init_script("delete AbortSignal.timeout;")
    enter(page, give(sign_in)[0])
    page.goto("/t/1/done/")
    assert page.evaluate("AbortSignal.timeout === undefined")
    fill_report(page)
    page.locator("form button.main").click()
    page.wait_for_selector("h1:text-is('Stored. The clinic has your answer.')")
    assert len(reports(site)) == 1


def test_on_a_slow_network_it_says_that_it_is_not_stored_yet(phone: Open, sign_in: SignIn, site: Desk) -> None:
    page = phone()
    enter(page, give(sign_in)[0])
    page.goto("/t/1/done/")
    fill_report(page)
    network = page.context.new_cdp_session(page)
    slow = {"offline": False, "latency": 1_500, "downloadThroughput": 30_000, "uploadThroughput": 8_000}
    network.send("Network.emulateNetworkConditions", slow)
    button = page.locator("form button.main")
    button.click()
    assert button.inner_text() == "Sending. Not stored yet."
    for _ in range(4):
        button.click(force=True)
    page.wait_for_selector("h1:text-is('Stored. The clinic has your answer.')", timeout=30_000)
    assert len(reports(site)) == 1


def test_two_windows_of_one_phone_store_one_report(phone: Open, sign_in: SignIn, site: Desk) -> None:
    page = phone()
    enter(page, give(sign_in)[0])
    other = page.context.new_page()
    for one in (page, other):
        one.goto("/t/1/done/")
        fill_report(one)
    for one in (page, other):
        one.locator("form button.main").click()
        one.wait_for_selector("h1:text-is('Stored. The clinic has your answer.')")
    assert len(reports(site)) == 1


# Hands: keys, a finger


def reach(page: Page, wanted: str) -> Locator:
    """Tab to it; it has to be shown that the focus is there."""
    target = page.locator(wanted).first
    page.evaluate("document.activeElement.blur()")
    for _ in range(80):
        page.keyboard.press("Tab")
        if target.evaluate("one => one === document.activeElement"):
            ring = target.evaluate(
                "one => [one, one.closest('.choice')].some(it => it && getComputedStyle(it).outlineStyle !== 'none')"
            )
            assert ring, f"nothing shows that {wanted} has the focus"
            return target
    raise AssertionError(f"{wanted} is not reached by keyboard")


def press(page: Page, wanted: str) -> None:
    reach(page, wanted)
    with page.expect_navigation():
        page.keyboard.press("Enter")


def test_by_keyboard_alone(phone: Open, sign_in: SignIn, site: Desk) -> None:
    page = phone()
    page.goto(give(sign_in)[0])
    press(page, "button.main")
    press(page, "a[href='/t/practice/1/']")
    reach(page, "#barrel")
    for _ in range(8):
        page.keyboard.press("PageDown")
    page.keyboard.press("ArrowDown")
    assert page.locator("#stands").inner_text() == "The ring is 1 line past number 80."
    page.keyboard.press("ArrowUp")
    barrel = page.locator("#barrel")
    assert [barrel.get_attribute(f"aria-{one}") for one in ("valuenow", "valuemin", "valuemax", "valuetext")] == [
        "80",
        "0",
        "100",
        "The ring is at number 80.",
    ]
    press(page, "form button.main")
    assert "Yes. You stopped at mark 80." in page.locator("main").inner_text()
    press(page, "footer a[href='/t/']")
    press(page, "a.main")
    while "/boxes/" in page.url:
        for name in {one.get_attribute("name") for one in page.locator("input[value=yes]").all()}:
            reach(page, f"input[name='{name}'][value=yes]")
            page.keyboard.press("Space")
            assert page.locator(f"input[name='{name}'][value=yes]").is_checked()
        press(page, "form button.main")
    first = page.url
    reach(page, "details:not([hidden]) summary")
    page.keyboard.press("Enter")
    press(page, "details[open] form button")
    page.wait_for_selector(".said")
    assert page.url == first
    for _ in range(3):
        press(page, "nav.steps a.main")
    page.goto("/t/1/done/")
    for name, keys in (("#hour", "9 p"), ("#minute", "07")):
        reach(page, name)
        page.keyboard.type(keys)
    reach(page, "input[name=how][value=all]")
    page.keyboard.press("Space")
    reach(page, "form button.main")
    page.keyboard.press("Enter")
    page.wait_for_selector("h1:text-is('Stored. The clinic has your answer.')")
    assert [one.reported for one in reports(site)] == ["2026-11-18 21:07"]


def test_the_plunger_follows_a_finger_and_stops_on_printed_lines(phone: Open, sign_in: SignIn) -> None:
    page = phone()
    enter(page, give(sign_in)[0])
    page.goto("/t/practice/2/")
    page.locator("#barrel").scroll_into_view_if_needed()
    grip = page.locator("#plunger .grip").bounding_box()
    barrel = page.locator("#barrel").bounding_box()
    assert grip is not None
    assert barrel is not None
    x, y, line = grip["x"] + 20, grip["y"] + grip["height"] / 2, barrel["height"] / 600 * 4.8
    page.mouse.move(x, y)
    page.mouse.down()
    stood = set()
    for moved in range(202):
        page.mouse.move(x, y + moved / 10 * line)
        stood.add(page.input_value("#at"))
    page.mouse.up()
    assert stood == {str(one) for one in range(21)}
    page.mouse.move(x, y + 50 * line)
    assert page.input_value("#at") == "20", "let go, it stays"
    page.click("form button.main")
    assert "Yes. You stopped at mark 20." in page.locator("main").inner_text()


def test_the_source_and_the_live_page_hold_no_answer(phone: Open, sign_in: SignIn) -> None:
    page = phone()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    enter(page, give(sign_in)[0])
    asked.clear()
    page.goto("/t/practice/2/")
    page.locator("[data-by='10']").click()
    page.locator("[data-by='10']").click()
    source = page.content().split("<footer")[0]
    for shown in ("mark 20", "0.2 mL", "1,000"):
        assert shown not in source
    names = {re.sub(r"^http://localhost:\d+", "", one) for one in asked}
    assert names <= {"/t/practice/2/", "/static/hourmark/phone.css", "/static/hourmark/phone.js", "/t/now/"}


# Motion, time, size


@pytest.mark.parametrize(("wish", "shown"), [("reduce", "still"), ("no-preference", "moving")])
def test_who_wants_no_motion_sees_stills(phone: Open, sign_in: SignIn, wish: str, shown: str) -> None:
    page = phone(reduced_motion=wish)
    enter(page, give(sign_in)[0])
    page.locator("a.main").first.click()
    answer_boxes(page)
    assert page.locator("img.drawing").evaluate("one => one.currentSrc").endswith("/still.svg")
    page.locator("a[href='?move=1']").click()
    page.wait_for_url("**move=1")
    drawing = page.locator("img.drawing")
    assert drawing.evaluate("one => one.decode().then(() => one.currentSrc)").endswith(f"/{shown}.svg")


@pytest.mark.parametrize(
    ("ahead", "noticed"), [(0, False), (45, False), (-45, False), (90, True), (-90, True), (3600, True)]
)
def test_a_wrong_clock_is_noticed(phone: Open, sign_in: SignIn, ahead: float, noticed: bool) -> None:
    page = phone(ahead=ahead)
    enter(page, give(sign_in)[0])
    until(page, "document.querySelector('.left').textContent")
    assert page.locator("#clock-wrong").is_visible() is noticed
    assert page.locator("#zone-differs").is_hidden()
    assert page.locator(".left").first.inner_text() in ("In 40 min", "In 39 min"), "the countdown is the server's"


def test_another_zone_is_noticed(phone: Open, sign_in: SignIn) -> None:
    page = phone(zone="America/New_York")
    enter(page, give(sign_in)[0])
    page.wait_for_selector("#zone-differs:not([hidden])")
    assert page.locator("#clock-wrong").is_hidden()
    assert wrong_with(page) == []


def test_a_clock_that_is_set_while_the_page_is_open_counts_for_nothing(phone: Open, sign_in: SignIn) -> None:
    page = phone()
    enter(page, give(sign_in)[0])
    until(page, "document.querySelector('.left').textContent")
    page.evaluate("Date.now = ((real) => () => real() + 1200000)(Date.now)")
    page.wait_for_selector("#clock-wrong:not([hidden])")
    assert page.locator(".left").first.inner_text() in ("In 40 min", "In 39 min")
    page.route("**/t/now/", lambda route: route.abort())
    page.evaluate("Date.now = ((real) => () => real() - 3000000)(Date.now)")
    page.wait_for_selector("#not-checked:not([hidden])")
    assert page.locator(".left").first.inner_text() == "", "no time is shown that may be wrong"


def first_step(page: Page) -> None:
    page.goto("/t/")
    page.locator("a.main").first.click()
    answer_boxes(page)


def test_a_step_that_stays_open_changes_by_itself_at_its_minute_and_at_the_end_of_its_window(
    phone: Open, sign_in: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Her minute is 21:00, the order's window ends at 22:00, mixing begins at 20:40: nothing is touched, and nothing is loaded anew."""
    link, _ = give(sign_in)
    asked, told = "Late, and nothing given yet?", "It is past your time, 9:00 pm (21:00)."
    for moment, before, after, at_home in (
        ("2026-11-19T02:39:58Z", "Do not mix before 8:40 pm", "", False),
        ("2026-11-19T02:59:58Z", "", asked, True),
        ("2026-11-19T03:59:58Z", asked, told, True),
    ):
        clock_of(monkeypatch)(moment)
        page = phone(at=moment)
        enter(page, link)
        changes(page, before, after) if at_home else None
        first_step(page)
        changes(page, before, after)
        assert wrong_with(page) == []


def test_the_step_of_waiting_says_when_the_wait_is_over(
    phone: Open, sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    moment = "2026-11-19T02:59:58Z"
    clock_of(monkeypatch)(moment)
    page = phone(at=moment)
    enter(page, give(sign_in)[0])
    first_step(page)
    ((leg, number),) = _waiting(site)
    page.goto(f"/t/steps/{leg}/{number}/")
    changes(page, "WAIT: do not inject before 9:00 pm", "It is 9:00 pm (21:00) or later. The wait is over.")
    assert "WAIT" not in page.locator("main").inner_text()
    clock_of(monkeypatch)(AFTER)
    page.reload()
    assert "The wait is over." in page.locator("main").inner_text()
    assert "The clock says" not in page.locator("main").inner_text()
    assert wrong_with(page) == []


def changes(page: Page, before: str, after: str) -> None:
    """What stands there two seconds before a moment, and what a second after it."""
    page.reload()
    page.evaluate("window.left_alone = true")
    shown = page.locator("main").inner_text()
    assert before in shown, page.url
    assert not after or after not in shown, page.url
    page.wait_for_timeout(3_000)
    shown = page.locator("main").inner_text()
    assert not before or before not in shown, page.url
    assert after in shown, page.url
    assert page.evaluate("window.left_alone") is True


def test_without_a_script_a_page_that_is_read_late_says_what_is_true(phone: Open, sign_in: SignIn) -> None:
    page = phone(java_script_enabled=False)
    enter(page, give(sign_in)[0])
    words = page.locator("main").inner_text()
    assert "Is it past 9:00 pm (21:00), and nothing is given yet? Call before you inject." in words
    assert "In 40 min, counted at 8:20 pm (20:20)" in words
    assert "It is past your time" not in words
    first_step(page)
    words = page.locator("main").inner_text()
    assert "Is it past 9:00 pm (21:00), and nothing is given yet?" in words
    assert "Do not mix before 8:40 pm (20:40)." in words


def test_with_a_script_that_sentence_does_not_stand_in_her_way(phone: Open, sign_in: SignIn) -> None:
    page = phone()
    enter(page, give(sign_in)[0])
    until(page, "!document.querySelector('.left').textContent.includes('counted')")
    assert "Is it past" not in page.locator("main").inner_text()


QUESTION = "Is it past 9:00 pm (21:00), and nothing is given yet? Call before you inject."


def test_where_the_script_does_not_arrive_the_late_question_stands_there(phone: Open, sign_in: SignIn) -> None:
    """Scripts are on, the file is not there: nothing of <noscript> is shown then."""
    page = phone()
    page.route("**/phone.js", lambda route: route.abort())
    enter(page, give(sign_in)[0])
    assert page.locator("main").inner_text().count(QUESTION) == 2
    page.goto("/t/1/boxes/")
    assert QUESTION in page.locator("main").inner_text()
    first_step(page)
    assert page.locator("main").inner_text().count(QUESTION) == 1
    assert wrong_with(page) == []


def test_when_the_times_of_a_page_stop_running_the_late_question_comes_back(phone: Open, sign_in: SignIn) -> None:
    page = phone()
    enter(page, give(sign_in)[0])
    first_step(page)
    until(page, "!document.querySelector('.left').textContent.includes('counted')")
    assert QUESTION not in page.locator("main").inner_text()
    page.route("**/t/now/", lambda route: route.abort())
    page.evaluate("dispatchEvent(new Event('online'))")
    page.wait_for_selector("#not-checked:not([hidden])")
    assert QUESTION in page.locator("main").inner_text()
    page.unroute("**/t/now/")
    page.evaluate("dispatchEvent(new Event('online'))")
    page.wait_for_selector("#not-checked", state="hidden")
    assert QUESTION not in page.locator("main").inner_text()


@pytest.mark.parametrize("script", [True, False], ids=["script", "no script"])
def test_a_print_says_whom_to_ring_and_asks_whether_it_is_late_and_has_no_step(
    phone: Open, sign_in: SignIn, script: bool
) -> None:
    page = phone(java_script_enabled=script)
    enter(page, give(sign_in)[0])
    for at_a_step in (False, True):
        if at_a_step:
            first_step(page)
        if script:
            until(page, "!document.querySelector('.left').textContent.includes('counted')")
        page.emulate_media(media="print")
        words = page.locator("body").inner_text()
        assert QUESTION in words
        assert "Call +1 555 0101" in words
        assert "Severe symptoms: emergency services first." in words
        assert "Checked at 8:20 pm (20:20)." in words
        assert not re.search(r"In \d+ min|Get ready|Do not mix|Step \d|mark \d", words)
        page.emulate_media(media="screen")


def test_a_minute_that_hangs_on_the_first_is_not_said_to_have_come_by_a_page_that_stays_open(
    phone: Open, sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    counted_from_the_first(monkeypatch)
    moment = "2026-11-19T07:44:58Z"
    clock_of(monkeypatch)(moment)
    page = phone(at=moment)
    enter(page, give(sign_in, TWO_TIMES)[0])
    page.goto("/t/2/boxes/")
    answer_boxes(page)
    page.goto(step_of_waiting(site, TWO_TIMES, 2))
    changes(page, "WAIT: do not inject before 1:45 am", "This time may have moved. Call first.")
    words = page.locator("article").inner_text()
    assert PROVISIONAL in words
    assert "Call +1 555 0101" in words
    words = page.locator("main").inner_text()
    assert words.count(PROVISIONAL) == 1
    assert not re.search(r"The wait is over|The time is NOW|It is past your time", words)
    assert "Late, and nothing given yet?" in words
    assert wrong_with(page) == []


def test_without_a_window_a_page_that_stays_open_asks_from_the_next_minute_on(
    phone: Open, sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    without_window(monkeypatch)
    link, _ = give(sign_in)
    over = "It is 9:00 pm (21:00) or later. The wait is over."
    ring = "Your time was 9:00 pm (21:00). Not given yet? Call before you inject."
    for moment, before, after in (
        ("2026-11-19T02:59:58Z", "WAIT: do not inject before 9:00 pm", over),
        ("2026-11-19T03:00:58Z", over, ring),
    ):
        clock_of(monkeypatch)(moment)
        page = phone(at=moment)
        enter(page, link)
        changes(page, "", ring) if after == ring else None
        first_step(page)
        page.goto(step_of_waiting(site, CASE, 1))
        changes(page, before, after)
        words = page.locator("main").inner_text()
        assert words.count(ring) == (after == ring)
        assert "It is past your time" not in words
        assert wrong_with(page) == []


def noted(site: Desk) -> None:
    said = ("America/Chicago", "her sister", "she saw the clock", "all", "nothing")
    do(site, Confirm(CASE, "agonist", "2026-11-18 21:02", *said), "kowal", AFTER)


@pytest.mark.parametrize("path", ["/t/1/boxes/", "/t/1/done/"])
def test_a_form_in_use_is_not_lost_when_somebody_notes_an_injection(
    phone: Open, sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch, path: str
) -> None:
    page = phone(at=AFTER)
    clock_of(monkeypatch)(AFTER)
    enter(page, give(sign_in)[0])
    page.goto(path)
    field = page.locator("input[type=radio]").last
    field.check()
    page.evaluate("window.left_alone = true")
    noted(site)
    page.evaluate("dispatchEvent(new Event('online'))")
    page.wait_for_selector("#changed:not([hidden])")
    assert page.evaluate("window.left_alone") is True
    assert field.is_checked()
    assert "Look before you give anything." in page.locator("#changed").inner_text()
    assert page.locator("#not-checked").is_hidden()
    assert wrong_with(page) == []
    page.locator("#changed a").click()
    page.wait_for_selector("text=The clinic has noted:")


def test_an_answer_to_practice_is_not_sent_again_by_itself(phone: Open, sign_in: SignIn, site: Desk) -> None:
    page = phone()
    enter(page, give(sign_in)[0])
    page.goto("/t/practice/2/")
    page.locator("[data-by='10']").click()
    page.locator("form button.main").click()
    page.wait_for_selector("text=Not that line.")
    sent: list[str] = []
    page.on("request", lambda request: sent.append(request.method))
    page.evaluate("window.left_alone = true")
    noted(site)
    page.evaluate("dispatchEvent(new Event('online'))")
    page.wait_for_selector("#changed:not([hidden])")
    assert page.evaluate("window.left_alone") is True
    do(site, VoidSheet(CASE, 1, "the slot may move"), "kowal", AFTER)
    page.evaluate("dispatchEvent(new Event('online'))")
    page.wait_for_selector("h1:text-is('This page does not count')")
    assert sent
    assert set(sent) == {"GET"}


def test_what_was_stored_by_a_void_page_stays_on_the_screen(
    phone: Open, sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = phone(at=AFTER)
    clock_of(monkeypatch)(AFTER)
    enter(page, give(sign_in)[0])
    page.goto("/t/1/done/")
    fill_report(page)
    do(site, VoidSheet(CASE, 1, "the slot may move"), "kowal", AFTER)
    page.locator("form button.main").click()
    page.wait_for_selector("h1:text-is('Stored. The clinic has your answer.')")
    page.evaluate("window.left_alone = true")
    with page.expect_response("**/t/now/") as asked:
        page.evaluate("dispatchEvent(new Event('online'))")
    assert asked.value.status == 404
    page.wait_for_timeout(1_000)
    assert page.evaluate("window.left_alone") is True
    assert "Your answer is stored all the same." in page.locator("main").inner_text()
    assert len(reports(site)) == 1


def test_a_step_that_stays_open_learns_that_somebody_has_noted_it_as_given(
    phone: Open, sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = phone(at=AFTER)
    clock_of(monkeypatch)(AFTER)
    enter(page, give(sign_in)[0])
    first_step(page)
    said = ("America/Chicago", "her sister", "she saw the clock", "all", "nothing")
    do(site, Confirm(CASE, "agonist", "2026-11-18 21:02", *said), "kowal", AFTER)
    page.evaluate("dispatchEvent(new Event('online'))")
    page.wait_for_selector("text=The clinic has noted that this one is given. Do not give it again.")


def test_a_practice_link_opened_on_the_same_phone_leaves_her_page_where_it_is(phone: Open, sign_in: SignIn) -> None:
    page = phone()
    enter(page, give(sign_in)[0])
    page.goto(give(sign_in, kind="practice")[0])
    page.click("button.main")
    page.wait_for_url("**/t/practice/")
    assert "This number is invented." in page.locator("main").inner_text()
    page.goto("/t/")
    assert "Medicine 1" in page.locator("main").inner_text()
    page.goto("/t/practice/2/")
    assert "How much does your page say" in page.locator("main").inner_text()


def test_a_page_that_stays_open_learns_that_it_is_void(
    phone: Open, sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = phone()
    enter(page, give(sign_in)[0])
    until(page, "document.querySelector('.left').textContent")
    clock_of(monkeypatch)("2026-11-19T02:21:00Z")
    page.evaluate("dispatchEvent(new Event('online'))")
    until(page, "document.getElementById('checked').textContent.includes('8:21 pm')")
    do(site, VoidSheet(CASE, 1, "the slot may move"), "kowal", work.instant())
    page.evaluate("dispatchEvent(new Event('online'))")
    page.wait_for_selector("h1:text-is('This page does not count')")


def test_a_report_that_is_being_written_is_not_lost_when_the_page_becomes_void(
    phone: Open, sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = phone()
    enter(page, give(sign_in)[0])
    clock_of(monkeypatch)(AFTER)
    page.goto("/t/1/done/")
    fill_report(page)
    do(site, VoidSheet(CASE, 1, "the slot may move"), "kowal", AFTER)
    page.evaluate("dispatchEvent(new Event('online'))")
    page.wait_for_selector("#void-now:not([hidden])")
    assert page.input_value("#minute") == "02"
    page.locator("form button.main").click()
    page.wait_for_selector("h1:text-is('Stored. The clinic has your answer.')")
    assert "Your page does not count any more." in page.locator("main").inner_text()
    assert [one.doubts for one in reports(site)] == [("sheet-void",)]


def test_the_seconds_of_a_step_run(phone: Open, sign_in: SignIn, site: Desk) -> None:
    from tests.web.hers import walk_of

    walk = walk_of(site)
    legs = enumerate(walk.legs, 1)
    leg, number, seconds = next(
        (place, one.number, one.seconds) for place, leg in legs for one in walk.steps(leg) if one.seconds
    )
    page = phone()
    enter(page, give(sign_in)[0])
    page.locator("a.main").first.click()
    answer_boxes(page)
    page.goto(f"/t/steps/{leg}/{number}/")
    button = page.locator("button[data-seconds]")
    assert button.inner_text() == f"Time {seconds} seconds"
    button.evaluate("one => { one.dataset.seconds = '2' }")
    button.click()
    assert re.fullmatch(r"[12] seconds left", button.inner_text())
    until(
        page,
        "document.getElementById('timer-said').textContent === '{seconds} seconds are over. Go on.'".replace(
            "{seconds}", str(seconds)
        ),
    )


def test_at_twice_the_size_nothing_is_cut_off(phone: Open, sign_in: SignIn) -> None:
    """WCAG 1.4.4 and 1.4.10: text at 200 %, at 320 px."""
    page = phone()
    enter(page, give(sign_in)[0])
    page.locator("a.main").first.click()
    answer_boxes(page)
    step = page.url
    for path in ("/t/", step, "/t/1/done/", "/t/practice/2/", UNKNOWN):
        page.goto(path)
        page.evaluate("document.documentElement.style.fontSize = '200%'")
        assert not page.evaluate("document.documentElement.scrollWidth > document.documentElement.clientWidth"), path


def test_the_nurses_page_of_links_stands_in_nobodys_way(browser: Browser, address: str, sign_in: SignIn) -> None:
    for width, scheme in ((320, "light"), (1280, "dark")):
        context = browser.new_context(base_url=address, viewport={"width": width, "height": 800}, color_scheme=scheme)  # type: ignore[arg-type]
        page = context.new_page()
        page.goto("/accounts/login/")
        page.fill("#id_login", "kowal")
        page.fill("#id_password", "a long enough password")
        page.click("button:text-is('Sign in')")
        page.wait_for_selector("header nav")
        page.goto(f"/cases/{CASE}/link/")
        assert looked_at(page) == []
        page.check("#code")
        page.click("button:text-is('Make the link')")
        page.wait_for_selector("#secret")
        assert looked_at(page) == []
        context.close()


def test_the_clock_of_the_tests_is_the_one_that_is_served(address: str) -> None:
    assert work.instant() == EVENING > NOW


# And the nurse's board beside it


def test_what_she_sends_stands_on_the_nurses_board_within_five_seconds(
    phone: Open, browser: Browser, address: str, sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    link, _ = give(sign_in)
    desk = browser.new_context(base_url=address, viewport={"width": WIDTH, "height": HEIGHT}, color_scheme="dark")
    nurse = sign_in("kowal")
    desk.add_cookies([{"name": name, "value": one.value, "url": address} for name, one in nurse.cookies.items()])
    board = desk.new_page()
    board.goto("/night/")
    row = board.locator(f"#turn-{CASE}-agonist")
    page = phone()
    enter(page, link)
    page.locator("a.main").first.click()
    answer_boxes(page)
    expect(row).to_contain_text("MIXING", timeout=5_000)
    while "/done/" not in page.url:
        page.locator("nav.steps a.main").click()
    clock_of(monkeypatch)(AFTER)
    fill_report(page)
    page.locator("form button.main").click()
    page.wait_for_selector("h1:text-is('Stored. The clinic has your answer.')")
    expect(row).to_contain_text("GIVEN 21:02 · 1 of 2 given", timeout=5_000)
    assert "UNKNOWN SINCE 21:00" in board.locator(f"#turn-{CASE}-hcg").inner_text()
    desk.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_once_she_is_too_late_the_call_is_the_first_thing_to_do_and_not_the_start(
    phone: Open, sign_in: SignIn, monkeypatch: pytest.MonkeyPatch, scheme: str
) -> None:
    """The order's window of K-103 ends at 22:00, which is 04:00 in UTC: the filled button beside her minute is then the number."""
    link = give(sign_in)[0]
    for at, late in (("2026-11-19T03:59:00Z", False), ("2026-11-19T04:01:00Z", True)):
        clock_of(monkeypatch)(at)
        page = phone(at=at, color_scheme=scheme)
        enter(page, link)
        start, number = page.locator(".card .button.main").first, page.locator(".card .alarm .call").first
        expect(number).to_be_visible(visible=late)
        is_outlined = "one => getComputedStyle(one).backgroundColor === 'rgba(0, 0, 0, 0)'"
        assert start.evaluate(is_outlined) is late
        assert number.evaluate(is_outlined) is False
        assert looked_at(page) == []


# One hand


@pytest.mark.parametrize(
    ("width", "height", "scheme", "script"),
    [
        (360, 740, "light", True),
        (360, 740, "dark", True),
        (320, 640, "light", True),
        (320, 640, "dark", True),
        (320, 640, "light", False),
    ],
)
def test_next_is_in_reach_without_moving_the_page_and_lies_over_nothing_for_good(
    phone: Open, sign_in: SignIn, width: int, height: int, scheme: str, script: bool
) -> None:
    """Except where a part begins, and where she waits for her minute: there it comes after all that is to be read first."""
    page = phone(color_scheme=scheme, java_script_enabled=script)
    page.set_viewport_size({"width": width, "height": height})
    enter(page, give(sign_in)[0])
    first_step(page)
    steps = below = 0
    while "/done/" not in page.url:
        button = page.locator("nav.steps a.main")
        box = button.bounding_box()
        assert box is not None
        assert box["height"] >= LEAST_TARGET
        if box["y"] + box["height"] > height:
            below += 1
            assert page.locator("nav.at-hand").count() == 0
        elif steps % 8 == 1:
            if script:
                assert wrong_with(page) == []
            for one in (".do:visible", ".see:visible", "img.drawing", "details >> nth=-1"):
                page.locator(one).first.scroll_into_view_if_needed()
            page.evaluate("scrollTo(0, document.documentElement.scrollHeight)")
            last, bar = page.locator("footer").bounding_box(), page.locator("nav.steps").bounding_box()
            assert last is not None
            assert bar is not None
            assert bar["y"] + bar["height"] <= last["y"], "at the end of the page it stands in its own place"
        steps += 1
        button.click()
    assert (steps > 40, below) == (True, 3)  # where each part begins, of which giving begins with the wait


def test_on_a_low_screen_next_does_not_lie_over_the_page(phone: Open, sign_in: SignIn) -> None:
    page = phone()
    enter(page, give(sign_in)[0])
    first_step(page)
    page.locator("nav.steps a.main").click()
    for height, place in ((640, "sticky"), (300, "static")):
        page.set_viewport_size({"width": WIDTH, "height": height})
        assert page.locator("nav.at-hand").evaluate("one => getComputedStyle(one).position") == place


def test_what_is_to_be_done_and_seen_is_on_the_first_screen_of_nearly_every_step(phone: Open, sign_in: SignIn) -> None:
    """Next is in reach at once: so nothing of a check may lie below it."""
    page = phone()
    page.set_viewport_size({"width": 360, "height": 740})
    enter(page, give(sign_in)[0])
    first_step(page)
    hidden: list[str] = []
    while "/done/" not in page.url:
        if page.locator("nav.at-hand").count():
            bar, do = page.locator("nav.at-hand").bounding_box(), page.locator(".do:visible").first.bounding_box()
            assert bar is not None
            assert do is not None
            if do["y"] + do["height"] > bar["y"]:
                hidden.append(page.url)
        page.locator("nav.steps a.main").click()
    assert hidden == []


def test_a_picture_has_its_room_before_it_is_there(phone: Open, sign_in: SignIn) -> None:
    page = phone()
    enter(page, give(sign_in)[0])
    page.route("**/pictures/**", lambda route: None)
    page.goto("/t/1/boxes/", wait_until="commit")
    page.wait_for_selector("img.drawing")
    heights = page.locator("img.drawing").evaluate_all("every => every.map(one => one.getBoundingClientRect().height)")
    assert len(heights) > 1
    assert min(heights) > 100


# Not before the minute, and not after a stop


def test_not_yet_goes_by_itself_at_the_minute(
    phone: Open, sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    from tests.web.hers import walk_of

    moment = "2026-11-19T02:59:58Z"
    clock_of(monkeypatch)(moment)
    page = phone(at=moment)
    enter(page, give(sign_in)[0])
    first_step(page)
    walk = walk_of(site)
    page.goto(f"/t/steps/3/{walk.steps(walk.legs[2])[-1].number}/")
    top = page.locator("main .not-yet").bounding_box()
    assert top is not None
    assert top["y"] + top["height"] < HEIGHT
    assert wrong_with(page) == []
    changes(page, "NOT YET. Do not inject before 9:00 pm (21:00), Wednesday 18 November 2026.", "")


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [320, 360])
def test_a_stop_stands_on_an_open_page_as_soon_as_it_is_known_and_goes_when_the_clinic_has_answered(
    phone: Open, sign_in: SignIn, site: Desk, scheme: str, width: int
) -> None:
    """Her list is open in one window; in the other she answers No."""
    from hourmark.case.phone import GiveHelp

    page = phone(color_scheme=scheme)
    page.set_viewport_size({"width": width, "height": 740})
    enter(page, give(sign_in)[0])
    other = page.context.new_page()
    other.goto("/t/1/boxes/")
    other.locator("input[value=no]").first.check()
    other.click("button.main")
    other.wait_for_selector("h1.stop")
    page.evaluate("dispatchEvent(new Event('online'))")
    page.wait_for_selector("p.stop:has-text('STOP. Open nothing.')")
    assert page.locator("main a.main").count() == 0
    assert page.locator("main .alarm a.call").first.is_visible()
    assert page.locator(".left").count() == 2
    assert wrong_with(page) == []
    page.goto("/t/2/boxes/")
    assert page.locator("form").count() == 0
    assert wrong_with(page) == []
    page.emulate_media(media="print")
    assert "STOP. Open nothing." in page.locator("body").inner_text()
    page.emulate_media(media="screen")
    page.goto("/t/")
    (waiting,) = site.states().case(CASE).waiting
    do(site, GiveHelp(CASE, waiting.seq, "the right vial stood behind it"), "kowal", EVENING)
    page.evaluate("dispatchEvent(new Event('online'))")
    page.wait_for_selector("main a.main")
    assert page.locator("p.stop").count() == 0
