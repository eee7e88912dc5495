"""Trouble on the night: what was reported becomes a dose, a lead, what is left and who decides. It computes; it proposes no treatment."""

from hourmark.incident.answer import answer
from hourmark.incident.deciding import UNSIGNED, Limits, Reason, Who, limits_of
from hourmark.incident.facts import Again, Count, Facts, Marks, Parts, Times, read_answer, read_facts, read_wall
from hourmark.incident.kinds import KIND_WORDS, RED_FLAGS, AnswerForm, Kind, Question, question, questions
from hourmark.incident.leg import Answer, LeadNow, Left, Leg, OpenStart, Proposal, Slots, Spare, State

__all__ = [
    "KIND_WORDS",
    "RED_FLAGS",
    "UNSIGNED",
    "Again",
    "Answer",
    "AnswerForm",
    "Count",
    "Facts",
    "Kind",
    "LeadNow",
    "Left",
    "Leg",
    "Limits",
    "Marks",
    "OpenStart",
    "Parts",
    "Proposal",
    "Question",
    "Reason",
    "Slots",
    "Spare",
    "State",
    "Times",
    "Who",
    "answer",
    "limits_of",
    "question",
    "questions",
    "read_answer",
    "read_facts",
    "read_wall",
]
