"""How a case stands: the fold of its events. Nothing here is computed anew; what was decided then is what was recorded."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Generic, TypeVar

from hourmark.case import events as e
from hourmark.case.shapes import Recorded

F = TypeVar("F")

ANOTHER_LINK = "another took its place"
"""Why a link is revoked by the one that follows it."""


@dataclass(frozen=True, slots=True)
class Kept(Generic[F]):
    """An event together with its number, when it was recorded and by whom."""

    event: F
    seq: int
    at: e.Instant
    actor: str


@dataclass(frozen=True, slots=True)
class OrderStanding:
    """An order as it stands: `telephoned` until somebody countersigned it."""

    event: e.OrderSigned | e.OrderTelephoned
    seq: int
    at: e.Instant
    actor: str
    countersigned_by: str | None = None
    withdrawn: bool = False

    @property
    def awaits_signature(self) -> bool:
        """Whether it was taken by telephone and not yet signed."""
        return isinstance(self.event, e.OrderTelephoned) and self.countersigned_by is None and not self.withdrawn


@dataclass(frozen=True, slots=True)
class SheetStanding:
    """A sheet that was released, and what voided it, if anything did."""

    event: e.SheetIssued
    seq: int
    at: e.Instant
    actor: str
    voided: Kept[e.SheetVoided] | None = None


@dataclass(frozen=True, slots=True)
class LinkStanding:
    """A link that was given, and whether it was revoked; `replaced` where that was because another took its place."""

    event: e.LinkGiven
    at: e.Instant
    actor: str
    revoked: bool = False
    replaced: bool = False


@dataclass(frozen=True, slots=True)
class CaseState:
    """One case as it stands after all that was recorded of it.

    `closed_entry` is the entry that closed it last, at `closed_at`, and `heard_entry` the last one since then that somebody has to look at.
    `changed_at` is when something that its page is made of last changed, and `opened_by` are those who saw the plan since. `owed` are the
    rungs of the ladder that the watch put on record, `waiting` what she asked for on her phone and nobody has answered.
    """

    id: str = ""
    details: e.Table = None  # type: ignore[assignment] # a case that was never opened has none
    closed: bool = False
    closed_entry: int = 0
    closed_at: e.Instant = ""
    heard_entry: int = 0
    slot: e.SlotGiven | None = None
    orders: tuple[OrderStanding, ...] = ()
    kits: int = 0
    kit: e.KitRead | None = None
    cartons: tuple[Kept[e.CartonChecked], ...] = ()
    changed_at: e.Instant = ""
    opened_by: frozenset[str] = frozenset()
    check: Kept[e.SecondChecked] | None = None
    calls: tuple[Kept[e.CallTried], ...] = ()
    read_back: Kept[e.ReadBack] | None = None
    notes: tuple[Kept[e.CallNoted], ...] = ()
    unreached_told: tuple[Kept[e.UnreachedTold], ...] = ()
    permissions: e.PermissionsSet | None = None
    sheets: tuple[SheetStanding, ...] = ()
    mailed: tuple[int, ...] = ()
    confirmations: tuple[Kept[e.Confirmed], ...] = ()
    escalations: tuple[Kept[e.Escalated], ...] = ()
    owed: tuple[Kept[e.EscalationOwed], ...] = ()
    incidents: tuple[Kept[e.IncidentNoted], ...] = ()
    results: tuple[Kept[e.ResultEntered], ...] = ()
    links: tuple[LinkStanding, ...] = ()
    boxes: tuple[Kept[e.BoxesRead], ...] = ()
    waiting: tuple[Kept[e.HelpAsked], ...] = ()

    @property
    def there(self) -> bool:
        """Whether the case was ever opened."""
        return bool(self.id)

    @property
    def order(self) -> OrderStanding | None:
        """The order that holds; None where there is none or the last was withdrawn."""
        return self.orders[-1] if self.orders and not self.orders[-1].withdrawn else None

    @property
    def sheet(self) -> SheetStanding | None:
        """The sheet that holds; None where none was released or the last is void."""
        return self.sheets[-1] if self.sheets and self.sheets[-1].voided is None else None

    @property
    def problems(self) -> tuple[Kept[e.IncidentNoted], ...]:
        """The incidents that are not settled, and of one call the last report alone."""
        ends = [one for one in self.incidents if one.event.settled or one.event.settles is not None]
        return tuple(
            one for one in self.incidents if not one.event.settled and not any(_ends(end, one) for end in ends)
        )

    @property
    def heard_again(self) -> bool:
        """Whether something was heard of it after it was closed: whoever closes it again has looked at it."""
        return self.closed and self.heard_entry > self.closed_entry

    @property
    def late_results(self) -> tuple[Kept[e.ResultEntered], ...]:
        """What came from the laboratory after the case was closed, and nobody has seen yet: whoever closes it again has."""
        return tuple(one for one in self.results if self.closed and one.seq > self.closed_entry)


EMPTY = CaseState()


def fold_case(records: Iterable[Recorded], state: CaseState = EMPTY) -> CaseState:
    """The case after these events."""
    for record in records:
        state = after(state, record)
    return state


def after(state: CaseState, record: Recorded) -> CaseState:
    """The case after one event more. Raises ValueError for an event that no case has."""
    changed = _after(state, record)
    return replace(changed, heard_entry=record.seq) if state.closed and is_news(record.event) else changed


def is_news(event: object) -> bool:
    """Whether somebody has to look at it, also where the case is closed."""
    if isinstance(event, e.IncidentNoted):
        return not event.settled
    return isinstance(event, e.Confirmed | e.ConfirmationWithdrawn | e.ResultEntered)


def _after(state: CaseState, record: Recorded) -> CaseState:
    match record.event:
        case e.CaseOpened(case, details):
            return CaseState(id=case, details=details, changed_at=record.at)
        case e.DetailsChanged(details):
            return _replanned(state, record, details=details)
        case e.CaseClosed():
            return replace(state, closed=True, closed_entry=record.seq, closed_at=record.at)
        case e.SlotGiven() as given:
            return _replanned(state, record, slot=given)
        case e.SlotTaken():
            return _replanned(state, record, slot=None)
        case e.OrderSigned() | e.OrderTelephoned() as order:
            standing = OrderStanding(order, record.seq, record.at, record.actor)
            return _replanned(state, record, orders=(*state.orders, standing))
        case e.OrderCountersigned(version, by):
            return replace(state, orders=_changed(state.orders, version, countersigned_by=by))
        case e.OrderWithdrawn(version):
            return _replanned(state, record, orders=_changed(state.orders, version, withdrawn=True))
        case e.KitRead() as kit:
            return _replanned(state, record, kit=kit, kits=kit.version, cartons=())
        case e.CartonChecked() as carton:
            return replace(state, cartons=(*state.cartons, _kept(record, carton)))
        case e.PlanOpened():
            return replace(state, opened_by=state.opened_by | {record.actor})
        case e.SecondChecked() as check:
            return replace(state, check=_kept(record, check))
        case e.CallTried() as call:
            return replace(state, calls=(*state.calls, _kept(record, call)))
        case e.ReadBack() as heard:
            return replace(state, read_back=_kept(record, heard))
        case e.CallNoted() as note:
            return replace(state, notes=(*state.notes, _kept(record, note)))
        case e.UnreachedTold() as told:
            return replace(state, unreached_told=(*state.unreached_told, _kept(record, told)))
        case e.PermissionsSet() as permissions:
            return replace(state, permissions=permissions)
        case e.MailAsked(version):
            return replace(state, mailed=(*state.mailed, version))
        case e.SheetIssued() as issued:
            sheet = SheetStanding(issued, record.seq, record.at, record.actor)
            return replace(state, sheets=(*state.sheets, sheet))
        case e.SheetVoided(version) as voided:
            why = _kept(record, voided)
            sheets = tuple(replace(one, voided=why) if one.event.version == version else one for one in state.sheets)
            return replace(state, sheets=sheets)
        case e.Confirmed() as confirmed:
            return replace(state, confirmations=(*state.confirmations, _kept(record, confirmed)))
        case e.ConfirmationWithdrawn(entry):
            return replace(state, confirmations=tuple(one for one in state.confirmations if one.seq != entry))
        case e.Escalated() as told:
            return replace(state, escalations=(*state.escalations, _kept(record, told)))
        case e.EscalationOwed() as owed:
            return replace(state, owed=(*state.owed, _kept(record, owed)))
        case e.LinkGiven() as link:
            return replace(state, links=(*state.links, LinkStanding(link, record.at, record.actor)))
        case e.LinkRevoked(number, why):
            return replace(state, links=_revoked(state.links, number, replaced=why == ANOTHER_LINK))
        case e.BoxesRead() as boxes:
            return replace(state, boxes=(*state.boxes, _kept(record, boxes)))
        case e.HelpAsked() as help_asked:
            return replace(state, waiting=(*state.waiting, _kept(record, help_asked)))
        case e.HelpGiven(entry):
            return replace(state, waiting=tuple(one for one in state.waiting if one.seq != entry))
        case e.IncidentNoted() as incident:
            return replace(state, incidents=(*state.incidents, _kept(record, incident)))
        case e.ResultEntered() as result:
            return replace(state, results=(*state.results, _kept(record, result)))
        case e.ResultWithdrawn(entry):
            return replace(state, results=tuple(one for one in state.results if one.seq != entry))
        case other:
            raise ValueError(f"{type(other).__name__} is not an event of a case.")


def _ends(end: Kept[e.IncidentNoted], one: Kept[e.IncidentNoted]) -> bool:
    """Whether one incident is settled by another."""
    if end.event.settles is not None:
        return end.event.settles == one.seq
    return end.seq > one.seq and end.event.injection == one.event.injection


def _revoked(links: tuple[LinkStanding, ...], number: int, *, replaced: bool) -> tuple[LinkStanding, ...]:
    """The links once one of them is revoked: by hand, the ones that it replaced are meant as well."""
    ended = next((one for one in links if one.event.number == number), None)
    if ended is None:
        return links
    kept = (
        links
        if replaced
        else tuple(replace(one, replaced=False) if one.event.kind == ended.event.kind else one for one in links)
    )
    return tuple(replace(one, revoked=True, replaced=replaced) if one.event.number == number else one for one in kept)


def _kept(record: Recorded, event: F) -> Kept[F]:
    return Kept(event, record.seq, record.at, record.actor)


def _replanned(state: CaseState, record: Recorded, **change: object) -> CaseState:
    """The case with a change that makes its plan another: nobody has seen that one."""
    return replace(state, changed_at=record.at, opened_by=frozenset(), **change)  # type: ignore[arg-type]


def _changed(orders: tuple[OrderStanding, ...], version: int, **change: object) -> tuple[OrderStanding, ...]:
    return tuple(replace(one, **change) if one.event.version == version else one for one in orders)  # type: ignore[arg-type]
