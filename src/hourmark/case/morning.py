"""The morning list: for theatre, embryology and anaesthesia, what really happened before each slot, from what was recorded."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from hourmark.case import events as e
from hourmark.case.board import DOUBTS, given_at, reports
from hourmark.case.day import DayState
from hourmark.case.night import ALL
from hourmark.case.state import CaseState
from hourmark.clock import Span, Zone, elapsed, moment_from_utc


@dataclass(frozen=True, slots=True)
class Given:
    """One injection as it was: `at` None where no time is known, and `to_slot` None with it; `due` while it is still to come.

    `reported` where somebody said something of it, whatever that was.
    """

    medicine: str
    due: e.Instant | None
    at: e.Instant | None
    to_slot: Span | None
    in_window: bool | None
    reported: bool
    remarks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Line:
    """One slot with its case, and what its person was given; `open` are problems that nobody has settled."""

    slot: str
    at: e.Instant
    room: str | None
    case: str
    given: tuple[Given, ...]
    told: tuple[str, ...]
    open: tuple[str, ...]


def morning_list(day: DayState, cases: Mapping[str, CaseState], now: e.Instant) -> list[Line]:
    """The lines of a theatre day as known at `now`, in the order of its slots; slots that are nobody's are left out."""
    lines = []
    for name, case in day.cases.items():
        placed, state = day.slots[name], cases[case]
        room = placed.slot.get("room")
        lines.append(
            Line(
                slot=name,
                at=placed.instant,
                room=str(room) if room is not None else None,
                case=case,
                given=tuple(_given(state, placed.instant, now)),
                told=tuple(f"{one.event.told}: {one.event.about}" for one in state.escalations),
                open=tuple(one.event.happened for one in state.problems),
            )
        )
    return sorted(lines, key=lambda line: (line.at, line.slot))


def morning_words(lines: list[Line], zone: Zone) -> tuple[str, ...]:
    """The list as it is read: one paragraph a case, by ids alone, times on the clinic's clock."""
    return tuple(words for line in lines for words in _words(line, zone))


def _given(case: CaseState, slot: e.Instant, now: e.Instant) -> Iterator[Given]:
    dues = case.sheets[-1].event.dues if case.sheets else ()
    if not dues:
        yield Given("no page was released", None, None, None, None, False, ())
    for due in dues:
        at = given_at(case, due.injection)
        yield Given(
            medicine=f"{due.medicine} {due.dose}, {due.route}",
            due=due.at if now < due.at else None,
            at=at,
            to_slot=elapsed(at, slot) if at is not None else None,
            in_window=_in_window(due, at, slot) if at is not None else None,
            reported=bool(reports(case, due.injection)),
            remarks=_remarks(case, due.injection),
        )
    known = {due.injection for due in dues}
    for name in dict.fromkeys(one.event.injection for one in case.confirmations):
        if name not in known:
            at = given_at(case, name)
            to_slot = elapsed(at, slot) if at is not None else None
            yield Given(f"{name}, on no page that holds", None, at, to_slot, None, True, _remarks(case, name))


def _in_window(due: e.Due, at: e.Instant, slot: e.Instant) -> bool | None:
    """Whether it lies in the order's window, counted to the slot as it now is; None where the order has none of its own for it."""
    if due.leads is not None:
        least, most = due.leads
        return least <= elapsed(at, slot).minutes <= most
    if due.earliest is not None and due.latest is not None:
        return due.earliest <= at <= due.latest
    return None


def _remarks(case: CaseState, injection: str) -> tuple[str, ...]:
    last = reports(case, injection)[-1:]
    remarks = [f"amount: {one.event.amount}" for one in last if one.event.amount != ALL]
    remarks += [f"reported for {one.event.reported}" for one in last if one.event.instant is None]
    remarks += [DOUBTS.get(doubt, doubt) for one in last for doubt in one.event.doubts if doubt != "not-all"]
    return tuple(remarks)


def _words(line: Line, zone: Zone) -> Iterator[str]:
    yield f"{_clock(line.at, zone)}  {line.room or 'no room'}  case {line.case}  (slot {line.slot})"
    for one in line.given:
        if one.at is None and one.reported:
            yield f"    {one.medicine}: reported, the time is NOT KNOWN"
        elif one.at is None and one.due is not None:
            yield f"    {one.medicine}: due {_clock(one.due, zone)}"
        elif one.at is None:
            yield f"    {one.medicine}: time UNKNOWN, nobody has said that it was given or not"
        else:
            window = {True: "", False: ", OUTSIDE the order's window", None: ""}[one.in_window]
            yield f"    {one.medicine}: {_clock(one.at, zone)}, {one.to_slot} to the slot{window}"
        yield from (f"      {remark}" for remark in one.remarks)
    yield from (f"    told {told}" for told in line.told)
    yield from (f"    OPEN: {problem}" for problem in line.open)


def _clock(at: e.Instant, zone: Zone) -> str:
    return f"{moment_from_utc(at, zone).wall:%a %d %b %H:%M}"
