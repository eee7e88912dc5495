"""The end of the night: handed from one nurse to the other, and the list for theatre, embryology and anaesthesia."""

import datetime as dt
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.http import Http404, HttpResponse

from hourmark.case import events as e
from hourmark.case.asked import Role, same_person
from hourmark.case.board import DUE, EARLY, GIVEN, LATE, MIXING, SETTLED, TO_TELL, TOLD, Row, board
from hourmark.case.handover import HandOver, ListMorning, TakeHandover, night_of, night_words
from hourmark.case.morning import ASK_ABOUT_IT, morning_words
from hourmark.case.streams import day_of, day_stream
from hourmark.case.watch import ladder
from hourmark.clock import date_words, moment_from_utc
from hourmark.desk import morning_of
from hourmark.web.models import Member, Person
from hourmark.web.pages.tonight import unseen_of
from hourmark.web.said import clock
from hourmark.web.work import CLINICAL, Work, page

UNSEEN = "its record is damaged, and nobody watches it: go by her paper page, and ring her"
"""What is handed over of a case of which nothing can be read."""

LISTENERS = (Role.NURSE, Role.PRESCRIBER, Role.THEATRE, Role.LEAD)
RECENT_DAYS = 7
"""For so many days a handover that nobody signed for, and a list that went out, stay within reach (our own rule)."""

_FURTHEST_THEATRE_DAY = 14
"""Handovers once stood on the stream of a theatre day to come; none was further away than this."""

_ALONE = "1 of 1"
_TO_COME = (DUE, MIXING, TOLD, TO_TELL)
_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_ENTRY = re.compile(r"[0-9]{1,9}")
_ON_THE_LIST = re.compile(r"  case (\S+)  \(slot ")
"""How a list names the case of a slot."""


@dataclass(frozen=True, slots=True)
class Handed:
    """A handover as it is shown: where it stands, who gave it to whom, when, and who signed for it; `mine` waits for whoever looks."""

    day: str
    entry: int
    by: str
    at: e.Instant
    event: e.HandedOver
    taken_by: str
    taken_at: e.Instant
    mine: bool


@page("GET", "POST", roles=CLINICAL)
def handover(work: Work) -> HttpResponse:
    """Everything on the board that is not over, and who was told of what; the nurse who goes names the one who comes."""
    now, fields = _night(work), work.typed
    problems = _problems(work)
    if work.request.method == "POST":
        if work.role is not Role.NURSE:
            return work.page("not-permitted", 403, roles=(Role.NURSE,))
        note = fields.get("note", "").strip()
        noted = (e.Problem("-", note),) if note else ()
        if work.perform(HandOver(now, fields.get("to", ""), (*problems, *noted)), day_stream(now)):
            return work.done(f"Handed over to {fields['to']}, who has to sign for it.", "handover")
    night = _asked_for(work, now)
    handed = tuple(_handed(work, night, now))
    of_night = [one for one in handed if night_of(one.at, work.zone) == night]
    return work.page(
        "night/handover",
        night=night,
        title=night_words(night),
        current=night == now,
        nights=_nights(work, handed, now),
        problems=problems,
        told=_told(work),
        nurses=_others(work),
        waits=[one for one in handed if not one.taken_by and (one.mine or one in of_night)],
        taken=[one for one in of_night if one.taken_by],
        initials=_initials(work),
        fields=fields,
        seen_stream=day_stream(now),
    )


@page("POST", roles=(Role.NURSE,))
def take(work: Work) -> HttpResponse:
    """The nurse who comes signs for what was handed to her, whichever cases are open by then."""
    day, entry = work.typed.get("day", ""), work.typed.get("entry", "")
    if not _has_entries(work, day) or not _ENTRY.fullmatch(entry):
        raise Http404
    if work.perform(TakeHandover(day, int(entry))):
        return work.done("You have the night: signed.", "tonight")
    return work.page("night/not-taken")


