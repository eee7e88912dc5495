"""hourmark drill: all 62 calls from start to score sheet, out of a file and at the keyboard, and never to be taken for a night."""

import json
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from hourmark.cli.main import cli
from hourmark.drill import BANNER, DECIDERS, KINDS, number_of, rounds, scoring
from tests.cli.running import answer, codes, run
from tests.drill.right import all_right, as_file, right


@pytest.fixture
def answers(tmp_path: Path) -> Path:
    path = tmp_path / "answers.toml"
    path.write_text(as_file(all_right()), encoding="utf-8")
    return path


def typed(asked: list[tuple[str, ...]], *args: str) -> Result:
    """The drill at the keyboard, with these lines typed."""
    lines = "".join(f"{line}\n" for one in asked for line in one)
    return CliRunner().invoke(cli, ["drill", *args], input=lines)


def keys(seed: int, count: int | None = None) -> list[tuple[str, ...]]:
    """What somebody who knows everything types at the keyboard."""
    told = []
    for one in rounds(seed, count):
        known = right(one)
        told.append(
            (
                str(one.first_questions.index(known.ask) + 1),
                str(list(KINDS).index(known.kind) + 1),
                *([known.number] if one.scene.wants is not None else []),
                str(list(DECIDERS).index(known.who) + 1),
                known.note,
            )
        )
    return told


def test_a_drill_of_62_calls_runs_from_start_to_score_sheet(answers: Path) -> None:
    status, found = answer("drill", "--seed", "4", "--answers", str(answers))
    assert status == 0
    assert found["drill"] == BANNER
    assert found["seed"] == 4
    assert [one["call"] for one in found["calls"]] == [one.scene.call.id for one in rounds(4)]
    assert found["right"] == {
        "kind": {"right": 62, "of": 62},
        "ask": {"right": 62, "of": 62},
        "number": {"right": 29, "of": 29},
        "who": {"right": 62, "of": 62},
        "note": {"right": 62, "of": 62},
    }
    assert (found["points"], found["of"]) == (277, 277)
    assert all(one["say"] and all(said["source"] for said in one["say"]) for one in found["calls"])
    assert all((one["number"] is None) == (one["right"]["number"] is None) for one in found["calls"])


def test_all_62_at_the_keyboard() -> None:
    result = typed(keys(2), "--seed", "2")
    assert result.exit_code == 0, result.output
    assert "Score sheet, seed 2, 62 calls" in result.output
    assert "in all: 277 of 277" in result.output
    assert "WRONG" not in result.output


def test_what_she_says_when_asked_comes_after_the_first_question() -> None:
    result = typed(keys(2, 1), "--seed", "2", "--calls", "1")
    one = rounds(2, 1)[0]
    words, asked, told, kind = (
        result.output.index(text) for text in (one.scene.words, "What do you ask first?", one.scene.told, "What is it?")
    )
    assert words < asked < told < kind


def test_a_blank_answer_is_wrong_and_the_right_one_stands_with_its_source() -> None:
    blanks = [("9", *[""] * len(lines)) for lines in keys(2, 3)]
    result = typed(blanks, "--seed", "2", "--calls", "3")
    assert result.exit_code == 0, result.output
    assert "Type a number from 1 to 4, or nothing." in result.output
    assert "in all: 0 of" in result.output
    for one in rounds(2, 3):
        assert f"Who decides: {one.scene.who}." in result.output
        for said in one.scene.call.say:
            assert f"{said.text} [{said.source}]" in result.output


def test_who_stops_early_gets_the_sheet_of_what_was_answered() -> None:
    result = typed([*keys(2, 2), ("1",)], "--seed", "2")
    assert result.exit_code == 0, result.output
    assert "Ended here; the calls answered so far are scored." in result.output
    assert "Score sheet, seed 2, 2 calls" in result.output


def test_nothing_looks_like_a_live_night(answers: Path) -> None:
    """The banner stands above and below the sheet, and again over every call asked."""
    sheet = run("drill", "--answers", str(answers)).output.strip()
    assert sheet.startswith(BANNER)
    assert sheet.endswith(BANNER)
    assert typed(keys(1, 2), "--calls", "2").output.count(BANNER) == 1 + 2 + 2


def test_a_call_that_the_file_does_not_name_is_not_answered(tmp_path: Path) -> None:
    path = tmp_path / "few.toml"
    path.write_text(as_file({"C18": replace(all_right()["C18"], number="1,000 units")}), encoding="utf-8")
    status, found = answer("drill", "--answers", str(path))
    assert status == 0
    by_call = {one["call"]: one for one in found["calls"]}
    assert by_call["C18"]["right"] == {"kind": True, "ask": True, "number": False, "who": True, "note": False}
    assert by_call["C18"]["number"] == "1,500 units"
    assert by_call["C01"]["answers"] == {"kind": "", "ask": "", "number": "", "who": "", "note": ""}
    assert found["points"] == 3


@pytest.mark.parametrize(
    ("args", "where"),
    [
        (("--json",), "--answers"),
        (("--calls", "0", "--json"), "--calls"),
        (("--calls", "63", "--json"), "--calls"),
        (("--answers", "no-such-file.toml", "--json"), "--answers"),
        (("--seed", "one", "--json"), "command line"),
    ],
)
def test_what_cannot_be_read_is_refused(args: tuple[str, ...], where: str) -> None:
    result = CliRunner().invoke(cli, ["drill", *args])
    assert result.exit_code == 2
    if where != "command line":
        found = json.loads(result.stdout)
        assert [found[key] for key in found if key != "findings"] == [None] * 6
        assert [finding["where"] for finding in found["findings"]] == [where]


@pytest.mark.parametrize("text", ["[C01", '[C99]\nwho = "nurse"', '[C01]\nwho = "nobody"'])
def test_a_file_of_answers_that_cannot_be_read_is_refused(tmp_path: Path, text: str) -> None:
    path = tmp_path / "wrong.toml"
    path.write_text(text, encoding="utf-8")
    status, found = answer("drill", "--answers", str(path))
    assert status == 2
    assert codes(found) == {"unreadable": "stop"}
    assert run("drill", "--answers", str(path)).exit_code == 2


def test_a_number_that_differs_when_worked_out_twice_stops(monkeypatch: pytest.MonkeyPatch, answers: Path) -> None:
    monkeypatch.setattr(scoring, "number_of", lambda one: "1 mL" if one.call.id == "C04" else number_of(one))
    status, found = answer("drill", "--answers", str(answers))
    assert status == 1
    assert codes(found) == {"drill-disagrees": "stop"}
    assert [finding["where"] for finding in found["findings"]] == ["call C04"]
    assert len(found["calls"]) == 61
