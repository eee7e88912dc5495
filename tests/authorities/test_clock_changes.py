"""Clock changes, read against:

- IANA tz database, release 2026f and its news since 2026a (British Columbia, Alberta, Northwest Territories, Manitoba, Morocco,
  Moldova, Cuba), and the rule lines of its zones;
- US Public Law 109-58 (15 USC 260a), EU Directive 2000/84/EC article 2, and the state laws and decrees it models (from memory).

The clock times of 2026 are those of the database's rules; where only the day of 2027 and 2028 was printed, the clock time is the
one of 2026 (derived). Ids: G2 transition table by zone and year, G2-rule by law, LAW for laws changed in 2026, G3 facts a
scheduler must get right. A part after the point tells cases of one row apart.
"""

import calendar
import datetime as dt
from zoneinfo import ZoneInfo

import pytest

from hourmark.clock import (
    PINNED,
    Moment,
    Span,
    Zone,
    clock_change_between,
    moment,
    parse_span,
    parse_wall,
    parse_zone,
    said,
    time_data,
    time_data_findings,
)
from hourmark.finding import Finding, Unreadable
from hourmark.plan import when

IANA = "IANA tz database 2026f"


def at(wall: str, zone: Zone) -> Moment:
    found = moment(parse_wall(wall), zone)
    assert isinstance(found, Moment), f"{wall} {zone.name}: {found}"
    return found


# zone, day whose clock skips, from, to, day whose clock repeats, from (the minute that first happens twice), to (first minute once again)
HOUR_2 = ("02:00", "03:00", "01:00", "02:00")
EU_1 = ("01:00", "02:00", "01:00", "02:00")
EU_2 = ("02:00", "03:00", "02:00", "03:00")
SOUTH = ("02:00", "03:00", "02:00", "03:00")
LORD_HOWE = ("02:00", "02:30", "01:30", "02:00")
MIDNIGHT = ("00:00", "01:00", "23:00", "00:00")
EASTER = ("22:00", "23:00", "21:00", "22:00")
CHATHAM = ("02:45", "03:45", "02:45", "03:45")


