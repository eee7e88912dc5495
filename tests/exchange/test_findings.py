"""Every finding an order, a kit, a slot or the clinic's rules can raise: one small change to a quiet night raises it."""

import json
from pathlib import Path

import pytest

from hourmark.exchange import plan_json, read_night
from hourmark.plan import plan_night
from tests.exchange.nights import (
    CLOCK_CHANGE,
    LEAD,
    NASAL,
    POWDER,
    PREFILLED,
    SECOND_SYRINGE,
    SOLUTION,
    WHOLE,
    Change,
    changed,
    levels,
    planned,
    save,
    second_injection,
)

DOUBLE = changed(
    second_injection(
        SOLUTION,
        'id = "second"\ndrug = "choriogonadotropin alfa"\ndose = "250 mcg"\nroute = "subcutaneous"\n'
        'lead = "34 h"\nwindow = ["33 h", "35 h"]',
    ),
    (LEAD, 'lead = "40 h"\nwindow = ["39 h", "41 h"]'),
    ('as_of = "2026-11-18 14:30"', 'as_of = "2026-11-18 13:30"'),
    ("\n[[cases.kit.syringes]]", f"{SECOND_SYRINGE}\n[[cases.kit.syringes]]"),
)
TOGETHER = changed(
    DOUBLE,
    ('lead = "34 h"\nwindow = ["33 h", "35 h"]', LEAD),
    ('lead = "40 h"\nwindow = ["39 h", "41 h"]', LEAD),
    ('stop = ["follitropin"]', 'stop = ["follitropin"]\nsequence = ["first", "second"]\nlargest_gap = "15 min"'),
)
REPEAT = changed(
    second_injection(
        PREFILLED,
        'id = "second"\ndrug = "choriogonadotropin alfa"\ndose = "250 mcg"\nroute = "subcutaneous"\n'
        'after = { injection = "first", gap = "12 h", window = ["11 h", "13 h"] }',
    ),
    ("expiry = 2027-02-28", "expiry = 2027-02-28\ncount = 2"),
)
CLOCK = changed(PREFILLED, ('slot = "s1"\n', ""), (LEAD, 'at = "2026-11-18 21:30"\nwindow = ["20:30", "22:30"]'))
QUIET = {
    "solution": SOLUTION,
    "powder": POWDER,
    "whole": WHOLE,
    "prefilled": PREFILLED,
    "nasal": NASAL,
    "double": DOUBLE,
    "together": TOGETHER,
    "repeat": REPEAT,
    "clock": CLOCK,
}

NOTES = {
    "powder": {"route-confirmed", "diluent-surplus", "rests-on-unread"},
    "whole": {"rests-on-unread"},
    "nasal": {"rests-on-unread"},
    "repeat": {"repeat-from-actual"},
}


@pytest.mark.parametrize("name", list(QUIET))
def test_quiet_nights_have_only_their_notes(name: str, tmp_path: Path) -> None:
    found = levels(planned(tmp_path, QUIET[name]))
    assert found == dict.fromkeys(NOTES.get(name, set()), "note")


def _lead(text: str, window: str = '"30 h", "45 h"') -> Change:
    return LEAD, f'lead = "{text}"\nwindow = [{window}]'


_OVERRIDE = 'override = { by = "Dr. L. Aumont", reason = "her third such cycle", at = "2026-11-18 13:05" }'
_ID: Change = ('id = "first"\n', f'id = "first"\n{_OVERRIDE}\n')
_OTHER_SLOT = '\n[[slots]]\nid = "s2"\nat = "2026-11-20 09:00"\nroom = "Room 1"\n\n[[cases]]'


def _barrel(kind: str, count: int = 3) -> Change:
    return 'syringe = "u100-1mL-1"\ncount = 3', f'syringe = "{kind}"\ncount = {count}'


