"""hourmark trouble: what was reported of one injection, computed from that case's plan and kit. For staff only."""

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

import click

from hourmark.cli.show import answer_json, print_findings, print_working, status, unread, unreadable
from hourmark.clock import Moment, Span, moment, said, time_data
from hourmark.dose import Between, Given
from hourmark.exchange import findings_json, plan_checked, read_night
from hourmark.finding import Finding, Unreadable, Working, stops
from hourmark.incident import (
    KIND_WORDS,
    Another,
    Answer,
    Kind,
    LeadNow,
    Leg,
    Proposal,
    Reason,
    Slots,
    answer,
    limits_of,
    questions,
    read_facts,
    read_wall,
)
from hourmark.incident.words import doses, instead, instead_at, moments, shares, spans, unopened, volumes
from hourmark.order import Night
from hourmark.quantity import Share

Json = dict[str, Any]


def run(path: Path, case_id: str, kind_name: str, said_words: Sequence[str], at: str | None, as_json: bool) -> int:
    """Answer, and the exit status."""
    night = read_night(path)
    if isinstance(night, tuple):
        return unread("trouble", night, as_json=as_json)
    problems: list[Finding] = []
    kind = _kind(kind_name, problems)
    words = _words(said_words, problems)
    now = _now(at, night, problems)
    if case_id not in [case.id for case in night.cases]:
        problems.append(_no_such_case(case_id, night))
    if problems or kind is None or now is None:
        return unread("trouble", problems, as_json=as_json)
    facts = read_facts(kind, words)
    if facts.again:
        wrong = [unreadable(Unreadable(one.why, one.do), f"--said {one.key}") for one in facts.again]
        return unread("trouble", wrong, as_json=as_json)
    plan = next(one for one in plan_checked(night).cases if one.case.id == case_id)
    found = answer(plan, kind, facts, limits_of(night.clinic.rules), now)
    if as_json:
        answer_json(trouble_json(found))
    else:
        show(found)
    return status(found.findings)


def _kind(name: str, problems: list[Finding]) -> Kind | None:
    if name in list(Kind):
        return Kind(name)
    known = "; ".join(f"{kind} ({words})" for kind, words in KIND_WORDS.items())
    problems.append(
        unreadable(Unreadable(f'"{name[:40]}" is no kind of trouble known here.', f"Write one of: {known}."), "KIND")
    )
    return None


def _words(said_words: Sequence[str], problems: list[Finding]) -> dict[str, str]:
    words: dict[str, str] = {}
    for one in said_words:
        key, equals, value = one.partition("=")
        if not equals or key in words:
            why = f'"{key[:40]}" is answered twice.' if equals else f'"{one[:40]}" is not an answer.'
            problems.append(
                unreadable(Unreadable(why, 'Write each answer as key=value, such as "drawn=0.3 mL".'), "--said")
            )
        words[key] = value
    return words


def _now(at: str | None, night: Night, problems: list[Finding]) -> Moment | None:
    """The moment of the call: as given on the clinic's clock, else that of the night file."""
    try:
        found = moment(read_wall(at) if at is not None else night.as_of, night.clinic.zone, "--at")
    except Unreadable as error:
        problems.append(unreadable(error, "--at"))
        return None
    if isinstance(found, Finding):
        problems.append(found)
        return None
    return found


def _no_such_case(case_id: str, night: Night) -> Finding:
    known = ", ".join(case.id for case in night.cases[:20])
    return unreadable(Unreadable(f'"{case_id[:40]}" is not a case of this night.', f"Cases here: {known}."), "CASE")


# The answer for programs


