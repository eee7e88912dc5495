"""Today: every open case with what is owed next, and the calls owed, earliest tell-by first."""

from dataclasses import dataclass

from django.http import HttpResponse

from hourmark.case.asked import Role
from hourmark.case.opening import OpenCase
from hourmark.case.state import CaseState
from hourmark.exchange import table_problems
from hourmark.finding import Finding, Level
from hourmark.web.forms import table_of
from hourmark.web.models import Person
from hourmark.web.work import CLINICAL, Work, page


@dataclass(frozen=True, slots=True)
class Line:
    """One case on the list: who, when, what is owed next, and where that is done."""

    state: CaseState
    person: Person | None
    owed: str
    to: str


@page("GET")
def today(work: Work) -> HttpResponse:
    """The list."""
    people = {one.case: one for one in Person.objects.filter(clinic=work.member.clinic)}
    changed = work.states.rules().changed_at
    cases = work.states.open_cases()
    lines = [Line(state, people.get(state.id), *owed(state, changed)) for state in cases]
    lines.sort(key=lambda line: (line.state.slot.instant if line.state.slot else "9", line.state.id))
    calls = [line for line in lines if line.owed in (CALL, AGAIN)]
    unsigned = [one for one in cases for order in one.orders if order.awaits_signature]
    return work.page("today", lines=lines, calls=calls, unsigned=unsigned, reads=work.role in CLINICAL)


CALL, AGAIN = "call her and have her read it back", "call her again: her page is void"


def owed(state: CaseState, rules_changed: str) -> tuple[str, str]:
    """What a case needs next, and the page where it is done; from its facts alone, without planning it."""
    since = max(state.changed_at, rules_changed)
    if state.order is None:
        return "an order", "order"
    if state.kit is None:
        return "the kit, read off the boxes", "kit"
    if state.sheet is not None:
        return f"released, version {state.sheet.event.version}", "case"
    check = state.check
    if check is None or check.at < since or check.event.differences:
        return "a second check", "check"
    if state.read_back is None or state.read_back.at < since:
        return (AGAIN if state.sheets else CALL), "call"
    return "the release", "release"


@page("GET", "POST", roles=(Role.NURSE, Role.PRESCRIBER))
def new_case(work: Work) -> HttpResponse:
    """A case opened, and who the person is, apart from it."""
    fields = work.typed
    if work.request.method == "POST":
        case, details = fields.get("case", "").strip(), table_of(fields, "details.")
        wrong = [finding for finding in table_problems("details", {**details, "id": case}) if finding.where != "id"]
        problems = (*_person(fields), *(finding.at("details.").at("") for finding in wrong))
        work.findings = tuple(_under(finding) for finding in problems)
        if not problems and work.perform(OpenCase(case, details)):
            Person.objects.update_or_create(
                clinic=work.member.clinic,
                case=case,
                defaults={name: fields[f"person.{name}"].strip() for name in ("initials", "name", "born", "phones")},
            )
            return work.done(f"Case {case} is open.", "case", case)
    zone = str(work.states.rules().clinic.get("zone", ""))
    return work.page("new-case", fields={"details.zone": zone, "details.language": "en"} | fields)


def _under(finding: Finding) -> Finding:
    return finding


def _person(fields: dict[str, str]) -> list[Finding]:
    wanted = {"case": "an id", "person.initials": "initials", "person.name": "a name", "person.born": "a date of birth"}
    return [
        Finding("field-blank", Level.STOP, f"There is no {what.split(' ', 1)[-1]}.", f"Enter {what}.", name)
        for name, what in wanted.items()
        if not fields.get(name, "").strip()
    ]
