"""Her report: when, how much, what is left. It is stored before anybody is told so, one time however often it is sent, and always kept."""

import datetime as dt
from dataclasses import dataclass, replace
from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import redirect

from hourmark.case import events as e
from hourmark.case.handover import NOON
from hourmark.case.injections import settled_since
from hourmark.case.night import ALL, AND, NONE, Confirm
from hourmark.case.phone import AskHelp
from hourmark.case.shapes import Recorded
from hourmark.case.streams import case_stream
from hourmark.clock import moment, parse_wall, parse_zone
from hourmark.desk import Done, recorded
from hourmark.finding import Finding, Unreadable
from hourmark.handout.language import Language
from hourmark.handout.walk import WalkInjection
from hourmark.ledger import KeyTaken
from hourmark.quantity import parse_volume
from hourmark.web.pages.phone import BY, HER_REPORT, NOT_SAID, Visit, phone_page
from hourmark.web.pages.phone_said import ALL_BUT, BARE, REASONS, SAID_ALL, WRONG, much_of, said_of, told_of
from hourmark.web.pages.phone_token import key_for
from hourmark.web.pages.phone_walk import leg_after, time_of

TOLD_BY, SOURCE = "she herself, on her phone", "her phone"
_MOST_WORDS = 1000
_HER_WORDS = "; her words: "
_ALONE = "; she wrote a number alone: "
_FIELDS = ("hour", "minute", "how", "reason", "amount", "words", "syringe", "vial")

LEFT = {"nothing": "nothing", "some": "something", "unsure": "she is not sure"}
"""What may be left in a syringe or a vial."""

TO_ASK = ("time-unreadable", "time-skipped", "time-repeated", "time-future", "before-release", "more-than-held")
"""Doubts about a report that she herself can settle by answering again; all others are for the clinic."""

_OF_AMOUNT = ("more-than-held", "amount-bare", "amount-not-said")
_OF_TIME = tuple(one for one in TO_ASK if one not in _OF_AMOUNT)


@dataclass(frozen=True, slots=True)
class Choice:
    """One answer that can be chosen."""

    value: str
    words: str


@phone_page("GET", "HEAD", "POST", reports=True)
def done(visit: Visit, place: int) -> HttpResponse:
    """The form; what is stored, once it is; and the form again where something in it has to be asked."""
    if visit.request.method == "POST":
        return _sent(visit, place)
    due = _due(visit, place)
    mine = _mine(visit, due)
    anew = visit.request.GET.get("anew") or visit.request.GET.get("wrong")
    if mine and not anew and any(one.seq == mine[-1].seq for one in visit.state.confirmations):
        return _stored(visit, place, due, mine)
    typed = {"how": "wrong"} if visit.request.GET.get("wrong") else {}
    return _form(visit, place, due, len(mine), typed)


def _due(visit: Visit, place: int) -> e.Due:
    if not 0 < place <= len(visit.dues):
        raise Http404
    return visit.dues[place - 1]


def _sent(now: Visit, place: int) -> HttpResponse:
    typed = {name: str(value).strip()[:_MOST_WORDS] for name, value in now.request.POST.items()}
    found = _form_of(now, place, typed.get("key", ""))
    if found is None:
        due = _due(now, place)
        return _form(now, place, due, len(_mine(now, due)), {}, said="done-old", status=422)
    visit, due, turn = found
    if not any(typed.get(name) for name in _FIELDS):
        return _form(visit, place, due, turn, typed, said="done-empty", status=422)
    answer = visit.perform(_report(visit, due, typed), _key(visit, due, turn))
    if isinstance(answer, KeyTaken):
        mine = _mine(visit, due)
        return _form(visit, place, due, len(mine), typed, said="done-differs", first=mine[turn], status=409)
    amount, words = _amount(typed), typed.get("words", "")
    if amount not in (ALL, NOT_SAID) or words:
        about = AND.join(filter(None, (amount, _alone(typed) and f"she wrote {_alone(typed)}", words)))
        key = key_for(visit.link, HER_REPORT, visit.given.sheet, due.injection, turn, about)
        visit.perform(AskHelp(visit.state.id, due.injection, HER_REPORT, about), key)
    assert isinstance(answer, Done)
    if not visit.leads or visit.given.sheet != now.given.sheet:
        return _stored(visit, place, due, _mine(visit, due), void=True)
    response = redirect("phone-done", place)
    response.status_code = 303
    return response


