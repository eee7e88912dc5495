"""Moments: an instant seen on the wall clock of one zone. A clock time that is skipped or repeated is never guessed."""

import datetime as dt
import re
from dataclasses import dataclass, replace
from typing import Literal, TypeAlias

from whenever import Instant, PlainDateTime, RepeatedTime, SkippedTime, TimeDelta, ZonedDateTime

from hourmark.clock.span import Span
from hourmark.clock.zones import Zone
from hourmark.finding import Finding, Level, Unreadable

FIRST_YEAR, LAST_YEAR = 2000, 2099

Which: TypeAlias = Literal["first", "second"]

_WALL = re.compile(r"(\d{4})-(\d{2})-(\d{2}) (\d{2}):(\d{2})", re.ASCII)
_EXAMPLE = 'Write the date and the 24-hour clock, for example "2026-11-02 10:00".'
_SOURCE = "IANA time-zone database"


@dataclass(frozen=True, slots=True, order=True)
class WallTime:
    """A date and clock time as read off a wall, with no zone yet; `which` tells the two apart where that hour repeats."""

    local: dt.datetime
    which: Which | None = None

    def __str__(self) -> str:
        """The clock time as written: "2026-11-02 10:00"."""
        return f"{self.local:%Y-%m-%d %H:%M}" + (f" ({self.which})" if self.which else "")


def parse_wall(text: object, which: Which | None = None) -> WallTime:
    """A wall time such as "2026-11-02 10:00". Raises Unreadable for other forms, impossible dates, and years outside 2000-2099."""
    match = _WALL.fullmatch(text) if isinstance(text, str) else None
    if match is None:
        raise Unreadable(f"{str(text)[:40]!r} is not a date and clock time.", _EXAMPLE)
    try:
        local = dt.datetime(*map(int, match.groups()))  # type: ignore[arg-type]
    except ValueError as impossible:
        raise Unreadable(f'"{text}" does not exist: {impossible}.', _EXAMPLE) from None
    if not FIRST_YEAR <= local.year <= LAST_YEAR:
        raise Unreadable(f'"{text}" is outside the years {FIRST_YEAR} to {LAST_YEAR}.', _EXAMPLE)
    return WallTime(local, which)


