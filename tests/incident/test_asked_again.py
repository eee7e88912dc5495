"""What is asked again, and why: nothing is computed from it, and the report is kept word for word."""

import pytest

from hourmark.finding import Unreadable
from hourmark.incident import Answer, AnswerForm, Kind, State, Who, question, questions, read_answer, read_facts
from hourmark.quantity import Units
from tests.exchange.nights import NASAL, POWDER, PREFILLED, SOLUTION, WHOLE, changed
from tests.incident.trouble import OK, TWO, call, codes, one_leg, signed_limits

AT = "2026-11-18 21:00"


def stops(found: Answer) -> dict[str, str]:
    """The stops by code, each with the place that says what is asked again."""
    return {one.code: one.where for one in found.findings if one.level == "stop"}


@pytest.mark.parametrize(
    ("kind", "said", "code", "place", "words"),
    [
        (
            Kind.LATE,
            {"at": "2026-11-19 08:01", "all": "yes"},
            "trouble-time-future",
            "at",
            "has not come yet: it is 08:00",
        ),
        (
            Kind.LATE,
            {"at": "2026-11-18 21:00 to 2026-11-19 09:00", "all": "yes"},
            "trouble-time-future",
            "at",
            "not come yet",
        ),
        (
            Kind.LATE,
            {"at": "2026-11-18 22:00 to 2026-11-18 21:00", "all": "yes"},
            "trouble-contradicts",
            "at",
            "is later than",
        ),
        (Kind.LATE, {"at": AT, "injected": "no", "all": "yes"}, "trouble-contradicts", "at", "Nothing has gone in"),
        (
            Kind.LATE,
            {"at": AT, "all": "yes", "lost": "half"},
            "trouble-contradicts",
            "injection first, all",
            "another amount",
        ),
        (
            Kind.LATE,
            {"at": AT, "all": "yes", "water": "1 mL"},
            "trouble-contradicts",
            "injection first, all",
            "another amount",
        ),
        (
            Kind.LATE,
            {"at": AT, "all": "yes", "injection": "second"},
            "trouble-contradicts",
            "injection",
            "no injection of this order; it has first",
        ),
        (Kind.LATE, {"at": AT, "all": "yes", "open": "2026-11-19 07:59"}, "trouble-contradicts", "open", "is past"),
        (
            Kind.WRONG_MARK,
            {"at": AT, "drawn": "1.01 mL"},
            "trouble-too-much",
            "injection first, drawn",
            "more than the syringe takes",
        ),
        (
            Kind.WRONG_MARK,
            {"at": AT, "mark": "101"},
            "trouble-too-much",
            "injection first, drawn",
            "more than the syringe takes",
        ),
        (
            Kind.WRONG_MARK,
            {"at": AT, "drawn": "2.1 mL", "barrel": "mL-3-0.1"},
            "trouble-too-much",
            "injection first, drawn",
            "more than the vial held",
        ),
        (
            Kind.WRONG_MARK,
            {"at": AT, "mark": "30", "drawn": "0.2 mL"},
            "trouble-contradicts",
            "injection first, mark",
            "is 0.3 mL, not 0.2 mL",
        ),
        (
            Kind.WRONG_WATER,
            {"at": AT, "water": "11 mL"},
            "trouble-too-much",
            "injection first, water",
            "more than the kit holds",
        ),
        (
            Kind.PARTIAL,
            {"at": AT, "lost": "0.21 mL"},
            "trouble-too-much",
            "injection first, lost",
            "more than was in the syringe",
        ),
        (
            Kind.PARTIAL,
            {"at": AT, "stayed": "0.3 mL"},
            "trouble-too-much",
            "injection first, stayed",
            "more than was in the syringe",
        ),
        (
            Kind.PARTIAL,
            {"at": AT, "residue": "2.01 mL"},
            "trouble-too-much",
            "injection first, residue",
            "more than the vials held",
        ),
        (
            Kind.REPEATED,
            {"at": AT, "all": "yes", "times": "0"},
            "trouble-contradicts",
            "injection first, times",
            "no time at all",
        ),
        (
            Kind.ONE_OF_TWO,
            {"at": AT, "all": "yes", "missed": "first"},
            "trouble-contradicts",
            "missed",
            "has one injection",
        ),
        (
            Kind.WRONG_PRODUCT,
            {"at": AT, "drug": "chorionic gonadotropin", "strength": "5 mg/mL", "water": "1 mL"},
            "trouble-not-here",
            "injection first, water",
            "takes no water",
        ),
    ],
)
def test_asked_again(kind: Kind, said: dict[str, str], code: str, place: str, words: str) -> None:
    found = call(kind, said)
    assert stops(found) == {code: place}
    assert words in next(one.what for one in found.findings if one.code == code)
    assert found.decides is Who.PRESCRIBER
    assert found.said == tuple((OK | said).items())
    if place == "at":
        assert not [leg for leg in found.legs if leg.lead is not None]
    elif place != "open":
        assert not [leg for leg in found.legs if leg.given is not None]


