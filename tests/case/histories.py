"""Histories at random, made of real commands: mostly what would be done next, and often enough something else."""

import datetime as dt
import random
from collections.abc import Callable
from typing import Any

from hourmark.case import calls, checks, handover, kits, night, opening, orders, rules, sheets, slots
from hourmark.case.asked import Asked
from hourmark.case.sheets import checked_by, told
from hourmark.case.state import CaseState
from hourmark.desk import Command, States
from hourmark.desk.made import Planned, plan_of
from tests.case.world import (
    CHECKED,
    DAY,
    LEAD,
    NURSE,
    OTHER_PRESCRIBER,
    PHARMACIST,
    SECOND,
    THEATRE,
    Person,
    clinic,
    details,
    kit,
    order,
    prescriber,
    slot,
)

CASES = ("K-103", "K-108", "K-110")
"""Two medicines together; one prefilled syringe; one by the clock, without a slot."""

SLOTS = ("s3", "s4", "s8")
SOMEBODY = (NURSE, SECOND, PHARMACIST, prescriber("K-103"), OTHER_PRESCRIBER, THEATRE, LEAD)

_Asks = tuple[Command, Person]


def next_command(draw: random.Random, states: States) -> tuple[Command, Asked]:
    """What somebody asks for next, in a clinic that stands so. The same `draw` on the same states asks for the same.

    Times go forward by some minutes; now and then a clock was put back.
    """
    at = _later(draw, states)
    if states.rules().version == 0:
        return rules.SignRules(clinic()), LEAD.at(at)
    missing = [name for name in SLOTS if name not in states.day(DAY).slots]
    if missing and draw.random() < 0.7:
        return slots.PlaceSlot(slot(missing[0]), "the list"), THEATRE.at(at)
    case = draw.choice(CASES)
    command, who = (
        _useful(draw, states, case, at) if draw.random() < 0.55 else draw.choice(_ANY)(draw, states, case, at)
    )
    if draw.random() < 0.08:
        who = draw.choice(SOMEBODY)
    return command, who.at(at)


def _later(draw: random.Random, states: States) -> str:
    """Some minutes after the last that the record knows of, or hours before it."""
    known = [states.rules().changed_at, CHECKED]
    for case in map(states.case, CASES):
        known += [case.changed_at, *(one.at for one in case.sheets), *(one.at for one in case.confirmations)]
        known += [one.at for one in (case.check, case.read_back) if one is not None]
    step = dt.timedelta(minutes=draw.choice((-300, -7, 0, 0, 1, 2, 3, 5, 8, 20, 40)))
    moment = dt.datetime.fromisoformat(max(known)) + step
    return f"{moment:%Y-%m-%dT%H:%M:%SZ}"


def _useful(draw: random.Random, states: States, case: str, at: str) -> _Asks:
    """The next thing that brings this case on."""
    state = states.case(case)
    if not state.there:
        return opening.OpenCase(case, details(case)), NURSE
    if state.slot is None and case != "K-110":
        free = [name for name in states.day(DAY).slots if name not in states.day(DAY).cases]
        return slots.GiveSlot(DAY, draw.choice(free or SLOTS), case, "as listed"), NURSE
    if state.order is None:
        return orders.SignOrder(case, _an_order(draw, case)), prescriber(case)
    if state.kit is None:
        return kits.ReadKit(case, kit(case), "read aloud"), NURSE
    if state.sheet is not None:
        return _report(draw, states, case, at)
    planned = plan_of(state, states.rules(), at)
    if not isinstance(planned, Planned) or not planned.readings:
        return draw.choice(_ANY)(draw, states, case, at)
    if checked_by(state, planned.made.rests_on) is None:
        return checks.SecondCheck(case, planned.readings), draw.choice((SECOND, PHARMACIST))
    if not told(state, planned.made.rests_on, planned.made.check_word):
        return _said(state, planned), NURSE
    answers = tuple((code, "the prescriber says: go ahead") for code in planned.made.open_questions)
    return sheets.Release(case, answered=answers), NURSE


