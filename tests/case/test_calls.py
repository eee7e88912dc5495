"""Calls: every attempt, what she read back field by field, and the note of what was said."""

from dataclasses import replace

import pytest

from hourmark.case import events as e
from hourmark.case import orders, rules, sheets, slots
from hourmark.case.calls import HearReadBack, NoteCall, TryCall
from hourmark.case.sheets import told
from tests.case.world import (
    CASE,
    CHECKED,
    HEARD,
    LATER,
    LEAD,
    NURSE,
    PRESCRIBER,
    READ,
    RELEASED,
    SECOND,
    THEATRE,
    World,
    at_stage,
    carton_checks,
    check,
    clinic,
    kinds,
    order,
    plan_case,
    read_back,
    written,
)

WANTED = {
    "agonist day": "Wednesday",
    "agonist time": "21:00",
    "agonist dose": "4 mg",
    "agonist mark": "80",
    "hcg day": "Wednesday",
    "hcg time": "21:00",
    "hcg dose": "1,000 units",
    "hcg water": "2 mL",
    "hcg mark": "20",
    "stop 1": "ganirelix",
    "stop 2": "menotropins",
}
"""What she reads back of K-103, by hand."""


def heard(world: World, **change: str | None) -> HearReadBack:
    """What she read back, with fields said otherwise or not at all."""
    right = read_back(world)
    names = {name.replace(" ", "_"): name for name in WANTED}
    said = dict(right.fields) | {names[name]: words for name, words in change.items()}
    return replace(right, fields=tuple((name, words) for name, words in said.items() if words is not None))


def heard_rightly(world: World, case: str = CASE) -> bool:
    """Whether she has read back the page as it now is."""
    made = world.planned(case).made
    return told(world.case(case), made.rests_on, made.check_word)


def test_every_attempt_to_reach_her_is_on_the_record() -> None:
    world = at_stage("planned")
    for number in range(3):
        entries = world.do(TryCall(CASE, "+1 555 0188", number == 2, "voice mail"), NURSE)
        assert kinds(entries) == ["case/K-103 call-tried"]
    assert [one.event.reached for one in world.case().calls] == [False, False, True]
    assert world.case().calls[0].event == e.CallTried("+1 555 0188", False, "voice mail")


def test_what_she_read_back_stands_beside_what_it_should_be() -> None:
    world = at_stage("checked")
    word = world.planned().made.check_word
    entries = world.do(read_back(world), NURSE, HEARD)
    assert kinds(entries) == ["case/K-103 read-back"]
    found = written(entries, e.ReadBack)
    assert found.fields == tuple(
        e.Said(name, right, right, True) for name, right in (*WANTED.items(), ("check word", word))
    )
    assert (found.on_the_line, found.identified_by) == ("she herself", ("full name", "date of birth"))
    assert (found.check_word, found.old_alarm_deleted) == (word, None)
    assert heard_rightly(world)


def test_letters_and_spaces_may_differ_and_nothing_else() -> None:
    world = at_stage("checked")
    near = heard(world, agonist_day=" wednesday", hcg_dose="1,000  UNITS")
    assert all(one.agreed for one in written(world.do(near, NURSE), e.ReadBack).fields)
    off = heard(world, hcg_dose="1000 units")
    assert [one.name for one in written(world.do(off, NURSE), e.ReadBack).fields if not one.agreed] == ["hcg dose"]


def differs(world: World, **change: str | None) -> list[str]:
    """The fields that do not agree."""
    return [one.name for one in written(world.do(heard(world, **change), NURSE), e.ReadBack).fields if not one.agreed]


@pytest.mark.parametrize("said", ["2ml", "2.0 mL", "2 ml", "2 mL", " 2 ML ", "2mL"])
def test_a_volume_agrees_however_it_is_written(said: str) -> None:
    assert differs(at_stage("checked"), hcg_water=said) == []


