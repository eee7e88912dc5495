"""The watch over silence: each rung of the signed ladder goes on the record once, for each injection by its own clock."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace

import pytest

from hourmark.case import events as e
from hourmark.case import opening, orders, rules, sheets
from hourmark.case.asked import Role
from hourmark.case.night import NONE, Confirm, Escalate, WithdrawConfirmation
from hourmark.case.phone import AskHelp, ReadBoxes
from hourmark.case.watch import ClaimRung, Reached, Rung, ladder, reached
from hourmark.desk import Damaged, Desk
from hourmark.desk.watch import WATCH, Unclaimable, Unwatched, key_of, watch_once
from hourmark.ledger import Entry, MemoryStore, NotStored, verify
from tests.case.test_night import AT_FOUR_PAST
from tests.case.world import (
    CASE,
    DUE,
    LEAD,
    NURSE,
    PHARMACIST,
    PRESCRIBER,
    RELEASED,
    SECOND,
    THEATRE,
    Person,
    World,
    at_stage,
    check,
    clinic,
    desk_over,
    kinds,
    open_case,
    order,
    plan_case,
    read_back,
    release_case,
    written,
)
from tests.night.faults import FaultyStore

LOOP = Person(WATCH, Role.WATCH)
HERSELF = Person("she herself", Role.PATIENT)
HER, OTHER, ON_CALL = "her own number", "her second number", "the prescriber on call"
"""Whom the invented clinic's lead has signed to be told after 15, 25 and 40 minutes of silence."""


def after_due(minutes: int, seconds: int = 0) -> str:
    """So long after 21:00 in Chicago, when both medicines of K-103 are due."""
    assert DUE == "2026-11-19T03:00:00Z"
    return f"2026-11-19T{3 + minutes // 60:02}:{minutes % 60:02}:{seconds:02}Z"


def rungs(world: World) -> tuple[Rung, ...]:
    return ladder(world.desk.states().rules())


def silent(world: World, now: str, case: str = CASE) -> list[tuple[str, int]]:
    """Injection and rung of whatever is reached."""
    return [(one.injection, one.rung.number) for one in reached(world.case(case), rungs(world), now)]


def unanswered(world: World, now: str) -> list[tuple[str, int]]:
    return [(one.injection, one.rung.number) for one in reached(world.case(), rungs(world), now) if not one.told]


def claimed(world: World, case: str = CASE) -> list[tuple[str, int, int]]:
    """Injection, sheet and rung of everything that the watch put on the record."""
    return [(one.event.injection, one.event.sheet, one.event.rung) for one in world.case(case).owed]


def unsigned(world: World) -> None:
    """The clinic's lead signs rules without a ladder."""
    table = clinic()
    del table["rules"]["ladder"]
    world.do(rules.SignRules(table), LEAD)


# The ladder


def test_the_ladder_is_as_signed_by_its_minutes() -> None:
    world, table = at_stage("opened"), clinic()
    in_order = (Rung(1, 15, HER), Rung(2, 25, OTHER), Rung(3, 40, ON_CALL))
    assert rungs(world) == in_order
    table["rules"]["ladder"].reverse()
    world.do(rules.SignRules(table), LEAD)
    assert rungs(world) == in_order


def test_with_no_signed_ladder_nobody_is_told_and_nothing_is_claimed() -> None:
    world = at_stage("released")
    unsigned(world)
    assert rungs(world) == ()
    assert silent(world, after_due(600)) == []
    assert watch_once(world.desk, after_due(600)) == ()
    assert claimed(world) == []
    assert [row.owed for row in world.desk.states().board(after_due(600))] == [None, None]


# What is reached, and when


@pytest.mark.parametrize(
    ("now", "found"),
    [
        (after_due(14, 59), []),
        (after_due(15), [1]),
        (after_due(24, 59), [1]),
        (after_due(25), [1, 2]),
        (after_due(39, 59), [1, 2]),
        (after_due(40), [1, 2, 3]),
        (after_due(600), [1, 2, 3]),
    ],
)
def test_a_rung_is_reached_to_the_second(now: str, found: list[int]) -> None:
    assert silent(at_stage("released"), now) == [(name, rung) for name in ("agonist", "hcg") for rung in found]


