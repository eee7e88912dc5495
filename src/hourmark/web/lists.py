"""A list that somebody pasted as CSV: its lines by number, and what keeps any of them from being read."""

import csv
import hashlib
import io
import json
from collections.abc import Iterator
from dataclasses import dataclass

from hourmark.finding import Finding
from hourmark.web.work import wrong

Row = dict[str, str]
"""One line, by the columns of the first."""


@dataclass(frozen=True, slots=True)
class Listed:
    """The lines of a list, each under its number; None for one that has more parts than the first line has columns."""

    columns: tuple[str, ...]
    lines: tuple[tuple[int, Row | None], ...]

    @property
    def rows(self) -> list[Row]:
        """The lines that could be read."""
        return [row for _, row in self.lines if row is not None]

    @property
    def digest(self) -> str:
        """The same for two lists alone that say the same: each column in its place, and each part of each line in its order.

        What was looked at is bound by it to what is recorded. Blanks around a part, and empty lines, say nothing.
        """
        whole = json.dumps([self.columns, [row if row is None else list(row.items()) for _, row in self.lines]])
        return hashlib.sha256(whole.encode()).hexdigest()

    def problems(self, a_line: str) -> Iterator[Finding]:
        """Every column that is named twice, and every line with too many parts; `a_line` says what belongs on one."""
        for name in dict.fromkeys(one for one in self.columns if self.columns.count(one) > 1):
            yield wrong("file-value", f'The first line names "{name}" twice.', "Name each column one time.", "line 1")
        for number, row in self.lines:
            if row is None:
                words = "This line has more parts than there are columns."
                yield wrong("file-value", words, f"Write one line {a_line}.", f"line {number}")


def read_list(text: str) -> Listed:
    """The lines of a list as it was typed; blanks around a part do not count."""
    read = csv.DictReader(io.StringIO(text.strip()), skipinitialspace=True)
    lines: list[tuple[int, Row | None]] = []
    try:
        for row in read:
            parts = {name: (value or "").strip() for name, value in row.items() if isinstance(name, str)}
            lines.append((read.line_num, None if None in row else parts))
    except csv.Error:
        lines.append((read.line_num, None))
    return Listed(tuple(read.fieldnames or ()), tuple(lines))
