"""The lead an injection really has, its place in the order's window and the signed bands, and the starts that would restore it."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from hourmark.clock import Moment, Span, WallTime, Zone, moment, needless_which
from hourmark.finding import Finding, Level, Working
from hourmark.formulary import facts as figures
from hourmark.incident.deciding import Limits, Reason, Who
from hourmark.incident.facts import Times
from hourmark.incident.leg import LeadNow, Leg, OpenStart, Proposal, Slots
from hourmark.incident.problems import contradicts, in_future
from hourmark.incident.words import moments, spans
from hourmark.order import After, Band, ClockTime, Cycle, Injection, Lead, Order, Purpose, Slot
from hourmark.order.clinic import SlotKind
from hourmark.plan import CasePlan, PlannedInjection, band_name

Ends = tuple[Moment, Moment]


@dataclass(frozen=True, slots=True)
class Read:
    """The reported time as moments, or what is wrong with it."""

    at: Ends | None
    problems: tuple[Finding, ...] = ()


def read_times(times: Times, zone: Zone, now: Moment) -> Read:
    """The reported clock time on her clock. A time that does not exist, happens twice or lies in the future is no time."""
    found: list[Moment] = []
    problems: list[Finding] = []
    for wall in dict.fromkeys((times.first, times.last)):
        at = _moment(wall, zone, "at")
        if isinstance(at, Finding):
            problems.append(at)
            continue
        problems += needless_which(wall, at, "at")
        if now < at:
            problems.append(
                in_future(
                    "at",
                    f"{wall} on the clock in {zone.city} has not come yet: it is {now.seen_in(zone).wall:%H:%M} there.",
                )
            )
        else:
            found.append(at)
    if len(found) == 2 and found[1] < found[0]:
        problems.append(contradicts("at", f"{times.first} is later than {times.last}."))
        found = []
    complete = found and not any(problem.level is Level.STOP for problem in problems)
    return Read((found[0], found[-1]) if complete else None, tuple(problems))


def _moment(wall: WallTime, zone: Zone, where: str) -> Moment | Finding:
    return moment(wall, zone, where)


def lead_now(
    one: PlannedInjection, plan: CasePlan, at: Ends, limits: Limits, given_at: Mapping[str, Moment], *, if_now: bool
) -> LeadNow:
    """Where an injection given at `at` stands."""
    injection, timed = one.injection, one.timed
    off = (at[0] - timed.patient, at[1] - timed.patient) if timed and not timed.provisional else None
    slot = plan.slot_at
    lead = (slot - at[1], slot - at[0]) if slot is not None else None
    match injection.timing:
        case Lead(_, window) if lead is not None and window is not None:
            name, level = _band(lead, injection, plan, limits)
            return LeadNow(at, off, lead, None, window, *_place(lead, window), name, level, if_now)
        case After(first, _, window) if first in given_at and window is not None:
            gap = (at[0] - given_at[first], at[1] - given_at[first])
            return LeadNow(at, None, lead, gap, window, *_place(gap, window), if_now=if_now)
        case ClockTime(_, window) if window is not None:
            opens, closes = moment(window[0], at[0].zone), moment(window[1], at[0].zone)
            if not isinstance(opens, Finding) and not isinstance(closes, Finding):
                since, width = (at[0] - opens, at[1] - opens), (Span(0), closes - opens)
                return LeadNow(at, off, lead, None, None, *_place(since, width), if_now=if_now)
    return LeadNow(at, off, lead, if_now=if_now)


def _place(counted: tuple[Span, Span], window: tuple[Span, Span]) -> tuple[bool, bool]:
    """Whether all of a time lies in the closed window, and whether none of it does."""
    return (
        window[0] <= counted[0] and counted[1] <= window[1],
        counted[1] < window[0] or window[1] < counted[0],
    )


def _band(
    lead: tuple[Span, Span], injection: Injection, plan: CasePlan, limits: Limits
) -> tuple[str | None, str | None]:
    """The band that judges these leads and how much the worse end weighs; no name where no band judges."""
    order = plan.case.order
    if not _judged_by_bands(order, plan.slot):
        return None, None
    name = band_name(injection, order)
    band: Band | None = getattr(limits.bands, name)
    if band is None:
        return name, "unsigned"
    return name, max((_weight(band, end) for end in lead), key=list(_WEIGHTS).index)


_WEIGHTS = ("ok", "note", "warn", "stop")


def _weight(band: Band, lead: Span) -> str:
    level = band.level(lead)
    return str(level) if level is not None else "ok"


def _judged_by_bands(order: Order, slot: Slot | None) -> bool:
    return (
        order.purpose is Purpose.TRIGGER
        and slot is not None
        and slot.kind is SlotKind.RETRIEVAL
        and order.cycle not in (Cycle.NATURAL, Cycle.MILD)
    )


def lead_reasons(one: PlannedInjection, plan: CasePlan, now: LeadNow, limits: Limits) -> Iterator[Reason]:
    """Who decides about this time, by the order's window, the signed bands, and the signed limits on lateness."""
    would = "Given at this moment, " if now.if_now else ""
    yield from _by_window(one, now, would)
    if now.lead is not None and now.band is not None:
        yield from _by_band(now, limits, would)
    elif now.lead is not None and plan.case.order.cycle in (Cycle.NATURAL, Cycle.MILD) and _moved(now):
        yield Reason(
            Who.PRESCRIBER,
            _opened(
                f"{would}the lead {_is(now)} {spans(now.lead)}, and in a {plan.case.order.cycle} cycle an own surge can come first."
            ),
            "no band is given for these cycles",
            "hourmark's own limits, derived from published intervals",
            "trouble-lead",
            Level.ASK,
        )
    yield from _by_lateness(now, limits)
    if plan.slot is not None and plan.slot.kind is SlotKind.INSEMINATION and now.lead is not None:
        least, most = figures("limits")["lead-insemination-from"], figures("limits")["lead-insemination-to"]
        if not (least.value <= now.lead[0] and now.lead[1] <= most.value):
            yield Reason(
                Who.PRESCRIBER,
                _opened(f"{would}the lead {_is(now)} {spans(now.lead)}, outside what was studied for insemination."),
                f"{least.text} to {most.text}",
                least.cite(),
                "trouble-lead",
                Level.ASK,
            )


