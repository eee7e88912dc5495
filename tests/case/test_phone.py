"""Her phone: links lead where they should and no longer than that; what she finds and asks for is on the record and on the board."""

from collections.abc import Callable

import pytest

from hourmark.case import events as e
from hourmark.case import opening, orders, sheets, slots
from hourmark.case.asked import Role
from hourmark.case.phone import AskHelp, GiveHelp, GiveLink, LinkKind, ReadBoxes, RevokeLink, link_leads
from hourmark.desk import Command, Done
from hourmark.desk.watch import WATCH
from tests.case.test_night import AT_FOUR_PAST
from tests.case.world import (
    CASE,
    HEARD,
    LATER,
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
    kinds,
    order,
    read_back,
    slot,
    written,
)

HERSELF = Person("she herself", Role.PATIENT)
LOOP = Person(WATCH, Role.WATCH)
EVERYBODY = [NURSE, PRESCRIBER, PHARMACIST, THEATRE, LEAD, HERSELF, LOOP]

EXPIRES = "2026-11-20T15:00:00Z"
TO_PAGE = GiveLink(CASE, "page", EXPIRES)
TO_PRACTICE = GiveLink(CASE, "practice", EXPIRES)
STUCK = AskHelp(CASE, "hcg", "drawing up", "I am stuck")
DIFFERS = ReadBoxes(CASE, "hcg", 1, ("the syringe", "the needles"))
ALIKE = ReadBoxes(CASE, "hcg", 1, ())


def leads(world: World, *numbers: int, now: str = LATER) -> list[bool]:
    return [link_leads(world.case(), number, now) for number in numbers]


def on_board(world: World, now: str = LATER) -> list[tuple[str, str, str | None, str]]:
    return [(row.injection, row.state, row.since, row.why) for row in world.desk.states().board(now)]


def close(world: World) -> None:
    world.do(opening.CloseCase(CASE, "she withdrew"), NURSE)


# Who may do what

ACTS: dict[str, tuple[Command, set[Role]]] = {
    "give a link": (TO_PAGE, {Role.NURSE, Role.PRESCRIBER}),
    "give a link to practice": (TO_PRACTICE, {Role.NURSE, Role.PRESCRIBER}),
    "revoke a link": (RevokeLink(CASE, 1, "it was forwarded"), {Role.NURSE, Role.PRESCRIBER}),
    "read boxes": (ALIKE, {Role.PATIENT}),
    "ask for a call": (STUCK, {Role.PATIENT}),
    "answer a call": (GiveHelp(CASE, 0, "talked through it"), {Role.NURSE, Role.PRESCRIBER, Role.PHARMACIST}),
}


def ready(command: Command) -> tuple[World, Command]:
    """A released page, with a link and a call to answer."""
    world = at_stage("released")
    world.do(TO_PRACTICE, NURSE)
    if isinstance(command, GiveHelp):
        world.do(STUCK, HERSELF)
        return world, GiveHelp(CASE, world.case().waiting[0].seq, command.how)
    return world, command


@pytest.mark.parametrize("who", EVERYBODY, ids=lambda who: who.role)
@pytest.mark.parametrize("act", ACTS)
def test_an_act_of_the_phone_is_for_its_roles_and_for_no_other(act: str, who: Person) -> None:
    command, roles = ACTS[act]
    world, command = ready(command)
    if who.role in roles:
        assert world.do(command, who)
    else:
        assert world.codes(command, who) == ["act-role"]


def _asker(command: Command) -> Person:
    return HERSELF if isinstance(command, ReadBoxes | AskHelp) else NURSE


@pytest.mark.parametrize("act", ACTS)
def test_nothing_is_done_on_a_closed_case(act: str) -> None:
    world = at_stage("released")
    world.do(TO_PRACTICE, NURSE)
    close(world)
    assert world.codes(ACTS[act][0], _asker(ACTS[act][0])) == ["case-closed"]


@pytest.mark.parametrize(
    "command",
    [
        GiveLink("K-999", "practice", EXPIRES),
        RevokeLink("K-999", 1, "x"),
        ReadBoxes("K-999", "hcg", 1, ()),
        AskHelp("K-999", "hcg", "mixing", "I am stuck"),
        GiveHelp("K-999", 1, "x"),
    ],
    ids=lambda command: type(command).__name__,
)
def test_nothing_is_done_for_a_case_that_nobody_opened(command: Command) -> None:
    assert at_stage("released").codes(command, _asker(command)) == ["case-unknown"]


