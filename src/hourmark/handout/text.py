"""The page as plain text: every paragraph one line, in the same words as on paper, so that it can be checked back."""

from collections.abc import Iterable, Iterator

from hourmark.handout.content import (
    Block,
    Card,
    Cautions,
    Columns,
    Heading,
    NewPage,
    Paragraph,
    Picture,
    Points,
    Sheet,
    StepRow,
    Steps,
    Text,
    plain,
)

BESIDE = "= "
"""Begins the English line that stands beside one whose translation nobody has signed."""

WARNING, SEEN = "! ", "-> "
"""Begin what must not be overlooked, and what is seen after a step."""


def sheet_text(sheet: Sheet) -> str:
    """The whole page; of a drawing only what stands under it."""
    return "\n".join((*_lines(sheet), "")).lstrip("\n")


def _lines(sheet: Sheet) -> Iterator[str]:
    if sheet.draft is not None:
        yield from said_lines(sheet.draft)
    for block in sheet.blocks:
        yield from _block(block)
    if sheet.draft is not None:
        yield ""
        yield from said_lines(sheet.draft)


def said_lines(text: Text, before: str = "") -> Iterator[str]:
    """A text as lines: its own language, with what stands before it, and below it the other that stands beside."""
    first, *beside = text.lines
    yield f"{before}{plain(first)}"
    for other in beside:
        yield f"{BESIDE}{plain(other)}"


def _block(block: Block) -> Iterator[str]:
    match block:
        case Heading(_, text):
            yield ""
            yield from said_lines(text)
        case Paragraph(text):
            yield from said_lines(text)
        case Cautions(items):
            for item in items:
                yield from said_lines(item, WARNING)
        case Points(items):
            for item in items:
                yield from said_lines(item, "- ")
        case Steps(rows):
            for row in rows:
                yield from _step(row)
        case Card(blocks):
            yield from _all(blocks)
        case Columns(left, right):
            yield from _all((*left, *right))
        case Picture(caption=Text() as caption):
            yield from said_lines(caption)
        case Picture() | NewPage():
            return


def _all(blocks: Iterable[Block]) -> Iterator[str]:
    for block in blocks:
        yield from _block(block)


def _step(row: StepRow) -> Iterator[str]:
    if row.warn is not None:
        yield from said_lines(row.warn, WARNING)
    yield from said_lines(row.do)
    yield from said_lines(row.see, SEEN)
