"""Keeping the record: an online copy that was opened and verified, the way back, and the way to a newer version."""

import datetime as dt
import hashlib
import json
import os
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeAlias

from django.apps import apps
from django.db import connections, transaction
from django.db.models import Model

from hourmark import __version__
from hourmark.clock import shifted
from hourmark.finding import Finding, Level, stops
from hourmark.ledger import Reader, verify
from hourmark.store import guards
from hourmark.store.database import DatabaseStore
from hourmark.store.settings import DOCUMENT
from hourmark.store.setup import connect, migrate

COPY, MANIFEST = "record.sqlite", "manifest.json"
_ROWS_AT_A_TIME = 500
_OURS = "store"

BEFORE_UPGRADE = "before-upgrade-"
"""What the name of a backup begins with by which a newer version can be taken back: it stays until somebody removes it."""

Heads: TypeAlias = dict[str, dict[str, list[Any]]]
"""Number and hash of the last entry, by clinic and stream."""


@dataclass(frozen=True, slots=True)
class Kept:
    """A backup: its folder, and how many streams and entries are in it."""

    folder: Path
    streams: int
    entries: int


def backup(alias: str, folder: Path, made_at: str) -> Kept | tuple[Finding, ...]:
    """Copy the record into a new folder, from either database into one SQLite file, while others go on writing.

    The copy is opened and verified, and its manifest holds the digest of the file and the head of every chain: kept elsewhere, they show
    later whether anything was rewritten. Nothing is left behind where that fails.
    """
    if folder.exists():
        return (_refusal("backup-there", f"{folder} is there already.", "Name a new folder."),)
    folder.parent.mkdir(parents=True, exist_ok=True)
    building = Path(tempfile.mkdtemp(prefix=f".{folder.name}-", dir=folder.parent))
    try:
        heads = _fill(building, alias, made_at)
        if isinstance(heads, tuple):
            return heads
        building.rename(folder)
    finally:
        shutil.rmtree(building, ignore_errors=True)
    _synced(folder.parent)
    return _kept(folder, heads)


def _fill(building: Path, alias: str, made_at: str) -> Heads | tuple[Finding, ...]:
    """Copy, verify, describe; the heads of what was copied, or what is wrong with it."""
    path = building / COPY
    _copy_out(alias, path)
    if problems := _file_damage(path):
        return problems
    copied = connect("backup-copy", f"sqlite:{path}")
    try:
        heads = _heads(copied)
        if damage := tuple(_damage(copied, heads)):
            return damage
    finally:
        connections[copied].close()
    _as_one_file(path)
    manifest = {"made_by": f"hourmark {__version__}", "made_at": made_at, "sha256": _digest(path), "heads": heads}
    _written(building / MANIFEST, json.dumps(manifest, indent=1, sort_keys=True).encode() + b"\n")
    return heads


def restore(folder: Path, alias: str) -> Kept | tuple[Finding, ...]:
    """Bring a backup back, into an empty place only: a database without tables, or a file that is not there yet."""
    manifest = read_manifest(folder)
    if isinstance(manifest, Finding):
        return (manifest,)
    copy = folder / COPY
    if not copy.is_file() or _digest(copy) != manifest["sha256"]:
        return (_refusal("backup-changed", f"{copy} is not the file that was backed up.", "Use another backup."),)
    if not _is_empty(alias):
        return (
            _refusal(
                "restore-not-empty",
                "There is something in the place to restore to.",
                "Set HOURMARK_DATABASE to a new file or an empty database; nothing is ever written over.",
            ),
        )
    with tempfile.TemporaryDirectory(prefix="hourmark-restore-") as work:
        path = Path(work) / COPY
        shutil.copyfile(copy, path)
        source = connect("restore-copy", f"sqlite:{path}")
        try:
            if damage := tuple(_damage(source, manifest["heads"])):
                return damage
            migrate(source)
            migrate(alias)
            with transaction.atomic(using=alias):
                _copy_rows(source, alias)
                if damage := tuple(_damage(alias, manifest["heads"])):
                    transaction.set_rollback(True, using=alias)
                    return damage
        finally:
            connections[source].close()
    return _kept(folder, _heads(alias))


def verified(alias: str, against: Path | None = None) -> tuple[Finding, ...]:
    """Everything that is wrong with the record; `against` is a backup, whose heads must all still be there as they were."""
    anchors: Mapping[str, Any] = {}
    if against is not None:
        manifest = read_manifest(against)
        if isinstance(manifest, Finding):
            return (manifest,)
        anchors = manifest["heads"]
    connection = connections[alias]
    if connection.vendor == "sqlite" and (damage := _file_damage(Path(str(connection.settings_dict["NAME"])))):
        return damage
    return tuple(_damage(alias, anchors))


