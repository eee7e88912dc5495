"""Assertions that the long searches found missing: each holds a figure or a line whose change no test had noticed."""

import operator
from decimal import Decimal
from fractions import Fraction

import pytest

from hourmark.clock import PINNED, moment_from_utc, parse_zone, time_data_findings
from hourmark.dose import Around, Fill, How, LeftOut, Misstep, Vial, draw, missteps, mix
from hourmark.dose.given import Between, Given, WentIn, dose_given, exactly
from hourmark.dose.missteps import worst
from hourmark.dose.steps import Taking, steps
from hourmark.formulary import Form, barrel
from hourmark.order import Technique
from hourmark.order.kit import Needle
from hourmark.plan.technique import _finest
from hourmark.quantity import Units, divide, parse_concentration, parse_dose, parse_volume
from hourmark.recheck.grammar import GRAMMARS
from hourmark.recheck.words import dose

ML = parse_volume("1 mL")


def test_the_recheck_reads_milligrams_and_micrograms_alike() -> None:
    for grammar in GRAMMARS.values():
        assert dose("0.25 mg", grammar) == dose("250 mcg", grammar) == (Decimal(250), "mass")


@pytest.mark.parametrize(("wanted", "warned"), [("3 mg", False), ("3.5 mg", True), ("4 mg", True)])
def test_more_than_three_millilitres_in_one_muscle_warns(wanted: str, warned: bool) -> None:
    """Open RN, Nursing Skills, section 18.6: 2 to 3 mL for an adult."""
    source = Vial(parse_concentration("1 mg/mL"))
    drawn = draw(parse_dose(wanted), source, [barrel("mL-10-0.5")], route="intramuscular")
    assert not drawn.stopped
    assert ("volume-large" in {finding.code for finding in drawn.findings}) is warned


def test_four_sprays_change_sides_each_time() -> None:
    fills = (Fill(How.SPRAY, "nafarelin-200mcg-spray", None, sprays=4),)
    taking = Taking(Form.SPRAY, "nafarelin", "200 mcg", "nasal", fills, Technique(pumps=7, tilt=30))
    sides = [step.figures["side"] for step in steps(taking) if step.code == "other-side"]
    assert sides == ["one side", "the OTHER side"] * 2


def test_of_two_alike_needles_the_larger_box_is_named_in_any_order() -> None:
    few, many, coarse = Needle(25, 16, 2), Needle(25, 16, 4), Needle(21, 38, 9)
    assert _finest([few, many, coarse]) == _finest([coarse, many, few]) == many


def test_a_powder_without_water_gives_nothing() -> None:
    """Common sense, no source: what is not dissolved is not drawn up."""
    none = dose_given(WentIn(exactly(ML), content=Units(Fraction(5000)), water=exactly(ML * 0)))
    assert none == Given(Units(Fraction(0)), Units(Fraction(0)))


def test_what_is_lost_is_never_more_than_what_was_drawn() -> None:
    half = ML * Fraction(1, 2)
    given = dose_given(WentIn(exactly(half), content=Units(Fraction(5000)), water=exactly(ML), lost=exactly(ML)))
    assert given == Given(Units(Fraction(0)), Units(Fraction(0)))


def test_a_dose_from_nothing_told_is_a_fault() -> None:
    with pytest.raises(ValueError, match=r"^either a powder and its water, or a concentration, has to be told$"):
        dose_given(WentIn(exactly(ML)))
    with pytest.raises(ValueError, match=r"^from 1 mL to 0 mL is no range$"):
        Between(ML, ML * 0)
    with pytest.raises(ValueError, match=r"^a powder needs diluent$"):
        mix(Units(Fraction(5000)), ML * 0)


def test_masses_are_added_in_the_unit_of_the_left_and_never_to_units() -> None:
    """ISMP: units and mass are not converted."""
    assert str(parse_dose("4 mg") + parse_dose("250 mcg")) == "4.25 mg"  # type: ignore[operator]
    assert str(parse_dose("4 mg") - parse_dose("250 mcg")) == "3.75 mg"  # type: ignore[operator]
    assert str(parse_dose("250 mcg") + parse_dose("4 mg")) == "4,250 mcg"  # type: ignore[operator]
    for act in (operator.add, operator.sub, divide):
        with pytest.raises(TypeError, match=r"^(Mass|Units) and (Mass|Units) are different kinds of amount$"):
            act(parse_dose("4 mg"), parse_dose("4 units"))
        with pytest.raises(TypeError, match=r"^(Mass|Units) and (Mass|Units) are different kinds of amount$"):
            act(parse_dose("4 units"), parse_dose("4 mg"))


