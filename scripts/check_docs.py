"""Check the project's Markdown files, and exit 1 with one line for each thing that is wrong.

Uses nothing but the standard library. To add a check, write a function that
takes all documents and yields Faults, and name it in CHECKS.
"""

import os
import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath
from typing import NamedTuple
from urllib.parse import unquote

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
from scripts.chain import chain, missing

ROOT = Path(__file__).resolve().parent.parent

FENCE = re.compile(r"^\s*(?:>\s*)*(?:[-*+]\s+|\d+[.)]\s+)?(?P<mark>`{3,}|~{3,})(?P<info>.*)$")
HEADING = re.compile(r"^ {0,3}(?P<level>#{1,6})(?:[ \t]+(?P<title>.*?))??(?:[ \t]+#+)?[ \t]*$")
UNDERLINE = re.compile(r"^ {0,3}(?P<mark>=+|-+)[ \t]*$")
CODE_SPAN = re.compile(r"(?<!`)(?P<ticks>`+)(?!`)(?P<code>.+?)(?<!`)(?P=ticks)(?!`)")
COMMENT = re.compile(r"<!--.*?-->", re.DOTALL)
# The second half of [text](target "title"), which stays findable when the text is an image or holds brackets.
INLINE_LINK = re.compile(r"""\]\(\s*(?P<target><[^<>]*>|(?:[^\s()]|\([^\s()]*\))*)(?:\s+(?:"[^"]*"|'[^']*'))?\s*\)""")
DEFINITION = re.compile(r"^ {0,3}\[(?P<label>[^\]]+)\]:\s*(?P<target><[^<>]*>|\S+)")
REFERENCE = re.compile(r"\[(?P<text>[^\[\]]+)\]\[(?P<label>[^\[\]]*)\]")
HTML_TARGET = re.compile(r"""<(?:a|img)\b[^>]*?\b(?:href|src)\s*=\s*["'](?P<target>[^"']*)["']""", re.IGNORECASE)
SCHEME = re.compile(r"^[A-Za-z][A-Za-z0-9+.-]*:")
NOT_OURS = {".hypothesis", ".venv", "__pycache__", "build", "dist", "out"}  # when git is not there to tell
ADR_NAME = re.compile(r"^(?P<number>\d{4})-[a-z0-9]+(?:-[a-z0-9]+)*\.md$")
ADR_HEADINGS = ("Context", "Decision", "Consequences")


class Fault(NamedTuple):
    """One thing that is wrong, and where."""

    path: str
    line: int
    message: str


class Heading(NamedTuple):
    """One heading: its line, its level from 1 to 6 and its text."""

    line: int
    level: int
    title: str


@dataclass
class Document:
    """One Markdown file, taken apart. Lines are counted from 1."""

    path: str
    prose: list[tuple[int, str]] = field(default_factory=list)
    fenced: list[tuple[int, str]] = field(default_factory=list)
    headings: list[Heading] = field(default_factory=list)
    open_fence: int = 0

    def anchors(self) -> set[str]:
        """Return the names that a link can point at with '#'."""
        names: set[str] = set()
        for heading in self.headings:
            plain = re.sub(r"!?\[([^\]]*)\]\([^)]*\)", r"\1", heading.title)
            base = re.sub(r"[^\w\- ]", "", plain.lower()).strip().replace(" ", "-")
            name, count = base, 0
            while name in names:
                count += 1
                name = f"{base}-{count}"
            names.add(name)
        return names


class Project(NamedTuple):
    """All Markdown files, all paths that a link may point at, and the Makefile's targets."""

    documents: list[Document]
    paths: set[str]
    targets: set[str]


def project_files() -> list[str]:
    """Return the paths of all files that are tracked, or that git would not ignore."""
    if (ROOT / ".git").exists():
        command = ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"]
        listed = subprocess.run(command, cwd=ROOT, stdout=subprocess.PIPE, check=True).stdout
        return sorted({name for name in os.fsdecode(listed).split("\0") if name and (ROOT / name).exists()})
    found = []
    for folder, folders, names in os.walk(ROOT):
        folders[:] = [name for name in folders if name not in NOT_OURS and not name.endswith("_cache")]
        found += [Path(folder, name).relative_to(ROOT).as_posix() for name in names]
    return sorted(found)


