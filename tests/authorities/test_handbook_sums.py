"""Dose over concentration, read against handbooks for nurses and labels of other drugs, in this program's own units:

- Open RN Nursing Skills 5.5 and its nurse refresher edition, chapter 15; US Army MD0904 lesson 2;
- nursing-school pages (Indiana State, a forum's rule sheet), course notes, a university numeracy test of 2008;
- a publisher's free student page, chapter 5, on syringes marked for another strength;
- an injectable guide, chapter 12.1, and the FDA labels of cefazolin, ampicillin and ceftriaxone on powder displacement.

The handbooks round to what a syringe shows. This program never does: a volume between two lines is refused with both lines
named. Those rows are therefore negative controls. Ids: SC and the row. A part after the point tells cases of one row apart.
"""

from fractions import Fraction

import pytest

from hourmark.dose import How, Vial, draw, mix
from hourmark.finding import Level
from hourmark.formulary import barrel, barrels, products
from hourmark.quantity import (
    Mark,
    Share,
    divide,
    parse_concentration,
    parse_dose,
    parse_number,
    parse_volume,
)

OPEN_RN = "Open RN Nursing Skills 5.5"
RULE_SHEET = "nursing-school rule sheet quoted on a nursing forum"
INDIANA = "Indiana State University nursing page"
ARMY = "US Army MD0904 lesson 2"
NOTES = "course notes"
NUMERACY = "university numeracy test, 2008"
STUDENT = "publisher's free student page, chapter 5"
FDA_CEFAZOLIN = "FDA label, cefazolin for injection, reconstitution table"


@pytest.mark.parametrize(
    ("dose", "strength", "device", "volume", "around", "rounded", "source"),
    [
        pytest.param("17.276 mg", "1 mg/mL", "mL-10-0.2", "17.276 mL", (), "17.3 mL", OPEN_RN, id="SC01"),
        pytest.param("17.248 mg", "1 mg/mL", "mL-10-0.2", "17.248 mL", (), "17.2 mL", OPEN_RN, id="SC02"),
        pytest.param(
            "0.0467 mg", "1 mg/mL", "mL-1-0.01", "0.0467 mL", ("0.04 mL", "0.05 mL"), "0.05 mL", OPEN_RN, id="SC03"
        ),
        pytest.param(
            "0.276 mg", "1 mg/mL", "mL-1-0.01", "0.276 mL", ("0.27 mL", "0.28 mL"), "0.28 mL", OPEN_RN, id="SC04"
        ),
        pytest.param(
            "0.243 mg", "1 mg/mL", "mL-1-0.01", "0.243 mL", ("0.24 mL", "0.25 mL"), "0.24 mL", OPEN_RN, id="SC05"
        ),
        pytest.param(
            "1.25 mg", "1 mg/mL", "mL-3-0.1", "1.25 mL", ("1.2 mL", "1.3 mL"), "1.3 mL", RULE_SHEET, id="SC06.tie"
        ),
        pytest.param(
            "1.24 mg", "1 mg/mL", "mL-3-0.1", "1.24 mL", ("1.2 mL", "1.3 mL"), "1.2 mL", RULE_SHEET, id="SC06"
        ),
        pytest.param(
            "0.969 mg", "1 mg/mL", "mL-1-0.01", "0.969 mL", ("0.96 mL", "0.97 mL"), "0.97 mL", RULE_SHEET, id="SC07.up"
        ),
        pytest.param(
            "0.963 mg",
            "1 mg/mL",
            "mL-1-0.01",
            "0.963 mL",
            ("0.96 mL", "0.97 mL"),
            "0.96 mL",
            RULE_SHEET,
            id="SC07.down",
        ),
        pytest.param("1.67 mg", "1 mg/mL", "mL-3-0.1", "1.67 mL", ("1.6 mL", "1.7 mL"), "1.7 mL", INDIANA, id="SC09"),
        pytest.param(
            "5,000 units",
            "40,000 units/mL",
            "mL-1-0.01",
            "0.125 mL",
            ("0.12 mL", "0.13 mL"),
            "0.13 mL",
            ARMY,
            id="SC14",
        ),
        pytest.param(
            "25 mg", "60 mg/mL", "mL-1-0.01", "about 0.4167 mL", ("0.41 mL", "0.42 mL"), "0.42 mL", NOTES, id="SC18"
        ),
        pytest.param(
            "375 mg",
            "330 mg/mL",
            "mL-3-0.1",
            "about 1.136 mL",
            ("1.1 mL", "1.2 mL"),
            "1.1 mL",
            f"test-bank answer on the {FDA_CEFAZOLIN}",
            id="SC48",
        ),
    ],
)
def test_what_a_handbook_rounds_is_refused_with_both_lines(
    dose: str, strength: str, device: str, volume: str, around: tuple[str, ...], rounded: str, source: str
) -> None:
    drawn = draw(parse_dose(dose), Vial(parse_concentration(strength)), [barrel(device)])
    assert [finding.code for finding in drawn.findings] == ["mark-between"], source
    assert drawn.findings[0].level is Level.STOP, source
    assert (drawn.fills, drawn.given) == ((), None), f"{source}: nothing is drawn, nothing is rounded"
    assert str(drawn.volume) == volume, source
    for line in around:
        assert f"{line} = " in drawn.findings[0].what, f"{source}: {drawn.findings[0].what}"
    if around:  # the largest barrel known here ends below the two first rows
        assert rounded in around, source


