"""What every store does, whatever it keeps its record in. The one in memory is the plainest, and the others do as it does."""

import hashlib
import itertools
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import ClassVar, TypeVar

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule, run_state_machine_as_test

from hourmark.ledger import (
    ERASED,
    Appended,
    Head,
    KeyTaken,
    MemoryStore,
    Message,
    Stale,
    Store,
    append,
    erase,
    repeated,
    verify,
)
from hourmark.store.database import DatabaseStore
from tests.laws.strategies import law
from tests.record.databases import opened, sqlite_url
from tests.record.facts import AT, WHO, act, appended, contents, fact, salts

T = TypeVar("T")
EVERY_BYTE = bytes(range(256))


def erased(store: Store, stream: str, key: str, start: int = 900) -> tuple[int, ...]:
    with store.writing() as record:
        return erase(record, stream, "kept long enough", key=key, actor=WHO, at=AT, salt=salts(start))


def test_what_is_appended_reads_back_byte_for_byte(store: Store) -> None:
    bodies = [b"", b"{}", EVERY_BYTE, "21:00, not 22:00 – ñ 😀".encode(), EVERY_BYTE * 2_000]
    for number, body in enumerate(bodies):
        appended(store, act(f"k{number}", fact("case/K-101", body)), start=number)
    entries = store.read("case/K-101")
    assert [entry.body for entry in entries] == bodies
    assert [entry.salt for entry in entries] == [salts(number)() for number in range(len(bodies))]
    assert all(type(entry.body) is type(entry.salt) is type(entry.header) is bytes for entry in entries)


def test_an_entry_says_where_it_stands_and_what_it_hides(store: Store, clinic: str) -> None:
    outcome = appended(store, act("k1", fact("case/K-101", b"one"), fact("roll", b"two"), fact("case/K-101", b"three")))
    assert isinstance(outcome, Appended)
    assert not outcome.again
    headers = [entry.read_header() for entry in store.of_act("k1")]
    assert [(one.stream, one.seq, one.part, one.parts) for one in headers] == [
        ("case/K-101", 1, 1, 3),
        ("roll", 1, 2, 3),
        ("case/K-101", 2, 3, 3),
    ]
    assert {(one.clinic, one.act, one.kind, one.shape, one.actor, one.at) for one in headers} == {
        (clinic, "k1", "noted", 1, WHO, AT)
    }
    for entry, header in zip(store.of_act("k1"), headers, strict=True):
        assert entry.salt is not None
        assert entry.body is not None
        assert header.body == hashlib.sha256(entry.salt + entry.body).hexdigest()
        assert header.request == hashlib.sha256(entry.salt + b"please k1").hexdigest()
        assert entry.hash == hashlib.sha256(entry.header).hexdigest()
    assert headers[2].prev == outcome.entries[0].hash
    assert {headers[0].prev, headers[1].prev} == {"0" * 64}
    assert tuple(store.of_act("k1")) == outcome.entries


def test_an_empty_record_has_nothing_to_read(store: Store) -> None:
    assert store.head("case/K-101") == Head("case/K-101", 0, "0" * 64)
    assert contents(store) == ([], [], [])
    assert list(store.read("case/K-101")) == list(store.of_act("k1")) == []
    assert list(verify(store)) == []


def test_who_has_seen_less_than_there_is_appends_nothing(store: Store) -> None:
    appended(store, act("k1", fact("case/K-101")))
    appended(store, act("k2", fact("case/K-101")))
    before = contents(store)
    outcome = appended(store, act("k3", fact("case/K-101"), fact("roll")), {"case/K-101": 1, "roll": 0})
    assert outcome == Stale((store.head("case/K-101"),))
    assert store.head("case/K-101").seq == 2
    assert contents(store) == before


