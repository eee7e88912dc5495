"""Her phone: one request of whoever holds a link. It reaches the one case that the link was made for, and no session of the staff."""

from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from functools import wraps
from typing import Any, TypeAlias

from django.conf import settings
from django.core import signing
from django.db import DatabaseError
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseNotAllowed
from django.shortcuts import render
from django.views.decorators.csrf import csrf_exempt

from hourmark.case import events as e
from hourmark.case.asked import Asked, Role
from hourmark.case.injections import settled_since
from hourmark.case.night import ALL
from hourmark.case.phone import LinkKind, link_leads
from hourmark.case.state import CaseState, Kept, LinkStanding
from hourmark.case.streams import case_stream
from hourmark.clock import Moment, moment_from_utc, parse_zone
from hourmark.desk import Damaged, Desk, States, recorded
from hourmark.desk.acts import Command
from hourmark.desk.desk import Answer
from hourmark.handout.language import Language
from hourmark.handout.walk import WalkThrough, walk_from
from hourmark.ledger import NotStored
from hourmark.store.django_settings import SETTINGS
from hourmark.web import work
from hourmark.web.models import Link
from hourmark.web.pages.phone_form import protected
from hourmark.web.pages.phone_number import Lines, anybody, known, last_known, lines_of
from hourmark.web.pages.phone_words import LANGUAGES, words_of
from hourmark.web.work import METHODS

BY = "her phone"
"""What the record calls whoever holds a link."""

THE_BOXES, HER_REPORT = "the boxes", "her report"
"""Where she stands, by the record, when she waits for a call that she may not go on without: something on her boxes, or in her report, is wrong."""

NOT_SAID = "not said"
"""How much was given, by the record, where she sent a report and left that out."""

_PREFIX = settings.COOKIES
PAGE_COOKIE, PRACTICE_COOKIE, LOOK_COOKIE = f"{_PREFIX}-page", f"{_PREFIX}-practice", f"{_PREFIX}-look"
_COOKIES: dict[LinkKind, str] = {"page": PAGE_COOKIE, "practice": PRACTICE_COOKIE}
"""A cookie for each kind of link, so that on one phone neither takes the other's place."""
_SIGNER = signing.Signer(salt="hourmark.web.page")
_WALKS: OrderedDict[str, WalkThrough] = OrderedDict()
_MOST_WALKS = 256

Page: TypeAlias = Callable[..., HttpResponse]


@dataclass(frozen=True, slots=True)
class Look:
    """How she likes the page, and the step at which she last stood. `scheme` is "dark", "bright" or "" for what the phone says."""

    large: bool = False
    scheme: str = ""
    leg: int = 0
    step: int = 0