def trouble_json(found: Answer) -> Json:
    """The answer of `hourmark trouble`. For staff only."""
    return {
        "case": found.case,
        "kind": str(found.kind),
        "at": found.at.local,
        "said": dict(found.said),
        "emergency": found.emergency,
        "decides": found.decides.name.lower(),
        "also": list(found.also),
        "first": list(found.first),
        "reasons": [_reason(one) for one in found.reasons],
        "legs": [_leg(one) for one in found.legs],
        "proposals": [_proposal(one) for one in found.proposals],
        "common_starts": _moments(found.common),
        "spare": [
            {"of": one.of, "strength": one.strength, "least": one.least, "most": one.most, "assumed": list(one.assumed)}
            for one in found.spare
        ],
        "to_slot": _text(found.to_slot),
        "questions": [
            {"key": one.key, "words": one.words, "form": str(one.form), "needed": one.needed}
            for one in questions(found.kind)
        ],
        "as_planned": list(found.as_planned),
        "not_known": list(found.not_known),
        "findings": findings_json(found.findings),
        "time_data": time_data(),
    }


def _reason(one: Reason) -> Json:
    return {"who": one.who.name.lower(), "why": one.why, "limit": one.limit, "source": one.source}


def _leg(leg: Leg) -> Json:
    return {
        "injection": leg.injection.id,
        "drug": leg.injection.drug.name,
        "ordered": str(leg.injection.dose),
        "route": leg.injection.route,
        "state": str(leg.state),
        "given": _ends(leg.given),
        "share": _pair(leg.share),
        "in_syringe": _ends(leg.holds),
        "instead": _another(leg.another) if leg.another else None,
        "left": {
            "vials": _ends(leg.left.vials),
            "dose": _ends(leg.left.dose),
            "syringe": _ends(leg.left.syringe),
        },
        "lead": _lead(leg.lead) if leg.lead else None,
        "starts": _slots(leg.slots) if leg.slots else None,
        "left_to_inject": _text(leg.left_to_inject),
        "working": [_working(step) for step in leg.working],
    }


def _another(one: Another) -> Json:
    return {
        "drug": one.drug,
        "injected": one.injected,
        "volume": _ends(one.volume),
        "amount": _ends(one.amount),
        "at": _moments(one.at),
        "to_slot": _pair(one.to_slot),
    }


def _working(step: Working) -> Json:
    return {
        "name": step.name,
        "formula": step.formula,
        "inputs": [{"name": name, "value": value, "source": source} for name, value, source in step.inputs],
        "result": step.result,
    }


def _lead(now: LeadNow) -> Json:
    return {
        "at": _moments(now.at),
        "off": _pair(now.off),
        "lead": _pair(now.lead),
        "gap": _pair(now.gap),
        "window": [str(end) for end in now.window] if now.window else None,
        "inside": now.inside,
        "outside": now.outside,
        "band": now.band,
        "band_level": now.band_level,
        "if_now": now.if_now,
    }


def _slots(slots: Slots) -> Json:
    return {
        "earliest": slots.earliest.local if slots.earliest else None,
        "latest": slots.latest.local if slots.latest else None,
        "restored": _moments(slots.restored),
        "open": [{"at": one.at.local, "lead": _pair(one.lead)} for one in slots.open],
        "if_now": slots.if_now,
    }


def _proposal(one: Proposal) -> Json:
    return {
        "injection": one.injection.id,
        "after": one.after,
        "at": _moments(one.at),
        "window": _moments(one.window),
        "standing": "proposal only, until a new page is released",
    }


def _ends(between: Between | Given | None) -> Json | None:
    return {"least": str(between.least), "most": str(between.most)} if between is not None else None


def _pair(ends: tuple[Span, Span] | tuple[Share, Share] | None) -> Json | None:
    return {"least": str(ends[0]), "most": str(ends[1])} if ends is not None else None


def _moments(ends: tuple[Moment, Moment] | None) -> Json | None:
    return {"first": ends[0].local, "last": ends[1].local} if ends is not None else None


def _text(value: object) -> str | None:
    return None if value is None else str(value)


# The answer for people


