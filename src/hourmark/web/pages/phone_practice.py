"""Practice on her phone: the plunger of her own barrel, moved to where she would stop. Nothing on the page knows where that is.

Before a release the number is invented and said; with a page it is the page's own, and stands neither on the screen nor in the source.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from django.db.models import F, Q
from django.http import HttpResponse

from hourmark.case.phone import AskHelp
from hourmark.case.streams import case_stream
from hourmark.desk.made import Planned, plan_of
from hourmark.formulary import Barrel, barrels
from hourmark.handout.language import Language
from hourmark.handout.show import PrintedLine, ShowBarrel, Stop, practice_mark, show_barrel
from hourmark.quantity import Volume
from hourmark.web.models import Link
from hourmark.web.pages.phone import Visit, phone_page
from hourmark.web.pages.phone_token import key_for
from hourmark.web.pages.phone_walk import practice_closed

MISSES = 2
"""After so many misses one after another the nurse is asked to ring."""

_WHERE = "practice"
_TOP, _LENGTH = 46, 480
_MOST_ROUND = 999


@dataclass(frozen=True, slots=True)
class Tick:
    """A printed line as it is drawn: how far down it is, and its number where one is printed."""

    y: float
    number: str


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked for: on which barrel, where the right place is, and of which medicine; the number itself where it is invented."""

    show: ShowBarrel
    stop: Stop
    fill: int
    fills: int
    medicine: str
    invented: str


@phone_page("GET", "HEAD", "POST")
def practice(visit: Visit, place: int) -> HttpResponse:
    """The barrel to move, and after "here" whether it was the right place."""
    return _practice(visit, place)


@phone_page("GET", "HEAD", "POST", kind="practice")
def trial(visit: Visit) -> HttpResponse:
    """The same with an invented number: before there is a page, and beside it."""
    return _practice(visit, 0)


def _practice(visit: Visit, place: int) -> HttpResponse:
    if _closed(visit, place):
        return visit.page("practice", closed=True, place=place)
    asked = _asked(visit, place)
    if asked is None:
        return visit.page("practice", nothing=True, place=place)
    at = _number(visit, "at", 0, len(asked.show.lines))
    if visit.request.method == "POST":
        return _judged(visit, place, asked, at)
    return visit.page("practice", place=place, keeps=True, **_drawn(visit, asked, at))


def _closed(visit: Visit, place: int) -> bool:
    """Whether it is time for the real thing: soon, begun, or done."""
    if visit.given.kind == "practice":
        dues = visit.state.sheet.event.dues if visit.state.sheet is not None else ()
    else:
        dues = visit.dues[place - 1 : place] if place else ()
    return any(practice_closed(visit, due) for due in dues)


def _asked(visit: Visit, place: int) -> Asked | None:
    fill = _number(visit, "fill", 1, 99)
    if visit.given.kind == "practice":
        return _invented(visit)
    walk = visit.walk
    if walk is None or not 0 < place <= len(walk.injections):
        return None
    injection = walk.injections[place - 1]
    if injection.show is None or fill > len(injection.show.stops):
        return None
    show = injection.show
    return Asked(show, show.stops[fill - 1], fill, len(show.stops), injection.medicine, "")


def _invented(visit: Visit) -> Asked | None:
    """A number that is nobody's, on the barrel that she has; it is no neighbour of what is planned for her, if anything is."""
    planned = plan_of(visit.state, visit.states.rules(), visit.now)
    volumes = tuple(_planned_volumes(planned)) if isinstance(planned, Planned) else ()
    barrel = _barrel(visit, planned if isinstance(planned, Planned) else None)
    seed = f"{visit.link.digest} {_number(visit, 'round', 1, _MOST_ROUND)}"
    volume = practice_mark(barrel, seed, volumes) if barrel is not None else None
    if barrel is None or volume is None:
        return None
    show = show_barrel(barrel, (volume,))
    return Asked(show, show.stops[0], 1, 1, "", said_mark(show, show.stops[0], visit.words))


def _planned_volumes(planned: Planned) -> Iterator[Volume]:
    for one in planned.case.injections:
        for fill in one.drawn.fills if one.drawn is not None else ():
            if fill.volume is not None:
                yield fill.volume


def _barrel(visit: Visit, planned: Planned | None) -> Barrel | None:
    """The barrel that she will draw with; before that is known the smallest one at home."""
    devices = [
        fill.device
        for one in (planned.case.injections if planned is not None else ())
        for fill in (one.drawn.fills if one.drawn is not None else ())
    ]
    kit: Any = visit.state.kit.kit if visit.state.kit is not None else {}
    at_home = [barrels()[one["syringe"]] for one in kit.get("syringes", ()) if one["syringe"] in barrels()]
    drawn = [barrels()[one] for one in devices if one in barrels()]
    return drawn[0] if drawn else min(at_home, key=lambda one: one.capacity.value, default=None)


