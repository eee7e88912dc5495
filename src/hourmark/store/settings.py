"""Settings from the environment. One that is wrong or unknown stops the start, by name."""

import difflib
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import unquote, urlsplit

from hourmark.finding import Finding, Level

DOCUMENT = "docs/record.md"
_PREFIX, _FROM_FILE = "HOURMARK_", "_FILE"
_SHORTEST_SECRET = 50
_HOST = re.compile(r"[a-z0-9]([a-z0-9.-]*[a-z0-9])?")
_LEVELS = ("debug", "info", "warning", "error")
_ADDRESS = re.compile(r"[A-Za-z0-9._+-]+@[A-Za-z0-9]([A-Za-z0-9.-]*[A-Za-z0-9])?")
_HERE = ("localhost", "127.0.0.1", "::1")
DRILL_CLINIC = "drill"
"""The clinic's name in the record of every drill, and of nothing else: by it each row tells what it belongs to."""

_SECURE = {"starttls": 587, "tls": 465, "none": 25}
"""How mail is kept secret on its way, and the usual port of each (RFC 6409, RFC 8314, RFC 5321)."""


@dataclass(frozen=True, slots=True)
class Mail:
    """The clinic's mail server: where it is, how to sign in, from whom mail comes, and how it is kept secret on its way."""

    host: str
    sender: str
    port: int
    security: str = "starttls"
    user: str = ""
    password: str = field(default="", repr=False)


@dataclass(frozen=True, slots=True)
class Settings:
    """What an installation may set. `clinic` names the clinic within the database; `disk_free_mb` is the least space to start with.

    `hosts` are the names under which the pages are reached; `demo` opens the doors of an invented clinic, on this machine alone; `drill` is
    the folder of a drill, of which the pages then are, on this machine alone as well. Without
    `mail` nothing goes by mail; `second_factor` asks everybody for a passkey or a one-time code beside the password; `backups` is the folder in which
    each backup has a folder of its own.
    """

    database: str = "sqlite:hourmark.sqlite"
    clinic: str = "clinic"
    log_level: str = "info"
    disk_free_mb: int = 500
    secret_key: str = ""
    hosts: tuple[str, ...] = ("localhost",)
    demo: bool = False
    drill: str = ""
    mail: Mail | None = None
    second_factor: bool = True
    backups: str = ""


KNOWN = {
    "HOURMARK_DATABASE": "where the record is: sqlite:PATH or postgresql://USER@HOST:PORT/NAME",
    "HOURMARK_CLINIC": "the clinic's name within the database: letters, digits and hyphens",
    "HOURMARK_LOG_LEVEL": "how much is logged: debug, info, warning or error",
    "HOURMARK_DISK_FREE_MB": "the least free space to start with, in MB",
    "HOURMARK_SECRET_KEY": "a random text of at least 50 characters that signs sessions; keep it secret",
    "HOURMARK_HOSTS": "the names under which the pages are reached, with commas between them",
    "HOURMARK_DEMO": "1 opens an invented clinic with sign-ins that everybody knows, on this machine alone",
    "HOURMARK_DRILL": "the folder of a drill, on this machine alone; hourmark serve --drill sets it",
    "HOURMARK_SECOND_FACTOR": "required, which it is outside demo and drill, or off",
    "HOURMARK_MAIL_HOST": "the clinic's mail server; without it nothing goes by mail",
    "HOURMARK_MAIL_PORT": "its port: 587 with starttls, 465 with tls, 25 without either, unless set",
    "HOURMARK_MAIL_SECURITY": "starttls, tls, or none, which is for a server on this machine alone",
    "HOURMARK_MAIL_FROM": "the address that mail comes from",
    "HOURMARK_MAIL_USER": "the name to sign in with, where the server asks for one",
    "HOURMARK_MAIL_PASSWORD": "its password; keep it secret",
    "HOURMARK_BACKUPS": "the folder in which each backup has a folder of its own; how old the newest is stands on the figures' page",
    "HOURMARK_TRACEBACK": "1 shows where a fault of the program lies",
}
"""Every setting that there is. Each can also be named with _FILE at its end, and is then read from that file."""


