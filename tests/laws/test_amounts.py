"""Laws of numbers and amounts: what is printed reads back, safely written; whatever is typed is read or refused by name."""

import datetime as dt
import re
from collections.abc import Callable
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hourmark.clock import Span, WallTime, Zone, parse_span, parse_wall, parse_zone
from hourmark.clock.zones import zone_names
from hourmark.finding import Unreadable
from hourmark.formulary import barrel, drug, product, rule_volumes
from hourmark.quantity import (
    Concentration,
    Dose,
    Mass,
    Share,
    Volume,
    number_text,
    parse_amount,
    parse_concentration,
    parse_dose,
    parse_number,
    parse_percent,
    parse_volume,
)
from tests.laws.strategies import doses, finite, law

# ISMP, list of error-prone abbreviations, symbols and dose designations (2021): leading zero, no trailing zero, commas.
SAFE = re.compile(r"-?(?:about )?(?:0|[1-9][0-9]{0,2}(?:,[0-9]{3})*)(?:\.[0-9]*[1-9])?")


@law(600)
@given(st.fractions())
def test_every_number_is_written_safely(value: Fraction) -> None:
    assert SAFE.fullmatch(number_text(value)), number_text(value)


@law(600)
@given(finite())
def test_a_number_reads_back(value: Fraction) -> None:
    assert parse_number(number_text(value)) == value


@law(400)
@given(finite())
def test_a_volume_reads_back(value: Fraction) -> None:
    volume = Volume(value)
    assert parse_volume(str(volume)) == parse_amount(str(volume)) == volume


@law(600)
@given(doses())
def test_a_dose_reads_back(dose: Dose) -> None:
    again = parse_dose(str(dose))
    assert again == parse_amount(str(dose)) == dose
    assert type(again) is type(dose)
    assert str(again) == str(dose)
    if isinstance(dose, Mass) and isinstance(again, Mass):
        assert again.shown == dose.shown


@law(400)
@given(doses())
def test_a_concentration_reads_back(dose: Dose) -> None:
    assert parse_concentration(str(Concentration(dose))) == Concentration(dose)


@law(400)
@given(st.integers(0, 10**9))
def test_a_share_of_whole_thousandths_reads_back(thousandths: int) -> None:
    share = Share(Fraction(thousandths, 1000))
    assert parse_percent(str(share)) == share


@law(400)
@given(st.integers(0, 2400 * 60))
def test_a_span_reads_back(minutes: int) -> None:
    assert parse_span(str(Span(minutes))) == Span(minutes)


@law(400)
@given(st.datetimes(dt.datetime(2000, 1, 1), dt.datetime(2099, 12, 31, 23, 59)))
def test_a_wall_time_reads_back(local: dt.datetime) -> None:
    wall = WallTime(local.replace(second=0, microsecond=0))
    assert parse_wall(str(wall)) == wall


def test_every_zone_reads_back() -> None:
    for name in zone_names():
        assert parse_zone(name) == Zone(name)


PARSERS: list[Callable[[Any], object]] = [
    parse_number,
    parse_amount,
    parse_volume,
    parse_dose,
    parse_concentration,
    parse_percent,
    parse_span,
    parse_wall,
    parse_zone,
    rule_volumes,
    barrel,
    product,
    drug,
]

PIECES = [
    *(
        "0",
        "1",
        "10",
        "0.5",
        ".5",
        "5.",
        "1.50",
        "2,500",
        "2,50",
        "1,0000",
        "٣",
        "²",
        "1e3",
        "-1",
        "+1",
        "\N{MINUS SIGN}1",
    ),
    *(" ", "  ", "\n", "\t", "\N{NO-BREAK SPACE}", "\N{NARROW NO-BREAK SPACE}", "", "/", "%", ":", "-", "_"),
    *("mL", "ml", "cc", "mg", "mcg", "ug", "\N{MICRO SIGN}g", "units", "U", "IU", "unit", "h", "hours", "min", "mark"),
    *("2026-11-02", "10:00", "24:00", "2026-02-30", "America/New_York", "EST", "+05:00", "only", "or", "to"),
    *("u100-1mL-1", "mL-1-0.01", "hcg", "ganirelix", "chorionic gonadotropin", "9" * 40, "first", "\x00", "\ud800"),
]

TYPED = st.one_of(
    st.text(max_size=60),
    st.lists(st.sampled_from(PIECES), max_size=7).map("".join),
    st.lists(st.sampled_from(PIECES), max_size=7).map(" ".join),
    st.from_regex(r"[0-9.,+-]{1,15} ?(mL|mg|mcg|units|h|min|%|IU)?(/mL)?", fullmatch=True),
)

NOT_TEXT = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.floats(),
    st.dates(),
    st.datetimes(),
    st.lists(st.integers(), max_size=2),
    st.dictionaries(st.text(max_size=2), st.integers(), max_size=2),
)


@pytest.mark.parametrize("parse", PARSERS, ids=lambda parse: str(parse.__name__))
@law(300)
@given(text=TYPED)
def test_whatever_is_typed_is_read_or_refused_by_name(parse: Callable[[Any], object], text: str) -> None:
    refused = None
    try:
        parse(text)
    except Unreadable as error:
        refused = error
    if refused is not None:
        assert refused.what.strip()
        assert refused.do.strip()


@pytest.mark.parametrize("parse", [p for p in PARSERS if p is not rule_volumes], ids=lambda parse: str(parse.__name__))
@law(80)
@given(value=NOT_TEXT)
def test_what_is_not_text_is_refused(parse: Callable[[Any], object], value: object) -> None:
    with pytest.raises(Unreadable) as refused:
        parse(value)
    assert refused.value.what.strip()
    assert refused.value.do.strip()


@law(600)
@given(st.lists(st.sampled_from(PIECES), max_size=5).map("".join))
def test_what_reads_as_a_number_is_written_in_plain_digits(text: str) -> None:
    """Only ASCII digits with at most one point; so that nothing else is ever taken for a number."""
    try:
        parse_number(text)
    except Unreadable:
        return
    assert re.fullmatch(r"[0-9,]+(\.[0-9]*[1-9])?", text)
    assert text.isascii()