@pytest.mark.parametrize(
    ("name", "forward", "back", "clocks", "source"),
    [
        pytest.param("America/New_York", "2026-03-08", "2026-11-01", HOUR_2, IANA, id="G2-New_York-2026"),
        pytest.param(
            "America/New_York", "2027-03-14", "2027-11-07", HOUR_2, f"{IANA}; clock time derived", id="G2-New_York-2027"
        ),
        pytest.param(
            "America/New_York", "2028-03-12", "2028-11-05", HOUR_2, f"{IANA}; clock time derived", id="G2-New_York-2028"
        ),
        pytest.param("Europe/London", "2026-03-29", "2026-10-25", EU_1, IANA, id="G2-London-2026"),
        pytest.param(
            "Europe/London", "2027-03-28", "2027-10-31", EU_1, f"{IANA}; clock time derived", id="G2-London-2027"
        ),
        pytest.param(
            "Europe/London", "2028-03-26", "2028-10-29", EU_1, f"{IANA}; clock time derived", id="G2-London-2028"
        ),
        pytest.param("Europe/Berlin", "2026-03-29", "2026-10-25", EU_2, IANA, id="G2-Berlin-2026"),
        pytest.param(
            "Europe/Berlin", "2027-03-28", "2027-10-31", EU_2, f"{IANA}; clock time derived", id="G2-Berlin-2027"
        ),
        pytest.param(
            "Europe/Berlin", "2028-03-26", "2028-10-29", EU_2, f"{IANA}; clock time derived", id="G2-Berlin-2028"
        ),
        pytest.param("Europe/Paris", "2026-03-29", "2026-10-25", EU_2, IANA, id="G2-Paris-2026"),
        pytest.param(
            "Europe/Paris", "2027-03-28", "2027-10-31", EU_2, f"{IANA}; clock time derived", id="G2-Paris-2027"
        ),
        pytest.param(
            "Europe/Paris", "2028-03-26", "2028-10-29", EU_2, f"{IANA}; clock time derived", id="G2-Paris-2028"
        ),
        pytest.param("Europe/Madrid", "2026-03-29", "2026-10-25", EU_2, IANA, id="G2-Madrid-2026"),
        pytest.param(
            "Europe/Madrid", "2027-03-28", "2027-10-31", EU_2, f"{IANA}; clock time derived", id="G2-Madrid-2027"
        ),
        pytest.param(
            "Europe/Madrid", "2028-03-26", "2028-10-29", EU_2, f"{IANA}; clock time derived", id="G2-Madrid-2028"
        ),
        pytest.param("Australia/Sydney", "2026-10-04", "2026-04-05", SOUTH, IANA, id="G2-Sydney-2026"),
        pytest.param(
            "Australia/Sydney", "2027-10-03", "2027-04-04", SOUTH, f"{IANA}; clock time derived", id="G2-Sydney-2027"
        ),
        pytest.param(
            "Australia/Sydney", "2028-10-01", "2028-04-02", SOUTH, f"{IANA}; clock time derived", id="G2-Sydney-2028"
        ),
        pytest.param("Australia/Adelaide", "2026-10-04", "2026-04-05", SOUTH, IANA, id="G2-Adelaide-2026"),
        pytest.param(
            "Australia/Adelaide",
            "2027-10-03",
            "2027-04-04",
            SOUTH,
            f"{IANA}; clock time derived",
            id="G2-Adelaide-2027",
        ),
        pytest.param(
            "Australia/Adelaide",
            "2028-10-01",
            "2028-04-02",
            SOUTH,
            f"{IANA}; clock time derived",
            id="G2-Adelaide-2028",
        ),
        pytest.param("Australia/Lord_Howe", "2026-10-04", "2026-04-05", LORD_HOWE, IANA, id="G2-Lord_Howe-2026"),
        pytest.param(
            "Australia/Lord_Howe",
            "2027-10-03",
            "2027-04-04",
            LORD_HOWE,
            f"{IANA}; clock time derived",
            id="G2-Lord_Howe-2027",
        ),
        pytest.param(
            "Australia/Lord_Howe",
            "2028-10-01",
            "2028-04-02",
            LORD_HOWE,
            f"{IANA}; clock time derived",
            id="G2-Lord_Howe-2028",
        ),
        pytest.param("America/Santiago", "2026-09-06", "2026-04-04", MIDNIGHT, IANA, id="G2-Santiago-2026"),
        pytest.param(
            "America/Santiago",
            "2027-09-05",
            "2027-04-03",
            MIDNIGHT,
            f"{IANA}; clock time derived",
            id="G2-Santiago-2027",
        ),
        pytest.param(
            "America/Santiago",
            "2028-09-03",
            "2028-04-01",
            MIDNIGHT,
            f"{IANA}; clock time derived",
            id="G2-Santiago-2028",
        ),
        pytest.param("Pacific/Easter", "2026-09-05", "2026-04-04", EASTER, IANA, id="G2-Easter-2026"),
        pytest.param(
            "Pacific/Easter", "2027-09-04", "2027-04-03", EASTER, f"{IANA}; clock time derived", id="G2-Easter-2027"
        ),
        pytest.param(
            "Pacific/Easter", "2028-09-02", "2028-04-01", EASTER, f"{IANA}; clock time derived", id="G2-Easter-2028"
        ),
        pytest.param("Pacific/Auckland", "2026-09-27", "2026-04-05", SOUTH, IANA, id="G2-Auckland-2026"),
        pytest.param(
            "Pacific/Auckland", "2027-09-26", "2027-04-04", SOUTH, f"{IANA}; clock time derived", id="G2-Auckland-2027"
        ),
        pytest.param(
            "Pacific/Auckland", "2028-09-24", "2028-04-02", SOUTH, f"{IANA}; clock time derived", id="G2-Auckland-2028"
        ),
        pytest.param("Africa/Cairo", "2026-04-24", "2026-10-29", MIDNIGHT, IANA, id="G2-Cairo-2026"),
        pytest.param(
            "Africa/Cairo", "2027-04-30", "2027-10-28", MIDNIGHT, f"{IANA}; clock time derived", id="G2-Cairo-2027"
        ),
        pytest.param(
            "Africa/Cairo", "2028-04-28", "2028-10-26", MIDNIGHT, f"{IANA}; clock time derived", id="G2-Cairo-2028"
        ),
        pytest.param("Asia/Jerusalem", "2026-03-27", "2026-10-25", HOUR_2, IANA, id="G2-Jerusalem-2026"),
        pytest.param(
            "Asia/Jerusalem", "2027-03-26", "2027-10-31", HOUR_2, f"{IANA}; clock time derived", id="G2-Jerusalem-2027"
        ),
        pytest.param(
            "Asia/Jerusalem", "2028-03-24", "2028-10-29", HOUR_2, f"{IANA}; clock time derived", id="G2-Jerusalem-2028"
        ),
        pytest.param("Asia/Beirut", "2026-03-29", "2026-10-24", MIDNIGHT, IANA, id="G2-Beirut-2026"),
        pytest.param(
            "Asia/Beirut", "2027-03-28", "2027-10-30", MIDNIGHT, f"{IANA}; clock time derived", id="G2-Beirut-2027"
        ),
        pytest.param(
            "Asia/Beirut", "2028-03-26", "2028-10-28", MIDNIGHT, f"{IANA}; clock time derived", id="G2-Beirut-2028"
        ),
        pytest.param("Pacific/Chatham", "2026-09-27", "2026-04-05", CHATHAM, IANA, id="G2-Chatham-2026"),
        pytest.param(
            "Pacific/Chatham", "2027-09-26", "2027-04-04", CHATHAM, f"{IANA}; clock time derived", id="G2-Chatham-2027"
        ),
        pytest.param(
            "Pacific/Chatham", "2028-09-24", "2028-04-02", CHATHAM, f"{IANA}; clock time derived", id="G2-Chatham-2028"
        ),
    ],
)
def test_skipped_and_repeated_clock_times(
    name: str, forward: str, back: str, clocks: tuple[str, str, str, str], source: str
) -> None:
    zone = parse_zone(name)
    skip_from, skip_to, twice_from, twice_to = clocks
    size = _minutes(skip_to) - _minutes(skip_from)
    for minute in range(size):
        wall = f"{forward} {_clock(_minutes(skip_from) + minute)}"
        found = moment(parse_wall(wall), zone, "slot")
        assert isinstance(found, Finding), f"{source}: {wall} never happens in {name}"
        assert found.code == "time-skipped", source
        before = _clock((_minutes(skip_from) - 1) % 1440)
        after = skip_to
        if skip_from == "00:00":  # the minute before lies on another day, so that both days are named
            before += f" on {dt.date.fromisoformat(forward) - dt.timedelta(days=1)}"
            after += f" on {forward}"
        assert f"{before} is the last minute before, {after} the first after" in found.do, f"{source}: {found.do}"
    twice = (_minutes(twice_to) or 1440) - _minutes(twice_from)
    assert twice == size, f"{source}: as much repeats as is skipped"
    for minute in range(twice):
        wall = f"{back} {_clock(_minutes(twice_from) + minute)}"
        found = moment(parse_wall(wall), zone, "slot")
        assert isinstance(found, Finding), f"{source}: {wall} happens twice in {name}"
        assert found.code == "time-repeated", source
        first = moment(parse_wall(wall, "first"), zone)
        second = moment(parse_wall(wall, "second"), zone)
        assert isinstance(first, Moment), source
        assert isinstance(second, Moment), source
        assert second - first == Span(size), source
        assert (first.which, second.which) == ("first", "second"), source
        assert "the FIRST time, before the clocks go back" in said(first), source
        assert "the SECOND time, after the clocks go back" in said(second), source
    _once(f"{back} {_clock(_minutes(twice_from) - 1)}", zone, source)
    _once(f"{forward} {skip_to}", zone, source)


