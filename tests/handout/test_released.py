"""A released page: what the draft said, without the sign of a draft, and who stands behind it."""

import re
from typing import Any

import icalendar
import pytest

from hourmark.exchange.checked import page_rechecked
from hourmark.exchange.prints import released_pages
from hourmark.handout import Released, Sheet, patient_sheet, sheet_text
from tests.handout.paper import case_of, planned
from tests.handout.test_pdf import AT

TWO = Released("A. Kowal", "2026-11-18 16:20", "L. Ortiz")
ALONE = Released("Dr. L. Aumont", "2026-11-18 16:20", None)


def released(version: int = 1, by: Released = TWO, language: str = "en", case_id: str = "K-103") -> Sheet:
    case, plan = case_of("ordinary-night", case_id)
    return patient_sheet(case, plan, language, version=version, released=by)


@pytest.mark.parametrize("language", ["en", "es"])
def test_a_released_page_says_what_its_draft_said_but_that_it_is_one(language: str) -> None:
    case, plan = case_of("ordinary-night", "K-103")
    draft = sheet_text(patient_sheet(case, plan, language, version=1)).splitlines()
    page = sheet_text(released(language=language)).splitlines()
    gone, new = set(draft) - set(page), set(page) - set(draft)
    assert {line.removeprefix("= ") for line in gone} >= {"DRAFT, NOT RELEASED"}
    assert not [line for line in page if re.search("DRAFT|BORRADOR", line)]
    assert all(
        re.search("released|autorizad|A. Kowal|second time|segunda vez|[Vv]ersi", line) for line in new if line.strip()
    ), new
    assert all(re.search("DRAFT|BORRADOR|Do not use|no use esta", line) for line in gone if line.strip()), gone


def test_check_words_are_the_drafts_and_never_those_of_an_earlier_version() -> None:
    case, plan = case_of("ordinary-night", "K-103")
    draft = patient_sheet(case, plan, version=1)
    assert draft.check_word == released().check_word
    again = patient_sheet(case, plan, version=1, earlier=[draft.check_word])
    third = patient_sheet(case, plan, version=1, earlier=[draft.check_word, again.check_word])
    assert len({draft.check_word, again.check_word, third.check_word}) == 3
    assert released(version=2).check_word != draft.check_word


def test_who_released_and_who_checked_stand_on_it() -> None:
    text = sheet_text(released())
    assert "Released by A. Kowal at 2026-11-18 16:20 (America/Chicago)." in text
    assert "Worked out a second time by L. Ortiz" in text
    assert "Not second-checked" not in text
    assert "older page" not in text
    alone = sheet_text(released(by=ALONE))
    assert "Not second-checked: the prescriber released it alone." in alone
    assert "second time" not in alone
    assert "You have an older page. Throw it away and delete its alarms." in sheet_text(released(version=2))


def test_a_refused_case_is_never_released() -> None:
    plan = planned("refusals")
    case = next(one for one in plan.cases if one.refused)
    page = sheet_text(patient_sheet(case, plan, released=TWO))
    assert "released this page" not in page
    assert page.startswith("DRAFT, NOT RELEASED")


@pytest.mark.parametrize("case_id", ["K-101", "K-103", "K-106"])
def test_the_files_of_a_released_page_are_read_back_and_confirmed(case_id: str) -> None:
    case, plan = case_of("ordinary-night", case_id)
    sheet = patient_sheet(case, plan, version=1, released=TWO)
    assert page_rechecked(sheet, sheet_text(sheet), case, plan) == ()
    pages = released_pages(case, plan, sheet, AT)
    assert set(pages) == {"sheet.pdf", "pictures.pdf", "calendar.ics", "walk.json"}
    assert pages["sheet.pdf"] == released_pages(case, plan, sheet, AT)["sheet.pdf"]
    calendar: Any = icalendar.Calendar.from_ical(pages["calendar.ics"])
    events = calendar.walk("VEVENT")
    assert events
    for event in events:
        assert event["STATUS"] == "CONFIRMED"
        assert event["SUMMARY"] in ("Medicine time", "Hora del medicamento")
        assert "draft" not in event["DESCRIPTION"]
