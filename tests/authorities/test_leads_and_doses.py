"""Leads, bands, trigger doses and cycles, read against:

- randomised trials and series of the interval from trigger to retrieval: Bosdou 2015 (36 and 38 h), Nargund 2001 (33 to 41 h),
  Hizkiyahu 2024 (32 to 40 h), a cohort of 2020 by protocol, a cohort of 2024 to 2025, Orvieto 2015 and a series of 2014 (double);
- a Cochrane review (CD006942) on the timing of insemination;
- Reproductive Biology and Endocrinology 2012;10:32 and Griesinger 2016 on overstimulation, Meyer 2015 on LH before an agonist;
- FDA and EU labels of the hCGs; Fauser 2002, Vuong 2016, Humaidan 2005 on agonist doses; Humaidan and Kol 2021 on cycles;
- IANA tz database 2026f for elapsed hours.

The bands are derived from these papers; they are this program's proposals and rule only where a clinic signed them. Ids: M limits
and vectors, J9-07 a nine o'clock slot, FC29 and P as elsewhere. A part after the point tells cases of one row apart.
"""

from dataclasses import replace
from fractions import Fraction

import pytest

from hourmark.clock import Moment, WallTime, moment, parse_span, parse_wall, parse_zone
from hourmark.finding import Finding, Level
from hourmark.formulary import drug, facts, product
from hourmark.order import (
    After,
    Band,
    Bands,
    Case,
    Clinic,
    Cycle,
    Injection,
    Kit,
    KitProduct,
    Lead,
    Order,
    Override,
    Purpose,
    Rules,
    Slot,
)
from hourmark.order.clinic import SlotKind
from hourmark.plan import plan_case, when
from hourmark.quantity import parse_dose, parse_number

ZONE = parse_zone("America/New_York")
STANDARD = "derived from Bosdou 2015, Hizkiyahu 2024 and a cohort of 2024 to 2025"
LONG = "derived from a cohort by protocol (2020) and Nargund 2001"
DOUBLE = "derived from a series of 2014 and Orvieto 2015"
WIDE = (parse_span("0 h"), parse_span("100 h"))


def at(wall: str) -> Moment:
    found = moment(parse_wall(wall), ZONE)
    assert isinstance(found, Moment)
    return found


def proposed(name: str) -> Band:
    """The proposed band of that name."""
    found = {key: fact.value for key, fact in facts("proposals").items()}
    ok, note, warn = (
        (found[f"bands.{name}.{part}-from"], found[f"bands.{name}.{part}-to"]) for part in ("ok", "note", "warn")
    )
    return Band(ok, note, warn)


@pytest.mark.parametrize(
    ("name", "edges", "source"),
    [
        pytest.param("standard", ("32 h", "34 h", "35 h", "37 h", "38 h", "40 h"), STANDARD, id="M-interval_h"),
        pytest.param("long-agonist", ("33 h", "34 h", "35 h", "38 h", "39 h", "41 h"), LONG, id="M-interval_h_downreg"),
        pytest.param(
            "double-agonist", ("37 h", "38 h", "39 h", "41 h", "42 h", "43 h"), DOUBLE, id="M-double_trigger_h.agonist"
        ),
        pytest.param(
            "double-hcg", ("32 h", "33 h", "33.5 h", "35 h", "36 h", "37 h"), DOUBLE, id="M-double_trigger_h.hcg"
        ),
    ],
)
def test_bands_are_nested_and_closed_to_the_minute(name: str, edges: tuple[str, ...], source: str) -> None:
    band, minute = proposed(name), parse_span("1 min")
    warn_from, note_from, ok_from, ok_to, note_to, warn_to = (parse_span(edge) for edge in edges)
    assert band.nested(), source
    expected = (
        (warn_from - minute, Level.STOP),
        (warn_from, Level.WARN),
        (note_from - minute, Level.WARN),
        (note_from, Level.NOTE),
        (ok_from - minute, Level.NOTE),
        (ok_from, None),
        (ok_to, None),
        (ok_to + minute, Level.NOTE),
        (note_to, Level.NOTE),
        (note_to + minute, Level.WARN),
        (warn_to, Level.WARN),
        (warn_to + minute, Level.STOP),
    )
    for lead, level in expected:
        assert band.level(lead) == level, f"{source}: {lead}"


