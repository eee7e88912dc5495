"""A transaction in which the store asks the driver itself, beside the same with Django in between: nobody can tell them apart."""

from collections.abc import Callable
from contextlib import suppress
from typing import Any

import pytest
from django.db import IntegrityError, connections, transaction
from django.test.utils import CaptureQueriesContext

from hourmark.ledger import Act, Appended, Message, NotStored, append, verify
from hourmark.store.database import DatabaseStore
from tests.record.drivers import Asked, between_driver_and_django
from tests.record.facts import act, appended, contents, fact, salts

FIRST = act("k1", fact("case/K-101"), fact("roll"), fact("case/K-101", b"again"))
LATER = act("k2", fact("case/K-101", b"later"), fact("rules"))


def write(store: DatabaseStore, one: Act = FIRST, start: int = 0, within: Callable[[], object] = lambda: None) -> None:
    """An act and a message, with something else between them."""
    with store.writing() as record:
        assert isinstance(append(record, one, {}, salts(start)), Appended)
        within()
        record.queue([Message("call-owed", "K-101", "first"), Message("call-owed", "K-101", "second")])


def write_twice(store: DatabaseStore) -> None:
    write(store)
    write(store, LATER, 50)


def asked_of(store: DatabaseStore, work: Callable[[DatabaseStore], None]) -> list[str]:
    """What the driver is asked for meanwhile, each place of a value written in one way."""
    asked: list[str] = []

    def note(do: Callable[[], object], given: Asked) -> object:
        name, *said = given
        asked.append(f"{name} {said[0]}".replace("%s", "?") if said else name)
        return do()

    with between_driver_and_django(store.alias, note):
        work(store)
    return asked


class Watcher:
    """Looks on at what Django is asked for."""

    def __init__(self) -> None:
        self.seen: list[str] = []

    def __call__(self, execute: Any, sql: str, *given: Any) -> Any:
        self.seen.append(sql)
        return execute(sql, *given)


def stands_as_before(store: DatabaseStore) -> bool:
    """Whether the connection is in no transaction, neither Django's nor the driver's."""
    connection: Any = connections[store.alias]
    connection.ensure_connection()
    within = connection.connection.in_transaction if connection.vendor == "sqlite" else False
    left = connection.atomic_blocks + connection.savepoint_ids + connection.run_on_commit
    return connection.get_autocommit() and not (within or connection.in_atomic_block or left)


def test_the_database_is_asked_for_the_same_either_way_and_holds_the_same(
    url: str, database_store: DatabaseStore
) -> None:
    def looked_on(store: DatabaseStore) -> None:
        with connections[store.alias].execute_wrapper(Watcher()):
            write_twice(store)

    other = DatabaseStore(f"{database_store.clinic}-b", database_store.alias)
    straight, by_django = asked_of(database_store, write_twice), asked_of(other, looked_on)
    assert straight == by_django
    assert straight.count("commit") == 2
    assert sum("INSERT INTO record_entry " in said for said in straight) == 2
    if url.startswith("sqlite"):
        assert (straight[0], straight.count("execute BEGIN IMMEDIATE")) == ("execute BEGIN IMMEDIATE", 2)
    there, here = ([(e.stream, e.seq, e.body, e.act, e.part) for e in s.read_all()] for s in (other, database_store))
    assert here == there
    assert len(here) == 5
    assert contents(database_store)[2] == contents(other)[2]
    assert list(verify(database_store)) == list(verify(other)) == []
    assert stands_as_before(database_store)


def test_who_looks_on_at_djangos_statements_sees_them_all(url: str, database_store: DatabaseStore) -> None:
    connection: Any = connections[database_store.alias]
    from_the_first, from_the_midst = Watcher(), Watcher()
    with connection.execute_wrapper(from_the_first):
        write(database_store)
    with CaptureQueriesContext(connection) as logged:
        write(database_store, LATER, 50)

    def come() -> None:
        connection.execute_wrappers.append(from_the_midst)

    write(database_store, act("k3", fact("roll")), 90, come)
    connection.execute_wrappers.remove(from_the_midst)
    assert sum("INSERT INTO record_entry" in sql for sql in from_the_first.seen) == 1
    assert sum("INSERT INTO record_entry" in one["sql"] for one in logged.captured_queries) == 1
    if url.startswith("sqlite"):
        assert from_the_first.seen[0] == logged.captured_queries[0]["sql"] == "BEGIN IMMEDIATE"
    assert [sql.partition(" (")[0] for sql in from_the_midst.seen] == ["INSERT INTO record_outbox"]
    assert len(database_store.queued()) == 6
    assert stands_as_before(database_store)


def _append_and_run(record: DatabaseStore, sql: str) -> None:
    assert isinstance(append(record, LATER, {}, salts(50)), Appended)
    record._run(sql, [])


