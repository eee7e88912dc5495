"""Faults planted into the program one at a time, and the law by which the simulator has to notice each."""

import itertools
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, ExitStack, contextmanager
from dataclasses import dataclass, replace
from typing import Any
from unittest import mock

from hourmark.case import board, injections, morning, night, opening, state, watch
from hourmark.case import events as e
from hourmark.case.asked import Asked, Refused, refused
from hourmark.case.injections import Standing
from hourmark.case.shapes import Recorded
from hourmark.case.state import CaseState
from hourmark.clock import Span, elapsed
from hourmark.desk import watch as watching
from hourmark.ledger import Entry, Head, MemoryStore, NotStored
from tests.night.model import CALLED, CLAIMED, KEPT, LEADS, LISTED, REFUSED, SUPPORTED
from tests.night.simulator import REPLAYED, SWALLOWED, WHOLE

Plant = Callable[[], AbstractContextManager[object]]


_Claims = tuple[tuple[watch.ClaimRung, watch.Reached], ...]


@dataclass(frozen=True, slots=True)
class Planted:
    """A fault, and the laws of which it breaks one first, by what happens to come first."""

    plant: Plant
    laws: tuple[str, ...]


def instead(**places: object) -> Plant:
    """Something else at these places of hourmark; the dots in their names are written as two underscores."""

    @contextmanager
    def planted() -> Iterator[None]:
        with ExitStack() as stack:
            for place, other in places.items():
                stack.enter_context(mock.patch(f"hourmark.{place.replace('__', '.')}", other))
            yield

    return planted


def _claims_again(
    case: CaseState, command: watch.ClaimRung, asked: Asked, rules: Any
) -> tuple[e.CaseEvent, ...] | Refused:
    return _CLAIM(replace(case, owed=()), command, asked, rules)


def _looks_at_one(case: CaseState, rungs: tuple[watch.Rung, ...], now: str) -> tuple[watch.Reached, ...]:
    found = _REACHED(case, rungs, now)
    return tuple(one for one in found if one.injection == found[0].injection)


def _never_looks_up(case: CaseState, rungs: tuple[watch.Rung, ...], now: str) -> tuple[watch.Reached, ...]:
    return tuple(one for one in _REACHED(case, rungs, now) if one.rung.number < 3)


def _deaf(case: CaseState, rungs: tuple[watch.Rung, ...], now: str) -> tuple[watch.Reached, ...]:
    return _REACHED(replace(case, confirmations=()), rungs, now)


def _keeps_quiet(desk: Any, now: str) -> tuple[watch.ClaimRung, ...]:
    try:
        return _WATCH(desk, now)
    except NotStored:
        return ()


def _silence_is_given(*given: Any) -> tuple[str, str | None, str]:
    found, since, why = _STATE(*given)
    return (board.GIVEN if found == board.UNKNOWN else found), since, why


def _boxes_are_given(*given: Any) -> tuple[str, str | None, str]:
    found, since, why = _STATE(*given)
    return (board.GIVEN if found == board.MIXING else found), since, why


def _void_is_hidden(case: CaseState, one: Standing, now: str) -> tuple[str, str | None, str]:
    return _STATE(case, replace(one, sheet=replace(one.sheet, voided=None)), now)


def _one_is_all(case: CaseState, one: Standing) -> bool:
    return any(_IS_GIVEN(case, other) for other in injections.standings(case))


def _leaves_off_calls(case: CaseState) -> Iterator[board.Row]:
    return _BESIDE(replace(case, waiting=()))


def _closes_void_pages(case: CaseState, asked: Asked) -> Refused | None:
    return _SILENT(case, asked) if case.sheet is not None else None


def _forgets_withdrawals(case: CaseState, record: Recorded) -> CaseState:
    return case if isinstance(record.event, e.ConfirmationWithdrawn) else _AFTER(case, record)


def _refuses_void_pages(case: CaseState, command: night.Confirm, asked: Asked) -> tuple[e.CaseEvent, ...] | Refused:
    if case.sheets and case.sheet is None:
        return refused("sheet-void", "The page is void.", "Ring.", "a page that holds")
    return _CONFIRM(case, command, asked)


def _as_planned(case: CaseState, slot: str, now: str, *more: Any) -> Iterator[morning.Given]:
    dues = [one.due.at for one in injections.standings(case)]
    for due, given in itertools.zip_longest(dues, _GIVEN(case, slot, now, *more)):
        yield replace(given, at=due, to_slot=elapsed(due, slot)) if due and given.at else given


def _an_hour_more(case: CaseState, at: str) -> Span | None:
    found = _TO_SLOT(case, at)
    return found + Span(60) if found is not None else None


def _losing() -> Plant:
    """Every thirtieth write is said to be done, and is not."""
    numbers, write = itertools.count(1), MemoryStore.write

    def loses(store: MemoryStore, entries: tuple[Entry, ...], heads: list[Head]) -> None:
        if next(numbers) % 30:
            write(store, entries, heads)

    return instead(ledger__memory__MemoryStore__write=loses)


def _smudging() -> Plant:
    """Pages are not stored as they were printed."""
    write = MemoryStore.write

    def smudges(store: MemoryStore, entries: tuple[Entry, ...], heads: list[Head]) -> None:
        kept = [replace(one, body=b"smudged") if one.stream.startswith("pages/") else one for one in entries]
        write(store, kept, heads)

    return instead(ledger__memory__MemoryStore__write=smudges)


@contextmanager
def _no_way_back(store: MemoryStore) -> Iterator[MemoryStore]:
    yield store


@contextmanager
def _claiming_twice() -> Iterator[None]:
    numbers = itertools.count(1)
    with (
        mock.patch("hourmark.case.watch.claim_rung", _claims_again),
        mock.patch("hourmark.desk.watch.key_of", side_effect=lambda _: f"claim-{next(numbers)}"),
        mock.patch("hourmark.desk.watch.unclaimed", _all_reached),
    ):
        yield


