"""The morning list: for theatre, embryology and anaesthesia, what really happened before each slot, from what was recorded."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import chain
from typing import Any

from hourmark.case import events as e
from hourmark.case.asked import same_person
from hourmark.case.board import AFTER_THE_CHECK, DOUBTS, MINUTE_NOT_KNOWN, REPORTED_AFTER_CLOSING, doubt_words
from hourmark.case.by_order import ByOrder, by_order
from hourmark.case.day import DayState, RulesState
from hourmark.case.events import ALL, NONE
from hourmark.case.injections import (
    Report,
    after_closing,
    followed,
    in_window,
    on_no_page,
    open_doubt,
    reports,
    settling,
    standings,
)
from hourmark.case.night import AND
from hourmark.case.results import InFact, is_volume, result_lines
from hourmark.case.state import CaseState, Kept
from hourmark.case.trouble import nurse_words, read_report
from hourmark.case.watch import ladder
from hourmark.clock import Span, Zone, elapsed, moment_from_utc, parse_span, shifted
from hourmark.finding import Unreadable
from hourmark.formulary import drug
from hourmark.incident import KIND_WORDS, Kind
from hourmark.quantity import Dose


@dataclass(frozen=True, slots=True)
class Given:
    """One injection as it was: `at` None where no time is known, and `to_slot` None with it; `due` while it is still to come.

    `reported` where somebody said something of it, whatever that was. `unsaid` is why the minute of an injection without a page does not
    stand here, where it does not.
    """

    medicine: str
    due: e.Instant | None
    at: e.Instant | None
    to_slot: Span | None
    in_window: bool | None
    reported: bool
    remarks: tuple[str, ...]
    unsaid: str = ""


@dataclass(frozen=True, slots=True)
class Noted:
    """Something that was written down: `what` it is, since when, and its `words`, which may hold names and numbers.

    A list that goes out, and whoever does not read cases in the course of their work, has all of it but the words.
    """

    what: str
    at: e.Instant | None = None
    words: str = ""


@dataclass(frozen=True, slots=True)
class Line:
    """One slot with its case, and what its person was given; `told` is who was told of it, `open` are problems that nobody has settled.

    `settled` are those that somebody has; `trigger` says by which kind of drug; `fasting` from when she has nothing solid and nothing to drink and when she arrives, by the
    signed rules; `changes` are pages that were voided; `theatre` what the order and her details hold for who works there; `results` those
    of the morning; `needle` is said where nobody knows when something went in.
    """

    slot: str
    at: e.Instant
    room: str | None
    case: str
    given: tuple[Given, ...]
    told: tuple[Noted, ...]
    open: tuple[Noted, ...]
    trigger: str = ""
    fasting: tuple[tuple[str, e.Instant], ...] = ()
    changes: tuple[Noted, ...] = ()
    theatre: tuple[str, ...] = ()
    results: tuple[str, ...] = ()
    needle: str = ""
    settled: tuple[Noted, ...] = ()


def morning_list(
    day: DayState,
    cases: Mapping[str, CaseState],
    rules: RulesState,
    now: e.Instant,
    in_fact: Mapping[str, Mapping[str, InFact]] | None = None,
) -> list[Line]:
    """The lines of a theatre day as known at `now`, in the order of its slots; slots that are nobody's are left out.

    A case that is not among `cases` could not be read: its line says so, and hides no other. `in_fact` holds by case and injection what really went in by the reports of trouble.
    """
    lines = []
    for name, case in day.cases.items():
        placed, state, went_in = day.slots[name], cases.get(case), (in_fact or {}).get(case) or {}
        room = placed.slot.get("room")
        if state is None:
            lines.append(_unread(name, placed.instant, str(room) if room is not None else None, case))
            continue
        lines.append(
            Line(
                slot=name,
                at=placed.instant,
                room=str(room) if room is not None else None,
                case=case,
                given=tuple(_given(state, placed.instant, now, rules, went_in)),
                told=tuple(_told(state, rules)),
                open=tuple(_open(state)),
                trigger=_trigger(state),
                fasting=tuple(_fasting(placed.instant, rules)),
                changes=tuple(_changes(state)),
                theatre=tuple(_for_theatre(state)),
                results=result_lines(state, went_in),
                needle=_at_the_needle(state, now, rules, went_in),
                settled=tuple(_settled(state, rules)),
            )
        )
    return sorted(lines, key=lambda line: (line.at, line.slot))


def _unread(slot: str, at: e.Instant, room: str | None, case: str) -> Line:
    """The line of a case that cannot be read."""
    nothing = Given(UNREAD, None, None, None, None, False, ())
    return Line(slot, at, room, case, (nothing,), (), (), needle=f"nothing known: {FIRST_NEEDLE}")


def morning_words(lines: list[Line], zone: Zone) -> tuple[str, ...]:
    """The list as it is read: one paragraph a case, by ids alone, without the words of what was noted, times on the clinic's clock."""
    return tuple(words for line in lines for words in _words(line, zone))


