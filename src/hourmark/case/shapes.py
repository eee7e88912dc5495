"""Events as bodies of the record, and back. A body is never edited: one of an older shape is turned into today's when it is read."""

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, get_args

from cattrs import Converter
from cattrs.gen import make_dict_structure_fn

from hourmark.case.events import Event, Table
from hourmark.ledger import Entry, Fact, Value, canonical

EVENTS: dict[str, type[Event]] = {
    "".join(f"-{letter.lower()}" if letter.isupper() else letter for letter in kind.__name__).lstrip("-"): kind
    for union in get_args(Event)
    for kind in (get_args(union) or (union,))
}
"""Every kind of event under the name by which the record knows it."""

Upcast = Callable[[dict[str, Any]], dict[str, Any]]

SHAPES: Mapping[str, int] = {"sheet-issued": 2, "escalated": 3, "incident-noted": 2}
"""The shape in which a kind is written today, where that is not 1."""


def _without_what_came_later(sheet: dict[str, Any]) -> dict[str, Any]:
    return sheet | {"dues": [due | {"holds": None, "follows": None} for due in sheet["dues"]]}


def _reached_then(told: dict[str, Any]) -> dict[str, Any]:
    return told | {"reached": True, "rung": None}


def _line_not_kept(told: dict[str, Any]) -> dict[str, Any]:
    return told | {"tell": None}


def _settles_all(noted: dict[str, Any]) -> dict[str, Any]:
    return noted | {"settles": None}


UPCASTS: Mapping[tuple[str, int], Upcast] = {
    ("sheet-issued", 1): _without_what_came_later,
    ("escalated", 1): _reached_then,
    ("escalated", 2): _line_not_kept,
    ("incident-noted", 1): _settles_all,
}
"""From a kind's older shape to the one after it."""

_NAMES = {kind: name for name, kind in EVENTS.items()}


@dataclass(frozen=True, slots=True)
class Recorded:
    """An event as it stands in the record: its number in the stream, when it was recorded, by whom."""

    seq: int
    at: str
    actor: str
    event: Event


def kind_of(event: Event) -> str:
    """The name by which the record knows this kind of event."""
    return _NAMES[type(event)]


def to_fact(stream: str, event: Event) -> Fact:
    """The event in its shape of today."""
    kind = kind_of(event)
    return Fact(stream, kind, SHAPES.get(kind, 1), canonical(_plain(event)))


def from_entry(entry: Entry) -> Recorded | None:
    """The event of an entry; None where its body was erased or the entry only says that others were.

    Raises ValueError for a kind or a shape that this version does not know: a record written by a newer one.
    """
    header = entry.read_header()
    if entry.body is None or header.kind not in EVENTS:
        if entry.body is not None and not header.kind.startswith("ledger-"):
            raise ValueError(f'"{header.kind}" is not known here: the record was written by a newer version.')
        return None
    event = from_body(header.kind, header.shape, entry.body)
    return Recorded(entry.seq, header.at, header.actor, event)


def from_body(
    kind: str,
    shape: int,
    body: bytes,
    upcasts: Mapping[tuple[str, int], Upcast] = UPCASTS,
    shapes: Mapping[str, int] = SHAPES,
) -> Event:
    """The event of a body in any shape that was ever written. Raises ValueError for another."""
    table = json.loads(body.decode())
    while shape != shapes.get(kind, 1):
        if (kind, shape) not in upcasts:
            raise ValueError(f'Shape {shape} of "{kind}" is not known here: the record was written by a newer version.')
        table, shape = upcasts[kind, shape](table), shape + 1
    event: Event = _converter().structure(table, EVENTS[kind])
    return event


def request_bytes(command: Any) -> bytes:
    """What was asked, as bytes: two requests are the same where these are."""
    return canonical([type(command).__name__, _plain(command)])


def _plain(thing: Any) -> Value:
    plain: Value = _listed(_converter().unstructure(thing))
    return plain


def _listed(value: Any) -> Any:
    """With lists for tuples, which is what JSON gives back."""
    if isinstance(value, dict):
        return {key: _listed(inner) for key, inner in value.items()}
    return [_listed(inner) for inner in value] if isinstance(value, (list, tuple)) else value


@cache
def _converter() -> Converter:
    converter = Converter(detailed_validation=False, forbid_extra_keys=True)
    converter.register_structure_hook_func(lambda kind: kind in (Table, Value), lambda value, _: value)
    for kind in EVENTS.values():
        converter.register_structure_hook(kind, make_dict_structure_fn(kind, converter, _cattrs_forbid_extra_keys=True))
    return converter
