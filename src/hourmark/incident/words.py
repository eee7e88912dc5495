"""Ranges in words: one value where both ends are equal."""

from typing import Any

from hourmark.clock import Moment, Span, said
from hourmark.dose import Between, Given
from hourmark.incident.leg import Another, Spare
from hourmark.quantity import Share


def either(least: Any, most: Any) -> str:
    """One value, or two with "to" between."""
    return str(least) if least == most else f"{least} to {most}"


def _of_one_unit(least: Any, most: Any) -> str:
    """The same, with a unit that both have said one time."""
    (number, _, unit), (_, _, other) = str(least).rpartition(" "), str(most).rpartition(" ")
    return f"{number} to {most}" if least != most and unit == other else either(least, most)


def volumes(between: Between) -> str:
    """A volume: "0.2 mL" or "0.2 to 0.3 mL"."""
    return _of_one_unit(between.least, between.most)


def doses(given: Given) -> str:
    """A dose: "1,500 units" or "100 to about 133.3 units"."""
    return _of_one_unit(given.least, given.most)


def shares(ends: tuple[Share, Share]) -> str:
    """A share of the order: "150 %" or "10 to 13.3 %"."""
    return _of_one_unit(*ends)


def spans(ends: tuple[Span, Span]) -> str:
    """Elapsed time: "32 h" or "32 h to 33 h 30 min"."""
    return either(*ends)


def unopened(spare: Spare) -> str:
    """How many unopened are left at home: "2 x ..."; where something is taken for granted, about how many and by what."""
    count = f"{either(spare.least, spare.most)} x {spare.of}"
    return f"about {count} (if {'; if '.join(spare.assumed)})" if spare.assumed else count


def instead(another: Another) -> str:
    """What was taken in the place of the ordered medicine, as it was told: "leuprolide acetate, 0.8 mL, 4 mg"."""
    parts = [another.drug]
    parts += [volumes(another.volume)] if another.volume is not None else ["how much is not known"]
    parts += [doses(another.amount)] if another.amount is not None else []
    parts += ["not injected"] if another.injected is False else []
    return ", ".join(parts)


def instead_at(another: Another) -> str | None:
    """When it went in and how long that was before the slot; None where nobody said so."""
    if another.at is None:
        return None
    before = f", {spans(another.to_slot)} before the slot" if another.to_slot is not None else ""
    return f"{moments(another.at)}{before}"


def moments(ends: tuple[Moment, Moment]) -> str:
    """A clock time as it is read out, or two."""
    first, last = (said(one) for one in ends)
    return first if first == last else f"between {first} and {last}"
