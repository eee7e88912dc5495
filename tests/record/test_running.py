"""The files by which it is run for real say what the commands and settings really are; systemd itself reads the units."""

import configparser
import datetime as dt
import itertools
import os
import re
import shlex
import shutil
import sqlite3
import stat
import subprocess
import sys
from pathlib import Path
from typing import cast

import pytest
from django.urls import URLPattern

from hourmark.cli.main import cli
from hourmark.store.settings import KNOWN
from hourmark.web import urls

ROOT = Path(__file__).resolve().parents[2]
DEPLOY = ROOT / "deploy"
UNITS = sorted(path.name for path in DEPLOY.glob("hourmark*.*"))
SERVICES = [name for name in UNITS if name.endswith(".service")]
RUNNING = (ROOT / "docs" / "running.md").read_text(encoding="utf-8")
CONTAINER = (DEPLOY / "Containerfile").read_text(encoding="utf-8")


def unit(name: str) -> configparser.ConfigParser:
    read = configparser.ConfigParser(interpolation=None, strict=False)
    read.optionxform = str  # type: ignore[assignment,method-assign]
    read.read(DEPLOY / name)
    return read


def understood(words: list[str]) -> None:
    """A command line that click takes; nothing of it runs."""
    name, *rest = words
    cli.commands[name].make_context(name, rest, resilient_parsing=False)


