"""Who rings in a drill's night: each call with a case of its own, whose id and initials say nothing of what the call is about."""

import random
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from hourmark.clock import Moment, moment, parse_wall, parse_zone
from hourmark.drill.rounds import Round, rounds
from hourmark.drill.scenes import written_nights

PREFIX = "DRILL-"
"""Begins the id of every case of a drill: it stands on each page of paper that is made for her."""

_LETTERS = "ABCDEFGHJKLMNOPRSTUVW"


@dataclass(frozen=True, slots=True)
class Caller:
    """One call of the night: whose case, by which initials, and when she rings (UTC). `night` is the file that her case is written in."""

    case: str
    initials: str
    rings_at: str
    round: Round

    @property
    def written(self) -> Mapping[str, Any]:
        """Her case as a night file has it, under its own id there."""
        return written_nights()[self.round.scene.case][0]

    @property
    def night(self) -> Mapping[str, Any]:
        """The night file of her case."""
        return written_nights()[self.round.scene.case][1]


@cache
def cast(seed: int, count: int) -> tuple[Caller, ...]:
    """Everybody who rings, in the order in which they ring. The same seed and count give the same night."""
    dice = random.Random(f"initials {seed}")
    callers = [_caller(one, dice) for one in rounds(seed, count)]
    return tuple(sorted(callers, key=lambda one: (one.rings_at, one.round.place)))


def _caller(one: Round, dice: random.Random) -> Caller:
    _, night = written_nights()[one.scene.case]
    rings = instant_of(one.scene.now, night)
    first, last = dice.choices(_LETTERS, k=2)
    return Caller(f"{PREFIX}{one.place:02}", f"{first}. {last}.", rings, one)


def instant_of(wall: str, night: Mapping[str, Any]) -> str:
    """A clock time of a night file on its clinic's clock, in UTC. Raises ValueError for one that is no time."""
    found = moment(parse_wall(wall), parse_zone(night["clinic"]["zone"]))
    if not isinstance(found, Moment):
        raise ValueError(f"{wall}: {found.what}")
    return found.utc
