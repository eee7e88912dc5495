"""The audit of all figures: what is not read in its source, past its check date, without a second source, or read by nothing."""

import ast
import datetime as dt
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable
from typing import Any

from hourmark.formulary.drugs import drugs
from hourmark.formulary.products import products
from hourmark.formulary.sourced import Sourced, facts

FILES = ("limits", "proposals", "diluents", "syringes", "tolerance", "needles")


_LEAST_LETTERS = 4
"""A pattern with fewer letters of its own would match anything."""


@dataclass(frozen=True, slots=True)
class Audited:
    """The keys of the figures that want attention, by reason."""

    not_found: tuple[str, ...]
    past_check: tuple[str, ...]
    no_second: tuple[str, ...]
    unused: tuple[str, ...]
    """Named by nothing in the program; proposals are shown and rule nothing, and are left out."""


@cache
def every_fact() -> dict[str, Sourced[Any]]:
    """Every sourced number there is, by its full key."""
    found = [fact for name in FILES for fact in facts(name).values()]
    found += [fact for drug in drugs().values() for fact in drug.facts.values()]
    found += [fact for product in products().values() for fact in product.facts.values()]
    return {fact.key: fact for fact in found}


def audit(today: dt.date, more: Mapping[str, Sourced[Any]] | None = None, shown: tuple[str, ...] = ()) -> Audited:
    """What wants attention as of `today`, in the formulary and in `more` figures by full key.

    Keys that begin as `shown` are read one and all, to be shown, and so count as used.
    """
    known = every_fact() | dict(more or {})
    words = _patterns_of_the_program()
    return Audited(
        not_found=tuple(sorted(f"{key} ({fact.status})" for key, fact in known.items() if not fact.firm)),
        past_check=tuple(sorted(key for key, fact in known.items() if fact.due() < today)),
        no_second=tuple(sorted(key for key, fact in known.items() if fact.second is None)),
        unused=tuple(
            sorted(key for key in known if not key.startswith(("proposals.", *shown)) and not _named(key, words))
        ),
    )


def _named(key: str, patterns: frozenset[str]) -> bool:
    """Whether the program names this figure, whole or as a text put together from pieces."""
    name = key.rpartition(".")[2]
    tail = key.partition(".")[2]
    return name in patterns or any(
        re.fullmatch(pattern, candidate) for pattern in patterns if ".+" in pattern for candidate in (name, tail)
    )


@cache
def _patterns_of_the_program() -> frozenset[str]:
    """Every string constant in the program's own code, and every text it puts together as a pattern with .+ for each gap."""
    found: set[str] = set()
    for source in _code(files("hourmark")):
        for node in ast.walk(ast.parse(source)):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                found.add(node.value)
            elif isinstance(node, ast.JoinedStr):
                found.add("".join(_piece(part) for part in node.values))
    return frozenset(
        pattern for pattern in found if ".+" not in pattern or len(pattern.replace(".+", "")) >= _LEAST_LETTERS
    )


def _piece(part: ast.expr) -> str:
    return re.escape(str(part.value)) if isinstance(part, ast.Constant) else ".+"


def _code(folder: Traversable) -> Iterable[str]:
    for entry in folder.iterdir():
        if entry.is_dir():
            yield from _code(entry)
        elif entry.name.endswith(".py"):
            yield entry.read_text(encoding="utf-8")
