"""Permitted errors, printed lines and needle sizes, read against:

- Surgical Materials Testing Laboratory (UK), syringe accuracy estimates for ISO 7886-1, revision 1.4, 2016;
- ISO 7886-1 table 1, where only the figures of the paper above were read (the rest is from memory);
- ISO 8537:2007 in its Russian adoption, and YY/T 0497-2018 (secondary copies);
- nursing and numeracy pages and a hospital compounding study on printed lines;
- ISO 6009:2016 (sizes from memory) and the Japanese notice of 2006 on hub colours.

Ids: A1 permitted error, A4 printed lines, B1 needles. A part after the point tells cases of one row apart.
"""

from fractions import Fraction

import pytest

from hourmark.formulary import Status, barrel, barrels, facts, gauges, tolerance
from hourmark.quantity import Share, parse_amount, parse_percent, parse_volume

SMTL = "Surgical Materials Testing Laboratory (UK), syringe accuracy estimates for ISO 7886-1, rev 1.4, 2016"
SMTL_DERIVED = f"derived by the rule of {SMTL}"
ISO_MEMORY = "ISO 7886-1 table 1, from memory; value derived"
HALF = f"half the capacity belongs to the upper rule: {SMTL}"


@pytest.mark.parametrize(
    ("capacity", "drawn", "error", "share", "source"),
    [
        pytest.param("10 mL", "4 mL", "0.19 mL", "4.75 %", f"{SMTL}, worked case", id="A1-10mL-4"),
        pytest.param("1 mL", "0.1 mL", "0.017 mL", "17 %", SMTL_DERIVED, id="A1-1mL-0_10"),
        pytest.param("1 mL", "0.2 mL", "0.019 mL", "9.5 %", SMTL_DERIVED, id="A1-1mL-0_20"),
        pytest.param("1 mL", "0.25 mL", "0.02 mL", "8 %", SMTL_DERIVED, id="A1-1mL-0_25"),
        pytest.param("1 mL", "0.4 mL", "0.023 mL", "5.75 %", SMTL_DERIVED, id="A1-1mL-0_40"),
        pytest.param("1 mL", "0.5 mL", "0.025 mL", "5 %", SMTL_DERIVED, id="A1-1mL-0_50"),
        pytest.param("1 mL", "0.75 mL", "0.0375 mL", "5 %", SMTL_DERIVED, id="A1-1mL-0_75"),
        pytest.param("1 mL", "1 mL", "0.05 mL", "5 %", SMTL_DERIVED, id="A1-1mL-1"),
        pytest.param("3 mL", "0.2 mL", "0.049 mL", "24.5 %", ISO_MEMORY, id="A1-3mL-0_20"),
        pytest.param("3 mL", "0.25 mL", "0.05 mL", "20 %", ISO_MEMORY, id="A1-3mL-0_25"),
        pytest.param("3 mL", "0.5 mL", "0.055 mL", "11 %", ISO_MEMORY, id="A1-3mL-0_50"),
        pytest.param("3 mL", "1 mL", "0.065 mL", "6.5 %", ISO_MEMORY, id="A1-3mL-1"),
        pytest.param("3 mL", "1.5 mL", "0.075 mL", "5 %", ISO_MEMORY, id="A1-3mL-1_5"),
        pytest.param("3 mL", "2 mL", "0.1 mL", "5 %", ISO_MEMORY, id="A1-3mL-2"),
        pytest.param("3 mL", "3 mL", "0.15 mL", "5 %", ISO_MEMORY, id="A1-3mL-3"),
        pytest.param("5 mL", "0.5 mL", "0.08 mL", "16 %", ISO_MEMORY, id="A1-5mL-0_5"),
        pytest.param("5 mL", "1 mL", "0.085 mL", "8.5 %", ISO_MEMORY, id="A1-5mL-1"),
        pytest.param("5 mL", "2 mL", "0.095 mL", "4.75 %", ISO_MEMORY, id="A1-5mL-2"),
        pytest.param("5 mL", "2.5 mL", "0.1 mL", "4 %", ISO_MEMORY, id="A1-5mL-2_5"),
        pytest.param("5 mL", "5 mL", "0.2 mL", "4 %", ISO_MEMORY, id="A1-5mL-5"),
        pytest.param("10 mL", "0.5 mL", "0.155 mL", "31 %", SMTL_DERIVED, id="A1-10mL-0_5"),
        pytest.param("10 mL", "1 mL", "0.16 mL", "16 %", SMTL_DERIVED, id="A1-10mL-1"),
        pytest.param("10 mL", "2 mL", "0.17 mL", "8.5 %", SMTL_DERIVED, id="A1-10mL-2"),
        pytest.param("10 mL", "5 mL", "0.2 mL", "4 %", ISO_MEMORY, id="A1-10mL-5"),
        pytest.param("10 mL", "10 mL", "0.4 mL", "4 %", ISO_MEMORY, id="A1-10mL-10"),
    ],
)
def test_permitted_error(capacity: str, drawn: str, error: str, share: str, source: str) -> None:
    size, volume = parse_volume(capacity), parse_volume(drawn)
    found = tolerance(size).of(size, volume)
    assert found == parse_volume(error), source
    assert Share(found.value / volume.value) == parse_percent(share), source


