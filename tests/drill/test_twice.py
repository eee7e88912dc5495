"""The two ways against each other over many invented reports, and not in the drill's own scenes alone."""

from dataclasses import replace
from fractions import Fraction
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from hourmark.drill import number_of, scene
from hourmark.drill.again import again
from hourmark.drill.scenes import written_nights, written_scenes
from hourmark.quantity import number_text

HUNDREDTHS = st.integers(1, 99).map(lambda part: f"{number_text(Fraction(part, 100))} mL")
WATERS = st.sampled_from(["1 mL", "2 mL", "4 mL", "5 mL", "8 mL", "10 mL"])
STRENGTHS = st.integers(1, 80).map(lambda tenths: f"{number_text(Fraction(tenths, 10))} mg/mL")
LOST = st.sampled_from(["none", "half", "a quarter to half"])
MINUTES = st.integers(0, 24 * 60 - 1).map(lambda at: f"2026-11-18 {at // 60:02d}:{at % 60:02d}")
quick = settings(max_examples=40, deadline=None)


def agree(call_id: str, **facts: str) -> None:
    """A scene with other facts comes to the same number in both ways."""
    one, written = scene(call_id), written_scenes()[call_id]
    changed: dict[str, Any] = {**written, "facts": {**written["facts"], **facts}, "now": "2026-11-19 12:00"}
    case, night = written_nights()[one.case]
    first = number_of(replace(one, facts=changed["facts"], now=changed["now"]))
    assert first == again(str(one.call.kind), changed, case, night)


@quick
@given(HUNDREDTHS)
def test_another_line(drawn: str) -> None:
    agree("C18", drawn=drawn)


@quick
@given(WATERS, HUNDREDTHS)
def test_another_amount_of_water(water: str, drawn: str) -> None:
    agree("C07", water=water, drawn=drawn)


@quick
@given(STRENGTHS, HUNDREDTHS)
def test_another_strength(strength: str, drawn: str) -> None:
    agree("C02", strength=strength, drawn=drawn)


@quick
@given(LOST)
def test_a_part_lost(lost: str) -> None:
    agree("C12", lost=lost)
    agree("C20", lost=lost)


@quick
@given(HUNDREDTHS)
def test_a_rest_in_the_vial(residue: str) -> None:
    agree("C19", residue=residue)


@quick
@given(MINUTES)
def test_another_minute(at: str) -> None:
    agree("C26", at=at)
    agree("C29", at=at)
    agree("C36", at=at)


@quick
@given(st.integers(1, 3))
def test_another_count(times: int) -> None:
    agree("C40", times=str(times))