def _once(wall: str, zone: Zone, source: str) -> None:
    assert at(wall, zone).which is None, f"{source}: {wall} happens once in {zone.name}"


def _minutes(clock: str) -> int:
    hours, minutes = clock.split(":")
    return int(hours) * 60 + int(minutes)


def _clock(minutes: int) -> str:
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


@pytest.mark.parametrize(
    ("name", "offset", "source"),
    [
        pytest.param("America/Phoenix", "-07:00", IANA, id="G2-still-Phoenix"),
        pytest.param("Pacific/Honolulu", "-10:00", IANA, id="G2-still-Honolulu"),
        pytest.param("Australia/Brisbane", "+10:00", IANA, id="G2-still-Brisbane"),
        pytest.param("Asia/Tokyo", "+09:00", IANA, id="G2-still-Tokyo"),
        pytest.param("America/Sao_Paulo", "-03:00", IANA, id="G2-still-Sao_Paulo"),
        pytest.param("America/Asuncion", "-03:00", IANA, id="G2-still-Asuncion"),
        pytest.param("America/Mexico_City", "-06:00", IANA, id="G2-still-Mexico_City"),
        pytest.param("America/Punta_Arenas", "-03:00", IANA, id="G2-still-Punta_Arenas"),
        pytest.param("America/Coyhaique", "-03:00", IANA, id="G2-still-Coyhaique"),
        pytest.param("America/Whitehorse", "-07:00", IANA, id="G2-still-Whitehorse"),
        pytest.param("Asia/Kolkata", "+05:30", f"{IANA}; from memory", id="G2-still-Kolkata"),
        pytest.param("Asia/Dubai", "+04:00", f"{IANA}; from memory", id="G2-still-Dubai"),
        pytest.param("Asia/Singapore", "+08:00", f"{IANA}; from memory", id="G2-still-Singapore"),
        pytest.param("Australia/Perth", "+08:00", f"{IANA}; from memory", id="G2-still-Perth"),
        pytest.param(
            "America/Regina", "-06:00", "IANA tz database 2026f: Saskatchewan unchanged", id="G2-still-Regina"
        ),
    ],
)
def test_zones_whose_clocks_stand_still_from_2026_to_2028(name: str, offset: str, source: str) -> None:
    zone = parse_zone(name)
    day = dt.date(2026, 1, 1)
    while day < dt.date(2029, 1, 1):
        assert at(f"{day} 12:00", zone).offset == offset, f"{source}: {name} on {day}"
        day += dt.timedelta(days=7)


