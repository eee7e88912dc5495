"""Drugs by generic name: their kind, the names they go by, and what a trigger dose of each looks like."""

import difflib
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from typing import Any

from hourmark.finding import Unreadable
from hourmark.formulary.sourced import Sourced, load, read_facts


class Kind(StrEnum):
    """What a drug does to the ovary's clock."""

    HCG = "hCG"
    AGONIST = "GnRH agonist"
    ANTAGONIST = "GnRH antagonist"


@dataclass(frozen=True, slots=True)
class Drug:
    """One drug. `names` are the spellings accepted in an order; salt and base are different names on purpose."""

    name: str
    kind: Kind
    names: tuple[str, ...]
    facts: dict[str, Sourced[Any]]

    def fact(self, name: str) -> Sourced[Any] | None:
        """The sourced number of that name, if the drug has one."""
        return self.facts.get(name)


@cache
def drugs() -> dict[str, Drug]:
    """Every drug, by its name in the formulary."""
    return {
        name: Drug(name, Kind(table["kind"]), tuple(table["names"]), read_facts(f"drugs.{name}", table))
        for name, table in load("drugs.toml").items()
    }


@cache
def _by_name() -> dict[str, Drug]:
    return {name.lower(): drug for drug in drugs().values() for name in (drug.name, *drug.names)}


def drug(name: object) -> Drug:
    """The drug that goes by this name. Raises Unreadable for abbreviations and names unknown here."""
    found = _by_name().get(name.strip().lower()) if isinstance(name, str) else None
    if found:
        return found
    near = difflib.get_close_matches(str(name).lower(), _by_name(), n=1)
    hint = f'Did you mean "{near[0]}"?' if near else f"Write the full generic name, one of: {', '.join(drugs())}."
    raise Unreadable(f'"{str(name)[:40]}" is not the full generic name of a drug known here.', hint)