ORDER: list[tuple[str, str, str, tuple[Change, ...]]] = [
    ("cycle-missing", "stop", SOLUTION, (('cycle = "antagonist"\n', ""),)),
    ("window-missing", "stop", SOLUTION, ((LEAD, 'lead = "36 h"'),)),
    ("window-missing", "stop", CLOCK, (('window = ["20:30", "22:30"]\n', ""),)),
    ("window-missing", "stop", REPEAT, ((', window = ["11 h", "13 h"]', ""),)),
    ("outside-own-window", "stop", SOLUTION, ((LEAD, 'lead = "36 h"\nwindow = ["34 h", "35 h 59 min"]'),)),
    ("outside-own-window", "stop", SOLUTION, ((LEAD, 'lead = "36 h"\nwindow = ["36 h 1 min", "37 h"]'),)),
    ("outside-own-window", "stop", REPEAT, (('window = ["11 h", "13 h"]', 'window = ["12 h 1 min", "13 h"]'),)),
    ("outside-own-window", "stop", CLOCK, (('["20:30", "22:30"]', '["2026-11-18 20:00", "2026-11-18 21:00"]'),)),
    ("outside-own-window", "stop", CLOCK, (('["20:30", "22:30"]', '["20:00", "21:00"]'),)),
    ("outside-own-window", "stop", CLOCK, (('["20:30", "22:30"]', '["22:00", "23:00"]'),)),
    ("sequence-missing", "stop", TOGETHER, (('sequence = ["first", "second"]\n', ""),)),
    ("sequence-missing", "stop", TOGETHER, (('["first", "second"]', '["first"]'),)),
    (
        "sequence-missing",
        "stop",
        TOGETHER,
        (
            ('sequence = ["first", "second"]\nlargest_gap = "15 min"', ""),
            (
                'dose = "250 mcg"\nroute = "subcutaneous"\n' + LEAD,
                'dose = "250 mcg"\nroute = "subcutaneous"\nlead = "36 h"\nwindow = ["34 h", "38 h"]',
            ),
        ),
    ),
    (
        "sequence-missing",
        "stop",
        TOGETHER,
        (
            ('sequence = ["first", "second"]\nlargest_gap = "15 min"', ""),
            (
                'dose = "250 mcg"\nroute = "subcutaneous"\n' + LEAD,
                'dose = "250 mcg"\nroute = "subcutaneous"\nat = "2026-11-18 21:00"\nwindow = ["20:00", "22:00"]',
            ),
        ),
    ),
    ("largest-gap-missing", "stop", TOGETHER, (('largest_gap = "15 min"', ""),)),
    ("agonist-in-suppressed-cycle", "stop", SOLUTION, (('"antagonist"', '"long agonist"'),)),
    ("agonist-in-suppressed-cycle", "stop", SOLUTION, (('"antagonist"', '"short agonist"'),)),
    ("agonist-in-suppressed-cycle", "warn", SOLUTION, (('"antagonist"', '"long agonist"'), _ID)),
    ("agonist-in-suppressed-cycle", "warn", TOGETHER, (('"antagonist"', '"long agonist"'),)),
    ("antagonist-as-trigger", "stop", SOLUTION, (('"leuprolide acetate"', '"cetrorelix"'),)),
    ("dose-unit-disagrees", "stop", SOLUTION, (('"4 mg"', '"4,000 units"'),)),
    ("dose-unit-disagrees", "stop", POWDER, (('"1,000 units"', '"250 mcg"'),)),
    ("dose-unit-disagrees", "stop", PREFILLED, (('"250 mcg"\nroute', '"250 units"\nroute'),)),
    ("dose-no-trigger", "stop", POWDER, (('"1,000 units"', '"250 units"'),)),
    ("dose-no-trigger", "stop", POWDER, (('"1,000 units"', '"999 units"'),)),
    ("dose-no-trigger", "stop", POWDER, (('"1,000 units"', '"15,001 units"'),)),
    ("dose-unusual", "ask", POWDER, (('"1,000 units"', '"10,001 units"'),)),
    ("dose-unusual", "ask", SOLUTION, (('"4 mg"', '"5 mg"'),)),
    ("dose-unusual", "ask", SOLUTION, (('"4 mg"', '"0.4 mg"'),)),
    ("dose-unusual", "ask", NASAL, (('"400 mcg"', '"200 mcg"'),)),
    ("signed-later", "stop", SOLUTION, (('"2026-11-18 13:00"', '"2026-11-18 14:31"'),)),
    ("signed-later", "stop", SOLUTION, (_ID, ("13:05", "14:31"))),
    ("antagonist-stop-day", "note", SOLUTION, (('["follitropin"]', '["ganirelix"]'),)),
]

