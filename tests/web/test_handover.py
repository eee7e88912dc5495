"""The end of the night: handed over by two people; and the list for theatre, embryology and anaesthesia, by number, by initials alone."""

from typing import Any

import pytest
from django.test import Client

from hourmark.case import events as e
from hourmark.case.handover import HandOver, ListMorning
from hourmark.case.morning import FIXED_WORDS
from hourmark.case.night import NONE, Confirm, Escalate, NoteIncident
from hourmark.case.opening import CloseCase, OpenCase
from hourmark.case.slots import FreeSlot, PlaceSlot
from hourmark.desk import Desk
from hourmark.web import work
from hourmark.web.pages.phone_said import _NAMES
from tests.web.conftest import NOW, SECRET_NAME
from tests.web.manners import (
    Act,
    SignIn,
    do,
    does_it,
    heads,
    is_done_once,
    is_not_for,
    knows_only,
    refuses,
    refuses_what_is_stale,
    sends_to_sign_in,
    written,
)
from tests.web.seen import look, text_of

DAY, NIGHT = "2026-11-20", "2026-11-18"
END = "2026-11-19T05:45:00Z"
"""23:45 at the clinic."""
OVER = Act(
    "kowal",
    "/handover/",
    {"to": "L. Ortiz", "note": "K-108 has no car"},
    (f"day/{NIGHT} handed-over",),
    leads_to="/handover/",
    other={"note": "nothing"},
)
LIST = Act("kowal", "/morning/", {}, (f"day/{DAY} morning-listed",), leads_to=f"/morning/{DAY}/1/")


