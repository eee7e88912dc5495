"""The board: what is recorded and nothing else. Silence is unknown; it is never read as given, and never as not given."""

from dataclasses import replace
from typing import Any

import pytest

from hourmark.case import events as e
from hourmark.case import kits, opening, orders, rules, sheets, slots
from hourmark.case.asked import Role
from hourmark.case.board import REPORTED_AFTER_CLOSING, Row
from hourmark.case.by_order import by_order
from hourmark.case.night import NONE, Escalate, NoteIncident, WithdrawConfirmation
from hourmark.case.phone import AskHelp, ReadBoxes
from hourmark.case.trouble import ReportTrouble, computed
from hourmark.desk import morning_of
from tests.case.test_night import AT_FOUR_PAST
from tests.case.world import (
    CASE,
    CHECKED,
    DAY,
    DUE,
    HEARD,
    HER_PHONE,
    LATER,
    LEAD,
    MORNING,
    NIGHT,
    NURSE,
    PRESCRIBER,
    RELEASED,
    SECOND,
    THEATRE,
    Person,
    Stage,
    World,
    at_stage,
    check,
    clinic,
    details,
    kinds,
    kit,
    open_case,
    order,
    plan_case,
    prescriber,
    read_back,
    release_case,
    slot,
)

MIX_AT = "2026-11-19T02:40:00Z"
"""Twenty minutes before the injection, as the clinic's lead signed."""

HCG_TOO = replace(AT_FOUR_PAST, injection="hcg", reported="2026-11-18 21:09")

SECOND_ALONE = orders.SignOrder(
    CASE,
    {
        **{name: value for name, value in order().items() if name not in ("sequence", "largest_gap")},
        "injections": order()["injections"][1:],
    },
)
"""An order of the second injection alone."""


def rows(world: World, now: str) -> list[Row]:
    return world.desk.states().board(now)


def states(world: World, now: str) -> list[tuple[str, str | None]]:
    return [(row.state, row.since) for row in rows(world, now)]


def test_a_case_without_a_sheet_says_what_is_missing() -> None:
    world = at_stage("opened")
    assert rows(world, LATER) == [Row(CASE, "no sheet", "missing: order, kit, slot; no page: minute not known")]
    world.do(slots.GiveSlot("2026-11-20", "s3", CASE, "as listed"), NURSE)
    world.do(orders.SignOrder(CASE, order()), PRESCRIBER)
    later = "no page: its minute stands here once the second check agrees"
    assert [row.why for row in rows(world, LATER)] == [f"missing: kit; {later}"] * 2
    world.do(kits.ReadKit(CASE, kit(), "seen"), NURSE)
    first, second = rows(world, LATER)
    assert (first.place, first.medicine) == ("1 of 2", "leuprolide acetate 4 mg")
    assert (second.place, second.medicine) == ("2 of 2", "chorionic gonadotropin 1,000 units")
    assert first.why == second.why == f"not released; {later}"


CALL_BY = "2026-11-19T00:00:00Z"
"""18:00 in Chicago: K-103 injects at 21:00 and is told three hours before."""


@pytest.mark.parametrize(("now", "overdue"), [(LATER, False), (CALL_BY, False), ("2026-11-19T00:00:01Z", True)])
def test_once_the_check_agrees_a_case_without_a_page_has_its_minute_by_the_order(now: str, overdue: bool) -> None:
    for row in rows(at_stage("checked"), now):
        assert (row.state, row.due, row.tell_by, row.by_order) == ("no sheet", DUE, CALL_BY, True)
        assert (row.overdue, str(row.to_slot)) == (overdue, "36 h")
        assert row.why == "not released; no page: the minute is by the order"


def test_whoever_has_read_it_back_waits_for_her_page_and_for_no_call() -> None:
    for row in rows(at_stage("heard"), "2026-11-19T02:59:00Z"):
        assert (row.due, row.tell_by, row.overdue) == (DUE, None, False)
        assert row.why == "not released; she has read it back; no page: the minute is by the order"
    first, _ = rows(at_stage("heard"), DUE)
    assert (first.past, first.overdue) == (True, False)
    assert first.why.startswith("not released; its minute by the order is past")


@pytest.mark.parametrize(("now", "overdue"), [(CALL_BY, False), ("2026-11-19T00:00:01Z", True), (DUE, True)])
def test_before_the_check_it_is_said_that_the_call_is_overdue_and_never_the_minute(now: str, overdue: bool) -> None:
    for row in rows(at_stage("planned"), now):
        assert row.overdue is overdue
        assert (row.due, row.tell_by, row.to_slot, row.by_order) == (None, None, None, False)
        assert ("is past" in row.why) is row.past is (now == DUE)
        assert "once the second check agrees" in row.why


def test_a_minute_by_the_order_that_passed_without_a_page_is_said_to_be_past() -> None:
    first, _ = rows(at_stage("checked"), DUE)
    assert "its minute by the order is past, and nobody has said whether it was given" in first.why
    world = at_stage("checked")
    world.do(AT_FOUR_PAST, NURSE, NIGHT)
    hcg, problem, agonist = rows(world, NIGHT)
    assert (problem.why, hcg.injection, hcg.overdue) == ("she had no released page", "hcg", True)
    assert (agonist.injection, agonist.overdue) == ("agonist", False), "somebody has spoken of it"


@pytest.mark.parametrize("stage", ["planned", "checked", "heard"])
@pytest.mark.parametrize("now", ["2026-11-18T23:00:00Z", MORNING])
def test_what_was_reported_without_a_page_is_not_to_be_told_and_injected_again(stage: Stage, now: str) -> None:
    world = at_stage(stage)
    world.do(replace(AT_FOUR_PAST, sheet=None, reported="2026-11-18 16:50"), NURSE, "2026-11-18T23:00:00Z")
    by_state = {row.state: row for row in rows(world, now) if row.injection == "agonist"}
    assert set(by_state) == {"problem", "no sheet"}
    said = "2026-11-18 16:50, all of it (she herself)"
    assert by_state["problem"].reported == by_state["no sheet"].reported == said
    row = by_state["no sheet"]
    assert (row.due, row.tell_by, row.to_slot, row.by_order, row.past, row.overdue) == (None, None, None, *[False] * 3)
    assert row.why == (
        "not released; no page: it was reported, in a row of its own: ask the prescriber before she is told to inject"
    )
    (line,) = [one for one in morning_of(world.desk.states(), DAY, now) if one.case == CASE]
    assert [(one.at, one.reported) for one in line.given if "agonist" in one.medicine] == [
        ("2026-11-18T22:50:00Z", True)
    ]


