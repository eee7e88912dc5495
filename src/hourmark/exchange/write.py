"""Writing a plan into a folder: whole or not at all, and never over a folder that is not an earlier output."""

import ctypes
import glob
import os
import shutil
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from hourmark.exchange.prints import PageRefused, Printing, printed
from hourmark.finding import Finding, Level
from hourmark.plan import NightPlan

_AS_IT_STANDS = Printing()

MARKER = ".hourmark-output"
"""The file by which a folder is known as an earlier output."""


def write_plan(
    plan: NightPlan, folder: Path, printing: Printing = _AS_IT_STANDS, done: Callable[[], None] = lambda: None
) -> tuple[Finding, ...]:
    """Write the pages for staff/ and patients/; stops when the folder may not be used or a page cannot be given out.

    Everything is built in a new folder beside, which then takes the name; an earlier output is removed last. `done` is called
    after each case.
    """
    folder = folder.absolute()
    if (refusal := _not_ours(folder)) is not None:
        return (refusal,)
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        _sweep(folder)
        building = Path(tempfile.mkdtemp(prefix=f".{folder.name}-new-", dir=folder.parent))
        try:
            _fill(building, plan, printing, done)
            _take_place(building, folder)
        except BaseException:
            shutil.rmtree(building, ignore_errors=True)
            raise
    except PageRefused as refused:
        return refused.findings
    except OSError as error:
        unwritten = _refusal(
            folder,
            f"The folder cannot be written: {error.strerror or error}.",
            "Name a folder that you may write to; nothing was left there.",
        )
        return (unwritten,)
    return ()


def _fill(building: Path, plan: NightPlan, printing: Printing, done: Callable[[], None]) -> None:
    building.chmod(0o755)
    (building / MARKER).write_text("Made by hourmark; it may replace this folder.\n", encoding="utf-8")
    for path, content in printed(plan, printing, done):
        file = building / path
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(content)


def _take_place(building: Path, folder: Path) -> None:
    """Give the new folder the name. An earlier output is exchanged in one step where the system can, and removed last."""
    if not folder.exists():
        building.rename(folder)
        return
    if _exchanged(building, folder):
        shutil.rmtree(building, ignore_errors=True)
        return
    old = Path(tempfile.mkdtemp(prefix=f".{folder.name}-old-", dir=folder.parent))
    folder.replace(old)
    try:
        building.rename(folder)
    except BaseException:
        old.replace(folder)
        raise
    shutil.rmtree(old, ignore_errors=True)


_AT_FDCWD, _RENAME_EXCHANGE = -100, 2
"""Linux, fcntl.h and linux/fs.h."""


def _exchanged(one: Path, other: Path) -> bool:
    """Whether the two folders were exchanged in one step; False where the system cannot."""
    rename = getattr(ctypes.CDLL(None, use_errno=True), "renameat2", None)
    if rename is None:
        return False
    return bool(rename(_AT_FDCWD, os.fsencode(one), _AT_FDCWD, os.fsencode(other), _RENAME_EXCHANGE) == 0)


_STALE_SECONDS = 3600


def _sweep(folder: Path) -> None:
    """Remove what an interrupted run left beside the folder, once it is an hour old."""
    for left in folder.parent.glob(f".{glob.escape(folder.name)}-*-*"):
        ours = left.name.startswith((f".{folder.name}-new-", f".{folder.name}-old-")) and (left / MARKER).is_file()
        if ours and time.time() - left.stat().st_mtime > _STALE_SECONDS:
            shutil.rmtree(left, ignore_errors=True)


def _not_ours(folder: Path) -> Finding | None:
    try:
        if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
            return _refusal(folder, "This is not a folder.", "Name a new folder, an empty one, or an earlier output.")
        if folder.is_dir() and any(folder.iterdir()) and not (folder / MARKER).is_file():
            return _refusal(
                folder,
                "This folder holds other things.",
                "Name a new folder, an empty one, or an earlier output; nothing was changed.",
            )
    except OSError as error:
        return _refusal(
            folder, f"The folder cannot be looked at: {error.strerror}.", "Name a folder that you may write to."
        )
    return None


def _refusal(folder: Path, what: str, do: str) -> Finding:
    return Finding(
        "out-refused",
        Level.STOP,
        what,
        do,
        str(folder),
        "an absent or empty folder, or an earlier output",
        "docs/answers.md",
    )
