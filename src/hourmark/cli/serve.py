"""hourmark serve: the pages, for a clinic or as a demo on this machine alone."""

import contextlib
import datetime as dt
import os
import secrets
import shutil
import socket
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import click

from hourmark.cli.show import STOPPED, UNREADABLE, print_findings
from hourmark.drill.clock import FASTEST, SLOWEST, read_clock
from hourmark.drill.folder import CLOCK, RECORD, Drill, hold, open_folder
from hourmark.finding import Finding, stops
from hourmark.incident.calls import calls
from hourmark.store.settings import DRILL_CLINIC, Settings, read_settings
from hourmark.store.setup import migrate, ready
from hourmark.store.starting import mixed, start_findings
from hourmark.web import DEMO_FILES, SETTINGS_MODULE

_PORTS_TRIED = 20
_HERE = "127.0.0.1"
_THREADS = "4"


@dataclass(frozen=True, slots=True)
class Drilled:
    """What was asked for of a drill: its folder, and where they were given, seed, number of calls and pace."""

    folder: Path | None = None
    seed: int | None = None
    count: int | None = None
    pace: int | None = None


_NO_DRILL = Drilled()


def run(  # noqa: RET503 (what is served takes the place of this process)
    port: int, demo: Path | None, address: str = _HERE, watches: bool = True, drilled: Drilled = _NO_DRILL
) -> int:
    """Serve until interrupted; the exit status where it cannot begin."""
    if (wrong := _unfit(demo, drilled)) is not None:
        click.echo(wrong, err=True)
        return UNREADABLE
    if _reached_from_outside(demo is not None or drilled.folder is not None, address):
        return STOPPED
    if demo is not None and not _may_be_emptied(demo):
        click.echo(f"{demo} holds something that is no demo's. Name a folder that is not there yet.", err=True)
        return STOPPED
    drill = open_folder(drilled.folder, drilled.seed, drilled.count) if drilled.folder is not None else None
    if isinstance(drill, Finding):
        print_findings([drill])
        return STOPPED
    if demo is not None:
        _invented_settings("DEMO", "1", "demo", demo)
    if drill is not None:
        _invented_settings("DRILL", str(drill.folder.absolute()), DRILL_CLINIC, drill.folder)
    settings = read_settings(os.environ)
    if isinstance(settings, tuple):
        print_findings(settings)
        return UNREADABLE
    if _reached_from_outside(settings.demo or bool(settings.drill), address) or not _held(settings.drill):
        return STOPPED
    if not settings.secret_key:
        click.echo(
            "HOURMARK_SECRET_KEY is not set: write at least 50 random characters into it, and keep it secret.", err=True
        )
        return UNREADABLE
    ready(SETTINGS_MODULE)
    her_phone = _build_demo(demo, settings) if demo is not None else None
    if drill is not None:
        if findings := tuple(mixed(settings, "default")):
            print_findings(findings)
            return STOPPED
        _build_drill(drill, drilled.pace)
    findings = start_findings(settings, "default", _now(drill))
    if stops(findings):
        print_findings(findings)
        return STOPPED
    taken = port
    port = _free(address, port)
    if demo is None and drill is None and port != taken:
        click.echo(f"Port {taken} is taken: choose another with --port.", err=True)
        return STOPPED
    if her_phone is not None:
        click.echo(f"What K-103 has on her phone, for another window: http://localhost:{port}{her_phone}")
    click.echo(f"Open http://localhost:{port}   (Ctrl-C ends it)")
    sys.stdout.flush()
    command = [
        *(sys.executable, "-m", "gunicorn", "hourmark.web.wsgi:application", "--bind", f"{address}:{port}"),
        *(
            "--workers",
            "1",
            "--threads",
            _THREADS,
            "--keep-alive",
            "0",
            "--log-level",
            "warning",
            "--no-control-socket",
        ),
    ]
    if watches:
        _start_watch(demo)
    os.execvpe(command[0], command, os.environ | {"DJANGO_SETTINGS_MODULE": SETTINGS_MODULE})


def _reached_from_outside(invented: bool, address: str) -> bool:
    """Whether demo or drill would be: then it is said."""
    if invented and address != _HERE:
        click.echo("Demo and drill have sign-ins that everybody can read: served on this machine alone.", err=True)
    return invented and address != _HERE


def _held(folder: str) -> bool:
    """Whether nobody else serves the drill in this folder, where there is one: this process has it then, and whatever takes its place."""
    held = hold(Path(folder)) if folder else None
    if isinstance(held, Finding):
        print_findings([held])
        return False
    return True


