"""Missteps: foreseen mistakes with one planned draw, and the dose each would give. For staff, never for a patient's page."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Literal, TypeAlias

from hourmark.dose.draw import Drawn, Source, Vial
from hourmark.dose.fills import Fill, How, total
from hourmark.dose.given import Between, WentIn, dose_given, exactly
from hourmark.formulary import Barrel, barrel, facts, tolerance
from hourmark.quantity import Dose, Mark, Mass, Share, Volume, divide, shown_like

Way: TypeAlias = Literal["too much", "too little"]

MIXING_BARREL = "mL-3-0.1"
"""The syringe most kits hold to mix with (common practice, no source)."""

UNIT_BARREL = "u100-1mL-1"


@dataclass(frozen=True, slots=True)
class Misstep:
    """One foreseen mistake: its code, which way it errs, the dose it gives, that dose as a share of the order, and how it happens."""

    code: str
    way: Way
    given: Dose
    share: Share
    how: str


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A misstep that cannot happen here or cannot be computed, and why."""

    code: str
    why: str


@dataclass(frozen=True, slots=True)
class OtherMedicine:
    """Another medicine of the same order: its name, where its fills stop, and its liquid."""

    name: str
    volumes: tuple[Volume, ...]
    source: Source


@dataclass(frozen=True, slots=True)
class Around:
    """What lies beside the draw on that table, as far as known.

    supplied: the water in one container. other_contents: the other listed strengths of the same powder. unit_barrel: a U-100
    syringe at hand, if any. needle_fixed: whether the needle cannot be changed. None: not known.
    """

    supplied: Volume | None = None
    other_contents: tuple[Dose, ...] | None = None
    unit_barrel: Barrel | None = None
    needle_fixed: bool = False
    others: tuple[OtherMedicine, ...] | None = None


def missteps(
    dose: Dose, source: Source, drawn: Drawn, around: Around
) -> tuple[tuple[Misstep, ...], tuple[LeftOut, ...]]:
    """Every misstep that can be computed for this draw, too much before too little and worst first, and those left out with why."""
    if drawn.stopped:
        return (), tuple(LeftOut(code, "nothing is drawn") for code in _HAPPENINGS)
    if not isinstance(source, Vial):
        return (), tuple(LeftOut(code, "nothing is mixed or drawn: the device is given whole") for code in _HAPPENINGS)
    scene = _Scene(dose, source, drawn, around)
    found: list[Misstep] = []
    left_out: list[LeftOut] = []
    for code, happen in _HAPPENINGS.items():
        try:
            for given, how in happen(scene):
                if given == dose:
                    left_out.append(LeftOut(code, f"{how}: the same dose"))
                else:
                    share = Share(divide(given, dose))
                    way: Way = "too much" if share.value > 1 else "too little"
                    found.append(Misstep(code, way, shown_like(given, dose), share, how))
        except _NotHere as reason:
            left_out.append(LeftOut(code, str(reason)))
    return tuple(sorted(found, key=_badness)), tuple(left_out)


def worst(found: Sequence[Misstep], way: Way) -> Misstep | None:
    """The worst misstep that errs this way."""
    return next((misstep for misstep in found if misstep.way == way), None)


def _badness(misstep: Misstep) -> tuple[bool, Fraction]:
    much = misstep.way == "too much"
    return (not much, -misstep.share.value if much else misstep.share.value)


class _NotHere(Exception):
    """A misstep that does not apply, or whose facts are not known."""


