"""Slots: placed, moved, given, freed; a whole list all at once or not at all."""

from dataclasses import replace
from typing import Any

import pytest

from hourmark.case import events as e
from hourmark.case.slots import PlaceSlot
from hourmark.desk import Desk
from hourmark.web.lists import read_list
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
    sends_to_sign_in,
    written,
)
from tests.web.seen import look, read, text_of

DAY = "2026-11-20"
PLACE = Act(
    "theatre",
    "/slots/",
    {"slot.id": "s12", "slot.at": f"{DAY} 13:15", "slot.room": "Room 3", "why": "one more"},
    (f"day/{DAY} slot-placed",),
    to="/slots/place/",
    leads_to="/slots/",
    other={"slot.at": f"{DAY} 13:30"},
)
GIVE = Act(
    "kowal",
    "/slots/",
    {"case": "K-110"},
    ("case/K-110 slot-given", f"day/{DAY} slot-assigned"),
    to=f"/slots/{DAY}/s12/give/",
    leads_to="/slots/",
    other={"case": ""},
)
FREE = Act(
    "kowal",
    "/slots/",
    {"case": ""},
    ("case/K-107 slot-taken", f"day/{DAY} slot-assigned"),
    to=f"/slots/{DAY}/s7/give/",
    leads_to="/slots/",
    other={"case": "K-107"},
)
LIST = f"id, at, room\ns12, {DAY} 13:15, Room 3\ns13, {DAY} 13:45, Room 1\n"
UPLOAD = Act("theatre", "/slots/", {"list": LIST}, (), to="/slots/list/", leads_to="/slots/")


def place(sign_in: SignIn) -> None:
    client = sign_in("theatre")
    assert client.post(PLACE.address, PLACE.form(client)).status_code == 302


def at_midday(site: Desk, slot: str) -> object:
    return site.states().day(DAY).slots[slot].slot["at"]


@pytest.mark.parametrize("who", [who for who in STAFF if who != "sorel"])
def test_everybody_sees_the_list_of_the_day_in_the_order_of_its_times(sign_in: SignIn, who: str) -> None:
    page = look(sign_in(who), "/slots/")
    times = [one.text for one in page.elements if one.name == "td" and one.has_class("figure")]
    assert times == ["08:00", "08:30", "09:00", "09:30", "10:00", "10:30", "11:00", "11:30", "11:45"]
    assert page.texts("h2")[0] == DAY


def test_another_clinic_sees_none_of_it(sign_in: SignIn) -> None:
    page = look(sign_in("stranger"), "/slots/")
    assert "No slot is on the list yet" in page.main()
    assert DAY not in page.texts("h2")


# Placed and moved


def test_a_slot_is_placed(sign_in: SignIn, site: Desk) -> None:
    does_it(sign_in, site, PLACE)
    placed = site.states().day(DAY).slots["s12"]
    assert placed == e.SlotPlaced(
        {"id": "s12", "at": f"{DAY} 13:15", "room": "Room 3"}, "2026-11-20T19:15:00Z", "one more"
    )


def test_a_slot_that_moves_takes_its_case_along_and_voids_her_page(sign_in: SignIn, site: Desk) -> None:
    act = replace(
        PLACE,
        typed={"slot.id": "s3", "slot.at": f"{DAY} 09:15", "slot.room": "Room 1", "why": "a longer case before"},
        writes=("case/K-103 sheet-voided", "case/K-103 slot-given", f"day/{DAY} slot-placed"),
    )
    client = does_it(sign_in, site, act)
    assert "s3 was moved: a longer case before" in look(sign_in("kowal"), "/cases/K-103/").main()
    assert "09:15" in look(client, "/slots/").main()


@pytest.mark.parametrize(
    ("name", "value", "says"),
    [
        ("slot.id", "", "missing"),
        ("slot.id", "s 12", "s 12"),
        ("slot.at", "", "missing"),
        ("slot.at", "9 pm", "is not a date and clock time"),
        ("slot.at", "2026-11-31 09:00", "2026-11-31"),
        ("slot.which", "third", "is not one of the words"),
    ],
)
def test_an_error_stands_beside_its_field(sign_in: SignIn, site: Desk, name: str, value: str, says: str) -> None:
    marks(sign_in, site, PLACE, name, value, says)


def test_an_hour_that_the_clocks_leave_out_is_refused_and_an_hour_that_is_there_twice_is_asked_for(
    sign_in: SignIn, site: Desk
) -> None:
    page = refuses(sign_in, site, PLACE, slot__at="2027-03-14 02:30")
    assert "time-skipped" in page.summary()
    twice = refuses(sign_in, site, PLACE, slot__at="2026-11-01 01:30")
    assert "time-repeated" in twice.summary()
    does_it(
        sign_in,
        site,
        replace(
            PLACE,
            typed={**PLACE.typed, "slot.at": "2026-11-01 01:30", "slot.which": "second"},
            writes=("day/2026-11-01 slot-placed",),
        ),
    )


