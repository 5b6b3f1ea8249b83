"""A scenario file to a Scenario.

Law of this module: a Scenario comes out that fits its board, or UnusableSpec with everything that is wrong, each with
its place. ``read_scenario`` is the only function here that touches the file system.
"""

from __future__ import annotations

from pathlib import Path
from typing import Literal, cast

from boardgauge.language import Board, UnusableSpec
from boardgauge.language.board_values import BoardValues
from boardgauge.language.expressions import Comparison, Expression, For, Trigger, walk
from boardgauge.language.keys import Key
from boardgauge.language.name_checks import check_expressions
from boardgauge.language.nodes import Node, read_nodes
from boardgauge.language.places import Places
from boardgauge.language.problems import Unreadable, nearest_of
from boardgauge.language.quantity_reader import read_plain_time
from boardgauge.language.quantity_writer import write_plain_time
from boardgauge.language.scope import expressions_of, scope_of
from boardgauge.language.table_reader import Reading, TableReader
from boardgauge.language.text_file import text_of
from boardgauge.machine.compile import compile_board
from boardgauge.machine.scenario import Power, Scenario, ScenarioStep, SetInputs, Until, Wait

FILE_KEYS = (
    Key("language", "version", "required", "the version of the language, 1"),
    Key("board", "text", "required", "the id of the board the scenario is for"),
    Key("title", "text", "required", "what the scenario shows"),
    Key("text", "text", "optional", "more about it"),
    Key("start", "positions", "optional", "the inputs that do not stand at rest before the first step"),
    Key("settings", "positions", "optional", "the positions of settings that a person chooses"),
    Key("durations", "positions", "optional", "how long timings last: a time, or a list of times, one after another"),
    Key("steps", "steps", "required", "what is done, in order"),
)
STEP_KEYS = (
    Key("set", "positions", "depends", "inputs and the values they are brought to, all at once"),
    Key("power", "word", "depends", "the supply is switched", words=("on", "off")),
    Key("wait", "time", "depends", "a time that goes by"),
    Key("until", "trigger", "depends", "what is waited for: something that happens, or holds"),
    Key("at_most", "time", "depends", "the longest that is waited for it; required with until"),
    Key("or_else", "word", "optional", "what then", default="stop", words=("stop", "go on")),
)
_SORTS = ("set", "power", "wait", "until")


def read_scenario(path: Path, board: Board) -> Scenario:
    """Read a scenario for a board. Raises UnusableSpec with every problem found."""
    return read_scenario_text(text_of(path), str(path), board)


def read_scenario_text(text: str, file: str, board: Board) -> Scenario:
    """Read a scenario from text; ``file`` is what errors call it. Raises UnusableSpec."""
    reading = Reading(tolerance=board.tolerance)
    scenario = _Scenarios(reading, board).read(read_nodes(text, file))
    if reading.problems or scenario is None:
        raise UnusableSpec(reading.problems)
    return scenario


