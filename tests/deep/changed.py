"""Changes of the code, made by mutmut, one at a time in a forked process that has every test collected already.

mutmut writes each changed function beside the first one, with a switch before both. Its own way of running starts pytest afresh
for each change and orders the tests anyhow; here the tests are collected once, each change is switched on in a child, and the
tests that reach the function run there, likely killers first, until one fails. A decision under docs/adr says why.
"""

import argparse
import ast
import contextlib
import difflib
import hashlib
import importlib
import json
import os
import pickle
import random
import resource
import select
import shutil
import signal
import sys
import time
import tomllib
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import wraps
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[2]
ROOMS = ("quantity", "clock", "dose", "plan", "recheck")
TESTS = (
    "tests/golden",
    "tests/authorities",
    "tests/cli/test_draw.py",
    "tests/cli/test_when.py",
    "tests/exchange/test_edges.py",
    "tests/exchange/test_findings.py",
    "tests/exchange/test_kit_and_timing.py",
    "tests/exchange/test_nightfile.py",
    "tests/safety/test_questions.py",
    "tests/safety/test_recheck.py",
    "tests/safety/test_steps.py",
    "tests/safety/test_survivors.py",
)
SLOWEST = 3.0
"""A test that took longer than this many seconds is left out."""
FIRST_LOOK = 3.0
"""The tests of a first look together took at most this many seconds when they were measured."""
SECOND_LOOK = 5.0
MEMORY = 4 << 30


@dataclass(slots=True)
class Told:
    """What came of one change: by which test it was killed, or by none of how many."""

    killed: bool
    by: str
    tests: int
    reach: int
    seconds: float


@dataclass(slots=True)
class CodeState:
    """Everything tried. A kill stands while its function and its test do; survivors are tried again."""

    minutes: float = 0.0
    planned: dict[str, "Planned"] = field(default_factory=dict)
    done: dict[str, Told] = field(default_factory=dict)
    measured: dict[str, tuple[str, float, list[str]]] = field(default_factory=dict)
    """Each test with the sum of its file and what it leans on, its seconds, and the functions it reaches."""
    collected: int = 0
    left_out: list[str] = field(default_factory=list)


def load(path: Path) -> CodeState:
    """What an earlier run left."""
    if not path.exists():
        return CodeState()
    told: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    done = {name: Told(*parts) for name, parts in told.pop("done").items()}
    told["planned"] = {name: Planned(*one) for name, one in told["planned"].items()}
    places = told.pop("places")
    told["measured"] = {
        name: (text, seconds, [places[number] for number in reach])
        for name, (text, seconds, reach) in told["measured"].items()
    }
    return CodeState(**told, done=done)


def save(state: CodeState, path: Path) -> None:
    """Written whole, then moved into place."""
    told = {name: getattr(state, name) for name in ("minutes", "collected", "left_out")}
    told["planned"] = {name: [one.file, one.text, one.place] for name, one in state.planned.items()}
    places = sorted({place for _, _, reach in state.measured.values() for place in reach})
    numbers = {place: number for number, place in enumerate(places)}
    told["places"] = places
    told["measured"] = {
        name: [text, seconds, [numbers[place] for place in reach]]
        for name, (text, seconds, reach) in state.measured.items()
    }
    told["done"] = {
        name: [one.killed, one.by, one.tests, one.reach, round(one.seconds, 2)] for name, one in state.done.items()
    }
    beside = path.with_suffix(".new")
    beside.write_text(json.dumps(told), encoding="utf-8")
    beside.replace(path)


def checksum(folder: Path) -> str:
    """One sum of every file below, without compiled copies."""
    total = hashlib.sha256()
    for path in sorted(folder.rglob("*")):
        if path.is_file() and "__pycache__" not in path.parts:
            total.update(path.relative_to(folder).as_posix().encode() + b"\0" + path.read_bytes() + b"\0")
    return total.hexdigest()


@dataclass(frozen=True, slots=True)
class Planned:
    """A change: its file, the sum of the function it is in, and the statement it is in, by its place in the function."""

    file: str
    text: str
    place: str


