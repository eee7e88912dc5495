"""What a case becomes when it is planned: its sheet, what it rests on, what keeps it from being released, and the answers to check."""

import hashlib
from collections import OrderedDict
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from hourmark.case import events as e
from hourmark.case.day import RulesState
from hourmark.case.events import NONE
from hourmark.case.injections import standings
from hourmark.case.rests import rests_on
from hourmark.case.sheets import Made, checked_by, next_version, told
from hourmark.case.state import CaseState
from hourmark.clock import Moment, moment, moment_from_utc, parse_zone, said
from hourmark.dose import Drawn, Fill
from hourmark.exchange import night_from_table, plan_checked
from hourmark.finding import Finding, Level, worst_first
from hourmark.formulary import barrels
from hourmark.handout import Released, Sheet, patient_sheet, sheet_text
from hourmark.handout.staff import take
from hourmark.order import After, ClockTime, Lead
from hourmark.plan import CasePlan, NightPlan, PlannedInjection, band_name
from hourmark.quantity import Volume

_KEEPS_A_DRAFT = ("language-unsigned", "rests-on-unread")
"""Findings that stop nothing but a release."""


@dataclass(frozen=True, slots=True)
class Planned:
    """One case planned: the plan behind its page, the page as a draft, and what is made of both; `findings` as they are now."""

    case: CasePlan
    night: NightPlan
    sheet: Sheet
    made: Made
    readings: tuple[e.Reading, ...]
    to_read_back: dict[str, str]
    findings: tuple[Finding, ...]


def plan_of(state: CaseState, rules: RulesState, now: e.Instant) -> Planned | tuple[Finding, ...]:
    """The case as it now is; why it has no plan, where slot, order or kit is missing or cannot be read.

    The page is made as of the last change of what it says, so that it stays the same until something changes; carton checks change
    nothing on it. What keeps it from being released is judged at `now`.
    """
    if missing := tuple(_missing(state, rules)):
        return missing
    page, today = _as_of_its_change(state, rules), _night(state, rules, now)
    if not isinstance(page, NightPlan) or not isinstance(today, NightPlan):
        return page if not isinstance(page, NightPlan) else today if not isinstance(today, NightPlan) else ()
    if not page.cases or not today.cases:
        return (*page.findings, *today.findings)
    case = page.cases[0]
    order = case.case.order
    rests = rests_on(state, rules.clinic, sorted({band_name(one, order) for one in order.injections}))
    # While a sheet holds, the page is the one that she has, with its words; otherwise it is the next.
    out = state.sheet if state.sheet is not None and state.sheet.event.rests_on == rests else None
    version = out.event.version if out is not None else next_version(state)
    earlier = [one.event.check_word for one in state.sheets if one is not out]
    sheet = patient_sheet(case, page, version=version, earlier=earlier)
    judged = _as_of_now(_without_cartons(case.findings), today.cases[0].findings)
    if out is None:
        judged = worst_first((*judged, *_spoken_of(state, case, now)))
    check_word = out.event.check_word if out is not None else sheet.check_word
    if told(state, rests, check_word):
        judged = tuple(one for one in judged if one.code != "tell-by-past")
    made = Made(
        check_word=check_word,
        dues=() if case.refused else tuple(_due(one, case) for one in case.injections),
        pages=(),
        rests_on=rests,
        blocks=tuple(one for one in judged if one.level is Level.STOP or one.code in _KEEPS_A_DRAFT),
        open_questions=tuple(
            dict.fromkeys(one.code for one in judged if one.level is Level.ASK and one.code not in _KEEPS_A_DRAFT)
        ),
        time_data=page.time_data,
    )
    readings = () if case.refused else tuple(map(_reading, case.injections))
    said = {} if case.refused else dict(_to_read_back(case))
    return Planned(case, page, sheet, made, readings, said, judged)


_PAGES: OrderedDict[tuple[int, int], tuple[CaseState, RulesState, NightPlan | tuple[Finding, ...]]] = OrderedDict()
_MOST_PAGES = 128


def _as_of_its_change(state: CaseState, rules: RulesState) -> NightPlan | tuple[Finding, ...]:
    """The case planned as of the last change of what its page says: as long as neither state nor rules are other ones, it is not done anew.

    The states stand beside the plan, so that no other can come to have their place in memory.
    """
    key = (id(state), id(rules))
    if (known := _PAGES.get(key)) is None:
        page = _night(replace(state, cartons=()), rules, max(state.changed_at, rules.changed_at))
        known = _PAGES[key] = (state, rules, page)
        if len(_PAGES) > _MOST_PAGES:
            _PAGES.popitem(last=False)
    return known[2]