TIME: list[tuple[str, str, str, tuple[Change, ...]]] = [
    ("slot-missing", "stop", SOLUTION, (('slot = "s1"\n', ""),)),
    ("first-without-time", "stop", REPEAT, ((LEAD, 'after = { injection = "second", gap = "1 h" }'),)),
    (
        "first-without-time",
        "stop",
        PREFILLED,
        ((LEAD, 'after = { injection = "first", gap = "1 h", window = ["1 h", "2 h"] }'),),
    ),
    ("time-skipped", "stop", SOLUTION, (('at = "2026-11-20 09:00"', 'at = "2027-03-14 02:30"'),)),
    ("time-skipped", "stop", CLOCK, (('at = "2026-11-18 21:30"', 'at = "2027-03-14 02:30"'),)),
    ("time-skipped", "stop", SOLUTION, (('signed_at = "2026-11-18 13:00"', 'signed_at = "2026-03-08 02:30"'),)),
    ("time-skipped", "stop", SOLUTION, (('as_of = "2026-11-18 14:30"', 'as_of = "2026-03-08 02:30"'),)),
    (
        "time-skipped",
        "stop",
        SOLUTION,
        (('drug = "ganirelix", at = "2026-11-18 08:00"', 'drug = "ganirelix", at = "2026-03-08 02:30"'),),
    ),
    ("time-repeated", "stop", SOLUTION, (('at = "2026-11-20 09:00"', 'at = "2026-11-01 01:30"'),)),
    ("time-repeated", "stop", CLOCK, (('at = "2026-11-18 21:30"', 'at = "2026-11-01 01:30"'),)),
    ("which-needless", "warn", SOLUTION, (('at = "2026-11-20 09:00"', 'at = "2026-11-20 09:00"\nwhich = "first"'),)),
    ("which-needless", "warn", CLOCK, (('at = "2026-11-18 21:30"', 'at = "2026-11-18 21:30 second"'),)),
    (
        "injection-repeated-hour",
        "ask",
        SOLUTION,
        (*CLOCK_CHANGE[:3], ('at = "2026-11-20 09:00"', 'at = "2026-11-02 12:30"')),
    ),
    ("clock-change-between", "note", SOLUTION, CLOCK_CHANGE),
    (
        "clocks-differ",
        "note",
        SOLUTION,
        (('slot = "s1"\nzone = "America/Chicago"', 'slot = "s1"\nzone = "Europe/London"'),),
    ),
    ("injection-midnight", "note", SOLUTION, (('at = "2026-11-20 09:00"', 'at = "2026-11-20 12:00"'),)),
    ("lead-off-centre", "note", SOLUTION, (_lead("37 h 1 min"),)),
    ("lead-off-centre", "note", SOLUTION, (_lead("38 h"),)),
    ("lead-unusual", "warn", SOLUTION, (_lead("38 h 1 min"),)),
    ("lead-unusual", "warn", SOLUTION, (_lead("40 h"),)),
    ("lead-outside-bands", "stop", SOLUTION, (_lead("40 h 1 min"),)),
    ("lead-outside-bands", "stop", SOLUTION, (_lead("31 h 59 min"),)),
    ("lead-outside-bands", "warn", SOLUTION, (_lead("40 h 1 min"), _ID)),
    ("lead-natural-cycle", "ask", SOLUTION, (('"antagonist"', '"natural"'),)),
    ("lead-natural-cycle", "ask", SOLUTION, (('"antagonist"', '"mild stimulation"'),)),
    ("lead-insemination", "note", SOLUTION, (('room = "Room 1"', 'kind = "insemination"'), _lead("40 h 1 min"))),
    ("injection-past", "ask", SOLUTION, (('as_of = "2026-11-18 14:30"', 'as_of = "2026-11-18 21:00"'),)),
    ("slot-past", "stop", SOLUTION, (('as_of = "2026-11-18 14:30"', 'as_of = "2026-11-20 09:01"'),)),
    ("tell-by-past", "warn", SOLUTION, (('as_of = "2026-11-18 14:30"', 'as_of = "2026-11-18 18:01"'),)),
    ("repeat-from-actual", "note", REPEAT, ()),
    ("antagonist-gap", "ask", SOLUTION, (('"2026-11-18 08:00"', '"2026-11-17 14:59"'),)),
    (
        "antagonist-gap",
        "ask",
        SOLUTION,
        (('{ drug = "ganirelix", at = "2026-11-18 08:00" }', '{ drug = "cetrorelix", at = "2026-11-17 14:59" }'),),
    ),
    ("antagonist-after-trigger", "ask", SOLUTION, (('"2026-11-18 08:00"', '"2026-11-18 21:01"'),)),
    (
        "antagonist-time-missing",
        "ask",
        SOLUTION,
        (('last_antagonist = { drug = "ganirelix", at = "2026-11-18 08:00" }\n', ""),),
    ),
    ("time-data-aged", "ask", SOLUTION, (('as_of = "2026-11-18 14:30"', 'as_of = "2027-10-29 14:30"'),)),
    ("slot-clash", "ask", SOLUTION, (("\n[[cases]]", _OTHER_SLOT),)),
    ("rules-unsigned", "note", SOLUTION, (('tell_by = "3 h"\n', ""),)),
    ("rules-signed-later", "stop", SOLUTION, (('"2026-10-05 09:00"', '"2026-11-18 14:31"'),)),
]

