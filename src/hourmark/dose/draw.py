"""Drawing up one dose: to a printed mark, the whole of a vial, whole prefilled syringes, or whole sprays; or a named refusal."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TypeAlias

from hourmark.dose.fills import Fill, How, Split, best, roomiest, scale_text, split, total
from hourmark.finding import Finding, Level, Working, stops, worst_first
from hourmark.formulary import Barrel, Sourced, barrels, facts, tolerance
from hourmark.quantity import Concentration, Dose, Share, Volume, divide, shown_like

MOST_FILLS = 10
"""More fills than this for one dose are refused (common practice, no source)."""

USUAL_FILLS = 2
"""More fills than this for one dose are asked about (common practice, no source)."""

_NEARLY_ALL = Fraction(9, 10)
"""About this part of a mixed vial comes back into the syringe (patient mixing instruction for a 1 mL powder vial, weak)."""


@dataclass(frozen=True, slots=True)
class Vial:
    """A vial of liquid: its concentration, the volume it holds if known, and the powder's content if it was mixed from one."""

    concentration: Concentration
    holds: Volume | None = None
    content: Dose | None = None


@dataclass(frozen=True, slots=True)
class Syringe:
    """A prefilled syringe that is given whole."""

    product: str
    content: Dose
    holds: Volume


@dataclass(frozen=True, slots=True)
class Spray:
    """A nasal spray: the dose in one spray."""

    product: str
    content: Dose


Source: TypeAlias = Vial | Syringe | Spray


@dataclass(frozen=True, slots=True)
class Limits:
    """The shares of a dose above which the barrel's tolerance is noted and warned of, and whose limits they are."""

    note: Share
    warn: Share
    source: str


def proposed_limits() -> Limits:
    """The proposed limits, for use where no clinic has signed its own."""
    found = facts("proposals")
    note, warn = found["tolerance-note"], found["tolerance-warn"]
    return Limits(note.value, warn.value, "hourmark's proposal, signed by no clinic")


@dataclass(frozen=True, slots=True)
class Drawn:
    """What is drawn for one dose. With a stop among `findings` there are no fills and nothing is given."""

    volume: Volume | None
    fills: tuple[Fill, ...]
    given: Dose | None
    share: Share | None
    tolerance: tuple[Volume, Dose] | None
    vials: int | None
    left: Volume | None
    findings: tuple[Finding, ...]
    working: tuple[Working, ...] = ()

    @property
    def in_barrels(self) -> tuple[Fill, ...]:
        """The fills that are drawn up into a new syringe."""
        return tuple(fill for fill in self.fills if fill.how in (How.MARK, How.ALL))

    @property
    def stopped(self) -> bool:
        """Whether the draw is refused."""
        return stops(self.findings)


def draw(
    dose: Dose,
    source: Source,
    barrels_at_hand: Sequence[Barrel] = (),
    *,
    vials: int = 1,
    route: str | None = None,
    limits: Limits | None = None,
    other_ways: str = "",
    searched: str = "",
) -> Drawn:
    """How `dose` is taken from `source` with the barrels at hand (as many of each kind as needed), or why it is not.

    `vials` is how many are mixed, each with its own diluent. Volume limits are per site, therefore per fill, and are applied
    when `route` is given. `other_ways` is added to what a dose between lines is told to do, `searched` says what was tried for it.
    Doses in the answer are in the order's unit; the label's own words stay as they are. Nothing is rounded to a mark.
    """
    if type(dose) is not type(_unit_of(source)):
        return refused(_other_kind(dose, _unit_of(source)))
    match source:
        case Syringe():
            drawn = _whole_syringes(dose, source)
        case Spray():
            drawn = _sprays(dose, source)
        case _:
            drawn = _from_vials(
                dose, source, barrels_at_hand, vials, route, limits or proposed_limits(), other_ways, searched
            )
    if route is None or drawn.stopped:
        return drawn
    return _with(drawn, *_site_volumes(drawn, route))


def refused(*findings: Finding, volume: Volume | None = None, vials: int | None = None) -> Drawn:
    """A draw that is refused: only the findings, and the volume where it is known."""
    return Drawn(volume, (), None, None, None, vials, None, worst_first(findings))


