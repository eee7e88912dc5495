"""One changed figure at a time: every fact of the data files, moved one step, exchanged with its neighbour, or dropped."""

import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

DATA = Path("src/hourmark/formulary/data")
NOT_FACTS = ("sources.toml",)

HEADER = re.compile(r"^\[(?P<name>.+)\]\s*$")
VALUE = re.compile(r"""\bvalue = (?P<value>"[^"]*"|\[[^\]]*\]|true|false|[0-9._]+)""")
UNIT = re.compile(r'\bunit = "(?P<unit>[^"]*)"')
INLINE = re.compile(r'^(?P<name>[\w."-]+) = \{ .*\bvalue = ')
NUMBER = re.compile(r'^(?P<quote>"?)(?P<number>[0-9][0-9,]*(?:\.[0-9]+)?)(?P=quote)$')


@dataclass(frozen=True, slots=True)
class Mutant:
    """A change to one file: what it says there, and what is said instead. `reach` names what a test must use to notice."""

    file: str
    where: str
    change: str
    old: str
    new: str
    at: int
    reach: str

    @property
    def id(self) -> str:
        """The same in every run on the same commit."""
        return f"{self.file}:{self.where}: {self.change}"

    def applied(self, text: str) -> str:
        """The file's text with the change."""
        assert text[self.at : self.at + len(self.old)] == self.old, self.id
        return text[: self.at] + self.new + text[self.at + len(self.old) :]


@dataclass(frozen=True, slots=True)
class _Fact:
    path: str
    unit: str
    value: str
    value_at: int
    start: int
    end: int


def stepped(value: str) -> str | None:
    """The number one step of its last digit higher, with its commas; None for what is no number."""
    if not (found := NUMBER.match(value)):
        return None
    number = found["number"]
    whole, dot, part = number.partition(".")
    digits = str(int(whole.replace(",", "") + part) + 1).zfill(len(part) + 1)
    whole_new, part_new = (digits[: -len(part)], digits[-len(part) :]) if part else (digits, "")
    if "," in whole or ("," in f"{int(whole_new):,}" and found["quote"]):
        whole_new = f"{int(whole_new):,}"
    return f"{found['quote']}{whole_new}{dot}{part_new}{found['quote']}"


def _facts(text: str) -> Iterator[_Fact]:
    tables: list[tuple[str, int, int]] = []
    header, header_at, place = "", 0, 0
    for line in [*text.splitlines(keepends=True), "[end]\n"]:
        if found := HEADER.match(line):
            if header:
                tables.append((header, header_at, place))
            header, header_at = found["name"], place
        elif found := INLINE.match(line):
            tables.append((f"{header}.{found['name']}" if header else found["name"], place, place + len(line)))
        place += len(line)
    for name, start, end in tables:
        body = text[start:end]
        if "\n" in body.rstrip("\n") and INLINE.search(body.split("\n", 1)[1]):
            continue
        if any(INLINE.match(line) for line in body.splitlines()[1:]):
            continue
        if (value := VALUE.search(body)) and (unit := UNIT.search(body)):
            yield _Fact(
                path=name.replace('"', ""),
                unit=unit["unit"],
                value=value["value"],
                value_at=start + value.start("value"),
                start=start,
                end=end,
            )


def of_text(file: str, stem: str, text: str) -> Iterator[Mutant]:
    """All mutants of one data file, in the order of the file. Those that no longer are TOML are left out."""
    found = list(_facts(text))
    made: list[Mutant] = []
    for number, fact in enumerate(found):
        reach = f"{stem}.{fact.path}"

        def mutant(change: str, old: str, new: str, at: int, fact: _Fact = fact, reach: str = reach) -> None:
            made.append(Mutant(file=file, where=fact.path, change=change, old=old, new=new, at=at, reach=reach))

        moved = stepped(fact.value)
        if moved is not None:
            mutant(f"{fact.value} -> {moved}", fact.value, moved, fact.value_at)
        elif fact.value in ("true", "false"):
            other = "false" if fact.value == "true" else "true"
            mutant(f"{fact.value} -> {other}", fact.value, other, fact.value_at)
        later = [one for one in [*found[number + 1 :], *found[:number]] if one.unit == fact.unit]
        neighbour = next((one for one in later if one.value not in (fact.value, moved)), None)
        if neighbour is not None and fact.value not in ("true", "false"):
            first, second = sorted((fact, neighbour), key=lambda one: one.start)
            start, end = first.value_at, second.value_at + len(second.value)
            between = text[first.value_at + len(first.value) : second.value_at]
            mutant(
                f"exchanged with {neighbour.path} ({fact.value} and {neighbour.value})",
                text[start:end],
                second.value + between + first.value,
                start,
            )
        mutant("dropped", text[fact.start : fact.end], "", fact.start)
    seen: set[tuple[int, str]] = set()
    for one in made:
        if (one.at, one.new) in seen and one.new:
            continue
        seen.add((one.at, one.new))
        tomllib.loads(one.applied(text))
        yield one


def of_project(root: Path) -> list[Mutant]:
    """All mutants of all data files."""
    made: list[Mutant] = []
    for path in sorted((root / DATA).rglob("*.toml")):
        if path.name not in NOT_FACTS:
            file = path.relative_to(root).as_posix()
            made += of_text(file, path.stem, path.read_text(encoding="utf-8"))
    return made
