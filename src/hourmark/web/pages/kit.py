"""The kit: what is really at home, with the words on the boxes; cartons read by two; the plan as it follows from what is typed."""

from dataclasses import replace
from typing import Any

from django.http import HttpResponse

from hourmark.case.asked import Role
from hourmark.case.events import KitRead
from hourmark.case.kits import CheckCarton, ReadKit
from hourmark.case.state import CaseState
from hourmark.case.streams import case_stream
from hourmark.desk.made import Planned, plan_of
from hourmark.exchange import table_problems
from hourmark.finding import Finding
from hourmark.formulary import barrels, facts, gauges, products
from hourmark.web.forms import beside_fields, fields_of, highest_row, table_of
from hourmark.web.models import Member
from hourmark.web.work import Work, case_page, wrong

ROOM = {"products": 4, "diluents": 3, "syringes": 4, "needles": 4}
"""How many rows of each a form has room for; more where there are more."""

WRITERS = (Role.NURSE, Role.PHARMACIST)


@case_page("GET", "POST", roles=WRITERS, while_open=True)
def kit(work: Work, state: CaseState) -> HttpResponse:
    """The form of a kit."""
    stream = case_stream(state.id)
    fields = fields_of(state.kit.kit) if state.kit else {}
    if work.request.method == "POST":
        fields = work.typed
        table = _kit_of(fields)
        if work.perform(ReadKit(state.id, table, fields.get("how", "").strip() or "read aloud on the phone"), stream):
            return work.done("The kit is on the record.", "case", state.id)
    return work.page("kit", state=state, fields=fields, seen_stream=stream, **_choices(fields))


@case_page("POST", roles=WRITERS, shows_plan=True)
def preview(work: Work, state: CaseState) -> HttpResponse:
    """What the plan would be with the kit as typed so far; nothing is recorded by it."""
    table = _kit_of(work.typed)
    findings = beside_fields(table_problems("kit", table), work.typed)
    planned = None
    if not findings:
        made = plan_of(
            replace(state, kit=KitRead(0, table, "typed"), changed_at=work.now), work.states.rules(), work.now
        )
        planned, findings = (made, made.case.findings) if isinstance(made, Planned) else (None, made)
    return work.page("parts/preview", status=200, planned=planned, seen_by_plan=findings)


@case_page("GET", "POST", roles=WRITERS, while_open=True)
def carton(work: Work, state: CaseState, product: str) -> HttpResponse:
    """Strength, volume and route read off one box, by two people."""
    stream, fields = case_stream(state.id), work.typed
    others = [
        one.name for one in Member.objects.filter(clinic=work.member.clinic).exclude(pk=work.member.pk).order_by("name")
    ]
    if work.request.method == "POST":
        work.findings = _no_colleague(fields.get("other", ""), others)
        command = CheckCarton(
            state.id,
            product,
            (work.member.name, fields.get("other", "")),
            fields.get("strength", ""),
            fields.get("volume", ""),
            fields.get("route", ""),
        )
        if work.findings:
            against = work.desk.why_not(command, work.asked)
            work.findings += tuple(one for one in against if one.code != "carton-readers")
        elif work.perform(command, stream):
            return work.done("The carton check is on the record.", "case", state.id)
    return work.page(
        "carton",
        state=state,
        product=product,
        fields=fields,
        others=others,
        routes=("subcutaneous", "intramuscular", "nasal"),
        seen_stream=stream,
    )


def _no_colleague(other: str, others: list[str]) -> tuple[Finding, ...]:
    if other in others:
        return ()
    return (
        wrong(
            "carton-readers",
            "A carton check takes two people who work here, and you are one of them.",
            "Choose the colleague who read the box with you.",
            "other",
        ),
    )


def _kit_of(fields: dict[str, str]) -> dict[str, Any]:
    beside = ("csrfmiddlewaretoken", "key", "seen", "how")
    table = table_of({name: value for name, value in fields.items() if name not in beside})
    return {"products": [], **table}


def _choices(fields: dict[str, str]) -> dict[str, Any]:
    room = {name: max(usual, highest_row(fields, name) + 1) for name, usual in ROOM.items()}
    rows = {name: [f"{name}[{place}]" for place in range(1, last + 1)] for name, last in room.items()}
    return {
        "rows": rows,
        "products": sorted(products()),
        "syringes": sorted(barrels()),
        "gauges": [str(gauge) for gauge in gauges()],
        "diluents": sorted({path.rpartition(".")[0] for path in facts("diluents")}),
    }