def printed(planned: Planned, state: CaseState, rules: RulesState, by: str, now: e.Instant) -> dict[str, bytes]:
    """The very pages of a released sheet, each read back. Raises PageRefused where one may not be given out."""
    from hourmark.exchange.prints import released_pages

    at = moment_from_utc(now, parse_zone(str(rules.clinic["zone"])))
    earlier = [sheet.event.check_word for sheet in state.sheets]
    released = Released(by, f"{at.wall:%Y-%m-%d %H:%M}", checked_by(state, planned.made.rests_on))
    sheet = patient_sheet(planned.case, planned.night, version=next_version(state), earlier=earlier, released=released)
    return {"sheet.txt": sheet_text(sheet).encode(), **released_pages(planned.case, planned.night, sheet, at.instant)}


def page_facts(pages: dict[str, bytes], last: int) -> tuple[e.Page, ...]:
    """Each page by its name, its number in the stream of pages after the `last` one there, and its digest."""
    return tuple(
        e.Page(name, number, hashlib.sha256(content).hexdigest())
        for number, (name, content) in enumerate(pages.items(), last + 1)
    )


def _spoken_of(state: CaseState, case: CasePlan, now: e.Instant) -> Iterator[Finding]:
    """What is known, or passed in silence, of an injection that the page to be released has again: it could be given twice."""
    planned = {one.injection.id for one in case.injections}
    for one in standings(state):
        if one.due.injection not in planned:
            continue
        was = f"{one.due.injection} of page {one.sheet.event.version}, {one.due.medicine} {one.due.dose},"
        if one.reports and one.reports[-1].event.amount != NONE:
            said = one.reports[-1].event
            yield _twice("injection-reported", f"{was} was reported for {said.reported}, amount: {said.amount}.")
        elif one.silent and one.due.at <= now:
            yield _twice("injection-silent", f"{was} was due, and nobody has said whether it was given.")


def _twice(code: str, what: str) -> Finding:
    return Finding(
        code,
        Level.ASK,
        what,
        "Ask her, record what she says, and ask the prescriber whether it is to be given by the new page.",
        limit="nothing is given twice by mistake",
        source="hourmark's own rule",
    )


def _missing(state: CaseState, rules: RulesState) -> Iterator[Finding]:
    wanted = {
        "the clinic's signed rules": rules.clinic if rules.version else None,
        "an order": state.order,
        "a kit": state.kit,
    }
    absent = [name for name, there in wanted.items() if there is None]
    if absent:
        yield Finding(
            "case-incomplete",
            Level.STOP,
            f"Case {state.id} has no plan yet: {' and '.join(absent)} not on the record.",
            "Record what is missing.",
            f"case {state.id}",
            "a plan is made of order, kit and slot",
            "hourmark's own rule",
        )


def _night(state: CaseState, rules: RulesState, at: e.Instant) -> NightPlan | tuple[Finding, ...]:
    night = night_from_table(_night_table(state, rules, at))
    return plan_checked(night) if not isinstance(night, tuple) else night


def _night_table(state: CaseState, rules: RulesState, at: e.Instant) -> dict[str, Any]:
    """The case alone, as a night file would hold it at that moment."""
    assert state.order is not None
    assert state.kit is not None
    case: dict[str, Any] = {
        "id": state.id,
        **state.details,
        "order": state.order.event.order,
        "kit": _kit_with_checks(state, rules),
    }
    if state.slot is not None:
        case["slot"] = state.slot.slot["id"]
    return {
        "schema": 1,
        "as_of": _clinic_time(at, rules),
        "clinic": rules.clinic,
        "slots": [state.slot.slot] if state.slot is not None else [],
        "cases": [case],
    }


def _kit_with_checks(state: CaseState, rules: RulesState) -> dict[str, Any]:
    """The kit with the carton checks recorded since it was read."""
    kit: dict[str, Any] = dict(state.kit.kit) if state.kit else {}
    checks = {
        one.event.product: {"by": list(one.event.readers), "at": _clinic_time(one.at, rules)} for one in state.cartons
    }
    kit["products"] = [
        box | ({"carton_check": checks[box["product"]]} if box["product"] in checks else {}) for box in kit["products"]
    ]
    return kit


def _clinic_time(at: e.Instant, rules: RulesState) -> str:
    """The clinic's clock time of an instant, as a night file writes it."""
    here = moment_from_utc(at, parse_zone(str(rules.clinic["zone"])))
    return f"{here.wall:%Y-%m-%d %H:%M}" + (f" {here.which}" if here.which else "")