@pytest.mark.parametrize(
    ("slot", "injected", "interval", "level", "source"),
    [
        pytest.param("2026-11-24 08:00", "2026-11-22 20:50", "35 h 10 min", None, STANDARD, id="M-v-late.35_10"),
        pytest.param("2026-11-24 08:00", "2026-11-22 21:03", "34 h 57 min", Level.NOTE, STANDARD, id="M-v-late.34_57"),
        pytest.param("2026-11-24 08:00", "2026-11-22 21:45", "34 h 15 min", Level.NOTE, STANDARD, id="M-v-late.34_15"),
        pytest.param("2026-11-24 08:00", "2026-11-22 23:30", "32 h 30 min", Level.WARN, STANDARD, id="M-v-late.32_30"),
        pytest.param("2026-11-24 08:00", "2026-11-23 01:00", "31 h", Level.STOP, STANDARD, id="M-v-late.31"),
        pytest.param(
            "2026-11-24 13:00", "2026-11-23 01:00", "36 h", None, f"{STANDARD}; slot moved", id="M-v-late.moved"
        ),
        pytest.param("2026-11-24 08:00", "2026-11-22 18:00", "38 h", Level.NOTE, STANDARD, id="M-v-early.38"),
        pytest.param("2026-11-24 08:00", "2026-11-22 16:30", "39 h 30 min", Level.WARN, STANDARD, id="M-v-early.39_30"),
        pytest.param("2026-11-24 08:00", "2026-11-22 08:00", "48 h", Level.STOP, STANDARD, id="M-v-early.48"),
        pytest.param(
            "2026-11-23 18:00", "2026-11-22 08:00", "34 h", Level.NOTE, f"{STANDARD}; earliest slot", id="M-v-early.34"
        ),
        pytest.param(
            "2026-11-23 20:00", "2026-11-22 08:00", "36 h", None, f"{STANDARD}; slot moved", id="M-v-early.36"
        ),
        pytest.param("2026-11-20 09:00", "2026-11-18 20:00", "37 h", None, STANDARD, id="J9-07.20_00"),
        pytest.param("2026-11-20 09:00", "2026-11-18 21:00", "36 h", None, STANDARD, id="J9-07.21_00"),
        pytest.param("2026-11-20 09:00", "2026-11-18 21:20", "35 h 40 min", None, STANDARD, id="J9-07.21_20"),
        pytest.param("2026-11-20 09:00", "2026-11-18 22:00", "35 h", None, STANDARD, id="J9-07.22_00"),
        pytest.param("2026-11-20 09:00", "2026-11-18 22:30", "34 h 30 min", Level.NOTE, STANDARD, id="J9-07.22_30"),
        pytest.param("2026-11-20 09:00", "2026-11-18 23:00", "34 h", Level.NOTE, STANDARD, id="J9-07.23_00"),
        pytest.param("2026-11-20 09:00", "2026-11-19 01:00", "32 h", Level.WARN, STANDARD, id="J9-07.01_00"),
    ],
)
def test_what_an_actual_injection_makes_of_the_interval(
    slot: str, injected: str, interval: str, level: Level | None, source: str
) -> None:
    found = at(slot) - at(injected)
    assert found == parse_span(interval), source
    assert proposed("standard").level(found) == level, source


@pytest.mark.parametrize(
    ("slot", "clock", "source"),
    [
        pytest.param("2026-11-24 08:00", "Sun 20:00", "derived, ordinary night", id="M-v-ordinary.08_00"),
        pytest.param("2026-11-24 12:30", "Mon 00:30", "derived, ordinary night", id="M-v-ordinary.12_30"),
        pytest.param("2026-11-25 07:30", "Mon 19:30", "derived, ordinary night", id="M-v-ordinary.07_30"),
        pytest.param("2026-11-20 09:00", "Wed 21:00", "36 hours: common practice, no source", id="P-36h"),
    ],
)
def test_36_hours_on_an_ordinary_night(slot: str, clock: str, source: str) -> None:
    timed, findings = when(parse_wall(slot), ZONE, parse_span("36 h"))
    assert timed is not None, source
    assert f"{timed.patient.wall:%a %H:%M}" == clock, source
    assert findings == (), source