def test_where_all_was_reported_the_morning_list_does_not_say_that_nobody_has_said_anything() -> None:
    world = at_stage("checked")
    for one in (AT_FOUR_PAST, HCG_TOO):
        world.do(replace(one, sheet=None), NURSE, NIGHT)
    (line,) = [one for one in morning_of(world.desk.states(), DAY, MORNING) if one.case == CASE]
    assert [one.reported for one in line.given] == [True, True]
    assert line.trigger == "no page released"


def test_a_report_of_a_time_still_to_come_leaves_a_minute_that_passes_in_silence() -> None:
    world = at_stage("checked")
    world.do(replace(AT_FOUR_PAST, sheet=None), NURSE, LATER)
    assert world.case().confirmations[0].event.doubts == ("no-sheet", "time-future")
    row = next(one for one in rows(world, MORNING) if one.injection == "agonist" and one.state == "no sheet")
    assert (row.past, row.due, row.tell_by, row.overdue) == (True, None, None, False)


def test_an_injection_by_the_clock_and_one_counted_from_another_have_their_minute_by_the_order_too() -> None:
    world = at_stage("checked", "K-110")
    (row,) = rows(world, LATER)
    assert (row.due, row.tell_by) == ("2026-11-19T03:30:00Z", "2026-11-19T00:30:00Z")
    follows = {**order()["injections"][1], "after": {"injection": "agonist", "gap": "12 h"}}
    del follows["lead"]
    two = {**order(), "injections": [order()["injections"][0], follows]}
    state = replace(world.case(), slot=at_stage("planned").case().slot)
    signed = replace(world.case("K-110").orders[-1], event=e.OrderSigned(1, two))
    found = by_order(replace(state, id=CASE, details=details(), orders=(signed,)), world.desk.states().rules(), LATER)
    assert [one.at for one in found] == [DUE, "2026-11-19T15:00:00Z"]


@pytest.mark.parametrize("change", [
    {"at": "2026-03-08 02:30"},
    {"at": "soon"},
    {"after": {"injection": "third", "gap": "12 h"}},
    {"lead": "36 hours or so"},
])  # fmt: skip
def test_a_minute_that_order_and_clock_do_not_give_is_not_guessed(change: dict[str, Any]) -> None:
    world = at_stage("checked")
    one = {name: value for name, value in order()["injections"][0].items() if name != "lead"} | change
    signed = replace(world.case().orders[-1], event=e.OrderSigned(1, {**order(), "injections": [one]}))
    (found,) = by_order(replace(world.case(), orders=(signed,)), world.desk.states().rules(), LATER)
    assert (found.at, found.tell_by, found.said, found.past, found.overdue) == (None, None, False, False, False)


def test_a_case_without_a_page_is_never_behind_what_is_later_than_it() -> None:
    world = at_stage("checked")
    for case in ("K-106", "K-108"):
        open_case(world, case)
        plan_case(world, case)
    release_case(world, "K-108")
    # K-103 injects at 21:00, checked; K-106 at 22:00, not checked; K-108 at 23:00, with a page. They are told three hours before.
    order_at = {
        "2026-11-18T23:59:00Z": ["K-106", "K-103", "K-103", "K-108"],
        "2026-11-19T00:30:00Z": ["K-103", "K-103", "K-106", "K-108"],
        "2026-11-19T01:30:00Z": ["K-106", "K-103", "K-103", "K-108"],
    }
    assert {now: [row.case for row in rows(world, now)] for now in order_at} == order_at


def test_its_place_says_no_more_than_that_she_need_not_be_told_yet() -> None:
    """What is due sooner than the signed time to tell her stays before it, wherever her minute is."""
    world = at_stage("released")
    open_case(world, "K-109")
    plan_case(world, "K-109")
    assert [row.case for row in rows(world, "2026-11-19T01:00:00Z")] == [CASE, CASE, "K-109"]


def test_a_released_sheet_has_a_row_for_each_injection() -> None:
    first, second = rows(at_stage("released"), LATER)
    assert (first.case, first.place, first.medicine) == (CASE, "1 of 2", "leuprolide acetate 4 mg")
    assert (second.place, second.medicine) == ("2 of 2", "chorionic gonadotropin 1,000 units")
    assert (first.take, second.take) == ("mark 80 (0.8 mL)", "mark 20 (0.2 mL) of 2 mL mix")
    assert (first.due, second.due) == (DUE, DUE)
    assert str(first.to_slot) == str(second.to_slot) == "36 h"


def test_she_is_told_once_she_has_read_it_back() -> None:
    assert states(at_stage("released"), LATER) == [("told", HEARD)] * 2


def test_she_stays_told_of_a_sheet_that_holds_when_the_rules_are_signed_anew() -> None:
    world, table = at_stage("released"), clinic()
    table["rules"]["keep_years"] = 30
    world.do(rules.SignRules(table), LEAD, LATER)
    assert states(world, LATER) == [("told", HEARD)] * 2


def test_due_says_so_where_nobody_has_told_her() -> None:
    told, untold = at_stage("released"), at_stage("checked")
    untold.do(sheets.Release(CASE, call_waived_why="no answer yet"), NURSE, RELEASED)
    assert [(row.state, row.why) for row in rows(told, MIX_AT)] == [("due", "")] * 2
    assert [(row.state, row.why) for row in rows(untold, MIX_AT)] == [("due", "nobody has told her")] * 2


def test_due_says_so_where_she_read_another_page_back() -> None:
    world = at_stage("checked")
    world.do(replace(read_back(world), check_word="other words"), NURSE, HEARD)
    world.do(sheets.Release(CASE, call_waived_why="she was shown it after all"), NURSE, RELEASED)
    assert [(row.state, row.why) for row in rows(world, MIX_AT)] == [("due", "nobody has told her")] * 2


def test_a_sheet_that_went_out_without_the_call_is_still_to_tell() -> None:
    world = at_stage("checked")
    world.do(sheets.Release(CASE, call_waived_why="no answer yet"), NURSE, RELEASED)
    assert [(row.state, row.since, row.why) for row in rows(world, LATER)] == [("to tell", None, "no answer yet")] * 2


@pytest.mark.parametrize(
    ("now", "state", "since"),
    [
        ("2026-11-19T02:39:59Z", "told", HEARD),
        (MIX_AT, "due", MIX_AT),
        ("2026-11-19T02:59:59Z", "due", MIX_AT),
        (DUE, "unknown since", DUE),
        ("2026-11-19T12:00:00Z", "unknown since", DUE),
        ("2026-12-24T12:00:00Z", "unknown since", DUE),
    ],
)
def test_silence_after_the_minute_is_unknown_for_as_long_as_it_lasts(now: str, state: str, since: str) -> None:
    assert states(at_stage("released"), now) == [(state, since)] * 2


