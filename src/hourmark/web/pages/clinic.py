"""The clinic: its signed rules, its staff, and the sources of every figure."""

import secrets
from typing import Any

from django.contrib.auth import get_user_model
from django.http import HttpResponse

from hourmark.case.asked import Role
from hourmark.case.rules import MeasureBarrel, SignRules
from hourmark.case.streams import RULES
from hourmark.clock import moment_from_utc, parse_zone
from hourmark.clock.zones import zone_names
from hourmark.formulary import barrels as barrels_known
from hourmark.formulary import facts, products
from hourmark.formulary.audit import every_fact
from hourmark.web.forms import fields_of, table_of
from hourmark.web.models import Look, Member
from hourmark.web.work import Work, page

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

_BANDS = ("standard", "long_agonist", "double_agonist", "double_hcg")
_ROOM = {"phones": 3, "mixes": 6}
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
        signed = clinic.get("rules", {}) | {"signed_by": work.member.name, "signed_at": _minute(work, clinic)}
        barrels = {"barrels": state.clinic["barrels"]} if "barrels" in state.clinic else {}
        if work.perform(SignRules({**clinic, **barrels, "rules": signed}), RULES):
            return work.done("The rules are signed. Pages that rested on what changed are void.", "rules")
    proposals = facts("proposals")
    return work.page(
        "rules",
        state=work.states.rules(),
        fields=fields,
        in_force=fields_of(state.clinic),
        asked=[(f"rules.{key}", key.replace("_", " "), proposals.get(name)) for key, name in _PROPOSED.items()],
        bands=[(name.replace("_", " "), f"rules.bands.{name}") for name in _BANDS],
        widths=("ok", "note", "warn"),
        phones=[f"phones[{place}]" for place in range(1, _ROOM["phones"] + 1)],
        mixes=[f"rules.mixes[{place}]" for place in range(1, _ROOM["mixes"] + 1)],
        products=sorted(products()),
        syringes=sorted(barrels_known()),
        seen_stream=RULES,
    )


@page("POST", roles=(Role.NURSE, Role.PHARMACIST, Role.LEAD))
def barrel(work: Work) -> HttpResponse:
    """The scale of a barrel in use, as measured: from then on drawn at true size."""
    measured = table_of(work.typed, "barrel.")
    measured |= {"measured_by": work.member.name, "measured_at": _minute(work, work.states.rules().clinic)}
    if work.perform(MeasureBarrel(measured), RULES):
        return work.done("The barrel is on the record.", "rules")
    return work.page("barrel-refused")


def _minute(work: Work, clinic: dict[str, Any]) -> str:
    """Now, on the clinic's clock; in UTC while no zone can be read, and then the zone is what is refused."""
    zone = clinic.get("zone")
    if zone not in zone_names():
        return f"{work.now[:10]} {work.now[11:16]}"
    here = moment_from_utc(work.now, parse_zone(zone))
    return f"{here.wall:%Y-%m-%d %H:%M}" + (f" {here.which}" if here.which else "")


@page("GET", "POST")
def staff(work: Work) -> HttpResponse:
    """Who works here; the manager enters somebody, with a first password that is shown one time."""
    shown, fields = None, work.typed
    if work.request.method == "POST":
        if not work.member.manager:
            return work.page("not-permitted", 403, roles=("manager",))
        name, username, role = (fields.get(key, "").strip() for key in ("name", "username", "role"))
        users = get_user_model()
        taken = users.objects.filter(username=username).exists() or Member.objects.filter(
            clinic=work.member.clinic, name=name
        )
        if name and username and role in set(map(str, Role)) and not taken:
            shown = secrets.token_urlsafe(16)
            user = users.objects.create_user(username=username, password=shown)
            Member.objects.create(user=user, clinic=work.member.clinic, name=name, role=role)
    members = Member.objects.filter(clinic=work.member.clinic).order_by("name")
    outside = Look.objects.filter(clinic=work.member.clinic).exclude(reason="").order_by("-id")[:50]
    return work.page(
        "staff",
        members=members,
        shown=shown,
        outside=outside if work.member.manager else [],
        fields=fields,
        roles=list(map(str, Role)),
    )


@page("GET")
def sources(work: Work) -> HttpResponse:
    """Where every figure comes from."""
    begins = work.request.GET.get("key", "").strip()
    found = [fact for key, fact in sorted(every_fact().items()) if key.startswith(begins)][:400]
    return work.page("sources", found=found, begins=begins)
