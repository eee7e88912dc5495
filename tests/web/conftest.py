"""A clinic in the middle of its afternoon, its staff, and a clinic beside it that sees nothing of it."""

import shutil
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from django.contrib.auth import get_user_model
from django.db import connections
from django.test import Client, override_settings

from hourmark.case.asked import Asked, Role
from hourmark.case.opening import OpenCase
from hourmark.desk import Desk, Done
from hourmark.desk.evening import play
from hourmark.desk.states import Memo
from hourmark.exchange.evening import Evening, read_evening
from hourmark.store.database import DatabaseStore
from hourmark.store.setup import migrate
from hourmark.web import work
from hourmark.web.models import Member, Person
from hourmark.web.pages import phone_number

ROOT = Path(__file__).resolve().parents[2]
NOW = "2026-11-18T22:25:00Z"
"""16:25 at the clinic: some pages are released, some calls are owed."""

CLINIC, OTHER = "quillmere", "elsewhere"
STAFF = {
    "kowal": ("A. Kowal", "nurse"),
    "ortiz": ("L. Ortiz", "nurse"),
    "devi": ("M. Devi", "pharmacist"),
    "aumont": ("Dr. L. Aumont", "prescriber"),
    "sorel": ("Dr. I. Sorel", "prescriber"),
    "brandt": ("Dr. O. Brandt, medical lead", "lead"),
    "theatre": ("Theatre desk", "theatre"),
}
SECRET_NAME, SECRET_PHONE = "Zinnia Quartermain", "+1 555 0177"
"""Who K-103 is: searched for wherever it must not stand."""


MEMO = Memo()
"""States are kept by the hash of their stream's head: copies of one record share them."""


def hashed_quickly() -> override_settings:
    """Passwords cost nothing here: what is tried out is who comes in, not how long a guess takes."""
    return override_settings(PASSWORD_HASHERS=["django.contrib.auth.hashers.MD5PasswordHasher"])


def salt() -> bytes:
    return b"0123456789abcdef"


@pytest.fixture(scope="session")
def _afternoon(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The file of the whole afternoon, made one time and copied for every test."""
    path = tmp_path_factory.mktemp("afternoon") / "record.sqlite"
    _use(path)
    migrate("default")
    evening = read_evening(ROOT / "examples" / "evening.toml")
    assert isinstance(evening, Evening)
    by_now = replace(evening, acts=tuple(act for act in evening.acts if act.asked.at <= NOW))
    assert all(played.as_written for played in play(Desk(DatabaseStore(CLINIC), salt), by_now))
    asked = Asked("B. Other", Role.NURSE, NOW)
    other = Desk(DatabaseStore(OTHER), salt).perform(OpenCase("X-1", {"zone": "Europe/London"}), asked, "other")
    assert isinstance(other, Done)
    with hashed_quickly():
        _enter_staff()
    Person.objects.create(
        clinic=CLINIC, case="K-103", initials="Z. Q.", name=SECRET_NAME, born="1993-04-02", phones=SECRET_PHONE
    )
    connections["default"].close()
    return path


def _enter_staff() -> None:
    users = get_user_model()
    for username, (name, role) in STAFF.items():
        user = users.objects.create_user(username=username, password="a long enough password")
        Member.objects.create(user=user, clinic=CLINIC, name=name, role=role, manager=username == "brandt")
    stranger = users.objects.create_user(username="stranger", password="a long enough password")
    Member.objects.create(user=stranger, clinic=OTHER, name="B. Other", role="nurse", manager=True)
    users.objects.create_user(username="nobody", password="a long enough password")


@pytest.fixture
def site(_afternoon: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Desk]:
    """The clinic's desk, over a copy of the afternoon, at 16:25."""
    path = Path(shutil.copy(_afternoon, tmp_path / "record.sqlite"))
    _use(path)
    monkeypatch.setattr(work, "instant", lambda: NOW)
    _nothing_known()
    desk = work.desk_of(CLINIC)
    desk._memo = MEMO
    with hashed_quickly(), override_settings(SECOND_FACTOR=False):
        yield desk
    connections["default"].close()
    _nothing_known()


def _nothing_known() -> None:
    """As in a process that has just begun."""
    work._DESKS.clear()
    phone_number._LAST.clear()


@pytest.fixture
def sign_in(site: Desk) -> Callable[[str], Client]:
    """A browser in which somebody has signed in."""

    def signed_in(username: str) -> Client:
        client = Client(SERVER_NAME="localhost")
        client.force_login(get_user_model().objects.get(username=username))
        return client

    return signed_in


@pytest.fixture
def client_of_nobody(site: Desk) -> Client:
    """A browser in which nobody has signed in."""
    return Client(SERVER_NAME="localhost")


def _use(path: Path) -> None:
    connections["default"].close()
    settings: dict[str, Any] = connections["default"].settings_dict
    settings["NAME"] = str(path)
