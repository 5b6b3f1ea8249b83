"""Random things done to the boards of the library, and what a recorder at their terminals writes down."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

from attrs import evolve
from hypothesis import strategies as st

from boardgauge.boards import board_path
from boardgauge.judging.judge import Judge
from boardgauge.language import read_board
from boardgauge.language.model import Input, InputKind
from boardgauge.language.quantities import MS, S
from boardgauge.language.units import in_unit
from boardgauge.machine.compile import compile_board
from boardgauge.machine.run import Run, Timeline, Value
from boardgauge.machine.settle import Engine
from boardgauge.machine.simulate import Simulator
from boardgauge.traces import Trace, condition
from boardgauge.traces.simulated import recording_of

_GAPS = (30 * MS, 120 * MS, 400 * MS, 3 * S, 7 * S, 20 * S, 50 * S, 130 * S, 260 * S, 700 * S)
"""Short of, inside and beyond the filters; and long enough for what the boards wait for."""
LONGEST = 1500 * S


@cache
def judge_of(name: str) -> Judge:
    """Give the judge of a board of the library."""
    return Judge.of(read_board(board_path(name)))


@cache
def engine_of(name: str) -> Engine:
    """Give the engine of a board of the library."""
    return Engine(compile_board(read_board(board_path(name))))


@st.composite
def timelines(draw: st.DrawFn, name: str) -> Timeline:
    """Draw what happens to a board: the supply comes on at 1 s, a few inputs change, now and then power is lost."""
    machine = engine_of(name).machine
    inputs: dict[str, tuple[tuple[int, Value], ...]] = {}
    for row in machine.board.inputs.values():
        values = _values(row, machine.board.id)
        value = draw(values)
        edges: list[tuple[int, Value]] = [(0, value)]
        time = 0
        for _ in range(draw(st.integers(0, 4))):
            time += draw(st.sampled_from(_GAPS)) + draw(st.integers(0, 1000)) * 100
            value = draw(values.filter(lambda v, old=value: v != old)) if row.unit else not value
            edges.append((time, value))
        inputs[row.id] = tuple(edge for edge in edges if edge[0] <= LONGEST)
    power: list[tuple[int, Value]] = [(S, True)]
    if draw(st.integers(0, 3)) == 0:
        off = draw(st.integers(2 * S, 400 * S))
        power += [(off, False), (off + draw(st.integers(1, 20)) * S, True)]
    inputs["power"] = tuple(power)
    ends = [edges[-1][0] for edges in inputs.values()]
    return Timeline(inputs, min(LONGEST, max(ends) + draw(st.sampled_from((30 * S, 300 * S)))))


def _values(row: Input, board: str) -> st.SearchStrategy[Value]:
    if row.kind is not InputKind.SENSOR or row.unit is None:
        return st.booleans()
    limits = sorted(
        in_unit(quantity, row.unit).number
        for level in engine_of(board).machine.levels
        if level.input == row.id and level.comparison is not None
        for quantity in (level.comparison.limit, level.comparison.until)
        if quantity is not None
    )
    # Well clear of every limit, so that what the sensor says is not open.
    clear = [limits[0] - 5, limits[-1] + 5]
    middle = (limits[len(limits) // 2 - 1] + limits[len(limits) // 2]) / 2
    return st.sampled_from([*clear, middle] if len(limits) > 2 else clear)


def positions_of(name: str) -> st.SearchStrategy[dict[str, str]]:
    """Draw the positions of the settings a person chooses."""
    settings = engine_of(name).machine.board.settings
    named = {id_: [p.name for p in row.positions if p.name] for id_, row in settings.items()}
    return st.fixed_dictionaries({id_: st.sampled_from(names) for id_, names in named.items() if names})


def run_of(name: str, timeline: Timeline, timings: str, seed: int, positions: Mapping[str, str]) -> Run:
    """Run a board of the library through a timeline."""
    engine = engine_of(name)
    return Simulator(engine.machine, timings, seed, positions, engine).run(timeline)  # type: ignore[arg-type]


def trace_of(name: str, run: Run, positions: Mapping[str, str]) -> Trace:
    """Give the trace of what an ideal recorder wrote down of a run."""
    board = engine_of(name).machine.board
    return evolve(condition(recording_of(run, board), None, board), settings=dict(positions))


def broken(name: str, run: Run) -> list[str]:
    """Give the requirements that a run broke."""
    watches = engine_of(name).machine.watches
    return [
        watches[index].requirement.id
        for entry in run.story
        if entry.outcome is not None
        for index in entry.outcome.broken
    ]
