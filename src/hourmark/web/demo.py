"""The demo: the invented night of examples/ moved to the present, half done, in a clinic where it is now a little after eight."""

import datetime as dt
import re
from dataclasses import replace
from pathlib import Path

from django.contrib.auth import get_user_model
from django.urls import reverse

from hourmark.case.asked import Asked, Role
from hourmark.case.calls import HearReadBack
from hourmark.case.night import Confirm
from hourmark.case.phone import GiveLink
from hourmark.case.sheets import Release
from hourmark.clock import moment_from_utc, parse_zone
from hourmark.desk import Desk, Done
from hourmark.desk.evening import play
from hourmark.exchange.evening import Evening, Scripted, read_evening
from hourmark.web import DEMO_FILES
from hourmark.web.models import Link, Member, Person
from hourmark.web.pages.phone_link import expires_of
from hourmark.web.pages.phone_token import digest_of, new_token

EXAMPLES = Path(__file__).resolve().parents[3] / "examples"
EVENING = 20
SHOWN_ON_A_PHONE = "K-103"
"""A case whose page can be opened as she has it on her phone."""

LEFT_TO_DO = "K-109"
"""A case that nobody has called yet: for whoever opens the demo."""

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
"""One zone for every hour of the day, none of which changes its clocks, so that it is after eight in the evening in one of them at any time."""

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
    """The evening of examples/, moved so that it is a little after eight; only what has happened by now."""
    here = f"{now:%Y-%m-%dT%H:%M:%SZ}"
    zone = zone_in_the_evening(here)
    today = moment_from_utc(here, parse_zone(zone)).wall.date()
    folder.mkdir(parents=True, exist_ok=True)
    for name in DEMO_FILES:
        text = (EXAMPLES / name).read_text(encoding="utf-8").replace("America/Chicago", zone)
        (folder / name).write_text(re.sub(r"2026-11-(18|19|20)", lambda found: _moved(found[1], today), text), "utf-8")
    return _until(_read(folder), here)


def _read(folder: Path) -> Evening:
    """The evening as it was moved, but for what is left to whoever opens the demo."""
    evening = read_evening(folder / "evening.toml")
    if isinstance(evening, tuple):
        raise ValueError(evening[0].what)
    left = (HearReadBack, Release, Confirm)
    acts = (act for act in evening.acts if not (isinstance(act.command, left) and act.command.case == LEFT_TO_DO))
    return replace(evening, acts=tuple(acts))


def _until(evening: Evening, now: str) -> Evening:
    return replace(evening, acts=tuple(act for act in evening.acts if act.asked.at <= now))


class Going:
    """The demo's evening as it goes on: what happens in it happens at its minute, unless whoever opened it was there first."""

    def __init__(self, folder: Path) -> None:
        self._evening = _read(folder)

    def go_on(self, desk: Desk, now: dt.datetime) -> None:
        """Everything of it up to now."""
        states = desk.states()
        due = _until(self._evening, f"{now:%Y-%m-%dT%H:%M:%SZ}")
        told = {(case.id, one.event.injection) for case in states.in_sight()[0] for one in case.confirmations}
        acts = (act for act in due.acts if not _is_told(act, told))
        for _ in play(desk, replace(due, acts=tuple(acts))):
            pass


def _is_told(act: Scripted, told: set[tuple[str, str]]) -> bool:
    return isinstance(act.command, Confirm) and (act.command.case, act.command.injection) in told


def zone_in_the_evening(now: str) -> str:
    """A zone in which it is a little after eight in the evening at that instant."""
    return next(name for name in _ZONES if moment_from_utc(now, parse_zone(name)).wall.hour == EVENING)


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
        number = case.removeprefix("K-")
        phones = f"+1 555 0{number}\n+1 555 1{number}"
        Person.objects.create(clinic=clinic, case=case, initials=initials, name=name, born=born, phones=phones)


def her_phone(desk: Desk, clinic: str, now: dt.datetime) -> str:
    """The way to one patient's page as she has it on her phone, made by the nurse: an address without its host."""
    here = f"{now:%Y-%m-%dT%H:%M:%SZ}"
    nurse = Asked(PEOPLE["kowal"], Role.NURSE, here)
    state = desk.states().case(SHOWN_ON_A_PHONE)
    done = desk.perform(GiveLink(state.id, "page", expires_of(state, here)), nurse, "demo-link")
    if not isinstance(done, Done):
        raise ValueError(f"the demo's link was not made: {done}")
    token = new_token()
    Link.objects.create(clinic=clinic, case=state.id, number=1, digest=digest_of(token))
    return reverse("phone-door", args=[token])
