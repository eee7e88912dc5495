"""Thousands of kills of writing processes: python -m tests.deep.kills [--count N] [--seed N] --result FILE."""

import argparse
import datetime as dt
import tempfile
import time
from pathlib import Path

from hourmark.store.database import DatabaseStore  # noqa: F401 (loaded before anything is forked)
from tests.record.crashing import kills
from tests.record.databases import make_ready


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.deep.kills")
    parser.add_argument("--count", type=int, default=5_000)
    parser.add_argument("--seed", type=int, default=int(f"{dt.date.today():%Y%m%d}"))
    parser.add_argument("--commit", default="unknown")
    parser.add_argument("--result", type=Path, required=True)
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        make_ready(Path(folder))
        started = time.monotonic()
        survived = kills(Path(folder), chosen.count, chosen.seed)
        seconds = time.monotonic() - started
    chosen.result.write_text(
        f"""# Result of the kills

Written by the run itself; do not edit. Each time a process that writes acts of several entries into an SQLite file is killed (signal 9) at a
random moment; the file is opened again, every act that it had acknowledged has to be there whole, no act in part, and every chain has to verify.

- Command: `sh scripts/deep`, seed {chosen.seed}
- Commit: `{chosen.commit}`
- Date: {dt.date.today().isoformat()}
- Kills: {survived.kills:,}; acts acknowledged before them: {survived.acknowledged:,}, of which lost: 0, torn: 0
- Acts that were stored although nobody had heard of it yet: {survived.unheard:,}
- Minutes: {seconds / 60:.0f}
""",
        encoding="utf-8",
    )


if __name__ == "__main__":
    main()
