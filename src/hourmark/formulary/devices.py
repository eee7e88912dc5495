"""Syringes with their printed lines and numbers, and needles by gauge."""

import math
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from typing import Any

from hourmark.finding import Unreadable
from hourmark.formulary.sourced import Sourced, facts
from hourmark.quantity import Mark, Share, Volume, number_text

U100 = "u100"
"""The scale of a U-100 barrel: its numbers are hundredths of a millilitre."""

_U100_MARKS_PER_ML = 100
"""By definition of U-100: 100 marks to the millilitre (ISO 8537)."""


_MM3_PER_ML = 1000

_LEAST_BETWEEN_LINES = Fraction(1, 2)
"""In mm: ISO 8537 for insulin syringes, read in a secondary copy; below it nobody tells two lines apart."""

_LONGEST_SCALE = 140
"""In mm: what fits across a page with the ends of the syringe (our own layout)."""


@dataclass(frozen=True, slots=True)
class Barrel:
    """A syringe barrel: capacity and the volume between two printed lines; `numbered` is the volume between two printed numbers.

    `shortest_scale` is the least length in mm that a standard allows from the zero line to the line of the capacity.
    """

    id: str
    scale: str
    capacity: Volume
    step: Volume
    numbered: Volume
    needle_fixed: bool
    shortest_scale: Sourced[Fraction] | None = None

    @property
    def on_u100(self) -> bool:
        """Whether its numbers are U-100 marks and not millilitres."""
        return self.scale == U100

    def has_line(self, volume: Volume) -> bool:
        """Whether a printed line stands at exactly this volume, the full barrel included."""
        return 0 < volume.value <= self.capacity.value and volume.value % self.step.value == 0

    def mark(self, volume: Volume) -> Mark:
        """This volume on the barrel's own scale: mL x 100 on U-100, mL elsewhere."""
        return Mark(volume.value * (_U100_MARKS_PER_ML if self.on_u100 else 1))

    def volume_at(self, mark: Mark) -> Volume:
        """The volume up to a number on the barrel's own scale."""
        return Volume(mark.value / (_U100_MARKS_PER_ML if self.on_u100 else 1))

    def neighbours(self, volume: Volume) -> tuple[Volume, Volume]:
        """The printed lines just below and just above a volume between lines; below the first line, that is zero."""
        lines = volume.value // self.step.value
        return Volume(lines * self.step.value), Volume((lines + 1) * self.step.value)

    def bore(self, scale_length: Fraction) -> float:
        """The inner diameter in mm that follows from the capacity on a scale of this many mm: a cylinder."""
        return math.sqrt(4 * float(self.capacity.value) * _MM3_PER_ML / (math.pi * float(scale_length)))

    def implausible_scale(self, scale_length: Fraction) -> str | None:
        """Why no such barrel has a scale of this many mm; None where one may."""
        if self.shortest_scale is not None and scale_length < self.shortest_scale.value:
            return f"at least {self.shortest_scale.text}, {self.shortest_scale.cite()}"
        if scale_length * self.step.value < _LEAST_BETWEEN_LINES * self.capacity.value:
            return f"its lines would stand less than {number_text(_LEAST_BETWEEN_LINES)} mm apart"
        if scale_length > _LONGEST_SCALE:
            return f"at most {_LONGEST_SCALE} mm goes on a page"
        if scale_length < 2 * self.bore(scale_length):
            return "it would be wider than half its length"
        return None

    @property
    def described(self) -> str:
        """The barrel in words: "1 mL U-100 syringe, lines every 2 marks"."""
        kind = "U-100 syringe" if self.on_u100 else "syringe"
        unit = "mark" if self.on_u100 else "mL"
        step = self.mark(self.step)
        plural = "s" if self.on_u100 and step.value != 1 else ""
        return f"{self.capacity} {kind}, lines every {step} {unit}{plural}"


@cache
def barrels() -> dict[str, Barrel]:
    """Every syringe barrel, by id: kind, capacity, step."""
    found = facts("syringes")
    ids = dict.fromkeys(path.rpartition(".")[0].strip('"') for path in found)
    return {barrel_id: _barrel(barrel_id, found) for barrel_id in ids}


def barrel(barrel_id: object) -> Barrel:
    """The barrel of that id. Raises Unreadable, listing the ids."""
    if isinstance(barrel_id, str) and barrel_id in barrels():
        return barrels()[barrel_id]
    raise Unreadable(f'"{str(barrel_id)[:40]}" is not a syringe known here.', f"Write one of: {', '.join(barrels())}.")


def _barrel(barrel_id: str, found: dict[str, Sourced[Any]]) -> Barrel:
    scale = barrel_id.partition("-")[0]
    return Barrel(
        id=barrel_id,
        scale=scale,
        capacity=found[f"{barrel_id}.capacity"].value,
        step=found[f"{barrel_id}.step"].value,
        numbered=found[f"{barrel_id}.numbered"].value,
        needle_fixed=scale == U100,
        shortest_scale=found.get(f"{barrel_id}.shortest-scale"),
    )


@dataclass(frozen=True, slots=True)
class Tolerance:
    """The permitted error of a barrel's graduated capacity, by nominal capacity, as ISO 7886-1 states it.

    Below half the capacity V a volume x may be wrong by fixed x V + small x x; from half up by large x x.
    """

    fixed: Sourced[Share]
    small: Sourced[Share]
    large: Sourced[Share]

    def of(self, capacity: Volume, drawn: Volume) -> Volume:
        """The permitted error of one draw, in mL."""
        if drawn.value * 2 < capacity.value:
            return capacity * self.fixed.value.value + drawn * self.small.value.value
        return drawn * self.large.value.value


@cache
def tolerances() -> tuple[tuple[Volume, Tolerance], ...]:
    """The rows of the standard's table: the capacity from which each holds, largest first."""
    found = facts("tolerance")
    rows = dict.fromkeys(path.partition(".")[0] for path in found)
    table = [
        (
            found[f"{row}.from-capacity"].value,
            Tolerance(found[f"{row}.fixed"], found[f"{row}.small"], found[f"{row}.large"]),
        )
        for row in rows
    ]
    return tuple(sorted(table, key=lambda row: row[0], reverse=True))


def tolerance(capacity: Volume) -> Tolerance:
    """The row of the standard's table for a barrel of this nominal capacity."""
    return next(row for least, row in tolerances() if capacity >= least)


@dataclass(frozen=True, slots=True)
class Gauge:
    """A needle gauge: outer diameter in mm and the hub colour of ISO 6009, which is a hint only and None above 30 G."""

    number: int
    outer: Sourced[Fraction]
    colour: Sourced[str] | None


@cache
def gauges() -> dict[int, Gauge]:
    """Needle gauges 18 to 31."""
    found = facts("needles")
    numbers = sorted({int(path.partition(".")[0].removeprefix("g")) for path in found})
    return {n: Gauge(n, found[f"g{n}.outer"], found.get(f"g{n}.colour")) for n in numbers}
