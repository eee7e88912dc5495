"""The rules: everybody reads them, the lead signs them; and barrels, measured by whoever holds one."""

from dataclasses import replace
from typing import Any

import pytest

from hourmark.case.rules import MeasureBarrel, SignRules
from hourmark.desk import Desk
from hourmark.web import work
from tests.case.world import clinic
from tests.web.conftest import STAFF
from tests.web.manners import (
    Act,
    SignIn,
    acts_since,
    do,
    does_it,
    heads,
    is_done_once,
    is_not_for,
    keeps,
    knows_only,
    marks,
    refuses,
    refuses_a_used_key,
    refuses_what_is_stale,
    sends_to_sign_in,
)
from tests.web.seen import look, read

LEAD = "Dr. O. Brandt, medical lead"
SIGN = Act(
    "brandt",
    "/rules/",
    {"rules.morning_sample[2]": "13 h", "rules.keep_years": "30"},
    ("rules rules-signed",),
    leads_to="/rules/",
    other={"rules.keep_years": "31"},
)
BARREL = Act(
    "kowal",
    "/rules/",
    {"barrel.syringe": "mL-10-0.2", "barrel.scale_length": "57 mm"},
    ("rules barrel-measured",),
    to="/rules/barrel/",
    leads_to="/rules/",
    other={"barrel.scale_length": "58 mm"},
)
MEASURED: Any = {
    "syringe": "u100-1mL-1",
    "scale_length": "57 mm",
    "measured_by": "L. Ortiz",
    "measured_at": "2026-11-18 16:00",
}


@pytest.mark.parametrize("who", [who for who in STAFF if who != "sorel"])
def test_everybody_reads_the_rules_and_who_signed_them(sign_in: SignIn, who: str) -> None:
    page = look(sign_in(who), "/rules/")
    assert "Version 1, in force since Wed 18 Nov 11:50, signed by Dr. O. Brandt, medical lead" in page.main()
    assert page.shown("rules.tell_by") == "3 h"
    assert page.shown("rules.bands.standard.ok[1]") == "35 h"
    signs = [text for text in page.texts("button") if text.startswith("Sign the rules")]
    assert signs == ([f"Sign the rules as {LEAD}"] if who == "brandt" else [])


def test_a_proposal_stands_beside_its_field_and_fills_in_nothing(sign_in: SignIn) -> None:
    page = look(sign_in("stranger"), "/rules/")
    assert "Nobody has signed any rule yet: nothing can be planned before" in page.main()
    assert "Proposed:" in page.main()
    rules = {name: value for name, value in page.form().items() if name.startswith(("rules.", "phones"))}
    assert len(rules) > 30
    assert not any(rules.values())


def test_the_lead_signs_them_in_their_own_name_and_now(sign_in: SignIn, site: Desk) -> None:
    client = does_it(sign_in, site, SIGN)
    signed = site.states().rules()
    table = clinic()
    table["rules"] |= {
        "signed_by": LEAD,
        "signed_at": "2026-11-18 16:25",
        "morning_sample": ["8 h", "13 h"],
        "keep_years": 30,
    }
    assert (signed.version, signed.clinic) == (2, table)
    assert "Version 2, in force since Wed 18 Nov 16:25" in look(client, "/rules/").main()


def test_a_rule_that_pages_rest_on_voids_exactly_those(sign_in: SignIn, site: Desk) -> None:
    held = [case for case in ("K-101", "K-102", "K-103", "K-104", "K-105") if site.states().case(case).sheet]
    assert len(held) == 5
    act = replace(
        SIGN,
        typed={"rules.arrival": "90 min"},
        writes=("rules rules-signed", *(f"case/{one} sheet-voided" for one in held)),
    )
    does_it(sign_in, site, act)


def test_a_barrel_that_was_measured_stays_when_the_rules_are_signed(sign_in: SignIn, site: Desk) -> None:
    do(site, MeasureBarrel(MEASURED), "ortiz")
    does_it(sign_in, site, SIGN)
    assert site.states().rules().clinic["barrels"] == [MEASURED]


def test_more_rows_than_usual_are_all_still_there(sign_in: SignIn, site: Desk) -> None:
    table = clinic()
    table["phones"] = [table["phones"][0] | {"number": f"+1 555 010{place}"} for place in range(5)]
    table["rules"]["mixes"] = [
        {"product": product, "diluent": "2 mL", "part_dose": True}
        for product in ("hcg-10000-units", "hcg-5000-units", "hcg-2000-units-saline", "hcg-1500-units", "hcg-250-units")
    ] + [{"product": "hcg-10000-units", "diluent": f"{mL} mL"} for mL in (3, 4, 5)]
    table["rules"]["languages"] = ["es"]
    table["rules"] |= {"signed_by": LEAD, "signed_at": "2026-11-18 16:20"}
    do(site, SignRules(table), "brandt")
    does_it(sign_in, site, replace(SIGN, writes=("rules rules-signed",)))
    now: Any = site.states().rules().clinic
    assert now["phones"] == table["phones"]
    assert now["rules"]["mixes"] == table["rules"]["mixes"]
    assert now["rules"]["languages"] == ["es"]


