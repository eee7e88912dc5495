"""What is answered: one injection of the order after the incident, and the whole answer."""

from dataclasses import dataclass
from enum import StrEnum

from hourmark.clock import Moment, Span
from hourmark.dose import Between, Given
from hourmark.finding import Finding, Working
from hourmark.incident.deciding import Reason, Who
from hourmark.incident.kinds import Kind
from hourmark.order import Injection
from hourmark.quantity import Share


class State(StrEnum):
    """How one injection stands after what was reported."""

    GIVEN = "given"
    NOT_GIVEN = "not given"
    IN_SYRINGE = "still in the syringe"
    NOT_KNOWN = "not known"


@dataclass(frozen=True, slots=True)
class Left:
    """What is left: the liquid in the opened vials and the dose in it, and the liquid in the syringe. None: not known."""

    vials: Between | None = None
    dose: Given | None = None
    syringe: Between | None = None


NOTHING_LEFT = Left()
"""Nothing is known of what is left."""


@dataclass(frozen=True, slots=True)
class LeadNow:
    """The lead that an injection really has, or would have if it were given at this moment.

    at: between which two moments, on her clock. off: how much later than the planned minute (negative: earlier). lead: to the slot;
    gap: after the actual first, for a repeat. window: the order's own; inside, outside: whether all of the reported time lies in it, or none
    of it does. band: the name of the signed band that judges it, and how
    much the worse end weighs by it ("ok", "note", "warn", "stop"; "unsigned"; None where no band judges). if_now: nothing was given yet.
    """

    at: tuple[Moment, Moment]
    off: tuple[Span, Span] | None = None
    lead: tuple[Span, Span] | None = None
    gap: tuple[Span, Span] | None = None
    window: tuple[Span, Span] | None = None
    inside: bool | None = None
    outside: bool | None = None
    band: str | None = None
    band_level: str | None = None
    if_now: bool = False


@dataclass(frozen=True, slots=True)
class OpenStart:
    """An open start and the lead it would give, least and most."""

    at: Moment
    lead: tuple[Span, Span]


@dataclass(frozen=True, slots=True)
class Slots:
    """The starts that restore the order's own window, on the clinic's clock, closed at both ends.

    restored: the start (or the two between which it lies) that gives the ordered lead itself. open: those of the typed open starts that
    lie inside. None of `earliest` and `latest` where the reported time is too wide for any start to be certain.
    """

    earliest: Moment | None
    latest: Moment | None
    restored: tuple[Moment, Moment]
    open: tuple[OpenStart, ...] = ()
    if_now: bool = False


@dataclass(frozen=True, slots=True)
class Another:
    """Another medicine that was taken in the place of the ordered one: as it was told, and judged by nobody here.

    drug: its name as it was said. injected: whether it went in, or is still in the syringe; None where nobody said so. volume: how much
    of it was told, less what was lost; amount: what that is by the strength that was told; at: when it went in; to_slot: how long that
    was before the slot. None: not told.
    """

    drug: str
    injected: bool | None
    volume: Between | None = None
    amount: Given | None = None
    at: tuple[Moment, Moment] | None = None
    to_slot: tuple[Span, Span] | None = None


@dataclass(frozen=True, slots=True)
class Leg:
    """One injection of the order after the incident, judged alone.

    given: the dose that went in; None where it is not known. holds: what a syringe that was not injected yet would give. another: what
    was taken in its place.
    left_to_inject: how long the order still allows it; None once it was given, where nobody knows whether it was, or where there is no end.
    """

    injection: Injection
    state: State
    given: Given | None = None
    share: tuple[Share, Share] | None = None
    holds: Given | None = None
    another: Another | None = None
    left: Left = NOTHING_LEFT
    lead: LeadNow | None = None
    slots: Slots | None = None
    left_to_inject: Span | None = None
    reasons: tuple[Reason, ...] = ()
    working: tuple[Working, ...] = ()


@dataclass(frozen=True, slots=True)
class Proposal:
    """A later injection that the order counts from this one: where it would move. It holds only once a new page is released."""

    injection: Injection
    after: str
    at: tuple[Moment, Moment]
    window: tuple[Moment, Moment] | None


@dataclass(frozen=True, slots=True)
class Spare:
    """How many unopened are left at home of one thing, least and most; `of` says what, `strength` as read off the box.

    assumed: what had to be taken for granted, as nobody has counted.
    """

    of: str
    strength: str | None
    least: int
    most: int
    assumed: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Answer:
    """The answer to one call. `said` is the caller's report, word for word; it is to be kept whatever else stands here.

    first: what is said and done before any number. decides: who decides, the strictest of all reasons; also: who else is told.
    common: the starts that suit every injection whose time is known, where there are several. as_planned: what nobody said and was
    therefore taken from the page. to_slot: how long until the slot.
    """

    case: str
    kind: Kind
    said: tuple[tuple[str, str], ...]
    at: Moment
    decides: Who
    first: tuple[str, ...]
    also: tuple[str, ...] = ()
    reasons: tuple[Reason, ...] = ()
    legs: tuple[Leg, ...] = ()
    proposals: tuple[Proposal, ...] = ()
    spare: tuple[Spare, ...] = ()
    to_slot: Span | None = None
    common: tuple[Moment, Moment] | None = None
    as_planned: tuple[str, ...] = ()
    not_known: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()
    working: tuple[Working, ...] = ()

    @property
    def emergency(self) -> bool:
        """Whether the emergency services come first, and nothing was computed."""
        return self.decides is Who.EMERGENCY
