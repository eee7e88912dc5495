"""The clinic: its signed rules, its staff, and the sources of every figure."""

import secrets
from collections.abc import Iterator

from django.contrib.auth import get_user_model
from django.core.paginator import Paginator
from django.db import transaction
from django.http import HttpResponse

from hourmark.case.asked import STAFF, Role, same_person
from hourmark.case.rules import MeasureBarrel, SignRules
from hourmark.case.streams import RULES
from hourmark.finding import Finding
from hourmark.formulary import barrels as barrels_known
from hourmark.formulary import facts, products
from hourmark.formulary.audit import every_fact
from hourmark.web.forms import fields_of, highest_row, table_of
from hourmark.web.models import Look, Member
from hourmark.web.work import Work, page, wrong

_PROPOSED = {
    "tell_by": "tell-by",
    "lay_out": "lay-out",
    "mixing": "mixing",
    "arrival": "arrival",
    "fasting_solids": "fasting-solids",
    "fasting_clear": "fasting-clear",
    "tolerance_note": "tolerance-note",
    "tolerance_warn": "tolerance-warn",
}
"""Rules with a proposal beside them: the key in the rules, and that of the proposal."""

_RUNGS = {
    "ladder-her": "her own number",
    "ladder-other-number": "her second number or her helper",
    "ladder-prescriber": "the prescriber",
}
"""Who is told of silence, and the proposal of after how long."""

_UNREACHED = {
    "unreached-other": "whoever she said may be told",
    "unreached-prescriber": "the prescriber",
}
"""Who is told of somebody who is not reached, and the proposal of after how long."""

_BANDS = ("standard", "long_agonist", "double_agonist", "double_hcg")
_ROOM = {"phones": 3, "rules.mixes": 6, "rules.ladder": 4, "rules.unreached": 3}
"""How many rows of each a form has room for; more where there are more."""

_BESIDE = ("csrfmiddlewaretoken", "key", "seen")


@page("GET", "POST")
def rules(work: Work) -> HttpResponse:
    """The clinic and its rules in force; the lead changes and signs them. A proposal rules nothing until it stands here signed."""
    state = work.states.rules()
    fields = fields_of(state.clinic)
    if work.request.method == "POST":
        if work.role is not Role.LEAD:
            return work.page("not-permitted", 403, roles=(Role.LEAD,))
        fields = work.typed
        clinic = table_of({name: value for name, value in fields.items() if name not in _BESIDE})
        signed = clinic.pop("rules", {})
        if isinstance(signed, dict):
            signed |= {"signed_by": work.member.name, "signed_at": work.minute_in(clinic.get("zone"))}
        clinic.pop("barrels", None)
        barrels = {"barrels": state.clinic["barrels"]} if "barrels" in state.clinic else {}
        if work.perform(SignRules({**clinic, **barrels, "rules": signed}), RULES):
            return work.done("The rules are signed. Pages that rested on what changed are void.", "rules")
    return _shown(work, fields)


def _shown(work: Work, fields: dict[str, str]) -> HttpResponse:
    room = {name: max(usual, highest_row(fields, name) + 1) for name, usual in _ROOM.items()}
    proposals = facts("proposals")
    return work.page(
        "rules",
        state=work.states.rules(),
        fields=fields,
        asked=[(f"rules.{key}", key.replace("_", " "), proposals.get(name)) for key, name in _PROPOSED.items()],
        bands=[(name.replace("_", " "), f"rules.bands.{name}") for name in _BANDS],
        widths=("ok", "note", "warn"),
        phones=[f"phones[{place}]" for place in range(1, room["phones"] + 1)],
        mixes=[f"rules.mixes[{place}]" for place in range(1, room["rules.mixes"] + 1)],
        ladder=[f"rules.ladder[{place}]" for place in range(1, room["rules.ladder"] + 1)],
        rungs=[(label, proposals[name]) for name, label in _RUNGS.items()],
        unreached=[f"rules.unreached[{place}]" for place in range(1, room["rules.unreached"] + 1)],
        unreached_rungs=[(label, proposals[name]) for name, label in _UNREACHED.items()],
        products=sorted(products()),
        syringes=sorted(barrels_known()),
        seen_stream=RULES,
    )


@page("POST", roles=(Role.NURSE, Role.PHARMACIST, Role.LEAD))
def barrel(work: Work) -> HttpResponse:
    """The scale of a barrel in use, as measured: from then on drawn at true size."""
    measured = table_of(work.typed, "barrel.")
    measured |= {"measured_by": work.member.name, "measured_at": work.minute}
    if work.perform(MeasureBarrel(measured), RULES, "barrel."):
        return work.done("The barrel is on the record.", "rules")
    typed = {name: value for name, value in work.typed.items() if name.startswith("barrel.")}
    return _shown(work, fields_of(work.states.rules().clinic) | typed)


@page("GET", "POST")
def staff(work: Work) -> HttpResponse:
    """Who works here; the manager enters somebody, with a first password that is shown one time."""
    shown, fields = None, work.typed
    if work.request.method == "POST":
        if not work.member.manager:
            return work.page("not-permitted", 403, roles=("manager",))
        name, username, role = (fields.get(key, "").strip() for key in ("name", "username", "role"))
        work.findings = tuple(_not_entered(work, name, username, role))
        if not work.findings:
            shown = secrets.token_urlsafe(16)
            with transaction.atomic():
                user = get_user_model().objects.create_user(username=username, password=shown)
                Member.objects.create(user=user, clinic=work.member.clinic, name=name, role=role)
            fields = {}
    members = Member.objects.filter(clinic=work.member.clinic).order_by("name")
    outside = Look.objects.filter(clinic=work.member.clinic).exclude(reason="").order_by("-id")[:50]
    return work.page(
        "staff",
        members=members,
        shown=shown,
        outside=outside if work.member.manager else [],
        fields=fields,
        roles=list(map(str, STAFF)),
    )


def _not_entered(work: Work, name: str, username: str, role: str) -> Iterator[Finding]:
    """Why somebody cannot be entered so."""
    yield from work.said_blank(name="a name", username="a name to sign in with", role="a role")
    members = Member.objects.filter(clinic=work.member.clinic)
    if name and any(same_person(name, one.name) for one in members):
        yield wrong("file-id-repeated", f"{name} is entered already.", "Add what tells the two people apart.", "name")
    if username and get_user_model().objects.filter(username__iexact=username).exists():
        yield wrong("file-id-repeated", f"Somebody signs in as {username} already.", "Choose another.", "username")
    if role and role not in set(map(str, STAFF)):
        yield wrong("file-value", f'"{role}" is not a role here.', f"Choose one of: {', '.join(STAFF)}.", "role")
    for field, typed, most in (("name", name, _MOST_NAME), ("username", username, _MOST_USERNAME)):
        if len(typed) > most:
            yield wrong("file-value", "This is too long.", f"Write at most {most} characters.", field)


_MOST_NAME, _MOST_USERNAME = 200, 150


@page("GET")
def sources(work: Work) -> HttpResponse:
    """Where every figure comes from."""
    begins = work.request.GET.get("key", "").strip()
    found = [fact for key, fact in sorted(every_fact().items()) if key.startswith(begins)]
    shown = Paginator(found, _A_PAGE).get_page(work.request.GET.get("page"))
    return work.page("sources", found=shown, begins=begins)


_A_PAGE = 100
"""How many figures stand on one page of them."""
