"""Whatever is done to a record behind its back is found, and named by stream and entry."""

import hashlib
import json
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from hourmark.desk import Damaged
from hourmark.desk.states import recorded as events
from hourmark.finding import Level
from hourmark.ledger import (
    Entry,
    Head,
    MemoryStore,
    Queued,
    Reader,
    Store,
    append,
    canonical,
    digest,
    erase,
    read_whole,
    verify,
)
from hourmark.store.database import DatabaseStore
from tests.record.databases import opened, sqlite_url
from tests.record.facts import AT, WHO, act, fact, salts

CASE, ROLL = "case/K-101", "roll"
Findings = list[tuple[str, str]]


def record_something(store: Store) -> None:
    """Two acts on both streams, two on the case alone, and at the end the bodies of the roll are erased."""
    with store.writing() as record:
        salt = salts()
        append(record, act("k1", fact(CASE, b'{"slot":"s1"}'), fact(ROLL, b'{"case":"K-101"}')), {}, salt)
        append(record, act("k2", fact(CASE, b'{"slot":"s2"}')), {}, salt)
        append(record, act("k3", fact(ROLL, b'{"case":"K-102"}'), fact(CASE, b'{"slot":"s3"}')), {}, salt)
        append(record, act("k4", fact(CASE, b'{"slot":"s4"}')), {}, salt)
        erase(record, ROLL, "kept long enough", key="k5", actor=WHO, at=AT, salt=salt)


@dataclass(frozen=True)
class Held:
    """What a record holds, laid open: each entry under the stream and number where it stands. Read like any other record."""

    entries: dict[tuple[str, int], Entry]
    tops: dict[str, Head]

    @property
    def clinic(self) -> str:
        return "clinic"

    def heads_of(self, streams: Sequence[str]) -> dict[str, Head]:
        return {stream: self.head(stream) for stream in streams}

    def head(self, stream: str) -> Head:
        return self.tops.get(stream, Head(stream))

    def heads(self, prefix: str = "") -> Sequence[Head]:
        return [head for stream, head in sorted(self.tops.items()) if stream.startswith(prefix)]

    def read(self, stream: str) -> Sequence[Entry]:
        return [entry for (where, _), entry in sorted(self.entries.items()) if where == stream]

    def read_all(self, prefix: str = "") -> Iterable[Entry]:
        return [entry for (where, _), entry in sorted(self.entries.items()) if where.startswith(prefix)]

    def of_act(self, key: str) -> Sequence[Entry]:
        raise NotImplementedError

    def queued(self) -> Sequence[Queued]:
        raise NotImplementedError

    def with_entry(self, stream: str, seq: int, entry: Entry) -> "Held":
        """Found by whatever its header says of its act."""
        try:
            act, part = entry.read_header().act, entry.read_header().part
        except ValueError:
            act, part = entry.act, entry.part
        placed = replace(entry, stream=stream, seq=seq, act=act, part=part)
        return replace(self, entries=self.entries | {(stream, seq): placed})

    def without(self, *gone: tuple[str, int]) -> "Held":
        return replace(self, entries={where: entry for where, entry in self.entries.items() if where not in gone})

    def with_head(self, head: Head) -> "Held":
        return replace(self, tops=self.tops | {head.stream: head})


def held(record: Reader) -> Held:
    return Held(
        {(entry.stream, entry.seq): entry for entry in record.read_all()},
        {head.stream: head for head in record.heads()},
    )


Carrier = Callable[[Held], Reader]


@pytest.fixture
def healthy() -> Held:
    store = MemoryStore("clinic")
    record_something(store)
    return held(store)


