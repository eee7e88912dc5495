"""Her report: /t/<place>/done/. Stored before it is said, one time however often it is sent, and kept whatever it says."""

import re
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connections
from django.test import Client

from hourmark.case import events as e
from hourmark.case.night import Confirm, NoteIncident, WithdrawConfirmation
from hourmark.case.opening import CloseCase
from hourmark.case.phone import GiveHelp, RevokeLink
from hourmark.case.sheets import VoidSheet
from hourmark.case.slots import PlaceSlot
from hourmark.desk import Desk
from hourmark.desk.states import morning_of
from hourmark.handout.language import language
from hourmark.ledger import NotStored
from hourmark.store.database import DatabaseStore
from hourmark.web.pages import phone_done
from tests.web.hers import (
    AT_NINE_TEN,
    CASE,
    NUMBER_AT_NIGHT,
    UNKNOWN,
    clock_of,
    give,
    her_phone,
    opened,
    report_form,
    stranger,
    walk_of,
)
from tests.web.manners import SignIn, do, heads, written
from tests.web.seen import Page, look, read, text_of
from tests.web.test_phone_walk import events

PATH, SECOND = "/t/1/done/", "/t/2/done/"
ALL_OF_IT = {"hour": "21", "minute": "02", "how": "all", "syringe": "nothing", "vial": "some"}
DAY = "2026-11-18"


@pytest.fixture
def phone(sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch) -> Client:
    """Her phone at ten past nine."""
    opened_by_day = her_phone(sign_in)
    clock_of(monkeypatch)(AT_NINE_TEN)
    return opened_by_day


def send(phone: Client, path: str = PATH, **typed: str) -> str:
    """She sends it; the page that she then sees."""
    answer = phone.post(path, report_form(phone, int(path[3])) | typed)
    assert (answer.status_code, answer["Location"]) == (303, path), text_of(answer)
    return look(phone, path).main()


def reports(site: Desk) -> list[e.Confirmed]:
    return [one for one in events(site, e.Confirmed) if isinstance(one, e.Confirmed)]


def board(site: Desk, now: str = AT_NINE_TEN) -> dict[str, str]:
    return {row.injection: row.state for row in site.states().board(now) if row.case == CASE}


# What is stored


def test_it_is_stored_as_she_says_it_and_then_said_to_be(site: Desk, phone: Client) -> None:
    before = heads(site)
    words = send(phone, **ALL_OF_IT)
    assert written(site, before) == [f"case/{CASE} confirmed"]
    assert reports(site) == [
        e.Confirmed(
            injection="agonist",
            reported=f"{DAY} 21:02",
            zone="America/Chicago",
            instant="2026-11-19T03:02:00Z",
            told_by="she herself, on her phone",
            source="her phone",
            amount="all",
            remains="syringe: nothing, vial: something",
            sheet=1,
            doubts=(),
        )
    ]
    assert "Stored. The clinic has your answer." in words
    assert "Wednesday 18 November 2026, 9:02 pm (21:02)" in words
    assert "How much: all of it" in words
    assert "Stored at 9:10 pm (21:10)." in words
    assert "This one is done. Do not repeat it." in words
    assert board(site) == {"agonist": "given", "hcg": "unknown since"}


def test_one_of_two_given_is_not_given(site: Desk, phone: Client) -> None:
    words = send(phone, **ALL_OF_IT)
    assert "Give 2 of 2: chorionic gonadotropin" in words
    (row,) = [one for one in site.states().board(AT_NINE_TEN) if (one.case, one.injection) == (CASE, "hcg")]
    assert row.given == "1 of 2 given"
    listed = look(phone, "/t/").main()
    assert "You told the clinic: Wednesday 18 November 2026, 9:02 pm (21:02)" in listed
    assert "Start: read the boxes" in listed


def test_nothing_is_filled_in_for_her(phone: Client) -> None:
    form = report_form(phone)
    assert {name: value for name, value in form.items() if name not in ("key", "day", "opened")} == {
        "hour": "",
        "minute": "",
        "reason": "",
        "amount": "",
        "words": "",
    }
    assert " checked>" not in text_of(phone.get(PATH))


def test_something_wrong_is_stored_and_asks_for_a_call(site: Desk, phone: Client) -> None:
    before = heads(site)
    typed = {"hour": "21", "minute": "05", "how": "wrong", "reason": "leaked", "words": "about half ran down my leg"}
    words = send(phone, **typed)
    assert sorted(written(site, before)) == [f"case/{CASE} confirmed", f"case/{CASE} help-asked"]
    (report,) = reports(site)
    assert (report.amount, report.doubts, report.remains) == (
        "some leaked out",
        ("not-all",),
        "syringe: not said, vial: not said; her words: about half ran down my leg",
    )
    assert events(site, e.HelpAsked) == [
        e.HelpAsked("agonist", "her report", "some leaked out; about half ran down my leg")
    ]
    assert "Give nothing more until you have spoken with the clinic." in words
    assert "Give 2 of 2" not in words
    assert "How much: Some leaked out" in words
    assert board(site)["agonist"] == "problem"


