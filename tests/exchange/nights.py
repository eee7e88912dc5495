"""Invented nights of one case each, to be changed by replacing pieces of their text."""

import json
from pathlib import Path
from typing import Any

from hourmark.exchange import plan_json, read_night
from hourmark.finding import Finding
from hourmark.plan import plan_night

Change = tuple[str, str]

_HEAD = """schema = 1
as_of = "2026-11-18 14:30"

[clinic]
name = "Invented clinic"
zone = "America/Chicago"

[[clinic.phones]]
number = "+1 555 0100"
days = ["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"]
opens = "00:00"
closes = "00:00"

[clinic.rules]
signed_by = "Dr. O. Brandt"
signed_at = "2026-10-05 09:00"
tell_by = "3 h"
lay_out = "60 min"
mixing = "20 min"
morning_sample = ["8 h", "14 h"]
arrival = "60 min"
fasting_solids = "8 h"
fasting_clear = "2 h"
tolerance_note = "10 %"
tolerance_warn = "20 %"

[clinic.rules.technique]
bubbles = "push out"
dissolve_seconds = 60
wait_seconds = 10
skin = "wipe"
drying_seconds = 30

[clinic.rules.bands]
standard = { ok = ["35 h", "37 h"], note = ["34 h", "38 h"], warn = ["32 h", "40 h"] }
long_agonist = { ok = ["35 h", "38 h"], note = ["34 h", "39 h"], warn = ["33 h", "41 h"] }
double_agonist = { ok = ["39 h", "41 h"], note = ["38 h", "42 h"], warn = ["37 h", "43 h"] }
double_hcg = { ok = ["33.5 h", "35 h"], note = ["33 h", "36 h"], warn = ["32 h", "37 h"] }

[[clinic.rules.mixes]]
product = "hcg-10000-units"
diluent = "2 mL"
part_dose = true
chosen = true

[[slots]]
id = "s1"
at = "2026-11-20 09:00"
room = "Room 1"

[[cases]]
id = "K-1"
slot = "s1"
zone = "America/Chicago"
lh = "2 units/L"
last_antagonist = { drug = "ganirelix", at = "2026-11-18 08:00" }

[cases.order]
purpose = "trigger"
signed_by = "Dr. L. Aumont"
signed_at = "2026-11-18 13:00"
cycle = "antagonist"
stop = ["follitropin"]
"""

LEAD = 'lead = "36 h"\nwindow = ["35 h", "37 h"]'

SOLUTION = (
    _HEAD
    + f"""
[[cases.order.injections]]
id = "first"
drug = "leuprolide acetate"
dose = "4 mg"
route = "subcutaneous"
{LEAD}

[cases.kit]

[[cases.kit.products]]
product = "leuprolide-5mg-per-ml-vial"
strength = "5 mg/mL"
expiry = 2027-02-28

[[cases.kit.syringes]]
syringe = "u100-1mL-1"
count = 3
"""
)
"""4 mg of an agonist from a ready solution, to mark 80 of a unit syringe; nothing at all to say."""

POWDER = (
    _HEAD
    + f"""
[[cases.order.injections]]
id = "first"
drug = "chorionic gonadotropin"
dose = "1,000 units"
route = "subcutaneous"
route_confirmed_by = "Dr. L. Aumont"
{LEAD}

[cases.kit]

[[cases.kit.products]]
product = "hcg-10000-units"
strength = "10,000 units"
label_rule = "10 mL only"
expiry = 2027-02-28

[[cases.kit.diluents]]
kind = "bacteriostatic water"
volume = "10 mL"
expiry = 2027-02-28

[[cases.kit.syringes]]
syringe = "u100-1mL-1"
count = 3

[[cases.kit.syringes]]
syringe = "mL-3-0.1"
count = 2

[[cases.kit.needles]]
gauge = 20
length = "38 mm"
"""
)
"""1,000 of 10,000 units, mixed with 2 mL by a signed rule, to mark 20 of a unit syringe; only notes to say."""

