"""Pages for staff, never for a patient: the night in time order, and for each case what the plan rests on and what could go wrong."""

import datetime as dt
from collections.abc import Iterable, Iterator
from typing import Any, TypeAlias

from hourmark.clock import Moment, said
from hourmark.dose import Fill, How, Misstep
from hourmark.finding import Finding
from hourmark.formulary import Form, barrels
from hourmark.handout.language import language
from hourmark.handout.pdf import Paper, breakable, compiled
from hourmark.plan import CasePlan, MixRow, NightPlan, PlannedInjection, worst_of
from hourmark.plan.languages import ENGLISH

Block: TypeAlias = dict[str, Any]


def night_pdf(plan: NightPlan, at: dt.datetime, paper: Paper = "a4") -> bytes:
    """The night on paper: one line an injection, in time order, with room to write when it was given.

    Raises Unprintable.
    """
    blocks = [
        _heading(
            1, f"{plan.night.clinic.name}: the night as of {plan.as_of.local if plan.as_of else 'an unreadable moment'}"
        ),
        _table(
            ("Inject (her clock)", "Case", "Medicine", "Take", "Slot", "Tell by", "State", "Given at, by whom"),
            (_line(one, case) for one, case in in_time_order(plan)),
            (3, 1.2, 4, 3.4, 2.2, 2, 1.6, 3),
        ),
        *_findings(plan.findings, "Findings for the whole night"),
    ]
    return _page(f"Night of {len(plan.cases)} cases", "Night", blocks, at, paper, landscape=True)


def case_pdf(case: CasePlan, night: NightPlan, at: dt.datetime, paper: Paper = "a4") -> bytes:
    """One case's working page: order, findings, and for each injection mixes, missteps, working and sources.

    Raises Unprintable.
    """
    order, blocks = case.case.order, [_heading(1, f"Working page, case {case.case.id}: {case.state}")]
    if case.refused:
        blocks.append(
            _paragraph(
                "REFUSED: use no minute and no mark below; they are shown only so that the stops can be settled.",
                strong=True,
            )
        )
    blocks.append(
        _paragraph(
            f"Order: {order.purpose}, {order.cycle or 'no cycle type'} cycle, signed by {order.signed_by} at {order.signed_at}. "
            f"Stop: {', '.join(order.stop) or 'nothing in the order'}."
        )
    )
    if case.slot_at is not None:
        blocks.append(_paragraph(f"Slot: {said(case.slot_at)}."))
    blocks += _findings(case.findings, "Findings, worst first")
    for one in case.injections:
        blocks += _injection(one)
    blocks += _sources(case)
    blocks.append(
        _paragraph(f"Time data {night.time_data}. The prescriber decides; follow the label and local policy.")
    )
    return _page(f"Working page, case {case.case.id}", f"Staff only, case {case.case.id}", blocks, at, paper)


def in_time_order(plan: NightPlan) -> list[tuple[PlannedInjection, CasePlan]]:
    """Injections by their minute; those without one last, in the order of the file."""
    every = [(one, case) for case in plan.cases for one in case.injections]
    return sorted(every, key=lambda pair: (pair[0].timed is None, pair[0].timed.patient.utc if pair[0].timed else ""))


def take(one: PlannedInjection) -> str:
    """What is taken, in a few words: "mark 20 (0.2 mL) of 2 mL mix"."""
    if one.drawn is None or one.drawn.stopped:
        return "nothing: refused"
    water = f" of {one.diluent} mix" if one.diluent else ""
    return " + ".join(map(fill_words, one.drawn.fills)) + water


def fill_words(fill: Fill) -> str:
    """One fill in a few words."""
    match fill.how:
        case How.MARK:
            return f"mark {fill.mark} ({fill.volume})" if barrels()[fill.device].on_u100 else f"{fill.mark} mL"
        case How.ALL:
            return f"all, about {fill.volume}"
        case How.SYRINGE:
            return "1 whole syringe"
        case How.SPRAY:
            return f"{fill.sprays} sprays"


def _line(one: PlannedInjection, case: CasePlan) -> tuple[str, ...]:
    injection = one.injection
    return (
        _short(one.timed.patient, one.timed.clinic) if one.timed else "no minute",
        case.case.id,
        f"{injection.drug.name} {injection.dose}, {injection.route}",
        "refused" if case.refused else take(one),
        f"{case.slot_at.wall:%a %H:%M} {case.slot.room or ''}" if case.slot_at and case.slot else "none",
        f"{one.times.tell_by.wall:%a %H:%M}" if one.times.tell_by else "no rule",
        case.state,
        "",
    )


