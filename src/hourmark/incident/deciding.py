"""Who decides: signed limits as data. Where several speak the stricter wins; where none does, the prescriber is asked."""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import IntEnum

from hourmark.clock import Span
from hourmark.finding import Level
from hourmark.order import Bands, Rules
from hourmark.quantity import Share

NO_BANDS = Bands()
"""Nothing signed."""


class Who(IntEnum):
    """Who decides, the stricter the higher."""

    NURSE = 0
    PRESCRIBER = 1
    EMERGENCY = 2

    @property
    def words(self) -> str:
        """As it is said: "emergency services first"."""
        return ("the nurse, from the page and the order", "the prescriber", "emergency services first")[self]


@dataclass(frozen=True, slots=True)
class Reason:
    """Why somebody has to decide: what was found, by which limit, whose limit that is."""

    who: Who
    why: str
    limit: str
    source: str
    code: str
    level: Level


@dataclass(frozen=True, slots=True)
class Limits:
    """A clinic's signed limits; what is None has not been signed and rules nothing.

    late_noted: up to here a late injection is written down and no more. late_recomputed: up to here it is computed anew by the nurse;
    beyond it the prescriber decides. dose: how far a dose may be from the order, as a share of it, before the prescriber decides.
    """

    source: str
    bands: Bands = NO_BANDS
    late_noted: Span | None = None
    late_recomputed: Span | None = None
    dose: Share | None = None


UNSIGNED = Limits("no rule is signed: ask the prescriber")
"""The limits of a clinic that has signed none."""


def limits_of(rules: Rules | None) -> Limits:
    """The limits a clinic's signed rules hold."""
    if rules is None:
        return UNSIGNED
    limits = rules.trouble
    return Limits(
        f"clinic's rule, signed by {rules.signed_by} at {rules.signed_at}",
        rules.bands,
        limits.late_noted,
        limits.late_recomputed,
        limits.dose,
    )


def strictest(reasons: Iterable[Reason]) -> Who:
    """Who decides where all of these speak; the prescriber where none does."""
    return max((reason.who for reason in reasons), default=Who.PRESCRIBER)
