"""Finding a call by a few words of what the caller said, typos and all. Plain and the same every time: no learning, no chance.

Words are taken in lower case and without accents; clock times all count as one word, other numbers as another; words that carry
nothing ("the", "my", "una") are left out. Each call has the words of its question and of its phrases in every language. A word weighs
the more the fewer calls have it.

A typed word meets the most alike word of a call: likeness is 1 when they are equal, 0.9 when one begins the other and four letters
agree, and otherwise the ratio of `difflib`, which counts from 0.75 on; words under four letters have to be right. A call's score is
likeness times weight over all typed words, by the weight of all that were understood; to it comes half of how well its best single
phrase and the typed words cover each other.

A call for the emergency services comes first as soon as one of its signs is met. After those the better score, then the lower number.
"""

import math
import re
import unicodedata
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from difflib import SequenceMatcher
from functools import cache

from hourmark.incident.calls import Call, calls

MOST = 5
"""How many calls are listed at most, besides those for the emergency services."""

_ALIKE = 0.75
_BEGINNING = 4
_AS_BEGINNING = 0.9
_SIGN = 0.85
"""How alike a typed word has to be to a sign of danger."""

_PHRASE = 0.5
_LEAST = 0.3
"""A call with a lower score is not listed: too little of what was typed is in it."""

_CLOCK, _NUMBER = "a clock time", "a number"
_TOKEN = re.compile(r"\d{1,2}[:.h]\d{2}(?!\d)(?:\s?[ap]m\b)?|\d{1,2}\s?[ap]m\b|\d[\d,.]*|[^\W\d_]+")
_CLOCK_FORM = re.compile(r"(?:[01]?\d|2[0-3])[:h][0-5]\d.*|\d.*[ap]m")
_LITTLE_WORDS = """
a am an and are as at be been but by can could did do does doing for from get go got had has have he her him his i if in into is it its
just like me my of on or our s she should so t that the them then there they this to u up us was we were what will with would you your
yes please hello hi nurse
al de del el ella en es esta este esto fue ha hay la las le lo los mi mis muy o para pero por que se si su tengo un una y ya yo hola
"""
_EMPTY = frozenset(_LITTLE_WORDS.split())


@dataclass(frozen=True, slots=True)
class Match:
    """One call that was found, how well (0 to 1.5), and whether a sign of danger put it first."""

    call: Call
    score: float
    danger: bool


@dataclass(frozen=True, slots=True)
class Search:
    """What was found, best first, and the typed words that no call knows."""

    matches: tuple[Match, ...]
    unknown: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Indexed:
    """A call's words: of each phrase, of all together, and its signs of danger."""

    call: Call
    phrases: tuple[frozenset[str], ...]
    words: frozenset[str]
    signs: frozenset[str]


def search(text: str) -> Search:
    """The calls that these words may mean. Nothing found is an answer too; `unknown` then names what was not understood."""
    typed = {word: _meets(word) for word in dict.fromkeys(_words(text))}
    understood = {word: likes for word, likes in typed.items() if likes}
    found = [_match(one, understood) for one in _index()]
    danger = [match for match in found if match.danger]
    others = [match for match in found if not match.danger and match.score >= _LEAST]
    listed = (*sorted(danger, key=_place), *sorted(others, key=_place)[:MOST])
    return Search(listed, tuple(word for word, likes in typed.items() if not likes))


def _place(match: Match) -> tuple[float, str]:
    return -round(match.score, 9), match.call.id


def _match(one: _Indexed, typed: Mapping[str, Mapping[str, float]]) -> Match:
    if not typed:
        return Match(one.call, 0.0, danger=False)
    weights = _weights()
    everything = sum(max(weights[known] for known in likes) for likes in typed.values())
    met = sum(_best(likes, one.words, weights) for likes in typed.values())
    phrase = max(_covered(typed.values(), words) for words in one.phrases)
    danger = any(likes.get(sign, 0.0) >= _SIGN for likes in typed.values() for sign in one.signs)
    return Match(one.call, met / everything + _PHRASE * phrase, danger)


def _best(likes: Mapping[str, float], words: frozenset[str], weights: Mapping[str, float]) -> float:
    return max((alike * weights[known] for known, alike in likes.items() if known in words), default=0.0)


def _covered(typed: Iterable[Mapping[str, float]], words: frozenset[str]) -> float:
    """How well the typed words and one phrase cover each other: 1 when every word of one is in the other."""
    met = [max((alike for known, alike in likes.items() if known in words), default=0.0) for likes in typed]
    return sum(met) / max(len(met), len(words)) if words else 0.0


@cache
def _index() -> tuple[_Indexed, ...]:
    indexed = []
    for call in calls():
        phrases = tuple(
            frozenset(_words(text))
            for text in (call.question, *(one for many in call.phrases.values() for one in many))
        )
        signs = frozenset(word for sign in call.signs for word in _words(sign))
        indexed.append(_Indexed(call, phrases, frozenset().union(signs, *phrases), signs))
    return tuple(indexed)


@cache
def _weights() -> dict[str, float]:
    """What each known word weighs: 1, and more the fewer calls have it."""
    among = Counter(word for one in _index() for word in one.words)
    return {word: 1 + math.log(len(_index()) / count) for word, count in among.items()}


def _meets(typed: str) -> dict[str, float]:
    """The known words that are like a typed one, each with its likeness."""
    likes = {known: _likeness(typed, known) for known in _weights()}
    return {known: alike for known, alike in likes.items() if alike >= _ALIKE}


def _likeness(typed: str, known: str) -> float:
    if typed == known:
        return 1.0
    if min(len(typed), len(known)) < _BEGINNING or _NUMBER in (typed, known) or _CLOCK in (typed, known):
        return 0.0
    matcher = SequenceMatcher(None, typed, known, autojunk=False)
    ratio = matcher.ratio() if matcher.real_quick_ratio() >= _ALIKE and matcher.quick_ratio() >= _ALIKE else 0.0
    begins = typed.startswith(known) or known.startswith(typed)
    return max(ratio, _AS_BEGINNING if begins else 0.0)


def _words(text: str) -> list[str]:
    plain = "".join(
        letter for letter in unicodedata.normalize("NFKD", text.lower()) if not unicodedata.combining(letter)
    )
    return [word for word in map(_word, _TOKEN.findall(plain.replace("'", "").replace("’", ""))) if word not in _EMPTY]


def _word(token: str) -> str:
    if not token[0].isdigit():
        return token
    return _CLOCK if _CLOCK_FORM.fullmatch(token) else _NUMBER