def _trigger(case: CaseState) -> str:
    """By which kind of drug, from the page she had last."""
    dues = case.sheets[-1].event.dues if case.sheets else ()
    kinds = dict.fromkeys(_kind(due.medicine) for due in dues)
    return " and ".join(kinds) or "no page released"


def _kind(medicine: str) -> str:
    try:
        return str(drug(medicine).kind)
    except Unreadable:
        return medicine


_BEFORE_THE_SLOT = {
    "fasting_solids": "nothing solid from",
    "fasting_clear": "nothing to drink from",
    "arrival": "arrives",
}


def _fasting(slot: e.Instant, rules: RulesState) -> Iterator[tuple[str, e.Instant]]:
    """Each signed span before the slot as it now is; what nobody signed is not said."""
    signed: Any = rules.clinic.get("rules") or {}
    for name, words in _BEFORE_THE_SLOT.items():
        if name in signed:
            yield words, shifted(slot, -parse_span(signed[name]).minutes)


def _told(case: CaseState, rules: RulesState) -> Iterator[Noted]:
    """Who was told, by the words of the signed ladder; whoever is not on it is somebody."""
    for one in case.escalations:
        who = _by_the_ladder(one.event, case, rules)
        what = f"told {who}" if one.event.reached else f"tried to tell {who}, not reached"
        yield Noted(what, one.at, f"{one.event.told}: {one.event.about}")


def _by_the_ladder(told: e.Escalated, case: CaseState, rules: RulesState) -> str:
    """The words of the line that it answers, as they were when that was owed; else those under which somebody is on the ladder."""
    rungs = ladder(rules)
    then = (told.tell,) if told.tell is not None else ()
    owed = (one.event.tell for one in case.owed if (one.event.injection, one.event.rung) == (told.injection, told.rung))
    listed = (rung.tell for rung in rungs if rung.number == told.rung)
    named = (rung.tell for rung in rungs if same_person(rung.tell, told.told))
    return next(chain(then, owed, listed, named), "somebody")


def _open(case: CaseState) -> Iterator[Noted]:
    """Everything that stands on the board as a problem, each with its entry and its kind; and what nobody has seen of a closed case."""
    for problem in case.problems:
        yield Noted(_numbered(_kind_of(case, problem), case, problem), problem.at, nurse_words(problem.event.happened))
    if case.closed:
        yield from (Noted(REPORTED_AFTER_CLOSING, late.at, REPORTED_AFTER_CLOSING) for late in after_closing(case))
        return
    for waits in case.waiting:
        words = f"she asks for a call, {waits.event.where}: {waits.event.about}"
        yield Noted(_numbered(_wants(waits.event), case, waits), waits.at, words)
    troubled = {problem.event.injection for problem in case.problems}
    doubted = [one.reports[-1] for one in standings(case) if one.current and open_doubt(case, one)]
    for last in (*doubted, *on_no_page(case)):
        if last.event.injection not in troubled:
            yield Noted(_numbered("what was reported is in doubt", case, last), last.at, doubt_words(last.event))