@pytest.mark.parametrize(
    ("dose", "device", "beyond", "source"),
    [
        pytest.param(
            "17.276 mg",
            "mL-10-0.2",
            ("17.2 mL", "17.4 mL"),
            f"{OPEN_RN}; a 10 mL barrel ends at 10 mL",
            id="SC01.lines",
        ),
        pytest.param(
            "17.248 mg",
            "mL-10-0.2",
            ("17.2 mL", "17.4 mL"),
            f"{OPEN_RN}; a 10 mL barrel ends at 10 mL",
            id="SC02.lines",
        ),
        pytest.param(
            "0.605 mg",
            "u100-0.3mL-1",
            ("mark 60", "mark 61"),
            "derived: a 0.3 mL barrel ends at mark 30",
            id="SC36.lines",
        ),
    ],
)
def test_no_line_is_named_that_the_barrel_does_not_have(
    dose: str, device: str, beyond: tuple[str, str], source: str
) -> None:
    drawn = draw(parse_dose(dose), Vial(parse_concentration("1 mg/mL")), [barrel(device)])
    assert drawn.stopped, source
    for line in beyond:
        assert f"{line} = " not in drawn.findings[0].what, f"{source}: {drawn.findings[0].what}"
        assert f"{line} (" not in drawn.findings[0].what, f"{source}: {drawn.findings[0].what}"


@pytest.mark.parametrize(
    ("dose", "strength", "device", "volume", "marks", "source"),
    [
        pytest.param("0.87 mg", "1 mg/mL", "mL-1-0.01", "0.87 mL", ("0.87",), INDIANA, id="SC10"),
        pytest.param(
            "5,000 units",
            "40,000 units/mL",
            "u100-0.3mL-0.5",
            "0.125 mL",
            ("12.5",),
            f"{ARMY}; mark derived",
            id="SC14.half_marks",
        ),
        pytest.param("15,000 units", "20,000 units/mL", "mL-1-0.01", "0.75 mL", ("0.75",), ARMY, id="SC15"),
        pytest.param(
            "15,000 units", "20,000 units/mL", "u100-1mL-1", "0.75 mL", ("75",), f"{ARMY}; mark derived", id="SC15.u100"
        ),
        pytest.param("16 units", "100 units/mL", "mL-1-0.01", "0.16 mL", ("0.16",), ARMY, id="SC16"),
        pytest.param("16 units", "100 units/mL", "u100-1mL-1", "0.16 mL", ("16",), ARMY, id="SC16.u100"),
        pytest.param("20 units", "100 units/mL", "u100-0.5mL-1", "0.2 mL", ("20",), ARMY, id="SC17.20"),
        pytest.param("30 units", "100 units/mL", "u100-0.5mL-1", "0.3 mL", ("30",), ARMY, id="SC17.30"),
        pytest.param("500 micrograms", "1 mg/mL", "mL-1-0.01", "0.5 mL", ("0.5",), NUMERACY, id="SC20"),
        pytest.param("15 mg", "10 mg/mL", "mL-2-0.1", "1.5 mL", ("1.5",), f"{NUMERACY}: 50 mg in 5 mL", id="SC21"),
        pytest.param("50 mg", "100 mg/mL", "mL-1-0.01", "0.5 mL", ("0.5",), "tutoring page", id="SC22"),
        pytest.param("1 mg", "4 mg/mL", "mL-1-0.01", "0.25 mL", ("0.25",), "certification practice set", id="SC23"),
        pytest.param("5,000 units", "10,000 units/mL", "mL-1-0.01", "0.5 mL", ("0.5",), "practice set", id="SC27"),
        pytest.param("10 units", "20 units/mL", "mL-1-0.01", "0.5 mL", ("0.5",), STUDENT, id="SC34"),
        pytest.param("30 units", "40 units/mL", "mL-1-0.01", "0.75 mL", ("0.75",), STUDENT, id="SC35"),
        pytest.param(
            "2,000,000 units",
            "1,000,000 units/mL",
            "mL-3-0.1",
            "2 mL",
            ("2",),
            "Army-style question bank, penicillin",
            id="SC56.part",
        ),
        pytest.param(
            "50 mg",
            "50 mg/mL",
            "mL-2-0.1",
            "1 mL",
            ("1",),
            "injectable guide chapter 12.1, 4.8 mL added",
            id="SC43.part",
        ),
        pytest.param(
            "600 mg",
            "400 mg/mL",
            "mL-3-0.1",
            "1.5 mL",
            ("1.5",),
            "university practice test; answer derived",
            id="SC57.part",
        ),
    ],
)
def test_dose_over_concentration(
    dose: str, strength: str, device: str, volume: str, marks: tuple[str, ...], source: str
) -> None:
    drawn = draw(parse_dose(dose), Vial(parse_concentration(strength)), [barrel(device)])
    assert not drawn.stopped, f"{source}: {drawn.findings}"
    assert drawn.volume == parse_volume(volume), source
    assert drawn.given == parse_dose(dose), source
    assert drawn.share == Share(Fraction(1)), source
    assert tuple(str(fill.mark) for fill in drawn.fills) == marks, source
    assert all(fill.how is How.MARK for fill in drawn.fills), source


