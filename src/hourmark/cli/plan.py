"""hourmark plan and hourmark findings: a night file to its plan."""

import sys
from dataclasses import asdict, replace
from fractions import Fraction
from pathlib import Path

import click

from hourmark.cli.show import (
    OK,
    STOPPED,
    answer_json,
    print_findings,
    print_missteps,
    print_working,
    status,
    unread,
    unreadable,
)
from hourmark.clock import said
from hourmark.dose import Drawn, Misstep
from hourmark.exchange import (
    Moved,
    Printing,
    findings_json,
    moved,
    plan_checked,
    plan_json,
    read_night,
    read_old,
    write_plan,
)
from hourmark.exchange.answers import case_json
from hourmark.finding import Finding, Level, Unreadable, worst_first
from hourmark.formulary import Form
from hourmark.handout.staff import fill_words, in_time_order, take
from hourmark.order import Night
from hourmark.plan import CasePlan, NightPlan, PlannedInjection, worst_of


def run(
    path: Path, case_id: str | None, folder: Path | None, printing: Printing, old: Path | None, as_json: bool
) -> int:
    """Answer, and the exit status."""
    night = read_night(path)
    if isinstance(night, tuple):
        return unread("plan", night, as_json=as_json)
    earlier = read_old(old) if old is not None else None
    if isinstance(earlier, Finding):
        return unread("plan", [earlier], as_json=as_json)
    chosen = [case for case in night.cases if case.id == case_id]
    if case_id is not None and not chosen:
        return unread("plan", [_no_such_case(case_id, night)], as_json=as_json)
    for name in printing.only:
        if name not in [case.id for case in night.cases]:
            return unread("plan", [_no_such_case(name, night, "--only")], as_json=as_json)
    plan = plan_checked(night)
    if plan.as_of is None:
        return _nothing_planned(plan, as_json)
    if folder is not None and (refused := _written(plan, folder, printing)):
        if any(finding.code == "out-refused" for finding in refused):
            return unread("plan", refused, as_json=as_json)
        plan, folder = replace(plan, findings=worst_first((*plan.findings, *refused))), None
    shown = [one for one in plan.cases if one.case.id == case_id]
    changes = moved(earlier, plan) if earlier is not None else None
    if as_json:
        answer = plan_json(plan, [asdict(change) for change in changes] if changes is not None else None)
        if case_id is not None:
            answer |= {
                "cases": [case_json(one) for one in shown],
                "findings": findings_json(_of_case(shown[0], plan)),
            }
        answer_json(answer)
    elif case_id is not None:
        _print_case(shown[0], plan)
    else:
        _print_night(plan, folder)
    if changes is not None and not as_json:
        _print_moved(changes)
    return _status(plan, shown)


def _no_such_case(case_id: str, night: Night, where: str = "--case") -> Finding:
    known = ", ".join(case.id for case in night.cases[:20])
    return unreadable(Unreadable(f'"{case_id[:40]}" is not a case of this night.', f"Cases here: {known}."), where)


def _written(plan: NightPlan, folder: Path, printing: Printing) -> tuple[Finding, ...]:
    """Write the pages; why not, where something is refused. A bar shows how far it is, once more than a second is left."""
    from hourmark.cli.progress import Bar

    wanted = sum(printing.wants(case.case.id) for case in plan.cases)
    with Bar("Setting pages", wanted) as bar:
        return write_plan(plan, folder, printing, bar.step)


def _nothing_planned(plan: NightPlan, as_json: bool) -> int:
    """The answer where not even the plan's own moment is one instant: nothing is written, nothing compared."""
    if as_json:
        answer_json(plan_json(plan))
    print_findings(plan.findings, err=as_json)
    return STOPPED


def _of_case(case: CasePlan, plan: NightPlan) -> tuple[Finding, ...]:
    """What concerns one case: its own findings, which hold the night's stops that touch it, and the rest of the night's."""
    return (*case.findings, *(finding for finding in plan.findings if finding.level is not Level.STOP))


def _status(plan: NightPlan, shown: list[CasePlan]) -> int:
    if shown:
        return status(_of_case(shown[0], plan))
    return STOPPED if plan.stopped else OK


def run_findings(path: Path, as_json: bool) -> int:
    """Answer with every finding, and the exit status."""
    night = read_night(path)
    if isinstance(night, tuple):
        return unread("findings", night, as_json=as_json)
    plan = plan_checked(night)
    if as_json:
        answer_json({"findings": findings_json(plan.all_findings())})
    else:
        print_findings(plan.all_findings())
        click.echo(f"\n{_counts(plan)}")
    return STOPPED if plan.stopped else OK


