"""Orders: what the prescriber signed. Nothing in an order is defaulted; a disagreement inside it is a named stop."""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import TypeAlias

from hourmark.clock import Span, WallTime
from hourmark.finding import Finding, Level
from hourmark.formulary import Drug, Kind
from hourmark.order.names import stops
from hourmark.quantity import Dose, Mass, Volume

ROUTES = ("subcutaneous", "intramuscular", "nasal")


class Purpose(StrEnum):
    """What an order is for; the same product means different things by purpose."""

    TRIGGER = "trigger"
    SUPPRESSION = "suppression"
    STIMULATION = "stimulation"
    LUTEAL = "luteal"


class Cycle(StrEnum):
    """How the own surge is held back in this cycle."""

    ANTAGONIST = "antagonist"
    PROGESTIN = "progestin-primed"
    LONG_AGONIST = "long agonist"
    SHORT_AGONIST = "short agonist"
    MILD = "mild stimulation"
    NATURAL = "natural"

    @property
    def suppressed(self) -> bool:
        """Whether an agonist has already quietened the pituitary, so that an agonist trigger finds nothing to release."""
        return self in (Cycle.LONG_AGONIST, Cycle.SHORT_AGONIST)


@dataclass(frozen=True, slots=True)
class Override:
    """A named prescriber's decision to go past a stop that may be gone past, with the reason and the clinic's clock time."""

    by: str
    reason: str
    at: WallTime


@dataclass(frozen=True, slots=True)
class Lead:
    """Elapsed time from the injection to the slot, and the closed window it must lie in (None: not in the order)."""

    lead: Span
    window: tuple[Span, Span] | None


@dataclass(frozen=True, slots=True)
class ClockTime:
    """A clock time where there is no retrieval, and the closed window around it, all on the same wall clock."""

    at: WallTime
    window: tuple[WallTime, WallTime] | None


@dataclass(frozen=True, slots=True)
class After:
    """Elapsed time after the ACTUAL time of another injection of the order, and its closed window."""

    injection: str
    gap: Span
    window: tuple[Span, Span] | None


Timing: TypeAlias = Lead | ClockTime | After


@dataclass(frozen=True, slots=True)
class Injection:
    """One injection (or nasal dose) of an order. `product` and `diluent` are the prescriber's own choices, if any.

    `diluent_each` says that with several vials each gets its own diluent.
    """

    id: str
    drug: Drug
    drug_as_written: str
    dose: Dose
    route: str
    timing: Timing
    product: str | None = None
    diluent: Volume | None = None
    diluent_each: bool = False
    override: Override | None = None
    route_confirmed_by: str | None = None


@dataclass(frozen=True, slots=True)
class Order:
    """A signed order: its purpose, cycle, stop-list and injections; for several together their sequence and largest gap."""

    purpose: Purpose
    signed_by: str
    signed_at: WallTime
    cycle: Cycle | None
    stop: tuple[str, ...]
    injections: tuple[Injection, ...]
    sequence: tuple[str, ...] = ()
    largest_gap: Span | None = None

    def of_kind(self, kind: Kind) -> tuple[Injection, ...]:
        """The injections of drugs of that kind."""
        return tuple(injection for injection in self.injections if injection.drug.kind is kind)

    @property
    def double(self) -> bool:
        """Whether an agonist and hCG are ordered at different leads (a double trigger)."""
        leads = {
            kind: {injection.timing.lead for injection in self.of_kind(kind) if isinstance(injection.timing, Lead)}
            for kind in (Kind.AGONIST, Kind.HCG)
        }
        return bool(leads[Kind.AGONIST] and leads[Kind.HCG] and leads[Kind.AGONIST].isdisjoint(leads[Kind.HCG]))

    def checks(self) -> tuple[Finding, ...]:
        """Everything that can be said of the order without kit, clock or slot."""
        each = (
            finding.at(f"injection {i.id}") for i in self.injections for finding in _injection_checks(i, self.purpose)
        )
        return (*self._whole(), *each)

    def _whole(self) -> Iterable[Finding]:
        if self.cycle is None:
            yield Finding(
                "cycle-missing",
                Level.STOP,
                "The order gives no cycle type.",
                "Ask the prescriber which cycle this is; an agonist trigger depends on it.",
                "order",
                "a trigger order names its cycle",
                "Humaidan and Kol 2021, list of cycles without a surge",
            )
        yield from self._suppressed()
        yield from self._stopped_and_ordered()

    def _stopped_and_ordered(self) -> Iterable[Finding]:
        """A drug that she is told to stop and to inject: whichever line she reads, she may follow it."""
        for injection in self.injections:
            for item in self.stop:
                if stops(item, injection.drug):
                    yield Finding(
                        "stop-list-contradicts",
                        Level.STOP,
                        f'The order stops "{item}" and orders {injection.dose} of {injection.drug.name}.',
                        "Ask the prescriber which is meant; if only an earlier use of it ends, it is not written under stop.",
                        f"injection {injection.id}",
                        "nothing that is injected stands among what she stops",
                        "hourmark's own rule",
                    )

    def _suppressed(self) -> Iterable[Finding]:
        alone = not self.of_kind(Kind.HCG)
        if self.purpose is not Purpose.TRIGGER or self.cycle is None or not self.cycle.suppressed:
            return
        for injection in self.of_kind(Kind.AGONIST):
            yield Finding(
                "agonist-in-suppressed-cycle",
                Level.WARN if injection.override or not alone else Level.STOP,
                f"An agonist trigger in a {self.cycle} cycle releases little or nothing: the pituitary is already quietened.",
                _overridden(injection)
                or "Ask the prescriber; only a named prescriber can go past this, with a reason.",
                f"injection {injection.id}",
                "agonist trigger only with an antagonist or progestin-primed cycle",
                "Humaidan and Kol 2021, list of cycles without a surge (read in the source)",
            )


