"""Numbers, units and abbreviations, read and written, against:

- Institute for Safe Medication Practices (US), list of error-prone abbreviations, symbols and dose designations, 2021;
- The Joint Commission (US), official do-not-use list;
- Open RN Nursing Skills 5.5, and a Georgia Highlands College guide, on zeros beside the point;
- UCUM 2.2 on units that cannot be converted.

Ids: D1 and D2 rows of the two lists, SC rows of handbook check values. A part after the point tells cases of one row apart.
"""

from collections.abc import Callable

import pytest

from hourmark.clock import Moment, moment, parse_span, parse_wall, parse_zone, said
from hourmark.finding import Unreadable
from hourmark.formulary import drug, product, products
from hourmark.order import ROUTES
from hourmark.quantity import parse_amount, parse_concentration, parse_dose, parse_number, parse_volume
from hourmark.quantity.words import dose_words

ISMP = "ISMP list of error-prone abbreviations, symbols and dose designations, 2021"
TJC = "The Joint Commission, official do-not-use list"
HIGHLANDS = "Georgia Highlands College guide"
OPEN_RN = "Open RN Nursing Skills 5.5"


@pytest.mark.parametrize(
    ("text", "write", "source"),
    [
        pytest.param("5,000 U", '"5,000 units"', ISMP, id="D1-01.U"),
        pytest.param("5,000 u", '"5,000 units"', ISMP, id="D1-01.u"),
        pytest.param("5000U", '"5000 units"', ISMP, id="D1-01.together"),
        pytest.param("5,000 IU", '"5,000 units"', ISMP, id="D1-02.IU"),
        pytest.param("5,000 iu", '"5,000 units"', ISMP, id="D1-02.iu"),
        pytest.param("5,000 I.U.", '"5,000 units"', ISMP, id="D1-02.stops"),
        pytest.param("1 cc", '"1 mL"', ISMP, id="D1-03.space"),
        pytest.param("1cc", '"1 mL"', ISMP, id="D1-03.together"),
        pytest.param("250 \N{MICRO SIGN}g", '"250 mcg"', ISMP, id="D1-04.sign"),
        pytest.param("250 \N{GREEK SMALL LETTER MU}g", '"250 mcg"', ISMP, id="D1-04.letter"),
        pytest.param("250 ug", '"250 mcg"', "common practice, no source: the sign as typed", id="D1-04.typed"),
        pytest.param("1.0 mg", '"1"', ISMP, id="D1-05"),
        pytest.param(".5 mg", '"0.5"', ISMP, id="D1-06"),
        pytest.param("10mg", '"10 mg"', ISMP, id="D1-07.mg"),
        pytest.param("100mL", '"100 mL"', ISMP, id="D1-07.mL"),
        pytest.param("1,000units", '"1,000 units"', ISMP, id="D1-07.units"),
        pytest.param("4 mg.", '"4 mg"', ISMP, id="D1-08.mg"),
        pytest.param("1 mL.", '"1 mL"', ISMP, id="D1-08.mL"),
        pytest.param("1 l", "Write the volume in mL.", ISMP, id="D1-11.small"),
        pytest.param("1 L", "Write the volume in mL.", "derived: no injection is a litre", id="D1-11.large"),
        pytest.param("10,000 U", '"10,000 units"', TJC, id="D2-01.U"),
        pytest.param("10,000 u", '"10,000 units"', TJC, id="D2-01.u"),
        pytest.param("10,000 IU", '"10,000 units"', f"{TJC}; it would write the words, ISMP only units", id="D2-02"),
        pytest.param("2.0 mg", '"2"', TJC, id="D2-04.0"),
        pytest.param("2.50 mg", '"2.5"', TJC, id="D2-04.50"),
        pytest.param(".25 mg", '"0.25"', TJC, id="D2-05"),
        pytest.param("12.0 mL", '"12"', HIGHLANDS, id="SC11.12_0"),
        pytest.param("0.40 mL", '"0.4"', HIGHLANDS, id="SC11.0_40"),
        pytest.param(".25 mL", '"0.25"', HIGHLANDS, id="SC11.point25"),
        pytest.param("6.0 mg", '"6"', OPEN_RN, id="SC12.trailing"),
    ],
)
def test_what_is_misread_is_refused_with_what_to_write(text: str, write: str, source: str) -> None:
    with pytest.raises(Unreadable) as refusal:
        parse_amount(text)
    assert write in refusal.value.do, source


