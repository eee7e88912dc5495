"""Every picture draws for every scene, stays inside its frame, shows only what the scene gives, and is told apart without colour.

Outside figures are read against:

- WCAG 2.2, W3C Recommendation: relative luminance, contrast ratio, and 3:1 for what a picture needs to be understood (1.4.11);
- Open RN Nursing Skills, section 18.5: the belly, but not within 2 inches (5 cm) of the navel.

Common practice, no source: 6 pt is the smallest print that a tired reader reads at a kitchen table.
"""

import cmath
import math
import os
import re
import struct
import subprocess
import sys
import tomllib
from dataclasses import replace
from fractions import Fraction
from importlib.resources import files
from itertools import combinations, cycle, pairwise, product
from typing import Literal
from xml.etree import ElementTree

import pytest

from hourmark.formulary import Barrel, barrels, gauges
from hourmark.handout.drawing import PICTURES, Svg, draw, ruler, syringe, syringe_close
from hourmark.handout.drawing.canvas import GROUND, LINE, LIQUID, OUTLINE, RUBBER, SHADE, Canvas, Pen
from hourmark.handout.scene import NeedleSeen, Scene
from hourmark.quantity import Mark, Volume, number_text

NS = "{http://www.w3.org/2000/svg}"
PRINTED = Fraction(42, 60)
"""A step's picture is printed 42 mm wide."""
POINT = Fraction(254, 720)
"""Millimetres of a typographic point."""
BARRELS = list(barrels().values())
VIEWS: tuple[Literal["own", "helper"], ...] = ("own", "helper")
NEEDLES = (NeedleSeen(18, Fraction(38)), NeedleSeen(22, Fraction(38)), NeedleSeen(30, Fraction(8)))


def parsed(svg: Svg) -> list[tuple[ElementTree.Element, dict[str, str]]]:
    """Every shape with what it inherits."""
    root = ElementTree.fromstring(svg.text)
    (group,) = root
    return [(shape, {**group.attrib, **shape.attrib}) for shape in group]


def numbers(text: str) -> list[float]:
    return [float(found) for found in re.findall(r"-?\d+(?:\.\d+)?", text)]


def font_widths() -> dict[str, float]:
    """Advance of every digit and the point in the bold typeface, in parts of its size, from the font file's own tables."""
    data = files("fontpkg_atkinson_hyperlegible").joinpath("files/AtkinsonHyperlegible-Bold.ttf").read_bytes()
    count = struct.unpack(">H", data[4:6])[0]
    tables = {
        data[12 + 16 * i : 16 + 16 * i]: struct.unpack(">I", data[20 + 16 * i : 24 + 16 * i])[0] for i in range(count)
    }
    per_em = struct.unpack(">H", data[tables[b"head"] + 18 : tables[b"head"] + 20])[0]
    wide = struct.unpack(">H", data[tables[b"hhea"] + 34 : tables[b"hhea"] + 36])[0]
    cmap = tables[b"cmap"]
    parts = [
        struct.unpack(">HHI", data[cmap + 4 + 8 * i : cmap + 12 + 8 * i])
        for i in range(struct.unpack(">H", data[cmap + 2 : cmap + 4])[0])
    ]
    start = next(cmap + offset for platform, kind, offset in parts if (platform, kind) == (3, 1))
    segments = struct.unpack(">H", data[start + 6 : start + 8])[0] // 2

    def column(i: int) -> list[int]:
        at = start + 14 + 2 * segments * i + (2 if i else 0)
        return list(struct.unpack(f">{segments}H", data[at : at + 2 * segments]))

    ends, starts, deltas = column(0), column(1), column(2)
    widths = {}
    for char in "0123456789.":
        segment = next(i for i, end in enumerate(ends) if end >= ord(char))
        assert starts[segment] <= ord(char)
        place = start + 16 + 2 * segments * 3 + 2 * segment
        (offset,) = struct.unpack(">H", data[place : place + 2])
        glyph = (ord(char) + deltas[segment]) % 65536
        if offset:
            where = place + offset + 2 * (ord(char) - starts[segment])
            glyph = struct.unpack(">H", data[where : where + 2])[0]
        at = tables[b"hmtx"] + 4 * min(glyph, wide - 1)
        widths[char] = struct.unpack(">H", data[at : at + 2])[0] / per_em
    return widths


