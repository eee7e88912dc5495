"""Missteps a second way: a few vials and barrels played through with plain fractions, and laws that hold for every draw.

The play below knows vials, water and printed lines; it shares no step with the program. Figures it uses:
the lines of each barrel are the formulary's, as inputs; 0.05 mL in the hub of a changed needle (dead space measured with 21 G and
23 G needles); 0.05 mL for a bubble (common practice, no source); the error of a 3 mL barrel (ISO 7886-1, from memory). All doses
that are expected are derived.
"""

import random
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hourmark.dose import (
    Around,
    Between,
    Drawn,
    Given,
    How,
    Misstep,
    OtherMedicine,
    Spray,
    Syringe,
    Vial,
    WentIn,
    dose_given,
    draw,
    exactly,
    missteps,
    mix,
    worst,
)
from hourmark.dose.missteps import CODES
from hourmark.formulary import Barrel, barrels
from hourmark.quantity import Concentration, Dose, Mass, Share, Units, Volume
from tests.laws.strategies import law

HUB = AIR = Fraction(5, 100)
BARRELS = tuple(sorted(barrels().values(), key=lambda barrel: barrel.id))
BY_ID = {barrel.id: barrel for barrel in BARRELS}
MIXING = BY_ID["mL-3-0.1"]
CONTENTS = [Fraction(number) for number in (250, 1000, 1500, 2000, 5000, 10_000)]
LEUPROLIDE = Concentration(Mass(Fraction(5000), "mg"))


def units(number: int | Fraction) -> Units:
    return Units(Fraction(number))


def mg(text: str) -> Mass:
    return Mass(Fraction(text) * 1000, "mg")


def ml(text: str) -> Volume:
    return Volume(Fraction(text))


# The play


@dataclass
class Table:
    """Vials that stand open: what of the drug is in a millilitre, and how much liquid there is (None: not known, enough)."""

    per_ml: Fraction
    liquid: Fraction | None

    def pull(self, lines: Sequence[Fraction], barrel: Fraction | None = None) -> Fraction:
        """What comes into the syringes when one after the other is pulled to its line; a barrel and a vial both end."""
        left, pulled = self.liquid, Fraction(0)
        for line in lines:
            volume = line if barrel is None else min(line, barrel)
            if left is not None:
                volume = min(volume, left)
                left -= volume
            pulled += volume
        return pulled

    def give(self, lines: Sequence[Fraction], barrel: Fraction | None = None, lost: Fraction = Fraction(0)) -> Fraction:
        return self.per_ml * max(Fraction(0), self.pull(lines, barrel) - lost)


def pour(content: Fraction, water: Fraction, vials: int) -> Table:
    return Table(content / water, water * vials)


def printed(spacing: Fraction, capacity: Fraction) -> list[Fraction]:
    """Nothing, then every printed line up to the end of the barrel."""
    lines = [Fraction(0)]
    while lines[-1] + spacing <= capacity:
        lines.append(lines[-1] + spacing)
    return lines


def line_above(at: Fraction, spacing: Fraction, capacity: Fraction) -> Fraction:
    return next((line for line in printed(spacing, capacity) if line > at), capacity)


def line_below(at: Fraction, spacing: Fraction, capacity: Fraction) -> Fraction:
    return max(line for line in printed(spacing, capacity) if line < at)


def error_of_the_mixing_barrel(at: Fraction) -> Fraction:
    """ISO 7886-1, from memory: below half of 3 mL 1.5 % of 3 mL and 2 % of the volume, from there 5 % of the volume."""
    return Fraction(45, 1000) + at * Fraction(2, 100) if at < Fraction(3, 2) else at * Fraction(5, 100)