AS_OF = "2026-11-20 12:00"
SLOT = "2026-11-24 08:00"
SIGNED = parse_wall("2026-11-19 12:00")


def injection(name: str, dose: str, lead: str, route: str = "subcutaneous", window: str = "") -> Injection:
    least, _, most = window.partition(" to ")
    limits = (parse_span(least), parse_span(most)) if window else WIDE
    return Injection(name, drug(name), name, parse_dose(dose), route, Lead(parse_span(lead), limits))


def planned(
    *injections: Injection,
    cycle: Cycle = Cycle.ANTAGONIST,
    kind: SlotKind = SlotKind.RETRIEVAL,
    kit: Kit | None = None,
    follicles: int | None = None,
    e2: int | None = None,
    lh: str | None = None,
) -> dict[str, Finding]:
    """The findings of a case with these injections in a clinic that signed the proposed bands, by code."""
    bands = Bands(proposed("standard"), proposed("long-agonist"), proposed("double-agonist"), proposed("double-hcg"))
    clinic = Clinic("clinic", ZONE, Rules("the clinic's lead", SIGNED, bands=bands))
    order = Order(Purpose.TRIGGER, "a prescriber", SIGNED, cycle, (), injections)
    case = Case(
        "1",
        ZONE,
        order,
        kit or Kit(),
        slot="1",
        follicles=follicles,
        e2=None if e2 is None else Fraction(e2),
        lh=None if lh is None else parse_number(lh),
    )
    slot = Slot("1", WallTime(parse_wall(SLOT).local), kind)
    return {finding.code: finding for finding in plan_case(case, clinic, slot, at(AS_OF)).findings}


LEADS = {"lead-off-centre", "lead-unusual", "lead-outside-bands", "lead-insemination", "lead-natural-cycle"}
HCG, ALFA, LEUPROLIDE = "chorionic gonadotropin", "choriogonadotropin alfa", "leuprolide acetate"


@pytest.mark.parametrize(
    ("name", "dose", "lead", "cycle", "code", "source"),
    [
        pytest.param(HCG, "10,000 units", "36 h", Cycle.ANTAGONIST, None, STANDARD, id="M-interval_h.36"),
        pytest.param(HCG, "10,000 units", "38 h", Cycle.ANTAGONIST, "lead-off-centre", STANDARD, id="M-interval_h.38"),
        pytest.param(HCG, "10,000 units", "39 h", Cycle.PROGESTIN, "lead-unusual", STANDARD, id="M-interval_h.39"),
        pytest.param(
            HCG, "10,000 units", "31 h", Cycle.ANTAGONIST, "lead-outside-bands", STANDARD, id="M-interval_h.31"
        ),
        pytest.param(
            LEUPROLIDE, "4 mg", "38 h", Cycle.ANTAGONIST, "lead-off-centre", STANDARD, id="M-interval_h.agonist"
        ),
        pytest.param(HCG, "10,000 units", "38 h", Cycle.LONG_AGONIST, None, LONG, id="M-interval_h_downreg.38"),
        pytest.param(
            HCG, "10,000 units", "41 h", Cycle.LONG_AGONIST, "lead-unusual", LONG, id="M-interval_h_downreg.41"
        ),
        pytest.param(
            HCG, "10,000 units", "32 h", Cycle.LONG_AGONIST, "lead-outside-bands", LONG, id="M-interval_h_downreg.32"
        ),
        pytest.param(
            HCG,
            "10,000 units",
            "36 h",
            Cycle.NATURAL,
            "lead-natural-cycle",
            "derived: an own surge can come first",
            id="M-interval_h.natural",
        ),
        pytest.param(
            HCG,
            "10,000 units",
            "36 h",
            Cycle.MILD,
            "lead-natural-cycle",
            "derived: an own surge can come first",
            id="M-interval_h.mild",
        ),
    ],
)
def test_a_lead_is_weighed_by_its_cycle(
    name: str, dose: str, lead: str, cycle: Cycle, code: str | None, source: str
) -> None:
    found = planned(injection(name, dose, lead, "intramuscular" if name == HCG else "subcutaneous"), cycle=cycle)
    assert LEADS & set(found) == ({code} if code else set()), f"{source}: {found}"


