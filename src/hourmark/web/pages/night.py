"""What the nurse writes down in the night: an injection reported by phone, somebody told of silence, a call returned."""

import datetime as dt
import re
from collections.abc import Iterator

from django.http import Http404, HttpResponse

from hourmark.case import events as e
from hourmark.case.asked import Role
from hourmark.case.board import DOUBTS
from hourmark.case.injections import TO_ASK
from hourmark.case.night import ALL, NONE, Confirm, Escalate, WithdrawConfirmation
from hourmark.case.phone import GiveHelp
from hourmark.case.state import CaseState, Kept
from hourmark.case.streams import case_stream
from hourmark.case.watch import ladder, reached
from hourmark.clock import clock_change_between, moment, moment_from_utc, parse_wall, parse_zone
from hourmark.finding import Finding
from hourmark.web.pages.tonight import numbers
from hourmark.web.pages.trouble_facts import injections_of
from hourmark.web.work import Work, case_page, wrong

AWAKE = (Role.NURSE, Role.PRESCRIBER)
SOURCES = ("she saw the clock as it went in", "she remembers", "the clock on her phone", "her helper says so")
NOT_KNOWN = "not known"
"""What stands for the time where nobody can say when it was."""

_VERSION = re.compile(r"[0-9]{1,4}")
_WHOLE_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_CLOCK = re.compile(r"[0-9]:[0-9]{2}")

_ASK_TOO = (
    "time-unreadable",
    "time-skipped",
    "time-repeated",
    "not-all",
    "before-release",
    "reports-differ",
    "sheet-void",
)
"""Doubts of which the nurse is told at once, while she still has her on the line."""


@case_page("GET", "POST", roles=AWAKE)
def given(work: Work, state: CaseState, injection: str) -> HttpResponse:
    """A report by phone. Whatever it says is kept; what is doubtful in it is then asked again."""
    due = _due(state, injection)
    zone = due.zone if due is not None else str(state.details.get("zone"))
    zones = tuple(dict.fromkeys((zone, str(work.states.rules().clinic.get("zone")))))
    days = _days(due, zones, work.now)
    fields = {"zone": zone, "amount": "", "day": days[0]} | work.typed
    if work.request.method == "POST":
        work.findings = tuple(_unsaid(work, state, fields))
        if _is_of_yesterday(fields, zones, work.now):
            what = "Midnight has passed since this form was opened: nobody says of which day that is."
            work.findings += (wrong("field-blank", what, "Choose the day again.", "day"),)
            fields["day"] = ""
        if not work.findings and (done := work.perform(_report(state, injection, fields))):
            return _kept(work, state, injection, int(done.entries[0].seq))
    holds = state.sheet is not None or (due is not None and due.at <= work.now)
    return work.page(
        "night/given",
        state=state,
        injection=injection,
        due=due,
        shows_minute=holds,
        person=work.person(state.id),
        fields=fields,
        days=[(day, f"{(date := dt.date.fromisoformat(day)):%a} {date.day} {date:%b}") for day in days],
        zones=zones,
        opened=_today(zones, work.now),
        twice=_has_an_hour_twice(days, zone),
        sources=SOURCES,
        earlier=_earlier(state, injection),
    )


def _earlier(state: CaseState, injection: str) -> list[Kept[e.Confirmed]]:
    return [one for one in state.confirmations if one.event.injection == injection]


def _report(state: CaseState, injection: str, fields: dict[str, str]) -> Confirm:
    words = fields.get("amount_words", "").strip()
    sheet = fields.get("sheet", "").strip()
    time = fields.get("time", "").strip()
    return Confirm(
        case=state.id,
        injection=injection,
        reported=NOT_KNOWN if fields.get("not_known") else f"{fields['day']} {_two_digits(time)}",
        zone=fields["zone"],
        told_by=fields["told_by"].strip(),
        source=fields["source"],
        amount=words if fields["amount"] == "other" else fields["amount"],
        remains=fields["remains"].strip(),
        which=fields.get("which") or None,
        sheet=int(sheet) if sheet else None,
    )


