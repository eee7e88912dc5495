"""What went in -> dose given: one function for foreseen mistakes and for reported ones, exact or as a range."""

from dataclasses import dataclass
from fractions import Fraction
from typing import TypeAlias

from hourmark.quantity import Concentration, Dose, Volume

NONE = Volume(Fraction(0))


@dataclass(frozen=True, slots=True)
class Between:
    """A volume known exactly (both ends equal) or only between two ends, in mL. Raises ValueError when they are swapped."""

    least: Volume
    most: Volume

    def __post_init__(self) -> None:
        """Refuse ends in the wrong order."""
        if self.most < self.least:
            raise ValueError(f"from {self.least} to {self.most} is no range")


def exactly(volume: Volume) -> Between:
    """A volume that is known."""
    return Between(volume, volume)


@dataclass(frozen=True, slots=True)
class WentIn:
    """What happened with one vial or several alike.

    Either a powder (`content` of one vial and the `water` added to it) or a ready liquid (`concentration`, and what one vial
    `holds` if known). `drawn` is the volume up to where the plunger was read, over all fills; `lost` is what of it did not go
    in: leaked, left in a hub, or air; `lost_part` is the same told as a part of what was drawn (1 is all), least and most.
    `vials` is how many were used. Raises ValueError for a part outside 0 to 1 or ends that are swapped.
    """

    drawn: Between
    content: Dose | None = None
    water: Between | None = None
    concentration: Concentration | None = None
    holds: Volume | None = None
    lost: Between = Between(NONE, NONE)
    lost_part: tuple[Fraction, Fraction] = (Fraction(0), Fraction(0))
    vials: int = 1

    def __post_init__(self) -> None:
        """Refuse a part that is none."""
        if not 0 <= self.lost_part[0] <= self.lost_part[1] <= 1:
            raise ValueError(f"from {self.lost_part[0]} to {self.lost_part[1]} is no part of what was drawn")


@dataclass(frozen=True, slots=True)
class Given:
    """The dose that went in, between two ends; equal when it is exact."""

    least: Dose
    most: Dose

    @property
    def exact(self) -> bool:
        """Whether there is one dose and not a range."""
        return self.least == self.most


def dose_given(what: WentIn) -> Given:
    """The dose that went in.

    More water makes the mix weaker, but what is lost of a vial drawn empty weighs less: the dose rises with the water until the
    vial is just emptied and falls from there. So the largest stands there or at an end, the smallest at an end. Nothing drawn
    exceeds what the vials hold, and nothing lost exceeds what was drawn.

    Raises ValueError when neither a powder with its water nor a concentration is told.
    """
    if what.content is not None and what.water is not None:
        waters = (what.water.least, what.water.most)
        just_empty = Volume(what.drawn.most.value / what.vials)
        strongest = min(max(just_empty, what.water.least), what.water.most)
        return Given(
            min((_one(what, water, what.drawn.least, _most_lost(what)) for water in waters), key=_value),
            max((_one(what, water, what.drawn.most, _least_lost(what)) for water in (*waters, strongest)), key=_value),
        )
    if what.concentration is None:
        raise ValueError("either a powder and its water, or a concentration, has to be told")
    return Given(
        _liquid(what, what.concentration, what.drawn.least, _most_lost(what)),
        _liquid(what, what.concentration, what.drawn.most, _least_lost(what)),
    )


_Loss: TypeAlias = tuple[Volume, Fraction]
"""A volume, and a part of what was drawn, that did not go in."""


def _least_lost(what: WentIn) -> _Loss:
    return what.lost.least, what.lost_part[0]


def _most_lost(what: WentIn) -> _Loss:
    return what.lost.most, what.lost_part[1]


def _value(dose: Dose) -> Fraction:
    return dose.value


def _one(what: WentIn, water: Volume, drawn: Volume, lost: _Loss) -> Dose:
    """From a powder: with no water nothing is dissolved, and nothing of it goes in."""
    assert what.content is not None
    if not water:
        return what.content * 0
    strength = Concentration(what.content * (1 / water.value))
    return strength.dose_in(_injected(min(drawn, water * what.vials), lost))


def _liquid(what: WentIn, strength: Concentration, drawn: Volume, lost: _Loss) -> Dose:
    in_vials = what.holds * what.vials if what.holds is not None else drawn
    return strength.dose_in(_injected(min(drawn, in_vials), lost))


def _injected(drawn: Volume, lost: _Loss) -> Volume:
    volume, part = lost
    kept = drawn * (1 - part)
    return kept - min(kept, volume)
