"""hourmark levels: results of a blood sample, and strips, read against what that dose, route and hour should show."""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any, TypeVar

import click

from hourmark.cli.show import answer_json, print_findings, print_working, status, unread, unreadable
from hourmark.clock import Moment, Span, WallTime, Zone, moment, needless_which, parse_span, parse_wall, parse_zone
from hourmark.exchange import findings_json
from hourmark.finding import Finding, Level, Unreadable, Working
from hourmark.formulary import Drug, Kind, drug
from hourmark.levels import (
    Analyte,
    Body,
    Disagreement,
    Doubt,
    Leg,
    LegReading,
    Observation,
    Reading,
    Result,
    Sample,
    Strip,
    StripReading,
    about,
    distances,
    of_no_injection,
    parse_entered,
    parse_result,
    read_sample,
    read_strip,
    usable,
)
from hourmark.order import ROUTES
from hourmark.quantity import Dose, parse_dose, parse_number

T = TypeVar("T")

_LOOKS = ("light", "dark", "paper")
_CLOCK = re.compile(r"(?P<wall>\d{4}-\d{2}-\d{2} \d{2}:\d{2})(?: (?P<which>first|second))?", re.ASCII)
_WEIGHT = (Fraction(30), Fraction(300))
_BMI = (Fraction(12), Fraction(90))
_KINDS = {"hCG": Kind.HCG, "agonist": Kind.AGONIST}
_NOT_KNOWN = {"whether": Doubt.WHETHER, "how much": Doubt.AMOUNT, "what": Doubt.WHAT}


@dataclass(frozen=True, slots=True)
class _Given:
    """One --injection as typed: what, how much, how, and when: elapsed time before the sample, or a clock time."""

    drug: Drug
    dose: Dose
    route: str
    at: Span | WallTime


def run(
    injections: Sequence[str],
    not_known: Sequence[str],
    results: Sequence[str],
    before: str | None,
    drawn: str | None,
    zone: str | None,
    weight: str | None,
    bmi: str | None,
    folder: Path | None,
    as_json: bool,
) -> int:
    """Answer, and the exit status."""
    problems: list[Finding] = []

    def read(parse: Callable[[str], T], text: str | None, where: str) -> T | None:
        try:
            return parse(text) if text is not None else None
        except Unreadable as error:
            problems.append(unreadable(error, where))
            return None

    given = [leg for text in injections if (leg := read(_injection, text, "--injection"))]
    open_ones = [one for text in not_known if (one := read(_doubt, text, "--not-known"))]
    entered = [result for text in results if (result := read(parse_entered, text, "--result"))]
    earlier = read(_before, before, "--before")
    sample = read(_clock, drawn, "--drawn")
    place = read(parse_zone, zone, "--zone")
    body = Body(read(_weight, weight, "--weight"), read(_bmi, bmi, "--bmi"))
    problems += [*_nothing_went_in(injections, not_known), *_twice(open_ones), *_missing(given, drawn, zone, entered)]
    if problems:
        return unread("levels", problems, as_json=as_json)
    legs, findings = _legs(given, sample, place)
    if legs is None:
        return _answer(Sample((), (), ()), (), None, findings, as_json)
    asked = [problem for leg in legs if (problem := usable(leg.drug, leg.route))]
    legs = [leg for leg in legs if usable(leg.drug, leg.route) is None]
    doubts = dict(open_ones)
    numbers = [one for one in entered if isinstance(one, Result)]
    read_out = read_sample(numbers, legs, body, earlier, doubts=doubts)
    if doubts and not legs:
        said = {finding.where for finding in read_out.findings}
        findings += [of_no_injection(one) for one in numbers if str(one.analyte) not in said]
    strips = [read_strip(one, legs, doubts=doubts) for one in entered if isinstance(one, Strip) and (legs or doubts)]
    findings += [*asked, *read_out.findings, *(f for one in strips for f in _findings_of(one))]
    pictures = None
    if folder is not None:
        pictures, refused = _pictures(folder, read_out.readings)
        findings += refused
    return _answer(read_out, [one for one in strips if isinstance(one, StripReading)], pictures, findings, as_json)


