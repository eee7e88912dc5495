"""What the caller said, read into exact values or ranges. What cannot be read is asked again; the words themselves are kept."""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields
from fractions import Fraction
from typing import Any, TypeVar

from hourmark.clock import WallTime, Which, parse_wall
from hourmark.dose import Between
from hourmark.finding import Unreadable
from hourmark.formulary import Barrel, barrel
from hourmark.incident.kinds import AnswerForm, Kind, Question, question, questions
from hourmark.order import ROUTES
from hourmark.quantity import Concentration, Dose, Mark, parse_concentration, parse_dose, parse_number, parse_volume

T = TypeVar("T")

NOT_KNOWN = "not known"
"""The answer of somebody who was asked and cannot say."""


@dataclass(frozen=True, slots=True)
class Times:
    """A clock time that is known (both ends equal), or two between which it lies, as read off a wall."""

    first: WallTime
    last: WallTime


@dataclass(frozen=True, slots=True)
class Marks:
    """A number on a barrel's own scale, or two between which the plunger stood."""

    least: Mark
    most: Mark


@dataclass(frozen=True, slots=True)
class Parts:
    """A part of what was drawn, or two between which it lies; 1 is all of it."""

    least: Fraction
    most: Fraction


@dataclass(frozen=True, slots=True)
class Count:
    """How many, or two numbers between which it lies."""

    least: int
    most: int


@dataclass(frozen=True, slots=True)
class Again:
    """An answer that cannot be read: its key, the words, why not, and what to ask or write instead."""

    key: str
    said: str
    why: str
    do: str


@dataclass(frozen=True, slots=True)
class Facts:
    """What is known of one call. None: not asked yet, not read, or not known; `unknown` holds the keys answered "not known".

    `said` are the caller's answers as they were written, all of them and unchanged, whatever could be made of them.
    """

    said: tuple[tuple[str, str], ...] = ()
    unknown: frozenset[str] = frozenset()
    again: tuple[Again, ...] = ()
    symptoms: bool | None = None
    injection: str | None = None
    injected: bool | None = None
    all: bool | None = None
    at: Times | None = None
    drawn: Between | None = None
    mark: Marks | None = None
    barrel: Barrel | None = None
    water: Between | None = None
    strength: Dose | Concentration | None = None
    lost: Between | Parts | None = None
    stayed: Between | None = None
    residue: Between | None = None
    route: str | None = None
    times: Count | None = None
    missed: str | None = None
    drug: str | None = None
    instead: bool | None = None
    kept: str | None = None
    opened: Count | None = None
    open: tuple[WallTime, ...] | None = field(default=None)

    def answered(self, key: str) -> bool:
        """Whether there is a readable answer under this key, "not known" among them."""
        return key in self.unknown or getattr(self, key) is not None


KEYS = frozenset(one.name for one in fields(Facts)) - {"said", "unknown", "again"}


def read_facts(kind: Kind, said: Mapping[str, str]) -> Facts:
    """What the answers say, in the caller's own order. Every answer that cannot be read, or is not asked of this kind, is in `again`."""
    values: dict[str, Any] = {}
    unknown: set[str] = set()
    again: list[Again] = []
    for key, text in said.items():
        asked = question(kind, key)
        if asked is None:
            again.append(_not_asked(kind, key, text))
        elif text.strip().lower() == NOT_KNOWN:
            unknown.add(key)
        else:
            try:
                values[key] = read_answer(asked, text)
            except Unreadable as error:
                again.append(Again(key, text, error.what, error.do))
    return Facts(said=tuple(said.items()), unknown=frozenset(unknown), again=tuple(again), **values)


def _not_asked(kind: Kind, key: str, text: str) -> Again:
    keys = ", ".join(one.key for one in questions(kind))
    return Again(key, text, f'"{key[:40]}" is not asked where the trouble is "{kind}".', f"Write one of: {keys}.")


def read_answer(asked: Question, text: str) -> Any:
    """One answer in the form its question wants. Raises Unreadable."""
    return _READERS[asked.form](text.strip())


def _yes_no(text: str) -> bool:
    if text.lower() in ("yes", "no"):
        return text.lower() == "yes"
    raise Unreadable(f'"{text[:40]}" is neither yes nor no.', 'Write "yes", "no" or "not known".')


def _text(text: str) -> str:
    if text:
        return text
    raise Unreadable("The answer is blank.", 'Write what she said, or "not known".')


