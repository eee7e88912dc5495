"""One case: its order, kit and slot become planned injections with every finding at once."""

import datetime as dt
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from hourmark.clock import Moment, WallTime, moment
from hourmark.dose import (
    Around,
    Drawn,
    How,
    Limits,
    Misstep,
    OtherMedicine,
    Source,
    Spray,
    Syringe,
    Vial,
    draw,
    missteps,
    mix,
    proposed_limits,
)
from hourmark.dose.steps import steps
from hourmark.finding import Finding, Level, worst_first
from hourmark.formulary import Barrel, Form, LabelRule, other_strengths
from hourmark.order import Case, Clinic, Injection, Kit, KitProduct, MixRule, Purpose, Rules, Slot
from hourmark.order.clinic import SlotKind
from hourmark.plan import match
from hourmark.plan.kit import all_fixed, barrels_at_home, kit_left, needle_fixed, shared_kit, short_of, syringe_findings
from hourmark.plan.languages import signed_for_use
from hourmark.plan.mixes import (
    MixRow,
    allowed_by,
    contradicting,
    mix_table,
    part_allowed,
    searched,
    ways_on_a_line,
    worst_missteps,
)
from hourmark.plan.planned import CasePlan, PlannedInjection, Times
from hourmark.plan.questions import phone_questions, safety_questions
from hourmark.plan.storage import Keep, keep_until
from hourmark.plan.technique import taking_of, technique_findings
from hourmark.plan.timing import Timed, time_injections, timing_findings, timing_working, together
from hourmark.quantity import Concentration, Dose, Volume, divide


@dataclass(frozen=True, slots=True)
class _Prepared:
    """One injection's box, liquid and draw, before the case is looked at as a whole."""

    box: KitProduct | None = None
    rule: LabelRule | None = None
    diluent: Volume | None = None
    diluent_by: str = ""
    vials: int = 1
    source: Source | None = None
    drawn: Drawn | None = None
    mixes: tuple[MixRow, ...] = ()
    findings: tuple[Finding, ...] = ()


def plan_case(case: Case, clinic: Clinic, slot: Slot | None, as_of: Moment) -> CasePlan:
    """The plan of one case as it stands at `as_of`: every injection's minute and mark, or what keeps it from having one."""
    rules = clinic.rules
    slot_at, timed, findings = time_injections(case, clinic, slot)
    findings += case.order.checks()
    findings += timing_findings(case, rules, slot, slot_at, timed, as_of)
    findings += _signatures(case, clinic, as_of)
    planned: list[PlannedInjection] = []
    for injection in case.order.injections:
        at = timed.get(injection.id)
        left = kit_left(case.kit, planned)
        prepared = _prepare(injection, case, clinic, left, at.patient.wall.date() if at else None, as_of)
        planned.append(_planned(injection, at, rules, prepared, slot_at))
    minutes = [one.timed.patient.utc if one.timed else "" for one in planned]
    planned = [
        _with_steps(one, case, rules, last=_is_last(one, place, planned, minutes, case))
        for place, one in enumerate(planned)
    ]
    findings += technique_findings((one.box.product.id, one.steps) for one in planned if one.box)
    findings += shared_kit(case, planned)
    findings += _stop_list(case)
    findings += safety_questions(case)
    findings += _language(case, rules)
    findings += match.allergy_questions(case, [one.box for one in planned if one.box])
    for one in planned:
        if one.timed is not None and case.order.purpose is Purpose.TRIGGER:
            findings += phone_questions(one.injection, one.timed, one.times.mix_at, clinic)
    findings += _needless_overrides(case, timed, findings)
    every = (*findings, *(finding for one in planned for finding in one.findings))
    return CasePlan(
        case=case,
        slot=slot,
        slot_at=slot_at,
        arrival=slot_at.before(rules.arrival) if slot_at and rules and rules.arrival else None,
        fasting=_fasting(slot_at, rules) if slot and slot.kind is SlotKind.RETRIEVAL else (None, None),
        injections=tuple(_with_missteps(one, planned, case.kit) for one in planned),
        findings=worst_first(finding.at(f"case {case.id}") for finding in every),
        together=together(case.order, timed),
    )


