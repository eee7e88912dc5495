"""A night: one clinic's slots and cases as they stand at one moment."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from hourmark.clock import WallTime, Zone
from hourmark.formulary import Drug
from hourmark.order.clinic import Clinic, Slot
from hourmark.order.kit import Kit
from hourmark.order.order import Order


@dataclass(frozen=True, slots=True)
class LastAntagonist:
    """The last antagonist injection, on the patient's clock."""

    drug: Drug
    at: WallTime


@dataclass(frozen=True, slots=True)
class Case:
    """One person's cycle on this night. `zone` is where she will be; `helper` names whoever injects in her place.

    left_handed: the hand of whoever injects.
    weight as entered; bmi in kg/m2; follicles as counted; e2 in pg/mL; lh in units/L.
    """

    id: str
    zone: Zone
    order: Order
    kit: Kit
    slot: str | None = None
    helper: str | None = None
    allergies: tuple[str, ...] = ()
    weight: str | None = None
    bmi: Fraction | None = None
    follicles: int | None = None
    e2: Fraction | None = None
    lh: Fraction | None = None
    last_antagonist: LastAntagonist | None = None
    language: str = "en"
    left_handed: bool = False


@dataclass(frozen=True, slots=True)
class Night:
    """Everything a night file holds; `written` is the file's own table, as it was before anything was read from it."""

    as_of: WallTime
    clinic: Clinic
    slots: tuple[Slot, ...]
    cases: tuple[Case, ...]
    written: Mapping[str, Any] = field(default_factory=dict, compare=False, repr=False)

    def slot(self, slot_id: str | None) -> Slot | None:
        """The slot of that id."""
        return next((slot for slot in self.slots if slot.id == slot_id), None)
