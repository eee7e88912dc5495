"""The page as PDF: its structure for screen readers, its sizes, nothing cut or crowded, and its words as the plan has them."""

import datetime as dt
import hashlib
import io
import re
import subprocess
import sys
import threading
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from typing import Any

import pikepdf
import pytest
from PIL import Image

from hourmark.clock import WallTime
from hourmark.formulary import barrels
from hourmark.handout import patient_sheet, sheet_text
from hourmark.handout.pdf import Paper, pictures_pdf, sheet_pdf, sheet_read
from hourmark.handout.read import over_the_edge, paper_text
from hourmark.handout.scene import Scene
from hourmark.handout.staff import case_pdf, night_pdf
from hourmark.handout.typesetter import Unprintable
from hourmark.order import MeasuredBarrel
from hourmark.plan import NightPlan
from tests.handout.paper import MM, ROOT, case_of, image, overlapping, pieces, planned, tags

AT = dt.datetime(2026, 11, 18, 20, 30, tzinfo=dt.UTC)
ORDINARY = [case.case.id for case in planned("ordinary-night").cases]
KINDS: list[tuple[Paper, str, bool]] = [
    ("a4", "en", False),
    ("letter", "en", False),
    ("a4", "es", False),
    ("letter", "es", True),
    ("a4", "en", True),
]


def printed(case_id: str, paper: Paper = "a4", language: str = "en", large: bool = False) -> bytes:
    case, plan = case_of("ordinary-night", case_id)
    return sheet_pdf(patient_sheet(case, plan, language), AT, paper, large=large)


def as_lines(text: str, ends: int) -> list[str]:
    """The plain text's lines as paragraphs: without what begins a line there, and without the sign that closes it."""
    lines = [re.sub(r"^(?:[!-]|->) ", "", line.strip()) for line in text.splitlines() if line.strip()]
    return lines[:-ends]


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("case_id", ORDINARY)
def test_the_words_on_paper_are_those_of_the_plan(case_id: str, language: str) -> None:
    case, plan = case_of("ordinary-night", case_id)
    sheet = patient_sheet(case, plan, language)
    _, words = sheet_read(sheet, AT)
    assert sheet.draft is not None
    assert list(words) == as_lines(sheet_text(sheet), len(sheet.draft.lines))


@pytest.mark.parametrize(("paper", "language", "large"), KINDS)
@pytest.mark.parametrize("case_id", ["K-101", "K-104", "K-106", "K-107"])
def test_nothing_is_cut_crowded_or_smaller_than_promised(
    case_id: str, paper: Paper, language: str, large: bool
) -> None:
    """Sizes: body 14 pt, 18 pt on request (FDA, Device Patient Labeling, App. C: 14 for older readers; ASCP: 18 for vision loss)."""
    found = pieces(printed(case_id, paper, language, large))
    width, height = (210 * MM, 297 * MM) if paper == "a4" else (8.5 * 72, 11 * 72)
    body = 18 if large else 14
    told = [piece for piece in found if piece.tagged]
    assert told
    assert not [p.words for p in told if p.left < 10 * MM or p.right > width - 10 * MM]
    assert not [p.words for p in told if p.bottom < 10 * MM or p.top > height - 10 * MM]
    assert overlapping(told) == []
    digits = re.compile(r"^[\d.]*\s*$")  # digits on drawn scales
    small = [p for p in told if p.size < body - 0.01 and not digits.match(p.words)]
    heading = {"en": "Where this comes from", "es": "De dónde viene esto"}[language]
    last = max(p.page for p in told if heading.split()[0] in p.words)
    letters = re.compile(r"^[A-Z]{1,2}\s*$")
    captions = "About here. Not to scale. Más o menos aquí. No está a escala"
    assert not [
        p.words for p in small if p.page < last and not letters.match(p.words) and p.words.strip() not in captions
    ]
    assert min(p.size for p in small) >= 10 - 0.01


