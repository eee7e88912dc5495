"""36 hours of elapsed time before a slot, computed from the rules of:

- IANA tz database 2026f (British Columbia's row agrees with its news of 2026b: UTC-7 the year round from 2026-03-09).

Every answer here is derived from those rules; beside each stands what subtracting on the wall clock would give and how long that
really is. Ids: G4 worked cases, patients elsewhere and weeks out of step, CJ cases of clock changes and travel, J9-08 and J9-09
worked numbers. A part after the point tells cases of one row apart.
"""

import datetime as dt

import pytest

from hourmark.clock import Moment, moment, parse_span, parse_wall, parse_zone, said
from hourmark.clock.moment import Which
from hourmark.finding import Finding, Unreadable
from hourmark.plan import when

IANA = "derived from the rules of IANA tz database 2026f"
LEAD = parse_span("36 h")


@pytest.mark.parametrize(
    ("zone", "slot", "local", "which", "utc", "wall_answer", "source"),
    [
        pytest.param(
            "America/New_York",
            "2026-03-09 10:00",
            "2026-03-07T21:00:00-05:00",
            None,
            "2026-03-08T02:00:00Z",
            "35 h",
            IANA,
            id="G01",
        ),
        pytest.param(
            "America/New_York",
            "2027-03-15 14:30",
            "2027-03-14T01:30:00-05:00",
            None,
            "2027-03-14T06:30:00Z",
            "never",
            IANA,
            id="G02",
        ),
        pytest.param(
            "America/New_York",
            "2027-03-15 15:00",
            "2027-03-14T03:00:00-04:00",
            None,
            "2027-03-14T07:00:00Z",
            "36 h",
            IANA,
            id="G03",
        ),
        pytest.param(
            "America/New_York",
            "2026-11-02 10:00",
            "2026-10-31T23:00:00-04:00",
            None,
            "2026-11-01T03:00:00Z",
            "37 h",
            IANA,
            id="G04",
        ),
        pytest.param(
            "America/New_York",
            "2026-11-02 12:30",
            "2026-11-01T01:30:00-04:00",
            "first",
            "2026-11-01T05:30:00Z",
            "37 h",
            IANA,
            id="G05",
        ),
        pytest.param(
            "America/New_York",
            "2026-11-02 13:30",
            "2026-11-01T01:30:00-05:00",
            "second",
            "2026-11-01T06:30:00Z",
            "37 h if first",
            IANA,
            id="G06",
        ),
        pytest.param(
            "Europe/London",
            "2027-03-29 09:00",
            "2027-03-27T20:00:00+00:00",
            None,
            "2027-03-27T20:00:00Z",
            "35 h",
            IANA,
            id="G07",
        ),
        pytest.param(
            "Europe/Berlin",
            "2026-10-26 13:30",
            "2026-10-25T02:30:00+02:00",
            "first",
            "2026-10-25T00:30:00Z",
            "37 h",
            IANA,
            id="G08",
        ),
        pytest.param(
            "Europe/Berlin",
            "2026-10-26 14:30",
            "2026-10-25T02:30:00+01:00",
            "second",
            "2026-10-25T01:30:00Z",
            "37 h if first",
            IANA,
            id="G09",
        ),
        pytest.param(
            "Europe/Berlin",
            "2027-03-29 14:30",
            "2027-03-28T01:30:00+01:00",
            None,
            "2027-03-28T00:30:00Z",
            "never",
            IANA,
            id="G10",
        ),
        pytest.param(
            "Australia/Sydney",
            "2026-10-05 08:00",
            "2026-10-03T19:00:00+10:00",
            None,
            "2026-10-03T09:00:00Z",
            "35 h",
            IANA,
            id="G11",
        ),
        pytest.param(
            "Australia/Sydney",
            "2027-04-05 08:00",
            "2027-04-03T21:00:00+11:00",
            None,
            "2027-04-03T10:00:00Z",
            "37 h",
            IANA,
            id="G12",
        ),
        pytest.param(
            "Australia/Lord_Howe",
            "2026-10-05 08:00",
            "2026-10-03T19:30:00+10:30",
            None,
            "2026-10-03T09:00:00Z",
            "35.5 h",
            IANA,
            id="G13",
        ),
        pytest.param(
            "Australia/Lord_Howe",
            "2026-10-05 14:15",
            "2026-10-04T01:45:00+10:30",
            None,
            "2026-10-03T15:15:00Z",
            "never",
            IANA,
            id="G14",
        ),
        pytest.param(
            "Australia/Lord_Howe",
            "2027-04-05 08:00",
            "2027-04-03T20:30:00+11:00",
            None,
            "2027-04-03T09:30:00Z",
            "36.5 h",
            IANA,
            id="G15",
        ),
        pytest.param(
            "Australia/Lord_Howe",
            "2027-04-05 13:15",
            "2027-04-04T01:45:00+11:00",
            "first",
            "2027-04-03T14:45:00Z",
            "36.5 h",
            IANA,
            id="G16.first",
        ),
        pytest.param(
            "Australia/Lord_Howe",
            "2027-04-05 13:45",
            "2027-04-04T01:45:00+10:30",
            "second",
            "2027-04-03T15:15:00Z",
            "36.5 h if first",
            IANA,
            id="G16.second",
        ),
        pytest.param(
            "Asia/Kolkata",
            "2026-10-26 10:00",
            "2026-10-24T22:00:00+05:30",
            None,
            "2026-10-24T16:30:00Z",
            "36 h",
            IANA,
            id="G19",
        ),
        pytest.param(
            "America/Phoenix",
            "2026-03-09 10:00",
            "2026-03-07T22:00:00-07:00",
            None,
            "2026-03-08T05:00:00Z",
            "36 h",
            IANA,
            id="G20",
        ),
        pytest.param(
            "America/Sao_Paulo",
            "2027-02-22 07:30",
            "2027-02-20T19:30:00-03:00",
            None,
            "2027-02-20T22:30:00Z",
            "36 h",
            IANA,
            id="G21",
        ),
        pytest.param(
            "Asia/Jerusalem",
            "2027-03-28 08:00",
            "2027-03-26T20:00:00+03:00",
            None,
            "2027-03-26T17:00:00Z",
            "36 h",
            IANA,
            id="G23",
        ),
        pytest.param(
            "America/Vancouver",
            "2026-11-02 10:00",
            "2026-10-31T22:00:00-07:00",
            None,
            "2026-11-01T05:00:00Z",
            "36 h",
            IANA,
            id="G25",
        ),
        pytest.param(
            "America/New_York",
            "2028-03-01 08:00",
            "2028-02-28T20:00:00-05:00",
            None,
            "2028-02-29T01:00:00Z",
            "36 h",
            IANA,
            id="G28",
        ),
        pytest.param(
            "America/New_York",
            "2027-01-01 09:30",
            "2026-12-30T21:30:00-05:00",
            None,
            "2026-12-31T02:30:00Z",
            "36 h",
            IANA,
            id="G29",
        ),
    ],
)
def test_36_hours_before_a_slot(
    zone: str, slot: str, local: str, which: Which | None, utc: str, wall_answer: str, source: str
) -> None:
    timed, findings = when(parse_wall(slot), parse_zone(zone), LEAD)
    assert timed is not None, f"{source}: {findings}"
    assert timed.patient.local == local, source
    assert timed.patient.utc == utc, source
    assert timed.patient.which == which, source
    assert timed.lead == LEAD, source
    asked = "injection-repeated-hour" in [finding.code for finding in findings]
    assert asked == (which is not None), f"{source}: a repeated hour is asked about"
    assert f"{timed.patient.wall:%A}" in said(timed.patient), source
    _wall_answer(zone, slot, wall_answer, source)
    changed = "clock-change-between" in [finding.code for finding in findings]
    assert changed == (timed.patient.offset != _slot(slot, zone).offset), f"{source}: a clock change is said"


