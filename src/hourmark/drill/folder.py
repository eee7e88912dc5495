"""A drill's folder: which drill it is, its clock, its record, and what was answered. It holds nothing else, and nothing else is touched."""

import fcntl
import json
import os
import threading
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from hourmark.drill.clock import read_clock, write_whole
from hourmark.drill.recorded import Recorded
from hourmark.drill.scoring import Answers
from hourmark.finding import Finding, Level
from hourmark.incident.calls import calls

MARKER, CLOCK, ANSWERS, RECORD = "drill.json", "clock.json", "answers.json", "record.sqlite"
_OURS = {MARKER, CLOCK, ANSWERS, RECORD, f"{RECORD}-wal", f"{RECORD}-shm", f"{RECORD}-journal"}
_LEFT_OVER = tuple(f".{name}-" for name in (MARKER, CLOCK, ANSWERS))
_LOCK = threading.Lock()


@dataclass(frozen=True, slots=True)
class Drill:
    """Which drill a folder holds: the seed of its night, and how many of the calls ring in it."""

    folder: Path
    seed: int
    count: int


@dataclass(frozen=True, slots=True)
class Answered:
    """One call as far as it was answered: what was asked first; after she hung up what was typed, what stood on the record, and who had her."""

    ask: str
    typed: Answers | None = None
    recorded: Recorded | None = None
    by: str = ""

    @property
    def over(self) -> bool:
        """Whether the call is over, and can be scored."""
        return self.typed is not None


def open_folder(folder: Path, seed: int | None, count: int | None) -> Drill | Finding:
    """The drill in a folder, or a new one in an absent or empty folder; why not, where it holds anything else, or another drill."""
    if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
        return _refused(folder, "This is not a folder.")
    there = {path.name for path in folder.iterdir()} if folder.is_dir() else set()
    if strangers := sorted(name for name in there - _OURS if not name.startswith(_LEFT_OVER)):
        return _refused(folder, f"This folder holds something that is no drill's: {strangers[0]}.")
    if not there:
        drill = Drill(folder, 1 if seed is None else seed, len(calls()) if count is None else count)
        folder.mkdir(parents=True, exist_ok=True)
        write_whole(folder / MARKER, json.dumps({"drill": 1, "seed": drill.seed, "calls": drill.count}))
        return drill
    known = read_drill(folder)
    if known is None:
        return _refused(folder, f"This folder has no {MARKER} that says which drill it is.")
    if seed not in (None, known.seed) or count not in (None, known.count):
        return _refused(folder, f"This folder holds the drill of seed {known.seed} with {known.count} calls.")
    return unread_answers(folder) or _unread_clock(folder) or known


def read_drill(folder: Path) -> Drill | None:
    """The drill that a folder says it holds; None where it says none."""
    try:
        table = json.loads((folder / MARKER).read_text(encoding="utf-8"))
        drill = Drill(folder, table["seed"], table["calls"]) if table["drill"] == 1 else None
    except (OSError, ValueError, KeyError, TypeError):
        return None
    whole = drill is not None and all(type(one) is int for one in (drill.seed, drill.count))
    return drill if drill is not None and whole and 1 <= drill.count <= len(calls()) else None


def hold(folder: Path) -> int | Finding:
    """The folder for this process alone, and for whatever takes its place, until that ends: two at once would write over each other's answers.

    An open file, which nobody closes; why not, where another has it.
    """
    try:
        held = os.open(folder, os.O_RDONLY)
    except OSError as failed:
        return _refused(folder, f"This folder cannot be opened: {failed.strerror}.")
    try:
        fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        os.close(held)
        return _refused(folder, "The drill in this folder is served already.", "Go on with that one, or end it first.")
    os.set_inheritable(held, True)
    return held


def unread_answers(folder: Path) -> Finding | None:
    """What is to be said where the answers in a folder cannot be read."""
    try:
        read_answers(folder)
    except (OSError, ValueError):
        return _refused(folder, f"The drill's answers cannot be read: {ANSWERS}.", _PUT_BACK)
    return None


_PUT_BACK = "Put back a copy of that file that is whole, or begin a drill in a new folder."


def _unread_clock(folder: Path) -> Finding | None:
    try:
        read_clock(folder / CLOCK)
    except FileNotFoundError:
        return None
    except (OSError, ValueError):
        return _refused(folder, f"The drill's clock cannot be read: {CLOCK}.", _PUT_BACK)
    return None


def _refused(
    folder: Path,
    what: str,
    do: str = "Name a new folder, an empty one, or that of the drill to go on with; nothing was changed in this one.",
) -> Finding:
    return Finding(
        "drill-folder",
        Level.STOP,
        what,
        do,
        str(folder),
        "an absent or empty folder, or a drill's own",
        "hourmark's own rule",
    )


def read_answers(folder: Path) -> dict[str, Answered]:
    """What was answered so far, by case. Raises ValueError where the file holds no answers, OSError where it cannot be read."""
    path = folder / ANSWERS
    if not path.exists():
        return {}
    text = path.read_text(encoding="utf-8")
    try:
        return {case: _answered(table) for case, table in json.loads(text).items()}
    except (ValueError, KeyError, TypeError, AttributeError):
        raise ValueError(f"{path} holds no answers") from None


def keep_answer(folder: Path, case: str, answered: Answered) -> bool:
    """Keep how far a call was answered. A call that is over stays as it is, and so does what was asked first: False where that is so."""
    with _LOCK:
        kept = read_answers(folder)
        before = kept.get(case)
        if before is not None and (before.over or not answered.over):
            return False
        table = {name: asdict(one) for name, one in (kept | {case: answered}).items()}
        write_whole(folder / ANSWERS, json.dumps(table))
        return True


def _answered(table: Mapping[str, Any]) -> Answered:
    typed, recorded = table["typed"], table["recorded"]
    return Answered(
        table["ask"],
        Answers(**typed) if typed is not None else None,
        Recorded(**recorded | {"deciders": tuple(recorded["deciders"])}) if recorded is not None else None,
        table["by"],
    )
