"""Safety questions: asked at their limits, silent just inside them, and never a block by themselves."""

import datetime as dt
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from hourmark.exchange import plan_checked, read_night
from hourmark.order import Case, Night, Phone
from hourmark.order.clinic import Day
from hourmark.plan import CasePlan

EXAMPLE = Path(__file__).resolve().parents[2] / "examples/ordinary-night.toml"


def ordinary() -> Night:
    night = read_night(EXAMPLE)
    assert isinstance(night, Night)
    return night


NIGHT = ordinary()


def planned(case_id: str, **changed: object) -> CasePlan:
    """One case of the ordinary night with some of its facts changed."""
    cases = tuple(_changed(case, changed) if case.id == case_id else case for case in NIGHT.cases)
    plan = plan_checked(replace(NIGHT, cases=cases))
    return next(one for one in plan.cases if one.case.id == case_id)


def _changed(case: Case, changed: dict[str, object]) -> Case:
    return replace(case, **changed)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("case_id", "changed", "code", "level"),
    [
        # Reproductive Biology and Endocrinology 2012;10:32: 18 follicles or 5,000 pg/mL
        ("K-101", {"follicles": 18}, "overstimulation-risk", "ask"),
        ("K-101", {"follicles": 17}, "overstimulation-note", "note"),
        ("K-101", {"follicles": 15}, "overstimulation-note", "note"),
        ("K-101", {"e2": Fraction(5000)}, "overstimulation-risk", "ask"),
        ("K-101", {"e2": Fraction(4999)}, "overstimulation-note", "note"),
        ("K-108", {"follicles": 25}, "overstimulation-risk", "ask"),
        # Fertility and Sterility 2001;76:397: conclusion limited to a body-mass index under 30
        ("K-108", {"bmi": Fraction(30)}, "bmi-subcutaneous", "ask"),
        # Meyer 2015, Fertility and Sterility 104:637: agonist alone only from 0.5 units/L
        ("K-102", {"lh": Fraction(4, 10)}, "lh-low", "ask"),
        ("K-102", {"lh": None}, "lh-missing", "ask"),
    ],
)
def test_is_asked_and_does_not_block(case_id: str, changed: dict[str, object], code: str, level: str) -> None:
    plan = planned(case_id, **changed)
    found = [finding for finding in plan.findings if finding.code == code]
    assert [str(finding.level) for finding in found] == [level]
    assert found[0].source
    assert found[0].limit
    assert not plan.refused


@pytest.mark.parametrize(
    ("case_id", "changed"),
    [
        ("K-101", {"follicles": 14, "e2": Fraction(3499)}),
        ("K-103", {"follicles": 40, "e2": Fraction(9000)}),  # 1,000 units are no full dose
        ("K-101", {"bmi": Fraction(40)}),  # into the muscle
        ("K-108", {"bmi": Fraction(299, 10)}),
        ("K-102", {"lh": Fraction(1, 2)}),
        ("K-103", {"lh": Fraction(1, 10)}),  # hCG stands beside the agonist
    ],
)
def test_is_silent_inside_the_limit(case_id: str, changed: dict[str, object]) -> None:
    codes = {finding.code for finding in planned(case_id, **changed).findings}
    assert not codes & {"overstimulation-risk", "overstimulation-note", "bmi-subcutaneous", "lh-low", "lh-missing"}


def test_a_line_that_closes_within_two_hours_of_the_injection_is_asked_about() -> None:
    phones = (Phone("+1 555 0100", tuple(Day), dt.time(7), dt.time(1)),)
    plan = plan_checked(replace(NIGHT, clinic=replace(NIGHT.clinic, phones=phones)))
    asked = {one.case.id for one in plan.cases if any(f.code == "phone-unanswered" for f in one.findings)}
    assert asked == {"K-105", "K-108", "K-109"}  # 01:45, 23:00 and 23:30 need somebody at 01:00


def test_no_line_at_all_is_asked_about() -> None:
    plan = plan_checked(replace(NIGHT, clinic=replace(NIGHT.clinic, phones=())))
    assert all(any(f.code == "phone-unanswered" for f in one.findings) for one in plan.cases)


@pytest.mark.parametrize(
    ("opens", "closes", "at", "answered"),
    [
        ("18:00", "07:00", "2026-11-18 23:59", True),
        ("18:00", "07:00", "2026-11-19 06:59", True),
        ("18:00", "07:00", "2026-11-19 07:00", False),
        ("18:00", "07:00", "2026-11-20 01:00", False),  # Thursday evening is not among the days
        ("00:00", "00:00", "2026-11-18 12:00", True),
        ("09:00", "17:00", "2026-11-18 17:00", False),
    ],
)
def test_the_hours_of_a_line_on_wednesdays(opens: str, closes: str, at: str, answered: bool) -> None:
    phone = Phone("+1 555 0100", (Day.WEDNESDAY,), dt.time.fromisoformat(opens), dt.time.fromisoformat(closes))
    assert phone.answers(dt.datetime.strptime(at, "%Y-%m-%d %H:%M")) is answered
