"""Tonight as it stands at a moment: one row an injection, from what was recorded and nothing else."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace

from hourmark.case import events as e
from hourmark.case.by_order import ByOrder, by_order, tell_by_span
from hourmark.case.day import NO_RULES, RulesState
from hourmark.case.injections import (
    Report,
    Standing,
    after_closing,
    current,
    given_at,
    in_window,
    is_given,
    is_late,
    on_no_page,
    open_doubt,
    reports,
    settling,
    standings,
    told_since,
    withdrawn_since,
)
from hourmark.case.night import ALL, NONE, either_moment
from hourmark.case.sheets import told
from hourmark.case.state import CaseState, Kept, SheetStanding
from hourmark.case.trouble import computed, nurse_words
from hourmark.case.watch import Reached, Rung, reached
from hourmark.clock import Span, elapsed, shifted


@dataclass(frozen=True, slots=True)
class Row:
    """One injection on the board; of a case that has no sheet each injection of its order, and where it has no order the case alone.

    Without a sheet that holds `due` is the minute by the order (`by_order`), where it may be read, `tell_by` until when she has to be told, and
    `overdue` whether that is past, `past` whether the minute itself is; `turn` is where such a row belongs among those with a minute.
    `place` counts within the page ("1 of 2"); `since` is when the state began; `to_slot` the hours from the injection, given or due,
    to the slot as it now is. `why` says more, in words, and `reported` what was said last of it. `owed` is the highest rung of the
    ladder for which nobody was told; `entry` is that of a report, call or problem that is on no page; `closed` where the case is, and
    was spoken of since.
    """

    case: str
    state: str
    why: str = ""
    place: str = ""
    medicine: str = ""
    take: str = ""
    due: e.Instant | None = None
    since: e.Instant | None = None
    to_slot: Span | None = None
    injection: str = ""
    sheet: int | None = None
    given: str = ""
    reported: str = ""
    zone: str = ""
    owed: Reached | None = None
    entry: int | None = None
    closed: bool = False
    by_order: bool = False
    tell_by: e.Instant | None = None
    overdue: bool = False
    past: bool = False
    turn: e.Instant = field(default="", repr=False)


def board(
    cases: Iterable[CaseState], now: e.Instant, rungs: tuple[Rung, ...] = (), rules: RulesState = NO_RULES
) -> list[Row]:
    """Every case's rows: what is unknown or in trouble first, then by the minute at which it is due, what is given last.

    Whoever should have been told by now, and has no page, comes before all of them. Of a closed case only what was reported after it was
    closed. `rungs` is the clinic's signed ladder, `rules` its signed rules.
    """
    rows = [
        row
        for case in cases
        for row in (_closed(case, now, rungs, rules) if case.closed else _rows(case, now, rungs, rules))
    ]
    return sorted(rows, key=_turn)


PROBLEM, UNKNOWN, EARLY, LATE, NO_SHEET, DUE, MIXING, TOLD, TO_TELL, SETTLED, GIVEN = (
    "problem",
    "unknown since",
    "given early",
    "given late",
    "no sheet",
    "due",
    "mixing",
    "told",
    "to tell",
    "settled",
    "given",
)
REPORTED_AFTER_CLOSING = "reported after the case was closed"
WITHDRAWN_AFTER_CLOSING = "its report was withdrawn after the case was closed"
_WEIGHT = {PROBLEM: 0, UNKNOWN: 0, EARLY: 0, LATE: 0, SETTLED: 2, GIVEN: 2}


def _turn(row: Row) -> tuple[int, str, str]:
    """Trouble first, that without a minute before all; then by the minute, what is over last.

    A case without a page is never behind what is later than it: where nothing says when it is, it comes before all that is to come.
    """
    weight = _WEIGHT.get(row.state, 1)
    if row.overdue or row.past:
        return -1, row.due or "", row.case
    if row.state == NO_SHEET:
        return weight, row.due or row.turn, row.case
    return weight, row.due or ("~" if weight else ""), row.case


NEAR = 60
"""Before so many minutes to its minute, a page that is void is somebody's trouble, where mixing has no signed time (our own rule)."""