def test_who_has_seen_what_is_there_appends(store: Store) -> None:
    appended(store, act("k1", fact("case/K-101")))
    outcome = appended(store, act("k2", fact("case/K-101"), fact("roll")), {"case/K-101": 1, "roll": 0})
    assert isinstance(outcome, Appended)
    assert (store.head("case/K-101").seq, store.head("roll").seq) == (2, 1)


def test_a_stream_that_was_only_read_counts_as_well(store: Store) -> None:
    """A plan made of the clinic's rules is not recorded once they have changed, though nothing is written beside them."""
    appended(store, act("k1", fact("rules")))
    before = contents(store)
    outcome = appended(store, act("k2", fact("case/K-101")), {"rules": 0, "day/2026-11-20": 0})
    assert outcome == Stale((store.head("rules"),))
    assert contents(store) == before
    assert isinstance(appended(store, act("k2", fact("case/K-101")), {"rules": 1, "day/2026-11-20": 0}), Appended)
    assert [head.stream for head in store.heads()] == ["case/K-101", "rules"]


def test_every_stream_that_moved_is_named_by_name(store: Store) -> None:
    appended(store, act("k1", fact("b"), fact("a")))
    assert appended(store, act("k2", fact("c")), {"b": 0, "c": 7, "a": 0}) == Stale(
        (store.head("a"), store.head("b"), Head("c"))
    )


def test_the_same_request_under_the_same_key_gets_the_first_answer(store: Store) -> None:
    first = appended(store, act("k1", fact("case/K-101"), fact("roll")))
    appended(store, act("k2", fact("case/K-101")))
    before = contents(store)
    assert isinstance(first, Appended)
    # Also with what was seen at the time, which is no longer so, and also where it would be written elsewhere today.
    for facts, expected in [
        ([fact("case/K-101"), fact("roll")], {"case/K-101": 0, "roll": 0}),
        ([fact("case/K-102", b"else")], {}),
    ]:
        again = appended(store, act("k1", *facts), expected, start=50)
        assert again == Appended(first.entries, again=True)
    assert repeated(store, "k1", b"please k1") == Appended(first.entries, again=True)
    assert contents(store) == before


def test_another_request_under_the_same_key_is_turned_away(store: Store) -> None:
    first = appended(store, act("k1", fact("case/K-101"), fact("roll")))
    assert isinstance(first, Appended)
    before = contents(store)
    for request in (b"please k2", b"", b"please k1 "):
        outcome = appended(store, act("k1", fact("case/K-101"), request=request), {"case/K-101": 1}, start=50)
        assert outcome == KeyTaken(first.entries)
    assert repeated(store, "k1", b"else") == KeyTaken(first.entries)
    assert repeated(store, "k2", b"please k1") is None
    assert contents(store) == before


def test_a_key_of_one_clinic_says_nothing_in_another(database_store: DatabaseStore) -> None:
    other = DatabaseStore(f"{database_store.clinic}-b", database_store.alias)
    appended(database_store, act("k1", fact("case/K-101", b"here")))
    assert contents(other) == ([], [], [])
    outcome = appended(other, act("k1", fact("case/K-101", b"there")), {"case/K-101": 0})
    assert isinstance(outcome, Appended)
    assert not outcome.again
    assert [entry.body for entry in database_store.read("case/K-101")] == [b"here"]
    assert [entry.body for entry in other.read("case/K-101")] == [b"there"]
    with other.writing() as record:
        record.queue([Message("call-owed", "K-101", "there")])
    assert list(database_store.queued()) == []
    with database_store.writing() as record:
        assert not record.sent(other.queued()[0].number)
    assert len(other.queued()) == 1


class Unforeseen(Exception):
    pass


