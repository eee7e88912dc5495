"""Pictures of what is around: boxes, table, hands, clock, telephone."""

import math

from hourmark.handout.drawing.canvas import LINE, SHADE, THIN, Pen, Point, around
from hourmark.handout.drawing.hands import mitten, palm, pinch, point
from hourmark.handout.drawing.parts import (
    LOOKED_AT,
    NO_STEP,
    Move,
    Painter,
    Tool,
    bars,
    between,
    carton,
    cross_out,
    drop,
    eye,
    sharps_box,
    swing,
    tool,
    vial,
)
from hourmark.handout.drawing.scale import Window
from hourmark.handout.scene import Scene


def _box_medicine(pen: Pen, scene: Scene, phase: float = 1) -> None:
    carton(pen.move(5, 7), 30, 30, 6)
    bars(pen, 10, 14, 20, 14, step=4)
    bars(pen, 10, 26, 18, 20, 12, step=3)
    point(pen.move(between(40, 26, phase), between(27, 21, phase)).turn(10))


def _box_water(pen: Pen, scene: Scene, phase: float = 1) -> None:
    body = pen.move(20, 2.5).scale(2.4)
    vial(body, "water", level=9)
    body.rect(-4.4, 7.4, 8.8, 5.6, width=0.6)
    bars(body, -3.2, 9, 6.4, 4.6, 5.6, step=1.5)
    point(pen.move(between(40, 26, phase), between(31, 27, phase)).turn(4))


def _box_syringe(pen: Pen, scene: Scene) -> None:
    tool(pen.move(14, 7), Tool(ring=0, holds="air", tip="bare", length=22, bore=5.4))
    if scene.barrel is None:
        eye(pen.move(30, 28).scale(1.6))
        return
    pen.path("M 36.2 7 L 54 16.8 L 6 16.8 Z", fill=SHADE, line="none")
    tool(pen.move(14, 7), Tool(ring=0, holds="air", tip="bare", length=22, bore=5.4))
    pen.rect(0.8, 16.8, 58.4, 24.4, round_=2)
    Window(length=57.6, bore=9.6, empty=True).draw(pen.move(1.2, 28.2), scene.barrel, scene.barrel.capacity)


def _table_laid(pen: Pen, scene: Scene, phase: float = 1) -> None:
    pen.path("M 2 34 L 9 17 L 51 17 L 58 34 Z")
    pen.rect(2, 34, 56, 3.4)
    pen.lines(((7, 37.6), (7, 41)), ((53, 37.6), (53, 41)), width=1.6)
    if phase > 0.1:
        vial(pen.move(14, 13).scale(0.9), "powder")
    if phase > 0.3:
        vial(pen.move(26, 13).scale(0.9), "water", level=9)
    if phase > 0.5:
        tool(pen.move(14, 31), Tool(ring=0, holds="air", tip="cap", shown=0.2, length=14, bore=4.4))
    if phase > 0.7:
        sharps_box(pen.move(44, 11).scale(0.75))


def _wash_hands(pen: Pen, scene: Scene, phase: float = 1) -> None:
    pen.path("M 8 1.6 L 26 1.6 Q 33 1.6 33 8 L 33 11 L 27 11 L 27 9.4 Q 27 7.6 25 7.6 L 8 7.6 Z", fill=SHADE)
    for y in (13, 18.5):
        drop(pen.move(30, y), 1.4)
    rubbing = 2.4 * swing(phase, 2)
    mitten(pen.move(36.5 + rubbing, 31).flip().turn(-4))
    mitten(pen.move(23.5 - rubbing, 27.4).turn(-4))
    for x, y, r in ((20, 21, 2), (38, 18.6, 2.4), (44, 37.6, 1.8), (15.6, 18, 1.4)):
        pen.circle(x, y, r, width=0.6)


_LAST_MINUTES = 5
"""So many minutes run before the one that is waited for."""


def _clock(pen: Pen, scene: Scene, phase: float = 1) -> None:
    _face(pen.move(30, 21), 19.4, scene.clock, before=_LAST_MINUTES * (1 - phase))


def _face(pen: Pen, radius: float, time: tuple[int, int] | None, *, numbers: bool = True, before: float = 0) -> None:
    """A clock's face, its hands at a time or so many minutes before it."""
    pen.circle(0, 0, radius, width=1.1)
    inner = radius * 0.88
    ticks: list[tuple[Point, Point]] = []
    for angle in range(0, 360, 30):
        if angle % 90 or not numbers:
            (ox, oy), (ix, iy) = _on(angle, radius * 0.94), _on(angle, inner)
            ticks.append(((ox, oy), (ix, iy)))
    pen.lines(*ticks, width=0.8)
    if numbers:
        for digits, angle in (("12", 0), ("3", 90), ("6", 180), ("9", 270)):
            pen.text(*_on(angle, radius * 0.8), digits, radius * 0.27)
    if time is not None:
        hour, minute = time
        _hand((hour % 12) * 30 + (minute - before) * 0.5, radius * 0.48, 2.2, pen, "hour")
        _hand((minute - before) * 6, radius * 0.7, 1.3, pen, "minute")
    pen.circle(0, 0, 1.2, fill=LINE, line="none")


