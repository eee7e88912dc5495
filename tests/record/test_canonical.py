"""The bytes that are hashed: the same for everybody who writes the same thing, today and in twenty years."""

import hashlib
import json
from decimal import Decimal
from enum import IntEnum, StrEnum
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hourmark.ledger import START, Act, Entry, Fact, Head, canonical, digest, sealed
from tests.laws.strategies import law
from tests.record.facts import salts

# RFC 8785 (JSON Canonicalization Scheme), all of it from memory: members in the order of their names' UTF-16 code units (3.2.3);
# no white space (3.2.1); quotation mark and backslash escaped by a backslash, the controls that have a short form by that, the other
# controls below U+0020 as \u00 and two lower-case digits, and nothing else escaped (3.2.2.2); numbers as ECMAScript writes them
# (3.2.2.3), which for whole ones up to 2**53 - 1 is plain digits.
_SHORT = {"\b": r"\b", "\t": r"\t", "\n": r"\n", "\f": r"\f", "\r": r"\r", '"': r"\"", "\\": r"\\"}
_MOST = 2**53 - 1


def by_the_rfc(value: Any) -> str:
    match value:
        case None:
            return "null"
        case bool():
            return "true" if value else "false"
        case int():
            return f"{value:d}"
        case str():
            written = (_SHORT.get(one, one if one >= " " else f"\\u{ord(one):04x}") for one in value)
            return f'"{"".join(written)}"'
        case list():
            return f"[{','.join(map(by_the_rfc, value))}]"
        case dict():
            names = sorted(value, key=lambda name: name.encode("utf-16-be"))
            return f"{{{','.join(f'{by_the_rfc(name)}:{by_the_rfc(value[name])}' for name in names)}}}"
        case _:
            raise AssertionError(value)


TEXTS = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
NAMES = st.text(st.characters(max_codepoint=0x7F), max_size=6)
VALUES: st.SearchStrategy[Any] = st.recursive(
    st.none() | st.booleans() | st.integers(-_MOST, _MOST) | TEXTS,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(NAMES, inner, max_size=4),
    max_leaves=12,
)


@law(400)
@given(VALUES)
def test_every_value_is_written_as_the_rfc_has_it(value: Any) -> None:
    assert canonical(value) == by_the_rfc(value).encode()


@law(200)
@given(VALUES)
def test_every_value_reads_back(value: Any) -> None:
    assert json.loads(canonical(value)) == value


@law(200)
@given(st.dictionaries(NAMES, VALUES, max_size=6), st.randoms(use_true_random=False))
def test_the_order_in_which_a_table_was_made_leaves_no_trace(table: dict[str, Any], chance: Any) -> None:
    items = list(table.items())
    chance.shuffle(items)
    assert canonical(dict(items)) == canonical(table)


@law(200)
@given(VALUES, VALUES)
def test_two_values_have_the_same_bytes_only_where_they_are_the_same(one: Any, other: Any) -> None:
    """True and 1 are equal to Python, and not the same."""
    assert (canonical(one) == canonical(other)) == (by_the_rfc(one) == by_the_rfc(other))


@pytest.mark.parametrize(
    ("value", "written"),
    [
        ({"b": 1, "a": [True, None, "x"], "B": {}}, '{"B":{},"a":[true,null,"x"],"b":1}'),
        ({"a10": 1, "a2": 2, "a": 3, "": 4, "_": 5, "A": 6}, '{"":4,"A":6,"_":5,"a":3,"a10":1,"a2":2}'),
        ("21:00 – ñ 😀 µ", '"21:00 – ñ 😀 µ"'),
        ('a "b" \\ / \x7f \u2028', '"a \\"b\\" \\\\ / \x7f \u2028"'),
        ("\x00\x01\b\t\n\x0b\f\r\x1f", '"\\u0000\\u0001\\b\\t\\n\\u000b\\f\\r\\u001f"'),
        ("e\u0301", '"e\u0301"'),
        ([0, -1, 10_000, _MOST, -_MOST], "[0,-1,10000,9007199254740991,-9007199254740991]"),
        ([], "[]"),
        (False, "false"),
        # The examples of RFC 8785 3.2.2 and 3.2.3, as far as they are of this subset; from memory.
        (
            {"string": "\u20ac$\u000f\u000aA'\u0042\u0022\u005c\\\"/", "literals": [None, True, False]},
            '{"literals":[null,true,false],"string":"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}',
        ),
        ({"1": "One", "\r": "Carriage Return"}, '{"\\r":"Carriage Return","1":"One"}'),
    ],
)
def test_a_value_has_these_very_bytes(value: Any, written: str) -> None:
    assert canonical(value) == written.encode()
    assert by_the_rfc(value) == written