def _overridden(injection: Injection) -> str | None:
    if injection.override is None:
        return None
    return f"Overridden by {injection.override.by} at {injection.override.at}: {injection.override.reason}."


def _injection_checks(injection: Injection, purpose: Purpose) -> Iterable[Finding]:
    yield from _timing_checks(injection)
    if purpose is Purpose.TRIGGER:
        yield from _trigger_dose(injection)


def _timing_checks(injection: Injection) -> Iterable[Finding]:
    if injection.timing.window is None:
        yield Finding(
            "window-missing",
            Level.STOP,
            "The order gives a time but no window around it.",
            "Ask the prescriber for the earliest and the latest that are allowed, and write them as window.",
            "timing",
            "an order carries its own window",
            "signed order",
        )
        return
    match injection.timing:
        case Lead(lead, (least, most)):
            inside = least <= lead <= most
            text = f"lead {lead}, window {least} to {most}"
        case After(_, gap, (least, most)):
            inside = least <= gap <= most
            text = f"gap {gap}, window {least} to {most}"
        case ClockTime(at, (first, last)):
            inside = first.local <= at.local <= last.local
            text = f"clock time {at}, window {first} to {last}"
        case _:  # the window is there, so one of the three matched
            return
    if not inside:
        yield Finding(
            "outside-own-window",
            Level.STOP,
            f"The ordered time lies outside the order's own window: {text}.",
            "Ask the prescriber which of the two is meant.",
            "timing",
            "the window in the order",
            "signed order",
        )


def _trigger_dose(injection: Injection) -> Iterable[Finding]:
    drug, dose = injection.drug, injection.dose
    if drug.kind is Kind.ANTAGONIST:
        yield Finding(
            "antagonist-as-trigger",
            Level.STOP,
            f"{drug.name} holds ovulation back; it is not a trigger.",
            "Ask the prescriber which drug is meant.",
            "drug",
            "a trigger is hCG or a GnRH agonist",
            "product labels of the GnRH antagonists",
        )
        return
    unit = drug.fact("trigger-unit")
    wanted_mass = unit is not None and unit.value == "mass"
    if unit is not None and wanted_mass != isinstance(dose, Mass):
        yield _unit_disagrees(injection, "mcg or mg" if wanted_mass else "units", unit.cite())
        return
    prefix = "nasal-trigger" if injection.route == "nasal" else "trigger"
    yield from _dose_range(injection, prefix)


def _unit_disagrees(injection: Injection, wanted: str, source: str) -> Finding:
    extra = (
        " 250 units is a luteal or stimulation vial, never a trigger."
        if str(injection.dose) == "250 units" and injection.drug.kind is Kind.HCG
        else ""
    )
    return Finding(
        "dose-unit-disagrees",
        Level.STOP,
        f"{injection.dose} does not fit {injection.drug.name}: its trigger dose is counted in {wanted}.{extra}",
        "Ask the prescriber which drug and which unit are meant; nothing is converted here.",
        "dose",
        f"{injection.drug.name} in {wanted}",
        source,
    )


def _dose_range(injection: Injection, prefix: str) -> Iterable[Finding]:
    drug, dose = injection.drug, injection.dose
    extra = " 250 units is a luteal or stimulation vial, never a trigger." if str(dose) == "250 units" else ""
    for name, beyond in ((f"{prefix}-refuse-below", dose.__lt__), (f"{prefix}-refuse-above", dose.__gt__)):
        limit = drug.fact(name)
        if limit is not None and beyond(limit.value):
            yield Finding(
                "dose-no-trigger",
                Level.STOP,
                f"{dose} of {drug.name} is no trigger dose known here.{extra}",
                "Ask the prescriber for the drug, the dose and the unit, word for word.",
                "dose",
                f"{'at least' if name.endswith('below') else 'at most'} {limit.text}",
                limit.cite(),
            )
            return
    least, most = drug.fact(f"{prefix}-least"), drug.fact(f"{prefix}-most")
    if least is not None and most is not None and not least.value <= dose <= most.value:
        yield Finding(
            "dose-unusual",
            Level.ASK,
            f"{dose} of {drug.name} is outside the trigger doses read so far.",
            "Ask the prescriber to confirm the dose and the unit.",
            "dose",
            f"{least.text} to {most.text}" if least.value != most.value else least.text,
            most.cite(),
        )
    elif least is None and prefix.startswith("nasal"):
        yield Finding(
            "dose-unusual",
            Level.ASK,
            f"No nasal trigger dose of {drug.name} is known here.",
            "Ask the prescriber to confirm the drug, the dose and the route.",
            "dose",
            "no nasal trigger dose was read anywhere",
            "hourmark's own list",
        )
