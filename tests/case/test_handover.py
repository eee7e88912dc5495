"""The end of the night: handed over by two people, and a morning list that says what is known and what is not."""

from dataclasses import replace

import pytest

from hourmark.case import events as e
from hourmark.case import slots
from hourmark.case.handover import HandOver, ListMorning, TakeHandover, night_of, night_words
from hourmark.case.night import NONE, Escalate, NoteIncident
from hourmark.case.phone import AskHelp, ReadBoxes
from hourmark.case.rules import SignRules
from hourmark.case.trouble import ReportTrouble
from hourmark.case.watch import ClaimRung
from hourmark.clock import parse_zone
from hourmark.desk import morning_of
from tests.case.test_night import AT_FOUR_PAST
from tests.case.world import (
    CASE,
    DAY,
    HER_PHONE,
    LATER,
    LEAD,
    MORNING,
    NIGHT,
    NURSE,
    PRESCRIBER,
    SECOND,
    THEATRE,
    WATCH,
    World,
    at_stage,
    clinic,
    empty,
    kinds,
    open_case,
    plan_case,
    release_case,
    slot,
    written,
)

OPEN = (e.Problem(CASE, "the second injection is unknown"),)
HCG_TOO = replace(AT_FOUR_PAST, injection="hcg", reported="2026-11-18 21:09")


FOR_THEATRE = (
    "    trigger: ",
    "    nothing solid from ",
    "    follicles counted: ",
    "    allergies: ",
    "    changed: ",
    "    AT THE FIRST NEEDLE: ",
)
"""How the lines begin that are about the day and not about what was given."""

OF_PROBLEMS = ("    OPEN since ", "    SETTLED ")
"""How the lines begin that are about what is open and what was settled."""


def listed(world: World, at: str = MORNING) -> list[str]:
    """The lines of the list that goes out now about what was given and who was told."""
    return [line for line in whole_list(world, at) if not line.startswith((*FOR_THEATRE, *OF_PROBLEMS))]


def problems(world: World, at: str = MORNING) -> list[str]:
    """Its lines about what is open and what was settled."""
    return [line.strip() for line in whole_list(world.copy(), at) if line.startswith(OF_PROBLEMS)]


def whole_list(world: World, at: str = MORNING) -> list[str]:
    """Every line of the list that goes out now."""
    entries = world.do(ListMorning(DAY), NURSE, at)
    assert kinds(entries) == ["day/2026-11-20 morning-listed"]
    return list(written(entries, e.MorningListed).lines)


# Handover


def test_the_night_is_handed_over_and_taken_by_two_signatures() -> None:
    world = at_stage("released")
    given = world.do(HandOver(DAY, SECOND.name, OPEN), NURSE, NIGHT)
    assert kinds(given) == ["day/2026-11-20 handed-over"]
    assert written(given, e.HandedOver) == e.HandedOver(SECOND.name, OPEN)
    (entry,) = [one.seq for one in given]
    day = world.desk.states().day(DAY)
    assert (day.given_by, day.taken_by) == ({entry: NURSE.name}, {})
    taken = world.do(TakeHandover(DAY, entry), SECOND, MORNING)
    assert kinds(taken) == ["day/2026-11-20 handover-taken"]
    assert written(taken, e.HandoverTaken) == e.HandoverTaken(entry)
    day = world.desk.states().day(DAY)
    assert (day.handovers[entry].problems, day.taken_by) == (OPEN, {entry: SECOND.name})
    assert (day.given_at, day.taken_at) == ({entry: NIGHT}, {entry: MORNING})