WIDTHS = font_widths()


def box(shape: ElementTree.Element, look: dict[str, str]) -> tuple[float, float, float, float]:
    """Left, top, right and bottom in mm, the line's width included; of a curve its handles, which hold it."""
    if shape.tag == f"{NS}text":
        x, y, size = (float(look[name]) for name in ("x", "y", "font-size"))
        half = sum(WIDTHS[char] for char in shape.text or "") * size / 2
        return x - half, y - 0.68 * size, x + half, y + 0.02 * size
    line = 0.0 if look["stroke"] == "none" else float(look["stroke-width"]) / 2
    if shape.tag == f"{NS}circle":
        x, y, radius = (float(look[name]) for name in ("cx", "cy", "r"))
        return x - radius - line, y - radius - line, x + radius + line, y + radius + line
    assert shape.tag == f"{NS}path"
    xs, ys = zip(*along(look["d"]), strict=True)
    return min(xs) - line, min(ys) - line, max(xs) + line, max(ys) + line


def along(way: str) -> list[tuple[float, float]]:
    """Points of a path, close enough together on its curves to find where it reaches farthest."""
    found: list[tuple[float, float]] = []
    for kind, rest in re.findall(r"([MLQC])([^MLQCZ]*)", way):
        values = numbers(rest)
        points = list(zip(values[::2], values[1::2], strict=True))
        if kind in "ML":
            found += points
            continue
        assert len(points) == {"Q": 2, "C": 3}[kind]
        ends = [found[-1], *points]
        for i in range(1, 13):
            level = ends
            while len(level) > 1:
                level = [(a[0] + (b[0] - a[0]) * i / 12, a[1] + (b[1] - a[1]) * i / 12) for a, b in pairwise(level)]
            found += level
    return found


