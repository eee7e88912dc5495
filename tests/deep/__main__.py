"""The long searches: python -m tests.deep --state FILE --result FILE --commit ID [--minutes N] [--seed N]. Run by scripts/deep."""

import argparse
import datetime as dt
import json
import os
import random
import time
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from tests.deep import codemutants, datamutants
from tests.deep.datamutants import Mutant
from tests.deep.reasons import NONE, reason
from tests.deep.trial import Measured, measured, tried, warm_up

ROOT = Path(__file__).resolve().parents[2]
TESTS = (
    "tests/authorities",
    "tests/cli",
    "tests/exchange",
    "tests/safety/test_chain.py",
    "tests/safety/test_questions.py",
    "tests/safety/test_recheck.py",
    "tests/safety/test_steps.py",
    "tests/oracles/test_amounts.py",
    "tests/oracles/test_leads.py",
    "tests/oracles/test_marks.py",
    "tests/oracles/test_missteps.py",
    "tests/laws/test_amounts.py",
    "tests/laws/test_draws.py",
)
MOST_ROWS = 6
MOST_SECONDS = 10.0
"""The tests of one trial together took at most this long when they were measured."""
LEAST_TESTS = 30
MOST_AGAIN = 120.0
"""The same for the second look at a survivor, which the last fifth of the time is for."""


@dataclass(slots=True)
class State:
    """What was measured and tried so far, for one commit and seed."""

    commit: str
    seed: int
    minutes: float = 0.0
    tests: dict[str, Measured] = field(default_factory=dict)
    done: dict[str, tuple[bool, str, int]] = field(default_factory=dict)
    again: set[str] = field(default_factory=set)

    def save(self, path: Path) -> None:
        """Written whole, then moved into place."""
        told = {
            "commit": self.commit,
            "seed": self.seed,
            "minutes": round(self.minutes, 1),
            "tests": {name: [one.seconds, one.passed, one.reach] for name, one in self.tests.items()},
            "done": self.done,
            "again": sorted(self.again),
        }
        beside = path.with_suffix(".new")
        beside.write_text(json.dumps(told), encoding="utf-8")
        beside.replace(path)


def state_of(path: Path, commit: str, seed: int) -> State:
    """What the state file holds for this commit and seed, or a fresh start."""
    if path.exists():
        told: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
        if told["commit"] == commit and told["seed"] == seed:
            return State(
                commit,
                seed,
                told["minutes"],
                {name: Measured(*parts) for name, parts in told["tests"].items()},
                {one: (killed, by, tests) for one, (killed, by, tests) in told["done"].items()},
                set(told.get("again", [])),
            )
        print("Another commit or seed than last time: everything starts afresh.")
    return State(commit, seed)


class Search:
    """Tries mutants one by one against the tests that reach the changed place, likely killers first."""

    def __init__(self, state: State) -> None:
        self.state = state
        self.kills = Counter(by for killed, by, _ in state.done.values() if killed)
        self.near: dict[str, Counter[str]] = {}
        passing = {name: one for name, one in state.tests.items() if one.passed}
        self.by_reach: dict[str, list[str]] = {}
        for name, one in passing.items():
            for place in one.reach:
                self.by_reach.setdefault(place, []).append(name)
        self.cheapest = sorted(passing, key=lambda name: passing[name].seconds)

    def chosen(self, mutant: Mutant, seconds: float) -> list[str]:
        """The tests for this mutant in their order, within the limit of seconds as measured."""
        direct = set(self.by_reach.get(mutant.reach, []))
        close = self.near.setdefault(mutant.reach, Counter())
        reaching = sorted(direct)
        if mutant.file.endswith(".toml"):
            # A figure may be read once for many tests: those that use another figure of the same table come after.
            table = mutant.reach.partition(".")[0] if "/products/" in mutant.file else mutant.reach.rpartition(".")[0]
            related = [
                name for place, names in self.by_reach.items() if place.startswith(f"{table}.") for name in names
            ]
            reaching = list(dict.fromkeys([*reaching, *related]))
        frequency = {name: len(self.state.tests[name].reach) for name in reaching}

        def rank(name: str) -> tuple[bool, bool, int, float, int]:
            test = self.state.tests[name]
            return (
                name not in direct,
                close[name] == 0,
                -min(self.kills[name], 3),
                test.seconds,
                frequency.get(name, 0),
            )

        kept: list[str] = []
        total = 0.0
        for name in sorted(reaching, key=rank):
            total += self.state.tests[name].seconds
            if total > seconds and kept:
                break
            kept.append(name)
        if len(kept) < LEAST_TESTS:
            kept += [name for name in self.cheapest if name not in kept][: LEAST_TESTS - len(kept)]
        return kept

    def trial(self, mutant: Mutant, seconds: float = MOST_SECONDS) -> None:
        """Plants the mutant, runs its tests, and puts the file back as it was."""
        file = ROOT / mutant.file
        text, stat = file.read_text(encoding="utf-8"), file.stat()
        tests = self.chosen(mutant, seconds)
        # The time of change differs from the compiled copy's, so that no stale copy is read.
        try:
            file.write_text(mutant.applied(text), encoding="utf-8")
            os.utime(file, (stat.st_atime, stat.st_mtime + 1000 + len(self.state.done) + len(self.state.again)))
            killed, by = tried(tests[:LEAST_TESTS], 60)
            if not killed and len(tests) > LEAST_TESTS:
                killed, by = tried(tests[LEAST_TESTS:], 30 + 2 * seconds)
        finally:
            file.write_text(text, encoding="utf-8")
            os.utime(file, ns=(stat.st_atime_ns, stat.st_mtime_ns))
        self.state.done[mutant.id] = (killed, by, len(tests))
        if killed:
            self.kills[by] += 1
            self.near.setdefault(mutant.reach, Counter())[by] += 1


