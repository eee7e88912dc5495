"""Pictures of mixing: caps, air, water, powder, and the look at the mixed vial."""

from dataclasses import replace

from hourmark.handout.drawing.canvas import LIQUID, SHADE, THIN, Pen
from hourmark.handout.drawing.hands import grip_behind, grip_front, pinch, press_behind, press_front
from hourmark.handout.drawing.parts import (
    VIAL,
    VIAL_HALF,
    Contents,
    Painter,
    Tool,
    arrow,
    eye,
    fitted,
    held,
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
    pen: Pen, x: float, holds: Contents, *, level: float = 8, capped: bool = False, size: float = _SMALL
) -> float:
    """A vial standing on the table; gives the height of its rubber."""
    top = _TABLE - VIAL * size - 0.4
    vial(pen.move(x, top).scale(size), holds, level=level, capped=capped)
    return top


def _rubber() -> float:
    return _TABLE - VIAL * _SMALL - 0.4


def over_vial(
    pen: Pen, holds: Contents, it: Tool, *, x: float = 28, deep: float = 3.6, level: float = 8, room: float = 0.8
) -> Tool:
    """A syringe above a standing vial, its tip `deep` mm below the top of the rubber, `room` mm free above it."""
    table(pen)
    deep = min(deep, it.tube + 1)
    it = fitted(it, _rubber() + deep - room, 12)
    if deep > 0:
        standing(pen, x, holds, level=level)
    tool(pen.move(x, _rubber() + deep - it.reach).turn(-90), it)
    if deep > 0:
        _covered(pen, x, _rubber())
    else:
        standing(pen, x, holds, level=level)
    return it


def pushed_over_vial(pen: Pen, holds: Contents, it: Tool) -> None:
    """A hand that pushes the plunger of a syringe whose needle is in a standing vial."""
    x, room, deep = 24, 6, min(3.6, it.tube + 1)
    length = fitted(it, _rubber() + deep - room, 12)
    rest = pen.move(x, _rubber() + deep - length.reach - length.rest - 1.3)
    press_behind(rest, length.rest - length.flange, length.bore / 2)
    over_vial(pen, holds, it, x=x, deep=deep, room=room)
    press_front(rest, length.rest - length.flange, length.bore / 2)
    arrow(pen, (13, 6), (13, 20))


def _covered(pen: Pen, x: float, rubber: float) -> None:
    """The metal ring of the vial hides the needle that is inside it."""
    pen.rect(x - 3.2 * _SMALL, rubber - 0.6 * _SMALL, 6.4 * _SMALL, 2.6 * _SMALL, round_=0.3, fill=SHADE)


def under_vial(pen: Pen, it: Tool, *, x: float, level: float, deep: float = 3.4) -> Tool:
    """A syringe below a vial that is upside down; level of the liquid above the rubber in mm of the vial."""
    rubber = 1 + VIAL * _SMALL
    deep = min(deep, it.tube + 1)
    it = fitted(it, 41 - (rubber - deep), 12)
    vial(pen.move(x, rubber).turn(180).scale(_SMALL), "water" if level else "nothing", level=level, over=True)
    tool(pen.move(x, rubber - deep + it.reach).turn(90), it)
    _covered(pen, x, rubber - 1.4 * _SMALL)
    return it


def upright_window(pen: Pen, scene: Scene, *, past: float = 0, liquid: bool = True) -> None:
    """The lines around the mark, the needle end above, in a frame at the right of the picture."""
    if scene.barrel is None or scene.at is None:
        return
    pen.rect(33, 0.8, 26, 40.4, round_=2)
    digits = Window(length=39.6, bore=9, digits=4.6, across=5.4, past=past, upright=True, liquid=liquid)
    digits.draw(pen.move(43.6, 1.2).turn(90).mirror(), scene.barrel, scene.at)


def _beside(scene: Scene) -> float:
    return 13 if scene.barrel is not None and scene.at is not None else 28


def _vial_caps(pen: Pen, scene: Scene) -> None:
    table(pen)
    standing(pen, 13, "powder", size=1)
    top = standing(pen, 35, "water", size=1)
    pinch(pen.move(36, top - 9).turn(-6).scale(0.8), 2.2)
    vial_cap(pen.move(35.4, top - 8).turn(-6))
    vial_cap(pen.move(13, top - 8).turn(14))
    arrow(pen, (24, top + 1), (24, top - 13))


def _pull_air(pen: Pen, scene: Scene) -> None:
    x = _beside(scene)
    it = fitted(held(scene, Tool(holds="air", shown=_IN_VIAL)), 40, 14)
    tool(pen.move(x, 1 + it.reach).turn(90), it)
    bottom = 1 + it.reach + it.rest
    arrow(pen, (x + 8.5, bottom - 12), (x + 8.5, bottom + 0.5))
    upright_window(pen, scene, liquid=False)


def _needle_into_water(pen: Pen, scene: Scene) -> None:
    over_vial(pen, "water", held(scene, _AIR))
    arrow(pen, (39, 8), (39, 23))


