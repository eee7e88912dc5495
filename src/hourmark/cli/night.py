"""hourmark night: a scripted evening played onto the record, and what the record then says."""

import secrets
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import click

from hourmark.case.asked import Refused
from hourmark.case.board import Row
from hourmark.case.morning import morning_words
from hourmark.cli.show import OK, STOPPED, answer_json, print_findings, unread, unreadable
from hourmark.clock import Moment, moment, moment_from_utc, parse_wall, said
from hourmark.desk import Damaged, Desk, Moved, States, morning_of
from hourmark.desk.evening import Played, play
from hourmark.exchange.answers import finding_json, findings_json
from hourmark.exchange.evening import Evening, read_evening
from hourmark.finding import Finding, Unreadable
from hourmark.ledger import KeyTaken, MemoryStore, NotStored, Store, verify
from hourmark.web import SETTINGS_MODULE

CLINIC = "evening"
"""The name under which a played evening stands in a database."""


def run(path: Path, at: str | None, database: str | None, sheet: str | None, as_json: bool) -> int:
    """Answer, and the exit status."""
    evening = read_evening(path)
    if isinstance(evening, tuple):
        return unread("night", evening, as_json=as_json)
    now = _moment(evening, at)
    if isinstance(now, Finding):
        return unread("night", [now], as_json=as_json)
    with _store(database) as store:
        if isinstance(store, Finding):
            return unread("night", [store], as_json=as_json)
        desk = Desk(store, lambda: secrets.token_bytes(16))
        try:
            played = list(play(desk, evening))
        except NotStored as failed:
            return unread("night", [_unusable(str(failed))], as_json=as_json)
        except Damaged as damaged:
            return unread("night", damaged.findings, as_json=as_json)
        damage = tuple(verify(store))
        states = desk.states(now.utc)
        if sheet is not None:
            return _print_sheet(desk, states, sheet, as_json)
        if as_json:
            answer_json(_json(evening, played, states, now, damage))
        else:
            _print(evening, played, states, now)
            print_findings(damage)
            click.echo("\nStill to be told, after the last act:")
            for waiting in store.queued():
                click.echo(f"  {waiting.message.kind} {waiting.message.to}: {waiting.message.text}")
    return OK if not damage and all(one.as_written for one in played) else STOPPED


@contextmanager
def _store(database: str | None) -> Iterator[Store | Finding]:
    if database is None:
        yield MemoryStore(CLINIC)
        return
    from django.db import DatabaseError

    from hourmark.store.database import DatabaseStore
    from hourmark.store.keep import is_foreign
    from hourmark.store.setup import connect, migrate, ready

    ready(SETTINGS_MODULE)
    url = database if ":" in database else f"sqlite:{database}"
    try:
        alias = connect("evening", url)
    except ValueError:
        yield unreadable(
            Unreadable(f'"{database}" is no database.', "Write a file's path, or postgresql://USER@HOST:PORT/NAME."),
            "--store",
        )
        return
    try:
        if is_foreign(alias):
            yield _unusable("The database holds other things, and no record of hourmark's.")
            return
        migrate(alias)
    except DatabaseError as failed:
        yield _unusable(f"The database cannot be used: {failed}.")
        return
    yield DatabaseStore(CLINIC, alias)


def _unusable(what: str) -> Finding:
    return unreadable(Unreadable(what, "Name a new file, or one that this command has written."), "--store")


def _moment(evening: Evening, at: str | None) -> Moment | Finding:
    """The moment to look at: the one asked for, on the clinic's clock, or that of the last act."""
    zone = evening.night.clinic.zone
    if at is None:
        return moment_from_utc(evening.acts[-1].asked.at, zone)
    try:
        which = next((one for one in ("first", "second") if at.endswith(f" {one}")), None)
        wall = parse_wall(at.removesuffix(f" {which}"), which)  # type: ignore[arg-type]
    except Unreadable as wrong:
        return unreadable(wrong, "--at")
    return moment(wall, zone, "--at")


