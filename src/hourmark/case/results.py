"""The morning's results: as the laboratory reported them, and read against the injections that were reported. It reports; it concludes nothing."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TypeAlias, get_args

from hourmark.case import events as e
from hourmark.case.asked import Asked, Refused, Role, only, refusal
from hourmark.case.injections import TO_ASK, Standing, given_at, in_window, is_late, reports, settled_since, standings
from hourmark.case.night import ALL, NONE
from hourmark.case.opening import not_open, nothing_changed
from hourmark.case.state import CaseState, Kept
from hourmark.case.streams import ROLL, On, case_stream, on
from hourmark.case.trouble import Report, last_words, read_report
from hourmark.clock import Which, Zone, elapsed, moment, needless_which, parse_wall
from hourmark.finding import Finding, Level, Unreadable, worst_first
from hourmark.formulary import Kind as DrugKind
from hourmark.formulary import drug
from hourmark.incident import Kind, is_ordered
from hourmark.levels import (
    Analyte,
    Body,
    Doubt,
    Leg,
    Reading,
    Result,
    Sample,
    Says,
    Strip,
    StripReading,
    impossible,
    parse_entered,
    read_sample,
    read_strip,
    usable,
)
from hourmark.quantity import Dose, parse_dose, parse_number, parse_volume

Entries: TypeAlias = tuple[Kept[e.ResultEntered], ...]

ENTERERS = (Role.NURSE, Role.PRESCRIBER)
"""Who enters results."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """One sample of one case, with its results as on the report, such as "LH 48 IU/L", and where they were read.

    `drawn` is the clinic's clock time, with "first" or "second" behind an hour that happens twice.
    """

    case: str
    drawn: str
    results: tuple[str, ...]
    how: str


@dataclass(frozen=True, slots=True)
class EnterResults:
    """Put samples on the record, all of them or nothing. What another sample of the same moment says stands beside it."""

    samples: tuple[Drawn, ...]


@dataclass(frozen=True, slots=True)
class WithdrawResult:
    """Take back a sample that was entered by mistake."""

    case: str
    entry: int
    why: str


def enter_results(
    standing: Callable[[str], CaseState], command: EnterResults, asked: Asked, zone: Zone
) -> tuple[On, ...] | Refused:
    """Every sample is on the record of its case, whether that is closed or not; refused whole for every reason in any of them."""
    if refused := only(asked, *ENTERERS):
        return refused
    findings: list[Finding] = []
    new: dict[str, tuple[e.ResultEntered, ...]] = {}
    for place, sample in enumerate(command.samples, 1):
        state, entered = standing(sample.case), _entered(standing(sample.case), sample, asked, zone)
        if isinstance(entered, Refused):
            findings += [one.at(f"samples[{place}]") for one in entered.findings]
            continue
        so_far = new.get(sample.case, ())
        if not _is_there(entered, [*(one.event for one in state.results), *so_far]):
            new[sample.case] = (*so_far, entered)
    if findings:
        return Refused(tuple(findings))
    events = [one for case, entered in new.items() for one in on(case_stream(case), *entered)]
    events += [On(ROLL, e.CaseListed(case)) for case in new if standing(case).closed]
    return tuple(events) or nothing_changed("results")


def to_disagree(
    standing: Callable[[str], CaseState], command: EnterResults, asked: Asked, zone: Zone
) -> tuple[Finding, ...]:
    """What would stand beside another number for the same sample, if it were entered: both are kept, and neither counts more."""
    after: dict[str, list[e.ResultEntered]] = {}
    for sample in command.samples:
        entered = _entered(standing(sample.case), sample, asked, zone)
        if not isinstance(entered, Refused):
            after.setdefault(sample.case, []).append(entered)
    return tuple(
        problem.at(f"case {case}")
        for case, entered in after.items()
        for instant in dict.fromkeys(one.instant for one in entered)
        for problem in _disagree(
            [one for one in (*(kept.event for kept in standing(case).results), *entered) if one.instant == instant]
        )
    )


def _is_there(entered: e.ResultEntered, others: list[e.ResultEntered]) -> bool:
    """Whether each number of a sample stands on the record already for that moment."""
    there = [parse_entered(text) for one in others if one.instant == entered.instant for text in one.results]
    return all(any(_is_same(parse_entered(text), one) for one in there) for text in entered.results)


def _what(one: Result | Strip) -> str:
    """What was measured, or which strip was read."""
    return str(one.analyte if isinstance(one, Result) else one.kind)


def _is_same(one: Result | Strip, other: Result | Strip) -> bool:
    """Whether two results say the same, in whatever unit either was printed."""
    if isinstance(one, Result) and isinstance(other, Result):
        return (one.analyte, one.least, one.most) == (other.analyte, other.least, other.most)
    return one == other


def _disagree(entries: Sequence[e.ResultEntered]) -> Iterator[Finding]:
    """Everything for which the entries of one moment have more than one number, or a strip that shows one thing and another."""
    every = {text: parse_entered(text) for one in entries for text in one.results}
    for what in dict.fromkeys(map(_what, every.values())):
        differ: dict[str, Result | Strip] = {}
        for text, one in every.items():
            if _what(one) == what and not any(_is_same(one, other) for other in differ.values()):
                differ[text] = one
        if len(differ) > 1:
            yield Finding(
                "results-disagree",
                Level.ASK,
                f"{' and '.join(differ)} stand for one sample, drawn {entries[0].drawn}.",
                "Ask the laboratory which one it stands by, and withdraw the other with its reason. Until then each is read alone.",
                what,
                "one number for each in one sample",
                "hourmark's own rule",
            )


def withdraw_result(state: CaseState, command: WithdrawResult, asked: Asked) -> tuple[e.CaseEvent, ...] | Refused:
    """The sample counts no longer; it stays readable."""
    if refused := only(asked, *ENTERERS):
        return refused
    if not state.there:
        return not_open(state, command.case) or ()
    if command.entry not in [one.seq for one in state.results]:
        return nothing_changed("result")
    return (e.ResultWithdrawn(command.entry, command.why),)


def _entered(state: CaseState, sample: Drawn, asked: Asked, zone: Zone) -> e.ResultEntered | Refused:
    if not state.there:
        return not_open(state, sample.case) or Refused(())
    instant = _instant(sample.drawn, asked, zone)
    problems = list(instant.findings) if isinstance(instant, Refused) else []
    problems += _unread(sample.results)
    if problems or isinstance(instant, Refused):
        return Refused(tuple(problems))
    return e.ResultEntered(sample.drawn, instant, sample.results, sample.how)


def _instant(drawn: str, asked: Asked, zone: Zone) -> e.Instant | Refused:
    """What the clinic's clock time means, or why it means nothing; a sample that is still to be drawn has no result."""
    which = next((one for one in get_args(Which) if drawn.endswith(f" {one}")), None)
    try:
        found = moment(parse_wall(drawn.removesuffix(f" {which}"), which), zone, "drawn")
    except Unreadable as error:
        return Refused((refusal("result-time", error.what, error.do, "a date and clock time", "drawn"),))
    if isinstance(found, Finding):
        return Refused((found,))
    if found.utc > asked.at:
        what = f"{drawn} on the clinic's clock has not come yet."
        return Refused(
            (refusal("result-time", what, "Read the time off the report again.", "a sample is past", "drawn"),)
        )
    if doubled := needless_which(parse_wall(drawn.removesuffix(f" {which}"), which), found, "drawn"):
        return Refused(doubled)
    return found.utc


