"""Shapes in millimetres turned into SVG text.

Every shape is written in the page's own coordinates: a picture holds no transform, no id and no style, so that many of them
stand in one page without touching one another, and what lies outside the picture can be found by reading its numbers.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

Point = tuple[float, float]
Tube = tuple[Sequence[Point], float]
"""The middle line of a rounded tube and its width in mm."""

LINE = "#1a1a1a"
GROUND = "#ffffff"
LIQUID = "#93c6e8"
RUBBER = "#8c8c8c"
SHADE = "#e0e0e0"
_COMMANDS = frozenset("MLQCZ")
OUTLINE = 0.75
"""Width in mm of an outline; a picture printed at 40 mm of its 60 shows it half a millimetre wide."""
THIN = 0.45
FONT = "Atkinson Hyperlegible, sans-serif"
"""The page's typeface; on a screen that does not have it, its own plain one."""
_CENTRED = 0.335
"""Half the height of a digit of the typeface, in parts of its size: digits have no descenders."""
_ROUND_CORNER = 0.5523
"""How far the handles of a cubic curve reach to follow a quarter circle, in radii."""


@dataclass(frozen=True, slots=True)
class Svg:
    """A drawing as SVG text; width and height in mm."""

    text: str
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class Canvas:
    """A sheet to draw on; width and height in mm."""

    width: float
    height: float
    shapes: list[str] = field(default_factory=list)

    def svg(self) -> Svg:
        """What was drawn so far."""
        width, height = number(self.width), number(self.height)
        head = f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" viewBox="0 0 {width} {height}">'
        group = f'<g fill="{GROUND}" stroke="{LINE}" stroke-width="{number(OUTLINE)}" stroke-linecap="round" stroke-linejoin="round">'
        return Svg("".join([head, group, *self.shapes, "</g></svg>"]), self.width, self.height)


