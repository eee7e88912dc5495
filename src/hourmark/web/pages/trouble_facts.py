"""The facts of a call: from the fields of the form to answers as the incident room reads them, and what of them went in."""

import datetime as dt
import re
from collections.abc import Mapping
from typing import Any, get_args

from hourmark.case import events as e
from hourmark.case.night import ALL, NONE, Confirm
from hourmark.case.state import CaseState
from hourmark.case.trouble import WORDS
from hourmark.clock import Which, clock_change_between, moment, moment_from_utc, parse_wall, parse_zone
from hourmark.finding import Finding
from hourmark.incident import AnswerForm, Kind, Question, is_ordered, questions, read_facts
from hourmark.incident.problems import amounts_told

NIGHT_BEFORE = dt.timedelta(hours=12)
"""A clock time without a day belongs to the night around the minute of the injection: from so long before it."""

_CLOCK = re.compile(r"([01]?[0-9]|2[0-3]):([0-5][0-9])")
_ONLY_NUMBERS = re.compile(r"[0-9][0-9.,]*(?: to [0-9][0-9.,]*)?")
_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")

_WHOLE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2} (?P<clock>[0-9]{2}:[0-9]{2})")
"""A clock time as it was kept: a day that is chosen anew takes the place of its own."""

CALLER, TELEPHONE = "the caller", "said on the telephone"


def injections_of(state: CaseState) -> dict[str, str]:
    """The injections of the case in words by their ids: those of her last page, and of the order that holds."""
    dues = state.sheets[-1].event.dues if state.sheets else ()
    found = {due.injection: f"{due.medicine} {due.dose}" for due in dues}
    order: Any = state.order.event.order if state.order else {}
    for one in order.get("injections") or ():
        found.setdefault(str(one["id"]), f"{one['drug']} {one['dose']}")
    return found


def due_of(state: CaseState, injection: str | None) -> e.Due | None:
    """The injection as her last page has it."""
    dues = state.sheets[-1].event.dues if state.sheets else ()
    return next((due for due in dues if due.injection == injection), dues[0] if dues and not injection else None)


def zone_of(state: CaseState, injection: str | None) -> str:
    """The zone of her clock."""
    due = due_of(state, injection)
    return due.zone if due is not None else str(state.details.get("zone"))


def days_of(state: CaseState, injection: str | None, now: str) -> tuple[str, ...]:
    """The days of which it can have been on her clock, from the day before its minute, or yesterday if that is earlier, to today at most."""
    due, zone = due_of(state, injection), parse_zone(zone_of(state, injection))
    today = moment_from_utc(now, zone).wall.date()
    middle = moment_from_utc(due.at, zone).wall.date() if due is not None else today
    first = min(middle, today) - dt.timedelta(days=1)
    return tuple(str(first + dt.timedelta(days=step)) for step in range(min((today - first).days, 6) + 1))


def has_an_hour_twice(days: tuple[str, ...], zone: str) -> bool:
    """Whether the clocks go back on one of these days."""
    first, last = (moment(parse_wall(f"{day} 12:00"), parse_zone(zone)) for day in (days[0], days[-1]))
    assert not isinstance(first, Finding)
    assert not isinstance(last, Finding)
    return clock_change_between(first, last).minutes < 0


def said_of(state: CaseState, kind: str, typed: Mapping[str, str]) -> dict[str, str]:
    """The answers as the incident room reads them; what was left empty is left out, and what cannot be read stays as it was typed."""
    asked = questions(Kind(kind)) if kind in set(Kind) else ()
    said: dict[str, str] = {}
    for one in asked:
        text = _answer(state, one, typed)
        if text:
            said[one.key] = text
    for key in ("symptoms", "injection", WORDS):
        if key not in said and typed.get(key, "").strip():
            said[key] = " ".join(typed[key].split())
    return said


def subject(state: CaseState, said: Mapping[str, str]) -> str | None:
    """The injection that the report is about, where it is one of hers."""
    known = injections_of(state)
    named = said.get("missed") or said.get("injection")
    if named in known:
        return named
    return next(iter(known)) if named is None and len(known) == 1 else None


def report_of(state: CaseState, kind: str, said: Mapping[str, str]) -> Confirm | None:
    """What the report says went in, as a report of an injection; None where it says of none that it did."""
    if kind not in set(Kind):
        return None
    injection = _went_in(state, Kind(kind), said)
    if injection is None:
        return None
    at = said.get("at", "not known")
    which = next((one for one in get_args(Which) if at.endswith(f" {one}")), None)
    return Confirm(
        case=state.id,
        injection=injection,
        reported=at.removesuffix(f" {which}"),
        zone=zone_of(state, injection),
        told_by=CALLER,
        source=TELEPHONE,
        amount=NONE if _is_another(state, Kind(kind), injection, said) else _amount(Kind(kind), said),
        remains=_remains(said),
        which=which,
    )