def _unread(results: tuple[str, ...]) -> Iterator[Finding]:
    """Every result that cannot be read, that no assay gives, or that stands there twice."""
    if not results:
        yield refusal(
            "field-blank", "There is no result.", "Enter at least one result.", "what this act asks for", "results"
        )
    seen: set[str] = set()
    for text in results:
        try:
            result = parse_entered(text)
        except Unreadable as error:
            yield refusal("result-unreadable", error.what, error.do, "what can be read", text.partition(" ")[0])
            continue
        if isinstance(result, Result) and (problem := impossible(result)) is not None:
            yield problem
        if _what(result) in seen:
            yield refusal(
                "result-twice",
                f"{_what(result)} stands there twice for one sample.",
                "Enter the one that the laboratory stands by, or another time of drawing.",
                "one number for each in one sample",
                _what(result),
            )
        seen.add(_what(result))


# Read against what went in


@dataclass(frozen=True, slots=True)
class InFact:
    """What went in of an injection, and by which route where that was said, where a report of trouble tells it exactly.

    dose: None where such a report leaves open what it was: then nothing is read against it. instead: whether another medicine was taken
    in its place.
    """

    dose: Dose | None
    route: str | None = None
    instead: bool = False


@dataclass(frozen=True, slots=True)
class Read:
    """One sample read: what it says of each injection, and of which injections it says nothing, each with the reason.

    entries: what was entered of it, at one time or several. strips: those that were read at that moment, each with what it says; a
    finding where it is asked about first, None where there is nothing to read it against. differs: where another entry of the same
    moment has another number; then each of them is read alone. for_all: `unread` without the words that somebody used, as they may name
    somebody. in_fact: the injections that are read as a report of trouble has them, and not as ordered.
    """

    entries: tuple[Kept[e.ResultEntered], ...]
    sample: Sample
    unread: tuple[str, ...]
    strips: tuple[tuple[Strip, StripReading | Finding | None], ...] = ()
    differs: tuple[Finding, ...] = ()
    for_all: tuple[str, ...] = ()
    in_fact: tuple[str, ...] = ()

    @property
    def kept(self) -> Kept[e.ResultEntered]:
        """What was entered of it first."""
        return self.entries[0]

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What is asked or said about it, worst first."""
        strips = (finding for _, read in self.strips for finding in _asked_of(read))
        return worst_first((*self.differs, *self.sample.findings, *strips))

    @property
    def values(self) -> tuple[tuple[str, Reading | None], ...]:
        """Each result as it was entered, with what is read from it; None where nothing is. What says the same stands there one time."""
        found = {one.result.entered: one for one in self.sample.readings}
        return tuple((one.entered, found.get(one.entered)) for one in _numbers(self.entries))

    @property
    def says(self) -> tuple[Says, ...]:
        """What its results and its injections say, the most pressing first."""
        found = [one.says for one in self.sample.readings] + [one.says for one in self.sample.legs]
        found += [one.says for _, one in self.strips if isinstance(one, StripReading)]
        return tuple(sorted(found, key=PRESSING.index))


def _asked_of(read: StripReading | Finding | None) -> tuple[Finding, ...]:
    return (read,) if isinstance(read, Finding) else read.findings if read is not None else ()


PRESSING = (
    *(Says.NONE, Says.FAILED, Says.LOW, Says.AGAINST, Says.HIGH, Says.CARE, Says.LATE, Says.EARLY, Says.SILENT),
    *(Says.SUPPORTS, Says.EXPECTED),
)
"""What a result can say, the most pressing first (our own rule)."""


def read_results(state: CaseState, in_fact: Mapping[str, InFact] | None = None) -> tuple[Read, ...]:
    """Every sample that counts, in the order of drawing, each read for itself.

    `in_fact` holds by its injection what really went in by a report of trouble; without it an injection that may not have gone in as
    ordered is not read at all. What was entered of one moment is one sample; where it has two numbers for one thing, each entry is read
    alone. Progesterone from before the first injection is her own value from before.
    """
    went_in = _in_doubt(state) | dict(in_fact or {})
    moments = [
        tuple(one for one in state.results if one.event.instant == instant)
        for instant in sorted({one.event.instant for one in state.results})
    ]
    first = min(filter(None, (given_at(state, due.injection) for due in _dues(state))), default=None)
    before = [_own(entries) for entries in moments if first and entries[0].event.instant < first]
    own = next((one for one in reversed(before) if one), ())
    reads = []
    for entries in moments:
        differs = tuple(_disagree([one.event for one in entries]))
        alone = [(one,) for one in entries] if differs else [entries]
        reads += [_read(state, one, went_in, own[0] if len(own) == 1 else None, differs) for one in alone]
    return tuple(reads)


def _own(entries: Entries) -> tuple[Result, ...]:
    """The numbers of progesterone in one sample; more than one where its entries disagree."""
    return tuple(one for one in _numbers(entries) if one.analyte is Analyte.PROGESTERONE)


def _numbers(entries: Entries) -> tuple[Result, ...]:
    """What was entered of one sample; what says the same counts one time, as it was entered first."""
    return tuple(one for one in _entered_once(entries) if isinstance(one, Result))


def _entered_once(entries: Entries) -> tuple[Result | Strip, ...]:
    found: list[Result | Strip] = []
    for result in (parse_entered(text) for one in entries for text in one.event.results):
        if not any(_is_same(result, one) for one in found):
            found.append(result)
    return tuple(found)


def _read(
    state: CaseState,
    entries: Entries,
    in_fact: Mapping[str, InFact],
    before: Result | None,
    differs: tuple[Finding, ...],
) -> Read:
    legs, unread, for_all, not_as_ordered = [], [], [], []
    drawn, doubts = entries[0].event.instant, _of_other_pages(state) | _of_other_medicines(state)
    went_in = [(due, _leg(state, due, drawn, in_fact.get(due.injection))) for due in _dues(state)]
    for due, leg in went_in:
        if isinstance(leg, Unread):
            words = _words_used(state, due) if leg.why == NOT_ALL else ""
            unread.append(f"{due.injection}: {leg.why}{words}")
            for_all.append(f"{due.injection}: {leg.why}{words if is_volume(words.strip(' ()')) else ''}")
            continue
        legs.append(leg)
        if (str(leg.dose), leg.route) != (due.dose, due.route):
            not_as_ordered.append(f"{leg}, as it was reported; {due.dose} {due.route} was ordered")
    doubts |= _of_the_page(state, drawn, went_in, in_fact)
    numbers = _numbers(entries)
    sample = read_sample(numbers, legs, _body(state), before, doubts=doubts) if numbers else Sample((), (), ())
    strips = (one for one in _entered_once(entries) if isinstance(one, Strip))
    read = tuple((one, read_strip(one, legs, doubts=doubts) if legs or doubts else None) for one in strips)
    return Read(entries, sample, tuple(unread), read, differs, tuple(for_all), tuple(not_as_ordered))


NOT_ALL = "how much went in is not known"


def _words_used(state: CaseState, due: e.Due) -> str:
    """How the amount was told that was not all of it."""
    return f" ({reports(state, due.injection)[-1].event.amount})"


def is_volume(words: str) -> bool:
    """Whether an amount was told as a volume, and in no other words."""
    try:
        parse_volume(words)
    except Unreadable:
        return False
    return True


def _dues(state: CaseState) -> tuple[e.Due, ...]:
    return state.sheets[-1].event.dues if state.sheets else ()


@dataclass(frozen=True, slots=True)
class Unread:
    """Why nothing is read against an injection, and what of it is not known; None where it is known that none of it went in."""

    why: str
    doubt: Doubt | None = Doubt.WHAT


def _leg(state: CaseState, due: e.Due, drawn: e.Instant, in_fact: InFact | None) -> Leg | Unread:
    """The injection as it went in, or why it cannot be read against."""
    if in_fact is not None and in_fact.dose is not None and not in_fact.dose.value:
        instead = (
            ", and another medicine was taken in its place: no level is read against that" if in_fact.instead else ""
        )
        return Unread(f"nothing of it went in, as it was reported{instead}", None)
    if in_fact is not None and in_fact.dose is None:
        return Unread("what went in is not known: a report of trouble with it has to be read first")
    said, given = reports(state, due.injection), given_at(state, due.injection)
    if said and said[-1].event.amount == NONE:
        return _none_of_it(state, said)
    if given is None:
        return Unread("the time at which it went in is not known", Doubt.WHETHER)
    report = said[-1].event
    if doubts := [doubt for doubt in report.doubts if doubt in TO_ASK]:
        return Unread(f"its report has to be asked about first ({', '.join(doubts)})", Doubt.WHETHER)
    if report.amount != ALL and in_fact is None:
        return Unread(NOT_ALL, Doubt.AMOUNT)
    try:
        medicine = drug(due.medicine)
        dose = in_fact.dose if in_fact is not None and in_fact.dose is not None else parse_dose(due.dose)
    except Unreadable as error:
        return Unread(error.what)
    route = (in_fact.route if in_fact is not None else None) or due.route
    if (problem := usable(medicine, route)) is not None:
        return Unread(problem.what)
    return Leg(medicine, dose, route, elapsed(given, drawn))


def _none_of_it(state: CaseState, said: Sequence[Kept[e.Confirmed]]) -> Unread:
    """Where the last report says that nothing went in: known, unless something is left to ask of it or another report says that it did."""
    last = said[-1]
    if any(doubt in TO_ASK for doubt in last.event.doubts):
        return Unread("its report has to be asked about first", Doubt.WHETHER)
    if any(one.event.amount != NONE for one in said) and not settled_since(state, last):
        return Unread("two reports of it differ, whether it went in is not known", Doubt.WHETHER)
    return Unread("nothing of it went in, as it was reported", None)


# What nobody knows to have gone in or not


def _kinds(medicine: str | None) -> tuple[DrugKind, ...]:
    """What a medicine does, where it triggers: both kinds that do, where its name says nothing."""
    try:
        kind = drug(medicine).kind
    except Unreadable:
        return (DrugKind.AGONIST, DrugKind.HCG)
    return () if kind is DrugKind.ANTAGONIST else (kind,)


def _of_the_page(
    state: CaseState, drawn: e.Instant, went_in: Sequence[tuple[e.Due, Leg | Unread]], in_fact: Mapping[str, InFact]
) -> dict[DrugKind, Doubt]:
    """What is not known of the injections of the last page.

    One of which nobody has spoken and whose window opens after the sample takes nothing from what is known of its own kind, and where
    nothing is read it asks nothing. It is never said that none of it went in.
    """
    found: dict[DrugKind, Doubt] = {}
    read = {leg.drug.kind for _, leg in went_in if isinstance(leg, Leg)}
    for due, leg in went_in:
        if isinstance(leg, Leg) or leg.doubt is None:
            continue
        to_come = not reports(state, due.injection) and due.injection not in in_fact and _is_to_come(state, due, drawn)
        found |= {kind: leg.doubt for kind in _kinds(due.medicine) if not (to_come and (kind in read or not read))}
    return found


def _is_to_come(state: CaseState, due: e.Due, at: e.Instant) -> bool:
    """Whether a moment lies before the order's window of an injection."""
    return in_window(state, due, at) is False and not is_late(state, due, at)


