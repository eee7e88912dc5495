"""Numbers worked by hand, each through a whole call.

Doses: the printed strength over the water is the concentration, times the volume that went in. Sources of the anchors: FDA label of
leuprolide acetate injection 5 mg/mL, 14-day kit, patient directions (0.2 mL is the 20-unit mark, 1 mg); FDA labels of chorionic
gonadotropin for injection, 10,000 units, description. Leads: elapsed hours on the IANA time-zone database.
"""

import pytest

from hourmark.clock import parse_span
from hourmark.incident import Kind, answer, read_facts
from hourmark.incident.words import doses, shares, spans
from tests.exchange.nights import POWDER, SOLUTION, changed
from tests.incident.trouble import OK, at, call, codes, moved, one_leg, signed_limits
from tests.laws.strategies import night_text

AT = "2026-11-18 21:00"
FIFTEEN_HUNDRED = changed(POWDER, ('dose = "1,000 units"', 'dose = "1,500 units"'))


@pytest.mark.parametrize(
    ("mark", "dose"),
    [("10", "0.5 mg"), ("20", "1 mg"), ("40", "2 mg"), ("80", "4 mg")],
)
def test_marks_of_leuprolide(mark: str, dose: str) -> None:
    leg = one_leg(call(Kind.WRONG_MARK, base=SOLUTION, injected="yes", at=AT, mark=mark))
    assert leg.given is not None
    assert doses(leg.given) == dose


@pytest.mark.parametrize(
    ("strength", "dose", "share"), [("0.4 mg/mL", "0.32 mg", "8 %"), ("0.5 mg/mL", "0.4 mg", "10 %")]
)
def test_diluted_leuprolide_read_as_the_full_strength(strength: str, dose: str, share: str) -> None:
    drug = "leuprolide acetate"
    leg = one_leg(call(Kind.WRONG_PRODUCT, base=SOLUTION, injected="yes", at=AT, drug=drug, strength=strength))
    assert leg.given is not None
    assert leg.share is not None
    assert (doses(leg.given), shares(leg.share)) == (dose, share)


@pytest.mark.parametrize(
    ("water", "five_thousand", "fifteen_hundred"),
    [
        ("1 mL", "0.5 mL", "0.15 mL"),
        ("2 mL", "1 mL", "0.3 mL"),
        ("4 mL", "2 mL", "0.6 mL"),
        ("10 mL", "5 mL", "1.5 mL"),
    ],
)
def test_ten_thousand_units_in_more_and_more_water(water: str, five_thousand: str, fifteen_hundred: str) -> None:
    for drawn, dose in ((five_thousand, "5,000 units"), (fifteen_hundred, "1,500 units")):
        leg = one_leg(call(Kind.WRONG_WATER, injected="yes", at=AT, water=water, drawn=drawn, barrel="mL-5-0.2"))
        assert leg.given is not None
        assert doses(leg.given) == dose


@pytest.mark.parametrize(
    ("strength", "drawn", "dose", "share"),
    [("5,000 units", "0.15 mL", "750 units", "50 %"), ("10,000 units", "0.3 mL", "3,000 units", "200 %")],
)
def test_the_wrong_vial_at_the_right_mark(strength: str, drawn: str, dose: str, share: str) -> None:
    leg = one_leg(
        call(
            Kind.WRONG_PRODUCT,
            base=FIFTEEN_HUNDRED,
            injected="yes",
            at=AT,
            drug="chorionic gonadotropin",
            strength=strength,
            water="1 mL",
            drawn=drawn,
        )
    )
    assert leg.given is not None
    assert leg.share is not None
    assert (doses(leg.given), shares(leg.share)) == (dose, share)


@pytest.mark.parametrize(("water", "dose"), [("10 mL", "50 units"), ("1 mL", "500 units")])
def test_five_marks_of_the_same_vial_are_ten_times_apart(water: str, dose: str) -> None:
    leg = one_leg(call(Kind.WRONG_WATER, injected="yes", at=AT, water=water, mark="5"))
    assert leg.given is not None
    assert doses(leg.given) == dose


def test_a_tenth_of_a_millilitre_left_behind() -> None:
    """10,000 units in 1 mL: 0.1 mL in the vial are 1,000 units, 10 % of the order."""
    leg = one_leg(call(Kind.PARTIAL, base=night_text("ordinary-night"), at="2026-11-18 20:00", residue="0.1 mL"))
    assert leg.given is not None
    assert leg.share is not None
    assert leg.left.dose is not None
    assert (doses(leg.given), shares(leg.share), doses(leg.left.dose)) == ("9,000 units", "90 %", "1,000 units")


