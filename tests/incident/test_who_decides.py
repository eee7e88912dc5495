"""Who decides: signed limits as data; the stricter wins; what nobody signed goes to the prescriber.

The bands are those of the night itself (proposed from the trials named in tests/authorities); the limits on lateness and dose are
invented here, as a clinic might sign them.
"""

from dataclasses import replace

import pytest

from hourmark.finding import Level
from hourmark.incident import UNSIGNED, Kind, Limits, Reason, Who, limits_of
from hourmark.incident.deciding import strictest
from hourmark.order import Bands
from tests.exchange.nights import POWDER, changed
from tests.incident.trouble import call, codes, night, one_leg, signed_limits, with_window

WIDE = with_window("30 h", "46 h")
AT = "2026-11-18 21:00"


@pytest.mark.parametrize(
    ("clock", "lead", "level", "who"),
    [
        ("2026-11-18 20:00", "37 h", "ok", Who.NURSE),
        ("2026-11-18 19:59", "37 h 1 min", "note", Who.NURSE),
        ("2026-11-18 19:00", "38 h", "note", Who.NURSE),
        ("2026-11-18 18:59", "38 h 1 min", "warn", Who.PRESCRIBER),
        ("2026-11-18 17:00", "40 h", "warn", Who.PRESCRIBER),
        ("2026-11-18 16:59", "40 h 1 min", "stop", Who.PRESCRIBER),
        ("2026-11-18 22:00", "35 h", "ok", Who.NURSE),
        ("2026-11-18 22:01", "34 h 59 min", "note", Who.NURSE),
        ("2026-11-18 23:00", "34 h", "note", Who.NURSE),
        ("2026-11-18 23:01", "33 h 59 min", "warn", Who.PRESCRIBER),
        ("2026-11-19 01:00", "32 h", "warn", Who.PRESCRIBER),
        ("2026-11-19 01:01", "31 h 59 min", "stop", Who.PRESCRIBER),
    ],
)
def test_bands_to_the_minute(clock: str, lead: str, level: str, who: Who) -> None:
    """In an order whose own window allows all of it, so that the bands alone speak."""
    found = call(Kind.LATE, injected="yes", at=clock, all="yes", base=WIDE)
    leg = one_leg(found)
    assert leg.lead is not None
    assert leg.lead.lead is not None
    assert (str(leg.lead.lead[0]), leg.lead.band_level, found.decides) == (lead, level, who)


@pytest.mark.parametrize(
    ("late", "who", "code"),
    [
        ("21:00", Who.NURSE, None),
        ("21:15", Who.NURSE, "note"),
        ("21:16", Who.NURSE, "note"),
        ("22:00", Who.NURSE, "note"),
        ("22:01", Who.PRESCRIBER, "ask"),
    ],
)
def test_lateness_to_the_minute(late: str, who: Who, code: str | None) -> None:
    found = call(
        Kind.LATE,
        injected="yes",
        at=f"2026-11-18 {late}",
        all="yes",
        base=WIDE,
        limits=signed_limits(noted="15 min", anew="60 min"),
    )
    assert (found.decides, codes(found).get("trouble-late")) == (who, code)
    limit = {one.limit for one in found.reasons if one.code == "trouble-late"}
    assert (
        limit
        == {
            "21:00": set(),
            "21:15": {"up to 15 min late: written down"},
            "21:16": {"up to 1 h late: computed anew"},
            "22:00": {"up to 1 h late: computed anew"},
            "22:01": {"more than 1 h late: the prescriber"},
        }[late]
    )


def test_early_is_not_late() -> None:
    found = call(
        Kind.EARLY, at="2026-11-18 20:00", all="yes", base=WIDE, limits=signed_limits(noted="5 min", anew="10 min")
    )
    assert (found.decides, codes(found).get("trouble-late")) == (Who.NURSE, None)


def test_the_orders_window_is_stricter_than_the_bands() -> None:
    """35 h 59 is inside every signed band; an order that allows 36 h to 37 h alone sends it to the prescriber."""
    found = call(Kind.LATE, injected="yes", at="2026-11-18 21:01", all="yes", base=with_window("36 h", "37 h"))
    assert found.decides is Who.PRESCRIBER
    assert {one.who for one in found.reasons} == {Who.NURSE, Who.PRESCRIBER}


def test_the_bands_are_stricter_than_a_wide_window() -> None:
    found = call(Kind.LATE, injected="yes", at="2026-11-18 23:30", all="yes", base=WIDE)
    assert found.decides is Who.PRESCRIBER


@pytest.mark.parametrize("limits", [UNSIGNED, limits_of(None), signed_limits(Bands())])
def test_unsigned_asks_the_prescriber(limits: Limits) -> None:
    """Ten minutes late, inside the order's own window, with no band signed."""
    found = call(Kind.LATE, injected="yes", at="2026-11-18 21:10", all="yes", limits=limits)
    assert (found.decides, codes(found)["trouble-unsigned"]) == (Who.PRESCRIBER, "ask")
    on_time = call(Kind.LATE, injected="yes", at=AT, all="yes", limits=limits)
    assert on_time.decides is Who.NURSE


def test_the_nights_own_signature_is_the_source() -> None:
    found = call(Kind.LATE, injected="yes", at="2026-11-18 23:30", all="yes", base=WIDE)
    assert "clinic's rule, signed by Dr. O. Brandt at 2026-10-05 09:00" in {one.source for one in found.reasons}
    assert limits_of(night(POWDER).clinic.rules).dose is None


