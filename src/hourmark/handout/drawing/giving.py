"""Pictures of giving an injection: the place, the skin, the needle."""

import math
from dataclasses import replace

from hourmark.handout.drawing.canvas import GROUND, LINE, LIQUID, SHADE, THIN, Pen, around, smooth
from hourmark.handout.drawing.hands import cuff, pinch, press_behind, press_front
from hourmark.handout.drawing.parts import (
    EMPTYING,
    LOOKED_AT,
    Move,
    Painter,
    Tool,
    arrow,
    between,
    drop,
    eye,
    fitted,
    hatched,
    held,
    swing,
    tool,
)
from hourmark.handout.scene import Scene

_SKIN = 36.0
_FOLD_TOP = 28.0
_GAP = 0.4
_INSIDE = 0.13
"""Picture mm to a mm of needle where all of it is in the body."""


def _site_belly_thigh(pen: Pen, scene: Scene) -> None:
    (_own_front if scene.view == "own" else _seen_front)(pen)


def _own_front(pen: Pen) -> None:
    for side in (pen.move(30, 0), pen.move(30, 0).flip()):
        side.curve(((1, 26), (0.9, 16), (2.6, 6), (8, 1.4), (13.4, 5), (15.6, 14), (17, 27)), fill=GROUND)
        side.curve(((5, 5.4), (8, 4), (11, 5.4)), width=THIN)
        hatched(side, 9, 14.5, 3.6, 5.6)
    pen.path("M 8.6 41 C 7 31 14 23.4 30 23.4 C 46 23.4 53 31 51.4 41 Z", part="belly")
    _navel(pen, 30, 33.6, 6.4)
    for side in (pen.move(30, 0), pen.move(30, 0).flip()):
        hatched(side, 13.6, 33.6, 4.6, 5)
        side.tubes(
            [
                (((24.6, 36.6), (22.6, 25), (19.4, 18.4)), 4.8),
                (((19.4, 18.6), (17.6, 14.4)), 4.2),
                (((18, 19.4), (15.4, 19)), 2.8),
            ]
        )


def _seen_front(pen: Pen) -> None:
    pen.path("M 18 1 C 18 8 12 12 11.6 20 C 11.4 28 14 34 15 41 L 28 41 C 29 35 29.4 30 30 25 C 30.6 30 31 35 32 41 "
             "L 45 41 C 46 34 48.6 28 48.4 20 C 48 12 42 8 42 1", part="belly")  # fmt: skip
    pen.path("M 11.8 17.4 C 18 18.4 42 18.4 48.2 17.4 L 48.2 21 C 42 21.4 34 22 30 26 C 26 22 18 21.4 11.8 21 Z",
             fill=SHADE, width=0.6)  # fmt: skip
    _navel(pen, 30, 9, 4.9)
    for x in (19.9, 40.1):
        hatched(pen, x, 10.2, 3.2, 4)
    for x in (20.6, 39.4):
        hatched(pen, x, 32, 3.4, 5.4)


def _navel(pen: Pen, x: float, y: float, clear: float) -> None:
    pen.curve(((x - 1.1, y), (x, y + 0.9), (x + 1.1, y)), width=0.9, part="navel")
    for start in range(0, 360, 30):
        pen.curve(around(x, y, clear, start, start + 16, 2), width=0.5)


def _site_hip(pen: Pen, scene: Scene) -> None:
    pen.path(smooth(((24, 1), (23.4, 6), (18, 12), (15.6, 18.6), (18.4, 25), (20, 31), (20.6, 41))) + " L 37 41 "
             + "C 38.4 33 40 26 39.4 19 C 39 14 41 8 38.4 1")  # fmt: skip
    pen.path("M 21 9 C 27 11 35 11 40 9.4 C 39 13 39.4 16 39.6 20 C 33 18 24 22 18.8 26 C 16 22 15 18 16.4 14.6 C 17.4 12 19.4 10.6 21 9 Z",
             fill=SHADE, width=0.6)  # fmt: skip
    pen.path("M 22.6 1 L 22 5.4 C 27 7.4 35 7.4 40 5.6 L 39.2 1", width=0.9)
    hatched(pen, 29.4, 14.4, 4.8, 4.4)


def _skin(pen: Pen, *, fold: float | None = None, phase: float = 1) -> None:
    """A piece of body seen from the side; a fold around x = `fold`, so far raised."""
    if fold is None:
        pen.path(f"M 1 {_SKIN} L 59 {_SKIN} L 59 41 L 1 41 Z", fill=SHADE, line="none")
        pen.lines(((1, _SKIN), (59, _SKIN)), width=1)
        return
    foot, side, peak = (between(_SKIN, y, phase) for y in (_SKIN - 2, _FOLD_TOP + 1.5, _FOLD_TOP))
    top = smooth(((1, _SKIN), (fold - 9, _SKIN), (fold - 5, foot), (fold - 3.2, side), (fold, peak),
                  (fold + 3.2, side), (fold + 5, foot), (fold + 9, _SKIN), (59, _SKIN)))  # fmt: skip
    pen.path(top + " L 59 41 L 1 41 Z", fill=SHADE, line="none")
    pen.path(top, fill="none", width=1)


