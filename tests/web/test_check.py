"""The second check: what another person works out is kept whatever it is, and only whether it agrees comes back."""

from dataclasses import replace
from typing import Any

import pytest

from hourmark.case.kits import ReadKit
from hourmark.case.orders import SignOrder
from hourmark.desk import Desk
from tests.case.world import kit, order
from tests.web.manners import (
    RANG,
    Act,
    SignIn,
    do,
    does_it,
    heads,
    hides_from_strangers,
    is_done_once,
    keeps,
    knows_only,
    marks,
    refuses,
    refuses_a_used_key,
    refuses_what_is_stale,
    sends_to_sign_in,
    somebody_rings,
    written,
)
from tests.web.seen import look, read

K = "/cases/K-103/check/"
RIGHT = {
    "entered.agonist.at": "2026-11-18 21:00",
    "entered.agonist.fills[1].volume": "0.8 mL",
    "entered.agonist.fills[1].mark": "80",
    "entered.hcg.at": "2026-11-18 21:00",
    "entered.hcg.fills[1].volume": "0.2 mL",
    "entered.hcg.fills[1].mark": "20",
}
CHECK = Act(
    "devi",
    K,
    RIGHT,
    ("case/K-103 second-checked",),
    leads_to="/",
    other={"entered.hcg.fills[1].mark": "30"},
)


def differs(sign_in: SignIn, site: Desk, **change: str) -> list[str]:
    """What is said of a check with something else in it; the check is on the record all the same."""
    do(site, SignOrder("K-103", order() | {"largest_gap": "10 min"}), "aumont")
    client = sign_in("devi")
    form = CHECK.form(client) | change
    before = heads(site)
    answer = client.post(K, form)
    assert written(site, before) == ["case/K-103 second-checked"]
    assert answer.status_code == 200
    page = read(answer)
    assert "Your working differs" in page.main()
    kept = site.states().case("K-103").check
    assert kept is not None
    assert page.texts("li")[-len(kept.event.differences) :] == list(kept.event.differences)
    return list(kept.event.differences)


def test_a_working_that_is_the_same_goes_on_the_record_with_both(sign_in: SignIn, site: Desk) -> None:
    client = does_it(sign_in, site, CHECK)
    kept = site.states().case("K-103").check
    assert kept is not None
    assert (kept.actor, kept.event.differences) == ("M. Devi", ())
    assert kept.event.entered == kept.event.planned
    assert "Your working is the same" not in look(client, "/").main()


@pytest.mark.parametrize(
    ("name", "value", "says"),
    [
        ("entered.hcg.at", "2026-11-18 21:15", ["hcg: the minute differs"]),
        ("entered.hcg.at", "2026-11-19 21:00", ["hcg: the minute differs"]),
        ("entered.hcg.fills[1].mark", "30", ["hcg: the mark differs"]),
        ("entered.hcg.fills[1].mark", "", ["hcg: the mark differs"]),
        ("entered.agonist.fills[1].volume", "0.08 mL", ["agonist: the volume differs"]),
        ("entered.hcg.fills[2].mark", "20", ["hcg: the volume differs", "hcg: the mark differs"]),
    ],
)
def test_a_working_that_differs_says_where_and_names_no_answer(
    sign_in: SignIn, site: Desk, name: str, value: str, says: list[str]
) -> None:
    assert differs(sign_in, site, **{name: value}) == says


def test_a_page_that_is_out_is_void_once_a_working_differs_from_it(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("devi")
    before = heads(site)
    client.post(K, CHECK.form(client) | {"entered.hcg.fills[1].mark": "30"})
    assert written(site, before) == ["case/K-103 second-checked", "case/K-103 sheet-voided"]
    assert "a second check differs from it" in look(client, "/cases/K-103/").main()


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("entered.hcg.fills[1].volume", "0.20 mL"),
        ("entered.hcg.fills[1].volume", "0.2mL"),
        ("entered.hcg.fills[1].mark", "20.0"),
        ("entered.hcg.fills[1].mark", " 20 "),
        ("entered.agonist.at", " 2026-11-18  21:00 "),
    ],
)
def test_the_same_answer_written_otherwise_is_the_same_or_refused_never_a_difference(
    sign_in: SignIn, site: Desk, name: str, value: str
) -> None:
    client = sign_in("devi")
    answer = client.post(K, CHECK.form(client) | {name: value})
    if answer.status_code == 422:
        assert name in read(answer).marked()
    else:
        kept = site.states().case("K-103").check
        assert kept is not None
        assert (answer.status_code, kept.event.differences) == (302, ())


