"""A report of trouble on the record: with what went in it is one act, it stays open until just it is settled, and it is kept of a closed case too."""

from dataclasses import replace

import pytest

from hourmark.case import events as e
from hourmark.case.board import PROBLEM, board
from hourmark.case.night import Confirm, NoteIncident
from hourmark.case.trouble import NOT_SAID, ReportTrouble, read_report
from tests.case.world import CASE, NIGHT, NURSE, PRESCRIBER, THEATRE, World, at_stage, kinds, written

SAID = (("symptoms", "no"), ("injection", "hcg"), ("at", "2026-11-18 21:00"), ("drawn", "0.3 mL"))
WENT_IN = Confirm(CASE, "hcg", "2026-11-18 21:00", "America/Chicago", "the caller", "telephone", "0.3 mL", "not asked")
REPORT = ReportTrouble(CASE, "hcg", "wrong-mark", SAID, WENT_IN)


def row(world: World) -> str:
    return next(one.state for one in board([world.case()], NIGHT) if one.injection == "hcg")


def test_a_report_and_what_went_in_are_one_act() -> None:
    world = at_stage("released")
    entries = world.do(REPORT, NURSE, NIGHT)
    assert kinds(entries) == ["case/K-103 confirmed", "case/K-103 incident-noted"]
    assert len({entry.read_header().act for entry in entries}) == 1
    assert written(entries, e.Confirmed).amount == "0.3 mL"
    noted = written(entries, e.IncidentNoted)
    assert (noted.injection, noted.decided_by, noted.decision, noted.settled) == ("hcg", NOT_SAID, NOT_SAID, False)
    assert read_report(noted.happened) == ("wrong-mark", dict(SAID))


def test_without_anything_that_went_in_it_is_a_problem_alone() -> None:
    world = at_stage("released")
    assert kinds(world.do(replace(REPORT, report=None), NURSE, NIGHT)) == ["case/K-103 incident-noted"]
    assert world.case().confirmations == ()


def test_the_same_key_keeps_it_one_time() -> None:
    world = at_stage("released")
    world.do(REPORT, NURSE, NIGHT, "one")
    before = world.everything()
    world.ask(REPORT, NURSE, NIGHT, "one")
    assert world.everything() == before


def test_it_is_a_problem_on_the_board_until_just_it_is_settled() -> None:
    world = at_stage("released")
    world.do(REPORT, NURSE, NIGHT)
    first = world.case().problems[-1].seq
    world.do(ReportTrouble(CASE, "hcg", "late", (("symptoms", "no"),)), NURSE, NIGHT)
    assert row(world) == PROBLEM
    end = NoteIncident(CASE, "hcg", "it is over", PRESCRIBER.name, "it stays", settled=True, settles=first)
    world.do(end, NURSE, NIGHT)
    assert [one.event.happened for one in world.case().problems] == ["injected too late;\nsymptoms: no"]
    assert row(world) == PROBLEM
    world.do(replace(end, settles=world.case().problems[-1].seq), NURSE, NIGHT)
    assert row(world) != PROBLEM


@pytest.mark.parametrize(
    "said", [(), (("at", "half past nine, or so"),), (("drawn", "9 gallons"), ("words", "oh; no"))]
)
def test_whatever_it_says_is_kept_word_for_word(said: tuple[tuple[str, str], ...]) -> None:
    world = at_stage("released")
    entries = world.do(ReportTrouble(CASE, None, "partial", said), THEATRE, NIGHT)
    assert read_report(written(entries, e.IncidentNoted).happened) == ("partial", dict(said))
