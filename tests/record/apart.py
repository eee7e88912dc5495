"""Work done in a process of its own, from which others are forked: a fork of pytest's, which has threads, need not go on."""

import gc
import importlib
import io
import json
import os
import subprocess
import sys
import tempfile
import traceback
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.db import connections

from tests.record.databases import make_ready

ROOT = Path(__file__).resolve().parents[2]
Say = Callable[[str], None]


def apart(function: Callable[..., Any], *arguments: Any) -> Any:
    """What a function of a module gives for these arguments; both have to go through JSON. Its failed assertion is shown whole."""
    name = f"{function.__module__}:{function.__qualname__}"
    done = subprocess.run(
        [sys.executable, "-W", "error", "-m", "tests.record.apart", name, json.dumps(arguments)],
        cwd=ROOT,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


@dataclass(frozen=True)
class Forked:
    """Another process, and what it says, line by line. What it has said is heard also when it is no more."""

    id: int
    heard: io.TextIOWrapper

    def lines(self, count: int) -> list[str]:
        """The next lines; fewer where it ended before."""
        said = (self.heard.readline().rstrip("\n") for _ in range(count))
        return [line for line in said if line]

    def rest(self) -> list[str]:
        """Everything it still said, once it has ended; by itself or not."""
        with self.heard:
            return self.heard.read().splitlines()

    def ended(self) -> int:
        """Its exit status, negative for a signal."""
        return os.waitstatus_to_exitcode(os.waitpid(self.id, 0)[1])


def forked(work: Callable[[Say], None]) -> Forked:
    """A process that does this and ends. No connection is carried into it: two processes on one would ruin it for both."""
    connections.close_all()
    gc.freeze()  # what both share is not copied only because it was looked at
    reading, writing = os.pipe()
    process = os.fork()
    if process:
        os.close(writing)
        return Forked(process, os.fdopen(reading, encoding="ascii"))
    status = 1
    try:
        os.close(reading)
        work(lambda line: _say(writing, line))
        status = 0
    except BaseException:
        traceback.print_exc()
        sys.stderr.flush()
    finally:
        os._exit(status)


def _say(pipe: int, line: str) -> None:
    os.write(pipe, f"{line}\n".encode("ascii"))


if __name__ == "__main__":
    module, _, wanted = sys.argv[1].partition(":")
    with tempfile.TemporaryDirectory() as folder:
        make_ready(Path(folder))
        print(json.dumps(getattr(importlib.import_module(module), wanted)(*json.loads(sys.argv[2]))))