# Links


def test_a_link_to_the_page_leads_to_the_page_that_holds() -> None:
    world = at_stage("released")
    entries = world.do(TO_PAGE, NURSE, LATER)
    assert kinds(entries) == ["case/K-103 link-given"]
    assert written(entries, e.LinkGiven) == e.LinkGiven(1, "page", 1, EXPIRES)
    assert leads(world, 1) == [True]


@pytest.mark.parametrize("stage", ["opened", "planned", "checked", "heard"])
def test_before_the_release_there_is_a_link_to_practice_only(stage: str) -> None:
    world = at_stage(stage)  # type: ignore[arg-type]
    assert world.codes(TO_PAGE, NURSE) == ["link-no-sheet"]
    entries = world.do(TO_PRACTICE, NURSE)
    assert written(entries, e.LinkGiven) == e.LinkGiven(1, "practice", None, EXPIRES)
    assert leads(world, 1) == [True]


def test_a_new_link_takes_the_place_of_the_earlier_one_of_its_kind() -> None:
    world = at_stage("released")
    world.do(TO_PAGE, NURSE)
    world.do(TO_PRACTICE, NURSE)
    assert leads(world, 1, 2) == [True, True]
    entries = world.do(TO_PAGE, NURSE)
    assert kinds(entries) == ["case/K-103 link-revoked", "case/K-103 link-given"]
    assert written(entries, e.LinkRevoked) == e.LinkRevoked(1, "another took its place")
    assert written(entries, e.LinkGiven).number == 3
    assert leads(world, 1, 2, 3) == [False, True, True]
    assert kinds(world.do(TO_PAGE, NURSE)) == ["case/K-103 link-revoked", "case/K-103 link-given"]
    assert leads(world, 1, 2, 3, 4) == [False, True, False, True]


def test_a_revoked_link_leads_nowhere_and_is_revoked_once() -> None:
    world = at_stage("released")
    world.do(TO_PAGE, NURSE)
    revoke = RevokeLink(CASE, 1, "it was forwarded")
    entries = world.do(revoke, NURSE)
    assert kinds(entries) == ["case/K-103 link-revoked"]
    assert written(entries, e.LinkRevoked) == e.LinkRevoked(1, "it was forwarded")
    assert leads(world, 1) == [False]
    assert world.codes(revoke, NURSE) == ["nothing-changed"]
    assert world.codes(RevokeLink(CASE, 2, "x"), NURSE) == ["nothing-changed"]
    assert kinds(world.do(TO_PAGE, NURSE)) == ["case/K-103 link-given"]


@pytest.mark.parametrize("number", [0, 2, -1])
def test_a_link_that_was_never_given_leads_nowhere(number: int) -> None:
    world = at_stage("released")
    world.do(TO_PAGE, NURSE)
    assert leads(world, number) == [False]


@pytest.mark.parametrize(
    ("now", "there"),
    [("2026-11-20T14:59:59Z", True), ("2026-11-20T15:00:00Z", False), ("2026-11-20T15:00:01Z", False)],
)
@pytest.mark.parametrize("kind", ["page", "practice"])
def test_a_link_leads_until_it_expires_to_the_second(kind: LinkKind, now: str, there: bool) -> None:
    world = at_stage("released")
    world.do(GiveLink(CASE, kind, EXPIRES), NURSE)
    assert leads(world, 1, now=now) == [there]


VOIDING: dict[str, tuple[Command, Person]] = {
    "by hand": (sheets.VoidSheet(CASE, 1, "a smudge"), NURSE),
    "by another order": (orders.SignOrder(CASE, order() | {"stop": ["follitropin"]}), PRESCRIBER),
    "by another slot": (slots.PlaceSlot(slot() | {"at": "2026-11-20 09:45"}, "theatre asked"), THEATRE),
}