@pytest.mark.parametrize("reason", ["part", "other-line", "needle", "other-medicine", "not-given", "unsure"])
def test_every_reason_is_kept_in_the_words_of_the_record(site: Desk, phone: Client, reason: str) -> None:
    send(phone, hour="21", minute="05", how="wrong", reason=reason)
    (report,) = reports(site)
    assert report.amount.isascii()
    assert report.amount != "all"
    assert board(site)["agonist"] == "problem"


def test_the_button_for_trouble_opens_the_same_form(phone: Client) -> None:
    page = look(phone, f"{PATH}?wrong=1")
    assert 'value="wrong" checked' in page.source
    assert "<details open>" in page.source


@pytest.mark.parametrize(
    ("code", "said", "held"),
    [
        ("en", "How much: It may have been another medicine; 0.2 mL", "That is more than your syringe holds, 1 mL."),
        ("es", "Cuánto: Quizá era otro medicamento; 0.2 mL", "Eso es más de lo que cabe en su jeringa, 1 mL."),
    ],
)
def test_what_went_wrong_stands_beside_how_much(
    site: Desk, phone: Client, monkeypatch: pytest.MonkeyPatch, code: str, said: str, held: str
) -> None:
    """K-103's second is 0.2 mL, mark 20: that much of another medicine is nowhere to be read as her dose."""
    from hourmark.case.results import is_volume
    from hourmark.web.pages import phone as pages

    monkeypatch.setattr(pages.Visit, "words", language(code))
    words = send(phone, SECOND, hour="21", minute="05", how="wrong", reason="other-medicine", amount="0.2 mL")
    (report,) = reports(site)
    assert report.amount == "it may have been another medicine; 0.2 mL"
    assert not is_volume(report.amount)
    assert said in words
    assert said in look(phone, "/t/").main()
    (row,) = [one for one in site.states().board(AT_NINE_TEN) if (one.case, one.injection) == (CASE, "hcg")]
    assert row.state == "problem"
    assert "it may have been another medicine; 0.2 mL" in row.reported
    (line,) = [one for one in morning_of(site.states(), "2026-11-20", AT_NINE_TEN) if one.case == CASE]
    (remarks,) = [one.remarks for one in line.given if "chorionic gonadotropin" in one.medicine]
    assert "it may have been another medicine" in remarks
    assert events(site, e.HelpAsked) == [e.HelpAsked("hcg", "her report", "it may have been another medicine; 0.2 mL")]
    form = look(phone, f"{SECOND}?anew=1").form(SECOND) | {"hour": "21", "minute": "05", "how": "wrong"}
    assert phone.post(SECOND, form | {"reason": "leaked", "amount": "1.5 mL"}).status_code == 303
    page = look(phone, SECOND)
    assert held in page.main()
    assert page.form(SECOND)["amount"] == "1.5 mL"
    assert '<option value="leaked" selected>' in page.source


def test_all_of_it_and_that_something_leaked_are_both_kept(site: Desk, phone: Client) -> None:
    words = send(phone, **ALL_OF_IT, reason="leaked", amount="0.7 mL")
    (report,) = reports(site)
    assert report.amount == "all of it, she says; some leaked out; 0.7 mL"
    assert "How much: all of it; Some leaked out; 0.7 mL" in words
    assert board(site)["agonist"] == "problem"


@pytest.mark.parametrize("amount", ["70", "0.7", ".7", "0,7", "1 1/2", "70-75", "½", "70?"])
@pytest.mark.parametrize("reason", ["", "other-line"])
def test_a_number_alone_is_asked_again_and_kept_where_nothing_reads_it(
    site: Desk, phone: Client, amount: str, reason: str
) -> None:
    words = send(phone, hour="21", minute="05", how="wrong", reason=reason, amount=amount, words="I was in a hurry")
    (report,) = reports(site)
    before = "stopped at another line; " if reason else "something went wrong; "
    alone = f"{before}a number without mL or mark"
    assert report.amount == alone
    left = "syringe: not said, vial: not said"
    assert report.remains == f"{left}; she wrote a number alone: {amount}; her words: I was in a hurry"
    assert events(site, e.HelpAsked) == [
        e.HelpAsked("agonist", "her report", f"{alone}; she wrote {amount}; I was in a hurry")
    ]
    assert report.instant == "2026-11-19T03:05:00Z", "what else she said is kept"
    assert "One thing to ask again" in words
    assert "You wrote a number alone. Is it mL, or a mark? Write it again, with the word." in words
    assert not re.search(
        rf"(?<!\d){re.escape(amount)}(?!\d)", words.split("One thing to ask again")[0].split("How much")[1]
    )
    assert board(site)["agonist"] == "problem"
    page = look(phone, PATH)
    assert page.form(PATH)["amount"] == amount, "what she wrote stands there"
    assert page.form(PATH)["words"] == "I was in a hurry"
    assert "<details open>" in page.source
    send(phone, hour="21", minute="05", how="wrong", reason=reason, amount="mark 70", words="")
    assert reports(site)[-1].amount == f"{before}mark 70"