@pytest.mark.parametrize(
    ("zone", "at", "night"),
    [
        # Half an hour either side of noon and of midnight; New York is five hours behind UTC in winter (IANA time-zone database).
        ("America/New_York", "2026-11-18T16:59:00Z", "2026-11-17"),
        ("America/New_York", "2026-11-18T17:00:00Z", "2026-11-18"),
        ("America/New_York", "2026-11-19T04:30:00Z", "2026-11-18"),
        ("America/New_York", "2026-11-19T05:30:00Z", "2026-11-18"),
        # The night in which the clocks go back there at 2:00 on 1 November 2026: both half past ones are of one night.
        ("America/New_York", "2026-11-01T05:30:00Z", "2026-10-31"),
        ("America/New_York", "2026-11-01T06:30:00Z", "2026-10-31"),
        # The same moment is another date, and another night, elsewhere.
        ("Asia/Tokyo", "2026-11-18T17:00:00Z", "2026-11-18"),
        ("Asia/Tokyo", "2026-11-18T03:00:00Z", "2026-11-18"),
        ("Asia/Tokyo", "2026-11-18T02:59:00Z", "2026-11-17"),
    ],
)
def test_a_night_is_named_by_the_evening_on_which_it_begins(zone: str, at: str, night: str) -> None:
    assert night_of(at, parse_zone(zone)) == night


def test_a_night_is_said_by_the_days_that_it_joins() -> None:
    # 18 November 2026 is a Wednesday, 31 December 2026 a Thursday (the calendar).
    assert night_words("2026-11-18") == "the night of Wednesday 18 November into Thursday"
    assert night_words("2026-12-31") == "the night of Thursday 31 December into Friday"


@pytest.mark.parametrize("to", ["", "  ", NURSE.name, f" {NURSE.name.lower()} "])
def test_nobody_hands_over_to_nobody_or_to_herself(to: str) -> None:
    assert at_stage("released").codes(HandOver(DAY, to, ()), NURSE) == ["handover-to-self"]


@pytest.mark.parametrize("to", [" a.  kowal", "A.  Kowal", "A. KOWAL "])
def test_nobody_hands_over_to_herself_however_she_writes_her_name(to: str) -> None:
    assert at_stage("released").codes(HandOver(DAY, to, ()), NURSE) == ["handover-to-self"]


@pytest.mark.parametrize("to", ["l. ortiz", "L.  Ortiz", " L. ORTIZ "])
@pytest.mark.parametrize("numbered", [True, False])
def test_whoever_takes_over_signs_however_her_name_was_written(numbered: bool, to: str) -> None:
    world = at_stage("released")
    (given,) = world.do(HandOver(DAY, to, OPEN), NURSE)
    taken = world.do(TakeHandover(DAY, given.seq if numbered else None), SECOND)
    assert written(taken, e.HandoverTaken).entry == given.seq
    assert world.desk.states().day(DAY).taken_by == {given.seq: SECOND.name}


def test_only_whoever_was_named_signs_for_it() -> None:
    world = at_stage("released")
    (entry,) = world.do(HandOver(DAY, SECOND.name, ()), NURSE)
    for who in (NURSE, LEAD):
        refused = world.refused(TakeHandover(DAY, entry.seq), who)
        assert [finding.code for finding in refused.findings] == ["handover-other"]
        assert SECOND.name in refused.findings[0].what


def test_a_handover_is_signed_for_once_and_only_where_there_is_one() -> None:
    world = at_stage("released")
    (entry,) = world.do(HandOver(DAY, SECOND.name, ()), NURSE)
    assert world.codes(TakeHandover(DAY, entry.seq + 1), SECOND) == ["nothing-changed"]
    assert world.codes(TakeHandover("2026-11-21", entry.seq), SECOND) == ["nothing-changed"]
    world.do(TakeHandover(DAY, entry.seq), SECOND)
    assert world.codes(TakeHandover(DAY, entry.seq), SECOND) == ["nothing-changed"]


def test_without_a_number_the_last_handover_to_whoever_signs_is_meant() -> None:
    world = at_stage("released")
    assert world.codes(TakeHandover(DAY), SECOND) == ["nothing-changed"]
    world.do(HandOver(DAY, SECOND.name, ()), NURSE)
    (mine,) = world.do(HandOver(DAY, SECOND.name, OPEN), NURSE)
    world.do(HandOver(DAY, LEAD.name, ()), NURSE)
    assert written(world.do(TakeHandover(DAY), SECOND), e.HandoverTaken).entry == mine.seq


