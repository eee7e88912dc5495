"""Pictures for the steps of an instruction page, drawn from data as SVG; every step's picture is 60 by 42 mm.

They have no ground of their own, so that the mark of a draft is seen through them on paper; a dark page lays them on white.
"""

from functools import lru_cache

from hourmark.handout.drawing import around, giving, mixing, needles, nose
from hourmark.handout.drawing.canvas import Canvas, Pen, Svg
from hourmark.handout.drawing.parts import Move
from hourmark.handout.drawing.scale import ruler, syringe, syringe_close
from hourmark.handout.scene import RulerSeen, Scene, Seen, SyringeSeen

__all__ = ["MOVES", "PICTURES", "RESTS", "Svg", "at_phase", "draw", "drawn_as_svg", "ruler", "syringe", "syringe_close"]

_WIDTH, _HEIGHT = 60, 42

_PAINTERS = {**around.PAINTERS, **giving.PAINTERS, **mixing.PAINTERS, **needles.PAINTERS, **nose.PAINTERS}
PICTURES = frozenset(_PAINTERS)
"""The names of the pictures that can be drawn."""
MOVES: dict[str, Move] = {**around.MOVES, **giving.MOVES, **mixing.MOVES, **needles.MOVES, **nose.MOVES}
"""How a picture moves, by its name."""
RESTS: dict[str, str] = {**around.RESTS, **giving.RESTS, **mixing.RESTS, **needles.RESTS, **nose.RESTS}
"""Why a picture stands still, by its name."""

_NEVER_MIRRORED = {"box-syringe", "clock", "push-to-mark", "read-mark", "read-water"}
"""A clock and a scale are read from left to right whichever hand is used."""


def draw(scene: Scene) -> Svg:
    """The picture of a scene, 60 by 42 mm. Raises KeyError for a picture of another name."""
    painter = _PAINTERS[scene.picture]
    canvas = Canvas(_WIDTH, _HEIGHT)
    painter(_pen(canvas, scene), scene)
    return canvas.svg()


def at_phase(scene: Scene, phase: float) -> Canvas:
    """The picture of a scene at a phase of its motion, from 0 to 1. Raises KeyError for a picture that stands still."""
    canvas = Canvas(_WIDTH, _HEIGHT)
    MOVES[scene.picture].painter(_pen(canvas, scene), scene, phase)
    return canvas


def _pen(canvas: Canvas, scene: Scene) -> Pen:
    pen = Pen(canvas)
    if scene.left_handed and scene.picture not in _NEVER_MIRRORED:
        return pen.move(_WIDTH, 0).flip()
    return pen


@lru_cache(maxsize=4096)
def drawn_as_svg(thing: Seen) -> Svg:
    """What is seen, drawn; drawn one time for all pages that show the same."""
    match thing:
        case Scene():
            return draw(thing)
        case SyringeSeen(barrel, at, scale_length):
            return syringe(barrel, at, scale_length)
        case RulerSeen():
            return ruler()
