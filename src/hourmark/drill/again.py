"""The same numbers a second time: from the words of the scene and of the night file, in decimals, by code that shares nothing with the first.

It imports nothing of ours but the time-zone reading of the recheck, which shares nothing with the plan either.
"""

import datetime as dt
import math
from collections.abc import Mapping
from decimal import Decimal
from typing import Any, TypeAlias

from hourmark.recheck.words import span, wall_instant, zone

Table: TypeAlias = Mapping[str, Any]
Range: TypeAlias = tuple[Decimal, Decimal]

_PARTS = {
    "none": ("0", "0"),
    "half": ("0.5", "0.5"),
    "a quarter to half": ("0.25", "0.5"),
}
_NOTHING_IN = ("missed", "water-only", "one-of-two")


class Unclear(ValueError):
    """Words of a scene that cannot be worked out this way."""


def again(kind: str, scene: Table, case: Table, night: Table) -> str:
    """The number of one scene in words. Raises Unclear."""
    match scene["wants"]:
        case "dose":
            return _dose(kind, scene, case, night)
        case "lead":
            return _hours(_instant(_slot(case, night), night["clinic"]["zone"]) - _went_in(kind, scene, case, night))
        case "mark":
            return _marks(scene, case, night)
        case "volume":
            return f"{_plain(_planned(_injection(scene, case), case, night))} mL"
        case "vials":
            return str(_vials(_injection(scene, case), case))
        case "minute":
            return _wall(_minute(_injection(scene, case), case, night), case["zone"])
        case "window":
            slot = _instant(_slot(case, night), night["clinic"]["zone"])
            ends = [slot - span(end) for end in reversed(_injection(scene, case)["window"])]
            return " to ".join(_wall(end, case["zone"]) for end in ends)
        case "second":
            gap = span(_injection(scene, case)["after"]["gap"])
            return _wall(_instant(scene["facts"]["at"], case["zone"]) + gap, case["zone"])
        case "rest":
            dose, holds = (_amount(scene["pen"][name]) for name in ("dose", "holds"))
            return f"{_plain(dose[0] - holds[0])} {dose[1]}"
        case "fasting":
            zone_name = night["clinic"]["zone"]
            hours = span(night["clinic"]["rules"]["fasting_solids"])
            return _wall(_instant(_slot(case, night), zone_name) - hours, zone_name)
        case other:
            raise Unclear(f"{other} is not worked out")


def _injection(scene: Table, case: Table) -> Table:
    return next(one for one in case["order"]["injections"] if one["id"] == scene["injection"])


def _slot(case: Table, night: Table) -> str:
    return str(next(one["at"] for one in night["slots"] if one["id"] == case["slot"]))


def _instant(wall: str, zone_name: str) -> dt.datetime:
    return wall_instant(wall, None, zone_name)


def _wall(at: dt.datetime, zone_name: str) -> str:
    return format(at.astimezone(zone(zone_name)), "%Y-%m-%d %H:%M")


def _minute(injection: Table, case: Table, night: Table) -> dt.datetime:
    return _instant(_slot(case, night), night["clinic"]["zone"]) - span(injection["lead"])


def _went_in(kind: str, scene: Table, case: Table, night: Table) -> dt.datetime:
    """When it went in; where nothing did, this minute."""
    if kind in _NOTHING_IN:
        return _instant(scene["now"], night["clinic"]["zone"])
    return _instant(scene["facts"]["at"], case["zone"])


def _hours(span: dt.timedelta) -> str:
    minutes = int(span.total_seconds() // 60)
    hours, rest = divmod(minutes, 60)
    return f"{hours} h {rest} min" if rest else f"{hours} h"


def _amount(text: str) -> tuple[Decimal, str]:
    number, _, unit = text.partition(" ")
    return Decimal(number.replace(",", "")), unit


def _plain(value: Decimal) -> str:
    text = f"{value:,f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _box(injection: Table, case: Table) -> Table:
    begins = "leuprolide" if injection["drug"].startswith("leuprolide") else "hcg"
    return next(box for box in case["kit"]["products"] if box["product"].startswith(begins))


def _water(injection: Table, case: Table, night: Table) -> Decimal:
    """How much water goes into each vial: as ordered, or else as the clinic signed for that product."""
    if "diluent" in injection:
        return _amount(injection["diluent"])[0]
    product = _box(injection, case)["product"]
    return next(_amount(mix["diluent"])[0] for mix in night["clinic"]["rules"]["mixes"] if mix["product"] == product)


def _per_ml(strength: str, water: Decimal | None) -> Decimal:
    amount, unit = _amount(strength)
    if unit.endswith("/mL"):
        return amount
    if water is None:
        raise Unclear("a powder without its water")
    return amount / water


def _liquid(injection: Table, case: Table) -> bool:
    return str(_box(injection, case)["strength"]).endswith("/mL")


def _vials(injection: Table, case: Table) -> int:
    if _liquid(injection, case):
        return 1
    return math.ceil(_amount(injection["dose"])[0] / _amount(_box(injection, case)["strength"])[0])


def _planned(injection: Table, case: Table, night: Table) -> Decimal:
    """The volume of the ordered dose, in mL."""
    water = None if _liquid(injection, case) else _water(injection, case, night)
    return _amount(injection["dose"])[0] / _per_ml(_box(injection, case)["strength"], water)


def _marks(scene: Table, case: Table, night: Table) -> str:
    """The mark of each fill, as equal as may be, on the first kind of syringe at home."""
    volume = _planned(_injection(scene, case), case, night)
    scale, capacity, _ = case["kit"]["syringes"][0]["syringe"].split("-")
    fills = math.ceil(volume / Decimal(capacity.removesuffix("mL")))
    mark = volume / fills * (100 if scale == "u100" else 1)
    return " + ".join([_plain(mark)] * fills)


def _dose(kind: str, scene: Table, case: Table, night: Table) -> str:
    injection, facts = _injection(scene, case), scene["facts"]
    unit = _amount(injection["dose"])[1]
    if kind in _NOTHING_IN or facts.get("instead") == "yes":
        return f"0 {unit}"
    liquid = facts.get("strength", _box(injection, case)["strength"]).endswith("/mL")
    water = None if liquid else _amount(facts["water"])[0] if "water" in facts else _water(injection, case, night)
    per_ml = _per_ml(facts.get("strength", _box(injection, case)["strength"]), water)
    drawn = _drawn(injection, facts, water, case, night)
    less, more = (Decimal(end) for end in _PARTS[facts.get("lost", "none")])
    times = Decimal(facts.get("times", "1"))
    least, most = (per_ml * drawn * times * (1 - part) for part in (more, less))
    return f"{_plain(least)} {unit}" if least == most else f"{_plain(least)} to {_plain(most)} {unit}"


def _drawn(injection: Table, facts: Table, water: Decimal | None, case: Table, night: Table) -> Decimal:
    if "drawn" in facts:
        return _amount(facts["drawn"])[0]
    if "residue" in facts and water is not None:
        return water * _vials(injection, case) - _amount(facts["residue"])[0]
    return _planned(injection, case, night)
