"""Another medicine in the place of the ordered one: it gave nothing of the order, what was drawn of it stands as told, and who ordered decides.

Worked by hand: 1,000 units of hCG ordered, 36 h before a slot at 09:00 on Friday; the call comes at 08:00 on Thursday.
"""

import pytest

from hourmark.cli.trouble import trouble_json
from hourmark.incident import Answer, Kind, State, Who
from hourmark.incident.words import doses, instead, shares, volumes
from tests.exchange.nights import SOLUTION, changed
from tests.incident.test_outside_order import shown_text
from tests.incident.trouble import TWO, call, codes, one_leg

AT = "2026-11-18 21:00"
AGONIST = {"injected": "yes", "at": AT, "drug": "leuprolide acetate", "strength": "5 mg/mL", "drawn": "0.8 mL"}


def another(**said: str) -> Answer:
    return call(Kind.WRONG_PRODUCT, AGONIST | said)


def test_the_agonist_instead_of_hcg_gave_nothing_of_the_order_and_the_prescriber_decides() -> None:
    """0.8 mL of 5 mg/mL are 4 mg; 09:00 on Friday less 08:00 on Thursday is 25 h."""
    found = another()
    leg = one_leg(found)
    assert (leg.state, found.decides) == (State.NOT_GIVEN, Who.PRESCRIBER)
    assert leg.given is not None
    assert leg.share is not None
    assert (doses(leg.given), shares(leg.share)) == ("0 units", "0 %")
    assert leg.another is not None
    assert instead(leg.another) == "leuprolide acetate, 0.8 mL, 4 mg"
    assert leg.another.at is not None
    assert [one.local for one in leg.another.at] == ["2026-11-18T21:00:00-06:00"] * 2
    assert codes(found)["trouble-product"] == "ask"
    why = next(one.why for one in found.reasons if one.code == "trouble-product")
    assert why == (
        'Another medicine than the ordered one was taken: "leuprolide acetate". It gave nothing of chorionic gonadotropin.'
        " A GnRH agonist can itself act as a trigger: the hours may count from then (from memory)."
    )
    assert leg.lead is not None
    assert leg.lead.if_now
    assert str(leg.lead.lead and leg.lead.lead[0]) == "25 h"
    assert found.proposals == ()
    assert "the pharmacist" in found.also


def test_its_hour_and_amount_stand_in_the_answers_for_programs_and_for_people() -> None:
    found = another()
    (leg,) = trouble_json(found)["legs"]
    assert leg["instead"] == {
        "drug": "leuprolide acetate",
        "injected": True,
        "volume": {"least": "0.8 mL", "most": "0.8 mL"},
        "amount": {"least": "4 mg", "most": "4 mg"},
        "at": {"first": "2026-11-18T21:00:00-06:00", "last": "2026-11-18T21:00:00-06:00"},
        "to_slot": {"least": "36 h", "most": "36 h"},
    }
    assert leg["given"] == {"least": "0 units", "most": "0 units"}
    shown = shown_text(found)
    assert "Instead, as told: leuprolide acetate, 0.8 mL, 4 mg" in shown
    assert "That went in: Wednesday 18 November 2026, 9:00 pm (21:00)" in shown
    assert ", 36 h before the slot" in shown
    (itself,) = trouble_json(another(drug="chorionic gonadotropin", strength="10,000 units"))["legs"]
    assert itself["instead"] is None


@pytest.mark.parametrize(
    ("said", "volume", "amount", "unknown"),
    [
        pytest.param({"drawn": "0.2 to 0.3 mL"}, "0.2 to 0.3 mL", "1 to 1.5 mg", None, id="a range"),
        pytest.param({"drawn": "0.8 mL", "lost": "half"}, "0.4 mL", "2 mg", None, id="half of it lost"),
        pytest.param({"stayed": "0.3 mL"}, "0.5 mL", "2.5 mg", None, id="a part in the syringe"),
        pytest.param({"strength": "5,000 units"}, "0.8 mL", None, "how strong the other medicine was", id="no water"),
        pytest.param({"strength": "5,000 units", "water": "1 mL"}, "0.8 mL", "4,000 units", None, id="a powder"),
        pytest.param({"strength": "not known"}, "0.8 mL", None, "how strong the other medicine was", id="no strength"),
        pytest.param({"drawn": "not known"}, None, None, "how much of the other medicine was drawn up", id="no volume"),
    ],
)
def test_its_amount_is_what_was_told_and_nothing_of_the_page(
    said: dict[str, str], volume: str | None, amount: str | None, unknown: str | None
) -> None:
    found = another(**said)
    leg = one_leg(found)
    assert leg.another is not None
    assert (leg.another.volume and volumes(leg.another.volume)) == volume
    assert (leg.another.amount and doses(leg.another.amount)) == amount
    assert leg.given is not None
    assert doses(leg.given) == "0 units"
    assert found.as_planned == ()
    assert any(unknown in one for one in found.not_known) if unknown else not found.not_known


