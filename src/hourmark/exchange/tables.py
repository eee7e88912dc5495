"""Tables of a night file one by one, as pages and scripts hand them in: each read as strictly as the whole file."""

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any, Literal, TypeAlias

from hourmark.exchange import keys
from hourmark.exchange.build import build, clinic_problems, cross_problems, order_problems, slot_problems
from hourmark.exchange.nightfile import dotted
from hourmark.exchange.structure import Problem, structure
from hourmark.finding import Finding, Level
from hourmark.order import Night

Kind: TypeAlias = Literal["clinic", "barrel", "slot", "details", "order", "kit"]

_NO_ORDER: dict[str, Any] = {
    "purpose": "trigger",
    "signed_by": "nobody",
    "signed_at": "2000-01-01 00:00",
    "stop": [],
    "injections": [],
}


def plain_table(table: Mapping[str, Any]) -> dict[str, Any]:
    """The table as JSON can hold it: dates as text, which the night file's keys accept as well."""
    return {name: _plain(value) for name, value in table.items()}


def night_from_table(table: dict[str, Any]) -> Night | tuple[Finding, ...]:
    """The night in a whole table, or every problem in it, by the path of its key."""
    read = structure(table, keys.NightKeys)
    if isinstance(read, list):
        return _placed(read)
    if problems := list(cross_problems(read)):
        return _placed(problems)
    return replace(build(read), written=table)


def table_problems(kind: Kind, table: Mapping[str, Any]) -> tuple[Finding, ...]:
    """Everything that cannot be read in one table of a night file."""
    return _placed(list(_problems(kind, dict(table))))


def _problems(kind: Kind, table: dict[str, Any]) -> Iterator[Problem]:
    match kind:
        case "clinic":
            clinic = structure(table, keys.ClinicKeys)
            yield from clinic if isinstance(clinic, list) else clinic_problems(clinic)
        case "barrel":
            barrel = structure(table, keys.MeasuredKeys)
            yield from barrel if isinstance(barrel, list) else ()
        case "slot":
            slot = structure(table, keys.SlotKeys)
            yield from slot if isinstance(slot, list) else slot_problems(slot, ())
        case "kit":
            kit = structure(table, keys.KitKeys)
            yield from kit if isinstance(kit, list) else ()
        case "order":
            order = structure(table, keys.OrderKeys)
            yield from order if isinstance(order, list) else order_problems(order, ())
        case "details":
            whole = {"id": "details", **table, "order": _NO_ORDER, "kit": {"products": []}}
            details = structure(whole, keys.CaseKeys)
            yield from details if isinstance(details, list) else ()
            for name in ("id", "slot", "order", "kit"):
                if name in table:
                    yield Problem((name,), "file-key-unknown", f'"{name}" does not belong here.', "Leave it out.")


def _placed(problems: list[Problem]) -> tuple[Finding, ...]:
    return tuple(
        Finding(
            problem.code,
            Level.STOP,
            problem.what,
            problem.do,
            dotted(problem.path),
            "the keys of a night file",
            "docs/night-file.md",
        )
        for problem in problems
    )


def _plain(value: Any) -> Any:
    match value:
        case dict():
            return plain_table(value)
        case list():
            return [_plain(inner) for inner in value]
        case dt.date() if not isinstance(value, dt.datetime):
            return value.isoformat()
        case _:
            return value