def changed_copy(root: Path, copy: Path) -> dict[str, Planned]:
    """hourmark with every change of the searched rooms beside what it changes; the name of each change, and where it is.

    Made once for one state of a file: mutmut takes a minute for all of them.
    """
    from mutmut.mutation.file_mutation import mutate_file_contents
    from mutmut.utils.format_utils import get_mutant_name, mangled_name_from_mutant_name

    names = copy / "changes.json"
    kept: dict[str, Any] = json.loads(names.read_text(encoding="utf-8")) if names.exists() else {}
    shutil.rmtree(copy / "hourmark", ignore_errors=True)
    shutil.copytree(root / "src/hourmark", copy / "hourmark", ignore=shutil.ignore_patterns("__pycache__"))
    found: dict[str, Planned] = {}
    told: dict[str, Any] = {}
    for room in ROOMS:
        for path in sorted((root / "src/hourmark" / room).glob("*.py")):
            file, text = path.relative_to(root), path.read_text(encoding="utf-8")
            total = hashlib.sha256(text.encode()).hexdigest()
            if kept.get(str(file), {}).get("total") != total:
                made = mutate_file_contents(str(file), text)
                places = _places(made.code)
                kept[str(file)] = {
                    "total": total,
                    "code": made.code,
                    "found": {
                        get_mutant_name(file, name): [
                            f"{room}/{path.name}",
                            made.hash_by_function_name[mangled_name_from_mutant_name(name)],
                            f"{function_of(get_mutant_name(file, name))}:{places[name]}",
                        ]
                        for name in made.mutant_names
                    },
                }
            told[str(file)] = kept[str(file)]
            (copy / file.relative_to("src")).write_text(told[str(file)]["code"], encoding="utf-8")
            found |= {name: Planned(*one) for name, one in told[str(file)]["found"].items()}
    names.write_text(json.dumps(told), encoding="utf-8")
    return found


def _functions(text: str) -> dict[str, ast.FunctionDef]:
    return {node.name: node for node in ast.walk(ast.parse(text)) if isinstance(node, ast.FunctionDef)}


def _statement(function: ast.FunctionDef, line: int) -> int:
    """The smallest statement that the line is part of, by the line where it starts; both are counted from the function's own line."""
    starts = [
        node.lineno - function.lineno
        for node in ast.walk(function)
        if isinstance(node, ast.stmt) and node.lineno <= line + function.lineno <= (node.end_lineno or node.lineno)
    ]
    return max(starts, default=0)


def _places(text: str) -> dict[str, int]:
    """For each change in a file made by mutmut the statement that it is in."""
    lines, functions = text.splitlines(), _functions(text)
    found: dict[str, int] = {}
    for name, node in functions.items():
        first = functions.get(f"{name.rpartition('__mutmut_')[0]}__mutmut_orig")
        if first is None or node is first:
            continue
        before, after = (lines[one.lineno : one.end_lineno] for one in (first, node))
        differing = next(
            (number for number, pair in enumerate(zip(before, after, strict=False)) if pair[0] != pair[1]), -1
        )
        found[name] = _statement(first, differing + 1)
    return found


def statements_by_line(text: str, module: str) -> dict[int, str]:
    """For each line of an unchanged function in a file made by mutmut the place of its statement."""
    found: dict[int, str] = {}
    for node in ast.walk(ast.parse(text)):
        if (
            isinstance(node, ast.FunctionDef)
            and node.decorator_list
            and "_mutmut_mutated" in ast.dump(node.decorator_list[-1])
        ):
            switch = node.decorator_list[-1]
            assert isinstance(switch, ast.Call)
            assert isinstance(switch.args[0], ast.Name)
            name = switch.args[0].id.removeprefix("mutants_").removesuffix("__mutmut")
            for line in range(node.lineno, (node.end_lineno or node.lineno) + 1):
                found[line] = f"{module}.{name}:{_statement(node, line - node.lineno)}"
    return found


SWITCHES: list[tuple[str, dict[str, Callable[..., Any]]]] = []
"""For every switch its module and the changes behind it, as mutmut wrote them."""
CHOSEN: dict[int, Callable[..., Any]] = {}
"""The one change that is switched on, by the number of its switch."""


def light_switch(changes: dict[str, Callable[..., Any]], is_classmethod: bool = False) -> Callable[..., Any]:
    """In place of mutmut's switch, which looks into the environment at every call and makes the tests many times slower."""
    assert not is_classmethod, "this switch knows functions and plain methods only"

    def switched(function: Callable[..., Any]) -> Callable[..., Any]:
        number = len(SWITCHES)
        SWITCHES.append((function.__module__, changes))

        @wraps(function)
        def switch(*args: Any, **kwargs: Any) -> Any:
            return (CHOSEN.get(number, function))(*args, **kwargs)

        return switch

    return switched