def test_what_is_reached_says_since_when_and_of_which_page() -> None:
    world = at_stage("released")
    first, _ = reached(world.case(), rungs(world), after_due(20))
    assert first == Reached("agonist", 1, Rung(1, 15, HER), after_due(15), told=False)


@pytest.mark.parametrize("stage", ["opened", "planned", "checked", "heard"])
def test_without_a_page_nobody_is_silent(stage: str) -> None:
    assert silent(at_stage(stage), after_due(600)) == []  # type: ignore[arg-type]


SPOKEN_OF: dict[str, Confirm] = {
    "given": AT_FOUR_PAST,
    "not given": replace(AT_FOUR_PAST, reported="not yet", amount="nothing"),
    "a part of it": replace(AT_FOUR_PAST, amount="half of it"),
    "not one drop": replace(AT_FOUR_PAST, reported="", amount=NONE),
    "a page that was never issued": replace(AT_FOUR_PAST, sheet=7),
}


@pytest.mark.parametrize("said", SPOKEN_OF)
def test_an_injection_that_anybody_spoke_of_is_not_silent_and_the_other_still_is(said: str) -> None:
    world = at_stage("released")
    world.do(SPOKEN_OF[said], NURSE, after_due(10))
    assert silent(world, after_due(26)) == [("hcg", 1), ("hcg", 2)]
    assert [one.injection for one in watch_once(world.desk, after_due(26))] == ["hcg", "hcg"]


def test_a_time_still_to_come_ends_no_silence() -> None:
    world = at_stage("released")
    world.do(replace(AT_FOUR_PAST, reported="2026-11-19 04:00"), NURSE, after_due(10))
    assert silent(world, after_due(16)) == [("agonist", 1), ("hcg", 1)]


def test_what_is_said_of_something_else_ends_no_silence() -> None:
    world = at_stage("released")
    world.do(replace(AT_FOUR_PAST, injection="third"), NURSE, after_due(10))
    world.do(ReadBoxes(CASE, "hcg", 1, ()), HERSELF, after_due(11))
    world.do(AskHelp(CASE, "hcg", "mixing", "I am stuck"), HERSELF, after_due(12))
    world.do(Escalate(CASE, "hcg", HER, "silence", "no answer"), NURSE, after_due(16))
    assert silent(world, after_due(16)) == [("agonist", 1), ("hcg", 1)]


def test_a_report_that_was_a_mistake_leaves_her_silent_again() -> None:
    world = at_stage("released")
    watch_once(world.desk, after_due(16))
    world.do(AT_FOUR_PAST, NURSE, after_due(17))
    assert watch_once(world.desk, after_due(30)) == (ClaimRung(CASE, "hcg", 1, OTHER),)
    world.do(WithdrawConfirmation(CASE, world.case().confirmations[0].seq, "another person"), NURSE, after_due(31))
    assert watch_once(world.desk, after_due(31)) == (ClaimRung(CASE, "agonist", 1, OTHER),)
    assert sorted(claimed(world)) == [(name, 1, rung) for name in ("agonist", "hcg") for rung in (1, 2)]


def test_the_second_injection_climbs_a_ladder_of_its_own() -> None:
    """K-105 has an agonist 40 h and hCG 34 h before the slot: six hours lie between them."""
    world = at_stage("released", "K-105")
    agonist, hcg = (due.at for due in world.case("K-105").sheets[-1].event.dues)
    assert (agonist, hcg) == ("2026-11-19T01:45:00Z", "2026-11-19T07:45:00Z")
    assert silent(world, "2026-11-19T02:00:00Z", "K-105") == [("agonist", 1)]
    world.do(replace(AT_FOUR_PAST, case="K-105", reported="2026-11-18 20:05"), NURSE, "2026-11-19T02:06:00Z")
    assert silent(world, "2026-11-19T07:59:59Z", "K-105") == []
    assert silent(world, "2026-11-19T08:10:00Z", "K-105") == [("hcg", 1), ("hcg", 2)]


