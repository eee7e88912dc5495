"""The answer to a call in lines: for the page, for the note, and for the one screen that the prescriber gets."""

from collections.abc import Iterator
from dataclasses import dataclass

from hourmark.clock import Moment, Span, said
from hourmark.handout.staff import take
from hourmark.incident import KIND_WORDS, Answer, Facts, LeadNow, Leg, Slots, State
from hourmark.incident.calls import Asked
from hourmark.incident.words import doses, instead, instead_at, moments, shares, spans, unopened, volumes
from hourmark.order import After, ClockTime, Injection, Lead, Rules
from hourmark.plan import CasePlan, PlannedInjection

_PLACES = {(True, False): "inside", (False, True): "OUTSIDE"}


@dataclass(frozen=True, slots=True)
class Line:
    """One line of an answer: what it is, the number or words, and whether it is one that is read first."""

    name: str
    words: str
    first: bool = False


def leg_lines(leg: Leg) -> tuple[Line, ...]:
    """One injection in lines, what is read first before the rest."""
    return tuple(sorted(_leg(leg), key=lambda line: not line.first))


def _leg(leg: Leg) -> Iterator[Line]:
    yield Line("Ordered", ordered(leg.injection))
    if leg.given is not None:
        share = f", {shares(leg.share)} of the order" if leg.share else ""
        yield Line("Went in", f"{doses(leg.given)}{share}", first=True)
    elif leg.state in (State.GIVEN, State.NOT_KNOWN):
        yield Line("Went in", "not known", first=True)
    if leg.another is not None:
        yield Line("Instead, as told", instead(leg.another), first=True)
        if (then := instead_at(leg.another)) is not None:
            yield Line("That went in", then)
    if leg.holds is not None:
        yield Line("In the syringe, not injected", doses(leg.holds), first=True)
    if leg.lead is not None:
        yield from _lead(leg.lead)
    if leg.slots is not None:
        yield from _slots(leg.slots)
    if leg.left_to_inject is not None:
        yield Line("The order still allows it for", minutes_left(leg.left_to_inject), first=True)
    if leg.left.vials is not None or leg.left.dose is not None:
        yield Line("Left in the vials", f"{_vials(leg)}: it is kept, and not injected")
    if leg.left.syringe is not None:
        yield Line("Left in the syringe", volumes(leg.left.syringe))


def _vials(leg: Leg) -> str:
    parts = [volumes(leg.left.vials)] if leg.left.vials is not None else []
    parts += [doses(leg.left.dose)] if leg.left.dose is not None else []
    return ", ".join(parts)


def ordered(injection: Injection) -> str:
    """What the order says of an injection, in its own words."""
    dose = f"{injection.drug.name} {injection.dose}, {injection.route}"
    match injection.timing:
        case Lead(lead, window):
            return f"{dose}, {lead} before the slot{_allowed(window)}"
        case After(first, gap, window):
            return f"{dose}, {gap} after the actual {first}{_allowed(window)}"
        case ClockTime(at, _):
            return f"{dose}, at {at}"


def _allowed(window: tuple[Span, Span] | None) -> str:
    return f" ({window[0]} to {window[1]} allowed)" if window else ""


def minutes_left(left: Span) -> str:
    """How long there is; said so where it is past."""
    return str(left) if left.minutes >= 0 else "no longer: its window is past"


def _lead(now: LeadNow) -> Iterator[Line]:
    yield Line("If it were given now" if now.if_now else "Time", moments(now.at))
    if now.lead is not None:
        yield Line("Hours to the slot, if now" if now.if_now else "Hours to the slot", spans(now.lead), first=True)
    if now.gap is not None:
        yield Line("After the one before it", spans(now.gap), first=True)
    if now.window is not None and now.inside is not None:
        place = _PLACES.get((now.inside, bool(now.outside)), "not certainly inside")
        yield Line("Order's own window", f"{now.window[0]} to {now.window[1]}: {place}")
    if now.band is not None:
        yield Line("Clinic's signed bands", _BANDS[now.band_level or "unsigned"])


_BANDS = {
    "ok": "inside the band that is silent",
    "note": "inside the band that is noted",
    "warn": "inside the band that the prescriber confirms",
    "stop": "outside every band",
    "unsigned": "none is signed for this: the prescriber",
}


def _slots(slots: Slots) -> Iterator[Line]:
    if slots.earliest is None or slots.latest is None:
        yield Line("Starts that restore the window", "none is certain: the time is too wide")
    else:
        yield Line("Starts that restore the window", f"from {clock_of(slots.earliest)} to {clock_of(slots.latest)}")
    yield Line("The ordered hours exactly", " to ".join(dict.fromkeys(map(clock_of, slots.restored))))
    for one in slots.open:
        yield Line("Open start", f"{clock_of(one.at)}, {spans(one.lead)} to it")


def clock_of(at: Moment) -> str:
    """A moment short: "Fri 20 Nov 13:00"."""
    return f"{at.wall:%a} {at.wall.day} {at.wall:%b %H:%M}" + (f" {at.which.upper()}" if at.which else "")


def short(answer: Answer) -> str:
    """The numbers in one line, for the record of who was told."""
    parts = [KIND_WORDS[answer.kind]]
    for leg in answer.legs:
        told = [f"{line.name.lower()} {line.words}" for line in leg_lines(leg) if line.first]
        parts.append(f"{leg.injection.id}: {', '.join(told)}" if told else f"{leg.injection.id}: {leg.state}")
    return "; ".join(parts)


