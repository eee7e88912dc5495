"""The tour is run: its ten functions do what the page says."""

import re
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[2]


def test_the_tour_is_true(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    blocks = re.findall(r"```python\n(.*?)```", (ROOT / "docs/tour.md").read_text(), flags=re.DOTALL)
    assert len(blocks) == 1 + 10
    names: dict[str, Any] = {}
    for block in blocks:
        exec(block, names)
    functions = re.findall(r"^def (\w+)", "".join(blocks), flags=re.MULTILINE)
    assert len(functions) == 10
    for name in functions:
        names[name]()