def test_a_medicine_of_the_same_unit_is_no_share_of_the_order() -> None:
    """5,000 units of another hCG product would be read as the order's own unit: of this medicine it is none."""
    found = another(drug="choriogonadotropin alfa", strength="250 mcg", water="0.5 mL", drawn="0.2 mL")
    leg = one_leg(found)
    assert leg.share is not None
    assert shares(leg.share) == "0 %"
    units = one_leg(another(drug="choriogonadotropin alfa", strength="5,000 units", water="1 mL", drawn="0.2 mL"))
    assert units.share is not None
    assert units.another is not None
    assert units.another.amount is not None
    assert (shares(units.share), doses(units.another.amount)) == ("0 %", "1,000 units")


def test_in_the_syringe_it_is_not_the_ordered_dose_either() -> None:
    told = {key: words for key, words in AGONIST.items() if key != "at"} | {"injected": "no"}
    found = call(Kind.WRONG_PRODUCT, told, now="2026-11-18 20:30")
    leg = one_leg(found)
    assert (leg.state, leg.holds, found.decides) == (State.NOT_GIVEN, None, Who.PRESCRIBER)
    assert leg.another is not None
    assert instead(leg.another) == "leuprolide acetate, 0.8 mL, 4 mg, not injected"
    assert leg.left_to_inject is not None
    assert str(leg.left_to_inject) == "1 h 30 min"


@pytest.mark.parametrize(("drug", "code"), [("the blue one", "trouble-unreadable"), ("not known", None), ("", None)])
def test_without_a_name_that_is_known_no_dose_is_said(drug: str, code: str | None) -> None:
    said = {key: words for key, words in AGONIST.items() if key != "drug"} | ({"drug": drug} if drug else {})
    found = call(Kind.WRONG_PRODUCT, said)
    leg = one_leg(found)
    assert (leg.state, leg.given, leg.share, leg.another) == (State.NOT_KNOWN, None, None, None)
    assert found.decides is Who.PRESCRIBER
    assert "which medicine it was" in found.not_known
    if code:
        assert codes(found)[code] == "stop"
    if not drug:
        assert "trouble-unanswered" in codes(found)


def test_a_medicine_that_is_ordered_too_may_be_that_injection() -> None:
    found = call(Kind.WRONG_PRODUCT, AGONIST | {"injection": "first"}, base=TWO)
    why = next(one.why for one in found.reasons if one.code == "trouble-product")
    assert "It is ordered too, as agonist: whether this was that one or came beside it is not known." in why
    assert "whether and when injection agonist was given" in found.not_known
    boxes = {one.of: (one.least, one.most, one.assumed) for one in found.spare}
    vial = next(name for name in boxes if "leuprolide" in name)
    assert boxes[vial] == (0, 1, ("1 of them was the one taken instead", "agonist takes 1, as planned"))


def test_the_ordered_medicine_is_not_taken_instead_of_itself() -> None:
    told = {"injection": "first", "drug": "chorionic gonadotropin", "instead": "yes"}
    found = call(Kind.OTHER_DRUG, told)
    assert codes(found)["trouble-contradicts"] == "stop"
    assert one_leg(found).state is State.NOT_KNOWN
    assert one_leg(found).given is None


def test_what_was_taken_instead_is_named_and_nothing_is_said_to_be_due() -> None:
    """At 20:30, before the minute of the injection: that something else went in is no silence."""
    told = {"injection": "first", "drug": "ganirelix", "instead": "yes", "at": "2026-11-18 20:20"}
    found = call(Kind.OTHER_DRUG, told, now="2026-11-18 20:30")
    leg = one_leg(found)
    assert leg.another is not None
    assert instead(leg.another) == "ganirelix, how much is not known"
    assert found.decides is Who.PRESCRIBER
    assert not any("Nothing has gone in" in one.why for one in found.reasons)


