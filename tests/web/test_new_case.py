"""A case opened: on the record under its id, and who she is apart from it."""

from dataclasses import replace
from typing import Any

import pytest
from django.db import OperationalError

from hourmark.desk import Desk
from hourmark.ledger import Entry
from hourmark.web.models import Person
from tests.web.conftest import CLINIC
from tests.web.manners import (
    Act,
    SignIn,
    does_it,
    entries_since,
    heads,
    is_done_once,
    is_not_for,
    keeps,
    knows_only,
    marks,
    refuses,
    refuses_a_used_key,
    sends_to_sign_in,
)
from tests.web.seen import look, read

NAME, PHONE, BORN = "Marigold Fenwick", "+1 555 0142", "1991-04-30"
OPEN = Act(
    "kowal",
    "/cases/new/",
    {
        "case": "K-201",
        "person.name": NAME,
        "person.initials": "M. F.",
        "person.born": BORN,
        "person.phones": PHONE,
        "details.zone": "America/Chicago",
        "details.language": "en",
        "details.allergies": "latex",
    },
    ("case/K-201 case-opened", "roll case-listed"),
    leads_to="/cases/K-201/",
    other={"case": "K-202"},
)


def test_a_case_is_opened_with_what_was_typed(sign_in: SignIn, site: Desk) -> None:
    client = does_it(sign_in, site, OPEN)
    case = site.states().case("K-201")
    assert case.details == {"zone": "America/Chicago", "language": "en", "allergies": ["latex"]}
    page = look(client, "/cases/K-201/")
    assert "Case K-201, M. F." in page.main()
    assert "Owed next: an order" in page.main()
    assert "/cases/K-201/" in look(client, "/").links()


def test_who_she_is_stands_beside_the_record_and_never_in_it(sign_in: SignIn, site: Desk) -> None:
    before = heads(site)
    does_it(sign_in, site, OPEN)
    person = Person.objects.get(clinic=CLINIC, case="K-201")
    assert (person.name, person.initials, person.born, person.phones) == (NAME, "M. F.", BORN, PHONE)
    for entry in entries_since(site, before):
        assert not _tells(entry, NAME, PHONE, BORN, "Marigold", "M. F.")


def _tells(entry: Entry, *words: str) -> bool:
    return any(word.encode() in (entry.body or b"") + entry.header for word in words)


def test_the_form_begins_with_the_clinics_own_zone(sign_in: SignIn) -> None:
    assert look(sign_in("kowal"), "/cases/new/").shown("details.zone") == "America/Chicago"


def test_a_prescriber_opens_one_as_well(sign_in: SignIn, site: Desk) -> None:
    does_it(sign_in, site, replace(OPEN, who="aumont"))


@pytest.mark.parametrize("name", ["case", "person.name", "person.initials", "person.born"])
@pytest.mark.parametrize("value", ["", "  "])
def test_what_is_missing_is_asked_for_at_its_field(sign_in: SignIn, site: Desk, name: str, value: str) -> None:
    marks(sign_in, site, OPEN, name, value, "Enter")
    assert not Person.objects.filter(case="K-201").exists()


@pytest.mark.parametrize(
    ("name", "value", "says"),
    [
        ("details.zone", "Chicago", "is not an Area/City name"),
        ("details.zone", "", "missing"),
        ("details.language", "fr", "is not one of the words"),
        ("details.follicles", "many", "is not a count"),
        ("details.last_antagonist.at", "breakfast", "is not a date and clock time"),
    ],
)
def test_an_error_stands_beside_its_field(sign_in: SignIn, site: Desk, name: str, value: str, says: str) -> None:
    marks(sign_in, site, OPEN, name, value, says)
    assert not Person.objects.filter(case="K-201").exists()


@pytest.mark.parametrize("case", ["K 201", "K/201", "../K-201", "K-201?", "Ž-1", "x" * 33, NAME])
def test_an_id_that_no_address_can_hold_is_none(sign_in: SignIn, site: Desk, case: str) -> None:
    page = refuses(sign_in, site, replace(OPEN, typed={**OPEN.typed, "case": case}))
    assert page.marked() == ["case"]
    assert "hyphens" in page.wrong_at("case")
    assert sign_in("kowal").get("/").status_code == 200


