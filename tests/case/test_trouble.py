"""A report of trouble on the record: with what went in it is one act, it stays open until just it is settled, and it is kept of a closed case too."""

from dataclasses import replace

import pytest

from hourmark.case import events as e
from hourmark.case.board import PROBLEM, board
from hourmark.case.night import Confirm, NoteIncident
from hourmark.case.trouble import (
    DANGER,
    NOT_SAID,
    ReportTrouble,
    last_of,
    last_words,
    nurse_words,
    read_report,
    report_words,
    reports_of,
    same_call,
)
from hourmark.incident import AnswerForm, Kind, questions
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


# More of the same call


def entries(world: World) -> list[int]:
    return [one.seq for one in world.case().problems]


def test_more_of_the_same_call_takes_the_place_of_what_was_open_and_says_no_injection_again() -> None:
    world = at_stage("released")
    unasked = replace(REPORT, said=SAID[1:])
    world.do(unasked, NURSE, NIGHT)
    (first,) = entries(world)
    more = replace(REPORT, after=first)
    written_again = world.do(more, NURSE, NIGHT)
    assert kinds(written_again) == ["case/K-103 incident-noted"]
    assert written(written_again, e.IncidentNoted).settles == first
    assert [one.event.happened for one in world.case().problems] == [report_words("wrong-mark", dict(SAID))]
    assert [one.said for one in same_call(world.case(), reports_of(world.case())[0])] == [dict(SAID[1:]), dict(SAID)]
    assert last_words(world.case()) == reports_of(world.case())[1:]
    assert "reports-differ" not in world.case().confirmations[-1].event.doubts


def test_a_correction_in_the_same_call_is_one_problem_and_two_reports_of_what_went_in() -> None:
    world = at_stage("released")
    world.do(REPORT, NURSE, NIGHT)
    (first,) = entries(world)
    other = replace(WENT_IN, amount="0.25 mL")
    again = world.do(replace(REPORT, report=other, said=(*SAID[:3], ("drawn", "0.25 mL")), after=first), NURSE, NIGHT)
    assert kinds(again) == ["case/K-103 confirmed", "case/K-103 incident-noted"]
    assert len(entries(world)) == 1
    assert "reports-differ" in world.case().confirmations[-1].event.doubts
    assert last_of(world.case(), first) == reports_of(world.case())[-1]


def test_to_go_on_with_an_earlier_report_is_to_go_on_with_the_last_of_its_call() -> None:
    world = at_stage("released")
    world.do(replace(REPORT, said=SAID[1:]), NURSE, NIGHT)
    (first,) = entries(world)
    world.do(replace(REPORT, after=first), NURSE, NIGHT)
    (second,) = entries(world)
    world.do(replace(REPORT, said=(*SAID, ("lost", "none")), after=first), NURSE, NIGHT)
    (third,) = entries(world)
    assert world.case().incidents[-1].event.settles == second
    assert [one.kept.seq for one in same_call(world.case(), reports_of(world.case())[1])] == [first, second, third]


def test_a_second_call_is_a_second_report_and_so_is_one_after_the_first_was_settled() -> None:
    world = at_stage("released")
    world.do(REPORT, NURSE, NIGHT)
    assert kinds(world.do(REPORT, NURSE, NIGHT)) == ["case/K-103 confirmed", "case/K-103 incident-noted"]
    first, second = entries(world)
    end = NoteIncident(CASE, "hcg", "it is over", PRESCRIBER.name, "it stays", settled=True, settles=first)
    world.do(end, NURSE, NIGHT)
    world.do(replace(REPORT, after=first), NURSE, NIGHT)
    assert world.case().incidents[-1].event.settles is None
    assert len(entries(world)) == 2
    assert second in entries(world)


def test_more_of_a_call_about_another_injection_leaves_the_first_one_s_problem_open() -> None:
    world = at_stage("released")
    world.do(ReportTrouble(CASE, "hcg", "storage", (("kept", "in the car"),)), NURSE, NIGHT)
    (first,) = entries(world)
    world.do(ReportTrouble(CASE, "agonist", "storage", (("kept", "in the car"),), after=first), NURSE, NIGHT)
    assert len(entries(world)) == 2
    end = NoteIncident(
        CASE, "agonist", "it was cold", PRESCRIBER.name, "use it", settled=True, settles=entries(world)[1]
    )
    world.do(end, NURSE, NIGHT)
    assert entries(world) == [first]


def test_a_sign_of_danger_takes_no_other_problem_s_place_and_gives_its_own_to_none() -> None:
    world = at_stage("released")
    danger = ReportTrouble(CASE, "hcg", DANGER, (("symptoms", "yes"),))
    world.do(danger, NURSE, NIGHT)
    (first,) = entries(world)
    world.do(replace(REPORT, after=first), NURSE, NIGHT)
    assert len(entries(world)) == 2
    assert first in entries(world)
    last = entries(world)[-1]
    world.do(replace(danger, said=(("symptoms", "yes"), ("words", "it is worse")), after=first), NURSE, NIGHT)
    assert first not in entries(world)
    world.do(replace(REPORT, said=(("symptoms", "yes"),), report=None, after=last), NURSE, NIGHT)
    assert last in entries(world)
    assert len(entries(world)) == 3


@pytest.mark.parametrize("after", [1, 9999])
def test_to_go_on_with_what_is_no_report_is_a_report_of_its_own(after: int) -> None:
    world = at_stage("released")
    world.do(replace(REPORT, after=after), NURSE, NIGHT)
    assert world.case().incidents[-1].event.settles is None


@pytest.mark.parametrize("kind", list(Kind))
def test_every_answer_has_words_of_its_own_and_no_key_is_left_raw(kind: Kind) -> None:
    for one in questions(kind):
        for answer in ("yes", "no", "not known") if one.form is AnswerForm.YES_NO else ("7 of it", "not known"):
            words = nurse_words(report_words(str(kind), {one.key: answer})).split("; ")
            raw = (f"{one.key}: {answer}", f"{one.key} not known") if one.key not in ("lost", "kept") else ()
            assert not set(words) & set(raw), words
            assert len(words) == (1 if one.key == "injection" else 2), words
