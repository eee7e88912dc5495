"""Drug names in free text: which medicines a line of words speaks of, whole names only and the longest first."""

import re
from collections.abc import Iterable
from functools import cache

from hourmark.formulary import Drug, Kind, drugs

_Words = tuple[str, ...]

_ALSO_IN_THE_REFRIGERATOR = (
    *("menotropins", "urofollitropin", "follitropin", "follitropin alfa", "follitropin beta", "follitropin delta"),
    *("corifollitropin alfa", "lutropin alfa", "human menopausal gonadotropin", "degarelix", "goserelin"),
    *("progesterone", "hydroxyprogesterone", "medroxyprogesterone", "dydrogesterone", "estradiol", "cabergoline"),
    *("letrozole", "clomifene", "clomiphene", "heparin", "enoxaparin", "oxytocin"),
)
"""Generic names of other medicines that may lie beside a trigger (from memory). A name that is not here is not noticed."""

_NO_NAME = frozenset(
    (
        "injection",
        "injectable",
        "vial",
        "syringe",
        "pen",
        "spray",
        "tablet",
        "capsule",
        "powder",
        "solution",
        "daily",
        "all",
        "any",
    )
)
"""Words that name no medicine when they stand alone, as on a stop-list: "all injections"."""

_UNITS = frozenset(("mg", "mcg", "microgram", "ml", "unit", "iu"))

_RECOMBINANT = ("recombinant chorionic gonadotropin", "recombinant human chorionic gonadotropin")


def same_medicine(one: str, other: str) -> bool:
    """Whether two generic names are of one substance for whoever reads a box: its salt and its base count as one here."""
    return _key(one) == _key(other)


def speaks_of(text: str, drug: Drug) -> bool:
    """Whether a line such as one of a stop-list speaks of a drug, by a generic name of it or by "hCG"."""
    by_kind = drug.kind is Kind.HCG and "hcg" in _words(text)
    return by_kind or any(same_medicine(name, drug.name) for name in named_in(text))


_ASIDE = re.compile(
    r"\b(?:until|till|after|before|from|except|but|not|without|contain\w*|with|for)\b.*", re.IGNORECASE | re.DOTALL
)


def stops(item: str, drug: Drug) -> bool:
    """Whether an item of a stop-list stops a drug: what it says of a time, a content or an exception names no other."""
    return speaks_of(_ASIDE.sub("", item), drug)


def named_in(text: str, more: Iterable[str] = ()) -> tuple[str, ...]:
    """The generic names that stand in a text, in the order in which they stand, each as the formulary has it.

    `more` are other names to look for. A name inside a longer name is not found: "corifollitropin alfa" is no "follitropin".
    """
    known = _known() | {words: name for name in more if not _NO_NAME.issuperset(words := _words(name))}
    longest = max(map(len, known))
    words, found, place = _words(text), [], 0
    while place < len(words):
        for length in range(min(longest, len(words) - place), 0, -1):
            name = known.get(words[place : place + length])
            if name is not None:
                found.append(name)
                place += length
                break
        else:
            place += 1
    return tuple(dict.fromkeys(found))


@cache
def _known() -> dict[_Words, str]:
    names = {name: name for name in _ALSO_IN_THE_REFRIGERATOR}
    names |= dict.fromkeys(_RECOMBINANT, "choriogonadotropin alfa")
    names |= {name: drug.name for drug in drugs().values() for name in (*drug.names, drug.name)}
    return {_words(name): meant for name, meant in names.items()}


def _words(text: str) -> _Words:
    """The words, letters alone; spellings that differ by country, and one and many, are made alike."""
    plain = text.lower().replace("trophin", "tropin")
    words = (word.removesuffix("s") if len(word) > _SHORT else word for word in re.findall(r"[^\W\d_]+", plain))
    return tuple(word for word in words if word not in _UNITS)


_SHORT = 3


def _key(name: str) -> _Words:
    """What tells substances apart: the first word of a drug with a salt, the whole name else."""
    words = _words(name)
    meant = _known().get(words, name)
    return _words(meant)[:1] if len(_words(meant)) > 1 and _words(meant)[-1] == "acetate" else _words(meant)
