"""What nobody knows to have gone in or not: a level that would answer for it is read with care, and never as if none went in."""

from collections.abc import Iterable, Mapping, Sequence
from enum import StrEnum
from typing import TypeAlias

from hourmark.finding import Finding, Level
from hourmark.formulary import Kind
from hourmark.levels.curves import Leg
from hourmark.levels.says import Says


class Doubt(StrEnum):
    """What is not known of an injection."""

    WHETHER = "whether or when {} went in"
    AMOUNT = "how much of {} went in"
    WHAT = "what of {} went in"


Doubts: TypeAlias = Mapping[Kind, Doubt]
"""The kinds of drug of which it is not known whether they went in, or not known enough of it; of any other, what went in is known."""

_CALLED = {Kind.AGONIST: ("the agonist", "another agonist"), Kind.HCG: ("the hCG", "other hCG")}
_SETTLED = (Says.EXPECTED, Says.HIGH, Says.SUPPORTS, Says.SILENT)
"""What may be said only of what is known: all but these says no more than the doubt does, or presses of itself."""


def doubted(what: str, where: str, kinds: Iterable[Kind], legs: Sequence[Leg], doubts: Doubts) -> Finding | None:
    """The question back about a result or strip that answers for these kinds of drug; None where all of them are known.

    `legs` are the injections that are known to have gone in.
    """
    open_ones = [_not_known(kind, legs, doubts[kind]) for kind in kinds if kind in doubts]
    if not open_ones:
        return None
    return Finding(
        "injection-not-known",
        Level.ASK,
        f"{what}: {_said(open_ones)}.",
        "Ask her and whoever was with her, and report it. Until then tell the prescriber the value as it stands.",
        where,
        "what is not known is asked",
        "hourmark's own rule",
    )


def with_doubt(says: Says, why: str, kinds: Iterable[Kind], legs: Sequence[Leg], doubts: Doubts) -> tuple[Says, str]:
    """What a result still says, and why, where it answers for these kinds of drug and one of them is in doubt."""
    open_ones = [_not_known(kind, legs, doubts[kind]) for kind in kinds if kind in doubts]
    if not open_ones:
        return says, why
    return (Says.CARE, _said(open_ones)) if says in _SETTLED else (says, f"{why}; {_said(open_ones)}")


def _not_known(kind: Kind, legs: Sequence[Leg], doubt: Doubt) -> str:
    alone, more = _CALLED[kind]
    return doubt.format(more if any(leg.drug.kind is kind for leg in legs) else alone)


def _said(open_ones: Sequence[str]) -> str:
    return f"it is not known {' and '.join(open_ones)}"
