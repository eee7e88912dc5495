"""The score: up to six parts a call, each right or not, with the right answer and where it comes from."""

import re
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from enum import StrEnum
from typing import Any

from hourmark.drill.again import Unclear, again
from hourmark.drill.numbers import Doubtful, agrees, number_of
from hourmark.drill.rounds import DECIDERS, KINDS, Round
from hourmark.drill.scenes import Scene, written_nights, written_scenes
from hourmark.finding import Finding, Level, Unreadable
from hourmark.incident.calls import calls


class Part(StrEnum):
    """What is scored in each call. The number only where the call has one, the facts only where they are recorded on the real pages."""

    KIND = "kind"
    ASK = "ask"
    FACTS = "facts"
    NUMBER = "number"
    WHO = "who"
    NOTE = "note"


PART_WORDS = {
    Part.KIND: "what it is",
    Part.ASK: "asked first",
    Part.FACTS: "the facts",
    Part.NUMBER: "the number",
    Part.WHO: "who decides",
    Part.NOTE: "the note",
}
"""Each part in words for a heading."""


TYPED = tuple(part for part in Part if part is not Part.FACTS)
"""The parts that are answered by choosing and typing alone."""


@dataclass(frozen=True, slots=True)
class Answers:
    """What the nurse answered to one call; an empty text where she did not."""

    kind: str = ""
    ask: str = ""
    number: str = ""
    who: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Scored:
    """One call scored: for each part that counts whether it was right, and the right answers. `number` is None where none is asked for.

    `deciders` are who may decide; `facts` are what the caller said, by key, where that had to be recorded; `said` is what was.
    """

    round: Round
    answers: Answers
    right: Mapping[Part, bool]
    number: str | None
    deciders: tuple[str, ...]
    facts: Mapping[str, str] = field(default_factory=dict)
    said: Mapping[str, str] = field(default_factory=dict)


def score(round: Round, answers: Answers, at: str | None = None) -> Scored | Finding:
    """The score of one call, or a stop where its number, computed twice, does not come out the same.

    `at` is the minute for which the number holds, on the clinic's clock, where that is another than the one in which she rang.
    """
    scene = round.scene
    number = right_number(scene, at)
    if isinstance(number, Finding):
        return number
    right = {
        Part.KIND: answers.kind.strip() == scene.kind,
        Part.ASK: answers.ask.strip() == round.first,
        Part.WHO: answers.who.strip() == scene.who,
    }
    if number is not None and scene.wants is not None:
        right[Part.NUMBER] = agrees(scene.wants, answers.number, number)
    right[Part.NOTE] = noted((str(scene.who),), answers.note, numbers_of(answers, right))
    return Scored(round, answers, {part: right[part] for part in Part if part in right}, number, (str(scene.who),))


def right_number(scene: Scene, at: str | None = None) -> str | Finding | None:
    """The number of a scene, worked out twice by code that shares nothing; a stop where the two differ or one has none.

    `at` is the minute in which it is worked out, on the clinic's clock; without it, the one in which she rang.
    """
    if scene.wants is None:
        return None
    case, night = written_nights()[scene.case]
    now = at or scene.now
    try:
        first = number_of(replace(scene, now=now))
        second = again(str(scene.call.kind), {**written_scenes()[scene.call.id], "now": now}, case, night)
    except (Doubtful, Unclear) as error:
        return _disagree(scene, str(error))
    return first if first == second else _disagree(scene, f"one way it is {first}, the other {second}")


def _disagree(scene: Scene, why: str) -> Finding:
    return Finding(
        "drill-disagrees",
        Level.STOP,
        f"The number of call {scene.call.id}, worked out twice, does not come out the same: {why}.",
        "Do not score with it, and tell whoever keeps hourmark.",
        f"call {scene.call.id}",
        "every number of the drill is worked out twice, by code that shares nothing",
        "hourmark's own rule",
    )


def numbers_of(answers: Answers, right: Mapping[Part, bool]) -> tuple[str, ...] | None:
    """The numbers of which one has to stand in the note: hers where it is right, none where it is wrong; None where the call has none."""
    if Part.NUMBER not in right:
        return None
    return (answers.number.strip(),) if right[Part.NUMBER] else ()


def noted(deciders: Iterable[str], note: str, numbers: Iterable[str] | None) -> bool:
    """Whether a note names one of those who may decide, and one of the numbers where the call has one: the whole number, not a part of another."""
    words = note.lower()
    named = any(
        re.search(rf"{_NOT_DENIED}{re.escape(name)}", words) for decider in deciders for name in decider.split(" or ")
    )
    return named and (numbers is None or any(_stands_in(number.lower(), words) for number in numbers))


_NOT_DENIED = r"(?<!\bnot )(?<!\bnot the )(?<!\bno )(?<!\bwithout )(?<!\bwithout the )"


def _stands_in(number: str, words: str) -> bool:
    """Whether a number stands in a note as itself: no digit of another before or after it, no minutes after its hours, no other fill beside it."""
    minutes = r"(?! ?\d)" if number.endswith(" h") else ""
    alone = rf"(?<![\d,.:/-])(?<!\+ ){re.escape(number)}(?!\d|[.,:/-]\d|/ml| ?\+){minutes}"
    return re.search(alone, words) is not None


_PLACES = tuple(field.name for field in fields(Answers))


def answers_from(text: str) -> dict[str, Answers]:
    """The answers of a file: one table a call. Raises Unreadable for what no drill asks."""
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise Unreadable(f"This is no TOML: {error}.", "Write one table a call, for example [C18].") from None
    known = {one.id for one in calls()}
    for call_id, table in tables.items():
        if call_id not in known or not isinstance(table, dict):
            raise Unreadable(f'"{call_id}" is no call.', "Name the calls C01 to C62, each in a table of its own.")
        _check(call_id, table)
    return {call_id: Answers(**table) for call_id, table in tables.items()}


def _check(call_id: str, table: Mapping[str, Any]) -> None:
    for name, said in table.items():
        if name not in _PLACES:
            raise Unreadable(f'"{name}" is not asked in {call_id}.', f"Write {', '.join(_PLACES)}.")
        if not isinstance(said, str):
            raise Unreadable(f"{name} in {call_id} is not text.", "Write every answer between quotes.")
    for name, choices in (("kind", KINDS), ("who", DECIDERS)):
        if (said := table.get(name, "")) and said not in choices:
            raise Unreadable(f'"{said}" in {call_id} is no choice for {name}.', f"Write one of: {', '.join(choices)}.")


def totals(scored: Sequence[Scored]) -> dict[Part, tuple[int, int]]:
    """For each part how many were right, of how many; the facts only where some had to be recorded."""
    parts = [part for part in Part if part in TYPED or any(part in one.right for one in scored)]
    return {
        part: (sum(one.right.get(part, False) for one in scored), sum(part in one.right for one in scored))
        for part in parts
    }
