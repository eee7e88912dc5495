"""Doses in words, so that a digit misread on paper is caught: "2,500 units" is "two thousand five hundred units"."""

from fractions import Fraction

from hourmark.quantity.amounts import Dose, Mass
from hourmark.quantity.numbers import number_text

_UNIT_WORDS = {"mg": ("milligram", "milligrams"), "mcg": ("microgram", "micrograms"), "units": ("unit", "units")}


def dose_words(dose: Dose) -> str:
    """The dose in English words: "four milligrams", "zero point two milligrams". Inexact numbers say "about"."""
    unit = dose.shown if isinstance(dose, Mass) else "units"
    value = dose.value / 1000 if unit == "mg" else dose.value
    one, many = _UNIT_WORDS[unit]
    return f"{number_words(value)} {one if value == 1 else many}"


def number_words(value: Fraction) -> str:
    """A number in English words, digit by digit after the point."""
    from num2words import num2words

    text = number_text(value)
    about, digits = ("about ", text.removeprefix("about ")) if text.startswith("about ") else ("", text)
    whole, _, part = digits.replace(",", "").partition(".")
    words: str = num2words(int(whole)).replace(",", "").replace(" and ", " ")
    if part:
        words += " point " + " ".join(num2words(int(digit)) for digit in part)
    return about + words
