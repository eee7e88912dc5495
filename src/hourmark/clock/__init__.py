"""Time: zones of the pinned time data, local clock times that exist once, elapsed hours, and times said so that nobody mishears."""

from hourmark.clock.moment import (
    FIRST_YEAR,
    LAST_YEAR,
    Moment,
    WallTime,
    Which,
    clock_change_between,
    elapsed,
    moment,
    moment_from_utc,
    needless_which,
    parse_wall,
    shifted,
)
from hourmark.clock.span import Span, parse_span
from hourmark.clock.words import (
    ENGLISH,
    MORNING,
    ClockWords,
    clock_words,
    date_words,
    night_name,
    said,
    shift_proposals,
)
from hourmark.clock.zones import PINNED, PINNED_DATE, Zone, parse_zone, time_data, time_data_findings

__all__ = [
    "ENGLISH",
    "FIRST_YEAR",
    "LAST_YEAR",
    "MORNING",
    "PINNED",
    "PINNED_DATE",
    "ClockWords",
    "Moment",
    "Span",
    "WallTime",
    "Which",
    "Zone",
    "clock_change_between",
    "clock_words",
    "date_words",
    "elapsed",
    "moment",
    "moment_from_utc",
    "needless_which",
    "night_name",
    "parse_span",
    "parse_wall",
    "parse_zone",
    "said",
    "shift_proposals",
    "shifted",
    "time_data",
    "time_data_findings",
]
