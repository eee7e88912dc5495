"""What is left in the opened vial and the syringe, what is still unopened, and what several legs have in common. Worked by hand."""

import pytest

from hourmark.incident import Answer, Earlier, Kind, Spare, Who, answer, limits_of, read_facts
from hourmark.incident.words import doses, shares, unopened, volumes
from tests.exchange.nights import LEAD, NASAL, POWDER, PREFILLED, SOLUTION, WHOLE, changed, second_injection
from tests.incident.trouble import MORNING, REPEAT, TWO, at, call, codes, night, one_leg, plan

AT = "2026-11-18 21:00"
HCG = "chorionic gonadotropin"
SECOND_BOX = """[[cases.kit.products]]
product = "hcg-5000-units"
strength = "5,000 units"
label_rule = "1 mL or 10 mL"
expiry = 2027-02-28
count = 2

[[cases.kit.diluents]]"""


def three_boxes(base: str = POWDER) -> str:
    return changed(
        base,
        ("expiry = 2027-02-28\n\n[[cases.kit.diluents]]", "expiry = 2027-02-28\ncount = 3\n\n[[cases.kit.diluents]]"),
    )


def test_a_loss_that_may_be_more_than_there_was_is_asked_again() -> None:
    """0.1 to 0.3 mL out of a syringe that held 0.2."""
    found = call(Kind.PARTIAL, at=AT, lost="0.1 to 0.3 mL")
    assert codes(found)["trouble-too-much"] == "stop"
    assert one_leg(found).given is None
    whole = call(Kind.PARTIAL, at=AT, lost="0.1 to 0.2 mL")
    given = one_leg(whole).given
    assert given is not None
    assert doses(given) == "0 to 500 units"


def test_what_stays_in_the_vial_as_a_range() -> None:
    """5,000 units in 1 mL; 0.1 to 0.3 mL stay: 0.7 to 0.9 mL went in, and 500 to 1,500 units are left."""
    leg = one_leg(call(Kind.PARTIAL, at=AT, residue="0.1 to 0.3 mL", base=WHOLE))
    assert leg.given is not None
    assert leg.left.vials is not None
    assert leg.left.dose is not None
    assert (doses(leg.given), volumes(leg.left.vials), doses(leg.left.dose)) == (
        "3,500 to 4,500 units",
        "0.1 to 0.3 mL",
        "500 to 1,500 units",
    )


def test_what_stays_in_the_syringe_did_not_go_in() -> None:
    leg = one_leg(call(Kind.PARTIAL, at=AT, stayed="0.05 mL", lost="0.05 mL"))
    assert leg.given is not None
    assert leg.left.syringe is not None
    assert (doses(leg.given), volumes(leg.left.syringe)) == ("500 units", "0.05 mL")


def test_a_range_that_reaches_from_the_order_upwards_is_not_the_order() -> None:
    """0.2 to 0.3 mL: 1,000 to 1,500 units, one end of it as ordered."""
    found = call(Kind.WRONG_MARK, injected="yes", at=AT, drawn="0.2 to 0.3 mL")
    leg = one_leg(found)
    assert leg.share is not None
    assert leg.left.dose is not None
    assert (shares(leg.share), found.decides) == ("100 to 150 %", Who.PRESCRIBER)
    assert doses(leg.left.dose) == "8,500 to 9,000 units"


def test_a_ready_liquid_has_its_rest_counted_too() -> None:
    leg = one_leg(call(Kind.PARTIAL, at=AT, stayed="0.1 mL", base=PREFILLED))
    assert leg.given is not None
    assert doses(leg.given) == "200 mcg"  # 250 mcg in 0.5 mL