def _went_in(state: CaseState, kind: Kind, said: Mapping[str, str]) -> str | None:
    """The injection of which something is said to have gone in."""
    if kind in (Kind.MISSED, Kind.OTHER_DRUG) or said.get("injected") == "no":
        return None
    if "at" not in said and said.get("injected") != "yes":
        return None
    named = subject(state, said)
    if kind is not Kind.ONE_OF_TWO:
        return named
    others = [one for one in injections_of(state) if one != named]
    return others[0] if named is not None and len(others) == 1 else None


def _is_another(state: CaseState, kind: Kind, injection: str, said: Mapping[str, str]) -> bool:
    """Whether another medicine than that of the injection is said to have gone in: then nothing of it did."""
    due = due_of(state, injection)
    return kind is Kind.WRONG_PRODUCT and due is not None and is_ordered(said.get("drug"), due.medicine) is False


_AMOUNTS = ("drug", "strength", "water", "drawn", "mark", "lost", "stayed", "residue", "times")


def _amount(kind: Kind, said: Mapping[str, str]) -> str:
    if kind is Kind.WATER_ONLY:
        return NONE
    told = {key: said[key] for key in _AMOUNTS if key in said}
    if said.get("all") == "yes" and not amounts_told(read_facts(kind, said)) and "times" not in told:
        return ALL
    if set(told) == {"drawn"}:
        return told["drawn"]
    words = ", ".join(f"{key} {words}" for key, words in told.items())
    return words or ("not all of it" if said.get("all") == "no" else "not known")


def _remains(said: Mapping[str, str]) -> str:
    told = [f"{words} in the {where}" for key, where in _WHERE.items() if (words := said.get(key))]
    return ", ".join(told) or "not asked"


_WHERE = {"stayed": "syringe", "residue": "vial"}


# From fields to answers


def _answer(state: CaseState, asked: Question, typed: Mapping[str, str]) -> str:
    text = " ".join(typed.get(asked.key, "").split())
    match asked.form:
        case AnswerForm.TIME:
            return _time(state, text, typed)
        case AnswerForm.TIMES:
            return _starts(state, text)
        case AnswerForm.VOLUME if _ONLY_NUMBERS.fullmatch(text):
            return f"{text} mL"
        case _:
            return text


def _time(state: CaseState, text: str, typed: Mapping[str, str]) -> str:
    """One clock time or two on her clock, each with its day; two that are the same are one."""
    until = " ".join(typed.get("at_to", "").split())
    injection = typed.get("missed") or typed.get("injection") or None
    day, which = typed.get("at_day", ""), typed.get("at_which", "")
    first = _wall(state, injection, text, day)
    last = _wall(state, injection, until, day, not_before=first)
    ends = [f"{end} {which}" if which and end else end for end in (first, last)]
    return " to ".join(dict.fromkeys(filter(None, ends)))


def _wall(state: CaseState, injection: str | None, text: str, day: str, not_before: str = "") -> str:
    """A clock time with the day that was chosen; without one, that of the night around the minute of the injection."""
    if _DAY.fullmatch(day) and (whole := _WHOLE.fullmatch(text)):
        text = whole["clock"]
    found = _CLOCK.fullmatch(text)
    if found is None:
        return text
    clock = f"{int(found[1]):02}:{found[2]}"
    if _DAY.fullmatch(day):
        ended = f"{day} {clock}" < not_before
        return f"{dt.date.fromisoformat(day) + dt.timedelta(days=1) if ended and _is_date(day) else day} {clock}"
    due = due_of(state, injection)
    if due is None:
        return clock
    begins = moment_from_utc(due.at, parse_zone(due.zone)).wall - NIGHT_BEFORE
    days = (begins.date(), begins.date() + dt.timedelta(days=1))
    return next(f"{one} {clock}" for one in days if f"{one} {clock}" >= f"{begins:%Y-%m-%d %H:%M}")


def _is_date(text: str) -> bool:
    try:
        dt.date.fromisoformat(text)
    except ValueError:
        return False
    return text < "9999-12-31"


def _starts(state: CaseState, text: str) -> str:
    """The open starts, a clock time alone on the day of her slot."""
    day = str(state.slot.slot["at"])[:10] if state.slot is not None else ""
    return ", ".join(_start(one.strip(), day) for one in text.split(",") if one.strip())


def _start(text: str, day: str) -> str:
    found = _CLOCK.fullmatch(text)
    return f"{day} {int(found[1]):02}:{found[2]}" if found and day else text


def night_words(state: CaseState, injection: str | None) -> str:
    """Which night a clock time without a day belongs to; empty where her page has no minute."""
    due = due_of(state, injection)
    if due is None:
        return ""
    begins = moment_from_utc(due.at, parse_zone(due.zone)).wall - NIGHT_BEFORE
    ends = begins + 2 * NIGHT_BEFORE
    return f"{begins:%a} {begins.day} {begins:%b %H:%M} to {ends:%a} {ends.day} {ends:%b %H:%M}"
