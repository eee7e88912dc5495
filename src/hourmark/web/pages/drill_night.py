"""The drill on the real pages: who rings, her words, and the score. All the rest of a call is done where a real one is."""

import datetime as dt

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect

from hourmark.drill import EXAMPLES, Scored, score
from hourmark.drill.clock import read_clock, write_clock
from hourmark.drill.folder import CLOCK, Answered, Drill, keep_answer
from hourmark.drill.recorded import on_the_record, score_recorded
from hourmark.finding import Finding
from hourmark.web import drilling
from hourmark.web.drilling import Rung, make_due, next_caller, rung
from hourmark.web.pages.drill_record import recorded_of
from hourmark.web.pages.practice_calls import CHOICES, answers_typed, sheet_of, shown_score
from hourmark.web.work import Work, page

NUMBER = "The number that she asks for, where there is one"
"""The same words in every call: which number it is would tell what the call is about."""


def _served() -> Drill:
    """The drill; there is no such page where none is served."""
    found = drilling.drill()
    if found is None:
        raise Http404
    return found


@page("GET")
def calls(work: Work) -> HttpResponse:
    """Who rings since when, and where nobody does, when the next one will."""
    served = _served()
    not_made = make_due(served, work.desk, work.now)
    whole = drilling.unread() is None
    there = rung(served, work.now) if whole else []
    return work.page(
        "drill/calls",
        served=served,
        whole=whole,
        not_made=not_made,
        pace=drilling.drill_pace(),
        ringing=[one for one in there if not one.over],
        over=[one for one in there if one.over],
        next=next_caller(served, work.now),
    )


@page("GET")
def ringing(work: Work) -> HttpResponse:
    """Who rings, for a board that is open; nothing where that board has it so."""
    not_made = make_due(_served(), work.desk, work.now)
    if work.request.GET.get("strip") == drilling.strip_of(work.now, not_made).digest:
        return HttpResponse(status=204)
    return work.page("drill/ringing", not_made=not_made)


@page("POST")
def go_on(work: Work) -> HttpResponse:
    """The clock put forward to when the next one rings, where nobody does now; and what happens until then."""
    served = _served()
    following = next_caller(served, work.now)
    if drilling.unread() is not None:
        return redirect("drill-calls")
    if any(not one.over for one in rung(served, work.now)):
        messages.error(work.request, "Somebody rings: hang up first, then the clock goes on.")
    elif following is not None and work.typed.get("to") == following.rings_at:
        if not_made := make_due(served, work.desk, following.rings_at):
            messages.error(work.request, f"The next night cannot be made: {not_made}")
            return redirect("drill-calls")
        path, to = served.folder / CLOCK, dt.datetime.fromisoformat(following.rings_at)
        write_clock(path, read_clock(path).forward(dt.datetime.now(dt.UTC), to))
    return redirect("drill-calls")


@page("GET", "POST")
def call(work: Work, case: str) -> HttpResponse:
    """One call: her words and what is asked first; then what she says, and the way to the real pages; then the score of it."""
    served = _served()
    if drilling.unread() is not None:
        return redirect("drill-calls")
    one = next((one for one in rung(served, work.now) if one.caller.case == case), None)
    if one is None:
        raise Http404
    if work.request.method == "POST":
        _keep(work, served, one)
        if not work.findings and not {"hang", "back"} & work.typed.keys():
            return redirect("drill-call", case)
    return work.page(
        "drill/night-call",
        caller=one.caller,
        one=one.caller.round,
        scene=one.caller.round.scene,
        answered=one.answered,
        over=one.over,
        sure="hang" in work.typed,
        answering="back" in work.typed,
        wants=NUMBER,
        examples=list(dict.fromkeys(EXAMPLES.values())),
        **CHOICES,
        **shown_score(_score(one) if one.over else None),
    )


def _keep(work: Work, served: Drill, one: Rung) -> None:
    case = one.caller.case
    if one.answered is None:
        ask = work.typed.get("ask", "").strip()
        work.findings = work.said_blank(ask="one of these: what you ask first is kept as it is")
        if ask and ask not in one.caller.round.first_questions:
            raise Http404
        if ask:
            keep_answer(served.folder, case, Answered(ask))
    elif "end" in work.typed:
        scene = one.caller.round.scene
        recorded = recorded_of(work, work.states.case(case), scene) if on_the_record(scene) else None
        typed = answers_typed(work.typed | {"ask": one.answered.ask})
        keep_answer(served.folder, case, Answered(one.answered.ask, typed, recorded, work.member.name))


def _score(one: Rung) -> Scored | Finding:
    """The score of a call that is over: out of the record where it is answered there, else out of what was typed."""
    assert one.answered is not None
    assert one.answered.typed is not None
    if one.answered.recorded is not None:
        return score_recorded(one.caller.round, one.answered.ask, one.answered.recorded)
    return score(one.caller.round, one.answered.typed)


@page("GET")
def score_sheet(work: Work) -> HttpResponse:
    """The score of every call that is over."""
    served = _served()
    over = [one for one in rung(served, work.now) if one.over] if drilling.unread() is None else []
    scored = ((_score(one), one.caller.case, one.answered.by if one.answered else "") for one in over)
    return work.page("drill/night-score", served=served, **sheet_of(scored))
