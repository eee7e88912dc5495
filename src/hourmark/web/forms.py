"""From the fields of a form to a table of a night file and back: a field is named by the path of its key, as findings name it."""

import re
from collections.abc import Iterator, Mapping
from typing import Any

_STEP = re.compile(r"([a-z0-9_]+)(?:\[([1-9][0-9]?)\])?")
_WHOLE = re.compile(r"[0-9]{1,4}")
_NUMBERS = ("count", "gauge", "follicles", "dissolve_seconds", "wait_seconds", "drying_seconds", "keep_years")
"""Keys that hold whole numbers; what is not one is left as it was typed, and refused with what to write."""

_SWITCHES = {"true": True, "false": False}
_LINES = ("stop", "allergies", "checkers", "days", "languages", "sequence")
"""Keys that hold a list, typed one a line or with commas between."""


def table_of(typed: Mapping[str, str], begins: str = "") -> dict[str, Any]:
    """The table in the fields whose name begins so. Blank fields are left out, and rows of which nothing is left."""
    table: dict[str, Any] = {}
    for name, value in typed.items():
        if name.startswith(begins) and value.strip():
            _put(table, name.removeprefix(begins).split("."), value.strip())
    whole: dict[str, Any] = _without_gaps(table)
    return whole


def fields_of(table: Mapping[str, Any], begins: str = "") -> dict[str, str]:
    """The fields of a table, as they are shown in its form."""
    return dict(_fields(table, begins))


def _put(table: dict[str, Any], path: list[str], value: str) -> None:
    step = _STEP.fullmatch(path[0])
    if step is None:
        return
    name, place = step[1], step[2]
    if place is not None:
        rows = table.setdefault(name, {})
        if len(path) == 1:
            rows[int(place)] = value
        else:
            _put(rows.setdefault(int(place), {}), path[1:], value)
    elif len(path) == 1:
        table[name] = _value(name, value)
    else:
        _put(table.setdefault(name, {}), path[1:], value)


def _value(name: str, value: str) -> Any:
    if name in _LINES:
        return [part.strip() for part in re.split(r"[\n,]", value) if part.strip()]
    if name in _NUMBERS and _WHOLE.fullmatch(value):
        return int(value)
    return _SWITCHES.get(value, value)


def _without_gaps(value: Any) -> Any:
    """Rows by their number become a list."""
    if not isinstance(value, dict):
        return value
    if value and all(isinstance(place, int) for place in value):
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