def _rows(case: CaseState, now: e.Instant, rungs: tuple[Rung, ...], rules: RulesState) -> Iterator[Row]:
    yield from _beside_the_page(case)
    if not case.sheets:
        yield from _without_a_page(case, now, rules)
        return
    all_of_them = standings(case)
    page = [one for one in all_of_them if one.current]
    given = sum(is_given(case, one) for one in page)
    some = f"{given} of {len(page)} given" if 0 < given < len(page) else ""
    owed = {(one.sheet, one.injection): one for one in reached(case, rungs, now) if not one.told}
    ordered = {one.injection: one for one in by_order(case, rules, now)}
    for one in all_of_them:
        due, version = one.due, one.sheet.event.version
        state, since, why = _state(case, one, now)
        on_page = f"{one.place} of {len(one.sheet.event.dues)}"
        row = Row(
            case=case.id,
            state=state,
            why="; ".join(filter(None, (why, some if one.current else "", _counted_from(case, one, now)))),
            place=on_page if one.current else f"{on_page}, page {version}",
            medicine=f"{due.medicine} {due.dose}",
            take=due.take,
            due=due.at,
            since=since,
            to_slot=_to_slot(case, one.given_at or due.at),
            injection=due.injection,
            sheet=version,
            given=some if one.current else "",
            reported=_reported(one.reports),
            zone=due.zone,
            owed=owed.get((version, due.injection)),
        )
        new = ordered.get(due.injection) if one.current else None
        yield _as_now_ordered(case, row, new, rules, now) if new is not None else row
    for new in ordered.values():
        if new.injection not in [one.due.injection for one in page]:
            yield _by_order_alone(case, new, "on no page", rules, now)


def _without_a_page(case: CaseState, now: e.Instant, rules: RulesState) -> Iterator[Row]:
    """A case that has no page: each injection of its order with its minute by that, where it may be read; else the case alone."""
    why, ordered = _why_no_sheet(case), by_order(case, rules, now)
    if not ordered:
        yield Row(case.id, NO_SHEET, f"{why}; {MINUTE_NOT_KNOWN}")
    yield from (_by_order_alone(case, one, why, rules, now) for one in ordered)


def _by_order_alone(case: CaseState, one: ByOrder, why: str, rules: RulesState, now: e.Instant) -> Row:
    """An injection that the last page has not, or of a case without any."""
    return Row(
        case=case.id,
        state=NO_SHEET,
        why="; ".join((why, _of_its_minute(one))),
        place=one.place,
        medicine=one.medicine,
        due=one.at if one.said else None,
        to_slot=_to_slot(case, one.at) if one.said and one.at is not None else None,
        injection=one.injection,
        reported=_reported(reports(case, one.injection)),
        zone=one.zone,
        by_order=one.said,
        tell_by=one.tell_by if one.said else None,
        overdue=one.overdue,
        past=one.past,
        turn=_least(one, rules, now),
    )


def _as_now_ordered(case: CaseState, row: Row, new: ByOrder, rules: RulesState, now: e.Instant) -> Row:
    """A row of a page that is void, where its order holds: the page's own minute and medicine may be others than those by the order.

    Where she may be at it by the old page, or its minute has passed in silence, that stays in front.
    """
    if row.reported or row.state == UNKNOWN:
        return row
    tell_by = new.tell_by if new.said else None
    if row.state != NO_SHEET:
        why = "; ".join(filter(None, (row.why, PAST_BY_THE_ORDER if new.past else "")))
        return replace(row, why=why, tell_by=tell_by, overdue=new.overdue, past=new.past)
    return replace(
        row,
        why=f"{row.why}; {_of_its_minute(new)}",
        medicine=new.medicine,
        take="",
        due=new.at if new.said else None,
        to_slot=_to_slot(case, new.at) if new.said and new.at is not None else None,
        zone=new.zone,
        by_order=new.said,
        tell_by=tell_by,
        overdue=new.overdue,
        past=new.past,
        turn=min(row.due or "", _least(new, rules, now)),
    )


