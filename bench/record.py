"""How long the record takes: appending beside bare SQLite, folding cases, looking through everything; and how much room it needs."""

import cProfile
import gc
import io
import itertools
import os
import pstats
import random
import sqlite3
import tempfile
import time
import tomllib
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from statistics import median
from typing import Any, TypeAlias

from bench.nights import night
from hourmark.case import events as e
from hourmark.case.shapes import to_fact
from hourmark.case.streams import case_stream
from hourmark.desk import Desk
from hourmark.exchange import plain_table
from hourmark.ledger import Act, Fact, Head, append, sealed, verify
from hourmark.store.database import DatabaseStore
from hourmark.store.settings import database
from hourmark.store.setup import connect, migrate, ready

EVENTS = 40
SIZES = [1_000, 10_000]
AT, WHO = "2026-11-18T20:00:00Z", "N. Ferro"
BODY = b"x" * 390
"""As long as an ordinary event."""
STREAMS = 50
_Statement: TypeAlias = tuple[str, Any, bool]

BLOCK = 50
"""So many acts of one kind, then as many of the other: what else the machine does meanwhile falls on both."""


@dataclass(frozen=True)
class Appending:
    """Seconds for one act of so many entries: by hourmark, and by bare SQLite with the same statements."""

    entries: int
    hourmark: float
    sqlite: float

    @property
    def share(self) -> float:
        """How fast, with bare SQLite as 1."""
        return self.sqlite / self.hourmark


@dataclass(frozen=True)
class Reading:
    """Seconds to fold so many cases of 40 events and to look through them all, and bytes of the file for each event.

    Seconds of this process alone: nothing here waits for the disk, and what else the machine does would bend the line.
    """

    cases: int
    fold: float
    verify: float
    bytes_each: float

    @property
    def events(self) -> int:
        return self.cases * EVENTS


def appending(entries: int, acts: int = 2_000) -> Appending:
    """Acts of so many entries on as many streams, interleaved with the same by bare SQLite on a database of the same tables."""
    with (
        tempfile.TemporaryDirectory() as folder,
        _file(Path(folder), "hourmark") as alias,
        _file(Path(folder), "shadow", factory=_WrittenDown) as shadow,
        _bare(Path(folder)) as bare,
    ):
        work = _Work(DatabaseStore("clinic", alias), DatabaseStore("clinic", shadow), bare, entries)
        work.run(BLOCK)  # everything is loaded once before anything is measured
        hourmark, sqlite = work.run(acts)
    return Appending(entries, hourmark, sqlite)


def reading(sizes: Sequence[int] = SIZES) -> list[Reading]:
    """Measured for each number of cases, on a file of its own."""
    found = []
    for cases in sizes:
        with tempfile.TemporaryDirectory() as folder, _file(Path(folder), "hourmark") as alias:
            store = DatabaseStore("clinic", alias)
            _fill(store, cases)
            with closing(sqlite3.connect(Path(folder) / "hourmark.sqlite")) as raw:
                raw.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            size = (Path(folder) / "hourmark.sqlite").stat().st_size
            fold = _seconds(lambda: _fold(store, cases), time.process_time)  # noqa: B023 (called at once)
            look = _seconds(lambda: _verify(store), time.process_time)  # noqa: B023 (called at once)
            found.append(Reading(cases, fold, look, size / (cases * EVENTS)))
    return found


def profile(lines: int = 30) -> str:
    """Where the time goes: appending acts of one entry, folding, and looking through 500 cases."""
    appended, folded, looked = cProfile.Profile(), cProfile.Profile(), cProfile.Profile()
    with tempfile.TemporaryDirectory() as folder, _file(Path(folder), "hourmark") as alias:
        store = DatabaseStore("clinic", alias)
        _fill(store, 500)
        for number, act in enumerate(_acts(1, 1_000)):
            if number == BLOCK:
                appended.enable()
            _append(store, act)
        appended.disable()
        folded.runcall(_fold, store, 500)
        looked.runcall(_verify, store)
    out = io.StringIO()
    for name, profiler in (("appending", appended), ("folding", folded), ("looking through", looked)):
        out.write(f"\n{name}\n")
        pstats.Stats(profiler, stream=out).strip_dirs().sort_stats("tottime").print_stats(lines)
    return out.getvalue()