def _of_other_pages(state: CaseState) -> dict[DrugKind, Doubt]:
    """What may have gone in by an earlier page, and is no injection of the last one."""
    ids = [due.injection for due in _dues(state)]
    earlier = (one for one in standings(state) if not one.current and not (one.silent and one.due.injection in ids))
    return {kind: Doubt.WHAT for one in earlier if not _is_none(state, one) for kind in _kinds(one.due.medicine)}


def _is_none(state: CaseState, one: Standing) -> bool:
    """Whether it is known that nothing of it went in."""
    return bool(one.reports) and _none_of_it(state, one.reports).doubt is None and one.reports[-1].event.amount == NONE


def _of_other_medicines(state: CaseState) -> dict[DrugKind, Doubt]:
    """What was taken in the place of an injection, or beside it, and triggers: no report of an injection has it."""
    found: dict[DrugKind, Doubt] = {}
    for report in last_words(state):
        facts = report.facts
        if report.kind not in (Kind.WRONG_PRODUCT, Kind.OTHER_DRUG) or facts is None or facts.injected is False:
            continue
        beside = report.kind == Kind.OTHER_DRUG and facts.instead is False
        if beside or not (_is_answered(state, report) or _is_the_ordered(state, report)):
            found |= dict.fromkeys(_taken(facts.drug), Doubt.WHAT)
    return found