def _settled(case: CaseState, rules: RulesState) -> Iterator[Noted]:
    """Everything that was settled: which kind of problem, since when it is over, and by whom that was decided."""
    for one in case.incidents:
        if one.event.settled:
            by = _decider(one.event.decided_by, case, rules)
            what = f"{_numbered(_kind_of(case, one), case, one)}, decided by {by}"
            words = f"{one.event.decision} ({one.event.decided_by}); it was: {nurse_words(one.event.happened)}"
            yield Noted(what, one.at, words)


def _kind_of(case: CaseState, one: Kept[e.IncidentNoted]) -> str:
    """The kind of a problem, or of the one that it settled; whatever else was written may name somebody."""
    settled = (each for each in case.incidents if each.seq == one.event.settles)
    read = (read_report(each.event.happened) for each in (one, *settled))
    return next(
        (KIND_WORDS[Kind(known[0])] if known[0] in set(Kind) else known[0] for known in read if known), "a problem"
    )


def _wants(asked: e.HelpAsked) -> str:
    """Why she asks for a call, where she chose it from a list: words of her own stay with those who read the case."""
    chosen = "".join(f", {one}" for one in asked.about.split(AND) if one in FIXED_WORDS)
    if asked.where == AT_THE_BOXES:
        return "she asks for a call: what lies before her is not the same as on her page"
    return f"she asks for a call{chosen}"


def _numbered(words: str, case: CaseState, one: Kept[Any]) -> str:
    """The words with the injection, where it is one of her page or order, and the number of the entry in her case."""
    order: Any = case.order.event.order if case.order is not None else {}
    dues = (due.injection for sheet in case.sheets for due in sheet.event.dues)
    known = {*dues, *(str(each["id"]) for each in order.get("injections") or ())}
    name = one.event.injection
    return f"{words}{f', {name}' if name in known else ''} (entry {one.seq})"


def _decider(name: str, case: CaseState, rules: RulesState) -> str:
    """Who decided, without a name: the prescriber of an order, a line of the signed ladder, or somebody."""
    if any(same_person(str(order.event.order.get("signed_by")), name) for order in case.orders):
        return "the prescriber of the order"
    return next((rung.tell for rung in ladder(rules) if same_person(rung.tell, name)), "somebody")


FIXED_WORDS = frozenset(
    {
        "some leaked out",
        "only a part went in",
        "stopped at another line",
        "trouble with the needle",
        "it may have been another medicine",
        "she is not sure",
        "something went wrong",
        "all of it, but see her words",
        "all of it, she says",
        "a number without mL or mark",
        "not said",
    }
)
"""What can be chosen from a list of how much went in, and so names nobody."""

AT_THE_BOXES = "the boxes"
"""Where she stands when what lies before her differs from her page."""

_RESTS_ON = {"details": "her details", "slot": "the slot", "order": "the order", "kit": "the kit"}


def _changes(case: CaseState) -> Iterator[Noted]:
    for sheet in case.sheets:
        if sheet.voided is not None:
            parts = dict.fromkeys(_RESTS_ON.get(name, "the clinic's rules") for name in sheet.voided.event.changed)
            because = f", {' and '.join(parts)} changed" if parts else ""
            yield Noted(f"page {sheet.event.version} was voided{because}", sheet.voided.at, sheet.voided.event.why)
    if case.sheets and case.sheet is None:
        yield Noted("no page holds now")
    if case.closed:
        yield Noted("the case was closed", case.closed_at)
    if any(order.awaits_signature for order in case.orders):
        yield Noted("an order by telephone awaits its signature")


def _for_theatre(case: CaseState) -> Iterator[str]:
    for name, words in (("follicles", "follicles counted"), ("bmi", "BMI")):
        if name in case.details:
            yield f"{words}: {case.details[name]}"
    allergies: Any = case.details.get("allergies") or []
    yield f"allergies: {', '.join(allergies)}" if allergies else "allergies: none entered"


ASK_ABOUT_IT = "ask the nurse in charge, or see the board"
"""Where what is open is said, and not on the list."""

