"""Erasure by the clinic's signed rule: the bodies of closed cases that have been kept long enough; headers and chain remain."""

from collections.abc import Iterator

from hourmark.case.asked import Asked, Refused, Role, refused
from hourmark.case.retention import keep_years, kept_until, streams_of
from hourmark.case.streams import case_stream
from hourmark.desk.desk import Desk
from hourmark.ledger import erase


def due(desk: Desk, now: str) -> list[str] | Refused:
    """The closed cases whose time is over, by id."""
    years = keep_years(desk.states().rules())
    return years if isinstance(years, Refused) else sorted(_due(desk, years, now))


def erase_due(desk: Desk, asked: Asked) -> list[str] | Refused:
    """Erase them, each in a transaction of its own, so that a cut leaves whole cases; refused to anybody but the clinic's lead."""
    cases = due(desk, asked.at)
    if isinstance(cases, Refused):
        return cases
    if asked.role is not Role.LEAD:
        return refused(
            "erasure-role",
            f"Erasure is the lead's, and {asked.by} asks in the role of {asked.role}.",
            "Ask the clinic's lead.",
            "erasure by the clinic's lead",
        )
    for case in cases:
        with desk.store.writing() as record:
            for stream in streams_of(case):
                why = "kept for as long as the clinic's signed rule says"
                key = f"erase-{stream}-{record.head(stream).seq}"
                erase(record, stream, why, key=key, actor=asked.by, at=asked.at, salt=desk.salt)
    if cases:
        desk.store.scrub()
    return cases


def _due(desk: Desk, years: int, now: str) -> Iterator[str]:
    for head in desk.store.heads(case_stream("")):
        entries = desk.store.read(head.stream)
        case = head.stream.removeprefix(case_stream(""))
        if (
            all(entry.body is not None for entry in entries[:1])
            and kept_until(entries[-1].read_header().at, years) <= now
            and desk.states().case(case).closed
        ):
            yield case
