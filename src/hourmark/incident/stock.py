"""What is still unopened at home, counted from the kit."""

from collections.abc import Iterator

from hourmark.dose import How
from hourmark.incident.facts import Count, Facts
from hourmark.incident.kinds import Kind
from hourmark.incident.leg import Spare
from hourmark.plan import CasePlan, PlannedInjection

_MAY_BE_UNOPENED = (Kind.MISSED, Kind.WRONG_PRODUCT, Kind.OTHER_DRUG, Kind.LATE, Kind.STORAGE)
"""Kinds in which the planned box may not have been opened at all."""


def spare(plan: CasePlan, one: PlannedInjection, kind: Kind, facts: Facts) -> tuple[Spare, ...]:
    """Unopened boxes of this drug, and the water and syringes that go with it; what the other injections need is not taken off."""
    return (*_boxes(plan, one, kind, facts), *_beside(plan, one, kind, facts))


def _used(one: PlannedInjection, kind: Kind, facts: Facts) -> tuple[int, int]:
    """How many boxes, water containers and syringes this injection took, least and most."""
    if one.drawn is None:
        each = 1
    else:
        devices = len([fill for fill in one.drawn.fills if fill.how is How.SYRINGE])
        each = one.drawn.vials or devices or 1
    times = facts.times or Count(1, 1)
    untouched = kind is Kind.WRONG_PRODUCT or (kind in _MAY_BE_UNOPENED and facts.at is None)
    least = 0 if untouched else each * times.least
    return least, each * times.most


def _boxes(plan: CasePlan, one: PlannedInjection, kind: Kind, facts: Facts) -> Iterator[Spare]:
    planned = one.box.product.id if one.box else None
    used = (facts.opened.least, facts.opened.most) if facts.opened else _used(one, kind, facts)
    seen: set[str] = set()
    for box in plan.case.kit.products:
        product = box.product
        if product.drug != one.injection.drug.name or product.id in seen:
            continue
        seen.add(product.id)
        count = sum(held.count for held in plan.case.kit.products if held.product.id == product.id)
        least, most = used if product.id == planned else (0, 0)
        yield Spare(f"{product.name} ({product.id})", box.strength, max(count - most, 0), max(count - least, 0))


def _beside(plan: CasePlan, one: PlannedInjection, kind: Kind, facts: Facts) -> Iterator[Spare]:
    least, most = _used(one, kind, facts)
    kit = plan.case.kit
    if one.diluent is not None and one.box is not None:
        wanted = one.box.product.facts["diluent"].value
        count = sum(held.count for held in kit.diluents if held.kind == wanted)
        yield Spare(f"container of {wanted}", None, max(count - most, 0), max(count - least, 0))
    fills = list(one.drawn.in_barrels) if one.drawn else []
    if fills:
        device = fills[0].device
        count = sum(held.count for held in kit.syringes if held.barrel.id == device)
        times = facts.times or Count(1, 1)
        least = 0 if not least else len(fills) * times.least
        yield Spare(f"new syringe {device}", None, max(count - len(fills) * times.most, 0), max(count - least, 0))