@pytest.mark.parametrize(
    ("name", "value", "says"),
    [
        ("name", "", "missing"),
        ("zone", "Chicago", "is not an Area/City name"),
        ("rules.tell_by", "3", "is not a number of hours or minutes"),
        ("rules.tolerance_note", "a little", "a little"),
        ("rules.bands.standard.ok[2]", "a while", "is not a number of hours or minutes"),
        ("rules.morning_sample[1]", "soon", "is not a number of hours or minutes"),
        ("rules.technique.bubbles", "shake", "is not one of the words"),
        ("rules.technique.drying_seconds", "a moment", "is not a number of seconds"),
        ("rules.mixes[1].product", "powder", "is not a product known here"),
        ("rules.mixes[1].diluent", "2", "has no unit"),
        ("rules.keep_years", "many", "is not a number of years"),
        ("phones[1].number", "1", "is not a telephone number"),
        ("phones[1].opens", "7", "is not a clock time"),
        ("phones[1].days", "Monday\nMoonday", "is not one of the words"),
        ("rules.checkers", "nurse\nnurs", "is not one of the words"),
        ("rules.languages", "fr", "is not one of the words"),
    ],
)
def test_an_error_stands_beside_its_field(sign_in: SignIn, site: Desk, name: str, value: str, says: str) -> None:
    marks(sign_in, site, SIGN, name, value, says)


@pytest.mark.parametrize(
    "hostile",
    [{"rules": "x"}, {"rules[1]": "x"}, {"rules.signed_by": "somebody else"}, {"barrels[1].syringe": "mL-1-0.01"}],
    ids=str,
)
def test_fields_that_no_form_has_sign_nothing(sign_in: SignIn, site: Desk, hostile: dict[str, str]) -> None:
    for extra_first in (True, False):
        client = sign_in("brandt")
        form = SIGN.form(client)
        answer = client.post("/rules/", {**hostile, **form} if extra_first else {**form, **hostile})
        assert answer.status_code in (302, 422)
    assert site.states().rules().clinic.get("barrels") is None
    rules: Any = site.states().rules().clinic["rules"]
    assert rules["signed_by"] == LEAD


@pytest.mark.parametrize("who", ["kowal", "devi", "aumont", "theatre"])
def test_nobody_else_signs_them(sign_in: SignIn, site: Desk, who: str) -> None:
    is_not_for(sign_in, site, who, "/rules/", "POST")


def test_they_are_signed_one_time_however_often_the_form_is_sent(sign_in: SignIn, site: Desk) -> None:
    is_done_once(sign_in, site, SIGN)


@pytest.mark.parametrize("act", [SIGN, BARREL], ids=["rules", "barrel"])
def test_a_form_sent_again_a_minute_later_is_still_the_same_form(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch, act: Act
) -> None:
    client = sign_in(act.who)
    form = act.form(client)
    before = heads(site)
    client.post(act.address, form)
    monkeypatch.setattr(work, "instant", lambda: "2026-11-18T22:26:10Z")
    answer = client.post(act.address, form)
    assert (answer.status_code, answer.get("Location")) == (302, "/rules/")
    assert acts_since(site, before) == 1


def test_a_form_that_signed_them_signs_nothing_else(sign_in: SignIn, site: Desk) -> None:
    refuses_a_used_key(sign_in, site, SIGN)


def test_rules_read_before_somebody_measured_a_barrel_are_shown_what_happened(sign_in: SignIn, site: Desk) -> None:
    refuses_what_is_stale(
        sign_in, site, SIGN, lambda: do(site, MeasureBarrel(MEASURED), "ortiz"), "L. Ortiz: barrel measured"
    )


# Barrels


def test_a_barrel_is_recorded_as_measured_by_whoever_measured_it(sign_in: SignIn, site: Desk) -> None:
    client = does_it(sign_in, site, BARREL)
    assert site.states().rules().clinic["barrels"] == [
        {"syringe": "mL-10-0.2", "scale_length": "57 mm", "measured_by": "A. Kowal", "measured_at": "2026-11-18 16:25"}
    ]
    assert "mL-10-0.2: 57 mm, measured by A. Kowal" in look(client, "/rules/").main()


@pytest.mark.parametrize(
    ("name", "value", "says"),
    [("barrel.syringe", "the long one", "is not a syringe known here"), ("barrel.scale_length", "57", "57")],
)
def test_an_error_of_a_barrel_stands_beside_its_field(
    sign_in: SignIn, site: Desk, name: str, value: str, says: str
) -> None:
    page = refuses(sign_in, site, replace(BARREL, typed={**BARREL.typed, name: value}))
    assert says in page.wrong_at(name)
    keeps(page, {**BARREL.typed, name: value})


def test_the_same_measure_once_more_is_no_change(sign_in: SignIn, site: Desk) -> None:
    is_done_once(sign_in, site, BARREL)
    page = refuses(sign_in, site, BARREL)
    assert "nothing-changed" in page.summary()
    refuses_a_used_key(sign_in, site, replace(BARREL, typed={**BARREL.typed, "barrel.scale_length": "59 mm"}))


def test_barrels_are_measured_by_nurse_pharmacist_and_lead_alone(sign_in: SignIn, site: Desk) -> None:
    for who in ("aumont", "theatre"):
        is_not_for(sign_in, site, who, "/rules/barrel/", "POST")


def test_a_barrel_before_the_rules_are_signed_is_refused_in_words(sign_in: SignIn) -> None:
    client = sign_in("stranger")
    answer = client.post(BARREL.address, look(client, "/rules/").form(BARREL.address) | dict(BARREL.typed))
    assert answer.status_code == 422
    assert "rules" in read(answer).summary()


def test_nobody_comes_in_without_signing_in(client_of_nobody: Any) -> None:
    for path in ("/rules/", "/rules/barrel/"):
        sends_to_sign_in(client_of_nobody, path, "GET", "POST")


def test_other_methods_are_refused(sign_in: SignIn) -> None:
    client = sign_in("brandt")
    knows_only(client, "/rules/", "GET", "POST")
    knows_only(client, "/rules/barrel/", "POST")
