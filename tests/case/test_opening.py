"""Cases come onto the record once, change with a reason, and change no more when they are closed."""

from dataclasses import fields, replace
from typing import get_args

import pytest

from hourmark.case import (
    calls,
    checks,
    kits,
    night,
    opening,
    orders,
    phone,
    results,
    sheets,
    slots,
    trouble,
    unreached,
    watch,
)
from hourmark.case import events as e
from hourmark.desk import Command
from tests.case.world import (
    CASE,
    DAY,
    DUE,
    HER_PHONE,
    LATER,
    MORNING,
    NIGHT,
    NURSE,
    OPENED,
    PRESCRIBER,
    SECOND,
    WATCH,
    Person,
    World,
    at_stage,
    details,
    kinds,
    kit,
    order,
    written,
)

NOBODY = "K-999"


def about(case: str) -> list[tuple[Command, Person]]:
    """One command of every kind that is about a case, by somebody who may ask for it."""
    return [
        (opening.ChangeDetails(case, details() | {"helper": "Her sister"}, "she asked"), NURSE),
        (opening.CloseCase(case, "the night is over"), NURSE),
        (slots.GiveSlot(DAY, "s9", case, "a free one"), NURSE),
        (orders.SignOrder(case, order() | {"largest_gap": "10 min"}), PRESCRIBER),
        (orders.TelephoneOrder(case, order() | {"largest_gap": "10 min"}, "ten minutes", True), NURSE),
        (orders.CountersignOrder(case, 1), PRESCRIBER),
        (orders.WithdrawOrder(case, 1, "not tonight"), PRESCRIBER),
        (kits.ReadKit(case, kit() | {"needles": []}, "seen"), NURSE),
        (kits.CheckCarton(case, "hcg-10000-units", (NURSE.name, SECOND.name), "a", "b", "c"), NURSE),
        (checks.OpenPlan(case, "the plan"), NURSE),
        (checks.SecondCheck(case, ()), SECOND),
        (calls.TryCall(case, "+1 555 0188", False, "no answer"), NURSE),
        (calls.HearReadBack(case, "she", ("name", "birth"), (), "", True), NURSE),
        (calls.SetPermissions(case, "her partner", voicemail=False, message=True, how="said so"), NURSE),
        (unreached.TellUnreached(case, "the prescriber on call", "ring again"), NURSE),
        (sheets.Release(case), NURSE),
        (sheets.VoidSheet(case, 1, "wrong"), NURSE),
        (phone.GiveLink(case, "practice", "2026-11-21T03:00:00Z"), NURSE),
        (phone.RevokeLink(case, 1, "another telephone"), NURSE),
        (phone.ReadBoxes(case, "hcg", 1, ()), HER_PHONE),
        (phone.AskHelp(case, "hcg", "step 4", "I am stuck"), HER_PHONE),
        (phone.GiveHelp(case, 1, "rang her"), NURSE),
        (watch.ClaimRung(case, "hcg", 1, "her own number"), WATCH),
    ]


STILL_HEARD: list[tuple[Command, Person]] = [
    (calls.NoteCall(CASE, "she", "+1 555 0188", "still sore", "rest", "nobody", "none"), NURSE),
    (
        night.Confirm(CASE, "agonist", "2026-11-18 21:04", "America/Chicago", "she", "clock", night.ALL, "nothing"),
        NURSE,
    ),
    (night.Escalate(CASE, "agonist", "Dr. L. Aumont", "late report", "noted"), NURSE),
    (night.NoteIncident(CASE, None, "found a used syringe", "Dr. L. Aumont", "none", True), NURSE),
    (trouble.ReportTrouble(CASE, "hcg", "missed", (("symptoms", "no"),)), NURSE),
]
"""What is heard of a case after it was closed is still written down."""


def name_of(asked: object) -> str:
    return type(asked[0]).__name__ if isinstance(asked, tuple) else str(asked)


def test_opening_puts_the_case_on_the_record_and_on_the_roll() -> None:
    world = at_stage("opened")
    entries = world.do(opening.OpenCase("K-1", {"zone": "Europe/Madrid"}), NURSE)
    assert kinds(entries) == ["case/K-1 case-opened", "roll case-listed"]
    assert written(entries, e.CaseOpened) == e.CaseOpened("K-1", {"zone": "Europe/Madrid"})
    assert world.desk.states().roll() == (CASE, "K-1")
    assert world.case("K-1").details == {"zone": "Europe/Madrid"}


def test_a_case_is_opened_once_also_when_it_is_closed() -> None:
    world = at_stage("opened")
    assert world.codes(opening.OpenCase(CASE, details()), NURSE) == ["case-there"]
    world.do(opening.CloseCase(CASE, "she withdrew"), NURSE)
    assert world.codes(opening.OpenCase(CASE, details()), NURSE) == ["case-there"]


