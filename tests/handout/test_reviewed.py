"""Every kind of page looks as it did when somebody last looked at it."""

import pytest
from PIL import Image, ImageChops, ImageStat

from hourmark.handout.pdf import Paper
from tests.handout.reviewed import FOLDER, KINDS, PAPERS, made

MOST = 2.0
"""Mean difference of a pixel, of 255: the stored images have 16 shades, and another build of the same library smooths edges otherwise."""


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("kind", KINDS)
def test_a_page_looks_as_it_was_reviewed(kind: str, paper: Paper) -> None:
    now = made(kind, paper)
    seen = Image.open(FOLDER / f"{kind}-{paper}.png").convert("L")
    assert now.size == seen.size
    difference = ImageStat.Stat(ImageChops.difference(now, seen)).mean[0]
    assert difference < MOST, f"look at it, then: python -m tests.handout.reviewed (difference {difference:.2f})"


def test_a_moved_line_would_be_seen() -> None:
    page = made("front-two-medicines", "a4")
    moved = Image.new("L", page.size, 255)
    moved.paste(page, (0, 4))
    assert ImageStat.Stat(ImageChops.difference(page, moved)).mean[0] > MOST
