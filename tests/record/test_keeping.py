"""Backup, restore, verify, upgrade: what was copied is what was there, and nothing is ever written over."""

import hashlib
import json
import shutil
import sqlite3
from pathlib import Path

import pytest
from django.db import connections

from hourmark.ledger import Act, Entry, Fact, Message, Store, append, erase
from hourmark.store.database import DatabaseStore
from hourmark.store.keep import COPY, MANIFEST, Kept, backup, restore, upgrade, verified
from tests.record.databases import Server, opened, sqlite_url

AT = "2026-11-18T21:40:00Z"


def salt() -> bytes:
    return b"0123456789abcdef"


def fill(store: DatabaseStore, acts: int = 12) -> None:
    """Acts on two streams each, one stream erased, a message waiting."""
    with store.writing() as record:
        for number in range(acts):
            facts = tuple(
                Fact(stream, "noted", 1, json.dumps({"n": number}).encode())
                for stream in (f"case/{number % 3}", "day/1")
            )
            append(record, Act(f"act-{number}", b"asked", "A. Kowal", AT, facts), {}, salt)
        erase(record, "case/2", "kept long enough", key="erase", actor="Dr. O. Brandt", at=AT, salt=salt)
        record.queue([Message("call-owed", "K-101", "Sheet 1 is void.")])


def everything(store: Store) -> tuple[list[Entry], list[Message]]:
    return list(store.read_all()), [one.message for one in store.queued()]


@pytest.fixture
def filled(database_store: DatabaseStore) -> DatabaseStore:
    fill(database_store)
    return database_store


def test_a_backup_holds_everything_and_says_so_in_its_manifest(filled: DatabaseStore, tmp_path: Path) -> None:
    kept = backup(filled.alias, tmp_path / "b", AT)
    assert isinstance(kept, Kept)
    manifest = json.loads((tmp_path / "b" / MANIFEST).read_bytes())
    assert manifest["sha256"] == hashlib.sha256((tmp_path / "b" / COPY).read_bytes()).hexdigest()
    assert manifest["heads"][filled.clinic] == {head.stream: [head.seq, head.hash] for head in filled.heads()}
    assert sorted(path.name for path in tmp_path.glob("b/*")) == [MANIFEST, COPY]
    with opened(sqlite_url(Path(shutil.copy(tmp_path / "b" / COPY, tmp_path / "opened.sqlite")))) as alias:
        assert everything(DatabaseStore(filled.clinic, alias)) == everything(filled)


def test_it_comes_back_into_a_new_file(filled: DatabaseStore, tmp_path: Path) -> None:
    assert isinstance(backup(filled.alias, tmp_path / "b", AT), Kept)
    with opened(sqlite_url(tmp_path / "new.sqlite")) as alias:
        assert isinstance(restore(tmp_path / "b", alias), Kept)
        back = DatabaseStore(filled.clinic, alias)
        assert everything(back) == everything(filled)
        assert [one for one in verified(alias, tmp_path / "b") if one.code != "sqlite-old"] == []
        fill_more(back)
        refused = restore(tmp_path / "b", alias)
        assert isinstance(refused, tuple)
        assert [one.code for one in refused] == ["restore-not-empty"]
        assert len(everything(back)[0]) > len(everything(filled)[0])


def fill_more(store: DatabaseStore) -> None:
    with store.writing() as record:
        append(record, Act("more", b"", "A. Kowal", AT, (Fact("case/9", "noted", 1, b"{}"),)), {}, salt)
        record.queue([Message("call-owed", "K-102", "")])


def test_it_comes_back_into_an_empty_postgresql(server: Server, sqlite_file: Path, clinic: str, tmp_path: Path) -> None:
    with opened(sqlite_url(sqlite_file)) as alias:
        fill(DatabaseStore(clinic, alias))
        there = everything(DatabaseStore(clinic, alias))
        assert isinstance(backup(alias, tmp_path / "b", AT), Kept)
    with opened(server.database("restored")) as alias:
        refused = restore(tmp_path / "b", alias)
        assert isinstance(refused, tuple)
        assert refused[0].code == "restore-not-empty"
        connections[alias].cursor().execute("DROP SCHEMA public CASCADE; CREATE SCHEMA public")
        assert isinstance(restore(tmp_path / "b", alias), Kept)
        back = DatabaseStore(clinic, alias)
        assert everything(back) == there
        assert verified(alias, tmp_path / "b") == ()
        fill_more(back)
        assert len(everything(back)[1]) == 2  # numbering goes on after what was brought back


def test_nothing_is_written_over(filled: DatabaseStore, tmp_path: Path) -> None:
    (tmp_path / "b").mkdir()
    refused = backup(filled.alias, tmp_path / "b", AT)
    assert isinstance(refused, tuple)
    assert [one.code for one in refused] == ["backup-there"]
    assert list((tmp_path / "b").iterdir()) == []


@pytest.fixture
def kept(sqlite_file: Path, clinic: str, tmp_path: Path) -> Path:
    """The folder of a good backup."""
    with opened(sqlite_url(sqlite_file)) as alias:
        fill(DatabaseStore(clinic, alias))
        assert isinstance(backup(alias, tmp_path / "b", AT), Kept)
    return tmp_path / "b"


