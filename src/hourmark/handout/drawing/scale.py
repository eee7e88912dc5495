"""The printed scale: a whole barrel with all its lines, a window on the lines around a mark, and a ruler to check a print.

Wherever it stands, the needle end is to the left (or above), and numbers stand outside the wall, where neither the liquid nor the
stopper can hide them.
"""

import math
from dataclasses import dataclass
from fractions import Fraction

from hourmark.formulary import Barrel
from hourmark.handout.drawing.canvas import GROUND, LINE, LIQUID, OUTLINE, RUBBER, Canvas, Pen, Point, Svg
from hourmark.quantity import Volume, number_text

_WHOLE_WIDTH = 170.0
_LEFT, _RIGHT = 10.0, 20.0
"""Room in mm before the zero line and after the line of the capacity; together the 30 mm a true-size drawing may add."""
_OVER = 5.5
"""The barrel goes on for so many mm after its last line."""
_DIGIT_WIDTH, _POINT_WIDTH = 0.652, 0.243
"""Width of a zero, the widest digit, and of the point in the bold typeface, in parts of its size (read from the font file)."""
_LARGEST_DIGITS, _PART_OF_GAP = 4.2, 0.8


def syringe(barrel: Barrel, at: Volume, scale_length: Fraction | None = None) -> Svg:
    """A barrel with every printed line and number, the stopper's top ring exactly at a volume.

    Args:
        barrel: the very barrel.
        at: where the top ring stands, 0 to the capacity, in mL; else ValueError.
        scale_length: mm from the zero line to the line of the capacity; the drawing is then true to size. Else 170 mm wide.
    """
    if not 0 <= at.value <= barrel.capacity.value:
        raise ValueError(f"{at} is not on a barrel of {barrel.capacity}")
    length = float(scale_length) if scale_length else _WHOLE_WIDTH - _LEFT - _RIGHT
    bore = _true_bore(barrel, length) if scale_length else 13.0
    digits = _digit_size(barrel, length)
    canvas = Canvas(length + _LEFT + _RIGHT, _rounded_up(5.5 + bore + 3.4 + digits))
    pen = Pen(canvas).move(_LEFT, 4.8 + bore / 2 + 0.6)
    whole = _Whole(barrel, length, bore, length * float(at.value / barrel.capacity.value))
    whole.needle_end(pen)
    whole.inside(pen)
    whole.outside(pen)
    whole.print(pen, digits)
    pointer(pen.move(whole.ring, -bore / 2 - 0.7), 1.0)
    return canvas.svg()


def _true_bore(barrel: Barrel, length: float) -> float:
    return math.sqrt(4 * 1000 * float(barrel.capacity.value) / (math.pi * length))


def _digit_size(barrel: Barrel, length: float) -> float:
    gap = length * float(barrel.numbered.value / barrel.capacity.value)
    return min(_LARGEST_DIGITS, _PART_OF_GAP * gap / _widest(barrel))


def _widest(barrel: Barrel) -> float:
    """Width of the widest printed number, in parts of its size."""
    texts = [number_text(barrel.mark(volume).value) for volume in _multiples(barrel, barrel.numbered)]
    return max(_DIGIT_WIDTH * sum(map(str.isdigit, text)) + _POINT_WIDTH * text.count(".") for text in texts)


def _multiples(barrel: Barrel, step: Volume) -> list[Volume]:
    return [step * i for i in range(1, int(barrel.capacity.value / step.value) + 1)]


def _rounded_up(value: float) -> float:
    return math.ceil(value * 2) / 2