def short(mutant: Mutant) -> str:
    """The file without the folders that all have in common."""
    return mutant.file.removeprefix("src/hourmark/formulary/data/").removeprefix("src/hourmark/")


def place(mutant: Mutant) -> str:
    """File and place in it, as the table of reasons has it."""
    return f"{short(mutant)}:{mutant.where}"


def kind(mutant: Mutant) -> str:
    """Moved, exchanged or dropped."""
    first = mutant.change.split()[0]
    return first if first in ("exchanged", "dropped") else "moved"


def table(mutants: Sequence[Mutant], state: State, group: Callable[[Mutant], str], title: str) -> list[str]:
    """Planned, run, killed and survived by group, and altogether."""
    lines = [f"| {title} | planned | run | killed | survived | killed of those run |", "|---|---|---|---|---|---|"]
    groups: dict[str, list[Mutant]] = {}
    for one in mutants:
        groups.setdefault(group(one), []).append(one)
    for name, ones in [*sorted(groups.items()), ("all", list(mutants))]:
        run = [state.done[one.id] for one in ones if one.id in state.done]
        killed = sum(1 for dead, *_ in run if dead)
        share = f"{100 * killed / len(run):.0f} %" if run else "none run"
        lines.append(f"| {name} | {len(ones)} | {len(run)} | {killed} | {len(run) - killed} | {share} |")
    return [*lines, ""]


def _unmeasured(state: State) -> str:
    files = {name.partition("::")[0] for name in state.tests}
    gone = [path for path in TESTS if path.endswith(".py") and path not in files]
    return f"; for want of time also {', '.join(f'`{path}`' for path in gone)}" if gone else ""


def _cell(said: str) -> str:
    return "`" + said.replace("|", "\\|").replace("`", "'") + "`"


