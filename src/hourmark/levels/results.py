"""Laboratory results: read strictly in the units that laboratories print, converted exactly where that is possible."""

import re
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from hourmark.finding import Finding, Level, Unreadable
from hourmark.levels.figures import limits
from hourmark.quantity import number_text


class Analyte(StrEnum):
    """What the laboratory measured."""

    LH = "LH"
    HCG = "hCG"
    PROGESTERONE = "progesterone"


_UNIT = {Analyte.LH: "units/L", Analyte.HCG: "units/L", Analyte.PROGESTERONE: "ng/mL"}

_UNITS_PER_LITRE = ("units/L", "IU/L", "mIU/mL", "[IU]/L", "m[IU]/mL")
"""All of them the same number: a thousandth of a unit in a thousandth of a litre."""

_NANOGRAMS_PER_ML = ("ng/mL", "mcg/L", "ug/L")
"""The same number: a thousandth of a microgram in a thousandth of a litre."""

_NOT_A_UNIT = {
    "IU/mL": "that is a thousand times IU/L, and no laboratory reports these in it",
    "mIU/L": "that is a thousandth of IU/L, and no laboratory reports these in it",
    "U/L": "a U may be an international unit or not",
    "mU/mL": "a U may be an international unit or not",
    "mU/L": "a U may be an international unit or not",
    "ng/dL": "that is a hundredth of ng/mL, and a slip between the two is likely",
    "pmol/L": "that is a thousandth of nmol/L, and a slip between the two is likely",
}

_RESULT = re.compile(r"(?P<analyte>\S+) (?P<bound>[<>] ?)?(?P<number>\S+)(?: (?P<unit>.+))?")
_NUMBER = re.compile(r"(?:0|[1-9][0-9]{0,2}(?:,[0-9]{3})+|[1-9][0-9]{0,8})(?:\.[0-9]{1,6})?")


@dataclass(frozen=True, slots=True)
class Result:
    """One result in the project's unit (`unit`): exact, or only known to lie below `most` ("<") or above `least` (">").

    `entered` is the text as typed.
    """

    analyte: Analyte
    least: Fraction
    most: Fraction | None
    entered: str

    @property
    def exact(self) -> bool:
        """Whether the laboratory gave a number rather than a bound."""
        return self.least == self.most

    @property
    def unit(self) -> str:
        """units/L, or ng/mL for progesterone."""
        return _UNIT[self.analyte]

    def below(self, limit: Fraction) -> bool | None:
        """Whether the level is under `limit`; None when "<" or ">" leaves it open."""
        if self.most is not None and (self.most < limit or (self.most == limit and not self.exact)):
            return True
        return False if self.least >= limit else None

    def above(self, limit: Fraction) -> bool | None:
        """Whether the level is over `limit`; None when "<" or ">" leaves it open."""
        if self.least > limit or (self.least == limit and not self.exact):
            return True
        return False if self.most is not None and self.most <= limit else None

    def __str__(self) -> str:
        """The level in the project's unit: "9 units/L", "<2 units/L"."""
        if self.exact:
            return f"{number_text(self.least)} {self.unit}"
        bound = f"<{number_text(self.most)}" if self.most is not None else f">{number_text(self.least)}"
        return f"{bound} {self.unit}"


def parse_result(text: object) -> Result:
    """A result such as "LH 9 IU/L", "hCG <2 mIU/mL" or "progesterone 3.5 nmol/L".

    A zero after the point is accepted, as laboratories print it (Joint Commission do-not-use list, exception for results).
    Raises Unreadable for another analyte, a wrong number, and a unit that is missing or unknown here.
    """
    match = _RESULT.fullmatch(text) if isinstance(text, str) else None
    if match is None:
        raise Unreadable(
            f"{str(text)[:40]!r} is not a result.",
            'Write analyte, number and unit as on the report, for example "LH 48 IU/L" or "progesterone 4.8 ng/mL".',
        )
    analyte = _analyte(match["analyte"])
    value = _number(match["number"]) * _factor(analyte, match["number"], match["unit"])
    match (match["bound"] or "").strip():
        case "<" if not value:
            raise Unreadable(f"{match[0]} is below zero.", "Read the number off the report again.")
        case "<":
            return Result(analyte, Fraction(0), value, match[0])
        case ">":
            return Result(analyte, value, None, match[0])
        case _:
            return Result(analyte, value, value, match[0])


def impossible(result: Result) -> Finding | None:
    """The question back when no assay gives such a result; nothing is read from it."""
    limit = limits()[f"{result.analyte.lower()}-most"]
    if max(result.least, result.most or 0) <= limit.value:
        return None
    return Finding(
        "result-no-assay",
        Level.ASK,
        f"{result.entered} is not a result that an assay gives: {result} is more than {limit.text}.",
        "Read analyte, number and unit off the report again, or ring the laboratory. Nothing was read from this result.",
        str(result.analyte),
        f"at most {limit.text}",
        limit.cite(),
    )


def _analyte(text: str) -> Analyte:
    for analyte in Analyte:
        if text.lower() == analyte.lower():
            return analyte
    raise Unreadable(
        f'"{text[:40]}" is not read here.', "Write one of: LH, hCG, progesterone; then the number and the unit."
    )


def _number(text: str) -> Fraction:
    if _NUMBER.fullmatch(text) is None:
        raise Unreadable(
            f'"{text[:40]}" is not a number as laboratories print it.',
            'Write digits with a point, for example "0.9", "48" or "1,200"; no comma for the point, no sign.',
        )
    return Fraction(text.replace(",", ""))


def _factor(analyte: Analyte, number: str, unit: str | None) -> Fraction:
    known = dict.fromkeys(_UNITS_PER_LITRE, Fraction(1))
    if analyte is Analyte.PROGESTERONE:
        per_nanogram = limits()["nmol-per-ng-progesterone"].value
        known = dict.fromkeys(_NANOGRAMS_PER_ML, Fraction(1)) | {"nmol/L": 1 / per_nanogram}
    if unit in known:
        return known[unit]
    write = f"Read the unit off the report and write one of: {', '.join(known)}. Nothing was read from this result."
    if unit is None:
        raise Unreadable(f"{analyte} {number} has no unit.", write)
    why = f": {_NOT_A_UNIT[unit]}" if unit in _NOT_A_UNIT else ""
    raise Unreadable(f'"{unit[:40]}" is not a unit of {analyte} known here{why}.', write)
