"""What a blood level should be at an hour after the injection, by closed form: to read a result against, never to dose by.

Floats are used here and nowhere before a dose: a level is known to a quarter at best.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TypeAlias

from hourmark.clock import Span
from hourmark.finding import Working
from hourmark.formulary import Drug, Kind, Sourced
from hourmark.levels.figures import ParameterSet, constants, parameter_sets
from hourmark.quantity import Dose, Mass, Share, Units, number_text

Curve: TypeAlias = Callable[[float], float]
"""A level at so many hours after the first injection, in units/L or ng/mL."""


@dataclass(frozen=True, slots=True)
class Leg:
    """One injection that went in: what, how much, by which route, and the time elapsed from it to the sample."""

    drug: Drug
    dose: Dose
    route: str
    after: Span

    @property
    def hours(self) -> float:
        """Hours from the injection to the sample."""
        return self.after.minutes / 60

    def __str__(self) -> str:
        """The injection in words: "leuprolide acetate 4 mg subcutaneous"."""
        return f"{self.drug.name} {self.dose} {self.route}"


@dataclass(frozen=True, slots=True)
class Body:
    """What is known of her: weight in kg, body-mass index in kg/m2."""

    weight: Fraction | None = None
    bmi: Fraction | None = None


@dataclass(frozen=True, slots=True)
class Expected:
    """One curve's level at the hour of the sample: the middle, and the band that holds 95 of 100 people, in the analyte's unit."""

    about: str
    median: float
    low: float
    high: float
    working: Working


def hcg_level(dose: float, volume: float, absorption: float, elimination: float, hours: float) -> float:
    """The level of hCG in units/L: dose in units, volume over bioavailability in L, both rates per hour; 0 before the injection.

    One compartment with first-order absorption; the limit for equal rates is dose / volume x rate x t x exp(-rate x t).
    """
    if hours <= 0:
        return 0.0
    if math.isclose(absorption, elimination, rel_tol=1e-9):
        return dose / volume * elimination * hours * math.exp(-elimination * hours)
    swing = math.exp(-elimination * hours) - math.exp(-absorption * hours)
    return dose / volume * absorption / (absorption - elimination) * swing


def lh_level(hours: float) -> float:
    """LH in units/L after one agonist injection: a base and a surge, rate x t x exp(-t / time)."""
    known = constants()
    surge = float(known["surge-rate"].value) * hours * math.exp(-hours * 60 / known["surge-time"].value.minutes)
    return float(known["surge-base"].value) + max(surge, 0.0)


def progesterone_level(hours: float) -> float:
    """Progesterone in ng/mL after hCG by a Gompertz curve through the published points, in women with many follicles."""
    top, displacement, rate = (
        float(constants()[f"progesterone-{name}"].value) for name in ("top", "displacement", "rate")
    )
    return top * math.exp(-displacement * math.exp(-rate * hours))


def units_of(leg: Leg) -> float | None:
    """The international units of hCG whose curve is drawn; None where the dose's kind is not the drug's own.

    Recombinant hCG by its label: about 26 units in a microgram. It serves the curve only; an order is never converted.
    """
    match leg.drug.name, leg.dose:
        case "chorionic gonadotropin", Units(value=units):
            return float(units)
        case "choriogonadotropin alfa", Mass(value=micrograms):
            return float(micrograms * constants()["units-per-microgram"].value)
        case _:
            return None


def sets_for(leg: Leg) -> tuple[ParameterSet, ...]:
    """The parameter sets for this drug by this route; none where no level was published."""
    if units_of(leg) is None:
        return ()
    return tuple(one for one in parameter_sets() if one.drug == leg.drug.name and leg.route in one.routes)


def scaled(one: ParameterSet, weight: Fraction | None) -> tuple[float, float, float]:
    """Volume in L, absorption and elimination per hour, for a weight in kg; as they stand without one.

    Volume grows with weight and clearance with its power of 0.75: found for follicle-stimulating hormone, an assumption for hCG.
    """
    volume, absorption, elimination = (float(one.fact(name).value) for name in ("volume", "absorption", "elimination"))
    if weight is None:
        return volume, absorption, elimination
    known = constants()
    times = float(weight / known["weight-reference"].value)
    on_volume, on_clearance = (times ** float(known[f"weight-on-{name}"].value) for name in ("volume", "clearance"))
    return volume * on_volume, absorption, elimination * on_clearance / on_volume


def expected_hcg(legs: Sequence[Leg], body: Body) -> tuple[Expected, ...]:
    """The hCG expected at the hour of the sample, by every choice of parameter set; several injections add up.

    Empty when any injection has no published curve: a part of the sum would be a guess.
    """
    choices = [sets_for(leg) for leg in legs]
    if not choices or not all(choices):
        return ()
    # A drug with one set has it beside each set of another drug.
    longest = max(map(len, choices))
    return tuple(_together(legs, [one[min(place, len(one) - 1)] for one in choices], body) for place in range(longest))


def _together(legs: Sequence[Leg], sets: Sequence[ParameterSet], body: Body) -> Expected:
    parts = [_one(leg, one, body) for leg, one in zip(legs, sets, strict=True)]
    if len(parts) == 1:
        return parts[0]
    median, low, high = (sum(ends) for ends in zip(*((one.median, one.low, one.high) for one in parts), strict=True))
    inputs = tuple(
        (f"{leg}, {leg.after} before", part.working.result, part.about) for leg, part in zip(legs, parts, strict=True)
    )
    result = f"{about(median, 'units/L')}, band {about(low)} to {about(high)}"
    working = Working("expected hCG", "the sum of the injections' own curves", inputs, result)
    return Expected(" and ".join(part.about for part in parts), median, low, high, working)


def _one(leg: Leg, one: ParameterSet, body: Body) -> Expected:
    volume, absorption, elimination = scaled(one, body.weight)
    units = units_of(leg)
    assert units is not None
    median = hcg_level(units, volume, absorption, elimination, leg.hours)
    low, high = _band(median, one.fact("spread"))
    inputs = [
        ("D", f"{leg.dose}" + ("" if isinstance(leg.dose, Units) else f", about {units:,.0f} units"), "what went in"),
        ("V/F", f"{volume:.3g} L", one.fact("volume").cite()),
        ("ka", f"{absorption:.3g} per h", one.fact("absorption").cite()),
        ("ke", f"{elimination:.3g} per h", one.fact("elimination").cite()),
        ("t", str(leg.after), "injection to sample"),
        ("weight", _weight(body), constants()["weight-reference"].cite()),
        ("spread between people", one.fact("spread").text, one.fact("spread").cite()),
    ]
    formula = "D / (V/F) x ka / (ka - ke) x (exp(-ke t) - exp(-ka t))"
    result = f"{about(median, 'units/L')}, band {about(low)} to {about(high)}"
    return Expected(one.about, median, low, high, Working(f"expected hCG, {one.about}", formula, tuple(inputs), result))


def _weight(body: Body) -> str:
    if body.weight is None:
        return f"not entered: the curve of {constants()['weight-reference'].text} as it stands"
    return f"{number_text(body.weight)} kg, against {constants()['weight-reference'].text}"


def expected_lh(legs: Sequence[Leg]) -> tuple[Expected, ...]:
    """LH at the hour of the sample after an agonist under the skin; empty for other routes and for several injections."""
    if len(legs) != 1 or legs[0].drug.kind is not Kind.AGONIST or legs[0].route != "subcutaneous":
        return ()
    known = constants()
    median = lh_level(legs[0].hours)
    low, high = _band(median, known["surge-spread"])
    names = ("surge-base", "surge-rate", "surge-time", "surge-spread")
    inputs = (*((name, known[name].text, known[name].cite()) for name in names), ("t", str(legs[0].after), "to sample"))
    result = f"{about(median, 'units/L')}, band {about(low)} to {about(high)}"
    return (
        Expected(
            "LH after one agonist injection",
            median,
            low,
            high,
            Working("expected LH", "base + rate x t x exp(-t / time)", inputs, result),
        ),
    )


def expected_progesterone(legs: Sequence[Leg]) -> tuple[Expected, ...]:
    """Progesterone at the hour of the sample after hCG; the curve has no band, because 11 women give none.

    Empty where no hCG went in.
    """
    given = [leg for leg in legs if leg.drug.kind is Kind.HCG]
    if not given:
        return ()
    first = max(given, key=lambda leg: leg.after)
    median = progesterone_level(first.hours)
    names = ("progesterone-top", "progesterone-displacement", "progesterone-rate")
    inputs = (
        *((name, constants()[name].text, constants()[name].cite()) for name in names),
        ("t", str(first.after), "to sample"),
    )
    working = Working(
        "progesterone in 11 women", "top x exp(-displacement x exp(-rate t))", inputs, about(median, "ng/mL")
    )
    return (Expected("progesterone after hCG, 11 women with many follicles", median, median, median, working),)


def failed_surge(hours: float) -> float:
    """The most LH in units/L that a failed surge leaves, for the picture: base and a tenth of the surge."""
    base = float(constants()["surge-base"].value)
    return base + float(constants()["surge-failed-most"].value) * (lh_level(hours) - base)


def falls_below(curve: Curve, limit: float, last: float = 1000.0) -> float | None:
    """The hour from which a curve that rises once and falls stays below `limit`; None when it does not by `last` hours."""
    steps = [hour / 4 for hour in range(1, int(last * 4) + 1)]
    above = [hour for hour in steps if curve(hour) >= limit]
    if not above:
        return 0.0
    low, high = above[-1], above[-1] + 0.25
    if low >= last:
        return None
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if curve(middle) >= limit else (low, middle)
    return high


def slow_tail(level: float, limit: float) -> float:
    """The hours after the injection at which a level measured at 36 h has fallen to `limit` by the slowest half-life published."""
    known = constants()
    start: float = known["tail-from"].value.minutes / 60
    return start + max(0.0, math.log(level / limit)) / float(known["tail-elimination"].value)


def band_factor(spread: Share) -> float:
    """How many times the band's upper end is its middle: exp(z sigma), log-normal, from a coefficient of variation."""
    variation = float(spread.value)
    return math.exp(float(constants()["band-width"].value) * math.sqrt(math.log(1 + variation**2)))


def _band(median: float, spread: Sourced[Share]) -> tuple[float, float]:
    times = band_factor(spread.value)
    return median / times, median * times


def about(value: float, unit: str = "") -> str:
    """A level as printed: three digits at most, always "about"."""
    places = 0 if value >= 99.95 else 1 if value >= 1 else 2
    whole, point, part = f"{value:,.{places}f}".partition(".")
    part = part.rstrip("0")
    return f"about {whole}{point if part else ''}{part}" + (f" {unit}" if unit else "")