def test_a_void_page_is_watched_until_there_is_another_and_that_one_anew() -> None:
    """She may have gone by it, and nobody knows."""
    world = at_stage("released")
    watch_once(world.desk, after_due(15))
    world.do(orders.SignOrder(CASE, order() | {"stop": ["follitropin"]}), PRESCRIBER, after_due(16))
    assert silent(world, after_due(26)) == [(name, rung) for name in ("agonist", "hcg") for rung in (1, 2)]
    watch_once(world.desk, after_due(26))
    world.do(check(world), SECOND, after_due(27))
    world.do(read_back(world), NURSE, after_due(28))
    questions = tuple(
        (code, "the prescriber says: go ahead") for code in world.planned(at=after_due(29)).made.open_questions
    )
    world.do(sheets.Release(CASE, answered=questions), NURSE, after_due(29))
    assert len(watch_once(world.desk, after_due(29))) == 4
    assert sorted(claimed(world)) == [
        (name, sheet, rung) for name in ("agonist", "hcg") for sheet in (1, 2) for rung in (1, 2)
    ]


def test_a_closed_case_is_not_watched() -> None:
    world = at_stage("released")
    world.do(AT_FOUR_PAST, NURSE, after_due(10))
    world.do(replace(AT_FOUR_PAST, injection="hcg"), NURSE, after_due(10))
    world.do(WithdrawConfirmation(CASE, world.case().confirmations[0].seq, "x"), NURSE, RELEASED)
    world.do(opening.CloseCase(CASE, "she withdrew"), NURSE, RELEASED)
    assert silent(world, after_due(600)) == []
    assert watch_once(world.desk, after_due(600)) == ()
    assert world.codes(ClaimRung(CASE, "agonist", 1, HER), LOOP, after_due(600)) == ["case-closed"]


# Who was told


TOLD: dict[str, tuple[str, int | None, int, list[int]]] = {
    "her own number before it was due": (HER, None, -10, [1, 2, 3]),
    "the last rung before it was due": (ON_CALL, 3, -1, [1, 2, 3]),
    "her own number as soon as it was due": (HER, None, 0, [2, 3]),
    "her own number before the first rung": (HER, None, 5, [2, 3]),
    "her own number long after": (HER, None, 27, [2, 3]),
    "her second number": (OTHER, None, 27, [3]),
    "the prescriber before any rung": (ON_CALL, None, 5, []),
    "the prescriber after the first rung": (ON_CALL, None, 16, []),
    "somebody who is on no rung": ("theatre", None, 27, [1, 2, 3]),
    "somebody else for the second rung": ("theatre", 2, 27, [3]),
    "her own number for the last rung": (HER, 3, 41, []),
    "the prescriber for the first rung": (ON_CALL, 1, 41, [2, 3]),
}
"""Who was told, for which rung, how long after it was due, and which rungs are still without an answer at an hour."""


@pytest.mark.parametrize("told", TOLD)
def test_a_rung_is_answered_once_due_by_whom_it_names_or_by_going_further_up(told: str) -> None:
    world, (whom, rung, minutes, left) = at_stage("released"), TOLD[told]
    at = after_due(minutes) if minutes >= 0 else f"2026-11-19T02:{60 + minutes}:00Z"
    world.do(Escalate(CASE, "hcg", whom, "silence", "noted", rung=rung), NURSE, at)
    assert unanswered(world, after_due(60)) == [
        *(("agonist", rung) for rung in (1, 2, 3)),
        *(("hcg", rung) for rung in left),
    ]
    assert silent(world, after_due(60)) == [(name, rung) for name in ("agonist", "hcg") for rung in (1, 2, 3)]


def test_the_last_line_is_owed_until_somebody_was_reached() -> None:
    world = at_stage("released")
    tried = Escalate(CASE, "hcg", ON_CALL, "silence", "nobody answered", reached=False)
    world.do(tried, NURSE, after_due(41))
    assert unanswered(world, after_due(60))[3:] == [("hcg", 3)]
    world.do(replace(tried, told=OTHER), NURSE, after_due(45))
    assert unanswered(world, after_due(60))[3:] == [("hcg", 3)]
    world.do(replace(tried, reply="she will ring her", reached=True), NURSE, after_due(50))
    assert unanswered(world, after_due(60))[3:] == []


