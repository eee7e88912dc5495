"""The clinic's side: zone, slots, and the rules somebody signed. An unsigned rule rules nothing."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from itertools import pairwise

from hourmark.clock import Span, WallTime, Zone
from hourmark.finding import Level
from hourmark.formulary import Barrel
from hourmark.order.technique import UNSIGNED_TECHNIQUE, Technique
from hourmark.quantity import Share, Volume


class SlotKind(StrEnum):
    """What the slot is for."""

    RETRIEVAL = "retrieval"
    INSEMINATION = "insemination"


@dataclass(frozen=True, slots=True)
class Slot:
    """Planned needle-in time on the clinic's clock, and where."""

    id: str
    at: WallTime
    kind: SlotKind = SlotKind.RETRIEVAL
    room: str | None = None


@dataclass(frozen=True, slots=True)
class MixRule:
    """A signed mixing rule for one product: a diluent volume it permits, and whether a part of that mix may be given.

    `chosen` marks the clinic's choice where the order names none.
    """

    product: str
    diluent: Volume
    part_dose: bool = False
    chosen: bool = False


@dataclass(frozen=True, slots=True)
class Band:
    """Nested closed limits on a lead: silent inside `ok`, noted inside `note`, the prescriber confirms inside `warn`, stop outside."""

    ok: tuple[Span, Span]
    note: tuple[Span, Span]
    warn: tuple[Span, Span]

    def level(self, lead: Span) -> Level | None:
        """How much a lead weighs; None inside the silent band."""
        for limits, level in ((self.ok, None), (self.note, Level.NOTE), (self.warn, Level.WARN)):
            if limits[0] <= lead <= limits[1]:
                return level
        return Level.STOP

    def nested(self) -> bool:
        """Whether each band lies inside the next."""
        inside = (self.ok, self.note, self.warn)
        return all(b[0] <= a[0] <= a[1] <= b[1] for a, b in pairwise(inside))


@dataclass(frozen=True, slots=True)
class Bands:
    """The signed bands by situation."""

    standard: Band | None = None
    long_agonist: Band | None = None
    double_agonist: Band | None = None
    double_hcg: Band | None = None


@dataclass(frozen=True, slots=True)
class TroubleLimits:
    """How far off an injection may be before the prescriber decides.

    late_noted: up to this late it is only written down. late_recomputed: up to this late the nurse computes anew. dose: how far
    the dose may be from the order, as a share of it.
    """

    late_noted: Span | None = None
    late_recomputed: Span | None = None
    dose: Share | None = None


NO_TROUBLE_LIMITS = TroubleLimits()
"""Nothing signed."""


@dataclass(frozen=True, slots=True)
class Rules:
    """A clinic's signed rules. What is None has not been signed and rules nothing.

    `languages` are those whose words it signed for use, `checkers` the roles that may make the second check; `ladder` says
    after how much silence since an injection's minute who is told, `unreached` the same since the first call in vain; `keep_years` is how long a closed case's record is kept.
    """

    signed_by: str
    signed_at: WallTime
    tell_by: Span | None = None
    lay_out: Span | None = None
    mixing: Span | None = None
    morning_sample: tuple[Span, Span] | None = None
    arrival: Span | None = None
    fasting_solids: Span | None = None
    fasting_clear: Span | None = None
    tolerance_note: Share | None = None
    tolerance_warn: Share | None = None
    technique: Technique = UNSIGNED_TECHNIQUE
    bands: Bands = Bands()
    mixes: tuple[MixRule, ...] = ()
    languages: tuple[str, ...] = ()
    checkers: tuple[str, ...] = ()
    ladder: tuple[tuple[Span, str], ...] = ()
    unreached: tuple[tuple[Span, str], ...] = ()
    keep_years: int | None = None
    trouble: TroubleLimits = NO_TROUBLE_LIMITS

    def mixes_of(self, product: str) -> tuple[MixRule, ...]:
        """The signed mixing rules for a product."""
        return tuple(rule for rule in self.mixes if rule.product == product)


class Day(StrEnum):
    """A day of the week."""

    MONDAY = "Monday"
    TUESDAY = "Tuesday"
    WEDNESDAY = "Wednesday"
    THURSDAY = "Thursday"
    FRIDAY = "Friday"
    SATURDAY = "Saturday"
    SUNDAY = "Sunday"


@dataclass(frozen=True, slots=True)
class Phone:
    """A number and the hours at which it is answered, on the clinic's clock; closing at or before opening means the next day."""

    number: str
    days: tuple[Day, ...]
    opens: dt.time
    closes: dt.time

    def answers(self, at: dt.datetime) -> bool:
        """Whether somebody answers at this clock time."""
        days = list(Day)
        today, yesterday = days[at.weekday()], days[at.weekday() - 1]
        clock = at.time()
        if self.opens < self.closes:
            return today in self.days and self.opens <= clock < self.closes
        return (today in self.days and clock >= self.opens) or (yesterday in self.days and clock < self.closes)


@dataclass(frozen=True, slots=True)
class MeasuredBarrel:
    """The scale of a barrel in use, measured from the zero line to the line of its capacity, in mm; who measured it and when."""

    barrel: Barrel
    scale_length: Fraction
    measured_by: str
    measured_at: WallTime


@dataclass(frozen=True, slots=True)
class Clinic:
    """A clinic: its name, its zone, its signed rules if there are any, its telephone lines, and the barrels it measured."""

    name: str
    zone: Zone
    rules: Rules | None = None
    phones: tuple[Phone, ...] = ()
    measured: tuple[MeasuredBarrel, ...] = ()

    def measured_scale(self, barrel: Barrel) -> MeasuredBarrel | None:
        """What was measured of this barrel; None where nobody measured it."""
        return next((one for one in self.measured if one.barrel == barrel), None)

    def number_at(self, at: dt.datetime) -> str | None:
        """The first number that is answered at a time on the clinic's clock."""
        return next((phone.number for phone in self.phones if phone.answers(at)), None)

    def mixes_of(self, product: str) -> Iterable[MixRule]:
        """The signed mixing rules for a product; none without signed rules."""
        return self.rules.mixes_of(product) if self.rules else ()
