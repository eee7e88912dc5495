"""One case: everything in order, who and when; and the pages of its sheets as they were."""

from django.http import Http404, HttpResponse

from hourmark.case.asked import Role
from hourmark.case.opening import ChangeDetails, CloseCase
from hourmark.case.sheets import VoidSheet
from hourmark.case.state import CaseState
from hourmark.case.streams import case_stream
from hourmark.desk import recorded
from hourmark.web.forms import fields_of, table_of
from hourmark.web.pages.today import owed
from hourmark.web.work import Work, case_page

_KINDS = {"pdf": "application/pdf", "txt": "text/plain; charset=utf-8", "ics": "text/calendar; charset=utf-8"}


@case_page("GET")
def case(work: Work, state: CaseState) -> HttpResponse:
    """The case, without minute or mark: whoever reads it can still check the plan blind."""
    next_step, to = owed(state, work.states.rules().changed_at)
    return work.page(
        "case",
        state=state,
        person=work.person(state.id),
        owed=next_step,
        to=to,
        told=recorded(work.desk.store, case_stream(state.id)),
        order_fields=fields_of(state.order.event.order) if state.order else {},
        kit_fields=fields_of(state.kit.kit) if state.kit else {},
        details=fields_of(state.details),
        seen_stream=case_stream(state.id),
    )


@case_page("GET", shows_plan=True)
def sheet(work: Work, state: CaseState, version: int, name: str) -> HttpResponse:
    """A page of a sheet, byte for byte as it was."""
    if version not in [one.event.version for one in state.sheets]:
        raise Http404
    content = work.desk.pages(state.id, version).get(name)
    if content is None:
        raise Http404
    response = HttpResponse(content, content_type=_KINDS[name.rpartition(".")[2]])
    response["Content-Disposition"] = f'inline; filename="{state.id}-{version}-{name}"'
    return response


@case_page("GET", "POST", roles=(Role.NURSE, Role.PRESCRIBER))
def details(work: Work, state: CaseState) -> HttpResponse:
    """What a plan rests on beside slot, order and kit."""
    stream, fields = (
        case_stream(state.id),
        {f"details.{name}": value for name, value in fields_of(state.details).items()},
    )
    if work.request.method == "POST":
        fields = work.typed
        command = ChangeDetails(state.id, table_of(fields, "details."), fields.get("why", "").strip() or "corrected")
        if work.perform(command, stream):
            return work.done("The details are changed.", "case", state.id)
    return work.page("details", state=state, fields=fields, seen_stream=stream)


@case_page("POST", roles=(Role.NURSE, Role.PRESCRIBER))
def void(work: Work, state: CaseState) -> HttpResponse:
    """A sheet voided by hand."""
    why = work.typed.get("why", "").strip() or "voided by hand"
    if state.sheet is not None and work.perform(VoidSheet(state.id, state.sheet.event.version, why)):
        return work.done("The sheet is void. She has to be called.", "case", state.id)
    return work.done("Nothing was changed.", "case", state.id)


@case_page("POST", roles=(Role.NURSE, Role.PRESCRIBER))
def close(work: Work, state: CaseState) -> HttpResponse:
    """The case closed."""
    if work.perform(CloseCase(state.id, work.typed.get("why", "").strip() or "the cycle is over")):
        return work.done(f"Case {state.id} is closed.", "today")
    return work.done("Nothing was changed.", "case", state.id)