def _kept(work: Work, state: CaseState, injection: str, entry: int) -> HttpResponse:
    """What was kept; and where something in it has to be asked, just that."""
    kept = next(one for one in work.desk.states().case(state.id).confirmations if one.seq == entry)
    to_ask = [(code, DOUBTS[code]) for code in kept.event.doubts if code in (*TO_ASK, *_ASK_TOO)]
    if not to_ask:
        return work.done(f"Kept: {state.id}, {injection}, {kept.event.reported}.", "tonight")
    repeated = any(code == "time-repeated" for code, _ in to_ask)
    return work.page(
        "night/asked", state=state, injection=injection, kept=kept, to_ask=to_ask, repeated=repeated, fields=work.typed
    )


def _unsaid(work: Work, state: CaseState, fields: dict[str, str]) -> Iterator[Finding]:
    """What the form still needs before it says anything at all, and what it says in two ways at the same time."""
    wanted = {"told_by": "who says so", "source": "how they know", "remains": "what is left in syringe and vial"}
    yield from work.said_blank(**wanted, **({} if fields.get("not_known") else {"time": "the time she says"}))
    if fields.get("not_known") and fields.get("time", "").strip():
        yield wrong("field-twice", "A time is written, and that it is not known.", "Leave one of the two out.", "time")
    amount, words = fields.get("amount", ""), fields.get("amount_words", "").strip()
    if amount not in (ALL, NONE, "other") or (amount == "other" and not words):
        yield wrong("field-blank", "Nobody says how much went in.", "Choose one, or write what she says.", "amount")
    if amount in (ALL, NONE) and words:
        yield wrong(
            "field-twice", f'"{amount}" is chosen, and other words are written.', "Choose what her words say.", "amount"
        )
    if fields.get("which", "") not in ("", "first", "second"):
        yield wrong("file-value", "That is neither of the two.", "Choose the first or the second.", "which")
    sheet = fields.get("sheet", "").strip()
    if sheet and not (_VERSION.fullmatch(sheet) and 1 <= int(sheet) <= len(state.sheets)):
        yield wrong(
            "file-value",
            f'She has no page with the version "{sheet[:20]}".',
            f"Write a number from 1 to {len(state.sheets)}, or leave it empty for the last.",
            "sheet",
        )


def _due(state: CaseState, injection: str) -> e.Due | None:
    """The injection on her last page; None for one that was reported or ordered and is on no page. Another is no page at all."""
    for sheet in reversed(state.sheets):
        for due in sheet.event.dues:
            if due.injection == injection:
                return due
    if _earlier(state, injection) or injection in injections_of(state):
        return None
    raise Http404


def _days(due: e.Due | None, zones: tuple[str, ...], now: str) -> tuple[str, ...]:
    """The days of which it can have been, the likeliest first: none is still to come on either clock.

    The day of its minute, the one after, the one before; then today and yesterday.
    """
    today = dt.date.fromisoformat(_today(zones, now))
    middle = moment_from_utc(due.at, parse_zone(zones[0])).wall.date() if due is not None else today
    day = dt.timedelta(days=1)
    found = (middle, middle + day, middle - day, today, today - day)
    return tuple(dict.fromkeys(str(one) for one in found if one <= today))


def _today(zones: tuple[str, ...], now: str) -> str:
    """Today, on whichever of the clocks it is later."""
    return str(max(moment_from_utc(now, parse_zone(zone)).wall.date() for zone in zones))


def _is_of_yesterday(fields: dict[str, str], zones: tuple[str, ...], now: str) -> bool:
    """Whether the form was opened before midnight, and its clock time has been on this side of it as well: the day could be either."""
    zone = fields.get("zone", "")
    if not _WHOLE_DAY.fullmatch(fields.get("opened", "")) or zone not in zones or fields.get("not_known"):
        return False
    here = moment_from_utc(now, parse_zone(zone)).wall
    is_old = fields["opened"] < _today(zones, now) and fields.get("day", "") < str(here.date())
    return is_old and _two_digits(fields.get("time", "").strip()) <= f"{here:%H:%M}"


def _two_digits(clock: str) -> str:
    return f"0{clock}" if _CLOCK.fullmatch(clock) else clock


