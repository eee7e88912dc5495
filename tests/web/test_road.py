"""The whole road by pages alone: from a new case to a page in her hand, and once more in the night."""

from dataclasses import dataclass, field

import pytest
from django.test import Client

from hourmark.desk import Desk
from hourmark.web import work
from tests.web.manners import SignIn
from tests.web.seen import Page, look, read

DAY = "2026-11-20"
K = "/cases/K-201/"
SCREENS = 12
"""How many pages somebody may have to look at until a changed order is a page again."""

CASE = {
    "case": "K-201",
    "person.name": "Marigold Fenwick",
    "person.initials": "M. F.",
    "person.born": "1991-04-30",
    "person.phones": "+1 555 0142",
    "details.zone": "America/Chicago",
    "details.lh": "1.8 units/L",
    "details.last_antagonist.drug": "ganirelix",
    "details.last_antagonist.at": "2026-11-18 08:00",
}
SLOT = {"slot.id": "s12", "slot.at": f"{DAY} 13:00", "slot.room": "Room 3"}
BOTH = {"route": "subcutaneous", "lead": "36 h", "window[1]": "35 h", "window[2]": "37 h"}
ORDER = {
    "purpose": "trigger",
    "cycle": "antagonist",
    "stop": "ganirelix\nmenotropins",
    "sequence": "agonist\nhcg",
    "largest_gap": "15 min",
    "injections[1].id": "agonist",
    "injections[1].drug": "leuprolide acetate",
    "injections[1].dose": "4 mg",
    "injections[2].id": "hcg",
    "injections[2].drug": "chorionic gonadotropin",
    "injections[2].dose": "1,000 units",
    "injections[2].route_confirmed_by": "Dr. L. Aumont",
    **{f"injections[{place}].{name}": value for place in (1, 2) for name, value in BOTH.items()},
}
KIT = {
    "products[1].product": "leuprolide-5mg-per-ml-vial",
    "products[1].strength": "5 mg/mL",
    "products[1].words": "leuprolide acetate injection, 5 mg/mL",
    "products[1].lot": "A201",
    "products[1].expiry": "2027-02-28",
    "products[2].product": "hcg-10000-units",
    "products[2].strength": "10,000 units",
    "products[2].label_rule": "1 to 10 mL",
    "products[2].words": "chorionic gonadotropin for injection, 10,000 units",
    "products[2].lot": "B201",
    "products[2].expiry": "2027-06-30",
    "diluents[1].kind": "bacteriostatic water",
    "diluents[1].volume": "10 mL",
    "diluents[1].expiry": "2027-06-30",
    "syringes[1].syringe": "u100-1mL-1",
    "syringes[1].count": "4",
    "syringes[2].syringe": "mL-3-0.1",
    "syringes[2].count": "2",
    "needles[1].gauge": "20",
    "needles[1].length": "38 mm",
    "needles[1].count": "2",
    "how": "read aloud on the phone, one box after the other",
}
SHE = {"on_the_line": "she herself", "first_identifier": "full name", "second_identifier": "date of birth"}


@dataclass
class Walk:
    """Somebody at a browser, and how many pages they have looked at."""

    client: Client
    screens: list[str] = field(default_factory=list)

    def sees(self, path: str) -> Page:
        self.screens.append(path)
        return look(self.client, path)

    def sends(self, page: Page, typed: dict[str, str], to: str = "", at: str = "") -> Page:
        """The form sent as filled in; the page on which that ends."""
        answer = self.client.post(to or at, page.form(to) | typed)
        assert answer.status_code == 302, read(answer).summary() or read(answer).main()
        return self.sees(answer["Location"])


def enters(minute: str, hcg: tuple[str, str]) -> dict[str, str]:
    return {
        "entered.agonist.at": minute,
        "entered.agonist.fills[1].volume": "0.8 mL",
        "entered.agonist.fills[1].mark": "80",
        "entered.hcg.at": minute,
        "entered.hcg.fills[1].volume": hcg[0],
        "entered.hcg.fills[1].mark": hcg[1],
    }


def says(page: Page, clock: str, dose: str, mark: str) -> dict[str, str]:
    """What she repeats, read off the page that is read out to her."""
    words = next(one.text for one in page.elements if one.name == "strong" and one.has_class("figure"))
    said = {
        "agonist day": "Thursday",
        "agonist time": clock,
        "agonist dose": "4 mg",
        "agonist mark": "80",
        "hcg day": "Thursday",
        "hcg time": clock,
        "hcg dose": dose,
        "hcg water": "2 mL",
        "hcg mark": mark,
        "stop 1": "ganirelix",
        "stop 2": "menotropins",
    }
    return SHE | {f"said.{name}": value for name, value in said.items()} | {"check_word": words}


