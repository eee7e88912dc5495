"""Whether the process lives, and whether it is ready for work."""

import datetime as dt

from django.db import DatabaseError
from django.http import HttpRequest, HttpResponse, JsonResponse

from hourmark.finding import Level
from hourmark.store.django_settings import SETTINGS
from hourmark.store.starting import start_findings
from hourmark.web import work
from hourmark.web.models import WatchBeat
from hourmark.web.pages.tonight import is_silent


def livez(_: HttpRequest) -> HttpResponse:
    """The process answers."""
    return HttpResponse("alive\n", content_type="text/plain")


def readyz(_: HttpRequest) -> JsonResponse:
    """Every start-up check, by its code, and whether the watch looks; 503 when one of them stops, or nobody watches."""
    findings = start_findings(SETTINGS, "default", dt.datetime.fromisoformat(work.instant()))
    stopped = any(finding.level is Level.STOP for finding in findings)
    looked = not stopped and watched()
    return JsonResponse(
        {"ready": looked and not stopped, "watched": looked, "codes": [finding.code for finding in findings]},
        status=200 if looked and not stopped else 503,
    )


def watched() -> bool:
    """Whether the watch looked at this clinic within the last minutes."""
    try:
        at = WatchBeat.objects.filter(clinic=SETTINGS.clinic).values_list("at", flat=True).first()
    except DatabaseError:
        return False
    return at is not None and not is_silent(at, work.machine_instant())
