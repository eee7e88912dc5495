"""Doses in words, so that a digit misread on paper is caught: "2,500 units" is "two thousand five hundred units"."""

import re
from fractions import Fraction

from hourmark.quantity.amounts import Dose, Mass
from hourmark.quantity.numbers import number_text

_UNIT_WORDS = {
    "en": {"mg": ("milligram", "milligrams"), "mcg": ("microgram", "micrograms"), "units": ("unit", "units")},
    "es": {"mg": ("miligramo", "miligramos"), "mcg": ("microgramo", "microgramos"), "units": ("unidad", "unidades")},
}
_POINT = {"en": "point", "es": "punto"}
_ABOUT = {"en": "about", "es": "unos"}
_FEMININE = (("cientos", "cientas"), ("quinientos", "quinientas"), ("uno", "una"))
_SHORTENED = (("veintiuno", "veintiún"), ("uno", "un"))


def dose_words(dose: Dose, language: str = "en") -> str:
    """The dose in words: "four milligrams", "cuatro miligramos". Inexact numbers say "about".

    `language` is "en" or "es"; another raises KeyError.
    """
    unit = dose.shown if isinstance(dose, Mass) else "units"
    value = dose.value / 1000 if unit == "mg" else dose.value
    one, many = _UNIT_WORDS[language][unit]
    words = number_words(value, language)
    return f"{_agreeing(words, unit) if language == 'es' else words} {one if value == 1 else many}"


def number_words(value: Fraction, language: str = "en") -> str:
    """A number in words, digit by digit after the point."""
    from num2words import num2words

    text = number_text(value)
    about, digits = (f"{_ABOUT[language]} ", text.removeprefix("about ")) if text.startswith("about ") else ("", text)
    whole, _, part = digits.replace(",", "").partition(".")
    words: str = num2words(int(whole), lang=language).replace(",", "").replace(" and ", " ")
    if part:
        digits_after = " ".join(num2words(int(digit), lang=language) for digit in part)
        words += f" {_POINT[language]} {digits_after}"
    return about + words


def _agreeing(words: str, unit: str) -> str:
    """Spanish numbers agree with what is counted: quinientas unidades, veintiún miligramos. After a point they stay."""
    if " punto " in words:
        return words
    for ending, instead in _FEMININE if unit == "units" else _SHORTENED:
        words = re.sub(rf"{ending}\b" if unit == "units" else rf"\b{ending}$", instead, words)
    return words
