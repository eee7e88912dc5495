"""What a store has to be able to do, and the acts on it that are the same for every store."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from typing import Protocol, TypeAlias

from hourmark.ledger.canonical import canonical
from hourmark.ledger.entry import Act, Entry, Fact, Head, digest, sealed

ERASED = "ledger-erased"
"""The kind of the entry that says which bodies of its stream were erased, and why."""


@dataclass(frozen=True, slots=True)
class Message:
    """Something to be sent once the act that caused it is in the record: what kind, to whom, about what."""

    kind: str
    to: str
    text: str


@dataclass(frozen=True, slots=True)
class Queued:
    """A message waiting in a store, under its number there."""

    number: int
    message: Message


class NotStored(Exception):
    """The store could not do it, and nothing of it was stored. `passing`: the same thing may well work a moment later."""

    def __init__(self, what: str, *, passing: bool) -> None:
        super().__init__(what)
        self.passing = passing


class Reader(Protocol):
    """What can be read of one clinic's record."""

    @property
    def clinic(self) -> str:
        """The clinic whose record this is."""

    def head(self, stream: str) -> Head:
        """The last entry of a stream."""

    def heads_of(self, streams: Sequence[str]) -> dict[str, Head]:
        """The last entry of each of these streams."""

    def heads(self, prefix: str = "") -> Sequence[Head]:
        """The heads of all streams whose name begins so, by name."""

    def read(self, stream: str) -> Sequence[Entry]:
        """All entries of a stream, in order."""

    def read_all(self, prefix: str = "") -> Iterable[Entry]:
        """All entries of the streams whose name begins so: stream by stream by name, each in order."""

    def of_act(self, key: str) -> Sequence[Entry]:
        """The entries of an act, in the order of their parts; none where that key was never used."""

    def queued(self) -> Sequence[Queued]:
        """The messages that wait, oldest first."""


class Writer(Reader, Protocol):
    """A clinic's record inside one transaction: nobody else writes until it ends, and it is stored whole or not at all."""

    def write(self, entries: Sequence[Entry], heads: Sequence[Head]) -> None:
        """Store entries, and the heads of their streams as they then are."""

    def drop_bodies(self, stream: str, seqs: Sequence[int]) -> None:
        """Erase bodies and their salts."""

    def queue(self, messages: Sequence[Message]) -> None:
        """Put messages at the end of the queue."""

    def sent(self, number: int) -> bool:
        """Take a message out of the queue; False where somebody else has."""


class Store(Reader, Protocol):
    """One clinic's record."""

    def writing(self) -> AbstractContextManager[Writer]:
        """One transaction. Raises NotStored where it cannot begin or end."""

    def scrub(self) -> None:
        """See to it that nothing of erased bodies is left where the store writes."""


@dataclass(frozen=True, slots=True)
class Appended:
    """The entries of an act; `again` where they stood there already."""

    entries: tuple[Entry, ...]
    again: bool = False


@dataclass(frozen=True, slots=True)
class Stale:
    """Nothing was appended: these streams have moved on since they were read. Holds their heads as they are."""

    moved: tuple[Head, ...]


@dataclass(frozen=True, slots=True)
class KeyTaken:
    """Nothing was appended: the key belongs to another request, of which these are the entries."""

    entries: tuple[Entry, ...]


Outcome: TypeAlias = Appended | Stale | KeyTaken


def repeated(record: Reader, key: str, request: bytes) -> Appended | KeyTaken | None:
    """The first answer where that key was used before; None where it was not."""
    entries = tuple(record.of_act(key))
    if not entries:
        return None
    asked = ((one.salt, one.read_header().request) for one in entries)
    same = [digest(salt, request) == said for salt, said in asked if salt is not None]
    return Appended(entries, again=True) if same and all(same) else KeyTaken(entries)


def append(record: Writer, act: Act, expected: Mapping[str, int], salt: Callable[[], bytes]) -> Outcome:
    """Append an act if its streams, and those it only read, still end where `expected` says; a repeat gets the first answer."""
    if (first := repeated(record, act.key, act.request)) is not None:
        return first
    streams = sorted({*expected, *(fact.stream for fact in act.facts)})
    heads = record.heads_of(streams)
    moved = tuple(head for head in heads.values() if head.seq != expected.get(head.stream, head.seq))
    if moved:
        return Stale(moved)
    entries = sealed(record.clinic, act, heads, salt)
    record.write(entries, [Head(one.stream, one.seq, one.hash) for one in {e.stream: e for e in entries}.values()])
    return Appended(entries)


def erase(
    record: Writer, stream: str, why: str, *, key: str, actor: str, at: str, salt: Callable[[], bytes]
) -> tuple[int, ...]:
    """Erase every body of a stream that is still there; the entry that says so is kept. Returns the numbers of the erased ones.

    Raises ValueError for a key that was used before: nobody could say then what was erased under it.
    """
    there = tuple(
        entry.seq for entry in record.read(stream) if entry.body is not None and entry.read_header().kind != ERASED
    )
    if there:
        body = canonical({"seqs": list(there), "why": why})
        said = append(record, Act(key, body, actor, at, (Fact(stream, ERASED, 1, body),)), {}, salt)
        if not isinstance(said, Appended) or said.again:
            raise ValueError(f"The key {key} was used before.")
        record.drop_bodies(stream, there)
    return there
