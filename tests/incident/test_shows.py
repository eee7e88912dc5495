"""What a nurse is shown for the calls that come most: each a row of facts and what they come to.

The numbers are worked by hand beside each row. The bands are those proposed from the trials named in tests/authorities, signed by the
invented clinic; "late by more than an hour: the prescriber" is a proposal too (derived from the same intervals).
"""

from fractions import Fraction

import pytest

from hourmark.incident import Kind, State, Who
from hourmark.incident.words import doses, shares, spans, volumes
from hourmark.quantity import Share, Units, Volume
from tests.exchange.nights import POWDER, PREFILLED, WHOLE, changed
from tests.incident.trouble import REPEAT, TWO, call, codes, one_leg, signed_limits, with_window


def test_three_tenths_of_a_millilitre_instead_of_two() -> None:
    """10,000 units in 2 mL are 5,000 per mL; 0.3 mL of it are 1,500 units, half as much again as 1,000."""
    found = call(Kind.WRONG_MARK, injected="yes", at="2026-11-18 21:00", drawn="0.3 mL")
    leg = one_leg(found)
    assert leg.given is not None
    assert (leg.given.least, leg.given.most) == (Units(Fraction(1500)), Units(Fraction(1500)))
    assert leg.share == (Share(Fraction(3, 2)), Share(Fraction(3, 2)))
    assert (doses(leg.given), shares(leg.share)) == ("1,500 units", "150 %")
    assert found.decides is Who.PRESCRIBER
    assert codes(found)["trouble-dose"] == "ask"
    assert leg.left.vials is not None
    assert leg.left.dose is not None
    assert (volumes(leg.left.vials), doses(leg.left.dose)) == ("1.7 mL", "8,500 units")
    assert found.as_planned == ("2 mL of water into each vial",)


def test_the_same_call_by_the_number_on_the_syringe() -> None:
    by_mark = one_leg(call(Kind.WRONG_MARK, injected="yes", at="2026-11-18 21:00", mark="30"))
    by_volume = one_leg(call(Kind.WRONG_MARK, injected="yes", at="2026-11-18 21:00", drawn="0.3 mL"))
    assert by_mark.given == by_volume.given


def test_still_in_the_syringe_is_the_nurses() -> None:
    """Nothing went in, so the page still holds; what the syringe would give is said as what it holds."""
    found = call(Kind.WRONG_MARK, injected="no", drawn="0.3 mL", now="2026-11-18 20:50")
    leg = one_leg(found)
    assert leg.state is State.IN_SYRINGE
    assert leg.given is not None
    assert not leg.given.most
    assert leg.holds is not None
    assert doses(leg.holds) == "1,500 units"
    assert leg.left.syringe is not None
    assert volumes(leg.left.syringe) == "0.3 mL"
    assert found.decides is Who.NURSE
    assert codes(found) == {"trouble-not-given": "note"}


def test_one_in_the_morning_instead_of_nine_in_the_evening() -> None:
    """09:00 two days later less 01:00 is 32 h: outside the order's 35 to 37 h, at the very edge of what the prescriber confirms.

    01:00 + 36 h is 13:00; the order's window around it is 12:00 to 14:00.
    """
    found = call(Kind.LATE, injected="yes", at="2026-11-19 01:00", all="yes", open="2026-11-20 11:30, 2026-11-20 12:30")
    leg = one_leg(found)
    assert leg.lead is not None
    assert leg.lead.lead is not None
    assert spans(leg.lead.lead) == "32 h"
    assert (leg.lead.inside, leg.lead.outside, leg.lead.band, leg.lead.band_level) == (False, True, "standard", "warn")
    assert leg.slots is not None
    assert leg.slots.earliest is not None
    assert leg.slots.latest is not None
    assert leg.slots.earliest.local == "2026-11-20T12:00:00-06:00"
    assert leg.slots.restored[0].local == leg.slots.restored[1].local == "2026-11-20T13:00:00-06:00"
    assert leg.slots.latest.local == "2026-11-20T14:00:00-06:00"
    assert [(one.at.local, spans(one.lead)) for one in leg.slots.open] == [("2026-11-20T12:30:00-06:00", "35 h 30 min")]
    assert found.decides is Who.PRESCRIBER
    assert found.also == ("theatre and laboratory",)
    assert codes(found)["trouble-lead"] == "ask"
    assert any("32 h is the very edge" in reason.why for reason in found.reasons)