def test_the_form_has_room_for_the_same_number_of_fills_whatever_is_planned(sign_in: SignIn) -> None:
    client = sign_in("devi")
    for case, names in (("K-102", ["agonist"]), ("K-103", ["agonist", "hcg"]), ("K-106", ["agonist"])):
        form = look(client, f"/cases/{case}/check/").form()
        entered = {name for name in form if name.startswith("entered.")}
        rows = [
            f"entered.{name}.fills[{place}].{part}"
            for name in names
            for place in (1, 2, 3)
            for part in ("volume", "mark")
        ]
        assert entered == {*rows, *(f"entered.{name}.{part}" for name in names for part in ("at", "which"))}
        assert not any(form[name] for name in entered)


@pytest.mark.parametrize(
    ("value", "says"),
    [
        ("9 pm", "is not a date and clock time"),
        ("", "is not a date and clock time"),
        ("2026-11-31 21:00", "2026-11-31"),
    ],
)
def test_a_minute_that_cannot_be_read_is_asked_for_at_its_field(
    sign_in: SignIn, site: Desk, value: str, says: str
) -> None:
    marks(sign_in, site, CHECK, "entered.agonist.at", value, says)


@pytest.mark.parametrize(("at", "code"), [("2026-11-01 01:30", "time-repeated"), ("2027-03-14 02:30", "time-skipped")])
def test_a_minute_that_is_none_or_two_is_asked_for_at_its_field(
    sign_in: SignIn, site: Desk, at: str, code: str
) -> None:
    page = refuses(sign_in, site, CHECK, entered__agonist__at=at)
    assert code in page.summary()
    assert page.marked() == ["entered.agonist.at"]


@pytest.mark.parametrize(
    "hostile",
    [
        {"entered.agonist": "x"},
        {"entered.agonist.fills": "x"},
        {"entered.agonist.at[1]": "x"},
        {"entered.agonist.fills[1]": "x"},
        {"entered": "x"},
        {"entered.agonist.fills[1].mark.deeper": "x"},
        {"seen": "one"},
        {"seen": ""},
    ],
    ids=str,
)
@pytest.mark.parametrize("first", [True, False])
def test_fields_that_no_form_has_do_no_harm(sign_in: SignIn, site: Desk, hostile: dict[str, str], first: bool) -> None:
    client = sign_in("devi")
    form = CHECK.form(client)
    answer = client.post(K, {**hostile, **form} if first else {**form, **hostile})
    assert answer.status_code in (200, 302, 422)


def test_a_role_that_the_lead_did_not_sign_for_it_does_not_check(sign_in: SignIn, site: Desk) -> None:
    for who in ("aumont", "brandt"):
        page = refuses(sign_in, site, replace(CHECK, who=who))
        assert "checker-role" in page.summary()
        keeps(page, RIGHT)


def test_only_what_could_be_released_is_checked(sign_in: SignIn, site: Desk) -> None:
    do(site, ReadKit("K-103", kit() | {"syringes": []}, "seen"), "ortiz")
    page = refuses(sign_in, site, CHECK)
    assert "check-without-plan" in page.summary()
    keeps(page, RIGHT)


def test_after_a_change_it_is_owed_and_found_from_today(sign_in: SignIn, site: Desk) -> None:
    do(site, SignOrder("K-103", order() | {"largest_gap": "10 min"}), "aumont")
    client = sign_in("devi")
    assert K in look(client, "/").links()
    does_it(sign_in, site, CHECK)
    assert K not in look(client, "/").links()


def test_it_is_recorded_one_time_however_often_the_form_is_sent(sign_in: SignIn, site: Desk) -> None:
    is_done_once(sign_in, site, CHECK)


def test_a_form_that_recorded_a_check_records_no_other(sign_in: SignIn, site: Desk) -> None:
    refuses_a_used_key(sign_in, site, CHECK)


def test_a_check_of_what_somebody_changed_meanwhile_is_not_recorded(sign_in: SignIn, site: Desk) -> None:
    refuses_what_is_stale(sign_in, site, CHECK, somebody_rings(site, "K-103"), RANG)


def test_another_clinic_checks_nothing_here(sign_in: SignIn, site: Desk) -> None:
    hides_from_strangers(sign_in, site, K, "GET", "POST")


def test_nobody_comes_in_without_signing_in(client_of_nobody: Any) -> None:
    sends_to_sign_in(client_of_nobody, K, "GET", "POST")


def test_other_methods_are_refused(sign_in: SignIn) -> None:
    knows_only(sign_in("devi"), K, "GET", "POST")