def test_an_act_cut_off_within_its_transaction_is_not_there_at_all(store: Store) -> None:
    appended(store, act("k1", fact("case/K-101"), fact("roll")))
    with store.writing() as record:
        record.queue([Message("call-owed", "K-101", "first")])
    before = contents(store)

    def cut_off() -> None:
        with store.writing() as record:
            append(record, act("k2", fact("case/K-101"), fact("case/K-102"), fact("roll")), {}, salts(10))
            record.queue([Message("call-owed", "K-102", "second")])
            assert record.sent(record.queued()[0].number)
            erase(record, "roll", "why", key="k3", actor=WHO, at=AT, salt=salts(20))
            raise Unforeseen

    with pytest.raises(Unforeseen):
        cut_off()
    assert contents(store) == before
    assert list(store.of_act("k2")) == list(store.of_act("k3")) == []
    assert list(verify(store)) == []
    assert isinstance(appended(store, act("k2", fact("case/K-101")), start=10), Appended)


def test_several_acts_of_one_transaction_are_there_together(store: Store) -> None:
    with store.writing() as record:
        for number in range(3):
            append(record, act(f"k{number}", fact("case/K-101"), fact("roll")), {}, salts(number * 10))
            assert record.head("roll").seq == number + 1
    assert [entry.read_header().act for entry in store.read("roll")] == ["k0", "k1", "k2"]
    assert list(verify(store)) == []


NAMES = [
    "Case/A",
    "a",
    "a/",
    "a/b",
    "a_b",
    "a%b",
    "b",
    "case/K-1",
    "case/K-10",
    "case/K-2",
    "z",
    "\xe9",
    "\uffff",
    "😀",
]


def test_heads_stand_in_the_order_of_their_bytes(store: Store) -> None:
    """An English database would put Case/A behind b, and the accented letter before it."""
    for number, name in enumerate(reversed(NAMES)):
        appended(store, act(f"k{number}", fact(name)), start=number)
    assert [head.stream for head in store.heads()] == sorted(NAMES, key=str.encode)
    assert [entry.stream for entry in store.read_all()] == sorted(NAMES, key=str.encode)


@pytest.mark.parametrize("prefix", ["", "a", "a/", "a_", "a%", "case/K-1", "CASE", "\xe9", "😀", "nowhere"])
def test_a_beginning_finds_the_streams_that_begin_so_and_no_others(store: Store, prefix: str) -> None:
    for number, name in enumerate(NAMES):
        appended(store, act(f"k{number}", fact(name)), start=number)
    wanted = sorted((name for name in NAMES if name.startswith(prefix)), key=str.encode)
    assert [head.stream for head in store.heads(prefix)] == wanted
    assert [entry.stream for entry in store.read_all(prefix)] == wanted
    assert list(verify(store, prefix)) == []


def test_entries_come_stream_by_stream_however_many_there_are(store: Store) -> None:
    """More than a database hands over at a time."""
    with store.writing() as record:
        for number in range(15):
            facts = [fact(f"case/K-{place % 3}", str(place).encode()) for place in range(150)]
            append(record, act(f"k{number}", *facts), {}, salts(number * 1_000))
    entries = list(store.read_all())
    assert [(entry.stream, entry.seq) for entry in entries] == [
        (f"case/K-{stream}", seq) for stream in range(3) for seq in range(1, 751)
    ]
    assert list(verify(store)) == []


def test_erasing_takes_the_bodies_and_leaves_the_chain(store: Store) -> None:
    appended(store, act("k1", fact("case/K-101"), fact("roll")))
    appended(store, act("k2", fact("case/K-101")), start=10)
    headers = [(entry.header, entry.hash) for entry in store.read("case/K-101")]
    assert erased(store, "case/K-101", "k3") == (1, 2)
    entries = list(store.read("case/K-101"))
    assert [(entry.header, entry.hash) for entry in entries[:2]] == headers
    assert [(entry.salt, entry.body) for entry in entries[:2]] == [(None, None)] * 2
    assert entries[2].read_header().kind == ERASED == "ledger-erased"
    assert entries[2].body == b'{"seqs":[1,2],"why":"kept long enough"}'
    assert [entry.body is None for entry in store.of_act("k1")] == [True, False]
    assert list(verify(store)) == []


