"""Run the page's engine without a browser, beside the reference simulator."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

from py_mini_racer import MiniRacer

from boardgauge.machine.chance import Timings
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.run import Run, Value
from boardgauge.machine.settle import Engine
from boardgauge.machine.simulate import SimulatedBoard, Simulator
from boardgauge.machine.table import Machine
from boardgauge.page import engine_source, page_table

Fed = Mapping[str, Sequence[tuple[int, Value]]]
Piece = tuple[Fed, int]
"""What comes at the terminals, and the time up to which the board then goes on."""

DRIVER = """
function playedThrough(table, way, settings, pieces, most) {
  const board = new PlayedBoard(new Engine(table), way, settings);
  let left = most;
  try {
    for (const [fed, until] of pieces) {
      board.feed(fed);
      left -= board.advance(until, left);
      if (left <= 0) break;
    }
  } catch (error) {
    if (error instanceof CannotSettle) return JSON.stringify({ refused: "CannotSettle" });
    if (error instanceof TooShort) return JSON.stringify({ refused: "TooShort" });
    throw error;
  }
  return JSON.stringify(board.run());
}
"""


class Script:
    """The engine in an embedded interpreter. Close it, or the interpreter keeps the process alive."""

    def __init__(self) -> None:
        self._racer = MiniRacer()
        self._racer.eval(engine_source())
        self._racer.eval(DRIVER)

    def close(self) -> None:
        """Let the interpreter go."""
        self._racer.close()

    def define(self, source: str) -> None:
        """Add functions to call."""
        self._racer.eval(source)

    def value(self, source: str) -> Any:
        """Give what an expression of the engine's language comes to, as plain data."""
        text = self._racer.eval(f"JSON.stringify({source})")
        return None if text is None else json.loads(str(text))

    def run(
        self,
        machine: Machine,
        pieces: Sequence[Piece],
        way: Timings = "nominal",
        most: int = 1 << 30,
        positions: Mapping[str, str] | None = None,
    ) -> dict[str, Any]:
        """Play a board of the machine through what comes, at most so many instants of it."""
        rows = page_table(machine)
        dials = [_position(row, (positions or {}).get(row["id"])) for row in rows["settings"]]
        table = json.dumps(rows)
        fed = json.dumps([[_for_script(machine, changes), until] for changes, until in pieces])
        made = self._racer.eval(f'playedThrough({table}, "{way}", {dials}, {fed}, {most})')
        found: dict[str, Any] = json.loads(str(made))
        return found


def _position(row: dict[str, Any], chosen: str | None) -> int:
    names = [position["name"] for position in row["positions"]]
    found: int = row["factory"] if chosen is None else names.index(chosen)
    return found


def _for_script(machine: Machine, changes: Fed) -> dict[str, Any]:
    number = {name: index for index, name in enumerate(machine.board.inputs)}
    inputs = {number[name]: [[t, plain(v)] for t, v in edges] for name, edges in changes.items() if name != "power"}
    return {"power": [[t, v] for t, v in changes.get("power", ())], "inputs": inputs}


def plain(value: Value) -> bool | list[int]:
    """Give a value at a terminal as the page's engine takes it."""
    return value if isinstance(value, bool) else [Fraction(value).numerator, Fraction(value).denominator]


def reference(
    machine: Machine,
    pieces: Sequence[Piece],
    way: Timings = "nominal",
    most: int = 1 << 30,
    engine: Engine | None = None,
    positions: Mapping[str, str] | None = None,
) -> dict[str, Any]:
    """Give the same from the reference simulator."""
    board = Simulator(machine, way, 0, positions, engine).board()
    instants = 0

    def watch(*_: object) -> bool:
        nonlocal instants
        instants += 1
        return instants >= most

    try:
        for changes, until in pieces:
            board.feed({name: [(max(0, t), v) for t, v in edges] for name, edges in changes.items()})
            if board.advance(until, watch):
                break
    except CannotSettle:
        return {"refused": "CannotSettle"}
    return as_seen(board, board.run())


def as_seen(board: SimulatedBoard, run: Run) -> dict[str, Any]:
    """Give a run of the reference in the shape in which the page's engine gives its own."""
    engine = board.engine
    bits = range(len(board.machine.timings))
    return {
        "end": run.end,
        "outputs": [[[t, bool(v)] for t, v in edges.changes] for edges in run.outputs.values()],
        "lamps": [[[t, bool(v)] for t, v in edges.changes] for edges in run.lamps.values()],
        "stretches": sorted([s.timing, s.begun, s.origin, s.end, s.how] for s in run.stretches),
        "story": [
            {
                "time": entry.time,
                "changes": [{"level": c.level, "value": c.value, "raw": c.raw} for c in entry.causes.changes],
                "over": list(entry.causes.expired),
                "dropped": list(entry.causes.dropped),
                "power": entry.causes.power,
                "places": list(entry.config.places),
                "levels": list(entry.config.levels),
                "running": [t for t in bits if entry.config.running >> t & 1],
                "outputs": list(engine.outputs(entry.config)),
                "lines": list(engine.lamp_lines(entry.config)),
                "broken": [] if entry.outcome is None else list(entry.outcome.broken),
            }
            for entry in run.story
        ],
    }


def comparable(run: dict[str, Any]) -> dict[str, Any]:
    """Give a run of the page's engine with its stretches in a fixed order."""
    if "refused" in run:
        return run
    rows = [[s["timing"], s["begun"], s["origin"], s["end"], s["how"]] for s in run["stretches"]]
    return {**run, "stretches": sorted(rows)}
