"""Trouble on the night: what happened, the facts of it, and the numbers. What the caller says is kept before anything is made of it."""

import re
from collections.abc import Mapping
from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import redirect

from hourmark.case.asked import Role
from hourmark.case.state import CaseState
from hourmark.case.trouble import (
    DANGER,
    ELSE,
    WORDS,
    Report,
    ReportTrouble,
    is_settled,
    last_of,
    reports_of,
    same_call,
)
from hourmark.clock import parse_zone
from hourmark.desk.made import Planned, plan_of
from hourmark.desk.trouble import answer_to
from hourmark.formulary import barrels
from hourmark.incident import KIND_WORDS, RED_FLAGS, Kind, questions
from hourmark.incident.answer import DANGER as FIRST_IN_DANGER
from hourmark.incident.calls import Asked, Sort, calls, first_moves
from hourmark.incident.search import search
from hourmark.incident.words import unopened
from hourmark.order import ROUTES
from hourmark.web.models import Member
from hourmark.web.pages.tonight import numbers
from hourmark.web.pages.trouble_facts import (
    days_of,
    has_an_hour_twice,
    injections_of,
    night_words,
    report_of,
    said_of,
    subject,
    zone_of,
)
from hourmark.web.pages.trouble_words import asked_lines, common_line, leg_lines, message, minutes_left, short
from hourmark.web.work import Work, case_page

AWAKE = (Role.NURSE, Role.PRESCRIBER)
_ENTRY = re.compile(r"[0-9]{1,9}")
_PARTS = ("a quarter", "a third", "half", "two thirds", "a third to a half", "some drops: not known")


@case_page("GET", roles=AWAKE)
def trouble(work: Work, state: CaseState) -> HttpResponse:
    """What went wrong: chosen, or found by a few words of what was said. Signs of danger stand before it."""
    words, about = work.request.GET.get("words", "").strip(), _about(work, state)
    found = search(words) if words else None
    open_still = [one for one in reports_of(state) if not is_settled(state, one)]
    return work.page(
        "trouble/kinds",
        **about,
        kinds=KIND_WORDS.items(),
        flags=RED_FLAGS,
        words=words,
        found=found,
        danger=[match.call for match in found.matches if match.danger] if found else [],
        open_still=sorted(open_still, key=lambda one: (one.kept.event.injection != about["of"], -one.kept.seq)),
    )


@case_page("POST", roles=AWAKE)
def danger(work: Work, state: CaseState) -> HttpResponse:
    """A sign of danger: it is kept, and the emergency services come before everything else."""
    said = {"symptoms": "yes"} | said_of(state, DANGER, work.typed)
    return _kept_then(work, state, DANGER, said | {"symptoms": "yes"})


@case_page("GET", "POST", roles=AWAKE)
def facts(work: Work, state: CaseState, kind: str) -> HttpResponse:
    """The questions of one kind, in the order in which a frightened caller can answer. Whatever is typed is kept as it was said."""
    if kind not in (*Kind, OTHER):
        raise Http404
    name = ELSE if kind == OTHER else kind
    if work.request.method == "POST":
        return _kept_then(work, state, name, said_of(state, name, work.typed), back=(kind,))
    about = _about(work, state)
    zone = zone_of(state, about["of"])
    days = days_of(state, about["of"], work.now)
    asked = questions(Kind(kind)) if kind != OTHER else (_SYMPTOMS,)
    return work.page(
        "trouble/facts",
        **about,
        kind=kind,
        kind_words=KIND_WORDS[Kind(kind)] if kind != OTHER else ELSE,
        asked=[one for one in asked if one.needed],
        also=[one for one in asked if not one.needed],
        flags=RED_FLAGS,
        days=days,
        zone=parse_zone(zone).city,
        night=night_words(state, about["of"]),
        twice=has_an_hour_twice(days, zone),
        routes=ROUTES,
        barrels=_barrels(state),
        parts=_PARTS,
        fields=_chosen(state, kind, about["of"], work.request.GET.get("after", "")),
        after=work.request.GET.get("after", ""),
    )


OTHER = "other"
"""In an address: none of the kinds."""

_SYMPTOMS = next(one for one in questions(Kind.LATE) if one.key == "symptoms")


def _about(work: Work, state: CaseState) -> dict[str, Any]:
    """Whom it is about: the case, the person, and the injection of the row that was tapped."""
    of = work.request.GET.get("of", "") or work.typed.get("injection", "")
    known = injections_of(state)
    return {
        "state": state,
        "person": work.person(state.id),
        "phones": numbers(work.person(state.id)),
        "of": of if of in known else "",
        "injections": known.items(),
    }


def _chosen(state: CaseState, kind: str, of: str, after: str) -> Mapping[str, str]:
    """The row that was tapped is the injection; what was said in an earlier report stands again where it is corrected."""
    earlier = next((one for one in reports_of(state) if str(one.kept.seq) == after), None)
    if earlier is not None:
        return earlier.said
    return {"injection": of} if of and kind != Kind.ONE_OF_TWO else {}


def _barrels(state: CaseState) -> list[str]:
    """The syringes of her kit first, then every other."""
    kit: Any = state.kit.kit if state.kit else {}
    own = [str(one["syringe"]) for one in kit.get("syringes") or ()]
    return list(dict.fromkeys((*own, *barrels())))


