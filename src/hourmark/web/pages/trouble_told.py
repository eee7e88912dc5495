"""After the numbers: who was told, what they said, and when it is settled. Until then it stands on the board."""

import re
from collections.abc import Iterator

from django.http import HttpResponse

from hourmark.case.calls import NoteCall
from hourmark.case.night import Escalate, NoteIncident
from hourmark.case.state import CaseState
from hourmark.case.trouble import WHOLE_CASE, Report, is_settled, last_of, same_call
from hourmark.finding import Finding
from hourmark.web.pages.trouble import AWAKE, report_at, shown
from hourmark.web.pages.trouble_facts import CALLER
from hourmark.web.work import Work, case_page, wrong

_CLOCK = re.compile(r"([01]?[0-9]|2[0-3]):[0-5][0-9]")


@case_page("POST", roles=AWAKE)
def trouble_told(work: Work, state: CaseState, entry: int) -> HttpResponse:
    """Who was told, of what, when, and what they said."""
    report = report_at(state, entry)
    fields = {name: words.strip() for name, words in work.typed.items()}
    work.findings = (
        *work.said_blank(told="who was told", about="what of", reply="what they said, or that nobody answered"),
        *_unsaid(fields),
    )
    at = f" (told at {fields['when']})" if fields.get("when") else ""
    command = Escalate(
        state.id,
        report.kept.event.injection or WHOLE_CASE,
        fields.get("told", ""),
        f"{fields.get('about', '')}{at}",
        fields.get("reply", ""),
        reached=fields.get("reached") == "yes",
    )
    if not work.findings and work.perform(command):
        return work.done(f"On the record: {command.told} was told.", "trouble-settle", state.id, entry)
    return shown(work, work.states.case(state.id), report)


def _unsaid(fields: dict[str, str]) -> Iterator[Finding]:
    if fields.get("reached", "") not in ("yes", "no"):
        yield wrong("field-blank", "Nobody says whether they were reached.", "Choose one of the two.", "reached")
    when = fields.get("when", "")
    if when and not _CLOCK.fullmatch(when):
        yield wrong("file-value", f'"{when[:20]}" is no clock time.', "Write it as 22:45, or leave it empty.", "when")


@case_page("GET", "POST", roles=AWAKE)
def settle(work: Work, state: CaseState, entry: int) -> HttpResponse:
    """What was decided and by whom: a note, while it stays open on the board; or the end of it, which is that of the whole call."""
    report_at(state, entry)
    report = last_of(state, entry)
    assert report is not None
    told = [one for one in state.escalations if one.seq > same_call(state, report)[0].kept.seq]
    last = next((one.event for one in reversed(told) if one.event.reached), None)
    fields = ({"decided_by": last.told, "decision": last.reply} if last else {}) | work.typed
    if work.request.method == "POST":
        work.findings = work.said_blank(decided_by="who decided", decision="what was decided")
        settled = fields.get("settled", "") == "true"
        if not work.findings and work.perform(_decided(state, report, fields, settled=settled)):
            words = "Settled" if settled else "Noted, and still open on the board"
            return work.done(f"{words}: {state.id}, {report.words}.", "tonight")
    return work.page(
        "trouble/settle",
        state=state,
        person=work.person(state.id),
        report=report,
        told=told,
        settled=is_settled(state, report),
        fields=fields,
    )


def _decided(state: CaseState, report: Report, fields: dict[str, str], *, settled: bool) -> NoteCall | NoteIncident:
    by, decision, follows = (fields.get(name, "").strip() for name in ("decided_by", "decision", "follows"))
    about = report.kept.event
    if not settled:
        return NoteCall(state.id, CALLER, "", about.happened, decision, by, follows)
    whole = f"{decision}; what follows: {follows}" if follows else decision
    return NoteIncident(state.id, about.injection, about.happened, by, whole, settled=True, settles=report.kept.seq)
