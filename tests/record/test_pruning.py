"""Old backups go once a new one is verified: what stays, and what is never touched. The rule itself is hourmark's own (docs/running.md)."""

import datetime as dt
import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hourmark.store.keep import COPY, MANIFEST, Pruned, prune

NEWEST = dt.datetime(2026, 11, 18, 21, 45, tzinfo=dt.UTC)


def written(at: dt.datetime) -> str:
    return f"{at:%Y-%m-%dT%H:%M:%SZ}"


def made(folder: Path, at: dt.datetime, name: str = "", clinics: tuple[str, ...] = ("quillmere",)) -> Path:
    """A backup made at that moment."""
    one = folder / (name or f"{at:%Y%m%dT%H%M%SZ}")
    one.mkdir()
    heads: dict[str, Any] = {clinic: {"roll": [1, "x"]} for clinic in clinics}
    manifest = {"made_by": "hourmark 0.1.0", "made_at": written(at), "sha256": "0", "heads": heads}
    (one / MANIFEST).write_text(json.dumps(manifest), encoding="utf-8")
    (one / COPY).write_bytes(b"the record")
    return one


def every(minutes: int, days: int, folder: Path) -> Path:
    """Backups every so many minutes for so many days; the newest of them."""
    for step in range(days * 24 * 60 // minutes, 0, -1):
        made(folder, NEWEST - dt.timedelta(minutes=step * minutes))
    return made(folder, NEWEST)


def there(folder: Path) -> list[str]:
    return sorted(one.name for one in folder.iterdir())


def test_all_of_the_last_day_stay_and_one_of_each_day_before(tmp_path: Path) -> None:
    newest = every(60, 4, tmp_path)
    pruned = prune(newest, 30)
    last_day = {f"{NEWEST - dt.timedelta(hours=hours):%Y%m%dT%H%M%SZ}" for hours in range(24)}
    # Hourly at a quarter to: the last of each day (UTC) is that of 23:45.
    assert set(there(tmp_path)) == last_day | {f"202611{day}T234500Z" for day in (14, 15, 16, 17)}
    assert len(pruned.removed) + len(there(tmp_path)) == 4 * 24 + 1
    assert pruned.problems == ()


def test_so_many_days_stay_and_none_before(tmp_path: Path) -> None:
    newest = every(12 * 60, 40, tmp_path)
    prune(newest, 30)
    days = {name[:8] for name in there(tmp_path)}
    assert min(days) == "20261020"
    assert len(days) == 30


def test_what_stays_stays_when_it_is_done_again(tmp_path: Path) -> None:
    newest = every(180, 10, tmp_path)
    prune(newest, 5)
    kept = there(tmp_path)
    assert prune(newest, 5).removed == ()
    assert there(tmp_path) == kept


def test_a_clock_put_forward_empties_no_folder(tmp_path: Path) -> None:
    for days in range(10, 0, -1):
        made(tmp_path, NEWEST - dt.timedelta(days=days))
    ahead = made(tmp_path, NEWEST + dt.timedelta(days=3650))
    assert prune(ahead, 30).removed == ()


def test_the_newest_stays_also_where_the_clock_was_put_back(tmp_path: Path) -> None:
    ahead = made(tmp_path, NEWEST + dt.timedelta(days=400))
    newest = every(60, 3, tmp_path)
    prune(newest, 1)
    assert {ahead.name, newest.name} <= set(there(tmp_path))


def old(folder: Path, name: str, **more: Any) -> Path:
    """A backup of the morning before yesterday, which would go: another of the same day is later."""
    return made(folder, NEWEST - dt.timedelta(days=3, hours=2), name, **more)


@pytest.fixture
def newest(tmp_path: Path) -> Path:
    made(tmp_path, NEWEST - dt.timedelta(days=3))
    return made(tmp_path, NEWEST)


def test_an_old_one_goes(tmp_path: Path, newest: Path) -> None:
    old(tmp_path, "old")
    assert prune(newest, 30).removed == ("old",)


def replaced(one: Path, old: str, new: str) -> None:
    text = (one / MANIFEST).read_text(encoding="utf-8")
    assert old in text
    (one / MANIFEST).write_text(text.replace(old, new), encoding="utf-8")


def linked_copy(one: Path) -> None:
    elsewhere = one.parent / "elsewhere"
    (one / COPY).rename(elsewhere)
    (one / COPY).symlink_to(elsewhere)


def folder_for_copy(one: Path) -> None:
    (one / COPY).unlink()
    (one / COPY).mkdir()


SPOILT: dict[str, Callable[[Path], object]] = {
    "something else in it": lambda one: (one / "notes.txt").write_text("ours", encoding="utf-8"),
    "an empty manifest": lambda one: (one / MANIFEST).write_text("{", encoding="utf-8"),
    "no manifest": lambda one: (one / MANIFEST).unlink(),
    "no copy": lambda one: (one / COPY).unlink(),
    "a copy of another name": lambda one: (one / COPY).rename(one / "other.sqlite"),
    "a folder for a copy": folder_for_copy,
    "a copy elsewhere": linked_copy,
    "made by another program": lambda one: replaced(one, "hourmark ", "other "),
    "made nobody knows when": lambda one: replaced(one, "45:00Z", " at some time"),
}


@pytest.mark.parametrize("how", SPOILT)
def test_what_is_no_backup_is_never_touched(tmp_path: Path, newest: Path, how: str) -> None:
    SPOILT[how](old(tmp_path, "old"))
    before = sorted(path for path in tmp_path.rglob("*"))
    assert prune(newest, 30).removed == ()
    assert sorted(path for path in tmp_path.rglob("*") if path in before) == before


def test_neither_other_clinics_nor_those_before_an_upgrade_nor_links_go(tmp_path: Path, newest: Path) -> None:
    old(tmp_path, "theirs", clinics=("elsewhere",))
    old(tmp_path, "both", clinics=("quillmere", "elsewhere"))
    old(tmp_path, "before-upgrade-2026-11-15T194500Z")
    old(tmp_path, ".building")
    outside = tmp_path.parent / f"{tmp_path.name}-outside"
    outside.mkdir()
    (tmp_path / "linked").symlink_to(old(outside, "kept"))
    (tmp_path / "file").write_text("x", encoding="utf-8")
    before = sorted([*tmp_path.rglob("*"), *outside.rglob("*")])
    assert prune(newest, 30) == Pruned()
    assert sorted([*tmp_path.rglob("*"), *outside.rglob("*")]) == before


@pytest.mark.parametrize("how", SPOILT)
def test_nothing_goes_beside_a_new_one_that_is_not_whole(tmp_path: Path, newest: Path, how: str) -> None:
    old(tmp_path, "old")
    SPOILT[how](newest)
    assert prune(newest, 30) == Pruned()
    assert (tmp_path / "old" / COPY).is_file()


def test_one_that_cannot_be_removed_is_said_and_the_others_go(
    tmp_path: Path, newest: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("fast", "held"):
        old(tmp_path, name)
    unlink = Path.unlink

    def held(path: Path, *given: Any, **named: Any) -> None:
        if path.parent.name == "held":
            raise PermissionError(13, "Permission denied")
        unlink(path, *given, **named)

    monkeypatch.setattr(Path, "unlink", held)
    pruned = prune(newest, 30)
    assert pruned.removed == ("fast",)
    (finding,) = pruned.problems
    assert (finding.code, finding.level.value) == ("backup-not-removed", "warn")
    assert "Permission denied" in finding.what
    assert finding.where == str(tmp_path / "held")
    assert (tmp_path / "held" / COPY).is_file()


@pytest.mark.parametrize("days", [0, -1])
def test_less_than_a_day_is_no_rule(newest: Path, days: int) -> None:
    with pytest.raises(ValueError, match="one day"):
        prune(newest, days)


@given(hours=st.lists(st.integers(0, 60 * 24), min_size=1, max_size=40, unique=True), days=st.integers(1, 40))
def test_whatever_there_is_the_rule_holds(
    tmp_path_factory: pytest.TempPathFactory, hours: list[int], days: int
) -> None:
    folder = tmp_path_factory.mktemp("backups")
    all_of_them = {made(folder, at).name: at for at in (NEWEST - dt.timedelta(hours=one) for one in hours)}
    last = max(all_of_them, key=lambda name: all_of_them[name])
    pruned = prune(folder / last, days)
    left = {name: all_of_them[name] for name in there(folder)}
    assert left.keys() | set(pruned.removed) == all_of_them.keys()
    assert not left.keys() & set(pruned.removed)
    for name, at in all_of_them.items():
        later_that_day = any(other > at and other.date() == at.date() for other in all_of_them.values())
        later_days = len({other.date() for other in all_of_them.values() if other.date() > at.date()})
        in_the_last_day = all_of_them[last] - at < dt.timedelta(days=1)
        assert (name in left) is (in_the_last_day or (not later_that_day and later_days < days))


def test_the_command_removes_after_a_copy_that_was_verified_and_not_without_one(tmp_path: Path) -> None:
    environment = os.environ | {
        "HOURMARK_DATABASE": f"sqlite:{tmp_path / 'record.sqlite'}",
        "HOURMARK_DISK_FREE_MB": "1",
    }
    backups = tmp_path / "backups"

    def told(*words: str) -> tuple[int, dict[str, Any]]:
        done = subprocess.run(
            [sys.executable, "-m", "hourmark.cli", *words, "--json"],
            env=environment,
            capture_output=True,
            text=True,
            check=False,
        )
        return done.returncode, json.loads(done.stdout)

    assert told("upgrade", "--backups", str(backups))[0] == 0
    backups.mkdir()
    day = dt.datetime.now(dt.UTC).replace(hour=4) - dt.timedelta(days=3)
    made(backups, day, "first", ())
    made(backups, day + dt.timedelta(hours=2), "second", ())
    status, answer = told("backup", str(backups / "first"), "--keep", "30")
    assert (status, answer["removed"]) == (1, [])
    assert told("backup", str(backups / "new"))[1]["removed"] == []
    assert there(backups) == ["first", "new", "second"]
    status, answer = told("backup", str(backups / "newer"), "--keep", "30")
    assert (status, answer["removed"], answer["findings"]) == (0, ["first"], [])
    assert there(backups) == ["new", "newer", "second"]