def test_a_handover_voids_nothing_and_needs_no_slot() -> None:
    world = at_stage("released")
    sheet = world.case().sheet
    world.do(HandOver("2027-01-01", SECOND.name, ()), NURSE)
    assert world.case().sheet == sheet is not None


# The morning list


def test_the_list_says_when_each_injection_was_and_how_long_before_the_slot() -> None:
    world = at_stage("released")
    world.do(AT_FOUR_PAST, NURSE, NIGHT)
    world.do(HCG_TOO, NURSE, NIGHT)
    assert listed(world) == [
        "Fri 20 Nov 09:00  Room 1  case K-103  (slot s3)",
        "    leuprolide acetate 4 mg, subcutaneous: Wed 18 Nov 21:04, 35 h 56 min to the slot",
        "    chorionic gonadotropin 1,000 units, subcutaneous: Wed 18 Nov 21:09, 35 h 51 min to the slot",
    ]


def test_what_nobody_reported_is_unknown_on_the_list() -> None:
    world = at_stage("released")
    world.do(AT_FOUR_PAST, NURSE, NIGHT)
    _, first, second = listed(world)
    assert "UNKNOWN" not in first
    assert "chorionic gonadotropin 1,000 units, subcutaneous: time UNKNOWN" in second
    (line,) = morning_of(world.desk.states(), DAY, MORNING)
    assert [(one.at, one.to_slot, one.in_window) for one in line.given][1] == (None, None, None)


def test_before_its_minute_an_injection_is_due_and_not_unknown() -> None:
    _, first, second = listed(at_stage("released"), LATER)
    assert first.endswith("due Wed 18 Nov 21:00")
    assert second.endswith("due Wed 18 Nov 21:00")


@pytest.mark.parametrize(
    ("reported", "outside"),
    [
        # The order allows 35 h to 37 h before 09:00 on Friday, both included: 20:00 to 22:00.
        ("2026-11-18 19:59", True),
        ("2026-11-18 20:00", False),
        ("2026-11-18 22:00", False),
        ("2026-11-18 22:01", True),
    ],
)
def test_what_was_given_outside_the_orders_window_says_so(reported: str, outside: bool) -> None:
    world = at_stage("released")
    world.do(replace(AT_FOUR_PAST, reported=reported), NURSE, MORNING)
    _, first, _ = listed(world)
    assert ("OUTSIDE the order's window" in first) is outside
    (line,) = morning_of(world.desk.states(), DAY, MORNING)
    assert line.given[0].in_window is not outside


@pytest.mark.parametrize(
    ("reported", "outside"),
    [
        # The slot has moved to 09:45 since; 35 h to 37 h before it is 20:45 to 22:45.
        ("2026-11-18 20:44", True),
        ("2026-11-18 20:45", False),
        ("2026-11-18 22:45", False),
        ("2026-11-18 22:46", True),
    ],
)
def test_the_window_is_counted_to_the_slot_where_it_now_is(reported: str, outside: bool) -> None:
    world = at_stage("released")
    world.do(slots.PlaceSlot(slot() | {"at": "2026-11-20 09:45"}, "late"), THEATRE, LATER)
    world.do(replace(AT_FOUR_PAST, reported=reported), NURSE, MORNING)
    _, first, *_ = listed(world)
    assert ("OUTSIDE the order's window" in first) is outside
    (line,) = morning_of(world.desk.states(), DAY, MORNING)
    assert line.given[0].in_window is not outside


