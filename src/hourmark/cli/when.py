"""hourmark when: slot and lead to a minute."""

from collections.abc import Callable
from typing import TypeVar

import click

from hourmark.cli.show import answer_json, print_findings, status, unread, unreadable
from hourmark.clock import (
    Span,
    WallTime,
    Which,
    parse_span,
    parse_wall,
    parse_zone,
    said,
    time_data,
    time_data_findings,
)
from hourmark.exchange import when_json
from hourmark.finding import Finding, Unreadable
from hourmark.plan import when

T = TypeVar("T")


def run(slot: str, zone: str, lead: str, patient_zone: str | None, which: str | None, as_json: bool) -> int:
    """Answer, and the exit status."""
    problems: list[Finding] = []

    def read(parse: Callable[[str], T], text: str, where: str) -> T | None:
        try:
            return parse(text)
        except Unreadable as error:
            problems.append(unreadable(error, where))
            return None

    wall = read(parse_wall, slot, "--slot")
    clinic = read(parse_zone, zone, "--zone")
    span = read(_lead, lead, "--lead")
    patient = read(parse_zone, patient_zone, "--patient-zone") if patient_zone is not None else None
    side = read(_which, which, "--which") if which is not None else None
    if problems or wall is None or clinic is None or span is None:
        return unread("when", problems, as_json=as_json)
    timed, findings = when(WallTime(wall.local, side), clinic, span, patient)
    findings = (*time_data_findings(), *findings)
    if as_json:
        answer_json(when_json(timed, findings))
        return status(findings)
    if timed is not None:
        click.echo(f"Inject: {said(timed.patient)}")
        if timed.clinic.zone != timed.patient.zone:
            click.echo(f"Clinic: {said(timed.clinic)}")
        click.echo(f"UTC:    {timed.patient.utc}   ({span} of elapsed time before the slot, time data {time_data()})")
        click.echo("Follow the signed order; the prescriber decides.")
    print_findings(findings)
    return status(findings)


def _lead(text: str) -> Span:
    span = parse_span(text)
    if span.minutes == 0:
        raise Unreadable(f'"{text}" is no lead at all.', 'Write the lead in the order, for example "36 h".')
    return span


def _which(text: str) -> Which:
    if text in ("first", "second"):
        return text  # type: ignore[return-value]
    raise Unreadable(
        f'"{text[:20]}" is neither first nor second.', "Write first (before the clocks go back) or second."
    )
