"""Amounts a second way: by `pint` with an international unit defined for it, and by `decimal` of the standard library."""

import random
from decimal import ROUND_HALF_UP, Context, Decimal
from fractions import Fraction
from typing import Any

import pint
import pytest

from hourmark.dose import Vial, draw, lands_on_line, mix
from hourmark.finding import Level
from hourmark.formulary import barrels, tolerance
from hourmark.quantity import Dose, Mass, Share, Units, Volume, number_text

SEEDS = range(16)
DRAWS_A_SEED = 40

TOLERANCES = (
    # ISO 7886-1, table 1: nominal capacity V from; share of V and of the volume below V/2; share of the volume from V/2.
    (Decimal(5), Decimal("0.015"), Decimal("0.01"), Decimal("0.04")),
    (Decimal(0), Decimal("0.015"), Decimal("0.02"), Decimal("0.05")),
)


def registry() -> Any:
    """Pint, counting in fractions, with international units as a dimension of their own (UCUM 2.2: they convert to nothing)."""
    made: Any = pint.UnitRegistry(non_int_type=Fraction)
    made.define("international_unit = [international_units]")
    return made


PINT = registry()


def in_pint(amount: Dose | Volume) -> Any:
    """The amount in pint, through its printed words and not through its value."""
    number, unit = str(amount).replace(",", "").split(" ")
    name = {"units": "international_unit", "unit": "international_unit", "mcg": "microgram", "mg": "mg", "mL": "mL"}
    return Fraction(number) * PINT(name[unit])


def as_decimal(value: Fraction) -> Decimal:
    return Context(prec=60).divide(Decimal(value.numerator), Decimal(value.denominator))


def contents(chance: random.Random) -> tuple[Dose, Volume]:
    """A content and a diluent volume, some of them as on labels and some not."""
    content: Dose
    if chance.random() < 0.5:
        content = Units(Fraction(chance.choice([250, 1000, 1500, 2000, 5000, 10000, chance.randrange(1, 20000)])))
    elif chance.random() < 0.5:
        content = Mass(Fraction(chance.choice([100, 250, 3500, 5000, chance.randrange(1, 9000)])), "mcg")
    else:
        content = Mass(Fraction(chance.choice([250, 1500, 5000, 10 * chance.randrange(1, 900)])), "mg")
    return content, Volume(Fraction(chance.choice(["1", "2", "3", "4", "5", "10", "0.5", "1.5"])))


def doses_of(content: Dose, diluent: Volume, chance: random.Random) -> Dose:
    """A dose that lands on a line of some barrel, or any part of the content."""
    if chance.random() < 0.7:
        step = chance.choice([Fraction(1, 200), Fraction(1, 100), Fraction(1, 50), Fraction(1, 10), Fraction(1, 5)])
        most = int(diluent.value / step)
        return content * (step * chance.randrange(1, most + 1) / diluent.value)
    return content * Fraction(chance.randrange(1, 400), 400)


def permitted_error(capacity: Decimal, volume: Decimal) -> Decimal:
    _, fixed, small, large = next(row for row in TOLERANCES if capacity >= row[0])
    return fixed * capacity + small * volume if volume < capacity / 2 else large * volume


@pytest.mark.parametrize("seed", SEEDS)
def test_draws_agree_with_pint_and_decimal(seed: int) -> None:
    chance = random.Random(seed)
    landed = 0
    for _ in range(DRAWS_A_SEED):
        content, diluent = contents(chance)
        dose = doses_of(content, diluent, chance)
        if number_text(dose.value).startswith("about") or " about" in str(dose):
            continue
        at_hand = chance.sample(sorted(barrels().values(), key=lambda barrel: barrel.id), chance.randrange(1, 5))
        drawn = draw(dose, mix(content, diluent), at_hand)
        # The volume: dose x diluent / content, with pint keeping the units.
        volume = (in_pint(dose) * in_pint(diluent) / in_pint(content)).to("mL").magnitude
        assert drawn.volume == Volume(volume)
        by_decimal = Decimal(str(dose.value.numerator)) / Decimal(str(dose.value.denominator))
        by_decimal = by_decimal * as_decimal(diluent.value) / as_decimal(content.value)
        assert drawn.volume is not None
        assert abs(as_decimal(drawn.volume.value) - by_decimal) < Decimal("1e-18")
        if drawn.stopped:
            assert drawn.given is None
            assert drawn.fills == ()
            continue
        landed += 1
        assert drawn.given is not None
        given = sum((in_pint(fill.volume) for fill in drawn.fills if fill.volume), 0 * PINT.mL)
        given = given * in_pint(content) / in_pint(diluent)
        unit = "international_unit" if isinstance(dose, Units) else "microgram"
        assert drawn.given.value == given.to(unit).magnitude
        assert drawn.share is not None
        assert drawn.share.value == (given / in_pint(dose)).to("").magnitude
        assert drawn.left == Volume((in_pint(diluent) - volume * PINT.mL).to("mL").magnitude)
        if drawn.tolerance is None:
            assert divisible(dose, content)
            continue
        capacity = as_decimal(barrels()[drawn.fills[0].device].capacity.value)
        parts = [as_decimal(fill.volume.value) for fill in drawn.fills if fill.volume]
        error = sum((permitted_error(capacity, part) for part in parts), Decimal(0))
        assert as_decimal(drawn.tolerance[0].value) == error
        wrong = Fraction(error) * PINT.mL * in_pint(content) / in_pint(diluent)
        assert drawn.tolerance[1].value == wrong.to(unit).magnitude
        share = Fraction(error) / volume
        warned = {finding.level for finding in drawn.findings if finding.code.startswith("tolerance-")}
        expected = {Level.WARN} if share > Fraction(1, 5) else {Level.NOTE} if share > Fraction(1, 10) else set()
        assert warned == expected
    assert landed >= DRAWS_A_SEED // 8


