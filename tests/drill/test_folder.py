"""A drill's folder: new, gone on with, or refused; and what is kept of a call, one time."""

import datetime as dt
import json
from dataclasses import replace
from pathlib import Path

import pytest

from hourmark.drill import Answers
from hourmark.drill.clock import NightClock, write_clock
from hourmark.drill.folder import Answered, Drill, keep_answer, open_folder, read_answers, read_drill
from hourmark.drill.recorded import Recorded
from hourmark.finding import Finding, Level

ASKED = Answered("Which line?")
OVER = Answered(
    "Which line?",
    Answers("late", "Which line?", "34 h", "prescriber", "told"),
    Recorded(
        "late", {"at": "2026-11-18 21:20"}, "2026-11-18 21:45", "2026-11-18 21:50", "34 h", ("prescriber",), "told"
    ),
    "A. Kowal",
)


def contents(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_an_absent_or_an_empty_folder_becomes_a_drills(tmp_path: Path) -> None:
    assert open_folder(tmp_path / "a" / "b", 7, 5) == Drill(tmp_path / "a" / "b", 7, 5)
    (tmp_path / "empty").mkdir()
    assert open_folder(tmp_path / "empty", None, None) == Drill(tmp_path / "empty", 1, 62)
    assert read_drill(tmp_path / "a" / "b") == Drill(tmp_path / "a" / "b", 7, 5)


def test_a_drill_is_gone_on_with(tmp_path: Path) -> None:
    made = open_folder(tmp_path / "drill", 7, 5)
    moment = dt.datetime(2026, 11, 18, 21, 0, tzinfo=dt.UTC)
    write_clock(tmp_path / "drill" / "clock.json", NightClock(moment, moment, 1))
    for name in ("answers.json", "record.sqlite", "record.sqlite-wal", "record.sqlite-shm"):
        (tmp_path / "drill" / name).write_text("{}", "utf-8")
    (tmp_path / "drill" / ".clock.json-x1").write_text("", "utf-8")
    for seed, count in ((None, None), (7, None), (None, 5), (7, 5)):
        assert open_folder(tmp_path / "drill", seed, count) == made


@pytest.mark.parametrize(("seed", "count"), [(8, None), (None, 6), (8, 5), (7, 6)])
def test_another_drill_than_the_one_that_is_there_is_refused(
    tmp_path: Path, seed: int | None, count: int | None
) -> None:
    open_folder(tmp_path / "drill", 7, 5)
    found = open_folder(tmp_path / "drill", seed, count)
    assert isinstance(found, Finding)
    assert (found.code, found.level) == ("drill-folder", Level.STOP)
    assert "seed 7 with 5 calls" in found.what


@pytest.mark.parametrize(
    "files",
    [
        {"letter.txt": "dear"},
        {"record.sqlite": ""},
        {"drill.json": '{"drill": 1, "seed": 7, "calls": 5}', "hourmark.sqlite": ""},
        {"drill.json": '{"drill": 1, "seed": 7, "calls": 5}', ".hidden": ""},
        {"drill.json": '{"drill": 1, "seed": 7, "calls": 63}'},
        {"drill.json": '{"drill": 1, "seed": true, "calls": 5}'},
        {"drill.json": '{"drill": 2, "seed": 7, "calls": 5}'},
        {"drill.json": '{"seed": 7, "calls": 5}'},
        {"drill.json": "[1]"},
        {"drill.json": '{"drill": 1, "seed": 7, "calls": 5}', "clock.json": "{}"},
        {"drill.json": '{"drill": 1, "seed": 7, "calls": 5}', "clock.json": "[]"},
        {"drill.json": '{"drill": 1, "seed": 7, "calls": 5}', "answers.json": "{"},
        {"drill.json": '{"drill": 1, "seed": 7, "calls": 5}', "answers.json": '{"DRILL-01": {"ask": "?"}}'},
        {"drill.json": "{"},
    ],
)
def test_a_folder_that_holds_anything_else_is_left_as_it_is(tmp_path: Path, files: dict[str, str]) -> None:
    for name, text in files.items():
        (tmp_path / name).write_text(text, "utf-8")
    before = contents(tmp_path)
    found = open_folder(tmp_path, None, None)
    assert isinstance(found, Finding)
    assert found.code == "drill-folder"
    assert contents(tmp_path) == before


def test_a_file_and_a_link_are_no_folders(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", "utf-8")
    (tmp_path / "real").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "real")
    for name in ("file", "link"):
        assert isinstance(open_folder(tmp_path / name, None, None), Finding)


def test_what_was_asked_first_and_a_call_that_is_over_stay(tmp_path: Path) -> None:
    assert read_answers(tmp_path) == {}
    assert keep_answer(tmp_path, "DRILL-01", ASKED)
    assert not keep_answer(tmp_path, "DRILL-01", Answered("Something else?"))
    assert keep_answer(tmp_path, "DRILL-02", ASKED)
    assert read_answers(tmp_path) == {"DRILL-01": ASKED, "DRILL-02": ASKED}
    assert keep_answer(tmp_path, "DRILL-01", OVER)
    assert not keep_answer(tmp_path, "DRILL-01", replace(OVER, by="L. Ortiz"))
    assert read_answers(tmp_path) == {"DRILL-01": OVER, "DRILL-02": ASKED}
    assert OVER.over
    assert not ASKED.over


def test_a_call_without_anything_on_the_record_is_kept_too(tmp_path: Path) -> None:
    said = Answered("", Answers("question"), None, "A. Kowal")
    assert keep_answer(tmp_path, "DRILL-03", said)
    assert read_answers(tmp_path)["DRILL-03"] == said
    assert json.loads((tmp_path / "answers.json").read_text("utf-8"))["DRILL-03"]["recorded"] is None