def _nth_sunday(year: int, month: int, nth: int) -> dt.date:
    """The nth Sunday of a month, the last one for -1."""
    sundays = [week[6] for week in calendar.monthcalendar(year, month) if week[6]]
    return dt.date(year, month, sundays[nth - 1 if nth > 0 else nth])


def _sunday_on_or_after(year: int, month: int, day: int) -> dt.date:
    found = dt.date(year, month, day)
    return found + dt.timedelta(days=6 - found.weekday())


YEARS = range(2026, 2036)
US_LAW = "15 USC 260a (Public Law 109-58): second Sunday of March, first Sunday of November, 02:00"
EU_LAW = "Directive 2000/84/EC article 2: last Sundays of March and October, 01:00 UTC"


@pytest.mark.parametrize(
    ("name", "skipped", "twice", "source"),
    [
        pytest.param("America/New_York", "02:30", "01:30", US_LAW, id="G2-rule-US.New_York"),
        pytest.param("America/Chicago", "02:30", "01:30", US_LAW, id="G2-rule-US.Chicago"),
        pytest.param("America/Los_Angeles", "02:30", "01:30", US_LAW, id="G2-rule-US.Los_Angeles"),
        pytest.param(
            "America/Toronto", "02:30", "01:30", f"{IANA}; most of Canada no longer follows", id="G2-rule-US.Toronto"
        ),
    ],
)
def test_the_us_rule(name: str, skipped: str, twice: str, source: str) -> None:
    for year in YEARS:
        _changes(name, _nth_sunday(year, 3, 2), skipped, _nth_sunday(year, 11, 1), twice, source)


