"""Every fact that the record of a clinic can hold: past tense, whole, never edited. A mistake is answered by a new fact.

Instants are RFC 3339 in UTC to the second; a table is what a night file would hold at that place. Who did it and when it was recorded
stand in the entry around the fact.
"""

from dataclasses import dataclass
from typing import TypeAlias

from hourmark.ledger import Value

Table: TypeAlias = dict[str, Value]
"""A table of a night file, as written."""

Instant: TypeAlias = str
"""RFC 3339 in UTC, to the second: "2026-11-19T03:00:00Z"."""


# The case


@dataclass(frozen=True, slots=True)
class CaseOpened:
    """A person's cycle came onto the record. `details` are the keys of a case but its slot, order and kit."""

    case: str
    details: Table


@dataclass(frozen=True, slots=True)
class DetailsChanged:
    """Something about her that a plan rests on changed, such as where she will be tonight."""

    details: Table
    why: str


@dataclass(frozen=True, slots=True)
class CaseClosed:
    """Nothing more is expected of this case."""

    why: str


# Slots


@dataclass(frozen=True, slots=True)
class SlotGiven:
    """The case has this slot from now on, instead of any before. `instant` is what the clinic's clock time means."""

    slot: Table
    instant: Instant
    why: str


@dataclass(frozen=True, slots=True)
class SlotTaken:
    """The case has no slot any more."""

    slot: str
    why: str


# Orders


@dataclass(frozen=True, slots=True)
class OrderSigned:
    """The prescriber signed an order; it takes the place of any before it, which stay readable."""

    version: int
    order: Table


@dataclass(frozen=True, slots=True)
class OrderTelephoned:
    """An order was taken by telephone, word for word, read back, and awaits the prescriber's countersignature."""

    version: int
    order: Table
    words: str
    second_listener: str | None


@dataclass(frozen=True, slots=True)
class OrderCountersigned:
    """The prescriber signed what was taken by telephone."""

    version: int
    signed_by: str


@dataclass(frozen=True, slots=True)
class OrderWithdrawn:
    """The prescriber took the order back; there is none until another is signed."""

    version: int
    withdrawn_by: str
    why: str


# Kit


@dataclass(frozen=True, slots=True)
class KitRead:
    """What is at home was read off the boxes; `how` says by whom and whether seen, photographed or heard."""

    version: int
    kit: Table
    how: str


@dataclass(frozen=True, slots=True)
class CartonChecked:
    """Two people read strength, volume and route off one box of this kit."""

    product: str
    readers: tuple[str, str]
    strength: str
    volume: str
    route: str


# Second check


@dataclass(frozen=True, slots=True)
class Reading:
    """One injection as somebody works it out: its minute, and volume and mark of each fill."""

    injection: str
    at: Instant
    fills: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class PlanOpened:
    """Somebody saw this case's plan or sheet, and can no longer check it blind."""

    what: str


@dataclass(frozen=True, slots=True)
class SecondChecked:
    """Another person worked the case out from order and label. Both answers are kept; `differences` is empty where they agree."""

    role: str
    entered: tuple[Reading, ...]
    planned: tuple[Reading, ...]
    differences: tuple[str, ...]
    rests_on: dict[str, str]


# Calls


@dataclass(frozen=True, slots=True)
class CallTried:
    """Somebody rang her; `result` says who answered, or that nobody did."""

    number: str
    reached: bool
    result: str


@dataclass(frozen=True, slots=True)
class Said:
    """One thing read back: what it should be, and what was said."""

    name: str
    wanted: str
    said: str
    agreed: bool


@dataclass(frozen=True, slots=True)
class ReadBack:
    """The page was read to her, and she repeated it field by field. `old_alarm_deleted` is None where there was none."""

    on_the_line: str
    identified_by: tuple[str, str]
    fields: tuple[Said, ...]
    check_word: str
    old_alarm_deleted: bool | None
    rests_on: dict[str, str]


@dataclass(frozen=True, slots=True)
class CallNoted:
    """The note of a call: who rang from where, what she said, what she was told, where she was sent, and what follows."""

    caller: str
    number: str
    received: str
    advice: str
    referred_to: str
    follow_up: str


@dataclass(frozen=True, slots=True)
class UnreachedTold:
    """Somebody was told that she was rung and not reached, and what they said."""

    told: str
    reply: str


