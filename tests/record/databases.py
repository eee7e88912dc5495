"""Databases for the tests: SQLite files by path, and a PostgreSQL server of the tests' own."""

import contextlib
import itertools
import os
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest
from django.conf import settings
from django.db import connections

from hourmark.store.setup import connect, migrate, ready
from hourmark.web import SETTINGS_MODULE

_NUMBERS = itertools.count(1)


def make_ready(folder: Path) -> None:
    """Django, once in a process. Its default database lies in that folder; the tests open their own beside it."""
    if not settings.configured:
        with pytest.MonkeyPatch.context() as environment:
            environment.setenv("HOURMARK_DATABASE", f"sqlite:{folder / 'default.sqlite'}")
            ready(SETTINGS_MODULE)


@contextlib.contextmanager
def opened(url: str) -> Iterator[str]:
    """The alias of a database, while it is needed: one left behind would be looked at by every command of Django's."""
    alias = connect(f"record-{next(_NUMBERS)}", url)
    try:
        yield alias
    finally:
        connections[alias].close()
        del connections[alias]
        del connections.settings[alias]


def make_tables(url: str) -> None:
    """The tables and guards of a record in an empty database."""
    with opened(url) as alias:
        migrate(alias)


def sqlite_url(path: Path) -> str:
    return f"sqlite:{path}"


class Server:
    """A PostgreSQL server with a folder of its own. It flushes to disk as it would anywhere else."""

    def __init__(self, folder: Path) -> None:
        self._data, self._folder, self._port = folder / "data", folder, _free_port()
        if os.geteuid() == 0:
            shutil.chown(folder, "postgres")
        # In English order, upper and lower case mixed: a store that leans on the database's own order is found out.
        order = ["--locale-provider=icu", "--icu-locale=en"] if _version() >= 15 else []
        self._run("initdb", "-D", self._data, "-A", "trust", "-U", "postgres", "-E", "UTF8", "--wal-segsize=1", *order)

    def start(self) -> None:
        options = {
            "listen_addresses": "127.0.0.1",
            "port": self._port,
            "unix_socket_directories": self._folder,
            "shared_buffers": "16MB",
        }
        given = " ".join(f"-c {name}={value}" for name, value in options.items())
        self._run("pg_ctl", "-D", self._data, "-w", "-l", self._folder / "log", "-o", given, "start")

    def stop(self) -> None:
        self._run("pg_ctl", "-D", self._data, "-w", "-m", "fast", "stop")

    def kill(self) -> None:
        """The server and everything it started, at once and without a chance to tidy up."""
        lock = self._data / "postmaster.pid"
        first = int(lock.read_text(encoding="ascii").split()[0])
        os.kill(first, signal.SIGSTOP)  # so that it starts nothing more in the meantime
        processes = [first, *_children(first)]
        for process in processes:
            with contextlib.suppress(ProcessLookupError):
                os.kill(process, signal.SIGKILL)
        while any(_lives(process) for process in processes):
            time.sleep(0.002)
        # Where nobody fetches what has died, the next start would take it for a server that lives.
        for left in (lock, *self._folder.glob(".s.PGSQL.*")):
            left.unlink()

    def database(self, name: str) -> str:
        """The URL of a new database with the tables of a record."""
        with opened(self._url("postgres")) as alias:
            connections[alias].cursor().execute(f'CREATE DATABASE "{name}"')
        make_tables(self._url(name))
        return self._url(name)

    def _url(self, name: str) -> str:
        return f"postgresql://postgres@127.0.0.1:{self._port}/{name}"

    def _run(self, command: str, *arguments: object) -> None:
        before = ["runuser", "-u", "postgres", "--"] if os.geteuid() == 0 else []
        done = subprocess.run(
            [*before, str(_binaries() / command), *map(str, arguments)],
            cwd=self._folder,
            stdin=subprocess.DEVNULL,
            stdout=(out := tempfile.TemporaryFile()),  # noqa: SIM115 (a pipe would be held open by the server itself)
            stderr=subprocess.STDOUT,
            check=False,
        )
        out.seek(0)
        said = out.read().decode()
        out.close()
        log = self._folder / "log"
        assert done.returncode == 0, said + (log.read_text(encoding="utf-8")[-2_000:] if log.exists() else "")


@contextlib.contextmanager
def running_server() -> Iterator[Server]:
    """A server, until it is no longer needed. In a folder beside the tests' own, which only their user may enter."""
    folder = Path(tempfile.mkdtemp(prefix="hourmark-"))
    try:
        server = Server(folder)
        server.start()
        try:
            yield server
        finally:
            server.stop()
    finally:
        shutil.rmtree(folder)


@cache
def _binaries() -> Path:
    """The newest PostgreSQL there is. Its absence is a failure: half of what these tests say would not have been looked at."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda path: int(path.parts[-3]))
    assert found, "PostgreSQL is missing: please run: apt-get install -y postgresql"
    return found[-1].parent


def _version() -> int:
    return int(_binaries().parent.name)


def _free_port() -> int:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        port: int = found.getsockname()[1]
        return port


def _children(process: int) -> list[int]:
    return [int(path.name) for path in Path("/proc").glob("[0-9]*") if _status(int(path.name))[1] == process]


def _lives(process: int) -> bool:
    return _status(process)[0] not in ("", "Z")


def _status(process: int) -> tuple[str, int]:
    """A process's state and its parent, as proc(5) has them behind the name in brackets; nothing for one that is gone."""
    try:
        state, parent = Path(f"/proc/{process}/stat").read_text(encoding="ascii").rpartition(")")[2].split()[:2]
    except (FileNotFoundError, ProcessLookupError):
        return "", 0
    return state, int(parent)
