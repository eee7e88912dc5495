"""The plan of a night with its recheck: every draft is worked back from its printed words before anybody sees it."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from hourmark.exchange.draft import draft_text
from hourmark.finding import worst_first
from hourmark.order import After, ClockTime, Injection, Lead, Night, Order
from hourmark.plan import CasePlan, NightPlan, plan_night
from hourmark.recheck import Facts, Ordered, TheatreSlot, recheck


def plan_checked(night: Night) -> NightPlan:
    """The night's plan; a case whose printed words do not work back to what its file says is stopped."""
    plan = plan_night(night)
    facts = _facts_by_case(plan)
    return replace(plan, cases=tuple(_checked(case, plan, facts[case.case.id]) for case in plan.cases))


def _checked(case: CasePlan, plan: NightPlan, facts: Facts) -> CasePlan:
    disagreements = recheck(draft_text(case, plan), facts) if not case.refused else ()
    if not disagreements:
        return case
    placed = (finding.at(f"case {case.case.id}") for finding in disagreements)
    return replace(case, findings=worst_first((*case.findings, *placed)))


def facts_of(case: CasePlan, plan: NightPlan) -> Facts:
    """What the file says of a case, in its own words, for the recheck."""
    return _facts_by_case(replace(plan, cases=(case,)))[case.case.id]


def _facts_by_case(plan: NightPlan) -> dict[str, Facts]:
    written = plan.night.written
    cases = {table["id"]: table for table in written.get("cases", ())}
    slots = {table["id"]: table for table in written.get("slots", ())}
    return {
        case.case.id: _facts(case, plan, cases.get(case.case.id, {}), slots.get(case.case.slot, {}))
        for case in plan.cases
    }


def _facts(case: CasePlan, plan: NightPlan, table: Mapping[str, Any], slot: Mapping[str, Any]) -> Facts:
    order = case.case.order
    raw = table.get("order", {}).get("injections") or [{}] * len(order.injections)
    return Facts(
        ordered=tuple(_ordered(injection, order, text) for injection, text in zip(order.injections, raw, strict=True)),
        zone=table.get("zone", case.case.zone.name),
        slot=_slot(case, plan, slot),
        syringes=tuple(syringe.barrel.id for syringe in case.case.kit.syringes),
    )


def _slot(case: CasePlan, plan: NightPlan, written: Mapping[str, Any]) -> TheatreSlot | None:
    if case.slot is None:
        return None
    at = case.slot.at
    return TheatreSlot(
        at=written.get("at", f"{at.local:%Y-%m-%d %H:%M}").removesuffix(" first").removesuffix(" second"),
        which=written.get("which", at.which),
        zone=plan.night.written.get("clinic", {}).get("zone", plan.night.clinic.zone.name),
    )


def _ordered(injection: Injection, order: Order, written: Mapping[str, Any]) -> Ordered:
    """The injection as the file words it; where there is no file, as the program words it."""
    drug, dose, route = injection.drug.name, written.get("dose", str(injection.dose)), injection.route
    match injection.timing:
        case Lead(lead, _):
            return Ordered(drug, dose, route, lead=written.get("lead", str(lead)))
        case ClockTime(at, _):
            return Ordered(
                drug, dose, route, clock=written.get("at", f"{at.local:%Y-%m-%d %H:%M}")[: len("2026-11-18 21:30")]
            )
        case After(first, gap, _):
            place = [one.id for one in order.injections].index(first)
            return Ordered(drug, dose, route, after=(place, written.get("after", {}).get("gap", str(gap))))
