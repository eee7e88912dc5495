"""The morning's results: as the laboratory reported them, and read against the injections that were reported. It reports; it concludes nothing."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import get_args

from hourmark.case import events as e
from hourmark.case.asked import Asked, Refused, Role, only, refusal
from hourmark.case.injections import TO_ASK, given_at, reports
from hourmark.case.night import ALL
from hourmark.case.opening import not_open, nothing_changed
from hourmark.case.state import CaseState, Kept
from hourmark.case.streams import On, case_stream
from hourmark.case.trouble import read_report
from hourmark.clock import Which, Zone, elapsed, moment, needless_which, parse_wall
from hourmark.finding import Finding, Unreadable
from hourmark.formulary import drug
from hourmark.incident import Kind
from hourmark.levels import (
    Analyte,
    Body,
    Leg,
    Reading,
    Result,
    Sample,
    Says,
    impossible,
    parse_result,
    read_sample,
    usable,
)
from hourmark.quantity import Dose, parse_dose, parse_number

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
    """Put samples on the record, all of them or nothing. A sample of the same moment takes the place of the one before it."""

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
    events: list[On] = []
    findings = list(_twice(command.samples))
    for place, sample in enumerate(command.samples, 1):
        state = standing(sample.case)
        entered = _entered(state, sample, asked, zone)
        if isinstance(entered, Refused):
            findings += [one.at(f"samples[{place}]") for one in entered.findings]
        elif entered not in [one.event for one in state.results]:
            events.append(On(case_stream(sample.case), entered))
    if findings:
        return Refused(tuple(findings))
    return tuple(events) or nothing_changed("results")


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
    seen: set[Analyte] = set()
    for text in results:
        try:
            result = parse_result(text)
        except Unreadable as error:
            yield refusal("result-unreadable", error.what, error.do, "what can be read", text.partition(" ")[0])
            continue
        if (problem := impossible(result)) is not None:
            yield problem
        if result.analyte in seen:
            yield refusal(
                "result-twice",
                f"{result.analyte} stands there twice for one sample.",
                "Enter the one that the laboratory stands by, or another time of drawing.",
                "one number for each in one sample",
                str(result.analyte),
            )
        seen.add(result.analyte)


def _twice(samples: tuple[Drawn, ...]) -> Iterator[Finding]:
    """The samples of one case and moment that stand in one list more than one time."""
    seen: set[tuple[str, str]] = set()
    for place, sample in enumerate(samples, 1):
        if (sample.case, sample.drawn) in seen:
            yield refusal(
                "result-twice",
                f"Case {sample.case} has two samples of {sample.drawn}.",
                "Put their results together, or correct one of the times.",
                "one sample a moment",
                f"samples[{place}]",
            )
        seen.add((sample.case, sample.drawn))


# Read against what went in


@dataclass(frozen=True, slots=True)
class InFact:
    """What went in of an injection, and by which route where that was said, where it was not as ordered and is known exactly.

    dose: None where a report of trouble leaves open what it was: then nothing is read against it.
    """

    dose: Dose | None
    route: str | None = None


@dataclass(frozen=True, slots=True)
class Read:
    """One sample read: what it says of each injection, and of which injections it says nothing, each with the reason."""

    kept: Kept[e.ResultEntered]
    sample: Sample
    unread: tuple[str, ...]

    @property
    def values(self) -> tuple[tuple[str, Reading | None], ...]:
        """Each result as it was entered, with what is read from it; None where nothing is."""
        found = {one.result.entered: one for one in self.sample.readings}
        return tuple((text, found.get(text)) for text in self.kept.event.results)

    @property
    def says(self) -> tuple[Says, ...]:
        """What its results and its injections say, the most pressing first."""
        found = [one.says for one in self.sample.readings] + [one.says for one in self.sample.legs]
        return tuple(sorted(found, key=PRESSING.index))


PRESSING = (
    *(Says.NONE, Says.FAILED, Says.LOW, Says.AGAINST, Says.HIGH, Says.CARE, Says.LATE, Says.EARLY, Says.SILENT),
    *(Says.SUPPORTS, Says.EXPECTED),
)
"""What a result can say, the most pressing first (our own rule)."""


def read_results(state: CaseState, in_fact: Mapping[str, InFact] | None = None) -> tuple[Read, ...]:
    """Every sample that counts, in the order of drawing, each read for itself.

    `in_fact` holds by its injection what really went in where it was not as ordered; without it such an injection is not read at all.
    Progesterone from before the first injection is her own value from before.
    """
    standing = {one.event.instant: one for one in state.results}
    samples = [standing[instant] for instant in sorted(standing)]
    first = min(filter(None, (given_at(state, due.injection) for due in _dues(state))), default=None)
    before = [_analyte(one, Analyte.PROGESTERONE) for one in samples if first and one.event.instant < first]
    own = next((one for one in reversed(before) if one is not None), None)
    return tuple(_read(state, one, in_fact or {}, own) for one in samples)


def _read(state: CaseState, kept: Kept[e.ResultEntered], in_fact: Mapping[str, InFact], before: Result | None) -> Read:
    legs, unread = [], []
    for due in _dues(state):
        leg = _leg(state, due, kept.event.instant, in_fact.get(due.injection))
        if isinstance(leg, str):
            unread.append(f"{due.injection}: {leg}")
        else:
            legs.append(leg)
    results = [parse_result(text) for text in kept.event.results]
    sample = read_sample(results, legs, _body(state), before)
    return Read(kept, sample, tuple(unread))


def _dues(state: CaseState) -> tuple[e.Due, ...]:
    return state.sheets[-1].event.dues if state.sheets else ()


def _leg(state: CaseState, due: e.Due, drawn: e.Instant, in_fact: InFact | None) -> Leg | str:
    """The injection as it went in, or why it cannot be read against."""
    given = given_at(state, due.injection)
    if given is None:
        return "the time at which it went in is not known"
    report = reports(state, due.injection)[-1].event
    if doubts := [doubt for doubt in report.doubts if doubt in TO_ASK]:
        return f"its report has to be asked about first ({', '.join(doubts)})"
    if report.amount != ALL and in_fact is None:
        return f"how much went in is not known ({report.amount})"
    if in_fact is not None and in_fact.dose is None:
        return "what went in is not known: a report of trouble with it has to be read first"
    try:
        medicine = drug(due.medicine)
        dose = in_fact.dose if in_fact is not None and in_fact.dose is not None else parse_dose(due.dose)
    except Unreadable as error:
        return error.what
    if not dose.value:
        return "nothing of it went in"
    route = (in_fact.route if in_fact is not None else None) or due.route
    if (problem := usable(medicine, route)) is not None:
        return problem.what
    return Leg(medicine, dose, route, elapsed(given, drawn))


def _analyte(kept: Kept[e.ResultEntered], analyte: Analyte) -> Result | None:
    found = (parse_result(text) for text in kept.event.results)
    return next((one for one in found if one.analyte is analyte), None)


def _body(state: CaseState) -> Body:
    weight = _number(str(state.details.get("weight", "")).removesuffix(" kg"))
    return Body(weight, _number(str(state.details.get("bmi", ""))))


def _number(text: str) -> Fraction | None:
    try:
        return parse_number(text)
    except Unreadable:
        return None


def result_lines(state: CaseState) -> tuple[str, ...]:
    """The results for the morning list: each value with its hours and how it reads, or why it is not read.

    The list reads nothing against an injection that may not have gone in as ordered though all of it is on the record.
    """
    return tuple(line for read in read_results(state, _in_doubt(state)) for line in _lines(read))


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
    return found


def _lines(read: Read) -> Iterator[str]:
    for text, one in read.values:
        value = f"{one.result.analyte} {one.result} at {one.after}" if one is not None else text
        yield f"{value}: {one.says}" if one is not None else f"{value}, drawn {read.kept.event.drawn}: not read"
    yield from (f"not read against {one}" for one in read.unread)
