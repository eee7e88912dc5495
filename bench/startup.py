"""How long `hourmark --help` takes, beside a Python that does nothing."""

import statistics
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Startup:
    """Median seconds."""

    hourmark: float
    python: float


def startup(runs: int = 15) -> Startup:
    """The two in turn, so that both see the same machine."""
    program = Path(sys.executable).with_name("hourmark")
    commands = {"hourmark": [str(program), "--help"], "python": [sys.executable, "-c", "pass"]}
    seconds: dict[str, list[float]] = {name: [] for name in commands}
    for command in commands.values():
        _run(command)
    for _ in range(runs):
        for name, command in commands.items():
            seconds[name].append(_run(command))
    return Startup(statistics.median(seconds["hourmark"]), statistics.median(seconds["python"]))


def _run(command: list[str]) -> float:
    start = time.perf_counter()
    subprocess.run(command, stdout=subprocess.DEVNULL, check=True)
    return time.perf_counter() - start
