"""The level of hCG: the dose itself. Half of what is expected is asked about, and is no proof of a missed injection."""

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any

from hourmark.finding import Finding, Level
from hourmark.formulary import Kind, Sourced
from hourmark.levels.curves import Body, Leg, about, expected_hcg
from hourmark.levels.figures import Limits, observations
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
from hourmark.quantity import Units, number_text


def read_hcg(result: Result, legs: Sequence[Leg], around: Around) -> Reading:
    """A level of hCG against the hCG that went in."""
    given = tuple(leg for leg in legs if leg.drug.kind is Kind.HCG)
    if not given:
        return unanswered(result, legs)
    held = around.limits
    reading = Reading(
        result,
        given,
        first(given),
        Says.CARE,
        "",
        expected_hcg(given, around.body),
        (held["hcg-none"], held["hcg-very-low"], held["hcg-reassuring"], held["hcg-reassuring-retrieval"]),
        observed(Analyte.HCG, given),
        disputed(Analyte.HCG),
        body=around.body,
    )
    if reading.after < held["hcg-care-from"].value:
        return early(reading, held["hcg-care-from"], held["hcg-judged-from"])
    if not reading.expected:
        return _no_curve(reading, held["hcg-none"])
    return _with_weight(_judged_hcg(reading, around), around)


def _judged_hcg(reading: Reading, around: Around) -> Reading:
    held, result = around.limits, reading.result
    assert reading.band is not None
    if reading.after < held["hcg-judged-from"].value:
        return care(reading, "hCG is still rising", held["hcg-judged-from"])
    if reading.band[0] < held["hcg-none"].value and result.below(held["hcg-none"].value) is not False:
        if reading.after > held["hcg-judged-to"].value:
            return late(
                reading, held["hcg-judged-to"], "Ask the prescriber; such a level may be what is left of the dose."
            )
        return _after_small_dose(reading, held)
    if reading.after > held["hcg-judged-to"].value:
        return care(reading, "half-lives in print differ from there on", held["hcg-judged-to"])
    return _against_dose(reading, around)


def _after_small_dose(reading: Reading, held: Limits) -> Reading:
    """A level under the limit of no dose where that limit lies inside the band: half of the expected level judges it, as above the limit."""
    if reading.result.below(_half(reading, held)):
        return _under_half(reading, held)
    return care(reading, f"after this dose a level under {held['hcg-none'].text} is not unusual", held["hcg-none"])


def _half(reading: Reading, held: Limits) -> Fraction:
    """Half of what is expected, by the curve that expects least."""
    share: Fraction = held["hcg-low-share"].value.value
    return share * Fraction(min(one.median for one in reading.expected))


def _under_half(reading: Reading, held: Limits) -> Reading:
    least = min(one.median for one in reading.expected)
    return _low_hcg(reading, f"under half of the expected {about(least, 'units/L')}", held["hcg-low-share"])


def _against_dose(reading: Reading, around: Around) -> Reading:
    held, result = around.limits, reading.result
    full = _is_full(reading.legs, held)
    half = _half(reading, held)
    most = held["hcg-seen-times"].value * Fraction(max(one.median for one in reading.expected))
    assert reading.band is not None
    top = Fraction(reading.band[1])
    checks = [held["hcg-none"].value, half, most, *([held["hcg-very-low"].value] if full else [])]
    if any(result.below(limit) is None for limit in checks) and not result.below(held["hcg-none"].value):
        return bounded(reading, held["hcg-none"])
    if result.below(held["hcg-none"].value):
        return _none_seen(reading, held["hcg-none"])
    if full and result.below(held["hcg-very-low"].value):
        return _low_hcg(reading, f"under {held['hcg-very-low'].text} after this dose", held["hcg-very-low"])
    if result.below(half):
        return _under_half(reading, held)
    if result.above(most):
        return _above_seen(reading, held["hcg-seen-times"])
    if result.above(top):
        return _high_hcg(reading)
    why = f"at least half of what is expected at {reading.after}, and not above the band"
    settled = replace(reading, says=Says.EXPECTED, why=why)
    return _unsure(settled, held["hcg-reassuring"]) if full and result.below(held["hcg-reassuring"].value) else settled


def _is_full(legs: Sequence[Leg], held: Limits) -> bool:
    units, mass = held["hcg-limits-from-units"].value, held["hcg-limits-from-mass"].value
    return any(leg.dose >= (units if isinstance(leg.dose, Units) else mass) for leg in legs)


