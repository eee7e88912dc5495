"""The kit: what is really at home, as read off the boxes."""

import datetime as dt
from dataclasses import dataclass

from hourmark.clock import WallTime
from hourmark.formulary import Barrel, Product
from hourmark.quantity import Volume


@dataclass(frozen=True, slots=True)
class CartonCheck:
    """Strength, volume and route read from the box by two people."""

    by: tuple[str, str]
    at: WallTime


@dataclass(frozen=True, slots=True)
class KitProduct:
    """One kind of box: the product, the strength and mixing rule as read, the words on it verbatim, lot, expiry, how many.

    `opened` and `out_of_fridge` are the patient's clock times of the first puncture and of leaving the refrigerator.
    """

    product: Product
    strength: str
    label_rule: str | None = None
    words: str | None = None
    lot: str | None = None
    expiry: dt.date | None = None
    count: int = 1
    opened: WallTime | None = None
    out_of_fridge: WallTime | None = None
    carton_check: CartonCheck | None = None


@dataclass(frozen=True, slots=True)
class Diluent:
    """A vial or syringe of diluent: its kind and volume."""

    kind: str
    volume: Volume
    count: int = 1
    expiry: dt.date | None = None


@dataclass(frozen=True, slots=True)
class SyringeAtHome:
    """New syringes of one kind; `fixed_needle` None means as that kind usually comes."""

    barrel: Barrel
    count: int
    fixed_needle: bool | None = None

    @property
    def needle_fixed(self) -> bool:
        """Whether the needle cannot be taken off."""
        return self.barrel.needle_fixed if self.fixed_needle is None else self.fixed_needle


@dataclass(frozen=True, slots=True)
class Needle:
    """New needles of one gauge and length."""

    gauge: int
    length_mm: int
    count: int = 1


@dataclass(frozen=True, slots=True)
class Kit:
    """Everything at home for one case."""

    products: tuple[KitProduct, ...] = ()
    diluents: tuple[Diluent, ...] = ()
    syringes: tuple[SyringeAtHome, ...] = ()
    needles: tuple[Needle, ...] = ()