@pytest.mark.parametrize(
    ("base", "kind", "said", "place"),
    [
        (SOLUTION, Kind.WRONG_WATER, {"at": AT, "water": "1 mL"}, "water"),
        (SOLUTION, Kind.WATER_ONLY, {"at": AT}, "kind"),
        (PREFILLED, Kind.WRONG_MARK, {"at": AT, "mark": "0.3"}, "mark"),
        (NASAL, Kind.PARTIAL, {"at": AT, "lost": "half"}, "kind"),
    ],
)
def test_what_has_no_meaning_with_this_product(base: str, kind: Kind, said: dict[str, str], place: str) -> None:
    found = call(kind, said, base=base)
    assert stops(found) == {"trouble-not-here": f"injection first, {place}"}
    assert one_leg(found).given is None


def test_more_vials_than_the_kit_has() -> None:
    """Two whole vials out of a kit of one: counted again."""
    found = call(Kind.REPEATED, {"at": AT, "all": "yes", "times": "2"}, base=WHOLE)
    assert stops(found) == {"trouble-too-much": "injection first, times"}
    assert one_leg(found).given is None
    two = changed(
        WHOLE,
        ("expiry = 2027-02-28\n\n[[cases.kit.diluents]]", "expiry = 2027-02-28\ncount = 2\n\n[[cases.kit.diluents]]"),
    )
    leg = one_leg(call(Kind.REPEATED, {"at": AT, "all": "yes", "times": "2"}, base=two))
    assert leg.given is not None
    assert str(leg.given.most) == "10,000 units"


def test_a_clock_time_that_does_not_exist_or_happens_twice_is_asked_again() -> None:
    from tests.incident.trouble import at, moved, signed_limits

    plan = moved("2026-11-02 10:00", "America/Chicago")
    from hourmark.incident import answer

    for said, code in (("2026-11-01 01:30", "time-repeated"), ("2026-03-08 02:30", "time-skipped")):
        facts = read_facts(Kind.LATE, OK | {"at": said, "all": "yes"})
        found = answer(plan, Kind.LATE, facts, signed_limits(), at("2026-11-01 20:00"))
        assert stops(found) == {code: "at"}
        assert found.legs[0].lead is None
    for which, lead in (("first", "33 h 30 min"), ("second", "32 h 30 min")):
        facts = read_facts(Kind.LATE, OK | {"at": f"2026-11-01 01:30 {which}", "all": "yes"})
        leg = answer(plan, Kind.LATE, facts, signed_limits(), at("2026-11-01 20:00")).legs[0]
        assert leg.lead is not None
        assert leg.lead.lead is not None
        assert str(leg.lead.lead[0]) == lead


@pytest.mark.parametrize("kind", list(Kind))
def test_an_empty_report_asks_every_needed_question_in_order(kind: Kind) -> None:
    from hourmark.incident import answer, limits_of
    from tests.incident.trouble import MORNING, at, night, plan

    found = answer(plan(TWO), kind, read_facts(kind, {}), limits_of(night(TWO).clinic.rules), at(MORNING))
    asked = [one.where for one in found.findings if one.code in ("trouble-danger-unasked", "trouble-unanswered")]
    assert asked == [one.key for one in questions(kind) if one.needed]
    assert asked[0] == "symptoms"
    assert codes(found)["trouble-danger-unasked"] == "ask"
    assert found.decides is Who.PRESCRIBER
    assert not [leg for leg in found.legs if leg.given is not None and leg.given.most]


