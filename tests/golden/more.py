"""More changed nights, each of which goes a way that no quiet night and no night of one finding goes."""

from tests.exchange.nights import LEAD, POWDER, PREFILLED, SOLUTION, WHOLE, Change, changed, second_injection
from tests.exchange.test_findings import REPEAT, TOGETHER

VIAL = '[[cases.kit.products]]\nproduct = "leuprolide-5mg-per-ml-vial"\nstrength = "5 mg/mL"\nexpiry = 2027-02-28\n'
CHECK = 'carton_check = { by = ["R. Aster", "L. Birch"], at = "2026-11-17 10:00" }\n'
CHECK_LATER = CHECK.replace("17 10:00", "16 09:00")


def lots(first: str, second: str) -> tuple[Change, ...]:
    """Two lots of the same vial, each with something of its own."""
    return ((VIAL, f"{VIAL}{first}\n{VIAL}{second}"),)


def two_agonists(vials: int, syringes: int) -> str:
    """4 mg twice, 12 h apart, from so many vials with so many syringes."""
    return changed(
        second_injection(
            SOLUTION,
            'id = "second"\ndrug = "leuprolide acetate"\ndose = "2 mg"\nroute = "subcutaneous"\n'
            'after = { injection = "first", gap = "12 h", window = ["11 h", "13 h"] }',
        ),
        ("expiry = 2027-02-28\n", f"expiry = 2027-02-28\ncount = {vials}\n"),
        ("count = 3", f"count = {syringes}"),
    )


def dosed(text: str) -> Change:
    return 'dose = "4 mg"', f'dose = "{text}"'


ALLERGY = 'zone = "America/Chicago"\nlh'
PHONE = """[[clinic.phones]]
number = "+1 555 0100"
days = ["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"]
opens = "00:00"
closes = "00:00"
"""
NEEDLES = '\n[[cases.kit.needles]]\ngauge = 20\nlength = "38 mm"\n'