@pytest.mark.parametrize(
    ("kind", "said", "least", "most"),
    [
        pytest.param(Kind.WRONG_MARK, {"injected": "yes", "at": AT, "drawn": "0.3 mL"}, 2, 2, id="one used"),
        pytest.param(Kind.MISSED, {}, 2, 3, id="perhaps opened"),
        pytest.param(Kind.LATE, {"injected": "no"}, 2, 3, id="not injected"),
        pytest.param(Kind.REPEATED, {"at": AT, "all": "yes", "times": "1 to 2"}, 1, 2, id="one or two used"),
        pytest.param(
            Kind.WRONG_PRODUCT,
            {"injected": "yes", "at": AT, "drug": HCG, "strength": "5,000 units"},
            2,
            3,
            id="another box",
        ),
        pytest.param(Kind.WATER_ONLY, {"at": AT, "opened": "2"}, 1, 1, id="two opened"),
        pytest.param(Kind.MISSED, {"opened": "0 to 1"}, 2, 3, id="none or one opened"),
        pytest.param(Kind.MISSED, {"opened": "9"}, 0, 0, id="more than there were"),
    ],
)
def test_unopened_boxes(kind: Kind, said: dict[str, str], least: int, most: int) -> None:
    found = call(kind, said, base=three_boxes())
    assert (found.spare[0].least, found.spare[0].most, found.spare[0].strength) == (least, most, "10,000 units")


def test_other_boxes_of_the_same_drug_are_counted_apart() -> None:
    base = changed(
        POWDER,
        ("[[cases.kit.diluents]]", SECOND_BOX),
        ('dose = "1,000 units"', 'dose = "1,000 units"\nproduct = "hcg-10000-units"'),
    )
    boxes = [(one.strength, one.least, one.most) for one in call(Kind.WATER_ONLY, at=AT, base=base).spare]
    assert boxes[:2] == [("10,000 units", 0, 0), ("5,000 units", 2, 2)]
    told = {"injected": "yes", "at": AT, "drug": HCG, "strength": "5,000 units", "water": "1 mL", "drawn": "0.2 mL"}
    other = [(one.strength, one.least, one.most) for one in call(Kind.WRONG_PRODUCT, told, base=base).spare]
    assert other[:2] == [("10,000 units", 0, 1), ("5,000 units", 1, 2)]


def test_water_and_syringes_beside_them() -> None:
    """One container of water and one of three unit syringes went into it."""
    spare = {one.of: (one.least, one.most) for one in call(Kind.WATER_ONLY, at=AT).spare}
    assert spare["container of bacteriostatic water"] == (0, 0)
    assert spare["new syringe u100-1mL-1"] == (2, 2)
    missed = {one.of: (one.least, one.most) for one in call(Kind.MISSED).spare}
    assert missed["new syringe u100-1mL-1"] == (2, 3)


def test_starts_that_have_nothing_in_common() -> None:
    """Given at 17:00: 04:00 to 06:00. Missed and given at 22:30: 09:30 to 11:30."""
    found = call(Kind.ONE_OF_TWO, missed="first", at="2026-11-18 17:00", all="yes", base=TWO, now="2026-11-18 22:30")
    assert len([leg for leg in found.legs if leg.slots]) == 2
    assert found.common is None


def test_a_confirmed_other_leg_stands_beside_it() -> None:
    """The agonist was confirmed at 21:00; the hCG of the same order went in at 21:30, which is more than 15 min apart."""
    found = call(
        Kind.LATE,
        injection="first",
        injected="yes",
        at="2026-11-18 21:30",
        all="yes",
        base=TWO,
        given_at={"agonist": AT},
    )
    assert [leg.injection.id for leg in found.legs] == ["first", "agonist"]
    assert found.legs[1].reasons == ()
    assert any("30 min apart" in one.why and one.who is Who.PRESCRIBER for one in found.reasons)
    assert found.common is not None
    assert [one.local for one in found.common] == ["2026-11-20T08:30:00-06:00", "2026-11-20T10:00:00-06:00"]
    near = call(
        Kind.LATE,
        injection="first",
        injected="yes",
        at="2026-11-18 21:15",
        all="yes",
        base=TWO,
        given_at={"agonist": AT},
    )
    assert near.decides is Who.NURSE


