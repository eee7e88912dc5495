"""Whether the process lives and is ready: said to anybody, with codes and nothing else."""

import json
from typing import Any

import pytest
from django.test import Client

from hourmark.desk import Desk
from hourmark.finding import Finding, Level
from hourmark.store.django_settings import SETTINGS
from hourmark.web.models import WatchBeat
from hourmark.web.pages import health
from tests.web.conftest import CLINIC, NOW, SECRET_NAME


def test_it_lives(client_of_nobody: Client) -> None:
    answer = client_of_nobody.get("/livez")
    assert (answer.status_code, answer.content) == (200, b"alive\n")


def test_it_lives_without_any_database(client_of_nobody: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: Any) -> Any:
        raise AssertionError("asked for a connection")

    monkeypatch.setattr("django.db.backends.base.base.BaseDatabaseWrapper.connect", broken)
    assert client_of_nobody.get("/livez").status_code == 200


def test_it_is_ready_and_says_no_more_than_codes(client_of_nobody: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(health, "start_findings", lambda *_: (found("disk-low", Level.WARN),))
    WatchBeat.objects.create(clinic=SETTINGS.clinic, at=NOW)
    answer = client_of_nobody.get("/readyz")
    said = {"ready": True, "watched": True, "codes": ["disk-low"]}
    assert (answer.status_code, json.loads(answer.content)) == (200, said)


@pytest.mark.parametrize("at", [None, "2026-11-18T22:23:00Z"])
def test_it_is_not_ready_while_nobody_watches(
    client_of_nobody: Client, monkeypatch: pytest.MonkeyPatch, at: str | None
) -> None:
    monkeypatch.setattr(health, "start_findings", lambda *_: ())
    if at is not None:
        WatchBeat.objects.create(clinic=SETTINGS.clinic, at=at)
    answer = client_of_nobody.get("/readyz")
    assert (answer.status_code, json.loads(answer.content)) == (503, {"ready": False, "watched": False, "codes": []})


def test_what_stops_the_start_makes_it_unready(client_of_nobody: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(health, "start_findings", lambda *_: (found("disk-full", Level.STOP),))
    answer = client_of_nobody.get("/readyz")
    assert (answer.status_code, json.loads(answer.content)) == (
        503,
        {"ready": False, "watched": False, "codes": ["disk-full"]},
    )
    assert b"/secret/path" not in answer.content


def test_the_real_checks_are_made(client_of_nobody: Client, site: Desk) -> None:
    answer = client_of_nobody.get("/readyz")
    assert set(json.loads(answer.content)) == {"ready", "watched", "codes"}
    for word in (CLINIC, SECRET_NAME, ".sqlite", "/"):
        assert word.encode() not in answer.content


def found(code: str, level: Level) -> Finding:
    return Finding(code, level, "There is no room under /secret/path.", "Make room.")
