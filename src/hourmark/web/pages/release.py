"""The release: a named person lets the sheet count; every reason why not, at once."""

from django.http import HttpResponse

from hourmark.case.asked import Role
from hourmark.case.sheets import Release, checked_by, told
from hourmark.case.state import CaseState
from hourmark.case.streams import case_stream
from hourmark.desk.made import Planned, plan_of
from hourmark.web.work import Work, case_page


@case_page("GET", "POST", roles=(Role.NURSE, Role.PRESCRIBER), shows_plan=True)
def release(work: Work, state: CaseState) -> HttpResponse:
    """What stands behind the sheet, and the button."""
    stream, fields = case_stream(state.id), work.typed
    if work.request.method == "POST":
        begins = "answered."
        answered = tuple(
            (name.removeprefix(begins), words) for name, words in fields.items() if name.startswith(begins)
        )
        command = Release(
            state.id,
            fields.get("unchecked_why", "").strip() or None,
            fields.get("call_waived_why", "").strip() or None,
            answered,
        )
        if work.perform(command, stream):
            return work.done("The sheet is released.", "case", state.id)
        state = work.states.case(state.id)
    made = plan_of(state, work.states.rules(), work.now)
    planned = made if isinstance(made, Planned) else None
    questions = planned.made.open_questions if planned else ()
    rests = planned.made.rests_on if planned else {}
    return work.page(
        "release",
        state=state,
        planned=planned,
        plan_findings=() if isinstance(made, Planned) else made,
        questions=[one for one in planned.findings if one.code in questions] if planned else [],
        holds=state.sheet is not None and state.sheet.event.rests_on == rests,
        checker=checked_by(state, rests),
        told=planned is not None and told(state, rests, planned.made.check_word),
        alone=work.role is Role.PRESCRIBER,
        fields=fields,
        seen_stream=stream,
    )