@pytest.mark.parametrize("now", [DUE, NIGHT, "2026-11-20T23:00:00Z"])
def test_no_row_ever_says_that_something_was_not_injected(now: str) -> None:
    world = at_stage("released")
    world.do(AT_FOUR_PAST, NURSE, NIGHT)
    for row in rows(world, now):
        assert "not injected" not in f"{row.state} {row.why}"
        assert "not given" not in f"{row.state} {row.why}"
        assert "missed" not in f"{row.state} {row.why}"


def test_what_is_given_says_when_and_how_long_before_the_slot() -> None:
    world = at_stage("released")
    world.do(AT_FOUR_PAST, NURSE, NIGHT)
    unknown, given = rows(world, NIGHT)
    assert (given.state, given.since, str(given.to_slot)) == ("given", "2026-11-19T03:04:00Z", "35 h 56 min")
    assert (given.place, given.why) == ("1 of 2", "1 of 2 given")
    assert (unknown.state, unknown.since, unknown.why) == ("unknown since", DUE, "1 of 2 given")
    assert unknown.place == "2 of 2"


def test_when_everything_is_given_nothing_is_counted_any_more() -> None:
    world = at_stage("released")
    world.do(AT_FOUR_PAST, NURSE, NIGHT)
    world.do(HCG_TOO, NURSE, NIGHT)
    assert [(row.state, row.why) for row in rows(world, NIGHT)] == [("given", ""), ("given", "")]


DOUBTFUL: dict[str, tuple[dict[str, Any], str]] = {
    "a time still to come": ({"reported": "2026-11-18 21:40"}, "the time is still to come: ask again"),
    "a time that cannot be read": ({"reported": "about nine"}, "the time is not known"),
    "a time that night does not have": ({"reported": "2026-03-08 02:30"}, "that time does not exist that night"),
    "a time that night has twice": ({"reported": "2026-11-01 01:30"}, "that time happens twice: ask which"),
    "a part": ({"amount": "half of it"}, "not all of it went in, or nobody knows"),
    "an amount that nobody asked for": ({"amount": ""}, "not all of it went in, or nobody knows"),
    "what her page did not have": ({"sheet": 1}, "her page has no such injection"),
    "other than before": ({"reported": "2026-11-18 21:06"}, "two reports differ"),
}
"""What may be reported of the first injection, and what then is to ask. Each stands beside a good report of the second."""


def doubtful(what: str) -> World:
    """K-103 with such a report."""
    world = at_stage("released")
    if what == "what her page did not have":
        world = hcg_alone()
        world.do(orders.SignOrder(CASE, order()), PRESCRIBER, LATER)
        release_case(world, CASE)
    if what == "other than before":
        world.do(AT_FOUR_PAST, NURSE, NIGHT)
    world.do(HCG_TOO, NURSE, NIGHT)
    world.do(replace(AT_FOUR_PAST, **DOUBTFUL[what][0]), NURSE, NIGHT)
    return world


def hcg_alone() -> World:
    """K-103 with a sheet of its second injection alone."""
    world = at_stage("planned")
    world.do(SECOND_ALONE, PRESCRIBER, CHECKED)
    release_case(world, CASE)
    return world


def first_row(world: World, now: str = MORNING) -> Row:
    return next(row for row in rows(world, now) if row.place == "1 of 2")


@pytest.mark.parametrize("what", DOUBTFUL)
def test_a_report_that_leaves_something_to_ask_is_a_problem_and_does_not_count_as_given(what: str) -> None:
    world = doubtful(what)
    problem, given = rows(world, MORNING)
    assert (problem.place, problem.state, problem.since) == ("1 of 2", "problem", NIGHT)
    assert DOUBTFUL[what][1] in problem.why
    assert problem.why.endswith("; 1 of 2 given")
    assert (given.place, given.state, given.why) == ("2 of 2", "given", "1 of 2 given")


@pytest.mark.parametrize("what", DOUBTFUL)
def test_settling_something_of_the_whole_case_settles_no_report(what: str) -> None:
    world = doubtful(what)
    before = first_row(world)
    taxi = NoteIncident(CASE, None, "she has no car", PRESCRIBER.name, "a taxi", settled=False)
    world.do(taxi, NURSE, NIGHT)
    assert (first_row(world).state, first_row(world).why) == ("problem", "she has no car; 1 of 2 given")
    world.do(replace(taxi, settled=True), NURSE, NIGHT)
    assert first_row(world) == before


@pytest.mark.parametrize("what", DOUBTFUL)
def test_a_doubtful_report_is_a_problem_until_somebody_has_settled_it(what: str) -> None:
    world = doubtful(what)
    asked = NoteIncident(CASE, "agonist", "she was asked again", PRESCRIBER.name, "it counts", settled=False)
    world.do(asked, NURSE, NIGHT)
    assert (first_row(world).state, first_row(world).why) == ("problem", "she was asked again; 1 of 2 given")
    world.do(replace(asked, settled=True), NURSE, NIGHT)
    assert "problem" not in [row.state for row in rows(world, MORNING)]
    if what in ("a time still to come", "what her page did not have", "other than before"):
        assert [(row.state, row.why.endswith("given")) for row in rows(world, MORNING)] == [("given", False)] * 2


def test_what_was_settled_before_a_report_or_of_another_injection_settles_nothing_of_it() -> None:
    world = at_stage("released")
    settled = NoteIncident(CASE, "agonist", "she asked for the minute", PRESCRIBER.name, "as it stands", settled=True)
    world.do(settled, NURSE, NIGHT)
    world.do(replace(AT_FOUR_PAST, amount="half of it"), NURSE, NIGHT)
    world.do(replace(settled, injection="hcg"), NURSE, NIGHT)
    assert first_row(world).state == "problem"
    world.do(settled, NURSE, NIGHT)
    assert first_row(world).state != "problem"


def test_a_report_after_the_settling_is_doubted_anew() -> None:
    world = doubtful("a part")
    world.do(NoteIncident(CASE, "agonist", "a part", PRESCRIBER.name, "it counts", settled=True), NURSE, NIGHT)
    world.do(AT_FOUR_PAST, NURSE, NIGHT)
    assert (first_row(world).state, first_row(world).why) == ("problem", "two reports differ; 1 of 2 given")


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"sheet": 7}, "she had no released page"),
        ({"told_by": "her sister", "source": "her watch"}, ""),
    ],
)
def test_doubts_that_leave_nothing_to_ask_are_said_and_it_counts_as_given(change: dict[str, Any], why: str) -> None:
    world = at_stage("released")
    world.do(replace(AT_FOUR_PAST, **change), NURSE, NIGHT)
    assert (first_row(world).state, first_row(world).why) == ("given", "; ".join(filter(None, (why, "1 of 2 given"))))


