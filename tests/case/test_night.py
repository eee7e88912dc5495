"""The night: a report of an injection is always kept, whatever it says, and what is doubtful in it is named."""

from dataclasses import replace

import pytest

from hourmark.case import events as e
from hourmark.case import opening, orders, sheets, slots
from hourmark.case.night import ALL, Confirm, Escalate, NoteIncident, WithdrawConfirmation
from tests.case.world import (
    CASE,
    DAY,
    LATER,
    MORNING,
    NIGHT,
    NURSE,
    PRESCRIBER,
    RELEASED,
    SECOND,
    THEATRE,
    World,
    at_stage,
    check,
    kinds,
    order,
    read_back,
    slot,
    written,
)

AT_FOUR_PAST = Confirm(
    CASE,
    injection="agonist",
    reported="2026-11-18 21:04",
    zone="America/Chicago",
    told_by="she herself",
    source="the kitchen clock",
    amount=ALL,
    remains="nothing",
)


def report(world: World, command: Confirm, at: str = NIGHT) -> e.Confirmed:
    """What was kept of a report."""
    entries = world.do(command, NURSE, at)
    assert kinds(entries) == ["case/K-103 confirmed"]
    return written(entries, e.Confirmed)


def test_a_report_without_any_doubt_is_kept_as_it_was_said() -> None:
    world = at_stage("released")
    assert report(world, AT_FOUR_PAST) == e.Confirmed(
        injection="agonist",
        reported="2026-11-18 21:04",
        zone="America/Chicago",
        instant="2026-11-19T03:04:00Z",
        told_by="she herself",
        source="the kitchen clock",
        amount="all",
        remains="nothing",
        sheet=1,
        doubts=(),
    )
    assert [(one.actor, one.at) for one in world.case().confirmations] == [(NURSE.name, NIGHT)]


def test_the_minute_is_read_on_the_clock_on_which_it_was_said() -> None:
    elsewhere = replace(AT_FOUR_PAST, zone="America/New_York", reported="2026-11-18 22:04")
    assert report(at_stage("released"), elsewhere).instant == "2026-11-19T03:04:00Z"


DOUBTFUL: dict[str, tuple[Confirm, str | None, tuple[str, ...]]] = {
    "a time still to come": (
        replace(AT_FOUR_PAST, reported="2026-11-18 21:40"),
        "2026-11-19T03:40:00Z",
        ("time-future",),
    ),
    "an unreadable time": (replace(AT_FOUR_PAST, reported="about nine"), None, ("time-unreadable",)),
    "an hour that no day has": (replace(AT_FOUR_PAST, reported="2026-11-18 24:10"), None, ("time-unreadable",)),
    "an unknown zone": (replace(AT_FOUR_PAST, zone="CST"), None, ("time-unreadable",)),
    "not all of it": (replace(AT_FOUR_PAST, amount="a drop was lost"), "2026-11-19T03:04:00Z", ("not-all",)),
    "an amount that nobody asked for": (replace(AT_FOUR_PAST, amount=""), "2026-11-19T03:04:00Z", ("not-all",)),
    "an unknown injection": (replace(AT_FOUR_PAST, injection="third"), "2026-11-19T03:04:00Z", ("injection-unknown",)),
    "a sheet that was never issued": (replace(AT_FOUR_PAST, sheet=7), "2026-11-19T03:04:00Z", ("no-sheet",)),
    "before the release": (
        replace(AT_FOUR_PAST, reported="2026-11-18 14:30"),
        "2026-11-18T20:30:00Z",
        ("before-release",),
    ),
    "everything at once": (
        replace(AT_FOUR_PAST, injection="third", reported="2026-11-18 23:00", amount="half"),
        "2026-11-19T05:00:00Z",
        ("injection-unknown", "time-future", "not-all"),
    ),
    "unreadable and not all": (
        replace(AT_FOUR_PAST, reported="earlier", amount="half"),
        None,
        ("time-unreadable", "not-all"),
    ),
}


@pytest.mark.parametrize("said", DOUBTFUL)
def test_a_doubtful_report_is_kept_with_exactly_its_doubts(said: str) -> None:
    command, instant, doubts = DOUBTFUL[said]
    found = report(at_stage("released"), command)
    assert (found.instant, found.doubts) == (instant, doubts)
    assert (found.reported, found.zone, found.amount) == (command.reported, command.zone, command.amount)