def read_document(path: str, text: str) -> Document:
    """Take one Markdown text apart into prose, fenced lines and headings."""
    document = Document(path)
    text = COMMENT.sub(lambda match: "\n" * match[0].count("\n"), text)
    fence = ""
    previous = ""
    for number, line in enumerate(text.splitlines(), start=1):
        mark = FENCE.match(line)
        if fence:
            if mark and mark["mark"].startswith(fence) and not mark["info"].strip():
                fence, document.open_fence = "", 0
            else:
                document.fenced.append((number, line))
            continue
        if mark and not (mark["mark"][0] == "`" and "`" in mark["info"]):
            fence, document.open_fence, previous = mark["mark"], number, ""
            continue
        document.prose.append((number, line))
        heading = HEADING.match(line)
        underline = UNDERLINE.match(line)
        if heading:
            document.headings.append(Heading(number, len(heading["level"]), (heading["title"] or "").strip()))
        elif underline and previous and not re.match(r"\s*(?:[-*+>|]|\d+[.)]) ?", previous):
            document.headings.append(Heading(number - 1, 1 if underline["mark"][0] == "=" else 2, previous.strip()))
        previous = "" if heading or underline else line.strip()
    return document


def read_project() -> Project:
    """Read everything that the checks look at."""
    files = project_files()
    paths = {"."}
    for name in files:
        paths.add(name)
        paths.update(parent.as_posix() for parent in PurePosixPath(name).parents)
    documents = [
        read_document(name, (ROOT / name).read_text(encoding="utf-8")) for name in files if name.lower().endswith(".md")
    ]
    targets: set[str] = set()
    for line in (ROOT / "Makefile").read_text(encoding="utf-8").splitlines():
        rule = re.match(r"^(?P<names>[A-Za-z0-9_-][A-Za-z0-9_. -]*):(?!=)", line)
        if rule:
            targets.update(rule["names"].split())
    return Project(documents, paths, targets)


def link_targets(document: Document) -> Iterator[tuple[int, str]]:
    """Yield every link target of a document with its line."""
    for number, line in document.prose:
        plain = CODE_SPAN.sub("", line)
        definition = DEFINITION.match(plain)
        if definition:
            yield number, definition["target"]
        for pattern in (INLINE_LINK, HTML_TARGET):
            for match in pattern.finditer(plain):
                yield number, match["target"]


def check_links(project: Project) -> Iterator[Fault]:
    """Every relative link leads to a file or folder of the project, and its anchor to a heading."""
    anchors = {document.path: document.anchors() for document in project.documents}
    for document in project.documents:
        for number, raw in link_targets(document):
            target = unquote(raw.removeprefix("<").removesuffix(">"))
            if SCHEME.match(target) or target.startswith("//"):
                continue
            where, _, anchor = target.partition("#")
            if where.startswith("/"):
                yield Fault(document.path, number, f"the link {raw!r} is not relative")
                continue
            if not target:
                yield Fault(document.path, number, "a link leads nowhere")
                continue
            folder = os.path.dirname(document.path)
            path = os.path.normpath(os.path.join(folder, where)) if where else document.path
            if path not in project.paths:
                yield Fault(document.path, number, f"the link {raw!r} leads to nothing in the project")
            elif anchor and path in anchors and anchor not in anchors[path]:
                yield Fault(document.path, number, f"the link {raw!r} names no heading of {path}")


def check_references(project: Project) -> Iterator[Fault]:
    """Every [text][label] has its definition."""
    for document in project.documents:
        lines = [(number, CODE_SPAN.sub("", line)) for number, line in document.prose]
        defined = {match["label"].lower() for _, line in lines if (match := DEFINITION.match(line))}
        for number, line in lines:
            for match in REFERENCE.finditer(line):
                label = match["label"] or match["text"]
                if label.lower() not in defined:
                    yield Fault(document.path, number, f"the link label [{label}] is not defined")