def behind(number: int) -> str:
    """The function behind a switch, as mutmut names it."""
    module, changes = SWITCHES[number]
    return f"{module}.{changes['_mutmut_orig'].__name__.removesuffix('__mutmut_orig')}"


def switch_on(change: str) -> None:
    """From now on in this process, this change is called in place of what it changes."""
    number = next(number for number in range(len(SWITCHES)) if behind(number) == function_of(change))
    CHOSEN[number] = SWITCHES[number][1][change.rpartition(".")[2]]


def forget(room: str = "") -> None:
    """Empties what hourmark and the tests remember between calls, so that a change is not answered from memory.

    What the formulary remembers comes through quantity and clock only: for a change elsewhere it stays.
    """
    kept = ("hourmark.exchange",) if room in ("", "quantity", "clock") else ("hourmark.exchange", "hourmark.formulary")
    for name, module in list(sys.modules.items()):
        if name.startswith(("hourmark.", "tests.")) and not name.startswith(kept):
            for one in list(vars(module).values()):
                if hasattr(one, "cache_clear") and not str(one.__module__).startswith(kept):
                    one.cache_clear()


def read_toml_once() -> None:
    """The parser of the standard library is no part of the search: each text is parsed once."""
    parsed: dict[str, bytes] = {}
    real = tomllib.loads

    def loads(text: str, /, **options: Any) -> Any:
        if options:
            return real(text, **options)
        if text not in parsed:
            parsed[text] = pickle.dumps(real(text))
        return pickle.loads(parsed[text])

    tomllib.loads = loads
    tomllib.load = lambda file, /, **options: loads(file.read().decode(), **options)


def function_of(change: str) -> str:
    """The function that the change is in, as mutmut names it."""
    return change.rpartition("__mutmut_")[0]


def spoken(change: str) -> str:
    """Function and number, as they are said in the result."""
    function, _, number = change.rpartition("__mutmut_")
    name = function.rpartition(".")[2]
    return f"{name.removeprefix('x_').removeprefix('xǁ').replace('ǁ', '.')} {number}"


def differences(copy: Path, changes: Sequence[str]) -> dict[str, str]:
    """What each change puts in place of what: the words that differ, with some that stand around them."""
    said: dict[str, str] = {}
    sources: dict[str, dict[str, str]] = {}
    for change in changes:
        module, _, name = change.rpartition(".")
        if module not in sources:
            path = copy / f"{module.replace('.', '/')}.py"
            text = path.read_text(encoding="utf-8")
            lines = text.splitlines()
            sources[module] = {
                node.name: "\n".join(lines[node.lineno - 1 : node.end_lineno])
                for node in ast.walk(ast.parse(text))
                if isinstance(node, ast.FunctionDef) and "__mutmut_" in node.name
            }
        functions = sources[module]
        first, second = functions[f"{name.rpartition('__mutmut_')[0]}__mutmut_orig"], functions[name]
        before, after = (
            first.replace("__mutmut_orig", "").splitlines(),
            second.replace(f"__{name.partition('__')[2]}", "").splitlines(),
        )
        gone = " ".join(line[2:].strip() for line in difflib.ndiff(before, after) if line.startswith("- "))
        come = " ".join(line[2:].strip() for line in difflib.ndiff(before, after) if line.startswith("+ "))
        said[change] = f"{gone[:150]} -> {come[:150]}"
    return said


