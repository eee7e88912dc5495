"""The watch over silence, one pass: every rung that was reached goes on the record, one time, however many watch."""

from collections.abc import Iterator

from hourmark.case import events as e
from hourmark.case.asked import Asked, Role
from hourmark.case.watch import ClaimRung, ladder, reached
from hourmark.desk.desk import Desk, Done
from hourmark.ledger import KeyTaken

WATCH = "the watch"
"""The name under which rungs are claimed."""


class Unclaimable(Exception):
    """Rungs were reached, and the keys by which they are claimed stand on the record for something else."""

    def __init__(self, rungs: tuple[ClaimRung, ...]) -> None:
        super().__init__(f"The keys of {len(rungs)} reached rungs stand for something else: {rungs}")
        self.rungs = rungs


def watch_once(desk: Desk, now: e.Instant) -> tuple[ClaimRung, ...]:
    """Claim every rung that is reached by `now` and not on the record; what this pass claimed.

    Raises NotStored where the store could not, and Damaged where the record is not what was written; what was claimed before stands,
    and the next pass does the rest. Raises Unclaimable after everything else was claimed.
    """
    watch = Asked(WATCH, Role.WATCH, now)
    answers = [(rung, desk.perform(rung, watch, key_of(rung))) for rung in _unclaimed(desk, now)]
    if blocked := tuple(rung for rung, answer in answers if isinstance(answer, KeyTaken)):
        raise Unclaimable(blocked)
    # Refused: somebody spoke of it, or another watch was faster.
    return tuple(rung for rung, answer in answers if isinstance(answer, Done) and not answer.again)


def key_of(rung: ClaimRung) -> str:
    """The key of a rung's claim: the same for everybody who claims it, and no other rung's, as ids have no slash."""
    return f"watch/{rung.case}/{rung.sheet}/{rung.injection}/{rung.rung}"


def _unclaimed(desk: Desk, now: e.Instant) -> Iterator[ClaimRung]:
    states = desk.states()
    rungs = ladder(states.rules())
    for case in states.open_cases():
        claimed = {(one.event.injection, one.event.sheet, one.event.rung) for one in case.owed}
        for one in reached(case, rungs, now):
            if (one.injection, one.sheet, one.rung.number) not in claimed:
                yield ClaimRung(case.id, one.injection, one.sheet, one.rung.number)
