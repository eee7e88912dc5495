"""Sheets: two people and her own voice stand behind a released page, and the page is for ever what was printed then."""

import hashlib
import re
from dataclasses import replace

import icalendar
import pypdfium2
import pytest

from hourmark.case import calls, checks, kits, opening, orders, rules, slots
from hourmark.case import events as e
from hourmark.case.rests import rests_on
from hourmark.case.sheets import Release, VoidSheet, release
from hourmark.desk.made import Planned, plan_of, printed
from hourmark.ledger import Entry, Message, erase, verify
from tests.case.world import (
    CASE,
    CHECKED,
    DUE,
    HEARD,
    LATER,
    LEAD,
    NIGHT,
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
    details,
    kinds,
    kit,
    open_case,
    order,
    plan_case,
    read_back,
    release_case,
    slot,
    written,
    wrongly,
)

ALONE = Release(CASE, unchecked_why="nobody else is in tonight")
PAGES = ["sheet.txt", "sheet.pdf", "pictures.pdf", "calendar.ics", "walk.json"]


def issued(entries: tuple[Entry, ...]) -> e.SheetIssued:
    return written(entries, e.SheetIssued)


def moved(world: World, minutes: str = "45") -> None:
    """The slot moves, and whatever rested on it is void."""
    world.do(slots.PlaceSlot(slot() | {"at": f"2026-11-20 09:{minutes}"}, "a long case before"), THEATRE, LATER)


def paper_words(pdf: bytes) -> str:
    document = pypdfium2.PdfDocument(pdf)
    text = "\n".join(page.get_textpage().get_text_range() for page in document)
    document.close()
    return text.replace("\u2060", "").replace("\xa0", " ")


def test_a_release_writes_the_sheet_and_every_page_of_it() -> None:
    world = at_stage("heard")
    entries = world.do(Release(CASE), NURSE, RELEASED)
    assert kinds(entries) == ["case/K-103 sheet-issued", *["pages/K-103 page"] * len(PAGES)]
    sheet = issued(entries)
    assert (sheet.version, sheet.role, sheet.checked_by) == (1, "nurse", SECOND.name)
    assert (sheet.unchecked_why, sheet.call_waived_why, sheet.answered) == (None, None, ())
    assert [(page.name, page.seq) for page in sheet.pages] == [(name, place) for place, name in enumerate(PAGES, 1)]
    for page, entry in zip(sheet.pages, entries[1:], strict=True):
        assert entry.body is not None
        assert hashlib.sha256(entry.body).hexdigest() == page.sha256
    assert world.messages() == []


def test_the_sheet_says_what_is_due_when_and_within_which_window() -> None:
    agonist, hcg = issued(at_stage("heard").do(Release(CASE), NURSE, RELEASED)).dues
    assert (agonist.injection, agonist.medicine, agonist.dose, agonist.route) == (
        "agonist",
        "leuprolide acetate",
        "4 mg",
        "subcutaneous",
    )
    assert (agonist.at, agonist.zone) == (DUE, "America/Chicago")
    assert agonist.take == "mark 80 (0.8 mL)"
    assert "9:00 pm (21:00), the night of Wednesday into Thursday" in agonist.said
    # The order allows 37 h to 35 h before 15:00 UTC on the 20th; the clinic signed 3 h to tell and 20 min to mix.
    assert (agonist.earliest, agonist.latest) == ("2026-11-19T02:00:00Z", "2026-11-19T04:00:00Z")
    assert agonist.leads == hcg.leads == (35 * 60, 37 * 60)
    assert (agonist.tell_by, agonist.mix_at) == ("2026-11-19T00:00:00Z", "2026-11-19T02:40:00Z")
    assert (hcg.medicine, hcg.dose, hcg.take) == (
        "chorionic gonadotropin",
        "1,000 units",
        "mark 20 (0.2 mL) of 2 mL mix",
    )
    assert (hcg.at, hcg.earliest, hcg.latest) == (agonist.at, agonist.earliest, agonist.latest)


