"""The watch over silence, one pass: every rung that was reached goes on the record, one time, however many watch."""

import hashlib

from hourmark.case import events as e
from hourmark.case.asked import Asked, Role
from hourmark.case.watch import ClaimRung, ladder, unclaimed
from hourmark.desk.desk import Answer, Desk, Done
from hourmark.desk.states import Damaged
from hourmark.ledger import KeyTaken

WATCH = "the watch"
"""The name under which rungs are claimed."""


class Unclaimable(Exception):
    """Rungs were reached, and the keys by which they are claimed stand on the record for something else."""

    def __init__(self, rungs: tuple[ClaimRung, ...]) -> None:
        super().__init__(f"The keys of {len(rungs)} reached rungs stand for something else: {rungs}")
        self.rungs = rungs


class Unwatched(Exception):
    """The record of these cases is not what was written: nobody can say whether they are silent. All others were watched."""

    def __init__(self, cases: tuple[str, ...]) -> None:
        super().__init__(f"Nobody watches {', '.join(cases)}: the record is damaged.")
        self.cases = cases


def watch_once(desk: Desk, now: e.Instant) -> tuple[ClaimRung, ...]:
    """Claim every rung that is reached by `now` and not on the record; what this pass claimed.

    Raises NotStored where the store could not, and Damaged where roll or rules are not what was written; what was claimed before stands,
    and the next pass does the rest. Raises Unclaimable, or Unwatched for cases that are damaged, after everything else was claimed.
    """
    watch = Asked(WATCH, Role.WATCH, now)
    states = desk.states()
    rungs, (cases, damaged) = ladder(states.rules()), states.in_sight()
    answers: list[tuple[ClaimRung, Answer]] = []
    unwatched = list(damaged)
    for case in cases:
        try:
            answers += [(rung, desk.perform(rung, watch, key_of(rung))) for rung, _ in unclaimed(case, rungs, now)]
        except Damaged:
            unwatched.append(case.id)
    if blocked := tuple(rung for rung, answer in answers if isinstance(answer, KeyTaken)):
        raise Unclaimable(blocked)
    if unwatched:
        raise Unwatched(tuple(unwatched))
    # Refused: somebody spoke of it, or another watch was faster.
    return tuple(rung for rung, answer in answers if isinstance(answer, Done) and not answer.again)


def key_of(rung: ClaimRung) -> str:
    """The key of a rung's claim: the same for everybody who claims it, and no other rung's, as ids have no slash."""
    whom = hashlib.sha256(rung.tell.encode()).hexdigest()[:16]
    return f"watch/{rung.case}/{rung.sheet}/{rung.injection}/{rung.time}/{whom}"
