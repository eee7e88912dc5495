"""Whether the process lives, and whether it is ready for work."""

import datetime as dt

from django.http import HttpRequest, HttpResponse, JsonResponse

from hourmark.finding import Level
from hourmark.store.django_settings import SETTINGS
from hourmark.store.starting import start_findings


def livez(_: HttpRequest) -> HttpResponse:
    """The process answers."""
    return HttpResponse("alive\n", content_type="text/plain")


def readyz(_: HttpRequest) -> JsonResponse:
    """Every start-up check, by its code; 503 when one of them stops."""
    findings = start_findings(SETTINGS, "default", dt.datetime.now(dt.UTC))
    stopped = any(finding.level is Level.STOP for finding in findings)
    return JsonResponse(
        {"ready": not stopped, "codes": [finding.code for finding in findings]}, status=503 if stopped else 200
    )
