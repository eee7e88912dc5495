"""The night the clocks change: one instant on page, calendar file, board and countdown; and a clock time that happens twice is asked.

New York's clocks go back on Sunday 1 November 2026 at 2:00 and forward on Sunday 14 March 2027 at 2:00 (IANA time-zone database).
"""

import datetime as dt
from zoneinfo import ZoneInfo

import icalendar
import pytest

from hourmark.case.board import Row
from hourmark.case.night import Confirm
from hourmark.desk import Done
from hourmark.desk.made import Planned, plan_of
from hourmark.handout.calendar import calendar_file
from tests.case.world import NURSE, desk_over
from tests.night.worlds import NIGHTS, night

NEW_YORK = "America/New_York"
AFTER = "2026-11-01T08:00:00Z"


def row_of(rows: list[Row], case: str) -> Row:
    return next(row for row in rows if row.case == case and row.place)


@pytest.mark.parametrize("name", NIGHTS)
def test_page_calendar_board_and_record_hold_the_same_instant(name: str) -> None:
    tonight = night(name)
    desk = desk_over(tonight.store())
    states = desk.states()
    now = max(entry.read_header().at for entry in tonight.entries)
    rows = states.board(now)
    compared = 0
    for case in states.open_cases():
        planned = plan_of(case, states.rules(), now)
        if case.sheet is None or not isinstance(planned, Planned):
            continue
        due = {one.injection: one.at for one in case.sheet.event.dues}
        planned_at = {
            one.injection.id: one.timed.patient.utc for one in planned.case.injections if one.timed is not None
        }
        shown = {row.injection: row.due for row in rows if row.case == case.id and row.injection in due}
        calendar = icalendar.Calendar.from_ical(calendar_file(planned.case, planned.night, planned.sheet))
        starts = {f"{event.decoded('dtstart'):%Y-%m-%dT%H:%M:%SZ}" for event in calendar.walk("VEVENT")}
        assert due == planned_at == shown
        assert set(due.values()) <= starts
        for one in case.sheet.event.dues:
            wall = dt.datetime.fromisoformat(one.at).astimezone(ZoneInfo(one.zone))
            assert f"({wall:%H:%M})" in one.said or "midnight" in one.said.lower()
        compared += len(due)
    assert compared >= 2


def test_a_clock_time_that_happens_twice_is_kept_asked_and_shown_both_ways() -> None:
    tonight = night("clocks go back")
    desk = desk_over(tonight.store())
    # Slot Monday 2 November 2026 at 12:30, 36 h: Sunday 1:30 am, the first of the two. She says: 1:40 am.
    case = desk.states().case("L-203")
    assert case.slot is not None
    assert (case.slot.slot["at"], case.sheets[-1].event.dues[0].at) == ("2026-11-02 12:30", "2026-11-01T05:30:00Z")
    said = Confirm(
        "L-203", "hcg", "2026-11-01 01:40", NEW_YORK, "she herself", "the clock on her phone", "all", "nothing"
    )
    answer = desk.perform(said, NURSE.at(AFTER), "said")
    assert isinstance(answer, Done)
    (kept,) = desk.states().case("L-203").confirmations
    assert (kept.event.instant, kept.event.doubts) == (None, ("time-repeated",))
    row = row_of(desk.states().board(AFTER), "L-203")
    assert row.state == "problem"
    assert "that time happens twice: ask which" in row.why
    assert "35 h 50 min or 34 h 50 min to the slot" in row.why


@pytest.mark.parametrize(("which", "hours"), [("first", "35 h 50 min"), ("second", "34 h 50 min")])
def test_once_she_says_which_it_counts_and_contradicts_nothing(which: str, hours: str) -> None:
    tonight = night("clocks go back")
    desk = desk_over(tonight.store())
    said = Confirm("L-203", "hcg", "2026-11-01 01:40", NEW_YORK, "she herself", "her phone", "all", "nothing")
    told = Confirm("L-203", "hcg", "2026-11-01 01:40", NEW_YORK, "she herself", "her phone", "all", "nothing", which)
    for number, one in enumerate((said, told)):
        assert isinstance(desk.perform(one, NURSE.at(AFTER), f"said-{number}"), Done)
    row = row_of(desk.states().board(AFTER), "L-203")
    assert str(row.to_slot) == hours
    # The order allows 35 h to 37 h: the second 1:40 lies outside.
    assert row.state == ("given" if which == "first" else "given late")
    assert "differ" not in row.why
