"""What the databases themselves forbid: whoever reaches them with other tools cannot change what was recorded either."""

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

import psycopg
import pytest
from django.apps import apps
from django.core.management import call_command
from django.db import OperationalError, connections, models, transaction

from hourmark.ledger import Message, append, erase, verify
from hourmark.store import guards
from hourmark.store.database import DatabaseStore
from hourmark.store.setup import migrate
from tests.record.databases import Server, opened, sqlite_url
from tests.record.facts import AT, WHO, act, appended, contents, fact, salts

REFUSED = "the record is never changed"


def record_something(store: DatabaseStore) -> None:
    """Two entries on each of two streams; the bodies of one are erased."""
    with store.writing() as record:
        append(record, act("k1", fact("a"), fact("b")), {}, salts())
        append(record, act("k2", fact("a"), fact("b")), {}, salts(10))
        erase(record, "b", "kept long enough", key="k3", actor=WHO, at=AT, salt=salts(20))
        record.queue([Message("call-owed", "K-101", "first")])


@pytest.fixture(scope="module")
def postgresql(server: Server) -> str:
    """A database apart: some of what is done here would leave the others' damaged."""
    return server.database("guards")


@contextmanager
def bare(url: str) -> Iterator[Callable[[str], Any]]:
    """Statements without Django and without hourmark, each a transaction of its own."""
    connection: Any
    if url.startswith("sqlite:"):
        connection = sqlite3.connect(url.removeprefix("sqlite:"), isolation_level=None)
    else:
        connection = psycopg.connect(url, autocommit=True)
    with closing(connection):
        yield connection.execute


# Each would change, hide or take away something that was recorded. @ stands for the clinic, in quotes.
CHANGES = [
    "UPDATE record_entry SET hash = 'e'",
    *(
        f"UPDATE record_entry SET {change} WHERE clinic = @ AND stream = 'a' AND seq = 1"
        for change in (
            "header = 'e'",
            "header = header",
            "hash = 'e'",
            "act = 'k9'",
            "part = 9",
            "seq = 9",
            "stream = 'c'",
            "clinic = 'c'",
        )
    ),
    *(
        f"UPDATE record_body SET {change} WHERE clinic = @ AND stream = 'a' AND seq = 1"
        for change in ("body = salt", "salt = body", "body = body", "seq = 9", "stream = 'b'", "clinic = 'c'")
    ),
    "UPDATE record_erasure SET seq = 3 WHERE clinic = @",
    "UPDATE record_erasure SET stream = 'a' WHERE clinic = @",
    *(
        f"UPDATE record_head SET {change} WHERE clinic = @ AND stream = 'a'"
        for change in (
            "seq = seq - 1",
            "seq = 0",
            "seq = seq",
            "hash = 'e'",
            "seq = seq + 1, stream = 'c'",
            "seq = seq + 1, clinic = 'c'",
        )
    ),
    *(f"DELETE FROM {table}" for table in ("record_entry", "record_body", "record_erasure", "record_head")),
    "DELETE FROM record_entry WHERE clinic = @ AND stream = 'b' AND seq = 1",
    "DELETE FROM record_body WHERE clinic = @ AND stream = 'a' AND seq = 1",
    "DELETE FROM record_body WHERE clinic = @ AND stream = 'b' AND seq = 3",
    "DELETE FROM record_erasure WHERE clinic = @ AND stream = 'b' AND seq = 1",
    "DELETE FROM record_head WHERE clinic = @ AND stream = 'a'",
    "INSERT INTO record_entry VALUES (@, 'a', 1, 'k9', 1, 'e', 'e')"
    " ON CONFLICT (clinic, stream, seq) DO UPDATE SET hash = 'e'",
    "INSERT INTO record_entry VALUES (@, 'c', 1, 'k1', 1, 'e', 'e')"
    " ON CONFLICT (clinic, act, part) DO UPDATE SET hash = 'e'",
    "INSERT INTO record_body VALUES (@, 'a', 1, 'e', 'e') ON CONFLICT (clinic, stream, seq) DO UPDATE SET body = 'e'",
    "INSERT INTO record_erasure VALUES (@, 'b', 1) ON CONFLICT (clinic, stream, seq) DO UPDATE SET seq = 3",
    "INSERT INTO record_head VALUES (@, 'a', 1, 'e') ON CONFLICT (clinic, stream) DO UPDATE SET seq = 1, hash = 'e'",
]

