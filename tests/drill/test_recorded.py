"""A call scored out of the record: everything right, and each part wrong by itself."""

from dataclasses import replace

import pytest

from hourmark.drill import Part, Round, Scene, Scored, right_number, rounds, scenes, scoring
from hourmark.drill.numbers import answer_of, number_in
from hourmark.drill.recorded import Recorded, deciders_of, on_the_record, score_recorded
from hourmark.finding import Finding
from hourmark.incident import Kind, Who

ROUNDS = {one.scene.call.id: one for one in rounds(1)}
RECORDED = [one for one in scenes() if on_the_record(one)]
LATER = "2026-11-18 22:34"


def right(scene: Scene, **other: object) -> Recorded:
    """What stands on the record when everything was done as it should be."""
    answer = answer_of(scene)
    number = number_in(answer, scene) if scene.wants is not None else ""
    who = str(scene.who)
    whole = Recorded(scene.kind, dict(scene.facts), scene.now, scene.now, number, (who,), f"Dr. X ({who}): {number}")
    return replace(whole, **other)  # type: ignore[arg-type]


def scored(call: str, recorded: Recorded, ask: str | None = None) -> dict[Part, bool]:
    one = ROUNDS[call]
    found = score_recorded(one, one.first if ask is None else ask, recorded)
    assert isinstance(found, Scored), found
    return dict(found.right)


def wrong(call: str, **other: object) -> set[Part]:
    one = ROUNDS[call].scene
    return {part for part, is_right in scored(call, right(one, **other)).items() if not is_right}


def test_the_calls_that_are_answered_on_the_real_pages() -> None:
    assert len(RECORDED) == 24
    assert {one.call.id for one in RECORDED if one.danger} == {"C53", "C54", "C55"}
    assert all(isinstance(one.call.kind, Kind) for one in RECORDED if not one.danger)
    assert not any(on_the_record(one) for one in scenes() if one not in RECORDED)


@pytest.mark.parametrize("one", RECORDED, ids=lambda one: one.call.id)
def test_everything_right(one: Scene) -> None:
    found = scored(one.call.id, right(one))
    assert all(found.values()), found
    assert (Part.NUMBER in found) is (one.wants is not None)
    assert (Part.FACTS in found) is bool(one.facts)
    assert {Part.KIND, Part.ASK, Part.WHO, Part.NOTE} <= set(found)


@pytest.mark.parametrize("one", RECORDED, ids=lambda one: one.call.id)
def test_nothing_on_the_record_is_wrong_in_every_part(one: Scene) -> None:
    assert not any(scored(one.call.id, Recorded(until=one.now), ask="").values())


@pytest.mark.parametrize(
    ("other", "parts"),
    [
        ({"kind": "late"}, {Part.KIND, Part.FACTS}),
        ({"kind": "danger"}, {Part.KIND, Part.FACTS}),
        ({"number": "1,000 units"}, {Part.NUMBER, Part.NOTE}),
        ({"number": ""}, {Part.NUMBER, Part.NOTE}),
        ({"deciders": ()}, {Part.WHO}),
        ({"deciders": ("nurse",)}, {Part.WHO}),
        ({"note": ""}, {Part.NOTE}),
        ({"note": "Dr. X (prescriber): leave it"}, {Part.NOTE}),
        ({"note": "1,500 units went in"}, {Part.NOTE}),
        ({"deciders": ("pharmacist", "prescriber")}, set()),
    ],
)
def test_each_part_is_right_by_itself(other: dict[str, object], parts: set[Part]) -> None:
    assert wrong("C18", **other) == parts


def test_what_was_asked_first_is_a_part_as_well() -> None:
    found = scored("C18", right(ROUNDS["C18"].scene), ask="something else")
    assert {part for part, is_right in found.items() if not is_right} == {Part.ASK}


