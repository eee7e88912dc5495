"""Which line of a TOML file a key's value stands on, by tree-sitter's TOML grammar; and where the text is not TOML at all."""

from collections.abc import Iterator
from functools import cache

import tree_sitter_toml
from tree_sitter import Language, Node, Parser, Tree

Path = tuple[str | int, ...]


@cache
def _parser() -> Parser:
    return Parser(Language(tree_sitter_toml.language()))


class Lines:
    """The line of every key in one TOML text, found once."""

    def __init__(self, text: str) -> None:
        """Parse the text; nothing is looked up yet."""
        self._tree: Tree = _parser().parse(text.encode())
        self._by_path: dict[Path, int] | None = None

    def of(self, path: Path) -> int:
        """The line (from 1) of the value at this path, or of the nearest table around it that is in the file."""
        if self._by_path is None:
            self._by_path = dict(_paths(self._tree.root_node))
        while path and path not in self._by_path:
            path = path[:-1]
        return self._by_path.get(path, 1)

    def broken(self) -> list[int]:
        """The lines where the text stops being TOML."""
        return sorted(set(_broken(self._tree.root_node)))


def _broken(root: Node) -> Iterator[int]:
    waiting = [root]
    while waiting:
        node = waiting.pop()
        if node.is_error or node.is_missing:
            yield node.start_point.row + 1
        elif node.has_error:
            waiting += node.children


def _paths(document: Node) -> Iterator[tuple[Path, int]]:
    arrays: dict[Path, int] = {}
    for node in document.named_children:
        match node.type:
            case "pair":
                yield from _pair(node, ())
            case "table":
                path = _within(_key(node.named_children[0]), arrays)
                yield from _body(node, path)
            case "table_array_element":
                bare = _within(_key(node.named_children[0])[:-1], arrays) + _key(node.named_children[0])[-1:]
                arrays[bare] = arrays.get(bare, -1) + 1
                yield from _body(node, (*bare, arrays[bare]))


def _within(key: tuple[str, ...], arrays: dict[Path, int]) -> Path:
    """A header's key with the index of the newest element after each name that is an array of tables."""
    path: Path = ()
    for name in key:
        path = (*path, name)
        if path in arrays:
            path = (*path, arrays[path])
    return path


def _body(table: Node, path: Path) -> Iterator[tuple[Path, int]]:
    yield path, table.start_point.row + 1
    for child in table.named_children[1:]:
        if child.type == "pair":
            yield from _pair(child, path)


def _pair(node: Node, path: Path) -> Iterator[tuple[Path, int]]:
    key, value = node.named_children[0], node.named_children[1]
    here = (*path, *_key(key))
    yield here, value.start_point.row + 1
    yield from _value(value, here)


def _value(node: Node, path: Path) -> Iterator[tuple[Path, int]]:
    if node.type == "inline_table":
        for child in node.named_children:
            if child.type == "pair":
                yield from _pair(child, path)
    elif node.type == "array":
        items = [child for child in node.named_children if child.type != "comment"]
        for index, child in enumerate(items):
            yield (*path, index), child.start_point.row + 1
            yield from _value(child, (*path, index))


def _key(node: Node) -> tuple[str, ...]:
    """The names of a key; the grammar nests dotted ones to the left, so the last name comes off first."""
    names: list[str] = []
    while node.type == "dotted_key":
        names.append(_name(node.named_children[-1]))
        node = node.named_children[0]
    return (_name(node), *reversed(names))


def _name(node: Node) -> str:
    text = (node.text or b"").decode()
    return text[1:-1] if node.type == "quoted_key" else text
