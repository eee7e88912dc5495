"""What the laws are tried on. Searches start from the same place on every run, so that a failure is the same for everybody."""

from fractions import Fraction
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st

from hourmark.dose import Vial, mix
from hourmark.formulary import Barrel, barrels
from hourmark.quantity import Concentration, Dose, Mass, Units, Volume

ROOT = Path(__file__).resolve().parents[2]
NIGHTS = ("ordinary-night", "clocks-go-back", "travellers")


def law(examples: int) -> settings:
    """A search of that many examples, the same on every run, without a stopwatch."""
    return settings(
        max_examples=examples,
        derandomize=True,
        database=None,
        deadline=None,
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
    )


def night_text(name: str) -> str:
    """The text of an example night."""
    return (ROOT / "examples" / f"{name}.toml").read_text(encoding="utf-8")


@st.composite
def finite(draw: st.DrawFn, *, above_zero: bool = False, most_digits: int = 12) -> Fraction:
    """A number with a finite decimal of at most that many digits."""
    digits = draw(st.integers(1, most_digits))
    places = draw(st.integers(0, digits - 1))
    whole = draw(st.integers(1 if above_zero else 0, 10**digits - 1))
    return Fraction(whole, 10**places)


def doses(**limits: Any) -> st.SearchStrategy[Dose]:
    """A dose of any kind, above zero."""
    number = finite(above_zero=True, **limits)
    return st.one_of(
        st.builds(Units, number),
        st.builds(Mass, number, st.just("mcg")),
        st.builds(lambda milligrams: Mass(milligrams * 1000, "mg"), number),
    )


@st.composite
def vials(draw: st.DrawFn) -> Vial:
    """A ready solution or a mixed powder."""
    dose = draw(doses(most_digits=5))
    if draw(st.booleans()):
        return Vial(Concentration(dose))
    diluent = Volume(Fraction(draw(st.sampled_from(["0.5", "1", "1.5", "2", "3", "5", "10"]))))
    return mix(dose, diluent)


def some_barrels(least: int = 1) -> st.SearchStrategy[list[Barrel]]:
    """Different kinds of barrel, in any order."""
    known = sorted(barrels().values(), key=lambda barrel: barrel.id)
    return st.lists(st.sampled_from(known), min_size=least, max_size=len(known), unique=True)


@st.composite
def volumes_near_lines(draw: st.DrawFn) -> Fraction:
    """A volume that stands on a line of some barrel nearly always, up to several fills."""
    step = draw(st.sampled_from(sorted({barrel.step.value for barrel in barrels().values()})))
    lines = draw(st.integers(1, 300))
    off = draw(st.sampled_from([Fraction(0)] * 9 + [Fraction(1, 1000)]))
    return step * lines + off