def test_a_minute_later_is_outside_every_band() -> None:
    leg = one_leg(call(Kind.LATE, injected="yes", at="2026-11-19 01:01", all="yes"))
    assert leg.lead is not None
    assert leg.lead.band_level == "stop"


@pytest.mark.parametrize(("boxes", "left"), [("", 0), ("count = 3", 2)], ids=["the only vial", "two more at home"])
def test_only_the_water(boxes: str, left: int) -> None:
    """No powder was dissolved, so nothing went in; all 10,000 units are still in the vial, and the unopened ones are counted."""
    night = changed(
        POWDER,
        ("expiry = 2027-02-28\n\n[[cases.kit.diluents]]", f"expiry = 2027-02-28\n{boxes}\n[[cases.kit.diluents]]"),
    )
    found = call(Kind.WATER_ONLY, at="2026-11-18 21:00", base=night, now="2026-11-18 21:10")
    leg = one_leg(found)
    assert leg.given is not None
    assert (doses(leg.given), leg.share) == ("0 units", (Share(Fraction(0)), Share(Fraction(0))))
    assert leg.left.dose is not None
    assert doses(leg.left.dose) == "10,000 units"
    assert (found.spare[0].least, found.spare[0].most) == (left, left)
    assert found.decides is Who.PRESCRIBER
    assert leg.left_to_inject is not None
    assert str(leg.left_to_inject) == "50 min"  # 09:00 less 35 h is 22:00
    assert ("the pharmacist" in found.also) is (left == 0)


def test_a_leak_between_a_third_and_a_half() -> None:
    """10,000 units in 10 mL are 1,000 per mL, so 0.2 mL hold 200; a half to two thirds of that is 100 to 133 1/3."""
    found = call(
        Kind.WRONG_WATER, injected="yes", at="2026-11-18 21:00", water="10 mL", drawn="0.2 mL", lost="a third to a half"
    )
    leg = one_leg(found)
    assert leg.given is not None
    assert (leg.given.least, leg.given.most) == (Units(Fraction(100)), Units(Fraction(400, 3)))
    assert leg.share == (Share(Fraction(1, 10)), Share(Fraction(2, 15)))
    assert (doses(leg.given), shares(leg.share)) == ("100 to about 133.333 units", "10 to 13.3 %")
    assert found.decides is Who.PRESCRIBER
    assert found.also == ("the pharmacist",)


def test_the_same_leak_as_a_partial_injection() -> None:
    leg = one_leg(call(Kind.PARTIAL, at="2026-11-18 21:00", water="10 mL", drawn="0.2 mL", lost="1/3 to 1/2"))
    assert leg.given is not None
    assert doses(leg.given) == "100 to about 133.333 units"


def test_sixty_three_minutes_late() -> None:
    """34 h 57: inside 34 to 38 h, which is only noted, but more than an hour late, which the prescriber decides. The stricter wins."""
    wide = with_window("34 h", "38 h")
    noted = call(Kind.LATE, injected="yes", at="2026-11-18 22:03", all="yes", base=wide, limits=signed_limits())
    strict = call(
        Kind.LATE,
        injected="yes",
        at="2026-11-18 22:03",
        all="yes",
        base=wide,
        limits=signed_limits(noted="15 min", anew="60 min"),
    )
    for found in (noted, strict):
        leg = one_leg(found)
        assert leg.lead is not None
        assert leg.lead.lead is not None
        assert (spans(leg.lead.lead), leg.lead.inside, leg.lead.band_level) == ("34 h 57 min", True, "note")
    assert noted.decides is Who.NURSE
    assert strict.decides is Who.PRESCRIBER
    assert codes(strict)["trouble-late"] == "ask"


def test_sixty_three_minutes_late_by_the_orders_own_window() -> None:
    """With a window of 35 to 37 h the order itself sends it to the prescriber, whatever the clinic signed."""
    found = call(Kind.LATE, injected="yes", at="2026-11-18 22:03", all="yes", limits=signed_limits())
    assert found.decides is Who.PRESCRIBER


