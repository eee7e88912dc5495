"""The tour is run: its ten functions do what the page says."""

import json
import re
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from hourmark import clock, dose, exchange, finding, formulary, plan, quantity, recheck
from hourmark.exchange.checked import facts_of
from hourmark.exchange.draft import draft_text

ROOT = Path(__file__).resolve().parents[2]


def rooms() -> dict[str, Any]:
    """What a reader of the tour has at hand: the public names of every room."""
    names: dict[str, Any] = {
        "json": json,
        "Fraction": Fraction,
        "Path": Path,
        "facts_of": facts_of,
        "draft_text": draft_text,
    }
    for room in (clock, dose, exchange, formulary, plan, quantity, recheck):
        names |= {name: getattr(room, name) for name in room.__all__}
    return names | {"worst_first": finding.worst_first}


def test_the_tour_is_true(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    blocks = re.findall(r"```python\n(.*?)```", (ROOT / "docs/tour.md").read_text(), flags=re.DOTALL)
    assert len(blocks) == 10
    names = rooms()
    for block in blocks:
        exec(block, names)
    for name in re.findall(r"^def (\w+)", "".join(blocks), flags=re.MULTILINE):
        names[name]()
