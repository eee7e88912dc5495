"""What a reading is, and what may be said of any result: read, too early, with care, too late, only a bound."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from hourmark.clock import Span
from hourmark.finding import Finding, Level, Working
from hourmark.formulary import Kind, Sourced
from hourmark.levels.curves import Body, Expected, Leg, expected_hcg, expected_lh, expected_progesterone
from hourmark.levels.doubts import Doubts, doubted, with_doubt
from hourmark.levels.figures import Disagreement, Limits, Observation, disagreements, limits, observations
from hourmark.levels.results import Analyte, Result
from hourmark.levels.says import Says


@dataclass(frozen=True, slots=True)
class Reading:
    """One result read against the injections it answers for.

    `after` is the time from the first of them to the sample; `expected` one entry a parameter set, never averaged; `limits` what
    it was held against; `observed` what was published for these drugs and this route.
    """

    result: Result
    legs: tuple[Leg, ...]
    after: Span
    says: Says
    why: str
    expected: tuple[Expected, ...] = ()
    limits: tuple[Sourced[Any], ...] = ()
    observed: tuple[Observation, ...] = ()
    disagreements: tuple[Disagreement, ...] = ()
    findings: tuple[Finding, ...] = ()
    body: Body = field(default_factory=Body)

    @property
    def band(self) -> tuple[float, float] | None:
        """The lowest and highest end of all the curves' bands; None without a curve, or with one that has no band."""
        ends = [one for one in self.expected if one.low < one.high]
        return (min(one.low for one in ends), max(one.high for one in ends)) if ends else None

    def expected_at(self, after: Span) -> tuple[Expected, ...]:
        """What the curves say at another hour: `after` is counted from the first injection, as the reading's own is."""
        legs = [replace(leg, after=leg.after - self.after + after) for leg in self.legs]
        match self.result.analyte:
            case Analyte.LH:
                return expected_lh(legs)
            case Analyte.HCG:
                return expected_hcg(legs, self.body)
            case Analyte.PROGESTERONE:
                return expected_progesterone(legs)

    @property
    def working(self) -> tuple[Working, ...]:
        """How each expected level came about."""
        return tuple(one.working for one in self.expected)


@dataclass(frozen=True, slots=True)
class Around:
    """What stands around one result: her body, the other results of the sample, progesterone from before, the limits, and what is in doubt."""

    body: Body = field(default_factory=Body)
    progesterone: Result | None = None
    before: Result | None = None
    limits: Limits = field(default_factory=limits)
    doubts: Doubts = field(default_factory=dict)


def first(legs: Iterable[Leg]) -> Span:
    """The time from the first of the injections to the sample."""
    return max(leg.after for leg in legs)


def observed(analyte: Analyte, legs: Sequence[Leg]) -> tuple[Observation, ...]:
    """What was published for these drugs, and by this route where the route was told."""
    names, routes = {leg.drug.name for leg in legs}, {leg.route for leg in legs}
    return tuple(
        one
        for one in observations()
        if one.analyte == analyte and names & set(one.drugs) and (one.route is None or one.route in routes)
    )


def disputed(subject: str) -> tuple[Disagreement, ...]:
    """The questions about this subject on which sources differ."""
    return tuple(one for one in disagreements() if subject in one.subjects)


def place(reading: Reading) -> str:
    """Where a finding of this reading stands: the analyte and the injections."""
    return f"{reading.result.analyte}, {' and '.join(str(leg) for leg in reading.legs)}"


def found(reading: Reading, says: Says, why: str, finding: Finding) -> Reading:
    """The reading with its answer, its reason and one more finding."""
    return replace(reading, says=says, why=why, findings=(*reading.findings, finding))


def before_injection(leg: Leg) -> Finding:
    """The question back when the sample is older than the injection."""
    return Finding(
        "sample-before-injection",
        Level.ASK,
        f"The sample was drawn {Span(-leg.after.minutes)} before {leg}: it says nothing of that injection.",
        "Ask for both times again: when the blood was drawn, and when she injected. Nothing was read for this injection.",
        str(leg),
    )


