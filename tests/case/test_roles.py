"""Who may do what: an act of somebody in another role is refused, and says whom to ask."""

from collections.abc import Callable

import pytest

from hourmark.case import calls, handover, kits, opening, rules, sheets, slots
from hourmark.case.asked import Role
from hourmark.desk import Command
from tests.case.voiding import UNUSED, barrel
from tests.case.world import (
    CASE,
    DAY,
    LATER,
    LEAD,
    NURSE,
    PHARMACIST,
    PRESCRIBER,
    SECOND,
    THEATRE,
    Person,
    at_stage,
    kit,
    slot,
)

EVERYBODY = (NURSE, PRESCRIBER, PHARMACIST, THEATRE, LEAD)

BEDSIDE = {Role.NURSE, Role.PRESCRIBER}
LIST = {Role.THEATRE, Role.NURSE, Role.PRESCRIBER}
BOXES = {Role.NURSE, Role.PHARMACIST, Role.PRESCRIBER}

ACTS: dict[str, tuple[Callable[[Person], Command], set[Role]]] = {
    "void a sheet": (lambda _: sheets.VoidSheet(CASE, 1, "a smudge"), BEDSIDE),
    "close a case": (lambda _: opening.CloseCase(CASE, "she withdrew"), BEDSIDE),
    "place a slot": (lambda _: slots.PlaceSlot(slot() | {"at": "2026-11-20 09:45"}, "late"), LIST),
    "place a list": (
        lambda _: slots.PlaceSlots((slot() | {"at": "2026-11-20 09:45"}, slot("s4") | {"room": "Room 9"}), "late"),
        LIST,
    ),
    "give a slot": (lambda _: slots.GiveSlot(DAY, "s4", CASE, "swapped"), LIST),
    "free a slot": (lambda _: slots.FreeSlot(DAY, "s3", "cancelled"), LIST),
    "set what she allows": (
        lambda _: calls.SetPermissions(CASE, "", voicemail=True, message=False, how="said so"),
        BEDSIDE,
    ),
    "read a kit": (lambda _: kits.ReadKit(CASE, kit() | {"needles": []}, "seen"), BOXES),
    "check a carton": (
        lambda who: kits.CheckCarton(CASE, "hcg-10000-units", (who.name, SECOND.name), "10,000 units", "none", "skin"),
        BOXES,
    ),
    "measure a barrel": (
        lambda _: rules.MeasureBarrel(barrel(UNUSED, "57 mm")),
        {Role.NURSE, Role.PHARMACIST, Role.LEAD},
    ),
    "hand over": (lambda _: handover.HandOver(DAY, SECOND.name, ()), {Role.NURSE}),
}


@pytest.mark.parametrize("who", EVERYBODY, ids=lambda who: who.role)
@pytest.mark.parametrize("act", ACTS)
def test_an_act_is_for_its_roles_and_for_no_other(act: str, who: Person) -> None:
    command, roles = ACTS[act]
    world = at_stage("released")
    if who.role in roles:
        assert world.do(command(who), who, LATER)
        return
    refused = world.refused(command(who), who, LATER)
    assert [finding.code for finding in refused.findings] == ["act-role"]
    said = refused.findings[0].what
    assert f"{who.name} acts in the role of {who.role}, " in said
    assert set(said.rpartition(": ")[2].rstrip(".").split(", ")) == roles