def answered(page: Page) -> dict[str, str]:
    return {name: "Dr. Aumont: yes, as ordered" for name in page.form() if name.startswith("answered.")}


def calls_owed(page: Page) -> list[str]:
    """The cases on the list of calls."""
    return [
        one.attributes["href"]
        for one in page.elements
        if one.name == "a" and any(outer.attributes.get("aria-labelledby") == "calls" for outer in one.within)
    ]


def test_from_a_new_case_to_a_page_and_once_more_in_the_night(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    nurse, doctor, other, theatre = (Walk(sign_in(who)) for who in ("kowal", "aumont", "devi", "theatre"))

    # The afternoon: she is on the record, theatre has a slot for her, her order is signed, her kit is read.
    page = nurse.sends(nurse.sees("/cases/new/"), CASE, at="/cases/new/")
    assert "Owed next: an order" in page.main()
    theatre.sends(theatre.sees("/slots/"), SLOT, to="/slots/place/")
    give = f"/slots/{DAY}/s12/give/"
    nurse.sends(nurse.sees("/slots/"), {"case": "K-201"}, to=give)
    doctor.sends(doctor.sees(f"{K}order/"), ORDER, at=f"{K}order/")
    page = nurse.sends(nurse.sees(f"{K}kit/"), KIT, at=f"{K}kit/")
    for product, strength in (("leuprolide-5mg-per-ml-vial", "5 mg/mL"), ("hcg-10000-units", "10,000 units")):
        assert f"{K}kit/{product}/carton/" in page.links()
        at = f"{K}kit/{product}/carton/"
        read_off = {"other": "L. Ortiz", "strength": strength, "volume": "as printed", "route": "subcutaneous"}
        page = nurse.sends(nurse.sees(at), read_off, at=at)
    assert "Owed next: a second check" in page.main()

    # Another works it out, she reads it back, it is released, and the page is there.
    other.sends(other.sees(f"{K}check/"), enters("2026-11-19 01:00", ("0.2 mL", "20")), at=f"{K}check/")
    page = nurse.sees("/")
    assert f"{K}call/" in calls_owed(page)
    call = nurse.sees(f"{K}call/")
    release = nurse.sends(call, says(call, "01:00", "1,000 units", "20"), at=f"{K}call/")
    assert "agrees: M. Devi" in release.main()
    page = nurse.sends(release, answered(release), at=f"{K}release/")
    assert "released, version 1" in page.main()
    paper = nurse.client.get(f"{K}sheets/1/sheet.pdf")
    assert paper.content.startswith(b"%PDF-")
    assert f"{K}call/" not in calls_owed(nurse.sees("/"))

    # Theatre moves the slot: the page is void, and she has to be rung.
    theatre.sends(theatre.sees("/slots/"), SLOT | {"slot.at": f"{DAY} 13:15", "why": "cleaning"}, to="/slots/place/")
    assert "VOID since Wed 18 Nov 16:25: slot s12 was moved: cleaning" in nurse.sees(K).main()
    assert f"{K}call/" in calls_owed(nurse.sees("/"))
    assert nurse.client.get(f"{K}sheets/1/sheet.pdf").content == paper.content

    # At eleven at night the prescriber rings with another dose: the whole road is gone once more.
    monkeypatch.setattr(work, "instant", lambda: "2026-11-19T05:00:00Z")
    for one in (nurse, other):
        one.screens.clear()
    spoken = {
        "signed_by": "Dr. L. Aumont",
        "words": "K two oh one: fifteen hundred of hCG, one five zero zero, the rest as it was.",
        "read_back": "true",
        "injections[2].dose": "1,500 units",
    }
    nurse.sends(nurse.sees(f"{K}order/"), spoken, at=f"{K}order/")
    check = other.sees("/")
    assert f"{K}check/" in check.links()
    other.sends(other.sees(f"{K}check/"), enters("2026-11-19 01:15", ("0.3 mL", "30")), at=f"{K}check/")
    call = nurse.sees(f"{K}call/")
    heard = says(call, "01:15", "1,500 units", "30") | {"old_alarm": "yes"}
    release = nurse.sends(call, heard, at=f"{K}call/")
    page = nurse.sends(release, answered(release), at=f"{K}release/")
    assert "Version 2, released Wed 18 Nov 23:00 by A. Kowal, checked by M. Devi" in page.main()
    assert nurse.client.get(f"{K}sheets/2/sheet.pdf").content != paper.content
    assert len(nurse.screens) + len(other.screens) <= SCREENS, (nurse.screens, other.screens)

    # In the morning it is countersigned.
    page = doctor.sees(K)
    doctor.sends(page, {}, to=f"{K}order/2/countersign/")
    sheet = site.states().case("K-201").sheet
    assert sheet is not None
    assert sheet.event.version == 2