MORE: list[tuple[str, str, tuple[Change, ...]]] = [
    ("two lots alike", SOLUTION, lots("", "")),
    ("two lots, the second expires first", SOLUTION, ((VIAL, VIAL + "\n" + VIAL.replace("2027-02-28", "2026-11-17")),)),
    ("two lots, the first expires first", SOLUTION, ((VIAL, VIAL.replace("2027-02-28", "2026-11-17") + "\n" + VIAL),)),
    ("two lots, one without expiry", SOLUTION, ((VIAL, VIAL.replace("expiry = 2027-02-28\n", "") + "\n" + VIAL),)),
    ("two lots, one opened", SOLUTION, lots("", 'opened = "2026-11-10 08:00"\n')),
    ("two lots, both opened", SOLUTION, lots('opened = "2026-11-10 08:00"\n', 'opened = "2026-10-01 08:00"\n')),
    ("two lots, both opened, the other way", SOLUTION, lots('opened = "2026-10-01 08:00"\n', 'opened = "2026-11-10 08:00"\n')),
    ("two lots with their counts", SOLUTION, (*lots("count = 2\n", 'lot = "B7"\ncount = 3\n'), dosed("5 mg"))),
    ("two lots, the same words", SOLUTION, lots('words = "leuprolide acetate 1 mg/0.2 mL"\n', 'words = "leuprolide acetate 1 mg/0.2 mL"\n')),
    ("two lots, other words", SOLUTION, lots('words = "leuprolide acetate 4 mg/mL"\n', 'words = "leuprolide acetate 5 mg/mL"\n')),
    ("words that disagree", SOLUTION, ((VIAL, f'{VIAL}words = "leuprolide acetate 4 mg/mL"\n'),)),
    ("words with thousands", POWDER, (('strength = "10,000 units"', 'strength = "10,000 units"\nwords = "10000 units. 10 mL."'),)),
    ("words with another unit", POWDER, (('strength = "10,000 units"', 'strength = "10,000 units"\nwords = "10,000 IU; store at 20 mg"'),)),
    ("a carton check on both", SOLUTION, lots(CHECK, CHECK)),
    ("a carton check on one", SOLUTION, lots(CHECK, "")),
    ("a carton check on the powder", POWDER, (("expiry = 2027-02-28\n\n[[cases.kit.diluents", f"expiry = 2027-02-28\n{CHECK}\n[[cases.kit.diluents"),)),
    ("a syringe out of the cold", PREFILLED, (("expiry = 2027-02-28", 'expiry = 2027-02-28\nout_of_fridge = "2026-10-20 08:00"'),)),
    ("a syringe out of the cold for too long", PREFILLED, (("expiry = 2027-02-28", 'expiry = 2027-02-28\nout_of_fridge = "2026-10-18 08:00"'),)),
    ("out of the cold in an hour that is skipped", PREFILLED, (("expiry = 2027-02-28", 'expiry = 2027-02-28\nout_of_fridge = "2026-03-08 02:30"'),)),
    ("opened in an hour that is there twice", SOLUTION, ((VIAL, f'{VIAL}opened = "2026-11-01 01:30"\n'),)),
    ("the order names the vial", SOLUTION, (('id = "first"\n', 'id = "first"\nproduct = "leuprolide-5mg-per-ml-vial"\n'),)),
    ("the order names another vial", SOLUTION, (('id = "first"\n', 'id = "first"\nproduct = "leuprolide-compounded"\n'),)),
    ("the order names another drug's box", SOLUTION, (('id = "first"\n', 'id = "first"\nproduct = "hcg-10000-units"\n'),)),
    ("one vial and one syringe for two", two_agonists(1, 1), ()),
    ("two vials and one syringe for two", two_agonists(2, 1), ()),
    ("two vials and two syringes for two", two_agonists(2, 2), ()),
    ("two vials and three syringes for two", two_agonists(2, 3), ()),
    ("no syringe", SOLUTION, (("count = 3", "count = 0"),)),
    ("one syringe", SOLUTION, (("count = 3", "count = 1"),)),
    ("two fills", SOLUTION, (dosed("7 mg"),)),
    ("two fills and one syringe", SOLUTION, (dosed("7 mg"), ("count = 3", "count = 1"))),
    ("between the lines", SOLUTION, (dosed("4.03 mg"),)),
    ("a very small draw", SOLUTION, (dosed("0.5 mg"),)),
    ("the other unit", SOLUTION, (dosed("1,000 units"),)),
    ("into the muscle", SOLUTION, (('route = "subcutaneous"', 'route = "intramuscular"'),)),
    ("confirmed into the muscle", SOLUTION, (('route = "subcutaneous"', 'route = "intramuscular"\nroute_confirmed_by = "Dr. L. Aumont"'),)),
    ("a fixed needle", SOLUTION, (("count = 3", "count = 3\nfixed = true"),)),
    ("a needle that comes off", SOLUTION, (("count = 3", "count = 3\nfixed = false"),)),
    ("no needle to mix", POWDER, ((NEEDLES, "\n"),)),
    ("two needles to mix", POWDER, ((NEEDLES, NEEDLES + "count = 2\n"),)),
    ("needles of two kinds to mix", POWDER, ((NEEDLES, NEEDLES + '\n[[cases.kit.needles]]\ngauge = 18\nlength = "25 mm"\ncount = 4\n'),)),
    ("all the water", POWDER, (('volume = "10 mL"', 'volume = "2 mL"'),)),
    ("too little water", POWDER, (('volume = "10 mL"', 'volume = "1 mL"'),)),
    ("water without expiry", POWDER, (('volume = "10 mL"\nexpiry = 2027-02-28', 'volume = "10 mL"'),)),
    ("water that has expired", POWDER, (('volume = "10 mL"\nexpiry = 2027-02-28', 'volume = "10 mL"\nexpiry = 2026-11-17'),)),
    ("the diluent in the order", POWDER, (('id = "first"\n', 'id = "first"\ndiluent = "4 mL"\n'),)),
    ("the diluent of the label in the order", POWDER, (('id = "first"\n', 'id = "first"\ndiluent = "10 mL"\n'),)),
    ("a whole vial of powder", POWDER, (('dose = "1,000 units"', 'dose = "10,000 units"'),)),
    ("a part of the vial to be given whole", WHOLE, (('dose = "5,000 units"', 'dose = "2,500 units"'),)),
    ("two whole vials", WHOLE, (('dose = "5,000 units"', 'dose = "10,000 units"'), ('strength = "5,000 units"\n', 'strength = "5,000 units"\ncount = 2\n'))),
    ("two whole vials, the water in the order", WHOLE, (
        ('dose = "5,000 units"', 'dose = "10,000 units"\ndiluent = "1 mL"'),
        ('strength = "5,000 units"\n', 'strength = "5,000 units"\ncount = 2\n'),
        ('volume = "1 mL"\n', 'volume = "1 mL"\ncount = 2\n'))),
    ("allergic to what is in the water", POWDER, ((ALLERGY, 'zone = "America/Chicago"\nallergies = ["Benzyl Alcohol "]\nlh'),)),
    ("allergic to something else", POWDER, ((ALLERGY, 'zone = "America/Chicago"\nallergies = ["pollen", "mannitol"]\nlh'),)),
    ("a helper", SOLUTION, ((ALLERGY, 'zone = "America/Chicago"\nhelper = "her sister"\nlh'),)),
    ("another zone", SOLUTION, ((ALLERGY, 'zone = "Europe/Berlin"\nlh'),)),
    ("another zone that night in which the clocks differ", SOLUTION, ((ALLERGY, 'zone = "Asia/Kathmandu"\nlh'),)),
    ("short lead", SOLUTION, ((LEAD, 'lead = "20 min"\nwindow = ["10 min", "1 h"]'),)),
    ("no rules at all for wiping", SOLUTION, (('bubbles = "push out"\n', ""),)),
    ("no tolerance signed", SOLUTION, (('tolerance_note = "10 %"\ntolerance_warn = "20 %"\n', ""),)),
    ("one tolerance signed", SOLUTION, (('tolerance_warn = "20 %"\n', ""),)),
    ("the other tolerance signed", SOLUTION, (('tolerance_note = "10 %"\n', ""),)),
    ("no standard band", SOLUTION, (('standard = { ok = ["35 h", "37 h"], note = ["34 h", "38 h"], warn = ["32 h", "40 h"] }\n', ""),)),
    ("together in the other order", TOGETHER, (('["first", "second"]', '["second", "first"]'),)),
    ("rules signed this minute", SOLUTION, (('signed_at = "2026-10-05 09:00"', 'signed_at = "2026-11-18 14:30"'),)),
    ("order signed this minute", SOLUTION, (('signed_at = "2026-11-18 13:00"', 'signed_at = "2026-11-18 14:30"'),)),
    ("no telephone", SOLUTION, ((PHONE, ""),)),
    ("nobody answers at night", SOLUTION, (('opens = "00:00"\ncloses = "00:00"', 'opens = "08:00"\ncloses = "22:00"'),)),
    ("nobody answers on Wednesdays", SOLUTION, (('"Monday", "Tuesday", "Wednesday", ', '"Monday", "Tuesday", '),)),
    ("somebody answers until two hours after", SOLUTION, (('opens = "00:00"\ncloses = "00:00"', 'opens = "08:00"\ncloses = "23:01"'),)),
    ("somebody answers until just before", SOLUTION, (('opens = "00:00"\ncloses = "00:00"', 'opens = "08:00"\ncloses = "23:00"'),)),
    ("the present is an hour that is skipped", SOLUTION, (('as_of = "2026-11-18 14:30"', 'as_of = "2026-03-08 02:30"'),)),
    ("the slot is an hour that is skipped", SOLUTION, (('at = "2026-11-20 09:00"', 'at = "2027-03-14 02:30"'),)),
    ("a lead of nothing", SOLUTION, ((LEAD, 'lead = "1 min"\nwindow = ["1 min", "37 h"]'),)),
    ("heavy and at risk", POWDER, ((ALLERGY, 'zone = "America/Chicago"\nbmi = "32"\nfollicles = 22\ne2 = "5,100 pg/mL"\nlh'), ('dose = "1,000 units"', 'dose = "10,000 units"'))),
    ("at some risk", POWDER, ((ALLERGY, 'zone = "America/Chicago"\nfollicles = 15\nlh'), ('dose = "1,000 units"', 'dose = "5,000 units"'))),
    ("low luteinising hormone", SOLUTION, (('lh = "2 units/L"', 'lh = "0.4 units/L"'),)),
    ("no luteinising hormone entered", SOLUTION, (('lh = "2 units/L"\n', ""),)),
    ("a repeat whose first has no time", changed(REPEAT, ('injection = "first"', 'injection = "second"')), ()),
    ("needle too long by one", POWDER, (('length = "38 mm"', 'length = "41 mm"'),)),
    ("needle at the longest", POWDER, (('length = "38 mm"', 'length = "40 mm"'),)),
    ("needle too short by one", POWDER, (('length = "38 mm"', 'length = "24 mm"'),)),
    ("needle at the shortest", POWDER, (('length = "38 mm"', 'length = "25 mm"'),)),
    ("needle too fine by one", POWDER, (("gauge = 20", "gauge = 23"),)),
    ("needle at the finest", POWDER, (("gauge = 20", "gauge = 22"),)),
    ("needle at the thickest", POWDER, (("gauge = 20", "gauge = 18"),)),
]  # fmt: skip
