"""Answers as JSON: every key always present, amounts as text, times as RFC 3339. The shapes are a promise; see docs/answers.md."""

from collections.abc import Iterable
from typing import Any, TypeAlias

from hourmark import __version__
from hourmark.clock import Moment, said, time_data
from hourmark.dose import Drawn, Fill, LeftOut, Misstep
from hourmark.dose.steps import Step
from hourmark.finding import Finding, Working, worst_first
from hourmark.order import After, ClockTime, Lead, Timing
from hourmark.plan import CasePlan, MixRow, NightPlan, PlannedInjection, Timed, worst_of

Json: TypeAlias = dict[str, Any]

DRAFT = "DRAFT, NOT RELEASED"


def finding_json(finding: Finding) -> Json:
    """One finding."""
    return {
        "code": finding.code,
        "level": str(finding.level),
        "where": finding.where,
        "what": finding.what,
        "limit": finding.limit,
        "source": finding.source,
        "do": finding.do,
    }


def findings_json(findings: Iterable[Finding]) -> list[Json]:
    """Findings, worst first."""
    return [finding_json(finding) for finding in worst_first(findings)]


def when_json(timed: Timed | None, findings: Iterable[Finding]) -> Json:
    """The answer of `hourmark when`; without a minute its times are null."""
    return {
        "inject_at": timed.patient.utc if timed else None,
        "clinic": _clock(timed.clinic) if timed else None,
        "patient": _clock(timed.patient) if timed else None,
        "findings": findings_json(findings),
        "time_data": time_data(),
    }


def draw_json(
    drawn: Drawn,
    missteps: Iterable[Misstep],
    left_out: Iterable[LeftOut],
    findings: Iterable[Finding] | None = None,
) -> Json:
    """The answer of `hourmark draw`, for staff: with the foreseen mistakes, worst first, and those left out with why."""
    error = drawn.tolerance
    return {
        "volume": _text(drawn.volume),
        "fills": [_fill(fill) for fill in drawn.fills],
        "given": _text(drawn.given),
        "share": _text(drawn.share),
        "tolerance": {"volume": str(error[0]), "dose": str(error[1])} if error else None,
        "vials": drawn.vials,
        "left": _text(drawn.left),
        "missteps": [misstep_json(one) for one in missteps],
        "missteps_left_out": [{"code": one.code, "why": one.why} for one in left_out],
        "findings": findings_json(drawn.findings if findings is None else findings),
    }


def plan_json(plan: NightPlan, moved: list[Json] | None = None) -> Json:
    """The answer of `hourmark plan`, also written as staff/night.json; `moved` is what changed against an earlier plan."""
    return {
        "made_by": f"hourmark {__version__}",
        "standing": DRAFT,
        "as_of": plan.as_of.local if plan.as_of else None,
        "time_data": plan.time_data,
        "clinic": {"name": plan.night.clinic.name, "zone": plan.night.clinic.zone.name},
        "cases": [case_json(case) for case in plan.cases],
        "moved": moved,
        "findings": findings_json(plan.all_findings()),
    }


def case_json(plan: CasePlan) -> Json:
    """One case of a plan."""
    case, order = plan.case, plan.case.order
    return {
        "id": case.id,
        "zone": case.zone.name,
        "helper": case.helper,
        "language": case.language,
        "state": plan.state,
        "slot": {
            "id": plan.slot.id,
            "kind": str(plan.slot.kind),
            "room": plan.slot.room,
            "at": _local(plan.slot_at),
        }
        if plan.slot
        else None,
        "arrival": _local(plan.arrival),
        "fasting": {"solids_until": _local(plan.fasting[0]), "clear_fluids_until": _local(plan.fasting[1])},
        "order": {
            "purpose": str(order.purpose),
            "signed_by": order.signed_by,
            "signed_at": str(order.signed_at),
            "cycle": str(order.cycle) if order.cycle else None,
            "stop": list(order.stop),
            "sequence": list(order.sequence),
            "largest_gap": _text(order.largest_gap),
        },
        "injections": [_injection(one) for one in plan.injections],
        "findings": findings_json(plan.findings),
    }