@pytest.mark.parametrize("how", VOIDING)
def test_a_link_to_a_page_that_is_void_leads_nowhere(how: str) -> None:
    world = at_stage("released")
    world.do(TO_PAGE, NURSE)
    world.do(TO_PRACTICE, NURSE)
    world.do(*VOIDING[how])
    assert leads(world, 1, 2) == [False, True]
    assert world.codes(TO_PAGE, NURSE) == ["link-no-sheet"]


def test_the_next_page_needs_a_link_of_its_own() -> None:
    world = at_stage("released")
    world.do(TO_PAGE, NURSE)
    world.do(*VOIDING["by another order"])
    world.do(check(world), SECOND)
    world.do(read_back(world), NURSE)
    world.do(sheets.Release(CASE), NURSE)
    assert leads(world, 1) == [False]
    assert written(world.do(TO_PAGE, NURSE), e.LinkGiven) == e.LinkGiven(2, "page", 2, EXPIRES)
    assert leads(world, 1, 2) == [False, True]


def test_a_closed_case_has_no_link_that_leads() -> None:
    world = at_stage("released")
    world.do(TO_PAGE, NURSE)
    world.do(TO_PRACTICE, NURSE)
    close(world)
    assert leads(world, 1, 2) == [False, False]


def test_nothing_in_the_record_of_a_link_is_a_secret() -> None:
    world = at_stage("released")
    (entry,) = world.do(TO_PAGE, NURSE)
    assert entry.body == b'{"expires":"2026-11-20T15:00:00Z","kind":"page","number":1,"sheet":1}'


# What she finds


def test_boxes_that_are_as_on_her_page_say_that_she_is_mixing() -> None:
    world = at_stage("released")
    entries = world.do(ALIKE, HERSELF, LATER)
    assert kinds(entries) == ["case/K-103 boxes-read"]
    assert written(entries, e.BoxesRead) == e.BoxesRead("hcg", 1, ())
    assert on_board(world) == [("agonist", "told", HEARD, ""), ("hcg", "mixing", LATER, "")]


def test_boxes_that_differ_have_her_wait_for_a_call() -> None:
    world = at_stage("released")
    entries = world.do(DIFFERS, HERSELF, LATER)
    assert kinds(entries) == ["case/K-103 boxes-read", "case/K-103 help-asked"]
    about = "not the same as on her page: the syringe, the needles"
    assert written(entries, e.HelpAsked) == e.HelpAsked("hcg", "the boxes", about)
    waits = ("hcg", "problem", LATER, f"she asks for a call, the boxes: {about}")
    assert on_board(world) == [waits, ("agonist", "told", HEARD, "")]
    world.do(ALIKE, HERSELF, LATER)
    assert on_board(world)[0] == waits, "that they are there now answers no call"


def test_the_same_difference_found_again_asks_for_one_call() -> None:
    world = at_stage("released")
    world.do(DIFFERS, HERSELF)
    assert kinds(world.do(DIFFERS, HERSELF)) == ["case/K-103 boxes-read"]
    world.do(ReadBoxes(CASE, "agonist", 1, DIFFERS.differs), HERSELF)
    assert [one.event.injection for one in world.case().waiting] == ["hcg", "agonist"]


def test_boxes_that_differ_once_she_had_begun_say_no_more_that_she_is_mixing() -> None:
    world = at_stage("released")
    world.do(ALIKE, HERSELF)
    world.do(DIFFERS, HERSELF)
    world.do(GiveHelp(CASE, world.case().waiting[0].seq, "put it aside"), NURSE)
    assert [state for _, state, _, _ in on_board(world)] == ["told", "told"]


def test_boxes_read_by_another_page_say_nothing_of_this_one() -> None:
    world = at_stage("released")
    world.do(ReadBoxes(CASE, "hcg", 2, ()), HERSELF)
    world.do(ReadBoxes(CASE, "third", 1, ()), HERSELF)
    assert [state for _, state, _, _ in on_board(world)] == ["told", "told"]


# What she asks for


def test_a_call_that_she_asks_for_is_on_the_board_until_somebody_answers_it() -> None:
    world = at_stage("released")
    entries = world.do(STUCK, HERSELF, LATER)
    assert kinds(entries) == ["case/K-103 help-asked"]
    assert written(entries, e.HelpAsked) == e.HelpAsked("hcg", "drawing up", "I am stuck")
    assert on_board(world)[0] == ("hcg", "problem", LATER, "she asks for a call, drawing up: I am stuck")
    (waits,) = world.case().waiting
    answered = world.do(GiveHelp(CASE, waits.seq, "talked through it"), NURSE)
    assert kinds(answered) == ["case/K-103 help-given"]
    assert written(answered, e.HelpGiven) == e.HelpGiven(waits.seq, "talked through it")
    assert world.case().waiting == ()
    assert [state for _, state, _, _ in on_board(world)] == ["told", "told"]


