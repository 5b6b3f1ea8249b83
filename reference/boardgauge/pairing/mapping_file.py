"""A mapping file: what the terminals of one board are called on another.

Law of this module: a Renaming comes out that fits both boards, or UnusableSpec with everything that is wrong, each
with its place. ``read_renaming`` is the only function here that touches the file system.
"""

from __future__ import annotations

from pathlib import Path
from typing import cast

from boardgauge.language import Board, Problem, Spot, UnusableSpec
from boardgauge.language.model import InputKind
from boardgauge.language.nodes import Node, read_nodes
from boardgauge.language.problems import Unreadable, nearest_of
from boardgauge.language.quantity_reader import read_quantity
from boardgauge.language.scope import STATES
from boardgauge.language.text_file import text_of
from boardgauge.language.units import WrongUnit, in_unit
from boardgauge.machine.run import Value
from boardgauge.pairing.renaming import SECTIONS, Renaming

TABLES = (*SECTIONS, "first_only", "second_only")
_FIRST_WORDS = {"on", "closed", "fitted", "pressed"}


def read_renaming(path: Path, first: Board, second: Board) -> Renaming:
    """Read a mapping file for two boards. Raises UnusableSpec with every problem found."""
    return read_renaming_text(text_of(path), str(path), first, second)


def read_renaming_text(text: str, file: str, first: Board, second: Board) -> Renaming:
    """Read a mapping file from text; ``file`` is what errors call it. Raises UnusableSpec."""
    reader = _Reader(first, second)
    found = reader.read(read_nodes(text, file))
    if reader.problems:
        raise UnusableSpec(reader.problems)
    return found


class _Reader:
    def __init__(self, first: Board, second: Board) -> None:
        self.first, self.second = first, second
        self.problems: list[Problem] = []

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
        self.problems.append(Problem(at, key, message, None if nearest else expected, nearest))

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
                    found.setdefault(section, {})[name] = self._value(board, name, value, f"{key}.{name}")
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

    def _value(self, board: Board, name: str, node: Node, key: str) -> Value | None:
        row = board.inputs[name]
        if row.kind is InputKind.SENSOR:
            expected = f'where it stands all the time, "20 {row.unit}"'
            if not isinstance(node.value, str):
                self._wrong(node.at, key, "a sensor has a quantity", expected)
                return None
            try:
                return in_unit(read_quantity(node.value), row.unit or "").number
            except (Unreadable, WrongUnit) as error:
                self._wrong(node.at, key, str(error), expected)
                return None
        words = STATES[row.kind.value]
        if node.value not in words:
            expected = "where it stands all the time, " + " or ".join(f'"{word}"' for word in words)
            near = nearest_of(node.value, words) if isinstance(node.value, str) else None
            self._wrong(node.at, key, f"this is no state of a {row.kind.value}", expected, near)
            return None
        return node.value == "closed" if "closed" in words else node.value in _FIRST_WORDS