def test_a_slot_that_stands_there_just_so_is_not_placed_again(sign_in: SignIn, site: Desk) -> None:
    act = replace(PLACE, typed={"slot.id": "s3", "slot.at": f"{DAY} 09:00", "slot.room": "Room 1"})
    page = refuses(sign_in, site, act)
    assert "nothing-changed" in page.summary()
    keeps(page, act.typed)


def test_a_slot_before_the_rules_are_signed_is_refused_in_words(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("stranger")
    answer = client.post(PLACE.address, look(client, "/slots/").form(PLACE.address) | dict(PLACE.typed))
    assert answer.status_code == 422
    page = read(answer)
    assert "rules" in page.summary()
    keeps(page, PLACE.typed)


def test_a_slot_that_moves_stays_of_its_kind(sign_in: SignIn, site: Desk) -> None:
    with_kind = {"slot.id": "s12", "slot.at": f"{DAY} 13:15", "slot.room": "Room 3", "slot.kind": "insemination"}
    does_it(sign_in, site, replace(PLACE, typed=with_kind))
    does_it(sign_in, site, replace(PLACE, typed={"slot.id": "s12", "slot.at": f"{DAY} 14:15"}))
    assert site.states().day(DAY).slots["s12"].slot == {"id": "s12", "at": f"{DAY} 14:15", "kind": "insemination"}
    does_it(
        sign_in, site, replace(PLACE, typed={"slot.id": "s12", "slot.at": f"{DAY} 14:15", "slot.kind": "retrieval"})
    )
    assert site.states().day(DAY).slots["s12"].slot["kind"] == "retrieval"


def test_a_slot_that_is_to_be_moved_stands_in_the_form_as_it_is(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("theatre")
    assert f"/slots/?day={DAY}&move=s3#place" in look(client, "/slots/").links()
    form = look(client, f"/slots/?day={DAY}&move=s3").form(PLACE.address)
    assert (form["slot.id"], form["slot.at"], form["slot.room"]) == ("s3", f"{DAY} 09:00", "Room 1")
    for elsewhere in ("?day=2026-11-21&move=s3", "?day=x&move=s3", f"?day={DAY}&move=s99"):
        assert look(client, f"/slots/{elsewhere}").form(PLACE.address)["slot.id"] == ""


@pytest.mark.parametrize("who", ["devi", "brandt"])
def test_whoever_only_reads_the_list_is_shown_no_form(sign_in: SignIn, who: str) -> None:
    page = look(sign_in(who), "/slots/")
    assert [form.action for form in page.forms] == ["/accounts/logout/"]
    assert "K-103" in page.main()


# Given and freed


def test_a_slot_is_given_to_a_case(sign_in: SignIn, site: Desk) -> None:
    place(sign_in)
    does_it(sign_in, site, GIVE)
    given = site.states().case("K-110").slot
    assert given is not None
    assert (given.slot["id"], given.instant) == ("s12", "2026-11-20T19:15:00Z")


def test_a_slot_is_freed_and_the_page_that_rested_on_it_is_void(sign_in: SignIn, site: Desk) -> None:
    does_it(sign_in, site, FREE)
    assert site.states().case("K-107").slot is None
    released = replace(
        FREE,
        to=f"/slots/{DAY}/s3/give/",
        writes=("case/K-103 sheet-voided", "case/K-103 slot-taken", f"day/{DAY} slot-assigned"),
    )
    does_it(sign_in, site, released)


def test_a_slot_that_is_somebody_elses_is_not_given(sign_in: SignIn, site: Desk) -> None:
    page = refuses(sign_in, site, replace(FREE, typed={"case": "K-110"}))
    assert "slot-taken" in page.summary()
    assert "belongs to case K-107" in page.summary()


def test_a_slot_that_was_given_meanwhile_is_not_taken_away_by_an_old_page(sign_in: SignIn, site: Desk) -> None:
    place(sign_in)
    late, early = sign_in("ortiz"), sign_in("kowal")
    old = replace(GIVE, who="ortiz", typed={"case": ""}).form(late)
    assert early.post(GIVE.address, GIVE.form(early)).status_code == 302
    before = heads(site)
    answer = late.post(GIVE.address, old)
    assert answer.status_code == 422
    assert heads(site) == before


@pytest.mark.parametrize(
    ("path", "case", "code"),
    [
        (f"/slots/{DAY}/s99/give/", "K-110", "slot-unknown"),
        ("/slots/someday/s1/give/", "K-110", "slot-unknown"),
        (f"/slots/{DAY}/s7/give/", "K-999", "case-unknown"),
        (f"/slots/{DAY}/s7/give/", "X-1", "case-unknown"),
        (f"/slots/{DAY}/s99/give/", "", "slot-unknown"),
    ],
)
def test_what_is_not_there_is_not_given(sign_in: SignIn, site: Desk, path: str, case: str, code: str) -> None:
    before = heads(site)
    seen = str(before.get(f"day/{path.split('/')[2]}", 0))
    answer = sign_in("kowal").post(path, {"key": "one", "seen": seen, "case": case})
    assert answer.status_code == 422
    assert code in read(answer).summary()
    assert heads(site) == before


# A whole list


def test_a_list_is_shown_before_anything_is_recorded(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("theatre")
    before = heads(site)
    answer = client.post(UPLOAD.address, UPLOAD.form(client))
    assert answer.status_code == 200
    page = read(answer)
    assert "Record all 2 slots" in page.main()
    assert page.texts("td")[:4] == ["s12", f"{DAY} 13:15", "", "Room 3"]
    assert heads(site) == before


def test_a_list_is_recorded_whole_once_it_was_seen(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("theatre")
    shown = read(client.post(UPLOAD.address, UPLOAD.form(client)))
    before = heads(site)
    answer = client.post(UPLOAD.address, shown.form(UPLOAD.address))
    assert (answer.status_code, answer["Location"]) == (302, "/slots/")
    assert written(site, before) == [f"day/{DAY} slot-placed"] * 2
    assert "2 slots are placed or moved; 0 stood there just so" in look(client, "/slots/").main()
    again = client.post(UPLOAD.address, shown.form(UPLOAD.address))
    assert again.status_code == 302
    assert len(written(site, before)) == 2


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "There is no slot in this list"),
        ("id,at,room\n", "There is no slot in this list"),
        ("nonsense", "There is no slot in this list"),
        (f"{LIST}s14, 9 pm, Room 1\n", "line 4"),
        (f"{LIST}, {DAY} 14:00, Room 1\n", "line 4"),
        (f"id,at,room,at\ns12,{DAY} 13:15,Room 3,{DAY} 14:15\n", 'The first line names "at" twice'),
        (f"id,at,colour\ns12,{DAY} 13:15,red\n", "colour"),
        (f"{LIST}s14, {DAY} 14:00, Room 1, and more\n", "line 4"),
    ],
)
def test_a_list_with_a_problem_is_shown_with_it_and_nothing_is_recorded(
    sign_in: SignIn, site: Desk, text: str, says: str
) -> None:
    for sure in ("", read_list(text).digest):
        client = sign_in("theatre")
        before = heads(site)
        answer = client.post(UPLOAD.address, UPLOAD.form(client) | {"list": text, "sure": sure})
        assert answer.status_code == 422
        page = read(answer)
        assert says in page.summary()
        assert ("list-empty" in page.summary()) == ("no slot" in says)
        assert page.shown("list") == text
        assert heads(site) == before


@pytest.mark.parametrize(
    "row",
    [
        "s14, 2027-03-14 02:30, Room 1",
        "s14, 2026-11-01 01:30, Room 1",
        f"s12, {DAY} 15:00, Room 2",
        "S12, {DAY} 15:00, Room 2",
    ],
    ids=["no such hour", "twice that hour", "the same slot twice", "the same slot in capitals"],
)
def test_a_list_of_which_one_line_cannot_be_recorded_is_not_recorded_in_part(
    sign_in: SignIn, site: Desk, row: str
) -> None:
    client = sign_in("theatre")
    before = heads(site)
    text = LIST + row.replace("{DAY}", DAY) + "\n"
    answer = client.post(UPLOAD.address, UPLOAD.form(client) | {"list": text, "sure": read_list(text).digest})
    assert answer.status_code == 422
    assert "line 4" in read(answer).summary()
    assert heads(site) == before


def test_a_list_moves_what_stands_elsewhere_and_leaves_what_stands_just_so(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("theatre")
    before = heads(site)
    text = f"id,at,room\ns3,{DAY} 09:05,Room 1\ns4,{DAY} 09:30,Room 2\n"
    assert (
        client.post(UPLOAD.address, UPLOAD.form(client) | {"list": text, "sure": read_list(text).digest}).status_code
        == 302
    )
    assert written(site, before) == ["case/K-103 slot-given", "case/K-103 sheet-voided", f"day/{DAY} slot-placed"]
    assert "1 slots are placed or moved; 1 stood there just so" in look(client, "/slots/").main()


def test_a_list_is_never_read_as_a_page(sign_in: SignIn) -> None:
    client = sign_in("theatre")
    text = f"id,at,room\ns12,{DAY} 13:15,<script>alert(1)</script>\n"
    assert "<script>alert" not in text_of(client.post(UPLOAD.address, UPLOAD.form(client) | {"list": text}))


def test_a_list_is_one_act(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("theatre")
    shown = read(client.post(UPLOAD.address, UPLOAD.form(client)))
    before = heads(site)
    assert client.post(UPLOAD.address, shown.form(UPLOAD.address)).status_code == 302
    assert acts_since(site, before) == 1


def test_a_list_changed_after_it_was_shown_is_shown_again_and_not_recorded(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("theatre")
    shown = read(client.post(UPLOAD.address, UPLOAD.form(client)))
    before = heads(site)
    other = LIST.replace("13:15", "13:20")
    answer = client.post(UPLOAD.address, shown.form(UPLOAD.address) | {"list": other})
    assert answer.status_code == 422
    page = read(answer)
    assert "this is not the list that was shown" in page.main()
    assert heads(site) == before
    assert client.post(UPLOAD.address, page.form(UPLOAD.address)).status_code == 302


def test_a_list_looked_at_before_somebody_moved_a_slot_is_not_recorded_over_it(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("theatre")
    text = f"id,at,room\ns3,{DAY} 09:05,Room 1\ns12,{DAY} 13:15,Room 2\n"
    shown = read(client.post(UPLOAD.address, UPLOAD.form(client) | {"list": text}))
    do(site, PlaceSlot({"id": "s3", "at": f"{DAY} 10:05", "room": "Room 1"}, "she is late"), "kowal")
    before = heads(site)
    answer = client.post(UPLOAD.address, shown.form(UPLOAD.address))
    assert answer.status_code == 422
    page = read(answer)
    assert "Somebody else was faster" in page.summary()
    assert page.shown("list") == text
    assert heads(site) == before
    assert client.post(UPLOAD.address, page.form(UPLOAD.address)).status_code == 302
    assert at_midday(site, "s3") == f"{DAY} 09:05"


def test_a_list_whose_form_was_used_does_nothing_else(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("theatre")
    form = UPLOAD.form(client) | {"list": LIST, "sure": read_list(LIST).digest}
    assert client.post(UPLOAD.address, form).status_code == 302
    before = heads(site)
    other = LIST.replace("13:15", "13:20")
    answer = client.post(UPLOAD.address, form | {"list": other, "sure": read_list(other).digest})
    assert answer.status_code == 422
    assert "form-used" in read(answer).summary()
    assert heads(site) == before


def test_a_list_that_stands_there_just_so_is_no_change(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("theatre")
    before = heads(site)
    text = f"id,at,room\ns4,{DAY} 09:30,Room 2\n"
    answer = client.post(UPLOAD.address, UPLOAD.form(client) | {"list": text, "sure": read_list(text).digest})
    assert answer.status_code == 422
    assert "nothing-changed" in read(answer).summary()
    assert heads(site) == before


# Late, doubled, changed


@pytest.mark.parametrize("act", [PLACE, FREE], ids=["placed", "freed"])
def test_it_is_recorded_one_time_however_often_the_form_is_sent(sign_in: SignIn, site: Desk, act: Act) -> None:
    is_done_once(sign_in, site, act)


@pytest.mark.parametrize("act", [PLACE, FREE], ids=["placed", "freed"])
def test_a_form_that_was_used_does_nothing_else(sign_in: SignIn, site: Desk, act: Act) -> None:
    refuses_a_used_key(sign_in, site, act)


@pytest.mark.parametrize("who", ["devi", "brandt"])
def test_slots_are_written_by_theatre_nurse_and_prescriber_alone(sign_in: SignIn, site: Desk, who: str) -> None:
    for path in (PLACE.address, GIVE.address, UPLOAD.address):
        is_not_for(sign_in, site, who, path, "POST")


def test_nobody_comes_in_without_signing_in(client_of_nobody: Any) -> None:
    for path in ("/slots/", PLACE.address, GIVE.address, UPLOAD.address):
        sends_to_sign_in(client_of_nobody, path, "GET", "POST")


def test_other_methods_are_refused(sign_in: SignIn) -> None:
    client = sign_in("theatre")
    knows_only(client, "/slots/", "GET")
    for path in (PLACE.address, GIVE.address, UPLOAD.address):
        knows_only(client, path, "POST")
