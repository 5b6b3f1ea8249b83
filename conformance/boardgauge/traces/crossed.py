"""Which two channels look crossed: as wired the board stands as it never does, with the two changed over it does not.

Law of this module: it is told only where it can be known. Every state of the board was explored; what is looked at
stood longer than the board may take over an answer; and one exchange of two channels, and no other, puts all of it
right. Two that are alike in all that was recorded cannot be told apart, and nothing is said of them.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
import numpy.typing as npt
from attrs import evolve

from boardgauge.language.model import Board, InputKind
from boardgauge.machine.compile import compile_board
from boardgauge.machine.explore import Reach, reachable
from boardgauge.machine.settle import Engine
from boardgauge.traces.trace import Trace
from boardgauge.traces.wave import Wave
from boardgauge.traces.wiring import Wire, Wiring

_MOST_CONFIGS = 4_000
"""A board of more is not explored for this: a look at a recording should not take longer than reading it."""
Stand = tuple[bool, ...]


def crossed(trace: Trace, wiring: Wiring, board: Board) -> tuple[Wire, Wire] | None:
    """Give the two wires that look crossed; None where none do, or it cannot be known."""
    engine = Engine(compile_board(board))
    reach = reachable(engine, limit=_MOST_CONFIGS)
    if not reach.complete or reach.findings:
        return None
    read = {level.input for level in engine.machine.levels if reach.read[level.index] and level.comparison is None}
    wires = [w for w in wiring.wires if w.signal in trace.waves and (w.signal in read or w.signal in board.outputs)]
    names = [wire.signal for wire in wires]
    seen = _stands(trace, board, names)
    known = _states(engine, reach, names)
    if seen <= known:
        return None
    pairs = [(a, b) for a, b in combinations(range(len(wires)), 2) if _may_change_over(wires[a], wires[b], board)]
    right = [(a, b) for a, b in pairs if all(_changed_over(stand, a, b) in known for stand in seen)]
    return (wires[right[0][0]], wires[right[0][1]]) if len(right) == 1 else None


def _may_change_over(one: Wire, other: Wire, board: Board) -> bool:
    """Tell whether two channels are of one kind and picked up alike: each could as well show the other's signal."""
    if (one.signal in board.outputs) != (other.signal in board.outputs):
        return False
    if evolve(one, channel="", signal="") != evolve(other, channel="", signal=""):
        return False
    outputs = [board.outputs[wire.signal].contact for wire in (one, other) if wire.signal in board.outputs]
    return len(outputs) < 2 or outputs[0] == outputs[1]


def _changed_over(stand: Stand, one: int, other: int) -> Stand:
    changed = list(stand)
    changed[one], changed[other] = stand[other], stand[one]
    return tuple(changed)


def _states(engine: Engine, reach: Reach, names: list[str]) -> set[Stand]:
    """Give how the signals stand in each state that the board can be in."""
    machine = engine.machine
    outputs = {row.output: row.index for row in machine.outputs}
    levels = {level.input: level.index for level in machine.levels if level.comparison is None}
    found = set()
    for config in reach.configs:
        if config.powered:
            on = engine.outputs(config)
            found.add(tuple(on[outputs[n]] if n in outputs else config.levels[levels[n]] for n in names))
    return found


def _stands(trace: Trace, board: Board, names: list[str]) -> set[Stand]:
    """Give how the signals stood together, wherever all of them did for long enough to be answered."""
    waves = [trace.waves[name] for name in names] + [trace.waves["power"]]
    edges = [np.concatenate((wave.earliest, wave.latest)) for wave in waves]
    bounds = np.unique(np.concatenate((*edges, [trace.start, trace.end])))
    long = np.diff(bounds) > _answer(board) + trace.late
    since = bounds[:-1][long]
    rows = np.stack([_values(wave, since) for wave in waves], axis=1)
    rows = rows[(rows >= 0).all(axis=1) & (rows[:, -1] == 1)]
    return {tuple(bool(value) for value in row) for row in np.unique(rows[:, :-1], axis=0)}


def _values(wave: Wave, times: npt.NDArray[np.int64]) -> npt.NDArray[np.int8]:
    """Give a signal just after some moments; -1 where it is not known, or changes at about that time."""
    done = np.searchsorted(wave.latest, times, side="right")
    begun = np.searchsorted(wave.earliest, times, side="right")
    first = -1 if wave.initial is None else int(wave.initial)
    values = np.concatenate((np.array([first], np.int8), wave.values))[done]
    return np.where(done == begun, values, -1).astype(np.int8)


def _answer(board: Board) -> int:
    """Give the longest that a board may stand as no state of it does: while it takes in, answers, or is not judged."""
    inputs = [row for row in board.inputs.values() if row.kind is not InputKind.SENSOR]
    waits = max((row.filter.greatest + row.responds_within for row in inputs), default=0)
    lags = max((row.lag for row in board.outputs.values()), default=0)
    return waits + lags + max((row.lasts.longest for row in board.not_judged), default=0)
