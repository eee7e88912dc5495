"""Forms on her phone. Her pages send no referrer, and then a browser names no origin for their forms: it is asked where they came from instead."""

from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.middleware.csrf import CsrfViewMiddleware, RejectRequest
from django.utils.decorators import decorator_from_middleware_with_args

_OWN = "same-origin"


class _FormsWithoutReferrer(CsrfViewMiddleware):
    """The check of a form's token as everywhere; in the place of origin and referrer, which are left out by policy, what the browser says.

    Fetch standard, "append a request `Origin` header": under no-referrer a form's origin is "null". Fetch metadata: Sec-Fetch-Site is set
    by the browser and by no page. A browser too old to send it is held to the token alone.
    """

    def __init__(self, get_response: Callable[..., Any], too_old: Callable[[HttpRequest], HttpResponse]) -> None:
        super().__init__(get_response)
        self._too_old = too_old

    def _origin_verified(self, request: HttpRequest) -> bool:
        unnamed = request.META.get("HTTP_ORIGIN") == "null" and _from_here(request)
        return unnamed or super()._origin_verified(request)  # type: ignore[misc]

    def _check_referer(self, request: HttpRequest) -> None:
        if not _from_here(request):
            raise RejectRequest("The form came from elsewhere.")

    def _reject(self, request: HttpRequest, reason: str) -> HttpResponse:
        return self._too_old(request)


def _from_here(request: HttpRequest) -> bool:
    return request.headers.get("Sec-Fetch-Site", _OWN) == _OWN


protected = decorator_from_middleware_with_args(_FormsWithoutReferrer)
"""Around a page: `protected(too_old=...)` refuses a form whose token is not this browser's with the answer of `too_old`."""