def upgrade(alias: str, backups: Path, made_at: str) -> Kept | tuple[Finding, ...] | None:
    """Back up, check, migrate, put the guards in place, check again; None where the database was empty and is new.

    Going back is by restoring the backup.
    """
    kept = None
    if is_foreign(alias):
        return (
            _refusal(
                "store-foreign",
                "The database holds other things, and no record of hourmark's.",
                "Set HOURMARK_DATABASE to a file or database of its own; nothing was changed.",
            ),
        )
    if not _is_empty(alias):
        made = backup(alias, backups / f"{BEFORE_UPGRADE}{made_at.replace(':', '')}", made_at)
        if isinstance(made, tuple):
            return made
        kept = made
    migrate(alias)
    guards.install(alias)
    after = verified(alias, kept.folder if kept else None)
    return after if stops(after) else kept


def read_manifest(folder: Path) -> dict[str, Any] | Finding:
    """The manifest of a backup, or why it is none."""
    try:
        manifest = json.loads((folder / MANIFEST).read_bytes())
        if not str(manifest["made_by"]).startswith("hourmark ") or not isinstance(manifest["heads"], dict):
            raise ValueError
        return {"sha256": str(manifest["sha256"]), "heads": manifest["heads"], "made_at": str(manifest["made_at"])}
    except (OSError, ValueError, TypeError, KeyError):
        return _refusal(
            "backup-unreadable", f"{folder} is no backup of hourmark's.", "Name the folder that hourmark backup wrote."
        )


def newest_backup(folder: Path) -> str | None:
    """When the newest backup in a folder was made, by its manifest; None where there is none that can be read."""
    manifests = (read_manifest(one.parent) for one in folder.glob(f"*/{MANIFEST}"))
    return max((str(one["made_at"]) for one in manifests if not isinstance(one, Finding)), default=None)


@dataclass(frozen=True, slots=True)
class Pruned:
    """Which backups were removed, by the names of their folders; `problems` says of each that could not be why."""

    removed: tuple[str, ...] = ()
    problems: tuple[Finding, ...] = ()


def prune(made: Path, days: int) -> Pruned:
    """Remove older backups beside one just made. All of the 24 hours before it stay, and the last of each of the newest `days` days (UTC).

    Those are days on which one was made: a clock put forward by mistake empties no folder. Only backups of the same clinics whose folder
    holds nothing else are removed, and none from before an upgrade. Raises ValueError for less than one day.
    """
    if days < 1:
        raise ValueError("At least one day is kept.")
    there = dict(_backups_beside(made))
    if made not in there:
        return Pruned()
    last_of_day = {at[:10]: folder for folder, at in sorted(there.items(), key=lambda one: one[1])}
    kept = {folder for _, folder in sorted(last_of_day.items())[-days:]}
    kept |= {folder for folder, at in there.items() if at > _a_day_before(there[made])}
    removed, problems = [], []
    for folder in sorted(there.keys() - kept):
        try:
            _remove(folder)
            removed.append(folder.name)
        except OSError as error:
            problems.append(_not_removed(folder, error))
    return Pruned(tuple(removed), tuple(problems))


def _backups_beside(made: Path) -> Iterator[tuple[Path, str]]:
    """The backups in the folder of one, itself among them, each with when it was made: those of its clinics, with nothing else in them."""
    ours = read_manifest(made)
    if isinstance(ours, Finding):
        return
    for folder in made.parent.iterdir():
        manifest = read_manifest(folder)
        if isinstance(manifest, Finding) or folder.name.startswith((BEFORE_UPGRADE, ".")):
            continue
        same = manifest["heads"].keys() <= ours["heads"].keys()
        if same and _holds_nothing_else(folder) and _is_instant(manifest["made_at"]):
            yield folder, manifest["made_at"]


def _holds_nothing_else(folder: Path) -> bool:
    """Whether a folder is one itself, and has the two files of a backup and no more."""
    try:
        files = list(folder.iterdir())
    except OSError:
        return False
    plain = not folder.is_symlink() and all(file.is_file() and not file.is_symlink() for file in files)
    return plain and {file.name for file in files} == {COPY, MANIFEST}


def _is_instant(text: str) -> bool:
    try:
        return f"{dt.datetime.fromisoformat(text):%Y-%m-%dT%H:%M:%SZ}" == text
    except ValueError:
        return False


def _a_day_before(at: str) -> str:
    return shifted(at, -24 * 60)


def _remove(folder: Path) -> None:
    """The copy first: what a cut leaves is a manifest alone, which no restore takes for a backup."""
    for name in (COPY, MANIFEST):
        (folder / name).unlink()
    folder.rmdir()


def _not_removed(folder: Path, error: OSError) -> Finding:
    return Finding(
        "backup-not-removed",
        Level.WARN,
        f"An old backup could not be removed: {error.strerror or type(error).__name__}.",
        "Look who owns the folder and whether the disk is full; the new backup is whole.",
        str(folder),
        "old backups go, so that the disk does not fill",
        DOCUMENT,
    )


def _copy_out(alias: str, path: Path) -> None:
    """An online copy: by SQLite's own backup interface, or row by row from one moment of PostgreSQL's."""
    connection = connections[alias]
    if connection.vendor == "sqlite":
        connection.ensure_connection()
        with sqlite3.connect(path) as target:
            connection.connection.backup(target)
        target.close()
        return
    copied = connect("backup-copy", f"sqlite:{path}")
    migrate(copied)
    with transaction.atomic(using=alias), transaction.atomic(using=copied):
        connection.cursor().execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
        _copy_rows(alias, copied)
    connections[copied].close()


