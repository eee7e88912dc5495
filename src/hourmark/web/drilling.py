"""Which drill is served, where one is. Whatever a drill alone has asks here; elsewhere than in a drill every answer is none."""

import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django import template
from django.conf import settings

from hourmark.drill import NIGHT_BANNER
from hourmark.drill.cast import Caller, cast
from hourmark.drill.clock import NightClock, read_clock
from hourmark.drill.folder import CLOCK, Answered, Drill, read_answers, read_drill

register = template.Library()


def drill() -> Drill | None:
    """The drill that is served."""
    return read_drill(Path(settings.DRILL)) if settings.DRILL else None


def clock() -> NightClock | None:
    """The clock of its night. Raises OSError or ValueError where it cannot be read: no page then shows a time."""
    return read_clock(Path(settings.DRILL) / CLOCK) if settings.DRILL else None


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
    """Everybody who has rung by now, in the order in which they rang."""
    answers = read_answers(served.folder)
    return [Rung(one, answers.get(one.case)) for one in cast(served.seed, served.count) if one.rings_at <= now]


def next_caller(served: Drill, now: str) -> Caller | None:
    """Who rings next; None after the last."""
    return next((one for one in cast(served.seed, served.count) if one.rings_at > now), None)


@register.simple_tag(takes_context=True)
def drill_ringing(context: dict[str, Any]) -> list[Rung]:
    """Who rings or is on the line."""
    served = drill()
    return [one for one in rung(served, context["work"].now) if not one.over] if served is not None else []


@register.simple_tag
def drill_banner() -> str:
    """What stands above and below every page of a drill; nothing elsewhere."""
    return NIGHT_BANNER if settings.DRILL else ""


@register.simple_tag
def drill_pace() -> int:
    """How many minutes pass on the page in one minute."""
    night = clock()
    return night.pace if night is not None else 1
