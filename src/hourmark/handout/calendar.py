"""The calendar file of a case: each injection in UTC with a title that tells nothing, and alarms. Never a safety barrier: receivers may ignore alarms."""

import datetime as dt
import uuid

from hourmark.clock import Moment
from hourmark.handout.content import Sheet
from hourmark.handout.language import Language, language
from hourmark.handout.sheet import in_sequence, numbers_to_call
from hourmark.plan import CasePlan, NightPlan

ALARMS = (dt.timedelta(hours=-24), dt.timedelta(hours=-1), dt.timedelta(minutes=-15), dt.timedelta())
"""Before the minute. In hours, never days: RFC 5545, 3.3.6 counts hours exactly and days by the calendar."""

_LASTS = dt.timedelta(minutes=30)
"""How long the entry is in the calendar (our own choice: long enough to be seen)."""


def calendar_file(case: CasePlan, night: NightPlan, sheet: Sheet) -> bytes:
    """The injections as iCalendar (RFC 5545), tentative as long as the page is a draft, confirmed once it is released.

    Injections on one minute share an entry. Times are in UTC, so that a clock change that night cannot move them.
    """
    from icalendar import Calendar

    spoken = language(sheet.language)
    made = Calendar()
    draft = sheet.draft is not None
    made.add("prodid", f"-//hourmark//{'draft' if draft else 'page'}//EN")
    made.add("version", "2.0")
    assert night.as_of is not None
    minutes = {one.timed.patient.utc: one.timed.patient for one in in_sequence(case) if one.timed is not None}
    numbers = numbers_to_call(case, night, spoken)
    for at in minutes.values():
        made.add_component(_event(at, case.case.id, night.as_of.instant, spoken, numbers, draft=draft))
    written: bytes = made.to_ical()
    return written


def _event(  # type: ignore[no-untyped-def]
    at: Moment, case: str, stamp: dt.datetime, spoken: Language, numbers: str, *, draft: bool
):
    from icalendar import Alarm, Event

    standing = "" if draft else "released-"
    title = spoken.word(f"calendar.{standing}title")
    event = Event()
    event.add("uid", f"{uuid.uuid5(uuid.NAMESPACE_OID, f'{case} {at.utc}')}@hourmark.invalid")
    event.add("dtstamp", stamp)
    event.add("dtstart", at.instant)
    event.add("dtend", at.instant + _LASTS)
    event.add("summary", title)
    event.add("description", spoken.word(f"calendar.{standing}description", said=spoken.moment(at), numbers=numbers))
    event.add("status", "TENTATIVE" if draft else "CONFIRMED")
    event.add("class", "PRIVATE")
    event.add("sequence", 0)
    for before in ALARMS:
        alarm = Alarm()
        alarm.add("action", "DISPLAY")
        alarm.add("description", title)
        alarm["trigger"] = _exactly(before)
        event.add_component(alarm)
    return event


def _exactly(span: dt.timedelta) -> object:
    """A span in hours and minutes as RFC 5545 writes it; the library alone would write 24 hours as one calendar day."""
    from icalendar import vDuration

    class Exactly(vDuration):
        def to_ical(self) -> bytes:
            minutes = int(-span.total_seconds() // 60)
            hours, rest = divmod(minutes, 60)
            text = f"-PT{hours}H" if minutes and not rest else f"-PT{minutes}M" if minutes else "PT0S"
            return text.encode()

    return Exactly(span)
