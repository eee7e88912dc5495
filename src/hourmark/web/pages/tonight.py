"""Tonight: every injection on its own clock, who is next, silent or late, and who has to be told."""

import datetime as dt
import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.http import HttpResponse

from hourmark.case.asked import Role
from hourmark.case.board import (
    DUE,
    EARLY,
    GIVEN,
    LATE,
    MIXING,
    NO_SHEET,
    PROBLEM,
    SETTLED,
    UNKNOWN,
    Row,
    board,
)
from hourmark.case.state import CaseState
from hourmark.case.unreached import numbers_of
from hourmark.case.watch import ladder
from hourmark.clock import elapsed
from hourmark.web.models import Person, Used, WatchBeat
from hourmark.web.said import clock
from hourmark.web.work import CLINICAL, Work, machine_instant, page, shown_at

SILENT_MINUTES = 2
"""After so many minutes without a look the watch is said to be gone (our own rule)."""

ENDS_SOON = 60
"""So many minutes before a session ends, the board says so (our own rule)."""

SHAPES = {
    "problem": "✖",
    "unknown since": "?",
    "given early": "◀",
    "given late": "▶",
    "no sheet": "∅",
    "due": "◷",
    "mixing": "◑",
    "told": "○",
    "to tell": "☎",
    "settled": "◆",
    "given": "●",
}
"""A shape beside each state's word, so that neither colour nor reading alone tells it."""

_PRESSING = (PROBLEM, UNKNOWN, EARLY, LATE, DUE, MIXING)


@dataclass(frozen=True, slots=True)
class Line:
    """One row of the board with the person behind it: her initials, and the numbers at which she is rung, in their order."""

    row: Row
    initials: str
    phones: tuple[str, ...]
    helps: tuple[int, ...]

    @property
    def shape(self) -> str:
        """The shape that stands for the state."""
        return SHAPES[self.row.state]

    @property
    def minute(self) -> bool:
        """Whether its minute may stand there: while no page holds, whoever still has to check it must not read it here.

        By the order it stands there as soon as the second check agrees.
        """
        return self.row.due is not None and (self.row.state != NO_SHEET or self.row.by_order)

    @property
    def unread(self) -> bool:
        """Whether it is still to come, as far as anybody has said, and no minute of it stands there: it may be before all that have one."""
        return self.row.state == NO_SHEET and not self.minute and not self.row.reported

    @property
    def over(self) -> bool:
        """Whether nothing more is expected of it."""
        return self.row.state in (GIVEN, SETTLED)

    @property
    def counts(self) -> bool:
        """Whether its minute is still counted to or from: nobody has said anything of it."""
        return self.minute and not self.row.reported

    @property
    def pressing(self) -> bool:
        """Whether something is expected of it now."""
        return self.row.state in _PRESSING or self.row.overdue or self.row.past

    @property
    def number(self) -> str:
        """Her first number; empty where none is known."""
        return self.phones[0] if self.phones else ""

    @property
    def id(self) -> str:
        """A name for this row on the page."""
        page = f"-{self.row.sheet}" if "page" in self.row.place else ""
        entry = f"-{self.row.entry}" if self.row.entry is not None else ""
        return f"{self.row.case}-{self.row.injection or 'case'}{page}{entry}"


@dataclass(frozen=True, slots=True)
class Unseen:
    """A case that nobody watches, since its record is damaged; `shown` where the board still has its rows, as they were read before."""

    case: str
    initials: str
    phones: tuple[str, ...]
    shown: bool


@page("GET", roles=CLINICAL)
def tonight(work: Work) -> HttpResponse:
    """The board."""
    return work.page("night/tonight", **board_of(work))


@page("GET", roles=CLINICAL)
def rows(work: Work) -> HttpResponse:
    """The rows alone, for a board that is open; nothing where they are as that board has them."""
    given = board_of(work)
    if work.request.GET.get("have") == given["digest"]:
        answer = HttpResponse(status=204)
    else:
        answer = work.page("night/rows", **given)
    answer["X-Now"], answer["X-Clock"] = work.now, clock({"work": work}, work.now, "hour")
    return answer