def read_settings(environment: Mapping[str, str]) -> Settings | tuple[Finding, ...]:
    """The settings in an environment, or everything that is wrong with them."""
    problems: list[Finding] = []
    given: dict[str, str] = {}
    for name, value in sorted(environment.items()):
        plain = name.removesuffix(_FROM_FILE)
        if not name.startswith(_PREFIX):
            continue
        if plain not in KNOWN:
            near = difflib.get_close_matches(name, KNOWN, n=1, cutoff=0.8)
            problems.append(
                _wrong(name, "is not a setting.", f"Did you mean {near[0]}?" if near else f"Known: {', '.join(KNOWN)}.")
            )
        elif plain in given:
            problems.append(_wrong(name, f"and {plain} are both set.", "Leave one of them out."))
        elif name != plain:
            try:
                given[plain] = Path(value).read_text(encoding="utf-8").strip()
            except (OSError, ValueError):
                problems.append(
                    _wrong(name, "names a file that cannot be read.", "Check the path and who may read it.")
                )
        else:
            given[plain] = value
    problems += _values(given)
    if problems:
        return tuple(problems)
    default = Settings()
    return Settings(
        database=given.get("HOURMARK_DATABASE", default.database),
        clinic=given.get("HOURMARK_CLINIC", default.clinic),
        log_level=given.get("HOURMARK_LOG_LEVEL", default.log_level),
        disk_free_mb=int(given.get("HOURMARK_DISK_FREE_MB", default.disk_free_mb)),
        secret_key=given.get("HOURMARK_SECRET_KEY", default.secret_key),
        hosts=tuple(name.strip() for name in given["HOURMARK_HOSTS"].split(","))
        if "HOURMARK_HOSTS" in given
        else default.hosts,
        demo=given.get("HOURMARK_DEMO") == "1",
        drill=given.get("HOURMARK_DRILL", default.drill),
        mail=_mail(given),
        second_factor=_second_factor(given),
        backups=given.get("HOURMARK_BACKUPS", default.backups),
    )


def _second_factor(given: Mapping[str, str]) -> bool:
    """Asked for unless it is switched off, and in demo and drill only where it is switched on."""
    invented = given.get("HOURMARK_DEMO") == "1" or given.get("HOURMARK_DRILL")
    return given.get("HOURMARK_SECOND_FACTOR", "off" if invented else "required") == "required"


def _mail(given: Mapping[str, str]) -> Mail | None:
    if "HOURMARK_MAIL_HOST" not in given:
        return None
    security = given.get("HOURMARK_MAIL_SECURITY", "starttls")
    return Mail(
        host=given["HOURMARK_MAIL_HOST"],
        sender=given["HOURMARK_MAIL_FROM"],
        port=int(given.get("HOURMARK_MAIL_PORT", _SECURE[security])),
        security=security,
        user=given.get("HOURMARK_MAIL_USER", ""),
        password=given.get("HOURMARK_MAIL_PASSWORD", ""),
    )


def _values(given: Mapping[str, str]) -> list[Finding]:
    problems = []
    if (url := given.get("HOURMARK_DATABASE")) is not None and database(url) is None:
        problems.append(_wrong("HOURMARK_DATABASE", "is no database.", f"Write {KNOWN['HOURMARK_DATABASE']}."))
    clinic = given.get("HOURMARK_CLINIC", "clinic")
    if not (clinic.isascii() and clinic.replace("-", "").isalnum() and len(clinic) <= 64):
        problems.append(_wrong("HOURMARK_CLINIC", "is no name.", "Write letters, digits and hyphens, at most 64."))
    if given.get("HOURMARK_LOG_LEVEL", "info") not in _LEVELS:
        problems.append(_wrong("HOURMARK_LOG_LEVEL", "is no level.", f"Write one of: {', '.join(_LEVELS)}."))
    free = given.get("HOURMARK_DISK_FREE_MB", "0")
    if not (free.isascii() and free.isdecimal() and len(free) <= 9):
        problems.append(_wrong("HOURMARK_DISK_FREE_MB", "is no whole number.", "Write the MB, for example 500."))
    switches = ("HOURMARK_TRACEBACK", "HOURMARK_DEMO")
    problems += [
        _wrong(name, "is not 1.", "Write 1, or leave it out.")
        for name in switches
        if given.get(name, "1") not in ("", "1")
    ]
    if 0 < len(given.get("HOURMARK_SECRET_KEY", "")) < _SHORTEST_SECRET:
        problems.append(
            _wrong("HOURMARK_SECRET_KEY", "is short.", f"Write at least {_SHORTEST_SECRET} random characters.")
        )
    hosts = given.get("HOURMARK_HOSTS", "localhost").split(",")
    if not all(_HOST.fullmatch(host.strip()) for host in hosts):
        problems.append(_wrong("HOURMARK_HOSTS", "is no list of names.", "Write host names with commas between them."))
    if given.get("HOURMARK_SECOND_FACTOR", "off") not in ("required", "off"):
        problems.append(_wrong("HOURMARK_SECOND_FACTOR", "is neither.", "Write required or off."))
    return [*problems, *_drill_values(given), *_mail_values(given)]


