"""The demo is always in the middle of its evening, whatever the hour."""

import datetime as dt
from pathlib import Path

import pytest

from hourmark.case.sheets import Release
from hourmark.clock import moment_from_utc, parse_zone
from hourmark.web.demo import LEFT_TO_DO, demo_evening, zone_in_the_evening


@pytest.mark.parametrize("day", ["2026-01-15", "2026-06-30", "2026-11-26", "2027-03-14", "2028-02-29"])
def test_at_every_hour_of_any_day_it_is_after_eight_somewhere(day: str) -> None:
    for hour in range(24):
        now = f"{day}T{hour:02}:37:00Z"
        wall = moment_from_utc(now, parse_zone(zone_in_the_evening(now))).wall
        assert (wall.hour, wall.minute) == (20, 37)


@pytest.mark.parametrize("hour", [3, 4, 15, 23])
def test_it_can_be_played_and_is_half_done(tmp_path: Path, hour: int) -> None:
    now = dt.datetime(2026, 11, 26, hour, 5, tzinfo=dt.UTC)
    evening = demo_evening(tmp_path, now)
    done = {type(act.command).__name__ for act in evening.acts}
    assert {"Release", "SecondCheck", "HearReadBack"} <= done
    assert "Confirm" in done
    assert {case for act in evening.acts if isinstance(act.command, Release) for case in [act.command.case]}.isdisjoint(
        {LEFT_TO_DO}
    )
    assert max(act.asked.at for act in evening.acts) <= f"{now:%Y-%m-%dT%H:%M:%SZ}"
