"""Every address there is, asked for by everybody: what comes back stands in one table, and every page has a file of tests."""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.urls import URLPattern, URLResolver

from hourmark.desk import Desk
from hourmark.web import urls
from tests.web.manners import SignIn, heads
from tests.web.seen import text_of

WHO = {
    "nurse": "kowal",
    "prescriber": "aumont",
    "pharmacist": "devi",
    "lead": "brandt",
    "theatre": "theatre",
    "another clinic": "stranger",
    "no clinic": "nobody",
    "not signed in": "",
}


@dataclass(frozen=True)
class Row:
    """An address, the case or the like filled in, and the status for each of WHO, in that order."""

    path: str
    statuses: str


def row(path: str, statuses: str) -> Row:
    return Row(path, statuses)


C, S = "cases/<slug:case>/", "slots/<str:day>/<slug:slot>/"
OURS = {
    # ours                                               nurse pres. phar. lead theat. other none out
    "": row("/", "200 200 200 200 200 200 403 302"),
    "cases/new/": row("/cases/new/", "200 200 403 403 403 200 403 302"),
    C: row("/cases/K-103/", "200 200 200 200 403 404 403 302"),
    f"{C}details/": row("/cases/K-103/details/", "200 200 403 403 403 404 403 302"),
    f"{C}who/": row("/cases/K-103/who/", "200 200 403 403 403 404 403 302"),
    f"{C}allowed/": row("/cases/K-103/allowed/", "200 200 403 403 403 404 403 302"),
    f"{C}close/": row("/cases/K-103/close/", "405 405 405 405 405 405 403 302"),
    f"{C}void/": row("/cases/K-103/void/", "405 405 405 405 405 405 403 302"),
    f"{C}reason/": row("/cases/K-103/reason/", "405 405 405 405 405 405 403 302"),
    f"{C}order/": row("/cases/K-103/order/", "200 200 200 403 403 404 403 302"),
    f"{C}order/<int:version>/countersign/": row("/cases/K-103/order/1/countersign/", "405 405 405 405 405 405 403 302"),
    f"{C}order/<int:version>/withdraw/": row("/cases/K-103/order/1/withdraw/", "405 405 405 405 405 405 403 302"),
    f"{C}kit/": row("/cases/K-103/kit/", "200 403 200 403 403 404 403 302"),
    f"{C}kit/preview/": row("/cases/K-103/kit/preview/", "405 405 405 405 405 405 403 302"),
    f"{C}kit/<slug:product>/carton/": row(
        "/cases/K-103/kit/hcg-10000-units/carton/", "200 403 200 403 403 404 403 302"
    ),
    f"{C}plan/": row("/cases/K-103/plan/", "200 200 200 200 403 404 403 302"),
    f"{C}check/": row("/cases/K-103/check/", "200 200 200 200 403 404 403 302"),
    f"{C}call/": row("/cases/K-103/call/", "200 200 403 403 403 404 403 302"),
    f"{C}call/tried/": row("/cases/K-103/call/tried/", "405 405 405 405 405 405 403 302"),
    f"{C}call/told/": row("/cases/K-103/call/told/", "405 405 405 405 405 405 403 302"),
    f"{C}call/note/": row("/cases/K-103/call/note/", "200 200 403 403 403 404 403 302"),
    f"{C}release/": row("/cases/K-103/release/", "200 200 403 403 403 404 403 302"),
    f"{C}sheets/<int:version>/<str:name>": row("/cases/K-103/sheets/1/sheet.pdf", "200 200 200 200 403 404 403 302"),
    "night/": row("/night/", "200 200 200 200 403 200 403 302"),
    "night/rows/": row("/night/rows/", "200 200 200 200 403 200 403 302"),
    f"{C}night/<slug:injection>/given/": row("/cases/K-103/night/hcg/given/", "200 200 403 403 403 404 403 302"),
    f"{C}night/<slug:injection>/told/": row("/cases/K-103/night/hcg/told/", "200 200 403 403 403 404 403 302"),
    f"{C}night/withdraw/<int:entry>/": row("/cases/K-103/night/withdraw/1/", "404 404 403 403 403 404 403 302"),
    f"{C}night/helped/<int:entry>/": row("/cases/K-103/night/helped/1/", "404 404 403 403 403 404 403 302"),
    f"{C}trouble/": row("/cases/K-103/trouble/", "200 200 403 403 403 404 403 302"),
    f"{C}trouble/danger/": row("/cases/K-103/trouble/danger/", "405 405 405 405 405 405 403 302"),
    f"{C}trouble/call/<slug:call>/": row("/cases/K-103/trouble/call/C12/", "200 200 403 403 403 404 403 302"),
    f"{C}trouble/number/<slug:asked>/": row("/cases/K-103/trouble/number/mark/", "200 200 403 403 403 404 403 302"),
    f"{C}trouble/kept/<int:entry>/": row("/cases/K-103/trouble/kept/1/", "404 404 403 403 403 404 403 302"),
    f"{C}trouble/kept/<int:entry>/told/": row("/cases/K-103/trouble/kept/1/told/", "405 405 405 405 405 405 403 302"),
    f"{C}trouble/kept/<int:entry>/settle/": row(
        "/cases/K-103/trouble/kept/1/settle/", "404 404 403 403 403 404 403 302"
    ),
    f"{C}trouble/<slug:kind>/": row("/cases/K-103/trouble/late/", "200 200 403 403 403 404 403 302"),
    "handover/": row("/handover/", "200 200 200 200 403 200 403 302"),
    "handover/take/": row("/handover/take/", "405 405 405 405 405 405 403 302"),
    "morning/": row("/morning/", "200 200 403 200 200 200 403 302"),
    "morning/<str:day>/<int:version>/": row("/morning/2026-11-20/1/", "404 404 403 404 404 404 403 302"),
    f"{C}link/": row("/cases/K-103/link/", "200 200 403 403 403 404 403 302"),
    f"{C}link/<int:number>/revoke/": row("/cases/K-103/link/1/revoke/", "405 405 405 405 405 405 403 302"),
    # her phone: no role of the staff opens anything there
    "t/": row("/t/", "404 404 404 404 404 404 404 404"),
    "t/now/": row("/t/now/", "404 404 404 404 404 404 404 404"),
    "t/call/": row("/t/call/", "405 405 405 405 405 405 405 405"),
    "t/<int:place>/boxes/": row("/t/1/boxes/", "404 404 404 404 404 404 404 404"),
    "t/<int:place>/done/": row("/t/1/done/", "404 404 404 404 404 404 404 404"),
    "t/steps/<int:leg>/<int:number>/": row("/t/steps/1/1/", "404 404 404 404 404 404 404 404"),
    "t/pictures/<slug:key>/<slug:name>.svg": row("/t/pictures/p1/still.svg", "404 404 404 404 404 404 404 404"),
    "t/practice/": row("/t/practice/", "404 404 404 404 404 404 404 404"),
    "t/practice/now/": row("/t/practice/now/", "404 404 404 404 404 404 404 404"),
    "t/practice/<int:place>/": row("/t/practice/1/", "404 404 404 404 404 404 404 404"),
    "t/<slug:token>": row(f"/t/{'x' * 43}", "404 404 404 404 404 404 404 404"),
    "t/<path:rest>": row("/t/some/thing/else/", "404 404 404 404 404 404 404 404"),
    "robots.txt": row("/robots.txt", "200 200 200 200 200 200 200 200"),
    "drill/": row("/drill/", "200 200 200 200 200 200 403 302"),
    "drill/<int:seed>/<int:count>/score/": row("/drill/2/5/score/", "200 200 200 200 200 200 403 302"),
    "drill/<int:seed>/<int:count>/<int:place>/": row("/drill/2/5/1/", "200 200 200 200 200 200 403 302"),
    # in a drill alone
    "drill/night/": row("/drill/night/", "404 404 404 404 404 404 403 302"),
    "drill/night/on/": row("/drill/night/on/", "405 405 405 405 405 405 403 302"),
    "drill/night/ringing/": row("/drill/night/ringing/", "404 404 404 404 404 404 403 302"),
    "drill/night/score/": row("/drill/night/score/", "404 404 404 404 404 404 403 302"),
    "drill/night/<slug:case>/": row("/drill/night/DRILL-01/", "404 404 404 404 404 404 403 302"),
    "results/": row("/results/", "200 200 403 200 403 200 403 302"),
    "results/list/": row("/results/list/", "405 405 405 405 405 405 403 302"),
    f"{C}results/": row("/cases/K-103/results/", "200 200 403 200 403 404 403 302"),
    f"{C}results/<int:entry>/withdraw/": row("/cases/K-103/results/1/withdraw/", "405 405 405 405 405 405 403 302"),
    f"{C}results/<int:entry>/<int:number>-<slug:look>.svg": row(
        "/cases/K-103/results/1/0-light.svg", "404 404 403 404 403 404 403 302"
    ),
    "slots/": row("/slots/", "200 200 200 200 200 200 403 302"),
    "slots/place/": row("/slots/place/", "405 405 405 405 405 405 403 302"),
    "slots/list/": row("/slots/list/", "405 405 405 405 405 405 403 302"),
    f"{S}give/": row("/slots/2026-11-20/s3/give/", "405 405 405 405 405 405 403 302"),
    "rules/": row("/rules/", "200 200 200 200 200 200 403 302"),
    "rules/barrel/": row("/rules/barrel/", "405 405 405 405 405 405 403 302"),
    "sources/": row("/sources/", "200 200 200 200 200 200 403 302"),
    "month/": row("/month/", "403 403 403 200 403 200 403 302"),
    "staff/": row("/staff/", "200 200 200 200 200 200 403 302"),
    "unlock": row("/unlock", "302 302 302 302 302 302 302 302"),
    "livez": row("/livez", "200 200 200 200 200 200 200 200"),
    "readyz": row("/readyz", "503 503 503 503 503 503 503 503"),  # nobody watches this clinic,
}
"""The pages of our own."""

