"""A finished PDF looked at from outside: what stands where, in which size, and what the tags say. By pdfium and by qpdf."""

import ctypes
import io
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from itertools import combinations
from pathlib import Path
from typing import Any

import pikepdf
import pypdfium2
from PIL import Image
from pypdfium2 import raw

from hourmark.exchange import read_night
from hourmark.order import Night
from hourmark.plan import CasePlan, NightPlan, plan_night

ROOT = Path(__file__).resolve().parents[2]
MM = 72 / 25.4


@cache
def planned(name: str) -> NightPlan:
    night = read_night(ROOT / "examples" / f"{name}.toml")
    assert isinstance(night, Night)
    return plan_night(night)


def case_of(name: str, case: str) -> tuple[CasePlan, NightPlan]:
    plan = planned(name)
    return next(one for one in plan.cases if one.case.id == case), plan


@dataclass(frozen=True, slots=True)
class Piece:
    """One piece of text: page from 0, words, edges and size in points; `tagged` unless it is only decoration."""

    page: int
    words: str
    left: float
    bottom: float
    right: float
    top: float
    size: float
    tagged: bool


def pieces(pdf: bytes) -> list[Piece]:
    document = pypdfium2.PdfDocument(pdf)
    found = [piece for number, page in enumerate(document) for piece in _pieces(number, page)]
    document.close()
    return found


def _pieces(number: int, page: Any) -> Iterator[Piece]:
    view = page.get_textpage()
    for place in range(raw.FPDFPage_CountObjects(page)):
        thing = raw.FPDFPage_GetObject(page, place)
        if raw.FPDFPageObj_GetType(thing) != raw.FPDF_PAGEOBJ_TEXT:
            continue
        edges = [ctypes.c_float() for _ in range(4)]
        raw.FPDFPageObj_GetBounds(thing, *edges)
        size, matrix = ctypes.c_float(), raw.FS_MATRIX()
        raw.FPDFTextObj_GetFontSize(thing, size)
        raw.FPDFPageObj_GetMatrix(thing, matrix)
        length = raw.FPDFTextObj_GetText(thing, view, None, 0)
        memory = (ctypes.c_ushort * (length // 2 + 1))()
        raw.FPDFTextObj_GetText(thing, view, memory, length)
        words = bytes(memory).decode("utf-16-le").rstrip("\0").replace("\u2060", "").replace("\xa0", " ")
        scale = abs(matrix.d) or 1
        yield Piece(
            number,
            words,
            left=edges[0].value,
            bottom=edges[1].value,
            right=edges[2].value,
            top=edges[3].value,
            size=size.value * scale,
            tagged=raw.FPDFPageObj_GetMarkedContentID(thing) >= 0,
        )


def overlapping(found: list[Piece], least: float = 1.5) -> list[tuple[str, str]]:
    """Pairs of tagged pieces whose boxes share more than `least` points in both directions."""
    pairs = []
    by_page: dict[int, list[Piece]] = {}
    for piece in found:
        if piece.tagged and piece.words.strip():
            by_page.setdefault(piece.page, []).append(piece)
    for page in by_page.values():
        for one, other in combinations(page, 2):
            wide = min(one.right, other.right) - max(one.left, other.left)
            high = min(one.top, other.top) - max(one.bottom, other.bottom)
            if wide > least and high > least:
                pairs.append((one.words, other.words))
    return pairs


def image(pdf: bytes, page: int, dpi: float) -> Image.Image:
    document = pypdfium2.PdfDocument(pdf)
    picture: Image.Image = document[page % len(document)].render(scale=dpi / 72).to_pil().convert("L")
    document.close()
    return picture


def tags(pdf: bytes) -> list[tuple[str, dict[str, str]]]:
    """Every structure element by its kind, with its words for those who cannot see it and its language, as qpdf reads the file."""
    document = pikepdf.open(io.BytesIO(pdf))
    found: list[tuple[str, dict[str, str]]] = []

    def walk(element: Any) -> None:
        if isinstance(element, pikepdf.Dictionary) and "/S" in element:
            about = {name: str(element[f"/{name}"]) for name in ("Alt", "Lang") if f"/{name}" in element}
            found.append((str(element["/S"])[1:], about))
        kids = element.get("/K") if isinstance(element, pikepdf.Dictionary) else None
        for kid in kids if isinstance(kids, pikepdf.Array) else [kids] if kids is not None else []:
            if isinstance(kid, pikepdf.Dictionary):
                walk(kid)

    walk(document.Root["/StructTreeRoot"])
    return found