def _form_of(visit: Visit, place: int, key: str) -> tuple[Visit, e.Due, int] | None:
    """What a form was for: the visit by the page that it was made for, which may be an earlier one, the medicine, and the turn."""
    for sheet in reversed(visit.state.sheets):
        by_it = replace(visit, given=replace(visit.given, sheet=sheet.event.version))
        for due in by_it.dues[place - 1 : place] if place else ():
            for turn in range(len(_mine(by_it, due)) + 1):
                if key == _key(by_it, due, turn):
                    return by_it, due, turn
    return None


def _report(visit: Visit, due: e.Due, typed: dict[str, str]) -> Confirm:
    """What she says, as it is recorded: nothing of it is put right, and what she left out is left out."""
    day, hour, minute = (typed.get(name, "")[:most] or "?" for name, most in (("day", 10), ("hour", 2), ("minute", 2)))
    day = "?" if _is_of_yesterday(visit, due, typed.get("opened", ""), day, f"{hour}:{minute}") else day
    reported = f"{day} {hour}:{minute}"
    return Confirm(
        case=visit.state.id,
        injection=due.injection,
        reported=reported,
        zone=due.zone,
        told_by=TOLD_BY,
        source=SOURCE,
        amount=_amount(typed),
        remains=_remains(typed),
        which=typed["which"] if typed.get("which") in ("first", "second") and _repeats(reported, due.zone) else None,
        sheet=visit.given.sheet,
    )


def _is_of_yesterday(visit: Visit, due: e.Due, opened: str, day: str, clock: str) -> bool:
    """Whether the form was opened before midnight, and its clock time has been on this side of it as well: the day could be either."""
    here = visit.here(visit.now, due.zone).wall
    return "" < opened < str(here.date()) and day <= opened and clock <= f"{here:%H:%M}"


def _amount(typed: dict[str, str]) -> str:
    """How much, as the record says it: everything that she says of it, one beside the other.

    Words of her own beside "all of it" can mean anything: then it is not all of it. A number that stands alone is kept with her words,
    where nothing reads it as an amount.
    """
    how, reason = typed.get("how", ""), REASONS.get(typed.get("reason", ""), "")
    amount = BARE if _alone(typed) else typed.get("amount", "")
    if how == "all" and not amount and not reason:
        return ALL_BUT if typed.get("words") else ALL
    first = SAID_ALL if how == "all" else reason or (WRONG if how or amount in (ALL, NONE, NOT_SAID) else "")
    also = reason if how == "all" else ""
    return AND.join(filter(None, (first, also, amount))) or NOT_SAID


def _alone(typed: dict[str, str]) -> str:
    """What she wrote of how much, where it is a number and no word: it can be mL or a mark, and which of them nobody knows but she."""
    amount = typed.get("amount", "")
    words = any(one.isalpha() or one == "%" for one in amount)
    return amount if any(one.isnumeric() for one in amount) and not words else ""


def _remains(typed: dict[str, str]) -> str:
    """What is left, and her own words, that a report holds whatever becomes of the call that they ask for."""
    left = ", ".join(f"{name}: {LEFT.get(typed.get(name, ''), NOT_SAID)}" for name in ("syringe", "vial"))
    alone, words = _alone(typed), typed.get("words", "")
    return left + (f"{_ALONE}{alone}" if alone else "") + (f"{_HER_WORDS}{words}" if words else "")


def _key(visit: Visit, due: e.Due, turn: int) -> str:
    """The key of her first report of an injection, of her second after she was asked again, and so on: a reload has the same."""
    return key_for(visit.link, "done", visit.given.sheet, due.injection, turn)


def _mine(visit: Visit, due: e.Due) -> list[Recorded]:
    """What was sent of an injection from her phone, by this page, withdrawn or not, in order."""
    every = recorded(visit.desk.store, case_stream(visit.state.id))
    return [one for one in every if one.actor == BY and _is_of(one.event, due, visit)]


def _is_of(event: e.Event, due: e.Due, visit: Visit) -> bool:
    return isinstance(event, e.Confirmed) and event.injection == due.injection and event.sheet == visit.given.sheet