@pytest.mark.parametrize("closed_first", [False, True], ids=["open", "closed"])
@pytest.mark.parametrize("case", ["k-103", "K-103"])
def test_two_cases_never_differ_by_upper_and_lower_case_alone(case: str, closed_first: bool) -> None:
    world = at_stage("opened")
    if closed_first:
        world.do(opening.CloseCase(CASE, "she withdrew"), NURSE)
    refused = world.refused(opening.OpenCase(case, details()), NURSE)
    assert [finding.code for finding in refused.findings] == ["case-there"]
    assert case in refused.findings[0].what
    assert kinds(world.do(opening.OpenCase("k-1031", details()), NURSE))[0] == "case/k-1031 case-opened"


@pytest.mark.parametrize("case", ["", " ", "K 103", "K/103", "-103", "K-", "Ä-1", "K-103\n", "K" * 33])
def test_an_id_that_is_none_opens_no_case(case: str) -> None:
    refused = at_stage("opened").refused(opening.OpenCase(case, details()), NURSE)
    assert [(finding.code, finding.where) for finding in refused.findings] == [("file-value", "id")]


def test_a_wrong_id_is_named_together_with_wrong_details() -> None:
    refused = at_stage("opened").refused(opening.OpenCase("K 2", {"zone": "EST"}), NURSE)
    assert {finding.where for finding in refused.findings} == {"id", "zone"}


def test_every_detail_that_cannot_be_read_is_named_at_once() -> None:
    world = at_stage("opened")
    wrong: e.Table = {"zone": "EST", "bmi": "heavy", "lh": "1.8", "shoe": 38, "kit": {"products": []}}
    refused = world.refused(opening.OpenCase("K-2", wrong), NURSE)
    assert {finding.where for finding in refused.findings} >= {"zone", "bmi", "lh", "shoe", "kit"}
    assert {finding.code for finding in refused.findings} == {"file-value", "file-key-unknown"}
    assert world.codes(opening.ChangeDetails(CASE, {"zone": "Chicago"}, "moved"), NURSE) == ["file-value"]


def test_changed_details_hold_from_now_on() -> None:
    world = at_stage("planned")
    travels = details() | {"zone": "America/New_York"}
    entries = world.do(opening.ChangeDetails(CASE, travels, "she will be at her mother's"), NURSE)
    assert kinds(entries) == ["case/K-103 details-changed"]
    assert world.case().details == travels
    assert world.planned().to_read_back["agonist time"] == "22:00"


def test_details_that_are_the_same_are_no_change() -> None:
    world = at_stage("opened")
    assert world.codes(opening.ChangeDetails(CASE, details(), "again"), NURSE) == ["nothing-changed"]


def test_closing_takes_the_case_off_the_roll_and_the_board() -> None:
    world = at_stage("opened")
    assert [row.case for row in world.desk.states().board(LATER)] == [CASE]
    entries = world.do(opening.CloseCase(CASE, "she withdrew"), NURSE)
    assert kinds(entries) == ["case/K-103 case-closed", "roll case-delisted"]
    assert world.desk.states().roll() == ()
    assert world.desk.states().board(LATER) == []
    assert world.case().closed


# Silence is unknown: a case is not closed over it.


def given(injection: str, **change: str) -> night.Confirm:
    report = night.Confirm(CASE, injection, "2026-11-18 21:04", "America/Chicago", "she", "clock", night.ALL, "nothing")
    return replace(report, **change)  # type: ignore[arg-type]


def test_a_case_is_not_closed_while_an_injection_is_silent() -> None:
    world = at_stage("released")
    refused = world.refused(opening.CloseCase(CASE, "over"), NURSE, DUE)
    assert [finding.code for finding in refused.findings] == ["case-silent"]
    assert "agonist and hcg" in refused.findings[0].what
    world.do(given("agonist"), NURSE, NIGHT)
    refused = world.refused(opening.CloseCase(CASE, "over"), PRESCRIBER, MORNING)
    assert [finding.code for finding in refused.findings] == ["case-silent"]
    assert "hcg" in refused.findings[0].what
    assert "agonist" not in refused.findings[0].what
    world.do(given("hcg"), NURSE, NIGHT)
    assert "case/K-103 case-closed" in kinds(world.do(opening.CloseCase(CASE, "over"), NURSE, MORNING))


@pytest.mark.parametrize("change", [{"reported": "who knows"}, {"amount": "nothing of it: it fell"}])
def test_any_report_breaks_the_silence_also_that_it_was_not_given(change: dict[str, str]) -> None:
    world = at_stage("released")
    world.do(given("agonist", **change), NURSE, NIGHT)
    world.do(given("hcg", **change), NURSE, NIGHT)
    world.do(opening.CloseCase(CASE, "over"), NURSE, MORNING)
    assert world.case().closed


def test_a_report_that_was_withdrawn_leaves_the_silence() -> None:
    world = at_stage("released")
    world.do(given("agonist"), NURSE, NIGHT)
    world.do(given("hcg"), NURSE, NIGHT)
    world.do(night.WithdrawConfirmation(CASE, world.case().confirmations[0].seq, "another person"), NURSE, NIGHT)
    assert world.codes(opening.CloseCase(CASE, "over"), NURSE, MORNING) == ["case-silent"]