def test_where_there_is_no_slot_the_window_is_the_orders_own_clock_times() -> None:
    world = at_stage("planned", "K-110")
    release_case(world, "K-110")
    (due,) = world.case("K-110").sheets[0].event.dues
    # 21:30 between 20:30 and 22:30 in Chicago, six hours behind UTC (IANA time-zone database).
    assert (due.earliest, due.at, due.latest) == (
        "2026-11-19T02:30:00Z",
        "2026-11-19T03:30:00Z",
        "2026-11-19T04:30:00Z",
    )
    assert due.leads is None


@pytest.mark.parametrize("who", [PHARMACIST, THEATRE, LEAD], ids=lambda who: who.role)
def test_a_nurse_or_the_prescriber_releases_and_nobody_else(who: Person) -> None:
    assert at_stage("heard").codes(Release(CASE), who) == ["release-role"]


def test_the_prescriber_releases_after_a_check_like_a_nurse() -> None:
    sheet = issued(at_stage("heard").do(Release(CASE), PRESCRIBER))
    assert (sheet.role, sheet.checked_by, sheet.unchecked_why) == ("prescriber", SECOND.name, None)


def test_without_a_check_nobody_releases() -> None:
    world = at_stage("planned")
    world.do(read_back(world), NURSE)
    for who in (NURSE, PRESCRIBER):
        refused = world.refused(Release(CASE), who)
        assert [finding.code for finding in refused.findings] == ["release-unchecked"]
        assert "none of the case as it now is" in refused.findings[0].what


def test_no_reason_lets_a_nurse_release_without_a_check() -> None:
    world = at_stage("planned")
    world.do(read_back(world), NURSE)
    assert world.codes(ALONE, NURSE) == ["release-unchecked"]
    assert world.codes(replace(ALONE, unchecked_why=""), PRESCRIBER) == ["release-unchecked"]


def test_the_prescriber_alone_releases_with_a_reason_and_the_page_says_so() -> None:
    world = at_stage("planned")
    world.do(read_back(world), NURSE, HEARD)
    sheet = issued(world.do(ALONE, PRESCRIBER, RELEASED))
    assert (sheet.checked_by, sheet.unchecked_why, sheet.role) == (None, "nobody else is in tonight", "prescriber")
    pages = world.desk.pages(CASE, 1)
    for words in (pages["sheet.txt"].decode(), paper_words(pages["sheet.pdf"])):
        assert "Not second-checked: the prescriber released it alone." in " ".join(words.split())
    assert "nobody else is in tonight" not in pages["sheet.txt"].decode()


def test_whoever_made_the_check_does_not_release() -> None:
    assert at_stage("heard").codes(Release(CASE), SECOND) == ["release-by-checker"]


@pytest.mark.parametrize("name", ["l. ortiz", "L.  Ortiz", " L. ORTIZ "])
def test_whoever_made_the_check_is_known_by_her_name_however_it_is_written(name: str) -> None:
    assert at_stage("heard").codes(Release(CASE), Person(name, SECOND.role)) == ["release-by-checker"]


def test_a_check_that_differs_is_no_check_even_for_the_prescriber() -> None:
    world = at_stage("planned")
    world.do(wrongly(check(world), 0, at="2026-11-19T04:00:00Z"), SECOND)
    world.do(read_back(world), NURSE)
    refused = world.refused(Release(CASE), PRESCRIBER)
    assert [finding.code for finding in refused.findings] == ["release-unchecked"]
    assert "agonist: the minute differs" in refused.findings[0].what


def test_without_a_read_back_the_sheet_stays() -> None:
    refused = at_stage("checked").refused(Release(CASE), NURSE)
    assert [finding.code for finding in refused.findings] == ["release-untold"]
    assert refused.findings[0].what == "She has not read this page back."


def test_the_call_can_be_gone_without_for_a_reason_that_is_kept() -> None:
    world = at_stage("checked")
    assert world.codes(Release(CASE, call_waived_why=""), NURSE) == ["release-untold"]
    sheet = issued(world.do(Release(CASE, call_waived_why="she is on the ward and was shown it"), NURSE))
    assert sheet.call_waived_why == "she is on the ward and was shown it"