def test_asking_again_while_she_waits_adds_nothing_and_afterwards_it_is_a_new_call() -> None:
    world = at_stage("released")
    world.do(STUCK, HERSELF)
    before = world.everything()
    again = world.ask(STUCK, HERSELF)
    assert isinstance(again, Done)
    assert (again.entries, world.everything()) == ((), before)
    world.do(AskHelp(CASE, "hcg", "mixing", "I am stuck"), HERSELF)
    assert len(world.case().waiting) == 2
    for one in world.case().waiting:
        world.do(GiveHelp(CASE, one.seq, "talked through it"), NURSE)
    assert kinds(world.do(STUCK, HERSELF)) == ["case/K-103 help-asked"]


def test_only_a_call_that_waits_is_answered() -> None:
    world = at_stage("released")
    world.do(STUCK, HERSELF)
    seq = world.case().waiting[0].seq
    for entry in (0, 1, seq - 1, seq + 1):
        assert world.codes(GiveHelp(CASE, entry, "x"), NURSE) == ["nothing-changed"]
    world.do(GiveHelp(CASE, seq, "x"), NURSE)
    assert world.codes(GiveHelp(CASE, seq, "x"), NURSE) == ["nothing-changed"]


def test_a_call_about_the_whole_night_is_on_every_row() -> None:
    world = at_stage("released")
    world.do(AskHelp(CASE, None, "practice", "two misses"), HERSELF, LATER)
    why = "she asks for a call, practice: two misses"
    assert on_board(world) == [(name, "problem", LATER, why) for name in ("agonist", "hcg")]


SHOWN: dict[str, tuple[Callable[[], World], AskHelp]] = {
    "before there is a page": (lambda: at_stage("planned"), AskHelp(CASE, None, "practice", "two misses")),
    "of something that is on no page": (lambda: at_stage("released"), AskHelp(CASE, "third", "mixing", "I am stuck")),
}


@pytest.mark.parametrize("which", SHOWN)
def test_no_call_that_she_asks_for_is_left_off_the_board(which: str) -> None:
    make, asks = SHOWN[which]
    world = make()
    world.do(asks, HERSELF, LATER)
    problems = [(since, why) for _, state, since, why in on_board(world) if state == "problem"]
    assert problems == [(LATER, f"she asks for a call, {asks.where}: {asks.about}")]


def test_a_case_does_not_leave_the_board_while_she_waits_for_a_call() -> None:
    world = at_stage("released")
    world.do(STUCK, HERSELF)
    assert world.codes(opening.CloseCase(CASE, "over"), NURSE) == ["case-waiting"]
    world.do(GiveHelp(CASE, world.case().waiting[0].seq, "talked through it"), NURSE)
    close(world)


def test_a_report_does_not_end_a_call_and_a_call_does_not_end_a_report() -> None:
    world = at_stage("released")
    world.do(STUCK, HERSELF)
    world.do(ReadBoxes(CASE, "agonist", 1, ()), HERSELF)
    world.do(AT_FOUR_PAST, HERSELF, "2026-11-19T03:10:00Z")
    assert [(name, state) for name, state, _, _ in on_board(world, "2026-11-19T03:10:00Z")] == [
        ("hcg", "problem"),
        ("agonist", "given"),
    ]


def test_nothing_that_she_does_on_her_phone_changes_her_page() -> None:
    world = at_stage("released")
    before = world.case()
    world.do(TO_PAGE, NURSE)
    for one in (ALIKE, DIFFERS, STUCK):
        world.do(one, HERSELF)
    after = world.case()
    assert after.sheet is not None
    assert after.sheet == before.sheet
    assert (after.changed_at, after.opened_by, after.confirmations) == (before.changed_at, before.opened_by, ())
    assert world.messages() == []
    assert after.sheet.at == RELEASED
