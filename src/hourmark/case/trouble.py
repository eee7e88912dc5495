"""A report of trouble: kept word for word before anything is made of it, and with it what is said to have gone in."""

from collections.abc import Mapping
from dataclasses import dataclass

from hourmark.case import events as e
from hourmark.case.asked import Asked, Refused
from hourmark.case.night import Confirm, confirm
from hourmark.case.opening import not_open
from hourmark.case.state import CaseState
from hourmark.incident import KIND_WORDS, Kind

DANGER, ELSE = "a sign of danger", "something else"
"""What stands in the place of a kind where nothing is computed."""

WORDS = "words"
"""The key of what the caller said in their own words."""

NOT_SAID = "nobody yet"
"""Who decided, and what, while a report is only a report."""

_END = ";\n"


@dataclass(frozen=True, slots=True)
class ReportTrouble:
    """Keep a report of trouble; `kind` is a kind of trouble, a sign of danger, or something else.

    `said` are the answers by their keys, as they were typed; `report` is what of it says that an injection went in.
    """

    case: str
    injection: str | None
    kind: str
    said: tuple[tuple[str, str], ...]
    report: Confirm | None = None


def report_trouble(state: CaseState, command: ReportTrouble, asked: Asked) -> tuple[e.CaseEvent, ...] | Refused:
    """The trouble is open, and what went in is reported: both or neither, whatever they say and however the case stands."""
    if not state.there:
        return not_open(state, command.case) or ()
    noted = e.IncidentNoted(
        command.injection,
        report_words(command.kind, dict(command.said)),
        NOT_SAID,
        NOT_SAID,
        settled=False,
        settles=None,
    )
    if command.report is None:
        return (noted,)
    confirmed = confirm(state, command.report, asked)
    return confirmed if isinstance(confirmed, Refused) else (*confirmed, noted)


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
