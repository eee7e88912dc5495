"""Pictures of what is around: boxes, table, hands, clock, telephone."""

import math

from hourmark.handout.drawing.canvas import LINE, SHADE, THIN, Pen, Point, around
from hourmark.handout.drawing.hands import mitten, palm, pinch, point
from hourmark.handout.drawing.parts import (
    Painter,
    Tool,
    bars,
    carton,
    cross_out,
    drop,
    eye,
    sharps_box,
    tool,
    vial,
)
from hourmark.handout.drawing.scale import Window
from hourmark.handout.scene import Scene


def _box_medicine(pen: Pen, scene: Scene) -> None:
    carton(pen.move(5, 7), 30, 30, 6)
    bars(pen, 10, 14, 20, 14, step=4)
    bars(pen, 10, 26, 18, 20, 12, step=3)
    point(pen.move(26, 21).turn(10))


def _box_water(pen: Pen, scene: Scene) -> None:
    body = pen.move(20, 2.5).scale(2.4)
    vial(body, "water", level=9)
    body.rect(-4.4, 7.4, 8.8, 5.6, width=0.6)
    bars(body, -3.2, 9, 6.4, 4.6, 5.6, step=1.5)
    point(pen.move(26, 27).turn(4))


def _box_syringe(pen: Pen, scene: Scene) -> None:
    tool(pen.move(14, 7), Tool(ring=0, holds="air", tip="bare", length=22, bore=5.4))
    if scene.barrel is None:
        eye(pen.move(30, 28).scale(1.6))
        return
    pen.path("M 36.2 7 L 54 16.8 L 6 16.8 Z", fill=SHADE, line="none")
    tool(pen.move(14, 7), Tool(ring=0, holds="air", tip="bare", length=22, bore=5.4))
    pen.rect(0.8, 16.8, 58.4, 24.4, round_=2)
    Window(length=57.6, bore=9.6, empty=True).draw(pen.move(1.2, 28.2), scene.barrel, scene.barrel.capacity)


def _table_laid(pen: Pen, scene: Scene) -> None:
    pen.path("M 2 34 L 9 17 L 51 17 L 58 34 Z")
    pen.rect(2, 34, 56, 3.4)
    pen.lines(((7, 37.6), (7, 41)), ((53, 37.6), (53, 41)), width=1.6)
    vial(pen.move(14, 13).scale(0.9), "powder")
    vial(pen.move(26, 13).scale(0.9), "water", level=9)
    tool(pen.move(14, 31), Tool(ring=0, holds="air", tip="cap", shown=0.2, length=14, bore=4.4))
    sharps_box(pen.move(44, 11).scale(0.75))


def _wash_hands(pen: Pen, scene: Scene) -> None:
    pen.path("M 8 1.6 L 26 1.6 Q 33 1.6 33 8 L 33 11 L 27 11 L 27 9.4 Q 27 7.6 25 7.6 L 8 7.6 Z", fill=SHADE)
    for y in (13, 18.5):
        drop(pen.move(30, y), 1.4)
    mitten(pen.move(36.5, 31).flip().turn(-4))
    mitten(pen.move(23.5, 27.4).turn(-4))
    for x, y, r in ((20, 21, 2), (38, 18.6, 2.4), (44, 37.6, 1.8), (15.6, 18, 1.4)):
        pen.circle(x, y, r, width=0.6)


def _clock(pen: Pen, scene: Scene) -> None:
    _face(pen.move(30, 21), 19.4, scene.clock)


def _face(pen: Pen, radius: float, time: tuple[int, int] | None, *, numbers: bool = True) -> None:
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
        _hand((hour % 12) * 30 + minute * 0.5, radius * 0.48, 2.2, pen, "hour")
        _hand(minute * 6, radius * 0.7, 1.3, pen, "minute")
    pen.circle(0, 0, 1.2, fill=LINE, line="none")


def _hand(angle: float, length: float, width: float, pen: Pen, part: str) -> None:
    """A hand of a clock; angle in degrees clockwise from twelve."""
    pen.lines(((0, 0), _on(angle, length)), width=width, part=part)


def _on(angle: float, radius: float) -> Point:
    return radius * math.sin(math.radians(angle)), -radius * math.cos(math.radians(angle))


def _write_time(pen: Pen, scene: Scene) -> None:
    _face(pen.move(12, 12), 10.6, None, numbers=False)
    pen.rect(10, 20, 34, 21)
    bars(pen, 14, 25, 22, 14, step=4.4)
    pen.lines(((14, 35.6), (26, 35.6)), width=THIN)
    pinch(pen.move(32, 29).turn(-22).scale(0.9), 2.4)
    nib = pen.move(27, 35).turn(-38)
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


def _keep_all(pen: Pen, scene: Scene) -> None:
    vial(pen.move(11, 4), "water", level=2)
    vial(pen.move(24.6, 4), "nothing")
    pen.rect(32, 5, 6, 14)
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
