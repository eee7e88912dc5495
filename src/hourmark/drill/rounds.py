"""The order of a drill and the choices of each question: both hang on the seed alone."""

import random
from collections.abc import Sequence
from dataclasses import dataclass

from hourmark.drill.scenes import Scene, scenes
from hourmark.incident.calls import Asked, Decider
from hourmark.incident.kinds import KIND_WORDS

CHOICES = 4
"""How many first questions are offered, one of them right."""

KINDS = {
    "danger": "a sign of danger: emergency services first",
    **{str(kind): words for kind, words in KIND_WORDS.items()},
    str(Asked.MARK): "asks for the mark or the volume; nothing has gone wrong",
    str(Asked.MINUTE): "asks which minute; nothing has gone wrong",
    str(Asked.WINDOW): "asks how exact the minute is",
    str(Asked.SECOND_DOSE): "asks when the second dose is",
    str(Asked.PEN): "asks about the dial of a pen",
    str(Asked.FASTING): "asks about eating and drinking",
    "question": "none of these: something to look up or to say",
}
"""What a call can be, in the words of its button."""

DECIDERS = {str(who): str(who) for who in Decider}
"""Who can decide."""


@dataclass(frozen=True, slots=True)
class Round:
    """One call of a drill: its place from 1, its scene, and the first questions to choose from, the right one among them."""

    place: int
    scene: Scene
    first_questions: tuple[str, ...]

    @property
    def first(self) -> str:
        """The right first question."""
        return self.scene.call.ask[0]


def rounds(seed: int, count: int | None = None) -> tuple[Round, ...]:
    """The calls in the order of this seed, all of them or the first `count`. The same seed gives the same drill."""
    dice = random.Random(seed)
    order = list(scenes())
    dice.shuffle(order)
    return tuple(Round(place, one, _choices(one, dice)) for place, one in enumerate(order[:count], 1))


def _choices(scene: Scene, dice: random.Random) -> tuple[str, ...]:
    """The right first question among others' that this call does not ask at all."""
    own = scene.call.ask
    others: Sequence[str] = sorted({one.call.ask[0] for one in scenes()} - set(own))
    choices = [own[0], *dice.sample(others, CHOICES - 1)]
    dice.shuffle(choices)
    return tuple(choices)
