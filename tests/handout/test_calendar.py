"""The calendar file, read back by a general library: instants in UTC, alarms in hours, a title that tells nothing."""

import datetime as dt
import re
from typing import Any

import icalendar
import pytest

from hourmark.handout import patient_sheet
from hourmark.handout.calendar import calendar_file
from hourmark.plan import CasePlan, NightPlan
from tests.handout.paper import case_of, planned

NIGHTS = ("ordinary-night", "clocks-go-back", "travellers")
CASES = [
    pytest.param(case, planned(name), id=case.case.id)
    for name in NIGHTS
    for case in planned(name).cases
    if not case.refused
]


def made(case: CasePlan, plan: NightPlan, language: str = "en") -> bytes:
    return calendar_file(case, plan, patient_sheet(case, plan, language))


@pytest.mark.parametrize(("case", "plan"), CASES)
def test_each_minute_is_an_entry_in_utc_with_four_alarms(case: CasePlan, plan: NightPlan) -> None:
    read: Any = icalendar.Calendar.from_ical(made(case, plan))
    events = read.walk("VEVENT")
    minutes = sorted({one.timed.patient.utc for one in case.injections if one.timed})
    assert sorted(event["DTSTART"].dt.strftime("%Y-%m-%dT%H:%M:%SZ") for event in events) == minutes
    for event in events:
        assert event["DTSTART"].dt.tzinfo == dt.UTC or event["DTSTART"].dt.utcoffset() == dt.timedelta(0)
        assert event["STATUS"] == "TENTATIVE"
        alarms = [alarm["TRIGGER"].dt for alarm in event.walk("VALARM")]
        assert alarms == [dt.timedelta(hours=-24), dt.timedelta(hours=-1), dt.timedelta(minutes=-15), dt.timedelta()]
        assert all(alarm["ACTION"] == "DISPLAY" and alarm["DESCRIPTION"] for alarm in event.walk("VALARM"))


@pytest.mark.parametrize(("case", "plan"), CASES[:12])
def test_the_title_tells_nothing_and_the_text_holds_no_drug(case: CasePlan, plan: NightPlan) -> None:
    """RFC 5545 entries are shown on shared screens: neutral titles (standards of privacy; common practice, no source)."""
    text = made(case, plan).decode()
    for one in case.injections:
        assert one.injection.drug.name not in text.replace("\r\n ", "")
    assert case.case.id not in text.replace("\r\n ", "")


def test_a_day_is_written_as_hours() -> None:
    """RFC 5545, 3.3.6: days are nominal and follow the clock change, hours are exact."""
    case, plan = case_of("clocks-go-back", "L-201")
    text = made(case, plan).decode()
    assert re.findall(r"TRIGGER:(.+)\r\n", text) == ["-PT24H", "-PT1H", "-PT15M", "PT0S"]
    assert "TZID" not in text


def test_lines_are_folded_at_75_octets_and_end_as_the_standard_asks() -> None:
    """RFC 5545, 3.1: lines of at most 75 octets without the break, ended by CRLF."""
    case, plan = case_of("ordinary-night", "K-103")
    for language in ("en", "es"):
        lines = made(case, plan, language).split(b"\r\n")
        assert lines[-1] == b""
        assert all(len(line) <= 75 and b"\n" not in line for line in lines)
        for line in lines:
            line.decode()


def test_the_same_plan_gives_the_same_entry() -> None:
    case, plan = case_of("ordinary-night", "K-105")
    assert made(case, plan) == made(case, plan)
    uids = re.findall(r"UID:(.+)\r\n", made(case, plan).decode())
    assert len(set(uids)) == 2
