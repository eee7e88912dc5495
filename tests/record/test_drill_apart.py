"""A drill's record is served as a drill alone, and a drill serves no other: by settings, at every start, and by the command itself."""

import datetime as dt
import json
import os
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from hourmark.finding import Level
from hourmark.ledger import Act, Fact, append
from hourmark.store.database import DatabaseStore
from hourmark.store.settings import DRILL_CLINIC, Settings, read_settings
from hourmark.store.starting import mixed, start_findings
from tests.record.databases import make_tables, opened, sqlite_url

NOW = dt.datetime(2026, 11, 18, 21, 40, tzinfo=dt.UTC)
LIVE = Settings(clinic="quillmere", disk_free_mb=1)
DRILL = Settings(clinic=DRILL_CLINIC, disk_free_mb=1, drill="/somewhere")
OWN = {
    "HOURMARK_DRILL": "/somewhere",
    "HOURMARK_CLINIC": DRILL_CLINIC,
    "HOURMARK_DATABASE": "sqlite:/somewhere/record.sqlite",
}


def record(alias: str, clinic: str) -> None:
    with DatabaseStore(clinic, alias).writing() as store:
        fact = Fact("case/K-1", "noted", 1, b"{}")
        append(store, Act(f"k-{clinic}", b"", "A. Kowal", "2026-11-18T20:00:00Z", (fact,)), {}, lambda: b"0" * 16)


@pytest.fixture
def alias(sqlite_file: Path) -> Iterator[str]:
    with opened(sqlite_url(sqlite_file)) as found:
        yield found


def stopped(settings: Settings, alias: str) -> set[str]:
    found = [one for one in start_findings(settings, alias, NOW) if one.level is Level.STOP]
    assert all(one.where == "start-up check 8" for one in found)
    return {one.code for one in found}


def test_a_drills_record_is_not_served_as_a_clinic(alias: str) -> None:
    assert stopped(LIVE, alias) == set()
    record(alias, "quillmere")
    assert stopped(LIVE, alias) == set()
    record(alias, DRILL_CLINIC)
    assert stopped(LIVE, alias) == {"drill-record"}


def test_a_clinics_record_is_not_served_as_a_drill(alias: str) -> None:
    assert stopped(DRILL, alias) == set()
    record(alias, DRILL_CLINIC)
    assert stopped(DRILL, alias) == set()
    record(alias, "quillmere")
    assert stopped(DRILL, alias) == {"drill-not-own"}


def test_where_there_is_no_record_yet_there_is_nothing_to_mix(tmp_path: Path) -> None:
    with opened(sqlite_url(tmp_path / "new.sqlite")) as alias:
        assert list(mixed(DRILL, alias)) == list(mixed(LIVE, alias)) == []


def test_a_drill_has_settings_of_its_own() -> None:
    read = read_settings(OWN)
    assert isinstance(read, Settings)
    assert (read.drill, read.second_factor, read.hosts) == ("/somewhere", False, ("localhost",))


@pytest.mark.parametrize(
    ("change", "name"),
    [
        ({"HOURMARK_CLINIC": "quillmere"}, "HOURMARK_CLINIC"),
        ({"HOURMARK_DATABASE": "postgresql://db/record"}, "HOURMARK_DATABASE"),
        ({"HOURMARK_HOSTS": "night.clinic.example"}, "HOURMARK_HOSTS"),
        ({"HOURMARK_DEMO": "1"}, "HOURMARK_DEMO"),
        ({"HOURMARK_MAIL_HOST": "mail.example", "HOURMARK_MAIL_FROM": "a@b.example"}, "HOURMARK_MAIL_HOST"),
        ({"HOURMARK_DRILL": ""}, "HOURMARK_CLINIC"),
    ],
)
def test_a_drill_with_anything_of_a_clinics_does_not_start(change: dict[str, str], name: str) -> None:
    read = read_settings(OWN | change)
    assert isinstance(read, tuple)
    assert [(one.code, one.where) for one in read] == [("setting-wrong", name)]


