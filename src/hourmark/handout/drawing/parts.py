"""The things in the pictures: syringe, needle, vial, bottle, box, eye, arrows. Each stands where its pen is; all sizes in mm."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

from hourmark.formulary import gauges
from hourmark.handout.drawing.canvas import (
    GROUND,
    LINE,
    LIQUID,
    RUBBER,
    SHADE,
    THIN,
    Pen,
    Point,
    around,
    ellipse,
    smooth,
)
from hourmark.handout.scene import NeedleSeen, Scene

Contents = Literal["water", "powder", "nothing"]
"""What is in a vial: a clear liquid of any kind, a dry powder, or nothing."""
Painter = Callable[[Pen, Scene], None]
"""Draws one picture of a scene."""


@dataclass(frozen=True, slots=True)
class Move:
    """How a picture moves: what draws it at a phase from 0 to 1, at which phases it is drawn, and for how many seconds it moves.

    Between two phases everything goes straight on. A picture ends as its still, at phase 1; one that `returns` begins as its still, at phase 0,
    because the still shows the hand before the deed: it shows the deed, holds, and fades back.
    """

    painter: Callable[[Pen, Scene, float], None]
    seconds: float = 2.0
    phases: tuple[float, ...] = (0, 1)
    returns: bool = False


EMPTYING = (0, 0.02, 0.98, 1)
"""To the last drop, and then none."""
LOOKED_AT = "It is looked at: nothing in it moves."
"""Why a picture of reading or checking stands still."""
NO_STEP = "No step shows it."
"""Why a picture of another use stands still."""


def between(start: float, end: float, phase: float) -> float:
    """Where something is at a phase of its way."""
    return start + (end - start) * phase


def swing(phase: float, turns: int) -> float:
    """From -1 to 1 and back, so many times, and at rest at both ends."""
    return math.sin(2 * math.pi * turns * phase)


_HUBS = {
    "pink": "#f0a0b8", "cream": "#f3e7c0", "yellow": "#f2d13c", "deep green": "#2f7d4a", "black": "#2b2b2b",
    "deep blue": "#2c5f9e", "medium purple": "#8d6bb3", "orange": "#ee8f3a", "brown": "#8a5a38", "medium grey": "#9a9a9a",
    "blue-green": "#3fa39b", "red": "#cf3b3b",
}  # fmt: skip
_PLAIN_LENGTH, _PLAIN_FIXED = 25.0, 13.0
"""Length in mm of a needle of which nothing is known, alone and as part of a barrel: common practice, no source."""
_SHOWN = 0.3
"""Picture mm to a mm of needle: a needle of 38 mm then takes a fifth of a picture's width."""
HUB = 4.6
NOZZLE = 1.8
_SUNK = 0.8
"""So many mm of the nozzle are inside the hub."""
STOPPER = 3.0
_ROD = 1.4
_AFTER_SCALE = 2.2
_TO_REST = 1.6
_BEYOND = _AFTER_SCALE + _TO_REST + 1.7


def hub_fill(needle: NeedleSeen | None) -> str:
    """The hub's colour, white where none is known."""
    gauge = gauges().get(needle.gauge) if needle else None
    return _HUBS.get(gauge.colour.value, GROUND) if gauge and gauge.colour else GROUND


def needle_length(needle: NeedleSeen | None, shown: float = _SHOWN) -> float:
    """Length of the bare tube in the picture, in proportion to the real one."""
    return (float(needle.length) if needle else _PLAIN_LENGTH) * shown


def needle_width(needle: NeedleSeen | None) -> float:
    """Width of the tube's line: wider for a thicker needle, never so thin that a printer drops it."""
    gauge = gauges().get(needle.gauge) if needle else None
    return 0.55 + 0.5 * float(gauge.outer.value) if gauge else 0.9


def needle(pen: Pen, seen: NeedleSeen | None, shown: float = _SHOWN) -> None:
    """A needle with its hub; the hub's open end at the origin, the tip to the left."""
    _tube(pen.move(-HUB, 0), needle_length(seen, shown), needle_width(seen))
    pen.path(f"M 0 -1.9 L -1.6 -1.9 L {-HUB} -0.9 L {-HUB} 0.9 L -1.6 1.9 L 0 1.9 Z", fill=hub_fill(seen))


def _tube(pen: Pen, length: float, width: float) -> None:
    pen.lines(((0, 0), (0.6 - length, 0)), width=width, cap="butt")
    pen.path(f"M {0.9 - length} -0.3 L {-length} 0.3 L {0.9 - length} 0.3 Z", fill=LINE, width=0.3)


