"""Pictures of mixing: caps, air, water, powder, and the look at the mixed vial."""

from collections.abc import Sequence
from dataclasses import replace

from hourmark.handout.drawing.canvas import LIQUID, SHADE, THIN, Pen, Point
from hourmark.handout.drawing.hands import grip_behind, grip_front, pinch, press_behind, press_front
from hourmark.handout.drawing.parts import (
    EMPTYING,
    LOOKED_AT,
    VIAL,
    VIAL_HALF,
    Contents,
    Move,
    Painter,
    Tool,
    arrow,
    between,
    eye,
    fitted,
    held,
    swing,
    tick,
    tool,
    turning,
    vial,
    vial_cap,
)
from hourmark.handout.drawing.scale import Window, close
from hourmark.handout.scene import Scene

_SMALL = 0.8
_TABLE = 40.2
_IN_VIAL = 0.12
"""Picture mm to a mm of needle where most of the needle is out of sight in a vial."""
_AIR = Tool(ring=0.5, holds="air", shown=_IN_VIAL)
_LIQUID = Tool(ring=0.5, shown=_IN_VIAL)
_OVERVIEW = 21.0


def table(pen: Pen) -> None:
    """The edge of the table things stand on."""
    pen.lines(((2, _TABLE), (58, _TABLE)), width=1)


def standing(
    pen: Pen, x: float, holds: Contents, *, level: float = 8, capped: bool = False, size: float = _SMALL, wet: float = 0
) -> float:
    """A vial standing on the table; gives the height of its rubber."""
    top = _TABLE - VIAL * size - 0.4
    vial(pen.move(x, top).scale(size), holds, level=level, capped=capped, wet=wet)
    return top


def _rubber() -> float:
    return _TABLE - VIAL * _SMALL - 0.4


def over_vial(
    pen: Pen, holds: Contents, it: Tool, *, x: float = 28, deep: float = 3.6, level: float = 8, room: float = 0.8,
    raised: float = 0,
) -> None:  # fmt: skip
    """A syringe above a standing vial, its tip `deep` mm below the top of the rubber, `room` mm free above it; raised by so many mm."""
    table(pen)
    deep = min(deep, it.tube + 1)
    it = fitted(it, _rubber() + deep - room, 12)
    if deep > 0:
        standing(pen, x, holds, level=level)
    tool(pen.move(x, _rubber() + deep - raised - it.reach).turn(-90), it)
    if deep > 0:
        _covered(pen, x, _rubber())
    else:
        standing(pen, x, holds, level=level)


def pushed_over_vial(pen: Pen, holds: Contents, it: Tool, phase: float) -> None:
    """A hand that pushes the plunger of a syringe whose needle is in a standing vial; at phase 1 it is all the way in."""
    x, room, deep = 24, 6, min(3.6, it.tube + 1)
    it = fitted(it, _rubber() + deep - room, 12)
    it, pushed = replace(it, ring=it.ring * (1 - phase)), it.ring * phase
    rest = pen.move(x, _rubber() + deep - it.reach - it.rest - 1.3)
    press_behind(rest, it.rest - it.flange, it.bore / 2)
    table(pen)
    standing(pen, x, holds, wet=6 * pushed)
    tool(pen.move(x, _rubber() + deep - it.reach).turn(-90), it)
    _covered(pen, x, _rubber())
    press_front(rest, it.rest - it.flange, it.bore / 2)
    arrow(pen, (13, 6), (13, 20))


def _covered(pen: Pen, x: float, rubber: float) -> None:
    """The metal ring of the vial hides the needle that is inside it."""
    pen.rect(x - 3.2 * _SMALL, rubber - 0.6 * _SMALL, 6.4 * _SMALL, 2.6 * _SMALL, round_=0.3, fill=SHADE)


def under_vial(
    pen: Pen,
    it: Tool,
    *,
    x: float,
    level: float,
    deep: float = 3.4,
    phase: float = 1,
    bubbles: Sequence[Point] = (),
) -> None:
    """A syringe below a vial that is upside down, its plunger pulled back so far of its way; level of the liquid above the rubber in mm."""
    rubber = 1 + VIAL * _SMALL
    deep = min(deep, it.tube + 1)
    it = _pulled(fitted(it, 41 - (rubber - deep), 12), phase)
    vial(pen.move(x, rubber).turn(180).scale(_SMALL), "water" if level else "nothing", level=level, over=True)
    inside = [(along, side) for along, side in bubbles if along + 0.9 < it.stop]
    tool(pen.move(x, rubber - deep + it.reach).turn(90), it, bubbles=inside)
    _covered(pen, x, rubber - 1.4 * _SMALL)


