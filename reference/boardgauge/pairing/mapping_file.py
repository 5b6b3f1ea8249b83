"""A mapping file: what the terminals of one board are called on another.

Law of this module: a Renaming comes out that fits both boards, or UnusableSpec with everything that is wrong, each
with its place. ``read_renaming`` is the only function here that touches the file system.
"""

from __future__ import annotations

from pathlib import Path
from typing import cast

from boardgauge.language import Board, Spot, UnusableSpec
from boardgauge.language.board_values import BoardValues, Value
from boardgauge.language.nodes import Node, read_nodes
from boardgauge.language.problems import nearest_of
from boardgauge.language.reading import Reading
from boardgauge.language.text_file import text_of
from boardgauge.pairing.renaming import SECTIONS, Renaming

TABLES = (*SECTIONS, "first_only", "second_only")


def read_renaming(path: Path, first: Board, second: Board) -> Renaming:
    """Read a mapping file for two boards. Raises UnusableSpec with every problem found."""
    return read_renaming_text(text_of(path), str(path), first, second)


def read_renaming_text(text: str, file: str, first: Board, second: Board) -> Renaming:
    """Read a mapping file from text; ``file`` is what errors call it. Raises UnusableSpec."""
    reader = _Reader(first, second)
    found = reader.read(read_nodes(text, file))
    if reader.reading.problems:
        raise UnusableSpec(reader.reading.problems)
    return found


class _Reader:
    def __init__(self, first: Board, second: Board) -> None:
        self.first, self.second = first, second
        self.reading = Reading()

    def read(self, root: Node) -> Renaming:
        tables = self._table(root, "")
        for name, node in tables.items():
            if name not in TABLES:
                expected = "one of " + ", ".join(TABLES)
                self._wrong(node.key_at, name, "there is no such table", expected, nearest_of(name, TABLES))
        names = {section: self._names(section, tables.get(section)) for section in SECTIONS}
        return Renaming(
            names,
            self._only("first_only", self.first, tables.get("first_only")),
            self._only("second_only", self.second, tables.get("second_only")),
        )

    def _wrong(self, at: Spot, key: str, message: str, expected: str | None = None, nearest: str | None = None) -> None:
        self.reading.problem(at, key, message, None if nearest else expected, nearest)

    def _table(self, node: Node | None, key: str) -> dict[str, Node]:
        if node is None:
            return {}
        if not isinstance(node.value, dict):
            self._wrong(node.at, key, "a table is needed")
            return {}
        return cast("dict[str, Node]", node.value)

    def _names(self, section: str, node: Node | None) -> dict[str, str]:
        found: dict[str, str] = {}
        ours, theirs = getattr(self.first, section), getattr(self.second, section)
        for old, value in self._table(node, section).items():
            key = f"{section}.{old}"
            if old not in ours:
                wrong = f"{self.first.id} has no such {section[:-1]}"
                self._wrong(value.key_at, key, wrong, f"one of {', '.join(ours) or 'none'}", nearest_of(old, ours))
                continue
            if not isinstance(value.value, str):
                self._wrong(
                    value.at, key, "a name is needed", f'a name of {self.second.id}, "{next(iter(theirs), old)}"'
                )
                continue
            if value.value not in theirs:
                wrong = f"{self.second.id} has no {section[:-1]} {value.value!r}"
                near = nearest_of(value.value, theirs)
                self._wrong(value.at, key, wrong, f"one of {', '.join(theirs) or 'none'}", near)
                continue
            if value.value in found.values():
                self._wrong(value.at, key, f"{value.value!r} is given twice; a terminal has one name")
                continue
            found[old] = value.value
        return found

    def _only(self, table: str, board: Board, node: Node | None) -> dict[str, dict[str, Value | None]]:
        found: dict[str, dict[str, Value | None]] = {}
        for section, inner in self._table(node, table).items():
            key = f"{table}.{section}"
            if section not in SECTIONS:
                self._wrong(inner.key_at, key, "there is no such table", "one of " + ", ".join(SECTIONS))
                continue
            rows = getattr(board, section)
            for name, value in self._terminals(section, inner, key):
                if name not in rows:
                    wrong = f"{board.id} has no {section[:-1]} {name!r}"
                    near = nearest_of(name, rows)
                    self._wrong(value.key_at, f"{key}.{name}", wrong, f"one of {', '.join(rows) or 'none'}", near)
                elif section != "inputs":
                    found.setdefault(section, {})[name] = None
                else:
                    reads = BoardValues(self.reading, board)
                    when = "where it stands all the time, "
                    found.setdefault(section, {})[name] = reads.value(rows[name], value, f"{key}.{name}", when)
        return found

    def _terminals(self, section: str, node: Node, key: str) -> list[tuple[str, Node]]:
        if section == "inputs":
            return list(self._table(node, key).items())
        if not isinstance(node.value, list):
            self._wrong(node.at, key, "a list of names is needed", '["name"]')
            return []
        items = cast("list[Node]", node.value)
        for item in items:
            if not isinstance(item.value, str):
                self._wrong(item.at, key, "a name is needed")
        return [(str(item.value), item) for item in items if isinstance(item.value, str)]
