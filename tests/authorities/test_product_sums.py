"""Worked numbers for the products, read against their labels and papers:

- FDA labels of chorionic gonadotropin for injection (three holders), rev 2016 to 2023; Swiss, German and British texts of it;
- USP monograph chorionic gonadotropin for injection (28, 29, 35); EU leaflet and SmPC of choriogonadotropin alfa;
- FDA label of leuprolide acetate injection 5 mg/mL; German and Austrian SmPC of triptorelin; UK and Spanish SmPC of buserelin;
- EU leaflets of ganirelix, section 3; clinic sheets on small doses; an encyclopaedia article on dead space;
- what clinics do without any source, marked so.

Ids: FC worked product rows, J9 worked numbers of a night, P common practice. A part after the point tells cases of one row apart.
"""

import datetime as dt
from fractions import Fraction

import pytest

from hourmark.clock import Moment, moment, parse_span, parse_wall, parse_zone
from hourmark.dose import How, Spray, Syringe, Vial, WentIn, dose_given, draw, exactly, lands_on_line, mix
from hourmark.finding import Level, Unreadable
from hourmark.formulary import barrel, barrels, drug, facts, product
from hourmark.plan import antagonist_gap, keep_until
from hourmark.quantity import (
    Mark,
    Share,
    divide,
    number_text,
    parse_concentration,
    parse_dose,
    parse_number,
    parse_percent,
    parse_volume,
)

LABEL_C = "FDA label, chorionic gonadotropin for injection, concentration table, rev 05/2023"
LABEL_A = "FDA label, chorionic gonadotropin for injection, description, rev 2016"
DERIVED = "derived: content / diluent"
LEUPROLIDE = "FDA label, leuprolide acetate injection 5 mg/mL, description; derived"


def at(wall: str) -> Moment:
    found = moment(parse_wall(wall), parse_zone("Europe/London"))
    assert isinstance(found, Moment)
    return found


@pytest.mark.parametrize(
    ("content", "diluent", "strength", "source"),
    [
        pytest.param("10,000 units", "1 mL", "10,000 units/mL", LABEL_C, id="FC01"),
        pytest.param("10,000 units", "2 mL", "5,000 units/mL", DERIVED, id="FC02"),
        pytest.param("10,000 units", "10 mL", "1,000 units/mL", f"{LABEL_A}; {LABEL_C}", id="FC03"),
        pytest.param("5,000 units", "1 mL", "5,000 units/mL", LABEL_C, id="FC04"),
        pytest.param("5,000 units", "10 mL", "500 units/mL", LABEL_C, id="FC05"),
        pytest.param("1,500 units", "1 mL", "1,500 units/mL", DERIVED, id="FC06"),
        pytest.param("250 units", "1 mL", "250 units/mL", DERIVED, id="FC07"),
        pytest.param("10,000 units", "3 mL", "about 3,333 units/mL", DERIVED, id="FC08"),
        pytest.param("10,000 units", "1 mL", "10,000 units/mL", DERIVED, id="J9-03.1"),
        pytest.param("10,000 units", "2 mL", "5,000 units/mL", DERIVED, id="J9-03.2"),
        pytest.param("10,000 units", "4 mL", "2,500 units/mL", DERIVED, id="J9-03.4"),
        pytest.param("10,000 units", "10 mL", "1,000 units/mL", DERIVED, id="J9-03.10"),
    ],
)
def test_content_and_diluent_give_a_strength(content: str, diluent: str, strength: str, source: str) -> None:
    vial = mix(parse_dose(content), parse_volume(diluent))
    assert str(vial.concentration) == strength, source
    assert vial.concentration.per_ml.value * parse_volume(diluent).value == parse_dose(content).value, source


