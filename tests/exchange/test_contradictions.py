"""What stands in a night file and contradicts itself is named: nothing of it is dropped, and the permissive side never wins silently.

The names are generic drug names; which of them is another medicine follows from the product that the box is entered as.
"""

from pathlib import Path

import pytest

from hourmark.exchange.evening import read_evening
from hourmark.exchange.tables import table_problems
from hourmark.formulary import drug
from hourmark.order.names import named_in, same_medicine, speaks_of
from tests.exchange.nights import (
    CLOCK_CHANGE,
    LEAD,
    NASAL,
    POWDER,
    PREFILLED,
    SOLUTION,
    Change,
    changed,
    levels,
    line_of,
    planned,
    refused,
    save,
    second_injection,
)

HCG, ALFA, LEUPROLIDE = 'strength = "10,000 units"', 'strength = "250 mcg"', 'strength = "5 mg/mL"'


def _words(base: str, strength: str, words: str) -> str:
    return changed(base, (strength, f'{strength}\nwords = "{words}"'))


@pytest.mark.parametrize(
    ("base", "strength", "words", "named"),
    [
        (POWDER, HCG, "menotropins for injection", "menotropins"),
        (POWDER, HCG, "MENOTROPHIN, powder", "menotropins"),
        (POWDER, HCG, "chorionic gonadotropin 10,000 units, menotropins", "menotropins"),
        (POWDER, HCG, "ganirelix", "ganirelix"),
        (POWDER, HCG, "choriogonadotropin alfa", "choriogonadotropin alfa"),
        (POWDER, HCG, "leuprorelin acetate", "leuprolide acetate"),
        (POWDER, HCG, "follitropin", "follitropin"),
        (POWDER, HCG, "corifollitropin alfa", "corifollitropin alfa"),
        (POWDER, HCG, "sterile water for injection", "sterile water for injection"),
        (POWDER, HCG, "water for injections", "water for injection"),
        (POWDER, HCG, "bacteriostatic water", "bacteriostatic water"),
        (POWDER, HCG, "0.9 % sodium chloride", "sodium chloride"),
        (PREFILLED, ALFA, "chorionic gonadotropin for injection", "chorionic gonadotropin"),
        (PREFILLED, ALFA, "ganirelix 0.25 mg", "ganirelix"),
        (SOLUTION, LEUPROLIDE, "triptorelin acetate", "triptorelin acetate"),
    ],
)
def test_a_box_whose_words_name_another_medicine_stops(
    base: str, strength: str, words: str, named: str, tmp_path: Path
) -> None:
    plan = planned(tmp_path, _words(base, strength, words))
    found = [finding for finding in plan["findings"] if finding["code"] == "box-words-disagree"]
    assert [finding["level"] for finding in found] == ["stop"]
    assert f"they name {named}, but" in found[0]["what"]


@pytest.mark.parametrize(
    ("base", "strength", "words"),
    [
        (POWDER, HCG, "human chorionic gonadotrophin"),
        (POWDER, HCG, "Invented brand 10000"),
        (POWDER, HCG, "Invented brand 10.000 IE"),
        (POWDER, HCG, "Invented brand 10 000 IU"),
        (POWDER, HCG, "chorionic gonadotropin 10,000 USP units with bacteriostatic water"),
        (PREFILLED, ALFA, "choriogonadotropin alfa (recombinant human chorionic gonadotropin) 250 micrograms"),
        (PREFILLED, ALFA, "Invented brand 0.25 mg / 0.5 mL"),
        (SOLUTION, LEUPROLIDE, "leuprorelin"),
        (SOLUTION, LEUPROLIDE, "leuprolide acetate injection 14-day kit, 2.8 mL"),
        (SOLUTION, LEUPROLIDE, "14 mg/2.8 mL"),
        (SOLUTION, LEUPROLIDE, "sterile, 5 mg/mL, sodium chloride, benzyl alcohol"),
        (POWDER, HCG, "Invented brand 10,000 USP units, with bacteriostatic water"),
        (POWDER, HCG, "hCG 10 000 IU, powder and solvent; solvent: sodium chloride"),
        (POWDER, HCG, "Powder and solvent: sterile water, 10,000 units"),
        (POWDER, HCG, "chorionic gonadotropin LOT:123456 EXP 03 2027"),
        (POWDER, HCG, "chorionic gonadotropin CN 654321"),
        (PREFILLED, ALFA, "250 microgramos (6500 UI)"),
        (PREFILLED, ALFA, "250 Mikrogramm (6.500 I.E.)"),
        (PREFILLED, ALFA, "choriogonadotropin alfa (human chorionic gonadotropin, recombinant) 250 mcg"),
    ],
)
def test_a_brand_or_another_name_of_the_same_medicine_says_nothing(
    base: str, strength: str, words: str, tmp_path: Path
) -> None:
    assert "box-words-disagree" not in levels(planned(tmp_path, _words(base, strength, words)))


