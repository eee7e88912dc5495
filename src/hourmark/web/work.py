"""The way into every page: who asks, for which clinic, with which desk; and the way out of every act."""

import datetime as dt
import re
import secrets
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property, wraps
from typing import Any, TypeAlias

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseNotAllowed
from django.shortcuts import redirect, render

from hourmark.case.asked import STAFF, Asked, Refused, Role, same_person
from hourmark.case.checks import OpenPlan
from hourmark.clock import Zone, moment_from_utc, parse_zone
from hourmark.clock.zones import zone_names
from hourmark.desk import Command, Damaged, Desk, Done, Moved, States
from hourmark.finding import Finding, Level
from hourmark.ledger import NotStored
from hourmark.store.database import DatabaseStore
from hourmark.web import drilling
from hourmark.web.forms import beside_fields
from hourmark.web.models import Look, Member, Person

CLINICAL = (Role.NURSE, Role.PRESCRIBER, Role.PHARMACIST, Role.LEAD)
"""Who reads cases in the course of their work."""

_WHOLE = re.compile(r"[0-9]{1,9}")

METHODS: dict[Callable[..., HttpResponse], tuple[str, ...]] = {}
"""How every page may be asked for."""

_DESKS: dict[str, Desk] = {}


@dataclass
class Work:
    """One request of a member of staff: the member, the clinic's desk, and its states as they are now."""

    request: HttpRequest
    member: Member
    desk: Desk
    states: States
    now: str
    findings: tuple[Finding, ...] = ()
    moved: dict[str, Any] = field(default_factory=dict)
    shown: set[str] = field(default_factory=set)

    @property
    def role(self) -> Role:
        """What the member answers for."""
        return Role(self.member.role)

    @property
    def asked(self) -> Asked:
        """Who asks, in which role, when."""
        return Asked(self.member.name, self.role, self.now)

    @property
    def typed(self) -> dict[str, str]:
        """What was typed into the form, and is shown again."""
        return {name: str(value) for name, value in self.request.POST.items()}

    @cached_property
    def zone(self) -> Zone:
        """Whose clock the page shows: the clinic's; London's while nobody has said where it is."""
        return parse_zone(self.states.rules().clinic.get("zone", "Europe/London"))

    @property
    def minute(self) -> str:
        """When this form was first sent, on the clinic's clock as a night file writes it."""
        return self.minute_in(self.states.rules().clinic.get("zone"))

    def minute_in(self, zone: object) -> str:
        """When this form was first sent, on the clock of a zone; in UTC where it can be read as none, and then the zone is what is refused.

        A form that comes twice says the same both times: only so is it known to be the same.
        """
        first = next(iter(self.desk.store.of_act(self.request.POST.get("key", ""))), None)
        at = first.read_header().at if first else self.now
        if zone not in zone_names():
            return f"{at[:10]} {at[11:16]}"
        here = moment_from_utc(at, parse_zone(zone))
        return f"{here.wall:%Y-%m-%d %H:%M}" + (f" {here.which}" if here.which else "")

    def said_blank(self, **wanted: str) -> tuple[Finding, ...]:
        """The fields in which nothing stands, each with what belongs there."""
        return tuple(
            wrong("field-blank", "This was left empty.", f"Enter {what}.", name)
            for name, what in wanted.items()
            if not self.typed.get(name, "").strip()
        )

    def person(self, case: str) -> Person | None:
        """Who the case is."""
        return Person.objects.filter(clinic=self.member.clinic, case=case).first()

    def perform(
        self,
        command: Command,
        seen: str | Mapping[str, int] | None = None,
        begins: str = "",
        beside: Callable[[], object] | None = None,
        key: str | None = None,
    ) -> Done | None:
        """Do it under the form's key. None where it was refused or somebody else was faster: `findings` and `moved` then say why.

        `seen` is the stream that the form was read from, or each of them with its last entry; `begins` is what the names of its fields
        begin with. `beside` writes what belongs with it beside the record; `key` is that of an act whose form is another's as well.
        """
        expected = {seen: self.had_seen} if isinstance(seen, str) else seen or {}
        answer = self.desk.perform(command, self.asked, key or self.request.POST.get("key", ""), expected, beside)
        match answer:
            case Done():
                return answer
            case Refused(findings):
                self.findings = (*self.findings, *beside_fields(findings, self.typed, begins))
            case Moved(since):
                self.moved = dict(since)
            case _:
                self.findings = (*self.findings, used())
        self.states = self.desk.states()
        return None

    @property
    def had_seen(self) -> int:
        """The last entry that stood there when the form was opened; none, where the form does not say."""
        typed = self.request.POST.get("seen", "")
        return int(typed) if _WHOLE.fullmatch(typed) else 0

    def _sees(self, stream: str | None) -> int:
        """What the form on the page may rest on. After a typing error still what it rested on before: what happened since is yet to be told."""
        if stream is None:
            return 0
        if self.request.method == "POST" and self.findings and not self.moved:
            return self.had_seen
        told = self.moved.get(stream)
        return int(told[-1].seq) if told else self.head_of(stream)

    def head_of(self, stream: str) -> int:
        """The last entry of a stream as it was read for this page."""
        known = self.states.heads.get(stream)
        return self.desk.store.head(stream).seq if known is None else known

    def page(self, template: str, status: int = 200, **given: Any) -> HttpResponse:
        """The page; refused where there is anything to say against what was sent."""
        context = {
            "work": self,
            "member": self.member,
            "typed": self.typed,
            "fields": self.typed,
            "findings": self.findings,
            "moved": self.moved,
            "seen": self._sees(given.pop("seen_stream", None)),
            **given,
        }
        failed = bool(self.findings or self.moved) and self.request.method == "POST"
        return render(self.request, f"{template}.html", context, status=422 if failed and status == 200 else status)

    def done(self, said: str, to: str, *args: Any) -> HttpResponse:
        """Say that it was done, and go on."""
        messages.success(self.request, said)
        return redirect(to, *args)


