"""Orders: a prescriber's alone, each version readable for ever, and what was heard by telephone signed afterwards."""

import pytest

from hourmark.case import events as e
from hourmark.case.opening import CloseCase
from hourmark.case.orders import CountersignOrder, SignOrder, TelephoneOrder, WithdrawOrder
from tests.case.voiding import by_telephone
from tests.case.world import (
    CASE,
    LATER,
    LEAD,
    MORNING,
    NURSE,
    OTHER_PRESCRIBER,
    PHARMACIST,
    PRESCRIBER,
    SECOND,
    THEATRE,
    Person,
    at_stage,
    kinds,
    order,
    written,
)

CLOSER = order() | {"largest_gap": "10 min"}
SPOKEN = TelephoneOrder(CASE, CLOSER, "at most ten minutes apart, not fifteen", read_back=True, second_listener=None)


def test_a_signed_order_is_the_first_version() -> None:
    world = at_stage("opened")
    entries = world.do(SignOrder(CASE, order()), PRESCRIBER)
    assert kinds(entries) == ["case/K-103 order-signed"]
    assert written(entries, e.OrderSigned) == e.OrderSigned(1, order())
    standing = world.case().order
    assert standing is not None
    assert not standing.awaits_signature


def test_a_new_order_takes_the_place_of_the_old_which_stays_readable() -> None:
    world = at_stage("planned")
    assert kinds(world.do(SignOrder(CASE, CLOSER), PRESCRIBER)) == ["case/K-103 order-signed"]
    assert [one.event.order for one in world.case().orders] == [order(), CLOSER]
    assert [one.event.version for one in world.case().orders] == [1, 2]
    assert world.case().order == world.case().orders[1]


def test_the_order_on_the_record_signed_again_is_no_change() -> None:
    assert at_stage("planned").codes(SignOrder(CASE, order()), PRESCRIBER) == ["nothing-changed"]


@pytest.mark.parametrize("who", [NURSE, PHARMACIST, THEATRE, LEAD], ids=lambda who: who.role)
@pytest.mark.parametrize(
    "command",
    [SignOrder(CASE, CLOSER), CountersignOrder(CASE, 1), WithdrawOrder(CASE, 1, "x")],
    ids=lambda command: type(command).__name__,
)
def test_nobody_but_a_prescriber_signs_countersigns_or_withdraws(command: SignOrder, who: Person) -> None:
    assert at_stage("planned").codes(command, who) == ["order-role"]


def test_nobody_signs_an_order_in_the_name_of_another() -> None:
    refused = at_stage("planned").refused(SignOrder(CASE, CLOSER), OTHER_PRESCRIBER)
    assert [finding.code for finding in refused.findings] == ["order-by-other"]
    assert PRESCRIBER.name in refused.findings[0].what
    assert OTHER_PRESCRIBER.name in refused.findings[0].what


@pytest.mark.parametrize(
    ("change", "where"),
    [
        ({"cycle": "antagonistic"}, "cycle"),
        ({"largest_gap": "a moment"}, "largest_gap"),
        ({"window": ["35 h", "37 h"]}, "window"),
        ({"sequence": ["agonist", "third"]}, "sequence"),
    ],
)
def test_an_order_that_cannot_be_read_is_refused_where_it_cannot(change: dict[str, object], where: str) -> None:
    world = at_stage("planned")
    for command, who in (
        (SignOrder(CASE, order() | change), PRESCRIBER),
        (TelephoneOrder(CASE, order() | change, "words", True), NURSE),
    ):
        refused = world.refused(command, who)
        assert [finding.where.partition("[")[0] for finding in refused.findings] == [where]


@pytest.mark.parametrize("who", [NURSE, PHARMACIST], ids=lambda who: who.role)
def test_an_order_by_telephone_holds_and_waits_for_its_signature(who: Person) -> None:
    world = at_stage("planned")
    entries = world.do(SPOKEN, who)
    assert kinds(entries) == ["case/K-103 order-telephoned"]
    assert written(entries, e.OrderTelephoned) == e.OrderTelephoned(2, CLOSER, SPOKEN.words, None)
    standing = world.case().order
    assert standing is not None
    assert standing.awaits_signature
    assert standing.actor == who.name
    (queued,) = world.store.queued()
    assert (queued.message.kind, queued.message.to) == ("countersign", PRESCRIBER.name)
    assert "Order 2" in queued.message.text