@pytest.mark.parametrize(
    ("dose", "content", "in_volume", "volume", "source"),
    [
        pytest.param("750 mg", "2,000 mg", "8 mL", "3 mL", "Open RN nurse refresher, chapter 15 key", id="SC13"),
        pytest.param("60 mg", "100 mg", "2.1 mL", "1.26 mL", f"{NOTES}, before rounding to 1.3 mL", id="SC19"),
        pytest.param("1,000 mg", "250 mg", "5 mL", "20 mL", STUDENT, id="SC32.1000"),
        pytest.param("650 mg", "125 mg", "5 mL", "26 mL", STUDENT, id="SC32.650"),
        pytest.param("800 mg", "200 mg", "5 mL", "20 mL", STUDENT, id="SC32.800"),
        pytest.param("100 mg", "125 mg", "5 mL", "4 mL", STUDENT, id="SC32.100"),
    ],
)
def test_a_dose_from_so_much_in_so_many_millilitres(
    dose: str, content: str, in_volume: str, volume: str, source: str
) -> None:
    strength = mix(parse_dose(content), parse_volume(in_volume)).concentration
    assert strength.volume_of(parse_dose(dose)) == parse_volume(volume), source
    assert strength.dose_in(parse_volume(volume)) == parse_dose(dose), source


@pytest.mark.parametrize(
    ("dose", "content", "in_volume", "device", "mark", "source"),
    [
        pytest.param(
            "750 mg", "2,000 mg", "8 mL", "mL-5-0.2", "3", "Open RN nurse refresher, chapter 15 key", id="SC13.drawn"
        ),
    ],
)
def test_a_part_of_a_mixed_vial(dose: str, content: str, in_volume: str, device: str, mark: str, source: str) -> None:
    drawn = draw(parse_dose(dose), mix(parse_dose(content), parse_volume(in_volume)), [barrel(device)])
    assert [str(fill.mark) for fill in drawn.fills] == [mark], source
    assert drawn.left == parse_volume("5 mL"), f"derived from {source}"


def test_sixty_of_a_hundred_in_2_1_millilitres_lies_between_the_lines_of_3_millilitres() -> None:
    vial = mix(parse_dose("100 mg"), parse_volume("2.1 mL"))
    drawn = draw(parse_dose("60 mg"), vial, [barrel("mL-3-0.1")])
    assert [finding.code for finding in drawn.findings] == ["mark-between"], f"{NOTES} round 1.26 mL to 1.3 mL"
    assert "1.2 mL = about 57.143 mg (-4.8 %)" in drawn.findings[0].what, f"derived from {NOTES}"
    assert "1.3 mL = about 61.905 mg (+3.2 %)" in drawn.findings[0].what, f"derived from {NOTES}"


