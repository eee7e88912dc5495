"""A released page by mail, against a real SMTP server: what goes out, at least once, under one Message-ID; what fails is said and tried again."""

import datetime as dt
import email
import email.policy
import hashlib
import socket
import ssl
from collections.abc import Iterator
from dataclasses import replace
from email.message import EmailMessage
from pathlib import Path
from typing import Any

import pytest
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import AuthResult, Envelope, Session
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from django.conf import settings
from django.test import override_settings

from hourmark.case.calls import SetPermissions
from hourmark.case.sheets import VoidSheet
from hourmark.desk import Desk
from hourmark.store.settings import Mail
from hourmark.web import mail as sender
from hourmark.web.models import Person, Posting
from tests.web.conftest import CLINIC, NOW, SECRET_NAME
from tests.web.manners import SignIn, do, does_it, heads, refuses
from tests.web.seen import look
from tests.web.test_release import WITHOUT_CALL, WRITES, K

ADDRESS, FROM = "zinnia@example.org", "desk@clinic.example"
BY_MAIL = replace(
    WITHOUT_CALL,
    typed={**WITHOUT_CALL.typed, "way": "mail"},
    writes=("case/K-107 sheet-issued", "case/K-107 mail-asked", *WRITES[1:]),
)
LATER = ("2026-11-18T22:26:59Z", "2026-11-18T22:27:00Z")
"""A second before, and when a page that failed one time at 16:25 is tried again: two minutes later."""


class Inbox:
    """What a server was handed, as it was handed; it answers `says` to what it takes, and lets `refuses` be an address that it does not."""

    def __init__(self) -> None:
        self.taken: list[bytes] = []
        self.rcpt: list[str] = []
        self.says, self.refuses = "250 OK", ""

    async def handle_RCPT(self, _: Any, __: Session, envelope: Envelope, address: str, ___: list[str]) -> str:
        if address == self.refuses:
            return f"550 nobody called {address} here"
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, _: Any, __: Session, envelope: Envelope) -> str:
        if self.says.startswith("250"):
            assert isinstance(envelope.content, bytes)
            self.taken.append(envelope.content)
            self.rcpt += envelope.rcpt_tos
        return self.says

    @property
    def messages(self) -> list[EmailMessage]:
        return [email.message_from_bytes(one, policy=email.policy.default) for one in self.taken]


@pytest.fixture
def inbox() -> Inbox:
    return Inbox()


@pytest.fixture
def server(inbox: Inbox) -> Iterator[Mail]:
    """A server on this machine, as a clinic would set it."""
    running = Controller(inbox, hostname="127.0.0.1", port=free_port(), ready_timeout=10)
    running.start()
    yield Mail("127.0.0.1", FROM, running.port, "none")
    running.stop()


def free_port() -> int:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        port: int = found.getsockname()[1]
        return port


@pytest.fixture
def mails(server: Mail) -> Iterator[Mail]:
    """The pages know of the server."""
    with override_settings(MAIL=server):
        yield server


def allows(site: Desk, case: str = "K-107", *, mail: bool = True, address: str = ADDRESS) -> None:
    do(site, SetPermissions(case, "", voicemail=False, message=mail, how="said on the telephone"), "ortiz")
    person = {"initials": "P. S.", "name": SECRET_NAME, "born": "1991-06-17", "mail": address}
    Person.objects.update_or_create(clinic=CLINIC, case=case, defaults=person)


@pytest.fixture
def released(sign_in: SignIn, site: Desk, mails: Mail) -> Desk:
    """A page of K-107 waits to be sent."""
    allows(site)
    client = sign_in("kowal")
    assert client.post(K, BY_MAIL.form(client)).status_code == 302
    return site


def waiting(site: Desk) -> int:
    return len([one for one in site.store.queued() if one.message.kind == "sheet-by-mail"])


# The page of the release


def test_without_a_server_mail_is_not_offered_and_not_taken(sign_in: SignIn, site: Desk) -> None:
    assert settings.MAIL is None
    allows(site)
    assert "How she gets it" not in look(sign_in("kowal"), K).main()
    page = refuses(sign_in, site, BY_MAIL)
    assert "mail-not-set" in page.summary()


