"""Who she is, corrected beside the record; and what she allows, which is on it."""

from dataclasses import replace
from typing import Any

import pytest

from hourmark.case import events as e
from hourmark.case.opening import CloseCase
from hourmark.desk import Desk
from hourmark.web.models import Look, Person
from tests.web.conftest import CLINIC, NOW, SECRET_NAME, SECRET_PHONE
from tests.web.manners import (
    RANG,
    Act,
    SignIn,
    do,
    does_it,
    heads,
    hides_from_strangers,
    is_done_once,
    is_not_for,
    keeps,
    knows_only,
    marks,
    refuses,
    refuses_a_used_key,
    refuses_what_is_stale,
    sends_to_sign_in,
    somebody_rings,
)
from tests.web.seen import look, read

K, ALLOWED = "/cases/K-103/who/", "/cases/K-103/allowed/"
SHE = {
    "person.name": "Zinnia Quartermaine",
    "person.initials": "Z. Q.",
    "person.born": "1993-04-12",
    "person.phones": "+1 555 0177\n+1 555 0178",
    "person.mail": "zinnia@example.org",
}
CORRECTS = Act("kowal", K, SHE, (), leads_to="/cases/K-103/")
ALLOWS = Act(
    "kowal",
    ALLOWED,
    {"may_be_told": "her partner", "message": "true", "how": "said on the telephone"},
    ("case/K-103 permissions-set",),
    leads_to="/cases/K-103/",
    other={"how": "on paper"},
)


def person() -> Person:
    return Person.objects.get(clinic=CLINIC, case="K-103")


def sent(sign_in: SignIn, act: Act) -> Any:
    client = sign_in(act.who)
    return client.post(act.address, act.form(client))


# Who she is


def test_it_stands_there_as_it_is_known(sign_in: SignIn) -> None:
    form = look(sign_in("kowal"), K).form()
    assert (form["person.name"], form["person.phones"], form["person.mail"]) == (SECRET_NAME, SECRET_PHONE, "")


def test_a_correction_is_kept_beside_the_record_with_who_made_it_and_what_it_was_about(
    sign_in: SignIn, site: Desk
) -> None:
    before = heads(site)
    answer = sent(sign_in, CORRECTS)
    assert (answer.status_code, answer["Location"]) == (302, "/cases/K-103/")
    assert heads(site) == before
    assert {f"person.{part}": getattr(person(), part) for part in ("name", "initials", "born", "phones", "mail")} == SHE
    kept = Look.objects.filter(case="K-103", page__startswith="who: ")
    assert [(one.member.name, one.at, one.page) for one in kept] == [
        ("A. Kowal", NOW, "who: name, born, phones, mail changed")
    ]
    assert not [one for one in Look.objects.all() if "Zinnia" in one.page + one.reason]
    assert "1993-04-12" in look(sign_in("kowal"), "/cases/K-103/call/").main()


def test_somebody_who_was_never_entered_is_entered(sign_in: SignIn, site: Desk) -> None:
    act = replace(CORRECTS, page="/cases/K-107/who/", leads_to="/cases/K-107/")
    assert sent(sign_in, act).status_code == 302
    assert Person.objects.get(clinic=CLINIC, case="K-107").name == SHE["person.name"]


@pytest.mark.parametrize(
    ("name", "value", "says"),
    [
        ("person.name", " ", "Enter a name"),
        ("person.name", "x" * 201, "at most 200"),
        ("person.initials", "", "Enter initials"),
        ("person.initials", "Zinnia Q.", "initials alone"),
        ("person.born", "2093-04-12", "1991-04-30"),
        ("person.born", "12.4.1993", "1991-04-30"),
        ("person.mail", "zinnia", "name@example.org"),
        ("person.mail", "a@example.org\nBcc: b@example.org", "name@example.org"),
        ("person.mail", "a@example.org, b@example.org", "name@example.org"),
    ],
)
def test_an_error_stands_beside_its_field(sign_in: SignIn, site: Desk, name: str, value: str, says: str) -> None:
    client = sign_in("kowal")
    answer = client.post(K, CORRECTS.form(client) | {name: value})
    assert answer.status_code == 422
    page = read(answer)
    assert says in page.wrong_at(name)
    assert [one.attributes["href"] for one in page.elements if one.has_class("to-field")] == [f"#{name}"]
    assert person().name == SECRET_NAME


