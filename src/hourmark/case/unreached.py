"""Somebody who is rung and not reached: which number to try next, and whom the clinic's signed rule has told at which hour."""

import re
from dataclasses import dataclass
from typing import Any

from hourmark.case import events as e
from hourmark.case.asked import Asked, Refused, Role, blank, only, same_person
from hourmark.case.day import RulesState
from hourmark.case.opening import not_open, nothing_changed
from hourmark.case.state import CaseState, Kept
from hourmark.clock import parse_span, shifted

_BETWEEN = re.compile(r"[\n\r;,]|\bor\b")


@dataclass(frozen=True, slots=True)
class TellUnreached:
    """Record that somebody was told that she cannot be reached, and what they said."""

    case: str
    told: str
    reply: str


@dataclass(frozen=True, slots=True)
class Tell:
    """One line of the clinic's signed rule for whom she does not answer: who is to be told, since when, and whether somebody was."""

    tell: str
    at: e.Instant
    told: bool


@dataclass(frozen=True, slots=True)
class Unreached:
    """She was rung and not reached: since when, which numbers were tried how often since, and who is to be told at which hour."""

    since: e.Instant
    tries: int
    tells: tuple[Tell, ...]

    def owed(self, now: e.Instant) -> tuple[Tell, ...]:
        """Whom to tell by now, and nobody has."""
        return tuple(one for one in self.tells if one.at <= now and not one.told)


def unreached(state: CaseState, rules: RulesState) -> Unreached | None:
    """How it stands with somebody who was rung and not reached since; None where nobody rang in vain. Whom to tell is the signed rule's."""
    tries = _in_vain(state)
    if not tries or state.closed:
        return None
    since = tries[0].at
    tells = []
    for after, tell in _signed(rules):
        told = any(one.seq > tries[0].seq and same_person(one.event.told, tell) for one in state.unreached_told)
        tells.append(Tell(tell, shifted(since, after), told))
    return Unreached(since, len(tries), tuple(tells))


def next_number(state: CaseState, numbers: tuple[str, ...]) -> str | None:
    """Which of her numbers, in her own order, to try next: the first of those that were rung least often since she was last reached."""
    return min(numbers, key=lambda number: tries_of(state, number), default=None)


def tries_of(state: CaseState, number: str) -> int:
    """How often a number was rung since she was last reached."""
    return [_digits(one.event.number) for one in _in_vain(state)].count(_digits(number))


def numbers_of(phones: str) -> tuple[str, ...]:
    """Her telephone numbers, the first to try first: one a line, or with a comma, a semicolon or "or" between."""
    return tuple(number.strip() for number in _BETWEEN.split(phones) if number.strip())


def tell_unreached(state: CaseState, command: TellUnreached, asked: Asked) -> tuple[e.CaseEvent, ...] | Refused:
    """That somebody was told is on the record; only while she is not reached."""
    if wrong := (
        only(asked, Role.NURSE, Role.PRESCRIBER)
        or not_open(state, command.case)
        or blank(told=(command.told, "who was told"))
    ):
        return wrong
    if not _in_vain(state):
        return nothing_changed("call")
    return (e.UnreachedTold(command.told, command.reply),)


def _in_vain(state: CaseState) -> list[Kept[e.CallTried]]:
    """The tries since somebody last spoke to her."""
    spoken = [one.seq for one in state.calls if one.event.reached]
    spoken += [state.read_back.seq] if state.read_back is not None else []
    return [one for one in state.calls if one.seq > max(spoken, default=0)]


def _signed(rules: RulesState) -> list[tuple[int, str]]:
    signed: Any = rules.clinic.get("rules") or {}
    return sorted((parse_span(one["after"]).minutes, str(one["tell"])) for one in signed.get("unreached") or ())


def _digits(number: str) -> str:
    return re.sub(r"[^0-9]", "", number)