def test_mail_is_not_offered_before_she_allowed_it_or_without_an_address(
    sign_in: SignIn, site: Desk, mails: Mail
) -> None:
    assert "she has not allowed it" in look(sign_in("kowal"), K).main()
    allows(site, mail=False)
    assert "mail-not-allowed" in refuses(sign_in, site, BY_MAIL).summary()
    do(site, SetPermissions("K-107", "", voicemail=False, message=True, how="she rang"), "ortiz")
    Person.objects.filter(case="K-107").update(mail="")
    page = look(sign_in("kowal"), K)
    assert "there is no address of hers" in page.main()
    assert "way-mail" not in page.source
    assert "mail-no-address" in refuses(sign_in, site, BY_MAIL).summary()


def test_paper_is_what_stands_there_and_sends_nothing(sign_in: SignIn, site: Desk, mails: Mail, inbox: Inbox) -> None:
    allows(site)
    assert look(sign_in("kowal"), K).form()["way"] == "print"
    does_it(sign_in, site, WITHOUT_CALL)
    assert waiting(site) == sender.send_waiting(site, mails, NOW) == 0
    assert inbox.taken == []


def test_a_release_by_mail_puts_one_message_in_the_queue_and_says_so(sign_in: SignIn, site: Desk, mails: Mail) -> None:
    allows(site)
    client = does_it(sign_in, site, BY_MAIL)
    assert waiting(site) == 1
    assert "Version 1 by mail: waits to be sent." in look(client, "/cases/K-107/").main()
    for entry in site.store.read_all():
        assert ADDRESS.encode() not in (entry.body or b"") + entry.header
    assert ADDRESS not in str(site.store.queued())


# What goes out


def test_the_sheet_goes_to_her_as_one_file_with_few_words(
    sign_in: SignIn, released: Desk, mails: Mail, inbox: Inbox
) -> None:
    before = heads(released)
    assert sender.send_waiting(released, mails, NOW) == 1
    (message,) = inbox.messages
    assert (message["To"], message["From"], inbox.rcpt) == (ADDRESS, FROM, [ADDRESS])
    assert message["Subject"] == "Your page from the clinic"
    body, page = message.iter_parts()
    assert (page.get_filename(), page.get_content_type()) == ("page.pdf", "application/pdf")
    assert page.get_content() == released.pages("K-107", 1)["sheet.pdf"]
    words = body.get_content() + str(message["Subject"]) + str(message["From"])
    for word in (SECRET_NAME, "Zinnia", "P. S.", "K-107", "nafarelin", "22:30", "10:30", "Quillmere", "fertility"):
        assert word.lower() not in words.lower(), word
    assert (waiting(released), heads(released)) == (0, before)
    assert "handed to the mail server Wed 18 Nov 16:25" in look(sign_in("kowal"), "/cases/K-107/").main()
    assert sender.send_waiting(released, mails, LATER[1]) == 0
    assert len(inbox.taken) == 1


def test_the_words_are_in_the_language_of_her_page(mails: Mail, inbox: Inbox) -> None:
    letter = sender.Letter(ADDRESS, "es", "<1@clinic.example>", b"%PDF-1.7")
    assert sender._post(mails, letter) is None
    (message,) = inbox.messages
    assert message["Subject"] == "Su página de la clínica"
    assert "llame al número" in next(message.iter_parts()).get_content()
    assert set(sender.SUBJECT) == set(sender.TEXT) == {"en", "es"}


# What fails


def test_a_server_that_does_not_answer_is_tried_again_and_the_case_says_so(
    sign_in: SignIn, released: Desk, mails: Mail, inbox: Inbox
) -> None:
    nowhere = replace(mails, port=1)
    assert sender.send_waiting(released, nowhere, NOW) == 0
    assert waiting(released) == 1
    page = look(sign_in("kowal"), "/cases/K-107/").main()
    assert "Version 1 by mail: not sent. The mail server did not answer. Tried 1 time, last Wed 18 Nov 16:25." in page
    assert "It is tried again at 16:27" in page
    assert sender.send_waiting(released, mails, LATER[0]) == 0
    assert inbox.taken == []
    assert sender.send_waiting(released, mails, LATER[1]) == 1
    assert len(inbox.taken) == 1