def test_every_reason_against_a_release_is_given_at_once() -> None:
    world = at_stage("opened")
    plan_case(world, CASE, cartons=False)
    short = kit() | {"syringes": [{"syringe": "mL-10-0.5", "count": 1}]}
    world.do(kits.ReadKit(CASE, short, "seen"), NURSE)
    world.do(slots.FreeSlot("2026-11-20", "s3", "cancelled"), THEATRE)
    codes = world.codes(Release(CASE), PHARMACIST)
    assert {"slot-missing", "release-role", "release-unchecked", "release-untold"} < set(codes)
    assert codes[-3:] == ["release-role", "release-unchecked", "release-untold"]
    assert codes.count("slot-missing") == 2


def test_a_checker_who_was_wrong_about_her_is_told_everything_at_once() -> None:
    world = at_stage("checked")
    world.do(replace(read_back(world), check_word="other words"), NURSE)
    refused = world.refused(Release(CASE), SECOND)
    assert [finding.code for finding in refused.findings] == ["release-by-checker", "release-untold"]
    assert refused.findings[1].what == "She read back something else: check word."


def test_a_case_without_order_or_kit_is_not_released() -> None:
    assert at_stage("opened").codes(Release(CASE), NURSE) == ["case-incomplete"]


def test_a_question_that_the_plan_leaves_open_is_answered_first_and_the_answer_kept() -> None:
    world = at_stage("heard")
    refused = world.refused(Release(CASE), NURSE, NIGHT)
    assert [finding.code for finding in refused.findings] == ["release-question-open"]
    assert "injection-past" in refused.findings[0].what
    asked = "Dr. L. Aumont: not yet injected, go ahead now"
    for said in ("", "  "):
        assert world.codes(Release(CASE, answered=(("injection-past", said),)), NURSE, NIGHT) == [
            "release-question-open"
        ]
    other = Release(CASE, answered=(("slot-past", asked),))
    assert world.codes(other, NURSE, NIGHT) == ["release-question-open"]
    both = (("slot-past", "nobody asked this"), ("injection-past", asked))
    sheet = issued(world.do(Release(CASE, answered=both), NURSE, NIGHT))
    assert sheet.answered == (("injection-past", asked),)


def test_an_answer_to_what_nobody_asked_is_not_kept() -> None:
    sheet = issued(at_stage("heard").do(Release(CASE, answered=(("injection-past", "go ahead"),)), NURSE, RELEASED))
    assert sheet.answered == ()


def test_a_sheet_that_holds_is_not_released_again() -> None:
    assert at_stage("released").codes(Release(CASE), NURSE) == ["nothing-changed"]


def test_a_translation_that_nobody_signed_keeps_the_sheet_back() -> None:
    world = at_stage("opened")
    plan_case(world, CASE)
    world.do(opening.ChangeDetails(CASE, details() | {"language": "es"}, "she reads Spanish"), NURSE)
    world.do(check(world), SECOND)
    world.do(read_back(world), NURSE)
    assert world.codes(Release(CASE), NURSE) == ["language-unsigned"]
    table = clinic()
    table["rules"]["languages"] = ["es"]
    world.do(rules.SignRules(table), LEAD)
    world.do(check(world), SECOND)
    world.do(read_back(world), NURSE)
    sheet = issued(world.do(Release(CASE), NURSE))
    assert "rules.languages.es" in sheet.rests_on
    text = world.desk.pages(CASE, 1)["sheet.txt"].decode()
    assert "DRAFT" not in text
    assert "BORRADOR" not in text
    assert "Ponga" in text or "Inyecte" in text


def test_a_sheet_is_voided_by_hand_with_a_reason() -> None:
    world = at_stage("released")
    entries = world.do(VoidSheet(CASE, 1, "handed to another person"), NURSE)
    assert kinds(entries) == ["case/K-103 sheet-voided"]
    assert written(entries, e.SheetVoided) == e.SheetVoided(1, (), "handed to another person")
    assert world.case().sheet is None
    (queued,) = world.store.queued()
    assert (queued.message.kind, queued.message.to) == ("call-owed", CASE)
    assert queued.message.text == "Sheet 1 is void: handed to another person."
    assert world.codes(VoidSheet(CASE, 1, "again"), NURSE) == ["nothing-changed"]