@pytest.mark.parametrize("born", ["yesterday", "30.4.1991", "1991-02-30", "04/30/1991", "2091-04-30"])
def test_a_date_of_birth_is_a_date(sign_in: SignIn, site: Desk, born: str) -> None:
    marks(sign_in, site, OPEN, "person.born", born, "1991-04-30")


def test_initials_are_short(sign_in: SignIn, site: Desk) -> None:
    marks(sign_in, site, OPEN, "person.initials", NAME, "initials")


def test_an_id_is_given_one_time(sign_in: SignIn, site: Desk) -> None:
    page = refuses(sign_in, site, replace(OPEN, typed={**OPEN.typed, "case": "K-103"}))
    assert "case-there" in page.summary()
    keeps(page, {**OPEN.typed, "case": "K-103"})
    assert Person.objects.get(clinic=CLINIC, case="K-103").name != NAME


def test_two_clinics_may_give_the_same_id(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("stranger")
    form = look(client, "/cases/new/").form() | dict(OPEN.typed) | {"case": "K-103"}
    answer = client.post("/cases/new/", form)
    assert (answer.status_code, answer["Location"]) == (302, "/cases/K-103/")
    assert Person.objects.get(clinic=CLINIC, case="K-103").name != NAME
    assert NAME not in look(sign_in("kowal"), "/cases/K-103/call/").source


def test_it_is_opened_one_time_however_often_the_form_is_sent(sign_in: SignIn, site: Desk) -> None:
    is_done_once(sign_in, site, OPEN)
    assert Person.objects.filter(clinic=CLINIC, case="K-201").count() == 1


def test_a_form_that_opened_a_case_opens_no_other(sign_in: SignIn, site: Desk) -> None:
    refuses_a_used_key(sign_in, site, OPEN)
    assert not Person.objects.filter(case="K-202").exists()


@pytest.mark.parametrize("who", ["devi", "brandt", "theatre"])
def test_cases_are_opened_by_nurse_and_prescriber_alone(sign_in: SignIn, site: Desk, who: str) -> None:
    is_not_for(sign_in, site, who, "/cases/new/", "GET", "POST")


def test_nobody_comes_in_without_signing_in(client_of_nobody: Any) -> None:
    sends_to_sign_in(client_of_nobody, "/cases/new/", "GET", "POST")


def test_other_methods_are_refused(sign_in: SignIn) -> None:
    knows_only(sign_in("kowal"), "/cases/new/", "GET", "POST")


def test_what_was_typed_is_never_read_as_a_page(sign_in: SignIn, site: Desk) -> None:
    hostile = '"><script>alert(1)</script>'
    client = sign_in("kowal")
    form = look(client, "/cases/new/").form() | dict(OPEN.typed) | {"person.name": hostile, "details.zone": hostile}
    page = read(client.post("/cases/new/", form))
    assert "<script>alert" not in page.source
    assert page.shown("person.name") == hostile


# Both, or neither


def test_a_case_whose_person_cannot_be_saved_is_not_opened_and_what_was_typed_is_shown(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    client = sign_in("kowal")
    form = OPEN.form(client)
    before = heads(site)

    def full(*_: Any, **__: Any) -> None:
        raise OperationalError("database or disk is full")

    with monkeypatch.context() as broken:
        broken.setattr(Person.objects, "update_or_create", full)
        answer = client.post("/cases/new/", form)
    assert answer.status_code == 503
    page = read(answer)
    assert "Nothing was recorded" in page.main()
    assert NAME in page.main()
    assert heads(site) == before
    assert not Person.objects.filter(case="K-201").exists()
    assert client.post("/cases/new/", form).status_code == 302
    assert Person.objects.get(case="K-201").name == NAME


def test_an_act_that_is_refused_saves_nobody(sign_in: SignIn, site: Desk) -> None:
    refuses(sign_in, site, replace(OPEN, typed={**OPEN.typed, "case": "K-110"}))
    assert not Person.objects.filter(case="K-110").exists()