@pytest.mark.parametrize("amount", ["80", "2 shots, the 2nd by mistake"])
def test_one_press_more_never_makes_all_of_it_out_of_what_she_wrote(site: Desk, phone: Client, amount: str) -> None:
    """The time is still to come, so that either is asked again, with "all of it" chosen as she chose it."""
    send(phone, hour="22", minute="30", how="all", amount=amount)
    page = look(phone, PATH)
    assert "<details open>" in page.source
    assert 'value="all" checked' in page.source
    assert phone.post(PATH, page.form(PATH) | {"hour": "21", "minute": "02", "how": "all"}).status_code == 303
    assert len({one.amount for one in reports(site)}) == 1
    assert [one.amount != "all" for one in reports(site)] == [True, True]
    assert board(site)["agonist"] == "problem"


def test_her_words_beside_all_of_it_are_in_sight_where_something_is_asked_again(phone: Client) -> None:
    send(phone, hour="22", minute="30", how="all", words="2 shots")
    page = look(phone, PATH)
    assert "<details open>" in page.source
    assert page.form(PATH)["words"] == "2 shots"


@pytest.mark.parametrize(
    "amount",
    [
        "2 shots, the 2nd by mistake",
        "0.5 cc",
        "75 U",
        "2 veces",
        "half, then 1 hour later the rest",
        "la mitad, 2 pinchazos",
        "about 70",
        "50%",
        "3 clicks",
    ],
)
def test_words_that_hold_a_number_are_kept_like_any_others(site: Desk, phone: Client, amount: str) -> None:
    from hourmark.case.results import is_volume

    words = send(phone, hour="21", minute="05", how="wrong", amount=amount)
    (report,) = reports(site)
    assert report.amount == f"something went wrong; {amount}"
    assert not is_volume(report.amount)
    assert events(site, e.HelpAsked) == [e.HelpAsked("agonist", "her report", f"something went wrong; {amount}")]
    assert f"How much: Something went wrong; {amount}" in words
    assert board(site)["agonist"] == "problem"


@pytest.mark.parametrize(
    "amount",
    ["mark 70", "70 marks", "marca 70", "la línea 70", "70 units", "unos 0.3 ml", "0.3mL", "half of it", "1 drop"],
)
def test_her_very_words_are_kept_where_they_say_what_the_number_counts(site: Desk, phone: Client, amount: str) -> None:
    """On a U-100 barrel she reads marks; what they are in mL nobody works out here."""
    words = send(phone, hour="21", minute="05", how="wrong", reason="other-line", amount=amount)
    (report,) = reports(site)
    assert report.amount == f"stopped at another line; {amount}"
    assert f"How much: I stopped at another line; {amount}" in words
    assert "One thing to ask again" not in words
    assert board(site)["agonist"] == "problem"


def test_on_a_barrel_of_marks_she_is_asked_for_the_word(phone: Client, sign_in: SignIn, site: Desk) -> None:
    scales = {place: one.show.scale for place, one in enumerate(walk_of(site).injections, 1) if one.show is not None}
    assert "marks" in scales.values()
    for place, scale in scales.items():
        asked = "the word mark and the number" in look(phone, f"/t/{place}/done/").main()
        assert asked is (scale == "marks")


@pytest.mark.parametrize("amount", ["all", "none of it", "not said"])
def test_a_typed_word_is_never_the_records_own(site: Desk, phone: Client, amount: str) -> None:
    send(phone, hour="21", minute="05", how="wrong", amount=amount)
    assert reports(site)[0].amount == f"something went wrong; {amount}"
    assert board(site)["agonist"] == "problem"


@pytest.mark.parametrize("typed", ["all", "not said"])
def test_such_a_word_stands_in_the_form_that_asks_again(site: Desk, phone: Client, typed: str) -> None:
    send(phone, hour="22", minute="30", how="wrong", amount=typed)
    assert look(phone, PATH).form(PATH)["amount"] == typed


def test_none_of_it_that_she_typed_does_not_count_as_given(site: Desk, phone: Client) -> None:
    send(phone, hour="21", minute="05", how="wrong", amount="none of it")
    (waiting,) = site.states().case(CASE).waiting
    do(site, GiveHelp(CASE, waiting.seq, "give it now"), "kowal", AT_NINE_TEN)
    listed = look(phone, "/t/").main()
    assert listed.count("Start: read the boxes") == 2
    assert listed.count("10 min ago") == 2
    words = look(phone, PATH).main()
    assert "Give 2 of 2" not in words
    assert "This one is done" not in words


def test_what_the_clinic_wrote_down_since_is_not_asked_again(site: Desk, phone: Client) -> None:
    words = send(phone, hour="21", minute="02")
    assert "You did not say how much was given." in words
    nurse = Confirm(CASE, "agonist", f"{DAY} 21:02", "America/Chicago", "she", "phone call", "all", "nothing", sheet=1)
    do(site, nurse, "kowal", AT_NINE_TEN)
    page = look(phone, PATH)
    assert "You did not say" not in page.main()
    assert "One thing to ask again" not in page.main()
    assert "Give nothing more" not in page.main()
    assert "Give 2 of 2" in page.main()
    assert not [one for one in page.forms if one.method == "post"]


def test_what_the_clinic_did_not_write_down_is_still_asked(site: Desk, phone: Client) -> None:
    send(phone, hour="21", minute="")
    nurse = Confirm(CASE, "agonist", "? ?:?", "America/Chicago", "she", "phone call", "all", "nothing", sheet=1)
    do(site, nurse, "kowal", AT_NINE_TEN)
    words = look(phone, PATH).main()
    assert "You did not say how much" not in words
    assert "The time is missing or not whole." in words