class Loop:
    """Takes the place of pytest's loop over the collected tests."""

    def __init__(self, state: CodeState, path: Path, copy: Path, until: float, seed: int, only: str = "") -> None:
        self.state = state
        self.path = path
        self.copy = copy
        self.until = until
        self.seed = seed
        self.only = only
        self.say = os.dup(2)
        self.items: dict[str, pytest.Item] = {}
        self.seconds: dict[str, float] = {}
        """By the place of a statement; by that of its function for what stands in the first line."""
        self.reach: dict[str, list[str]] = {}
        self.kills: Counter[str] = Counter()
        self.near: dict[str, Counter[str]] = {}

    def tell(self, text: str) -> None:
        os.write(self.say, f"{text}\n".encode())

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        assert not session.testsfailed, "the tests could not be collected"
        begun = time.monotonic()
        self.tell(f"{len(session.items)} tests collected.")
        self.measure(session.items)
        self.tell(
            f"{len(self.items)} tests measured in {time.monotonic() - begun:.0f} s, {len(self.state.left_out)} left out."
        )
        self.search()
        return True

    def measure(self, items: Sequence[pytest.Item]) -> None:
        """Runs every test once unchanged, and notes its seconds and the statements that it reaches; a test file that is as it
        was is not run again."""
        import coverage

        state = self.state
        state.left_out = []
        earlier, state.measured = state.measured, {}
        shared = hashlib.sha256()
        for path in sorted((ROOT / "tests").rglob("*.py")):
            if not {"deep", "golden"} & set(path.parts) and not path.name.startswith("test_"):
                shared.update(path.read_bytes())
        kept = checksum(ROOT / "tests/golden") if (ROOT / "tests/golden").exists() else ""
        sums: dict[str, str] = {}
        watch = coverage.Coverage(data_file=None, include=[f"{self.copy}/hourmark/{room}/*" for room in ROOMS])
        taken: dict[str, float] = {}
        for item in items:
            # A law draws new examples each time: what it kills today it may miss tomorrow.
            if item.get_closest_marker("hypothesis") or getattr(
                getattr(item, "obj", None), "is_hypothesis_test", False
            ):
                state.left_out.append(item.nodeid)
                continue
            file = item.nodeid.partition("::")[0]
            if file not in sums:
                besides = kept if "golden" in file else ""
                sums[file] = hashlib.sha256(shared.digest() + besides.encode() + (ROOT / file).read_bytes()).hexdigest()
            self.items[item.nodeid] = item
            if earlier.get(item.nodeid, ("",))[0] == sums[file]:
                state.measured[item.nodeid] = earlier[item.nodeid]
                continue
            forget()
            watch.start()
            watch.switch_context(item.nodeid)
            good = passes(item)
            watch.stop()
            forget("plan")
            begun = time.perf_counter()
            good = good and passes(item)
            taken[item.nodeid] = round(time.perf_counter() - begun, 4) if good else float("inf")
        reach: dict[str, set[str]] = {name: set() for name in taken}
        data = watch.get_data()
        for path_text in data.measured_files():
            path = Path(path_text)
            module = ".".join(path.relative_to(self.copy).with_suffix("").parts)
            places = statements_by_line(path.read_text(encoding="utf-8"), module)
            for line, tests in data.contexts_by_lineno(path_text).items():
                if line in places:
                    for name in tests:
                        if name in reach:
                            reach[name].add(places[line])
        for name, seconds in taken.items():
            state.measured[name] = (sums[name.partition("::")[0]], seconds, sorted(reach[name]))
        for name, (_, seconds, reached) in list(state.measured.items()):
            if seconds > SLOWEST:
                state.left_out.append(name)
                del self.items[name]
                continue
            self.seconds[name] = seconds
            for place in reached:
                self.reach.setdefault(place, []).append(name)
                self.reach.setdefault(f"{place.partition(':')[0]}:0", []).append(name)
        self.reach = {place: sorted(set(names)) for place, names in self.reach.items()}
        state.collected = len(self.items)
        save(state, self.path)

    def chosen(self, change: str, seconds: float) -> list[str]:
        """Those that reach the statement: first what killed its neighbours, then quick ones that often kill."""
        near = self.near.setdefault(function_of(change), Counter())
        reaching = self.reach.get(self.state.planned[change].place, [])
        rows: Counter[str] = Counter()
        ranked = sorted(
            reaching,
            key=lambda name: (-near[name], self.seconds[name] / (1 + self.kills[name] + 50 * ("golden" in name)), name),
        )
        kept: list[str] = []
        later: list[str] = []
        total = 0.0
        # Rows of one test are alike: many of them come after the others.
        for name in ranked:
            test = name.partition(".txt")[0] if "-pages.txt" in name else name.partition("[")[0]
            rows[test] += 1
            most = 1 if "-pages.txt" in name else 400 if "golden" in name else 4
            (kept if near[name] or rows[test] <= most else later).append(name)
        within: list[str] = []
        for name in [*kept, *later]:
            total += self.seconds[name]
            if total > seconds and within:
                break
            within.append(name)
        return within

    def search(self) -> None:
        """Second looks at what survived before, and first looks at what was not tried, until the time is up."""
        state = self.state
        for name, told in list(state.done.items()):
            # A kill stands as long as the test that made it is still there.
            if told.killed and "::" in told.by and told.by not in self.items:
                del state.done[name]
        for name, told in state.done.items():
            if told.killed:
                self.count(name, told.by)
        order = [name for name in state.planned if self.only in name]
        random.Random(self.seed).shuffle(order)
        waiting = [name for name in order if name not in state.done]
        saved = begun = time.monotonic()
        before = state.minutes
        import gc

        gc.collect()
        gc.freeze()
        again = [name for name in order if name in state.done and not state.done[name].killed]
        # Survivors come first, since tests may have been added for them, with at most two fifths of the time.
        half = begun + (self.until - begun) * 2 / 5
        number = 0
        while again or waiting:
            now = time.monotonic()
            if now > self.until:
                break
            second = bool(again) and (now < half or not waiting)
            self.trial((again if second else waiting).pop(0), SECOND_LOOK if second else FIRST_LOOK)
            number += 1
            if now - saved > 20:
                state.minutes, saved = before + (now - begun) / 60, now
                save(state, self.path)
                alive = sum(1 for told in state.done.values() if not told.killed)
                self.tell(
                    f"{number} now, {len(waiting)} and {len(again)} again to go, {len(state.done)} tried in all, {alive} survived"
                )
        state.minutes = before + (time.monotonic() - begun) / 60
        save(state, self.path)

    def count(self, change: str, by: str) -> None:
        self.kills[by] += 1
        self.near.setdefault(function_of(change), Counter())[by] += 1

    def trial(self, change: str, seconds: float) -> None:
        """One change in a child, whose answer is the number of the test that failed."""
        tests = self.chosen(change, seconds)
        reach = len(self.reach.get(self.state.planned[change].place, []))
        begun = time.monotonic()
        if not tests:
            self.state.done[change] = Told(False, "", 0, 0, 0.0)
            return
        limit = 5 + 6 * sum(self.seconds[name] for name in tests)
        read, write = os.pipe()
        child = os.fork()
        if child == 0:
            os.close(read)
            self.in_child(change, tests, write)
        os.close(write)
        ready, _, _ = select.select([read], [], [], limit)
        said = os.read(read, 64) if ready else b"time"
        os.close(read)
        with contextlib.suppress(ProcessLookupError):
            os.killpg(child, signal.SIGKILL)
        os.waitpid(child, 0)
        if said == b"none":
            self.state.done[change] = Told(False, "", len(tests), reach, time.monotonic() - begun)
            return
        by = tests[int(said)] if said.isdigit() else "the time given" if said == b"time" else "the memory given"
        self.count(change, by)
        self.state.done[change] = Told(True, by, len(tests), reach, time.monotonic() - begun)

    def in_child(self, change: str, tests: Sequence[str], write: int) -> None:
        try:
            os.setsid()
            resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
            switch_on(change)
            forget(change.split(".")[1])
            said = "none"
            for number, name in enumerate(tests):
                if not passes(self.items[name]):
                    said = str(number)
                    break
            os.write(write, said.encode())
        finally:
            os._exit(0)


