"""Tasks worked out on several cores.

Law: the plan is the same however many workers there are, and whatever happens to them.
"""

from __future__ import annotations

import os
import signal
from threading import Timer

import pytest
from attrs import evolve

from boardgauge.plans import workers
from boardgauge.plans.making import make_plan
from boardgauge.plans.planning import Planner
from boardgauge.plans.tasks import Looking, Proving, Workshop
from boardgauge.plans.wish import Wish, wish_for
from boardgauge.plans.workers import Workers
from plans.planned import heater, plan_of


@pytest.fixture
def wish(monkeypatch: pytest.MonkeyPatch) -> Wish:
    """Give a wish for which workers are started at once."""
    monkeypatch.setattr(workers, "MANY", 2)
    return wish_for(heater())


def test_the_plan_is_the_same_on_however_many_cores(wish: Wish) -> None:
    """Two workers give the plan that none give, and all that is told of it."""
    assert make_plan(wish, jobs=2) == plan_of("heater")


def test_answers_come_in_the_order_of_the_tasks(wish: Wish) -> None:
    """Each task gets its own answer, though they are worked out side by side."""
    tasks = [Proving(fault.id, False) for fault in wish.faults]
    with Workers(Workshop(wish), 3) as work:
        assert list(work.answers(tasks)) == [Workshop(wish).answer(task) for task in tasks]


def test_a_worker_that_dies_loses_nothing(wish: Wish) -> None:
    """What a worker had to do is done all the same, with both gone too."""
    tasks = [Proving(fault.id, False) for fault in wish.faults]
    expected = [Workshop(wish).answer(task) for task in tasks]
    with Workers(Workshop(wish), 2) as work:
        answers = work.answers(tasks)
        found = [next(answers)]
        work._running[0].process.kill()
        found += list(answers)
        assert found == expected
        for worker in work._running:
            worker.process.kill()
            worker.process.join()
        assert list(work.answers(tasks)) == expected


def test_who_wants_no_more_answers_gets_none_later(wish: Wish) -> None:
    """An answer that is still being worked out when it is left is not taken for that of a later task."""
    first = [Proving(fault.id, False) for fault in wish.faults]
    with Workers(Workshop(wish), 2) as work:
        list(work.answers(first[:2]))
        slow = work._running[1].process.pid
        assert slow is not None
        os.kill(slow, signal.SIGSTOP)
        answers = work.answers(first)
        next(answers)
        Timer(0.3, os.kill, (slow, signal.SIGCONT)).start()
        answers.close()
        ids = [fault.id for fault in wish.faults[:4]]
        seen = list(work.answers([Looking(id_) for id_ in ids]))
    workshop = Workshop(wish)
    assert [row.ahead for row in seen] == [workshop.answer(Looking(id_)).ahead for id_ in ids]


def test_no_worker_outlives_its_use(wish: Wish) -> None:
    """Once they are left all processes are gone, whatever they had to do yet."""
    work = Workers(Workshop(wish), 2)
    with work:
        next(work.answers([Proving(fault.id, False) for fault in wish.faults]))
        processes = [worker.process for worker in work._running]
    assert len(processes) == 2
    assert not any(process.is_alive() for process in processes)


def test_few_tasks_start_no_worker() -> None:
    """A small board is planned in one process."""
    wish = evolve(wish_for(heater()), faults=wish_for(heater()).faults[:4])
    planner = Planner(wish, jobs=4)
    with planner.work:
        planner.grow()
        assert not planner.work._running
