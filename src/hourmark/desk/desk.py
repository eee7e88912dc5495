"""The desk: the only writer. It loads, decides, appends and queues messages in one short transaction."""

import logging
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TypeAlias

from hourmark.case import events as e
from hourmark.case.asked import Asked, Refused
from hourmark.case.calls import HearReadBack
from hourmark.case.checks import SecondCheck
from hourmark.case.handover import ListMorning
from hourmark.case.morning import morning_words
from hourmark.case.opening import not_open
from hourmark.case.rules import no_rules
from hourmark.case.shapes import Recorded, request_bytes, to_fact
from hourmark.case.sheets import Release, release
from hourmark.case.streams import On, case_stream, pages_stream
from hourmark.clock import parse_zone
from hourmark.desk.acts import Command, decide, unreadable
from hourmark.desk.made import Planned, page_facts, plan_of, printed
from hourmark.desk.states import Memo, States, morning_of, recorded
from hourmark.exchange.prints import PageRefused
from hourmark.finding import Finding
from hourmark.ledger import (
    Act,
    Entry,
    Fact,
    KeyTaken,
    Message,
    NotStored,
    Reader,
    Stale,
    Store,
    Writer,
    append,
    repeated,
)

_LOG = logging.getLogger("hourmark.desk")

TRIES = 3
"""How often an act that met another's is decided anew."""

BY_MAIL = "sheet-by-mail"
"""The kind of a message for which a released sheet goes to her: to which case, and which version of its sheet."""

PAGE = "page"
"""The kind of an entry whose body is a page as it was printed."""


@dataclass(frozen=True, slots=True)
class Done:
    """The act's entries; `again` where this was a repeat, and these the first answer."""

    entries: tuple[Entry, ...]
    again: bool = False


@dataclass(frozen=True, slots=True)
class Moved:
    """Nothing was recorded: somebody else was faster. What has happened since, by stream."""

    since: dict[str, tuple[Recorded, ...]]


Answer: TypeAlias = Done | Refused | Moved | KeyTaken


@dataclass(frozen=True, slots=True)
class _Ready:
    """What was made before the record was locked, and the heads it was made at."""

    planned: Planned | None = None
    pages: Mapping[str, bytes] | None = None
    lines: tuple[str, ...] = ()
    heads: Mapping[str, int] | None = None


class Desk:
    """One clinic's desk, over its store. `salt` gives 16 random bytes a call."""

    def __init__(self, store: Store, salt: Callable[[], bytes]) -> None:
        self.store, self.salt, self._memo = store, salt, Memo()

    def states(self, as_of: e.Instant | None = None) -> States:
        """The clinic's states as they are, or as they were at a moment."""
        return States(self.store, self._memo, as_of)

    def perform(
        self,
        command: Command,
        asked: Asked,
        key: str,
        expected: Mapping[str, int] | None = None,
        beside: Callable[[], object] | None = None,
    ) -> Answer:
        """Do it, once for each key. `expected` are the streams as whoever asks has seen them, by the number of their last entry.

        `beside` writes what belongs with it into tables beside the record, in the same transaction: both are there, or neither.

        Raises NotStored when the store could not, and then nothing was stored; Damaged when the record is not what was written.
        """
        answer = self._perform(command, asked, key, expected or {}, beside or (lambda: None))
        _LOG.info("act", extra={"act": type(command).__name__, **_logged(answer)})
        return answer

    def why_not(self, command: Command, asked: Asked) -> tuple[Finding, ...]:
        """Why an act that needs no plan would be refused as the record now stands; nothing is written, whatever the answer."""
        if problems := unreadable(command):
            return problems
        answer = decide(command, asked, self.states(), None, (), ())
        return answer.findings if isinstance(answer, Refused) else ()

    def _perform(
        self, command: Command, asked: Asked, key: str, expected: Mapping[str, int], beside: Callable[[], object]
    ) -> Answer:
        if problems := unreadable(command):
            return Refused(problems)
        for left in reversed(range(TRIES)):
            try:
                answer = self._tried(command, asked, key, expected, beside)
            except NotStored as failed:
                if failed.passing and left:
                    continue
                raise
            if answer is not None:
                return answer
        raise NotStored("Others kept changing the same case.", passing=True)

    def _tried(
        self, command: Command, asked: Asked, key: str, expected: Mapping[str, int], beside: Callable[[], object]
    ) -> Answer | None:
        """One try; None where somebody else changed what was made ready for it."""
        ready = self._ready(command, asked)
        if isinstance(ready, Refused):
            return self._repeated(key, command) or _moved(self.store, expected) or ready
        with self.store.writing() as record:
            answer = self._within(record, command, asked, key, expected, ready)
            if isinstance(answer, Done) and not answer.again:
                beside()
            return answer

    def pages(self, case: str, version: int) -> dict[str, bytes]:
        """The pages of an issued sheet, byte for byte as they were; those whose bodies were erased are left out."""
        issued = next(one.event for one in self.states().case(case).sheets if one.event.version == version)
        bodies = {entry.seq: entry.body for entry in self.store.read(pages_stream(case))}
        return {page.name: body for page in issued.pages if (body := bodies.get(page.seq)) is not None}

    def _repeated(self, key: str, command: Command) -> Done | KeyTaken | None:
        first = repeated(self.store, key, request_bytes(command))
        return first if isinstance(first, KeyTaken) or first is None else Done(first.entries, again=True)

    def _ready(self, command: Command, asked: Asked) -> _Ready | Refused:
        """What takes long: plans and pages."""
        if isinstance(command, ListMorning):
            states = self.states()
            if missing := no_rules(states.rules()):
                return missing
            lines = morning_words(
                morning_of(states, command.day, asked.at), parse_zone(states.rules().clinic.get("zone"))
            )
            return _Ready(lines=lines, heads=states.heads)
        if not isinstance(command, Release | SecondCheck | HearReadBack):
            return _Ready()
        states = self.states()
        state, rules = states.case(command.case), states.rules()
        if refusal := not_open(state, command.case):
            return refusal
        planned = plan_of(state, rules, asked.at)
        if not isinstance(planned, Planned):
            return Refused(planned)
        pages = None
        if isinstance(command, Release) and not isinstance(release(state, command, asked, planned.made), Refused):
            states.heads[pages_stream(command.case)] = self.store.head(pages_stream(command.case)).seq
            try:
                pages = printed(planned, state, rules, asked.by, asked.at)
            except PageRefused as unprintable:
                return Refused(unprintable.findings)
        return _Ready(planned, pages, heads=states.heads)

    def _within(
        self, record: Writer, command: Command, asked: Asked, key: str, expected: Mapping[str, int], ready: _Ready
    ) -> Answer | None:
        """Inside the transaction. None where what was made ready is no longer so."""
        request = request_bytes(command)
        if (first := repeated(record, key, request)) is not None:
            return first if isinstance(first, KeyTaken) else Done(first.entries, again=True)
        if (moved := _moved(record, expected)) is not None:
            return moved
        if any(record.head(stream).seq != seq for stream, seq in (ready.heads or {}).items()):
            return None
        states = States(record, self._memo)
        facts, pages = _pages(command, ready)
        answer = decide(command, asked, states, ready.planned, pages, ready.lines)
        if isinstance(answer, Refused):
            return answer
        facts = (*(to_fact(one.stream, one.event) for one in answer), *facts)
        outcome = append(record, Act(key, request, asked.by, asked.at, facts), states.heads, self.salt)
        if isinstance(outcome, Stale | KeyTaken):
            raise AssertionError("The record moved inside its own transaction.")
        record.queue(_messages(answer))
        return Done(outcome.entries)