def passes(item: pytest.Item) -> bool:
    """Whether one collected test, with what it sets up and takes down, passes now."""
    from _pytest.runner import runtestprotocol

    try:
        return not any(report.failed for report in runtestprotocol(item, log=False, nextitem=None))
    except pytest.exit.Exception:
        return False


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.deep.changed")
    parser.add_argument("--minutes", type=float, default=60)
    parser.add_argument("--seed", type=int, default=20261125)
    parser.add_argument("--state", type=Path, required=True)
    parser.add_argument("--copy", type=Path, required=True)
    parser.add_argument("--only", default="")
    asked = parser.parse_args()
    until = time.monotonic() + 60 * asked.minutes
    state = load(asked.state)
    importlib.import_module("mutmut.mutation.trampoline").wrap_in_trampoline = light_switch  # type: ignore[attr-defined]
    earlier, state.planned = state.planned, changed_copy(ROOT, asked.copy)
    state.done = {
        name: told
        for name, told in state.done.items()
        if name in earlier and name in state.planned and earlier[name].text == state.planned[name].text
    }
    print(f"{len(state.planned)} changes of the code.", flush=True)
    sys.path.insert(0, str(asked.copy))
    assert str(importlib.import_module("hourmark").__file__).startswith(str(asked.copy))
    read_toml_once()
    loop = Loop(state, asked.state, asked.copy, until, asked.seed, asked.only)
    paths = [path for path in TESTS if (ROOT / path).exists()]
    options = ["-q", "--tb=no", "--no-header", "--assert=plain", "--import-mode=importlib", "-o", "addopts=", *paths]
    sys.exit(int(pytest.main([*options, "-p", "no:cacheprovider", "-p", "no:xdist"], plugins=[loop])) not in (0, 5))


if __name__ == "__main__":
    main()
