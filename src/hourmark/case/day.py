"""How a day and the clinic stand: the folds of their streams."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from hourmark.case import events as e
from hourmark.case.shapes import Recorded


@dataclass(frozen=True, slots=True)
class DayState:
    """One day: its slots, whose they are, the lists that went out, and the handovers of the night that began on it, by their entries.

    `given_by` and `given_at` say who handed over and when, `taken_by` and `taken_at` who signed for it; `listed_by` and `listed_at` who
    gave out the list of a number.
    """

    slots: Mapping[str, e.SlotPlaced] = field(default_factory=dict)
    cases: Mapping[str, str] = field(default_factory=dict)
    handovers: Mapping[int, e.HandedOver] = field(default_factory=dict)
    given_by: Mapping[int, str] = field(default_factory=dict)
    given_at: Mapping[int, e.Instant] = field(default_factory=dict)
    taken_by: Mapping[int, str] = field(default_factory=dict)
    taken_at: Mapping[int, e.Instant] = field(default_factory=dict)
    lists: tuple[e.MorningListed, ...] = ()
    listed_by: Mapping[int, str] = field(default_factory=dict)
    listed_at: Mapping[int, e.Instant] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class RulesState:
    """The clinic's signed rules in force, with the barrels measured since; version 0 where nobody has signed any."""

    version: int = 0
    clinic: e.Table = field(default_factory=dict)
    changed_at: e.Instant = ""


NO_DAY = DayState()
NO_RULES = RulesState()


def fold_day(records: Iterable[Recorded], state: DayState = NO_DAY) -> DayState:
    """The day after these events. Raises ValueError for an event that no day has."""
    for record in records:
        match record.event:
            case e.SlotPlaced(slot) as placed:
                state = replace(state, slots={**state.slots, str(slot["id"]): placed})
            case e.SlotAssigned(name, case):
                others = {slot: whose for slot, whose in state.cases.items() if slot != name}
                state = replace(state, cases={**others, name: case} if case is not None else others)
            case e.HandedOver() as handed:
                state = replace(
                    state,
                    handovers={**state.handovers, record.seq: handed},
                    given_by={**state.given_by, record.seq: record.actor},
                    given_at={**state.given_at, record.seq: record.at},
                )
            case e.HandoverTaken(entry):
                state = replace(
                    state,
                    taken_by={**state.taken_by, entry: record.actor},
                    taken_at={**state.taken_at, entry: record.at},
                )
            case e.MorningListed() as listed:
                state = replace(
                    state,
                    lists=(*state.lists, listed),
                    listed_by={**state.listed_by, listed.version: record.actor},
                    listed_at={**state.listed_at, listed.version: record.at},
                )
            case other:
                raise ValueError(f"{type(other).__name__} is not an event of a theatre day.")
    return state


def fold_rules(records: Iterable[Recorded], state: RulesState = NO_RULES) -> RulesState:
    """The rules after these events. Raises ValueError for an event that they do not have."""
    for record in records:
        match record.event:
            case e.RulesSigned(version, clinic):
                state = RulesState(version, clinic, record.at)
            case e.BarrelMeasured(barrel):
                state = replace(state, clinic=with_barrel(state.clinic, barrel), changed_at=record.at)
            case other:
                raise ValueError(f"{type(other).__name__} is not an event of the rules.")
    return state


def with_barrel(clinic: e.Table, barrel: e.Table) -> e.Table:
    """The clinic's table with this measured barrel in the place of an earlier one of its kind."""
    listed = clinic.get("barrels")
    others = [one for one in listed if isinstance(one, dict)] if isinstance(listed, list) else []
    return clinic | {"barrels": [*(one for one in others if one["syringe"] != barrel["syringe"]), barrel]}


def fold_roll(records: Iterable[Recorded], roll: tuple[str, ...] = ()) -> tuple[str, ...]:
    """The open cases, in the order in which they were opened. Raises ValueError for an event that no roll has."""
    listed = dict.fromkeys(roll)
    for record in records:
        match record.event:
            case e.CaseListed(case):
                listed[case] = None
            case e.CaseDelisted(case):
                listed.pop(case, None)
            case other:
                raise ValueError(f"{type(other).__name__} is not an event of the roll.")
    return tuple(listed)