def cap(pen: Pen, length: float) -> None:
    """A needle cap, open end at the origin, closed end to the left."""
    pen.path(f"M 0 -1.7 L {1 - length} -1.1 Q {-length} -1.1 {-length} 0 Q {-length} 1.1 {1 - length} 1.1 L 0 1.7 Z")
    pen.lines(((-1.6, 0), (3 - length, 0)), width=THIN)


@dataclass(frozen=True, slots=True)
class Tool:
    """A syringe in a picture. ring: where the stopper's top ring stands, in parts of the scale; length of the scale and bore in mm.

    fixed: the needle is part of the barrel and has no hub. shown: picture mm to a mm of needle.
    """

    ring: float = 0.5
    length: float = 16
    bore: float = 5.4
    holds: Literal["liquid", "air"] = "liquid"
    tip: Literal["needle", "cap", "bare"] = "needle"
    needle: NeedleSeen | None = None
    shown: float = _SHOWN
    fixed: bool = False

    @property
    def tube(self) -> float:
        """Length of the needle's tube in the picture."""
        return (
            _PLAIN_FIXED * self.shown if self.fixed and self.needle is None else needle_length(self.needle, self.shown)
        )

    @property
    def root(self) -> float:
        """From where the needle's tube begins (or the nozzle ends, when bare) to the barrel."""
        return NOZZLE if self.fixed or self.tip == "bare" else NOZZLE + HUB - _SUNK

    @property
    def reach(self) -> float:
        """From the needle's tip (or the nozzle's, when bare) to the barrel."""
        return self.root if self.tip == "bare" else self.root + self.tube

    @property
    def stop(self) -> float:
        """From the barrel's needle end to the top ring."""
        return 0.4 + self.ring * self.length

    @property
    def flange(self) -> float:
        """From the barrel's needle end to its flange."""
        return self.length + _AFTER_SCALE

    @property
    def rest(self) -> float:
        """From the barrel's needle end to the thumb rest."""
        return self.flange + _TO_REST + self.ring * self.length


def held(scene: Scene, it: Tool) -> Tool:
    """A syringe as the scene has it: its needle, and its top ring where the scene says; empty if it names a barrel and no volume."""
    if scene.barrel is None:
        return replace(it, needle=scene.needle)
    share = float(scene.at.value / scene.barrel.capacity.value) if scene.at is not None else 0.0
    return replace(it, ring=min(1.0, share), needle=scene.needle, fixed=scene.barrel.needle_fixed)


def fitted(it: Tool, room: float, most: float = 16) -> Tool:
    """The same syringe, as long as the room in mm allows from its tip to its thumb rest; its scale at most `most` mm."""
    return replace(it, length=min(most, (room - it.reach - _BEYOND) / (1 + it.ring)))


def tool(pen: Pen, it: Tool, *, bubbles: Sequence[Point] = ()) -> None:
    """A syringe lying with its needle to the left; the origin where barrel and nozzle meet. Bubbles at points inside the barrel."""
    r = it.bore / 2
    hub = pen.move(-NOZZLE + _SUNK, 0)
    if it.tip == "cap":
        cap(hub, it.reach - NOZZLE + _SUNK + 0.6)
    elif it.tip == "needle" and it.fixed:
        _tube(pen.move(-NOZZLE, 0), it.tube, needle_width(it.needle))
    elif it.tip == "needle":
        needle(hub, it.needle, it.shown)
    pen.path(f"M 0 -1.3 L {-NOZZLE} -0.9 L {-NOZZLE} 0.9 L 0 1.3 Z")
    pen.rect(0, -r, it.flange, it.bore, round_=0.8)
    if it.holds == "liquid" and it.ring > 0:
        pen.rect(0, -r, it.stop, it.bore, round_=0.8, fill=LIQUID)
    for x, y in bubbles:
        pen.circle(x, y, 0.75, width=THIN)
    pen.rect(it.stop + STOPPER, -_ROD / 2, it.rest - it.stop - STOPPER, _ROD, width=0.6)
    pen.rect(it.stop, -r + 0.4, STOPPER, it.bore - 0.8, round_=0.5, fill=RUBBER, width=0.5)
    pen.lines(((it.stop + 0.35, -r + 0.2), (it.stop + 0.35, r - 0.2)), width=1.1, cap="butt", part="ring")
    pen.rect(0, -r, it.flange, it.bore, round_=0.8, fill="none")
    pen.rect(it.flange, -r - 1.7, 1.3, it.bore + 3.4, round_=0.6)
    pen.rect(it.rest, -r - 0.3, 1.3, it.bore + 0.6, round_=0.6)


_VIAL = ((2.3, 1.2), (2.3, 3.0), (5.0, 5.2), (5.6, 6.4), (5.6, 14.6), (4.9, 15.6))
VIAL = 15.6
"""Height of a vial."""
VIAL_HALF = 5.6