def played(dose: Dose, vial: Vial, drawn: Drawn, around: Around) -> dict[str, list[Fraction] | None]:
    """By code: every dose that this mistake gives, or None where it cannot happen or is not known."""
    fills = [fill.volume.value for fill in drawn.fills if fill.volume is not None]
    barrel = BY_ID[drawn.fills[0].device]
    capacity = barrel.capacity.value
    whole = any(fill.how is How.ALL for fill in drawn.fills)
    vials = drawn.vials or 1
    content = vial.content.value if vial.content is not None else None
    water = vial.holds.value if vial.holds is not None else None
    table = Table(vial.concentration.per_ml.value, water * vials if water is not None else None)
    happened: dict[str, list[Fraction] | None] = dict.fromkeys(CODES)
    if content is not None:
        happened["water-only"] = [Fraction(0)]
        if around.supplied is not None:
            poured = pour(content, around.supplied.value, vials)
            happened["all-water"] = [poured.give([capacity] * len(fills) if whole else fills, capacity)]
        if around.other_contents and water is not None:
            happened["other-vial"] = [pour(other.value, water, vials).give(fills) for other in around.other_contents]
    if around.others:
        happened["other-medicine"] = [Fraction(0)] * len(around.others)
    if not around.needle_fixed:
        happened["needle-after"] = [table.give(fills, lost=HUB)]
    if whole:
        return happened
    if table.liquid is not None:
        happened["whole"] = [table.per_ml * table.liquid]
    happened["ten-more"] = [table.give([at * 10 for at in fills], capacity)]
    happened["ten-less"] = [table.give([at / 10 for at in fills], capacity)]
    unit = barrel if barrel.id.startswith("u100-") else around.unit_barrel
    if unit is not None:
        number = Fraction(str(dose).split()[0].replace(",", ""))
        happened["marks-for-units"] = [table.give([number / 100], unit.capacity.value)]
    for code, spacing in (("next-number", barrel.numbered.value), ("next-line", barrel.step.value)):
        happened[code] = [
            table.give([line_above(at, spacing, capacity) for at in fills], capacity),
            table.give([line_below(at, spacing, capacity) for at in fills], capacity),
        ]
    if around.others and any(other.volumes for other in around.others):
        happened["swapped"] = [
            table.give([volume.value for volume in other.volumes], capacity) for other in around.others if other.volumes
        ]
    if barrel != MIXING and max(fills) <= MIXING.capacity.value:
        errors = [error_of_the_mixing_barrel(at) for at in fills]
        happened["mixing-barrel"] = [
            table.give([at + error for at, error in zip(fills, errors, strict=True)]),
            table.give([max(Fraction(0), sum(fills, Fraction(0)) - sum(errors, Fraction(0)))]),
        ]
    happened["bubble"] = [table.give(fills, lost=AIR)]
    return happened


def check_against_the_play(dose: Dose, vial: Vial, drawn: Drawn, around: Around) -> Counter[str]:
    found, left_out = missteps(dose, vial, drawn, around)
    happened = played(dose, vial, drawn, around)
    counted: Counter[str] = Counter()
    for code in CODES:
        doses = happened[code]
        expected = sorted(one for one in doses if one != dose.value) if doses is not None else []
        assert sorted(one.given.value for one in found if one.code == code) == expected, (code, dose, vial, drawn.fills)
        silent = 1 if doses is None else len(doses) - len(expected)
        assert len([one for one in left_out if one.code == code]) == silent, (code, dose, vial)
        counted[code] += len(expected)
    for one in found:
        assert one.share.value == one.given.value / dose.value
        assert type(one.given) is type(dose)
        assert one.how
    return counted