_NONE_WENT_IN = {
    Analyte.LH: "LH answers for an agonist, and none went in.",
    Analyte.HCG: "hCG answers for an injection of hCG, and none went in.",
}


def of_no_injection(result: Result) -> Finding:
    """The note on LH or hCG that answers for nothing that went in."""
    return Finding(
        "level-of-no-injection",
        Level.NOTE,
        f"{result.analyte} {result}: {_NONE_WENT_IN[result.analyte]}",
        "Report the value to the prescriber as it stands.",
        str(result.analyte),
    )


def unanswered(result: Result, legs: Sequence[Leg]) -> Reading:
    """The reading of LH or hCG that answers for nothing that went in."""
    why, seen = _NONE_WENT_IN[result.analyte], observed(result.analyte, legs)
    note = of_no_injection(result)
    return Reading(result, tuple(legs), first(legs), Says.SILENT, why, observed=seen, findings=(note,))


ANSWERS_FOR = {
    Analyte.LH: (Kind.AGONIST,),
    Analyte.HCG: (Kind.HCG,),
    Analyte.PROGESTERONE: (Kind.AGONIST, Kind.HCG),
}
"""The kinds of drug that each result answers for."""


def in_doubt(result: Result, legs: Sequence[Leg], around: Around) -> Finding | None:
    """The question back where it is not known whether something went in that the result answers for."""
    kinds = ANSWERS_FOR[result.analyte]
    return doubted(f"{result.analyte} {result}", str(result.analyte), kinds, legs, around.doubts)


def read_in_doubt(reading: Reading, legs: Sequence[Leg], around: Around) -> Reading:
    """The reading with what is not known of what it answers for: what was settled without that is read with care."""
    finding = in_doubt(reading.result, legs, around)
    if finding is None:
        return reading
    says, why = with_doubt(reading.says, reading.why, ANSWERS_FOR[reading.result.analyte], legs, around.doubts)
    kept = tuple(one for one in reading.findings if one.code != "level-of-no-injection")
    return replace(reading, says=says, why=why, findings=(*kept, finding))


def early(reading: Reading, limit: Sourced[Any], judged_from: Sourced[Any]) -> Reading:
    """The reading of a sample before the hour from which anything shows; `judged_from` is the hour of one that can be judged."""
    finding = Finding(
        "level-too-early",
        Level.NOTE,
        f"{reading.result.analyte} {reading.result} at {reading.after}: too early to judge.",
        f"Draw another sample from {judged_from.text} on, or at the hour the clinic has signed.",
        place(reading),
        f"from {limit.text}",
        limit.cite(),
    )
    return found(reading, Says.EARLY, f"before {limit.text}", finding)


def late(reading: Reading, limit: Sourced[Any], do: str) -> Reading:
    """The reading of a sample after the hour up to which anything shows."""
    finding = Finding(
        "level-too-late",
        Level.NOTE,
        f"{reading.result.analyte} {reading.result} at {reading.after}: too late to judge by it.",
        do,
        place(reading),
        limit.text,
        limit.cite(),
    )
    return found(reading, Says.LATE, f"from {limit.text} on it tells nothing", finding)


def care(reading: Reading, why: str, limit: Sourced[Any]) -> Reading:
    """The reading of a result to which no limit is applied, and why."""
    finding = Finding(
        "level-with-care",
        Level.WARN,
        f"{reading.result.analyte} {reading.result} at {reading.after} is read with care: {why}.",
        "Show it to the prescriber beside the curve; no limit was applied to it.",
        place(reading),
        limit.text,
        limit.cite(),
    )
    return found(reading, Says.CARE, why, finding)


def bounded(reading: Reading, limit: Sourced[Any]) -> Reading:
    """The reading of a result that is only a bound and does not settle the question."""
    finding = Finding(
        "result-bounded",
        Level.ASK,
        f"{reading.result.analyte} {reading.result} does not say on which side of a limit it lies.",
        "Ask the laboratory for the number itself.",
        place(reading),
        limit.text,
        limit.cite(),
    )
    return found(reading, Says.CARE, "only a bound is known", finding)
