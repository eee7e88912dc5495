"""Times on her phone: how long it is until a minute, said so that nobody has to subtract."""

import datetime as dt
from dataclasses import dataclass

from hourmark.handout.language import Language

_MINUTE, _HOUR = 60, 3600


@dataclass(frozen=True, slots=True)
class Countdown:
    """An instant, its clock time in 24 hours on her clock, and how far off it is now, in words."""

    at: str
    wall: str
    words: str
    over: bool


def seconds_between(earlier: str, later: str) -> int:
    """Elapsed seconds; negative where `later` comes first."""
    return int((dt.datetime.fromisoformat(later) - dt.datetime.fromisoformat(earlier)).total_seconds())


def countdown(at: str, wall: str, now: str, words: Language) -> Countdown:
    """How long it is until an instant."""
    left = seconds_between(now, at)
    return Countdown(at, wall, _said(left, words), left <= 0)


def _said(left: int, words: Language) -> str:
    hours, minutes = divmod(abs(left) // _MINUTE, 60)
    if left > 0:
        name = "hours" if hours else "minutes" if minutes else "soon"
    else:
        name = "past-hours" if hours else "past" if minutes else "now"
    pattern = words.tables["phone"][f"time-{name}"]
    return str(pattern.format(hours=hours, minutes=minutes))
