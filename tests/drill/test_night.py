"""A whole night of 62 callers, each with a case of her own: made by the ordinary acts, released, plannable, and silent about what she will say."""

import re
from functools import cache

import pytest

from hourmark.case.asked import Asked, Role
from hourmark.case.orders import WithdrawOrder
from hourmark.desk import Desk, Done
from hourmark.desk.made import Planned, plan_of
from hourmark.drill import case_plan, scene
from hourmark.drill.cast import PREFIX, Caller, cast
from hourmark.drill.making import NotMade, begins_at, make_until
from hourmark.drill.scenes import written_nights
from hourmark.incident.calls import calls
from hourmark.ledger import MemoryStore

SEED = 5
EVENING = "2026-11-18T20:30:00Z"
"""Half past two in the afternoon at the clinic: the night is made."""

CALLERS = cast(SEED, 62)
CLOCKS = next(one for one in CALLERS if one.round.scene.call.id == "C32")
"""She rings nineteen days before the others: on her night the clocks go back."""


def salt() -> bytes:
    return b"0123456789abcdef"


@cache
def night() -> Desk:
    desk = Desk(MemoryStore("drill"), salt)
    make_until(desk, CALLERS, EVENING)
    return desk


def of(call: str) -> Caller:
    return next(one for one in CALLERS if one.round.scene.call.id == call)


def test_every_call_rings_one_time_in_the_order_of_the_clock() -> None:
    assert sorted(one.round.scene.call.id for one in CALLERS) == [one.id for one in calls()]
    assert [one.rings_at for one in CALLERS] == sorted(one.rings_at for one in CALLERS)
    assert CALLERS[0] == CLOCKS
    assert of("C18").rings_at == "2026-11-19T04:30:00Z"  # 22:30 in Chicago, six hours behind


def test_the_seed_decides_who_rings_under_which_id() -> None:
    assert cast(SEED, 62) == CALLERS
    assert {one.case: one.round.scene.call.id for one in cast(6, 62)} != {
        one.case: one.round.scene.call.id for one in CALLERS
    }
    assert {one.round.scene.call.id for one in cast(SEED, 8)} < {one.round.scene.call.id for one in CALLERS}


def test_neither_id_nor_initials_say_what_a_call_is_about() -> None:
    assert {one.case for one in CALLERS} == {f"{PREFIX}{place:02}" for place in range(1, 63)}
    others = cast(SEED + 1, 62)
    same = [
        one for one in CALLERS for other in others if one.case == other.case and one.round.scene == other.round.scene
    ]
    assert len(same) < 10
    assert all(re.fullmatch(r"[A-W]\. [A-W]\.", one.initials) for one in CALLERS)


@pytest.mark.parametrize("one", CALLERS, ids=lambda one: one.round.scene.call.id)
def test_each_case_is_released_and_planned_as_its_scene_has_it(one: Caller) -> None:
    states = night().states()
    state, planned = states.case(one.case), plan_of(states.case(one.case), states.rules(), EVENING)
    assert isinstance(planned, Planned)
    wanted = case_plan(one.round.scene.case)
    assert [(leg.injection, leg.timed, leg.drawn) for leg in planned.case.injections] == [
        (leg.injection, leg.timed, leg.drawn) for leg in wanted.injections
    ]
    assert state.confirmations == ((state.confirmations[0],) if one is CLOCKS else ())
    assert state.incidents == ()
    assert (state.sheet is not None) is one.round.scene.called
    assert state.check is not None
    assert state.check.event.differences == ()


def test_one_caller_alone_has_no_page_because_nobody_rang_her() -> None:
    assert [one.round.scene.call.id for one in CALLERS if not one.round.scene.called] == ["C46"]
    assert "nobody rang me" in scene("C46").words


def test_no_two_cases_share_a_slot_or_a_room() -> None:
    states = night().states()
    given = [states.case(one.case).slot for one in CALLERS]
    slots = [one.slot for one in given if one is not None]
    assert len({slot["id"] for slot in slots}) == len({slot["room"] for slot in slots}) == 62


def test_made_again_nothing_is_added() -> None:
    desk = night()
    before = {head.stream: head.seq for head in desk.store.heads()}
    make_until(desk, CALLERS, EVENING)
    assert {head.stream: head.seq for head in desk.store.heads()} == before


def test_a_night_is_made_when_its_afternoon_is_done_and_the_one_before_is_closed() -> None:
    two = (CLOCKS, of("C18"))
    desk = Desk(MemoryStore("drill"), salt)
    assert begins_at(two) == "2026-10-30T19:30:00Z"
    make_until(desk, two, begins_at(two))
    assert desk.states().roll() == (CLOCKS.case,)
    make_until(desk, two, EVENING)
    assert desk.states().roll() == (of("C18").case,)
    last = desk.states().case(CLOCKS.case)
    assert last.closed
    assert [one.event.amount for one in last.confirmations] == ["all"]


def test_a_case_of_a_night_that_is_over_stays_open_where_something_in_it_is() -> None:
    """Whatever the trainee left there is hers to see; the making does not end over it."""
    two = (CLOCKS, of("C18"))
    desk = Desk(MemoryStore("drill"), salt)
    make_until(desk, two, begins_at(two))
    prescriber = Asked("Dr. L. Aumont", Role.PRESCRIBER, begins_at(two))
    assert isinstance(desk.perform(WithdrawOrder(CLOCKS.case, 1, "by the trainee"), prescriber, "w"), Done)
    make_until(desk, two, EVENING)
    assert of("C18").case in desk.states().roll()


def test_an_act_that_is_refused_is_said() -> None:
    desk = Desk(MemoryStore("drill"), salt)
    one = of("C18")
    make_until(desk, (one,), EVENING)
    other = Caller("DRILL-99", one.initials, one.rings_at, one.round)
    with pytest.raises(NotMade, match="PlaceSlot, DRILL-99-slot"):
        make_until(desk, (other,), EVENING)


def test_both_nights_have_one_clinic() -> None:
    clinics = [night["clinic"] for _, night in written_nights().values()]
    assert all(one == clinics[0] for one in clinics)
