"""What a plan is made of: one injection planned, and one case."""

from dataclasses import dataclass

from hourmark.clock import Moment
from hourmark.dose import Around, Drawn, LeftOut, Misstep, Source
from hourmark.dose.steps import Step, Taking
from hourmark.finding import Finding, Level, Working, stops
from hourmark.formulary import LabelRule
from hourmark.order import Case, Injection, KitProduct, Slot
from hourmark.plan.mixes import MixRow
from hourmark.plan.storage import Keep
from hourmark.plan.timing import Timed
from hourmark.quantity import Volume

_NOTHING_AROUND = Around()


@dataclass(frozen=True, slots=True)
class Times:
    """What hangs on one injection's minute; None where no signed rule gives it. All on the patient's clock but the sample's."""

    tell_by: Moment | None = None
    lay_out: Moment | None = None
    mix_at: Moment | None = None
    sample: tuple[Moment, Moment] | None = None


@dataclass(frozen=True, slots=True)
class PlannedInjection:
    """What one ordered injection becomes. `timed` or `drawn` is None where a stop keeps it from being known.

    `keep` is until when what is left over may be kept; None when it is thrown away at once. `taking` is what the steps are made
    of, in any language; `steps` are in English.
    """

    injection: Injection
    timed: Timed | None
    times: Times
    box: KitProduct | None
    rule: LabelRule | None
    diluent: Volume | None
    diluent_by: str
    drawn: Drawn | None
    mixes: tuple[MixRow, ...]
    keep: Keep | None
    findings: tuple[Finding, ...]
    working: tuple[Working, ...]
    source: Source | None = None
    around: Around = _NOTHING_AROUND
    missteps: tuple[Misstep, ...] = ()
    missteps_left_out: tuple[LeftOut, ...] = ()
    taking: Taking | None = None
    steps: tuple[Step, ...] = ()


@dataclass(frozen=True, slots=True)
class CasePlan:
    """One case's plan: draft only, until a named person releases a sheet made from it."""

    case: Case
    slot: Slot | None
    slot_at: Moment | None
    arrival: Moment | None
    fasting: tuple[Moment | None, Moment | None]
    injections: tuple[PlannedInjection, ...]
    findings: tuple[Finding, ...]
    together: tuple[tuple[str, ...], ...] = ()

    @property
    def state(self) -> str:
        """How the case stands: "refused", "to ask" or "planned"."""
        return "refused" if self.refused else "to ask" if self.asks else "planned"

    @property
    def asks(self) -> bool:
        """Whether a question to the prescriber is open."""
        return any(finding.level is Level.ASK for finding in self.findings)

    @property
    def refused(self) -> bool:
        """Whether a stop keeps this case from being carried out as it stands."""
        return stops(self.findings)
