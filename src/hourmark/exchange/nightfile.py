"""Reading a night file: from bytes to a Night, or every problem with its file and line."""

import tomllib
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from hourmark.exchange.build import build, cross_problems
from hourmark.exchange.keys import NightKeys
from hourmark.exchange.lines import Lines
from hourmark.exchange.structure import Problem, structure
from hourmark.finding import Finding, Level
from hourmark.order import Night

MOST_LINES = 2_000_000
MOST_BYTES = 256 * 1024 * 1024
LONGEST_LINE = 20_000
_DOCUMENT = "docs/night-file.md"


def read_night(path: Path) -> Night | tuple[Finding, ...]:
    """The night in the file, or stops: each with file and line, what is wrong, and what to write."""
    text = _text(path)
    if isinstance(text, Finding):
        return (text,)
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        return tuple(_not_toml(path, text, error))
    except RecursionError:
        return (_whole_file(path, "The file nests tables or lists too deeply.", f"Write it as in {_DOCUMENT}."),)
    except ValueError:
        return (
            _whole_file(path, "The file holds a number that is too long.", "Write numbers as they stand in the order."),
        )
    read = structure(table, NightKeys)
    if isinstance(read, list):
        return _located(path, text, read)
    if problems := list(cross_problems(read)):
        return _located(path, text, problems)
    return replace(build(read), written=table)


def _text(path: Path) -> str | Finding:
    try:
        if path.is_dir():
            return _whole_file(path, "This is a folder.", "Name the night file in it.")
        if path.exists() and not path.is_file():
            return _whole_file(path, "This is not a plain file.", "Save the night as a file and name that.")
        if path.exists() and path.stat().st_size > MOST_BYTES:
            return _whole_file(
                path, f"The file is larger than {MOST_BYTES:,} bytes.", "Split the night into several files."
            )
        raw = path.read_bytes()
    except FileNotFoundError:
        return _whole_file(path, "There is no such file.", "Check the name and the folder.")
    except (OSError, ValueError) as error:
        return _whole_file(
            path, f"The file cannot be read: {getattr(error, 'strerror', None) or error}.", "Check who may read it."
        )
    if raw.count(b"\n") > MOST_LINES:
        return _whole_file(path, f"The file has more than {MOST_LINES:,} lines.", "Split the night into several files.")
    if (long := _long_line(raw)) is not None:
        return _whole_file(path, f"A line is longer than {LONGEST_LINE:,} bytes.", "Break it into lines.", long)
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        return _whole_file(path, "The file is not UTF-8 text.", "Save it as UTF-8.", line)
    if not text.strip():
        return _whole_file(
            path, "The file is empty.", f"Write a night as in {_DOCUMENT}, or start from examples/ordinary-night.toml."
        )
    return text


def _long_line(raw: bytes) -> int | None:
    """The first line that is too long to be a night file's."""
    return next((number for number, line in enumerate(raw.split(b"\n"), 1) if len(line) > LONGEST_LINE), None)


def _whole_file(path: Path, what: str, do: str, line: int | None = None) -> Finding:
    where = f"{path}:{line}" if line else str(path)
    return Finding("file-unreadable", Level.STOP, what, do, where, "a night file is UTF-8 TOML", _DOCUMENT)


def _not_toml(path: Path, text: str, error: tomllib.TOMLDecodeError) -> Iterator[Finding]:
    message = str(error)
    first = _line_in(message, text)
    yield Finding(
        "file-not-toml",
        Level.STOP,
        f"This is not TOML: {message.partition(' (at ')[0]}.",
        "Check quotes, brackets and equals signs on this line and the one before.",
        f"{path}:{first}",
        "TOML 1.0",
        "toml.io, specification 1.0.0",
    )
    for line in Lines(text).broken():
        if line != first:
            yield Finding(
                "file-not-toml",
                Level.STOP,
                "This is not TOML either.",
                "Check quotes, brackets and equals signs here.",
                f"{path}:{line}",
                "TOML 1.0",
                "toml.io, specification 1.0.0",
            )


def _line_in(message: str, text: str) -> int:
    digits = message.partition("(at line ")[2].partition(",")[0]
    return int(digits) if digits.isdecimal() else text.count("\n") + 1


def _located(path: Path, text: str, problems: list[Problem]) -> tuple[Finding, ...]:
    lines = Lines(text)
    found = [
        Finding(
            problem.code,
            Level.STOP,
            problem.what,
            problem.do,
            f"{path}:{lines.of(problem.path)}, {dotted(problem.path)}" if problem.path else str(path),
            "the keys of a night file",
            _DOCUMENT,
        )
        for problem in sorted(problems, key=lambda problem: lines.of(problem.path))
    ]
    return tuple(dict.fromkeys(found))


def dotted(path: tuple[str | int, ...]) -> str:
    """The path of a key as a person reads it: "cases[2].order.signed_by"."""
    text = ""
    for step in path:
        text += f"[{step + 1}]" if isinstance(step, int) else f".{step}" if text else step
    return text
