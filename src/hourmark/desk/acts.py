"""Which act answers which command, on which streams. Every command that there is stands here once."""

from collections.abc import Iterable
from dataclasses import replace
from typing import Any, TypeAlias

from hourmark.case import (
    calls,
    checks,
    handover,
    kits,
    night,
    opening,
    orders,
    phone,
    results,
    rules,
    sheets,
    slots,
    trouble,
    unreached,
    watch,
)
from hourmark.case import events as e
from hourmark.case.asked import Asked, Refused
from hourmark.case.day import DayState
from hourmark.case.state import CaseState
from hourmark.case.streams import On, case_stream, day_of, day_stream, on
from hourmark.clock import parse_zone
from hourmark.desk.made import Planned
from hourmark.desk.states import States
from hourmark.exchange import table_problems
from hourmark.finding import Finding

CaseCommand: TypeAlias = (
    opening.ChangeDetails
    | orders.SignOrder
    | orders.TelephoneOrder
    | orders.CountersignOrder
    | orders.WithdrawOrder
    | kits.ReadKit
    | kits.CheckCarton
    | checks.OpenPlan
    | calls.TryCall
    | calls.NoteCall
    | calls.SetPermissions
    | sheets.VoidSheet
    | unreached.TellUnreached
    | night.Confirm
    | night.WithdrawConfirmation
    | night.Escalate
    | night.NoteIncident
    | trouble.ReportTrouble
    | results.WithdrawResult
    | phone.GiveLink
    | phone.RevokeLink
    | phone.ReadBoxes
    | phone.AskHelp
    | phone.GiveHelp
)
"""Commands that need nothing but their case."""

PlanCommand: TypeAlias = checks.SecondCheck | calls.HearReadBack | sheets.Release
"""Commands about a case's plan, which is made before the record is locked."""

Command: TypeAlias = (
    CaseCommand
    | PlanCommand
    | opening.OpenCase
    | opening.CloseCase
    | watch.ClaimRung
    | slots.PlaceSlot
    | slots.PlaceSlots
    | slots.GiveSlot
    | slots.FreeSlot
    | results.EnterResults
    | rules.SignRules
    | rules.MeasureBarrel
    | handover.HandOver
    | handover.TakeHandover
    | handover.ListMorning
)

_ON_ONE_CASE: dict[type[Any], Any] = {
    opening.ChangeDetails: opening.change_details,
    orders.SignOrder: orders.sign_order,
    orders.TelephoneOrder: orders.telephone_order,
    orders.CountersignOrder: orders.countersign_order,
    orders.WithdrawOrder: orders.withdraw_order,
    kits.ReadKit: kits.read_kit,
    kits.CheckCarton: kits.check_carton,
    checks.OpenPlan: checks.open_plan,
    calls.TryCall: calls.try_call,
    calls.NoteCall: calls.note_call,
    calls.SetPermissions: calls.set_permissions,
    unreached.TellUnreached: unreached.tell_unreached,
    sheets.VoidSheet: sheets.void_sheet,
    night.Confirm: night.confirm,
    night.WithdrawConfirmation: night.withdraw_confirmation,
    night.NoteIncident: night.note_incident,
    trouble.ReportTrouble: trouble.report_trouble,
    results.WithdrawResult: results.withdraw_result,
    phone.GiveLink: phone.give_link,
    phone.RevokeLink: phone.revoke_link,
    phone.ReadBoxes: phone.read_boxes,
    phone.AskHelp: phone.ask_help,
    phone.GiveHelp: phone.give_help,
}


def unreadable(command: Command) -> tuple[Finding, ...]:
    """Everything in the command's tables that cannot be read."""
    match command:
        case opening.OpenCase(name, table):
            return (*_id_problems(name), *table_problems("details", table))
        case opening.ChangeDetails(details=table):
            return table_problems("details", table)
        case orders.SignOrder(order=table) | orders.TelephoneOrder(order=table):
            return table_problems("order", table)
        case kits.ReadKit(kit=table):
            return table_problems("kit", table)
        case slots.PlaceSlot(slot=table):
            return table_problems("slot", table)
        case slots.PlaceSlots(slots=listed):
            return _list_problems(listed)
        case rules.SignRules(clinic=table):
            return table_problems("clinic", table)
        case rules.MeasureBarrel(barrel=table):
            return table_problems("barrel", table)
        case _:
            return ()


