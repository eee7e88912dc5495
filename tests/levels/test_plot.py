"""The picture of a reading: whole SVG, the same bytes each time, and the same in words."""

import re
import subprocess
import sys
from xml.etree import ElementTree

import pytest

from hourmark.levels import Reading
from hourmark.levels.plot import Look, draw
from tests.levels.people import agonist, recombinant, sample, urinary

READINGS = [
    sample("hCG 70 IU/L", urinary("10,000 units", "11 h")).readings[0],
    sample("hCG >200 IU/L", recombinant("11 h")).readings[0],
    sample("LH <2 IU/L", agonist("60 h")).readings[0],
    sample("progesterone 4.8 ng/mL", recombinant("12 h")).readings[0],
    sample("hCG 3 IU/L", agonist("12 h")).readings[0],
    sample("hCG 100 IU/L", urinary("5,000 units", "24 h"), urinary("1,500 units", "12 h")).readings[0],
]


@pytest.mark.parametrize("look", ["light", "dark", "paper"])
@pytest.mark.parametrize("reading", READINGS, ids=[str(one.result) for one in READINGS])
def test_an_svg_that_is_the_same_each_time(reading: Reading, look: Look) -> None:
    one = draw(reading, look)
    assert one == draw(reading, look)
    root = ElementTree.fromstring(one.svg)
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    assert not re.search(r"\d{4}-\d{2}-\d{2}T", one.svg)


def test_paper_has_no_colour() -> None:
    svg = draw(READINGS[0], "paper").svg
    for colour in set(re.findall(r"#[0-9a-f]{6}", svg)):
        red, green, blue = colour[1:3], colour[3:5], colour[5:7]
        assert red == green == blue


def test_the_words_say_what_the_picture_shows() -> None:
    said = draw(READINGS[0]).words
    assert said.startswith("hCG 70 units/L at 11 h: lower than expected.")
    assert "Curve, urinary hCG, intramuscular: about 215 units/L, band about 85.2 to about 543." in said
    assert "213 units/L at 12 h, mean" in said
    assert "171.7" not in said, "another dose is not drawn on this curve"


def test_both_recombinant_curves_are_drawn() -> None:
    said = draw(READINGS[1]).words
    assert "half-life 29 h" in said
    assert "half-life 38.5 h" in said


def test_the_drawing_library_is_loaded_only_to_draw() -> None:
    seen = subprocess.run(
        [sys.executable, "-c", "import sys, hourmark.levels, hourmark.levels.plot; print('matplotlib' in sys.modules)"],
        capture_output=True,
        text=True,
        check=True,
    )
    assert seen.stdout.strip() == "False"
