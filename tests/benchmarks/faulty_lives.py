"""Random lives of faulty boards: what somebody does to one, and what a recorder at its terminals writes down."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from random import Random

from boardgauge.faults import Fault, engine_of
from boardgauge.language import in_unit
from boardgauge.language.model import Board, Input, InputKind
from boardgauge.language.quantities import MS, S
from boardgauge.machine.compile import compile_board
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.run import Run, Timeline, Value
from boardgauge.machine.simulate import Simulator
from boardgauge.traces import Trace, condition
from boardgauge.traces.simulated import recording_of

_GAPS = (1 * S, 4 * S, 12 * S, 35 * S)
_WATCHING = frozenset(("requirement", "not judged"))


def _gap(lengths: Sequence[int], random: Random) -> int:
    """Give how long nothing is done to an input: a short while, or one of the board's own times, more or less."""
    if not lengths or random.random() < 0.4:
        return random.choice(_GAPS) + random.randint(0, 3000) * MS
    return int(random.choice(lengths) * random.uniform(0.3, 1.3)) + random.randint(0, 3000) * MS


def timeline(board: Board, seed: int) -> Timeline:
    """Give what happens to a board: the supply comes on at 1 s, inputs change now and then, power is lost sometimes."""
    random = Random(seed)
    lengths = [c.nominal for row in compile_board(board).timings if row.role not in _WATCHING for c in row.choices]
    inputs: dict[str, tuple[tuple[int, Value], ...]] = {}
    for row in board.inputs.values():
        edges = [(0, _value(board, row, random, None))]
        time = 2 * S
        for _ in range(random.randint(4, 9) if row.kind is not InputKind.LINK else random.choice((0, 0, 1))):
            time += _gap(lengths, random)
            edges.append((time, _value(board, row, random, edges[-1][1])))
        inputs[row.id] = tuple(edges)
    power: list[tuple[int, Value]] = [(S, True)]
    if random.random() < 0.5:
        off = random.randint(10 * S, max([500 * S, *(edges[-1][0] for edges in inputs.values())]))
        power += [(off, False), (off + 8 * S, True)]
    inputs["power"] = tuple(power)
    return Timeline(inputs, max(edges[-1][0] for edges in inputs.values()) + 120 * S)


def _value(board: Board, row: Input, random: Random, before: Value | None) -> Value:
    if row.kind is not InputKind.SENSOR or row.unit is None:
        if before is not None:
            return not before
        rests = row.kind is InputKind.SWITCH and row.contact == "normally closed"
        return rests != (random.random() < (0.15 if row.kind is InputKind.SWITCH else 0.5))
    limits = sorted(
        in_unit(quantity, row.unit).number
        for level in compile_board(board).levels
        if level.input == row.id and level.comparison is not None
        for quantity in (level.comparison.limit, level.comparison.until)
        if quantity is not None
    )
    choices = [limits[0] - 5, limits[-1] + 5, Fraction(limits[0] + limits[-1]) / 2]
    return random.choice([choice for choice in choices if choice != before])


def life(fault: Fault, board: Board, seed: int) -> Run | None:
    """Give the run of a faulty board through a random life with random timings; None where it does not come to rest."""
    engine = engine_of(fault)
    try:
        return Simulator(engine.machine, "random", seed, engine=engine).run(timeline(board, seed))
    except CannotSettle:
        return None


def trace_of(run: Run, board: Board) -> Trace:
    """Give the trace of what an ideal recorder wrote down of a run."""
    return condition(recording_of(run, board), None, board)