def _is(now: LeadNow) -> str:
    return "would be" if now.if_now else "is"


def _opened(sentence: str) -> str:
    return sentence[0].upper() + sentence[1:]


def _moved(now: LeadNow) -> bool:
    return now.off is None or any(end.minutes for end in now.off)


def _by_window(one: PlannedInjection, now: LeadNow, would: str) -> Iterator[Reason]:
    timing = one.injection.timing
    counted = now.gap if isinstance(timing, After) else now.lead if isinstance(timing, Lead) else None
    name = "gap" if isinstance(timing, After) else "lead"
    if now.inside is None:
        yield Reason(
            Who.PRESCRIBER,
            "The time cannot be placed in the order's window: "
            + (
                "the actual time of the one before it is not known."
                if isinstance(timing, After)
                else "there is no window or no slot."
            ),
            "an order carries its own window",
            "signed order",
            "trouble-lead",
            Level.ASK,
        )
        return
    limit = "{} to {}".format(*timing.window) if timing.window else ""
    where = "inside" if now.inside else "outside" if now.outside else "not certainly inside"
    said = f"{name} {_is(now)} {spans(counted)}" if counted is not None else f"time {_is(now)} {moments(now.at)}"
    yield Reason(
        Who.NURSE if now.inside else Who.PRESCRIBER,
        _opened(f"{would}the {said}, {where} the order's own window.") + _edge(counted, now.window),
        limit,
        "signed order",
        "trouble-lead",
        Level.NOTE if now.inside else Level.ASK,
    )


def _by_band(now: LeadNow, limits: Limits, would: str) -> Iterator[Reason]:
    assert now.lead is not None
    assert now.band is not None
    if now.band_level == "unsigned":
        if _moved(now):
            yield Reason(
                Who.PRESCRIBER,
                f"No signed band judges a lead of {spans(now.lead)}.",
                "an unsigned rule rules nothing",
                "hourmark's own rule",
                "trouble-unsigned",
                Level.ASK,
            )
        return
    band: Band = getattr(limits.bands, now.band)
    level = now.band_level
    within = {"ok": band.ok, "note": band.note, "warn": band.warn, "stop": band.warn}[level or "stop"]
    words = {
        "ok": "inside the band that is silent",
        "note": "inside the band that is noted",
        "warn": "inside the band that the prescriber confirms",
        "stop": "outside every signed band",
    }[level or "stop"]
    yield Reason(
        Who.PRESCRIBER if level in ("warn", "stop") else Who.NURSE,
        _opened(f"{would}the lead {_is(now)} {spans(now.lead)}, {words}.") + _edge(now.lead, within),
        f"{within[0]} to {within[1]}, signed band {now.band}",
        limits.source,
        "trouble-lead",
        Level.ASK if level in ("warn", "stop") else Level.NOTE,
    )


def _edge(counted: tuple[Span, Span] | None, limits: tuple[Span, Span] | None) -> str:
    """Says when one end lies exactly on a limit: a minute further is another answer."""
    if counted is None or limits is None:
        return ""
    on = [end for end in dict.fromkeys(counted) if end in limits]
    return f" {on[0]} is the very edge of it." if on else ""