# What she sees


def _stored(visit: Visit, place: int, due: e.Due, mine: list[Recorded], *, void: bool = False) -> HttpResponse:
    last = mine[-1]
    report = last.event
    assert isinstance(report, e.Confirmed)
    told = [one for one in visit.state.confirmations if one.event.injection == due.injection]
    settled = any(one.seq == last.seq and settled_since(visit.state, one) for one in told)
    since = [one.event for one in told if one.seq > last.seq]
    asks = [(one, _figures(visit, due, one)) for one in _to_ask(report, due, since) if not void and not settled]
    walk = visit.walk
    said = {one.event.amount for one in told if not settled_since(visit.state, one)} - {NOT_SAID}
    told_since = any(one.amount != NOT_SAID for one in since)
    amounts = said if settled or told_since else {report.amount, *said}
    given = due.injection in told_of(visit)
    context: dict[str, Any] = {
        "place": place,
        "due": due,
        "void": void,
        "asks": asks,
        "at": visit.clock(last.at),
        "time": said_of(visit, report, due),
        "much": much_of(visit, report),
        "waits": (waits := any(amount != ALL for amount in amounts)),
        "keep": not waits and not settled,
        "differs": "reports-differ" in report.doubts,
        "counts_from": not void and any(one.follows and one.follows.injection == due.injection for one in visit.dues),
        "injection": _injection(visit, due),
        "next": leg_after(visit, walk, due.injection) if walk is not None and given and not void else None,
        "walk": walk,
    }
    if asks:
        context |= _fields(visit, due, len(mine), _typed_before(report))
    return visit.page("stored", **context)


def _to_ask(report: e.Confirmed, due: e.Due, since: list[e.Confirmed]) -> list[str]:
    """What she is asked again: the doubts of the record that are hers to settle, and what the record has no name for.

    Not what the clinic has written down since: it would ask her for what it knows.
    """
    parts = report.amount.split(AND)
    found = {
        **dict.fromkeys((one for one in report.doubts if one in TO_ASK), True),
        "more-than-held": "more-than-held" in report.doubts or any(_is_more_than_held(one, due) for one in parts),
        "amount-bare": BARE in parts,
        "amount-not-said": report.amount == NOT_SAID,
    }
    timed = any(one.instant is not None and "time-future" not in one.doubts for one in since)
    measured = any(one.amount != NOT_SAID and "more-than-held" not in one.doubts for one in since)
    known = {*(_OF_TIME if timed else ()), *(_OF_AMOUNT if measured else ())}
    return [name for name, is_so in found.items() if is_so and name not in known]


def _is_more_than_held(amount: str, due: e.Due) -> bool:
    """Whether a volume that stands beside a reason, where the record does not look at it, is more than her syringes hold."""
    return due.holds is not None and _is_volume(amount) and parse_volume(amount).value > parse_volume(due.holds).value


def _figures(visit: Visit, due: e.Due, doubt: str) -> dict[str, str]:
    """What goes with the reason why something is asked again."""
    match doubt:
        case "time-future":
            return {"clock": visit.clock(visit.now)}
        case "before-release":
            released = next(one.at for one in visit.state.sheets if one.event.version == visit.given.sheet)
            return {"clock": visit.clock(released)}
        case "more-than-held":
            return {"volume": visit.words.amount(due.holds or "")}
        case _:
            return {}


def _typed_before(report: e.Confirmed) -> dict[str, str]:
    """What she sent, to stand in the form once more: also a number alone, so that what she sends next is asked again or has its word."""
    day, _, clock = report.reported.partition(" ")
    hour, _, minute = clock[:5].partition(":")
    parts = report.amount.split(AND)
    reasons = {said: name for name, said in REASONS.items()}
    chosen = {ALL_BUT, SAID_ALL, WRONG, BARE, *reasons, *({report.amount} & {ALL, NOT_SAID})}
    all_of_it = report.amount == ALL or bool({ALL_BUT, SAID_ALL} & set(parts))
    how = "all" if all_of_it else "" if report.amount == NOT_SAID else "wrong"
    before, _, words = report.remains.partition(_HER_WORDS)
    left, _, alone = before.partition(_ALONE)
    amount = AND.join(filter(None, (*(one for one in parts if one not in chosen), alone)))
    names = {said: name for name, said in LEFT.items()}
    kept = {name: names.get(said, "") for name, _, said in (one.partition(": ") for one in left.split(", "))}
    which = clock[5:].strip()
    return {"day": day, "hour": hour, "minute": minute, "how": how, "amount": amount, "words": words} | {
        "reason": next((reasons[one] for one in parts if one in reasons), ""),
        "syringe": kept.get("syringe", ""),
        "vial": kept.get("vial", ""),
        "which": which,
    }


