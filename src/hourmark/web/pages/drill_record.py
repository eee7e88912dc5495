"""What stands on the record of a caller's case when the nurse hangs up, as the drill scores it."""

import re
from collections.abc import Iterator

from hourmark.case.asked import Role
from hourmark.case.state import CaseState
from hourmark.case.trouble import Report, reports_of, same_call
from hourmark.clock import moment_from_utc
from hourmark.desk.made import Planned, plan_of
from hourmark.desk.trouble import answer_to
from hourmark.drill import Scene
from hourmark.drill.numbers import Doubtful, number_in
from hourmark.drill.recorded import Recorded
from hourmark.drill.scenes import Wants
from hourmark.incident import Kind
from hourmark.incident.calls import Decider
from hourmark.web.models import Member
from hourmark.web.work import Work

_ROLES = {
    str(Role.NURSE): Decider.NURSE,
    str(Role.PRESCRIBER): Decider.PRESCRIBER,
    str(Role.PHARMACIST): Decider.PHARMACIST,
    str(Role.THEATRE): Decider.THEATRE,
}


def recorded_of(work: Work, state: CaseState, scene: Scene) -> Recorded:
    """The last words of her call, and what was told, decided and noted since its first."""
    reports = reports_of(state)
    if not reports:
        return Recorded(until=_minute(work, work.now))
    last = reports[-1]
    seq = same_call(state, last)[0].kept.seq
    told = [one.event for one in state.escalations if one.seq > seq]
    noted = [one.event for one in state.notes if one.seq > seq]
    settled = [one.event for one in state.incidents if one.seq > seq and one.event.settled]
    notes = [(one.referred_to, f"{one.advice}; {one.follow_up}") for one in noted]
    notes += [(one.decided_by, one.decision) for one in settled]
    asked = [one.told for one in told if one.reached] + [by for by, _ in notes]
    names = {name: _decider(work, name) for name in asked}
    lines = [f"{by} ({names[by]}): {words}" for by, words in notes]
    return Recorded(
        kind=_kind(last),
        said=dict(last.said),
        at=_minute(work, last.kept.at),
        until=_minute(work, work.now),
        number=_number(work, state, scene, last),
        deciders=tuple(dict.fromkeys(name for name in names.values() if name)),
        note="\n".join((*lines, *(one.reply for one in told))) if notes else "",
    )


def _kind(report: Report) -> str:
    if report.danger:
        return "danger"
    return report.kind if report.kind in set(Kind) else "question"


def _minute(work: Work, at: str) -> str:
    return f"{moment_from_utc(at, work.zone).wall:%Y-%m-%d %H:%M}"


def _number(work: Work, state: CaseState, scene: Scene, report: Report) -> str:
    """The number that the page gave for what was recorded, in the minute in which it was; empty where it gave none."""
    facts, then = report.facts, f"{report.kept.at[:16]}:00Z"
    if scene.wants not in (Wants.DOSE, Wants.LEAD) or report.danger or facts is None or facts.symptoms is None:
        return ""
    planned = plan_of(state, work.states.rules(), then)
    if not isinstance(planned, Planned):
        return ""
    try:
        return number_in(answer_to(state, planned, report, facts, then), scene)
    except Doubtful:
        return ""


def _decider(work: Work, name: str) -> str:
    """What somebody is: by the role of the one member whose name, or last name, that is, or by the word itself; empty for anybody else."""
    words, members = _words(name), list(Member.objects.filter(clinic=work.member.clinic))
    whole = [one for one in members if _words(one.name) == words]
    found = whole or [one for one in members if _words(one.name)[-1:] == words[-1:]]
    if len(found) == 1 and found[0].role in _ROLES:
        return str(_ROLES[found[0].role])
    return next(_named(" ".join(words)), "")


def _words(name: str) -> list[str]:
    return re.findall(r"[^\W_]+", name.casefold())


_OTHERWISE = {Decider.EMERGENCY: ("ambulance", "911", "112", "999"), Decider.THEATRE: ("lab",)}
"""Other words for whom somebody told; the numbers are those of emergency services (common practice, no source)."""


def _named(name: str) -> Iterator[str]:
    for who in Decider:
        words = (*str(who).split(" or "), *_OTHERWISE.get(who, ()))
        if any(re.search(rf"\b{re.escape(word)}\b", name) for word in words):
            yield str(who)
