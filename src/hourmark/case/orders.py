"""Orders: signed, taken by telephone, countersigned, withdrawn. A new one takes the place of the old, which stays readable."""

from dataclasses import dataclass

from hourmark.case import events as e
from hourmark.case.asked import Asked, Refused, Role, refused
from hourmark.case.opening import not_open, nothing_changed
from hourmark.case.rests import voided_by
from hourmark.case.state import CaseState


@dataclass(frozen=True, slots=True)
class SignOrder:
    """Sign an order, as in a night file."""

    case: str
    order: e.Table


@dataclass(frozen=True, slots=True)
class TelephoneOrder:
    """Take an order by telephone: its words as spoken, and whether they were read back and confirmed."""

    case: str
    order: e.Table
    words: str
    read_back: bool
    second_listener: str | None = None


@dataclass(frozen=True, slots=True)
class CountersignOrder:
    """Sign an order that was taken by telephone."""

    case: str
    version: int


@dataclass(frozen=True, slots=True)
class WithdrawOrder:
    """Take the order back."""

    case: str
    version: int
    why: str


def sign_order(state: CaseState, command: SignOrder, asked: Asked) -> tuple[e.CaseEvent, ...] | Refused:
    """The order holds; a sheet that rested on another is void. Signing just what was taken by telephone countersigns it."""
    if refusal := not_open(state, command.case) or _not_prescriber(asked):
        return refusal
    if command.order["signed_by"] != asked.by:
        return refused(
            "order-by-other",
            f"The order names {command.order['signed_by']}, and {asked.by} is signing.",
            "Each prescriber signs their own orders; a spoken one is taken by telephone.",
            "an order is signed by whoever gives it",
        )
    held = state.order
    if held is not None and held.event.order == command.order:
        owed = held.awaits_signature
        return (e.OrderCountersigned(held.event.version, asked.by),) if owed else nothing_changed("order")
    signed = e.OrderSigned(len(state.orders) + 1, command.order)
    return (signed, *voided_by(state, {"order": command.order}, "a new order was signed"))


def telephone_order(state: CaseState, command: TelephoneOrder, asked: Asked) -> tuple[e.CaseEvent, ...] | Refused:
    """The order holds and awaits its countersignature; a sheet that rested on another is void."""
    if refusal := not_open(state, command.case) or _not_new(state, command.order):
        return refusal
    if asked.role not in (Role.NURSE, Role.PHARMACIST):
        return refused(
            "telephone-order-role",
            f"An order by telephone is taken by a nurse or a pharmacist, not in the role of {asked.role}.",
            "A prescriber who is here signs the order instead.",
            "who takes orders by telephone",
        )
    if not command.words.strip() or not command.read_back:
        return refused(
            "telephone-order-unread",
            "The words of the order are missing, or were not read back to the prescriber and confirmed.",
            "Write them down word for word and read them back; if they are unclear, have a second person listen.",
            "a telephone order is written down and read back",
        )
    taken = e.OrderTelephoned(len(state.orders) + 1, command.order, command.words, command.second_listener)
    return (taken, *voided_by(state, {"order": command.order}, "a new order was taken by telephone"))


def countersign_order(state: CaseState, command: CountersignOrder, asked: Asked) -> tuple[e.CaseEvent, ...] | Refused:
    """The order taken by telephone is signed; nothing else changes. Also one that another has replaced since, or of a closed case."""
    if refusal := (not_open(state, command.case) if not state.there else None) or _not_prescriber(asked):
        return refusal
    order = next((one for one in state.orders if one.event.version == command.version), None)
    if order is None or not order.awaits_signature:
        return nothing_changed("order")
    if order.event.order["signed_by"] != asked.by:
        return refused(
            "order-by-other",
            f"Order {command.version} was given by {order.event.order['signed_by']}, and {asked.by} is signing.",
            "Whoever gave the order signs it.",
            "an order is signed by whoever gives it",
        )
    return (e.OrderCountersigned(command.version, asked.by),)


def withdraw_order(state: CaseState, command: WithdrawOrder, asked: Asked) -> tuple[e.CaseEvent, ...] | Refused:
    """There is no order; a sheet that rested on it is void."""
    if refusal := not_open(state, command.case) or _not_prescriber(asked):
        return refusal
    if state.order is None or state.order.event.version != command.version:
        return nothing_changed("order")
    void = voided_by(state, {"order": None}, f"the order was withdrawn: {command.why}")
    return (e.OrderWithdrawn(command.version, asked.by, command.why), *void)


def _not_prescriber(asked: Asked) -> Refused | None:
    if asked.role is Role.PRESCRIBER:
        return None
    return refused(
        "order-role",
        f"{asked.by} acts in the role of {asked.role}, and orders are a prescriber's.",
        "Have the prescriber sign, or take the order by telephone.",
        "orders are signed by a prescriber",
    )


def _not_new(state: CaseState, order: e.Table) -> Refused | None:
    return nothing_changed("order") if state.order is not None and state.order.event.order == order else None