def decide(
    command: Command,
    asked: Asked,
    states: States,
    planned: Planned | None,
    pages: tuple[e.Page, ...],
    lines: tuple[str, ...],
) -> tuple[On, ...] | Refused:
    """The events of a command, each on its stream, or why there are none.

    `planned` is the case's plan where the command is about it, `pages` are those of the sheet it releases, `lines` a morning list's.
    """
    match command:
        case checks.SecondCheck() | calls.HearReadBack() | sheets.Release():
            return _on_case(command.case, _about_a_plan(command, asked, states, planned, pages))
        case opening.OpenCase():
            return opening.open_case(states.case(command.case), command, asked, states.case_ids())
        case watch.ClaimRung():
            claimed = watch.claim_rung(states.case(command.case), command, asked, states.rules())
            return _on_case(command.case, claimed)
        case night.Escalate():
            told = night.escalate(states.case(command.case), command, asked, states.rules())
            return _on_case(command.case, told)
        case opening.CloseCase():
            return opening.close_case(states.case(command.case), command, asked)
        case slots.PlaceSlot() | slots.GiveSlot() | slots.FreeSlot():
            return _slot(command, asked, states)
        case slots.PlaceSlots():
            return _slots(command, asked, states)
        case results.EnterResults():
            if missing := rules.no_rules(states.rules()):
                return missing
            zone = parse_zone(states.rules().clinic.get("zone"))
            return results.enter_results(states.case, command, asked, zone)
        case rules.SignRules():
            return rules.sign_rules(states.rules(), states.open_cases(), command, asked)
        case rules.MeasureBarrel():
            return rules.measure_barrel(states.rules(), states.open_cases(), command, asked)
        case handover.HandOver():
            return _on_day(command.day, handover.hand_over(states.day(command.day), command, asked))
        case handover.TakeHandover():
            return _on_day(command.day, handover.take_handover(states.day(command.day), command, asked))
        case handover.ListMorning():
            return _on_day(command.day, handover.list_morning(states.day(command.day), command, asked, lines))
        case _:
            act, state = _ON_ONE_CASE[type(command)], states.case(command.case)
            answer = act(state, command, asked)
            return (
                answer
                if isinstance(answer, Refused)
                else (*on(case_stream(command.case), *answer), *opening.heard(state, answer))
            )


def _about_a_plan(
    command: PlanCommand, asked: Asked, states: States, planned: Planned | None, pages: tuple[e.Page, ...]
) -> tuple[e.CaseEvent, ...] | Refused:
    state, clinic = states.case(command.case), states.rules()
    if refusal := opening.not_open(state, command.case):
        return refusal
    assert planned is not None
    match command:
        case checks.SecondCheck():
            return checks.second_check(
                state, command, asked, planned.readings, planned.made.rests_on, _checkers(clinic.clinic)
            )
        case calls.HearReadBack():
            made = planned.made
            return calls.hear_read_back(state, command, asked, planned.to_read_back, made.check_word, made.rests_on)
        case sheets.Release():
            return sheets.release(state, command, asked, replace(planned.made, pages=pages))


def _slot(
    command: slots.PlaceSlot | slots.GiveSlot | slots.FreeSlot, asked: Asked, states: States
) -> tuple[On, ...] | Refused:
    date = day_of(str(command.slot["at"])) if isinstance(command, slots.PlaceSlot) else command.day
    if missing := rules.no_rules(states.rules()):
        return missing
    day, zone = states.day(date), parse_zone(states.rules().clinic.get("zone"))
    match command:
        case slots.GiveSlot():
            return slots.give_slot(day, states.case(command.case), command, asked, zone)
        case slots.FreeSlot():
            whose = day.cases.get(command.slot)
            return slots.free_slot(day, states.case(whose) if whose else None, command, asked)
        case slots.PlaceSlot():
            whose = day.cases.get(str(command.slot["id"]))
            return slots.place_slot(day, states.case(whose) if whose else None, command, asked, zone)


def _slots(command: slots.PlaceSlots, asked: Asked, states: States) -> tuple[On, ...] | Refused:
    if missing := rules.no_rules(states.rules()):
        return missing

    def standing(slot: e.Table) -> tuple[DayState, CaseState | None]:
        day = states.day(day_of(str(slot["at"])))
        whose = day.cases.get(str(slot["id"]))
        return day, states.case(whose) if whose else None

    return slots.place_slots(standing, command, asked, parse_zone(states.rules().clinic.get("zone")))


def _list_problems(listed: tuple[e.Table, ...]) -> tuple[Finding, ...]:
    """Everything in a list of slots that cannot be read, each at its place."""
    return tuple(
        one.at(f"slots[{place}]") for place, slot in enumerate(listed, 1) for one in table_problems("slot", slot)
    )


def _id_problems(name: str) -> tuple[Finding, ...]:
    """What is wrong with a case's id."""
    return tuple(one for one in table_problems("slot", {"id": name, "at": "2026-11-20 09:00"}) if one.where == "id")


def _checkers(clinic: e.Table) -> tuple[str, ...]:
    rules: Any = clinic.get("rules") or {}
    return tuple(rules.get("checkers") or ())


def _on_case(case: str, answer: Iterable[e.Event] | Refused) -> tuple[On, ...] | Refused:
    return answer if isinstance(answer, Refused) else tuple(On(case_stream(case), event) for event in answer)


def _on_day(day: str, answer: Iterable[e.Event] | Refused) -> tuple[On, ...] | Refused:
    return answer if isinstance(answer, Refused) else tuple(On(day_stream(day), event) for event in answer)
