"""What a report of trouble comes to, from the case's own plan: the answer, and what of each injection went in by it."""

from collections.abc import Iterator
from dataclasses import replace

from hourmark.case import events as e
from hourmark.case.day import RulesState
from hourmark.case.events import ALL
from hourmark.case.injections import TO_ASK, given_at, reports
from hourmark.case.results import InFact
from hourmark.case.state import CaseState
from hourmark.case.trouble import Report, last_words, reports_of, same_call
from hourmark.clock import Moment, moment_from_utc, parse_zone
from hourmark.desk.made import Planned, plan_of
from hourmark.incident import Answer, Earlier, Facts, Kind, Leg, answer, is_another, limits_of
from hourmark.incident.judged import open_reason
from hourmark.plan import CasePlan
from hourmark.quantity import Dose, parse_dose


def answer_to(state: CaseState, planned: Planned, report: Report, said: Facts, now: e.Instant) -> Answer:
    """The answer as of now. A time that had not come yet when it was reported stays one that is asked again."""
    zone = parse_zone(str(planned.night.night.clinic.zone.name))
    limits = limits_of(planned.night.night.clinic.rules)
    holds = bool(state.sheets) and state.sheets[-1].voided is None
    if said.all is True and not holds:
        said = replace(said, all=None, unknown=said.unknown | {"all"})
    times, doses = _given_times(state, planned), _reported_doses(state)
    case, earlier = _by_her_clock(state, planned, report), tuple(_earlier(state, report))

    def as_of(at: e.Instant) -> Answer:
        return answer(case, Kind(report.kind), said, limits, moment_from_utc(at, zone), times, doses, earlier)

    then = as_of(_first_said(state, report))
    found = then if any(one.code == "trouble-time-future" for one in then.findings) else as_of(now)
    if not holds and not found.emergency:
        why = open_reason("No released page holds: nothing is injected before a new one is released and read back.")
        found = replace(found, decides=max(found.decides, why.who), reasons=(why, *found.reasons))
    unread = {f"{one.key}: asked, and she cannot say": f"{one.key}: what she said cannot be read" for one in said.again}
    if not holds:
        unread["all: asked, and she cannot say"] = "all: no released page holds by which it could have been all"
    return replace(found, not_known=tuple(unread.get(words, words) for words in found.not_known))


def _first_said(state: CaseState, report: Report) -> e.Instant:
    """When the time of a report was said first in its call."""
    call = [one for one in same_call(state, report) if one.kept.seq <= report.kept.seq]
    return next(one.kept.at for one in call if one.said.get("at") == report.said.get("at"))


def _by_her_clock(state: CaseState, planned: Planned, report: Report) -> CasePlan:
    """Her plan by the clock by which the time of this report was asked for and kept, whatever her zone is said to be since."""
    # What it says went in stands in the entry before it, as one act with it; more of the same call does not say it a second time.
    kept = {(one.kept.seq - 1, one.kept.at) for one in same_call(state, report) if one.kept.seq <= report.kept.seq}
    mine = (one for one in state.confirmations if (one.seq, one.at) in kept)
    zones = [parse_zone(one.event.zone) for one in mine if "at" in report.said]
    case = planned.case
    return replace(case, case=replace(case.case, zone=zones[-1])) if zones else case


def _earlier(state: CaseState, report: Report) -> Iterator[Earlier]:
    """The calls before this one, each by its last words."""
    call = same_call(state, report)
    for one in last_words(state):
        before = one.kept.seq < report.kept.seq and one not in call
        if before and not one.danger and (facts := one.facts) is not None:
            yield Earlier(Kind(one.kind), facts)


def _reported_doses(state: CaseState) -> dict[str, Dose]:
    """The doses of her injections of which all is reported to have gone in, as her page has them."""
    last = {one.event.injection: one.event for one in state.confirmations}
    dues = state.sheets[-1].event.dues if state.sheets else ()
    whole = (due for due in dues if due.injection in last and last[due.injection].amount == ALL)
    return {due.injection: parse_dose(due.dose) for due in whole if not set(last[due.injection].doubts) & set(TO_ASK)}


