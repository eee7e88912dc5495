"""Who she is, apart from the record and open to correction; and what she allows, which is on the record and holds no name."""

import datetime as dt
import hashlib
from collections.abc import Iterator

from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.http import HttpResponse

from hourmark.case.asked import Role
from hourmark.case.calls import SetPermissions
from hourmark.case.state import CaseState
from hourmark.case.streams import case_stream
from hourmark.finding import Finding
from hourmark.web.models import Look, Person
from hourmark.web.work import Work, case_page, wrong

PARTS = ("name", "initials", "born", "phones", "mail")
"""What is kept of a person; in a form each stands behind `person.`."""

_MOST_INITIALS, _MOST_NAME, _MOST_MAIL = 8, 200, 254
_WRITERS = (Role.NURSE, Role.PRESCRIBER)


@case_page("GET", "POST", roles=_WRITERS)
def who(work: Work, state: CaseState) -> HttpResponse:
    """The form. A correction is kept with who made it and what it was about; the old words are kept nowhere."""
    person = work.person(state.id)
    fields = {f"person.{part}": getattr(person, part, "") for part in PARTS}
    was = _digest(person)
    if work.request.method == "POST":
        fields = work.typed
        typed = person_of(fields)
        changed = [part for part in PARTS if typed[part] != getattr(person, part, "")]
        if changed and fields.get("was", "") != was:
            work.findings = tuple(_changed_meanwhile(person))
        else:
            work.findings = tuple(problems_of(work))
        if not work.findings:
            _save(work, state.id, typed, changed)
            return work.done(
                "Who she is stands corrected." if changed else "It stands there just so.", "case", state.id
            )
    return work.page("who", state=state, fields=fields, was=was)


@case_page("GET", "POST", roles=_WRITERS, while_open=True)
def allowed(work: Work, state: CaseState) -> HttpResponse:
    """What she allows: who else may be told, voicemail, mail."""
    stream, fields = case_stream(state.id), work.typed
    if work.request.method == "POST":
        command = SetPermissions(
            state.id,
            fields.get("may_be_told", "").strip(),
            voicemail=fields.get("voicemail") == "true",
            message=fields.get("message") == "true",
            how=fields.get("how", "").strip(),
        )
        if work.perform(command, stream):
            return work.done("What she allows is on the record.", "case", state.id)
    elif (allowed := state.permissions) is not None:
        switches = {"voicemail": allowed.voicemail, "message": allowed.message}
        fields = {"may_be_told": allowed.may_be_told} | {name: "true" for name, given in switches.items() if given}
    return work.page("allowed", state=state, fields=fields, seen_stream=stream)


def person_of(fields: dict[str, str]) -> dict[str, str]:
    """Who somebody is, as typed."""
    return {part: fields.get(f"person.{part}", "").strip() for part in PARTS}


def problems_of(work: Work) -> Iterator[Finding]:
    """What is missing or cannot be right about who she is."""
    wanted = {"person.initials": "initials", "person.name": "a name", "person.born": "a date of birth"}
    yield from work.said_blank(**wanted)
    typed = person_of(work.typed)
    if len(typed["initials"]) > _MOST_INITIALS:
        yield wrong("file-value", "These are more than initials.", "Write her initials alone.", "person.initials")
    if len(typed["name"]) > _MOST_NAME:
        yield wrong("file-value", "This name is too long.", f"Write at most {_MOST_NAME} characters.", "person.name")
    born, mail = typed["born"], typed["mail"]
    if born and not _is_birthday(born, work.now):
        yield wrong("file-value", f'"{born[:40]}" is no date of birth.', "Write it as 1991-04-30.", "person.born")
    if mail and not _is_address(mail):
        yield wrong("file-value", f'"{mail[:40]}" is no mail address.', "Write it as name@example.org.", "person.mail")


def _save(work: Work, case: str, typed: dict[str, str], changed: list[str]) -> None:
    if not changed:
        return
    Person.objects.update_or_create(clinic=work.member.clinic, case=case, defaults=typed)
    Look.objects.create(
        clinic=work.member.clinic, case=case, member=work.member, at=work.now, page=f"who: {', '.join(changed)} changed"
    )


def _changed_meanwhile(person: Person | None) -> Iterator[Finding]:
    stands = "; ".join(f"{part}: {getattr(person, part)}" for part in PARTS if getattr(person, part, ""))
    yield wrong(
        "person-changed",
        f"Somebody else changed this since you opened the page. It now says: {stands or 'nothing'}.",
        "Look at it, and send yours again if it is still right.",
        "",
    )


def _digest(person: Person | None) -> str:
    """What the form was made from, so that a correction made meanwhile is not undone unseen."""
    return hashlib.sha256("\n".join(getattr(person, part, "") for part in PARTS).encode()).hexdigest()[:16]


def _is_birthday(text: str, now: str) -> bool:
    """Whether it is a date, written in one way alone, that has been."""
    try:
        return dt.date.fromisoformat(text).isoformat() == text <= now[: len(text)]
    except ValueError:
        return False


def _is_address(text: str) -> bool:
    try:
        validate_email(text)
    except ValidationError:
        return False
    return len(text) <= _MOST_MAIL
