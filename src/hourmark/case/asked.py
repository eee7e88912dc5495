"""Who asks for an act and when, and how an act is refused."""

from dataclasses import dataclass
from enum import StrEnum

from hourmark.finding import Finding, Level


class Role(StrEnum):
    """What somebody may answer for at the clinic; and apart from its staff she herself on her phone, and the watch over silence."""

    NURSE = "nurse"
    PRESCRIBER = "prescriber"
    PHARMACIST = "pharmacist"
    THEATRE = "theatre"
    LEAD = "lead"
    PATIENT = "patient"
    WATCH = "watch"


STAFF = (Role.NURSE, Role.PRESCRIBER, Role.PHARMACIST, Role.THEATRE, Role.LEAD)
"""The roles of people who work at the clinic."""


@dataclass(frozen=True, slots=True)
class Asked:
    """Who asks, in which role, and at which moment: RFC 3339 in UTC, to the second."""

    by: str
    role: Role
    at: str


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


def blank(**wanted: tuple[str, str]) -> Refused | None:
    """Why words are missing: the fields in which nothing stands, each with what belongs there."""
    missing = tuple(_blank(name, what) for name, (words, what) in wanted.items() if not words.strip())
    return Refused(missing) if missing else None


def _blank(name: str, what: str) -> Finding:
    return refusal("field-blank", "This was left empty.", f"Enter {what}.", "what this act asks for", name)
