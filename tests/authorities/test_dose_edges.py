"""Every limit of a trigger dose at its edge and one step beyond. The numbers are written here a second time, beside their source."""

import datetime as dt

import pytest

from hourmark.clock import WallTime, parse_span
from hourmark.finding import Finding
from hourmark.formulary import drug
from hourmark.order import Cycle, Injection, Lead, Order, Purpose
from hourmark.quantity import parse_dose

SIGNED = WallTime(dt.datetime(2026, 11, 18, 13, 0))
HCG_LABEL = "US label of chorionic gonadotropin, dosage: 5,000 to 10,000 units"
ALFA_LABEL = "US and EU label of choriogonadotropin alfa: 250 mcg"
FAUSER = "Fauser 2002: leuprolide 0.5 mg"
VUONG = "Vuong 2016, Fertility and Sterility 105:356: triptorelin 0.2, 0.3 and 0.4 mg"
FREE_BASE = "German label of triptorelin acetate, section 2: 100 mcg is 95.6 mcg of free base"
HUMAIDAN = "Humaidan 2005, Human Reproduction 20:1213: buserelin 0.5 mg"
ACETATE = "Spanish label of buserelin: 1.05 mg of acetate is 1 mg of buserelin"
ISMP = "ISMP list of error-prone abbreviations, symbols and dose designations, 2021: each unit as its label states it"
PRACTICE = "common practice, no source"

QUIET, ASK, STOP = None, "dose-unusual", "dose-no-trigger"
"""What is said of a dose."""

EDGES = [
    ("chorionic gonadotropin", "subcutaneous", "999 units", STOP, PRACTICE),
    ("chorionic gonadotropin", "subcutaneous", "1,000 units", QUIET, PRACTICE),
    ("chorionic gonadotropin", "subcutaneous", "10,000 units", QUIET, HCG_LABEL),
    ("chorionic gonadotropin", "subcutaneous", "10,001 units", ASK, HCG_LABEL),
    ("chorionic gonadotropin", "subcutaneous", "15,000 units", ASK, PRACTICE),
    ("chorionic gonadotropin", "subcutaneous", "15,001 units", STOP, PRACTICE),
    ("choriogonadotropin alfa", "subcutaneous", "249 mcg", STOP, ALFA_LABEL),
    ("choriogonadotropin alfa", "subcutaneous", "250 mcg", QUIET, ALFA_LABEL),
    ("choriogonadotropin alfa", "subcutaneous", "251 mcg", ASK, ALFA_LABEL),
    ("choriogonadotropin alfa", "subcutaneous", "500 mcg", ASK, PRACTICE),
    ("choriogonadotropin alfa", "subcutaneous", "501 mcg", STOP, PRACTICE),
    ("leuprolide acetate", "subcutaneous", "0.4 mg", ASK, FAUSER),
    ("leuprolide acetate", "subcutaneous", "0.49 mg", ASK, FAUSER),
    ("leuprolide acetate", "subcutaneous", "0.5 mg", QUIET, FAUSER),
    ("leuprolide acetate", "subcutaneous", "4 mg", QUIET, PRACTICE),
    ("leuprolide acetate", "subcutaneous", "4.01 mg", ASK, PRACTICE),
    ("triptorelin acetate", "subcutaneous", "0.09 mg", ASK, PRACTICE),
    ("triptorelin acetate", "subcutaneous", "0.1 mg", QUIET, PRACTICE),
    ("triptorelin acetate", "subcutaneous", "0.4 mg", QUIET, VUONG),
    ("triptorelin acetate", "subcutaneous", "0.41 mg", ASK, VUONG),
    ("triptorelin", "subcutaneous", "95.5 mcg", ASK, FREE_BASE),
    ("triptorelin", "subcutaneous", "95.6 mcg", QUIET, FREE_BASE),
    ("triptorelin", "subcutaneous", "382.4 mcg", QUIET, FREE_BASE),
    ("triptorelin", "subcutaneous", "382.5 mcg", ASK, FREE_BASE),
    ("buserelin", "subcutaneous", "0.49 mg", ASK, HUMAIDAN),
    ("buserelin", "subcutaneous", "0.5 mg", QUIET, HUMAIDAN),
    ("buserelin", "subcutaneous", "0.51 mg", ASK, HUMAIDAN),
    ("buserelin", "nasal", "599 mcg", ASK, PRACTICE),
    ("buserelin", "nasal", "600 mcg", QUIET, PRACTICE),
    ("buserelin", "nasal", "900 mcg", QUIET, PRACTICE),
    ("buserelin", "nasal", "901 mcg", ASK, PRACTICE),
    ("buserelin acetate", "subcutaneous", "0.524 mg", ASK, ACETATE),
    ("buserelin acetate", "subcutaneous", "0.525 mg", QUIET, ACETATE),
    ("buserelin acetate", "subcutaneous", "0.526 mg", ASK, ACETATE),
    ("nafarelin", "nasal", "399 mcg", ASK, PRACTICE),
    ("nafarelin", "nasal", "400 mcg", QUIET, PRACTICE),
    ("nafarelin", "nasal", "401 mcg", ASK, PRACTICE),
]
WRONG_UNIT = [
    ("chorionic gonadotropin", "250 mcg", "units", ISMP),
    ("choriogonadotropin alfa", "6,500 units", "mcg or mg", ISMP),
    ("leuprolide acetate", "20 units", "mcg or mg", ISMP),
    ("triptorelin acetate", "20 units", "mcg or mg", ISMP),
    ("triptorelin", "20 units", "mcg or mg", ISMP),
    ("buserelin", "50 units", "mcg or mg", ISMP),
    ("buserelin acetate", "50 units", "mcg or mg", ISMP),
    ("nafarelin", "400 units", "mcg or mg", ISMP),
]


def said_of(name: str, route: str, dose: str) -> list[Finding]:
    """What an otherwise quiet order of one injection is told about its dose."""
    lead = Lead(parse_span("36 h"), (parse_span("35 h"), parse_span("37 h")))
    only = Injection("first", drug(name), name, parse_dose(dose), route, lead)
    order = Order(Purpose.TRIGGER, "Dr. L. Aumont", SIGNED, Cycle.ANTAGONIST, (), (only,))
    return [finding for finding in order.checks() if finding.where.endswith("dose")]


@pytest.mark.parametrize(("name", "route", "dose", "said", "source"), EDGES)
def test_a_trigger_dose_at_its_edge(name: str, route: str, dose: str, said: str | None, source: str) -> None:
    found = said_of(name, route, dose)
    assert [finding.code for finding in found] == ([] if said is None else [said]), source


@pytest.mark.parametrize(("name", "dose", "wanted", "source"), WRONG_UNIT)
def test_a_dose_in_another_unit_is_never_converted(name: str, dose: str, wanted: str, source: str) -> None:
    (found,) = said_of(name, "subcutaneous", dose)
    assert found.code == "dose-unit-disagrees", source
    assert found.limit == f"{name} in {wanted}"
