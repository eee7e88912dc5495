"""Steps: the order of hands for one planned draw, as data. Each has one action, what should then be seen, and its picture.

Words stand in a phrase file by language; this file says which step comes when and with which figures. Warnings stand directly
before their step, and places where people fail are check steps of their own.
"""

import re
import tomllib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from typing import Any, Literal, TypeAlias

from hourmark.dose.fills import Fill, How
from hourmark.formulary import Barrel, Form, barrels
from hourmark.order import Needle, Technique
from hourmark.quantity import Volume, number_text


@dataclass(frozen=True, slots=True)
class Taking:
    """One planned medicine as it lies on the table: what is read off the boxes, what is mixed, what is drawn, who injects.

    `strength` and `diluent` are as printed on the box. `minute` is the clock time before which nothing is injected, as printed.
    `of_several`: other medicines lie on the same table, so that each filled syringe is kept on its own box. `last`: none is given after
    this one at the same minute.
    """

    form: Form
    medicine: str
    strength: str
    route: str
    fills: tuple[Fill, ...]
    technique: Technique
    vials: int = 1
    diluent: str | None = None
    water: Volume | None = None
    left: Volume | None = None
    mixing_needle: Needle | None = None
    drawing_needle: Needle | None = None
    injection_needle: Needle | None = None
    mixing_syringe: Barrel | None = None
    needle_fixed: bool = False
    by_helper: bool = False
    minute: str | None = None
    of_several: bool = False
    last: bool = True


@dataclass(frozen=True, slots=True)
class Shown:
    """What a step's picture shows of the things at hand: the syringe, where its stopper stands, the needles; the other side of a face."""

    barrel: Barrel | None = None
    at: Volume | None = None
    needles: tuple[Needle, ...] = ()
    other_side: bool = False


_NOTHING = Shown()


@dataclass(frozen=True, slots=True)
class Step:
    """One step: its code, its picture, the action, what is then seen, a warning to stand before it, and the figures used.

    `check` marks a place where people fail. `part` is getting ready or giving. `view` is from whose eyes the picture is drawn; `mirrored` says that a left-handed
    person needs it the other way round.
    """

    code: str
    picture: str
    do: str
    see: str
    warn: str | None = None
    check: bool = False
    part: Literal["ready", "give"] = "ready"
    view: Literal["own", "helper"] = "own"
    mirrored: bool = False
    figures: Mapping[str, str] = field(default_factory=dict)
    shown: Shown = _NOTHING


_HANDS = ("angle", "pull", "push", "draw", "cap", "needle", "read", "bubbles", "spray", "turn", "pinch", "close")
"""Pictures that show hands at work begin with one of these words; they are mirrored for a left-handed person."""


