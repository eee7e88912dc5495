"""Laws of drawing: the mark gives the dose back, a tolerance is no less than nothing, more at home takes nothing away."""

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from hourmark.dose import Vial, draw
from hourmark.formulary import Barrel, barrels
from hourmark.quantity import Volume
from tests.laws.strategies import law, some_barrels, vials, volumes_near_lines


@law(300)
@given(vials(), volumes_near_lines(), some_barrels())
def test_from_dose_to_mark_to_dose(vial: Vial, volume: Fraction, at_hand: list[Barrel]) -> None:
    dose = vial.concentration.dose_in(Volume(volume))
    drawn = draw(dose, vial, at_hand)
    if drawn.stopped:
        assert drawn.fills == ()
        assert drawn.given is None
        return
    back = Volume(Fraction(0))
    for fill in drawn.fills:
        barrel = barrels()[fill.device]
        read = barrel.volume_at(fill.mark) if fill.mark is not None else fill.volume
        assert read is not None
        assert read == fill.volume
        assert fill.mark is None or barrel.has_line(read)
        assert read <= barrel.capacity
        back += read
    assert vial.concentration.dose_in(back) == dose == drawn.given


@law(300)
@given(vials(), volumes_near_lines(), some_barrels())
def test_a_tolerance_is_never_negative(vial: Vial, volume: Fraction, at_hand: list[Barrel]) -> None:
    drawn = draw(vial.concentration.dose_in(Volume(volume)), vial, at_hand)
    if drawn.tolerance is not None:
        error, wrong = drawn.tolerance
        assert error.value > 0
        assert wrong.value > 0
        assert wrong == vial.concentration.dose_in(error)


@law(300)
@given(vials(), volumes_near_lines(), some_barrels(2), st.data())
def test_more_syringes_take_no_draw_away(
    vial: Vial, volume: Fraction, at_hand: list[Barrel], data: st.DataObject
) -> None:
    fewer = data.draw(st.integers(1, len(at_hand) - 1))
    dose = vial.concentration.dose_in(Volume(volume))
    before, after = draw(dose, vial, at_hand[:fewer]), draw(dose, vial, at_hand)
    assert before.stopped or not after.stopped, after.findings
    if not before.stopped:
        assert len(after.fills) <= len(before.fills)


@law(300)
@given(
    vials(),
    volumes_near_lines(),
    some_barrels(2),
    st.sampled_from(["subcutaneous", "intramuscular"]),
    st.data(),
)
def test_more_syringes_take_no_draw_away_at_a_site(
    vial: Vial, volume: Fraction, at_hand: list[Barrel], route: str, data: st.DataObject
) -> None:
    fewer = data.draw(st.integers(1, len(at_hand) - 1))
    dose = vial.concentration.dose_in(Volume(volume))
    before = draw(dose, vial, at_hand[:fewer], route=route)
    after = draw(dose, vial, at_hand, route=route)
    assert before.stopped or not after.stopped, after.findings


@law(300)
@given(vials(), volumes_near_lines(), some_barrels(2), st.data())
def test_the_order_of_syringes_is_nothing(
    vial: Vial, volume: Fraction, at_hand: list[Barrel], data: st.DataObject
) -> None:
    turned = data.draw(st.permutations(at_hand))
    dose = vial.concentration.dose_in(Volume(volume))
    assert draw(dose, vial, at_hand) == draw(dose, vial, turned)
