"""Sourced numbers: a figure is data with its unit, source, section, the day it was checked, and how well it is known."""

import datetime as dt
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from functools import cache
from importlib.resources import files
from typing import Any, Generic, TypeVar

from hourmark.clock import Span, parse_span
from hourmark.quantity import (
    Concentration,
    Mass,
    Share,
    Units,
    Volume,
    parse_amount,
    parse_concentration,
    parse_number,
    parse_percent,
)

T = TypeVar("T")

CHECK_EVERY_DAYS = 365
"""A figure is to be read again in its source within this many days (common practice, no source)."""


class Status(StrEnum):
    """How well a figure is known."""

    FOUND = "found"
    WEAK = "weak"
    MEMORY = "memory"
    DERIVED = "derived"
    PRACTICE = "practice"


_STATUS_WORDS = {
    Status.FOUND: "read in the source",
    Status.WEAK: "read in a secondary copy",
    Status.MEMORY: "from memory, source not read",
    Status.DERIVED: "derived",
    Status.PRACTICE: "common practice, no source",
}


class Unsourced(ValueError):
    """A figure without what a figure must carry; the program does not start with it."""


@dataclass(frozen=True, slots=True)
class Sourced(Generic[T]):
    """One figure and where it comes from. `key` is its file and table; `text` is the figure as printed."""

    key: str
    value: T
    text: str
    status: Status
    checked: dt.date
    source: str | None = None
    section: str | None = None
    since: str | None = None
    second: str | None = None
    why: str | None = None

    @property
    def firm(self) -> bool:
        """Whether it was read in the source itself."""
        return self.status is Status.FOUND

    def cite(self) -> str:
        """Source, section and standing in one line, for a screen or a page."""
        carrier = ", ".join(part for part in (self.source, self.section) if part)
        return f"{carrier} ({_STATUS_WORDS[self.status]})" if carrier else _STATUS_WORDS[self.status]

    def due(self) -> dt.date:
        """The day by which it is to be read again."""
        return self.checked + dt.timedelta(days=CHECK_EVERY_DAYS)


Value = Volume | Mass | Units | Concentration | Share | Span | Fraction | bool | str | tuple[str, ...]


def read_value(value: Any, unit: str) -> tuple[Value, str]:
    """The typed value and its printed text for a TOML value and unit. Raises Unreadable or Unsourced."""
    match unit:
        case "text" if isinstance(value, str) and value:
            return value, value
        case "yes or no" if isinstance(value, bool):
            return value, "yes" if value else "no"
        case "list" if isinstance(value, list) and all(isinstance(item, str) for item in value):
            return tuple(value), ", ".join(value) or "none"
        case "count" | "days" | "mm" | "gauge" | "marks" | "kg" | "kg/m2" | "follicles":
            return parse_number(value), f"{value} {unit}" if unit != "count" else str(value)
        case "pg/mL" | "ng/mL" | "units/L" | "L" | "1/h":
            return parse_number(value), f"{value} {unit}"
        case "%":
            return parse_percent(f"{value} %"), f"{value} %"
        case "h" | "min":
            return parse_span(f"{value} {unit}"), f"{value} {unit}"
        case "units" | "mg" | "mcg" | "mL":
            return parse_amount(f"{value} {unit}"), f"{value} {unit}"
        case "units/mL" | "mg/mL" | "mcg/mL":
            return parse_concentration(f"{value} {unit}"), f"{value} {unit}"
        case _:
            raise Unsourced(f"value {value!r} does not go with unit {unit!r}")


_KEYS = {"value", "unit", "from", "source", "section", "checked", "status", "second", "why"}


def read_fact(key: str, table: Mapping[str, Any], titles: Mapping[str, str] | None = None) -> Sourced[Any]:
    """The sourced number of one TOML table. Raises Unsourced, naming the table, when anything it must carry is missing.

    `titles` are the titles of the sources by their short keys; this room's own when not given.
    """
    try:
        if unknown := set(table) - _KEYS:
            raise Unsourced(f"unknown {sorted(unknown)}")
        status = Status(table["status"])
        checked = table["checked"]
        if type(checked) is not dt.date:
            raise Unsourced("checked is not a date")
        if status in (Status.DERIVED, Status.PRACTICE):
            if not table.get("why"):
                raise Unsourced(f"{status} without a reason in why")
        elif not table.get("source"):
            raise Unsourced(f"{status} without a source")
        value, text = read_value(table["value"], table["unit"])
        return Sourced(
            key=key,
            value=value,
            text=text,
            status=status,
            checked=checked,
            source=_title(table.get("source"), titles),
            section=table.get("section"),
            since=table.get("from"),
            second=_title(table.get("second"), titles),
            why=table.get("why"),
        )
    except (ValueError, KeyError, AttributeError) as error:
        raise Unsourced(f"{key}: {error}") from error


def read_facts(stem: str, table: Mapping[str, Any], titles: Mapping[str, str] | None = None) -> dict[str, Sourced[Any]]:
    """Every sourced number in a TOML table of tables, by its dotted path; keys of the result do not repeat `stem`."""
    return {path: read_fact(f"{stem}.{path}", found, titles) for path, found in _fact_tables(table)}


def _fact_tables(table: Mapping[str, Any], path: str = "") -> Iterator[tuple[str, Mapping[str, Any]]]:
    if "value" in table or "status" in table:
        yield path, table
        return
    for name, inner in table.items():
        if isinstance(inner, dict):
            yield from _fact_tables(inner, f"{path}.{name}" if path else name)


def load(name: str) -> dict[str, Any]:
    """The parsed TOML data file of that name in this room."""
    with files("hourmark.formulary").joinpath("data").joinpath(name).open("rb") as file:
        return tomllib.load(file)


@cache
def facts(name: str) -> dict[str, Sourced[Any]]:
    """All sourced numbers of the data file `name`.toml, by dotted path."""
    return read_facts(name, load(f"{name}.toml"))


@cache
def sources() -> dict[str, str]:
    """The titles of all sources, by their short keys."""
    return {
        key: f"{entry['title']}, {entry['date']}" if "date" in entry else entry["title"]
        for key, entry in load("sources.toml").items()
    }


def _title(key: str | None, titles: Mapping[str, str] | None) -> str | None:
    if key is None:
        return None
    return (sources() if titles is None else titles)[key]
