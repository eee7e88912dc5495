"""The nurse's side of her phone: a link made, shown one time, and revoked."""

import secrets
from dataclasses import dataclass

import segno
from django.conf import settings
from django.http import HttpResponse
from django.urls import reverse
from django.utils.safestring import SafeString, mark_safe

from hourmark.case import events as e
from hourmark.case.asked import Role
from hourmark.case.phone import GiveLink, LinkKind, RevokeLink, link_leads
from hourmark.case.shapes import from_entry
from hourmark.case.state import CaseState, LinkStanding
from hourmark.case.streams import case_stream
from hourmark.clock import shifted
from hourmark.desk import Done
from hourmark.store.django_settings import SETTINGS
from hourmark.web.models import Link
from hourmark.web.pages.phone_token import MOST_WRONG, code_digest, digest_of, is_locked, new_code, new_token
from hourmark.web.work import Work, case_page

AFTER_SLOT, AFTER_LAST = 12 * 60, 24 * 60
"""For how many minutes a link leads on: after the slot, and where there is none after the last injection."""

_MAKERS = (Role.NURSE, Role.PRESCRIBER)


@dataclass(frozen=True, slots=True)
class Secret:
    """What is shown one time: the address, the same to be photographed, and the code that is told on the telephone."""

    address: str
    square: SafeString
    code: str | None
    kind: str


@dataclass(frozen=True, slots=True)
class Standing:
    """One link of a case as it is listed."""

    given: e.LinkGiven
    at: str
    by: str
    leads: bool
    how: str
    tries: int


@case_page("GET", "POST", roles=_MAKERS, while_open=True)
def link(work: Work, state: CaseState) -> HttpResponse:
    """The links of a case, and the form that makes one."""
    secret, shown_before = None, False
    if work.request.method == "POST":
        kind: LinkKind = "practice" if work.typed.get("kind") == "practice" else "page"
        done = work.perform(GiveLink(state.id, kind, expires_of(state, work.now)))
        if done is not None and not done.again:
            secret = _kept(work, state.id, _given(done), with_code=work.typed.get("code") == "true")
        shown_before = done is not None and done.again
        work.states = work.desk.states()
    return _shown(work, state, secret, shown_before)


@case_page("POST", roles=_MAKERS)
def revoke(work: Work, state: CaseState, number: int) -> HttpResponse:
    """A link that leads nowhere from now on."""
    why = work.typed.get("why", "").strip() or "revoked by hand"
    if work.perform(RevokeLink(state.id, number, why)):
        return work.done(f"Link {number} leads nowhere any more.", "link", state.id)
    return _shown(work, state)


def _shown(work: Work, state: CaseState, secret: Secret | None = None, shown_before: bool = False) -> HttpResponse:
    state = work.states.case(state.id)
    return work.page(
        "link",
        state=state,
        person=work.person(state.id),
        links=standings(work.member.clinic, state, work.now),
        secret=secret,
        shown_before=shown_before,
        most_wrong=MOST_WRONG,
        seen_stream=case_stream(state.id),
    )


def _given(done: Done) -> e.LinkGiven:
    """The link that an act gave."""
    events = (recorded.event for entry in done.entries if (recorded := from_entry(entry)) is not None)
    return next(event for event in events if isinstance(event, e.LinkGiven))


def _kept(work: Work, case: str, given: e.LinkGiven, *, with_code: bool) -> Secret:
    """The secret of the link that was just given: kept as what tells it, and handed back to be shown."""
    token, code, salt = new_token(), new_code() if with_code else None, secrets.token_hex(16)
    Link.objects.create(
        clinic=work.member.clinic,
        case=case,
        number=given.number,
        digest=digest_of(token),
        code_salt=salt if code else "",
        code_digest=code_digest(salt, code) if code else "",
    )
    address = _address(work, token)
    square = segno.make(address, error="m", micro=False)
    drawn = square.svg_inline(scale=6, border=4, light="#fff", dark="#000", svgclass="square")
    return Secret(address, mark_safe(drawn), code, given.kind)


def _address(work: Work, token: str) -> str:
    """The whole address. The host is the one that was set, never what somebody's request says; on this machine alone it has a port."""
    host = SETTINGS.hosts[0] if settings.SESSION_COOKIE_SECURE else work.request.get_host()
    scheme = "https" if settings.SESSION_COOKIE_SECURE else "http"
    return f"{scheme}://{host}{reverse('phone-door', args=[token])}"


def expires_of(state: CaseState, now: str) -> str:
    """Until when a link of this case leads somewhere."""
    if state.slot is not None:
        return shifted(state.slot.instant, AFTER_SLOT)
    dues = state.sheet.event.dues if state.sheet is not None else ()
    return shifted(max((due.at for due in dues), default=now), AFTER_LAST)


def standings(clinic: str, state: CaseState, now: str) -> list[Standing]:
    """Every link of a case, the newest first."""
    kept = {one.number: one for one in Link.objects.filter(clinic=clinic, case=state.id)}
    return [_standing(state, one, kept.get(one.event.number), now) for one in reversed(state.links)]


def _standing(state: CaseState, one: LinkStanding, kept: Link | None, now: str) -> Standing:
    leads = link_leads(state, one.event.number, now)
    if one.revoked:
        how = "revoked"
    elif now >= one.event.expires:
        how = "expired"
    elif not leads:
        how = "leads nowhere: its page is void, or the case is closed"
    elif kept is None:
        how = "leads nowhere: it was never shown. Make another"
    elif is_locked(kept):
        how = f"locked after {MOST_WRONG} wrong codes. Make another"
    else:
        how = "leads to her page" if one.event.kind == "page" else "leads to practice"
    works = leads and kept is not None and not is_locked(kept)
    return Standing(one.event, one.at, one.actor, works, how, kept.wrong if kept else 0)