def test_a_lower_line_is_answered_by_trying_it() -> None:
    world = at_stage("released")
    world.do(Escalate(CASE, "hcg", HER, "silence", "nobody answered", reached=False), NURSE, after_due(16))
    assert unanswered(world, after_due(26)) == [("agonist", 1), ("agonist", 2), ("hcg", 2)]


def test_the_board_says_which_step_is_owed_to_whom_since_when() -> None:
    world = at_stage("released")
    assert [row.owed for row in world.desk.states().board(after_due(14))] == [None, None]
    world.do(Escalate(CASE, "agonist", HER, "silence", "no answer"), NURSE, after_due(16))
    assert [row.owed for row in world.desk.states().board(after_due(20))] == [
        None,
        Reached("hcg", 1, Rung(1, 15, HER), after_due(15), told=False),
    ]
    assert [row.owed for row in world.desk.states().board(after_due(26))] == [
        Reached(name, 1, Rung(2, 25, OTHER), after_due(25), told=False) for name in ("agonist", "hcg")
    ]
    world.do(Escalate(CASE, "agonist", ON_CALL, "silence", "wait"), NURSE, after_due(41))
    assert [row.owed and row.owed.rung.number for row in world.desk.states().board(after_due(42))] == [None, 3]


def test_of_two_medicines_one_reported_is_1_of_2_and_the_other_climbs() -> None:
    world = at_stage("released")
    world.do(AT_FOUR_PAST, NURSE, after_due(10))
    watch_once(world.desk, after_due(41))
    other, given = world.desk.states().board(after_due(41))
    assert (given.state, given.given, given.why, given.owed) == ("given", "1 of 2 given", "1 of 2 given", None)
    assert (other.state, other.given, other.owed and other.owed.rung.number) == ("unknown since", "1 of 2 given", 3)
    assert claimed(world) == [("hcg", 1, 1), ("hcg", 1, 2), ("hcg", 1, 3)]
    assert "confirmed" not in " ".join(f"{row.state} {row.why} {row.given}" for row in (other, given))


# The claim


def test_a_claim_says_whom_to_tell_and_since_when_and_changes_nothing_else() -> None:
    world = at_stage("released")
    before = world.case()
    entries = world.do(ClaimRung(CASE, "hcg", 1, OTHER), LOOP, after_due(31))
    assert kinds(entries) == ["case/K-103 escalation-owed"]
    assert written(entries, e.EscalationOwed) == e.EscalationOwed("hcg", 1, 2, OTHER, after_due(25))
    after = world.case()
    assert replace(after, owed=()) == before
    assert after.sheet == before.sheet is not None
    assert world.messages() == []


def test_a_rung_is_claimed_one_time_whatever_the_key() -> None:
    world, claim = at_stage("released"), ClaimRung(CASE, "hcg", 1, HER)
    first = world.do(claim, LOOP, after_due(16), key="the key")
    assert world.codes(claim, LOOP, after_due(20)) == ["nothing-changed"]
    again = world.ask(claim, LOOP, after_due(20), key="the key")
    assert (again.entries, again.again) == (first, True)  # type: ignore[union-attr]
    assert claimed(world) == [("hcg", 1, 1)]


@pytest.mark.parametrize(
    ("claim", "minutes"),
    [
        (ClaimRung(CASE, "hcg", 1, HER), 14),
        (ClaimRung(CASE, "hcg", 1, OTHER), 24),
        (ClaimRung(CASE, "hcg", 1, "theatre"), 600),
        (ClaimRung(CASE, "hcg", 1, HER, 2), 600),
        (ClaimRung(CASE, "hcg", 1, HER, 0), 600),
        (ClaimRung(CASE, "hcg", 2, HER), 600),
        (ClaimRung(CASE, "third", 1, HER), 600),
    ],
    ids=repr,
)
def test_what_is_not_reached_is_not_claimed(claim: ClaimRung, minutes: int) -> None:
    assert at_stage("released").codes(claim, LOOP, after_due(minutes)) == ["nothing-changed"]


def test_no_claim_for_a_case_that_nobody_opened() -> None:
    assert at_stage("released").codes(ClaimRung("K-999", "hcg", 1, HER), LOOP, after_due(60)) == ["case-unknown"]