def _injection(one: PlannedInjection) -> Json:
    injection, timed = one.injection, one.timed
    return {
        "id": injection.id,
        "drug": injection.drug.name,
        "dose": str(injection.dose),
        "route": injection.route,
        "timing": _timing(injection.timing),
        "inject_at": timed.patient.utc if timed else None,
        "clinic": _clock(timed.clinic) if timed else None,
        "patient": _clock(timed.patient) if timed else None,
        "lead": _text(timed.lead) if timed else None,
        "provisional": timed.provisional if timed else None,
        "tell_by": _local(one.times.tell_by),
        "lay_out": _local(one.times.lay_out),
        "mix_at": _local(one.times.mix_at),
        "morning_sample": [at.local for at in one.times.sample] if one.times.sample else None,
        "product": one.box.product.id if one.box else None,
        "diluent": {"volume": str(one.diluent), "chosen_by": one.diluent_by} if one.diluent else None,
        "draw": draw_json(one.drawn, one.missteps, one.missteps_left_out) if one.drawn else None,
        "mixes": [_mix(row, one) for row in one.mixes],
        "steps": [_step(step) for step in one.steps],
        "keep": {
            "hard_stop": _local(one.keep.hard_stop),
            "last_date": one.keep.last_date.isoformat(),
            "limit": one.keep.limit,
        }
        if one.keep
        else None,
        "working": [_working(step) for step in one.working],
    }


def _step(step: Step) -> Json:
    return {
        "code": step.code,
        "picture": step.picture,
        "do": step.do,
        "see": step.see,
        "warn": step.warn,
        "check": step.check,
        "part": step.part,
        "view": step.view,
        "mirrored": step.mirrored,
        "figures": dict(step.figures),
    }


def _timing(timing: Timing) -> Json:
    window = [str(bound) for bound in timing.window] if timing.window else None
    match timing:
        case Lead(lead, _):
            return {"lead": str(lead), "at": None, "after": None, "gap": None, "window": window}
        case ClockTime(at, _):
            return {"lead": None, "at": str(at), "after": None, "gap": None, "window": window}
        case After(first, gap, _):
            return {"lead": None, "at": None, "after": first, "gap": str(gap), "window": window}


def misstep_json(misstep: Misstep) -> Json:
    """One misstep."""
    return {
        "code": misstep.code,
        "way": misstep.way,
        "given": str(misstep.given),
        "share": str(misstep.share),
        "how": misstep.how,
    }


def _mix(row: MixRow, one: PlannedInjection) -> Json:
    drawn = row.drawn
    much, little = worst_of(row, one)
    return {
        "diluent": str(row.diluent),
        "allowed_by": row.allowed_by,
        "chosen": row.chosen,
        "part_allowed": row.part_allowed,
        "left_over": row.left_over,
        "syringe": row.barrel.id,
        "volume": _text(drawn.volume),
        "on_a_line": row.on_a_line,
        "marks": [_text(fill.mark) for fill in drawn.fills],
        "tolerance": {"volume": str(drawn.tolerance[0]), "dose": str(drawn.tolerance[1])} if drawn.tolerance else None,
        "vials": drawn.vials,
        "left": _text(drawn.left),
        "worst": {
            "too_much": misstep_json(much) if much else None,
            "too_little": misstep_json(little) if little else None,
        },
    }


def _working(step: Working) -> Json:
    return {
        "name": step.name,
        "formula": step.formula,
        "inputs": [{"name": name, "value": value, "source": source} for name, value, source in step.inputs],
        "result": step.result,
    }


def _fill(fill: Fill) -> Json:
    return {
        "how": str(fill.how),
        "syringe": fill.device,
        "volume": _text(fill.volume),
        "mark": _text(fill.mark),
        "sprays": fill.sprays,
    }


def _clock(at: Moment) -> Json:
    return {"zone": at.zone.name, "local": at.local, "said": said(at)}


def _local(at: Moment | None) -> str | None:
    return at.local if at is not None else None


def _text(value: object) -> str | None:
    return None if value is None else str(value)