# A row that takes another's place deletes it without asking what may be deleted: under any of the keys that it shares with it, of which
# the row's own number is one.
REPLACEMENTS = [
    f"{verb} {into}"
    for verb in ("INSERT OR REPLACE", "REPLACE")
    for into in (
        "INTO record_entry VALUES (@, 'a', 1, 'k9', 1, 'e', 'e')",
        "INTO record_entry VALUES (@, 'c', 1, 'k1', 1, 'e', 'e')",
        "INTO record_entry (rowid, clinic, stream, seq, act, part, header, hash) VALUES (1, @, 'c', 1, 'k9', 1, 'e', 'e')",
        "INTO record_body VALUES (@, 'a', 1, 'e', 'e')",
        "INTO record_body (rowid, clinic, stream, seq, salt, body) VALUES (1, @, 'c', 1, 'e', 'e')",
        "INTO record_erasure VALUES (@, 'b', 1)",
        "INTO record_erasure (rowid, clinic, stream, seq) VALUES (1, @, 'c', 1)",
        "INTO record_head VALUES (@, 'a', 1, 'e')",
        "INTO record_head (rowid, clinic, stream, seq, hash) VALUES (1, @, 'c', 1, 'e')",
    )
] + [
    "UPDATE OR REPLACE record_head SET seq = seq + 1, stream = 'b' WHERE stream = 'a'",
    "UPDATE OR REPLACE record_head SET seq = seq + 1, rowid = 2 WHERE rowid = 1",
    "UPDATE OR REPLACE record_entry SET seq = 2 WHERE stream = 'a' AND seq = 1",
]

TRUNCATIONS = [
    *(f"TRUNCATE {table}" for table in guards.TABLES),
    "TRUNCATE record_outbox, record_body CASCADE",
    "WITH gone AS (DELETE FROM record_body WHERE clinic = @ AND stream = 'a' RETURNING seq) SELECT seq FROM gone",
]


def assert_refused(store: DatabaseStore, url: str, statement: str) -> None:
    record_something(store)
    before = contents(store)
    with (
        bare(url) as execute,
        pytest.raises((sqlite3.IntegrityError, psycopg.errors.RaiseException), match=REFUSED),
    ):
        execute(statement.replace("@", f"'{store.clinic}'"))
    assert contents(store) == before
    assert list(verify(store)) == []


@pytest.mark.parametrize("change", CHANGES)
def test_what_was_recorded_is_not_changed(database_store: DatabaseStore, url: str, change: str) -> None:
    assert_refused(database_store, url, change)


@pytest.mark.parametrize("replacement", REPLACEMENTS)
def test_nothing_takes_the_place_of_what_was_recorded(sqlite_file: Path, replacement: str) -> None:
    with opened(sqlite_url(sqlite_file)) as alias:
        assert_refused(DatabaseStore("clinic", alias), sqlite_url(sqlite_file), replacement)


@pytest.mark.parametrize("truncation", TRUNCATIONS)
def test_no_table_is_emptied(postgresql: str, clinic: str, truncation: str) -> None:
    with opened(postgresql) as alias:
        assert_refused(DatabaseStore(clinic, alias), postgresql, truncation)


def test_a_key_is_used_once_in_a_clinic(database_store: DatabaseStore, url: str) -> None:
    record_something(database_store)
    with (
        bare(url) as execute,
        pytest.raises((sqlite3.IntegrityError, psycopg.errors.UniqueViolation), match=rf"(?i)uniq|{REFUSED}"),
    ):
        execute(f"INSERT INTO record_entry VALUES ('{database_store.clinic}', 'c', 1, 'k1', 1, 'e', 'e')")
    with bare(url) as execute:
        execute(f"INSERT INTO record_entry VALUES ('{database_store.clinic}-b', 'c', 1, 'k1', 1, 'e', 'e')")


