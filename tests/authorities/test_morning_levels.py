"""Levels of the morning after the trigger, read against the papers:

- Meyer 2015, Fertil Steril 104:637; Kummer 2013, Hum Reprod 28:152; Vuong 2016, Fertil Steril 105:356; Fauser 2002, J Clin Endocrinol
  Metab 87:709: LH and progesterone after an agonist;
- Ndukwe 1996, Fertil Steril 66:845; Gunnala 2017, PLoS ONE 12:e0176019; congress abstract on 174 cycles: hCG;
- early luteal progesterone after hCG, 11 women, Gompertz fit; Damewood 1989, Fertil Steril 52:398: the slow tail.

Ids: M limits and vectors derived from these papers, FC worked rows. A part after the point tells cases of one row apart.
"""

import math
from fractions import Fraction

import pytest

from hourmark.clock import parse_span
from hourmark.formulary import drug
from hourmark.levels import Body, Leg, Says, constants, expected_hcg, limits, parse_result, read_sample, slow_tail
from hourmark.quantity import parse_dose, parse_number

AGONIST = "triptorelin acetate, 0.2 mg, subcutaneous"
URINARY = "chorionic gonadotropin, 10,000 units, intramuscular"
RECOMBINANT = "choriogonadotropin alfa, 250 mcg, subcutaneous"
LEUPROLIDE = "leuprolide acetate, 1 mg, subcutaneous"
LOW_DOSE = "chorionic gonadotropin, 1,500 units, subcutaneous"

SURGE = "Meyer 2015, Fertil Steril 104:637; Kummer 2013, Hum Reprod 28:152"
WINDOW = "derived from Fauser 2002 (peak at 4 h) and Vuong 2016 (7 to 10 units/L by 24 h)"
EMPTY = "Ndukwe 1996, Fertil Steril 66:845: empty retrievals 0 to 9 units/L"
SCALE = "Gunnala 2017, PLoS ONE 12:e0176019"
MORNINGS = "congress abstract, 174 cycles: mean 191, SD 108, range 47 to 647 units/L"
LUTEAL = "derived from early luteal progesterone after hCG, 11 women"


def leg(text: str, after: str) -> Leg:
    name, dose, route = text.split(", ")
    return Leg(drug(name), parse_dose(dose), route, parse_span(after))


@pytest.mark.parametrize(
    ("name", "value", "source"),
    [
        pytest.param("lh-low", "15", SURGE, id="M-lh_fail.limit"),
        pytest.param("progesterone-with-lh", "3.5", SURGE, id="M-p4_support.agonist"),
        pytest.param("progesterone-rise-times", "2", LUTEAL, id="M-p4_support.times"),
        pytest.param("progesterone-rise-least", "1.5", LUTEAL, id="M-p4_support.least"),
        pytest.param("hcg-none", "10", EMPTY, id="M-hcg_none.none"),
        pytest.param("hcg-very-low", "20", SCALE, id="M-hcg_none.very-low"),
        pytest.param("hcg-reassuring", "50", SCALE, id="M-hcg_none.reassuring"),
        pytest.param("bmi-times-least", "0.6", "derived from Shah 2014 and Chan 2003", id="M-hcg_expected.bmi-least"),
        pytest.param("bmi-times-most", "0.8", "derived from Shah 2014 and Chan 2003", id="M-hcg_expected.bmi-most"),
    ],
)
def test_limits(name: str, value: str, source: str) -> None:
    assert limits()[name].value == parse_number(value), source


@pytest.mark.parametrize(
    ("name", "hours", "source"),
    [
        pytest.param("lh-care-from", "2 h", WINDOW, id="M-lh_fail.care-from"),
        pytest.param("lh-judged-from", "8 h", WINDOW, id="M-lh_fail.from"),
        pytest.param("lh-judged-to", "14 h", WINDOW, id="M-lh_fail.to"),
        pytest.param("lh-care-to", "18 h", WINDOW, id="M-lh_fail.care-to"),
        pytest.param("progesterone-judged-from", "8 h", LUTEAL, id="M-p4_support.from"),
    ],
)
def test_hours_in_which_they_hold(name: str, hours: str, source: str) -> None:
    assert limits()[name].value == parse_span(hours), source


@pytest.mark.parametrize(
    ("given", "level", "source"),
    [
        pytest.param(
            "chorionic gonadotropin, 1,000 units, intramuscular",
            22.1,
            "derived from Stelling 2003",
            id="M-hcg_expected.urinary",
        ),
        pytest.param(
            RECOMBINANT, 110, "derived from the US label of choriogonadotropin alfa", id="M-hcg_expected.recombinant"
        ),
    ],
)
def test_expected_at_12_hours(given: str, level: float, source: str) -> None:
    for one in expected_hcg([leg(given, "12 h")], Body()):
        assert one.median == pytest.approx(level, rel=0.01), source


@pytest.mark.parametrize(
    ("given", "after", "results", "says", "source"),
    [
        pytest.param(
            [AGONIST], "12 h", "LH 9 IU/L; progesterone 1.1 ng/mL", [Says.FAILED], SURGE, id="M-v-labs.failed"
        ),
        pytest.param([AGONIST], "24 h", "LH 9 IU/L; progesterone 6 ng/mL", [Says.SUPPORTS], WINDOW, id="M-v-labs.late"),
        pytest.param([AGONIST], "17 h", "LH 12 IU/L", [Says.CARE], WINDOW, id="M-v-labs.care"),
        pytest.param(
            [LEUPROLIDE, LOW_DOSE],
            "11 h",
            "LH 48 IU/L; hCG 27 IU/L; progesterone 5 ng/mL",
            [Says.EXPECTED, Says.EXPECTED],
            f"{SURGE}; {MORNINGS}",
            id="M-v-labs.dual",
        ),
        pytest.param(
            [RECOMBINANT], "11 h", "hCG 4 IU/L; progesterone 0.9 ng/mL", [Says.NONE], EMPTY, id="M-v-labs.none"
        ),
        pytest.param([URINARY], "11 h", "hCG 70 IU/L", [Says.LOW], MORNINGS, id="M-v-labs.low"),
        pytest.param([URINARY], "11 h", "hCG 640 IU/L", [Says.HIGH], MORNINGS, id="M-v-labs.high"),
    ],
)
def test_vectors(given: list[str], after: str, results: str, says: list[Says], source: str) -> None:
    found = read_sample(
        [parse_result(one) for one in results.split("; ")], [leg(one, after) for one in given], Body(bmi=Fraction(38))
    )
    assert [one.says for one in found.legs] == says, source
    if says == [Says.HIGH]:
        assert "hcg-above-seen" not in {finding.code for finding in found.findings}, source


@pytest.mark.parametrize(
    ("rate", "days", "source"),
    [
        pytest.param("urinary-intramuscular.elimination", 7.7, "half-life of 33 h, derived", id="FC69.33h"),
        pytest.param("tail-elimination", 13.0, "Damewood 1989: half-life of 2.32 days", id="FC69.tail"),
    ],
)
def test_from_240_at_24_hours_to_5(rate: str, days: float, source: str) -> None:
    assert math.log(240 / 5) / float(constants()[rate].value) / 24 == pytest.approx(days, abs=0.05), source


@pytest.mark.parametrize(
    ("share", "source"),
    [pytest.param(0.05, "Damewood 1989: under a tenth by day 10, half-life of 2.32 days", id="FC70")],
)
def test_ten_days_after_36_hours(share: float, source: str) -> None:
    assert slow_tail(209, 209 * share) == pytest.approx(36 + 240, rel=0.01), source