def scenes(name: str) -> list[Scene]:
    """The picture bare, and with every barrel, from empty to full, both hands, both views, every angle."""
    found = [
        Scene(name),
        Scene(name, left_handed=True),
        Scene(name, view="helper"),
        Scene(name, needles=NEEDLES, angle=45),
    ]
    held = [*zip(BARRELS, cycle((0, 1, 2)), strict=False), *product(BARRELS[::8], (0, 1, 2))]
    for i, (barrel, share) in enumerate(held):
        at = barrel.step * (lines_of(barrel) * share // 2)
        angle = (None, 45, 90)[share]
        clock = (share * 11 + 1, 7 + share * 20)
        left, view = i % 2 == 0, VIEWS[i // 2 % 2]
        needle = None if i % 5 == 0 else NEEDLES[i % 3]
        found.append(Scene(name, barrel, at, needle, NEEDLES[: share + 1], clock, angle, view, left))
    return found


def lines_of(barrel: Barrel) -> int:
    lines = barrel.capacity.value / barrel.step.value
    assert lines.denominator == 1
    return int(lines)


def measured(barrel: Barrel) -> Fraction:
    """A scale length in mm such as is measured on a barrel at home."""
    return Fraction(434, 10) if barrel.capacity.value < Fraction(1, 2) else Fraction(5725, 100)


def marks(barrel: Barrel) -> list[Volume]:
    """Zero, the full barrel, every printed number and its neighbour lines, and a volume between two lines."""
    every = [barrel.numbered * i for i in range(1, int(barrel.capacity.value / barrel.numbered.value) + 1)]
    return [Volume(Fraction(0)), *every, *(one - barrel.step for one in every), barrel.step * Fraction(3, 2)]


def parts(svg: Svg, name: str) -> list[dict[str, str]]:
    return [look for _, look in parsed(svg) if look.get("data-part") == name]


def printed(svg: Svg) -> list[tuple[float, float, str]]:
    """Every number printed in a drawing: where its middle is, in mm, and its digits."""
    return [
        (float(look["x"]), float(look["y"]), shape.text or "")
        for shape, look in parsed(svg)
        if shape.tag == f"{NS}text"
    ]


def line_places(svg: Svg, *names: str) -> list[float]:
    """Where along the barrel its printed lines stand, in mm."""
    return [x for name in names for look in parts(svg, name) for x, _ in along(look["d"])[::2]]


def left_edge(look: dict[str, str]) -> float:
    return min(x for x, _ in along(look["d"]))


def luminance(colour: str) -> float:
    """Relative luminance of #rrggbb by the formula of WCAG 2.2."""
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio by the formula of WCAG 2.2."""
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def grey(colour: str) -> str:
    """What a printer without colour makes of #rrggbb: as bright (rounded to the nearest of 256 greys), without hue."""
    nearest = min(
        range(256), key=lambda value: abs(luminance(f"#{value:02x}{value:02x}{value:02x}") - luminance(colour))
    )
    return f"#{nearest:02x}{nearest:02x}{nearest:02x}"


def test_the_ruler_for_contrast_is_that_of_the_standard() -> None:
    # WCAG 2.2, definition of contrast ratio: from 1 to 21, black on white 21:1; #767676 on white is the usual limit case of 4.5:1
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert 4.5 <= contrast("#767676", "#ffffff") < 4.6


def test_the_names_of_the_steps_are_all_drawn() -> None:
    steps = tomllib.loads(files("hourmark.dose").joinpath("data/steps-en.toml").read_text(encoding="utf-8"))
    named = {step["picture"] for step in steps.values() if isinstance(step, dict) and "picture" in step}
    assert named
    assert named <= PICTURES


@pytest.mark.parametrize("name", ["", "Clock", "no-such-picture"])
def test_another_name_is_refused(name: str) -> None:
    with pytest.raises(KeyError):
        draw(Scene(name))


@pytest.mark.parametrize("name", sorted(PICTURES))
def test_every_scene_is_drawn_small_plain_and_inside_its_frame(name: str) -> None:
    for scene in scenes(name):
        svg = draw(scene)
        assert (svg.width, svg.height) == (60, 42)
        assert len(svg.text.encode()) <= 12_000
        plain(svg)
        inside(svg)


def test_drawings_do_not_depend_on_the_order_of_a_run() -> None:
    code = (
        "from hourmark.handout.drawing import *; from hourmark.handout.scene import Scene; from hourmark.formulary import barrels\n"
        "for name in sorted(PICTURES):\n"
        "    for one in barrels().values(): print(draw(Scene(name, one, one.numbered, clock=(3, 4), angle=45)).text)"
    )
    runs = [
        subprocess.run(
            [sys.executable, "-c", code], env={**os.environ, "PYTHONHASHSEED": seed}, capture_output=True, check=True
        )
        for seed in ("1", "2")
    ]
    assert runs[0].stdout == runs[1].stdout
    assert runs[0].stdout.count(b"<svg") == len(PICTURES) * len(BARRELS)


def test_pictures_are_small_as_a_rule() -> None:
    sizes = sorted(len(draw(scene).text) for name in PICTURES for scene in scenes(name)[::6])
    assert sizes[len(sizes) * 9 // 10] < 4_500


def plain(svg: Svg) -> None:
    """No script, style, reference, transform or id; only digits and the point are text."""
    root = ElementTree.fromstring(svg.text)
    assert root.attrib["viewBox"] == f"0 0 {svg.width:g} {svg.height:g}"
    assert (root.attrib["width"], root.attrib["height"]) == (f"{svg.width:g}mm", f"{svg.height:g}mm")
    for shape in root.iter():
        assert shape.tag in {f"{NS}{tag}" for tag in ("svg", "g", "path", "circle", "text")}
        assert not {"id", "class", "style", "transform", "href", "filter", "clip-path"} & set(shape.attrib)
        for value in shape.attrib.values():
            assert "url(" not in value
            assert not re.search(r"\d\.\d{3}|nan|inf|e-", value)
    for shape, look in parsed(svg):
        if shape.tag == f"{NS}text":
            assert re.fullmatch(r"\d+(\.\d+)?", shape.text or "")
            assert look["font-family"] == "Atkinson Hyperlegible, sans-serif"
        else:
            assert not shape.text


def inside(svg: Svg) -> None:
    for shape, look in parsed(svg):
        left, top, right, bottom = box(shape, look)
        shown = ElementTree.tostring(shape).decode()
        assert left >= -0.005, shown
        assert top >= -0.005, shown
        assert right <= svg.width + 0.005, shown
        assert bottom <= svg.height + 0.005, shown


def test_a_shape_outside_the_frame_is_noticed() -> None:
    canvas = Canvas(60, 42)
    Pen(canvas).move(58, 10).turn(90).flip().tubes([(((0, 0), (3, 3), (9, 0)), 4)])
    with pytest.raises(AssertionError):
        inside(canvas.svg())


@pytest.mark.parametrize("barrel", BARRELS, ids=lambda barrel: barrel.id)
@pytest.mark.parametrize("true_size", [False, True])
def test_a_whole_barrel_has_every_line_and_every_number(barrel: Barrel, true_size: bool) -> None:
    length = measured(barrel) if true_size else None
    for at in marks(barrel):
        svg = syringe(barrel, at, length)
        plain(svg)
        inside(svg)
        assert len(svg.text) <= 12_000
        assert svg.width == (pytest.approx(float(length) + 30) if length else 170)
        lines = sorted(line_places(svg, "zero", "lines", "numbered"))
        assert len(lines) == lines_of(barrel) + 1
        (zero,) = line_places(svg, "zero")
        scale = lines[-1] - zero
        if length:
            assert scale == pytest.approx(float(length), abs=0.0101)
        for i, x in enumerate(lines):
            assert x - zero == pytest.approx(scale * i / lines_of(barrel), abs=0.011)
        numbered = line_places(svg, "numbered")
        expected = [barrel.numbered * i for i in range(1, int(barrel.capacity.value / barrel.numbered.value) + 1)]
        assert [digits for _, _, digits in printed(svg)] == [number_text(barrel.mark(one).value) for one in expected]
        assert [x for x, _, _ in printed(svg)] == pytest.approx(numbered)
        for one, x in zip(expected, numbered, strict=True):
            assert x - zero == pytest.approx(scale * float(one.value / barrel.capacity.value), abs=0.011)


@pytest.mark.parametrize("barrel", BARRELS, ids=lambda barrel: barrel.id)
def test_numbered_lines_are_the_longer_ones(barrel: Barrel) -> None:
    svg = syringe(barrel, barrel.numbered, measured(barrel))
    (short,), (long,) = parts(svg, "lines"), parts(svg, "numbered")
    tall = [
        {round(abs(b[1] - a[1]), 1) for a, b in zip(way[::2], way[1::2], strict=True)}
        for way in (along(short["d"]), along(long["d"]))
    ]
    assert min(tall[1]) > 1.5 * max(tall[0])


@pytest.mark.parametrize("barrel", BARRELS, ids=lambda barrel: barrel.id)
@pytest.mark.parametrize("true_size", [False, True])
def test_the_top_ring_the_liquid_and_the_pointer_end_at_the_volume(barrel: Barrel, true_size: bool) -> None:
    length = float(measured(barrel)) if true_size else 140.0
    for at in marks(barrel):
        svg = syringe(barrel, at, measured(barrel) if true_size else None)
        (zero,) = line_places(svg, "zero")
        expected = zero + length * float(at.value / barrel.capacity.value)
        (ring,), (liquid,), (wedge,) = (parts(svg, name) for name in ("ring", "liquid", "pointer"))
        assert left_edge(ring) == pytest.approx(expected, abs=0.011)
        assert max(x for x, _ in along(liquid["d"])) == pytest.approx(expected, abs=0.011)
        assert max(along(wedge["d"]), key=lambda point: point[1])[0] == pytest.approx(expected, abs=0.011)


@pytest.mark.parametrize("barrel", BARRELS, ids=lambda barrel: barrel.id)
def test_the_bore_holds_the_capacity(barrel: Barrel) -> None:
    length = float(measured(barrel))
    (bore,) = parts(syringe(barrel, barrel.step, measured(barrel)), "bore")
    heights = [y for _, y in along(bore["d"])]
    inner = max(heights) - min(heights)
    # the volume of a cylinder: pi / 4 x d^2 x length, in cubic mm; rounding to 0.01 mm moves the width by at most as much
    held = [math.pi / 4 * (inner + off) ** 2 * length / 1000 for off in (-0.011, 0.011)]
    assert held[0] <= float(barrel.capacity.value) <= held[1]


@pytest.mark.parametrize("barrel", BARRELS, ids=lambda barrel: barrel.id)
def test_no_two_printed_numbers_touch(barrel: Barrel) -> None:
    drawings = [syringe(barrel, barrel.step), syringe(barrel, barrel.step, measured(barrel))]
    drawings += [syringe_close(barrel, at) for at in marks(barrel)]
    drawings += [draw(Scene("draw-past-mark", barrel, at)) for at in marks(barrel)]
    for svg in drawings:
        boxes = [box(shape, look) for shape, look in parsed(svg) if shape.tag == f"{NS}text"]
        for one, other in combinations(boxes, 2):
            apart_x = max(one[0], other[0]) - min(one[2], other[2])
            apart_y = max(one[1], other[1]) - min(one[3], other[3])
            assert max(apart_x, apart_y) > 0.4


def test_a_volume_off_the_barrel_is_refused() -> None:
    barrel = BARRELS[0]
    for at in (barrel.capacity + barrel.step, Volume(Fraction(-1, 100))):
        with pytest.raises(ValueError, match="is not on a barrel"):
            syringe(barrel, at)


@pytest.mark.parametrize("barrel", BARRELS, ids=lambda barrel: barrel.id)
@pytest.mark.parametrize("picture", [None, "read-mark", "read-water", "push-to-mark"])
def test_the_close_view_shows_true_lines_and_the_ring_at_the_mark(barrel: Barrel, picture: str | None) -> None:
    for at in marks(barrel):
        svg = draw(Scene(picture, barrel, at)) if picture else syringe_close(barrel, at)
        spacing = close_spacing(svg, barrel, 0)
        ring = left_edge(parts(svg, "ring")[-1])
        (wedge,) = parts(svg, "pointer")
        tip = max(along(wedge["d"]), key=lambda point: point[1])[0]
        assert tip == pytest.approx(ring, abs=0.011)
        anchor_x, anchor = anchored(svg, barrel, 0)
        assert tip == pytest.approx(anchor_x + float((at.value - anchor.value) / barrel.step.value) * spacing, abs=0.1)


@pytest.mark.parametrize("barrel", BARRELS, ids=lambda barrel: barrel.id)
@pytest.mark.parametrize(("picture", "past"), [("pull-air", 0), ("pull-water", 0), ("draw-past-mark", 0.7)])
@pytest.mark.parametrize("left_handed", [False, True])
def test_the_upright_close_view_shows_the_ring_at_the_mark_or_a_little_past(
    barrel: Barrel, picture: str, past: float, left_handed: bool
) -> None:
    for at in marks(barrel):
        svg = draw(Scene(picture, barrel, at, left_handed=left_handed))
        spacing = close_spacing(svg, barrel, 1)
        ring = min(y for _, y in along(parts(svg, "ring")[-1]["d"]))
        (wedge,) = parts(svg, "pointer")
        heights = sorted({y for _, y in along(wedge["d"])})
        assert len(heights) == 3
        anchor_y, anchor = anchored(svg, barrel, 1)
        assert heights[1] == pytest.approx(
            anchor_y + float((at.value - anchor.value) / barrel.step.value) * spacing, abs=0.1
        )
        assert ring - heights[1] == pytest.approx(past * spacing, abs=0.02)


def close_spacing(svg: Svg, barrel: Barrel, axis: int) -> float:
    """Mm from one line to the next in a close view: lines stand evenly, 5 to 15 of them, the numbered ones among them."""
    ends = [point for name in ("lines", "numbered") for look in parts(svg, name) for point in along(look["d"])[::2]]
    places = sorted(point[axis] for point in ends)
    assert 5 <= len(places) <= 15
    steps = [b - a for a, b in pairwise(places)]
    assert steps == pytest.approx([steps[0]] * len(steps), abs=0.021)
    return (places[-1] - places[0]) / (len(places) - 1)


def anchored(svg: Svg, barrel: Barrel, axis: int) -> tuple[float, Volume]:
    """A numbered line of a close view and its volume, found by the number printed beside it."""
    lines = [point[axis] for look in parts(svg, "numbered") for point in along(look["d"])[::2]]
    found = []
    for x, y, digits in printed(svg):
        size = next(float(look["font-size"]) for shape, look in parsed(svg) if shape.text == digits)
        middle = (x, y - 0.335 * size)[axis]
        near = min(lines, key=lambda place: abs(place - middle))
        assert near == pytest.approx(middle, abs=0.02)
        volume = barrel.volume_at(Mark(Fraction(digits)))
        assert volume.value % barrel.numbered.value == 0
        assert 0 < volume.value <= barrel.capacity.value
        found.append((near, volume))
    assert found
    return found[0]


def test_only_what_the_scene_gives_is_printed() -> None:
    allowed = {"clock"}
    for name in PICTURES - allowed:
        assert printed(draw(Scene(name))) == []
        assert not {look.get("data-part") for _, look in parsed(draw(Scene(name)))} & {
            "lines",
            "numbered",
            "zero",
            "pointer",
        }
    assert parts(draw(Scene("clock")), "hour") == []
    assert parts(draw(Scene("write-time", clock=(22, 30))), "hour") == []


def test_numbers_are_read_at_print_width() -> None:
    smallest = 6 * POINT  # common practice, no source: 6 pt
    for barrel, name in product(BARRELS[::4], PICTURES):
        svg = draw(Scene(name, barrel, barrel.step * (lines_of(barrel) // 2), clock=(9, 5)))
        for shape, look in parsed(svg):
            if shape.tag == f"{NS}text":
                assert Fraction(look["font-size"]) * PRINTED >= smallest
    for barrel in BARRELS:
        for svg in (syringe(barrel, barrel.step), syringe(barrel, barrel.step, measured(barrel))):
            sizes = [Fraction(look["font-size"]) for shape, look in parsed(svg) if shape.tag == f"{NS}text"]
            assert min(sizes) >= smallest


@pytest.mark.parametrize("name", ["clock", "read-mark", "read-water", "push-to-mark", "box-syringe"])
def test_a_clock_and_a_scale_are_the_same_for_either_hand(name: str) -> None:
    scene = Scene(name, BARRELS[-1], BARRELS[-1].numbered, clock=(4, 20))
    assert draw(scene) == draw(replace(scene, left_handed=True))


@pytest.mark.parametrize("name", ["push-plunger", "pinch-skin", "cap-off", "spray-nose", "needle-on", "pull-water"])
def test_other_pictures_are_mirrored_for_the_left_hand(name: str) -> None:
    scene = Scene(name, BARRELS[-1], BARRELS[-1].numbered, clock=(4, 20))
    right, left = draw(scene), draw(replace(scene, left_handed=True))
    for (one, look), (other, turned) in zip(parsed(right), parsed(left), strict=True):
        assert one.text == other.text
        a, b = box(one, look), box(other, turned)
        assert (a[0], a[1], a[2], a[3]) == pytest.approx((60 - b[2], b[1], 60 - b[0], b[3]), abs=0.03)


def test_the_hands_of_the_clock_stand_as_the_time_says() -> None:
    for hour, minute in product(range(24), range(0, 60, 7)):
        svg = draw(Scene("clock", clock=(hour, minute)))
        (short,), (long,) = parts(svg, "hour"), parts(svg, "minute")
        centre, short_end = along(short["d"])
        assert along(long["d"])[0] == centre
        long_end = along(long["d"])[1]
        # both hands as turns since midnight: 2 turns of the hour hand and 24 of the minute hand in 1440 minutes
        gone = 60 * hour + minute
        for end, turns in ((short_end, gone / 720), (long_end, gone / 60)):
            direction = cmath.phase(complex(centre[1] - end[1], end[0] - centre[0])) / (2 * math.pi)
            assert (direction - turns + 0.5) % 1 - 0.5 == pytest.approx(0, abs=0.0005)
        assert math.dist(centre, short_end) < 0.75 * math.dist(centre, long_end)
        assert float(short["stroke-width"]) > float(long["stroke-width"])


def test_the_digits_of_the_clock_stand_where_they_belong() -> None:
    svg = draw(Scene("clock", clock=(1, 2)))
    places = {digits: (x, y) for x, y, digits in printed(svg)}
    assert set(places) == {"12", "3", "6", "9"}
    assert places["12"][0] == places["6"][0] == 30
    assert places["9"][0] < 30 < places["3"][0]
    assert places["12"][1] < places["3"][1] == places["9"][1] < places["6"][1]


def test_lines_are_seen_on_every_ground_and_liquid_has_an_edge() -> None:
    for ground in (GROUND, SHADE, LIQUID, RUBBER):
        # WCAG 2.2, success criterion 1.4.11: 3:1 for what is needed to understand a picture
        assert contrast(LINE, ground) >= 3
        assert contrast(grey(LINE), grey(ground)) >= 3
    # common practice, no source: two greys side by side on a laser print are told apart from about 1.4:1
    for one, other in combinations((GROUND, LIQUID, RUBBER), 2):
        assert contrast(grey(one), grey(other)) >= 1.4
    assert contrast(grey(SHADE), grey(LIQUID)) >= 1.3


def test_lines_are_wide_enough_in_print() -> None:
    # common practice, no source: 0.4 mm on paper for an outline, 0.2 mm for a detail, in a picture printed 40 mm wide
    assert OUTLINE * 40 / 60 >= 0.4
    for name in PICTURES:
        shapes = [look for _, look in parsed(draw(Scene(name, BARRELS[0], BARRELS[0].step, needle=NEEDLES[2])))]
        assert min(float(look["stroke-width"]) for look in shapes if look["stroke"] == LINE) * 40 / 60 >= 0.2, name


def test_every_fill_is_a_known_one() -> None:
    """One tint alone means liquid; only hubs have colours of their own."""
    greys = {"none", GROUND, LINE, RUBBER, SHADE, LIQUID, "#555555"}
    for name, barrel in product(PICTURES, BARRELS[-2:]):
        for _, look in parsed(draw(Scene(name, barrel, barrel.numbered))):
            assert {look["fill"], look["stroke"]} <= greys


def test_a_longer_needle_is_drawn_longer_and_a_thicker_one_thicker() -> None:
    needles = tuple(NeedleSeen(gauge, Fraction(long)) for gauge, long in ((18, 38), (21, 25), (27, 13)))
    tubes = [
        look for _, look in parsed(draw(Scene("box-needles", needles=needles))) if look.get("stroke-linecap") == "butt"
    ]
    lengths = [box_width(look) for look in tubes]
    widths = [float(look["stroke-width"]) for look in tubes]
    assert len(lengths) == 3
    for (needle, long), (other, short) in combinations(zip(needles, lengths, strict=True), 2):
        assert long / short == pytest.approx(float(needle.length / other.length), rel=0.05)
    assert widths == sorted(widths, reverse=True)
    assert len(set(widths)) == 3


def box_width(look: dict[str, str]) -> float:
    xs = [x for x, _ in along(look["d"])]
    return max(xs) - min(xs)


def test_pictures_differ_where_the_scene_does() -> None:
    assert draw(Scene("angle-subcutaneous", angle=45)) != draw(Scene("angle-subcutaneous", angle=90))
    assert draw(Scene("site-belly-thigh", view="own")) != draw(Scene("site-belly-thigh", view="helper"))
    shown = [draw(Scene("needle-b-on", needle=NeedleSeen(gauge, Fraction(13)))).text for gauge in gauges()]
    assert len(set(shown)) > 8
    same = {frozenset({"needle-a-on", "needle-on"}), frozenset({"needle-into-vial", "needle-into-water"}),
            frozenset({"push-air-into-vial", "push-air-into-water"}), frozenset({"read-mark", "read-water"})}  # fmt: skip
    barrel = BARRELS[-1]
    drawn = {name: draw(Scene(name, barrel, barrel.numbered)) for name in PICTURES}
    for one, other in combinations(sorted(PICTURES), 2):
        alike = drawn[one] == drawn[other]
        assert alike == (frozenset({one, other}) in same), (one, other)


def test_an_emptied_vial_looks_emptier_than_a_full_one() -> None:
    def filled(name: str) -> float:
        (liquid,) = parts(draw(Scene(name)), "in-vial")
        heights = [y for _, y in along(liquid["d"])]
        return max(heights) - min(heights)

    assert filled("draw-all") < filled("pull-water") / 4
    assert filled("vial-rest") < filled("needle-into-vial")


@pytest.mark.parametrize("angle", [30, 45, 60])
def test_the_needle_stands_at_the_angle_given(angle: int) -> None:
    svg = draw(Scene("angle-subcutaneous", needle=NeedleSeen(27, Fraction(13)), angle=angle))
    (ring,) = parts(svg, "ring")
    (ax, ay), (bx, by) = along(ring["d"])
    # the ring stands across the syringe: its own slope is the angle's complement
    assert math.degrees(math.atan2(abs(bx - ax), abs(by - ay))) == pytest.approx(angle, abs=0.5)


def test_no_angle_is_drawn_where_none_is_given() -> None:
    given, none = (parsed(draw(Scene("angle-subcutaneous", angle=angle))) for angle in (90, None))
    assert len(given) == len(none) + 2


@pytest.mark.parametrize("view", ["own", "helper"])
def test_no_place_to_inject_is_near_the_navel(view: Literal["own", "helper"]) -> None:
    svg = draw(Scene("site-belly-thigh", view=view))
    fields = [along(look["d"]) for look in parts(svg, "field")]
    assert len(fields) == 4
    (navel,) = parts(svg, "navel")
    middle = [sum(point[axis] for point in along(navel["d"])) / len(along(navel["d"])) for axis in (0, 1)]
    (belly,) = parts(svg, "belly")
    across = box_width(belly)
    nearest = min(math.dist(middle, point) for field in fields for point in field)
    # Open RN Nursing Skills, section 18.5: at least 2 inches (5 cm) from the navel;
    # common practice, no source: a belly is some 34 cm wide as seen from the front
    assert nearest / across * 34 > 5


def test_the_ruler_measures() -> None:
    svg = ruler()
    plain(svg)
    inside(svg)
    lines = sorted(line_places(svg, "lines"))
    assert len(lines) == 51
    for i, x in enumerate(lines):
        assert x - lines[0] == pytest.approx(i, abs=0.001)
    numbers_seen = {digits: x for x, _, digits in printed(svg)}
    assert numbers_seen == {str(i): pytest.approx(lines[i]) for i in range(0, 51, 10)}
