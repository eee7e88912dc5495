"""What the long searches plant: every figure there is, and nothing that says the same as before."""

from pathlib import Path

import pytest

from hourmark.formulary.audit import every_fact
from tests.deep import datamutants

ROOT = Path(__file__).resolve().parents[2]


@pytest.mark.parametrize(
    ("value", "moved"),
    [
        ('"9"', '"10"'),
        ('"0.005"', '"0.006"'),
        ('"0.99"', '"1.00"'),
        ('"9,999"', '"10,000"'),
        ('"1,000"', '"1,001"'),
        ('"33.5"', '"33.6"'),
        ("12", "13"),
        ("true", None),
        ('"pink"', None),
        ('["lactose"]', None),
    ],
)
def test_a_step_moves_the_last_digit(value: str, moved: str | None) -> None:
    assert datamutants.stepped(value) == moved


def test_every_figure_is_searched() -> None:
    planted = {one.reach for one in datamutants.of_project(ROOT)}
    assert planted == {key.replace('"', "") for key in every_fact()}
