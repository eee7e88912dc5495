"""Orders that the afternoon does not have, in front of her phone: one without a window, and one whose second is counted from the first."""

import re
from collections.abc import Callable
from dataclasses import replace

import pytest

from hourmark.case import events as e
from hourmark.desk import Desk
from hourmark.handout.content import Text, line
from hourmark.handout.language import language
from hourmark.handout.walk import WalkThrough
from hourmark.web.pages import phone as pages
from tests.web.hers import walk_of

TWO_TIMES = "K-105"
"""Two medicines six hours apart: Wednesday 19:45 and Thursday 1:45 in Chicago, which are 01:45 and 07:45 in UTC."""

FOLLOWS = e.Follows("first", 360, 350, 365)
"""Six hours after the actual first, and what the order allows to it: 5 h 50 min to 6 h 5 min."""

PROVISIONAL = language("en").word("medicine.provisional", gap="6 h")
PROVISIONAL_IN_SPANISH = language("es").word("medicine.provisional", gap="6 h")


def without_window(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every order that there is says a minute, and nothing of how far from it may be."""
    _ordered(monkeypatch, lambda dues: tuple(replace(due, earliest=None, latest=None, leads=None) for due in dues))


def counted_from_the_first(
    monkeypatch: pytest.MonkeyPatch, *, window: bool = True, kept: bool = True, says: str = PROVISIONAL
) -> None:
    """The second of two is six hours after the actual first, and its page `says` so. `kept`: that the record knows it as well."""

    def changed(dues: tuple[e.Due, ...]) -> tuple[e.Due, ...]:
        first, second = dues
        follows = replace(FOLLOWS, injection=first.injection)
        follows = follows if window else replace(follows, least=None, most=None)
        return first, replace(second, earliest=None, latest=None, follows=follows if kept else None)

    _ordered(monkeypatch, changed)
    walk: Callable[[pages.Visit], WalkThrough | None] = vars(pages.Visit)["walk"].fget

    def worded(visit: pages.Visit) -> WalkThrough | None:
        found = walk(visit)
        if found is None:
            return None
        first, second = found.injections
        return replace(found, injections=(first, replace(second, provisional=Text((line(says),)))))

    monkeypatch.setattr(pages.Visit, "walk", property(worded))


def _ordered(monkeypatch: pytest.MonkeyPatch, changed: Callable[[tuple[e.Due, ...]], tuple[e.Due, ...]]) -> None:
    dues: Callable[[pages.Visit], tuple[e.Due, ...]] = vars(pages.Visit)["dues"].fget
    monkeypatch.setattr(pages.Visit, "dues", property(lambda visit: changed(dues(visit))))


def step_of_waiting(site: Desk, case: str, injection: int) -> str:
    """The address of the step at which she waits for the minute of a medicine, by its place."""
    walk = walk_of(site, case)
    wanted = walk.injections[injection - 1].id
    ((leg, number),) = [
        (place, one.number)
        for place, leg in enumerate(walk.legs, 1)
        if leg.injection == wanted
        for one in walk.steps(leg)
        if one.waits
    ]
    return f"/t/steps/{leg}/{number}/"


def shown(source: str) -> str:
    """The main part as it is before any script ran: without what is hidden, and what is folded up."""
    main = source.split("<main", 1)[1].split("</main>", 1)[0]
    main = re.sub(r"<(p|div|details|span)\b[^>]*\shidden>.*?</\1>", " ", main, flags=re.DOTALL)
    main = re.sub(r"<details\b(?![^>]*\sopen)[^>]*>.*?</details>", " ", main, flags=re.DOTALL)
    return " ".join(re.sub(r"<[^>]+>", " ", main).replace("&#x27;", "'").split())
