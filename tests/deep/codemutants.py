"""One changed place of the code at a time: comparisons, arithmetic, constants, conditions, results, min and max."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

from tests.deep.datamutants import Mutant

ROOMS = ("quantity", "clock", "dose", "plan", "recheck")

COMPARE = {
    ast.Lt: ("<", "<="),
    ast.LtE: ("<=", "<"),
    ast.Gt: (">", ">="),
    ast.GtE: (">=", ">"),
    ast.Eq: ("==", "!="),
    ast.NotEq: ("!=", "=="),
    ast.Is: ("is", "is not"),
    ast.IsNot: ("is not", "is"),
    ast.In: ("in", "not in"),
    ast.NotIn: ("not in", "in"),
}
ARITHMETIC = {
    ast.Add: ("+", "-"),
    ast.Sub: ("-", "+"),
    ast.Mult: ("*", "/"),
    ast.Div: ("/", "*"),
    ast.FloorDiv: ("//", "*"),
    ast.Mod: ("%", "*"),
}
NAMES = {"min": "max", "max": "min", "any": "all", "all": "any"}


class _Finder(ast.NodeVisitor):
    """Walks one file and notes each place that can be changed; leaves out annotations, decorators and texts."""

    def __init__(self, file: str, text: str) -> None:
        self.file = file
        self.text = text
        self.lines = text.splitlines(keepends=True)
        self.starts = [0]
        for line in self.lines:
            self.starts.append(self.starts[-1] + len(line))
        self.scope: list[str] = []
        self.inside = 0
        self.found: list[Mutant] = []

    def place(self, line: int, column: int) -> int:
        return self.starts[line - 1] + len(self.lines[line - 1].encode()[:column].decode())

    def start(self, node: ast.expr | ast.stmt) -> int:
        return self.place(node.lineno, node.col_offset)

    def end(self, node: ast.expr | ast.stmt) -> int:
        assert node.end_lineno is not None
        assert node.end_col_offset is not None
        return self.place(node.end_lineno, node.end_col_offset)

    def note(self, at: int, old: str, new: str, change: str) -> None:
        line = self.text.count("\n", 0, at) + 1
        column = at - self.starts[line - 1]
        self.found.append(
            Mutant(
                file=self.file,
                where=f"{line}:{column + 1}",
                change=change,
                old=old,
                new=new,
                at=at,
                reach=f"{self.file}:{'.'.join(self.scope)}",
            )
        )

    def between(self, left: ast.expr, right: ast.expr, old: str, new: str) -> None:
        start, end = self.end(left), self.start(right)
        words = re.escape(old).replace(r"\ ", r"\s+")
        pattern = rf"\b{words}\b" if old[0].isalpha() else words
        if hit := re.search(pattern, self.text[start:end]):
            self.note(start + hit.start(), hit.group(), new, f"{self.shown(left)} {old} ... -> {new}")

    def shown(self, node: ast.expr | ast.stmt) -> str:
        said = " ".join(self.text[self.start(node) : self.end(node)].split())
        return said if len(said) <= 50 else f"{said[:47]}..."

    def around(self, node: ast.expr, before: str, after: str, change: str) -> None:
        old = self.text[self.start(node) : self.end(node)]
        self.note(self.start(node), old, f"{before}{old}{after}", change)

    # what is left out or only passed through

    def visit_JoinedStr(self, node: ast.JoinedStr) -> None:
        """Texts for people; the places inside are not told exactly by every Python."""

    def visit_AnnAssign(self, node: ast.AnnAssign) -> None:
        if node.value is not None:
            self.visit(node.value)

    def _function(self, node: ast.FunctionDef | ast.AsyncFunctionDef) -> None:
        outermost = self.inside == 0
        if outermost:
            self.scope.append(node.name)
        self.inside += 1
        for default in [*node.args.defaults, *(one for one in node.args.kw_defaults if one is not None)]:
            self.visit(default)
        for statement in node.body:
            self.visit(statement)
        self.inside -= 1
        if outermost:
            self.scope.pop()

    visit_FunctionDef = _function
    visit_AsyncFunctionDef = _function

    def visit_ClassDef(self, node: ast.ClassDef) -> None:
        self.scope.append(node.name)
        for statement in node.body:
            self.visit(statement)
        self.scope.pop()

    # what is changed

    def visit_Compare(self, node: ast.Compare) -> None:
        for left, operator, right in zip([node.left, *node.comparators], node.ops, node.comparators, strict=False):
            self.between(left, right, *COMPARE[type(operator)])
        self.generic_visit(node)

    def visit_BinOp(self, node: ast.BinOp) -> None:
        texts = any(isinstance(side, ast.JoinedStr) or _is_text(side) for side in (node.left, node.right))
        if type(node.op) in ARITHMETIC and not texts:
            self.between(node.left, node.right, *ARITHMETIC[type(node.op)])
        self.generic_visit(node)

    def visit_BoolOp(self, node: ast.BoolOp) -> None:
        old, new = ("and", "or") if isinstance(node.op, ast.And) else ("or", "and")
        for left, right in zip(node.values, node.values[1:], strict=False):
            self.between(left, right, old, new)
        self.generic_visit(node)

    def visit_UnaryOp(self, node: ast.UnaryOp) -> None:
        if isinstance(node.op, ast.Not):
            self.around(node, "(not ", ")", f"{self.shown(node)} -> without the not")
        self.generic_visit(node)

    def _test(self, node: ast.If | ast.While | ast.IfExp) -> None:
        if not isinstance(node.test, ast.UnaryOp) and not _walrus(node.test):
            self.around(node.test, "(not (", "))", f"if {self.shown(node.test)} -> if not")
        self.generic_visit(node)

    visit_If = _test
    visit_IfExp = _test

    def visit_Constant(self, node: ast.Constant) -> None:
        if isinstance(node.value, bool):
            self.note(self.start(node), str(node.value), str(not node.value), f"{node.value} -> {not node.value}")
        elif isinstance(node.value, int):
            old = self.text[self.start(node) : self.end(node)]
            self.note(self.start(node), old, f"{node.value + 1}", f"{old} -> {node.value + 1}")

    def visit_Return(self, node: ast.Return) -> None:
        if node.value is not None and not (isinstance(node.value, ast.Constant) and node.value.value is None):
            old = self.text[self.start(node.value) : self.end(node.value)]
            self.note(self.start(node.value), old, "None", f"return {self.shown(node.value)} -> return None")
        self.generic_visit(node)

    def visit_Call(self, node: ast.Call) -> None:
        if isinstance(node.func, ast.Name) and node.func.id in NAMES:
            new = NAMES[node.func.id]
            self.note(self.start(node.func), node.func.id, new, f"{self.shown(node)} -> {new}")
        self.generic_visit(node)


def _is_text(node: ast.expr) -> bool:
    return isinstance(node, ast.Constant) and isinstance(node.value, str)


def _walrus(node: ast.expr) -> bool:
    """Whether a name is given inside: parentheses around it would still do, but the finding reads poorly."""
    return isinstance(node, ast.NamedExpr)


def of_text(file: str, text: str) -> Iterator[Mutant]:
    """All mutants of one file of code, without those that are no longer Python."""
    finder = _Finder(file, text)
    finder.visit(ast.parse(text))
    seen: set[str] = set()
    for one in finder.found:
        try:
            ast.parse(one.applied(text))
        except SyntaxError:
            continue
        if one.id not in seen:
            seen.add(one.id)
            yield one


def of_project(root: Path) -> list[Mutant]:
    """All mutants of the rooms that turn an order into a dose and a minute, and of the recheck."""
    made: list[Mutant] = []
    for room in ROOMS:
        for path in sorted((root / "src/hourmark" / room).rglob("*.py")):
            made += of_text(path.relative_to(root).as_posix(), path.read_text(encoding="utf-8"))
    return made