@pytest.mark.parametrize(
    ("text", "printed", "source"),
    [
        pytest.param("12 mL", "12 mL", HIGHLANDS, id="SC11.printed_12"),
        pytest.param("0.4 mL", "0.4 mL", HIGHLANDS, id="SC11.printed_0_4"),
        pytest.param("0.25 mL", "0.25 mL", HIGHLANDS, id="SC11.printed_0_25"),
        pytest.param("0.6 mg", "0.6 mg", OPEN_RN, id="SC12.leading"),
        pytest.param("6 mg", "6 mg", OPEN_RN, id="SC12.printed"),
        pytest.param("100000 units", "100,000 units", ISMP, id="D1-09.100000"),
        pytest.param("10000 units", "10,000 units", ISMP, id="D1-09.10000"),
        pytest.param("1000 units", "1,000 units", ISMP, id="D1-09.1000"),
        pytest.param("999 units", "999 units", ISMP, id="D1-09.999"),
        pytest.param("250 micrograms", "250 mcg", ISMP, id="D1-04.printed"),
        pytest.param("0.5 ml", "0.5 mL", f"{ISMP}; UCUM 2.2 defines both letters", id="D1-11.printed"),
        pytest.param("1 unit", "1 unit", ISMP, id="D1-01.printed"),
        pytest.param("1 mg", "1 mg", f"{ISMP}; {TJC}", id="D1-05.printed"),
        pytest.param("0.5 mg", "0.5 mg", f"{ISMP}; {TJC}", id="D1-06.printed"),
    ],
)
def test_what_is_read_is_printed_by_the_rules(text: str, printed: str, source: str) -> None:
    assert str(parse_amount(text)) == printed, source


@pytest.mark.parametrize(
    ("read", "text", "source"),
    [
        pytest.param(parse_span, "36°", ISMP, id="D1-13.degree"),
        pytest.param(parse_dose, "4 mg + 1,000 units", ISMP, id="D1-13.plus"),
        pytest.param(parse_dose, "4 mg & 1,000 units", ISMP, id="D1-13.and"),
        pytest.param(parse_wall, "@ 20:00", ISMP, id="D1-13.at"),
        pytest.param(parse_dose, "4 mg/1,000 units", ISMP, id="D1-13.slash"),
        pytest.param(parse_dose, "<4 mg", ISMP, id="D1-14.less"),
        pytest.param(parse_dose, "> 4 mg", ISMP, id="D1-14.greater"),
        pytest.param(parse_span, "<36 h", ISMP, id="D1-14.hours"),
        pytest.param(parse_wall, "q6PM", ISMP, id="D1-15.q6PM"),
        pytest.param(parse_wall, "2026-11-02 6 PM", "common practice, no source: one form of clock", id="D1-15.PM"),
        pytest.param(drug, "leuprolide4 mg", ISMP, id="D1-16.drug"),
        pytest.param(parse_dose, "leuprolide4 mg", ISMP, id="D1-16.dose"),
        pytest.param(
            parse_dose,
            "10 000 units",
            "ISMP, comma from 1,000; a Canadian page would write the space",
            id="D1-17.space",
        ),
        pytest.param(parse_dose, "10,00 units", ISMP, id="D1-17.comma"),
        pytest.param(parse_dose, "10.000 units", f"{ISMP}; {TJC}: a point is never a separator", id="D1-17.point"),
        pytest.param(drug, "MS", TJC, id="D2-06.MS"),
        pytest.param(drug, "hCG", "The Joint Commission, later candidates: drug-name abbreviations", id="D2-06.hCG"),
        pytest.param(drug, "hMG", "The Joint Commission, later candidates: drug-name abbreviations", id="D2-06.hMG"),
    ],
)
def test_what_cannot_be_read_safely_is_refused(read: Callable[[object], object], text: str, source: str) -> None:
    with pytest.raises(Unreadable) as refusal:
        read(text)
    assert refusal.value.do, source


@pytest.mark.parametrize(
    ("dose", "words", "source"),
    [
        pytest.param("10,000 units", "ten thousand units", f"{ISMP}: large doses also in words", id="D1-17.words"),
        pytest.param("100,000 units", "one hundred thousand units", f"{ISMP}: large doses in words", id="D1-09.words"),
        pytest.param("0.25 mg", "zero point two five milligrams", "derived", id="D1-06.words"),
    ],
)
def test_doses_in_words(dose: str, words: str, source: str) -> None:
    assert dose_words(parse_dose(dose)) == words, source