@cache
def _file(language: str) -> dict[str, Any]:
    text = files("hourmark.dose").joinpath(f"data/steps-{language}.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


@cache
def phrases(language: str) -> dict[str, dict[str, str]]:
    """The phrases of a language, by step code. Raises FileNotFoundError for a language without a file."""
    return {code: words for code, words in _file(language).items() if code not in ("parts", "read")}


@cache
def parts(language: str) -> dict[str, str]:
    """The parts of which figures are made in a language, such as "mark {mark}". Raises FileNotFoundError."""
    words: dict[str, str] = _file(language)["parts"]
    return words


def worded(text: str, language: str) -> str:
    """An amount or a technique that a label or the program words in English, in another language; what has no phrase stays as it is."""
    read: dict[str, str] = _file(language)["read"]
    if text in read:
        return read[text]
    return re.sub(r"\bunits?\b", lambda found: read.get(found[0], found[0]), text)


def steps(taking: Taking, language: str = "en") -> tuple[Step, ...]:
    """The ordered steps for one medicine: first what is got ready, then, from the minute on, what is given."""
    if taking.form is Form.DEPOT:
        raise ValueError("a depot form is never a trigger")
    ready, give = _PARTS[taking.form]
    return (
        *(_step(entry, "ready", taking, language) for entry in (*_boxes(taking), *ready(taking))),
        *(_step(entry, "give", taking, language) for entry in (*_minute(taking), *give(taking), *_after(taking))),
    )


def unsigned(found: tuple[Step, ...]) -> tuple[str, ...]:
    """The codes of the steps for which neither a label nor a signed rule gives the technique."""
    return tuple(
        dict.fromkeys(step.code.removesuffix("-unsigned") for step in found if step.code.endswith("-unsigned"))
    )


@dataclass(frozen=True, slots=True)
class _Words:
    """A part of a sentence by name, with its own figures."""

    name: str
    figures: "Mapping[str, _Figure]" = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class _OneOf:
    """Any one of several figures."""

    figures: "tuple[_Figure, ...]"


_Figure: TypeAlias = "str | _Words | _OneOf | tuple[_Words, ...]"


@dataclass(frozen=True, slots=True)
class _Entry:
    code: str
    figures: Mapping[str, _Figure] = field(default_factory=dict)
    shown: Shown = _NOTHING


def _step(entry: _Entry, part: Literal["ready", "give"], taking: Taking, language: str) -> Step:
    code, words = entry.code, phrases(language)[entry.code]
    figures = {name: _said(figure, language) for name, figure in entry.figures.items()}
    warn = words.get("warn")
    return Step(
        code=code,
        picture=words["picture"],
        do=words["do"].format(**figures),
        see=words["see"].format(**figures),
        warn=warn.format(**figures) if warn else None,
        check=code.endswith("-check"),
        part=part,
        view="helper" if taking.by_helper and code.startswith(("site", "needle-in", "skin")) else "own",
        mirrored=words["picture"].startswith(_HANDS),
        figures=figures,
        shown=entry.shown,
    )


def _said(figure: _Figure, language: str) -> str:
    match figure:
        case str():
            return worded(figure, language)
        case _OneOf(ones):
            return parts(language)["or"].join(_said(one, language) for one in ones)
        case tuple():
            return "; ".join(_said(part, language) for part in figure)
        case _Words(name, figures):
            return parts(language)[name].format(**{key: _said(one, language) for key, one in figures.items()})


def _boxes(taking: Taking) -> Iterator[_Entry]:
    """The four things read off the boxes before anything is opened, as far as this form has them."""
    container = _Words(f"container-{taking.form.name.lower()}")
    yield _Entry("medicine-check", {"container": container, "medicine": taking.medicine, "strength": taking.strength})
    if taking.diluent is not None:
        yield _Entry("water-check", {"diluent": taking.diluent})
    if drawn := _drawn(taking):
        barrel = barrels()[drawn[0].device]
        units = _Words("units-are-lines") if barrel.on_u100 else ""
        figures: dict[str, _Figure] = {"largest": _largest(barrel), "line": _line(barrel), "units": units}
        yield _Entry("syringe-check", figures, Shown(barrel))
    uses = {
        "to-mix": taking.mixing_needle,
        "to-draw": taking.drawing_needle,
        "to-inject": taking.injection_needle,
    }
    held = {use: needle for use, needle in uses.items() if needle is not None}
    if held:
        needles = tuple(_Words(use, {"needle": _needle(needle)}) for use, needle in held.items())
        yield _Entry("needles-check", {"needles": needles}, Shown(needles=tuple(dict.fromkeys(held.values()))))
    if taking.form is Form.SPRAY:
        yield _Entry("sprays-check", {"sprays": str(taking.fills[0].sprays)})
    yield _Entry("lay-out-nasal" if taking.form is Form.SPRAY else "lay-out")
    yield _Entry("wash")


def _drawn(taking: Taking) -> list[Fill]:
    return [fill for fill in taking.fills if fill.how in (How.MARK, How.ALL)]


def _needle(needle: Needle | None) -> _Words:
    if needle is None:
        return _Words("as-shown")
    return _Words("needle", {"gauge": str(needle.gauge), "length": str(needle.length_mm)})


def _largest(barrel: Barrel) -> _Figure:
    largest = number_text(barrel.mark(barrel.capacity).value)
    return largest if barrel.on_u100 else _Words("mark-ml", {"mark": largest})


def _line(barrel: Barrel) -> _Figure:
    step = barrel.mark(barrel.step)
    if not barrel.on_u100:
        return _Words("mark-ml", {"mark": str(step)})
    return _Words("line-one" if step.value == 1 else "lines", {"step": str(step)})


def _mark(fill: Fill, barrel: Barrel) -> _Words:
    return _Words("mark-u100" if barrel.on_u100 else "mark-ml", {"mark": str(fill.mark)})


_WATER = (
    "air-for-water",
    "needle-into-water",
    "air-into-water",
    "water-vial-over",
    "water-up",
    "water-amount-check",
    "needle-out-of-water",
    "needle-into-powder",
    "water-into-powder",
    "water-in-check",
)


def _mixing(taking: Taking) -> Iterator[_Entry]:
    water, barrel, needle = str(taking.water), taking.mixing_syringe, _held(taking.mixing_needle)
    which = _Words("syringe", {"capacity": str(barrel.capacity)}) if barrel else _Words("as-shown")
    yield _Entry("vial-caps")
    yield _Entry("mixing-syringe", {"mixing_syringe": which}, Shown(barrel))
    yield _Entry("mixing-needle", {"mixing_needle": _needle(taking.mixing_needle)}, Shown(barrel, needles=needle))
    yield _Entry("cap-off", shown=Shown(barrel, needles=needle))
    for code in _WATER:
        yield _Entry(code, {"water": water}, Shown(barrel, taking.water, needle))
    yield _Entry("needle-out-of-powder", shown=Shown(barrel, needles=needle))
    yield _timed("dissolve", taking.technique.dissolve)
    yield _Entry("powder-gone-check")
    if taking.vials > 1:
        yield _Entry("vial-again", {"vials": str(taking.vials)})
    yield _Entry("water-away")


def _held(needle: Needle | None) -> tuple[Needle, ...]:
    return (needle,) if needle is not None else ()


def _timed(code: str, seconds: int | None, shown: Shown = _NOTHING) -> _Entry:
    """A step that lasts, or its wording where nobody signed how long."""
    if seconds is None:
        return _Entry(f"{code}-unsigned", shown=shown)
    return _Entry(code, {"seconds": str(seconds)}, shown)


def _drawing(taking: Taking) -> Iterator[_Entry]:
    """Every fill into a new syringe, read and capped."""
    drawn = _drawn(taking)
    if taking.form is Form.SOLUTION:
        yield _Entry("vial-caps")
    for place, fill in enumerate(drawn, 1):
        barrel, needle = barrels()[fill.device], _held(taking.drawing_needle)
        yield _Entry("new-syringe", {"which": _which(place, len(drawn))}, Shown(barrel))
        if not taking.needle_fixed:
            which = _needle(taking.drawing_needle)
            yield _Entry("drawing-needle", {"drawing_needle": which}, Shown(barrel, needles=needle))
        yield _Entry("cap-off", shown=Shown(barrel, needles=needle))
        yield from _up(taking, fill, place)
        filled = Shown(barrel, fill.volume, _held(taking.injection_needle))
        yield _Entry("recap", shown=filled)
        if taking.of_several:
            yield _Entry("on-its-box", {"medicine": taking.medicine}, filled)
    if taking.left:
        yield _Entry("stays", {"left": str(taking.left)})


def _which(place: int, count: int) -> _Figure:
    return _Words("which", {"place": str(place), "count": str(count)}) if count > 1 else ""


def _minute(taking: Taking) -> Iterator[_Entry]:
    if taking.minute is not None:
        code = "wait-for-minute-nasal" if taking.form is Form.SPRAY else "wait-for-minute"
        yield _Entry(code, {"minute": taking.minute})


def _giving(taking: Taking) -> Iterator[_Entry]:
    """Every fill into a place of its own."""
    drawn = _drawn(taking)
    for place, fill in enumerate(drawn, 1):
        shown = Shown(barrels()[fill.device], fill.volume, _held(taking.injection_needle))
        if taking.of_several:
            yield _filled(taking, _which(place, len(drawn)), shown)
        yield from _skin(taking, place, len(drawn))
        yield _Entry("cap-off", shown=shown)
        yield from _in(taking, shown)


def _filled(taking: Taking, which: _Figure, shown: Shown) -> _Entry:
    """A syringe of this medicine, told from the others by its box and by how far it is filled; of several any comes first."""
    drawn = _drawn(taking)
    figures: dict[str, _Figure] = {"medicine": taking.medicine, "which": which}
    if drawn[0].how is How.MARK:
        by_mark = {str(fill.mark): _mark(fill, barrels()[fill.device]) for fill in drawn}
        return _Entry("take-marked-check", {**figures, "mark": _OneOf(tuple(by_mark.values()))}, shown)
    volumes = dict.fromkeys(str(fill.volume) for fill in drawn)
    return _Entry("take-whole-check", {**figures, "volume": _OneOf(tuple(volumes))}, shown)


def _up(taking: Taking, fill: Fill, place: int) -> Iterator[_Entry]:
    """Drawing up; with a detachable needle the last reading is made with the injection needle on and the air out.

    What the drawing needle holds goes into the syringe before a whole dose's needle is changed, and bubbles are pushed back into
    the vial before it is left: both from memory (technique); that a leuprolide vial is held upside down and looked at for bubbles: its
    US patient leaflet, step 8.
    """
    barrel = barrels()[fill.device]
    assert fill.volume is not None
    mark: dict[str, _Figure] = {"mark": _mark(fill, barrel)}
    into: dict[str, _Figure] = {"medicine": taking.medicine}
    drawing = Shown(barrel, fill.volume, _held(taking.drawing_needle))
    if fill.how is How.MARK:
        yield _Entry("air-for-dose", mark, drawing)
        yield _Entry("needle-into-vial", into, drawing)
        yield _Entry("air-into-vial", shown=drawing)
        yield _Entry("vial-over", shown=drawing)
        yield _Entry("draw-past", mark, drawing)
        yield _Entry("bubbles-vial", mark, drawing)
    else:
        several = _Words("from-all", {"vials": str(taking.vials)}) if taking.vials > 1 else ""
        where = several or (_Words("that-is-left") if place > 1 else "")
        yield _Entry("needle-into-vial", into, Shown(barrel, needles=_held(taking.drawing_needle)))
        yield _Entry("vial-over", shown=drawing)
        yield _Entry("draw-all", {"volume": str(fill.volume), "where": where}, drawing)
    yield _Entry("needle-out-of-vial", shown=drawing)
    ready = Shown(barrel, fill.volume, _held(taking.injection_needle))
    if not taking.needle_fixed:
        if fill.how is How.ALL and fill.volume < barrel.capacity:  # a full barrel has no room for it
            yield _Entry("needle-emptied", shown=drawing)
        yield _Entry("recap", shown=drawing)
        yield _Entry("needle-off" if fill.how is How.MARK else "needle-off-whole", shown=drawing)
        injecting: dict[str, _Figure] = {"injection_needle": _needle(taking.injection_needle)}
        yield _Entry("needle-change", injecting, ready)
        yield _Entry("needle-changed-check", injecting, ready)
        yield _Entry("cap-off", shown=ready)
    yield _Entry("bubbles-tap", shown=ready)
    yield _Entry("bubbles-out", shown=ready)
    if fill.how is How.MARK:
        yield _Entry("push-to-mark", mark, ready)
        yield _Entry("mark-check", mark, ready)


def _skin(taking: Taking, place: int, count: int) -> Iterator[_Entry]:
    which = _which(place, count)
    if taking.route == "intramuscular":
        yield _Entry("site-intramuscular", {"which": which})
    else:
        site = taking.technique.site or _Words("site")
        apart = _Words("apart") if place > 1 else ""
        yield _Entry("site-subcutaneous", {"which": which, "site": site, "apart": apart})
    match taking.technique.skin:
        case "wipe":
            yield _Entry("skin-wipe")
            yield _Entry("skin-dry", {"seconds": str(taking.technique.drying)})
        case "soap and water":
            yield _Entry("skin-soap")
        case None:
            yield _Entry("skin-unsigned")


def _in(taking: Taking, shown: Shown) -> Iterator[_Entry]:
    if taking.route == "intramuscular":
        yield _Entry("needle-in-intramuscular", shown=shown)
    else:
        angle = taking.technique.angle
        how = _Words("angle", {"angle": angle}) if angle else _Words("angle-shown")
        yield _Entry("pinch")
        yield _Entry("needle-in-subcutaneous", {"angle": how}, shown)
    yield _Entry("inject", shown=shown)
    yield _Entry("plunger-down-check", shown=shown)
    yield _timed("wait", taking.technique.wait, shown)
    yield _Entry("needle-out", shown=shown)
    yield _Entry("dispose", shown=shown)


def _prefilled(taking: Taking) -> Iterator[_Entry]:
    count = len(taking.fills)
    for place in range(1, count + 1):
        read: dict[str, _Figure] = {"medicine": taking.medicine, "strength": taking.strength}
        yield _Entry("prefilled-check", {**read, "which": _which(place, count)})
        yield from _skin(taking, place, count)
        yield _Entry("cap-off")
        match taking.technique.bubbles:
            case "push out":
                yield _Entry("bubbles-tap")
                yield _Entry("bubbles-out")
            case "leave in":
                yield _Entry("bubbles-leave")
            case None:
                yield _Entry("bubbles-unsigned")
        yield from _in(taking, _NOTHING)


def _nose(taking: Taking) -> Iterator[_Entry]:
    yield _Entry("blow-nose")
    pumps = taking.technique.pumps
    yield _Entry("prime-unsigned") if pumps is None else _Entry("prime", {"pumps": str(pumps)})


def _nothing(_: Taking) -> Iterator[_Entry]:
    return iter(())


def _nasal(taking: Taking) -> Iterator[_Entry]:
    sprays = taking.fills[0].sprays or 0
    for place in range(1, sprays + 1):
        yield _Entry("head-forward")
        side = Shown(other_side=place % 2 == 0)
        yield _Entry("other-side", {"side": _Words("one-side" if place % 2 else "other-side")}, side)
        yield _Entry("spray", {"place": _Words("place", {"place": str(place), "count": str(sprays)})}, side)
        yield _timed("tilt", taking.technique.tilt)


def _after(taking: Taking) -> Iterator[_Entry]:
    yield _Entry("note-time")
    if not taking.last:
        return
    yield _Entry("tell")
    yield _Entry("keep-nasal" if taking.form is Form.SPRAY else "keep")


def _mixed(taking: Taking) -> Iterator[_Entry]:
    yield from _mixing(taking)
    yield from _drawing(taking)


_Part: TypeAlias = Callable[[Taking], Iterator[_Entry]]

_PARTS: dict[Form, tuple[_Part, _Part]] = {
    Form.POWDER: (_mixed, _giving),
    Form.SOLUTION: (_drawing, _giving),
    Form.SYRINGE: (_nothing, _prefilled),
    Form.SPRAY: (_nose, _nasal),
}
"""What is got ready and what is given, by form."""