def test_the_last_report_counts_and_a_good_one_after_a_bad_one_still_differs_from_it() -> None:
    world = at_stage("released")
    world.do(replace(AT_FOUR_PAST, amount="half of it"), NURSE, NIGHT)
    world.do(AT_FOUR_PAST, NURSE, "2026-11-19T03:20:00Z")
    row = first_row(world)
    assert (row.state, row.since) == ("problem", "2026-11-19T03:20:00Z")
    assert "two reports differ" in row.why
    world.do(NoteIncident(CASE, "agonist", "half or all", PRESCRIBER.name, "all of it", settled=True), NURSE, MORNING)
    assert (first_row(world).state, first_row(world).since) == ("given", "2026-11-19T03:04:00Z")


def test_a_report_that_was_withdrawn_leaves_the_row_unknown_again() -> None:
    world = at_stage("released")
    world.do(AT_FOUR_PAST, NURSE, NIGHT)
    world.do(WithdrawConfirmation(CASE, world.case().confirmations[0].seq, "another person"), NURSE, NIGHT)
    assert states(world, NIGHT) == [("unknown since", DUE)] * 2


def test_an_open_incident_is_a_problem_of_its_injection_or_of_all() -> None:
    world = at_stage("released")
    dropped = NoteIncident(CASE, "hcg", "she dropped the vial", PRESCRIBER.name, "use the spare", settled=False)
    world.do(dropped, NURSE, MIX_AT)
    problem, told = rows(world, LATER)
    assert (problem.place, problem.state, problem.since, problem.why) == (
        "2 of 2",
        "problem",
        MIX_AT,
        "she dropped the vial",
    )
    assert told.state == "told"
    world.do(replace(dropped, settled=True), NURSE, MIX_AT)
    assert [row.state for row in rows(world, LATER)] == ["told", "told"]
    world.do(replace(dropped, injection=None, happened="she feels sick"), NURSE, MIX_AT)
    assert [(row.state, row.why) for row in rows(world, LATER)] == [("problem", "she feels sick")] * 2


@pytest.mark.parametrize("stage", ["opened", "planned", "heard"])
def test_a_problem_of_a_case_without_a_sheet_has_a_row_of_its_own(stage: Stage) -> None:
    world = at_stage(stage)
    lost = NoteIncident(CASE, None, "she lost the box", PRESCRIBER.name, "fetch another", settled=False)
    world.do(lost, NURSE, LATER)
    world.do(replace(lost, injection="agonist", happened="the vial fell"), NURSE, NIGHT)
    first, second, sheet, *_ = sorted(rows(world, NIGHT), key=lambda row: row.state == "no sheet")
    assert replace(first, entry=None) == Row(CASE, "problem", "she lost the box", since=LATER)
    assert replace(second, entry=None) == Row(CASE, "problem", "the vial fell", medicine="agonist", since=NIGHT)
    assert first.entry != second.entry
    assert sheet.state == "no sheet"
    world.do(replace(lost, settled=True), NURSE, NIGHT)
    assert [row.why for row in rows(world, NIGHT) if row.state == "problem"] == ["the vial fell"]


def test_a_problem_of_an_injection_that_is_on_no_page_has_a_row_beside_those_of_the_page() -> None:
    world = at_stage("released")
    noted = NoteIncident(CASE, "third", "a third syringe was found", PRESCRIBER.name, "ask her", settled=False)
    world.do(noted, NURSE, NIGHT)
    first, *others = rows(world, NIGHT)
    assert replace(first, entry=None) == Row(CASE, "problem", "a third syringe was found", "", "third", since=NIGHT)
    assert [(row.place, row.state) for row in others] == [("1 of 2", "unknown since"), ("2 of 2", "unknown since")]
    world.do(replace(noted, injection=None, happened="she feels sick"), NURSE, NIGHT)
    # What is of the whole case stands with each injection, and nowhere else.
    assert sorted((row.place, row.why) for row in rows(world, NIGHT)) == [
        ("", "a third syringe was found"),
        ("1 of 2", "she feels sick"),
        ("2 of 2", "she feels sick"),
    ]


def test_a_problem_stays_in_front_also_of_a_report() -> None:
    world = at_stage("released")
    world.do(NoteIncident(CASE, "agonist", "the needle bent", PRESCRIBER.name, "take a new one", False), NURSE, NIGHT)
    world.do(AT_FOUR_PAST, NURSE, NIGHT)
    row = next(row for row in rows(world, NIGHT) if row.place == "1 of 2")
    assert (row.state, row.why.partition(";")[0]) == ("problem", "the needle bent")


def test_a_void_sheet_is_no_sheet_before_its_minute_and_unknown_after_it() -> None:
    world = at_stage("released")
    world.do(slots.PlaceSlot(slot() | {"at": "2026-11-20 09:45"}, "a long case before"), THEATRE, LATER)
    for row in rows(world, LATER):
        assert (row.state, row.since) == ("no sheet", LATER)
        assert "page 1 is void" in row.why
        assert "a long case before" in row.why
    # She may have followed the page that she has: nobody knows.
    for row in rows(world, NIGHT):
        assert (row.state, row.since, row.why) == ("unknown since", DUE, "the page is void")


def seven(world: World) -> None:
    """Her slot two hours earlier, so that she injects at 19:00 and is told by 16:00; page 1 is void by that."""
    world.do(slots.PlaceSlot(slot() | {"at": "2026-11-20 07:00"}, "earlier"), THEATRE, LATER)


def test_a_void_page_does_not_hide_that_the_order_has_an_earlier_minute_now() -> None:
    world = at_stage("released")
    seven(world)
    for now, overdue, past in (
        ("2026-11-18T21:59:00Z", False, False),
        ("2026-11-18T22:01:00Z", True, False),
        ("2026-11-19T01:00:00Z", True, True),
    ):
        for row in rows(world, now):
            assert (row.overdue, row.past) == (overdue, past)
            assert (row.due, row.tell_by, row.to_slot, row.take, row.by_order) == (None, None, None, "", False)
            assert "page 1 is void" in row.why
            assert "once the second check agrees" in row.why
            assert ("its minute by the order is past" in row.why) is past
    world.do(check(world), SECOND, "2026-11-18T21:30:00Z")
    for row in rows(world, "2026-11-18T22:01:00Z"):
        assert (row.state, row.due, row.tell_by) == ("no sheet", "2026-11-19T01:00:00Z", "2026-11-18T22:00:00Z")
        assert (row.by_order, row.overdue, str(row.to_slot), row.take) == (True, True, "36 h", "")
        assert "no page: the minute is by the order" in row.why


def test_a_void_page_near_its_old_minute_stays_trouble_and_says_that_the_new_one_is_past() -> None:
    world = at_stage("released")
    seven(world)
    for row in rows(world, "2026-11-19T02:45:00Z"):
        assert (row.state, row.past) == ("problem", True)
        assert "ring her before she mixes" in row.why
        assert "its minute by the order is past" in row.why