@pytest.fixture(params=["memory", "sqlite"])
def carrier(request: pytest.FixtureRequest, sqlite_file: Path) -> Iterator[Carrier]:
    """Where the damaged record lies: as it is, or in an SQLite file that somebody changed with other tools."""
    if request.param == "memory":
        yield lambda changed: changed
        return
    with opened(sqlite_url(sqlite_file)) as alias, closing(_unguarded(sqlite_file)) as raw:
        store = DatabaseStore("clinic", alias)
        record_something(store)
        there = held(store)

        def changed_file(wanted: Held) -> Reader:
            nonlocal there
            _rewrite(raw, there, wanted)
            there = wanted
            return store

        yield changed_file


def _unguarded(path: Path) -> sqlite3.Connection:
    raw = sqlite3.connect(path, isolation_level=None)
    raw.execute("PRAGMA synchronous=OFF")
    for (name,) in raw.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
        raw.execute(f"DROP TRIGGER {name}")
    return raw


def _rewrite(raw: sqlite3.Connection, there: Held, wanted: Held) -> None:
    """Row by row, and only what is different."""
    for place in there.entries.keys() - wanted.entries.keys():
        raw.execute("DELETE FROM record_entry WHERE (stream, seq) = (?, ?)", place)
        raw.execute("DELETE FROM record_body WHERE (stream, seq) = (?, ?)", place)
    changed = [place for place, entry in wanted.entries.items() if _row(entry) != _row(there.entries.get(place))]
    for place in changed:
        raw.execute("DELETE FROM record_entry WHERE (stream, seq) = (?, ?)", place)
    for place in changed:
        insert = "INSERT INTO record_entry VALUES ('clinic', ?, ?, ?, ?, ?, ?)"
        one = wanted.entries[place]
        try:
            raw.execute(insert, (*place, one.act, one.part, one.header, one.hash))
        except sqlite3.IntegrityError:  # two entries cannot be found as the same part of one act
            raw.execute(insert, (*place, f"by hand {place}", one.part, one.header, one.hash))
    for place, entry in wanted.entries.items():
        before = there.entries.get(place)
        if before is None or (entry.salt, entry.body) != (before.salt, before.body):
            raw.execute("DELETE FROM record_body WHERE (stream, seq) = (?, ?)", place)
            if entry.body is not None:
                raw.execute("INSERT INTO record_body VALUES ('clinic', ?, ?, ?, ?)", (*place, entry.salt, entry.body))
    for stream in there.tops.keys() - wanted.tops.keys():
        raw.execute("DELETE FROM record_head WHERE stream = ?", (stream,))
    for head in wanted.tops.values():
        if head != there.tops.get(head.stream):
            raw.execute("DELETE FROM record_head WHERE stream = ?", (head.stream,))
            raw.execute("INSERT INTO record_head VALUES ('clinic', ?, ?, ?)", (head.stream, head.seq, head.hash))


def _row(entry: Entry | None) -> tuple[str, int, bytes, str] | None:
    return (entry.act, entry.part, entry.header, entry.hash) if entry is not None else None


def found(record: Reader, prefix: str = "") -> Findings:
    findings = list(verify(record, prefix))
    assert all(one.level is Level.STOP and one.what and "backup" in one.do for one in findings)
    return [(one.code, one.where) for one in findings]


def rewritten(entry: Entry, **changes: object) -> Entry:
    """As somebody would who knows how a header is hashed."""
    header = canonical(json.loads(entry.header) | changes)
    return replace(entry, header=header, hash=hashlib.sha256(header).hexdigest())


def deleted(record: Held) -> Held:
    return record.without((CASE, 2))


def swapped(record: Held) -> Held:
    second, third = record.entries[CASE, 2], record.entries[CASE, 3]
    return record.with_entry(CASE, 2, third).with_entry(CASE, 3, second)


def found_as_another_act(record: Held) -> Held:
    """Its key could be used a second time, and nothing in its header would tell."""
    moved = replace(record.entries[CASE, 3], act="k-of-nobody")
    return replace(record, entries=record.entries | {(CASE, 3): moved})


def of_another_clinic(record: Held) -> Held:
    return record.with_entry(CASE, 4, rewritten(record.entries[CASE, 4], clinic="elsewhere"))


