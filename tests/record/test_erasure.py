"""Erasure by the clinic's signed rule: the words are gone, and the chain still holds."""

import itertools
from pathlib import Path
from typing import Any

import pytest

from hourmark.case.asked import Asked, Refused, Role
from hourmark.case.opening import CloseCase, OpenCase
from hourmark.case.retention import kept_until
from hourmark.case.rules import SignRules
from hourmark.case.streams import case_stream
from hourmark.desk import Desk, Done
from hourmark.desk.erasing import due, erase_due
from hourmark.ledger import Store, verify
from hourmark.store.database import DatabaseStore
from tests.record.databases import opened, sqlite_url

KEYS = itertools.count()
LEAD, NURSE = "Dr. O. Brandt", "A. Kowal"
CLINIC = {"name": "Quillmere", "zone": "America/Chicago"}
SIGNED = {"signed_by": LEAD, "signed_at": "2020-01-01 09:00"}


@pytest.fixture
def desk(store: Store) -> Desk:
    return Desk(store, lambda: b"0123456789abcdef")


def do(desk: Desk, command: object, by: str, role: Role, at: str) -> None:
    answer = desk.perform(command, Asked(by, role, at), f"key-{next(KEYS)}")  # type: ignore[arg-type]
    assert isinstance(answer, Done), answer


def signed(desk: Desk, years: int | None) -> None:
    rules: dict[str, Any] = {**SIGNED, **({"keep_years": years} if years else {})}
    do(desk, SignRules({**CLINIC, "rules": rules}), LEAD, Role.LEAD, "2020-01-02T09:00:00Z")


def closed(desk: Desk, case: str, at: str) -> None:
    do(desk, OpenCase(case, {"zone": "America/Chicago"}), NURSE, Role.NURSE, "2020-02-01T09:00:00Z")
    do(desk, CloseCase(case, "the cycle is over"), NURSE, Role.NURSE, at)


def test_without_a_signed_rule_nothing_is_erased(desk: Desk) -> None:
    signed(desk, None)
    closed(desk, "K-1", "2020-03-01T09:00:00Z")
    refused = due(desk, "2099-01-01T00:00:00Z")
    assert isinstance(refused, Refused)
    assert [one.code for one in refused.findings] == ["retention-unsigned"]


def test_only_closed_cases_that_were_kept_long_enough(desk: Desk) -> None:
    signed(desk, 5)
    closed(desk, "K-1", "2020-03-01T09:00:00Z")
    closed(desk, "K-2", "2021-03-01T09:00:00Z")
    do(desk, OpenCase("K-3", {"zone": "America/Chicago"}), NURSE, Role.NURSE, "2020-02-01T09:00:00Z")
    assert due(desk, "2025-03-01T08:59:59Z") == []
    assert due(desk, "2025-03-01T09:00:00Z") == ["K-1"]
    before = {head.stream: head for head in desk.store.heads()}
    assert erase_due(desk, Asked(LEAD, Role.LEAD, "2025-03-01T09:00:00Z")) == ["K-1"]
    entries = desk.store.read(case_stream("K-1"))
    assert [entry.body is None for entry in entries] == [True, True, False]
    assert list(verify(desk.store)) == []
    assert desk.store.read(case_stream("K-2"))[0].body is not None
    assert before[case_stream("K-1")].hash == entries[1].hash
    assert due(desk, "2025-03-02T09:00:00Z") == []


def test_only_the_lead_erases(desk: Desk) -> None:
    signed(desk, 1)
    closed(desk, "K-1", "2020-03-01T09:00:00Z")
    refused = erase_due(desk, Asked(NURSE, Role.NURSE, "2025-03-01T09:00:00Z"))
    assert isinstance(refused, Refused)
    assert [one.code for one in refused.findings] == ["erasure-role"]
    assert desk.store.read(case_stream("K-1"))[0].body is not None


@pytest.mark.parametrize(
    ("last", "years", "until"),
    [
        ("2024-02-29T10:00:00Z", 1, "2025-03-01T10:00:00Z"),
        ("2024-02-29T10:00:00Z", 4, "2028-02-29T10:00:00Z"),
        ("2026-11-18T21:40:00Z", 25, "2051-11-18T21:40:00Z"),
    ],
)
def test_years_are_of_the_calendar(last: str, years: int, until: str) -> None:
    assert kept_until(last, years) == until


def test_nothing_of_an_erased_body_is_left_in_the_file(sqlite_file: Path, clinic: str) -> None:
    with opened(sqlite_url(sqlite_file)) as alias:
        desk = Desk(DatabaseStore(clinic, alias), lambda: b"0123456789abcdef")
        erase_and_look(desk, sqlite_file)


def erase_and_look(desk: Desk, sqlite_file: Path) -> None:
    signed(desk, 1)
    do(
        desk,
        OpenCase("K-1", {"zone": "America/Chicago", "helper": "Zinnia Marrow"}),
        NURSE,
        Role.NURSE,
        "2020-02-01T09:00:00Z",
    )
    do(desk, CloseCase("K-1", "over"), NURSE, Role.NURSE, "2020-03-01T09:00:00Z")
    assert b"Zinnia Marrow" in everything_in(sqlite_file)
    assert erase_due(desk, Asked(LEAD, Role.LEAD, "2025-03-01T09:00:00Z")) == ["K-1"]
    assert b"Zinnia Marrow" not in everything_in(sqlite_file)


def everything_in(path: Path) -> bytes:
    return b"".join(one.read_bytes() for one in sorted(path.parent.glob(f"{path.name}*")))
