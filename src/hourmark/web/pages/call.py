"""The call: who is on the line, the page read out in its order, and what she repeats, field by field."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse

from hourmark.case.asked import Role
from hourmark.case.calls import HearReadBack, NoteCall, TryCall
from hourmark.case.events import PlanOpened
from hourmark.case.state import CaseState
from hourmark.case.streams import case_stream
from hourmark.case.unreached import TellUnreached, next_number, numbers_of, tries_of, unreached
from hourmark.desk import Done, recorded
from hourmark.desk.made import Planned, plan_of
from hourmark.finding import Finding
from hourmark.handout import sheet_text
from hourmark.web.pages.plan import steps_of
from hourmark.web.work import Work, case_page

CALLERS = (Role.NURSE, Role.PRESCRIBER)


@case_page("GET", "POST", roles=CALLERS, shows_plan=True, while_open=True)
def call(work: Work, state: CaseState) -> HttpResponse:
    """The script and the form of the read-back."""
    fields = work.typed
    if work.request.method == "POST":
        made = plan_of(state, work.states.rules(), work.now)
        if not isinstance(made, Planned):
            work.findings = made
        elif work.perform(_read_back(state, made, fields), case_stream(state.id)):
            return _heard(work, state)
    return _shown(work, work.states.case(state.id), fields)


def _read_back(state: CaseState, planned: Planned, fields: dict[str, str]) -> HearReadBack:
    return HearReadBack(
        state.id,
        fields.get("on_the_line", ""),
        (fields.get("first_identifier", ""), fields.get("second_identifier", "")),
        tuple((name, fields.get(f"said.{name}", "")) for name in planned.to_read_back),
        fields.get("check_word", ""),
        {"yes": True, "no": False}.get(fields.get("old_alarm", "")),
    )


def _shown(work: Work, state: CaseState, fields: dict[str, str], **more: Any) -> HttpResponse:
    made = plan_of(state, work.states.rules(), work.now)
    planned = made if isinstance(made, Planned) else None
    person = work.person(state.id)
    numbers = numbers_of(person.phones) if person else ()
    return work.page(
        "call",
        state=state,
        person=person,
        numbers=[(number, tries_of(state, number)) for number in numbers],
        unreached=unreached(state, work.states.rules()),
        next_number=next_number(state, numbers),
        planned=planned,
        plan_findings=_against(work, state, made),
        words=sheet_text(planned.sheet).splitlines() if planned else [],
        steps=len(steps_of(planned)) if planned else 0,
        asked=[(name, _hint(name)) for name in planned.to_read_back] if planned else (),
        tries=state.calls,
        seen_stream=case_stream(state.id),
        fields=fields,
        **more,
    )


def _hint(name: str) -> str:
    """How what she says is written where that is no number of the page; it is the same whatever is right."""
    if name.endswith(" amount"):
        return 'all; "all of 2" where she names two; or what she says instead'
    return "one medicine, as she names it" if name.startswith("stop ") else ""


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


@case_page("POST", roles=CALLERS, shows_plan=True)
def tried(work: Work, state: CaseState) -> HttpResponse:
    """An attempt. What was typed of a read-back by then stands on the page as it did."""
    fields = work.typed
    command = TryCall(state.id, fields.get("number", ""), fields.get("reached") == "true", fields.get("result", ""))
    done = work.perform(command, key=f"{fields.get('key', '')}-try")
    if done is None:
        return _shown(work, work.states.case(state.id), fields)
    half = {name: words for name, words in fields.items() if name not in _OF_A_TRY}
    if not any(words.strip() for words in half.values()):
        return work.done("The attempt is on the record.", "call", state.id)
    messages.success(
        work.request, "The attempt is on the record. The rest that you typed stands below, and is not recorded yet."
    )
    work.states = work.desk.states()
    return _shown(work, work.states.case(state.id), half, seen=_still_seen(work, state.id, done))


def _still_seen(work: Work, case: str, done: Done) -> int:
    """What a read-back half typed may rest on: the case with this try, unless something else has happened that is yet to be told."""
    stream, own = case_stream(case), {entry.seq for entry in done.entries}
    others = [one for one in recorded(work.desk.store, stream) if one.seq > work.had_seen and one.seq not in own]
    return work.had_seen if any(not isinstance(one.event, PlanOpened) for one in others) else work.head_of(stream)


_OF_A_TRY = ("number", "reached", "result", "key", "seen", "csrfmiddlewaretoken")
"""Fields of a try, and those that are nobody's words."""


@case_page("POST", roles=CALLERS)
def told(work: Work, state: CaseState) -> HttpResponse:
    """Somebody was told that she is not reached."""
    fields = work.typed
    command = TellUnreached(state.id, fields.get("told", "").strip(), fields.get("reply", "").strip())
    if work.perform(command, case_stream(state.id)):
        return work.done(f"{command.told}: that it was told is on the record.", "call", state.id)
    return work.page("told", state=state, unreached=unreached(state, work.states.rules()), fields=fields)


@case_page("GET", "POST", roles=CALLERS)
def note(work: Work, state: CaseState) -> HttpResponse:
    """The note of a call."""
    fields = work.typed
    names = ("caller", "number", "received", "advice", "referred_to", "follow_up")
    if work.request.method == "POST":
        command = NoteCall(state.id, *(fields.get(name, "") for name in names))
        if work.perform(command):
            return work.done("The note is on the record.", "case", state.id)
    return work.page("note", state=state, fields=fields)
