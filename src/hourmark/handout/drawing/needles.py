"""Pictures of the syringe in hand: needles on and off, caps, bubbles."""

from dataclasses import replace

from hourmark.handout.drawing.canvas import SHADE, Pen, Point
from hourmark.handout.drawing.hands import hold_behind, hold_front, point, press_behind, press_front
from hourmark.handout.drawing.mixing import table
from hourmark.handout.drawing.parts import (
    HUB,
    LOOKED_AT,
    NOZZLE,
    Move,
    Painter,
    Tool,
    arrow,
    bars,
    between,
    cap,
    carton,
    drop,
    eye,
    fitted,
    held,
    needle,
    needle_length,
    sharps_box,
    swing,
    tool,
)
from hourmark.handout.scene import NeedleSeen, Scene

_LONG = 0.4
"""Picture mm to a mm of needle where its length is what matters."""


def _new_syringe(pen: Pen, scene: Scene, phase: float = 1) -> None:
    pen.rect(3, 11, 50, 22, round_=1.5, fill=SHADE)
    pen.rect(6, 14.5, 44, 15, round_=1, line="none")
    tool(pen.move(11, 22), Tool(ring=0, holds="air", tip="bare", length=24, bore=7))
    lid = (between(11, 3, phase), between(53, 58, phase), between(11, 9, phase), between(22, 20, phase))
    pen.path(f"M 42 11 Q 50 {lid[0]} {lid[1]} {lid[2]} L 53 33 Q 50 {lid[3]} 42 11 Z")
    arrow(pen, (28, 5), (41, 5))


def _needle_on(pen: Pen, scene: Scene, phase: float = 0) -> None:
    _put_on(pen, Tool(ring=0, holds="air", tip="bare", bore=9, needle=scene.needle), phase)


def _needle_change(pen: Pen, scene: Scene, phase: float = 0) -> None:
    _put_on(pen, held(scene, Tool(ring=0.5, tip="bare", bore=9)), phase)


_GAP = 5.0
"""Between a needle and the syringe that it goes on or comes off; 0.8 mm more and it sits on the nozzle."""


def _put_on(pen: Pen, it: Tool, phase: float) -> None:
    """A capped needle beside a syringe, and the way it goes; at phase 1 it sits on it."""
    long, gap = HUB + needle_length(it.needle, _LONG), _GAP
    it = fitted(it, 57 - long - gap, 20)
    start = (60 - long - gap - it.reach - it.rest) / 2 + long
    hub = pen.move(start + (gap + 0.8) * phase, 25)
    cap(hub.move(-1.6, 0), long - 0.4)
    needle(hub, it.needle, _LONG)
    tool(pen.move(start + gap + it.reach, 25), it)
    arrow(pen, (max(start - 11, 1.6), 14), (max(start + 4, 15), 14), width=2.8)


def _needle_off(pen: Pen, scene: Scene, phase: float = 1) -> None:
    long, gap = HUB + needle_length(scene.needle, _LONG), _GAP
    it = fitted(held(scene, Tool(ring=0.5, tip="bare", bore=7)), 56 - long - gap)
    start = (59 - long - gap - it.reach - it.rest - 1.3) / 2 + long
    hub = pen.move(start + (gap + 0.8) * (1 - phase), 16)
    hand = hub.move(-2.2, 0).scale(0.95)
    hold_behind(hand)
    cap(hub.move(-1.6, 0), long - 0.4)
    needle(hub, scene.needle, _LONG)
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


def _cap_off(pen: Pen, scene: Scene, phase: float = 1) -> None:
    it = fitted(replace(held(scene, Tool(ring=0.5)), bore=7, shown=0.3), 34)
    long = min(HUB + it.tube, 12.0)
    tip = 59 - it.reach - it.rest - 1.3
    off = pen.move(between(tip + min(long - 0.6, it.reach - 0.4), tip - 3, phase), 16)
    hand = off.move(-long * 0.55, 0).scale(0.95)
    hold_behind(hand)
    tool(pen.move(tip + it.reach, 16), it)
    cap(off, long)
    hold_front(hand)
    arrow(pen, (tip + 1, 5.5), (tip - 13, 5.5), width=2.6)


def _cap_scoop(pen: Pen, scene: Scene, phase: float = 0) -> None:
    table(pen)
    it = fitted(replace(held(scene, Tool(ring=0.5)), bore=7, shown=0.3), 42)
    inside = phase * min(it.tube + 1, 11)
    tool(pen.move(16 + it.reach * 0.97 - inside, 37.4 - it.reach * 0.23 + inside * 0.2).turn(-13), it)
    cap(pen.move(15, 38), 13)
    arrow(pen, (33, 15), (19, 19))