UNREAD = "its record is damaged, ask the nurse in charge"
"""What stands in the place of her injections where nothing of a case can be read."""

FIRST_NEEDLE = (
    "ask the prescriber before it, with the morning's results; where the first follicles of one ovary give no egg, stop, have hCG and LH"
    " read, and leave the other ovary until the prescriber has decided"
)
"""What theatre is told where nobody knows whether or when something went in.

Source: Snaifer et al. 2008, a birth after an empty first ovary (case report, source not read in full); else common practice, no source.
"""


def _at_the_needle(case: CaseState, now: e.Instant, rules: RulesState, in_fact: Mapping[str, InFact]) -> str:
    """What to do where an injection was due and its time, or its amount, is not known: by what was reported, and by nothing else.

    What was settled of it is named, and read by nobody here: its words are whose they are.
    """
    dues = [(due.injection, due.at) for due in (case.sheets[-1].event.dues if case.sheets else ())]
    dues += [(one.injection, one.at) for one in by_order(case, rules, now) if one.at is not None]
    unknown = []
    for name in dict.fromkeys(name for name, at in dues if at <= now):
        if not _is_known(case, name):
            said = reports(case, name)
            over = settling(case, said[-1]) if said else None
            exactly = _exactly(said, in_fact.get(name))
            if exactly is None or over is None:
                since = f", settled since by entry {over.seq}: read the case" if over is not None else ""
                unknown.append(f"{name} {'not as ordered' if exactly is not None else 'not known'}{since}")
    return f"{' and '.join(unknown)}: {FIRST_NEEDLE}" if unknown else ""


def _exactly(said: tuple[Report, ...], in_fact: InFact | None) -> Dose | None:
    """What went in at a known time by a report of trouble, where that was computed exactly, and is something."""
    known = bool(said) and said[-1].event.instant is not None and in_fact is not None and not in_fact.instead
    dose = in_fact.dose if known and in_fact is not None else None
    return dose if dose is not None and dose.value else None


def _is_known(case: CaseState, injection: str) -> bool:
    said = reports(case, injection)
    return bool(said) and said[-1].event.instant is not None and said[-1].event.amount == ALL


def _given(
    case: CaseState, slot: e.Instant, now: e.Instant, rules: RulesState, in_fact: Mapping[str, InFact]
) -> Iterator[Given]:
    if not case.sheets:
        yield from _without_a_page(case, now, rules)
    ordered = {one.injection: one for one in by_order(case, rules, now)} if case.sheets else {}
    for one in standings(case):
        new = ordered.pop(one.due.injection, None) if one.current else None
        if new is not None and not one.reports and now < one.due.at:
            yield _by_order_alone(case, new, "by the order", ("no page holds now",))
            continue
        due, at = one.due, one.given_at
        told = followed(case, one.reports[-1]) or due if one.reports else due
        holds = one.sheet.voided is None
        dose = _exactly(one.reports, in_fact.get(due.injection)) if one.current else None
        by_trouble = (f"by the report of trouble {dose} went in",) if dose is not None and str(dose) != due.dose else ()
        yield Given(
            medicine=f"{told.medicine} {told.dose}, {told.route}"
            + ("" if one.current else f", by page {one.sheet.event.version}"),
            due=due.at if now < due.at and holds else None,
            at=at,
            to_slot=elapsed(at, slot) if at is not None else None,
            in_window=in_window(case, due, at) if at is not None else None,
            reported=bool(one.reports),
            remarks=(*_remarks(one.reports), *by_trouble)
            if holds or one.reports or now >= due.at
            else ("no page holds now",),
        )
    for new in ordered.values():
        if not new.reported:
            yield _by_order_alone(case, new, "on no page; by the order")
    known = {one.due.injection for one in standings(case)}
    for name in dict.fromkeys(one.event.injection for one in on_no_page(case)):
        said = tuple(one for one in on_no_page(case) if one.event.injection == name)
        at = said[-1].event.instant
        to_slot = elapsed(at, slot) if at is not None else None
        where = "on no page that held then" if name in known else "on no page that holds"
        yield Given(f"{name}, {where}", None, at, to_slot, None, True, _remarks(said))