class _Cursor(sqlite3.Cursor):
    """A cursor of SQLite's driver that writes down what it is asked for."""

    connection: "_WrittenDown"

    def execute(self, sql: str, values: Any = (), /) -> "_Cursor":
        self.connection.statements.append((sql, values, False))
        return super().execute(sql, values)

    def executemany(self, sql: str, values: Any, /) -> "_Cursor":
        self.connection.statements.append((sql, values, True))
        return super().executemany(sql, values)


class _WrittenDown(sqlite3.Connection):
    """A connection of SQLite's driver that writes down what it is asked for, once that is wanted; then nobody may ask past it."""

    def __init__(self, *given: Any, **named: Any) -> None:
        super().__init__(*given, **named)
        self.statements: list[_Statement] = []
        self.wanted = False

    def cursor(self, factory: Any = _Cursor) -> Any:
        if self.wanted and factory is not _Cursor:
            raise AssertionError("a statement that would not be written down")
        return super().cursor(factory)

    def execute(self, sql: str, values: Any = (), /) -> sqlite3.Cursor:
        cursor: sqlite3.Cursor = self.cursor().execute(sql, values)
        return cursor

    def commit(self) -> None:
        self.statements.append(("COMMIT", (), False))
        super().commit()


class _Work:
    """The same acts in three databases: by hourmark, by hourmark with what it asks SQLite's driver written down, and by that alone."""

    def __init__(self, store: DatabaseStore, shadow: DatabaseStore, bare: sqlite3.Connection, entries: int) -> None:
        self._store, self._shadow, self._bare, self._acts = store, shadow, bare, _acts(entries)

    def run(self, acts: int) -> tuple[float, float]:
        """Seconds for an act by hourmark and by bare SQLite: of the median block, since flushing to disk takes now and then ten times as long."""
        hourmark, sqlite = [], []
        for _ in range(acts // BLOCK):
            block = list(itertools.islice(self._acts, BLOCK))
            hourmark.append(_seconds(lambda: self._by_hourmark(block)))  # noqa: B023 (called at once)
            statements = self._written_down(block)
            sqlite.append(_seconds(lambda: self._by_sqlite(statements)))  # noqa: B023 (called at once)
        return median(hourmark) / BLOCK, median(sqlite) / BLOCK

    def _by_hourmark(self, acts: list[Act]) -> None:
        for act in acts:
            _append(self._store, act)

    def _by_sqlite(self, statements: list[_Statement]) -> None:
        run, many = self._bare.execute, self._bare.executemany
        for sql, values, repeated in statements:
            if repeated:
                many(sql, values)
            else:
                run(sql, values).fetchall()

    def _written_down(self, acts: list[Act]) -> list[_Statement]:
        """What SQLite's driver is asked for these acts, word for word."""
        from django.db import connections

        connections[self._shadow.alias].ensure_connection()
        asked: Any = connections[self._shadow.alias].connection
        asked.statements, asked.wanted = [], True
        for act in acts:
            _append(self._shadow, act)
        written: list[_Statement] = asked.statements
        return written


def _acts(entries: int, most: int | None = None) -> Iterator[Act]:
    """Acts of so many entries, each on a stream of its own."""
    for number in itertools.islice(itertools.count(), most):
        facts = tuple(
            Fact(f"case/{(number * entries + place) % STREAMS}", "noted", 1, BODY) for place in range(entries)
        )
        yield Act(f"key-{number:032}", b'["Noted",{"case":"K-1"}]', WHO, AT, facts)


def _append(store: DatabaseStore, act: Act) -> None:
    with store.writing() as record:
        append(record, act, {}, lambda: os.urandom(16))


def _fold(store: DatabaseStore, cases: int) -> None:
    states = Desk(store, lambda: os.urandom(16)).states()
    for number in range(cases):
        if not states.case(f"K-{number}").closed:
            raise AssertionError(number)


def _verify(store: DatabaseStore) -> None:
    if damage := list(verify(store)):
        raise AssertionError(damage[:3])


def _seconds(work: Callable[[], object], clock: Callable[[], float] = time.perf_counter) -> float:
    gc.collect()
    start = clock()
    work()
    return clock() - start


@contextmanager
def _file(folder: Path, name: str, factory: type[sqlite3.Connection] = sqlite3.Connection) -> Iterator[str]:
    """The alias of a new SQLite file with the tables of a record, and connections of that kind."""
    _django(folder)
    from django.db import connections

    alias = connect(f"bench-{name}", f"sqlite:{folder / name}.sqlite")
    options: Any = connections[alias].settings_dict["OPTIONS"]
    options["factory"] = factory
    migrate(alias)
    try:
        yield alias
    finally:
        connections[alias].close()


@contextmanager
def _bare(folder: Path) -> Iterator[sqlite3.Connection]:
    """A file of the same tables, triggers and pragmas, without anything of ours in between."""
    with closing(sqlite3.connect(folder / "hourmark.sqlite")) as made:
        schema = [
            sql
            for (sql,) in made.execute(
                "SELECT sql FROM sqlite_master WHERE sql IS NOT NULL AND name <> 'sqlite_sequence'"
            )
        ]
    described: Any = database("sqlite:any")
    assert described is not None
    with closing(sqlite3.connect(folder / "bare.sqlite", isolation_level=None)) as bare:
        bare.executescript(described["OPTIONS"]["init_command"])
        for statement in schema:
            bare.execute(statement)
        yield bare


def _django(folder: Path) -> None:
    """Django, once in a process; its own default database is never opened."""
    from django.conf import settings

    if not settings.configured:
        before = os.environ.get("HOURMARK_DATABASE")
        os.environ["HOURMARK_DATABASE"] = f"sqlite:{folder / 'default.sqlite'}"
        ready()
        if before is None:
            del os.environ["HOURMARK_DATABASE"]
        else:
            os.environ["HOURMARK_DATABASE"] = before


def _fill(store: DatabaseStore, cases: int) -> None:
    """Cases of 40 events each, an act for each event, as an evening would have them; many in one transaction, which takes less time."""
    for first in range(0, cases, 100):
        with store.writing() as record:
            for number in range(first, min(first + 100, cases)):
                stream = case_stream(f"K-{number}")
                head, written = Head(stream), []
                for place, event in enumerate(_history(number)):
                    act = Act(f"key-{number:020}-{place:08}", b"", WHO, AT, (to_fact(stream, event),))
                    (entry,) = sealed("clinic", act, {stream: head}, lambda: os.urandom(16))
                    head = Head(stream, entry.seq, entry.hash)
                    written.append(entry)
                record.write(written, [head])


@cache
def _tables() -> list[tuple[dict[str, Any], dict[str, Any]]]:
    """A hundred invented cases, and the slot of each."""
    read = plain_table(tomllib.loads(night(100)))
    return list(zip(read["cases"], read["slots"], strict=True))


def _history(number: int) -> list[e.CaseEvent]:
    """One case from its opening to its end: a slot moved late, so that everything was checked, read back and released twice."""
    given, slot = _tables()[number % len(_tables())]
    details = {name: value for name, value in given.items() if name not in ("id", "slot", "order", "kit")}
    chance = random.Random(number)
    rests_on = {name: f"{chance.getrandbits(256):064x}" for name in ("slot", "order", "kit", "rules", "zone")}
    readings = (e.Reading("agonist", "2026-11-19T03:00:00Z", (("0.8 mL", "80"),)),)
    fields = tuple(e.Said(f"agonist {name}", "21:00", "21:00", True) for name in ("day", "time", "dose", "mark"))

    def sheet(version: int) -> e.SheetIssued:
        due = e.Due(
            injection="agonist",
            medicine="leuprolide acetate",
            dose="4 mg",
            route="subcutaneous",
            take="mark 80 (0.8 mL)",
            at="2026-11-19T03:00:00Z",
            zone="America/Chicago",
            said="Wednesday 18 November 2026, 9:00 pm (21:00), the night of Wednesday into Thursday",
            tell_by="2026-11-19T00:00:00Z",
            mix_at="2026-11-19T02:40:00Z",
            earliest="2026-11-19T02:00:00Z",
            latest="2026-11-19T04:00:00Z",
            leads=(2_100, 2_220),
            holds="1 mL",
            follows=None,
        )
        pages = tuple(e.Page(name, place, rests_on["kit"]) for place, name in enumerate(("sheet.txt", "page.pdf"), 1))
        return e.SheetIssued(
            version, "nurse", f"word {version}", (due, due), pages, rests_on, "M. Sand", None, None, (), "2026f"
        )

    boxes = [box["product"] for box in given["kit"]["products"]]
    once: list[e.CaseEvent] = [
        *(
            e.CartonChecked(box, ("N. Ferro", "M. Sand"), "5 mg/mL", "2.8 mL", "subcutaneous")
            for box in (boxes * 2)[:2]
        ),
        e.PlanOpened("plan"),
        e.SecondChecked("nurse", readings, readings, (), rests_on),
        e.CallTried("+1 312 555 0164", False, "nobody answered"),
        e.CallTried("+1 312 555 0164", True, "she answered"),
        e.ReadBack("she", ("name", "birth"), fields, "a word", True, rests_on),
        e.CallNoted("she", "+1 312 555 0164", "where to keep it", "in the refrigerator", "", ""),
    ]
    history: list[e.CaseEvent] = [
        e.CaseOpened(f"K-{number}", details),
        e.SlotGiven(slot, "2026-11-20T15:00:00Z", "the list came"),
        e.OrderTelephoned(1, given["order"], "four milligrams, thirty-six hours before", None),
        e.OrderCountersigned(1, "Dr. L. Aumont"),
        e.KitRead(1, given["kit"], "on the telephone"),
        *once,
        sheet(1),
        e.SlotGiven(slot | {"at": "2026-11-20 09:30"}, "2026-11-20T15:30:00Z", "moved"),
        e.SheetVoided(1, ("slot",), "the slot moved"),
        *once,
        sheet(2),
        e.DetailsChanged(details, "stays with her sister"),
        e.OrderSigned(2, given["order"]),
        e.Confirmed(
            "agonist", "21:04", "America/Chicago", "2026-11-19T03:04:00Z", "she", "clock", "all", "nothing", 2, ()
        ),
        e.ConfirmationWithdrawn(30, "another case"),
        e.Escalated("agonist", "Dr. L. Aumont", "silent for an hour", "ring again", reached=True, rung=None, tell=None),
        e.Confirmed(
            "agonist", "21:14", "America/Chicago", "2026-11-19T03:14:00Z", "she", "clock", "all", "nothing", 2, ()
        ),
        e.IncidentNoted("agonist", "ten minutes late", "Dr. L. Aumont", "within the window", True, settles=None),
    ]
    calls = (e.CallNoted("she", "+1 312 555 0164", "how it went", "well", "", "") for _ in itertools.count())
    return [*history, *itertools.islice(calls, EVENTS - 1 - len(history)), e.CaseClosed("retrieved")]


if __name__ == "__main__":
    for size in (1, 4):
        print(f"{size} entries an act:", (one := appending(size)), f"{one.share:.0%}")
    for row in reading():
        print(row, f"{row.events / row.fold:,.0f} folded a second, {row.events / row.verify:,.0f} looked through")
