"""Storage that fails: whoever asked is told so in words, nothing of it is stored, and asking again with the same key succeeds."""

import itertools
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeAlias

import psycopg
import pytest
from django.db import DatabaseError, OperationalError, connections

from hourmark.case.shapes import EVENTS, from_body, from_entry
from hourmark.desk import Command, Desk, Done
from hourmark.ledger import Appended, Fact, MemoryStore, Message, NotStored, Store, append, verify
from hourmark.store.database import DatabaseStore
from tests.record.apart import apart
from tests.record.crashing import write_too_much
from tests.record.databases import opened, sqlite_url
from tests.record.desks import desk_over, give_slot, list_morning, nurse, place_slots, telephone_order
from tests.record.drivers import Asked, between_driver_and_django
from tests.record.facts import act, appended, contents, fact, salts

Act: TypeAlias = Callable[[str], Done | Appended]


def _desk_act(store: Store, command: Command) -> Act:
    desk = desk_over(store)

    def do(key: str) -> Done:
        answer = desk.perform(command, nurse(), key)
        assert isinstance(answer, Done)
        return answer

    return do


def _appending(store: Store) -> Act:
    appended(store, act("k0", fact("case/K-101"), fact("roll")))

    def do(key: str) -> Appended:
        with store.writing() as record:
            outcome = append(record, act(key, fact("case/K-101"), fact("rules"), fact("roll")), {}, salts(50))
            assert isinstance(outcome, Appended)
            if not outcome.again:
                record.queue([Message("call-owed", "K-101", "first"), Message("call-owed", "K-101", "second")])
        return outcome

    return do


# What each begins with, and the act that is then made to fail.
ACTS: dict[str, Callable[[Store], Act]] = {
    "append": _appending,
    "give slot": lambda store: _desk_act(store, give_slot()),
    "place slots": lambda store: _desk_act(store, place_slots()),
    "telephone order": lambda store: _desk_act(store, telephone_order()),
    "list morning": lambda store: _desk_act(store, list_morning()),
}
OF_THE_DESK = [name for name in ACTS if name != "append"]


class Failing:
    """Makes the calls of a connection's driver with these numbers fail; the end of a transaction is one of them.

    `afterwards` lets the call be done first: the answer is lost, and not the work.
    """

    def __init__(self, alias: str, numbers: set[int], error: Exception, *, afterwards: bool = False) -> None:
        self._alias, self._numbers, self._afterwards = alias, numbers, afterwards
        connection: Any = connections[alias]
        self._error: Exception = getattr(connection.Database, type(error).__name__)(*error.args)
        self.calls = 0

    @contextmanager
    def on(self) -> Iterator["Failing"]:
        with between_driver_and_django(self._alias, self._call):
            yield self

    def _call(self, do: Callable[[], object], asked: Asked) -> object:
        self.calls += 1
        if self.calls not in self._numbers:
            return do()
        if self._afterwards:
            do()
        raise self._error


def each_call(
    store: DatabaseStore, name: str, error: Exception, *, times: int = 1, afterwards: bool = False
) -> Iterator[tuple[DatabaseStore, Act, Failing]]:
    """The act over and over, each time on a record of its own, with a later call failing; until there is no later one."""
    for number in itertools.count(1):
        one = DatabaseStore(f"{store.clinic}-{number}", store.alias)
        do = ACTS[name](one)
        failing = Failing(store.alias, set(range(number, number + times)), error, afterwards=afterwards)
        yield one, do, failing
        if failing.calls < number:
            assert number > 6, "there are more calls than that in any act"
            return


def _told(do: Act) -> NotStored | None:
    try:
        do("the-key")
    except NotStored as told:
        return told
    return None


@pytest.mark.parametrize("error", [OperationalError("disk I/O error"), DatabaseError("strange")], ids=repr)
@pytest.mark.parametrize("name", ACTS)
def test_a_failure_at_any_call_stores_nothing_and_the_same_key_succeeds_later(
    database_store: DatabaseStore, name: str, error: Exception
) -> None:
    failed = 0
    for store, do, failing in each_call(database_store, name, error):
        before = contents(store)
        with failing.on():
            told = _told(do)
        if told is not None:
            failed += 1
            assert not told.passing
            assert str(told) in ("The disk could not be read or written.", "The database refused: strange.")
            assert contents(store) == before
            assert list(store.of_act("the-key")) == []
            answer = do("the-key")
            assert not answer.again
        assert [entry.read_header().part for entry in store.of_act("the-key")] == list(
            range(1, len(store.of_act("the-key")) + 1)
        )
        assert do("the-key").again
        assert list(verify(store)) == []
    assert failed > 6


PASSING = [
    OperationalError("database is locked"),
    OperationalError("server closed the connection unexpectedly"),
    OperationalError("deadlock detected"),
    OperationalError("the connection is closed"),
]