def _slot(slot: str, zone: str) -> Moment:
    found = moment(parse_wall(slot), parse_zone(zone))
    assert isinstance(found, Moment), slot
    return found


def _wall_answer(zone: str, slot: str, expected: str, source: str) -> None:
    """Subtracting on the wall: so many elapsed hours, or a time that never happens, or one that happens twice."""
    naive = f"{dt.datetime.fromisoformat(slot) - dt.timedelta(hours=36):%Y-%m-%d %H:%M}"
    found = moment(parse_wall(naive), parse_zone(zone))
    if expected == "never":
        assert isinstance(found, Finding), source
        assert found.code == "time-skipped", source
        return
    if expected.endswith(" if first"):
        assert isinstance(found, Finding), source
        assert found.code == "time-repeated", source
        found = moment(parse_wall(naive, "first"), parse_zone(zone))
    assert isinstance(found, Moment), source
    assert _slot(slot, zone) - found == parse_span(expected.removesuffix(" if first")), source


@pytest.mark.parametrize(
    ("zone", "slot", "patient", "local", "source"),
    [
        pytest.param(
            "America/New_York", "2026-11-02 10:00", "America/Los_Angeles", "2026-10-31T20:00:00-07:00", IANA, id="G31"
        ),
        pytest.param(
            "America/New_York", "2026-11-02 10:00", "America/Phoenix", "2026-10-31T20:00:00-07:00", IANA, id="G32"
        ),
        pytest.param(
            "America/New_York", "2026-11-02 10:00", "America/Santiago", "2026-11-01T00:00:00-03:00", IANA, id="G33"
        ),
        pytest.param(
            "America/New_York", "2026-11-02 10:00", "Europe/London", "2026-11-01T03:00:00+00:00", IANA, id="G34"
        ),
        pytest.param(
            "America/New_York", "2026-11-02 10:00", "Asia/Kolkata", "2026-11-01T08:30:00+05:30", IANA, id="G35"
        ),
        pytest.param(
            "Europe/London", "2027-03-29 09:00", "America/New_York", "2027-03-27T16:00:00-04:00", IANA, id="G37"
        ),
        pytest.param(
            "Europe/Berlin", "2027-03-29 08:30", "Europe/London", "2027-03-27T18:30:00+00:00", IANA, id="G38.London"
        ),
        pytest.param(
            "Europe/Berlin", "2027-03-29 08:30", "Asia/Jerusalem", "2027-03-27T21:30:00+03:00", IANA, id="G38.Jerusalem"
        ),
        pytest.param(
            "Australia/Sydney",
            "2026-10-05 08:00",
            "Australia/Brisbane",
            "2026-10-03T19:00:00+10:00",
            IANA,
            id="G39.Brisbane",
        ),
        pytest.param(
            "Australia/Sydney",
            "2026-10-05 08:00",
            "Asia/Singapore",
            "2026-10-03T17:00:00+08:00",
            IANA,
            id="G39.Singapore",
        ),
        pytest.param(
            "Australia/Sydney", "2027-04-05 08:00", "Australia/Perth", "2027-04-03T18:00:00+08:00", IANA, id="G40"
        ),
        pytest.param(
            "America/Phoenix", "2026-03-09 10:00", "America/Denver", "2026-03-07T22:00:00-07:00", IANA, id="G42"
        ),
    ],
)
def test_a_patient_elsewhere(zone: str, slot: str, patient: str, local: str, source: str) -> None:
    timed, findings = when(parse_wall(slot), parse_zone(zone), LEAD, parse_zone(patient))
    assert timed is not None, source
    assert timed.patient.local == local, source
    assert timed.patient.utc == timed.clinic.utc, source
    differ = "clocks-differ" in [finding.code for finding in findings]
    assert differ == (timed.patient.wall != timed.clinic.wall), f"{source}: two clocks are both said"
    midnight = "injection-midnight" in [finding.code for finding in findings]
    assert midnight == ("T00:00" in local), f"{source}: midnight is said"


