"""The reason for looking at a case outside one's role: kept with the name, for the manager to read."""

from django.http import HttpResponse
from django.shortcuts import redirect

from hourmark.web.guard import inside, page_of
from hourmark.web.work import Work, page


@page("POST")
def reason(work: Work, case: str) -> HttpResponse:
    """The reason, and then the page."""
    words, to = work.typed.get("reason", "").strip(), work.typed.get("next", "/")
    if not words:
        return work.page("why-look", 403, case=case, next=to)
    work.request.session[f"reason-{case}"] = words[:500]
    return redirect(page_of(inside(to)))
