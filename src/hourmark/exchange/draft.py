"""The plain-text draft of one case's page: every line says one thing, in the same words each time, so that it can be checked back."""

from collections.abc import Iterator
from itertools import groupby

from hourmark.clock import Moment, clock_words, said
from hourmark.dose import Fill, How
from hourmark.exchange.answers import DRAFT
from hourmark.finding import Level
from hourmark.formulary import Barrel, Form, barrels
from hourmark.order import After
from hourmark.plan import CasePlan, NightPlan, PlannedInjection
from hourmark.quantity import number_text
from hourmark.quantity.words import dose_words

_ROUTES = {
    "subcutaneous": "subcutaneous (under the skin)",
    "intramuscular": "intramuscular (into the muscle)",
    "nasal": "nasal (into the nose)",
}

_EACH = {
    Form.POWDER: " in each vial",
    Form.SOLUTION: "",
    Form.SYRINGE: " in each syringe",
    Form.SPRAY: " in each spray",
    Form.DEPOT: "",
}


def draft_text(plan: CasePlan, night: NightPlan) -> str:
    """The draft for one case. A refused case gets no instruction at all; nothing here names another case."""
    return "\n".join(
        (
            DRAFT,
            "",
            f"Case {plan.case.id}",
            "",
            *(_refused(_number_now(night)) if plan.refused else _page(plan, night)),
            "",
            DRAFT,
            "",
        )
    )


def _refused(number: str | None) -> Iterator[str]:
    yield "No instruction can be drafted for this case yet. The clinic has something to settle first."
    yield "Do not mix or inject anything from this page. Call the clinic."
    if number:
        yield f"Number to call now: {number}"


def _number_now(night: NightPlan) -> str | None:
    return night.night.clinic.number_at(night.as_of.wall) if night.as_of else None


def _page(plan: CasePlan, night: NightPlan) -> Iterator[str]:
    if any(finding.level is Level.ASK for finding in plan.findings):
        yield "The clinic still has a question open for this page."
    who = f"{plan.case.helper} gives" if plan.case.helper else "You give"
    count = len(plan.injections)
    yield "Do not inject from this page. It counts only after the clinic has released it and read it out with you."
    yield f"{who} {count} medicine{'s' * (count != 1)}."
    if plan.together and plan.case.order.largest_gap:
        which = "Together" if len(plan.together[0]) == count else "Those on the same minute together"
        yield f"{which}, in this order, at most {plan.case.order.largest_gap} apart."
    seen: set[str] = set()
    for group in _minutes(_in_sequence(plan)):
        for place, one in group:
            yield ""
            yield from _injection(one, place, count, again=one.box is not None and one.box.product.id in seen)
            yield ""
            yield from _steps(one, "ready", f"GET READY {place} of {count}")
            if one.box is not None:
                seen.add(one.box.product.id)
        for place, one in group:
            yield ""
            yield from _steps(one, "give", f"GIVE {place} of {count}: {one.injection.drug.name}")
    yield ""
    yield from _around(plan)
    yield ""
    yield from _cautions(plan, night)
    yield ""
    yield from _small_print(plan, night)


def _in_sequence(plan: CasePlan) -> list[PlannedInjection]:
    """In time order; together ones in the ordered sequence."""
    sequence = {name: place for place, name in enumerate(plan.case.order.sequence)}
    return sorted(
        plan.injections,
        key=lambda one: (one.timed.patient.at if one.timed else None, sequence.get(one.injection.id, 0)),
    )


def _minutes(ones: list[PlannedInjection]) -> Iterator[list[tuple[int, PlannedInjection]]]:
    """The medicines with their places, those on one minute together: all are got ready before the first is given."""
    placed = enumerate(ones, 1)
    for _, group in groupby(placed, key=lambda entry: entry[1].timed.patient.utc if entry[1].timed else ""):
        yield list(group)


def _injection(one: PlannedInjection, place: int, count: int, *, again: bool) -> Iterator[str]:
    injection = one.injection
    assert one.timed is not None
    assert one.drawn is not None
    assert one.box is not None
    yield f"MEDICINE {place} of {count}: {injection.drug.name}"
    yield f"When: {said(one.timed.patient)}"
    yield f"Zone: {one.timed.patient.zone.name}"
    if isinstance(injection.timing, After):
        yield f"  This time holds only if the first is given on its minute. It is {injection.timing.gap} after the ACTUAL first: call with that time."
    if one.timed.clinic.wall != one.timed.patient.wall:
        yield f"  The clinic's clock then: {said(one.timed.clinic)}"
    yield f"Dose: {injection.dose} ({dose_words(injection.dose)})"
    yield f"Route: {_ROUTES[injection.route]}"
    yield f"Box: {one.box.product.name}"
    yield f"Strength: {one.box.strength}{_EACH[one.box.product.form]}"
    if again:
        yield "  Take a NEW one, never opened."
    if one.box.words:
        yield f'  Words on the box: "{one.box.words}"'
    if one.times.lay_out:
        yield f"Lay everything out: {_clock(one.times.lay_out)}"
    if one.times.mix_at and one.box.product.form in (Form.POWDER, Form.SOLUTION):
        what = "Start to mix" if one.box.product.form is Form.POWDER else "Start to draw up"
        yield f"{what}: {_clock(one.times.mix_at)}"
    yield from _vials(one)
    yield from _fills(one.drawn.fills, one.drawn.vials or 1)
    if one.drawn.left and one.box.product.form in (Form.POWDER, Form.SOLUTION):
        yield f"What stays in the vial: about {one.drawn.left}. That is right. Do not inject it."
        yield _afterwards(one)


