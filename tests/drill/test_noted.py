"""The note: it names who may decide, and its number is the right one and no part of another."""

import pytest

from hourmark.drill.scoring import noted

PRESCRIBER = ("prescriber",)


@pytest.mark.parametrize(
    ("number", "note"),
    [
        ("0 units", "10,000 units went in"),
        ("5,000 units", "15,000 units went in"),
        ("0 mg", "10 mg went in"),
        ("500 units", "1,500 units went in"),
        ("1,500 units", "11,500 units went in"),
        ("0.5 mg", "10.5 mg went in"),
        ("2", "to the 2.5"),
        ("15", "to the 150"),
        ("15", "at 22:15"),
        ("15", "on 2026-11-15"),
        ("2026-11-18 20:1", "2026-11-18 20:15"),
        ("34 h", "34 h 30 min"),
        ("4 mg", "4 mg/mL on the vial"),
        ("25", "25 + 20"),
        ("20", "25 + 20"),
    ],
)
def test_a_number_within_another_is_not_the_number(number: str, note: str) -> None:
    assert not noted(PRESCRIBER, f"Told the prescriber: {note}.", (number,))


@pytest.mark.parametrize(
    ("number", "note"),
    [
        ("0 units", "0 units went in"),
        ("1,500 units", "hcg: 1,500 units, 150 %"),
        ("1,500 units", "went in (1,500 UNITS)"),
        ("500 to 750 units", "500 to 750 units"),
        ("34 h", "the lead is 34 h"),
        ("34 h", "34 h, and nothing more"),
        ("34 h 30 min", "34 h 30 min"),
        ("2026-11-18 20:15", "at 2026-11-18 20:15"),
        ("15", "the 15. No more than that"),
        ("25 + 20", "25 + 20"),
        ("0.35 mL", "0.35 ml"),
    ],
)
def test_the_number_itself_is(number: str, note: str) -> None:
    assert noted(PRESCRIBER, f"Told the prescriber: {note}.", (number,))
    assert not noted(PRESCRIBER, f"Told nobody: {note}.", (number,))
    assert noted(PRESCRIBER, "Told the prescriber.", None)
    assert not noted(PRESCRIBER, f"Told the prescriber: {note}.", ())


@pytest.mark.parametrize(
    "note", ["not the prescriber", "Not prescriber", "no prescriber was told", "without the prescriber"]
)
def test_somebody_who_is_named_as_not_told_is_not_named(note: str) -> None:
    assert not noted(PRESCRIBER, note, None)
    assert noted(PRESCRIBER, f"{note} at first; then the prescriber", None)
