"""The minute: slot and lead become an instant on two wall clocks, with what hangs on it."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from hourmark.clock import (
    Moment,
    Span,
    WallTime,
    Zone,
    clock_change_between,
    moment,
    needless_which,
    said,
    shift_proposals,
)
from hourmark.finding import Finding, Level, Working
from hourmark.formulary import Drug, Kind, drug, facts
from hourmark.order import After, Band, Case, Clinic, Cycle, Injection, Lead, Order, Purpose, Rules, Slot
from hourmark.order.clinic import SlotKind


@dataclass(frozen=True, slots=True)
class Timed:
    """One injection's minute: on the patient's clock and on the clinic's, with the lead to the slot where there is one.

    `provisional` marks a repeat whose real minute follows from the actual time of another injection.
    """

    patient: Moment
    clinic: Moment
    lead: Span | None = None
    provisional: bool = False


def when(
    slot: WallTime, zone: Zone, lead: Span, patient_zone: Zone | None = None
) -> tuple[Timed | None, tuple[Finding, ...]]:
    """The minute `lead` of elapsed time before a slot on the clinic's clock; no minute when the slot's clock time is not one instant."""
    at = moment(slot, zone, "slot")
    if isinstance(at, Finding):
        return None, (at,)
    patient = at.before(lead).seen_in(patient_zone or zone)
    timed = Timed(patient, at.before(lead), lead)
    return timed, (*needless_which(slot, at, "slot"), *clock_findings(timed, at))


def clock_findings(timed: Timed, slot: Moment | None) -> tuple[Finding, ...]:
    """What is worth saying of the clocks: a repeated hour, midnight, a clock change before the slot, two zones."""
    found = list(shift_proposals(timed.patient, "injection"))
    if timed.clinic.zone != timed.patient.zone:
        if timed.clinic.wall != timed.patient.wall:
            found.append(_two_clocks(timed))
        found += [
            f for f in shift_proposals(timed.clinic, "injection, clinic's clock") if f.code == "injection-repeated-hour"
        ]
    if slot is not None and (change := clock_change_between(timed.clinic, slot)).minutes:
        found.append(_clock_change(change, slot, timed))
    return tuple(found)


def _two_clocks(timed: Timed) -> Finding:
    return Finding(
        "clocks-differ",
        Level.NOTE,
        f"The patient's clock and the clinic's differ: {said(timed.patient)}; {said(timed.clinic)}.",
        "Read out the patient's own clock time and ask where she will really be that night.",
        "injection",
        f"{timed.patient.zone.name} {timed.patient.offset}, {timed.clinic.zone.name} {timed.clinic.offset}",
        "IANA time-zone database",
    )


def _clock_change(change: Span, slot: Moment, timed: Timed) -> Finding:
    way = "forward" if change.minutes > 0 else "back"
    size = change if change.minutes > 0 else Span(-change.minutes)
    wall = Span((slot - timed.clinic).minutes + change.minutes)
    return Finding(
        "clock-change-between",
        Level.NOTE,
        f"The clocks in {slot.zone.city} go {way} by {size} between injection and slot: {slot - timed.clinic} of elapsed time,"
        f" {wall} when the two clock times are subtracted.",
        "Keep the printed clock time; it already counts the change.",
        "injection",
        "elapsed time, not clock time",
        "IANA time-zone database",
    )


def time_injections(
    case: Case, clinic: Clinic, slot: Slot | None
) -> tuple[Moment | None, dict[str, Timed], list[Finding]]:
    """The slot's moment, every injection's minute by its id, and what there is to say; an injection without a minute has a stop."""
    findings: list[Finding] = []
    slot_at: Moment | None = None
    if slot is not None:
        found = moment(slot.at, clinic.zone, f"slot {slot.id}")
        if isinstance(found, Finding):
            findings.append(found)
        else:
            slot_at = found
            findings += needless_which(slot.at, found, f"slot {slot.id}")
    timed: dict[str, Timed] = {}
    waiting = list(case.order.injections)
    while waiting:
        later = []
        for injection in waiting:
            if isinstance(injection.timing, After) and injection.timing.injection not in timed:
                later.append(injection)
                continue
            answer, said_of = _time_one(injection, case, clinic, slot, slot_at, timed)
            findings += [finding.at(f"injection {injection.id}") for finding in said_of]
            if answer is not None:
                timed[injection.id] = answer
        if len(later) == len(waiting):
            findings += [_no_first(injection) for injection in later]
            break
        waiting = later
    return slot_at, timed, findings


def _time_one(
    injection: Injection,
    case: Case,
    clinic: Clinic,
    slot: Slot | None,
    slot_at: Moment | None,
    timed: Mapping[str, Timed],
) -> tuple[Timed | None, list[Finding]]:
    timing = injection.timing
    match timing:
        case Lead(lead, _):
            if slot is None:
                return None, [_no_slot()]
            if slot_at is None:
                return None, []
            answer = Timed(slot_at.before(lead).seen_in(case.zone), slot_at.before(lead), lead)
        case After(first, gap, _):
            patient = timed[first].patient.after(gap)
            answer = Timed(
                patient, patient.seen_in(clinic.zone), slot_at - patient if slot_at else None, provisional=True
            )
        case _:
            found = moment(timing.at, case.zone, "clock time")
            if isinstance(found, Finding):
                return None, [found]
            answer = Timed(found, found.seen_in(clinic.zone), slot_at - found if slot_at else None)
            return answer, [*needless_which(timing.at, found, "clock time"), *clock_findings(answer, slot_at)]
    return answer, list(clock_findings(answer, slot_at))


def _no_slot() -> Finding:
    return Finding(
        "slot-missing",
        Level.STOP,
        "The order counts hours back from a slot, but this case has none.",
        "Ask theatre for the slot and write it under slots, or ask the prescriber for a clock time.",
        "slot",
        "a lead needs a slot",
        "signed order",
    )


def _no_first(injection: Injection) -> Finding:
    assert isinstance(injection.timing, After)
    return Finding(
        "first-without-time",
        Level.STOP,
        f"This repeat follows injection {injection.timing.injection}, which has no time.",
        "Settle the first injection's time; no injection may follow itself.",
        f"injection {injection.id}",
        "a repeat is counted from the actual first",
        "signed order",
    )


def timing_findings(
    case: Case,
    rules: Rules | None,
    slot: Slot | None,
    slot_at: Moment | None,
    timed: Mapping[str, Timed],
    as_of: Moment,
) -> Iterable[Finding]:
    """What there is to say of each injection's minute against the bands, the present, and the last antagonist."""
    for injection in case.order.injections:
        if injection.id not in timed:
            continue
        at = timed[injection.id]
        where = f"injection {injection.id}"
        for finding in (
            *_band(injection, case.order, rules, slot, at),
            *_past(at, slot_at, as_of),
            *_too_late_to_tell(at, rules, as_of),
        ):
            yield finding.at(where)
        if at.lead is not None and at.lead.minutes <= 0:
            yield _after_the_slot(at).at(where)
        if at.provisional:
            yield _provisional(injection, at).at(where)
    yield from _together(case.order, timed)
    yield from _antagonist(case, timed)


