"""Steps: the order of hands for one planned draw, as data. Each has one action, what should then be seen, and its picture.

Words stand in a phrase file by language; this file says which step comes when and with which figures. Warnings stand directly
before their step, and places where people fail are check steps of their own.
"""

import tomllib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from typing import Literal, TypeAlias

from hourmark.dose.fills import Fill, How
from hourmark.formulary import Barrel, Form, barrels
from hourmark.order import Technique
from hourmark.quantity import Volume


@dataclass(frozen=True, slots=True)
class Taking:
    """One planned medicine as it lies on the table: what is read off the boxes, what is mixed, what is drawn, who injects.

    `minute` is the clock time before which nothing is injected, as printed.
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
    mixing_needle: str | None = None
    drawing_needle: str | None = None
    injection_needle: str | None = None
    mixing_syringe: str | None = None
    needle_fixed: bool = False
    by_helper: bool = False
    minute: str | None = None


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


_HANDS = ("angle", "pull", "push", "draw", "cap", "needle", "read", "bubbles", "spray", "turn", "pinch", "close")
"""Pictures that show hands at work begin with one of these words; they are mirrored for a left-handed person."""


@cache
def phrases(language: str) -> dict[str, dict[str, str]]:
    """The phrases of a language, by step code. Raises FileNotFoundError for a language without a file."""
    text = files("hourmark.dose").joinpath(f"data/steps-{language}.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def steps(taking: Taking, language: str = "en") -> tuple[Step, ...]:
    """The ordered steps for one medicine: first what is got ready, then, from the minute on, what is given."""
    if taking.form is Form.DEPOT:
        raise ValueError("a depot form is never a trigger")
    ready, give = _PARTS[taking.form]
    return (
        *(_step(code, figures, "ready", taking, language) for code, figures in (*_boxes(taking), *ready(taking))),
        *(
            _step(code, figures, "give", taking, language)
            for code, figures in (*_minute(taking), *give(taking), *_after(taking))
        ),
    )


def unsigned(found: tuple[Step, ...]) -> tuple[str, ...]:
    """The codes of the steps for which neither a label nor a signed rule gives the technique."""
    return tuple(
        dict.fromkeys(step.code.removesuffix("-unsigned") for step in found if step.code.endswith("-unsigned"))
    )


_Entry: TypeAlias = tuple[str, dict[str, str]]


def _step(code: str, figures: dict[str, str], part: Literal["ready", "give"], taking: Taking, language: str) -> Step:
    words = phrases(language)[code]
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
    )


_CONTAINERS = {
    Form.POWDER: "powder vial",
    Form.SOLUTION: "vial",
    Form.SYRINGE: "box of the syringe",
    Form.SPRAY: "bottle",
}


def _boxes(taking: Taking) -> Iterator[_Entry]:
    """The four things read off the boxes before anything is opened, as far as this form has them."""
    yield (
        "medicine-check",
        {"container": _CONTAINERS[taking.form], "medicine": taking.medicine, "strength": taking.strength},
    )
    if taking.diluent is not None:
        yield "water-check", {"diluent": taking.diluent}
    if drawn := _drawn(taking):
        barrel = barrels()[drawn[0].device]
        yield "syringe-check", {"largest": _largest(barrel), "line": _line(barrel)}
    uses = {"to mix": taking.mixing_needle, "to draw up": taking.drawing_needle, "to inject": taking.injection_needle}
    needles = [f"{needle} {use}" for use, needle in uses.items() if needle]
    if needles:
        yield "needles-check", {"needles": "; ".join(needles)}
    if taking.form is Form.SPRAY:
        yield "sprays-check", {"sprays": str(taking.fills[0].sprays)}
    yield ("lay-out-nasal" if taking.form is Form.SPRAY else "lay-out"), {}
    yield "wash", {}


def _drawn(taking: Taking) -> list[Fill]:
    return [fill for fill in taking.fills if fill.how in (How.MARK, How.ALL)]


def _largest(barrel: Barrel) -> str:
    return str(barrel.mark(barrel.capacity)) if barrel.on_u100 else f"{barrel.mark(barrel.capacity)} mL"


def _line(barrel: Barrel) -> str:
    step = barrel.mark(barrel.step)
    return f"{step} mark{'s' * (step.value != 1)}" if barrel.on_u100 else f"{step} mL"


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
    "needle-out-of-powder",
)


def _mixing(taking: Taking) -> Iterator[_Entry]:
    water = {"water": str(taking.water)}
    shown = "the one your nurse showed you"
    yield "vial-caps", {}
    yield "mixing-syringe", {"mixing_syringe": taking.mixing_syringe or shown}
    yield "mixing-needle", {"mixing_needle": taking.mixing_needle or shown}
    yield "cap-off", {}
    for code in _WATER:
        yield code, water
    yield _timed("dissolve", taking.technique.dissolve)
    yield "powder-gone-check", {}
    if taking.vials > 1:
        yield "vial-again", {"vials": str(taking.vials)}


def _timed(code: str, seconds: int | None) -> _Entry:
    """A step that lasts, or its wording where nobody signed how long."""
    return (f"{code}-unsigned", {}) if seconds is None else (code, {"seconds": str(seconds)})


def _drawing(taking: Taking) -> Iterator[_Entry]:
    """Every fill into a new syringe, read and capped."""
    drawn = _drawn(taking)
    if taking.form is Form.SOLUTION:
        yield "vial-caps", {}
    for place, fill in enumerate(drawn, 1):
        yield "new-syringe", {"which": _which(place, len(drawn))}
        if not taking.needle_fixed:
            yield "drawing-needle", {"drawing_needle": taking.drawing_needle or "the one your nurse showed you"}
        yield "cap-off", {}
        yield from _up(taking, fill, place)
        yield "recap", {}
    if taking.left:
        yield "stays", {"left": str(taking.left)}


def _which(place: int, count: int) -> str:
    return f", number {place} of {count}" if count > 1 else ""


def _minute(taking: Taking) -> Iterator[_Entry]:
    if taking.minute is not None:
        yield ("wait-for-minute-nasal" if taking.form is Form.SPRAY else "wait-for-minute"), {"minute": taking.minute}


def _giving(taking: Taking) -> Iterator[_Entry]:
    """Every fill into a place of its own."""
    count = len(_drawn(taking))
    for place in range(1, count + 1):
        yield from _skin(taking, place, count)
        yield "cap-off", {}
        yield from _in(taking)


def _up(taking: Taking, fill: Fill, place: int) -> Iterator[_Entry]:
    """Drawing up; with a detachable needle the last reading is made with the injection needle on and the air out."""
    barrel = barrels()[fill.device]
    assert fill.volume is not None
    mark = {"mark": f"mark {fill.mark}" if barrel.on_u100 else f"{fill.mark} mL"}
    if fill.how is How.MARK:
        yield "air-for-dose", mark
        yield "needle-into-vial", {}
        yield "air-into-vial", {}
        yield "vial-over", {}
        yield "draw-past", mark
    else:
        where = f", from all {taking.vials} vials" if taking.vials > 1 else " that is left" if place > 1 else ""
        yield "needle-into-vial", {}
        yield "vial-over", {}
        yield "draw-all", {"volume": str(fill.volume), "where": where}
    yield "needle-out-of-vial", {}
    if not taking.needle_fixed:
        yield ("needle-off" if fill.how is How.MARK else "needle-off-whole"), {}
        yield "needle-change", {"injection_needle": taking.injection_needle or "the one your nurse showed you"}
        yield "needle-changed-check", {}
    yield "bubbles-tap", {}
    yield "bubbles-out", {}
    if fill.how is How.MARK:
        yield "push-to-mark", mark
        yield "mark-check", mark


def _skin(taking: Taking, place: int, count: int) -> Iterator[_Entry]:
    which = _which(place, count)
    if taking.route == "intramuscular":
        yield "site-intramuscular", {"which": which}
    else:
        site = taking.technique.site or "the belly, away from the navel, or the front of the thigh"
        apart = ", not the same as before" if place > 1 else ""
        yield "site-subcutaneous", {"which": which, "site": site, "apart": apart}
    match taking.technique.skin:
        case "wipe":
            yield "skin-wipe", {}
            yield "skin-dry", {"seconds": str(taking.technique.drying)}
        case "soap and water":
            yield "skin-soap", {}
        case None:
            yield "skin-unsigned", {}


def _in(taking: Taking) -> Iterator[_Entry]:
    if taking.route == "intramuscular":
        yield "needle-in-intramuscular", {}
    else:
        angle = (
            f", at an angle of {taking.technique.angle} degrees"
            if taking.technique.angle
            else " as your nurse showed you"
        )
        yield "pinch", {}
        yield "needle-in-subcutaneous", {"angle": angle}
    yield "inject", {}
    yield "plunger-down-check", {}
    yield _timed("wait", taking.technique.wait)
    yield "needle-out", {}
    yield "dispose", {}


def _prefilled(taking: Taking) -> Iterator[_Entry]:
    count = len(taking.fills)
    for place in range(1, count + 1):
        yield "new-syringe", {"which": _which(place, count)}
        yield from _skin(taking, place, count)
        yield "cap-off", {}
        match taking.technique.bubbles:
            case "push out":
                yield "bubbles-tap", {}
                yield "bubbles-out", {}
            case "leave in":
                yield "bubbles-leave", {}
            case None:
                yield "bubbles-unsigned", {}
        yield from _in(taking)


def _nose(taking: Taking) -> Iterator[_Entry]:
    yield "blow-nose", {}
    yield (
        ("prime-unsigned", {}) if taking.technique.pumps is None else ("prime", {"pumps": str(taking.technique.pumps)})
    )


def _nothing(_: Taking) -> Iterator[_Entry]:
    return iter(())


def _nasal(taking: Taking) -> Iterator[_Entry]:
    sprays = taking.fills[0].sprays or 0
    for place in range(1, sprays + 1):
        yield "head-forward", {}
        yield "other-side", {"side": "one side" if place % 2 else "the OTHER side"}
        yield "spray", {"place": f"{place} of {sprays}"}
        yield _timed("tilt", taking.technique.tilt)


def _after(taking: Taking) -> Iterator[_Entry]:
    yield "note-time", {}
    yield ("keep-nasal" if taking.form is Form.SPRAY else "keep"), {}


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
