"""What was told of a medicine, in her words: whether it is given, when, and how much."""

from hourmark.case import events as e
from hourmark.case.night import ALL, AND, NONE
from hourmark.handout.language import Language
from hourmark.web.pages.phone import NOT_SAID, Visit

WRONG, ALL_BUT, SAID_ALL = "something went wrong", "all of it, but see her words", "all of it, she says"

BARE = "a number without mL or mark"
"""What the record says in the place of such a number: nobody knows what it counts, and it is asked for again."""

REASONS = {
    "leaked": "some leaked out",
    "part": "only a part went in",
    "other-line": "stopped at another line",
    "needle": "trouble with the needle",
    "other-medicine": "it may have been another medicine",
    "not-given": NONE,
    "unsure": "she is not sure",
}
"""What can have gone wrong: its name on the form, and what the record says of it."""

_NAMES = {said: f"done-{name}" for name, said in REASONS.items()} | {
    NOT_SAID: "much-not-said",
    WRONG: "done-wrong",
    ALL_BUT: "much-all-but",
    SAID_ALL: "much-all-said",
    BARE: "much-bare",
}


def told_of(visit: Visit) -> set[str]:
    """The medicines of which anybody has told that they are given, all or in part."""
    return {one.event.injection for one in visit.state.confirmations if _tells_of_giving(one.event)}


def _tells_of_giving(report: e.Confirmed) -> bool:
    """Not where none of it went in, whatever else stands beside that, and not of a time that was still to come."""
    return NONE not in report.amount.split(AND) and "time-future" not in report.doubts


def said_of(visit: Visit, report: e.Confirmed, due: e.Due) -> str:
    """The time of a report in her words; as it was typed where it is not one moment."""
    return visit.words.moment(visit.here(report.instant, due.zone)) if report.instant else report.reported


def much_of(visit: Visit, report: e.Confirmed) -> str:
    """How much a report says, as a sentence in her words."""
    words = visit.words
    if report.amount == ALL:
        return words.word("phone.stored-all")
    return words.word("phone.stored-amount", amount=_in_her_words(report.amount, words))


def _in_her_words(amount: str, words: Language) -> str:
    parts = amount.split(AND)
    return AND.join(words.word(f"phone.{_NAMES[one]}") if one in _NAMES else one for one in parts)
