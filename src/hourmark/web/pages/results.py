"""The morning's results: typed or as a list, read against what went in, what presses first. They are reported; the prescriber concludes."""

import datetime as dt
import re
from collections.abc import Iterator
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace

from django.http import Http404, HttpResponse

from hourmark.case.asked import Role
from hourmark.case.results import PRESSING, Drawn, EnterResults, Read, WithdrawResult, read_results, to_disagree
from hourmark.case.state import CaseState
from hourmark.case.streams import case_stream
from hourmark.clock import moment_from_utc
from hourmark.desk.states import readable
from hourmark.desk.trouble import in_fact_of
from hourmark.finding import Finding, Level
from hourmark.levels import SHOWS, Analyte, Says, StripKind
from hourmark.levels.plot import words as plot_words
from hourmark.web.lists import Listed, read_list
from hourmark.web.models import Person
from hourmark.web.pages.tonight import numbers
from hourmark.web.work import Work, case_page, page, wrong

READERS = (Role.NURSE, Role.PRESCRIBER, Role.LEAD)
WRITERS = (Role.NURSE, Role.PRESCRIBER)
COLUMNS = ("case", "drawn", "analyte", "value", "unit")
ANALYTES = tuple(map(str, Analyte))
STRIPS = tuple(map(str, StripKind))
_LOOKS = ("light", "dark", "paper")
_CALM = (Says.EXPECTED, Says.SUPPORTS, Says.SILENT, Says.EARLY)
"""What nobody has to be called for: of a sample that came too early another is drawn."""

_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_CLOCK = re.compile(r"([01]?[0-9]|2[0-3]):([0-5][0-9])")


@dataclass(frozen=True, slots=True)
class Found:
    """One case on the page of results: its samples as read, who she is, and how pressing the worst of it is."""

    state: CaseState
    initials: str
    phones: tuple[str, ...]
    reads: tuple[Read, ...]

    @property
    def weight(self) -> int:
        """The place of the most pressing thing that any sample says; the last where nothing is read."""
        return min((PRESSING.index(one) for read in self.reads for one in read.says), default=len(PRESSING))

    @property
    def presses(self) -> bool:
        """Whether somebody has to be told of it now."""
        return any(one.level != Level.NOTE for one in self.asks) or any(
            one not in _CALM for read in self.reads for one in read.says
        )

    @property
    def asks(self) -> tuple[Finding, ...]:
        """What is asked or warned about its samples, worst first; and where one came too early, when to draw another."""
        found = dict.fromkeys(finding for read in self.reads for finding in read.findings)
        return tuple(one for one in found if one.level != Level.NOTE or one.code == "level-too-early")

    @property
    def prescriber(self) -> str:
        """Who signed her order."""
        return str(self.state.order.event.order["signed_by"]) if self.state.order else "the prescriber on call"


@page("GET", roles=READERS)
def results(work: Work) -> HttpResponse:
    """Every case with results, what presses first; then those that have none yet. What comes late for a closed case still matters."""
    people = {one.case: one for one in Person.objects.filter(clinic=work.member.clinic)}
    cases, damaged = work.states.in_sight()
    there = {*(one.id for one in cases), *damaged}
    found = [_found(work, state, people.get(state.id)) for state in (*cases, *_closed_lately(work, there))]
    read = sorted((one for one in found if one.reads), key=lambda one: (one.weight, one.state.id))
    return work.page(
        "results/list",
        read=read,
        none_yet=[one for one in found if not one.reads and one.state.sheets and not one.state.closed],
        damaged=damaged,
        columns=COLUMNS,
        writes=work.role in WRITERS,
    )


def _closed_lately(work: Work, there: AbstractSet[str]) -> Iterator[CaseState]:
    """The closed cases of the theatre days from yesterday on: whoever closed one may not be who reads its results."""
    since = str(moment_from_utc(work.now, work.zone).wall.date() - dt.timedelta(days=1))
    days = [head.stream.removeprefix("day/") for head in work.desk.store.heads("day/")]
    cases = (case for day in days if day >= since for case in work.states.day(day).cases.values())
    for case, state in readable(work.states, dict.fromkeys(cases)):
        if case not in there and state.closed and state.results:
            yield state


def _found(work: Work, state: CaseState, person: Person | None) -> Found:
    reads = read_results(state, in_fact_of(state, work.states.rules(), work.now)) if state.results else ()
    return Found(state, person.initials if person else "", numbers(person), reads)