def _after_the_slot(at: Timed) -> Finding:
    return Finding(
        "injection-after-slot",
        Level.STOP,
        f"The injection would fall on the slot or after it: {at.patient.wall:%Y-%m-%d %H:%M} on the patient's clock.",
        "Ask the prescriber which time is meant.",
        "timing",
        "an injection comes before its slot",
        "signed order",
    )


def together(order: Order, timed: Mapping[str, Timed]) -> tuple[tuple[str, ...], ...]:
    """The ids of injections that fall on one minute, a group each, in the order of the file."""
    minutes: dict[str, list[str]] = {}
    for injection in order.injections:
        if injection.id in timed:
            minutes.setdefault(timed[injection.id].patient.utc, []).append(injection.id)
    return tuple(tuple(group) for group in minutes.values() if len(group) > 1)


def _together(order: Order, timed: Mapping[str, Timed]) -> Iterable[Finding]:
    """Injections on one minute need their sequence and the largest gap; a sequence must not contradict the minutes."""
    groups = together(order, timed)
    for group in groups:
        if not set(group) <= set(order.sequence) or len(set(order.sequence)) != len(order.sequence):
            yield Finding(
                "sequence-missing",
                Level.STOP,
                "Several injections fall on the same minute, and the order does not say which comes first.",
                f"Ask the prescriber and write sequence with each of them once: {', '.join(group)}.",
                "order",
                "nothing in an order is defaulted",
                "common practice, no source",
            )
    if groups and order.largest_gap is None:
        yield Finding(
            "largest-gap-missing",
            Level.STOP,
            "Several injections are given together, and the order does not say how far apart they may be.",
            'Ask the prescriber and write largest_gap, for example "15 min" if that is the answer.',
            "order",
            "nothing in an order is defaulted",
            "common practice, no source",
        )
    planned = [timed[name].patient.utc for name in order.sequence if name in timed]
    if planned != sorted(planned):
        yield Finding(
            "sequence-contradicts",
            Level.STOP,
            "The order's sequence contradicts its times.",
            "Ask the prescriber which is meant.",
            "order",
            "a sequence follows the times",
            "signed order",
        )