WHOLE = (
    _HEAD
    + f"""
[[cases.order.injections]]
id = "first"
drug = "chorionic gonadotropin"
dose = "5,000 units"
route = "subcutaneous"
{LEAD}

[cases.kit]

[[cases.kit.products]]
product = "hcg-5000-units-saline"
strength = "5,000 units"
expiry = 2027-02-28

[[cases.kit.diluents]]
kind = "saline"
volume = "1 mL"
expiry = 2027-02-28

[[cases.kit.syringes]]
syringe = "mL-2-0.1"
count = 3

[[cases.kit.needles]]
gauge = 21
length = "38 mm"
count = 2

[[cases.kit.needles]]
gauge = 27
length = "13 mm"
"""
)
"""A whole vial of 5,000 units in 1 mL; only a note to say."""

PREFILLED = (
    _HEAD
    + f"""
[[cases.order.injections]]
id = "first"
drug = "choriogonadotropin alfa"
dose = "250 mcg"
route = "subcutaneous"
{LEAD}

[cases.kit]

[[cases.kit.products]]
product = "choriogonadotropin-alfa-250mcg-syringe"
strength = "250 mcg"
expiry = 2027-02-28
"""
)
"""One prefilled syringe; nothing at all to say."""

NASAL = (
    _HEAD
    + f"""
[[cases.order.injections]]
id = "first"
drug = "nafarelin"
dose = "400 mcg"
route = "nasal"
{LEAD}

[cases.kit]

[[cases.kit.products]]
product = "nafarelin-200mcg-spray"
strength = "200 mcg"
expiry = 2027-02-28
"""
)
"""Two sprays into the nose; only a note to say."""

SECOND_SYRINGE = """
[[cases.kit.products]]
product = "choriogonadotropin-alfa-250mcg-syringe"
strength = "250 mcg"
expiry = 2027-02-28
"""

CLOCK_CHANGE: tuple[Change, ...] = (
    ('as_of = "2026-11-18 14:30"', 'as_of = "2026-10-30 14:30"'),
    ('"2026-11-18 13:00"', '"2026-10-30 13:00"'),
    ('"2026-11-18 08:00"', '"2026-10-30 20:00"'),
    ('at = "2026-11-20 09:00"', 'at = "2026-11-02 10:00"'),
)
"""Moves a night to the week-end on which clocks in the United States go back."""


def changed(base: str, *changes: Change) -> str:
    """The night with each old piece, which must stand in it exactly once, replaced by the new."""
    for old, new in changes:
        assert base.count(old) == 1, f"{base.count(old)} times: {old!r}"
        base = base.replace(old, new)
    return base


def second_injection(base: str, text: str) -> str:
    """The night with another injection in its order."""
    return changed(base, ("\n[cases.kit]\n", f"\n[[cases.order.injections]]\n{text}\n\n[cases.kit]\n"))


def save(folder: Path, text: str) -> Path:
    path = folder / "night.toml"
    path.write_text(text, encoding="utf-8")
    return path


def planned(folder: Path, text: str) -> dict[str, Any]:
    """The plan of a night file, as the JSON that other programs read."""
    night = read_night(save(folder, text))
    assert not isinstance(night, tuple), [f"{finding.where}: {finding.what}" for finding in night]
    answer: dict[str, Any] = json.loads(json.dumps(plan_json(plan_night(night))))
    return answer


def refused(folder: Path, text: str) -> tuple[Finding, ...]:
    """The findings on a night file that cannot be read."""
    night = read_night(save(folder, text))
    assert isinstance(night, tuple), "this night was read"
    return night


def levels(plan: dict[str, Any]) -> dict[str, str]:
    """The level of every code in a plan."""
    return {finding["code"]: finding["level"] for finding in plan["findings"]}


def line_of(text: str, piece: str) -> int:
    """The line, from 1, on which a piece of the text begins."""
    assert text.count(piece) == 1, piece
    return text[: text.index(piece)].count("\n") + 1