def _pulled(it: Tool, phase: float) -> Tool:
    """The same syringe, its plunger pulled back from empty so far of its way."""
    return replace(it, ring=it.ring * phase)


def upright_window(pen: Pen, scene: Scene, *, past: float = 0, liquid: bool = True, phase: float = 1) -> None:
    """The lines around the mark, the needle end above, in a frame at the right of the picture; the ring so far of its way there."""
    if scene.barrel is None or scene.at is None:
        return
    pen.rect(33, 0.8, 26, 40.4, round_=2)
    lines = float(scene.at.value / scene.barrel.step.value)
    past = (lines + past) * phase - lines
    digits = Window(length=39.6, bore=9, digits=4.6, across=5.4, past=past, upright=True, liquid=liquid)
    digits.draw(pen.move(43.6, 1.2).turn(90).mirror(), scene.barrel, scene.at)


def _beside(scene: Scene) -> float:
    return 13 if scene.barrel is not None and scene.at is not None else 28


def _vial_caps(pen: Pen, scene: Scene, phase: float = 1) -> None:
    table(pen)
    standing(pen, 13, "powder", size=1)
    top = standing(pen, 35, "water", size=1)
    lifted = pen.move(between(35, 35.4, phase), top - between(0.6, 8, phase)).turn(-6 * phase)
    pinch(lifted.move(0.6, -1).scale(0.8), 2.2)
    vial_cap(lifted)
    vial_cap(pen.move(13, top - 8).turn(14))
    arrow(pen, (24, top + 1), (24, top - 13))


def _pull_air(pen: Pen, scene: Scene, phase: float = 1) -> None:
    x = _beside(scene)
    it = fitted(held(scene, Tool(holds="air", shown=_IN_VIAL)), 40, 14)
    tool(pen.move(x, 1 + it.reach).turn(90), _pulled(it, phase))
    bottom = 1 + it.reach + it.rest
    arrow(pen, (x + 8.5, bottom - 12), (x + 8.5, bottom + 0.5))
    upright_window(pen, scene, liquid=False, phase=phase)


_ABOVE = 9.0
"""How far above its place a needle begins that goes into a vial."""


def _needle_into_water(pen: Pen, scene: Scene, phase: float = 1) -> None:
    over_vial(pen, "water", held(scene, _AIR), raised=_ABOVE * (1 - phase))
    arrow(pen, (39, 8), (39, 23))


def _push_air_into_water(pen: Pen, scene: Scene, phase: float = 0) -> None:
    pushed_over_vial(pen, "water", held(scene, _AIR), phase)
    for x, y in ((21.4, 34), (25.8, 35.6), (26.8, 32.6)):
        pen.circle(x, y - 1.6 * phase, 0.8, width=THIN)


def _turn_over(pen: Pen, scene: Scene, phase: float = 1) -> None:
    it = fitted(replace(held(scene, _AIR), ring=0.06), 27, 12)
    standing(pen, 12, "water")
    tool(pen.move(12, _rubber() + min(3.6, it.tube + 1) - it.reach).turn(-90), it)
    _covered(pen, 12, _rubber())
    if phase < 1:
        _turned(pen, it, phase)
    else:
        under_vial(pen, it, x=47, level=8)
    turning(pen, 29, 26, 13, 195, 325, width=2.2)


def _turned(pen: Pen, it: Tool, phase: float) -> None:
    """The vial with the needle in it on its way from standing to upside down."""
    over = phase > 0.5
    deep = min(3.6, it.tube + 1) - 0.2 * phase
    rubber = pen.move(between(12, 47, phase), between(_rubber(), 1 + VIAL * _SMALL, phase)).turn(180 * phase)
    vial(rubber.scale(_SMALL), "water", level=8, over=over)
    tool(rubber.move(0, deep - it.reach).turn(-90), it)
    _covered(rubber, 0, 0)


def _pull_water(pen: Pen, scene: Scene, phase: float = 1) -> None:
    _pull(pen, scene, 0, phase)


def _draw_past_mark(pen: Pen, scene: Scene, phase: float = 1) -> None:
    _pull(pen, scene, 0.7, phase)


def _pull(pen: Pen, scene: Scene, past: float, phase: float) -> None:
    x = _beside(scene)
    under_vial(pen, held(scene, _LIQUID), x=x, level=between(10, 7, phase), phase=phase)
    arrow(pen, (x + 8.5, 25), (x + 8.5, 39))
    upright_window(pen, scene, past=past, phase=phase)


def _bubbles_vial(pen: Pen, scene: Scene) -> None:
    under_vial(pen, held(scene, _LIQUID), x=20, level=8, bubbles=((1.2, -0.8), (2.6, 0.9), (4.4, -0.2)))
    eye(pen.move(44, 16).scale(1.5))
    arrow(pen, (36, 34), (36, 22))