def _by_lateness(now: LeadNow, limits: Limits) -> Iterator[Reason]:
    noted, anew = limits.late_noted, limits.late_recomputed
    if now.off is None or now.off[1].minutes <= 0 or anew is None:
        return
    late = now.off[1]
    if late > anew:
        who, limit = Who.PRESCRIBER, f"more than {anew} late: the prescriber"
    elif noted is not None and late <= noted:
        who, limit = Who.NURSE, f"up to {noted} late: written down"
    else:
        who, limit = Who.NURSE, f"up to {anew} late: computed anew"
    yield Reason(
        who,
        f"It {'would be' if now.if_now else 'was'} {late} later than planned.",
        limit,
        limits.source,
        "trouble-late",
        Level.ASK if who is Who.PRESCRIBER else Level.NOTE,
    )


def slots_for(
    injection: Injection, at: Ends, clinic: Zone, opened: Sequence[Moment], *, if_now: bool
) -> tuple[Slots | None, Working | None]:
    """The starts that keep the order's window for an injection given between these two moments, and the open ones among them."""
    timing = injection.timing
    if not isinstance(timing, Lead) or timing.window is None:
        return None, None
    first, last = (one.seen_in(clinic) for one in at)
    earliest, latest = last.after(timing.window[0]), first.after(timing.window[1])
    certain = not latest < earliest
    inside = [
        OpenStart(start, (start - last, start - first))
        for start in opened
        if certain and not (start < earliest or latest < start)
    ]
    slots = Slots(
        earliest if certain else None,
        latest if certain else None,
        (first.after(timing.lead), last.after(timing.lead)),
        tuple(inside),
        if_now,
    )
    working = Working(
        "starts that restore the lead",
        "actual time + each end of the order's window, as elapsed time",
        (
            (
                "actual time",
                either_local((first, last)),
                "this moment, if it were given now" if if_now else "the caller",
            ),
            ("window", "{} to {}".format(*timing.window), "signed order"),
            ("lead", str(timing.lead), "signed order"),
        ),
        f"{slots.earliest.local} to {slots.latest.local}" if slots.earliest and slots.latest else "none is certain",
    )
    return slots, working


def either_local(ends: Ends) -> str:
    """One or two moments as RFC 3339."""
    first, last = (one.local for one in ends)
    return first if first == last else f"{first} to {last}"


def apart(plan: CasePlan, leg: Leg, others: Iterable[Leg]) -> Iterator[Reason]:
    """By the largest gap that the order allows between injections given together."""
    order, one = plan.case.order, leg.injection.id
    group = next((group for group in plan.together if one in group), ())
    if order.largest_gap is None or leg.lead is None:
        return
    for other in others:
        name = other.injection.id
        if name not in group or other.lead is None:
            continue
        ends = [abs((mine - theirs).minutes) for mine in leg.lead.at for theirs in other.lead.at]
        widest = Span(max(ends))
        within = widest <= order.largest_gap
        yield Reason(
            Who.NURSE if within else Who.PRESCRIBER,
            f"{one} and {name} {'would be' if leg.lead.if_now else 'are'} {widest} apart.",
            f"at most {order.largest_gap} apart",
            "signed order",
            "trouble-lead",
            Level.NOTE if within else Level.ASK,
        )


def lead_working(now: LeadNow, slot: Moment | None) -> Iterator[Working]:
    """How the lead came about."""
    if slot is None or now.lead is None:
        return
    inputs = (
        ("slot", slot.local, "theatre list"),
        ("time", either_local(now.at), "this moment, if it were given now" if now.if_now else "the caller"),
    )
    yield Working("lead", "slot - actual time, as elapsed time", inputs, spans(now.lead))


def left_to_inject(one: PlannedInjection, plan: CasePlan, now: Moment, given_at: Mapping[str, Moment]) -> Span | None:
    """How long the order still allows this injection; negative when that is past, None where there is no end."""
    match one.injection.timing:
        case Lead(_, window) if window is not None and plan.slot_at is not None:
            return plan.slot_at.before(window[0]) - now
        case After(first, _, window) if window is not None and first in given_at:
            return given_at[first].after(window[1]) - now
        case ClockTime(_, window) if window is not None:
            last = moment(window[1], plan.case.zone)
            return None if isinstance(last, Finding) else last - now
    return None


def proposals(plan: CasePlan, first: str, at: Ends) -> Iterable[Proposal]:
    """Where the injections that the order counts from this one would move."""
    for one in plan.injections:
        timing = one.injection.timing
        if isinstance(timing, After) and timing.injection == first:
            window = (at[1].after(timing.window[0]), at[0].after(timing.window[1])) if timing.window else None
            if window is not None and window[1] < window[0]:
                window = None
            yield Proposal(one.injection, first, (at[0].after(timing.gap), at[1].after(timing.gap)), window)
