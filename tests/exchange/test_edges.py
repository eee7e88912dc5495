"""Limits at their edge, by a night file: one step inside nothing is said, one step outside it is. The source stands beside each row."""

import re
from pathlib import Path
from typing import Any

import pytest

from tests.exchange.nights import LEAD, POWDER, PREFILLED, SOLUTION, WHOLE, Change, changed, planned
from tests.exchange.test_findings import CLOCK, REPEAT

LAST = 'at = "2026-11-18 08:00"'
STRENGTH = 'strength = "5 mg/mL"'
NOW = 'as_of = "2026-11-18 14:30"'
CLOCK_TIME = 'at = "2026-11-18 21:30"\nwindow = ["20:30", "22:30"]'


def at_clock(text: str, window: str = '"2026-11-18 20:30", "2026-11-20 22:30"') -> Change:
    return CLOCK_TIME, f'at = "{text}"\nwindow = [{window}]'


CLOCK_AND_SLOT = changed(CLOCK, ('zone = "America/Chicago"\nlh', 'zone = "America/Chicago"\nslot = "s1"\nlh'))

ROWS: list[tuple[str, bool, str, tuple[Change, ...]]] = [
    # The order's own times: an injection comes before its slot (theatre list); here the slot is on 20 November at 09:00.
    ("injection-after-slot", True, CLOCK_AND_SLOT, (at_clock("2026-11-20 09:00"),)),
    ("injection-after-slot", False, CLOCK_AND_SLOT, (at_clock("2026-11-20 08:59"),)),
    # A lead of nothing is no lead to judge; one minute is.
    ("lead-outside-bands", False, CLOCK_AND_SLOT, (at_clock("2026-11-20 09:00"),)),
    ("lead-outside-bands", False, CLOCK_AND_SLOT, (at_clock("2026-11-20 09:01"),)),
    ("lead-outside-bands", True, CLOCK_AND_SLOT, (at_clock("2026-11-20 08:59"),)),
    # EU leaflets of ganirelix (30 h, section 3); for cetrorelix 30 h is hourmark's own reading of 24 h doses and 25 h to the trigger.
    ("antagonist-gap", False, SOLUTION, ((LAST, 'at = "2026-11-17 15:00"'),)),
    ("antagonist-gap", True, SOLUTION, ((LAST, 'at = "2026-11-17 14:59"'),)),
    ("antagonist-gap", False, SOLUTION, (('drug = "ganirelix", at = "2026-11-18 08:00"', 'drug = "cetrorelix", at = "2026-11-17 15:00"'),)),
    ("antagonist-gap", True, SOLUTION, (('drug = "ganirelix", at = "2026-11-18 08:00"', 'drug = "cetrorelix", at = "2026-11-17 14:59"'),)),
    ("antagonist-after-trigger", False, SOLUTION, ((LAST, 'at = "2026-11-18 20:59"'),)),
    ("antagonist-after-trigger", False, SOLUTION, ((LAST, 'at = "2026-11-18 21:00"'),)),
    ("antagonist-after-trigger", True, SOLUTION, ((LAST, 'at = "2026-11-18 21:01"'),)),
    # Common practice, no source: what is late is said from the planned minute on, and from the minute by which she had to be told.
    ("injection-past", False, SOLUTION, ((NOW, 'as_of = "2026-11-18 20:59"'),)),
    ("injection-past", True, SOLUTION, ((NOW, 'as_of = "2026-11-18 21:00"'),)),
    ("tell-by-past", False, SOLUTION, ((NOW, 'as_of = "2026-11-18 18:00"'),)),
    ("tell-by-past", True, SOLUTION, ((NOW, 'as_of = "2026-11-18 18:01"'),)),
    ("tell-by-past", True, SOLUTION, ((NOW, 'as_of = "2026-11-18 20:59"'),)),
    ("tell-by-past", False, SOLUTION, ((NOW, 'as_of = "2026-11-18 21:00"'),)),
    ("slot-past", False, SOLUTION, ((NOW, 'as_of = "2026-11-20 09:00"'),)),
    ("slot-past", True, SOLUTION, ((NOW, 'as_of = "2026-11-20 09:01"'),)),
    # The signed bands of the night itself: ok 35 to 37 h, note 34 to 38 h, warn 32 to 40 h.
    *(
        (code, said, SOLUTION, ((LEAD, f'lead = "{lead}"\nwindow = ["30 h", "45 h"]'),))
        for lead, which in (
            ("35 h", ""), ("34 h 59 min", "lead-off-centre"), ("34 h", "lead-off-centre"), ("33 h 59 min", "lead-unusual"),
            ("32 h", "lead-unusual"), ("31 h 59 min", "lead-outside-bands"), ("37 h", ""), ("37 h 1 min", "lead-off-centre"),
            ("38 h", "lead-off-centre"), ("38 h 1 min", "lead-unusual"), ("40 h", "lead-unusual"), ("40 h 1 min", "lead-outside-bands"),
        )
        for code in ("lead-off-centre", "lead-unusual", "lead-outside-bands")
        for said in (code == which,)
    ),
    # The carton: opened on the day itself is opened before the dose; a date of expiry is the last good day.
    ("opened-later", False, SOLUTION, ((STRENGTH, f'{STRENGTH}\nopened = "2026-11-18 08:00"'),)),
    ("opened-later", True, SOLUTION, ((STRENGTH, f'{STRENGTH}\nopened = "2026-11-19 08:00"'),)),
    ("opened-amount", True, SOLUTION, ((STRENGTH, f'{STRENGTH}\nopened = "2026-11-18 08:00"'),)),
    ("expired", False, SOLUTION, (("expiry = 2027-02-28", "expiry = 2026-11-18"),)),
    ("expired", True, SOLUTION, (("expiry = 2027-02-28", "expiry = 2026-11-17"),)),
    # USP 797 and CDC: a preserved vial whose label is silent is kept 28 days after it was first punctured (the day counts as the first).
    ("kept-too-long", False, SOLUTION, ((STRENGTH, f'{STRENGTH}\nopened = "2026-10-22 08:00"'),)),
    ("kept-too-long", True, SOLUTION, ((STRENGTH, f'{STRENGTH}\nopened = "2026-10-21 20:00"'),)),
    # The leaflets of both antagonists are misread the same way; one of them in the stop-list is enough.
    ("antagonist-stop-day", True, SOLUTION, (('stop = ["follitropin"]', 'stop = ["follitropin", "Ganirelix 0.25 mg"]'),)),
    ("antagonist-stop-day", True, SOLUTION, (('stop = ["follitropin"]', 'stop = ["cetrorelix", "follitropin"]'),)),
    ("antagonist-stop-day", False, SOLUTION, ()),
    # Standard factor of estradiol, 3.671 pmol/L for 1 pg/mL; Reprod Biol Endocrinol 2012;10:32: 5,000 pg/mL.
    ("overstimulation-risk", True, WHOLE, (('lh = "2 units/L"', 'lh = "2 units/L"\ne2 = "18,355 pmol/L"'),)),
    ("overstimulation-risk", False, WHOLE, (('lh = "2 units/L"', 'lh = "2 units/L"\ne2 = "18,354 pmol/L"'),)),
    # US label of chorionic gonadotropin: benzyl alcohol is in the bacteriostatic water, not in the powder.
    ("allergen", True, POWDER, (('lh = "2 units/L"', 'lh = "2 units/L"\nallergies = ["benzyl alcohol"]'),)),
    # EU label of choriogonadotropin alfa, list of excipients: each of the three is in the syringe; benzyl alcohol is not.
    *(
        ("allergen", said, PREFILLED, (('lh = "2 units/L"', f'lh = "2 units/L"\nallergies = ["{name}"]'),))
        for name, said in (("mannitol", True), ("methionine", True), ("poloxamer 188", True), ("benzyl alcohol", False))
    ),
]  # fmt: skip


