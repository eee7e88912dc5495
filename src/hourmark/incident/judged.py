"""Who decides about the dose and about what else was reported."""

from collections.abc import Iterator

from hourmark.clock import Moment
from hourmark.dose import Given
from hourmark.finding import Level, Unreadable
from hourmark.formulary import Kind as DrugKind
from hourmark.formulary import drug
from hourmark.incident.deciding import Limits, Reason, Who
from hourmark.incident.facts import Facts
from hourmark.incident.kinds import Kind
from hourmark.incident.medicine import is_another, is_ordered
from hourmark.incident.words import doses, shares
from hourmark.order import Injection, Order
from hourmark.quantity import Share

_SIGNED = "signed order"
_OURS = "hourmark's own rule"


def dose_reasons(
    injection: Injection, given: Given | None, share: tuple[Share, Share] | None, limits: Limits
) -> Iterator[Reason]:
    """By the order, and by the clinic's signed limit on how far a dose may be from it."""
    if given is None:
        yield Reason(
            Who.PRESCRIBER,
            "How much went in is not known.",
            f"{injection.dose} ordered",
            _SIGNED,
            "trouble-dose",
            Level.ASK,
        )
        return
    if share is None:
        yield Reason(
            Who.PRESCRIBER,
            f"{doses(given)} went in, and the order counts in another unit: no share can be said, and nothing is converted.",
            f"{injection.dose} ordered",
            _SIGNED,
            "trouble-dose",
            Level.ASK,
        )
        return
    if all(end.value == 1 for end in share):
        yield Reason(
            Who.NURSE,
            f"{doses(given)} went in, as ordered.",
            f"{injection.dose} ordered",
            _SIGNED,
            "trouble-dose",
            Level.NOTE,
        )
        return
    said = f"{doses(given)} went in, {shares(share)} of the order."
    if limits.dose is None:
        yield Reason(
            Who.PRESCRIBER,
            f"{said} No signed rule says how far a dose may be from the order.",
            f"{injection.dose} ordered",
            _SIGNED,
            "trouble-dose",
            Level.ASK,
        )
        return
    within = all(abs(end.value - 1) <= limits.dose.value for end in share)
    yield Reason(
        Who.NURSE if within else Who.PRESCRIBER,
        said,
        f"within {limits.dose} of {injection.dose}",
        limits.source,
        "trouble-dose",
        Level.NOTE if within else Level.ASK,
    )


def kind_reasons(kind: Kind, injection: Injection, facts: Facts, order: Order) -> Iterator[Reason]:
    """By what else was reported."""
    if kind is Kind.WRONG_PRODUCT and is_another(kind, facts, injection):
        yield _asked("trouble-product", _in_its_place(injection, facts, order), "the ordered medicine", _SIGNED)
        return
    if facts.route is not None:
        same = facts.route == injection.route
        yield Reason(
            Who.NURSE if same else Who.PRESCRIBER,
            f"It went in {facts.route}{', as ordered' if same else f'; {injection.route} was ordered'}.",
            f"{injection.route}",
            _SIGNED,
            "trouble-route",
            Level.NOTE if same else Level.ASK,
        )
    match kind:
        case Kind.WRONG_ROUTE if facts.route is None:
            yield _asked("trouble-route", "By which route it went in is not known.", injection.route, _SIGNED)
        case Kind.REPEATED:
            yield _asked(
                "trouble-repeated", "It is said to have been injected more than one time.", "one time", _SIGNED
            )
        case Kind.WRONG_PRODUCT:
            why = "Another product or strength than the planned one was taken."
            yield _asked("trouble-product", why, "the planned box", _SIGNED)
        case Kind.WRONG_WATER:
            why = "Another amount of water than the planned one went in."
            yield _asked("trouble-product", why, "the planned mix", _SIGNED)
        case Kind.STORAGE:
            why = "Whether the medicine still works is not a matter of arithmetic: its label and its maker say how it is kept."
            yield _asked("trouble-kept", why, "the label", "product label")
        case Kind.OTHER_DRUG:
            yield _asked("trouble-other-drug", _other_drug(facts, order), "the order", _SIGNED)


def _asked(code: str, why: str, limit: str, source: str) -> Reason:
    return Reason(Who.PRESCRIBER, why, limit, source, code, Level.ASK)


def _other_drug(facts: Facts, order: Order) -> str:
    said = (
        f'Another medicine was taken: "{facts.drug}".'
        if facts.drug
        else "Another medicine was taken; which is not known."
    )
    return said + _known_of(facts, order)


def _in_its_place(injection: Injection, facts: Facts, order: Order) -> str:
    how = "is in the syringe" if facts.injected is False else "was taken"
    said = f'Another medicine than the ordered one {how}: "{facts.drug}". It gave nothing of {injection.drug.name}.'
    also = [one.id for one in order.injections if one is not injection and is_ordered(facts.drug, one.drug.name)]
    if also:
        said += (
            f" It is ordered too, as {' and '.join(also)}: whether this was that one or came beside it is not known."
        )
    return said + _known_of(facts, order)


def _known_of(facts: Facts, order: Order) -> str:
    """What the order and the formulary say of another medicine by its name."""
    said = ""
    name = (facts.drug or "").lower()
    if any(name and (name in item.lower() or item.lower() in name) for item in order.stop):
        said += " It is on the order's stop-list."
    try:
        taken = drug(facts.drug)
    except Unreadable:
        return said
    if taken.kind is DrugKind.AGONIST and not (order.cycle and order.cycle.suppressed):
        said += " A GnRH agonist can itself act as a trigger: the hours may count from then (from memory)."
    return said


def still_to_come(due: Moment | None) -> Reason:
    """Nothing has gone in yet, and the released page holds; `due` is the planned minute where that is still to come."""
    when = f" It is due at {due.wall:%H:%M} on her clock." if due is not None else ""
    return Reason(
        Who.NURSE,
        f"Nothing has gone in.{when}",
        "by a released page that holds",
        _SIGNED,
        "trouble-not-given",
        Level.NOTE,
    )


def open_reason(why: str) -> Reason:
    """Something that nobody could say: without it no rule judges."""
    return Reason(Who.PRESCRIBER, why, "what is not known is asked", _OURS, "trouble-unknown", Level.ASK)