@pytest.mark.parametrize(
    ("reported", "outside"),
    [("2026-11-18 20:29", True), ("2026-11-18 20:30", False), ("2026-11-18 22:30", False), ("2026-11-18 22:31", True)],
)
def test_an_order_by_the_clock_keeps_its_own_window_wherever_the_slot_is(reported: str, outside: bool) -> None:
    world = at_stage("planned", "K-110")
    release_case(world, "K-110")
    world.do(slots.GiveSlot(DAY, "s9", "K-110", "a slot after all"), NURSE, LATER)
    world.do(replace(AT_FOUR_PAST, case="K-110", injection="hcg", reported=reported), NURSE, MORNING)
    (line,) = morning_of(world.desk.states(), DAY, MORNING)
    assert [one.in_window for one in line.given] == [not outside]


def test_a_report_without_a_known_time_is_said_and_not_in_words_that_may_name_somebody() -> None:
    world = at_stage("released")
    world.do(replace(AT_FOUR_PAST, reported="after the film"), NURSE, NIGHT)
    world.do(replace(HCG_TOO, reported="2026-11-01 01:30", amount="half of it"), NURSE, NIGHT)
    assert listed(world)[1:] == [
        "    leuprolide acetate 4 mg, subcutaneous: reported, the time is NOT KNOWN",
        "      the time is not known",
        "    chorionic gonadotropin 1,000 units, subcutaneous: reported, the time is NOT KNOWN",
        "      not all of it went in, or nobody knows",
        "      that time happens twice: ask which",
    ]
    (line,) = morning_of(world.desk.states(), DAY, MORNING)
    assert [(one.at, one.to_slot, one.in_window, one.reported) for one in line.given] == [(None, None, None, True)] * 2


def test_a_report_before_its_minute_is_said_and_not_that_it_is_due() -> None:
    world = at_stage("released")
    world.do(replace(AT_FOUR_PAST, reported="already"), NURSE, LATER)
    _, first, *_, second = listed(world, LATER)
    assert first == "    leuprolide acetate 4 mg, subcutaneous: reported, the time is NOT KNOWN"
    assert second.endswith("due Wed 18 Nov 21:00")
    (line,) = morning_of(world.desk.states(), DAY, LATER)
    assert [one.reported for one in line.given] == [True, False]


def test_a_report_of_an_injection_that_no_page_has_stands_on_the_list() -> None:
    world = at_stage("released")
    world.do(replace(AT_FOUR_PAST, injection="third"), NURSE, NIGHT)
    world.do(replace(AT_FOUR_PAST, injection="fourth", reported="after the film"), NURSE, NIGHT)
    lines = listed(world)
    assert [line for line in lines if "UNKNOWN" in line] == lines[1:3]
    assert lines[3:] == [
        "    third, on no page that holds: Wed 18 Nov 21:04, 35 h 56 min to the slot",
        "      her page has no such injection",
        "    fourth, on no page that holds: reported, the time is NOT KNOWN",
        "      the time is not known",
        "      her page has no such injection",
    ]


def test_two_reports_of_one_injection_that_no_page_has_are_one_entry_by_the_last() -> None:
    world = at_stage("released")
    for reported in ("2026-11-18 21:04", "2026-11-18 21:06"):
        world.do(replace(AT_FOUR_PAST, injection="third", reported=reported), NURSE, NIGHT)
    (entry,) = [line for line in listed(world) if "third" in line]
    assert entry == "    third, on no page that holds: Wed 18 Nov 21:06, 35 h 54 min to the slot"


def test_a_report_stands_on_the_list_also_where_no_page_was_released() -> None:
    world = at_stage("planned")
    world.do(AT_FOUR_PAST, NURSE, NIGHT)
    lines = listed(world)
    assert lines[1].startswith("    no page was released")
    assert lines[2:] == [
        "    agonist, on no page that holds: Wed 18 Nov 21:04, 35 h 56 min to the slot",
        "      she had no released page",
    ]


def test_before_any_rules_are_signed_there_is_no_list() -> None:
    assert empty().codes(ListMorning(DAY), NURSE) == ["rules-missing"]


