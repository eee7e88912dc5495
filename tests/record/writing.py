"""Writers that get into each other's way, and what is then there."""

import os
import random
from collections import Counter
from functools import partial

from hourmark.ledger import Appended, NotStored, Outcome, Stale, append, verify
from hourmark.store.database import DatabaseStore
from tests.record.apart import Say, forked
from tests.record.databases import opened
from tests.record.facts import act, fact

STREAMS = ["case/K-101", "case/K-102", "day/2026-11-20", "roll", "rules"]
WAYS = ["one stream", "one stream, as seen", "several streams", "several streams, as seen"]
"""On how many streams an act is, in an order of its own each time, and whether it says at which of their entries it was thought of."""


def write_together(url: str, writers: int, acts: int) -> dict[str, int]:
    """So many processes, each with so many acts; every fifth is the same for all of them. How many acts are then there, by way."""
    return {way: _write_together(url, way, writers, acts) for way in WAYS}


def _write_together(url: str, way: str, writers: int, acts: int) -> int:
    clinic, (gate, opener) = f"{way} {writers}", os.pipe()
    crowd = [forked(partial(_write, url, clinic, way, number, acts, gate, opener)) for number in range(writers)]
    assert [writer.lines(1) for writer in crowd] == [["ready"]] * writers
    os.close(gate)
    os.close(opener)
    said = [writer.rest() for writer in crowd]
    assert [writer.ended() for writer in crowd] == [0] * writers
    for number, lines in enumerate(said):
        assert [line.split()[0] for line in lines] == [_key(number, one) for one in range(acts)]
    first = Counter(line.split()[0] for lines in said for line in lines if line.endswith(" first"))
    acknowledged = {line.split()[0] for lines in said for line in lines}
    assert first == Counter(acknowledged), "an act was stored twice, or nobody stored it"
    with opened(url) as alias:
        store = DatabaseStore(clinic, alias)
        there: dict[str, list[int]] = {}
        for entry in store.read_all():
            header = entry.read_header()
            there.setdefault(header.act, []).append(header.part)
        assert there.keys() == acknowledged
        assert all(sorted(parts) == list(range(1, len(parts) + 1)) for parts in there.values())
        assert all(len(parts) == (1 if way.startswith("one") else 3) for parts in there.values())
        for head in store.heads():
            assert [entry.seq for entry in store.read(head.stream)] == list(range(1, head.seq + 1))
        assert list(verify(store)) == []
    return len(there)


def _key(writer: int, number: int) -> str:
    return f"all-{number}" if number % 5 == 4 else f"{writer}-{number}"


def _write(url: str, clinic: str, way: str, writer: int, acts: int, gate: int, opener: int, say: Say) -> None:
    chance = random.Random(writer)
    with opened(url) as alias:
        store = DatabaseStore(clinic, alias)
        store.heads()
        os.close(opener)
        say("ready")
        os.read(gate, 1)  # comes back once nobody holds the other end any more: then all begin together
        for number in range(acts):
            streams = ["roll"] if way.startswith("one") else chance.sample(STREAMS, 3)
            key = _key(writer, number)
            outcome = _stored(store, key, streams, as_seen=way.endswith("as seen"))
            say(f"{key} {'again' if outcome.again else 'first'}")


def _stored(store: DatabaseStore, key: str, streams: list[str], *, as_seen: bool) -> Appended:
    """Tried until it is stored: whoever was too slow looks again, and whoever could not get in comes back."""
    while True:
        try:
            outcome = _tried(store, key, streams, as_seen)
        except NotStored as failed:
            if not failed.passing:
                raise
        else:
            if isinstance(outcome, Appended):
                return outcome
            assert isinstance(outcome, Stale)


def _tried(store: DatabaseStore, key: str, streams: list[str], as_seen: bool) -> Outcome:
    expected = {stream: store.head(stream).seq for stream in streams} if as_seen else {}
    with store.writing() as record:
        return append(record, act(key, *map(fact, streams)), expected, lambda: os.urandom(16))