@dataclass
class Visit:
    """One request: the link, its case as it now is, and the walk-through of the page that the link was made for."""

    request: HttpRequest
    link: Link
    given: e.LinkGiven
    desk: Desk
    states: States
    state: CaseState
    now: str

    @property
    def words(self) -> Language:
        """Her language."""
        return words_of(self.state.details.get("language"))

    @property
    def leads(self) -> bool:
        """Whether the page still counts; a report of what was injected is kept even where it does not."""
        return link_leads(self.state, self.link.number, self.now)

    @property
    def walk(self) -> WalkThrough | None:
        """The walk-through of her page; None for practice before there is one, and for a page from before there were any."""
        sheet = next((one.event for one in self.state.sheets if one.event.version == self.given.sheet), None)
        page = next((one for one in sheet.pages if one.name == "walk.json"), None) if sheet is not None else None
        if page is None or sheet is None:
            return None
        if page.sha256 not in _WALKS:
            stored = self.desk.pages(self.state.id, sheet.version).get(page.name)
            if stored is None:
                return None
            _WALKS[page.sha256] = walk_from(stored)
            if len(_WALKS) > _MOST_WALKS:
                _WALKS.popitem(last=False)
        return _WALKS[page.sha256]

    @property
    def dues(self) -> tuple[e.Due, ...]:
        """What her page has her inject, in its order."""
        return next((one.event.dues for one in self.state.sheets if one.event.version == self.given.sheet), ())

    @property
    def lines(self) -> Lines:
        """Whom to ring now."""
        rules = self.states.rules()
        return lines_of(known(self.link.clinic, rules), self.now)

    @property
    def zone(self) -> str:
        """The zone of the clock by which she goes."""
        return str(self.state.details.get("zone") or self.states.rules().clinic.get("zone"))

    def here(self, at: str, zone: str = "") -> Moment:
        """An instant on her clock."""
        return moment_from_utc(at, parse_zone(zone or self.zone))

    def clock(self, at: str) -> str:
        """The clock time of an instant, as she reads it."""
        return self.words.clock_time(self.here(at))

    @property
    def told(self) -> str:
        """The reports and the stops that stand, by the numbers of their entries: another as soon as anybody tells of a medicine, or answers."""
        return " ".join(str(one.seq) for one in (*self.state.confirmations, *self.stops))

    @property
    def stops(self) -> tuple[Kept[e.HelpAsked] | Kept[e.Confirmed], ...]:
        """What keeps her from every step of every medicine: calls that the clinic has not answered, and her reports that are not plainly "all".

        A call ends when somebody of the clinic enters what was said in it. A report ends with the call that it asked for, when a problem
        with its medicine is settled, or when another takes its place: also one for which the call could not be stored.
        """
        calls = tuple(one for one in self.state.waiting if one.event.where in (THE_BOXES, HER_REPORT))
        last = {one.event.injection: one for one in self.state.confirmations}
        hers = (one for one in last.values() if one.actor == BY and one.event.amount != ALL)
        return *calls, *(one for one in hers if not settled_since(self.state, one) and not self._is_answered(one))

    def _is_answered(self, report: Kept[e.Confirmed]) -> bool:
        """Whether the call that a report asked for was answered since; one that leaves out how much asks for none."""
        if report.event.amount == NOT_SAID:
            return False
        every = recorded(self.desk.store, case_stream(self.state.id))
        asked = {
            one.seq
            for one in every
            if isinstance(one.event, e.HelpAsked)
            and (one.event.injection, one.event.where) == (report.event.injection, HER_REPORT)
        }
        return any(
            isinstance(one.event, e.HelpGiven) and one.event.entry in asked and one.seq > report.seq for one in every
        )

    @property
    def stop(self) -> tuple[str, ...]:
        """Why she is to open and give nothing, by the names of the phrases; nothing where she may go on."""
        found = self.stops
        wheres = {one.event.where for one in found if isinstance(one.event, e.HelpAsked)}
        told = {one.event.amount for one in found if isinstance(one.event, e.Confirmed)}
        wrong = HER_REPORT in wheres or bool(told - {NOT_SAID})
        names = {"stop-boxes": THE_BOXES in wheres, "stop-report": wrong, "stop-not-said": NOT_SAID in told}
        return tuple(name for name, stands in names.items() if stands)

    def perform(self, command: Command, key: str) -> Answer:
        """Do it, as her; the states are then read anew."""
        answer = self.desk.perform(command, Asked(BY, Role.PATIENT, self.now), key)
        self.states = self.desk.states()
        self.state = self.states.case(self.state.id)
        return answer

    def page(self, template: str, status: int = 200, **given: Any) -> HttpResponse:
        """A page of hers."""
        waits = self.state.waiting
        context = {
            "visit": self,
            "words": self.words,
            "look": look_of(self.request),
            "lines": self.lines,
            "checked": self.clock(self.now),
            "called": self.clock(waits[-1].at) if waits else "",
            "stop": self.stop if self.given.kind == "page" else (),
            "times": time_patterns(self.words),
            **given,
        }
        response = render(self.request, f"phone/{template}.html", context, status=status)
        if {"type", "light"} & set(self.request.GET):
            keep_look(response, look_of(self.request))
        return response


def time_patterns(words: Language) -> dict[str, str]:
    """How a time to wait is said, with its figures still open: for the script that counts."""
    names = ("hours", "minutes", "soon", "now", "past", "past-hours")
    return {name.replace("-", "_"): words.tables["phone"][f"time-{name}"] for name in names}


def look_of(request: HttpRequest) -> Look:
    """How she likes the page: as asked for now, otherwise as noted before."""
    kept = request.COOKIES.get(LOOK_COOKIE, "").split(".")
    kept = kept if len(kept) == 4 else ["", "", "0", "0"]
    large, scheme = request.GET.get("type", kept[0]), request.GET.get("light", kept[1])
    place = [int(part) if part.isdecimal() and len(part) < 4 else 0 for part in kept[2:]]
    return Look(large == "large", scheme if scheme in ("dark", "bright") else "", *place)


def keep_look(response: HttpResponse, look: Look) -> None:
    """Note how she likes the page, and where she stands."""
    kept = f"{'large' if look.large else ''}.{look.scheme}.{look.leg}.{look.step}"
    response.set_cookie(LOOK_COOKIE, kept, secure=settings.SESSION_COOKIE_SECURE, httponly=True, samesite="Lax")


