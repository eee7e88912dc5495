"""A step's picture in motion: the same picture drawn at several phases, and of each shape only what changes between them.

It runs one time by SMIL, in at most five seconds (WCAG 2.2, 2.2.2), without a script or a style, and is then the still to the letter: every shape's own attributes are the still's, and
the animations that are over leave nothing behind. Where motion is not supported, the still is seen.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from functools import lru_cache
from itertools import pairwise

from hourmark.handout.drawing import MOVES, RESTS, at_phase, drawn_as_svg
from hourmark.handout.drawing.canvas import Svg, number
from hourmark.handout.drawing.parts import Move
from hourmark.handout.scene import Scene

_BEFORE = 0.5
"""Seconds for which the first phase is seen before it moves (our own choice: time to find what will move)."""
_AFTER = 0.3
"""Seconds for which it rests at its last phase before it is over."""
_HOLDS, _FADES = 0.8, 0.4
"""Seconds for which a picture that returns shows the deed done, and for which it then fades out, and in again."""

_CHANGING = {"path": ("d",), "circle": ("cx", "cy", "r"), "text": ("x", "y")}
"""The attributes by which a shape moves."""
_BODY = ' stroke-linejoin="round">'
"""Ends the head of a drawing; its shapes follow."""
_NEAR = 0.02
"""In mm: a point that leaves the straight way by less need not be written."""


def rests(scene: Scene) -> str:
    """Why the picture of a scene stands still."""
    return RESTS.get(scene.picture, "Nothing in it moves for this syringe.")


@lru_cache(maxsize=1024)
def moving(scene: Scene) -> Svg | None:
    """The picture of a scene in motion; None where nothing in it moves."""
    move = MOVES.get(scene.picture)
    if move is None:
        return None
    still = drawn_as_svg(scene)
    resting = 0 if move.returns else len(move.phases) - 1
    phases = [
        _shapes(still.text.partition(_BODY)[2].removesuffix("</g></svg>") if place == resting else _body(scene, phase))
        for place, phase in enumerate(move.phases)
    ]
    rows = _rows(phases, resting)
    film = _timed(move)
    written = [_row(row, film) for row in rows]
    if not any("<animate" in shape for shape in written):
        return None
    head = still.text.partition(_BODY)[0]
    fade = _animate("opacity", film.fade, film.seconds) if film.fade else ""
    return Svg(f"{head}{_BODY}{fade}{''.join(written)}</g></svg>", still.width, still.height)


@dataclass(frozen=True, slots=True)
class _Shape:
    """One shape: its tag, what changes when it moves, how it looks, and its words."""

    tag: str
    at: tuple[str, ...]
    look: str
    words: str

    @property
    def kind(self) -> tuple[str, ...]:
        """Shapes of one kind differ only in their numbers, so that one can move to the other's place."""
        return self.tag, self.look, self.words, *(re.sub(r"[-\d. ]+", " ", value) for value in self.at)

    def written(self, still: bool, inside: str) -> str:
        hidden = "" if still else ' visibility="hidden"'
        names = _CHANGING[self.tag]
        places = " ".join(f'{name}="{value}"' for name, value in zip(names, self.at, strict=True))
        body = f"{self.words}{inside}"
        end = f">{body}</{self.tag}>" if body else "/>"
        return f"<{self.tag} {places}{self.look}{hidden}{end}"


_Row = tuple[tuple[_Shape | None, ...], int]
"""One shape at every phase, None where it is not drawn; and which phase is the still."""


_WRITTEN = re.compile(r"<(\w+)([^>]*?)(?:/>|>([^<]*)</\w+>)")


def _body(scene: Scene, phase: float) -> str:
    return "".join(at_phase(scene, phase).shapes)


def _shapes(written: str) -> list[_Shape]:
    return [_shape(*found.groups("")) for found in _WRITTEN.finditer(written)]


def _shape(tag: str, look: str, words: str) -> _Shape:
    at = []
    for name in _CHANGING[tag]:
        found = re.search(rf' {name}="([^"]*)"', look)
        assert found is not None
        at.append(found[1])
        look = look.replace(found[0], "", 1)
    return _Shape(tag, tuple(at), look, words)