def _counts(plan: NightPlan) -> str:
    findings = plan.all_findings()
    counts = ", ".join(
        f"{sum(finding.level == level for finding in findings)} {level}" for level in ("stop", "ask", "warn", "note")
    )
    return f"{len(plan.cases)} cases; findings: {counts}."


def _print_night(plan: NightPlan, folder: Path | None) -> None:
    from rich.console import Console
    from rich.table import Table

    console = Console(width=None if sys.stdout.isatty() else 160, highlight=False)
    table = Table(
        title=f"{plan.night.clinic.name}, as of {plan.as_of.local if plan.as_of else 'an unreadable moment'}",
        title_justify="left",
    )
    for heading in ("Inject (her clock)", "Case", "Medicine", "Take", "State", "Worst finding"):
        table.add_column(heading, overflow="fold")
    for one, case in in_time_order(plan):
        table.add_row(*_row(one, case))
    console.print(table)
    console.print(_counts(plan))
    console.print(f"DRAFT, NOT RELEASED: nobody injects from this. The prescriber decides. Time data {plan.time_data}.")
    if plan.findings:
        print_findings(plan.findings)
    if folder is not None:
        console.print(
            f"Written: {folder}/staff/ for the team, {folder}/patients/ with a folder a patient. All of it is a draft."
        )


def _row(one: PlannedInjection, case: CasePlan) -> tuple[str, ...]:
    injection = one.injection
    when = "no minute" if one.timed is None else f"{one.timed.patient.wall:%a %d %b %H:%M}"
    if one.timed is not None and one.timed.patient.zone != one.timed.clinic.zone:
        when += f" {one.timed.patient.zone.city} (clinic {one.timed.clinic.wall:%a %H:%M})"
    if one.timed is not None and one.timed.patient.which:
        when += f" {one.timed.patient.which.upper()}"
    if one.timed is not None and one.timed.provisional:
        when += " if the first is on time"
    worst = case.findings[0] if case.findings else None
    return (
        when,
        case.case.id,
        f"{injection.drug.name} {injection.dose}, {injection.route}",
        "refused" if case.refused else take(one),
        case.state,
        f"{worst.level}: {worst.code}" if worst and worst.level is not Level.NOTE else "",
    )


def _print_case(case: CasePlan, plan: NightPlan) -> None:
    order = case.case.order
    if case.refused:
        click.echo("REFUSED: use no minute and no mark below; they are shown only so that the stops can be settled.")
    click.echo(f"Case {case.case.id}: {case.state}. DRAFT, NOT RELEASED; the prescriber decides.")
    click.echo(
        f"Order: {order.purpose}, {order.cycle or 'no cycle type'} cycle, signed by {order.signed_by} at {order.signed_at}"
    )
    if case.slot_at is not None:
        click.echo(f"Slot:  {said(case.slot_at)}")
    for label, at in (
        ("Arrive by", case.arrival),
        ("No food after", case.fasting[0]),
        ("No clear drinks after", case.fasting[1]),
    ):
        if at is not None:
            click.echo(f"{label}: {said(at)}")
    if order.sequence and order.largest_gap:
        click.echo(f"Together: {', then '.join(order.sequence)}, at most {order.largest_gap} apart")
    click.echo(f"Stop:  {', '.join(order.stop) or 'nothing in the order'}")
    for one in case.injections:
        _print_injection(one)
    click.echo(f"\nTime data {plan.time_data}. Findings:")
    print_findings(_of_case(case, plan))


