"""Calls: tried, heard and noted, and what she allows."""

from dataclasses import dataclass

from hourmark.case import events as e
from hourmark.case.asked import Asked, Refused, Role, blank, only, refusal, same_person
from hourmark.case.opening import not_open, nothing_changed
from hourmark.case.state import CaseState


@dataclass(frozen=True, slots=True)
class TryCall:
    """Record that somebody rang a number, and who answered, if anybody."""

    case: str
    number: str
    reached: bool
    result: str


@dataclass(frozen=True, slots=True)
class HearReadBack:
    """Record what was read back, field by field: its name, and what was said."""

    case: str
    on_the_line: str
    identified_by: tuple[str, str]
    fields: tuple[tuple[str, str], ...]
    check_word: str
    old_alarm_deleted: bool | None = None


@dataclass(frozen=True, slots=True)
class NoteCall:
    """Write the note of a call."""

    case: str
    caller: str
    number: str
    received: str
    advice: str
    referred_to: str
    follow_up: str


@dataclass(frozen=True, slots=True)
class SetPermissions:
    """Record what she allows: who else may be told (in words, never a name), voicemail, mail; and how she said so."""

    case: str
    may_be_told: str
    voicemail: bool
    message: bool
    how: str


def try_call(state: CaseState, command: TryCall, _: Asked) -> tuple[e.CaseEvent, ...] | Refused:
    """The attempt is on the record."""
    if wrong := not_open(state, command.case) or blank(number=(command.number, "the number that was rung")):
        return wrong
    return (e.CallTried(command.number, command.reached, command.result),)


def set_permissions(state: CaseState, command: SetPermissions, asked: Asked) -> tuple[e.CaseEvent, ...] | Refused:
    """What she allows is this from now on; no sheet rests on it."""
    if wrong := (
        only(asked, Role.NURSE, Role.PRESCRIBER)
        or not_open(state, command.case)
        or blank(how=(command.how, "how she said so"))
    ):
        return wrong
    allowed = e.PermissionsSet(command.may_be_told, command.voicemail, command.message, command.how)
    return nothing_changed("list of what she allows") if state.permissions == allowed else (allowed,)


def hear_read_back(
    state: CaseState,
    command: HearReadBack,
    _: Asked,
    wanted: dict[str, str],
    check_word: str,
    rests_on: dict[str, str],
) -> tuple[e.CaseEvent, ...] | Refused:
    """What was read back, and for every wanted field whether it agrees; one that was not said does not.

    `check_word` is that of the page as it now is.
    """
    if closed := not_open(state, command.case):
        return closed
    nobody = blank(on_the_line=(command.on_the_line, "who is on the line"))
    findings = [*nobody.findings] if nobody else []
    one, other = command.identified_by
    if not one.strip() or not other.strip() or same_person(one, other):
        findings.append(
            refusal(
                "call-identity",
                "Two different things have to show that it is she.",
                "Ask for two, such as full name and date of birth, before anything is said.",
                "two identifiers on every call",
            )
        )
    if any(one is not state.sheet for one in state.sheets) and not command.old_alarm_deleted:
        findings.append(
            refusal(
                "old-alarm",
                "She has had an earlier page, and the alarm set by it was not deleted.",
                "Have her delete the old alarm while you wait, then read the new one out.",
                "an alarm of a page that no longer holds is deleted",
            )
        )
    if unknown := [name for name, _ in command.fields if name not in wanted]:
        findings.append(
            refusal(
                "read-back-field",
                f"Her page has nothing that is called {', '.join(unknown)}.",
                f"Read back: {', '.join(wanted) or 'nothing, as the case has no plan'}.",
                "the fields of her page",
            )
        )
    if findings:
        return Refused(tuple(findings))
    heard = dict(command.fields) | {"check word": command.check_word}
    said = tuple(
        e.Said(name, right, heard.get(name, ""), _same(right, heard.get(name, "")))
        for name, right in (*wanted.items(), ("check word", check_word))
    )
    read_back = e.ReadBack(
        command.on_the_line, command.identified_by, said, check_word, command.old_alarm_deleted, rests_on
    )
    return (read_back,)


def note_call(state: CaseState, command: NoteCall, _: Asked) -> tuple[e.CaseEvent, ...] | Refused:
    """The note is on the record, on a closed case as well."""
    closed = not_open(state, command.case)
    if closed is not None and not state.there:
        return closed
    if missing := blank(caller=(command.caller, "who rang"), received=(command.received, "what was said")):
        return missing
    note = e.CallNoted(
        command.caller,
        command.number,
        command.received,
        command.advice,
        command.referred_to,
        command.follow_up,
    )
    return (note,)


def _same(wanted: str, said: str) -> bool:
    """Whether what was said is what it should be; only case and spaces may differ."""
    return wanted.casefold().split() == said.casefold().split()
