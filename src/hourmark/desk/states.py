"""States out of the record: read, checked for damage, folded."""

from collections import OrderedDict
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from typing import TypeVar

from hourmark.case import events as e
from hourmark.case.board import Row, board
from hourmark.case.day import DayState, RulesState, fold_day, fold_roll, fold_rules
from hourmark.case.morning import Line, morning_list
from hourmark.case.shapes import Recorded, from_entry
from hourmark.case.state import CaseState, fold_case
from hourmark.case.streams import ROLL, RULES, case_stream, day_stream
from hourmark.case.watch import ladder
from hourmark.desk.trouble import in_fact_of
from hourmark.finding import Finding
from hourmark.ledger import Head, Reader, read_whole

S = TypeVar("S")

_MOST = 4_096


class Damaged(Exception):
    """The record is not what was written; nothing is read out of it. Carries what is wrong."""

    def __init__(self, findings: tuple[Finding, ...]) -> None:
        super().__init__(findings[0].what)
        self.findings = findings


def recorded(record: Reader, stream: str, head: Head | None = None) -> tuple[Recorded, ...]:
    """The events of a stream, up to a head of it that was seen. Raises Damaged where they are not what was written."""
    entries, damage = read_whole(record, head or record.head(stream))
    if damage:
        raise Damaged(damage)
    return tuple(event for entry in entries if (event := from_entry(entry)) is not None)


def until(records: tuple[Recorded, ...], moment: e.Instant) -> tuple[Recorded, ...]:
    """The events as they stood at a moment: up to the last one recorded by then, also where a clock was once put back."""
    last = max((place for place, record in enumerate(records, 1) if record.at <= moment), default=0)
    return records[:last]


class Memo:
    """States already folded, by the head of their stream: a head that has not moved needs no reading."""

    def __init__(self) -> None:
        self._states: OrderedDict[tuple[str, str], object] = OrderedDict()

    def get(self, head: Head, fold: Callable[[], S]) -> S:
        """The state at that head."""
        key = (head.stream, head.hash)
        if key not in self._states:
            self._states[key] = fold()
            if len(self._states) > _MOST:
                self._states.popitem(last=False)
        self._states.move_to_end(key)
        return self._states[key]  # type: ignore[return-value]


class States:
    """The states of one clinic's streams, and the heads at which they were read."""

    def __init__(self, record: Reader, memo: Memo, as_of: e.Instant | None = None) -> None:
        self._record, self._memo, self._as_of = record, memo, as_of
        self.heads: dict[str, int] = {}

    def case(self, case: str) -> CaseState:
        """One case."""
        return self._state(case_stream(case), fold_case)

    def day(self, day: str) -> DayState:
        """One theatre day."""
        return self._state(day_stream(day), fold_day)

    def rules(self) -> RulesState:
        """The clinic's rules."""
        return self._state(RULES, fold_rules)

    def roll(self) -> tuple[str, ...]:
        """The open cases."""
        return self._state(ROLL, fold_roll)

    def case_ids(self) -> tuple[str, ...]:
        """The ids of all cases there ever were."""
        begins = case_stream("")
        return tuple(head.stream.removeprefix(begins) for head in self._record.heads(begins))

    def open_cases(self) -> tuple[CaseState, ...]:
        """Every open case, in the order in which they were opened."""
        return tuple(case for case in self._on_the_roll() if not case.closed)

    def in_sight(self) -> tuple[tuple[CaseState, ...], tuple[str, ...]]:
        """Every case that somebody has to look at: the open ones, and those of which something was reported since they were closed.

        And the ids of those whose record is not what was written: one that is damaged hides no other.
        """
        try:
            return tuple(self._on_the_roll()), ()
        except Damaged:
            found: list[CaseState] = []
            damaged: list[str] = []
            for case in self.roll():
                try:
                    found.append(self.case(case))
                except Damaged:
                    damaged.append(case)
            return tuple(found), tuple(damaged)

    def board(self, now: e.Instant) -> list[Row]:
        """The board of all cases in sight. Raises Damaged where one of them is."""
        rules = self.rules()
        return board(self._on_the_roll(), now, ladder(rules), rules)

    def _on_the_roll(self) -> Iterator[CaseState]:
        streams = list(map(case_stream, self.roll()))
        heads = self._record.heads_of(streams)
        return (self._state(stream, fold_case, heads[stream]) for stream in streams)

    def _state(self, stream: str, fold: Callable[[tuple[Recorded, ...]], S], head: Head | None = None) -> S:
        head = head or self._record.head(stream)
        self.heads[stream] = head.seq
        if self._as_of is not None:
            return fold(until(recorded(self._record, stream, head), self._as_of))
        return self._memo.get(head, lambda: fold(recorded(self._record, stream, head)))


def morning_of(states: States, date: str, now: e.Instant) -> list[Line]:
    """The morning list of a theatre day as known at `now`; a case whose record is damaged stands there as just that."""
    day = states.day(date)
    cases, rules = dict(readable(states, day.cases.values())), states.rules()
    in_fact = {case: in_fact_of(state, rules, now) for case, state in cases.items() if state.results or state.incidents}
    return morning_list(day, cases, rules, now, in_fact)


def readable(states: States, cases: Iterable[str]) -> Iterator[tuple[str, CaseState]]:
    """Each of these cases whose record is what was written."""
    for case in cases:
        with suppress(Damaged):
            yield case, states.case(case)
