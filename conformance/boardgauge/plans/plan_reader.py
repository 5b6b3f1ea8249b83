"""A plan file to a Plan.

Law of this module: a Plan comes out that fits its board, or UnusableSpec with everything that is wrong, each with its
place. A plan made from another spec than the one at hand is refused. ``read_plan`` is the only function here that
touches the file system.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import cast

from boardgauge.language import Board, UnusableSpec
from boardgauge.language.board_values import BoardValues
from boardgauge.language.keys import Key
from boardgauge.language.nodes import Node, read_nodes
from boardgauge.language.problems import nearest_of
from boardgauge.language.quantity_writer import write_pattern
from boardgauge.language.table_reader import Reading, TableReader
from boardgauge.language.text_file import text_of
from boardgauge.language.writer import digest_of
from boardgauge.plans.plan import (
    GOAL_KINDS,
    Covered,
    GoalKind,
    LeftOut,
    Measure,
    Observe,
    Plan,
    PlanStep,
    Set,
    Sitting,
    Wait,
    WaitFor,
)
from boardgauge.traces.wiring import signals_of

FILE_KEYS = (
    Key("language", "version", "required", "the version of the language, 1"),
    Key("board", "text", "required", "the id of the board the plan is for"),
    Key("spec_digest", "text", "required", "of the spec that the plan was made from"),
    Key("title", "text", "required", "a heading"),
    Key("expected_time", "time", "required", "how long a board at nominal times takes for it"),
    Key("seed", "whole number", "optional", "of the chances taken in making it", default="0"),
    Key("wired", "names", "required", "the signals that the bench sees"),
    Key("cautions", "names", "optional", "what is read before the first step"),
    Key("covers", "steps", "optional", "what the plan shows of a board"),
    Key("leaves_out", "steps", "optional", "what it does not, with the reason"),
    Key("sittings", "steps", "required", "the parts of the plan, each from no power to no power"),
)
SITTING_KEYS = (
    Key("id", "text", "required", "its name; its recording is called by it"),
    Key("settings", "positions", "optional", "the positions of settings that a person chooses, before the supply"),
    Key("start", "positions", "optional", "the inputs that do not stand at rest before the first step"),
    Key("steps", "steps", "required", "what is done, in order"),
)
STEP_KEYS = (
    Key("id", "text", "optional", "the name by which later steps count from this one"),
    Key("set", "positions", "depends", "inputs and the values they are brought to, all at once"),
    Key("power", "word", "depends", "the supply is switched, at the same moment", words=("on", "off")),
    Key("caution", "text", "optional", "what a person must have read before; goes with set and power"),
    Key("wait", "time", "depends", "a time that goes by"),
    Key("wait_for", "positions", "depends", "an output and the level that is waited for"),
    Key("expected", "range of times", "depends", "when a good board does it; required with wait_for"),
    Key("at_most", "time", "depends", "when the plan goes on all the same; required with wait_for"),
    Key("observe", "positions", "depends", "outputs with their levels, lamps with what they show"),
    Key("held", "time", "depends", "how long they are looked at; required with observe"),
    Key("measure", "text", "depends", "the name of a time between two earlier steps"),
    Key("since", "text", "depends", "the step it is counted from: of measure, and of wait_for"),
    Key("until", "text", "depends", "the step at whose end it is over; required with measure"),
    Key("allowed", "range of times", "depends", "what a good board takes; required with measure"),
    Key("why", "text", "optional", "what the step is for"),
)
GOAL_KEYS = (
    Key("kind", "word", "required", "the kind of goal", words=GOAL_KINDS),
    Key("goals", "names", "required", "what is shown, in words; of faults their ids"),
)
LEFT_OUT_KEYS = (*GOAL_KEYS, Key("reason", "text", "required", "why it is not reached"))

_SORTS = ("set", "wait", "wait_for", "observe", "measure")
_GO_WITH: dict[str, tuple[str, ...]] = {
    "expected": ("wait_for",),
    "at_most": ("wait_for",),
    "held": ("observe",),
    "since": ("wait_for", "measure"),
    "until": ("measure",),
    "allowed": ("measure",),
    "caution": ("set", "power"),
}
MOST_STEPS = 20_000
LONGEST_WAIT = 31 * 24 * 3_600_000_000


def read_plan(path: Path, board: Board) -> Plan:
    """Read a plan for a board. Raises UnusableSpec with every problem found."""
    return read_plan_text(text_of(path), str(path), board)


def read_plan_text(text: str, file: str, board: Board) -> Plan:
    """Read a plan from text; ``file`` is what errors call it. Raises UnusableSpec."""
    reading = Reading(tolerance=board.tolerance)
    plan = _Plans(reading, board).read(read_nodes(text, file))
    if reading.problems or plan is None:
        raise UnusableSpec(reading.problems)
    return plan


class _Plans:
    def __init__(self, reading: Reading, board: Board) -> None:
        self.reading = reading
        self.board = board
        self.of_board = BoardValues(reading, board)
        self.lines = {
            lamp.id: tuple(dict.fromkeys(write_pattern(line.shows) for line in lamp.lines))
            for lamp in board.lamps.values()
        }

    def read(self, root: Node) -> Plan | None:
        table = TableReader(self.reading, root, "", FILE_KEYS)
        name, title, digest = self.of_board.made_for(table), table.text("title"), table.text("spec_digest")
        if name in (None, self.board.id) and digest is not None and digest != digest_of(self.board):
            message = f"the plan was made from another spec of {self.board.id}; make it again"
            table.fail(table.values["spec_digest"].at, "spec_digest", message, f'"{digest_of(self.board)}"')
        time = table.time("expected_time")
        seed = table.whole("seed", 0, 2**63 - 1) if table.has("seed") else 0
        wired = self._wired(table)
        cautions = self._texts(table, "cautions")
        covers = tuple(Covered(_kind(row), row.names("goals") or ()) for row in self._rows(table, "covers", GOAL_KEYS))
        left = tuple(
            LeftOut(_kind(row), row.names("goals") or (), row.text("reason") or "")
            for row in self._rows(table, "leaves_out", LEFT_OUT_KEYS)
        )
        sittings = [self._sitting(row) for row in self._rows(table, "sittings", SITTING_KEYS)]
        self._distinct(table, sittings)
        if self.reading.problems:
            return None
        return Plan(
            name or "",
            digest or "",
            title or "",
            tuple(sittings),
            wired,
            covers,
            left,
            cautions,
            time or 0,
            seed or 0,
            at=root.at,
        )

    def _rows(self, table: TableReader, name: str, keys: tuple[Key, ...]) -> list[TableReader]:
        return table.rows(name, "steps", keys, MOST_STEPS)

    def _texts(self, table: TableReader, name: str) -> tuple[str, ...]:
        return table.names(name) or () if table.has(name) else ()

    def _wired(self, table: TableReader) -> tuple[str, ...]:
        known = signals_of(self.board)
        found = table.names("wired") or ()
        nodes = cast("list[Node]", table.values["wired"].value) if found else []
        for name, node in zip(found, nodes, strict=False):
            if name not in known:
                near = nearest_of(name, known)
                expected = None if near else "one of " + ", ".join(known)
                table.fail(node.at, "wired", f"the board has no signal {name!r}", expected, near)
        return found

    def _distinct(self, table: TableReader, sittings: list[Sitting]) -> None:
        seen: set[str] = set()
        for sitting in sittings:
            if sitting.id in seen:
                table.fail(sitting.at, "sittings", f"two sittings are called {sitting.id!r}")
            seen.add(sitting.id)

    # -- values ------------------------------------------------------------------------------------------------------

    def _pairs(self, row: TableReader, name: str) -> Iterator[tuple[str, Node]]:
        return self.of_board.pairs(row.take(name, "positions"), row.key(name))

    def _level(self, row: TableReader, node: Node, key: str) -> bool | None:
        if node.value in ("on", "off"):
            return node.value == "on"
        row.fail(node.at, key, "an output is on or off", '"on" or "off"')
        return None

    # -- sittings and steps ------------------------------------------------------------------------------------------

    def _sitting(self, row: TableReader) -> Sitting:
        start = self.of_board.values(row.take("start", "positions"), row.key("start"))
        self.of_board.need_sensors(row)
        positions = self.of_board.positions(row.take("settings", "positions"), row.key("settings"))
        ids: set[str] = set()
        steps = [step for step in (self._step(r, ids) for r in self._rows(row, "steps", STEP_KEYS)) if step is not None]
        return Sitting(row.text("id") or "", tuple(steps), positions, start, at=row.node.at)

    def _step(self, row: TableReader, ids: set[str]) -> PlanStep | None:
        sorts = [name for name in _SORTS if row.has(name) or (name == "set" and row.has("power"))]
        if len(sorts) != 1:
            problem = f"the step does {len(sorts)} things; make a step of each" if sorts else "the step does nothing"
            row.fail(row.node.at, "", problem, "one of " + ", ".join((*_SORTS, "power")))
            return None
        sort = sorts[0]
        for name, with_ in _GO_WITH.items():
            if sort not in with_:
                row.refuse(name, f"it goes with {' and '.join(with_)}")
        name = row.text("id") or ""
        step = self._of_sort(row, sort, name, ids)
        if name in ids:
            row.fail(row.values["id"].at, "id", f"two steps of the sitting are called {name!r}")
        if name:
            ids.add(name)
        return None if row.failed else step

    def _of_sort(self, row: TableReader, sort: str, id_: str, ids: set[str]) -> PlanStep | None:
        why, at = row.text("why") or "", row.node.at
        match sort:
            case "set":
                power = row.word("power") if row.has("power") else None
                caution = row.text("caution") or ""
                values = self.of_board.values(row.take("set", "positions"), row.key("set"))
                return Set(values, None if power is None else power == "on", id_, caution, why, at)
            case "wait":
                return Wait(self._time(row, "wait"), id_, why, at)
            case "wait_for":
                return self._wait_for(row, id_, ids, why)
            case "observe":
                return self._observe(row, id_, why)
        for key in ("since", "until", "allowed"):
            row.need(key, "a time is measured from one step to another, against what is allowed")
        since, until = self._earlier(row, "since", ids), self._earlier(row, "until", ids)
        allowed = row.time_range("allowed")
        if allowed is None:
            return None
        return Measure(row.text("measure") or "", since, until, allowed.least, allowed.greatest, id_, why, at)

    def _time(self, row: TableReader, name: str) -> int:
        time = row.time(name) or 0
        if time > LONGEST_WAIT:
            row.fail(row.values[name].at, name, "the time is longer than a month")
        return time

    def _earlier(self, row: TableReader, name: str, ids: set[str]) -> str:
        step = row.text(name) or ""
        if step and step not in ids:
            near = nearest_of(step, ids)
            row.fail(row.values[name].at, name, f"no step before this one is called {step!r}", None, near)
        return step

    def _wait_for(self, row: TableReader, id_: str, ids: set[str], why: str) -> WaitFor | None:
        row.need("expected", "it says when a good board does it")
        row.need("at_most", "without it a plan could wait for ever")
        pairs = list(self._pairs(row, "wait_for"))
        if len(pairs) != 1:
            row.fail(row.values["wait_for"].at, "wait_for", "one output is waited for", '{ fan = "on" }')
            return None
        (name, node), expected = pairs[0], row.time_range("expected")
        key = row.key(f"wait_for.{name}")
        known = self.of_board.known(name, node, key, self.board.outputs, "output")
        level = self._level(row, node, f"wait_for.{name}") if known else None
        since, at_most = self._earlier(row, "since", ids), self._time(row, "at_most")
        if level is None or expected is None:
            return None
        return WaitFor(name, level, expected.least, expected.greatest, at_most, since, id_, why, row.node.at)

    def _observe(self, row: TableReader, id_: str, why: str) -> Observe:
        row.need("held", "it says how long to look")
        outputs: dict[str, bool] = {}
        lamps: dict[str, str] = {}
        for name, node in self._pairs(row, "observe"):
            if name in self.lines:
                if node.value in self.lines[name]:
                    lamps[name] = str(node.value)
                else:
                    expected = "one of " + ", ".join(f'"{line}"' for line in self.lines[name])
                    row.fail(node.at, f"observe.{name}", "the lamp has no line that shows so", expected)
                continue
            named = {**self.board.outputs, **self.board.lamps}
            if self.of_board.known(name, node, row.key(f"observe.{name}"), named, "output or lamp"):
                level = self._level(row, node, f"observe.{name}")
                if level is not None:
                    outputs[name] = level
        return Observe(self._time(row, "held"), outputs, lamps, id_, why, row.node.at)


def _kind(row: TableReader) -> GoalKind:
    return cast("GoalKind", row.word("kind") or "move")
