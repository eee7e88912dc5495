"""One clinic's record in a database, through Django's database layer: SQLite and PostgreSQL by the same code."""

import hashlib
import json
from collections.abc import Iterable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager, nullcontext
from typing import Any

from django.db import DatabaseError, IntegrityError, InterfaceError, OperationalError, connections, transaction

from hourmark.ledger import Entry, Head, Message, NotStored, Queued

_ENTRIES = (
    "SELECT e.stream, e.seq, e.header, e.hash, b.salt, b.body, e.act, e.part FROM record_entry e LEFT JOIN record_body b"
    " ON b.clinic = e.clinic AND b.stream = e.stream AND b.seq = e.seq WHERE e.clinic = %s"
)
_ROWS_AT_A_TIME = 2_000
_PASSING = (
    "database is locked",
    "database table is locked",
    "deadlock",
    "serialize",
    "connection",
    "terminat",
    "closed",
    "starting up",
)
"""What a database says where the same thing may well work a moment later."""


class DatabaseStore:
    """The record of one clinic in the database of that alias."""

    def __init__(self, clinic: str, alias: str = "default") -> None:
        self.clinic, self.alias = clinic, alias

    @contextmanager
    def writing(self) -> Iterator["DatabaseStore"]:
        """One transaction, alone among a clinic's writers from its first moment on. Raises NotStored where it cannot begin or end."""
        connection = connections[self.alias]
        with self._told(), transaction.atomic(using=self.alias, durable=True), connection.cursor() as cursor:
            inside = _Inside(self.clinic, self.alias, cursor)
            if connection.vendor == "postgresql":
                inside._run("SELECT pg_advisory_xact_lock(%s)", [self._place()])
            yield inside

    def head(self, stream: str) -> Head:
        """The last entry of a stream."""
        with self._told():
            row = self._run(
                "SELECT seq, hash FROM record_head WHERE clinic = %s AND stream = %s", [self.clinic, stream]
            ).fetchone()
        return Head(stream, *row) if row else Head(stream)

    def heads_of(self, streams: Sequence[str]) -> dict[str, Head]:
        """The last entry of each of these streams, by one statement."""
        if not streams:
            return {}
        with self._told():
            places = ", ".join(["%s"] * len(streams))
            rows = self._run(
                f"SELECT stream, seq, hash FROM record_head WHERE clinic = %s AND stream IN ({places})",
                [self.clinic, *streams],
            ).fetchall()
        return {stream: Head(stream) for stream in streams} | {row[0]: Head(*row) for row in rows}

    def heads(self, prefix: str = "") -> Sequence[Head]:
        """The heads of all streams whose name begins so, by name."""
        with self._told():
            rows = self._run(
                f"SELECT stream, seq, hash FROM record_head WHERE clinic = %s AND substr(stream, 1, %s) = %s"
                f" ORDER BY {self._by_name('stream')}",
                [self.clinic, len(prefix), prefix],
            ).fetchall()
        return [Head(*row) for row in rows]

    def read(self, stream: str) -> Sequence[Entry]:
        """All entries of a stream, in order."""
        with self._told():
            rows = self._run(f"{_ENTRIES} AND e.stream = %s ORDER BY e.seq", [self.clinic, stream]).fetchall()
        return [_entry(row) for row in rows]

    def read_all(self, prefix: str = "") -> Iterable[Entry]:
        """All entries of the streams whose name begins so: stream by stream by name, each in order."""
        with self._told():
            cursor = connections[self.alias].cursor()
            cursor.execute(
                f"{_ENTRIES} AND substr(e.stream, 1, %s) = %s ORDER BY {self._by_name('e.stream')}, e.seq",
                [self.clinic, len(prefix), prefix],
            )
            while rows := cursor.fetchmany(_ROWS_AT_A_TIME):
                yield from map(_entry, rows)

    def of_act(self, key: str) -> Sequence[Entry]:
        """The entries of an act, in the order of their parts."""
        with self._told():
            rows = self._run(f"{_ENTRIES} AND e.act = %s ORDER BY e.part", [self.clinic, key]).fetchall()
        return [_entry(row) for row in rows]

    def newest(self) -> str | None:
        """When the last entry of any stream was recorded, by the latest of them; None in an empty record."""
        with self._told():
            rows = self._run(
                "SELECT e.header FROM record_head h JOIN record_entry e ON e.clinic = h.clinic AND e.stream = h.stream"
                " AND e.seq = h.seq WHERE h.clinic = %s",
                [self.clinic],
            ).fetchall()
        return max((str(json.loads(bytes(header))["at"]) for (header,) in rows), default=None)

    def queued(self) -> Sequence[Queued]:
        """The messages that wait, oldest first."""
        with self._told():
            rows = self._run(
                'SELECT id, kind, "to", text FROM record_outbox WHERE clinic = %s ORDER BY id', [self.clinic]
            ).fetchall()
        return [Queued(number, Message(*message)) for number, *message in rows]

    def write(self, entries: Sequence[Entry], heads: Sequence[Head]) -> None:
        """Store entries, and move the heads of their streams, each from where the first new entry begins."""
        first = {entry.stream: entry.seq for entry in reversed(entries)}
        self._move([(head, first[head.stream] - 1) for head in sorted(heads, key=lambda one: one.stream)])
        self._run_many(
            "INSERT INTO record_entry (clinic, stream, seq, act, part, header, hash) VALUES (%s, %s, %s, %s, %s, %s, %s)",
            [(self.clinic, one.stream, one.seq, one.act, one.part, one.header, one.hash) for one in entries],
        )
        self._run_many(
            "INSERT INTO record_body (clinic, stream, seq, salt, body) VALUES (%s, %s, %s, %s, %s)",
            [(self.clinic, entry.stream, entry.seq, entry.salt, entry.body) for entry in entries],
        )

    def drop_bodies(self, stream: str, seqs: Sequence[int]) -> None:
        """Erase bodies and their salts: the one path by which the database lets them go."""
        rows = [(self.clinic, stream, seq) for seq in seqs]
        self._run_many("INSERT INTO record_erasure (clinic, stream, seq) VALUES (%s, %s, %s)", rows)
        self._run_many("DELETE FROM record_body WHERE clinic = %s AND stream = %s AND seq = %s", rows)

    def scrub(self) -> None:
        """Nothing of erased bodies stays behind: not in SQLite's log, not among PostgreSQL's dead rows."""
        with self._told():
            if connections[self.alias].vendor == "sqlite":
                self._run("PRAGMA wal_checkpoint(TRUNCATE)", []).fetchall()
            else:
                self._run("VACUUM record_body", [])

    def queue(self, messages: Sequence[Message]) -> None:
        """Put messages at the end of the queue."""
        self._run_many(
            'INSERT INTO record_outbox (clinic, kind, "to", text) VALUES (%s, %s, %s, %s)',
            [(self.clinic, one.kind, one.to, one.text) for one in messages],
        )

    def sent(self, number: int) -> bool:
        """Take a message out of the queue; False where somebody else has."""
        return bool(
            self._run("DELETE FROM record_outbox WHERE clinic = %s AND id = %s", [self.clinic, number]).rowcount
        )

    def _move(self, heads: Sequence[tuple[Head, int]]) -> None:
        """Move heads on, each from where it is. Raises IntegrityError where one is elsewhere: somebody else was first."""
        moving = [(head.seq, head.hash, self.clinic, head.stream, before) for head, before in heads if before]
        moved = self._run_many(
            "UPDATE record_head SET seq = %s, hash = %s WHERE clinic = %s AND stream = %s AND seq = %s", moving
        )
        if moved != len(moving):
            raise IntegrityError("A stream is not where it was any more.")
        self._run_many(
            "INSERT INTO record_head (clinic, stream, seq, hash) VALUES (%s, %s, %s, %s)",
            [(self.clinic, head.stream, head.seq, head.hash) for head, before in heads if not before],
        )

    def _cursor(self) -> Any:
        return connections[self.alias].cursor()

    def _run(self, sql: str, values: Sequence[Any]) -> Any:
        cursor = self._cursor()
        cursor.execute(sql, values)
        return cursor

    def _run_many(self, sql: str, rows: Sequence[Sequence[Any]]) -> int:
        """How many rows that changed."""
        if not rows:
            return 0
        cursor = self._cursor()
        if len(rows) == 1:
            cursor.execute(sql, rows[0])
        else:
            cursor.executemany(sql, rows)
        return int(cursor.rowcount)

    def _by_name(self, column: str) -> str:
        """Order by the bytes of a name, whatever the database's own language is."""
        return f'{column} COLLATE "C"' if connections[self.alias].vendor == "postgresql" else column

    def _place(self) -> int:
        """The number of the clinic's lock, of 64 bits with sign."""
        return int.from_bytes(hashlib.sha256(f"hourmark {self.clinic}".encode()).digest()[:8], "big", signed=True)

    def _told(self) -> AbstractContextManager[None]:
        return self._telling()

    @contextmanager
    def _telling(self) -> Iterator[None]:
        """The database's own exceptions as ours."""
        try:
            yield
        except IntegrityError as clash:
            raise NotStored("Somebody else was faster.", passing=True) from clash
        except (OperationalError, InterfaceError) as failed:
            said = str(failed).lower()
            passing = isinstance(failed, InterfaceError) or any(word in said for word in _PASSING)
            connection = connections[self.alias]
            if "locked" not in said and not connection.in_atomic_block:
                connection.close()
            raise NotStored(_plain(said), passing=passing) from failed
        except DatabaseError as failed:
            raise NotStored(_plain(str(failed).lower()), passing=False) from failed


