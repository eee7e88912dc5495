"""Marks a second way: every line of every barrel and every way to share a volume over up to ten fills, searched in full.

No outside library; the search below knows the printed lines only and shares no step with the program's division.
"""

import random
import re
from fractions import Fraction
from functools import cache
from itertools import combinations_with_replacement

import pytest

from hourmark.dose import Drawn, How, Vial, draw
from hourmark.formulary import Barrel, barrels
from hourmark.quantity import Concentration, Units, Volume

MOST = 10
UNIT = Fraction(1, 200)  # every printed line of every barrel is a whole number of these; asserted below
BARRELS = tuple(sorted(barrels().values(), key=lambda barrel: barrel.id))
PER_ML = Fraction(1000)
VIAL = Vial(Concentration(Units(PER_ML)))


def lines_of(barrel: Barrel) -> list[int]:
    """Every printed line in units of 0.005 mL, counted up from the first to the capacity."""
    lines, at = [], barrel.step.value
    while at <= barrel.capacity.value:
        lines.append(at / UNIT)
        at += barrel.step.value
    assert all(line.denominator == 1 for line in lines)
    return [int(line) for line in lines]


@cache
def fewest(barrel_id: str) -> dict[int, tuple[int, ...]]:
    """By total: the fewest lines that add up to it and, of these, the most equal ones (least sum of squares), larger first.

    One more fill at a time; for each total every line is tried as the last fill, so that every split is considered.
    """
    lines = lines_of(barrels()[barrel_id])
    found: dict[int, tuple[int, ...]] = {}
    layer: dict[int, tuple[int, tuple[int, ...]]] = {0: (0, ())}
    for _ in range(MOST):
        following: dict[int, tuple[int, tuple[int, ...]]] = {}
        for sum_so_far, (squares, fills) in layer.items():
            for line in lines:
                total = sum_so_far + line
                known = following.get(total)
                if known is None or squares + line * line < known[0]:
                    following[total] = (squares + line * line, (*fills, line))
        for total, (_, fills) in following.items():
            if total not in found:
                found[total] = tuple(sorted(fills, reverse=True))
        layer = following
    return found


@pytest.mark.parametrize("barrel", [barrel for barrel in BARRELS if barrel.capacity.value / barrel.step.value <= 30])
def test_the_search_itself_against_all_combinations(barrel: Barrel) -> None:
    for fills in range(1, 4):
        best: dict[int, tuple[int, ...]] = {}
        for chosen in combinations_with_replacement(sorted(lines_of(barrel), reverse=True), fills):
            known = best.get(sum(chosen))
            if known is None or chosen[0] - chosen[-1] < known[0] - known[-1]:
                best[sum(chosen)] = chosen
        for total, chosen in best.items():
            if len(fewest(barrel.id)[total]) == fills:
                assert fewest(barrel.id)[total] == chosen


def preferred(total: int, at_hand: list[Barrel]) -> tuple[Barrel, tuple[int, ...]] | None:
    """Fewest fills; then below capacity before full; then smaller capacity, finer step, mL scale before U-100."""
    ways = [(barrel, fewest(barrel.id)[total]) for barrel in at_hand if total in fewest(barrel.id)]
    if not ways:
        return None
    few = min(len(fills) for _, fills in ways)
    ways = [way for way in ways if len(way[1]) == few]
    roomy = [way for way in ways if all(fill * UNIT < way[0].capacity.value for fill in way[1])]
    ways = roomy or ways
    smallest = min(barrel.capacity for barrel, _ in ways)
    ways = [way for way in ways if way[0].capacity == smallest]
    finest = min(barrel.step for barrel, _ in ways)
    ways = [way for way in ways if way[0].step == finest]
    ways = [way for way in ways if not way[0].id.startswith("u100")] or ways
    assert len(ways) == 1
    return ways[0]


def grid() -> list[Fraction]:
    """Volumes from 0.005 mL to 3 mL by every 0.005 mL, further ones to 110 mL, and some between all lines."""
    chance = random.Random(7886)
    small = [UNIT * count for count in range(1, 601)]
    large = [UNIT * chance.randrange(600, 22_000) for _ in range(250)]
    tenths = [Fraction(count, 10) for count in range(30, 1100, 7)]
    odd = [Fraction(chance.randrange(1, 30_000), 10_000) for _ in range(100)] + [Fraction(1, 3), Fraction(2, 7)]
    return small + large + tenths + odd


