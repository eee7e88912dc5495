"""Text for people: findings, workings, and JSON for programs."""

import json
import sys
from collections.abc import Iterable
from typing import Any

import click

from hourmark.dose import LeftOut, Misstep
from hourmark.exchange.answers import finding_json, findings_json
from hourmark.finding import Finding, Level, Unreadable, Working, stops, worst_first

OK, STOPPED, UNREADABLE = 0, 1, 2

_COLOURS = {Level.STOP: "red", Level.ASK: "magenta", Level.WARN: "yellow", Level.NOTE: "cyan"}


def answer_json(answer: dict[str, Any]) -> None:
    """Print a JSON answer on standard output."""
    json.dump(answer, sys.stdout, indent=1, ensure_ascii=False)
    sys.stdout.write("\n")


def unreadable(error: Unreadable, where: str) -> Finding:
    """The stop for a piece of input that cannot be read."""
    return Finding("unreadable", Level.STOP, error.what, error.do, where, "what can be read", "docs/night-file.md")


def status(findings: Iterable[Finding]) -> int:
    """The exit status of an answer that was read."""
    return STOPPED if stops(findings) else OK


def print_findings(findings: Iterable[Finding], *, err: bool = False) -> None:
    """Every finding in full, worst first."""
    for finding in worst_first(findings):
        click.echo(err=err)
        head = click.style(
            f"{finding.level.upper()}: {finding.what}", fg=_COLOURS[finding.level], bold=finding.level is Level.STOP
        )
        click.echo(head, err=err)
        if finding.where:
            click.echo(f"  Where:  {finding.where}", err=err)
        if finding.limit:
            click.echo(f"  Limit:  {finding.limit}", err=err)
        if finding.source:
            click.echo(f"  Source: {finding.source}", err=err)
        click.echo(f"  Do:     {finding.do}", err=err)
        click.echo(f"  Code:   {finding.code}", err=err)


def print_working(working: Iterable[Working]) -> None:
    """How each number came about."""
    for step in working:
        click.echo(f"  {step.name}: {step.formula}")
        for name, value, source in step.inputs:
            click.echo(f"    {name} = {value}   [{source}]")
        click.echo(f"    result: {step.result}")


def print_missteps(found: Iterable[Misstep], left_out: Iterable[LeftOut], indent: str = "") -> None:
    """Foreseen mistakes, too much and too little apart, worst first. For staff only."""
    listed = list(found)
    for way in ("too much", "too little"):
        rows = [misstep for misstep in listed if misstep.way == way]
        if rows:
            click.echo(f"{indent}If it goes wrong, {way} (for staff only):")
        for misstep in rows:
            click.echo(f"{indent}  {misstep.share!s:>9}  {misstep.given}: {misstep.how}  [{misstep.code}]")
    out = list(left_out)
    if out and listed:
        click.echo(f"{indent}Left out: " + "; ".join(f"{one.code} ({one.why})" for one in out))


_KEYS = {
    "plan": ("made_by", "standing", "as_of", "time_data", "clinic", "cases", "moved", "findings"),
    "when": ("inject_at", "clinic", "patient", "findings", "time_data"),
    "draw": (
        *("volume", "fills", "given", "share", "tolerance", "vials", "left"),
        *("missteps", "missteps_left_out", "findings"),
    ),
    "findings": ("findings",),
    "sources": ("sources", "findings"),
    "trouble": (
        *("case", "kind", "at", "said", "emergency", "decides", "also", "first", "reasons", "legs", "proposals"),
        *("common_starts", "spare", "to_slot", "questions", "as_planned", "not_known", "findings", "time_data"),
    ),
    "levels": ("injections", "readings", "strips", "disagreements", "pictures", "findings"),
    "night": ("at", "acts", "board", "morning", "findings"),
    "drill": ("drill", "seed", "calls", "right", "points", "of", "findings"),
    "backup": ("folder", "streams", "entries", "findings"),
    "restore": ("folder", "streams", "entries", "findings"),
    "upgrade": ("folder", "streams", "entries", "findings"),
    "verify": ("streams", "entries", "findings"),
    "erase": ("cases", "erased", "findings"),
}
"""The keys of each command's answer, in their order."""


def misuse_json(command: Iterable[str], what: str) -> None:
    """The answer to a command called with options it does not have: every key null but the findings."""
    keys = _KEYS.get(next(iter(command), ""), ("findings",))
    stop = unreadable(Unreadable(what, "Run the command with --help to see its options."), "command line")
    answer_json(dict.fromkeys(keys) | {"findings": [finding_json(stop)]})


def unread(command: str, findings: Iterable[Finding], *, as_json: bool) -> int:
    """Answer input that cannot be read; the exit status."""
    problems = list(findings)
    if as_json:
        answer_json(dict.fromkeys(_KEYS[command]) | {"findings": findings_json(problems)})
    print_findings(problems, err=True)
    return UNREADABLE