class Word(StrEnum):
    NURSE = "nurse"


class Number(IntEnum):
    ONE = 1


class Table(dict[str, int]):
    pass


@pytest.mark.parametrize(
    "value",
    [
        1.0,
        0.1,
        float("nan"),
        float("inf"),
        Decimal("0.1"),
        (1, 2),
        {1, 2},
        b"bytes",
        {"\xe9": 1},
        {1: "x"},
        {None: 1},
        {True: 1},
        {b"a": 1},
        Word.NURSE,
        Number.ONE,
        Table(a=1),
        {Word.NURSE: 1},
        range(2),
    ],
    ids=repr,
)
@pytest.mark.parametrize(
    "placed",
    [lambda value: value, lambda value: [1, value], lambda value: {"a": {"b": [value]}}],
    ids=["alone", "in a list", "deep"],
)
def test_what_has_no_one_way_to_be_written_is_refused(value: Any, placed: Any) -> None:
    with pytest.raises(TypeError):
        canonical(placed(value))


@pytest.mark.parametrize("value", ["\ud800", ["a\udfffb"], {"a": "\udc80"}, {"a": ["\ude00\ud83d"]}])
def test_half_a_character_is_refused(value: Any) -> None:
    with pytest.raises(UnicodeEncodeError):
        canonical(value)


@pytest.mark.parametrize("number", [2**53, -(2**53), 2**53 + 1, 10**21])
def test_a_number_that_others_would_write_otherwise_is_refused(number: int) -> None:
    """RFC 8785 knows doubles only (from memory: 3.2.2.3, after RFC 7493 2.2): 2**53 + 1 is not one, and 10**21 is written 1e+21."""
    with pytest.raises(TypeError):
        canonical([number])


