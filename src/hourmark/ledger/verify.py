"""Whether a record is what it was when it was written. Whatever is not so is named: stream, number, and what is wrong with it."""

import hashlib
import json
from collections.abc import Iterator, Sequence
from itertools import groupby

from hourmark.finding import Finding, Level
from hourmark.ledger.entry import START, Entry, Head, Header, digest
from hourmark.ledger.store import ERASED, Reader


def verify(record: Reader, prefix: str = "") -> Iterator[Finding]:
    """Everything that is wrong with the streams whose name begins so; with no prefix also acts of which a part is missing.

    Others may go on writing: what is there beyond the heads as they were first seen has to be covered by the heads as they are then.
    """
    heads = {head.stream: head for head in record.heads(prefix)}
    parts: dict[str, list[int]] = {}
    for stream, group in groupby(record.read_all(prefix), key=lambda entry: entry.stream):
        entries = list(group)
        headers = list(map(_header, entries))
        yield from _damage_in(entries, headers, record.clinic)
        yield from _end_damage(record, heads.pop(stream, Head(stream)), entries)
        for header in headers if not prefix else ():
            if header is not None:
                parts.setdefault(header.act, [header.parts]).append(header.part)
    for head in heads.values():
        yield _damage(head.stream, head.seq, "record-short", f"{head.seq} entries are missing, to the last one")
    for act, (belong, *found) in parts.items():
        if sorted(found) != list(range(1, belong + 1)):
            yield _damage(
                f"act {act}", 0, "record-act-torn", f"{belong} entries belong together, {len(found)} are there"
            )


def read_whole(record: Reader, head: Head) -> tuple[Sequence[Entry], tuple[Finding, ...]]:
    """A stream up to a head of it that was seen, and everything that is wrong with it."""
    entries = record.read(head.stream)
    headers = list(map(_header, entries))
    damage = (*_damage_in(entries, headers, record.clinic), *_end_damage(record, head, entries))
    return entries[: head.seq], damage


def _end_damage(record: Reader, seen: Head, entries: Sequence[Entry]) -> Iterator[Finding]:
    """Whether the entries reach to the head that was seen, and no further than the head as it is now."""
    stream, last = seen.stream, len(entries)
    if last < seen.seq:
        yield _damage(
            stream, seen.seq, "record-short", f"the stream ends at entry {last}, and its head says entry {seen.seq}"
        )
        return
    at_head = entries[seen.seq - 1].hash if seen.seq else START
    if at_head != seen.hash:
        yield _damage(
            stream, seen.seq, "record-short", f"the stream ends at entry {last}, and its head says another entry"
        )
    elif last > seen.seq and record.head(stream).seq < last:
        yield _damage(
            stream, seen.seq, "record-short", f"the stream ends at entry {last}, and its head says entry {seen.seq}"
        )


def _damage_in(entries: Sequence[Entry], headers: Sequence[Header | None], clinic: str) -> Iterator[Finding]:
    erased = _erased(entries, headers)
    before = START
    for place, (entry, header) in enumerate(zip(entries, headers, strict=True), 1):
        yield from _entry_damage(entry, header, place, before, entry.seq in erased)
        if header is not None and header.clinic != clinic:
            yield _damage(entry.stream, entry.seq, "record-order", f"it says it is of the clinic {header.clinic}")
        before = entry.hash


def _entry_damage(entry: Entry, header: Header | None, place: int, before: str, erased: bool) -> Iterator[Finding]:
    stream, seq = entry.stream, entry.seq
    if header is None or hashlib.sha256(entry.header).hexdigest() != entry.hash:
        yield _damage(stream, seq, "record-changed", "its header is not what was written")
        return
    if (stream, seq, entry.act, entry.part, seq) != (header.stream, header.seq, header.act, header.part, place):
        yield _damage(
            stream, seq, "record-order", f"it says it is entry {header.seq} of {header.stream}, and stands at {place}"
        )
    if header.prev != before:
        yield _damage(stream, seq, "record-broken", "it does not follow from the entry before it")
    if entry.body is None or entry.salt is None:
        if not erased:
            yield _damage(stream, seq, "record-body-missing", "its body is gone, and no entry says that it was erased")
    elif digest(entry.salt, entry.body) != header.body:
        yield _damage(stream, seq, "record-changed", "its body is not what was written")


def _header(entry: Entry) -> Header | None:
    try:
        return entry.read_header()
    except ValueError:
        return None


def _erased(entries: Sequence[Entry], headers: Sequence[Header | None]) -> set[int]:
    """The numbers whose bodies an entry says were erased; one that is not what was written excuses nothing."""
    said = (
        entry.body
        for entry, header in zip(entries, headers, strict=True)
        if header is not None and header.kind == ERASED and entry.body is not None and entry.salt is not None
        if digest(entry.salt, entry.body) == header.body
    )
    return {seq for body in said for seq in json.loads(body)["seqs"]}


def _damage(stream: str, seq: int, code: str, what: str) -> Finding:
    return Finding(
        code,
        Level.STOP,
        f"The record is damaged: {what}.",
        "Stop writing to it, keep the file as it is, and restore the last backup that verifies.",
        f"{stream}, entry {seq}" if seq else stream,
        "every entry as it was written",
        "hourmark's own rule",
    )
