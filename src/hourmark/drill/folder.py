"""A drill's folder: which drill it is, its clock, its record, and what was answered. It holds nothing else, and nothing else is touched."""

import json
import threading
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from hourmark.drill.clock import write_whole
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
    return known


def read_drill(folder: Path) -> Drill | None:
    """The drill that a folder says it holds; None where it says none."""
    try:
        table = json.loads((folder / MARKER).read_text(encoding="utf-8"))
        drill = Drill(folder, table["seed"], table["calls"]) if table["drill"] == 1 else None
    except (OSError, ValueError, KeyError, TypeError):
        return None
    whole = drill is not None and all(type(one) is int for one in (drill.seed, drill.count))
    return drill if drill is not None and whole and 1 <= drill.count <= len(calls()) else None


def _refused(folder: Path, what: str) -> Finding:
    return Finding(
        "drill-folder",
        Level.STOP,
        what,
        "Name a new folder, an empty one, or that of the drill to go on with; nothing was changed in this one.",
        str(folder),
        "an absent or empty folder, or a drill's own",
        "hourmark's own rule",
    )


def read_answers(folder: Path) -> dict[str, Answered]:
    """What was answered so far, by case."""
    path = folder / ANSWERS
    if not path.exists():
        return {}
    return {case: _answered(table) for case, table in json.loads(path.read_text(encoding="utf-8")).items()}


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