def test_a_case_with_a_void_page_stands_where_its_minute_by_the_order_belongs() -> None:
    world = at_stage("released")
    open_case(world, "K-108")
    plan_case(world, "K-108")
    release_case(world, "K-108")
    world.do(slots.PlaceSlot(slot() | {"at": "2026-11-20 12:30"}, "later"), THEATRE, LATER)
    world.do(check(world), SECOND, LATER)
    assert [row.case for row in rows(world, LATER)] == ["K-108", CASE, CASE]


def test_the_morning_list_has_the_minute_of_a_void_page_by_the_order() -> None:
    world = at_stage("released")
    seven(world)

    def given(now: str) -> list[Any]:
        (line,) = [one for one in morning_of(world.desk.states(), DAY, now) if one.case == CASE]
        return [(one.due, one.unsaid, one.remarks) for one in line.given]

    later = "no page: its minute stands here once the second check agrees"
    assert given("2026-11-18T22:01:00Z") == [(None, later, ("no page holds now", "the call is overdue"))] * 2
    assert given("2026-11-19T01:00:00Z") == [(None, "", ("no page holds now",))] * 2, "time UNKNOWN"
    (line,) = [one for one in morning_of(world.desk.states(), DAY, "2026-11-19T01:00:00Z") if one.case == CASE]
    assert line.needle.startswith("agonist not known and hcg not known: ")
    world.do(check(world), SECOND, "2026-11-18T21:30:00Z")
    due = "2026-11-19T01:00:00Z"
    assert given("2026-11-18T21:40:00Z") == [(due, "", ("no page holds now",))] * 2


def test_an_injection_of_a_new_order_that_no_page_had_has_a_row_beside_the_void_page() -> None:
    world = at_stage("released")
    new: Any = order()
    new["injections"] = [one | {"id": f"new-{one['id']}"} for one in new["injections"]]
    new["sequence"] = [f"new-{one}" for one in new["sequence"]]
    world.do(orders.SignOrder(CASE, new), PRESCRIBER, LATER)
    found = {row.injection: row for row in rows(world, LATER)}
    assert sorted(found) == ["agonist", "hcg", "new-agonist", "new-hcg"]
    assert found["new-hcg"].why.startswith("on no page; no page: its minute stands here once")
    (line,) = [one for one in morning_of(world.desk.states(), DAY, LATER) if one.case == CASE]
    assert [one.medicine.split(" by the order ")[0] for one in line.given][2:] == ["on no page;"] * 2


def test_without_a_slot_there_are_no_hours_to_it() -> None:
    world = at_stage("planned", "K-110")
    release_case(world, "K-110")
    assert [(row.state, row.to_slot) for row in rows(world, LATER)] == [("told", None)]


def test_trouble_comes_first_then_what_is_due_first_and_what_is_given_last() -> None:
    world = at_stage("released")
    for case in ("K-106", "K-108", "K-110"):
        open_case(world, case)
        plan_case(world, case)
        release_case(world, case)
    open_case(world, "K-107")
    world.do(AT_FOUR_PAST, NURSE, NIGHT)
    world.do(HCG_TOO, NURSE, NIGHT)
    trouble = NoteIncident("K-110", None, "she lost the box", PRESCRIBER.name, "fetch another", settled=False)
    world.do(trouble, NURSE, NIGHT)
    # 36 h before their slots: K-106 injects at 22:00, K-108 at 23:00; K-110 at 21:30 by the clock.
    assert [(row.case, row.state) for row in rows(world, "2026-11-19T04:30:00Z")] == [
        ("K-110", "problem"),
        ("K-106", "unknown since"),
        ("K-107", "no sheet"),
        ("K-108", "told"),
        ("K-103", "given"),
        ("K-103", "given"),
    ]


def test_the_board_as_of_an_earlier_moment_knows_nothing_of_what_came_later() -> None:
    world = at_stage("released")
    world.do(AT_FOUR_PAST, NURSE, NIGHT)
    before = world.desk.states("2026-11-19T03:09:59Z").board("2026-11-19T03:09:59Z")
    assert [row.state for row in before] == ["unknown since"] * 2
    assert [row.state for row in world.desk.states(HEARD).board(HEARD)] == ["no sheet"] * 2


def test_a_report_of_something_that_is_on_no_page_is_never_left_out() -> None:
    world = at_stage("planned")
    world.do(AT_FOUR_PAST, NURSE, NIGHT)
    _, problem, sheet = rows(world, NIGHT)
    assert (problem.state, problem.medicine, problem.since) == ("problem", "agonist", NIGHT)
    assert problem.why == "she had no released page"
    assert sheet.state == "no sheet"
    world = at_stage("released")
    world.do(replace(AT_FOUR_PAST, injection="third"), NURSE, NIGHT)
    first, *others = rows(world, NIGHT)
    assert (first.state, first.medicine, first.why) == ("problem", "third", "her page has no such injection")
    assert [row.state for row in others] == ["unknown since"] * 2


def re_released(world: World, at: str = NIGHT) -> None:
    """Checked, heard and released anew, with whatever the plan asks answered."""
    world.do(check(world), SECOND, at)
    world.do(read_back(world), NURSE, at)
    answered = tuple((code, "go ahead") for code in world.planned(at=at).made.open_questions)
    world.do(sheets.Release(CASE, answered=answered), NURSE, at)


def test_a_report_of_something_that_is_on_the_page_no_more_stays_where_it_was() -> None:
    world = at_stage("released")
    world.do(AT_FOUR_PAST, NURSE, NIGHT)
    world.do(SECOND_ALONE, PRESCRIBER, NIGHT)
    re_released(world)
    second, first = rows(world, NIGHT)
    assert (first.state, first.place, first.medicine) == ("given", "1 of 2, page 1", "leuprolide acetate 4 mg")
    assert (second.place, second.state) == ("1 of 1", "unknown since")


# What was said before another page was released


def test_a_page_with_the_same_minute_and_dose_is_about_the_same_injection() -> None:
    world = at_stage("released")
    world.do(AT_FOUR_PAST, NURSE, NIGHT)
    world.do(slots.PlaceSlot(slot() | {"room": "Room 2"}, "another room"), THEATRE, NIGHT)
    re_released(world)
    assert [(row.place, row.state) for row in rows(world, NIGHT)] == [("2 of 2", "unknown since"), ("1 of 2", "given")]


def moved(world: World, at: str) -> None:
    """Her slot half past ten, so that she injects at 22:30, and another page of it."""
    world.do(slots.PlaceSlot(slot() | {"at": "2026-11-20 10:30"}, "a longer case before"), THEATRE, at)
    re_released(world, at)


