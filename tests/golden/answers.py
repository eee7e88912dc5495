"""What is kept of the answers: whole JSON and whole pages of the example nights, of the quiet and changed nights of the tests
beside, and of commands, as text that can be read and compared line by line."""

import dataclasses
import json
import os
import shlex
import tomllib
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import cache, partial
from pathlib import Path
from typing import Any

from click.testing import CliRunner

from hourmark.cli.main import cli
from hourmark.exchange import findings_json, plan_checked, plan_json, read_night
from hourmark.finding import Finding
from hourmark.handout import patient_sheet, sheet_text
from hourmark.plan import NightPlan
from tests.exchange import test_findings as nights
from tests.exchange.nights import Change, changed
from tests.golden.more import MORE
from tests.golden.readings import readings, steady

ROOT = Path(__file__).resolve().parents[2]
KEPT = Path(__file__).parent / "kept"
WIDTH = 150
PLAIN = {"COLUMNS": "100", "TERM": "dumb", "NO_COLOR": "1", "LINES": "40"}
LISTS_ONCE = ("mixes", "missteps", "missteps_left_out")
ROWS_ONCE = ("steps", "working")
"""What many injections of a night share is written out where it first stands, and named by that place afterwards."""

CHANGED = {"order": nights.ORDER, "time": nights.TIME, "kit": nights.KIT, "draw": nights.DRAW}
EXAMPLES = ("ordinary-night", "clocks-go-back", "travellers", "refusals", "refusals-whole-night")


def written(value: Any, indent: str = "") -> str:
    """JSON in which whatever fits into one line is one line."""
    flat = json.dumps(value, ensure_ascii=False)
    if len(indent) + len(flat) <= WIDTH or not isinstance(value, dict | list) or not value:
        return flat
    deeper = f"{indent} "
    if isinstance(value, dict):
        parts = [f"{json.dumps(key, ensure_ascii=False)}: {written(one, deeper)}" for key, one in value.items()]
        opening, closing = "{}"
    else:
        parts = [written(one, deeper) for one in value]
        opening, closing = "[]"
    return f"{opening}\n" + ",\n".join(deeper + part for part in parts) + f"\n{indent}{closing}"


def _once(value: Any, where: str, seen: dict[str, str], key: str = "") -> Any:
    flat = json.dumps(value)
    if (key in LISTS_ONCE and len(flat) > 60) or key.startswith("a row of "):
        first = seen.setdefault(flat, where)
        if first != where:
            return f"{value['code']}, as {first}" if isinstance(value, dict) and "code" in value else f"as {first}"
    if isinstance(value, list):
        row = f"a row of {key}" if key in ROWS_ONCE else ""
        return [_once(one, f"{where}/{_name(one, place)}", seen, row) for place, one in enumerate(value)]
    if isinstance(value, dict):
        return {name: _once(one, f"{where}/{name}", seen, name) for name, one in value.items()}
    return value


def _name(value: Any, place: int) -> str:
    return str(value["id"]) if isinstance(value, dict) and "id" in value else str(place)


def plain(answer: dict[str, Any]) -> dict[str, Any]:
    """Without what another version or another release of the time data changes by itself, and with shared lists once."""
    told = {key: value for key, value in answer.items() if key not in ("made_by", "time_data")}
    seen: dict[str, str] = {}
    # A list of cases has each finding with its case; the night's list then has their order only.
    for case in told.get("cases") or ():
        case.update(_once(case, case["id"], seen))
    if seen:
        told["findings"] = [
            f"{one['level']} {one['code']}, {one['where']}" if one["where"].startswith("case ") else one
            for one in told["findings"]
        ]
    return told


@cache
def planned(name: str) -> NightPlan:
    """The plan of an example."""
    night = read_night(ROOT / "examples" / f"{name}.toml")
    assert not isinstance(night, tuple)
    return plan_checked(night)


def in_folder(text: str, folder: Path) -> NightPlan:
    """The plan of a night given as text."""
    path = folder / "night.toml"
    path.write_text(text, encoding="utf-8")
    night = read_night(path)
    assert not isinstance(night, tuple)
    return plan_checked(night)


def night_answer(name: str, _: Path) -> str:
    """The plan of an example as JSON."""
    return f"{written(plain(plan_json(planned(name))))}\n"


def page(name: str, case_id: str, _: Path) -> str:
    """The draft of one case of an example."""
    plan = planned(name)
    (case,) = [one for one in plan.cases if one.case.id == case_id]
    return steady(sheet_text(patient_sheet(case, plan)))


def case_ids(name: str) -> list[str]:
    """The cases of an example, without planning it."""
    table = tomllib.loads((ROOT / "examples" / f"{name}.toml").read_text(encoding="utf-8"))
    return [case["id"] for case in table["cases"]]


def findings_of(found: Iterable[Finding]) -> str:
    """Findings, one after the other."""
    return steady("".join(f"{written(one)}\n" for one in findings_json(found)).replace(str(ROOT), ""))


def unreadable(path: Path, _: Path) -> str:
    """What is said of a night that cannot be read."""
    found = read_night(path)
    assert isinstance(found, tuple), path
    return findings_of(found)


def changed_night(base: str, changes: Sequence[Change], folder: Path) -> str:
    """Every finding of one changed night of tests/exchange/test_findings.py."""
    return findings_of(in_folder(changed(base, *changes), folder).all_findings())


