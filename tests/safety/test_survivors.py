"""Assertions that the long searches found missing: each holds a figure or a line whose change no test had noticed."""

from decimal import Decimal

import pytest

from hourmark.dose import Fill, How, Vial, draw
from hourmark.dose.steps import Taking, steps
from hourmark.formulary import Form, barrel
from hourmark.order import Technique
from hourmark.quantity import parse_concentration, parse_dose
from hourmark.recheck.words import dose


def test_the_recheck_reads_milligrams_and_micrograms_alike() -> None:
    assert dose("0.25 mg") == dose("250 mcg") == (Decimal(250), "mass")


@pytest.mark.parametrize(("wanted", "warned"), [("3 mg", False), ("3.5 mg", True), ("4 mg", True)])
def test_more_than_three_millilitres_in_one_muscle_warns(wanted: str, warned: bool) -> None:
    """Open RN, Nursing Skills, section 18.6: 2 to 3 mL for an adult."""
    source = Vial(parse_concentration("1 mg/mL"))
    drawn = draw(parse_dose(wanted), source, [barrel("mL-10-0.5")], route="intramuscular")
    assert not drawn.stopped
    assert ("volume-large" in {finding.code for finding in drawn.findings}) is warned


def test_four_sprays_change_sides_each_time() -> None:
    fills = (Fill(How.SPRAY, "nafarelin-200mcg-spray", None, sprays=4),)
    taking = Taking(Form.SPRAY, "nafarelin", "200 mcg", "nasal", fills, Technique(pumps=7, tilt=30))
    sides = [step.figures["side"] for step in steps(taking) if step.code == "other-side"]
    assert sides == ["one side", "the OTHER side"] * 2