def _steps(one: PlannedInjection, part: str, title: str) -> Iterator[str]:
    """The order of hands: the number of steps first, each with what is then seen; a warning directly before its step."""
    order = [step for step in one.steps if step.part == part]
    yield f"{title}, in {len(order)} step{'s' * (len(order) != 1)}:"
    for place, step in enumerate(order, 1):
        if step.warn:
            yield f"  ! {step.warn}"
        yield f"  {place}. {'CHECK: ' if step.check else ''}{step.do} -> {step.see}"


def _afterwards(one: PlannedInjection) -> str:
    if one.keep is None:
        return "Afterwards: keep the vial until the clinic has your report, then throw it away. Nothing in it is used again."
    return f"Afterwards: use nothing from the vial without a new order; it may be kept until {one.keep.last_date:%A} {one.keep.last_date.day} {one.keep.last_date:%B %Y}."


def _vials(one: PlannedInjection) -> Iterator[str]:
    assert one.drawn is not None
    vials = one.drawn.vials
    if vials is None:
        return
    if one.box is not None and (vials > 1 or one.box.product.form is Form.POWDER):
        yield f"Vials: {vials}"
    if one.diluent is not None and one.box is not None:
        kind = one.box.product.facts["diluent"].value
        yield f"Water: {one.diluent} of {kind} into {'the vial' if vials == 1 else 'each vial'}. Not more."
        if one.around.supplied and one.around.supplied > one.diluent:
            yield "  There is more water in its vial than you need. Throw the rest of the water away."


def _fills(fills: tuple[Fill, ...], vials: int) -> Iterator[str]:
    if len(fills) > 1:
        yield f"{len(fills)} injections: a new syringe and a different place on the body for each."
    for place, fill in enumerate(fills, 1):
        number = f" {place} of {len(fills)}" if len(fills) > 1 else ""
        match fill.how:
            case How.MARK:
                barrel = barrels()[fill.device]
                yield f"Syringe{number}: {_barrel(barrel)} (new)"
                yield f"  Stop at: {_mark(fill, barrel)}"
            case How.ALL:
                yield f"Syringe{number}: {_barrel(barrels()[fill.device])} (new)"
                where = "left" if place > 1 else "in the vial" if vials == 1 else f"in all {vials} vials"
                yield f"  Draw up everything that is {where}, about {fill.volume}. Inject all of it."
            case How.SYRINGE:
                yield f"Prefilled syringe{number}: inject all of it ({fill.volume})."
            case How.SPRAY:
                assert fill.sprays is not None
                yield f"Sprays: {fill.sprays}"


def _barrel(barrel: Barrel) -> str:
    if barrel.on_u100:
        step = barrel.mark(barrel.step)
        lines = f"lines every {step} mark{'s' * (step.value != 1)}"
        return f"{barrel.capacity} U-100 syringe, {lines}, largest number {number_text(barrel.mark(barrel.capacity).value)}"
    return f"{barrel.capacity} syringe, lines every {barrel.step}"


def _mark(fill: Fill, barrel: Barrel) -> str:
    return f"mark {fill.mark} ({fill.volume})" if barrel.on_u100 else f"{fill.mark} mL"


def _around(plan: CasePlan) -> Iterator[str]:
    if plan.slot_at is not None:
        kind = plan.slot.kind if plan.slot else "procedure"
        yield f"Planned {kind}: {said(plan.slot_at)}"
        yield f"Clinic's zone: {plan.slot_at.zone.name}"
    if plan.arrival is not None:
        yield f"Be there by: {said(plan.arrival)}"
    solids, clear = plan.fasting
    if solids is not None:
        yield f"No food after: {said(solids)}"
    if clear is not None:
        yield f"From then on only clear drinks such as water. Nothing at all to drink after: {said(clear)}"
    stop = ", ".join(plan.case.order.stop)
    yield f"Take no more of these, by the order: {stop}" if stop else "Nothing else is stopped by the order."


def _cautions(plan: CasePlan, night: NightPlan) -> Iterator[str]:
    yield "BEFORE you inject: strong lower belly pain, fast weight gain, vomiting or trouble breathing: do not inject yet. Call the clinic."
    yield "Severe symptoms: emergency services first."
    yield "Late, wrong or unsure: do not repeat and do not add a dose. Keep vials and boxes. What is in the sharps box stays there. Call the clinic."
    numbers = dict.fromkeys(
        night.night.clinic.number_at(one.timed.clinic.wall) for one in plan.injections if one.timed is not None
    )
    known = [number for number in numbers if number is not None]
    yield f"Number to call at that hour: {' or '.join(known) or 'written in by the clinic at release'}"


def _small_print(plan: CasePlan, night: NightPlan) -> Iterator[str]:
    order = plan.case.order
    yield f"Instruction derived from the order signed by {order.signed_by} at {order.signed_at} ({night.night.clinic.zone.name})."
    yield f"Planned as of {night.as_of.local if night.as_of else 'unknown'}; time data {night.time_data}."
    sources = dict.fromkeys(
        fact.cite()
        for one in plan.injections
        if one.box is not None
        for fact in (
            one.box.product.fact("content"),
            one.box.product.fact("concentration"),
            one.rule.words if one.rule else None,
        )
        if fact is not None
    )
    for source in sources:
        yield f"Source: {source}"
    yield "Follow the prescriber, the product label and local policy."


def _clock(at: Moment) -> str:
    return f"{at.wall:%A} {clock_words(at)}"
