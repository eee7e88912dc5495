"""Writers and servers killed in the middle of their work, and what is then there."""

import itertools
import os
import random
import resource
import signal
import sqlite3
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager, nullcontext
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from hourmark.ledger import Entry, Message, NotStored, append, verify
from hourmark.store.database import DatabaseStore
from tests.record.apart import Forked, Say, apart, forked
from tests.record.databases import make_tables, opened, running_server, sqlite_url
from tests.record.facts import act, appended, fact

_MOST_HEARD = 6
_LONGEST = 0.004
"""A writer is killed after at most so many acts and seconds more. An act takes about a quarter of the latter."""
_A_CLINIC = 25
"""So many kills go to one clinic before the next is begun: each is looked at whole after every kill."""


@dataclass(frozen=True)
class Survived:
    """How many kills there were, how many acts were acknowledged before them, and how many were stored that nobody heard of."""

    kills: int
    acknowledged: int
    unheard: int


def kills(folder: Path, count: int, seed: int) -> Survived:
    """That many writers on one SQLite file in that folder, each killed. An AssertionError says what was lost or torn."""
    path = folder / "record.sqlite"
    make_tables(sqlite_url(path))
    survived = client_kills(sqlite_url(path), count, seed)
    with closing(sqlite3.connect(path)) as raw:
        assert raw.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    return survived


def client_kills(url: str, count: int, seed: int) -> Survived:
    """The same in any database with the tables of a record."""
    return Survived(*apart(_client_kills, url, count, seed))


def server_kills(count: int, seed: int) -> Survived:
    """A PostgreSQL server of its own, killed that often while somebody writes, and started again."""
    return Survived(*apart(_server_kills, count, seed))


def _client_kills(url: str, count: int, seed: int) -> tuple[int, int, int]:
    chance = random.Random(seed)
    looked = Looked(url, seed)
    for number in range(count):
        writer = forked(partial(_write, url, looked.clinic(number), str(number)))
        with _somebody_else(url) if chance.random() < 0.5 else nullcontext():
            heard = _heard_for_a_while(writer, chance)
            os.kill(writer.id, signal.SIGKILL)
            heard += writer.rest()
            assert writer.ended() == -signal.SIGKILL
            looked.after(number, heard)
    return count, looked.acknowledged, looked.unheard


def _server_kills(count: int, seed: int) -> tuple[int, int, int]:
    chance = random.Random(seed)
    with running_server() as server:
        url = server.database("record")
        looked = Looked(url, seed)
        for number in range(count):
            writer = forked(partial(_write, url, looked.clinic(number), str(number)))
            heard = _heard_for_a_while(writer, chance)
            server.kill()
            heard += writer.rest()
            assert writer.ended() == 0
            server.start()
            looked.after(number, heard)
    return count, looked.acknowledged, looked.unheard


def _write(url: str, clinic: str, name: str, say: Say) -> None:
    """Acts of two streams and a message each, for ever, or until the server is gone."""
    with opened(url) as alias:
        store = DatabaseStore(clinic, alias)
        try:
            for number in itertools.count():
                key = f"{name}-{number}"
                with store.writing() as record:
                    facts = (fact(stream, body) for stream, body in _parts(key))
                    append(record, act(key, *facts), {}, lambda: os.urandom(16))
                    record.queue([Message("call-owed", key, key)])
                say(key)
        except NotStored as failed:
            if not failed.passing:
                raise


def _parts(key: str) -> list[tuple[str, bytes]]:
    """What an act of that key says, on which streams. More than fits a page of the file, so that many are written."""
    number = int(key.rpartition("-")[2])
    return [(f"case/K-{number % 3}", key.encode() * 500), ("day/2026-11-20", key.encode())]


def _heard_for_a_while(writer: Forked, chance: random.Random) -> list[str]:
    heard = writer.lines(chance.randrange(_MOST_HEARD))
    time.sleep(chance.random() * _LONGEST)
    return heard


@contextmanager
def _somebody_else(url: str) -> Iterator[None]:
    """Another who has the file open: the next one to come then finds it in use, and not left behind."""
    if not url.startswith("sqlite:"):
        yield
        return
    with closing(sqlite3.connect(url.removeprefix("sqlite:"))) as raw:
        raw.execute("SELECT count(*) FROM record_head").fetchall()
        yield


class Looked:
    """What was acknowledged so far, and a look at the record after each kill."""

    def __init__(self, url: str, seed: int) -> None:
        self._url, self._seed = url, seed
        self._known: set[str] = set()
        self.acknowledged = self.unheard = 0

    def clinic(self, number: int) -> str:
        return f"clinic-{number // _A_CLINIC}"

    def after(self, number: int, heard: list[str]) -> None:
        if number % _A_CLINIC == 0:
            self._known = set()
        self._known |= set(heard)
        with opened(self._url) as alias, DatabaseStore(self.clinic(number), alias).writing() as record:
            # Within a transaction, so that what a dead writer had begun on a server is over.
            acts: dict[str, list[Entry]] = {}
            for entry in record.read_all():
                acts.setdefault(entry.read_header().act, []).append(entry)
            waiting = [one.message.text for one in record.queued()]
            where = f"kill {number}, seed {self._seed}"
            assert self._known <= acts.keys(), where
            for key, entries in acts.items():
                assert sorted((entry.stream, entry.body) for entry in entries) == _parts(key), where
            assert sorted(waiting) == sorted(acts), where
            assert list(verify(record)) == [], where
        self.acknowledged += len(heard)
        self.unheard += len(acts.keys() - self._known)
        self._known = set(acts)


def write_too_much(path: str) -> list[str]:
    """What is told, and then there, when a file may not grow any more; and once it may."""
    url, told = f"sqlite:{path}", []
    make_tables(url)
    large = act("k1", fact("roll"), fact("large", b"x" * 400_000))
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    with opened(url) as alias:
        store = DatabaseStore("clinic", alias)
        store.heads()
        resource.setrlimit(resource.RLIMIT_FSIZE, (300_000, before[1]))
        try:
            appended(store, large)
        except NotStored as failed:
            told.append(str(failed))
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
        told.append("something stored" if list(store.read_all()) else "nothing stored")
        appended(store, large)
        assert list(verify(store)) == []
        told.append("stored" if len(store.of_act("k1")) == 2 else "torn")
    return told