def _answer(
    sample: Sample,
    strips: Sequence[StripReading],
    pictures: list[dict[str, str]] | None,
    findings: list[Finding],
    as_json: bool,
) -> int:
    disputed = dict.fromkeys(one for reading in sample.readings for one in reading.disagreements)
    disputed |= dict.fromkeys(one for strip in strips for one in strip.disagreements)
    if as_json:
        answer_json(
            {
                "injections": [_leg_json(one) for one in sample.legs],
                "readings": [_reading_json(one) for one in sample.readings],
                "strips": [_strip_json(one) for one in strips],
                "disagreements": [_disagreement_json(one) for one in disputed],
                "pictures": pictures,
                "findings": findings_json(findings),
            }
        )
        return status(findings)
    for leg in sample.legs:
        click.echo(f"{leg.leg}, {leg.leg.after} before the sample: {leg.says}.")
        click.echo(f"  {leg.why}.")
    for reading in sample.readings:
        _print_reading(reading)
    for strip in strips:
        after = f", {strip.after} after the injection" if strip.legs else ""
        click.echo(f"{strip.strip}{after}: {strip.says} ({strip.why}).")
    for one in disputed:
        click.echo(f"Sources disagree. {one.about}:")
        for side in one.sides:
            click.echo(f"  {side.text} [{side.cite()}]")
    for picture in pictures or ():
        click.echo(f"Picture: {picture['file']}")
    click.echo(
        "This reports what levels show. The prescriber decides; nothing is repeated or added without a new order."
    )
    print_findings(findings)
    return status(findings)


def _findings_of(one: StripReading | Finding) -> tuple[Finding, ...]:
    return (one,) if isinstance(one, Finding) else one.findings


def _print_reading(reading: Reading) -> None:
    entered = f' (entered "{reading.result.entered}")'
    click.echo(
        f"{reading.result.analyte} {reading.result} at {reading.after}{entered}: {reading.says} ({reading.why})."
    )
    for one in reading.expected:
        band = f", band {about(one.low)} to {about(one.high)}" if one.low < one.high else ""
        click.echo(f"  Curve, {one.about}: {about(one.median, reading.result.unit)}{band}")
    for seen in reading.observed:
        click.echo(f"  Published, {_seen_words(seen)}")
    if reading.working:
        click.echo("  Working:")
        print_working(reading.working)


def _seen_words(seen: Observation) -> str:
    beside = "; ".join(f"curve {one.percent}, {one.about}" for one in distances(seen)) or "no curve beside it"
    spread = f" ({seen.spread})" if seen.spread else ""
    return f"{seen.about}: {seen.statistic} {seen.level.text} at {_hours(seen)}{spread}; {beside} [{seen.level.cite()}]"


def _hours(seen: Observation) -> str:
    return f"{seen.hours} to {seen.until}" if seen.until is not None else str(seen.hours)


# Reading the options


def _injection(text: str) -> _Given:
    parts = text.split(", ")
    if len(parts) != 4:
        raise Unreadable(
            f'"{text[:60]}" is not drug, dose, route and time.',
            'Write it as "chorionic gonadotropin, 10,000 units, intramuscular, 11 h", with a comma and a space between.',
        )
    name, dose, route, at = parts
    if route not in ROUTES:
        raise Unreadable(f'"{route[:40]}" is not a route in full.', f"Write one of: {', '.join(ROUTES)}.")
    return _Given(drug(name), parse_dose(dose), route, _clock(at) if _CLOCK.fullmatch(at) else parse_span(at))


