"""Cases coming onto the record, changing and leaving it."""

from dataclasses import dataclass

from hourmark.case import events as e
from hourmark.case.asked import Asked, Refused, refused
from hourmark.case.rests import voided_by
from hourmark.case.state import CaseState
from hourmark.case.streams import ROLL, On, case_stream


@dataclass(frozen=True, slots=True)
class OpenCase:
    """Put a case on the record."""

    case: str
    details: e.Table


@dataclass(frozen=True, slots=True)
class ChangeDetails:
    """Change what a plan rests on beside slot, order and kit."""

    case: str
    details: e.Table
    why: str


@dataclass(frozen=True, slots=True)
class CloseCase:
    """Close a case."""

    case: str
    why: str


def open_case(state: CaseState, command: OpenCase, _: Asked) -> tuple[On, ...] | Refused:
    """The case is there and on the roll."""
    if state.there:
        return refused(
            "case-there",
            f"Case {command.case} is on the record already.",
            "Open that one, or give this case an id of its own.",
            "one case, one id",
        )
    return (
        On(case_stream(command.case), e.CaseOpened(command.case, command.details)),
        On(ROLL, e.CaseListed(command.case)),
    )


def change_details(state: CaseState, command: ChangeDetails, _: Asked) -> tuple[e.CaseEvent, ...] | Refused:
    """The details are these; a sheet that rested on others is void."""
    if refusal := not_open(state, command.case):
        return refusal
    if command.details == state.details:
        return nothing_changed("details")
    void = voided_by(state, {"details": command.details}, command.why)
    return (e.DetailsChanged(command.details, command.why), *void)


def close_case(state: CaseState, command: CloseCase, _: Asked) -> tuple[On, ...] | Refused:
    """The case is closed and off the roll."""
    if refusal := not_open(state, command.case):
        return refusal
    return (
        On(case_stream(command.case), e.CaseClosed(command.why)),
        On(ROLL, e.CaseDelisted(command.case)),
    )


def not_open(state: CaseState, case: str) -> Refused | None:
    """Why nothing can be done with a case that is not open."""
    if not state.there:
        return refused(
            "case-unknown",
            f"There is no case {case} on the record.",
            "Check the id, or open the case.",
            "a case is opened first",
        )
    if state.closed:
        return refused(
            "case-closed",
            f"Case {case} is closed.",
            "Open a new case for a new cycle.",
            "a closed case changes no more",
        )
    return None


def nothing_changed(what: str) -> Refused:
    """Why a change that changes nothing is not recorded."""
    return refused(
        "nothing-changed",
        f"The {what} on the record is already just this.",
        "Nothing needs to be done.",
        "a change is a change",
    )
