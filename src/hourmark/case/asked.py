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


def refusal(code: str, what: str, do: str, limit: str, where: str = "") -> Finding:
    """Why an act is refused."""
    return Finding(code, Level.STOP, what, do, where, limit, "hourmark's own rule")


def refused(code: str, what: str, do: str, limit: str, where: str = "") -> Refused:
    """An act refused for one reason."""
    return Refused((refusal(code, what, do, limit, where),))