@pytest.mark.parametrize(
    ("dose", "content", "diluent", "device", "volume", "mark", "source"),
    [
        pytest.param("5,000 units", "10,000 units", "1 mL", "u100-1mL-1", "0.5 mL", "50", DERIVED, id="FC11.u100"),
        pytest.param("5,000 units", "10,000 units", "1 mL", "mL-1-0.01", "0.5 mL", "0.5", DERIVED, id="FC11.mL"),
        pytest.param("5,000 units", "10,000 units", "2 mL", "mL-2-0.1", "1 mL", "1", DERIVED, id="FC12"),
        pytest.param("1,500 units", "5,000 units", "1 mL", "u100-0.5mL-1", "0.3 mL", "30", DERIVED, id="FC13.5000"),
        pytest.param("1,500 units", "10,000 units", "1 mL", "u100-0.3mL-1", "0.15 mL", "15", DERIVED, id="FC13.10000"),
        pytest.param("1,500 units", "10,000 units", "10 mL", "mL-2-0.1", "1.5 mL", "1.5", DERIVED, id="FC13.10mL"),
        pytest.param("1,000 units", "10,000 units", "1 mL", "u100-0.3mL-1", "0.1 mL", "10", DERIVED, id="FC14.1mL"),
        pytest.param("1,000 units", "10,000 units", "10 mL", "mL-2-0.1", "1 mL", "1", DERIVED, id="FC14.10mL"),
        pytest.param(
            "50 units",
            "10,000 units",
            "10 mL",
            "u100-0.3mL-1",
            "0.05 mL",
            "5",
            "US clinic sheet on small daily doses; derived",
            id="FC17.50",
        ),
        pytest.param("100 units", "10,000 units", "10 mL", "u100-0.3mL-1", "0.1 mL", "10", DERIVED, id="FC17.100"),
        pytest.param("150 units", "10,000 units", "10 mL", "u100-0.3mL-1", "0.15 mL", "15", DERIVED, id="FC17.150"),
        pytest.param("200 units", "10,000 units", "10 mL", "u100-0.3mL-1", "0.2 mL", "20", DERIVED, id="FC17.200"),
        pytest.param("5,000 units", "10,000 units", "1 mL", "mL-1-0.01", "0.5 mL", "0.5", DERIVED, id="J9-03.5000_1"),
        pytest.param("5,000 units", "10,000 units", "2 mL", "mL-2-0.1", "1 mL", "1", DERIVED, id="J9-03.5000_2"),
        pytest.param("5,000 units", "10,000 units", "4 mL", "mL-3-0.1", "2 mL", "2", DERIVED, id="J9-03.5000_4"),
        pytest.param("5,000 units", "10,000 units", "10 mL", "mL-10-0.2", "5 mL", "5", DERIVED, id="J9-03.5000_10"),
        pytest.param("1,500 units", "10,000 units", "1 mL", "mL-1-0.01", "0.15 mL", "0.15", DERIVED, id="J9-03.1500_1"),
        pytest.param("1,500 units", "10,000 units", "2 mL", "mL-1-0.01", "0.3 mL", "0.3", DERIVED, id="J9-03.1500_2"),
        pytest.param("1,500 units", "10,000 units", "4 mL", "mL-1-0.01", "0.6 mL", "0.6", DERIVED, id="J9-03.1500_4"),
        pytest.param("1,500 units", "10,000 units", "10 mL", "mL-2-0.1", "1.5 mL", "1.5", DERIVED, id="J9-03.1500_10"),
        pytest.param(
            "1,000 units",
            "10,000 units",
            "2 mL",
            "u100-1mL-2",
            "0.2 mL",
            "20",
            "common practice, no source",
            id="P-10000-in-2.1000_u100",
        ),
        pytest.param(
            "1,000 units",
            "10,000 units",
            "2 mL",
            "mL-1-0.01",
            "0.2 mL",
            "0.2",
            "common practice, no source",
            id="P-10000-in-2.1000_mL",
        ),
        pytest.param(
            "1,500 units",
            "10,000 units",
            "2 mL",
            "u100-1mL-2",
            "0.3 mL",
            "30",
            "common practice, no source",
            id="P-10000-in-2.1500_u100",
        ),
        pytest.param(
            "1,500 units",
            "10,000 units",
            "2 mL",
            "mL-1-0.01",
            "0.3 mL",
            "0.3",
            "common practice, no source",
            id="P-10000-in-2.1500_mL",
        ),
    ],
)
def test_a_part_of_a_mixed_vial_to_a_mark(
    dose: str, content: str, diluent: str, device: str, volume: str, mark: str, source: str
) -> None:
    drawn = draw(parse_dose(dose), mix(parse_dose(content), parse_volume(diluent)), [barrel(device)])
    assert not drawn.stopped, f"{source}: {drawn.findings}"
    assert drawn.volume == parse_volume(volume), source
    assert [(fill.how, fill.device, str(fill.mark)) for fill in drawn.fills] == [(How.MARK, device, mark)], source
    assert (drawn.given, drawn.share) == (parse_dose(dose), Share(Fraction(1))), source
    assert drawn.left == parse_volume(diluent) - parse_volume(volume), source


