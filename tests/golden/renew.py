"""Writes anew what is kept: .venv/bin/python -m tests.golden.renew. Read the difference (git diff tests/golden) before it is committed."""

import tempfile
from pathlib import Path

from tests.golden.answers import KEPT, everything, joined


def main() -> None:
    """Every kept answer, and no file that nothing makes any more."""
    KEPT.mkdir(exist_ok=True)
    wanted = everything()
    for path in KEPT.iterdir():
        if path.name not in wanted:
            path.unlink()
    with tempfile.TemporaryDirectory() as folder:
        for file, parts in wanted.items():
            told = {name: make(Path(folder)) for name, make in parts.items()}
            (KEPT / file).write_text(joined(told), encoding="utf-8")


if __name__ == "__main__":
    main()
