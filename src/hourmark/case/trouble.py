"""A report of trouble: kept word for word before anything is made of it, and with it what is said to have gone in."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from hourmark.case import events as e
from hourmark.case.asked import Asked, Refused
from hourmark.case.night import Confirm, confirm
from hourmark.case.opening import not_open
from hourmark.case.state import CaseState, Kept
from hourmark.incident import KIND_WORDS, Facts, Kind, question, read_facts
from hourmark.incident.facts import NOT_KNOWN

DANGER, ELSE = "a sign of danger", "something else"
"""What stands in the place of a kind where nothing is computed."""

WORDS = "words"
"""The key of what the caller said in their own words."""

WHOLE_CASE = "case"
"""Of which injection somebody was told, where a report is about none of hers."""

NOT_SAID = "nobody yet"
"""Who decided, and what, while a report is only a report."""

_END = ";\n"


@dataclass(frozen=True, slots=True)
class ReportTrouble:
    """Keep a report of trouble; `kind` is a kind of trouble, a sign of danger, or something else.

    `said` are the answers by their keys, as they were typed; `report` is what of it says that an injection went in. `after` is the
    report with which this one goes on, where it is more of the same call.
    """

    case: str
    injection: str | None
    kind: str
    said: tuple[tuple[str, str], ...]
    report: Confirm | None = None
    after: int | None = None


def report_trouble(state: CaseState, command: ReportTrouble, asked: Asked) -> tuple[e.CaseEvent, ...] | Refused:
    """The trouble is open, and what went in is reported: both or neither, whatever they say and however the case stands.

    More of the same call takes the place of what was open of it, and says no injection a second time. What is about another injection
    stays beside it, and so does a sign of danger beside all else: settling the one must not end the other.
    """
    if not state.there:
        return not_open(state, command.case) or ()
    danger = command.kind == DANGER or dict(command.said).get("symptoms") == "yes"
    before = last_of(state, command.after)
    if before is not None and (is_settled(state, before) or not _is_of_the_same(before, command, danger=danger)):
        before = None
    noted = e.IncidentNoted(
        command.injection,
        report_words(command.kind, dict(command.said)),
        NOT_SAID,
        NOT_SAID,
        settled=False,
        settles=before.kept.seq if before is not None else None,
    )
    if command.report is None:
        return (noted,)
    confirmed = confirm(state, command.report, asked)
    if isinstance(confirmed, Refused):
        return confirmed
    new = (one for one in confirmed if before is None or not _is_said(state, one))
    return (*new, noted)


def _is_said(state: CaseState, event: e.CaseEvent) -> bool:
    """Whether a report of an injection says just what was said of it last; how doubtful it is may be another by now."""
    if not isinstance(event, e.Confirmed):
        return False
    last = next((one.event for one in reversed(state.confirmations) if one.event.injection == event.injection), None)
    return last is not None and replace(last, doubts=()) == replace(event, doubts=())


def report_words(kind: str, said: Mapping[str, str]) -> str:
    """A report as it stands in the record and on the board: what kind it is, then each answer behind its key."""
    title = KIND_WORDS[Kind(kind)] if kind in set(Kind) else kind
    answers = (f"{key}: {' '.join(words.split())}" for key, words in said.items() if words.strip())
    return _END.join((title, *answers))


def read_report(happened: str) -> tuple[str, dict[str, str]] | None:
    """Kind and answers of a report as it was kept; None for an incident that was written in another way."""
    title, *answers = happened.split(_END)
    kinds = {words: str(kind) for kind, words in KIND_WORDS.items()} | {DANGER: DANGER, ELSE: ELSE}
    if title not in kinds or not all(": " in one for one in answers):
        return None
    said = (one.partition(": ") for one in answers)
    return kinds[title], {key: words for key, _, words in said}


_SAID = {
    "injected": {"yes": "the needle has been in", "no": "nothing has gone in"},
    "all": {"yes": "all of it went in", "no": "not all of it went in"},
    "symptoms": {"yes": "A SIGN OF DANGER", "no": "no sign of danger"},
    "instead": {"yes": "taken in its place", "no": "taken beside it"},
}
_SAYS = {
    "at": "at {}",
    "drawn": "drawn to {}",
    "mark": "the plunger stood at {}",
    "barrel": "syringe {}",
    "water": "{} of water in each vial",
    "strength": "strength on the vial {}",
    "lost": "lost: {}",
    "stayed": "{} still in the syringe",
    "residue": "{} still in the vial",
    "route": "{}",
    "times": "{} times in all",
    "missed": "left out: {}",
    "drug": "the medicine: {}",
    "kept": "kept: {}",
    "opened": "boxes open or used up: {}",
    "open": "starts still open: {}",
    WORDS: "\u201c{}\u201d",
}
_ASKED_FIRST = ("symptoms", "injection")
_NOT_KNOWN = {
    "symptoms": "whether there is a sign of danger",
    "injected": "whether the needle has been in",
    "all": "whether all of it went in",
    "at": "the time",
    "drawn": "how far it was drawn",
    "mark": "where the plunger stood",
    "barrel": "which syringe",
    "water": "how much water",
    "strength": "the strength on the vial",
    "lost": "how much was lost",
    "stayed": "what is still in the syringe",
    "residue": "what is still in the vial",
    "route": "the route",
    "times": "how many times",
    "missed": "which was left out",
    "drug": "which medicine",
    "instead": "whether it was taken in its place",
    "kept": "how it was kept",
    "opened": "how many boxes are open",
    "open": "which starts are still open",
}


def nurse_words(happened: str) -> str:
    """A report of trouble as a nurse would say it, the kind first; what was written in another way stays as it is.

    Of which injection it is stands beside it, and that there is no sign of danger comes last.
    """
    read = read_report(happened)
    if read is None:
        return happened
    kind, said = read
    first = KIND_WORDS[Kind(kind)] if kind in set(Kind) else kind
    facts = [_say(key, words) for key, words in said.items() if key not in _ASKED_FIRST]
    danger = _say("symptoms", said["symptoms"]) if "symptoms" in said else ""
    if said.get("symptoms") == "yes":
        return "; ".join(dict.fromkeys(filter(None, (danger, first if kind != DANGER else "", *facts))))
    return "; ".join(filter(None, (first, *facts, danger)))


def _say(key: str, words: str) -> str:
    if words.strip().lower() == NOT_KNOWN:
        return f"{_NOT_KNOWN.get(key, key)} not known"
    return _SAID.get(key, {}).get(words) or _SAYS.get(key, f"{key}: {{}}").replace("{}", words)


# What was kept


@dataclass(frozen=True, slots=True)
class Report:
    """One report of trouble as it was kept: its kind, and what was said by its keys."""

    kept: Kept[e.IncidentNoted]
    kind: str
    said: Mapping[str, str]

    @property
    def words(self) -> str:
        """The kind in words."""
        return KIND_WORDS[Kind(self.kind)] if self.kind in set(Kind) else self.kind

    @property
    def facts(self) -> Facts | None:
        """What was said, read; None where nothing is computed of it. What cannot be read is not known, and no number leaves it out."""
        if self.kind not in set(Kind):
            return None
        kind = Kind(self.kind)
        read = read_facts(kind, {key: words for key, words in self.said.items() if question(kind, key)})
        return replace(read, unknown=read.unknown | {one.key for one in read.again})

    @property
    def danger(self) -> bool:
        """Whether there is a sign of danger."""
        return self.kind == DANGER or self.said.get("symptoms") == "yes"


def reports_of(state: CaseState) -> tuple[Report, ...]:
    """Every report of trouble of a case as it was first said; what was decided of it later stands beside it."""
    return tuple(_reports(state))


def _reports(state: CaseState) -> Iterator[Report]:
    for one in state.incidents:
        if one.event.decided_by == NOT_SAID and not one.event.settled:
            read = read_report(one.event.happened)
            if read is not None:
                yield Report(one, *read)


def last_words(state: CaseState) -> tuple[Report, ...]:
    """The reports whose place no later one of the same call took."""
    taken = {one.kept.event.settles for one in reports_of(state)}
    return tuple(one for one in reports_of(state) if one.kept.seq not in taken)


def is_settled(state: CaseState, report: Report) -> bool:
    """Whether nothing of it is open any more: it was settled, or a later report of the same call took its place."""
    return report.kept.seq not in [one.seq for one in state.problems]


def _is_of_the_same(before: Report, command: ReportTrouble, *, danger: bool) -> bool:
    return before.danger == danger and before.kept.event.injection == command.injection


def same_call(state: CaseState, report: Report) -> tuple[Report, ...]:
    """The reports of one call, from the first words of it to the last."""
    every = reports_of(state)
    call = [report]
    while before := [one for one in every if one.kept.seq == call[0].kept.event.settles]:
        call[:0] = before
    while after := [one for one in every if one.kept.event.settles == call[-1].kept.seq]:
        call += after[:1]
    return tuple(call)


def last_of(state: CaseState, entry: int | None) -> Report | None:
    """The last words of the call that has this report; None where there is no such report."""
    found = next((one for one in reports_of(state) if one.kept.seq == entry), None)
    return same_call(state, found)[-1] if found is not None else None


def computed(state: CaseState, one: Kept[e.IncidentNoted]) -> str:
    """What was computed of a report and kept: the numbers as somebody was told of them since; empty where nobody was told just these.

    What was told names an injection and a kind, and no entry. So it is of the last report before it of both, and of none where an
    earlier call about both was still open.
    """
    report = next((report for report in reports_of(state) if report.kept.seq == one.seq), None)
    if report is None or _is_one_of_two(state, report):
        return ""
    begins, about = f"{report.words}; ", one.event.injection or WHOLE_CASE
    ends = next((other.kept.seq for other in _like(state, report) if other.kept.seq > one.seq), None)
    told = [
        said.event.about
        for said in state.escalations
        if one.seq < said.seq and (ends is None or said.seq < ends) and said.event.injection == about
    ]
    return next((words.removeprefix(begins) for words in reversed(told) if words.startswith(begins)), "")


def _like(state: CaseState, report: Report) -> list[Report]:
    """The reports of the same kind of trouble with the same injection, this one among them."""
    about = report.kept.event.injection
    return [one for one in reports_of(state) if one.words == report.words and one.kept.event.injection == about]


def _is_one_of_two(state: CaseState, report: Report) -> bool:
    """Whether another call of the same kind about the same injection was open when this was reported."""
    then = replace(state, incidents=tuple(one for one in state.incidents if one.seq < report.kept.seq))
    still_open = {one.seq for one in then.problems} - {report.kept.event.settles}
    return any(one.kept.seq in still_open for one in _like(then, report))
