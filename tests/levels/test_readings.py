"""Worked readings: what each injection's answer is, and that the evidence is never overstated."""

import pytest

from hourmark.finding import Level
from hourmark.formulary import Kind
from hourmark.levels import Around, Doubt, Leg, Reading, Says, about, parse_result, read_level, read_sample
from hourmark.levels.figures import limits
from tests.levels.people import agonist, leg, recombinant, sample, urinary
from tests.levels.worked import CARE, EXPECTED, HIGH, LOW, NONE, WORKED, Worked

FINDINGS = {
    "lh-failed-pattern": Level.ASK,
    "lh-low-after-agonist": Level.ASK,
    "hcg-none-seen": Level.ASK,
    "hcg-low-for-dose": Level.ASK,
    "hcg-above-seen": Level.ASK,
    "progesterone-no-rise": Level.ASK,
    "levels-contradict": Level.ASK,
    "result-bounded": Level.ASK,
    "level-with-care": Level.WARN,
    "level-too-early": Level.NOTE,
    "level-too-late": Level.NOTE,
    "level-of-no-injection": Level.NOTE,
    "hcg-high-for-dose": Level.NOTE,
    "hcg-under-reassuring": Level.NOTE,
    "bmi-lowers-level": Level.NOTE,
    "lh-cross-reaction": Level.NOTE,
    "curve-missing": Level.NOTE,
    "injection-not-known": Level.ASK,
}


@pytest.mark.parametrize("one", WORKED, ids=[one.id for one in WORKED])
def test_worked(one: Worked) -> None:
    found = sample(one.results, *map(leg, one.injections), bmi=one.bmi, before=one.before, unreported=one.unreported)
    assert tuple(str(answer.says) for answer in found.legs) == one.says, one.source
    assert {finding.code: finding.level for finding in found.findings} == {code: FINDINGS[code] for code in one.codes}


def test_every_finding_is_worked() -> None:
    assert {code for one in WORKED for code in one.codes} == set(FINDINGS)


_WEIGHS = [HIGH, EXPECTED, CARE, LOW, NONE]


@pytest.mark.parametrize("hours", [8, 9, 12, 24, 36])
@pytest.mark.parametrize("dose", ["500 units", "1,000 units", "1,500 units", "3,300 units", "10,000 units"])
@pytest.mark.parametrize("route", ["subcutaneous", "intramuscular"])
def test_a_lower_level_never_weighs_less(dose: str, route: str, hours: int) -> None:
    """Half of the expected level is asked about whatever the dose (174 cycles), and under 10 units/L too where that is under the band (Ndukwe 1996)."""
    given = urinary(dose, f"{hours} h", route)
    half = sample("hCG 0 IU/L", given).readings[0].expected[0].median / 2
    levels = [*range(31), *(tenth / 10 for tenth in range(60, 120))]
    said = [(level, sample(f"hCG {level} IU/L", given).readings[0].says) for level in sorted(levels)]
    weights = [_WEIGHS.index(says) for _, says in said]
    assert weights == sorted(weights, reverse=True)
    assert all(says in (Says.LOW, Says.NONE) for level, says in said if level < half)


@pytest.mark.parametrize(
    ("result", "given", "words"),
    [
        (
            "hCG 0 IU/L",
            urinary("1,000 units", "12 h", "subcutaneous"),
            "It lies under the band as well, and still is no",
        ),
        ("hCG 15 IU/L", urinary("10,000 units", "12 h"), "It lies under the band as well, and still is no proof"),
        ("hCG 9 IU/L", urinary("1,000 units", "12 h", "subcutaneous"), "People differ as much: it is no proof"),
        ("hCG 100 IU/L", urinary("10,000 units", "12 h"), "People differ as much: it is no proof"),
    ],
)
def test_people_are_not_said_to_differ_as_much_under_the_band(result: str, given: Leg, words: str) -> None:
    """The band holds the middle 95 of 100 people, from a standard deviation of 108 around 191 (174 cycles)."""
    assert words in sample(result, given).readings[0].findings[0].what


@pytest.mark.parametrize(
    ("level", "words"),
    [
        (0.0, "0"),
        (0.1, "0.1"),
        (0.25, "0.25"),
        (0.5, "0.5"),
        (0.996, "1"),
        (1.04, "1"),
        (10.0, "10"),
        (20.5, "20.5"),
        (99.96, "100"),
        (1000.0, "1,000"),
    ],
)
def test_a_level_is_printed_without_a_trailing_zero(level: float, words: str) -> None:
    """Joint Commission do-not-use list: a trailing zero is read as ten times as much where the point is lost."""
    assert about(level) == f"about {words}"