@pytest.mark.parametrize(
    ("name", "skipped", "twice", "source"),
    [
        pytest.param("Europe/London", "01:30", "01:30", "UK Summer Time Order, from memory", id="G2-rule-EU.London"),
        pytest.param("Europe/Berlin", "02:30", "02:30", EU_LAW, id="G2-rule-EU.Berlin"),
        pytest.param("Europe/Zurich", "02:30", "02:30", f"{IANA}, as {EU_LAW}", id="G2-rule-EU.Zurich"),
        pytest.param("Europe/Oslo", "02:30", "02:30", f"{IANA}, as {EU_LAW}", id="G2-rule-EU.Oslo"),
        pytest.param("Europe/Athens", "03:30", "03:30", EU_LAW, id="G2-rule-EU.Athens"),
        pytest.param(
            "Europe/Chisinau",
            "03:30",
            "03:30",
            "IANA tz database 2026a: Moldova on the EU's instants",
            id="LAW-Moldova",
        ),
    ],
)
def test_the_european_rule(name: str, skipped: str, twice: str, source: str) -> None:
    for year in YEARS:
        _changes(name, _nth_sunday(year, 3, -1), skipped, _nth_sunday(year, 10, -1), twice, source)


AUSTRALIA = "IANA tz database 2026f, and state laws from memory: first Sundays of October and April"


@pytest.mark.parametrize(
    ("name", "skipped", "twice", "source"),
    [
        pytest.param("Australia/Sydney", "02:30", "02:30", AUSTRALIA, id="G2-rule-AU.Sydney"),
        pytest.param("Australia/Melbourne", "02:30", "02:30", AUSTRALIA, id="G2-rule-AU.Melbourne"),
        pytest.param("Australia/Hobart", "02:30", "02:30", AUSTRALIA, id="G2-rule-AU.Hobart"),
        pytest.param("Australia/Adelaide", "02:30", "02:30", AUSTRALIA, id="G2-rule-AU.Adelaide"),
        pytest.param("Australia/Lord_Howe", "02:15", "01:45", f"{AUSTRALIA}, half an hour", id="G2-rule-Lord_Howe"),
    ],
)
def test_the_australian_rule(name: str, skipped: str, twice: str, source: str) -> None:
    for year in YEARS:
        _changes(name, _nth_sunday(year, 10, 1), skipped, _nth_sunday(year, 4, 1), twice, source)


@pytest.mark.parametrize(
    ("name", "skipped", "twice", "source"),
    [pytest.param("America/Santiago", "00:30", "23:30", f"{IANA}, rule lines of Chile", id="G2-rule-Chile")],
)
def test_the_chilean_rule(name: str, skipped: str, twice: str, source: str) -> None:
    for year in YEARS:
        evening = _sunday_on_or_after(year, 4, 2) - dt.timedelta(days=1)
        _changes(name, _sunday_on_or_after(year, 9, 2), skipped, evening, twice, source)


@pytest.mark.parametrize(
    ("name", "skipped", "twice", "source"),
    [pytest.param("Pacific/Auckland", "02:30", "02:30", f"{IANA}, rule lines of New Zealand", id="G2-rule-NZ")],
)
def test_the_new_zealand_rule(name: str, skipped: str, twice: str, source: str) -> None:
    for year in YEARS:
        _changes(name, _nth_sunday(year, 9, -1), skipped, _nth_sunday(year, 4, 1), twice, source)


