"""What moved between an earlier plan and this one: after new time data, a moved slot or a changed order."""

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from hourmark.finding import Finding, Level
from hourmark.plan import NightPlan


@dataclass(frozen=True, slots=True)
class Moved:
    """One injection whose minute is not what it was: instants in UTC and clock times as said; None where there was or is none."""

    case: str
    injection: str
    was: str | None
    now: str | None
    was_said: str | None
    now_said: str | None


def read_old(path: Path) -> dict[str, Any] | Finding:
    """The earlier plan, as staff/night.json holds it, or a stop."""
    try:
        old = json.loads(path.read_bytes())
    except OSError as error:
        return _unreadable(path, f"The earlier plan cannot be read: {error.strerror}.")
    except (ValueError, RecursionError):
        return _unreadable(path, "The earlier plan is not JSON.")
    try:
        if not str(old["made_by"]).startswith("hourmark "):
            raise KeyError("made_by")
        _minutes(old)
    except (TypeError, KeyError, AttributeError):
        return _unreadable(path, "This is not a plan of hourmark's.")
    return dict(old)


def _unreadable(path: Path, what: str) -> Finding:
    return Finding(
        "against-unreadable",
        Level.STOP,
        what,
        "Name the staff/night.json that an earlier plan wrote.",
        str(path),
        "the answer of hourmark plan --json",
        "docs/answers.md",
    )


def moved(old: dict[str, Any], plan: NightPlan) -> list[Moved]:
    """Every injection whose minute on the patient's clock changed, appeared or went, in order of case and injection."""
    before = _minutes(old)
    after = {
        (case.case.id, one.injection.id): (one.timed.patient.utc, one.timed.patient.local)
        if one.timed
        else (None, None)
        for case in plan.cases
        for one in case.injections
    }
    return [
        Moved(*key, was[0], now[0], was[1], now[1])
        for key in sorted(before.keys() | after.keys())
        if (was := before.get(key, (None, None))) != (now := after.get(key, (None, None)))
    ]


def _minutes(old: dict[str, Any]) -> dict[tuple[str, str], tuple[str | None, str | None]]:
    return {
        (str(case["id"]), str(one["id"])): (one["inject_at"], one["patient"]["local"] if one["patient"] else None)
        for case in old["cases"]
        for one in case["injections"]
    }