def test_what_somebody_else_corrected_meanwhile_is_told_and_not_undone(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("kowal")
    form = CORRECTS.form(client)
    sent(sign_in, replace(CORRECTS, who="ortiz", typed={"person.phones": "+1 555 0199"}))
    answer = client.post(K, form)
    assert answer.status_code == 422
    page = read(answer)
    assert "person-changed" in page.summary()
    assert "+1 555 0199" in page.summary()
    keeps(page, SHE)
    assert person().phones == "+1 555 0199"
    assert client.post(K, page.form() | SHE).status_code == 302
    assert person().phones == SHE["person.phones"]


def test_the_same_correction_sent_twice_is_made_once(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("kowal")
    form = CORRECTS.form(client)
    assert [client.post(K, form).status_code for _ in range(2)] == [302, 302]
    assert Look.objects.filter(page__startswith="who: ").count() == 1


def test_she_can_be_corrected_after_the_case_is_closed(sign_in: SignIn, site: Desk) -> None:
    do(site, CloseCase("K-110", "she withdrew"), "kowal")
    act = replace(CORRECTS, page="/cases/K-110/who/", leads_to="/cases/K-110/")
    assert sent(sign_in, act).status_code == 302


# What she allows


def test_what_she_allows_goes_on_the_record_and_no_page_rests_on_it(sign_in: SignIn, site: Desk) -> None:
    assert site.states().case("K-103").sheet is not None
    client = does_it(sign_in, site, ALLOWS)
    state = site.states().case("K-103")
    assert state.permissions == e.PermissionsSet("her partner", False, True, "said on the telephone")
    assert state.sheet is not None
    assert "she allows: mail; may be told: her partner" in look(client, "/cases/K-103/").main()
    form = look(client, ALLOWED).form()
    assert (form["may_be_told"], form.get("message"), form.get("voicemail"), form["how"]) == (
        "her partner",
        "true",
        None,
        "",
    )


def test_the_call_says_what_she_allows_and_that_nothing_is_allowed_before(sign_in: SignIn, site: Desk) -> None:
    before = look(sign_in("kowal"), "/cases/K-107/call/").main()
    assert "She was not asked yet what she allows: no voicemail, and nobody else is told" in before
    does_it(
        sign_in,
        site,
        replace(ALLOWS, page="/cases/K-107/allowed/", writes=("case/K-107 permissions-set",), leads_to="/cases/K-107/"),
    )
    after = look(sign_in("kowal"), "/cases/K-107/call/").main()
    assert "May be told as well: her partner. Voicemail: none." in after


def test_how_she_said_so_is_asked_for(sign_in: SignIn, site: Desk) -> None:
    marks(sign_in, site, ALLOWS, "how", " ", "how she said so")


def test_allowing_the_same_once_more_is_no_change(sign_in: SignIn, site: Desk) -> None:
    does_it(sign_in, site, ALLOWS)
    assert "nothing-changed" in refuses(sign_in, site, ALLOWS).summary()


def test_it_is_recorded_one_time_however_often_the_form_is_sent(sign_in: SignIn, site: Desk) -> None:
    is_done_once(sign_in, site, ALLOWS)


def test_a_form_that_was_used_does_nothing_else(sign_in: SignIn, site: Desk) -> None:
    refuses_a_used_key(sign_in, site, ALLOWS)


def test_what_changed_meanwhile_is_told(sign_in: SignIn, site: Desk) -> None:
    refuses_what_is_stale(sign_in, site, ALLOWS, somebody_rings(site, "K-103"), RANG)


# Who may come


@pytest.mark.parametrize("path", [K, ALLOWED])
@pytest.mark.parametrize("who", ["devi", "brandt"])
def test_nurse_and_prescriber_alone(sign_in: SignIn, site: Desk, who: str, path: str) -> None:
    is_not_for(sign_in, site, who, path, "GET", "POST")


@pytest.mark.parametrize("path", [K, ALLOWED])
def test_nobody_from_outside(sign_in: SignIn, site: Desk, client_of_nobody: Any, path: str) -> None:
    hides_from_strangers(sign_in, site, path, "GET", "POST")
    sends_to_sign_in(client_of_nobody, path, "GET", "POST")
    knows_only(sign_in("kowal"), path, "GET", "POST")
