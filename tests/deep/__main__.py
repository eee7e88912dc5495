"""The long searches: python -m tests.deep --state FILE --code FILE --copy DIR --result FILE --commit ID [--minutes N] [--seed N].

Run by scripts/deep.
"""

import argparse
import datetime as dt
import hashlib
import json
import os
import random
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from tests.deep import changed, datamutants
from tests.deep.datamutants import Mutant
from tests.deep.reasons import NONE, code_reason, reason
from tests.deep.trial import Measured, measured, tried, warm_up

ROOT = Path(__file__).resolve().parents[2]
TESTS = (*changed.TESTS, "tests/cli/test_plan.py", "tests/cli/test_sources.py")
MOST_SECONDS = 6.0
"""The tests of one trial together took at most this long when they were measured."""
LEAST_TESTS = 30
MOST_AGAIN = 60.0
"""The same for the second look at a survivor, which the last fifth of the time is for."""


@dataclass(slots=True)
class State:
    """What was measured and tried so far on the figures. A kill stands while its file of figures and its test do."""

    seed: int
    tests_sum: str = ""
    minutes: float = 0.0
    files: dict[str, str] = field(default_factory=dict)
    tests: dict[str, Measured] = field(default_factory=dict)
    done: dict[str, tuple[bool, str, int]] = field(default_factory=dict)
    again: set[str] = field(default_factory=set)
    stale: set[str] = field(default_factory=set)
    """Survivors of other tests than these."""
    measured: bool = False
    """Whether the tests are the ones that were measured."""

    def save(self, path: Path) -> None:
        """Written whole, then moved into place."""
        told = {
            "seed": self.seed,
            "tests_sum": self.tests_sum,
            "minutes": round(self.minutes, 1),
            "files": self.files,
            "tests": {name: [one.seconds, one.passed, one.reach] for name, one in self.tests.items()},
            "done": self.done,
            "again": sorted(self.again),
            "stale": sorted(self.stale),
        }
        beside = path.with_suffix(".new")
        beside.write_text(json.dumps(told), encoding="utf-8")
        beside.replace(path)


def state_of(path: Path, seed: int) -> State:
    """What the state file holds, as far as it still holds: kills in files of figures that are as they were."""
    files = {
        file: hashlib.sha256((ROOT / file).read_bytes()).hexdigest()
        for file in sorted({one.file for one in datamutants.of_project(ROOT)})
    }
    tests_sum = changed.checksum(ROOT / "tests") + changed.checksum(ROOT / "src/hourmark")
    state = State(seed, tests_sum, files=files)
    if path.exists():
        told: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
        state.minutes = told["minutes"]
        state.tests = {name: Measured(*parts) for name, parts in told["tests"].items()}
        state.measured = told["tests_sum"] == tests_sum
        for one, (killed, by, tests) in told["done"].items():
            file = one.partition(":")[0]
            if told["files"].get(file) == files.get(file):
                state.done[one] = (killed, by, tests)
        # With other tests a survivor is looked at anew; until then it still counts as one.
        state.again = set(told["again"]) if state.measured else set()
        state.stale = set(told["stale"])
        if not state.measured:
            state.stale |= {one for one, (killed, *_) in state.done.items() if not killed}
    return state


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
        # A figure may be read once for many tests: those that use another figure of the same table come after.
        table = mutant.reach.partition(".")[0] if "/products/" in mutant.file else mutant.reach.rpartition(".")[0]
        related = [name for place, names in self.by_reach.items() if place.startswith(f"{table}.") for name in names]
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


def table(rows: Iterable[tuple[str, bool | None]], title: str) -> list[str]:
    """Planned, run, killed and survived by group, and altogether; None is not run."""
    lines = [f"| {title} | planned | run | killed | survived | killed of those run |", "|---|---|---|---|---|---|"]
    groups: dict[str, list[bool | None]] = {}
    for group, one in rows:
        groups.setdefault(group, []).append(one)
    everything = [one for told in groups.values() for one in told]
    for name, told in [*sorted(groups.items()), ("all", everything)]:
        run = [one for one in told if one is not None]
        killed = sum(run)
        share = f"{100 * killed / len(run):.1f} %" if run else "none run"
        lines.append(f"| {name} | {len(told)} | {len(run)} | {killed} | {len(run) - killed} | {share} |")
    return [*lines, ""]


