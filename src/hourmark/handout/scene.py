"""What one picture shows, as data. The drawing knows nothing of plans; whoever asks for a picture says all of it here."""

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal, TypeAlias

from hourmark.formulary import Barrel
from hourmark.quantity import Volume


@dataclass(frozen=True, slots=True)
class NeedleSeen:
    """A needle as drawn: its gauge and its length in mm; the hub's colour is a hint only."""

    gauge: int
    length: Fraction


@dataclass(frozen=True, slots=True)
class Scene:
    """One picture by name and what it needs to be drawn truly; None where the picture does not show it.

    barrel: the syringe in hand. at: the volume at which the stopper's top ring stands. needle: the one on it. clock: hour (0 to 23)
    and minute. angle: of the needle to the skin, in degrees. view: from whose eyes. left_handed: hands the other way round; printed
    scales, clocks and words are never turned.
    """

    picture: str
    barrel: Barrel | None = None
    at: Volume | None = None
    needle: NeedleSeen | None = None
    needles: tuple[NeedleSeen, ...] = ()
    clock: tuple[int, int] | None = None
    angle: int | None = None
    view: Literal["own", "helper"] = "own"
    left_handed: bool = False


@dataclass(frozen=True, slots=True)
class SyringeSeen:
    """The very syringe with every line and number, its stopper at a volume; at true size where its scale was measured, in mm."""

    barrel: Barrel
    at: Volume
    scale_length: Fraction | None = None


@dataclass(frozen=True, slots=True)
class RulerSeen:
    """The ruler by which the size of a print is checked."""


Seen: TypeAlias = Scene | SyringeSeen | RulerSeen
