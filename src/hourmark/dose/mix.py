"""Mixing: a powder and a chosen volume of diluent give a concentration."""

from collections.abc import Iterable

from hourmark.dose.draw import Vial
from hourmark.formulary import LabelRule
from hourmark.quantity import Concentration, Dose, Volume


def mix(content: Dose, diluent: Volume) -> Vial:
    """A vial of powder with `content` after adding `diluent`.

    No label read so far states a displacement for these powders, so the mixed volume is the diluent's; where the whole vial
    is given this does not matter. Raises ValueError for no diluent at all.
    """
    if not diluent:
        raise ValueError("a powder needs diluent")
    return Vial(Concentration(content * (1 / diluent.value)), holds=diluent, content=content)


def permitted_volumes(rules: Iterable[LabelRule], signed: Iterable[Volume] = ()) -> tuple[Volume, ...]:
    """Every diluent volume that a label prints or a signed rule adds, smallest first."""
    return tuple(sorted({volume for rule in rules for volume in rule.volumes} | set(signed)))