def _cell(said: str) -> str:
    return "`" + said.replace("|", "\\|").replace("`", "'") + "`"


def figures(state: State, data: Sequence[Mutant]) -> list[str]:
    """The part of the page on figures."""

    def told(one: Mutant) -> bool | None:
        return state.done[one.id][0] if one.id in state.done else None

    passing = [one for one in state.tests.values() if one.passed]
    reached = Counter(name for one in passing for name in one.reach)
    alive = [one for one in data if told(one) is False]
    unlooked = sum(1 for one in alive if one.id not in state.again)
    unexplained_first = sorted(alive, key=lambda one: (reason(place(one), one.change) != NONE, one.id))
    return [
        "## Figures",
        "",
        f"- {state.minutes:.0f} minutes in all; {sum(1 for one in data if told(one) is None)} of {len(data)} changes left out by the time limit",
        f"- Tests to choose from: {len(passing)}. For one change those that read the figure or another of its table, together at most",
        f"  {MOST_SECONDS:.0f} s as measured, and at least {LEAST_TESTS} tests",
        f"- A second look at a survivor takes up to {MOST_AGAIN:.0f} s; {unlooked} survivors had none for want of time",
        "",
        *table(((f"`{short(one)}`", told(one)) for one in data), "file"),
        *table(((kind(one), told(one)) for one in data), "change"),
        "### Figures: survivors",
        "",
        "| figure | change | tests that use it | tests tried | reason |",
        "|---|---|---|---|---|",
        *(
            f"| {_cell(place(one))} | {_cell(one.change)} | {reached[one.reach]} |"
            f" {state.done[one.id][2]}{', looked at twice' if one.id in state.again else ''} | {reason(place(one), one.change)} |"
            for one in unexplained_first
        ),
        "",
    ]


def code(state: changed.CodeState, copy: Path) -> list[str]:
    """The part of the page on code."""

    def told(name: str) -> bool | None:
        return state.done[name].killed if name in state.done else None

    alive = sorted(name for name in state.planned if told(name) is False)
    said = changed.differences(copy, alive)
    reasons = {name: code_reason(name, said[name]) for name in alive}
    equal = sum(1 for one in reasons.values() if one != NONE)
    unreached = sum(1 for name in alive if not state.done[name].reach)
    left_out = Counter(name.partition("::")[0] for name in state.left_out)
    rooms = {name: one.file for name, one in state.planned.items()}
    return [
        "## Code",
        "",
        "- Changes by mutmut: operators, numbers, texts, arguments, assignments, conditions, names, in every function and method that has",
        "  no decorator; properties, cached functions and what stands outside functions are not changed",
        f"- {state.minutes:.0f} minutes in all; {sum(1 for name in state.planned if told(name) is None)} of {len(state.planned)} changes left out by the",
        "  time limit; the order is random, by the seed",
        f"- Tests to choose from: {state.collected}. For one change those that reach its statement, together at most {changed.FIRST_LOOK:.0f} s as",
        f"  measured; in a later run survivors are looked at again, with up to {changed.SECOND_LOOK:.0f} s",
        "- Left out of the choice, since they draw at random, take long or do not pass in the copy: "
        + (", ".join(f"{count} of `{file}`" for file, count in sorted(left_out.items())) or "none"),
        "- Kills stand from run to run while the function and the test that noticed are there; survivors are tried again",
        f"- Of {len(alive)} survivors {equal} have a reason below why they mean the same or only show; they are not counted as killed.",
        f"  {unreached} lie in statements that no test of the choice reaches",
        "",
        *table(((f"`{rooms[name].partition('/')[0]}`", told(name)) for name in state.planned), "room"),
        *table(((f"`{rooms[name]}`", told(name)) for name in state.planned), "module"),
        "### Code: survivors",
        "",
        "| module | function and number | change | tests tried of those that reach it | reason |",
        "|---|---|---|---|---|",
        *(
            f"| `{rooms[name]}` | `{changed.spoken(name)}` | {_cell(said[name])} | {state.done[name].tests} of {state.done[name].reach} |"
            f" {reasons[name]} |"
            for name in alive
        ),
    ]


