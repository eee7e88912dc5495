"""The clinic's rules: signed by its lead, in force from then on, and what they void."""

import pytest

from hourmark.case import events as e
from hourmark.case.day import RulesState
from hourmark.case.kits import ReadKit
from hourmark.case.opening import CloseCase
from hourmark.case.orders import SignOrder
from hourmark.case.rules import MeasureBarrel, SignRules
from hourmark.case.sheets import Release
from hourmark.desk import Command
from hourmark.desk.made import Planned, plan_of
from tests.case.world import (
    CASE,
    LATER,
    LEAD,
    NURSE,
    PHARMACIST,
    PRESCRIBER,
    SIGNED,
    THEATRE,
    Person,
    World,
    at_stage,
    clinic,
    empty,
    kinds,
    kit,
    open_case,
    order,
    plan_case,
    release_case,
    written,
)

IN_USE: e.Table = {
    "syringe": "u100-1mL-1",
    "scale_length": "57 mm",
    "measured_by": "T. Brenholt",
    "measured_at": "2026-11-18 09:00",
}
"""An invented length of a barrel that K-103 uses."""

NOT_IN_USE = IN_USE | {"syringe": "mL-5-0.2", "scale_length": "60 mm"}


def with_rule(**rules: object) -> SignRules:
    table = clinic()
    table["rules"] |= rules
    return SignRules(table)


def two_sheets() -> World:
    """K-103 with two medicines and a mark, K-108 with one prefilled syringe; both released."""
    world = at_stage("released")
    open_case(world, "K-108")
    plan_case(world, "K-108")
    release_case(world, "K-108")
    return world


def test_signed_rules_are_in_force_under_the_next_number() -> None:
    world = at_stage("opened")
    entries = world.do(with_rule(keep_years=10), LEAD)
    assert kinds(entries) == ["rules rules-signed"]
    assert written(entries, e.RulesSigned).version == 2
    assert world.desk.states().rules().clinic["rules"]["keep_years"] == 10  # type: ignore[call-overload, index]
    assert world.desk.states().rules().version == 2
    assert world.desk.states(SIGNED).rules().clinic == clinic()


def test_rules_that_are_the_same_are_no_change() -> None:
    assert at_stage("opened").codes(SignRules(clinic()), LEAD) == ["nothing-changed"]


@pytest.mark.parametrize(
    "who",
    [NURSE, PRESCRIBER, PHARMACIST, THEATRE, Person(LEAD.name, PRESCRIBER.role), Person("Dr. N. Other", LEAD.role)],
    ids=["nurse", "prescriber", "pharmacist", "theatre", "the lead in another role", "another lead"],
)
def test_only_the_lead_whom_they_name_signs_rules(who: Person) -> None:
    refused = at_stage("opened").refused(with_rule(keep_years=10), who)
    assert [finding.code for finding in refused.findings] == ["rules-by-other"]
    assert who.name in refused.findings[0].what


@pytest.mark.parametrize(
    "who",
    [NURSE, PRESCRIBER, PHARMACIST, THEATRE, Person(LEAD.name, PRESCRIBER.role)],
    ids=["nurse", "prescriber", "pharmacist", "theatre", "the lead in another role"],
)
def test_a_clinic_without_a_table_of_rules_is_signed_by_a_lead_too(who: Person) -> None:
    bare = SignRules({name: value for name, value in clinic().items() if name != "rules"})
    world = empty()
    refused = world.refused(bare, who)
    assert [finding.code for finding in refused.findings] == ["rules-by-other"]
    assert who.name in refused.findings[0].what
    assert kinds(world.do(bare, LEAD)) == ["rules rules-signed"]
    assert at_stage("released").codes(bare, who) == ["rules-by-other"]


def test_the_zone_stays_while_a_case_is_open() -> None:
    moved = SignRules(clinic() | {"zone": "America/New_York"})
    world = at_stage("opened")
    refused = world.refused(moved, LEAD)
    assert [finding.code for finding in refused.findings] == ["zone-in-use"]
    assert "America/Chicago" in refused.findings[0].what
    world.do(CloseCase(CASE, "she withdrew"), NURSE)
    assert kinds(world.do(moved, LEAD)) == ["rules rules-signed"]
    assert world.desk.states().rules().clinic["zone"] == "America/New_York"


def test_the_first_rules_are_signed_whatever_their_zone_also_with_cases_open() -> None:
    world = empty()
    open_case(world, CASE)
    assert kinds(world.do(SignRules(clinic() | {"zone": "America/New_York"}), LEAD)) == ["rules rules-signed"]


def test_before_any_rules_are_signed_no_barrel_is_measured() -> None:
    world = empty()
    assert world.codes(MeasureBarrel(IN_USE), PHARMACIST) == ["rules-missing"]
    world.do(SignRules(clinic()), LEAD)
    assert kinds(world.do(MeasureBarrel(IN_USE), PHARMACIST)) == ["rules barrel-measured"]


