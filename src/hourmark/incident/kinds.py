"""The kinds of trouble on the night, and for each the questions in the order in which a frightened caller can answer them."""

from dataclasses import dataclass
from enum import StrEnum


class Kind(StrEnum):
    """What went wrong, as the nurse would name it."""

    EARLY = "early"
    LATE = "late"
    MISSED = "missed"
    WRONG_MARK = "wrong-mark"
    PARTIAL = "partial"
    WRONG_WATER = "wrong-water"
    WATER_ONLY = "water-only"
    WRONG_PRODUCT = "wrong-product"
    WRONG_ROUTE = "wrong-route"
    REPEATED = "repeated"
    ONE_OF_TWO = "one-of-two"
    STORAGE = "storage"
    OTHER_DRUG = "other-drug"


KIND_WORDS = {
    Kind.EARLY: "injected too early",
    Kind.LATE: "injected too late",
    Kind.MISSED: "not injected at all",
    Kind.WRONG_MARK: "drawn to another mark",
    Kind.PARTIAL: "a part lost: leaked, spilled or left behind",
    Kind.WRONG_WATER: "another amount of water",
    Kind.WATER_ONLY: "water only, the powder still in its vial",
    Kind.WRONG_PRODUCT: "another product or strength",
    Kind.WRONG_ROUTE: "another route",
    Kind.REPEATED: "injected more than one time",
    Kind.ONE_OF_TWO: "one of two medicines left out",
    Kind.STORAGE: "kept wrongly, or past its expiry",
    Kind.OTHER_DRUG: "another medicine taken",
}
"""Each kind in a few words for a button or a note."""


class AnswerForm(StrEnum):
    """How an answer is written. Every form also takes "not known"; those marked so take two values with " to " between."""

    YES_NO = "yes or no"
    INJECTION = "the id of an injection of the order"
    TIME = "a date and clock time on her clock, or two"
    TIMES = "dates and clock times on the clinic's clock, with commas between"
    VOLUME = "a volume, or two"
    LOSS = "a volume or a part, or two"
    MARK = "a number on the syringe's own scale, or two"
    BARREL = "the id of a syringe"
    STRENGTH = "a dose in one vial, or a dose per mL"
    ROUTE = "subcutaneous, intramuscular or nasal"
    COUNT = "a whole number, or two"
    TEXT = "words"


@dataclass(frozen=True, slots=True)
class Question:
    """One question: the key of its answer, the words to ask it in, the form of the answer, its place, and whether numbers wait for it."""

    key: str
    words: str
    form: AnswerForm
    order: int
    needed: bool


RED_FLAGS = (
    "trouble breathing or a wheeze",
    "swelling of the face, lips or throat, or a spreading rash",
    "chest pain, fainting or confusion",
    "strong, sudden or rising belly pain, or pain on one side with vomiting",
    "pain or swelling of one leg or arm, pain in the neck, or a bad headache with weakness",
    "heavy bleeding",
    "fever of 38 degrees Celsius or more",
    "no urine for eight hours, or nothing stays down",
)
"""Signs that go to the emergency services before any arithmetic.

Source: the signs of overstimulation, Reprod Biol Endocrinol 2012;10:32, table of grades; the rest (allergy, clot, bleeding, torsion,
infection) is common practice, no source.
"""