def check_headings(project: Project) -> Iterator[Fault]:
    """Every file has one level-1 heading, and closes what it fences."""
    for document in project.documents:
        top = [heading for heading in document.headings if heading.level == 1]
        if not top:
            yield Fault(document.path, 1, "there is no level-1 heading")
        for heading in top[1:]:
            yield Fault(document.path, heading.line, f"{heading.title!r} is one level-1 heading too many")
        if document.open_fence:
            yield Fault(document.path, document.open_fence, "this fence is never closed")


def make_targets(command: str) -> Iterator[str]:
    """Yield the targets of every make in one command line."""
    for part in re.split(r"&&|\|\|?|;", re.sub(r"(^|\s)#.*$", "", command)):
        words = part.split()
        if words[:1] == ["make"]:
            yield from (word for word in words[1:] if not word.startswith("-") and "=" not in word)


def check_make(project: Project) -> Iterator[Fault]:
    """Every make command, fenced or in backticks, names a target of the Makefile."""
    for document in project.documents:
        commands = [(number, re.sub(r"^\s*(?:\$\s+)?", "", line)) for number, line in document.fenced]
        commands += [
            (number, match["code"].strip()) for number, line in document.prose for match in CODE_SPAN.finditer(line)
        ]
        for number, command in sorted(commands):
            for target in make_targets(command):
                if target not in project.targets:
                    yield Fault(document.path, number, f"the Makefile has no target {target!r}")


def check_decisions(project: Project) -> Iterator[Fault]:
    """Every docs/adr/NNNN-title.md is numbered from 0001 without gaps, and has its three headings."""
    expected = 1
    for document in project.documents:
        folder, _, name = document.path.rpartition("/")
        if folder != "docs/adr":
            continue
        parts = ADR_NAME.match(name)
        if not parts:
            yield Fault(document.path, 1, "the name is not of the form NNNN-title.md")
            continue
        number = int(parts["number"])
        if number != expected:
            yield Fault(document.path, 1, f"the number should be {expected:04d}")
        expected = number + 1
        titles = [heading.title for heading in document.headings]
        for title in ADR_HEADINGS:
            if titles.count(title) != 1:
                yield Fault(document.path, 1, f"there should be one heading {title!r}")


def codes_in_program() -> dict[str, str]:
    """Every finding code the program can give, and the file that gives it first."""
    return {code: f"src/hourmark/{min(link.raised).partition(' ')[0]}" for code, link in chain().items()}


def check_chain(project: Project) -> Iterator[Fault]:
    """Every code has a safety rule and a test, and docs/chain.md is what would be written now."""
    yield from (Fault("docs/chain.md", 1, problem) for problem in missing(chain()))


def check_finding_codes(project: Project) -> Iterator[Fault]:
    """SAFETY.md names every finding code of the program and no other."""
    text = Path("SAFETY.md").read_text(encoding="utf-8")
    named = set(re.findall(r"`([a-z-]+)`", text))
    given = codes_in_program()
    for code in sorted(given.keys() - named):
        yield Fault(given[code], 1, f"finding code {code} has no line in SAFETY.md")
    for code in sorted(named - given.keys()):
        yield Fault("SAFETY.md", 1, f"{code} is not a finding code of the program")
    for test in sorted(set(re.findall(r"(tests/[a-z_/]+\.py)", text))):
        if not Path(test).is_file():
            yield Fault("SAFETY.md", 1, f"{test} does not exist")


CHECKS: tuple[Callable[[Project], Iterator[Fault]], ...] = (
    check_links,
    check_references,
    check_headings,
    check_make,
    check_decisions,
    check_finding_codes,
    check_chain,
)


def main() -> int:
    """Run every check and print what is wrong."""
    project = read_project()
    faults = [fault for check in CHECKS for fault in check(project)]
    if "README.md" not in {document.path for document in project.documents}:
        faults.append(Fault("README.md", 1, "the file is missing"))
    for fault in sorted(faults):
        print(f"{fault.path}:{fault.line}: {fault.message}")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
