"""Judge on the cores of this machine, each worker a process of its own.

Law of this module: each worker has a pipe of its own and one recording at a time, so that if it dies it is known which
recording it had; that one is reported, and another worker goes on with the rest. (The pools of the standard library
share one pipe between their workers: there one death ends all.) Workers are started afresh, not forked, on every
system.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess
from pickle import UnpicklingError

from attrs import define

from boardgauge.many.job import Item, Outcome
from boardgauge.many.judging_one import judge_item
from boardgauge.many.order import InOrder

_GONE = (EOFError, OSError, UnpicklingError)


def cores() -> int:
    """Give the number of cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def in_workers(packed: bytes, items: Sequence[Item], most: int, order: InOrder) -> Iterator[Outcome]:
    """Judge recordings in at most ``most`` workers; give the outcomes in the order of the recordings."""
    workers: list[_Worker] = []
    waiting = iter(items)
    following = next(waiting, None)
    try:
        while True:
            while following is not None and order.may_give_out(following.number):
                worker = next((w for w in workers if w.item is None), None)
                if worker is None:
                    if len(workers) >= most:
                        break
                    worker = _Worker.started(packed)
                    workers.append(worker)
                if worker.give(following):
                    following = next(waiting, None)
                else:
                    # It died while it had nothing to do: no recording's fault.
                    workers.remove(worker)
            busy = [w for w in workers if w.item is not None]
            if not busy:
                return
            for worker in _back(busy):
                order.add(worker.taken())
                if worker.gone:
                    workers.remove(worker)
            yield from order.ready()
    finally:
        for worker in workers:
            worker.stop()


def _back(busy: list[_Worker]) -> list[_Worker]:
    """Wait for workers that have an outcome or have died."""
    ready = wait([*(w.connection for w in busy), *(w.process.sentinel for w in busy)])
    return [w for w in busy if w.connection in ready or w.process.sentinel in ready]


@define(eq=False)
class _Worker:
    process: BaseProcess
    connection: Connection
    item: Item | None = None
    gone: bool = False

    @classmethod
    def started(cls, packed: bytes) -> _Worker:
        context = multiprocessing.get_context("spawn")
        ours, theirs = context.Pipe()
        process = context.Process(target=_serve, args=(theirs, packed), daemon=True)
        with _deaf():
            process.start()
        theirs.close()
        return cls(process, ours)

    def give(self, item: Item) -> bool:
        try:
            self.connection.send(item)
        except OSError:
            self.stop()
            return False
        self.item = item
        return True

    def taken(self) -> Outcome:
        """Take the outcome of its recording, or make one that says how the worker died."""
        item = self.item
        assert item is not None
        self.item = None
        try:
            # An outcome that was sent before it died counts.
            if self.connection.poll():
                outcome = self.connection.recv()
                assert isinstance(outcome, Outcome)
                return outcome
        except _GONE:
            pass
        self.gone = True
        self.stop()
        return Outcome(item.number, item.name, None, f"{item.name}: {died(self.process.exitcode)}")

    def stop(self) -> None:
        self.connection.close()
        self.process.terminate()
        self.process.join(5)


def died(exitcode: int | None) -> str:
    """Say how a process that was judging a recording ended."""
    if exitcode is not None and exitcode < 0:
        try:
            how = f"was ended by {signal.Signals(-exitcode).name}"
        except ValueError:
            how = f"was ended by signal {-exitcode}"
        if exitcode == -9:
            how += ", as it happens when memory runs out"
    else:
        how = f"ended with status {exitcode}"
    return f"the process that judged it {how}"


def _serve(connection: Connection, packed: bytes) -> None:
    """Judge what comes through the pipe until it is closed."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    with suppress(*_GONE):
        while True:
            connection.send(judge_item(packed, connection.recv()))


@contextmanager
def _deaf() -> Iterator[None]:
    """Let a process begin its life deaf to Ctrl-C, which goes to all processes of a terminal: its parent sees to it."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