ACCOUNTS = {
    "login/": "302 302 200",
    "logout/": "200 200 302",
    "inactive/": "200 200 200",
    "signup/": "302 302 200",
    "reauthenticate/": "200 200 302",
    "email/": "404 404 404",
    "confirm-email/": "404 404 404",
    "password/change/": "200 200 302",
    "password/set/": "302 302 302",
    "password/reset/": "200 200 200",
    "password/reset/done/": "200 200 200",
    "password/reset/key/done/": "200 200 200",
    "password/reset/key/1-x/": "200 200 200",
    "confirm-email/abc/": "404 404 404",
    "login/code/confirm/": "302 302 302",
    "2fa/": "200 200 302",
    "2fa/authenticate/": "302 302 302",
    "2fa/reauthenticate/": "302 302 302",
    "2fa/totp/activate/": "302 302 302",
    "2fa/totp/deactivate/": "404 404 302",
    "2fa/recovery-codes/": "404 404 302",
    "2fa/recovery-codes/generate/": "302 302 302",
    "2fa/recovery-codes/download/": "404 404 302",
    "2fa/webauthn/": "200 200 302",
    "2fa/webauthn/add/": "302 302 302",
    "2fa/webauthn/reauthenticate/": "302 302 302",
    "2fa/webauthn/keys/1/remove/": "302 302 302",
    "2fa/webauthn/keys/1/edit/": "302 302 302",
    "2fa/webauthn/login/": "302 302 302",
    "sessions/": "200 200 302",
}
"""The pages of signing in, and of each person's own keys and sessions, which are the same for every role: they show nothing of a clinic.

For a member, for an account of no clinic, and for who is not signed in.
"""

