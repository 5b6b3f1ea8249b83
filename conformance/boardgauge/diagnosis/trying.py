"""Try faults, on more than one core where that is worth its while.

Law of this module: what comes of a fault does not hang on who tried it, nor when. A worker that dies costs time alone:
what it had is tried here.
"""

from __future__ import annotations

import multiprocessing
import pickle
import signal
import time
from collections.abc import Callable, Sequence
from concurrent.futures import CancelledError, Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool

from attrs import define, evolve

from boardgauge.diagnosis.explaining import Outcome, tried
from boardgauge.faults.fault import Fault
from boardgauge.judging.run import Start
from boardgauge.language.model import Board
from boardgauge.processes.broken_pipes import outlive_broken_pipes
from boardgauge.traces.trace import Trace

Progress = Callable[[int, int], None]

PATIENCE = 2.0
"""So many seconds faults are tried here before workers are started: they take about as long to start."""


@define
class Trial:
    """Tries faults of a board on one trace; ``workers`` processes help, if more than one."""

    good: Board
    trace: Trace
    start: Start | None = None
    workers: int = 1
    progress: Progress = lambda done, total: None  # a default, and nothing else

    def of(self, faults: Sequence[Fault]) -> list[Outcome]:
        """Give what comes of each fault."""
        found: list[Outcome] = []
        begun = time.monotonic()
        for fault in faults:
            # How long it took decides who goes on, and nothing else.
            if self.workers > 1 and time.monotonic() - begun > PATIENCE:
                found += self._by_workers(faults, len(found))
                break
            self.progress(len(found), len(faults))
            found.append(tried(fault, self.good, self.trace, self.start))
        return found

    def _by_workers(self, faults: Sequence[Fault], done: int) -> list[Outcome]:
        # To hand something to a worker that has died is a pipe that nobody reads.
        outlive_broken_pipes()
        packed = pickle.dumps((self.good, self.trace, self.start))
        context = multiprocessing.get_context("spawn")
        pool = ProcessPoolExecutor(self.workers, context, _prepare, (packed,))
        found: list[Outcome] = []
        try:
            waiting = [_handed(pool, fault) for fault in faults[done:]]
            for fault, future in zip(faults[done:], waiting, strict=True):
                self.progress(done + len(found), len(faults))
                outcome = None if future is None else _taken(future)
                if outcome is None:
                    outcome = tried(fault, self.good, self.trace, self.start)
                elif outcome.explanation is not None:
                    # The very fault, and not the copy of it that came back.
                    outcome = evolve(outcome, explanation=evolve(outcome.explanation, faults=(fault,)))
                found.append(outcome)
        finally:
            pool.shutdown(wait=False, cancel_futures=True)
        return found


def _handed(pool: ProcessPoolExecutor, fault: Fault) -> Future[Outcome] | None:
    try:
        return pool.submit(_try, fault)
    except BrokenProcessPool:
        return None


def _taken(future: Future[Outcome]) -> Outcome | None:
    """Take what a worker found; None where the workers died."""
    try:
        return future.result()
    except (BrokenProcessPool, CancelledError):
        return None


_trial: tuple[Board, Trace, Start | None] | None = None


def _prepare(packed: bytes) -> None:
    """Make a worker ready; what was packed is of our own making, handed over by the process it serves."""
    global _trial
    # Ctrl-C goes to all processes of a terminal: the one that a person started sees to it.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    _trial = pickle.loads(packed)


def _try(fault: Fault) -> Outcome:
    assert _trial is not None
    return tried(fault, *_trial)