@pytest.mark.parametrize(
    "words", ["hCG 1000", "hCG 5,000 IU", "hCG 1.500 I.E.", "chorionic gonadotropin 5000 USP units"]
)
def test_another_amount_in_the_words_stops_whatever_unit_it_has_or_lacks(words: str, tmp_path: Path) -> None:
    assert levels(planned(tmp_path, _words(POWDER, HCG, words)))["box-words-disagree"] == "stop"


@pytest.mark.parametrize("words", ["leuprolide acetate 5 mg/0.5 mL", "5 mg/5 mL"])
def test_another_concentration_in_the_words_stops(words: str, tmp_path: Path) -> None:
    """5 mg in 0.5 mL are 10 mg/mL, in 5 mL 1 mg/mL: twice and a fifth of what is entered."""
    assert levels(planned(tmp_path, _words(SOLUTION, LEUPROLIDE, words)))["box-words-disagree"] == "stop"


def test_a_name_on_the_stop_list_is_known_on_a_box(tmp_path: Path) -> None:
    night = changed(_words(POWDER, HCG, "inventropin"), ('stop = ["follitropin"]', 'stop = ["inventropin 5 mg"]'))
    found = planned(tmp_path, night)["findings"][0]
    assert (found["code"], "they name inventropin 5 mg" in found["what"]) == ("box-words-disagree", True)
    plain = changed(
        _words(SOLUTION, LEUPROLIDE, "leuprolide injection"), ('stop = ["follitropin"]', 'stop = ["all injections"]')
    )
    assert "box-words-disagree" not in levels(planned(tmp_path, plain))


def test_the_words_of_every_box_of_a_product_are_read(tmp_path: Path) -> None:
    """Two lots with different words count as one product; neither's words are dropped."""
    box = '[[cases.kit.products]]\nproduct = "hcg-10000-units"\nstrength = "10,000 units"\nlabel_rule = "10 mL only"\n'
    both = box + 'words = "Invented brand"\n\n' + box + 'words = "menotropins"\n'
    assert levels(planned(tmp_path, changed(POWDER, (box, both))))["box-words-disagree"] == "stop"


def test_names_are_whole_and_the_longest_is_meant() -> None:
    assert named_in("corifollitropin alfa, then follitropin") == ("corifollitropin alfa", "follitropin")
    assert named_in("nothing known") == ()
    assert same_medicine("leuprorelin", "leuprolide acetate")
    assert same_medicine("triptorelin acetate", "triptorelin")
    assert not same_medicine("chorionic gonadotropin", "choriogonadotropin alfa")


@pytest.mark.parametrize(
    ("base", "item"),
    [
        (SOLUTION, "leuprolide"),
        (SOLUTION, "leuprorelin acetate 0.5 mg daily"),
        (POWDER, "hCG"),
        (POWDER, "human chorionic gonadotrophin"),
        (PREFILLED, "choriogonadotropin alfa"),
    ],
)
def test_a_drug_that_is_stopped_and_ordered_is_a_stop(base: str, item: str, tmp_path: Path) -> None:
    plan = planned(tmp_path, changed(base, ('stop = ["follitropin"]', f'stop = ["follitropin", "{item}"]')))
    assert levels(plan)["stop-list-contradicts"] == "stop"
    assert f'stops "{item}"' in plan["findings"][0]["what"]


@pytest.mark.parametrize(
    "item",
    [
        "follitropin after the hCG",
        "all injections except hCG",
        "follitropin until hCG",
        "hMG (contains hCG)",
        "do not stop hCG",
    ],
)
def test_a_time_a_content_or_an_exception_stops_nothing(item: str, tmp_path: Path) -> None:
    night = changed(POWDER, ('stop = ["follitropin"]', f'stop = ["{item}"]'))
    assert "stop-list-contradicts" not in levels(planned(tmp_path, night))


def test_what_is_stopped_beside_it_says_nothing(tmp_path: Path) -> None:
    assert not speaks_of("follitropin, triptorelin", drug("leuprolide acetate"))
    assert not speaks_of("chorionic gonadotropin", drug("choriogonadotropin alfa"))
    assert "stop-list-contradicts" not in levels(planned(tmp_path, PREFILLED))


