"""Laws that hold whatever the dose, hour, weight and result: no printed source, they follow from what the words mean."""

import math
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from hourmark.clock import Span
from hourmark.finding import Level
from hourmark.formulary import Kind, drug
from hourmark.levels import (
    Analyte,
    Body,
    Doubt,
    Leg,
    ParameterSet,
    Reading,
    Result,
    Says,
    expected_hcg,
    falls_below,
    hcg_level,
    lh_level,
    parameter_sets,
    progesterone_level,
    read_level,
    read_sample,
    scaled,
)
from hourmark.quantity import Mass, Units

HOURS = st.integers(1, 336 * 60).map(Span)
UNITS = st.integers(1_000, 15_000).map(lambda units: Units(Fraction(units)))
MICROGRAMS = st.sampled_from((250, 500)).map(lambda mass: Mass(Fraction(mass)))
ROUTES = st.sampled_from(("subcutaneous", "intramuscular"))
URINARY = st.builds(Leg, st.just(drug("chorionic gonadotropin")), UNITS, ROUTES, HOURS)
RECOMBINANT = st.builds(Leg, st.just(drug("choriogonadotropin alfa")), MICROGRAMS, st.just("subcutaneous"), HOURS)
AGONIST = st.builds(
    Leg, st.just(drug("triptorelin acetate")), st.just(Mass(Fraction(200), "mg")), st.just("subcutaneous"), HOURS
)
HCG = st.one_of(URINARY, RECOMBINANT)
WEIGHTS = st.integers(40, 160).map(Fraction)
LEVELS = st.fractions(0, 900, max_denominator=100)


def exact(analyte: Analyte, level: Fraction) -> Result:
    return Result(analyte, level, level, f"{analyte} {level}")


@given(HCG, WEIGHTS)
def test_the_band_contains_its_curve(leg: Leg, weight: Fraction) -> None:
    for one in expected_hcg([leg], Body(weight)):
        assert 0 < one.low < one.median < one.high


@given(HCG, st.integers(2, 5))
def test_twice_the_dose_is_twice_the_level(leg: Leg, times: int) -> None:
    more = Leg(leg.drug, leg.dose * times, leg.route, leg.after)
    for one, other in zip(expected_hcg([leg], Body()), expected_hcg([more], Body()), strict=True):
        assert abs(other.median / one.median - times) < 1e-9


@given(URINARY, WEIGHTS, WEIGHTS)
def test_until_the_peak_a_heavier_body_has_less(leg: Leg, one: Fraction, other: Fraction) -> None:
    lighter, heavier = sorted((one, other))
    early = Leg(leg.drug, leg.dose, leg.route, min(leg.after, Span(24 * 60)))
    assert expected_hcg([early], Body(heavier))[0].median <= expected_hcg([early], Body(lighter))[0].median


@given(st.lists(URINARY, min_size=2, max_size=4))
def test_injections_add_up_in_any_order(legs: list[Leg]) -> None:
    total = expected_hcg(legs, Body())[0].median
    assert abs(total - sum(expected_hcg([leg], Body())[0].median for leg in legs)) < 1e-6
    assert abs(total - expected_hcg(legs[::-1], Body())[0].median) < 1e-6


@given(st.floats(1, 300), st.floats(0.05, 1), st.floats(0.005, 0.04), st.floats(0, 300), st.floats(0, 300))
def test_hcg_rises_to_one_peak_and_falls(
    volume: float, absorption: float, elimination: float, one: float, other: float
) -> None:
    peak = math.log(absorption / elimination) / (absorption - elimination)
    first, second = sorted((one, other))
    levels = [hcg_level(5000, volume, absorption, elimination, hour) for hour in (first, second)]
    assert all(level >= 0 for level in levels)
    if second <= peak:
        assert levels[0] <= levels[1] * (1 + 1e-9)
    if first >= peak:
        assert levels[0] * (1 + 1e-9) >= levels[1]


@given(st.floats(4, 100), st.floats(0, 60))
def test_lh_falls_after_its_peak_and_progesterone_only_rises(hour: float, more: float) -> None:
    assert lh_level(hour + more) <= lh_level(hour) + 1e-9
    assert progesterone_level(hour + more) >= progesterone_level(hour) - 1e-9