def _band(injection: Injection, order: Order, rules: Rules | None, slot: Slot | None, at: Timed) -> Iterable[Finding]:
    if order.purpose is not Purpose.TRIGGER or isinstance(injection.timing, After) or slot is None or at.lead is None:
        return
    lead = at.lead
    if lead.minutes <= 0:
        return
    if slot.kind is SlotKind.INSEMINATION:
        yield from _insemination(lead)
        return
    if order.cycle in (Cycle.NATURAL, Cycle.MILD):
        yield Finding(
            "lead-natural-cycle",
            Level.ASK,
            f"In a {order.cycle} cycle an own surge can come first; {lead} is the prescriber's to confirm each time.",
            "Ask the prescriber to confirm the lead against today's LH.",
            "timing",
            "no band is given for these cycles",
            "hourmark's own limits, derived from published intervals",
        )
        return
    found = _band_for(injection, order, rules)
    if found is None or rules is None:
        yield _unjudged(lead)
        return
    name, band = found
    level = band.level(lead)
    if level is None:
        return
    limits = {Level.NOTE: band.ok, Level.WARN: band.note, Level.STOP: band.warn}[level]
    yield Finding(
        {Level.NOTE: "lead-off-centre", Level.WARN: "lead-unusual", Level.STOP: "lead-outside-bands"}[level],
        Level.WARN if level is Level.STOP and injection.override is not None else level,
        f"The lead of {lead} lies outside {limits[0]} to {limits[1]}.",
        _override_text(injection)
        or {
            Level.NOTE: "Nothing to change; say it at the second check.",
            Level.WARN: "Ask the prescriber to confirm this lead.",
            Level.STOP: "Ask the prescriber; only a named prescriber can go past this, with a reason.",
        }[level],
        "timing",
        f"{limits[0]} to {limits[1]}, signed band {name}",
        f"clinic's rule, signed by {rules.signed_by} at {rules.signed_at}",
    )


def _unjudged(lead: Span) -> Finding:
    return Finding(
        "lead-unjudged",
        Level.ASK,
        f"No signed band judges this lead of {lead}.",
        "Ask the prescriber to confirm it, and have the clinic's lead sign the bands.",
        "timing",
        "an unsigned rule rules nothing",
        "hourmark's own rule",
    )


def _override_text(injection: Injection) -> str | None:
    override = injection.override
    return f"Overridden by {override.by} at {override.at}: {override.reason}." if override else None


def _insemination(lead: Span) -> Iterable[Finding]:
    least, most = facts("limits")["lead-insemination-from"], facts("limits")["lead-insemination-to"]
    if not least.value <= lead <= most.value:
        yield Finding(
            "lead-insemination",
            Level.NOTE,
            f"The lead of {lead} is outside what was studied for insemination.",
            "Say it to the prescriber.",
            "timing",
            f"{least.text} to {most.text}",
            least.cite(),
        )


def band_name(injection: Injection, order: Order) -> str:
    """The name of the signed band that judges an injection's lead."""
    kind = injection.drug.kind
    if order.double:
        return "double_agonist" if kind is Kind.AGONIST else "double_hcg"
    return "long_agonist" if order.cycle is Cycle.LONG_AGONIST and kind is Kind.HCG else "standard"


def _band_for(injection: Injection, order: Order, rules: Rules | None) -> tuple[str, Band] | None:
    name = band_name(injection, order)
    band: Band | None = getattr(rules.bands, name) if rules is not None else None
    return (name, band) if band is not None else None


def _past(at: Timed, slot_at: Moment | None, as_of: Moment) -> Iterable[Finding]:
    if slot_at is not None and slot_at < as_of:
        yield Finding(
            "slot-past",
            Level.STOP,
            f"The slot is already past at {as_of.wall:%Y-%m-%d %H:%M}.",
            "Check the slot's date and as_of.",
            "slot",
            "a plan is made before the slot",
            "common practice, no source",
        )
        return
    if as_of < at.patient:
        return
    late = as_of - at.patient
    if_now = f" Done now, the lead would be {slot_at - as_of}." if slot_at is not None else ""
    yield Finding(
        "injection-past",
        Level.ASK,
        f"The planned minute passed {late} ago.{if_now}",
        "Ask first whether it was done, when and how much; then ask the prescriber. Nothing is given again without a new order.",
        "timing",
        f"planned for {at.patient.wall:%Y-%m-%d %H:%M} on the patient's clock",
        "signed order",
    )


