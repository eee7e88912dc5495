"""The second check is blind: nothing that whoever makes it is sent holds the first answer, and whoever saw it cannot make it."""

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client

from hourmark.case.kits import CheckCarton, ReadKit
from hourmark.case.opening import ChangeDetails
from hourmark.case.orders import SignOrder
from hourmark.case.slots import PlaceSlot
from hourmark.clock import moment_from_utc, parse_zone
from hourmark.desk import Desk
from hourmark.desk.made import Planned, plan_of
from tests.case.world import details, kit, order
from tests.web.conftest import NOW
from tests.web.manners import SignIn, do, heads, written
from tests.web.seen import look, read, text_of

K = "/cases/K-103/"
CHECK = f"{K}check/"
NIGHT = ("K-101", "K-102", "K-103", "K-104", "K-105", "K-106", "K-107", "K-108", "K-109", "K-110")


def planned_of(site: Desk, case: str) -> Planned:
    states = site.states()
    planned = plan_of(states.case(case), states.rules(), NOW)
    assert isinstance(planned, Planned)
    return planned


def answers(site: Desk, case: str) -> set[str]:
    """Everything in which the first answer could stand: minutes as clocks say and as the record writes them, volumes, marks, check words.

    What order and kit say themselves is no answer, and neither is a number that is part of every page.
    """
    planned = planned_of(site, case)
    state = site.states().case(case)
    zone = parse_zone(str(state.details["zone"]))
    found = {planned.made.check_word, *(sheet.event.check_word for sheet in state.sheets)}
    for due in planned.made.dues:
        here = moment_from_utc(due.at, zone)
        found |= {
            due.at,
            due.take,
            due.said,
            f"{here.wall:%Y-%m-%d %H:%M}",
            f"{here.wall:%H:%M}",
            f"{here.wall:%a} {here.wall.day} {here.wall:%b %H:%M}",
        }
        found |= {at for at in (due.tell_by, due.mix_at) if at}
    for reading in planned.readings:
        found |= {volume for volume, _ in reading.fills if volume}
        found |= {f"mark {mark}" for _, mark in reading.fills if mark[0].isdigit()}
    given = f"{state.order.event.order if state.order else ''} {state.kit.kit if state.kit else ''} {site.states().rules().clinic}"
    return {answer for answer in found if answer not in given}


def unanswered(site: Desk, case: str, source: str) -> None:
    searched = answers(site, case)
    assert len(searched) >= 5
    assert [answer for answer in sorted(searched) if answer in source] == []


def changed(site: Desk) -> None:
    """K-103 has another order: nobody has seen its plan, and nobody has checked it."""
    do(site, SignOrder("K-103", order() | {"largest_gap": "10 min"}), "aumont")


# What comes back


@pytest.mark.parametrize("case", NIGHT)
def test_the_form_of_the_check_holds_nothing_of_the_first_answer(sign_in: SignIn, site: Desk, case: str) -> None:
    unanswered(site, case, text_of(sign_in("devi").get(f"/cases/{case}/check/")))


@pytest.mark.parametrize("case", NIGHT)
def test_the_case_and_the_list_of_today_hold_nothing_of_it(sign_in: SignIn, site: Desk, case: str) -> None:
    client = sign_in("devi")
    unanswered(site, case, text_of(client.get(f"/cases/{case}/")))
    listed = [text for name in ("tr", "li") for text in look(client, "/").texts(name) if case in text]
    assert listed
    unanswered(site, case, "\n".join(listed))


@pytest.mark.parametrize("page", ["order/", "kit/", "kit/leuprolide-5mg-per-ml-vial/carton/"])
def test_the_pages_that_a_checker_reads_from_hold_nothing_of_it(sign_in: SignIn, site: Desk, page: str) -> None:
    unanswered(site, "K-103", text_of(sign_in("devi").get(K + page)))


WRONG = {
    "entered.agonist.at": "2026-11-18 20:15",
    "entered.agonist.fills[1].volume": "0.7 mL",
    "entered.agonist.fills[1].mark": "70",
    "entered.hcg.at": "2026-11-18 20:15",
    "entered.hcg.fills[1].volume": "0.5 mL",
    "entered.hcg.fills[1].mark": "50",
}


def test_a_working_that_differs_is_answered_without_it(sign_in: SignIn, site: Desk) -> None:
    changed(site)
    client = sign_in("devi")
    answer = client.post(CHECK, look(client, CHECK).form() | WRONG)
    assert "Your working differs" in text_of(answer)
    unanswered(site, "K-103", text_of(answer))
    for path in (CHECK, K, "/"):
        unanswered(site, "K-103", text_of(client.get(path)))


@pytest.mark.parametrize(
    "change",
    [
        {"entered.agonist.at": "9 pm"},
        {"entered.agonist.at": ""},
        {"entered.agonist.at": "2027-03-14 02:30"},
        {"entered.hcg.at": "2026-11-01 01:30"},
    ],
    ids=str,
)
def test_a_working_that_cannot_be_read_is_answered_without_it(
    sign_in: SignIn, site: Desk, change: dict[str, str]
) -> None:
    client = sign_in("devi")
    answer = client.post(CHECK, look(client, CHECK).form() | WRONG | change)
    assert answer.status_code == 422
    unanswered(site, "K-103", text_of(answer))


def _late(site: Desk) -> None:
    do(site, ReadKit("K-103", kit() | {"needles": []}, "seen"), "ortiz")


def _wrong_role(_: Desk) -> None:
    """The role alone is the reason."""