@pytest.mark.parametrize(
    ("agonist", "hcg", "codes", "source"),
    [
        pytest.param("40 h", "34 h", set(), DOUBLE, id="M-double_trigger_h.40_34"),
        pytest.param("42 h", "34 h", {"lead-off-centre"}, DOUBLE, id="M-double_trigger_h.42_34"),
        pytest.param("40 h", "37 h", {"lead-unusual"}, DOUBLE, id="M-double_trigger_h.40_37"),
        pytest.param("44 h", "34 h", {"lead-outside-bands"}, DOUBLE, id="M-double_trigger_h.44_34"),
        pytest.param("36 h", "36 h", set(), "Orvieto 2015: both together, 35 to 37 h", id="M-double_trigger_h.dual"),
    ],
)
def test_two_drugs_at_two_leads_have_bands_of_their_own(agonist: str, hcg: str, codes: set[str], source: str) -> None:
    found = planned(injection(LEUPROLIDE, "4 mg", agonist), injection(HCG, "1,000 units", hcg, "intramuscular"))
    assert LEADS & set(found) == codes, f"{source}: {found}"


@pytest.mark.parametrize(
    ("lead", "noted", "source"),
    [
        pytest.param("24 h", False, "derived from Cochrane CD006942", id="M-iui_after_hcg_h.24"),
        pytest.param("40 h", False, "derived from Cochrane CD006942", id="M-iui_after_hcg_h.40"),
        pytest.param("23 h 59 min", True, "derived from Cochrane CD006942", id="M-iui_after_hcg_h.before"),
        pytest.param("40 h 1 min", True, "derived from Cochrane CD006942", id="M-iui_after_hcg_h.after"),
    ],
)
def test_insemination_is_noted_and_never_stopped_for_its_lead(lead: str, noted: bool, source: str) -> None:
    found = planned(injection(HCG, "10,000 units", lead, "intramuscular"), kind=SlotKind.INSEMINATION)
    assert LEADS & set(found) == ({"lead-insemination"} if noted else set()), source
    if noted:
        assert found["lead-insemination"].level is Level.NOTE, source


@pytest.mark.parametrize(
    ("lead", "window", "codes", "source"),
    [
        pytest.param(
            "34 h 57 min",
            "35 h to 37 h",
            {"outside-own-window", "lead-off-centre"},
            "the order's own window; the stricter wins",
            id="M-v-late.own_window",
        ),
        pytest.param("35 h", "35 h to 37 h", set(), "the order's own window, closed", id="M-interval_h.own_window"),
    ],
)
def test_the_orders_own_window_comes_first(lead: str, window: str, codes: set[str], source: str) -> None:
    found = planned(injection(HCG, "10,000 units", lead, "intramuscular", window))
    assert (LEADS | {"outside-own-window"}) & set(found) == codes, source
    if "outside-own-window" in codes:
        assert found["outside-own-window"].level is Level.STOP, source


@pytest.mark.parametrize(
    ("lead", "level", "source"),
    [
        pytest.param("31 h", Level.STOP, STANDARD, id="M-interval_h.no_override"),
        pytest.param("31 h", Level.WARN, f"{STANDARD}; rescue cycles leave the band", id="M-interval_h.override"),
    ],
)
def test_only_a_named_prescriber_goes_past_the_bands(lead: str, level: Level, source: str) -> None:
    ordered = injection(HCG, "10,000 units", lead, "intramuscular")
    if level is Level.WARN:
        ordered = replace(ordered, override=Override("a prescriber", "the first trigger was lost", SIGNED))
    found = planned(ordered)
    judged = [finding for code, finding in found.items() if code in LEADS]
    assert [finding.level for finding in judged] == [level], source


@pytest.mark.parametrize(
    ("gap", "source"),
    [
        pytest.param("12 h", "second triptorelin 12 h later, in a mixed series of 160", id="M-double_trigger_h.repeat"),
    ],
)
def test_a_repeat_is_counted_from_the_first_and_not_judged_by_the_bands(gap: str, source: str) -> None:
    first = injection("triptorelin acetate", "0.3 mg", "36 h")
    span = parse_span(gap)
    again = replace(
        injection("triptorelin acetate", "0.2 mg", "36 h"), id="again", timing=After(first.id, span, (span, span))
    )
    found = planned(first, again)
    assert not LEADS & set(found), source
    assert "repeat-from-actual" in found, source


