"""Laws of an answer: more injected never lowers the dose, later never lengthens the lead, a range contains its points."""

import datetime as dt
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from hourmark.dose import Between, WentIn, dose_given
from hourmark.incident import Kind, Limits, Who
from hourmark.quantity import Units, Volume
from tests.incident.trouble import TWO, call, one_leg, signed_limits, with_window
from tests.laws.strategies import law

HUNDREDTHS = st.integers(0, 100)
WATER = st.integers(20, 1000)
PARTS = st.integers(0, 12)
MINUTES = st.integers(-8 * 60, 10 * 60)
PLANNED = dt.datetime(2026, 11, 18, 21)


def ml(hundredths: int) -> Volume:
    return Volume(Fraction(hundredths, 100))


def clock(minutes: int) -> str:
    return f"{PLANNED + dt.timedelta(minutes=minutes):%Y-%m-%d %H:%M}"


def went_in(
    drawn: tuple[int, int], water: tuple[int, int], lost: tuple[int, int], part: tuple[int, int], vials: int
) -> WentIn:
    return WentIn(
        Between(ml(drawn[0]), ml(drawn[1])),
        Units(Fraction(10000)),
        Between(ml(water[0]), ml(water[1])),
        lost=Between(ml(lost[0]), ml(lost[1])),
        lost_part=(Fraction(part[0], 12), Fraction(part[1], 12)),
        vials=vials,
    )


def ends(of: st.SearchStrategy[int]) -> st.SearchStrategy[tuple[int, int]]:
    return st.tuples(of, of).map(lambda pair: (min(pair), max(pair)))


@law(400)
@given(ends(HUNDREDTHS), WATER, HUNDREDTHS, PARTS, st.integers(1, 3))
def test_more_injected_never_lowers_the_dose(
    drawn: tuple[int, int], water: int, lost: int, part: int, vials: int
) -> None:
    less, more = (
        dose_given(went_in((one, one), (water, water), (lost, lost), (part, part), vials)).least for one in drawn
    )
    assert less <= more  # type: ignore[operator]


@law(400)
@given(HUNDREDTHS, WATER, ends(HUNDREDTHS), ends(PARTS), st.integers(1, 3))
def test_more_lost_never_raises_the_dose(
    drawn: int, water: int, lost: tuple[int, int], part: tuple[int, int], vials: int
) -> None:
    more, less = (
        dose_given(went_in((drawn, drawn), (water, water), (lost[i], lost[i]), (part[i], part[i]), vials)).least
        for i in (0, 1)
    )
    assert less <= more  # type: ignore[operator]


@law(600)
@given(ends(HUNDREDTHS), ends(WATER), ends(HUNDREDTHS), ends(PARTS), st.integers(1, 3), st.data())
def test_a_range_contains_its_points(
    drawn: tuple[int, int],
    water: tuple[int, int],
    lost: tuple[int, int],
    part: tuple[int, int],
    vials: int,
    data: st.DataObject,
) -> None:
    whole = dose_given(went_in(drawn, water, lost, part, vials))
    inside = [data.draw(st.integers(*one)) for one in (drawn, water, lost, part)]
    taken, added, gone, share = ((one, one) for one in inside)
    point = dose_given(went_in(taken, added, gone, share, vials)).least
    assert whole.least <= point <= whole.most  # type: ignore[operator]


@law(150)
@given(ends(st.integers(0, 100)))
def test_more_drawn_never_lowers_what_a_call_answers(drawn: tuple[int, int]) -> None:
    answers = [one_leg(call(Kind.WRONG_MARK, injected="yes", at=clock(0), drawn=str(ml(one)))).given for one in drawn]
    whole = one_leg(
        call(Kind.WRONG_MARK, injected="yes", at=clock(0), drawn=" to ".join(str(ml(one)) for one in drawn))
    ).given
    assert answers[0] is not None
    assert answers[1] is not None
    assert whole is not None
    assert answers[0].least <= answers[1].least  # type: ignore[operator]
    assert (whole.least, whole.most) == (answers[0].least, answers[1].most)


@law(150)
@given(ends(MINUTES), st.data())
def test_later_never_lengthens_the_lead(minutes: tuple[int, int], data: st.DataObject) -> None:
    legs = [one_leg(call(Kind.LATE, injected="yes", at=clock(one), all="yes")) for one in minutes]
    between = data.draw(st.integers(*minutes))
    point = one_leg(call(Kind.LATE, injected="yes", at=clock(between), all="yes"))
    whole = one_leg(call(Kind.LATE, injected="yes", at=" to ".join(map(clock, minutes)), all="yes"))
    leads = [leg.lead.lead for leg in (*legs, point, whole) if leg.lead and leg.lead.lead]
    early, late, inside, both = leads
    assert late[0] <= early[0]
    assert (both[0], both[1]) == (late[0], early[1])
    assert both[0] <= inside[0] == inside[1] <= both[1]


@law(100)
@given(ends(MINUTES), st.data())
def test_starts_of_a_range_suit_every_time_in_it(minutes: tuple[int, int], data: st.DataObject) -> None:
    whole = one_leg(call(Kind.LATE, injected="yes", at=" to ".join(map(clock, minutes)), all="yes")).slots
    point = one_leg(call(Kind.LATE, injected="yes", at=clock(data.draw(st.integers(*minutes))), all="yes")).slots
    assert whole is not None
    assert point is not None
    assert point.earliest is not None
    assert point.latest is not None
    certain = minutes[1] - minutes[0] <= 120
    assert (whole.earliest is not None) is (whole.latest is not None) is certain
    if whole.earliest is not None and whole.latest is not None:
        assert not whole.earliest < point.earliest
        assert not point.latest < whole.latest


@law(150)
@given(MINUTES, HUNDREDTHS, st.sampled_from(["5 min", "15 min", "60 min", "120 min"]))
def test_one_more_limit_is_never_a_looser_answer(minutes: int, drawn: int, anew: str) -> None:
    """The stricter wins: what a lateness limit adds can only move the decision up."""
    base = with_window("30 h", "46 h")

    def decides(limits: Limits) -> Who:
        found = call(Kind.WRONG_MARK, injected="yes", at=clock(minutes), drawn=str(ml(drawn)), base=base, limits=limits)
        return found.decides

    assert decides(signed_limits(dose="10 %")) <= decides(signed_limits(dose="10 %", anew=anew))


@law(60)
@given(MINUTES, st.sampled_from(["first", "agonist"]))
def test_each_leg_of_two_is_judged_alone(minutes: int, missed: str) -> None:
    """What is said of one leg is the same whatever became of the other, but for how far they are apart."""
    found = call(Kind.ONE_OF_TWO, missed=missed, at=clock(minutes), all="yes", base=TWO)
    given_one = found.legs[1]
    alone = one_leg(
        call(Kind.LATE, injection=given_one.injection.id, injected="yes", at=clock(minutes), all="yes", base=TWO)
    )
    assert (given_one.given, given_one.share, given_one.lead, given_one.slots, given_one.reasons) == (
        alone.given,
        alone.share,
        alone.lead,
        alone.slots,
        alone.reasons,
    )
