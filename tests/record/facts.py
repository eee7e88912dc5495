"""Acts for the tests to record: what they say matters less than where it ends up."""

import hashlib
import itertools
from collections.abc import Callable, Mapping

from hourmark.ledger import Act, Entry, Fact, Outcome, Reader, Store, append

AT = "2026-11-19T03:00:00Z"
WHO = "N. Ferro"


def salts(start: int = 0) -> Callable[[], bytes]:
    """16 bytes a call, never the same twice, and the same on every run."""
    numbers = itertools.count(start)
    return lambda: hashlib.sha256(str(next(numbers)).encode()).digest()[:16]


def fact(stream: str, body: bytes = b'{"why":"a slot moved"}') -> Fact:
    return Fact(stream, "noted", 1, body)


def act(key: str, *facts: Fact, request: bytes | None = None) -> Act:
    return Act(key, f"please {key}".encode() if request is None else request, WHO, AT, facts)


def appended(store: Store, one: Act, expected: Mapping[str, int] | None = None, start: int = 0) -> Outcome:
    """One act in a transaction of its own."""
    with store.writing() as record:
        return append(record, one, expected or {}, salts(start))


def contents(record: Reader) -> tuple[list[Entry], list[tuple[str, int, str]], list[tuple[str, str, str]]]:
    """Everything that can be read: entries, heads, and the messages that wait."""
    return (
        list(record.read_all()),
        [(head.stream, head.seq, head.hash) for head in record.heads()],
        [(one.message.kind, one.message.to, one.message.text) for one in record.queued()],
    )
