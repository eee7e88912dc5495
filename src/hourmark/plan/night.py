"""A whole night: every case planned on its own, and what they share."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from hourmark.clock import Moment, moment, time_data, time_data_findings
from hourmark.finding import Finding, Level, stops, worst_first
from hourmark.order import Night, Rules
from hourmark.plan.case import plan_case
from hourmark.plan.planned import CasePlan


@dataclass(frozen=True, slots=True)
class NightPlan:
    """Every case's plan, and the findings that belong to the night and not to one case."""

    night: Night
    as_of: Moment | None
    time_data: str
    cases: tuple[CasePlan, ...]
    findings: tuple[Finding, ...]

    def all_findings(self) -> tuple[Finding, ...]:
        """The night's findings and every case's, worst first."""
        return worst_first((*self.findings, *(finding for plan in self.cases for finding in plan.findings)))

    @property
    def stopped(self) -> bool:
        """Whether anything stops."""
        return stops(self.findings) or any(plan.refused for plan in self.cases)


def plan_night(night: Night) -> NightPlan:
    """The plan of every case in the night file; without a readable `as_of` nothing is planned."""
    as_of = moment(night.as_of, night.clinic.zone, "as_of")
    if isinstance(as_of, Finding):
        return NightPlan(night, None, time_data(), (), (as_of,))
    slots = {slot.id: slot for slot in night.slots}
    cases = tuple(plan_case(case, night.clinic, slots.get(case.slot or ""), as_of) for case in night.cases)
    shared = tuple(_shared_slots(night))
    findings = (*time_data_findings(as_of.wall.date()), *_unsigned(night.clinic.rules), *_rules_signature(night, as_of))
    everywhere = tuple(finding for finding in findings if finding.level is Level.STOP)
    stopped = tuple(_stopped(plan, everywhere, shared) for plan in cases)
    return NightPlan(night, as_of, time_data(), stopped, worst_first((*findings, *shared)))


def _stopped(plan: CasePlan, everywhere: Sequence[Finding], shared: Sequence[Finding]) -> CasePlan:
    """The case with the stops that lie outside it: those of the whole night, and of a slot it shares."""
    own = [finding for finding in shared if plan.case.slot and finding.where == f"slot {plan.case.slot}"]
    outside = (*everywhere, *own)
    if not outside:
        return plan
    return replace(plan, findings=worst_first((*plan.findings, *(one.at(f"case {plan.case.id}") for one in outside))))


_WANTED = ("tell_by", "lay_out", "mixing", "morning_sample", "arrival", "fasting_solids", "fasting_clear")


def _unsigned(rules: Rules | None) -> Iterable[Finding]:
    missing = [name for name in _WANTED if rules is None or getattr(rules, name) is None]
    if rules is None or (rules.tolerance_note is None or rules.tolerance_warn is None):
        missing.append("tolerance_note and tolerance_warn")
    if rules is None or rules.bands.standard is None:
        missing.append("bands")
    if missing:
        yield Finding(
            "rules-unsigned",
            Level.NOTE,
            f"No signed rule for {', '.join(missing)}: those times and limits are left open.",
            "Have the clinic's lead sign them; proposals with reasons: hourmark sources proposals",
            "clinic.rules",
            "an unsigned rule rules nothing",
            "hourmark's own rule",
        )


def _rules_signature(night: Night, as_of: Moment) -> Iterable[Finding]:
    rules = night.clinic.rules
    if rules is None:
        return
    signed = moment(rules.signed_at, night.clinic.zone, "clinic.rules, signed_at")
    if isinstance(signed, Finding):
        yield signed
    elif as_of < signed:
        yield Finding(
            "rules-signed-later",
            Level.STOP,
            f"The clinic's rules are signed at {rules.signed_at}, after this plan's moment.",
            "Check signed_at and as_of.",
            "clinic.rules",
            "a rule rules from its signature on",
            "hourmark's own rule",
        )


def _shared_slots(night: Night) -> Iterable[Finding]:
    uses: dict[str, list[str]] = {}
    for case in night.cases:
        if case.slot:
            uses.setdefault(case.slot, []).append(case.id)
    for slot, who in sorted(uses.items()):
        if len(who) > 1:
            yield Finding(
                "slot-shared",
                Level.STOP,
                f"Slot {slot} is given to {len(who)} cases: {', '.join(who)}.",
                "Ask theatre which case has it.",
                f"slot {slot}",
                "one case a slot",
                "theatre list",
            )
    places = Counter((slot.at, slot.room) for slot in night.slots if slot.room)
    for (at, room), count in places.items():
        if count > 1:
            yield Finding(
                "slot-clash",
                Level.ASK,
                f"{count} slots begin at {at} in {room}.",
                "Ask theatre which is right.",
                "slots",
                "one case at a time in a room",
                "theatre list",
            )
