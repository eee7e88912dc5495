"""What hourmark has to say about a case: findings, the working behind a number, and the refusal of unreadable input."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum


class Level(StrEnum):
    """How much a finding weighs, worst first."""

    STOP = "stop"
    ASK = "ask"
    WARN = "warn"
    NOTE = "note"


_WEIGHT = {level: place for place, level in enumerate(Level)}


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing to say: what is wrong or noteworthy, where, by which limit, whose limit that is, and what to do now.

    `code` is stable and is listed in SAFETY.md. `source` names the carrier of `limit`.
    """

    code: str
    level: Level
    what: str
    do: str
    where: str = ""
    limit: str | None = None
    source: str | None = None

    def at(self, where: str) -> "Finding":
        """The same finding, placed: `where` goes before any place it already has."""
        return replace(self, where=", ".join(part for part in (where, self.where) if part))


def worst_first(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """The findings without repeats, stops before asks before warns before notes, otherwise in the order they came."""
    return tuple(sorted(dict.fromkeys(findings), key=lambda finding: _WEIGHT[finding.level]))


def stops(findings: Iterable[Finding]) -> bool:
    """Whether any of the findings is a stop."""
    return any(finding.level is Level.STOP for finding in findings)


@dataclass(frozen=True, slots=True)
class Working:
    """How one number came about: its name, the formula in words, the inputs as written (each with its source), the result."""

    name: str
    formula: str
    inputs: tuple[tuple[str, str, str], ...]
    result: str


class Unreadable(ValueError):
    """Input that cannot be read as what it should be; says what is wrong and what to write instead."""

    def __init__(self, what: str, do: str) -> None:
        """Keep the two sentences apart, so that every page can show them in its own places."""
        super().__init__(f"{what} {do}")
        self.what = what
        self.do = do