@pytest.mark.parametrize(
    ("first", "last", "source"),
    [
        pytest.param("2026-03-08", "2026-03-29", IANA, id="G4-weeks-2026-spring"),
        pytest.param("2027-03-14", "2027-03-28", IANA, id="G4-weeks-2027-spring"),
        pytest.param("2028-03-12", "2028-03-26", IANA, id="G4-weeks-2028-spring"),
        pytest.param("2026-10-25", "2026-11-01", IANA, id="G4-weeks-2026-autumn"),
        pytest.param("2027-10-31", "2027-11-07", IANA, id="G4-weeks-2027-autumn"),
        pytest.param("2028-10-29", "2028-11-05", IANA, id="G4-weeks-2028-autumn"),
    ],
)
def test_weeks_in_which_new_york_and_london_are_out_of_step(first: str, last: str, source: str) -> None:
    start, end = dt.date.fromisoformat(first), dt.date.fromisoformat(last)
    for days in range(-7, (end - start).days + 8):
        day = start + dt.timedelta(days=days)
        apart = _slot(f"{day} 12:00", "America/New_York") - _slot(f"{day} 12:00", "Europe/London")
        assert apart == parse_span("4 h" if start <= day < end else "5 h"), f"{source}: {day}"


@pytest.mark.parametrize(
    ("zone", "slot", "local", "source"),
    [
        pytest.param("America/New_York", "2026-03-09 08:00", "2026-03-07T19:00:00-05:00", IANA, id="CJ-1"),
        pytest.param("America/New_York", "2026-11-02 08:00", "2026-10-31T21:00:00-04:00", IANA, id="CJ-2"),
        pytest.param("Europe/Paris", "2026-03-30 08:00", "2026-03-28T19:00:00+01:00", IANA, id="CJ-3"),
        pytest.param("Europe/Paris", "2026-10-26 08:00", "2026-10-24T21:00:00+02:00", IANA, id="CJ-4"),
        pytest.param("America/New_York", "2026-03-08 09:30", "2026-03-06T20:30:00-05:00", IANA, id="CJ-5"),
        pytest.param("America/New_York", "2026-11-02 12:30", "2026-11-01T01:30:00-04:00", IANA, id="CJ-6"),
        pytest.param("America/New_York", "2026-11-02 13:30", "2026-11-01T01:30:00-05:00", IANA, id="CJ-7"),
        pytest.param("America/New_York", "2026-03-09 14:00", "2026-03-08T01:00:00-05:00", IANA, id="CJ-8"),
        pytest.param(
            "America/New_York", "2025-11-02 09:00", "2025-10-31T22:00:00-04:00", IANA, id="J9-08.autumn_Sunday"
        ),
        pytest.param(
            "America/New_York", "2026-03-08 09:00", "2026-03-06T20:00:00-05:00", IANA, id="J9-08.spring_Sunday"
        ),
        pytest.param("Europe/London", "2026-03-29 08:30", "2026-03-27T19:30:00+00:00", IANA, id="J9-08.London"),
        pytest.param(
            "America/New_York", "2025-11-03 08:00", "2025-11-01T21:00:00-04:00", IANA, id="J9-08.autumn_Monday"
        ),
    ],
)
def test_nights_on_which_the_clocks_change(zone: str, slot: str, local: str, source: str) -> None:
    timed, findings = when(parse_wall(slot), parse_zone(zone), LEAD)
    assert timed is not None, source
    assert timed.patient.local == local, source
    changed = "clock-change-between" in [finding.code for finding in findings]
    assert changed == (timed.patient.offset != _slot(slot, zone).offset), f"{source}: said unless it is over by then"


