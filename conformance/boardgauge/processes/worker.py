"""A process that answers what it is asked, one thing after another.

Law of this module: each worker has a pipe of its own and one thing in hand, so that if it dies it is known what it had,
and the others go on. (The pools of the standard library share one pipe between their workers: there one death ends
all.) Workers are started afresh, not forked, on every system. They are deaf to Ctrl-C, which goes to all processes of a
terminal: their parent ends them.
"""

from __future__ import annotations

import multiprocessing
import signal
import threading
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess
from pickle import UnpicklingError
from typing import Any, Self, TypeVar

from attrs import define

from boardgauge.processes.broken_pipes import outlive_broken_pipes

_GONE = (EOFError, OSError, UnpicklingError)
Prepare = Callable[[bytes], Callable[[Any], Any]]


class WorkerGone(Exception):
    """A worker died before it answered."""


@define(eq=False)
class Worker:
    """A process with the pipe to it. Whoever starts one ends it."""

    process: BaseProcess
    connection: Connection

    @classmethod
    def started(cls, prepare: Prepare, packed: bytes) -> Self:
        """Start one, which answers with what ``prepare`` makes of ``packed`` there: a function of some module, since
        it is named to the process and not handed over."""
        context = multiprocessing.get_context("spawn")
        ours, theirs = context.Pipe()
        # To hand something to a worker that has died is a pipe that nobody reads.
        outlive_broken_pipes()
        process = context.Process(target=_serve, args=(theirs, prepare, packed), daemon=True)
        with _deaf():
            process.start()
        theirs.close()
        return cls(process, ours)

    def ask(self, what: Any) -> bool:
        """Ask it something; False if it died while it had nothing in hand."""
        try:
            self.connection.send(what)
        except OSError:
            self.end()
            return False
        return True

    def answer(self) -> Any:
        """Wait for its answer; one that was sent before it died counts. Raises WorkerGone."""
        try:
            return self.connection.recv()
        except _GONE:
            self.end()
            raise WorkerGone from None

    @property
    def ended(self) -> bool:
        """Tell whether it was ended, or found to have died."""
        return self.connection.closed

    def end(self) -> None:
        """End it, whatever it is at."""
        self.connection.close()
        self.process.terminate()
        self.process.join(5)


W = TypeVar("W", bound=Worker)


def heard_from(asked: Iterable[W]) -> list[W]:
    """Wait until one of some workers that were asked has an answer, or has died; give all of which that is so."""
    waiting = list(asked)
    assert waiting, "nobody was asked: that would be waited for without end"
    ready = wait([worker.connection for worker in waiting])
    return [worker for worker in waiting if worker.connection in ready]


def _serve(connection: Connection, prepare: Prepare, packed: bytes) -> None:
    """Answer what comes through the pipe until it is closed."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    answer = prepare(packed)
    with suppress(*_GONE):
        while True:
            connection.send(answer(connection.recv()))


@contextmanager
def _deaf() -> Iterator[None]:
    """Let a process begin its life deaf to Ctrl-C."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
