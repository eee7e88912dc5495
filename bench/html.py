"""The same page as HTML, for a browser to print: the rival in the benchmark, nothing that hourmark gives out."""

import html
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
    Steps,
    Text,
)
from hourmark.handout.drawing import drawn_as_svg

_STYLE = """
@page { size: A4; margin: 13mm 15mm 18mm }
body { font: 14pt/1.35 "Atkinson Hyperlegible", sans-serif; margin: 0 }
h1 { font-size: 20pt } h2 { font-size: 16pt } p, h1, h2 { margin: .35em 0 }
b.large { font-size: 24pt } .small { font-size: 10pt }
.card, .step, .columns, .cautions { break-inside: avoid }
.cautions { border: 1pt solid; border-radius: 1mm; padding: 2mm }
.columns { display: grid; grid-template-columns: 1fr 1fr; gap: 8mm }
.step { display: grid; grid-template-columns: 38mm 1fr; gap: 5mm; border-top: .5pt solid #444; padding: 1.2mm 0 }
svg { max-width: 100%; height: auto } .new { break-before: page }
"""


def sheet_html(sheet: Sheet) -> str:
    """The whole page with its drawings inline."""
    body = "".join(_blocks(sheet.blocks))
    return f'<!doctype html><html lang="{sheet.language}"><meta charset="utf-8"><title>{sheet.title}</title><style>{_STYLE}</style><body>{body}'


def _text(text: Text) -> str:
    return "<br>".join(
        "".join(f'<b class="large">{html.escape(run.text)}</b>' if run.large else html.escape(run.text) for run in line)
        for line in text.lines
    )


def _blocks(blocks: Iterable[Block]) -> Iterator[str]:
    for block in blocks:
        yield _block(block)


def _block(block: Block) -> str:
    match block:
        case Heading(level, text):
            return f"<h{level}>{_text(text)}</h{level}>"
        case Paragraph(text, weight):
            return f'<p class="{weight}">{_text(text)}</p>'
        case Cautions(items):
            return f'<div class="cautions">{"".join(f"<p>{_text(item)}</p>" for item in items)}</div>'
        case Points(items):
            return f"<ul>{''.join(f'<li>{_text(item)}</li>' for item in items)}</ul>"
        case Picture():
            return _picture(block)
        case Steps(rows):
            return "".join(
                f'<div class="step"><div>{_picture(row.picture)}</div><div><p>{_text(row.do)}</p><p>{_text(row.see)}</p></div></div>'
                for row in rows
            )
        case Card(blocks):
            return f'<div class="card">{"".join(_blocks(blocks))}</div>'
        case Columns(left, right):
            return f'<div class="columns"><div>{"".join(_blocks(left))}</div><div>{"".join(_blocks(right))}</div></div>'
        case NewPage():
            return '<div class="new"></div>'


def _picture(picture: Picture) -> str:
    return f'<div role="img" aria-label="{html.escape(picture.alt)}">{drawn_as_svg(picture.seen).text}</div>'