@given(st.sampled_from(parameter_sets()), st.integers(1_000, 15_000), st.integers(1, 60))
def test_where_it_falls_below_is_where_it_does(one: ParameterSet, dose: int, limit: int) -> None:
    def curve(hours: float) -> float:
        return hcg_level(dose, *scaled(one, None), hours)

    hour = falls_below(curve, limit, last=600)
    assert hour is not None
    assert all(curve(later) < limit for later in (hour + 0.01, hour + 1, hour + 100))
    assert hour == 0 or abs(curve(hour) - limit) < 1e-6


@given(HCG, LEVELS, LEVELS)
def test_more_in_the_blood_never_reads_as_less(leg: Leg, one: Fraction, other: Fraction) -> None:
    order = [Says.NONE, Says.LOW, Says.EXPECTED, Says.HIGH]
    low, high = sorted((one, other))
    says = [read_level(exact(Analyte.HCG, level), [leg]) for level in (low, high)]
    judged = [order.index(found.says) for found in says if isinstance(found, Reading) and found.says in order]
    assert judged == sorted(judged)


@given(HCG, LEVELS)
def test_no_dose_is_only_said_under_ten_units_inside_the_hours_and_under_the_band(leg: Leg, level: Fraction) -> None:
    found = read_level(exact(Analyte.HCG, level), [leg])
    assert isinstance(found, Reading)
    if found.says is Says.NONE:
        assert level < 10
        assert Span(8 * 60) <= leg.after <= Span(36 * 60)
        assert found.band is not None
        assert found.band[0] >= 10


@given(AGONIST, LEVELS, LEVELS)
def test_too_small_a_surge_is_only_said_inside_the_window(leg: Leg, lh: Fraction, progesterone: Fraction) -> None:
    results = [exact(Analyte.LH, lh), *([exact(Analyte.PROGESTERONE, progesterone)] if progesterone <= 500 else [])]
    found = read_sample(results, [leg])
    reading = next(one for one in found.readings if one.result.analyte is Analyte.LH)
    inside = Span(8 * 60) <= leg.after <= Span(14 * 60)
    if reading.says in (Says.FAILED, Says.LOW):
        assert inside
        assert lh < 15
    if inside and lh < 15:
        assert reading.says is (Says.FAILED if len(results) == 2 and progesterone <= Fraction("3.5") else Says.LOW)
    if leg.after < Span(2 * 60):
        assert reading.says is Says.EARLY
    if leg.after >= Span(18 * 60):
        assert reading.says is Says.LATE


@given(HCG, AGONIST, LEVELS, LEVELS)
def test_it_reports_and_never_stops(hcg: Leg, agonist: Leg, one: Fraction, other: Fraction) -> None:
    found = read_sample([exact(Analyte.HCG, one), exact(Analyte.LH, other)], [hcg, agonist])
    assert len(found.readings) == len(found.legs) == 2
    assert all(finding.level is not Level.STOP for finding in found.findings)


@given(HCG, st.sampled_from(list(Analyte)), LEVELS)
def test_before_the_injection_nothing_is_read(leg: Leg, analyte: Analyte, level: Fraction) -> None:
    before = Leg(leg.drug, leg.dose, leg.route, Span(-leg.after.minutes))
    assert read_sample([exact(analyte, min(level, Fraction(500)))], [before]).readings == ()


DOUBTS = st.dictionaries(st.sampled_from((Kind.AGONIST, Kind.HCG)), st.sampled_from(list(Doubt)), min_size=1)
ANSWERS_FOR = {Analyte.LH: {Kind.AGONIST}, Analyte.HCG: {Kind.HCG}, Analyte.PROGESTERONE: {Kind.AGONIST, Kind.HCG}}


@given(st.lists(st.one_of(HCG, AGONIST), max_size=3), st.sampled_from(list(Analyte)), LEVELS, DOUBTS)
def test_of_what_is_not_known_nothing_calm_is_said_and_of_all_else_the_same_as_before(
    legs: list[Leg], analyte: Analyte, level: Fraction, doubts: dict[Kind, Doubt]
) -> None:
    result = exact(analyte, min(level, Fraction(500)))
    found, known = read_sample([result], legs, doubts=doubts), read_sample([result], legs)
    asked = [one for one in found.findings if one.code == "injection-not-known"]
    if ANSWERS_FOR[analyte].isdisjoint(doubts):
        assert [(one.says, one.why) for one in found.readings] == [(one.says, one.why) for one in known.readings]
        assert asked == []
        return
    assert [one.level for one in asked] == [Level.ASK]
    for one in found.readings:
        assert one.says not in (Says.EXPECTED, Says.HIGH, Says.SUPPORTS, Says.SILENT)
        assert "it is not known" in one.why
        assert "none went in" not in one.why
