"""What voids a sheet: one change at a time to a released sheet, and what becomes of it. The one table behind test and page."""

import copy
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
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
from hourmark.desk import Command
from tests.case.world import (
    CARTONS,
    CASE,
    DAY,
    HER_PHONE,
    LEAD,
    NIGHT,
    NURSE,
    PHARMACIST,
    PRESCRIBER,
    SECOND,
    THEATRE,
    WATCH,
    Person,
    World,
    at_stage,
    carton_checks,
    check,
    details,
    kit,
    open_case,
    order,
    plan_case,
    prescriber,
    read_back,
    release_case,
    slot,
    wrongly,
)

Act: TypeAlias = Callable[[World], tuple[Command, Person]]
Table: TypeAlias = dict[str, Any]

OTHER = "K-104"
USED, UNUSED = "u100-1mL-1", "mL-5-0.2"
"""A barrel that she has at home, and one that she has not."""


# Released sheets to begin from, each made one time


def released() -> World:
    """K-103 released; beside it K-104 has slot, order and kit."""
    return _released().copy()


@cache
def _released() -> World:
    world = at_stage("released")
    open_case(world, OTHER)
    plan_case(world, OTHER)
    return world


def by_telephone() -> World:
    """K-103 released on an order that awaits its countersignature."""
    return _by_telephone().copy()


@cache
def _by_telephone() -> World:
    world = at_stage("planned")
    world.do(orders.TelephoneOrder(CASE, CLOSER, "ten minutes at most", read_back=True), NURSE, CARTONS)
    release_case(world, CASE)
    return world


def measured() -> World:
    """K-103 released with its syringe at true size; a kind that she has not was measured as well."""
    return _measured().copy()


@cache
def _measured() -> World:
    world = at_stage("planned")
    for kind in (USED, UNUSED):
        world.do(rules.MeasureBarrel(barrel(kind, "57 mm")), PHARMACIST, CARTONS)
    release_case(world, CASE)
    return world


def in_spanish() -> World:
    """K-103 released in a language that the lead signed."""
    return _in_spanish().copy()


@cache
def _in_spanish() -> World:
    world = at_stage("planned")
    world.do(*signed(rule("languages", ["es"]))(world), CARTONS)
    world.do(opening.ChangeDetails(CASE, details() | {"language": "es"}, "she reads Spanish"), NURSE, CARTONS)
    release_case(world, CASE)
    return world


# Changes of one thing


CLOSER = order() | {"largest_gap": "10 min"}
WIDE = {"ok": ["34 h", "38 h"], "note": ["33 h", "39 h"], "warn": ["32 h", "40 h"]}
SALINE = {"product": "hcg-5000-units-saline", "diluent": "1 mL"}


def barrel(kind: str, length: str) -> Table:
    return {"syringe": kind, "scale_length": length, "measured_by": "T. Brenholt", "measured_at": "2026-11-18 09:00"}


def asks(command: Command, who: Person) -> Act:
    return lambda _: (command, who)


def signed(change: Callable[[Table], object], who: Person = LEAD) -> Act:
    """The rules in force signed anew, with one thing changed."""

    def act(world: World) -> tuple[Command, Person]:
        table: Table = copy.deepcopy(dict(world.desk.states().rules().clinic))
        change(table)
        return rules.SignRules(table), who

    return act


def rule(name: str, value: object) -> Callable[[Table], object]:
    return lambda clinic: clinic["rules"].update({name: value})


def no_rule(name: str) -> Callable[[Table], object]:
    return lambda clinic: clinic["rules"].pop(name)


def band(name: str) -> Callable[[Table], object]:
    return lambda clinic: clinic["rules"]["bands"].update({name: WIDE})


def placed(**change: str) -> Act:
    return asks(slots.PlaceSlot(slot() | change, "theatre asked"), THEATRE)


def changed_details(**change: object) -> Act:
    return asks(opening.ChangeDetails(CASE, details() | change, "she said so"), NURSE)


def other_lot(case: str) -> kits.ReadKit:
    boxes = [box | {"lot": "Z999"} for box in kit(case)["products"]]
    return kits.ReadKit(case, kit(case) | {"products": boxes}, "seen")


def in_vain(world: World) -> tuple[Command, Person]:
    world.do(calls.TryCall(CASE, "+1 555 0188", False, "no answer"), NURSE)
    return unreached.TellUnreached(CASE, "the prescriber on call", "ring again"), NURSE


