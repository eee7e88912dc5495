"""The kinds of amount. Kinds never mix: a volume is not a mark, and international units are not a mass."""

from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal, Self, TypeAlias

from hourmark.quantity.numbers import number_text, rounded_text


@dataclass(frozen=True, slots=True, order=True)
class _Amount:
    value: Fraction

    def __add__(self, other: Self) -> Self:
        self._same_kind(other)
        return type(self)(self.value + other.value)

    def __sub__(self, other: Self) -> Self:
        self._same_kind(other)
        return type(self)(self.value - other.value)

    def __mul__(self, times: int | Fraction) -> Self:
        return type(self)(self.value * times)

    def __bool__(self) -> bool:
        return self.value != 0

    def _same_kind(self, other: "_Amount") -> None:
        if type(other) is not type(self):
            raise TypeError(f"{type(self).__name__} and {type(other).__name__} are different kinds of amount")


class Volume(_Amount):
    """A volume of liquid; `value` in millilitres."""

    __slots__ = ()

    def __str__(self) -> str:
        """The volume as printed: "0.5 mL"."""
        return f"{number_text(self.value)} mL"


class Units(_Amount):
    """International units of a drug; never the lines on a barrel."""

    __slots__ = ()

    def __str__(self) -> str:
        """The dose as printed: "2,500 units"."""
        return f"{number_text(self.value)} {'unit' if self.value == 1 else 'units'}"


@dataclass(frozen=True, slots=True, order=True)
class Mass(_Amount):
    """A mass of a drug; `value` in micrograms. `shown` is the unit it was ordered in and does not take part in comparing."""

    shown: Literal["mg", "mcg"] = field(default="mcg", compare=False)

    def __add__(self, other: Self) -> Self:
        """The sum, shown as the left side is."""
        self._same_kind(other)
        return type(self)(self.value + other.value, self.shown)

    def __sub__(self, other: Self) -> Self:
        """The difference, shown as the left side is."""
        self._same_kind(other)
        return type(self)(self.value - other.value, self.shown)

    def __mul__(self, times: int | Fraction) -> Self:
        """The product, shown as this mass is."""
        return type(self)(self.value * times, self.shown)

    def __str__(self) -> str:
        """The dose as printed: "250 mcg" or "4 mg"."""
        return f"{number_text(self.value / 1000 if self.shown == 'mg' else self.value)} {self.shown}"


Dose: TypeAlias = Mass | Units


@dataclass(frozen=True, slots=True)
class Concentration:
    """A dose in each millilitre."""

    per_ml: Dose

    def volume_of(self, dose: Dose) -> Volume:
        """The volume that carries `dose`. Raises TypeError when one is a mass and the other international units."""
        return Volume(divide(dose, self.per_ml))

    def dose_in(self, volume: Volume) -> Dose:
        """The dose that `volume` carries."""
        return self.per_ml * volume.value

    def __str__(self) -> str:
        """The concentration as printed: "5 mg/mL" or "5,000 units/mL"."""
        return f"{self.per_ml}/mL"


@dataclass(frozen=True, slots=True, order=True)
class Mark:
    """A place on a barrel's own printed scale; a bare number, because on a U-100 barrel it is neither mL nor a dose."""

    value: Fraction

    def __str__(self) -> str:
        """The number as printed on that barrel: "12.5"."""
        return number_text(self.value)


@dataclass(frozen=True, slots=True, order=True)
class Share:
    """A part of a whole; `value` 1 is the whole."""

    value: Fraction

    def __str__(self) -> str:
        """Percent with at most one decimal, half up: "24.5 %"."""
        return f"{rounded_text(self.value * 100, 1)} %"

    def signed(self) -> str:
        """Percent with its sign, for a difference: "-4 %" or "+4 %"."""
        text = str(self)
        return text if self.value <= 0 or text == "0 %" else f"+{text}"


def shown_like(dose: Dose, ordered: Dose) -> Dose:
    """The same dose in the unit in which `ordered` is shown: mg or mcg. International units stay as they are."""
    return Mass(dose.value, ordered.shown) if isinstance(dose, Mass) and isinstance(ordered, Mass) else dose


def divide(part: Dose, whole: Dose) -> Fraction:
    """How many times `whole` goes into `part`. Raises TypeError when the two are of different kinds."""
    part._same_kind(whole)
    return part.value / whole.value