def test_what_was_settled_since_is_not_asked_again(site: Desk, phone: Client) -> None:
    send(phone, hour="21", minute="02")
    settle = NoteIncident(CASE, "agonist", "she left out how much", "Dr. L. Aumont", "go on", settled=True)
    do(site, settle, "kowal", AT_NINE_TEN)
    words = look(phone, PATH).main()
    assert "One thing to ask again" not in words
    assert "Give nothing more" not in words
    assert "This one is done" not in words


def test_of_what_was_not_given_it_is_never_said_that_it_is_done(phone: Client) -> None:
    assert "This one is done" not in send(phone, hour="21", minute="05", how="wrong", reason="not-given")


def test_that_she_did_not_say_how_much_is_asked_again(site: Desk, phone: Client) -> None:
    words = send(phone, hour="21", minute="05")
    assert "You did not say how much was given." in words
    assert "Stored." in words
    send(phone, hour="21", minute="05", how="all")
    assert [one.amount for one in reports(site)] == ["not said", "all"]
    assert "You did not say" not in look(phone, PATH).main()


# One time


def test_however_often_it_is_sent_it_is_stored_one_time(site: Desk, phone: Client) -> None:
    form = report_form(phone) | ALL_OF_IT
    before = heads(site)
    for _ in range(5):
        answer = phone.post(PATH, form)
        assert (answer.status_code, answer["Location"]) == (303, PATH)
    assert written(site, before) == [f"case/{CASE} confirmed"]


def test_also_when_it_is_sent_many_times_at_once(site: Desk, phone: Client) -> None:
    form = report_form(phone) | ALL_OF_IT
    cookies = {name: cookie.value for name, cookie in phone.cookies.items()}

    def tap(_: int) -> int:
        other = stranger()
        other.cookies.load(cookies)
        try:
            return other.post(PATH, form).status_code
        finally:
            connections.close_all()

    with ThreadPoolExecutor(4) as hands:
        statuses = list(hands.map(tap, range(12)))
    assert set(statuses) <= {303, 503}
    assert 303 in statuses
    assert len(reports(site)) == 1


def test_a_lost_answer_and_a_page_loaded_anew_store_nothing_twice(site: Desk, phone: Client) -> None:
    """The form is opened, sent, its answer lost; the page is loaded anew, and shows that it is stored: there is no form to send."""
    form = report_form(phone)
    again = report_form(phone)
    assert form == again, "a reload has the same key"
    phone.post(PATH, form | ALL_OF_IT)
    page = look(phone, PATH)
    assert "Stored. The clinic has your answer." in page.main()
    assert not [one for one in page.forms if one.method == "post"]
    phone.post(PATH, again | ALL_OF_IT)
    assert len(reports(site)) == 1