@pytest.mark.parametrize(
    ("exact", "rounded", "change", "source"),
    [
        pytest.param("0.75", "0.8", "+6.7 %", "forum discussion of rounding; percent derived", id="SC-change.0_75"),
        pytest.param("2.5", "3", "+20 %", "forum discussion of rounding; percent derived", id="SC-change.2_5"),
        pytest.param("0.125", "0.13", "+4 %", f"derived from {ARMY}", id="SC14.change"),
    ],
)
def test_what_rounding_would_change(exact: str, rounded: str, change: str, source: str) -> None:
    assert Share(parse_number(rounded) / parse_number(exact) - 1).signed() == change, source


def test_the_refusal_states_the_change_of_each_line() -> None:
    drawn = draw(parse_dose("0.75 mg"), Vial(parse_concentration("1 mg/mL")), [barrel("mL-3-0.1")])
    assert "0.8 mL = 0.8 mg (+6.7 %)" in drawn.findings[0].what, "forum discussion of rounding; percent derived"


@pytest.mark.parametrize(
    ("dose", "strength", "volume", "other_strength", "other_mark", "source"),
    [
        pytest.param("16 units", "20 units/mL", "0.8 mL", 40, "32", STUDENT, id="SC33"),
        pytest.param("16 units", "100 units/mL", "0.16 mL", 100, "16", f"derived from {ARMY}", id="SC36"),
    ],
)
def test_a_mark_is_the_volume_times_the_strength_that_the_barrel_is_made_for(
    dose: str, strength: str, volume: str, other_strength: int, other_mark: str, source: str
) -> None:
    found = parse_concentration(strength).volume_of(parse_dose(dose))
    assert found == parse_volume(volume), source
    assert found.value * other_strength == parse_number(other_mark), f"{source}: scale for {other_strength} units/mL"
    on_u100 = barrel("u100-1mL-1").mark(found)
    assert on_u100 == Mark(found.value * 100), "derived: 100 marks to the millilitre on U-100, ISO 8537"
    assert {known.scale for known in barrels().values()} == {"mL", "u100"}, (
        "no barrel for another strength is known here"
    )


FDA_AMPICILLIN_P = "FDA label, ampicillin for injection, IM table (one holder)"
FDA_AMPICILLIN_Q = "FDA label, ampicillin for injection (other holder)"
CEFTRIAXONE = "FDA label, ceftriaxone, directions for use (quoted)"
GUIDE = "injectable guide chapter 12.1"