def wrong(code: str, what: str, do: str, where: str) -> Finding:
    """What is wrong with one field of a form."""
    return Finding(code, Level.STOP, what, do, where, "what this form asks for", "hourmark's own rule")


def used() -> Finding:
    """Why a form whose key belongs to another act does nothing."""
    return Finding(
        "form-used",
        Level.STOP,
        "This form was already used for something else.",
        "Look at the case as it is now, and send it again if it is still wanted.",
        limit="a form is used one time",
        source="hourmark's own rule",
    )


Page: TypeAlias = Callable[..., HttpResponse]


def desk_of(clinic: str) -> Desk:
    """The desk of a clinic, with what it remembers between requests."""
    if clinic not in _DESKS:
        _DESKS[clinic] = Desk(DatabaseStore(clinic), lambda: secrets.token_bytes(16))
    return _DESKS[clinic]


def instant() -> str:
    """Now, as the record writes it: by the machine's clock, and in a drill by that of its night."""
    return shown_at(dt.datetime.now(dt.UTC))


def shown_at(machine: dt.datetime) -> str:
    """What the pages show as now at a moment of the machine (UTC), as the record writes it."""
    night = drilling.clock()
    return f"{night.at(machine) if night is not None else machine:%Y-%m-%dT%H:%M:%SZ}"


def machine_instant() -> str:
    """Now by the machine: for what is no part of a night, such as whether the watch still looks."""
    return f"{dt.datetime.now(dt.UTC):%Y-%m-%dT%H:%M:%SZ}" if drilling.clock() is not None else instant()


def page(*methods: str, roles: tuple[Role, ...] = STAFF) -> Callable[[Page], Page]:
    """A page for members of staff. Another method is 405, another role is told so; a damaged or unreachable record is said, never hidden."""

    def around(view: Page) -> Page:
        @wraps(view)
        def guarded(request: HttpRequest, **address: Any) -> HttpResponse:
            if request.method not in methods:
                return HttpResponseNotAllowed(methods)
            member: Member = request.user.member  # type: ignore[union-attr]
            try:
                desk = desk_of(member.clinic)
                work = Work(request, member, desk, desk.states(), instant())
                if work.role not in roles:
                    return work.page("not-permitted", 403, roles=roles)
                return view(work, **address)
            except Damaged as damaged:
                return render(request, "record-damaged.html", {"findings": damaged.findings}, status=503)
            except NotStored as failed:
                return render(request, "not-stored.html", {"what": failed, "typed": request.POST.items()}, status=503)

        METHODS[guarded] = methods
        return guarded

    return around


def case_page(
    *methods: str, roles: tuple[Role, ...] = CLINICAL, shows_plan: bool = False, while_open: bool = False
) -> Callable[[Page], Page]:
    """A page about one case. One that is not this clinic's is 404, whether it is another's or nobody's; who looks is kept.

    Whoever does not read cases in the course of their work is asked for the reason first, and looks only. A page that `shows_plan` goes on the record of
    the case: whoever has seen it cannot check it blind. One that is only for use `while_open` shows no form of a case that is closed.
    """

    def around(view: Page) -> Page:
        @page(*methods)
        @wraps(view)
        def guarded(work: Work, case: str, **address: Any) -> HttpResponse:
            state = work.states.case(case)
            if not state.there:
                raise Http404
            reason = work.request.session.get(f"reason-{case}", "")
            if work.role not in CLINICAL and not reason:
                return work.page("why-look", 403, case=case, next=work.request.path)
            only_looks = work.role not in CLINICAL and work.request.method != "GET"
            if only_looks or (work.role in CLINICAL and work.role not in roles):
                return work.page("not-permitted", 403, roles=roles)
            Look.objects.create(
                clinic=work.member.clinic, case=case, member=work.member, at=work.now, page=view.__name__, reason=reason
            )
            known = any(same_person(work.member.name, name) for name in state.opened_by)
            if shows_plan and not known and not state.closed:
                seen = f"look-{work.member.pk}-{case}-{state.changed_at}-{secrets.token_hex(4)}"
                work.desk.perform(OpenPlan(case, view.__name__), work.asked, seen)
                work.states = work.desk.states()
                state = work.states.case(case)
            if while_open and state.closed and work.request.method == "GET":
                return work.page("closed", state=state)
            return view(work, state, **address)

        return guarded

    return around
