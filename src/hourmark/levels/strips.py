"""Strips read at home. A negative strip means a blood test, never a verdict; a positive one only supports."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any

from hourmark.clock import Span
from hourmark.finding import Finding, Level, Unreadable
from hourmark.formulary import Kind, Sourced
from hourmark.levels.curves import Leg
from hourmark.levels.doubts import Doubts, doubted, with_doubt
from hourmark.levels.figures import Disagreement, Limits, disagreements, limits
from hourmark.levels.results import Result, parse_result
from hourmark.levels.says import Says


class StripKind(StrEnum):
    """What the strip looks for."""

    LH = "LH strip"
    PREGNANCY = "pregnancy strip"


@dataclass(frozen=True, slots=True)
class Strip:
    """One strip as read: a urine LH strip, or a urine pregnancy strip, which looks for hCG. `positive` is None where nobody could tell."""

    kind: StripKind
    positive: bool | None

    def __str__(self) -> str:
        """The strip in words: "LH strip negative"."""
        return f"{self.kind} {next(word for word, shows in SHOWS.items() if shows is self.positive)}"


SHOWS = {"positive": True, "negative": False, "unclear": None}
"""What a strip shows, in words: a line of its own however faint is positive; without the line that proves the strip, it is unclear."""


@dataclass(frozen=True, slots=True)
class StripReading:
    """What a strip says of the injections; `after` is the time from the first of them it answers for."""

    strip: Strip
    legs: tuple[Leg, ...]
    after: Span
    says: Says
    why: str
    limits: tuple[Sourced[Any], ...]
    disagreements: tuple[Disagreement, ...]
    findings: tuple[Finding, ...]


def parse_strip(text: object) -> Strip:
    """A strip such as "LH strip negative", "LH strip unclear" or "pregnancy strip positive". Raises Unreadable for anything else."""
    for kind in StripKind:
        for word, positive in SHOWS.items():
            if isinstance(text, str) and text.lower() == f"{kind} {word}".lower():
                return Strip(kind, positive)
    raise Unreadable(
        f"{str(text)[:40]!r} is not a strip as read.",
        'Write "LH strip" or "pregnancy strip", then positive or negative; a faint line is positive. Or "unclear".',
    )


def read_strip(
    strip: Strip, legs: Sequence[Leg], held: Limits | None = None, doubts: Doubts | None = None
) -> StripReading | Finding:
    """What a strip says. One read before every injection it could answer for is asked about and not read.

    `doubts` are the kinds of drug of which more may have gone in than `legs` say. A strip that may answer for one of them is asked about;
    where nothing is known to have gone in before it, it is not read at all.
    """
    present = tuple(leg for leg in legs if leg.after.minutes >= 0)
    kinds = (Kind.AGONIST, Kind.HCG) if strip.kind is StripKind.LH else (Kind.HCG,)
    finding = doubted(str(strip), str(strip.kind), kinds, present, doubts or {})
    if finding is not None and not legs:
        return finding
    read = _read(strip, legs, present, held or limits())
    if finding is None or isinstance(read, Finding):
        return read
    if not present:
        return finding
    says, why = with_doubt(read.says, read.why, kinds, present, doubts or {})
    return replace(read, says=says, why=why, findings=(*read.findings, finding))


def _read(strip: Strip, legs: Sequence[Leg], present: tuple[Leg, ...], held: Limits) -> StripReading | Finding:
    kind = Kind.AGONIST if strip.kind is StripKind.LH else Kind.HCG
    own = [leg for leg in legs if leg.drug.kind is kind]
    mine = tuple(leg for leg in own if leg.after.minutes >= 0)
    if own and not mine:
        return _before(strip, own[0])
    if not mine:
        says, why, found = Says.SILENT, "no injection that it could answer for went in", ()
        return _reading(strip, present, says, why, found, held)
    after = max(leg.after for leg in mine)
    if strip.kind is StripKind.LH and any(leg.drug.kind is Kind.HCG for leg in present):
        finding = Finding(
            "strip-of-two",
            Level.NOTE,
            f"{strip}: hCG went in as well, and LH strips may read it as LH.",
            *_do(strip, mine),
        )
        return _reading(strip, mine, Says.CARE, "hCG went in as well", (finding,), held)
    begin, end = _window(strip.kind, held)
    if after < begin.value:
        what = f"{strip}: read {after} after the injection, too early."
        finding = Finding("strip-too-early", Level.NOTE, what, *_do(strip, mine, begin))
        return _reading(strip, mine, Says.EARLY, f"before {begin.text}", (finding,), held)
    if end is not None and after > end.value:
        what = f"{strip}: read {after} after the injection, too late."
        finding = Finding("strip-too-late", Level.NOTE, what, *_do(strip, mine, end))
        return _reading(strip, mine, Says.LATE, f"after {end.text}", (finding,), held)
    if strip.positive:
        return _reading(strip, mine, Says.SUPPORTS, "a positive strip supports, and proves no amount", (), held)
    if strip.positive is None:
        what = f"{strip}: it says neither."
        finding = Finding("strip-unclear", Level.ASK, what, *_do(strip, mine, _limit(strip, held)))
        return _reading(strip, mine, Says.CARE, "unclear: a blood test decides", (finding,), held)
    what = f"{strip}: a negative strip is no verdict."
    finding = Finding("strip-negative", Level.ASK, what, *_do(strip, mine, _limit(strip, held)))
    return _reading(strip, mine, Says.CARE, "negative: a blood test decides", (finding,), held)


def _window(kind: StripKind, held: Limits) -> tuple[Sourced[Any], Sourced[Any] | None]:
    if kind is StripKind.LH:
        return held["lh-judged-from"], held["lh-judged-to"]
    return held["hcg-judged-from"], None


def _limit(strip: Strip, held: Limits) -> Sourced[Any]:
    return held["strip-lh"] if strip.kind is StripKind.LH else held["strip-pregnancy"]


def _reading(
    strip: Strip, legs: tuple[Leg, ...], says: Says, why: str, findings: tuple[Finding, ...], held: Limits
) -> StripReading:
    after = max((leg.after for leg in legs), default=Span(0))
    disputed = tuple(one for one in disagreements() if strip.kind in one.subjects)
    return StripReading(strip, legs, after, says, why, (_limit(strip, held),), disputed, findings)


def _do(
    strip: Strip, legs: Sequence[Leg], limit: Sourced[Any] | None = None
) -> tuple[str, str, str | None, str | None]:
    """What to do, where, and by which limit: the same for every strip."""
    test = "LH and progesterone" if strip.kind is StripKind.LH else "hCG"
    do = f"Ask the prescriber for {test} in blood. Nothing is repeated or added because of a strip."
    where = f"{strip.kind}, {' and '.join(str(leg) for leg in legs)}"
    return do, where, limit.text if limit is not None else None, limit.cite() if limit is not None else None


def _before(strip: Strip, leg: Leg) -> Finding:
    return Finding(
        "sample-before-injection",
        Level.ASK,
        f"The {strip.kind} was read {Span(-leg.after.minutes)} before {leg}: it says nothing of that injection.",
        "Ask for both times again: when the strip was read, and when she injected. Nothing was read from the strip.",
        str(leg),
    )


def parse_entered(text: object) -> Result | Strip:
    """A laboratory result, or a strip as it was read: "LH 9 IU/L", "LH strip negative". Raises Unreadable as `parse_result`, `parse_strip`."""
    is_strip = isinstance(text, str) and re.search(r"\bstrip\b", text) is not None
    return parse_strip(text) if is_strip else parse_result(text)
