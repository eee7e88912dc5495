"""A reading as a picture: the result beside the curve, its band and what was published, as SVG for light, dark and paper.

The only file that draws with matplotlib, which takes a second to load and is therefore imported where it is used.
"""

import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

from hourmark.clock import Span
from hourmark.levels.curves import Expected, about
from hourmark.levels.figures import Observation, limits
from hourmark.levels.reading import Reading
from hourmark.levels.results import Analyte

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Look: TypeAlias = Literal["light", "dark", "paper"]

_STEP = 30
_LEAST_HOURS = 40
_SIZE = (7.0, 4.8)


@dataclass(frozen=True, slots=True)
class Picture:
    """An SVG, and the same in words for whoever does not see it."""

    svg: str
    words: str


@dataclass(frozen=True, slots=True)
class _Ink:
    ground: str
    ink: str
    quiet: str
    curves: tuple[str, ...]
    band: str
    seen: str
    result: str


_INKS: dict[Look, _Ink] = {
    "light": _Ink("#ffffff", "#1d2a2a", "#566363", ("#0b5d5a", "#7a4a00"), "#0b5d5a", "#6a2b86", "#9c1c1c"),
    "dark": _Ink("#1d2425", "#e6ebe9", "#a9b6b4", ("#7fd0c9", "#f1c982"), "#7fd0c9", "#dfb6f2", "#ffb3ab"),
    "paper": _Ink("#ffffff", "#000000", "#333333", ("#000000", "#000000"), "#000000", "#000000", "#000000"),
}


def draw(reading: Reading, look: Look = "light") -> Picture:
    """The picture of one reading. The same reading and look give the same bytes."""
    import matplotlib as mpl
    from matplotlib.backends.backend_svg import FigureCanvasSVG
    from matplotlib.figure import Figure

    mpl.rcParams["svg.hashsalt"] = "hourmark"
    ink = _INKS[look]
    figure = Figure(figsize=_SIZE, facecolor=ink.ground, layout="constrained")
    FigureCanvasSVG(figure)
    axes = figure.add_subplot()
    _frame(axes, reading, ink)
    _curves(axes, reading, ink)
    _limit(axes, reading, ink)
    _seen(axes, _beside(reading), ink)
    _result(axes, reading, ink)
    axes.set_ylim(bottom=0)
    axes.set_xlim(0, _last_hour(reading))
    legend = figure.legend(loc="outside lower center", ncols=2, fontsize=8, facecolor=ink.ground, edgecolor=ink.quiet)
    for text in legend.get_texts():
        text.set_color(ink.ink)
    out = io.StringIO()
    figure.savefig(out, format="svg", facecolor=ink.ground, metadata={"Date": None, "Creator": None})
    return Picture(out.getvalue(), words(reading))


def words(reading: Reading) -> str:
    """The picture in words: the result, its hour, and what the curve and the publications show there."""
    unit = reading.result.unit
    parts = [f"{reading.result.analyte} {reading.result} at {reading.after}: {reading.says}."]
    for one in reading.expected:
        band = f", band {about(one.low)} to {about(one.high)}" if one.low < one.high else ""
        parts.append(f"Curve, {one.about}: {about(one.median, unit)}{band}.")
    parts += [f"Published, {one.about}: {one.level.text} at {_at(one)}, {one.statistic}." for one in _beside(reading)]
    return " ".join(parts)


def _beside(reading: Reading) -> Sequence[Observation]:
    """What may stand on this curve: after hCG only levels of the same dose, because the level follows the dose."""
    if reading.result.analyte is not Analyte.HCG:
        return reading.observed
    doses = [leg.dose for leg in reading.legs]
    return [one for one in reading.observed if len(doses) == 1 and one.dose == doses[0]]


def _at(one: Observation) -> str:
    return f"{one.hours} to {one.until}" if one.until is not None else str(one.hours)


def _last_hour(reading: Reading) -> float:
    return max(_LEAST_HOURS, reading.after.minutes / 60 + 4)


def _frame(axes: "Axes", reading: Reading, ink: _Ink) -> None:
    axes.set_facecolor(ink.ground)
    axes.set_xlabel("hours after the injection" if len(reading.legs) == 1 else "hours after the first injection")
    axes.set_ylabel(f"{reading.result.analyte}, {reading.result.unit}")
    axes.set_title(" and ".join(str(leg) for leg in reading.legs), fontsize=10, color=ink.ink)
    axes.tick_params(colors=ink.quiet)
    for label in (axes.xaxis.label, axes.yaxis.label):
        label.set_color(ink.ink)
    for name, spine in axes.spines.items():
        spine.set_color(ink.quiet)
        spine.set_visible(name in ("left", "bottom"))


def _curves(axes: "Axes", reading: Reading, ink: _Ink) -> None:
    minutes = range(0, int(_last_hour(reading) * 60) + 1, _STEP)
    hours = [minute / 60 for minute in minutes]
    tracks = list(zip(*(reading.expected_at(Span(minute)) for minute in minutes), strict=True))
    for place, track in enumerate(tracks):
        colour = ink.curves[place % len(ink.curves)]
        axes.plot(hours, _middle(track), color=colour, linestyle=("-", "--")[place % 2], label=track[0].about)
    if tracks and tracks[0][1].low < tracks[0][1].high:
        low = [min(one.low for one in point) for point in zip(*tracks, strict=True)]
        high = [max(one.high for one in point) for point in zip(*tracks, strict=True)]
        axes.fill_between(hours, low, high, color=ink.band, alpha=0.12, linewidth=0, label="95 of 100 people")


def _middle(track: Iterable[Expected]) -> list[float]:
    return [one.median for one in track]


def _limit(axes: "Axes", reading: Reading, ink: _Ink) -> None:
    """The first limit of the reading, where it is a level, over the hours in which it holds."""
    limit = next((one for one in reading.limits if one.text.endswith(reading.result.unit)), None)
    if limit is None:
        return
    name = reading.result.analyte.lower()
    begin, end = (limits()[f"{name}-judged-{side}"].value.minutes / 60 for side in ("from", "to"))
    axes.hlines(float(limit.value), begin, end, colors=ink.quiet, linestyles=":", label=f"limit {limit.text}")


def _seen(axes: "Axes", observed: Sequence[Observation], ink: _Ink) -> None:
    named: set[str] = set()
    for one in observed:
        first = one.hours.minutes / 60
        last = one.until.minutes / 60 if one.until is not None else first
        level, middle = float(one.level.value), (first + last) / 2
        if one.low is not None and one.high is not None:
            axes.vlines(middle, float(one.low), float(one.high), colors=ink.seen, linewidth=0.8)
        axes.hlines(level, first, last, colors=ink.seen, linewidth=0.8)
        marker, label = ("s", "published") if one.typical else ("x", "published, no average")
        axes.plot(
            [middle],
            [level],
            marker,
            color=ink.seen,
            markerfacecolor=ink.ground,
            label=None if label in named else label,
        )
        named.add(label)


def _result(axes: "Axes", reading: Reading, ink: _Ink) -> None:
    result, hour = reading.result, reading.after.minutes / 60
    marker = "D" if result.exact else "v" if result.most is not None else "^"
    level = float(result.most if result.most is not None else result.least)
    axes.plot([hour], [level], marker, color=ink.result, markersize=9, label=f"this sample: {result}", zorder=5)