def _given_times(state: CaseState, planned: Planned) -> dict[str, Moment]:
    """The confirmed times of her injections, on her clock."""
    zone = planned.case.case.zone
    names = [one.injection.id for one in planned.case.injections]
    reported = {one.event.injection: one.event for one in state.confirmations}
    return {
        name: moment_from_utc(at, zone)
        for name in names
        if (at := given_at(state, name)) is not None and "time-future" not in reported[name].doubts
    }


# What went in by it


def in_fact_of(state: CaseState, rules: RulesState, now: e.Instant) -> dict[str, InFact]:
    """What went in by the reports of trouble, and nobody has said anything else of that injection since; what is not known is said so."""
    reported = [one for one in last_words(state) if one.facts is not None and not one.danger]
    planned = plan_of(state, rules, now) if reported else ()
    if not isinstance(planned, Planned):
        return {}
    found: dict[str, InFact] = {}
    routes = _routes(state, reported)
    for report in reported:
        facts = report.facts
        assert facts is not None
        said = answer_to(state, planned, report, facts, now)
        doubted = any(one.code == "trouble-contradicts" and one.where != "open" for one in said.findings)
        for leg in said.legs:
            name, mine = leg.injection.id, leg.injection.id == report.kept.event.injection
            if not mine and (leg.given is None or report.kind != Kind.ONE_OF_TWO):
                continue
            found.pop(name, None)
            if any(one.seq > report.kept.seq for one in reports(state, name)):
                continue
            if (known := _in_fact(Kind(report.kind), facts, leg, mine=mine, doubted=doubted)) is not None:
                found[name] = known
    for name, route in routes.items():
        known = found.get(name, InFact(None))
        if known.dose is None or known.dose.value:
            found[name] = InFact(None) if route is None or known.dose is None else replace(known, route=route)
    return found


def _routes(state: CaseState, reported: list[Report]) -> dict[str, str | None]:
    """By which route each injection went in that was said to have gone in by one; None where she cannot say which it was.

    Another trouble with the same injection leaves that as it was; a report that it was given as on her page ends it.
    """
    by_trouble = {one.kept.seq - 1 for one in reports_of(state)}
    found: dict[str, str | None] = {}
    for report in reported:
        name, facts = report.kept.event.injection, report.facts
        if name is None or facts is None or (facts.route is None and report.kind != Kind.WRONG_ROUTE):
            continue
        since = (one.seq for one in reports(state, name) if one.seq > report.kept.seq)
        if all(seq in by_trouble for seq in since):
            found[name] = facts.route
    return found


_NEVER_WENT_IN = (Kind.MISSED, Kind.WATER_ONLY, Kind.ONE_OF_TWO)
"""Troubles that say of themselves that nothing of it went in; in any other that it has not yet says nothing of what came after."""


def _leaves_open(kind: Kind, facts: Facts) -> bool:
    """Whether a trouble without a dose leaves open what went in, whatever the report of the injection itself says."""
    return kind in (Kind.WRONG_PRODUCT, Kind.REPEATED) or (kind is Kind.OTHER_DRUG and facts.instead is not False)


def _in_fact(kind: Kind, facts: Facts, leg: Leg, *, mine: bool, doubted: bool) -> InFact | None:
    """One injection by one report; None where the report of the injection itself says as much."""
    if mine and doubted:
        return InFact(None)
    if mine and facts.injected is False and kind not in _NEVER_WENT_IN:
        return None
    if leg.given is None:
        return InFact(None) if mine and _leaves_open(kind, facts) else None
    if leg.given.least != leg.given.most:
        return None
    return InFact(leg.given.least, instead=mine and is_another(kind, facts, leg.injection))