class _Scenarios:
    def __init__(self, reading: Reading, board: Board) -> None:
        self.reading = reading
        self.board = board
        self.of_board = BoardValues(reading, board)
        self.scope = scope_of(board)
        self.comparisons = {n for _, e in expressions_of(board) for n in walk(e) if isinstance(n, Comparison)}

    def read(self, root: Node) -> Scenario | None:
        table = TableReader(self.reading, root, "", FILE_KEYS)
        if "steps" not in table.values and isinstance(root.value, dict) and self._lost_steps(table):
            return None
        name, title, _ = self.of_board.made_for(table), table.text("title"), table.text("text")
        start = self.of_board.values(table.take("start", "positions"), "start")
        self.of_board.need_sensors(table)
        positions = self.of_board.positions(table.take("settings", "positions"), "settings")
        durations = self._durations(table.take("durations", "positions"))
        rows = table.rows("steps", "steps", STEP_KEYS)
        steps = [self._step(row) for row in rows]
        if self.reading.problems:
            return None
        return Scenario(name or "", title or "", tuple(s for s in steps if s), start, positions, durations, at=root.at)

    def _lost_steps(self, table: TableReader) -> bool:
        for name in ("start", "settings", "durations"):
            inner = table.values.get(name)
            if inner is not None and isinstance(inner.value, dict) and "steps" in inner.value:
                at = inner.value["steps"].key_at
                table.fail(at, "steps", f"the steps stand inside [{name}]; put them above the line [{name}]")
                return True
        return False

    # -- values ------------------------------------------------------------------------------------------------------
    def _durations(self, node: Node | None) -> dict[str, tuple[int, ...]]:
        found: dict[str, tuple[int, ...]] = {}
        rows = {row.name: row for row in compile_board(self.board).timings} if node is not None else {}
        for name, value in self.of_board.pairs(node, "durations"):
            key = f"durations.{name}"
            row = rows.get(name)
            if row is None:
                nearest = nearest_of(name, rows)
                self.reading.problem(value.key_at, key, "the board has no such timing", None, nearest)
                continue
            least, most = min(d.shortest for d in row.choices), max(d.longest for d in row.choices)
            written = cast("list[Node]", value.value) if isinstance(value.value, list) else [value]
            lengths = [self._length(one, key, least, most) for one in written]
            if not lengths:
                self.reading.problem(value.at, key, "the list is empty", '["4 min"]')
            found[name] = tuple(length for length in lengths if length is not None)
        return found

    def _length(self, node: Node, key: str, least: int, most: int) -> int | None:
        expected = f'a time from "{write_plain_time(least)}" to "{write_plain_time(most)}"'
        if not isinstance(node.value, str):
            self.reading.problem(node.at, key, "this is no time", expected)
            return None
        try:
            length = read_plain_time(node.value)
        except Unreadable as error:
            self.reading.problem(node.inside(error.at), key, error.message, error.expected or expected)
            return None
        if not least <= length <= most:
            self.reading.problem(node.at, key, f"{node.value} is outside what the spec allows", expected)
        return length

    # -- steps -------------------------------------------------------------------------------------------------------
    def _step(self, row: TableReader) -> ScenarioStep | None:
        sorts = [name for name in _SORTS if row.has(name)]
        if len(sorts) != 1:
            problem = (
                "the step does nothing" if not sorts else f"the step does {len(sorts)} things; make a step of each"
            )
            row.fail(row.node.at, "", problem, "one of " + ", ".join(_SORTS))
            return None
        sort, at = sorts[0], row.node.at
        if sort != "until":
            for name in ("at_most", "or_else"):
                row.refuse(name, "it goes with until")
        match sort:
            case "set":
                values = self.of_board.values(row.values["set"], row.key("set"))
                return SetInputs(values, at) if values else None
            case "power":
                word = row.word("power")
                return None if word is None else Power(word == "on", at)
            case "wait":
                time = row.time("wait")
                return None if time is None else Wait(time, at)
        return self._until(row)

    def _until(self, row: TableReader) -> Until | None:
        row.need("at_most", "without it a scenario could wait for ever")
        trigger, at_most, or_else = row.trigger("until"), row.time("at_most"), row.word("or_else")
        if trigger is None or not self._fits(row, trigger) or at_most is None or or_else is None or row.failed:
            return None
        return Until(
            trigger, str(row.values["until"].value), at_most, cast('Literal["stop", "go on"]', or_else), row.node.at
        )

    def _fits(self, row: TableReader, trigger: Trigger) -> bool:
        key = row.key("until")
        written: list[tuple[str, Expression]] = [(key, trigger)]
        problems = list(check_expressions(written, self.scope, self.board, Places(self.reading.places)))
        self.reading.problems += problems
        for node in walk(trigger):
            at = row.values["until"].inside(node.at)
            if isinstance(node, For):
                row.fail(at, "until", '"for" is not known here', "until it begins, then a step that waits")
            elif isinstance(node, Comparison) and node not in self.comparisons and not problems:
                row.fail(at, "until", "the board does not look at this limit, so nothing happens there")
        return not problems and not row.failed
