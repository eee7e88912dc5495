"""Injections written short, for the tests of this folder."""

from fractions import Fraction

from hourmark.clock import Span, parse_span
from hourmark.formulary import Kind, drug
from hourmark.levels import Body, Doubt, Leg, Sample, parse_result, read_sample
from hourmark.quantity import parse_dose


def leg(text: str) -> Leg:
    """One injection, such as "chorionic gonadotropin, 10,000 units, intramuscular, 11 h"; "-2 h" after the sample."""
    name, dose, route, after = text.split(", ")
    span = parse_span(after.removeprefix("-"))
    return Leg(drug(name), parse_dose(dose), route, Span(-span.minutes) if after.startswith("-") else span)


def urinary(dose: str, after: str, route: str = "intramuscular") -> Leg:
    return leg(f"chorionic gonadotropin, {dose}, {route}, {after}")


def recombinant(after: str, dose: str = "250 mcg") -> Leg:
    return leg(f"choriogonadotropin alfa, {dose}, subcutaneous, {after}")


def agonist(after: str) -> Leg:
    return leg(f"triptorelin acetate, 0.2 mg, subcutaneous, {after}")


KINDS = {"agonist": Kind.AGONIST, "hCG": Kind.HCG}


def doubts(*unreported: str) -> dict[Kind, Doubt]:
    """What nobody has reported: "agonist", "hCG"."""
    return {KINDS[name]: Doubt.WHETHER for name in unreported}


def sample(
    results: str,
    *legs: Leg,
    bmi: str | None = None,
    weight: str | None = None,
    before: str | None = None,
    unreported: tuple[str, ...] = (),
) -> Sample:
    """Results such as "LH 9 IU/L; progesterone 1.1 ng/mL", read."""
    body = Body(Fraction(weight) if weight else None, Fraction(bmi) if bmi else None)
    earlier = parse_result(before) if before else None
    entered = [parse_result(text) for text in results.split("; ")]
    return read_sample(entered, legs, body, earlier, doubts=doubts(*unreported))
