"""The page as PDF: tagged for screen readers (PDF/UA-1), set by a template from the page's data, with one open font and no other."""

import datetime as dt
import json
import re
from functools import cache, lru_cache
from importlib.resources import files
from typing import Any, Literal, TypeAlias

from hourmark.handout.content import (
    OWN_SIZE,
    Block,
    Card,
    Cautions,
    Columns,
    Glance,
    Hands,
    Heading,
    NewPage,
    Paragraph,
    Picture,
    Points,
    Sheet,
    StepRow,
    Steps,
    Text,
)
from hourmark.handout.drawing import drawn_as_svg
from hourmark.handout.language import language
from hourmark.handout.read import over_the_edge, paper_text
from hourmark.handout.scene import Scene
from hourmark.handout.typesetter import Unprintable, typeset

Paper: TypeAlias = Literal["a4", "letter"]

BODY, LARGE_BODY = 14, 18
"""Type of the body in points: design for readers at home, and for those who ask for more."""

_LONGEST_WORD = 20
"""A word longer than this may be parted at the end of a line, so that nothing runs off the page."""

SOFT_BREAK, WORD_JOINER = "\u200b", "\u2060"
"""Characters without width: where a line may break, and where it may not."""

NO_BREAK = "\u00a0"

_WITH_ITS_UNIT = re.compile(
    r"(?<=[0-9]) (?=(?:mL|mg|mcg|units?|unidad|unidades|h|min|mm|cm|marks?|marcas?|am|pm|a\.|p\.)(?!\w))|(?<=\b[ap]\.) (?=m\.)|(?<=mark) (?=[0-9])|(?<=marca) (?=[0-9])"
)


def sheet_pdf(sheet: Sheet, at: dt.datetime, paper: Paper = "a4", *, large: bool = False) -> bytes:
    """The whole page as PDF; the same data give the same bytes. `at` is the moment of the plan.

    Raises Unprintable.
    """
    return sheet_read(sheet, at, paper, large=large)[0]


def sheet_read(
    sheet: Sheet, at: dt.datetime, paper: Paper = "a4", *, large: bool = False
) -> tuple[bytes, tuple[str, ...]]:
    """The page as PDF, and its paragraphs as read back from it. What belongs together is parted only if no page holds it.

    Raises Unprintable, also when words run over the edge of the paper.
    """
    page = set_once(sheet, at, paper, large, loose=False)
    read = paper_text(page)
    if read.over_the_edge:
        page = set_once(sheet, at, paper, large, loose=True)
        read = paper_text(page)
    _within_the_edges(read.over_the_edge)
    return page, read.paragraphs


def _within_the_edges(over: tuple[str, ...]) -> None:
    if over:
        raise Unprintable(f"these words run over the edge of the page: {', '.join(over)[:100]}")


def set_once(sheet: Sheet, at: dt.datetime, paper: Paper, large: bool, loose: bool) -> bytes:
    """The page as PDF; `loose` parts also what belongs together."""
    return typeset(sheet_source(sheet, paper, large, loose), at)


def sheet_source(sheet: Sheet, paper: Paper, large: bool, loose: bool) -> bytes:
    """The page as the typesetter takes it."""
    data = {
        "title": sheet.title,
        "language": sheet.language,
        "paper": paper,
        "size": LARGE_BODY if large else BODY,
        "loose": loose,
        "draft": _sign(sheet),
        "draft-text": _text(sheet.draft) if sheet.draft is not None else [],
        "foot": sheet.foot,
        "blocks": [_block(block) for block in sheet.blocks],
    }
    return _source("sheet", data)


def _sign(sheet: Sheet) -> str:
    return str(sheet.draft) if sheet.draft is not None else ""


def pictures_pdf(sheet: Sheet, at: dt.datetime, paper: Paper = "a4") -> bytes:
    """The same page in pictures and digits alone, for whoever does not read its language.

    Raises Unprintable.
    """
    data = {
        "title": sheet.title,
        "language": sheet.language,
        "paper": paper,
        "case": sheet.case,
        "draft": _sign(sheet),
        "foot": sheet.foot,
        "numbers": sheet.numbers,
        "phone": _picture(Picture(Scene("phone-call"), language(sheet.language).word("alt.phone"))),
        "glances": [_glance(glance) for glance in sheet.glances],
        "hands": [_hands(part) for part in sheet.hands],
    }
    page = compiled("pictures", data, at)
    _within_the_edges(over_the_edge(page))
    return page


