"""docs/manual/calls.md out of the calls and the table that is tested. Renew it with: .venv/bin/python -m tests.incident.calls_page"""

from collections.abc import Iterator

from hourmark.drill import ASKED, Scene, scene
from hourmark.drill.card import card
from hourmark.incident.calls import Call, Sentence, Sort, calls, first_moves
from hourmark.incident.kinds import RED_FLAGS
from tests.case.world import ROOT
from tests.incident.call_rows import ROWS, Row

SIGNED = "Signed"
PAGE = ROOT / "docs" / "manual" / "calls.md"

_HEAD = """# The 62 calls of a trigger night

What a frightened caller says, what is asked first, what is said, what is not done, and who decides. Each call is *computed* (a number is worked
out for this case), *looked up* (read off her order, page, kit, label or the clinic's rules) or *said*. The words hold no number: a number is
worked out for the caller at hand and for nobody else. In the tables of computed calls stand the numbers of the invented cases of the drill
(`hourmark drill`), with the sum by hand; the tests have them from the incident room and from code that shares nothing with it.

"Signed rule" means a rule that the clinic has signed; where it has none, the prescriber decides. Where two could decide, the stricter does. A
few words find a call, typos and all: how they are scored stands in `src/hourmark/incident/search.py`.

This page is written from the data and the tests; renew it with `.venv/bin/python -m tests.incident.calls_page`.
"""


def page() -> str:
    """The whole page."""
    return "\n".join((_HEAD, *_danger(), *_every_call(), *_sections(), *_numbers()))


def _danger() -> Iterator[str]:
    yield "## Emergency services before anything else\n"
    yield from (f"- {flag}" for flag in RED_FLAGS)
    yield ""


def _every_call() -> Iterator[str]:
    yield "## In every call\n"
    yield "| what | where it comes from |"
    yield "|---|---|"
    yield from (f"| {move.text} | {move.source} |" for move in first_moves())
    yield ""


def _sections() -> Iterator[str]:
    for about in dict.fromkeys(one.about for one in calls()):
        yield f"## {about.capitalize()}\n"
        for one in calls():
            if one.about == about:
                yield from _call(one)


def _call(one: Call) -> Iterator[str]:
    yield f"### {one.id}: {one.question}\n"
    yield f'Callers say: "{one.phrases["en"][0]}", "{one.phrases["en"][1]}".\n'
    yield "| | | where it comes from |"
    yield "|---|---|---|"
    yield f"| how | {one.sort}{_of_kind(one)} | |"
    yield from _rows("ask", one.ask)
    yield from _rows("look up", one.look)
    yield from (_sentence(said) for said in one.say)
    yield from _rows("never", one.never)
    yield from (f"| decides | **{decides.who}**: {decides.when} | |" for decides in one.decides)
    yield ""


def _of_kind(one: Call) -> str:
    danger = "; **danger: emergency services first**" if one.red_flag else ""
    return f" ({one.kind}){danger}" if one.kind is not None else danger


def _rows(name: str, texts: tuple[str, ...]) -> Iterator[str]:
    yield from (f"| {name} | {text} | |" for text in texts)


def _sentence(said: Sentence) -> str:
    return f"| say | {said.text} | {said.source} |"


def _numbers() -> Iterator[str]:
    yield "## The computed calls, with the drill's numbers\n"
    yield "| call | she says, when asked | number | by hand | rests on |"
    yield "|---|---|---|---|---|"
    yield from (_number(row, scene(row.id)) for row in ROWS if row.sort is Sort.COMPUTED)
    yield ""
    cases = tuple(dict.fromkeys(scene(row.id).case for row in ROWS if row.sort is Sort.COMPUTED))
    yield f"The cases that these numbers belong to. {' '.join(line for line in card(cases[0]) if line.startswith(SIGNED))}\n"
    for case in cases:
        lines = (line.strip() for line in card(case) if not line.startswith(SIGNED))
        yield f"- {case}: {' '.join(line if line.endswith('.') else f'{line};' for line in lines)}"
    yield ""


def _number(row: Row, one: Scene) -> str:
    assert one.wants is not None
    return f"| {row.id} ({one.case}) | {one.told} | {ASKED[one.wants]}: **{row.number}** | {row.sum} | {row.source} |"


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