def check(volume: Fraction, at_hand: list[Barrel]) -> None:
    drawn = draw(Units(volume * PER_ML), VIAL, at_hand)
    assert drawn.volume == Volume(volume)
    total = volume / UNIT
    way = preferred(int(total), at_hand) if total.denominator == 1 else None
    if way is not None:
        barrel, fills = way
        assert not drawn.stopped, drawn.findings
        assert [fill.device for fill in drawn.fills] == [barrel.id] * len(fills)
        assert [fill.volume for fill in drawn.fills] == [Volume(fill * UNIT) for fill in fills]
        per_ml = 100 if barrel.id.startswith("u100") else 1
        assert [fill.mark.value if fill.mark else None for fill in drawn.fills] == [
            fill * UNIT * per_ml for fill in fills
        ]
        assert {fill.how for fill in drawn.fills} == {How.MARK}
        full = any(fill * UNIT == barrel.capacity.value for fill in fills)
        codes = [finding.code for finding in drawn.findings]
        assert ("barrel-full" in codes, "fills-many" in codes) == (full, len(fills) > 2)
        return
    assert drawn.stopped
    assert drawn.fills == ()
    if any((volume / barrel.step.value).denominator == 1 for barrel in at_hand):
        assert [finding.code for finding in drawn.findings] == ["fills-too-many"]
        return
    assert [finding.code for finding in drawn.findings] == ["mark-between"]
    check_neighbours(volume, at_hand, drawn)


SIDE = re.compile(
    r"(?:mark (?P<mark>[\d.,]+) \((?P<in_ml>[\d.,]+) mL\)|(?P<ml>[\d.,]+) mL)(?P<several> over several fills)?"
    r" = (?P<units>[\d.,]+) units? \((?P<off>[+-]?[\d.,]+) %\)"
)


def check_neighbours(volume: Fraction, at_hand: list[Barrel], drawn: Drawn) -> None:
    """Both lines beside the volume with their doses and signed percents, on the finest barrel, one that holds it if there is one."""
    (finding,) = drawn.findings
    shown = next(barrel for barrel in at_hand if f"({barrel.id}): " in finding.what)
    holding = [barrel for barrel in at_hand if volume <= barrel.capacity.value] or at_hand
    finest = min(barrel.step for barrel in holding)
    assert shown in holding
    assert shown.step == finest
    assert shown.capacity == min(barrel.capacity for barrel in holding if barrel.step == finest)
    sides = list(SIDE.finditer(finding.what.partition(f"({shown.id}): ")[2]))
    assert len(sides) == 2, finding.what
    below = above = Fraction(0)
    while above < volume:
        below, above = above, above + shown.step.value
    assert below < volume < above
    for match, line in zip(sides, (below, above), strict=True):
        # A line past the last printed one cannot be drawn to, and is not shown as if it could.
        assert (match["several"] is not None) == (volume > shown.capacity.value)
        assert match["several"] or line <= shown.capacity.value
        assert Fraction((match["ml"] or match["in_ml"]).replace(",", "")) == line
        assert (match["mark"] is not None) == (shown.on_u100 and not match["several"])
        if match["mark"]:
            assert Fraction(match["mark"].replace(",", "")) == line * 100
        assert Fraction(match["units"].replace(",", "")) == line * PER_ML
        off, percent = Fraction(match["off"].replace(",", "")), (line / volume - 1) * 100
        assert abs(off - percent) <= Fraction(1, 20)
        assert match["off"][0] in "+-" if off else match["off"] == "0"
        assert not off or (off > 0) == (line > volume)


@pytest.mark.parametrize("barrel", BARRELS, ids=lambda barrel: str(barrel.id))
def test_one_kind_of_barrel(barrel: Barrel) -> None:
    for volume in grid():
        check(volume, [barrel])


@pytest.mark.parametrize("seed", range(8))
def test_several_kinds_of_barrel(seed: int) -> None:
    chance = random.Random(seed)
    for volume in grid():
        check(volume, chance.sample(BARRELS, chance.randrange(2, len(BARRELS) + 1)))


def test_all_kinds_of_barrel() -> None:
    for volume in grid():
        check(volume, list(BARRELS))
