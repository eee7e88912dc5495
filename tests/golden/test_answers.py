"""Whole answers against what is kept of them. A wanted change: .venv/bin/python -m tests.golden.renew, and read the difference."""

import difflib
from pathlib import Path

import pytest

from tests.golden.answers import KEPT, everything, kept

ANSWERS = everything()


@pytest.mark.parametrize(("file", "part"), [(file, part) for file, parts in ANSWERS.items() for part in parts])
def test_the_answer_is_the_one_kept(file: str, part: str, tmp_path: Path) -> None:
    now, before = ANSWERS[file][part](tmp_path), kept(file)[part]
    if now != before:
        lines = difflib.unified_diff(
            before.splitlines(), now.splitlines(), f"kept/{file}, {part}", "now", lineterm="", n=2
        )
        shown = [line[:400] for _, line in zip(range(80), lines, strict=False)]
        pytest.fail("\n".join([*shown, "Wanted? .venv/bin/python -m tests.golden.renew"]), pytrace=False)


def test_nothing_is_kept_that_nothing_makes() -> None:
    assert {path.name: set(kept(path.name)) for path in KEPT.iterdir()} == {
        file: set(parts) for file, parts in ANSWERS.items()
    }
