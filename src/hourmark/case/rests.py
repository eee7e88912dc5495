"""What a sheet rests on, said in one place: each part under a name with its digest, so that a change voids exactly what rested on it."""

import hashlib
from collections.abc import Iterable, Mapping
from typing import Any

from hourmark.case.events import SheetVoided, Table
from hourmark.case.state import CaseState
from hourmark.ledger import Value, canonical

GENERAL_RULES = (
    "tell_by",
    "lay_out",
    "mixing",
    "arrival",
    "fasting_solids",
    "fasting_clear",
    "tolerance_note",
    "tolerance_warn",
    "technique",
    "checkers",
)
"""The signed rules on which every sheet rests. Not among them: the morning sample, which no sheet tells."""

_APART = {"signed_by", "signed_at", "bands", "mixes", "languages"}


def clinic_parts(clinic: Table) -> dict[str, Value]:
    """The parts of a clinic's signed rules that can change one without the other, each under its name."""
    table: dict[str, Any] = clinic
    rules: dict[str, Any] = table.get("rules") or {}
    parts: dict[str, Value] = {"clinic": [table.get("name"), table.get("zone")], "phones": table.get("phones")}
    parts |= {f"rules.{name}": value for name, value in rules.items() if name not in _APART}
    parts |= {f"rules.bands.{name}": band for name, band in (rules.get("bands") or {}).items()}
    for mix in rules.get("mixes") or []:
        name = f"rules.mixes.{mix['product']}"
        parts[name] = [*(parts.get(name) or []), mix]  # type: ignore[misc]
    parts |= {f"rules.languages.{code}": True for code in rules.get("languages") or []}
    parts |= {f"barrels.{one['syringe']}": one for one in table.get("barrels") or []}
    return parts


def case_parts(state: CaseState) -> dict[str, Value]:
    """The parts of a case on which its sheet rests."""
    return {
        "details": state.details,
        "slot": state.slot.slot if state.slot else None,
        "order": state.order.event.order if state.order else None,
        "kit": state.kit.kit if state.kit else None,
    }


def rests_on(state: CaseState, clinic: Table, bands: Iterable[str]) -> dict[str, str]:
    """What a sheet made of this case now rests on: the name of each part, and its digest. `bands` are those that judge its leads."""
    kit: dict[str, Any] = state.kit.kit if state.kit else {}
    language = state.details.get("language", "en")
    names = [
        "clinic",
        "phones",
        *(f"rules.{name}" for name in GENERAL_RULES),
        *(f"rules.bands.{name}" for name in bands),
        *(f"rules.mixes.{box['product']}" for box in kit.get("products") or []),
        *(f"barrels.{one['syringe']}" for one in kit.get("syringes") or []),
        *([f"rules.languages.{language}"] if language != "en" else []),
    ]
    parts = clinic_parts(clinic)
    return part_digests({name: parts.get(name) for name in names} | case_parts(state))


def part_digests(parts: Mapping[str, Value]) -> dict[str, str]:
    """The digest of each part."""
    return {name: hashlib.sha256(canonical(part)).hexdigest() for name, part in sorted(parts.items())}


def voided_by(state: CaseState, parts: Mapping[str, Value], why: str) -> tuple[SheetVoided, ...]:
    """That the case's sheet is void, where one of these parts as it now is differs from what the sheet rested on."""
    return _voided(state, part_digests(parts), why)


def voided_by_clinic(state: CaseState, clinic: Table, why: str) -> tuple[SheetVoided, ...]:
    """The same for rules signed anew: a part that is there no more has changed as well."""
    parts = clinic_parts(clinic)
    resting = [] if state.sheet is None else state.sheet.event.rests_on
    ours = {name: parts.get(name) for name in resting if name not in case_parts(state)}
    return _voided(state, part_digests(ours), why)


def _voided(state: CaseState, now: Mapping[str, str], why: str) -> tuple[SheetVoided, ...]:
    sheet = state.sheet
    if sheet is None:
        return ()
    changed = tuple(name for name in sorted(now) if sheet.event.rests_on.get(name, now[name]) != now[name])
    return (SheetVoided(sheet.event.version, changed, why),) if changed else ()
