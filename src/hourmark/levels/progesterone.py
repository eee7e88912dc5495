"""Progesterone: the ovary's answer, to whichever trigger; against her own value before it where that is known."""

from collections.abc import Sequence
from dataclasses import replace
from enum import StrEnum
from typing import Any

from hourmark.finding import Finding, Level
from hourmark.formulary import Kind, Sourced
from hourmark.levels.curves import Leg, expected_progesterone
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
)
from hourmark.levels.results import Analyte, Result
from hourmark.levels.says import Says


def read_progesterone(result: Result, legs: Sequence[Leg], around: Around) -> Reading:
    """A level of progesterone against all that went in: after an agonist by its limit, after hCG alone by the rise."""
    held = around.limits
    agonist = any(leg.drug.kind is Kind.AGONIST for leg in legs)
    names = ("progesterone-with-lh",) if agonist else ("progesterone-rise-times", "progesterone-rise-least")
    reading = Reading(
        result,
        tuple(legs),
        first(legs),
        Says.CARE,
        "",
        expected_progesterone(legs),
        tuple(held[name] for name in names),
        observed(Analyte.PROGESTERONE, legs),
        disputed(Analyte.PROGESTERONE),
    )
    if reading.after < held["progesterone-judged-from"].value:
        return early(reading, held["progesterone-judged-from"], held["progesterone-judged-from"])
    if reading.after > held["progesterone-judged-to"].value:
        return late(reading, held["progesterone-judged-to"], "Ask the prescriber; nothing was measured later.")
    rise = _rise(result, around)
    return _after_agonist(reading, rise, around) if agonist else _after_hcg(reading, rise, around)


class _Rise(StrEnum):
    SEEN = "seen"
    FLAT = "flat"
    BETWEEN = "between"
    UNKNOWN = "unknown"


def _rise(result: Result, around: Around) -> _Rise:
    """Against her own value before the trigger; bounds ("<", ">") leave it between."""
    held, before = around.limits, around.before
    if before is None or before.analyte is not Analyte.PROGESTERONE or before.most is None:
        return _Rise.UNKNOWN
    # Nothing is under one and a half times a value of 0.
    if result.below(held["progesterone-flat-times"].value * before.least) or result.above(before.least) is False:
        return _Rise.FLAT
    enough = max(held["progesterone-rise-times"].value * before.most, held["progesterone-rise-least"].value)
    return _Rise.SEEN if result.below(enough) is False else _Rise.BETWEEN


def _after_agonist(reading: Reading, rise: _Rise, around: Around) -> Reading:
    limit = around.limits["progesterone-with-lh"]
    match reading.result.above(limit.value), rise:
        case None, _:
            return bounded(reading, limit)
        case True, _Rise.FLAT:
            return care(reading, "above the limit, but no more than before the trigger", limit)
        case True, _:
            return replace(reading, says=Says.SUPPORTS, why=f"above {limit.text}")
        case False, _Rise.SEEN:
            return care(reading, f"risen, but not above {limit.text}", limit)
        case _:
            return _no_rise(reading, f"{limit.text} or less", limit)


def _after_hcg(reading: Reading, rise: _Rise, around: Around) -> Reading:
    least = around.limits["progesterone-rise-least"]
    match rise:
        case _Rise.SEEN:
            times = around.limits["progesterone-rise-times"].text
            return replace(reading, says=Says.SUPPORTS, why=f"at least {times} times her own value before the trigger")
        case _Rise.FLAT:
            return _no_rise(
                reading, "no rise over her own value before the trigger", around.limits["progesterone-flat-times"]
            )
        case _Rise.UNKNOWN if reading.result.above(least.value) is False:
            return _no_rise(reading, f"{least.text} or less, as without a trigger", least)
        case _Rise.UNKNOWN:
            return care(reading, "her own value before the trigger is not entered", least)
        case _:
            return care(reading, "the rise is small", least)


def _no_rise(reading: Reading, why: str, limit: Sourced[Any]) -> Reading:
    finding = Finding(
        "progesterone-no-rise",
        Level.ASK,
        f"Progesterone {reading.result} at {reading.after}: {why}.",
        "Tell the prescriber. Look at LH or hCG of the same sample; with few follicles the rise is small.",
        place(reading),
        limit.text,
        limit.cite(),
    )
    return found(reading, Says.AGAINST, why, finding)
