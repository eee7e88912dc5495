"""Write docs/chain.md: for every finding code its safety rule, the function that raises it, the figures it reads, and its tests.

Run it after adding a code: `.venv/bin/python scripts/chain.py`. `make check` fails when the page is not what this would write, or when a
code lacks a safety rule or a test.
"""

import ast
import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

PAGE = Path("docs/chain.md")
RAISERS = {
    "Finding": 0,
    "wrong": 0,
    "_stop": 0,
    "_twice": 0,
    "_asked": 0,
    "_refusal": 0,
    "refusal": 0,
    "refused": 0,
    "Problem": 1,
    "_damage": 2,
    "Reason": 4,
}
CODE = re.compile(r"[a-z]+(?:-[a-z]+)+|unreadable|allergen|expired")


@dataclass
class Link:
    """One code's place in the chain."""

    raised: set[str] = field(default_factory=set)
    figures: set[str] = field(default_factory=set)
    rules: list[str] = field(default_factory=list)
    tests: list[str] = field(default_factory=list)


def functions(tree: ast.AST) -> Iterator[ast.FunctionDef]:
    """Every function of a module, methods included."""
    return (node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef))


def codes(call: ast.Call) -> Iterator[str]:
    """The finding codes that a call can give."""
    place = RAISERS.get(call.func.id) if isinstance(call.func, ast.Name) else None
    if place is not None and len(call.args) > place:
        for part in ast.walk(call.args[place]):
            if isinstance(part, ast.Constant) and CODE.fullmatch(str(part.value)):
                yield str(part.value)


def figures(function: ast.FunctionDef) -> set[str]:
    """The names under which a function looks figures up; a name put together shows * for what varies."""
    found = set()
    for node in ast.walk(function):
        key = node.slice if isinstance(node, ast.Subscript) else None
        if (
            isinstance(node, ast.Call)
            and isinstance(node.func, ast.Attribute)
            and node.func.attr in ("fact", "get")
            and node.args
        ):
            key = node.args[0]
        if isinstance(key, ast.Constant) and isinstance(key.value, str):
            found.add(key.value)
        elif isinstance(key, ast.JoinedStr):
            found.add("".join(str(part.value) if isinstance(part, ast.Constant) else "*" for part in key.values))
    return {name for name in found if "-" in name or name in ("gap", "content", "concentration", "routes", "diluent")}


def chain() -> dict[str, Link]:
    """Every code with what belongs to it."""
    links: dict[str, Link] = {}
    for path in sorted(Path("src/hourmark").rglob("*.py")):
        for function in functions(ast.parse(path.read_text(encoding="utf-8"))):
            for node in ast.walk(function):
                for code in codes(node) if isinstance(node, ast.Call) else ():
                    link = links.setdefault(code, Link())
                    link.raised.add(f"{path.relative_to('src/hourmark')} {function.name}")
                    link.figures |= figures(function)
    safety = [
        line for line in Path("SAFETY.md").read_text(encoding="utf-8").splitlines() if re.match(r"\| S\d\d ", line)
    ]
    tests = {path: path.read_text(encoding="utf-8") for path in sorted(Path("tests").rglob("test_*.py"))}
    for code, link in links.items():
        link.rules = [line[2:5] for line in safety if f"`{code}`" in line]
        link.tests = [str(path.relative_to("tests")) for path, text in tests.items() if f'"{code}"' in text]
    return dict(sorted(links.items()))


def page(links: dict[str, Link]) -> str:
    """The page, one row a code."""
    rows = [
        "# The chain",
        "",
        "For every finding code: its rule in SAFETY.md, where it is raised, the sourced figures read there, and the tests that assert it.",
        "Written by `scripts/chain.py`; `make check` fails when a link is missing or this page is out of date.",
        "",
        "| code | rule | raised in | figures | tests |",
        "|---|---|---|---|---|",
    ]
    for code, link in links.items():
        cells = (sorted(link.rules), sorted(link.raised), sorted(link.figures), link.tests)
        rows.append(f"| {code} | " + " | ".join(", ".join(cell).replace("|", "") for cell in cells) + " |")
    return "\n".join(rows) + "\n"


def missing(links: dict[str, Link]) -> list[str]:
    """What is missing in the chain, a sentence each."""
    problems = [f"{code} has no rule in SAFETY.md" for code, link in links.items() if not link.rules]
    problems += [f"{code} is asserted by no test" for code, link in links.items() if not link.tests]
    written = PAGE.read_text(encoding="utf-8") if PAGE.is_file() else ""
    if written != page(links):
        problems.append(f"{PAGE} is out of date: run .venv/bin/python scripts/chain.py")
    return problems


if __name__ == "__main__":
    PAGE.write_text(page(chain()), encoding="utf-8")
    sys.exit(0)