def cut(record: Held) -> Held:
    return record.without((CASE, 4))


def cut_and_head_set_back(record: Held) -> Held:
    return record.without((CASE, 3), (CASE, 4)).with_head(Head(CASE, 2, record.entries[CASE, 2].hash))


def body_deleted(record: Held) -> Held:
    return record.with_entry(CASE, 2, replace(record.entries[CASE, 2], salt=None, body=None))


def body_of_the_erasing_deleted(record: Held) -> Held:
    return record.with_entry(ROLL, 3, replace(record.entries[ROLL, 3], salt=None, body=None))


def body_exchanged(record: Held) -> Held:
    return record.with_entry(CASE, 2, replace(record.entries[CASE, 2], body=b'{"slot":"s9"}'))


def body_put_back(record: Held) -> Held:
    """Into the place of one that was erased, where nobody can say any more what it was, but its digest can."""
    return record.with_entry(ROLL, 1, replace(record.entries[ROLL, 1], salt=b"s" * 16, body=b'{"case":"K-109"}'))


def stream_emptied(record: Held) -> Held:
    return record.without(*((CASE, seq) for seq in range(1, 5)))


def stream_gone(record: Held) -> Held:
    record = stream_emptied(record)
    return replace(record, tops={ROLL: record.tops[ROLL]})


def head_deleted(record: Held) -> Held:
    return replace(record, tops={ROLL: record.tops[ROLL]})


def head_set_back(record: Held) -> Held:
    return record.with_head(Head(CASE, 3, record.entries[CASE, 3].hash))


def head_renamed(record: Held) -> Held:
    return record.with_head(Head(CASE, 4, "e" * 64))


def actor_exchanged(record: Held) -> Held:
    return record.with_entry(CASE, 2, rewritten(record.entries[CASE, 2], actor="M. Sand"))


def last_actor_exchanged(record: Held) -> Held:
    return record.with_entry(CASE, 4, rewritten(record.entries[CASE, 4], actor="M. Sand"))


def written_anew(record: Held) -> Held:
    """Body, salt, header and hash all agree: only the chain tells."""
    salt, body = b"s" * 16, b'{"slot":"s9"}'
    entry = replace(record.entries[CASE, 2], salt=salt, body=body)
    return record.with_entry(CASE, 2, rewritten(entry, body=digest(salt, body)))


def from_another_stream(record: Held) -> Held:
    return record.with_entry(CASE, 1, record.entries[ROLL, 1])


def added(record: Held) -> Held:
    last = record.entries[CASE, 4]
    return record.with_entry(CASE, 5, rewritten(last, seq=5, act="k9", prev=last.hash))


def moved_up(record: Held) -> Held:
    """The stream begins at its second entry, and everything says so."""
    moved = record
    for seq in (1, 2, 3):
        moved = moved.with_entry(CASE, seq, record.entries[CASE, seq + 1])
    return moved.without((CASE, 4)).with_head(Head(CASE, 3, record.tops[CASE].hash))


def at(seq: int, stream: str = CASE) -> str:
    return f"{stream}, entry {seq}"


ORDER, BROKEN, CHANGED, MISSING, SHORT, TORN = (
    "record-order",
    "record-broken",
    "record-changed",
    "record-body-missing",
    "record-short",
    "record-act-torn",
)

