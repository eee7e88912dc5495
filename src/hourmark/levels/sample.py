"""One blood sample read against the injections that went in. It reports; the prescriber decides.

Nothing here says that an injection was missed. A level outside its hours is read with care or not at all, and where sources disagree
all sides are shown.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from hourmark.finding import Finding, Level, worst_first
from hourmark.formulary import Drug, Kind
from hourmark.levels.curves import Body, Leg
from hourmark.levels.doubts import Doubts
from hourmark.levels.figures import Limits, limits
from hourmark.levels.hcg import read_hcg
from hourmark.levels.lh import read_lh
from hourmark.levels.progesterone import read_progesterone
from hourmark.levels.reading import Around, Reading, before_injection, in_doubt, read_in_doubt
from hourmark.levels.results import Analyte, Result, impossible
from hourmark.levels.says import Says


@dataclass(frozen=True, slots=True)
class LegReading:
    """What all results together say of one injection, and from which of them."""

    leg: Leg
    says: Says
    why: str


@dataclass(frozen=True, slots=True)
class Sample:
    """One blood sample: its results read, each injection's own answer, and all findings worst first."""

    readings: tuple[Reading, ...]
    legs: tuple[LegReading, ...]
    findings: tuple[Finding, ...]


def read_level(result: Result, legs: Sequence[Leg], around: Around | None = None) -> Reading | Finding:
    """One result, read against the injections that went in.

    A result that no assay gives, or a sample drawn before every one of them, is asked about and not read. Raises ValueError
    without any injection.
    """
    if not legs:
        raise ValueError("no injection to read a result against")
    around = around or Around()
    if (problem := impossible(result)) is not None:
        return problem
    given = [leg for leg in legs if leg.after.minutes >= 0]
    if not given:
        return before_injection(legs[0])
    return read_in_doubt(_read(result, given, around), given, around)


def _read(result: Result, given: Sequence[Leg], around: Around) -> Reading:
    match result.analyte:
        case Analyte.LH:
            return read_lh(result, given, around)
        case Analyte.HCG:
            return read_hcg(result, given, around)
        case Analyte.PROGESTERONE:
            return read_progesterone(result, given, around)


def read_sample(
    results: Sequence[Result],
    legs: Sequence[Leg],
    body: Body | None = None,
    before: Result | None = None,
    held_against: Limits | None = None,
    doubts: Doubts | None = None,
) -> Sample:
    """All results of one sample, each injection judged alone. `before` is progesterone from before the trigger.

    `held_against` are a clinic's own limits, by the names of the published ones. `doubts` are the kinds of drug of which more may have
    gone in than `legs` say: a result that answers for one of them is asked about, and nothing is concluded from it; of every other kind
    `legs` are all that went in.
    """
    sound = [one for one in results if impossible(one) is None]
    earlier = before if before is not None and impossible(before) is None else None
    progesterone = next((one for one in sound if one.analyte is Analyte.PROGESTERONE), None)
    around = Around(body or Body(), progesterone, earlier, held_against or limits(), doubts or {})
    given = [leg for leg in legs if leg.after.minutes >= 0]
    refused = [before_injection(leg) for leg in legs if leg.after.minutes < 0]
    refused += [problem for one in (*results, *((before,) if before else ())) if (problem := impossible(one))]
    # A result with nothing given before it has no reading to carry the question.
    refused += [problem for one in sound if not given and (problem := in_doubt(one, given, around))]
    read = [read_level(one, legs, around) for one in sound] if legs else []
    readings = tuple(one for one in read if isinstance(one, Reading))
    answers = tuple(_leg_reading(leg, readings, legs, around.doubts) for leg in given)
    findings = [*refused, *(finding for one in readings for finding in one.findings), *_contradiction(readings)]
    return Sample(readings, answers, worst_first(findings))


def usable(drug: Drug, route: str) -> Finding | None:
    """The question back when a drug is no trigger, so that no level answers for it."""
    if drug.kind is not Kind.ANTAGONIST:
        return None
    return Finding(
        "level-no-trigger",
        Level.ASK,
        f"{drug.name} is a GnRH antagonist: it triggers nothing, and no level here answers for it.",
        "Ask which injection was the trigger, and enter that one.",
        f"{drug.name} {route}",
    )


def _leg_reading(leg: Leg, readings: Sequence[Reading], legs: Sequence[Leg], doubts: Doubts) -> LegReading:
    analyte = Analyte.LH if leg.drug.kind is Kind.AGONIST else Analyte.HCG
    own = next((one for one in readings if one.result.analyte is analyte and leg in one.legs), None)
    support = next((one for one in readings if one.result.analyte is Analyte.PROGESTERONE), None)
    says = own.says if own is not None else Says.SILENT
    why = f"{analyte} {own.result}: {own.says}" if own is not None else f"no {analyte} to judge it by"
    if support is None:
        return LegReading(leg, says, why)
    why += f"; progesterone {support.result}: {support.says}"
    if len({*(other.drug.kind for other in legs if other.after.minutes >= 0), *doubts}) > 1:
        return LegReading(leg, says, f"{why}, of one of them")
    # Progesterone speaks only where the injection's own analyte does not.
    unsettled = says in (Says.CARE, Says.EARLY, Says.LATE) and support.says in (Says.SUPPORTS, Says.AGAINST)
    return LegReading(leg, support.says if own is None or unsettled else says, why)


def _contradiction(readings: Sequence[Reading]) -> Iterable[Finding]:
    said = {one.result.analyte: one for one in readings}
    hcg, progesterone = said.get(Analyte.HCG), said.get(Analyte.PROGESTERONE)
    if hcg is None or progesterone is None or len({leg.drug.kind for leg in progesterone.legs}) > 1:
        return
    if hcg.says is Says.NONE and progesterone.says is Says.SUPPORTS:
        yield Finding(
            "levels-contradict",
            Level.ASK,
            f"hCG {hcg.result} shows no dose, but progesterone {progesterone.result} has risen.",
            "Ask the laboratory to repeat hCG, and whether the sample is hers. Ask the prescriber about a surge of her own.",
            "hCG, progesterone",
        )