@pytest.mark.parametrize(
    ("clock", "lead"),
    [
        ("2026-11-18 20:00", "37 h"),
        ("2026-11-18 21:00", "36 h"),
        ("2026-11-18 21:20", "35 h 40 min"),
        ("2026-11-18 22:00", "35 h"),
        ("2026-11-18 22:30", "34 h 30 min"),
        ("2026-11-18 23:00", "34 h"),
        ("2026-11-19 01:00", "32 h"),
    ],
)
def test_hours_to_a_nine_oclock_slot(clock: str, lead: str) -> None:
    leg = one_leg(call(Kind.LATE, injected="yes", at=clock, all="yes"))
    assert leg.lead is not None
    assert leg.lead.lead is not None
    assert spans(leg.lead.lead) == lead


@pytest.mark.parametrize(
    ("slot", "zone", "clock", "lead"),
    [
        ("2025-11-02 09:00", "America/New_York", "2025-10-31 22:00", "36 h"),
        ("2025-11-02 09:00", "America/New_York", "2025-10-31 21:00", "37 h"),
        ("2026-03-08 09:00", "America/New_York", "2026-03-06 20:00", "36 h"),
        ("2026-03-08 09:00", "America/New_York", "2026-03-06 21:00", "35 h"),
        ("2026-03-29 08:30", "Europe/London", "2026-03-27 19:30", "36 h"),
        ("2025-11-03 08:00", "America/New_York", "2025-11-01 21:00", "36 h"),
        ("2026-11-20 12:00", "America/New_York", "2026-11-19 00:00", "36 h"),
        ("2026-11-20 12:15", "America/New_York", "2026-11-19 00:15", "36 h"),
    ],
)
def test_hours_across_clock_changes_and_midnight(slot: str, zone: str, clock: str, lead: str) -> None:
    plan = moved(slot, zone)
    assert plan.slot_at is not None
    facts = read_facts(Kind.LATE, OK | {"injected": "yes", "at": clock, "all": "yes"})
    found = answer(plan, Kind.LATE, facts, signed_limits(), plan.slot_at)
    assert not {code for code, level in codes(found).items() if level == "stop"}
    leg = one_leg(found)
    assert leg.lead is not None
    assert leg.lead.lead is not None
    assert spans(leg.lead.lead) == lead


@pytest.mark.parametrize(
    ("clock", "lead", "band"),
    [
        pytest.param("2026-11-15 20:50", "35 h 10 min", "ok", id="late.fifty_minutes"),
        pytest.param("2026-11-15 21:45", "34 h 15 min", "note", id="late.21_45"),
        pytest.param("2026-11-15 23:30", "32 h 30 min", "warn", id="late.23_30"),
        pytest.param("2026-11-16 01:00", "31 h", "stop", id="late.01_00"),
        pytest.param("2026-11-15 18:00", "38 h", "note", id="early.18_00"),
        pytest.param("2026-11-15 16:30", "39 h 30 min", "warn", id="early.16_30"),
        pytest.param("2026-11-15 08:00", "48 h", "stop", id="early.in_the_morning"),
    ],
)
def test_late_and_early_for_a_tuesday_at_eight(clock: str, lead: str, band: str) -> None:
    """The planned minute is Sunday 20:00; the bands are nested and closed to the minute."""
    plan = moved("2026-11-17 08:00", "America/New_York")
    assert plan.slot_at is not None
    facts = read_facts(Kind.LATE, OK | {"injected": "yes", "at": clock, "all": "yes"})
    leg = one_leg(answer(plan, Kind.LATE, facts, signed_limits(), at("2026-11-16 06:00", plan.case.zone)))
    assert leg.lead is not None
    assert leg.lead.lead is not None
    assert (spans(leg.lead.lead), leg.lead.band_level) == (lead, band)
    assert leg.slots is not None
    assert leg.slots.restored[0] - leg.lead.at[0] == parse_span("36 h")
    if clock == "2026-11-16 01:00":
        assert leg.slots.restored[0].wall.strftime("%Y-%m-%d %H:%M") == "2026-11-17 13:00"


def test_a_dose_is_said_in_the_unit_of_the_order() -> None:
    """4,000 mcg ordered from 5 mg/mL: mark 40 is 0.4 mL, so 2,000 mcg; mg beside mcg is read a thousandfold wrong."""
    base = changed(SOLUTION, ('dose = "4 mg"', 'dose = "4,000 mcg"'))
    leg = one_leg(call(Kind.WRONG_MARK, injected="yes", at=AT, drawn="0.4 mL", base=base))
    assert leg.given is not None
    assert (doses(leg.given), doses(leg.left.dose) if leg.left.dose else None) == ("2,000 mcg", "12,000 mcg")
