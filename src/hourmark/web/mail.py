"""Released pages by mail: what waits goes out at least once, always under the same Message-ID; what failed is tried again, and is said."""

import contextlib
import datetime as dt
import hashlib
import logging
import smtplib
import ssl
import threading
import time
from dataclasses import dataclass

from django.core.mail import EmailMessage
from django.core.mail.backends.smtp import EmailBackend
from django.db import close_old_connections
from django.db.models import F

from hourmark.case.state import CaseState
from hourmark.clock import shifted
from hourmark.desk import Desk
from hourmark.desk.desk import BY_MAIL
from hourmark.ledger import Queued
from hourmark.store.settings import Mail
from hourmark.web.models import Person, Posting

_LOG = logging.getLogger("hourmark.web.mail")

SUBJECT = {"en": "Your page from the clinic", "es": "Su página de la clínica"}
TEXT = {
    "en": (
        "Your page from the clinic is attached.\n\n"
        "If it says anything else than you were told, ring the number on it before you do anything. Only the newest page counts.\n\n"
        "Please do not answer this message. Nobody reads what is sent back.\n"
    ),
    "es": (
        "Le enviamos adjunta su página de la clínica.\n\n"
        "Si dice algo distinto de lo que le dijeron, llame al número que está en ella antes de hacer nada."
        " Solo cuenta la página más nueva.\n\n"
        "Por favor, no conteste a este mensaje. Nadie lee lo que llega de vuelta.\n"
    ),
}
"""What stands in the mail itself: no medicine, no name, no hour."""

_AS_SHEET, _ATTACHED = "sheet.pdf", "page.pdf"
_SECONDS = 20
_LOOKS_EVERY = 10
_WHILE_SENDING, _LONGEST_WAIT = 2, 15
"""Minutes: for which a mail that is being sent is nobody else's, and after which one that failed is tried again at the latest."""


@dataclass(frozen=True, slots=True)
class Letter:
    """One page on its way: to which address, in which language, under which Message-ID."""

    to: str
    language: str
    message_id: str
    page: bytes


def send_waiting(desk: Desk, mail: Mail, now: str) -> int:
    """Send every page that waits and whose time has come; how many went out. Nothing is sent inside a transaction."""
    return sum(_sent(desk, mail, one, now) for one in desk.store.queued() if one.message.kind == BY_MAIL)


def start(desk: Desk, mail: Mail) -> threading.Thread:
    """Look for waiting pages again and again, for as long as this process lives."""
    thread = threading.Thread(target=_again_and_again, args=(desk, mail), name="mail", daemon=True)
    thread.start()
    return thread


def _again_and_again(desk: Desk, mail: Mail) -> None:
    while True:
        try:
            send_waiting(desk, mail, f"{dt.datetime.now(dt.UTC):%Y-%m-%dT%H:%M:%SZ}")
        except Exception:
            _LOG.exception("the pages that wait could not be looked at")
        close_old_connections()
        time.sleep(_LOOKS_EVERY)


def _sent(desk: Desk, mail: Mail, one: Queued, now: str) -> bool:
    case, version = one.message.to, int(one.message.text)
    posting, _ = Posting.objects.get_or_create(clinic=desk.store.clinic, case=case, version=version)
    if posting.sent_at:
        return _over(desk, one, "sent")
    if not _claimed(posting, now):
        return False
    state = desk.states().case(case)
    if (not_any_more := _not_any_more(state, version)) is not None:
        Posting.objects.filter(pk=posting.pk).update(trouble=not_any_more)
        return _over(desk, one, "dropped")
    letter = _letter(desk, mail, state, version)
    trouble = letter if isinstance(letter, str) else _post(mail, letter)
    if trouble is None:
        Posting.objects.filter(pk=posting.pk).update(sent_at=now, trouble="")
        _over(desk, one, "sent")
        return True
    wait = min(2**posting.tries, _LONGEST_WAIT)
    Posting.objects.filter(pk=posting.pk).update(trouble=trouble, next_at=shifted(now, wait))
    _LOG.warning("mail", extra={"act": "mail", "outcome": "failed"})
    return False


def _claimed(posting: Posting, now: str) -> bool:
    """Whether this process, and no other, sends it now."""
    until = shifted(now, _WHILE_SENDING)
    due = Posting.objects.filter(pk=posting.pk, sent_at="", next_at__lte=now)
    if not due.update(next_at=until, tried_at=now, tries=F("tries") + 1):
        return False
    posting.refresh_from_db()
    return True


def _not_any_more(state: CaseState, version: int) -> str | None:
    """Why a page that waited is not sent at all."""
    if state.sheet is None or state.sheet.event.version != version:
        return "It was not sent: the page does not hold any more."
    if state.permissions is None or not state.permissions.message:
        return "It was not sent: she does not allow mail any more."
    return None


def _over(desk: Desk, one: Queued, outcome: str) -> bool:
    """It waits no longer. What became of it is kept before that: a mail that is out is never sent again for want of knowing."""
    with desk.store.writing() as record:
        record.sent(one.number)
    _LOG.info("mail", extra={"act": "mail", "outcome": outcome})
    return False


def _letter(desk: Desk, mail: Mail, state: CaseState, version: int) -> Letter | str:
    """The mail, or what is missing for it."""
    person = Person.objects.filter(clinic=desk.store.clinic, case=state.id).first()
    if person is None or not person.mail:
        return "There is no address of hers: enter it under Who she is."
    page = desk.pages(state.id, version).get(_AS_SHEET)
    if page is None:
        return "The page is not on the record any more."
    what = f"{desk.store.clinic} {state.id} {version} {hashlib.sha256(page).hexdigest()}"
    name = hashlib.sha256(what.encode()).hexdigest()[:32]
    language = str(state.details.get("language", "en"))
    return Letter(person.mail, language, f"<{name}@{mail.sender.rpartition('@')[2]}>", page)


def _post(mail: Mail, letter: Letter) -> str | None:
    """Hand it to the clinic's server; what went wrong, in words that name nobody."""
    server = EmailBackend(
        host=mail.host,
        port=mail.port,
        username=mail.user,
        password=mail.password,
        use_tls=mail.security == "starttls",
        use_ssl=mail.security == "tls",
        timeout=_SECONDS,
    )
    message = EmailMessage(
        SUBJECT[letter.language],
        TEXT[letter.language],
        mail.sender,
        [letter.to],
        headers={"Message-ID": letter.message_id, "Auto-Submitted": "auto-generated"},
        attachments=[(_ATTACHED, letter.page, "application/pdf")],
        connection=server,
    )
    try:
        message.send()
    except (OSError, smtplib.SMTPException) as failed:
        return _plain(failed)
    finally:
        with contextlib.suppress(OSError):  # left open where it failed at its beginning
            server.close()
    return None


def _plain(failed: Exception) -> str:
    """What a mail server said, for people: its own words may hold an address."""
    match failed:
        case ssl.SSLError():
            return "The mail server's certificate is none that can be trusted."
        case smtplib.SMTPNotSupportedError():
            return "The mail server does not offer what is set for it."
        case smtplib.SMTPAuthenticationError():
            return "The mail server did not take the name and password."
        case smtplib.SMTPRecipientsRefused():
            return "The mail server did not take her address."
        case smtplib.SMTPSenderRefused():
            return "The mail server did not take the clinic's address."
        case smtplib.SMTPResponseException():
            return "The mail server did not take the message."
        case _:
            return "The mail server did not answer."
