"""The mix table: every permitted diluent volume with every syringe at home, so that nothing is chosen silently."""

from collections.abc import Sequence
from dataclasses import dataclass

from hourmark.dose import Around, Drawn, Limits, Misstep, draw, missteps, mix, permitted_volumes
from hourmark.dose.draw import other_syringes
from hourmark.formulary import Barrel, LabelRule
from hourmark.order import MixRule
from hourmark.quantity import Dose, Volume, divide


@dataclass(frozen=True, slots=True)
class MixRow:
    """One permitted diluent volume with one barrel: what would be drawn, or why not.

    `allowed_by` is "label", "signed rule" or both. `part_allowed` is False where only the whole mix may be given and the dose is
    a part of it. `left_over` says what becomes of the rest.
    """

    diluent: Volume
    allowed_by: str
    chosen: bool
    part_allowed: bool
    left_over: str
    barrel: Barrel
    drawn: Drawn
    route: str

    @property
    def on_a_line(self) -> bool:
        """Whether this combination can be given."""
        return self.part_allowed and not self.drawn.stopped


def mix_table(
    dose: Dose,
    content: Dose,
    rule: LabelRule,
    signed: Sequence[MixRule],
    chosen: Volume | None,
    barrels: Sequence[Barrel],
    vials: int,
    route: str,
    limits: Limits,
) -> tuple[MixRow, ...]:
    """Every permitted diluent volume x barrel, smallest volume first; barrels in the order given."""
    return tuple(
        MixRow(
            volume,
            allowed_by(volume, rule, signed),
            volume == chosen,
            part_allowed(dose, content, rule, volume, signed),
            left_over(dose, content, rule, volume),
            barrel,
            draw(dose, mix(content, volume), [barrel], vials=vials, route=route, limits=limits),
            route,
        )
        for volume in permitted_volumes([rule], (mixing.diluent for mixing in signed))
        for barrel in barrels
    )


def allowed_by(volume: Volume, rule: LabelRule, signed: Sequence[MixRule]) -> str:
    """Who permits this diluent volume: "label", "signed rule", "label and signed rule", or "" for nobody."""
    by = ["label"] * rule.prints(volume) + ["signed rule"] * any(mixing.diluent == volume for mixing in signed)
    return " and ".join(by)


def is_whole(dose: Dose, content: Dose) -> bool:
    """Whether the dose is a whole number of vials."""
    return divide(dose, content).denominator == 1


def part_allowed(dose: Dose, content: Dose, rule: LabelRule, volume: Volume, signed: Sequence[MixRule]) -> bool:
    """Whether a part of this mix may be given: the label does not want it all at once, or the signed rules permit the part.

    Two rules of which only one permits it permit nothing.
    """
    if is_whole(dose, content) or not rule.wants_entire(volume):
        return True
    of_this = [mixing.part_dose for mixing in signed if mixing.diluent == volume]
    return bool(of_this) and all(of_this)


def left_over(dose: Dose, content: Dose, rule: LabelRule, volume: Volume) -> str:
    """What becomes of the rest of this mix by the label."""
    if is_whole(dose, content):
        return "nothing is left"
    if rule.in_use_days is None or rule.wants_entire(volume) or not rule.prints(volume):
        return "the rest is thrown away"
    return f"the rest keeps {rule.in_use_days.text} refrigerated"


_SAME_FOR_EVERY_MIX = ("whole", "water-only", "other-medicine")


def worst_missteps(row: MixRow, dose: Dose, content: Dose, around: Around) -> tuple[Misstep | None, Misstep | None]:
    """The worst misstep of this combination by too much and by too little, apart from those that are the same for every mix."""
    if not row.on_a_line:
        return None, None
    found, _ = missteps(dose, mix(content, row.diluent), row.drawn, around)
    telling = [misstep for misstep in found if misstep.code not in _SAME_FOR_EVERY_MIX]
    much = [misstep for misstep in telling if misstep.way == "too much"]
    little = [misstep for misstep in telling if misstep.way == "too little"]
    return (much[0] if much else None), (little[0] if little else None)


def contradicting(signed: Sequence[MixRule]) -> tuple[Volume, ...]:
    """The diluent volumes for which one signed rule permits a part and another does not, smallest first."""
    by_volume: dict[Volume, set[bool]] = {}
    for mixing in signed:
        by_volume.setdefault(mixing.diluent, set()).add(mixing.part_dose)
    return tuple(sorted(volume for volume, parts in by_volume.items() if len(parts) > 1))


def ways_on_a_line(table: Sequence[MixRow]) -> str:
    """The combinations of the table that land on a line, in words: with a syringe at home, else with any known here."""
    ways = [f"{row.diluent} of diluent with {row.barrel.id}" for row in table if row.on_a_line]
    if ways:
        return ", ".join(ways)
    other = {row.diluent: row for row in table if row.part_allowed and row.drawn.volume is not None and not row.chosen}
    return ", ".join(
        f"{row.diluent} of diluent with a syringe that is not at home ({elsewhere})"
        for row in other.values()
        if row.drawn.volume is not None and (elsewhere := other_syringes(row.drawn.volume, (), row.route))
    )


def searched(table: Sequence[MixRow]) -> str:
    """Which diluent volumes the table tried, and which not, in words."""
    tried = dict.fromkeys(str(row.diluent) for row in table if row.part_allowed)
    barred = dict.fromkeys(str(row.diluent) for row in table if not row.part_allowed)
    parts = [f"diluent volumes tried: {', '.join(tried)}"] if tried else []
    parts += [f"not tried, as no part of that mix may be given: {', '.join(barred)}"] if barred else []
    return "; ".join(parts)