def _said(state: CaseState, planned: Planned, **wrong: str) -> calls.HearReadBack:
    fields = tuple((planned.to_read_back | wrong).items())
    deleted = True if state.sheets else None
    return calls.HearReadBack(state.id, "she", ("full name", "date of birth"), fields, planned.made.check_word, deleted)


# Anything that may be asked for, sensible now or not


def _an_order(draw: random.Random, case: str) -> dict[str, Any]:
    return order(case) | {"stop": draw.choice((["follitropin"], ["ganirelix", "follitropin"], []))}


def _slot(draw: random.Random, states: States, case: str, at: str) -> _Asks:
    placed = slot(draw.choice(SLOTS)) | {"at": f"2026-11-20 {draw.choice(('09:00', '09:45', '11:00', '12:30'))}"}
    return slots.PlaceSlot(placed | {"room": draw.choice(("Room 1", "Room 2"))}, "theatre asked"), THEATRE


def _give(draw: random.Random, states: States, case: str, at: str) -> _Asks:
    return slots.GiveSlot(DAY, draw.choice((*SLOTS, "s99")), case, "swapped"), NURSE


def _free(draw: random.Random, states: States, case: str, at: str) -> _Asks:
    return slots.FreeSlot(DAY, draw.choice(SLOTS), "cancelled"), THEATRE


def _details(draw: random.Random, states: States, case: str, at: str) -> _Asks:
    change = draw.choice(({}, {"zone": "America/New_York"}, {"helper": "Her sister"}, {"language": "es"}))
    return opening.ChangeDetails(case, details(case) | change, "she said so"), NURSE


def _sign(draw: random.Random, states: States, case: str, at: str) -> _Asks:
    return orders.SignOrder(case, _an_order(draw, case)), prescriber(case)


def _telephone(draw: random.Random, states: States, case: str, at: str) -> _Asks:
    return orders.TelephoneOrder(case, _an_order(draw, case), "as spoken", draw.random() < 0.9), NURSE


def _countersign(draw: random.Random, states: States, case: str, at: str) -> _Asks:
    waiting = [one.event.version for one in states.case(case).orders if one.awaits_signature]
    return orders.CountersignOrder(case, draw.choice(waiting or [1])), prescriber(case)


def _withdraw_order(draw: random.Random, states: States, case: str, at: str) -> _Asks:
    return orders.WithdrawOrder(case, len(states.case(case).orders), "not tonight"), prescriber(case)


def _kit(draw: random.Random, states: States, case: str, at: str) -> _Asks:
    boxes = [box | {"lot": draw.choice(("A1", "B2"))} for box in kit(case)["products"]]
    return kits.ReadKit(case, kit(case) | {"products": boxes}, "seen"), NURSE


def _carton(draw: random.Random, states: States, case: str, at: str) -> _Asks:
    box = draw.choice(kit(case)["products"])
    return kits.CheckCarton(case, box["product"], (NURSE.name, SECOND.name), box["strength"], "1 mL", "as said"), NURSE


def _look(draw: random.Random, states: States, case: str, at: str) -> _Asks:
    return checks.OpenPlan(case, "the plan"), draw.choice((NURSE, SECOND, PHARMACIST))


def _differs(draw: random.Random, states: States, case: str, at: str) -> _Asks:
    return checks.SecondCheck(case, ()), draw.choice((SECOND, PHARMACIST))


def _try_call(draw: random.Random, states: States, case: str, at: str) -> _Asks:
    return calls.TryCall(case, "+1 555 0188", draw.random() < 0.5, "voice mail"), NURSE


def _misheard(draw: random.Random, states: States, case: str, at: str) -> _Asks:
    fields = tuple((f"{name} time", "9") for name in draw.sample(("agonist", "hcg"), draw.randint(0, 2)))
    return calls.HearReadBack(case, "she", ("name", "birth"), fields, "other words", draw.random() < 0.5), NURSE


def _note(draw: random.Random, states: States, case: str, at: str) -> _Asks:
    return calls.NoteCall(case, "she", "+1 555 0188", "sore", "rest", "nobody", "none"), SECOND


def _release(draw: random.Random, states: States, case: str, at: str) -> _Asks:
    return sheets.Release(case, "nobody is here", draw.choice((None, "no answer"))), draw.choice(
        (NURSE, prescriber(case))
    )


