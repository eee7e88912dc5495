"""The figures of this room: curves, limits, published observations and where sources disagree, loaded or refused."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from importlib.resources import files
from typing import Any, TypeAlias

from hourmark.clock import Span, parse_span
from hourmark.formulary import Sourced, sources
from hourmark.formulary.sourced import read_fact, read_facts
from hourmark.quantity import Dose, parse_dose, parse_number

Limits: TypeAlias = Mapping[str, Sourced[Any]]


@cache
def titles() -> dict[str, str]:
    """The titles of all sources by their short keys: the formulary's and this room's."""
    return sources() | {
        key: f"{entry['title']}, {entry['date']}" if "date" in entry else entry["title"]
        for key, entry in _load("sources").items()
    }


@cache
def limits() -> Limits:
    """The published limits and the hours in which they hold, by name."""
    return read_facts("levels.limits", _load("limits"), titles())


@cache
def constants() -> dict[str, Sourced[Any]]:
    """The constants of the curves, by name; those of one parameter set begin with its key and a point."""
    return read_facts("levels.curves", _load("curves"), titles())


@dataclass(frozen=True, slots=True)
class ParameterSet:
    """One set for the curve of hCG: for one drug by the routes named, its constants under `key` in `constants`."""

    key: str
    about: str
    drug: str
    routes: tuple[str, ...]

    def fact(self, name: str) -> Sourced[Any]:
        """The constant of that name: absorption, elimination, volume or spread."""
        return constants()[f"{self.key}.{name}"]


@cache
def parameter_sets() -> tuple[ParameterSet, ...]:
    """Every set, in the order of the file."""
    return tuple(
        ParameterSet(key, table["about"], table["drug"], tuple(table["routes"]))
        for key, table in _load("curves").items()
        if "drug" in table
    )


@dataclass(frozen=True, slots=True)
class Observation:
    """A level that was seen and published. `until` ends a span of hours; `statistic` says what `level` is of the people measured.

    `compared` is set where the curve has to meet it within a quarter; `low` and `high` are the printed range.
    """

    key: str
    about: str
    analyte: str
    drugs: tuple[str, ...]
    dose: Dose | None
    route: str | None
    hours: Span
    until: Span | None
    statistic: str
    low: Fraction | None
    high: Fraction | None
    spread: str | None
    compared: bool
    level: Sourced[Fraction]

    @property
    def typical(self) -> bool:
        """Whether it says what people usually had, rather than a limit or a failure."""
        return self.statistic in _TYPICAL


_TYPICAL = {"mean", "median", "peak", "median of the peak", "measured", "projected", "level"}

_ABOUT = {
    *("about", "analyte", "drugs", "dose", "route", "hours", "until"),
    *("statistic", "low", "high", "spread", "compared"),
}


@cache
def observations() -> tuple[Observation, ...]:
    """Every published observation, in the order of the file."""
    return tuple(_observation(key, table) for key, table in _load("observed").items())


def _observation(key: str, table: Mapping[str, Any]) -> Observation:
    fact = {name: value for name, value in table.items() if name not in _ABOUT}
    return Observation(
        key=key,
        about=table["about"],
        analyte=table["analyte"],
        drugs=tuple(table["drugs"]),
        dose=parse_dose(table["dose"]) if "dose" in table else None,
        route=table.get("route"),
        hours=parse_span(f"{table['hours']} h"),
        until=parse_span(f"{table['until']} h") if "until" in table else None,
        statistic=table["statistic"],
        low=parse_number(table["low"]) if "low" in table else None,
        high=parse_number(table["high"]) if "high" in table else None,
        spread=table.get("spread"),
        compared=table["compared"],
        level=read_fact(f"levels.observed.{key}", fact, titles()),
    )


@dataclass(frozen=True, slots=True)
class Disagreement:
    """A question on which sources differ: what each side says, with its source."""

    key: str
    about: str
    subjects: tuple[str, ...]
    sides: tuple[Sourced[str], ...]


@cache
def disagreements() -> tuple[Disagreement, ...]:
    """Every disagreement, in the order of the file."""
    return tuple(
        Disagreement(
            key,
            table["about"],
            tuple(table["for"]),
            tuple(read_facts(f"levels.disagreements.{key}", table, titles()).values()),
        )
        for key, table in _load("disagreements").items()
    )


@cache
def every_fact() -> dict[str, Sourced[Any]]:
    """Every sourced number and statement of this room, by its full key."""
    found = [*limits().values(), *constants().values(), *(one.level for one in observations())]
    found += [side for one in disagreements() for side in one.sides]
    return {fact.key: fact for fact in found}


@cache
def _load(name: str) -> dict[str, Any]:
    with files("hourmark.levels").joinpath("data").joinpath(f"{name}.toml").open("rb") as file:
        return tomllib.load(file)
