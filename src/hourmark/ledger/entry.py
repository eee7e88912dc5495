"""An entry of the record: a header that is never changed, and a body that can be erased without breaking the chain."""

import hashlib
import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

from hourmark.ledger.canonical import written

START = "0" * 64
"""What stands before the first entry of a stream."""


@dataclass(frozen=True, slots=True)
class Fact:
    """Something that happened, before it is in the record: its stream, what kind of fact, in which shape its body is written."""

    stream: str
    kind: str
    shape: int
    body: bytes


@dataclass(frozen=True, slots=True)
class Act:
    """Facts that belong together: all are in the record, or none.

    `key` is given once to each thing that is asked for, and `request` are the bytes of what was asked; `at` is RFC 3339 in UTC.
    """

    key: str
    request: bytes
    actor: str
    at: str
    facts: tuple[Fact, ...]


class Header(NamedTuple):
    """What an entry says of itself. `part` of `parts` places it in its act; `request` and `body` are salted digests."""

    clinic: str
    stream: str
    seq: int
    act: str
    part: int
    parts: int
    kind: str
    shape: int
    actor: str
    at: str
    request: str
    body: str
    prev: str


_KINDS = tuple(Header.__annotations__.values())


@dataclass(frozen=True)
class Entry:
    """An entry as stored: where it stands, the header's very bytes, their digest, and the body with its salt (None: erased).

    `act` and `part` are what it is found by beside the header; they repeat what that says.
    """

    stream: str
    seq: int
    header: bytes
    hash: str
    salt: bytes | None
    body: bytes | None
    act: str = ""
    part: int = 0

    def read_header(self) -> Header:
        """The header, read one time. Raises ValueError when its bytes are not one."""
        return self._said

    @cached_property
    def _said(self) -> Header:
        strange = f"The bytes of entry {self.seq} of {self.stream} are not a header."
        try:
            header = Header(**json.loads(self.header.decode()))
        except (TypeError, RecursionError) as wrong:
            raise ValueError(strange) from wrong
        if tuple(map(type, header)) != _KINDS:
            raise ValueError(strange)
        return header


@dataclass(frozen=True, slots=True)
class Head:
    """The last entry of a stream: its number (0 while there is none) and its hash."""

    stream: str
    seq: int = 0
    hash: str = START


def digest(salt: bytes, content: bytes) -> str:
    """SHA-256 (FIPS 180-4) over a salt and what it hides, in hexadecimal: a short body cannot be guessed from it."""
    return hashlib.sha256(salt + content).hexdigest()


def sealed(clinic: str, act: Act, heads: Mapping[str, Head], salt: Callable[[], bytes]) -> tuple[Entry, ...]:
    """The act's facts as entries, each bound to the one before it in its stream."""
    last, entries = dict(heads), []
    for part, fact in enumerate(act.facts, 1):
        grain, before = salt(), last[fact.stream]
        header = Header(
            clinic=clinic,
            stream=fact.stream,
            seq=before.seq + 1,
            act=act.key,
            part=part,
            parts=len(act.facts),
            kind=fact.kind,
            shape=fact.shape,
            actor=act.actor,
            at=act.at,
            request=digest(grain, act.request),
            body=digest(grain, fact.body),
            prev=before.hash,
        )
        said = written(header._asdict())
        hashed = hashlib.sha256(said).hexdigest()
        entry = Entry(fact.stream, header.seq, said, hashed, grain, fact.body, act.key, part)
        entry.__dict__["_said"] = header  # known already: nobody has to read it out of its bytes again
        last[fact.stream] = Head(fact.stream, entry.seq, entry.hash)
        entries.append(entry)
    return tuple(entries)