def let_in(response: HttpResponse, link: Link, kind: LinkKind, seconds: int) -> None:
    """Give this browser what a link of that kind leads to, for so long."""
    response.set_cookie(
        _COOKIES[kind],
        _SIGNER.sign(link.digest),
        max_age=max(0, seconds),
        secure=settings.SESSION_COOKIE_SECURE,
        httponly=True,
        samesite="Lax",
    )


def case_of(link: Link) -> tuple[Desk, States, CaseState, LinkStanding | None]:
    """The case of a link as it now is, and how the link stands in its record."""
    desk = work.desk_of(link.clinic)
    states = desk.states()
    state = states.case(link.case)
    return desk, states, state, next((one for one in state.links if one.event.number == link.number), None)


def _visit(request: HttpRequest, kind: LinkKind, reports: bool) -> Visit | None:
    """Who comes by a link of that kind; None where it does not lead here, or does not any more.

    With `reports`, a link leads on after its page is void or another link took its place, for what was injected by it; not after it
    was revoked by hand, nor for ever.
    """
    try:
        digest = _SIGNER.unsign(request.COOKIES.get(_COOKIES[kind], ""))
    except signing.BadSignature:
        return None
    link = Link.objects.filter(digest=digest).first()
    if link is None:
        return None
    desk, states, state, standing = case_of(link)
    if standing is None or standing.event.kind != kind:
        return None
    visit = Visit(request, link, standing.event, desk, states, state, work.instant())
    kept = reports and (standing.replaced or not standing.revoked) and visit.now < standing.event.expires
    return visit if kept or visit.leads else None


def gone(request: HttpRequest) -> HttpResponse:
    """Whom to ring, and nothing else: the same for every link that leads nowhere, whatever the reason."""
    return _unknown(request, "gone", 404, anybody(work.instant()), unsent=_is_report(request))


def failed(request: HttpRequest) -> HttpResponse:
    """The record could not be reached: nothing of it is said to be stored, and what was typed can be sent again as it is."""
    return _unsent(request, 503)


def too_old(request: HttpRequest) -> HttpResponse:
    """A form whose token is not this browser's: nothing is stored, and it can be sent again."""
    return sealed(_unsent(request, 403))


def _unsent(request: HttpRequest, status: int) -> HttpResponse:
    kept = [(name, value) for name, value in request.POST.items() if name != "csrfmiddlewaretoken"]
    sent = request.method == "POST"
    counts = _is_report(request)
    return _unknown(request, "failed", status, last_known(work.instant()), kept=kept, sent=sent, counts=counts)


def _is_report(request: HttpRequest) -> bool:
    return request.method == "POST" and request.path.endswith("/done/")


def _unknown(request: HttpRequest, template: str, status: int, lines: Lines, **given: Any) -> HttpResponse:
    every = [words_of(code) for code in LANGUAGES]
    context = {"words": every[0], "every": every, "lines": lines, "look": Look(), "demo": SETTINGS.demo, **given}
    return render(request, f"phone/{template}.html", context, status=status)


def unknown_page(request: HttpRequest, template: str, status: int = 200, **given: Any) -> HttpResponse:
    """A page for somebody of whom nothing is known yet but the link."""
    return _unknown(request, template, status, anybody(work.instant()), **given)


def sealed(response: HttpResponse) -> HttpResponse:
    """Nothing of it goes on to another site, into a cache or into a list of addresses."""
    response["Referrer-Policy"] = "no-referrer"
    response["X-Robots-Tag"] = "noindex, nofollow, noarchive"
    response["Cache-Control"] = "no-store"
    return response


def phone_page(*methods: str, kind: LinkKind = "page", reports: bool = False) -> Callable[[Page], Page]:
    """A page of hers, for a link of that kind. `reports` lets a report through by a page that is void since."""

    def around(view: Page) -> Page:
        def visited(request: HttpRequest, **address: Any) -> HttpResponse:
            visit = _visit(request, kind, reports and request.method == "POST")
            return gone(request) if visit is None else view(visit, **address)

        return open_page(*methods)(wraps(view)(visited))

    return around


def open_page(*methods: str) -> Callable[[Page], Page]:
    """A page for whoever asks. Forms are held to their token, every answer is sealed, and a record out of reach is said."""

    def around(view: Page) -> Page:
        @csrf_exempt  # by the check of the site: this one takes its place
        @protected(too_old=too_old)
        @wraps(view)
        def guarded(request: HttpRequest, **address: Any) -> HttpResponse:
            if request.method not in methods:
                return sealed(HttpResponseNotAllowed(methods))
            try:
                return sealed(view(request, **address))
            except Http404:
                return sealed(gone(request))
            except (Damaged, NotStored, DatabaseError):
                return sealed(failed(request))

        page: Page = guarded  # type: ignore[assignment]
        METHODS[page] = methods
        return page

    return around