def _kept_then(
    work: Work, state: CaseState, kind: str, said: Mapping[str, str], back: tuple[str, ...] = ()
) -> HttpResponse:
    """The report on the record, and then what it comes to. What says no more than the call has already is kept one time."""
    after = work.typed.get("after", "")
    before = last_of(state, int(after) if _ENTRY.fullmatch(after) else None)
    if before is not None and not is_settled(state, before) and (before.kind, dict(before.said)) == (kind, dict(said)):
        return redirect("trouble-kept", state.id, before.kept.seq)
    command = ReportTrouble(
        state.id,
        subject(state, said),
        kind,
        tuple(said.items()),
        report_of(state, kind, said),
        before.kept.seq if before is not None else None,
    )
    done = work.perform(command)
    if done is None:
        return work.page("trouble/not-kept", **_about(work, state), said=said, kind=kind)
    noted = next(one for one in done.entries if one.read_header().kind == "incident-noted")
    return redirect("trouble-kept", state.id, noted.seq)


# What was kept, and what it comes to


def report_at(state: CaseState, entry: int) -> Report:
    """The report under that entry; there is no such page for any other."""
    found = next((one for one in reports_of(state) if one.kept.seq == entry), None)
    if found is None:
        raise Http404
    return found


@case_page("GET", roles=AWAKE, shows_plan=True)
def kept(work: Work, state: CaseState, entry: int) -> HttpResponse:
    """The numbers, what is not known, who decides, and the message to them."""
    return shown(work, state, report_at(state, entry))


def shown(work: Work, state: CaseState, report: Report) -> HttpResponse:
    """The answer to a report, as things now stand."""
    found = _computed(work, state, report)
    call = same_call(state, report)
    since = call[0].kept.seq
    told = [one for one in state.escalations if one.seq > since]
    prescribers = Member.objects.filter(clinic=work.member.clinic, role=str(Role.PRESCRIBER)).order_by("name")
    return work.page(
        "trouble/kept",
        **(_about(work, state) | {"of": report.kept.event.injection or ""}),
        report=report,
        may_be_danger=[match.call for match in search(report.said.get(WORDS, "")).matches if match.danger],
        kind=report.kind if report.kind in set(Kind) else OTHER,
        flags=RED_FLAGS,
        in_danger=FIRST_IN_DANGER,
        told=told,
        noted=[one for one in state.notes if one.seq > since],
        decided=[one for one in state.incidents if one.seq > since and one.event.settled],
        tells=[str(one.name) for one in prescribers],
        settled=is_settled(state, call[-1]),
        goes_on=call[-1] if call[-1] != report else None,
        before=[one for one in call if one.kept.seq < report.kept.seq],
        fields={"about": found.get("short", report.words)} | work.typed,
        **found,
    )


def _computed(work: Work, state: CaseState, report: Report) -> dict[str, Any]:
    """What the report comes to; nothing where she is in danger, where nobody asked whether she is, or where there is no plan."""
    facts_said = report.facts
    if report.danger or facts_said is None or facts_said.symptoms is None:
        return {"unasked": not report.danger and report.said.get("symptoms") != "no"}
    planned = plan_of(state, work.states.rules(), work.now)
    if not isinstance(planned, Planned):
        return {"no_plan": planned}
    found = answer_to(state, planned, report, facts_said, work.now)
    page, common = _page_words(state), common_line(found)
    again = [one for one in found.findings if one.code not in _DECIDES]
    return {
        "answer": found,
        "legs": [(leg, leg_lines(leg)) for leg in found.legs],
        "spare": [unopened(one) for one in found.spare],
        "common": common,
        "to_slot": minutes_left(found.to_slot) if found.to_slot is not None else "",
        "page_words": page,
        "reasons": sorted(
            (one for one in found.reasons if one.why not in {finding.what for finding in again}),
            key=lambda one: -one.who,
        ),
        "again": again,
        "message": message(found, facts_said, planned.case.slot_at, page, report.said.get(WORDS, "")),
        "short": short(found),
    }


_DECIDES = (
    *("trouble-dose", "trouble-lead", "trouble-late", "trouble-route", "trouble-repeated", "trouble-product"),
    *("trouble-kept", "trouble-other-drug", "trouble-not-given", "trouble-unsigned", "trouble-unknown"),
)
"""Findings that say who decides; they stand as reasons there. All others are read by themselves: what to ask again, and what to note."""


def _page_words(state: CaseState) -> str:
    """Which page she may have followed, where that is not the one that holds."""
    if not state.sheets:
        return "She had no released page; the numbers are by the order and kit on the record."
    last = state.sheets[-1]
    if last.voided is None:
        return ""
    return f"Her page {last.event.version} is void; the numbers are by order, kit and slot as they now are."


# The 62 calls


@case_page("GET", roles=AWAKE)
def call(work: Work, state: CaseState, call: str) -> HttpResponse:
    """One of the calls: what is asked, said and not done, and where it comes from. Numbers stand on no such page."""
    found = next((one for one in calls() if one.id == call), None)
    if found is None:
        raise Http404
    return work.page(
        "trouble/call",
        **_about(work, state),
        call=found,
        is_kind=isinstance(found.kind, Kind),
        is_asked=isinstance(found.kind, Asked) and found.sort is Sort.COMPUTED,
        in_danger=FIRST_IN_DANGER,
        flags=RED_FLAGS,
        first=first_moves(),
    )


@case_page("GET", roles=AWAKE, shows_plan=True)
def number(work: Work, state: CaseState, asked: str) -> HttpResponse:
    """What a caller asks for before anything has gone wrong, worked out for her: from her plan and nothing else."""
    if asked not in set(Asked):
        raise Http404
    planned = plan_of(state, work.states.rules(), work.now)
    lines = (
        asked_lines(planned.case, planned.night.night.clinic.rules, Asked(asked))
        if isinstance(planned, Planned)
        else ()
    )
    return work.page(
        "trouble/number",
        **_about(work, state),
        asked=asked,
        lines=lines,
        no_plan=() if isinstance(planned, Planned) else planned,
        page_words=_page_words(state),
    )