def test_a_case_is_not_closed_over_silence_on_a_page_that_is_void() -> None:
    world = at_stage("released")
    world.do(sheets.VoidSheet(CASE, 1, "a smudge"), NURSE, LATER)
    assert world.codes(opening.CloseCase(CASE, "over"), NURSE, MORNING) == ["case-silent"]


def test_a_case_is_not_closed_while_she_waits_for_a_call_or_a_problem_is_open() -> None:
    world = at_stage("heard")
    world.do(phone.AskHelp(CASE, None, "practice", "two misses"), HER_PHONE, LATER)
    world.do(night.NoteIncident(CASE, None, "the vial fell", "nobody yet", "none yet", False), NURSE, LATER)
    refused = world.refused(opening.CloseCase(CASE, "over"), NURSE, LATER)
    assert [finding.code for finding in refused.findings] == ["case-waiting"]
    assert "two misses; the vial fell" in refused.findings[0].what
    world.do(phone.GiveHelp(CASE, world.case().waiting[0].seq, "rang her"), NURSE, LATER)
    assert world.codes(opening.CloseCase(CASE, "over"), NURSE, LATER) == ["case-waiting"]
    world.do(night.NoteIncident(CASE, None, "the vial fell", "Dr. L. Aumont", "a spare", True), NURSE, LATER)
    world.do(opening.CloseCase(CASE, "over"), NURSE, LATER)
    assert world.case().closed


def test_a_case_is_closed_before_the_minute_and_where_no_sheet_holds() -> None:
    world = at_stage("released")
    world.do(opening.CloseCase(CASE, "she withdrew"), NURSE, "2026-11-19T02:59:59Z")
    assert world.case().closed
    world = at_stage("released")
    world.do(sheets.VoidSheet(CASE, 1, "she withdrew"), NURSE, LATER)
    world.do(opening.CloseCase(CASE, "she withdrew"), NURSE, "2026-11-19T02:59:59Z")
    assert world.case().closed
    world = at_stage("heard")
    assert world.codes(opening.CloseCase(CASE, "she withdrew"), NURSE, MORNING) == ["case-silent"]
    world.do(orders.WithdrawOrder(CASE, 1, "she withdrew"), PRESCRIBER, MORNING)
    world.do(opening.CloseCase(CASE, "she withdrew"), NURSE, MORNING)
    assert world.case().closed


@pytest.mark.parametrize("asked", about(NOBODY), ids=name_of)
def test_nothing_is_done_with_a_case_that_nobody_opened(asked: tuple[Command, Person]) -> None:
    assert at_stage("opened").codes(*asked) == ["case-unknown"]


@pytest.mark.parametrize(
    "command",
    [
        calls.NoteCall(NOBODY, "she", "", "", "", "", ""),
        night.Confirm(NOBODY, "agonist", "2026-11-18 21:04", "America/Chicago", "she", "clock", night.ALL, ""),
        night.Escalate(NOBODY, "agonist", "Dr. L. Aumont", "late", "noted"),
        night.NoteIncident(NOBODY, None, "something", "nobody", "nothing", False),
        trouble.ReportTrouble(NOBODY, None, "missed", ()),
    ],
    ids=lambda command: type(command).__name__,
)
def test_not_even_a_report_is_kept_of_a_case_that_nobody_opened(command: Command) -> None:
    assert at_stage("opened").codes(command, NURSE) == ["case-unknown"]


@pytest.mark.parametrize("asked", [one for one in about(CASE) if name_of(one) != "CountersignOrder"], ids=name_of)
def test_a_closed_case_changes_no_more(asked: tuple[Command, Person]) -> None:
    world = closed()
    assert world.codes(*asked, MORNING) == ["case-closed"]


@pytest.mark.parametrize("asked", STILL_HEARD, ids=name_of)
def test_what_is_heard_of_a_closed_case_is_still_kept(asked: tuple[Command, Person]) -> None:
    world = closed()
    entry, *listed = world.do(*asked, MORNING)
    assert entry.stream == "case/K-103"
    seen_again = name_of(asked) in ("Confirm", "ReportTrouble")
    assert kinds(tuple(listed)) == (["roll case-listed"] if seen_again else [])
    assert world.case().closed


def closed() -> World:
    world = at_stage("released")
    world.do(opening.CloseCase(CASE, "the night is over"), NURSE, LATER)
    return world


def test_each_act_is_recorded_under_the_name_and_the_time_of_whoever_asked() -> None:
    world = at_stage("opened")
    (entry, _) = world.do(opening.OpenCase("K-3", details()), SECOND, OPENED)
    header = entry.read_header()
    assert (header.actor, header.at, header.clinic) == (SECOND.name, OPENED, "invented")


def test_every_command_about_a_case_is_tried_above() -> None:
    about_one = {kind for kind in get_args(Command) if "case" in {field.name for field in fields(kind)}}
    tried = {type(command) for command, _ in (*about(CASE), *STILL_HEARD)}
    # Opening is refused the other way round; a report can only be withdrawn where there is one.
    assert about_one - tried == {opening.OpenCase, night.WithdrawConfirmation, results.WithdrawResult}