def _water_away(pen: Pen, scene: Scene, phase: float = 1) -> None:
    table(pen)
    standing(pen, 13, "water", size=1, level=5)
    standing(pen, between(30, 47, phase), "water", size=1, level=10)
    arrow(pen, (26, 14), (44, 14))


def _draw_all(pen: Pen, scene: Scene, phase: float = 1) -> None:
    it = held(scene, _LIQUID)
    under_vial(pen, it, x=26, level=between(8, 0.9, phase), deep=1.9, phase=phase)
    arrow(pen, (37, 25), (37, 39))


def _read_water(pen: Pen, scene: Scene) -> None:
    _read_mark(pen, scene)


def _read_mark(pen: Pen, scene: Scene) -> None:
    if scene.barrel is None or scene.at is None:
        it = Tool(ring=0.6, tip="bare", length=22, bore=9)
        tool(pen.move(8, 30), it)
        eye(pen.move(8 + it.stop, 8).scale(1.3))
        arrow(pen, (8 + it.stop, 14), (8 + it.stop, 24))
        return
    _overview(pen, scene)
    eye(pen.move(8, 7))
    close(pen.move(0, 16), scene.barrel, scene.at)


def _overview(pen: Pen, scene: Scene, past: float = 0) -> None:
    it = held(scene, Tool(tip="bare", length=16, bore=5.4))
    x = _OVERVIEW + it.stop
    pen.path(f"M {x} 7 L 54 16.8 L 6 16.8 Z", fill=SHADE, line="none")
    tool(pen.move(_OVERVIEW, 6.6), replace(it, ring=it.ring + past))


_PAST_LINES = 1.6
"""How many lines past the mark the ring begins that is pushed to it."""


def _push_to_mark(pen: Pen, scene: Scene, phase: float = 1) -> None:
    if scene.barrel is None or scene.at is None:
        it = Tool(ring=0.5, tip="bare", length=18, bore=8)
        tool(pen.move(4, 21), replace(it, ring=between(0.6, 0.5, phase)))
        arrow(pen, (58, 21), (4 + it.rest + 3, 21))
        return
    past = _PAST_LINES * (1 - phase)
    _overview(pen, scene, past * float(scene.barrel.step.value / scene.barrel.capacity.value))
    close(pen.move(0, 16), scene.barrel, scene.at, past=past)
    arrow(pen, (14, 6.6), (3, 6.6), width=2.6)


def _needle_out_of_vial(pen: Pen, scene: Scene, phase: float = 1) -> None:
    inside = 5.4 * (1 - phase)
    if scene.at is not None and scene.at.value > 0:
        size = _SMALL * 0.9
        rubber = 1 + VIAL * size
        it = fitted(held(scene, _LIQUID), 41 - rubber - 2, 12)
        vial(pen.move(24, rubber).turn(180).scale(size), "water", level=3, over=True)
        tool(pen.move(24, rubber + 2 - inside + it.reach).turn(90), it)
        if inside:
            _covered(pen, 24, rubber - 1.4 * size)
        arrow(pen, (36, 14), (36, 30))
        return
    over_vial(pen, "water", replace(held(scene, _AIR), ring=0), deep=-2.5, level=6, raised=-inside)
    arrow(pen, (40, 24), (40, 8))


def _needle_into_powder(pen: Pen, scene: Scene, phase: float = 1) -> None:
    over_vial(pen, "powder", held(scene, _LIQUID), raised=_ABOVE * (1 - phase))
    arrow(pen, (39, 8), (39, 23))


def _water_into_powder(pen: Pen, scene: Scene, phase: float = 0) -> None:
    pushed_over_vial(pen, "powder", held(scene, _LIQUID), phase)
    pen.tubes([(((24, 31.2), (21, 32.6), (20.5, 34.6), (20.5, 37.2)), 1.4)], fill=LIQUID, width=0.35)


def _syringe_empty(pen: Pen, scene: Scene) -> None:
    over_vial(pen, "water", replace(held(scene, _AIR), ring=0), x=22, level=7)
    eye(pen.move(43, 14).scale(1.5))


def _turn_vial(pen: Pen, scene: Scene, phase: float = 1) -> None:
    hold = pen.move(26, 22).turn(14 * swing(phase, 2)).scale(1.25)
    grip_behind(hold, VIAL_HALF)
    vial(hold.move(0, -10), "water", level=8)
    if phase < 0.6:
        hold.dots([(-4.2, 4.4), (-2.2, 1.6), (1.8, 4.4), (4, 1.2), (0.2, 2.8), (2.2, 2.2), (-0.6, 4.8)], 0.33)
    hold.dots([(-3, 2.5), (0.5, 1), (3, 3.2), (-1.4, 4.2), (1.4, 0.2), (-3.6, 0.4)], 0.33)
    grip_front(hold, VIAL_HALF)
    turning(pen, 26, 22, 19, 150, 245, width=2.4)


