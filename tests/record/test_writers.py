"""Several people at once: each act that was acknowledged is there, once, in a stream without a gap, and whoever reads sees no damage."""

import itertools
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, suppress
from typing import Any

import pytest
from django.db import connections

from hourmark.desk import Desk, Done
from hourmark.ledger import Appended, Head, MemoryStore, NotStored, Store, append, sealed, verify
from hourmark.store.database import DatabaseStore
from tests.record.apart import apart
from tests.record.databases import opened
from tests.record.desks import CASE, DAY, desk_over, done, nurse, place_slots, try_call
from tests.record.facts import act, appended, contents, fact, salts
from tests.record.writing import WAYS, write_together

# So many writers, each with so many acts.
CROWDS = [(2, 25), (8, 10)]


@pytest.mark.parametrize(("writers", "acts"), CROWDS, ids=[f"{writers} writers" for writers, _ in CROWDS])
def test_writers_at_the_same_time_lose_nothing_and_double_nothing(url: str, writers: int, acts: int) -> None:
    stored = apart(write_together, url, writers, acts)
    assert stored == dict.fromkeys(WAYS, writers * acts - (writers - 1) * (acts // 5))


def test_threads_on_a_record_in_memory_lose_nothing_and_double_nothing(clinic: str) -> None:
    store = MemoryStore(clinic)

    def write(writer: int) -> int:
        first = 0
        for number in range(50):
            key = f"all-{number}" if number % 5 == 4 else f"{writer}-{number}"
            with store.writing() as record:
                outcome = append(record, act(key, fact("case/K-101"), fact("roll")), {}, salts(number * 8 + writer))
            assert isinstance(outcome, Appended)
            first += not outcome.again
        return first

    with ThreadPoolExecutor(8) as crowd:
        first = sum(crowd.map(write, range(8)))
    assert first == store.head("roll").seq == store.head("case/K-101").seq == 8 * 40 + 10
    assert list(verify(store)) == []


def hurried(store: DatabaseStore) -> None:
    """Whoever comes while another writes waits for seconds; here for no longer than it takes to see that."""
    sqlite = connections[store.alias].vendor == "sqlite"
    connections[store.alias].cursor().execute("PRAGMA busy_timeout=20" if sqlite else "SET lock_timeout = '20ms'")


def test_nobody_writes_while_another_does(database_store: DatabaseStore, beside: DatabaseStore) -> None:
    """From the first moment on, also before anything is written: what is decided in there rests on what is read in there."""
    hurried(beside)
    with database_store.writing() as record:
        with pytest.raises(NotStored):
            appended(beside, act("k1", fact("roll")))
        append(record, act("k2", fact("roll")), {}, salts())
    appended(beside, act("k1", fact("roll")), start=50)
    assert [entry.read_header().act for entry in beside.read("roll")] == ["k2", "k1"]


def test_a_clinic_does_not_wait_for_another_on_the_same_server(postgresql: str, clinic: str) -> None:
    with opened(postgresql) as one, opened(postgresql) as other:
        here, there = DatabaseStore(clinic, one), DatabaseStore(f"{clinic}-b", other)
        hurried(there)
        with here.writing() as record:
            append(record, act("k1", fact("roll")), {}, salts())
            appended(there, act("k1", fact("roll")))
        assert here.head("roll").seq == there.head("roll").seq == 1


@pytest.mark.parametrize("seen", [0, 1, 3], ids=["nothing", "less", "more"])
def test_an_entry_that_does_not_follow_the_last_is_not_stored(database_store: DatabaseStore, seen: int) -> None:
    """Should two ever write at once all the same, the second is told that it was too slow, and may try again."""
    for number in range(2):
        appended(database_store, act(f"k{number}", fact("roll")), start=number)
    new = act("k9", fact("roll"), fact("case/K-101"))
    outdated = {"roll": Head("roll", seen, "e" * 64), "case/K-101": Head("case/K-101")}
    entries = sealed(database_store.clinic, new, outdated, salts(50))
    before = contents(database_store)
    with pytest.raises(NotStored, match="Somebody else was faster") as told, database_store.writing() as record:
        record.write(entries, [Head(one.stream, one.seq, one.hash) for one in entries])
    assert told.value.passing
    assert contents(database_store) == before


@contextmanager
def meanwhile(alias: str, number: int, write: Callable[[], object]) -> Iterator[list[int]]:
    """Somebody else writes just after a reader's statement of that number. Counts the statements."""
    statements: list[int] = []

    def between(execute: Any, *given: Any) -> Any:
        answer = execute(*given)
        statements.append(number)
        if len(statements) == number:
            write()
        return answer

    with connections[alias].execute_wrapper(between):
        yield statements


def test_a_record_that_is_written_while_it_is_looked_through_is_not_called_damaged(
    database_store: DatabaseStore, beside: DatabaseStore
) -> None:
    for number in range(5):
        appended(beside, act(f"k{number}", fact("b"), fact("a")), start=number * 10)
    for number in itertools.count(1):
        new = act(f"new-{number}", fact("b"), fact("a"), fact(f"c/{number}"))
        with meanwhile(database_store.alias, number, lambda new=new: appended(beside, new)) as statements:  # type: ignore[misc]
            assert list(verify(database_store)) == [], number
            assert list(verify(database_store, "a")) == [], number
        if len(statements) < number:
            break
        assert database_store.head("a").seq == 5 + number
    assert number > 4


def test_a_case_that_is_written_while_it_is_read_is_not_called_damaged(
    database_store: DatabaseStore, beside: DatabaseStore
) -> None:
    """And what is read then is as it was before or as it is since: the board of whoever looks while others work."""
    writer = desk_over(beside)
    rung: list[str] = []
    for number in itertools.count(1):
        result = f"nobody, {number} times"

        def ring(result: str = result) -> None:
            done(writer, try_call(result), nurse(), result)

        reader = Desk(database_store, salts()).states()
        with meanwhile(database_store.alias, number, ring) as statements:
            case = reader.case(CASE)
            assert reader.board("2026-11-19T03:00:00Z") is not None
        assert [one.event.result for one in case.calls] in (rung, [*rung, result])
        if len(statements) < number:
            break
        rung.append(result)
        assert [one.event.result for one in Desk(database_store, salts()).states().case(CASE).calls] == rung
    assert number > 4


def test_a_theatre_list_is_one_act_in_every_store(store: Store) -> None:
    desk = desk_over(store)
    first = done(desk, place_slots(), nurse(), "list")
    assert [entry.stream for entry in first.entries] == [f"day/{DAY}"] * 3 + ["day/2026-11-23"] * 3
    assert desk.perform(place_slots(), nurse(), "list") == Done(first.entries, again=True)
    assert list(verify(store)) == []


@pytest.mark.parametrize("number", range(1, 40, 3))
def test_of_two_theatre_lists_at_once_each_stands_whole(
    database_store: DatabaseStore, beside: DatabaseStore, number: int
) -> None:
    """The second comes between any two statements of the first: no day holds a part of one list and a part of the other."""
    one, other = desk_over(database_store), Desk(beside, salts(700))
    hurried(beside)
    came: list[bool] = []

    def write() -> None:
        with suppress(NotStored):
            came.append(isinstance(other.perform(place_slots("Room 8"), nurse(), "other list"), Done))

    with meanwhile(database_store.alias, number, write):
        done(one, place_slots("Room 9"), nurse(), "one list")
    if not any(came):
        done(other, place_slots("Room 8"), nurse(), "other list")
    acts = {entry.read_header().act for key in ("one list", "other list") for entry in database_store.of_act(key)}
    rooms = {one.states().day(day).slots["n1"].slot["room"] for day in (DAY, "2026-11-23")}
    assert acts == {"one list", "other list"}
    assert len(rooms) == 1
    for stream in (f"day/{DAY}", "day/2026-11-23"):
        order = [entry.read_header().act for entry in database_store.read(stream)]
        lists = [act for act in order if act.endswith("list")]
        assert lists == sorted(lists, key=lists.index), order
    assert list(verify(database_store)) == []
