"""The second check: order, boxes, syringes and slot, and nothing of the first answer in the page, its source or a reply."""

from django.http import HttpResponse

from hourmark.case import events as e
from hourmark.case.checks import SecondCheck
from hourmark.case.state import CaseState
from hourmark.case.streams import case_stream
from hourmark.clock import moment, parse_wall, parse_zone
from hourmark.finding import Finding, Level, Unreadable
from hourmark.web.forms import fields_of, table_of
from hourmark.web.work import Work, case_page

FILLS = 3
"""How many fills there is room for, whatever the plan has: a number of rows would be an answer."""


@case_page("GET", "POST")
def check(work: Work, state: CaseState) -> HttpResponse:
    """The form; what is entered is compared on the record, and only whether it agrees comes back."""
    stream, fields = case_stream(state.id), work.typed
    if work.request.method == "POST":
        entered = _readings(fields, state)
        work.findings = tuple(one for one in entered if isinstance(one, Finding))
        if not work.findings:
            readings = tuple(one for one in entered if isinstance(one, e.Reading))
            if work.perform(SecondCheck(state.id, readings), stream):
                return _compared(work, state)
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


def _readings(fields: dict[str, str], state: CaseState) -> list[e.Reading | Finding]:
    order = state.order.event.order if state.order else {}
    entered = table_of(fields, "entered.")
    found: list[e.Reading | Finding] = []
    for injection in order.get("injections", []):  # type: ignore[union-attr]
        name = str(injection["id"])  # type: ignore[index,call-overload]
        row = entered.get(name, {})
        try:
            at = moment(parse_wall(row.get("at", ""), row.get("which") or None), parse_zone(state.details.get("zone")))
        except Unreadable as wrong:
            found.append(_problem(name, wrong.what, wrong.do))
            continue
        fills = tuple((fill.get("volume", ""), fill.get("mark", "")) for fill in row.get("fills", []))
        found.append(at if isinstance(at, Finding) else e.Reading(name, at.utc, fills))
    return found


def _problem(name: str, what: str, do: str) -> Finding:
    return Finding("unreadable", Level.STOP, what, do, f"entered.{name}.at", "a clock time", "docs/night-file.md")
