"""Leads a second way: the minutes of a night are walked one by one on a clock that `dateutil` reads from the tzdata package."""

import datetime as dt
from importlib.resources import files

import pytest
from dateutil import tz

from hourmark.clock import Span, WallTime, Which, Zone, elapsed, shifted
from hourmark.plan import when

MINUTE = dt.timedelta(minutes=1)


def clock_minutes(zone: str, start: dt.datetime, days: int) -> list[tuple[dt.datetime, dt.datetime]]:
    """Every minute from `start` (UTC): the instant and what a clock on the wall shows then."""
    reader = tz.tzfile(str(files("tzdata").joinpath("zoneinfo", *zone.split("/"))))
    minutes = []
    for count in range(days * 24 * 60):
        instant = start + count * MINUTE
        minutes.append((instant, instant.replace(tzinfo=dt.UTC).astimezone(reader).replace(tzinfo=None)))
    return minutes


NIGHTS = [
    ("America/New_York", dt.datetime(2026, 10, 30), "back an hour"),
    ("America/New_York", dt.datetime(2027, 3, 12), "forward an hour"),
    ("Europe/London", dt.datetime(2027, 10, 29), "back an hour"),
    ("Europe/Madrid", dt.datetime(2027, 3, 26), "forward an hour"),
    ("Australia/Lord_Howe", dt.datetime(2027, 4, 2), "back half an hour"),
    ("Australia/Lord_Howe", dt.datetime(2026, 10, 2), "forward half an hour"),
    ("Antarctica/Troll", dt.datetime(2027, 10, 29), "back two hours"),
    ("America/Santiago", dt.datetime(2027, 9, 3), "forward at midnight"),
    ("America/Vancouver", dt.datetime(2026, 10, 30), "a change of name only"),
    ("Africa/Casablanca", dt.datetime(2026, 9, 18), "back an hour, the last time"),
    ("Asia/Kathmandu", dt.datetime(2026, 11, 1), "none"),
]


@pytest.mark.parametrize(("zone", "start", "_what"), NIGHTS, ids=[f"{zone}: {what}" for zone, _, what in NIGHTS])
def test_walking_back_minute_by_minute(zone: str, start: dt.datetime, _what: str) -> None:
    minutes = clock_minutes(zone, start, 5)
    shown: dict[dt.datetime, list[int]] = {}
    for place, (_, wall) in enumerate(minutes):
        shown.setdefault(wall, []).append(place)
    asked = 0
    for lead_minutes in (33 * 60 + 30, 35 * 60, 36 * 60, 36 * 60 + 17, 40 * 60):
        for place in range(41 * 60, len(minutes), 15):
            _, slot = minutes[place]
            which: Which | None = None
            if len(shown[slot]) == 2:
                which = "first" if shown[slot][0] == place else "second"
            walked = place
            for _ in range(lead_minutes):
                walked -= 1
            timed, findings = when(WallTime(slot, which), Zone(zone), Span(lead_minutes))
            assert timed is not None, findings
            instant, wall = minutes[walked]
            assert timed.patient.utc == f"{instant:%Y-%m-%dT%H:%M:%SZ}"
            assert timed.patient.wall == wall
            twice = shown[wall]
            expected = None if len(twice) == 1 else "first" if twice[0] == walked else "second"
            assert timed.patient.which == expected
            codes = [finding.code for finding in findings]
            assert ("injection-repeated-hour" in codes) == (expected is not None)
            moved = (minutes[place][1] - wall) - lead_minutes * MINUTE
            assert ("clock-change-between" in codes) == bool(moved)
            asked += 1
    assert asked > 1000


@pytest.mark.parametrize(("zone", "start", "_what"), NIGHTS, ids=[f"{zone}: {what}" for zone, _, what in NIGHTS])
def test_a_clock_that_never_shows_the_slot(zone: str, start: dt.datetime, _what: str) -> None:
    """Every wall minute of three days that the walk never sees is refused, every one it sees twice is asked about, no other."""
    minutes = clock_minutes(zone, start, 5)
    shown: dict[dt.datetime, int] = {}
    for _, wall in minutes:
        shown[wall] = shown.get(wall, 0) + 1
    first = minutes[0][1] + dt.timedelta(days=1)
    for count in range(3 * 24 * 60):
        slot = first + count * MINUTE
        timed, findings = when(WallTime(slot), Zone(zone), Span(36 * 60))
        codes = {finding.code for finding in findings}
        assert ("time-skipped" in codes) == (slot not in shown), slot
        assert ("time-repeated" in codes) == (shown.get(slot, 0) == 2), slot
        assert (timed is None) == (shown.get(slot, 0) != 1), slot


@pytest.mark.parametrize("minutes", [0, 1, -1, 60, 36 * 60, -36 * 60, 525_600])
@pytest.mark.parametrize("at", ["2026-11-01T05:30:00Z", "2027-03-14T06:59:59Z", "2028-02-29T23:59:00Z"])
def test_an_instant_shifted_is_what_the_standard_library_makes_of_it(at: str, minutes: int) -> None:
    wanted = dt.datetime.fromisoformat(at) + minutes * MINUTE
    assert shifted(at, minutes) == f"{wanted:%Y-%m-%dT%H:%M:%SZ}"
    assert abs(elapsed(at, shifted(at, minutes)).minutes) == abs(minutes)