@pytest.mark.parametrize("who", [NURSE, PRESCRIBER, PHARMACIST, THEATRE, LEAD, HERSELF], ids=lambda who: who.role)
def test_nobody_but_the_watch_claims(who: Person) -> None:
    assert at_stage("released").codes(ClaimRung(CASE, "hcg", 1, HER), who, after_due(60)) == ["act-role"]


# A pass of the watch


def test_a_pass_claims_what_is_reached_and_the_next_only_what_is_new() -> None:
    world = at_stage("released")
    one = tuple(ClaimRung(CASE, name, 1, HER) for name in ("agonist", "hcg"))
    assert watch_once(world.desk, after_due(14)) == ()
    assert watch_once(world.desk, after_due(15)) == one
    assert watch_once(world.desk, after_due(16)) == ()
    assert watch_once(world.desk, after_due(41)) == tuple(
        ClaimRung(CASE, name, 1, tell) for name in ("agonist", "hcg") for tell in (OTHER, ON_CALL)
    )
    assert claimed(world) == [("agonist", 1, 1), ("hcg", 1, 1)] + [
        (name, 1, rung) for name in ("agonist", "hcg") for rung in (2, 3)
    ]
    by = {(one.actor, one.at) for one in world.case().owed}
    assert by == {(WATCH, after_due(15)), (WATCH, after_due(41))}


def test_a_watch_started_anew_claims_nothing_twice() -> None:
    world = at_stage("released")
    watch_once(world.desk, after_due(26))
    assert watch_once(desk_over(world.store), after_due(26)) == ()


def test_a_ladder_signed_anew_claims_no_step_of_a_page_twice() -> None:
    world, table = at_stage("released"), clinic()
    watch_once(world.desk, after_due(16))
    table["rules"]["ladder"][0]["after"] = "10 min"
    world.do(rules.SignRules(table), LEAD, after_due(17))
    assert watch_once(world.desk, after_due(17)) == ()
    assert watch_once(world.desk, after_due(25)) == tuple(
        ClaimRung(CASE, name, 1, OTHER) for name in ("agonist", "hcg")
    )


def signed_anew(world: World, minutes: int, *ladder: tuple[str, str]) -> None:
    """The lead signs another ladder so long after 21:00."""
    table = clinic()
    table["rules"]["ladder"] = [{"after": after, "tell": tell} for after, tell in ladder]
    world.do(rules.SignRules(table), LEAD, after_due(minutes))


NEW_LADDER = (("15 min", HER), ("25 min", "the helper"), ("40 min", ON_CALL))


def test_a_claim_of_the_old_ladder_silences_no_other_of_the_same_number() -> None:
    world = at_stage("released")
    watch_once(world.desk, after_due(26))
    signed_anew(world, 27, *NEW_LADDER)
    assert watch_once(world.desk, after_due(28)) == tuple(
        ClaimRung(CASE, name, 1, "the helper") for name in ("agonist", "hcg")
    )
    assert [one.event.tell for one in world.case().owed if one.event.injection == "hcg"] == [HER, OTHER, "the helper"]
    assert watch_once(world.desk, after_due(29)) == ()


def test_nobody_is_claimed_a_second_time_since_other_lines_stand_before_them() -> None:
    world = at_stage("released")
    watch_once(world.desk, after_due(26))
    signed_anew(world, 27, ("5 min", "the helper"), ("15 min", HER), ("30 min", OTHER), ("40 min", ON_CALL))
    assert [one.tell for one in watch_once(world.desk, after_due(31))] == ["the helper", "the helper"]
    assert [one.tell for one in watch_once(world.desk, after_due(41))] == [ON_CALL, ON_CALL]


def test_whoever_a_ladder_names_twice_is_claimed_twice() -> None:
    world = at_stage("released")
    signed_anew(world, 1, ("10 min", HER), ("20 min", OTHER), ("30 min", "Her own  number"))
    assert len(watch_once(world.desk, after_due(20))) == 4
    again = tuple(ClaimRung(CASE, name, 1, "Her own  number", 2) for name in ("agonist", "hcg"))
    assert watch_once(world.desk, after_due(31)) == again
    assert world.codes(again[0], LOOP, after_due(32)) == ["nothing-changed"]