@pytest.mark.parametrize(
    ("capacity", "drawn", "error", "source"),
    [
        pytest.param("1 mL", "0.5 mL", "0.025 mL", HALF, id="A1-1mL-half.at"),
        pytest.param("1 mL", "0.49 mL", "0.0248 mL", f"derived; {HALF}", id="A1-1mL-half.below"),
        pytest.param("3 mL", "1.5 mL", "0.075 mL", ISO_MEMORY, id="A1-3mL-1_5.at_half"),
        pytest.param("3 mL", "1.4 mL", "0.073 mL", ISO_MEMORY, id="A1-3mL-1_5.below_half"),
        pytest.param("5 mL", "2.5 mL", "0.1 mL", ISO_MEMORY, id="A1-5mL-2_5.at_half"),
        pytest.param("5 mL", "2.4 mL", "0.099 mL", ISO_MEMORY, id="A1-5mL-2_5.below_half"),
        pytest.param("10 mL", "5 mL", "0.2 mL", ISO_MEMORY, id="A1-10mL-5.at_half"),
        pytest.param("10 mL", "4.8 mL", "0.198 mL", ISO_MEMORY, id="A1-10mL-5.below_half"),
    ],
)
def test_the_rule_changes_at_exactly_half(capacity: str, drawn: str, error: str, source: str) -> None:
    """At half the capacity both rules give the same figure (derived), so that only the draws below it tell them apart."""
    size = parse_volume(capacity)
    assert tolerance(size).of(size, parse_volume(drawn)) == parse_volume(error), source


MEMORY = "ISO 7886-1 table 1, from memory"


@pytest.mark.parametrize(
    ("capacities", "fixed", "small", "large", "read", "source"),
    [
        pytest.param(("0.3 mL", "1 mL", "1.9 mL"), "1.5 %", "2 %", "5 %", (1, 1, 1), SMTL, id="A1-row-below-2"),
        pytest.param(("2 mL", "3 mL", "4.9 mL"), "1.5 %", "2 %", "5 %", (0, 0, 0), MEMORY, id="A1-row-2"),
        pytest.param(("5 mL", "9.9 mL"), "1.5 %", "1 %", "4 %", (0, 0, 0), MEMORY, id="A1-row-5"),
        pytest.param(("10 mL", "19 mL"), "1.5 %", "1 %", "4 %", (1, 1, 0), f"{SMTL}; {MEMORY}", id="A1-row-10"),
        pytest.param(("20 mL", "29 mL"), "1.5 %", "1 %", "4 %", (0, 0, 0), MEMORY, id="A1-row-20"),
        pytest.param(("30 mL", "49 mL"), "1.5 %", "1 %", "4 %", (0, 0, 0), MEMORY, id="A1-row-30"),
        pytest.param(("50 mL", "100 mL"), "1.5 %", "1 %", "4 %", (0, 0, 0), MEMORY, id="A1-row-50"),
    ],
)
def test_the_row_of_a_capacity_and_how_well_it_is_known(
    capacities: tuple[str, ...], fixed: str, small: str, large: str, read: tuple[int, int, int], source: str
) -> None:
    for capacity in capacities:
        row = tolerance(parse_volume(capacity))
        cells = (row.fixed, row.small, row.large)
        assert [cell.value for cell in cells] == [parse_percent(text) for text in (fixed, small, large)], source
        assert [cell.status for cell in cells] == [Status.FOUND if was else Status.MEMORY for was in read], source


INDIANA = "Indiana State University nursing page, and a university numeracy page"
HOSPITAL = "hospital compounding study, and a university numeracy page"
ISO_8537 = "ISO 8537:2007, Russian adoption GOST ISO 8537-2011 (secondary copy)"