_LABEL = 'label_rule = "10 mL only"'
KIT: list[tuple[str, str, str, tuple[Change, ...]]] = [
    ("product-missing", "stop", SOLUTION, (("leuprolide-5mg-per-ml-vial", "nafarelin-200mcg-spray"),)),
    ("product-missing", "stop", SOLUTION, (('id = "first"', 'id = "first"\nproduct = "leuprolide-compounded"'),)),
    (
        "product-missing",
        "stop",
        SOLUTION,
        (
            (
                'id = "first"\ndrug = "leuprolide acetate"',
                'id = "first"\nproduct = "leuprolide-5mg-per-ml-vial"\ndrug = "buserelin"',
            ),
        ),
    ),
    (
        "product-missing",
        "stop",
        SOLUTION,
        (
            ('id = "first"', 'id = "first"\nproduct = "leuprolide-depot"'),
            (
                'product = "leuprolide-5mg-per-ml-vial"\nstrength = "5 mg/mL"',
                'product = "leuprolide-depot"\nstrength = "4 mg"',
            ),
        ),
    ),
    (
        "product-ambiguous",
        "stop",
        POWDER,
        (
            (
                "[[cases.kit.diluents]]",
                '[[cases.kit.products]]\nproduct = "hcg-5000-units"\nstrength = "5,000 units"\n[[cases.kit.diluents]]',
            ),
        ),
    ),
    ("depot-product", "stop", SOLUTION, (("leuprolide-5mg-per-ml-vial", "leuprolide-depot"),)),
    ("route-form", "stop", NASAL, (('"nasal"', '"subcutaneous"'),)),
    ("route-form", "stop", SOLUTION, (('"subcutaneous"', '"nasal"'),)),
    (
        "salt-or-base",
        "stop",
        SOLUTION,
        (('"leuprolide acetate"', '"triptorelin"'), ("leuprolide-5mg-per-ml-vial", "triptorelin-100mcg-syringe")),
    ),
    (
        "salt-or-base",
        "stop",
        SOLUTION,
        (('"leuprolide acetate"', '"buserelin acetate"'), ("leuprolide-5mg-per-ml-vial", "buserelin-1mg-per-ml-vial")),
    ),
    (
        "recombinant-or-urinary",
        "stop",
        PREFILLED,
        (('"choriogonadotropin alfa"\ndose = "250 mcg"', '"chorionic gonadotropin"\ndose = "5,000 units"'),),
    ),
    (
        "recombinant-or-urinary",
        "stop",
        WHOLE,
        (('"chorionic gonadotropin"\ndose = "5,000 units"', '"choriogonadotropin alfa"\ndose = "250 mcg"'),),
    ),
    ("strength-unreadable", "stop", SOLUTION, (('"5 mg/mL"', '"5mg/mL"'),)),
    ("strength-disagrees", "stop", SOLUTION, (('"5 mg/mL"', '"4 mg/mL"'),)),
    ("strength-disagrees", "stop", POWDER, (('strength = "10,000 units"', 'strength = "5,000 units"'),)),
    ("label-rule-unread", "stop", POWDER, ((_LABEL, ""),)),
    ("label-rule-unknown", "stop", POWDER, ((_LABEL, 'label_rule = "2 mL only"'),)),
    ("route-off-label", "stop", POWDER, (('route_confirmed_by = "Dr. L. Aumont"\n', ""),)),
    ("route-off-label", "stop", SOLUTION, (('"subcutaneous"', '"intramuscular"'),)),
    ("route-confirmed", "note", POWDER, ()),
    ("allergen", "stop", SOLUTION, (('slot = "s1"', 'slot = "s1"\nallergies = ["Benzyl alcohol "]'),)),
    ("allergen", "stop", POWDER, (('slot = "s1"', 'slot = "s1"\nallergies = ["benzyl alcohol"]'),)),
    ("allergen", "stop", POWDER, (('slot = "s1"', 'slot = "s1"\nallergies = ["mannitol"]'),)),
    ("allergen", "stop", SOLUTION, (('slot = "s1"', 'slot = "s1"\nallergies = ["penicillin, benzyl alcohol"]'),)),
    ("allergen", "stop", SOLUTION, (('slot = "s1"', 'slot = "s1"\nallergies = ["benzyl alcohol (rash)"]'),)),
    ("expiry-unread", "ask", SOLUTION, (("expiry = 2027-02-28\n", ""),)),
    ("expired", "stop", SOLUTION, (("2027-02-28", "2026-11-17"),)),
    ("kept-too-long", "stop", SOLUTION, (("expiry =", 'opened = "2026-10-21 20:00"\nexpiry ='),)),
    ("kept-too-long", "stop", PREFILLED, (("expiry =", 'out_of_fridge = "2026-10-19 20:00"\nexpiry ='),)),
    ("compounded-dilution", "stop", SOLUTION, (("leuprolide-5mg-per-ml-vial", "leuprolide-compounded"),)),
    (
        "diluent-missing",
        "stop",
        POWDER,
        (('[[cases.kit.diluents]]\nkind = "bacteriostatic water"\nvolume = "10 mL"\nexpiry = 2027-02-28\n', ""),),
    ),
    ("diluent-other-kind", "stop", POWDER, (('"bacteriostatic water"', '"sterile water"'),)),
    ("diluent-short", "stop", POWDER, (('volume = "10 mL"', 'volume = "1 mL"'),)),
    (
        "diluent-short",
        "stop",
        WHOLE,
        (
            ('"5,000 units"\nroute', '"10,000 units"\ndiluent_into = "each"\nroute'),
            ('"5,000 units"\nexpiry', '"5,000 units"\ncount = 2\nexpiry'),
        ),
    ),
    ("diluent-surplus", "note", POWDER, ()),
    ("needle-missing", "ask", POWDER, (("gauge = 20", "gauge = 27"),)),
    ("needle-missing", "ask", WHOLE, (("gauge = 27", "gauge = 23"),)),
    ("needle-missing", "ask", WHOLE, (('gauge = 27\nlength = "13 mm"', 'gauge = 27\nlength = "13 mm"\ncount = 0'),)),
    (
        "needle-fixed-intramuscular",
        "stop",
        WHOLE,
        (('"subcutaneous"', '"intramuscular"'), ('"mL-2-0.1"\ncount = 3', '"mL-2-0.1"\ncount = 3\nfixed = true')),
    ),
    (
        "needle-fixed-intramuscular",
        "stop",
        WHOLE,
        (
            ('"subcutaneous"', '"intramuscular"'),
            (
                '"mL-2-0.1"\ncount = 3',
                '"mL-2-0.1"\ncount = 3\nfixed = true\n[[cases.kit.syringes]]\nsyringe = "mL-2-0.1"\ncount = 0',
            ),
        ),
    ),
    ("diluent-not-chosen", "stop", POWDER, (("chosen = true\n", ""), (_LABEL, 'label_rule = "1 mL or 10 mL"'))),
    ("diluent-unsigned", "stop", POWDER, (('route = "subcutaneous"', 'route = "subcutaneous"\ndiluent = "3 mL"'),)),
    ("water-for-each", "stop", WHOLE, (('"5,000 units"\nroute', '"10,000 units"\nroute'),)),
    ("part-dose-unsigned", "stop", POWDER, (("part_dose = true\n", ""), (_LABEL, 'label_rule = "1 to 10 mL"'))),
    (
        "part-dose-unsigned",
        "stop",
        POWDER,
        (
            ('route = "subcutaneous"', 'route = "subcutaneous"\ndiluent = "1 mL"'),
            (_LABEL, 'label_rule = "1 mL or 10 mL"'),
        ),
    ),
    ("syringes-short", "stop", SOLUTION, (_barrel("u100-0.5mL-1", 1),)),
    ("syringe-for-mixing", "ask", POWDER, (('"mL-3-0.1"\ncount = 2', '"mL-3-0.1"\ncount = 0'),)),
    ("rests-on-unread", "note", POWDER, ()),
    ("no-practice-syringe", "note", SOLUTION, (_barrel("u100-1mL-1", 1),)),
    ("kit-short", "stop", PREFILLED, (("expiry =", "count = 0\nexpiry ="),)),
    ("kit-short", "stop", PREFILLED, (('"250 mcg"\nroute', '"500 mcg"\nroute'),)),
    ("kit-short", "stop", SOLUTION, (('"4 mg"', '"14.5 mg"'),)),
    ("one-vial-for-several", "stop", REPEAT, (("count = 2", "count = 1"),)),
]