@pytest.mark.parametrize("said", ["2", "1 mL", "0.2 mL", "2 mg", "2 units", "20 mL", "2 mL or 1 mL", "", None])
def test_another_volume_or_a_bare_number_does_not(said: str | None) -> None:
    assert differs(at_stage("checked"), hcg_water=said) == ["hcg water"]


@pytest.mark.parametrize("said", ["80 mL", "80.0"])
def test_a_mark_is_no_volume(said: str) -> None:
    assert differs(at_stage("checked"), agonist_mark=said) == ["agonist mark"]


def test_what_she_stops_agrees_in_any_order() -> None:
    world = at_stage("checked")
    turned = heard(world, stop_1="Menotropins", stop_2="ganirelix")
    found = written(world.do(turned, NURSE), e.ReadBack).fields
    assert [(one.name, one.wanted, one.said, one.agreed) for one in found if one.name.startswith("stop")] == [
        ("stop 1", "ganirelix", "ganirelix", True),
        ("stop 2", "menotropins", "Menotropins", True),
    ]


@pytest.mark.parametrize(("change", "wrong"), [
    ({"stop_1": "menotropins"}, ["stop 1"]),
    ({"stop_2": "ganirelix"}, ["stop 2"]),
    ({"stop_1": "menotropins", "stop_2": "cetrorelix"}, ["stop 1"]),
    ({"stop_1": None}, ["stop 1"]),
    ({"stop_1": "", "stop_2": "ganirelix"}, ["stop 2"]),
    ({"stop_1": "keep ganirelix"}, ["stop 1"]),
])  # fmt: skip
def test_what_she_stops_is_all_of_it_and_nothing_else(change: dict[str, str | None], wrong: list[str]) -> None:
    assert differs(at_stage("checked"), **change) == wrong


@pytest.mark.parametrize(("said", "agrees"), [
    ("ganirelix", True),
    ("Ganirelix in the evening", True),
    ("ganirelix in the morning", False),
    ("cetrorelix", False),
    ("in the evening", False),
])  # fmt: skip
def test_an_item_with_more_words_is_named_by_its_medicine(said: str, agrees: bool) -> None:
    world = at_stage("checked")
    world.do(orders.SignOrder(CASE, order() | {"stop": ["ganirelix in the evening", "menotropins"]}), PRESCRIBER)
    assert (differs(world, stop_1=said) == []) is agrees


def test_an_item_is_not_named_by_a_medicine_that_it_leaves_out() -> None:
    world = at_stage("checked")
    world.do(orders.SignOrder(CASE, order() | {"stop": ["all but ganirelix", "menotropins"]}), PRESCRIBER)
    assert differs(world, stop_1="ganirelix") == ["stop 1"]


def test_an_item_with_two_medicines_is_not_named_by_one() -> None:
    world = at_stage("checked")
    world.do(orders.SignOrder(CASE, order() | {"stop": ["ganirelix and menotropins", "letrozole"]}), PRESCRIBER)
    assert differs(world, stop_1="ganirelix", stop_2="letrozole") == ["stop 1"]


@pytest.mark.parametrize("said", ["Thursday", "8", "", None], ids=["other day", "other mark", "silence", "not asked"])
def test_what_was_said_wrongly_or_not_at_all_keeps_the_sheet_back(said: str | None) -> None:
    world = at_stage("checked")
    name = "agonist day" if said == "Thursday" else "hcg mark"
    found = written(world.do(heard(world, **{name.replace(" ", "_"): said}), NURSE, HEARD), e.ReadBack)
    assert [(one.name, one.said) for one in found.fields if not one.agreed] == [(name, said or "")]
    refused = world.refused(sheets.Release(CASE), NURSE)
    assert [finding.code for finding in refused.findings] == ["release-untold"]
    assert refused.findings[0].what == f"She read back something else: {name}."