def test_it_waits_longer_after_each_failure_and_never_longer_than_a_quarter_of_an_hour(
    released: Desk, mails: Mail
) -> None:
    waits, now = [], dt.datetime.fromisoformat(NOW)
    for _ in range(6):
        sender.send_waiting(released, replace(mails, port=1), f"{now:%Y-%m-%dT%H:%M:%SZ}")
        following = dt.datetime.fromisoformat(Posting.objects.get().next_at)
        waits.append((following - now) // dt.timedelta(minutes=1))
        now = following
    assert waits == [2, 4, 8, 15, 15, 15]


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"refuses": ADDRESS}, "The mail server did not take her address."),
        ({"refuses": "", "says": "554 no"}, "The mail server did not take the message."),
        ({"refuses": "", "says": "451 later"}, "The mail server did not take the message."),
    ],
    ids=["address", "message", "for now"],
)
def test_what_a_server_refuses_is_said_without_its_words(
    sign_in: SignIn, released: Desk, mails: Mail, inbox: Inbox, change: dict[str, str], says: str
) -> None:
    for name, value in change.items():
        setattr(inbox, name, value)
    assert sender.send_waiting(released, mails, NOW) == 0
    assert Posting.objects.get().trouble == says
    page = look(sign_in("kowal"), "/cases/K-107/").main()
    assert says in page
    assert ADDRESS not in page


def test_a_mail_that_was_out_when_the_process_died_goes_once_more_under_the_same_message_id(
    released: Desk, mails: Mail, inbox: Inbox, monkeypatch: pytest.MonkeyPatch
) -> None:
    post = sender._post

    def dies(*given: Any) -> None:
        post(*given)
        raise KeyboardInterrupt

    monkeypatch.setattr(sender, "_post", dies)
    with pytest.raises(KeyboardInterrupt):
        sender.send_waiting(released, mails, NOW)
    monkeypatch.setattr(sender, "_post", post)
    assert sender.send_waiting(released, mails, NOW) == 0
    assert sender.send_waiting(released, mails, LATER[1]) == 1
    first, second = inbox.messages
    assert first["Message-ID"] == second["Message-ID"]
    page = released.pages("K-107", 1)["sheet.pdf"]
    what = f"{CLINIC} K-107 1 {hashlib.sha256(page).hexdigest()}"
    assert first["Message-ID"] == f"<{hashlib.sha256(what.encode()).hexdigest()[:32]}@clinic.example>"


def test_what_is_out_is_not_sent_again_for_want_of_being_struck_off(released: Desk, mails: Mail, inbox: Inbox) -> None:
    queued = released.store.queued()
    assert sender.send_waiting(released, mails, NOW) == 1
    with released.store.writing() as record:
        record.queue([one.message for one in queued])
    assert sender.send_waiting(released, mails, LATER[1]) == 0
    assert (waiting(released), len(inbox.taken)) == (0, 1)


def test_two_who_send_at_the_same_moment_send_it_once(
    released: Desk, mails: Mail, inbox: Inbox, monkeypatch: pytest.MonkeyPatch
) -> None:
    post = sender._post

    def meanwhile(*given: Any) -> Any:
        monkeypatch.setattr(sender, "_post", post)
        assert sender.send_waiting(released, mails, NOW) == 0
        return post(*given)

    monkeypatch.setattr(sender, "_post", meanwhile)
    assert sender.send_waiting(released, mails, NOW) == 1
    assert len(inbox.taken) == 1


# What is not sent any more