@pytest.mark.parametrize("manifest", [b"", b"{}", b"[]", b'{"made_by": "hourmark 1"}', None])
def test_what_is_no_backup_is_refused(kept: Path, tmp_path: Path, manifest: bytes | None) -> None:
    (kept / MANIFEST).unlink()
    if manifest is not None:
        (kept / MANIFEST).write_bytes(manifest)
    with opened(sqlite_url(tmp_path / "new.sqlite")) as alias:
        refused = restore(kept, alias)
    assert isinstance(refused, tuple)
    assert [one.code for one in refused] == ["backup-unreadable"]


def test_a_changed_copy_is_refused(kept: Path, tmp_path: Path) -> None:
    content = bytearray((kept / COPY).read_bytes())
    content[len(content) // 2] ^= 1
    (kept / COPY).write_bytes(content)
    with opened(sqlite_url(tmp_path / "new.sqlite")) as alias:
        refused = restore(kept, alias)
        assert isinstance(refused, tuple)
        assert [one.code for one in refused] == ["backup-changed"]
        assert connections[alias].introspection.table_names() == []


def test_a_damaged_record_is_not_backed_up_as_if_it_were_whole(sqlite_file: Path, clinic: str, tmp_path: Path) -> None:
    with opened(sqlite_url(sqlite_file)) as alias:
        fill(DatabaseStore(clinic, alias))
    with sqlite3.connect(sqlite_file) as raw:
        raw.execute("DROP TRIGGER record_body_no_update")
        raw.execute("UPDATE record_body SET body = x'7B7D' WHERE stream = 'case/1' AND seq = 2")
    raw.close()
    with opened(sqlite_url(sqlite_file)) as alias:
        refused = backup(alias, tmp_path / "b", AT)
    assert isinstance(refused, tuple)
    assert [(one.code, one.where) for one in refused] == [("record-changed", f"clinic {clinic}, case/1, entry 2")]
    assert list(tmp_path.glob("*b*")) == []


def test_a_damaged_file_is_named(kept: Path, tmp_path: Path) -> None:
    path = tmp_path / "damaged.sqlite"
    content = bytearray((kept / COPY).read_bytes())
    content[4096 : 4096 + 600] = b"\xff" * 600
    path.write_bytes(content)
    with opened(sqlite_url(path)) as alias:
        assert "store-damaged" in [one.code for one in verified(alias)]


def test_a_record_rewritten_from_its_start_is_found_against_a_backup(
    kept: Path, sqlite_file: Path, clinic: str, tmp_path: Path
) -> None:
    """Whoever can drop the triggers can make a whole new chain: only an end of the old one, kept elsewhere, shows it."""
    with opened(sqlite_url(tmp_path / "again.sqlite")) as alias:
        assert upgrade(alias, tmp_path / "backups", AT) is None
        fill(DatabaseStore(clinic, alias), acts=3)
        assert verified(alias) == ()
        found = verified(alias, kept)
    assert found
    assert {one.code for one in found} == {"record-rewritten"}
    assert {one.where.split(", ")[1] for one in found} == {"case/0", "case/1", "case/2", "day/1"}


def test_an_upgrade_backs_up_first_and_puts_the_guards_back(sqlite_file: Path, clinic: str, tmp_path: Path) -> None:
    with opened(sqlite_url(sqlite_file)) as alias:
        store = DatabaseStore(clinic, alias)
        fill(store)
        there = everything(store)
        connections[alias].cursor().execute("DROP TRIGGER record_entry_no_delete")
        made = upgrade(alias, tmp_path / "backups", AT)
        assert isinstance(made, Kept)
        assert made.folder.parent == tmp_path / "backups"
        assert everything(store) == there
        with pytest.raises(Exception, match="never changed"):
            connections[alias].cursor().execute("DELETE FROM record_entry")


def test_a_database_of_others_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "others.sqlite"
    with sqlite3.connect(path) as raw:
        raw.execute("CREATE TABLE theirs (x)")
    raw.close()
    before = path.read_bytes()
    with opened(sqlite_url(path)) as alias:
        refused = upgrade(alias, tmp_path / "backups", AT)
    assert isinstance(refused, tuple)
    assert [one.code for one in refused] == ["store-foreign"]
    with sqlite3.connect(path) as raw:
        assert raw.execute("SELECT name FROM sqlite_master").fetchall() == [("theirs",)]
    raw.close()
    assert before


MIGRATIONS = (
    "CREATE TABLE django_migrations (id integer NOT NULL PRIMARY KEY AUTOINCREMENT, app varchar(255) NOT NULL,"
    " name varchar(255) NOT NULL, applied datetime NOT NULL)"
)
"""What stands in a database whose first set-up was broken off before anything else did."""


def test_a_first_set_up_that_was_broken_off_is_begun_again(tmp_path: Path, clinic: str) -> None:
    path = tmp_path / "begun.sqlite"
    with sqlite3.connect(path) as raw:
        raw.execute(MIGRATIONS)
    raw.close()
    with opened(sqlite_url(path)) as alias:
        assert upgrade(alias, tmp_path / "backups", AT) is None
        assert not (tmp_path / "backups").exists()
        store = DatabaseStore(clinic, alias)
        fill(store)
        assert verified(alias) == ()


def test_the_first_set_up_of_others_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "others.sqlite"
    with sqlite3.connect(path) as raw:
        raw.execute(MIGRATIONS)
        raw.execute("CREATE TABLE theirs (x)")
    raw.close()
    with opened(sqlite_url(path)) as alias:
        refused = upgrade(alias, tmp_path / "backups", AT)
    assert isinstance(refused, tuple)
    assert [one.code for one in refused] == ["store-foreign"]
