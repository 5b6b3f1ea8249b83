"""Where a run that was cut off goes on: the beginning of a sitting, or a moment in it at which the supply comes on.

Law of this module: a board that was without power is as if nothing had been done to it. So where it keeps nothing
without power, and no later step counts from an earlier one, a plan can be taken up where its supply comes on.
"""

from __future__ import annotations

from collections.abc import Mapping

from boardgauge.language.model import Board
from boardgauge.plans.plan import Measure, PlanStep, Set, Sitting, WaitFor
from boardgauge.rigs.rig import Value


def safe_points(board: Board, sitting: Sitting) -> tuple[int, ...]:
    """Give the steps (from 0) at which a sitting can be taken up again; 0 is always one."""
    found = [0]
    if any(getattr(rule, "kept_without_power", False) for rule in board.rules.values()):
        return (0,)
    powered = False
    for index, step in enumerate(sitting.steps):
        if isinstance(step, Set) and step.power is not None:
            if step.power and not powered and index and not _counts_from_before(sitting.steps, index):
                found.append(index)
            powered = step.power
    return tuple(found)


def _counts_from_before(steps: tuple[PlanStep, ...], index: int) -> bool:
    before = {step.id for step in steps[:index] if step.id}
    for step in steps[index:]:
        if isinstance(step, Measure) and (step.since in before or step.until in before):
            return True
        if isinstance(step, WaitFor) and step.since in before:
            return True
    return False


def levels_at(sitting: Sitting, index: int) -> dict[str, Value]:
    """Give the inputs that the steps before one have brought to values."""
    found: dict[str, Value] = {}
    for step in sitting.steps[:index]:
        if isinstance(step, Set):
            found |= dict(step.inputs)
    return found


def taken_up(board: Board, sittings: tuple[Sitting, ...], done: Mapping[str, int]) -> tuple[int, int]:
    """Give the sitting and the step to go on from; ``done`` has for each sitting begun the steps done whole, from 0.

    After the last sitting it is the number of sittings, and step 0.
    """
    for number, sitting in enumerate(sittings):
        steps = done.get(sitting.id, 0)
        if steps < len(sitting.steps):
            return number, max(point for point in safe_points(board, sitting) if point <= steps)
    return len(sittings), 0