@pytest.mark.parametrize(
    ("dose", "content", "diluent", "devices", "vials", "volumes", "source"),
    [
        pytest.param("10,000 units", "10,000 units", "1 mL", ["mL-2-0.1"], 1, ["1 mL"], LABEL_C, id="FC09"),
        pytest.param("1,500 units", "1,500 units", "1 mL", ["mL-2-0.1"], 1, ["1 mL"], DERIVED, id="FC13.whole"),
        pytest.param("10,000 units", "5,000 units", "1 mL", ["mL-3-0.1"], 2, ["2 mL"], DERIVED, id="FC16.each"),
    ],
)
def test_a_whole_vial_is_given_without_a_mark(
    dose: str, content: str, diluent: str, devices: list[str], vials: int, volumes: list[str], source: str
) -> None:
    vial = mix(parse_dose(content), parse_volume(diluent))
    drawn = draw(parse_dose(dose), vial, [barrel(device) for device in devices], vials=vials)
    assert not drawn.stopped, f"{source}: {drawn.findings}"
    assert [(fill.how, fill.mark, str(fill.volume)) for fill in drawn.fills] == [(How.ALL, None, v) for v in volumes], (
        source
    )
    assert drawn.given == parse_dose(dose), source


@pytest.mark.parametrize(
    ("dose", "content", "diluent", "device", "vials", "route", "code", "source"),
    [
        pytest.param(
            "10,000 units",
            "10,000 units",
            "10 mL",
            "mL-10-0.2",
            1,
            "intramuscular",
            "volume-too-large",
            "Open RN Nursing Skills 18.6, up to 5 mL; derived",
            id="FC10",
        ),
        pytest.param(
            "10,000 units",
            "5,000 units",
            "1 mL",
            "mL-3-0.1",
            1,
            None,
            "vials-too-few",
            "derived; carrying one water from vial to vial is clinic practice and not computed here",
            id="FC16.carried",
        ),
        pytest.param(
            "1,500 units",
            "10,000 units",
            "1 mL",
            "u100-1mL-2",
            1,
            None,
            "mark-between",
            "derived: 15 lies between 14 and 16",
            id="FC13.two_marks",
        ),
    ],
)
def test_what_cannot_be_given_so_is_refused(
    dose: str, content: str, diluent: str, device: str, vials: int, route: str | None, code: str, source: str
) -> None:
    vial = mix(parse_dose(content), parse_volume(diluent))
    drawn = draw(parse_dose(dose), vial, [barrel(device)], vials=vials, route=route)
    assert drawn.stopped, source
    assert drawn.findings[0].code == code, f"{source}: {drawn.findings}"
    assert drawn.fills == (), source


@pytest.mark.parametrize(
    ("dose", "strength", "device", "marks", "source"),
    [
        pytest.param(
            "1,500 units",
            "1,000 units/mL",
            "u100-1mL-1",
            ["75", "75"],
            "derived: 150 marks exceed one barrel",
            id="FC13.150_marks",
        ),
        pytest.param(
            "4 mg",
            "5 mg/mL",
            "u100-0.5mL-1",
            ["40", "40"],
            f"{LEUPROLIDE}: 80 marks exceed a barrel of 50",
            id="FC27.50_marks",
        ),
        pytest.param(
            "4 mg",
            "5 mg/mL",
            "u100-0.5mL-1",
            ["40", "40"],
            f"{LEUPROLIDE}: a barrel of 50 ends at 2.5 mg",
            id="J9-01.two_fills",
        ),
    ],
)
def test_more_than_one_barrel_holds_is_two_equal_fills(
    dose: str, strength: str, device: str, marks: list[str], source: str
) -> None:
    drawn = draw(parse_dose(dose), Vial(parse_concentration(strength)), [barrel(device)])
    assert not drawn.stopped, f"{source}: {drawn.findings}"
    assert [str(fill.mark) for fill in drawn.fills] == marks, source
    assert drawn.given == parse_dose(dose), source


