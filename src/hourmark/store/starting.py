"""The numbered checks of every start: what would make a record unsafe is found before anything is written to it."""

import datetime as dt
import os
import shutil
import sqlite3
from collections.abc import Iterator
from pathlib import Path

from django.db import DatabaseError, connections
from django.db.migrations.executor import MigrationExecutor

from hourmark.clock import PINNED_DATE, time_data_findings
from hourmark.finding import Finding, Level
from hourmark.ledger import NotStored
from hourmark.store import guards
from hourmark.store.database import DatabaseStore
from hourmark.store.settings import DOCUMENT, DRILL_CLINIC, Settings

FIXED_SQLITE = (3, 51, 3)
"""The release in which SQLite mended its write-ahead log's reset: from 3.7.0 on, two connections writing and checkpointing at the same
moment could damage the file, very rarely (sqlite.org, "Write-Ahead Logging", on the reset of the log; read in three accounts of it)."""

_TEN_PER_CENT = 10


_ENDS = ("store-unusable", "store-not-upgraded")
"""After these, the other checks have nothing to look at."""


def start_findings(settings: Settings, alias: str, now: dt.datetime) -> tuple[Finding, ...]:
    """Everything that the checks have to say, by number. `now` is in UTC."""
    found: list[Finding] = []
    for number, check in enumerate((_sqlite, _time_data, _disk, _upgraded, _clock, _guards, _safe, _drill), 1):
        where = f"start-up check {number}"
        try:
            found += [finding.at(where) for finding in check(settings, alias, now)]
        except (NotStored, DatabaseError) as failed:
            found.append(_unusable(f"The database cannot be used: {failed}.").at(where))
            break
        if any(finding.code in _ENDS for finding in found):
            break
    return tuple(found)


def _sqlite(_: Settings, alias: str, __: dt.datetime) -> Iterator[Finding]:
    """1: SQLite is new enough for its write-ahead log to be safe with several connections."""
    if connections[alias].vendor == "sqlite" and sqlite3.sqlite_version_info < FIXED_SQLITE:
        yield Finding(
            "sqlite-old",
            Level.WARN,
            f"SQLite {sqlite3.sqlite_version} can, very rarely, damage a file that several connections write at once.",
            "Run one process that writes, back up often, and move to a system with SQLite 3.51.3 or newer, or to PostgreSQL.",
            limit="SQLite 3.51.3 or newer",
            source="sqlite.org, Write-Ahead Logging, on the reset of the log (read in three accounts of it)",
        )


def _time_data(_: Settings, __: str, now: dt.datetime) -> Iterator[Finding]:
    """2: the time data are those that were pinned, and not a year old."""
    yield from time_data_findings(now.date())


def _clock(settings: Settings, alias: str, now: dt.datetime) -> Iterator[Finding]:
    """5: the clock is not behind what has already happened."""
    if now.date() < PINNED_DATE:
        yield _stop(
            "clock-behind",
            f"This machine's clock says {now:%Y-%m-%d}, which is before this version's time data were published.",
            "Set the clock, best by a time server.",
            f"not before {PINNED_DATE.isoformat()}",
        )
        return
    last = DatabaseStore(settings.clinic, alias).newest()
    if last is not None and f"{now:%Y-%m-%dT%H:%M:%SZ}" < last:
        yield Finding(
            "clock-was-ahead",
            Level.WARN,
            f"This machine's clock says {now:%Y-%m-%d %H:%M} UTC, and something was recorded at {last}.",
            "Look at a clock that you trust before you rely on any countdown, and have the machine follow a time server.",
            limit="time goes forward",
            source=DOCUMENT,
        )


def _disk(settings: Settings, alias: str, __: dt.datetime) -> Iterator[Finding]:
    """3: there is room to write."""
    name = str(connections[alias].settings_dict["NAME"])
    if connections[alias].vendor != "sqlite":
        return
    folder = Path(name).absolute().parent
    if not folder.is_dir() or not os.access(folder, os.W_OK):
        yield _unusable(f"The folder of {name} is not there, or cannot be written to.")
        return
    space = shutil.disk_usage(folder)
    if space.free < settings.disk_free_mb * 1_000_000:
        yield _stop(
            "disk-full",
            f"{space.free // 1_000_000:,} MB are free where the record is.",
            "Make room before the night begins.",
            f"at least {settings.disk_free_mb:,} MB",
        )
    elif space.free * 100 < space.total * _TEN_PER_CENT:
        yield Finding(
            "disk-low",
            Level.WARN,
            f"Less than {_TEN_PER_CENT} % of the disk with the record is free.",
            "Make room soon.",
            limit=f"{_TEN_PER_CENT} % free",
            source="common practice, no source",
        )


