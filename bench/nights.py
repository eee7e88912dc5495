"""Invented night files of any size: cases that differ in product, dose, zone and kit, the same on every run."""

import datetime as dt
import random

SEED = 7886
ZONES = (
    "America/Chicago",
    "America/New_York",
    "America/Vancouver",
    "America/Phoenix",
    "America/Santiago",
    "Europe/London",
    "Europe/Madrid",
    "Africa/Casablanca",
    "Asia/Kolkata",
    "Asia/Kathmandu",
    "Australia/Lord_Howe",
    "Pacific/Auckland",
)
BARRELS = (
    "u100-0.3mL-0.5",
    "u100-0.3mL-1",
    "u100-0.5mL-1",
    "u100-1mL-1",
    "u100-1mL-2",
    "mL-1-0.01",
    "mL-2-0.1",
    "mL-2.5-0.1",
    "mL-3-0.1",
    "mL-5-0.2",
    "mL-10-0.2",
    "mL-10-0.5",
)

HEAD = """schema = 1
as_of = "2026-11-18 09:00"

[clinic]
name = "Quillmere Fertility Clinic (invented)"
zone = "America/Chicago"

[clinic.rules]
signed_by = "Dr. O. Brandt, medical lead"
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

[clinic.rules.bands]
standard = { ok = ["35 h", "37 h"], note = ["34 h", "38 h"], warn = ["32 h", "40 h"] }
double_agonist = { ok = ["39 h", "41 h"], note = ["38 h", "42 h"], warn = ["37 h", "43 h"] }
double_hcg = { ok = ["33.5 h", "35 h"], note = ["33 h", "36 h"], warn = ["32 h", "37 h"] }

[[clinic.rules.mixes]]
product = "hcg-10000-units"
diluent = "2 mL"
part_dose = true
chosen = true
"""

INJECTION = """
[[cases.order.injections]]
id = "{id}"
drug = "{drug}"
dose = "{dose}"
route = "{route}"
lead = "{lead} h"
window = ["{least} h", "{most} h"]
"""
PRODUCT = """
[[cases.kit.products]]
product = "{product}"
strength = "{strength}"
lot = "{lot}"
expiry = 2027-06-30
"""

Injection = dict[str, str]
AGONIST = {"id": "agonist", "drug": "leuprolide acetate", "route": "subcutaneous"}
VIAL = {"product": "leuprolide-5mg-per-ml-vial", "strength": "5 mg/mL"}
HCG = {"id": "hcg", "drug": "chorionic gonadotropin", "route": "intramuscular"}
POWDER = {"product": "hcg-10000-units", "strength": "10,000 units"}


def recipe(chance: random.Random) -> list[tuple[Injection, Injection]]:
    """What is ordered, and the box it comes from."""
    agonist = (AGONIST | {"dose": f"{chance.choice(['1', '2', '3', '4'])} mg"}, VIAL)
    part = (HCG | {"dose": f"{chance.choice(['1,000', '1,500', '2,500'])} units"}, POWDER)
    whole = (
        HCG | {"dose": "5,000 units"},
        {"product": "hcg-5000-units-saline", "strength": "5,000 units"},
    )
    prefilled = (
        {"id": "hcg", "drug": "choriogonadotropin alfa", "route": "subcutaneous", "dose": "250 mcg"},
        {"product": "choriogonadotropin-alfa-250mcg-syringe", "strength": "250 mcg"},
    )
    nasal = (
        {"id": "agonist", "drug": "nafarelin", "route": "nasal", "dose": "400 mcg"},
        {"product": "nafarelin-200mcg-spray", "strength": "200 mcg"},
    )
    return chance.choice([[agonist], [part], [whole], [prefilled], [nasal], [agonist, part], [agonist, prefilled]])


def case(number: int, chance: random.Random) -> str:
    """One `[[cases]]` table."""
    ordered = recipe(chance)
    lead = chance.choice(["35", "36", "36.5"])
    together = 'sequence = ["agonist", "hcg"]\nlargest_gap = "15 min"\n' if len(ordered) > 1 else ""
    text = f"""
[[cases]]
id = "K-{number}"
slot = "s{number}"
zone = "{chance.choice(ZONES)}"
last_antagonist = {{ drug = "ganirelix", at = "2026-11-18 08:00" }}

[cases.order]
purpose = "trigger"
signed_by = "Dr. L. Aumont"
signed_at = "2026-11-18 08:30"
cycle = "antagonist"
stop = ["ganirelix", "follitropin"]
{together}"""
    text += "".join(INJECTION.format(**injection, lead=lead, least=34, most=38) for injection, _ in ordered)
    text += "\n[cases.kit]\n"
    text += "".join(PRODUCT.format(**box, lot=f"L{number}") for _, box in ordered)
    for kind in ("bacteriostatic water", "saline"):
        text += f'\n[[cases.kit.diluents]]\nkind = "{kind}"\nvolume = "10 mL"\nexpiry = 2027-06-30\n'
    for barrel in chance.sample(BARRELS, chance.randrange(1, 6)):
        text += f'\n[[cases.kit.syringes]]\nsyringe = "{barrel}"\ncount = {chance.randrange(1, 6)}\n'
    for gauge in (20, 22, 30):
        text += f'\n[[cases.kit.needles]]\ngauge = {gauge}\nlength = "{13 if gauge == 30 else 38} mm"\ncount = 3\n'
    return text


def night(cases: int) -> str:
    """A night file of that many cases, each with a slot and a room of its own."""
    chance = random.Random(SEED)
    first = dt.datetime(2026, 11, 20, 7)
    slots = [
        f'\n[[slots]]\nid = "s{number}"\nat = "{first + dt.timedelta(minutes=number % 600):%Y-%m-%d %H:%M}"\n'
        f'room = "Room {number}"\n'
        for number in range(cases)
    ]
    return HEAD + "".join(slots) + "".join(case(number, chance) for number in range(cases))