def _print_injection(one: PlannedInjection) -> None:
    injection = one.injection
    click.echo(f"\nInjection {injection.id}: {injection.drug.name} {injection.dose}, {injection.route}")
    if one.timed is not None:
        click.echo(f"  Inject:  {said(one.timed.patient)}")
        if one.timed.patient.wall != one.timed.clinic.wall:
            click.echo(f"  Clinic:  {said(one.timed.clinic)}")
        if one.timed.lead is not None:
            click.echo(f"  Lead:    {one.timed.lead} to the slot")
    mixed = one.box is not None and one.box.product.form in (Form.POWDER, Form.SOLUTION)
    times = (
        ("Tell by:", one.times.tell_by),
        ("Lay out:", one.times.lay_out),
        ("Begin:", one.times.mix_at if mixed else None),
    )
    for label, at in times:
        if at is not None:
            which = f" {at.which.upper()}" if at.which else ""
            click.echo(f"  {label:<8} {at.wall:%a %d %b %H:%M}{which} ({at.zone.city})")
    if one.times.sample is not None:
        first, last = one.times.sample
        click.echo(f"  Morning sample: {first.wall:%a %d %b %H:%M} to {last.wall:%a %d %b %H:%M} ({first.zone.city})")
    if one.box is not None:
        click.echo(f"  Box:     {one.box.product.name} ({one.box.product.id})")
    if one.diluent is not None:
        click.echo(f"  Diluent: {one.diluent}, chosen by {one.diluent_by}")
    if one.drawn is not None and not one.drawn.stopped:
        _print_drawn(one.drawn)
        if one.keep is not None:
            click.echo(f"  Left over may be kept until {one.keep.last_date} ({one.keep.limit})")
    print_missteps(one.missteps, one.missteps_left_out, "  ")
    _print_mixes(one)
    if one.steps:
        click.echo(f"  Order of hands: {len(one.steps)} steps, in the draft and with --json")
    if one.working:
        click.echo("  Working:")
        print_working(one.working)


def _print_drawn(drawn: Drawn) -> None:
    for fill in drawn.fills:
        click.echo(f"  Take:    {fill_words(fill)} with {fill.device}")
    click.echo(f"  Gives:   {drawn.given}, {drawn.share} of the order")
    if drawn.tolerance is not None:
        click.echo(f"  Barrel tolerance (staff only): {drawn.tolerance[0]}, {drawn.tolerance[1]}")
    if drawn.left is not None:
        click.echo(f"  Stays in the vial{'s' if (drawn.vials or 1) > 1 else ''}: {drawn.left}")


def _print_mixes(one: PlannedInjection) -> None:
    rows = one.mixes
    if not rows:
        return
    click.echo("  Permitted mixes with the syringes at home:")
    for row in rows:
        drawn = row.drawn
        marks = " + ".join(fill_words(fill) for fill in drawn.fills) or drawn.findings[0].code
        if not row.part_allowed:
            marks = "a part of it needs a signed rule"
        error = f", tolerance {drawn.tolerance[0]} = {drawn.tolerance[1]}" if drawn.tolerance else ""
        left = f", {drawn.left} stays, {row.left_over}" if drawn.left else f", {row.left_over}"
        click.echo(
            f"   {'*' if row.chosen else ' '} {row.diluent} ({row.allowed_by}), {row.barrel.id}: {drawn.volume}, {marks}{error}{left}"
        )
    if mildest := _mildest(one):
        click.echo(f"   Mix with the least harm if it goes wrong: {mildest}")
    click.echo("   * the signed choice" if any(row.chosen for row in rows) else "   nothing is chosen")


def _mildest(one: PlannedInjection) -> str | None:
    """The permitted combination whose worst misstep errs least, in one line; the worst of a row is the larger factor of its two."""
    judged = [(row, *worst_of(row, one)) for row in one.mixes if row.on_a_line]
    rated = [(_factor(much, little), row, much, little) for row, much, little in judged if much or little]
    if not rated:
        return None
    _, row, much, little = min(rated, key=lambda entry: entry[0])
    worst = " and ".join(f"{misstep.share} ({misstep.code})" for misstep in (much, little) if misstep)
    return f"{row.diluent} with {row.barrel.id}, at worst {worst}"


_NEXT_TO_NOTHING = Fraction(1, 10**6)
"""Stands in for a share of nothing, whose factor would be infinite."""


def _factor(much: Misstep | None, little: Misstep | None) -> Fraction:
    too_little = max(little.share.value, _NEXT_TO_NOTHING) if little else Fraction(1)
    return max(much.share.value if much else Fraction(1), 1 / too_little)


def _print_moved(changes: list[Moved]) -> None:
    if not changes:
        click.echo("\nNo minute and no dose changed since the earlier plan.")
        return
    click.echo(
        f"\nChanged since the earlier plan, {len(changes)} in all. Call these people; have the old alarm deleted."
    )
    for change in changes:
        click.echo(f"  case {change.case}, injection {change.injection}:")
        if change.was != change.now:
            click.echo(f"    from {change.was_said or 'no minute'}")
            click.echo(f"    to   {change.now_said or 'no minute'}")
        if change.was_take != change.now_take:
            click.echo(f"    from {change.was_take or 'nothing'}")
            click.echo(f"    to   {change.now_take or 'nothing'}")
