"""Every clock change of every zone from 2024 to 2035, against three other readers of the same files.

The readers: `zoneinfo` of the standard library, `dateutil.tz`, and the command `zdump` of the C library.
"""

import datetime as dt
import re
import subprocess
import zoneinfo
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from itertools import product
from pathlib import Path

import pytest
from dateutil import tz

from hourmark.clock import Moment, Span, WallTime, Which, Zone, moment, said
from hourmark.clock.zones import zone_names
from hourmark.finding import Finding, Level
from hourmark.plan import when

ZONES = Path(str(files("tzdata").joinpath("zoneinfo")))
MINUTE = dt.timedelta(minutes=1)
FIRST, END = dt.datetime(2024, 1, 1), dt.datetime(2036, 1, 1)
MONTHS = {
    name: place
    for place, name in enumerate(
        ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"], 1
    )
}
ZDUMP_LINE = re.compile(
    r"(?P<path>/.+?) +\w{3} (?P<month>\w{3}) +(?P<day>\d+) (?P<clock>\d\d:\d\d:\d\d) (?P<year>\d+) UTC? = .*"
    r" isdst=(?P<dst>[01]) gmtoff=(?P<offset>-?\d+)"
)


@dataclass(frozen=True)
class Change:
    """One clock change: its instant (UTC, naive) and the offset before and from it on."""

    at: dt.datetime
    before: dt.timedelta
    after: dt.timedelta


def zone_file(name: str, folder: Path) -> Path:
    return folder.joinpath(*name.split("/"))


@cache
def zdump_changes() -> dict[bytes, tuple[Change, ...]]:
    """By the content of a zone file: the changes of 2024 to 2035 that zdump prints, one pair of lines each."""
    paths = [zone_file(names[0], ZONES) for names in names_by_file()]
    run = subprocess.run(
        ["zdump", "-v", "-c", "2024,2036", *map(str, paths)],
        capture_output=True,
        text=True,
        check=True,
    )
    assert run.stderr == ""
    seen: dict[str, list[tuple[dt.datetime, dt.timedelta]]] = {}
    for line in run.stdout.splitlines():
        if line.endswith(" = NULL"):
            continue
        match = ZDUMP_LINE.fullmatch(line)
        assert match, line
        hour, minute, second = map(int, match["clock"].split(":"))
        at = dt.datetime(int(match["year"]), MONTHS[match["month"]], int(match["day"]), hour, minute, second)
        seen.setdefault(match["path"], []).append((at, dt.timedelta(seconds=int(match["offset"]))))
    return {path.read_bytes(): _pairs(seen.get(str(path), [])) for path in paths}


def _pairs(lines: list[tuple[dt.datetime, dt.timedelta]]) -> tuple[Change, ...]:
    changes = []
    for (just_before, before), (at, after) in zip(lines[::2], lines[1::2], strict=True):
        assert at - just_before == dt.timedelta(seconds=1)
        changes.append(Change(at, before, after))
    return tuple(changes)


def utc(at: Moment) -> dt.datetime:
    return dt.datetime.strptime(at.utc, "%Y-%m-%dT%H:%M:%SZ")


def hour_name(wall: dt.datetime) -> str:
    return f"{wall:%H:%M}"


