"""Time zones by name, from the pinned time-zone data package and never from the operating system's copy, which is often stale."""

import datetime as dt
import difflib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import tzdata
import whenever

from hourmark.finding import Finding, Level, Unreadable

PINNED = "2026f"
"""The release of the IANA time-zone data that this version was checked with; an older one stops every plan."""

PINNED_DATE = dt.date(2026, 10, 28)
"""The day release 2026f was published (IANA release announcement)."""

_AREAS = [
    "Africa",
    "America",
    "Antarctica",
    "Arctic",
    "Asia",
    "Atlantic",
    "Australia",
    "Europe",
    "Indian",
    "Pacific",
]  # the data's own continents and oceans

whenever.reset_tzpath([])


@dataclass(frozen=True, slots=True)
class Zone:
    """A zone of the time data, by its exact name such as "Europe/London"."""

    name: str

    @property
    def city(self) -> str:
        """The place that names the zone, as people say it: "New York"."""
        return self.name.rpartition("/")[2].replace("_", " ")


def time_data() -> str:
    """The release of the time-zone data in use, such as "2026f"."""
    release: str = tzdata.IANA_VERSION
    return release


def time_data_findings(as_of: dt.date | None = None) -> tuple[Finding, ...]:
    """A stop when the time data are older than the pinned release; an ask when `as_of` is over twelve months past it."""
    if time_data() < PINNED:
        return (
            Finding(
                "time-data-old",
                Level.STOP,
                f"The time-zone data are release {time_data()}; clocks in some zones have changed their rules since.",
                "Set hourmark up again (make setup), so that the pinned release is installed.",
                "time data",
                f"release {PINNED} or newer",
                "IANA time-zone database, release list",
            ),
        )
    if as_of and as_of > PINNED_DATE.replace(year=PINNED_DATE.year + 1) and time_data() == PINNED:
        return (
            Finding(
                "time-data-aged",
                Level.ASK,
                f"The time-zone data {PINNED} were published on {PINNED_DATE:%Y-%m-%d}, more than twelve months before this plan.",
                "Ask whether clock rules have changed where this patient or clinic is; install a newer release.",
                "time data",
                "twelve months",
                "common practice, no source",
            ),
        )
    return ()


@cache
def zone_names() -> frozenset[str]:
    """Every name of the form Area/City in the time data."""
    names = files("tzdata").joinpath("zones").read_text(encoding="utf-8").split()
    return frozenset(name for name in names if name.partition("/")[0] in _AREAS and "/" in name)


def parse_zone(text: object) -> Zone:
    """The zone of that exact name. Raises Unreadable for letters (EST), offsets, and names the data do not have."""
    if isinstance(text, str) and text in zone_names():
        return Zone(text)
    near = difflib.get_close_matches(str(text).replace(" ", "_"), zone_names(), n=1, cutoff=0.75)
    hint = (
        f'Did you mean "{near[0]}"?'
        if near
        else 'Write an Area/City name, for example "America/New_York" or "Europe/London".'
    )
    raise Unreadable(f'"{str(text)[:40]}" is not an Area/City name of the time data {time_data()}.', hint)