def test_questions_come_in_the_order_of_a_frightened_caller() -> None:
    """Signs of danger first; whether and when before how much; theatre last."""
    for kind in Kind:
        asked = questions(kind)
        keys = [one.key for one in asked]
        assert [one.order for one in asked] == list(range(1, len(asked) + 1))
        assert len(set(keys)) == len(keys)
        assert keys[0] == "symptoms"
        assert keys[-1] == "open"
        for first, then in (("at", "drawn"), ("injected", "at"), ("injection", "at"), ("at", "lost"), ("at", "water")):
            if first in keys and then in keys:
                assert keys.index(first) < keys.index(then), (kind, first, then)
        assert all(question(kind, one.key) == one for one in asked)
    assert question(Kind.MISSED, "drawn") is None


@pytest.mark.parametrize(
    ("form", "text"),
    [
        (AnswerForm.YES_NO, "perhaps"),
        (AnswerForm.TIME, "nine o'clock"),
        (AnswerForm.TIME, "2026-11-18 25:00"),
        (AnswerForm.TIMES, "2026-11-20 12:30; 13:00"),
        (AnswerForm.VOLUME, ".3 mL"),
        (AnswerForm.VOLUME, "0.30 mL"),
        (AnswerForm.VOLUME, "0.3 cc"),
        (AnswerForm.VOLUME, "0.3 to 0.2 mL"),
        (AnswerForm.VOLUME, "3 units"),
        (AnswerForm.LOSS, "some"),
        (AnswerForm.LOSS, "1/2 to 1/3"),
        (AnswerForm.LOSS, "4/3"),
        (AnswerForm.LOSS, "120 %"),
        (AnswerForm.LOSS, "1/0"),
        (AnswerForm.MARK, "30 marks"),
        (AnswerForm.MARK, "40 to 30"),
        (AnswerForm.BARREL, "the big one"),
        (AnswerForm.STRENGTH, "5000 IU"),
        (AnswerForm.STRENGTH, "5 mg"[:1]),
        (AnswerForm.ROUTE, "arm"),
        (AnswerForm.COUNT, "1.5"),
        (AnswerForm.COUNT, "2 to 1"),
        (AnswerForm.COUNT, "100"),
        (AnswerForm.TEXT, ""),
    ],
)
def test_answers_that_cannot_be_read_say_what_to_write(form: AnswerForm, text: str) -> None:
    kind, asked = next((kind, one) for kind in Kind for one in questions(kind) if one.form is form)
    with pytest.raises(Unreadable) as refusal:
        read_answer(asked, text)
    assert refusal.value.what
    assert refusal.value.do
    facts = read_facts(kind, {asked.key: text})
    assert [(one.key, one.said) for one in facts.again] == [(asked.key, text)]
    assert facts.said == ((asked.key, text),)
    assert getattr(facts, asked.key) is None


def test_an_unread_answer_is_a_stop_and_the_rest_is_still_computed() -> None:
    found = call(Kind.WRONG_MARK, {"at": "nine", "drawn": "0.3 mL", "injected": "yes"})
    assert stops(found) == {"trouble-unreadable": "at"}
    leg = one_leg(found)
    assert leg.lead is None
    assert leg.given is not None
    assert leg.given.least == Units(1500)  # type: ignore[arg-type]


def test_a_key_that_this_trouble_does_not_ask() -> None:
    facts = read_facts(Kind.MISSED, {"drawn": "0.3 mL"})
    (again,) = facts.again
    assert again.key == "drawn"
    assert "symptoms, injection" in again.do


def test_what_she_cannot_say_is_not_guessed() -> None:
    found = call(Kind.WRONG_MARK, {"at": AT, "drawn": "not known"})
    leg = one_leg(found)
    assert (leg.given, leg.share, found.decides) == (None, None, Who.PRESCRIBER)
    assert "drawn: asked, and she cannot say" in found.not_known
    unasked = call(Kind.LATE, {"at": AT})
    assert one_leg(unasked).given is None
    assert unasked.decides is Who.PRESCRIBER
    timeless = call(Kind.LATE, {"at": "not known", "injected": "yes", "all": "yes"})
    assert (one_leg(timeless).lead, timeless.decides) == (None, Who.PRESCRIBER)
    assert any(reason.code == "trouble-unknown" for reason in timeless.reasons)