@pytest.mark.parametrize("hours", [*range(2, 8), *range(15, 18)])
def test_outside_its_window_low_lh_is_read_with_care_and_never_failed(hours: int) -> None:
    """The limit of 15 units/L is for about 8 to 14 h (Fauser 2002 and Vuong 2016); LH 12 at 17 h is the case in point."""
    found = sample("LH 12 IU/L; progesterone 1.1 ng/mL" if hours >= 8 else "LH 12 IU/L", agonist(f"{hours} h"))
    lh = found.readings[0]
    assert lh.says is Says.CARE
    assert {finding.code for finding in lh.findings} == {"level-with-care"}
    assert not {"lh-failed-pattern", "lh-low-after-agonist"} & {finding.code for finding in found.findings}


@pytest.mark.parametrize(("after", "limit"), [("7 h", "8 h"), ("15 h", "14 h")])
def test_the_end_of_the_window_that_was_passed_is_named(after: str, limit: str) -> None:
    (finding,) = sample("LH 12 IU/L", agonist(after)).findings
    assert finding.limit == limit


def test_a_curve_without_a_published_spread_has_no_band() -> None:
    """Early luteal study, 11 women: points and a fit, no spread."""
    (found,) = sample("progesterone 4.8 ng/mL", recombinant("12 h")).readings
    assert found.expected
    assert found.band is None


def test_the_order_in_which_results_are_entered_changes_nothing() -> None:
    one = sample("progesterone 5 ng/mL; LH 48 IU/L", agonist("12 h"))
    other = sample("LH 48 IU/L; progesterone 5 ng/mL", agonist("12 h"))
    assert one.legs == other.legs
    assert one.legs[0].says is Says.EXPECTED


def test_progesterone_speaks_for_one_injection_only_where_it_is_alone() -> None:
    alone = sample("progesterone 5 ng/mL", agonist("12 h"), recombinant("-1 h"))
    assert [answer.says for answer in alone.legs] == [Says.SUPPORTS]
    both = sample("progesterone 5 ng/mL", agonist("12 h"), recombinant("0 min"))
    assert [answer.says for answer in both.legs] == [Says.SILENT, Says.SILENT]


def test_a_high_level_names_the_series_in_which_it_was_seen() -> None:
    (finding,) = sample("hCG 640 IU/L", urinary("10,000 units", "11 h")).findings
    assert finding.source is not None
    assert "174 cycles" in finding.source
    assert "47 to 647" in str(finding.limit)


def test_nothing_says_missed() -> None:
    """A level of half the expected one lies inside the range seen (47 to 647 around 191, 174 cycles)."""
    for one in WORKED:
        found = sample(one.results, *map(leg, one.injections), bmi=one.bmi, before=one.before)
        said = [finding.what + finding.do for finding in found.findings] + [answer.why for answer in found.legs]
        for text in said:
            assert "missed" not in text.replace("no proof of a missed injection", "")
    assert all("missed" not in says for says in Says)


def test_low_with_a_high_body_mass_index_says_what_may_be_all_there_is() -> None:
    """Shah 2014 and Chan 2003: times 0.6 to 0.8 of about 215 units/L at 11 h."""
    found = sample("hCG 70 IU/L", urinary("10,000 units", "11 h"), bmi="38")
    said = next(finding for finding in found.findings if finding.code == "bmi-lowers-level")
    assert "about 129 to about 172 units/L" in said.what
    low = next(finding for finding in found.findings if finding.code == "hcg-low-for-dose")
    assert "route" in low.do
    assert "needle" in low.do
    codes = {finding.code for finding in sample("hCG 70 IU/L", urinary("10,000 units", "11 h"), bmi="29.9").findings}
    assert codes == {"hcg-low-for-dose"}


def test_both_sets_of_recombinant_hcg_are_shown_and_none_is_averaged() -> None:
    found = sample("hCG 91.35 IU/L", recombinant("11 h")).readings[0]
    assert [one.about for one in found.expected] == [
        "recombinant hCG, half-life 29 h",
        "recombinant hCG, half-life 38.5 h",
    ]
    assert found.band == (min(one.low for one in found.expected), max(one.high for one in found.expected))