def test_another_pages_check_words_are_noticed() -> None:
    world = at_stage("checked")
    found = written(world.do(replace(read_back(world), check_word="other words"), NURSE), e.ReadBack)
    assert [(one.name, one.said) for one in found.fields if not one.agreed] == [("check word", "other words")]
    assert world.codes(sheets.Release(CASE), NURSE) == ["release-untold"]


def test_the_last_read_back_counts() -> None:
    world = at_stage("checked")
    world.do(heard(world, hcg_mark="2"), NURSE)
    world.do(read_back(world), NURSE)
    assert heard_rightly(world)
    world.do(heard(world, hcg_mark="200"), NURSE)
    assert not heard_rightly(world)


def test_a_read_back_of_the_case_as_it_was_counts_no_longer() -> None:
    world = at_stage("heard")
    world.do(orders.SignOrder(CASE, order() | {"largest_gap": "10 min"}), PRESCRIBER)
    refused = world.refused(sheets.Release(CASE, unchecked_why="nobody is here"), PRESCRIBER)
    assert [finding.code for finding in refused.findings] == ["release-untold"]
    assert refused.findings[0].what == "She has not read this page back."


def test_a_read_back_counts_for_the_very_page_that_was_heard() -> None:
    world = at_stage("heard")
    made = world.planned().made
    assert told(world.case(), made.rests_on, made.check_word)
    assert not told(world.case(), made.rests_on, "other words")
    assert not told(world.case(), made.rests_on | {"slot": "0" * 64}, made.check_word)


def test_a_box_read_after_the_call_leaves_the_page_as_she_heard_it() -> None:
    world = at_stage("opened", "K-104")
    plan_case(world, "K-104", cartons=False)
    world.do(check(world, "K-104"), SECOND, CHECKED)
    changed_at = world.case("K-104").changed_at
    before = world.planned("K-104")
    world.do(read_back(world, "K-104"), NURSE, HEARD)
    assert world.codes(sheets.Release("K-104"), NURSE, HEARD) == ["rests-on-unread"]
    for minute, one in enumerate(carton_checks("K-104"), 32):
        world.do(one, NURSE, f"2026-11-18T20:{minute}:00Z")
    assert world.case("K-104").changed_at == changed_at == READ
    after = world.planned("K-104", RELEASED)
    assert (after.sheet, after.made.check_word) == (before.sheet, before.made.check_word)
    assert heard_rightly(world, "K-104")
    issued = written(world.do(sheets.Release("K-104"), NURSE, RELEASED), e.SheetIssued)
    heard_back = world.case("K-104").read_back
    assert heard_back is not None
    assert issued.check_word == heard_back.event.check_word == before.made.check_word


def test_rules_signed_anew_after_the_call_make_another_page_which_she_has_not_heard() -> None:
    world = at_stage("heard")
    before = world.planned().made
    table = clinic()
    table["rules"]["keep_years"] = 30
    world.do(rules.SignRules(table), LEAD, LATER)
    after = world.planned().made
    assert after.rests_on == before.rests_on
    assert after.check_word != before.check_word
    refused = world.refused(sheets.Release(CASE), NURSE)
    assert [finding.code for finding in refused.findings] == ["release-untold"]
    assert refused.findings[0].what == "She has not read this page back."
    world.do(read_back(world), NURSE)
    assert written(world.do(sheets.Release(CASE), NURSE), e.SheetIssued).check_word == after.check_word


def test_what_she_said_wrongly_of_another_page_is_not_held_against_this_one() -> None:
    world, table = at_stage("checked"), clinic()
    world.do(heard(world, hcg_mark="2"), NURSE, HEARD)
    assert world.refused(sheets.Release(CASE), NURSE).findings[0].what == "She read back something else: hcg mark."
    table["rules"]["keep_years"] = 30
    world.do(rules.SignRules(table), LEAD, LATER)
    assert world.refused(sheets.Release(CASE), NURSE).findings[0].what == "She has not read this page back."


