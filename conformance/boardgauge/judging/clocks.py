"""How far the timings of a board can have run between two moments, whatever the board took in when.

Law of this module: two monotone maps from real time to board time, one as fast and one as slow as the speed-ups of a
recording allow; a stretch of the board's time surely fits between them.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from attrs import field, frozen

from boardgauge.judging.columns import Changes
from boardgauge.language import expressions as ex
from boardgauge.machine.table import Level, Machine
from boardgauge.traces.wave import truth

Stretch = tuple[int, int, bool | None]
"""From, to, and the level: None where it is not certain."""

LONG = 10**17
"""Beyond the end of any recording, in microseconds."""


@frozen
class RateMap:
    """Real time to board time: piecewise linear, with whole rates."""

    times: tuple[int, ...]
    boards: tuple[int, ...]
    rates: tuple[int, ...]
    fastest: int = 1

    @classmethod
    def of(cls, pieces: Sequence[tuple[int, int]]) -> RateMap:
        """Make a map of (from, rate) pieces; before the first piece the rate is the first one's."""
        times, boards, rates = [pieces[0][0]], [0], [pieces[0][1]]
        for (since, rate), (until, following) in pairwise(_longest(pieces)):
            boards.append(boards[-1] + (until - since) * rate)
            times.append(until)
            rates.append(following)
        return cls(tuple(times), tuple(boards), tuple(rates), max(rates))

    def at(self, time: int) -> int:
        """Give the board time at a real time."""
        index = max(0, bisect_right(self.times, time) - 1)
        return self.boards[index] + (time - self.times[index]) * self.rates[index]

    def when(self, board: int) -> int:
        """Give the real time at which the board time is reached, in whole microseconds rounded down."""
        index = max(0, bisect_right(self.boards, board) - 1)
        return self.times[index] + (board - self.boards[index]) // self.rates[index]

    def ahead(self, time: int, seconds: int) -> int:
        """Give the board time that is reached within some seconds of a time or before, as it looked at any moment.

        A rate that falls right after a moment was not known at it: what was left then was taken at its own rate.
        """
        best = self.at(time + seconds)
        if not seconds:
            return best
        index = max(0, bisect_right(self.times, time) - 1)
        best = max(best, self.boards[index] + (time - self.times[index] + seconds) * self.rates[index])
        while index > 0 and self.boards[index] + seconds * self.fastest > best:
            index -= 1
            best = max(best, self.boards[index + 1] + seconds * self.rates[index])
        return best

    def first_ahead(self, board: int, seconds: int) -> int:
        """Give the earliest moment from which a board time is no further ahead than some seconds, rounded down."""
        found = self.when(board) - seconds
        if not seconds:
            return found
        index = max(0, bisect_right(self.times, found) - 1)
        while index > 0 and self.boards[index] + seconds * self.fastest >= board:
            index -= 1
        for since, base, rate, until in zip(
            self.times[index:], self.boards[index:], self.rates[index:], (*self.times[index + 1 :], LONG), strict=True
        ):
            moment = max(since, since + (board - base) // rate - seconds)
            if moment <= until:
                return min(found, moment)
        return found

    def when_latest(self, board: int) -> int:
        """Give the same, rounded up."""
        index = max(0, bisect_right(self.boards, board) - 1)
        return self.times[index] - (self.boards[index] - board) // self.rates[index]


@frozen
class Clock:
    """The fastest and the slowest that one set of speed-ups allows; None where no speed-up is concerned."""

    fast: RateMap | None = None
    slow: RateMap | None = None

    def earliest(self, origin: int, board_time: int, less: int = 0) -> int:
        """Give the earliest moment by which so much board time can have passed since the origin, but for ``less``.

        These are seconds beside the percentage: with no more than them left, at the rate of the moment, it may be over.
        """
        if self.fast is None:
            return origin + board_time - less
        return self.fast.first_ahead(self.fast.at(origin) + board_time, less)

    def latest(self, origin: int, board_time: int) -> int:
        """Give the latest moment by which so much board time must have passed since the origin."""
        if self.slow is None:
            return origin + board_time
        return self.slow.when_latest(self.slow.at(origin) + board_time)

    def most(self, since: int, until: int, less: int = 0) -> int:
        """Give the most board time that can pass between two moments, or be left for the ``less`` seconds after it."""
        if self.fast is None:
            return until + less - since
        return self.fast.ahead(until, less) - self.fast.at(since)

    def least(self, since: int, until: int) -> int:
        """Give the least board time that must pass between two moments."""
        if self.slow is None:
            return until - since
        return self.slow.at(until) - self.slow.at(since)

    def latest_origin(self, end: int, board_time: int, less: int = 0) -> int:
        """Give the latest origin from which so much board time can have passed by the end, but for ``less``."""
        if self.fast is None:
            return end + less - board_time
        return self.fast.when_latest(self.fast.ahead(end, less) - board_time)

    def earliest_origin(self, end: int, board_time: int) -> int:
        """Give the earliest origin from which no more than so much board time must have passed by the end."""
        if self.slow is None:
            return end - board_time
        return self.slow.when(self.slow.at(end) - board_time)


REAL_TIME = Clock()


class _Changed(NamedTuple):
    """The changes of one level, its value at the start as the first: when, to what, and their numbers."""

    earliest: list[int]
    latest: list[int]
    values: list[bool | None]
    numbers: tuple[int, ...]


@frozen
class Levels:
    """The levels of a recording over time, for conditions on nothing but inputs; exact about what is not certain.

    The stretches of a level may overlap: while two of them differ, the level is not certain.
    """

    _initial: tuple[bool | None, ...]
    _changes: Changes
    _delays: tuple[int, ...]
    _by_input: Mapping[str, int] = field(factory=dict)
    _by_comparison: Mapping[ex.Comparison, int] = field(factory=dict)
    _changed: dict[int, _Changed] = field(factory=dict, eq=False)
    _certain: dict[int, tuple[list[int], list[bool | None]]] = field(factory=dict, eq=False)

    @classmethod
    def of(
        cls, levels: Sequence[Level], initial: Sequence[bool | None], changes: Changes, delays: Sequence[int]
    ) -> Levels:
        """Lay out every level, as it is asked for."""
        return cls(
            tuple(initial),
            changes,
            tuple(delays),
            {level.input: level.index for level in levels if level.comparison is None},
            {level.comparison: level.index for level in levels if level.comparison is not None},
        )

    def stretches(self, index: int) -> list[Stretch]:
        """Give the stretches of a level; a change is not certain from its earliest until it must have been acted on."""
        row: list[Stretch] = []
        since, now = -LONG, self._initial[index]
        for change in self._changes.taken(self._changes.level == index):
            row.append((since, change.earliest, now))
            since = change.latest + self._delays[index]
            row.append((change.earliest, since, None))
            now = None if change.droppable else change.value
        row.append((since, LONG, now))
        return row

    def last(self, index: int, time: int) -> bool | None:
        """Give what a level became by the last of its changes that may have come by a time.

        None where that is not known, or where it may not have been taken in at all.
        """
        row = self._changed.get(index) or self._of(index)
        return row.values[bisect_right(row.earliest, time) - 1]

    def came(self, index: int, time: int) -> int | None:
        """Give when the last change of a level that may have come by a time came at the latest; -LONG if none did.

        None where the level is not known then, other than that it may have been seen or not.
        """
        row = self._changed.get(index) or self._of(index)
        place = bisect_right(row.earliest, time) - 1
        number = row.numbers[place]
        unknown = row.values[place] is None and (number < 0 or not self._changes.droppable[number])
        return None if unknown else row.latest[place]

    def ways(self, index: int, earliest: int, latest: int) -> tuple[tuple[bool | None, tuple[int, ...]], ...]:
        """Give what a level may be at a moment in [earliest, latest], each with the changes (numbers) still to come.

        The first is what ``last`` gives; the others leave out changes that may have come after the moment.
        """
        row = self._changed.get(index) or self._of(index)
        last = place = bisect_right(row.earliest, latest) - 1
        found: list[tuple[bool | None, tuple[int, ...]]] = [(row.values[place], ())]
        while place > 0 and row.latest[place] > earliest:
            place -= 1
            found.append((row.values[place], row.numbers[place + 1 : last + 1]))
        return tuple(found)

    def _of(self, index: int) -> _Changed:
        own = np.flatnonzero(self._changes.level == index)
        values = [
            None if droppable else truth(value)
            for value, droppable in zip(
                self._changes.value[own].tolist(), self._changes.droppable[own].tolist(), strict=True
            )
        ]
        found = self._changed[index] = _Changed(
            [-LONG, *self._changes.earliest[own].tolist()],
            [-LONG, *self._changes.latest[own].tolist()],
            [self._initial[index], *values],
            (-1, *own.tolist()),
        )
        return found

    def truth(self, condition: ex.Condition, time: int) -> bool | None:
        """Give whether a condition on inputs holds just after a time: None if it is not certain (Kleene)."""
        match condition:
            case ex.Name(name=name):
                return self._level(self._by_input[name], time)
            case ex.InState(name=name, state=state):
                value = self._level(self._by_input[name], time)
                return value if value is None else value == (state in {"on", "closed", "fitted", "pressed"})
            case ex.Comparison():
                return self._level(self._by_comparison[condition], time)
            case ex.Not(item=item):
                inner = self.truth(item, time)
                return None if inner is None else not inner
            case ex.And(items=items):
                found = [self.truth(item, time) for item in items]
                return False if False in found else None if None in found else True
            case ex.Or(items=items):
                found = [self.truth(item, time) for item in items]
                return True if True in found else None if None in found else False
        return None

    def _level(self, index: int, time: int) -> bool | None:
        times, values = self._certain.get(index) or self._overlaid(index)
        return values[bisect_right(times, time) - 1] if time >= times[0] else None

    def _overlaid(self, index: int) -> tuple[list[int], list[bool | None]]:
        """Lay the stretches of a level over each other: from each time on, the one value all agree on, or None."""
        borders: list[tuple[int, int, bool | None]] = []
        for since, until, value in self.stretches(index):
            if since < until:
                borders += [(since, 1, value), (until, -1, value)]
        borders.sort(key=lambda border: border[0])
        times, values = list[int](), list[bool | None]()
        standing: dict[bool | None, int] = {True: 0, False: 0, None: 0}
        for time, step, value in borders:
            standing[value] += step
            found = [value for value, number in standing.items() if number]
            level = found[0] if len(found) == 1 else None
            if times and times[-1] == time:
                values[-1] = level
            else:
                times.append(time)
                values.append(level)
        self._certain[index] = times, values
        return times, values

    def borders(self, conditions: Sequence[ex.Condition]) -> list[int]:
        """Give every time at which the certainty of some level changes that these conditions look at."""
        found = {-LONG, LONG}
        for index in {index for condition in conditions for index in self._indices(condition)}:
            self._level(index, 0)
            found.update(self._certain[index][0])
        return sorted(found)

    def _indices(self, condition: ex.Condition) -> Iterator[int]:
        for item in ex.walk(condition):
            if isinstance(item, ex.Name | ex.InState) and item.name in self._by_input:
                yield self._by_input[item.name]
            elif isinstance(item, ex.Comparison):
                yield self._by_comparison[item]


def clocks_of(machine: Machine, levels: Levels) -> dict[tuple[int, ...], Clock]:
    """Give the clock of each set of speed-ups that some timing of the machine has."""
    clocks: dict[tuple[int, ...], Clock] = {(): REAL_TIME}
    for timing in machine.timings:
        if timing.speed_ups not in clocks:
            fast, slow = list[tuple[int, int]](), list[tuple[int, int]]()
            rows = [machine.speed_ups[number] for number in timing.speed_ups]
            for time in levels.borders([row.while_ for row in rows]):
                truths = [(levels.truth(row.while_, time), row.times_faster) for row in rows]
                fast.append((time, max([1, *(rate for truth, rate in truths if truth is not False)])))
                slow.append((time, max([1, *(rate for truth, rate in truths if truth is True)])))
            clocks[timing.speed_ups] = _clock(fast, slow)
    return clocks


def _clock(fast: Sequence[tuple[int, int]], slow: Sequence[tuple[int, int]]) -> Clock:
    # Up to LONG only: what follows the end of the last stretch is nobody's.
    rates = {rate for time, rate in (*fast, *slow) if time < LONG}
    return REAL_TIME if rates == {1} else Clock(RateMap.of(fast), RateMap.of(slow))


def _longest(pieces: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """Join neighbouring pieces of one rate."""
    kept = [pieces[0]]
    kept += [piece for before, piece in pairwise(pieces) if piece[1] != before[1]]
    return kept
