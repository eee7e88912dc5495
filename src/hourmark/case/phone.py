"""Her phone: the links that lead to her page, what she compared with it, and the calls that she asked for there."""

from dataclasses import dataclass
from typing import Literal, TypeAlias

from hourmark.case import events as e
from hourmark.case.asked import Asked, Refused, Role, only, refused
from hourmark.case.opening import not_open, nothing_changed
from hourmark.case.state import ANOTHER_LINK, CaseState

LinkKind: TypeAlias = Literal["page", "practice"]
"""What a link leads to: the page that holds, or practice alone."""


@dataclass(frozen=True, slots=True)
class GiveLink:
    """Make a link to the page that holds, or to practice without one; it leads nowhere after `expires`."""

    case: str
    kind: LinkKind
    expires: e.Instant


@dataclass(frozen=True, slots=True)
class RevokeLink:
    """Make a link lead nowhere."""

    case: str
    number: int
    why: str


@dataclass(frozen=True, slots=True)
class ReadBoxes:
    """Keep what she found when she compared the boxes, the water, the syringe and the needles; `differs` names what is not the same."""

    case: str
    injection: str
    sheet: int
    differs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class AskHelp:
    """Ask for a call: `where` is the step at which she stands, `about` what she wants it for."""

    case: str
    injection: str | None
    where: str
    about: str


@dataclass(frozen=True, slots=True)
class GiveHelp:
    """Record that somebody answered what she asked for."""

    case: str
    entry: int
    how: str


def give_link(state: CaseState, command: GiveLink, asked: Asked) -> tuple[e.CaseEvent, ...] | Refused:
    """The link is made, and any earlier one of its kind leads nowhere."""
    if closed := only(asked, Role.NURSE, Role.PRESCRIBER) or not_open(state, command.case):
        return closed
    if command.kind == "page" and state.sheet is None:
        return refused(
            "link-no-sheet",
            "There is no released page that a link could lead to.",
            "Release the page first; until then she can have a link to practice.",
            "a link leads to a released page",
        )
    sheet = state.sheet.event.version if command.kind == "page" and state.sheet is not None else None
    earlier = [one.event.number for one in state.links if one.event.kind == command.kind and not one.revoked]
    return (
        *(e.LinkRevoked(number, ANOTHER_LINK) for number in earlier),
        e.LinkGiven(len(state.links) + 1, command.kind, sheet, command.expires),
    )


def revoke_link(state: CaseState, command: RevokeLink, asked: Asked) -> tuple[e.CaseEvent, ...] | Refused:
    """The link leads nowhere from now on."""
    if closed := only(asked, Role.NURSE, Role.PRESCRIBER) or not_open(state, command.case):
        return closed
    if command.number not in [one.event.number for one in state.links if not one.revoked]:
        return nothing_changed("link")
    return (e.LinkRevoked(command.number, command.why),)


def link_leads(state: CaseState, number: int, now: e.Instant) -> bool:
    """Whether a link still leads somewhere: not revoked, not expired, the case open, and the page it was made for holds."""
    given = next((one for one in state.links if one.event.number == number), None)
    if given is None or given.revoked or state.closed or now >= given.event.expires:
        return False
    if given.event.kind == "practice":
        return True
    return state.sheet is not None and state.sheet.event.version == given.event.sheet


def read_boxes(state: CaseState, command: ReadBoxes, asked: Asked) -> tuple[e.CaseEvent, ...] | Refused:
    """What she found; where something differs, she waits for a call."""
    if closed := only(asked, Role.PATIENT) or not_open(state, command.case):
        return closed
    read = e.BoxesRead(command.injection, command.sheet, command.differs)
    if not command.differs:
        return (read,)
    differs = f"not the same as on her page: {', '.join(command.differs)}"
    return read, *_wanted_once(state, e.HelpAsked(command.injection, "the boxes", differs))


def ask_help(state: CaseState, command: AskHelp, asked: Asked) -> tuple[e.CaseEvent, ...] | Refused:
    """She waits for a call; asking again for the same thing adds nothing."""
    if closed := only(asked, Role.PATIENT) or not_open(state, command.case):
        return closed
    return _wanted_once(state, e.HelpAsked(command.injection, command.where, command.about))


def _wanted_once(state: CaseState, wanted: e.HelpAsked) -> tuple[e.HelpAsked, ...]:
    """The call she asks for, unless she waits for just that one."""
    return () if wanted in [one.event for one in state.waiting] else (wanted,)


def give_help(state: CaseState, command: GiveHelp, asked: Asked) -> tuple[e.CaseEvent, ...] | Refused:
    """She has been answered."""
    if closed := only(asked, Role.NURSE, Role.PRESCRIBER, Role.PHARMACIST) or not_open(state, command.case):
        return closed
    if command.entry not in [one.seq for one in state.waiting]:
        return nothing_changed("call")
    return (e.HelpGiven(command.entry, command.how),)
