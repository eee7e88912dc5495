"""Whether a record is what it was when it was written. Whatever is not so is named: stream, number, and what is wrong with it."""

import hashlib
import json
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby

from hourmark.finding import Finding, Level
from hourmark.ledger.entry import START, Entry, Head, Header, digest
from hourmark.ledger.store import ERASED, Reader


def verify(record: Reader, prefix: str = "") -> Iterator[Finding]:
    """Everything that is wrong with the streams whose name begins so; with no prefix also acts of which a part is missing."""
    heads = {head.stream: head for head in record.heads(prefix)}
    parts: dict[str, list[tuple[int, int]]] = {}
    for stream, group in groupby(record.read_all(prefix), key=lambda entry: entry.stream):
        entries = list(group)
        yield from stream_damage(entries, heads.pop(stream, Head(stream)))
        for header in filter(None, map(_header, entries)):
            parts.setdefault(header.act, []).append((header.part, header.parts))
    for head in heads.values():
        yield _damage(head.stream, head.seq, "record-short", f"{head.seq} entries are missing, to the last one")
    for act, found in parts.items() if not prefix else ():
        if sorted(found) != [(part, len(found)) for part in range(1, len(found) + 1)]:
            yield _damage(
                f"act {act}", 0, "record-act-torn", f"{found[0][1]} entries belong together, {len(found)} are there"
            )


def stream_damage(entries: Sequence[Entry], head: Head) -> Iterator[Finding]:
    """Everything that is wrong with one stream, given the head kept for it."""
    before, place = START, 0
    erased = _erased(entries)
    for place, entry in enumerate(entries, 1):
        yield from _entry_damage(entry, place, before, entry.seq in erased)
        before = entry.hash
    if (head.seq, head.hash) != (place, before):
        last = "another entry" if head.seq == place else f"entry {head.seq}"
        yield _damage(
            head.stream, head.seq, "record-short", f"the stream ends at entry {place}, and its head says {last}"
        )


def _entry_damage(entry: Entry, place: int, before: str, erased: bool) -> Iterator[Finding]:
    stream, seq = entry.stream, entry.seq
    header = _header(entry)
    if hashlib.sha256(entry.header).hexdigest() != entry.hash or header is None:
        yield _damage(stream, seq, "record-changed", "its header is not what was written")
        return
    if seq != place or (header.stream, header.seq) != (stream, seq):
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


def _erased(entries: Iterable[Entry]) -> set[int]:
    said = (one for one in entries if one.body is not None and (header := _header(one)) and header.kind == ERASED)
    return {seq for one in said for seq in json.loads(one.body or b"{}")["seqs"]}


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
