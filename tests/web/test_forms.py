"""From a table to the fields of a form and back: nothing is lost, and names that no form has do nothing."""

import json
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hourmark.exchange import plain_table, table_problems
from hourmark.web.forms import fields_of, table_of
from tests.web.conftest import ROOT

FILES = sorted(path for path in (ROOT / "examples").glob("*.toml") if path.name != "evening.toml")
APART = ("id", "slot", "order", "kit")


def tables(path: Path) -> Iterator[tuple[str, str, dict[str, Any]]]:
    """Every table of a night file that has a form: what it is, where it stands, the table."""
    night = plain_table(tomllib.loads(path.read_text("utf-8")))
    yield "clinic", path.stem, night["clinic"]
    for case in night["cases"]:
        where = f"{path.stem} {case['id']}"
        yield "order", where, case["order"]
        yield "kit", where, case["kit"]
        yield "details", where, {key: value for key, value in case.items() if key not in APART}
    for slot in night.get("slots", []):
        yield "slot", f"{path.stem} {slot['id']}", slot


def without_nothing(table: Any) -> Any:
    """A list of nothing has no field, and neither has a table of nothing."""
    if isinstance(table, dict):
        kept = {key: without_nothing(value) for key, value in table.items()}
        return {key: value for key, value in kept.items() if value not in ([], {})}
    return [without_nothing(one) for one in table] if isinstance(table, list) else table


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
@pytest.mark.parametrize("begins", ["", "details."])
def test_every_table_of_the_examples_comes_back_as_it_was(path: Path, begins: str) -> None:
    count = 0
    for kind, where, table in tables(path):
        fields = fields_of(table, begins)
        assert all(isinstance(value, str) for value in fields.values()), where
        assert all(name.startswith(begins) for name in fields), where
        assert table_of(fields, begins) == without_nothing(table), (kind, where)
        count += 1
    assert count > 2


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_table_that_can_be_read_can_be_read_after_its_form_too(path: Path) -> None:
    for kind, where, table in tables(path):
        before = [(one.code, one.where) for one in table_problems(kind, table)]  # type: ignore[arg-type]
        back = table_of(fields_of(table))
        if kind == "kit":
            back = {"products": [], **back}
        if kind == "order":
            back = {"stop": [], **back}
        assert [(one.code, one.where) for one in table_problems(kind, back)] == before, where  # type: ignore[arg-type]


# Any table

FEWER = settings(max_examples=40)

NAMES = st.from_regex(r"[a-z][a-z0-9_]{0,8}", fullmatch=True).map(lambda name: f"x{name}")
"""Keys of no meaning: those that hold numbers or lists are tried apart."""

WORDS = st.text(min_size=1, max_size=20).filter(
    lambda text: text == text.strip() != "" and text not in ("true", "false")
)
ROWS: st.SearchStrategy[list[Any]] = st.deferred(lambda: st.lists(st.one_of(WORDS, TABLES), min_size=1, max_size=4))
TABLES: st.SearchStrategy[dict[str, Any]] = st.deferred(
    lambda: st.dictionaries(NAMES, st.one_of(WORDS, st.booleans(), ROWS, TABLES), min_size=1, max_size=4)
)


@given(TABLES, st.sampled_from(["", "slot.", "entered."]))
@FEWER
def test_any_table_comes_back_as_it_was(table: dict[str, Any], begins: str) -> None:
    assert table_of(fields_of(table, begins), begins) == table


@given(TABLES)
@FEWER
def test_fields_in_any_order_make_the_same_table(table: dict[str, Any]) -> None:
    fields = fields_of(table)
    assert table_of(dict(reversed(fields.items()))) == table


@given(st.integers(0, 9999), st.sampled_from(["count", "gauge", "follicles", "dissolve_seconds", "keep_years"]))
def test_a_whole_number_comes_back_as_one(number: int, name: str) -> None:
    assert table_of(fields_of({name: number})) == {name: number}