def _least(one: ByOrder, rules: RulesState, now: e.Instant) -> e.Instant:
    """Where it belongs: of a minute that nobody may read yet, that she need not be told of it yet is all that its place may say."""
    if one.reported:
        return "~"
    return shifted(now, tell_by_span(rules) or 0) if one.at is not None and not one.past else ""


MINUTE_NOT_KNOWN = "no page: minute not known"
BY_THE_ORDER = "no page: the minute is by the order"
REPORTED = "no page: it was reported, in a row of its own: ask the prescriber before she is told to inject"
"""What stands in the place of a minute of which nobody is to tell her: whoever reads it would have her inject a second time."""

PAST_BY_THE_ORDER = "its minute by the order is past, and nobody has said whether it was given"
AFTER_THE_CHECK = "no page: its minute stands here once the second check agrees"
"""What stands in the place of a minute that nobody may read yet, since a colleague has still to find it blind."""


def _of_its_minute(one: ByOrder) -> str:
    if one.reported:
        return REPORTED
    if one.at is None:
        return MINUTE_NOT_KNOWN
    past = PAST_BY_THE_ORDER if one.past else ""
    told = "she has read it back" if one.told else ""
    return "; ".join(filter(None, (past, told, BY_THE_ORDER if one.said else AFTER_THE_CHECK)))


def _closed(case: CaseState, now: e.Instant, rungs: tuple[Rung, ...], rules: RulesState) -> Iterator[Row]:
    """What was heard of a closed case after it was closed, until somebody has seen it; and what is silent since a report was withdrawn."""
    silent = {(one.due.injection, one.sheet.event.version) for one in withdrawn_since(case)}
    for row in _rows(replace(case, closed=False), now, rungs, rules) if silent else ():
        if (row.injection, row.sheet) in silent:
            yield replace(row, why="; ".join(filter(None, (WITHDRAWN_AFTER_CLOSING, row.why))), closed=True)
    late = {one.seq: one.at for one in after_closing(case)}
    for one in standings(case):
        if since := [late[report.seq] for report in one.reports if report.seq in late]:
            version, (state, _, why) = one.sheet.event.version, _as_reported(case, one)
            on_page = f"{one.place} of {len(one.sheet.event.dues)}"
            yield Row(
                case=case.id,
                state=PROBLEM,
                why="; ".join(filter(None, (REPORTED_AFTER_CLOSING, state if state in (EARLY, LATE) else "", why))),
                place=on_page if one.current else f"{on_page}, page {version}",
                medicine=f"{one.due.medicine} {one.due.dose}",
                due=one.due.at,
                since=since[0],
                to_slot=_to_slot(case, one.given_at or one.due.at),
                injection=one.due.injection,
                sheet=version,
                reported=_reported(one.reports),
                zone=one.due.zone,
                closed=True,
            )
    for report in on_no_page(case):
        if report.seq in late:
            row = _on_no_page(case, report)
            yield replace(row, why=f"{REPORTED_AFTER_CLOSING}; {row.why}", closed=True)
    for problem in case.problems:
        yield replace(_problem(case, problem), closed=True)


def _on_no_page(case: CaseState, one: Report) -> Row:
    name, why = one.event.injection, doubt_words(one.event) or "her page has no such injection"
    return Row(
        case=case.id,
        state=PROBLEM,
        why=why,
        medicine=name,
        since=one.at,
        injection=name,
        sheet=one.event.sheet,
        reported=_reported((one,)),
        entry=one.seq,
    )


def _beside_the_page(case: CaseState) -> Iterator[Row]:
    """Reports, calls and problems of something that is on no page: they are never left out."""
    known = {due.injection for due in case.sheets[-1].event.dues} if case.sheets else set()
    yield from (_on_no_page(case, one) for one in on_no_page(case))
    for waits in case.waiting:
        if not _on_her_page(waits.event.injection, known):
            about = waits.event.injection or ""
            yield Row(
                case.id, PROBLEM, _wants(waits.event), "", about, since=waits.at, injection=about, entry=waits.seq
            )
    for problem in case.problems:
        if not _on_her_page(problem.event.injection, known):
            yield _problem(case, problem)