def _short(patient: Moment, clinic: Moment) -> str:
    text = f"{patient.wall:%a %d %b %H:%M}" + (f" {patient.which.upper()}" if patient.which else "")
    if patient.wall == clinic.wall:
        return text
    return f"{text} {patient.zone.city} (clinic {clinic.wall:%a %H:%M})"


def _findings(findings: Iterable[Finding], title: str) -> list[Block]:
    rows = [
        (str(one.level).upper(), one.code, one.where, one.what, one.do, f"{one.limit}; {one.source}")
        for one in findings
    ]
    if not rows:
        return []
    head = ("Level", "Code", "Where", "What", "What to do", "Limit and source")
    return [_heading(2, title), _table(head, rows, (1.1, 3.3, 2.2, 4, 4, 3))]


def _injection(one: PlannedInjection) -> Iterator[Block]:
    injection = one.injection
    yield _heading(2, f"{injection.drug.name} {injection.dose}, {injection.route}")
    if one.timed is not None:
        lead = f" Lead {one.timed.lead} to the slot." if one.timed.lead is not None else ""
        yield _paragraph(f"Inject: {said(one.timed.patient)}.{lead}")
    if one.box is not None:
        diluent = f" Diluent {one.diluent}, chosen by {one.diluent_by}." if one.diluent else ""
        yield _paragraph(f"Box: {one.box.product.name} ({one.box.product.id}).{diluent}")
    if one.drawn is not None and not one.drawn.stopped:
        error = f" Barrel tolerance {one.drawn.tolerance[0]} ({one.drawn.tolerance[1]})." if one.drawn.tolerance else ""
        yield _paragraph(f"Take: {take(one)}. Gives {one.drawn.given}, {one.drawn.share} of the order.{error}")
    if one.mixes:
        head = ("Mix", "Allowed by", "Syringe", "Draw", "Tolerance", "Worst misstep", "Stays")
        yield _table(head, (_mix(row, one) for row in one.mixes), (1.5, 3, 2.2, 3, 2.2, 3.4, 1.5))
    for way in ("too much", "too little"):
        rows = [(m.code, str(m.given), str(m.share), m.how) for m in one.missteps if m.way == way]
        if rows:
            yield _table((f"Misstep, {way}", "Would give", "Share", "How"), rows, (2, 2, 1.2, 7))
    if one.working:
        yield _table(
            ("Working", "Formula", "From", "Result"),
            (
                (
                    step.name,
                    step.formula,
                    "; ".join(f"{name} {value} ({source})" for name, value, source in step.inputs),
                    step.result,
                )
                for step in one.working
            ),
            (1.8, 3, 5.4, 2.4),
        )


def _mix(row: MixRow, one: PlannedInjection) -> tuple[str, ...]:
    drawn = row.drawn
    marks = " + ".join(map(fill_words, drawn.fills)) or drawn.findings[0].code
    if not row.part_allowed:
        marks = "a part of it needs a signed rule"
    worst = [_share(misstep) for misstep in worst_of(row, one) if misstep is not None] if row.on_a_line else []
    return (
        f"{row.diluent}{' (chosen)' if row.chosen else ''}",
        row.allowed_by,
        row.barrel.id,
        marks,
        str(drawn.tolerance[1]) if drawn.tolerance else "",
        ", ".join(worst),
        str(drawn.left) if drawn.left else "",
    )


def _share(misstep: Misstep) -> str:
    return f"{misstep.share} ({misstep.code})"


def _sources(case: CasePlan) -> list[Block]:
    cited = dict.fromkeys(
        f"{one.box.product.id}, {name}: {fact.cite()}"
        for one in case.injections
        if one.box is not None
        for name, fact in one.box.product.facts.items()
        if one.box.product.form is not Form.DEPOT
    )
    return [_heading(2, "Sources"), {"kind": "list", "items": [breakable(source) for source in cited]}] if cited else []


def _heading(level: int, text: str) -> Block:
    return {"kind": "heading", "level": level, "text": breakable(text)}


def _paragraph(text: str, *, strong: bool = False) -> Block:
    return {"kind": "paragraph", "text": breakable(text), "strong": strong}


def _table(head: tuple[str, ...], rows: Iterable[tuple[str, ...]], widths: tuple[float, ...]) -> Block:
    return {
        "kind": "table",
        "head": head,
        "rows": [[breakable(cell) for cell in row] for row in rows],
        "widths": widths,
    }


def _page(
    title: str, foot: str, blocks: list[Block], at: dt.datetime, paper: Paper, *, landscape: bool = False
) -> bytes:
    data = {
        "title": title,
        "foot": foot,
        "draft": language(ENGLISH).word("page.draft"),
        "paper": paper,
        "landscape": landscape,
        "blocks": blocks,
    }
    return compiled("staff", data, at)
