"""The recheck passes every good page and stops a page in which one printed figure is another."""

import re
from pathlib import Path

import pytest

from hourmark.exchange import plan_checked, read_night
from hourmark.exchange.checked import facts_of
from hourmark.exchange.draft import draft_text
from hourmark.finding import Finding
from hourmark.order import Night
from hourmark.plan import CasePlan, NightPlan
from hourmark.recheck import Facts, Ordered, recheck

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
NIGHTS = ("ordinary-night", "clocks-go-back", "travellers")


def planned(name: str) -> NightPlan:
    night = read_night(EXAMPLES / f"{name}.toml")
    assert isinstance(night, Night)
    return plan_checked(night)


PLANS = {name: planned(name) for name in NIGHTS}
PLAN_OF = {case.case.id: plan for plan in PLANS.values() for case in plan.cases}


def recheck_case(case: CasePlan, page: str) -> tuple[Finding, ...]:
    return recheck(page, facts_of(case, PLAN_OF[case.case.id]))


PAGES = [
    pytest.param(case, draft_text(case, plan), id=case.case.id)
    for plan in PLANS.values()
    for case in plan.cases
    if not case.refused
]


@pytest.mark.parametrize(("case", "page"), PAGES)
def test_a_good_page_works_back(case: CasePlan, page: str) -> None:
    assert recheck_case(case, page) == ()


def changed_digits(page: str, line: re.Match[str]) -> list[str]:
    """The page with each digit of this line's text changed to each of two others."""
    pages = []
    for place in range(line.start(), line.end()):
        if page[place].isdigit():
            pages += [page[:place] + str((int(page[place]) + shift) % 10) + page[place + 1 :] for shift in (1, 5)]
    return pages


FIGURES = re.compile(r"^ *(?:When|Water|Strength|Stop at|Sprays|Vials|Planned \w+): .+$", re.MULTILINE)


@pytest.mark.parametrize(("case", "page"), PAGES)
def test_every_changed_digit_that_carries_dose_or_minute_is_a_stop(case: CasePlan, page: str) -> None:
    tried = 0
    for line in FIGURES.finditer(page):
        if line[0].startswith("Vials: ") and not page[line.end() :].startswith("\nWater: "):
            continue  # the number of vials of a ready solution does not carry the dose
        for wrong in changed_digits(page, line):
            if line[0].strip().startswith("Stop at") or "Strength" not in line[0] or "syringe" not in line[0]:
                tried += 1
                assert recheck_case(case, wrong), wrong
    assert tried >= 20


