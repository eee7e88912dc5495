"""The second check: by another person, blind, and of the case as it now is."""

import re
from dataclasses import replace

import pytest

from hourmark.case import events as e
from hourmark.case import kits, opening, orders, rules, sheets, slots
from hourmark.case.checks import OpenPlan, SecondCheck
from hourmark.case.sheets import checked_by
from hourmark.desk import Command
from tests.case.world import (
    CASE,
    CHECKED,
    DUE,
    LATER,
    LEAD,
    NURSE,
    PHARMACIST,
    PRESCRIBER,
    SECOND,
    THEATRE,
    Person,
    Stage,
    at_stage,
    carton_checks,
    check,
    clinic,
    details,
    kinds,
    kit,
    order,
    read_back,
    slot,
    written,
    wrongly,
)

READINGS = (
    e.Reading("agonist", DUE, (("0.8 mL", "80"),)),
    e.Reading("hcg", DUE, (("0.2 mL", "20"),)),
)
"""K-103 worked out by hand: 36 h before 09:00 on Friday; 4 mg / 5 mg per mL; 1,000 of 10,000 units in 2 mL."""


def test_a_check_that_agrees_keeps_both_answers() -> None:
    world = at_stage("planned")
    entries = world.do(SecondCheck(CASE, READINGS), SECOND)
    assert kinds(entries) == ["case/K-103 second-checked"]
    found = written(entries, e.SecondChecked)
    assert (found.role, found.entered, found.planned, found.differences) == ("nurse", READINGS, READINGS, ())
    assert checked_by(world.case(), world.planned().made.rests_on) == SECOND.name


def test_the_order_in_which_injections_are_entered_is_nothing() -> None:
    found = at_stage("planned").do(SecondCheck(CASE, READINGS[::-1]), PHARMACIST)
    assert written(found, e.SecondChecked).differences == ()


@pytest.mark.parametrize(
    ("entered", "differences"),
    [
        ((replace(READINGS[0], at="2026-11-19T04:00:00Z"), READINGS[1]), ("agonist: the minute differs",)),
        ((READINGS[0], replace(READINGS[1], fills=(("1 mL", "20"),))), ("hcg: the volume differs",)),
        ((READINGS[0], replace(READINGS[1], fills=(("0.2 mL", "2"),))), ("hcg: the mark differs",)),
        (
            (replace(READINGS[0], fills=(("0.2 mL", "20"),)), replace(READINGS[1], fills=(("0.8 mL", "80"),))),
            (
                "agonist: the volume differs",
                "agonist: the mark differs",
                "hcg: the volume differs",
                "hcg: the mark differs",
            ),
        ),
        (
            (replace(READINGS[0], fills=(("0.4 mL", "40"), ("0.4 mL", "40"))), READINGS[1]),
            ("agonist: the volume differs", "agonist: the mark differs"),
        ),
        (READINGS[:1], ("hcg: one of the two has no such injection",)),
        ((*READINGS, replace(READINGS[0], injection="third")), ("third: one of the two has no such injection",)),
        ((*READINGS, READINGS[0]), ("an injection was entered twice",)),
        (
            (),
            ("agonist: one of the two has no such injection", "hcg: one of the two has no such injection"),
        ),
    ],
    ids=["minute", "volume", "mark", "swapped", "two fills", "left out", "one more", "twice", "nothing"],
)
def test_what_differs_is_named_and_keeps_the_sheet_back(
    entered: tuple[e.Reading, ...], differences: tuple[str, ...]
) -> None:
    world = at_stage("planned")
    found = written(world.do(SecondCheck(CASE, entered), SECOND), e.SecondChecked)
    assert found.differences == differences
    assert (found.entered, found.planned) == (entered, READINGS)
    refused = world.refused(sheets.Release(CASE, call_waived_why="she is asleep"), NURSE)
    assert [finding.code for finding in refused.findings] == ["release-unchecked"]
    assert all(difference in refused.findings[0].what for difference in differences)


def test_a_difference_is_named_without_naming_either_answer() -> None:
    world = at_stage("planned")
    wrong = tuple(
        e.Reading(one.injection, "2026-11-19T05:17:00Z", (("0.66 mL", "66"), ("0.7 mL", "70"))) for one in READINGS
    )
    found = written(world.do(SecondCheck(CASE, wrong), SECOND), e.SecondChecked)
    refused = world.refused(sheets.Release(CASE, call_waived_why="she is asleep"), NURSE)
    for words in (*found.differences, *(finding.what + finding.do for finding in refused.findings)):
        assert not re.search(r"\d", words), words


