"""Pictures of a nasal spray."""

import math

from hourmark.handout.drawing.canvas import SHADE, THIN, Pen, ellipse, smooth
from hourmark.handout.drawing.hands import pinch, point, press_behind, press_front
from hourmark.handout.drawing.parts import (
    NO_STEP,
    PRESSED,
    Move,
    Painter,
    arrow,
    bars,
    between,
    bottle,
    mist,
    turning,
)
from hourmark.handout.scene import Scene

_PROFILE = (
    (-7, 16), (-8.4, 8), (-11, -1), (-7.6, -11), (0.4, -13.4), (7, -9.6), (8.6, -4.6), (9.2, -2), (12.6, 2.6), (12.2, 3.8),
    (9.6, 4.4), (10.2, 6.2), (9.4, 7.2), (10, 8.6), (8.6, 11.8), (4.4, 13), (2.4, 14), (2.4, 17),
)  # fmt: skip
NOSTRIL = (10.9, 3.9)


def _head(pen: Pen, lean: float) -> Pen:
    """A head from the side, looking right, leaning forward by so many degrees about its neck; gives the head's own pen."""
    head = pen.move(-2, 15).turn(lean).move(2, -15)
    head.path(smooth(_PROFILE))
    head.path(
        "M -9.6 6 C -13.4 -4 -9 -15.4 1 -14.4 C 5 -14 7 -11.6 7.4 -9.4 C 2 -9.6 0.4 -6 -2.6 -4 C -4.6 -1 -6 3 -9.6 6 Z",
        fill=SHADE,
    )
    head.curve(((4.6, -3.2), (6, -2.6), (7.4, -3.2)), width=0.8)
    head.path(ellipse(-2.6, 1, 1.5, 2.3), width=0.6)
    pen.path("M -15 23 C -14 19 -10 18.4 -8 15.6 Q -2 20 3.4 15.6 C 5 18.4 9 19 10 23")
    return head


def _blow_nose(pen: Pen, scene: Scene, phase: float = 1) -> None:
    _head(pen.move(18, 17), 6)
    x, y = between(42, 29.6, phase), between(26, 22, phase)
    pinch(pen.move(x + 5, y + 2).turn(24).scale(0.9), 7, sleeve=False)
    tissue = pen.move(x, y)
    tissue.path(
        "M -1 -3.4 C 2 -5.4 5 -3 8 -4 C 10 -1 8.6 1 9.4 4 C 7 5.4 8 8 5.4 10.4 C 4 8 2 9.4 0.6 7 C -0.6 5 -1.6 1 -1 -3.4 Z"
    )
    tissue.curve(((2, -1.6), (4, 1.4), (3.4, 5)), width=THIN)
    tissue.curve(((5.6, -1), (6.4, 1.6), (5.8, 4)), width=THIN)


def _pumped(pen: Pen, down: float) -> None:
    """A spray bottle in a hand that presses it: a finger on its shoulder, the thumb below; its tip at the origin."""
    foot = pen.move(0, 28.5).mirror()
    press_behind(foot, 17 + PRESSED - down, 4.4, fingers=1)
    bottle(pen, down=down)
    press_front(foot, 9, 4.4)


def _prime_spray(pen: Pen, scene: Scene, phase: float = 1) -> None:
    down = 1 if phase == 1 else abs(math.sin(1.5 * math.pi * phase))
    _pumped(pen.move(24, 10).scale(0.9), PRESSED * down)
    if down > 0.9:
        mist(pen.move(24, 9.4).turn(-90), 8, 5)
    arrow(pen, (11, 8), (11, 20))


def _head_forward(pen: Pen, scene: Scene, phase: float = 1) -> None:
    _head(pen.move(20, 17.6), 28 * phase)
    turning(pen, 20, 33, 30, -66, -34)


def _tilt_head(pen: Pen, scene: Scene, phase: float = 1) -> None:
    _head(pen.move(31, 17.6), -38 * phase)
    turning(pen, 29, 33, 29, -62, -104)


def _spray_nose(pen: Pen, scene: Scene, phase: float = 1) -> None:
    head = _head(pen.move(16, 17), 4)
    _pumped(head.move(*NOSTRIL).turn(-16).move(0.6, -0.4).scale(0.6), PRESSED * phase)
    arrow(pen, (46, 12), (37, 19))


def _close_side(pen: Pen, scene: Scene, phase: float = 1) -> None:
    pen.path("M 13 18 C 13 6 20 1 28 1 C 36 1 43 6 43 18 C 43 32 36 41 28 41 C 20 41 13 32 13 18 Z")
    for x in (21.5, 34.5):
        pen.curve(((x - 2.4, 15), (x, 13.6), (x + 2.4, 15)), width=0.9)
    pen.curve(((26.4, 14), (25.6, 21), (23.6, 25), (26, 27), (28, 26.4), (30, 27), (32.4, 25), (30.4, 21), (29.6, 14)))
    pen.dots([(26, 25.6)], 0.7)
    pen.curve(((24, 33), (28, 34.2), (32, 33)), width=0.9)
    point(pen.move(between(44, 30.4, phase), between(29, 25, phase)).turn(6))


def _nasal_bottle(pen: Pen, scene: Scene) -> None:
    bottle(pen.move(30, 4).scale(1.22))


def _box_spray(pen: Pen, scene: Scene, phase: float = 1) -> None:
    body = pen.move(22, 1.5).scale(1.36)
    bottle(body)
    body.rect(-5, 17, 10, 8, width=0.6)
    bars(body, -3.6, 19, 7, 5, 6.4, step=2.1)
    point(pen.move(between(40, 27, phase), 32).turn(-10))


PAINTERS: dict[str, Painter] = {
    "blow-nose": _blow_nose,
    "box-spray": _box_spray,
    "close-side": _close_side,
    "head-forward": _head_forward,
    "nasal-bottle": _nasal_bottle,
    "prime-spray": _prime_spray,
    "spray-nose": _spray_nose,
    "tilt-head": _tilt_head,
}
"""The pictures of this file by name."""

_LEANING = (0, 0.25, 0.5, 0.75, 1)

MOVES: dict[str, Move] = {
    "blow-nose": Move(_blow_nose),
    "box-spray": Move(_box_spray),
    "close-side": Move(_close_side),
    "head-forward": Move(_head_forward, 2, _LEANING),
    "prime-spray": Move(_prime_spray, 3, (0, 0.32, 0.34, 0.48, 0.5, 0.66, 0.98, 1)),
    "spray-nose": Move(_spray_nose),
    "tilt-head": Move(_tilt_head, 2, _LEANING),
}
"""How the pictures of this file move."""
RESTS = {"nasal-bottle": NO_STEP}
"""Why the others stand still."""