@pytest.mark.parametrize("version", [0, 2])
def test_only_the_sheet_that_holds_is_voided(version: int) -> None:
    assert at_stage("released").codes(VoidSheet(CASE, version, "x"), NURSE) == ["nothing-changed"]


def test_without_a_sheet_there_is_none_to_void() -> None:
    assert at_stage("heard").codes(VoidSheet(CASE, 1, "x"), NURSE) == ["nothing-changed"]


def test_a_sheet_voided_by_hand_can_be_released_again_as_the_next_version() -> None:
    world = at_stage("released")
    world.do(VoidSheet(CASE, 1, "a smudge"), NURSE)
    world.do(read_back(world), NURSE)
    entries = world.do(Release(CASE), NURSE)
    assert issued(entries).version == 2
    assert [page.seq for page in issued(entries).pages] == [6, 7, 8, 9, 10]
    assert "You have an older page." in world.desk.pages(CASE, 2)["sheet.txt"].decode()


def test_a_release_over_a_sheet_that_holds_voids_it_first() -> None:
    """No act through the desk changes what a sheet rests on without voiding it, so the act is asked directly."""
    world = at_stage("released")
    made = world.planned().made
    other = replace(made, rests_on=made.rests_on | {"kit": "0" * 64})
    state = world.case()
    assert state.check is not None
    state = replace(state, check=replace(state.check, event=replace(state.check.event, rests_on=other.rests_on)))
    answer = release(state, Release(CASE, call_waived_why="shown on the ward"), NURSE.at(LATER), other)
    assert isinstance(answer, tuple)
    voided, sheet = answer
    assert voided == e.SheetVoided(1, (), "another was released")
    assert isinstance(sheet, e.SheetIssued)
    assert sheet.version == 2


def test_a_sheet_that_another_replaces_owes_no_call(monkeypatch: pytest.MonkeyPatch) -> None:
    """She has read the other one back already. Here the sheet is made to rest on one part more than the one that is out."""
    world = at_stage("released")
    monkeypatch.setattr("hourmark.desk.made.rests_on", lambda *given: rests_on(*given) | {"one more": "0" * 64})
    world.do(check(world), SECOND)
    entries = world.do(Release(CASE, call_waived_why="shown on the ward"), NURSE)
    assert kinds(entries)[:2] == ["case/K-103 sheet-voided", "case/K-103 sheet-issued"]
    assert written(entries, e.SheetVoided).why == "another was released"
    assert issued(entries).version == 2
    assert world.messages() == []


# The page itself


def test_a_released_page_is_no_draft_any_more_and_says_who_stands_behind_it() -> None:
    world = at_stage("released")
    pages = world.desk.pages(CASE, 1)
    assert list(pages) == PAGES
    text = pages["sheet.txt"].decode()
    for words in (text, paper_words(pages["sheet.pdf"])):
        words = " ".join(words.split())
        assert "DRAFT" not in words
        assert "Your clinic has released this page: version 1." in words
        assert "Released by A. Kowal at 2026-11-18 14:40 (America/Chicago)." in words
        assert "Worked out a second time by L. Ortiz" in words
        assert "Not second-checked" not in words
        assert "You have an older page." not in words
    assert "DRAFT" not in paper_words(pages["pictures.pdf"])
    calendar = icalendar.Calendar.from_ical(pages["calendar.ics"])
    assert [str(event["STATUS"]) for event in calendar.walk("VEVENT")] == ["CONFIRMED"] * len(calendar.walk("VEVENT"))


def test_its_words_are_those_that_she_read_back() -> None:
    world = at_stage("heard")
    draft = world.planned()
    sheet = issued(world.do(Release(CASE), NURSE, RELEASED))
    heard = world.case().read_back
    assert heard is not None
    assert sheet.check_word == draft.made.check_word == draft.sheet.check_word == heard.event.check_word
    pages = world.desk.pages(CASE, 1)
    assert f"Check words of this version: {sheet.check_word}." in pages["sheet.txt"].decode()
    assert sheet.check_word in " ".join(paper_words(pages["sheet.pdf"]).split())