@pytest.mark.parametrize(
    ("zone", "slot", "naive", "elapsed", "source"),
    [
        pytest.param("America/New_York", "2025-11-02 09:00", "2025-10-31 21:00", "37 h", IANA, id="J9-08.wall_37"),
        pytest.param("America/New_York", "2026-03-08 09:00", "2026-03-06 21:00", "35 h", IANA, id="J9-08.wall_35"),
        pytest.param("America/New_York", "2026-03-09 08:00", "2026-03-07 20:00", "35 h", IANA, id="CJ-1.wall"),
        pytest.param("America/New_York", "2026-11-02 08:00", "2026-10-31 20:00", "37 h", IANA, id="CJ-2.wall"),
        pytest.param("America/New_York", "2025-11-03 00:00", "2025-11-02 00:00", "25 h", IANA, id="J9-08.long_Sunday"),
    ],
)
def test_what_the_wall_clock_hides(zone: str, slot: str, naive: str, elapsed: str, source: str) -> None:
    assert _slot(slot, zone) - _slot(naive, zone) == parse_span(elapsed), source


@pytest.mark.parametrize(
    ("slot", "lead", "local", "source"),
    [
        pytest.param("2028-03-01 08:00", "36 h", "2028-02-28T20:00:00-05:00", f"{IANA}; leap day", id="G3-10.leap"),
        pytest.param(
            "2027-03-01 08:00", "36 h", "2027-02-27T20:00:00-05:00", f"{IANA}; no leap day", id="G3-10.no_leap"
        ),
        pytest.param(
            "2027-01-01 09:30", "36 h", "2026-12-30T21:30:00-05:00", f"{IANA}; end of a year", id="G3-10.year"
        ),
        pytest.param("2100-01-01 09:30", "36 h", "", "derived: beyond the years read here", id="G3-10.last"),
    ],
)
def test_leap_days_and_the_end_of_a_year(slot: str, lead: str, local: str, source: str) -> None:
    if not local:
        with pytest.raises(Unreadable):
            parse_wall(slot)
        return
    timed, findings = when(parse_wall(slot), parse_zone("America/New_York"), parse_span(lead))
    assert timed is not None, f"{source}: {findings}"
    assert timed.patient.local == local, source