def number(value: float) -> str:
    """A number rounded to 0.01, in its shortest form."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


@dataclass(frozen=True, slots=True)
class Pen:
    """Draws on a canvas in coordinates of its own, in mm: moved, turned, scaled or mirrored. Widths of lines are never scaled."""

    canvas: Canvas
    a: float = 1
    b: float = 0
    c: float = 0
    d: float = 1
    e: float = 0
    f: float = 0

    def move(self, x: float, y: float) -> "Pen":
        """A pen whose origin is at this point."""
        e, f = self.place((x, y))
        return replace(self, e=e, f=f)

    def turn(self, degrees: float) -> "Pen":
        """A pen turned clockwise, as seen before any mirroring."""
        cos, sin = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
        return self._then(cos, sin, -sin, cos)

    def scale(self, factor: float) -> "Pen":
        """A pen that draws larger by this factor."""
        return self._then(factor, 0, 0, factor)

    def flip(self) -> "Pen":
        """A pen that swaps left and right."""
        return self._then(-1, 0, 0, 1)

    def mirror(self) -> "Pen":
        """A pen that swaps above and below."""
        return self._then(1, 0, 0, -1)

    def _then(self, a: float, b: float, c: float, d: float) -> "Pen":
        return replace(
            self,
            a=self.a * a + self.c * b,
            b=self.b * a + self.d * b,
            c=self.a * c + self.c * d,
            d=self.b * c + self.d * d,
        )

    @property
    def size(self) -> float:
        """How many mm of the canvas one mm of this pen is."""
        return math.hypot(self.a, self.b)

    def place(self, point: Point) -> Point:
        """Where on the canvas a point of this pen is."""
        x, y = point
        return self.a * x + self.c * y + self.e, self.b * x + self.d * y + self.f

    def path(
        self, way: str, *, fill: str = GROUND, line: str = LINE, width: float = OUTLINE, cap: str = "", part: str = ""
    ) -> None:
        """A path written with M, L, Q, C and Z and coordinates in mm, all absolute. Width of the line in mm."""
        self._add("path", f'd="{self._way(way)}"', fill, line, width, cap, part)

    def circle(
        self, x: float, y: float, radius: float, *, fill: str = GROUND, line: str = LINE, width: float = OUTLINE
    ) -> None:
        """A circle; centre and radius in mm."""
        cx, cy = self.place((x, y))
        shape = f'cx="{number(cx)}" cy="{number(cy)}" r="{number(radius * self.size)}"'
        self._add("circle", shape, fill, line, width)

    def rect(
        self, x: float, y: float, w: float, h: float, *, round_: float = 0, fill: str = GROUND, line: str = LINE,
        width: float = OUTLINE, part: str = "",
    ) -> None:  # fmt: skip
        """A rectangle with its corners rounded by `round_` mm."""
        self.path(_box_way(x, y, w, h, round_), fill=fill, line=line, width=width, part=part)

    def lines(
        self, *ends: tuple[Point, Point], line: str = LINE, width: float = OUTLINE, cap: str = "", part: str = ""
    ) -> None:
        """Straight lines, each from one point to another."""
        way = " ".join(f"M {x1} {y1} L {x2} {y2}" for (x1, y1), (x2, y2) in ends)
        self.path(way, fill="none", line=line, width=width, cap=cap, part=part)

    def curve(
        self, points: Sequence[Point], *, fill: str = "none", line: str = LINE, width: float = OUTLINE, part: str = ""
    ) -> None:
        """A smooth line through the points."""
        self.path(smooth(points), fill=fill, line=line, width=width, part=part)

    def tubes(self, tubes: Iterable[Tube], *, fill: str = GROUND, width: float = OUTLINE) -> None:
        """Rounded tubes melted into one outline."""
        ways = [(smooth(points), across * self.size) for points, across in tubes]
        for way, across in ways:
            self.path(way, fill="none", width=across + width)
        for way, across in ways:
            self.path(way, fill="none", line=fill, width=across - width)

    def text(self, x: float, y: float, digits: str, size: float, *, part: str = "") -> None:
        """Digits upright and centred on a point, whichever way the pen is turned; size in mm of the canvas."""
        px, py = self.place((x, y))
        shown = f'x="{number(px)}" y="{number(py + _CENTRED * size)}" font-size="{number(size)}"'
        face = f'font-family="{FONT}" font-weight="700" text-anchor="middle" fill="{LINE}" stroke="none"'
        self.canvas.shapes.append(f"<text {shown} {face}{_part(part)}>{digits}</text>")

    def dots(self, points: Iterable[Point], radius: float) -> None:
        """Solid dots, one a point; radius in mm."""
        way = " ".join(f"M {x} {y} L {x} {y}" for x, y in points)
        self.path(way, fill="none", width=2 * radius * self.size)

    def _way(self, way: str) -> str:
        out: list[str] = []
        before, x = "", None
        for token in way.split():
            if token in _COMMANDS:
                out.append(token)
                before = ""
            elif x is None:
                x = float(token)
            else:
                px, py = self.place((x, float(token)))
                out.append(f"{before}{number(px)} {number(py)}")
                before, x = " ", None
        return "".join(out)

    def _add(self, tag: str, shape: str, fill: str, line: str, width: float, cap: str = "", part: str = "") -> None:
        look = "" if fill == GROUND else f' fill="{fill}"'
        look += "" if line == LINE else f' stroke="{line}"'
        look += "" if width == OUTLINE or line == "none" else f' stroke-width="{number(width)}"'
        look += f' stroke-linecap="{cap}"' if cap else ""
        self.canvas.shapes.append(f"<{tag} {shape}{look}{_part(part)}/>")


def _part(name: str) -> str:
    return f' data-part="{name}"' if name else ""


def _box_way(x: float, y: float, w: float, h: float, r: float) -> str:
    if not r:
        return f"M {x} {y} L {x + w} {y} L {x + w} {y + h} L {x} {y + h} Z"
    return (
        f"M {x + r} {y} L {x + w - r} {y} Q {x + w} {y} {x + w} {y + r} L {x + w} {y + h - r} "
        f"Q {x + w} {y + h} {x + w - r} {y + h} L {x + r} {y + h} Q {x} {y + h} {x} {y + h - r} "
        f"L {x} {y + r} Q {x} {y} {x + r} {y} Z"
    )


def smooth(points: Sequence[Point]) -> str:
    """The way of a smooth line through the points, each bend following its neighbours; two points give a straight line."""
    if len(points) == 2:
        return f"M {points[0][0]} {points[0][1]} L {points[1][0]} {points[1][1]}"
    out = [f"M {points[0][0]} {points[0][1]}"]
    for i, (here, there) in enumerate(pairwise(points)):
        before = points[max(0, i - 1)]
        after = points[min(len(points) - 1, i + 2)]
        out.append(
            f"C {here[0] + (there[0] - before[0]) / 6} {here[1] + (there[1] - before[1]) / 6} "
            f"{there[0] - (after[0] - here[0]) / 6} {there[1] - (after[1] - here[1]) / 6} {there[0]} {there[1]}"
        )
    return " ".join(out)


def ellipse(x: float, y: float, rx: float, ry: float) -> str:
    """The way of an ellipse around a point."""
    kx, ky = rx * _ROUND_CORNER, ry * _ROUND_CORNER
    return (
        f"M {x + rx} {y} C {x + rx} {y + ky} {x + kx} {y + ry} {x} {y + ry} C {x - kx} {y + ry} {x - rx} {y + ky} {x - rx} {y} "
        f"C {x - rx} {y - ky} {x - kx} {y - ry} {x} {y - ry} C {x + kx} {y - ry} {x + rx} {y - ky} {x + rx} {y} Z"
    )


def around(x: float, y: float, radius: float, start: float, end: float, steps: int = 12) -> list[Point]:
    """Points along an arc; angles in degrees, clockwise from the right."""
    angles = [math.radians(start + (end - start) * i / steps) for i in range(steps + 1)]
    return [(x + radius * math.cos(angle), y + radius * math.sin(angle)) for angle in angles]
