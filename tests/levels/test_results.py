"""Laboratory results: units as laboratories print them, converted exactly; everything else is refused with what to write."""

from fractions import Fraction
from typing import Any

import pint
import pytest

from hourmark.finding import Unreadable
from hourmark.levels import Analyte, Result, parse_result
from hourmark.levels.figures import limits

WEIGHTS = {"C": Fraction("12.011"), "H": Fraction("1.008"), "O": Fraction("15.999")}
"""Standard atomic weights, abridged (IUPAC 2021)."""


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("LH 9 IU/L", Fraction(9)),
        ("LH 9 mIU/mL", Fraction(9)),
        ("LH 9 units/L", Fraction(9)),
        ("LH 9 [IU]/L", Fraction(9)),
        ("LH 9 m[IU]/mL", Fraction(9)),
        ("hCG 1,200 IU/L", Fraction(1200)),
        ("HCG 0.9 mIU/mL", Fraction("0.9")),
        ("progesterone 1.10 ng/mL", Fraction("1.1")),
        ("progesterone 4.0 ug/L", Fraction(4)),
        ("progesterone 4 mcg/L", Fraction(4)),
        ("progesterone 15.9 nmol/L", Fraction(5)),
    ],
)
def test_units(text: str, value: Fraction) -> None:
    """A zero after the point is allowed in a result (Joint Commission do-not-use list, exception)."""
    found = parse_result(text)
    assert found.least == found.most == value
    assert found.exact
    assert found.entered == text


def test_units_a_second_way_by_pint() -> None:
    registry: Any = pint.UnitRegistry(non_int_type=Fraction)
    registry.define("international_unit = [activity] = IU")
    registry.define("mIU = 0.001 * IU")
    nine = registry.Quantity(Fraction(9), "mIU/mL").to("IU/L")
    assert parse_result("LH 9 mIU/mL").least == nine.magnitude
    four = registry.Quantity(Fraction(4), "microgram/L").to("nanogram/mL")
    assert parse_result("progesterone 4 ug/L").least == four.magnitude


def test_progesterone_by_its_molar_mass() -> None:
    """C21H30O2; the usual factor of 3.18 is that, rounded to three digits."""
    mass = 21 * WEIGHTS["C"] + 30 * WEIGHTS["H"] + 2 * WEIGHTS["O"]
    assert limits()["nmol-per-ng-progesterone"].value == round(1000 / mass, 2)
    ours = parse_result("progesterone 100 nmol/L").least
    assert abs(float(ours / (100 * mass / 1000)) - 1) < 0.0002
    assert str(parse_result("progesterone 3.5 nmol/L")) == "about 1.101 ng/mL"


@pytest.mark.parametrize(
    "text",
    [
        "LH 9",
        "LH 9 IU/mL",
        "LH 9 mIU/L",
        "LH 9 U/L",
        "LH 9 mU/mL",
        "LH 9 ng/mL",
        "LH 9 iu/l",
        "LH 9 IU / L",
        "hCG 4 pmol/L",
        "progesterone 5 IU/L",
        "progesterone 5 ng/dL",
        "progesterone 5 pmol/L",
        "progesterone 5 nmol/mL",
        "progesterone 5 furlongs",
    ],
)
def test_a_unit_that_is_unknown_is_refused_and_nothing_is_read(text: str) -> None:
    with pytest.raises(Unreadable) as refused:
        parse_result(text)
    assert "Read the unit off the report" in refused.value.do
    assert "Nothing was read" in refused.value.do


def test_a_unit_that_is_easily_mistaken_says_why() -> None:
    for text, why in (("hCG 9 IU/mL", "a thousand times"), ("LH 9 U/L", "may be"), ("progesterone 90 ng/dL", "slip")):
        with pytest.raises(Unreadable) as refused:
            parse_result(text)
        assert why in refused.value.what


@pytest.mark.parametrize(
    "text",
    ["", "LH", "9 IU/L", "FSH 9 IU/L", "LH -9 IU/L", "LH 9,5 IU/L", "LH .9 IU/L", "LH 9. IU/L", "LH 9e3 IU/L", "LH 09 IU/L",
     "LH nine IU/L", "LH ~9 IU/L", "LH 9 IU/L ", " LH 9 IU/L", "LH <0 IU/L", "LH < IU/L", "LH 9-12 IU/L", "LH 1234567890 IU/L",
     "LH 9\n IU/L", "LH \N{ARABIC-INDIC DIGIT NINE} IU/L", 9, None],
)  # fmt: skip
def test_what_is_no_result(text: object) -> None:
    with pytest.raises(Unreadable):
        parse_result(text)


def test_bounds_say_only_what_they_know() -> None:
    low, high = parse_result("hCG <2 mIU/mL"), parse_result("hCG > 200 IU/L")
    assert (str(low), str(high)) == ("<2 units/L", ">200 units/L")
    two, one, many = Fraction(2), Fraction(1), Fraction(200)
    assert (low.below(two), low.below(one), low.below(Fraction(10)), low.above(two)) == (True, None, True, False)
    assert (high.above(many), high.below(many), high.above(Fraction(300)), high.below(two)) == (
        True,
        False,
        None,
        False,
    )
    exact = Result(Analyte.LH, two, two, "LH 2 IU/L")
    assert (exact.below(two), exact.above(two), exact.below(many), exact.above(one)) == (False, False, True, True)