def test_a_first_that_was_left_out_moves_nothing() -> None:
    """The time told is that of the one given; the repeat is counted from the one that was not."""
    found = call(
        Kind.ONE_OF_TWO, missed="agonist", at="2026-11-18 21:00", all="yes", base=REPEAT, now="2026-11-18 21:30"
    )
    assert found.legs[0].injection.id == "agonist"
    assert found.proposals == ()


def test_a_repeat_is_not_due_before_its_gap() -> None:
    """Counted from the confirmed 18:00, not from the planned 17:00: due at 06:00."""
    given = {"agonist": "2026-11-18 18:00"}
    early = call(Kind.MISSED, injection="repeat", base=REPEAT, now="2026-11-19 05:59", given_at=given)
    assert (early.decides, codes(early)) == (Who.NURSE, {"trouble-not-given": "note"})
    assert any("It is due at 06:00" in one.why for one in early.reasons)
    assert str(early.legs[0].left_to_inject) == "1 h 1 min"
    due = call(Kind.MISSED, injection="repeat", base=REPEAT, now="2026-11-19 06:00", given_at=given)
    late = call(Kind.MISSED, injection="repeat", base=REPEAT, now="2026-11-19 07:01", given_at=given)
    assert (due.decides, late.decides) == (Who.NURSE, Who.PRESCRIBER)
    unknown = call(Kind.MISSED, injection="repeat", base=REPEAT, now="2026-11-19 05:59")
    assert unknown.decides is Who.PRESCRIBER


def test_a_missed_repeat_is_counted_from_the_first_of_the_same_call() -> None:
    """One of two, where the second follows the first by 12 h: 17:00, and nothing by 19:00."""
    base = changed(
        REPEAT,
        (
            REPEAT[
                REPEAT.index("[[cases.order.injections]]") : REPEAT.index('[[cases.order.injections]]\nid = "agonist"')
            ],
            "",
        ),
        (PRODUCT, ""),
    )
    found = call(Kind.ONE_OF_TWO, missed="repeat", at="2026-11-18 17:00", all="yes", base=base, now="2026-11-18 19:00")
    assert found.legs[0].injection.id == "repeat"
    assert any("It is due at 05:00" in one.why for one in found.reasons)
    assert found.not_known == ()


PRODUCT = POWDER[POWDER.index("[[cases.kit.products]]") : POWDER.index("[[cases.kit.diluents]]")].rstrip("\n") + "\n"


def test_sprays_are_given_whole_or_not_known() -> None:
    """Two sprays of 200 mcg: all of it is 400 mcg; no part of a spray is computed."""
    whole = one_leg(call(Kind.LATE, injected="yes", at=AT, all="yes", base=NASAL))
    assert whole.given is not None
    assert doses(whole.given) == "400 mcg"
    twice = one_leg(call(Kind.REPEATED, at=AT, all="yes", times="2", base=NASAL))
    assert twice.given is not None
    assert doses(twice.given) == "800 mcg"
    part = call(Kind.LATE, injected="yes", at=AT, all="no", base=NASAL)
    assert one_leg(part).given is None
    assert "how many sprays went in" in part.not_known


def test_a_vial_that_holds_less_than_the_planned_volume() -> None:
    """0.2 mL are planned; from a vial with 0.1 mL of water nobody drew them, so it is asked how much it was."""
    found = call(Kind.WRONG_WATER, injected="yes", at=AT, water="0.1 mL")
    assert one_leg(found).given is None
    assert "how much was drawn up: the planned volume is more than that vial holds" in found.not_known
    none = call(Kind.WRONG_WATER, injected="yes", at=AT, water="0 to 1 mL", drawn="0.2 mL")
    assert one_leg(none).left.dose is None
    given = one_leg(none).given
    assert given is not None
    assert doses(given) == "0 to 10,000 units"  # 0.2 mL of water and all of it drawn would be the whole vial


