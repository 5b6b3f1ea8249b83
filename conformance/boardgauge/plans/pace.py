"""A plan at the pace of a hand: what a person can do of it, how long waits then are, and what a good board shows.

Law of this module: the steps keep their numbers. What no hand can do is marked, and nothing that a person sees or times
hangs on it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from attrs import evolve

from boardgauge.language.model import Board
from boardgauge.language.quantities import MS, S
from boardgauge.machine.compile import compile_board
from boardgauge.machine.settle import Engine
from boardgauge.plans.carrying import Carried, bench_time
from boardgauge.plans.emitting import TRIED, good_boards, with_windows
from boardgauge.plans.plan import Measure, Observe, Plan, PlanStep, Set, Sitting, Wait, WaitFor

BY_HAND = 400 * MS
"""No hand does anything on purpose within less (common practice, no source)."""
SLOWEST = 2 * S
"""A hand is given so long between two things, so that it is known which came first."""
_FEW = 3
"""So many good boards (of ``TRIED``: nominal, earliest, latest) show nearly always what does not come at this pace."""


def by_hand(sitting: Sitting) -> Sitting:
    """Give a sitting with its waits as long as a hand needs, flickers apart."""
    steps: list[PlanStep] = []
    for number, step in enumerate(sitting.steps):
        if isinstance(step, Wait) and not rig_only(sitting, number):
            steps.append(evolve(step, time=max(step.time, SLOWEST)))
        elif isinstance(step, WaitFor):
            steps.append(evolve(step, at_most=max(step.at_most, 2 * SLOWEST)))
        else:
            steps.append(step)
    return evolve(sitting, steps=tuple(steps))


def for_hand(plan: Plan, board: Board) -> Plan:
    """Give a plan as a hand carries it out: its waits longer, and windows and looks as good boards then have them.

    What is left to a rig is not done, and nothing is timed from it. What a good board does not always do at this pace
    is not waited for: it is looked at what shows.
    """
    engine = Engine(compile_board(board))
    sittings = tuple(_at_this_pace(by_hand(sitting), plan, board, engine) for sitting in plan.sittings)
    return evolve(plan, sittings=sittings, expected_time=bench_time(sittings, engine))


def _at_this_pace(sitting: Sitting, plan: Plan, board: Board, engine: Engine) -> Sitting:
    left = {number: step for number, step in enumerate(sitting.steps) if rig_only(sitting, number)}
    steps = tuple(not_done(s) if number in left else _as_wait(s) for number, s in enumerate(sitting.steps))
    done, carried = _without_missed(evolve(sitting, steps=steps), engine)
    seen = with_windows(done, board, engine, plan.wired, carried)
    steps = tuple(left.get(number, step) for number, step in enumerate(_already(seen, carried)))
    return by_hand(evolve(seen, steps=steps))


def _without_missed(sitting: Sitting, engine: Engine) -> tuple[Sitting, list[Carried]]:
    """Wait in place of waiting for what some good board does not do; give the good boards taken through it too."""
    carried: list[Carried] = []
    tried = 0
    while tried < len(TRIED):
        upto = len(TRIED) if tried else _FEW
        carried += good_boards(sitting, engine, TRIED[tried:upto])
        tried = upto
        missed = {
            number
            for number, step in enumerate(sitting.steps)
            if isinstance(step, WaitFor) and not all(row.times[number].came for row in carried)
        }
        if missed:
            steps = (Wait(SLOWEST, s.id) if number in missed else s for number, s in enumerate(sitting.steps))
            sitting, carried, tried = evolve(sitting, steps=tuple(steps)), [], 0
    return sitting, carried


def _already(sitting: Sitting, carried: Sequence[Carried]) -> Iterator[PlanStep]:
    """Give the steps, with no time for what is so before it is waited for, however late that is."""
    for number, step in enumerate(sitting.steps):
        times = [row.times[number] for row in carried]
        if isinstance(step, WaitFor) and times and all(time.begun == time.ended for time in times):
            yield evolve(step, since="", earliest=0, latest=0)
        else:
            yield step


def _as_wait(step: PlanStep) -> PlanStep:
    return Wait(step.held, step.id, step.why) if isinstance(step, Observe) else step


def not_done(step: PlanStep) -> PlanStep:
    """Give what becomes of a step that is left to a rig."""
    return Set() if isinstance(step, Set) else Wait(0) if isinstance(step, Wait) else step


def rig_only(sitting: Sitting, number: int) -> bool:
    """Tell whether a step belongs to a flicker (there, a moment, and back) that is shorter than a hand can be.

    A time that counts from or to one is a rig's alone too.
    """
    step = sitting.steps[number]
    if isinstance(step, Measure):
        ends = [n for n, row in enumerate(sitting.steps) if row.id in (step.since, step.until)]
        return any(rig_only(sitting, end) or isinstance(sitting.steps[end], (Wait, Observe)) for end in ends)
    return any(_flickers(sitting, middle) for middle in (number - 1, number, number + 1))


def _flickers(sitting: Sitting, middle: int) -> bool:
    steps = sitting.steps
    if not 0 < middle < len(steps) - 1:
        return False
    there, wait, back = steps[middle - 1 : middle + 2]
    if not (isinstance(there, Set) and isinstance(wait, Wait) and isinstance(back, Set)):
        return False
    return wait.time < BY_HAND and bool(there.inputs) and there.inputs.keys() == back.inputs.keys()


def asks_for_a_time(sitting: Sitting, number: int) -> bool:
    """Tell whether a person writes down a time for a step."""
    return isinstance(sitting.steps[number], (Set, WaitFor, Observe)) and not rig_only(sitting, number)
