"""A scenario file to a Scenario.

Law of this module: a Scenario comes out that fits its board, or UnusableSpec with everything that is wrong, each with
its place. ``read_scenario`` is the only function here that touches the file system.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import Literal, cast

from boardgauge.language import Board, UnusableSpec
from boardgauge.language.expressions import Comparison, Expression, For, Trigger, walk
from boardgauge.language.keys import Key
from boardgauge.language.model import Input, InputKind
from boardgauge.language.name_checks import check_expressions
from boardgauge.language.nodes import Node, read_nodes
from boardgauge.language.places import Places
from boardgauge.language.problems import Unreadable, nearest_of
from boardgauge.language.quantity_reader import read_plain_time, read_quantity
from boardgauge.language.quantity_writer import write_plain_time
from boardgauge.language.scope import STATES, expressions_of, scope_of
from boardgauge.language.table_reader import Reading, TableReader
from boardgauge.language.text_file import text_of
from boardgauge.language.units import WrongUnit, in_unit
from boardgauge.machine.compile import compile_board
from boardgauge.machine.run import Value
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
_FIRST_WORDS = {"on", "closed", "fitted", "pressed"}


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
        self.scope = scope_of(board)
        self.comparisons = {n for _, e in expressions_of(board) for n in walk(e) if isinstance(n, Comparison)}

    def read(self, root: Node) -> Scenario | None:
        table = TableReader(self.reading, root, "", FILE_KEYS)
        version = table.take("language", "version")
        if version is not None and (version.value != 1 or isinstance(version.value, (bool, float))):
            table.fail(version.at, "language", "this reader knows version 1 of the language", "1")
        name, title, _ = table.text("board"), table.text("title"), table.text("text")
        if name is not None and name != self.board.id:
            table.fail(table.values["board"].at, "board", f"the board given is {self.board.id!r}, not {name!r}")
        start = self._values(table.take("start", "positions"), "start")
        self._need_sensors(table, start)
        positions = self._positions(table.take("settings", "positions"))
        durations = self._durations(table.take("durations", "positions"))
        if "steps" not in table.values and isinstance(root.value, dict) and self._lost_steps(table):
            return None
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
    def _pairs(self, node: Node | None, key: str) -> Iterator[tuple[str, Node]]:
        if node is None:
            return
        if not isinstance(node.value, dict):
            self.reading.problem(node.at, key, "a table is needed", '{ name = "value" }')
            return
        for name, value in node.value.items():
            if key != "steps" and name == "steps":
                continue
            yield name, value

    def _values(self, node: Node | None, key: str) -> dict[str, Value]:
        found: dict[str, Value] = {}
        for name, value in self._pairs(node, key):
            row = self.board.inputs.get(name)
            if row is None:
                nearest = nearest_of(name, self.board.inputs)
                expected = None if nearest else "one of " + ", ".join(self.board.inputs)
                what = (
                    "the supply is switched by a step of its own" if name == "power" else "the board has no such input"
                )
                self.reading.problem(value.key_at, f"{key}.{name}", what, expected, nearest)
                continue
            read = self._value(row, value, f"{key}.{name}")
            if read is not None:
                found[name] = read
        return found

    def _value(self, row: Input, node: Node, key: str) -> Value | None:
        if row.kind is InputKind.SENSOR:
            return self._quantity(row, node, key)
        words = STATES[row.kind.value]
        if node.value not in words:
            expected = " or ".join(f'"{word}"' for word in words)
            nearest = nearest_of(node.value, words) if isinstance(node.value, str) else None
            self.reading.problem(node.at, key, f"this is no state of a {row.kind.value}", expected, nearest)
            return None
        return node.value == "closed" if "closed" in words else node.value in _FIRST_WORDS

    def _quantity(self, row: Input, node: Node, key: str) -> Fraction | None:
        expected = f'a number with its unit, "20 {row.unit}"'
        if not isinstance(node.value, str):
            self.reading.problem(node.at, key, "a sensor has a quantity", expected)
            return None
        try:
            return in_unit(read_quantity(node.value), row.unit or "").number
        except Unreadable as error:
            self.reading.problem(node.inside(error.at), key, error.message, error.expected or expected)
        except WrongUnit as error:
            self.reading.problem(node.at, key, str(error), expected)
        return None

    def _need_sensors(self, table: TableReader, start: dict[str, Value]) -> None:
        given = table.values.get("start")
        said = given.value if given is not None and isinstance(given.value, dict) else {}
        for name, row in self.board.inputs.items():
            if row.kind is InputKind.SENSOR and name not in start and name not in said:
                at = table.node.key_at if given is None else given.key_at
                self.reading.problem(at, f"start.{name}", "the sensor has no value to begin with", f'"20 {row.unit}"')

    def _positions(self, node: Node | None) -> dict[str, str]:
        found: dict[str, str] = {}
        for name, value in self._pairs(node, "settings"):
            key = f"settings.{name}"
            row = self.board.settings.get(name)
            names = [] if row is None else [p.name for p in row.positions if p.name is not None]
            if row is None:
                nearest = nearest_of(name, self.board.settings)
                self.reading.problem(value.key_at, key, "the board has no such setting", None, nearest)
            elif not names:
                self.reading.problem(value.key_at, key, "the inputs choose the position of this setting; set those")
            elif value.value not in names:
                expected = "one of " + ", ".join(f'"{position}"' for position in names)
                self.reading.problem(value.at, key, "the setting has no such position", expected)
            else:
                found[name] = str(value.value)
        return found

    def _durations(self, node: Node | None) -> dict[str, tuple[int, ...]]:
        found: dict[str, tuple[int, ...]] = {}
        rows = {row.name: row for row in compile_board(self.board).timings} if node is not None else {}
        for name, value in self._pairs(node, "durations"):
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
                values = self._values(row.values["set"], row.key("set"))
                return SetInputs(values, at) if values and not row.failed else None
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
