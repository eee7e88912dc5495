"""The mark: what is drawn from a vial, syringe or spray for one dose, on which printed line, and what stays behind. No clock."""

from hourmark.dose.draw import Drawn, Limits, Source, Spray, Syringe, Vial, draw, proposed_limits
from hourmark.dose.fills import Fill, How, lands_on_line
from hourmark.dose.mix import mix, permitted_volumes

__all__ = [
    "Drawn",
    "Fill",
    "How",
    "Limits",
    "Source",
    "Spray",
    "Syringe",
    "Vial",
    "draw",
    "lands_on_line",
    "mix",
    "permitted_volumes",
    "proposed_limits",
]
