"""The call: who is on the line, the page read out in its order, and what she repeats, field by field."""

from django.http import HttpResponse

from hourmark.case.asked import Role
from hourmark.case.calls import HearReadBack, NoteCall, TryCall
from hourmark.case.state import CaseState
from hourmark.case.streams import case_stream
from hourmark.desk.made import Planned, plan_of
from hourmark.finding import Finding
from hourmark.handout import sheet_text
from hourmark.web.pages.plan import steps_of
from hourmark.web.work import Work, case_page

CALLERS = (Role.NURSE, Role.PRESCRIBER)


@case_page("GET", "POST", roles=CALLERS, shows_plan=True)
def call(work: Work, state: CaseState) -> HttpResponse:
    """The script and the form of the read-back."""
    stream, fields = case_stream(state.id), work.typed
    made = plan_of(state, work.states.rules(), work.now)
    if work.request.method == "POST" and not isinstance(made, Planned):
        work.findings = made
    elif work.request.method == "POST":
        work.findings = work.said_blank(on_the_line="who is on the line")
    if work.request.method == "POST" and isinstance(made, Planned) and not work.findings:
        said = tuple((name, fields.get(f"said.{name}", "")) for name in made.to_read_back)
        old = {"yes": True, "no": False}.get(fields.get("old_alarm", ""))
        command = HearReadBack(
            state.id,
            fields.get("on_the_line", ""),
            (fields.get("first_identifier", ""), fields.get("second_identifier", "")),
            said,
            fields.get("check_word", ""),
            old,
        )
        if work.perform(command, stream):
            return _heard(work, state)
        state = work.states.case(state.id)
        made = plan_of(state, work.states.rules(), work.now)
    planned = made if isinstance(made, Planned) else None
    return work.page(
        "call",
        state=state,
        person=work.person(state.id),
        planned=planned,
        plan_findings=_against(work, state, made),
        words=sheet_text(planned.sheet).splitlines() if planned else [],
        steps=len(steps_of(planned)) if planned else 0,
        fields=fields,
        tries=state.calls,
        seen_stream=stream,
    )


def _against(work: Work, state: CaseState, made: Planned | tuple[Finding, ...]) -> tuple[Finding, ...]:
    """Why there is nothing to read out, or what is no longer as it was when the page was made; where it is not said already."""
    if not isinstance(made, Planned):
        findings = made
    elif made.case.refused:
        findings = made.case.findings
    else:
        known = {one.code for one in made.case.findings}
        findings = tuple(one for one in made.findings if one.code not in known)
    return tuple(one for one in findings if one not in work.findings)


def _heard(work: Work, state: CaseState) -> HttpResponse:
    heard = work.desk.states().case(state.id).read_back
    assert heard is not None
    wrong = [one for one in heard.event.fields if not one.agreed]
    if wrong:
        return work.page("call-wrong", state=state, wrong=wrong)
    return work.done("She has read it back, all of it rightly.", "release", state.id)


@case_page("POST", roles=CALLERS)
def tried(work: Work, state: CaseState) -> HttpResponse:
    """An attempt."""
    fields = work.typed
    work.findings = work.said_blank(number="the number that was rung")
    command = TryCall(state.id, fields.get("number", ""), fields.get("reached") == "true", fields.get("result", ""))
    if not work.findings and work.perform(command):
        return work.done("The attempt is on the record.", "call", state.id)
    return work.page("tried", state=state, fields=fields)


@case_page("GET", "POST", roles=CALLERS)
def note(work: Work, state: CaseState) -> HttpResponse:
    """The note of a call."""
    fields = work.typed
    names = ("caller", "number", "received", "advice", "referred_to", "follow_up")
    if work.request.method == "POST":
        work.findings = work.said_blank(caller="who rang", received="what was said")
        command = NoteCall(state.id, *(fields.get(name, "") for name in names))
        if not work.findings and work.perform(command):
            return work.done("The note is on the record.", "case", state.id)
    return work.page("note", state=state, fields=fields)