def divisible(dose: Dose, content: Dose) -> bool:
    return (dose.value / content.value).denominator == 1


@pytest.mark.parametrize("barrel_id", sorted(barrels()))
def test_every_line_of_every_barrel_has_the_tolerance_of_the_standard(barrel_id: str) -> None:
    barrel = barrels()[barrel_id]
    capacity = as_decimal(barrel.capacity.value)
    for line in range(1, int(barrel.capacity.value / barrel.step.value) + 1):
        volume = barrel.step * line
        of_standard = permitted_error(capacity, as_decimal(volume.value))
        assert as_decimal(tolerance(barrel.capacity).of(barrel.capacity, volume).value) == of_standard


@pytest.mark.parametrize("seed", SEEDS)
def test_pint_finds_the_lines_a_volume_stands_on(seed: int) -> None:
    chance = random.Random(seed)
    for _ in range(DRAWS_A_SEED):
        content, diluent = contents(chance)
        dose = doses_of(content, diluent, chance)
        if "about" in str(dose):
            continue
        volume = (in_pint(dose) / (in_pint(content) / in_pint(diluent))).to("mL")
        steps = {barrel.id: (volume / in_pint(barrel.step)).to("").magnitude for barrel in barrels().values()}
        expected = [
            barrel.id
            for barrel in barrels().values()
            if steps[barrel.id].denominator == 1 and volume <= in_pint(barrel.capacity)
        ]
        found = lands_on_line(Volume(volume.magnitude), barrels().values())
        assert [barrel.id for barrel in found] == expected


def test_international_units_convert_to_no_mass() -> None:
    with pytest.raises(pint.DimensionalityError):
        in_pint(Units(Fraction(5000))).to("mg")
    drawn = draw(Mass(Fraction(250)), mix(Units(Fraction(5000)), Volume(Fraction(1))), list(barrels().values()))
    assert [finding.code for finding in drawn.findings] == ["dose-other-kind"]
    drawn = draw(Units(Fraction(5000)), Vial(mix(Mass(Fraction(250)), Volume(Fraction(1))).concentration))
    assert [finding.code for finding in drawn.findings] == ["dose-other-kind"]


def plain(value: Decimal) -> str:
    """Decimal's own formatting, with thousands, without zeros after the last digit."""
    text = f"{value:,f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


@pytest.mark.parametrize("seed", SEEDS)
def test_number_text_is_what_decimal_writes(seed: int) -> None:
    chance = random.Random(seed)
    for _ in range(400):
        places = chance.randrange(0, 13)
        exact = Decimal(chance.randrange(0, 10 ** chance.randrange(1, 16))).scaleb(-places)
        assert number_text(Fraction(exact)) == plain(exact)
        assert number_text(-Fraction(exact)) == ("-" + plain(exact) if exact else "0")


@pytest.mark.parametrize("seed", SEEDS)
def test_numbers_without_an_end_are_rounded_as_decimal_rounds(seed: int) -> None:
    """Half up: whole numbers from 1,000, three decimals below, four significant digits below 1."""
    chance = random.Random(seed)
    for _ in range(400):
        value = Fraction(chance.randrange(1, 10 ** chance.randrange(1, 9)), 10 ** chance.randrange(0, 7) * 3)
        value = value if value.denominator % 3 == 0 else value + Fraction(1, 3)
        long = as_decimal(value)
        if long < 1:
            rounded = Context(prec=4, rounding=ROUND_HALF_UP).plus(long)
        else:
            rounded = long.quantize(Decimal(1 if long >= 1000 else "0.001"), rounding=ROUND_HALF_UP)
        assert number_text(value) == f"about {plain(rounded)}"


@pytest.mark.parametrize("seed", SEEDS)
def test_percent_has_one_decimal_half_up(seed: int) -> None:
    chance = random.Random(seed)
    for _ in range(400):
        value = Fraction(chance.randrange(-3000, 3000), chance.choice([1000, 2000, 700, 3, 999]))
        percent = Context(prec=60).multiply(as_decimal(abs(value)), Decimal(100))
        text = plain(percent.quantize(Decimal("0.1"), rounding=ROUND_HALF_UP))
        sign = "-" if value < 0 and text != "0" else ""
        assert str(Share(value)) == f"{sign}{text} %"
        plus = "+" if value > 0 and text != "0" else ""
        assert Share(value).signed() == f"{sign or plus}{text} %"