def _planned(
    injection: Injection, at: Timed | None, rules: Rules | None, prepared: _Prepared, slot_at: Moment | None
) -> PlannedInjection:
    working = [timing_working(injection, slot_at, at)] if at else []
    return PlannedInjection(
        injection=injection,
        timed=at,
        times=_times(at, rules),
        box=prepared.box,
        rule=prepared.rule,
        diluent=prepared.diluent,
        diluent_by=prepared.diluent_by,
        drawn=prepared.drawn,
        mixes=prepared.mixes,
        keep=_keep(prepared, at),
        findings=tuple(finding.at(f"injection {injection.id}") for finding in prepared.findings),
        working=(*working, *(prepared.drawn.working if prepared.drawn else ())),
        source=prepared.source,
    )


def _is_last(
    one: PlannedInjection, place: int, planned: Sequence[PlannedInjection], minutes: Sequence[str], case: Case
) -> bool:
    """Whether no other injection of the same minute is given after this one."""
    sequence = {name: number for number, name in enumerate(case.order.sequence)}

    def turn(number: int) -> tuple[int, int]:
        return sequence.get(planned[number].injection.id, 0), number

    beside = [number for number, minute in enumerate(minutes) if one.timed is not None and minute == minutes[place]]
    return place == max(beside, key=turn, default=place)


def _with_steps(one: PlannedInjection, case: Case, rules: Rules | None, *, last: bool) -> PlannedInjection:
    """The injection with its order of hands; `last` of its minute or not."""
    if one.box is None or one.drawn is None:
        return one
    used = list(one.drawn.in_barrels)
    fixed = all_fixed(used, case.kit)
    at = one.timed.patient if one.timed else None
    taking = taking_of(one.injection, case, one.box, one.drawn, one.diluent, fixed, at, rules)
    if taking is not None:
        taking = replace(taking, last=last)
    return replace(one, taking=taking, steps=steps(taking) if taking is not None else ())


def _with_missteps(one: PlannedInjection, planned: Sequence[PlannedInjection], kit: Kit) -> PlannedInjection:
    """The injection with its foreseen mistakes, given the other medicines on the same table."""
    if one.source is None or one.drawn is None or one.box is None:
        return one
    around = _table_around(one, planned, kit)
    found, left_out = missteps(one.injection.dose, one.source, one.drawn, around)
    return replace(one, around=around, missteps=found, missteps_left_out=left_out)


def worst_of(row: MixRow, one: PlannedInjection) -> tuple[Misstep | None, Misstep | None]:
    """The worst misstep of one row of an injection's mix table, by too much and by too little."""
    if not isinstance(one.source, Vial) or one.source.content is None:
        return None, None
    return worst_missteps(row, one.injection.dose, one.source.content, one.around)


def _table_around(one: PlannedInjection, planned: Sequence[PlannedInjection], kit: Kit) -> Around:
    assert one.box is not None
    assert one.drawn is not None
    kind = one.box.product.fact("diluent")
    supplied = [diluent.volume for diluent in kit.diluents if kind is not None and diluent.kind == kind.value]
    unit_barrels = [barrel for barrel in barrels_at_home(kit) if barrel.on_u100]
    used = list(one.drawn.in_barrels)
    others = [
        OtherMedicine(
            other.injection.drug.name,
            tuple(fill.volume for fill in other.drawn.fills if fill.how is How.MARK and fill.volume is not None),
            other.source,
        )
        for other in planned
        if other is not one and other.drawn is not None and other.source is not None and not other.drawn.stopped
        if other.injection.drug is not one.injection.drug
    ]
    return Around(
        supplied=max(supplied, default=None),
        other_contents=other_strengths(one.box.product),
        unit_barrel=unit_barrels[-1] if unit_barrels else None,
        needle_fixed=all_fixed(used, kit) if used else False,
        others=tuple(others),
    )


