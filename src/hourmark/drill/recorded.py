"""The score of a call that was answered on the real pages: what stands on the record of her case against what the scene holds."""

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

from hourmark.drill.numbers import answer_of
from hourmark.drill.rounds import Round
from hourmark.drill.scenes import Scene, Wants
from hourmark.drill.scoring import Answers, Part, Scored, noted, numbers_of, right_number, score
from hourmark.finding import Finding
from hourmark.incident import Facts, Kind, Who, question, read_facts
from hourmark.incident.calls import Decider

_WALL = "%Y-%m-%d %H:%M"
_LONGEST = 120
"""So many minutes of a call are looked at for a number that goes with the clock."""


@dataclass(frozen=True, slots=True)
class Recorded:
    """What stood on the record of her case when she hung up.

    `kind` is the last report's: a kind of trouble, "danger", or "question"; empty without one. `said` are its facts by their keys. `at` and
    `until`: the minutes, on the clinic's clock, in which it was kept and in which she hung up; `number` is what the answer to it has, as of
    `at`. `deciders` are those who were reached or decided, by what they are; `note` is all that was written of it, empty where nobody did.
    """

    kind: str = ""
    said: Mapping[str, str] = field(default_factory=dict)
    at: str = ""
    until: str = ""
    number: str = ""
    deciders: tuple[str, ...] = ()
    note: str = ""


def on_the_record(scene: Scene) -> bool:
    """Whether a call is answered on the real pages: where something went wrong, or there is a sign of danger."""
    return scene.danger or isinstance(scene.call.kind, Kind)


def score_recorded(round: Round, ask: str, recorded: Recorded) -> Scored | Finding:
    """The score of one call out of the record, or a stop where its number, computed twice, does not come out the same."""
    scene = round.scene
    answers = Answers(recorded.kind, ask, recorded.number, _who(scene, recorded), recorded.note)
    scored = score(round, answers, recorded.at or None)
    if isinstance(scored, Finding):
        return scored
    right = {**scored.right, Part.NOTE: noted(deciders_of(scene), recorded.note, _numbers(scene, recorded, scored))}
    if scene.facts:
        right[Part.FACTS] = _facts_right(scene, recorded, scored)
    ordered = {part: right[part] for part in Part if part in right}
    return replace(scored, right=ordered, deciders=deciders_of(scene), facts=dict(scene.facts), said=recorded.said)


def deciders_of(scene: Scene) -> tuple[str, ...]:
    """Who may decide: whom the scene names; and the prescriber, where the pages name nobody laxer by what the clinic signed."""
    found = answer_of(scene)
    strict = not scene.danger and (found is None or found.decides is not Who.NURSE)
    return tuple(dict.fromkeys((str(scene.who), *([str(Decider.PRESCRIBER)] if strict else []))))


def _who(scene: Scene, recorded: Recorded) -> str:
    """Who decides, by the record: whoever may, where they were asked. What a nurse decides, nobody else was asked to."""
    asked = set(recorded.deciders)
    only = scene.who is not Decider.NURSE or asked == {scene.who}
    return str(scene.who) if only and asked & set(deciders_of(scene)) else ", ".join(sorted(asked - {scene.who}))


def _numbers(scene: Scene, recorded: Recorded, scored: Scored) -> tuple[str, ...] | None:
    """The numbers that may stand in the note. Hours that run while she is on the line are right as of any minute of the call."""
    numbers = numbers_of(scored.answers, scored.right)
    if not numbers or scene.wants is not Wants.LEAD:
        return numbers
    return (*numbers, *_while_she_rang(scene, recorded))


def _while_she_rang(scene: Scene, recorded: Recorded) -> Iterator[str]:
    first, last = (dt.datetime.strptime(wall, _WALL) for wall in (recorded.at, recorded.until))
    for minute in range(min(int((last - first).total_seconds()) // 60, _LONGEST) + 1):
        number = right_number(scene, format(first + dt.timedelta(minutes=minute), _WALL))
        if isinstance(number, str):
            yield number


def _facts_right(scene: Scene, recorded: Recorded, scored: Scored) -> bool:
    """Whether everything that she said is recorded, however it is written."""
    if not isinstance(scene.call.kind, Kind) or not scored.right[Part.KIND]:
        return False
    kind = scene.call.kind
    wanted = read_facts(kind, scene.facts)
    found = read_facts(kind, {key: words for key, words in recorded.said.items() if question(kind, key)})
    return all(_same(key, wanted, found, scored) for key in scene.facts)


def _same(key: str, wanted: Facts, found: Facts, scored: Scored) -> bool:
    right, said = getattr(wanted, key), getattr(found, key)
    if key == "drawn" and said is None:  # how far it was filled, read off the syringe's own scale
        return found.mark is not None and scored.right.get(Part.NUMBER, False)
    if isinstance(right, str) and isinstance(said, str):
        return right.casefold() in said.casefold()
    return bool(right == said)
