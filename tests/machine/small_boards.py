"""Small invented boards for tests, and what happens to them, in seconds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from functools import cache
from pathlib import Path

from boardgauge.language import read_board, read_board_text
from boardgauge.language.model import Board
from boardgauge.machine.chance import Timings
from boardgauge.machine.compile import compile_board
from boardgauge.machine.run import Run, Timeline, Value
from boardgauge.machine.settle import Engine
from boardgauge.machine.simulate import Simulator
from boardgauge.machine.table import Machine

S = 1_000_000
TARNBECK = Path(__file__).parents[2] / "spec" / "boardgauge" / "boards" / "tarnbeck.toml"

HEAD = """
language = 1
[board]
id = "small"
title = "a small board (invented)"
tolerance = "exactly"
"""

Changes = Mapping[str, Sequence[tuple[float, Value]]]


def board_of(tables: str, head: str = HEAD) -> Board:
    """Give a board of these tables; its times are exact unless they say otherwise."""
    return read_board_text(head + tables, "small.toml")


def machine_of(tables: str, head: str = HEAD) -> Machine:
    """Give the machine of such a board."""
    return compile_board(board_of(tables, head))


@cache
def tarnbeck() -> Engine:
    """Give the engine of the board in the library."""
    return Engine(compile_board(read_board(TARNBECK)))


def microseconds(seconds: float) -> int:
    """Give whole microseconds for seconds written in a test."""
    return int(Fraction(str(seconds)) * S)


def timeline(changes: Changes, end: float) -> Timeline:
    """Give a timeline of times in seconds; the supply comes on at 0 unless it is among the changes."""
    said = {name: tuple((microseconds(t), v) for t, v in edges) for name, edges in changes.items()}
    return Timeline({"power": ((0, True),), **said}, microseconds(end))


def run(
    board: Machine | Engine,
    changes: Changes,
    end: float,
    timings: Timings = "nominal",
    seed: int = 0,
    positions: dict[str, str] | None = None,
) -> Run:
    """Run a board through changes."""
    engine = board if isinstance(board, Engine) else Engine(board)
    return Simulator(engine.machine, timings, seed, positions, engine).run(timeline(changes, end))


def run_tarnbeck(changes: Changes, end: float, timings: Timings = "nominal", seed: int = 0) -> Run:
    """Run the board of the library with a call and both jumpers fitted, unless the changes say otherwise."""
    usual: dict[str, list[tuple[float, Value]]] = {"y": [(0, True)], "j0": [(0, True)], "j1": [(0, True)]}
    return run(tarnbeck(), {**usual, **changes}, end, timings, seed)


def shown(made: Run, output: str) -> list[tuple[float, bool]]:
    """Give what an output showed, in seconds."""
    return [(time / S, bool(value)) for time, value in made.outputs[output].changes]


def moved(engine: Engine, made: Run, rule: str) -> list[tuple[float, str]]:
    """Give where the region of a rule went and when, in seconds."""
    region = engine.machine.region_of(rule)
    assert region is not None
    found = []
    for entry in made.story:
        for index, _, new in entry.outcome.moved if entry.outcome is not None else ():
            if index == region.index:
                found.append((entry.time / S, region.places[new]))
    return found


def held(engine: Engine, made: Run, name: str) -> list[tuple[float, bool]]:
    """Give when a named thing held in the settled pictures, in seconds."""
    found: list[tuple[float, bool]] = []
    for entry in made.story:
        value = engine.holds(entry.config, name)
        if value != (found[-1][1] if found else False):
            found.append((entry.time / S, value))
    return found