def _times(at: Timed | None, rules: Rules | None) -> Times:
    if at is None or rules is None:
        return Times()
    patient = at.patient
    return Times(
        tell_by=patient.before(rules.tell_by) if rules.tell_by else None,
        lay_out=patient.before(rules.lay_out) if rules.lay_out else None,
        mix_at=patient.before(rules.mixing) if rules.mixing else None,
        sample=(at.clinic.after(rules.morning_sample[0]), at.clinic.after(rules.morning_sample[1]))
        if rules.morning_sample
        else None,
    )


def _fasting(slot_at: Moment | None, rules: Rules | None) -> tuple[Moment | None, Moment | None]:
    if slot_at is None or rules is None:
        return None, None
    return (
        slot_at.before(rules.fasting_solids) if rules.fasting_solids else None,
        slot_at.before(rules.fasting_clear) if rules.fasting_clear else None,
    )


def _keep(prepared: _Prepared, at: Timed | None) -> Keep | None:
    """Until when what is left may be kept: only a preserved liquid that the label lets one keep."""
    box, drawn = prepared.box, prepared.drawn
    if box is None or at is None or drawn is None or not drawn.left:
        return None
    if box.product.form is Form.SOLUTION:
        # What an opened vial still holds is not known, so that only one opened for this dose has anything left to keep.
        in_use = box.product.fact("in-use-days")
        return keep_until(opened=at.patient, in_use_days=int(in_use.value) if in_use else None, expiry=box.expiry)
    rule = prepared.rule
    if rule is None or rule.in_use_days is None or prepared.diluent is None:
        return None
    if rule.wants_entire(prepared.diluent) or not rule.prints(prepared.diluent):
        return None
    return keep_until(opened=at.patient, in_use_days=int(rule.in_use_days.value), expiry=box.expiry)


def _prepare(
    injection: Injection, case: Case, clinic: Clinic, left: Kit, day: dt.date | None, as_of: Moment
) -> _Prepared:
    box = match.choose_product(injection, case.kit)
    if isinstance(box, Finding):
        return _Prepared(findings=(box,))
    findings = list(match.box_findings(case, injection, box, day, as_of))
    findings += _needless_diluent(injection, box)
    strength = match.strength_of(box)
    if isinstance(strength, Finding):
        return _Prepared(box, findings=(*findings, strength))
    limits = _limits(clinic.rules)
    match box.product.form:
        case Form.POWDER:
            assert not isinstance(strength, Concentration)
            prepared = _powder(injection, case, clinic, left, box, strength, limits, day)
        case Form.SOLUTION:
            assert isinstance(strength, Concentration)
            vial = Vial(strength, box.product.holds if box.opened is None else None)
            vials = _vials_of(injection.dose, vial)
            prepared = _Prepared(
                box, source=vial, vials=vials, drawn=_draw(injection, vial, case.kit, left, limits, vials)
            )
        case Form.SYRINGE:
            assert not isinstance(strength, Concentration)
            assert box.product.holds is not None
            syringe = Syringe(box.product.id, strength, box.product.holds)
            prepared = _Prepared(box, source=syringe, drawn=_draw(injection, syringe, case.kit, left, limits, 1))
        case _:
            assert not isinstance(strength, Concentration)
            spray = Spray(box.product.id, strength)
            prepared = _Prepared(box, source=spray, drawn=_draw(injection, spray, case.kit, left, limits, 1))
    findings += prepared.findings
    if prepared.drawn is not None:
        findings += prepared.drawn.findings
        findings += syringe_findings(injection, case, box, prepared.drawn)
    findings += _unread_figures(box, prepared.rule)
    return replace(prepared, findings=tuple(findings))