def _drill_values(given: Mapping[str, str]) -> Iterator[Finding]:
    """A drill is served on this machine alone, from a file of its own, under a clinic's name that no clinic has."""
    named = given.get("HOURMARK_CLINIC", "clinic") == DRILL_CLINIC
    if not given.get("HOURMARK_DRILL"):
        if named:
            yield _wrong("HOURMARK_CLINIC", f"is {DRILL_CLINIC}, which is a drill's.", "Choose another name.")
        return
    own = {
        "HOURMARK_CLINIC": named,
        "HOURMARK_DATABASE": given.get("HOURMARK_DATABASE", "").startswith("sqlite:"),
        "HOURMARK_HOSTS": given.get("HOURMARK_HOSTS", "localhost") == "localhost",
        "HOURMARK_DEMO": given.get("HOURMARK_DEMO") != "1",
        "HOURMARK_MAIL_HOST": "HOURMARK_MAIL_HOST" not in given,
    }
    for name, right in own.items():
        if not right:
            yield _wrong(name, "does not belong to a drill.", "Start it with hourmark serve --drill FOLDER.")


def _mail_values(given: Mapping[str, str]) -> Iterator[Finding]:
    host, security = given.get("HOURMARK_MAIL_HOST"), given.get("HOURMARK_MAIL_SECURITY", "starttls")
    if host is None:
        for name in (name for name in given if name.startswith("HOURMARK_MAIL_")):
            yield _wrong(name, "is set without a server.", "Set HOURMARK_MAIL_HOST as well, or leave it out.")
        return
    if host not in _HERE and not _HOST.fullmatch(host):
        yield _wrong("HOURMARK_MAIL_HOST", "is no name of a server.", "Write its host name.")
    if not _ADDRESS.fullmatch(given.get("HOURMARK_MAIL_FROM", "")):
        yield _wrong("HOURMARK_MAIL_FROM", "is no address.", "Write the address that mail comes from.")
    if security not in _SECURE:
        yield _wrong("HOURMARK_MAIL_SECURITY", "is none of them.", f"Write one of: {', '.join(_SECURE)}.")
    elif security == "none" and host not in _HERE:
        words = "is none, and the server is on another machine."
        yield _wrong("HOURMARK_MAIL_SECURITY", words, "Write starttls or tls: her page would travel open to be read.")
    port = given.get("HOURMARK_MAIL_PORT", "25")
    if not (port.isascii() and port.isdecimal() and 0 < int(port) < _PORTS):
        yield _wrong("HOURMARK_MAIL_PORT", "is no port.", "Write a number from 1 to 65535, or leave it out.")
    if ("HOURMARK_MAIL_USER" in given) != ("HOURMARK_MAIL_PASSWORD" in given):
        yield _wrong("HOURMARK_MAIL_USER", "and its password go together.", "Set both, or neither.")


_PORTS = 65_536


def database(url: str) -> dict[str, object] | None:
    """The database of a URL as Django wants it; None for what is neither an SQLite path nor a PostgreSQL address.

    SQLite: WAL, synchronous FULL, so that what was acknowledged outlives a power cut; every transaction takes the writer's place at its
    beginning, since one that takes it later can be turned away at once; what is erased is overwritten.
    """
    if url.startswith("sqlite:") and url != "sqlite:":
        return {
            "ENGINE": "django.db.backends.sqlite3",
            "NAME": url.removeprefix("sqlite:"),
            "OPTIONS": {
                "timeout": 10,
                "transaction_mode": "IMMEDIATE",
                "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA secure_delete=ON;",
            },
        }
    parts, port = urlsplit(url), _port(url)
    if port is None or parts.scheme != "postgresql" or not parts.path.strip("/"):
        return None
    return {
        "ENGINE": "django.db.backends.postgresql",
        "NAME": unquote(parts.path.strip("/")),
        "USER": unquote(parts.username or ""),
        "PASSWORD": unquote(parts.password or ""),
        "HOST": unquote(parts.hostname or ""),
        "PORT": port,
        "OPTIONS": {"options": "-c synchronous_commit=on"},
    }


def _port(url: str) -> str | None:
    """The port of a URL as text, empty where it names none; None where that is no port."""
    try:
        return str(urlsplit(url).port or "")
    except ValueError:
        return None


def _wrong(name: str, what: str, do: str) -> Finding:
    return Finding("setting-wrong", Level.STOP, f"{name} {what}", do, name, "the settings that there are", DOCUMENT)
