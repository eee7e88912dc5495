"""Today: every open case with what is owed next, and the calls owed, earliest tell-by first."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from django.conf import settings
from django.http import HttpResponse

from hourmark.case.asked import Role
from hourmark.case.day import RulesState
from hourmark.case.opening import OpenCase
from hourmark.case.owed import Owed, Step, owed
from hourmark.case.state import CaseState
from hourmark.case.unreached import Unreached, next_number, numbers_of, unreached
from hourmark.drill.cast import PREFIX
from hourmark.exchange import table_problems
from hourmark.finding import Finding
from hourmark.web.forms import beside_fields, table_of
from hourmark.web.models import Person
from hourmark.web.pages.who import person_of, problems_of
from hourmark.web.work import CLINICAL, Work, page, wrong


@dataclass(frozen=True, slots=True)
class Line:
    """One case on the list: who, what is owed next, and how it stands where she was rung and not reached."""

    state: CaseState
    person: Person | None
    owed: Owed
    unreached: Unreached | None
    next_number: str | None


@page("GET")
def today(work: Work) -> HttpResponse:
    """The list."""
    people = {one.case: one for one in Person.objects.filter(clinic=work.member.clinic)}
    rules, (in_sight, damaged) = work.states.rules(), work.states.in_sight()
    cases = [case for case in in_sight if not case.closed]
    lines = [_line(state, people.get(state.id), rules) for state in cases]
    lines.sort(key=lambda line: (line.state.slot.instant if line.state.slot else "9", line.state.id))
    calls = sorted(
        (line for line in lines if line.owed.step is Step.CALL),
        key=lambda line: (line.owed.tell_by or "9", line.state.id),
    )
    unsigned = [one for one in cases for order in one.orders if order.awaits_signature]
    unreached = [(line, tell) for line in lines if line.unreached for tell in line.unreached.owed(work.now)]
    return work.page(
        "today",
        lines=lines,
        calls=calls,
        unsigned=unsigned,
        unreached=unreached,
        damaged=damaged,
        reads=work.role in CLINICAL,
    )


def _line(state: CaseState, person: Person | None, rules: RulesState) -> Line:
    next_one = next_number(state, numbers_of(person.phones)) if person else None
    return Line(state, person, owed(state, rules), unreached(state, rules), next_one)


@page("GET", "POST", roles=(Role.NURSE, Role.PRESCRIBER))
def new_case(work: Work) -> HttpResponse:
    """A case opened, and who the person is, apart from it."""
    fields = work.typed
    if work.request.method == "POST":
        case, details = fields.get("case", "").strip(), table_of(fields, "details.")
        misread = beside_fields(table_problems("details", details), fields, "details.")
        work.findings = (*work.said_blank(case="an id"), *not_a_drills(case), *problems_of(work), *misread)

        def who_she_is() -> None:
            Person.objects.update_or_create(clinic=work.member.clinic, case=case, defaults=person_of(fields))

        if not work.findings and work.perform(OpenCase(case, details), beside=who_she_is):
            return work.done(f"Case {case} is open.", "case", case)
        work.findings = tuple(
            replace(one, where="case", do=_AN_ID) if one.where == "id" else one for one in work.findings
        )
    zone = str(work.states.rules().clinic.get("zone", ""))
    return work.page("new-case", fields={"details.zone": zone, "details.language": "en"} | fields)


def not_a_drills(case: str) -> Iterator[Finding]:
    """An id says whether it is a drill's: it stands on each page of paper. Elsewhere than in a drill none does, however it is written."""
    if settings.DRILL and case and not case.startswith(PREFIX):
        yield wrong("drill-case-id", "This id does not say that it is a drill's.", f"Begin it with {PREFIX}.", "case")
    elif not settings.DRILL and case.casefold().startswith(PREFIX.casefold()):
        yield wrong("drill-case-id", "This id says that it is an invented case of a drill.", _AN_ID, "case")


_AN_ID = "Write letters, digits and hyphens, at most 32 of them, such as K-201; never her name."
