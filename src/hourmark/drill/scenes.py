"""The scenes: who rings in which words, what she says when asked, and which number is asked for. All of it is invented."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from importlib.resources import as_file, files
from typing import Any

from hourmark.exchange import plan_checked, read_night
from hourmark.incident.calls import Call, Decider, call
from hourmark.order import Night
from hourmark.plan import CasePlan, NightPlan

BANNER = "DRILL. An invented night: no patient, no order, nothing on the record."
"""Stands above and below everything that a drill shows."""

NIGHT_BANNER = "DRILL. An invented night: no patient, no real order, a record of its own."
"""The same where the drill is on the real pages, which write into its record."""

NIGHTS = ("night", "clocks")
"""The night files of the drill, by their names."""


class Wants(StrEnum):
    """Which number a computed call asks for."""

    DOSE = "dose"
    LEAD = "lead"
    MARK = "mark"
    VOLUME = "volume"
    VIALS = "vials"
    MINUTE = "minute"
    WINDOW = "window"
    SECOND = "second"
    REST = "rest"
    FASTING = "fasting"


@dataclass(frozen=True, slots=True)
class Scene:
    """One call of the drill. `now` and the clock times in `told` are the clinic's; `facts` are her answers in the incident room's words.

    `pen` is what a pen call is about: the dose, and what the pen holds. `wants` is None where no number belongs to the answer. Of a case that
    nobody `called` no page is out.
    """

    call: Call
    case: str
    now: str
    words: str
    told: str
    who: Decider
    wants: Wants | None
    injection: str | None
    facts: Mapping[str, str]
    pen: Mapping[str, str]
    called: bool = True

    @property
    def danger(self) -> bool:
        """Whether a sign of danger sends this call to the emergency services."""
        return self.call.red_flag and self.who is Decider.EMERGENCY

    @property
    def kind(self) -> str:
        """What the nurse should call it: a kind of trouble, what is asked for, "danger", or "question" where none fits."""
        if self.danger:
            return "danger"
        return str(self.call.kind) if self.call.kind is not None else "question"


@cache
def scenes() -> tuple[Scene, ...]:
    """One scene for each call, in the calls' order."""
    return tuple(_scene(table) for table in written_scenes().values())


def scene(call_id: str) -> Scene:
    """The scene of that call. Raises KeyError when there is none."""
    return _scene(written_scenes()[call_id])


@cache
def written_scenes() -> dict[str, Mapping[str, Any]]:
    """The scenes as they stand in their file, by call."""
    return {table["call"]: table for table in _toml("scenes")["scenes"]}


@cache
def written_nights() -> dict[str, tuple[Mapping[str, Any], Mapping[str, Any]]]:
    """Every case as it stands in its night file, with that file, by the case's id."""
    return {table["id"]: (table, night) for night in map(_toml, NIGHTS) for table in night["cases"]}


def case_plan(case_id: str) -> CasePlan:
    """The plan of an invented case. Raises KeyError when there is none."""
    return next(plan for plan in plan_around(case_id).cases if plan.case.id == case_id)


def plan_around(case_id: str) -> NightPlan:
    """The planned night that an invented case belongs to. Raises KeyError when there is none."""
    return _nights_by_case()[case_id]


@cache
def _nights_by_case() -> dict[str, NightPlan]:
    return {plan.case.id: night for night in map(night_plan, NIGHTS) for plan in night.cases}


@cache
def night_plan(name: str) -> NightPlan:
    """One invented night, planned. Raises ValueError when its file cannot be read."""
    with as_file(files("hourmark.drill").joinpath("data", f"{name}.toml")) as path:
        night = read_night(path)
    if not isinstance(night, Night):
        raise ValueError(f"{name}: {night[0].what}")
    return plan_checked(night)


def _scene(table: Mapping[str, Any]) -> Scene:
    wants = table.get("wants")
    return Scene(
        call=call(table["call"]),
        case=table["case"],
        now=table["now"],
        words=table["words"],
        told=table["told"],
        who=Decider(table["who"]),
        wants=Wants(wants) if wants is not None else None,
        injection=table.get("injection"),
        facts=table.get("facts", {}),
        pen=table.get("pen", {}),
        called=table.get("called", True),
    )


@cache
def _toml(name: str) -> dict[str, Any]:
    with files("hourmark.drill").joinpath("data", f"{name}.toml").open("rb") as file:
        return tomllib.load(file)
