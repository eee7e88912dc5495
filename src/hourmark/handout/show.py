"""The barrel on which she shows where she would stop, as data, and an invented mark to practise with."""

import hashlib
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Literal, TypeAlias

from hourmark.formulary import Barrel
from hourmark.quantity import Volume

Scale: TypeAlias = Literal["mL", "marks"]
"""What the numbers on a barrel are: millilitres, or the marks of a U-100 barrel."""


@dataclass(frozen=True, slots=True)
class Stop:
    """Where the stopper's top ring stops: the number on the barrel's own scale, and the volume."""

    mark: str
    volume: str


@dataclass(frozen=True, slots=True)
class PrintedLine:
    """A printed line of a barrel: its number on the barrel's own scale, the volume up to it, and whether the number is printed."""

    mark: str
    volume: str
    numbered: bool


@dataclass(frozen=True, slots=True)
class ShowBarrel:
    """The barrel on which she shows where she would stop: its id, its printed lines from the needle end, and where she stops.

    `stops` has one entry a fill, in order. Nothing here says what another place would give.
    """

    barrel: str
    capacity: str
    step: str
    scale: Scale
    needle_fixed: bool
    lines: tuple[PrintedLine, ...]
    stops: tuple[Stop, ...]


def show_barrel(barrel: Barrel, stops: Iterable[Volume]) -> ShowBarrel:
    """A barrel with all its printed lines, and where she stops on it, in order."""
    lines = tuple(
        PrintedLine(_mark(barrel, volume), str(volume), numbered=volume.value % barrel.numbered.value == 0)
        for volume in _lines(barrel)
    )
    return ShowBarrel(
        barrel=barrel.id,
        capacity=str(barrel.capacity),
        step=str(barrel.step),
        scale="marks" if barrel.on_u100 else "mL",
        needle_fixed=barrel.needle_fixed,
        lines=lines,
        stops=tuple(Stop(_mark(barrel, volume), str(volume)) for volume in stops),
    )


def practice_mark(barrel: Barrel, seed_text: str, not_these: Collection[Volume] = ()) -> Volume | None:
    """An invented mark to practise with: a printed line between a quarter and three quarters of the barrel.

    It is none of `not_these`, no line beside one of them, and no printed number next to one. The same seed gives the same line; None
    where no line is left.
    """
    free = [
        line
        for line in _lines(barrel)
        if 1 <= 4 * line.value / barrel.capacity.value <= 3 and not any(_near(barrel, line, one) for one in not_these)
    ]
    if not free:
        return None
    seed = int.from_bytes(hashlib.sha256(seed_text.encode()).digest()[:8])
    return free[seed % len(free)]


def _near(barrel: Barrel, line: Volume, other: Volume) -> bool:
    """Whether a line is another one or its neighbour, among all lines or among the numbers."""
    numbered = line.value % barrel.numbered.value == 0
    return abs(line.value - other.value) <= (barrel.numbered if numbered else barrel.step).value


def _lines(barrel: Barrel) -> list[Volume]:
    return [barrel.step * place for place in range(1, int(barrel.capacity.value / barrel.step.value) + 1)]


def _mark(barrel: Barrel, volume: Volume) -> str:
    return str(barrel.mark(volume))