DOSES = {"dose-unusual", "dose-no-trigger", "dose-unit-disagrees"}
HCG_LABEL = "FDA label, chorionic gonadotropin, dosage: 5,000 to 10,000 units; least dose from papers"
SERIES = "older US series (Hoyos 2016): 15,000 units"
ALFA_LABEL = "EU SmPC, choriogonadotropin alfa, 4.2: 250 micrograms at most; 500 in a trial (Chang 2001)"


@pytest.mark.parametrize(
    ("name", "dose", "route", "code", "source"),
    [
        pytest.param(HCG, "1,000 units", "intramuscular", None, HCG_LABEL, id="M-hcg_dose.1000"),
        pytest.param(HCG, "10,000 units", "intramuscular", None, HCG_LABEL, id="M-hcg_dose.10000"),
        pytest.param(HCG, "10,001 units", "intramuscular", "dose-unusual", HCG_LABEL, id="M-hcg_dose.10001"),
        pytest.param(HCG, "15,000 units", "intramuscular", "dose-unusual", SERIES, id="M-hcg_dose.15000"),
        pytest.param(HCG, "15,001 units", "intramuscular", "dose-no-trigger", SERIES, id="M-hcg_dose.15001"),
        pytest.param(HCG, "999 units", "intramuscular", "dose-no-trigger", HCG_LABEL, id="M-hcg_dose.999"),
        pytest.param(
            HCG,
            "250 units",
            "intramuscular",
            "dose-no-trigger",
            "German clinic sheet: a luteal vial",
            id="M-hcg_dose.250",
        ),
        pytest.param(
            HCG, "250 mcg", "intramuscular", "dose-unit-disagrees", "UCUM 2.2, arbitrary units", id="M-hcg_dose.mass"
        ),
        pytest.param(ALFA, "250 mcg", "subcutaneous", None, ALFA_LABEL, id="M-hcg_dose.alfa_250"),
        pytest.param(ALFA, "500 mcg", "subcutaneous", "dose-unusual", ALFA_LABEL, id="M-hcg_dose.alfa_500"),
        pytest.param(ALFA, "501 mcg", "subcutaneous", "dose-no-trigger", ALFA_LABEL, id="M-hcg_dose.alfa_501"),
        pytest.param(ALFA, "249 mcg", "subcutaneous", "dose-no-trigger", ALFA_LABEL, id="M-hcg_dose.alfa_249"),
        pytest.param(
            ALFA, "250 mg", "subcutaneous", "dose-no-trigger", "derived: a lost micro sign", id="M-hcg_dose.alfa_mg"
        ),
        pytest.param(
            ALFA, "6,500 units", "subcutaneous", "dose-unit-disagrees", ALFA_LABEL, id="M-hcg_dose.alfa_units"
        ),
        pytest.param(
            "triptorelin acetate", "0.1 mg", "subcutaneous", None, "from memory", id="M-agonist_dose.triptorelin_0_1"
        ),
        pytest.param(
            "triptorelin acetate", "0.4 mg", "subcutaneous", None, "Vuong 2016", id="M-agonist_dose.triptorelin_0_4"
        ),
        pytest.param(
            "triptorelin acetate",
            "0.5 mg",
            "subcutaneous",
            "dose-unusual",
            "Vuong 2016",
            id="M-agonist_dose.triptorelin_0_5",
        ),
        pytest.param(
            "triptorelin acetate",
            "0.05 mg",
            "subcutaneous",
            "dose-unusual",
            "from memory",
            id="M-agonist_dose.triptorelin_0_05",
        ),
        pytest.param(LEUPROLIDE, "0.5 mg", "subcutaneous", None, "Fauser 2002", id="M-agonist_dose.leuprolide_0_5"),
        pytest.param(LEUPROLIDE, "4 mg", "subcutaneous", None, "from memory", id="M-agonist_dose.leuprolide_4"),
        pytest.param(
            LEUPROLIDE, "4.1 mg", "subcutaneous", "dose-unusual", "from memory", id="M-agonist_dose.leuprolide_4_1"
        ),
        pytest.param(
            LEUPROLIDE, "0.04 mg", "subcutaneous", "dose-unusual", "pharmacy sheet, small daily dose", id="FC29.dose"
        ),
        pytest.param("buserelin", "0.5 mg", "subcutaneous", None, "Humaidan 2005", id="M-agonist_dose.buserelin_0_5"),
        pytest.param(
            "buserelin",
            "0.2 mg",
            "subcutaneous",
            "dose-unusual",
            "three times 0.2 mg, 12 h apart, was also given (1989)",
            id="M-agonist_dose.buserelin_0_2",
        ),
        pytest.param("nafarelin", "400 mcg", "nasal", None, "from memory", id="M-agonist_dose.nafarelin_400"),
        pytest.param(
            "nafarelin",
            "800 mcg",
            "nasal",
            "dose-unusual",
            "registered trial NCT06763926; no settled dose",
            id="M-agonist_dose.nafarelin_800",
        ),
    ],
)
def test_trigger_doses(name: str, dose: str, route: str, code: str | None, source: str) -> None:
    found = planned(injection(name, dose, "36 h", route))
    assert DOSES & set(found) == ({code} if code else set()), f"{source}: {found}"
    if code is not None:
        level = Level.ASK if code == "dose-unusual" else Level.STOP
        assert found[code].level is level, source


