"""What was ordered and what is really there: orders, kits, slots, signed rules and the night that holds them."""

from hourmark.order.clinic import Band, Bands, Clinic, Day, MeasuredBarrel, MixRule, Phone, Rules, Slot, TroubleLimits
from hourmark.order.kit import CartonCheck, Diluent, Kit, KitProduct, Needle, SyringeAtHome
from hourmark.order.night import Case, LastAntagonist, Night
from hourmark.order.order import ROUTES, After, ClockTime, Cycle, Injection, Lead, Order, Override, Purpose, Timing
from hourmark.order.technique import Bubbles, Skin, Technique

__all__ = [
    "ROUTES",
    "After",
    "Band",
    "Bands",
    "Bubbles",
    "CartonCheck",
    "Case",
    "Clinic",
    "ClockTime",
    "Cycle",
    "Day",
    "Diluent",
    "Injection",
    "Kit",
    "KitProduct",
    "LastAntagonist",
    "Lead",
    "MeasuredBarrel",
    "MixRule",
    "Needle",
    "Night",
    "Order",
    "Override",
    "Phone",
    "Purpose",
    "Rules",
    "Skin",
    "Slot",
    "SyringeAtHome",
    "Technique",
    "Timing",
    "TroubleLimits",
]