def test_a_case_has_no_plan_before_the_rules_are_signed() -> None:
    world = empty()
    open_case(world, CASE)
    world.do(SignOrder(CASE, order()), PRESCRIBER)
    world.do(ReadKit(CASE, kit(), "seen"), NURSE)
    refused = world.refused(Release(CASE), NURSE)
    assert [finding.code for finding in refused.findings] == ["case-incomplete"]
    assert "the clinic's signed rules" in refused.findings[0].what
    assert "an order" not in refused.findings[0].what
    # A table of a clinic that nobody has signed is none.
    unsigned = plan_of(world.case(), RulesState(0, clinic(), SIGNED), LATER)
    assert not isinstance(unsigned, Planned)
    assert [finding.code for finding in unsigned] == ["case-incomplete"]


def test_rules_that_cannot_be_read_are_refused_with_every_place() -> None:
    table = clinic() | {"zone": "CST"}
    table["rules"] |= {"checkers": ["theatre"], "tell_by": "three hours", "nap": "1 h"}
    refused = at_stage("opened").refused(SignRules(table), LEAD)
    wrong = {finding.where for finding in refused.findings}
    assert wrong >= {"zone", "rules.tell_by", "rules.nap"}
    assert any(place.startswith("rules.checkers") for place in wrong)


def test_a_changed_rule_voids_every_sheet_that_rests_on_it_and_each_is_owed_a_call() -> None:
    world = two_sheets()
    entries = world.do(with_rule(tell_by="4 h"), LEAD)
    assert kinds(entries) == ["rules rules-signed", "case/K-103 sheet-voided", "case/K-108 sheet-voided"]
    assert set(world.messages()) == {("call-owed", CASE), ("call-owed", "K-108")}


def test_a_changed_rule_voids_no_sheet_that_does_not_rest_on_it() -> None:
    world = two_sheets()
    mix = clinic()["rules"]["mixes"][0] | {"diluent": "5 mL"}
    entries = world.do(with_rule(mixes=[mix]), LEAD)
    assert kinds(entries) == ["rules rules-signed", "case/K-103 sheet-voided"]
    assert world.messages() == [("call-owed", CASE)]
    assert world.case("K-108").sheet is not None


def test_a_case_without_a_sheet_has_none_to_void() -> None:
    assert kinds(at_stage("heard").do(with_rule(tell_by="4 h"), LEAD)) == ["rules rules-signed"]


def test_a_sheet_that_is_void_is_not_voided_again() -> None:
    world = at_stage("released")
    world.do(with_rule(tell_by="4 h"), LEAD)
    assert kinds(world.do(with_rule(tell_by="5 h"), LEAD)) == ["rules rules-signed"]
    assert len(world.messages()) == 1


def test_a_measured_barrel_is_in_use_and_voids_the_sheets_that_show_it() -> None:
    world = two_sheets()
    entries = world.do(MeasureBarrel(IN_USE), PHARMACIST)
    assert kinds(entries) == ["rules barrel-measured", "case/K-103 sheet-voided"]
    assert written(entries, e.BarrelMeasured) == e.BarrelMeasured(IN_USE)
    assert written(entries, e.SheetVoided).changed == ("barrels.u100-1mL-1",)
    assert world.desk.states().rules().clinic["barrels"] == [IN_USE]


def test_a_barrel_that_no_sheet_shows_voids_none() -> None:
    assert kinds(two_sheets().do(MeasureBarrel(NOT_IN_USE), PHARMACIST)) == ["rules barrel-measured"]


def test_a_barrel_measured_again_takes_the_place_of_the_first() -> None:
    world = at_stage("opened")
    world.do(MeasureBarrel(IN_USE), PHARMACIST)
    world.do(MeasureBarrel(NOT_IN_USE), PHARMACIST)
    assert world.codes(MeasureBarrel(NOT_IN_USE), NURSE) == ["nothing-changed"]
    again = IN_USE | {"scale_length": "57.5 mm"}
    world.do(MeasureBarrel(again), NURSE)
    assert world.desk.states().rules().clinic["barrels"] == [NOT_IN_USE, again]


def test_a_barrel_that_cannot_be_read_is_refused() -> None:
    command: Command = MeasureBarrel(IN_USE | {"scale_length": "long", "syringe": "u100"})
    refused = at_stage("opened").refused(command, PHARMACIST)
    assert {finding.where for finding in refused.findings} == {"scale_length", "syringe"}


def test_a_measured_barrel_is_drawn_at_true_size_on_the_next_page() -> None:
    world = at_stage("opened")
    world.do(MeasureBarrel(IN_USE), PHARMACIST, SIGNED)
    plan_case(world, CASE)
    release_case(world, CASE)
    assert "scale of 57 mm, measured by T. Brenholt" in world.desk.pages(CASE, 1)["sheet.txt"].decode()


def test_rules_signed_without_the_measured_barrels_are_without_them() -> None:
    world = at_stage("opened")
    world.do(MeasureBarrel(IN_USE), PHARMACIST)
    world.do(with_rule(keep_years=10), LEAD)
    assert "barrels" not in world.desk.states().rules().clinic


def test_closed_cases_are_left_as_they_are() -> None:
    world = at_stage("released")
    world.do(CloseCase(CASE, "over"), NURSE, LATER)
    assert kinds(world.do(with_rule(tell_by="4 h"), LEAD)) == ["rules rules-signed"]
