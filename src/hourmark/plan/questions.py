"""Safety questions: asked of the prescriber, never a block by themselves."""

from collections.abc import Iterable
from fractions import Fraction

from hourmark.clock import Moment, Span
from hourmark.finding import Finding, Level
from hourmark.formulary import Kind, facts
from hourmark.order import Case, Clinic, Injection, Purpose
from hourmark.plan.timing import Timed
from hourmark.quantity import number_text


def safety_questions(case: Case) -> Iterable[Finding]:
    """What to ask before this trigger is given, from the counts and values entered."""
    if case.order.purpose is not Purpose.TRIGGER:
        return
    hcg, agonists = case.order.of_kind(Kind.HCG), case.order.of_kind(Kind.AGONIST)
    for injection in hcg:
        for finding in (*_overstimulation(case, injection), *_heavy(case, injection)):
            yield finding.at(f"injection {injection.id}")
    if agonists and not hcg:
        yield from _low_luteinising(case)


def _overstimulation(case: Case, injection: Injection) -> Iterable[Finding]:
    limits = facts("limits")
    full = limits["full-dose-units"].value, limits["full-dose-mass"].value
    if any(type(injection.dose) is type(dose) and injection.dose >= dose for dose in full):  # type: ignore[operator]
        yield from overstimulation(case, "A full dose of hCG")


def overstimulation(case: Case, what: str) -> Iterable[Finding]:
    """The question that hCG asks of the counts and values entered; `what` says in words how much of it."""
    limits = facts("limits")
    for level in (Level.ASK, Level.NOTE):
        follicles, estradiol = limits[f"follicles-{level}"], limits[f"estradiol-{level}"]
        many = case.follicles is not None and case.follicles >= follicles.value
        high = case.e2 is not None and case.e2 >= estradiol.value
        if many or high:
            seen = " and ".join([f"{case.follicles} follicles"] * many + [f"estradiol {_text(case.e2)} pg/mL"] * high)
            yield Finding(
                {Level.ASK: "overstimulation-risk", Level.NOTE: "overstimulation-note"}[level],
                level,
                f"{what} with {seen}: the risk of ovarian hyperstimulation is raised.",
                "Ask the prescriber whether this drug and dose are wanted."
                if level is Level.ASK
                else "Say it at the second check.",
                "order",
                f"from {follicles.text} or estradiol {estradiol.text}",
                follicles.cite(),
            )
            return


def _text(value: Fraction | None) -> str:
    return number_text(value) if value is not None else "not entered"


def _heavy(case: Case, injection: Injection) -> Iterable[Finding]:
    limit = facts("limits")["bmi-subcutaneous"]
    if injection.route == "subcutaneous" and case.bmi is not None and case.bmi >= limit.value:
        yield Finding(
            "bmi-subcutaneous",
            Level.ASK,
            f"hCG under the skin with a body-mass index of {_text(case.bmi)}: blood levels were lower in some studies.",
            "Ask the prescriber whether this route and dose are wanted, and whether hCG is measured in the morning.",
            "order",
            f"from {limit.text}",
            limit.cite(),
        )


def _low_luteinising(case: Case) -> Iterable[Finding]:
    limit = facts("limits")["lh-agonist-alone"]
    if case.lh is None:
        yield Finding(
            "lh-missing",
            Level.ASK,
            "An agonist alone is ordered, and today's luteinising hormone is not entered.",
            "Ask for today's value and enter it as lh.",
            "case",
            f"at least {limit.text}",
            limit.cite(),
        )
    elif case.lh < limit.value:
        yield Finding(
            "lh-low",
            Level.ASK,
            f"An agonist alone is ordered with a luteinising hormone of {_text(case.lh)} units/L: the surge may be too small.",
            "Ask the prescriber whether hCG is wanted beside it, and when LH is measured afterwards.",
            "case",
            f"at least {limit.text}",
            limit.cite(),
        )


_STEP = Span(15)


def phone_questions(injection: Injection, at: Timed, mix_at: Moment | None, clinic: Clinic) -> Iterable[Finding]:
    """An ask when nobody answers a line at some time from mixing until some hours after the injection."""
    after = facts("limits")["phone-after"]
    start = (mix_at or at.patient).seen_in(clinic.zone)
    silent = _first_silent(clinic, start, at.clinic.after(after.value))
    if silent is not None:
        yield Finding(
            "phone-unanswered",
            Level.ASK,
            f"No line of the clinic is answered at {silent.wall:%H:%M} on {silent.wall:%Y-%m-%d}."
            if clinic.phones
            else "The clinic's telephone lines are not entered.",
            "Arrange who answers from mixing until after the injection, and enter it under clinic.phones.",
            f"injection {injection.id}",
            f"from mixing until {after.text} after",
            after.cite(),
        )


def _first_silent(clinic: Clinic, start: Moment, end: Moment) -> Moment | None:
    at = start
    while at < end:
        if clinic.number_at(at.wall) is None:
            return at
        at = at.after(_STEP)
    return end if clinic.number_at(end.wall) is None else None