@pytest.mark.parametrize("kind", [Kind.OTHER_DRUG, Kind.WRONG_PRODUCT])
@pytest.mark.parametrize(
    ("told", "asked_again"),
    [
        pytest.param({"drug": "aspirin"}, True, id="no name that is known here"),
        pytest.param({"drug": "the white box"}, True, id="it may be the ordered medicine by its trade name"),
        pytest.param({"drug": "not known"}, False, id="she cannot say"),
        pytest.param({}, False, id="nobody asked"),
    ],
)
@pytest.mark.parametrize("now", ["2026-11-18 20:30", "2026-11-18 21:30", "2026-11-19 08:00"])
def test_without_a_known_name_it_is_not_known_whether_the_ordered_medicine_went_in(
    kind: Kind, told: dict[str, str], asked_again: bool, now: str
) -> None:
    """21:30 is before 22:00, until which the order allows the dose: there is no room for a second one."""
    said = {"injection": "first", "at": "2026-11-18 20:20"}
    said |= {"instead": "yes"} if kind is Kind.OTHER_DRUG else {"injected": "yes"}
    found = call(kind, said | told, now=now)
    leg = one_leg(found)
    assert (leg.state, leg.given, leg.share, leg.holds) == (State.NOT_KNOWN, None, None, None)
    assert (leg.left_to_inject, leg.another, leg.lead) == (None, None, None)
    assert found.decides is Who.PRESCRIBER
    assert not any("0 units" in one.why for one in found.reasons)
    assert "which medicine it was" in found.not_known
    again = [one for one in found.findings if one.code == "trouble-unreadable"]
    assert [one.where for one in again] == ["drug"] * asked_again
    assert all("Ask again" in one.do for one in again)


def test_taken_beside_it_the_name_is_asked_by_nobody_and_says_nothing_of_the_injection() -> None:
    told = {"injection": "first", "drug": "aspirin", "instead": "no"}
    found = call(Kind.OTHER_DRUG, told)
    assert one_leg(found).state is State.NOT_KNOWN
    assert "trouble-unreadable" not in codes(found)
    assert 'Another medicine was taken: "aspirin".' in [one.why for one in found.reasons]


def test_a_box_that_may_have_been_the_one_taken_is_at_home_or_not() -> None:
    """Two boxes of the ordered powder: whether one of them was opened is not known, and none is counted as gone for certain."""
    told = {"injection": "first", "drug": "the white box", "instead": "yes", "at": "2026-11-18 20:20"}
    found = call(Kind.OTHER_DRUG, told)
    one = found.spare[0]
    sure = call(Kind.LATE, {"at": AT, "injected": "yes", "all": "yes"}).spare[0]
    assert (one.least, one.most) == (sure.least, sure.most + 1)


@pytest.mark.parametrize("kind", [Kind.WRONG_PRODUCT, Kind.OTHER_DRUG])
@pytest.mark.parametrize(
    ("follicles", "code"), [(18, "overstimulation-risk"), (15, "overstimulation-note"), (14, None)]
)
def test_hcg_in_the_place_of_an_agonist_asks_of_overstimulation(kind: Kind, follicles: int, code: str | None) -> None:
    """18 follicles: Reprod Biol Endocrinol 2012;10:32, table of thresholds; 15: hourmark's own softer line."""
    base = changed(SOLUTION, ('lh = "2 units/L"', f'lh = "2 units/L"\nfollicles = {follicles}'))
    said = {"injected": "yes", "at": AT, "drug": "choriogonadotropin alfa", "strength": "250 mcg", "drawn": "0.5 mL"}
    if kind is Kind.OTHER_DRUG:
        said = {"drug": "choriogonadotropin alfa", "instead": "yes"}
    found = call(kind, said, base=base)
    assert {one.code for one in found.findings if one.code.startswith("overstimulation")} == ({code} if code else set())
    known = call(kind, said | {"drug": "leuprolide acetate"}, base=base)
    assert not [one for one in known.findings if one.code.startswith("overstimulation")]