def _vials_of(dose: Dose, vial: Vial) -> int:
    """How many vials of a ready solution the dose takes; 1 where what a vial holds is not known or the kinds differ."""
    if vial.holds is None or type(dose) is not type(vial.concentration.per_ml):
        return 1
    return math.ceil(divide(dose, vial.concentration.dose_in(vial.holds)))


def _limits(rules: Rules | None) -> Limits:
    if rules is None or rules.tolerance_note is None or rules.tolerance_warn is None:
        return proposed_limits()
    return Limits(
        rules.tolerance_note, rules.tolerance_warn, f"clinic's rule, signed by {rules.signed_by} at {rules.signed_at}"
    )


def _draw(
    injection: Injection,
    source: Source,
    kit: Kit,
    left: Kit,
    limits: Limits,
    vials: int,
    table: Sequence[MixRow] = (),
) -> Drawn:
    """The draw with the new syringes that are left; if they do not do, with all at home, so that what is short is said."""
    answer = _draw_with(injection, source, left, limits, vials, table)
    if left is kit or not (answer.stopped or short_of(answer, left)):
        return answer
    return _draw_with(injection, source, kit, limits, vials, table)


def _draw_with(
    injection: Injection, source: Source, kit: Kit, limits: Limits, vials: int, table: Sequence[MixRow]
) -> Drawn:
    """The draw with this kit; kinds of which there are too few for their fills are left aside when another serves."""
    kinds = barrels_at_home(kit)
    if injection.route == "intramuscular":
        kinds = [barrel for barrel in kinds if not needle_fixed(barrel, kit)] or kinds

    def drawn_with(barrels_at_hand: Sequence[Barrel]) -> Drawn:
        return draw(
            injection.dose,
            source,
            barrels_at_hand,
            vials=vials,
            route=injection.route,
            limits=limits,
            other_ways=ways_on_a_line(table),
            searched=searched(table),
        )

    answer = drawn_with(kinds)
    while not answer.stopped and (short := short_of(answer, kit)):
        fewer = [barrel for barrel in kinds if barrel.id != short]
        if not fewer or (other := drawn_with(fewer)).stopped:
            return answer
        kinds, answer = fewer, other
    return answer


def _powder(
    injection: Injection,
    case: Case,
    clinic: Clinic,
    left: Kit,
    box: KitProduct,
    content: Dose,
    limits: Limits,
    day: dt.date | None,
) -> _Prepared:
    rule = match.label_rule(box)
    if isinstance(rule, Finding):
        return _Prepared(box, findings=(rule,))
    if type(injection.dose) is not type(content):
        return _Prepared(box, rule, drawn=draw(injection.dose, Vial(Concentration(content)), barrels_at_home(case.kit)))
    signed = tuple(clinic.mixes_of(box.product.id))
    vials = math.ceil(divide(injection.dose, content))
    chosen, by, stop = _choice(injection, rule, signed, box.product.id)
    table = mix_table(
        injection.dose, content, rule, signed, chosen, barrels_at_home(case.kit), vials, injection.route, limits
    )
    findings = [*_water_for_each(injection, vials)]
    if chosen in contradicting(signed) and injection.dose < content:  # type: ignore[operator]
        findings += _contradicting(signed, box.product.id, clinic.rules)
    if stop is not None or chosen is None:
        return _Prepared(box, rule, vials=vials, mixes=table, findings=(*findings, *([stop] if stop else [])))
    findings += _part_dose(injection, content, rule, chosen, signed)
    findings += match.diluent_findings(case, box, chosen, vials, day)
    vial = mix(content, chosen)
    drawn = _draw(injection, vial, case.kit, left, limits, vials, table)
    return _Prepared(box, rule, chosen, by, vials, vial, drawn, table, tuple(findings))


