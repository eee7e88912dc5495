"""The secrets of a link: its token, the code beside it, and the keys under which what she sends is recorded. None is kept as it is.

The server's own key turns each of them into what the table holds (HMAC-SHA-256, RFC 2104): whoever reads the table cannot open a page.
"""

import re
import secrets
from enum import Enum, auto

from django.db.models import F
from django.utils.crypto import constant_time_compare, salted_hmac

from hourmark.web.models import Link

TOKEN_BYTES = 32
"""256 bits, 43 characters in an address (HL7 SMART Health Links; the W3C's note on capability URLs asks for 120 bits at least)."""

MOST_WRONG = 10
"""Wrong tries at the code for the whole life of a link, however many at a time; then only the clinic can make another."""

_TOKEN = re.compile(r"[A-Za-z0-9_-]{43}")
_CODE = re.compile(r"[0-9]{4}")


class Tried(Enum):
    """What came of a try at the code."""

    RIGHT = auto()
    WRONG = auto()
    OVER = auto()


def new_token() -> str:
    """A token that nobody can guess."""
    return secrets.token_urlsafe(TOKEN_BYTES)


def new_code() -> str:
    """Four digits to be told on the telephone."""
    return f"{secrets.randbelow(10_000):04d}"


def digest_of(token: str) -> str:
    """What the table holds in the place of a token."""
    return salted_hmac("hourmark.web.link", token, algorithm="sha256").hexdigest()


def code_digest(salt: str, code: str) -> str:
    """What the table holds in the place of a code; the salt is each link's own."""
    return salted_hmac(f"hourmark.web.code.{salt}", code, algorithm="sha256").hexdigest()


def link_of(token: str) -> Link | None:
    """The link of a token, whether or not it still leads anywhere."""
    return Link.objects.filter(digest=digest_of(token)).first() if _TOKEN.fullmatch(token) else None


def typed_code(typed: str) -> str | None:
    """Four digits as somebody types them, with spaces or hyphens between; None for anything else."""
    digits = re.sub(r"[\s-]", "", typed)
    return digits if _CODE.fullmatch(digits) else None


def try_code(link: Link, code: str) -> Tried:
    """Try a code. The try is counted before it is judged, so that many at a time are not more than there are; a right one is given back."""
    mine = Link.objects.filter(pk=link.pk)
    if not mine.filter(wrong__lt=MOST_WRONG).update(wrong=F("wrong") + 1):
        return Tried.OVER
    if constant_time_compare(code_digest(link.code_salt, code), link.code_digest):
        mine.update(wrong=F("wrong") - 1)
        return Tried.RIGHT
    return Tried.WRONG


def is_locked(link: Link) -> bool:
    """Whether its code was guessed at too often."""
    return bool(link.code_digest) and link.wrong >= MOST_WRONG


def key_for(link: Link, *what: object) -> str:
    """The key under which one thing that she sends is recorded: sent again, by whichever link of hers, it has the same."""
    words = "\n".join(map(str, (link.clinic, link.case, *what)))
    return f"phone-{salted_hmac('hourmark.web.sent', words, algorithm='sha256').hexdigest()}"