@pytest.mark.parametrize(
    ("drawn", "limit", "who"),
    [
        ("0.2 mL", None, Who.NURSE),
        ("0.19 mL", None, Who.PRESCRIBER),
        ("0.19 mL", "5 %", Who.NURSE),
        ("0.21 mL", "5 %", Who.NURSE),
        ("0.189 mL", "5 %", Who.PRESCRIBER),
        ("0.211 mL", "5 %", Who.PRESCRIBER),
        ("0.19 to 0.22 mL", "5 %", Who.PRESCRIBER),
    ],
)
def test_how_far_a_dose_may_be(drawn: str, limit: str | None, who: Who) -> None:
    """A range is judged by its worse end."""
    limits = signed_limits(dose=limit) if limit else signed_limits()
    found = call(Kind.WRONG_MARK, injected="yes", at=AT, drawn=drawn, limits=limits)
    assert found.decides is who


def test_a_time_that_may_lie_in_the_window_is_not_certainly_inside() -> None:
    """21:50 to 22:10 is 35 h 10 to 34 h 50: the order's window ends at 35 h."""
    found = call(Kind.LATE, injected="yes", at="2026-11-18 21:50 to 2026-11-18 22:10", all="yes")
    leg = one_leg(found)
    assert leg.lead is not None
    assert (leg.lead.inside, leg.lead.outside, leg.lead.band_level) == (False, False, "note")
    assert found.decides is Who.PRESCRIBER
    assert any("not certainly inside" in one.why for one in found.reasons)


def test_a_time_too_wide_for_any_start() -> None:
    """Between 19:00 and 22:30 lie more than the two hours of the window."""
    leg = one_leg(call(Kind.LATE, injected="yes", at="2026-11-18 19:00 to 2026-11-18 22:30", all="yes"))
    assert leg.slots is not None
    assert (leg.slots.earliest, leg.slots.latest, leg.slots.open) == (None, None, ())


@pytest.mark.parametrize(("cycle", "where"), [("natural", "own surge"), ("mild stimulation", "own surge")])
def test_cycles_without_a_band(cycle: str, where: str) -> None:
    base = changed(POWDER, ('cycle = "antagonist"', f'cycle = "{cycle}"'))
    found = call(Kind.LATE, injected="yes", at="2026-11-18 21:10", all="yes", base=base)
    assert found.decides is Who.PRESCRIBER
    assert any(where in one.why for one in found.reasons)


def test_insemination_is_judged_by_what_was_studied() -> None:
    """42 h before an insemination: outside 24 to 40 h (trials of timing after hCG, Cochrane review CD006942)."""
    base = changed(
        POWDER,
        ('room = "Room 1"', 'room = "Room 1"\nkind = "insemination"'),
        ('window = ["35 h", "37 h"]', 'window = ["30 h", "46 h"]'),
    )
    for clock, who in (("2026-11-18 21:30", Who.NURSE), ("2026-11-18 16:00", Who.PRESCRIBER)):
        assert call(Kind.LATE, injected="yes", at=clock, all="yes", base=base).decides is who


def test_a_clock_time_without_a_retrieval() -> None:
    """21:00 with 20:30 to 21:30 around it: 21:30 is inside, 21:31 is not."""
    base = changed(
        POWDER,
        ('slot = "s1"\n', ""),
        ('lead = "36 h"\nwindow = ["35 h", "37 h"]', 'at = "2026-11-18 21:00"\nwindow = ["20:30", "21:30"]'),
    )
    for clock, inside in (("21:30", True), ("21:31", False)):
        found = call(Kind.LATE, injected="yes", at=f"2026-11-18 {clock}", all="yes", base=base)
        leg = one_leg(found)
        assert leg.lead is not None
        assert (leg.lead.inside, leg.lead.outside, leg.slots) == (inside, not inside, None)
        assert (found.decides is Who.NURSE) is inside
    missed = one_leg(call(Kind.MISSED, base=base, now="2026-11-18 21:10"))
    assert str(missed.left_to_inject) == "20 min"


def test_the_gap_from_the_last_antagonist_is_asked_about() -> None:
    """08:00 to 16:00 of the next day are 32 h, more than the 30 h of the leaflet (from memory)."""
    found = call(Kind.LATE, injected="yes", at="2026-11-19 16:00", all="yes", now="2026-11-19 17:00")
    assert codes(found)["antagonist-gap"] == "ask"


def test_more_hcg_than_ordered_repeats_what_was_asked_of_overstimulation() -> None:
    base = changed(
        POWDER,
        ('dose = "1,000 units"', 'dose = "5,000 units"'),
        ('lh = "2 units/L"', 'lh = "2 units/L"\nfollicles = 25'),
    )
    found = call(Kind.WRONG_MARK, injected="yes", at=AT, drawn="1.2 mL", barrel="mL-3-0.1", base=base)
    assert codes(found)["overstimulation-risk"] == "ask"
    less = call(Kind.WRONG_MARK, injected="yes", at=AT, drawn="0.5 mL", base=base)
    assert "overstimulation-risk" not in codes(less)


def test_strictest() -> None:
    nurse = Reason(Who.NURSE, "why", "limit", "source", "trouble-dose", Level.NOTE)
    prescriber = replace(nurse, who=Who.PRESCRIBER)
    assert strictest([nurse, prescriber, nurse]) is Who.PRESCRIBER
    assert strictest([nurse]) is Who.NURSE
    assert strictest([]) is Who.PRESCRIBER
    assert [who.words for who in Who] == [
        "the nurse, from the page and the order",
        "the prescriber",
        "emergency services first",
    ]