def test_a_body_goes_only_after_it_was_entered_as_erased(database_store: DatabaseStore, url: str) -> None:
    record_something(database_store)
    one = f"clinic = '{database_store.clinic}' AND stream = 'a' AND seq = "
    with bare(url) as execute:
        execute(f"INSERT INTO record_erasure VALUES ('{database_store.clinic}', 'a', 2)")
        with pytest.raises((sqlite3.IntegrityError, psycopg.errors.RaiseException), match=REFUSED):
            execute(f"DELETE FROM record_body WHERE {one} 1")
        execute(f"DELETE FROM record_body WHERE {one} 2")
    assert [entry.body is None for entry in database_store.read("a")] == [False, True]
    # The database lets it go; that no entry says so is found all the same.
    assert [(found.code, found.where) for found in verify(database_store)] == [("record-body-missing", "a, entry 2")]


def test_one_clinic_s_erasing_lets_nothing_of_another_go(database_store: DatabaseStore, url: str) -> None:
    record_something(database_store)
    record_something(DatabaseStore(f"{database_store.clinic}-b", database_store.alias))
    with bare(url) as execute:
        execute(f"INSERT INTO record_erasure VALUES ('{database_store.clinic}', 'a', 1)")
        with pytest.raises((sqlite3.IntegrityError, psycopg.errors.RaiseException), match=REFUSED):
            execute(f"DELETE FROM record_body WHERE clinic = '{database_store.clinic}-b' AND stream = 'a' AND seq = 1")


# Which guards there have to be, said here once more.
BOTH = [
    "record_entry_no_update",
    "record_entry_no_delete",
    "record_body_no_update",
    "record_body_no_delete",
    "record_erasure_no_update",
    "record_erasure_no_delete",
    "record_head_no_delete",
    "record_head_no_update",
]
OF = {
    "sqlite": [*BOTH, *(f"record_{table}_no_replace" for table in ("entry", "body", "erasure", "head"))],
    "postgresql": [*BOTH, *(f"record_{table}_no_truncate" for table in ("entry", "body", "erasure", "head"))],
}


def table_of(guard: str) -> str:
    return guard.partition("_no_")[0]


def missing_after(alias: str, *statements: str) -> list[str]:
    """The guards found missing after somebody did that, which is then undone; putting them in place makes up for it."""
    with transaction.atomic(using=alias):
        for statement in statements:
            connections[alias].cursor().execute(statement)
        named = guards.missing(alias)
        guards.install(alias)
        assert guards.missing(alias) == []
        transaction.set_rollback(True, using=alias)
    return named


def test_every_guard_is_in_place_after_the_tables_are_made(database_store: DatabaseStore) -> None:
    assert guards.missing(database_store.alias) == []


@pytest.mark.parametrize("guard", OF["sqlite"])
def test_a_guard_dropped_or_altered_in_a_file_is_named(sqlite_file: Path, guard: str) -> None:
    with opened(sqlite_url(sqlite_file)) as alias:
        drop = f"DROP TRIGGER {guard}"
        assert missing_after(alias, drop) == [guard]
        event = {"update": "UPDATE", "delete": "DELETE", "replace": "INSERT"}[guard.rpartition("_")[2]]
        for altered in (
            f"CREATE TRIGGER {guard} BEFORE {event} ON {table_of(guard)} WHEN 0"
            f" BEGIN SELECT RAISE(ABORT, '{REFUSED}'); END",
            f"CREATE TRIGGER {guard} BEFORE {event} ON {table_of(guard)} BEGIN SELECT 1; END",
            f"CREATE TRIGGER {guard} BEFORE {event} ON record_outbox BEGIN SELECT RAISE(ABORT, '{REFUSED}'); END",
        ):
            assert missing_after(alias, drop, altered) == [guard]
        assert guards.missing(alias) == []