def test_one_of_two_is_judged_leg_by_leg() -> None:
    """The agonist at 21:00 has its 36 h; the hCG at 22:30 would have 34 h 30, and stand 90 min from the agonist."""
    found = call(Kind.ONE_OF_TWO, missed="first", at="2026-11-18 21:00", all="yes", base=TWO, now="2026-11-18 22:30")
    missed, given = found.legs
    assert (missed.injection.id, missed.state, given.injection.id, given.state) == (
        "first",
        State.NOT_GIVEN,
        "agonist",
        State.GIVEN,
    )
    assert given.given is not None
    assert doses(given.given) == "4 mg"
    assert missed.lead is not None
    assert given.lead is not None
    assert (missed.lead.if_now, missed.lead.inside, given.lead.if_now, given.lead.inside) == (True, False, False, True)
    assert {str(one.level) for one in found.findings if one.where == "injection agonist"} == {"note"}
    assert any("1 h 30 min apart" in reason.why and reason.who is Who.PRESCRIBER for reason in missed.reasons)
    assert found.common is not None  # 09:30 to 11:30 for the one, 08:00 to 10:00 for the other
    assert [one.local for one in found.common] == ["2026-11-20T09:30:00-06:00", "2026-11-20T10:00:00-06:00"]


def test_a_second_dose_moves_with_the_actual_first_as_a_proposal_only() -> None:
    """17:40 + 12 h is 05:40, with 04:40 to 06:40 allowed; the page she has holds until another is released."""
    found = call(
        Kind.LATE,
        injection="agonist",
        injected="yes",
        at="2026-11-18 17:40",
        all="yes",
        base=REPEAT,
        now="2026-11-18 18:00",
    )
    (proposal,) = found.proposals
    assert (proposal.injection.id, proposal.after) == ("repeat", "agonist")
    assert [one.local for one in proposal.at] == ["2026-11-19T05:40:00-06:00"] * 2
    assert proposal.window is not None
    assert [one.local for one in proposal.window] == ["2026-11-19T04:40:00-06:00", "2026-11-19T06:40:00-06:00"]
    (said,) = [one for one in found.findings if one.code == "trouble-second"]
    assert "until a new one is released" in said.do
    assert found.legs[0].injection.id == "agonist"
    assert "whether and when injection first was given" in found.not_known
    planned = next(one for one in found.legs if one.injection.id == "agonist")
    assert planned.lead is not None
    assert planned.lead.band == "double_agonist"


def test_no_second_dose_is_proposed_where_the_first_did_not_go_in() -> None:
    assert not call(Kind.MISSED, injection="agonist", base=REPEAT, now="2026-11-18 19:00").proposals


def test_a_repeat_is_judged_by_its_gap_from_the_actual_first() -> None:
    """18:00 to 06:30 are 12 h 30, inside 11 to 13 h: the bands do not speak of it."""
    given = {"agonist": "2026-11-18 18:00"}
    found = call(
        Kind.LATE, injection="repeat", injected="yes", at="2026-11-19 06:30", all="yes", base=REPEAT, given_at=given
    )
    leg = one_leg(found)
    assert leg.lead is not None
    assert leg.lead.gap is not None
    assert (spans(leg.lead.gap), leg.lead.inside, leg.lead.band) == ("12 h 30 min", True, None)
    unknown = call(Kind.LATE, injection="repeat", injected="yes", at="2026-11-19 06:30", all="yes", base=REPEAT)
    assert one_leg(unknown).lead is not None
    assert unknown.decides is Who.PRESCRIBER
    assert any("the one before it is not known" in reason.why for reason in unknown.reasons)


def test_twice_or_not_is_a_range() -> None:
    found = call(Kind.REPEATED, times="1 to 2", at="2026-11-18 21:00", all="yes")
    leg = one_leg(found)
    assert leg.given is not None
    assert leg.share is not None
    assert (doses(leg.given), shares(leg.share)) == ("1,000 to 2,000 units", "100 to 200 %")
    assert (found.decides, codes(found)["trouble-repeated"]) == (Who.PRESCRIBER, "ask")