def test_every_version_has_check_words_of_its_own() -> None:
    world = at_stage("released")
    for minutes in ("45", "15", "45", "15"):
        moved(world, minutes)
        world.do(check(world), SECOND, LATER)
        world.do(read_back(world), NURSE, LATER)
        draft = world.planned().made.check_word
        sheet = issued(world.do(Release(CASE), NURSE, LATER))
        assert sheet.check_word == draft
        assert sheet.check_word in world.desk.pages(CASE, sheet.version)["sheet.txt"].decode()
    words = [one.event.check_word for one in world.case().sheets]
    assert [one.event.version for one in world.case().sheets] == [1, 2, 3, 4, 5]
    assert len(set(words)) == 5


def test_words_that_an_earlier_sheet_had_are_not_used_again() -> None:
    """By chance two versions share words in one of some 4,000 cases; here the earlier ones are made to be the next."""
    world = at_stage("heard")
    word = world.planned().made.check_word
    before = at_stage("released")
    before.do(VoidSheet(CASE, 1, "a smudge"), NURSE)
    (void,) = before.case().sheets
    earlier = replace(void, event=replace(void.event, version=0, check_word=word))
    fresh = replace(world.case(), sheets=())
    again = plan_of(fresh, world.desk.states().rules(), HEARD)
    assert isinstance(again, Planned)
    assert again.made.check_word == word
    used, in_force = replace(fresh, sheets=(earlier,)), world.desk.states().rules()
    with_earlier = plan_of(used, in_force, HEARD)
    assert isinstance(with_earlier, Planned)
    assert with_earlier.made.check_word != word
    text = printed(with_earlier, used, in_force, NURSE.name, HEARD)["sheet.txt"].decode()
    assert f"Check words of this version: {with_earlier.made.check_word}." in text


def test_the_pages_stay_byte_for_byte_whatever_happens_afterwards() -> None:
    world = at_stage("heard")
    entries = world.do(Release(CASE), NURSE, RELEASED)
    printed = dict(zip(PAGES, [entry.body for entry in entries[1:]], strict=True))
    assert all(printed.values())
    moved(world)
    world.do(orders.SignOrder(CASE, order() | {"largest_gap": "10 min"}), PRESCRIBER)
    world.do(kits.ReadKit(CASE, kit() | {"needles": [{"gauge": 21, "length": "38 mm", "count": 3}]}, "seen"), NURSE)
    world.do(opening.ChangeDetails(CASE, details() | {"zone": "America/New_York"}, "travels"), NURSE)
    table = clinic() | {"name": "Another name (invented)"}
    table["phones"][1]["number"] = "+1 555 0199"
    table["rules"]["tell_by"] = "5 h"
    world.do(rules.SignRules(table), LEAD)
    world.do(check(world), SECOND)
    world.do(read_back(world), NURSE)
    assert issued(world.do(Release(CASE), NURSE)).version == 2
    world.do(opening.CloseCase(CASE, "over"), NURSE)
    assert world.desk.pages(CASE, 1) == printed
    second = world.desk.pages(CASE, 2)
    assert list(second) == PAGES
    assert all(second[name] != printed[name] for name in PAGES)
    first = world.case().sheets[0].event
    assert [hashlib.sha256(body).hexdigest() for body in world.desk.pages(CASE, 1).values()] == [
        page.sha256 for page in first.pages
    ]


def test_each_case_has_pages_of_its_own() -> None:
    world = at_stage("released")
    open_case(world, "K-108")
    plan_case(world, "K-108")
    release_case(world, "K-108")
    ours, others = world.desk.pages(CASE, 1), world.desk.pages("K-108", 1)
    assert not re.search(r"\bK-103\b", others["sheet.txt"].decode())
    assert not re.search(r"\bK-108\b", ours["sheet.txt"].decode())