def _ends(text: str, read: Callable[[str], T]) -> tuple[T, T]:
    """One value as both ends, or two with " to " between; the first may leave its unit to the second."""
    first, between, last = text.partition(" to ")
    if not between:
        return read(text), read(text)
    end = read(last)
    _, space, unit = last.partition(" ")
    borrowed = f"{first} {unit}" if space and " " not in first and not first.endswith("%") else first
    return read(borrowed), end


def _in_order(text: str, least: Any, most: Any) -> None:
    if most < least:
        raise Unreadable(f'"{text[:60]}" runs backwards.', "Write the smaller or earlier end first.")


def _volume(text: str) -> Between:
    least, most = _ends(text, parse_volume)
    _in_order(text, least, most)
    return Between(least, most)


_NAMED_PARTS = {
    "none": Fraction(0),
    "nothing": Fraction(0),
    "a quarter": Fraction(1, 4),
    "a third": Fraction(1, 3),
    "half": Fraction(1, 2),
    "a half": Fraction(1, 2),
    "two thirds": Fraction(2, 3),
    "three quarters": Fraction(3, 4),
    "all": Fraction(1),
}
_QUOTIENT = re.compile(r"([0-9]{1,3})/([1-9][0-9]{0,2})", re.ASCII)


def _part(text: str) -> Fraction:
    if text.lower() in _NAMED_PARTS:
        return _NAMED_PARTS[text.lower()]
    if match := _QUOTIENT.fullmatch(text):
        part = Fraction(int(match[1]), int(match[2]))
    elif text.endswith(" %"):
        part = parse_number(text[:-2]) / 100
    else:
        raise Unreadable(
            f'"{text[:40]}" is neither a volume nor a part.',
            'Write for example "0.1 mL", "1/3 to 1/2", "a third to a half" or "10 %".',
        )
    if part > 1:
        raise Unreadable(f'"{text[:40]}" is more than all of it.', "Ask how much of it; a part is at most 1.")
    return part


def _loss(text: str) -> Between | Parts:
    if text.lower().endswith((" ml", " l")):
        return _volume(text)
    first, between, last = text.partition(" to ")
    if between and text.endswith(" %") and not first.endswith("%"):
        first += " %"
    least, most = (_part(first), _part(last)) if between else (_part(text), _part(text))
    _in_order(text, least, most)
    return Parts(least, most)


def _mark(text: str) -> Marks:
    least, most = (Mark(parse_number(end)) for end in _ends(text, str))
    _in_order(text, least, most)
    return Marks(least, most)


_WHICH = re.compile(r"(?P<wall>.*) (?P<which>first|second)")


def read_wall(text: str) -> WallTime:
    """A date and clock time such as "2026-11-18 23:10", with "first" or "second" behind it where it happens twice. Raises Unreadable."""
    match = _WHICH.fullmatch(text)
    if match is None:
        return parse_wall(text)
    which: Which = "first" if match["which"] == "first" else "second"
    return parse_wall(match["wall"], which)


def _time(text: str) -> Times:
    first, between, last = text.partition(" to ")
    return Times(read_wall(first), read_wall(last if between else first))


def _times(text: str) -> tuple[WallTime, ...]:
    return tuple(read_wall(one.strip()) for one in text.split(","))


def _strength(text: str) -> Dose | Concentration:
    return parse_concentration(text) if "/" in text else parse_dose(text)


def _route(text: str) -> str:
    if text in ROUTES:
        return text
    raise Unreadable(f'"{text[:40]}" is not a route.', f"Write one of: {', '.join(ROUTES)}.")


_MOST = 99


def _count(text: str) -> Count:
    least, most = _ends(text, _whole)
    _in_order(text, least, most)
    return Count(least, most)


def _whole(text: str) -> int:
    number = parse_number(text)
    if number.denominator != 1 or number > _MOST:
        raise Unreadable(f'"{text[:40]}" is not a whole number up to {_MOST}.', 'Write for example "2" or "1 to 2".')
    return int(number)


_READERS: dict[AnswerForm, Callable[[str], Any]] = {
    AnswerForm.YES_NO: _yes_no,
    AnswerForm.INJECTION: _text,
    AnswerForm.TIME: _time,
    AnswerForm.TIMES: _times,
    AnswerForm.VOLUME: _volume,
    AnswerForm.LOSS: _loss,
    AnswerForm.MARK: _mark,
    AnswerForm.BARREL: barrel,
    AnswerForm.STRENGTH: _strength,
    AnswerForm.ROUTE: _route,
    AnswerForm.COUNT: _count,
    AnswerForm.TEXT: _text,
}