def test_into_the_muscle_instead_of_under_the_skin() -> None:
    found = call(Kind.WRONG_ROUTE, at="2026-11-18 21:00", all="yes", route="intramuscular")
    assert (found.decides, codes(found)["trouble-route"]) == (Who.PRESCRIBER, "ask")
    same = call(Kind.WRONG_ROUTE, at="2026-11-18 21:00", all="yes", route="subcutaneous")
    assert (same.decides, codes(same)["trouble-route"]) == (Who.NURSE, "note")


def test_what_stays_in_a_vial_that_should_be_empty() -> None:
    """5,000 units in 1 mL, 0.1 mL stays behind: 500 units less, 90 %."""
    found = call(Kind.PARTIAL, at="2026-11-18 21:00", residue="0.1 mL", base=WHOLE)
    leg = one_leg(found)
    assert leg.given is not None
    assert leg.share is not None
    assert (doses(leg.given), shares(leg.share)) == ("4,500 units", "90 %")


def test_half_of_a_prefilled_syringe() -> None:
    found = call(Kind.PARTIAL, at="2026-11-18 21:00", lost="half", base=PREFILLED)
    leg = one_leg(found)
    assert leg.given is not None
    assert doses(leg.given) == "125 mcg"


def test_a_dose_inside_the_signed_limit_is_the_nurses() -> None:
    """0.19 of 0.2 mL are 95 %; a clinic that signed 5 % has the nurse note it, one that signed 4 % asks the prescriber."""
    for limit, who in (("5 %", Who.NURSE), ("4 %", Who.PRESCRIBER)):
        found = call(
            Kind.WRONG_MARK, injected="yes", at="2026-11-18 21:00", drawn="0.19 mL", limits=signed_limits(dose=limit)
        )
        assert found.decides is who


def test_storage_is_never_a_matter_of_arithmetic() -> None:
    found = call(Kind.STORAGE, injected="yes", at="2026-11-18 21:00", all="yes", kept="on the heater for two days")
    assert (found.decides, found.also) == (Who.PRESCRIBER, ("the pharmacist",))
    assert codes(found)["trouble-kept"] == "ask"
    assert "whether the medicine still works" in found.not_known


def test_another_medicine_instead_of_the_trigger() -> None:
    found = call(Kind.OTHER_DRUG, drug="ganirelix", instead="yes", now="2026-11-18 21:30")
    leg = one_leg(found)
    assert (leg.state, found.decides) == (State.NOT_GIVEN, Who.PRESCRIBER)
    assert codes(found)["trouble-other-drug"] == "ask"
    agonist = call(Kind.OTHER_DRUG, drug="triptorelin acetate", instead="yes", now="2026-11-18 21:30")
    assert any("can itself act as a trigger" in reason.why for reason in agonist.reasons)
    stopped = call(Kind.OTHER_DRUG, drug="follitropin", instead="no", now="2026-11-18 21:30")
    assert any("stop-list" in reason.why for reason in stopped.reasons)
    assert one_leg(stopped).state is State.NOT_KNOWN


def test_not_due_yet_is_no_trouble_yet() -> None:
    found = call(Kind.MISSED, now="2026-11-18 20:00")
    assert (found.decides, codes(found)) == (Who.NURSE, {"trouble-not-given": "note"})
    assert one_leg(found).lead is None
    assert one_leg(found).left_to_inject is not None
    assert str(one_leg(found).left_to_inject) == "2 h"


def test_missed_inside_and_after_the_orders_window() -> None:
    """Until 22:00 the order's own 35 h are kept; at 22:01 they are not."""
    inside, after = (call(Kind.MISSED, now=f"2026-11-18 {clock}") for clock in ("22:00", "22:01"))
    assert inside.decides is Who.NURSE
    assert after.decides is Who.PRESCRIBER
    for found in (inside, after):
        lead = one_leg(found).lead
        assert lead is not None
        assert lead.if_now


def test_volumes_left_in_a_mixed_vial_are_ranges_too() -> None:
    leg = one_leg(call(Kind.WRONG_MARK, injected="yes", at="2026-11-18 21:00", drawn="0.2 to 0.3 mL"))
    assert leg.left.vials is not None
    assert leg.left.vials.least == Volume(Fraction(17, 10))
    assert leg.left.vials.most == Volume(Fraction(18, 10))
