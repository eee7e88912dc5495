"""The drill: the same seed gives the same night, every number is worked out twice, and each part of an answer is right by itself."""

from dataclasses import replace

import pytest

from hourmark.drill import (
    DECIDERS,
    KINDS,
    Answers,
    Part,
    Round,
    Scene,
    Scored,
    Wants,
    answers_from,
    card,
    case_plan,
    read_number,
    right_number,
    rounds,
    scene,
    scenes,
    score,
    scoring,
    totals,
)
from hourmark.drill.again import Unclear, again
from hourmark.drill.numbers import Doubtful, agrees, number_of
from hourmark.drill.scenes import NIGHTS, night_plan, written_nights, written_scenes
from hourmark.finding import Finding, Unreadable
from hourmark.incident import Kind, read_facts
from hourmark.incident.calls import Sort, calls
from tests.drill.right import all_right, as_file, right

CASES = sorted(written_nights(), key=lambda case: int(case[1:]))
COMPUTED = [one for one in scenes() if one.wants is not None]


def scored(one: Round, answers: Answers) -> Scored:
    found = score(one, answers)
    assert isinstance(found, Scored), found
    return found


def round_of(call_id: str) -> Round:
    return next(one for one in rounds(1) if one.scene.call.id == call_id)


# The night and its order


def test_a_drill_has_every_call_one_time() -> None:
    assert sorted(one.scene.call.id for one in rounds(7)) == [one.id for one in calls()]
    assert [one.place for one in rounds(7)] == list(range(1, 63))


def test_the_seed_decides_the_order_and_the_choices() -> None:
    assert rounds(7) == rounds(7)
    assert [one.scene for one in rounds(7)] != [one.scene for one in rounds(8)]
    assert rounds(7, 5) == rounds(7)[:5]


@pytest.mark.parametrize("seed", range(5))
def test_one_first_question_is_right_and_the_others_belong_to_other_calls(seed: int) -> None:
    for one in rounds(seed):
        assert len(set(one.first_questions)) == 4
        assert [text for text in one.first_questions if text in one.scene.call.ask] == [one.first]


def test_every_scene_can_be_answered_with_the_choices_there_are() -> None:
    assert {one.kind for one in scenes()} <= set(KINDS)
    assert {str(one.who) for one in scenes()} == set(DECIDERS)


@pytest.mark.parametrize("case", CASES)
def test_an_invented_case_is_planned_without_a_stop(case: str) -> None:
    assert not case_plan(case).refused
    assert not case_plan(case).asks


@pytest.mark.parametrize("name", NIGHTS)
def test_an_invented_night_cannot_be_mistaken(name: str) -> None:
    assert "DRILL" in night_plan(name).night.clinic.name
    assert "invented" in night_plan(name).night.clinic.name


@pytest.mark.parametrize("one", [one for one in scenes() if one.facts], ids=lambda one: one.call.id)
def test_what_she_says_is_read_whole(one: Scene) -> None:
    kind = one.call.kind if isinstance(one.call.kind, Kind) else Kind.LATE
    facts = read_facts(kind, one.facts)
    assert facts.again == ()
    assert facts.symptoms is False


@pytest.mark.parametrize("case", CASES)
def test_a_card_gives_neither_minute_nor_mark(case: str) -> None:
    plan = case_plan(case)
    text = "\n".join(card(case))
    for one in plan.injections:
        assert one.timed is not None
        assert plan.slot is not None
        clock = format(one.timed.patient.wall, "%H:%M")
        assert clock not in text.replace(str(plan.slot.at), "")
    assert "mark" not in text
    assert "window" in text
    assert "At home" in text


# Twice


@pytest.mark.parametrize("one", COMPUTED, ids=lambda one: one.call.id)
def test_every_number_comes_out_the_same_twice(one: Scene) -> None:
    assert isinstance(right_number(one), str)


