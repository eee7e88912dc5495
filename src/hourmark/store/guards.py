"""What the database itself forbids: changing or deleting what was recorded. Put in place after every migration, looked for at every start.

A rebuilt SQLite table loses its triggers without a word, hence both.
"""

from collections.abc import Iterator
from typing import NamedTuple

from django.db import connections

_NO = "the record is never changed"

_FORBIDDEN = (
    ("record_entry", "UPDATE", ""),
    ("record_entry", "DELETE", ""),
    ("record_body", "UPDATE", ""),
    (
        "record_body",
        "DELETE",
        "NOT EXISTS (SELECT 1 FROM record_erasure e"
        " WHERE e.clinic = OLD.clinic AND e.stream = OLD.stream AND e.seq = OLD.seq)",
    ),
    ("record_erasure", "UPDATE", ""),
    ("record_erasure", "DELETE", ""),
    ("record_head", "DELETE", ""),
    ("record_head", "UPDATE", "NEW.seq <= OLD.seq OR NEW.clinic <> OLD.clinic OR NEW.stream <> OLD.stream"),
)
"""Table, what is forbidden, and when (always where that is empty)."""

_KEYS = {
    "record_entry": (("clinic", "stream", "seq"), ("clinic", "act", "part"), ("rowid",)),
    "record_body": (("clinic", "stream", "seq"), ("rowid",)),
    "record_erasure": (("clinic", "stream", "seq"), ("rowid",)),
    "record_head": (("clinic", "stream"), ("rowid",)),
}
"""On SQLite, inserting or updating in the place of a row deletes it and asks no trigger for deletion: forbidden by their own.

By every key that a row can be in the place of; a rowid that was not given is one that no row has.
"""

TABLES = tuple(_KEYS)


def install(alias: str) -> None:
    """Put every guard in place, anew where one is there already."""
    connection = connections[alias]
    with connection.cursor() as cursor:
        for statement in _sqlite() if connection.vendor == "sqlite" else _postgresql():
            cursor.execute(statement)


def missing(alias: str) -> list[str]:
    """The guards that are not there, or not as they should be, by name."""
    connection = connections[alias]
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
            there = dict(cursor.fetchall())
            return [name for name, sql in _triggers() if there.get(name) != sql]
        cursor.execute(
            "SELECT t.tgname, c.relname, t.tgtype, p.proname, p.prosrc FROM pg_trigger t"
            " JOIN pg_class c ON c.oid = t.tgrelid JOIN pg_proc p ON p.oid = t.tgfoid"
            " WHERE NOT t.tgisinternal AND t.tgenabled IN ('O', 'A') AND t.tgqual IS NULL AND t.tgattr = ''"
        )
        as_they_are = set(cursor.fetchall())
        return [guard.name for guard in _on_a_server() if guard.as_listed() not in as_they_are]


def _triggers() -> Iterator[tuple[str, str]]:
    for table, event, when in _FORBIDDEN:
        name = f"{table}_no_{event.lower()}"
        moved = " OR NEW.rowid <> OLD.rowid" if when and event == "UPDATE" else ""
        condition = f" WHEN {when}{moved}" if when else ""
        yield (
            name,
            f"CREATE TRIGGER {name} BEFORE {event} ON {table}{condition} BEGIN SELECT RAISE(ABORT, '{_NO}'); END",
        )
    for table, keys in _KEYS.items():
        name = f"{table}_no_replace"
        same = " OR ".join(" AND ".join(f"{column} = NEW.{column}" for column in key) for key in keys)
        yield (
            name,
            f"CREATE TRIGGER {name} BEFORE INSERT ON {table} WHEN EXISTS (SELECT 1 FROM {table} WHERE {same})"
            f" BEGIN SELECT RAISE(ABORT, '{_NO}'); END",
        )


def _sqlite() -> Iterator[str]:
    for name, create in _triggers():
        yield f"DROP TRIGGER IF EXISTS {name}"
        yield create


class _Guard(NamedTuple):
    """A trigger on a server: what it is called, on which table, before what, and the function that it runs."""

    name: str
    table: str
    event: str
    function: str
    source: str

    def as_listed(self) -> tuple[str, str, int, str, str]:
        """As the server's own catalogue lists it (PostgreSQL manual, pg_trigger; the bits of tgtype are in its trigger.h, from memory)."""
        each_row, before = int(self.event != "TRUNCATE"), 2
        kind = {"DELETE": 8, "UPDATE": 16, "TRUNCATE": 32}[self.event]
        return self.name, self.table, each_row + before + kind, self.function, self.source


_ALWAYS = f" BEGIN RAISE EXCEPTION '{_NO}'; END "


def _on_a_server() -> Iterator[_Guard]:
    for table, event, when in _FORBIDDEN:
        name = f"{table}_no_{event.lower()}"
        if when:
            row = "NEW" if event == "UPDATE" else "OLD"
            source = f" BEGIN IF {when} THEN RAISE EXCEPTION '{_NO}'; END IF; RETURN {row}; END "
            yield _Guard(name, table, event, name, source)
        else:
            yield _Guard(name, table, event, "record_no_change", _ALWAYS)
    for table in TABLES:
        yield _Guard(f"{table}_no_truncate", table, "TRUNCATE", "record_no_change", _ALWAYS)


def _postgresql() -> Iterator[str]:
    for guard in _on_a_server():
        each = "" if guard.event == "TRUNCATE" else "FOR EACH ROW "
        yield (f"CREATE OR REPLACE FUNCTION {guard.function}() RETURNS trigger LANGUAGE plpgsql AS $${guard.source}$$")
        yield f"DROP TRIGGER IF EXISTS {guard.name} ON {guard.table}"
        yield (
            f"CREATE TRIGGER {guard.name} BEFORE {guard.event} ON {guard.table}"
            f" {each}EXECUTE FUNCTION {guard.function}()"
        )
