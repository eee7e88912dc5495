"""How long it takes to read a night file, to plan it, and to plan it with the recheck of its words."""

import cProfile
import gc
import io
import pstats
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from bench.nights import night
from hourmark.exchange import plan_checked, read_night
from hourmark.order import Night
from hourmark.plan import plan_night


@dataclass(frozen=True)
class Planning:
    """Seconds for one size of night."""

    cases: int
    read: float
    plan: float
    checked: float
    stopped: int


def planning(sizes: list[int]) -> list[Planning]:
    """Measured for each size; the small ones several times, of which the fastest counts."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "night.toml"
        path.write_text(night(10), encoding="utf-8")
        plan_checked(_night(path))  # everything is loaded once before anything is measured
        found = []
        for size in sizes:
            path.write_text(night(size), encoding="utf-8")
            times = 3 if size <= 1000 else 1
            read = _fastest(lambda: _night(path), times)
            one = _night(path)
            plan = _fastest(lambda: plan_night(one), times)  # noqa: B023 (called at once)
            checked = _fastest(lambda: plan_checked(one), times)  # noqa: B023 (called at once)
            found.append(Planning(size, read, plan, checked, sum(case.refused for case in plan_night(one).cases)))
    return found


def _night(path: Path) -> Night:
    read = read_night(path)
    if isinstance(read, tuple):
        raise AssertionError(read[:3])
    return read


def _fastest(work: Callable[[], object], times: int) -> float:
    seconds = []
    for _ in range(times):
        gc.collect()
        start = time.perf_counter()
        work()
        seconds.append(time.perf_counter() - start)
    return min(seconds)


def profile(cases: int, lines: int = 25) -> str:
    """Where the time goes: reading, then planning, each by the time spent inside a function and what it calls."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "night.toml"
        path.write_text(night(10), encoding="utf-8")
        plan_checked(_night(path))
        path.write_text(night(cases), encoding="utf-8")
        reading, working, checking = cProfile.Profile(), cProfile.Profile(), cProfile.Profile()
        one = reading.runcall(_night, path)
        working.runcall(plan_night, one)
        checking.runcall(plan_checked, one)
    out = io.StringIO()
    for name, profiler in (("reading", reading), ("planning", working), ("planning and recheck", checking)):
        out.write(f"\n{name}, {cases:,} cases\n")
        pstats.Stats(profiler, stream=out).strip_dirs().sort_stats("cumulative").print_stats(lines)
    return out.getvalue()
