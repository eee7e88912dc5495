"""One clinic's record in a database, through Django's database layer: SQLite and PostgreSQL by the same code."""

import hashlib
import json
from collections.abc import Iterable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager, nullcontext
from functools import lru_cache
from types import TracebackType
from typing import Any

from django.db import DatabaseError, IntegrityError, InterfaceError, OperationalError, connections, transaction

from hourmark.ledger import Entry, Head, Message, NotStored, Queued

_ENTRIES = (
    "SELECT e.stream, e.seq, e.header, e.hash, b.salt, b.body, e.act, e.part FROM record_entry e LEFT JOIN record_body b"
    " ON b.clinic = e.clinic AND b.stream = e.stream AND b.seq = e.seq WHERE e.clinic = %s"
)
_ROWS_AT_A_TIME = 500
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
        self._told: AbstractContextManager[None] = _Told(alias)

    @contextmanager
    def writing(self) -> Iterator["DatabaseStore"]:
        """One transaction, alone among a clinic's writers from its first moment on. Raises NotStored where it cannot begin or end."""
        connection = connections[self.alias]
        with self._told, _transaction(connection), connection.wrap_database_errors:
            inside = _Inside(self.clinic, connection)
            if connection.vendor == "postgresql":
                inside._run("SELECT pg_advisory_xact_lock(%s)", [self._place()])
            yield inside

    def head(self, stream: str) -> Head:
        """The last entry of a stream."""
        with self._told:
            row = self._run(
                "SELECT seq, hash FROM record_head WHERE clinic = %s AND stream = %s", [self.clinic, stream]
            ).fetchone()
        return Head(stream, *row) if row else Head(stream)

    def heads_of(self, streams: Sequence[str]) -> dict[str, Head]:
        """The last entry of each of these streams, by one statement."""
        if not streams:
            return {}
        with self._told:
            places = ", ".join(["%s"] * len(streams))
            rows = self._run(
                f"SELECT stream, seq, hash FROM record_head WHERE clinic = %s AND stream IN ({places})",
                [self.clinic, *streams],
            ).fetchall()
        there = {row[0]: Head(*row) for row in rows}
        return {stream: there.get(stream) or Head(stream) for stream in streams}

    def heads(self, prefix: str = "") -> Sequence[Head]:
        """The heads of all streams whose name begins so, by name."""
        with self._told:
            rows = self._run(
                f"SELECT stream, seq, hash FROM record_head WHERE clinic = %s AND substr(stream, 1, %s) = %s"
                f" ORDER BY {self._by_name('stream')}",
                [self.clinic, len(prefix), prefix],
            ).fetchall()
        return [Head(*row) for row in rows]

    def read(self, stream: str) -> Sequence[Entry]:
        """All entries of a stream, in order."""
        with self._told:
            rows = self._run(f"{_ENTRIES} AND e.stream = %s ORDER BY e.seq", [self.clinic, stream]).fetchall()
        return [_entry(row) for row in rows]

    def read_all(self, prefix: str = "") -> Iterable[Entry]:
        """All entries of the streams whose name begins so: stream by stream by name, each in order, as they were when it began.

        A part of them at a time: PostgreSQL keeps the rest on its side. No transaction is held open for it, since the caller asks other
        things of the same connection meanwhile, and may stop halfway.
        """
        with self._told, connections[self.alias].chunked_cursor() as cursor:
            cursor.execute(
                f"{_ENTRIES} AND substr(e.stream, 1, %s) = %s ORDER BY {self._by_name('e.stream')}, e.seq",
                [self.clinic, len(prefix), prefix],
            )
            while rows := cursor.fetchmany(_ROWS_AT_A_TIME):
                yield from map(_entry, rows)

    def of_act(self, key: str) -> Sequence[Entry]:
        """The entries of an act, in the order of their parts."""
        with self._told:
            rows = self._run(f"{_ENTRIES} AND e.act = %s ORDER BY e.part", [self.clinic, key]).fetchall()
        return [_entry(row) for row in rows]

    def newest(self) -> str | None:
        """When the last entry of any stream was recorded, by the latest of them; None in an empty record."""
        with self._told:
            rows = self._run(
                "SELECT e.header FROM record_head h JOIN record_entry e ON e.clinic = h.clinic AND e.stream = h.stream"
                " AND e.seq = h.seq WHERE h.clinic = %s",
                [self.clinic],
            ).fetchall()
        return max((str(json.loads(bytes(header))["at"]) for (header,) in rows), default=None)

    def queued(self) -> Sequence[Queued]:
        """The messages that wait, oldest first."""
        with self._told:
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
        with self._told:
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

    def _asked(self, sql: str) -> tuple[Any, str]:
        """A cursor to ask, and the statement as it is said there."""
        return connections[self.alias].cursor(), sql

    def _run(self, sql: str, values: Sequence[Any]) -> Any:
        cursor, said = self._asked(sql)
        cursor.execute(said, values)
        return cursor

    def _run_many(self, sql: str, rows: Sequence[Sequence[Any]]) -> int:
        """How many rows that changed."""
        if not rows:
            return 0
        cursor, said = self._asked(sql)
        if len(rows) == 1:
            cursor.execute(said, rows[0])
        else:
            cursor.executemany(said, rows)
        return int(cursor.rowcount)

    def _by_name(self, column: str) -> str:
        """Order by the bytes of a name, whatever the database's own language is."""
        return f'{column} COLLATE "C"' if connections[self.alias].vendor == "postgresql" else column

    def _place(self) -> int:
        """The number of the clinic's lock, of 64 bits with sign."""
        return int.from_bytes(hashlib.sha256(f"hourmark {self.clinic}".encode()).digest()[:8], "big", signed=True)


