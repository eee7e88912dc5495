"""Every limit of a trigger dose at its edge and one step beyond. The numbers are written here a second time, from what was read:

- labels: chorionic gonadotropin 5,000 to 10,000 units (US label, dosage); choriogonadotropin alfa 250 mcg (US and EU label); the
  triptorelin syringe holds 100 mcg of acetate, 95.6 mcg as free base (German label, section 2); 1.05 mg of buserelin acetate is 1 mg
  of buserelin (Spanish label);
- papers: leuprolide 0.5 mg (Fauser 2002) to 4 mg; triptorelin 0.2, 0.3 and 0.4 mg (Vuong 2016); buserelin 0.5 mg (Humaidan 2005);
- common practice, no source: 1,000 and 15,000 units, triptorelin 0.1 mg, leuprolide 4 mg, and every nasal dose.
"""

import datetime as dt

import pytest

from hourmark.clock import WallTime, parse_span
from hourmark.finding import Finding
from hourmark.formulary import drug
from hourmark.order import Cycle, Injection, Lead, Order, Purpose
from hourmark.quantity import parse_dose

SIGNED = WallTime(dt.datetime(2026, 11, 18, 13, 0))
QUIET, ASK, STOP = None, "dose-unusual", "dose-no-trigger"
"""What is said of a dose."""

SOURCES = {
    "chorionic gonadotropin": "US label, chorionic gonadotropin, dosage; 1,000 and 15,000 units: common practice, no source",
    "choriogonadotropin alfa": "US and EU label, choriogonadotropin alfa, dosage",
    "leuprolide acetate": "Fauser 2002; 4 mg: common practice, no source",
    "triptorelin acetate": "Vuong 2016; 0.1 mg: common practice, no source",
    "triptorelin": "German label, triptorelin syringe, section 2; Vuong 2016",
    "buserelin": "Humaidan 2005; nasal: common practice, no source",
    "buserelin acetate": "Humaidan 2005; Spanish label of buserelin acetate",
    "nafarelin": "common practice, no source",
}

EDGES = [
    ("chorionic gonadotropin", "subcutaneous", "999 units", STOP),
    ("chorionic gonadotropin", "subcutaneous", "1,000 units", QUIET),
    ("chorionic gonadotropin", "subcutaneous", "10,000 units", QUIET),
    ("chorionic gonadotropin", "subcutaneous", "10,001 units", ASK),
    ("chorionic gonadotropin", "subcutaneous", "15,000 units", ASK),
    ("chorionic gonadotropin", "subcutaneous", "15,001 units", STOP),
    ("choriogonadotropin alfa", "subcutaneous", "249 mcg", STOP),
    ("choriogonadotropin alfa", "subcutaneous", "250 mcg", QUIET),
    ("choriogonadotropin alfa", "subcutaneous", "251 mcg", ASK),
    ("choriogonadotropin alfa", "subcutaneous", "500 mcg", ASK),
    ("choriogonadotropin alfa", "subcutaneous", "501 mcg", STOP),
    ("leuprolide acetate", "subcutaneous", "0.4 mg", ASK),
    ("leuprolide acetate", "subcutaneous", "0.49 mg", ASK),
    ("leuprolide acetate", "subcutaneous", "0.5 mg", QUIET),
    ("leuprolide acetate", "subcutaneous", "4 mg", QUIET),
    ("leuprolide acetate", "subcutaneous", "4.01 mg", ASK),
    ("triptorelin acetate", "subcutaneous", "0.09 mg", ASK),
    ("triptorelin acetate", "subcutaneous", "0.1 mg", QUIET),
    ("triptorelin acetate", "subcutaneous", "0.4 mg", QUIET),
    ("triptorelin acetate", "subcutaneous", "0.41 mg", ASK),
    ("triptorelin", "subcutaneous", "95.5 mcg", ASK),
    ("triptorelin", "subcutaneous", "95.6 mcg", QUIET),
    ("triptorelin", "subcutaneous", "382.4 mcg", QUIET),
    ("triptorelin", "subcutaneous", "382.5 mcg", ASK),
    ("buserelin", "subcutaneous", "0.49 mg", ASK),
    ("buserelin", "subcutaneous", "0.5 mg", QUIET),
    ("buserelin", "subcutaneous", "0.51 mg", ASK),
    ("buserelin", "nasal", "599 mcg", ASK),
    ("buserelin", "nasal", "600 mcg", QUIET),
    ("buserelin", "nasal", "900 mcg", QUIET),
    ("buserelin", "nasal", "901 mcg", ASK),
    ("buserelin acetate", "subcutaneous", "0.524 mg", ASK),
    ("buserelin acetate", "subcutaneous", "0.525 mg", QUIET),
    ("buserelin acetate", "subcutaneous", "0.526 mg", ASK),
    ("nafarelin", "nasal", "399 mcg", ASK),
    ("nafarelin", "nasal", "400 mcg", QUIET),
    ("nafarelin", "nasal", "401 mcg", ASK),
]
WRONG_UNIT = [
    ("chorionic gonadotropin", "250 mcg", "units"),
    ("choriogonadotropin alfa", "6,500 units", "mcg or mg"),
    ("leuprolide acetate", "20 units", "mcg or mg"),
    ("triptorelin acetate", "20 units", "mcg or mg"),
    ("triptorelin", "20 units", "mcg or mg"),
    ("buserelin", "50 units", "mcg or mg"),
    ("buserelin acetate", "50 units", "mcg or mg"),
    ("nafarelin", "400 units", "mcg or mg"),
]


def said_of(name: str, route: str, dose: str) -> list[Finding]:
    """What an otherwise quiet order of one injection is told about its dose."""
    lead = Lead(parse_span("36 h"), (parse_span("35 h"), parse_span("37 h")))
    only = Injection("first", drug(name), name, parse_dose(dose), route, lead)
    order = Order(Purpose.TRIGGER, "Dr. L. Aumont", SIGNED, Cycle.ANTAGONIST, (), (only,))
    return [finding for finding in order.checks() if finding.where.endswith("dose")]


@pytest.mark.parametrize(("name", "route", "dose", "said", "source"), [(*row, SOURCES[row[0]]) for row in EDGES])
def test_a_trigger_dose_at_its_edge(name: str, route: str, dose: str, said: str | None, source: str) -> None:
    found = said_of(name, route, dose)
    assert [finding.code for finding in found] == ([] if said is None else [said]), source


@pytest.mark.parametrize(("name", "dose", "wanted", "source"), [(*row, SOURCES[row[0]]) for row in WRONG_UNIT])
def test_a_dose_in_another_unit_is_never_converted(name: str, dose: str, wanted: str, source: str) -> None:
    """ISMP: units and mass are no other spelling of each other; each label states its own."""
    (found,) = said_of(name, "subcutaneous", dose)
    assert found.code == "dose-unit-disagrees", source
    assert found.limit == f"{name} in {wanted}"