def _with(drawn: Drawn, *more: Finding) -> Drawn:
    findings = worst_first((*drawn.findings, *more))
    if stops(findings):
        return refused(*findings, volume=drawn.volume, vials=drawn.vials)
    return replace(drawn, findings=findings)


def _unit_of(source: Source) -> Dose:
    return source.concentration.per_ml if isinstance(source, Vial) else source.content


def _other_kind(dose: Dose, label: Dose) -> Finding:
    return Finding(
        "dose-other-kind",
        Level.STOP,
        f"The order says {dose}, but the label counts in {'mg or mcg' if hasattr(label, 'shown') else 'units'}.",
        "Ask the prescriber for the dose in the unit on the label; nothing is converted here.",
        "dose",
        "international units have no fixed mass",
        "UCUM 2.2, arbitrary units",
    )


def _whole_syringes(dose: Dose, source: Syringe) -> Drawn:
    count = divide(dose, source.content)
    if count.denominator != 1:
        return refused(_part_of("prefilled syringe", dose, source.content, source.product))
    if count > MOST_FILLS:
        return refused(_too_many_fills(int(count)))
    volume = source.holds * count
    fills = (Fill(How.SYRINGE, source.product, source.holds),) * int(count)
    working = Working(
        "syringes",
        "dose / dose in one syringe",
        (("dose", str(dose), "order"), ("in one syringe", str(source.content), source.product)),
        str(count),
    )
    return Drawn(volume, fills, dose, Share(Fraction(1)), None, None, None, tuple(_many_fills(int(count))), (working,))


def _sprays(dose: Dose, source: Spray) -> Drawn:
    count = divide(dose, source.content)
    if count.denominator != 1:
        return refused(_part_of("spray", dose, source.content, source.product))
    working = Working(
        "sprays",
        "dose / dose in one spray",
        (("dose", str(dose), "order"), ("in one spray", str(source.content), source.product)),
        str(count),
    )
    if count > MOST_FILLS:
        return refused(_too_many_fills(int(count)))
    fill = Fill(How.SPRAY, source.product, None, sprays=int(count))
    return Drawn(None, (fill,), dose, Share(Fraction(1)), None, None, None, (), (working,))


def _part_of(what: str, dose: Dose, content: Dose, product: str) -> Finding:
    return Finding(
        "part-of-device",
        Level.STOP,
        f"{dose} is not a whole number of {what}s; one gives {shown_like(content, dose)}.",
        f"Ask the prescriber: is a whole number of {what}s meant, or another product? No part of a {what} is drawn.",
        product,
        f"one {what} gives {content}, whole",
        "product label",
    )


def _from_vials(
    dose: Dose,
    vial: Vial,
    barrels_at_hand: Sequence[Barrel],
    vials: int,
    route: str | None,
    limits: Limits,
    other_ways: str,
    searched: str,
) -> Drawn:
    needed = _vials_needed(dose, vial)
    if needed != vials:
        return refused(_wrong_vials(dose, needed, vials, vial), vials=needed)
    volume = vial.concentration.volume_of(dose)
    if not barrels_at_hand:
        return refused(_no_barrel(volume), volume=volume, vials=vials)
    if vial.content is not None and divide(dose, vial.content).denominator == 1:
        return _whole_vials(dose, vial, volume, vials, barrels_at_hand)
    given = vial.concentration.dose_in
    way = best(_at_one_site([found for barrel in barrels_at_hand if (found := split(volume, barrel))], route))
    if way is None:
        return refused(
            _between(dose, vial, volume, barrels_at_hand, route, other_ways, searched), volume=volume, vials=vials
        )
    if way.fills > MOST_FILLS:
        return refused(_too_many_fills(way.fills), volume=volume, vials=vials)
    error = total(tolerance(way.barrel.capacity).of(way.barrel.capacity, part) for part in way.volumes)
    wrong = shown_like(given(error), dose)
    findings = [
        *_room(way),
        *_many_fills(way.fills),
        *_small(way),
        *_inaccurate(dose, wrong, error, way.barrel, limits),
        *_nearly_all(volume, vial, vials),
    ]
    return Drawn(
        volume=volume,
        fills=tuple(Fill(How.MARK, way.barrel.id, part, way.barrel.mark(part)) for part in way.volumes),
        given=shown_like(given(total(way.volumes)), dose),
        share=Share(divide(given(total(way.volumes)), dose)),
        tolerance=(error, wrong),
        vials=vials,
        left=vial.holds * vials - volume if vial.holds else None,
        findings=worst_first(findings),
        working=(_volume_working(dose, vial, volume), _mark_working(way), _tolerance_working(way, error, wrong)),
    )