def test_two_links_of_hers_are_one_phone(sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    address, _ = give(sign_in)
    one, other = opened(address), opened(address)
    clock_of(monkeypatch)(AT_NINE_TEN)
    forms = report_form(one), report_form(other)
    assert one.post(PATH, forms[0] | ALL_OF_IT).status_code == 303
    assert other.post(PATH, forms[1] | ALL_OF_IT).status_code == 303
    assert len(reports(site)) == 1


def test_the_same_form_with_other_words_is_not_stored_and_that_is_said(site: Desk, phone: Client) -> None:
    form = report_form(phone)
    phone.post(PATH, form | ALL_OF_IT)
    before = heads(site)
    answer = phone.post(PATH, form | ALL_OF_IT | {"minute": "08"})
    assert answer.status_code == 409
    assert written(site, before) == []
    page = read(answer)
    assert "You have sent an answer before, and this one is not the same." in page.main()
    assert "9:02 pm (21:02)" in page.main()
    assert "The first one is stored. The new one is not." in page.main()
    new = page.form(PATH) | {"how": "all"}
    assert new["minute"] == "08" or "selected>08" in page.source
    answer = phone.post(PATH, new | {"minute": "08", "hour": "21"})
    assert answer.status_code == 303
    assert [one.reported for one in reports(site)] == [f"{DAY} 21:02", f"{DAY} 21:08"]
    words = look(phone, PATH).main()
    assert "Both answers are kept. The clinic sees the difference." in words
    assert "Give nothing more" not in words
    assert "reports-differ" in reports(site)[1].doubts
    assert board(site)["agonist"] == "problem"


@pytest.mark.parametrize("key", ["", "made up", "phone-" + "0" * 64])
def test_a_key_that_is_not_ours_stores_nothing(site: Desk, phone: Client, key: str) -> None:
    before = heads(site)
    answer = phone.post(PATH, report_form(phone) | ALL_OF_IT | {"key": key})
    assert answer.status_code == 422
    assert written(site, before) == []
    assert "This form is from another page. Nothing was stored." in text_of(answer)
    assert " selected" not in text_of(answer), "they may be of another medicine"
    assert phone.post(PATH, read(answer).form(PATH) | ALL_OF_IT).status_code == 303


def test_an_empty_form_is_asked_again(site: Desk, phone: Client) -> None:
    before = heads(site)
    answer = phone.post(PATH, report_form(phone))
    assert answer.status_code == 422
    assert "Enter the time, and how much was given." in text_of(answer)
    assert written(site, before) == []


def test_what_a_nurse_took_back_can_be_told_anew(site: Desk, phone: Client) -> None:
    send(phone, **ALL_OF_IT)
    entry = site.states().case(CASE).confirmations[0].seq
    do(site, WithdrawConfirmation(CASE, entry, "she meant the other"), "kowal", AT_NINE_TEN)
    words = send(phone, **{**ALL_OF_IT, "minute": "07"})
    assert "9:07 pm (21:07)" in words
    assert board(site)["agonist"] == "given"


def test_nurse_and_phone_at_once_are_one_fact_with_both_sources(site: Desk, phone: Client) -> None:
    form = report_form(phone)
    nurse = Confirm(CASE, "agonist", f"{DAY} 21:02", "America/Chicago", "she", "remembered", "all", "nothing", sheet=1)
    do(site, nurse, "kowal", AT_NINE_TEN)
    assert "The clinic has noted: Wednesday 18 November 2026, 9:02 pm" in look(phone, "/t/").main()
    assert phone.post(PATH, form | ALL_OF_IT).status_code == 303
    assert [one.source for one in reports(site)] == ["remembered", "her phone"]
    assert board(site)["agonist"] == "given"


# Doubtful, and kept all the same


@pytest.mark.parametrize(
    ("typed", "doubt", "reason"),
    [
        (
            {"hour": "22", "minute": "30", "how": "all"},
            "time-future",
            "That time is still to come. It is now 9:10 pm (21:10).",
        ),
        (
            {"hour": "09", "minute": "00", "how": "all"},
            "before-release",
            "That time is before the clinic gave you this page, at",
        ),
        ({"hour": "21", "minute": "", "how": "all"}, "time-unreadable", "The time is missing or not whole."),
        ({"hour": "", "minute": "", "how": "all"}, "time-unreadable", "The time is missing or not whole."),
        (
            {"hour": "21", "minute": "02", "how": "wrong", "amount": "1.5 mL"},
            "more-than-held",
            "That is more than your syringe holds, 1 mL.",
        ),
    ],
)
def test_it_is_kept_and_asked_again_with_the_reason(
    site: Desk, phone: Client, typed: dict[str, str], doubt: str, reason: str
) -> None:
    words = send(phone, **typed)
    (report,) = reports(site)
    assert doubt in report.doubts
    assert "Stored." in words
    assert "One thing to ask again" in words
    assert reason in words
    assert "Your answer is kept. Answer again below." in words
    assert board(site)["agonist"] != "given"
    send(phone, hour="21", minute="02", how="all", amount="", reason="")
    assert len(reports(site)) == 2
    assert reports(site)[1].instant == "2026-11-19T03:02:00Z"
    assert "One thing to ask again" not in look(phone, PATH).main()


def test_what_she_typed_before_stands_in_the_form_again(phone: Client) -> None:
    send(phone, hour="22", minute="30", how="all")
    source = text_of(phone.get(PATH))
    assert 'value="22" selected' in source
    assert "<option selected>30" in source
    assert 'value="all" checked' in source


def test_after_midnight_the_day_is_asked(site: Desk, phone: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    clock_of(monkeypatch)("2026-11-19T06:20:00Z")
    page = look(phone, PATH)
    days = re.findall(r'name="day" value="([\d-]+)"', page.source)
    assert days == ["2026-11-18", "2026-11-19"]
    assert " checked>" not in page.source
    words = send(phone, hour="21", minute="02", how="all")
    assert "The time is missing or not whole." in words
    send(phone, day="2026-11-19", hour="00", minute="10", how="all")
    assert [one.instant for one in reports(site)] == [None, "2026-11-19T06:10:00Z"]


def days_of(page: Page) -> list[str]:
    return re.findall(r'name="day" value="[\d-]+"> ([^<]+)</label>', page.source)


def test_midnight_is_named_only_where_it_lies_just_between(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A page from the day before: at nine in the evening the days are days, and in the small hours it is said on which side they lie."""
    phone, clock = her_phone(sign_in), clock_of(monkeypatch)
    clock("2026-11-20T03:10:00Z")
    assert days_of(look(phone, PATH)) == ["Wednesday 18 November 2026", "Thursday 19 November 2026"]
    clock("2026-11-20T06:20:00Z")
    assert days_of(look(phone, PATH)) == [
        "Wednesday 18 November 2026",
        "Thursday 19 November 2026, before midnight",
        "Friday 20 November 2026, after midnight",
    ]


@pytest.mark.parametrize("now", ["2026-11-19T05:59:59Z", "2026-11-19T06:00:00Z", "2026-11-19T03:10:00Z"])
def test_no_day_is_offered_that_is_still_to_come(phone: Client, monkeypatch: pytest.MonkeyPatch, now: str) -> None:
    """Midnight at the clinic is 06:00 in UTC."""
    clock_of(monkeypatch)(now)
    days = re.findall(r'name="day" value="([\d-]+)"', look(phone, PATH).source)
    assert days == (["2026-11-18", "2026-11-19"] if now == "2026-11-19T06:00:00Z" else ["2026-11-18"])


@pytest.mark.parametrize(
    ("clock", "kept"),
    [(("00", "01"), "? 00:01"), (("00", "20"), "2026-11-18 00:20"), (("23", "58"), "2026-11-18 23:58")],
)
def test_a_form_that_was_opened_before_midnight_does_not_guess_the_day(
    site: Desk, phone: Client, monkeypatch: pytest.MonkeyPatch, clock: tuple[str, str], kept: str
) -> None:
    """Opened at 23:50 and sent at 00:05: one minute past midnight was on either day, and is asked; it is kept all the same."""
    clock_of(monkeypatch)("2026-11-19T05:50:00Z")
    form = report_form(phone) | {"hour": clock[0], "minute": clock[1], "how": "all"}
    clock_of(monkeypatch)("2026-11-19T06:05:00Z")
    for _ in range(2):
        assert phone.post(PATH, form).status_code == 303
    assert [one.reported for one in reports(site)] == [kept]
    page = look(phone, PATH)
    assert ("The time is missing or not whole." in page.main()) is kept.startswith("?")
    if kept.startswith("?"):
        send(phone, day="2026-11-19", hour="00", minute="01", how="all")
        assert reports(site)[-1].instant == "2026-11-19T06:01:00Z"


def test_hours_are_said_so_that_morning_and_evening_cannot_be_mixed_up(phone: Client) -> None:
    hours = re.findall(r'<option value="(\d\d)">([^<]+)</option>', text_of(phone.get(PATH)))[:24]
    assert [value for value, _ in hours] == [f"{hour:02d}" for hour in range(24)]
    said = dict(hours)
    assert (said["09"], said["21"]) == ("9 am (9)", "9 pm (21)")
    assert (said["00"], said["12"]) == ("0 (after midnight)", "12 (noon)")
    assert "12 am" not in said.values()


# The night the clocks go back


def clocks_go_back(site: Desk, monkeypatch: pytest.MonkeyPatch) -> str:
    """K-103's page, read in New York in the night of 1 November 2026, when 1:00 to 1:59 came twice (tz database, America/New_York)."""
    from hourmark.web.pages import phone as pages

    real = pages.Visit.dues.fget  # type: ignore[attr-defined]

    def moved(visit: pages.Visit) -> tuple[e.Due, ...]:
        from dataclasses import replace

        return tuple(replace(one, zone="America/New_York") for one in real(visit))

    monkeypatch.setattr(pages.Visit, "dues", property(moved))
    import datetime as dt

    monkeypatch.setattr(phone_done, "_days", lambda *_: [dt.date(2026, 11, 1)])
    return "2026-11-01"


def test_an_hour_that_comes_twice_is_asked_for_and_never_guessed(
    site: Desk, phone: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    """01:40 in New York on 1 November 2026 is 05:40 UTC the first time and 06:40 UTC the second (law in force; tz database)."""
    assert "this hour comes twice" not in text_of(phone.get(PATH))
    day = clocks_go_back(site, monkeypatch)
    assert "One hour comes twice this night. If yours is that one: which?" in text_of(phone.get(PATH))
    words = send(phone, hour="01", minute="40", how="all")
    assert "That time came twice that night. Say which one it was." in words
    send(phone, hour="01", minute="40", how="all", which="second")
    assert [(one.reported, one.instant) for one in reports(site)] == [
        (f"{day} 01:40", None),
        (f"{day} 01:40 second", "2026-11-01T06:40:00Z"),
    ]
    assert "reports-differ" not in reports(site)[1].doubts


def test_which_is_not_written_beside_a_time_that_comes_once(
    site: Desk, phone: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    clocks_go_back(site, monkeypatch)
    send(phone, hour="03", minute="15", how="all", which="first")
    assert reports(site)[0].reported == "2026-11-01 03:15"


# A page that is void since


def test_what_was_injected_by_a_page_that_is_void_since_is_stored_and_flagged(site: Desk, phone: Client) -> None:
    """The slot goes from 09:00 to 09:45 after she injected at 21:00 by the old page: 36 h 45 min from then to the new slot."""
    form = report_form(phone)
    do(site, PlaceSlot({"id": "s3", "at": "2026-11-20 09:45"}, "theatre"), "theatre", AT_NINE_TEN)
    assert site.states().case(CASE).sheet is None
    assert phone.get(PATH).content == stranger().get(UNKNOWN).content
    typed = form | ALL_OF_IT | {"minute": "00"}
    answers = [phone.post(PATH, typed) for _ in range(2)]
    for answer in answers:
        assert answer.status_code == 200
        words = read(answer).main()
        assert "Your page does not count any more. Your answer is stored all the same." in words
        assert "Stored." in words
        assert NUMBER_AT_NIGHT in words
    (report,) = reports(site)
    assert (report.instant, report.sheet) == ("2026-11-19T03:00:00Z", 1)
    assert "sheet-void" in report.doubts
    (row,) = [one for one in site.states().board(AT_NINE_TEN) if (one.case, one.injection) == (CASE, "agonist")]
    assert str(row.to_slot) in ("36 h 45 min", "36 h 45")


def test_also_once_the_case_is_closed(site: Desk, phone: Client) -> None:
    form, second = report_form(phone), report_form(phone, 2)
    phone.post(SECOND, second | ALL_OF_IT)
    do(
        site,
        Confirm(CASE, "agonist", f"{DAY} 21:02", "America/Chicago", "she", "remembered", "all", "", sheet=1),
        "kowal",
        AT_NINE_TEN,
    )
    do(site, CloseCase(CASE, "over"), "kowal", AT_NINE_TEN)
    assert phone.post(PATH, form | ALL_OF_IT).status_code == 200
    assert [one.source for one in reports(site) if one.injection == "agonist"] == ["remembered", "her phone"]


def test_not_by_a_link_that_was_revoked_or_is_over(
    sign_in: SignIn, site: Desk, phone: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    form = report_form(phone)
    nobodys = stranger().post(PATH, form).content
    clock_of(monkeypatch)("2026-11-21T03:00:00Z")
    later = phone.post(PATH, form | ALL_OF_IT)
    assert later.status_code == 404
    clock_of(monkeypatch)(AT_NINE_TEN)
    give(sign_in)
    do(site, RevokeLink(CASE, 2, "her phone was stolen"), "kowal", AT_NINE_TEN)
    answer = phone.post(PATH, form | ALL_OF_IT)
    assert (answer.status_code, answer.content) == (404, nobodys), "revoked by hand ends the ones before as well"
    assert "Nothing was stored. If it is given: call, and say when." in text_of(answer)
    assert reports(site) == []


def test_a_link_whose_place_another_took_still_takes_a_report_and_nothing_else(
    sign_in: SignIn, site: Desk, phone: Client
) -> None:
    form = report_form(phone) | ALL_OF_IT
    give(sign_in)
    assert phone.get("/t/").status_code == phone.get(PATH).status_code == phone.post("/t/call/").status_code == 404
    before = heads(site)
    for _ in range(2):
        answer = phone.post(PATH, form)
        assert answer.status_code == 200
        assert "Your answer is stored all the same." in text_of(answer)
    assert written(site, before) == [f"case/{CASE} confirmed"]
    assert reports(site)[0].sheet == 1


def test_a_form_of_an_earlier_page_is_kept_as_of_that_page(
    sign_in: SignIn, site: Desk, phone: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The form of the first page is open while a second page is released and opened in the same browser."""
    from dataclasses import replace

    from hourmark.web.pages.phone import Visit

    form = report_form(phone) | ALL_OF_IT
    really = phone_done._form_of

    def by_the_second(visit: Visit, place: int, key: str) -> object:
        first = visit.state.sheets[0]
        second = replace(first, event=replace(first.event, version=2))
        state = replace(visit.state, sheets=(first, second))
        return really(replace(visit, state=state, given=replace(visit.given, sheet=2)), place, key)

    monkeypatch.setattr(phone_done, "_form_of", by_the_second)
    assert phone.post(PATH, form).status_code == 303
    assert reports(site)[0].sheet == 1


def test_all_of_it_with_words_of_her_own_is_not_all_of_it(site: Desk, phone: Client) -> None:
    words = send(phone, **ALL_OF_IT, words="a lot ran down my leg")
    (report,) = reports(site)
    assert (report.amount, report.doubts) == ("all of it, but see her words", ("not-all",))
    assert report.remains == "syringe: nothing, vial: something; her words: a lot ran down my leg"
    assert events(site, e.HelpAsked) == [
        e.HelpAsked("agonist", "her report", "all of it, but see her words; a lot ran down my leg")
    ]
    assert "How much: all of it, and your own words" in words
    assert board(site)["agonist"] == "problem"


@pytest.mark.parametrize(
    ("name", "typed", "kept"),
    [
        ("words", "I fell", "; her words: I fell"),
        ("syringe", "some", "syringe: something"),
        ("vial", "unsure", "vial: she is not sure"),
    ],
)
def test_words_and_what_is_left_are_an_answer_too(site: Desk, phone: Client, name: str, typed: str, kept: str) -> None:
    send(phone, **{name: typed})
    (report,) = reports(site)
    assert kept in report.remains


def test_nothing_given_is_not_given(site: Desk, phone: Client) -> None:
    """The order's window of K-103 ends at 22:00, which is 04:00 in UTC."""
    words = send(phone, hour="21", minute="05", how="wrong", reason="not-given")
    assert "Give 2 of 2" not in words
    listed = look(phone, "/t/").main()
    assert "How much: Nothing was given." in listed
    assert "Start: read the boxes" not in listed
    assert listed.count("10 min ago") == 2
    (waiting,) = site.states().case(CASE).waiting
    do(site, GiveHelp(CASE, waiting.seq, "give it now"), "kowal", AT_NINE_TEN)
    listed = look(phone, "/t/").main()
    assert listed.count("Start: read the boxes") == 2
    assert listed.count("10 min ago") == 2
    later = {"hour": "21", "minute": "09", "how": "all"}
    form = look(phone, f"{PATH}?anew=1").form(PATH)
    assert phone.post(PATH, form | later).status_code == 303
    assert [one.amount for one in reports(site)] == ["none of it", "all"]
    assert look(phone, "/t/").main().count("Start: read the boxes") == 1


def test_what_else_she_typed_stands_in_the_form_that_asks_again(phone: Client) -> None:
    send(phone, how="all", syringe="nothing", vial="some", words="it stung")
    page = look(phone, PATH)
    assert 'name="syringe" value="nothing" checked' in page.source
    assert 'name="vial" value="some" checked' in page.source
    assert ">it stung</textarea>" in page.source


def test_every_form_and_answer_says_of_which_medicine(phone: Client) -> None:
    assert "Medicine 1 of 2: leuprolide acetate" in look(phone, PATH).main()
    assert "Medicine 1 of 2: leuprolide acetate" in send(phone, **ALL_OF_IT)


def test_only_before_another_of_the_same_minute_she_may_go_on_unsent(phone: Client) -> None:
    go_on = "All of it is given, and this does not send? Go on with the next one."
    assert go_on in look(phone, PATH).main()
    assert go_on not in look(phone, SECOND).main()


def test_how_much_stands_beside_every_time_that_was_told(site: Desk, phone: Client) -> None:
    send(phone, hour="21", minute="05", how="wrong", reason="leaked")
    assert "How much: Some leaked out." in look(phone, "/t/").main()


def test_after_the_first_of_two_times_the_second_is_not_begun(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """K-105 injects its two medicines hours apart, Wednesday evening and night."""
    phone = her_phone(sign_in, "K-105")
    clock_of(monkeypatch)("2026-11-19T00:05:00Z")
    words = send(phone, hour="18", minute="02", how="all")
    assert "Stored." in words
    counted = any(due.follows for due in site.states().case("K-105").sheets[-1].event.dues)
    assert ("Call with this time now" in words) is counted
    assert "2 of 2" not in words


@pytest.mark.parametrize("reason", ["other-medicine", "not-given"])
def test_nobody_is_led_on_after_something_went_wrong(phone: Client, reason: str) -> None:
    words = send(phone, hour="21", minute="05", how="wrong", reason=reason)
    assert "Give 2 of 2" not in words


# When it cannot be stored


def test_when_it_cannot_be_stored_it_is_never_said_to_be(
    site: Desk, phone: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    form = report_form(phone) | ALL_OF_IT
    look(phone, "/t/")

    def full(*_: object) -> None:
        raise NotStored("The disk is full.", passing=False)

    with monkeypatch.context() as broken:
        broken.setattr(DatabaseStore, "writing", full)
        answer = phone.post(PATH, form)
    assert answer.status_code == 503
    page = read(answer)
    words = page.main()
    assert "Not stored yet" in words
    assert "We do not know whether your answer arrived." in words
    assert "If it is given, it counts. Do not give it again. If nothing is given yet, call now." in words
    assert "Try again now. If it fails again, call." in words
    assert NUMBER_AT_NIGHT in words
    assert "Stored." not in words
    kept = page.form(PATH)
    assert {name: kept[name] for name in form} == form
    assert phone.post(PATH, kept).status_code == 303
    assert len(reports(site)) == 1


def test_when_nothing_can_be_read_the_number_still_stands_there(
    site: Desk, phone: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    look(phone, "/t/")

    def away(*_: object) -> None:
        raise NotStored("The disk does not answer.", passing=False)

    monkeypatch.setattr(DatabaseStore, "head", away)
    for path in ("/t/", PATH):
        answer = phone.get(path)
        assert answer.status_code == 503
        assert "The page cannot be read now. Call before you mix or inject." in text_of(answer)
        assert NUMBER_AT_NIGHT in text_of(answer)


def test_a_form_whose_token_is_gone_stores_nothing_and_can_be_sent_again(
    sign_in: SignIn, site: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    ordinary = her_phone(sign_in)
    form = report_form(ordinary) | ALL_OF_IT
    strict = Client(SERVER_NAME="localhost", enforce_csrf_checks=True)
    strict.cookies["hourmark-page"] = ordinary.cookies["hourmark-page"].value
    answer = strict.post(PATH, form)
    assert answer.status_code == 403
    assert reports(site) == []
    source = text_of(answer)
    assert "If it is given, it counts. Do not give it again." in source
    token = re.search(r'csrfmiddlewaretoken" value="(\w+)"', source)
    assert token is not None
    again = read(answer).form(PATH) | {"csrfmiddlewaretoken": token[1]}
    assert strict.post(PATH, again, HTTP_ORIGIN="null").status_code == 303
    assert len(reports(site)) == 1


def test_long_words_are_cut_where_the_form_says_and_break_nothing(site: Desk, phone: Client) -> None:
    send(phone, hour="21", minute="05", how="wrong", reason="unsure", words="x" * 9_000)
    (asked,) = events(site, e.HelpAsked)
    assert isinstance(asked, e.HelpAsked)
    assert len(asked.about) < 1_100


@pytest.mark.parametrize("path", ["/t/0/done/", "/t/3/done/"])
def test_a_medicine_that_is_not_on_her_page_is_nowhere(phone: Client, path: str) -> None:
    assert phone.get(path).status_code == phone.post(path, {}).status_code == 404


def test_voiding_while_she_types_loses_nothing(site: Desk, phone: Client) -> None:
    form = report_form(phone)
    do(site, VoidSheet(CASE, 1, "by hand"), "kowal", AT_NINE_TEN)
    assert phone.post(PATH, form | ALL_OF_IT | {"minute": ""}).status_code == 200
    assert [one.doubts for one in reports(site)] == [("time-unreadable", "sheet-void")]
