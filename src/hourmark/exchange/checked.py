"""The plan of a night with its recheck: every draft is worked back from its printed words before anybody sees it."""

from dataclasses import replace

from hourmark.exchange.draft import draft_text
from hourmark.finding import Finding, worst_first
from hourmark.order import After, ClockTime, Injection, Lead, Night, Order
from hourmark.plan import CasePlan, NightPlan, plan_night
from hourmark.recheck import Ordered, recheck


def plan_checked(night: Night) -> NightPlan:
    """The night's plan; a case whose printed words do not work back to its order and slot is stopped."""
    plan = plan_night(night)
    return replace(plan, cases=tuple(_checked(case, plan) for case in plan.cases))


def _checked(case: CasePlan, plan: NightPlan) -> CasePlan:
    disagreements = recheck_case(case, draft_text(case, plan)) if not case.refused else ()
    if not disagreements:
        return case
    placed = (finding.at(f"case {case.case.id}") for finding in disagreements)
    return replace(case, findings=worst_first((*case.findings, *placed)))


def recheck_case(case: CasePlan, page: str) -> tuple[Finding, ...]:
    """What disagrees between a page's printed words and the case's order and slot."""
    order = case.case.order
    ordered = [_ordered(injection, order) for injection in order.injections]
    return recheck(page, ordered, case.slot_at.utc if case.slot_at else None)


def _ordered(injection: Injection, order: Order) -> Ordered:
    said = (injection.drug.name, str(injection.dose), injection.route)
    match injection.timing:
        case Lead(lead, _):
            return Ordered(*said, lead_minutes=lead.minutes)
        case ClockTime(at, _):
            return Ordered(*said, clock=f"{at.local:%Y-%m-%d %H:%M}")
        case After(first, gap, _):
            place = [one.id for one in order.injections].index(first)
            return Ordered(*said, after=(place, gap.minutes))