LINES = [
    pytest.param("mL-1-0.01", "1 mL", "0.01 mL", INDIANA, id="A4-1mL-tuberculin"),
    pytest.param("mL-2-0.1", "2 mL", "0.1 mL", INDIANA, id="A4-2-to-3mL.2"),
    pytest.param("mL-2.5-0.1", "2.5 mL", "0.1 mL", INDIANA, id="A4-2-to-3mL.2_5"),
    pytest.param("mL-3-0.1", "3 mL", "0.1 mL", INDIANA, id="A4-2-to-3mL.3"),
    pytest.param("mL-5-0.2", "5 mL", "0.2 mL", HOSPITAL, id="A4-5mL"),
    pytest.param("mL-10-0.2", "10 mL", "0.2 mL", HOSPITAL, id="A4-10mL.fine"),
    pytest.param("mL-10-0.5", "10 mL", "0.5 mL", "nursing page with lines every 0.5 mL", id="A4-10mL.coarse"),
    pytest.param("u100-0.3mL-0.5", "0.3 mL", "0.005 mL", f"{ISO_8537}; YY/T 0497-2018", id="A4-u100-small.half"),
    pytest.param("u100-0.3mL-1", "0.3 mL", "0.01 mL", ISO_8537, id="A4-u100-small.0_3"),
    pytest.param("u100-0.5mL-1", "0.5 mL", "0.01 mL", ISO_8537, id="A4-u100-small.0_5"),
    pytest.param("u100-1mL-1", "1 mL", "0.01 mL", ISO_8537, id="A4-u100-1mL.1"),
    pytest.param("u100-1mL-2", "1 mL", "0.02 mL", ISO_8537, id="A4-u100-1mL.2"),
]


@pytest.mark.parametrize(("barrel_id", "capacity", "step", "source"), LINES)
def test_printed_lines(barrel_id: str, capacity: str, step: str, source: str) -> None:
    found = barrel(barrel_id)
    assert (found.capacity, found.step) == (parse_volume(capacity), parse_volume(step)), source
    lines = found.capacity.value / found.step.value
    assert lines.denominator == 1, f"{source}: the capacity itself is a printed line"
    for line in range(1, int(lines) + 1):
        assert found.has_line(found.step * line), source
        assert not found.has_line(found.step * (line - Fraction(1, 2))), source


def test_every_barrel_known_is_in_the_table_of_printed_lines() -> None:
    assert {row.values[0] for row in LINES} == set(barrels()), "a barrel without an outside source for its lines"


COLOURS = "Japanese industry notice of 2006 under notification 112/2005, which adopts the ISO colours (secondary copy)"
SIZES = "ISO 6009:2016, sizes from memory"


@pytest.mark.parametrize(
    ("number", "millimetres", "colour", "source"),
    [
        pytest.param(18, "1.2", "pink", COLOURS, id="B1-18G"),
        pytest.param(19, "1.1", "cream", COLOURS, id="B1-19G"),
        pytest.param(20, "0.9", "yellow", COLOURS, id="B1-20G"),
        pytest.param(21, "0.8", "deep green", COLOURS, id="B1-21G"),
        pytest.param(22, "0.7", "black", COLOURS, id="B1-22G"),
        pytest.param(23, "0.6", "deep blue", COLOURS, id="B1-23G"),
        pytest.param(24, "0.55", "medium purple", COLOURS, id="B1-24G"),
        pytest.param(25, "0.5", "orange", COLOURS, id="B1-25G"),
        pytest.param(26, "0.45", "brown", COLOURS, id="B1-26G"),
        pytest.param(27, "0.4", "medium grey", COLOURS, id="B1-27G"),
        pytest.param(28, "0.36", "blue-green", COLOURS, id="B1-28G"),
        pytest.param(29, "0.33", "red", COLOURS, id="B1-29G"),
        pytest.param(30, "0.3", "yellow", COLOURS, id="B1-30G"),
        pytest.param(31, "0.25", None, "the colour of 31 G was reached in no copy, so none is held", id="B1-31G"),
    ],
)
def test_needle_size_and_hub_colour(number: int, millimetres: str, colour: str | None, source: str) -> None:
    found = gauges()[number]
    assert found.outer.text == f"{millimetres} mm", SIZES
    assert (found.colour.value if found.colour else None) == colour, source


@pytest.mark.parametrize(
    ("limit", "figure", "source"),
    [
        pytest.param(
            "small-draw", "0.05 mL", "derived from Archives of Disease in Childhood 1998;79:59", id="A3-small-draw"
        ),
        pytest.param("small-fill", "20 %", "Midwestern University compounding study", id="A3-small-fill"),
        pytest.param(
            "hub-loss",
            "0.05 mL",
            "Variation in syringes and needles dead space, abstract: 21 G and 23 G",
            id="A1-hub-loss",
        ),
    ],
)
def test_limits_on_small_draws(limit: str, figure: str, source: str) -> None:
    found = facts("limits")[limit].value
    assert found == (parse_percent(figure) if figure.endswith("%") else parse_amount(figure)), source
