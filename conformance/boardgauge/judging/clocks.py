"""How far the timings of a board can have run between two moments, whatever the board took in when.

Law of this module: two monotone maps from real time to board time, one as fast and one as slow as the speed-ups of a
recording allow; a stretch of the board's time surely fits between them.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

from attrs import frozen

from boardgauge.machine.table import Machine

if TYPE_CHECKING:
    from boardgauge.judging.levels import Levels

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
