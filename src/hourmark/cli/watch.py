"""hourmark watch: looks at silent injections every few seconds, and puts on the record who is to be told."""

import datetime as dt
import os
import sys
import time
from collections.abc import Callable
from pathlib import Path

import click

from hourmark.cli.show import STOPPED, UNREADABLE, print_findings
from hourmark.store.settings import read_settings
from hourmark.store.setup import ready
from hourmark.store.starting import mixing
from hourmark.web import SETTINGS_MODULE

EVERY_SECONDS = 10
"""How long it rests between two looks: well within the two minutes after which the board says that it is silent."""


def run(while_parent: bool = False, demo: Path | None = None) -> int:
    """Look until interrupted; with `while_parent` until the process that started this one is gone. In a `demo` its evening goes on."""
    settings = read_settings(os.environ)
    if isinstance(settings, tuple):
        print_findings(settings)
        return UNREADABLE
    ready(SETTINGS_MODULE)
    if mixed := mixing(settings, "default"):
        print_findings(mixed)
        return STOPPED
    parent = os.getppid()
    look, rest = _look(settings.clinic, demo), _rest()
    while not while_parent or os.getppid() == parent:
        try:
            look()
        except Exception as failed:
            click.echo(f"The watch could not look: {type(failed).__name__}. It tries again.", err=True)
            _forget_connections()
        time.sleep(rest)
    return 0


def _look(clinic: str, demo: Path | None) -> Callable[[], None]:
    """One look at the clinic, and the note that it was made."""
    from hourmark.desk.watch import Unwatched, watch_once
    from hourmark.web.demo import Going
    from hourmark.web.models import WatchBeat
    from hourmark.web.work import desk_of, instant, machine_instant

    desk = desk_of(clinic)
    evening = Going(demo) if demo is not None else None

    def once() -> None:
        if evening is not None:
            evening.go_on(desk, dt.datetime.now(dt.UTC))
        unwatched: tuple[str, ...] = ()
        try:
            watch_once(desk, instant())
        except Unwatched as left:
            unwatched = left.cases
            click.echo(str(left), err=True)
        beat = {"at": machine_instant(), "unwatched": " ".join(unwatched)}
        WatchBeat.objects.update_or_create(clinic=clinic, defaults=beat)

    return once


def _rest() -> float:
    """How long it rests, in seconds: in a drill less, by the pace at which its night passes, but never less than one."""
    from hourmark.web.drilling import drill_pace

    return max(EVERY_SECONDS / drill_pace(), 1.0)


def _forget_connections() -> None:
    from django.db import connections

    connections.close_all()


if __name__ == "__main__":
    sys.exit(run(while_parent=True, demo=Path(sys.argv[1]) if len(sys.argv) > 1 else None))
