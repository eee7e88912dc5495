"""The second check: another person works the case out from order and label, without having seen the first answer."""

from collections.abc import Iterator
from dataclasses import dataclass

from hourmark.case import events as e
from hourmark.case.asked import Asked, Refused, refusal, same_person
from hourmark.case.opening import not_open
from hourmark.case.state import CaseState


@dataclass(frozen=True, slots=True)
class OpenPlan:
    """Look at a case's plan or sheet."""

    case: str
    what: str


@dataclass(frozen=True, slots=True)
class SecondCheck:
    """Enter what another person worked out: minute, volumes and marks of every injection."""

    case: str
    entered: tuple[e.Reading, ...]


def open_plan(state: CaseState, command: OpenPlan, asked: Asked) -> tuple[e.CaseEvent, ...] | Refused:
    """Whoever looks is on the record; looking again before anything changed adds nothing."""
    if closed := not_open(state, command.case):
        return closed
    return () if _has_seen(state, asked) else (e.PlanOpened(command.what),)


def second_check(
    state: CaseState,
    command: SecondCheck,
    asked: Asked,
    planned: tuple[e.Reading, ...],
    rests_on: dict[str, str],
    checkers: tuple[str, ...],
) -> tuple[e.CaseEvent, ...] | Refused:
    """Both answers, and where they differ; then a sheet that is out is void. `checkers` are the roles that the clinic's lead signed for this."""
    if closed := not_open(state, command.case):
        return closed
    findings = []
    if asked.role not in checkers:
        findings.append(
            refusal(
                "checker-role",
                f"No signed rule lets the role of {asked.role} make the second check.",
                "Ask somebody whose role is among clinic.rules.checkers, or have the lead sign it.",
                f"signed checkers: {', '.join(checkers) or 'none'}",
            )
        )
    if _has_seen(state, asked):
        findings.append(
            refusal(
                "checker-saw-plan",
                f"{asked.by} has seen this case's plan since it last changed, and cannot check it blind.",
                "Ask somebody who has not.",
                "the second check is made without seeing the first answer",
            )
        )
    if not planned:
        findings.append(
            refusal(
                "check-without-plan",
                "There is no plan to check: a stop stands, or slot, order or kit is missing.",
                "Settle the stops of this case first.",
                "only what could be released is checked",
            )
        )
    if findings:
        return Refused(tuple(findings))
    differences = tuple(_differences(command.entered, planned))
    check = e.SecondChecked(str(asked.role), command.entered, planned, differences, rests_on)
    if differences and state.sheet is not None:
        return (check, e.SheetVoided(state.sheet.event.version, ("second check",), "a second check differs from it"))
    return (check,)


def _has_seen(state: CaseState, asked: Asked) -> bool:
    return any(same_person(asked.by, name) for name in state.opened_by)


def _differences(entered: tuple[e.Reading, ...], planned: tuple[e.Reading, ...]) -> Iterator[str]:
    """Where two workings of one case differ, in words that name no answer."""
    first, second = ({one.injection: one for one in readings} for readings in (planned, entered))
    for injection in sorted(first.keys() | second.keys()) if len(second) == len(entered) else ():
        ours, theirs = first.get(injection), second.get(injection)
        if ours is None or theirs is None:
            yield f"{injection}: one of the two has no such injection"
            continue
        if ours.at != theirs.at:
            yield f"{injection}: the minute differs"
        if [volume for volume, _ in ours.fills] != [volume for volume, _ in theirs.fills]:
            yield f"{injection}: the volume differs"
        if [mark for _, mark in ours.fills] != [mark for _, mark in theirs.fills]:
            yield f"{injection}: the mark differs"
    if len(second) != len(entered):
        yield "an injection was entered twice"
