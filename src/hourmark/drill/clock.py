"""The clock of a drill's night: from a moment of the night on, at the drill's pace, and put forward where nobody rings; never back."""

import datetime as dt
import json
import os
import tempfile
from dataclasses import dataclass, replace
from pathlib import Path

SLOWEST, FASTEST = 1, 60
"""How many minutes of the night can pass in one minute: whole numbers, both ends among them."""

_TEXT = "%Y-%m-%dT%H:%M:%S.%fZ"


@dataclass(frozen=True, slots=True)
class NightClock:
    """At the machine's moment `since` it showed the night's moment `shown`; `pace` minutes of the night pass in one minute. Both in UTC."""

    since: dt.datetime
    shown: dt.datetime
    pace: int

    def at(self, machine: dt.datetime) -> dt.datetime:
        """What it shows at a moment of the machine; a machine's clock that was put back lets it stand still."""
        return self.shown + max(machine - self.since, dt.timedelta(0)) * self.pace

    def forward(self, machine: dt.datetime, to: dt.datetime) -> "NightClock":
        """The clock put forward to a moment of the night; as it is where it has passed that already."""
        now = self.at(machine)
        return replace(self, since=machine, shown=to) if to > now else self


def read_clock(path: Path) -> NightClock:
    """The clock in a file. Raises ValueError where it holds none, OSError where there is no such file."""
    text = path.read_text(encoding="utf-8")
    try:
        table = json.loads(text)
        since, shown = (dt.datetime.strptime(table[name], _TEXT).replace(tzinfo=dt.UTC) for name in ("since", "shown"))
        pace = table["pace"]
    except (ValueError, KeyError, TypeError):
        raise ValueError(f"{path} holds no clock") from None
    if not isinstance(pace, int) or not SLOWEST <= pace <= FASTEST:
        raise ValueError(f"{path} holds no clock: {pace} is no pace")
    return NightClock(since, shown, pace)


def write_clock(path: Path, clock: NightClock) -> None:
    """The clock into a file, for every process that reads it."""
    table = {"since": f"{clock.since:{_TEXT}}", "shown": f"{clock.shown:{_TEXT}}", "pace": clock.pace}
    write_whole(path, json.dumps(table))


def write_whole(path: Path, text: str) -> None:
    """A small file in the place of another, in one step: whoever reads it has the old one or the new one, whole."""
    with tempfile.NamedTemporaryFile("wb", dir=path.parent, prefix=f".{path.name}-", delete=False) as new:
        try:
            new.write(text.encode())
            new.flush()
            os.fsync(new.fileno())
            Path(new.name).replace(path)
        except BaseException:
            Path(new.name).unlink(missing_ok=True)
            raise