def reported() -> night.Confirm:
    return night.Confirm(CASE, "agonist", "2026-11-18 21:04", "America/Chicago", "she", "a clock", night.ALL, "nothing")


def withdrawn(world: World) -> tuple[Command, Person]:
    world.do(reported(), NURSE, NIGHT)
    return night.WithdrawConfirmation(CASE, world.case().confirmations[0].seq, "another person"), NURSE


SAMPLE = results.Drawn(CASE, "2026-11-18 20:50", ("LH 48 IU/L", "hCG 27 IU/L"), "typed")


EARLIER = replace(SAMPLE, drawn="2026-11-18 14:50")


def entering(world: World) -> tuple[Command, Person]:
    world.do(reported(), NURSE, NIGHT)
    # The world asks in the afternoon, and a sample is past: this one was drawn before it.
    return results.EnterResults((EARLIER, replace(EARLIER, drawn="2026-11-18 14:51"))), NURSE


def taken_back(world: World) -> tuple[Command, Person]:
    world.do(results.EnterResults((SAMPLE,)), NURSE, NIGHT)
    return results.WithdrawResult(CASE, world.case().results[0].seq, "another person"), NURSE


SAID = (("symptoms", "no"), ("drawn", "0.3 mL"))
LINKED = phone.GiveLink(CASE, "page", "2026-11-21T03:00:00Z")


def revoked(world: World) -> tuple[Command, Person]:
    world.do(LINKED, NURSE, NIGHT)
    return phone.RevokeLink(CASE, 1, "another telephone"), NURSE


def silent(world: World) -> tuple[Command, Person]:
    world.do(*signed(rule("ladder", [{"after": "5 min", "tell": "her own number"}]))(world), NIGHT)
    return watch.ClaimRung(CASE, "hcg", 1, "her own number"), WATCH


def answered(world: World) -> tuple[Command, Person]:
    world.do(phone.AskHelp(CASE, "hcg", "step 4", "I am stuck"), HER_PHONE, NIGHT)
    return phone.GiveHelp(CASE, world.case().waiting[0].seq, "rang her"), NURSE


def all_reported(world: World) -> tuple[Command, Person]:
    for injection in ("agonist", "hcg"):
        world.do(replace(reported(), injection=injection), NURSE, NIGHT)
    return opening.CloseCase(CASE, "over"), NURSE


def taken_over(world: World) -> tuple[Command, Person]:
    world.do(handover.HandOver(DAY, SECOND.name, ()), NURSE)
    return handover.TakeHandover(DAY), SECOND


# The table


@dataclass(frozen=True, slots=True)
class Change:
    """One change, and what becomes of the sheet.

    `void` are the parts that are named as changed: None where the sheet holds, none of them where it was voided by hand.
    """

    what: str
    act: Act
    void: tuple[str, ...] | None
    because: str
    sheet: Callable[[], World] = released


_ANY_PAGE = "every sheet rests on it"
_NOT_HERS = "it is not hers"
_JUDGES = "it judges a lead, and none of hers"

