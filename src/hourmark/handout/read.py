"""Reading a finished PDF back: its paragraphs from the tags that a screen reader follows, and where its words stand on the paper."""

import ctypes
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from hourmark.handout.text import BESIDE


@dataclass(frozen=True, slots=True)
class PaperText:
    """A finished document: every paragraph in reading order, and what runs over an edge of its page, if anything does.

    A paragraph in another language than the document's begins with "= ". Words of drawings are not among the paragraphs.
    """

    paragraphs: tuple[str, ...]
    over_the_edge: tuple[str, ...]


_BLOCKS = frozenset({"P", "H1", "H2", "H3", "LBody", "TD", "TH", "Caption"})
_DRAWN = frozenset({"Figure", "Lbl"})

_ROOM = (ctypes.c_ushort * 64)()
"""Holds the name of a tag or of a language; both are short."""

_NO_WIDTH = {0x200B: None, 0x2060: None, 0x0002: None}
"""What the page needs for its line ends and no reader sees."""

POINTS_PER_MM = 72 / 25.4


def paper_text(pdf: bytes, margin_mm: float = 5) -> PaperText:
    """Reads a tagged PDF. What stands nearer than `margin_mm` to an edge counts as running over it."""
    import pypdfium2

    document = pypdfium2.PdfDocument(pdf)
    try:
        paragraphs: list[str] = []
        over: list[str] = []
        for page in document:
            words = _words(page, margin_mm * POINTS_PER_MM, over)
            paragraphs += _tagged(page, words)
        return PaperText(tuple(paragraphs), tuple(over))
    finally:
        document.close()


def _words(page: Any, margin: float, over: list[str]) -> dict[int, str]:
    """The words by the number of their marked content; what leaves the page is added to `over`."""
    from pypdfium2 import raw

    width, height = page.get_size()
    view = page.get_textpage()
    count = raw.FPDFText_CountChars(view)
    memory = (ctypes.c_ushort * (count + 1))()
    raw.FPDFText_GetText(view, 0, count, memory)
    text = bytes(memory).decode("utf-16-le")
    found: dict[int, str] = {}
    for thing, start, end in _things(view, count):
        mark = raw.FPDFPageObj_GetMarkedContentID(thing)
        if mark < 0:
            continue
        found[mark] = found.get(mark, "") + text[start:end]
        if not _inside(thing, margin, width - margin, height - margin):
            over.append(text[start:end])
    view.close()
    return found


def _things(view: Any, count: int) -> Iterator[tuple[Any, int, int]]:
    """The text objects of a page, each with where its characters begin and end; the characters of one stand together."""
    from pypdfium2 import raw

    def at(place: int) -> tuple[Any, int]:
        thing = raw.FPDFText_GetTextObject(view, place)
        return thing, ctypes.addressof(thing.contents) if thing else 0

    start = 0
    while start < count:
        thing, address = at(start)
        reach = 1
        while start + reach < count and at(start + reach)[1] == address:
            reach *= 2
        same, other = start + reach // 2, min(start + reach, count)
        while other - same > 1:
            middle = (same + other) // 2
            same, other = (middle, other) if at(middle)[1] == address else (same, middle)
        if address:
            yield thing, start, same + 1
        start = same + 1


def _inside(thing: Any, least: float, right_most: float, top_most: float) -> bool:
    from pypdfium2 import raw

    left, bottom, right, top = (ctypes.c_float() for _ in range(4))
    raw.FPDFPageObj_GetBounds(thing, left, bottom, right, top)
    return left.value >= least and bottom.value >= least and right.value <= right_most and top.value <= top_most


def _tagged(page: Any, words: dict[int, str]) -> Iterator[str]:
    from pypdfium2 import raw

    tree = raw.FPDF_StructTree_GetForPage(page)
    try:
        for place in range(raw.FPDF_StructTree_CountChildren(tree)):
            yield from _below(raw.FPDF_StructTree_GetChildAtIndex(tree, place), words)
    finally:
        raw.FPDF_StructTree_Close(tree)


def _below(element: Any, words: dict[int, str]) -> Iterator[str]:
    """The paragraphs of one tag."""
    from pypdfium2 import raw

    kind = _text(raw.FPDF_StructElement_GetType, element)
    if kind in _DRAWN:
        return
    parts = list(_parts(element, words))
    if kind in _BLOCKS and not any(isinstance(part, list) for part in parts):
        said = re.sub(
            r"\s+", " ", "".join(part for part in parts if isinstance(part, str)).translate(_NO_WIDTH)
        ).strip()
        if said:
            beside = BESIDE if _language(element) else ""
            yield f"{beside}{said}"
        return
    for part in parts:
        if isinstance(part, list):
            yield from part


def _language(element: Any) -> str:
    from pypdfium2 import raw

    return _text(raw.FPDF_StructElement_GetLang, element)


def _parts(element: Any, words: dict[int, str]) -> Iterator[str | list[str]]:
    """What a tag holds, in order: words of its own and of its spans as text, blocks as lists of paragraphs."""
    from pypdfium2 import raw

    for place in range(raw.FPDF_StructElement_CountChildren(element)):
        mark = raw.FPDF_StructElement_GetChildMarkedContentID(element, place)
        if mark >= 0:
            yield words.get(mark, "")
            continue
        child = raw.FPDF_StructElement_GetChildAtIndex(element, place)
        if not child:
            continue
        if _text(raw.FPDF_StructElement_GetType, child) == "Span":
            yield "".join(part for part in _parts(child, words) if isinstance(part, str))
        else:
            yield list(_below(child, words))


def _text(call: Any, *arguments: Any) -> str:
    """A short text that the library writes into memory of ours."""
    length = call(*arguments, _ROOM, ctypes.sizeof(_ROOM))
    return bytes(_ROOM)[: max(length - 2, 0)].decode("utf-16-le")
