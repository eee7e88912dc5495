"""Calls: tried, heard and noted, and what she allows."""

import re
from dataclasses import dataclass

from hourmark.case import events as e
from hourmark.case.asked import Asked, Refused, Role, blank, only, refusal, same_person
from hourmark.case.opening import not_open, nothing_changed
from hourmark.case.state import CaseState
from hourmark.finding import Unreadable
from hourmark.order.names import named_in
from hourmark.quantity import Volume, parse_volume


@dataclass(frozen=True, slots=True)
class TryCall:
    """Record that somebody rang a number, and who answered, if anybody."""

    case: str
    number: str
    reached: bool
    result: str


@dataclass(frozen=True, slots=True)
class HearReadBack:
    """Record what was read back, field by field: its name, and what was said."""

    case: str
    on_the_line: str
    identified_by: tuple[str, str]
    fields: tuple[tuple[str, str], ...]
    check_word: str
    old_alarm_deleted: bool | None = None


@dataclass(frozen=True, slots=True)
class NoteCall:
    """Write the note of a call."""

    case: str
    caller: str
    number: str
    received: str
    advice: str
    referred_to: str
    follow_up: str


@dataclass(frozen=True, slots=True)
class SetPermissions:
    """Record what she allows: who else may be told (in words, never a name), voicemail, mail; and how she said so."""

    case: str
    may_be_told: str
    voicemail: bool
    message: bool
    how: str


def try_call(state: CaseState, command: TryCall, _: Asked) -> tuple[e.CaseEvent, ...] | Refused:
    """The attempt is on the record."""
    if wrong := not_open(state, command.case) or blank(number=(command.number, "the number that was rung")):
        return wrong
    return (e.CallTried(command.number, command.reached, command.result),)


def set_permissions(state: CaseState, command: SetPermissions, asked: Asked) -> tuple[e.CaseEvent, ...] | Refused:
    """What she allows is this from now on; no sheet rests on it."""
    if wrong := (
        only(asked, Role.NURSE, Role.PRESCRIBER)
        or not_open(state, command.case)
        or blank(how=(command.how, "how she said so"))
    ):
        return wrong
    allowed = e.PermissionsSet(command.may_be_told, command.voicemail, command.message, command.how)
    return nothing_changed("list of what she allows") if state.permissions == allowed else (allowed,)


def hear_read_back(
    state: CaseState,
    command: HearReadBack,
    _: Asked,
    wanted: dict[str, str],
    check_word: str,
    rests_on: dict[str, str],
) -> tuple[e.CaseEvent, ...] | Refused:
    """What was read back, and for every wanted field whether it agrees; one that was not said does not.

    `check_word` is that of the page as it now is.
    """
    if closed := not_open(state, command.case):
        return closed
    nobody = blank(on_the_line=(command.on_the_line, "who is on the line"))
    findings = [*nobody.findings] if nobody else []
    one, other = command.identified_by
    if not one.strip() or not other.strip() or same_person(one, other):
        findings.append(
            refusal(
                "call-identity",
                "Two different things have to show that it is she.",
                "Ask for two, such as full name and date of birth, before anything is said.",
                "two identifiers on every call",
            )
        )
    if any(one is not state.sheet for one in state.sheets) and not command.old_alarm_deleted:
        findings.append(
            refusal(
                "old-alarm",
                "She has had an earlier page, and the alarm set by it was not deleted.",
                "Have her delete the old alarm while you wait, then read the new one out.",
                "an alarm of a page that no longer holds is deleted",
            )
        )
    if unknown := [name for name, _ in command.fields if name not in wanted]:
        findings.append(
            refusal(
                "read-back-field",
                f"Her page has nothing that is called {', '.join(unknown)}.",
                f"Read back: {', '.join(wanted) or 'nothing, as the case has no plan'}.",
                "the fields of her page",
            )
        )
    if findings:
        return Refused(tuple(findings))
    heard = dict(command.fields) | {"check word": command.check_word}
    heard |= _in_order({name: right for name, right in wanted.items() if _is_stop(name)}, heard)
    said = tuple(
        e.Said(name, right, heard.get(name, ""), _agrees(name, right, heard.get(name, "")))
        for name, right in (*wanted.items(), ("check word", check_word))
    )
    read_back = e.ReadBack(
        command.on_the_line, command.identified_by, said, check_word, command.old_alarm_deleted, rests_on
    )
    return (read_back,)


def note_call(state: CaseState, command: NoteCall, _: Asked) -> tuple[e.CaseEvent, ...] | Refused:
    """The note is on the record, on a closed case as well."""
    closed = not_open(state, command.case)
    if closed is not None and not state.there:
        return closed
    if missing := blank(caller=(command.caller, "who rang"), received=(command.received, "what was said")):
        return missing
    note = e.CallNoted(
        command.caller,
        command.number,
        command.received,
        command.advice,
        command.referred_to,
        command.follow_up,
    )
    return (note,)


_STOP = re.compile(r"stop [0-9]+")
_VOLUME = re.compile(r"\s*([0-9][0-9,]*)(\.[0-9]+)?\s*ml\s*", re.IGNORECASE)
_LEAVES_OUT = re.compile(r"\b(?:but|except|not|without)\b", re.IGNORECASE)


def _is_stop(name: str) -> bool:
    return _STOP.fullmatch(name) is not None


def _in_order(wanted: dict[str, str], heard: dict[str, str]) -> dict[str, str]:
    """What she said that she stops, each beside the item that it names: in which order she says them changes nothing.

    What names none stays over, in the order in which it was said, beside the items that nothing named.
    """
    left = [heard.get(name, "") for name in wanted]
    found: dict[str, str] = {}
    for agrees in (_same, _names):
        for name, right in wanted.items():
            place = next((place for place, words in enumerate(left) if agrees(right, words)), None)
            if name not in found and place is not None:
                found[name] = left.pop(place)
    return found | {name: left.pop(0) for name in wanted if name not in found}


def _agrees(name: str, wanted: str, said: str) -> bool:
    """Whether what was said is what it should be: a volume as an amount, a medicine that she stops by its name, all else as words."""
    return _same(wanted, said) or _is_that_volume(wanted, said) or (_is_stop(name) and _names(wanted, said))


def _is_that_volume(wanted: str, said: str) -> bool:
    """Whether both are the same volume; a number without its unit is none."""
    right, other = _volume(wanted), _volume(said)
    return right is not None and right == other


def _volume(text: str) -> Volume | None:
    """What a volume is, also with noughts behind its point: what is heard is compared here, and written nowhere."""
    found = _VOLUME.fullmatch(text)
    try:
        return parse_volume(f"{found[1]}{(found[2] or '').rstrip('.0')} mL") if found is not None else None
    except Unreadable:
        return None


def _names(item: str, said: str) -> bool:
    """Whether just the medicine of an item was said, where the item holds more words than its name; one that it leaves out is not its own."""
    names = () if _LEAVES_OUT.search(item) else named_in(item)
    return bool(names) and _same(" and ".join(names), said)


def _same(wanted: str, said: str) -> bool:
    """Whether what was said is what it should be; only case and spaces may differ."""
    return wanted.casefold().split() == said.casefold().split()