def _upgraded(_: Settings, alias: str, __: dt.datetime) -> Iterator[Finding]:
    """4: the tables are those of this version."""
    executor = MigrationExecutor(connections[alias])
    if executor.migration_plan(executor.loader.graph.leaf_nodes()):
        yield _stop(
            "store-not-upgraded",
            "The database is of an older version, or was never set up.",
            "Run hourmark upgrade.",
            "tables of this version",
        )
    known = set(executor.loader.graph.nodes)
    if unknown := [
        name for app, name in executor.loader.applied_migrations if (app, name) not in known and app == "store"
    ]:
        yield _stop(
            "store-newer",
            f"The database is of a newer version ({unknown[0]}).",
            "Install that version again; going back is by restoring a backup.",
            "tables of this version",
        )


def _guards(_: Settings, alias: str, __: dt.datetime) -> Iterator[Finding]:
    """6: the database forbids changes of the record."""
    if "record_entry" not in connections[alias].introspection.table_names():
        return
    if missing := guards.missing(alias):
        yield _stop(
            "guards-missing",
            f"The database does not forbid changes of the record: {', '.join(missing)}.",
            "Find out who took them away, run hourmark verify, then hourmark upgrade, which puts them back.",
            "every guard in place",
        )


_SAFE: dict[str, dict[str, object]] = {
    "sqlite": {"journal_mode": "wal", "synchronous": 2},
    "postgresql": {"fsync": "on", "synchronous_commit": "on", "full_page_writes": "on"},
}
"""How each database has to be set; 2 is FULL."""


def _safe(_: Settings, alias: str, __: dt.datetime) -> Iterator[Finding]:
    """7: what is acknowledged is on the disk."""
    connection = connections[alias]
    wanted = _SAFE[connection.vendor]
    with connection.cursor() as cursor:
        for name, value in wanted.items():
            cursor.execute(f"PRAGMA {name}" if connection.vendor == "sqlite" else f"SHOW {name}")
            (there,) = cursor.fetchone()
            if there != value:
                yield _stop(
                    "store-unsafe",
                    f"The database has {name} = {there}: what it acknowledges can be lost in a power cut.",
                    f"Set {name} to {value}.",
                    f"{name} = {value}",
                )


def _drill(settings: Settings, alias: str, _: dt.datetime) -> Iterator[Finding]:
    """8: a drill's record is served as a drill alone, and a drill serves no other."""
    yield from mixed(settings, alias)


def mixed(settings: Settings, alias: str) -> Iterator[Finding]:
    """What is in the database and is not of the kind that is served: a drill's record, or another where a drill is. Nothing where there is no record."""
    connection = connections[alias]
    if "record_head" not in connection.introspection.table_names():
        return
    with connection.cursor() as cursor:
        cursor.execute("SELECT DISTINCT clinic FROM record_head")
        clinics = {name for (name,) in cursor.fetchall()}
    if not settings.drill and DRILL_CLINIC in clinics:
        yield _stop(
            "drill-record",
            "This database holds a drill: invented people, invented orders.",
            "Set HOURMARK_DATABASE to the clinic's own record; a drill is opened by hourmark serve --drill FOLDER.",
            "a drill is never served as a clinic",
        )
    elif settings.drill and (others := sorted(clinics - {DRILL_CLINIC})):
        yield _stop(
            "drill-not-own",
            f"The database in the drill's folder holds the record of {', '.join(others)}, which is no drill.",
            "Name a new folder for the drill; nothing was changed in this one.",
            "a drill has a record of its own",
        )


def mixing(settings: Settings, alias: str) -> tuple[Finding, ...]:
    """What `mixed` finds, for a command that writes; nothing where the database cannot be looked at, which the command then meets itself."""
    try:
        return tuple(mixed(settings, alias))
    except DatabaseError:
        return ()


def _unusable(what: str) -> Finding:
    do = "Check the setting HOURMARK_DATABASE, and that hourmark may read and write there."
    return _stop("store-unusable", what, do, "a database that can be read and written")


def _stop(code: str, what: str, do: str, limit: str) -> Finding:
    return Finding(code, Level.STOP, what, do, limit=limit, source=DOCUMENT)