def test_a_number_that_does_not_come_out_twice_is_a_stop(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(scoring, "number_of", lambda _: "1,000 units")
    found = score(round_of("C18"), right(round_of("C18")))
    assert isinstance(found, Finding)
    assert (found.code, str(found.level)) == ("drill-disagrees", "stop")
    assert "1,000 units" in found.what
    assert "1,500 units" in found.what


def test_a_scene_without_its_number_is_a_stop() -> None:
    one = replace(round_of("C18"), scene=replace(scene("C18"), facts={"symptoms": "no", "injection": "hcg"}))
    found = score(one, Answers())
    assert isinstance(found, Finding)
    assert found.code == "drill-disagrees"


@pytest.mark.parametrize(
    "changed",
    [
        {"injection": "nothing"},
        {"now": "2026-11-01 01:30"},
        {"facts": {}},
    ],
)
def test_a_number_that_is_not_there_is_doubtful(changed: dict[str, object]) -> None:
    with pytest.raises(Doubtful):
        number_of(replace(scene("C18"), **changed))  # type: ignore[arg-type]


def test_the_second_way_knows_what_it_cannot_work_out() -> None:
    case, night = written_nights()["D3"]
    with pytest.raises(Unclear):
        again("wrong-mark", {**written_scenes()["C18"], "wants": "luck"}, case, night)


# Reading and scoring


@pytest.mark.parametrize(
    ("wants", "typed", "right_one"),
    [
        (Wants.DOSE, "1500 units", "1,500 units"),
        (Wants.DOSE, "320 mcg", "0.32 mg"),
        (Wants.DOSE, "500 units to 750 units", "500 to 750 units"),
        (Wants.DOSE, "0 units", "0 units"),
        (Wants.LEAD, "35.5 h", "35 h 30 min"),
        (Wants.MARK, "40+40", "40 + 40"),
        (Wants.VIALS, "2 vials", "2"),
        (Wants.WINDOW, "2026-11-18 20:00  to 2026-11-18 22:00", "2026-11-18 20:00 to 2026-11-18 22:00"),
    ],
)
def test_the_same_number_written_otherwise_is_right(wants: Wants, typed: str, right_one: str) -> None:
    assert agrees(wants, typed, right_one)


@pytest.mark.parametrize(
    ("wants", "typed", "right_one"),
    [
        (Wants.DOSE, "1,500 mcg", "1,500 units"),
        (Wants.DOSE, "1500", "1,500 units"),
        (Wants.DOSE, "500 units", "500 to 750 units"),
        (Wants.DOSE, "1,500 IU", "1,500 units"),
        (Wants.DOSE, "0", "0 units"),
        (Wants.DOSE, "0 mg", "0 units"),
        (Wants.LEAD, "35 h", "35 h 30 min"),
        (Wants.MARK, "80", "40 + 40"),
        (Wants.MARK, "0.8", "80"),
        (Wants.MINUTE, "9 pm", "2026-11-18 21:00"),
        (Wants.VOLUME, ".8 mL", "0.8 mL"),
        (Wants.REST, "", "75 units"),
    ],
)
def test_another_number_and_one_that_cannot_be_read_are_wrong(wants: Wants, typed: str, right_one: str) -> None:
    assert not agrees(wants, typed, right_one)


@pytest.mark.parametrize("one", COMPUTED, ids=lambda one: one.call.id)
def test_the_right_number_can_be_typed_as_it_is_shown(one: Scene) -> None:
    number = number_of(one)
    assert number is not None
    assert one.wants is not None
    assert read_number(one.wants, number)


def test_everything_right_and_nothing_at_all() -> None:
    whole = [scored(one, all_right()[one.scene.call.id]) for one in rounds(3)]
    of = {Part.KIND: 62, Part.ASK: 62, Part.NUMBER: 29, Part.WHO: 62, Part.NOTE: 62}
    assert totals(whole) == {part: (many, many) for part, many in of.items()}
    blank = [scored(one, Answers()) for one in rounds(3)]
    assert totals(blank) == {part: (0, many) for part, many in of.items()}
    assert of[Part.NUMBER] == sum(one.sort is Sort.COMPUTED for one in calls())


@pytest.mark.parametrize(
    ("change", "wrong"),
    [
        ({"kind": "late"}, {Part.KIND}),
        ({"ask": "How far she has got"}, {Part.ASK}),
        ({"number": "1,000 units"}, {Part.NUMBER, Part.NOTE}),
        ({"number": "1500 units"}, {Part.NOTE}),
        ({"who": "nurse"}, {Part.WHO}),
        ({"note": "Told the prescriber."}, {Part.NOTE}),
        ({"note": "1,500 units went in."}, {Part.NOTE}),
    ],
)
def test_each_part_is_right_by_itself(change: dict[str, str], wrong: set[Part]) -> None:
    one = round_of("C18")
    found = scored(one, replace(right(one), **change))
    assert {part for part, is_right in found.right.items() if not is_right} == wrong


def test_danger_is_called_danger_and_has_no_number() -> None:
    for call_id in ("C53", "C54", "C55"):
        one = round_of(call_id)
        assert one.scene.kind == "danger"
        assert Part.NUMBER not in scored(one, right(one)).right
        late = scored(one, replace(right(one), kind="question", who="prescriber", note="Told the prescriber."))
        assert late.right == {Part.KIND: False, Part.ASK: True, Part.WHO: False, Part.NOTE: False}


def test_answers_are_read_from_a_file() -> None:
    assert answers_from(as_file(all_right())) == all_right()
    assert answers_from("") == {}
    assert answers_from('[C01]\nnumber = "80"') == {"C01": Answers(number="80")}


@pytest.mark.parametrize(
    "text",
    [
        "[C01",
        "[C63]",
        "C01 = 3",
        '[C01]\ndose = "4 mg"',
        "[C01]\nnumber = 80",
        '[C01]\nkind = "bad luck"',
        '[C01]\nwho = "me"',
    ],
)
def test_a_file_that_no_drill_asks_for_is_refused(text: str) -> None:
    with pytest.raises(Unreadable):
        answers_from(text)
