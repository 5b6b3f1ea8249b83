"""Carry out a plan on a simulated board, good or faulty, as a rig does on a real one.

Law of this module: the one who carries out a plan sees the terminals and nothing else, and goes by what shows there.
Nothing here judges; a recording comes out, as an ideal recorder at the wired terminals would have it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from attrs import define, evolve, field, frozen

from boardgauge.language.model import Board
from boardgauge.machine.chance import Timings
from boardgauge.machine.config import Config
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.run import POWER, Causes, Entry, Run, Value
from boardgauge.machine.settle import Engine
from boardgauge.machine.simulate import SimulatedBoard, Simulator
from boardgauge.plans.plan import Measure, Observe, PlanStep, Set, Sitting, Wait, WaitFor
from boardgauge.traces import condition
from boardgauge.traces.simulated import recording_of
from boardgauge.traces.trace import Trace
from boardgauge.traces.wiring import Wiring, default_wiring

TAIL = 1_000_000
"""A recording goes on so long after the last step."""
_MOST_SCANS = 1_000
"""So many times a board may go on by itself in one sitting: of one that never ends with it no more need be seen."""


@frozen
class StepTime:
    """When a step began and was over; ``came`` is false where what it waited for did not come before its limit."""

    begun: int
    ended: int
    came: bool = True


@frozen
class Carried:
    """One sitting carried out: what was at the terminals, and when each step was done.

    ``settled`` is false where the board did not come to rest, or went on by itself for too long (a fault can do that);
    the run ends there.
    """

    sitting: Sitting
    run: Run
    times: tuple[StepTime, ...]
    settled: bool = True

    def measured(self, step: Measure) -> int | None:
        """Give how long the time of a step was; None where one of its ends was never reached."""
        ends = {row.id: time for row, time in zip(self.sitting.steps, self.times, strict=False) if row.id}
        since, until = ends.get(step.since), ends.get(step.until)
        if since is None or until is None or not since.came or not until.came:
            return None
        return until.ended - since.ended


def carry_out(
    sitting: Sitting,
    engine: Engine,
    timings: Timings = "nominal",
    seed: int = 0,
    durations: Mapping[str, Sequence[int]] | None = None,
    reaction: int = 0,
    tail: int = TAIL,
) -> Carried:
    """Carry out a sitting on a simulated board, every free choice of it made as for ``machine.simulate.Simulator``.

    ``engine`` is that of the board on the bench, good or faulty. ``reaction`` is how long the one who carries it out
    takes to act on what was waited for, ``tail`` how long the recording goes on after the last step. Raises TooShort
    where a step takes back a change sooner than any change that counts may.
    """
    board = Simulator(engine.machine, timings, seed, dict(sitting.settings), engine, durations).board()
    return _Carrier(board, sitting, reaction, tail).go()


def bench_time(sittings: Iterable[Sitting], engine: Engine) -> int:
    """Give how long sittings take a board at nominal times."""
    return sum(carry_out(sitting, engine).times[-1].ended for sitting in sittings)


def trace_of(carried: Carried, board: Board, wired: Sequence[str] | None = None) -> Trace:
    """Give the trace of a sitting: what a recorder at the ``wired`` terminals (all, where None) has of it."""
    return condition(recording_of(carried.run, board), wiring_of(board, carried.sitting, wired), board)


def wiring_of(board: Board, sitting: Sitting, wired: Sequence[str] | None = None) -> Wiring:
    """Give the wiring of a sitting: channels called like the signals that are wired, and its settings."""
    wiring = evolve(default_wiring(board), settings=dict(sitting.settings))
    if wired is None:
        return wiring
    return evolve(wiring, wires=tuple(wire for wire in wiring.wires if wire.signal in wired))


@define
class _Carrier:
    board: SimulatedBoard
    sitting: Sitting
    reaction: int
    tail: int
    time: int = 0
    coming: dict[str, list[tuple[int, Value]]] = field(factory=dict)
    times: list[StepTime] = field(factory=list)
    scans: int = 0

    def go(self) -> Carried:
        self.coming = {name: [(0, value)] for name, value in self.sitting.start.items()}
        settled = True
        try:
            for step in self.sitting.steps:
                self._do(step)
            self._give(self.time + self.tail)
        except CannotSettle:
            settled = False
        return Carried(self.sitting, self.board.run(), tuple(self.times), settled)

    def _do(self, step: PlanStep) -> None:
        begun, came = self.time, True
        match step:
            case Set(inputs=inputs, power=power):
                changes: dict[str, Value] = dict(inputs)
                if power is not None:
                    changes[POWER] = power
                for name, value in changes.items():
                    self.coming.setdefault(name, []).append((self.time, value))
            case Wait(time=time):
                self.time += time
            case Observe(held=held):
                self.time += held
            case WaitFor():
                came = self._wait_for(step)
            case Measure():
                pass
        self.times.append(StepTime(begun, self.time, came))

    def _give(self, to: int) -> None:
        self.board.feed(self.coming)
        self.coming = {}
        self.board.advance(to, self._scanned)

    def _wait_for(self, step: WaitFor) -> bool:
        board = self.board
        output = next(row.index for row in board.machine.outputs if row.output == step.signal)
        limit = self.time + step.at_most
        self._give(self.time)
        while True:
            level, on_its_way = board.terminal(output)
            if level == step.level or board.now >= limit:
                break
            soon = on_its_way is not None and on_its_way[1] == step.level and on_its_way[0] <= limit
            board.advance(on_its_way[0] if soon and on_its_way is not None else limit, self._anything)
        came = level == step.level
        self.time = board.now + (self.reaction if came else 0)
        return came

    def _anything(self, entry: Entry, before: Config) -> bool:
        return self._scanned(entry, before) or True

    def _scanned(self, entry: Entry, before: Config) -> bool:
        """Count the scans in which a board goes on by itself. Raises CannotSettle at the last."""
        if entry.causes == _NOTHING:
            self.scans += 1
            if self.scans == _MOST_SCANS:
                raise CannotSettle("the rules keep moving one another, scan after scan")
        return False


_NOTHING = Causes()
