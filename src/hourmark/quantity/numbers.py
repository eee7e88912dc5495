"""Plain decimal numbers: read strictly, written by the rules for safe medication writing.

The rules (leading zero, no trailing zero, comma from 1,000, no naked point) are those of the ISMP list of error-prone
abbreviations, symbols and dose designations (2021) and the Joint Commission do-not-use list.
"""

import re
from fractions import Fraction

from hourmark.finding import Unreadable

_NUMBER = re.compile(r"(?P<whole>0|[1-9][0-9]{0,2}(?:,[0-9]{3})+|[1-9][0-9]*)(?:\.(?P<part>[0-9]+))?")
_MOST_DIGITS = 12
_SHOWN_PLACES = 3
_LEAST_DIGITS = 4


def parse_number(text: object) -> Fraction:
    """The exact value of a decimal number such as "0.5", "2,500" or "12".

    Raises Unreadable, with what to write, for a naked point, a trailing zero, a decimal comma, misplaced commas, leading
    zeros, a sign, an exponent, and anything that is not a number.
    """
    if not isinstance(text, str):
        raise Unreadable(f"{text!r} is not text.", 'Write the number and its unit in quotes, for example "0.5 mL".')
    match = _NUMBER.fullmatch(text)
    if match is None:
        raise Unreadable(*_why_not_a_number(text))
    whole, part = match["whole"].replace(",", ""), match["part"] or ""
    if part.endswith("0"):
        raise Unreadable(*_zero_at_the_end(match["whole"], part))
    if len(whole) + len(part) > _MOST_DIGITS:
        raise Unreadable(
            f'"{text[:40]}" has more than {_MOST_DIGITS} digits.', "Write the number as it stands in the order."
        )
    return Fraction(f"{whole}.{part or 0}")


_THOUSANDS = 3
"""Digits behind a point that may be one between thousands."""


def _zero_at_the_end(whole: str, part: str) -> tuple[str, str]:
    text, less = f"{whole}.{part}", f"{whole}.{part}".rstrip("0").rstrip(".")
    if len(part) == _THOUSANDS and "," not in whole and len(whole) <= _THOUSANDS and whole != "0":
        return (
            f'"{text}" can be read as {less} or as {whole},{part}: many countries write a point between thousands.',
            f'Ask which is meant; then write "{less}" or "{whole},{part}".',
        )
    return f'"{text}" ends in a zero after the point, which is read as ten times more.', f'Write "{less}".'


def _write(better: str, condition: str = "") -> str:
    """What to write instead; only where that would itself be read."""
    match = _NUMBER.fullmatch(better)
    if match is None or (match["part"] or "").endswith("0"):
        return 'Write the number as it is meant, for example "0.5" or "10,000".'
    return f'Write "{better}"{condition}.'


def _why_not_a_number(text: str) -> tuple[str, str]:
    shown = f'"{text[:40]}"'
    if text == "":
        return "The number is blank.", 'Write it out, for example "0.5".'
    if re.fullmatch(r"\.[0-9]+", text):
        return f"{shown} has a naked point, which is overlooked.", _write(f"0{text.rstrip('0')}")
    if re.fullmatch(r"[0-9]+\.", text):
        return f"{shown} ends in a point.", _write(text[:-1])
    if re.fullmatch(r"0,[0-9]+|[0-9]+,[0-9]{1,2}", text):
        better = text.replace(",", ".").rstrip("0").rstrip(".")
        return f"{shown} has a comma where a point may be meant.", _write(better, " if that is the number")
    if re.fullmatch(r"[0-9][0-9,.]*", text) and ("," in text or text.count(".") > 1):
        return (
            f"{shown} has commas or points in the wrong places.",
            'Write it as "10,000" or "10000", with at most one point.',
        )
    if re.fullmatch(r"0[0-9]+(\.[0-9]+)?", text):
        return f"{shown} begins with a zero too many.", _write(re.sub(r"^0+(?=[0-9])", "", text))
    if text[:1] in "+-\N{MINUS SIGN}\N{EN DASH}":
        return f"{shown} has a sign.", "Write the number alone; amounts are never negative."
    return f"{shown} is not a plain number.", 'Write digits, for example "0.5" or "10,000".'


def number_text(value: Fraction) -> str:
    """The number in decimals: exact where it has a finite decimal, otherwise "about" and rounded, half up.

    Rounded to three decimals below 1,000, to four significant digits below 1, and to a whole number from 1,000, where decimals
    behind a comma would be read as thousands. Commas from 1,000, a leading zero, never a trailing one.
    """
    if value < 0:
        return "-" + number_text(-value)
    places = _finite_places(value)
    if places is not None:
        return _decimal(value, places)
    return "about " + _decimal(value, _places_shown(value))


def _places_shown(value: Fraction) -> int:
    if value >= 1000:
        return 0
    return max(_SHOWN_PLACES, _LEAST_DIGITS - _whole_digits(value))


def rounded_text(value: Fraction, places: int) -> str:
    """The number to at most `places` decimals, half away from zero, without trailing zeros; never marked as rounded."""
    sign = "-" if value < 0 else ""
    text = _decimal(abs(value), places)
    return text if text == "0" else sign + text


def _finite_places(value: Fraction) -> int | None:
    rest, twos, fives = value.denominator, 0, 0
    while rest % 2 == 0:
        rest, twos = rest // 2, twos + 1
    while rest % 5 == 0:
        rest, fives = rest // 5, fives + 1
    places = max(twos, fives)
    return places if rest == 1 and places <= _MOST_DIGITS else None


def _whole_digits(value: Fraction) -> int:
    """Digits before the point; below 1, zero or minus the zeros that follow the point."""
    if value >= 1:
        return len(str(int(value)))
    digits = 0
    while value and value < Fraction(1, 10):
        value, digits = value * 10, digits - 1
    return digits


def _decimal(value: Fraction, places: int) -> str:
    scaled = (value * 10**places * 2 + 1) // 2
    whole, part = divmod(scaled, 10**places)
    decimals = f"{part:0{places}d}".rstrip("0") if places else ""
    return f"{whole:,}.{decimals}" if decimals else f"{whole:,}"