@page("GET", "POST", roles=LISTENERS)
def morning(work: Work) -> HttpResponse:
    """The list as it now is, and those that went out."""
    day = _day(work)
    if work.request.method == "POST":
        if work.role is Role.THEATRE:
            return work.page("not-permitted", 403, roles=(Role.NURSE, Role.PRESCRIBER, Role.LEAD))
        if work.perform(ListMorning(day)):
            version = len(work.desk.states().day(day).lists)
            return work.done(
                f"List {version} is out: it takes the place of any before it.", "morning-issued", day, version
            )
    lines, state = morning_of(work.states, day, work.now), work.states.day(day)
    last = state.lists[-1] if state.lists else None
    return work.page(
        "night/morning",
        day=day,
        day_words=_day_words(day),
        days=[(one, f"{(date := dt.date.fromisoformat(one)):%a} {date.day} {date:%b}") for one in _days(work)],
        lines=lines,
        lists=[(one.version, state.listed_at[one.version], state.listed_by[one.version]) for one in state.lists],
        last=last,
        changed=last is not None and last.lines != morning_words(lines, work.zone),
        initials=_initials(work),
        reads_words=work.role in CLINICAL,
        ask_about_it=ASK_ABOUT_IT,
    )


@page("GET", roles=LISTENERS)
def issued(work: Work, day: str, version: int) -> HttpResponse:
    """A list as it went out, word for word, for paper."""
    if not _has_entries(work, day):
        raise Http404
    state = work.states.day(day)
    found = next((one for one in state.lists if one.version == version), None)
    if found is None:
        raise Http404
    initials = _initials(work)
    cases = (named[1] for line in found.lines if (named := _ON_THE_LIST.search(line)))
    return work.page(
        "night/issued",
        day=day,
        day_words=_day_words(day),
        listed=found,
        at=state.listed_at[version],
        by=state.listed_by[version],
        people=sorted((case, initials.get(case, "")) for case in set(cases)),
        last=len(state.lists),
    )


def _initials(work: Work) -> dict[str, str]:
    return dict(Person.objects.filter(clinic=work.member.clinic).values_list("case", "initials"))


# Nights


def _from(day: str, days: int) -> str:
    """The day so many days later."""
    return str(dt.date.fromisoformat(day) + dt.timedelta(days=days))


def _night(work: Work) -> str:
    """The clinic's night as it is now; for a form that was open over noon, still the one before."""
    now = night_of(work.now, work.zone)
    before = _from(now, -1)
    return before if work.request.POST.get("night") == before else now


def _asked_for(work: Work, now: str) -> str:
    """The night that was asked for; this one where none was, or where it is none."""
    asked = work.request.GET.get("night", "")
    return asked if _is_day(asked) and asked <= now else now


def _handed(work: Work, night: str, now: str) -> Iterator[Handed]:
    """The handovers of recent nights and of that night, the newest first; also those that were written on the stream of a theatre day."""
    found = []
    recent, after = _from(now, -RECENT_DAYS), _from(night, _FURTHEST_THEATRE_DAY)
    for day in _days_with_entries(work, min(night, recent)):
        if after < day < recent:
            continue
        state = work.states.day(day)
        for entry, event in state.handovers.items():
            taken_by = state.taken_by.get(entry, "")
            mine = not taken_by and same_person(event.to, work.member.name)
            by, at, taken_at = state.given_by[entry], state.given_at[entry], state.taken_at.get(entry, "")
            found.append(Handed(day, entry, by, at, event, taken_by, taken_at, mine))
    yield from sorted(found, key=lambda one: (one.at, one.entry), reverse=True)


def _nights(work: Work, handed: tuple[Handed, ...], now: str) -> list[tuple[str, str]]:
    """This night and the recent ones that were handed over, each with its words."""
    recent = {night_of(one.at, work.zone) for one in handed}
    return [
        (night, night_words(night))
        for night in sorted({now, *recent}, reverse=True)
        if night >= _from(now, -RECENT_DAYS)
    ]