def _choice(
    injection: Injection, rule: LabelRule, signed: Sequence[MixRule], product: str
) -> tuple[Volume | None, str, Finding | None]:
    """The diluent volume from the order, else the clinic's signed choice, else the only one the label prints; and whose it is."""
    by_rule = [mixing.diluent for mixing in signed if mixing.chosen]
    if injection.diluent is not None:
        chosen, by = injection.diluent, "order"
    elif len(set(by_rule)) == 1:
        chosen, by = by_rule[0], "signed mixing rule"
    elif len(rule.volumes) == 1 and not by_rule:
        chosen, by = rule.volumes[0], "the only volume on the label"
    else:
        return None, "", _not_chosen(rule, signed, product)
    if not allowed_by(chosen, rule, signed):
        return None, "", _unsigned(chosen, by, rule, product)
    return chosen, by, None


def _not_chosen(rule: LabelRule, signed: Sequence[MixRule], product: str) -> Finding:
    return Finding(
        "diluent-not-chosen",
        Level.STOP,
        f"How much diluent goes into {product} is not chosen: the order does not say, and the clinic has not signed one choice.",
        "Ask the prescriber and write diluent in the injection, or have the mixing rule signed with chosen = true. The mix table shows them all.",
        "diluent",
        f'label: "{rule.words.value}"' + "".join(f"; signed: {mixing.diluent}" for mixing in signed),
        rule.words.cite(),
    )


def _unsigned(chosen: Volume, by: str, rule: LabelRule, product: str) -> Finding:
    return Finding(
        "diluent-unsigned",
        Level.STOP,
        f"{chosen} of diluent ({by}) is not printed on this label of {product}, and no signed rule permits it.",
        "Choose a permitted volume with the prescriber, or have the clinic's lead sign a mixing rule for it.",
        "diluent",
        f'label: "{rule.words.value}"',
        rule.words.cite(),
    )


def _water_for_each(injection: Injection, vials: int) -> Iterable[Finding]:
    if vials > 1 and not injection.diluent_each:
        yield Finding(
            "water-for-each",
            Level.STOP,
            f"{injection.dose} takes {vials} vials, and the order does not say whether each gets its own diluent or it is carried on.",
            'Ask the prescriber. If each gets its own, write diluent_into = "each"; carrying it on is not computed here.',
            "diluent",
            f"{vials} vials",
            "signed order",
        )


def _part_dose(
    injection: Injection, content: Dose, rule: LabelRule, chosen: Volume, signed: Sequence[MixRule]
) -> Iterable[Finding]:
    if part_allowed(injection.dose, content, rule, chosen, signed) or chosen in contradicting(signed):
        return
    yield Finding(
        "part-dose-unsigned",
        Level.STOP,
        f"{injection.dose} is a part of {content}, and this label has the whole of a {chosen} mix given at once.",
        "Have the clinic's lead sign a mixing rule with part_dose = true, or ask the prescriber for another product.",
        "diluent",
        f'label: "{rule.words.value}", entire dose: {rule.entire.value}',
        rule.entire.cite(),
    )


def _contradicting(signed: Sequence[MixRule], product: str, rules: Rules | None) -> Iterable[Finding]:
    for volume in contradicting(signed):
        assert rules is not None
        yield Finding(
            "mixing-rules-contradict",
            Level.STOP,
            f"Two signed rules for {product} mixed with {volume} contradict each other: by one a part of it may be given, by the other not.",
            "Have the clinic's lead sign one of the two and take the other out.",
            "diluent",
            f"clinic's rules, signed by {rules.signed_by} at {rules.signed_at}",
            "hourmark's own rule",
        )


def _needless_diluent(injection: Injection, box: KitProduct) -> Iterable[Finding]:
    """An order for water that nothing is mixed with: the prescriber may have meant another product."""
    if box.product.form is Form.POWDER or (injection.diluent is None and not injection.diluent_each):
        return
    ordered = f"{injection.diluent} of diluent" if injection.diluent is not None else "diluent for each vial"
    yield Finding(
        "diluent-needless",
        Level.STOP,
        f"The order says {ordered}, but nothing is added to {box.product.id}: it is a ready {box.product.form}.",
        "Ask the prescriber which product is meant; if it is this one, the order is signed without diluent.",
        "diluent",
        f"{box.product.id} is given as it is",
        "product label",
    )