def test_doubts_and_amounts_stand_under_their_injection() -> None:
    world = at_stage("released")
    world.do(replace(AT_FOUR_PAST, amount="a drop was lost"), NURSE, NIGHT)
    world.do(replace(HCG_TOO, reported="after the film"), NURSE, NIGHT)
    lines = listed(world)
    first = lines.index(next(line for line in lines if "leuprolide" in line))
    second = lines.index(next(line for line in lines if "chorionic" in line))
    assert [line.strip() for line in lines[first + 1 : second]] == ["not all of it went in, or nobody knows"]
    assert [line.strip() for line in lines[second + 1 :]] == [
        "the time is not known",
    ]
    assert "the time is NOT KNOWN" in lines[second]
    assert "time UNKNOWN" not in lines[second]


def test_who_was_told_and_what_is_open_stand_on_it() -> None:
    world = at_stage("released")
    world.do(Escalate(CASE, "hcg", PRESCRIBER.name, "no report of the second", "wait until six"), NURSE, NIGHT)
    trouble = NoteIncident(CASE, "hcg", "she dropped the vial", PRESCRIBER.name, "use the spare", settled=False)
    world.do(trouble, NURSE, NIGHT)
    world.do(Escalate(CASE, "hcg", "Her second  number", "no report of the second", "no answer"), NURSE, NIGHT)
    # Whoever is on the signed ladder by its words, anybody else as somebody; of a problem only that there is one, and since when.
    assert [line.strip() for line in listed(world.copy())[-2:]] == [
        "told somebody, Wed 18 Nov 21:10",
        "told her second number, Wed 18 Nov 21:10",
    ]
    entry = world.case().problems[0].seq
    assert problems(world) == [
        f"OPEN since Wed 18 Nov 21:10: a problem, hcg (entry {entry}); ask the nurse in charge, or see the board"
    ]
    (line,) = morning_of(world.desk.states(), DAY, MORNING)
    assert [one.words for one in (*line.told, *line.open)] == [
        f"{PRESCRIBER.name}: no report of the second",
        "Her second  number: no report of the second",
        "she dropped the vial",
    ]
    world.do(replace(trouble, settled=True), NURSE, MORNING)
    over = world.case().incidents[-1].seq
    assert problems(world) == [
        f"SETTLED Thu 19 Nov 06:10: a problem, hcg (entry {over}), decided by the prescriber of the order; read the case"
    ]
    (line,) = morning_of(world.desk.states(), DAY, MORNING)
    (end,) = line.settled
    assert (end.at, end.words) == (MORNING, f"use the spare ({PRESCRIBER.name}); it was: she dropped the vial")


PART = (*(("symptoms", "no"), ("injection", "agonist"), ("injected", "yes")), ("at", "2026-11-18 21:04"))
DRAWN = ReportTrouble(
    CASE, "agonist", "wrong-mark", (*PART, ("drawn", "0.7 mL")), replace(AT_FOUR_PAST, amount="0.7 mL")
)
NAMES = "Maria at 555 0177"


def decided(world: World, what: str = "3.5 mg is enough, says Maria", by: str = PRESCRIBER.name) -> NoteIncident:
    problem = world.case().problems[-1]
    return NoteIncident(
        CASE, problem.event.injection, problem.event.happened, by, what, settled=True, settles=problem.seq
    )


def needle(world: World) -> str:
    (line,) = morning_of(world.desk.states(), DAY, MORNING)
    return line.needle


