"""Practice calls: the drill on pages of its own. It reads no case and writes nothing on the record; the answers so far stand in the session alone."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.http import Http404, HttpResponse
from django.shortcuts import redirect

from hourmark.drill import (
    ASKED,
    BANNER,
    DECIDERS,
    EXAMPLES,
    KINDS,
    PART_WORDS,
    Answers,
    Round,
    Scene,
    Scored,
    card,
    rounds,
    score,
    totals,
)
from hourmark.finding import Finding
from hourmark.incident import Kind, question
from hourmark.incident.calls import calls
from hourmark.web.work import Work, page

_WHOLE = re.compile(r"[0-9]{1,6}")
_SESSION = "practice-calls"


@page("GET")
def practice_calls(work: Work) -> HttpResponse:
    """Which drill: its seed, and how many of the calls."""
    _where_no_drill_is_served()
    seed, count = work.request.GET.get("seed", ""), work.request.GET.get("calls", "")
    if _WHOLE.fullmatch(seed) and _WHOLE.fullmatch(count) and 1 <= int(count) <= len(calls()):
        return redirect("practice-call", int(seed), int(count), 1)
    return work.page("drill/start", banner=BANNER, most=len(calls()), seed=seed, count=count, asked=bool(seed or count))


@page("GET", "POST")
def practice_call(work: Work, seed: int, count: int, place: int) -> HttpResponse:
    """One call: her words and what is asked first; then what she says, and the rest; then the score of it."""
    one = _round(seed, count, place)
    typed = work.typed
    asked = typed.get("ask", "") if work.request.method == "POST" else ""
    scored = None
    if work.request.method == "POST" and "note" in typed:
        answers = answers_typed(typed)
        _keep(work, seed, count, one, answers)
        scored = score(one, answers)
    scene = one.scene
    return work.page(
        "drill/call",
        banner=BANNER,
        seed=seed,
        count=count,
        one=one,
        scene=scene,
        card=card(scene.case),
        asked=asked,
        answering=work.request.method == "POST" and scored is None,
        wants=ASKED[scene.wants] if scene.wants is not None else "",
        examples=[EXAMPLES[scene.wants]] if scene.wants is not None else [],
        **CHOICES,
        **shown_score(scored),
        next_place=place + 1 if place < count else None,
    )


@page("GET")
def practice_score(work: Work, seed: int, count: int) -> HttpResponse:
    """The score sheet of the calls answered so far."""
    answered = _answered(work, seed, count)
    found = [score(one, answered[one.scene.call.id]) for one in _rounds(seed, count) if one.scene.call.id in answered]
    return work.page("drill/score", banner=BANNER, seed=seed, count=count, **sheet_of((one, "", "") for one in found))


def _where_no_drill_is_served() -> None:
    """While a drill is served its calls are answered there alone: the same seed has the same calls here, with the right answers."""
    if settings.DRILL:
        raise Http404


def _rounds(seed: int, count: int) -> tuple[Round, ...]:
    _where_no_drill_is_served()
    if not 1 <= count <= len(calls()):
        raise Http404
    return rounds(seed, count)


def _round(seed: int, count: int, place: int) -> Round:
    found = next((one for one in _rounds(seed, count) if one.place == place), None)
    if found is None:
        raise Http404
    return found


def _answered(work: Work, seed: int, count: int) -> dict[str, Answers]:
    """The answers of this very drill, by call; of no other."""
    kept: dict[str, Any] = work.request.session.get(_SESSION, {})
    if (kept.get("seed"), kept.get("count")) != (seed, count):
        return {}
    return {call: Answers(**answers) for call, answers in kept["answers"].items()}


def _keep(work: Work, seed: int, count: int, one: Round, answers: Answers) -> None:
    kept = _answered(work, seed, count) | {one.scene.call.id: answers}
    plain = {call: {name: getattr(said, name) for name in Answers.__slots__} for call, said in kept.items()}
    work.request.session[_SESSION] = {"seed": seed, "count": count, "answers": plain}


def answers_typed(typed: Mapping[str, str]) -> Answers:
    """The answers of a form."""
    return Answers(**{name: typed.get(name, "").strip() for name in Answers.__slots__})


CHOICES: dict[str, Any] = {"kinds": KINDS.items(), "deciders": DECIDERS.items()}
"""What can be chosen in every call."""


def shown_score(scored: Scored | Finding | None) -> dict[str, Any]:
    """The score of one call for a page; why there is none, where its number does not come out the same twice."""
    return {
        "scored": scored if isinstance(scored, Scored) else None,
        "lines": _lines(scored) if isinstance(scored, Scored) else [],
        "wrong": scored if isinstance(scored, Finding) else None,
    }


@dataclass(frozen=True, slots=True)
class Line:
    """One call of a score sheet: its score part by part; whose case it was and who had her, where it was one on the record."""

    scored: Scored
    lines: list[tuple[str, bool, str, str]]
    case: str
    by: str


def sheet_of(found: Iterable[tuple[Scored | Finding, str, str]]) -> dict[str, Any]:
    """A score sheet for a page: the calls, and the totals over all of them. Each call comes with its case and who had her."""
    found = list(found)
    calls = [Line(one, _lines(one), case, by) for one, case, by in found if isinstance(one, Scored)]
    counted = totals([one.scored for one in calls])
    return {
        "calls": calls,
        "wrong": [one for one, _, _ in found if isinstance(one, Finding)],
        "totals": [(PART_WORDS[part], right, of) for part, (right, of) in counted.items()],
        "points": sum(right for right, _ in counted.values()),
        "of": sum(of for _, of in counted.values()),
    }


def _lines(one: Scored) -> list[tuple[str, bool, str, str]]:
    """Each part of a call: what it is, whether it was right, the right answer, and the one that was given."""
    scene = one.round.scene
    who = " or ".join(one.deciders)
    given = {name: getattr(one.answers, name) for name in Answers.__slots__}
    given |= {"facts": _in_words(scene, one.said), "kind": KINDS.get(one.answers.kind, "")}
    right = {"kind": KINDS[scene.kind], "ask": one.round.first, "facts": _in_words(scene, one.facts), "who": who}
    right["number"] = one.number or ""
    named = f"names the {who}" + (f" and {one.number}" if one.number else "")
    return [(PART_WORDS[part], ok, right.get(part, named), given[part]) for part, ok in one.right.items()]


def _in_words(scene: Scene, facts: Mapping[str, str]) -> str:
    """Facts under the words in which the real page asks for them, up to the end of the question."""
    kind = scene.call.kind
    asked = {key: question(kind, key) if isinstance(kind, Kind) else None for key in facts}
    words = {key: re.split(r"[?.]", one.words)[0] for key, one in asked.items() if one is not None}
    words["symptoms"] = "A sign of danger"  # its question is all of them
    return "; ".join(f"{words.get(key, key)}: {said}" for key, said in facts.items())
