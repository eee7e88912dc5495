"""The 62 calls of a trigger night as data: what is asked first, what is said, what is not done, and who decides."""

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from importlib.resources import files
from typing import Any

from hourmark.formulary import Sourced, Status, Unsourced, sources
from hourmark.incident.kinds import Kind


class Sort(StrEnum):
    """How a call is answered: a number for this case, something read off, or plain words."""

    COMPUTED = "computed"
    LOOKED_UP = "looked up"
    SAID = "said"


class Asked(StrEnum):
    """What a computed call asks for when nothing has gone wrong yet; for the rest see `Kind`."""

    MARK = "mark"
    MINUTE = "minute"
    WINDOW = "window"
    SECOND_DOSE = "second-dose"
    PEN = "pen"
    FASTING = "fasting"


class Decider(StrEnum):
    """Who decides. A signed rule decides where the clinic has signed one; otherwise the prescriber does."""

    NURSE = "nurse"
    RULE = "signed rule"
    PHARMACIST = "pharmacist"
    THEATRE = "theatre or laboratory"
    ANAESTHETIST = "anaesthetist"
    PRESCRIBER = "prescriber"
    EMERGENCY = "emergency services"


@dataclass(frozen=True, slots=True)
class Sentence:
    """One sentence to say, and where it comes from, in words."""

    text: str
    source: str


@dataclass(frozen=True, slots=True)
class Decides:
    """Who decides, and when it is for them."""

    who: Decider
    when: str


@dataclass(frozen=True, slots=True)
class Call:
    """One of the 62 calls. `phrases` are what a caller would say, by language; `look` names what is read off to answer it.

    `kind` is what went wrong, or what is asked for; None where neither fits. Of `decides` the first whose condition holds counts.
    With a `red_flag` the emergency services come before any number; `signs` are the words that tell it.
    """

    id: str
    about: str
    question: str
    phrases: Mapping[str, tuple[str, ...]]
    sort: Sort
    kind: Kind | Asked | None
    red_flag: bool
    signs: tuple[str, ...]
    ask: tuple[str, ...]
    look: tuple[str, ...]
    say: tuple[Sentence, ...]
    never: tuple[str, ...]
    decides: tuple[Decides, ...]


LANGUAGES = ("en", "es")
"""The languages of the phrases."""

_KEYS = {
    *("id", "about", "question", *LANGUAGES, "sort", "kind", "red_flag", "signs"),
    *("ask", "look", "say", "never", "who"),
}


@cache
def calls() -> tuple[Call, ...]:
    """All of them, in their order. Raises Unsourced, naming the call, when one lacks what it must carry."""
    return tuple(read_call(entry) for entry in _load()["calls"])


@cache
def first_moves() -> tuple[Sentence, ...]:
    """What is done in every call, before anything else."""
    return _sentences(_load()["every"]["first"])


def call(call_id: str) -> Call:
    """The call of that id. Raises KeyError when there is none."""
    return _by_id()[call_id]


@cache
def _by_id() -> dict[str, Call]:
    return {one.id: one for one in calls()}


@cache
def _load() -> dict[str, Any]:
    with files("hourmark.incident").joinpath("data").joinpath("calls.toml").open("rb") as file:
        return tomllib.load(file)


def read_call(entry: Mapping[str, Any]) -> Call:
    """One call of the file. Raises Unsourced, naming it, when it lacks what it must carry."""
    try:
        if unknown := set(entry) - _KEYS:
            raise Unsourced(f"unknown {sorted(unknown)}")
        return Call(
            id=entry["id"],
            about=entry["about"],
            question=entry["question"],
            phrases={language: tuple(entry[language]) for language in LANGUAGES},
            sort=Sort(entry["sort"]),
            kind=_kind(entry.get("kind")),
            red_flag=entry.get("red_flag", False),
            signs=tuple(entry.get("signs", ())),
            ask=tuple(entry["ask"]),
            look=tuple(entry.get("look", ())),
            say=_sentences(entry["say"]),
            never=tuple(entry["never"]),
            decides=tuple(Decides(Decider(who), when) for who, when in entry["who"]),
        )
    except (KeyError, ValueError) as error:
        raise Unsourced(f"{entry.get('id')}: {error}") from error


def _kind(name: str | None) -> Kind | Asked | None:
    if name is None:
        return None
    return Asked(name) if name in set(Asked) else Kind(name)


def _sentences(rows: Iterable[tuple[str, str]]) -> tuple[Sentence, ...]:
    return tuple(Sentence(text, _cite(text, source)) for text, source in rows)


def _cite(text: str, written: str) -> str:
    """A source in words: "found hcg-us-c, concentration table" becomes title, section and standing."""
    if written == "own":
        return "hourmark's own rule"
    standing, _, carrier = written.partition(" ")
    key, _, section = carrier.partition(", ")
    if not key and standing != Status.PRACTICE:
        raise Unsourced(f"{standing} without a source: {text}")
    return Sourced(
        key="calls",
        value=text,
        text=text,
        status=Status(standing),
        checked=_load()["checked"],
        source=_title(key) if key else None,
        section=section or None,
    ).cite()


def _title(key: str) -> str:
    ours = _load()["sources"].get(key)
    return str(ours["title"]) if ours else sources()[key]
