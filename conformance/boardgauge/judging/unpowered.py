"""What a board may be in that has no supply.

Law of this module: nothing is left of what is not kept without power; what is kept may be anything that it can be.
"""

from __future__ import annotations

from itertools import product

from boardgauge.judging.hypothesis import NOTHING_ADDED, Command, Draft, Hypothesis
from boardgauge.judging.tracker import Tracker


class Unpowered:
    """Gives the hypotheses about a board without power, for one tracker.

    ``settle_in``: how long after a moment all that was under way at it must have shown.
    """

    def __init__(self, tracker: Tracker, settle_in: int) -> None:
        self.tracker, self.settle_in = tracker, settle_in

    def bare(self) -> Hypothesis:
        """Give the hypothesis of a board that has been without power; outputs still on at the start go off at once."""
        limits, time = self.tracker.limits, self.tracker.since
        config = self.tracker.engine.off(self.tracker.evidence.trace.settings)
        draft = Draft(config, time, [], {}, [], [], [()] * len(limits.lags), (), [], limits.any_rate)
        draft.sums = [NOTHING_ADDED for _ in limits.sum_timings]
        draft.windows = [() for _ in limits.count_regions]
        draft.lamps = [draft.moment(time, time) for _ in self.tracker.evidence.lamps]
        for output, value in enumerate(self.tracker.shown):
            # After a deviation an output that is on without power is excused, not demanded again and again.
            if value and time == self.tracker.evidence.start:
                cap = time + self.settle_in
                draft.queues[output] = (Command(False, draft.moment(time, cap), cap),)
        return draft.freeze()

    def with_what_is_kept(self) -> list[Hypothesis]:
        """Give the hypotheses of a board without power: what it keeps through that may be anything it can be."""
        machine, limits = self.tracker.engine.machine, self.tracker.limits
        kept = [region for region in machine.regions if region.kept_without_power]
        timings = [t for region in kept if region.kind != "accumulator" for t in region.timings]
        timings += [d.timing for d in machine.delays if d.kept_without_power]
        timings = [t for t in timings if t not in limits.not_interval]
        fresh = self.bare()
        found = []
        for places in product(*(range(len(region.places)) for region in kept)):
            for bits in product((0, 1), repeat=len(timings)):
                draft = Draft.of(fresh)
                row = list(draft.config.places)
                for region, place in zip(kept, places, strict=True):
                    row[region.index] = place
                running = sum(1 << t for t, bit in zip(timings, bits, strict=True) if bit)
                draft.config = draft.config._replace(places=tuple(row), running=running)
                for index, region_index in enumerate(limits.sum_regions):
                    if machine.regions[region_index].kept_without_power and not row[region_index]:
                        _, most, _, more = limits.range_of(draft, limits.sum_timings[index])
                        draft.sums[index] = NOTHING_ADDED._replace(most=most + more)
                found.append(draft.freeze())
        return found