@pytest.mark.parametrize("who", [PRESCRIBER, THEATRE, LEAD], ids=lambda who: who.role)
def test_nobody_else_takes_an_order_by_telephone(who: Person) -> None:
    assert at_stage("planned").codes(SPOKEN, who) == ["telephone-order-role"]


@pytest.mark.parametrize(("words", "read_back"), [("", True), ("  \n", True), ("ten minutes", False)])
def test_an_order_by_telephone_is_written_down_and_read_back(words: str, read_back: bool) -> None:
    command = TelephoneOrder(CASE, CLOSER, words, read_back)
    assert at_stage("planned").codes(command, NURSE) == ["telephone-order-unread"]


def test_who_else_listened_is_on_the_record() -> None:
    command = TelephoneOrder(CASE, CLOSER, "ten minutes", True, SECOND.name)
    assert written(at_stage("planned").do(command, NURSE), e.OrderTelephoned).second_listener == SECOND.name


def test_the_countersignature_ends_the_waiting_and_changes_nothing_else() -> None:
    world = at_stage("planned")
    world.do(SPOKEN, NURSE)
    before = world.planned()
    entries = world.do(CountersignOrder(CASE, 2), PRESCRIBER, MORNING)
    assert kinds(entries) == ["case/K-103 order-countersigned"]
    assert written(entries, e.OrderCountersigned) == e.OrderCountersigned(2, PRESCRIBER.name)
    standing = world.case().order
    assert standing is not None
    assert not standing.awaits_signature
    assert standing.countersigned_by == PRESCRIBER.name
    assert world.planned() == before


def test_an_order_that_was_replaced_can_still_be_countersigned() -> None:
    world = at_stage("planned")
    world.do(SPOKEN, NURSE)
    world.do(SignOrder(CASE, order() | {"largest_gap": "12 min"}), PRESCRIBER)
    assert [one.awaits_signature for one in world.case().orders] == [False, True, False]
    world.do(CountersignOrder(CASE, 2), PRESCRIBER, MORNING)
    assert [one.countersigned_by for one in world.case().orders] == [None, PRESCRIBER.name, None]
    standing = world.case().order
    assert standing is not None
    assert standing.event.version == 3


def test_an_order_by_telephone_is_countersigned_also_when_the_case_is_closed() -> None:
    world = at_stage("planned")
    world.do(SPOKEN, NURSE)
    world.do(CloseCase(CASE, "over"), NURSE)
    entries = world.do(CountersignOrder(CASE, 2), PRESCRIBER, MORNING)
    assert kinds(entries) == ["case/K-103 order-countersigned"]
    assert not [one for one in world.case().orders if one.awaits_signature]
    assert world.case().closed
    assert world.codes(CountersignOrder(CASE, 2), PRESCRIBER) == ["nothing-changed"]


def test_on_a_closed_case_too_only_whoever_gave_the_order_countersigns_it() -> None:
    world = at_stage("planned")
    world.do(SPOKEN, NURSE)
    world.do(CloseCase(CASE, "over"), NURSE)
    assert world.codes(CountersignOrder(CASE, 2), NURSE) == ["order-role"]
    assert world.codes(CountersignOrder(CASE, 2), OTHER_PRESCRIBER) == ["order-by-other"]


def test_signing_just_what_was_taken_by_telephone_countersigns_it() -> None:
    world = at_stage("planned")
    world.do(SPOKEN, NURSE)
    before = world.planned()
    entries = world.do(SignOrder(CASE, CLOSER), PRESCRIBER, MORNING)
    assert kinds(entries) == ["case/K-103 order-countersigned"]
    assert written(entries, e.OrderCountersigned) == e.OrderCountersigned(2, PRESCRIBER.name)
    assert [one.event.version for one in world.case().orders] == [1, 2]
    assert not [one for one in world.case().orders if one.awaits_signature]
    assert world.planned() == before
    assert world.codes(SignOrder(CASE, CLOSER), PRESCRIBER) == ["nothing-changed"]


