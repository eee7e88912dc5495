"""Settings: each by its name, from the environment or a file; a wrong or unknown one stops the start."""

from pathlib import Path

import pytest

from hourmark.store.settings import KNOWN, Settings, database, read_settings

ROOT = Path(__file__).resolve().parents[2]


def test_nothing_set_is_the_embedded_default() -> None:
    assert read_settings({"PATH": "/bin", "HOME": "/root"}) == Settings("sqlite:hourmark.sqlite", "clinic", "info", 500)


def test_each_can_be_set_and_read_from_a_file(tmp_path: Path) -> None:
    secret = tmp_path / "database"
    secret.write_text("postgresql://nurse:a%20secret@db:5433/record\n", encoding="utf-8")
    read = read_settings(
        {
            "HOURMARK_DATABASE_FILE": str(secret),
            "HOURMARK_CLINIC": "quillmere-2",
            "HOURMARK_LOG_LEVEL": "warning",
            "HOURMARK_DISK_FREE_MB": "50",
            "HOURMARK_TRACEBACK": "1",
        }
    )
    assert read == Settings("postgresql://nurse:a%20secret@db:5433/record", "quillmere-2", "warning", 50)
    described = database(read.database)
    assert described is not None
    wanted = {"NAME": "record", "USER": "nurse", "PASSWORD": "a secret", "HOST": "db", "PORT": "5433"}
    assert {name: described[name] for name in wanted} == wanted


@pytest.mark.parametrize(
    ("name", "value", "says"),
    [
        ("HOURMARK_DATABSE", "sqlite:x", "Did you mean HOURMARK_DATABASE?"),
        ("HOURMARK_WEATHER", "x", "Known:"),
        ("HOURMARK_DATABASE", "mysql://x/y", "postgresql://USER@HOST:PORT/NAME"),
        ("HOURMARK_DATABASE", "sqlite:", "sqlite:PATH"),
        ("HOURMARK_DATABASE", "", "sqlite:PATH"),
        ("HOURMARK_DATABASE", "postgresql://host", "postgresql://USER@HOST:PORT/NAME"),
        ("HOURMARK_DATABASE", "postgresql://host:port/name", "postgresql://USER@HOST:PORT/NAME"),
        ("HOURMARK_CLINIC", "a clinic", "letters, digits and hyphens"),
        ("HOURMARK_CLINIC", "", "letters, digits and hyphens"),
        ("HOURMARK_CLINIC", "x" * 65, "at most 64"),
        ("HOURMARK_LOG_LEVEL", "loud", "debug, info, warning, error"),
        ("HOURMARK_DISK_FREE_MB", "-5", "for example 500"),
        ("HOURMARK_DISK_FREE_MB", "٣", "for example 500"),
        ("HOURMARK_TRACEBACK", "yes", "Write 1"),
        ("HOURMARK_CLINIC_FILE", "/nowhere/at/all", "Check the path"),
        ("HOURMARK_SECOND_FACTOR", "yes", "required or off"),
        ("HOURMARK_MAIL_FROM", "desk@clinic.example", "HOURMARK_MAIL_HOST"),
        ("HOURMARK_MAIL_PASSWORD", "secret", "HOURMARK_MAIL_HOST"),
    ],
)
def test_a_wrong_or_unknown_one_stops_the_start_by_name(name: str, value: str, says: str) -> None:
    read = read_settings({name: value})
    assert isinstance(read, tuple)
    (finding,) = read
    assert (finding.code, finding.where.removesuffix("_FILE")) == ("setting-wrong", name.removesuffix("_FILE"))
    assert says in finding.do


MAIL = {"HOURMARK_MAIL_HOST": "mail.clinic.example", "HOURMARK_MAIL_FROM": "desk@clinic.example"}


