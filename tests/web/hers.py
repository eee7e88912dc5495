"""Her phone in front of the pages: a link that a nurse made, a browser in which it was opened, and the walk up to where a test begins."""

import re
from collections.abc import Callable

import pytest
from django.test import Client

from hourmark.desk import Desk
from hourmark.handout.walk import WalkThrough, walk_from
from hourmark.web import work
from tests.web.manners import SignIn
from tests.web.seen import look, read, text_of

CASE = "K-103"
"""Leuprolide acetate 4 mg to mark 80 and chorionic gonadotropin 1,000 units to mark 20, both at 21:00."""

DUE = "2026-11-19T03:00:00Z"
"""21:00 at the clinic: 36 h before the slot of Friday 09:00."""

AT_NINE_TEN = "2026-11-19T03:10:00Z"
NUMBER_BY_DAY, NUMBER_AT_NIGHT = "+1 555 0100", "+1 555 0101"
UNKNOWN = "/t/" + "x" * 43

Clock = Callable[[str], None]


def clock_of(monkeypatch: pytest.MonkeyPatch) -> Clock:
    """Sets the server's clock."""
    return lambda instant: monkeypatch.setattr(work, "instant", lambda: instant)


def give(sign_in: SignIn, case: str = CASE, kind: str = "page", *, code: bool = False) -> tuple[str, str]:
    """A link that a nurse made just now: its address, and its code where it has one."""
    nurse = sign_in("kowal")
    path = f"/cases/{case}/link/"
    form = look(nurse, path).form() | {"kind": kind} | ({"code": "true"} if code else {})
    form = {name: value for name, value in form.items() if name != "code" or code}
    answer = nurse.post(path, form)
    assert answer.status_code == 200
    address = re.search(r"http://localhost(/t/[\w-]{43})\b", text_of(answer))
    assert address is not None
    told = re.search(r'<p class="figure">(\d{4})</p>', text_of(answer))
    assert (told is not None) is code
    return address[1], told[1] if told else ""


def stranger() -> Client:
    return Client(SERVER_NAME="localhost")


def opened(address: str, code: str = "") -> Client:
    """A phone in which the button of a link was pressed."""
    phone = stranger()
    answer = phone.post(address, {"code": code} if code else {})
    assert answer.status_code == 303, text_of(answer)
    assert answer["Location"] in ("/t/", "/t/practice/")
    return phone


def her_phone(sign_in: SignIn, case: str = CASE) -> Client:
    return opened(give(sign_in, case)[0])


def read_boxes(phone: Client, place: int, *no: str) -> str:
    """The boxes of a medicine compared; where that leads."""
    path = f"/t/{place}/boxes/"
    source = text_of(phone.get(path))
    names = dict.fromkeys(re.findall(r'name="(box-[\w-]+)"', source))
    form = read(phone.get(path)).form() | {name: "no" if name in no else "yes" for name in names}
    answer = phone.post(path, form)
    assert answer.status_code == 302
    return str(answer["Location"])


def walk_of(site: Desk, case: str = CASE, version: int = 1) -> WalkThrough:
    return walk_from(site.pages(case, version)["walk.json"])


def report_form(phone: Client, place: int = 1) -> dict[str, str]:
    """The form in which she reports, as it stands."""
    path = f"/t/{place}/done/"
    return look(phone, path).form(path)