def board_of(work: Work) -> dict[str, Any]:
    """Everything on the board; `digest` is another as soon as anything but the time on it is."""
    cases, damaged = work.states.in_sight()
    lines = tuple(_lines(work, cases))
    beat = WatchBeat.objects.filter(clinic=work.member.clinic).first()
    watched = beat.at if beat is not None else None
    silent = watched is None or is_silent(watched, machine_instant())
    unseen = unseen_of(work, damaged)
    locked = bool(getattr(work.request, "locked", False))
    to_come = [line for line in lines if line.counts and (line.row.due or "") > work.now]
    next_due = min(to_come, key=lambda line: line.row.due or "", default=None)
    no_ladder, ends = not ladder(work.states.rules()), _ends(work)
    shown = (lines, silent, locked, no_ladder, ends, unseen, next_due.id if next_due else "")
    return {
        "lines": lines,
        "unseen": unseen,
        "not_shown": [one.case for one in unseen if not one.shown],
        "next_due": next_due,
        "unread": any(line.unread for line in lines),
        "now": work.now,
        "locked": locked,
        "ends": ends,
        "writes": work.role in (Role.NURSE, Role.PRESCRIBER),
        "watched_at": shown_at(dt.datetime.fromisoformat(watched)) if watched else None,
        "watch_silent": silent,
        "no_ladder": no_ladder,
        "clinic_zone": work.zone.name,
        "count": sum(1 for line in lines if _is_counted(line.row)),
        "given": sum(1 for line in lines if line.row.state in (GIVEN, EARLY, LATE) and "page" not in line.row.place),
        "digest": hashlib.sha256(repr(shown).encode()).hexdigest()[:24],
    }


def _is_counted(row: Row) -> bool:
    """Whether it is an injection of tonight: one of the last page, one of an order without a page, or a case of which not even that is known."""
    if row.state == NO_SHEET and row.sheet is None:
        return True
    return bool(row.place) and "page" not in row.place


def is_silent(watched: str, now: str) -> bool:
    """Whether the watch last looked too long ago; a clock that was put back makes it so as well."""
    earlier, later = sorted((watched, now))
    return elapsed(earlier, later).minutes >= SILENT_MINUTES


def unseen_of(work: Work, damaged: tuple[str, ...]) -> tuple[Unseen, ...]:
    """Every case that cannot be read here, or by the watch: a record that was read here before it was damaged still looks sound."""
    beat = WatchBeat.objects.filter(clinic=work.member.clinic).first()
    cases = dict.fromkeys((*damaged, *(beat.unwatched.split() if beat is not None else ())))
    people = {case: work.person(case) for case in cases}
    return tuple(
        Unseen(case, person.initials if person else "", numbers(person), case not in damaged)
        for case, person in people.items()
    )


def _ends(work: Work) -> str | None:
    """When the session ends by itself, where that is soon."""
    used = Used.objects.filter(session=work.request.session.session_key or "").first()
    if used is None:
        return None
    ends = dt.datetime.fromtimestamp(used.since + settings.SESSION_COOKIE_AGE, dt.UTC)
    at = shown_at(ends)
    return at if elapsed(work.now, at).minutes < ENDS_SOON else None


def _lines(work: Work, cases: tuple[CaseState, ...]) -> Iterator[Line]:
    people = {one.case: one for one in Person.objects.filter(clinic=work.member.clinic)}
    waiting = {state.id: _waiting(state) for state in cases}
    rules = work.states.rules()
    for row in board(cases, work.now, ladder(rules), rules):
        person = people.get(row.case)
        helps = tuple(entry for injection, entry in waiting[row.case] if injection in (row.injection or None, None))
        yield Line(row, person.initials if person else "", numbers(person), helps)


def _waiting(state: CaseState) -> tuple[tuple[str | None, int], ...]:
    return tuple((one.event.injection, one.seq) for one in state.waiting)


def numbers(person: Person | None) -> tuple[str, ...]:
    """Her numbers in the order in which they are tried."""
    return numbers_of(person.phones) if person else ()