def test_a_second_erasing_finds_nothing_to_do(store: Store) -> None:
    appended(store, act("k1", fact("case/K-101")))
    erased(store, "case/K-101", "k2")
    before = contents(store)
    assert erased(store, "case/K-101", "k2") == erased(store, "case/K-101", "k3") == ()
    assert erased(store, "case/K-999", "k4") == ()
    assert contents(store) == before


def test_what_came_after_an_erasing_is_erased_by_the_next(store: Store) -> None:
    appended(store, act("k1", fact("case/K-101")))
    erased(store, "case/K-101", "k2")
    appended(store, act("k3", fact("case/K-101")), start=10)
    assert erased(store, "case/K-101", "k4", 950) == (3,)
    assert [entry.body is None for entry in store.read("case/K-101")] == [True, False, True, False]
    assert list(verify(store)) == []


def test_nothing_is_erased_under_a_key_that_was_used(store: Store) -> None:
    """Or the bodies would be gone, and no entry would say so."""
    appended(store, act("k1", fact("case/K-101")))
    before = contents(store)
    with suppress(ValueError):
        erased(store, "case/K-101", "k1")
    assert contents(store) == before
    assert list(verify(store)) == []


def test_an_act_that_was_erased_is_not_done_again(store: Store) -> None:
    """What was asked cannot be told any more, so nobody is told that it was the same."""
    appended(store, act("k1", fact("case/K-101")))
    erased(store, "case/K-101", "k2")
    before = contents(store)
    outcome = appended(store, act("k1", fact("case/K-101")), start=50)
    assert outcome == KeyTaken(tuple(store.of_act("k1")))
    assert contents(store) == before


def test_an_erased_act_keeps_its_key_against_another_request(store: Store) -> None:
    appended(store, act("k1", fact("case/K-101"), fact("roll")))
    erased(store, "case/K-101", "k2")
    assert isinstance(appended(store, act("k1", fact("roll"), request=b"else"), start=50), KeyTaken)
    assert store.head("roll").seq == 1


def test_messages_wait_in_the_order_in_which_they_came(store: Store) -> None:
    messages = [
        Message("call-owed", f"K-{number}", f"Sheet {number} is void: ñ, 21:00 – 22:00.") for number in range(3)
    ]
    with store.writing() as record:
        record.queue(messages[:2])
        record.queue([])
        record.queue(messages[2:])
    waiting = store.queued()
    assert [one.message for one in waiting] == messages
    with store.writing() as record:
        assert record.sent(waiting[1].number)
    assert [one.message for one in store.queued()] == [messages[0], messages[2]]
    with store.writing() as record:
        assert not record.sent(waiting[1].number)
        record.queue([messages[1]])
    assert [one.message for one in store.queued()] == [messages[0], messages[2], messages[1]]


def test_a_number_in_the_queue_is_never_given_again(store: Store) -> None:
    """Somebody who still holds the number of a message that was sent would else take another out of the queue."""
    with store.writing() as record:
        record.queue([Message("call-owed", "K-101", "first")])
        number = record.queued()[0].number
        record.sent(number)
    with store.writing() as record:
        record.queue([Message("call-owed", "K-102", "second")])
        assert not record.sent(number)
    assert [one.message.text for one in store.queued()] == ["second"]


def test_nobody_reads_an_act_before_it_is_stored(database_store: DatabaseStore, beside: DatabaseStore) -> None:
    appended(database_store, act("k1", fact("case/K-101")))
    before = contents(beside)
    with database_store.writing() as record:
        append(record, act("k2", fact("case/K-101"), fact("roll")), {}, salts(10))
        record.queue([Message("call-owed", "K-101", "first")])
        assert contents(beside) == before
        assert list(beside.of_act("k2")) == []
    assert contents(beside) == contents(database_store) != before


