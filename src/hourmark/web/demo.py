"""The demo: the invented night of examples/ moved to the present, half done, in a clinic where it is now a little after four."""

import datetime as dt
import re
from dataclasses import replace
from pathlib import Path

from django.contrib.auth import get_user_model

from hourmark.clock import moment_from_utc, parse_zone
from hourmark.desk import Desk
from hourmark.desk.evening import play
from hourmark.exchange.evening import Evening, read_evening
from hourmark.web.models import Member, Person

EXAMPLES = Path(__file__).resolve().parents[3] / "examples"
AFTER_FOUR = 16
_ZONES = (
    *("Pacific/Tarawa", "Pacific/Noumea", "Australia/Brisbane", "Asia/Tokyo", "Asia/Singapore", "Asia/Bangkok"),
    *(
        "Asia/Dhaka",
        "Asia/Karachi",
        "Asia/Dubai",
        "Asia/Riyadh",
        "Africa/Johannesburg",
        "Africa/Lagos",
        "Africa/Abidjan",
    ),
    *("Atlantic/Cape_Verde", "America/Noronha", "America/Sao_Paulo", "America/Puerto_Rico", "America/Bogota"),
    *(
        "America/Costa_Rica",
        "America/Phoenix",
        "Pacific/Pitcairn",
        "Pacific/Gambier",
        "Pacific/Honolulu",
        "Pacific/Niue",
    ),
)
"""One zone for every hour of the day, none of which changes its clocks, so that it is after four in one of them at any time."""

PEOPLE = {
    "kowal": "A. Kowal",
    "ortiz": "L. Ortiz",
    "devi": "M. Devi",
    "aumont": "Dr. L. Aumont",
    "sorel": "Dr. I. Sorel",
    "brandt": "Dr. O. Brandt, medical lead",
    "theatre": "Theatre desk",
    "lindqvist": "P. Lindqvist",
}
"""Who can sign in, and what the record knows them by."""

_MANAGER = "brandt"

_WHO = {
    "K-101": ("R. V.", "Rosalind Varga", "1990-02-11"),
    "K-102": ("N. O.", "Nadia Okafor", "1988-07-30"),
    "K-103": ("E. L.", "Elin Lund", "1993-04-02"),
    "K-104": ("T. M.", "Tamsin Moreau", "1989-12-19"),
    "K-105": ("H. D.", "Hana Doležal", "1986-09-08"),
    "K-106": ("J. A.", "Juno Abara", "1994-01-25"),
    "K-107": ("P. S.", "Paloma Serrano", "1991-06-17"),
    "K-108": ("I. F.", "Ines Faber", "1987-03-03"),
    "K-109": ("Y. T.", "Yara Tadesse", "1992-10-28"),
    "K-110": ("C. B.", "Cleo Brandvold", "1990-08-14"),
}
"""Invented people."""


def demo_evening(folder: Path, now: dt.datetime) -> Evening:
    """The evening of examples/, moved so that its afternoon is now; only what has happened by now."""
    here = f"{now:%Y-%m-%dT%H:%M:%SZ}"
    zone = zone_after_four(here)
    today = moment_from_utc(here, parse_zone(zone)).wall.date()
    folder.mkdir(parents=True, exist_ok=True)
    for name in ("ordinary-night.toml", "evening.toml"):
        text = (EXAMPLES / name).read_text(encoding="utf-8").replace("America/Chicago", zone)
        (folder / name).write_text(re.sub(r"2026-11-(18|19|20)", lambda found: _moved(found[1], today), text), "utf-8")
    evening = read_evening(folder / "evening.toml")
    if isinstance(evening, tuple):
        raise ValueError(evening[0].what)
    return replace(evening, acts=tuple(act for act in evening.acts if act.asked.at <= here))


def zone_after_four(now: str) -> str:
    """A zone in which it is a little after four at that instant."""
    return next(name for name in _ZONES if moment_from_utc(now, parse_zone(name)).wall.hour == AFTER_FOUR)


def _moved(day: str, today: dt.date) -> str:
    return str(today + dt.timedelta(days=int(day) - 18))


def fill(desk: Desk, clinic: str, evening: Evening, password: str) -> None:
    """The record, the people on it, and those who can sign in."""
    for played in play(desk, evening):
        if not played.as_written:
            raise ValueError(f"act {played.act.number} of the demo went otherwise than written: {played.answer}")
    users = get_user_model()
    roles = {act.asked.by: str(act.asked.role) for act in evening.acts} | {PEOPLE["lindqvist"]: "nurse"}
    for username, name in PEOPLE.items():
        user = users.objects.create_user(username=username, password=password)
        role = roles.get(name, "prescriber")
        Member.objects.create(user=user, clinic=clinic, name=name, role=role, manager=username == _MANAGER)
    for case, (initials, name, born) in _WHO.items():
        phones = f"+1 555 0{case.removeprefix('K-')}"
        Person.objects.create(clinic=clinic, case=case, initials=initials, name=name, born=born, phones=phones)