@dataclass(frozen=True, slots=True)
class _Scene:
    dose: Dose
    vial: Vial
    drawn: Drawn
    around: Around

    @property
    def fills(self) -> tuple[Fill, ...]:
        return self.drawn.fills

    @property
    def barrel(self) -> Barrel:
        return barrel(self.fills[0].device)

    @property
    def whole(self) -> bool:
        return any(fill.how is How.ALL for fill in self.fills)

    @property
    def vials(self) -> int:
        return self.drawn.vials or 1

    @property
    def room(self) -> Volume:
        """What all the barrels planned can take up."""
        return self.barrel.capacity * len(self.fills)

    def volumes(self) -> tuple[Volume, ...]:
        return tuple(fill.volume for fill in self.fills if fill.volume is not None)

    def gives(self, drawn: Volume, *, lost: Between | None = None, **changed: object) -> Dose:
        """The dose from drawing this volume out of the planned vial, or one changed as told; capped by barrel and vial."""
        powder = self.vial.content is not None and self.vial.holds is not None
        what = WentIn(
            drawn=exactly(drawn),
            content=self.vial.content if powder else None,
            water=exactly(self.vial.holds) if powder and self.vial.holds is not None else None,
            concentration=None if powder else self.vial.concentration,
            holds=None if powder else self.vial.holds,
            vials=self.vials,
        )
        if lost is not None:
            what = replace(what, lost=lost)
        return dose_given(_replace(what, changed)).most

    def reading(self, read: Callable[[Barrel, Volume], Volume]) -> Dose:
        """The dose when every fill is read the same wrong way, no fill beyond its barrel."""
        drawn = total(min(read(self.barrel, volume), self.barrel.capacity) for volume in self.volumes())
        return self.gives(drawn)

    def require_mark(self) -> None:
        if self.whole:
            raise _NotHere("a whole dose is read to no mark")

    def require_powder(self) -> None:
        if self.vial.content is None:
            raise _NotHere("nothing is mixed")


def _replace(what: WentIn, changed: dict[str, object]) -> WentIn:
    return replace(what, **changed) if changed else what  # type: ignore[arg-type]


_Happening: TypeAlias = Iterator[tuple[Dose, str]]


def _whole(scene: _Scene) -> _Happening:
    scene.require_mark()
    if scene.vial.holds is None:
        raise _NotHere("what the vial holds is not known")
    everything = scene.vial.holds * scene.vials
    yield scene.gives(everything), f"everything in the vial{'s' * (scene.vials > 1)} is injected, {everything}"


def _all_water(scene: _Scene) -> _Happening:
    scene.require_powder()
    supplied = scene.around.supplied
    if supplied is None:
        raise _NotHere("how much water is supplied is not known")
    drawn = min(supplied * scene.vials, scene.room) if scene.whole else total(scene.volumes())
    where = "everything the syringe takes" if scene.whole else "the same mark"
    yield scene.gives(drawn, water=exactly(supplied)), f"all {supplied} of water is added, then {where}"


def _other_vial(scene: _Scene) -> _Happening:
    if scene.vial.content is None:
        raise _NotHere("no other strength of this solution is listed")
    contents = scene.around.other_contents
    if contents is None:
        raise _NotHere("which drug the vial holds is not known")
    if not contents:
        raise _NotHere("no other strength of this drug is listed")
    for content in contents:
        where = "everything is drawn" if scene.whole else "the same mark"
        yield scene.gives(total(scene.volumes()), content=content), f"a {content} vial is used, {where}"


def _ten_more(scene: _Scene) -> _Happening:
    scene.require_mark()
    yield (
        scene.reading(lambda _barrel, volume: volume * 10),
        "the decimal point is read one place to the right, as far as the barrel goes",
    )


def _ten_less(scene: _Scene) -> _Happening:
    scene.require_mark()
    yield (
        scene.reading(lambda _barrel, volume: volume * Fraction(1, 10)),
        "the decimal point is read one place to the left",
    )


def _marks_for_units(scene: _Scene) -> _Happening:
    scene.require_mark()
    unit = scene.barrel if scene.barrel.on_u100 else scene.around.unit_barrel
    if unit is None:
        raise _NotHere("no syringe with a U-100 scale is at hand")
    number = scene.dose.value / 1000 if isinstance(scene.dose, Mass) and scene.dose.shown == "mg" else scene.dose.value
    sought = min(unit.volume_at(Mark(number)), unit.capacity)
    yield scene.gives(sought), f"the dose's number is sought on {unit.id}, as far as the barrel goes"