DRAW: list[tuple[str, str, str, tuple[Change, ...]]] = [
    ("dose-other-kind", "stop", POWDER, (('"1,000 units"', '"250 mcg"'),)),
    ("part-of-device", "stop", PREFILLED, (('"250 mcg"\nroute', '"300 mcg"\nroute'),)),
    ("part-of-device", "stop", NASAL, (('"400 mcg"', '"300 mcg"'),)),
    ("syringe-none", "stop", SOLUTION, (_barrel("u100-1mL-1", 0),)),
    ("mark-between", "stop", SOLUTION, (('"4 mg"', '"4.01 mg"'),)),
    ("barrel-full", "warn", SOLUTION, (('"4 mg"', '"5 mg"'),)),
    ("fills-many", "ask", SOLUTION, (_barrel("u100-0.3mL-1", 4),)),
    (
        "fills-too-many",
        "stop",
        SOLUTION,
        (
            ('"5 mg/mL"', '"0.4 mg/mL"'),
            ('product = "leuprolide-5mg-per-ml-vial"', 'product = "leuprolide-compounded"'),
            ('id = "first"', 'id = "first"\nproduct = "leuprolide-compounded"'),
            _barrel("u100-0.5mL-1", 99),
        ),
    ),
    ("draw-small", "warn", SOLUTION, (('"4 mg"', '"0.2 mg"'),)),
    ("barrel-large", "note", SOLUTION, (('"4 mg"', '"0.95 mg"'),)),
    ("tolerance-wide", "warn", POWDER, (('"u100-1mL-1"\ncount = 3', '"u100-1mL-1"\ncount = 0'),)),
    (
        "tolerance-notable",
        "note",
        SOLUTION,
        (('"4 mg"', '"0.85 mg"'), ('tolerance_note = "10 %"', 'tolerance_note = "9 %"')),
    ),
    ("volume-notable", "note", SOLUTION, (('"4 mg"', '"6 mg"'), _barrel("mL-2-0.1"))),
    ("volume-large", "warn", SOLUTION, (('"4 mg"', '"8 mg"'), _barrel("mL-2-0.1"))),
    ("volume-too-large", "stop", SOLUTION, (('"4 mg"', '"10.5 mg"'), _barrel("mL-3-0.1"))),
    ("draw-nearly-all", "warn", POWDER, (('"1,000 units"', '"9,500 units"'), _barrel("mL-2-0.1"))),
]


