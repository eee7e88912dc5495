"""What the database itself forbids: changing or deleting what was recorded. Put in place after every migration, looked for at every start.

A rebuilt SQLite table loses its triggers without a word, hence both.
"""

from collections.abc import Iterator

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
    "record_entry": ("clinic", "stream", "seq"),
    "record_body": ("clinic", "stream", "seq"),
    "record_erasure": ("clinic", "stream", "seq"),
    "record_head": ("clinic", "stream"),
}
"""On SQLite, inserting in the place of a row deletes it and asks no trigger for deletion: forbidden by its own."""

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
            "SELECT t.tgname FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid"
            " WHERE NOT t.tgisinternal AND t.tgenabled IN ('O', 'A') AND c.relname LIKE 'record_%%'"
        )
        enabled = {name for (name,) in cursor.fetchall()}
        return [name for name in _postgresql_names() if name not in enabled]


def _triggers() -> Iterator[tuple[str, str]]:
    for table, event, when in _FORBIDDEN:
        name = f"{table}_no_{event.lower()}"
        condition = f" WHEN {when}" if when else ""
        yield (
            name,
            f"CREATE TRIGGER {name} BEFORE {event} ON {table}{condition} BEGIN SELECT RAISE(ABORT, '{_NO}'); END",
        )
    for table, key in _KEYS.items():
        name = f"{table}_no_replace"
        same = " AND ".join(f"{column} = NEW.{column}" for column in key)
        yield (
            name,
            f"CREATE TRIGGER {name} BEFORE INSERT ON {table} WHEN EXISTS (SELECT 1 FROM {table} WHERE {same})"
            f" BEGIN SELECT RAISE(ABORT, '{_NO}'); END",
        )


def _sqlite() -> Iterator[str]:
    for name, create in _triggers():
        yield f"DROP TRIGGER IF EXISTS {name}"
        yield create


def _postgresql() -> Iterator[str]:
    yield (
        "CREATE OR REPLACE FUNCTION record_no_change() RETURNS trigger LANGUAGE plpgsql AS"
        f" $$ BEGIN RAISE EXCEPTION '{_NO}'; END $$"
    )
    for table, event, when in _FORBIDDEN:
        name = f"{table}_no_{event.lower()}"
        yield f"DROP TRIGGER IF EXISTS {name} ON {table}"
        if "SELECT" in when:
            yield (
                f"CREATE OR REPLACE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS"
                f" $$ BEGIN IF {when} THEN RAISE EXCEPTION '{_NO}'; END IF; RETURN OLD; END $$"
            )
            yield f"CREATE TRIGGER {name} BEFORE {event} ON {table} FOR EACH ROW EXECUTE FUNCTION {name}()"
        else:
            condition = f" WHEN ({when})" if when else ""
            yield (
                f"CREATE TRIGGER {name} BEFORE {event} ON {table} FOR EACH ROW{condition}"
                " EXECUTE FUNCTION record_no_change()"
            )
    for table in TABLES:
        name = f"{table}_no_truncate"
        yield f"DROP TRIGGER IF EXISTS {name} ON {table}"
        yield f"CREATE TRIGGER {name} BEFORE TRUNCATE ON {table} EXECUTE FUNCTION record_no_change()"


def _postgresql_names() -> list[str]:
    return [f"{table}_no_{event.lower()}" for table, event, _ in _FORBIDDEN] + [
        f"{table}_no_truncate" for table in TABLES
    ]
