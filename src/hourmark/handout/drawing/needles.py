"""Pictures of the syringe in hand: needles on and off, caps, bubbles."""

from dataclasses import replace

from hourmark.handout.drawing.canvas import SHADE, Pen
from hourmark.handout.drawing.hands import hold_behind, hold_front, point, press_behind, press_front
from hourmark.handout.drawing.mixing import table
from hourmark.handout.drawing.parts import (
    HUB,
    NOZZLE,
    Painter,
    Tool,
    arrow,
    cap,
    drop,
    eye,
    fitted,
    held,
    needle,
    needle_length,
    sharps_box,
    tool,
)
from hourmark.handout.scene import NeedleSeen, Scene

_LONG = 0.4
"""Picture mm to a mm of needle where its length is what matters."""


def _new_syringe(pen: Pen, scene: Scene) -> None:
    pen.rect(3, 11, 50, 22, round_=1.5, fill=SHADE)
    pen.rect(6, 14.5, 44, 15, round_=1, line="none")
    tool(pen.move(11, 22), Tool(ring=0, holds="air", tip="bare", length=24, bore=7))
    pen.path("M 42 11 Q 50 3 58 9 L 53 33 Q 50 20 42 11 Z")
    arrow(pen, (28, 5), (41, 5))


def _needle_on(pen: Pen, scene: Scene) -> None:
    _put_on(pen, Tool(ring=0, holds="air", tip="bare", bore=9, needle=scene.needle))


def _needle_change(pen: Pen, scene: Scene) -> None:
    _put_on(pen, held(scene, Tool(ring=0.5, tip="bare", bore=9)))


def _put_on(pen: Pen, it: Tool) -> None:
    """A capped needle beside a syringe, and the way it goes."""
    long, gap = HUB + needle_length(it.needle, _LONG), 5.0
    it = fitted(it, 57 - long - gap, 20)
    start = (60 - long - gap - it.reach - it.rest) / 2 + long
    hub = pen.move(start, 25)
    cap(hub.move(-1.6, 0), long - 0.4)
    needle(hub, it.needle, _LONG)
    tool(pen.move(start + gap + it.reach, 25), it)
    arrow(pen, (max(start - 11, 1.6), 14), (max(start + 4, 15), 14), width=2.8)


def _needle_off(pen: Pen, scene: Scene) -> None:
    long, gap = HUB + needle_length(scene.needle, _LONG), 5.0
    it = fitted(held(scene, Tool(ring=0.5, tip="bare", bore=7)), 56 - long - gap)
    start = (59 - long - gap - it.reach - it.rest - 1.3) / 2 + long
    hand = pen.move(start - 2.2, 16).scale(0.95)
    hold_behind(hand)
    needle(pen.move(start, 16), scene.needle, _LONG)
    hold_front(hand)
    tool(pen.move(start + gap + it.reach, 16), it)
    arrow(pen, (start + 4, 5.5), (start - 10, 5.5), width=2.6)


def _needle_b_on(pen: Pen, scene: Scene) -> None:
    it = fitted(replace(held(scene, Tool(ring=0.5)), bore=7, shown=_LONG), 57)
    start = (60 - it.reach - it.rest) / 2 + it.reach
    tool(pen.move(start, 31), it)
    needle_at = start - NOZZLE - HUB - needle_length(scene.needle, _LONG) / 2
    eye(pen.move(max(needle_at, 9), 9).scale(1.5))
    arrow(pen, (max(needle_at, 9), 16), (needle_at, 27))


def _cap_off(pen: Pen, scene: Scene) -> None:
    it = fitted(replace(held(scene, Tool(ring=0.5)), bore=7, shown=0.3), 34)
    long = min(HUB + it.tube, 12.0)
    tip = 59 - it.reach - it.rest - 1.3
    hand = pen.move(tip - 3 - long * 0.55, 16).scale(0.95)
    hold_behind(hand)
    cap(pen.move(tip - 3, 16), long)
    tool(pen.move(tip + it.reach, 16), it)
    hold_front(hand)
    arrow(pen, (tip + 1, 5.5), (tip - 13, 5.5), width=2.6)


