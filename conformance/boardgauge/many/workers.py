"""Judge on the cores of this machine, each worker a process of its own.

Law of this module: a worker has one recording at a time; if it dies that one is reported, and another worker goes on
with the rest.
"""

from __future__ import annotations

import os
import signal
from collections.abc import Callable, Iterator, Sequence
from functools import partial

from attrs import define

from boardgauge.many.job import Item, Outcome
from boardgauge.many.judging_one import judge_item
from boardgauge.many.order import InOrder
from boardgauge.processes.worker import Worker, WorkerGone, heard_from


def cores() -> int:
    """Give the number of cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def in_workers(packed: bytes, items: Sequence[Item], most: int, order: InOrder) -> Iterator[Outcome]:
    """Judge recordings in at most ``most`` workers; give the outcomes in the order of the recordings."""
    workers: list[_Judge] = []
    waiting = iter(items)
    following = next(waiting, None)
    try:
        while True:
            while following is not None and order.may_give_out(following.number):
                worker = next((w for w in workers if w.item is None), None)
                if worker is None:
                    if len(workers) >= most:
                        break
                    worker = _Judge.started(_judging, packed)
                    workers.append(worker)
                if worker.give(following):
                    following = next(waiting, None)
                else:
                    # It died while it had nothing to do: no recording's fault.
                    workers.remove(worker)
            busy = [w for w in workers if w.item is not None]
            if not busy:
                return
            for worker in heard_from(busy):
                order.add(worker.taken())
                if worker.ended:
                    workers.remove(worker)
            yield from order.ready()
    finally:
        for worker in workers:
            worker.end()


@define(eq=False)
class _Judge(Worker):
    item: Item | None = None

    def give(self, item: Item) -> bool:
        given = self.ask(item)
        self.item = item if given else None
        return given

    def taken(self) -> Outcome:
        """Take the outcome of its recording, or make one that says how the worker died."""
        item = self.item
        assert item is not None
        self.item = None
        try:
            outcome = self.answer()
        except WorkerGone:
            return Outcome(item.number, item.name, None, f"{item.name}: {died(self.process.exitcode)}")
        assert isinstance(outcome, Outcome)
        return outcome


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


def _judging(packed: bytes) -> Callable[[Item], Outcome]:
    return partial(judge_item, packed)