def _at_one_site(ways: list[Split], route: str | None) -> list[Split]:
    """Those ways whose largest fill may go into one site by this route; all of them when there is none, so that it is refused."""
    limit: Sourced[Volume] | None = facts("limits").get(f"volume-{route}-{Level.STOP}")
    return [way for way in ways if limit is None or way.largest <= limit.value] or ways


def _whole_vials(dose: Dose, vial: Vial, volume: Volume, vials: int, barrels_at_hand: Sequence[Barrel]) -> Drawn:
    way = roomiest(volume, barrels_at_hand)
    if way is None:
        return refused(_between(dose, vial, volume, barrels_at_hand, None, "", ""), volume=volume, vials=vials)
    if way.fills > MOST_FILLS:
        return refused(_too_many_fills(way.fills), volume=volume, vials=vials)
    *to_a_mark, rest = way.volumes
    fills = (
        *(Fill(How.MARK, way.barrel.id, part, way.barrel.mark(part)) for part in to_a_mark),
        Fill(How.ALL, way.barrel.id, rest),
    )
    working = Working(
        "whole vials",
        "content x vials = dose, so everything is given and no mark is read",
        (("content", str(vial.content), "label"), ("vials", str(vials), "kit"), ("dose", str(dose), "order")),
        f"{volume} nominal",
    )
    findings = (*_room(way), *_many_fills(way.fills))
    return Drawn(
        volume, fills, dose, Share(Fraction(1)), None, vials, Volume(Fraction(0)), worst_first(findings), (working,)
    )