def more_night(base: str, changes: Sequence[Change], folder: Path) -> str:
    """What is planned in a changed night, without steps, mixes and mistakes; or why it cannot be read."""
    path = folder / "night.toml"
    path.write_text(changed(base, *changes), encoding="utf-8")
    night = read_night(path)
    if isinstance(night, tuple):
        return findings_of(night).replace(str(folder), "")
    plan = plan_checked(night)
    told = []
    for one in plan_json(plan)["cases"]:
        for injection in one["injections"]:
            injection["steps"] = [step["code"] for step in injection["steps"]]
            injection["mixes"] = len(injection["mixes"])
            injection["working"] = [one["name"] for one in injection["working"]]
            if injection["draw"]:
                injection["draw"]["missteps"] = [
                    (made["code"], made["given"]) for made in injection["draw"]["missteps"]
                ]
                del injection["draw"]["missteps_left_out"]
            told.append(injection)
    return steady(f"{findings_of(plan.all_findings())}{written(told)}\n")


def shown_in_night(name: str, folder: Path) -> str:
    """What each step of a night shows, for whoever draws it: barrel, volume, needles and the rest, or nothing."""
    plan = in_folder({**nights.QUIET, **{row: changed(base, *changes) for row, base, changes in MORE}}[name], folder)
    lines = []
    for case in plan.cases:
        for injection in case.injections:
            lines += [f"{injection.injection.id} {step.code}: {_shown(step.shown)}" for step in injection.steps]
    return "".join(f"{line}\n" for line in lines)


def _shown(shown: Any) -> str:
    told = {field.name: getattr(shown, field.name) for field in dataclasses.fields(shown)}
    return ", ".join(f"{name} {_short(value)}" for name, value in told.items() if value) or "nothing"


def _short(value: Any) -> str:
    if isinstance(value, tuple):
        return f"({', '.join(map(_short, value))})"
    return str(getattr(value, "id", value))


def quiet_night(name: str, folder: Path) -> str:
    """The whole answer on a night that only notes."""
    plan = in_folder(nights.QUIET[name], folder)
    pages = steady("\n".join(sheet_text(patient_sheet(case, plan)) for case in plan.cases))
    return f"{written(plain(plan_json(plan)))}\n{pages}"


def commands() -> Iterator[str]:
    """One command a line; lines that start with a hash and empty ones are no command."""
    for line in (Path(__file__).parent / "commands.txt").read_text(encoding="utf-8").splitlines():
        if line and not line.startswith("#"):
            yield line


def command_answer(line: str, _: Path) -> str:
    """What a command prints for people, and its JSON; the JSON of a night is kept by itself."""
    here = Path.cwd()
    os.chdir(ROOT)
    try:
        people = CliRunner(env=PLAIN).invoke(cli, shlex.split(line))
        told = f"status {people.exit_code}\n{steady(people.output)}"
        if line.startswith("plan "):
            return told
        programs = CliRunner(env=PLAIN).invoke(cli, [*shlex.split(line), "--json"])
        return f"{told}-----\nstatus {programs.exit_code}\n{steady(written(plain(json.loads(programs.stdout))))}\n"
    finally:
        os.chdir(here)


def everything() -> dict[str, dict[str, Callable[[Path], str]]]:
    """What is kept: by the name of its file the parts, by their names, each with what makes it."""
    made: dict[str, dict[str, Callable[[Path], str]]] = {}
    for name in EXAMPLES:
        made[f"{name}-plan.txt"] = {"night": partial(night_answer, name)}
        made[f"{name}-pages.txt"] = {case_id: partial(page, name, case_id) for case_id in case_ids(name)}
    made["more.txt"] = {name: partial(more_night, base, changes) for name, base, changes in MORE}
    made["shown.txt"] = {
        name: partial(shown_in_night, name) for name in (*nights.QUIET, "two fills", "a fixed needle", "a helper")
    }
    made["readings.txt"] = readings()
    made["quiet.txt"] = {name: partial(quiet_night, name) for name in nights.QUIET}
    for name, rows in CHANGED.items():
        made[f"changed-{name}.txt"] = {
            f"{code}-{place}": partial(changed_night, base, changes)
            for place, (code, _, base, changes) in enumerate(rows)
        }
    for name in ("draw", "when", "plan"):
        made[f"commands-{name}.txt"] = {
            line: partial(command_answer, line) for line in commands() if line.startswith(f"{name} ")
        }
    made["unreadable.txt"] = {
        path.name: partial(unreadable, path) for path in sorted((ROOT / "examples/unreadable").glob("*.toml"))
    }
    return made


HEAD = "===== "


def parted(text: str) -> dict[str, str]:
    """The parts of a kept file by their names."""
    parts: dict[str, str] = {}
    for part in text.split(f"\n{HEAD}") if text else []:
        name, _, told = part.removeprefix(HEAD).partition("\n")
        parts[name] = told
    return parts


def joined(parts: dict[str, str]) -> str:
    """The text of a kept file."""
    return "".join(f"{HEAD}{name}\n{told}\n" for name, told in parts.items())


@cache
def kept(file: str) -> dict[str, str]:
    """What is kept in a file, by the names of its parts."""
    return parted((KEPT / file).read_text(encoding="utf-8").removesuffix("\n"))