def codes(found: dict[str, Any]) -> set[str]:
    return {finding["code"] for finding in found["findings"]}


@pytest.mark.parametrize(
    ("code", "said", "base", "changes"), ROWS, ids=[f"{code}-{place}" for place, (code, *_) in enumerate(ROWS)]
)
def test_a_limit_at_its_edge(code: str, said: bool, base: str, changes: tuple[Change, ...], tmp_path: Path) -> None:
    assert (code in codes(planned(tmp_path, changed(base, *changes)))) is said


def test_how_late_it_is_and_what_the_lead_would_be_now(tmp_path: Path) -> None:
    """Elapsed time: planned for 21:00, it is 22:30, and the slot is 34 h 30 min away."""
    found = planned(tmp_path, changed(SOLUTION, (NOW, 'as_of = "2026-11-18 22:30"')))
    (late,) = [finding for finding in found["findings"] if finding["code"] == "injection-past"]
    assert late["what"] == "The planned minute passed 1 h 30 min ago. Done now, the lead would be 34 h 30 min."


def test_a_repeat_is_counted_from_the_first(tmp_path: Path) -> None:
    """12 h after 21:00 is 09:00 on the next day; the sequence of the two is that of their times."""
    found = planned(tmp_path, REPEAT)
    first, second = found["cases"][0]["injections"]
    assert [re.sub(r"T|:00-06:00", " ", one["patient"]["local"]).strip() for one in (first, second)] == [
        "2026-11-18 21:00",
        "2026-11-19 09:00",
    ]
    assert (first["provisional"], second["provisional"]) == (False, True)
