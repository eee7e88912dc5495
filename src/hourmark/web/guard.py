"""Who may come in at all: signed in, a member of the clinic, and not away for too long. What was typed outlives the lock."""

import time
from collections.abc import Callable
from typing import Any

from allauth.account.adapter import DefaultAccountAdapter
from django.conf import settings
from django.contrib.auth import authenticate, logout
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from hourmark.store.django_settings import SETTINGS
from hourmark.web.models import Used

OPEN = ("/accounts/", "/static/", "/livez", "/readyz", "/unlock")
"""What is reached without being signed in, or while locked."""

_NOT_KEPT = ("csrfmiddlewaretoken", "password")


class NoSignUp(DefaultAccountAdapter):  # type: ignore[misc]
    """Nobody opens an account by themselves: the manager does."""

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        """Never."""
        return False


def signed_in(answer: Callable[[HttpRequest], HttpResponse]) -> Callable[[HttpRequest], HttpResponse]:
    """Lets nobody pass who is not signed in, not a member, or was away for longer than allowed."""

    def guarded(request: HttpRequest) -> HttpResponse:
        if request.path.startswith(OPEN):
            return _private(answer(request))
        if not request.user.is_authenticated:
            return redirect(f"{reverse('account_login')}?next={request.path}")
        if getattr(request.user, "member", None) is None:
            logout(request)
            return render(request, "no-member.html", status=403)
        if _away(request):
            return _locked(request)
        return _private(answer(request))

    return guarded


def _private(response: HttpResponse) -> HttpResponse:
    """Nothing of a page stays in a cache that others could read."""
    if not response.has_header("Cache-Control"):
        response["Cache-Control"] = "no-store"
    return response


def _away(request: HttpRequest) -> bool:
    """Whether the session was last used too long ago; notes that it is used now, at most one time a minute."""
    session, now = request.session.session_key or "", int(time.time())
    used, _ = Used.objects.get_or_create(session=session, defaults={"at": now, "since": now})
    if now - used.since > settings.SESSION_COOKIE_AGE:
        logout(request)
        return True
    if now - used.at > settings.IDLE_SECONDS:
        return True
    if now - used.at >= _NOTE_EVERY:
        Used.objects.filter(session=session).update(at=now)
    return False


_NOTE_EVERY = 60


def _locked(request: HttpRequest) -> HttpResponse:
    """The lock, with everything that was typed carried along."""
    kept = [(name, value) for name, value in request.POST.items() if name not in _NOT_KEPT]
    return _private(render(request, "locked.html", {"next": request.path, "kept": kept}, status=403))


def unlock(request: HttpRequest) -> HttpResponse:
    """Open the lock with the password alone, within the limit of one sign-in; then what was typed can be sent."""
    if not request.user.is_authenticated:
        return redirect("account_login")
    if request.method != "POST":
        return redirect("today")
    kept = [(name.removeprefix("kept-"), value) for name, value in request.POST.items() if name.startswith("kept-")]
    to = request.POST.get("next", "/")
    to = to if to.startswith("/") and not to.startswith("//") else "/"
    user = authenticate(request, username=request.user.get_username(), password=request.POST.get("password", ""))
    if user is None:
        return render(request, "locked.html", {"next": to, "kept": kept, "wrong": True}, status=403)
    Used.objects.filter(session=request.session.session_key).update(at=int(time.time()))
    return render(request, "unlocked.html", {"next": to, "kept": kept}) if kept else redirect(to)


def form_too_old(request: HttpRequest, reason: str = "") -> HttpResponse:
    """A form that was open while somebody signed in anew: its words are shown, and can be sent again."""
    kept = [(name, value) for name, value in request.POST.items() if name not in _NOT_KEPT]
    return render(request, "unlocked.html", {"next": request.path, "kept": kept, "old": True}, status=403)


def everywhere(request: HttpRequest) -> dict[str, Any]:
    """What every page knows: whether this is the demo."""
    return {"demo": SETTINGS.demo, "path": request.path}