_AS_IT_IS = nullcontext()


class _Inside(DatabaseStore):
    """The record inside one transaction, by one cursor: making one anew for each statement takes as long as the statement."""

    def __init__(self, clinic: str, alias: str, cursor: Any) -> None:
        super().__init__(clinic, alias)
        self._held = cursor

    def _cursor(self) -> Any:
        return self._held

    def _told(self) -> AbstractContextManager[None]:
        """Whatever the database says is told where the transaction ends."""
        return _AS_IT_IS


_PLAIN = {
    "full": "The disk is full, or the database may not grow any further.",
    "readonly": "The database can only be read, not written.",
    "read-only": "The database can only be read, not written.",
    "locked": "Others were writing all the time.",
    "malformed": "The database file is damaged.",
    "not a database": "The file is not a database.",
    "unable to open": "The database cannot be opened.",
    "no such table": "The database has not been set up: run hourmark upgrade.",
    "does not exist": "The database has not been set up: run hourmark upgrade.",
    "disk i/o error": "The disk could not be read or written.",
}


def _plain(said: str) -> str:
    """What a database says, for people."""
    return next((plain for word, plain in _PLAIN.items() if word in said), f"The database refused: {said[:200]}.")


def _entry(row: Sequence[Any]) -> Entry:
    stream, seq, header, digest, salt, body, act, part = row
    return Entry(stream, seq, bytes(header), digest, _bytes(salt), _bytes(body), act, part)


def _bytes(value: Any) -> bytes | None:
    return bytes(value) if value is not None else None