def _wipe_skin(pen: Pen, scene: Scene, phase: float = 1) -> None:
    _skin(pen)
    wipe = pen.move(between(42, 25, phase), _SKIN - 2.2)
    wipe.rect(-7, -2, 14, 4, round_=1.6)
    pinch(wipe.move(1, -2.8).turn(-42), 5)
    for x in (6, 10.5, 15):
        drop(pen.move(x, _SKIN - 3.4), 0.9)
    arrow(pen, (22, 14), (6, 14))


def _dry_skin(pen: Pen, scene: Scene, phase: float = 1) -> None:
    _skin(pen)
    sway = 1.3 * math.cos(math.pi * 2 * phase)
    for x in (8, 16, 24, 32):
        pen.curve([(x + sway * (-1) ** i, 32.5 - i * 3.2) for i in range(6)], width=0.9)
    pen.path(f"M 6 {_SKIN} Q 20 {_SKIN - between(5, 2.4, phase)} 34 {_SKIN} Z", fill=LIQUID, width=0.5)
    hourglass(pen.move(48, 17), phase)


def hourglass(pen: Pen, phase: float = 1) -> None:
    """An hourglass, 20 mm tall, its middle at the origin: wait. Its sand runs from phase 0 to 1."""
    pen.path(
        "M -5.4 -8.6 L 5.4 -8.6 C 5.4 -3 1 -2 1 0 C 1 2 5.4 3 5.4 8.6 L -5.4 8.6 C -5.4 3 -1 2 -1 0 C -1 -2 -5.4 -3 -5.4 -8.6 Z"
    )
    top, half = between(-7, -4.6, phase), between(4.6, 3.4, phase)
    pen.path(f"M {-half} {top} L {half} {top} L 0.4 -1 L -0.4 -1 Z", fill=LINE, width=0.4)
    pen.path(f"M -4.6 7.8 Q 0 {between(7, 2.4, phase)} 4.6 7.8 Z", fill=LINE, width=0.4)
    pen.lines(((-7, -9), (7, -9)), ((-7, 9), (7, 9)), width=1.6)


def _wash_skin(pen: Pen, scene: Scene, phase: float = 1) -> None:
    _skin(pen)
    cloth = pen.move(29 + 7 * swing(phase, 2), _SKIN - 4)
    cloth.rect(-7, -3.2, 14, 6.4, round_=2.4)
    pinch(cloth.move(2, -3).turn(-42), 8)
    for x, y, r in ((8, 29, 2.6), (13.5, 30, 2), (18.5, 28.5, 2.8), (21, 32.4, 1.2), (14, 25, 1.6)):
        pen.circle(x, y, r, width=0.6)
    for x in (6, 12, 18):
        drop(pen.move(x, 10 + (x % 4)), 1.2)


def _pinch_skin(pen: Pen, scene: Scene, phase: float = 1) -> None:
    _skin(pen, fold=24, phase=phase)
    pinch(pen.move(24, _SKIN - 4).turn(-62), between(15, 9.5, phase))


_BEFORE = 9.0
"""How far before its place a needle begins that goes into the skin."""


def _angle_subcutaneous(pen: Pen, scene: Scene, phase: float = 1) -> None:
    _ridge(pen)
    angle = 80 if scene.angle is None else scene.angle
    deep = -1.5 if scene.angle is None else 2.4
    it = replace(held(scene, Tool(ring=0.5)), shown=0.2)
    way = math.radians(angle)
    it = fitted(it, deep + min((_FOLD_TOP - 1.5) / math.sin(way), 22 / max(math.cos(way), 0.1)), 12)
    if scene.angle is not None:
        _angle_mark(pen.move(35, _FOLD_TOP), scene.angle)
    _needle_at(pen, it, 35, _FOLD_TOP, angle, deep - _BEFORE * (1 - phase))
    (arrow(pen, (57, 21), (50, 28)) if angle < 70 else arrow(pen, (49, 7), (49, 22)))


def _ridge(pen: Pen) -> None:
    """A fold of skin seen along its length, held at its left end by a thumb before it and a finger behind it."""
    pen.tubes([(((24, 27.2), (18, 24.6), (13, 22.6)), 4)])
    top = smooth(((1, _SKIN), (12, _SKIN - 0.4), (17, _FOLD_TOP + 1.6), (23, _FOLD_TOP), (41, _FOLD_TOP),
                  (46, _FOLD_TOP + 1.6), (51, _SKIN - 0.4), (59, _SKIN)))  # fmt: skip
    pen.path(top + " L 59 41 L 1 41 Z", fill=SHADE, line="none")
    pen.path(top, fill="none", width=1)
    pen.tubes([(((24, 32.2), (18, 29), (13, 24)), 4.2), (((12.4, 21.4), (11, 18.4)), 9), (((11, 18), (8.6, 12)), 7.6)])
    pen.curve(((25.2, 31.4), (25, 32.8), (23.4, 33)), width=THIN)
    cuff(pen, (9, 13), -111)