def test_a_page_that_is_void_before_it_is_out_is_not_sent(
    sign_in: SignIn, released: Desk, mails: Mail, inbox: Inbox
) -> None:
    do(released, VoidSheet("K-107", 1, "smudged"), "ortiz")
    assert sender.send_waiting(released, mails, NOW) == 0
    assert (waiting(released), inbox.taken) == (0, [])
    page = look(sign_in("kowal"), "/cases/K-107/").main()
    assert "It was not sent: the page does not hold any more." in page
    assert "It is tried again" not in page


def test_whoever_allows_it_no_more_gets_none(released: Desk, mails: Mail, inbox: Inbox) -> None:
    do(released, SetPermissions("K-107", "", voicemail=False, message=False, how="she rang"), "ortiz")
    assert sender.send_waiting(released, mails, NOW) == 0
    assert (waiting(released), inbox.taken) == (0, [])


def test_an_address_that_is_corrected_is_the_one_it_goes_to(released: Desk, mails: Mail, inbox: Inbox) -> None:
    Person.objects.filter(case="K-107").update(mail="")
    assert sender.send_waiting(released, mails, NOW) == 0
    assert "Who she is" in Posting.objects.get().trouble
    Person.objects.filter(case="K-107").update(mail="other@example.org")
    assert sender.send_waiting(released, mails, LATER[1]) == 1
    assert inbox.rcpt == ["other@example.org"]


def test_other_messages_stay_where_they_are(released: Desk, mails: Mail) -> None:
    others = [one for one in released.store.queued() if one.message.kind != "sheet-by-mail"]
    sender.send_waiting(released, mails, NOW)
    assert list(released.store.queued()) == others


# How it is kept secret on its way


@pytest.fixture
def certificate(tmp_path: Path) -> tuple[Path, ssl.SSLContext]:
    """A certificate for localhost that nobody vouches for but itself, and a server's use of it."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, "localhost")])
    now = dt.datetime.now(dt.UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(1)
        .not_valid_before(now - dt.timedelta(days=1))
        .not_valid_after(now + dt.timedelta(days=1))
        .add_extension(x509.SubjectAlternativeName([x509.DNSName("localhost")]), critical=False)
        .sign(key, hashes.SHA256())
    )
    path, secret = tmp_path / "certificate.pem", tmp_path / "key.pem"
    path.write_bytes(made.public_bytes(serialization.Encoding.PEM))
    secret.write_bytes(
        key.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption())
    )
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(path, secret)
    return path, context


def known(_: Any, __: Session, ___: Envelope, mechanism: str, data: Any) -> AuthResult:
    return AuthResult(success=(data.login, data.password) == (b"desk", b"a secret word"), handled=False)


@pytest.fixture
def secured(inbox: Inbox, certificate: tuple[Path, ssl.SSLContext]) -> Iterator[Mail]:
    running = Controller(
        inbox,
        hostname="127.0.0.1",
        port=free_port(),
        tls_context=certificate[1],
        require_starttls=True,
        auth_required=True,
        authenticator=known,
    )
    running.start()
    yield Mail("localhost", FROM, running.port, "starttls", "desk", "a secret word")
    running.stop()


LETTER = sender.Letter(ADDRESS, "en", "<1@clinic.example>", b"%PDF-1.7")


def test_a_certificate_that_nobody_vouches_for_gets_nothing(secured: Mail, inbox: Inbox) -> None:
    assert sender._post(secured, LETTER) == "The mail server's certificate is none that can be trusted."
    assert inbox.taken == []


def test_a_server_whose_certificate_is_trusted_is_signed_in_to_and_gets_it_in_secret(
    secured: Mail, inbox: Inbox, certificate: tuple[Path, ssl.SSLContext], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SSL_CERT_FILE", str(certificate[0]))
    assert sender._post(secured, LETTER) is None
    assert len(inbox.taken) == 1
    wrong = replace(secured, password="another")
    assert sender._post(wrong, LETTER) == "The mail server did not take the name and password."


def test_a_server_that_offers_no_secrecy_gets_nothing(server: Mail, inbox: Inbox) -> None:
    assert sender._post(replace(server, security="starttls"), LETTER) == (
        "The mail server does not offer what is set for it."
    )
    assert inbox.taken == []