@pytest.mark.parametrize(
    ("dose", "volume", "mark", "source"),
    [
        pytest.param("0.5 mg", "0.1 mL", "10", f"{LEUPROLIDE}; Fauser 2002", id="FC23"),
        pytest.param(
            "1 mg", "0.2 mL", "20", "FDA patient leaflet, leuprolide acetate injection: 20 unit mark", id="FC24"
        ),
        pytest.param("1.5 mg", "0.3 mL", "30", f"{LEUPROLIDE}; Castillo 2010", id="FC25"),
        pytest.param("2 mg", "0.4 mL", "40", LEUPROLIDE, id="FC26"),
        pytest.param("4 mg", "0.8 mL", "80", LEUPROLIDE, id="FC27"),
        pytest.param("0.5 mg", "0.1 mL", "10", LEUPROLIDE, id="J9-01.10"),
        pytest.param("1 mg", "0.2 mL", "20", "FDA label, leuprolide acetate injection, dosage", id="J9-01.20"),
        pytest.param("2 mg", "0.4 mL", "40", LEUPROLIDE, id="J9-01.40"),
        pytest.param("4 mg", "0.8 mL", "80", LEUPROLIDE, id="J9-01.80"),
    ],
)
def test_leuprolide_on_a_u100_barrel(dose: str, volume: str, mark: str, source: str) -> None:
    box = product("leuprolide-5mg-per-ml-vial")
    assert box.concentration is not None, source
    for device in ("u100-1mL-1", "u100-1mL-2"):
        drawn = draw(parse_dose(dose), Vial(box.concentration, box.holds), [barrel(device)], route="subcutaneous")
        assert not drawn.stopped, f"{source}: {drawn.findings}"
        assert drawn.volume == parse_volume(volume), source
        assert [str(fill.mark) for fill in drawn.fills] == [mark], source


@pytest.mark.parametrize(
    ("doses", "left", "source"),
    [
        pytest.param(3, "0.4 mL", LEUPROLIDE, id="FC28"),
        pytest.param(3, "0.4 mL", LEUPROLIDE, id="J9-01.vial"),
    ],
)
def test_a_leuprolide_vial_holds_three_of_4_mg(doses: int, left: str, source: str) -> None:
    box = product("leuprolide-5mg-per-ml-vial")
    assert box.concentration is not None, source
    assert box.holds is not None, source
    content = box.concentration.dose_in(box.holds)
    assert str(content) == "14 mg", source
    assert divide(content, parse_dose("4 mg")) // 1 == doses, source
    assert box.holds - box.concentration.volume_of(parse_dose("4 mg")) * doses == parse_volume(left), source
    assert box.concentration.dose_in(parse_volume(left)) == parse_dose("2 mg"), source


@pytest.mark.parametrize(
    ("mark", "strength", "dose", "whole", "share", "source"),
    [
        pytest.param(
            "5",
            "10,000 units/mL",
            "500 units",
            "50 units",
            "1000 %",
            "US clinic sheet on small daily doses; derived",
            id="FC19",
        ),
        pytest.param(
            "20",
            "0.2 mg/mL",
            "0.04 mg",
            "1 mg",
            "4 %",
            "pharmacy sheet on diluted leuprolide; derived",
            id="FC29.marks",
        ),
        pytest.param(
            "80", "0.4 mg/mL", "0.32 mg", "4 mg", "8 %", "derived from diluted strengths in use", id="J9-02.0_4"
        ),
        pytest.param(
            "80", "0.5 mg/mL", "0.4 mg", "4 mg", "10 %", "derived from diluted strengths in use", id="J9-02.0_5"
        ),
        pytest.param("15", "5,000 units/mL", "750 units", "1,500 units", "50 %", "derived", id="J9-04.half"),
        pytest.param("30", "10,000 units/mL", "3,000 units", "1,500 units", "200 %", "derived", id="J9-04.double"),
        pytest.param(
            "5",
            "1,000 units/mL",
            "50 units",
            "50 units",
            "100 %",
            "US clinic sheet on small daily doses; derived",
            id="J9-05.10mL",
        ),
        pytest.param(
            "5",
            "10,000 units/mL",
            "500 units",
            "50 units",
            "1000 %",
            "US clinic sheet on small daily doses; derived",
            id="J9-05.1mL",
        ),
        pytest.param(
            "10", "10,000 units/mL", "1,000 units", "10,000 units", "10 %", "derived: 0.1 mL left behind", id="J9-06"
        ),
    ],
)
def test_what_a_mark_holds_at_another_strength(
    mark: str, strength: str, dose: str, whole: str, share: str, source: str
) -> None:
    volume = barrel("u100-1mL-1").volume_at(Mark(parse_number(mark)))
    held = parse_concentration(strength).dose_in(volume)
    assert held == parse_dose(dose), source
    assert Share(divide(held, parse_dose(whole))) == parse_percent(share), source


