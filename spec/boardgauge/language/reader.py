"""A board spec file to a Board.

Law of this module: a Board comes out checked and without holes, or UnusableSpec with everything that is wrong.
``read_board`` is the only function here that touches the file system, and it reads the file it is given and, beside
it in the same folder, the files named by ``base``.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Literal, TypeVar, cast

import attrs

from boardgauge.language.checks import check
from boardgauge.language.keys import BOARD_KEYS, FILE_KEYS, SECTIONS
from boardgauge.language.model import Board, InputKind, NotJudged, Rule
from boardgauge.language.nodes import Node
from boardgauge.language.places import Places
from boardgauge.language.problems import UnusableSpec, nearest_of
from boardgauge.language.quantities import EXACTLY, TimeRange
from boardgauge.language.rule_reader import read_rule, rule_kind
from boardgauge.language.scope import Declared, kind_of_section
from boardgauge.language.section_reader import (
    read_input,
    read_lamp,
    read_named_condition,
    read_not_judged,
    read_output,
    read_requirement,
    read_setting,
    read_speed_up,
)
from boardgauge.language.table_reader import Reading, TableReader
from boardgauge.language.text_file import text_of
from boardgauge.language.variants import Library, whole_spec
from boardgauge.language.writer import digest_of

LANGUAGE_VERSION = 1

T = TypeVar("T")


def read_board(path: Path, *, library: Library | None = None) -> Board:
    """Read a board spec, with the specs it is a variant of.

    ``library`` gives the text of a ``base`` by its file name (None if it has no such file); without it a base is read
    from the folder of
    ``path``. Raises UnusableSpec with every problem found, never anything else for a bad file.
    """
    path = Path(path)

    def beside(name: str) -> str | None:
        base = path.parent / name
        return text_of(base) if base.is_file() else None

    return read_board_text(text_of(path), str(path), library=library or beside)


def read_board_text(text: str, file: str, *, library: Library | None = None) -> Board:
    """Read a board spec from text; ``file`` is what errors call it. A ``base`` is asked for from ``library``. Raises
    UnusableSpec.
    """
    root, problems = whole_spec(text, file, library)
    reading = Reading(problems=problems, places={"": root})
    board, declared = _Sections(reading, root).read()
    written = [(item.key, item.expression) for item in reading.written]
    reading.problems += check(board, Places(reading.places), declared, written)
    if reading.problems:
        raise UnusableSpec(reading.problems)
    return attrs.evolve(board, digest=digest_of(board))


class _Sections:
    """Reads the tables in the order in which they give each other defaults."""

    def __init__(self, reading: Reading, root: Node) -> None:
        self.reading = reading
        self.root = root
        self.values = cast("dict[str, Node]", root.value)
        self.declared: list[Declared] = []

    def read(self) -> tuple[Board, list[Declared]]:
        self._file_keys()
        board = self._board()
        inputs = self._section(
            "inputs", lambda id_, node: read_input(self.reading, id_, node, board.filter, board.responds_within)
        )
        settings = self._section("settings", lambda id_, node: read_setting(self.reading, id_, node))
        conditions = self._section("conditions", lambda id_, node: read_named_condition(self.reading, id_, node))
        rules: dict[str, Rule] = self._section("rules", lambda id_, node: read_rule(self.reading, id_, node))
        outputs = self._section("outputs", lambda id_, node: read_output(self.reading, id_, node))
        lamps = self._section("lamps", lambda id_, node: read_lamp(self.reading, id_, node, board.responds_within))
        requirements = self._section("requirements", lambda id_, node: read_requirement(self.reading, id_, node))
        speed_ups = self._section("speed_ups", lambda id_, node: read_speed_up(self.reading, id_, node))
        return (
            attrs.evolve(
                board,
                inputs=inputs,
                settings=settings,
                conditions=conditions,
                rules=rules,
                outputs=outputs,
                lamps=lamps,
                requirements=requirements,
                speed_ups=speed_ups,
                not_judged=self._not_judged(),
            ),
            self.declared,
        )

    def _file_keys(self) -> None:
        known = [*(key.name for key in FILE_KEYS), "board", *SECTIONS, "not_judged"]
        for name, node in self.values.items():
            if name not in known:
                nearest = nearest_of(name, known)
                expected = None if nearest else "one of " + ", ".join(known)
                self.reading.problem(node.key_at, name, "there is no such table or key", expected, nearest)
        language = self.values.get("language")
        if language is None:
            message = "the key is missing; it is required"
            self.reading.problem(
                self.root.key_at, "language", message, f"language = {LANGUAGE_VERSION}, above the first table"
            )
        elif type(language.value) is not int or language.value != LANGUAGE_VERSION:
            self.reading.problem(
                language.at, "language", f"this reader knows version {LANGUAGE_VERSION}", str(LANGUAGE_VERSION)
            )

    def _board(self) -> Board:
        node = self.values.get("board")
        if node is None:
            self.reading.problem(self.root.key_at, "board", "the table [board] is missing; it has id and title")
            return Board("", "")
        table = TableReader(self.reading, node, "board", BOARD_KEYS)
        tolerance = table.tolerance("tolerance")
        # One that cannot be read is told here, and not once more at every time that would take it.
        self.reading.tolerance = EXACTLY if tolerance is None and table.has("tolerance") else tolerance
        return Board(
            id=table.text("id") or "",
            title=table.text("title") or "",
            tolerance=self.reading.tolerance,
            responds_within=table.time("responds_within") or 0,
            filter=table.time_range("filter") or TimeRange(),
            same_moment=table.time("same_moment") or 0,
            clock=cast('Literal["independent", "shared"]', table.word("clock") or "independent"),
            rides_through=table.time_range("rides_through") or TimeRange(),
            source=table.text("source"),
            text=table.text("text"),
            at=node.key_at,
        )

    def _section(self, section: str, reader: Callable[[str, Node], T | None]) -> dict[str, T]:
        node = self.values.get(section)
        if node is None:
            return {}
        if not isinstance(node.value, dict):
            self.reading.problem(node.at, section, f"{section} is a table of tables", f"[{section}.some_name]")
            return {}
        found: dict[str, T] = {}
        for id_, inner in node.value.items():
            self._declare(id_, section, f"{section}.{id_}", inner)
            value = reader(id_, inner)
            if value is not None:
                found[id_] = value
        return found

    def _declare(self, name: str, section: str, key: str, node: Node) -> None:
        kind = _stated_kind(section, node)
        self.declared.append(Declared(name, section, key, node.key_at, kind))
        steps = node.value.get("steps") if kind == "sequence" and isinstance(node.value, dict) else None
        if isinstance(steps, Node) and isinstance(steps.value, list):
            for index, step in enumerate(steps.value):
                step_name = step.value.get("name") if isinstance(step.value, dict) else None
                if isinstance(step_name, Node) and isinstance(step_name.value, str):
                    self.declared.append(
                        Declared(step_name.value, "steps", f"{key}.steps[{index + 1}]", step_name.at, "step")
                    )

    def _not_judged(self) -> tuple[NotJudged, ...]:
        node = self.values.get("not_judged")
        if node is None:
            return ()
        if not isinstance(node.value, list):
            self.reading.problem(node.at, "not_judged", "not_judged is a list of tables", "[[not_judged]]")
            return ()
        everything = tuple(item.name for item in self.declared if item.section in ("outputs", "lamps"))
        rows = [read_not_judged(self.reading, index, item, everything) for index, item in enumerate(node.value)]
        return tuple(row for row in rows if row is not None)


def _stated_kind(section: str, node: Node) -> str | None:
    if section == "rules":
        return rule_kind(node)
    if section == "inputs":
        kind = node.value.get("kind") if isinstance(node.value, dict) else None
        known = (
            isinstance(kind, Node)
            and isinstance(kind.value, str)
            and kind.value in {kind_.value for kind_ in InputKind}
        )
        return str(cast(Node, kind).value) if known else None
    return kind_of_section(section)
