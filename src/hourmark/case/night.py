"""The night: what was injected, who was told of what went wrong, and what was decided. A report of an injection is always kept."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import get_args

from hourmark.case import events as e
from hourmark.case.asked import Asked, Refused
from hourmark.case.day import RulesState
from hourmark.case.opening import not_open, nothing_changed
from hourmark.case.state import CaseState, SheetStanding
from hourmark.case.watch import ladder
from hourmark.clock import Which, moment, parse_wall, parse_zone
from hourmark.finding import Finding, Unreadable
from hourmark.quantity import parse_volume

ALL, NONE = e.ALL, e.NONE

AND = "; "
"""Between the things that one report says of how much: with any other beside it a volume is not read as what went in."""


@dataclass(frozen=True, slots=True)
class Confirm:
    """Report an injection: the clock time as said, in which zone, who says so and how they know, how much, and what is left.

    `which` tells the two apart where that hour happened twice; `amount` is "all", "none of it", or what was said instead.
    """

    case: str
    injection: str
    reported: str
    zone: str
    told_by: str
    source: str
    amount: str
    remains: str
    which: str | None = None
    sheet: int | None = None


@dataclass(frozen=True, slots=True)
class WithdrawConfirmation:
    """Take back a report that was entered by mistake."""

    case: str
    entry: int
    why: str


@dataclass(frozen=True, slots=True)
class Escalate:
    """Record who was to be told of an injection, about what, whether they were reached, and their reply.

    `rung` is the line of the ladder that this answers.
    """

    case: str
    injection: str
    told: str
    about: str
    reply: str
    reached: bool = True
    rung: int | None = None


@dataclass(frozen=True, slots=True)
class NoteIncident:
    """Record what went wrong, who decided and what; `settled` when nothing is open any more, or not the entry that it `settles`."""

    case: str
    injection: str | None
    happened: str
    decided_by: str
    decision: str
    settled: bool
    settles: int | None = None


def confirm(state: CaseState, command: Confirm, asked: Asked) -> tuple[e.CaseEvent, ...] | Refused:
    """The report, whatever it says and however the case stands; what is doubtful in it is named and has to be asked."""
    if not state.there:
        return not_open(state, command.case) or ()
    instant, unclear = _instant(command)
    followed = command.sheet if command.sheet is not None else (len(state.sheets) or None)
    doubts = (*unclear, *_doubts(state, command, instant, followed, asked.at))
    report = e.Confirmed(
        injection=command.injection,
        reported=f"{command.reported} {command.which}" if command.which else command.reported,
        zone=command.zone,
        instant=instant,
        told_by=command.told_by,
        source=command.source,
        amount=command.amount,
        remains=command.remains,
        sheet=followed,
        doubts=tuple(dict.fromkeys(doubts)),
    )
    return (report,)


def withdraw_confirmation(
    state: CaseState, command: WithdrawConfirmation, _: Asked
) -> tuple[e.CaseEvent, ...] | Refused:
    """The report counts no longer; it stays readable."""
    if command.entry not in [one.seq for one in state.confirmations]:
        return nothing_changed("report")
    return (e.ConfirmationWithdrawn(command.entry, command.why),)


def escalate(state: CaseState, command: Escalate, _: Asked, rules: RulesState) -> tuple[e.CaseEvent, ...] | Refused:
    """Who was told is on the record, with what the line that it answers says now."""
    if not state.there:
        return not_open(state, command.case) or ()
    told = e.Escalated(
        command.injection,
        command.told,
        command.about,
        command.reply,
        command.reached,
        command.rung,
        next((one.tell for one in ladder(rules) if one.number == command.rung), None),
    )
    return (told,)


def note_incident(state: CaseState, command: NoteIncident, _: Asked) -> tuple[e.CaseEvent, ...] | Refused:
    """What happened and what was decided is on the record."""
    if not state.there:
        return not_open(state, command.case) or ()
    if command.settles is not None and command.settles not in [one.seq for one in state.problems]:
        return nothing_changed("problem")
    noted = e.IncidentNoted(
        command.injection,
        command.happened,
        command.decided_by,
        command.decision,
        command.settled,
        command.settles,
    )
    return (noted,)


def either_moment(report: e.Confirmed) -> tuple[e.Instant, ...]:
    """Both moments of a clock time that happened twice and of which nobody said which; none for any other report."""
    if "time-repeated" not in report.doubts:
        return ()
    try:
        found = [moment(parse_wall(report.reported, which), parse_zone(report.zone)) for which in get_args(Which)]
    except Unreadable:
        return ()
    return tuple(one.utc for one in found if not isinstance(one, Finding))


def _instant(command: Confirm) -> tuple[e.Instant | None, tuple[str, ...]]:
    """The moment of the reported clock time, or why it is not one moment."""
    try:
        which: Which | None = "first" if command.which == "first" else "second" if command.which == "second" else None
        found = moment(parse_wall(command.reported, which), parse_zone(command.zone))
    except Unreadable:
        return None, ("time-unreadable",)
    return (None, (found.code,)) if isinstance(found, Finding) else (found.utc, ())


def _differs(sheet: SheetStanding, last: SheetStanding, injection: str) -> bool:
    """Whether the page that was followed has another medicine, dose or route there than the last that was released."""
    one, other = (next((due for due in each.event.dues if due.injection == injection), None) for each in (sheet, last))
    if one is None or other is None:
        return False
    return (one.medicine, one.dose, one.route) != (other.medicine, other.dose, other.route)


def _more_than_held(amount: str, due: e.Due) -> bool:
    """Whether a reported volume, also one among other things that a report says, is more than her syringes hold."""
    return due.holds is not None and any(_is_more(one, due.holds) for one in amount.split(AND))


def _is_more(said: str, holds: str) -> bool:
    try:
        return parse_volume(said).value > parse_volume(holds).value
    except Unreadable:
        return False


def _doubts(
    state: CaseState, command: Confirm, instant: e.Instant | None, followed: int | None, now: e.Instant
) -> Iterator[str]:
    sheet = next((one for one in state.sheets if one.event.version == followed), None)
    if sheet is None:
        yield "no-sheet"
    else:
        if sheet.voided is not None:
            yield "sheet-void"
        if command.injection not in [due.injection for due in sheet.event.dues]:
            yield "injection-unknown"
        if instant is not None and instant < sheet.at:
            yield "before-release"
    if instant is not None and instant > now:
        yield "time-future"
    if command.amount != ALL:
        yield "not-all"
    due = next((one for one in sheet.event.dues if one.injection == command.injection), None) if sheet else None
    if due is not None and _more_than_held(command.amount, due):
        yield "more-than-held"
    last = state.sheets[-1] if state.sheets else None
    if sheet is not None and last is not None and _differs(sheet, last, command.injection):
        yield "other-dose"
    since = last.seq if last is not None else 0
    earlier = [one.event for one in state.confirmations if one.event.injection == command.injection and one.seq > since]
    # An earlier report without a moment contradicts none that has one: she was asked again.
    if any((instant, command.amount) != (one.instant or instant, one.amount) for one in earlier):
        yield "reports-differ"
