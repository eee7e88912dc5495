"""The record: facts are appended and chained, and nothing is ever changed. It knows no medicine."""

from hourmark.ledger.canonical import Value, canonical
from hourmark.ledger.entry import START, Act, Entry, Fact, Head, Header, digest, sealed
from hourmark.ledger.memory import MemoryStore
from hourmark.ledger.store import (
    ERASED,
    Appended,
    KeyTaken,
    Message,
    NotStored,
    Outcome,
    Queued,
    Reader,
    Stale,
    Store,
    Writer,
    append,
    erase,
    repeated,
)
from hourmark.ledger.verify import read_whole, verify

__all__ = [
    "ERASED",
    "START",
    "Act",
    "Appended",
    "Entry",
    "Fact",
    "Head",
    "Header",
    "KeyTaken",
    "MemoryStore",
    "Message",
    "NotStored",
    "Outcome",
    "Queued",
    "Reader",
    "Stale",
    "Store",
    "Value",
    "Writer",
    "append",
    "canonical",
    "digest",
    "erase",
    "read_whole",
    "repeated",
    "sealed",
    "verify",
]
