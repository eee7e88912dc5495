"""What is asked again with the reason, and of which nothing is computed."""

import pytest

from hourmark.finding import Finding, Level
from hourmark.formulary import drug
from hourmark.levels import Reading, impossible, parse_result, read_level, usable
from tests.levels.people import agonist, leg, sample, urinary


@pytest.mark.parametrize(
    "text",
    ["LH 1,001 IU/L", "LH >1,001 IU/L", "hCG 1,000,001 mIU/mL", "progesterone 501 ng/mL", "progesterone 1,600 nmol/L"],
)
def test_a_result_that_no_assay_gives_is_asked_about(text: str) -> None:
    """Limits by common practice, no source."""
    result = parse_result(text)
    found = read_level(result, [agonist("12 h"), urinary("10,000 units", "12 h")])
    assert isinstance(found, Finding)
    assert (found.code, found.level) == ("result-no-assay", Level.ASK)
    assert "Nothing was read" in found.do
    assert sample(text, agonist("12 h")).readings == ()


@pytest.mark.parametrize(
    "text", ["LH 1,000 IU/L", "LH 0 IU/L", "hCG 1,000,000 IU/L", "progesterone 500 ng/mL", "hCG >1,000 IU/L"]
)
def test_what_an_assay_may_give_is_read(text: str) -> None:
    assert impossible(parse_result(text)) is None


def test_a_sample_before_the_injection_is_asked_about() -> None:
    found = read_level(parse_result("hCG 4 IU/L"), [urinary("10,000 units", "-2 h 5 min")])
    assert isinstance(found, Finding)
    assert (found.code, found.level) == ("sample-before-injection", Level.ASK)
    assert "2 h 5 min before" in found.what
    whole = sample("hCG 4 IU/L; progesterone 0.9 ng/mL", urinary("10,000 units", "-1 min"))
    assert whole.readings == ()
    assert whole.legs == ()
    assert [finding.code for finding in whole.findings] == ["sample-before-injection"]


def test_a_sample_in_the_minute_of_the_injection_is_too_early() -> None:
    whole = sample("hCG 4 IU/L", urinary("10,000 units", "0 min"))
    assert [answer.says for answer in whole.legs] == ["too early to judge"]
    assert [finding.code for finding in whole.findings] == ["level-too-early"]


def test_only_the_injection_after_the_sample_is_left_out() -> None:
    """A double trigger with the sample between its two injections: the first is read, the second asked about."""
    whole = sample("LH 60 IU/L; hCG 2 IU/L", agonist("9 h"), urinary("10,000 units", "-1 h"))
    assert [answer.leg.drug.name for answer in whole.legs] == ["triptorelin acetate"]
    assert {finding.code for finding in whole.findings} == {"sample-before-injection", "level-of-no-injection"}
    assert [reading.says for reading in whole.readings if reading.result.analyte == "LH"] == ["as expected"]


def test_a_wrong_value_from_before_is_asked_about_and_left_out() -> None:
    whole = sample("progesterone 5 ng/mL", urinary("10,000 units", "12 h"), before="progesterone 900 ng/mL")
    assert {finding.code for finding in whole.findings} == {"result-no-assay", "level-with-care"}


def test_an_antagonist_is_no_trigger() -> None:
    found = usable(drug("ganirelix"), "subcutaneous")
    assert found is not None
    assert (found.code, found.level) == ("level-no-trigger", Level.ASK)
    assert usable(drug("buserelin"), "nasal") is None


def test_a_recombinant_dose_in_units_gets_no_curve() -> None:
    """The strength is stated in micrograms (EU leaflet of choriogonadotropin alfa, section 3); nothing is converted."""
    found = read_level(parse_result("hCG 100 IU/L"), [leg("choriogonadotropin alfa, 6,500 units, subcutaneous, 12 h")])
    assert isinstance(found, Reading)
    assert found.expected == ()
    assert [finding.code for finding in found.findings] == ["curve-missing"]