def _clear_vial(pen: Pen, scene: Scene) -> None:
    _lamp(pen.move(24, 2.4))
    held_vial = pen.move(26, 18).scale(1.25)
    vial(held_vial, "water", level=9)
    pinch(pen.move(27, 19).turn(-20), 7.4)
    held_vial.rect(-3.2, -0.6, 6.4, 2.6, round_=0.4, fill=SHADE)
    eye(pen.move(8, 30).scale(1.3))


def _lamp(pen: Pen) -> None:
    pen.path("M -3 -1 L 3 -1 L 6.4 4.2 L -6.4 4.2 Z", fill=SHADE)
    pen.lines(((-5, 6.4), (-6.6, 9.4)), ((0, 6.4), (0, 9.4)), ((5, 6.4), (6.6, 9.4)), width=0.8)


def _vial_again(pen: Pen, scene: Scene, phase: float = 1) -> None:
    table(pen)
    standing(pen, 10, "water", size=1)
    if phase < 0.3:
        return
    tick(pen.move(10, 14).scale(1.2))
    if phase < 0.6:
        return
    arrow(pen, (19, 31), (30, 31))
    standing(pen, 40, "powder", size=1)
    standing(pen, 52.5, "water", size=0.8, capped=True)
    tool(pen.move(34, 12), Tool(ring=0, holds="air", tip="cap", shown=0.2, length=12, needle=scene.needle))


def _vial_rest(pen: Pen, scene: Scene, phase: float = 1) -> None:
    table(pen)
    standing(pen, between(16, 46, phase), "water", level=3.5, size=1)
    arrow(pen, (24, 31), (36, 31))
    it = fitted(held(scene, Tool(tip="cap", shown=0.25)), 52, 16)
    tool(pen.move(3 + it.reach, 10), it)


PAINTERS: dict[str, Painter] = {
    "bubbles-vial": _bubbles_vial,
    "clear-vial": _clear_vial,
    "draw-all": _draw_all,
    "draw-past-mark": _draw_past_mark,
    "needle-into-powder": _needle_into_powder,
    "needle-into-vial": _needle_into_water,
    "needle-into-water": _needle_into_water,
    "needle-out-of-vial": _needle_out_of_vial,
    "pull-air": _pull_air,
    "pull-water": _pull_water,
    "push-air-into-vial": _push_air_into_water,
    "push-air-into-water": _push_air_into_water,
    "push-to-mark": _push_to_mark,
    "read-mark": _read_mark,
    "read-water": _read_water,
    "syringe-empty": _syringe_empty,
    "turn-over": _turn_over,
    "turn-vial": _turn_vial,
    "vial-again": _vial_again,
    "vial-caps": _vial_caps,
    "vial-rest": _vial_rest,
    "water-away": _water_away,
    "water-into-powder": _water_into_powder,
}
"""The pictures of this file by name."""

_INTO_WATER = Move(_needle_into_water)
_AIR_INTO_WATER = Move(_push_air_into_water, returns=True)

_FILLING = (0.01, 1)
"""From the first drop on."""

MOVES: dict[str, Move] = {
    "draw-all": Move(_draw_all, 3, (0.01, 0.2, 0.4, 0.6, 0.8, 1)),
    "draw-past-mark": Move(_draw_past_mark, 3, _FILLING),
    "needle-into-powder": Move(_needle_into_powder),
    "needle-into-vial": _INTO_WATER,
    "needle-into-water": _INTO_WATER,
    "needle-out-of-vial": Move(_needle_out_of_vial),
    "pull-air": Move(_pull_air, 3),
    "pull-water": Move(_pull_water, 3, _FILLING),
    "push-air-into-vial": _AIR_INTO_WATER,
    "push-air-into-water": _AIR_INTO_WATER,
    "push-to-mark": Move(_push_to_mark, 3),
    "turn-over": Move(_turn_over, 3, (0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1)),
    "turn-vial": Move(_turn_vial, 4, (0, 0.125, 0.375, 0.625, 0.875, 1)),
    "vial-again": Move(_vial_again, 2, (0, 0.4, 0.8, 1)),
    "vial-caps": Move(_vial_caps),
    "vial-rest": Move(_vial_rest),
    "water-away": Move(_water_away),
    "water-into-powder": Move(_water_into_powder, 2.6, EMPTYING, returns=True),
}
"""How the pictures of this file move."""
RESTS = dict.fromkeys(("bubbles-vial", "clear-vial", "read-mark", "read-water", "syringe-empty"), LOOKED_AT)
"""Why the others stand still."""
