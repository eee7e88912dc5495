"""The second check: order, boxes, syringes and slot, and nothing of the first answer in the page, its source or a reply."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from fractions import Fraction
from typing import Any

from django.http import HttpResponse

from hourmark.case import events as e
from hourmark.case.checks import SecondCheck
from hourmark.case.state import CaseState
from hourmark.case.streams import case_stream
from hourmark.clock import Moment, Which, moment, parse_wall, parse_zone
from hourmark.finding import Finding, Level, Unreadable
from hourmark.quantity import number_text, parse_number, parse_volume
from hourmark.web.forms import fields_of
from hourmark.web.work import Work, case_page

FILLS = 3
"""How many fills there is room for, whatever the plan has: a number of rows would be an answer."""


@case_page("GET", "POST", while_open=True)
def check(work: Work, state: CaseState) -> HttpResponse:
    """The form; what is entered is compared on the record, and only whether it agrees comes back."""
    stream, fields = case_stream(state.id), work.typed
    if work.request.method == "POST":
        entered = list(_readings(fields, state))
        work.findings = tuple(one for one in entered if isinstance(one, Finding))
        if not work.findings:
            readings = tuple(one for one in entered if isinstance(one, e.Reading))
            if work.perform(SecondCheck(state.id, readings), stream):
                return _compared(work, state)
            state = work.states.case(state.id)
    order = state.order.event.order if state.order else {}
    injections = order.get("injections", [])
    return work.page(
        "check",
        state=state,
        order=order,
        order_fields=fields_of(order),
        injections=injections,
        kit=state.kit.kit if state.kit else {},
        zone=state.details.get("zone", ""),
        fields=fields,
        places=range(1, FILLS + 1),
        seen_stream=stream,
    )


def _compared(work: Work, state: CaseState) -> HttpResponse:
    check = work.desk.states().case(state.id).check
    assert check is not None
    if check.event.differences:
        return work.page("check-differs", state=state, differences=check.event.differences)
    return work.done("Your working is the same. Both are on the record.", "today")


def _readings(fields: dict[str, str], state: CaseState) -> Iterator[e.Reading | Finding]:
    """What was entered for each injection, or what of it cannot be read."""
    order: Any = state.order.event.order if state.order else {}
    for injection in order.get("injections", []):
        name = str(injection["id"])
        at = _minute(fields, state, f"entered.{name}.at", f"entered.{name}.which")
        fills: list[tuple[str, str]] = []
        problems: list[Finding] = []
        for place in range(1, FILLS + 1):
            begins = f"entered.{name}.fills[{place}]"
            volume, mark = (fields.get(f"{begins}.{part}", "").strip() for part in ("volume", "mark"))
            problems += _unread(f"{begins}.volume", volume, parse_volume)
            problems += _unread(f"{begins}.mark", mark, parse_number if mark[:1] in _DIGITS else str.lower)
            if volume or mark:
                fills.append((volume, mark))
        yield from problems
        if isinstance(at, Finding):
            yield at
        elif not problems:
            yield e.Reading(name, at.utc, tuple(fills))


_DIGITS = tuple("0123456789.,+-")
"""What a mark begins with that has to be a number; others are words."""


_SIDES: dict[str, Which | None] = {"": None, "first": "first", "second": "second"}


def _minute(fields: dict[str, str], state: CaseState, name: str, which: str) -> Moment | Finding:
    typed, side = " ".join(fields.get(name, "").split()), fields.get(which, "").strip()
    if side not in _SIDES:
        return _problem(
            which, Unreadable(f'"{side}" is neither first nor second.', "Write first or second, or nothing.")
        )
    try:
        found = moment(parse_wall(typed, _SIDES[side]), parse_zone(state.details.get("zone")))
    except Unreadable as wrong:
        return _problem(name, wrong)
    return replace(found, where=name) if isinstance(found, Finding) else found


def _unread(name: str, typed: str, read: Callable[[str], object]) -> Iterator[Finding]:
    """Why something typed is no number as the other working writes it; a spelling would be taken for a difference."""
    try:
        spelt = read(typed) if typed else ""
    except Unreadable as wrong:
        yield _problem(name, wrong)
        return
    plain = number_text(spelt) if isinstance(spelt, Fraction) else str(spelt)
    if plain != typed:
        yield _problem(
            name, Unreadable(f'"{typed}" can be written in another way.', f'Write "{plain}", if that is meant.')
        )


def _problem(name: str, wrong: Unreadable) -> Finding:
    return Finding(
        "unreadable", Level.STOP, wrong.what, wrong.do, name, "as a night file is written", "docs/night-file.md"
    )