def _due(one: PlannedInjection, case: CasePlan) -> e.Due:
    assert one.timed is not None
    earliest, latest = _window(one, case)
    return e.Due(
        injection=one.injection.id,
        medicine=one.injection.drug.name,
        dose=str(one.injection.dose),
        route=one.injection.route,
        take=take(one),
        at=one.timed.patient.utc,
        zone=one.timed.patient.zone.name,
        said=said(one.timed.patient),
        tell_by=_utc(one.times.tell_by),
        mix_at=_utc(one.times.mix_at),
        earliest=_utc(earliest),
        latest=_utc(latest),
        leads=_leads(one),
        holds=_holds(one),
        follows=_follows(one),
    )


def _follows(one: PlannedInjection) -> e.Follows | None:
    match one.injection.timing:
        case After(first, gap, window):
            least, most = (window[0].minutes, window[1].minutes) if window is not None else (None, None)
            return e.Follows(first, gap.minutes, least, most)
        case _:
            return None


def _holds(one: PlannedInjection) -> str | None:
    """What its syringes hold together; None where no syringe is filled to a mark."""
    assert one.drawn is not None
    known = barrels()
    held = [known[fill.device].capacity for fill in one.drawn.fills if fill.device in known]
    return str(Volume(sum((one.value for one in held), Fraction(0)))) if held else None


def _window(one: PlannedInjection, case: CasePlan) -> tuple[Moment | None, Moment | None]:
    """The first and the last moment that the order allows; None where they follow from another injection's actual time."""
    assert one.timed is not None
    match one.injection.timing:
        case Lead(_, (least, most)) if case.slot_at is not None:
            return case.slot_at.before(most), case.slot_at.before(least)
        case ClockTime(_, (first, last)):
            found = (moment(bound, one.timed.patient.zone) for bound in (first, last))
            earliest, latest = (None if isinstance(bound, Finding) else bound for bound in found)
            return earliest, latest
        case _:
            return None, None


def _leads(one: PlannedInjection) -> tuple[int, int] | None:
    """The least and the most minutes before the slot that the order allows."""
    match one.injection.timing:
        case Lead(_, (least, most)):
            return least.minutes, most.minutes
        case _:
            return None


def _as_of_now(page: tuple[Finding, ...], now: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """What is to be said now, and of the page whatever is not said already."""
    codes = {one.code for one in now}
    return worst_first((*now, *(one for one in page if one.code not in codes)))


def _without_cartons(findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """What the page's own plan says, but for cartons: they are looked at as they are now."""
    return tuple(one for one in findings if one.code != "rests-on-unread")


def _utc(at: Moment | None) -> e.Instant | None:
    return at.utc if at is not None else None


def _reading(one: PlannedInjection) -> e.Reading:
    assert one.timed is not None
    assert one.drawn is not None
    return e.Reading(one.injection.id, one.timed.patient.utc, tuple(map(_fill, one.drawn.fills)))


def _fill(fill: Fill) -> tuple[str, str]:
    volume = str(fill.volume) if fill.volume is not None else ""
    return volume, str(fill.mark if fill.mark is not None else fill.sprays if fill.sprays is not None else fill.how)


def _to_read_back(case: CasePlan) -> Iterator[tuple[str, str]]:
    """What she repeats of each injection: day and clock time, dose, water, and what to take; then what she stops, one by one."""
    for one in case.injections:
        assert one.timed is not None
        at, name = one.timed.patient, one.injection.id
        yield f"{name} day", f"{at.wall:%A}"
        yield f"{name} time", f"{at.wall:%H:%M}" + (f" {at.which}" if at.which else "")
        yield f"{name} dose", str(one.injection.dose)
        if one.diluent is not None:
            yield f"{name} water", str(one.diluent)
        yield _taken(name, one.drawn)
    yield from ((f"stop {place}", what) for place, what in enumerate(case.case.order.stop, 1))


def _taken(name: str, drawn: Drawn | None) -> tuple[str, str]:
    """What is taken, under a name for just that: a mark or sprays only where it has some, else that all of it goes in."""
    assert drawn is not None
    fills = drawn.fills
    if all(fill.mark is not None for fill in fills):
        return f"{name} mark", " and ".join(str(fill.mark) for fill in fills)
    if all(fill.sprays is not None for fill in fills):
        return f"{name} sprays", " and ".join(str(fill.sprays) for fill in fills)
    return f"{name} amount", "all" if len(fills) == 1 else f"all of {len(fills)}"
