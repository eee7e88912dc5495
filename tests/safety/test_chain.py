"""The chain from a finding code to the page that explains it and the test that holds it has no missing link."""

import re
from dataclasses import fields, is_dataclass
from pathlib import Path

import pytest

from hourmark.exchange import keys
from hourmark.formulary.audit import every_fact
from scripts.check_docs import codes_in_program

ROOT = Path(__file__).resolve().parents[2]


def test_every_finding_code_is_asserted_by_some_test() -> None:
    tests = "".join(path.read_text() for path in (ROOT / "tests").rglob("test_*.py"))
    assert not sorted(code for code in codes_in_program() if f'"{code}"' not in tests)


def test_every_finding_code_has_one_safety_line() -> None:
    lines = [line for line in (ROOT / "SAFETY.md").read_text().splitlines() if re.match(r"\| S\d\d ", line)]
    assert len(lines) >= 19
    for code in codes_in_program():
        assert sum(f"`{code}`" in line for line in lines) >= 1, code


@pytest.mark.parametrize(
    "table",
    [kind for kind in vars(keys).values() if is_dataclass(kind) and kind.__module__ == keys.__name__],
    ids=lambda kind: str(kind.__name__),
)
def test_every_key_of_a_night_file_is_explained(table: type) -> None:
    page = (ROOT / "docs/night-file.md").read_text()
    for field in fields(table):
        assert re.search(rf"`{field.name}`|\b{field.name}\b", page), field.name


def test_every_figure_says_where_it_comes_from() -> None:
    for fact in every_fact().values():
        assert fact.source or fact.why, fact.key
        assert fact.cite(), fact.key
