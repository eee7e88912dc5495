"""A power cut in the middle of a write leaves the file's journal cut off anywhere behind what was acknowledged: every such place is tried."""

import sqlite3
from collections import Counter
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

import pytest
from django.db import connections

from hourmark.ledger import Message, append, verify
from hourmark.store.database import DatabaseStore
from hourmark.store.setup import migrate
from tests.record.databases import opened, sqlite_url
from tests.record.facts import act, contents, fact, salts

PAGE = 512
# Of SQLite's file format, from memory: the journal begins with 32 bytes, and each page in it stands behind 24 of its own.
HEAD, FRAME = 32, 24 + PAGE
ACKNOWLEDGED = 6


@dataclass(frozen=True)
class Cuttable:
    """A file as it was when its last act was acknowledged but one, and its journal to the end of that last act."""

    file: bytes
    journal: bytes
    acknowledged: int

    def put(self, path: Path, journal: bytes) -> None:
        path.write_bytes(self.file)
        Path(f"{path}-wal").write_bytes(journal)
        Path(f"{path}-shm").unlink(missing_ok=True)


def _append(store: DatabaseStore, number: int) -> None:
    with store.writing() as record:
        append(record, act(f"k{number}", fact("case/K-101"), fact("roll")), {}, salts(number * 10))
        record.queue([Message("call-owed", "K-101", f"k{number}")])


@pytest.fixture(scope="module")
def cuttable(tmp_path_factory: pytest.TempPathFactory) -> Cuttable:
    path = tmp_path_factory.mktemp("cuts") / "record.sqlite"
    with closing(sqlite3.connect(path)) as raw:  # small pages, so that there are many of them and few places in each
        raw.execute(f"PRAGMA page_size={PAGE}")
        raw.execute("PRAGMA journal_mode=WAL")
    journal = Path(f"{path}-wal")
    with opened(sqlite_url(path)) as alias:
        migrate(alias)
        store = DatabaseStore("clinic", alias)
        for number in range(ACKNOWLEDGED - 1):
            _append(store, number)
    with opened(sqlite_url(path)) as alias:
        store = DatabaseStore("clinic", alias)
        _append(store, ACKNOWLEDGED - 1)  # is in the journal only, and yet acknowledged
        file, acknowledged = path.read_bytes(), len(journal.read_bytes())
        _append(store, ACKNOWLEDGED)
        assert path.read_bytes() == file
        return Cuttable(file, journal.read_bytes(), acknowledged)


def test_the_journal_holds_several_pages_of_either_act(cuttable: Cuttable) -> None:
    """Else the places tried below would be none."""
    assert (cuttable.acknowledged - HEAD) % FRAME == (len(cuttable.journal) - HEAD) % FRAME == 0
    assert HEAD + 8 * FRAME < cuttable.acknowledged < len(cuttable.journal) - 8 * FRAME


def test_a_journal_cut_off_anywhere_loses_nothing_acknowledged(cuttable: Cuttable, tmp_path: Path) -> None:
    path, end = tmp_path / "record.sqlite", len(cuttable.journal)
    both = {f"k{number}": 2 for number in range(ACKNOWLEDGED)}
    for cut in range(cuttable.acknowledged, end + 1):
        cuttable.put(path, cuttable.journal[:cut])
        wanted = both if cut < end else both | {f"k{ACKNOWLEDGED}": 2}
        with closing(sqlite3.connect(path, isolation_level=None)) as raw:
            raw.execute("PRAGMA synchronous=OFF")  # what is looked at here needs not outlive another power cut
            there = Counter(key for (key,) in raw.execute("SELECT act FROM record_entry"))
            assert there == wanted, cut
            assert raw.execute("SELECT stream, seq FROM record_head").fetchall() == [
                ("case/K-101", len(wanted)),
                ("roll", len(wanted)),
            ], cut
            assert raw.execute("SELECT count(*) FROM record_body").fetchone() == (2 * len(wanted),), cut
            assert [text for (text,) in raw.execute("SELECT text FROM record_outbox ORDER BY id")] == [*wanted], cut


@pytest.mark.parametrize("tail", ["nothing", "zeros", "something old"])
def test_a_record_whose_journal_was_cut_off_is_whole_and_goes_on(cuttable: Cuttable, tmp_path: Path, tail: str) -> None:
    """A file system may also have made the journal longer already, and have written nothing there, or have left what was there before."""
    path, end = tmp_path / "record.sqlite", len(cuttable.journal)
    frames = range(cuttable.acknowledged, end, FRAME)
    assert len(frames) >= 8
    for cut in [*frames, *(frame + FRAME - 1 for frame in frames), *(frame + 23 for frame in frames)]:
        rest = {"nothing": b"", "zeros": bytes(end - cut), "something old": cuttable.journal[HEAD:][: end - cut]}[tail]
        cuttable.put(path, cuttable.journal[:cut] + rest)
        with opened(sqlite_url(path)) as alias:
            connections[alias].cursor().execute("PRAGMA synchronous=OFF")
            store = DatabaseStore("clinic", alias)
            assert list(verify(store)) == [], cut
            assert len(contents(store)[0]) == 2 * ACKNOWLEDGED, cut
            _append(store, ACKNOWLEDGED)
            assert list(verify(store)) == [], cut
            assert len(contents(store)[0]) == 2 * ACKNOWLEDGED + 2, cut
            assert len(store.queued()) == ACKNOWLEDGED + 1, cut


def test_what_is_acknowledged_was_written_through(cuttable: Cuttable, tmp_path: Path) -> None:
    """The cuts above stand for a power cut only where the journal reached the disk before the act was acknowledged.

    Of SQLite, from memory: in WAL mode that takes synchronous FULL, which is 2; with NORMAL the last acts can be lost.
    """
    path = tmp_path / "record.sqlite"
    cuttable.put(path, cuttable.journal)
    with opened(sqlite_url(path)) as alias:
        ask = connections[alias].cursor()
        assert ask.execute("PRAGMA journal_mode").fetchone() == ("wal",)
        assert ask.execute("PRAGMA synchronous").fetchone() == (2,)


def test_a_server_writes_through_what_is_acknowledged(postgresql: str) -> None:
    with opened(postgresql) as alias:
        for setting in ("fsync", "synchronous_commit", "full_page_writes"):
            ask = connections[alias].cursor()
            ask.execute(f"SHOW {setting}")
            assert ask.fetchone() == ("on",), setting
