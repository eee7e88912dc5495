"""From the fields of a form to a table of a night file and back: a field is named by the path of its key, as findings name it."""

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from typing import Any

from hourmark.finding import Finding

_STEP = re.compile(r"([a-z0-9_]+)(?:\[([1-9][0-9]?)\])?")
_WHOLE = re.compile(r"[0-9]{1,4}")
_NUMBERS = ("count", "gauge", "follicles", "dissolve_seconds", "wait_seconds", "drying_seconds", "keep_years")
"""Keys that hold whole numbers; what is not one is left as it was typed, and refused with what to write."""

_SWITCHES = {"true": True, "false": False}
_KEY = re.compile(r"[a-z0-9_]+(?:\[[0-9]+\])?(?:\.[a-z0-9_]+(?:\[[0-9]+\])?)*")
_LINES = ("stop", "allergies", "checkers", "days", "languages", "sequence")
"""Keys that hold a list, typed one a line: a comma may be part of what stands there."""

_LINE = re.compile(rf"((?:.*\.)?(?:{'|'.join(_LINES)}))\[[0-9]+\]")


def table_of(typed: Mapping[str, str], begins: str = "") -> dict[str, Any]:
    """The table in the fields whose name begins so. Blank fields are left out, and rows of which nothing is left.

    Two fields that cannot both be true leave a text where a table belongs: it can be recorded nowhere, and is refused with its place.
    """
    table: dict[str, Any] = {}
    for name, value in typed.items():
        steps = _steps(name.removeprefix(begins)) if name.startswith(begins) else []
        if steps and value.strip():
            _put(table, steps, value.strip())
    whole: dict[str, Any] = _without_gaps(table)
    return whole


def fields_of(table: Mapping[str, Any], begins: str = "") -> dict[str, str]:
    """The fields of a table, as they are shown in its form."""
    return dict(_fields(table, begins))


def highest_row(fields: Mapping[str, str], begins: str) -> int:
    """The number of the last row of a list in which anything stands."""
    found = (
        re.match(rf"{re.escape(begins)}\[([1-9][0-9]?)\]", name) for name, value in fields.items() if value.strip()
    )
    return max((int(one[1]) for one in found if one), default=0)


def beside_fields(findings: Iterable[Finding], typed: Mapping[str, str], begins: str = "") -> tuple[Finding, ...]:
    """The findings about a table, each placed at the field of the form that it is about: rows left blank count there, and not in a table."""
    rows = _rows_of(typed, begins)
    return tuple(replace(one, where=_field_at(one.where, rows, typed, begins)) for one in findings)


def _field_at(where: str, rows: Mapping[str, str], typed: Mapping[str, str], begins: str) -> str:
    if not _KEY.fullmatch(where):
        return where
    row = max((row for row in rows if where == row or where.startswith(f"{row}.")), key=len, default="")
    field = begins + (rows[row] + where.removeprefix(row) if row else where)
    line = _LINE.fullmatch(field)
    if line is not None:
        return line[1]
    return f"{field}[1]" if field not in typed and f"{field}[1]" in typed else field


def _rows_of(typed: Mapping[str, str], begins: str) -> dict[str, str]:
    """Every row by its path in the table, and where it stands in the form."""
    places: dict[str, set[int]] = {}
    for name, value in typed.items():
        if not name.startswith(begins) or not value.strip():
            continue
        path = ""
        for key, place in _steps(name.removeprefix(begins)):
            path += f".{key}" if path else key
            if place is not None:
                places.setdefault(path, set()).add(place)
                path += f"[{place}]"
    rows: dict[str, str] = {}
    for path in sorted(places, key=len):
        above = next((row for row, stands in reversed(rows.items()) if path.startswith(f"{stands}.")), "")
        in_table = above + path.removeprefix(rows[above]) if above else path
        rows |= {f"{in_table}[{count}]": f"{path}[{place}]" for count, place in enumerate(sorted(places[path]), 1)}
    return rows


def _steps(name: str) -> list[tuple[str, int | None]]:
    """The keys of a field's name, each with the number of its row; none where it is no such name."""
    steps = [_STEP.fullmatch(part) for part in name.split(".")]
    return [(step[1], int(step[2]) if step[2] else None) for step in steps if step] if all(steps) else []


class _Rows(dict[int, Any]):
    """The rows of a list by their numbers."""


def _put(table: dict[str, Any], steps: list[tuple[str, int | None]], value: str) -> None:
    inner: dict[Any, Any] = table
    path: list[tuple[Any, type[dict[Any, Any]]]] = []
    for key, place in steps:
        path += [(key, dict)] if place is None else [(key, _Rows), (place, dict)]
    for step, holds in path[:-1]:
        found = inner.setdefault(step, holds())
        if type(found) is not holds:
            inner[step] = value if isinstance(found, dict) else found
            return
        inner = found
    last = path[-1][0]
    inner[last] = _value(last, value) if isinstance(last, str) else value


def _value(name: str, value: str) -> Any:
    if name in _LINES:
        return [part.strip() for part in value.split("\n") if part.strip()]
    if name in _NUMBERS and _WHOLE.fullmatch(value):
        return int(value)
    return _SWITCHES.get(value, value)


def _without_gaps(value: Any) -> Any:
    """Rows by their number become a list."""
    if not isinstance(value, dict):
        return value
    if isinstance(value, _Rows):
        return [_without_gaps(row) for _, row in sorted(value.items())]
    return {name: _without_gaps(inner) for name, inner in value.items()}


def _fields(value: Any, path: str) -> Iterator[tuple[str, str]]:
    match value:
        case dict():
            for name, inner in value.items():
                joined = f"{path}.{name}" if path and not path.endswith(".") else f"{path}{name}"
                if name in _LINES:
                    yield joined, "\n".join(map(str, inner))
                else:
                    yield from _fields(inner, joined)
        case list():
            for place, inner in enumerate(value, 1):
                yield from _fields(inner, f"{path}[{place}]")
        case bool():
            yield path, str(value).lower()
        case _:
            yield path, str(value)