def test_a_report_of_trouble_stands_on_the_list_with_its_kind_and_its_entry_until_it_is_settled() -> None:
    world = at_stage("released")
    world.do(HCG_TOO, NURSE, NIGHT)
    world.do(replace(DRAWN, said=(*DRAWN.said, ("words", NAMES))), NURSE, NIGHT)
    entry = world.case().problems[0].seq
    ask = "ask the nurse in charge, or see the board"
    assert problems(world) == [f"OPEN since Wed 18 Nov 21:10: drawn to another mark, agonist (entry {entry}); {ask}"]
    assert "by the report of trouble 3.5 mg went in" in "\n".join(listed(world.copy()))
    assert needle(world).startswith("agonist not as ordered: ask the prescriber before it")
    world.do(decided(world), NURSE, MORNING)
    over = world.case().incidents[-1].seq
    assert problems(world) == [
        f"SETTLED Thu 19 Nov 06:10: drawn to another mark, agonist (entry {over}), "
        "decided by the prescriber of the order; read the case"
    ]
    assert needle(world) == "", "how much and when is on the record, and who decides has decided"
    assert "Maria" not in "\n".join(whole_list(world.copy()))
    (line,) = morning_of(world.desk.states(), DAY, MORNING)
    assert "3.5 mg is enough, says Maria" in line.settled[0].words


def test_what_was_settled_in_words_alone_leaves_it_unknown_and_says_where_to_read_it() -> None:
    world = at_stage("released")
    world.do(HCG_TOO, NURSE, NIGHT)
    world.do(replace(AT_FOUR_PAST, amount="the second is still full"), NURSE, NIGHT)
    assert needle(world).startswith("agonist not known: ")
    world.do(
        NoteIncident(CASE, "agonist", "one of two", "Maria", "the second syringe was given at 20:50", settled=True),
        NURSE,
        MORNING,
    )
    over = world.case().incidents[-1].seq
    assert needle(world).startswith(f"agonist not known, settled since by entry {over}: read the case: ask")
    assert problems(world) == [
        f"SETTLED Thu 19 Nov 06:10: a problem, agonist (entry {over}), decided by somebody; read the case"
    ]


def test_nothing_that_went_in_stays_a_matter_for_the_prescriber_also_where_it_was_settled() -> None:
    world = at_stage("released")
    world.do(HCG_TOO, NURSE, NIGHT)
    world.do(ReportTrouble(CASE, "agonist", "missed", (("symptoms", "no"), ("injection", "agonist"))), NURSE, NIGHT)
    world.do(decided(world, "go on without it"), NURSE, MORNING)
    assert needle(world).startswith("agonist not known")


@pytest.mark.parametrize(
    ("act", "says"),
    [
        (
            ReadBoxes(CASE, "hcg", 1, ("medicine and strength",)),
            "what lies before her is not the same as on her page, hcg",
        ),
        (
            AskHelp(CASE, "hcg", "her report", f"it may have been another medicine; 0.2 mL; {NAMES}"),
            "she asks for a call, it may have been another medicine, hcg",
        ),
        (AskHelp(CASE, None, "practice", NAMES), "she asks for a call"),
    ],
)
def test_a_call_that_she_waits_for_stands_on_it_in_chosen_words_alone(act: ReadBoxes | AskHelp, says: str) -> None:
    world = at_stage("released")
    world.do(act, HER_PHONE, NIGHT)
    (line,) = problems(world)
    entry = world.case().waiting[0].seq
    assert line.startswith("OPEN since Wed 18 Nov 21:10: ")
    assert f"{says} (entry {entry}); " in line
    assert "Maria" not in "\n".join(whole_list(world.copy()))


def test_a_reason_that_was_chosen_stands_beside_the_volume_and_it_is_no_dose() -> None:
    world = at_stage("released")
    world.do(replace(AT_FOUR_PAST, amount=f"it may have been another medicine; 0.2 mL; {NAMES}"), NURSE, NIGHT)
    lines = [line.strip() for line in listed(world.copy())]
    first = next(place for place, line in enumerate(lines) if line.startswith("leuprolide"))
    assert lines[first + 1 : first + 4] == [
        "it may have been another medicine",
        "amount: 0.2 mL",
        "not all of it went in, or nobody knows",
    ]
    assert [line for line in problems(world) if "what was reported is in doubt, agonist (entry " in line]
    assert "Maria" not in "\n".join(whole_list(world.copy()))