def _without_a_page(case: CaseState, now: e.Instant, rules: RulesState) -> Iterator[Given]:
    """What the order has of a case without a page, as far as nobody has spoken of it."""
    ordered = [one for one in by_order(case, rules, now) if not one.reported]
    if not ordered and not on_no_page(case):
        yield Given("no page was released", None, None, None, None, False, ())
    for one in ordered:
        yield _by_order_alone(case, one, "no page was released; by the order")


def _by_order_alone(case: CaseState, one: ByOrder, begins: str, remarks: tuple[str, ...] = ()) -> Given:
    """An injection as the order has it, where no page holds."""
    overdue = one.overdue and not one.past and not case.closed
    return Given(
        f"{begins} {one.medicine}, {one.route}",
        due=one.at if one.said and not one.past else None,
        at=None,
        to_slot=None,
        in_window=None,
        reported=False,
        remarks=(*remarks, *(("the call is overdue",) if overdue else ())),
        unsaid="" if one.said or one.past else AFTER_THE_CHECK if one.at is not None else MINUTE_NOT_KNOWN,
    )


def _remarks(reports: tuple[Report, ...]) -> tuple[str, ...]:
    """What is to be said of the last report. Words that somebody used may name somebody: a volume and chosen words alone are told on."""
    remarks: list[str] = []
    for one in reports[-1:]:
        if one.event.amount == NONE:
            remarks.append("none of it went in")
        elif one.event.amount != ALL:
            remarks += [
                _told_on(part) for part in one.event.amount.split(AND) if is_volume(part) or part in FIXED_WORDS
            ]
            remarks.append(DOUBTS["not-all"])
        remarks += [DOUBTS.get(doubt, doubt) for doubt in one.event.doubts if doubt != "not-all"]
    return tuple(remarks)


def _told_on(part: str) -> str:
    return part if part in FIXED_WORDS else f"amount: {part}"


def _words(line: Line, zone: Zone) -> Iterator[str]:
    yield f"{_clock(line.at, zone)}  {line.room or 'no room'}  case {line.case}  (slot {line.slot})"
    yield f"    trigger: {line.trigger}"
    for one in line.given:
        if one.at is None and one.reported:
            yield f"    {one.medicine}: reported, the time is NOT KNOWN"
        elif one.at is None and one.due is not None:
            yield f"    {one.medicine}: due {_clock(one.due, zone)}"
        elif one.unsaid:
            yield f"    {one.medicine}: {one.unsaid}"
        elif one.at is None:
            yield f"    {one.medicine}: time UNKNOWN, nobody has said that it was given or not"
        else:
            window = {True: "", False: ", OUTSIDE the order's window", None: ""}[one.in_window]
            yield f"    {one.medicine}: {_clock(one.at, zone)}, {one.to_slot} to the slot{window}"
        yield from (f"      {remark}" for remark in one.remarks)
    if line.fasting:
        yield "    " + "; ".join(f"{words} {_clock(at, zone)}" for words, at in line.fasting)
    yield f"    {'; '.join(line.theatre)}"
    yield from (f"    results: {result}" for result in line.results)
    if line.needle:
        yield f"    AT THE FIRST NEEDLE: {line.needle}"
    for change in line.changes:
        yield f"    changed: {change.what}" + (f", {_clock(change.at, zone)}" if change.at else "")
    yield from (f"    {one.what}, {_clock(one.at, zone)}" for one in line.told if one.at)
    yield from (f"    OPEN since {_clock(one.at, zone)}: {one.what}; {ASK_ABOUT_IT}" for one in line.open if one.at)
    yield from (f"    SETTLED {_clock(one.at, zone)}: {one.what}; read the case" for one in line.settled if one.at)


def _clock(at: e.Instant, zone: Zone) -> str:
    here = moment_from_utc(at, zone)
    return f"{here.wall:%a %d %b %H:%M}" + (f" {here.which.upper()}" if here.which else "")