# Chicago skips 02:00 to 03:00 on 2026-03-08 and repeats 01:00 to 02:00 on 2026-11-01 (IANA time-zone database).


def test_a_skipped_and_a_repeated_hour_are_kept_without_guessing_the_minute() -> None:
    world = at_stage("planned")
    skipped = report(world, replace(AT_FOUR_PAST, reported="2026-03-08 02:30"))
    assert (skipped.instant, skipped.doubts) == (None, ("time-skipped", "no-sheet"))
    twice = replace(AT_FOUR_PAST, injection="hcg", reported="2026-11-01 01:30")
    found = report(world, twice)
    assert (found.instant, found.doubts) == (None, ("time-repeated", "no-sheet"))


@pytest.mark.parametrize(("which", "instant"), [("first", "2026-11-01T06:30:00Z"), ("second", "2026-11-01T07:30:00Z")])
def test_which_of_two_equal_clock_times_is_kept_with_the_report(which: str, instant: str) -> None:
    found = report(at_stage("planned"), replace(AT_FOUR_PAST, reported="2026-11-01 01:30", which=which))
    assert (found.reported, found.instant) == (f"2026-11-01 01:30 {which}", instant)
    assert found.doubts == ("no-sheet",)


def test_a_word_that_is_neither_first_nor_second_does_not_settle_it() -> None:
    found = report(at_stage("planned"), replace(AT_FOUR_PAST, reported="2026-11-01 01:30", which="early"))
    assert (found.instant, found.doubts) == (None, ("time-repeated", "no-sheet"))


def test_a_report_without_any_sheet_is_kept() -> None:
    found = report(at_stage("opened"), AT_FOUR_PAST)
    assert (found.sheet, found.doubts) == (None, ("no-sheet",))


def test_a_report_on_a_void_sheet_is_kept() -> None:
    world = at_stage("released")
    world.do(slots.PlaceSlot(slot() | {"at": "2026-11-20 09:45"}, "late"), THEATRE)
    found = report(world, AT_FOUR_PAST)
    assert (found.sheet, found.doubts) == (1, ("sheet-void",))


def test_a_report_says_which_of_two_sheets_she_followed() -> None:
    world = at_stage("released")
    world.do(sheets.VoidSheet(CASE, 1, "a smudge"), NURSE)
    world.do(read_back(world), NURSE)
    world.do(sheets.Release(CASE), NURSE, LATER)
    assert (report(world, AT_FOUR_PAST).sheet, world.case().confirmations[-1].event.doubts) == (2, ())
    old = report(world, replace(AT_FOUR_PAST, sheet=1, injection="hcg"))
    assert (old.sheet, old.doubts) == (1, ("sheet-void",))


def test_a_minute_between_two_releases_is_before_the_second() -> None:
    world = at_stage("released")
    world.do(orders.SignOrder(CASE, order() | {"largest_gap": "10 min"}), PRESCRIBER, LATER)
    world.do(check(world), SECOND)
    world.do(read_back(world), NURSE)
    world.do(sheets.Release(CASE), NURSE, "2026-11-19T02:50:00Z")
    early = replace(AT_FOUR_PAST, reported="2026-11-18 20:49")
    assert report(world, early).doubts == ("before-release",)
    assert report(world, replace(early, sheet=1, injection="hcg")).doubts == ("sheet-void",)


def test_the_minute_of_the_release_is_not_before_it() -> None:
    world = at_stage("released")
    assert report(world, replace(AT_FOUR_PAST, reported="2026-11-18 14:40")).doubts == ()
    before = replace(AT_FOUR_PAST, injection="hcg", reported="2026-11-18 14:39")
    assert report(world, before).doubts == ("before-release",)


def test_a_report_of_a_closed_case_is_kept() -> None:
    world = at_stage("released")
    world.do(opening.CloseCase(CASE, "over"), NURSE, LATER)
    assert written(world.do(AT_FOUR_PAST, NURSE, MORNING), e.Confirmed).doubts == ()
    assert [one.event.injection for one in world.case().confirmations] == ["agonist"]


def test_the_minute_of_the_report_itself_is_not_in_the_future() -> None:
    now = replace(AT_FOUR_PAST, reported="2026-11-18 21:10")
    assert report(at_stage("released"), now, NIGHT).doubts == ()


