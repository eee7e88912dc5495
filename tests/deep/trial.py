"""One trial of the tests in a forked process: hourmark and the tests are read afresh, only other people's code is warm."""

import contextlib
import importlib
import json
import os
import resource
import signal
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

WARM = (
    "cattrs",
    "click.testing",
    "dateutil.rrule",
    "dateutil.tz",
    "hypothesis.strategies",
    "num2words",
    "pint",
    "rich.console",
    "rich.table",
    "tree_sitter",
    "tree_sitter_toml",
    "whenever",
    "zoneinfo",
    "_pytest.assertion.rewrite",
    "_hypothesis_pytestplugin",
)
QUIET = ("-q", "--tb=no", "--no-header", "-p", "no:cacheprovider", "-p", "no:xdist")
MEMORY = 3 << 30
EMPTIED = (
    *(f"hourmark.{room}" for room in ("clock", "dose", "plan", "quantity", "recheck")),
    "hourmark.formulary.devices",
)
OPTIONS = ("--import-mode=importlib", "-o", "addopts=", "-W", "ignore::pytest.PytestAssertRewriteWarning")


@dataclass(slots=True)
class Measured:
    """What one test took in seconds, and which figures of hourmark it read."""

    seconds: float = 0.0
    passed: bool = True
    reach: list[str] = field(default_factory=list)


def warm_up() -> None:
    """Imports everything but hourmark and its tests."""
    for name in WARM:
        with contextlib.suppress(ImportError):
            importlib.import_module(name)
    assert not any(name.partition(".")[0] == "hourmark" for name in sys.modules)


class _Chosen:
    """Keeps the chosen tests only, in the given order, and remembers the first that fails."""

    def __init__(self, ids: Sequence[str]) -> None:
        self.place = {one: number for number, one in enumerate(ids)}
        self.killer = ""

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        items[:] = sorted((one for one in items if one.nodeid in self.place), key=lambda one: self.place[one.nodeid])

    def pytest_collectreport(self, report: pytest.CollectReport) -> None:
        if report.failed and not self.killer:
            self.killer = f"reading {report.nodeid}"

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed and not self.killer:
            self.killer = report.nodeid


class _Measuring:
    """Measures the tests one by one, each with the caches of the searched rooms emptied before it."""

    def __init__(self, until: float) -> None:
        self.until = until
        self.found: dict[str, Measured] = {}
        self.hits: set[str] = set()

    def watch_figures(self) -> None:
        """From now on a figure notes its key when its value or its text is read."""
        sourced: Any = importlib.import_module("hourmark.formulary.sourced").Sourced
        for name in ("value", "text"):
            slot = sourced.__dict__[name]

            def read(figure: Any, slot: Any = slot) -> Any:
                self.hits.add(figure.key.replace('"', ""))
                return slot.__get__(figure)

            setattr(sourced, name, property(read, slot.__set__))

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Any:
        if time.monotonic() > self.until:
            return True
        for name, module in list(sys.modules.items()):
            if name.startswith(EMPTIED):
                for one in vars(module).values():
                    if hasattr(one, "cache_clear") and one.__module__.startswith(EMPTIED):
                        one.cache_clear()
        self.hits.clear()
        self.found[item.nodeid] = Measured()
        begun = time.perf_counter()
        try:
            return (yield)
        finally:
            self.found[item.nodeid].seconds = round(time.perf_counter() - begun, 3)
            self.found[item.nodeid].reach = sorted(self.hits)

    def share_caches(self) -> None:
        """Where a file of tests remembers answers of its own, each of its tests reaches what any of them did."""
        for name, module in list(sys.modules.items()):
            file = f"{name.replace('.', '/')}.py::"
            if name.startswith("tests.") and any(
                hasattr(one, "cache_clear") and one.__module__ == name for one in vars(module).values()
            ):
                group = [one for test, one in self.found.items() if test.startswith(file)]
                everything = sorted({place for one in group for place in one.reach})
                for one in group:
                    one.reach = everything

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if not report.passed and report.nodeid in self.found:
            self.found[report.nodeid].passed = False


def _in_child(work: Any, answer: Path, memory: int, bytecode: bool) -> None:
    os.setsid()
    nothing = os.open(os.devnull, os.O_RDWR)
    for one in (0, 1, 2):
        os.dup2(nothing, one)
    resource.setrlimit(resource.RLIMIT_AS, (memory, memory))
    sys.dont_write_bytecode = not bytecode
    answer.write_text(json.dumps(work()), encoding="utf-8")


def _forked(work: Any, seconds: float, bytecode: bool = False) -> Any:
    """What the work gives back, done in a child; None when it ran out of time or fell over. Changed code leaves no bytecode."""
    with tempfile.TemporaryDirectory() as folder:
        answer = Path(folder) / "answer.json"
        spare = os.dup(2)
        child = os.fork()
        if child == 0:
            try:
                _in_child(work, answer, MEMORY, bytecode)
            except BaseException as error:
                os.write(spare, f"{error!r}\n".encode())
            finally:
                os._exit(0)
        until = time.monotonic() + seconds
        ended = 0
        while ended == 0 and time.monotonic() < until:
            ended, _ = os.waitpid(child, os.WNOHANG)
            if ended == 0:
                time.sleep(0.01)
        with contextlib.suppress(ProcessLookupError):
            os.killpg(child, signal.SIGKILL)
        os.close(spare)
        if ended == 0:
            os.waitpid(child, 0)
        return json.loads(answer.read_text(encoding="utf-8")) if answer.exists() else None


def tried(ids: Sequence[str], seconds: float) -> tuple[bool, str]:
    """Whether these tests, in this order, notice a change now lying in the files, and which of them does."""

    def work() -> list[Any]:
        chosen = _Chosen(ids)
        files = list(dict.fromkeys(one.partition("::")[0] for one in ids))
        status = pytest.main([*QUIET, *OPTIONS, "-x", *files], plugins=[chosen])
        return [int(status), chosen.killer]

    said = _forked(work, seconds)
    if said is None:
        return True, "the time or memory given"
    status, killer = said
    return status not in (0, 5), killer or f"pytest, status {status}"


def measured(root: Path, paths: Sequence[str], seconds: float) -> dict[str, Measured]:
    """The tests under these paths, each with its seconds and what it read."""

    def work() -> dict[str, list[Any]]:
        watch = _Measuring(time.monotonic() + seconds)
        watch.watch_figures()
        assert str(importlib.import_module("hourmark").__file__).startswith(str(root / "src"))
        pytest.main([*QUIET, *OPTIONS, *paths], plugins=[watch])
        watch.share_caches()
        return {name: [one.seconds, one.passed, one.reach] for name, one in watch.found.items()}

    said = _forked(work, seconds + 60, bytecode=True)
    assert said, "the tests could not be measured"
    return {name: Measured(*parts) for name, parts in said.items()}