@pytest.mark.parametrize("large", [False, True])
def test_times_marks_and_numbers_are_large(large: bool) -> None:
    """24 pt or more, bold: design rule 8 of the instruction literature, from USP and FDA sizes for what is acted on."""
    found = pieces(printed("K-103", large=large))
    for words in ("9:00 pm (21:00)", "mark 80", "mark 20", "+1 555 0101", "2 mL", "1,000 units", "4 mg"):
        sizes = [piece.size for piece in found if piece.words.strip() == words]
        assert sizes
        assert min(sizes) >= 24 - 0.01, words


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("case_id", ["K-103", "K-107"])
def test_a_screen_reader_is_served(case_id: str, language: str) -> None:
    """ISO 14289-1:2014 (PDF/UA-1) by the rules of its public validation profile: marks, title, language, alt text, headings in order."""
    pdf = printed(case_id, language=language)
    document = pikepdf.open(io.BytesIO(pdf))
    assert document.Root["/MarkInfo"]["/Marked"] == True  # noqa: E712
    assert str(document.Root["/Lang"]) == language
    assert document.Root["/ViewerPreferences"]["/DisplayDocTitle"] == True  # noqa: E712
    with document.open_metadata() as about:
        assert str(about["pdfuaid:part"]) == "1"
        assert case_id in str(about["dc:title"])
    assert re.match(rb"%PDF-1\.[0-7]", pdf)
    found = tags(pdf)
    figures = [element for kind, element in found if kind == "Figure"]
    assert len(figures) > 10
    assert all(element["Alt"].strip() for element in figures)
    levels = [int(kind[1]) for kind, _ in found if re.fullmatch(r"H[1-6]", kind)]
    assert levels[0] == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))
    for page in document.pages:
        resources: Any = page["/Resources"]
        for font in resources["/Font"].values():
            assert "/ToUnicode" in font
            descriptor = font["/DescendantFonts"][0]["/FontDescriptor"]
            assert any(name in descriptor for name in ("/FontFile2", "/FontFile3"))


def test_the_english_beside_a_translation_is_marked_as_english() -> None:
    said = [about["Lang"] for _, about in tags(printed("K-107", language="es")) if "Lang" in about]
    assert said
    assert set(said) == {"en"}


def test_the_same_data_give_the_same_bytes() -> None:
    assert printed("K-107") == printed("K-107")


def test_a_page_is_the_same_whatever_was_set_before_it() -> None:
    """What is remembered of one patient's page never stands on another's: a process that has set nothing else gives the same bytes."""
    sheets = [patient_sheet(*case_of("ordinary-night", case)) for case in ORDINARY]
    others = [replace(sheet, case="K-999", title="Another", foot="Another, {page} of {pages}") for sheet in sheets]
    before = [sheet_pdf(sheet, AT) for sheet in sheets]
    for sheet in reversed(others):
        sheet_pdf(sheet, AT)
    assert [sheet_pdf(sheet, AT) for sheet in sheets] == before
    alone = (
        "import hashlib; from tests.handout.test_pdf import printed; "
        'print(hashlib.sha256(printed("K-103")).hexdigest())'
    )
    done = subprocess.run([sys.executable, "-c", alone], check=True, capture_output=True, text=True, cwd=ROOT)
    assert done.stdout.strip() == hashlib.sha256(before[ORDINARY.index("K-103")]).hexdigest()


@pytest.mark.parametrize("template", ["sheet", "pictures"])
def test_nothing_of_one_patient_encloses_what_patients_have_in_common(template: str) -> None:
    """Else nothing laid out for one page is of use for the next (docs/adr/0031)."""
    text = (ROOT / f"src/hourmark/handout/print/{template}.typ").read_text(encoding="utf-8")
    rules, blocks = text.split("#metadata(given.foot) <foot>\n")
    assert set(re.findall(r"given\.([\w-]+)", rules)) <= {"draft", "language", "loose", "paper", "size"}
    assert "sys.inputs" not in text
    assert blocks.endswith("\n#set document(title: given.title)\n")
    assert not re.search(r"^#(set|show|let)", blocks.removesuffix("#set document(title: given.title)\n"), re.MULTILINE)


def test_only_a_picture_of_a_clock_depends_on_the_clock() -> None:
    rows = [
        row for case in ORDINARY for part in patient_sheet(*case_of("ordinary-night", case)).hands for row in part.rows
    ]
    seen = [row.picture.seen for row in rows if isinstance(row.picture.seen, Scene)]
    assert len(seen) == len(rows)
    assert {scene.picture for scene in seen if scene.clock is not None} == {"clock"}
    assert all(scene.clock is not None for scene in seen if scene.picture == "clock")


def test_words_near_an_edge_are_named() -> None:
    pdf = printed("K-107")
    assert over_the_edge(pdf) == paper_text(pdf).over_the_edge == ()
    near = over_the_edge(pdf, margin_mm=20)
    assert near == paper_text(pdf, margin_mm=20).over_the_edge
    width, height, least = 210 * MM, 297 * MM, 20 * MM
    outside = [
        piece.words.strip()
        for piece in pieces(pdf)
        if piece.tagged
        and (min(piece.left, piece.bottom) < least or piece.right > width - least or piece.top > height - least)
    ]
    assert len(outside) > 10
    assert sorted(words.translate({0x2060: None}).replace("\xa0", " ").strip() for words in near) == sorted(outside)