@pytest.mark.parametrize(("who", "beside"), [("devi", _late), ("brandt", _wrong_role)], ids=["stale", "role"])
def test_a_working_that_is_refused_is_answered_without_it(
    sign_in: SignIn, site: Desk, who: str, beside: Callable[[Desk], None]
) -> None:
    client = sign_in(who)
    form = look(client, CHECK).form() | WRONG
    beside(site)
    answer = client.post(CHECK, form)
    assert answer.status_code == 422
    unanswered(site, "K-103", text_of(answer))


def test_a_form_used_twice_is_answered_without_it(sign_in: SignIn, site: Desk) -> None:
    changed(site)
    client = sign_in("devi")
    form = look(client, CHECK).form()
    client.post(CHECK, form | WRONG)
    answer = client.post(CHECK, form | WRONG | {"entered.hcg.fills[1].mark": "60"})
    assert answer.status_code == 422
    unanswered(site, "K-103", text_of(answer))


def test_the_headers_hold_nothing_of_it_either(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("devi")
    for answer in (client.get(CHECK), client.post(CHECK, look(client, CHECK).form() | WRONG)):
        unanswered(site, "K-103", f"{dict(answer.items())} {answer.cookies} {client.cookies}")


def test_what_a_checker_could_read_the_answer_from_is_found_where_it_does_stand(sign_in: SignIn, site: Desk) -> None:
    searched = answers(site, "K-103")
    found = {answer for answer in searched if answer in text_of(sign_in("kowal").get(f"{K}call/"))}
    assert {"21:00", "0.2 mL", "mark 20", planned_of(site, "K-103").made.check_word} <= found


# Who may check


def enters(client: Client, case: str = "K-103", **change: str) -> Any:
    path = f"/cases/{case}/check/"
    right = WRONG | {
        "entered.agonist.at": "2026-11-18 21:00",
        "entered.agonist.fills[1].volume": "0.8 mL",
        "entered.agonist.fills[1].mark": "80",
        "entered.hcg.at": "2026-11-18 21:00",
        "entered.hcg.fills[1].volume": "0.2 mL",
        "entered.hcg.fills[1].mark": "20",
    }
    return client.post(path, look(client, path).form() | right | change)


LOOKS = {
    "the plan": f"{K}plan/",
    "the call": f"{K}call/",
    "the release": f"{K}release/",
    "the words of a sheet": f"{K}sheets/1/sheet.txt",
    "the sheet on paper": f"{K}sheets/1/sheet.pdf",
    "the sheet in pictures": f"{K}sheets/1/pictures.pdf",
    "the alarm": f"{K}sheets/1/calendar.ics",
    "the walk-through": f"{K}sheets/1/walk.json",
}


@pytest.mark.parametrize("path", LOOKS.values(), ids=LOOKS)
def test_whoever_has_seen_the_answer_cannot_check_it(sign_in: SignIn, site: Desk, path: str) -> None:
    client = sign_in("kowal")
    assert client.get(path).status_code == 200
    before = heads(site)
    answer = enters(client)
    assert answer.status_code == 422
    assert "checker-saw-plan" in read(answer).summary()
    assert written(site, before) == []


def test_another_browser_does_not_help(sign_in: SignIn, site: Desk) -> None:
    sign_in("kowal").get(f"{K}plan/")
    assert enters(sign_in("kowal")).status_code == 422


def test_whoever_read_the_case_alone_can_check_it(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("kowal")
    for path in ("/", K, f"{K}order/", f"{K}kit/", f"{K}details/", f"{K}call/note/", CHECK, "/slots/", "/rules/"):
        assert client.get(path).status_code == 200
    assert enters(client).status_code == 302


def test_whoever_was_not_let_in_has_seen_nothing(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("devi")
    for path in (f"{K}call/", f"{K}release/"):
        assert client.get(path).status_code == 403
    assert enters(client).status_code == 302


CHANGES: dict[str, Callable[[Desk], None]] = {
    "the order": changed,
    "the kit": lambda site: do(
        site,
        ReadKit("K-103", kit() | {"needles": [*kit()["needles"], {"gauge": 30, "length": "13 mm"}]}, "seen"),
        "ortiz",
    ),
    "the slot": lambda site: do(
        site, PlaceSlot({"id": "s3", "at": "2026-11-20 09:00", "room": "Room 2"}, "room"), "theatre"
    ),
    "the details": lambda site: do(
        site, ChangeDetails("K-103", details() | {"helper": "Her sister"}, "asked"), "ortiz"
    ),
}


@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES)
def test_after_a_change_everybody_can_check_again(sign_in: SignIn, site: Desk, change: Callable[[Desk], None]) -> None:
    client = sign_in("kowal")
    client.get(f"{K}plan/")
    change(site)
    assert enters(client).status_code == 302


def test_a_carton_that_somebody_reads_does_not_make_them_blind_again(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("kowal")
    client.get(f"{K}plan/")
    carton = CheckCarton("K-103", "hcg-10000-units", ("A. Kowal", "L. Ortiz"), "10,000 units", "10 mL", "subcutaneous")
    do(site, carton, "kowal")
    answer = enters(client)
    assert answer.status_code == 422
    assert "checker-saw-plan" in read(answer).summary()


def test_both_answers_are_kept_whatever_comes_of_it(sign_in: SignIn, site: Desk) -> None:
    changed(site)
    client = sign_in("devi")
    client.post(CHECK, look(client, CHECK).form() | WRONG)
    kept = site.states().case("K-103").check
    assert kept is not None
    assert [reading.fills for reading in kept.event.entered] == [(("0.7 mL", "70"),), (("0.5 mL", "50"),)]
    assert [reading.fills for reading in kept.event.planned] == [(("0.8 mL", "80"),), (("0.2 mL", "20"),)]