def _doubt(text: str) -> tuple[Kind, Doubt]:
    """Of which kind of drug what is not known; a drug by its name stands for its kind. Raises Unreadable."""
    name, _, what = text.partition(", ")
    kind = _kind(name)
    if kind is Kind.ANTAGONIST:
        raise Unreadable(
            f"{name} is a GnRH antagonist: no level here answers for it.",
            "Name the trigger of which it is not known: hCG, agonist, or the medicine by its generic name.",
        )
    if what not in _NOT_KNOWN:
        raise Unreadable(
            f'"{text[:60]}" does not say what is not known.',
            'Write it as "hCG, whether" (or when), "hCG, how much" or "hCG, what", with a comma and a space between.',
        )
    return kind, _NOT_KNOWN[what]


def _kind(name: str) -> Kind:
    for word, kind in _KINDS.items():
        if name.lower() == word.lower():
            return kind
    try:
        return drug(name).kind
    except Unreadable as error:
        raise Unreadable(error.what, f'Write "hCG" or "agonist", or the medicine by its name. {error.do}') from error


def _nothing_went_in(injections: Sequence[str], not_known: Sequence[str]) -> Sequence[Finding]:
    if injections or not_known:
        return ()
    write = "Write --injection with what went in, or --not-known with what nobody knows of it."
    return [unreadable(Unreadable("There is nothing to read the result against.", write), "--injection")]


def _twice(open_ones: Sequence[tuple[Kind, Doubt]]) -> Sequence[Finding]:
    kinds = [kind for kind, _ in open_ones]
    return [
        unreadable(
            Unreadable(
                f"{name} is given more than one time.", 'Write one for each kind; "whether" where least is known.'
            ),
            "--not-known",
        )
        for name, kind in _KINDS.items()
        if kinds.count(kind) > 1
    ]


def _clock(text: str) -> WallTime:
    match = _CLOCK.fullmatch(text)
    if match is None:
        return parse_wall(text)
    return parse_wall(match["wall"], match["which"])  # type: ignore[arg-type]


def _before(text: str) -> Result:
    found = parse_result(text)
    if found.analyte is not Analyte.PROGESTERONE:
        raise Unreadable(
            f"{found.analyte} from before is not used.", 'Write progesterone, for example "progesterone 0.6 ng/mL".'
        )
    return found


def _weight(text: str) -> Fraction:
    number, _, unit = text.partition(" ")
    if unit != "kg":
        raise Unreadable(f'"{text[:40]}" is not a weight in kg.', 'Write it in kg, for example "65 kg".')
    return _between(parse_number(number), _WEIGHT, "kg")


def _bmi(text: str) -> Fraction:
    return _between(parse_number(text), _BMI, "kg/m2")


def _between(value: Fraction, ends: tuple[Fraction, Fraction], unit: str) -> Fraction:
    if ends[0] <= value <= ends[1]:
        return value
    raise Unreadable(f"{float(value):g} {unit} is hardly right.", f"Write a value from {ends[0]} to {ends[1]} {unit}.")


def _missing(
    given: Sequence[_Given], drawn: str | None, zone: str | None, entered: Sequence[Result | Strip]
) -> Sequence[Finding]:
    found = []
    clocks = any(isinstance(one.at, WallTime) for one in given)
    for name, value in (("--drawn", drawn), ("--zone", zone)):
        if clocks and value is None:
            found.append(
                unreadable(
                    Unreadable(
                        f"An injection has a clock time, and {name} is missing.",
                        'Write --drawn "2026-11-19 08:00" and --zone Area/City, or the elapsed hours: "11 h".',
                    ),
                    name,
                )
            )
    kinds = [one.analyte if isinstance(one, Result) else one.kind for one in entered]
    found += [
        unreadable(Unreadable(f"{kind} is given more than one time.", "Write one result of one sample."), "--result")
        for kind in dict.fromkeys(kinds)
        if kinds.count(kind) > 1
    ]
    return found


