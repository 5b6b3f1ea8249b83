"""What came of one step of a plan on the bench, as it stands in the journal.

Law of this module: what was not as the plan expects is a note for people; whether the board is good is the judge's.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from attrs import frozen

from boardgauge.plans.plan import Measure, WaitFor


@frozen
class StepDone:
    """When a step began and ended; ``came`` is false where it waited in vain; ``note`` is what was not as expected."""

    begun: int
    ended: int
    came: bool = True
    note: str = ""

    def noted(self, sitting: str, number: int) -> dict[str, Any]:
        """Give it as a line of the journal, of a step (its number) of a sitting."""
        found: dict[str, Any] = {"done": [sitting, number], "begun": self.begun, "ended": self.ended}
        if not self.came:
            found["came"] = False
        if self.note:
            found["note"] = self.note
        return found


def waited_in_vain(step: WaitFor, begun: int, limit: int) -> StepDone:
    """Give what came of a wait for what had not come by its limit."""
    level = "on" if step.level else "off"
    return StepDone(begun, limit, False, f"{step.signal} did not come {level} within {_seconds(step.at_most)}")


def measured(step: Measure, ends: Mapping[str, int], begun: int) -> StepDone:
    """Measure between the ends of two steps, by their names; a step that waited in vain has none."""
    since, until = ends.get(step.since), ends.get(step.until)
    if since is None or until is None:
        return StepDone(begun, begun, False, f"{step.what} was not measured")
    took = until - since
    if step.shortest <= took <= step.longest:
        return StepDone(begun, begun)
    return StepDone(begun, begun, note=f"{step.what} measured {_seconds(took)}, outside what the plan allows")


def _seconds(time: int) -> str:
    return f"{time / 1_000_000:g} s"
