"""Work tasks out on the cores of this machine.

Law of this module: the answers are the same, and in the same order, however many workers there are. A worker that dies
costs time only: what it had to do is done in this process.
"""

from __future__ import annotations

import pickle
from collections import deque
from collections.abc import Callable, Generator, Iterator, Sequence
from types import TracebackType
from typing import Any, Self

from attrs import define, field

from boardgauge.plans.tasks import Task, Workshop
from boardgauge.processes.worker import Worker, WorkerGone, heard_from

MANY = 40
"""So many tasks at once are worth the start of workers."""


@define(eq=False)
class _Worker(Worker):
    waiting: deque[int] = field(factory=deque)
    has: int | None = None


@define(eq=False)
class Workers:
    """Works tasks out, each fault's always at the same place, at most ``jobs`` of them at once."""

    workshop: Workshop
    jobs: int = 1
    _running: list[_Worker] = field(factory=list)
    _places: dict[str, int] = field(init=False)

    def __attrs_post_init__(self) -> None:
        self._places = {fault.id: number for number, fault in enumerate(self.workshop.wish.faults)}

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        for worker in self._running:
            worker.end()
        self._running.clear()

    def answers(self, tasks: Sequence[Task]) -> Generator[Any, None, None]:
        """Give the answers to tasks, in their order, each as soon as it is there."""
        if self.jobs > 1 and not self._running and len(tasks) >= MANY:
            packed = pickle.dumps(self.workshop.wish)
            self._running = [_Worker.started(_answering, packed) for _ in range(self.jobs)]
        if not self._running:
            for task in tasks:
                yield self.workshop.answer(task)
            return
        yield from self._spread(tasks)

    def _spread(self, tasks: Sequence[Task]) -> Iterator[Any]:
        here: deque[int] = deque()
        places: list[deque[int]] = [worker.waiting for worker in self._running]
        for number, task in enumerate(tasks):
            place = self._places[task.fault] % self.jobs
            (places[place] if place < len(places) else here).append(number)
        ready: dict[int, Any] = {}
        try:
            for number in range(len(tasks)):
                while number not in ready:
                    for worker in list(self._running):
                        self._give(worker, tasks, here)
                    if here:
                        mine = here.popleft()
                        ready[mine] = self.workshop.answer(tasks[mine])
                    else:
                        self._take(ready, here)
                yield ready.pop(number)
        finally:
            # Whoever wants no more answers leaves none behind that would come for another task.
            for worker in list(self._running):
                worker.waiting.clear()
            while any(worker.has is not None for worker in self._running):
                self._take({}, deque())

    def _give(self, worker: _Worker, tasks: Sequence[Task], here: deque[int]) -> None:
        if worker.has is None and worker.waiting:
            if worker.ask(tasks[worker.waiting[0]]):
                worker.has = worker.waiting.popleft()
            else:
                self._lost(worker, here)

    def _take(self, ready: dict[int, Any], here: deque[int]) -> None:
        for worker in heard_from(worker for worker in self._running if worker.has is not None):
            assert worker.has is not None
            try:
                ready[worker.has] = worker.answer()
            except WorkerGone:
                self._lost(worker, here)
            else:
                worker.has = None

    def _lost(self, worker: _Worker, here: deque[int]) -> None:
        """Take over from a worker that died."""
        self._running.remove(worker)
        here.extend([worker.has] if worker.has is not None else [])
        here.extend(worker.waiting)


def _answering(packed: bytes) -> Callable[[Task], Any]:
    return Workshop(pickle.loads(packed)).answer