def common_line(answer: Answer) -> Line | None:
    """The starts that keep the window of every injection, or that none does; nothing where there is one injection alone."""
    if answer.common is not None:
        return Line("Starts that keep every window", " to ".join(map(clock_of, answer.common)), first=True)
    if len([leg for leg in answer.legs if leg.slots is not None]) > 1:
        return Line("Starts that keep every window", "none is certain to", first=True)
    return None


def message(answer: Answer, facts: Facts, slot: Moment | None, page: str, own: str = "") -> str:
    """The prescriber's one screen: what was said, the numbers, the window, and what needs a yes. It proposes no dose.

    By ids alone, but for the caller's `own` words, which stand there as they were said.
    """
    return "\n".join(_message(answer, facts, slot, page, own))


def _message(answer: Answer, facts: Facts, slot: Moment | None, page: str, own: str) -> Iterator[str]:
    yield f"Case {answer.case}, {clock_of(answer.at)} {answer.at.zone.city}: {KIND_WORDS[answer.kind]}"
    yield "She says: " + "; ".join(f"{key} {words}" for key, words in facts.said if key != "symptoms")
    if own:
        yield f"In her own words: \u201c{own}\u201d"
    if page:
        yield page
    for leg in answer.legs:
        yield f"[{leg.injection.id}] {leg.state}"
        yield from (f"- {line.name}: {line.words}" for line in leg_lines(leg))
    if (common := common_line(answer)) is not None:
        yield f"{common.name}: {common.words}"
    for one in answer.proposals:
        yield f"- {one.injection.id} is counted from it, and would move to {moments(one.at)}: not before a new page"
    if slot is not None and answer.to_slot is not None:
        yield f"Slot: {said(slot)}, in {answer.to_slot}"
    if answer.spare:
        yield "Unopened at home: " + "; ".join(map(unopened, answer.spare))
    if answer.as_planned:
        yield "As on her page, not asked: " + "; ".join(answer.as_planned)
    if answer.not_known:
        yield "Not known: " + "; ".join(answer.not_known)
    yield from _options(answer, holds=not page)


def _options(answer: Answer, *, holds: bool) -> Iterator[str]:
    """What can be answered with a yes; every dose is the prescriber's own."""
    yield "Your yes or no, please:"
    options = ["It stays as it is, with this slot."]
    if any(leg.slots is not None and leg.slots.earliest is not None for leg in answer.legs):
        options.append("Theatre is asked for a start inside the window above.")
    if holds and any(leg.left_to_inject is not None and leg.left_to_inject.minutes >= 0 for leg in answer.legs):
        options.append("The order that stands is still carried out, on her page as it is.")
    options += [
        "A new order of yours, by telephone, word for word and read back.",
        "Blood is drawn in the morning, and read against these hours.",
    ]
    yield from (f"{number}. {words}" for number, words in enumerate(options, 1))
    yield "Nothing is given, repeated or moved before you have said so."


# What is asked before anything has gone wrong


def asked_lines(plan: CasePlan, rules: Rules | None, asked: Asked) -> tuple[Line, ...]:
    """What a caller asks for, from the plan: each number stands there already, or there is none."""
    return tuple(_asked(plan, rules, asked))


def _asked(plan: CasePlan, rules: Rules | None, asked: Asked) -> Iterator[Line]:
    match asked:
        case Asked.FASTING:
            yield from _fasting(plan, rules)
        case Asked.PEN:
            yield Line("The pen", "no pen is in the plan of this case: what it shows is read off by the pharmacist")
        case _:
            for one in plan.injections:
                yield from _of_injection(one, plan, asked)


def _of_injection(one: PlannedInjection, plan: CasePlan, asked: Asked) -> Iterator[Line]:
    name, timing = one.injection.id, one.injection.timing
    match asked:
        case Asked.MARK:
            yield Line(name, ordered(one.injection))
            if one.box is not None and one.diluent is not None:
                yield Line("Water into each vial", f"{one.diluent}, by the {one.diluent_by}")
            yield Line(
                "To take", take(one) if one.drawn is not None and not one.drawn.stopped else "refused", first=True
            )
        case Asked.MINUTE:
            yield Line(name, said(one.timed.patient) if one.timed else "no minute", first=True)
        case Asked.WINDOW if isinstance(timing, Lead) and timing.window is not None and plan.slot_at is not None:
            opens, closes = (plan.slot_at.before(end).seen_in(plan.case.zone) for end in reversed(timing.window))
            yield Line(name, f"from {clock_of(opens)} to {clock_of(closes)} on her clock", first=True)
            yield Line("By the order", f"{timing.window[0]} to {timing.window[1]} before the slot")
        case Asked.WINDOW:
            yield Line(name, "the order has no hours to the slot for it")
        case Asked.SECOND_DOSE if isinstance(timing, After):
            yield Line(name, f"{timing.gap} after the actual {timing.injection}{_allowed(timing.window)}", first=True)
            if one.timed is not None:
                yield Line("As planned", said(one.timed.patient))


def _fasting(plan: CasePlan, rules: Rules | None) -> Iterator[Line]:
    spans_signed = (rules.fasting_solids, rules.fasting_clear) if rules is not None else (None, None)
    for name, span, at in zip(("Nothing solid from", "Nothing to drink from"), spans_signed, plan.fasting, strict=True):
        words = f"{clock_of(at)}, {span} before the slot (signed rule)" if at and span else "nobody has signed a rule"
        yield Line(name, words, first=True)
    if plan.arrival is not None:
        yield Line("She arrives", clock_of(plan.arrival))
