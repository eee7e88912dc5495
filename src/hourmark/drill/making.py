"""A drill's night made: each caller's case goes the ordinary road of slot, order, kit, second check, read-back and release, through the desk.

What happened to her by the minute of her call is not reported: her call is what tells it.
"""

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from hourmark.case.asked import Asked, Role
from hourmark.case.calls import HearReadBack
from hourmark.case.checks import SecondCheck
from hourmark.case.kits import CheckCarton, ReadKit
from hourmark.case.night import ALL, Confirm
from hourmark.case.opening import CloseCase, OpenCase
from hourmark.case.orders import SignOrder
from hourmark.case.rules import SignRules
from hourmark.case.sheets import Release
from hourmark.case.slots import GiveSlot, PlaceSlot
from hourmark.clock import moment_from_utc, parse_zone
from hourmark.desk import Command, Desk, Done
from hourmark.desk.made import Planned, plan_of
from hourmark.drill.cast import Caller, instant_of
from hourmark.exchange.tables import plain_table

NURSE, SECOND, THEATRE = "A. Kowal", "L. Ortiz", "Theatre desk"
"""Who makes the night ready."""

_CLOCK = {
    "rules": "11:50",
    "slot": "12:30",
    "order": "13:05",
    "kit": "13:30",
    "check": "13:50",
    "call": "14:10",
    "done": "14:30",
}
"""When in the afternoon each thing is done on the clinic's clock, and when all of it is."""


class NotMade(Exception):
    """A case of the drill did not become what its night file says."""


def make_until(desk: Desk, callers: Iterable[Caller], now: str) -> None:
    """Make every case whose afternoon is done by `now`, and close those of nights that are over. What is there is not made again.

    Raises NotMade where an act is refused.
    """
    due = due_by(callers, now)
    last = max((_at(one.night, "done") for one in due), default="")
    for one in due:
        if not _is_done(desk, _last(one)):
            _make(desk, one)
    for one in due:
        if _at(one.night, "done") < last and not _is_done(desk, f"{one.case}-close"):
            _end(desk, one.case, Asked(NURSE, Role.NURSE, last))


def due_by(callers: Iterable[Caller], now: str) -> list[Caller]:
    """Those whose afternoon is done by then (UTC)."""
    return [one for one in callers if _at(one.night, "done") <= now]


def begins_at(callers: Iterable[Caller]) -> str:
    """The earliest moment (UTC) at which a drill of these callers can begin: the afternoon of the first one's night is done."""
    return min(_at(one.night, "done") for one in callers)


def _at(night: Mapping[str, Any], what: str) -> str:
    return instant_of(f"{night['as_of'][:10]} {_CLOCK[what]}", night)


def _make(desk: Desk, caller: Caller) -> None:
    case, night = plain_table(caller.written), plain_table(caller.night)
    for name, command, by, role, at in _acts(caller, case, night):
        _do(desk, command, Asked(by, role, _at(night, at)), name)
    route = case["order"]["injections"][0]["route"]
    for box in case["kit"]["products"]:
        carton = CheckCarton(caller.case, box["product"], (NURSE, SECOND), box["strength"], "as on the carton", route)
        _do(desk, carton, Asked(NURSE, Role.NURSE, _at(night, "kit")), f"{caller.case}-{box['product']}")
    checking, calling = (Asked(by, Role.NURSE, _at(night, at)) for by, at in ((SECOND, "check"), (NURSE, "call")))
    planned = _planned(desk, caller, checking)
    _do(desk, SecondCheck(caller.case, planned.readings), checking, f"{caller.case}-check")
    if caller.round.scene.called:
        _do(desk, _read_back(planned, caller.case), calling, f"{caller.case}-call")
        _do(desk, Release(caller.case), calling, _last(caller))


def _last(caller: Caller) -> str:
    """The key of the last act on her case."""
    return f"{caller.case}-{'release' if caller.round.scene.called else 'check'}"


def _acts(caller: Caller, case: Any, night: Any) -> Iterator[tuple[str, Command, str, Role, str]]:
    """What is done with what stands in the night file: its key, the act, by whom in which role, and when."""
    rules, order, name = night["clinic"], case["order"], caller.case
    slot = next(one for one in night["slots"] if one["id"] == case["slot"])
    slot |= {"id": f"s{caller.round.place:02}", "room": f"Room {caller.round.place}"}
    details = {key: value for key, value in case.items() if key not in ("id", "slot", "order", "kit")}
    why, how = "the drill's theatre list", "read aloud on the phone, one box after the other"
    yield "rules", SignRules(rules), rules["rules"]["signed_by"], Role.LEAD, "rules"
    yield f"{name}-slot", PlaceSlot(slot, why), THEATRE, Role.THEATRE, "slot"
    yield f"{name}-open", OpenCase(name, details), NURSE, Role.NURSE, "order"
    yield f"{name}-give", GiveSlot(slot["at"][:10], slot["id"], name, why), NURSE, Role.NURSE, "order"
    yield f"{name}-order", SignOrder(name, order), order["signed_by"], Role.PRESCRIBER, "order"
    yield f"{name}-kit", ReadKit(name, case["kit"], how), NURSE, Role.NURSE, "kit"


def _end(desk: Desk, case: str, asked: Asked) -> None:
    """A case of a night that is over: what nobody spoke of went in at its minute, and it is closed where nothing in it is open."""
    state = desk.states().case(case)
    for due in state.sheet.event.dues if state.sheet is not None else ():
        if due.injection not in {one.event.injection for one in state.confirmations}:
            wall = moment_from_utc(due.at, parse_zone(due.zone)).wall
            reported = (f"{wall:%Y-%m-%d %H:%M}", due.zone, "she herself", "she remembers", ALL, "nothing")
            _do(desk, Confirm(case, due.injection, *reported), asked, f"{case}-{due.injection}-given")
    desk.perform(CloseCase(case, "the drill's night of this case is over"), asked, f"drill-{case}-close")


def _planned(desk: Desk, caller: Caller, asked: Asked) -> Planned:
    states = desk.states()
    planned = plan_of(states.case(caller.case), states.rules(), asked.at)
    if not isinstance(planned, Planned):
        raise NotMade(f"{caller.case} has no plan: {planned}")
    return planned


def _read_back(planned: Planned, case: str) -> HearReadBack:
    """All of her page, repeated rightly."""
    said = tuple(planned.to_read_back.items())
    return HearReadBack(case, "she herself", ("full name", "date of birth"), said, planned.made.check_word)


def _do(desk: Desk, command: Command, asked: Asked, key: str) -> None:
    answer = desk.perform(command, asked, f"drill-{key}")
    if not isinstance(answer, Done):
        raise NotMade(f"{type(command).__name__}, {key}: {answer}")


def _is_done(desk: Desk, key: str) -> bool:
    return any(True for _ in desk.store.of_act(f"drill-{key}"))
