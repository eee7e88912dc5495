"""Pictures in motion, played by a reader of SMIL of its own: they show what the same drawing shows at each phase, and end as the still.

Outside figures are read against WCAG 2.2, W3C Recommendation: what moves by itself for more than five seconds needs a way to stop it (2.2.2),
and nothing flashes more than three times in a second (2.3.1). How animated values are read: SVG Animations Level 2, W3C (from memory):
values at key times, straight on between them, and the attribute's own value as soon as the animation is over.
"""

import re
import tomllib
from dataclasses import dataclass, replace
from fractions import Fraction
from importlib.resources import files
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import pytest
from PIL import Image, ImageChops
from playwright.sync_api import sync_playwright

from hourmark.formulary import Barrel, barrels
from hourmark.handout.drawing import MOVES, PICTURES, RESTS, Svg, at_phase, draw
from hourmark.handout.drawing.motion import moving, rests
from hourmark.handout.scene import NeedleSeen, Scene
from tests.browser.conftest import CHROMIUM, FLAGS
from tests.handout.test_drawing import BARRELS, NS, along, box_width, left_edge, marks, numbers, parsed, parts, scenes

MOVING = sorted(MOVES)
RETURNING = sorted(name for name, move in MOVES.items() if move.returns)
SYRINGE = barrels()["u100-1mL-1"]


def films(name: str) -> list[tuple[Scene, Svg]]:
    """Every scene of a picture in which something moves, with its film."""
    return [(scene, film) for scene in scenes(name) if (film := moving(scene)) is not None]


def full(name: str) -> Scene:
    """A scene in which everything that a picture can show is there."""
    needle = NeedleSeen(27, Fraction(13))
    return Scene(name, SYRINGE, SYRINGE.numbered * 8, needle, (needle,), (21, 30), 90)


def film(name: str) -> Svg:
    found = moving(full(name))
    assert found is not None
    return found


@dataclass(frozen=True)
class Played:
    """One animated attribute: when it has which value, in parts of its seconds."""

    name: str
    seconds: float
    times: list[float]
    values: list[str]
    discrete: bool

    def at(self, second: float) -> str | None:
        """The value at a second; None when it is over, and before the value of a later key the straight way to it."""
        share = second / self.seconds
        if share >= 1:
            return None
        place = max(i for i, time in enumerate(self.times) if time <= share)
        if self.discrete or place + 1 == len(self.times):
            return self.values[place]
        start, end = self.times[place], self.times[place + 1]
        part = (share - start) / (end - start)
        ends = [numbers(value) for value in self.values[place : place + 2]]
        mixed = iter([a + (b - a) * part for a, b in zip(*ends, strict=True)])
        return re.sub(r"-?\d+(?:\.\d+)?", lambda _: f"{next(mixed):.6f}", self.values[place])


def animations(shape: ElementTree.Element) -> list[Played]:
    found = []
    for one in shape.findall(f"{NS}animate"):
        look = one.attrib
        assert set(look) - {"calcMode"} == {"attributeName", "dur", "keyTimes", "values"}
        found.append(
            Played(
                look["attributeName"],
                float(look["dur"].removesuffix("s")),
                list(map(float, look["keyTimes"].split(";"))),
                look["values"].split(";"),
                look.get("calcMode") == "discrete",
            )
        )
    return found


def shapes(svg: Svg) -> list[ElementTree.Element]:
    (group,) = ElementTree.fromstring(svg.text)
    return [shape for shape in group if shape.tag != f"{NS}animate"]


def everything_animated(svg: Svg) -> list[Played]:
    return [played for shape in ElementTree.fromstring(svg.text).iter() for played in animations(shape)]


def length(svg: Svg) -> float:
    (seconds,) = {played.seconds for played in everything_animated(svg)}
    return seconds


def seen(svg: Svg, second: float) -> list[tuple[str, list[float]]]:
    """What is seen at a second, in the order in which it is drawn: each shape's kind, and its numbers."""
    found = []
    for shape in shapes(svg):
        look = dict(shape.attrib)
        for played in animations(shape):
            value = played.at(second)
            if value is not None:
                look[played.name] = value
        if look.pop("visibility", "visible") == "visible":
            found.append(described(shape.tag, look, shape.text))
    return found


