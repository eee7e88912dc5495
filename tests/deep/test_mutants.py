"""What the long searches plant: every figure there is, and nothing that says the same as before."""

import ast
from pathlib import Path

import pytest

from hourmark.formulary.audit import every_fact
from tests.deep import codemutants, datamutants

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


def test_a_change_is_one_change() -> None:
    text = "def late(at, due):\n    return at > due and max(at - due, 1) != 0\n"
    told = {one.applied(text).splitlines()[1].strip() for one in codemutants.of_text("late.py", text)}
    assert told == {
        "return None",
        "return at >= due and max(at - due, 1) != 0",
        "return at > due or max(at - due, 1) != 0",
        "return at > due and min(at - due, 1) != 0",
        "return at > due and max(at + due, 1) != 0",
        "return at > due and max(at - due, 2) != 0",
        "return at > due and max(at - due, 1) == 0",
        "return at > due and max(at - due, 1) != 1",
    }
    for changed in told:
        ast.parse(f"def late(at, due):\n    {changed}")


def test_texts_and_annotations_are_left_alone() -> None:
    text = 'def told(day: int | None = None) -> str | None:\n    """One + one."""\n    name = "a < b"\n    print(f"{day + 1}")\n'
    assert list(codemutants.of_text("told.py", text)) == []
