"""Who may come in at all: signed in, a member of the clinic, and not away for too long. What was typed outlives the lock."""

import time
from collections.abc import Callable
from typing import Any, Literal

from allauth.account.adapter import DefaultAccountAdapter, get_adapter
from allauth.mfa.models import Authenticator
from allauth.mfa.utils import is_mfa_enabled
from django.conf import settings
from django.contrib.auth import logout
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import Resolver404, resolve, reverse
from django.utils.http import url_has_allowed_host_and_scheme

from hourmark.store.django_settings import SETTINGS
from hourmark.web.models import Used
from hourmark.web.work import METHODS

OPEN = ("/accounts/", "/static/", "/livez", "/readyz", "/unlock")
"""What is reached without being signed in."""

HERS = ("/t/", "/robots.txt")
"""Her phone: no session of the staff is looked at there, and none opens anything."""

WHILE_AWAY = ("/accounts/login/", "/accounts/logout/", "/static/", "/livez", "/readyz", "/unlock")
"""What is reached while locked; the pages of one's own keys are not among it."""

BOARD = ("/night/", "/night/rows/", "/drill/night/ringing/")
"""The board stays in sight of whoever watches it without a click: it names nobody, and to do anything from it the lock is opened."""

_NOT_KEPT = ("csrfmiddlewaretoken", "password")
_NOT_SHOWN = ("key", "seen")


class NoSignUp(DefaultAccountAdapter):  # type: ignore[misc]
    """Nobody opens an account by themselves: the manager does."""

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        """Never."""
        return False


def signed_in(answer: Callable[[HttpRequest], HttpResponse]) -> Callable[[HttpRequest], HttpResponse]:
    """Lets nobody pass who is not signed in, not a member, or was away for longer than allowed."""

    def guarded(request: HttpRequest) -> HttpResponse:
        stopped = _let_in(request)
        if stopped is not None and getattr(request, "htmx", False):
            stopped = render(request, "parts/locked.html", status=403)
        return _private(stopped or answer(request))

    return guarded


def _let_in(request: HttpRequest) -> HttpResponse | None:
    """Why somebody does not pass; None where they do."""
    if request.path.startswith(HERS):
        return None
    path, known = request.path, request.user.is_authenticated
    if path.startswith(WHILE_AWAY) or (path.startswith(OPEN) and not known):
        return None
    if not known:
        typed = _kept(request)
        return _too_old(request, typed) if typed else redirect(f"{reverse('account_login')}?next={path}")
    if getattr(request.user, "member", None) is None:
        if path.startswith(OPEN):
            return None
        logout(request)
        return render(request, "no-member.html", status=403)
    match _away(request):
        case "over" if kept := _kept(request):
            return _too_old(request, kept)
        case "over":
            return redirect(f"{reverse('account_login')}?next={path}")
        case "away" if path in BOARD and request.method == "GET":
            request.locked = True  # type: ignore[attr-defined]
        case "away":
            return render(request, "locked.html", {"next": path, "kept": _kept(request)}, status=403)
    if settings.SECOND_FACTOR and not path.startswith(OPEN) and not is_mfa_enabled(request.user, _FACTORS):
        return render(request, "second-factor.html", status=403)
    return None


_FACTORS = [Authenticator.Type.TOTP, Authenticator.Type.WEBAUTHN]
"""What counts as a second factor; recovery codes only stand in for one that is lost."""


def _private(response: HttpResponse) -> HttpResponse:
    """Nothing of a page stays in a cache that others could read."""
    if not response.has_header("Cache-Control"):
        response["Cache-Control"] = "no-store"
    return response


def _away(request: HttpRequest) -> Literal["", "away", "over"]:
    """Whether the session was last used too long ago, or is over and ended by this; notes that it is used now, at most one time a minute."""
    session, now = request.session.session_key or "", int(time.time())
    used, _ = Used.objects.get_or_create(session=session, defaults={"at": now, "since": now})
    if now - used.since > settings.SESSION_COOKIE_AGE:
        logout(request)
        return "over"
    if now - used.at > settings.IDLE_SECONDS:
        return "away"
    if now - used.at >= _NOTE_EVERY and request.path not in BOARD:
        Used.objects.filter(session=session).update(at=now)
    return ""


_NOTE_EVERY = 60


def _kept(request: HttpRequest) -> list[tuple[str, str]]:
    """Everything that was typed, to be carried along."""
    return [(name, str(value)) for name, value in request.POST.items() if name not in _NOT_KEPT]


def _too_old(request: HttpRequest, kept: list[tuple[str, str]]) -> HttpResponse:
    """What was typed into a form that can no longer be sent."""
    typed = [(name, value) for name, value in kept if name not in _NOT_SHOWN]
    context = {"back": page_of(request.path), "kept": typed, "old": True}
    return _private(render(request, "unlocked.html", context, status=403))


def page_of(path: str) -> str:
    """The page that a form stands on, by where it was sent: its own address, or the nearest above it that can be looked at."""
    while path.strip("/"):
        try:
            view = resolve(path).func
        except Resolver404:
            view = None
        if view is not None and "GET" in METHODS.get(view, ("GET",)):
            return path
        path = f"{path.rstrip('/').rpartition('/')[0]}/"
    return "/"


def inside(to: str) -> str:
    """An address of this site; today's list in the place of any other."""
    return to if to.startswith("/") and url_has_allowed_host_and_scheme(to, allowed_hosts=None) else "/"


def unlock(request: HttpRequest) -> HttpResponse:
    """Open the lock with the password alone, within the limit of one sign-in; then what was typed can be sent."""
    if not request.user.is_authenticated:
        return redirect("account_login")
    if request.method != "POST":
        return redirect("today")
    kept = [(name.removeprefix("kept-"), value) for name, value in request.POST.items() if name.startswith("kept-")]
    to = inside(request.POST.get("next", "/"))
    try:
        user = get_adapter().authenticate(
            request, username=request.user.get_username(), password=request.POST.get("password", "")
        )
    except ValidationError:  # guessed too often, as at the sign-in
        user = None
    if user is None:
        return render(request, "locked.html", {"next": to, "kept": kept, "wrong": True}, status=403)
    Used.objects.filter(session=request.session.session_key).update(at=int(time.time()))
    if not kept:
        return redirect(page_of(to))
    return render(request, "unlocked.html", {"next": to, "back": page_of(to), "kept": kept})


def not_here(_: HttpRequest, key: str = "") -> HttpResponse:
    """No page: accounts have no mail address here, and nothing is sent to one."""
    raise Http404


def form_too_old(request: HttpRequest, reason: str = "") -> HttpResponse:
    """A form that was open while somebody signed in anew: its words are shown, and can be sent again."""
    return _too_old(request, _kept(request))


def everywhere(request: HttpRequest) -> dict[str, Any]:
    """What every page knows: whether this is the demo, and whether a second factor is asked for."""
    user = getattr(request, "user", None)
    member = getattr(user, "member", None) if request.path.startswith("/accounts/") else None
    return {"demo": SETTINGS.demo, "second_factor": settings.SECOND_FACTOR, "path": request.path, "member": member}