def _unread_figures(box: KitProduct, rule: LabelRule | None) -> Iterable[Finding]:
    figures = match.unverified(box, rule)
    if figures:
        yield Finding(
            "rests-on-unread",
            Level.NOTE,
            f"Draft only: {box.product.id} rests on figures that were not read in their source: {'; '.join(figures)}.",
            "Before release two people read strength, volume and route off the box (carton_check).",
            "kit",
            "figures read in their source, or a carton check",
            "hourmark's own rule",
        )


def _signatures(case: Case, clinic: Clinic, as_of: Moment) -> Iterable[Finding]:
    times = [("order", "signed_at", case.order.signed_at)]
    times += [
        (f"kit, {box.product.id}", "carton_check", box.carton_check.at) for box in case.kit.products if box.carton_check
    ]
    times += [(f"injection {i.id}", "override", i.override.at) for i in case.order.injections if i.override]
    for where, name, wall in times:
        signed = moment(wall, clinic.zone, f"{where}, {name}")
        if isinstance(signed, Finding):
            yield signed
        elif as_of < signed:
            yield _signed_later(where, name, wall)


_OVERRIDDEN = ("agonist-in-suppressed-cycle", "lead-outside-bands")


def _needless_overrides(case: Case, timed: Mapping[str, Timed], findings: Sequence[Finding]) -> list[Finding]:
    """A warning for an override where there is nothing that may be gone past: what it was meant for may be another thing."""
    used = {one.where.partition(",")[0] for one in findings if one.code in _OVERRIDDEN}
    return [
        Finding(
            "override-needless",
            Level.WARN,
            f"{injection.override.by} went past a stop here, but there is none that may be gone past; it changed nothing.",
            "Ask what it was meant for, and have the order signed without it if that is settled.",
            f"injection {injection.id}",
            "only a suppressed cycle and a lead outside the bands may be gone past",
            "hourmark's own rule",
        )
        for injection in case.order.injections
        if injection.override is not None and injection.id in timed and f"injection {injection.id}" not in used
    ]


def _signed_later(where: str, name: str, wall: WallTime) -> Finding:
    return Finding(
        "signed-later",
        Level.STOP,
        f"{name} is at {wall}, after this plan's moment.",
        f"Check {name} and as_of.",
        where,
        "an order is signed before it is planned",
        "common practice, no source",
    )


_ANTAGONISTS = ("ganirelix", "cetrorelix")


def _language(case: Case, rules: Rules | None) -> Iterable[Finding]:
    if not signed_for_use(case.language, rules):
        yield Finding(
            "language-unsigned",
            Level.ASK,
            f"Her language is entered as {case.language}, and nobody at the clinic has signed its words: the page has the English beside them and stays a draft.",
            "Have a qualified translator read the words and the lead sign clinic.rules.languages; until then arrange an interpreter for the call and the read-back.",
            "case",
            "a translation is used once it is signed",
            "hourmark's own rule",
        )


def _stop_list(case: Case) -> Iterable[Finding]:
    named = [drug for drug in _ANTAGONISTS if any(drug in item.lower() for item in case.order.stop)]
    if named:
        yield Finding(
            "antagonist-stop-day",
            Level.NOTE,
            f"The last {' or '.join(named)} belongs to the day of the TRIGGER or before, never to the day of the retrieval; one leaflet is easily misread here.",
            "Say the date of the last one, and that none is taken after the trigger.",
            "stop-list",
            "the last antagonist belongs to the day of the trigger or the evening before",
            "EU leaflet of cetrorelix, how to inject; EU leaflet of ganirelix, section 3 (read in the source)",
        )