def _none_seen(reading: Reading, limit: Sourced[Any]) -> Reading:
    finding = Finding(
        "hcg-none-seen",
        Level.ASK,
        f"hCG {reading.result} at {reading.after}: no effective dose is seen. It was not given, or it was not active.",
        "Tell the prescriber now. Ask what went in, by which route, what is left in the vials, and for a second sample.",
        place(reading),
        f"under {limit.text}",
        limit.cite(),
    )
    return found(reading, Says.NONE, f"under {limit.text}: not given, or not active", finding)


def _low_hcg(reading: Reading, why: str, limit: Sourced[Any]) -> Reading:
    assert reading.band is not None
    under = reading.result.below(Fraction(reading.band[0]))
    people = "It lies under the band as well, and still" if under else "People differ as much: it"
    finding = Finding(
        "hcg-low-for-dose",
        Level.ASK,
        f"hCG {reading.result} at {reading.after} is {why}. {people} is no proof of a missed injection.",
        "Tell the prescriber. Ask for the route, the needle, the mark, leaks, and what is left in the vials.",
        place(reading),
        limit.text if limit.text.endswith("units/L") else f"under {limit.text} of the expected level",
        limit.cite(),
    )
    return found(reading, Says.LOW, why, finding)


def _high_hcg(reading: Reading) -> Reading:
    assert reading.band is not None
    seen = next(one for one in observations() if one.key == "hcg-10000-intramuscular-8h")
    finding = Finding(
        "hcg-high-for-dose",
        Level.NOTE,
        f"hCG {reading.result} at {reading.after} lies above the band, and not above what was seen in people.",
        "Note it beside the dose.",
        place(reading),
        f"band to {about(reading.band[1], 'units/L')}; seen {seen.hours} to {seen.until} after {seen.dose}: {seen.spread} units/L",
        seen.level.cite(),
    )
    return found(reading, Says.HIGH, "above the band, within what was seen in people", finding)


def _above_seen(reading: Reading, limit: Sourced[Any]) -> Reading:
    finding = Finding(
        "hcg-above-seen",
        Level.ASK,
        f"hCG {reading.result} at {reading.after} is more than {limit.text} times the level expected.",
        "Read the unit off the report again. Ask whether more went in than was ordered, and ask the laboratory to repeat it.",
        place(reading),
        f"{limit.text} times the expected level",
        limit.cite(),
    )
    return found(reading, Says.HIGH, f"more than {limit.text} times the level expected", finding)


def _unsure(reading: Reading, limit: Sourced[Any]) -> Reading:
    finding = Finding(
        "hcg-under-reassuring",
        Level.NOTE,
        f"hCG {reading.result} is under {limit.text}. Sources disagree whether that matters.",
        "Show both sources to the prescriber.",
        place(reading),
        limit.text,
        limit.cite(),
    )
    return replace(reading, findings=(*reading.findings, finding))


def _with_weight(reading: Reading, around: Around) -> Reading:
    limit = around.limits["bmi-from"]
    bmi = around.body.bmi
    if bmi is None or bmi < limit.value or not reading.expected:
        return reading
    times = [around.limits[f"bmi-times-{end}"] for end in ("least", "most")]
    unweighted = expected_hcg(reading.legs, Body())
    low = about(min(one.median for one in unweighted) * float(times[0].value))
    high = about(max(one.median for one in unweighted) * float(times[1].value), "units/L")
    finding = Finding(
        "bmi-lowers-level",
        Level.NOTE,
        f"With a body-mass index of {number_text(bmi)}, {low} to {high} may be all that is to be expected; series disagree.",
        "Say it beside the value. Under the skin the level was lower in obese women; 36 in 100 had muscle beyond a 38 mm needle.",
        place(reading),
        f"from {limit.text}, times {times[0].text} to {times[1].text}",
        times[0].cite(),
    )
    return replace(reading, findings=(*reading.findings, finding))


def _no_curve(reading: Reading, none: Sourced[Any]) -> Reading:
    low = reading.result.below(none.value) is not False
    finding = Finding(
        "curve-missing",
        Level.ASK if low else Level.NOTE,
        f"No curve was published for {' and '.join(str(leg) for leg in reading.legs)}: {reading.result} stands alone.",
        "Tell the prescriber now: the value, the dose, the route and the hour."
        if low
        else "Report the value, the dose, the route and the hour to the prescriber.",
        place(reading),
        f"asked under {none.text}",
        none.cite(),
    )
    return found(reading, Says.CARE, "no curve was published for this drug, kind of dose and route", finding)
