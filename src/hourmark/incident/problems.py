"""What has to be asked again, and why: nothing is computed from it."""

from collections.abc import Iterable, Iterator
from dataclasses import replace

from hourmark.finding import Finding, Level, Unreadable
from hourmark.incident.facts import Facts
from hourmark.incident.kinds import Kind, Question, questions
from hourmark.order import Order

AGAIN = "Ask again; nothing is computed from it."
_OURS = "hourmark's own rule"


def unreadable(facts: Facts) -> Iterator[Finding]:
    """The answers that cannot be read."""
    for one in facts.again:
        yield Finding(
            "trouble-unreadable",
            Level.STOP,
            f"{one.why} The words are kept as they were said.",
            f"{one.do} {AGAIN}",
            one.key,
            "what can be read",
            _OURS,
        )


def no_such_medicine(error: Unreadable) -> Finding:
    """A name that is not known here: which medicine it was is then not known either, and no number rests on it."""
    what, do = f"{error.what} The words are kept as they were said.", f"{error.do} {AGAIN}"
    return Finding("trouble-unreadable", Level.STOP, what, do, "drug", "what can be read", _OURS)


def missing(kind: Kind, facts: Facts, order: Order) -> tuple[Question, ...]:
    """The questions whose answers the numbers wait for and that were not asked yet."""
    return tuple(one for one in questions(kind) if one.needed and not _settled(one.key, facts, order))


def _settled(key: str, facts: Facts, order: Order) -> bool:
    if facts.answered(key):
        return True
    match key:
        case "injection":
            return len(order.injections) == 1
        case "injected":
            return facts.at is not None
        case "at":
            return facts.injected is False
        case "all":
            return facts.injected is False or bool(amounts_told(facts))
        case "drawn":
            return facts.mark is not None
        case "lost":
            return facts.stayed is not None or facts.residue is not None
        case _:
            return False


def amounts_told(facts: Facts) -> tuple[str, ...]:
    """The keys of amounts that were told."""
    return tuple(
        key for key in ("drawn", "mark", "water", "lost", "stayed", "residue") if getattr(facts, key) is not None
    )


def unanswered(missing_ones: Iterable[Question]) -> Iterator[Finding]:
    """An ask for every question that is still open; the first of them is about danger."""
    for one in missing_ones:
        danger = one.key == "symptoms"
        yield Finding(
            "trouble-danger-unasked" if danger else "trouble-unanswered",
            Level.ASK,
            "Nobody has asked yet whether she is in danger." if danger else f"Not answered yet: {one.words}",
            one.words if danger else 'Ask her. If she cannot say, write "not known".',
            one.key,
            "signs of danger come before any number" if danger else "the numbers wait for this answer",
            _OURS,
        )


def too_much(key: str, what: str, limit: str) -> Finding:
    """An amount above what the barrel, the vial or the kit holds."""
    return Finding("trouble-too-much", Level.STOP, what, AGAIN, key, limit, "the case's own kit and plan")


def contradicts(key: str, what: str) -> Finding:
    """Two answers that cannot both be so."""
    return Finding("trouble-contradicts", Level.STOP, what, AGAIN, key, "two answers that fit each other", _OURS)


def other_side(what: str) -> Finding:
    """A time on the other side of the planned minute than the kind of trouble says: the day, the clock or the page may be another."""
    do = "Ask for the day and by which clock. The hours hold only if it is so."
    return replace(contradicts("at", what), level=Level.ASK, do=do)


def not_here(key: str, what: str) -> Finding:
    """An answer that has no meaning with this product."""
    return Finding(
        "trouble-not-here", Level.STOP, what, AGAIN, key, "what the planned product is", "the case's own plan"
    )


def in_future(key: str, what: str) -> Finding:
    """A time that has not come yet."""
    return Finding(
        "trouble-time-future",
        Level.STOP,
        what,
        f"Ask by which clock she read it, and the date. {AGAIN}",
        key,
        "what was done lies in the past",
        _OURS,
    )
