"""What draw says of its amounts and of what it searched: in the order's unit, and nothing that was not looked at."""

from typing import Any

import pytest

from hourmark.dose import draw, mix
from hourmark.formulary import barrel
from hourmark.quantity import Mass, Units, parse_dose, parse_volume, shown_like
from tests.cli.running import answer, codes


def _draw(*args: str) -> tuple[int, dict[str, Any]]:
    return answer("draw", *args)


@pytest.mark.parametrize(("label", "dose", "unit"), [("1 mg/mL", "500 mcg", "mcg"), ("1000 mcg/mL", "0.5 mg", "mg")])
def test_every_dose_is_in_the_unit_of_the_order(label: str, dose: str, unit: str) -> None:
    status, found = _draw("--label", label, "--dose", dose, "--syringe", "u100-1mL-1")
    assert status == 0
    assert found["given"] == dose
    assert found["tolerance"]["dose"].endswith(f" {unit}")
    assert found["missteps"]
    assert {one["given"].rpartition(" ")[2] for one in found["missteps"]} == {unit}


def test_neighbours_are_in_the_unit_of_the_order() -> None:
    _, found = _draw("--label", "1 mg/mL", "--dose", "505 mcg", "--syringe", "u100-1mL-1")
    what = found["findings"][0]["what"]
    assert "mark 50 (0.5 mL) = 500 mcg" in what
    assert "mark 51 (0.51 mL) = 510 mcg" in what
    assert " mg" not in what


def test_a_part_of_a_syringe_is_told_in_the_unit_of_the_order() -> None:
    _, found = _draw("--product", "triptorelin-100mcg-syringe", "--dose", "150 mcg")
    assert (codes(found), "one gives 100 mcg" in found["findings"][0]["what"]) == ({"part-of-device": "stop"}, True)


def test_units_are_shown_as_they_are() -> None:
    assert shown_like(parse_dose("5 units"), parse_dose("4 mg")) == parse_dose("5 units")
    assert str(shown_like(parse_dose("5 mg"), parse_dose("4 mcg"))) == "5,000 mcg"
    assert isinstance(shown_like(parse_dose("5 mg"), parse_dose("4 units")), Mass)


def test_more_fills_of_a_syringe_not_at_hand_are_named() -> None:
    """1.25 mL lands on no line of a 3 mL barrel; two fills of a 1 mL barrel hold it."""
    _, found = _draw("--label", "1 mg/mL", "--dose", "1.25 mg", "--syringe", "mL-3-0.1")
    do = found["findings"][0]["do"]
    assert "mL-1-0.01 in 2 fills" in do
    assert "u100-1mL-1 in 2 fills" in do


def test_other_syringes_stay_within_what_one_site_takes() -> None:
    """2.25 mL under the skin: 1.5 mL is the most for one site, so nothing in one fill of 3 mL is named."""
    _, found = _draw(
        *("--label", "1 mg/mL", "--dose", "2.25 mg", "--syringe", "mL-3-0.1", "--route", "subcutaneous"),
    )
    assert "mL-1-0.01 in 3 fills" in found["findings"][0]["do"]


def test_a_permitted_diluent_volume_is_searched_where_the_label_is_known() -> None:
    product = ("--product", "hcg-10000-units", "--dose", "1,100 units", "--syringe", "mL-3-0.1")
    _, found = _draw(*product, "--diluent", "2 mL")
    do = next(one["do"] for one in found["findings"] if one["code"] == "mark-between")
    assert '10 mL of diluent with mL-3-0.1, where the label says "10 mL only" or "1 mL or 10 mL"' in do


def test_what_was_not_searched_is_not_claimed() -> None:
    seventh = Units(parse_dose("10,000 units").value / 7)
    bare = draw(seventh, mix(parse_dose("10,000 units"), parse_volume("1 mL")), [barrel("mL-3-0.1")])
    assert "No other syringe known here has lines for" in bare.findings[0].do
    assert "is not known here, and none was tried" in bare.findings[0].do
    tried = draw(
        seventh,
        mix(parse_dose("10,000 units"), parse_volume("1 mL")),
        [barrel("mL-3-0.1")],
        searched="diluent volumes tried: 1 mL, 2 mL",
    )
    assert "(diluent volumes tried: 1 mL, 2 mL)" in tried.findings[0].do
    _, found = _draw("--label", "7 mg/mL", "--dose", "1 mg", "--syringe", "mL-3-0.1")
    assert "diluent" not in found["findings"][0]["do"]


def test_marks_for_units_does_not_depend_on_the_order_of_syringes() -> None:
    args = ("--label", "10,000 units", "--diluent", "10 mL", "--dose", "2,500 units")
    answers = [
        _draw(*args, *(part for one in syringes for part in ("--syringe", one)))[1]["missteps"]
        for syringes in (
            ("mL-3-0.1", "u100-1mL-1", "u100-0.3mL-1"),
            ("u100-0.3mL-1", "u100-1mL-1", "mL-3-0.1"),
            ("u100-1mL-1", "u100-0.3mL-1", "mL-3-0.1"),
        )
    ]
    assert answers[0] == answers[1] == answers[2]
    (sought,) = [one for one in answers[0] if one["code"] == "marks-for-units"]
    assert "u100-1mL-1" in sought["how"]


@pytest.mark.parametrize("product", ["nafarelin-200mcg-spray", "choriogonadotropin-alfa-250mcg-syringe"])
def test_a_syringe_beside_what_is_given_whole_is_refused(product: str) -> None:
    dose = "400 mcg" if "spray" in product else "250 mcg"
    status, found = _draw("--product", product, "--dose", dose, "--syringe", "mL-3-0.1")
    assert (status, found["findings"][0]["where"]) == (2, "--syringe")