@pytest.mark.parametrize(
    ("content", "water", "drawn", "lost", "given", "source"),
    [
        pytest.param(
            "5,000 units",
            "1 mL",
            "0.15 mL",
            "0 mL",
            "750 units",
            "derived: meant from 10,000 units",
            id="J9-04.other_vial",
        ),
        pytest.param(
            "10,000 units",
            "1 mL",
            "0.3 mL",
            "0 mL",
            "3,000 units",
            "derived: meant from 5,000 units",
            id="J9-04.stronger_vial",
        ),
        pytest.param(
            "10,000 units",
            "10 mL",
            "0.05 mL",
            "0 mL",
            "50 units",
            "US clinic sheet on small daily doses; derived",
            id="J9-05.given_weak",
        ),
        pytest.param(
            "10,000 units",
            "1 mL",
            "0.05 mL",
            "0 mL",
            "500 units",
            "US clinic sheet on small daily doses; derived",
            id="J9-05.given_strong",
        ),
        pytest.param(
            "10,000 units", "1 mL", "1 mL", "0.1 mL", "9,000 units", "derived: 0.1 mL left behind", id="J9-06.given"
        ),
        pytest.param(
            "10,000 units",
            "1 mL",
            "1 mL",
            "0.084 mL",
            "9,160 units",
            "encyclopaedia article on low dead space syringes; derived",
            id="FC20.given",
        ),
    ],
)
def test_what_went_in_gives_the_dose(content: str, water: str, drawn: str, lost: str, given: str, source: str) -> None:
    found = dose_given(
        WentIn(
            exactly(parse_volume(drawn)),
            content=parse_dose(content),
            water=exactly(parse_volume(water)),
            lost=exactly(parse_volume(lost)),
        )
    )
    assert found.exact, source
    assert found.least == parse_dose(given), source


@pytest.mark.parametrize(
    ("text", "source"),
    [
        pytest.param("5 marks", "US clinic sheet, which says units for marks", id="FC19.marks"),
        pytest.param("5 lines", "derived: a line is no dose", id="J9-05.lines"),
    ],
)
def test_marks_are_never_read_as_a_dose(text: str, source: str) -> None:
    with pytest.raises(Unreadable) as refusal:
        parse_dose(text)
    assert "not a dose" in refusal.value.what, source


@pytest.mark.parametrize(
    ("volume", "dose", "source"),
    [
        pytest.param(
            "0.084 mL", "840 units", "encyclopaedia article on low dead space syringes; derived", id="FC20.needle"
        ),
        pytest.param(
            "0.002 mL", "20 units", "encyclopaedia article on low dead space syringes; derived", id="FC20.fixed"
        ),
    ],
)
def test_what_stays_in_the_needle(volume: str, dose: str, source: str) -> None:
    assert parse_concentration("10,000 units/mL").dose_in(parse_volume(volume)) == parse_dose(dose), source


@pytest.mark.parametrize(
    ("content", "least", "most", "source"),
    [
        pytest.param(
            "10,000 units", "8,000 units", "12,500 units", "USP 28, 29, 35: 80.0 to 125.0 %; derived", id="FC21.10000"
        ),
        pytest.param(
            "5,000 units", "4,000 units", "6,250 units", "USP 28, 29, 35: 80.0 to 125.0 %; derived", id="FC21.5000"
        ),
    ],
)
def test_what_a_vial_may_hold_by_its_monograph(content: str, least: str, most: str, source: str) -> None:
    limits = facts("limits")
    for name, expected in (("potency-least", least), ("potency-most", most)):
        assert parse_dose(content) * limits[name].value.value == parse_dose(expected), source


@pytest.mark.parametrize(
    ("dose", "source"),
    [
        pytest.param("6,500 units", "EU leaflet, choriogonadotropin alfa, section 6: 250 micrograms", id="FC22.6500"),
        pytest.param("13,000 units", "derived: two syringes", id="FC22.13000"),
        pytest.param("6,500 units", "from memory: 26 units to the microgram", id="M-iu_per_ug"),
    ],
)
def test_units_are_never_converted_into_prefilled_syringes(dose: str, source: str) -> None:
    box = product("choriogonadotropin-alfa-250mcg-syringe")
    assert box.content is not None, source
    assert box.holds is not None, source
    drawn = draw(parse_dose(dose), Syringe(box.id, box.content, box.holds))
    assert [(finding.code, finding.level) for finding in drawn.findings] == [("dose-other-kind", Level.STOP)], source


