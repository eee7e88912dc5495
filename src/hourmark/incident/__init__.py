"""Trouble on the night: what was reported becomes a dose, a lead, what is left and who decides. It computes; it proposes no treatment."""

from hourmark.incident.answer import answer
from hourmark.incident.deciding import UNSIGNED, Limits, Reason, Who, limits_of
from hourmark.incident.facts import Again, Count, Facts, Marks, Parts, Times, read_answer, read_facts, read_wall
from hourmark.incident.kinds import KIND_WORDS, RED_FLAGS, AnswerForm, Kind, Question, question, questions
from hourmark.incident.leg import Another, Answer, LeadNow, Left, Leg, OpenStart, Proposal, Slots, Spare, State
from hourmark.incident.medicine import is_another, is_ordered
from hourmark.incident.stock import Earlier

__all__ = [
    "KIND_WORDS",
    "RED_FLAGS",
    "UNSIGNED",
    "Again",
    "Another",
    "Answer",
    "AnswerForm",
    "Count",
    "Earlier",
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
    "is_another",
    "is_ordered",
    "limits_of",
    "question",
    "questions",
    "read_answer",
    "read_facts",
    "read_wall",
]