def test_sides_that_disagree_are_all_shown() -> None:
    readings = sample("LH 48 IU/L; hCG 95 IU/L; progesterone 5 ng/mL", agonist("11 h"), recombinant("11 h")).readings
    shown = {one.key: len(one.sides) for reading in readings for one in reading.disagreements}
    assert shown == {
        "lh-limit": 3,
        "hcg-level": 4,
        "hcg-route": 3,
        "hcg-weight": 3,
        "hcg-tail": 4,
        "progesterone-next-day": 2,
    }


def test_two_injections_of_hcg_add_up() -> None:
    both = sample("hCG 200 IU/L", urinary("5,000 units", "24 h"), urinary("5,000 units", "12 h")).readings[0]
    alone = [sample("hCG 200 IU/L", one).readings[0].expected[0] for one in both.legs]
    assert both.expected[0].median == pytest.approx(sum(one.median for one in alone))
    assert both.after.minutes == 24 * 60


@pytest.mark.parametrize(("first", "second"), [("12 h", "2 h"), ("24 h", "12 h"), ("36 h", "24 h")])
def test_several_agonist_injections_are_read_with_care(first: str, second: str) -> None:
    found = sample("LH 40 IU/L", agonist(first), agonist(second))
    assert found.readings[0].says is Says.CARE
    assert "several" in found.readings[0].why


@pytest.mark.parametrize(
    ("result", "level"), [("hCG 9 IU/L", Level.ASK), ("hCG <20 IU/L", Level.ASK), ("hCG 10 IU/L", Level.NOTE)]
)
def test_without_a_curve_a_level_of_no_dose_is_asked_about(result: str, level: Level) -> None:
    """Empty retrievals had 0 to 9 units/L (Ndukwe 1996, Fertil Steril 66:845)."""
    (finding,) = sample(result, leg("choriogonadotropin alfa, 250 mcg, intramuscular, 12 h")).findings
    assert (finding.code, finding.level) == ("curve-missing", level)


def test_low_lh_says_what_is_known_of_progesterone() -> None:
    for results, words in (
        ("LH 9 IU/L", "progesterone is not known"),
        ("LH 9 IU/L; progesterone <5 ng/mL", "progesterone leaves it open"),
        ("LH 9 IU/L; progesterone 4 ng/mL", "has risen above 3.5 ng/mL"),
    ):
        assert words in sample(results, agonist("12 h")).readings[0].why


def test_a_clinic_may_hold_a_result_against_limits_of_its_own() -> None:
    own = {**limits(), "lh-low": limits()["hcg-none"]}
    found = read_level(parse_result("LH 12 IU/L"), [agonist("8 h")], Around(limits=own))
    assert isinstance(found, Reading)
    assert found.says is Says.CARE
    assert "under the band" in found.why
    assert read_level(parse_result("LH 9 IU/L"), [agonist("8 h")], Around(limits=own)).says is Says.LOW  # type: ignore[union-attr]


def test_each_reading_shows_its_working_and_its_sources() -> None:
    found = sample(
        "LH 48 IU/L; hCG 27 IU/L; progesterone 5 ng/mL", agonist("11 h"), urinary("1,500 units", "11 h", "subcutaneous")
    )
    for reading in found.readings:
        assert reading.working
        for step in reading.working:
            assert step.result.startswith("about ")
            assert all(source for _, _, source in step.inputs)
        assert reading.observed
        assert all(limit.cite() for limit in reading.limits)


def test_lh_after_hcg_alone_shows_what_was_seen() -> None:
    """Mean of 0.93 units/L at 12 h (secondary text on leuprolide 1 mg and choriogonadotropin alfa 250 micrograms)."""
    (found,) = sample("LH 0.93 IU/L", recombinant("12 h")).readings
    assert found.says is Says.SILENT
    assert [one.level.text for one in found.observed] == ["0.93 units/L"]


def test_no_injection_at_all_is_a_mistake_of_the_caller() -> None:
    with pytest.raises(ValueError, match="no injection"):
        read_level(parse_result("LH 9 IU/L"), [])
    assert sample("LH 9 IU/L").readings == ()