def test_several_threads_may_read_at_a_time() -> None:
    pages = [printed("K-105"), printed("K-107")] * 6
    alone = [paper_text(page) for page in pages]
    with ThreadPoolExecutor(4) as pool:
        assert list(pool.map(paper_text, pages)) == alone


def test_every_step_has_a_picture_on_its_own_page() -> None:
    case, plan = case_of("ordinary-night", "K-103")
    found = tags(sheet_pdf(patient_sheet(case, plan), AT))
    figures = [element for kind, element in found if kind == "Figure"]
    steps = sum(len(one.steps) for one in case.injections)
    devices = 2
    assert len(figures) == steps + devices


def measured(length: str) -> NightPlan:
    plan = planned("ordinary-night")
    barrel = barrels()["u100-1mL-1"]
    seen = MeasuredBarrel(barrel, Fraction(length), "N. Abara", WallTime(dt.datetime(2026, 10, 5, 9)))
    return replace(plan, night=replace(plan.night, clinic=replace(plan.night.clinic, measured=(seen,))))


DPI = 600


def dark_runs(picture: Image.Image, line: int) -> list[tuple[float, float]]:
    """Where each dark stretch along one row of pixels begins and ends, in mm from the left edge of the paper."""
    row = picture.crop((0, line, picture.width, line + 1)).tobytes() + b"\xff"
    runs, start = [], None
    for x, value in enumerate(row):
        if value < 128 and start is None:
            start = x
        elif value >= 128 and start is not None:
            runs.append((start / DPI * 25.4, x / DPI * 25.4))
            start = None
    return runs