def _all_reached(case: CaseState, rungs: tuple[watch.Rung, ...], now: str) -> _Claims:
    return _UNCLAIMED(replace(case, owed=()), rungs, now)


def _only(looks: Callable[..., tuple[watch.Reached, ...]]) -> Plant:
    """The watch claims only what it looks at."""

    def unclaimed(case: CaseState, rungs: tuple[watch.Rung, ...], now: str) -> _Claims:
        found = looks(case, rungs, now)
        return tuple(pair for pair in _UNCLAIMED(case, rungs, now) if pair[1] in found)

    return instead(desk__watch__unclaimed=unclaimed)


def _by_number(case: CaseState, rungs: tuple[watch.Rung, ...], now: str) -> _Claims:
    claimed = {(one.event.injection, one.event.sheet, one.event.rung) for one in case.owed}
    found = _UNCLAIMED(case, rungs, now)
    return tuple(pair for pair in found if (pair[1].injection, pair[1].sheet, pair[1].rung.number) not in claimed)


def _number_of(told: e.Escalated, rungs: tuple[watch.Rung, ...]) -> int:
    return told.rung if told.rung is not None else _RUNG_OF(told, rungs)


_CLAIM, _REACHED, _WATCH, _AFTER = watch.claim_rung, watch.reached, watching.watch_once, state.after
_UNCLAIMED, _RUNG_OF = watch.unclaimed, watch._rung_of
_GIVEN = morning._given
_BESIDE, _SILENT = board._beside_the_page, opening._silent
_STATE, _IS_GIVEN, _TO_SLOT, _CONFIRM = board._state, injections.is_given, board._to_slot, night.confirm

PLANTED: dict[str, Planted] = {
    "a watch that claims what is claimed": Planted(_claiming_twice, (CLAIMED,)),
    "a watch that looks at the first silent injection only": Planted(_only(_looks_at_one), (CLAIMED,)),
    "a watch that stops before the last rung": Planted(_only(_never_looks_up), (CLAIMED,)),
    "a watch that does not hear what she says": Planted(
        instead(case__watch__reached=_deaf, case__board__reached=_deaf),
        (CLAIMED, SUPPORTED),
    ),
    "a watch that keeps quiet when it cannot watch": Planted(
        instead(desk__watch__watch_once=_keeps_quiet), (SWALLOWED, CLAIMED)
    ),
    "a board that calls silence given": Planted(instead(case__board___state=_silence_is_given), (SUPPORTED,)),
    "a board that calls it given once the boxes are read": Planted(
        instead(case__board___state=_boxes_are_given), (SUPPORTED,)
    ),
    "a board that hides that a page is void": Planted(instead(case__board___state=_void_is_hidden), (SUPPORTED,)),
    "a board for which one of two is all": Planted(instead(case__board__is_given=_one_is_all), (SUPPORTED,)),
    "a board that does not say that a repeat moves with the first": Planted(
        instead(case__board___counted_from=lambda *_: ""), (SUPPORTED,)
    ),
    "a board for which telling anybody answers every rung": Planted(
        instead(case__watch___rung_of=lambda *_: 99), (SUPPORTED,)
    ),
    "a board that is an hour off": Planted(instead(case__board___to_slot=_an_hour_more), (SUPPORTED,)),
    "a board that leaves off a call about something on no page": Planted(
        instead(case__board___beside_the_page=_leaves_off_calls), (SUPPORTED,)
    ),
    "a silent case that is closed away since its page is void": Planted(
        instead(case__opening___silent=_closes_void_pages), (REFUSED,)
    ),
    "a record that forgets what was withdrawn": Planted(
        instead(case__state__after=_forgets_withdrawals), (SUPPORTED, CLAIMED)
    ),
    "a watch for which a line is its number": Planted(instead(desk__watch__unclaimed=_by_number), (CLAIMED,)),
    "a board for which a line is its number": Planted(instead(case__watch___rung_of=_number_of), (SUPPORTED,)),
    "a board that forgets a case once it is closed": Planted(
        instead(case__board___closed=lambda *_: iter(())), (SUPPORTED,)
    ),
    "a report that is refused on a void page": Planted(
        lambda: mock.patch.dict("hourmark.desk.acts._ON_ONE_CASE", {night.Confirm: _refuses_void_pages}), (REFUSED,)
    ),
    "a report whose doubts are dropped": Planted(instead(case__night___doubts=lambda *_: iter(())), (KEPT,)),
    "a slot that moves and voids nothing": Planted(instead(case__slots__voided_by=lambda *_: ()), (KEPT,)),
    "a void page of which nobody is rung": Planted(instead(desk__desk___messages=lambda _: ()), (CALLED,)),
    "a link that leads for ever": Planted(instead(case__phone__link_leads=lambda *_: True), (LEADS,)),
    "a list that counts from the planned minute": Planted(instead(case__morning___given=_as_planned), (LISTED,)),
    "a store that loses what it said was stored": Planted(_losing(), (KEPT,)),
    "a store that keeps what it said was not stored": Planted(
        instead(ledger__memory__MemoryStore__writing=_no_way_back), (KEPT,)
    ),
    "a store that smudges pages": Planted(_smudging(), (KEPT, WHOLE)),
    "a record that cannot be read as it was": Planted(
        instead(desk__states__until=lambda records, _: records), (REPLAYED,)
    ),
    "a repeat that is done once more": Planted(
        instead(desk__desk__repeated=lambda *_: None, ledger__store__repeated=lambda *_: None), (REFUSED,)
    ),
}
"""Every fault by what it is."""