def result(asked: argparse.Namespace, state: State, data: Sequence[Mutant]) -> str:
    """The result as a Markdown page."""
    return "\n".join(
        [
            "# Result of the long searches",
            "",
            "Written by the run itself; do not edit. One figure or one place of the code is changed at a time, and the tests that reach",
            "it are run. A change that some test notices is killed; one that no test tried here notices has survived. A survivor is no",
            "proof of a gap: some changes mean the same, and only a choice of the tests is tried.",
            "",
            f"- Command: `sh scripts/deep`, seed {state.seed}",
            f"- Commit: `{asked.commit}`",
            f"- Date: {dt.date.today():%Y-%m-%d}",
            "",
            *figures(state, data),
            *code(changed.load(asked.code), asked.copy),
            "",
        ]
    )


def search_code(asked: argparse.Namespace, minutes: float) -> None:
    """The changes of the code, in a process of its own, which must not have read hourmark as it is."""
    places = ["--state", str(asked.code), "--copy", str(asked.copy), "--seed", str(asked.seed)]
    subprocess.run([sys.executable, "-m", "tests.deep.changed", "--minutes", str(minutes), *places], check=True)


def play_nights(asked: argparse.Namespace) -> int:
    """100,000 simulated nights; their result lies beside the others, and the seeds of broken ones are kept where the result is committed."""
    kept = asked.result.parents[1] / "tests" / "night" / "seeds.txt"
    places = ["--result", str(asked.result.with_name("deep-nights.md")), "--kept", str(kept)]
    return subprocess.run([sys.executable, "-m", "tests.night", "--commit", asked.commit, *places]).returncode


def search_figures(asked: argparse.Namespace, state: State, data: Sequence[Mutant], minutes: float) -> None:
    """The changes of the figures."""
    begun = time.monotonic()
    until = begun + 60 * minutes
    before = state.minutes
    if not state.measured:
        print("Measuring the tests.", flush=True)
        state.tests = measured(ROOT, [path for path in TESTS if (ROOT / path).exists()], max(180.0, 20 * minutes))
        state.measured = True
        state.save(asked.state)
        print(f"{len(state.tests)} tests measured in {time.monotonic() - begun:.0f} s.", flush=True)
    # A kill stands as long as the test that made it is there and passes.
    for one, (killed, by, _) in list(state.done.items()):
        if killed and "::" in by and not (by in state.tests and state.tests[by].passed):
            del state.done[one]
    search = Search(state)
    order = list(data)
    random.Random(state.seed).shuffle(order)
    waiting = [one for one in order if one.id in state.stale] + [one for one in order if one.id not in state.done]
    saved = time.monotonic()

    def note() -> None:
        state.minutes = before + (time.monotonic() - begun) / 60
        state.save(asked.state)
        alive = sum(1 for dead, *_ in state.done.values() if not dead)
        print(f"{len(state.done)} figures tried, {alive} survived", flush=True)

    while waiting and time.monotonic() < until - 60 * minutes / 5:
        tried_now = waiting.pop(0)
        search.trial(tried_now)
        state.stale.discard(tried_now.id)
        if time.monotonic() - saved > 20:
            saved = time.monotonic()
            note()
    for mutant in sorted(data, key=lambda one: reason(place(one), one.change) != NONE):
        if mutant.id in state.done and not state.done[mutant.id][0] and mutant.id not in state.again | state.stale:
            if time.monotonic() > until:
                break
            search.trial(mutant, MOST_AGAIN)
            state.again.add(mutant.id)
    note()


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.deep")
    parser.add_argument("--minutes", type=float, default=60)
    parser.add_argument("--seed", type=int, default=20261125)
    parser.add_argument("--commit", required=True)
    parser.add_argument("--state", type=Path, required=True)
    parser.add_argument("--code", type=Path, required=True)
    parser.add_argument("--copy", type=Path, required=True)
    parser.add_argument("--result", type=Path, required=True)
    asked = parser.parse_args()
    broken = play_nights(asked) if asked.minutes else 0
    begun = time.monotonic()
    warm_up()
    data = datamutants.of_project(ROOT)
    if asked.minutes:
        search_code(asked, asked.minutes / 2)
    state = state_of(asked.state, asked.seed)
    if asked.minutes:
        search_figures(asked, state, data, asked.minutes - (time.monotonic() - begun) / 60)
    asked.result.write_text(result(asked, state, data), encoding="utf-8")
    print(f"The result is in {asked.result}.")
    if broken:
        sys.exit("Some nights broke: their seeds are kept in tests/night/seeds.txt.")


if __name__ == "__main__":
    main()