@pytest.mark.parametrize(
    ("call", "fact", "said"),
    [
        ("C18", "drawn", "0.2 mL"),
        ("C18", "at", "2026-11-18 22:05"),
        ("C18", "injection", "agonist"),
        ("C18", "injected", "no"),
        ("C12", "lost", "half"),
        ("C19", "residue", "0.2 mL"),
        ("C02", "strength", "5 mg/mL"),
        ("C34", "missed", "agonist"),
        ("C38", "drug", "cetrorelix"),
        ("C40", "times", "1"),
        ("C11", "route", "intramuscular"),
        ("C26", "all", "not known"),
    ],
)
def test_a_fact_that_she_did_not_say_is_wrong(call: str, fact: str, said: str) -> None:
    facts = dict(ROUNDS[call].scene.facts)
    assert facts[fact] != said
    assert wrong(call, said=facts | {fact: said}) == {Part.FACTS}
    del facts[fact]
    assert wrong(call, said=facts) == {Part.FACTS}


@pytest.mark.parametrize(
    ("call", "fact", "said"),
    [
        ("C12", "lost", "25 % to 50 %"),
        ("C38", "drug", "the Ganirelix syringe"),
        ("C02", "strength", "400 mcg/mL"),
    ],
)
def test_a_fact_that_is_written_otherwise_is_right(call: str, fact: str, said: str) -> None:
    facts = dict(ROUNDS[call].scene.facts) | {fact: said}
    assert wrong(call, said=facts) == set()


def test_how_far_it_was_filled_may_be_read_off_the_syringe_instead() -> None:
    facts = {name: words for name, words in ROUNDS["C18"].scene.facts.items() if name != "drawn"}
    by_mark = facts | {"mark": "30", "barrel": "u100-1mL-1"}
    assert wrong("C18", said=by_mark) == set()
    assert wrong("C18", said=by_mark, number="1,400 units", note="prescriber: 1,400 units") == {
        Part.FACTS,
        Part.NUMBER,
        Part.NOTE,
    }


def test_more_than_she_was_asked_does_no_harm() -> None:
    facts = dict(ROUNDS["C18"].scene.facts) | {"water": "2 mL", "words": "the wrong line", "nonsense": "yes"}
    assert wrong("C18", said=facts) == set()


# Who decides


@pytest.mark.parametrize("one", RECORDED, ids=lambda one: one.call.id)
def test_the_prescriber_is_never_wrong_where_the_page_sends_her_there(one: Scene) -> None:
    found = answer_of(one)
    lax = one.danger or (found is not None and found.decides is Who.NURSE)
    told = scored(one.call.id, right(one, deciders=("prescriber",), note=f"the prescriber: {right(one).number}"))
    assert told[Part.WHO] is told[Part.NOTE] is not lax
    assert str(one.who) == deciders_of(one)[0]


def test_what_a_nurse_decides_goes_to_nobody_else() -> None:
    assert wrong("C26", deciders=("nurse", "prescriber")) == {Part.WHO}
    assert wrong("C26", deciders=("nurse",)) == set()


# Hours that run


def test_hours_that_run_are_right_as_of_the_minute_of_the_report() -> None:
    one = ROUNDS["C27"].scene
    assert (right_number(one), right_number(one, "2026-11-18 23:12")) == ("34 h", "33 h 48 min")
    late = {"at": "2026-11-18 23:12", "until": "2026-11-18 23:15"}
    assert wrong("C27", **late, number="33 h 48 min", note="prescriber: 33 h 48 min") == set()
    assert wrong("C27", **late, number="34 h", note="prescriber: 34 h") == {Part.NUMBER, Part.NOTE}


@pytest.mark.parametrize(("said", "is_right"), [("33 h 48 min", True), ("33 h 45 min", True), ("33 h 44 min", False)])
def test_in_the_note_they_are_right_as_of_any_minute_of_the_call(said: str, is_right: bool) -> None:
    late = {"at": "2026-11-18 23:12", "until": "2026-11-18 23:15", "number": "33 h 48 min"}
    assert (wrong("C27", **late, note=f"the prescriber: {said}") == set()) is is_right


def test_a_dose_in_the_note_is_that_of_the_report_alone() -> None:
    assert wrong("C18", until=LATER, note="the prescriber: 1,499 units") == {Part.NOTE}


def test_a_number_that_does_not_come_out_twice_is_a_stop(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(scoring, "number_of", lambda _: "1,400 units")
    one: Round = ROUNDS["C18"]
    found = score_recorded(one, one.first, right(one.scene))
    assert isinstance(found, Finding)
    assert found.code == "drill-disagrees"
