"""A bar on standard error for what takes longer than a moment; nothing where nobody watches."""

import sys
import time
from types import TracebackType
from typing import Any

_WORTH_SHOWING_SECONDS = 1


class Bar:
    """Counts steps, and shows a bar once more than a second is left."""

    def __init__(self, title: str, steps: int) -> None:
        self.title, self.steps, self.done = title, steps, 0
        self.began = time.monotonic()
        self.shown: Any = None

    def __enter__(self) -> "Bar":
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self.shown is not None:
            self.shown.stop()

    def step(self) -> None:
        """One step is done."""
        self.done += 1
        left = (time.monotonic() - self.began) / self.done * (self.steps - self.done)
        if self.shown is None and left > _WORTH_SHOWING_SECONDS and sys.stderr.isatty():
            from rich.console import Console
            from rich.progress import Progress

            self.shown = Progress(console=Console(stderr=True), transient=True)
            self.task = self.shown.add_task(self.title, total=self.steps)
            self.shown.start()
        if self.shown is not None:
            self.shown.update(self.task, completed=self.done)
