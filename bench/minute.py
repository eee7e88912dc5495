"""One slot and lead to a minute: hourmark beside the bare sum in `zoneinfo` (standard library) and in `dateutil`."""

import datetime as dt
import statistics
import timeit
import zoneinfo
from collections.abc import Callable
from dataclasses import dataclass
from importlib.resources import files

from dateutil import tz

from hourmark.clock import parse_span, parse_wall, parse_zone
from hourmark.plan import when

SLOT, ZONE, LEAD_HOURS = "2026-11-02 10:00", "America/New_York", 36
EXPECTED = "2026-10-31 23:00"


@dataclass(frozen=True)
class Minute:
    """Median seconds of one computation."""

    hourmark: float
    with_reading: float
    zoneinfo: float
    dateutil: float


def minute(rounds: int = 7) -> Minute:
    """All in turn, several rounds; what each answers is checked first."""
    wall, zone, lead = parse_wall(SLOT), parse_zone(ZONE), parse_span(f"{LEAD_HOURS} h")
    naive = dt.datetime.fromisoformat(SLOT)
    zoneinfo.reset_tzpath(to=[])
    library = zoneinfo.ZoneInfo(ZONE)
    other = tz.tzfile(str(files("tzdata").joinpath("zoneinfo", *ZONE.split("/"))))
    hours = dt.timedelta(hours=LEAD_HOURS)

    def by_hourmark() -> str:
        timed, _ = when(wall, zone, lead)
        assert timed is not None
        return f"{timed.patient.wall:%Y-%m-%d %H:%M}"

    def by_hourmark_from_text() -> str:
        timed, _ = when(parse_wall(SLOT), parse_zone(ZONE), parse_span("36 h"))
        assert timed is not None
        return f"{timed.patient.wall:%Y-%m-%d %H:%M}"

    def by_library(reader: dt.tzinfo) -> Callable[[], str]:
        def work() -> str:
            injection = (naive.replace(tzinfo=reader).astimezone(dt.UTC) - hours).astimezone(reader)
            return f"{injection:%Y-%m-%d %H:%M}"

        return work

    ways = {
        "hourmark": by_hourmark,
        "with_reading": by_hourmark_from_text,
        "zoneinfo": by_library(library),
        "dateutil": by_library(other),
    }
    seconds: dict[str, list[float]] = {name: [] for name in ways}
    for way in ways.values():
        assert way() == EXPECTED
    for _ in range(rounds):
        for name, way in ways.items():
            seconds[name].append(timeit.timeit(way, number=2000) / 2000)
    return Minute(**{name: statistics.median(found) for name, found in seconds.items()})