def _logged(answer: Answer) -> dict[str, object]:
    """What a log may say of an answer: no name, no case, no words."""
    match answer:
        case Done(entries, again):
            return {"outcome": "again" if again else "done", "entries": len(entries)}
        case Refused(findings):
            return {"outcome": "refused", "codes": [finding.code for finding in findings]}
        case Moved():
            return {"outcome": "moved"}
        case KeyTaken():
            return {"outcome": "key taken"}


def _moved(record: Reader, expected: Mapping[str, int]) -> Moved | None:
    """What has happened since whoever asks has looked; None where nothing has. That somebody else looked as well is nothing."""
    since: dict[str, tuple[Recorded, ...]] = {}
    for stream, seq in expected.items():
        last = record.head(stream).seq
        events = tuple(one for one in recorded(record, stream) if one.seq > seq) if last > seq else ()
        telling = tuple(one for one in events if not isinstance(one.event, e.PlanOpened))
        if telling or last < seq:
            since[stream] = telling
    return Moved(since) if since else None


def _pages(command: Command, ready: _Ready) -> tuple[tuple[Fact, ...], tuple[e.Page, ...]]:
    """The pages of a sheet as facts of their own, and how the sheet refers to them."""
    if not isinstance(command, Release) or ready.pages is None or ready.heads is None:
        return (), ()
    stream = pages_stream(command.case)
    facts = tuple(Fact(stream, PAGE, 1, content) for content in ready.pages.values())
    return facts, page_facts(dict(ready.pages), ready.heads[stream])


def _messages(answer: tuple[On, ...]) -> tuple[Message, ...]:
    """What somebody has to be told: whose page is void and has to be rung, which prescriber has to sign, which page goes by mail."""
    messages = []
    issued = any(isinstance(one.event, e.SheetIssued) for one in answer)
    for one in answer:
        match one.event:
            case e.SheetVoided(version, _, why) if not issued:
                text = f"Sheet {version} is void: {why}."
                messages.append(Message("call-owed", one.stream.removeprefix(case_stream("")), text))
            case e.MailAsked(version):
                messages.append(Message(BY_MAIL, one.stream.removeprefix(case_stream("")), str(version)))
            case e.OrderTelephoned(version, order):
                text = f"Order {version} was taken by telephone and awaits your signature."
                messages.append(Message("countersign", str(order["signed_by"]), text))
    return tuple(messages)
