"""Who asks for an act and when, and how an act is refused."""

from dataclasses import dataclass
from enum import StrEnum

from hourmark.case.events import Instant
from hourmark.finding import Finding, Level


class Role(StrEnum):
    """What somebody may answer for at the clinic."""

    NURSE = "nurse"
    PRESCRIBER = "prescriber"
    PHARMACIST = "pharmacist"
    THEATRE = "theatre"
    LEAD = "lead"


@dataclass(frozen=True, slots=True)
class Asked:
    """Who asks, in which role, and at which moment."""

    by: str
    role: Role
    at: Instant


@dataclass(frozen=True, slots=True)
class Refused:
    """Nothing was recorded; each finding says why, and what to do instead."""

    findings: tuple[Finding, ...]


def same_person(one: str, other: str) -> bool:
    """Whether two names are one person's; only case and spaces may differ."""
    return one.casefold().split() == other.casefold().split()


def only(asked: Asked, *roles: Role) -> Refused | None:
    """Why somebody of another role may not do it."""
    if asked.role in roles:
        return None
    return refused(
        "act-role",
        f"{asked.by} acts in the role of {asked.role}, and this is for: {', '.join(roles)}.",
        "Ask a colleague of that role.",
        "who may do what",
    )


def refusal(code: str, what: str, do: str, limit: str, where: str = "") -> Finding:
    """Why an act is refused."""
    return Finding(code, Level.STOP, what, do, where, limit, "hourmark's own rule")


def refused(code: str, what: str, do: str, limit: str, where: str = "") -> Refused:
    """An act refused for one reason."""
    return Refused((refusal(code, what, do, limit, where),))