def show(found: Answer) -> None:
    """Print the answer for people."""
    click.echo(f"Case {found.case}: {KIND_WORDS[found.kind]}. For staff only; the prescriber decides.")
    click.echo(f"Call:  {said(found.at)}")
    click.echo("First:")
    for line in found.first:
        click.echo(f"  {line}")
    click.echo(f"Decides: {found.decides.words}" + (f"; tell also {', '.join(found.also)}" if found.also else ""))
    for reason in found.reasons:
        click.echo(f"  {reason.who.words}: {reason.why} [{reason.limit}; {reason.source}]")
    if not found.emergency:
        _print_numbers(found)
    click.echo("Said, word for word:")
    for key, words in found.said:
        click.echo(f"  {key} = {words}")
    print_findings(found.findings)
    if stops(found.findings):
        click.echo("\nThe report is to be kept as it was said, whatever stops above.")


def _print_numbers(found: Answer) -> None:
    for leg in found.legs:
        _print_leg(leg)
    for one in found.proposals:
        click.echo(f"Proposal only, until a new page is released: {one.injection.id} {moments(one.at)}")
    if found.common:
        click.echo(f"Starts that suit all of them: from {said(found.common[0])} to {said(found.common[1])}")
    if found.to_slot is not None:
        click.echo(f"To the slot: {found.to_slot}")
    _print_list("Unopened at home:", map(unopened, found.spare))
    _print_list("Taken from the page, because nobody said otherwise; ask:", found.as_planned)
    _print_list("Not known:", found.not_known)


def _print_list(heading: str, lines: Iterable[str]) -> None:
    listed = list(lines)
    if listed:
        click.echo(heading)
    for line in listed:
        click.echo(f"  {line}")


def _print_leg(leg: Leg) -> None:
    injection = leg.injection
    click.echo(
        f"\nInjection {injection.id}: {injection.drug.name} {injection.dose} ordered, {injection.route}: {leg.state}"
    )
    if leg.given is not None:
        click.echo(f"  Went in:  {doses(leg.given)}" + (f", {shares(leg.share)} of the order" if leg.share else ""))
    if leg.another is not None:
        click.echo(f"  Instead, as told: {instead(leg.another)}")
        if (then := instead_at(leg.another)) is not None:
            click.echo(f"  That went in: {then}")
    if leg.holds is not None:
        click.echo(f"  In the syringe, not injected: {doses(leg.holds)}")
    if leg.left.vials is not None:
        dose = f" = {doses(leg.left.dose)}" if leg.left.dose else ""
        click.echo(f"  Left in the vials: {volumes(leg.left.vials)}{dose}; it is kept, and not injected")
    if leg.left.syringe is not None:
        click.echo(f"  Left in the syringe: {volumes(leg.left.syringe)}")
    if leg.lead is not None:
        _print_lead(leg.lead)
    if leg.slots is not None:
        _print_slots(leg.slots)
    if leg.left_to_inject is not None:
        left = leg.left_to_inject
        click.echo(f"  The order allows it for {left} more" if left.minutes >= 0 else "  The order's window is past")
    if leg.working:
        click.echo("  Working:")
        print_working(leg.working)


def _print_lead(now: LeadNow) -> None:
    click.echo(f"  {'If now' if now.if_now else 'Time'}:  {moments(now.at)}")
    if now.lead is not None:
        window = f"; the order allows {now.window[0]} to {now.window[1]}" if now.window and not now.gap else ""
        click.echo(f"  Lead:  {spans(now.lead)}{window}")
    if now.gap is not None:
        click.echo(f"  Gap after the one before it: {spans(now.gap)}")


def _print_slots(slots: Slots) -> None:
    if slots.earliest is None or slots.latest is None:
        click.echo("  Starts inside the order's window: none is certain, the time is too wide")
    else:
        click.echo(f"  Starts inside the order's window: from {said(slots.earliest)} to {said(slots.latest)}")
    click.echo(f"  The ordered lead itself: {moments(slots.restored)}")
    for one in slots.open:
        click.echo(f"  Open: {said(one.at)}, lead {spans(one.lead)}")