class _Told(AbstractContextManager[None]):
    """The database's own exceptions as ours."""

    def __init__(self, alias: str) -> None:
        self._alias = alias

    def __enter__(self) -> None:
        pass

    def __exit__(
        self, kind: type[BaseException] | None, failed: BaseException | None, trace: TracebackType | None
    ) -> None:
        if isinstance(failed, (DatabaseError, InterfaceError)):
            raise self._as_ours(failed) from failed

    def _as_ours(self, failed: DatabaseError | InterfaceError) -> NotStored:
        said = str(failed).lower()
        match failed:
            case IntegrityError():
                return NotStored("Somebody else was faster.", passing=True)
            case OperationalError() | InterfaceError():
                connection = connections[self._alias]
                if "locked" not in said and not connection.in_atomic_block:
                    connection.close()
                passing = isinstance(failed, InterfaceError) or any(word in said for word in _PASSING)
                return NotStored(_plain(said), passing=passing)
            case _:
                return NotStored(_plain(said), passing=False)


def _transaction(connection: Any) -> AbstractContextManager[None]:
    """A transaction that is stored when it ends; by the driver itself where that is all there is to it."""
    if connection.vendor == "sqlite" and not (_looked_on(connection) or connection.in_atomic_block):
        connection.close_if_health_check_failed()
        if connection.get_autocommit():
            return _Straight(connection)
    return transaction.atomic(using=connection.alias, durable=True)


def _looked_on(connection: Any) -> bool:
    """Whether somebody looks on at what Django says to the database."""
    return bool(connection.execute_wrappers or connection.queries_logged)


class _Straight(transaction.Atomic):
    """Django's transaction on SQLite, begun and stored by the driver itself: with Django in between, both take four times as long.

    Every other end than a good one, and whatever is to be done after it, is left to Django.
    """

    def __init__(self, connection: Any) -> None:
        super().__init__(connection.alias, savepoint=True, durable=True)
        self._connection = connection

    def __enter__(self) -> None:
        connection = self._connection
        with connection.wrap_database_errors:
            connection.connection.execute("BEGIN IMMEDIATE")
        connection.commit_on_exit, connection.needs_rollback = True, False
        connection.autocommit, connection.in_atomic_block = False, True
        connection.atomic_blocks.append(self)

    def __exit__(
        self, kind: type[BaseException] | None, failed: BaseException | None, trace: TracebackType | None
    ) -> None:
        connection = self._connection
        if kind is not None or connection.needs_rollback or connection.run_on_commit:
            super().__exit__(kind, failed, trace)
            return
        try:
            with connection.wrap_database_errors:
                connection.connection.commit()
        except BaseException as lost:
            super().__exit__(type(lost), lost, lost.__traceback__)
            raise
        connection.atomic_blocks.pop()
        connection.autocommit, connection.in_atomic_block = True, False
        connection.errors_occurred = False


_AS_IT_IS = nullcontext()


class _Inside(DatabaseStore):
    """The record inside one transaction, asked through the driver itself: with Django in between, it takes twice as long to ask.

    Whatever goes wrong is told where the transaction ends.
    """

    def __init__(self, clinic: str, connection: Any) -> None:
        super().__init__(clinic, connection.alias)
        self._told = _AS_IT_IS
        self._connection, self._logged = connection, connection.queries_logged
        self._cursor, self._marks = connection.connection.cursor(), connection.vendor == "sqlite"

    def _asked(self, sql: str) -> tuple[Any, str]:
        """By Django where somebody looks on. Raises TransactionManagementError in a transaction that can only be undone, as Django does."""
        connection = self._connection
        connection.validate_no_broken_transaction()
        if connection.execute_wrappers or self._logged:
            return connection.cursor(), sql
        return self._cursor, _with_marks(sql) if self._marks else sql


@lru_cache
def _with_marks(sql: str) -> str:
    """As SQLite's driver has the places of values marked."""
    return sql.replace("%s", "?")


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