@pytest.mark.parametrize(
    ("product_id", "dose", "count", "volume", "source"),
    [
        pytest.param(
            "triptorelin-100mcg-syringe", "0.2 mg", 2, "2 mL", "German SmPC, triptorelin, section 2; derived", id="FC30"
        ),
        pytest.param(
            "choriogonadotropin-alfa-250mcg-syringe",
            "500 mcg",
            2,
            "1 mL",
            "EU leaflet, choriogonadotropin alfa, section 3; derived",
            id="FC22.two",
        ),
    ],
)
def test_whole_prefilled_syringes(product_id: str, dose: str, count: int, volume: str, source: str) -> None:
    box = product(product_id)
    assert box.content is not None, source
    assert box.holds is not None, source
    drawn = draw(parse_dose(dose), Syringe(box.id, box.content, box.holds), route="subcutaneous")
    assert not drawn.stopped, f"{source}: {drawn.findings}"
    assert [fill.how for fill in drawn.fills] == [How.SYRINGE] * count, source
    assert drawn.volume == parse_volume(volume), source


@pytest.mark.parametrize(
    ("salt", "base", "syringes", "source"),
    [pytest.param("100 mcg", "95.6 mcg", 2, "German and Austrian SmPC, triptorelin, section 2", id="FC30.base")],
)
def test_salt_and_base_of_triptorelin_are_kept_apart(salt: str, base: str, syringes: int, source: str) -> None:
    found = drug("triptorelin acetate").fact("free-base")
    assert found is not None, source
    assert f"{salt} of triptorelin acetate is {base} of triptorelin" in found.text, source
    assert parse_dose(base) * syringes == parse_dose("0.1912 mg"), f"derived from {source}"
    assert drug("triptorelin") != drug("triptorelin acetate"), source


@pytest.mark.parametrize(
    ("dose", "volume", "mark", "doses", "days", "source"),
    [pytest.param("0.5 mg", "0.5 mL", "50", 11, "15", "UK SmPC, buserelin 1 mg/mL, section 6.3; derived", id="FC31")],
)
def test_buserelin(dose: str, volume: str, mark: str, doses: int, days: str, source: str) -> None:
    box = product("buserelin-1mg-per-ml-vial")
    assert box.concentration is not None, source
    assert box.holds is not None, source
    drawn = draw(parse_dose(dose), Vial(box.concentration, box.holds), [barrel("u100-1mL-2")], route="subcutaneous")
    assert drawn.volume == parse_volume(volume), source
    assert [str(fill.mark) for fill in drawn.fills] == [mark], source
    assert divide(box.concentration.dose_in(box.holds), parse_dose(dose)) == doses, source
    assert box.facts["in-use-days"].value == parse_number(days), source


@pytest.mark.parametrize(
    ("dose", "sprays", "source"),
    [
        pytest.param("400 mcg", 2, "trial abstract and drug digest, 200 micrograms a spray; derived", id="FC32.400"),
        pytest.param("800 mcg", 4, "registered trial NCT06763926: four sprays", id="FC32.800"),
    ],
)
def test_nafarelin_sprays(dose: str, sprays: int, source: str) -> None:
    box = product("nafarelin-200mcg-spray")
    assert box.content is not None, source
    drawn = draw(parse_dose(dose), Spray(box.id, box.content), route="nasal")
    assert [fill.sprays for fill in drawn.fills] == [sprays], source
    assert drawn.volume is None, source


GANIRELIX = "EU leaflets, ganirelix, section 3: at most 30 hours"


@pytest.mark.parametrize(
    ("last", "trigger", "gap", "asked", "source"),
    [
        pytest.param("2026-11-23 08:00", "2026-11-24 21:00", "37 h", True, GANIRELIX, id="FC60.37"),
        pytest.param("2026-11-24 08:00", "2026-11-24 21:00", "13 h", False, GANIRELIX, id="FC60.13"),
        pytest.param("2026-11-23 17:00", "2026-11-24 22:00", "29 h", False, GANIRELIX, id="FC61.29"),
        pytest.param("2026-11-23 17:00", "2026-11-24 23:30", "30 h 30 min", True, GANIRELIX, id="FC61.30_30"),
        pytest.param("2026-11-23 08:00", "2026-11-24 14:00", "30 h", False, GANIRELIX, id="FC62.30"),
        pytest.param("2026-11-23 08:00", "2026-11-24 14:01", "30 h 1 min", True, GANIRELIX, id="FC62.30_01"),
        pytest.param("2026-11-23 16:00", "2026-11-24 22:00", "30 h", False, GANIRELIX, id="M-antagonist_gap.at"),
        pytest.param(
            "2026-10-24 19:00",
            "2026-10-26 00:01",
            "30 h 1 min",
            True,
            f"{GANIRELIX}; elapsed over a clock change, derived",
            id="M-antagonist_gap.clock_change",
        ),
    ],
)
def test_the_gap_from_the_last_antagonist(last: str, trigger: str, gap: str, asked: bool, source: str) -> None:
    found, finding = antagonist_gap(drug("ganirelix"), at(last), at(trigger))
    assert found == parse_span(gap), source
    assert (finding is not None) == asked, f"{source}: {finding}"
    if finding is not None:
        assert (finding.code, finding.level) == ("antagonist-gap", Level.ASK), source


