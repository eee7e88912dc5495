"""Elapsed time, to the minute."""

import re
from dataclasses import dataclass
from fractions import Fraction

from hourmark.finding import Unreadable
from hourmark.quantity import parse_number

_EXAMPLES = 'Write it as "36 h", "35 h 30 min", "35.5 h" or "20 min".'
_PARTS = re.compile(r"(?:(?P<hours>\S+) (?:h|hours?))?(?: ?(?<![0-9])(?P<minutes>\S+) min)?")
_LONGEST_HOURS = 2400


@dataclass(frozen=True, slots=True, order=True)
class Span:
    """Elapsed time in whole minutes; negative when it lies the other way."""

    minutes: int

    def __add__(self, other: "Span") -> "Span":
        """Both spans, one after the other."""
        return Span(self.minutes + other.minutes)

    def __sub__(self, other: "Span") -> "Span":
        """What is left of this span after the other."""
        return Span(self.minutes - other.minutes)

    def __str__(self) -> str:
        """The span as printed: "36 h", "35 h 30 min", "20 min"."""
        sign = "-" if self.minutes < 0 else ""
        hours, minutes = divmod(abs(self.minutes), 60)
        parts = [f"{hours:,} h"] * bool(hours) + [f"{minutes} min"] * bool(minutes)
        return sign + (" ".join(parts) or "0 min")


def parse_span(text: object) -> Span:
    """Elapsed time such as "36 h", "35 h 30 min", "35.5 h" or "20 min".

    Raises Unreadable for anything else, for parts of a minute, for minutes beyond 59 beside hours, and beyond 2,400 h.
    """
    if not isinstance(text, str):
        raise Unreadable(f"{text!r} is not text.", f"{_EXAMPLES[:-1]}, in quotes.")
    match = _PARTS.fullmatch(text)
    if match is None or not text:
        raise Unreadable(f'"{text[:40]}" is not a number of hours or minutes.', _EXAMPLES)
    hours = parse_number(match["hours"]) if match["hours"] else Fraction(0)
    minutes = parse_number(match["minutes"]) if match["minutes"] else Fraction(0)
    if match["hours"] and match["minutes"] and (hours.denominator != 1 or minutes >= 60):
        raise Unreadable(f'"{text[:40]}" mixes parts of an hour with minutes.', _EXAMPLES)
    total = hours * 60 + minutes
    if total.denominator != 1:
        raise Unreadable(f'"{text[:40]}" is not a whole number of minutes.', _EXAMPLES)
    if total > _LONGEST_HOURS * 60:
        raise Unreadable(f'"{text[:40]}" is longer than {_LONGEST_HOURS:,} h.', "Write the time in the order.")
    return Span(int(total))