def _next_number(scene: _Scene) -> _Happening:
    yield from _neighbours(scene, lambda barrel: barrel.numbered, "number")


def _next_line(scene: _Scene) -> _Happening:
    yield from _neighbours(scene, lambda barrel: barrel.step, "line")


def _neighbours(scene: _Scene, spacing: Callable[[Barrel], Volume], what: str) -> _Happening:
    scene.require_mark()
    yield (
        scene.reading(lambda barrel, volume: _above(volume, spacing(barrel))),
        f"the next printed {what} above is read",
    )
    yield (
        scene.reading(lambda barrel, volume: _below(volume, spacing(barrel))),
        f"the next printed {what} below is read",
    )


def _above(volume: Volume, spacing: Volume) -> Volume:
    return spacing * (volume.value // spacing.value + 1)


def _below(volume: Volume, spacing: Volume) -> Volume:
    return spacing * (-(-volume.value // spacing.value) - 1)


def _swapped(scene: _Scene) -> _Happening:
    scene.require_mark()
    marked = [other for other in _others(scene) if other.volumes]
    if not marked:
        raise _NotHere("no other medicine is read to a mark")
    for other in marked:
        drawn = total(min(volume, scene.barrel.capacity) for volume in other.volumes)
        yield scene.gives(drawn), f"this is drawn to the mark of {other.name}"


def _other_medicine(scene: _Scene) -> _Happening:
    for other in _others(scene):
        yield scene.dose * 0, f"{other.name} is drawn instead, and none of this"


def _others(scene: _Scene) -> tuple[OtherMedicine, ...]:
    if not scene.around.others:
        raise _NotHere(
            "no other medicine in this order"
            if scene.around.others is not None
            else "the rest of the order is not known"
        )
    return scene.around.others


def _mixing_barrel(scene: _Scene) -> _Happening:
    scene.require_mark()
    mixing = barrel(MIXING_BARREL)
    drawn = total(scene.volumes())
    if scene.barrel == mixing:
        raise _NotHere("the planned syringe is of that kind")
    if any(volume > mixing.capacity for volume in scene.volumes()):
        raise _NotHere("a fill is more than that syringe holds")
    error = total(tolerance(mixing.capacity).of(mixing.capacity, volume) for volume in scene.volumes())
    yield scene.gives(drawn + error), f"the same volume on {MIXING_BARREL}, at the upper end of its tolerance"
    yield (
        scene.gives(drawn - min(drawn, error)),
        f"the same volume on {MIXING_BARREL}, at the lower end of its tolerance",
    )


def _needle_after(scene: _Scene) -> _Happening:
    if scene.around.needle_fixed:
        raise _NotHere("the needle is fixed")
    hub: Volume = facts("limits")["hub-loss"].value
    yield (
        scene.gives(total(scene.volumes()), lost=exactly(hub)),
        f"the needle is changed after the mark was set: {hub} is lost in its hub",
    )


def _bubble(scene: _Scene) -> _Happening:
    scene.require_mark()
    air: Volume = facts("limits")["bubble"].value
    yield scene.gives(total(scene.volumes()), lost=exactly(air)), f"{air} of air is in the barrel"


def _water_only(scene: _Scene) -> _Happening:
    scene.require_powder()
    yield scene.dose * 0, "only the water is injected; the powder stays in its vial"


_HAPPENINGS: dict[str, Callable[[_Scene], _Happening]] = {
    "whole": _whole,
    "all-water": _all_water,
    "other-vial": _other_vial,
    "ten-more": _ten_more,
    "ten-less": _ten_less,
    "marks-for-units": _marks_for_units,
    "next-number": _next_number,
    "next-line": _next_line,
    "swapped": _swapped,
    "other-medicine": _other_medicine,
    "mixing-barrel": _mixing_barrel,
    "needle-after": _needle_after,
    "bubble": _bubble,
    "water-only": _water_only,
}

CODES = tuple(_HAPPENINGS)
"""Every misstep there is, by code."""
