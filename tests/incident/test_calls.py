"""The 62 calls: each is there, carries what it must, and the computed ones come to the number worked by hand, in two ways."""

import re
import tomllib
from collections.abc import Iterator
from typing import Any

import pytest

from hourmark.drill import Scene, answer_of, number_of, scene, scenes
from hourmark.drill.again import again
from hourmark.drill.scenes import written_nights, written_scenes
from hourmark.formulary import Unsourced
from hourmark.incident import Kind, Who
from hourmark.incident.calls import Call, Decider, Sort, call, calls, first_moves, read_call
from tests.case.world import ROOT
from tests.incident import calls_page
from tests.incident.call_rows import LETTERS, ROWS, Row

DATA = ROOT / "src/hourmark/incident/data/calls.toml"
WRITTEN: dict[str, Any] = tomllib.loads(DATA.read_text(encoding="utf-8"))


def by_id(row: Row) -> str:
    return row.id


def sentences(one: Call) -> Iterator[str]:
    """Every sentence a nurse may say or do from a call."""
    yield from (one.question, *one.ask, *one.look, *(said.text for said in one.say), *one.never)
    yield from (decides.when for decides in one.decides)


def test_all_62_are_there_in_order() -> None:
    assert [one.id for one in calls()] == [row.id for row in ROWS] == [f"C{number:02d}" for number in range(1, 63)]
    assert [one.call.id for one in scenes()] == [row.id for row in ROWS]


@pytest.mark.parametrize("row", ROWS, ids=by_id)
def test_is_answered_in_its_way_by_whoever_decides(row: Row) -> None:
    one = call(row.id)
    assert one.sort is row.sort
    assert [decides.who for decides in one.decides] == [LETTERS[letter] for letter in row.who]
    assert all(decides.when for decides in one.decides)
    assert one.ask
    assert one.say
    assert min(len(one.phrases["en"]), len(one.phrases["es"])) >= 3


@pytest.mark.parametrize("row", [row for row in ROWS if row.sort is Sort.COMPUTED], ids=by_id)
def test_the_number_is_the_one_worked_by_hand_in_both_ways(row: Row) -> None:
    assert number_of(scene(row.id)) == row.number, row.sum
    assert worked_again(scene(row.id)) == row.number, row.sum
    assert row.source


@pytest.mark.parametrize("row", [row for row in ROWS if row.sort is not Sort.COMPUTED], ids=by_id)
def test_only_a_computed_call_has_a_number(row: Row) -> None:
    assert scene(row.id).wants is None
    assert number_of(scene(row.id)) is None
    assert call(row.id).look or row.sort is Sort.SAID


def worked_again(one: Scene) -> str:
    case, night = written_nights()[one.case]
    return again(str(one.call.kind), written_scenes()[one.call.id], case, night)


def test_a_computed_call_names_what_is_computed() -> None:
    assert [one.id for one in calls() if one.sort is Sort.COMPUTED and one.kind is None] == []


def test_every_kind_of_trouble_has_a_call() -> None:
    assert {one.kind for one in calls() if isinstance(one.kind, Kind)} == set(Kind)


@pytest.mark.parametrize("one", calls(), ids=lambda one: one.id)
def test_no_sentence_holds_a_digit(one: Call) -> None:
    """A number is worked out for the case or read off; none stands ready to be said of somebody else."""
    found = [text for text in sentences(one) if re.search(r"\d", text.replace("U-100", ""))]
    assert found == []


@pytest.mark.parametrize("one", calls(), ids=lambda one: one.id)
def test_no_dose_is_proposed(one: Call) -> None:
    """Nothing tells her to take, add or repeat a medicine outside her order: such words stand only where they are forbidden."""
    for said in one.say:
        assert not re.search(r"\b(top up|inject again|take another|double the|increase|more medicine)\b", said.text), (
            said
        )


@pytest.mark.parametrize("one", calls(), ids=lambda one: one.id)
def test_every_sentence_says_where_it_comes_from(one: Call) -> None:
    for said in one.say:
        assert said.text.endswith((".", "?"))
        assert re.search(r"\((read|from|derived)[^)]*\)$|common practice, no source|hourmark's own rule", said.source)


def test_every_source_is_used() -> None:
    written = [source for entry in WRITTEN["calls"] for _, source in entry["say"]]
    written += [source for _, source in WRITTEN["every"]["first"]]
    used = {source.partition(" ")[2].partition(",")[0] for source in written}
    assert set(WRITTEN["sources"]) - used == set()


def test_the_first_moves_begin_with_danger_before_any_dose() -> None:
    texts = [said.text for said in first_moves()]
    danger = next(place for place, text in enumerate(texts) if "emergency services" in text)
    assert danger < next(place for place, text in enumerate(texts) if "already gone in" in text)


FLAGS = ("C53", "C54", "C55", "C58")


def test_red_flags_are_these() -> None:
    assert tuple(one.id for one in calls() if one.red_flag) == FLAGS


@pytest.mark.parametrize("call_id", FLAGS)
def test_a_red_flag_goes_to_the_emergency_services_before_anything(call_id: str) -> None:
    """Reprod Biol Endocrinol 2012;10:32, table of grades; torsion, allergy and infection: common practice, no source."""
    one = call(call_id)
    assert one.decides[0].who is Decider.EMERGENCY
    assert "emergency services now" in one.say[0].text
    assert one.sort is not Sort.COMPUTED
    assert one.kind is None
    assert one.signs


@pytest.mark.parametrize("row", [row for row in ROWS if scene(row.id).facts], ids=by_id)
def test_whoever_decides_in_a_scene_is_never_laxer_than_the_incident_room(row: Row) -> None:
    found = answer_of(scene(row.id))
    assert found is not None
    if found.decides is not Who.NURSE:
        assert scene(row.id).who is Decider.PRESCRIBER
    assert scene(row.id).who in {decides.who for decides in call(row.id).decides}


@pytest.mark.parametrize("one", scenes(), ids=lambda one: one.call.id)
def test_a_scene_is_decided_by_somebody_its_call_names(one: Scene) -> None:
    assert one.who in {decides.who for decides in one.call.decides}
    assert bool(one.wants) == (one.call.sort is Sort.COMPUTED)


def test_an_entry_that_lacks_something_is_refused_and_named() -> None:
    whole = WRITTEN["calls"][9]
    assert read_call(whole) == call("C10")
    for wrong in (
        {key: value for key, value in whole.items() if key != "never"},
        whole | {"dose": "1 mg"},
        whole | {"sort": "guessed"},
        whole | {"kind": "bad-luck"},
        whole | {"who": [["nobody", "always"]]},
        whole | {"say": [["A sentence.", "found no-such-paper"]]},
        whole | {"say": [["A sentence.", "hearsay"]]},
        whole | {"say": [["A sentence.", "found"]]},
    ):
        with pytest.raises(Unsourced, match="C10"):
            read_call(wrong)


def test_an_unknown_call_is_none() -> None:
    with pytest.raises(KeyError):
        call("C63")


def test_the_chapter_is_this_table() -> None:
    assert calls_page.PAGE.read_text(encoding="utf-8") == calls_page.page(), (
        "docs/manual/calls.md is stale: .venv/bin/python -m tests.incident.calls_page"
    )