@pytest.mark.parametrize(
    "identified_by",
    [("full name", "full name"), ("full name", " Full Name "), ("full name", ""), (" ", "date of birth"), ("", "")],
)
def test_two_different_things_show_that_it_is_she(identified_by: tuple[str, str]) -> None:
    world = at_stage("checked")
    assert world.codes(replace(read_back(world), identified_by=identified_by), NURSE) == ["call-identity"]


@pytest.mark.parametrize("deleted", [None, False])
@pytest.mark.parametrize("another_is_out", [True, False])
def test_the_alarm_of_an_earlier_page_is_deleted_on_the_call(another_is_out: bool, deleted: bool | None) -> None:
    world = at_stage("released")
    world.do(sheets.VoidSheet(CASE, 1, "a smudge"), NURSE)
    if another_is_out:
        world.do(sheets.Release(CASE, call_waived_why="shown on the ward"), NURSE)
    command = replace(read_back(world), old_alarm_deleted=deleted)
    assert world.codes(command, NURSE) == ["old-alarm"]
    found = written(world.do(replace(command, old_alarm_deleted=True), NURSE), e.ReadBack)
    assert found.old_alarm_deleted is True


def test_a_field_that_her_page_does_not_have_is_refused_with_those_that_it_has() -> None:
    world = at_stage("checked")
    right = read_back(world)
    refused = world.refused(replace(right, fields=(*right.fields, ("third mark", "5"))), NURSE)
    assert [finding.code for finding in refused.findings] == ["read-back-field"]
    assert "third mark" in refused.findings[0].what
    assert all(name in refused.findings[0].do for name in WANTED)


def test_a_case_that_is_stopped_has_nothing_to_read_back() -> None:
    world = at_stage("checked")
    command = read_back(world)
    world.do(slots.FreeSlot("2026-11-20", "s3", "cancelled"), THEATRE)
    refused = world.refused(command, NURSE)
    assert [finding.code for finding in refused.findings] == ["read-back-field"]
    assert "nothing, as the case has no plan" in refused.findings[0].do


def test_every_reason_against_a_read_back_is_given_at_once() -> None:
    world = at_stage("released")
    world.do(sheets.VoidSheet(CASE, 1, "a smudge"), NURSE)
    command = HearReadBack(CASE, "a man", ("", ""), (("nurse's name", "Kowal"),), "", None)
    assert world.codes(command, NURSE) == ["call-identity", "old-alarm", "read-back-field"]


def test_somebody_is_on_the_line() -> None:
    world = at_stage("checked")
    refused = world.refused(replace(read_back(world), on_the_line=" "), NURSE)
    assert [(one.code, one.where) for one in refused.findings] == [("field-blank", "on_the_line")]


def test_a_case_without_order_and_kit_has_no_page_to_read_back() -> None:
    command = HearReadBack(CASE, "she", ("name", "birth"), (), "", None)
    assert at_stage("opened").codes(command, NURSE) == ["case-incomplete"]


def test_the_note_of_a_call_is_kept_word_for_word() -> None:
    world = at_stage("released")
    note = NoteCall(CASE, "her sister", "+1 555 0188", "she feels sick", "ring again at nine", "nobody", "we ring")
    entries = world.do(note, NURSE, LATER)
    assert kinds(entries) == ["case/K-103 call-noted"]
    assert written(entries, e.CallNoted) == e.CallNoted(
        "her sister", "+1 555 0188", "she feels sick", "ring again at nine", "nobody", "we ring"
    )
    assert [(one.actor, one.at) for one in world.case().notes] == [(NURSE.name, LATER)]


def test_ringing_and_noting_void_no_sheet() -> None:
    world = at_stage("released")
    sheet = world.case().sheet
    world.do(TryCall(CASE, "+1 555 0188", True, "she answered"), NURSE)
    world.do(read_back(world), NURSE)
    assert world.case().sheet == sheet is not None
