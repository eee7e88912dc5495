"""What a case needs next, from its facts alone, and until when she has to have been told."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from hourmark.case import events as e
from hourmark.case.day import RulesState
from hourmark.case.state import CaseState
from hourmark.clock import parse_span, shifted
from hourmark.finding import Unreadable


class Step(StrEnum):
    """The steps from a slot to a page in her hand, in their order."""

    ORDER = "order"
    KIT = "kit"
    CHECK = "check"
    CALL = "call"
    RELEASE = "release"
    DONE = "case"


BEFORE_THE_CHECK = (Step.ORDER, Step.KIT, Step.CHECK)
"""The steps at which nobody may read the minute of a case: whoever has read it could not check it blind."""


@dataclass(frozen=True, slots=True)
class Owed:
    """The next step, why it is owed, and until when she has to have been told, where that can be counted from slot and order.

    Not before the second check agrees: whoever knows that time and the signed rule knows the minute, and could not check it blind.
    """

    step: Step
    why: str
    tell_by: e.Instant | None


def owed(state: CaseState, rules: RulesState) -> Owed:
    """What the case needs next."""
    step, why = _next(state, max(state.changed_at, rules.changed_at))
    return Owed(step, why, None if step in BEFORE_THE_CHECK else _tell_by(state, rules))


def _next(state: CaseState, since: e.Instant) -> tuple[Step, str]:
    if state.order is None:
        return Step.ORDER, "an order"
    if state.kit is None:
        return Step.KIT, "the kit, read off the boxes"
    if state.sheet is not None:
        return Step.DONE, f"released, version {state.sheet.event.version}"
    check = state.check
    if check is None or check.at < since:
        return Step.CHECK, "a second check"
    if check.event.differences:
        return Step.CHECK, "a second check: the last one differs"
    void = state.sheets[-1].voided if state.sheets else None
    heard = state.read_back
    if heard is None or heard.at < since or (void is not None and heard.seq < void.seq):
        return Step.CALL, f"call her again: {void.event.why}" if void else "call her and have her read it back"
    if not all(one.agreed for one in heard.event.fields):
        return Step.CALL, "call her again: not all of it was right"
    return Step.RELEASE, "the release"


def _tell_by(state: CaseState, rules: RulesState) -> e.Instant | None:
    """The earliest injection that is counted from the slot, less the signed time to tell her before it."""
    signed: Any = rules.clinic.get("rules") or {}
    order: Any = state.order.event.order if state.order else {}
    leads = [one["lead"] for one in order.get("injections") or [] if "lead" in one]
    if state.slot is None or not leads or "tell_by" not in signed:
        return None
    try:
        minutes = max(parse_span(lead).minutes for lead in leads) + parse_span(signed["tell_by"]).minutes
    except Unreadable:
        return None
    return shifted(state.slot.instant, -minutes)