def test_no_clinic_has_the_name_of_a_drill() -> None:
    read = read_settings({"HOURMARK_CLINIC": DRILL_CLINIC})
    assert isinstance(read, tuple)
    assert "which is a drill's" in read[0].what


# By the command


def serve(*options: str, **environment: str) -> "subprocess.CompletedProcess[str]":
    plain = {name: value for name, value in os.environ.items() if not name.startswith(("HOURMARK_", "DJANGO_"))}
    return subprocess.run(
        [sys.executable, "-m", "hourmark.cli", "serve", *options],
        capture_output=True,
        text=True,
        env=plain | environment,
        timeout=120,
        check=False,
    )


def left(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_serving_a_drills_record_as_a_clinics_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "record.sqlite"
    make_tables(sqlite_url(path))
    with opened(sqlite_url(path)) as alias:
        record(alias, DRILL_CLINIC)
    done = serve(HOURMARK_DATABASE=sqlite_url(path), HOURMARK_SECRET_KEY="x" * 60, HOURMARK_DISK_FREE_MB="1")
    assert done.returncode == 1
    assert "This database holds a drill" in done.stdout + done.stderr


def test_a_clinics_record_in_a_drills_folder_is_refused_and_left_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "record.sqlite"
    make_tables(sqlite_url(path))
    with opened(sqlite_url(path)) as alias:
        record(alias, "quillmere")
    (tmp_path / "drill.json").write_text(json.dumps({"drill": 1, "seed": 1, "calls": 2}), "utf-8")
    done = serve("--drill", str(tmp_path))
    assert done.returncode == 1
    assert "holds the record of quillmere" in done.stdout + done.stderr
    with sqlite3.connect(path) as kept:
        assert kept.execute("SELECT clinic FROM record_head").fetchall() == [("quillmere",)]
        assert kept.execute("SELECT count(*) FROM auth_user").fetchone() == (0,)
    assert not (tmp_path / "clock.json").exists()


def test_a_folder_with_anything_else_in_it_is_refused_and_left_as_it_is(tmp_path: Path) -> None:
    (tmp_path / "letter.txt").write_text("dear", "utf-8")
    before = left(tmp_path)
    done = serve("--drill", str(tmp_path))
    assert done.returncode == 1
    assert "something that is no drill's: letter.txt" in done.stdout + done.stderr
    assert left(tmp_path) == before


@pytest.mark.parametrize("name", ["letter.txt", "record.sqlite", "drill.json"])
def test_a_demo_empties_no_folder_but_a_demo_s(tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_text("somebody's", "utf-8")
    before = left(tmp_path)
    done = serve("--demo", str(tmp_path))
    assert (done.returncode, "no demo's" in done.stderr) == (1, True)
    assert left(tmp_path) == before


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (("--pace", "5"), "belong to --drill"),
        (("--seed", "5"), "belong to --drill"),
        (("--calls", "5", "--demo", "DIR"), "belong to --drill"),
        (("--drill", "DIR", "--demo", "DIR"), "not both"),
        (("--drill", "DIR", "--pace", "0"), "1 to 60 minutes"),
        (("--drill", "DIR", "--pace", "61"), "1 to 60 minutes"),
        (("--drill", "DIR", "--calls", "0"), "1 to 62 calls"),
        (("--drill", "DIR", "--calls", "63"), "1 to 62 calls"),
    ],
)
def test_options_that_do_not_fit_are_refused_before_anything_is_made(
    tmp_path: Path, options: tuple[str, ...], says: str
) -> None:
    folder = tmp_path / "new"
    done = serve(*(str(folder) if one == "DIR" else one for one in options))
    assert (done.returncode, says in done.stderr) == (2, True)
    assert not folder.exists()


def test_a_drill_is_served_on_this_machine_alone(tmp_path: Path) -> None:
    done = serve("--drill", str(tmp_path / "new"), "--address", "0.0.0.0")
    assert (done.returncode, "on this machine alone" in done.stderr) == (1, True)
    assert not (tmp_path / "new").exists()