def _push_air_into_water(pen: Pen, scene: Scene) -> None:
    pushed_over_vial(pen, "water", held(scene, _AIR))
    for x, y in ((21.4, 34), (25.8, 35.6), (26.8, 32.6)):
        pen.circle(x, y, 0.8, width=THIN)


def _turn_over(pen: Pen, scene: Scene) -> None:
    it = fitted(replace(held(scene, _AIR), ring=0.06), 27, 12)
    standing(pen, 12, "water")
    tool(pen.move(12, _rubber() + min(3.6, it.tube + 1) - it.reach).turn(-90), it)
    _covered(pen, 12, _rubber())
    under_vial(pen, it, x=47, level=8)
    turning(pen, 29, 26, 13, 195, 325, width=2.2)


def _pull_water(pen: Pen, scene: Scene) -> None:
    _pull(pen, scene, 0)


def _draw_past_mark(pen: Pen, scene: Scene) -> None:
    _pull(pen, scene, 0.7)


def _pull(pen: Pen, scene: Scene, past: float) -> None:
    x = _beside(scene)
    under_vial(pen, held(scene, _LIQUID), x=x, level=7)
    arrow(pen, (x + 8.5, 25), (x + 8.5, 39))
    upright_window(pen, scene, past=past)


def _draw_all(pen: Pen, scene: Scene) -> None:
    it = held(scene, _LIQUID)
    under_vial(pen, it, x=26, level=0.9, deep=1.9)
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


def _overview(pen: Pen, scene: Scene) -> None:
    it = held(scene, Tool(tip="bare", length=16, bore=5.4))
    x = _OVERVIEW + it.stop
    pen.path(f"M {x} 7 L 54 16.8 L 6 16.8 Z", fill=SHADE, line="none")
    tool(pen.move(_OVERVIEW, 6.6), it)


def _push_to_mark(pen: Pen, scene: Scene) -> None:
    if scene.barrel is None or scene.at is None:
        it = Tool(ring=0.5, tip="bare", length=18, bore=8)
        tool(pen.move(4, 21), it)
        arrow(pen, (58, 21), (4 + it.rest + 3, 21))
        return
    _overview(pen, scene)
    close(pen.move(0, 16), scene.barrel, scene.at)
    arrow(pen, (14, 6.6), (3, 6.6), width=2.6)


def _needle_out_of_vial(pen: Pen, scene: Scene) -> None:
    if scene.at is not None and scene.at.value > 0:
        size = _SMALL * 0.9
        rubber = 1 + VIAL * size
        it = fitted(held(scene, _LIQUID), 41 - rubber - 2, 12)
        vial(pen.move(24, rubber).turn(180).scale(size), "water", level=3, over=True)
        tool(pen.move(24, rubber + 2 + it.reach).turn(90), it)
        arrow(pen, (36, 14), (36, 30))
        return
    over_vial(pen, "water", replace(held(scene, _AIR), ring=0), deep=-2.5, level=6)
    arrow(pen, (40, 24), (40, 8))


def _needle_into_powder(pen: Pen, scene: Scene) -> None:
    over_vial(pen, "powder", held(scene, _LIQUID))
    arrow(pen, (39, 8), (39, 23))


def _water_into_powder(pen: Pen, scene: Scene) -> None:
    pushed_over_vial(pen, "powder", held(scene, _LIQUID))
    pen.tubes([(((24, 31.2), (21, 32.6), (20.5, 34.6), (20.5, 37.2)), 1.4)], fill=LIQUID, width=0.35)


def _syringe_empty(pen: Pen, scene: Scene) -> None:
    over_vial(pen, "water", replace(held(scene, _AIR), ring=0), x=22, level=7)
    eye(pen.move(43, 14).scale(1.5))


def _turn_vial(pen: Pen, scene: Scene) -> None:
    hold = pen.move(26, 22).scale(1.25)
    grip_behind(hold, VIAL_HALF)
    vial(hold.move(0, -10), "water", level=8)
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


def _vial_again(pen: Pen, scene: Scene) -> None:
    table(pen)
    standing(pen, 10, "water", size=1)
    tick(pen.move(10, 14).scale(1.2))
    arrow(pen, (19, 31), (30, 31))
    standing(pen, 40, "powder", size=1)
    standing(pen, 52.5, "water", size=0.8, capped=True)
    tool(pen.move(34, 12), Tool(ring=0, holds="air", tip="cap", shown=0.2, length=12, needle=scene.needle))


def _vial_rest(pen: Pen, scene: Scene) -> None:
    table(pen)
    standing(pen, 46, "water", level=3.5, size=1)
    arrow(pen, (24, 31), (36, 31))
    it = fitted(held(scene, Tool(tip="cap", shown=0.25)), 52, 16)
    tool(pen.move(3 + it.reach, 10), it)


PAINTERS: dict[str, Painter] = {
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
    "water-into-powder": _water_into_powder,
}
"""The pictures of this file by name."""