def vials_for(dose: Dose, vial: Vial) -> int:
    if vial.holds is None:
        return 1
    in_one = vial.concentration.per_ml.value * vial.holds.value
    return -(-dose.value // in_one)


OTHERS: tuple[tuple[OtherMedicine, ...] | None, ...] = (
    None,
    (),
    (OtherMedicine("leuprolide acetate", (ml("0.8"),), Vial(LEUPROLIDE)),),
    (
        OtherMedicine("leuprolide acetate", (ml("0.5"), ml("0.3")), Vial(LEUPROLIDE)),
        OtherMedicine("triptorelin acetate", (), Syringe("triptorelin-100mcg-syringe", mg("0.1"), ml("1"))),
    ),
)


def tries(seed: int, count: int) -> Iterator[tuple[Dose, Vial, Barrel, Around]]:
    """Vials, waters, doses, barrels and what lies beside, the same on every run."""
    chance = random.Random(seed)
    for _ in range(count):
        barrel = chance.choice(BARRELS)
        lines = Volume(barrel.step.value * chance.randint(1, int(barrel.capacity.value / barrel.step.value)))
        vial = (
            Vial(LEUPROLIDE, chance.choice([None, ml("2.8")]))
            if chance.random() < 0.3
            else mix(units(chance.choice(CONTENTS)), ml(chance.choice(["1", "2", "3", "5", "10"])))
        )
        dose = vial.concentration.dose_in(lines)
        if vial.content is not None and chance.random() < 0.25:
            dose = vial.content * chance.choice([1, 1, 2])
        if isinstance(dose, Mass) and chance.random() < 0.5:
            dose = Mass(dose.value, "mcg")
        if str(dose).startswith("about"):
            continue  # no order is written so
        yield (
            dose,
            vial,
            barrel,
            Around(
                supplied=chance.choice([None, ml("1"), ml("2"), ml("10")]),
                other_contents=chance.choice(
                    [None, (), tuple(units(one) for one in CONTENTS if units(one) != vial.content)]
                ),
                unit_barrel=chance.choice([None, BY_ID["u100-1mL-1"], BY_ID["u100-0.3mL-0.5"]]),
                needle_fixed=chance.random() < 0.4,
                others=chance.choice(OTHERS),
            ),
        )


@pytest.mark.parametrize("seed", range(3))
def test_every_misstep_against_the_play(seed: int) -> None:
    counted: Counter[str] = Counter()
    drawn_up = 0
    for dose, vial, barrel, around in tries(seed, 800):
        drawn = draw(dose, vial, [barrel], vials=vials_for(dose, vial))
        if drawn.stopped:
            found, left_out = missteps(dose, vial, drawn, around)
            assert found == ()
            assert [one.code for one in left_out] == list(CODES)
            continue
        drawn_up += 1
        counted += check_against_the_play(dose, vial, drawn, around)
    assert drawn_up > 500
    assert all(counted[code] > 25 for code in CODES), counted


# Laws


@st.composite
def arounds(draw_: st.DrawFn) -> Around:
    """What may lie beside a draw."""
    volumes = st.lists(st.integers(1, 300).map(lambda hundredths: Volume(Fraction(hundredths, 100))), max_size=3)
    others = [
        OtherMedicine(f"medicine {place}", tuple(draw_(volumes)), Vial(LEUPROLIDE))
        for place in range(draw_(st.integers(0, 2)))
    ]
    if others and not any(other.volumes for other in others):
        others[0] = replace(others[0], volumes=(ml("0.2"),))
    return Around(
        supplied=draw_(st.sampled_from([None, ml("1"), ml("2"), ml("10")])),
        other_contents=draw_(st.sampled_from([None, (), (units(5000),), (units(10_000), units(250))])),
        unit_barrel=draw_(st.sampled_from([None, BY_ID["u100-0.5mL-1"], BY_ID["u100-1mL-2"]])),
        needle_fixed=draw_(st.booleans()),
        others=draw_(st.sampled_from([None, tuple(others)])),
    )


@dataclass(frozen=True)
class Scene:
    dose: Dose
    vial: Vial
    barrel: Barrel
    drawn: Drawn
    around: Around


@st.composite
def scenes(draw_: st.DrawFn) -> Scene:
    """A dose that lands on a line, drawn with one kind of barrel, over one or several fills and vials."""
    barrel = draw_(st.sampled_from(BARRELS))
    if draw_(st.booleans()):
        vial = Vial(LEUPROLIDE, draw_(st.sampled_from([None, ml("2.8"), ml("5.5")])))
    else:
        water = Fraction(draw_(st.sampled_from(["0.5", "1", "2", "3", "10"])))
        vial = mix(units(draw_(st.sampled_from(CONTENTS))), Volume(water))
    lines = draw_(st.integers(1, 3 * int(barrel.capacity.value / barrel.step.value)))
    dose = vial.concentration.dose_in(Volume(barrel.step.value * lines))
    if vial.content is not None and draw_(st.booleans()):
        dose = vial.content * draw_(st.integers(1, 3))
    drawn = draw(dose, vial, [barrel], vials=vials_for(dose, vial))
    return Scene(dose, vial, barrel, drawn, draw_(arounds()))


@law(200)
@given(scenes())
def test_too_much_and_too_little_are_never_mixed_up_and_the_worst_comes_first(scene: Scene) -> None:
    found, _ = missteps(scene.dose, scene.vial, scene.drawn, scene.around)
    for one in found:
        assert one.given != scene.dose
        assert (one.way == "too much") == (one.share.value > 1) == (one.given.value > scene.dose.value)
        assert one.share.value >= 0
    much = [one.share.value for one in found if one.way == "too much"]
    little = [one.share.value for one in found if one.way == "too little"]
    assert [one.share.value for one in found] == sorted(much, reverse=True) + sorted(little)
    for way, shares, pick in (("too much", much, max), ("too little", little, min)):
        first = worst(found, "too much" if way == "too much" else "too little")
        assert (first is None) == (not shares)
        assert first is None or first.share.value == pick(shares)


@law(200)
@given(scenes())
def test_nothing_beyond_what_barrel_and_vial_hold(scene: Scene) -> None:
    found, _ = missteps(scene.dose, scene.vial, scene.drawn, scene.around)
    per_ml, vials, fills = scene.vial.concentration.per_ml.value, scene.drawn.vials or 1, len(scene.drawn.fills)
    in_vials = per_ml * scene.vial.holds.value * vials if scene.vial.holds is not None else None
    in_barrels = per_ml * scene.barrel.capacity.value * fills
    for one in found:
        if one.code == "other-vial":
            assert scene.around.other_contents
            assert one.given.value <= max(other.value for other in scene.around.other_contents) * vials
            continue
        assert in_vials is None or one.given.value <= in_vials
        if one.code in ("ten-more", "ten-less", "next-number", "next-line", "needle-after", "bubble"):
            assert one.given.value <= in_barrels
        if one.code == "whole":
            assert one.given.value == in_vials


@law(200)
@given(scenes())
def test_every_code_is_found_or_left_out_with_its_reason(scene: Scene) -> None:
    found, left_out = missteps(scene.dose, scene.vial, scene.drawn, scene.around)
    assert {one.code for one in found} | {one.code for one in left_out} == set(CODES)
    assert all(one.why for one in left_out)
    both = {one.code for one in found} & {one.code for one in left_out}
    assert all(one.why.endswith(": the same dose") for one in left_out if one.code in both)


@law(200)
@given(scenes())
def test_a_fixed_needle_is_never_changed(scene: Scene) -> None:
    fixed, loose = (replace(scene.around, needle_fixed=fixed) for fixed in (True, False))
    with_fixed, out = missteps(scene.dose, scene.vial, scene.drawn, fixed)
    with_loose, _ = missteps(scene.dose, scene.vial, scene.drawn, loose)
    assert "needle-after" not in {one.code for one in with_fixed}
    assert "needle-after" in {one.code for one in out}
    assert scene.drawn.stopped or "needle-after" in {one.code for one in with_loose}
    assert [one for one in with_loose if one.code != "needle-after"] == list(with_fixed)


@law(50)
@given(arounds(), st.integers(1, 3))
def test_a_device_that_is_given_whole_has_none(around: Around, count: int) -> None:
    syringe = Syringe("triptorelin-100mcg-syringe", mg("0.1"), ml("1"))
    spray = Spray("nafarelin-200mcg-spray", Mass(Fraction(200), "mcg"))
    for source in (syringe, spray):
        dose = source.content * count
        found, left_out = missteps(dose, source, draw(dose, source), around)
        assert found == ()
        assert [one.code for one in left_out] == list(CODES)


def test_a_swap_with_a_prefilled_syringe_is_left_out_with_its_reason() -> None:
    other = OtherMedicine("choriogonadotropin alfa", (), Syringe("s", Mass(Fraction(250), "mcg"), ml("0.5")))
    vial = Vial(LEUPROLIDE, ml("2.8"))
    drawn = draw(mg("4"), vial, [BY_ID["u100-1mL-1"]])
    found, left_out = missteps(mg("4"), vial, drawn, Around(others=(other,)))
    assert "swapped" in {one.code for one in found} | {one.code for one in left_out}


# Fixed values, all derived


def shares(found: Sequence[Misstep], code: str) -> list[str]:
    return [str(one.share) for one in found if one.code == code]


def both_medicines(barrel_id: str) -> tuple[tuple[Misstep, ...], tuple[Misstep, ...]]:
    """Leuprolide 4 mg from 5 mg/mL, and 1,000 units of a 10,000 unit vial in 2 mL, each with the other beside it.

    4 mg is the most in practice (from memory), 2 mL is common practice without a source; the shares are derived.
    """
    barrel = BY_ID[barrel_id]
    agonist, hcg = Vial(LEUPROLIDE, ml("2.8")), mix(units(10_000), ml("2"))
    doses = mg("4"), units(1000)
    drawn = draw(doses[0], agonist, [barrel]), draw(doses[1], hcg, [barrel])
    volumes = [tuple(fill.volume for fill in one.fills if fill.volume is not None) for one in drawn]
    assert volumes == [(ml("0.8"),), (ml("0.2"),)]
    around = Around(
        supplied=ml("10"),
        other_contents=(units(5000),),
        unit_barrel=BY_ID["u100-1mL-1"],
        needle_fixed=barrel.needle_fixed,
    )
    beside_agonist = replace(around, others=(OtherMedicine("chorionic gonadotropin", volumes[1], hcg),))
    beside_hcg = replace(around, others=(OtherMedicine("leuprolide acetate", volumes[0], agonist),))
    return (
        missteps(doses[0], agonist, drawn[0], beside_agonist)[0],
        missteps(doses[1], hcg, drawn[1], beside_hcg)[0],
    )


def test_two_medicines_on_one_table() -> None:
    agonist, hcg = both_medicines("u100-1mL-1")
    assert shares(hcg, "whole") == ["1,000 %"]
    assert shares(hcg, "all-water") == ["20 %"]
    assert shares(hcg, "swapped") == ["400 %"]
    assert shares(agonist, "swapped") == ["25 %"]
    assert shares(hcg, "bubble") == ["75 %"]
    assert shares(hcg, "needle-after") == []
    assert shares(hcg, "other-vial") == ["50 %"]
    assert shares(hcg, "other-medicine") == shares(hcg, "water-only") == ["0 %"]
    assert shares(agonist, "whole") == ["350 %"]  # 2.8 mL of 5 mg/mL is 14 mg
    first = worst(hcg, "too much")
    assert first is not None
    assert (first.code, first.given) == ("whole", units(10_000))


def test_a_needle_changed_after_the_mark_was_set() -> None:
    agonist, hcg = both_medicines("mL-1-0.01")
    assert shares(hcg, "needle-after") == shares(hcg, "bubble") == ["75 %"]
    assert shares(agonist, "needle-after") == ["93.8 %"]  # 0.75 of 0.8 mL
    assert shares(hcg, "marks-for-units") == ["500 %"]  # as far as a 1 mL unit syringe goes: 5,000 units


@pytest.mark.parametrize(
    ("content", "water", "drawn", "gives"),
    [
        (10_000, "1", "0.05", 500),  # five marks of a 1 mL mix
        (10_000, "10", "0.05", 50),  # five marks of a 10 mL mix, ten times less
        (10_000, "1", "0.084", 840),
        (5_000, "1", "0.15", 750),
        (10_000, "1", "0.3", 3_000),
        (10_000, "2", "0.2", 1_000),
        (10_000, "1", "1.2", 10_000),  # no more than there is
        (10_000, "0", "0.2", 0),  # nothing dissolved
    ],
)
def test_what_a_powder_gives(content: int, water: str, drawn: str, gives: int) -> None:
    found = dose_given(WentIn(exactly(ml(drawn)), content=units(content), water=exactly(ml(water))))
    assert found.exact
    assert found.least == units(gives)


@pytest.mark.parametrize(
    ("per_ml", "marks", "gives", "ordered", "share"),
    [
        ("0.4", 80, "0.32", "4", "8 %"),  # a dilution read as 5 mg/mL
        ("0.5", 80, "0.4", "4", "10 %"),
        ("0.2", 20, "0.04", "1", "4 %"),
        ("5", 80, "4", "4", "100 %"),
    ],
)
def test_what_a_solution_gives(per_ml: str, marks: int, gives: str, ordered: str, share: str) -> None:
    went_in = WentIn(exactly(Volume(Fraction(marks, 100))), concentration=Concentration(mg(per_ml)))
    found = dose_given(went_in)
    assert found == Given(mg(gives), mg(gives))
    assert str(Share(found.least.value / mg(ordered).value)) == share


@pytest.mark.parametrize(
    ("content", "other", "mark", "gives", "share"),
    [(10_000, 5_000, "0.15", 750, "50 %"), (5_000, 10_000, "0.3", 3_000, "200 %")],
)
def test_the_other_vial_at_the_same_mark(content: int, other: int, mark: str, gives: int, share: str) -> None:
    vial = mix(units(content), ml("1"))
    drawn = draw(units(1500), vial, [BY_ID["mL-1-0.01"]])
    assert [fill.volume for fill in drawn.fills] == [ml(mark)]
    found, _ = missteps(units(1500), vial, drawn, Around(other_contents=(units(other),)))
    (one,) = [one for one in found if one.code == "other-vial"]
    assert (one.given, str(one.share)) == (units(gives), share)


# What went in, as a range


def inside(between: Between, steps: int = 4) -> list[Fraction]:
    """Both ends and some values between them."""
    low, high = between.least.value, between.most.value
    return sorted({low + (high - low) * Fraction(step, steps) for step in range(steps + 1)})


def went(content: Fraction, water: Fraction, drawn: Fraction, lost: Fraction, vials: int) -> Fraction:
    if water == 0:
        return Fraction(0)
    return pour(content, water, vials).give([drawn], lost=lost)


def every_dose(what: WentIn) -> list[Fraction]:
    """The dose at every corner and between; and where the syringe is pulled just to the last drop, if that lies between."""
    if what.content is None or what.water is None:
        assert what.concentration is not None
        held = what.holds.value * what.vials if what.holds is not None else None
        table = Table(what.concentration.per_ml.value, held)
        return [table.give([at], lost=lost) for at, lost in product(inside(what.drawn), inside(what.lost))]
    waters = set(inside(what.water))
    for at in inside(what.drawn):
        if what.water.least.value <= at / what.vials <= what.water.most.value:
            waters.add(at / what.vials)
    return [
        went(what.content.value, water, at, lost, what.vials)
        for water, at, lost in product(sorted(waters), inside(what.drawn), inside(what.lost))
    ]


def check_range(what: WentIn) -> None:
    found = dose_given(what)
    doses = every_dose(what)
    assert (found.least.value, found.most.value) == (min(doses), max(doses)), what
    assert found.exact == (len(set(doses)) == 1)


@st.composite
def ranges(draw_: st.DrawFn, least: int = 0, most: int = 300) -> Between:
    ends = sorted(draw_(st.tuples(st.integers(least, most), st.integers(least, most))))
    return Between(*(Volume(Fraction(end, 100)) for end in ends))


@law(200)
@given(ranges(1), ranges(0, 60), st.sampled_from([None, "0.5", "2.8"]), st.integers(1, 3))
def test_a_range_of_a_solution_against_every_corner(
    drawn: Between, lost: Between, holds: str | None, vials: int
) -> None:
    check_range(
        WentIn(drawn, concentration=LEUPROLIDE, holds=ml(holds) if holds else None, lost=lost, vials=vials),
    )


@law(200)
@given(ranges(1), ranges(1, 1000), st.sampled_from(CONTENTS), st.integers(1, 3))
def test_a_range_of_a_powder_with_nothing_lost_against_every_corner(
    drawn: Between, water: Between, content: Fraction, vials: int
) -> None:
    check_range(WentIn(drawn, content=units(content), water=water, vials=vials))


@law(200)
@given(ranges(1), ranges(0, 400), ranges(0, 60), st.sampled_from(CONTENTS), st.integers(1, 3))
def test_a_range_of_a_powder_drawn_from_more_than_enough_against_every_corner(
    drawn: Between, more: Between, lost: Between, content: Fraction, vials: int
) -> None:
    enough = Volume(drawn.most.value / vials)
    water = Between(more.least + enough, more.most + enough)
    check_range(WentIn(drawn, content=units(content), water=water, lost=lost, vials=vials))


def test_a_range_of_a_vial_drawn_empty_with_some_lost() -> None:
    lost = exactly(ml("0.5"))
    what = WentIn(exactly(ml("2")), content=units(10_000), water=Between(ml("1"), ml("2")), lost=lost)
    assert (went(Fraction(10_000), Fraction(1), Fraction(2), Fraction(1, 2), 1)) == 5_000
    assert (went(Fraction(10_000), Fraction(2), Fraction(2), Fraction(1, 2), 1)) == 7_500
    check_range(what)


def test_a_range_whose_most_lies_between_its_ends() -> None:
    lost = exactly(ml("0.5"))
    check_range(WentIn(exactly(ml("2")), content=units(10_000), water=Between(ml("1"), ml("3")), lost=lost))


def test_a_range_that_begins_with_no_water_at_all() -> None:
    what = WentIn(exactly(ml("1")), content=units(10_000), water=Between(ml("0"), ml("2")))
    found = dose_given(what)
    assert found.least == units(0)
    assert found.most == units(10_000)  # with 1 mL or less of water everything goes in