@pytest.mark.parametrize(
    ("code", "level", "base", "changes"),
    [*ORDER, *TIME, *KIT, *DRAW],
    ids=[f"{code}-{place}" for place, (code, *_) in enumerate([*ORDER, *TIME, *KIT, *DRAW])],
)
def test_one_small_change_raises_it(
    code: str, level: str, base: str, changes: tuple[Change, ...], tmp_path: Path
) -> None:
    if changes:
        assert code not in levels(planned(tmp_path, base))
    plan = planned(tmp_path, changed(base, *changes))
    found = [finding for finding in plan["findings"] if finding["code"] == code]
    assert found, levels(plan)
    assert {finding["level"] for finding in found} == {level}
    for finding in found:
        assert all(finding[key] for key in ("where", "what", "limit", "source", "do")), finding


def test_the_bands_of_a_double_trigger_are_its_own(tmp_path: Path) -> None:
    night = changed(
        DOUBLE, ('lead = "40 h"\nwindow = ["39 h", "41 h"]', 'lead = "43 h 1 min"\nwindow = ["39 h", "44 h"]')
    )
    assert levels(planned(tmp_path, night))["lead-outside-bands"] == "stop"


def test_an_injection_after_the_slot_stops(tmp_path: Path) -> None:
    night = changed(PREFILLED, (LEAD, 'at = "2026-11-21 21:30"\nwindow = ["20:30", "22:30"]'))
    assert "stop" in levels(planned(tmp_path, night)).values()