def test_the_second_time_is_not_claimed_before_the_first() -> None:
    world = at_stage("released")
    signed_anew(world, 1, ("10 min", HER), ("20 min", HER))
    assert world.codes(ClaimRung(CASE, "hcg", 1, HER, 2), LOOP, after_due(21)) == ["nothing-changed"]
    world.do(ClaimRung(CASE, "hcg", 1, HER), LOOP, after_due(21))
    world.do(ClaimRung(CASE, "hcg", 1, HER, 2), LOOP, after_due(21))


ANEW: dict[str, tuple[tuple[str, int | None], tuple[tuple[str, str], ...], list[int]]] = {
    "the same at other minutes": ((OTHER, 2), (("15 min", HER), ("30 min", OTHER), ("40 min", ON_CALL)), [3]),
    "another whom in its place": ((OTHER, 2), NEW_LADDER, [1, 2, 3]),
    "another whom, who was told": (("the helper", 2), NEW_LADDER, [3]),
    "another whom, told for it by name": (("The  helper", None), NEW_LADDER, [3]),
    "the same further up": ((OTHER, 2), (("5 min", "the helper"), ("15 min", HER), ("20 min", OTHER)), []),
    "the same further down": ((OTHER, 2), (("15 min", OTHER), ("25 min", "the helper")), [2]),
    "the same twice": ((ON_CALL, 3), (("15 min", ON_CALL), ("25 min", ON_CALL)), [2]),
    "a line that the old one had not": (("theatre", 4), NEW_LADDER, [1, 2, 3]),
}
"""Who was told for which line of the old ladder, the new one, and which of its lines are still owed."""


@pytest.mark.parametrize("how", ANEW)
def test_what_was_told_for_a_line_answers_the_line_that_says_the_same(how: str) -> None:
    world, ((whom, rung), new, left) = at_stage("released"), ANEW[how]
    world.do(Escalate(CASE, "hcg", whom, "silence", "she will ring", rung=rung), NURSE, after_due(27))
    signed_anew(world, 28, *new)
    assert [number for name, number in unanswered(world, after_due(60)) if name == "hcg"] == left


def test_telling_somebody_whom_two_lines_name_answers_the_lower_of_them() -> None:
    """Whoever stands between the two is still owed."""
    world = at_stage("released")
    signed_anew(world, 1, ("15 min", HER), ("30 min", OTHER), ("45 min", HER))
    world.do(Escalate(CASE, "hcg", HER, "silence", "she looks", reached=True), NURSE, after_due(50))
    assert [number for name, number in unanswered(world, after_due(50)) if name == "hcg"] == [2, 3]


def test_who_was_told_is_kept_with_what_the_line_said_then() -> None:
    world = at_stage("released")
    entries = world.do(Escalate(CASE, "hcg", "theatre", "silence", "noted", rung=2), NURSE, after_due(27))
    assert written(entries, e.Escalated).tell == OTHER
    entries = world.do(Escalate(CASE, "hcg", "theatre", "silence", "noted", rung=9), NURSE, after_due(27))
    assert (written(entries, e.Escalated).rung, written(entries, e.Escalated).tell) == (9, None)


def interrupted(world: World, what: Callable[[], object]) -> Desk:
    """A desk before whose next transaction something else is done."""
    store = FaultyStore(world.store)
    store.between = what
    return desk_over(store)


def test_of_two_watches_at_once_each_rung_is_claimed_by_one() -> None:
    world = at_stage("released")
    other: list[ClaimRung] = []
    slow = interrupted(world, lambda: other.extend(watch_once(world.desk, after_due(26))))
    assert watch_once(slow, after_due(26)) == ()
    assert len(other) == 4
    assert len(claimed(world)) == len(set(claimed(world))) == 4


def test_what_she_says_while_the_watch_is_at_it_is_not_claimed() -> None:
    world = at_stage("released")
    slow = interrupted(world, lambda: world.do(AT_FOUR_PAST, NURSE, after_due(26)))
    assert watch_once(slow, after_due(26)) == (ClaimRung(CASE, "hcg", 1, HER), ClaimRung(CASE, "hcg", 1, OTHER))
    assert claimed(world) == [("hcg", 1, 1), ("hcg", 1, 2)]


