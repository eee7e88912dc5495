"""The order: signed by the prescriber, or taken by telephone and countersigned later. Earlier versions stay beside it."""

from typing import Any

from django.http import HttpResponse

from hourmark.case.asked import Role
from hourmark.case.orders import CountersignOrder, SignOrder, TelephoneOrder, WithdrawOrder
from hourmark.case.rules import no_rules
from hourmark.case.state import CaseState
from hourmark.case.streams import case_stream
from hourmark.finding import Finding
from hourmark.formulary import drugs, products
from hourmark.order import ROUTES, Cycle, Purpose
from hourmark.web.forms import beside_fields, fields_of, highest_row, table_of
from hourmark.web.models import Member
from hourmark.web.pages.case import shown
from hourmark.web.work import Work, case_page, wrong

ROWS = 4
"""How many injections a form has room for."""


@case_page("GET", "POST", roles=(Role.NURSE, Role.PRESCRIBER, Role.PHARMACIST), while_open=True)
def order(work: Work, state: CaseState) -> HttpResponse:
    """The form of an order: a prescriber signs it, a nurse or pharmacist takes it by telephone."""
    stream, signs = case_stream(state.id), work.role is Role.PRESCRIBER
    fields = fields_of(state.order.event.order) if state.order else {"purpose": "trigger"}
    fields.pop("signed_by", None)
    if work.request.method == "POST":
        fields = work.typed
        table = table_of({name: value for name, value in fields.items() if name not in _BESIDE})
        table |= {"signed_at": work.minute, "stop": table.get("stop", [])}
        work.findings = () if signs else _no_prescriber(work, fields.get("signed_by", ""))
        command = _command(work, state, table)
        if missing := no_rules(work.states.rules()):
            work.findings = missing.findings
        elif work.findings:
            work.findings = (*work.findings, *beside_fields(work.desk.why_not(command, work.asked), fields))
        elif work.perform(command, stream):
            return work.done("The order is on the record.", "case", state.id)
    filled = highest_row(fields, "injections")
    return work.page(
        "order",
        state=state,
        fields=fields,
        signs=signs,
        prescribers=_prescribers(work),
        rows=[f"injections[{place}]" for place in range(1, max(ROWS, filled + 1) + 1)],
        filled=filled,
        routes=ROUTES,
        cycles=[str(one) for one in Cycle],
        purposes=[str(one) for one in Purpose],
        drugs=sorted(one.name for one in drugs().values()),
        products=sorted(products()),
        seen_stream=stream,
    )


def _command(work: Work, state: CaseState, table: dict[str, Any]) -> SignOrder | TelephoneOrder:
    """Signed by a prescriber; taken by telephone by anybody else."""
    fields = work.typed
    if work.role is Role.PRESCRIBER:
        return SignOrder(state.id, table | {"signed_by": work.member.name})
    words, second = fields.get("words", ""), fields.get("second_listener", "").strip() or None
    return TelephoneOrder(state.id, table, words, fields.get("read_back") == "true", second)


def _prescribers(work: Work) -> list[str]:
    """Who prescribes at this clinic."""
    members = Member.objects.filter(clinic=work.member.clinic, role=Role.PRESCRIBER)
    return [one.name for one in members.order_by("name")]


def _no_prescriber(work: Work, name: str) -> tuple[Finding, ...]:
    if name in _prescribers(work):
        return ()
    words = (
        f'"{name[:60]}" prescribes nothing at this clinic.' if name.strip() else "Nobody is named who gave the order."
    )
    return (wrong("order-prescriber", words, "Choose the prescriber who spoke.", "signed_by"),)


_BESIDE = ("csrfmiddlewaretoken", "key", "seen", "words", "read_back", "second_listener", "signed_at")
"""Fields of the form that are not the order's."""


@case_page("POST", roles=(Role.PRESCRIBER,))
def countersign(work: Work, state: CaseState, version: int) -> HttpResponse:
    """An order that was taken by telephone, signed."""
    if work.perform(CountersignOrder(state.id, version)):
        return work.done(f"Order {version} is countersigned.", "case", state.id)
    return shown(work, state)


@case_page("POST", roles=(Role.PRESCRIBER,))
def withdraw(work: Work, state: CaseState, version: int) -> HttpResponse:
    """An order taken back."""
    if work.perform(WithdrawOrder(state.id, version, work.typed.get("why", "").strip() or "withdrawn")):
        return work.done(f"Order {version} is withdrawn.", "case", state.id)
    return shown(work, state)