@pytest.mark.parametrize("error", PASSING, ids=str)
@pytest.mark.parametrize("name", OF_THE_DESK)
def test_a_passing_failure_at_any_call_is_not_noticed_by_whoever_asked(
    database_store: DatabaseStore, name: str, error: Exception
) -> None:
    for store, do, failing in each_call(database_store, name, error):
        with failing.on():
            assert not do("the-key").again
        assert do("the-key").again
        assert list(verify(store)) == []


@pytest.mark.parametrize("name", ACTS)
def test_a_failure_that_does_not_pass_is_told_as_one_that_may(sqlite_file: Path, name: str) -> None:
    """The desk tries a few times and no more."""
    with opened(sqlite_url(sqlite_file)) as alias:
        for store, do, failing in each_call(DatabaseStore("clinic", alias), name, PASSING[0], times=1_000):
            before = contents(store)
            with failing.on():
                told = _told(do)
            if told is not None:
                assert told.passing
                assert str(told) == "Others were writing all the time."
                assert contents(store) == before
                assert not do("the-key").again


@pytest.mark.parametrize("name", OF_THE_DESK)
def test_an_answer_lost_on_its_way_does_not_do_the_act_twice(database_store: DatabaseStore, name: str) -> None:
    """A server that dies after it has stored an act and before it says so: only the key tells."""
    for store, do, failing in each_call(database_store, name, PASSING[1], afterwards=True):
        with failing.on():
            do("the-key")
        there = contents(store)
        assert do("the-key").again
        assert contents(store) == there
        assert list(verify(store)) == []


def test_a_server_that_ends_the_connection_within_an_act_is_asked_anew(postgresql: str, clinic: str) -> None:
    ended = 0
    with opened(postgresql) as alias:
        for number in itertools.count(1):
            store = DatabaseStore(f"{clinic}-{number}", alias)
            do = ACTS["give slot"](store)
            calls = 0

            def end_it(do: Callable[[], object], asked: Asked, number: int = number) -> object:
                nonlocal calls
                calls += 1
                if calls == number:
                    backend = connections[alias].connection.info.backend_pid
                    with psycopg.connect(postgresql, autocommit=True) as other:
                        other.execute("SELECT pg_terminate_backend(%s, 5000)", [backend])
                return do()

            with between_driver_and_django(alias, end_it):
                assert not do("the-key").again
            assert do("the-key").again
            assert list(verify(store)) == []
            if calls < number:
                break
            ended += 1
    assert ended > 6


@contextmanager
def at_most(alias: str, pages: int) -> Iterator[None]:
    """A file that may not grow beyond so many pages, however often it is opened again."""
    options: Any = connections[alias].settings_dict["OPTIONS"]
    before = options["init_command"]
    options["init_command"] = f"{before} PRAGMA max_page_count={pages};"
    connections[alias].close()
    try:
        yield
    finally:
        options["init_command"] = before
        connections[alias].close()


LARGE = "four milligrams " * 10_000


def test_a_full_disk_is_told_and_the_act_is_done_once_there_is_room(sqlite_file: Path) -> None:
    with opened(sqlite_url(sqlite_file)) as alias:
        store = DatabaseStore("clinic", alias)
        desk = desk_over(store)
        (pages,) = connections[alias].cursor().execute("PRAGMA page_count").fetchone()
        before = contents(store)
        with at_most(alias, pages + 10):
            with pytest.raises(NotStored, match="disk is full") as told:
                desk.perform(telephone_order(LARGE), nurse(), "k1")
            assert not told.value.passing
            with pytest.raises(NotStored, match="disk is full"):
                appended(store, act("k2", fact("roll"), fact("large", LARGE.encode())))
            assert contents(store) == before
            assert list(verify(store)) == []
        assert isinstance(desk.perform(telephone_order(LARGE), nurse(), "k1"), Done)
        appended(store, act("k2", fact("roll"), fact("large", LARGE.encode())), start=50)
        assert list(verify(store)) == []


def test_a_disk_that_takes_no_more_is_told_and_the_act_is_done_once_there_is_room(tmp_path: Path) -> None:
    """The operating system refuses the write itself: the largest size of a file stands for a disk without room."""
    assert apart(write_too_much, str(tmp_path / "record.sqlite")) == [
        "The disk could not be read or written.",
        "nothing stored",
        "stored",
    ]


def test_a_file_that_may_only_be_read_is_told_and_read_on(sqlite_file: Path) -> None:
    with opened(sqlite_url(sqlite_file)) as alias:
        desk = desk_over(DatabaseStore("clinic", alias))
        there = contents(desk.store)
    with opened(f"sqlite:file:{sqlite_file}?mode=ro") as alias:
        store = DatabaseStore("clinic", alias)
        for attempt in (
            lambda: Desk(store, salts(500)).perform(give_slot(), nurse(), "k1"),
            lambda: appended(store, act("k2", fact("roll"))),
        ):
            with pytest.raises(NotStored, match="can only be read") as told:
                attempt()
            assert not told.value.passing
        assert contents(store) == there
        assert list(verify(store)) == []
    with opened(sqlite_url(sqlite_file)) as alias:
        assert isinstance(Desk(DatabaseStore("clinic", alias), salts(500)).perform(give_slot(), nurse(), "k1"), Done)