class Failing(MemoryStore):
    """A store whose transactions fail from the one with this number on; from 0 nothing can be read either."""

    def __init__(self, entries: Sequence[Entry], fails_from: int) -> None:
        super().__init__("invented")
        self.left = 10**9
        with self.writing() as record:
            record.write(entries, [])
        self.left = fails_from

    @contextmanager
    def writing(self) -> Iterator[MemoryStore]:
        with super().writing() as record:
            yield record
            self.left -= 1
            if self.left < 0:
                raise NotStored("The disk is full.", passing=False)

    def read(self, stream: str) -> Sequence[Entry]:
        if not self.left:
            raise NotStored("The disk is gone.", passing=False)
        return super().read(stream)


@pytest.mark.parametrize("stored", [0, 1, 3])
def test_a_store_that_cannot_is_raised_and_the_next_pass_does_the_rest(stored: int) -> None:
    store = Failing(at_stage("released").entries, stored)
    with pytest.raises(NotStored):
        watch_once(desk_over(store), after_due(26))
    store.left = 10**9
    assert len(watch_once(desk_over(store), after_due(26))) == 4 - stored
    there = [one.event for one in desk_over(store).states().case(CASE).owed]
    assert len(there) == len({(one.injection, one.rung) for one in there}) == 4
    assert list(verify(store)) == []


def damaged_beside_another() -> World:
    """K-103, of which a body is gone, and K-105, whose first medicine is due at 19:45: a desk that reads them anew."""
    world = at_stage("released", "K-105")
    open_case(world, CASE)
    plan_case(world, CASE)
    release_case(world, CASE)
    world.store.drop_bodies(f"case/{CASE}", [world.case().sheets[0].seq])
    world.desk = desk_over(world.store)
    return world


def test_a_damaged_case_is_passed_over_and_named_after_all_others_were_watched() -> None:
    world = damaged_beside_another()
    with pytest.raises(Unwatched) as raised:
        watch_once(world.desk, after_due(26))
    assert raised.value.cases == (CASE,)
    assert claimed(world, "K-105") == [("agonist", 1, 1), ("agonist", 1, 2), ("agonist", 1, 3)]
    with pytest.raises(Unwatched):
        watch_once(world.desk, after_due(26))
    assert len(claimed(world, "K-105")) == 3


def test_a_case_that_is_damaged_while_the_watch_is_at_it_is_named_as_well() -> None:
    world = at_stage("released")
    seq = world.case().sheets[0].seq

    def damage() -> None:
        world.store.drop_bodies(f"case/{CASE}", [seq])
        slow._memo._states.clear()

    slow = interrupted(world, damage)
    with pytest.raises(Unwatched) as raised:
        watch_once(slow, after_due(26))
    assert raised.value.cases == (CASE,)


@pytest.mark.parametrize("stream", ["roll", "rules"])
def test_damaged_rules_or_a_damaged_roll_are_raised(stream: str) -> None:
    world = at_stage("released")
    world.store.drop_bodies(stream, [1])
    with pytest.raises(Damaged):
        watch_once(desk_over(world.store), after_due(26))


def test_a_key_that_stands_for_something_else_is_raised_after_all_others_were_claimed() -> None:
    world, blocked = at_stage("released"), ClaimRung(CASE, "agonist", 1, HER)
    world.do(AskHelp(CASE, "hcg", "mixing", "I am stuck"), HERSELF, after_due(1), key=key_of(blocked))
    with pytest.raises(Unclaimable) as raised:
        watch_once(world.desk, after_due(26))
    assert raised.value.rungs == (blocked,)
    assert claimed(world) == [("agonist", 1, 2), ("hcg", 1, 1), ("hcg", 1, 2)]


def test_no_two_rungs_have_one_key() -> None:
    claims = [
        ClaimRung(case, injection, sheet, tell, time)
        for case in ("K-1", "K-1-1", "K")
        for injection in ("hcg", "1-hcg", "hcg-1", "1")
        for sheet in (1, 11)
        for tell in ("her", "1/her", HER)
        for time in (1, 11)
    ]
    assert len({key_of(one) for one in claims}) == len(claims)
