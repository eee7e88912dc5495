"""A desk with an evening's first acts done, and acts that come next: on several streams, with a message, with words made beforehand."""

import tomllib
from functools import cache
from pathlib import Path
from typing import Any

from hourmark.case import calls, handover, opening, orders, rules, slots
from hourmark.case.asked import Asked, Role
from hourmark.desk import Command, Desk, Done
from hourmark.exchange import plain_table
from hourmark.ledger import Store
from tests.record.facts import salts

ROOT = Path(__file__).resolve().parents[2]
CASE, DAY = "K-103", "2026-11-20"


@cache
def night() -> dict[str, Any]:
    with (ROOT / "examples" / "ordinary-night.toml").open("rb") as file:
        return plain_table(tomllib.load(file))


def _case() -> dict[str, Any]:
    case: dict[str, Any] = next(case for case in night()["cases"] if case["id"] == CASE)
    return case


def nurse(at: str = "2026-11-18T20:00:00Z") -> Asked:
    return Asked("N. Ferro", Role.NURSE, at)


def desk_over(store: Store) -> Desk:
    """A desk, and on its record the clinic's rules, a slot and a case."""
    desk = Desk(store, salts())
    case = _case()
    slot = next(slot for slot in night()["slots"] if slot["id"] == case["slot"])
    details = {name: value for name, value in case.items() if name not in ("id", "slot", "order", "kit")}
    done(
        desk, rules.SignRules(night()["clinic"]), Asked("Dr. O. Brandt, medical lead", Role.LEAD, nurse().at), "first-1"
    )
    done(desk, slots.PlaceSlot(slot, "the list came"), Asked("T. Ek", Role.THEATRE, nurse().at), "first-2")
    done(desk, opening.OpenCase(CASE, details), nurse(), "first-3")
    return desk


def done(desk: Desk, command: Command, asked: Asked, key: str) -> Done:
    answer = desk.perform(command, asked, key)
    assert isinstance(answer, Done), answer
    return answer


def give_slot() -> Command:
    """On the streams of the day and of the case."""
    return slots.GiveSlot(DAY, _case()["slot"], CASE, "it is hers")


def place_slots(first: str = "Room 1") -> Command:
    """A theatre list of two days at once; the first slot of each stands in this room."""
    rooms = (first, "Room 2", "Room 3")
    return slots.PlaceSlots(
        tuple(
            {"id": f"n{place}", "at": f"{day} 1{place}:15", "room": room}
            for day in (DAY, "2026-11-23")
            for place, room in enumerate(rooms, 1)
        ),
        "the list came",
    )


def telephone_order(words: str = "four milligrams") -> Command:
    """Puts a message in the queue: the prescriber has to sign."""
    return orders.TelephoneOrder(CASE, _case()["order"], words, True)


def list_morning() -> Command:
    """Its lines are made before the record is locked."""
    return handover.ListMorning(DAY)


def try_call(result: str) -> Command:
    return calls.TryCall(CASE, "+1 312 555 0164", False, result)
