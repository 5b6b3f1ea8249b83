"""A worker answers what it is asked; when it dies that is told, and costs what it had in hand."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Callable, Iterator
from functools import partial

import pytest

from boardgauge.processes.worker import Worker, WorkerGone, heard_from


def adding(packed: bytes) -> Callable[[int], int]:
    """Make a worker that adds a number to what it is asked."""
    return partial(_add, int(packed))


def _add(number: int, what: int) -> int:
    if what < 0:
        os._exit(3)
    return number + what


@pytest.fixture
def worker() -> Iterator[Worker]:
    """Give one that adds seven, and dies of a negative number."""
    one = Worker.started(adding, b"7")
    yield one
    one.end()


def test_it_answers_one_thing_after_another(worker: Worker) -> None:
    """Each answer is that to what was asked, with what it was given to begin with."""
    for what in (1, 2, 30):
        assert worker.ask(what)
        assert heard_from([worker]) == [worker]
        assert worker.answer() == 7 + what
    assert not worker.ended


def test_only_who_has_something_to_say_is_heard_from(worker: Worker) -> None:
    """One that was asked nothing is silent; nobody waits for it."""
    idle = Worker.started(adding, b"1")
    worker.ask(1)
    assert heard_from([idle, worker]) == [worker]
    idle.end()


def test_nobody_is_waited_for_without_end() -> None:
    """Where nobody was asked waiting would have no end."""
    with pytest.raises(AssertionError):
        heard_from([])


def test_one_that_dies_at_its_work_is_told(worker: Worker) -> None:
    """It is heard from like one that answers, and how it ended is known."""
    worker.ask(-1)
    assert heard_from([worker]) == [worker]
    with pytest.raises(WorkerGone):
        worker.answer()
    assert worker.ended
    assert worker.process.exitcode == 3


def test_what_was_answered_before_it_died_counts(worker: Worker) -> None:
    """An answer in the pipe outlives who gave it."""
    worker.ask(1)
    heard_from([worker])
    worker.process.kill()
    worker.process.join()
    assert worker.answer() == 8


@pytest.mark.skipif(not hasattr(signal, "SIGPIPE"), reason="there is no such signal there")
def test_one_that_died_idle_takes_nothing_and_ends_nobody() -> None:
    """To ask one that is gone fails, though some library had handed the signal of a broken pipe back to the system."""
    before = signal.signal(signal.SIGPIPE, signal.SIG_DFL)
    try:
        worker = Worker.started(adding, b"7")
        worker.process.kill()
        worker.process.join()
        assert not worker.ask(1)
        assert worker.ended
    finally:
        signal.signal(signal.SIGPIPE, before)


def test_it_is_deaf_to_ctrl_c(worker: Worker) -> None:
    """From its first moment on: what a terminal sends to all is for who started it, whose own hearing stays."""
    heard = signal.getsignal(signal.SIGINT)
    assert worker.process.pid is not None
    for _ in range(20):
        os.kill(worker.process.pid, signal.SIGINT)
        time.sleep(0.02)
    worker.ask(1)
    assert worker.answer() == 8
    assert signal.getsignal(signal.SIGINT) is heard


def test_it_ends_whatever_it_is_at(worker: Worker) -> None:
    """No process is left behind."""
    worker.ask(1)
    worker.end()
    assert not worker.process.is_alive()