def test_a_repeat_after_the_slot_stops(tmp_path: Path) -> None:
    night = changed(REPEAT, ('gap = "12 h", window = ["11 h", "13 h"]', 'gap = "48 h", window = ["47 h", "49 h"]'))
    assert "stop" in levels(planned(tmp_path, night)).values()


def test_two_injections_do_not_share_one_vial_of_diluent(tmp_path: Path) -> None:
    night = changed(
        second_injection(
            WHOLE,
            'id = "second"\ndrug = "chorionic gonadotropin"\ndose = "5,000 units"\nroute = "subcutaneous"\n'
            'after = { injection = "first", gap = "12 h", window = ["11 h", "13 h"] }',
        ),
        ('strength = "5,000 units"', 'strength = "5,000 units"\ncount = 2'),
    )
    assert levels(planned(tmp_path, night)).get("diluent-short") == "stop"


def test_one_person_is_not_two_who_read_the_box(tmp_path: Path) -> None:
    check = 'carton_check = { by = ["A. Ray", "A. Ray"], at = "2026-11-18 14:00" }'
    night = read_night(save(tmp_path, changed(WHOLE, ("strength =", f"{check}\nstrength ="))))
    assert isinstance(night, tuple) or "rests-on-unread" in levels(json.loads(json.dumps(plan_json(plan_night(night)))))


def test_a_signed_mix_of_no_diluent_at_all_is_no_fault_of_the_program(tmp_path: Path) -> None:
    night = read_night(save(tmp_path, changed(POWDER, ('diluent = "2 mL"', 'diluent = "0 mL"'))))
    assert isinstance(night, tuple) or plan_night(night).stopped


def test_other_cases_are_planned_beside_a_refused_one(tmp_path: Path) -> None:
    start = SOLUTION.index("[[cases]]")
    other = changed(SOLUTION[start:], ('"K-1"', '"K-2"'), ('slot = "s1"', 'slot = "s2"'))
    slot = '\n[[slots]]\nid = "s2"\nat = "2026-11-20 10:00"\n\n'
    night = changed(SOLUTION[:start] + slot + SOLUTION[start:], (LEAD, 'lead = "36 h"')) + "\n" + other
    first, second = planned(tmp_path, night)["cases"]
    assert (first["state"], second["state"]) == ("refused", "planned")
    assert second["injections"][0]["draw"]["fills"][0]["mark"] == "80"
    assert second["injections"][0]["inject_at"] == "2026-11-19T04:00:00Z"


def test_one_slot_for_two_cases_stops_both(tmp_path: Path) -> None:
    start = SOLUTION.index("[[cases]]")
    plan = planned(tmp_path, SOLUTION + "\n" + changed(SOLUTION[start:], ('"K-1"', '"K-2"')))
    assert levels(plan)["slot-shared"] == "stop"
    assert [case["state"] for case in plan["cases"]] == ["refused", "refused"]


def test_old_time_data_stop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tzdata.IANA_VERSION", "2026c")
    assert levels(planned(tmp_path, SOLUTION))["time-data-old"] == "stop"


@pytest.mark.parametrize(("which", "utc"), [("first", "2026-10-30T18:30:00Z"), ("second", "2026-10-30T19:30:00Z")])
def test_a_slot_in_a_repeated_hour_is_planned_once_chosen(which: str, utc: str, tmp_path: Path) -> None:
    night = changed(
        SOLUTION,
        ('as_of = "2026-11-18 14:30"', 'as_of = "2026-10-30 09:30"'),
        ('"2026-11-18 13:00"', '"2026-10-30 09:00"'),
        ('"2026-11-18 08:00"', '"2026-10-30 08:00"'),
        ('at = "2026-11-20 09:00"', f'at = "2026-11-01 01:30"\nwhich = "{which}"'),
    )
    plan = planned(tmp_path, night)
    assert plan["cases"][0]["injections"][0]["inject_at"] == utc
    assert "stop" not in levels(plan).values()


def test_a_last_antagonist_is_an_antagonist(tmp_path: Path) -> None:
    night = read_night(save(tmp_path, changed(SOLUTION, ('drug = "ganirelix"', 'drug = "nafarelin"'))))
    assert isinstance(night, tuple) or plan_night(night).all_findings()