def _print(evening: Evening, played: list[Played], states: States, now: Moment) -> None:
    for one in played:
        if not one.as_written:
            click.echo(
                f"Act {one.act.number} ({type(one.act.command).__name__}) did not go as the script says:", err=True
            )
            click.echo(f"  {_became(one)}", err=True)
    refused = sum(one.act.refused is not None for one in played)
    click.echo(f"{evening.night.clinic.name}: {len(played)} acts played, {refused} of them refused as the script says.")
    click.echo(f"\nThe board at {said(now)}")
    _print_board(states.board(now.utc), evening, now)
    for day in _days(states):
        click.echo(f"\nMorning list of {day}, times on the clinic's clock, as known at {now.wall:%H:%M}")
        for line in morning_words(morning_of(states, day, now.utc), evening.night.clinic.zone):
            click.echo(line)


def _became(one: Played) -> str:
    match one.answer:
        case Refused(findings):
            return "refused: " + "; ".join(f"{finding.code}: {finding.what}" for finding in findings)
        case Moved() | KeyTaken():
            return "somebody else was faster, or the key belongs to another act"
        case _:
            return f"recorded, although the script says that it is refused with {one.act.refused}"


def _print_board(rows: list[Row], evening: Evening, now: Moment) -> None:
    from rich.console import Console
    from rich.table import Table

    table = Table()
    for heading in ("Due", "Case", "Medicine", "Take", "State", "To the slot", ""):
        table.add_column(heading, overflow="fold")
    for row in rows:
        due = moment_from_utc(row.due, evening.night.clinic.zone) if row.due else None
        table.add_row(
            f"{due.wall:%a %H:%M}" if due else "",
            f"{row.case} {row.place}".strip(),
            row.medicine,
            row.take,
            _state_words(row, evening, now),
            str(row.to_slot) if row.to_slot is not None else "",
            row.why,
        )
    Console(width=None if sys.stdout.isatty() else 160, highlight=False).print(table)


def _state_words(row: Row, evening: Evening, now: Moment) -> str:
    if row.overdue:
        by = moment_from_utc(row.tell_by, evening.night.clinic.zone) if row.tell_by is not None else None
        return f"{row.state}, call overdue" + (f" since {by.wall:%H:%M}" if by is not None else "")
    if row.since is None:
        return row.state
    since = moment_from_utc(row.since, evening.night.clinic.zone)
    if row.state == "unknown since":
        return f"UNKNOWN since {since.wall:%H:%M}, {now - since}"
    return f"{row.state} {since.wall:%H:%M}"


def _days(states: States) -> list[str]:
    """The theatre days of the open cases."""
    return sorted({str(case.slot.slot["at"])[:10] for case in states.open_cases() if case.slot is not None})


def _print_sheet(desk: Desk, states: States, case: str, as_json: bool) -> int:
    """What she had been told by then, byte for byte."""
    sheets = states.case(case).sheets
    if not sheets:
        nothing = Unreadable(
            f'"{case}" had no released page by then.', "Name a case of this night, and a later moment."
        )
        return unread("night", [unreadable(nothing, "--sheet")], as_json=as_json)
    last = sheets[-1]
    text = desk.pages(case, last.event.version)["sheet.txt"].decode()
    void = f"void since {last.voided.at}: {last.voided.event.why}" if last.voided else "the page that held then"
    if as_json:
        answer_json(
            {"case": case, "version": last.event.version, "released_at": last.at, "standing": void, "text": text}
        )
    else:
        click.echo(f"Version {last.event.version}, released {last.at} by {last.actor}; {void}.\n\n{text}", nl=False)
    return OK


def _json(
    evening: Evening, played: list[Played], states: States, now: Moment, damage: tuple[Finding, ...]
) -> dict[str, Any]:
    return {
        "at": now.utc,
        "acts": [
            {
                "number": one.act.number,
                "act": type(one.act.command).__name__,
                "at": one.act.asked.at,
                "by": one.act.asked.by,
                "as_written": one.as_written,
                "refused": [finding_json(finding) for finding in one.answer.findings]
                if isinstance(one.answer, Refused)
                else [],
            }
            for one in played
        ],
        "board": [_row(row) for row in states.board(now.utc)],
        "morning": {
            day: list(morning_words(morning_of(states, day, now.utc), evening.night.clinic.zone))
            for day in _days(states)
        },
        "findings": findings_json(damage),
    }


def _row(row: Row) -> dict[str, Any]:
    return {
        "case": row.case,
        "state": row.state,
        "why": row.why,
        "place": row.place,
        "medicine": row.medicine,
        "take": row.take,
        "due": row.due,
        "since": row.since,
        "to_slot": str(row.to_slot) if row.to_slot is not None else None,
    }
