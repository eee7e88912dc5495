"""hourmark serve: the pages, for a clinic or as a demo on this machine alone."""

import contextlib
import datetime as dt
import os
import secrets
import shutil
import socket
import subprocess
import sys
from pathlib import Path

import click

from hourmark.cli.show import STOPPED, UNREADABLE, print_findings
from hourmark.finding import stops
from hourmark.store.settings import Settings, read_settings
from hourmark.store.setup import migrate, ready
from hourmark.store.starting import start_findings
from hourmark.web import SETTINGS_MODULE

_PORTS_TRIED = 20
_HERE = "127.0.0.1"
_THREADS = "4"


def run(port: int, demo: Path | None, address: str = _HERE, watches: bool = True) -> int:  # noqa: RET503 (what is served takes the place of this process)
    """Serve until interrupted; the exit status where it cannot begin."""
    if demo is not None and address != _HERE:
        click.echo("The demo has sign-ins that everybody can read: it is served on this machine alone.", err=True)
        return STOPPED
    if demo is not None:
        _demo_settings(demo)
    settings = read_settings(os.environ)
    if isinstance(settings, tuple):
        print_findings(settings)
        return UNREADABLE
    if not settings.secret_key:
        click.echo(
            "HOURMARK_SECRET_KEY is not set: write at least 50 random characters into it, and keep it secret.", err=True
        )
        return UNREADABLE
    ready(SETTINGS_MODULE)
    her_phone = _build_demo(demo, settings) if demo is not None else None
    findings = start_findings(settings, "default", dt.datetime.now(dt.UTC))
    if stops(findings):
        print_findings(findings)
        return STOPPED
    taken = port
    port = _free(address, port)
    if demo is None and port != taken:
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


def _start_watch(demo: Path | None) -> None:
    """The watch beside the pages: it ends when they do."""
    beside = [sys.executable, "-m", "hourmark.cli.watch", *([str(demo)] if demo is not None else [])]
    subprocess.Popen(beside, stdin=subprocess.DEVNULL)


def _demo_settings(folder: Path) -> None:
    """A demo has a folder, a key and a database of its own, whatever the environment says; each start makes it anew."""
    for name in [name for name in os.environ if name.startswith("HOURMARK_") and name != "HOURMARK_TRACEBACK"]:
        del os.environ[name]
    os.environ |= {
        "HOURMARK_DEMO": "1",
        "HOURMARK_CLINIC": "demo",
        "HOURMARK_DATABASE": f"sqlite:{folder.absolute() / 'record.sqlite'}",
        "HOURMARK_SECRET_KEY": secrets.token_urlsafe(64),
        "HOURMARK_DISK_FREE_MB": "50",
    }


def _build_demo(folder: Path, settings: Settings) -> str:
    """The invented clinic; the way to one patient's page as she has it on her phone."""
    from hourmark.web.demo import PEOPLE, demo_evening, fill, her_phone
    from hourmark.web.work import desk_of

    with contextlib.suppress(FileNotFoundError):
        shutil.rmtree(folder)
    folder.mkdir(parents=True)
    click.echo("Making an invented clinic in the middle of its evening: some seconds.")
    migrate("default")
    password = secrets.token_urlsafe(12)
    evening = demo_evening(folder, dt.datetime.now(dt.UTC))
    fill(desk_of(settings.clinic), settings.clinic, evening, password)
    click.echo(f"Sign in with the password {password} as:")
    for username, name in PEOPLE.items():
        click.echo(f"  {username:10} {name}")
    return her_phone(desk_of(settings.clinic), settings.clinic, dt.datetime.now(dt.UTC))


def _free(address: str, port: int) -> int:
    """The port, or the next one that nobody listens on."""
    for candidate in range(port, port + _PORTS_TRIED):
        with socket.socket() as found:
            found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            with contextlib.suppress(OSError):
                found.bind((address, candidate))
                return candidate
    return port
