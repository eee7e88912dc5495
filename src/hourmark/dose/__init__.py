"""The mark: what is drawn from a vial, syringe or spray for one dose, on which printed line, and what stays behind. No clock."""

from hourmark.dose.draw import Drawn, Limits, Source, Spray, Syringe, Vial, draw, proposed_limits
from hourmark.dose.fills import Fill, How, lands_on_line
from hourmark.dose.given import Between, Given, WentIn, dose_given, exactly
from hourmark.dose.missteps import Around, LeftOut, Misstep, OtherMedicine, missteps, worst
from hourmark.dose.mix import mix, permitted_volumes

__all__ = [
    "Around",
    "Between",
    "Drawn",
    "Fill",
    "Given",
    "How",
    "LeftOut",
    "Limits",
    "Misstep",
    "OtherMedicine",
    "Source",
    "Spray",
    "Syringe",
    "Vial",
    "WentIn",
    "dose_given",
    "draw",
    "exactly",
    "lands_on_line",
    "missteps",
    "mix",
    "permitted_volumes",
    "proposed_limits",
    "worst",
]
