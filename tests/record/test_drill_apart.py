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

from hourmark.drill.folder import hold
from hourmark.finding import Finding, Level
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
    return command("serve", *options, **environment)


def command(*words: str, **environment: str) -> "subprocess.CompletedProcess[str]":
    plain = {name: value for name, value in os.environ.items() if not name.startswith(("HOURMARK_", "DJANGO_"))}
    return subprocess.run(
        [sys.executable, "-m", "hourmark.cli", *words],
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


COMMANDS = [
    ("member", "nadir", "--name", "N. Adir", "--role", "nurse"),
    ("watch",),
    ("erase",),
    ("erase", "--by", "N. Adir", "--json"),
    ("upgrade", "--backups", "DIR"),
]


@pytest.mark.parametrize("words", COMMANDS, ids=" ".join)
def test_no_command_that_writes_takes_a_drills_record_for_a_clinics(tmp_path: Path, words: tuple[str, ...]) -> None:
    path = tmp_path / "record.sqlite"
    make_tables(sqlite_url(path))
    with opened(sqlite_url(path)) as alias:
        record(alias, DRILL_CLINIC)
    filled = [str(tmp_path / "backups") if one == "DIR" else one for one in words]
    done = command(*filled, HOURMARK_DATABASE=sqlite_url(path), HOURMARK_CLINIC="quillmere", HOURMARK_DISK_FREE_MB="1")
    assert done.returncode == 1, done.stderr
    assert "This database holds a drill" in done.stdout + done.stderr
    with sqlite3.connect(path) as kept:
        for table in ("auth_user", "web_member", "web_watchbeat"):
            assert kept.execute(f"SELECT count(*) FROM {table}").fetchone() == (0,), table
        assert kept.execute("SELECT DISTINCT clinic FROM record_head").fetchall() == [(DRILL_CLINIC,)]
    assert not (tmp_path / "backups").exists()


def test_a_member_of_a_clinic_is_entered_in_its_own_record(tmp_path: Path) -> None:
    path = tmp_path / "record.sqlite"
    make_tables(sqlite_url(path))
    with opened(sqlite_url(path)) as alias:
        record(alias, "quillmere")
    done = command(*COMMANDS[0], HOURMARK_DATABASE=sqlite_url(path), HOURMARK_CLINIC="quillmere")
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("kind", ["drill", "demo"])
def test_set_by_hand_it_is_served_on_this_machine_alone_too(tmp_path: Path, kind: str) -> None:
    path = tmp_path / "record.sqlite"
    by_hand = {"HOURMARK_DEMO": "1"}
    if kind == "drill":
        by_hand = {"HOURMARK_DRILL": str(tmp_path), "HOURMARK_CLINIC": DRILL_CLINIC}
    done = serve("--address", "0.0.0.0", **by_hand, HOURMARK_DATABASE=sqlite_url(path), HOURMARK_SECRET_KEY="x" * 60)
    assert (done.returncode, "on this machine alone" in done.stderr) == (1, True)
    assert not path.exists()


@pytest.mark.parametrize(("name", "text"), [("clock.json", "{}"), ("answers.json", "{"), ("answers.json", "[]")])
def test_a_file_of_the_drill_that_cannot_be_read_is_said_by_name(tmp_path: Path, name: str, text: str) -> None:
    (tmp_path / "drill.json").write_text(json.dumps({"drill": 1, "seed": 1, "calls": 2}), "utf-8")
    (tmp_path / name).write_text(text, "utf-8")
    before = left(tmp_path)
    done = serve("--drill", str(tmp_path))
    said = done.stdout + done.stderr
    assert (done.returncode, name in said, "drill-folder" in said) == (1, True, True)
    assert left(tmp_path) == before


@pytest.mark.parametrize("by_hand", [False, True])
def test_one_folder_is_served_by_one(tmp_path: Path, by_hand: bool) -> None:
    (tmp_path / "drill.json").write_text(json.dumps({"drill": 1, "seed": 1, "calls": 2}), "utf-8")
    before = left(tmp_path)
    first = hold(tmp_path)
    assert isinstance(first, int)
    own = OWN | {"HOURMARK_DRILL": str(tmp_path), "HOURMARK_DATABASE": sqlite_url(tmp_path / "record.sqlite")}
    done = serve(**own, HOURMARK_SECRET_KEY="x" * 60) if by_hand else serve("--drill", str(tmp_path))
    assert (done.returncode, "is served already" in done.stdout + done.stderr) == (1, True)
    assert left(tmp_path) == before
    os.close(first)
    again = hold(tmp_path)
    assert isinstance(again, int)
    os.close(again)


def test_it_is_held_by_whatever_takes_the_place_of_the_process(tmp_path: Path) -> None:
    takes = (
        "import os, sys; from pathlib import Path; from hourmark.drill.folder import hold;"
        "assert isinstance(hold(Path(sys.argv[1])), int);"
        "os.execv(sys.executable, [sys.executable, '-c', 'print(1, flush=True); input()'])"
    )
    with subprocess.Popen(
        [sys.executable, "-c", takes, str(tmp_path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as served:
        assert served.stdout is not None
        assert served.stdout.readline() == b"1\n"
        found = hold(tmp_path)
        assert isinstance(found, Finding)
        assert (found.code, found.level) == ("drill-folder", Level.STOP)
        served.communicate(b"\n")
    again = hold(tmp_path)
    assert isinstance(again, int)
    os.close(again)


def cookies(**environment: str) -> set[str]:
    """What a browser keeps by name: it takes no heed of the port."""
    names = (
        "import django; from django.conf import settings; django.setup();"
        "from hourmark.web.pages import phone;"
        "print(settings.SESSION_COOKIE_NAME, settings.CSRF_COOKIE_NAME, phone.PAGE_COOKIE, phone.PRACTICE_COOKIE, phone.LOOK_COOKIE)"
    )
    plain = {name: value for name, value in os.environ.items() if not name.startswith(("HOURMARK_", "DJANGO_"))}
    whole = plain | {"DJANGO_SETTINGS_MODULE": "hourmark.web.settings"} | environment
    done = subprocess.run([sys.executable, "-c", names], capture_output=True, text=True, env=whole, check=True)
    return set(done.stdout.split())


def test_on_one_machine_drill_demo_and_clinic_share_no_cookie() -> None:
    """Else whoever signs in to a drill is signed out of her night."""
    live, drill, demo = cookies(), cookies(**OWN), cookies(HOURMARK_DEMO="1")
    assert len(live) == len(drill) == len(demo) == 5
    assert len(live | drill | demo) == 15


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