@pytest.mark.parametrize("who", [PRESCRIBER, THEATRE, LEAD], ids=lambda who: who.role)
def test_only_roles_that_the_lead_signed_make_the_second_check(who: Person) -> None:
    refused = at_stage("planned").refused(SecondCheck(CASE, READINGS), who)
    assert [finding.code for finding in refused.findings] == ["checker-role"]
    assert refused.findings[0].limit == "signed checkers: nurse, pharmacist"


def test_without_signed_checkers_nobody_makes_the_second_check() -> None:
    world, table = at_stage("planned"), clinic()
    del table["rules"]["checkers"]
    world.do(rules.SignRules(table), LEAD)
    for who in (NURSE, PHARMACIST, PRESCRIBER):
        refused = world.refused(SecondCheck(CASE, READINGS), who)
        assert [finding.code for finding in refused.findings] == ["checker-role"]
        assert refused.findings[0].limit == "signed checkers: none"


def test_whoever_has_seen_the_plan_cannot_check_it() -> None:
    world = at_stage("planned")
    entries = world.do(OpenPlan(CASE, "the working page"), SECOND)
    assert kinds(entries) == ["case/K-103 plan-opened"]
    assert written(entries, e.PlanOpened) == e.PlanOpened("the working page")
    assert world.codes(SecondCheck(CASE, READINGS), SECOND) == ["checker-saw-plan"]
    assert world.case().opened_by == {SECOND.name}
    assert kinds(world.do(SecondCheck(CASE, READINGS), PHARMACIST)) == ["case/K-103 second-checked"]


@pytest.mark.parametrize("name", ["l. ortiz", "L.  ORTIZ", " L. Ortiz "])
def test_whoever_has_seen_the_plan_is_known_by_her_name_however_it_is_written(name: str) -> None:
    world = at_stage("planned")
    world.do(OpenPlan(CASE, "the plan"), SECOND)
    again = Person(name, SECOND.role)
    assert world.codes(SecondCheck(CASE, READINGS), again) == ["checker-saw-plan"]
    assert world.do(OpenPlan(CASE, "the plan"), again) == ()


def test_a_box_that_was_read_hides_no_plan_from_whoever_has_seen_it() -> None:
    world = at_stage("planned")
    world.do(OpenPlan(CASE, "the plan"), SECOND)
    world.do(carton_checks()[0], NURSE)
    assert world.case().opened_by == {SECOND.name}
    assert world.codes(SecondCheck(CASE, READINGS), SECOND) == ["checker-saw-plan"]


def test_looking_again_adds_nothing() -> None:
    world = at_stage("planned")
    world.do(OpenPlan(CASE, "the plan"), SECOND)
    before = world.everything()
    assert world.do(OpenPlan(CASE, "the sheet"), SECOND) == ()
    assert world.everything() == before


CHANGES: dict[str, tuple[Command, Person]] = {
    "details": (opening.ChangeDetails(CASE, details() | {"zone": "America/New_York"}, "travels"), NURSE),
    "order": (orders.SignOrder(CASE, order() | {"largest_gap": "10 min"}), PRESCRIBER),
    "order by telephone": (orders.TelephoneOrder(CASE, order() | {"largest_gap": "9 min"}, "nine", True), NURSE),
    "kit": (kits.ReadKit(CASE, kit() | {"needles": [{"gauge": 21, "length": "38 mm", "count": 2}]}, "seen"), NURSE),
    "slot": (slots.PlaceSlot(slot() | {"at": "2026-11-20 09:45"}, "late"), THEATRE),
}
"""Each makes another plan, which nobody has seen."""


@pytest.mark.parametrize("changed", CHANGES)
def test_after_a_change_the_plan_is_another_and_can_be_checked_again(changed: str) -> None:
    world = at_stage("planned")
    world.do(OpenPlan(CASE, "the plan"), SECOND)
    world.do(*CHANGES[changed])
    assert world.case().opened_by == frozenset()
    assert kinds(world.do(check(world), SECOND)) == ["case/K-103 second-checked"]
    assert kinds(world.do(OpenPlan(CASE, "the new plan"), SECOND)) == ["case/K-103 plan-opened"]
    assert world.codes(check(world), SECOND) == ["checker-saw-plan"]