def _copy_rows(source: str, target: str) -> None:
    """Every row of every table of ours, as it is."""
    for model in _models():
        if model._meta.app_label != _OURS:
            _emptied(model, target)
    for model in _models():
        columns = [field.column for field in model._meta.concrete_fields if field.column]
        table = connections[target].ops.quote_name(model._meta.db_table)
        names = ", ".join(map(connections[target].ops.quote_name, columns))
        places = ", ".join(["%s"] * len(columns))
        with connections[source].chunked_cursor() as read, connections[target].cursor() as write:
            read.execute(f"SELECT {names} FROM {table}")
            while rows := read.fetchmany(_ROWS_AT_A_TIME):
                write.executemany(f"INSERT INTO {table} ({names}) VALUES ({places})", rows)
    with connections[target].cursor() as cursor:
        for statement in connections[target].ops.sequence_reset_sql(_no_style(), list(_models())):
            cursor.execute(statement)


def _models() -> list[type[Model]]:
    """Every table there is: the record's, and the ordinary ones beside it."""
    return list(apps.get_models(include_auto_created=True))


def _emptied(model: type[Model], target: str) -> None:
    """A new database has rows that setting it up put there; what was backed up takes their place."""
    table = connections[target].ops.quote_name(model._meta.db_table)
    connections[target].cursor().execute(f"DELETE FROM {table}")


def _no_style() -> Any:
    from django.core.management.color import no_style

    return no_style()


def _kept(folder: Path, heads: Heads) -> Kept:
    streams = [head for clinic in heads.values() for head in clinic.values()]
    return Kept(folder, len(streams), sum(int(seq) for seq, _ in streams))


def _heads(alias: str) -> Heads:
    """The head of every chain, by clinic and stream: number and hash."""
    with connections[alias].cursor() as cursor:
        cursor.execute("SELECT clinic, stream, seq, hash FROM record_head")
        heads: Heads = {}
        for clinic, stream, seq, digest in cursor.fetchall():
            heads.setdefault(clinic, {})[stream] = [seq, digest]
    return heads


def _damage(alias: str, anchors: Mapping[str, Mapping[str, Any]]) -> Iterator[Finding]:
    """What is wrong with every clinic's record, and with what the anchors say was there."""
    there = _heads(alias)
    for clinic in sorted(there.keys() | anchors.keys()):
        store = DatabaseStore(clinic, alias)
        yield from (finding.at(f"clinic {clinic}") for finding in verify(store))
        for stream, (seq, digest) in sorted(anchors.get(clinic, {}).items()):
            if _hash_at(store, stream, int(seq)) != digest:
                yield Finding(
                    "record-rewritten",
                    Level.STOP,
                    "The record is not what it was when it was backed up: an entry is gone or another.",
                    "Stop writing to it, keep the file as it is, and restore the backup.",
                    f"clinic {clinic}, {stream}, entry {seq}",
                    "every entry as it was written",
                    "the manifest of the backup",
                )


def _hash_at(store: Reader, stream: str, seq: int) -> str | None:
    return next((entry.hash for entry in store.read(stream) if entry.seq == seq), None)


def _file_damage(path: Path) -> tuple[Finding, ...]:
    """What SQLite itself finds wrong with a file."""
    try:
        with sqlite3.connect(f"file:{path}?mode=ro", uri=True) as connection:
            said = [str(row[0]) for row in connection.execute("PRAGMA integrity_check(5)")]
        connection.close()
    except sqlite3.DatabaseError as error:
        said = [str(error)]
    if said == ["ok"]:
        return ()
    return (
        Finding(
            "store-damaged",
            Level.STOP,
            f"The database file is damaged: {said[0]}.",
            "Stop writing to it, keep the file as it is, and restore the last backup that verifies.",
            str(path),
            "PRAGMA integrity_check",
            "sqlite.org, PRAGMA integrity_check",
        ),
    )


def is_foreign(alias: str) -> bool:
    """Whether a database holds tables, and none of ours."""
    tables = _tables(alias)
    return bool(tables) and "record_entry" not in tables


def _is_empty(alias: str) -> bool:
    return not _tables(alias)


def _tables(alias: str) -> set[str]:
    """The tables of a database; none where its first set-up was broken off before there was a record."""
    tables = set(connections[alias].introspection.table_names())
    return tables if tables != {_FIRST_TABLE} else set()


_FIRST_TABLE = "django_migrations"


def _as_one_file(path: Path) -> None:
    """The copy without a write-ahead log beside it, and on the disk."""
    with sqlite3.connect(path) as connection:
        connection.execute("PRAGMA journal_mode=DELETE")
    connection.close()
    _synced(path)


def _written(path: Path, content: bytes) -> None:
    path.write_bytes(content)
    _synced(path)


def _synced(path: Path) -> None:
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _refusal(code: str, what: str, do: str) -> Finding:
    return Finding(code, Level.STOP, what, do, limit="a backup as it was made", source=DOCUMENT)
