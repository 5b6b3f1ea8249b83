"""A signal over time, as far as a recording fixes it.

Law of this module: a change lies somewhere in ``[earliest, latest]``, both ends included, and nowhere else; what is
not known is said to be not known (None), and never filled in.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt
from attrs import frozen

from boardgauge.traces.recording import Times
from boardgauge.traces.spread import Spread

Truths = npt.NDArray[np.int8]
"""1 for true, 0 for false, -1 for not known."""

Booleans = npt.NDArray[np.bool_]
NONE: Times = np.empty(0, dtype=np.int64)


def truth(number: int) -> bool | None:
    """Give the truth an entry of ``Truths`` stands for."""
    return None if number < 0 else bool(number)


@frozen(eq=False)
class Wave:
    """One signal in two values and "not known", changing between them.

    ``initial`` is the value at the start of the trace. Change i lies in ``[earliest[i], latest[i]]`` and stands in the
    recording at ``recorded[i]``; from it on the value is ``values[i]``. Where a value is lost (to not known) it counts
    as lost from the first moment at which it may have been, and where one is found again, as found from the last: so
    those changes have ``earliest == latest``. Neighbouring values differ. Times are microseconds and none of the three
    columns ever falls.

    ``own_earliest`` and ``own_latest`` are the same interval by the recorder's own clock, that is without the error of
    its clock: between two changes that error counts once for the time between them, and not from the start.
    """

    signal: str
    channel: str | None
    initial: bool | None
    earliest: Times
    latest: Times
    recorded: Times
    values: Truths
    own_earliest: Times
    own_latest: Times

    def __len__(self) -> int:
        return len(self.values)

    def changes(self) -> list[tuple[int, int, bool | None]]:
        """Give the changes as plain (earliest, latest, value)."""
        values = map(truth, self.values.tolist())
        return list(zip(self.earliest.tolist(), self.latest.tolist(), values, strict=True))

    def recorded_changes(self) -> list[tuple[int, bool | None]]:
        """Give the changes as they stand in the recording: (time, value)."""
        return list(zip(self.recorded.tolist(), map(truth, self.values.tolist()), strict=True))

    def at(self, time: int) -> bool | None:
        """Give the value at a time by the recorded times."""
        index = int(np.searchsorted(self.recorded, time, side="right")) - 1
        return truth(int(self.values[index])) if index >= 0 else self.initial

    def stretches(self, start: int, end: int) -> Iterator[tuple[int, int, bool | None]]:
        """Give (from, to, value) over the recorded times, from start to end."""
        since, value = start, self.initial
        for time, new in self.recorded_changes():
            if time > since:
                yield since, time, value
            since, value = time, new
        if end > since:
            yield since, end, value

    def nominal(self) -> Wave:
        """Give the same wave with every change at its recorded time and no uncertainty."""
        at = self.recorded
        return Wave(self.signal, self.channel, self.initial, at, at, at, self.values, at, at)


def constant(signal: str, value: bool | None) -> Wave:
    """Give a wave that never changes and has no channel."""
    return Wave(signal, None, value, NONE, NONE, NONE, np.empty(0, dtype=np.int8), NONE, NONE)


def merged(*columns: Times) -> Times:
    """Give all the times of some columns once each, in order."""
    # np.union1d does this too, and takes ten times as long (numpy 2.4).
    times = np.sort(np.concatenate(columns), kind="stable")
    if not len(times):
        return times
    news = np.ones(len(times), dtype=bool)
    np.not_equal(times[1:], times[:-1], out=news[1:])
    return times[news]


def held(decides: Booleans, value: Booleans, before: bool) -> Booleans:
    """Give, for each place, ``value`` at the last place so far that ``decides``; ``before`` where there is none."""
    if not len(decides):
        return value
    index = np.maximum.accumulate(np.where(decides, np.arange(len(decides)), -1))
    return np.where(index >= 0, value[np.maximum(index, 0)], before).astype(bool)


@frozen(eq=False)
class Levels:
    """A signal on its way to a wave: from ``times[i]`` on it is ``truths[i]``.

    What happened there began no earlier than ``lead[i]`` and was over by ``tail[i]``, by the recorder's own clock.
    Before the first time the value is not known.
    """

    times: Times
    truths: Truths
    lead: Times
    tail: Times

    def changes(self) -> Levels:
        """Give the levels without those that say the same as the one before."""
        if not len(self.times):
            return self
        news = np.ones(len(self.times), dtype=bool)
        news[1:] = self.truths[1:] != self.truths[:-1]
        return Levels(self.times[news], self.truths[news], self.lead[news], self.tail[news])

    def unknown_between(self, begins: Times, ends: Times) -> Levels:
        """Give the levels with "not known" from each begin to the end that belongs to it; they rise, and may touch."""
        if not len(begins):
            return self
        # Stretches that touch or overlap are one.
        ends = np.maximum.accumulate(ends)
        news = np.concatenate(([True], begins[1:] > ends[:-1]))
        begins, ends = begins[news], ends[np.append(news[1:], True)]
        times = merged(self.times, begins, ends)
        inside = np.searchsorted(begins, times, side="right") > np.searchsorted(ends, times, side="right")
        truths = np.where(inside, -1, self.before(times)).astype(np.int8)
        lead, tail = times.copy(), times.copy()
        own = np.searchsorted(times, self.times)
        lead[own], tail[own] = self.lead, self.tail
        return Levels(times, truths, lead, tail).changes()

    def before(self, times: Times) -> Truths:
        """Give the truth at each of these times."""
        index = np.searchsorted(self.times, times, side="right") - 1
        return self._at(index)

    def _at(self, index: npt.NDArray[np.intp]) -> Truths:
        if not len(self.times):
            return np.full(len(index), -1, dtype=np.int8)
        return np.where(index >= 0, self.truths[np.maximum(index, 0)], -1).astype(np.int8)


def levels_of(times: Times, truths: Truths) -> Levels:
    """Give levels that began and were over where they were recorded."""
    return Levels(times, truths, times, times).changes()


def wave_of(signal: str, channel: str | None, start: int, levels: Levels, spread: Spread) -> Wave:
    """Make a wave of levels, each change spread as far as the recording leaves it open."""
    levels = levels.changes()
    initial = int(levels.before(np.array([start], dtype=np.int64))[0])
    later = levels.times > start
    recorded, values = levels.times[later], levels.truths[later]
    before = np.concatenate((np.array([initial], dtype=np.int8), values[:-1])) if len(values) else values
    own = spread.own(levels.lead[later], levels.tail[later])
    early, late = _settled(*spread.drifted(*own), values, before)
    own_early, own_late = _settled(*own, values, before) if spread.clock_error else (early, late)
    return Wave(signal, channel, truth(initial), early, late, recorded, values, own_early, own_late)


def _settled(early: Times, late: Times, values: Truths, before: Truths) -> tuple[Times, Times]:
    """Put the moments of losing and finding where they belong, and keep both columns from falling."""
    lost, found = values < 0, before < 0
    early, late = np.where(found, late, early), np.where(lost, early, late)
    if not len(values):
        return early, late
    return np.maximum.accumulate(early), np.maximum.accumulate(late)
