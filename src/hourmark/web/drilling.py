"""Which drill is served, where one is. Whatever a drill alone has asks here; elsewhere than in a drill every answer is none."""

import hashlib
import re
import threading
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django import template
from django.conf import settings

from hourmark.desk import Desk
from hourmark.drill import NIGHT_BANNER
from hourmark.drill.cast import Caller, cast
from hourmark.drill.clock import NightClock, read_clock
from hourmark.drill.folder import CLOCK, Answered, Drill, read_answers, read_drill, unread_answers
from hourmark.drill.making import NotMade, due_by, make_until
from hourmark.finding import Finding

register = template.Library()


def drill() -> Drill | None:
    """The drill that is served."""
    return read_drill(Path(settings.DRILL)) if settings.DRILL else None


def clock() -> NightClock | None:
    """The clock of its night. Raises OSError or ValueError where it cannot be read: no page then shows a time."""
    return read_clock(Path(settings.DRILL) / CLOCK) if settings.DRILL else None


_MAKING = threading.Lock()
_MADE: set[tuple[str, int]] = set()
"""Which drill is made in this process, and how many of its cases."""

_TITLE = re.compile(rb"SUMMARY:(.*)\r\n")


def marked(name: str, content: bytes) -> bytes:
    """A page of a sheet as it is given out. In a drill every title in a calendar file says so: paper says it by its case, which a title never names."""
    title = _TITLE.search(content) if settings.DRILL and name.endswith(".ics") else None
    return content.replace(b":%s\r\n" % title[1], b":DRILL: %s\r\n" % title[1]) if title is not None else content


@dataclass(frozen=True, slots=True)
class Rung:
    """A caller whose minute has come, and how far she was answered; None where nobody has spoken with her."""

    caller: Caller
    answered: Answered | None

    @property
    def taken(self) -> bool:
        """Whether somebody has her on the line."""
        return self.answered is not None

    @property
    def over(self) -> bool:
        """Whether her call is over."""
        return self.answered is not None and self.answered.over


def rung(served: Drill, now: str) -> list[Rung]:
    """Everybody who has rung by now, in the order in which they rang. Raises ValueError where the answers cannot be read."""
    answers = read_answers(served.folder)
    return [Rung(one, answers.get(one.case)) for one in cast(served.seed, served.count) if one.rings_at <= now]


def make_due(served: Drill, desk: Desk, until: str) -> str:
    """Make what is due by then, wherever time got there; what cannot be made, in words, and empty where all is there.

    One at a time makes it; whoever comes meanwhile waits no longer than that.
    """
    callers = cast(served.seed, served.count)
    due = (str(served.folder), len(due_by(callers, until)))
    with _MAKING:
        if due in _MADE:
            return ""
        try:
            make_until(desk, callers, until)
        except NotMade as refused:
            return str(refused)
        _MADE.add(due)
        return ""


def unread() -> Finding | None:
    """What is to be said where the answers that were kept cannot be read: nobody then rings, and nothing is scored."""
    return unread_answers(Path(settings.DRILL)) if settings.DRILL else None


def next_caller(served: Drill, now: str) -> Caller | None:
    """Who rings next; None after the last."""
    return next((one for one in cast(served.seed, served.count) if one.rings_at > now), None)


@dataclass(frozen=True, slots=True)
class Strip:
    """Who rings or is on the line; `unread` and `not_made` say why somebody may be missing. `digest` is another as soon as any of it is."""

    ringing: list[Rung]
    unread: Finding | None
    not_made: str
    digest: str


def strip_of(now: str, not_made: str = "") -> Strip:
    """The strip at a moment of the night."""
    served, wrong = drill(), unread()
    there = rung(served, now) if served is not None and wrong is None else []
    ringing = [one for one in there if not one.over]
    shown = repr(([(one.caller.case, one.taken) for one in ringing], wrong, not_made))
    return Strip(ringing, wrong, not_made, hashlib.sha256(shown.encode()).hexdigest()[:16])


@register.simple_tag(takes_context=True)
def drill_strip(context: dict[str, Any]) -> Strip:
    """The strip of a page."""
    return strip_of(context["work"].now, context.get("not_made", ""))


@register.simple_tag
def drill_unread() -> Finding | None:
    """Why nobody can be shown who rings."""
    return unread()


@register.simple_tag(takes_context=True)
def drill_on_the_line(context: dict[str, Any]) -> Caller | None:
    """Whose call goes on while a page of her case is looked at; None on any other page."""
    page = _OF_A_CASE.match(context.get("path", "")) if settings.DRILL and "work" in context else None
    if page is None:
        return None
    there = strip_of(context["work"].now).ringing
    return next((one.caller for one in there if one.taken and one.caller.case == page[1]), None)


_OF_A_CASE = re.compile(r"/cases/([^/]+)/")


@register.simple_tag
def drill_banner() -> str:
    """What stands above and below every page of a drill; nothing elsewhere."""
    return NIGHT_BANNER if settings.DRILL else ""


@register.simple_tag
def drill_pace() -> int:
    """How many minutes pass on the page in one minute."""
    night = clock()
    return night.pace if night is not None else 1
