"""The way in: a link is looked at by many a robot before her. Looking does nothing; a button opens the page, and then no address holds the token."""

import logging

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect

from hourmark.case import events as e
from hourmark.case.phone import link_leads
from hourmark.clock import elapsed
from hourmark.web import work
from hourmark.web.models import Link
from hourmark.web.pages.phone import Visit, case_of, gone, let_in, open_page, phone_page, unknown_page
from hourmark.web.pages.phone_token import MOST_WRONG, Tried, is_locked, link_of, try_code, typed_code

_LOG = logging.getLogger("hourmark.phone")


@open_page("GET", "HEAD", "POST")
def door(request: HttpRequest, token: str) -> HttpResponse:
    """A page that says nothing of anybody, with one button; with the code where the link has one."""
    link = link_of(token)
    leads_to = _leads_to(link)
    if link is None or leads_to is None or is_locked(link):
        _LOG.warning("a link that leads nowhere")
        return gone(request)
    if request.method != "POST":
        return unknown_page(request, "door", code=bool(link.code_digest))
    if link.code_digest:
        code = typed_code(request.POST.get("code", ""))
        if code is None:
            return unknown_page(request, "door", 422, code=True, form=True)
        match try_code(link, code):
            case Tried.OVER:
                return gone(request)
            case Tried.WRONG:
                left = MOST_WRONG - Link.objects.get(pk=link.pk).wrong
                return unknown_page(request, "door", 422, code=True, left=left) if left > 0 else gone(request)
    response = redirect("phone-home" if leads_to.kind == "page" else "phone-trial")
    response.status_code = 303
    let_in(
        response,
        link,
        "page" if leads_to.kind == "page" else "practice",
        elapsed(work.instant(), leads_to.expires).minutes * 60,
    )
    return response


def _leads_to(link: Link | None) -> e.LinkGiven | None:
    """What a link leads to, and until when; None where it leads nowhere."""
    if link is None:
        return None
    _, _, state, standing = case_of(link)
    leads = standing is not None and link_leads(state, link.number, work.instant())
    return standing.event if leads and standing is not None else None


@phone_page("GET")
def now(visit: Visit) -> HttpResponse:
    """What time it is, and with that, whether the page still counts, and what is told of it: asked for by pages that stay open."""
    return _now(visit)


@phone_page("GET", kind="practice")
def trial_now(visit: Visit) -> HttpResponse:
    """The same for practice without a page."""
    return _now(visit)


def _now(visit: Visit) -> HttpResponse:
    return JsonResponse({"now": visit.now, "checked": visit.clock(visit.now), "told": visit.told})


@open_page("GET", "HEAD", "POST")
def nowhere(request: HttpRequest, rest: str = "") -> HttpResponse:
    """Any other address there: as a link that leads nowhere."""
    return gone(request)


@open_page("GET", "HEAD")
def robots(_: HttpRequest) -> HttpResponse:
    """No page here is for a list of pages (W3C TAG, good practices for capability URLs)."""
    return HttpResponse("User-agent: *\nDisallow: /\n", content_type="text/plain")