def test_the_worst_mistake_of_each_way_comes_first() -> None:
    found, _ = missteps_of("4 mg")
    much, little = worst(found, "too much"), worst(found, "too little")
    assert much is not None
    assert little is not None
    assert much.share == max(one.share for one in found)
    assert little.share == min(one.share for one in found)
    assert worst((), "too much") is None


def missteps_of(dose: str) -> tuple[tuple[Misstep, ...], tuple[LeftOut, ...]]:
    source = Vial(parse_concentration("5 mg/mL"))
    drawn = draw(parse_dose(dose), source, [barrel("u100-1mL-1")])
    return missteps(parse_dose(dose), source, drawn, Around())


def test_the_neighbours_of_a_mark() -> None:
    """Open RN, Nursing Skills, 18.2, on reading between numbers: from mark 80 the numbers are 70 and 90, the lines 79 and 81."""
    found, _ = missteps_of("4 mg")
    assert {(one.code, one.way, str(one.given)) for one in found if one.code in ("next-number", "next-line")} == {
        ("next-number", "too much", "4.5 mg"),
        ("next-number", "too little", "3.5 mg"),
        ("next-line", "too much", "4.05 mg"),
        ("next-line", "too little", "3.95 mg"),
    }


def test_a_stopped_draw_has_no_mistakes() -> None:
    found, left_out = missteps_of("4.03 mg")
    assert found == ()
    assert {one.why for one in left_out} == {"nothing is drawn"}


def test_older_time_data_stop_every_plan(monkeypatch: pytest.MonkeyPatch) -> None:
    """IANA time-zone database, release list: releases are named by year and letter, so 2026e comes before 2026f."""
    monkeypatch.setattr("tzdata.IANA_VERSION", "2026e")
    (found,) = time_data_findings()
    assert (found.code, str(found.level), found.where) == ("time-data-old", "stop", "time data")
    assert found.what == "The time-zone data are release 2026e; clocks in some zones have changed their rules since."
    assert found.do == "Set hourmark up again (make setup), so that the pinned release is installed."
    assert (found.limit, found.source) == (f"release {PINNED} or newer", "IANA time-zone database, release list")


def test_a_moment_written_in_utc_is_read_back() -> None:
    """RFC 3339."""
    zone = parse_zone("America/New_York")
    at = moment_from_utc("2026-11-01T03:00:00Z", zone)
    assert (at.utc, at.local, at.zone) == ("2026-11-01T03:00:00Z", "2026-10-31T23:00:00-04:00", zone)


def test_one_vial_is_meant_where_no_number_is_told() -> None:
    """5,000 units in one vial are all that one vial gives; 10,000 take two, and nobody said two."""
    vial, at_hand = mix(Units(Fraction(5000)), ML), [barrel("mL-3-0.1")]
    one = draw(Units(Fraction(5000)), vial, at_hand)
    assert (one.stopped, one.vials, str(one.volume)) == (False, 1, "1 mL")
    two = draw(Units(Fraction(10000)), vial, at_hand)
    assert {finding.code for finding in two.findings} == {"vials-too-few"}
    assert not draw(Units(Fraction(10000)), vial, at_hand, vials=2).stopped


def test_where_no_route_is_told_no_volume_at_a_site_is_judged() -> None:
    source, at_hand = Vial(parse_concentration("1 mg/mL")), [barrel("mL-10-0.5")]
    assert not {finding.code for finding in draw(parse_dose("8 mg"), source, at_hand).findings} & {
        "volume-too-large",
        "volume-large",
    }
    into_muscle = draw(parse_dose("8 mg"), source, at_hand, route="intramuscular")
    assert "volume-too-large" in {finding.code for finding in into_muscle.findings}
