"""Reading a finished PDF back: its paragraphs from the tags that a screen reader follows, and where its words stand on the paper."""

import ctypes
import re
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from ctypes import c_float, c_int, c_ulong, c_void_p
from dataclasses import dataclass, field
from functools import cache
from types import SimpleNamespace
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

_NO_WIDTH = {0x200B: None, 0x2060: None, 0x0002: None}
"""What the page needs for its line ends and no reader sees."""

POINTS_PER_MM = 72 / 25.4
_MARGIN_MM = 5.0

_ONE_AT_A_TIME = threading.Lock()
"""The library keeps things in common between documents, and lets no two threads in."""


def paper_text(pdf: bytes, margin_mm: float = _MARGIN_MM) -> PaperText:
    """Reads a tagged PDF. What stands nearer than `margin_mm` to an edge counts as running over it."""
    paragraphs: list[str] = []
    over: list[str] = []
    with _opened(pdf) as pages:
        for page in pages:
            read = _Page(page, margin_mm * POINTS_PER_MM)
            over += read.over
            paragraphs += read.paragraphs()
    return PaperText(tuple(paragraphs), tuple(over))


def over_the_edge(pdf: bytes, margin_mm: float = _MARGIN_MM) -> tuple[str, ...]:
    """The words of a PDF that stand nearer than `margin_mm` to an edge of their page."""
    with _opened(pdf) as pages:
        return tuple(words for page in pages for words in _Page(page, margin_mm * POINTS_PER_MM).over)


@contextmanager
def _opened(pdf: bytes) -> Iterator[Any]:
    import pypdfium2

    with _ONE_AT_A_TIME:
        document = pypdfium2.PdfDocument(pdf)
        try:
            yield document
        finally:
            document.close()


@cache
def _library() -> Any:
    """What is asked of the library, handles as plain numbers: there are thousands of calls a page, and pointers cost most of them."""
    from pypdfium2 import raw

    def call(name: str, result: Any, *arguments: Any) -> Callable[..., Any]:
        address = ctypes.cast(getattr(raw, name), c_void_p).value
        assert address is not None
        return ctypes.PYFUNCTYPE(result, *arguments)(address)

    edges = (c_void_p,) * 4
    return SimpleNamespace(
        count_chars=call("FPDFText_CountChars", c_int, c_void_p),
        get_text=call("FPDFText_GetText", c_int, c_void_p, c_int, c_int, c_void_p),
        text_object=call("FPDFText_GetTextObject", c_void_p, c_void_p, c_int),
        mark_of_object=call("FPDFPageObj_GetMarkedContentID", c_int, c_void_p),
        bounds=call("FPDFPageObj_GetBounds", c_int, c_void_p, *edges),
        tree=call("FPDF_StructTree_GetForPage", c_void_p, c_void_p),
        close_tree=call("FPDF_StructTree_Close", None, c_void_p),
        count_roots=call("FPDF_StructTree_CountChildren", c_int, c_void_p),
        root=call("FPDF_StructTree_GetChildAtIndex", c_void_p, c_void_p, c_int),
        kind=call("FPDF_StructElement_GetType", c_ulong, c_void_p, c_void_p, c_ulong),
        language=call("FPDF_StructElement_GetLang", c_ulong, c_void_p, c_void_p, c_ulong),
        count_parts=call("FPDF_StructElement_CountChildren", c_int, c_void_p),
        mark=call("FPDF_StructElement_GetChildMarkedContentID", c_int, c_void_p, c_int),
        part=call("FPDF_StructElement_GetChildAtIndex", c_void_p, c_void_p, c_int),
    )


_ROOM = 64
"""Bytes for the name of a tag or of a language; both are short."""


@dataclass
class _Page:
    """One page as it is read: its words by the number of their marked content, and those that run over an edge."""

    page: Any
    margin: float
    library: Any = field(default_factory=_library)
    room: Any = field(default_factory=lambda: ctypes.create_string_buffer(_ROOM))
    words: dict[int, str] = field(default_factory=dict)
    over: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        library = self.library
        opened = self.page.get_textpage()
        view = _number(opened)
        count = library.count_chars(view)
        memory = (ctypes.c_ushort * (count + 1))()
        library.get_text(view, 0, count, memory)
        text = bytes(memory).decode("utf-16-le")
        inside = self._inside()
        for thing, start, end in self._things(view, count):
            mark = library.mark_of_object(thing)
            if mark < 0:
                continue
            self.words[mark] = self.words.get(mark, "") + text[start:end]
            if not inside(thing):
                self.over.append(text[start:end])
        opened.close()

    def _things(self, view: int, count: int) -> Iterator[tuple[int, int, int]]:
        """The text objects of a page, each with where its characters begin and end; the characters of one stand together."""
        at = self.library.text_object
        start = 0
        while start < count:
            thing = at(view, start)
            reach = 1
            while start + reach < count and at(view, start + reach) == thing:
                reach *= 2
            same, other = start + reach // 2, min(start + reach, count)
            while other - same > 1:
                middle = (same + other) // 2
                same, other = (middle, other) if at(view, middle) == thing else (same, middle)
            if thing:
                yield thing, start, same + 1
            start = same + 1

    def _inside(self) -> Callable[[int], bool]:
        width, height = self.page.get_size()
        least, right_most, top_most = self.margin, width - self.margin, height - self.margin
        edges = [c_float() for _ in range(4)]
        left, bottom, right, top = edges
        places = [ctypes.addressof(edge) for edge in edges]

        def inside(thing: int) -> bool:
            self.library.bounds(thing, *places)
            return left.value >= least and bottom.value >= least and right.value <= right_most and top.value <= top_most

        return inside

    def paragraphs(self) -> Iterator[str]:
        """The paragraphs of the page, in the order of its tags."""
        tree = self.library.tree(_number(self.page))
        try:
            for place in range(self.library.count_roots(tree)):
                root = self.library.root(tree, place)
                yield from self._below(root, self._text(self.library.kind, root))
        finally:
            self.library.close_tree(tree)

    def _below(self, element: int, kind: str) -> Iterator[str]:
        """The paragraphs of one tag."""
        if kind in _DRAWN:
            return
        parts = list(self._parts(element))
        if kind in _BLOCKS and not any(isinstance(part, list) for part in parts):
            said = re.sub(
                r"\s+", " ", "".join(part for part in parts if isinstance(part, str)).translate(_NO_WIDTH)
            ).strip()
            if said:
                beside = BESIDE if self._text(self.library.language, element) else ""
                yield f"{beside}{said}"
            return
        for part in parts:
            if isinstance(part, list):
                yield from part

    def _parts(self, element: int) -> Iterator[str | list[str]]:
        """What a tag holds, in order: words of its own and of its spans as text, blocks as lists of paragraphs."""
        library = self.library
        for place in range(library.count_parts(element)):
            mark = library.mark(element, place)
            if mark >= 0:
                yield self.words.get(mark, "")
                continue
            child = library.part(element, place)
            if not child:
                continue
            kind = self._text(library.kind, child)
            if kind == "Span":
                yield "".join(part for part in self._parts(child) if isinstance(part, str))
            else:
                yield list(self._below(child, kind))

    def _text(self, call: Callable[..., int], element: int) -> str:
        """A short text that the library writes into memory of ours."""
        length = call(element, self.room, _ROOM)
        written: bytes = self.room.raw[: max(length - 2, 0)]
        return written.decode("utf-16-le")


def _number(opened: Any) -> int:
    """The handle of what the library opened."""
    address = ctypes.cast(opened.raw, c_void_p).value
    assert address is not None
    return address