FOLD = changed(SOLUTION, *CLOCK_CHANGE[:3], ('at = "2026-11-20 09:00"', 'at = "2026-11-01 01:30 first"'))
CLOCK = changed(
    PREFILLED,
    ('slot = "s1"\n', ""),
    (LEAD, 'at = "2026-11-01 01:30 first"\nwhich = "second"\nwindow = ["01:00", "01:45"]'),
)


def test_two_words_for_one_repeated_hour_are_refused(tmp_path: Path) -> None:
    slot = changed(FOLD, ('room = "Room 1"', 'room = "Room 1"\nwhich = "second"'))
    for night, line in ((slot, 'which = "second"'), (CLOCK, 'which = "second"')):
        (found,) = refused(tmp_path, night)
        assert (found.code, '"first"' in found.what, '"second"' in found.what) == ("file-value", True, True)
        assert f":{line_of(night, line)}," in found.where
    planned(tmp_path, changed(FOLD, ('room = "Room 1"', 'room = "Room 1"\nwhich = "first"')))


def test_two_words_for_one_repeated_hour_are_refused_in_a_table_as_well() -> None:
    slot = {"id": "s1", "at": "2026-11-01 01:30 first", "which": "second"}
    assert [one.code for one in table_problems("slot", slot)] == ["file-value"]
    assert table_problems("slot", slot | {"which": "first"}) == ()


@pytest.mark.parametrize("key", ["lead", "after"])
def test_which_belongs_to_a_clock_time_alone(key: str, tmp_path: Path) -> None:
    after = 'after = { injection = "first", gap = "12 h", window = ["11 h", "13 h"] }'
    night = (
        changed(PREFILLED, (LEAD, f'{LEAD}\nwhich = "first"'))
        if key == "lead"
        else second_injection(
            PREFILLED,
            'id = "second"\ndrug = "choriogonadotropin alfa"\ndose = "250 mcg"\nroute = "subcutaneous"\n'
            f'{after}\nwhich = "first"',
        )
    )
    (found,) = refused(tmp_path, night)
    assert (found.code, found.where.endswith("which")) == ("file-timing", True)
    assert f"this injection has {key}" in found.what


@pytest.mark.parametrize("more", ['diluent = "1 mL"', 'diluent_into = "each"'])
@pytest.mark.parametrize("base", [SOLUTION, PREFILLED, NASAL], ids=["solution", "syringe", "spray"])
def test_water_ordered_for_a_ready_product_stops(base: str, more: str, tmp_path: Path) -> None:
    night = changed(base, (LEAD, f"{LEAD}\n{more}"))
    assert levels(planned(tmp_path, night))["diluent-needless"] == "stop"


@pytest.mark.parametrize(
    ("base", "strength", "at", "code", "level"),
    [
        (PREFILLED, ALFA, "2026-11-18 15:00", "out-of-fridge-later", "stop"),
        (SOLUTION, LEUPROLIDE, "2027-11-18 15:00", "out-of-fridge-later", "stop"),
        (SOLUTION, LEUPROLIDE, "2026-11-18 08:00", "room-limit-unknown", "ask"),
        (PREFILLED, ALFA, "2026-11-18 08:00", None, None),
    ],
)
def test_a_box_out_of_the_refrigerator(
    base: str, strength: str, at: str, code: str | None, level: str | None, tmp_path: Path
) -> None:
    found = levels(planned(tmp_path, changed(base, (strength, f'{strength}\nout_of_fridge = "{at}"'))))
    assert found == ({code: level} if code else {})


MIX = 'product = "hcg-10000-units"\ndiluent = "2 mL"\npart_dose = true\nchosen = true\n'


@pytest.mark.parametrize("second", ['diluent = "2 mL"\n', 'diluent = "2 mL"\npart_dose = false\nchosen = true\n'])
def test_two_rules_for_one_mix_of_which_one_forbids_stop(second: str, tmp_path: Path) -> None:
    more = f'\n[[clinic.rules.mixes]]\nproduct = "hcg-10000-units"\n{second}'
    night = changed(POWDER, (MIX, MIX + more), ('label_rule = "10 mL only"', 'label_rule = "1 mL or 10 mL"'))
    plan = planned(tmp_path, night)
    assert levels(plan)["mixing-rules-contradict"] == "stop"
    assert "2 mL" in plan["findings"][0]["what"]
    assert [row["part_allowed"] for row in plan["cases"][0]["injections"][0]["mixes"] if row["diluent"] == "1 mL"]
    entire = changed(POWDER, (MIX, MIX + more), ('label_rule = "10 mL only"', 'label_rule = "1 to 10 mL"'))
    found = levels(planned(tmp_path, entire))
    assert (found["mixing-rules-contradict"], "part-dose-unsigned" in found) == ("stop", False)
    same = changed(POWDER, (MIX, f"{MIX}\n[[clinic.rules.mixes]]\n{MIX}"))
    assert "mixing-rules-contradict" not in levels(planned(tmp_path, same))


