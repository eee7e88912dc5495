"""The nurse's side of her phone: /cases/<case>/link/ and /cases/<case>/link/<number>/revoke/."""

import re

import numpy as np
import pytest
import segno
from django.test import Client

from hourmark.case.opening import CloseCase
from hourmark.case.sheets import VoidSheet
from hourmark.desk import Desk
from hourmark.web.models import Link
from hourmark.web.pages.phone_link import expires_of
from tests.web.hers import CASE, UNKNOWN, clock_of, give, opened, stranger
from tests.web.manners import (
    SignIn,
    do,
    heads,
    hides_from_strangers,
    is_not_for,
    knows_only,
    sends_to_sign_in,
    written,
)
from tests.web.seen import look, read, text_of

PATH, REVOKE = f"/cases/{CASE}/link/", f"/cases/{CASE}/link/1/revoke/"


def test_a_link_is_given_shown_and_kept_nowhere(sign_in: SignIn, site: Desk) -> None:
    before = heads(site)
    address, _ = give(sign_in)
    assert written(site, before) == [f"case/{CASE} link-given"]
    token = address.removeprefix("/t/")
    assert token not in text_of(sign_in("kowal").get(PATH))
    kept = Link.objects.get()
    assert token not in str(vars(kept))
    assert len(kept.digest) == 64
    for entry in site.store.read_all():
        assert token.encode() not in entry.header + (entry.body or b"")
        assert kept.digest.encode() not in entry.header + (entry.body or b"")


def test_two_links_share_nothing(sign_in: SignIn, site: Desk) -> None:
    addresses = {give(sign_in, case)[0] for case in ("K-103", "K-101", "K-103")}
    assert len(addresses) == 3
    assert all(re.fullmatch(r"/t/[A-Za-z0-9_-]{43}", one) for one in addresses)


def test_the_square_on_the_screen_is_the_address(sign_in: SignIn, site: Desk) -> None:
    """Every module of the square as it is drawn, against the symbol of the address (ISO/IEC 18004, made by segno)."""
    nurse = sign_in("kowal")
    source = text_of(nurse.post(PATH, look(nurse, PATH).form() | {"kind": "page"}))
    address = re.search(r"http://localhost/t/[\w-]{43}", source)
    drawn = re.search(r'stroke="#000" d="([^"]+)"', source)
    assert address is not None
    assert drawn is not None
    border = 4
    matrix = segno.make(address[0], error="m", micro=False).matrix
    wanted = {(x + border, y + border) for y, line in enumerate(matrix) for x, dark in enumerate(line) if dark}
    assert dark_modules(drawn[1]) == wanted


def dark_modules(path: str) -> set[tuple[int, int]]:
    """The modules under the strokes of a path, each one wide."""
    found, x, y = set(), 0.0, 0.0
    for command, numbers in re.findall(r"([Mmh])([^Mmh]*)", path):
        given = [float(one) for one in re.findall(r"-?[\d.]+", numbers)]
        if command == "h":
            found |= {(int(x) + step, int(y)) for step in range(int(given[0]))}
            x += given[0]
        else:
            x, y = (given[0], given[1]) if command == "M" else (x + given[0], y + given[1])
    return found


def test_a_form_that_comes_twice_makes_one_link_and_shows_it_one_time(sign_in: SignIn, site: Desk) -> None:
    nurse = sign_in("kowal")
    form = look(nurse, PATH).form() | {"kind": "page"}
    before = heads(site)
    first, second = nurse.post(PATH, form), nurse.post(PATH, form)
    assert written(site, before) == [f"case/{CASE} link-given"]
    assert re.search(r"/t/[\w-]{43}", text_of(first))
    assert not re.search(r"/t/[\w-]{43}", text_of(second))
    assert "This link was shown before" in text_of(second)


def test_another_link_of_its_kind_ends_the_first(sign_in: SignIn, site: Desk) -> None:
    first, _ = give(sign_in)
    practice, _ = give(sign_in, kind="practice")
    second, _ = give(sign_in)
    assert stranger().get(first).status_code == 404
    assert stranger().get(practice).status_code == stranger().get(second).status_code == 200


def test_a_link_is_revoked_by_one_press(sign_in: SignIn, site: Desk) -> None:
    address, _ = give(sign_in)
    phone = opened(address)
    nurse = sign_in("kowal")
    before = heads(site)
    answer = nurse.post(REVOKE, look(nurse, PATH).form(REVOKE))
    assert (answer.status_code, answer["Location"]) == (302, PATH)
    assert written(site, before) == [f"case/{CASE} link-revoked"]
    assert "Link 1 leads nowhere any more." in text_of(nurse.get(PATH))
    nobodys = stranger().get(UNKNOWN).content
    for answer in (stranger().get(address), stranger().post(address), phone.get("/t/"), phone.get("/t/1/boxes/")):
        assert (answer.status_code, answer.content) == (404, nobodys)


def test_revoking_what_is_revoked_is_refused(sign_in: SignIn, site: Desk) -> None:
    give(sign_in)
    nurse = sign_in("kowal")
    nurse.post(REVOKE, {"key": "one"})
    before = heads(site)
    answer = nurse.post(REVOKE, {"key": "two"})
    assert answer.status_code == 422
    assert "nothing-changed" in text_of(answer)
    assert written(site, before) == []


