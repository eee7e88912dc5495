"""The afternoon, by keyboard alone: from a signed order to a released page, by the people who do each part."""

import datetime as dt
import re
from collections.abc import Callable

from playwright.sync_api import BrowserContext, Locator, Page

from tests.browser.conftest import Site

CASE = "Q-201"


class Hands:
    """Somebody who has a keyboard and no mouse."""

    def __init__(self, page: Page, site: Site, username: str) -> None:
        self.page = page
        page.goto("/accounts/login/")
        self.write("#id_login", username)
        self.write("#id_password", site.password)
        page.keyboard.press("Enter")
        page.wait_for_selector("header nav")

    def reach(self, wanted: str) -> Locator:
        """Tab to it, as somebody does who sees where they are; it has to be shown that the focus is there."""
        target = self.page.locator(wanted).first
        assert target.count(), wanted
        self.page.evaluate("document.activeElement.blur()")
        for _ in range(400):
            self.page.keyboard.press("Tab")
            if target.evaluate("one => one === document.activeElement"):
                ring = target.evaluate("one => getComputedStyle(one).outlineStyle")
                assert ring != "none", f"nothing shows that {wanted} has the focus"
                return target
        raise AssertionError(f"{wanted} is not reached by keyboard")

    def write(self, wanted: str, words: str) -> None:
        target = self.reach(wanted)
        if target.evaluate("one => one.tagName") == "SELECT":
            target.select_option(words)
            return
        self.page.keyboard.press("Control+A")
        self.page.keyboard.insert_text(words)

    def press(self, wanted: str) -> None:
        self.reach(wanted)
        with self.page.expect_navigation():
            self.page.keyboard.press("Enter")

    def tick(self, wanted: str) -> None:
        self.reach(wanted)
        self.page.keyboard.press("Space")

    def form(self, **fields: str) -> None:
        for name, words in fields.items():
            self.write(f'main [name="{name}"]', words)


def test_from_slot_to_released_page_by_keyboard_alone(open_context: Callable[..., BrowserContext], site: Site) -> None:
    nurse = Hands(open_context().new_page(), site, "kowal")
    page = nurse.page
    zone = _zone_of(page)
    slot_at = _in_two_days(page)

    theatre = Hands(open_context().new_page(), site, "theatre")
    theatre.page.goto("/slots/")
    theatre.form(**{"slot.id": "q1", "slot.at": slot_at, "slot.room": "Room 3", "why": "one more"})
    theatre.press("button:text-is('Place it')")
    assert "The slot is on the list." in theatre.page.content()

    page.goto("/cases/new/")
    nurse.form(
        **{
            "case": CASE,
            "person.name": "Wilhelmina Quist",
            "person.initials": "W. Q.",
            "person.born": "1992-05-06",
            "person.phones": "+1 555 0201",
            "details.zone": zone,
        }
    )
    nurse.press("button:text-is('Open the case')")
    assert f"Case {CASE} is open." in page.content()
    page.goto("/slots/")
    nurse.write(f'select[id="case-{slot_at[:10]}-q1"]', CASE)
    nurse.press("button:text-is('Set slot q1')")
    assert f"Slot q1 is given to {CASE}." in page.content()

    prescriber = Hands(open_context().new_page(), site, "aumont")
    prescriber.page.goto(f"/cases/{CASE}/order/")
    prescriber.form(
        **{
            "cycle": "antagonist",
            "injections[1].id": "agonist",
            "injections[1].drug": "leuprolide acetate",
            "injections[1].dose": "4 mg",
            "injections[1].route": "subcutaneous",
            "injections[1].lead": "36 h",
            "injections[1].window[1]": "35 h",
            "injections[1].window[2]": "37 h",
            "stop": "ganirelix",
        }
    )
    prescriber.press("button:text-is('Sign the order')")
    assert "The order is on the record." in prescriber.page.content()

    page.goto(f"/cases/{CASE}/kit/")
    nurse.form(
        **{
            "products[1].product": "leuprolide-5mg-per-ml-vial",
            "products[1].strength": "5 mg/mL",
            "products[1].words": "leuprolide acetate injection 5 mg/mL",
            "products[1].expiry": "2031-03-31",
            "syringes[1].syringe": "u100-1mL-1",
            "syringes[1].count": "3",
        }
    )
    nurse.reach("button:text-is('Show what follows from it')")
    page.keyboard.press("Enter")
    page.wait_for_selector("#preview .card")
    assert "mark 80 (0.8 mL)" in page.locator("#preview").inner_text()
    nurse.press("button:text-is('Record the kit')")
    assert "The kit is on the record." in page.content()

    minute = (dt.datetime.fromisoformat(slot_at) - dt.timedelta(hours=36)).strftime("%Y-%m-%d %H:%M")
    second = Hands(open_context(320, "dark").new_page(), site, "devi")
    second.page.goto(f"/cases/{CASE}/check/")
    assert "80" not in second.page.locator("main").inner_text()
    second.form(
        **{
            "entered.agonist.at": minute,
            "entered.agonist.fills[1].volume": "0.8 mL",
            "entered.agonist.fills[1].mark": "8",
        }
    )
    second.press("button:text-is('Record my working')")
    assert "Your working differs" in second.page.content()
    second.press("a:text-is('Work it out again')")
    second.form(
        **{
            "entered.agonist.at": minute,
            "entered.agonist.fills[1].volume": "0.8 mL",
            "entered.agonist.fills[1].mark": "80",
        }
    )
    second.press("button:text-is('Record my working')")
    assert "Your working is the same." in second.page.content()

    page.goto(f"/cases/{CASE}/call/")
    words = re.search(r"check words of this page: (.+)", page.locator("main").inner_text())
    assert words is not None
    day = dt.datetime.fromisoformat(minute).strftime("%A")
    nurse.form(
        **{
            "on_the_line": "she herself",
            "first_identifier": "full name",
            "second_identifier": "date of birth",
            "said.agonist day": day,
            "said.agonist time": minute[-5:],
            "said.agonist dose": "4 mg",
            "said.agonist mark": "80",
            "said.stop 1": "ganirelix",
            "check_word": words[1].strip(),
        }
    )
    nurse.press("button:text-is('Record the read-back')")
    assert "She has read it back, all of it rightly." in page.content()
    open_questions = page.locator('input[name^="answered."]').evaluate_all("all => all.map(one => one.name)")
    nurse.form(**dict.fromkeys(open_questions, "Dr. L. Aumont, by telephone: go on"))
    nurse.press("button:text-is('Release version 1')")
    assert "The sheet is released." in page.content()
    text = page.request.get(f"/cases/{CASE}/sheets/1/sheet.txt").text()
    assert "Your clinic has released this page: version 1." in text
    assert "mark 80 (0.8 mL)" in text
    assert page.request.get(f"/cases/{CASE}/sheets/1/sheet.pdf").body().startswith(b"%PDF")


def _zone_of(page: Page) -> str:
    page.goto("/cases/new/")
    return page.input_value('[name="details.zone"]')


def _in_two_days(page: Page) -> str:
    """A slot at ten, on the day of the demo's own list."""
    page.goto("/slots/")
    day = page.locator("main h2").first.inner_text()
    return f"{day} 10:20"
