"""What the nurse has before her of an invented case: slot, order and kit, without the minute and the mark that she is asked for."""

from collections.abc import Iterator

from hourmark.clock import Span
from hourmark.drill.scenes import case_plan, plan_around
from hourmark.order import After, ClockTime, Injection, Kit, Lead, Rules
from hourmark.plan import CasePlan


def card(case_id: str) -> tuple[str, ...]:
    """The lines of a case's card."""
    night = plan_around(case_id)
    return (*_lines(case_plan(case_id), night.night.clinic.zone.name), *_rules(night.night.clinic.rules))


def _lines(plan: CasePlan, clinic_zone: str) -> Iterator[str]:
    if plan.slot is not None:
        yield f"Slot {plan.slot.at} on the clinic's clock ({clinic_zone}); she is in {plan.case.zone.name}."
    for one in plan.injections:
        yield f"{one.injection.id}: {_ordered(one.injection)}"
        if one.box is not None and one.diluent is not None:
            yield f"  water into each {one.box.product.name}: {one.diluent}, by the {one.diluent_by}"
    if plan.case.order.largest_gap is not None:
        sequence = " then ".join(plan.case.order.sequence)
        yield f"Sequence: {sequence}, at most {plan.case.order.largest_gap} between them."
    yield f"At home: {'; '.join(_kit(plan.case.kit))}."


def _rules(rules: Rules | None) -> Iterator[str]:
    if rules is None:
        return
    if rules.fasting_solids is not None and rules.fasting_clear is not None:
        yield f"Signed: food ends {rules.fasting_solids}, clear drinks {rules.fasting_clear} before the slot."
    if (band := rules.bands.standard) is not None:
        limits = (("silent", band.ok), ("noted", band.note), ("prescriber confirms", band.warn))
        yield f"Signed leads: {'; '.join(f'{name} {ends[0]} to {ends[1]}' for name, ends in limits)}."


def _ordered(injection: Injection) -> str:
    return f"{injection.drug_as_written} {injection.dose}, {injection.route}, {_timing(injection)}"


def _timing(injection: Injection) -> str:
    match injection.timing:
        case Lead(lead, window):
            return f"{lead} before the slot{_window(window)}"
        case After(first, gap, window):
            return f"{gap} after the actual {first}{_window(window)}"
        case ClockTime(at, _):
            return f"at {at}"


def _window(window: tuple[Span, Span] | None) -> str:
    return f" (window {window[0]} to {window[1]})" if window else ""


def _kit(kit: Kit) -> Iterator[str]:
    for box in kit.products:
        yield f"{box.count} x {box.product.name}"
    for water in kit.diluents:
        yield f"{water.count} x {water.volume} of {water.kind}"
    for held in kit.syringes:
        yield f"{held.count} x syringe {held.barrel.id}"