def test_a_ready_liquid_of_a_vial_whose_filling_is_not_known() -> None:
    """What stays in it says nothing of what went in, unless it is known how much there was."""
    held = one_leg(call(Kind.PARTIAL, at=AT, residue="2 mL", base=SOLUTION))
    assert held.given is not None  # 2.8 mL less 2 mL at 5 mg/mL
    assert held.left.dose is not None
    assert (doses(held.given), doses(held.left.dose)) == ("4 mg", "10 mg")
    agonist = "leuprolide acetate"
    other = call(Kind.WRONG_PRODUCT, injected="yes", at=AT, drug=agonist, strength="1 mg/mL", base=SOLUTION)
    assert one_leg(other).left.vials is None


def test_a_case_without_a_box_takes_what_is_told() -> None:
    """The drug is not in the kit at all: its strength, water and volume have to be told."""
    base = changed(
        POWDER,
        ('product = "hcg-10000-units"\nstrength', 'product = "ganirelix-250mcg-syringe"\nstrength'),
        ('strength = "10,000 units"\nlabel_rule = "10 mL only"', 'strength = "250 mcg"'),
    )
    told = call(
        Kind.WRONG_PRODUCT,
        injected="yes",
        at=AT,
        drug=HCG,
        strength="5,000 units",
        water="1 mL",
        drawn="0.2 mL",
        base=base,
    )
    given = one_leg(told).given
    assert given is not None
    assert doses(given) == "1,000 units"
    assert [one for one in told.spare if one.strength] == []
    dry = call(Kind.WRONG_PRODUCT, injected="yes", at=AT, drug=HCG, strength="5,000 units", drawn="0.2 mL", base=base)
    assert "how much water went in" in dry.not_known
    silent = call(Kind.WRONG_MARK, injected="yes", at=AT, drawn="0.2 mL", base=base)
    assert "what was in the vial: the plan of this case has no liquid" in silent.not_known


def test_a_first_of_which_the_time_is_wide_leaves_no_window() -> None:
    """Between 15:00 and 19:00 lie four hours, more than the two of the repeat's window."""
    found = call(
        Kind.LATE,
        injection="agonist",
        injected="yes",
        at="2026-11-18 15:00 to 2026-11-18 19:00",
        all="yes",
        base=REPEAT,
    )
    (proposal,) = found.proposals
    assert proposal.window is None
    assert [one.local for one in proposal.at] == ["2026-11-19T03:00:00-06:00", "2026-11-19T07:00:00-06:00"]


# What other injections and calls used

TWO_MORE = changed(REPEAT, ('strength = "5 mg/mL"\ncount = 2\n', 'strength = "5 mg/mL"\ncount = 3\n'))
"""Three vials of the agonist at home, of which agonist and repeat take one each; hCG has one vial of its own."""


def vials(found: Answer) -> Spare:
    return next(one for one in found.spare if one.strength == "5 mg/mL")


def earlier(kind: Kind, **said: str) -> Earlier:
    return Earlier(kind, read_facts(kind, {"symptoms": "no"} | said))


def after(before: tuple[Earlier, ...], *, given: dict[str, str] | None = None, **said: str) -> Answer:
    """The agonist drawn to another mark, with other calls before it."""
    told = {"symptoms": "no", "injection": "agonist", "injected": "yes", "at": "2026-11-18 17:00", "drawn": "0.3 mL"}
    facts = read_facts(Kind.WRONG_MARK, told | said)
    confirmed = {name: at(text) for name, text in (given or {}).items()}
    limits = limits_of(night(TWO_MORE).clinic.rules)
    return answer(plan(TWO_MORE), Kind.WRONG_MARK, facts, limits, at(MORNING), confirmed, earlier=before)


def test_what_the_order_still_needs_is_not_spare() -> None:
    """Three, of which this took one; the repeat takes one, if nothing changes: one is spare, or two."""
    found = vials(after(()))
    assert (found.least, found.most, found.assumed) == (1, 2, ("repeat takes 1, as planned",))
    assert unopened(found).startswith("about 1 to 2 x leuprolide acetate")
    assert unopened(found).endswith("(if repeat takes 1, as planned)")