def _is_volume(text: str) -> bool:
    try:
        parse_volume(text)
    except Unreadable:
        return False
    return True


def _form(
    visit: Visit,
    place: int,
    due: e.Due,
    turn: int,
    typed: dict[str, str],
    said: str = "",
    first: Recorded | None = None,
    status: int = 200,
) -> HttpResponse:
    before = first.event if first is not None else None
    told, much = (said_of(visit, before, due), much_of(visit, before)) if isinstance(before, e.Confirmed) else ("", "")
    walk = visit.walk
    context = {
        "place": place,
        "due": due,
        "said": said,
        "told": told,
        "much": much,
        "walk": walk,
        "injection": _injection(visit, due),
        "follows": walk is not None and leg_after(visit, walk, due.injection) is not None,
    }
    return visit.page("done", status, **context, **_fields(visit, due, turn, typed))


def _injection(visit: Visit, due: e.Due) -> WalkInjection | None:
    return visit.walk.injection(due.injection) if visit.walk is not None else None


def _fields(visit: Visit, due: e.Due, turn: int, typed: dict[str, str]) -> dict[str, Any]:
    days, now = _days(visit, due), visit.here(visit.now, due.zone).wall
    words, injection = visit.words, _injection(visit, due)
    shown = injection.show if injection is not None else None
    return {
        "key": _key(visit, due, turn),
        "writes": True,
        "at_minute": time_of(visit, due.at, due.zone),
        "typed": typed,
        "days": [Choice(f"{day}", _day(day, days, words, small_hours=now.hour < NOON)) for day in days],
        "opened": str(now.date()),
        "hours": [Choice(f"{hour:02d}", _hour(hour, words)) for hour in range(24)],
        "minutes": [f"{minute:02d}" for minute in range(60)],
        "twice": any(
            _repeats(f"{day} {hour:02d}:{half}", due.zone)
            for day in days
            for hour in range(24)
            for half in ("00", "30")
        ),
        "reasons": [Choice(name, words.word(f"phone.done-{name}")) for name in REASONS],
        "left": [Choice(name, words.word(f"phone.done-{name}")) for name in LEFT],
        "nasal": due.route == "nasal",
        "marks": shown is not None and shown.scale == "marks",
    }


def _days(visit: Visit, due: e.Due) -> list[dt.date]:
    """The days on her clock since she has had this page, at most the last three: more than one only where midnight lies between."""
    released = next((one.at for one in visit.state.sheets if one.event.version == visit.given.sheet), visit.now)
    first, last = (visit.here(at, due.zone).wall.date() for at in (released, visit.now))
    days = max(0, min(2, (last - first).days))
    return [last - dt.timedelta(days=back) for back in range(days, -1, -1)]


def _day(day: dt.date, days: list[dt.date], words: Language, *, small_hours: bool) -> str:
    """A day to choose; where midnight lies just between, on which side of it."""
    if len(days) > 1 and day in days[-2:] and small_hours:
        name = "phone.day-after-midnight" if day == days[-1] else "phone.day-before-midnight"
        return words.word(name, date=words.date(day))
    return words.date(day)


def _hour(hour: int, words: Language) -> str:
    if hour in (0, 12):
        return words.word("phone.done-hour-noon" if hour else "phone.done-hour-midnight")
    return f"{(hour - 1) % 12 + 1} {words.clock.am if hour < 12 else words.clock.pm} ({hour})"


def _repeats(reported: str, zone: str) -> bool:
    """Whether a clock time happens twice that night."""
    try:
        found = moment(parse_wall(reported), parse_zone(zone))
    except Unreadable:
        return False
    return isinstance(found, Finding) and found.code == "time-repeated"
