"""500 nights on the real acts, and whatever once went wrong: nothing acknowledged is lost, nobody is silent past a rung, no state is made up."""

from collections import Counter
from functools import cache
from pathlib import Path

import pytest

from hourmark.clock import parse_zone
from hourmark.desk import watch as watching
from tests.case.world import desk_over
from tests.night import worlds
from tests.night.clocks import instant, meanings, wall, wall_of
from tests.night.model import Broken
from tests.night.planted import PLANTED
from tests.night.simulator import LIKELY, play

SEEDS = 500
BLOCK = 25
SEEDS_KEPT = Path(__file__).with_name("seeds.txt")
"""Seeds of nights in which something once did not hold, each with what it was."""


OFTEN = (
    *(
        f"fact: {kind}"
        for kind in (
            *("confirmed", "confirmation-withdrawn", "escalated", "escalation-owed", "incident-noted"),
            *("link-given", "link-revoked", "boxes-read", "help-asked", "help-given", "call-tried", "case-closed"),
            *(
                "slot-placed",
                "slot-given",
                "order-telephoned",
                "order-countersigned",
                "sheet-voided",
                "sheet-issued",
                "second-checked",
            ),
            *("read-back", "rules-signed", "handed-over", "handover-taken", "morning-listed"),
        )
    ),
    *(f"night: {name}" for name in LIKELY if name != "all ten"),
    *(
        f"state: {state}"
        for state in ("problem", "unknown since", "given early", "given late", "no sheet", "due", "mixing")
    ),
    *(f"state: {state}" for state in ("told", "to tell", "settled", "given")),
    *(f"answer: {answer}" for answer in ("Done", "Done again", "Refused", "Moved", "KeyTaken")),
    *(f"the request {fate}" for fate in ("was lost", "was late", "came twice")),
    *("the reply was lost", "the store could not", "the store was out of reach", "the watch could not store"),
    *("a watcher died", "a watcher was started again", "the desk was started again", "somebody got in between"),
    *("a closed case was heard of", "a closed case was closed again"),
    *("the machine's clock was put forward or back", "rescues"),
)
"""What a hundred nights meet at least three times."""


def seeds_kept() -> list[int]:
    lines = SEEDS_KEPT.read_text(encoding="utf-8").splitlines()
    return [int(line.split()[0]) for line in lines if line and not line.startswith("#")]


@pytest.fixture(autouse=True, scope="module")
def _made_before_any_fault_is_planted() -> None:
    for name in worlds.NIGHTS:
        worlds.night(name)


@cache
def played(seed: int) -> Counter[str]:
    try:
        return play(seed)
    except Exception as broken:
        broken.add_note(f"Night {seed}. Once it is mended, keep the seed in tests/night/seeds.txt.")
        raise


@pytest.mark.parametrize("seed", seeds_kept())
def test_a_night_in_which_something_once_broke_holds(seed: int) -> None:
    assert played(seed)["steps"] > 3


@pytest.mark.parametrize("first", range(0, SEEDS, BLOCK))
def test_everything_holds_after_every_step_of_a_night(first: int) -> None:
    for seed in range(first, first + BLOCK):
        assert played(seed)["steps"] > 3, seed


def test_the_nights_meet_what_can_happen() -> None:
    met: Counter[str] = Counter()
    for seed in range(4 * BLOCK):
        met += played(seed)
    assert {one: met[one] for one in OFTEN if met[one] < 3} == {}
    assert met["acts"] > 1_000


def test_a_seed_is_a_night() -> None:
    assert played(5) == play(5)
    assert played(5) != played(6)


@pytest.mark.parametrize("fault", PLANTED)
def test_a_planted_fault_breaks_the_law_that_it_offends(fault: str) -> None:
    with PLANTED[fault].plant(), pytest.raises(Broken) as broken:
        any(not play(seed) for seed in range(4 * BLOCK))
    assert broken.value.law in PLANTED[fault].laws


@pytest.mark.parametrize("name", worlds.NIGHTS)
def test_the_nights_are_what_they_are_called(name: str) -> None:
    made = worlds.night(name)
    desk = desk_over(made.store())
    cases = desk.states().open_cases()
    wanted = worlds.NIGHTS[name]
    assert [one.id for one in cases] == list(wanted.cases)
    assert [one.id for one in cases if one.sheet is None] == list(wanted.unreleased)
    assert [one.id for one in cases if one.sheet and one.read_back is None] == list(wanted.waived)
    due = min(due.at for one in cases if one.sheet for due in one.sheet.event.dues)
    assert instant(made.ready) < due
    assert watching.watch_once(desk, instant(made.ready)) == ()


# The clock changes of 2026 and 2027 in New York: 15 U.S.C. 260a, from memory; the instants are those of the IANA time-zone database.


def test_the_simulator_s_own_clock_knows_skipped_and_repeated_hours() -> None:
    assert [instant(one) for one in meanings("2026-11-01 01:30", "America/New_York")] == [
        "2026-11-01T05:30:00Z",
        "2026-11-01T06:30:00Z",
    ]
    assert wall("2026-11-01 01:30", "America/New_York", "second") == "2026-11-01T06:30:00Z"
    assert meanings("2027-03-14 02:30", "America/New_York") == ()
    (one,) = meanings("2026-11-01 01:30", "Asia/Kolkata")
    assert (instant(one), wall_of(one, "Asia/Kolkata")) == ("2026-10-31T20:00:00Z", "2026-11-01 01:30")
    assert parse_zone("Asia/Kolkata").name == "Asia/Kolkata"
