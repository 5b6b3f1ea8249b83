"""A variant file laid over its base.

Law of this module: a variant never copies its base; it removes, changes and adds, in that order, and each of the three
fails on what it finds otherwise than it expected. A list is replaced whole. Every value keeps the place it came from.
A base is named by a bare file name, so a spec can reach no file outside its folder.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import cast

from boardgauge.language.keys import SECTIONS, VARIANT_TABLES
from boardgauge.language.model import Spot
from boardgauge.language.nodes import Node, read_nodes
from boardgauge.language.problems import Problem, UnusableSpec, nearest_of

Library = Callable[[str], "str | None"]
"""Gives the text of a base by its file name, or None where there is none."""

LONGEST_CHAIN = 8
_OWN_KEYS = ("id", "title", "source", "text")

Table = dict[str, Node]


def whole_spec(text: str, file: str, library: Library | None) -> tuple[Node, list[Problem]]:
    """Give the tree of a spec with its variants laid over their base, and what is wrong with the laying.

    Raises UnusableSpec where a file is no TOML or the chain of bases cannot be followed.
    """
    root = read_nodes(text, file)
    chain = [root]
    names = [_last_part(file)]
    while "base" in _table(chain[-1]):
        base = _table(chain[-1])["base"]
        name = _base_name(base, names)
        chain.append(_fetch(base, name, file, library))
        names.append(name)
    problems: list[Problem] = []
    whole = chain.pop()
    problems += [_misplaced(node, name) for name, node in _table(whole).items() if name in VARIANT_TABLES]
    while chain:
        whole = _Overlay(whole, chain.pop(), problems).result()
    plain = {name: node for name, node in _table(whole).items() if name not in (*VARIANT_TABLES, "base")}
    return Node(plain, root.source, root.stretch), problems


def _table(node: Node) -> Table:
    return cast(Table, node.value) if isinstance(node.value, dict) else {}


def _last_part(file: str) -> str:
    return file.replace("\\", "/").rsplit("/", 1)[-1]


def _misplaced(node: Node, name: str) -> Problem:
    return Problem(node.key_at, name, f"[{name}] is for a variant, and this file names no base")


def _base_name(base: Node, names: list[str]) -> str:
    def wrong(message: str, expected: str | None = None) -> UnusableSpec:
        return UnusableSpec([Problem(base.at, "base", message, expected)])

    name = base.value
    if not isinstance(name, str):
        raise wrong("a text is needed", 'a file name, "board.toml"')
    if not name or name in (".", "..") or any(mark in name for mark in "/\\:\0") or len(name) > 200:
        raise wrong("a base is a file in the same folder, without any path", 'a file name, "board.toml"')
    if name in names:
        raise wrong("the bases go in a circle: " + " -> ".join([*names[names.index(name) :], name]))
    if len(names) > LONGEST_CHAIN:
        raise wrong(f"more than {LONGEST_CHAIN} variants stand on one another")
    return name


def _fetch(base: Node, name: str, file: str, library: Library | None) -> Node:
    text = None if library is None else library(name)
    if text is None:
        raise UnusableSpec([Problem(base.at, "base", f"there is no file {name!r} beside this one")])
    return read_nodes(text, file[: len(file) - len(_last_part(file))] + name)


class _Overlay:
    """One variant over one whole spec."""

    def __init__(self, base: Node, variant: Node, problems: list[Problem]) -> None:
        self.problems = problems
        self.variant = _table(variant)
        self.root = variant
        self.spec: Table = {name: _copied(node) for name, node in _table(base).items()}

    def result(self) -> Node:
        """Give the spec the variant makes of its base."""
        for name, node in self.variant.items():
            if name in ("language", "base", "board", *VARIANT_TABLES):
                continue
            wrong = f"a variant has no [{name}] of its own; it goes under [remove], [change] or [add]"
            known = name in (*SECTIONS, "not_judged")
            nearest = None if known else nearest_of(name, ("board", *VARIANT_TABLES))
            self.problem(node.key_at, name, wrong if known else "there is no such table or key", nearest=nearest)
        if "language" in self.variant:
            self.spec["language"] = self.variant["language"]
        else:
            self.problem(self.root.at, "language", "the key is missing; it is required")
        self._own_board()
        self._remove()
        self._change()
        self._add()
        return Node(self.spec, self.root.source, self.root.stretch)

    def problem(
        self, at: Spot, key: str, message: str, expected: str | None = None, nearest: str | None = None
    ) -> None:
        self.problems.append(Problem(at, key, message, expected, nearest))

    def _tables(self, name: str) -> Table:
        node = self.variant.get(name)
        if node is None:
            return {}
        if not isinstance(node.value, dict):
            self.problem(node.at, name, "a table is needed")
        return _table(node)

    def _own_board(self) -> None:
        board = self.spec.get("board")
        for key, node in self._tables("board").items():
            if key in _OWN_KEYS:
                if board is not None:
                    _table(board)[key] = node
            else:
                allowed = ", ".join(_OWN_KEYS)
                self.problem(
                    node.key_at,
                    f"board.{key}",
                    f"here a variant's [board] has {allowed} only; change it under [change.board]",
                )

    def _remove(self) -> None:
        for section, node in self._tables("remove").items():
            key = f"remove.{section}"
            names = node.value if isinstance(node.value, list) else []
            if section not in ("board", *SECTIONS):
                self.problem(node.key_at, key, "there is no such table", nearest=nearest_of(section, SECTIONS))
            elif not names or not all(isinstance(item.value, str) for item in names):
                self.problem(node.at, key, "a list of names is needed", '["some_rule", "other_rule.cut_by"]')
            else:
                for item in names:
                    self._remove_one(section, str(item.value), item, key)

    def _remove_one(self, section: str, path: str, item: Node, key: str) -> None:
        holder = _table(self.spec[section]) if section in self.spec else {}
        *outer, last = path.split(".")
        for part in outer:
            holder = _table(holder[part]) if part in holder else {}
        if len(outer) > 1 or last not in holder:
            self.problem(item.at, key, f"the base has no {section}.{path} to remove", nearest=nearest_of(last, holder))
        else:
            del holder[last]

    def _change(self) -> None:
        for section, node in self._tables("change").items():
            self._change_into(self.spec, section, node, "", depth=0)

    def _change_into(self, holder: Table, name: str, node: Node, path: str, depth: int) -> None:
        where = f"{path}.{name}" if path else name
        if name not in holder:
            message = f"the base has no {where} to change"
            self.problem(node.key_at, f"change.{where}", message, nearest=nearest_of(name, holder))
            return
        there = holder[name]
        if isinstance(node.value, dict) and isinstance(there.value, dict) and depth < 3:
            for key, inner in _table(node).items():
                self._change_into(_table(there), key, inner, where, depth + 1)
        elif isinstance(node.value, dict) != isinstance(there.value, dict):
            self.problem(node.at, f"change.{where}", "a table and a single value cannot take each other's place")
        else:
            holder[name] = node

    def _add(self) -> None:
        for section, node in self._tables("add").items():
            self._add_into(self.spec, section, node, "", depth=0)

    def _add_into(self, holder: Table, name: str, node: Node, path: str, depth: int) -> None:
        where = f"{path}.{name}" if path else name
        if name not in holder:
            holder[name] = node
        elif isinstance(node.value, dict) and isinstance(holder[name].value, dict) and depth < 3:
            for key, inner in _table(node).items():
                self._add_into(_table(holder[name]), key, inner, where, depth + 1)
        else:
            self.problem(node.key_at, f"add.{where}", f"the base has {where} already; change it under [change]")


def _copied(node: Node) -> Node:
    """Copy the tables of a node, so that laying a variant over it leaves the base as it was."""
    if isinstance(node.value, dict):
        return Node({name: _copied(inner) for name, inner in _table(node).items()}, node.source, node.stretch)
    return node