def _half(height: float) -> float:
    """Half the width of a vial's inside at a height."""
    for (x1, y1), (x2, y2) in pairwise(_VIAL):
        if height <= y2:
            return x1 + (x2 - x1) * (height - y1) / (y2 - y1)
    return _VIAL[-1][0]


def _inside(top: float, bottom: float) -> str:
    """The inside of a vial between two heights; a way of as many points for every level, so that a level can sink."""
    heights = [min(max(y, top), bottom) for _, y in _VIAL]
    right = [(_half(y), y) for y in heights]
    points = [*right, *((-x, y) for x, y in reversed(right))]
    return "M " + " L ".join(f"{x} {y}" for x, y in points) + " Z"


def vial(
    pen: Pen,
    holds: Contents,
    *,
    level: float = 8,
    over: bool = False,
    capped: bool = False,
    wet: float = 0,
) -> None:
    """A vial, its rubber at the origin and its floor below; `over` when the pen has turned it upside down. Level of water in mm.

    wet: so many mm of water on a powder.
    """
    pen.path(_inside(1.2, VIAL), line="none")
    if holds == "water":
        pen.path(
            _inside(1.2, 1.2 + level) if over else _inside(VIAL - level, VIAL), fill=LIQUID, width=0.6, part="in-vial"
        )
    if holds == "powder":
        if wet:
            pen.path(_inside(VIAL - wet, VIAL), fill=LIQUID, width=0.6)
        pen.curve(((-5.2, 14.9), (-5.2, 12.6), (-1.5, 11.4), (3, 12.4), (5.2, 12.0), (5.2, 14.9)), width=0.6)
        pen.dots(
            [(x + (row % 2) * 0.9, 12.8 + row * 0.95) for row in range(3) for x in (-4.4, -2.6, -0.8, 1, 2.8, 4.1)],
            0.33,
        )
    pen.path(_inside(1.2, VIAL), fill="none")
    pen.rect(-3.2, -0.6, 6.4, 2.6, round_=0.4, fill=SHADE)
    if capped:
        vial_cap(pen.move(0, -0.6))
    else:
        pen.lines(((-1.4, -0.6), (1.4, -0.6)), width=1.3)


def vial_cap(pen: Pen) -> None:
    """The flip-off cap of a vial; its lower side at the origin."""
    pen.rect(-3.6, -1.9, 7.2, 1.9, round_=0.7, fill=RUBBER)


def bars(pen: Pen, x: float, y: float, *widths: float, step: float = 2.2) -> None:
    """Lines of print too small to be words."""
    pen.lines(*(((x, y + i * step), (x + w, y + i * step)) for i, w in enumerate(widths)), width=0.9, line="#555555")


def carton(pen: Pen, width: float, height: float, depth: float = 4) -> None:
    """A box seen from the front and a little from above; its front's upper left corner at the origin."""
    pen.path(f"M 0 0 L {depth} {-depth * 0.7} L {width + depth} {-depth * 0.7} L {width} 0 Z", fill=SHADE)
    pen.path(
        f"M {width} 0 L {width + depth} {-depth * 0.7} L {width + depth} {height - depth * 0.7} L {width} {height} Z",
        fill=SHADE,
    )
    pen.rect(0, 0, width, height)


PRESSED = 1.6
"""How far the shoulder of a pressed spray bottle goes down."""


def bottle(pen: Pen, *, down: float = 0, level: float = 9) -> None:
    """A nasal spray bottle, upright, its shoulder `down` by so many mm; its tip at the origin and its floor below."""
    pen.rect(-5, 14.5, 10, 14, round_=1.2)
    pen.rect(-5, 28.5 - level, 10, level, round_=1.2, fill=LIQUID, width=0.6)
    pen.rect(-5, 14.5, 10, 14, round_=1.2, fill="none")
    pen.rect(-3.2, 10.5, 6.4, 4)
    pen.path(f"M -5.6 {10.6 + down} L -5.6 {8.8 + down} Q -2 {8.6 + down} -1.8 {6 + down} L -1.2 {0.8 + down} "
             f"Q 0 {-0.6 + down} 1.2 {0.8 + down} L 1.8 {6 + down} Q 2 {8.6 + down} 5.6 {8.8 + down} L 5.6 {10.6 + down} Z")  # fmt: skip


def mist(pen: Pen, length: float = 9, spread: float = 4) -> None:
    """Spray leaving the origin to the right."""
    pen.dots(
        [
            (length * i / 4, spread * i / 4 * k)
            for i in (1, 2, 3, 4)
            for k in (-1, -0.33, 0.33, 1)
            if i > 1 or abs(k) < 1
        ],
        0.38,
    )