CYCLES = "Humaidan and Kol 2021, list of cycles without a surge"


@pytest.mark.parametrize(
    ("cycle", "stopped", "source"),
    [
        pytest.param(Cycle.LONG_AGONIST, True, CYCLES, id="M-agonist_alone.long"),
        pytest.param(Cycle.SHORT_AGONIST, True, CYCLES, id="M-agonist_alone.short"),
        pytest.param(Cycle.ANTAGONIST, False, CYCLES, id="M-agonist_alone.antagonist"),
        pytest.param(Cycle.PROGESTIN, False, CYCLES, id="M-agonist_alone.progestin"),
    ],
)
def test_an_agonist_alone_needs_a_pituitary_that_can_answer(cycle: Cycle, stopped: bool, source: str) -> None:
    found = planned(injection(LEUPROLIDE, "4 mg", "36 h"), cycle=cycle)
    assert ("agonist-in-suppressed-cycle" in found) == stopped, source
    if stopped:
        assert found["agonist-in-suppressed-cycle"].level is Level.STOP, source


OHSS = "Reproductive Biology and Endocrinology 2012;10:32, table of thresholds; Griesinger 2016"
SOFTER = "derived from the thresholds of 13 and 18; ASRM 2016 from memory: 3,500 pg/mL"


@pytest.mark.parametrize(
    ("name", "dose", "follicles", "e2", "level", "source"),
    [
        pytest.param(HCG, "10,000 units", 18, None, Level.ASK, OHSS, id="M-ohss_question.18"),
        pytest.param(HCG, "10,000 units", 17, None, Level.NOTE, SOFTER, id="M-ohss_question.17"),
        pytest.param(HCG, "10,000 units", 15, None, Level.NOTE, SOFTER, id="M-ohss_question.15"),
        pytest.param(HCG, "10,000 units", 14, None, None, SOFTER, id="M-ohss_question.14"),
        pytest.param(HCG, "5,000 units", None, 5000, Level.ASK, OHSS, id="M-ohss_question.5000"),
        pytest.param(HCG, "5,000 units", None, 4999, Level.NOTE, SOFTER, id="M-ohss_question.4999"),
        pytest.param(HCG, "5,000 units", None, 3500, Level.NOTE, SOFTER, id="M-ohss_question.3500"),
        pytest.param(HCG, "5,000 units", None, 3499, None, SOFTER, id="M-ohss_question.3499"),
        pytest.param(ALFA, "250 mcg", 18, 5000, Level.ASK, OHSS, id="M-ohss_question.alfa"),
        pytest.param(HCG, "1,000 units", 30, 9000, None, "derived: not a full dose", id="M-ohss_question.small"),
        pytest.param(LEUPROLIDE, "4 mg", 30, 9000, None, "derived: no hCG", id="M-ohss_question.agonist"),
    ],
)
def test_many_follicles_and_a_full_dose_of_hcg_are_asked_about(
    name: str, dose: str, follicles: int | None, e2: int | None, level: Level | None, source: str
) -> None:
    found = planned(injection(name, dose, "36 h"), follicles=follicles, e2=e2)
    levels = [finding.level for code, finding in found.items() if code.startswith("overstimulation")]
    assert levels == ([] if level is None else [level]), source