def _changes(name: str, forward: dt.date, skipped: str, back: dt.date, twice: str, source: str) -> None:
    for day, clock, code in ((forward, skipped, "time-skipped"), (back, twice, "time-repeated")):
        found = moment(parse_wall(f"{day} {clock}"), parse_zone(name))
        assert isinstance(found, Finding), f"{source}: {name} {day} {clock}"
        assert found.code == code, f"{source}: {name} {day} {clock}"


NEWS = "IANA tz database, news"


@pytest.mark.parametrize(
    ("name", "wall", "offset", "source"),
    [
        pytest.param(
            "America/Vancouver", "2026-03-07 12:00", "-08:00", f"{NEWS} of 2026b", id="LAW-British_Columbia.before"
        ),
        pytest.param(
            "America/Vancouver", "2026-03-09 12:00", "-07:00", f"{NEWS} of 2026b", id="LAW-British_Columbia.summer"
        ),
        pytest.param(
            "America/Vancouver", "2026-11-02 12:00", "-07:00", f"{NEWS} of 2026b", id="LAW-British_Columbia.autumn"
        ),
        pytest.param(
            "America/Vancouver", "2027-01-15 12:00", "-07:00", f"{NEWS} of 2026b", id="LAW-British_Columbia.winter"
        ),
        pytest.param("America/Edmonton", "2026-06-18 12:00", "-06:00", f"{NEWS} of 2026c", id="LAW-Alberta.summer"),
        pytest.param("America/Edmonton", "2026-11-02 12:00", "-06:00", f"{NEWS} of 2026c", id="LAW-Alberta.autumn"),
        pytest.param("America/Edmonton", "2027-01-15 12:00", "-06:00", f"{NEWS} of 2026c", id="LAW-Alberta.winter"),
        pytest.param(
            "America/Inuvik", "2026-08-21 12:00", "-06:00", f"{NEWS} of 2026d", id="LAW-Northwest_Territories.summer"
        ),
        pytest.param(
            "America/Inuvik", "2027-01-15 12:00", "-06:00", f"{NEWS} of 2026d", id="LAW-Northwest_Territories.winter"
        ),
        pytest.param("America/Winnipeg", "2026-10-31 12:00", "-05:00", f"{NEWS} of 2026e", id="LAW-Manitoba.before"),
        pytest.param("America/Winnipeg", "2026-11-02 12:00", "-05:00", f"{NEWS} of 2026e", id="LAW-Manitoba.autumn"),
        pytest.param("America/Winnipeg", "2027-01-15 12:00", "-05:00", f"{NEWS} of 2026e", id="LAW-Manitoba.winter"),
        pytest.param("Africa/Casablanca", "2026-09-20 00:59", "+01:00", f"{NEWS} of 2026c", id="LAW-Morocco.before"),
        pytest.param("Africa/Casablanca", "2026-09-21 09:00", "+00:00", f"{NEWS} of 2026c", id="LAW-Morocco.after"),
        pytest.param(
            "Africa/Casablanca",
            "2027-02-20 12:00",
            "+00:00",
            f"{NEWS} of 2026c, no change in Ramadan",
            id="LAW-Morocco.Ramadan",
        ),
        pytest.param("Africa/El_Aaiun", "2027-07-01 12:00", "+00:00", f"{NEWS} of 2026c", id="LAW-Morocco.El_Aaiun"),
        pytest.param("America/Havana", "2026-11-02 12:00", "-04:00", f"{NEWS} of 2026f", id="LAW-Cuba.2026"),
        pytest.param("America/Havana", "2027-07-01 12:00", "-04:00", f"{NEWS} of 2026f", id="LAW-Cuba.2027"),
        pytest.param("America/Havana", "2027-11-08 12:00", "-05:00", f"{NEWS} of 2026f", id="LAW-Cuba.after"),
        pytest.param(
            "America/Rankin_Inlet",
            "2027-07-01 12:00",
            "-05:00",
            f"{IANA}: Nunavut still changes",
            id="LAW-Nunavut.summer",
        ),
        pytest.param(
            "America/Rankin_Inlet",
            "2027-01-15 12:00",
            "-06:00",
            f"{IANA}: Nunavut still changes",
            id="LAW-Nunavut.winter",
        ),
    ],
)
def test_laws_changed_in_2026(name: str, wall: str, offset: str, source: str) -> None:
    assert at(wall, parse_zone(name)).offset == offset, f"{source}: {name} at {wall}"