@pytest.mark.parametrize("name", UNITS)
def test_systemd_finds_nothing_wrong_with_a_unit(tmp_path: Path, name: str) -> None:
    tool = shutil.which("systemd-analyze")
    assert tool is not None, "systemd-analyze is missing: scripts/setup test installs it"
    for each in UNITS:
        text = (DEPLOY / each).read_text(encoding="utf-8")
        (tmp_path / each).write_text(text.replace("/opt/hourmark/venv/bin/hourmark", sys.executable), encoding="utf-8")
    done = subprocess.run(
        [tool, "verify", "--man=no", "--recursive-errors=no", str(tmp_path / name)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.parametrize(("name", "words"), [
    ("hourmark.service", ["serve", "--no-watch"]),
    ("hourmark-watch.service", ["watch"]),
])  # fmt: skip
def test_a_service_starts_a_command_that_there_is(name: str, words: list[str]) -> None:
    program, *given = shlex.split(unit(name)["Service"]["ExecStart"])
    assert Path(program).name == "hourmark"
    assert given == words
    understood(given)


def test_the_backup_goes_into_a_folder_of_its_own_each_time() -> None:
    line = unit("hourmark-backup.service")["Service"]["ExecStart"].replace("%%", "%")
    script = shlex.split(line)[2].replace("exec /opt/hourmark/venv/bin/hourmark", "echo")
    done = subprocess.run(["/bin/sh", "-c", script], env={"HOURMARK_BACKUPS": "/b", "PATH": "/usr/bin:/bin"}, capture_output=True, text=True, check=True)  # fmt: skip
    assert re.fullmatch(r"backup /b/\d{8}T\d{6}Z --keep 30\n", done.stdout)
    understood(done.stdout.split())


@pytest.mark.parametrize("name", SERVICES)
def test_nobody_else_on_the_machine_reads_the_record_or_a_backup(name: str) -> None:
    service = unit(name)["Service"]
    assert (service["User"], service["StateDirectory"]) == ("hourmark", "hourmark")
    assert (service["StateDirectoryMode"], service["UMask"]) == ("0700", "0077")


def test_with_that_mask_record_and_backup_are_for_their_user_alone(tmp_path: Path) -> None:
    mask = int(unit("hourmark-backup.service")["Service"]["UMask"], 8)
    environment = {"HOURMARK_DATABASE": f"sqlite:{tmp_path / 'record.sqlite'}", "HOURMARK_DISK_FREE_MB": "1"}
    for words in (
        ["upgrade", "--backups", str(tmp_path / "b")],
        ["backup", str(tmp_path / "b" / "one"), "--keep", "30"],
    ):
        subprocess.run(
            [sys.executable, "-m", "hourmark.cli", *words],
            env=os.environ | environment,
            umask=mask,
            check=True,
            capture_output=True,
        )
    made = [path for path in tmp_path.rglob("*") if path.exists()]
    assert {path.name for path in made} >= {"record.sqlite", "b", "one", "manifest.json"}
    assert [path for path in made if stat.S_IMODE(path.stat().st_mode) & 0o077] == []


def test_every_setting_that_is_named_is_one() -> None:
    texts = [path.read_text(encoding="utf-8") for path in (*DEPLOY.iterdir(), ROOT / "docs" / "running.md")]
    named = set(re.findall(r"HOURMARK_[A-Z_]+", "\n".join(texts)))
    assert named
    assert {name.removesuffix("_FILE") for name in named} <= set(KNOWN)


def test_the_image_copies_what_is_there_and_starts_what_there_is() -> None:
    for source in re.findall(r"^COPY (.+) \S+$", CONTAINER, re.MULTILINE):
        for path in source.split():
            assert (ROOT / path).exists(), path
    found = re.search(r"^CMD (\[.*\])$", CONTAINER, re.MULTILINE)
    assert found is not None
    understood(eval(found[1]))
    assert eval(found[1])[-1] == "--no-watch"
    assert "USER hourmark" in CONTAINER
    assert "chmod 0700 /var/lib/hourmark" in CONTAINER
    assert "--require-hashes" in CONTAINER


def test_the_image_is_looked_at_where_it_answers() -> None:
    paths = {str(cast(URLPattern, one).pattern) for one in urls.urlpatterns}
    assert {"livez", "readyz"} <= paths
    assert "http://127.0.0.1:8000/livez" in (DEPLOY / "alive.py").read_text(encoding="utf-8")
    (copied,) = re.findall(r"^COPY deploy/alive.py (\S+)$", CONTAINER, re.MULTILINE)
    (asks,) = re.findall(r"^HEALTHCHECK .* CMD (\[.*\])$", CONTAINER, re.MULTILINE)
    assert eval(asks) == ["python", copied]


def alive(path: Path, *words: str) -> int:
    """How deploy/alive.py ends, beside a record."""
    environment = {"HOURMARK_DATABASE": f"sqlite:{path}", "HOURMARK_DISK_FREE_MB": "1"}
    return subprocess.run(
        [sys.executable, str(DEPLOY / "alive.py"), *words],
        env=os.environ | environment,
        check=False,
        capture_output=True,
    ).returncode


def test_the_container_with_the_watch_is_asked_whether_the_watch_looks(tmp_path: Path) -> None:
    path = tmp_path / "record.sqlite"
    assert alive(path, "watch") != 0
    environment = {"HOURMARK_DATABASE": f"sqlite:{path}", "HOURMARK_DISK_FREE_MB": "1"}
    upgrade = [sys.executable, "-m", "hourmark.cli", "upgrade"]
    subprocess.run(upgrade, env=os.environ | environment, cwd=tmp_path, check=True, capture_output=True)
    assert alive(path, "watch") != 0
    now = dt.datetime.now(dt.UTC)
    for minutes, ends in ((3, False), (0, True)):
        at = f"{now - dt.timedelta(minutes=minutes):%Y-%m-%dT%H:%M:%SZ}"
        with sqlite3.connect(path) as record:
            record.execute("DELETE FROM web_watchbeat")
            record.execute("INSERT INTO web_watchbeat (clinic, at, unwatched) VALUES ('clinic', ?, '')", (at,))
        record.close()
        assert (alive(path, "watch") == 0) is ends


def started() -> list[tuple[dict[str, str], list[str]]]:
    """Every container of the document: its options that have a value, and the words that hourmark is given in it."""
    found = []
    for line in re.findall(r"^podman run (.*)$", RUNNING, re.MULTILINE):
        before, _, after = line.rpartition(" hourmark ")
        options = shlex.split(before)
        found.append((dict(itertools.pairwise(options)), shlex.split(after)))
    return found


def test_every_container_starts_a_command_that_there_is_and_keeps_the_record_to_itself() -> None:
    given = started()
    assert [words[0] for _, words in given] == ["upgrade", "member", "serve", "watch", "backup"]
    for options, words in given:
        understood(words)
        assert options["--umask"] == "0077"
        assert options["-v"] == "hourmark:/var/lib/hourmark"


def test_pages_and_watch_run_apart_and_each_is_looked_at() -> None:
    (pages, serve), (watch, _) = (
        next((options, words) for options, words in started() if words[0] == name) for name in ("serve", "watch")
    )
    assert "--no-watch" in serve
    assert "--health-cmd" not in pages
    program, script, *words = shlex.split(watch["--health-cmd"])
    assert (program, words) == ("python", ["watch"])
    assert f"COPY deploy/alive.py {script}\n" in CONTAINER


def test_the_document_names_commands_and_options_that_there_are() -> None:
    for line in re.findall(r"/opt/hourmark/venv/bin/hourmark (.+)$", RUNNING, re.MULTILINE):
        understood(shlex.split(line))
