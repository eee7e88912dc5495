"""With the system's zone path set to an older copy of the data, hourmark still answers from its own.

The older copy is the real package tzdata 2025.2 from the Python Package Index, put into .venv by set-up.
"""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

OLD = Path(sys.prefix) / "old-zone-data" / "tzdata" / "zoneinfo"

ASK_BOTH = """
import datetime, json, sys, zoneinfo
from pathlib import Path

zone, slot, hours = sys.argv[1:]
assert [Path(folder) for folder in zoneinfo.TZPATH] == [Path(OLD)], zoneinfo.TZPATH

def by_zoneinfo():
    at = datetime.datetime.fromisoformat(slot).replace(tzinfo=zoneinfo.ZoneInfo(zone))
    injection = at.astimezone(datetime.timezone.utc) - datetime.timedelta(hours=int(hours))
    return injection.astimezone(at.tzinfo).strftime("%Y-%m-%d %H:%M"), injection.strftime("%Y-%m-%dT%H:%M:%SZ")

before = by_zoneinfo()
from hourmark.clock import Span, Zone, parse_wall
from hourmark.plan import when
timed, _ = when(parse_wall(slot), Zone(zone), Span(int(hours) * 60))
hourmark = timed.patient.wall.strftime("%Y-%m-%d %H:%M"), timed.patient.utc
print(json.dumps([before, hourmark, by_zoneinfo()]))
"""


@pytest.mark.parametrize(
    ("zone", "slot", "wrong", "right", "right_utc"),
    [
        # The clocks of Vancouver stay on summer time from 2026-11-01 (IANA news of release 2026a and later).
        ("America/Vancouver", "2026-11-02 10:00", "2026-10-31 23:00", "2026-10-31 22:00", "2026-11-01T05:00:00Z"),
        # Those of Winnipeg too.
        ("America/Winnipeg", "2026-11-02 09:30", "2026-10-31 22:30", "2026-10-31 21:30", "2026-11-01T02:30:00Z"),
        # Those of Casablanca go back to UTC on 2026-09-20 and stay there.
        ("Africa/Casablanca", "2026-09-21 09:00", "2026-09-19 21:00", "2026-09-19 22:00", "2026-09-19T21:00:00Z"),
        # Far from any change the older copy is an hour off as well, though only the instant shows it.
        ("Africa/Casablanca", "2026-12-10 08:00", "2026-12-08 20:00", "2026-12-08 20:00", "2026-12-08T20:00:00Z"),
    ],
    ids=["Vancouver", "Winnipeg", "Casablanca-change", "Casablanca-winter"],
)
def test_an_older_copy_on_the_zone_path_changes_nothing(
    zone: str, slot: str, wrong: str, right: str, right_utc: str
) -> None:
    assert OLD.is_absolute()
    assert OLD.joinpath(*zone.split("/")).is_file(), "the older zone data are missing: run scripts/setup test"
    run = subprocess.run(
        [sys.executable, "-c", f"OLD = {str(OLD)!r}\n{ASK_BOTH}", zone, slot, "36"],
        env={**os.environ, "PYTHONTZPATH": str(OLD)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert (run.returncode, run.stderr) == (0, "")
    library, hourmark, library_again = json.loads(run.stdout)
    assert library[0] == wrong
    assert library[1] != right_utc
    assert library_again == library, "hourmark must leave the system's zone path alone"
    assert hourmark == [right, right_utc]


def test_the_older_copy_is_older() -> None:
    release = (OLD / "tzdata.zi").read_text(encoding="utf-8").splitlines()[0]
    assert release == "# version 2025b"