# The ports: RFC 6409 section 3.1 (587), RFC 8314 section 3.3 (465), RFC 5321 section 4.5.4.2 (25).
@pytest.mark.parametrize(
    ("more", "port"),
    [
        ({}, 587),
        ({"HOURMARK_MAIL_SECURITY": "tls"}, 465),
        ({"HOURMARK_MAIL_SECURITY": "none", "HOURMARK_MAIL_HOST": "localhost"}, 25),
        ({"HOURMARK_MAIL_PORT": "2525"}, 2525),
    ],
)
def test_a_mail_server_is_read_with_its_usual_port(more: dict[str, str], port: int) -> None:
    read = read_settings(MAIL | more)
    assert isinstance(read, Settings)
    assert read.mail is not None
    assert (read.mail.port, read.mail.sender) == (port, "desk@clinic.example")


@pytest.mark.parametrize(
    ("more", "names"),
    [
        ({"HOURMARK_MAIL_HOST": "a server"}, ["HOURMARK_MAIL_HOST"]),
        ({"HOURMARK_MAIL_FROM": "the desk"}, ["HOURMARK_MAIL_FROM"]),
        ({"HOURMARK_MAIL_FROM": "a@b\nBcc: c@d"}, ["HOURMARK_MAIL_FROM"]),
        ({"HOURMARK_MAIL_SECURITY": "ssl"}, ["HOURMARK_MAIL_SECURITY"]),
        ({"HOURMARK_MAIL_SECURITY": "none"}, ["HOURMARK_MAIL_SECURITY"]),
        ({"HOURMARK_MAIL_PORT": "0"}, ["HOURMARK_MAIL_PORT"]),
        ({"HOURMARK_MAIL_PORT": "65536"}, ["HOURMARK_MAIL_PORT"]),
        ({"HOURMARK_MAIL_USER": "desk"}, ["HOURMARK_MAIL_USER"]),
        ({"HOURMARK_MAIL_FROM": "", "HOURMARK_MAIL_PORT": "x"}, ["HOURMARK_MAIL_FROM", "HOURMARK_MAIL_PORT"]),
    ],
)
def test_a_mail_server_that_cannot_be_used_so_stops_the_start(more: dict[str, str], names: list[str]) -> None:
    read = read_settings(MAIL | more)
    assert isinstance(read, tuple)
    assert [finding.where for finding in read] == names


def test_a_password_of_a_mail_server_is_never_shown() -> None:
    read = read_settings(MAIL | {"HOURMARK_MAIL_USER": "desk", "HOURMARK_MAIL_PASSWORD": "a secret word"})
    assert isinstance(read, Settings)
    assert read.mail is not None
    assert read.mail.password == "a secret word"
    assert "a secret word" not in repr(read)


@pytest.mark.parametrize(
    ("given", "asked"),
    [
        ({}, True),
        ({"HOURMARK_DEMO": "1"}, False),
        ({"HOURMARK_SECOND_FACTOR": "off"}, False),
        ({"HOURMARK_DEMO": "1", "HOURMARK_SECOND_FACTOR": "required"}, True),
    ],
)
def test_a_second_factor_is_asked_for_unless_it_is_the_demo_or_switched_off(given: dict[str, str], asked: bool) -> None:
    read = read_settings(given)
    assert isinstance(read, Settings)
    assert read.second_factor is asked


def test_everything_wrong_is_said_at_one_time(tmp_path: Path) -> None:
    beside = tmp_path / "clinic"
    beside.write_text("one", encoding="utf-8")
    read = read_settings(
        {
            "HOURMARK_CLINIC": "one",
            "HOURMARK_CLINIC_FILE": str(beside),
            "HOURMARK_LOG_LEVEL": "loud",
            "HOURMARK_WHAT": "",
        }
    )
    assert isinstance(read, tuple)
    assert [finding.where for finding in read] == ["HOURMARK_CLINIC_FILE", "HOURMARK_WHAT", "HOURMARK_LOG_LEVEL"]


def test_every_setting_is_explained() -> None:
    page = (ROOT / "docs/record.md").read_text(encoding="utf-8")
    assert all(f"`{name}`" in page for name in KNOWN)
