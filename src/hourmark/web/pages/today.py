"""Today: every open case with what is owed next, and the calls owed, earliest tell-by first."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, replace

from django.http import HttpResponse

from hourmark.case.asked import Role
from hourmark.case.opening import OpenCase
from hourmark.case.owed import Owed, Step, owed
from hourmark.case.state import CaseState
from hourmark.exchange import table_problems
from hourmark.finding import Finding
from hourmark.web.forms import beside_fields, table_of
from hourmark.web.models import Person
from hourmark.web.work import CLINICAL, Work, page, wrong


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
        misread = beside_fields(table_problems("details", details), fields, "details.")
        work.findings = (*_person(work), *misread)
        if not work.findings and work.perform(OpenCase(case, details)):
            parts = ("initials", "name", "born", "phones")
            Person.objects.update_or_create(
                clinic=work.member.clinic,
                case=case,
                defaults={name: fields.get(f"person.{name}", "").strip() for name in parts},
            )
            return work.done(f"Case {case} is open.", "case", case)
        work.findings = tuple(
            replace(one, where="case", do=_AN_ID) if one.where == "id" else one for one in work.findings
        )
    zone = str(work.states.rules().clinic.get("zone", ""))
    return work.page("new-case", fields={"details.zone": zone, "details.language": "en"} | fields)


_AN_ID = "Write letters, digits and hyphens, at most 32 of them, such as K-201; never her name."
_MOST_INITIALS, _MOST_NAME = 8, 200


def _person(work: Work) -> Iterator[Finding]:
    """What is missing or cannot be right about who she is."""
    wanted = {"case": "an id", "person.initials": "initials", "person.name": "a name", "person.born": "a date of birth"}
    yield from work.said_blank(**wanted)
    fields = {name: value.strip() for name, value in work.typed.items()}
    if len(fields.get("person.initials", "")) > _MOST_INITIALS:
        yield wrong("file-value", "These are more than initials.", "Write her initials alone.", "person.initials")
    if len(fields.get("person.name", "")) > _MOST_NAME:
        yield wrong("file-value", "This name is too long.", f"Write at most {_MOST_NAME} characters.", "person.name")
    born = fields.get("person.born", "")
    if born and not _is_birthday(born, work.now):
        yield wrong("file-value", f'"{born[:40]}" is no date of birth.', "Write it as 1991-04-30.", "person.born")


def _is_birthday(text: str, now: str) -> bool:
    """Whether it is a date, written in one way alone, that has been."""
    try:
        return dt.date.fromisoformat(text).isoformat() == text <= now[: len(text)]
    except ValueError:
        return False