def test_units_that_do_not_compare_are_not_converted() -> None:
    """250 mcg in a vial where units were ordered: what went in is said in mcg, and no share of the order."""
    told = {"at": AT, "injected": "yes", "drug": "chorionic gonadotropin", "strength": "250 mcg", "water": "0.5 mL"}
    found = call(Kind.WRONG_PRODUCT, told)
    leg = one_leg(found)
    assert leg.given is not None
    assert (str(leg.given.least), leg.share) == ("100 mcg", None)
    assert any("nothing is converted" in reason.why for reason in found.reasons)
    assert codes(found)["trouble-product"] == "ask"


def test_a_refused_plan_still_takes_the_report() -> None:
    """The case has no cycle type, so its plan is refused; what is reported is still computed, and said to rest on it."""
    base = changed(POWDER, ('cycle = "antagonist"\n', ""))
    found = call(Kind.WRONG_MARK, {"at": AT, "injected": "yes", "drawn": "0.3 mL"}, base=base)
    assert codes(found)["trouble-plan-refused"] == "ask"
    as_planned = call(Kind.LATE, {"at": AT, "injected": "yes", "all": "yes"}, base=base)
    assert as_planned.decides is Who.PRESCRIBER
    leg = one_leg(found)
    assert leg.given is not None
    assert str(leg.given.least) == "1,500 units"
    assert found.decides is Who.PRESCRIBER


def test_a_plan_without_a_liquid_takes_what_is_told_and_no_more() -> None:
    """No syringe at home reaches the dose, so nothing is planned to be drawn; strength, water and volume as told are enough."""
    base = changed(POWDER, ('dose = "1,000 units"', 'dose = "1,003 units"'))
    told = {"at": AT, "injected": "yes", "strength": "10,000 units", "water": "2 mL", "drawn": "0.2 mL"}
    leg = one_leg(call(Kind.WRONG_PRODUCT, told, base=base, drug="chorionic gonadotropin"))
    assert leg.given is not None
    assert str(leg.given.least) == "1,000 units"
    silent = call(Kind.LATE, {"at": AT, "injected": "yes", "all": "yes"}, base=base)
    assert one_leg(silent).given is None
    assert "how much was drawn up" in silent.not_known


@pytest.mark.parametrize(
    ("kind", "said"),
    [
        (Kind.MISSED, {"injection": "first"}),
        (Kind.LATE, {"injection": "first", "injected": "no"}),
        (Kind.WRONG_MARK, {"injection": "first", "injected": "no", "drawn": "0.2 mL"}),
        (Kind.ONE_OF_TWO, {"missed": "first", "at": AT, "all": "yes"}),
        (Kind.OTHER_DRUG, {"injection": "first", "drug": "ganirelix", "instead": "yes"}),
    ],
)
def test_none_of_it_and_the_record_has_it_given(kind: Kind, said: dict[str, str]) -> None:
    """21:05 is between the planned minute and 22:00, until which the order allows it: it is not offered a second time."""
    recorded = {"first": "2026-11-18 20:50"}
    found = call(kind, said, base=TWO, now="2026-11-18 21:05", given_at=recorded)
    leg = one_leg(found)
    assert stops(found) == {"trouble-contradicts": "injected"}
    assert "20:50" in next(one.what for one in found.findings if one.code == "trouble-contradicts")
    assert (leg.state, leg.given, leg.left_to_inject) == (State.NOT_KNOWN, None, None)
    assert found.decides is Who.PRESCRIBER
    unrecorded = one_leg(call(kind, said, base=TWO, now="2026-11-18 21:05"))
    assert unrecorded.state in (State.NOT_GIVEN, State.IN_SYRINGE)
    assert unrecorded.left_to_inject is not None


@pytest.mark.parametrize("all_of_it", ["no", "not known", "most"])
def test_not_all_of_it_and_no_loss_told_is_no_dose(all_of_it: str) -> None:
    """The planned 0.2 mL were drawn up: what did not go in is told by nobody, so 1,000 units would be a guess."""
    found = call(Kind.LATE, {"injected": "yes", "at": AT, "all": all_of_it, "drawn": "0.2 mL"})
    assert one_leg(found).given is None
    assert "how much of it did not go in" in found.not_known
    assert found.decides is Who.PRESCRIBER
    lost = one_leg(call(Kind.LATE, {"injected": "yes", "at": AT, "all": "no", "drawn": "0.2 mL", "lost": "half"}))
    assert lost.given is not None
    assert str(lost.given.least) == "500 units"