def _problem(case: CaseState, one: Kept[e.IncidentNoted]) -> Row:
    about = one.event.injection or ""
    return Row(case.id, PROBLEM, _trouble_words(case, one), "", about, since=one.at, entry=one.seq)


def _trouble_words(case: CaseState, one: Kept[e.IncidentNoted]) -> str:
    """A problem as a nurse would say it, and what was computed of it, where that was kept."""
    numbers = computed(case, one)
    return "; ".join(filter(None, (nurse_words(one.event.happened), f"computed: {numbers}" if numbers else "")))


def _on_her_page(injection: str | None, known: set[str]) -> bool:
    """Whether one of her page's rows says it already: of the whole case, each of them does."""
    return bool(known) if injection is None else injection in known


def _state(case: CaseState, one: Standing, now: e.Instant) -> tuple[str, e.Instant | None, str]:
    if one.current and (open_still := _open(case, one.due.injection)):
        return open_still
    if one.reports:
        return _as_reported(case, one)
    sheet, due = one.sheet, one.due
    if due.at <= now:
        return UNKNOWN, due.at, "the page is void" if sheet.voided else ""
    if sheet.voided is not None:
        void = f"page {sheet.event.version} is void: {sheet.voided.event.why}"
        if _may_be_mixing(case, one, now):
            return PROBLEM, sheet.voided.at, f"ring her before she mixes: {void}"
        return NO_SHEET, sheet.voided.at, void
    heard = told(case, sheet.event.rests_on, sheet.event.check_word)
    if begun := _begun(case, sheet, due):
        return MIXING, begun, ""
    if due.mix_at is not None and due.mix_at <= now:
        return DUE, due.mix_at, "" if heard else "nobody has told her"
    if heard:
        return TOLD, case.read_back.at if case.read_back else None, ""
    return TO_TELL, None, sheet.event.call_waived_why or ""


def _open(case: CaseState, injection: str) -> tuple[str, e.Instant | None, str] | None:
    """What nobody has ended: a problem with the injection or with the whole case, or a call that she waits for."""
    problems = [
        (one.at, _trouble_words(case, one)) for one in case.problems if one.event.injection in (injection, None)
    ]
    waits = [(one.at, _wants(one.event)) for one in case.waiting if one.event.injection in (injection, None)]
    if not problems and not waits:
        return None
    return PROBLEM, min(at for at, _ in (*problems, *waits)), "; ".join(words for _, words in (*problems, *waits))


def _as_reported(case: CaseState, one: Standing) -> tuple[str, e.Instant | None, str]:
    last = one.reports[-1]
    words = doubt_words(last.event)
    if last.event.amount == NONE and not one.current:
        return SETTLED, max(last.at, _replaced_at(case, one)), "none of it went in; another page took its place"
    if open_doubt(case, one):
        return PROBLEM, last.at, "; ".join(filter(None, (words, _either_way(case, last.event))))
    if not is_given(case, one):
        end = settling(case, last)
        assert end is not None  # what leaves nothing to ask is given, or was settled
        return SETTLED, end.at, "; ".join(filter(None, (words, f"{end.event.decided_by}: {end.event.decision}")))
    at = last.event.instant
    if at is None or in_window(case, one.due, at) is not False:
        return GIVEN, at, words
    outside = "; ".join(filter(None, ("outside the order's window", words)))
    if told_since(case, last):
        return GIVEN, at, outside
    return LATE if is_late(case, one.due, at) else EARLY, at, outside


def _replaced_at(case: CaseState, one: Standing) -> e.Instant:
    """When the next page took the place of that of an injection."""
    return next(sheet.at for sheet in case.sheets if sheet.event.version > one.sheet.event.version)