@pytest.mark.parametrize(
    ("old", "new", "names"),
    [
        ('mixing = "20 min"', 'mixing = "90 min"', ("mixing", "lay_out")),
        ('fasting_clear = "2 h"', 'fasting_clear = "9 h"', ("fasting_clear", "fasting_solids")),
        ('tolerance_note = "10 %"', 'tolerance_note = "30 %"', ("tolerance_note", "tolerance_warn")),
        (
            'fasting_clear = "2 h"',
            'fasting_clear = "2 h"\ntrouble = { late_noted = "2 h", late_recomputed = "1 h" }',
            ("late_noted", "late_recomputed"),
        ),
    ],
)
def test_signed_times_that_cannot_both_hold_are_refused(
    old: str, new: str, names: tuple[str, str], tmp_path: Path
) -> None:
    (found,) = refused(tmp_path, changed(SOLUTION, (old, new)))
    assert found.code == "file-value"
    assert all(name in found.what for name in names)


def test_no_gap_at_all_is_refused(tmp_path: Path) -> None:
    stop = 'stop = ["follitropin"]'
    (found,) = refused(tmp_path, changed(SOLUTION, (stop, f'{stop}\nlargest_gap = "0 min"')))
    assert (found.code, found.where.endswith("largest_gap")) == ("file-value", True)


@pytest.mark.parametrize("weight", ["banana", "65", "65 lb", "-3 kg"])
def test_a_weight_is_a_number_of_kilograms(weight: str, tmp_path: Path) -> None:
    lh = 'lh = "2 units/L"'
    (found,) = refused(tmp_path, changed(SOLUTION, (lh, f'{lh}\nweight = "{weight}"')))
    assert (found.code, found.where.endswith("weight")) == ("file-value", True)
    planned(tmp_path, changed(SOLUTION, (lh, f'{lh}\nweight = "65.5 kg"')))


def test_a_measured_value_whose_point_may_part_thousands_is_asked_about(tmp_path: Path) -> None:
    lh = 'lh = "2 units/L"'
    (found,) = refused(tmp_path, changed(SOLUTION, (lh, f'{lh}\ne2 = "2.100 pg/mL"')))
    assert "2,100" in found.what
    assert '"2,100 pg/mL"' in found.do
    planned(tmp_path, changed(SOLUTION, (lh, f'{lh}\ne2 = "2.10 pg/mL"')))


OVERRIDE = 'override = { by = "Dr. L. Aumont", reason = "long journey", at = "2026-11-18 13:30" }'


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ((), "override-needless"),
        (
            (
                (LEAD, 'lead = "45 h"\nwindow = ["30 h", "45 h"]'),
                ('at = "2026-11-20 09:00"', 'at = "2026-11-21 09:00"'),
            ),
            None,
        ),
        ((('cycle = "antagonist"', 'cycle = "long agonist"'),), None),
    ],
)
def test_an_override_of_nothing_is_said(changes: tuple[Change, ...], code: str | None, tmp_path: Path) -> None:
    route = 'route = "subcutaneous"'
    found = levels(planned(tmp_path, changed(changed(SOLUTION, (route, f"{route}\n{OVERRIDE}")), *changes)))
    assert found.get("override-needless") == ("warn" if code else None)
    assert "stop" not in found.values()
    assert bool(code) or {"lead-outside-bands", "agonist-in-suppressed-cycle"} & set(found)