@pytest.mark.parametrize(
    ("content", "diluent", "printed", "off", "source"),
    [
        pytest.param("250 mg", "5 mL", "48 mg/mL", "+4.2 %", GUIDE, id="SC42"),
        pytest.param("250 mg", "4.8 mL", "50 mg/mL", "+4.2 %", GUIDE, id="SC43"),
        pytest.param("500 mg", "2 mL", "225 mg/mL", "+11.1 %", FDA_CEFAZOLIN, id="SC45"),
        pytest.param("1,000 mg", "2.5 mL", "330 mg/mL", "+21.2 %", FDA_CEFAZOLIN, id="SC46"),
        pytest.param("10,000 mg", "45 mL", "200 mg/mL", "+11.1 %", FDA_CEFAZOLIN, id="SC47.45"),
        pytest.param("10,000 mg", "96 mL", "100 mg/mL", "+4.2 %", FDA_CEFAZOLIN, id="SC47.96"),
        pytest.param("250 mg", "0.9 mL", "250 mg/mL", "+11.1 %", FDA_AMPICILLIN_P, id="SC49.250"),
        pytest.param("500 mg", "1.7 mL", "250 mg/mL", "+17.6 %", FDA_AMPICILLIN_P, id="SC49.500"),
        pytest.param("1,000 mg", "3.4 mL", "250 mg/mL", "+17.6 %", FDA_AMPICILLIN_P, id="SC49.1000"),
        pytest.param("2,000 mg", "6.8 mL", "250 mg/mL", "+17.6 %", FDA_AMPICILLIN_P, id="SC49.2000"),
        pytest.param("125 mg", "1.2 mL", "125 mg/mL", "-16.7 %", FDA_AMPICILLIN_Q, id="SC50.125"),
        pytest.param("250 mg", "1 mL", "250 mg/mL", "0 %", FDA_AMPICILLIN_Q, id="SC50.250"),
        pytest.param("500 mg", "1.8 mL", "250 mg/mL", "+11.1 %", FDA_AMPICILLIN_Q, id="SC50.500"),
        pytest.param("1,000 mg", "3.5 mL", "250 mg/mL", "+14.3 %", FDA_AMPICILLIN_Q, id="SC50.1000"),
        pytest.param("2,000 mg", "6.8 mL", "250 mg/mL", "+17.6 %", FDA_AMPICILLIN_Q, id="SC50.2000"),
        pytest.param("250 mg", "0.9 mL", "250 mg/mL", "+11.1 %", "health-unit sheet quoting the label", id="SC51"),
        pytest.param("500 mg", "1.8 mL", "250 mg/mL", "+11.1 %", CEFTRIAXONE, id="SC52.500"),
        pytest.param("1,000 mg", "3.6 mL", "250 mg/mL", "+11.1 %", CEFTRIAXONE, id="SC52.1000"),
        pytest.param("2,000 mg", "7.2 mL", "250 mg/mL", "+11.1 %", CEFTRIAXONE, id="SC52.2000"),
        pytest.param("500 mg", "1 mL", "350 mg/mL", "+42.9 %", CEFTRIAXONE, id="SC53.500"),
        pytest.param("1,000 mg", "2.1 mL", "350 mg/mL", "+36.1 %", CEFTRIAXONE, id="SC53.1000"),
        pytest.param("2,000 mg", "4.2 mL", "350 mg/mL", "+36.1 %", CEFTRIAXONE, id="SC53.2000"),
        pytest.param("250 mg", "2.4 mL", "100 mg/mL", "+4.2 %", CEFTRIAXONE, id="SC54.250"),
        pytest.param("500 mg", "4.8 mL", "100 mg/mL", "+4.2 %", CEFTRIAXONE, id="SC54.500"),
        pytest.param("1,000 mg", "9.6 mL", "100 mg/mL", "+4.2 %", CEFTRIAXONE, id="SC54.1000"),
        pytest.param("2,000 mg", "19.2 mL", "100 mg/mL", "+4.2 %", CEFTRIAXONE, id="SC54.2000"),
        pytest.param("5,000,000 units", "3 mL", "1,000,000 units/mL", "+66.7 %", "Army-style question bank", id="SC56"),
        pytest.param("2,000 mg", "4.8 mL", "400 mg/mL", "+4.2 %", "university practice test", id="SC57"),
    ],
)
def test_mixing_knows_no_displacement_so_a_printed_strength_wins(
    content: str, diluent: str, printed: str, off: str, source: str
) -> None:
    """Negative control: for powders that take up room, content / diluent is off by the share stated (derived)."""
    vial = mix(parse_dose(content), parse_volume(diluent))
    assert vial.holds == parse_volume(diluent), source
    assert vial.concentration.dose_in(parse_volume(diluent)) == parse_dose(content), source
    label = parse_concentration(printed)
    assert Share(divide(vial.concentration.per_ml, label.per_ml) - 1).signed() == off, f"derived from {source}"


@pytest.mark.parametrize(
    ("content", "diluent", "final", "source"),
    [
        pytest.param("250 mg", "5 mL", "5.2 mL", GUIDE, id="SC42.final"),
        pytest.param("500 mg", "5 mL", "5.2 mL", "nursing text excerpt, small-volume parenterals", id="SC44"),
        pytest.param("1,000 mg", "2.5 mL", "3 mL", FDA_CEFAZOLIN, id="SC46.final"),
    ],
)
def test_a_whole_vial_needs_no_displacement(content: str, diluent: str, final: str, source: str) -> None:
    """Given whole, everything is taken up and no mark is read, so the powder's room does not matter (injectable guide)."""
    assert parse_volume(final) > parse_volume(diluent), source
    drawn = draw(parse_dose(content), mix(parse_dose(content), parse_volume(diluent)), [barrel("mL-10-0.2")])
    assert [(fill.how, fill.mark) for fill in drawn.fills] == [(How.ALL, None)], source
    assert drawn.given == parse_dose(content), source


def test_no_product_here_prints_a_displacement() -> None:
    for product in products().values():
        assert not any("displace" in name for name in product.facts), f"{product.id}: mixing would have to count it"