@pytest.mark.parametrize(
    ("short", "source"),
    [
        pytest.param("SC", ISMP, id="D1-10.SC"),
        pytest.param("SQ", ISMP, id="D1-10.SQ"),
        pytest.param("sub q", ISMP, id="D1-10.sub_q"),
        pytest.param("IM", "from memory: ISMP best practices, route in full", id="D1-10.IM"),
    ],
)
def test_routes_are_written_in_full(short: str, source: str) -> None:
    assert short not in ROUTES, source
    assert ROUTES == ("subcutaneous", "intramuscular", "nasal"), source
    assert {route for product in products().values() for route in product.routes} <= set(ROUTES), source


@pytest.mark.parametrize(
    ("one", "other", "source"),
    [
        pytest.param("6 mcg", "0.006 mg", "uploaded drug-calculation chapter", id="SC39.mcg"),
        pytest.param(
            "72 mg", "72,000 mcg", "derived; the uploaded drug-calculation chapter misprints it", id="SC40.right"
        ),
        pytest.param("2,500 mg", "2,500,000 mcg", "open nursing-maths site, 2.5 g; derived", id="SC38.mcg"),
    ],
)
def test_one_mass_written_two_ways(one: str, other: str, source: str) -> None:
    assert parse_dose(one) == parse_dose(other), source


@pytest.mark.parametrize(
    ("one", "other", "source"),
    [
        pytest.param("72 mg", "7,200 mcg", "misprint in an uploaded drug-calculation chapter", id="SC40.misprint"),
        pytest.param("250 mcg", "250 mg", "derived: what a lost micro sign would do, 1,000 times", id="D1-04.thousand"),
    ],
)
def test_a_misprint_is_not_taken_over(one: str, other: str, source: str) -> None:
    assert parse_dose(one) != parse_dose(other), source


@pytest.mark.parametrize(
    ("text", "source"),
    [
        pytest.param("2.5 g", "open nursing-maths site: 2.5 g is 2,500 mg", id="SC38.g"),
        pytest.param("0.78 g", "uploaded drug-calculation chapter: 780 mg", id="SC39.g"),
        pytest.param("0.75 L", "uploaded drug-calculation chapter: 750 mL", id="SC39.L"),
        pytest.param("0.5 g", "university numeracy test: 500 mg", id="SC41.g"),
        pytest.param("1.5 L", "university numeracy test: 1,500 mL", id="SC41.L"),
    ],
)
def test_grams_and_litres_are_no_units_of_an_injection_here(text: str, source: str) -> None:
    with pytest.raises(Unreadable):
        parse_amount(text)
    assert parse_number(text.split()[0]) > 0, source


@pytest.mark.parametrize(
    ("text", "source"),
    [
        pytest.param("5 mg/0.2 mL", "common practice, no source: a strength is per mL", id="SC19.per_0_2"),
        pytest.param("100 mg/2.1 mL", "course notes print a strength per 2.1 mL", id="SC19.per_2_1"),
    ],
)
def test_a_strength_that_is_not_per_millilitre_is_refused(text: str, source: str) -> None:
    with pytest.raises(Unreadable):
        parse_concentration(text)
    assert "/" in text, source


@pytest.mark.parametrize(
    ("wall", "zone", "parts", "source"),
    [
        pytest.param(
            "2026-11-01 00:00",
            "America/New_York",
            ("12:00 midnight", "at the END of Saturday 31 October 2026", "START of Sunday 1 November 2026"),
            "common practice, no source",
            id="G3-06.midnight",
        ),
        pytest.param(
            "2026-06-09 20:00",
            "Europe/London",
            ("8:00 pm (20:00)", "London time"),
            "common practice, no source",
            id="G3-11",
        ),
    ],
)
def test_a_clock_time_is_said_on_both_clocks_with_its_days(
    wall: str, zone: str, parts: tuple[str, ...], source: str
) -> None:
    at = moment(parse_wall(wall), parse_zone(zone))
    assert isinstance(at, Moment), source
    text = said(at)
    assert all(part in text for part in parts), f"{source}: {text}"


def test_a_volume_is_no_dose() -> None:
    with pytest.raises(Unreadable):
        parse_dose("1 mL")
    assert parse_volume("1 mL"), "common practice, no source: an order in mL alone says nothing"


def test_every_label_strength_is_printed_by_the_rules() -> None:
    for name in products():
        strength = product(name).strength
        assert not strength.endswith((".", ".0")), f"{ISMP}: {strength}"
        assert " IU" not in strength, f"{ISMP}: {strength}"
        assert "\N{MICRO SIGN}" not in strength, f"{ISMP}: {strength}"
