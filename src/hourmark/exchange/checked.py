"""The plan of a night with its recheck: every page is worked back from its printed words before anybody sees it."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from hourmark.finding import Finding, worst_first
from hourmark.handout import Sheet, patient_sheet, sheet_text
from hourmark.order import After, ClockTime, Injection, Lead, Night, Order
from hourmark.plan import CasePlan, NightPlan, PlannedInjection, plan_night
from hourmark.recheck import Facts, Ordered, TheatreSlot, recheck


def plan_checked(night: Night) -> NightPlan:
    """The night's plan; a case whose printed words do not work back to what its file says is stopped."""
    plan = plan_night(night)
    facts = _facts_by_case(plan)
    return replace(plan, cases=tuple(_checked(case, plan, facts[case.case.id]) for case in plan.cases))


def _checked(case: CasePlan, plan: NightPlan, facts: Facts) -> CasePlan:
    if case.refused:
        return case
    page = patient_sheet(case, plan)
    disagreements = recheck(sheet_text(page), facts, page.language)
    if not disagreements:
        return case
    placed = (finding.at(f"case {case.case.id}") for finding in disagreements)
    return replace(case, findings=worst_first((*case.findings, *placed)))


def page_rechecked(page: Sheet, words: str, case: CasePlan, plan: NightPlan) -> tuple[Finding, ...]:
    """Every disagreement of a finished page's words, as read back from it, with what the file says of the case."""
    return tuple(finding.at(f"case {case.case.id}") for finding in recheck(words, facts_of(case, plan), page.language))


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
    order, clinic = case.case.order, plan.night.written.get("clinic", {})
    raw = table.get("order", {}).get("injections") or [{}] * len(order.injections)
    rules, kit = clinic.get("rules", {}), table.get("kit", {})
    planned = {one.injection.id: one for one in case.injections}
    return Facts(
        ordered=tuple(
            _ordered(injection, order, text, _technique(rules.get("technique", {}), planned.get(injection.id)))
            for injection, text in zip(order.injections, raw, strict=True)
        ),
        zone=table.get("zone", case.case.zone.name),
        slot=_slot(case, plan, slot),
        syringes=tuple(syringe.barrel.id for syringe in case.case.kit.syringes),
        needles=tuple(
            (str(needle["gauge"]), str(needle["length"]).removesuffix(" mm")) for needle in kit.get("needles", ())
        ),
        words=tuple(box["words"] for box in kit.get("products", ()) if "words" in box),
        lay_out=rules.get("lay_out"),
        mixing=rules.get("mixing"),
        largest_gap=table.get("order", {}).get("largest_gap"),
        phones=tuple(phone["number"] for phone in clinic.get("phones", ())),
    )


_SIGNED = {"dissolve": "dissolve_seconds", "wait": "wait_seconds", "drying": "drying_seconds"}


def _technique(signed: Mapping[str, Any], one: PlannedInjection | None) -> dict[str, str]:
    """The figures of the technique by name: the label's where the box has it, else the signed one."""
    figures = {name: str(signed[key]) for name, key in _SIGNED.items() if key in signed}
    if one is not None and one.box is not None:
        for name in ("dissolve", "wait", "pumps", "tilt", "angle", "site"):
            if (fact := one.box.product.fact(f"technique-{name}")) is not None:
                figures[name] = str(fact.value)
    return figures


def _slot(case: CasePlan, plan: NightPlan, written: Mapping[str, Any]) -> TheatreSlot | None:
    if case.slot is None:
        return None
    at = case.slot.at
    return TheatreSlot(
        at=written.get("at", f"{at.local:%Y-%m-%d %H:%M}").removesuffix(" first").removesuffix(" second"),
        which=written.get("which", at.which),
        zone=plan.night.written.get("clinic", {}).get("zone", plan.night.clinic.zone.name),
    )


def _ordered(injection: Injection, order: Order, written: Mapping[str, Any], technique: Mapping[str, str]) -> Ordered:
    """The injection as the file words it; where there is no file, as the program words it."""
    drug, dose, route = injection.drug.name, written.get("dose", str(injection.dose)), injection.route
    match injection.timing:
        case Lead(lead, _):
            return Ordered(drug, dose, route, lead=written.get("lead", str(lead)), technique=technique)
        case ClockTime(at, _):
            return Ordered(
                drug,
                dose,
                route,
                clock=written.get("at", f"{at.local:%Y-%m-%d %H:%M}")[: len("2026-11-18 21:30")],
                technique=technique,
            )
        case After(first, gap, _):
            place = [one.id for one in order.injections].index(first)
            return Ordered(
                drug, dose, route, after=(place, written.get("after", {}).get("gap", str(gap))), technique=technique
            )
