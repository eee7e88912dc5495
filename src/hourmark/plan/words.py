"""The words on a box against what it is entered as: an amount in them, and the medicine that they name."""

import re
from collections.abc import Iterable
from fractions import Fraction
from functools import cache

from hourmark.finding import Finding, Level, Unreadable
from hourmark.formulary import drug, facts, products
from hourmark.order import Case, KitProduct
from hourmark.order.names import named_in, same_medicine, speaks_of
from hourmark.quantity import Dose, Mass, parse_concentration, parse_dose

_READ_BOX = "common practice, no source"
_NUMBER = r"(?:[0-9]{1,3}(?:[ \u00a0\u202f][0-9]{3})+|[0-9](?:[0-9.,]*[0-9])?)"
_UNIT = {
    "units": r"(?:USP )?units?|I\.?U\.?|U\.?I\.?|I\.?E\.?|U",
    "mg": "mg",
    "mcg": r"mcg|mi[ck]rogramm?[a-z]*|ug|[\u00b5\u03bc]g",
}
_AMOUNT = re.compile(
    rf"(?<![0-9.,])({_NUMBER})[ \u00a0]?-?(?:{'|'.join(f'(?P<{unit}>{words})' for unit, words in _UNIT.items())})(?![A-Za-z])"
    rf"(?: ?/ ?(?P<per>{_NUMBER})[ \u00a0]?mL\b)?",
    re.IGNORECASE,
)
_BARE = re.compile(
    rf"(?<![0-9.,A-Za-z/-])(?<!lot )(?<!batch )(?<!exp )(?<!exp\. )(?<!lot: )(?<!rx )(?<!no\. )({_NUMBER})(?![.,]?[0-9]|[ \u00a0]?(?:%|[A-Za-z]*m[lLg]\b|mm\b|[gG]\b|[-/]))",
    re.IGNORECASE,
)


def words_findings(case: Case, box: KitProduct) -> Iterable[Finding]:
    """What in the words on any box of this product disagrees with the strength or the medicine that it is entered as."""
    for held in case.kit.products:
        if held.product.id == box.product.id and held.words is not None:
            yield from _strength(held, held.words)
            yield from _medicine(case, held, held.words)


def _strength(box: KitProduct, words: str) -> Iterable[Finding]:
    """An amount in the words must be the strength of the box; a number without its unit as well."""
    if _amount_agrees(box, words) is False:
        yield _disagree(
            box,
            f'The words on the box are "{words}", but it is entered with a strength of {box.strength}.',
            "Have her read the box again, letter by letter, before anything is opened.",
        )


def _amount_agrees(box: KitProduct, words: str) -> bool | None:
    """Whether some amount in the words is the strength that the box is entered with; None where they hold none.

    A number without a unit counts only if some product known here has that strength: else it may be a lot, a date or a code.
    """
    strength = _entered(box)
    if strength is None:
        return None
    per_ml = "/" in box.strength
    seen = [_said(found, per_ml) for found in _AMOUNT.finditer(words)]
    if not seen:
        units = ("mg", "mcg") if isinstance(strength, Mass) else ("units",)
        bare = [_readings(number) & _strengths() for number in _BARE.findall(words)]
        seen = [(values, unit) for values in bare if values for unit in units]
    return any(_is(values, unit, strength) for values, unit in seen) if seen else None


def _said(found: re.Match[str], per_ml: bool) -> tuple[set[Fraction], str]:
    """The values that a printed amount can have, in each mL where the strength is one, and its unit."""
    unit = next(name for name in _UNIT if found[name])
    values = _readings(found[1])
    if per_ml and found["per"]:
        values = {value / volume for value in values for volume in _readings(found["per"]) if volume}
    return values, unit


@cache
def _strengths() -> frozenset[Fraction]:
    """The numbers of all strengths of the formulary, without their units."""
    return frozenset(
        value
        for product in products().values()
        for number in _AMOUNT.finditer(product.strength)
        for value in _readings(number[1])
    )


def _entered(box: KitProduct) -> Dose | None:
    try:
        return parse_concentration(box.strength).per_ml if "/" in box.strength else parse_dose(box.strength)
    except Unreadable:
        return None


def _is(values: set[Fraction], unit: str, strength: Dose) -> bool:
    if isinstance(strength, Mass) != (unit != "units"):
        return False
    times = 1000 if unit == "mg" else 1
    return any(value * times == strength.value for value in values)


def _readings(number: str) -> set[Fraction]:
    """What a printed number can be: a point or a comma stands before decimals or between thousands, by country."""
    digits = re.sub(r"[ \u00a0\u202f]", "", number)
    found = set()
    if re.fullmatch(r"[0-9]{1,3}(?:[.,][0-9]{3})+|[0-9]+", digits):
        found.add(Fraction(re.sub(r"[.,]", "", digits)))
    whole, part = re.sub(r",(?=[0-9]{3}(?![0-9]))", "", digits), digits.replace(",", ".")
    found |= {Fraction(text) for text in (whole, part) if re.fullmatch(r"[0-9]+(?:\.[0-9]+)?", text)}
    return found or {Fraction(0)}


def _medicine(case: Case, box: KitProduct, words: str) -> Iterable[Finding]:
    """The generic name of another medicine in the words is a stop; words without any generic name may be a brand's."""
    diluents = {path.rpartition(".")[0] for path in facts("diluents")} | _DILUENT_WORDS
    named = named_in(words, (*case.order.stop, *diluents))
    own = [name for name in named if same_medicine(name, box.product.drug) or _names(name, box.product.drug)]
    its_own = bool(own) or _amount_agrees(box, words) is True or speaks_of(words, drug(box.product.drug))
    urinary = "chorionic gonadotropin" if own and box.product.drug == "choriogonadotropin alfa" else None
    other = [name for name in named if name not in own and name != urinary and not (its_own and name in diluents)]
    if other:
        yield _disagree(
            box,
            f'The words on the box are "{words}": they name {" and ".join(other)},'
            f" but it is entered as {box.product.id}, which is {box.product.drug}.",
            "Have her read the box again, letter by letter, before anything is opened; if it really says so, it is another"
            " medicine: ask the pharmacy.",
        )


_DILUENT_WORDS = frozenset(
    ("water for injection", "sterile water for injection", "bacteriostatic water for injection", "sodium chloride")
)


def _names(told: str, drug: str) -> bool:
    """Whether a name told in other words, as on a stop-list, holds that of the drug."""
    return any(same_medicine(name, drug) for name in named_in(told))


def _disagree(box: KitProduct, what: str, do: str) -> Finding:
    fact = box.product.fact("concentration") or box.product.fact("content")
    return Finding(
        "box-words-disagree",
        Level.STOP,
        what,
        do,
        "kit",
        f"{box.product.id}: {box.product.strength}",
        fact.cite() if fact else _READ_BOX,
    )