def _judged(visit: Visit, place: int, asked: Asked, at: int) -> HttpResponse:
    """Whether it was the right place. Each answer is counted one time."""
    right = at > 0 and asked.show.lines[at - 1].mark == asked.stop.mark
    mine = Link.objects.filter(pk=visit.link.pk)
    sent = key_for(visit.link, _WHERE, place, asked.fill, visit.request.POST.get("key", ""), at)
    counted = mine.filter(~Q(practised=sent))
    if right:
        counted.update(misses=0, practised=sent)
    else:
        counted.update(misses=F("misses") + 1, practised=sent)
    misses = mine.get().misses
    if misses >= MISSES:
        _ask(visit, place)
    where = said_mark(asked.show, asked.stop, visit.words) if right else ""
    more = asked.fill + 1 if right and asked.fill < asked.fills else 0
    return visit.page(
        "practice",
        place=place,
        right=right,
        missed=not right,
        where=where,
        rang=misses >= MISSES,
        more=more,
        round=_number(visit, "round", 1, _MOST_ROUND),
        asked=asked,
    )


def _ask(visit: Visit, place: int) -> None:
    """The nurse is asked to ring; asking while she is asked already adds nothing."""
    injection = visit.dues[place - 1].injection if 0 < place <= len(visit.dues) else None
    head = visit.desk.store.head(case_stream(visit.state.id)).seq
    about = "the plunger was not stopped at the right line, two times or more"
    visit.perform(AskHelp(visit.state.id, injection, _WHERE, about), key_for(visit.link, _WHERE, injection, head))


def _drawn(visit: Visit, asked: Asked, at: int) -> dict[str, Any]:
    """The barrel with the plunger at a line. Of where it should be nothing is handed on."""
    show, count = asked.show, len(asked.show.lines)
    gap = _LENGTH / count
    ticks = [Tick(_TOP + number * gap, line.mark if line.numbered else "") for number, line in enumerate(show.lines, 1)]
    moves = sorted({1, 5 if count >= 20 else 1, 10 if count >= 40 else 1}, reverse=True)
    return {
        "asked": replace(asked, stop=Stop("", ""), show=replace(show, stops=())),
        "ticks": ticks,
        "top": _TOP,
        "bottom": _TOP + _LENGTH,
        "gap": gap,
        "at": at,
        "y": _TOP + at * gap,
        "count": count,
        "said": said_line(show.lines, at, visit.words),
        "numbers": " ".join(f"{number}:{line.mark}" for number, line in enumerate(show.lines, 1) if line.numbered),
        "outward": [(one, min(count, at + one)) for one in moves],
        "inward": [(one, max(0, at - one)) for one in reversed(moves)],
        "round": _number(visit, "round", 1, _MOST_ROUND),
        "syringe": _syringe(show, visit.words),
        "patterns": {
            name: visit.words.tables["phone"][f"practice-{name.replace('_', '-')}"]
            for name in ("none", "at", "past_one", "past")
        },
    }


def said_line(lines: tuple[PrintedLine, ...], at: int, words: Language) -> str:
    """Where the plunger stands, as one reads it off a barrel: from the last printed number on."""
    if at == 0:
        return words.word("phone.practice-none")
    numbered = [number for number, line in enumerate(lines[:at], 1) if line.numbered]
    last, name = (numbered[-1], lines[numbered[-1] - 1].mark) if numbered else (0, "0")
    if at == last:
        return words.word("phone.practice-at", number=name)
    if at - last == 1:
        return words.word("phone.practice-past-one", number=name)
    return words.word("phone.practice-past", lines=at - last, number=name)


def said_mark(show: ShowBarrel, stop: Stop, words: Language) -> str:
    """A place on a barrel in the words of her page."""
    return words.word("phone.mark", mark=stop.mark) if show.scale == "marks" else words.amount(stop.volume)


def _syringe(show: ShowBarrel, words: Language) -> str:
    """The barrel as her page names it."""
    capacity = words.amount(show.capacity)
    if show.scale == "mL":
        return words.word("medicine.ml", capacity=capacity, step=words.amount(show.step))
    step = barrels()[show.barrel].mark(barrels()[show.barrel].step)
    largest = barrels()[show.barrel].mark(barrels()[show.barrel].capacity)
    name = "medicine.u100-one" if str(step) == "1" else "medicine.u100-many"
    return words.word(name, capacity=capacity, step=step, largest=largest)


def _number(visit: Visit, name: str, least: int, most: int) -> int:
    """A whole number that was sent; the least where none was, or one beyond what there is."""
    sent = visit.request.POST.get(name) or visit.request.GET.get(name) or ""
    number = int(sent) if sent.isdecimal() and len(sent) < 5 else least
    return number if least <= number <= most else least
