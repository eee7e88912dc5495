"""For whoever answers for the nights: how many were late or unknown, how long telling took, what was overridden, how old the last backup is."""

from pathlib import Path

from django.http import HttpResponse

from hourmark.case.asked import Role
from hourmark.case.figures import figures
from hourmark.clock import elapsed, shifted
from hourmark.store.django_settings import SETTINGS
from hourmark.store.keep import newest_backup
from hourmark.web.work import Work, page

DAYS = (7, 30, 90, 365)
_MINUTES_A_DAY = 24 * 60


@page("GET")
def month(work: Work) -> HttpResponse:
    """The figures of the last days, thirty unless asked otherwise."""
    if not work.member.manager and work.role is not Role.LEAD:
        return work.page("not-permitted", 403, roles=("manager", Role.LEAD))
    asked = work.request.GET.get("days", "30")
    days = int(asked) if asked in set(map(str, DAYS)) else 30
    cases = [work.states.case(case) for case in work.states.case_ids()]
    made_at = newest_backup(Path(SETTINGS.backups)) if SETTINGS.backups else None
    return work.page(
        "month",
        days=days,
        choices=DAYS,
        counted=figures(cases, shifted(work.now, -days * _MINUTES_A_DAY), work.now),
        backups=SETTINGS.backups,
        made_at=made_at,
        backup_age=elapsed(made_at, work.now) if made_at else None,
    )