def _vials_needed(dose: Dose, vial: Vial) -> int:
    if vial.holds is None:
        return 1
    parts = divide(dose, vial.concentration.dose_in(vial.holds))
    return -(-parts.numerator // parts.denominator)


def _wrong_vials(dose: Dose, needed: int, vials: int, vial: Vial) -> Finding:
    holds = (
        f"each holds {shown_like(vial.concentration.dose_in(vial.holds), dose)}"
        if vial.holds
        else "what one holds is not known"
    )
    if needed > vials:
        return Finding(
            "vials-too-few",
            Level.STOP,
            f"{dose} needs {needed} vials; {holds}.",
            f"Check that {needed} vials are at home"
            + (
                f" and that the prescriber wants the diluent put into each; then write --vials {needed}"
                ' (in a night file: diluent_into = "each"). Carrying the water from vial to vial is not computed here.'
                if vial.content is not None
                else f"; then write --vials {needed}."
            ),
            "vials",
            f"{vials} planned",
            "order and label",
        )
    return Finding(
        "vials-too-many",
        Level.STOP,
        f"{dose} needs {needed} vial{'s' * (needed != 1)}, but {vials} are planned; {holds}.",
        f"Plan {needed}, or ask the prescriber whether a larger dose is meant.",
        "vials",
        f"{vials} planned",
        "order and label",
    )


def _no_barrel(volume: Volume) -> Finding:
    return Finding(
        "syringe-none",
        Level.STOP,
        f"{volume} is to be drawn, but no syringe is given.",
        "Ask which syringes are at home, with the largest number printed on each; write them as --syringe or into the kit.",
        "syringes",
        "a dose is drawn to a printed line",
        "common practice, no source",
    )


def _between(
    dose: Dose,
    vial: Vial,
    volume: Volume,
    barrels_at_hand: Sequence[Barrel],
    route: str | None,
    other_ways: str,
    searched: str,
) -> Finding:
    shown = min(
        barrels_at_hand, key=lambda barrel: (volume > barrel.capacity, barrel.step, barrel.capacity, barrel.on_u100)
    )
    over = volume > shown.capacity
    around = " and ".join(
        f"{f'{side} over several fills' if over else scale_text(shown, side)}"
        f" = {shown_like(vial.concentration.dose_in(side), dose)} ({_off(vial, side, dose)})"
        for side in shown.neighbours(volume)
    )
    ways = [other_ways] if other_ways else []
    if elsewhere := other_syringes(volume, barrels_at_hand, route):
        ways.append(f"a syringe with lines for {volume}: {elsewhere}")
    if not searched:
        searched = (
            "which other diluent volumes are permitted is not known here, and none was tried"
            if vial.content is not None
            else ""
        )
    tried = f" ({searched})" if searched else ""
    do = (
        f"What lands on a line: {'; '.join(ways)}."
        if ways
        else f"No other syringe known here has lines for {volume}, in up to {MOST_FILLS} fills of one kind{tried}."
    )
    return Finding(
        "mark-between",
        Level.STOP,
        f"{dose} is {volume}, between the lines of {shown.described} ({shown.id}): {around}.",
        f"{do} Or ask the prescriber for another dose. Nothing is rounded here.",
        "syringe",
        f"a printed line every {shown.step}",
        facts("syringes")[f"{shown.id}.step"].cite(),
    )


def other_syringes(volume: Volume, besides: Sequence[Barrel], route: str | None) -> str:
    """Every other syringe known here on whose lines a volume lands, in words: in one fill, or in several of one kind."""
    limit: Sourced[Volume] | None = facts("limits").get(f"volume-{route}-{Level.STOP}")
    found = [way for barrel in barrels().values() if barrel not in besides and (way := split(volume, barrel))]
    fit = [way for way in found if way.fills <= MOST_FILLS and (limit is None or way.largest <= limit.value)]
    one, several = ([way for way in fit if (way.fills == 1) == single] for single in (True, False))
    return ", ".join([*(way.barrel.id for way in one), *(f"{way.barrel.id} in {way.fills} fills" for way in several)])


def _off(vial: Vial, side: Volume, dose: Dose) -> str:
    return Share(divide(vial.concentration.dose_in(side), dose) - 1).signed()


def _room(way: Split) -> Iterable[Finding]:
    if way.full:
        yield Finding(
            "barrel-full",
            Level.WARN,
            f"{way.volumes[0]} fills {way.barrel.id} to the end: no room to draw a little more and clear the air.",
            "Use a larger syringe if one is at home.",
            way.barrel.id,
            f"capacity {way.barrel.capacity}",
            "common practice, no source",
        )


def _many_fills(fills: int) -> Iterable[Finding]:
    if fills > USUAL_FILLS:
        yield Finding(
            "fills-many",
            Level.ASK,
            f"This dose takes {fills} injections, each with a new syringe at its own site.",
            "Ask the prescriber and the pharmacy whether a larger syringe or a stronger product is wanted.",
            "syringes",
            f"more than {USUAL_FILLS} injections for one dose",
            "common practice, no source",
        )


def _too_many_fills(fills: int) -> Finding:
    return Finding(
        "fills-too-many",
        Level.STOP,
        f"This dose would take {fills:,} fills, syringes or sprays.",
        "Check the dose, the strength and the diluent; ask the prescriber.",
        "syringes",
        f"at most {MOST_FILLS}",
        "common practice, no source",
    )


def _small(way: Split) -> Iterable[Finding]:
    least, share = facts("limits")["small-draw"], facts("limits")["small-fill"]
    smallest = way.volumes[-1]
    if way.barrel.on_u100 and smallest < least.value:
        yield Finding(
            "draw-small",
            Level.WARN,
            f"{smallest} is very little on a U-100 barrel: measured errors there are large.",
            "Prefer a weaker permitted mix, so that more is drawn, or ask the prescriber.",
            way.barrel.id,
            f"under {least.text}",
            least.cite(),
        )
    if smallest.value < way.barrel.capacity.value * share.value.value:
        yield Finding(
            "barrel-large",
            Level.NOTE,
            f"{smallest} is under a fifth of {way.barrel.id}.",
            "Prefer a smaller syringe if one at home has a line at the dose.",
            way.barrel.id,
            f"under {share.text} of capacity",
            share.cite(),
        )


def _inaccurate(dose: Dose, wrong: Dose, error: Volume, barrel: Barrel, limits: Limits) -> Iterable[Finding]:
    share = Share(divide(wrong, dose))
    for level, limit in ((Level.WARN, limits.warn), (Level.NOTE, limits.note)):
        if share > limit:
            yield Finding(
                {Level.WARN: "tolerance-wide", Level.NOTE: "tolerance-notable"}[level],
                level,
                f"On {barrel.id} the standard allows {error} either way: {wrong}, {share} of the dose.",
                "Prefer a smaller syringe, or a weaker permitted mix.",
                barrel.id,
                f"over {limit} of the dose; {limits.source}",
                tolerance(barrel.capacity).fixed.cite(),
            )
            return


def _nearly_all(volume: Volume, vial: Vial, vials: int) -> Iterable[Finding]:
    if vial.content is not None and vial.holds and volume.value > vial.holds.value * vials * _NEARLY_ALL:
        yield Finding(
            "draw-nearly-all",
            Level.WARN,
            f"{volume} of the {vial.holds * vials} mixed may not come back out of the vial.",
            "Prefer a larger permitted diluent volume, or ask the prescriber whether everything is to be given.",
            "vial",
            "about nine tenths of a mixed vial can be drawn up",
            "patient mixing instruction for a 1 mL powder vial (read in a secondary copy)",
        )


def _site_volumes(drawn: Drawn, route: str) -> Iterable[Finding]:
    """The strictest limit that the largest fill passes, for this route."""
    parts = [fill.volume for fill in drawn.fills if fill.volume is not None]
    if not parts:
        return
    largest = max(parts)
    for level in (Level.STOP, Level.WARN, Level.NOTE):
        limit: Sourced[Volume] | None = facts("limits").get(f"volume-{route}-{level}")
        if limit is not None and largest > limit.value:
            yield Finding(
                {Level.STOP: "volume-too-large", Level.WARN: "volume-large", Level.NOTE: "volume-notable"}[level],
                level,
                f"{largest} at one {route} site.",
                {
                    Level.STOP: "Use a smaller permitted diluent volume or more injections; ask the prescriber.",
                    Level.WARN: "Propose two sites to the prescriber.",
                    Level.NOTE: "Inject slowly.",
                }[level],
                "volume",
                f"over {limit.text} at one {route} site",
                limit.cite(),
            )
            return


def _volume_working(dose: Dose, vial: Vial, volume: Volume) -> Working:
    inputs = [("dose", str(dose), "order")]
    if vial.content is not None and vial.holds is not None:
        inputs += [("content", str(vial.content), "label"), ("diluent", str(vial.holds), "order or signed rule")]
        return Working("volume", "dose x diluent / content", tuple(inputs), str(volume))
    inputs.append(("concentration", str(vial.concentration), "label"))
    return Working("volume", "dose / concentration", tuple(inputs), str(volume))


def _mark_working(way: Split) -> Working:
    formula = "volume in mL x 100" if way.barrel.on_u100 else "volume in mL"
    inputs = (("volume of each fill", ", ".join(map(str, way.volumes)), "volume"), ("syringe", way.barrel.id, "kit"))
    return Working("mark", formula, inputs, ", ".join(str(way.barrel.mark(part)) for part in way.volumes))


def _tolerance_working(way: Split, error: Volume, wrong: Dose) -> Working:
    row = tolerance(way.barrel.capacity)
    return Working(
        "tolerance",
        "below half the capacity: fixed share of capacity + small share of volume; from half up: large share of volume; summed over fills",
        (
            ("fixed", row.fixed.text, row.fixed.cite()),
            ("small", row.small.text, row.small.cite()),
            ("large", row.large.text, row.large.cite()),
            ("capacity", str(way.barrel.capacity), way.barrel.id),
        ),
        f"{error}, {wrong}",
    )
