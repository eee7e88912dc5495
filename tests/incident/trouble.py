"""Calling with trouble in invented nights: one case each, the answers in words."""

import tempfile
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

from hourmark.clock import Moment, Zone, moment, parse_span, parse_wall, parse_zone
from hourmark.exchange import read_night
from hourmark.finding import Finding
from hourmark.incident import Answer, Facts, Kind, Leg, Limits, answer, limits_of, read_facts, read_wall
from hourmark.order import Bands, Night
from hourmark.plan import CasePlan, plan_case, plan_night
from hourmark.quantity import parse_percent
from tests.exchange.nights import LEAD, POWDER, Change, changed, save, second_injection

CHICAGO = parse_zone("America/Chicago")
MORNING = "2026-11-19 08:00"
"""After everything was done, before the slot."""

OK = {"symptoms": "no"}

TWO = second_injection(
    changed(
        POWDER,
        (
            'stop = ["follitropin"]\n',
            'stop = ["follitropin"]\nsequence = ["agonist", "first"]\nlargest_gap = "15 min"\n',
        ),
        (
            "\n[[cases.kit.diluents]]",
            '\n[[cases.kit.products]]\nproduct = "leuprolide-5mg-per-ml-vial"\nstrength = "5 mg/mL"\nexpiry = 2027-02-28\n'
            "\n[[cases.kit.diluents]]",
        ),
    ),
    f'id = "agonist"\ndrug = "leuprolide acetate"\ndose = "4 mg"\nroute = "subcutaneous"\n{LEAD}',
)
"""An agonist and 1,000 units of hCG together."""

REPEAT = second_injection(
    changed(
        TWO,
        (
            'stop = ["follitropin"]\nsequence = ["agonist", "first"]\nlargest_gap = "15 min"\n',
            'stop = ["follitropin"]\n',
        ),
        (
            f'dose = "4 mg"\nroute = "subcutaneous"\n{LEAD}',
            'dose = "2 mg"\nroute = "subcutaneous"\nlead = "40 h"\nwindow = ["39 h", "41 h"]',
        ),
        ('strength = "5 mg/mL"\n', 'strength = "5 mg/mL"\ncount = 2\n'),
    ),
    'id = "repeat"\ndrug = "leuprolide acetate"\ndose = "2 mg"\nroute = "subcutaneous"\n'
    'after = { injection = "agonist", gap = "12 h", window = ["11 h", "13 h"] }',
)
"""An agonist at 40 h, hCG at 36 h, and the agonist again 12 h after the actual first."""


@cache
def night(text: str) -> Night:
    """The night that a text holds."""
    with tempfile.TemporaryDirectory() as folder:
        read = read_night(save(Path(folder), text))
    assert not isinstance(read, tuple), [f"{one.where}: {one.what}" for one in read]
    return read


@cache
def plan(text: str = POWDER) -> CasePlan:
    """The plan of its first case."""
    return plan_night(night(text)).cases[0]


def at(text: str, zone: Zone = CHICAGO) -> Moment:
    """A moment on the clock of a zone."""
    found = moment(parse_wall(text), zone)
    assert not isinstance(found, Finding)
    return found


def call(
    kind: Kind,
    said: dict[str, str] | None = None,
    *,
    base: str = POWDER,
    now: str = MORNING,
    limits: Limits | None = None,
    given_at: dict[str, str] | None = None,
    **more: Any,
) -> Answer:
    """The answer to what was said of the first case of a night; no sign of danger unless told."""
    facts: Facts = read_facts(kind, OK | (said or {}) | {key: str(value) for key, value in more.items()})
    confirmed = {name: at(text) for name, text in (given_at or {}).items()}
    signed = limits if limits is not None else limits_of(night(base).clinic.rules)
    return answer(plan(base), kind, facts, signed, at(now), confirmed)


def one_leg(found: Answer) -> Leg:
    """The injection that the call is about."""
    assert found.legs, [one.what for one in found.findings]
    return found.legs[0]


def codes(found: Answer) -> dict[str, str]:
    """The findings' codes, each with its worst level."""
    return {one.code: str(one.level) for one in reversed(found.findings)}


def signed_limits(bands: Bands | None = None, **changes: str) -> Limits:
    """Limits as a clinic might sign them: the night's own bands, and lateness and dose as told."""
    rules = night(POWDER).clinic.rules
    assert rules is not None
    return Limits(
        "clinic's rule, signed in a test",
        bands if bands is not None else rules.bands,
        late_noted=parse_span(changes["noted"]) if "noted" in changes else None,
        late_recomputed=parse_span(changes["anew"]) if "anew" in changes else None,
        dose=parse_percent(changes["dose"]) if "dose" in changes else None,
    )


def moved(slot: str, zone: str, patient_zone: str | None = None, base: str = POWDER) -> CasePlan:
    """The first case with its slot at another clock time, in another zone; everything signed long before."""
    whole = night(base)
    here, there = parse_zone(zone), parse_zone(patient_zone or zone)
    long_ago = parse_wall("2001-01-01 09:00")
    assert whole.clinic.rules is not None
    clinic = replace(whole.clinic, zone=here, rules=replace(whole.clinic.rules, signed_at=long_ago))
    case = whole.cases[0]
    case = replace(case, zone=there, order=replace(case.order, signed_at=long_ago), last_antagonist=None)
    at_slot = read_wall(slot)
    slot_at = moment(at_slot, here)
    assert not isinstance(slot_at, Finding)
    return plan_case(case, clinic, replace(whole.slots[0], at=at_slot), slot_at.before(parse_span("72 h")))


def with_window(least: str, most: str, base: str = POWDER) -> str:
    """The night with another window in its order."""
    change: Change = ('window = ["35 h", "37 h"]', f'window = ["{least}", "{most}"]')
    return changed(base, change)