ALFA_ROOM = "EU leaflet, choriogonadotropin alfa, section 5: 30 days at most 25 °C; counting derived"
BUSERELIN_OPEN = "UK SmPC, buserelin, section 6.3: 15 days; counting derived"


@pytest.mark.parametrize(
    ("opened", "in_use", "out", "room", "expiry", "stop", "last", "source"),
    [
        pytest.param(None, None, "2026-05-01 09:00", 30, None, "2026-05-31 09:00", "2026-05-30", ALFA_ROOM, id="FC64"),
        pytest.param(
            "2026-05-01 09:00", 15, None, None, None, "2026-05-16 09:00", "2026-05-15", BUSERELIN_OPEN, id="FC65"
        ),
        pytest.param(
            "2026-05-01 09:00",
            None,
            None,
            None,
            None,
            "2026-05-29 09:00",
            "2026-05-28",
            "USP <797>, 28 days where the label is silent",
            id="FC68.default",
        ),
        pytest.param(
            "2026-05-01 09:00",
            30,
            None,
            None,
            "2026-05-10",
            None,
            "2026-05-10",
            "derived: the earliest of all",
            id="FC68.expiry",
        ),
        pytest.param(
            "2026-05-01 09:00",
            60,
            "2026-04-20 09:00",
            30,
            "2027-01-31",
            "2026-05-20 09:00",
            "2026-05-19",
            "derived: the earliest of all",
            id="FC68.room",
        ),
        pytest.param(
            "2026-05-01 09:00",
            15,
            "2026-04-20 09:00",
            30,
            "2027-01-31",
            "2026-05-16 09:00",
            "2026-05-15",
            "derived: the earliest of all",
            id="FC68.in_use",
        ),
    ],
)
def test_how_long_it_keeps(
    opened: str | None,
    in_use: int | None,
    out: str | None,
    room: int | None,
    expiry: str | None,
    stop: str | None,
    last: str,
    source: str,
) -> None:
    keep = keep_until(
        opened=at(opened) if opened else None,
        in_use_days=in_use,
        out_of_fridge=at(out) if out else None,
        room_days=room,
        expiry=dt.date.fromisoformat(expiry) if expiry else None,
    )
    assert keep is not None, source
    assert (keep.hard_stop.wall if keep.hard_stop else None) == (dt.datetime.fromisoformat(stop) if stop else None), (
        source
    )
    assert keep.last_date == dt.date.fromisoformat(last), source


@pytest.mark.parametrize(
    ("opened", "in_use", "out", "room", "expiry", "latest", "source"),
    [
        pytest.param(
            "2026-05-01 20:00",
            15,
            "2026-05-01 09:00",
            15,
            None,
            "2026-05-16 09:00",
            "derived: the earliest of all, to the minute",
            id="FC68.same_day_room",
        ),
        pytest.param(
            "2026-05-01 09:00",
            15,
            "2026-05-01 20:00",
            15,
            None,
            "2026-05-16 09:00",
            "derived: the earliest of all, to the minute",
            id="FC68.same_day_in_use",
        ),
        pytest.param(
            "2026-05-01 20:00",
            15,
            None,
            None,
            "2026-05-15",
            "2026-05-16 00:00",
            "derived: the expiry day's end comes first",
            id="FC68.same_day_expiry",
        ),
    ],
)
def test_two_limits_that_end_on_one_day(
    opened: str, in_use: int, out: str | None, room: int | None, expiry: str | None, latest: str, source: str
) -> None:
    keep = keep_until(
        opened=at(opened),
        in_use_days=in_use,
        out_of_fridge=at(out) if out else None,
        room_days=room,
        expiry=dt.date.fromisoformat(expiry) if expiry else None,
    )
    assert keep is not None, source
    assert keep.last_date == dt.date(2026, 5, 15), source
    assert keep.hard_stop is None or not at(latest) < keep.hard_stop, f"{source}: {keep.hard_stop}"


@pytest.mark.parametrize(
    ("product_id", "fact", "days", "source"),
    [
        pytest.param("choriogonadotropin-alfa-250mcg-syringe", "room-days", "30", ALFA_ROOM, id="FC64.days"),
        pytest.param("buserelin-1mg-per-ml-vial", "in-use-days", "15", BUSERELIN_OPEN, id="FC65.days"),
    ],
)
def test_the_days_on_the_label(product_id: str, fact: str, days: str, source: str) -> None:
    assert product(product_id).facts[fact].value == parse_number(days), source