def test_a_minute_that_passed_in_silence_stays_unknown_when_another_page_is_released() -> None:
    world = at_stage("released")
    moved(world, NIGHT)
    found = [(row.place, row.state, row.since) for row in rows(world, NIGHT)]
    assert found[:2] == [("1 of 2, page 1", "unknown since", DUE), ("2 of 2, page 1", "unknown since", DUE)]
    assert [place for place, *_ in found[2:]] == ["1 of 2", "2 of 2"]
    nothing = replace(AT_FOUR_PAST, reported="2026-11-18 21:00", amount=NONE, sheet=1)
    for name in ("agonist", "hcg"):
        world.do(replace(nothing, injection=name), NURSE, NIGHT)
    now = rows(world, NIGHT)
    assert [(row.place, row.state) for row in now[-2:]] == [
        ("1 of 2, page 1", "settled"),
        ("2 of 2, page 1", "settled"),
    ]
    assert all(row.state != "unknown since" for row in now)


def test_what_was_given_by_the_page_before_is_not_what_the_new_page_says() -> None:
    world = at_stage("released")
    world.do(AT_FOUR_PAST, NURSE, NIGHT)
    moved(world, NIGHT)
    by_place = {row.place: row for row in rows(world, NIGHT)}
    assert (by_place["1 of 2, page 1"].state, by_place["1 of 2, page 1"].since) == (
        "given early",
        "2026-11-19T03:04:00Z",
    )
    assert by_place["1 of 2"].state != "given"
    assert by_place["1 of 2"].reported == ""


def test_a_report_by_a_page_with_another_dose_is_asked_and_does_not_count() -> None:
    world = at_stage("released")
    two_mg: Any = order()
    two_mg["injections"][0] |= {"dose": "2 mg"}
    world.do(orders.SignOrder(CASE, two_mg), PRESCRIBER, LATER)
    re_released(world, LATER)
    world.do(replace(AT_FOUR_PAST, sheet=1), NURSE, NIGHT)
    row = first_row(world, NIGHT)
    assert row.state == "problem"
    assert "the page she followed has another medicine or dose" in row.why


# Told, reached and not reached


def test_given_late_stays_so_while_nobody_was_reached() -> None:
    world = at_stage("released")
    world.do(replace(AT_FOUR_PAST, reported="2026-11-18 22:30"), NURSE, "2026-11-19T04:31:00Z")
    assert first_row(world).state == "given late"
    tried = Escalate(CASE, "agonist", "the prescriber on call", "34 h 30", "nobody answered", reached=False)
    world.do(tried, NURSE, "2026-11-19T04:35:00Z")
    assert first_row(world).state == "given late"
    world.do(replace(tried, reply="it stays", reached=True), NURSE, "2026-11-19T04:45:00Z")
    assert first_row(world).state == "given"
    assert "outside the order's window" in first_row(world).why


def test_what_was_settled_says_when_that_was_and_by_whom_and_not_when_it_was_reported() -> None:
    world = hcg_alone()
    world.do(replace(HCG_TOO, amount="half of it"), NURSE, NIGHT)
    words = "the second syringe was given at 20:50"
    world.do(NoteIncident(CASE, "hcg", "half of it", PRESCRIBER.name, words, settled=True), NURSE, MORNING)
    (row,) = rows(world, MORNING)
    assert (row.state, row.since) == ("settled", MORNING)
    assert row.why == f"not all of it went in, or nobody knows; {PRESCRIBER.name}: {words}"


def test_what_did_not_go_in_is_settled_when_another_page_takes_its_place() -> None:
    world = at_stage("released")
    for name in ("agonist", "hcg"):
        world.do(replace(AT_FOUR_PAST, injection=name, amount=NONE), NURSE, NIGHT)
    moved(world, "2026-11-19T03:30:00Z")
    since = [row.since for row in rows(world, "2026-11-19T03:40:00Z") if row.state == "settled"]
    assert since == ["2026-11-19T03:30:00Z"] * 2


TROUBLE = (
    *(("symptoms", "no"), ("injection", "hcg"), ("injected", "yes"), ("at", "2026-11-18 21:04")),
    *(("drawn", "0.3 mL"), ("stayed", "not known"), ("words", "I pulled too far")),
)


def hcg_why(world: World) -> str:
    return next(row.why for row in rows(world, LATER) if row.injection == "hcg")


def test_trouble_stands_on_the_board_as_a_nurse_would_say_it_with_what_was_computed_and_kept() -> None:
    world = at_stage("released")
    world.do(ReportTrouble(CASE, "hcg", "wrong-mark", TROUBLE), NURSE, LATER)
    said = (
        "drawn to another mark; the needle has been in; at 2026-11-18 21:04; drawn to 0.3 mL; what is still in the syringe not known; "
        "\u201cI pulled too far\u201d; no sign of danger"
    )
    assert hcg_why(world) == said
    numbers = "hcg: went in 1,500 units, 150 % of the order, hours to the slot 35 h 56 min"
    world.do(
        Escalate(CASE, "hcg", PRESCRIBER.name, f"drawn to another mark; {numbers}", "no answer", False), NURSE, LATER
    )
    assert hcg_why(world) == f"{said}; computed: {numbers}"


def test_a_number_that_was_told_of_an_earlier_call_is_not_that_of_this_one() -> None:
    world = at_stage("released")
    numbers = "hcg: went in 1,500 units"
    world.do(Escalate(CASE, "hcg", PRESCRIBER.name, f"drawn to another mark; {numbers}", "yes"), NURSE, LATER)
    world.do(ReportTrouble(CASE, "hcg", "wrong-mark", TROUBLE), NURSE, LATER)
    world.do(Escalate(CASE, "hcg", PRESCRIBER.name, "she sounded calm", "good"), NURSE, LATER)
    assert "computed" not in hcg_why(world)


NUMBERS = "hcg: went in 1,500 units, 150 % of the order"


def tell(world: World, about: str, injection: str = "hcg") -> None:
    world.do(Escalate(CASE, injection, PRESCRIBER.name, f"drawn to another mark; {about}", "heard"), NURSE, LATER)


def test_what_was_told_of_a_report_is_not_computed_of_its_correction() -> None:
    world = at_stage("released")
    world.do(ReportTrouble(CASE, "hcg", "wrong-mark", TROUBLE), NURSE, LATER)
    tell(world, NUMBERS)
    corrected = tuple((key, "0.1 mL" if key == "drawn" else words) for key, words in TROUBLE)
    after = world.case().incidents[-1].seq
    world.do(ReportTrouble(CASE, "hcg", "wrong-mark", corrected, after=after), NURSE, LATER)
    assert "drawn to 0.1 mL" in hcg_why(world)
    assert "computed" not in hcg_why(world)
    tell(world, "hcg: went in 500 units")
    assert hcg_why(world).endswith("; computed: hcg: went in 500 units")