@pytest.mark.parametrize(
    ("name", "wall", "source"),
    [pytest.param("Africa/Casablanca", "2026-09-20 01:30", f"derived from {NEWS} of 2026c", id="LAW-Morocco.repeated")],
)
def test_the_hour_that_a_new_law_repeats(name: str, wall: str, source: str) -> None:
    found = moment(parse_wall(wall), parse_zone(name))
    assert isinstance(found, Finding), source
    assert found.code == "time-repeated", source


@pytest.mark.parametrize(
    ("name", "slot", "local", "source"),
    [
        pytest.param(
            "America/Vancouver",
            "2026-11-02 10:00",
            "2026-10-31T22:00:00-07:00",
            f"{NEWS} of 2026b; derived",
            id="LAW-British_Columbia.slot",
        ),
        pytest.param(
            "America/Edmonton",
            "2026-11-02 10:00",
            "2026-10-31T22:00:00-06:00",
            f"{NEWS} of 2026c; derived",
            id="LAW-Alberta.slot",
        ),
        pytest.param(
            "America/Inuvik",
            "2026-11-02 10:00",
            "2026-10-31T22:00:00-06:00",
            f"{NEWS} of 2026d; derived",
            id="LAW-Northwest_Territories.slot",
        ),
        pytest.param(
            "America/Winnipeg",
            "2026-11-02 10:00",
            "2026-10-31T22:00:00-05:00",
            f"{NEWS} of 2026e; derived",
            id="LAW-Manitoba.slot",
        ),
        pytest.param(
            "America/Havana",
            "2026-11-02 10:00",
            "2026-10-31T22:00:00-04:00",
            f"{NEWS} of 2026f; derived",
            id="LAW-Cuba.slot",
        ),
        pytest.param(
            "America/Regina",
            "2026-11-02 10:00",
            "2026-10-31T22:00:00-06:00",
            f"{NEWS} of 2026f; derived",
            id="G2-still-Regina.slot",
        ),
        pytest.param(
            "Africa/Casablanca",
            "2026-09-21 09:00",
            "2026-09-19T22:00:00+01:00",
            f"{NEWS} of 2026c; derived",
            id="LAW-Morocco.slot",
        ),
        pytest.param(
            "Europe/Chisinau",
            "2026-10-26 10:00",
            "2026-10-24T23:00:00+03:00",
            f"{NEWS} of 2026a; derived",
            id="LAW-Moldova.slot",
        ),
    ],
)
def test_36_hours_before_a_slot_by_the_new_laws(name: str, slot: str, local: str, source: str) -> None:
    timed, _ = when(parse_wall(slot), parse_zone(name), parse_span("36 h"))
    assert timed is not None, source
    assert timed.patient.local == local, source


@pytest.mark.parametrize(
    ("letters", "source"),
    [
        pytest.param("EST", f"{IANA}: three letters are no place", id="G3-07.EST"),
        pytest.param("CST", "from memory: three places", id="G3-07.CST"),
        pytest.param("BST", "from memory: two places", id="G3-07.BST"),
        pytest.param("IST", "from memory: two places", id="G3-07.IST"),
        pytest.param("UTC-5", "common practice, no source: an offset has no summer", id="G3-07.offset"),
        pytest.param("Etc/GMT+5", "IANA tz database: the sign is turned round there", id="G3-07.etc"),
    ],
)
def test_letters_and_offsets_are_no_zone(letters: str, source: str) -> None:
    with pytest.raises(Unreadable) as refusal:
        parse_zone(letters)
    assert refusal.value.do, source