LABEL_B = "FDA label, chorionic gonadotropin for injection, two-vial package"


@pytest.mark.parametrize(
    ("product_id", "words", "volumes", "entire_at", "part_at", "days", "source"),
    [
        pytest.param(
            "hcg-10000-units",
            "10 mL only",
            ["10 mL"],
            [],
            ["10 mL"],
            "30",
            f"{LABEL_A}; days of a hospital's manual",
            id="LABEL-A",
        ),
        pytest.param(
            "hcg-10000-units",
            "1 to 10 mL",
            ["1 mL", "2 mL", "5 mL", "9 mL", "10 mL"],
            ["1 mL", "2 mL", "10 mL"],
            [],
            "60",
            LABEL_B,
            id="LABEL-B",
        ),
        pytest.param(
            "hcg-10000-units",
            "1 mL or 10 mL",
            ["1 mL", "10 mL"],
            ["1 mL"],
            ["10 mL"],
            "30",
            LABEL_C,
            id="LABEL-C.10000",
        ),
        pytest.param(
            "hcg-5000-units", "1 mL or 10 mL", ["1 mL", "10 mL"], ["1 mL"], ["10 mL"], "30", LABEL_C, id="LABEL-C.5000"
        ),
    ],
)
def test_three_labels_three_mixing_rules(
    product_id: str, words: str, volumes: list[str], entire_at: list[str], part_at: list[str], days: str, source: str
) -> None:
    rule = product(product_id).rule(words)
    assert rule is not None, source
    assert all(rule.prints(parse_volume(volume)) for volume in volumes), source
    assert not any(rule.prints(parse_volume(volume)) for volume in ("0.5 mL", "1.5 mL", "11 mL")), source
    assert all(rule.wants_entire(parse_volume(volume)) for volume in entire_at), source
    assert not any(rule.wants_entire(parse_volume(volume)) for volume in part_at), source
    assert rule.in_use_days is not None, source
    assert rule.in_use_days.value == parse_number(days), source


@pytest.mark.parametrize(
    ("tolerance", "share", "source"),
    [
        pytest.param(
            "0.049 mL",
            "24.5 %",
            "ISO 7886-1 table 1, from memory; dose and diluent: common practice, no source",
            id="P-3mL-barrel",
        )
    ],
)
def test_a_fifth_of_a_millilitre_on_a_3_millilitre_barrel_is_warned_of(tolerance: str, share: str, source: str) -> None:
    vial = mix(parse_dose("10,000 units"), parse_volume("2 mL"))
    drawn = draw(parse_dose("1,000 units"), vial, [barrel("mL-3-0.1")])
    assert drawn.tolerance is not None, source
    error, wrong = drawn.tolerance
    assert error == parse_volume(tolerance), source
    assert Share(divide(wrong, parse_dose("1,000 units"))) == parse_percent(share), source
    warned = [finding for finding in drawn.findings if finding.code == "tolerance-wide"]
    assert [finding.level for finding in warned] == [Level.WARN], source
    assert share in warned[0].what, source


@pytest.mark.parametrize(
    ("volume", "fits", "source"),
    [
        pytest.param(
            "0.2 mL",
            {"u100-0.3mL-0.5", "u100-0.3mL-1", "u100-0.5mL-1", "u100-1mL-1", "u100-1mL-2", "mL-1-0.01"},
            "derived",
            id="P-smallest.0_2",
        ),
    ],
)
def test_barrels_that_hold_a_small_draw_better_than_3_millilitres(volume: str, fits: set[str], source: str) -> None:
    """The smallest barrel that takes the whole dose is the one to draw on (Kosinski, IJPC 2018;22(1))."""
    on_a_line = {found.id for found in lands_on_line(parse_volume(volume), barrels().values())}
    assert fits <= on_a_line, source
    vial = mix(parse_dose("10,000 units"), parse_volume("2 mL"))
    drawn = draw(parse_dose("1,000 units"), vial, [barrel("mL-3-0.1"), barrel("mL-1-0.01")])
    assert drawn.fills[0].device == "mL-1-0.01", source


def test_small_and_large_numbers_read_the_same_way_back() -> None:
    for text in ("10,000 units", "0.15 mL", "0.0208 mL"):
        number = text.split()[0]
        assert number_text(parse_number(number)) == number, "derived"