@dataclass(frozen=True, slots=True)
class _Whole:
    barrel: Barrel
    length: float
    bore: float
    ring: float

    @property
    def end(self) -> float:
        return self.length + _OVER

    def needle_end(self, pen: Pen) -> None:
        half = min(self.bore * 0.22, 1.6)
        pen.path(
            f"M -0.8 {-half} L -4.4 {-half * 0.8} L -4.4 {half * 0.8} L -0.8 {half}",
            fill=LIQUID if self.ring else GROUND,
        )
        if self.barrel.needle_fixed:
            pen.lines(((-4.8, 0), (-9, 0)), width=0.6, cap="butt")
            pen.lines(((-9.4, 1), (-8.4, -1)), width=0.4)

    def inside(self, pen: Pen) -> None:
        top, thick = -self.bore / 2, min(_OVER - 0.6, self.bore * 0.7)
        pen.rect(0, top, self.end, self.bore, line="none", part="bore")
        pen.rect(0, top, self.ring, self.bore, fill=LIQUID, line="none", part="liquid")
        rod = self.bore * 0.24
        pen.rect(self.ring + thick, -rod / 2, self.end - self.ring - thick, rod, width=0.4)
        pen.rect(self.ring, top, thick, self.bore, fill=RUBBER, line="none", part="stopper")
        band = min(0.8 * float(self.barrel.step.value / self.barrel.capacity.value) * self.length, 1.6)
        for x, part in ((self.ring, "ring"), (self.ring + thick - band, "")):
            pen.rect(x, top, band, self.bore, fill=LINE, line="none", part=part)

    def outside(self, pen: Pen) -> None:
        wall = 0.6
        half = self.bore / 2 + wall / 2
        pen.path(
            f"M {self.end} {-half} L {-wall / 2} {-half} L {-wall / 2} {half} L {self.end} {half}",
            fill="none",
            width=wall,
        )
        pen.rect(self.end, -half - 1.8, 1.4, 2 * half + 3.6, round_=0.5)
        rod, start, room = self.bore * 0.24, self.end + 1.4, _RIGHT - _OVER - 1.4 - 2.4
        rest = min(room, self.ring + 1)
        pen.path(
            f"M {start} {-rod / 2} L {start + rest} {-rod / 2} L {start + rest} {rod / 2} L {start} {rod / 2}",
            width=0.4,
        )
        pen.rect(start + rest, -half, 1.4, 2 * half, round_=0.5)
        if rest < self.ring + 1:
            for x in (start + 4.2, start + 5.8):
                pen.path(
                    f"M {x - 0.8} {rod / 2 + 0.9} L {x + 0.8} {-rod / 2 - 0.9}", fill="none", line=GROUND, width=1.6
                )
            for x in (start + 4.2, start + 5.8):
                pen.path(f"M {x - 0.8} {rod / 2 + 0.9} L {x + 0.8} {-rod / 2 - 0.9}", fill="none", width=0.4)

    def print(self, pen: Pen, digits: float) -> None:
        bottom = self.bore / 2
        gap = self.length * float(self.barrel.step.value / self.barrel.capacity.value)
        width = min(0.4, gap * 0.4)

        def way(volumes: list[Volume], tall: float) -> str:
            xs = [self.length * float(volume.value / self.barrel.capacity.value) for volume in volumes]
            return " ".join(f"M {x} {bottom} L {x} {bottom - tall}" for x in xs)

        short = [v for v in _multiples(self.barrel, self.barrel.step) if v.value % self.barrel.numbered.value]
        long = [v for v in _multiples(self.barrel, self.barrel.step) if not v.value % self.barrel.numbered.value]
        for volumes, tall, part in (
            ([Volume(Fraction(0))], 0.6, "zero"),
            (short, 0.34, "lines"),
            (long, 0.6, "numbered"),
        ):
            pen.path(way(volumes, tall * self.bore), fill="none", width=width, cap="butt", part=part)
        for volume in _multiples(self.barrel, self.barrel.numbered):
            x = self.length * float(volume.value / self.barrel.capacity.value)
            pen.text(
                x, bottom + 1.2 + digits * 0.45, number_text(self.barrel.mark(volume).value), digits, part="number"
            )


def pointer(pen: Pen, size: float) -> None:
    """A bold wedge whose tip, at the origin, says: here. About 3 mm wide and 4 mm tall at size 1."""
    pen.path(
        f"M 0 0 L {-1.7 * size} {-3.8 * size} L {1.7 * size} {-3.8 * size} Z", fill=LINE, line="none", part="pointer"
    )


