"""docs/what-voids-a-sheet.md out of the table that is tested. Renew it with: .venv/bin/python -m tests.case.voiding_page"""

from collections.abc import Iterator

from tests.case.voiding import CHANGES, Change
from tests.case.world import ROOT

PAGE = ROOT / "docs" / "what-voids-a-sheet.md"

_HEAD = """# What voids a sheet

A released sheet holds until something that it rests on is no longer so, a second check differs from it, or somebody voids it by hand.
Then it is void in the same moment, the parts that changed are named, and a call to her is owed: she still has the page. A new sheet is
released like the first, after a check and a read-back. The clinic's zone is not in the table: it cannot change while a case is open.

Each line was tried on a released sheet of K-103 of `examples/ordinary-night.toml`, with nothing else changed; the third column gives
the parts under which the record names the change. This page is written from the table in `tests/case/voiding.py`, which is also the
test; renew it with `.venv/bin/python -m tests.case.voiding_page`.
"""


def page() -> str:
    """The whole page."""
    return "\n".join((_HEAD, *_sections()))


def _sections() -> Iterator[str]:
    for section, changes in CHANGES.items():
        yield f"## {section}\n"
        yield "| what changed | the sheet | named | because |"
        yield "|---|---|---|---|"
        yield from map(_row, changes)
        yield ""


def _row(change: Change) -> str:
    stands = "holds" if change.void is None else "**void**"
    named = ", ".join(f"`{part}`" for part in change.void or ())
    return f"| {change.what} | {stands} | {named} | {change.because} |"


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