def _has_an_hour_twice(days: tuple[str, ...], zone: str) -> bool:
    """Whether the clocks go back on one of these days."""
    first, last = (moment(parse_wall(f"{day} 12:00"), parse_zone(zone)) for day in (min(days), max(days)))
    assert not isinstance(first, Finding)
    assert not isinstance(last, Finding)
    return clock_change_between(first, last).minutes < 0


@case_page("GET", "POST", roles=AWAKE)
def withdraw(work: Work, state: CaseState, entry: int) -> HttpResponse:
    """A report that was entered by mistake counts no longer; it stays readable."""
    report = next((one for one in state.confirmations if one.seq == entry), None)
    if report is None and work.request.method == "GET":
        raise Http404
    if work.request.method == "POST":
        work.findings = work.said_blank(why="why it was a mistake")
        command = WithdrawConfirmation(state.id, entry, work.typed.get("why", "").strip())
        if not work.findings and work.perform(command, case_stream(state.id)):
            return work.done(f"The report of {state.id} counts no longer.", "tonight")
    return work.page("night/withdraw", state=state, report=report, fields=work.typed, seen_stream=case_stream(state.id))


@case_page("GET", "POST", roles=AWAKE)
def told(work: Work, state: CaseState, injection: str) -> HttpResponse:
    """Somebody who was to be told of an injection: whom the ladder names, or anybody else; whether they were reached, and what they said."""
    due, rungs = _due(state, injection), ladder(work.states.rules())
    version = str(work.states.rules().version)
    owed = [one for one in reached(state, rungs, work.now) if one.injection == injection]
    open_still = [one for one in owed if not one.told]
    highest = open_still[-1].rung if open_still else None
    fields = {
        "rung": str(highest.number) if highest else "",
        "told": highest.tell if highest else "",
        "about": "nobody has said that it was given or not" if open_still else "",
    } | work.typed
    if work.request.method == "POST":
        work.findings = tuple(_untold(work, fields, [str(one.number) for one in rungs]))
        if fields.get("signed", version) != version:
            what = "The ladder was signed anew since this form was opened: its lines are others now."
            work.findings += (wrong("file-value", what, "Choose the line again.", "rung"),)
            fields["rung"] = ""
        if not work.findings and work.perform(_telling(state, injection, fields)):
            return work.done(f"On the record: {fields['told'].strip()}.", "tonight")
    return work.page(
        "night/told",
        state=state,
        injection=injection,
        due=due,
        owed=owed,
        rungs=rungs,
        version=version,
        fields=fields,
        person=work.person(state.id),
        phones=numbers(work.person(state.id)),
    )


def _untold(work: Work, fields: dict[str, str], rungs: list[str]) -> Iterator[Finding]:
    yield from work.said_blank(told="whom you told", about="what of", reply="what they said, or that nobody answered")
    if fields.get("reached", "") not in ("yes", "no"):
        yield wrong("field-blank", "Nobody says whether they were reached.", "Choose one of the two.", "reached")
    if fields.get("rung", "") not in ("", *rungs):
        yield wrong("file-value", "The signed ladder has no such line.", "Choose one of its lines, or none.", "rung")


def _telling(state: CaseState, injection: str, fields: dict[str, str]) -> Escalate:
    whom, about, reply = (fields[name].strip() for name in ("told", "about", "reply"))
    rung = int(fields["rung"]) if fields.get("rung") else None
    return Escalate(state.id, injection, whom, about, reply, fields["reached"] == "yes", rung)


@case_page("GET", "POST", roles=AWAKE)
def helped(work: Work, state: CaseState, entry: int) -> HttpResponse:
    """She asked for a call on her phone, and was rung back."""
    waiting = next((one for one in state.waiting if one.seq == entry), None)
    if work.request.method == "POST":
        work.findings = work.said_blank(how="what was said")
        if not work.findings and work.perform(GiveHelp(state.id, entry, work.typed["how"].strip())):
            return work.done(f"{state.id} has been answered.", "tonight")
    if waiting is None and work.request.method == "GET":
        raise Http404
    person = work.person(state.id)
    return work.page(
        "night/helped", state=state, waiting=waiting, person=person, phones=numbers(person), fields=work.typed
    )
