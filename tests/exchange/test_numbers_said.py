"""What is proposed in place of a number that is refused: never a reading that may be a thousand times off, and never one refused itself."""

import re

import pytest

from hourmark.finding import Unreadable
from hourmark.quantity import parse_dose, parse_number


@pytest.mark.parametrize(
    ("text", "readings"),
    [
        ("10.000 units", ('"10"', '"10,000"')),
        ("5.000 units", ('"5"', '"5,000"')),
        ("2.500 units", ('"2.5"', '"2,500"')),
        ("250.000 mcg", ('"250"', '"250,000"')),
        ("10.000units", ('"10"', '"10,000"')),
    ],
)
def test_a_point_that_may_part_thousands_is_asked_about(text: str, readings: tuple[str, str]) -> None:
    """Many countries write a point between thousands (common practice, no source): one reading alone may be a thousand times off."""
    with pytest.raises(Unreadable) as refused:
        parse_dose(text)
    assert refused.value.do.startswith("Ask which is meant")
    assert all(reading in refused.value.do for reading in readings)


@pytest.mark.parametrize(
    "text",
    ["00.5 mg", "007 mg", "00.50 mg", ".000 mg", "0.50mg", "007. mg", "10.500,5 mg", "0,50 mg", "000 mg", "1,0 mg"],
)
def test_what_is_proposed_can_itself_be_read(text: str) -> None:
    with pytest.raises(Unreadable) as refused:
        parse_dose(text)
    proposed = re.findall(r'"([^"]+)"', refused.value.do)
    assert proposed
    for number in proposed:
        assert parse_number(number.partition(" ")[0]) >= 0, number


def test_a_zero_too_many_in_front_keeps_the_zero_before_the_point() -> None:
    with pytest.raises(Unreadable) as refused:
        parse_dose("00.5 mg")
    assert refused.value.do == 'Write "0.5".'