def _hand(angle: float, length: float, width: float, pen: Pen, part: str) -> None:
    """A hand of a clock; angle in degrees clockwise from twelve."""
    pen.lines(((0, 0), _on(angle, length)), width=width, part=part)


def _on(angle: float, radius: float) -> Point:
    return radius * math.sin(math.radians(angle)), -radius * math.cos(math.radians(angle))


def _write_time(pen: Pen, scene: Scene, phase: float = 1) -> None:
    _face(pen.move(12, 12), 10.6, None, numbers=False)
    pen.rect(10, 20, 34, 21)
    bars(pen, 14, 25, 22, 14, step=4.4)
    written = between(15, 26, phase)
    pen.lines(((14, 35.6), (written, 35.6)), width=THIN)
    pinch(pen.move(written + 6, 29).turn(-22).scale(0.9), 2.4)
    nib = pen.move(written + 1, 35).turn(-38)
    nib.path("M 0 0 L 2.4 -1 L 20 -1 L 20 1 L 2.4 1 Z", width=0.6)


def _receiver(pen: Pen) -> None:
    """A telephone receiver lying on its back, 30 mm wide."""
    pen.tubes([(((-12, 3), (-8, -4), (0, -6.4), (8, -4), (12, 3)), 5), (((-13.6, 2.4), (-9.6, 4.6)), 6.4),
               (((13.6, 2.4), (9.6, 4.6)), 6.4)], fill=SHADE)  # fmt: skip


def _phone_call(pen: Pen, scene: Scene) -> None:
    _receiver(pen.move(24, 24).turn(-52))
    for radius in (5, 9, 13):
        pen.curve(around(36, 14, radius, -70, 20), width=1.2)


def _emergency(pen: Pen, scene: Scene) -> None:
    _receiver(pen.move(18, 23).turn(-52))
    pen.path("M 44 4 L 58 36 L 30 36 Z", width=1.6)
    pen.path("M 42.4 14.6 L 45.6 14.6 L 44.9 26 L 43.1 26 Z", fill=LINE, width=0.5)
    pen.circle(44, 30.8, 1.7, fill=LINE, line="none")


def _stop_hand(pen: Pen, scene: Scene) -> None:
    palm(pen.move(16, 22).scale(1.1))
    it = Tool(ring=0.5, length=10, shown=0.2, needle=scene.needle)
    tool(pen.move(45, 40 - it.reach).turn(-90), it)
    cross_out(pen.move(45, 21), 20, 26)


def _keep_all(pen: Pen, scene: Scene, phase: float = 1) -> None:
    kept = pen.move(0, 4 - 13 * (1 - phase))
    vial(kept.move(11, 0), "water", level=2)
    vial(kept.move(24.6, 0), "nothing")
    kept.rect(32, 1, 6, 14)
    pen.path("M 2 16 L 41 16 L 38 40 L 5 40 Z")
    pen.rect(1, 14, 41, 3.6, round_=1)
    bin_ = pen.move(51, 19)
    bin_.path("M -5.6 2 L 5.6 2 L 4.6 20 L -4.6 20 Z", fill=SHADE)
    bin_.rect(-6.8, -0.8, 13.6, 2.8, round_=1, fill=SHADE)
    bin_.rect(-2, -3, 4, 2.2, round_=0.6)
    cross_out(bin_.move(0, 8.6), 13, 20)


PAINTERS: dict[str, Painter] = {
    "box-medicine": _box_medicine,
    "box-syringe": _box_syringe,
    "box-water": _box_water,
    "clock": _clock,
    "emergency": _emergency,
    "keep-all": _keep_all,
    "phone-call": _phone_call,
    "stop-hand": _stop_hand,
    "table": _table_laid,
    "wash-hands": _wash_hands,
    "write-time": _write_time,
}
"""The pictures of this file by name."""

MOVES: dict[str, Move] = {
    "box-medicine": Move(_box_medicine),
    "box-water": Move(_box_water),
    "clock": Move(_clock, 3, (0, 0.2, 0.4, 0.6, 0.8, 1)),
    "keep-all": Move(_keep_all),
    "table": Move(_table_laid, 3, (0, 0.2, 0.4, 0.6, 0.8, 1)),
    "wash-hands": Move(_wash_hands, 4, (0, 0.125, 0.375, 0.625, 0.875, 1)),
    "write-time": Move(_write_time),
}
"""How the pictures of this file move."""
RESTS = {
    "box-syringe": LOOKED_AT,
    "phone-call": "A call has nothing that moves.",
    **dict.fromkeys(("emergency", "stop-hand"), NO_STEP),
}
"""Why the others stand still."""