def _start_watch(demo: Path | None) -> None:
    """The watch beside the pages: it ends when they do."""
    beside = [sys.executable, "-m", "hourmark.cli.watch", *([str(demo)] if demo is not None else [])]
    subprocess.Popen(beside, stdin=subprocess.DEVNULL)


def _unfit(demo: Path | None, drilled: Drilled) -> str | None:
    """What is wrong with the options; None where nothing is."""
    if drilled.folder is None:
        given = (drilled.seed, drilled.count, drilled.pace)
        return "--seed, --calls and --pace belong to --drill." if any(one is not None for one in given) else None
    if demo is not None:
        return "Serve the demo or a drill, not both."
    if drilled.count is not None and not 1 <= drilled.count <= len(calls()):
        return f"A drill has 1 to {len(calls())} calls, not {drilled.count}."
    if drilled.pace is not None and not SLOWEST <= drilled.pace <= FASTEST:
        return f"{SLOWEST} to {FASTEST} minutes of a drill's night can pass in one, not {drilled.pace}."
    return None


def _invented_settings(kind: str, value: str, clinic: str, folder: Path) -> None:
    """Demo and drill have a folder, a key and a database of their own, whatever the environment says."""
    for name in [name for name in os.environ if name.startswith("HOURMARK_") and name != "HOURMARK_TRACEBACK"]:
        del os.environ[name]
    os.environ |= {
        f"HOURMARK_{kind}": value,
        "HOURMARK_CLINIC": clinic,
        "HOURMARK_DATABASE": f"sqlite:{folder.absolute() / RECORD}",
        "HOURMARK_SECRET_KEY": secrets.token_urlsafe(64),
        "HOURMARK_DISK_FREE_MB": "50",
    }


def _may_be_emptied(folder: Path) -> bool:
    """Whether a demo may begin in it: where nothing is, or a demo and nothing else. A record without the demo's files is somebody's."""
    if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
        return False
    there = {path.name for path in folder.iterdir()} if folder.is_dir() else set()
    records = {RECORD, f"{RECORD}-wal", f"{RECORD}-shm", f"{RECORD}-journal"}
    return not there or (there >= {*DEMO_FILES} and there <= {*DEMO_FILES, *records})


def _build_demo(folder: Path, settings: Settings) -> str:
    """The invented clinic; the way to one patient's page as she has it on her phone."""
    from hourmark.web.demo import PEOPLE, demo_evening, fill, her_phone
    from hourmark.web.work import desk_of

    with contextlib.suppress(FileNotFoundError):
        shutil.rmtree(folder)
    folder.mkdir(parents=True)
    click.echo("Making an invented clinic in the middle of its evening: some seconds.")
    evening = demo_evening(folder, dt.datetime.now(dt.UTC))
    migrate("default")
    password = secrets.token_urlsafe(12)
    fill(desk_of(settings.clinic), settings.clinic, evening, password)
    _say_who(password, PEOPLE)
    return her_phone(desk_of(settings.clinic), settings.clinic, dt.datetime.now(dt.UTC))


def _build_drill(drill: Drill, pace: int | None) -> None:
    """The drill's night, made, or gone on with from where it stood; who can sign in, with a password that is new at each start."""
    migrate("default")
    from hourmark.web.demo import PEOPLE
    from hourmark.web.drill_start import take_up

    click.echo(f"DRILL: seed {drill.seed}, {drill.count} calls. Making its night: the first time up to a minute.")
    password = secrets.token_urlsafe(12)
    night = take_up(drill, pace, password)
    click.echo(f"Minutes of its night that pass in one: {night.pace}.")
    _say_who(password, PEOPLE)


def _now(drill: Drill | None) -> dt.datetime:
    """Now, by which the record's own moments are judged."""
    machine = dt.datetime.now(dt.UTC)
    return read_clock(drill.folder / CLOCK).at(machine) if drill is not None else machine


def _say_who(password: str, people: Mapping[str, str]) -> None:
    click.echo(f"Sign in with the password {password} as:")
    for username, name in people.items():
        click.echo(f"  {username:10} {name}")


def _free(address: str, port: int) -> int:
    """The port, or the next one that nobody listens on."""
    for candidate in range(port, port + _PORTS_TRIED):
        with socket.socket() as found:
            found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            with contextlib.suppress(OSError):
                found.bind((address, candidate))
                return candidate
    return port
