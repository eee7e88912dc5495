"""Sheets: released by a named person after the second check and the call, and voided."""

from collections.abc import Iterator
from dataclasses import dataclass

from hourmark.case import events as e
from hourmark.case.asked import Asked, Refused, Role, only, refusal, same_person
from hourmark.case.opening import not_open, nothing_changed
from hourmark.case.state import CaseState
from hourmark.finding import Finding


@dataclass(frozen=True, slots=True)
class Release:
    """Release the sheet of a case as it now is. Without a check only the prescriber can; the call can be gone without; both with a reason.

    `answered` holds, by its code, what the prescriber said to each question that the plan leaves open. `by_mail` also sends it to her.
    """

    case: str
    unchecked_why: str | None = None
    call_waived_why: str | None = None
    answered: tuple[tuple[str, str], ...] = ()
    by_mail: bool = False


@dataclass(frozen=True, slots=True)
class VoidSheet:
    """Void a sheet by hand."""

    case: str
    version: int
    why: str


@dataclass(frozen=True, slots=True)
class Made:
    """A sheet made of the case as it now is: what it says, what it rests on, and what keeps it from being released.

    `blocks` are the findings of the plan that let it be a draft only; `open_questions` the codes of those that only ask.
    """

    check_word: str
    dues: tuple[e.Due, ...]
    pages: tuple[e.Page, ...]
    rests_on: dict[str, str]
    blocks: tuple[Finding, ...]
    open_questions: tuple[str, ...]
    time_data: str


def release(state: CaseState, command: Release, asked: Asked, made: Made) -> tuple[e.CaseEvent, ...] | Refused:
    """The sheet is out; every reason why it may not be, all at once."""
    if closed := not_open(state, command.case):
        return closed
    if state.sheet is not None and state.sheet.event.rests_on == made.rests_on:
        return nothing_changed("sheet")
    findings = (
        *made.blocks,
        *_not_by(asked),
        *_not_checked(state, command, asked, made),
        *_not_told(state, command, made),
        *_not_answered(command, made),
        *_not_by_mail(state, command),
    )
    if findings:
        return Refused(findings)
    replaced = state.sheet
    gone = (e.SheetVoided(replaced.event.version, (), "another was released"),) if replaced else ()
    issued = e.SheetIssued(
        version=next_version(state),
        role=str(asked.role),
        check_word=made.check_word,
        dues=made.dues,
        pages=made.pages,
        rests_on=made.rests_on,
        checked_by=checked_by(state, made.rests_on),
        unchecked_why=command.unchecked_why,
        call_waived_why=command.call_waived_why,
        answered=tuple(one for one in command.answered if one[0] in made.open_questions),
        time_data=made.time_data,
    )
    return (*gone, issued, *([e.MailAsked(issued.version)] if command.by_mail else []))


def void_sheet(state: CaseState, command: VoidSheet, asked: Asked) -> tuple[e.CaseEvent, ...] | Refused:
    """The sheet holds no longer."""
    if closed := only(asked, Role.NURSE, Role.PRESCRIBER) or not_open(state, command.case):
        return closed
    if state.sheet is None or state.sheet.event.version != command.version:
        return nothing_changed("sheet")
    return (e.SheetVoided(command.version, (), command.why),)


def next_version(state: CaseState) -> int:
    """The number of the next sheet."""
    return len(state.sheets) + 1


def checked_by(state: CaseState, rests_on: dict[str, str]) -> str | None:
    """Who checked the case as it is and found the same; None where nobody did."""
    check = state.check
    agrees = check is not None and not check.event.differences and check.event.rests_on == rests_on
    return check.actor if check is not None and agrees else None


def told(state: CaseState, rests_on: dict[str, str], check_word: str) -> bool:
    """Whether she read just this page back, all of it rightly."""
    heard = state.read_back
    same = heard is not None and heard.event.rests_on == rests_on and heard.event.check_word == check_word
    return same and heard is not None and all(one.agreed for one in heard.event.fields)


def _not_by(asked: Asked) -> Iterator[Finding]:
    if asked.role not in (Role.NURSE, Role.PRESCRIBER):
        yield refusal(
            "release-role",
            f"A sheet is released by a nurse or the prescriber, not in the role of {asked.role}.",
            "Ask the nurse who answers for tonight.",
            "a named nurse releases",
        )


def _not_checked(state: CaseState, command: Release, asked: Asked, made: Made) -> Iterator[Finding]:
    checker = checked_by(state, made.rests_on)
    if checker is not None and same_person(checker, asked.by):
        yield refusal(
            "release-by-checker",
            f"{asked.by} made the second check, and the two are one person.",
            "Have another person release it.",
            "two people stand behind a sheet",
        )
    if checker is None and not (command.unchecked_why and asked.role is Role.PRESCRIBER):
        check = state.check
        differs = check is not None and check.event.rests_on == made.rests_on
        found = "; ".join(check.event.differences) if check is not None and differs else "none of the case as it now is"
        yield refusal(
            "release-unchecked",
            f"There is no second check that agrees: {found}.",
            "Have another person check it; with nobody available only the prescriber can release, with a reason.",
            "a sheet is released after the second check",
        )


def _not_told(state: CaseState, command: Release, made: Made) -> Iterator[Finding]:
    if command.call_waived_why or told(state, made.rests_on, made.check_word):
        return
    heard = state.read_back
    same = heard is not None and heard.event.check_word == made.check_word
    wrong = [one.name for one in heard.event.fields if not one.agreed] if heard is not None and same else []
    yield refusal(
        "release-untold",
        f"She read back something else: {', '.join(wrong)}." if wrong else "She has not read this page back.",
        "Ring her and have her read it back, or give the reason why it goes out without.",
        "a sheet is released after the read-back",
    )


def _not_answered(command: Release, made: Made) -> Iterator[Finding]:
    answered = {code for code, words in command.answered if words.strip()}
    if open_still := [code for code in made.open_questions if code not in answered]:
        yield refusal(
            "release-question-open",
            f"The plan leaves something to ask the prescriber: {', '.join(open_still)}.",
            "Ask, and enter who said what to each.",
            "a question is answered before a sheet is released",
        )


def _not_by_mail(state: CaseState, command: Release) -> Iterator[Finding]:
    if command.by_mail and not (state.permissions is not None and state.permissions.message):
        yield refusal(
            "mail-not-allowed",
            "She has not said that her page may be sent by mail.",
            "Print it, or ask her and enter what she allows.",
            "a page goes by mail only where she allowed it",
            "way",
        )