def test_a_server_that_may_only_be_read_is_told(postgresql: str, clinic: str) -> None:
    with opened(postgresql) as alias:
        store = DatabaseStore(clinic, alias)
        do = ACTS["append"](store)
        connections[alias].cursor().execute("SET default_transaction_read_only = on")
        with pytest.raises(NotStored, match="can only be read") as told:
            do("k1")
        assert not told.value.passing
        connections[alias].close()
        assert not do("k1").again


def _not_a_database(content: bytes) -> bytes:
    return b"This is no database at all. " + content[28:]


def _torn_pages(content: bytes) -> bytes:
    return content[:4096] + b"\xa5" * (len(content) - 4096)


def _cut_short(content: bytes) -> bytes:
    return content[: len(content) // 2]


@pytest.mark.parametrize(
    ("damage", "words"),
    [
        (_not_a_database, "The file is not a database."),
        (_torn_pages, "The database file is damaged."),
        (_cut_short, "The database file is damaged."),
    ],
    ids=lambda given: getattr(given, "__name__", ""),
)
def test_a_damaged_file_is_told_and_nothing_is_read_out_of_it(
    sqlite_file: Path, damage: Callable[[bytes], bytes], words: str
) -> None:
    with opened(sqlite_url(sqlite_file)) as alias:
        desk_over(DatabaseStore("clinic", alias))
    sqlite_file.write_bytes(damage(sqlite_file.read_bytes()))
    with opened(sqlite_url(sqlite_file)) as alias:
        store = DatabaseStore("clinic", alias)
        for attempt in (
            lambda: list(store.read_all()),
            lambda: list(verify(store)),
            lambda: appended(store, act("k2", fact("roll"))),
            lambda: Desk(store, salts()).perform(give_slot(), nurse(), "k1"),
        ):
            with pytest.raises(NotStored) as told:
                attempt()
            assert str(told.value) == words
            assert not told.value.passing


def test_a_file_that_cannot_be_opened_or_was_not_set_up_is_told(tmp_path: Path) -> None:
    for path, words in [
        (tmp_path / "nowhere" / "record.sqlite", "The database cannot be opened."),
        (tmp_path, "The database cannot be opened."),
        (tmp_path / "new.sqlite", "The database has not been set up: run hourmark upgrade."),
    ]:
        with opened(sqlite_url(path)) as alias:
            store = DatabaseStore("clinic", alias)
            for attempt in (store.heads, lambda: appended(store, act("k1", fact("roll")))):  # noqa: B023 (called at once)
                with pytest.raises(NotStored) as told:
                    attempt()
                assert str(told.value) == words
                assert not told.value.passing


def test_a_server_that_cannot_be_reached_is_told_as_something_that_may_pass(postgresql: str) -> None:
    with opened(postgresql.replace(":" + postgresql.rpartition(":")[2].partition("/")[0], ":1")) as alias:
        store = DatabaseStore("clinic", alias)
        for attempt in (store.heads, lambda: appended(store, act("k1", fact("roll")))):
            with pytest.raises(NotStored) as told:
                attempt()
            assert told.value.passing


def _from_elsewhere(kind: str, shape: int, body: bytes) -> Any:
    store = MemoryStore("clinic")
    with store.writing() as record:
        append(record, replace(act("k1"), facts=(Fact("case/K-101", kind, shape, body),)), {}, salts())
    return from_entry(store.read("case/K-101")[0])


@pytest.mark.parametrize(
    ("kind", "shape", "body"),
    [
        ("case-teleported", 1, b"{}"),
        ("case-closed", 99, b'{"why":"done"}'),
        ("case-closed", 0, b'{"why":"done"}'),
        ("", 1, b"{}"),
    ],
)
def test_a_record_of_a_newer_version_is_not_guessed_at(kind: str, shape: int, body: bytes) -> None:
    with pytest.raises(ValueError, match="the record was written by a newer version"):
        _from_elsewhere(kind, shape, body)


def test_an_event_with_more_in_it_than_is_known_is_not_read_as_less() -> None:
    assert "case-closed" in EVENTS
    assert _from_elsewhere("case-closed", 1, b'{"why":"done"}').event == from_body("case-closed", 1, b'{"why":"done"}')
    with pytest.raises(Exception, match=r"(?i)extra"):
        _from_elsewhere("case-closed", 1, b'{"why":"done","witness":"M. Sand"}')
