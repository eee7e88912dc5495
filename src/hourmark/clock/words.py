"""Clock times in words that cannot be misheard: weekday, date, both clocks, the night's name, the zone."""

import datetime as dt

from hourmark.clock.moment import Moment
from hourmark.finding import Finding, Level

EVENING, MORNING = 18, 6
"""A night runs from 18:00 to 05:59 and is named by the two days it joins."""

_WORDING_SOURCE = "common practice, no source"


def said(at: Moment) -> str:
    """A moment as it is read out.

    For example "Saturday 31 October 2026, 11:00 pm (23:00), the night of Saturday into Sunday, New York time". Midnight is
    placed between its two days, noon is called noon, and a clock time that happens twice says FIRST or SECOND.
    """
    wall = at.wall
    parts = [_midnight(wall)] if _is_midnight(wall) else [_day(wall), f"{_clock(wall)} ({wall:%H:%M})"]
    if at.which:
        parts.append(
            "the FIRST time, before the clocks go back"
            if at.which == "first"
            else "the SECOND time, after the clocks go back"
        )
    if wall.hour >= EVENING or wall.hour < MORNING:
        parts.append(night_name(wall))
    parts.append(f"{at.zone.city} time")
    return ", ".join(parts)


def night_name(wall: dt.datetime) -> str:
    """The night a clock time belongs to: "the night of Saturday into Sunday"."""
    evening = wall if wall.hour >= EVENING else wall - dt.timedelta(days=1)
    return f"the night of {evening:%A} into {evening + dt.timedelta(days=1):%A}"


def shift_proposals(at: Moment, where: str = "") -> tuple[Finding, ...]:
    """An ask for a repeated clock time and a note for exact midnight; the minute itself never changes here."""
    findings = []
    if at.which:
        findings.append(
            Finding(
                "injection-repeated-hour",
                Level.ASK,
                f"The injection falls on {at.wall:%H:%M}, which happens twice that night in {at.zone.city}; it is the {at.which.upper()} of the two.",
                "Ask the prescriber and theatre whether the slot can move by 30 to 60 min; otherwise say FIRST or SECOND aloud and set no alarm on a clock that is changed by hand.",
                where,
                f"{at.zone.name}, clock change on that night",
                "IANA time-zone database",
            )
        )
    if _is_midnight(at.wall):
        findings.append(
            Finding(
                "injection-midnight",
                Level.NOTE,
                f"The injection falls on midnight: {_midnight(at.wall)}.",
                "Ask whether the slot can move by a minute or more, so that the page says 11:59 pm or 12:01 am; until then read out both days.",
                where,
                "midnight belongs to two days in speech",
                _WORDING_SOURCE,
            )
        )
    return tuple(findings)


def clock_words(at: Moment) -> str:
    """A clock time alone: "9:00 pm (21:00)", with FIRST or SECOND where it happens twice that night."""
    text = f"{_clock(at.wall)} ({at.wall:%H:%M})"
    return f"{text}, the {at.which.upper()} time" if at.which else text


def _day(wall: dt.datetime) -> str:
    return f"{wall:%A} {wall.day} {wall:%B %Y}"


def _is_midnight(wall: dt.datetime) -> bool:
    return (wall.hour, wall.minute) == (0, 0)


def _midnight(wall: dt.datetime) -> str:
    yesterday = wall - dt.timedelta(days=1)
    return f"12:00 midnight (00:00) at the END of {_day(yesterday)} and the START of {_day(wall)}"


def _clock(wall: dt.datetime) -> str:
    if (wall.hour, wall.minute) == (12, 0):
        return "12:00 noon"
    if _is_midnight(wall):
        return "12:00 midnight"
    return f"{(wall.hour - 1) % 12 + 1}:{wall:%M} {'am' if wall.hour < 12 else 'pm'}"
