"""Judging while a run goes on: what was seen so far, again and again, in a process of its own.

Law of this module: the judge looks at whole recordings, since a filter, a lamp's pattern and a rest that lasts are
known only afterwards. So it is asked again from time to time, each time when the work that it took is at most a tenth
of the time gone by; a deviation is told so much later than it was seen. Whatever becomes of that process, the run goes
on.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import signal
import time
from collections.abc import Callable
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from attrs import define, field

from boardgauge.bench.journal import whole_lines
from boardgauge.judging.judge import Judge
from boardgauge.judging.judgement import Deviation, Judgement
from boardgauge.language.model import Board
from boardgauge.machine.compile import compile_board
from boardgauge.machine.settle import Engine
from boardgauge.processes.broken_pipes import outlive_broken_pipes
from boardgauge.traces.conditioning import condition
from boardgauge.traces.errors import BadWiring, UnreadableRecording
from boardgauge.traces.reading import recording_from
from boardgauge.traces.trace import Trace
from boardgauge.traces.wiring_reader import read_wiring

FIRST_AFTER = 2.0
"""Seconds on the clock before the judge is first asked, and the least between two times."""
SHARE = 10
"""So many times as long as judging took is waited before the next time."""
GROWTH = 1.25
"""A recording judged on the spot has grown by so much since the last time."""


def trace_so_far(recording: Path, wiring: Path, board: Board) -> Trace | None:
    """Give the trace of a recording that is still written, or was cut off; None where there is nothing in it yet.

    Raises UnreadableRecording and BadWiring.
    """
    data = whole_lines(recording) if recording.is_file() else b""
    if not data.strip():
        return None
    return condition(recording_from(data, str(recording)), read_wiring(wiring), board)


def judge_so_far(judge: Judge, recording: Path, wiring: Path) -> Judgement | None:
    """Give the verdict on what was recorded so far; None where there is nothing yet."""
    trace = trace_so_far(recording, wiring, judge.engine.machine.board)
    return None if trace is None else judge.judge(trace)


def _work(board: Board, asked: Connection) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    judge = Judge(Engine(compile_board(board)))
    with contextlib.suppress(EOFError, OSError):
        while True:
            recording, wiring = asked.recv()
            began = time.monotonic()
            found: tuple[Deviation, ...] = ()
            with contextlib.suppress(UnreadableRecording, BadWiring):
                judgement = judge_so_far(judge, recording, wiring)
                found = () if judgement is None else judgement.deviations
            asked.send((str(recording), found, time.monotonic() - began))


@define(eq=False)
class LiveJudge:
    """Asks for the verdict on the recording in hand, and gives the deviations that were not told before."""

    board: Board
    clock: Callable[[], float] = time.monotonic
    _process: Any = None
    _asked: Connection | None = None
    _waiting: bool = False
    _next: float = 0.0
    _recording: tuple[Path, Path] | None = None
    _told: set[tuple[int, str, str]] = field(factory=set)
    _judge: Judge | None = None
    _judged_to: int = 0

    def begin(self, recording: Path, wiring: Path) -> None:
        """Go over to another recording."""
        self._recording, self._told, self._judged_to = (recording, wiring), set(), 0
        self._next = self.clock() + FIRST_AFTER

    def look(self) -> tuple[Deviation, ...]:
        """Take what the process found meanwhile, and ask it again when it is time; takes no time itself."""
        found: tuple[Deviation, ...] = ()
        try:
            if self._asked is not None and self._waiting and self._asked.poll():
                name, deviations, took = self._asked.recv()
                self._waiting = False
                self._next = self.clock() + max(FIRST_AFTER, SHARE * took)
                if self._recording is not None and name == str(self._recording[0]):
                    found = self._news(deviations)
            if not self._waiting and self._recording is not None and self.clock() >= self._next:
                self._started().send(self._recording)
                self._waiting = True
        except (EOFError, OSError):
            # It was ended from outside. The next recording gets another; all are judged at the end in any case.
            self.close()
            self._next = float("inf")
        return found

    def on_the_spot(self, end: int) -> tuple[Deviation, ...]:
        """Judge here and now, if the recording has grown enough since the last time: for virtual time, which waits."""
        if self._recording is None or end < self._judged_to * GROWTH or end <= self._judged_to:
            return ()
        self._judged_to = end
        if self._judge is None:
            self._judge = Judge(Engine(compile_board(self.board)))
        judgement = judge_so_far(self._judge, *self._recording)
        return () if judgement is None else self._news(judgement.deviations)

    def _news(self, deviations: tuple[Deviation, ...]) -> tuple[Deviation, ...]:
        news = [d for d in deviations if (d.time, d.signal, d.rule) not in self._told]
        self._told |= {(d.time, d.signal, d.rule) for d in news}
        return tuple(news)

    def _started(self) -> Connection:
        if self._asked is None:
            outlive_broken_pipes()
            context = multiprocessing.get_context("spawn")
            self._asked, theirs = context.Pipe()
            self._process = context.Process(target=_work, args=(self.board, theirs), daemon=True)
            self._process.start()
            theirs.close()
        return self._asked

    def close(self) -> None:
        """End the process, whatever it is at."""
        if self._asked is not None:
            self._asked.close()
        if self._process is not None:
            self._process.kill()
            self._process.join()
        self._asked, self._process, self._waiting = None, None, False
