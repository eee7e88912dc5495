"""Whom to ring: the number that is answered now, by the clinic's signed rules."""

import datetime as dt
import re
from dataclasses import dataclass
from typing import Any

from hourmark.case.day import RulesState
from hourmark.clock import moment_from_utc, parse_zone
from hourmark.order import Clinic, Day, Phone
from hourmark.web.models import Member
from hourmark.web.work import desk_of

_LAST: dict[str, Clinic] = {}
"""Each clinic as it was last read: where the record cannot be reached, its number still can."""


@dataclass(frozen=True, slots=True)
class Line:
    """A number as it is written and as it is dialled; `whose` names the clinic where there are several."""

    number: str
    dial: str
    whose: str = ""


@dataclass(frozen=True, slots=True)
class Lines:
    """The numbers to ring: those answered now, or where none is, all there are."""

    answered: bool
    lines: tuple[Line, ...]


def clinic_of(rules: RulesState) -> Clinic | None:
    """The clinic's name, zone and telephone lines as they were signed; None where nobody has signed any."""
    if not rules.version:
        return None
    table: Any = rules.clinic
    return Clinic(str(table["name"]), parse_zone(table["zone"]), phones=tuple(map(_phone, table.get("phones", ()))))


def _phone(table: Any) -> Phone:
    opens, closes = (dt.time.fromisoformat(table[name]) for name in ("opens", "closes"))
    return Phone(table["number"], tuple(map(Day, table["days"])), opens, closes)


def lines_of(clinic: Clinic | None, now: str, whose: str = "") -> Lines:
    """The number that a clinic answers now; where it answers none, all of its numbers."""
    if clinic is None:
        return Lines(False, ())
    answered = clinic.number_at(moment_from_utc(now, clinic.zone).wall)
    numbers = (answered,) if answered else tuple(dict.fromkeys(one.number for one in clinic.phones))
    return Lines(answered is not None, tuple(Line(one, _dial(one), whose) for one in numbers))


def known(clinic: str, rules: RulesState) -> Clinic | None:
    """The clinic, noted for when the record cannot be reached."""
    found = clinic_of(rules)
    if found is not None:
        _LAST[clinic] = found
    return found


def anybody(now: str) -> Lines:
    """The numbers of every clinic here: all that is said to somebody of whom it is not known whose they are."""
    for name in Member.objects.values_list("clinic", flat=True).order_by("clinic").distinct():
        known(name, desk_of(name).states().rules())
    return last_known(now)


def last_known(now: str) -> Lines:
    """The numbers as they were last read; nothing is read for it."""
    clinics = [one for _, one in sorted(_LAST.items()) if one.phones]
    each = [lines_of(one, now, one.name if len(clinics) > 1 else "") for one in clinics]
    return Lines(all(one.answered for one in each), tuple(line for one in each for line in one.lines))


def _dial(number: str) -> str:
    return ("+" if number.strip().startswith("+") else "") + re.sub(r"\D", "", number)