def middles(runs: list[tuple[float, float]]) -> list[float]:
    return [(start + end) / 2 for start, end in runs]


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("length", ["57", "60.5"])
def test_the_barrel_and_the_ruler_have_their_true_size_on_paper(length: str, paper: Paper) -> None:
    """Measured on the page image at 600 dpi, to 0.1 mm: 51 lines on 50 mm of ruler; every line of the scale; the stopper at mark 80."""
    plan = measured(length)
    case = next(one for one in plan.cases if one.case.id == "K-103")
    pdf = sheet_pdf(patient_sheet(case, plan), AT, paper)
    page = next(piece.page for piece in pieces(pdf) if "true size" in piece.words)
    picture = image(pdf, page, DPI)
    rows = [dark_runs(picture, line) for line in range(0, picture.height // 2, 8)]

    ruler = next(row for row in rows if len(row) == 53)  # between the two sides of its frame
    lines = middles(ruler[1:-1])
    assert abs(lines[-1] - lines[0] - 50) < 0.1
    assert all(abs(after - before - 1) < 0.1 for before, after in pairwise(lines))

    step = float(length) / 100
    scale = next(
        row for row in rows if len(row) > 100 and all(abs(b - a - step) < 0.1 for a, b in pairwise(middles(row)[1:70]))
    )
    zero = middles(scale)[1] - step
    drawn = middles(scale)
    for place in (*range(1, 80), *range(90, 101)):
        assert min(abs(x - zero - place * step) for x in drawn) < 0.1, place
    ring = next(run for run in scale if run[0] < zero + 80 * step < run[1])
    half_a_line = (scale[1][1] - scale[1][0]) / 2
    assert ring[1] - ring[0] > 3 * half_a_line
    assert abs(ring[0] + half_a_line - zero - 80 * step) < 0.1


def test_without_a_measured_scale_nothing_claims_true_size() -> None:
    case, plan = case_of("ordinary-night", "K-103")
    text = sheet_text(patient_sheet(case, plan))
    assert "true size" not in text.lower()
    assert text.count("Not to scale") == 2
    assert (
        "true size"
        in sheet_text(
            patient_sheet(next(c for c in measured("57").cases if c.case.id == "K-103"), measured("57"))
        ).lower()
    )


@pytest.mark.parametrize(
    "words",
    [
        "#set page(width: 1pt)",
        "<b>x</b> & $y$",
        "*bold* _it_ \\ @ref [x](y)",
        '"))#panic("x")//',
        '\\"))#panic() \\u{41} \\n {page}',
        "W" * 200,
        "a-" * 100,
    ],
)
def test_markup_and_long_words_are_shown_as_they_are(words: str) -> None:
    case, plan = case_of("ordinary-night", "K-101")
    other = replace(case, case=replace(case.case, helper=words))
    sheet = patient_sheet(other, plan)
    pdf, read = sheet_read(sheet, AT)
    assert any(words in paragraph for paragraph in read)
    assert overlapping([piece for piece in pieces(pdf) if piece.tagged]) == []


@pytest.mark.parametrize("words", ["שרה", "سارة", "莎拉", "Жанна", "\U0001f489"])
def test_a_letter_that_the_font_does_not_have_is_refused_by_name(words: str) -> None:
    case, plan = case_of("ordinary-night", "K-101")
    other = replace(case, case=replace(case.case, helper=words))
    for _ in ("as a new page", "as a page that the typesetter remembers"):
        with pytest.raises(Unprintable):
            sheet_pdf(patient_sheet(other, plan), AT)


def test_without_the_font_nothing_is_set(monkeypatch: pytest.MonkeyPatch) -> None:
    import typst

    from hourmark.handout import typesetter

    typesetter.fonts.cache_clear()
    monkeypatch.setattr(typesetter, "_OF_THIS_THREAD", threading.local())
    monkeypatch.setattr(typst, "Fonts", lambda **_: type("None", (), {"families": lambda self: []})())
    with pytest.raises(Unprintable, match="font"):
        printed("K-107")
    typesetter.fonts.cache_clear()


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_pictures_alone_hold_digits_and_no_sentences(paper: Paper) -> None:
    case, plan = case_of("ordinary-night", "K-103")
    pdf = pictures_pdf(patient_sheet(case, plan), AT, paper)
    told = [piece for piece in pieces(pdf) if piece.tagged]
    words = {word for piece in told for word in re.findall(r"[A-Za-z]{2,}", piece.words)}
    on_the_boxes = {"leuprolide", "acetate", "chorionic", "gonadotropin", "mg", "units"}
    assert words == {"DRAFT", "NOT", "RELEASED", "mL", "mm"} | on_the_boxes
    text = " ".join(piece.words for piece in told)
    for said in (
        "leuprolide acetate, 5 mg/mL",
        "chorionic gonadotropin, 10,000 units",
        "+ 2 mL",
        "60 s",
        "30 s",
        "20 G 38 mm",
    ):
        assert said in text.replace("\u00a0", " "), said
    assert "21:00" in text
    assert "2026-11-18" in text
    assert "+1 555 0101" in text
    assert overlapping(told) == []
    figures = [element for kind, element in tags(pdf) if kind == "Figure"]
    assert len(figures) == sum(len(one.steps) for one in case.injections) + 2 + 2 + 1
    assert all(element["Alt"].strip() for element in figures)


@pytest.mark.parametrize("name", ["ordinary-night", "refusals", "travellers"])
def test_staff_pages_are_set_and_read(name: str) -> None:
    plan = planned(name)
    for pdf in (night_pdf(plan, AT), *(case_pdf(case, plan, AT, "letter") for case in plan.cases[:6])):
        told = [piece for piece in pieces(pdf) if piece.tagged]
        assert overlapping(told) == []
        assert min(piece.size for piece in told) >= 9
        assert "DRAFT, NOT RELEASED" in told[0].words


def test_the_night_has_one_line_an_injection_in_time_order() -> None:
    plan = planned("ordinary-night")
    rows = [kind for kind, _ in tags(night_pdf(plan, AT)) if kind == "TR"]
    assert len(rows) == 1 + sum(len(case.injections) for case in plan.cases)
    clocks = re.findall(
        r"(?:Wed 18|Thu 19) Nov \d\d:\d\d", " ".join(piece.words for piece in pieces(night_pdf(plan, AT)))
    )
    assert len(clocks) == 13
    assert clocks == sorted(clocks, key=lambda clock: (clock[4:6], clock[-5:]))


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("case_id", ORDINARY)
def test_the_first_page_holds_when_how_much_the_picture_whom_to_call_and_the_cautions(
    case_id: str, paper: Paper
) -> None:
    case, _ = case_of("ordinary-night", case_id)
    found = pieces(printed(case_id, paper))
    first = re.sub(r"\s+", " ", " ".join(piece.words for piece in found if piece.page == 0))
    for words in ("Severe symptoms: emergency services first.", "+1 555 0101", "do not repeat and do not add a"):
        assert words in first
    assert first.count("When: ") == len(case.injections)
    if len(case.injections) == 1 and paper == "a4":
        for words in ("First read the boxes", "Lay out", "What to stop"):
            assert words in first