@pytest.mark.parametrize("guard", OF["postgresql"])
def test_a_guard_dropped_disabled_or_altered_on_a_server_is_named(postgresql: str, guard: str) -> None:
    with opened(postgresql) as alias:
        table, event = table_of(guard), guard.rpartition("_")[2].upper()
        drop = f"DROP TRIGGER {guard} ON {table}"
        assert missing_after(alias, drop) == [guard]
        for state in ("DISABLE TRIGGER", "ENABLE REPLICA TRIGGER"):
            assert missing_after(alias, f"ALTER TABLE {table} {state} {guard}") == [guard]
        each = "" if event == "TRUNCATE" else "FOR EACH ROW"
        end = "EXECUTE FUNCTION record_no_change()"
        for altered in (
            f"CREATE TRIGGER {guard} BEFORE {event} ON {table} WHEN (false) {end}",
            f"CREATE TRIGGER {guard} AFTER INSERT ON {table} {each} {end}",
            f"CREATE TRIGGER {guard} BEFORE {event} ON record_outbox {each} {end}",
        ):
            assert missing_after(alias, drop, altered) == [guard], altered
        assert guards.missing(alias) == []


def test_guards_that_do_nothing_any_more_are_named(postgresql: str) -> None:
    """Whoever changes what a guard runs has taken it away, though it still stands there by name."""
    with opened(postgresql) as alias:
        run = (
            connections[alias]
            .cursor()
            .execute(
                "SELECT DISTINCT p.proname FROM pg_trigger t JOIN pg_proc p ON p.oid = t.tgfoid WHERE NOT t.tgisinternal"
            )
        )
        harmless = "RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN RETURN OLD; END $$"
        changed = [f"CREATE OR REPLACE FUNCTION {name}() {harmless}" for (name,) in run.fetchall()]
        assert sorted(missing_after(alias, *changed)) == sorted(OF["postgresql"])
        assert all(missing_after(alias, change) for change in changed)


@pytest.mark.parametrize("table", ["record_entry", "record_body", "record_head"])
def test_a_rebuilt_table_gets_its_guards_back(sqlite_file: Path, table: str) -> None:
    """On SQLite, Django makes a table anew to change it, and its guards are gone without a word."""
    url = sqlite_url(sqlite_file)
    with opened(url) as alias:
        store = DatabaseStore("clinic", alias)
        record_something(store)
        before = contents(store)
        _add_column(alias, table)
        lost = [guard for guard in OF["sqlite"] if table_of(guard) == table]
        assert set(lost) <= set(guards.missing(alias))
        assert all(table_of(guard) == table for guard in guards.missing(alias))
        migrate(alias)
        assert guards.missing(alias) == []
        assert contents(store) == before
        with bare(url) as execute, pytest.raises(sqlite3.IntegrityError, match=REFUSED):
            execute(f"DELETE FROM {table}")


def test_the_table_of_erasures_cannot_be_rebuilt_under_its_guards(sqlite_file: Path) -> None:
    """The guard of the bodies asks it. A migration that changes it has to take that guard away first; it stops where it did not."""
    with opened(sqlite_url(sqlite_file)) as alias:
        with pytest.raises(OperationalError, match="record_body_no_delete"):
            _add_column(alias, "record_erasure")
        assert guards.missing(alias) == []


def _add_column(alias: str, table: str) -> None:
    model = next(one for one in apps.get_app_config("store").get_models() if one._meta.db_table == table)
    column: models.Field[Any, Any] = models.IntegerField(default=0)
    column.set_attributes_from_name("added")
    with connections[alias].schema_editor() as editor:
        editor.add_field(model, column)


def test_tables_made_twice_are_the_same(database_store: DatabaseStore) -> None:
    record_something(database_store)
    before = contents(database_store)
    migrate(database_store.alias)
    assert guards.missing(database_store.alias) == []
    assert contents(database_store) == before
    appended(database_store, act("k9", fact("a")), start=50)


def test_the_tables_are_as_their_migrations_make_them() -> None:
    call_command("makemigrations", check_changes=True, dry_run=True, verbosity=0)
