"""The clinic's rules: signed by its lead, and barrels measured. A changed part voids exactly the sheets that rested on it."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from hourmark.case import events as e
from hourmark.case.asked import Asked, Refused, Role, only, refused
from hourmark.case.day import RulesState, with_barrel
from hourmark.case.opening import nothing_changed
from hourmark.case.rests import voided_by_clinic
from hourmark.case.state import CaseState
from hourmark.case.streams import RULES, On, case_stream


@dataclass(frozen=True, slots=True)
class SignRules:
    """Sign the clinic's rules, as the table `clinic` of a night file."""

    clinic: e.Table


@dataclass(frozen=True, slots=True)
class MeasureBarrel:
    """Enter the scale of a barrel in use, as in `[[clinic.barrels]]` of a night file."""

    barrel: e.Table


def sign_rules(
    rules: RulesState, cases: Iterable[CaseState], command: SignRules, asked: Asked
) -> tuple[On, ...] | Refused:
    """The rules hold from now on; every sheet that rested on a part that is not so any more is void."""
    if command.clinic == rules.clinic:
        return nothing_changed("rules")
    signed: Any = command.clinic.get("rules") or {"signed_by": asked.by}
    if asked.role is not Role.LEAD or signed["signed_by"] != asked.by:
        return refused(
            "rules-by-other",
            f"The rules name {signed['signed_by']}, and {asked.by} asks in the role of {asked.role}.",
            "The clinic's lead signs them.",
            "rules are signed by the clinic's lead",
        )
    open_cases = tuple(cases)
    if rules.clinic and rules.clinic.get("zone") != command.clinic.get("zone") and open_cases:
        return refused(
            "zone-in-use",
            f"The clinic's zone is {rules.clinic.get('zone')}, and {len(open_cases)} cases are counted in it.",
            "Close the open cases before the clinic moves to another zone.",
            "slots are clock times of the clinic",
        )
    return (
        On(RULES, e.RulesSigned(rules.version + 1, command.clinic)),
        *_voided(open_cases, command.clinic, "the clinic's rules were signed anew"),
    )


def measure_barrel(
    rules: RulesState, cases: Iterable[CaseState], command: MeasureBarrel, asked: Asked
) -> tuple[On, ...] | Refused:
    """The barrel is drawn at true size from now on; sheets that show it otherwise are void."""
    if wrong := only(asked, Role.NURSE, Role.PHARMACIST, Role.LEAD) or no_rules(rules):
        return wrong
    clinic = with_barrel(rules.clinic, command.barrel)
    if clinic == rules.clinic:
        return nothing_changed("measured barrel")
    return (
        On(RULES, e.BarrelMeasured(command.barrel)),
        *_voided(cases, clinic, f"the {command.barrel['syringe']} barrel was measured"),
    )


def no_rules(rules: RulesState) -> Refused | None:
    """Why nothing that is counted on the clinic's clock can be done before somebody has signed its rules."""
    if rules.version:
        return None
    return refused(
        "rules-missing",
        "Nobody has signed the clinic's rules yet, and they say in which zone its clock is.",
        "Have the clinic's lead sign them.",
        "slots are clock times of the clinic",
    )


def _voided(cases: Iterable[CaseState], clinic: e.Table, why: str) -> tuple[On, ...]:
    return tuple(On(case_stream(one.id), event) for one in cases for event in voided_by_clinic(one, clinic, why))
