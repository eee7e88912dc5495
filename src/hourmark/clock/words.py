"""Clock times in words that cannot be misheard: weekday, date, both clocks, the night's name, the zone."""

import datetime as dt
from dataclasses import dataclass

from hourmark.clock.moment import Moment
from hourmark.finding import Finding, Level

EVENING, MORNING = 18, 6
"""A night runs from 18:00 to 05:59 and is named by the two days it joins."""

_WORDING_SOURCE = "common practice, no source"


@dataclass(frozen=True, slots=True)
class ClockWords:
    """How one language says clock times. Days run from Monday, months from January; the rest are patterns with named places."""

    days: tuple[str, ...]
    months: tuple[str, ...]
    date: str
    am: str
    pm: str
    noon: str
    midnight: str
    between: str
    night: str
    first: str
    second: str
    first_short: str
    second_short: str
    place: str


ENGLISH = ClockWords(
    days=("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"),
    months=(
        *("January", "February", "March", "April", "May", "June", "July"),
        *("August", "September", "October", "November", "December"),
    ),
    date="{day} {number} {month} {year}",
    am="am",
    pm="pm",
    noon="12:00 noon",
    midnight="12:00 midnight",
    between="{clock} at the END of {before} and the START of {after}",
    night="the night of {evening} into {morning}",
    first="the FIRST time, before the clocks go back",
    second="the SECOND time, after the clocks go back",
    first_short="the FIRST time",
    second_short="the SECOND time",
    place="{city} time",
)


def said(at: Moment, words: ClockWords = ENGLISH) -> str:
    """A moment as it is read out.

    For example "Saturday 31 October 2026, 11:00 pm (23:00), the night of Saturday into Sunday, New York time". Midnight is
    placed between its two days, noon is called noon, and a clock time that happens twice says FIRST or SECOND.
    """
    wall = at.wall
    parts = [_midnight(wall, words)] if _is_midnight(wall) else [date_words(wall, words), _clock(wall, words)]
    if at.which:
        parts.append(words.first if at.which == "first" else words.second)
    if wall.hour >= EVENING or wall.hour < MORNING:
        parts.append(night_name(wall, words))
    parts.append(words.place.format(city=at.zone.city))
    return ", ".join(parts)


def night_name(wall: dt.datetime, words: ClockWords = ENGLISH) -> str:
    """The night a clock time belongs to: "the night of Saturday into Sunday"."""
    evening = wall if wall.hour >= EVENING else wall - dt.timedelta(days=1)
    morning = evening + dt.timedelta(days=1)
    return words.night.format(evening=words.days[evening.weekday()], morning=words.days[morning.weekday()])


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
                f"The injection falls on midnight: {_midnight(at.wall, ENGLISH)}.",
                "Ask whether the slot can move by a minute or more, so that the page says 11:59 pm or 12:01 am; until then read out both days.",
                where,
                "midnight belongs to two days in speech",
                _WORDING_SOURCE,
            )
        )
    return tuple(findings)


def clock_words(at: Moment, words: ClockWords = ENGLISH) -> str:
    """A clock time alone: "9:00 pm (21:00)", with FIRST or SECOND where it happens twice that night."""
    text = _clock(at.wall, words)
    which = {"first": words.first_short, "second": words.second_short}
    return f"{text}, {which[at.which]}" if at.which else text


def date_words(day: dt.date, words: ClockWords = ENGLISH) -> str:
    """A date with its weekday: "Saturday 31 October 2026"."""
    return words.date.format(
        day=words.days[day.weekday()], number=day.day, month=words.months[day.month - 1], year=day.year
    )


def _is_midnight(wall: dt.datetime) -> bool:
    return (wall.hour, wall.minute) == (0, 0)


def _midnight(wall: dt.datetime, words: ClockWords) -> str:
    yesterday = wall - dt.timedelta(days=1)
    return words.between.format(
        clock=_clock(wall, words), before=date_words(yesterday, words), after=date_words(wall, words)
    )


def _clock(wall: dt.datetime, words: ClockWords) -> str:
    if (wall.hour, wall.minute) == (12, 0):
        twelve = words.noon
    elif _is_midnight(wall):
        twelve = words.midnight
    else:
        twelve = f"{(wall.hour - 1) % 12 + 1}:{wall:%M} {words.am if wall.hour < 12 else words.pm}"
    return f"{twelve} ({wall:%H:%M})"
