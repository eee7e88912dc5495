"""Leads of what was reported, at every clock change of every zone in 2026 and 2027, against `zoneinfo` of the standard library.

The second way reads the pinned time data by itself, turns both clock times into UTC with its own rule for hours that happen twice, and
subtracts. Source of the changes: IANA time-zone database, as packed in tzdata.
"""

import datetime as dt
import zoneinfo
from collections.abc import Iterator
from functools import cache
from importlib.resources import files

import pytest

from hourmark.clock import parse_zone
from hourmark.clock.zones import zone_names
from hourmark.finding import Finding
from hourmark.incident import Answer, Kind, answer, read_facts
from tests.incident.trouble import OK, moved, signed_limits

UTC = dt.UTC
MINUTE = dt.timedelta(minutes=1)
SHORT = dt.timedelta(hours=34, minutes=57)
LEAD, LEAST, MOST = dt.timedelta(hours=36), dt.timedelta(hours=35), dt.timedelta(hours=37)


@cache
def own(name: str) -> zoneinfo.ZoneInfo:
    """The zone by the standard library, from the pinned files."""
    with files("tzdata").joinpath("zoneinfo", *name.split("/")).open("rb") as file:
        return zoneinfo.ZoneInfo.from_file(file, key=name)


def changes(name: str) -> Iterator[dt.datetime]:
    """The instants of 2026 and 2027 at which this zone's distance from UTC changes, to the minute."""
    zone, at = own(name), dt.datetime(2026, 1, 1, tzinfo=UTC)
    end = dt.datetime(2028, 1, 1, tzinfo=UTC)
    while at < end:
        after = at + dt.timedelta(days=1)
        if at.astimezone(zone).utcoffset() != after.astimezone(zone).utcoffset():
            low, high = at, after
            while high - low > MINUTE:
                middle = low + (high - low) // 2
                middle = middle.replace(second=0, microsecond=0)
                if middle.astimezone(zone).utcoffset() == low.astimezone(zone).utcoffset():
                    low = middle
                else:
                    high = middle
            yield high
        at = after


@cache
def changing() -> tuple[tuple[str, dt.datetime], ...]:
    """One zone for each different run of changes, with each of its changes."""
    seen: dict[tuple[tuple[dt.datetime, dt.timedelta | None], ...], str] = {}
    for name in sorted(zone_names()):
        key = tuple((at, (at - MINUTE).astimezone(own(name)).utcoffset()) for at in changes(name))
        if key:
            seen.setdefault(key, name)
    return tuple((name, at) for key, name in seen.items() for at, _ in key)


def written(at: dt.datetime, name: str) -> str:
    """An instant as somebody writes it off the wall, with first or second where that hour happens twice."""
    wall = at.astimezone(own(name))
    twice = wall.replace(fold=0).utcoffset() != wall.replace(fold=1).utcoffset()
    exists = wall.replace(tzinfo=None) == wall.astimezone(UTC).astimezone(own(name)).replace(tzinfo=None)
    which = (" second" if wall.fold else " first") if twice and exists else ""
    return f"{wall:%Y-%m-%d %H:%M}{which}"


def reported(name: str, slot: dt.datetime, at: dt.datetime, patient: str | None = None) -> Answer:
    """The answer, on the morning of the slot, to "it went in at ..."."""
    plan = moved(written(slot, name), name, patient)
    assert plan.slot_at is not None
    facts = read_facts(Kind.LATE, OK | {"at": written(at, patient or name), "all": "yes"})
    return answer(plan, Kind.LATE, facts, signed_limits(), plan.slot_at)


def minutes(span: dt.timedelta) -> int:
    return int(span.total_seconds() // 60)


def test_there_are_many_changes_in_both_directions() -> None:
    ways = {
        (at.astimezone(own(name)).utcoffset() or dt.timedelta())
        > ((at - MINUTE).astimezone(own(name)).utcoffset() or dt.timedelta())
        for name, at in changing()
    }
    assert ways == {True, False}
    assert len(changing()) > 60


def test_every_change_of_every_zone() -> None:
    """Injected a day, an hour, a minute before the change, at it, and after it; slots so that the change lies between or beside."""
    tried = 0
    for name, change in changing():
        for off, lead in ((-24 * 60, LEAD), (-60, SHORT), (-31, LEAD), (-1, LEAD), (0, SHORT), (61, LEAD)):
            at = change + dt.timedelta(minutes=off)
            slot = at + lead
            if "first" in written(slot, name) or "second" in written(slot, name):
                continue
            found = reported(name, slot, at)
            (leg,) = found.legs
            assert leg.lead is not None, (name, at, [one.what for one in found.findings])
            assert leg.lead.lead is not None
            assert [end.minutes for end in leg.lead.lead] == [minutes(lead)] * 2, (name, at)
            assert leg.lead.inside is (LEAST <= lead <= MOST)
            assert leg.slots is not None
            assert leg.slots.earliest is not None
            assert leg.slots.latest is not None
            ends = (leg.slots.earliest, leg.slots.restored[0], leg.slots.latest)
            for found_at, span in zip(ends, (LEAST, LEAD, MOST), strict=True):
                assert found_at.instant == at + span
                assert found_at.wall == (at + span).astimezone(own(name)).replace(tzinfo=None)
            tried += 1
    assert tried > 300


@pytest.mark.parametrize(
    ("clinic", "patient"),
    [("America/New_York", "Europe/London"), ("Europe/Paris", "America/Chicago"), ("Asia/Kolkata", "Australia/Sydney")],
)
def test_her_clock_is_not_the_clinics(clinic: str, patient: str) -> None:
    """Over every change of either zone: she reads her own clock, theatre its own."""
    for change in (*changes(clinic), *changes(patient)):
        for off in (-180, -30, 0, 30, 180):
            at = change + dt.timedelta(minutes=off)
            slot = at + LEAD
            if written(slot, clinic).endswith(("first", "second")):
                continue
            (leg,) = reported(clinic, slot, at, patient).legs
            assert leg.lead is not None
            assert leg.lead.lead is not None
            assert leg.lead.lead[0].minutes == minutes(LEAD)
            assert leg.slots is not None
            assert leg.slots.restored[0].zone == parse_zone(clinic)
            assert leg.lead.at[0].zone == parse_zone(patient)


def test_hours_that_are_skipped_or_happen_twice_are_asked_again() -> None:
    """Half an hour into each change: a clock time that is never shown, or shown twice and not said which."""
    codes = set()
    for name, change in changing():
        zone = own(name)
        before, after = ((change - MINUTE).astimezone(zone), change.astimezone(zone))
        move = (after.utcoffset() or dt.timedelta()) - (before.utcoffset() or dt.timedelta())
        inside = after.replace(tzinfo=None) - move / 2
        plan = moved(written(change + dt.timedelta(hours=60), name), name)
        assert plan.slot_at is not None
        facts = read_facts(Kind.LATE, OK | {"at": f"{inside:%Y-%m-%d %H:%M}", "all": "yes"})
        found = answer(plan, Kind.LATE, facts, signed_limits(), plan.slot_at)
        stops: list[Finding] = [one for one in found.findings if one.level == "stop"]
        wanted = "time-skipped" if move > dt.timedelta() else "time-repeated"
        assert [one.code for one in stops] == [wanted], (name, change, inside)
        assert found.legs[0].lead is None
        codes.add(wanted)
    assert codes == {"time-skipped", "time-repeated"}