def test_what_was_told_of_one_injection_is_not_computed_of_another_in_the_same_trouble() -> None:
    world = at_stage("released")
    world.do(ReportTrouble(CASE, "agonist", "wrong-mark", TROUBLE), NURSE, LATER)
    world.do(ReportTrouble(CASE, "hcg", "wrong-mark", TROUBLE), NURSE, LATER)
    world.do(ReportTrouble(CASE, None, "wrong-mark", TROUBLE), NURSE, LATER)
    tell(world, NUMBERS)
    by_name = {one.event.injection: computed(world.case(), one) for one in world.case().problems}
    assert by_name == {"agonist": "", "hcg": NUMBERS, None: ""}
    tell(world, "nothing is known", "case")
    by_name = {one.event.injection: computed(world.case(), one) for one in world.case().problems}
    assert by_name == {"agonist": "", "hcg": NUMBERS, None: "nothing is known"}


def test_of_two_open_calls_of_one_kind_what_is_told_then_is_computed_of_neither() -> None:
    world = at_stage("released")
    world.do(ReportTrouble(CASE, "hcg", "wrong-mark", TROUBLE), NURSE, LATER)
    tell(world, NUMBERS)
    world.do(ReportTrouble(CASE, "hcg", "wrong-mark", TROUBLE), NURSE, LATER)
    first, second = world.case().problems
    assert [computed(world.case(), one) for one in (first, second)] == [NUMBERS, ""]
    tell(world, "hcg: went in 500 units")
    assert [computed(world.case(), one) for one in (first, second)] == [NUMBERS, ""], "nobody knows of which it was"
    end = NoteIncident(CASE, "hcg", "over", PRESCRIBER.name, "it stays", settled=True)
    world.do(end, NURSE, LATER)
    world.do(ReportTrouble(CASE, "hcg", "wrong-mark", TROUBLE), NURSE, LATER)
    tell(world, "hcg: went in 500 units")
    assert hcg_why(world).endswith("computed: hcg: went in 500 units")


def test_a_sign_of_danger_is_said_first() -> None:
    world = at_stage("released")
    world.do(ReportTrouble(CASE, "hcg", "late", (("injection", "hcg"), ("symptoms", "yes"))), NURSE, LATER)
    assert hcg_why(world) == "A SIGN OF DANGER; injected too late"


def test_what_was_written_in_words_of_ones_own_stays_as_it_is() -> None:
    world = at_stage("released")
    world.do(NoteIncident(CASE, "hcg", "injected: yes, she says", "nobody", "nothing", settled=False), NURSE, LATER)
    assert hcg_why(world) == "injected: yes, she says"


def test_two_problems_of_one_injection_are_settled_one_by_one() -> None:
    world = at_stage("released")
    bent = NoteIncident(CASE, "agonist", "the needle bent", PRESCRIBER.name, "a new one", settled=False)
    world.do(bent, NURSE, NIGHT)
    world.do(replace(bent, happened="she feels sick"), NURSE, NIGHT)
    assert first_row(world, NIGHT).why == "the needle bent; she feels sick"
    first, _ = world.case().problems
    world.do(replace(bent, settled=True, settles=first.seq), NURSE, NIGHT)
    assert [one.event.happened for one in world.case().problems] == ["she feels sick"]
    assert world.codes(replace(bent, settled=True, settles=first.seq), NURSE) == ["nothing-changed"]
    world.do(replace(bent, settled=True), NURSE, NIGHT)
    assert world.case().problems == ()


# A page that is void near its minute


@pytest.mark.parametrize(("now", "state"), [("2026-11-19T01:39:00Z", "no sheet"), ("2026-11-19T01:40:00Z", "problem")])
def test_a_void_page_an_hour_before_mixing_is_somebodys_trouble(now: str, state: str) -> None:
    world = at_stage("released")
    world.do(sheets.VoidSheet(CASE, 1, "a smudge"), NURSE, LATER)
    assert [row.state for row in rows(world, now)] == [state] * 2
    assert all(("ring her before she mixes" in row.why) is (state == "problem") for row in rows(world, now))


def test_a_void_page_is_trouble_at_once_where_she_said_that_she_is_mixing() -> None:
    world = at_stage("released")
    world.do(ReadBoxes(CASE, "agonist", 1, ()), HER_PHONE, LATER)
    assert first_row(world, LATER).state == "mixing"
    world.do(sheets.VoidSheet(CASE, 1, "a smudge"), NURSE, LATER)
    assert first_row(world, LATER).state == "problem"


def test_a_call_she_asks_for_before_any_page_stands_on_the_board() -> None:
    world = at_stage("planned")
    world.do(AskHelp(CASE, None, "practice", "two misses"), HER_PHONE, LATER)
    asks, sheet, _ = rows(world, LATER)
    assert (asks.state, asks.why) == ("problem", "she asks for a call, practice: two misses")
    assert asks.entry == world.case().waiting[0].seq
    assert sheet.state == "no sheet"


def test_without_a_slot_only_an_order_that_counts_from_one_misses_it() -> None:
    world = at_stage("opened", "K-110")
    world.do(orders.SignOrder("K-110", order("K-110")), prescriber("K-110"), LATER)
    assert [row.why.split("; ")[0] for row in rows(world, LATER)] == ["missing: kit"]


# A page for what may have been given already is asked of the prescriber


def test_a_page_that_has_again_what_was_reported_or_silent_is_not_released_unasked() -> None:
    world = at_stage("released")
    world.do(AT_FOUR_PAST, NURSE, NIGHT)
    world.do(slots.PlaceSlot(slot() | {"at": "2026-11-20 10:30"}, "a longer case before"), THEATRE, NIGHT)
    world.do(check(world), SECOND, NIGHT)
    world.do(read_back(world), NURSE, NIGHT)
    made = world.planned(at=NIGHT).made
    assert {"injection-reported", "injection-silent"} <= set(made.open_questions)
    refused = world.refused(sheets.Release(CASE), NURSE, NIGHT)
    assert "release-question-open" in [one.code for one in refused.findings]
    answered = tuple((code, "Dr. L. Aumont: yes, by the new page") for code in made.open_questions)
    world.do(sheets.Release(CASE, answered=answered), NURSE, NIGHT)
    assert dict(world.case().sheets[-1].event.answered).keys() >= {"injection-reported", "injection-silent"}


def test_a_first_page_asks_nothing_of_it() -> None:
    questions = at_stage("heard").planned().made.open_questions
    assert not {"injection-reported", "injection-silent"} & set(questions)


def test_that_none_of_it_went_in_is_no_report_of_a_dose() -> None:
    world = at_stage("released")
    for name in ("agonist", "hcg"):
        world.do(replace(AT_FOUR_PAST, injection=name, amount=NONE), NURSE, NIGHT)
    world.do(slots.PlaceSlot(slot() | {"at": "2026-11-20 10:30"}, "a longer case before"), THEATRE, NIGHT)
    assert not {"injection-reported", "injection-silent"} & set(world.planned(at=NIGHT).made.open_questions)