def _needle_at(pen: Pen, it: Tool, x: float, y: float, angle: float, deep: float) -> Pen:
    """A syringe that comes from the right at an angle, its tip so deep below a point; gives the pen at its thumb rest, needle down."""
    way = math.radians(-angle)
    back = it.reach - deep
    at = pen.move(x + math.cos(way) * back, y + math.sin(way) * back).turn(-angle)
    tool(at, it)
    return at.move(it.rest + 1.3, 0).turn(90)


def _angle_mark(pen: Pen, angle: int) -> None:
    pen.lines(((1, 0), (14, 0)), width=0.5)
    if angle == 90:
        pen.path("M 6 0 L 6 -6 L 0 -6", fill="none", width=0.6)
    else:
        pen.curve(around(0, 0, 10, 0, -angle), width=0.7)


def _angle_intramuscular(pen: Pen, scene: Scene, phase: float = 1) -> None:
    _skin(pen)
    it = fitted(replace(held(scene, Tool(ring=0.5, bore=6)), shown=0.25), _SKIN + 3, 12)
    _angle_mark(pen.move(24, _SKIN), 90)
    _needle_at(pen, it, 24, _SKIN, 90, 4 - _BEFORE * (1 - phase))
    arrow(pen, (40, 10), (40, 26))


def _all_the_way_in(pen: Pen, scene: Scene, it: Tool, x: float) -> Pen:
    it = replace(held(scene, it), ring=0, shown=_INSIDE, bore=6)
    return _needle_at(pen, it, x, _SKIN, 90, it.tube - _GAP)


def _push_plunger(pen: Pen, scene: Scene, phase: float = 0) -> None:
    _skin(pen)
    it = replace(held(scene, Tool(ring=0.5)), shown=_INSIDE, bore=6)
    it = fitted(it, _SKIN - 6.4 + it.tube, 12)
    it = replace(it, ring=it.ring * (1 - phase))
    rest = pen.move(22, _SKIN - _GAP - it.root - it.rest - 1.3)
    press_behind(rest, it.rest - it.flange, 3)
    _needle_at(pen, it, 22, _SKIN, 90, it.tube - _GAP)
    press_front(rest, it.rest - it.flange, 3)
    arrow(pen, (10, 8), (10, 23))


def _plunger_down(pen: Pen, scene: Scene) -> None:
    _skin(pen)
    _all_the_way_in(pen, scene, Tool(ring=0, holds="air", length=16), 22)
    eye(pen.move(43, 16).scale(1.5))


def _wait(pen: Pen, scene: Scene, phase: float = 1) -> None:
    _skin(pen)
    it = replace(held(scene, Tool(length=12)), ring=0)
    rest = pen.move(16, _SKIN - _GAP - it.root - it.rest - 1.3)
    press_behind(rest, 1.6, 3)
    _all_the_way_in(pen, scene, it, 16)
    press_front(rest, 1.6, 3)
    hourglass(pen.move(50, 17), phase)


def _needle_out(pen: Pen, scene: Scene, phase: float = 1) -> None:
    _skin(pen)
    it = replace(held(scene, Tool(bore=6, shown=0.25)), ring=0)
    it = fitted(it, _SKIN - 4.5, 12)
    _needle_at(pen, it, 22, _SKIN, 90, between(it.tube - _GAP, -3.4, phase))
    arrow(pen, (38, 28), (38, 9))
    if phase >= 0.9:
        pen.path(f"M 20 {_SKIN} C 20 {_SKIN - 2.4} 24 {_SKIN - 2.4} 24 {_SKIN} Z", width=0.6)


PAINTERS: dict[str, Painter] = {
    "angle-intramuscular": _angle_intramuscular,
    "angle-subcutaneous": _angle_subcutaneous,
    "dry-skin": _dry_skin,
    "needle-out": _needle_out,
    "pinch-skin": _pinch_skin,
    "plunger-down": _plunger_down,
    "push-plunger": _push_plunger,
    "site-belly-thigh": _site_belly_thigh,
    "site-hip": _site_hip,
    "wait": _wait,
    "wash-skin": _wash_skin,
    "wipe-skin": _wipe_skin,
}
"""The pictures of this file by name."""

MOVES: dict[str, Move] = {
    "angle-intramuscular": Move(_angle_intramuscular),
    "angle-subcutaneous": Move(_angle_subcutaneous),
    "dry-skin": Move(_dry_skin, 4, (0, 0.25, 0.5, 0.75, 1)),
    "needle-out": Move(_needle_out, 2, (0, 0.9, 1)),
    "pinch-skin": Move(_pinch_skin),
    "push-plunger": Move(_push_plunger, 2.6, EMPTYING, returns=True),
    "wait": Move(_wait, 4),
    "wash-skin": Move(_wash_skin, 4, (0, 0.125, 0.375, 0.625, 0.875, 1)),
    "wipe-skin": Move(_wipe_skin),
}
"""How the pictures of this file move."""
RESTS = {
    "plunger-down": LOOKED_AT,
    **dict.fromkeys(("site-belly-thigh", "site-hip"), "A place is shown: nothing in it moves."),
}
"""Why the others stand still."""
