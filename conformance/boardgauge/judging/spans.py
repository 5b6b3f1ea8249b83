"""The spans of timings: since when each may run, when it may end, and how that is said.

Law of this module: a span is as wide as the limits leave it; seconds count from the start of the recording.
"""

from __future__ import annotations

from boardgauge.drawings import words
from boardgauge.judging.hypothesis import Bounds, Hypothesis
from boardgauge.judging.responsible import Part
from boardgauge.judging.tracker import Tracker
from boardgauge.machine.table import Machine


class Spans:
    """Gives the spans of the timings that one tracker follows."""

    def __init__(self, machine: Machine, tracker: Tracker) -> None:
        self.tracker, self._machine, self._board = tracker, machine, machine.board

    def part(self, timing: int) -> Part:
        """Give the part of the spec that a timing is of."""
        row = self._machine.timings[timing]
        return Part(row.owner, row.clause, row.at)

    def origin(self, h: Hypothesis, timing: int) -> Bounds:
        """Give since when a timing runs, as far as it is known."""
        limits = self.tracker.limits
        for running, moment in h.timings:
            if running == timing:
                return h.vars[moment]
        if timing in limits.sum_timings:
            total = h.sums[limits.sum_timings.index(timing)]
            if total.since >= 0:
                return h.vars[total.since]
        return (self.tracker.since, self.tracker.since)

    def window(self, h: Hypothesis, timing: int, origin: Bounds) -> Bounds:
        """Give when a timing of a hypothesis may end that began somewhere in ``origin``."""
        limits = self.tracker.limits
        if timing in limits.sum_timings:
            index = limits.sum_timings.index(timing)
            if h.sums[index].since >= 0:
                return limits.sum_window(h, index, h.sums[index], origin)
        return limits.window(h, timing, origin)

    def chain(self, h: Hypothesis, timings: tuple[int, ...]) -> tuple[Bounds, Bounds]:
        """Give since when the first of these timings may run, and when the last of them may end."""
        origin = self.origin(h, timings[0])
        earliest, latest = self.window(h, timings[0], origin)
        for timing in timings[1:]:
            least, most, less, more = self.tracker.limits.range_of(h, timing)
            earliest, latest = earliest + max(0, least - less), latest + most + more
        return origin, (earliest, latest)

    def counted_from(self, timing: int, origin: Bounds) -> str:
        """Say what is counted from when."""
        low, high = origin
        when = self.at(low) if high - low < 2_000 else f"{self.at(low)} to {self.at(high)}"
        return f"{words.thing(self._board, self._machine.timings[timing].owner)}, running since {when}"

    def because(self, *timings: int) -> str:
        """Say of which timings it is that something is early or late; nothing if there are none (-1)."""
        rows = [self._machine.timings[t] for t in timings if t >= 0]
        if not rows:
            return ""
        return ": " + ", then ".join(
            f"{words.thing(self._board, r.owner)} {words.timing(self._board, r)}" for r in rows
        )

    def at(self, time: int) -> str:
        """Say a time, in seconds from the start of the recording."""
        return f"{(time - self.tracker.evidence.start) / 1_000_000:.3f} s"