def _cap_scoop(pen: Pen, scene: Scene) -> None:
    table(pen)
    it = fitted(replace(held(scene, Tool(ring=0.5)), bore=7, shown=0.3), 42)
    cap(pen.move(15, 38), 13)
    tool(pen.move(16 + it.reach * 0.97, 37.4 - it.reach * 0.23).turn(-13), it)
    arrow(pen, (33, 15), (19, 19))


def _bubbles_tap(pen: Pen, scene: Scene) -> None:
    _needle_up(pen, scene, ((3, -1.2), (2.2, 1.4), (5.5, 0.6)))
    point(pen.move(27.5, 20).turn(4))
    arrow(pen, (44, 11), (31, 11))


def _bubbles_up(pen: Pen, scene: Scene) -> None:
    it = _up(scene, 33)
    foot = pen.move(20, 3 + it.reach + it.rest + 1.3).mirror()
    press_behind(foot, it.rest - it.flange, it.bore / 2)
    _needle_up(pen, scene, ((1.6, -1), (2, 1.2)), room=33, top=3, x=20)
    press_front(foot, it.rest - it.flange, it.bore / 2)
    drop(pen.move(20, 1.6), 0.8)
    arrow(pen, (9, 32), (9, 18))


def _bubble_stays(pen: Pen, scene: Scene) -> None:
    _needle_up(pen, scene, ((2, 0),))
    eye(pen.move(43, 16).scale(1.5))


def _up(scene: Scene, room: float) -> Tool:
    return fitted(replace(held(scene, Tool(ring=0.6)), shown=0.2, bore=7), room)


def _needle_up(
    pen: Pen, scene: Scene, bubbles: tuple[tuple[float, float], ...], *, room: float = 40, top: float = 1, x: float = 23
) -> None:
    it = _up(scene, room)
    inside = [(along, side) for along, side in bubbles if along + 0.9 < it.stop]
    tool(pen.move(x, top + it.reach).turn(90), it, bubbles=inside)


def _box_needles(pen: Pen, scene: Scene) -> None:
    seen: tuple[NeedleSeen | None, ...] = scene.needles or (scene.needle,)
    step = min(11.0, 30 / len(seen))
    top = 26 - step * (len(seen) - 1) / 2
    for i, one in enumerate(seen):
        needle(pen.move(50, top + step * i).scale(1.25), one, 0.8)
    eye(pen.move(30, 7).scale(1.2))


def _sharps(pen: Pen, scene: Scene) -> None:
    sharps_box(pen.move(26, 20))
    it = fitted(replace(held(scene, Tool(shown=0.12, bore=4.6)), ring=0), 19)
    tool(pen.move(26, 20 - it.reach).turn(-90), it)
    arrow(pen, (42, 3), (42, 17))


def _prefilled_syringe(pen: Pen, scene: Scene) -> None:
    it = fitted(replace(held(scene, Tool(ring=0.8, tip="cap")), bore=9), 56, 20)
    tool(pen.move((60 - it.reach - it.rest) / 2 + it.reach, 21), it)


PAINTERS: dict[str, Painter] = {
    "box-needles": _box_needles,
    "bubble-stays": _bubble_stays,
    "bubbles-tap": _bubbles_tap,
    "bubbles-up": _bubbles_up,
    "cap-off": _cap_off,
    "cap-scoop": _cap_scoop,
    "needle-a-on": _needle_on,
    "needle-b-on": _needle_b_on,
    "needle-change": _needle_change,
    "needle-off": _needle_off,
    "needle-on": _needle_on,
    "new-syringe": _new_syringe,
    "prefilled-syringe": _prefilled_syringe,
    "sharps": _sharps,
}
"""The pictures of this file by name."""
