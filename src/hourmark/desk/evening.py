"""A scripted evening played through the desk: each act at its moment, each once, however often the script is played."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace

from hourmark.case.asked import Refused
from hourmark.case.calls import HearReadBack
from hourmark.desk.desk import Answer, Desk, Done
from hourmark.desk.made import Planned, plan_of
from hourmark.exchange.evening import Evening, Scripted


@dataclass(frozen=True, slots=True)
class Played:
    """One act and what became of it: None where it was refused when the script was first played.

    `as_written` where that is what the script says.
    """

    act: Scripted
    answer: Answer | None
    as_written: bool


def play(desk: Desk, evening: Evening) -> Iterator[Played]:
    """Play every act in order, going on after the last that is on the record: what was done is not done again, nor judged again."""
    keys = list(zip(evening.acts, _keys(evening), strict=True))
    there = {key: entries for _, key in keys if (entries := tuple(desk.store.of_act(key)))}
    last = max((place for place, (_, key) in enumerate(keys) if key in there), default=-1)
    for place, (act, key) in enumerate(keys):
        if key in there:
            yield Played(act, Done(there[key], again=True), act.refused is None)
        elif place < last:
            yield Played(act, None, act.refused is not None)
        else:
            answer = desk.perform(_said_rightly(desk, act) if act.rightly else act.command, act.asked, key)
            codes = [finding.code for finding in answer.findings] if isinstance(answer, Refused) else []
            as_written = act.refused in codes if act.refused is not None else isinstance(answer, Done)
            yield Played(act, answer, as_written)


def _keys(evening: Evening) -> Iterator[str]:
    parts: Counter[int] = Counter()
    for act in evening.acts:
        parts[act.number] += 1
        yield f"evening-{evening.digest[:16]}-{act.number}-{parts[act.number]}"


def _said_rightly(desk: Desk, act: Scripted) -> HearReadBack:
    """The read-back with every field and the check word as her page has them."""
    heard: HearReadBack = act.command
    states = desk.states()
    planned = plan_of(states.case(heard.case), states.rules(), act.asked.at)
    if not isinstance(planned, Planned):
        return heard
    return replace(heard, fields=tuple(planned.to_read_back.items()), check_word=planned.made.check_word)