@pytest.mark.parametrize(
    "other",
    [{"reported": "2026-11-18 21:06"}, {"amount": "half"}, {"reported": "who knows"}],
    ids=["minute", "amount", "no minute"],
)
def test_two_reports_that_differ_are_both_kept_and_the_second_says_so(other: dict[str, str]) -> None:
    world = at_stage("released")
    assert report(world, AT_FOUR_PAST).doubts == ()
    found = report(world, replace(AT_FOUR_PAST, told_by="her sister", **other))  # type: ignore[arg-type]
    assert found.doubts[-1] == "reports-differ"
    assert len(world.case().confirmations) == 2


def test_two_people_who_say_the_same_raise_no_doubt() -> None:
    world = at_stage("released")
    report(world, AT_FOUR_PAST)
    assert report(world, replace(AT_FOUR_PAST, told_by="her sister", source="her watch")).doubts == ()
    assert report(world, replace(AT_FOUR_PAST, injection="hcg", reported="2026-11-18 21:09")).doubts == ()


def test_a_report_entered_by_mistake_counts_no_longer_and_stays_readable() -> None:
    world = at_stage("released")
    report(world, AT_FOUR_PAST)
    wrong = world.case().confirmations[0].seq
    entries = world.do(WithdrawConfirmation(CASE, wrong, "entered for the wrong person"), NURSE)
    assert kinds(entries) == ["case/K-103 confirmation-withdrawn"]
    assert written(entries, e.ConfirmationWithdrawn) == e.ConfirmationWithdrawn(wrong, "entered for the wrong person")
    assert world.case().confirmations == ()
    assert world.store.read("case/K-103")[wrong - 1].read_header().kind == "confirmed"
    assert report(world, replace(AT_FOUR_PAST, reported="2026-11-18 21:08")).doubts == ()


def test_only_a_report_that_counts_is_withdrawn() -> None:
    world = at_stage("released")
    report(world, AT_FOUR_PAST)
    seq = world.case().confirmations[0].seq
    for entry in (0, 1, seq + 1):
        assert world.codes(WithdrawConfirmation(CASE, entry, "x"), NURSE) == ["nothing-changed"]
    world.do(WithdrawConfirmation(CASE, seq, "x"), NURSE)
    assert world.codes(WithdrawConfirmation(CASE, seq, "x"), NURSE) == ["nothing-changed"]
    assert world.codes(WithdrawConfirmation("K-999", 1, "x"), NURSE) == ["nothing-changed"]


def test_whoever_is_told_of_it_and_the_reply_are_on_the_record() -> None:
    world = at_stage("released")
    entries = world.do(Escalate(CASE, "agonist", PRESCRIBER.name, "no answer since 21:00", "ring again"), NURSE, NIGHT)
    assert kinds(entries) == ["case/K-103 escalated"]
    assert written(entries, e.Escalated) == e.Escalated(
        "agonist", PRESCRIBER.name, "no answer since 21:00", "ring again", reached=True, rung=None, tell=None
    )


def test_an_incident_is_open_until_somebody_settles_it() -> None:
    world = at_stage("released")
    dropped = NoteIncident(CASE, "hcg", "she dropped the vial", PRESCRIBER.name, "use the spare vial", settled=False)
    entries = world.do(dropped, NURSE, NIGHT)
    assert kinds(entries) == ["case/K-103 incident-noted"]
    assert written(entries, e.IncidentNoted) == e.IncidentNoted(
        "hcg", "she dropped the vial", PRESCRIBER.name, "use the spare vial", settled=False, settles=None
    )
    assert [one.event.happened for one in world.case().problems] == ["she dropped the vial"]
    world.do(replace(dropped, injection=None, happened="she feels sick"), NURSE, NIGHT)
    assert [one.event.happened for one in world.case().problems] == ["she dropped the vial", "she feels sick"]
    world.do(replace(dropped, happened="the spare vial was used", settled=True), NURSE, NIGHT)
    assert [one.event.happened for one in world.case().problems] == ["she feels sick"]
    assert len(world.case().incidents) == 3


def test_nothing_that_is_reported_at_night_voids_the_sheet() -> None:
    world = at_stage("released")
    sheet = world.case().sheet
    report(world, AT_FOUR_PAST)
    world.do(Escalate(CASE, "agonist", PRESCRIBER.name, "late", "noted"), NURSE, NIGHT)
    world.do(NoteIncident(CASE, None, "sick", PRESCRIBER.name, "wait", False), NURSE, NIGHT)
    assert world.case().sheet == sheet is not None
    assert world.desk.states().day(DAY).cases == {"s3": CASE}
    assert sheet.at == RELEASED