BEGINS = "accounts/"


def walk(patterns: list[Any], begins: str = "") -> Iterator[tuple[str, Any]]:
    """Every address there is, as it is written, with what answers it."""
    for one in patterns:
        if isinstance(one, URLResolver):
            yield from walk(one.url_patterns, begins + str(one.pattern))
        else:
            assert isinstance(one, URLPattern)
            yield begins + str(one.pattern), one.callback


def asked(sign_in: SignIn, path: str, who: Iterable[str] = tuple(WHO.values())) -> str:
    clients = (sign_in(username) if username else Client(SERVER_NAME="localhost") for username in who)
    return " ".join(str(client.get(path).status_code) for client in clients)


@pytest.mark.parametrize("one", OURS.values(), ids=lambda one: one.path)
def test_everybody_is_answered_as_the_table_says(sign_in: SignIn, site: Desk, one: Row) -> None:
    assert asked(sign_in, one.path) == one.statuses


def test_signing_in_is_answered_as_the_table_says(sign_in: SignIn, site: Desk) -> None:
    found = {address: asked(sign_in, f"/{BEGINS}{address}", ("kowal", "nobody", "")) for address in ACCOUNTS}
    assert found == ACCOUNTS


def test_every_address_of_ours_has_a_row() -> None:
    there = [address for address, _ in walk(urls.urlpatterns) if not address.startswith(BEGINS)]
    assert sorted(there) == sorted(OURS)