@pytest.mark.parametrize(
    ("name", "offset", "source"),
    [
        pytest.param("Asia/Kolkata", "+05:30", IANA, id="G3-08.Kolkata"),
        pytest.param("Australia/Adelaide", "+09:30", IANA, id="G3-08.Adelaide"),
        pytest.param("Pacific/Chatham", "+12:45", IANA, id="G3-08.Chatham"),
        pytest.param("Australia/Lord_Howe", "+10:30", IANA, id="G3-08.Lord_Howe"),
        pytest.param("Asia/Kathmandu", "+05:45", f"{IANA}; from memory", id="G3-08.Kathmandu"),
    ],
)
def test_offsets_of_half_and_quarter_hours(name: str, offset: str, source: str) -> None:
    assert at("2026-07-01 12:00", parse_zone(name)).offset == offset, source


@pytest.mark.parametrize(
    ("start", "end", "zone", "minutes", "source"),
    [
        pytest.param("2026-03-07 21:00", "2026-03-09 10:00", "America/New_York", 60, US_LAW, id="G3-01.forward"),
        pytest.param("2026-10-31 23:00", "2026-11-02 10:00", "America/New_York", -60, US_LAW, id="G3-01.back"),
        pytest.param("2026-10-03 19:30", "2026-10-05 08:00", "Australia/Lord_Howe", 30, AUSTRALIA, id="G3-01.half"),
    ],
)
def test_elapsed_time_is_not_wall_time(start: str, end: str, zone: str, minutes: int, source: str) -> None:
    earlier, later = at(start, parse_zone(zone)), at(end, parse_zone(zone))
    assert later - earlier == Span(36 * 60), source
    assert clock_change_between(earlier, later) == Span(minutes), source
    wall = later.wall - earlier.wall
    assert wall == dt.timedelta(hours=36, minutes=minutes), source


@pytest.mark.parametrize(
    ("zone", "slot", "naive", "elapsed", "source"),
    [
        pytest.param(
            "America/New_York", "2026-03-09 10:00", "2026-03-07 22:00", "35 h", f"derived from {US_LAW}", id="G3-02"
        )
    ],
)
def test_subtracting_within_one_zone_in_plain_python_is_an_hour_wrong(
    zone: str, slot: str, naive: str, elapsed: str, source: str
) -> None:
    there = dt.datetime.fromisoformat(slot).replace(tzinfo=ZoneInfo(zone))
    assert f"{there - dt.timedelta(hours=36):%Y-%m-%d %H:%M}" == naive, source
    assert at(slot, parse_zone(zone)) - at(naive, parse_zone(zone)) == parse_span(elapsed), source
    timed, _ = when(parse_wall(slot), parse_zone(zone), parse_span("36 h"))
    assert timed is not None, source
    assert timed.patient.local != naive, source


@pytest.mark.parametrize(
    ("release", "source"), [pytest.param("2026f", "IANA release list: newest on 2026-11-25", id="G3-12")]
)
def test_the_time_data_are_the_release_that_was_read(release: str, source: str) -> None:
    assert time_data() >= PINNED >= release, source
    assert time_data_findings(dt.date(2026, 11, 25)) == (), source
    aged = time_data_findings(dt.date(2028, 1, 1))
    assert time_data() > PINNED or [finding.code for finding in aged] == ["time-data-aged"], source


def test_what_a_repeated_time_asks_for_can_be_written_everywhere() -> None:
    """Tables such as as_of or opened have no which: the form with the word behind the time is read in all of them."""
    found = moment(parse_wall("2026-11-01 01:30"), parse_zone("America/New_York"), "as_of")
    assert isinstance(found, Finding)
    for which in ("first", "second"):
        assert f'"2026-11-01 01:30 {which}"' in found.do
        assert f"--which {which}" in found.do
    assert "which = " not in found.do
