"""The lit and dark stretches of a lamp, and how long each surely and possibly lasted.

Law of this module: a stretch is whole only if both of its edges were the lamp's own. An edge that power, or a level
that is not known, may have made is none.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import numpy as np
import numpy.typing as npt
from attrs import frozen

from boardgauge.traces.recording import Times
from boardgauge.traces.trace import Trace
from boardgauge.traces.wave import Booleans, Truths, Wave


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
        if not self.clock_error:
            return length
        return length + -(-length * self.clock_error.numerator // self.clock_error.denominator)

    def latest(self, time: int) -> int:
        """Give the latest true time for a time of the recorder's clock, or the other way about."""
        if not self.clock_error:
            return time
        # Twice the error also covers that the error may be a part of either clock.
        return time + self.stretched(2 * abs(time - self.start)) - 2 * abs(time - self.start)


def _number(value: bool | None) -> int:
    return -1 if value is None else int(value)


def _edges(wave: Wave, start: int) -> list[npt.NDArray[Any]]:
    """Give time, value, and the four bounds of each change, with the level at the start as the first."""
    at = np.array([start], dtype=np.int64)
    first = np.array([_number(wave.initial)], dtype=np.int8)
    columns = wave.earliest, wave.latest, wave.own_earliest, wave.own_latest
    return [
        np.concatenate((at, wave.recorded)),
        np.concatenate((first, wave.values)),
        *(np.concatenate((at, column)) for column in columns),
    ]


def _powered(columns: list[npt.NDArray[Any]], power: Wave, start: int) -> list[npt.NDArray[Any]]:
    """Put the changes of the supply among those of the lamp: without it, nothing is known of the lamp."""
    if power.initial is True and not len(power):
        return columns
    cut = _edges(power, start)
    # There are few of them, so they are put in where they belong, and not sorted in.
    at = np.searchsorted(columns[0], cut[0])
    here = np.minimum(at, len(columns[0]) - 1)
    new = columns[0][here] != cut[0]
    value = columns[1][np.maximum(at - 1, 0)]
    value = np.where(at > 0, value, -1)
    joined = [np.insert(columns[0], at[new], cut[0][new]), np.insert(columns[1], at[new], value[new])]
    joined += [np.insert(column, at[new], other[new]) for column, other in zip(columns[2:], cut[2:], strict=True)]
    # Where both changed at once, either may be what was seen.
    place = np.searchsorted(joined[0], cut[0])
    for column, other, wider in zip(joined[2:], cut[2:], (np.minimum, np.maximum) * 2, strict=True):
        column[place] = wider(column[place], other)
    counts = np.diff(np.append(place, len(joined[0])))
    supply = np.repeat(cut[1], counts)
    joined[1][supply != 1] = -1
    joined[2], joined[4] = (np.minimum.accumulate(column[::-1])[::-1] for column in (joined[2], joined[4]))
    joined[3], joined[5] = (np.maximum.accumulate(column) for column in (joined[3], joined[5]))
    return joined


def stretches_of(trace: Trace, signal: str) -> Stretches:
    """Give the stretches of a lamp of the trace."""
    start, end, error = trace.start, trace.end, trace.clock_error
    columns = _powered(_edges(trace.waves[signal], start), trace.power, start)
    if len(columns[0]) and columns[0][-1] > end:
        stop_at = int(np.searchsorted(columns[0], max(end, start), side="right"))
        columns = [column[:stop_at] for column in columns]
    _, value, early, late, own_early, own_late = columns
    news = np.ones(len(value), dtype=bool)
    news[1:] = value[1:] != value[:-1]
    if not news.all():
        value, early, late, own_early, own_late = (column[news] for column in (value, early, late, own_early, own_late))
    stop = np.array([end], dtype=np.int64)
    end_early, end_late = np.append(early[1:], stop), np.append(late[1:], stop)
    own_end_early, own_end_late = np.append(own_early[1:], stop), np.append(own_late[1:], stop)
    least = most = own_end_early - own_late
    if error or not np.array_equal(own_early, own_late):
        most = own_end_late - own_early
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
