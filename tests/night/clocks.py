"""The simulator's own reckoning of time: whole minutes since 1970 in UTC, and wall clocks by the standard library's zoneinfo."""

import datetime as dt
from functools import cache
from importlib.resources import files
from zoneinfo import ZoneInfo

_EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)


@cache
def zone(name: str) -> ZoneInfo:
    """A zone of the tzdata package, whatever the operating system has."""
    with files("tzdata.zoneinfo").joinpath(name).open("rb") as data:
        return ZoneInfo.from_file(data, key=name)


@cache
def instant(minute: int) -> str:
    """A minute as the record writes it."""
    return f"{_EPOCH + dt.timedelta(minutes=minute):%Y-%m-%dT%H:%M:%SZ}"


@cache
def minutes(said: str) -> int:
    """A minute as the record writes it, read; seconds are not used in these nights."""
    seconds = (dt.datetime.fromisoformat(said) - _EPOCH).total_seconds()
    assert seconds % 60 == 0, said
    return int(seconds // 60)


def wall_of(minute: int, name: str) -> str:
    """The clock time of a minute in a zone."""
    return f"{(_EPOCH + dt.timedelta(minutes=minute)).astimezone(zone(name)):%Y-%m-%d %H:%M}"


def wall(clock: str, name: str, which: str | None = None) -> str:
    """The instant of a clock time that exists in a zone, as the record writes it."""
    meant = meanings(clock, name)
    return instant(meant[-1 if which == "second" else 0])


@cache
def meanings(clock: str, name: str) -> tuple[int, ...]:
    """Every minute that a clock time means in a zone: none in a skipped hour, two in a repeated one. Raises ValueError for no clock time."""
    local = dt.datetime.strptime(clock, "%Y-%m-%d %H:%M")
    folds = (local.replace(tzinfo=zone(name), fold=fold) for fold in (0, 1))
    found = {int((one.astimezone(dt.UTC) - _EPOCH).total_seconds() // 60) for one in folds}
    return tuple(sorted(minute for minute in found if wall_of(minute, name) == clock))
