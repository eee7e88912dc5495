"""Every kind of store, empty."""

import itertools
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from hourmark.ledger import MemoryStore, Store
from hourmark.store.database import DatabaseStore
from tests.record.databases import Server, make_tables, opened, running_server, sqlite_url

_CLINICS = itertools.count(1)


@pytest.fixture(scope="session")
def server() -> Iterator[Server]:
    """One PostgreSQL server for as long as the tests run."""
    with running_server() as server:
        yield server


@pytest.fixture(scope="session")
def postgresql(server: Server) -> str:
    """The URL of one database for all tests: what is recorded there cannot be deleted, so each test has a clinic of its own."""
    return server.database("record")


@pytest.fixture(scope="session")
def _empty_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("empty") / "record.sqlite"
    make_tables(sqlite_url(path))
    return path


@pytest.fixture
def sqlite_file(_empty_file: Path, tmp_path: Path) -> Path:
    """A fresh SQLite file with the tables of a record."""
    return Path(shutil.copy(_empty_file, tmp_path / "record.sqlite"))


@pytest.fixture
def clinic() -> str:
    """A clinic that no other test has."""
    return f"clinic-{next(_CLINICS)}"


@pytest.fixture(params=["sqlite", "postgresql"])
def url(request: pytest.FixtureRequest) -> str:
    """Each of the databases, with the tables of a record."""
    return _url(request, request.param)


@pytest.fixture
def database_store(url: str, clinic: str) -> Iterator[DatabaseStore]:
    """An empty store in each of the databases."""
    with opened(url) as alias:
        yield DatabaseStore(clinic, alias)


@pytest.fixture
def beside(url: str, clinic: str) -> Iterator[DatabaseStore]:
    """The same record as `database_store`, as somebody else sees it."""
    with opened(url) as alias:
        yield DatabaseStore(clinic, alias)


@pytest.fixture(params=["memory", "sqlite", "postgresql"])
def store(request: pytest.FixtureRequest, clinic: str) -> Iterator[Store]:
    """An empty store of each kind."""
    if request.param == "memory":
        yield MemoryStore(clinic)
    else:
        with opened(_url(request, request.param)) as alias:
            yield DatabaseStore(clinic, alias)


def _url(request: pytest.FixtureRequest, kind: str) -> str:
    """Only the database that is asked for is made: a server takes a second."""
    if kind == "sqlite":
        return sqlite_url(request.getfixturevalue("sqlite_file"))
    url: str = request.getfixturevalue("postgresql")
    return url