@pytest.mark.parametrize(
    ("old", "new", "code"),
    [
        (
            "(21:00), the night of Wednesday into Thursday",
            "(21:00), the night of Thursday into Friday",
            "recheck-illegible",
        ),
        ("9:00 pm (21:00)", "9:00 am (21:00)", "recheck-illegible"),
        ("9:00 pm (21:00)", "8:00 pm (20:00)", "recheck-minute"),
        ("Wednesday 18 November", "Tuesday 18 November", "recheck-illegible"),
        ("Zone: America/Chicago", "Zone: America/Denver", "recheck-illegible"),
        ("Chicago time\nZone: America/Chicago", "Denver time\nZone: America/Denver", "recheck-minute"),
        ("Chicago time\nZone: America/Chicago", "Winnipeg time\nZone: America/Winnipeg", "recheck-minute"),
        (
            "9:00 pm (21:00), the night of Wednesday into Thursday, Chicago time\nZone: America/Chicago",
            "8:00 pm (20:00), the night of Wednesday into Thursday, Denver time\nZone: America/Denver",
            "recheck-zone",
        ),
        ("Friday 20 November 2026, 9:00 am (09:00)", "Friday 20 November 2026, 10:00 am (10:00)", "recheck-slot"),
        ("mark 20 (0.2 mL)", "mark 2 (0.02 mL)", "recheck-dose"),
        ("mark 20 (0.2 mL)", "mark 20 (0.02 mL)", "recheck-illegible"),
        ("Water: 2 mL", "Water: 10 mL", "recheck-dose"),
        ("largest number 100", "largest number 50", "recheck-illegible"),
        ("lines every 1 mark, largest", "lines every 2 marks, largest", "recheck-illegible"),
        ("stopper is at mark 20. ->", "stopper is at mark 80. ->", "recheck-steps"),
        ("It is mark 20. If", "It is mark 2. If", "recheck-steps"),
        ("Pull 2 mL of water", "Pull 10 mL of water", "recheck-steps"),
        (
            "must say: chorionic gonadotropin, 10,000 units",
            "must say: chorionic gonadotropin, 5,000 units",
            "recheck-steps",
        ),
        ("Largest number: 100.", "Largest number: 50.", "recheck-steps"),
        ("About 1.8 mL stays in it", "About 0.2 mL stays in it", "recheck-steps"),
        ("GET READY 2 of 2", "GET SET 2 of 2", "recheck-illegible"),
        ("about 1.8 mL. That is right", "about 0.8 mL. That is right", "recheck-left"),
        ("Route: subcutaneous", "Route: intramuscular", "recheck-route"),
        ("Dose: 1,000 units", "Dose: 1,500 units", "recheck-medicine"),
        ("MEDICINE 2 of 2: chorionic gonadotropin", "MEDICINE 2 of 2: choriogonadotropin alfa", "recheck-medicine"),
        ("Strength: 5 mg/mL", "Strength: 0.5 mg/mL", "recheck-dose"),
        ("Strength: 10,000 units in each vial", "Strength: 5,000 units in each vial", "recheck-dose"),
        ("Strength: 5 mg/mL", "Strength: 5 mg", "recheck-illegible"),
        ("Strength: 5 mg/mL\n", "", "recheck-illegible"),
        ("MEDICINE 2 of 2", "MEDICINE two of 2", "recheck-illegible"),
        ("into the vial. Not more.", "into the vial.", "recheck-illegible"),
        (
            "1 mL U-100 syringe, lines every 1 mark, largest number 100 (new)\n  Stop at: mark 20",
            "1 mL syringe, lines every 0.01 mL (new)\n  Stop at: mark 20",
            "recheck-illegible",
        ),
    ],
    ids=lambda text: str(text)[:40],
)
def test_each_disagreement_has_its_own_code(old: str, new: str, code: str) -> None:
    case = next(case for case in PLANS["ordinary-night"].cases if case.case.id == "K-103")
    page = draft_text(case, PLANS["ordinary-night"])
    assert old in page
    found = recheck_case(case, page.replace(old, new))
    assert [finding.code for finding in found][:1] == [code]
    assert all(finding.level == "stop" and finding.do and finding.source for finding in found)


def test_first_and_second_are_an_hour_apart() -> None:
    case = next(case for case in PLANS["clocks-go-back"].cases if case.case.id == "L-203")
    page = draft_text(case, PLANS["clocks-go-back"])
    second = page.replace("the FIRST time, before the clocks", "the SECOND time, after the clocks")
    assert [finding.code for finding in recheck_case(case, second)] == ["recheck-minute"]
    neither = page.replace(", the FIRST time, before the clocks go back", "")
    assert [finding.code for finding in recheck_case(case, neither)] == ["recheck-illegible"]


def test_a_repeat_is_counted_from_the_first() -> None:
    case = next(case for case in PLANS["clocks-go-back"].cases if case.case.id == "L-205")
    page = draft_text(case, PLANS["clocks-go-back"])
    late = page.replace("9:00 am (09:00), New York time\nZone", "10:00 am (10:00), New York time\nZone")
    assert late != page
    assert [finding.code for finding in recheck_case(case, late)] == ["recheck-minute"]


def test_a_clock_time_without_retrieval_is_checked_too() -> None:
    case = next(case for case in PLANS["ordinary-night"].cases if case.case.id == "K-110")
    page = draft_text(case, PLANS["ordinary-night"])
    late = page.replace("9:30 pm (21:30)", "10:30 pm (22:30)")
    assert [finding.code for finding in recheck_case(case, late)] == ["recheck-minute"]


def test_a_page_with_one_medicine_too_few_is_a_stop() -> None:
    case = next(case for case in PLANS["ordinary-night"].cases if case.case.id == "K-103")
    page = draft_text(case, PLANS["ordinary-night"])
    start, end = page.index("MEDICINE 2 of 2"), page.index("GIVE 1 of 2")
    assert [finding.code for finding in recheck_case(case, page[:start] + page[end:])] == ["recheck-count"]


@pytest.mark.parametrize("page", ["", "MEDICINE 1 of 1: x", "\x00" * 50, "MEDICINE 1 of 1: a\nDose: 1 mg (one)\n"])
def test_no_page_at_all_is_a_stop_and_not_a_pass(page: str) -> None:
    assert recheck(page, Facts((Ordered("a", "1 mg", "nasal", lead="1 h"),), "Europe/London", None))
