"""A sitting of a plan that is being made.

Law of this module: what it finds is what the judge said of it, at which lengths; what parted in it is planning's guess.
"""

from __future__ import annotations

from attrs import define, evolve, field

from boardgauge.plans.goals import Sight
from boardgauge.plans.growing import Grown
from boardgauge.plans.killing import Lengths
from boardgauge.plans.plan import Sitting

_AFTER_PARTING = 4
"""A recording goes on for so many deeds after a fault parted, until it is judged for the first time."""


@define(eq=False)
class Seated:
    """A sitting of a plan: as it grew, as steps, the sights of goals that it was the first to show, and what it finds
    (fault -> lengths at which the judge said so)."""

    grown: Grown
    sitting: Sitting
    upto: tuple[int, ...]
    sights: set[Sight] = field(factory=set)
    finds: dict[str, set[Lengths]] = field(factory=dict)
    settled: bool = False
    """Judged at all lengths."""

    def part(self, id_: str) -> Sitting | None:
        """Give as much of it as it takes to find a fault, if planning is right; None for all of it."""
        at = self.grown.parted.get(id_)
        if at is None or at + _AFTER_PARTING >= len(self.upto):
            return None
        return evolve(self.sitting, steps=self.sitting.steps[: self.upto[at + _AFTER_PARTING]])