@dataclass(frozen=True, slots=True)
class Window:
    """A part of a barrel's scale, drawn large. length: along the barrel, bore: across it, digits: their size, all in mm.

    across: how far the middle of a number stands from the wall. past: how many lines the ring stands past the mark.
    upright: needle end above, as a syringe under a vial is held. liquid: or else air before the stopper. empty: the print alone, no stopper, no liquid and no pointer.
    """

    length: float = 54
    bore: float = 10
    digits: float = 5
    across: float = 3.4
    past: float = 0
    upright: bool = False
    liquid: bool = True
    empty: bool = False

    def draw(self, pen: Pen, barrel: Barrel, at: Volume) -> None:
        """The window; its needle end at the origin on the middle line of the barrel."""
        first, count = self._span(barrel, at)
        unit = self.length / count
        steps = float(at.value / barrel.step.value)
        zero = max(0.0, -first * unit)
        ring = (steps + self.past - first) * unit
        self._barrel(pen, zero, ring, unit)
        self._print(pen, barrel, first, unit)
        if not self.empty:
            pointer(pen.move((steps - first) * unit, -self.bore / 2 - 0.5), 1.25)

    def _span(self, barrel: Barrel, at: Volume) -> tuple[float, float]:
        """The first step shown and how many: at least one printed number stands wholly inside."""
        last = float(barrel.capacity.value / barrel.step.value)
        every = float(barrel.numbered.value / barrel.step.value)
        here = float(at.value / barrel.step.value)
        count = 12.0 if self.upright else 13.0
        while True:
            first = min(max(here - 0.5 * count, -1.4), last + 2.6 - count)
            margin = self._room(barrel) * count / self.length
            number = max(1, math.ceil((first + margin) / every)) * every
            if number <= min(last, first + count - margin):
                return first, count
            count += 1

    def _room(self, barrel: Barrel) -> float:
        if self.upright:
            return self.digits * 0.5 + 0.4
        return self.digits * _widest(barrel) / 2 + 0.6

    def _barrel(self, pen: Pen, zero: float, ring: float, unit: float) -> None:
        top, end = -self.bore / 2, self.length
        pen.rect(zero, top, end - zero, self.bore, line="none")
        if zero:
            pen.path(
                f"M 0 -1.2 L {zero} -1.6 L {zero} 1.6 L 0 1.2",
                fill=LIQUID if self.liquid and not self.empty and ring > zero else GROUND,
            )
        if not self.empty:
            self._stopper(pen, zero, ring, unit)
        walls = f"M {end} {top} L {zero} {top} L {zero} {-top} L {end} {-top}"
        pen.path(walls if zero else f"M 0 {top} L {end} {top} M 0 {-top} L {end} {-top}", fill="none", cap="butt")

    def _stopper(self, pen: Pen, zero: float, ring: float, unit: float) -> None:
        top, end = -self.bore / 2, self.length

        def across(start: float, stop: float, fill: str, part: str = "") -> None:
            start, stop = (min(max(x, zero), end) for x in (start, stop))
            pen.rect(start, top, stop - start, self.bore, fill=fill, line="none", part=part)

        if self.liquid:
            across(zero, ring, LIQUID, "liquid")
        back, rod = ring + max(7.0, 2 * unit), min(max(ring, zero), end)
        pen.rect(rod, -self.bore * 0.13, end - rod, self.bore * 0.26, width=0.6)
        across(ring, back, RUBBER)
        band = min(1.5, unit * 0.55)
        across(back - band, back, LINE)
        across(ring, ring + band, LINE, "ring")

    def _print(self, pen: Pen, barrel: Barrel, first: float, unit: float) -> None:
        lines: dict[bool, list[tuple[Point, Point]]] = {False: [], True: []}
        wall, room = self.bore / 2, self._room(barrel)
        for volume in [Volume(Fraction(0)), *_multiples(barrel, barrel.step)]:
            x = (float(volume.value / barrel.step.value) - first) * unit
            if not 0.4 < x < self.length - 0.4:
                continue
            numbered = volume.value % barrel.numbered.value == 0
            lines[numbered].append(((x, wall), (x, wall - self.bore * (0.62 if numbered else 0.36))))
            if numbered and volume and room <= x <= self.length - room:
                pen.text(x, wall + self.across, number_text(barrel.mark(volume).value), self.digits, part="number")
        for numbered, ends in lines.items():
            if ends:
                pen.lines(*ends, width=0.7 if numbered else 0.5, cap="butt", part="numbered" if numbered else "lines")


def syringe_close(barrel: Barrel, at: Volume) -> Svg:
    """The lines around a volume, drawn large; 60 mm wide."""
    canvas = Canvas(60, 26)
    close(Pen(canvas), barrel, at)
    return canvas.svg()


def close(pen: Pen, barrel: Barrel, at: Volume, *, past: float = 0) -> None:
    """A framed window on the scale, 60 mm wide and 26 mm tall, its upper left corner at the origin."""
    pen.rect(0.8, 0.8, 58.4, 24.4, round_=2, width=OUTLINE)
    Window(length=57.6, bore=9.6, past=past).draw(pen.move(1.2, 12.2), barrel, at)


def ruler() -> Svg:
    """A ruler of 50 mm with a line a millimetre, to measure a print."""
    canvas = Canvas(60, 13)
    pen = Pen(canvas).move(5, 2)
    pen.rect(-3.5, -1, 57, 11.5, round_=0.6, width=0.4)
    tall = {i: 4.4 if i % 10 == 0 else 3.2 if i % 5 == 0 else 2.2 for i in range(51)}
    pen.lines(*(((i, 0), (i, tall[i])) for i in range(51)), width=0.25, cap="butt", part="lines")
    for i in range(0, 51, 10):
        pen.text(i, 7.2, str(i), 3.6, part="number")
    return canvas.svg()
