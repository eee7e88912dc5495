"""Every kind of page looks as it did when somebody last looked at it."""

from dataclasses import replace
from fractions import Fraction

import pytest
from PIL import Image, ImageChops

from hourmark.handout import patient_sheet
from hourmark.handout.pdf import Paper, sheet_pdf
from hourmark.quantity import Mark
from tests.handout.paper import case_of, image
from tests.handout.reviewed import AT, DPI, FOLDER, KINDS, PAPERS, made

SPOT = 12
"""Side in pixels of the squares that are compared: about the size of a digit printed large."""

MOST = 25.0
"""Mean difference of a pixel in one square, of 255: the stored images have 16 shades, and another build of the same library smooths edges otherwise."""


def largest_difference(one: Image.Image, other: Image.Image) -> float:
    """The mean difference of a pixel in the square where the two differ most."""
    spots = ImageChops.difference(one, other).reduce(SPOT)
    return float(spots.getextrema()[1])  # type: ignore[arg-type]


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("kind", KINDS)
def test_a_page_looks_as_it_was_reviewed(kind: str, paper: Paper) -> None:
    now = made(kind, paper)
    seen = Image.open(FOLDER / f"{kind}-{paper}.png").convert("L")
    assert now.size == seen.size
    difference = largest_difference(now, seen)
    assert difference < MOST, f"look at it, then: python -m tests.handout.reviewed (difference {difference:.2f})"


def test_a_mark_that_reads_otherwise_or_a_line_that_moved_would_be_seen() -> None:
    case, plan = case_of("ordinary-night", "K-103")
    sheet = patient_sheet(case, plan)
    page = made("front-two-medicines", "a4")
    moved = Image.new("L", page.size, 255)
    moved.paste(page, (0, 3))
    assert largest_difference(page, moved) > MOST
    agonist, hcg = case.injections
    assert hcg.drawn is not None
    (fill,) = hcg.drawn.fills
    wrong = replace(fill, mark=Mark(Fraction(30)))
    other = replace(case, injections=(agonist, replace(hcg, drawn=replace(hcg.drawn, fills=(wrong,)))))
    assert str(patient_sheet(other, plan)) != str(sheet)
    assert largest_difference(page, image(sheet_pdf(patient_sheet(other, plan), AT), 0, DPI)) > MOST
