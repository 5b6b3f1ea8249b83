"""Short pulses in a plan: an input is set, and a short wait later set back.

Law of this module: a pulse is what the plan says in three steps, and nothing is put together that it does not.
"""

from __future__ import annotations

from collections.abc import Mapping

from boardgauge.plans.plan import PlanStep, Set, Wait
from boardgauge.rigs.rig import LONGEST_PULSE, POWER, Value


def pulse_from(
    steps: tuple[PlanStep, ...], number: int, change: Mapping[str, Value], driven: Mapping[str, Value]
) -> tuple[int, dict[str, Value]] | None:
    """Tell whether a step sets what the step after the next, a short wait later, sets back: length and levels."""
    if number + 2 >= len(steps) or POWER in change:
        return None
    wait, after = steps[number + 1], steps[number + 2]
    if not isinstance(wait, Wait) or not isinstance(after, Set) or wait.time > LONGEST_PULSE or after.power is not None:
        return None
    back = {name: driven[name] for name in change if name in driven}
    if dict(after.inputs) != back or back == dict(change):
        return None
    return wait.time, back