def _taken(medicine: str | None) -> tuple[DrugKind, ...]:
    """What a medicine that was taken triggers by its name; nothing where that is not known here: the injection itself is then in doubt."""
    try:
        return _kinds(drug(medicine).name)
    except Unreadable:
        return ()


def _is_the_ordered(state: CaseState, report: Report) -> bool:
    """Whether what was taken is the medicine of just that injection, which is read by what the report says of it."""
    name, told = report.kept.event.injection, report.said.get("drug")
    return any(is_ordered(told, due.medicine) is True for due in _dues(state) if due.injection == name)


def _is_answered(state: CaseState, report: Report) -> bool:
    """Whether its injection was reported again since."""
    name = report.kept.event.injection
    return name is not None and any(one.seq > report.kept.seq for one in reports(state, name))


def _body(state: CaseState) -> Body:
    weight = _number(str(state.details.get("weight", "")).removesuffix(" kg"))
    return Body(weight, _number(str(state.details.get("bmi", ""))))


def _number(text: str) -> Fraction | None:
    try:
        return parse_number(text)
    except Unreadable:
        return None


def result_lines(state: CaseState, in_fact: Mapping[str, InFact] | None = None) -> tuple[str, ...]:
    """The results for the morning list: each value with its hours and how it reads, or why it is not read.

    `in_fact` is what really went in by the reports of trouble, as for `read_results`.
    """
    return tuple(dict.fromkeys(line for read in read_results(state, in_fact) for line in _lines(read)))