@pytest.mark.parametrize(
    ("sql", "words"),
    [
        ("UPDATE record_entry SET header = header", r"Somebody else was faster|the record is never changed"),
        ("SELECT word FROM nowhere", "has not been set up"),
        ("SELECT FROM FROM", "The database refused: .*syntax"),
    ],
)
def test_what_the_driver_raises_is_told_in_our_words_and_nothing_is_stored(
    database_store: DatabaseStore, sql: str, words: str
) -> None:
    write(database_store)
    before = contents(database_store)
    with pytest.raises(NotStored, match=words) as told, database_store.writing() as record:
        _append_and_run(record, sql)
    by_django = told.value.__cause__
    assert by_django is not None
    assert type(by_django).__module__ == "django.db.utils"
    connection: Any = connections[database_store.alias]
    assert isinstance(by_django.__cause__, connection.Database.Error)
    assert contents(database_store) == before
    assert stands_as_before(database_store)
    write(database_store, LATER, 50)


@pytest.mark.parametrize("error", [KeyError, KeyboardInterrupt, SystemExit, IntegrityError])
def test_whatever_ends_a_transaction_early_leaves_nothing_of_it(
    database_store: DatabaseStore, error: type[BaseException]
) -> None:
    def fail() -> None:
        raise error("in the midst")

    before = contents(database_store)
    with pytest.raises(NotStored if error is IntegrityError else error):
        write(database_store, within=fail)
    assert contents(database_store) == before
    assert stands_as_before(database_store)
    write(database_store)


def test_a_commit_that_is_interrupted_after_it_is_done_has_stored_the_act(database_store: DatabaseStore) -> None:
    def interrupt(do: Callable[[], object], asked: Asked) -> object:
        answer = do()
        if asked == ("commit",):
            raise KeyboardInterrupt
        return answer

    with pytest.raises(KeyboardInterrupt), between_driver_and_django(database_store.alias, interrupt):
        write(database_store)
    assert len(database_store.of_act("k1")) == 3
    assert stands_as_before(database_store)
    write(database_store, LATER, 50)


def test_a_transaction_that_can_only_be_undone_takes_nothing_more_and_stores_nothing(
    database_store: DatabaseStore,
) -> None:
    def undo() -> None:
        transaction.set_rollback(True, using=database_store.alias)

    before = contents(database_store)
    with pytest.raises(NotStored, match="error occurred in the current transaction"):
        write(database_store, within=undo)
    with database_store.writing() as record:
        assert isinstance(append(record, FIRST, {}, salts()), Appended)
        undo()
    assert contents(database_store) == before
    assert stands_as_before(database_store)
    write(database_store)


def test_a_connection_closed_within_a_transaction_stores_nothing_and_is_opened_anew(
    database_store: DatabaseStore,
) -> None:
    before = contents(database_store)
    with pytest.raises(NotStored, match="error occurred in the current transaction"):
        write(database_store, within=connections[database_store.alias].close)
    assert contents(database_store) == before
    assert stands_as_before(database_store)
    write(database_store)


def test_a_good_end_says_that_the_connection_works(database_store: DatabaseStore) -> None:
    connection: Any = connections[database_store.alias]
    connection.ensure_connection()
    connection.errors_occurred = True  # as an earlier transaction leaves it that could not begin
    write(database_store)
    assert not connection.errors_occurred


def test_what_is_to_follow_a_transaction_follows_it_once_it_is_stored(database_store: DatabaseStore) -> None:
    stored: list[int] = []

    def follow() -> None:
        transaction.on_commit(lambda: stored.append(len(database_store.of_act("k1"))), using=database_store.alias)

    def fail() -> None:
        follow()
        raise KeyError

    with suppress(KeyError):
        write(database_store, within=fail)
    assert stored == []
    write(database_store, within=follow)
    assert stored == [3]
    assert stands_as_before(database_store)


def test_djangos_own_transactions_fit_into_one_and_only_those(database_store: DatabaseStore) -> None:
    """What is written beside the record is undone by itself where it is caught; a record within a record there is not."""

    def beside() -> None:
        cursor = connections[database_store.alias].cursor()
        add = 'INSERT INTO record_outbox (clinic, kind, "to", text) VALUES (%s, %s, %s, %s)'
        for kind in ("kept", "undone"):
            with suppress(KeyError), transaction.atomic(using=database_store.alias):
                cursor.execute(add, [database_store.clinic, kind, "K-101", "beside"])
                if kind == "undone":
                    raise KeyError
        with pytest.raises(RuntimeError, match="durable"):
            appended(database_store, LATER)
        with pytest.raises(RuntimeError, match="durable"), transaction.atomic(database_store.alias, durable=True):
            raise AssertionError

    write(database_store, within=beside)
    assert [one.message.kind for one in database_store.queued()] == ["kept", "call-owed", "call-owed"]
    assert list(database_store.of_act("k2")) == []
    assert stands_as_before(database_store)