def test_a_message_is_taken_once(database_store: DatabaseStore, beside: DatabaseStore) -> None:
    with database_store.writing() as record:
        record.queue([Message("call-owed", "K-101", "first")])
    number = beside.queued()[0].number
    with database_store.writing() as record:
        assert record.sent(number)
    with beside.writing() as record:
        assert not record.sent(number)


STREAMS = ["Case/K-1", "case/K-1", "case/K-10", "roll", "rules"]
_MACHINES = itertools.count(1)


class Alike(RuleBasedStateMachine):
    """The same acts on three stores, with the same salts: they answer alike and hold the same."""

    aliases: ClassVar[tuple[str, ...]] = ()

    def __init__(self) -> None:
        super().__init__()
        clinic = f"machine-{next(_MACHINES)}"
        self.stores: list[Store] = [MemoryStore(clinic), *(DatabaseStore(clinic, alias) for alias in self.aliases)]
        self.step = 0
        self.keys: set[str] = set()

    def everywhere(self, do: Callable[[Store], T]) -> T:
        first, *others = (do(store) for store in self.stores)
        assert [first] * len(others) == others
        return first

    def seen(self, off: dict[str, int]) -> dict[str, int]:
        return {stream: max(0, self.stores[0].head(stream).seq + by) for stream, by in off.items()}

    @rule(
        key=st.integers(1, 15),
        request=st.sampled_from([b"one", b"two"]),
        facts=st.lists(st.tuples(st.sampled_from(STREAMS), st.binary(max_size=9)), min_size=1, max_size=4),
        off=st.dictionaries(st.sampled_from(STREAMS), st.sampled_from([0, 0, 0, 0, -1, 1]), max_size=3),
        cut_off=st.sampled_from([False, False, False, True]),
    )
    def append(
        self, key: int, request: bytes, facts: list[tuple[str, bytes]], off: dict[str, int], cut_off: bool
    ) -> None:
        self.step += 1
        self.keys.add(f"k{key}")
        one, expected = act(f"k{key}", *(fact(*given) for given in facts), request=request), self.seen(off)

        def do(store: Store) -> object:
            with suppress(Unforeseen), store.writing() as record:
                outcome = append(record, one, expected, salts(self.step * 100))
                if cut_off:
                    raise Unforeseen
                return outcome
            return None

        before = contents(self.stores[0])
        outcome = self.everywhere(do)
        if not (isinstance(outcome, Appended) and not outcome.again):
            assert contents(self.stores[0]) == before

    @rule(stream=st.sampled_from(STREAMS))
    def erase(self, stream: str) -> None:
        self.step += 1
        self.everywhere(lambda store: erased(store, stream, f"erasing-{self.step}", self.step * 100))

    @rule(texts=st.lists(st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"])), max_size=3))
    def queue(self, texts: list[str]) -> None:
        for store in self.stores:
            with store.writing() as record:
                record.queue([Message("call-owed", "K-1", text) for text in texts])

    @rule(place=st.integers(0, 3))
    def send(self, place: int) -> None:
        def do(store: Store) -> list[bool]:
            numbers = [one.number for one in store.queued()[place : place + 1]]
            with store.writing() as record:
                return [record.sent(number) for number in numbers]

        self.everywhere(do)

    @invariant()
    def alike(self) -> None:
        self.everywhere(contents)
        self.everywhere(lambda store: [list(store.of_act(key)) for key in sorted(self.keys)])
        self.everywhere(lambda store: [(list(store.read(name)), list(store.heads(name))) for name in STREAMS])

    @invariant()
    def healthy(self) -> None:
        assert self.everywhere(lambda store: list(verify(store))) == []


def test_all_stores_answer_alike_whatever_is_done_to_them(sqlite_file: Path, postgresql: str) -> None:
    class Here(Alike):
        pass

    with opened(sqlite_url(sqlite_file)) as file, opened(postgresql) as server:
        Here.aliases = (file, server)
        run_state_machine_as_test(Here, settings=settings(law(20), stateful_step_count=25))
