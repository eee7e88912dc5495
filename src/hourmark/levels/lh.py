"""LH: the surge after an agonist. The limit of the morning after holds for some hours only, and outside them says nothing."""

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any

from hourmark.finding import Finding, Level
from hourmark.formulary import Kind, Sourced
from hourmark.levels.curves import Leg, expected_lh
from hourmark.levels.reading import (
    Around,
    Reading,
    bounded,
    care,
    disputed,
    early,
    first,
    found,
    late,
    observed,
    place,
    unanswered,
)
from hourmark.levels.results import Analyte, Result
from hourmark.levels.says import Says


def read_lh(result: Result, legs: Sequence[Leg], around: Around) -> Reading:
    """A level of LH against the agonists that went in."""
    agonists = tuple(leg for leg in legs if leg.drug.kind is Kind.AGONIST)
    if not agonists:
        return unanswered(result, legs)
    held = around.limits
    reading = Reading(
        result,
        agonists,
        first(agonists),
        Says.CARE,
        "",
        expected_lh(agonists),
        (held["lh-low"], held["progesterone-with-lh"]),
        observed(Analyte.LH, agonists),
        disputed(Analyte.LH),
    )
    after = reading.after
    if after < held["lh-care-from"].value:
        return early(reading, held["lh-care-from"], held["lh-judged-from"])
    if len(agonists) > 1:
        return care(reading, "one value stands for several agonist injections", held["lh-judged-to"])
    if after >= held["lh-care-to"].value:
        return late(reading, held["lh-care-to"], "Judge by progesterone, and ask the prescriber.")
    if not held["lh-judged-from"].value <= after <= held["lh-judged-to"].value:
        window = f"{held['lh-judged-from'].text} to {held['lh-judged-to'].text}"
        limit = held["lh-judged-from"] if after < held["lh-judged-from"].value else held["lh-judged-to"]
        return care(reading, f"the limit of {held['lh-low'].text} holds from {window} only", limit)
    return _with_cross_reaction(_judged_lh(reading, around), legs, around)


def _judged_lh(reading: Reading, around: Around) -> Reading:
    limit, floor = around.limits["lh-low"], around.limits["progesterone-with-lh"]
    match reading.result.below(limit.value):
        case None:
            return bounded(reading, limit)
        case False if reading.band is not None and reading.result.below(Fraction(reading.band[0])):
            return care(reading, f"above the limit of {limit.text}, but under the band of a usual surge", limit)
        case False:
            return replace(reading, says=Says.EXPECTED, why=f"at or above {limit.text} at {reading.after}")
        case _:
            return _low_lh(reading, around.progesterone, limit, floor)


def _low_lh(reading: Reading, progesterone: Result | None, limit: Sourced[Any], floor: Sourced[Any]) -> Reading:
    risen = progesterone.above(floor.value) if progesterone is not None else None
    if risen is False:
        finding = Finding(
            "lh-failed-pattern",
            Level.ASK,
            f"LH {reading.result} with progesterone {progesterone} at {reading.after}: the pattern of too small a surge.",
            "Tell the prescriber now, before the retrieval. Ask what went in, when, and how it was kept.",
            place(reading),
            f"under {limit.text}, with {floor.text} or less",
            floor.cite(),
        )
        return found(reading, Says.FAILED, f"under {limit.text}, and progesterone at or under {floor.text}", finding)
    known = f"progesterone {progesterone} has risen above {floor.text}" if risen else "progesterone leaves it open"
    known = known if progesterone is not None else "progesterone is not known"
    finding = Finding(
        "lh-low-after-agonist",
        Level.ASK,
        f"LH {reading.result} at {reading.after} is under {limit.text}, and {known}.",
        "Tell the prescriber now."
        if risen
        else "Tell the prescriber now, and ask for progesterone from the same sample.",
        place(reading),
        f"under {limit.text}",
        limit.cite(),
    )
    return found(reading, Says.LOW, f"under {limit.text}; {known}", finding)


def _with_cross_reaction(reading: Reading, legs: Sequence[Leg], around: Around) -> Reading:
    known = any(leg.drug.kind is not Kind.AGONIST for leg in legs)
    if reading.says not in (Says.EXPECTED, Says.CARE) or not (known or Kind.HCG in around.doubts):
        return reading
    finding = Finding(
        "lh-cross-reaction",
        Level.NOTE,
        f"hCG {'went' if known else 'may have gone'} in as well. Old LH assays read hCG as LH.",
        "Note the assay's name beside the value; ask the laboratory whether hCG disturbs it.",
        place(reading),
        None,
        "laboratory practice (from memory, source not read)",
    )
    return replace(reading, findings=(*reading.findings, finding))