# What is heard of a case after it was closed


@pytest.mark.parametrize("stage", ["planned", "checked", "heard"])
def test_a_case_without_a_page_is_not_closed_over_a_minute_that_passed_in_silence(stage: Stage) -> None:
    world = at_stage(stage)
    refused = world.refused(opening.CloseCase(CASE, "over"), NURSE, DUE)
    assert [one.code for one in refused.findings] == ["case-silent"]
    assert "agonist and hcg" in refused.findings[0].what
    for one in (AT_FOUR_PAST, HCG_TOO):
        world.do(replace(one, sheet=None, amount=NONE), NURSE, NIGHT)
    world.do(opening.CloseCase(CASE, "over"), NURSE, MORNING)


def test_before_its_minute_by_the_order_it_can_be_closed_and_the_morning_list_says_closed() -> None:
    world = at_stage("checked")
    world.do(opening.CloseCase(CASE, "cancelled"), NURSE, LATER)
    (line,) = [one for one in morning_of(world.desk.states(), DAY, MORNING) if one.case == CASE]
    assert [(one.what, one.at) for one in line.changes] == [("the case was closed", LATER)]
    assert "overdue" not in str(line.given)


CLOSED = "2026-11-19T05:00:00Z"
CALLED = "2026-11-19T05:30:00Z"
"""23:00 and 23:30 in Chicago."""


def closed() -> World:
    """Both reported in time, the case closed at 23:00."""
    world = at_stage("released")
    for name in ("agonist", "hcg"):
        world.do(replace(AT_FOUR_PAST, injection=name), NURSE, NIGHT)
    world.do(opening.CloseCase(CASE, "both given"), NURSE, CLOSED)
    assert rows(world, CALLED) == []
    return world


def test_a_report_that_comes_after_the_closing_brings_just_that_back_until_the_case_is_closed_again() -> None:
    world = closed()
    world.do(replace(AT_FOUR_PAST, injection="hcg", reported="2026-11-18 22:50"), NURSE, CALLED)
    (row,) = rows(world, CALLED)
    assert (row.state, row.since, row.injection, row.closed) == ("problem", CALLED, "hcg", True)
    assert row.why == f"{REPORTED_AFTER_CLOSING}; two reports differ"
    assert row.reported == "2026-11-18 22:50, all of it (she herself)"
    assert str(row.to_slot) == "34 h 10 min"
    (line,) = [one for one in morning_of(world.desk.states(), DAY, MORNING) if one.case == CASE]
    assert [(one.at, one.words) for one in line.open] == [(CALLED, REPORTED_AFTER_CLOSING)]
    assert world.desk.states().open_cases() == ()
    assert world.codes(opening.CloseCase(CASE, "seen"), Person("her phone", Role.PATIENT), MORNING) == ["act-role"]
    world.do(opening.CloseCase(CASE, "told Dr. L. Aumont"), SECOND, MORNING)
    assert rows(world, MORNING) == []
    (line,) = [one for one in morning_of(world.desk.states(), DAY, MORNING) if one.case == CASE]
    assert line.open == ()
    assert world.codes(opening.CloseCase(CASE, "again"), NURSE, MORNING) == ["case-closed"]
    world.do(AT_FOUR_PAST, NURSE, MORNING)
    assert [row.injection for row in rows(world, MORNING)] == ["agonist"]


def test_a_late_report_outside_the_window_says_on_which_side() -> None:
    world = at_stage("released")
    world.do(opening.CloseCase(CASE, "over"), NURSE, LATER)
    world.do(replace(AT_FOUR_PAST, reported="2026-11-18 23:20"), NURSE, CALLED)
    (row,) = rows(world, CALLED)
    assert row.why == f"{REPORTED_AFTER_CLOSING}; given late; outside the order's window"


def test_a_late_report_of_what_is_on_no_page_and_a_problem_come_back_as_well() -> None:
    world = closed()
    world.do(replace(AT_FOUR_PAST, injection="third"), NURSE, CALLED)
    world.do(NoteIncident(CASE, "hcg", "a needle was left", "nobody yet", "nobody yet", settled=False), NURSE, CALLED)
    assert [(row.state, row.injection, row.why, row.closed) for row in rows(world, CALLED)] == [
        ("problem", "third", f"{REPORTED_AFTER_CLOSING}; her page has no such injection", True),
        ("problem", "", "a needle was left", True),
    ]
    assert world.codes(opening.CloseCase(CASE, "seen"), NURSE, MORNING) == ["case-waiting"]
    world.do(NoteIncident(CASE, "hcg", "found", "A. Kowal", "thrown away", settled=True), NURSE, MORNING)
    assert [row.injection for row in rows(world, CALLED)] == ["third"]
    world.do(opening.CloseCase(CASE, "seen"), NURSE, MORNING)
    assert rows(world, MORNING) == []


def test_a_report_withdrawn_after_the_case_was_closed_leaves_a_silence_that_stands_on_the_board() -> None:
    world = closed()
    hers = next(one.seq for one in world.case().confirmations if one.event.injection == "hcg")
    listed = world.do(WithdrawConfirmation(CASE, hers, "that was another person"), NURSE, CALLED)
    assert "roll case-listed" in kinds(tuple(listed))
    (row,) = rows(world, CALLED)
    assert (row.injection, row.state, row.closed) == ("hcg", "unknown since", True)
    assert "its report was withdrawn after the case was closed" in row.why
    assert world.codes(opening.CloseCase(CASE, "seen"), NURSE, MORNING) == ["case-silent"]


def test_a_late_report_that_is_withdrawn_is_off_the_board_again() -> None:
    world = closed()
    world.do(AT_FOUR_PAST, NURSE, CALLED)
    world.do(WithdrawConfirmation(CASE, world.case().confirmations[-1].seq, "another person"), NURSE, CALLED)
    assert rows(world, CALLED) == []


def test_what_is_noted_of_a_closed_case_and_leaves_nothing_open_stays_in_its_record() -> None:
    world = closed()
    world.do(Escalate(CASE, "hcg", "theatre", "it was given", "noted"), NURSE, CALLED)
    world.do(NoteIncident(CASE, None, "found a syringe", "Dr. L. Aumont", "none", settled=True), NURSE, CALLED)
    assert rows(world, CALLED) == []
    assert world.desk.states().roll() == ()


def test_rules_signed_anew_change_nothing_of_a_closed_case_that_is_in_sight_again() -> None:
    world, table = closed(), clinic()
    world.do(AT_FOUR_PAST, NURSE, CALLED)
    table["rules"]["ladder"][0]["after"] = "10 min"
    entries = world.do(rules.SignRules(table), LEAD, MORNING)
    assert [entry.stream for entry in entries] == ["rules"]