@case_page("GET", "POST", roles=READERS, shows_plan=True)
def case_results(work: Work, state: CaseState) -> HttpResponse:
    """One case: what the laboratory reported is typed here, and stands here with its curve."""
    if work.request.method == "POST":
        if work.role not in WRITERS:
            return work.page("not-permitted", 403, roles=WRITERS)
        strip = work.request.GET.get("of") == "strip"
        sample = _strip(state.id, work.typed) if strip else _sample(state.id, work.typed)
        if work.perform(EnterResults((sample,))):
            return work.done(f"The results of {state.id} are on the record.", "case-results", state.id)
        work.findings = tuple(_beside(one, strip=strip) for one in work.findings)
        state = work.states.case(state.id)
    person = work.person(state.id)
    found = _found(work, state, person)
    today = str(moment_from_utc(work.now, work.zone).wall.date())
    return work.page(
        "results/case",
        state=state,
        found=found,
        samples=[(one, list(_pictured(one))) for one in reversed(found.reads)],
        analytes=ANALYTES,
        strips=STRIPS,
        shows=SHOWS,
        writes=work.role in WRITERS,
        today=today,
        fields={"day": today, "strip.day": today} | work.typed,
    )


def _pictured(read: Read) -> Iterator[tuple[int, str, object, str]]:
    """Each result with its number in the sample, what is read from it, and its picture in words."""
    for number, (text, reading) in enumerate(read.values):
        yield number, text, reading, plot_words(reading) if reading is not None else ""


def _typed(typed: dict[str, str]) -> Iterator[str]:
    """The results of the form, each as a laboratory prints it."""
    for analyte in ANALYTES:
        value, unit = (" ".join(typed.get(f"{analyte}.{part}", "").split()) for part in ("value", "unit"))
        if value:
            yield f"{analyte} {value} {unit}".strip()


def _sample(case: str, typed: dict[str, str]) -> Drawn:
    return Drawn(case, _drawn(typed), tuple(_typed(typed)), "typed off the report")


def _strip(case: str, typed: dict[str, str]) -> Drawn:
    """The strip of the form; what is left open stays so, and is refused."""
    kind, shows = (typed.get(f"strip.{name}", "").strip() for name in ("kind", "shows"))
    read = (f"{kind or 'strip'} {shows}".strip(),) if kind or shows else ()
    return Drawn(case, _drawn(typed, "strip."), read, "a strip, as it was read")


def _drawn(typed: dict[str, str], begins: str = "") -> str:
    clock, day, which = (typed.get(f"{begins}{name}", "").strip() for name in ("clock", "day", "which"))
    found = _CLOCK.fullmatch(clock)
    at = f"{day} {int(found[1]):02}:{found[2]}" if found else f"{day} {clock}".strip()
    return f"{at} {which}".strip()


def _beside(finding: Finding, *, strip: bool) -> Finding:
    """The finding at the field that it is about."""
    place = finding.where.removeprefix("samples[1], ").removeprefix("samples[1]")
    name = next((one for one in ANALYTES if place.lower().startswith(one.lower())), "")
    result = "strip.shows" if strip else f"{name or ANALYTES[0]}.value"
    clock = "strip.clock" if strip else "clock"
    where = clock if place == "drawn" else result
    return replace(finding, where=where)


@case_page("POST", roles=WRITERS)
def withdraw(work: Work, state: CaseState, entry: int) -> HttpResponse:
    """A sample that was entered by mistake counts no longer."""
    why = work.typed.get("why", "").strip() or "entered by mistake"
    if work.perform(WithdrawResult(state.id, entry, why)):
        return work.done("The sample is withdrawn; it stays readable in the record.", "case-results", state.id)
    return work.page("results/not-withdrawn", state=state)


@case_page("GET", roles=READERS, shows_plan=True)
def picture(work: Work, state: CaseState, entry: int, number: int, look: str) -> HttpResponse:
    """One result beside its curve, the band, and what was published."""
    from hourmark.levels.plot import draw

    reads = [
        one for one in read_results(state, in_fact_of(state, work.states.rules(), work.now)) if one.kept.seq == entry
    ]
    values = reads[0].values if reads else ()
    if number >= len(values) or look not in _LOOKS:
        raise Http404
    reading = values[number][1]
    if reading is None:
        raise Http404
    return HttpResponse(draw(reading, look).svg, content_type="image/svg+xml")  # type: ignore[arg-type]