def test_what_another_injection_took_is_gone_unless_it_may_have_come_out_of_the_same_vial() -> None:
    """The repeat is confirmed. A vial of the agonist may be kept once opened, so both may have come out of one."""
    found = vials(after((), given={"repeat": "2026-11-19 05:00"}))
    assert (found.least, found.most, found.assumed) == (1, 2, ("repeat used 1, as planned",))


def test_an_injection_that_was_given_from_a_vial_that_is_not_kept_took_its_own() -> None:
    """Two injections of a whole vial each; three vials at home, this took one and the other one."""
    other = f'id = "other"\ndrug = "chorionic gonadotropin"\ndose = "5,000 units"\nroute = "subcutaneous"\n{LEAD}'
    base = changed(
        second_injection(WHOLE, other), ('strength = "5,000 units"\n', 'strength = "5,000 units"\ncount = 3\n')
    )
    found = call(Kind.PARTIAL, injection="first", at=AT, lost="half", base=base, given_at={"other": AT})
    box = found.spare[0]
    assert (box.least, box.most, box.assumed) == (1, 1, ("other used 1, as planned",))
    open_still = call(Kind.PARTIAL, injection="first", at=AT, lost="half", base=base)
    assert (open_still.spare[0].least, open_still.spare[0].most) == (1, 2)


def test_what_an_earlier_call_used_is_gone_as_it_was_told() -> None:
    """Twice of the repeat before this call: two more are gone, whatever the plan takes for it."""
    call_before = earlier(Kind.REPEATED, injection="repeat", times="2", at="2026-11-18 16:00", all="yes")
    found = vials(after((call_before,)))
    words = 'the call before, "injected more than one time", used 2 for repeat'
    assert (found.least, found.most, found.assumed) == (0, 0, (words,))


def test_an_earlier_call_about_the_same_injection_may_be_about_the_same_vial() -> None:
    call_before = earlier(Kind.PARTIAL, injection="agonist", at="2026-11-18 16:50", lost="half")
    found = vials(after((call_before,)))
    assert (found.least, found.most) == (0, 2)
    assert found.assumed == (
        'the call before, "a part lost: leaked, spilled or left behind", used 1 for agonist',
        "repeat takes 1, as planned",
    )


def test_boxes_that_the_caller_counted_are_counted_one_time() -> None:
    """Two open or used up by now: whatever calls before this one said, one is left, which the repeat may still take."""
    call_before = earlier(Kind.PARTIAL, injection="agonist", at="2026-11-18 16:50", lost="half")
    found = vials(after((call_before,), opened="2"))
    assert (found.least, found.most, found.assumed) == (0, 1, ("repeat takes 1, as planned",))


def test_one_that_was_left_out_may_still_be_closed_and_the_other_took_its_own() -> None:
    """One vial of hCG at home, left out and perhaps closed still; the agonist of the same call took its vial."""
    found = call(Kind.ONE_OF_TWO, missed="first", at=AT, all="yes", base=TWO)
    assert [(one.least, one.most) for one in found.spare if one.strength == "10,000 units"] == [(0, 1)]
    syringes = next(one for one in found.spare if one.of == "new syringe u100-1mL-1")
    assert (syringes.least, syringes.most, syringes.assumed) == (1, 2, ("agonist used 1, as planned",))


def test_a_vial_that_an_earlier_call_took_instead_of_another_medicine_is_counted() -> None:
    said = {"injection": "first", "injected": "yes", "at": "2026-11-18 16:00", "drug": "leuprolide acetate"}
    found = vials(after((earlier(Kind.WRONG_PRODUCT, **said, strength="5 mg/mL"),)))
    assert (found.least, found.most) == (0, 2)
    assert found.assumed == ("repeat takes 1, as planned", "the call before took 1 of them instead of first")