DAMAGES: list[tuple[Callable[[Held], Held], Findings]] = [
    (deleted, [(ORDER, at(3)), (BROKEN, at(3)), (ORDER, at(4)), (SHORT, at(4))]),
    (swapped, [(ORDER, at(2)), (BROKEN, at(2)), (ORDER, at(3)), (BROKEN, at(3)), (BROKEN, at(4))]),
    (found_as_another_act, [(ORDER, at(3))]),
    (of_another_clinic, [(ORDER, at(4)), (SHORT, at(4))]),
    (cut, [(SHORT, at(4))]),
    (cut_and_head_set_back, [(TORN, "act k3")]),
    (body_deleted, [(MISSING, at(2))]),
    (body_of_the_erasing_deleted, [(MISSING, at(1, ROLL)), (MISSING, at(2, ROLL)), (MISSING, at(3, ROLL))]),
    (body_exchanged, [(CHANGED, at(2))]),
    (body_put_back, [(CHANGED, at(1, ROLL))]),
    (stream_emptied, [(SHORT, at(4)), (TORN, "act k1"), (TORN, "act k3")]),
    (stream_gone, [(TORN, "act k1"), (TORN, "act k3")]),
    (head_deleted, [(SHORT, CASE)]),
    (head_set_back, [(SHORT, at(3))]),
    (head_renamed, [(SHORT, at(4))]),
    (actor_exchanged, [(BROKEN, at(3))]),
    (last_actor_exchanged, [(SHORT, at(4))]),
    (written_anew, [(BROKEN, at(3))]),
    (from_another_stream, [(ORDER, at(1)), (MISSING, at(1)), (BROKEN, at(2)), (TORN, "act k1")]),
    (added, [(SHORT, at(4))]),
    (
        moved_up,
        [(ORDER, at(1)), (BROKEN, at(1)), (ORDER, at(2)), (ORDER, at(3)), (TORN, "act k1")],
    ),
]


def test_a_healthy_record_has_nothing_to_name(carrier: Carrier, healthy: Held) -> None:
    assert found(carrier(healthy)) == []


@pytest.mark.parametrize(("damage", "named"), DAMAGES, ids=[damage.__name__ for damage, _ in DAMAGES])
def test_damage_is_named_by_stream_and_entry(
    carrier: Carrier, healthy: Held, damage: Callable[[Held], Held], named: Findings
) -> None:
    assert found(carrier(damage(healthy))) == named


@pytest.mark.parametrize(("damage", "named"), DAMAGES, ids=[damage.__name__ for damage, _ in DAMAGES])
def test_one_stream_can_be_looked_at_alone(
    carrier: Carrier, healthy: Held, damage: Callable[[Held], Held], named: Findings
) -> None:
    """Its own damage is found as well; an act of which a part is missing elsewhere is not."""
    record = carrier(damage(healthy))
    for stream in (CASE, ROLL):
        wanted = [(code, where) for code, where in named if where.startswith(stream)]
        assert found(record, stream) == wanted
        if stream in {head.stream for head in record.heads()} | {entry.stream for entry in record.read_all()}:
            _, findings = read_whole(record, record.head(stream))
            assert [(one.code, one.where) for one in findings] == wanted


@pytest.mark.parametrize(
    "damage", [deleted, swapped, cut, body_deleted, body_exchanged, head_set_back, actor_exchanged, from_another_stream]
)
def test_nothing_is_read_out_of_a_damaged_stream(
    carrier: Carrier, healthy: Held, damage: Callable[[Held], Held]
) -> None:
    record = carrier(damage(healthy))
    with pytest.raises(Damaged) as stopped:
        events(record, CASE)
    assert stopped.value.findings == read_whole(record, record.head(CASE))[1]


# What a byte turns into: its neighbour, and something that is no text at all.
FLIPS = (0x01, 0x80)


def flipped(entry: Entry, step: int) -> Iterator[Entry]:
    """The entry with one byte changed, each in turn."""
    for mask in FLIPS:
        for place in range(0, len(entry.header), step):
            yield replace(entry, header=_flip(entry.header, place, mask))
        if entry.salt is not None and entry.body is not None:
            for place in range(0, len(entry.salt), step):
                yield replace(entry, salt=_flip(entry.salt, place, mask))
            for place in range(0, len(entry.body), step):
                yield replace(entry, body=_flip(entry.body, place, mask))
    for place in range(0, len(entry.hash), step):
        yield replace(entry, hash=_flip(entry.hash.encode(), place, 0x01).decode())


