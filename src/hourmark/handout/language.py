"""A language: the words of the page by name, clock times, amounts and doses as they are said in it. Words stand in words/LANGUAGE.toml."""

import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any, TypeAlias

from hourmark.clock import ENGLISH, ClockWords, Moment, clock_words, date_words, night_name, said
from hourmark.dose.steps import parts, worded
from hourmark.handout.content import LARGE, Line, Text, line

Tables: TypeAlias = dict[str, dict[str, Any]]


@dataclass(frozen=True)
class Language:
    """One language of the page, by its code of ISO 639-1."""

    code: str
    tables: Tables
    clock: ClockWords

    def word(self, key: str, **figures: object) -> str:
        """The phrase "table.name" with its places filled in. Raises KeyError for a name that is not there."""
        table, name = key.split(".")
        pattern: str = self.tables[table][name]
        return pattern.replace("**", LARGE).format(**figures)

    def said(self, at: Moment) -> str:
        """A moment as it is read out, its clock time printed large."""
        text, clock = said(at, self.clock), clock_words(at, self.clock)
        clock = clock.partition(", ")[0]
        return text.replace(clock, f"{LARGE}{clock}{LARGE}", 1)

    def moment(self, at: Moment) -> str:
        """A moment as it is read out."""
        return said(at, self.clock)

    def clock_time(self, at: Moment) -> str:
        """A clock time alone."""
        return clock_words(at, self.clock)

    def day(self, at: Moment) -> str:
        """The day of the week of a moment."""
        return self.clock.days[at.wall.weekday()]

    def night(self, at: Moment) -> str:
        """The night an hour belongs to: "the night of Wednesday into Thursday"."""
        return night_name(at.wall, self.clock)

    def date(self, day: Any) -> str:
        """A date with its weekday."""
        return date_words(day, self.clock)

    def amount(self, text: object) -> str:
        """An amount with its unit in this language; the digits stay as on the barrel."""
        return worded(str(text), self.code)

    def part(self, name: str, **figures: object) -> str:
        """A part of a step's sentence, such as "mark 80"."""
        return parts(self.code)[name].format(**figures)


@cache
def language(code: str) -> Language:
    """The language of that code. Raises FileNotFoundError for one without words."""
    text = files("hourmark.handout").joinpath(f"words/{code}.toml").read_text(encoding="utf-8")
    tables = tomllib.loads(text)
    clock = tables.get("clock")
    if clock is None:
        return Language(code, tables, ENGLISH)
    entries: dict[str, Any] = {
        name: tuple(words) if isinstance(words, list) else words for name, words in clock.items()
    }
    return Language(code, tables, ClockWords(**entries))


Figure: TypeAlias = "object | Callable[[Language], object]"


@dataclass(frozen=True)
class Speaker:
    """Who says the page: in one language, or in one with the English beside it where nobody has signed the translation."""

    languages: tuple[Language, ...]

    @property
    def first(self) -> Language:
        """The language of the page."""
        return self.languages[0]

    def say(self, key: str, **figures: Figure) -> Text:
        """A phrase in every language of the page; a figure may depend on the language."""
        return self.each(lambda spoken: line(spoken.word(key, **_filled(figures, spoken))))

    def each(self, words: Callable[[Language], Line]) -> Text:
        """The same thing said in every language of the page."""
        return Text(tuple(words(spoken) for spoken in self.languages))


def _filled(figures: dict[str, Figure], spoken: Language) -> dict[str, object]:
    return {name: figure(spoken) if callable(figure) else figure for name, figure in figures.items()}
