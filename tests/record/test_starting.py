"""The numbered checks of every start, each with the trouble it is there for."""

import datetime as dt
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple

import pytest
from django.db import connections

from hourmark.clock import PINNED_DATE
from hourmark.finding import Finding, Level
from hourmark.ledger import Act, Fact, append
from hourmark.store.database import DatabaseStore
from hourmark.store.settings import Settings
from hourmark.store.setup import migrate
from hourmark.store.starting import start_findings
from tests.record.databases import opened, sqlite_url

NOW = dt.datetime(2026, 11, 18, 21, 40, tzinfo=dt.UTC)


class Place(NamedTuple):
    """A database to start on."""

    path: Path
    alias: str


@pytest.fixture
def place(sqlite_file: Path) -> Iterator[Place]:
    with opened(sqlite_url(sqlite_file)) as alias:
        yield Place(sqlite_file, alias)


def found(alias: str, now: dt.datetime = NOW, free: int = 1) -> dict[str, Finding]:
    settings = Settings(clinic="clinic-start", disk_free_mb=free)
    return {finding.code: finding for finding in start_findings(settings, alias, now) if finding.code != "sqlite-old"}


def test_a_healthy_place_has_nothing_to_say(place: Place, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sqlite3, "sqlite_version_info", (3, 51, 3))
    assert start_findings(Settings(clinic="clinic-start", disk_free_mb=1), place.alias, NOW) == ()


def test_on_postgresql_as_well(postgresql: str) -> None:
    with opened(postgresql) as alias:
        assert start_findings(Settings(clinic="clinic-start", disk_free_mb=1), alias, NOW) == ()


@pytest.mark.parametrize(("version", "warned"), [((3, 51, 2), True), ((3, 40, 1), True), ((3, 51, 3), False)])
def test_1_an_sqlite_whose_log_can_be_damaged_is_warned_of(
    place: Place, monkeypatch: pytest.MonkeyPatch, version: tuple[int, int, int], warned: bool
) -> None:
    """Mended in SQLite 3.51.3, 13 March 2026 (three accounts that quote sqlite.org, wal.html)."""
    monkeypatch.setattr(sqlite3, "sqlite_version_info", version)
    findings = start_findings(Settings(disk_free_mb=1), place.alias, NOW)
    assert [(one.code, one.level) for one in findings] == ([("sqlite-old", Level.WARN)] if warned else [])


def test_2_time_data_a_year_old_are_asked_about(place: Place) -> None:
    late = dt.datetime.combine(PINNED_DATE + dt.timedelta(days=400), dt.time(12), dt.UTC)
    assert found(place.alias, late)["time-data-aged"].where == "start-up check 2, time data"


def test_5_a_clock_before_its_own_time_data_stops(place: Place) -> None:
    assert found(place.alias, dt.datetime(2026, 1, 1, tzinfo=dt.UTC))["clock-behind"].level is Level.STOP


def test_5_something_recorded_later_than_now_is_warned_of(place: Place) -> None:
    store = DatabaseStore("clinic-start", place.alias)
    with store.writing() as record:
        for number, at in enumerate(("2026-11-18T22:00:00Z", "2026-11-18T20:00:00Z")):
            act = Act(f"k{number}", b"", "A. Kowal", at, (Fact(f"case/{number}", "noted", 1, b"{}"),))
            append(record, act, {}, lambda: b"0" * 16)
    assert "2026-11-18T22:00:00Z" in found(place.alias)["clock-was-ahead"].what
    assert "clock-was-ahead" not in found(place.alias, NOW + dt.timedelta(hours=1))


def test_3_a_full_disk_stops_and_a_nearly_full_one_is_warned_of(place: Place, monkeypatch: pytest.MonkeyPatch) -> None:
    def usage(free: int) -> Callable[[object], object]:
        return lambda _: shutil._ntuple_diskusage(1_000_000_000, 1_000_000_000 - free, free)

    monkeypatch.setattr(shutil, "disk_usage", usage(99_000_000))
    assert found(place.alias, free=98)["disk-low"].level is Level.WARN
    assert found(place.alias, free=100)["disk-full"].level is Level.STOP
    monkeypatch.setattr(shutil, "disk_usage", usage(100_000_000))
    assert found(place.alias, free=98) == {}


def test_3_a_folder_that_is_not_there_stops(tmp_path: Path) -> None:
    with opened(sqlite_url(tmp_path / "nowhere" / "record.sqlite")) as alias:
        settings = Settings(disk_free_mb=1)
        findings = start_findings(settings, alias, NOW)
    assert {finding.code for finding in findings if finding.level is Level.STOP} == {"store-unusable"}


def test_4_a_database_never_set_up_or_of_a_newer_version_stops(tmp_path: Path, place: Place) -> None:
    with opened(sqlite_url(tmp_path / "new.sqlite")) as alias:
        assert found(alias)["store-not-upgraded"].where == "start-up check 4"
        migrate(alias)
        assert found(alias) == {}
    connections[place.alias].cursor().execute(
        "INSERT INTO django_migrations (app, name, applied) VALUES ('store', '9999_of_tomorrow', '2027-01-01')"
    )
    assert "9999_of_tomorrow" in found(place.alias)["store-newer"].what


def test_6_a_guard_that_was_taken_away_stops(place: Place) -> None:
    connections[place.alias].cursor().execute("DROP TRIGGER record_entry_no_update")
    assert "record_entry_no_update" in found(place.alias)["guards-missing"].what


def test_7_a_database_that_could_lose_what_it_acknowledged_stops(place: Place) -> None:
    connections[place.alias].cursor().execute("PRAGMA synchronous=NORMAL")
    assert "synchronous = 1" in found(place.alias)["store-unsafe"].what


def test_a_file_that_is_no_database_stops(tmp_path: Path) -> None:
    path = tmp_path / "record.sqlite"
    path.write_bytes(b"not a database at all, but long enough to be looked at " * 40)
    with opened(sqlite_url(path)) as alias:
        assert found(alias)["store-unusable"].level is Level.STOP
