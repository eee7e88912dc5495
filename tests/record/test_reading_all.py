"""Reading a whole record: as it was when it began, a part at a time, whatever else is asked meanwhile."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from django.db import connections

from hourmark.ledger import append, verify
from hourmark.store import database
from hourmark.store.database import DatabaseStore
from hourmark.store.keep import Kept, backup, restore
from tests.record.apart import apart
from tests.record.databases import Server, make_tables, opened, running_server, sqlite_url
from tests.record.facts import AT, act, appended, fact, salts

MB = 1_000


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    with running_server() as one:
        yield one


@pytest.fixture(scope="module")
def postgresql(server: Server) -> str:
    return server.database("record")


@pytest.fixture(params=["sqlite", "postgresql"])
def url(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Each of the databases, with the tables of a record."""
    if request.param == "sqlite":
        make_tables(sqlite_url(tmp_path / "record.sqlite"))
        return sqlite_url(tmp_path / "record.sqlite")
    found: str = request.getfixturevalue("postgresql")
    return found


def filled(store: DatabaseStore, acts: int, facts: int, body: bytes = b"{}") -> None:
    for number in range(acts):
        with store.writing() as record:
            streams = (f"case/K-{(number * facts + place) % 100:03}" for place in range(facts))
            append(record, act(f"k{number}", *(fact(stream, body) for stream in streams)), {}, salts(number * facts))


def at_most(what: str, url: str, clinic: str, folder: str) -> tuple[int, int]:
    """How many kB of memory this process had at most before it read everything, and after."""
    with opened(url) as alias:
        store = DatabaseStore(clinic, alias)
        connections[alias].ensure_connection()
        before = _most()
        match what:
            case "read":
                assert sum(1 for _ in store.read_all()) == ENTRIES
            case "verify":
                assert list(verify(store)) == []
            case "backup":
                assert isinstance(backup(alias, Path(folder) / "b", AT), Kept)
            case "restore":
                assert isinstance(restore(Path(folder) / "b", alias), Kept)
        return before, _most()


def _most() -> int:
    """The most memory in use so far, in kB (proc(5), VmHWM): unlike getrusage(2), without what the process it came from had."""
    lines = Path("/proc/self/status").read_text(encoding="ascii").splitlines()
    return int(next(line for line in lines if line.startswith("VmHWM")).split()[1])


ENTRIES, BODY = 8_000, b"x" * 8_000


@pytest.fixture(scope="module")
def large(server: Server) -> str:
    """A database with one record of 64 MB and more."""
    url = server.database("large")
    with opened(url) as alias:
        filled(DatabaseStore("large", alias), acts=8, facts=ENTRIES // 8, body=BODY)
    return url


@pytest.mark.parametrize("what", ["read", "verify"])
def test_a_whole_record_on_a_server_is_never_in_memory_at_once(large: str, what: str, tmp_path: Path) -> None:
    """At once, its bodies alone would take 64 MB."""
    before, after = apart(at_most, what, large, "large", str(tmp_path))
    assert after - before < 40 * MB


def test_a_backup_is_made_and_comes_back_without_being_in_memory_at_once(large: str, tmp_path: Path) -> None:
    for what, url in (("backup", large), ("restore", sqlite_url(tmp_path / "new.sqlite"))):
        before, after = apart(at_most, what, url, "large", str(tmp_path))
        assert after - before < 40 * MB, what


def test_what_is_recorded_meanwhile_is_not_read(url: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(database, "_ROWS_AT_A_TIME", 2)
    with opened(url) as alias, opened(url) as other:
        store, beside = DatabaseStore("meanwhile", alias), DatabaseStore("meanwhile", other)
        filled(store, acts=1, facts=9)
        reading = iter(store.read_all())
        read = [next(reading)]
        appended(beside, act("later", fact("case/K-000"), fact("case/K-005"), fact("case/K-999")), start=900)
        assert beside.head("case/K-999").seq == 1
        read += reading
        assert [(one.stream, one.seq) for one in read] == [(f"case/K-{place:03}", 1) for place in range(9)]
        assert len(list(store.read_all())) == 12


def test_what_is_recorded_by_whoever_reads_is_stored_also_where_the_reading_is_left(
    postgresql: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(database, "_ROWS_AT_A_TIME", 2)
    with opened(postgresql) as alias, opened(postgresql) as other:
        store = DatabaseStore("left", alias)
        filled(store, acts=1, facts=9)
        reading = iter(store.read_all())
        next(reading)
        appended(store, act("own", fact("case/K-000")), start=900)
        store.scrub()
        reading.close()  # type: ignore[attr-defined]
        assert DatabaseStore("left", other).head("case/K-000").seq == 2
        with connections[alias].cursor() as cursor:
            cursor.execute("SELECT count(*) FROM pg_cursors WHERE name LIKE '_django_curs%'")
            assert cursor.fetchone() == (0,)


def test_inside_an_act_everything_is_read_with_what_the_act_has_written(url: str) -> None:
    with opened(url) as alias:
        store = DatabaseStore("inside", alias)
        filled(store, acts=1, facts=3)
        with store.writing() as record:
            append(record, act("more", fact("case/K-000")), {}, salts(900))
            assert [(one.stream, one.seq) for one in record.read_all()] == [
                ("case/K-000", 1),
                ("case/K-000", 2),
                ("case/K-001", 1),
                ("case/K-002", 1),
            ]