def test_signing_what_was_taken_by_telephone_voids_no_sheet() -> None:
    world = by_telephone()
    assert kinds(world.do(SignOrder(CASE, CLOSER), PRESCRIBER)) == ["case/K-103 order-countersigned"]
    assert world.case().sheet is not None


def test_nobody_signs_what_another_said_on_the_telephone() -> None:
    world = at_stage("planned")
    world.do(SPOKEN, NURSE)
    assert world.codes(SignOrder(CASE, CLOSER), OTHER_PRESCRIBER) == ["order-by-other"]
    assert world.codes(SignOrder(CASE, CLOSER), NURSE) == ["order-role"]


def test_only_whoever_gave_the_order_countersigns_it() -> None:
    world = at_stage("planned")
    world.do(SPOKEN, NURSE)
    assert world.codes(CountersignOrder(CASE, 2), OTHER_PRESCRIBER) == ["order-by-other"]


@pytest.mark.parametrize("version", [0, 1, 3])
def test_what_does_not_wait_for_a_signature_gets_none(version: int) -> None:
    world = at_stage("planned")
    world.do(SPOKEN, NURSE)
    assert world.codes(CountersignOrder(CASE, version), PRESCRIBER) == ["nothing-changed"]


def test_one_countersignature_is_enough() -> None:
    world = at_stage("planned")
    world.do(SPOKEN, NURSE)
    world.do(CountersignOrder(CASE, 2), PRESCRIBER)
    assert world.codes(CountersignOrder(CASE, 2), PRESCRIBER) == ["nothing-changed"]


def test_a_withdrawn_order_leaves_none_not_the_one_before() -> None:
    world = at_stage("planned")
    world.do(SignOrder(CASE, CLOSER), PRESCRIBER)
    entries = world.do(WithdrawOrder(CASE, 2, "she has to wait a day"), PRESCRIBER)
    assert kinds(entries) == ["case/K-103 order-withdrawn"]
    assert written(entries, e.OrderWithdrawn) == e.OrderWithdrawn(2, PRESCRIBER.name, "she has to wait a day")
    assert world.case().order is None
    assert [one.withdrawn for one in world.case().orders] == [False, True]


@pytest.mark.parametrize("version", [0, 1, 3])
def test_only_the_order_that_holds_can_be_withdrawn(version: int) -> None:
    world = at_stage("planned")
    world.do(SignOrder(CASE, CLOSER), PRESCRIBER)
    assert world.codes(WithdrawOrder(CASE, version, "x"), PRESCRIBER) == ["nothing-changed"]


def test_a_withdrawn_order_waits_for_no_signature() -> None:
    world = at_stage("planned")
    world.do(SPOKEN, NURSE)
    world.do(WithdrawOrder(CASE, 2, "misheard"), PRESCRIBER)
    assert world.codes(CountersignOrder(CASE, 2), PRESCRIBER) == ["nothing-changed"]
    assert world.codes(WithdrawOrder(CASE, 2, "misheard"), PRESCRIBER) == ["nothing-changed"]


def test_after_a_withdrawal_the_same_order_can_be_signed_again() -> None:
    world = at_stage("planned")
    world.do(WithdrawOrder(CASE, 1, "one day later after all"), PRESCRIBER)
    assert written(world.do(SignOrder(CASE, order()), PRESCRIBER, LATER), e.OrderSigned).version == 2


def test_a_new_order_by_telephone_voids_the_sheet_and_both_messages_are_queued() -> None:
    world = at_stage("released")
    entries = world.do(SPOKEN, NURSE)
    assert kinds(entries) == ["case/K-103 order-telephoned", "case/K-103 sheet-voided"]
    assert written(entries, e.SheetVoided).changed == ("order",)
    assert world.messages() == [("countersign", PRESCRIBER.name), ("call-owed", CASE)]
