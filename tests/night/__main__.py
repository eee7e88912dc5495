"""A hundred thousand nights: python -m tests.night [--count N] [--first SEED] [--cores N] [--minutes N] --result FILE."""

import argparse
import datetime as dt
import gc
import time
import traceback
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass, field
from pathlib import Path

from tests.night import worlds
from tests.night.model import Broken
from tests.night.simulator import play

SEEDS_KEPT = Path(__file__).with_name("seeds.txt")
_TOGETHER = 250
"""So many nights are given to a process at once."""


@dataclass(slots=True)
class Played:
    """What came of some nights: how many there were, what they met, the seconds that they took, and which broke what."""

    nights: int = 0
    seconds: float = 0.0
    met: Counter[str] = field(default_factory=Counter)
    broken: list[tuple[int, str]] = field(default_factory=list)

    def add(self, other: "Played") -> None:
        self.nights += other.nights
        self.seconds += other.seconds
        self.met.update(other.met)
        self.broken += other.broken


def seeds_kept(kept: Path) -> list[int]:
    """The seeds of nights in which something once did not hold."""
    lines = kept.read_text(encoding="utf-8").splitlines() if kept.exists() else []
    return [int(line.split()[0]) for line in lines if line and not line.startswith("#")]


def together(seeds: list[int]) -> Played:
    """Some nights, one after the other."""
    for name in worlds.NIGHTS:
        worlds.night(name)
    gc.freeze()
    gc.set_threshold(200_000, 100, 100)  # looking for cycles, of which there are few, takes a tenth of the time
    done, begun = Played(), time.process_time()
    for seed in seeds:
        done.nights += 1
        try:
            done.met += play(seed)
        except Broken as broken:
            done.broken.append((seed, str(broken)))
        except Exception as failed:
            done.broken.append((seed, "".join(traceback.format_exception_only(failed)).strip()))
    done.seconds = time.process_time() - begun
    return done


def search(seeds: list[int], cores: int, until: float) -> Played:
    """All of these nights, or as many as there is time for, on so many cores."""
    done, parts = Played(), iter([seeds[place : place + _TOGETHER] for place in range(0, len(seeds), _TOGETHER)])
    with ProcessPoolExecutor(cores) as pool:
        running = {pool.submit(together, part) for part in _some(parts, cores, until)}
        while running:
            for one in as_completed(running):
                running.remove(one)
                done.add(one.result())
                running |= {pool.submit(together, part) for part in _some(parts, 1, until)}
                if done.nights % 5_000 < _TOGETHER:
                    print(f"{done.nights} nights, {len(done.broken)} broken", flush=True)
                break
    return done


def _some(parts: Iterator[list[int]], most: int, until: float) -> Iterator[list[int]]:
    for _ in range(most):
        if time.monotonic() < until and (part := next(parts, None)) is not None:
            yield part


def keep(kept: Path, broken: list[tuple[int, str]]) -> None:
    """Adds the seeds of broken nights to those that are played before all others, at most ten of one law."""
    there, laws = set(seeds_kept(kept)), Counter[str]()
    with kept.open("a", encoding="utf-8") as file:
        for seed, what in broken:
            law = what.partition(":")[0]
            laws[law] += 1
            if seed not in there and laws[law] <= 10:
                file.write(f"{seed}  {law}, {dt.date.today().isoformat()}\n")


def page(asked: argparse.Namespace, again: Played, done: Played, minutes: float) -> str:
    """The result as a Markdown page."""
    met, broken = again.met + done.met, again.broken + done.broken
    laws = Counter(what.partition(":")[0] for _, what in broken)
    lines = [f"- {law}: {count}, such as night {_first(broken, law)}" for law, count in laws.most_common()]
    rows = [f"| {name} | {count:,} |" for name, count in sorted(met.items())]
    return f"""# Result of the nights

Written by the run itself; do not edit. Each night is drawn from one seed and played on the real acts over a record in memory: people report, get
stuck and stay silent, slots move, orders change, two workers watch; requests are lost, late and doubled, replies are lost, the store fails,
workers die, the desk starts again, the machine's clock is put forward and back. After every step record, board, links and messages are compared
with a model that shares no code with them, and in the morning the list and the whole chain.

- Command: `python -m tests.night`, seeds {asked.first} to {asked.first + done.nights - 1}, and {again.nights} kept from earlier runs before them
- Commit: `{asked.commit}`
- Date: {dt.date.today().isoformat()}
- Nights: {done.nights:,} of {asked.count:,} asked for; steps: {met["steps"]:,}; acts of these nights: {met["acts"]:,}
- Time: {minutes:.0f} minutes on {asked.cores} {"core" if asked.cores == 1 else "cores"}; {1000 * done.seconds / max(done.nights, 1):.1f} ms of a processor a night
- Broken invariants: {len(broken)}
{chr(10).join(lines)}

| met | times |
|---|---|
{chr(10).join(rows)}
"""


def _first(broken: list[tuple[int, str]], law: str) -> int:
    return next(seed for seed, what in broken if what.startswith(law))


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.night")
    parser.add_argument("--count", type=int, default=100_000)
    parser.add_argument("--first", type=int, default=int(f"{dt.date.today():%Y%m%d}") * 1_000_000)
    parser.add_argument("--cores", type=int, default=2)
    parser.add_argument("--minutes", type=float, default=120)
    parser.add_argument("--commit", default="unknown")
    parser.add_argument("--kept", type=Path, default=SEEDS_KEPT)
    parser.add_argument("--result", type=Path, required=True)
    asked = parser.parse_args()
    begun = time.monotonic()
    again = together(seeds_kept(asked.kept))
    seeds = list(range(asked.first, asked.first + asked.count))
    done = search(seeds, asked.cores, begun + 60 * asked.minutes)
    keep(asked.kept, done.broken)
    asked.result.write_text(page(asked, again, done, (time.monotonic() - begun) / 60), encoding="utf-8")
    for seed, what in (again.broken + done.broken)[:20]:
        print(f"Night {seed}: {what}")
    return 1 if again.broken or done.broken else 0


if __name__ == "__main__":
    raise SystemExit(main())