def test_every_address_of_signing_in_has_a_row() -> None:
    there = [address.removeprefix(BEGINS) for address, _ in walk(urls.urlpatterns) if address.startswith(BEGINS)]
    for address in set(there):
        written = re.sub(r"<str:\w+>", "abc", re.sub(r"<int:\w+>", "1", address)).strip("^$")
        written = re.sub(r"\(\?P<(\w+)>[^)]*\)", lambda found: {"uidb36": "1", "key": "abc"}[found[1]], written)
        assert written in {*ACCOUNTS, "password/reset/key/1-abc/"}, address


def test_no_address_is_asked_by_anything_but_its_own_methods(sign_in: SignIn, site: Desk) -> None:
    before = heads(site)
    client = sign_in("kowal")
    for one in OURS.values():
        for method in ("PUT", "DELETE", "PATCH"):
            answer = client.generic(method, one.path)
            assert answer.status_code in (
                (405,) if not one.path.endswith("z") and one.path != "/unlock" else (200, 302, 405, 503)
            )
    assert heads(site) == before


@pytest.mark.parametrize("who", ["stranger", "nobody", ""], ids=["another clinic", "no clinic", "not signed in"])
def test_nobody_from_outside_gets_a_word_of_this_clinic(sign_in: SignIn, site: Desk, who: str) -> None:
    before = heads(site)
    for one in OURS.values():
        for method in ("GET", "POST"):
            client = sign_in(who) if who else Client(SERVER_NAME="localhost")
            answer = client.generic(method, one.path)
            assert answer.status_code != 500
            for word in (b"A. Kowal", b"orange coat", b"Quillmere", b"leuprolide acetate 4 mg", b"Z. Q."):
                assert word not in answer.content, (one.path, word)
    assert {stream: seq for stream, seq in heads(site).items() if before.get(stream) != seq} == {}


def test_a_post_without_anything_in_it_breaks_no_page(sign_in: SignIn, site: Desk) -> None:
    for who in ("kowal", "aumont", "brandt"):
        for one in OURS.values():
            client = sign_in(who)
            client.raise_request_exception = False
            answer = client.post(one.path, {})
            assert answer.status_code != 500, (who, one.path)
            assert "hourmark has failed" not in (text_of(answer) if not answer.streaming else "")


def test_every_page_of_ours_has_a_file_of_tests_that_names_it() -> None:
    files = [path.read_text("utf-8") for path in Path(__file__).parent.glob("test_*.py") if path != Path(__file__)]
    unnamed = []
    for address, _ in walk(urls.urlpatterns):
        if address.startswith(BEGINS):
            continue
        pieces = [piece for piece in re.split(r"<[^>]*>", f"/{address}") if piece.strip("/")]
        if address and not any(all(_begins(piece) in text for piece in pieces) for text in files):
            unnamed.append(address)
    assert unnamed == []


def _begins(piece: str) -> str:
    """The words of a piece of an address, as a test would write it after whatever stands for what was filled in."""
    return piece.lstrip("/")


def test_what_answers_an_address_is_answered_by_one_page_alone() -> None:
    views = [view for address, view in walk(urls.urlpatterns) if not address.startswith(BEGINS)]
    assert len(views) == len(set(views))
