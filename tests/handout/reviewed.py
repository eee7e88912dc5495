"""Page images that somebody looked at: one of each kind of page on each paper. Renew with `python -m tests.handout.reviewed`, and look again."""

import datetime as dt
from collections.abc import Callable
from pathlib import Path

from PIL import Image

from hourmark.handout import patient_sheet
from hourmark.handout.pdf import Paper, pictures_pdf, sheet_pdf
from hourmark.handout.staff import case_pdf, night_pdf
from tests.handout.paper import case_of, image, planned

FOLDER = Path(__file__).parent / "reviewed"
AT = dt.datetime(2026, 11, 18, 20, 30, tzinfo=dt.UTC)
DPI = 72
PAPERS: tuple[Paper, ...] = ("a4", "letter")


def _page(case_id: str, language: str = "en", large: bool = False) -> Callable[[Paper], bytes]:
    def make(paper: Paper) -> bytes:
        case, plan = case_of("ordinary-night", case_id)
        return sheet_pdf(patient_sheet(case, plan, language), AT, paper, large=large)

    return make


def _pictures(paper: Paper) -> bytes:
    return pictures_pdf(patient_sheet(*case_of("ordinary-night", "K-104")), AT, paper)


def _working(paper: Paper) -> bytes:
    return case_pdf(*case_of("ordinary-night", "K-103"), AT, paper)


KINDS: dict[str, tuple[Callable[[Paper], bytes], int]] = {
    "front-one-medicine": (_page("K-101"), 0),
    "front-two-medicines": (_page("K-103"), 0),
    "lists": (_page("K-103"), 1),
    "about-and-steps": (_page("K-103"), 2),
    "steps-at-the-mark": (_page("K-103"), 4),
    "front-prefilled": (_page("K-105"), 0),
    "front-nose": (_page("K-107"), 0),
    "steps-nose": (_page("K-107"), 2),
    "steps-two-languages": (_page("K-106", "es"), 3),
    "front-large": (_page("K-102", large=True), 0),
    "last-page": (_page("K-110"), -1),
    "pictures-front": (_pictures, 0),
    "pictures-steps": (_pictures, 1),
    "staff-night": (lambda paper: night_pdf(planned("ordinary-night"), AT, paper), 0),
    "staff-case": (_working, 0),
}


def made(kind: str, paper: Paper) -> Image.Image:
    """The page as it is now."""
    make, page = KINDS[kind]
    return image(make(paper), page, DPI)


def main() -> None:
    """Write every image anew."""
    FOLDER.mkdir(exist_ok=True)
    for kind in KINDS:
        for paper in PAPERS:
            made(kind, paper).quantize(16).save(FOLDER / f"{kind}-{paper}.png", optimize=True)


if __name__ == "__main__":
    main()
