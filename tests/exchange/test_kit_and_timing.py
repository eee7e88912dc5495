"""Findings about allergies, opened boxes, words on a box, and times that contradict each other: one small change each."""

from pathlib import Path

import pytest

from tests.exchange.nights import (
    LEAD,
    NASAL,
    POWDER,
    PREFILLED,
    SOLUTION,
    WHOLE,
    Change,
    changed,
    levels,
    planned,
    refused,
    second_injection,
)

_TWO = second_injection(
    SOLUTION,
    'id = "second"\ndrug = "choriogonadotropin alfa"\ndose = "250 mcg"\nroute = "subcutaneous"\n'
    'lead = "34 h"\nwindow = ["33 h", "35 h"]',
)


@pytest.mark.parametrize(
    ("code", "level", "night", "changes"),
    [
        (
            "allergen",
            "stop",
            POWDER,
            (('zone = "America/Chicago"\nlh', 'zone = "America/Chicago"\nallergies = ["benzyl alcohol (rash)"]\nlh'),),
        ),
        (
            "allergen",
            "stop",
            POWDER,
            (('zone = "America/Chicago"\nlh', 'zone = "America/Chicago"\nallergies = ["Benzylalcohol"]\nlh'),),
        ),
        (
            "allergen",
            "stop",
            POWDER,
            (('zone = "America/Chicago"\nlh', 'zone = "America/Chicago"\nallergies = ["alcohol"]\nlh'),),
        ),
        (
            "allergy-unknown",
            "ask",
            POWDER,
            (('zone = "America/Chicago"\nlh', 'zone = "America/Chicago"\nallergies = ["penicillin"]\nlh'),),
        ),
        (
            "contents-unknown",
            "ask",
            NASAL,
            (('zone = "America/Chicago"\nlh', 'zone = "America/Chicago"\nallergies = ["latex"]\nlh'),),
        ),
        (
            "box-words-disagree",
            "stop",
            POWDER,
            (('strength = "10,000 units"', 'strength = "10,000 units"\nwords = "chorionic gonadotropin 5000 units"'),),
        ),
        (
            "opened-later",
            "stop",
            SOLUTION,
            (('strength = "5 mg/mL"', 'strength = "5 mg/mL"\nopened = "2026-11-25 08:00"'),),
        ),
        (
            "opened-amount",
            "ask",
            SOLUTION,
            (('strength = "5 mg/mL"', 'strength = "5 mg/mL"\nopened = "2026-11-10 08:00"'),),
        ),
        (
            "opened-single",
            "stop",
            PREFILLED,
            (('strength = "250 mcg"', 'strength = "250 mcg"\nopened = "2026-11-10 08:00"'),),
        ),
        ("injection-after-slot", "stop", PREFILLED, ((LEAD, 'at = "2026-11-20 22:00"\nwindow = ["21:00", "23:00"]'),)),
        ("lead-outside-bands", "stop", PREFILLED, ((LEAD, 'at = "2026-11-19 21:30"\nwindow = ["21:00", "22:00"]'),)),
        (
            "lead-unjudged",
            "ask",
            PREFILLED,
            (('standard = { ok = ["35 h", "37 h"], note = ["34 h", "38 h"], warn = ["32 h", "40 h"] }\n', ""),),
        ),
        (
            "sequence-contradicts",
            "stop",
            _TWO,
            (('stop = ["follitropin"]', 'stop = ["follitropin"]\nsequence = ["second", "first"]'),),
        ),
    ],
)
def test_one_small_change_raises_it(
    code: str, level: str, night: str, changes: tuple[Change, ...], tmp_path: Path
) -> None:
    plan = planned(tmp_path, changed(night, *changes))
    assert levels(plan).get(code) == level
    found = [finding for finding in plan["findings"] if finding["code"] == code]
    assert all(finding["do"] and finding["limit"] and finding["source"] for finding in found)


@pytest.mark.parametrize(
    "words",
    [
        "chorionic gonadotropin for injection, 10,000 units",
        "10000 units, multiple-dose vial",
        "keep in the carton",
        "10 mL vial",
    ],
)
def test_words_that_agree_or_name_no_amount_say_nothing(words: str, tmp_path: Path) -> None:
    night = changed(POWDER, ('strength = "10,000 units"', f'strength = "10,000 units"\nwords = "{words}"'))
    assert "box-words-disagree" not in levels(planned(tmp_path, night))


def test_an_opened_vial_does_not_say_how_much_stays(tmp_path: Path) -> None:
    night = changed(SOLUTION, ('strength = "5 mg/mL"', 'strength = "5 mg/mL"\nopened = "2026-11-10 08:00"'))
    assert planned(tmp_path, night)["cases"][0]["injections"][0]["draw"]["left"] is None


@pytest.mark.parametrize("seconds", ["0", "-1", "1000", "true", '"10"', "10.5"])
def test_seconds_are_whole_and_some(seconds: str, tmp_path: Path) -> None:
    found = refused(tmp_path, changed(POWDER, ("wait_seconds = 10", f"wait_seconds = {seconds}")))
    assert [finding.code for finding in found] == ["file-value"]
    assert "from 1 to 999" in found[0].do


def test_skin_that_is_wiped_needs_a_time_to_dry(tmp_path: Path) -> None:
    found = refused(tmp_path, changed(POWDER, ("drying_seconds = 30\n", "")))
    assert [finding.code for finding in found] == ["file-value"]
    assert "drying_seconds" in found[0].do


def test_a_new_wide_needle_is_needed_to_mix_and_another_to_draw_up(tmp_path: Path) -> None:
    """One needle, one time (CDC): the mixing needle is in the sharps box before the dose is drawn up."""
    assert "needle-missing" not in levels(planned(tmp_path, WHOLE))
    one = changed(WHOLE, ('gauge = 21\nlength = "38 mm"\ncount = 2', 'gauge = 21\nlength = "38 mm"\ncount = 1'))
    assert levels(planned(tmp_path, one))["needle-missing"] == "ask"