def _may_be_mixing(case: CaseState, one: Standing, now: e.Instant) -> bool:
    """Whether she may be at it by a page that holds no longer: she said so on her phone, or its signed time of mixing is near."""
    if _begun(case, one.sheet, one.due) is not None:
        return True
    if one.due.mix_at is not None:
        return elapsed(now, one.due.mix_at).minutes <= NEAR
    return elapsed(now, one.due.at).minutes <= NEAR


def _reported(of_it: tuple[Report, ...]) -> str:
    """What was said last of an injection, on the clock on which it was said."""
    if not of_it:
        return ""
    said = of_it[-1].event
    return f"{said.reported}, {'all of it' if said.amount == ALL else said.amount} ({said.told_by})"


def _wants(asked: e.HelpAsked) -> str:
    return f"she asks for a call, {asked.where}: {asked.about}"


def _begun(case: CaseState, sheet: SheetStanding, due: e.Due) -> e.Instant | None:
    """Since when she is mixing, where she said on her phone that all of it lies before her as her page has it."""
    mine = [one for one in case.boxes if (one.event.injection, one.event.sheet) == (due.injection, sheet.event.version)]
    return mine[-1].at if mine and not mine[-1].event.differs else None


def _counted_from(case: CaseState, one: Standing, now: e.Instant) -> str:
    """What the first injection means for one that the order counts from it; nothing where it was given as planned."""
    follows = one.due.follows
    if follows is None or one.reports or not one.current:
        return ""
    first = given_at(case, follows.injection)
    before = current(case, follows.injection)
    if first is None:
        passed = before is not None and before.due.at <= now
        return "the order counts it from the first, and nobody knows when that was given" if passed else ""
    after = elapsed(first, one.due.at).minutes
    least, most = follows.least or follows.gap, follows.most or follows.gap
    if least <= after <= most:
        return ""
    moved = f"{Span(abs(after - follows.gap))} {'earlier' if after > follows.gap else 'later'} than planned"
    return f"the order counts it from the first, which was {moved}: ask the prescriber, and release it anew"


def _either_way(case: CaseState, report: e.Confirmed) -> str:
    """The hours to the slot by either moment of a clock time that happened twice."""
    spans = [str(span) for at in either_moment(report) if (span := _to_slot(case, at)) is not None]
    return f"{' or '.join(spans)} to the slot" if spans else ""


def doubt_words(report: e.Confirmed) -> str:
    """What is doubtful in a report, in words."""
    return ", ".join(DOUBTS.get(doubt, doubt) for doubt in report.doubts)


DOUBTS = {
    "time-unreadable": "the time is not known",
    "time-skipped": "that time does not exist that night",
    "time-repeated": "that time happens twice: ask which",
    "time-future": "the time is still to come: ask again",
    "not-all": "not all of it went in, or nobody knows",
    "more-than-held": "more than her syringe holds: ask again",
    "no-sheet": "she had no released page",
    "sheet-void": "she followed a page that was void",
    "other-dose": "the page she followed has another medicine or dose",
    "injection-unknown": "her page has no such injection",
    "before-release": "given before the page was released",
    "reports-differ": "two reports differ",
}
"""What each doubt about a report means, in words."""


def _why_no_sheet(case: CaseState) -> str:
    there = {"order": case.order, "kit": case.kit} | ({"slot": case.slot} if _counts_from_a_slot(case) else {})
    missing = [name for name, one in there.items() if one is None]
    return f"missing: {', '.join(missing)}" if missing else "not released"


def _counts_from_a_slot(case: CaseState) -> bool:
    """Whether her order counts from a slot; any may, while there is none."""
    order: e.Table = case.order.event.order if case.order is not None else {}
    listed = order.get("injections")
    injections = listed if isinstance(listed, list) else []
    return case.order is None or any(isinstance(one, dict) and "lead" in one for one in injections)


def _to_slot(case: CaseState, at: e.Instant) -> Span | None:
    return elapsed(at, case.slot.instant) if case.slot is not None else None