def _rows(phases: list[list[_Shape]], still: int) -> list[_Row]:
    """Every shape of any phase, in the order in which they are drawn: the still's, and between them those of other phases."""
    rows: list[dict[int, _Shape]] = [{still: shape} for shape in phases[still]]
    for place, shapes in enumerate(phases):
        if place != still:
            rows = _woven(rows, place, shapes)
    return [(tuple(row.get(place) for place in range(len(phases))), still) for row in rows]


def _woven(rows: list[dict[int, _Shape]], place: int, shapes: list[_Shape]) -> list[dict[int, _Shape]]:
    there = [next(iter(row.values())).kind for row in rows]
    out: list[dict[int, _Shape]] = []
    match = SequenceMatcher(None, there, [shape.kind for shape in shapes], autojunk=False)
    for _, first, last, start, end in match.get_opcodes():
        if last - first == end - start and there[first:last] == [shape.kind for shape in shapes[start:end]]:
            out += [{**row, place: shape} for row, shape in zip(rows[first:last], shapes[start:end], strict=True)]
        else:
            out += rows[first:last]
            out += [{place: shape} for shape in shapes[start:end]]
    return out


@dataclass(frozen=True, slots=True)
class _Film:
    """When which phase is seen, in parts of the whole, and how a picture that returns fades."""

    seconds: float
    times: tuple[tuple[float, int], ...]
    fade: tuple[tuple[float, str], ...]


def _timed(move: Move) -> _Film:
    last = len(move.phases) - 1
    on_the_way = [(_BEFORE + move.seconds * phase, place) for place, phase in enumerate(move.phases)]
    if not move.returns:
        total = _BEFORE + move.seconds + _AFTER
        seen = ((0.0, 0), *on_the_way, (total, last))
        return _Film(total, tuple((at / total, place) for at, place in seen), ())
    gone = _BEFORE + move.seconds + _HOLDS + _FADES
    total = gone + _FADES
    seen = ((0.0, 0), *on_the_way, (gone, last), (gone, 0), (total, 0))
    faint = ((0.0, "1"), (gone - _FADES, "1"), (gone, "0"), (total, "1"))
    return _Film(total, tuple((at / total, place) for at, place in seen), tuple((at / total, on) for at, on in faint))


def _row(row: _Row, film: _Film) -> str:
    shapes, still = row
    drawn = [place for place, shape in enumerate(shapes) if shape is not None]
    nearest = [shapes[min(drawn, key=lambda other: abs(other - place))] for place in range(len(shapes))]
    rest = nearest[still]
    assert rest is not None
    inside = ""
    for index, name in enumerate(_CHANGING[rest.tag]):
        values = [shape.at[index] for shape in nearest if shape is not None]
        if len(set(values)) > 1:
            inside += _animate(name, _straightened([(at, values[place]) for at, place in film.times]), film.seconds)
    if len(drawn) < len(shapes):
        seen = [(at, "visible" if shapes[place] is not None else "hidden") for at, place in film.times]
        inside += _animate("visibility", tuple(seen), film.seconds, ' calcMode="discrete"')
    return rest.written(shapes[still] is not None, inside)


def _animate(name: str, values: Sequence[tuple[float, str]], seconds: float, mode: str = "") -> str:
    times = ";".join(f"{at:.3f}".rstrip("0").rstrip(".") for at, _ in values)
    said = ";".join(value for _, value in values)
    return f'<animate attributeName="{name}" dur="{number(seconds)}s" keyTimes="{times}" values="{said}"{mode}/>'


def _straightened(values: list[tuple[float, str]]) -> list[tuple[float, str]]:
    """Without the values that lie on the straight way between their neighbours."""
    kept = [values[0]]
    for here, there in pairwise(values[1:]):
        if not _on_the_way(kept[-1], here, there):
            kept.append(here)
    return [*kept, values[-1]]


def _on_the_way(before: tuple[float, str], here: tuple[float, str], after: tuple[float, str]) -> bool:
    if before[0] == here[0] or here[0] == after[0]:
        return False
    share = (here[0] - before[0]) / (after[0] - before[0])
    return all(
        abs(a + (b - a) * share - mid) < _NEAR
        for a, mid, b in zip(*(_numbers(value) for _, value in (before, here, after)), strict=True)
    )


def _numbers(value: str) -> list[float]:
    return [float(found) for found in re.findall(r"-?\d+(?:\.\d+)?", value)]