def _problems(work: Work) -> tuple[e.Problem, ...]:
    """Every row of the board that is not over, of all cases in sight; a case whose record is damaged is handed over as just that."""
    cases, damaged = work.states.in_sight()
    rules = work.states.rules()
    rows = board(cases, work.now, ladder(rules), rules)
    unseen = (e.Problem(one.case, UNSEEN) for one in unseen_of(work, damaged))
    over = (GIVEN, SETTLED)
    return (*unseen, *(e.Problem(row.case, _in_words(work, row)) for row in rows if row.state not in over))


def _in_words(work: Work, row: Row) -> str:
    """A row of the board as it is read: what, how it stands, since or until when, why, and who is still to be told."""
    state = row.state
    place = f"({row.place})" if row.place not in ("", _ALONE) else ""
    if row.state in _TO_COME and row.due is not None:
        state = f"{row.state}, to inject at {_clock(work, row.due)}"
    elif row.by_order and row.due is not None:
        state = f"{row.state}, {'was ' if row.past else ''}to inject at {_clock(work, row.due)} by the order"
    elif row.since is not None:
        joined = " at" if row.state in (EARLY, LATE) else "" if row.state.endswith("since") else " since"
        state = f"{row.state}{joined} {_clock(work, row.since)}"
    owed = f"tell {row.owed.rung.tell}, owed since {_clock(work, row.owed.since)}" if row.owed is not None else ""
    said = f"reported: {row.reported}" if row.reported else ""
    return "; ".join(filter(None, (f"{row.medicine} {place}".strip(), state, _call(work, row), row.why, said, owed)))


def _call(work: Work, row: Row) -> str:
    """That she is to be told, or should have been, where she has no page yet."""
    at = _clock(work, row.tell_by) if row.tell_by is not None else ""
    if row.overdue:
        return f"call overdue since {at}" if at else "call overdue"
    return f"tell her by {at}" if at else ""


def _clock(work: Work, at: e.Instant) -> str:
    return clock({"work": work}, at)


def _told(work: Work) -> list[tuple[str, Any]]:
    """Who was told of what in every open case, the last first."""
    told = [(case.id, one) for case in work.states.in_sight()[0] for one in case.escalations]
    return sorted(told, key=lambda one: (one[1].at, one[1].seq), reverse=True)


def _others(work: Work) -> list[str]:
    """The other nurses."""
    members = Member.objects.filter(clinic=work.member.clinic, role=str(Role.NURSE)).order_by("name")
    return [one.name for one in members if not same_person(one.name, work.member.name)]


# Days


def _is_day(text: str) -> bool:
    try:
        return _DAY.fullmatch(text) is not None and bool(dt.date.fromisoformat(text))
    except ValueError:
        return False


def _day_words(day: str) -> str:
    return date_words(dt.date.fromisoformat(day))


def _has_entries(work: Work, day: str) -> bool:
    """Whether anything was ever recorded of a day."""
    return _is_day(day) and work.head_of(day_stream(day)) > 0


def _days_with_entries(work: Work, since: str) -> list[str]:
    begins = day_stream("")
    named = (head.stream.removeprefix(begins) for head in work.desk.store.heads(begins))
    return [day for day in named if _is_day(day) and day >= since]


def _days(work: Work) -> tuple[str, ...]:
    """The theatre days to come of the open cases, and the recent days of which a list went out."""
    today = _today(work)
    slots = (day_of(str(one.slot.slot["at"])) for one in work.states.in_sight()[0] if one.slot is not None)
    listed = (day for day in _days_with_entries(work, _from(today, -RECENT_DAYS)) if work.states.day(day).lists)
    return tuple(sorted({*(day for day in slots if day >= today), *listed}))


def _day(work: Work) -> str:
    """The day that was asked for, if anything was recorded of it; else the next of an open case or list; today where there is none.

    What is sent for another day than these is no page: nobody gives out the list of a day that they did not mean.
    """
    sent, today = work.request.POST.get("day", ""), _today(work)
    asked = sent or work.request.GET.get("day", "")
    if _has_entries(work, asked):
        return asked
    day = next((day for day in _days(work) if day >= today), today)
    if sent not in ("", day):
        raise Http404
    return day


def _today(work: Work) -> str:
    return str(moment_from_utc(work.now, work.zone).wall.date())