def test_every_problem_of_the_board_is_open_on_the_list() -> None:
    world = at_stage("released")
    for act, who in (
        (replace(AT_FOUR_PAST, amount="0.2 mL"), NURSE),
        (replace(AT_FOUR_PAST, injection="third"), NURSE),
        (AskHelp(CASE, "hcg", "drawing up", "stuck"), HER_PHONE),
        (NoteIncident(CASE, None, "she fell", "nobody yet", "nobody yet", settled=False), NURSE),
    ):
        world.do(act, who, NIGHT)
        case = world.case()
        entries = (
            {one.seq for one in case.confirmations}
            | {one.seq for one in case.waiting}
            | {one.seq for one in case.problems}
        )
        assert all(f"(entry {seq})" in "\n".join(problems(world)) for seq in entries)


def test_a_case_without_a_page_has_what_its_order_says_once_it_is_checked() -> None:
    checked = [line.strip() for line in listed(at_stage("checked"), LATER)]
    begins = "no page was released; by the order"
    assert f"{begins} leuprolide acetate 4 mg, subcutaneous: due Wed 18 Nov 21:00" in checked
    late = [line.strip() for line in listed(at_stage("checked"), "2026-11-19T00:10:00Z")]
    assert late.count("the call is overdue") == 2
    unchecked = "\n".join(whole_list(at_stage("planned"), LATER))
    assert "subcutaneous: no page: its minute stands here once the second check agrees" in unchecked
    assert "21:00" not in unchecked
    past = at_stage("planned")
    assert "time UNKNOWN, nobody has said that it was given or not" in "\n".join(listed(past, MORNING))
    (line,) = morning_of(past.desk.states(), DAY, MORNING)
    assert line.needle.startswith("agonist not known and hcg not known: ask the prescriber")


def test_a_case_without_a_sheet_stands_on_the_list_with_its_slot() -> None:
    lines = listed(at_stage("planned"))
    assert lines[0] == "Fri 20 Nov 09:00  Room 1  case K-103  (slot s3)"
    assert "no page was released" in lines[1]


def test_the_list_follows_the_slots_and_leaves_out_those_of_nobody() -> None:
    world = at_stage("released")
    for case in ("K-106", "K-101"):
        open_case(world, case)
        plan_case(world, case)
    release_case(world, "K-106")
    assert [line.partition("case ")[2] for line in listed(world) if line[0] != " "] == [
        "K-101  (slot s1)",
        "K-103  (slot s3)",
        "K-106  (slot s6)",
    ]
    world.do(slots.FreeSlot(DAY, "s1", "cancelled"), THEATRE)
    assert [line.slot for line in morning_of(world.desk.states(), DAY, MORNING)] == ["s3", "s6"]


def test_a_slot_without_a_room_says_so() -> None:
    world = at_stage("planned")
    without = {name: value for name, value in slot().items() if name != "room"}
    world.do(slots.PlaceSlot(without, "the room is open"), THEATRE)
    assert listed(world)[0] == "Fri 20 Nov 09:00  no room  case K-103  (slot s3)"


def test_a_list_that_says_something_new_has_the_next_number() -> None:
    world = at_stage("released")
    listed(world)
    assert world.codes(ListMorning(DAY), SECOND, MORNING) == ["nothing-changed"]
    world.do(AT_FOUR_PAST, NURSE, MORNING)
    listed(world)
    day = world.desk.states().day(DAY)
    assert [one.version for one in day.lists] == [1, 2]
    assert day.lists[0].lines != day.lists[1].lines
    assert day.listed_by == {1: NURSE.name, 2: NURSE.name}
    assert day.listed_at == {1: MORNING, 2: MORNING}


def test_a_list_that_went_out_keeps_its_words() -> None:
    world = at_stage("released")
    first = whole_list(world)
    world.do(AT_FOUR_PAST, NURSE, MORNING)
    world.do(slots.PlaceSlot(slot() | {"at": "2026-11-20 09:45"}, "late"), THEATRE, MORNING)
    listed(world)
    assert list(world.desk.states().day(DAY).lists[0].lines) == first