def _bubbles_tap(pen: Pen, scene: Scene, phase: float = 1) -> None:
    it = _up(scene, 40)
    _needle_up(pen, it, _rising(it, ((3, -1.2), (2.2, 1.4), (5.5, 0.6)), phase))
    point(pen.move(27.5 + 4 * abs(swing(phase, 1)), 20).turn(4))
    arrow(pen, (44, 11), (31, 11))


def _bubbles_up(pen: Pen, scene: Scene, phase: float = 1) -> None:
    it = _up(scene, 33)
    it = replace(it, ring=it.ring + 0.12 * (1 - phase))
    foot = pen.move(20, 3 + it.reach + it.rest + 1.3).mirror()
    press_behind(foot, it.rest - it.flange, it.bore / 2)
    _needle_up(pen, it, _rising(it, ((1.6, -1), (2, 1.2)), phase), top=3, x=20)
    press_front(foot, it.rest - it.flange, it.bore / 2)
    if phase > 0.8:
        drop(pen.move(20, 1.6), 0.8)
    arrow(pen, (9, 32), (9, 18))


def _pull_back(pen: Pen, scene: Scene, phase: float = 1) -> None:
    it = _up(scene, 36)
    it = replace(it, ring=it.ring + 0.12 * phase)
    _needle_up(pen, it, (), x=23)
    arrow(pen, (44, 22), (44, 37))


def _on_its_box(pen: Pen, scene: Scene, phase: float = 1) -> None:
    it = fitted(replace(held(scene, Tool(ring=0.5, tip="cap")), bore=6), 42)
    carton(pen.move(7, 21), 42, 18)
    bars(pen.move(7, 21), 6, 6, 20, 26, 14)
    tool(pen.move((60 - it.reach - it.rest) / 2 + it.reach, between(5, 17.6, phase)), it)
    arrow(pen, (54.5, 3), (54.5, 15))


def _bubble_stays(pen: Pen, scene: Scene) -> None:
    _needle_up(pen, _up(scene, 40), ((2, 0),))
    eye(pen.move(43, 16).scale(1.5))


def _up(scene: Scene, room: float) -> Tool:
    return fitted(replace(held(scene, Tool(ring=0.6)), shown=0.2, bore=7), room)


_RISE = 7.0


def _rising(it: Tool, bubbles: tuple[Point, ...], phase: float) -> tuple[Point, ...]:
    """Bubbles on their way up to where they end, as far as the liquid reaches."""
    return tuple((along + max(0, min(_RISE, it.stop - 1 - along)) * (1 - phase), side) for along, side in bubbles)


def _needle_up(pen: Pen, it: Tool, bubbles: tuple[Point, ...], *, top: float = 1, x: float = 23) -> None:
    inside = [(along, side) for along, side in bubbles if along + 0.9 < it.stop]
    tool(pen.move(x, top + it.reach).turn(90), it, bubbles=inside)


def _box_needles(pen: Pen, scene: Scene) -> None:
    seen: tuple[NeedleSeen | None, ...] = scene.needles or (scene.needle,)
    step = min(11.0, 30 / len(seen))
    top = 26 - step * (len(seen) - 1) / 2
    for i, one in enumerate(seen):
        needle(pen.move(50, top + step * i).scale(1.25), one, 0.8)
    eye(pen.move(30, 7).scale(1.2))


def _sharps(pen: Pen, scene: Scene, phase: float = 0) -> None:
    it = fitted(replace(held(scene, Tool(shown=0.12, bore=4.6)), ring=0), 19)
    tool(pen.move(26, 20 - it.reach + 19 * phase).turn(-90), it)
    sharps_box(pen.move(26, 20))
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
    "on-its-box": _on_its_box,
    "prefilled-syringe": _prefilled_syringe,
    "pull-back": _pull_back,
    "sharps": _sharps,
}
"""The pictures of this file by name."""

_ON = Move(_needle_on, returns=True)

MOVES: dict[str, Move] = {
    "bubbles-tap": Move(_bubbles_tap, 3, (0, 0.25, 0.5, 0.75, 1)),
    "bubbles-up": Move(_bubbles_up, 3, (0, 0.8, 0.81, 1)),
    "cap-off": Move(_cap_off),
    "cap-scoop": Move(_cap_scoop, returns=True),
    "needle-a-on": _ON,
    "needle-change": Move(_needle_change, returns=True),
    "needle-off": Move(_needle_off),
    "needle-on": _ON,
    "new-syringe": Move(_new_syringe),
    "on-its-box": Move(_on_its_box),
    "pull-back": Move(_pull_back),
    "sharps": Move(_sharps, returns=True),
}
"""How the pictures of this file move."""
RESTS = {
    **dict.fromkeys(("box-needles", "needle-b-on", "prefilled-syringe"), LOOKED_AT),
    "bubble-stays": "The bubble stays where it is.",
}
"""Why the others stand still."""
