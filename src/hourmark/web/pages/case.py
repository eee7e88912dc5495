"""One case: everything in order, who and when; and the pages of its sheets as they were."""

import re

from django.http import Http404, HttpResponse

from hourmark.case.asked import Role
from hourmark.case.opening import ChangeDetails, CloseCase
from hourmark.case.owed import owed
from hourmark.case.sheets import VoidSheet
from hourmark.case.state import CaseState, SheetStanding
from hourmark.case.streams import case_stream
from hourmark.case.unreached import unreached
from hourmark.clock import elapsed, moment, parse_wall, parse_zone
from hourmark.desk import recorded
from hourmark.finding import Finding, Unreadable
from hourmark.web import drilling
from hourmark.web.forms import fields_of, table_of
from hourmark.web.models import Posting
from hourmark.web.work import Work, case_page

_WHOLE = re.compile(r"[0-9]{1,6}")
_KINDS = {
    "pdf": "application/pdf",
    "txt": "text/plain; charset=utf-8",
    "ics": "text/calendar; charset=utf-8",
    "json": "application/json",
}


@case_page("GET")
def case(work: Work, state: CaseState) -> HttpResponse:
    """The case, without minute or mark: whoever reads it can still check the plan blind."""
    return shown(work, state)


def shown(work: Work, state: CaseState) -> HttpResponse:
    """The case as it now is; with why not, where something sent from it was refused."""
    state = work.states.case(state.id)
    return work.page(
        "case",
        state=state,
        person=work.person(state.id),
        owed=owed(state, work.states.rules()),
        ordered_for=elapsed(state.order.at, work.now) if state.order else None,
        asked_at=work.request.GET.get("at", ""),
        held_then=_held_at(work, state, work.request.GET.get("at", "")),
        told=recorded(work.desk.store, case_stream(state.id)),
        order_fields=fields_of(state.order.event.order) if state.order else {},
        kit_fields=fields_of(state.kit.kit) if state.kit else {},
        details=fields_of(state.details),
        postings=_postings(work, state),
        unreached=unreached(state, work.states.rules()),
        late=state.heard_again,
        seen_stream=case_stream(state.id),
    )


def _postings(work: Work, state: CaseState) -> list[tuple[int, Posting | None]]:
    """Every version that was to go by mail, with what became of it; None before it was tried."""
    known = {one.version: one for one in Posting.objects.filter(clinic=work.member.clinic, case=state.id)}
    return [(version, known.get(version)) for version in state.mailed]


def _held_at(work: Work, state: CaseState, at: str) -> SheetStanding | None:
    """The last sheet that had been released by a clock time of the clinic, which is what she had been told by then."""
    try:
        moment_then = moment(parse_wall(at), parse_zone(work.states.rules().clinic.get("zone")))
    except Unreadable:
        return None
    if isinstance(moment_then, Finding):
        return None
    by_then = [one for one in state.sheets if one.at <= moment_then.utc]
    return by_then[-1] if by_then else None


@case_page("GET", shows_plan=True)
def sheet(work: Work, state: CaseState, version: int, name: str) -> HttpResponse:
    """A page of a sheet, byte for byte as it was; of a drill's, the entry for a calendar says that it is one."""
    if version not in [one.event.version for one in state.sheets]:
        raise Http404
    content = work.desk.pages(state.id, version).get(name)
    if content is None:
        raise Http404
    response = HttpResponse(drilling.marked(name, content), content_type=_KINDS[name.rpartition(".")[2]])
    response["Content-Disposition"] = f'inline; filename="{state.id}-{version}-{name}"'
    return response


@case_page("GET", "POST", roles=(Role.NURSE, Role.PRESCRIBER), while_open=True)
def details(work: Work, state: CaseState) -> HttpResponse:
    """What a plan rests on beside slot, order and kit."""
    stream, fields = (
        case_stream(state.id),
        {f"details.{name}": value for name, value in fields_of(state.details).items()},
    )
    if work.request.method == "POST":
        fields = work.typed
        command = ChangeDetails(state.id, table_of(fields, "details."), fields.get("why", "").strip() or "corrected")
        if work.perform(command, stream, "details."):
            return work.done("The details are changed.", "case", state.id)
    return work.page("details", state=state, fields=fields, seen_stream=stream)


@case_page("POST", roles=(Role.NURSE, Role.PRESCRIBER))
def void(work: Work, state: CaseState) -> HttpResponse:
    """A sheet voided by hand."""
    why = work.typed.get("why", "").strip() or "voided by hand"
    version = _WHOLE.fullmatch(work.typed.get("version", ""))
    command = VoidSheet(state.id, int(version[0]) if version else len(state.sheets), why)
    if work.perform(command, case_stream(state.id)):
        return work.done("The sheet is void. She has to be called.", "case", state.id)
    return shown(work, state)


@case_page("POST", roles=(Role.NURSE, Role.PRESCRIBER))
def close(work: Work, state: CaseState) -> HttpResponse:
    """The case closed."""
    stream = case_stream(state.id)
    if work.perform(CloseCase(state.id, work.typed.get("why", "").strip() or "the cycle is over"), stream):
        return work.done(f"Case {state.id} is closed.", "today")
    return shown(work, state)
