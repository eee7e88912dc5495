"""Logs: one JSON line an entry, in UTC, with nothing in it that tells of a person."""

import datetime as dt
import json
import logging

import pytest

from hourmark.case.asked import Asked, Role
from hourmark.case.opening import CloseCase, OpenCase
from hourmark.desk import Desk
from hourmark.ledger import MemoryStore
from hourmark.store.logs import JsonLines, log_to_standard_error


@pytest.fixture(autouse=True)
def _handlers_as_before() -> object:
    root = logging.getLogger()
    before, level = list(root.handlers), root.level
    yield
    root.handlers[:] = before
    root.setLevel(level)


def test_an_act_is_logged_without_a_name_a_case_or_a_word_of_it(capsys: pytest.CaptureFixture[str]) -> None:
    log_to_standard_error("info")
    desk = Desk(MemoryStore("clinic"), lambda: b"0" * 16)
    asked = Asked("Zinnia Marrow", Role.NURSE, "2026-11-18T21:40:00Z")
    for key in ("one", "one", "two"):
        desk.perform(OpenCase("K-101", {"zone": "America/Chicago", "helper": "Her sister Ottilie"}), asked, key)
    desk.perform(CloseCase("K-999", "because of Ottilie"), asked, "three")
    lines = [json.loads(line) for line in capsys.readouterr().err.splitlines()]
    assert [(line["act"], line["outcome"]) for line in lines] == [
        ("OpenCase", "done"),
        ("OpenCase", "again"),
        ("OpenCase", "refused"),
        ("CloseCase", "refused"),
    ]
    assert lines[3]["codes"] == ["case-unknown"]
    for line in lines:
        at = dt.datetime.fromisoformat(line["at"])
        assert at.utcoffset() == dt.timedelta(0)
        assert line["level"] == "info"
        assert not any(word in json.dumps(line) for word in ("Zinnia", "Ottilie", "K-101", "K-999", "sister"))


def test_a_fault_is_logged_by_its_kind_and_not_by_its_words(capsys: pytest.CaptureFixture[str]) -> None:
    log_to_standard_error("warning")
    log = logging.getLogger("hourmark.test")
    log.info("not heard")
    try:
        raise ValueError("case K-101 of Zinnia Marrow")
    except ValueError:
        log.exception("an act failed", extra={"act": "Release", "patient": "Zinnia Marrow"})
    (line,) = [json.loads(text) for text in capsys.readouterr().err.splitlines()]
    assert (line["fault"], line["act"], line["said"]) == ("ValueError", "Release", "an act failed")
    assert "Zinnia" not in json.dumps(line)


def test_what_libraries_log_is_kept_without_what_they_fill_in() -> None:
    record = logging.LogRecord("django.db", logging.WARNING, "", 0, "slow: %s", ("SELECT 'Zinnia'",), None)
    assert "Zinnia" not in JsonLines().format(record)