def result(state: State, data: Sequence[Mutant], code: Sequence[Mutant]) -> str:
    """The result as a Markdown page."""
    passing = [one for one in state.tests.values() if one.passed]
    left = sum(1 for one in [*data, *code] if one.id not in state.done)

    def alive(mutants: Sequence[Mutant]) -> list[Mutant]:
        return [one for one in mutants if one.id in state.done and not state.done[one.id][0]]

    def tests(mutant: Mutant) -> str:
        return f"{state.done[mutant.id][2]}{', looked at twice' if mutant.id in state.again else ''}"

    unlooked = sum(1 for one in alive([*data, *code]) if one.id not in state.again)
    lines = [
        "# Result of the long searches",
        "",
        "Written by the run itself; do not edit. One figure or one place of the code is changed at a time, and the tests that reach",
        "it are run. A change that some test notices is killed; one that no test tried here notices has survived. A survivor is no",
        "proof of a gap: some changes mean the same, and only a spread of the tests is tried.",
        "",
        f"- Command: `sh scripts/deep`, seed {state.seed}, {state.minutes:.0f} minutes in all",
        f"- Commit: `{state.commit}`",
        f"- Date: {dt.date.today():%Y-%m-%d}",
        f"- Tests to choose from: {len(passing)}; all rows from authorities and exchange, of the others at most {MOST_ROWS} rows each;",
        f"  for one change those that reach it, together at most {MOST_SECONDS:.0f} s as measured, and at least {LEAST_TESTS} tests",
        f"- A second look at a survivor takes all tests that reach it, up to {MOST_AGAIN:.0f} s; {unlooked} survivors had none for want of time",
        f"- Left out of the choice: {len(state.tests) - len(passing)} tests that did not pass in the copy, the laws of whole nights, the",
        f"  planted faults, the tour and the changes of zones, which take long{_unmeasured(state)}",
        f"- Left out by the time limit: {left} of {len(data) + len(code)} changes; the order is random, by the seed, so the share run",
        "  hints at the rest, no more than so small a sample can",
        "",
        "## Figures",
        "",
        *table(data, state, lambda one: f"`{short(one)}`", "file"),
        *table(data, state, kind, "change"),
        "### Figures: survivors",
        "",
        "| figure | change | tests that use it | tests tried | reason |",
        "|---|---|---|---|---|",
    ]
    reached = Counter(name for one in passing for name in one.reach)
    unexplained_first = sorted(alive(data), key=lambda one: (reason(place(one), one.change) != NONE, one.id))
    lines += [
        f"| {_cell(place(one))} | {_cell(one.change)} | {reached[one.reach]} | {tests(one)} | {reason(place(one), one.change)} |"
        for one in unexplained_first
    ]
    lines += [
        "",
        "## Code",
        "",
        "Changed are comparisons, + and -, * and /, whole numbers, yes and no, conditions, results, and min and max. Texts, annotations and",
        "decorators are left alone.",
        "",
        *table(code, state, lambda one: f"`{one.file.split('/')[2]}`", "room"),
        *table(code, state, lambda one: f"`{short(one)}`", "module"),
        "### Code: survivors",
        "",
        "| place | change | tests that reach it | tests tried | reason |",
        "|---|---|---|---|---|",
    ]
    lines += [
        f"| {_cell(place(one))} | {_cell(one.change)} | {reached[one.reach]} | {tests(one)} | {reason(place(one), one.change)} |"
        for one in sorted(alive(code), key=lambda one: (one.file, one.at))
    ]
    return "\n".join(lines) + "\n"


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.deep")
    parser.add_argument("--minutes", type=float, default=60)
    parser.add_argument("--seed", type=int, default=20261125)
    parser.add_argument("--commit", required=True)
    parser.add_argument("--state", type=Path, required=True)
    parser.add_argument("--result", type=Path, required=True)
    asked = parser.parse_args()
    begun = time.monotonic()
    until = begun + 60 * asked.minutes
    warm_up()
    state = state_of(asked.state, asked.commit, asked.seed)
    before = state.minutes
    data, code = datamutants.of_project(ROOT), codemutants.of_project(ROOT)
    if not state.tests:
        print("Measuring the tests.", flush=True)
        state.tests = measured(ROOT, TESTS, MOST_ROWS, max(60.0, (until - begun) / 3))
        state.save(asked.state)
        print(f"{len(state.tests)} tests measured in {time.monotonic() - begun:.0f} s.", flush=True)
    search = Search(state)
    waiting = []
    for part in (data, code):
        order = list(part)
        random.Random(state.seed).shuffle(order)
        waiting.append([one for one in order if one.id not in state.done])
    spent = [0.0, 0.0]
    saved = time.monotonic()
    while any(waiting) and time.monotonic() < until - (until - begun) / 5:
        # The two parts get the same time, whatever one trial takes.
        turn = min((number for number in (0, 1) if waiting[number]), key=lambda number: spent[number])
        started = time.monotonic()
        search.trial(waiting[turn].pop(0))
        now = time.monotonic()
        spent[turn] += now - started
        if now - saved > 15:
            state.minutes, saved = before + (now - begun) / 60, now
            state.save(asked.state)
            alive = sum(1 for dead, *_ in state.done.values() if not dead)
            print(f"{len(state.done)} tried, {alive} survived, {sum(map(len, waiting))} to go", flush=True)
    for one in sorted([*data, *code], key=lambda one: reason(place(one), one.change) != NONE):
        if one.id in state.done and not state.done[one.id][0] and one.id not in state.again:
            if time.monotonic() > until:
                break
            search.trial(one, MOST_AGAIN)
            state.again.add(one.id)
            state.save(asked.state)
    state.minutes = before + (time.monotonic() - begun) / 60
    state.save(asked.state)
    asked.result.write_text(result(state, data, code), encoding="utf-8")
    print(f"The result is in {asked.result}.")


if __name__ == "__main__":
    main()