def compiled(template: str, given: dict[str, Any], at: dt.datetime) -> bytes:
    """One of the templates in print/, filled in, as tagged PDF.

    Raises Unprintable.
    """
    return typeset(_source(template, given), at)


def _source(template: str, given: dict[str, Any]) -> bytes:
    """The data stand in the source, as `given`: the typesetter forgets what it has laid out when its inputs change, not when its source does."""
    return f"#let given = json(bytes({json.dumps(json.dumps(given))}))\n{_template(template)}".encode()


@cache
def _template(name: str) -> str:
    return files("hourmark.handout").joinpath(f"print/{name}.typ").read_text(encoding="utf-8")


def _block(block: Block) -> dict[str, Any]:
    match block:
        case Heading(level, text):
            return {"kind": "heading", "level": level, "text": _text(text)}
        case Paragraph(text, weight):
            return {"kind": "paragraph", "weight": weight, "text": _text(text)}
        case Cautions(items):
            return {"kind": "cautions", "items": [_text(item) for item in items]}
        case Points(items, ticked):
            return {"kind": "points", "ticked": ticked, "items": [_text(item) for item in items]}
        case Picture():
            return {"kind": "picture", "picture": _picture(block)}
        case Steps(rows):
            return {"kind": "steps", "rows": [_step(row) for row in rows]}
        case Card(blocks):
            return {"kind": "card", "blocks": [_block(one) for one in blocks]}
        case Columns(left, right):
            return {
                "kind": "columns",
                "left": [_block(one) for one in left],
                "right": [_block(one) for one in right],
            }
        case NewPage():
            return {"kind": "new-page"}


def _text(text: Text) -> list[list[list[Any]]]:
    return [[[breakable(run.text), run.large] for run in said] for said in text.lines]


def _picture(picture: Picture) -> dict[str, Any]:
    drawn = drawn_as_svg(picture.seen)
    caption = _text(picture.caption) if picture.caption is not None else None
    width = float(drawn.width) if picture.size == "own" else None if picture.size == "room" else picture.size
    beside = caption is not None and picture.size != OWN_SIZE
    return {"drawn": drawn.text, "alt": picture.alt, "width": width, "caption": caption, "beside": beside}


def _glance(glance: Glance) -> dict[str, Any]:
    return {
        "place": glance.place,
        "box": breakable(glance.box),
        "water": breakable(glance.water),
        "date": glance.date,
        "clock": glance.clock,
        "face": _picture(glance.face),
        "devices": [{"digits": digits, "picture": _picture(picture)} for digits, picture in glance.devices],
    }


def _hands(part: Hands) -> dict[str, Any]:
    rows = [
        {
            "number": row.number,
            "check": row.check,
            "warn": row.warn is not None,
            "digits": breakable(row.digits),
            "picture": _picture(row.picture),
        }
        for row in part.rows
    ]
    return {"place": part.place, "box": breakable(part.box), "clock": part.clock, "ready": part.ready, "rows": rows}


def _step(row: StepRow) -> dict[str, Any]:
    return {
        "do": _text(row.do),
        "see": _text(row.see),
        "warn": _text(row.warn) if row.warn is not None else None,
        "check": row.check,
        "picture": _picture(row.picture),
        "letter": _text(row.letter),
    }


@lru_cache(maxsize=4096)
def breakable(words: str) -> str:
    """Words as they may be parted at the end of a line: after many letters; never between a number and its unit, nor at a hyphen or a slash."""
    joined = re.sub("[-/]", lambda found: f"{found[0]}{WORD_JOINER}", _WITH_ITS_UNIT.sub(NO_BREAK, words))
    return re.sub(rf"(\S{{{_LONGEST_WORD}}})(?=\S)", f"\\1{SOFT_BREAK}", joined)