@pytest.mark.parametrize(
    ("result", "given", "unreported", "why"),
    [
        ("LH 2 IU/L", recombinant("12 h"), "agonist", "it is not known whether or when the agonist went in"),
        ("LH 48 IU/L", agonist("12 h"), "agonist", "it is not known whether or when another agonist went in"),
        ("hCG 3 IU/L", agonist("12 h"), "hCG", "it is not known whether or when the hCG went in"),
        ("hCG 95 IU/L", recombinant("12 h"), "hCG", "it is not known whether or when other hCG went in"),
        ("progesterone 5 ng/mL", agonist("12 h"), "hCG", "it is not known whether or when the hCG went in"),
    ],
)
def test_what_nobody_reported_is_not_known_and_never_none(result: str, given: Leg, unreported: str, why: str) -> None:
    settled = sample(result, given).readings[0]
    found = sample(result, given, unreported=(unreported,))
    (reading,) = found.readings
    assert settled.says in (Says.SILENT, Says.EXPECTED, Says.SUPPORTS)
    assert (reading.says, reading.why) == (Says.CARE, why)
    (finding,) = [one for one in found.findings if one.code == "injection-not-known"]
    assert finding.what == f"{reading.result.analyte} {reading.result}: {why}."
    assert "level-of-no-injection" not in {one.code for one in found.findings}


@pytest.mark.parametrize(
    ("doubt", "why"),
    [
        (Doubt.WHETHER, "whether or when the agonist went in"),
        (Doubt.AMOUNT, "how much of the agonist went in"),
        (Doubt.WHAT, "what of the agonist went in"),
    ],
)
def test_what_is_not_known_of_it_is_said(doubt: Doubt, why: str) -> None:
    found = read_sample([parse_result("LH 2 IU/L")], [recombinant("12 h")], doubts={Kind.AGONIST: doubt})
    assert found.readings[0].why == f"it is not known {why}"


def test_what_presses_of_itself_still_does_and_the_doubt_stands_beside_it() -> None:
    (reading,) = sample("LH 2 IU/L", agonist("12 h"), unreported=("agonist",)).readings
    assert reading.says is Says.LOW
    assert reading.why.endswith("; it is not known whether or when another agonist went in")
    assert [one.code for one in reading.findings] == ["lh-low-after-agonist", "injection-not-known"]


def test_without_any_injection_nothing_is_read_and_what_was_measured_is_asked_about() -> None:
    found = sample("LH 2 IU/L; hCG 3 IU/L", unreported=("agonist",))
    assert found.readings == ()
    assert [one.what for one in found.findings] == [
        "LH 2 units/L: it is not known whether or when the agonist went in."
    ]


@pytest.mark.parametrize(
    ("results", "says", "of"),
    [
        ("LH 12 IU/L; progesterone 1.1 ng/mL", Says.CARE, "does not support that it worked"),
        ("progesterone 1.1 ng/mL", Says.SILENT, "does not support that it worked"),
        ("progesterone 5 ng/mL", Says.SILENT, "read with care"),
    ],
)
def test_progesterone_speaks_for_no_injection_where_another_kind_is_not_known(
    results: str, says: Says, of: str
) -> None:
    """Both kinds of trigger raise it: with one of them unknown it cannot be laid to the other (hourmark's own rule)."""
    alone = sample(results, agonist("15 h"))
    assert alone.legs[0].says in (Says.AGAINST, Says.SUPPORTS)
    (answer,) = sample(results, agonist("15 h"), unreported=("hCG",)).legs
    assert answer.says is says
    assert answer.why.endswith(f"{of}, of one of them")


def test_the_question_stands_as_well_where_all_that_went_in_came_after_the_sample() -> None:
    found = sample("hCG 3 IU/L; LH 4 IU/L", agonist("-1 h"), unreported=("hCG",))
    assert (found.readings, found.legs) == ((), ())
    assert sorted(one.code for one in found.findings) == ["injection-not-known", "sample-before-injection"]
    (asked,) = [one for one in found.findings if one.code == "injection-not-known"]
    assert asked.what == "hCG 3 units/L: it is not known whether or when the hCG went in."


def test_hcg_of_which_nobody_knows_may_disturb_an_old_assay_too() -> None:
    (reading,) = sample("LH 48 IU/L", agonist("12 h"), unreported=("hCG",)).readings
    assert reading.says is Says.EXPECTED
    assert [one.what.partition(".")[0] for one in reading.findings] == ["hCG may have gone in as well"]