class Readers:
    """hourmark on every name of one zone file, and the two libraries on that file, asked the same things."""

    def __init__(self, names: tuple[str, ...], path: Path) -> None:
        self.zones = tuple(Zone(name) for name in names)
        self.libraries: tuple[dt.tzinfo, ...] = (zoneinfo.ZoneInfo(names[0]), tz.tzfile(str(path)))

    def once(self, wall: dt.datetime, instant: dt.datetime) -> None:
        """`wall` happens once, at `instant`, for everybody."""
        for zone in self.zones:
            found = moment(WallTime(wall), zone)
            assert isinstance(found, Moment), found
            assert (utc(found), found.wall, found.which) == (instant, wall, None)
        for library in self.libraries:
            for fold in (0, 1):
                assert self.library_instant(library, wall, fold) == instant
            assert tz.datetime_exists(wall, library)
            assert not tz.datetime_ambiguous(wall, library)

    def skipped(self, wall: dt.datetime, last: dt.datetime, first: dt.datetime) -> None:
        """`wall` never happens; `last` and `first` are the clock minutes beside the gap."""
        choices: tuple[Which | None, ...] = (None, "first", "second")
        for zone, which in product(self.zones, choices):
            found = moment(WallTime(wall, which), zone, "here")
            assert isinstance(found, Finding)
            assert (found.code, found.level, found.where) == ("time-skipped", Level.STOP, "here")
            dated = {last.date(), first.date()} != {wall.date()}
            before, after = (hour_name(at) + (f" on {at.date()}" if dated else "") for at in (last, first))
            assert f"{before} is the last minute before, {after} the first after" in found.do
            timed, findings = when(WallTime(wall, which), zone, Span(36 * 60))
            assert timed is None
            assert [finding.code for finding in findings] == ["time-skipped"]
        for library in self.libraries:
            assert not tz.datetime_exists(wall, library)

    def repeated(self, wall: dt.datetime, first: dt.datetime, second: dt.datetime) -> None:
        """`wall` happens at both instants and is asked about."""
        sides: tuple[tuple[Which, dt.datetime], ...] = (("first", first), ("second", second))
        for zone in self.zones:
            found = moment(WallTime(wall), zone, "here")
            assert isinstance(found, Finding)
            assert (found.code, found.level, found.where) == ("time-repeated", Level.STOP, "here")
            for which, instant in sides:
                chosen = moment(WallTime(wall, which), zone)
                assert isinstance(chosen, Moment)
                assert (utc(chosen), chosen.wall, chosen.which) == (instant, wall, which)
                assert f"the {which.upper()} time" in said(chosen)
        for fold, (_, instant) in enumerate(sides):
            for library in self.libraries:
                assert self.library_instant(library, wall, fold) == instant
        for library in self.libraries:
            assert tz.datetime_ambiguous(wall, library)

    def across(self, slot_instant: dt.datetime) -> None:
        """36 h of elapsed time before a slot at this instant is one instant and one clock time for everybody."""
        slots = [self.library_wall(library, slot_instant) for library in self.libraries]
        assert slots[0] == slots[1]
        slot, fold = slots[0]
        injection_instant = slot_instant - dt.timedelta(hours=36)
        twice = tz.datetime_ambiguous(slot, self.libraries[0])
        which: Which | None = None if not twice else "second" if fold else "first"
        walls = [self.library_wall(library, injection_instant) for library in self.libraries]
        for zone in self.zones:
            timed, _ = when(WallTime(slot, which), zone, Span(36 * 60))
            assert timed is not None
            assert utc(timed.patient) == injection_instant
            for wall, fold in walls:
                assert timed.patient.wall == wall
                assert (timed.patient.which == "second") == bool(fold)

    @staticmethod
    def library_instant(library: dt.tzinfo, wall: dt.datetime, fold: int) -> dt.datetime:
        return wall.replace(tzinfo=library, fold=fold).astimezone(dt.UTC).replace(tzinfo=None)

    @staticmethod
    def library_wall(library: dt.tzinfo, instant: dt.datetime) -> tuple[dt.datetime, int]:
        local = instant.replace(tzinfo=dt.UTC).astimezone(library)
        return local.replace(tzinfo=None, fold=0), local.fold

    def check(self, change: Change) -> None:
        """Everything around one change."""
        old, new = change.at + change.before, change.at + change.after
        early, late = min(old, new), max(old, new)
        if new > old:
            self.once(old - MINUTE, change.at - MINUTE)
            self.once(new, change.at)
            for wall in inside(old, new):
                self.skipped(wall, old - MINUTE, new)
        elif new < old:
            self.once(new - MINUTE, new - MINUTE - change.before)
            self.once(old, old - change.after)
            for wall in inside(new, old):
                self.repeated(wall, wall - change.before, wall - change.after)
        else:
            self.once(old - MINUTE, change.at - MINUTE)
            self.once(new, change.at)
        self.once(late + MINUTE, late + MINUTE - change.after)
        self.once(early - 2 * MINUTE, early - 2 * MINUTE - change.before)
        for hours in (0.5, 12, 18, 35.5):
            self.across(change.at + dt.timedelta(hours=hours))


def inside(start: dt.datetime, end: dt.datetime) -> tuple[dt.datetime, ...]:
    """The first, a middle and the last clock minute of a gap or a fold."""
    middle = start + dt.timedelta(minutes=(end - start) // MINUTE // 2)
    return start, middle, end - MINUTE


def names_by_file() -> list[tuple[str, ...]]:
    """Every zone name, those whose files are the same byte for byte together."""
    groups: dict[bytes, list[str]] = {}
    for name in sorted(zone_names()):
        groups.setdefault(zone_file(name, ZONES).read_bytes(), []).append(name)
    return list(map(tuple, groups.values()))


def test_no_zone_is_left_out() -> None:
    assert sorted(name for names in names_by_file() for name in names) == sorted(zone_names())
    assert len(zone_names()) > 400


@pytest.mark.parametrize("names", names_by_file(), ids=lambda names: str(names[0]))
@pytest.mark.usefixtures("package_zones")
def test_every_change_of_these_zones(names: tuple[str, ...]) -> None:
    path = zone_file(names[0], ZONES)
    readers = Readers(names, path)
    changes = zdump_changes()[path.read_bytes()]
    for change in changes:
        readers.check(change)
    assert_no_other_change(readers, changes)


def assert_no_other_change(readers: Readers, changes: tuple[Change, ...]) -> None:
    """Between the changes that zdump prints, both libraries keep one offset (every third day) and hourmark too (every tenth of those)."""
    ahead = list(changes)
    day, step = FIRST + dt.timedelta(hours=12), 0
    offset = ahead[0].before if ahead else _library_offset(readers.libraries[0], day)
    while day < END:
        while ahead and ahead[0].at <= day:
            offset = ahead.pop(0).after
        for library in readers.libraries:
            assert _library_offset(library, day) == offset, day
        if step % 10 == 0:
            readers.once(day + offset, day)
        day, step = day + dt.timedelta(days=3), step + 1
    assert not ahead


def _library_offset(library: dt.tzinfo, instant: dt.datetime) -> dt.timedelta:
    offset = instant.replace(tzinfo=dt.UTC).astimezone(library).utcoffset()
    assert offset is not None
    return offset


def test_the_changes_are_really_there() -> None:
    found = zdump_changes()
    assert len(found) > 250
    assert sum(map(len, found.values())) > 1000
    sizes = {
        (change.after - change.before) // MINUTE for changes in found.values() for change in changes
    }  # a half hour on Lord Howe Island, two hours at Troll
    assert {30, -30, 60, -60, 120, -120} <= sizes