@dataclass(frozen=True, slots=True)
class PermissionsSet:
    """What she allows, and how she said so. `may_be_told` says who else may be told, in words such as "her partner", and never a name."""

    may_be_told: str
    voicemail: bool
    message: bool
    how: str


# Sheets


@dataclass(frozen=True, slots=True)
class Follows:
    """That an injection is ordered from the ACTUAL time of another: so many minutes after it, and the least and the most allowed."""

    injection: str
    gap: int
    least: int | None
    most: int | None


@dataclass(frozen=True, slots=True)
class Due:
    """One injection of an issued sheet: what, and when. `said` is the minute in her words.

    `earliest` and `latest` close its window as it was then; `leads` are the least and the most minutes before the slot, wherever that is.
    `holds` is the most that its syringes hold together; None where nothing is measured, and on sheets from before this was kept.
    `follows` is there where the order counts it from another injection.
    """

    injection: str
    medicine: str
    dose: str
    route: str
    take: str
    at: Instant
    zone: str
    said: str
    tell_by: Instant | None
    mix_at: Instant | None
    earliest: Instant | None
    latest: Instant | None
    leads: tuple[int, int] | None
    holds: str | None
    follows: Follows | None


@dataclass(frozen=True, slots=True)
class Page:
    """One page of an issued sheet: its name, its number in the stream of pages, and the SHA-256 of its bytes."""

    name: str
    seq: int
    sha256: str


@dataclass(frozen=True, slots=True)
class SheetIssued:
    """A named person released a sheet. It holds from now on, instead of any before it, until something it rests on changes.

    `unchecked_why` is the prescriber's reason where nobody checked; `call_waived_why` that of whoever went without the call; `answered`
    holds, by its code, what was said to each question that the plan left open.
    """

    version: int
    role: str
    check_word: str
    dues: tuple[Due, ...]
    pages: tuple[Page, ...]
    rests_on: dict[str, str]
    checked_by: str | None
    unchecked_why: str | None
    call_waived_why: str | None
    answered: tuple[tuple[str, str], ...]
    time_data: str


@dataclass(frozen=True, slots=True)
class MailAsked:
    """The sheet of that version is to go to her by mail. Her address stands in no record, and what became of the mail stands beside it."""

    version: int


@dataclass(frozen=True, slots=True)
class SheetVoided:
    """A sheet holds no longer. `changed` names what it rested on and is not so any more."""

    version: int
    changed: tuple[str, ...]
    why: str


# The night

ALL = "all"
"""The amount of a report where everything that was to go in went in."""

NONE = "none of it"
"""The amount of a report where nothing went in."""


@dataclass(frozen=True, slots=True)
class Confirmed:
    """Somebody reported an injection. It is kept whatever it says; `doubts` names what still has to be asked.

    `reported` is the clock time as said, in `zone`; `instant` is None where that is not one moment. `sheet` is the version followed.
    """

    injection: str
    reported: str
    zone: str
    instant: Instant | None
    told_by: str
    source: str
    amount: str
    remains: str
    sheet: int | None
    doubts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ConfirmationWithdrawn:
    """An entry with a report of an injection was a mistake."""

    entry: int
    why: str


@dataclass(frozen=True, slots=True)
class Escalated:
    """Somebody was to be told of an injection that is silent, late or in trouble: whether they were reached, and what they said.

    `rung` is the line of the ladder that this answers, where it answers one, and `tell` whom that line named then: a ladder that is
    signed anew has other lines under the same numbers.
    """

    injection: str
    told: str
    about: str
    reply: str
    reached: bool
    rung: int | None
    tell: str | None


@dataclass(frozen=True, slots=True)
class EscalationOwed:
    """A rung of the clinic's signed ladder was reached while an injection was silent: who is to be told, and since when that is due."""

    injection: str
    sheet: int
    rung: int
    tell: str
    since: Instant


@dataclass(frozen=True, slots=True)
class IncidentNoted:
    """What went wrong, as told; who decided what to do about it, and what was decided.

    `settled` ends it: the problem of that entry where `settles` names one, and otherwise every one with that injection. One that is not
    settled and names an entry is more of the same call, and takes the place of that entry.
    """

    injection: str | None
    happened: str
    decided_by: str
    decision: str
    settled: bool
    settles: int | None


