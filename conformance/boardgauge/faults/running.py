"""Run a board that has a fault.

Law of this module: a faulty board is run as a good one is; only its table differs. Where its rules contradict one
another, which those of a good one never do, it goes on scan by scan (``machine.scanning``).
"""

from __future__ import annotations

from functools import lru_cache

from boardgauge.faults.fault import Fault
from boardgauge.machine.chance import Timings
from boardgauge.machine.compile import compile_board
from boardgauge.machine.run import Run
from boardgauge.machine.scanning import ScanningEngine
from boardgauge.machine.scenario import Scenario, play
from boardgauge.machine.settle import Engine


def engine_of(fault: Fault) -> Engine:
    """Give the engine of the board with a fault; it is kept, since what it works out serves the next run."""
    # Faults of two boards may be called the same; their boards are not.
    return _engine(fault, fault.board.id, fault.board.digest)


@lru_cache(maxsize=64)
def _engine(fault: Fault, board: str, digest: str) -> Engine:
    return ScanningEngine(compile_board(fault.board))


def run_faulty(fault: Fault, scenario: Scenario, timings: Timings = "nominal", seed: int = 0) -> Run:
    """Do a scenario with a board that has a fault.

    Raises what ``machine.scenario.play`` raises: ScenarioStuck where the faulty board never does what a step waits for,
    CannotSettle where times that last nothing keep setting one another going.
    """
    engine = engine_of(fault)
    return play(engine.machine, scenario, timings, seed, engine)
