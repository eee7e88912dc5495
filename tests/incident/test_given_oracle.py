"""The dose given against a second way that shares no line with it: grains counted drop by drop, over vial, water, mark and leak.

The second way dissolves a number of grains evenly in drops of a thousandth of a millilitre, pools the vials, takes drops up to where the
plunger stood, takes the lost ones away, and counts the grains that are left, all in whole numbers. Ranges: every combination of points on
a grid that holds both ends is counted, and the ends of the answer must be the least and the most that were counted.
"""

from fractions import Fraction
from itertools import pairwise, product

import pytest

from hourmark.dose import Between, Given, WentIn, dose_given, exactly
from hourmark.incident import Kind
from hourmark.quantity import Concentration, Units, Volume
from tests.exchange.nights import POWDER, changed
from tests.incident.trouble import call, one_leg

DROPS = 1000
"""In one millilitre."""


def counted(content: int, vials: int, water: int, drawn: int, lost: int, part: tuple[int, int]) -> Fraction:
    """Units that went in; water, drawn and lost in drops, part as numerator and denominator."""
    if water == 0:
        return Fraction(0)
    drops_there = water * vials
    taken = min(drawn, drops_there)
    staying = taken * (part[1] - part[0]) - lost * part[1]
    parts_in = max(staying, 0)
    return Fraction(content * vials * parts_in, drops_there * part[1])


def volume(drops: int) -> Volume:
    return Volume(Fraction(drops, DROPS))


CONTENTS = (250, 1000, 1500, 5000, 10000)
WATERS = (0, 500, 1000, 2000, 4000, 10000)
DRAWN = (0, 50, 150, 200, 300, 1000, 2500)
LOST = (0, 10, 50, 300)
PARTS = ((0, 1), (1, 3), (1, 2), (1, 1))


@pytest.mark.parametrize("content", CONTENTS)
@pytest.mark.parametrize("vials", [1, 2, 3])
def test_every_exact_dose(content: int, vials: int) -> None:
    for water, drawn, lost, part in product(WATERS, DRAWN, LOST, PARTS):
        what = WentIn(
            exactly(volume(drawn)),
            Units(Fraction(content)),
            exactly(volume(water)),
            lost=exactly(volume(lost)),
            lost_part=(Fraction(*part), Fraction(*part)),
            vials=vials,
        )
        expected = Units(counted(content, vials, water, drawn, lost, part))
        assert dose_given(what) == Given(expected, expected), (water, drawn, lost, part)


@pytest.mark.parametrize("vials", [1, 2])
@pytest.mark.parametrize("waters", [*pairwise(WATERS[1:]), (500, 10000)])
@pytest.mark.parametrize("drawn", [*pairwise(DRAWN), (0, 2500)])
def test_every_range(vials: int, waters: tuple[int, int], drawn: tuple[int, int]) -> None:
    content = 10000
    for lost, parts in product(pairwise(LOST), pairwise(PARTS)):
        what = WentIn(
            Between(volume(drawn[0]), volume(drawn[1])),
            Units(Fraction(content)),
            Between(volume(waters[0]), volume(waters[1])),
            lost=Between(volume(lost[0]), volume(lost[1])),
            lost_part=(Fraction(*parts[0]), Fraction(*parts[1])),
            vials=vials,
        )
        just_empty = [
            drops
            for drops in range(0, drawn[1] // vials + 1, max(drawn[1] // vials, 1))
            if waters[0] <= drops <= waters[1]
        ]
        grid = sorted({*waters, (waters[0] + waters[1]) // 2, *just_empty})
        every = [
            counted(content, vials, water, taken, gone, part)
            for water in grid
            for taken in (drawn[0], (drawn[0] + drawn[1]) // 2, drawn[1])
            for gone in (lost[0], (lost[0] + lost[1]) // 2, lost[1])
            for part in parts
        ]
        assert dose_given(what) == Given(Units(min(every)), Units(max(every))), (lost, parts)


@pytest.mark.parametrize("holds", [None, 2800])
def test_a_ready_liquid(holds: int | None) -> None:
    """5 units in each millilitre, out of as many vials as were used."""
    for vials, drawn, lost, part in product((1, 2), (0, 200, 800, 3000), (0, 50), PARTS):
        what = WentIn(
            exactly(volume(drawn)),
            concentration=Concentration(Units(Fraction(5))),
            holds=volume(holds) if holds is not None else None,
            lost=exactly(volume(lost)),
            lost_part=(Fraction(*part), Fraction(*part)),
            vials=vials,
        )
        there = holds * vials if holds is not None else max(drawn, 1)
        expected = Units(counted(5 * there, 1, there, drawn, lost, part) / DROPS)
        assert dose_given(what) == Given(expected, expected)


@pytest.mark.parametrize(
    "part", [(Fraction(-1, 10), Fraction(0)), (Fraction(1, 2), Fraction(1, 3)), (Fraction(0), Fraction(2))]
)
def test_no_part_of_what_was_drawn(part: tuple[Fraction, Fraction]) -> None:
    with pytest.raises(ValueError, match="no part"):
        WentIn(exactly(volume(200)), Units(Fraction(1000)), exactly(volume(1000)), lost_part=part)


BARREL = "mL-3-0.1"


@pytest.mark.parametrize("strength", ["1,000 units", "5,000 units", "10,000 units"])
@pytest.mark.parametrize("water", [1000, 2000, 4000, 10000])
def test_whole_calls_over_vial_water_mark_and_leak(strength: str, water: int) -> None:
    """The same second way against what a call answers: facts in words, the plan's own kit."""
    content = int(strength.split()[0].replace(",", ""))
    many = changed(POWDER, ('syringe = "mL-3-0.1"\ncount = 2', 'syringe = "mL-3-0.1"\ncount = 9'))
    for drawn, (said, lost, part) in product((50, 200, 300, 1000), LEAKS):
        if drawn > water or lost > drawn:
            continue
        found = call(
            Kind.WRONG_PRODUCT,
            {"lost": said},
            base=many,
            injected="yes",
            at="2026-11-18 21:00",
            drug="chorionic gonadotropin",
            strength=strength,
            water=words(water),
            drawn=words(drawn),
            barrel=BARREL,
        )
        leg = one_leg(found)
        assert leg.given is not None, [one.what for one in found.findings]
        ends = {counted(content, 1, water, drawn, lost, one) for one in part}
        assert (leg.given.least, leg.given.most) == (Units(min(ends)), Units(max(ends)))


LEAKS = (
    ("none", 0, ((0, 1),)),
    ("a third to a half", 0, ((1, 3), (1, 2))),
    ("10 %", 0, ((1, 10),)),
    ("all", 0, ((1, 1),)),
    ("0.05 mL", 50, ((0, 1),)),
)


def words(drops: int) -> str:
    return str(volume(drops))
