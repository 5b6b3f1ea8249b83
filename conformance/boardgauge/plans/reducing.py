"""Cut a grown sitting short: leave out what nothing hangs on.

Law of this module: what is needed of a sitting (faults that part, sights of goals) is still there after every cut. A
cut is tried on the boards as planning sees them; what comes out is judged anew by whoever asked.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from attrs import define, evolve

from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.run import Value
from boardgauge.plans.goals import Goals, Sight
from boardgauge.plans.growing import Grown
from boardgauge.plans.hand import Deed
from boardgauge.plans.joint import Done, Joint, Together

MOST_STEPS = 500_000
"""So many steps of boards are spent on one sitting."""


@define(eq=False)
class Reducer:
    """Cuts one sitting short."""

    together: Together
    goals: Goals
    needed: frozenset[str]
    sights: frozenset[Sight]
    allowed: Callable[[Mapping[str, Value]], bool]
    most: int = MOST_STEPS

    def shortened(self, grown: Grown) -> Grown:
        """Give the sitting with as few deeds, and as little time, as was found."""
        begun = self.together.begin(grown.start, sorted(self.needed))
        deeds = list(grown.deeds)
        done = self._replayed(begun, deeds, 0)
        if done is None or not self._keeps(done):
            return grown
        budget = self.together.steps + self.most
        for size in _sizes(deeds):
            start = len(deeds) - size
            while start >= 1 and self.together.steps < budget:
                fewer = [*deeds[:start], *deeds[start + size :]]
                rest = self._replayed(done[start - 1].joint, fewer[start:], start)
                if rest is not None and self._keeps([*done[:start], *rest]):
                    deeds, done = fewer, [*done[:start], *rest]
                start -= 1 if size == 1 else max(1, size // 2)
                start = min(start, len(deeds) - size)
        found = Grown(grown.positions, grown.start, deeds, done)
        for number, row in enumerate(done):
            found.parted.update((id_, number) for id_ in sorted(row.parted) if id_ not in found.parted)
        return found

    def _replayed(self, joint: Joint, deeds: Sequence[Deed], at: int) -> list[Done] | None:
        found = []
        for number, deed in enumerate(deeds):
            nothing = all(joint.values[name] == value for name, value in deed.values.items())
            if deed.values and nothing and not deed.cycle and not deed.pulse:
                return None
            if not self.allowed({**joint.values, **deed.values}):
                return None
            try:
                row = self.together.do(joint, deed, first=not at and not number)
            except CannotSettle:
                return None
            left = {id_: one for id_, one in row.joint.faulty.items() if id_ not in row.parted}
            joint = evolve(row.joint, faulty=left)
            found.append(evolve(row, joint=joint))
        return found

    def _keeps(self, done: Sequence[Done]) -> bool:
        if done[-1].joint.faulty.keys() & self.needed:
            return False
        return not self.sights or self.sights <= self.goals.sights(i for row in done for i in row.instants)


def _sizes(deeds: Sequence[Deed]) -> list[int]:
    size, found = len(deeds) // 3, []
    while size > 1:
        found.append(size)
        size //= 2
    return [*found, 1, 1]