@pytest.fixture(autouse=True)
def night(site: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """It is a quarter to midnight at the clinic."""
    monkeypatch.setattr(work, "instant", lambda: END)


def report(site: Desk, injection: str, reported: str, **more: Any) -> None:
    said = ("America/Chicago", "she herself", "the clock on her phone", more.pop("amount", "all"), "nothing")
    do(site, Confirm("K-103", injection, reported, *said, **more), "kowal", "2026-11-19T05:00:00Z")


def waiting(site: Desk, day: str = NIGHT) -> Act:
    """A handover to L. Ortiz that waits for her signature, as its form stands on the page."""
    (entry,) = site.states().day(day).handovers
    typed: dict[str, str] = {"entry": str(entry), "day": day}
    return Act("ortiz", "/handover/", typed, (f"day/{day} handover-taken",), to="/handover/take/", leads_to="/night/")


def its_now(monkeypatch: pytest.MonkeyPatch, at: str) -> None:
    monkeypatch.setattr(work, "instant", lambda: at)


def close_all(site: Desk) -> None:
    """Every report is in, and nobody's case is open any more."""
    for case in site.states().open_cases():
        ordered: Any = case.order.event.order["injections"] if case.order is not None else []
        for one in ordered:
            said = ("America/Chicago", "she herself", "the clock on her phone", "all", "nothing")
            do(site, Confirm(case.id, one["id"], "2026-11-18 23:40", *said), "kowal", END)
        do(site, CloseCase(case.id, "it is over"), "kowal", END)
    assert site.states().open_cases() == ()


# Handover


def test_the_night_is_handed_over_with_everything_that_is_open(sign_in: SignIn, site: Desk) -> None:
    report(site, "agonist", "2026-11-18 21:01")
    do(site, Escalate("K-103", "hcg", "her second number", "silence", "she rings back"), "kowal", END)
    page = look(sign_in("kowal"), "/handover/").main()
    assert "Handover of the night of Wednesday 18 November into Thursday" in page
    assert (
        "K-103, Z. Q.: chorionic gonadotropin 1,000 units (2 of 2); unknown since Wed 18 Nov 21:00; 1 of 2 given"
        in page
    )
    assert "Wed 18 Nov 23:45: her second number, silence; she rings back (A. Kowal)" in page
    does_it(sign_in, site, OVER)
    (handed,) = site.states().day(NIGHT).handovers.values()
    assert handed.to == "L. Ortiz"
    cases = [problem.case for problem in handed.problems]
    assert cases.count("K-103") == 1
    assert handed.problems[-1].what == "K-108 has no car"


def test_the_whole_board_is_handed_over_whatever_slot_or_clock_each_has(sign_in: SignIn, site: Desk) -> None:
    do(site, OpenCase("K-777", {"zone": "America/Chicago"}), "kowal", END)
    do(site, FreeSlot(DAY, "s3", "another day"), "theatre", END)
    does_it(sign_in, site, OVER)
    (handed,) = site.states().day(NIGHT).handovers.values()
    *problems, _ = [problem.case for problem in handed.problems]
    assert sorted(problems) == sorted(row.case for row in site.states().board(END) if row.state != "given")
    # K-777 has no slot at all, K-103 has lost hers, K-110 injects by the clock.
    assert {"K-777", "K-103", "K-110"} <= set(problems)


def test_what_is_still_to_come_is_handed_over_with_its_minute(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    its_now(monkeypatch, NOW)
    assert "told, to inject at Wed 18 Nov 21:00" in look(sign_in("kowal"), "/handover/").main()


def test_a_minute_that_somebody_still_has_to_check_is_not_handed_over(sign_in: SignIn, site: Desk) -> None:
    do(site, PlaceSlot({"id": "s8", "at": f"{DAY} 11:45", "room": "Room 1"}, "late"), "theatre", NOW)
    page = look(sign_in("kowal"), "/handover/")
    lines = [text for text in page.texts("li") if text.startswith("K-108") and "no sheet" in text]
    assert lines
    assert not [text for text in lines if "to inject at" in text]


def test_who_has_no_page_yet_is_handed_over_with_her_minute_by_the_order_and_the_call(
    sign_in: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    its_now(monkeypatch, "2026-11-19T01:30:00Z")
    words = look(sign_in("kowal"), "/handover/").main()
    assert (
        "K-106: triptorelin acetate 0.2 mg; no sheet, to inject at Wed 18 Nov 22:00 by the order; "
        "call overdue since Wed 18 Nov 19:00; not released" in words
    )
    assert "no sheet, to inject at Wed 18 Nov 23:30 by the order; tell her by Wed 18 Nov 20:30; not released" in words


def test_whom_to_tell_is_handed_over_as_well(sign_in: SignIn, site: Desk) -> None:
    assert "; tell the prescriber on call, owed since Wed 18 Nov 21:40" in look(sign_in("kowal"), "/handover/").main()


@pytest.mark.parametrize(("at", "night", "words"), [
    # Chicago is six hours behind UTC in November (IANA time-zone database).
    ("2026-11-18T17:59:00Z", "2026-11-17", "the night of Tuesday 17 November into Wednesday"),
    ("2026-11-18T18:00:00Z", "2026-11-18", "the night of Wednesday 18 November into Thursday"),
    ("2026-11-19T12:00:00Z", "2026-11-18", "the night of Wednesday 18 November into Thursday"),
    ("2026-11-19T17:59:00Z", "2026-11-18", "the night of Wednesday 18 November into Thursday"),
    ("2026-11-19T18:00:00Z", "2026-11-19", "the night of Thursday 19 November into Friday"),
])  # fmt: skip
def test_until_noon_it_is_still_the_night_before(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch, at: str, night: str, words: str
) -> None:
    its_now(monkeypatch, at)
    client = sign_in("kowal")
    page = look(client, "/handover/")
    assert page.texts("h1") == [f"Handover of {words}"]
    before = heads(site)
    assert client.post("/handover/", page.form() | dict(OVER.typed)).status_code == 302
    assert written(site, before) == [f"day/{night} handed-over"]


def test_a_form_that_was_open_over_noon_still_counts(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    client = sign_in("kowal")
    its_now(monkeypatch, "2026-11-19T17:59:00Z")
    form = look(client, "/handover/").form() | dict(OVER.typed)
    its_now(monkeypatch, "2026-11-19T18:01:00Z")
    before = heads(site)
    assert client.post("/handover/", form).status_code == 302
    assert client.post("/handover/", form).status_code == 302
    assert written(site, before) == [f"day/{NIGHT} handed-over"]


@pytest.mark.parametrize("night", ["2026-11-16", "2026-11-25", "roll", "../rules", "2026-13-45", ""])
def test_no_other_night_than_this_one_is_handed_over(sign_in: SignIn, site: Desk, night: str) -> None:
    client = sign_in("kowal")
    form = OVER.form(client) | {"night": night}
    before = heads(site)
    assert client.post("/handover/", form).status_code == 302
    assert written(site, before) == [f"day/{NIGHT} handed-over"]


def test_the_other_nurse_signs_and_both_names_stand(sign_in: SignIn, site: Desk) -> None:
    does_it(sign_in, site, OVER)
    assert "I have it" not in text_of(sign_in("kowal").get("/handover/"))
    client = does_it(sign_in, site, waiting(site))
    page = look(client, "/handover/").main()
    assert "A. Kowal to L. OrtizHanded over Wed 18 Nov 23:45, signed for Wed 18 Nov 23:45." in page
    assert "K-108 has no car" in page


@pytest.mark.parametrize("to", ["l. ortiz", "L.  ORTIZ"])
def test_she_has_her_button_however_her_name_was_written(sign_in: SignIn, site: Desk, to: str) -> None:
    do(site, HandOver(NIGHT, to, ()), "kowal", END)
    client = does_it(sign_in, site, waiting(site))
    assert "I have it" not in look(client, "/handover/").main()


def test_a_handover_is_signed_for_also_when_no_case_is_open_any_more(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    does_it(sign_in, site, OVER)
    close_all(site)
    its_now(monkeypatch, "2026-11-20T14:00:00Z")
    does_it(sign_in, site, waiting(site))


def test_a_handover_of_the_night_before_last_still_waits_for_her(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    does_it(sign_in, site, OVER)
    its_now(monkeypatch, "2026-11-21T05:45:00Z")
    assert "Waits for L. Ortiz" not in look(sign_in("kowal"), "/handover/").main()
    does_it(sign_in, site, waiting(site))


def test_what_was_handed_over_on_a_theatre_day_is_still_read_and_signed_for(sign_in: SignIn, site: Desk) -> None:
    do(site, HandOver(DAY, "L. Ortiz", (e.Problem("K-108", "her sister injects"),)), "kowal", END)
    client = does_it(sign_in, site, waiting(site, DAY))
    assert "her sister injects" in look(client, f"/handover/?night={NIGHT}").main()


def test_an_old_handover_stays_readable(sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    does_it(sign_in, site, OVER)
    does_it(sign_in, site, waiting(site))
    its_now(monkeypatch, "2026-11-21T05:45:00Z")
    page = look(sign_in("kowal"), "/handover/")
    assert f"?night={NIGHT}" in page.links()
    for later in ("2026-11-21T05:45:00Z", "2027-06-01T05:45:00Z"):
        its_now(monkeypatch, later)
        old = look(sign_in("kowal"), f"/handover/?night={NIGHT}")
        assert old.texts("h1") == ["Handover of the night of Wednesday 18 November into Thursday"]
        assert "K-108 has no car" in old.main()
        assert "Hand over what is open" not in old.main()


def test_what_was_taken_is_not_taken_again(sign_in: SignIn, site: Desk) -> None:
    does_it(sign_in, site, OVER)
    act = waiting(site)
    client = sign_in("ortiz")
    form = act.form(client)
    assert client.post(act.address, form).status_code == 302
    before = heads(site)
    answer = client.post(act.address, form | {"key": "another"})
    assert answer.status_code == 422
    assert written(site, before) == []


def test_nobody_signs_for_another(sign_in: SignIn, site: Desk) -> None:
    does_it(sign_in, site, OVER)
    act = waiting(site)
    before = heads(site)
    answer = sign_in("kowal").post(act.address, {"key": "k", **act.typed})
    assert answer.status_code == 422
    assert "handover-other" in text_of(answer)
    assert written(site, before) == []


@pytest.mark.parametrize("to", ["", "A. Kowal"])
def test_a_handover_has_two_people(sign_in: SignIn, site: Desk, to: str) -> None:
    page = refuses(sign_in, site, OVER, to=to)
    assert "handover-to-self" in page.summary()


def test_a_night_that_somebody_else_has_handed_over_is_looked_at_again(sign_in: SignIn, site: Desk) -> None:
    def meanwhile() -> None:
        do(site, HandOver(NIGHT, "A. Kowal", ()), "ortiz", END)

    refuses_what_is_stale(sign_in, site, OVER, meanwhile, "handed over")


def test_it_is_handed_over_one_time(sign_in: SignIn, site: Desk) -> None:
    is_done_once(sign_in, site, OVER)


def test_only_nurses_hand_over(sign_in: SignIn, site: Desk) -> None:
    before = heads(site)
    for who in ("aumont", "devi", "brandt"):
        assert sign_in(who).post("/handover/", {"to": "L. Ortiz", "key": who}).status_code == 403
    assert heads(site) == before


@pytest.mark.parametrize("day", ["", "2031-01-01", "../rules", "x", "2026-11-20\x00", "2026-11-31"])
def test_a_day_of_which_nothing_was_recorded_is_not_signed_for(sign_in: SignIn, site: Desk, day: str) -> None:
    assert sign_in("ortiz").post("/handover/take/", {"day": day, "entry": "1", "key": "k"}).status_code == 404


@pytest.mark.parametrize("entry", ["", "x", "-1", "٣", "9" * 5000])
def test_what_is_no_entry_is_not_signed_for(sign_in: SignIn, site: Desk, entry: str) -> None:
    does_it(sign_in, site, OVER)
    before = heads(site)
    assert sign_in("ortiz").post("/handover/take/", {"day": NIGHT, "entry": entry, "key": "k"}).status_code == 404
    assert written(site, before) == []


# The morning list


def test_the_list_says_the_true_hours_and_what_is_not_known(sign_in: SignIn, site: Desk) -> None:
    report(site, "agonist", "2026-11-18 21:04")
    page = look(sign_in("theatre"), "/morning/").main()
    assert "Trigger: GnRH agonist and hCG" in page
    assert "Wed 18 Nov 21:04, 35 h 56 min to the slot" in page
    assert "time UNKNOWN, nobody has said that it was given or not" in page
    assert "Nothing solid from Fri 20 Nov 01:00" in page
    assert SECRET_NAME not in page
    assert "Z. Q." in page


def test_a_report_without_a_time_says_so_in_words(sign_in: SignIn, site: Desk) -> None:
    report(site, "agonist", "sometime")
    assert "the time is NOT KNOWN" in look(sign_in("theatre"), "/morning/").main()


def test_it_goes_out_by_number_and_the_new_takes_the_place_of_the_old(sign_in: SignIn, site: Desk) -> None:
    client = does_it(sign_in, site, LIST)
    first = look(client, f"/morning/{DAY}/1/").main()
    assert "Morning list 1" in first
    assert "REPLACED" not in first
    do(site, PlaceSlot({"id": "s3", "at": f"{DAY} 09:45", "room": "Room 1"}, "late"), "theatre", END)
    assert client.post("/morning/", {"key": "second"}).status_code == 302
    assert "REPLACED by list 2" in look(client, f"/morning/{DAY}/1/").main()
    second = look(client, f"/morning/{DAY}/2/").main()
    assert "Fri 20 Nov 09:45" in second
    assert "changed: page 1 was voided, the slot changed, Wed 18 Nov 23:45" in second


def test_a_list_says_when_it_was_so_and_who_gave_it_out(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    client = does_it(sign_in, site, LIST)
    its_now(monkeypatch, "2026-11-19T12:00:00Z")
    report(site, "agonist", "2026-11-18 21:04")
    do(site, ListMorning(DAY), "ortiz", "2026-11-19T11:58:00Z")
    assert "As known at Wed 18 Nov 23:45, given out by A. Kowal." in look(client, f"/morning/{DAY}/1/").main()
    assert "As known at Thu 19 Nov 05:58, given out by L. Ortiz." in look(client, f"/morning/{DAY}/2/").main()
    page = look(client, "/morning/").main()
    assert "List 1, Wed 18 Nov 23:45, given out by A. Kowal" in page
    assert "List 2, Thu 19 Nov 05:58, given out by L. Ortiz" in page


def test_it_warns_where_the_list_that_is_out_is_no_longer_so(sign_in: SignIn, site: Desk) -> None:
    warning = "Changed since list 1"
    assert warning not in look(sign_in("kowal"), "/morning/").main()
    client = does_it(sign_in, site, LIST)
    assert warning not in look(client, "/morning/").main()
    report(site, "agonist", "2026-11-18 21:04")
    for who in ("kowal", "theatre"):
        assert warning in look(sign_in(who), "/morning/").main()
    assert client.post("/morning/", {"key": "second"}).status_code == 302
    assert "Changed since" not in look(client, "/morning/").main()


def test_free_words_stay_with_those_who_read_cases(sign_in: SignIn, site: Desk) -> None:
    words = "Zinnia, +1 555 0177"
    do(site, Escalate("K-103", "hcg", words, f"{words} is silent", f"{words} answers"), "kowal", END)
    do(site, Escalate("K-103", "hcg", "her Second  number", "silence", "answers"), "kowal", END)
    do(site, NoteIncident("K-103", None, f"{words} fell", "Dr. L. Aumont", "wait", False), "kowal", END)
    do(site, PlaceSlot({"id": "s3", "at": f"{DAY} 09:45", "room": "Room 1"}, f"{words} is late"), "theatre", END)
    client = does_it(sign_in, site, LIST)
    (listed,) = site.states().day(DAY).lists
    on_paper = "\n".join(listed.lines)
    for said in (
        "told somebody, Wed 18 Nov 23:45",
        "told her second number, Wed 18 Nov 23:45",
        "OPEN since Wed 18 Nov 23:45: a problem (entry ",
        "; ask the nurse in charge, or see the board",
        "changed: page 1 was voided, the slot changed, Wed 18 Nov 23:45",
    ):
        assert said in on_paper
    theatre = text_of(sign_in("theatre").get("/morning/"))
    issued = text_of(client.get(f"/morning/{DAY}/1/"))
    for page in (on_paper, theatre, issued):
        assert "Zinnia" not in page
        assert "555" not in page
    clinical = look(client, "/morning/").main()
    for said in (f"Told somebody, Wed 18 Nov 23:45: {words}", f"{words} fell", f"{words} is late"):
        assert said in clinical


def test_what_she_can_choose_on_her_phone_is_told_on_and_nothing_else() -> None:
    assert set(_NAMES) - {NONE} <= FIXED_WORDS


def test_what_was_settled_stands_on_paper_without_its_words_and_on_her_screen_with_them(
    sign_in: SignIn, site: Desk
) -> None:
    decision = "Zinnia gave the second at 20:50"
    do(site, NoteIncident("K-103", "hcg", "the second still full", "Dr. L. Aumont", decision, True), "kowal", END)
    client = does_it(sign_in, site, LIST)
    (listed,) = site.states().day(DAY).lists
    on_paper = "\n".join(listed.lines)
    theatre = text_of(sign_in("theatre").get("/morning/"))
    assert "SETTLED Wed 18 Nov 23:45: a problem, hcg (entry " in on_paper
    assert "decided by the prescriber of the order; read the case" in on_paper
    for page in (on_paper, theatre):
        assert "Zinnia" not in page
        assert "still full" not in page
    assert f": {decision} (Dr. L. Aumont); it was: the second still full" in look(client, "/morning/").main()


def test_the_list_of_closed_cases_stays_within_reach(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    client = does_it(sign_in, site, LIST)
    close_all(site)
    its_now(monkeypatch, "2026-11-20T23:00:00Z")
    page = look(client, "/morning/")
    assert page.texts("h1") == ["Morning list of Friday 20 November 2026"]
    assert f"/morning/{DAY}/1/" in page.links()
    its_now(monkeypatch, "2026-11-24T23:00:00Z")
    assert f"?day={DAY}" in look(client, "/morning/").links()
    its_now(monkeypatch, "2027-11-24T23:00:00Z")
    assert f"?day={DAY}" not in look(client, "/morning/").links()
    assert "K-103" in look(client, f"/morning/{DAY}/1/").main()
    assert look(client, f"/morning/?day={DAY}").texts("h1") == ["Morning list of Friday 20 November 2026"]


def test_a_list_keeps_the_initials_of_a_case_that_lost_its_slot(sign_in: SignIn, site: Desk) -> None:
    client = does_it(sign_in, site, LIST)
    do(site, FreeSlot(DAY, "s3", "another day"), "theatre", END)
    assert "K-103 = Z. Q." in look(client, f"/morning/{DAY}/1/").main()


def test_a_day_without_a_case_says_so(sign_in: SignIn, site: Desk) -> None:
    do(site, PlaceSlot({"id": "t1", "at": "2026-11-24 09:00"}, "open"), "theatre", END)
    assert "No slot of this day has a case." in look(sign_in("kowal"), "/morning/?day=2026-11-24").main()


def test_no_list_goes_out_of_another_day_than_was_meant(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("kowal")
    before = heads(site)
    assert client.post("/morning/", {"key": "k", "day": "2031-01-01"}).status_code == 404
    assert written(site, before) == []


def test_what_went_out_stays_as_it_was(sign_in: SignIn, site: Desk) -> None:
    client = does_it(sign_in, site, LIST)
    before = look(client, f"/morning/{DAY}/1/").texts("pre")
    do(site, NoteIncident("K-103", None, "she fell", "Dr. L. Aumont", "wait", False), "kowal", END)
    assert look(client, f"/morning/{DAY}/1/").texts("pre") == before
    words = look(client, "/morning/").main()
    assert "OPEN since Wed 18 Nov 23:45: a problem (entry " in words
    assert "): she fell" in words


def test_the_same_list_does_not_go_out_twice(sign_in: SignIn, site: Desk) -> None:
    client = does_it(sign_in, site, LIST)
    answer = client.post("/morning/", {"key": "once more"})
    assert answer.status_code == 422
    assert "nothing-changed" in text_of(answer)


@pytest.mark.parametrize(
    "path",
    ["/morning/2026-11-20/7/", "/morning/2031-01-01/1/", "/morning/x/1/", "/morning/2026-11-20%00/1/"],
)
def test_a_list_that_never_went_out_is_no_page(sign_in: SignIn, path: str) -> None:
    assert sign_in("kowal").get(path).status_code == 404


def test_theatre_reads_it_and_gives_none_out(sign_in: SignIn, site: Desk) -> None:
    client = sign_in("theatre")
    assert "Give out" not in text_of(client.get("/morning/"))
    before = heads(site)
    assert client.post("/morning/", {"key": "k"}).status_code == 403
    assert heads(site) == before


# Who may


@pytest.mark.parametrize(
    ("who", "path"), [("theatre", "/handover/"), ("devi", "/morning/"), ("devi", f"/morning/{DAY}/1/")]
)
def test_each_is_for_its_readers(sign_in: SignIn, site: Desk, who: str, path: str) -> None:
    is_not_for(sign_in, site, who, path, "GET")


def test_another_clinic_sees_none_of_it(sign_in: SignIn, site: Desk) -> None:
    does_it(sign_in, site, LIST)
    client = sign_in("stranger")
    assert "K-103" not in text_of(client.get("/handover/")) + text_of(client.get("/morning/"))
    assert client.get(f"/morning/{DAY}/1/").status_code == 404


def test_nobody_comes_in_without_signing_in(client_of_nobody: Client) -> None:
    for path in ("/handover/", "/morning/", f"/morning/{DAY}/1/"):
        sends_to_sign_in(client_of_nobody, path, "GET")


def test_other_methods_are_refused(sign_in: SignIn) -> None:
    client = sign_in("kowal")
    knows_only(client, "/handover/", "GET", "POST")
    knows_only(client, "/handover/take/", "POST")
    knows_only(client, "/morning/", "GET", "POST")
    knows_only(client, f"/morning/{DAY}/1/", "GET")