def described(tag: str, look: dict[str, str], words: str | None) -> tuple[str, list[float]]:
    text = f"{tag} {words} " + " ".join(f"{name}={look[name]}" for name in sorted(look) if name != "visibility")
    return re.sub(r"-?\d+(?:\.\d+)?", "", text), numbers(text.partition(" ")[2])


def drawn(scene: Scene, phase: float) -> list[tuple[str, list[float]]]:
    (group,) = ElementTree.fromstring(at_phase(scene, phase).svg().text)
    return [described(shape.tag, dict(shape.attrib), shape.text) for shape in group]


def same(one: list[tuple[str, list[float]]], other: list[tuple[str, list[float]]], within: float = 0.06) -> bool:
    return [kind for kind, _ in one] == [kind for kind, _ in other] and all(
        a == pytest.approx(b, abs=within) for (_, a), (_, b) in zip(one, other, strict=True)
    )


def test_every_picture_moves_or_says_why_it_stands_still() -> None:
    assert set(MOVES) | set(RESTS) == PICTURES
    assert not set(MOVES) & set(RESTS)
    assert all(reason.endswith(".") for reason in RESTS.values())
    steps = tomllib.loads(files("hourmark.dose").joinpath("data/steps-en.toml").read_text(encoding="utf-8"))
    named = {step["picture"] for step in steps.values() if isinstance(step, dict) and "picture" in step}
    assert {name for name in named if name in RESTS and "No step" in RESTS[name]} == set()
    assert not [name for name in named & set(MOVES) if moving(full(name)) is None]
    for name in RESTS:
        assert moving(full(name)) is None
        assert rests(full(name)) == RESTS[name]


def test_a_syringe_in_which_nothing_moves_says_so() -> None:
    empty = Scene("pull-air", SYRINGE)
    assert moving(empty) is None
    assert rests(empty) == "Nothing in it moves for this syringe."
    assert moving(Scene("clock")) is None


@pytest.mark.parametrize("name", MOVING)
def test_it_ends_as_the_still_to_the_letter(name: str) -> None:
    for scene, moved in films(name):
        bare = re.sub(r"<animate [^>]*/>", "", moved.text)
        bare = re.sub(r'<(\w+) [^>]* visibility="hidden"(?:/>|>.*?</\1>)', "", bare)
        bare = re.sub(r"<(path|circle)([^>]*)></\1>", r"<\1\2/>", bare)
        assert bare == draw(scene).text
        last = seen(moved, length(moved) * 0.99999)
        assert same(last, seen(moved, length(moved) + 1)), scene


@pytest.mark.parametrize("name", MOVING)
def test_at_each_phase_it_shows_what_the_same_drawing_shows(name: str) -> None:
    move = MOVES[name]
    for scene, moved in films(name)[::4]:
        seconds = length(moved)
        assert same(seen(moved, 0), drawn(scene, move.phases[0]))
        for phase in move.phases[1:-1]:
            # a shape that comes or goes does so at the phase itself; keyTimes are written to a thousandth
            assert same(seen(moved, 0.5 + move.seconds * phase + seconds / 1000), drawn(scene, phase), 0.5), phase
        if name in RETURNING:
            assert same(seen(moved, 0.5 + move.seconds + 0.2), drawn(scene, 1))
            assert drawn(scene, 0) == drawn_still(scene)
        else:
            assert drawn(scene, 1) == drawn_still(scene)


def drawn_still(scene: Scene) -> list[tuple[str, list[float]]]:
    (group,) = ElementTree.fromstring(draw(scene).text)
    return [described(shape.tag, dict(shape.attrib), shape.text) for shape in group]


@pytest.mark.parametrize("name", MOVING)
def test_it_is_short_runs_one_time_and_never_flashes(name: str) -> None:
    for _, moved in films(name):
        assert 2 <= length(moved) <= 5
        for played in everything_animated(moved):
            assert (played.times[0], played.times[-1]) == (0, 1)
            assert played.times == sorted(played.times)
            assert len(played.times) == len(played.values)
            assert len(set(played.values)) > 1
            if played.name in ("visibility", "opacity"):
                turns = [
                    time * played.seconds
                    for time, (one, other) in zip(played.times[1:], pairwise(played.values), strict=True)
                    if one != other
                ]
                assert all(len([turn for turn in turns if start <= turn < start + 1]) <= 3 for start in turns)


