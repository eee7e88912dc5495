"""Cases coming onto the record, changing and leaving it."""

from collections.abc import Iterable
from dataclasses import dataclass

from hourmark.case import events as e
from hourmark.case.asked import Asked, Refused, Role, only, refused
from hourmark.case.by_order import by_order
from hourmark.case.day import NO_RULES
from hourmark.case.injections import standings
from hourmark.case.rests import voided_by
from hourmark.case.state import CaseState, is_news
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


def open_case(state: CaseState, command: OpenCase, _: Asked, others: Iterable[str] = ()) -> tuple[On, ...] | Refused:
    """The case is there and on the roll. `others` are the ids of all cases there ever were."""
    if state.there or command.case.lower() in [other.lower() for other in others]:
        return refused(
            "case-there",
            f"Case {command.case} is on the record already (upper and lower case count as the same).",
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


def close_case(state: CaseState, command: CloseCase, asked: Asked) -> tuple[On, ...] | Refused:
    """The case is closed and off the roll; not while an injection is silent, or while she waits for a call.

    What is heard of it after that puts it on the roll again, until somebody has seen it and closes the case once more.
    """
    if refusal := (
        only(asked, Role.NURSE, Role.PRESCRIBER)
        or (None if state.heard_again else not_open(state, command.case))
        or _silent(state, asked)
        or _waiting(state)
    ):
        return refusal
    return (
        On(case_stream(command.case), e.CaseClosed(command.why)),
        On(ROLL, e.CaseDelisted(command.case)),
    )


def heard(state: CaseState, events: Iterable[e.CaseEvent]) -> tuple[On, ...]:
    """A closed case is on the roll again when something is heard of it: somebody has to look at it."""
    return (On(ROLL, e.CaseListed(state.id)),) if state.closed and any(map(is_news, events)) else ()


def _silent(state: CaseState, asked: Asked) -> Refused | None:
    """Nobody has said anything of an injection that was due, whether its page still holds, is void, or was never made.

    Whether a minute by the order is past rests on slot and order alone, and on no signed rule.
    """
    on_a_page = (one.due.injection for one in standings(state) if one.due.at <= asked.at and one.silent)
    on_none = (one.injection for one in by_order(state, NO_RULES, asked.at) if one.past)
    silent = tuple(dict.fromkeys((*on_a_page, *on_none)))
    if not silent:
        return None
    return refused(
        "case-silent",
        f"Nobody has said yet whether {' and '.join(silent)} was given.",
        "Ask her, and record what she says, also that it was not given; then close the case.",
        "silence is unknown, never not injected",
    )


def _waiting(state: CaseState) -> Refused | None:
    """She asked for a call on her phone, or something went wrong, and nobody has ended it."""
    open_still = [one.event.about for one in state.waiting] + [one.event.happened for one in state.problems]
    if not open_still:
        return None
    return refused(
        "case-waiting",
        f"This is still open: {'; '.join(open_still)}.",
        "Answer her call or settle the problem, record what came of it, and then close the case.",
        "nothing open leaves the board",
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