def test_the_slot_on_the_list_is_where_theatre_last_put_it() -> None:
    world = at_stage("released")
    world.do(AT_FOUR_PAST, NURSE, NIGHT)
    world.do(slots.PlaceSlot(slot() | {"at": "2026-11-20 09:45"}, "late"), THEATRE, MORNING)
    lines = listed(world)
    assert lines[0].startswith("Fri 20 Nov 09:45")
    assert "36 h 41 min to the slot" in lines[1]


def test_an_empty_day_has_an_empty_list() -> None:
    world = at_stage("opened")
    assert written(world.do(ListMorning("2026-11-21"), NURSE, MORNING), e.MorningListed).lines == ()


def test_theatre_is_told_the_trigger_the_fasting_by_signed_rules_and_her_details() -> None:
    lines = whole_list(at_stage("released"))
    assert "    trigger: GnRH agonist and hCG" in lines
    # 8 h, 2 h and 60 min before the slot at 09:00, as the clinic's lead signed.
    fasting = "nothing solid from Fri 20 Nov 01:00; nothing to drink from Fri 20 Nov 07:00; arrives Fri 20 Nov 08:00"
    assert f"    {fasting}" in lines
    assert "    follicles counted: 21; allergies: none entered" in lines


def test_nothing_is_said_of_fasting_that_nobody_signed() -> None:
    world, table = at_stage("released"), clinic()
    for name in ("fasting_solids", "fasting_clear", "arrival"):
        del table["rules"][name]
    world.do(SignRules(table), LEAD, LATER)
    assert not [line for line in whole_list(world) if "nothing" in line or "arrives" in line]


def test_whoever_was_told_for_a_line_of_the_ladder_is_named_by_its_words() -> None:
    world = at_stage("released")
    world.do(Escalate(CASE, "hcg", PRESCRIBER.name, "no report", "wait until six", rung=3), NURSE, NIGHT)
    assert "    told the prescriber on call, Wed 18 Nov 21:10" in listed(world)


def test_that_line_keeps_the_words_that_it_had_when_they_were_told() -> None:
    world = at_stage("released")
    world.do(ClaimRung(CASE, "hcg", 1, "the prescriber on call"), WATCH, MORNING)
    world.do(Escalate(CASE, "hcg", PRESCRIBER.name, "no report", "wait until six", rung=3), NURSE, MORNING)
    table = clinic()
    table["rules"]["ladder"][2]["tell"] = "the night desk"
    world.do(SignRules(table), LEAD, MORNING)
    assert "    told the prescriber on call, Thu 19 Nov 06:10" in listed(world)


def test_whoever_was_not_reached_was_not_told() -> None:
    world = at_stage("released")
    world.do(Escalate(CASE, "hcg", "her second number", "no report", "engaged", reached=False), NURSE, NIGHT)
    assert "    tried to tell her second number, not reached, Wed 18 Nov 21:10" in listed(world)


def test_the_list_names_no_page_where_none_was_released() -> None:
    assert "    trigger: no page released" in whole_list(at_stage("planned"))


def test_the_list_says_what_was_voided() -> None:
    world = at_stage("released")
    world.do(slots.PlaceSlot(slot() | {"at": "2026-11-20 09:45"}, "a longer case before"), THEATRE, LATER)
    lines = whole_list(world)
    assert "    changed: page 1 was voided, the slot changed, Wed 18 Nov 15:00" in lines
    assert "    changed: no page holds now" in lines


@pytest.mark.parametrize(
    ("amount", "says"),
    [("0.3 mL", "amount: 0.3 mL"), (NONE, "none of it went in"), ("Maria says half", "not all of it")],
)
def test_of_an_amount_only_a_volume_is_told_on(amount: str, says: str) -> None:
    world = at_stage("released")
    world.do(replace(AT_FOUR_PAST, amount=amount), NURSE, NIGHT)
    lines = " ".join(listed(world))
    assert says in lines
    assert "Maria" not in lines
