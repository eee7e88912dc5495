"""Measured scales, hands and signed languages in the night file: what is read, and what no barrel has."""

from fractions import Fraction
from pathlib import Path

import pytest

from hourmark.exchange import read_night
from hourmark.finding import Finding
from hourmark.formulary import barrel, barrels
from hourmark.order import Night
from tests.exchange.nights import SOLUTION


def measured(syringe: str, length: str) -> str:
    return (
        f'[[clinic.barrels]]\nsyringe = "{syringe}"\nscale_length = {length}\n'
        'measured_by = "N. Abara"\nmeasured_at = "2026-10-05 09:00"\n\n'
    )


def read(folder: Path, tables: str = "", text: str = SOLUTION) -> Night | tuple[Finding, ...]:
    path = folder / "night.toml"
    path.write_text(text.replace("[clinic.rules]\n", f"{tables}[clinic.rules]\n", 1), encoding="utf-8")
    return read_night(path)


@pytest.mark.parametrize("length", ["57 mm", "57.5 mm", "140 mm"])
def test_a_measured_scale_is_read_to_a_tenth(length: str, tmp_path: Path) -> None:
    night = read(tmp_path, measured("u100-1mL-1", f'"{length}"'))
    assert isinstance(night, Night), night
    found = night.clinic.measured_scale(barrel("u100-1mL-1"))
    assert found is not None
    assert found.scale_length == Fraction(length.removesuffix(" mm"))
    assert night.clinic.measured_scale(barrel("mL-3-0.1")) is None


SHORTEST = {"u100-0.3mL-0.5": 41, "u100-0.3mL-1": 41, "u100-0.5mL-1": 43, "u100-1mL-1": 57, "u100-1mL-2": 57}
"""ISO 8537:2007, table of scale lengths, in the Russian adoption (secondary copy): the least in mm from zero to capacity."""


@pytest.mark.parametrize(("syringe", "least"), SHORTEST.items())
def test_no_insulin_scale_is_shorter_than_the_standard_allows(syringe: str, least: int, tmp_path: Path) -> None:
    assert isinstance(read(tmp_path, measured(syringe, f'"{least} mm"')), Night)
    refused = read(tmp_path, measured(syringe, f'"{least - 1}.9 mm"'))
    assert isinstance(refused, tuple)
    (finding,) = refused
    assert finding.code == "file-value"
    assert "barrels" in finding.where
    assert f"at least {least} mm" in finding.what


@pytest.mark.parametrize(
    ("syringe", "length", "why"),
    [
        ("mL-1-0.01", "49.9 mm", "less than 0.5 mm apart"),
        ("mL-10-0.2", "24.9 mm", "less than 0.5 mm apart"),
        ("mL-3-0.1", "140.1 mm", "at most 140 mm"),
        ("mL-2-0.1", "20 mm", "wider than half its length"),
    ],
)
def test_a_scale_that_no_barrel_has_is_refused(syringe: str, length: str, why: str, tmp_path: Path) -> None:
    """0.5 mm between lines: ISO 8537 (secondary copy); the page's width and the proportion are our own limits."""
    refused = read(tmp_path, measured(syringe, f'"{length}"'))
    assert isinstance(refused, tuple)
    assert [finding.code for finding in refused] == ["file-value"]
    assert why in refused[0].what


@pytest.mark.parametrize(
    "length", ['"57"', '"57mm"', '"5.7 cm"', '"0 mm"', '"57.0 mm"', '"57.25 mm"', '"-57 mm"', "57", "57.5"]
)
def test_a_length_written_otherwise_is_refused_with_what_to_write(length: str, tmp_path: Path) -> None:
    refused = read(tmp_path, measured("u100-1mL-1", length))
    assert isinstance(refused, tuple)
    assert [finding.code for finding in refused] == ["file-value"]
    assert '"57 mm" or "57.5 mm"' in refused[0].do


def test_a_barrel_measured_twice_is_refused(tmp_path: Path) -> None:
    refused = read(tmp_path, measured("u100-1mL-1", '"57 mm"') + measured("u100-1mL-1", '"60 mm"'))
    assert isinstance(refused, tuple)
    assert [finding.code for finding in refused] == ["file-id-repeated"]


@pytest.mark.parametrize("held", barrels().values(), ids=barrels())
def test_the_bore_holds_the_capacity(held: object, tmp_path: Path) -> None:
    """A cylinder: area times length is the volume. 1 mL on 57 mm is 4.73 mm wide (computed by hand)."""
    from hourmark.formulary import Barrel

    assert isinstance(held, Barrel)
    width = held.bore(Fraction(60))
    assert 3.141592653589793 * width**2 / 4 * 60 / 1000 == pytest.approx(float(held.capacity.value))
    assert barrel("u100-1mL-1").bore(Fraction(57)) == pytest.approx(4.726, abs=0.001)


@pytest.mark.parametrize("line", ['language = "fr"', 'left_handed = "yes"', "left_handed = 1"])
def test_an_unknown_language_or_hand_is_refused(line: str, tmp_path: Path) -> None:
    refused = read(tmp_path, text=SOLUTION.replace('lh = "2 units/L"\n', f'lh = "2 units/L"\n{line}\n'))
    assert isinstance(refused, tuple)
    assert [finding.code for finding in refused] == ["file-value"]


def test_signed_languages_are_read(tmp_path: Path) -> None:
    night = read(tmp_path, text=SOLUTION.replace("[clinic.rules]\n", '[clinic.rules]\nlanguages = ["es"]\n'))
    assert isinstance(night, Night)
    assert night.clinic.rules is not None
    assert night.clinic.rules.languages == ("es",)
    assert isinstance(
        read(tmp_path, text=SOLUTION.replace("[clinic.rules]\n", '[clinic.rules]\nlanguages = ["xx"]\n')), tuple
    )
