"""Reading the printed words: numbers, clock times, zones, syringes. Everything unclear raises Illegible."""

import datetime as dt
import re
from decimal import Decimal
from importlib.resources import files
from zoneinfo import ZoneInfo

_MONTHS = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
]
_DAYS = ["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"]


class Illegible(Exception):
    """Printed words that cannot be read, or that contradict each other."""


def number(text: str) -> Decimal:
    """A printed number, commas removed."""
    if not re.fullmatch(r"\d{1,3}(,\d{3})*(\.\d*[1-9])?|0\.\d*[1-9]", text):
        raise Illegible(f'"{text}" is not a number printed as it should be')
    return Decimal(text.replace(",", ""))


def dose(text: str) -> tuple[Decimal, str]:
    """A printed dose in micrograms or units, with its kind "mass" or "units"."""
    match = re.fullmatch(r"([\d.,]+) (units?|mg|mcg)", text)
    if match is None:
        raise Illegible(f'"{text}" is not a dose')
    value = number(match[1])
    if match[2].startswith("unit"):
        return value, "units"
    return (value * 1000 if match[2] == "mg" else value), "mass"


def ordered_dose(text: str) -> tuple[Decimal, str]:
    """A dose as an order may word it, with or without commas and with the longer unit names."""
    value, _, unit = text.partition(" ")
    unit = {"microgram": "mcg", "micrograms": "mcg"}.get(unit, unit)
    return dose(f"{Decimal(value.replace(',', '')):,f} {unit}")


def span(text: str) -> dt.timedelta:
    """Elapsed time as an order words it: "36 h", "35 h 30 min", "35.5 h", "20 min"."""
    words = text.split()
    if not words or len(words) % 2:
        raise Illegible(f'"{text}" is no span')
    total = Decimal(0)
    for value, unit in zip(words[::2], words[1::2], strict=True):
        if unit not in ("h", "hour", "hours", "min"):
            raise Illegible(f'"{text}" is no span')
        total += Decimal(value.replace(",", "")) * (1 if unit == "min" else 60)
    return dt.timedelta(minutes=float(total))


def wall_instant(text: str, which: str | None, zone_name: str) -> dt.datetime:
    """The instant, in UTC, of a wall time such as "2026-11-20 09:00"."""
    local = dt.datetime.strptime(text, "%Y-%m-%d %H:%M")
    return local.replace(tzinfo=zone(zone_name), fold=int(which == "second")).astimezone(dt.UTC)


def millilitres(text: str) -> Decimal:
    """A printed volume in mL."""
    match = re.fullmatch(r"([\d.,]+) mL", text)
    if match is None:
        raise Illegible(f'"{text}" is not a volume')
    return number(match[1])


def strength(text: str) -> tuple[Decimal, str, str]:
    """A printed strength: amount, kind, and what it is in: "vial", "syringe", "spray" or "mL"."""
    if match := re.fullmatch(r"(.+) in each (vial|syringe|spray)", text):
        return (*dose(match[1]), match[2])
    if match := re.fullmatch(r"(.+)/mL", text):
        return (*dose(match[1]), "mL")
    raise Illegible(f'"{text}" is not a strength')


def zone(name: str) -> ZoneInfo:
    """The zone of that name from the time-zone data package, never the operating system's copy."""
    try:
        with files("tzdata").joinpath("zoneinfo", *name.split("/")).open("rb") as file:
            return ZoneInfo.from_file(file, key=name)
    except (OSError, ValueError) as error:
        raise Illegible(f'"{name}" is not a zone') from error


_SAID = re.compile(
    r"(?:(?P<day>\w+) (?P<date>\d{1,2} \w+ \d{4}), (?P<twelve>\d{1,2}:\d{2} (?:am|pm|noon)) \((?P<clock>\d{2}:\d{2})\)"
    r"|12:00 midnight \(00:00\) at the END of (?P<end>\w+ \d{1,2} \w+ \d{4}) and the START of (?P<start>\w+ \d{1,2} \w+ \d{4}))"
    r"(?:, the (?P<which>FIRST|SECOND) time, (?:before|after) the clocks go back)?"
    r"(?:, the night of (?P<evening>\w+) into (?P<morning>\w+))?"
    r", (?P<city>.+) time"
)


def instant(said: str, zone_name: str) -> dt.datetime:
    """The instant, in UTC, of a clock time as it is read out; every redundant word must agree with the others."""
    match = _SAID.fullmatch(said)
    if match is None:
        raise Illegible(f'"{said}" is not a time as it is read out')
    local = (
        _midnight(match["end"], match["start"])
        if match["start"]
        else _clock(match["day"], match["date"], match["twelve"], match["clock"])
    )
    _night(local, match["evening"], match["morning"])
    if match["city"] != zone_name.rpartition("/")[2].replace("_", " "):
        raise Illegible(f'"{match["city"]} time" is not {zone_name}')
    here = zone(zone_name)
    first, second = (local.replace(tzinfo=here, fold=fold).astimezone(dt.UTC) for fold in (0, 1))
    if first.astimezone(here).replace(tzinfo=None) != local:
        raise Illegible(f"{local:%H:%M} does not exist on that day in {zone_name}")
    if (first != second) != (match["which"] is not None):
        raise Illegible(
            f"{local:%H:%M} in {zone_name}: FIRST or SECOND belongs to a time that happens twice, and to no other"
        )
    return second if match["which"] == "SECOND" else first


def _date(text: str) -> dt.datetime:
    day, month, year = text.split()
    if month not in _MONTHS:
        raise Illegible(f'"{month}" is not a month')
    return dt.datetime(int(year), _MONTHS.index(month) + 1, int(day))


def _clock(day: str, date: str, twelve: str, clock: str) -> dt.datetime:
    local = _date(date) + dt.timedelta(hours=int(clock[:2]), minutes=int(clock[3:]))
    if _DAYS[local.weekday()] != day:
        raise Illegible(f"{date} is a {_DAYS[local.weekday()]}, not a {day}")
    hour = int(clock[:2])
    half = "noon" if (hour, clock[3:]) == (12, "00") else "am" if hour < 12 else "pm"
    if twelve != f"{hour % 12 or 12}:{clock[3:]} {half}":
        raise Illegible(f"{twelve} is not {clock}")
    return local


def _midnight(end: str, start: str) -> dt.datetime:
    before, after = (_date(text.partition(" ")[2]) for text in (end, start))
    if after - before != dt.timedelta(days=1):
        raise Illegible(f"{end} and {start} do not meet at midnight")
    for text, day in ((end, before), (start, after)):
        if not text.startswith(_DAYS[day.weekday()]):
            raise Illegible(f"{text} is a {_DAYS[day.weekday()]}")
    return after


def _night(local: dt.datetime, evening: str | None, morning: str | None) -> None:
    at_night = local.hour >= 18 or local.hour < 6
    if at_night != (evening is not None):
        raise Illegible(f"{local:%H:%M} and the name of a night do not go together")
    if evening is not None:
        first = local if local.hour >= 18 else local - dt.timedelta(days=1)
        if [evening, morning] != [_DAYS[first.weekday()], _DAYS[(first.weekday() + 1) % 7]]:
            raise Illegible(f"{local:%A %H:%M} is not in the night of {evening} into {morning}")