def _void(draw: random.Random, states: States, case: str, at: str) -> _Asks:
    return sheets.VoidSheet(case, len(states.case(case).sheets), "a smudge"), NURSE


def _report(draw: random.Random, states: States, case: str, at: str) -> _Asks:
    clock = draw.choice(("2026-11-18 21:02", "2026-11-18 21:30", "2026-11-18 23:00", "2026-11-19 03:00", "about nine"))
    command = night.Confirm(
        case,
        injection=draw.choice(("agonist", "hcg", "hcg", "hcg", "third")),
        reported=clock,
        zone=draw.choice(("America/Chicago", "America/New_York")),
        told_by="she",
        source="a clock",
        amount=draw.choice((night.ALL, night.ALL, "half of it")),
        remains="nothing",
        sheet=draw.choice((None, None, 1)),
    )
    return command, NURSE


def _withdraw_report(draw: random.Random, states: States, case: str, at: str) -> _Asks:
    reports = [one.seq for one in states.case(case).confirmations]
    return night.WithdrawConfirmation(case, draw.choice(reports or [1]), "another person"), NURSE


def _escalate(draw: random.Random, states: States, case: str, at: str) -> _Asks:
    return night.Escalate(case, "hcg", "the prescriber", "silence", "ring again"), NURSE


def _incident(draw: random.Random, states: States, case: str, at: str) -> _Asks:
    injection = draw.choice((None, "agonist", "hcg"))
    return night.NoteIncident(case, injection, "a vial fell", "the prescriber", "the spare", draw.random() < 0.6), NURSE


def _hand_over(draw: random.Random, states: States, case: str, at: str) -> _Asks:
    return handover.HandOver(DAY, draw.choice((NURSE, SECOND)).name, ()), NURSE


def _take(draw: random.Random, states: States, case: str, at: str) -> _Asks:
    return handover.TakeHandover(DAY, draw.choice((None, *states.day(DAY).handovers))), SECOND


def _list(draw: random.Random, states: States, case: str, at: str) -> _Asks:
    return handover.ListMorning(DAY), NURSE


def _rules(draw: random.Random, states: States, case: str, at: str) -> _Asks:
    table = clinic()
    table["rules"] |= draw.choice(
        (
            {"tell_by": "4 h"},
            {"keep_years": 30},
            {"morning_sample": ["9 h", "13 h"]},
            {"mixes": [table["rules"]["mixes"][0] | {"diluent": "1 mL"}]},
            {"languages": ["es"]},
            {"signed_at": "2026-11-18 12:30"},
            {},
        )
    )
    if "barrels" in states.rules().clinic and draw.random() < 0.7:
        table["barrels"] = states.rules().clinic["barrels"]
    return rules.SignRules(table), LEAD


def _measure(draw: random.Random, states: States, case: str, at: str) -> _Asks:
    barrel: dict[str, Any] = {
        "syringe": draw.choice(("u100-1mL-1", "mL-5-0.2")),
        "scale_length": draw.choice(("57 mm", "58 mm")),
        "measured_by": PHARMACIST.name,
        "measured_at": "2026-11-18 09:00",
    }
    return rules.MeasureBarrel(barrel), PHARMACIST


def _open(draw: random.Random, states: States, case: str, at: str) -> _Asks:
    return opening.OpenCase(case, details(case)), NURSE


def _close(draw: random.Random, states: States, case: str, at: str) -> _Asks:
    # A closed case ends its part of the history, so few are.
    if draw.random() < 0.6:
        return _look(draw, states, case, at)
    return opening.CloseCase(case, "over"), NURSE


_ANY: tuple[Callable[[random.Random, States, str, str], _Asks], ...] = (
    _slot,
    _give,
    _free,
    _details,
    _sign,
    _telephone,
    _countersign,
    _withdraw_order,
    _kit,
    _carton,
    _look,
    _differs,
    _try_call,
    _misheard,
    _note,
    _release,
    _void,
    _report,
    _withdraw_report,
    _escalate,
    _incident,
    _hand_over,
    _take,
    _list,
    _rules,
    _measure,
    _open,
    _close,
)
