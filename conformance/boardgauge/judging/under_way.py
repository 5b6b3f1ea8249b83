"""What may be under way at a moment from which a board is followed without knowing what came before.

Law of this module: a board is followed from a moment only if all that it may have yet to act on then is acted on before
anything else changes. Then it comes to the same as if all of that had been acted on already; were there something
else, the board might act on that first.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from boardgauge.judging.columns import Changes, Happenings, Kind
from boardgauge.traces.wave import truth

if TYPE_CHECKING:
    from boardgauge.judging.tracker import Tracker


class UnderWay:
    """What may be under way, on the trace of one tracker."""

    def __init__(self, tracker: Tracker) -> None:
        self.tracker, self.evidence = tracker, tracker.evidence
        happenings, changes = self.evidence.happenings, self.evidence.changes
        assert isinstance(happenings, Happenings)
        assert isinstance(changes, Changes)
        supply = np.flatnonzero(happenings.kind == Kind.POWER)
        self._supply_early, self._supply_late = happenings.earliest[supply], happenings.latest[supply]
        self._supply, self._maybe = happenings.value[supply], happenings.maybe[supply]
        self._any_early = changes.earliest
        # A pulse that nobody saw is no change that something waits for: two things that nobody saw are not supposed.
        seen = np.flatnonzero(~changes.hidden)
        self._early, self._level = changes.earliest[seen], changes.level[seen]
        self._same_moment = tracker.engine.machine.board.same_moment

    def powered_at(self, time: int) -> bool | None:
        """Give whether the board has its supply at a time, short gaps left out; None if nobody knows."""
        place = int(np.searchsorted(self._supply_late, time, side="right")) - 1
        return truth(int(self._supply[place])) if place >= 0 else self.evidence.powered

    def settled_at(self, time: int, from_start: bool) -> bool:
        """Tell whether nothing else changes before the board has acted on all that came by a time.

        ``from_start``: nothing is known of what came before the recording, so all that it begins with may just have
        come.
        """
        powered = self.powered_at(time)
        if powered is False:
            # Without power nothing is waited for; but a board that may ride through the gap is not without.
            return not self._maybe[int(np.searchsorted(self._supply_late, time, side="right")) - 1 :][:1].any()
        return all(self._settles(level, time, from_start) for level in range(len(self.evidence.initial)))

    def _settles(self, level: int, time: int, from_start: bool) -> bool:
        levels = self.evidence.levels
        came = levels.came(level, time)
        if came is None:
            # It may turn at any moment until it is known, and so may the board act on it.
            return True
        if from_start and came < self.evidence.steady[level]:
            came = self.evidence.steady[level]
            if time < came:
                return False
        until = came + max(self.evidence.responds[level], self._same_moment)
        if until <= time:
            return True
        supply = np.searchsorted(self._supply_early, (time, until), side="right")
        first, last = np.searchsorted(self._early, (time, until), side="right").tolist()
        own = self._level[first:last] == level
        if levels.last(level, time) is None:
            # Seen or not: until it changes again both are followed, whatever else changes.
            return not own.any()
        return bool(supply[0] == supply[1]) and bool(own.all())

    def coming(self, time: int) -> int:
        """Give how long after a time the last of the changes that may have come by it can come."""
        came = (self.evidence.levels.came(level, time) for level in range(len(self.evidence.initial)))
        return max((at - time for at in came if at is not None and at > time), default=0)

    def settle_in(self, time: int) -> int:
        """Give how long after a time, and after what is still ``coming``, all that was under way at it must have shown.

        Where nothing else can happen before, all of it was decided by then, or is by a change that came by then: what
        an input brings shows within its response, and what is decided within the lag.
        """
        tracker, evidence = self.tracker, self.evidence
        limits = tracker.limits
        soon = time + limits.slowest + evidence.trace.late
        quiet = not tracker.engine.machine.timings and not evidence.blind and not tracker.anything_goes
        first, last = np.searchsorted(self._any_early, (time, soon), side="right").tolist()
        if not quiet or first < last:
            return limits.slowest + max(limits.lags, default=0)
        return max(limits.slowest, *limits.lags, 0) + evidence.trace.late