LINE = st.text(min_size=1, max_size=12).filter(
    lambda text: "," not in text and len(text.splitlines()) == 1 and text.strip() == text
)


@given(st.lists(LINE, min_size=1, max_size=5), st.sampled_from(["stop", "allergies", "checkers", "sequence"]))
def test_a_list_of_lines_comes_back_as_it_was(lines: list[str], name: str) -> None:
    assert table_of(fields_of({name: lines})) == {name: lines}


@pytest.mark.parametrize("typed", ["a\nb", "a\r\nb", " a \n\n b \n"])
def test_a_list_is_typed_one_a_line(typed: str) -> None:
    assert table_of({"stop": typed}) == {"stop": ["a", "b"]}


def test_a_comma_is_a_part_of_what_stands_there() -> None:
    assert table_of({"allergies": "latex, also in caps\niodine"}) == {"allergies": ["latex, also in caps", "iodine"]}


@pytest.mark.parametrize("typed", ["two", "2.0", "-1", "1e3", "²", "٢", "12345", "0x2"])
def test_what_is_no_whole_number_is_left_as_it_was_typed(typed: str) -> None:
    assert table_of({"count": typed}) == {"count": typed}


def test_blank_fields_and_rows_of_nothing_are_left_out() -> None:
    typed = {"a": " ", "rows[1].b": "", "rows[2].b": "two", "rows[4].b": " four ", "rows[10].b": "ten"}
    assert table_of(typed) == {"rows": [{"b": "two"}, {"b": "four"}, {"b": "ten"}]}


def test_only_what_begins_so_is_in_the_table() -> None:
    typed = {"slot.id": "s1", "slots.id": "s2", "why": "x", "key": "y", "slot.at": "z"}
    assert table_of(typed, "slot.") == {"id": "s1", "at": "z"}


# Names that no form has

PIECES = st.one_of(
    st.sampled_from(["a", "a[1]", "a[2]", "b", "stop", "count"]),
    st.sampled_from(["a[1][1]", "a[0]", "a[-1]", "a[999]", "a[1", "", "__class__", "A", "é", "a b", "[1]"]),
    st.text(max_size=6),
)
HOSTILE = st.dictionaries(
    st.lists(PIECES, min_size=1, max_size=3).map(".".join),
    st.sampled_from(["x", "1", "true", "a, b", " ", ""]),
    max_size=8,
)


@given(HOSTILE, st.sampled_from(["", "a.", "entered."]))
def test_whatever_names_are_sent_a_plain_table_comes_out(typed: dict[str, str], begins: str) -> None:
    table = table_of(typed, begins)
    assert isinstance(table, dict)
    assert json.loads(json.dumps(table)) == table


@pytest.mark.parametrize(
    "typed",
    [
        {"a": "x", "a.b": "y"},
        {"a.b": "y", "a": "x"},
        {"a": "x", "a[1]": "y"},
        {"a[1]": "y", "a": "x"},
        {"a[1]": "x", "a.b": "y"},
        {"a.b": "y", "a[1]": "x"},
        {"a[1]": "x", "a[1].b": "y"},
        {"a[1].b": "y", "a[1]": "x"},
        {"stop": "x", "stop.b": "y"},
        {"stop[1]": "x", "stop": "y"},
        {"count": "1", "count[1]": "2"},
    ],
    ids=str,
)
def test_two_fields_that_cannot_both_be_true_do_no_harm(typed: dict[str, str]) -> None:
    table = table_of(typed)
    assert json.loads(json.dumps(table)) == table


@pytest.mark.parametrize(
    "name",
    [
        "",
        ".",
        "a.",
        ".a",
        "a..b",
        "A",
        "a-b",
        "a b",
        "a[0]",
        "a[01]",
        "a[100]",
        "a[x]",
        "a[1]b",
        "é",
        "__proto__.x.Y",
        "a\n",
    ],
)
def test_a_name_that_is_none_does_nothing(name: str) -> None:
    assert without_nothing(table_of({name: "x", "b": "y"})) == {"b": "y"}
