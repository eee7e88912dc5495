"""Today: every open case with what is owed next, and the calls owed, earliest tell-by first."""

from dataclasses import dataclass, replace

from django.http import HttpResponse

from hourmark.case.asked import Role
from hourmark.case.opening import OpenCase
from hourmark.case.owed import Owed, Step, owed
from hourmark.case.state import CaseState
from hourmark.exchange import table_problems
from hourmark.finding import Finding, Level
from hourmark.web.forms import table_of
from hourmark.web.models import Person
from hourmark.web.work import CLINICAL, Work, page


@dataclass(frozen=True, slots=True)
class Line:
    """One case on the list: who, and what is owed next."""

    state: CaseState
    person: Person | None
    owed: Owed


@page("GET")
def today(work: Work) -> HttpResponse:
    """The list."""
    people = {one.case: one for one in Person.objects.filter(clinic=work.member.clinic)}
    rules, cases = work.states.rules(), work.states.open_cases()
    lines = [Line(state, people.get(state.id), owed(state, rules)) for state in cases]
    lines.sort(key=lambda line: (line.state.slot.instant if line.state.slot else "9", line.state.id))
    calls = sorted(
        (line for line in lines if line.owed.step is Step.CALL),
        key=lambda line: (line.owed.tell_by or "9", line.state.id),
    )
    unsigned = [one for one in cases for order in one.orders if order.awaits_signature]
    return work.page("today", lines=lines, calls=calls, unsigned=unsigned, reads=work.role in CLINICAL)


@page("GET", "POST", roles=(Role.NURSE, Role.PRESCRIBER))
def new_case(work: Work) -> HttpResponse:
    """A case opened, and who the person is, apart from it."""
    fields = work.typed
    if work.request.method == "POST":
        case, details = fields.get("case", "").strip(), table_of(fields, "details.")
        wrong = [finding for finding in table_problems("details", {**details, "id": case}) if finding.where != "id"]
        work.findings = (*_person(fields), *(replace(one, where=f"details.{one.where}") for one in wrong))
        if not work.findings and work.perform(OpenCase(case, details)):
            Person.objects.update_or_create(
                clinic=work.member.clinic,
                case=case,
                defaults={name: fields[f"person.{name}"].strip() for name in ("initials", "name", "born", "phones")},
            )
            return work.done(f"Case {case} is open.", "case", case)
    zone = str(work.states.rules().clinic.get("zone", ""))
    return work.page("new-case", fields={"details.zone": zone, "details.language": "en"} | fields)


def _person(fields: dict[str, str]) -> list[Finding]:
    wanted = {"case": "an id", "person.initials": "initials", "person.name": "a name", "person.born": "a date of birth"}
    return [
        Finding("field-blank", Level.STOP, f"There is no {what.split(' ', 1)[-1]}.", f"Enter {what}.", name)
        for name, what in wanted.items()
        if not fields.get(name, "").strip()
    ]
