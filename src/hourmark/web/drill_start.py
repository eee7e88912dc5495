"""A drill taken up: its cases, its people, its clock; the first time from the beginning, later from where it stood."""

import contextlib
import datetime as dt
from collections.abc import Iterator

from django.contrib.auth import get_user_model

from hourmark.case.asked import Role
from hourmark.drill.cast import Caller, cast, instant_of
from hourmark.drill.clock import SLOWEST, NightClock, read_clock, write_clock
from hourmark.drill.folder import CLOCK, Drill, read_answers
from hourmark.drill.making import begins_at, make_until
from hourmark.store.database import DatabaseStore
from hourmark.store.settings import DRILL_CLINIC
from hourmark.web.demo import PEOPLE
from hourmark.web.models import Member, Person, WatchBeat
from hourmark.web.work import desk_of

BEFORE_THE_FIRST = dt.timedelta(minutes=5)
"""So long before the first call the night of a drill begins."""

_ROLES = {
    "devi": Role.PHARMACIST,
    "aumont": Role.PRESCRIBER,
    "sorel": Role.PRESCRIBER,
    "brandt": Role.LEAD,
    "theatre": Role.THEATRE,
}
"""What those are who are no nurses."""

_MANAGER = "brandt"


def take_up(drill: Drill, pace: int | None, password: str) -> NightClock:
    """Make what is not made yet, let the staff in by this password, and let the clock go: from the beginning, or from where it stood.

    Raises NotMade where a case does not become what it is to be.
    """
    callers = cast(drill.seed, drill.count)
    stands, usual = _stands(drill, callers)
    _enter_people(callers, password)
    make_until(desk_of(DRILL_CLINIC), callers, f"{stands:%Y-%m-%dT%H:%M:%SZ}")
    night = NightClock(dt.datetime.now(dt.UTC), stands, pace or usual)
    write_clock(drill.folder / CLOCK, night)
    return night


def _stands(drill: Drill, callers: tuple[Caller, ...]) -> tuple[dt.datetime, int]:
    """The moment of its night at which the drill stands, and its pace. While it is not served it stands still: where it was last seen."""
    path, seen = drill.folder / CLOCK, [dt.datetime.fromisoformat(one) for one in _seen(drill, callers)]
    if not path.exists():
        first = dt.datetime.fromisoformat(callers[0].rings_at) - BEFORE_THE_FIRST
        return max(first, dt.datetime.fromisoformat(begins_at(callers)), *seen), SLOWEST
    night = read_clock(path)
    looked = WatchBeat.objects.filter(clinic=DRILL_CLINIC).values_list("at", flat=True).first()
    return max(night.shown, *seen, *([night.at(dt.datetime.fromisoformat(looked))] if looked else [])), night.pace


def _seen(drill: Drill, callers: tuple[Caller, ...]) -> Iterator[str]:
    """The moments of its night (UTC) that were seen for certain: whatever stands on the record, and every call that was taken or is over."""
    if newest := DatabaseStore(DRILL_CLINIC).newest():
        yield newest
    answers = read_answers(drill.folder)
    for one in (one for one in callers if one.case in answers):
        yield one.rings_at
        recorded = answers[one.case].recorded
        if recorded is not None and recorded.until:
            with contextlib.suppress(ValueError):  # an hour that comes twice says no moment
                yield instant_of(recorded.until, one.night)


def _enter_people(callers: tuple[Caller, ...], password: str) -> None:
    """The staff, and who the people behind the cases are, by names that nobody has."""
    users = get_user_model()
    for username, name in PEOPLE.items():
        user, _ = users.objects.get_or_create(username=username)
        user.set_password(password)
        user.save()
        role, manager = str(_ROLES.get(username, Role.NURSE)), username == _MANAGER
        Member.objects.get_or_create(
            user=user, defaults={"clinic": DRILL_CLINIC, "name": name, "role": role, "manager": manager}
        )
    for one in callers:
        place = one.round.place
        who = {
            "initials": one.initials,
            "name": f"DRILL person {place}, invented",
            "born": f"1990-01-{place % 28 + 1:02}",
            "phones": f"+1 555 02{place:02}",
        }
        Person.objects.get_or_create(clinic=DRILL_CLINIC, case=one.case, defaults=who)