def _legs(given: Sequence[_Given], drawn: WallTime | None, zone: Zone | None) -> tuple[list[Leg] | None, list[Finding]]:
    """The injections with the time elapsed from each; none when a clock time is not one instant."""
    found: list[Finding] = []
    sample = moment(drawn, zone, "--drawn") if drawn is not None and zone is not None else None
    if isinstance(sample, Finding):
        return None, [sample]
    if sample is not None and drawn is not None:
        found += needless_which(drawn, sample, "--drawn")
    legs: list[Leg] = []
    for one in given:
        after = _after(one, sample, zone)
        if isinstance(after, Finding):
            return None, [*found, after]
        legs.append(Leg(one.drug, one.dose, one.route, after))
    return legs, found


def _after(one: _Given, sample: Moment | None, zone: Zone | None) -> Span | Finding:
    if isinstance(one.at, Span):
        return one.at
    assert sample is not None
    assert zone is not None
    at = moment(one.at, zone, f"--injection {one.drug.name}")
    return at if isinstance(at, Finding) else sample - at


# Pictures


def _pictures(folder: Path, readings: Sequence[Reading]) -> tuple[list[dict[str, str]] | None, list[Finding]]:
    from hourmark.levels.plot import draw

    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        return None, [_refused(folder, "is there already and is not empty")]
    written = []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for reading in readings:
            for look in _LOOKS:
                path = folder / f"{reading.result.analyte.lower()}-{look}.svg"
                picture = draw(reading, look)  # type: ignore[arg-type]
                path.write_text(picture.svg, encoding="utf-8")
                written.append(
                    {"result": str(reading.result.analyte), "look": look, "file": str(path), "words": picture.words}
                )
    except OSError as error:
        return None, [_refused(folder, f"cannot be written: {error.strerror}")]
    return written, []


def _refused(folder: Path, why: str) -> Finding:
    return Finding(
        "out-refused",
        Level.STOP,
        f"{folder} {why}.",
        "Name a folder that is not there yet, or an empty one.",
        "--pictures",
    )


# JSON


def _leg_json(one: LegReading) -> dict[str, Any]:
    return {
        "drug": one.leg.drug.name,
        "dose": str(one.leg.dose),
        "route": one.leg.route,
        "after": str(one.leg.after),
        "says": str(one.says),
        "why": one.why,
    }


def _reading_json(one: Reading) -> dict[str, Any]:
    unit = one.result.unit
    band = one.band
    return {
        "analyte": str(one.result.analyte),
        "entered": one.result.entered,
        "value": str(one.result),
        "after": str(one.after),
        "says": str(one.says),
        "why": one.why,
        "expected": [
            {
                "curve": curve.about,
                "level": about(curve.median, unit),
                "low": about(curve.low, unit) if curve.low < curve.high else None,
                "high": about(curve.high, unit) if curve.low < curve.high else None,
            }
            for curve in one.expected
        ],
        "band": {"low": about(band[0], unit), "high": about(band[1], unit)} if band else None,
        "limits": [{"key": limit.key, "value": limit.text, "source": limit.cite()} for limit in one.limits],
        "observed": [_observed_json(seen) for seen in one.observed],
        "working": [_working_json(step) for step in one.working],
    }


def _observed_json(one: Observation) -> dict[str, Any]:
    return {
        "key": one.level.key,
        "about": one.about,
        "statistic": one.statistic,
        "hours": _hours(one),
        "value": one.level.text,
        "spread": one.spread,
        "curves": [{"curve": near.about, "off": near.percent} for near in distances(one)],
        "source": one.level.cite(),
    }


def _working_json(step: Working) -> dict[str, Any]:
    return {
        "name": step.name,
        "formula": step.formula,
        "inputs": [{"name": name, "value": value, "source": source} for name, value, source in step.inputs],
        "result": step.result,
    }


def _strip_json(one: StripReading) -> dict[str, Any]:
    return {
        "strip": str(one.strip),
        "after": str(one.after) if one.legs else None,
        "says": str(one.says),
        "why": one.why,
        "limits": [{"key": limit.key, "value": limit.text, "source": limit.cite()} for limit in one.limits],
    }


def _disagreement_json(one: Disagreement) -> dict[str, Any]:
    return {"about": one.about, "sides": [{"says": side.text, "source": side.cite()} for side in one.sides]}
