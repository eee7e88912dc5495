"""Sharing a volume among new barrels of one kind, each filled to a printed line."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from hourmark.formulary import Barrel
from hourmark.quantity import Mark, Volume


class How(StrEnum):
    """How one fill is given."""

    MARK = "mark"
    ALL = "all"
    SYRINGE = "syringe"
    SPRAY = "spray"


@dataclass(frozen=True, slots=True)
class Fill:
    """One fill of one new barrel, one prefilled syringe, or all sprays of one bottle.

    `device` is the barrel's or the product's id; `mark` is on that barrel's own scale.
    """

    how: How
    device: str
    volume: Volume | None
    mark: Mark | None = None
    sprays: int | None = None


@dataclass(frozen=True, slots=True)
class Split:
    """A way to give a volume with one kind of barrel: `extra` fills of `larger`, then the rest of `smaller`, in `fills` in all."""

    barrel: Barrel
    fills: int
    smaller: Volume
    larger: Volume
    extra: int

    @property
    def volumes(self) -> tuple[Volume, ...]:
        """The volume of each fill, larger first."""
        return (self.larger,) * self.extra + (self.smaller,) * (self.fills - self.extra)

    @property
    def full(self) -> bool:
        """Whether a fill reaches the barrel's capacity, so that no room is left to clear air."""
        return self.largest == self.barrel.capacity

    @property
    def largest(self) -> Volume:
        """The volume of the first fill."""
        return self.larger if self.extra else self.smaller

    @property
    def preference(self) -> tuple[int, bool, Volume, Volume, bool]:
        """Smaller is better: fewest fills, not full, smaller capacity, finer step, mL scale before U-100."""
        return (self.fills, self.full, self.barrel.capacity, self.barrel.step, self.barrel.on_u100)


def split(volume: Volume, barrel: Barrel) -> Split | None:
    """The volume over the fewest fills of this barrel, as equal as its lines allow, or None when it lies between lines."""
    lines = volume.value / barrel.step.value
    if lines.denominator != 1 or lines <= 0:
        return None
    most = barrel.capacity.value // barrel.step.value
    fills = -(-lines.numerator // most)
    even, extra = divmod(lines.numerator, fills)
    return Split(barrel, fills, smaller=barrel.step * even, larger=barrel.step * (even + 1), extra=extra)


def best(splits: Iterable[Split]) -> Split | None:
    """The preferred way, by the order in `Split.preference`."""
    return min(splits, key=lambda way: way.preference, default=None)


def roomiest(volume: Volume, barrels: Sequence[Barrel]) -> Split | None:
    """Barrels for a volume that is taken up whole, where no line matters: as few fills as possible, with room for air."""
    ways = []
    for barrel in barrels:
        fills = -(-volume.value // barrel.capacity.value)
        if fills == 1:
            ways.append(Split(barrel, 1, smaller=volume, larger=volume, extra=0))
        elif (even := split(volume, barrel)) is not None:
            ways.append(even)
    return best(ways)


def lands_on_line(volume: Volume, barrels: Iterable[Barrel]) -> tuple[Barrel, ...]:
    """Those barrels on which the volume can be drawn in one fill to a printed line."""
    return tuple(barrel for barrel in barrels if barrel.has_line(volume))


def scale_text(barrel: Barrel, volume: Volume) -> str:
    """Where a volume stands on a barrel, in words: "mark 20 (0.2 mL)" on U-100, "0.2 mL" elsewhere."""
    return f"mark {barrel.mark(volume)} ({volume})" if barrel.on_u100 else str(volume)


def total(volumes: Iterable[Volume]) -> Volume:
    """The sum of volumes."""
    return sum(volumes, Volume(Fraction(0)))
