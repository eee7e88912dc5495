"""The note of a call: who rang, what was said in her own words, what was answered."""

from dataclasses import replace
from typing import Any

import pytest

from hourmark.case.opening import CloseCase
from hourmark.desk import Desk
from tests.web.manners import (
    Act,
    SignIn,
    do,
    does_it,
    hides_from_strangers,
    is_done_once,
    is_not_for,
    knows_only,
    refuses,
    refuses_a_used_key,
    sends_to_sign_in,
)
from tests.web.seen import look

K = "/cases/K-107/"
TYPED = {
    "caller": "she herself, from work",
    "number": "+1 555 0107",
    "received": "“is it one spray\nin each side?”",
    "advice": "that her page says so, step 4",
    "referred_to": "nobody",
    "follow_up": "none",
}
NOTE = Act("kowal", f"{K}call/note/", TYPED, ("case/K-107 call-noted",), leads_to=K, other={"advice": "to wait"})


def test_a_note_is_kept_word_for_word(sign_in: SignIn, site: Desk) -> None:
    client = does_it(sign_in, site, NOTE)
    (kept,) = site.states().case("K-107").notes
    event = kept.event
    assert (event.caller, event.number, event.received.replace("\r\n", "\n")) == (
        TYPED["caller"],
        TYPED["number"],
        TYPED["received"],
    )
    assert (event.advice, event.referred_to, event.follow_up) == (TYPED["advice"], "nobody", "none")
    assert "call noted: she herself, from work" in look(client, K).main()


def test_the_case_leads_to_it(sign_in: SignIn) -> None:
    assert NOTE.page in look(sign_in("kowal"), K).links()


def test_a_note_can_be_written_on_a_closed_case_too(sign_in: SignIn, site: Desk) -> None:
    do(site, CloseCase("K-107", "the cycle is over"), "ortiz")
    does_it(sign_in, site, NOTE)


def test_a_note_says_who_rang_and_what_was_said(sign_in: SignIn, site: Desk) -> None:
    page = refuses(sign_in, site, replace(NOTE, typed=dict.fromkeys(TYPED, " ")))
    assert {"caller", "received"} <= set(page.marked())


def test_whoever_writes_a_note_has_not_seen_the_plan_by_it(sign_in: SignIn, site: Desk) -> None:
    does_it(sign_in, site, NOTE)
    assert "A. Kowal" not in site.states().case("K-107").opened_by


def test_it_is_recorded_one_time_however_often_the_form_is_sent(sign_in: SignIn, site: Desk) -> None:
    is_done_once(sign_in, site, NOTE)


def test_a_form_that_recorded_a_note_records_no_other(sign_in: SignIn, site: Desk) -> None:
    refuses_a_used_key(sign_in, site, NOTE)


@pytest.mark.parametrize("who", ["devi", "brandt"])
def test_notes_are_written_by_nurse_and_prescriber_alone(sign_in: SignIn, site: Desk, who: str) -> None:
    is_not_for(sign_in, site, who, NOTE.page, "GET", "POST")


def test_another_clinic_writes_no_note_here(sign_in: SignIn, site: Desk) -> None:
    hides_from_strangers(sign_in, site, NOTE.page, "GET", "POST")


def test_nobody_comes_in_without_signing_in(client_of_nobody: Any) -> None:
    sends_to_sign_in(client_of_nobody, NOTE.page, "GET", "POST")


def test_other_methods_are_refused(sign_in: SignIn) -> None:
    knows_only(sign_in("kowal"), NOTE.page, "GET", "POST")