@pytest.mark.parametrize(
    ("said", "place"),
    [({"drawn": "0.2 mL", "residue": "2 mL"}, "residue"), ({"lost": "3/4", "stayed": "0.1 mL"}, "stayed")],
)
def test_two_amounts_together_are_more_than_there_was(said: dict[str, str], place: str) -> None:
    """0.2 mL and 2 mL of a vial of 2 mL; 0.15 mL and 0.1 mL of 0.2 mL."""
    found = call(Kind.PARTIAL, {"at": AT} | said)
    assert stops(found) == {"trouble-too-much": f"injection first, {place}"}
    assert one_leg(found).given is None


@pytest.mark.parametrize("said", [{"drawn": "0.2 mL", "residue": "1.8 mL"}, {"lost": "1/2", "stayed": "0.1 mL"}])
def test_two_amounts_that_are_just_all_there_was(said: dict[str, str]) -> None:
    assert not stops(call(Kind.PARTIAL, {"at": AT} | said))


@pytest.mark.parametrize("route", ["not known", "into the belly"])
def test_a_wrong_route_that_nobody_can_say_is_the_prescribers(route: str) -> None:
    found = call(Kind.WRONG_ROUTE, {"at": AT, "all": "yes", "route": route}, limits=signed_limits(dose="10 %"))
    assert codes(found)["trouble-route"] == "ask"
    assert found.decides is Who.PRESCRIBER
    assert any("By which route it went in is not known." in one.why for one in found.reasons)


def test_a_syringe_that_nobody_can_name_has_no_mark() -> None:
    """Mark 30 is 0.3 mL on the planned syringe only; a volume needs no syringe."""
    said = {"injected": "yes", "at": AT, "mark": "30"}
    for barrel in ("not known", "the small one"):
        found = call(Kind.WRONG_MARK, said | {"barrel": barrel})
        assert one_leg(found).given is None
    assert one_leg(call(Kind.WRONG_MARK, {"at": AT, "drawn": "0.3 mL", "barrel": "not known"})).given is not None
    blank = call(Kind.WRONG_MARK, said)
    assert one_leg(blank).given is not None
    assert [one for one in blank.as_planned if one.startswith("the syringe ")]
    named = call(Kind.WRONG_MARK, said | {"barrel": blank.as_planned[-1].removeprefix("the syringe ")})
    assert not [one for one in named.as_planned if one.startswith("the syringe ")]


@pytest.mark.parametrize(
    ("kind", "at", "says"),
    [
        (Kind.LATE, "2026-11-18 20:59", "said to be late"),
        (Kind.LATE, "2026-11-18 10:00", "said to be late"),
        (Kind.EARLY, "2026-11-18 21:01", "said to be early"),
    ],
)
def test_a_time_on_the_other_side_of_its_minute_is_asked_again(kind: Kind, at: str, says: str) -> None:
    found = call(kind, {"injected": "yes", "at": at, "all": "yes"} if kind is Kind.LATE else {"at": at, "all": "yes"})
    assert codes(found)["trouble-contradicts"] == "ask"
    assert says in next(one.what for one in found.findings if one.code == "trouble-contradicts")
    on_time = call(kind, {"at": AT, "all": "yes"})
    assert "trouble-contradicts" not in codes(on_time)


def test_of_another_injection_only_a_reported_dose_is_said() -> None:
    from hourmark.incident import answer, limits_of
    from hourmark.quantity import parse_dose
    from tests.incident.trouble import MORNING, at, night, plan

    facts = read_facts(Kind.LATE, OK | {"injection": "agonist", "injected": "yes", "at": AT, "all": "yes"})
    asked = (plan(TWO), Kind.LATE, facts, limits_of(night(TWO).clinic.rules), at(MORNING), {"first": at(AT)})
    other = answer(*asked, {"first": parse_dose("500 units")}).legs[1]
    assert other.given is not None
    assert other.share is not None
    assert (str(other.given.least), str(other.share[0])) == ("500 units", "50 %")
    assert answer(*asked).legs[1].given is None