@pytest.mark.parametrize("changed", CHANGES)
def test_a_check_of_the_case_as_it_was_counts_no_longer(changed: str) -> None:
    world = at_stage("checked")
    world.do(*CHANGES[changed])
    assert world.codes(sheets.Release(CASE, call_waived_why="she is asleep"), NURSE) == ["release-unchecked"]


def test_a_change_that_is_taken_back_brings_its_check_back() -> None:
    world = at_stage("checked")
    world.do(*CHANGES["slot"])
    world.do(slots.PlaceSlot(slot(), "as before"), THEATRE)
    assert checked_by(world.case(), world.planned().made.rests_on) == SECOND.name


def test_the_last_check_counts() -> None:
    world = at_stage("checked")
    world.do(wrongly(check(world), 1, fills=(("0.2 mL", "2"),)), PHARMACIST)
    waived = sheets.Release(CASE, call_waived_why="she is asleep")
    assert world.codes(waived, NURSE) == ["release-unchecked"]
    world.do(check(world), PHARMACIST)
    assert written(world.do(waived, NURSE), e.SheetIssued).checked_by == PHARMACIST.name


def test_a_second_check_that_differs_voids_the_sheet_that_is_out() -> None:
    world = at_stage("released")
    entries = world.do(wrongly(check(world), 1, fills=(("0.2 mL", "2"),)), PHARMACIST)
    assert kinds(entries) == ["case/K-103 second-checked", "case/K-103 sheet-voided"]
    voided = written(entries, e.SheetVoided)
    assert (voided.version, voided.changed) == (1, ("second check",))
    assert voided.why == "a second check differs from it"
    assert world.messages() == [("call-owed", CASE)]
    assert world.case().sheet is None
    # It takes another check, which agrees, before she gets another page.
    world.do(read_back(world), NURSE)
    assert world.codes(sheets.Release(CASE), NURSE) == ["release-unchecked"]
    world.do(check(world), PHARMACIST)
    assert written(world.do(sheets.Release(CASE), NURSE), e.SheetIssued).version == 2


@pytest.mark.parametrize("stage", ["checked", "heard"])
def test_a_second_check_that_differs_before_the_release_has_nothing_to_void(stage: Stage) -> None:
    world = at_stage(stage)
    entries = world.do(wrongly(check(world), 1, fills=(("0.2 mL", "2"),)), PHARMACIST)
    assert kinds(entries) == ["case/K-103 second-checked"]
    assert world.messages() == []


def test_one_more_second_check_that_agrees_leaves_the_sheet_as_it_is() -> None:
    world = at_stage("released")
    sheet = world.case().sheet
    assert kinds(world.do(check(world), PHARMACIST)) == ["case/K-103 second-checked"]
    assert world.case().sheet == sheet is not None
    assert world.messages() == []


def test_a_case_that_is_stopped_has_no_plan_to_check() -> None:
    world = at_stage("planned")
    world.do(slots.FreeSlot("2026-11-20", "s3", "cancelled"), THEATRE)
    assert world.codes(SecondCheck(CASE, READINGS), SECOND) == ["check-without-plan"]


def test_every_reason_against_a_check_is_given_at_once() -> None:
    world = at_stage("planned")
    world.do(slots.FreeSlot("2026-11-20", "s3", "cancelled"), THEATRE)
    world.do(OpenPlan(CASE, "the plan"), THEATRE)
    codes = world.codes(SecondCheck(CASE, ()), THEATRE)
    assert codes == ["checker-role", "checker-saw-plan", "check-without-plan"]


def test_a_case_without_order_or_kit_has_nothing_to_check() -> None:
    world = at_stage("opened")
    refused = world.refused(SecondCheck(CASE, ()), SECOND, CHECKED)
    assert [finding.code for finding in refused.findings] == ["case-incomplete"]
    assert "an order" in refused.findings[0].what
    assert "a kit" in refused.findings[0].what
    world.do(orders.SignOrder(CASE, order()), PRESCRIBER)
    refused = world.refused(SecondCheck(CASE, ()), SECOND, LATER)
    assert "an order" not in refused.findings[0].what
    assert "a kit" in refused.findings[0].what