def _flip(content: bytes, place: int, mask: int) -> bytes:
    return content[:place] + bytes([content[place] ^ mask]) + content[place + 1 :]


def test_one_changed_byte_anywhere_is_found(healthy: Held) -> None:
    tried = 0
    for (stream, seq), entry in healthy.entries.items():
        for changed in flipped(entry, 1):
            assert (CHANGED, at(seq, stream)) in found(healthy.with_entry(stream, seq, changed)), changed
            tried += 1
    assert tried > 6_000


@pytest.mark.parametrize(("stream", "seq"), [(CASE, 2), (CASE, 4), (ROLL, 1), (ROLL, 3)])
def test_a_changed_byte_of_a_file_is_found(sqlite_file: Path, healthy: Held, stream: str, seq: int) -> None:
    with opened(sqlite_url(sqlite_file)) as alias, closing(_unguarded(sqlite_file)) as raw:
        store = DatabaseStore("clinic", alias)
        record_something(store)
        for changed in flipped(healthy.entries[stream, seq], 11):
            damaged = healthy.with_entry(stream, seq, changed)
            _rewrite(raw, healthy, damaged)
            assert (CHANGED, at(seq, stream)) in found(store), changed
            _rewrite(raw, damaged, healthy)
        assert found(store) == []


@pytest.mark.parametrize(
    "header",
    [b"", b"\xff", b"null", b"[]", b"[1]", b'"text"', b"1", b"{}", b'{"act":[]}', b"[" * 100_000],
    ids=lambda header: repr(header[:20]),
)
def test_a_header_that_is_none_is_named(carrier: Carrier, healthy: Held, header: bytes) -> None:
    """Also where its hash was made to fit."""
    entry = replace(healthy.entries[CASE, 2], header=header)
    assert (CHANGED, at(2)) in found(carrier(healthy.with_entry(CASE, 2, entry)))
    entry = replace(entry, hash=hashlib.sha256(header).hexdigest())
    assert (CHANGED, at(2)) in found(carrier(healthy.with_entry(CASE, 2, entry)))


@pytest.mark.parametrize(
    "changes",
    [
        {"act": []},
        {"act": {}},
        {"act": None},
        {"part": "1"},
        {"part": None},
        {"parts": []},
        {"seq": "2"},
        {"stream": 7},
    ],
    ids=repr,
)
def test_a_header_of_the_wrong_kinds_is_named_and_nothing_breaks(
    carrier: Carrier, healthy: Held, changes: dict[str, object]
) -> None:
    entry = rewritten(healthy.entries[CASE, 2], **changes)
    assert (BROKEN, at(3)) in found(carrier(healthy.with_entry(CASE, 2, entry)))


@pytest.mark.parametrize(
    "body", [b"", b"{", b"\xff", b"null", b"[]", b"{}", b'{"seqs":null}', b'{"seqs":[[]]}', b'{"seqs":"12"}'], ids=repr
)
def test_a_damaged_word_of_what_was_erased_is_named_and_excuses_nothing(
    carrier: Carrier, healthy: Held, body: bytes
) -> None:
    entry = replace(healthy.entries[ROLL, 3], body=body)
    assert found(carrier(healthy.with_entry(ROLL, 3, entry))) == [
        (MISSING, at(1, ROLL)),
        (MISSING, at(2, ROLL)),
        (CHANGED, at(3, ROLL)),
    ]


def test_a_damaged_word_of_what_was_erased_does_not_excuse_another_body(carrier: Carrier, healthy: Held) -> None:
    """Somebody deletes a body by hand and adds its number to an entry about others."""
    entry = replace(healthy.entries[ROLL, 3], body=b'{"seqs":[1,2,3],"why":"kept long enough"}')
    assert (CHANGED, at(3, ROLL)) in found(carrier(healthy.with_entry(ROLL, 3, entry)))