def arrow(pen: Pen, start: Point, end: Point, *, width: float = 2.2) -> None:
    """The one bold arrow of a picture."""
    (x1, y1), (x2, y2) = start, end
    length = ((x2 - x1) ** 2 + (y2 - y1) ** 2) ** 0.5
    ux, uy = (x2 - x1) / length, (y2 - y1) / length
    neck, half, wing = length - min(4.2, length * 0.6), width / 2, width * 1.25

    def at(along: float, side: float) -> str:
        return f"{x1 + ux * along - uy * side} {y1 + uy * along + ux * side}"

    way = (
        f"M {at(0, -half)} L {at(neck, -half)} L {at(neck, -wing)} L {at(length, 0)} "
        f"L {at(neck, wing)} L {at(neck, half)} L {at(0, half)} Z"
    )
    pen.path(way, line=GROUND, width=1.4)
    pen.path(way, fill=LINE, line="none")


def turning(pen: Pen, x: float, y: float, radius: float, start: float, end: float, *, width: float = 1.8) -> None:
    """A bold arrow along an arc; angles in degrees, clockwise from the right."""
    points = around(x, y, radius, start, end)
    way = smooth(points)
    (x1, y1), (x2, y2) = points[-2], points[-1]
    length = ((x2 - x1) ** 2 + (y2 - y1) ** 2) ** 0.5
    ux, uy = (x2 - x1) / length, (y2 - y1) / length
    head = f"M {x2 + ux * 3.8} {y2 + uy * 3.8} L {x2 - uy * 2.6} {y2 + ux * 2.6} L {x2 + uy * 2.6} {y2 - ux * 2.6} Z"
    pen.path(way, fill="none", line=GROUND, width=width + 1.3)
    pen.path(head, fill=GROUND, line=GROUND, width=1.3)
    pen.path(way, fill="none", width=width, cap="butt")
    pen.path(head, fill=LINE, line="none")


def eye(pen: Pen) -> None:
    """An eye: look here. Ten mm wide, its middle at the origin."""
    pen.path("M -5 0 Q 0 -5.6 5 0 Q 0 5.6 -5 0 Z")
    pen.circle(0, 0, 1.7, fill=LINE, line="none")


def cross_out(pen: Pen, w: float, h: float) -> None:
    """Two bold strokes through what must not be done; the middle at the origin."""
    for line, width in ((GROUND, 3.4), (LINE, 1.7)):
        pen.lines(((-w / 2, -h / 2), (w / 2, h / 2)), ((-w / 2, h / 2), (w / 2, -h / 2)), line=line, width=width)


def tick(pen: Pen) -> None:
    """A bold tick, eight mm wide, its middle at the origin."""
    pen.path("M -3.6 0.2 L -1 3 L 4 -3.4", fill="none", width=1.8)


def drop(pen: Pen, size: float = 1, *, fill: str = LIQUID) -> None:
    """A drop hanging from the origin, three mm tall at size 1."""
    s = size
    pen.path(f"M 0 0 Q {1.9 * s} {2.1 * s} 0 {3.2 * s} Q {-1.9 * s} {2.1 * s} 0 0 Z", fill=fill, width=0.55)


def hatched(pen: Pen, x: float, y: float, rx: float, ry: float, gap: float = 1.7) -> None:
    """A field of skin: an ellipse with slanting lines in it."""
    pen.path(ellipse(x, y, rx, ry), width=0.9, part="field")
    ends: list[tuple[Point, Point]] = []
    reach = (rx**2 + ry**2) ** 0.5
    shift = -reach + gap / 2
    while shift < reach:
        half = (reach**2 - shift**2) / reach**2
        if half > 0:
            mid = (x + shift * rx**2 / reach**2, y + shift * ry**2 / reach**2)
            dx = rx * ry / reach * half**0.5
            ends.append(((mid[0] - dx, mid[1] + dx), (mid[0] + dx, mid[1] - dx)))
        shift += gap
    pen.lines(*ends, width=0.6)


def sharps_box(pen: Pen) -> None:
    """A box for used needles, open at the top; the middle of its opening at the origin."""
    pen.path("M -10 1 L 10 1 L 8.6 20 L -8.6 20 Z")
    pen.rect(-11, -1.6, 22, 3.4, round_=1, fill=SHADE)
    pen.lines(((-6, 0.1), (6, 0.1)), width=1.6)
    pen.lines(((-3.6, 14), (3, 7.4)), width=1)
    pen.path("M 3 7.4 L 5 5.4 L 4.6 8.4 Z", fill=LINE, width=0.5)
    pen.lines(((-5.2, 12.6), (-2.4, 15.4)), width=1.4)
