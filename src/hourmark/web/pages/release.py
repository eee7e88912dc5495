"""The release: a named person lets the sheet count; every reason why not, at once."""

from collections.abc import Iterator

from django.conf import settings
from django.http import HttpResponse

from hourmark.case.asked import Role
from hourmark.case.sheets import Release, checked_by, told
from hourmark.case.state import CaseState
from hourmark.case.streams import case_stream
from hourmark.desk.made import Planned, plan_of
from hourmark.finding import Finding
from hourmark.web.work import Work, case_page, wrong


@case_page("GET", "POST", roles=(Role.NURSE, Role.PRESCRIBER), shows_plan=True, while_open=True)
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
            by_mail=fields.get("way") == "mail",
        )
        work.findings = tuple(_not_by_mail(work, state)) if command.by_mail else ()
        if not work.findings and work.perform(command, stream):
            said = "The sheet is released, and goes to her by mail." if command.by_mail else "The sheet is released."
            return work.done(said, "case", state.id)
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
        mails=settings.MAIL is not None,
        has_address=_has_address(work, state),
        fields=fields,
        seen_stream=stream,
    )


def _has_address(work: Work, state: CaseState) -> bool:
    person = work.person(state.id)
    return person is not None and bool(person.mail)


def _not_by_mail(work: Work, state: CaseState) -> Iterator[Finding]:
    """Why a page cannot be sent, whatever she allows."""
    if settings.MAIL is None:
        yield wrong("mail-not-set", "This clinic has no mail server set up here.", "Print the page.", "way")
    elif not _has_address(work, state):
        yield wrong(
            "mail-no-address", "There is no mail address of hers.", "Enter it under Who she is, or print.", "way"
        )