@dataclass(frozen=True, slots=True)
class Moment:
    """An instant and the zone on whose wall clock it is read."""

    at: ZonedDateTime
    zone: Zone

    def __sub__(self, earlier: "Moment") -> Span:
        """Elapsed time since `earlier`, whatever the clocks did in between; parts of a minute are dropped."""
        return Span(int((self.at - earlier.at).total("seconds") // 60))

    def before(self, lead: Span) -> "Moment":
        """The moment `lead` of elapsed time earlier."""
        return self.after(Span(-lead.minutes))

    def after(self, span: Span) -> "Moment":
        """The moment `span` of elapsed time later."""
        return replace(self, at=self.at + TimeDelta(minutes=span.minutes))

    def seen_in(self, zone: Zone) -> "Moment":
        """The same instant on the wall clock of another zone."""
        return Moment(self.at.to_tz(zone.name), zone)

    def __lt__(self, other: "Moment") -> bool:
        """Whether this instant comes first."""
        return self.at < other.at

    @property
    def instant(self) -> dt.datetime:
        """The instant as the standard library has it, in UTC."""
        return dt.datetime.fromisoformat(self.utc)

    @property
    def utc(self) -> str:
        """RFC 3339 in UTC, to the second: "2026-11-01T03:00:00Z"."""
        return self.at.to_instant().format_iso(unit="second")

    @property
    def local(self) -> str:
        """RFC 3339 on this zone's clock with its offset, to the second: "2026-10-31T23:00:00-04:00"."""
        return self.wall.isoformat() + self.offset

    @property
    def offset(self) -> str:
        """The distance of this clock from UTC: "-04:00"."""
        seconds = int(self.at.offset.total("seconds"))
        hours, minutes = divmod(abs(seconds) // 60, 60)
        return f"{'-' if seconds < 0 else '+'}{hours:02d}:{minutes:02d}"

    @property
    def wall(self) -> dt.datetime:
        """The date and clock time alone."""
        return self.at.to_plain().to_stdlib()

    @property
    def which(self) -> Which | None:
        """Where this clock time happens twice: which of the two this is."""
        if not self.at.is_repeated():
            return None
        earlier = self.at.to_plain().assume_tz(self.zone.name, disambiguation="earlier")
        return "first" if earlier.offset == self.at.offset else "second"


def moment(wall: WallTime, zone: Zone, where: str = "") -> Moment | Finding:
    """The moment when clocks in `zone` show `wall`, or a stop when they never do, or do twice and `wall` does not say which."""
    plain = PlainDateTime(wall.local)
    clock = f"{wall.local:%H:%M} on {wall.local:%Y-%m-%d}"
    try:
        return Moment(plain.assume_tz(zone.name, disambiguation="raise"), zone)
    except SkippedTime:
        before, after = _around_the_gap(plain, zone)
        return Finding(
            "time-skipped",
            Level.STOP,
            f"{clock} does not exist in {zone.city}: the clocks go forward over it.",
            f"Ask theatre or the prescriber which is meant: {before} is the last minute before, {after} the first after.",
            where,
            f"{zone.name}, clock change on that day",
            _SOURCE,
        )
    except RepeatedTime:
        if wall.which is not None:
            side: Literal["earlier", "later"] = "earlier" if wall.which == "first" else "later"
            return Moment(plain.assume_tz(zone.name, disambiguation=side), zone)
        return Finding(
            "time-repeated",
            Level.STOP,
            f"{clock} happens twice in {zone.city}: the clocks go back over it.",
            f'Ask which is meant and write "{wall.local:%Y-%m-%d %H:%M} first" (before the clocks go back) or'
            f' "{wall.local:%Y-%m-%d %H:%M} second" (for hourmark when: --which first or --which second).',
            where,
            f"{zone.name}, clock change on that day",
            _SOURCE,
        )


def needless_which(wall: WallTime, at: Moment, where: str = "") -> tuple[Finding, ...]:
    """A warning when `which` was given for a clock time that happens once: the date or the zone may be mistaken."""
    if wall.which is None or at.which is not None:
        return ()
    return (
        Finding(
            "which-needless",
            Level.WARN,
            f'"{wall.which}" was given, but {wall.local:%H:%M} on {wall.local:%Y-%m-%d} happens once in {at.zone.city}; it changed nothing.',
            "Check the date and the zone.",
            where,
            f"{at.zone.name}, no clock change at that time",
            _SOURCE,
        ),
    )


def moment_from_utc(text: str, zone: Zone) -> Moment:
    """The moment of an RFC 3339 text in UTC, as `Moment.utc` writes it, on the clock of `zone`. Raises ValueError for other text."""
    return Moment(Instant.parse_iso(text).to_tz(zone.name), zone)


def elapsed(earlier: str, later: str) -> Span:
    """The time between two RFC 3339 texts in UTC; parts of a minute are dropped."""
    return Span(int((Instant.parse_iso(later) - Instant.parse_iso(earlier)).total("minutes")))


def shifted(at: str, minutes: int) -> str:
    """The instant so many minutes after an RFC 3339 text in UTC, or before it where they are negative, in the same writing."""
    return (Instant.parse_iso(at) + TimeDelta(minutes=minutes)).format_iso(unit="second")


def clock_change_between(earlier: Moment, later: Moment) -> Span:
    """By how much the clock of `earlier`'s zone is put forward between the two (negative: put back)."""
    change = later.seen_in(earlier.zone).at.offset - earlier.at.offset
    return Span(int(change.total("minutes")))


def _around_the_gap(plain: PlainDateTime, zone: Zone) -> tuple[str, str]:
    """The last clock minute before the skipped hour and the first after it; with dates where one lies on another day."""
    past = plain.assume_tz(zone.name, disambiguation="later") + TimeDelta(seconds=1)
    change = past.prev_transition()
    if change is None:
        raise AssertionError(f"{plain} is skipped in {zone.name}, yet no clock change precedes it")
    around = [at.to_plain().to_stdlib() for at in (change - TimeDelta(minutes=1), change)]
    dated = any(at.date() != plain.to_stdlib().date() for at in around)
    before, after = (f"{at:%H:%M} on {at:%Y-%m-%d}" if dated else f"{at:%H:%M}" for at in around)
    return before, after
