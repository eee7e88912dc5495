"""The clock of a drill's night: it goes forward alone, at its pace, the same for everybody who reads it, and survives a restart."""

import datetime as dt
import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hourmark.drill.clock import FASTEST, SLOWEST, NightClock, read_clock, write_clock, write_whole

MACHINE = dt.datetime(2026, 11, 26, 10, 0, tzinfo=dt.UTC)
SHOWN = dt.datetime(2026, 11, 19, 2, 55, tzinfo=dt.UTC)
MINUTE = dt.timedelta(minutes=1)


@pytest.mark.parametrize("pace", [SLOWEST, 10, FASTEST])
def test_so_many_minutes_pass_in_one(pace: int) -> None:
    assert NightClock(MACHINE, SHOWN, pace).at(MACHINE + MINUTE) == SHOWN + pace * MINUTE


def test_a_machine_whose_clock_was_put_back_lets_it_stand_still() -> None:
    assert NightClock(MACHINE, SHOWN, 5).at(MACHINE - MINUTE) == SHOWN


def test_it_is_put_forward_and_never_back() -> None:
    clock = NightClock(MACHINE, SHOWN, 10)
    on = clock.forward(MACHINE + MINUTE, SHOWN + 60 * MINUTE)
    assert on.at(MACHINE + MINUTE) == SHOWN + 60 * MINUTE
    assert on.at(MACHINE + 2 * MINUTE) == SHOWN + 70 * MINUTE
    assert clock.forward(MACHINE + MINUTE, SHOWN + 10 * MINUTE) is clock
    assert clock.forward(MACHINE + MINUTE, SHOWN) is clock


@given(
    st.integers(SLOWEST, FASTEST),
    st.lists(st.tuples(st.integers(0, 10_000), st.integers(-100_000, 1_000_000)), max_size=8),
)
def test_whatever_is_done_it_never_goes_back(pace: int, steps: list[tuple[int, int]]) -> None:
    clock, machine, before = NightClock(MACHINE, SHOWN, pace), MACHINE, SHOWN
    for passed, skipped in steps:
        machine += dt.timedelta(seconds=passed)
        clock = clock.forward(machine, clock.at(machine) + dt.timedelta(seconds=skipped))
        assert clock.at(machine) >= before
        assert clock.pace == pace
        before = clock.at(machine)


def test_every_process_reads_the_same(tmp_path: Path) -> None:
    clock = NightClock(MACHINE + dt.timedelta(microseconds=7), SHOWN, 12)
    write_clock(tmp_path / "clock.json", clock)
    assert read_clock(tmp_path / "clock.json") == clock
    assert [path.name for path in tmp_path.iterdir()] == ["clock.json"]


@pytest.mark.parametrize(
    "change", [{"pace": 0}, {"pace": 61}, {"pace": "5"}, {"pace": 2.5}, {"since": "now"}, {"since": None}, {"shown": 3}]
)
def test_a_file_that_holds_no_clock_is_refused(tmp_path: Path, change: dict[str, object]) -> None:
    path = tmp_path / "clock.json"
    write_clock(path, NightClock(MACHINE, SHOWN, 5))
    path.write_text(json.dumps(json.loads(path.read_text("utf-8")) | change), "utf-8")
    with pytest.raises(ValueError, match="holds no clock"):
        read_clock(path)


@pytest.mark.parametrize("text", ["", "[]", "{}", "{"])
def test_neither_is_any_other_text(tmp_path: Path, text: str) -> None:
    (tmp_path / "clock.json").write_text(text, "utf-8")
    with pytest.raises(ValueError, match="holds no clock"):
        read_clock(tmp_path / "clock.json")


def test_a_file_that_cannot_be_replaced_stays_and_nothing_is_left_beside_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "clock.json"
    write_whole(path, "old")

    def full(*_: object) -> None:
        raise OSError("no space left")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(OSError, match="no space"):
        write_whole(path, "new")
    assert path.read_text("utf-8") == "old"
    assert list(tmp_path.iterdir()) == [path]
