"""The mix table: every permitted diluent volume with every syringe at home, so that nothing is chosen silently."""

from collections.abc import Sequence
from dataclasses import dataclass

from hourmark.dose import Drawn, Limits, draw, mix, permitted_volumes
from hourmark.formulary import Barrel, LabelRule
from hourmark.order import MixRule
from hourmark.quantity import Dose, Volume


@dataclass(frozen=True, slots=True)
class MixRow:
    """One permitted diluent volume with one barrel: what would be drawn, or why not. `allowed_by` is "label", "signed rule" or both."""

    diluent: Volume
    allowed_by: str
    chosen: bool
    barrel: Barrel
    drawn: Drawn

    @property
    def on_a_line(self) -> bool:
        """Whether this combination can be given."""
        return not self.drawn.stopped


def mix_table(
    dose: Dose,
    content: Dose,
    rule: LabelRule,
    signed: Sequence[MixRule],
    chosen: Volume | None,
    barrels: Sequence[Barrel],
    vials: int,
    limits: Limits | None = None,
) -> tuple[MixRow, ...]:
    """Every permitted diluent volume x barrel, smallest volume first; barrels in the order given."""
    return tuple(
        MixRow(
            volume,
            allowed_by(volume, rule, signed),
            volume == chosen,
            barrel,
            draw(dose, mix(content, volume), [barrel], vials=vials, limits=limits),
        )
        for volume in permitted_volumes([rule], (mixing.diluent for mixing in signed))
        for barrel in barrels
    )


def allowed_by(volume: Volume, rule: LabelRule, signed: Sequence[MixRule]) -> str:
    """Who permits this diluent volume: "label", "signed rule", "label and signed rule", or "" for nobody."""
    by = ["label"] * rule.prints(volume) + ["signed rule"] * any(mixing.diluent == volume for mixing in signed)
    return " and ".join(by)


def ways_on_a_line(table: Sequence[MixRow]) -> str:
    """The combinations of the table that land on a line, in words."""
    ways = [f"{row.diluent} of diluent with {row.barrel.id}" for row in table if row.on_a_line]
    return ", ".join(ways)