def test_the_digest_is_that_of_the_standard() -> None:
    # FIPS 180-4, the example of one block: from memory.
    assert digest(b"", b"abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert digest(b"a", b"bc") == digest(b"", b"abc")


def golden() -> tuple[Act, dict[str, Head]]:
    facts = (
        Fact("day/2026-11-20", "slot-assigned", 1, b'{"case":"K-103","slot":"s3"}'),
        Fact("case/K-103", "slot-given", 2, '{"why":"ñ – list"}'.encode()),
        Fact("day/2026-11-20", "slot-assigned", 1, b'{"case":null,"slot":"s2"}'),
    )
    heads = {"day/2026-11-20": Head("day/2026-11-20", 7, "5" * 64), "case/K-103": Head("case/K-103")}
    return Act("k-7", b'["GiveSlot",{}]', "N. Ferro", "2026-11-19T03:00:00Z", facts), heads


# Kept as they were first written. They may never change: to a record of the day before, every entry would be damaged.
HEADERS = [
    b'{"act":"k-7","actor":"N. Ferro",'
    b'"at":"2026-11-19T03:00:00Z","body":"3e6a72ae119e43af19af7ea69ed980beef12659a31eb3bf4e2f47bed3767a6ea",'
    b'"clinic":"quillmere",'
    b'"kind":"slot-assigned","part":1,"parts":3,'
    b'"prev":"5555555555555555555555555555555555555555555555555555555555555555",'
    b'"request":"1c568833ebefbbba9ea69858539e846902c14b38363a846a48708323f0e04418",'
    b'"seq":8,"shape":1,"stream":"day/2026-11-20"}',
    b'{"act":"k-7","actor":"N. Ferro",'
    b'"at":"2026-11-19T03:00:00Z","body":"accc45b445a2146d3f86f0cf297cf6fefd1355808ab9922aac2b644e471dfde6",'
    b'"clinic":"quillmere",'
    b'"kind":"slot-given","part":2,"parts":3,'
    b'"prev":"0000000000000000000000000000000000000000000000000000000000000000",'
    b'"request":"4f69a895165f5be4c0b3df66b6fedba57f810dcb01996fa5414a4a9c9467dbd5",'
    b'"seq":1,"shape":2,"stream":"case/K-103"}',
    b'{"act":"k-7","actor":"N. Ferro",'
    b'"at":"2026-11-19T03:00:00Z","body":"02eac97332af29f4fcd84b8633b5a6510ea86f9f0db9a634431264180b41b6fd",'
    b'"clinic":"quillmere",'
    b'"kind":"slot-assigned","part":3,"parts":3,'
    b'"prev":"bfcecc355342d579081e375b304535298f4fbe0ed543967c14d2e85e334b87ec",'
    b'"request":"439da2343005d92309616ce373a8c8c8870fb2b8381979fabb2782f7df533e97",'
    b'"seq":9,"shape":1,"stream":"day/2026-11-20"}',
]
HASHES = [
    "bfcecc355342d579081e375b304535298f4fbe0ed543967c14d2e85e334b87ec",
    "5b9b66fcb6751e3b4a9b74ee67f3038b109667f4a97a0182ff66a0f02c094825",
    "68ab3a3805a3bdfd8aebe61206fbc31d88358e327aeb582e2efb2c2c4fe77473",
]


def test_an_act_has_these_very_headers_and_hashes() -> None:
    one, heads = golden()
    entries = sealed("quillmere", one, heads, salts())
    assert [entry.header for entry in entries] == HEADERS
    assert [entry.hash for entry in entries] == HASHES
    assert [(entry.stream, entry.seq) for entry in entries] == [
        ("day/2026-11-20", 8),
        ("case/K-103", 1),
        ("day/2026-11-20", 9),
    ]


def test_the_hashes_follow_from_the_headers_and_bind_each_entry_to_the_one_before() -> None:
    """Worked out once more from the headers' own words, so that the kept bytes are known to be right and not only to be the same."""
    one, _ = golden()
    headers = [json.loads(header) for header in HEADERS]
    assert [hashlib.sha256(header).hexdigest() for header in HEADERS] == HASHES
    assert [header["prev"] for header in headers] == ["5" * 64, START, HASHES[0]]
    salt = salts()
    for header, written in zip(headers, one.facts, strict=True):
        grain = salt()
        assert header["body"] == hashlib.sha256(grain + written.body).hexdigest()
        assert header["request"] == hashlib.sha256(grain + one.request).hexdigest()


def test_every_entry_gets_a_salt_of_its_own() -> None:
    """Two answers "yes" of one act would else have the same digest, and one could be read off the other."""
    one, heads = golden()
    given = iter([b"a" * 16, b"b" * 16, b"c" * 16])
    entries = sealed("quillmere", one, heads, lambda: next(given))
    assert [entry.salt for entry in entries] == [b"a" * 16, b"b" * 16, b"c" * 16]
    assert len({entry.read_header().request for entry in entries}) == 3


@pytest.mark.parametrize(
    "header", [b"", b"{", b"[]", b"{}", b"null", b'{"act":"k1"}', HEADERS[0][:-1] + b',"more":1}', b"\xff", b'"text"']
)
def test_bytes_that_are_no_header_are_refused(header: bytes) -> None:
    with pytest.raises(ValueError, match=r"not a header|Expecting|can't decode"):
        Entry("case/K-103", 1, header, START, None, None).read_header()
