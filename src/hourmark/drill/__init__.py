"""The drill: an invented night of all 62 calls, answered by a nurse and scored: by typing, or on the real pages over a record of its own.

It knows no patient. What it puts on a record it puts there through the desk, as everybody does.
"""

from hourmark.drill.card import card
from hourmark.drill.numbers import ASKED, EXAMPLES, answer_of, number_of, read_number
from hourmark.drill.rounds import DECIDERS, KINDS, Round, rounds
from hourmark.drill.scenes import BANNER, NIGHT_BANNER, Scene, Wants, case_plan, scene, scenes
from hourmark.drill.scoring import PART_WORDS, TYPED, Answers, Part, Scored, answers_from, right_number, score, totals

__all__ = [
    "ASKED",
    "BANNER",
    "DECIDERS",
    "EXAMPLES",
    "KINDS",
    "NIGHT_BANNER",
    "PART_WORDS",
    "TYPED",
    "Answers",
    "Part",
    "Round",
    "Scene",
    "Scored",
    "Wants",
    "answer_of",
    "answers_from",
    "card",
    "case_plan",
    "number_of",
    "read_number",
    "right_number",
    "rounds",
    "scene",
    "scenes",
    "score",
    "totals",
]
