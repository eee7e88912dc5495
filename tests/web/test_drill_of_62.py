"""A drill of all 62 calls on the real pages, from the first that rings to the score sheet: what each page gives is what the drill wants."""

import html
import re
from collections.abc import Iterator

import pytest
from django.contrib.auth import get_user_model
from django.db import connections
from django.test import Client, override_settings

from hourmark.drill.cast import Caller, cast
from hourmark.drill.folder import Drill, open_folder
from hourmark.drill.recorded import on_the_record
from hourmark.store.setup import migrate
from hourmark.web import work
from hourmark.web.drill_start import take_up
from tests.drill.right import right
from tests.web.conftest import _use, hashed_quickly
from tests.web.seen import text_of

SEED = 7
NAMES = {
    "prescriber": "Dr. L. Aumont",
    "pharmacist": "M. Devi",
    "nurse": "A. Kowal",
    "signed rule": "the signed rule",
    "emergency services": "emergency services",
}


@pytest.fixture(scope="module")
def nurse(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Client]:
    """She who takes every call, before the first of them rings."""
    folder = tmp_path_factory.mktemp("drilled") / "drill"
    drill = open_folder(folder, SEED, None)
    assert isinstance(drill, Drill)
    _use(folder / "record.sqlite")
    work._DESKS.clear()
    with hashed_quickly(), override_settings(SECOND_FACTOR=False, DRILL=str(folder)):
        migrate("default")
        take_up(drill, None, "a long enough password")
        client = Client(SERVER_NAME="localhost")
        client.force_login(get_user_model().objects.get(username="kowal"))
        yield client
    connections["default"].close()
    work._DESKS.clear()


def post(client: Client, path: str, **fields: str) -> str:
    answer = client.post(path, fields | {"key": f"{path} {sorted(fields.items())}"[:200], "seen": "0"})
    assert answer.status_code == 302, (path, text_of(answer))
    return str(answer["Location"])


def test_from_the_first_that_rings_to_the_score_sheet(nurse: Client) -> None:
    wrong: dict[str, list[str]] = {}
    callers = cast(SEED, 62)
    for one in callers:
        until_she_rings(nurse)
        page = text_of(nurse.get("/drill/night/"))
        assert f"{one.case}, {one.initials}: rings since" in page
        path = post(nurse, f"/drill/night/{one.case}/", ask=one.round.first)
        if on_the_record(one.round.scene):
            on_the_real_pages(nurse, one)
            post(nurse, path, end="1")
        else:
            said = right(one.round)
            post(nurse, path, end="1", kind=said.kind, number=said.number, who=said.who, note=said.note)
        lines = re.findall(r'<th scope="row">([^<]+)</th><td><strong>. wrong<', text_of(nurse.get(path)))
        if lines:
            wrong[one.round.scene.call.id] = lines
    assert wrong == {}
    sheet = text_of(nurse.get("/drill/night/score/"))
    assert "62 of 62 calls answered" in sheet
    points = re.search(r"In all</th><td><strong>(\d+) of (\d+)<", sheet)
    assert points is not None
    assert points[1] == points[2]
    for one in callers:
        assert html.escape(one.round.scene.call.question) in sheet
        for said_with in one.round.scene.call.say:
            assert html.escape(said_with.source) in sheet
    assert "Nobody rings any more" in text_of(nurse.get("/drill/night/"))


def until_she_rings(nurse: Client) -> None:
    following = re.search(r'name="to" value="([^"]+)"', text_of(nurse.get("/drill/night/")))
    if following is not None:
        post(nurse, "/drill/night/on/", to=following[1])


def on_the_real_pages(nurse: Client, one: Caller) -> None:
    """What the scene holds, typed where a nurse types it; who was told and what, as the page itself has it ready."""
    scene = one.round.scene
    trouble = f"/cases/{one.case}/trouble/"
    kept = post(nurse, f"{trouble}danger/") if scene.danger else post(nurse, f"{trouble}{scene.kind}/", **facts(one))
    about = re.search(r'<textarea id="about"[^>]*>([^<]*)</textarea>', text_of(nurse.get(kept)))
    assert about is not None
    ready, who = html.unescape(about[1]), NAMES[str(scene.who)]
    if scene.who != "nurse":
        post(nurse, f"{kept}told/", told=who, reached="yes", about=ready, reply="as it is")
    decided = {"decided_by": who, "decision": ready or "as said", "follows": "", "settled": "false"}
    post(nurse, f"{kept}settle/", **decided)


def facts(one: Caller) -> dict[str, str]:
    scene = one.round.scene
    typed = dict(scene.facts) or {"symptoms": "no", "injection": one.written["order"]["injections"][0]["id"]}
    if "at" in typed:
        typed["at_day"], typed["at"] = typed["at"].split(" ")
    return typed