def test_pages_whose_bodies_were_erased_are_left_out_and_the_sheet_stays_readable() -> None:
    world = at_stage("released")
    before = world.case()
    with world.store.writing() as record:
        erase(
            record, "pages/K-103", "kept long enough", key="erase-1", actor=LEAD.name, at=LATER, salt=lambda: bytes(16)
        )
    assert world.desk.pages(CASE, 1) == {}
    assert world.case() == before
    assert list(verify(world.store)) == []


def test_looking_at_the_sheet_changes_nothing_about_it() -> None:
    world = at_stage("released")
    sheet = world.case().sheet
    world.do(checks.OpenPlan(CASE, "the sheet"), PHARMACIST)
    assert world.case().sheet == sheet is not None


def test_a_repeat_counted_from_the_actual_first_has_a_minute_but_no_window_of_its_own() -> None:
    world = at_stage("planned", "K-102")
    first = order("K-102")["injections"][0] | {"dose": "2 mg"}
    again = {name: value for name, value in first.items() if name not in ("lead", "window")}
    again |= {"id": "again", "after": {"injection": "agonist", "gap": "12 h", "window": ["11 h", "13 h"]}}
    command = orders.SignOrder("K-102", order("K-102") | {"injections": [first, again]})
    world.do(command, PRESCRIBER, CHECKED)
    two = [box | {"count": 2} for box in kit("K-102")["products"]]
    world.do(kits.ReadKit("K-102", kit("K-102") | {"products": two}, "seen"), NURSE, CHECKED)
    world.do(check(world, "K-102"), SECOND, CHECKED)
    world.do(read_back(world, "K-102"), NURSE, HEARD)
    sheet = issued(world.do(Release("K-102"), NURSE, RELEASED))
    # The slot is at 08:30 in Chicago; 36 h before it, and 12 h after that.
    assert [(due.injection, due.at) for due in sheet.dues] == [
        ("agonist", "2026-11-19T02:30:00Z"),
        ("again", "2026-11-19T14:30:00Z"),
    ]
    assert (sheet.dues[1].earliest, sheet.dues[1].latest) == (None, None)
    assert [due.leads for due in sheet.dues] == [(35 * 60, 37 * 60), None]


def test_a_page_that_cannot_be_set_is_not_released() -> None:
    world = at_stage("planned")
    world.do(opening.ChangeDetails(CASE, details() | {"helper": "她的姐姐"}, "her sister helps"), NURSE)
    world.do(check(world), SECOND)
    world.do(read_back(world), NURSE)
    refused = world.refused(Release(CASE), NURSE)
    assert [finding.code for finding in refused.findings] == ["page-unprintable"]


# By mail


def allows(world: World, mail: bool) -> None:
    world.do(calls.SetPermissions(CASE, "", voicemail=False, message=mail, how="said on the telephone"), NURSE)


@pytest.mark.parametrize("asked", [False, None], ids=["she said no", "nobody asked her"])
def test_a_page_goes_by_mail_only_where_she_allowed_it(asked: bool | None) -> None:
    world = at_stage("heard")
    if asked is not None:
        allows(world, asked)
    assert world.codes(Release(CASE, by_mail=True), NURSE) == ["mail-not-allowed"]
    world.do(Release(CASE), NURSE)
    assert world.messages() == []


def test_a_page_by_mail_waits_in_the_queue_from_the_moment_of_its_release() -> None:
    world = at_stage("heard")
    allows(world, True)
    entries = world.do(Release(CASE, by_mail=True), NURSE, key="release")
    assert kinds(entries)[:2] == ["case/K-103 sheet-issued", "case/K-103 mail-asked"]
    (queued,) = world.store.queued()
    assert queued.message == Message("sheet-by-mail", CASE, "1")
    assert world.case().mailed == (1,)
    world.ask(Release(CASE, by_mail=True), NURSE, key="release")
    assert world.messages() == [("sheet-by-mail", CASE)]


def test_what_she_allowed_last_counts() -> None:
    world = at_stage("heard")
    allows(world, True)
    allows(world, False)
    assert world.codes(Release(CASE, by_mail=True), NURSE) == ["mail-not-allowed"]