MEYER = "Meyer 2015, authors' rule: 0.5 units/L on the day of the trigger"


@pytest.mark.parametrize(
    ("name", "dose", "lh", "asked", "source"),
    [
        pytest.param(LEUPROLIDE, "4 mg", "0.4", True, MEYER, id="M-agonist_alone.lh_0_4"),
        pytest.param(LEUPROLIDE, "4 mg", "0.5", False, MEYER, id="M-agonist_alone.lh_0_5"),
        pytest.param(HCG, "10,000 units", "0.4", False, "derived: hCG needs no pituitary", id="M-agonist_alone.lh_hcg"),
    ],
)
def test_a_low_lh_before_an_agonist_alone_is_asked_about(
    name: str, dose: str, lh: str, asked: bool, source: str
) -> None:
    found = planned(injection(name, dose, "36 h"), lh=lh)
    assert ("lh-low" in found) == asked, source
    if asked:
        assert found["lh-low"].level is Level.ASK, source


@pytest.mark.parametrize(
    ("dose", "strength", "source"),
    [pytest.param("1 mg", "0.2 mg/mL", "pharmacy sheet on diluted leuprolide, made for small daily doses", id="FC29")],
)
def test_a_dilution_at_home_is_no_trigger(dose: str, strength: str, source: str) -> None:
    kit = Kit(products=(KitProduct(product("leuprolide-compounded"), strength),))
    found = planned(injection(LEUPROLIDE, dose, "36 h"), kit=kit)
    assert "compounded-dilution" in found, source
    assert found["compounded-dilution"].level is Level.STOP, source


@pytest.mark.parametrize(
    ("name", "dose", "box", "strength", "code", "source"),
    [
        pytest.param(
            HCG,
            "6,500 units",
            "choriogonadotropin-alfa-250mcg-syringe",
            "250 mcg",
            "recombinant-or-urinary",
            "EU leaflet, section 6: 6,500 units; Swiss label: 5,000 units",
            id="FC22.kit",
        ),
        pytest.param(
            ALFA,
            "250 mcg",
            "hcg-10000-units",
            "10,000 units",
            "recombinant-or-urinary",
            "EU leaflet, section 6: 6,500 units; Swiss label: 5,000 units",
            id="FC22.kit_other_way",
        ),
        pytest.param(
            "triptorelin",
            "0.2 mg",
            "triptorelin-100mcg-syringe",
            "0.1 mg",
            "salt-or-base",
            "German SmPC, triptorelin, section 2",
            id="FC30.salt",
        ),
        pytest.param(
            "buserelin acetate",
            "0.525 mg",
            "buserelin-1mg-per-ml-vial",
            "1 mg/mL",
            "salt-or-base",
            "UK SmPC, buserelin: 1.05 mg of acetate is 1 mg",
            id="FC31.salt",
        ),
    ],
)
def test_another_hormone_or_salt_at_home_is_never_converted(
    name: str, dose: str, box: str, strength: str, code: str, source: str
) -> None:
    found = planned(injection(name, dose, "36 h"), kit=Kit(products=(KitProduct(product(box), strength),)))
    assert code in found, f"{source}: {found}"
    assert found[code].level is Level.STOP, source


@pytest.mark.parametrize(
    ("fact", "hours", "source"),
    [
        pytest.param(
            "morning-sample-from", "8 h", "derived from Fauser 2002: LH peaks at 4 h", id="M-sample_window.from"
        ),
        pytest.param(
            "morning-sample-to", "14 h", "derived from Vuong 2016: LH is back by 24 h", id="M-sample_window.to"
        ),
    ],
)
def test_the_proposed_window_for_the_morning_sample(fact: str, hours: str, source: str) -> None:
    assert facts("proposals")[fact].value == parse_span(hours), source