@pytest.mark.parametrize("name", MOVING)
def test_it_is_small_well_formed_and_holds_nothing_a_strict_page_forbids(name: str) -> None:
    for _, moved in films(name):
        assert len(moved.text.encode()) < 60_000
        root = ElementTree.fromstring(moved.text)
        assert (moved.width, moved.height, root.attrib["viewBox"]) == (60, 42, "0 0 60 42")
        for shape in root.iter():
            assert shape.tag in {f"{NS}{tag}" for tag in ("svg", "g", "path", "circle", "text", "animate")}
            assert not {"id", "class", "style", "href", "begin", "repeatCount", "transform"} & set(shape.attrib)
            assert not [key for key in shape.attrib if key.startswith("on")]
            for value in shape.attrib.values():
                assert "url(" not in value
                assert not re.search(r"\d\.\d{4}|nan|inf|e-", value)


def test_pictures_in_motion_are_small_as_a_rule() -> None:
    sizes = sorted(len(moved.text) for name in MOVING for _, moved in films(name)[::5])
    assert sizes[len(sizes) * 9 // 10] < 14_000


@pytest.mark.parametrize("name", MOVING)
def test_only_what_moves_is_written_as_moving(name: str) -> None:
    """The background stands in the file one time: a shape that is the same at every phase has no animation."""
    for scene, moved in films(name)[::6]:
        common = set(map(str, drawn(scene, MOVES[name].phases[0])))
        for phase in MOVES[name].phases[1:]:
            common &= set(map(str, drawn(scene, phase)))
        still = [shape for shape in shapes(moved) if not animations(shape)]
        assert len({str(described(shape.tag, dict(shape.attrib), shape.text)) for shape in still}) >= len(common) * 0.9
        assert still


@pytest.mark.parametrize("name", ["pull-air", "pull-water", "draw-past-mark", "push-to-mark"])
def test_the_printed_scale_and_the_pointer_never_move(name: str) -> None:
    for _, moved in films(name):
        for shape in shapes(moved):
            if shape.attrib.get("data-part") in ("lines", "numbered", "zero", "pointer", "number"):
                assert not animations(shape)


def ring_at(svg: Svg, second: float) -> float:
    """Where along an upright window the stopper's top ring stands, in mm from the top."""
    shape = [one for one in shapes(svg) if one.attrib.get("data-part") == "ring"][-1]
    way = next((value for played in animations(shape) if (value := played.at(second)) is not None), shape.attrib["d"])
    return min(y for _, y in along(way))


@pytest.mark.parametrize("name", ["pull-air", "pull-water", "draw-past-mark"])
@pytest.mark.parametrize("barrel", BARRELS, ids=lambda barrel: barrel.id)
def test_the_ring_comes_from_the_needle_end_and_rests_at_the_mark(name: str, barrel: Barrel) -> None:
    for at in marks(barrel)[1::3]:
        scene = Scene(name, barrel, at)
        moved = moving(scene)
        assert moved is not None
        places = [ring_at(moved, length(moved) * share / 20) for share in range(23)]
        assert places == sorted(places)
        assert places[0] < places[-1]
        still = min(y for _, y in along(parts(draw(scene), "ring")[-1]["d"]))
        assert places[-1] == pytest.approx(still, abs=0.001)


@pytest.mark.parametrize("barrel", BARRELS, ids=lambda barrel: barrel.id)
def test_pushing_to_the_mark_comes_down_to_it_and_not_past_it(barrel: Barrel) -> None:
    for at in marks(barrel)[1::3]:
        scene = Scene("push-to-mark", barrel, at)
        moved = moving(scene)
        assert moved is not None
        wedge = max(along(parts(moved, "pointer")[0]["d"]), key=lambda point: point[1])[0]
        shape = [one for one in shapes(moved) if one.attrib.get("data-part") == "ring"][-1]
        (played,) = (played for played in animations(shape) if played.name == "d")
        lefts = [left_edge({"d": value}) for value in played.values]
        assert lefts[0] > lefts[-1]
        assert min(lefts) >= wedge - 0.011
        assert lefts[-1] == pytest.approx(wedge, abs=0.011)


@pytest.mark.parametrize("name", RETURNING)
def test_a_picture_that_returns_holds_the_deed_and_fades_only_then(name: str) -> None:
    moved = film(name)
    (group,) = ElementTree.fromstring(moved.text)
    (fade,) = animations(group)
    assert fade.name == "opacity"
    assert fade.values == ["1", "1", "0", "1"]
    faint = [time * fade.seconds for time in fade.times]
    assert same(seen(moved, faint[1] - 0.01), drawn(full(name), 1))
    assert faint[1] - (0.5 + MOVES[name].seconds) == pytest.approx(0.8, abs=0.02)
    assert not [name for name in MOVING if name not in RETURNING and "opacity" in film(name).text]


def test_the_deeds_are_done() -> None:
    """What the words of these steps ask for is what is seen when the motion is over."""
    empty = at_phase(full("push-plunger"), 1).svg()
    assert not [look for _, look in parsed(empty) if look["fill"] == "#93c6e8"]
    assert [look for _, look in parsed(draw(full("push-plunger"))) if look["fill"] == "#93c6e8"]
    emptied, whole = (parts(at_phase(full("draw-all"), phase).svg(), "in-vial")[0] for phase in (1, 0))
    heights = [max(y for _, y in along(look["d"])) - min(y for _, y in along(look["d"])) for look in (emptied, whole)]
    assert heights[0] < heights[1] / 4
    dry, wet = (lowest_liquid(at_phase(full("water-into-powder"), phase).svg()) for phase in (0, 1))
    assert dry < 39 < wet
    closed, peeled = (at_phase(full("new-syringe"), phase).svg() for phase in (0, 1))
    assert max(box_width(look) for _, look in parsed(closed) if "Q" in look.get("d", "")) <= max(
        box_width(look) for _, look in parsed(peeled) if "Q" in look.get("d", "")
    )
    early, due = (parts(at_phase(full("clock"), phase).svg(), "minute")[0] for phase in (0, 1))
    assert along(early["d"])[1] != along(due["d"])[1]


def lowest_liquid(svg: Svg) -> float:
    return max(y for _, look in parsed(svg) if look["fill"] == "#93c6e8" for _, y in along(look["d"]))


def test_another_hand_moves_the_other_way_round() -> None:
    for name in ("needle-off", "wipe-skin", "push-plunger"):
        right, left = film(name), moving(replace(full(name), left_handed=True))
        assert left is not None
        assert left.text != right.text
        assert len(everything_animated(left)) == len(everything_animated(right))


def test_a_browser_plays_it_and_rests_at_the_still(tmp_path: Path) -> None:
    """Chromium, its clock set by hand: after the end every film looks as its still, dot for dot; on the way it does not."""
    names = [name for name in MOVING if moving(full(name)) is not None]

    def page_of(svgs: list[str]) -> str:
        return "<style>svg{width:180px;height:126px;margin:2px}</style>" + "".join(svgs)

    def look(name: str, svgs: list[str], second: float | None) -> Image.Image:
        page.set_content(page_of(svgs))
        if second is not None:
            script = "t => document.querySelectorAll('svg').forEach(s => { s.pauseAnimations(); s.setCurrentTime(t) })"
            page.evaluate(script, second)
        page.screenshot(path=tmp_path / f"{name}.png", full_page=True)
        return Image.open(tmp_path / f"{name}.png").convert("L")

    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        page = browser.new_page(viewport={"width": 1320, "height": 900})
        stills = look("stills", [draw(full(name)).text for name in names], None)
        over = look("over", [film(name).text for name in names], 6)
        halfway = look("halfway", [film(name).text for name in names], 1.4)
        browser.close()
    assert ImageChops.difference(stills, over).getbbox() is None
    wide, high = 184, stills.height // -(-len(names) // 7)
    for place, name in enumerate(names):
        left, top = place % 7 * wide, place // 7 * high
        tile = ImageChops.difference(stills, halfway).crop((left, top, left + wide, top + high))
        assert tile.getbbox() is not None, name
