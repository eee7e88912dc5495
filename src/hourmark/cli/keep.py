"""hourmark backup, restore, verify, upgrade and erase: how the record is kept."""

import datetime as dt
import os
import secrets
import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

import click
from django.db import DatabaseError

from hourmark.case.asked import Asked, Refused, Role
from hourmark.cli.show import OK, STOPPED, UNREADABLE, answer_json, print_findings, status, unread
from hourmark.desk import Desk
from hourmark.desk.erasing import due, erase_due
from hourmark.exchange.answers import findings_json
from hourmark.finding import Finding, Level, stops
from hourmark.ledger import NotStored
from hourmark.store.database import DatabaseStore
from hourmark.store.keep import Kept, Pruned, backup, prune, restore, upgrade, verified
from hourmark.store.logs import log_to_standard_error
from hourmark.store.settings import DOCUMENT, Settings, read_settings
from hourmark.store.setup import ready
from hourmark.store.starting import mixing, start_findings
from hourmark.web import SETTINGS_MODULE

ALIAS = "default"

T = TypeVar("T")


def run_backup(folder: Path, keep: int | None, as_json: bool) -> int:
    """Answer, and the exit status. With `keep`, older backups beside the new one are removed once that is verified: one a day stays."""
    settings = _start("backup", as_json)
    if settings is None:
        return UNREADABLE
    made = _told(lambda: backup(ALIAS, folder, _now()))
    pruned = prune(folder, keep) if keep is not None and isinstance(made, Kept) else Pruned()
    if as_json:
        findings = (*made, *pruned.problems) if isinstance(made, tuple) else pruned.problems
        answer_json(_answer(folder, made) | {"removed": list(pruned.removed), "findings": findings_json(findings)})
        return STOPPED if isinstance(made, tuple) else OK
    status_of_it = _kept("backup", folder, made, as_json=False)
    if pruned.removed:
        click.echo(f"{len(pruned.removed)} older backups removed.")
    print_findings(pruned.problems)
    return status_of_it


def run_restore(folder: Path, as_json: bool) -> int:
    """Answer, and the exit status."""
    settings = _start("restore", as_json)
    if settings is None:
        return UNREADABLE
    return _kept("restore", folder, _told(lambda: restore(folder, ALIAS)), as_json)


def run_verify(against: Path | None, as_json: bool) -> int:
    """Answer with what is wrong with the record and with what the start-up checks say, and the exit status."""
    settings = _start("verify", as_json)
    if settings is None:
        return UNREADABLE
    checks = start_findings(settings, ALIAS, dt.datetime.now(dt.UTC))
    unusable = any(finding.code in ("store-not-upgraded", "store-unusable") for finding in checks)
    record = () if unusable else _told(lambda: verified(ALIAS, against))
    findings = (*checks, *record)
    heads = () if unusable else DatabaseStore(settings.clinic).heads()
    if as_json:
        answer_json(
            {"streams": len(heads), "entries": sum(head.seq for head in heads), "findings": findings_json(findings)}
        )
    else:
        whole = "not looked at" if unusable else "DAMAGED" if stops(record) else "whole"
        click.echo(f"{len(heads):,} streams, {sum(head.seq for head in heads):,} entries: the record is {whole}.")
        print_findings(findings)
    return status(findings)


def run_upgrade(backups: Path, as_json: bool) -> int:
    """Answer, and the exit status."""
    settings = _start("upgrade", as_json)
    if settings is None:
        return UNREADABLE
    if mixed := mixing(settings, ALIAS):
        unread("upgrade", mixed, as_json=as_json)
        return STOPPED
    return _kept("upgrade", backups, _told(lambda: upgrade(ALIAS, backups, _now())), as_json)


def run_erase(by: str | None, as_json: bool) -> int:
    """Answer with the cases whose time is over, erased where the clinic's lead is named; and the exit status."""
    settings = _start("erase", as_json)
    if settings is None:
        return UNREADABLE
    if mixed := mixing(settings, ALIAS):
        unread("erase", mixed, as_json=as_json)
        return STOPPED
    desk, now = Desk(DatabaseStore(settings.clinic), lambda: secrets.token_bytes(16)), _now()
    cases = _told(lambda: due(desk, now) if by is None else erase_due(desk, Asked(by, Role.LEAD, now)))
    findings = cases.findings if isinstance(cases, Refused) else cases if isinstance(cases, tuple) else ()
    listed = cases if isinstance(cases, list) else []
    if as_json:
        answer_json({"cases": listed, "erased": by is not None and not findings, "findings": findings_json(findings)})
    elif not findings:
        done = "erased" if by is not None else "may be erased: name the clinic's lead with --by to do it"
        click.echo(f"{len(listed)} cases {done}.")
        for case in listed:
            click.echo(f"  {case}")
    if not as_json:
        print_findings(findings)
    return status(findings)


def _start(command: str, as_json: bool) -> Settings | None:
    """The settings, with Django ready for them; None, said, where a setting is wrong."""
    settings = read_settings(os.environ)
    if isinstance(settings, tuple):
        unread(command, settings, as_json=as_json)
        return None
    log_to_standard_error(settings.log_level if settings.log_level != "info" else "warning")
    ready(SETTINGS_MODULE)
    return settings


def _told(work: Callable[[], T]) -> T | tuple[Finding, ...]:
    """What was done, or that the store could not."""
    try:
        return work()
    except NotStored as failed:
        return (_unusable(str(failed)),)
    except (DatabaseError, sqlite3.Error) as failed:
        return (_unusable(f"The database cannot be used: {failed}."),)
    except OSError as failed:
        return (_unusable(f"{failed.filename or 'A file'} cannot be used: {failed.strerror or failed}."),)


def _unusable(what: str) -> Finding:
    do = "Check HOURMARK_DATABASE, the disk, and who may write there."
    return Finding("store-unusable", Level.STOP, what, do, "", "a database that can be read and written", DOCUMENT)


def _kept(what: str, folder: Path, kept: Kept | tuple[Finding, ...] | None, as_json: bool) -> int:
    findings = kept if isinstance(kept, tuple) else ()
    done = kept if isinstance(kept, Kept) else None
    if as_json:
        answer_json(_answer(folder, kept) | {"findings": findings_json(findings)})
    elif done is not None:
        click.echo(f"{what}: {done.folder}, {done.streams:,} streams, {done.entries:,} entries, verified.")
    elif not findings:
        click.echo(f"{what}: the database is new and empty.")
    if not as_json:
        print_findings(findings)
    return STOPPED if findings else OK


def _answer(folder: Path, kept: Kept | tuple[Finding, ...] | None) -> dict[str, object]:
    done = kept if isinstance(kept, Kept) else None
    return {
        "folder": str(done.folder if done else folder),
        "streams": done.streams if done else None,
        "entries": done.entries if done else None,
    }


def _now() -> str:
    return f"{dt.datetime.now(dt.UTC):%Y-%m-%dT%H:%M:%SZ}"
