"""How far each published observation lies from the curve of its drug, dose and route."""

from collections.abc import Iterator
from dataclasses import dataclass

from hourmark.clock import Span
from hourmark.formulary import drug
from hourmark.levels.curves import Body, Expected, Leg, expected_hcg, expected_lh, expected_progesterone
from hourmark.levels.figures import Observation
from hourmark.levels.results import Analyte
from hourmark.quantity import Dose, parse_dose


@dataclass(frozen=True, slots=True)
class Distance:
    """One observation beside one curve: the curve's lowest and highest level in the observed hours, and how far it is off.

    `off` is (curve - seen) / seen, at that hour of the span where it is farthest.
    """

    observation: Observation
    about: str
    least: float
    most: float
    off: float

    @property
    def percent(self) -> str:
        """The distance in whole percent, signed: "-34 %", "0 %"."""
        whole = round(self.off * 100)
        return f"{whole:+d} %" if whole else "0 %"


_STEP = Span(15)


def distances(observation: Observation) -> Iterator[Distance]:
    """One distance for each curve that has the observation's drug and route; none where no curve stands beside it."""
    hours = list(_hours(observation))
    for place, first in enumerate(_expected(observation, hours[0])):
        levels = [first.median, *(_expected(observation, hour)[place].median for hour in hours[1:])]
        seen = float(observation.level.value)
        off = max(((level - seen) / seen for level in levels), key=abs)
        yield Distance(observation, first.about, min(levels), max(levels), off)


def _hours(observation: Observation) -> Iterator[Span]:
    at = observation.hours
    while at <= (observation.until or observation.hours):
        yield at
        at = at + _STEP


def _expected(observation: Observation, after: Span) -> tuple[Expected, ...]:
    first = drug(observation.drugs[0])
    leg = Leg(first, observation.dose or _ANY_DOSE, observation.route or "subcutaneous", after)
    match observation.analyte:
        case Analyte.HCG:
            return expected_hcg([leg], Body())
        case Analyte.LH:
            return expected_lh([leg])
        case _:
            return expected_progesterone([leg])


_ANY_DOSE: Dose = parse_dose("10,000 units")
"""Progesterone was published without a dose, and its curve takes none."""