# The morning's results


@dataclass(frozen=True, slots=True)
class ResultEntered:
    """A sample's results came onto the record. `drawn` is the clinic's clock time as entered, and `results` are as the laboratory reported.

    A strip that somebody read stands there as it was read: "LH strip negative".
    """

    drawn: str
    instant: Instant
    results: tuple[str, ...]
    how: str


@dataclass(frozen=True, slots=True)
class ResultWithdrawn:
    """An entry with a sample's results was a mistake."""

    entry: int
    why: str


# Her phone


@dataclass(frozen=True, slots=True)
class LinkGiven:
    """A link to her page, or to practice alone, was made; whoever holds it sees that one thing of one case until `expires`.

    `number` counts the links of this case. The secret in it is kept nowhere in the record.
    """

    number: int
    kind: str
    sheet: int | None
    expires: Instant


@dataclass(frozen=True, slots=True)
class LinkRevoked:
    """A link leads nowhere any more."""

    number: int
    why: str


@dataclass(frozen=True, slots=True)
class BoxesRead:
    """On her phone she compared what lies before her with what the page names; `differs` holds what is not the same."""

    injection: str
    sheet: int
    differs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class HelpAsked:
    """On her phone she asked for a call; `where` is the step she stood at."""

    injection: str | None
    where: str
    about: str


@dataclass(frozen=True, slots=True)
class HelpGiven:
    """Somebody answered what she asked for; `entry` is the asking's."""

    entry: int
    how: str


CaseEvent: TypeAlias = (
    CaseOpened
    | DetailsChanged
    | CaseClosed
    | SlotGiven
    | SlotTaken
    | OrderSigned
    | OrderTelephoned
    | OrderCountersigned
    | OrderWithdrawn
    | KitRead
    | CartonChecked
    | PlanOpened
    | SecondChecked
    | CallTried
    | ReadBack
    | CallNoted
    | UnreachedTold
    | PermissionsSet
    | SheetIssued
    | MailAsked
    | SheetVoided
    | Confirmed
    | ConfirmationWithdrawn
    | Escalated
    | EscalationOwed
    | IncidentNoted
    | ResultEntered
    | ResultWithdrawn
    | LinkGiven
    | LinkRevoked
    | BoxesRead
    | HelpAsked
    | HelpGiven
)


# The theatre day


@dataclass(frozen=True, slots=True)
class SlotPlaced:
    """Theatre placed a slot, or moved one of that id. `slot` is as in a night file."""

    slot: Table
    instant: Instant
    why: str


@dataclass(frozen=True, slots=True)
class SlotAssigned:
    """A slot belongs to a case from now on; None where it was freed."""

    slot: str
    case: str | None


@dataclass(frozen=True, slots=True)
class Problem:
    """Something open at handover: whose, and what."""

    case: str
    what: str


@dataclass(frozen=True, slots=True)
class HandedOver:
    """A nurse handed the night to another, with what is open."""

    to: str
    problems: tuple[Problem, ...]


@dataclass(frozen=True, slots=True)
class HandoverTaken:
    """The other nurse signed that she has it; `entry` is the handover's."""

    entry: int


@dataclass(frozen=True, slots=True)
class MorningListed:
    """A morning list went out under this number and took the place of those before it; `lines` are its very words."""

    version: int
    lines: tuple[str, ...]


DayEvent: TypeAlias = SlotPlaced | SlotAssigned | HandedOver | HandoverTaken | MorningListed


# The clinic


@dataclass(frozen=True, slots=True)
class RulesSigned:
    """The clinic's lead signed its rules; they rule from now on, instead of those before. `clinic` is as in a night file."""

    version: int
    clinic: Table


@dataclass(frozen=True, slots=True)
class BarrelMeasured:
    """Somebody measured the scale of a barrel in use; `barrel` is as in a night file."""

    barrel: Table


RulesEvent: TypeAlias = RulesSigned | BarrelMeasured


@dataclass(frozen=True, slots=True)
class CaseListed:
    """A case is open."""

    case: str


@dataclass(frozen=True, slots=True)
class CaseDelisted:
    """A case is closed."""

    case: str


RollEvent: TypeAlias = CaseListed | CaseDelisted

Event: TypeAlias = CaseEvent | DayEvent | RulesEvent | RollEvent