_DOUBTED = (Kind.MISSED, Kind.ONE_OF_TWO, Kind.WRONG_PRODUCT, Kind.WRONG_ROUTE)
"""Troubles of which the report of the injection itself tells nothing."""


def _in_doubt(state: CaseState) -> dict[str, InFact]:
    """The injections with such a trouble of which nothing was reported since."""
    found: dict[str, InFact] = {}
    for kept in state.incidents:
        read, name = read_report(kept.event.happened), kept.event.injection
        if read is None or read[0] not in _DOUBTED or name is None:
            continue
        if not any(one.seq > kept.seq for one in reports(state, name)):
            found[name] = InFact(None)
    for report in last_words(state):
        facts, name = report.facts, report.kept.event.injection
        instead = report.kind == Kind.OTHER_DRUG and facts is not None and facts.instead is not False
        if instead and name is not None and not _is_answered(state, report):
            found[name] = InFact(None)
    return found


def _lines(read: Read) -> Iterator[str]:
    for text, one in read.values:
        value = f"{one.result.analyte} {one.result} at {one.after}" if one is not None else text
        yield f"{value}: {one.says}" if one is not None else f"{value}, drawn {read.kept.event.drawn}: not read"
    for strip, said in read.strips:
        if isinstance(said, StripReading):
            yield f"{strip}, read {said.after} after the injection: {said.says}"
        else:
            yield f"{strip}, read {read.kept.event.drawn}: not read"
    yield from (f"{one.what} Ask the laboratory." for one in read.differs)
    yield from (f"read against {one}" for one in read.in_fact)
    yield from (f"not read against {one}" for one in read.for_all)