def _too_late_to_tell(at: Timed, rules: Rules | None, as_of: Moment) -> Iterable[Finding]:
    if rules is None or rules.tell_by is None or not as_of < at.patient:
        return
    tell_by = at.patient.before(rules.tell_by)
    if tell_by < as_of:
        yield Finding(
            "tell-by-past",
            Level.WARN,
            f"She should have been told by {tell_by.wall:%H:%M} on her clock; {at.patient - as_of} are left.",
            "Call now, second number and partner too; tell the prescriber if nobody is reached.",
            "timing",
            f"{rules.tell_by} before the injection",
            f"clinic's rule, signed by {rules.signed_by} at {rules.signed_at}",
        )


def _provisional(injection: Injection, at: Timed) -> Finding:
    assert isinstance(injection.timing, After)
    return Finding(
        "repeat-from-actual",
        Level.NOTE,
        f"This repeat is due {injection.timing.gap} after the ACTUAL time of injection {injection.timing.injection};"
        f" {at.patient.wall:%H:%M} holds only if that one is given on its minute.",
        "When the first is confirmed, compute the second again from the time she reports.",
        "timing",
        "{} to {} after the actual first".format(*injection.timing.window) if injection.timing.window else None,
        "signed order",
    )


def antagonist_gap(antagonist: Drug, last: Moment, trigger: Moment) -> tuple[Span, Finding | None]:
    """The elapsed time from the last antagonist to the trigger, and an ask when it is longer than that drug's limit."""
    gap, limit = trigger - last, antagonist.fact("gap")
    if gap.minutes < 0:
        return gap, Finding(
            "antagonist-after-trigger",
            Level.ASK,
            f"The last {antagonist.name} is entered as {Span(-gap.minutes)} after the trigger.",
            "Check both times; ask the prescriber whether another antagonist is wanted at all.",
            "last antagonist",
            "the last antagonist comes before the trigger",
            limit.cite() if limit else None,
        )
    if limit is None or gap <= limit.value:
        return gap, None
    return gap, Finding(
        "antagonist-gap",
        Level.ASK,
        f"{gap} lie between the last {antagonist.name} and the trigger.",
        "Ask the prescriber now whether another antagonist is wanted before the trigger; never double a dose.",
        "last antagonist",
        f"at most {limit.text}",
        limit.cite(),
    )


def _antagonist(case: Case, timed: Mapping[str, Timed]) -> Iterable[Finding]:
    if case.order.purpose is not Purpose.TRIGGER or not timed:
        return
    if case.last_antagonist is None:
        if case.order.cycle is Cycle.ANTAGONIST:
            yield Finding(
                "antagonist-time-missing",
                Level.ASK,
                "This is an antagonist cycle, but the time of the last antagonist is not entered.",
                "Ask her when the last one was and enter it as last_antagonist.",
                "case",
                "the gap to the trigger is limited",
                _strictest_gap(),
            )
        return
    last = moment(case.last_antagonist.at, case.zone, "last antagonist")
    if isinstance(last, Finding):
        yield last
        return
    first = min((at.patient for at in timed.values()), key=lambda at: at.at)
    _, finding = antagonist_gap(case.last_antagonist.drug, last, first)
    if finding is not None:
        yield finding


def _strictest_gap() -> str:
    gap = drug("ganirelix").fact("gap")
    return gap.cite() if gap else "not known"


def timing_working(injection: Injection, slot_at: Moment | None, at: Timed) -> Working:
    """How the minute came about."""
    match injection.timing:
        case Lead(lead, _) if slot_at is not None:
            inputs = (("slot", slot_at.local, "theatre list"), ("lead", str(lead), "order"))
            return Working("minute", "slot - lead, as elapsed time", inputs, at.patient.local)
        case After(first, gap, _):
            return Working(
                "minute", f"actual time of injection {first} + gap", (("gap", str(gap), "order"),), at.patient.local
            )
        case _:
            return Working(
                "minute", "clock time of the order", (("clock time", at.patient.local, "order"),), at.patient.local
            )