# A whole list


@page("POST", roles=WRITERS)
def upload(work: Work) -> HttpResponse:
    """The laboratory's list as CSV: shown first with every problem; recorded whole once it is confirmed, or not at all."""
    text = work.typed.get("list", "")
    listed = read_list(text)
    samples = _samples(listed.rows)
    command = EnterResults(tuple(samples))
    work.findings = tuple(_list_problems(listed)) or _by_sample(_against(work, command), command)
    sure = work.typed.get("sure", "")
    other = bool(sure) and sure != listed.digest
    if not work.findings and sure == listed.digest:
        if done := work.perform(command, _seen(work)):
            return work.done(f"{len(done.entries)} samples are on the record.", "results")
        work.findings = _by_sample(work.findings, command)
    return work.page(
        "results/csv",
        422 if other else 200,
        rows=listed.rows,
        columns=COLUMNS,
        text=text,
        count=len(samples),
        sure=listed.digest,
        other=other,
        beside=() if work.findings else _beside_others(work, command),
        had=[(case, work.head_of(case_stream(case))) for case in dict.fromkeys(one.case for one in samples)],
    )


def _list_problems(listed: Listed) -> Iterator[Finding]:
    """Why it is no list of results, each at its line."""
    if not listed.lines:
        words = f"Write a first line with the columns {', '.join(COLUMNS)}, then one line a result."
        yield wrong("list-empty", "There is no result in this list.", words, "list")
    yield from listed.problems("a result, and no comma within a number")
    if listed.rows and set(listed.columns) != set(COLUMNS):
        what = f"The first line names {', '.join(listed.columns) or 'nothing'}."
        yield wrong("file-value", what, f"Write the columns {', '.join(COLUMNS)}.", "line 1")
        return
    for number, row in listed.lines:
        if row is not None and (missing := [name for name in COLUMNS if not row[name]]):
            yield wrong("field-blank", f"There is no {' and no '.join(missing)}.", "Enter it.", f"line {number}")


def _samples(rows: list[dict[str, str]]) -> list[Drawn]:
    """The lines put together by case and time of drawing. Another number for what a sample has already is a sample beside it."""
    found: dict[tuple[str, str], list[dict[str, str]]] = {}
    for row in rows:
        analyte = row.get("analyte", "")
        result = f"{analyte} {row.get('value', '')} {row.get('unit', '')}".strip()
        samples = found.setdefault((row.get("case", ""), row.get("drawn", "")), [{}])
        if result in [sample.get(analyte.lower()) for sample in samples]:
            continue
        if all(analyte.lower() in sample for sample in samples):
            samples.append({})
        next(sample for sample in samples if analyte.lower() not in sample)[analyte.lower()] = result
    return [
        Drawn(case, drawn, tuple(sample.values()), "the laboratory's list")
        for (case, drawn), samples in found.items()
        for sample in samples
    ]


def _beside_others(work: Work, command: EnterResults) -> tuple[Finding, ...]:
    """What would stand beside another number for the same sample, on the record or in the list itself."""
    return to_disagree(work.states.case, command, work.asked, work.zone)


def _against(work: Work, command: EnterResults) -> tuple[Finding, ...]:
    """Every reason for which the list could not be recorded; none where it is known already, as then it gets the first answer."""
    if work.desk.store.of_act(work.typed.get("key", "")):
        return ()
    return work.desk.why_not(command, work.asked)


def _by_sample(findings: tuple[Finding, ...], command: EnterResults) -> tuple[Finding, ...]:
    """The findings about samples of a list, each at its case and its time."""

    def place(where: str) -> str:
        found = re.match(r"samples\[([0-9]+)\]", where)
        sample = command.samples[int(found[1]) - 1] if found else None
        return f"{sample.case}, {sample.drawn}{where[found.end() :]}" if sample and found else where

    return tuple(replace(one, where=place(one.where)) for one in findings)


def _seen(work: Work) -> dict[str, int]:
    """The cases as they stood when the list was looked at."""
    begins = "seen."
    typed = {name.removeprefix(begins): seq for name, seq in work.typed.items() if name.startswith(begins)}
    return {case_stream(case): int(seq) for case, seq in typed.items() if re.fullmatch(r"[0-9]{1,9}", seq)}