def test_a_combination_at_another_volume_or_with_another_syringe_is_named(tmp_path: Path) -> None:
    """1,250 of 10,000 units in 2 mL is 0.25 mL, between the lines of a 3 mL barrel; in 4 mL it is 0.5 mL."""
    night = changed(
        POWDER,
        ('dose = "1,000 units"', 'dose = "1,250 units"'),
        (MIX, f'{MIX}\n[[clinic.rules.mixes]]\nproduct = "hcg-10000-units"\ndiluent = "4 mL"\npart_dose = true\n'),
        ('[[cases.kit.syringes]]\nsyringe = "u100-1mL-1"\ncount = 3\n\n', ""),
    )
    (stop,) = [one for one in planned(tmp_path, night)["findings"] if one["code"] == "mark-between"]
    assert "4 mL of diluent with mL-3-0.1" in stop["do"]
    assert "No other syringe" not in stop["do"]


ONE_BARREL: Change = ('[[cases.kit.syringes]]\nsyringe = "u100-1mL-1"\ncount = 3\n\n', "")


def _between(folder: Path, dose: str) -> str:
    night = changed(POWDER, ONE_BARREL, ('dose = "1,000 units"', f'dose = "{dose}"'))
    (stop,) = [one for one in planned(folder, night)["findings"] if one["code"] == "mark-between"]
    return str(stop["do"])


def test_a_permitted_volume_with_a_syringe_that_is_not_at_home_is_named(tmp_path: Path) -> None:
    """1,250 of 10,000 units in 10 mL is 1.25 mL: twice a 1 mL barrel, never a 3 mL barrel."""
    do = _between(tmp_path, "1,250 units")
    assert "10 mL of diluent with a syringe that is not at home (" in do
    assert "mL-1-0.01 in 2 fills" in do


def test_where_nothing_lands_it_is_said_what_was_tried(tmp_path: Path) -> None:
    """1,111 of 10,000 units is 0.2222 mL in 2 mL and 1.111 mL in 10 mL; no barrel has lines so fine."""
    assert "in up to 10 fills of one kind (diluent volumes tried: 2 mL, 10 mL)." in _between(tmp_path, "1,111 units")


def test_a_volume_of_which_no_part_may_be_given_was_not_tried(tmp_path: Path) -> None:
    night = changed(
        POWDER,
        ONE_BARREL,
        ('dose = "1,000 units"', 'dose = "1,111 units"'),
        ('label_rule = "10 mL only"', 'label_rule = "1 mL or 10 mL"'),
    )
    (stop,) = [one for one in planned(tmp_path, night)["findings"] if one["code"] == "mark-between"]
    assert "tried: 2 mL, 10 mL; not tried, as no part of that mix may be given: 1 mL" in stop["do"]


def test_a_slot_moved_into_a_repeated_hour_keeps_its_word(tmp_path: Path) -> None:
    save(tmp_path, changed(SOLUTION, ('room = "Room 1"', 'room = "Room 1"\nwhich = "second"')))
    script = tmp_path / "evening.toml"
    for to, which in (("2026-11-01 01:30 first", "first"), ("2026-11-20 10:00", None)):
        script.write_text(
            'schema = 1\nnight = "night.toml"\n[[people]]\nname = "A. Kowal"\nrole = "theatre"\n'
            f'[[acts]]\nat = "2026-11-18 15:00"\nby = "A. Kowal"\ndo = "move-slot"\nslot = "s1"\nto = "{to}"\nwhy = "list"\n'
        )
        evening = read_evening(script)
        assert not isinstance(evening, tuple)
        slot = evening.acts[0].command.slot
        assert (slot["at"], slot.get("which")) == (to[:16], which)


@pytest.mark.parametrize("line", ['bmi = "23.148"', 'weight = "65.250 kg"'])
def test_three_decimals_are_no_thousands_where_there_are_none(line: str, tmp_path: Path) -> None:
    """Nobody has a body-mass index of 23,148; estradiol does run into the thousands."""
    lh = 'lh = "2 units/L"'
    planned(tmp_path, changed(SOLUTION, (lh, f"{lh}\n{line}")))
    (found,) = refused(tmp_path, changed(SOLUTION, (lh, f'{lh}\ne2 = "2.100 pg/mL"')))
    assert (found.code, "2,100" in found.do) == ("file-value", True)


def test_rules_that_contradict_each_other_stop_only_what_they_touch(tmp_path: Path) -> None:
    other = MIX + '\n[[clinic.rules.mixes]]\nproduct = "hcg-10000-units"\ndiluent = "4 mL"\npart_dose = {}\n'
    both = changed(
        POWDER,
        (
            MIX,
            other.format("true")
            + '\n[[clinic.rules.mixes]]\nproduct = "hcg-10000-units"\ndiluent = "4 mL"\npart_dose = false\n',
        ),
    )
    assert "mixing-rules-contradict" not in levels(planned(tmp_path, both))
