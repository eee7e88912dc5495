"""Practice calls on pages: the very drill of the command, on pages of its own look, which touch no case and no record."""

import re

import pytest
from django.test import Client

from hourmark.desk import Desk
from hourmark.drill import BANNER, Round, Scored, rounds, score, totals
from hourmark.incident.calls import calls
from hourmark.web.models import Look
from tests.drill.right import right
from tests.web.manners import SignIn, heads, knows_only, sends_to_sign_in
from tests.web.seen import Page, look, read

SEED, COUNT = 7, 4
FIRST = f"/drill/{SEED}/{COUNT}/1/"
SHEET = f"/drill/{SEED}/{COUNT}/score/"


def answered(client: Client, one: Round, **change: str) -> Page:
    """A call answered rightly, but for what is changed."""
    said = right(one)
    address = f"/drill/{SEED}/{COUNT}/{one.place}/"
    asked = read(client.post(address, {"ask": change.get("ask", said.ask)}))
    form = asked.form() | {"kind": said.kind, "number": said.number, "who": said.who, "note": said.note} | change
    return read(client.post(address, form))


def test_it_begins_with_a_seed_and_a_number_of_calls(sign_in: SignIn) -> None:
    client = sign_in("kowal")
    assert client.get("/drill/?seed=7&calls=4")["Location"] == FIRST
    assert "/drill/" in look(client, "/night/").links()


@pytest.mark.parametrize("asked", ["seed=x&calls=4", "seed=7&calls=0", "seed=7&calls=63", "seed=7", "seed=-1&calls=4"])
def test_what_is_no_drill_is_said(sign_in: SignIn, asked: str) -> None:
    assert f"1 to {len(calls())} calls" in look(sign_in("kowal"), f"/drill/?{asked}").main()


def test_she_says_more_only_when_she_has_been_asked(sign_in: SignIn) -> None:
    client = sign_in("kowal")
    (one, *_) = rounds(SEED, COUNT)
    page = look(client, FIRST)
    assert one.scene.words in page.main()
    assert one.scene.told not in page.main()
    assert set(one.first_questions) <= {element.attributes.get("value") for element in page.elements}
    assert "ask" not in page.form()
    assert one.scene.told in read(client.post(FIRST, {"ask": one.first})).main()


def test_a_drill_runs_from_its_first_call_to_the_score_sheet(sign_in: SignIn) -> None:
    client = sign_in("kowal")
    asked = rounds(SEED, COUNT)
    for one in asked:
        page = answered(client, one)
        assert "✖ wrong" not in page.main()
        assert (f"/drill/{SEED}/{COUNT}/{one.place + 1}/" in page.links()) == (one.place < COUNT)
    sheet = look(client, SHEET)
    found = [score(one, right(one)) for one in asked]
    most = sum(of for _, of in totals([one for one in found if isinstance(one, Scored)]).values())
    assert f"{COUNT} of {COUNT} calls answered by A. Kowal" in sheet.main()
    assert sheet.texts("td")[-1] == f"{most} of {most}"
    for one in asked:
        for sentence in one.scene.call.say:
            assert f"{sentence.text} [{sentence.source}]" in sheet.main()


def test_what_is_wrong_is_said_with_what_is_right(sign_in: SignIn) -> None:
    client = sign_in("kowal")
    (one, *_) = rounds(SEED, COUNT)
    other = next(words for words in one.first_questions if words != one.first)
    page = answered(client, one, ask=other, who="")
    assert page.main().count("✖ wrong") == 2
    assert one.first in page.main()


def test_another_drill_has_no_answer_of_this_one(sign_in: SignIn) -> None:
    client = sign_in("kowal")
    answered(client, rounds(SEED, COUNT)[0])
    assert f"1 of {COUNT} calls answered" in look(client, SHEET).main()
    assert "0 of 4 calls answered" in look(client, "/drill/8/4/score/").main()
    assert "0 of 4 calls answered" in look(sign_in("ortiz"), SHEET).main()


def test_every_page_says_above_and_below_that_it_is_a_drill(sign_in: SignIn) -> None:
    client = sign_in("kowal")
    pages = [look(client, one) for one in ("/drill/", FIRST, SHEET)]
    pages.append(read(client.post(FIRST, {"ask": "x"})))
    pages.append(answered(client, rounds(SEED, COUNT)[0]))
    for page in pages:
        bars = [one.text for one in page.elements if one.has_class("drill-bar")]
        assert bars == [BANNER, BANNER]
        assert page.texts("title")[0].startswith("DRILL: ")
        assert any(one.name == "html" and one.has_class("drill") for one in page.elements)
        assert not [one for one in page.links() if re.match("/cases/|/slots/|/rules/", one)]
        assert not [one for one in page.elements if one.name == "nav"]


def test_a_drill_touches_no_record_and_looks_at_no_case(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("kowal")
    before, looks = heads(site), Look.objects.count()
    for one in rounds(SEED, COUNT):
        answered(client, one)
    look(client, SHEET)
    assert heads(site) == before
    assert Look.objects.count() == looks


@pytest.mark.parametrize(
    "address", ["/drill/7/0/1/", "/drill/7/63/1/", "/drill/7/4/5/", "/drill/7/4/0/", "/drill/7/0/score/"]
)
def test_there_is_no_other_call(sign_in: SignIn, address: str) -> None:
    assert sign_in("kowal").get(address).status_code == 404


def test_nobody_practises_without_signing_in_and_by_no_other_method(sign_in: SignIn, client_of_nobody: Client) -> None:
    for address in ("/drill/", FIRST, SHEET):
        sends_to_sign_in(client_of_nobody, address, "GET")
    knows_only(sign_in("kowal"), "/drill/", "GET")
    knows_only(sign_in("kowal"), SHEET, "GET")
    knows_only(sign_in("kowal"), FIRST, "GET", "POST")
