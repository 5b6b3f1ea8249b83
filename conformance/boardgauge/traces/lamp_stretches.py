"""The lit and dark stretches of a lamp, and how long each surely and possibly lasted.

Law of this module: a stretch is whole only if both of its edges were the lamp's own. An edge that power, or a level
that is not known, may have made is none.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from attrs import frozen

from boardgauge.traces.recording import Times
from boardgauge.traces.trace import Trace
from boardgauge.traces.wave import Booleans, Truths, Wave, merged


@frozen(eq=False)
class Stretches:
    """Stretches one after another; ``value`` is 1 lit, 0 dark, -1 not known or without power.

    ``begin_*`` and ``end_*`` bound the edges, in true time. ``least`` and ``most`` bound the true length. From
    ``sure_from`` to ``sure_to``, by the recorder's clock, the value surely held. ``began`` and ``ended`` tell whether
    the edge was the lamp's own.
    """

    value: Truths
    begin_early: Times
    begin_late: Times
    end_early: Times
    end_late: Times
    least: Times
    most: Times
    began: Booleans
    ended: Booleans
    sure_from: Times
    sure_to: Times
    start: int
    clock_error: Fraction

    def __len__(self) -> int:
        return len(self.value)

    @property
    def complete(self) -> Booleans:
        """Where both edges were seen."""
        return self.began & self.ended

    def stretched(self, length: int) -> int:
        """Give the greatest length a recorder with this clock may show for a true length, in microseconds."""
        return length + -(-length * self.clock_error.numerator // self.clock_error.denominator)

    def latest(self, time: int) -> int:
        """Give the latest true time for a time of the recorder's clock, or the other way about."""
        # Twice the error also covers that the error may be a part of either clock.
        return time + self.stretched(2 * abs(time - self.start)) - 2 * abs(time - self.start)


def _with_initial(wave: Wave, start: int) -> tuple[Times, Truths]:
    times = np.concatenate((np.array([start], dtype=np.int64), wave.recorded))
    initial = -1 if wave.initial is None else int(wave.initial)
    return times, np.concatenate((np.array([initial], dtype=np.int8), wave.values))


def stretches_of(trace: Trace, signal: str) -> Stretches:
    """Give the stretches of a lamp of the trace."""
    lamp, power = trace.waves[signal], trace.power
    start, end, error = trace.start, trace.end, trace.clock_error
    times = merged(lamp.recorded, power.recorded, np.array([start], dtype=np.int64))
    times = times[times <= max(end, start)]
    value = np.full(len(times), -1, dtype=np.int8)
    for index, wave in enumerate((lamp, power)):
        stamps, truths = _with_initial(wave, start)
        now = truths[np.searchsorted(stamps, times, side="right") - 1]
        value = now if index == 0 else np.where(now == 1, value, -1).astype(np.int8)
    early, late, own_early, own_late = times.copy(), times.copy(), times.copy(), times.copy()
    for wave in (lamp, power):
        at = np.searchsorted(times, wave.recorded)
        inside = at < len(times)
        at = at[inside]
        early[at] = np.minimum(early[at], wave.earliest[inside])
        late[at] = np.maximum(late[at], wave.latest[inside])
        own_early[at] = np.minimum(own_early[at], wave.own_earliest[inside])
        own_late[at] = np.maximum(own_late[at], wave.own_latest[inside])
    news = np.ones(len(times), dtype=bool)
    news[1:] = value[1:] != value[:-1]
    value, early, late = value[news], early[news], late[news]
    own_early, own_late = own_early[news], own_late[news]
    stop = np.array([end], dtype=np.int64)
    end_early, end_late = np.append(early[1:], stop), np.append(late[1:], stop)
    own_end_early, own_end_late = np.append(own_early[1:], stop), np.append(own_late[1:], stop)
    least, most = own_end_early - own_late, own_end_late - own_early
    if error:
        most = most + np.ceil(most * float(error)).astype(np.int64)
        least = least - np.ceil(np.abs(least) * float(error)).astype(np.int64)
    # An edge is the lamp's own if there are levels on both sides, and no cut so near that it may have made the edge.
    own = np.zeros(len(value) + 1, dtype=bool)
    own[1:-1] = (value[1:] >= 0) & (value[:-1] >= 0)
    cut = np.ones(len(value) + 1, dtype=bool)
    cut[1:-1] = (value[1:] < 0) | (value[:-1] < 0)
    edge_early, edge_late = np.append(early, stop), np.append(late, stop)
    touching = edge_late[:-1] >= edge_early[1:]
    own[:-1] &= ~(touching & cut[1:])
    own[1:] &= ~(touching & cut[:-1])
    return Stretches(
        value, early, late, end_early, end_late, least, most, own[:-1], own[1:], own_late, own_end_early, start, error
    )
