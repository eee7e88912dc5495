"""Tell whether .venv is still what scripts/setup made: `stamp.py check|write run|test`.

A stamp holds a checksum of everything .venv was made from, and then the names
of what was put into it. `check` exits 0 only when the checksum is the same and
all of those are still there. Run by the Python of .venv, in the project root.
"""

import hashlib
import os
import sys
from pathlib import Path

VENV = Path(".venv")
SOURCES = ["pyproject.toml", "scripts/setup", "scripts/stamp.py", "requirements/run.txt"]
TEST_SOURCES = ["requirements/test.txt", "requirements/old-zone-data.txt"]
CONTENTS = ["bin/*", "lib/*/site-packages/*.dist-info", "old-zone-data/*"]


def checksum(kind: str) -> str:
    """Return a checksum of the project's path, this Python and the files that `kind` is made from."""
    total = hashlib.sha256()
    for fact in (os.getcwd(), sys.version, sys.base_prefix):
        total.update(repr(fact).encode())
    for source in SOURCES + (TEST_SOURCES if kind == "test" else []):
        total.update(hashlib.sha256(Path(source).read_bytes()).digest())
    return total.hexdigest()


def main() -> int:
    """Check or write one stamp."""
    action, kind = sys.argv[1:]
    stamp = VENV / f".stamp-{kind}"
    if action == "write":
        names = sorted(path.relative_to(VENV).as_posix() for pattern in CONTENTS for path in VENV.glob(pattern))
        stamp.write_text("\n".join([checksum(kind), *names]) + "\n", encoding="utf-8")
        return 0
    if not stamp.exists():
        return 1
    first, *names = stamp.read_text(encoding="utf-8").splitlines() or [""]
    return 0 if first == checksum(kind) and all((VENV / name).exists() for name in names) else 1


if __name__ == "__main__":
    sys.exit(main())
