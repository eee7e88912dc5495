"""Amounts in exact arithmetic: volumes, masses, international units, concentrations, marks and shares, and their words."""

from hourmark.quantity.amounts import Concentration, Dose, Mark, Mass, Share, Units, Volume, divide, shown_like
from hourmark.quantity.numbers import number_text, parse_number
from hourmark.quantity.reading import parse_amount, parse_concentration, parse_dose, parse_percent, parse_volume

__all__ = [
    "Concentration",
    "Dose",
    "Mark",
    "Mass",
    "Share",
    "Units",
    "Volume",
    "divide",
    "number_text",
    "parse_amount",
    "parse_concentration",
    "parse_dose",
    "parse_number",
    "parse_percent",
    "parse_volume",
    "shown_like",
]