def test_without_a_released_page_there_is_only_practice(sign_in: SignIn, site: Desk) -> None:
    nurse = sign_in("kowal")
    path = "/cases/K-109/link/"
    page = look(nurse, path)
    assert "none is released yet" in page.main()
    answer = nurse.post(path, page.form() | {"kind": "page"})
    assert answer.status_code == 422
    assert "link-no-sheet" in text_of(answer)
    assert not Link.objects.exists()
    assert give(sign_in, "K-109", "practice")[0]


def test_it_leads_on_until_twelve_hours_after_the_slot(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The slot of K-103 is Friday 09:00 in Chicago, 15:00 in UTC: twelve hours after it is Saturday 03:00 in UTC."""
    address, _ = give(sign_in)
    phone, clock = opened(address), clock_of(monkeypatch)
    clock("2026-11-21T02:59:59Z")
    assert phone.get("/t/").status_code == stranger().get(address).status_code == 200
    clock("2026-11-21T03:00:00Z")
    assert phone.get("/t/").status_code == stranger().get(address).status_code == 404
    assert "expired" in text_of(sign_in("kowal").get(PATH))


def test_without_a_slot_until_a_day_after_the_last_injection(site: Desk) -> None:
    state = site.states().case("K-103")
    from dataclasses import replace

    assert expires_of(replace(state, slot=None), "2026-11-18T22:25:00Z") == "2026-11-20T03:00:00Z"
    assert expires_of(replace(state, slot=None, sheets=()), "2026-11-18T22:25:00Z") == "2026-11-19T22:25:00Z"


def test_a_void_page_ends_its_link_and_practice_goes_on(sign_in: SignIn, site: Desk) -> None:
    address, _ = give(sign_in)
    practice, _ = give(sign_in, kind="practice")
    do(site, VoidSheet(CASE, 1, "the slot may move"), "kowal")
    assert stranger().get(address).content == stranger().get(UNKNOWN).content
    assert stranger().get(practice).status_code == 200
    assert "its page is void" in text_of(sign_in("kowal").get(PATH))


def test_of_a_closed_case_none_is_made(sign_in: SignIn, site: Desk) -> None:
    nurse = sign_in("kowal")
    form = look(nurse, "/cases/K-107/link/").form() | {"kind": "practice"}
    do(site, CloseCase("K-107", "she withdrew"), "ortiz")
    assert "A closed case changes no more" in look(nurse, "/cases/K-107/link/").main()
    answer = nurse.post("/cases/K-107/link/", form)
    assert answer.status_code == 422
    assert "case-closed" in text_of(answer)
    assert not Link.objects.exists()


def test_the_message_says_nothing_of_her(sign_in: SignIn, site: Desk) -> None:
    nurse = sign_in("kowal")
    answer = nurse.post(PATH, look(nurse, PATH).form() | {"kind": "page"})
    message = read(answer).by_id("message").text
    assert re.fullmatch(r"Your page from your clinic: http://localhost/t/[\w-]{43}", message)


def test_a_link_that_was_never_shown_is_said_to_lead_nowhere(sign_in: SignIn, site: Desk) -> None:
    address, _ = give(sign_in)
    Link.objects.all().delete()
    assert "it was never shown" in text_of(sign_in("kowal").get(PATH))
    assert stranger().get(address).status_code == 404


def test_who_may(sign_in: SignIn, site: Desk, client_of_nobody: Client) -> None:
    give(sign_in)
    for who in ("devi", "brandt"):
        is_not_for(sign_in, site, who, PATH, "GET", "POST")
        is_not_for(sign_in, site, who, REVOKE, "POST")
    hides_from_strangers(sign_in, site, PATH, "GET", "POST")
    hides_from_strangers(sign_in, site, REVOKE, "POST")
    sends_to_sign_in(client_of_nobody, PATH, "GET")
    knows_only(sign_in("kowal"), PATH, "GET", "POST")
    knows_only(sign_in("kowal"), REVOKE, "POST")


def test_the_page_shows_no_minute_and_no_mark(sign_in: SignIn, site: Desk) -> None:
    """Whoever makes a link can still check the plan blind."""
    give(sign_in)
    words = look(sign_in("kowal"), PATH).main()
    for shown in ("18 Nov 21:00", "Wed 18 Nov 21", "mark", "0.8 mL", "80"):
        assert shown not in words


def test_tokens_are_spread_evenly(sign_in: SignIn) -> None:
    """Bits of 2,000 tokens: each is set in half of them, within 5.5 standard deviations of a fair coin (binomial: 0.5 / sqrt(n))."""
    import base64

    from hourmark.web.pages.phone_token import new_token

    tokens = [np.frombuffer(base64.urlsafe_b64decode(f"{new_token()}="), dtype=np.uint8) for _ in range(2_000)]
    bits = np.unpackbits(np.array(tokens), axis=1)
    assert bits.shape == (2_000, 256)
    assert np.abs(bits.mean(axis=0) - 0.5).max() < 5.5 * 0.5 / np.sqrt(2_000)
