"""The answer to one call, from that case's plan and kit: dose, lead, what is left, who decides. It proposes no treatment."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from hourmark.clock import Moment, moment, said
from hourmark.dose import Given
from hourmark.finding import Finding, Level, stops, worst_first
from hourmark.formulary import Kind as DrugKind
from hourmark.incident.amounts import Amounts, amounts, no_powder, of_another
from hourmark.incident.deciding import Limits, Reason, Who, strictest
from hourmark.incident.facts import Facts
from hourmark.incident.judged import dose_reasons, kind_reasons, open_reason, still_to_come
from hourmark.incident.kinds import Kind
from hourmark.incident.lead import (
    Ends,
    apart,
    lead_now,
    lead_reasons,
    lead_working,
    left_to_inject,
    proposals,
    read_times,
    slots_for,
)
from hourmark.incident.leg import NOTHING_LEFT, Another, Answer, Leg, State
from hourmark.incident.medicine import is_another, is_nameless, is_ordered, name_problem, went_in_besides
from hourmark.incident.problems import (
    contradicts,
    missing,
    no_such_medicine,
    other_side,
    too_much,
    unanswered,
    unreadable,
)
from hourmark.incident.stock import Earlier, spare
from hourmark.order import After, Injection, Purpose
from hourmark.plan import CasePlan, PlannedInjection, antagonist_gap, overstimulation
from hourmark.quantity import Dose, Share, divide

FIRST = (
    "Two identifiers, and where she is now.",
    "What has already gone in. She repeats no dose and adds none.",
    "She keeps every vial, syringe and box, and takes a picture of them.",
    "She reads back what was said, and gets a time for the call back.",
)
"""The first moves of every call (common practice, no source)."""

DANGER = (
    "Emergency services now, by the number where she is; somebody stays on the line.",
    "Then the prescriber. No number is computed before that.",
)
"""What comes before everything else where there is a sign of danger."""

_TELL = (
    "Tell the prescriber these numbers and the caller's own words. Nothing is given, added, repeated or moved before there is a"
    " signed order and a released page."
)
_REFUSED = "The plan of this case is refused: what rests on it holds only as far as she really did what it says."
_WRITE_DOWN = "Write it down with the time of this call."
_THEATRE, _PHARMACIST = "theatre and laboratory", "the pharmacist"


def answer(
    plan: CasePlan,
    kind: Kind,
    facts: Facts,
    limits: Limits,
    now: Moment,
    given_at: Mapping[str, Moment] | None = None,
    reported: Mapping[str, Dose] | None = None,
    earlier: Sequence[Earlier] = (),
) -> Answer:
    """The answer to one call at `now`. `given_at` holds the confirmed times of injections of the case by their ids, `reported` the doses.

    `earlier` are other calls about the case before this one: what they used is no longer at home.
    Whatever is wrong with the report, the answer carries it word for word; nothing is computed from a doubtful part of it.
    """
    if facts.symptoms is True:
        return _danger(plan, kind, facts, now)
    facts = replace(facts, unknown=facts.unknown | {one.key for one in facts.again})
    call = _Call(plan, kind, facts, limits, now, given_at or {}, reported or {}, tuple(earlier))
    open_questions = missing(kind, facts, plan.case.order)
    findings = [*unreadable(facts), *unanswered(open_questions), *_refused(plan)]
    if (nameless := name_problem(kind, facts)) is not None:
        findings.append(no_such_medicine(nameless))
    at, wrong = call.times()
    starts, wrong_starts = call.starts()
    findings += [*wrong, *wrong_starts]
    subject, others = call.subjects(findings)
    if subject is None:
        return call.done((), (open_reason("Which injection it is about is not known."),), findings, None)
    if kind is Kind.ONE_OF_TWO and len(others) == 1 and at is not None and at[0] == at[1]:
        call = replace(call, given_at={**call.given_at, others[0].injection.id: at[0]})
    if (there := call.on_record()) is not None:
        findings.append(
            contradicts("injected", f"It is said that none of it went in, and the record has it given: {said(there)}.")
        )
    if at is not None and (side := call.other_side(subject, at)) is not None:
        findings.append(side)
    if call.is_itself(subject):
        findings.append(
            contradicts(
                "drug",
                f'"{facts.drug}" is the ordered medicine: it was not taken instead of this injection, it is this one.',
            )
        )
    told = call.told(subject)
    findings += [problem.at(f"injection {subject.injection.id}") for problem in told.problems]
    rest = tuple(call.other_legs(others, at, starts))
    first = call.subject_leg(subject, told, at, starts)
    legs = [replace(first, reasons=(*first.reasons, *apart(plan, first, rest))), *rest]
    reasons = tuple(dict.fromkeys(reason for leg in legs for reason in leg.reasons))
    reasons += tuple(open_reason(f"Not answered yet: {one.words}") for one in open_questions if one.key != "symptoms")
    reasons += (open_reason(_REFUSED),) * plan.refused
    findings += [call.finding(reason, leg) for leg in legs for reason in leg.reasons]
    findings += call.beside(legs)
    return replace(
        call.done(tuple(legs), reasons, findings, subject),
        proposals=tuple(proposals(plan, subject.injection.id, at)) if at and legs[0].state is State.GIVEN else (),
        as_planned=tuple(told.as_planned),
        not_known=tuple(call.not_known(told, others)),
    )


def _danger(plan: CasePlan, kind: Kind, facts: Facts, now: Moment) -> Answer:
    stop = Finding(
        "trouble-danger",
        Level.STOP,
        "She has a sign of danger.",
        " ".join(DANGER),
        f"case {plan.case.id}",
        "signs of danger come before any arithmetic",
        "signs of overstimulation, Reprod Biol Endocrinol 2012;10:32; of allergy, clot, bleeding, torsion: common practice, no source",
    )
    reason = Reason(Who.EMERGENCY, stop.what, stop.limit or "", stop.source or "", "trouble-danger", Level.STOP)
    return Answer(
        case=plan.case.id,
        kind=kind,
        said=facts.said,
        at=now,
        decides=Who.EMERGENCY,
        first=DANGER,
        also=("the prescriber",),
        reasons=(reason,),
        findings=(stop,),
    )


def _refused(plan: CasePlan) -> Iterator[Finding]:
    if plan.refused:
        yield Finding(
            "trouble-plan-refused",
            Level.ASK,
            _REFUSED,
            "Ask what she had in her hands and which page she followed, and tell the prescriber.",
            f"case {plan.case.id}",
            "a refused plan is no instruction",
            "hourmark's own rule",
        )


@dataclass(frozen=True, slots=True)
class _Call:
    plan: CasePlan
    kind: Kind
    facts: Facts
    limits: Limits
    now: Moment
    given_at: Mapping[str, Moment]
    reported: Mapping[str, Dose]
    earlier: tuple[Earlier, ...] = ()

    def times(self) -> tuple[Ends | None, tuple[Finding, ...]]:
        """When it was injected, and what is wrong with the time told."""
        if self.facts.at is None:
            return None, ()
        if self.facts.injected is False:
            return None, (
                contradicts("at", "Nothing has gone in, it is said, and yet there is a time at which it did."),
            )
        read = read_times(self.facts.at, self.plan.case.zone, self.now)
        return read.at, read.problems

    def other_side(self, one: PlannedInjection, at: Ends) -> Finding | None:
        """Called late and yet before its planned minute, or called early and yet after it: the day or the clock may be another."""
        due = self._due(one)
        if due is None or (one.timed is not None and one.timed.provisional):
            return None
        if self.kind is Kind.LATE and at[1] < due:
            return other_side(f"It is said to be late, and {said(at[1])} is before its minute, {said(due)}.")
        if self.kind is Kind.EARLY and due < at[0]:
            return other_side(f"It is said to be early, and {said(at[0])} is after its minute, {said(due)}.")
        return None

    def starts(self) -> tuple[tuple[Moment, ...], tuple[Finding, ...]]:
        """The open starts as typed, on the clinic's clock."""
        slot = self.plan.slot_at
        if slot is None or not self.facts.open:
            return (), ()
        found, wrong = [], []
        for wall in self.facts.open:
            at = moment(wall, slot.zone, "open")
            if isinstance(at, Finding):
                wrong.append(at)
            elif at < self.now:
                wrong.append(contradicts("open", f"The open start {wall} is past."))
            else:
                found.append(at)
        return tuple(found), tuple(wrong)

    def subjects(self, findings: list[Finding]) -> tuple[PlannedInjection | None, tuple[PlannedInjection, ...]]:
        """The injection it is about, and the others of the order."""
        wanted = self.facts.missed if self.kind is Kind.ONE_OF_TWO else self.facts.injection
        every = self.plan.injections
        if wanted is None and len(every) == 1 and self.kind is not Kind.ONE_OF_TWO:
            return every[0], ()
        subject = next((one for one in every if one.injection.id == wanted), None)
        if wanted is not None and subject is None:
            ids = ", ".join(one.injection.id for one in every)
            findings.append(contradicts("injection", f'"{wanted[:40]}" is no injection of this order; it has {ids}.'))
        if self.kind is Kind.ONE_OF_TWO and len(every) < 2:
            findings.append(contradicts("missed", "This order has one injection: none of two can be left out."))
            return None, ()
        return subject, tuple(one for one in every if one is not subject)

    def told(self, one: PlannedInjection) -> Amounts:
        """The amounts as told of this injection."""
        if self.kind is Kind.WATER_ONLY:
            return no_powder(one)
        if self.kind is Kind.WRONG_PRODUCT and is_another(self.kind, self.facts, one.injection):
            return of_another(one, self.facts)
        if is_nameless(self.kind, self.facts, one.injection):
            return Amounts(not_known=["which medicine it was"])
        if self.state(one) in (State.NOT_GIVEN, State.NOT_KNOWN):
            return Amounts()
        found = amounts(one, self.kind, self.facts, self.plan.case.kit.diluents)
        if self.kind is Kind.REPEATED and not found.problems:
            self._times(one, found)
        return found

    def _times(self, one: PlannedInjection, found: Amounts) -> None:
        times = self.facts.times
        if times is None:
            found.given = None
            found.not_known.append("how many times it was injected")
            return
        if times.least < 1:
            found.problems.append(
                contradicts("times", "Injected no time at all: that is an injection that was missed.")
            )
        boxes = sum(
            held.count for held in self.plan.case.kit.products if one.box and held.product.id == one.box.product.id
        )
        each = (one.drawn.vials if one.drawn else None) or 1
        whole = one.drawn is not None and one.drawn.left is not None and not one.drawn.left
        if whole and times.most * each > boxes:
            found.problems.append(
                too_much("times", f"{times.most} times take {times.most * each} vials.", f"{boxes} in the kit")
            )
        if found.problems or found.given is None:
            found.given = None
            return
        found.given = Given(found.given.least * times.least, found.given.most * times.most)
        found.left = NOTHING_LEFT

    def state(self, one: PlannedInjection) -> State:
        """How the injection it is about stands; not known where the record has it given and the caller says that it was not."""
        return State.NOT_KNOWN if self.on_record() is not None else self._said_state(one)

    def is_itself(self, one: PlannedInjection) -> bool:
        """Whether what is said to have been taken instead of an injection is just that medicine."""
        itself = is_ordered(self.facts.drug, one.injection.drug.name) is True
        return self.kind is Kind.OTHER_DRUG and self.facts.instead is True and itself

    def on_record(self) -> Moment | None:
        """When the record has the injection given of which nothing is said to have gone in; None where the two agree."""
        every = self.plan.injections
        wanted = self.facts.missed if self.kind is Kind.ONE_OF_TWO else self.facts.injection
        name = every[0].injection.id if wanted is None and len(every) == 1 else wanted
        one = next((each for each in every if each.injection.id == name), None)
        if one is None or self.kind is Kind.WATER_ONLY:
            return None
        if self._said_state(one) not in (State.NOT_GIVEN, State.IN_SYRINGE):
            return None
        return self.given_at.get(one.injection.id)

    def _said_state(self, one: PlannedInjection) -> State:
        if is_another(self.kind, self.facts, one.injection):
            return State.NOT_GIVEN
        if is_nameless(self.kind, self.facts, one.injection):
            return State.NOT_KNOWN
        match self.kind:
            case Kind.MISSED | Kind.WATER_ONLY | Kind.ONE_OF_TWO:
                return State.NOT_GIVEN
            case Kind.OTHER_DRUG:
                return State.NOT_KNOWN
        if self.facts.injected is False and self.facts.at is not None:
            return State.NOT_KNOWN
        if self.facts.injected is False:
            mixed = self.kind in (Kind.WRONG_MARK, Kind.WRONG_WATER, Kind.WRONG_PRODUCT)
            return State.IN_SYRINGE if mixed else State.NOT_GIVEN
        asked = self.kind in (Kind.LATE, Kind.WRONG_MARK, Kind.WRONG_WATER, Kind.WRONG_PRODUCT, Kind.STORAGE)
        if asked and self.facts.injected is None and self.facts.at is None:
            return State.NOT_KNOWN
        return State.GIVEN

    def subject_leg(self, one: PlannedInjection, told: Amounts, at: Ends | None, starts: tuple[Moment, ...]) -> Leg:
        """The injection it is about."""
        injection = one.injection
        state = State.NOT_KNOWN if self.kind is Kind.WATER_ONLY and told.problems else self.state(one)
        in_its_place = is_another(self.kind, self.facts, injection)
        nothing = Given(injection.dose * 0, injection.dose * 0)
        given = {State.GIVEN: told.given, State.NOT_KNOWN: None}.get(state, nothing)
        leg = Leg(
            injection,
            state,
            given,
            _share(given, injection.dose),
            holds=told.given if state is State.IN_SYRINGE else None,
            another=self._another(told, at) if in_its_place and self.facts.drug else None,
            left=replace(told.left, syringe=told.drawn) if state is State.IN_SYRINGE else told.left,
            left_to_inject=None
            if state in (State.GIVEN, State.NOT_KNOWN)
            else left_to_inject(one, self.plan, self.now, self.given_at),
            working=tuple(told.working),
        )
        reasons: list[Reason] = []
        nothing_by_it = self.kind is Kind.WATER_ONLY or in_its_place
        if state is State.GIVEN or (nothing_by_it and state is State.NOT_GIVEN):
            reasons += dose_reasons(injection, leg.given, leg.share, self.limits)
        if state is State.IN_SYRINGE or (state is State.NOT_GIVEN and not in_its_place and self._before_due(one)):
            reasons.append(still_to_come(self._due(one) if self._before_due(one) else None))
        if state is State.NOT_KNOWN:
            reasons.append(open_reason("Whether anything of it went in is not known."))
        reasons += kind_reasons(self.kind, injection, self.facts, self.plan.case.order)
        return self._with_time(replace(leg, reasons=tuple(reasons)), one, at, starts)

    def _another(self, told: Amounts, at: Ends | None) -> Another:
        """What was taken in the place of the injection, as it was told."""
        assert self.facts.drug is not None
        injected = True if self.kind is Kind.OTHER_DRUG or at is not None else self.facts.injected
        slot = self.plan.slot_at
        to_slot = (slot - at[1], slot - at[0]) if slot is not None and at is not None else None
        return Another(self.facts.drug, injected, told.drawn, told.given, at, to_slot)

    def other_legs(
        self, others: Iterable[PlannedInjection], at: Ends | None, starts: tuple[Moment, ...]
    ) -> Iterator[Leg]:
        """The other injections, judged alone: the one given where one of two was missed, and those whose time is confirmed."""
        listed = list(others)
        for one in listed:
            injection = one.injection
            if self.kind is Kind.ONE_OF_TWO and len(listed) == 1:
                told = amounts(one, self.kind, self.facts)
                share = _share(told.given, injection.dose)
                reasons = tuple(dose_reasons(injection, told.given, share, self.limits))
                leg = Leg(
                    injection,
                    State.GIVEN,
                    told.given,
                    share,
                    left=told.left,
                    reasons=reasons,
                    working=tuple(told.working),
                )
                yield self._with_time(leg, one, at, starts)
            elif injection.id in self.given_at:
                known = self.given_at[injection.id].seen_in(self.plan.case.zone)
                leg = self._with_time(self._as_reported(injection), one, (known, known), starts)
                yield replace(leg, reasons=())

    def _as_reported(self, injection: Injection) -> Leg:
        """An injection whose time is confirmed, with the dose that was reported of it; without one that is not known."""
        dose = self.reported.get(injection.id)
        given = Given(dose, dose) if dose is not None else None
        return Leg(injection, State.GIVEN, given, _share(given, injection.dose))

    def _with_time(self, leg: Leg, one: PlannedInjection, at: Ends | None, starts: tuple[Moment, ...]) -> Leg:
        """The leg with its lead, who decides about it, and the starts that would restore it."""
        if leg.state is State.NOT_KNOWN:
            return leg
        if_now = leg.state is not State.GIVEN
        if if_now:
            here = self.now.seen_in(self.plan.case.zone)
            if self._before_due(one):
                return leg
            at = (here, here)
        if at is None:
            return replace(leg, reasons=(*leg.reasons, open_reason("When it went in is not known.")))
        lead = lead_now(one, self.plan, at, self.limits, self.given_at, if_now=if_now)
        slot = self.plan.slot_at
        slots, how = slots_for(one.injection, at, slot.zone, starts, if_now=if_now) if slot else (None, None)
        return replace(
            leg,
            lead=lead,
            slots=slots,
            reasons=(*leg.reasons, *lead_reasons(one, self.plan, lead, self.limits)),
            working=(*leg.working, *lead_working(lead, slot), *((how,) if how else ())),
        )

    def _before_due(self, one: PlannedInjection) -> bool:
        """Whether its planned minute is still to come."""
        due = self._due(one)
        return due is not None and self.now < due

    def _due(self, one: PlannedInjection) -> Moment | None:
        """Its planned minute on her clock; a repeat's follows from the confirmed time of the one before it."""
        timing = one.injection.timing
        if isinstance(timing, After):
            first = self.given_at.get(timing.injection)
            return first.after(timing.gap).seen_in(self.plan.case.zone) if first is not None else None
        return one.timed.patient if one.timed is not None else None

    def finding(self, reason: Reason, leg: Leg) -> Finding:
        """A reason as a finding."""
        do = _WRITE_DOWN if reason.who is Who.NURSE else _TELL
        return Finding(
            reason.code, reason.level, reason.why, do, f"injection {leg.injection.id}", reason.limit, reason.source
        )

    def beside(self, legs: list[Leg]) -> Iterator[Finding]:
        """What hangs on the new facts: later injections, the gap from the last antagonist, a risk that was asked about before."""
        case = self.plan.case
        first = legs[0]
        for one in self.plan.injections:
            timing = one.injection.timing
            if isinstance(timing, After) and timing.injection == first.injection.id:
                yield Finding(
                    "trouble-second",
                    Level.NOTE,
                    f"Injection {one.injection.id} is counted from the actual {timing.injection}, so it moves with it.",
                    "It is a proposal only: the page she has holds until a new one is released and read back.",
                    f"injection {one.injection.id}",
                    f"{timing.gap} after the actual {timing.injection}",
                    "signed order",
                )
        if first.lead is not None and case.last_antagonist is not None and case.order.purpose is Purpose.TRIGGER:
            last = moment(case.last_antagonist.at, case.zone, "last antagonist")
            if not isinstance(last, Finding):
                gap = antagonist_gap(case.last_antagonist.drug, last, first.lead.at[1])[1]
                if gap is not None:
                    yield gap.at(f"injection {first.injection.id}")
        more = first.share is not None and first.share[1].value > 1 and first.injection.drug.kind is DrugKind.HCG
        if more:
            yield from (
                one for one in self.plan.findings if one.code in ("overstimulation-risk", "overstimulation-note")
            )
        elif went_in_besides(self.kind, self.facts) is DrugKind.HCG:
            yield from overstimulation(case, f"hCG that was not ordered ({self.facts.drug})")

    def not_known(self, told: Amounts, others: tuple[PlannedInjection, ...]) -> Iterator[str]:
        """What nobody could say, and what was not asked about in this call."""
        yield from told.not_known
        yield from (f"{key}: asked, and she cannot say" for key in sorted(self.facts.unknown))
        for one in others:
            known = one.injection.id in self.given_at
            in_this_call = self.kind is Kind.ONE_OF_TWO and len(others) == 1
            if not known and not in_this_call and not isinstance(one.injection.timing, After):
                yield f"whether and when injection {one.injection.id} was given"
        if self.kind is Kind.STORAGE:
            yield "whether the medicine still works"
        if self.kind in (Kind.WRONG_ROUTE, Kind.PARTIAL):
            yield "how much of what went in was taken up by the body"

    def _given(self, one: PlannedInjection) -> frozenset[str]:
        """The injections that are known to have been given, besides the one that it is about."""
        others = [each.injection.id for each in self.plan.injections if each is not one]
        in_this_call = others if self.kind is Kind.ONE_OF_TWO and len(others) == 1 and self.facts.at is not None else []
        return frozenset(self.given_at) | frozenset(in_this_call)

    def done(
        self, legs: tuple[Leg, ...], reasons: tuple[Reason, ...], findings: list[Finding], one: PlannedInjection | None
    ) -> Answer:
        """The whole answer."""
        decides = Who.PRESCRIBER if stops(findings) else strictest(reasons)
        left = spare(self.plan, one, self.kind, self.facts, self._given(one), self.earlier) if one is not None else ()
        also = [_THEATRE] * any(
            reason.who is Who.PRESCRIBER and reason.code in ("trouble-lead", "trouble-late") for reason in reasons
        )
        if self.kind in (Kind.WRONG_PRODUCT, Kind.WRONG_WATER, Kind.STORAGE) or (
            self.kind is Kind.WATER_ONLY and left and not left[0].most
        ):
            also.append(_PHARMACIST)
        slot = self.plan.slot_at
        return Answer(
            case=self.plan.case.id,
            kind=self.kind,
            said=self.facts.said,
            at=self.now,
            decides=decides,
            first=FIRST,
            also=tuple(also),
            reasons=tuple(sorted(reasons, key=lambda reason: -reason.who)),
            legs=legs,
            spare=left,
            to_slot=slot - self.now if slot else None,
            common=_common(legs),
            findings=worst_first(findings),
            working=tuple(step for leg in legs for step in leg.working),
        )


def _share(given: Given | None, ordered: Dose) -> tuple[Share, Share] | None:
    """What went in as a share of the order; None where it is not known or counted in another kind of unit."""
    if given is None or type(given.least) is not type(ordered):
        return None
    return Share(divide(given.least, ordered)), Share(divide(given.most, ordered))


def _common(legs: tuple[Leg, ...]) -> tuple[Moment, Moment] | None:
    """The starts that suit every leg whose starts are known, where there are several."""
    known = [(leg.slots.earliest, leg.slots.latest) for leg in legs if leg.slots]
    if len(known) < 2:
        return None
    earliest = [one for one, _ in known if one is not None]
    latest = [one for _, one in known if one is not None]
    if len(earliest) < len(known) or len(latest) < len(known):
        return None
    first, last = max(earliest, key=lambda one: one.instant), min(latest, key=lambda one: one.instant)
    return None if last < first else (first, last)
