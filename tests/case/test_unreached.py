"""Somebody who is rung and not reached: her next number, and whom the signed rule has told at which hour. Nothing is a default."""

from typing import Any

import pytest

from hourmark.case import calls, opening, rules
from hourmark.case import events as e
from hourmark.case.unreached import Tell, TellUnreached, next_number, numbers_of, unreached
from hourmark.formulary import facts
from tests.case.world import CASE, LEAD, NURSE, PHARMACIST, PRESCRIBER, SECOND, SIGNED, World, at_stage, clinic, kinds

# The hours are worked out by hand from the minutes of the rule signed here.
RULE = [{"after": "1 h", "tell": "the prescriber on call"}, {"after": "20 min", "tell": "whoever she named"}]
FIRST, SECOND_TRY = "2026-11-18T21:05:00Z", "2026-11-18T21:12:00Z"
HERS = ("+1 555 0101", "+1 555 0102", "+1 555 0103")


def ruled(rule: Any = RULE) -> World:
    world = at_stage("checked")
    signed = clinic()
    signed["rules"].pop("unreached", None)
    signed["rules"] |= {"unreached": rule} if rule is not None else {}
    if signed != clinic():
        world.do(rules.SignRules(signed), LEAD, SIGNED)
    return world


def rings(world: World, number: str = HERS[0], at: str = FIRST, reached: bool = False) -> None:
    world.do(calls.TryCall(CASE, number, reached, "nobody" if not reached else "she answered"), NURSE, at)


def stands(world: World) -> Any:
    return unreached(world.case(), world.desk.states().rules())


def test_nobody_is_unreached_before_somebody_rang() -> None:
    assert stands(ruled()) is None


def test_whom_to_tell_at_which_hour_comes_from_the_signed_rule_counted_from_the_first_try() -> None:
    world = ruled()
    rings(world)
    rings(world, at=SECOND_TRY)
    found = stands(world)
    assert (found.since, found.tries) == (FIRST, 2)
    assert found.tells == (
        Tell("whoever she named", "2026-11-18T21:25:00Z", told=False),
        Tell("the prescriber on call", "2026-11-18T22:05:00Z", told=False),
    )


@pytest.mark.parametrize(
    ("now", "owed"),
    [
        ("2026-11-18T21:24:59Z", []),
        ("2026-11-18T21:25:00Z", ["whoever she named"]),
        ("2026-11-18T22:05:00Z", ["whoever she named", "the prescriber on call"]),
    ],
)
def test_it_is_owed_from_its_minute_on(now: str, owed: list[str]) -> None:
    world = ruled()
    rings(world)
    assert [one.tell for one in stands(world).owed(now)] == owed


def test_without_a_signed_rule_nobody_is_named() -> None:
    world = ruled(None)
    rings(world)
    found = stands(world)
    assert found.tells == found.owed("2030-01-01T00:00:00Z") == ()
    proposed = facts("proposals")
    assert {proposed["unreached-other"].text, proposed["unreached-prescriber"].text} == {"15 min", "60 min"}


def test_whoever_was_told_is_not_owed_any_more_and_the_reply_is_kept() -> None:
    world = ruled()
    rings(world)
    entries = world.do(TellUnreached(CASE, "The  prescriber on call", "try her sister"), SECOND, SECOND_TRY)
    assert kinds(entries) == ["case/K-103 unreached-told"]
    assert world.case().unreached_told[-1].event == e.UnreachedTold("The  prescriber on call", "try her sister")
    assert [one.tell for one in stands(world).owed("2026-11-18T23:00:00Z")] == ["whoever she named"]


def test_once_she_was_reached_it_begins_anew_with_the_next_call_in_vain() -> None:
    world = ruled()
    rings(world)
    world.do(TellUnreached(CASE, "the prescriber on call", "yes"), SECOND, SECOND_TRY)
    rings(world, at="2026-11-18T21:30:00Z", reached=True)
    assert stands(world) is None
    assert world.codes(TellUnreached(CASE, "the prescriber on call", "yes"), SECOND) == ["nothing-changed"]
    rings(world, at="2026-11-18T22:00:00Z")
    found = stands(world)
    assert found.since == "2026-11-18T22:00:00Z"
    assert not any(one.told for one in found.tells)


def test_a_read_back_is_having_reached_her() -> None:
    world = at_stage("checked")
    rings(world, at="2026-11-18T20:25:00Z")
    assert stands(world) is not None
    assert stands(at_stage("heard")) is None


def test_a_closed_case_is_not_chased() -> None:
    world = ruled()
    rings(world)
    world.do(opening.CloseCase(CASE, "she withdrew"), NURSE, SECOND_TRY)
    assert stands(world) is None


# Her next number


def test_the_next_number_is_the_first_of_those_rung_least_often() -> None:
    world = ruled()
    assert next_number(world.case(), HERS) == HERS[0]
    for rung, then in ((HERS[0], HERS[1]), (HERS[1], HERS[2]), ("+1 (555) 0103", HERS[0]), (HERS[0], HERS[1])):
        rings(world, rung)
        assert next_number(world.case(), HERS) == then
    assert next_number(world.case(), ()) is None


def test_numbers_are_read_as_people_write_them() -> None:
    assert numbers_of("+1 555 0101\n +1 555 0102, +1 555 0103;\n") == HERS
    assert numbers_of("+1 555 0101 or +1 555 0102; +1 555 0103") == HERS
    assert numbers_of("") == ()


# What is blank


@pytest.mark.parametrize(
    ("command", "fields"),
    [
        (calls.TryCall(CASE, " ", False, "nobody"), ["number"]),
        (calls.NoteCall(CASE, "", "1", "\t", "a", "b", "c"), ["caller", "received"]),
        (calls.SetPermissions(CASE, "her partner", voicemail=True, message=True, how=" "), ["how"]),
        (TellUnreached(CASE, "", "yes"), ["told"]),
    ],
)
def test_what_says_nothing_is_not_recorded(command: Any, fields: list[str]) -> None:
    world = ruled()
    rings(world)
    refused = world.refused(command, NURSE)
    assert [(one.code, one.where) for one in refused.findings] == [("field-blank", name) for name in fields]


# What she allows


def test_what_she_allows_is_kept_and_only_a_change_is_recorded() -> None:
    world = at_stage("released")
    allowed = calls.SetPermissions(CASE, "her partner", voicemail=False, message=True, how="said on the telephone")
    assert kinds(world.do(allowed, NURSE)) == ["case/K-103 permissions-set"]
    assert world.case().permissions == e.PermissionsSet("her partner", False, True, "said on the telephone")
    assert world.case().sheet is not None
    assert world.codes(allowed, PRESCRIBER) == ["nothing-changed"]
    assert world.codes(allowed, PHARMACIST) == ["act-role"]
