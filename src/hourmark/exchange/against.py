"""What moved between an earlier plan and this one: after new time data, a moved slot or a changed order."""

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from hourmark.exchange.answers import plan_json
from hourmark.finding import Finding, Level
from hourmark.plan import NightPlan


@dataclass(frozen=True, slots=True)
class Moved:
    """One injection whose minute or dose is not what it was; None where there was or is none.

    was, now: instants in UTC. was_said, now_said: on the patient's clock, in words. was_take, now_take: state, dose, box, water, fills.
    """

    case: str
    injection: str
    was: str | None
    now: str | None
    was_said: str | None
    now_said: str | None
    was_take: str | None
    now_take: str | None


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
    """Every injection whose minute, dose, box, water, fills or state changed, appeared or went, in order of case and injection."""
    before, after = _minutes(old), _minutes(plan_json(plan))
    nothing = (None, None, None)
    return [
        Moved(*key, was[0], now[0], was[1], now[1], was[2], now[2])
        for key in sorted(before.keys() | after.keys())
        if (was := before.get(key, nothing)) != (now := after.get(key, nothing))
    ]


def _minutes(told: dict[str, Any]) -> dict[tuple[str, str], tuple[str | None, str | None, str | None]]:
    return {
        (str(case["id"]), str(one["id"])): (
            one["inject_at"],
            one["patient"]["said"] if one["patient"] else None,
            _take(case, one),
        )
        for case in told["cases"]
        for one in case["injections"]
    }


def _take(case: dict[str, Any], one: dict[str, Any]) -> str:
    fills = one["draw"]["fills"] if one["draw"] else []
    marks = ", ".join(
        f"{fill['how']} {fill['mark'] or fill['sprays'] or fill['volume']} on {fill['syringe']}" for fill in fills
    )
    water = f", {one['diluent']['volume']} of water" if one["diluent"] else ""
    return f"{case['state']}: {one['dose']} {one['drug']}, {one['route']}, {one['product'] or 'no box'}{water}, {marks or 'nothing drawn'}"