PRACTICE = "common practice, no source; time derived"


@pytest.mark.parametrize(
    ("slot", "local", "words", "midnight", "source"),
    [
        pytest.param(
            "2026-06-12 12:00",
            "2026-06-11T00:00:00+01:00",
            ("12:00 midnight (00:00)", "at the END of Wednesday 10 June 2026", "the START of Thursday 11 June 2026"),
            True,
            PRACTICE,
            id="J9-09.midnight",
        ),
        pytest.param(
            "2026-06-12 12:15",
            "2026-06-11T00:15:00+01:00",
            ("Thursday 11 June 2026, 12:15 am (00:15)", "the night of Wednesday into Thursday"),
            False,
            PRACTICE,
            id="J9-09.after",
        ),
    ],
)
def test_midnight_and_the_minutes_after(
    slot: str, local: str, words: tuple[str, ...], midnight: bool, source: str
) -> None:
    timed, findings = when(parse_wall(slot), parse_zone("Europe/London"), LEAD)
    assert timed is not None, source
    assert timed.patient.local == local, f"{source}: the minute never changes by itself"
    assert ("injection-midnight" in [finding.code for finding in findings]) == midnight, source
    assert all(part in said(timed.patient) for part in words), f"{source}: {said(timed.patient)}"


@pytest.mark.parametrize(
    ("zone", "slot", "codes", "source"),
    [
        pytest.param("America/New_York", "2027-03-14 02:30", ["time-skipped"], IANA, id="G3-03"),
        pytest.param("America/New_York", "2026-11-01 01:30", ["time-repeated"], IANA, id="G3-05"),
    ],
)
def test_a_slot_that_is_not_one_instant_is_never_guessed(zone: str, slot: str, codes: list[str], source: str) -> None:
    timed, findings = when(parse_wall(slot), parse_zone(zone), LEAD)
    assert timed is None, source
    assert [finding.code for finding in findings] == codes, source


@pytest.mark.parametrize(
    ("which", "utc", "source"),
    [
        pytest.param("first", "2026-10-30T17:30:00Z", IANA, id="G3-05.first"),
        pytest.param("second", "2026-10-30T18:30:00Z", IANA, id="G3-05.second"),
    ],
)
def test_a_repeated_slot_once_it_is_said_which(which: Which, utc: str, source: str) -> None:
    timed, findings = when(parse_wall("2026-11-01 01:30", which), parse_zone("America/New_York"), LEAD)
    assert timed is not None, f"{source}: {findings}"
    assert timed.patient.utc == utc, source


@pytest.mark.parametrize(
    ("slot", "said_of", "source"),
    [
        pytest.param("2026-11-02 12:30", "the FIRST time, before the clocks go back", IANA, id="G3-04.first"),
        pytest.param("2026-11-02 13:30", "the SECOND time, after the clocks go back", IANA, id="G3-04.second"),
    ],
)
def test_an_injection_in_the_repeated_hour_says_which(slot: str, said_of: str, source: str) -> None:
    timed, findings = when(parse_wall(slot), parse_zone("America/New_York"), LEAD)
    assert timed is not None, source
    assert said_of in said(timed.patient), source
    assert any("30 to 60 min" in finding.do for finding in findings), f"{source}: a shift is proposed"


@pytest.mark.parametrize(
    ("injected", "in_zone", "slot", "zone", "interval", "source"),
    [
        pytest.param(
            "2026-10-31 20:30",
            "America/Los_Angeles",
            "2026-11-02 10:00",
            "America/New_York",
            "35 h 30 min",
            IANA,
            id="G3-09",
        ),
    ],
)
def test_the_interval_is_compared_in_elapsed_time(
    injected: str, in_zone: str, slot: str, zone: str, interval: str, source: str
) -> None:
    assert _slot(slot, zone) - _slot(injected, in_zone) == parse_span(interval), source