_ASKED = {
    "symptoms": (
        f"Before anything else: is there any of this now: {'; '.join(RED_FLAGS)}?",
        AnswerForm.YES_NO,
    ),
    "injection": ("Which medicine is it about?", AnswerForm.INJECTION),
    "injected": ("Has the needle been in, and has anything gone in?", AnswerForm.YES_NO),
    "all": ("Did all of it go in, up to the mark on your page?", AnswerForm.YES_NO),
    "at": ("At what time, by which clock, did it go in? A time between two is fine.", AnswerForm.TIME),
    "drawn": ("Up to where was the syringe filled, in mL, all syringes together?", AnswerForm.VOLUME),
    "mark": (
        "At which number on the syringe did the plunger stop? Read it by the ring nearest the needle.",
        AnswerForm.MARK,
    ),
    "barrel": ("What is the largest number printed on that syringe? (Choose the syringe.)", AnswerForm.BARREL),
    "water": ("How much water went into each vial of powder?", AnswerForm.VOLUME),
    "strength": (
        "Read me the strength on the vial. Put it down by the phone, do not throw it away.",
        AnswerForm.STRENGTH,
    ),
    "lost": (
        "How much ran out or was spilled: some drops, a third, half? A guess between two is fine.",
        AnswerForm.LOSS,
    ),
    "stayed": ("How much is still in the syringe?", AnswerForm.VOLUME),
    "residue": ("How much is still in the vial that should have been emptied?", AnswerForm.VOLUME),
    "route": ("Where did the needle go: under the skin, into the muscle, or was it a nasal spray?", AnswerForm.ROUTE),
    "times": (
        "How many times in all did you inject it? Count the empty vials and the used syringes.",
        AnswerForm.COUNT,
    ),
    "missed": ("Which one was left out?", AnswerForm.INJECTION),
    "drug": ("Which medicine was it? Read me its full generic name on the box.", AnswerForm.TEXT),
    "instead": ("Was it taken instead of this injection?", AnswerForm.YES_NO),
    "kept": ("Where was it kept, for how long, and what date is on the box?", AnswerForm.TEXT),
    "opened": ("How many boxes of this medicine are open or used up by now?", AnswerForm.COUNT),
    "open": ("(Theatre) Which starts are still open?", AnswerForm.TIMES),
}

_NEEDED: dict[Kind, tuple[str, ...]] = {
    Kind.EARLY: ("symptoms", "injection", "at", "all"),
    Kind.LATE: ("symptoms", "injection", "injected", "at", "all"),
    Kind.MISSED: ("symptoms", "injection"),
    Kind.WRONG_MARK: ("symptoms", "injection", "injected", "at", "drawn"),
    Kind.PARTIAL: ("symptoms", "injection", "at", "lost"),
    Kind.WRONG_WATER: ("symptoms", "injection", "injected", "at", "water"),
    Kind.WATER_ONLY: ("symptoms", "injection", "at"),
    Kind.WRONG_PRODUCT: ("symptoms", "injection", "injected", "at", "drug", "strength"),
    Kind.WRONG_ROUTE: ("symptoms", "injection", "at", "route", "all"),
    Kind.REPEATED: ("symptoms", "injection", "times", "at", "all"),
    Kind.ONE_OF_TWO: ("symptoms", "missed", "at", "all"),
    Kind.STORAGE: ("symptoms", "injection", "injected", "at", "all", "kept"),
    Kind.OTHER_DRUG: ("symptoms", "injection", "drug", "instead"),
}

_DOSE_TOO = ("drawn", "mark", "barrel", "water", "lost", "stayed")
_ALSO: dict[Kind, tuple[str, ...]] = {
    Kind.EARLY: _DOSE_TOO,
    Kind.LATE: _DOSE_TOO,
    Kind.WRONG_ROUTE: _DOSE_TOO,
    Kind.STORAGE: _DOSE_TOO,
    Kind.WRONG_MARK: ("mark", "barrel", "water", "lost", "stayed"),
    Kind.PARTIAL: ("stayed", "residue", "drawn", "mark", "barrel", "water"),
    Kind.WRONG_WATER: ("drawn", "mark", "barrel", "lost", "stayed"),
    Kind.WRONG_PRODUCT: (*_DOSE_TOO, "route"),
    Kind.REPEATED: _DOSE_TOO,
    Kind.OTHER_DRUG: ("at",),
}

_LAST = ("opened", "open")


def questions(kind: Kind) -> tuple[Question, ...]:
    """The questions of a kind: signs of danger first, then what has gone in and when, then amounts, then what is left and theatre."""
    needed = _NEEDED[kind]
    keys = (*needed, *_ALSO.get(kind, ()), *_LAST)
    return tuple(Question(key, *_ASKED[key], order, key in needed) for order, key in enumerate(keys, 1))


def question(kind: Kind, key: str) -> Question | None:
    """The question of that key, where this kind asks it."""
    return next((one for one in questions(kind) if one.key == key), None)