CHANGES: dict[str, tuple[Change, ...]] = {
    "The slot": (
        Change(
            "the time of her slot",
            placed(at="2026-11-20 09:45"),
            ("slot",),
            "every minute on her page counts back from it",
        ),
        Change("the room of her slot", placed(room="Room 2"), ("slot",), "a slot is one thing: time, kind and room"),
        Change("the kind of her slot", placed(kind="insemination"), ("slot",), "a slot is one thing"),
        Change(
            "her slot is taken away",
            asks(slots.FreeSlot(DAY, "s3", "cancelled"), THEATRE),
            ("slot",),
            "there is nothing to count back from",
        ),
        Change(
            "another slot is given to her",
            asks(slots.GiveSlot(DAY, "s5", CASE, "swapped"), NURSE),
            ("slot",),
            "she has that one instead",
        ),
        Change(
            "the slot of another case is moved",
            asks(slots.PlaceSlot(slot("s4") | {"at": "2026-11-20 13:00"}, "late"), THEATRE),
            None,
            _NOT_HERS,
        ),
        Change(
            "a whole theatre list moves her slot",
            asks(slots.PlaceSlots((slot("s4"), slot() | {"at": "2026-11-20 09:45"}), "the list came anew"), THEATRE),
            ("slot",),
            "a list is its slots, each of them placed",
        ),
        Change(
            "a slot that is nobody's is moved",
            asks(slots.PlaceSlot(slot("s9") | {"at": "2026-11-20 13:30"}, "late"), THEATRE),
            None,
            _NOT_HERS,
        ),
    ),
    "The order": (
        Change(
            "a new order is signed",
            asks(orders.SignOrder(CASE, CLOSER), PRESCRIBER),
            ("order",),
            "it takes the place of the one that the page follows",
        ),
        Change(
            "a new order is taken by telephone",
            asks(orders.TelephoneOrder(CASE, CLOSER, "ten minutes at most", read_back=True), NURSE),
            ("order",),
            "it holds at once, before its countersignature",
        ),
        Change(
            "the order is withdrawn",
            asks(orders.WithdrawOrder(CASE, 1, "not tonight"), PRESCRIBER),
            ("order",),
            "there is none",
        ),
        Change(
            "the order by telephone behind the sheet is countersigned",
            asks(orders.CountersignOrder(CASE, 2), PRESCRIBER),
            None,
            "a signature changes no word of it",
            by_telephone,
        ),
        Change(
            "a new order for another case",
            asks(orders.SignOrder(OTHER, order(OTHER) | {"largest_gap": "5 min"}), prescriber(OTHER)),
            None,
            _NOT_HERS,
        ),
    ),
    "What is at home, and she herself": (
        Change("the kit is read anew: another lot", asks(other_lot(CASE), NURSE), ("kit",), "it is another box"),
        Change(
            "the kit is read anew: fewer needles",
            asks(kits.ReadKit(CASE, kit() | {"needles": [{"gauge": 20, "length": "38 mm"}]}, "seen"), NURSE),
            ("kit",),
            "what is laid out is what is at home",
        ),
        Change(
            "two people read a box",
            asks(carton_checks()[0], NURSE),
            None,
            "the box is the one of the kit",
        ),
        Change("the kit of another case is read anew", asks(other_lot(OTHER), NURSE), None, _NOT_HERS),
        Change(
            "where she will be that night",
            changed_details(zone="America/New_York"),
            ("details",),
            "the minute is on her own clock",
        ),
        Change("who injects", changed_details(helper="Her sister"), ("details",), "the page speaks to whoever injects"),
        Change("an allergy", changed_details(allergies=["benzyl alcohol"]), ("details",), "the boxes are judged by it"),
        Change(
            "a result of today", changed_details(lh="2.4 units/L"), ("details",), "questions to the prescriber follow"
        ),
        Change("the language of her page", changed_details(language="es"), ("details",), "the words are others"),
    ),
    "The clinic": (
        Change(
            "its name",
            signed(lambda clinic: clinic.update(name="Another name (invented)")),
            ("clinic",),
            "she is told whom to ring",
        ),
        Change(
            "a telephone number",
            signed(lambda clinic: clinic["phones"][1].update(number="+1 555 0199")),
            ("phones",),
            "it stands on the page",
        ),
        Change(
            "the hours of a telephone number",
            signed(lambda clinic: clinic["phones"][1].update(closes="06:00")),
            ("phones",),
            "the number that is answered at her minute stands on the page",
        ),
    ),
    "The clinic's signed rules": (
        Change("`tell_by`", signed(rule("tell_by", "4 h")), ("rules.tell_by",), _ANY_PAGE),
        Change("`tell_by` is signed no more", signed(no_rule("tell_by")), ("rules.tell_by",), _ANY_PAGE),
        Change("`lay_out`", signed(rule("lay_out", "45 min")), ("rules.lay_out",), _ANY_PAGE),
        Change("`mixing`", signed(rule("mixing", "15 min")), ("rules.mixing",), _ANY_PAGE),
        Change("`arrival`", signed(rule("arrival", "90 min")), ("rules.arrival",), _ANY_PAGE),
        Change("`fasting_solids`", signed(rule("fasting_solids", "6 h")), ("rules.fasting_solids",), _ANY_PAGE),
        Change("`fasting_clear`", signed(rule("fasting_clear", "3 h")), ("rules.fasting_clear",), _ANY_PAGE),
        Change("`tolerance_note`", signed(rule("tolerance_note", "8 %")), ("rules.tolerance_note",), _ANY_PAGE),
        Change("`tolerance_warn`", signed(rule("tolerance_warn", "15 %")), ("rules.tolerance_warn",), _ANY_PAGE),
        Change(
            "`technique`",
            signed(lambda clinic: clinic["rules"]["technique"].update(wait_seconds=5)),
            ("rules.technique",),
            _ANY_PAGE,
        ),
        Change(
            "`checkers`",
            signed(rule("checkers", ["nurse", "pharmacist", "prescriber"])),
            ("rules.checkers",),
            "it was checked by a role that they name",
        ),
        Change(
            "`bands`: the one that judges her leads",
            signed(band("standard")),
            ("rules.bands.standard",),
            "her leads were judged by it",
        ),
        Change("`bands`: `long_agonist`", signed(band("long_agonist")), None, _JUDGES),
        Change("`bands`: `double_agonist`", signed(band("double_agonist")), None, _JUDGES),
        Change("`bands`: `double_hcg`", signed(band("double_hcg")), None, _JUDGES),
        Change(
            "`mixes`: of a product that she has",
            signed(lambda clinic: clinic["rules"]["mixes"][0].update(diluent="1 mL")),
            ("rules.mixes.hcg-10000-units",),
            "her vial is mixed by it",
        ),
        Change(
            "`mixes`: a second one of a product that she has",
            signed(lambda clinic: clinic["rules"]["mixes"].append({"product": "hcg-10000-units", "diluent": "5 mL"})),
            ("rules.mixes.hcg-10000-units",),
            "there is a choice that there was not",
        ),
        Change(
            "`mixes`: none any more",
            signed(no_rule("mixes")),
            ("rules.mixes.hcg-10000-units",),
            "her vial was mixed by it",
        ),
        Change(
            "`mixes`: of another product",
            signed(lambda clinic: clinic["rules"]["mixes"].append(SALINE)),
            None,
            "she has none of it",
        ),
        Change(
            "`languages`: one that her page is not in",
            signed(rule("languages", ["es"])),
            None,
            "English needs no signature",
        ),
        Change(
            "`languages`: that of her page, signed no more",
            signed(no_rule("languages")),
            ("rules.languages.es",),
            "her page would have the English beside it",
            in_spanish,
        ),
        Change(
            "`morning_sample`",
            signed(rule("morning_sample", ["9 h", "13 h"])),
            None,
            "it is for the clinic; no page tells it",
        ),
        Change(
            "`ladder`",
            signed(rule("ladder", [{"after": "20 min", "tell": "her own number"}])),
            None,
            "it is for the night after the page",
        ),
        Change(
            "`unreached`",
            signed(rule("unreached", [{"after": "20 min", "tell": "the prescriber"}])),
            None,
            "it is about calls; no page tells it",
        ),
        Change(
            "`trouble`",
            signed(rule("trouble", {"late_noted": "15 min", "late_recomputed": "60 min"})),
            None,
            "it is for the call after the page",
        ),
        Change("`keep_years`", signed(rule("keep_years", 30)), None, "it is about the record, not about her"),
        Change(
            "`tell_by` and `mixing` together",
            signed(lambda clinic: clinic["rules"].update(tell_by="4 h", mixing="15 min")),
            ("rules.mixing", "rules.tell_by"),
            "each is named",
        ),
        Change(
            "all of them signed again, word for word, on another day",
            signed(rule("signed_at", "2026-11-18 12:30")),
            None,
            "what they say is the same",
        ),
        Change(
            "all of them signed again, word for word, by another lead",
            signed(rule("signed_by", "Dr. N. Halloran"), Person("Dr. N. Halloran", LEAD.role)),
            None,
            "what they say is the same",
        ),
    ),
    "Barrels": (
        Change(
            "a barrel that she has is measured",
            asks(rules.MeasureBarrel(barrel(USED, "57 mm")), PHARMACIST),
            (f"barrels.{USED}",),
            "it can be drawn at true size",
        ),
        Change(
            "a barrel that she has is measured again, otherwise",
            asks(rules.MeasureBarrel(barrel(USED, "58 mm")), PHARMACIST),
            (f"barrels.{USED}",),
            "it was drawn at another size",
            measured,
        ),
        Change(
            "the rules are signed without the measured barrels",
            signed(lambda clinic: clinic.pop("barrels")),
            (f"barrels.{USED}",),
            "nobody vouches for the size it was drawn at",
            measured,
        ),
        Change(
            "a barrel that she has not is measured",
            asks(rules.MeasureBarrel(barrel(UNUSED, "60 mm")), PHARMACIST),
            None,
            "it is on no drawing of hers",
        ),
        Change(
            "a barrel that she has not is measured again, otherwise",
            asks(rules.MeasureBarrel(barrel(UNUSED, "61 mm")), PHARMACIST),
            None,
            "it is on no drawing of hers",
            measured,
        ),
    ),
    "Everything else": (
        Change(
            "somebody voids the sheet by hand",
            asks(sheets.VoidSheet(CASE, 1, "handed to another person"), NURSE),
            (),
            "a named person says so, and why",
        ),
        Change(
            "somebody looks at the plan", asks(checks.OpenPlan(CASE, "the plan"), PHARMACIST), None, "nothing changes"
        ),
        Change(
            "one more second check, which agrees",
            lambda world: (check(world), SECOND),
            None,
            "it says the same",
        ),
        Change(
            "one more second check, which differs",
            lambda world: (wrongly(check(world), 0, at="2026-11-19T04:00:00Z"), SECOND),
            ("second check",),
            "two people have worked out two things, and she has one of them",
        ),
        Change(
            "somebody rings her", asks(calls.TryCall(CASE, "+1 555 0188", True, "she"), NURSE), None, "nothing changes"
        ),
        Change("she reads the page back again", lambda world: (read_back(world), NURSE), None, "it is the same page"),
        Change(
            "she reads it back wrongly",
            lambda world: (replace(read_back(world), check_word="other words"), NURSE),
            None,
            "the page is right; she is told again",
        ),
        Change(
            "a call is noted",
            asks(calls.NoteCall(CASE, "she", "+1 555 0188", "sore", "rest", "nobody", "none"), NURSE),
            None,
            "nothing changes",
        ),
        Change("somebody is told that she is not reached", in_vain, None, "nothing changes"),
        Change(
            "what she allows is entered",
            asks(calls.SetPermissions(CASE, "her partner", voicemail=False, message=True, how="said so"), NURSE),
            None,
            "it is about how she is told, not what",
        ),
        Change("an injection is reported", asks(reported(), NURSE), None, "the page stays what she followed"),
        Change("a report is withdrawn", withdrawn, None, "the page stays what she followed"),
        Change(
            "somebody is told of an injection",
            asks(night.Escalate(CASE, "hcg", PRESCRIBER.name, "silence", "ring again"), NURSE),
            None,
            "nothing changes",
        ),
        Change(
            "a rung of the ladder is reached",
            silent,
            None,
            "silence changes nothing on it",
        ),
        Change("a link to her page is made", asks(LINKED, NURSE), None, "it leads to the same page"),
        Change("a link is revoked", revoked, None, "the page holds on paper"),
        Change(
            "on her phone she finds that a box differs",
            asks(phone.ReadBoxes(CASE, "hcg", 1, ("the water", "the needles")), HER_PHONE),
            None,
            "what follows is a kit read anew, and that voids",
        ),
        Change(
            "on her phone she asks for a call",
            asks(phone.AskHelp(CASE, "hcg", "step 4", "I am stuck"), HER_PHONE),
            None,
            "nothing changes",
        ),
        Change("she is answered", answered, None, "nothing changes"),
        Change(
            "something goes wrong",
            asks(night.NoteIncident(CASE, "hcg", "the vial fell", PRESCRIBER.name, "use the spare", False), NURSE),
            None,
            "what follows from it is a new order, kit or slot, and that voids",
        ),
        Change("results of the morning are entered", entering, None, "the page is what she followed"),
        Change("a result is withdrawn", taken_back, None, "nothing changes"),
        Change(
            "trouble is reported, with what went in",
            asks(
                trouble.ReportTrouble(CASE, "agonist", "wrong-mark", SAID, replace(reported(), amount="0.3 mL")),
                NURSE,
            ),
            None,
            "it is kept beside the page; what follows from it is a new order, kit or slot",
        ),
        Change(
            "the night is handed over", asks(handover.HandOver(DAY, SECOND.name, ()), NURSE), None, "nothing changes"
        ),
        Change("the handover is signed for", taken_over, None, "nothing changes"),
        Change("the morning list goes out", asks(handover.ListMorning(DAY), NURSE), None, "nothing changes"),
        Change(
            "another case is opened",
            asks(opening.OpenCase("K-7", details()), NURSE),
            None,
            _NOT_HERS,
        ),
        Change("the case is closed", all_reported, None, "the page stays what she followed"),
    ),
}


def every_change() -> dict[str, Change]:
    """Each change by its words."""
    return {f"{section}: {change.what}": change for section, found in CHANGES.items() for change in found}
