"""How far the timings of a board can have run between two moments, whatever the board took in when.

Law of this module: two monotone maps from real time to board time, one as fast and one as slow as the speed-ups of a
recording allow; a stretch of the board's time surely fits between them.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from itertools import pairwise

from attrs import field, frozen

from boardgauge.language import expressions as ex
from boardgauge.machine.inputs import Change
from boardgauge.machine.table import Level, Machine

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

    @classmethod
    def of(cls, pieces: Sequence[tuple[int, int]]) -> RateMap:
        """Make a map of (from, rate) pieces; before the first piece the rate is the first one's."""
        times, boards, rates = [pieces[0][0]], [0], [pieces[0][1]]
        for (since, rate), (until, following) in pairwise(pieces):
            boards.append(boards[-1] + (until - since) * rate)
            times.append(until)
            rates.append(following)
        return cls(tuple(times), tuple(boards), tuple(rates))

    def at(self, time: int) -> int:
        """Give the board time at a real time."""
        index = max(0, bisect_right(self.times, time) - 1)
        return self.boards[index] + (time - self.times[index]) * self.rates[index]

    def when(self, board: int) -> int:
        """Give the real time at which the board time is reached, in whole microseconds rounded down."""
        index = max(0, bisect_right(self.boards, board) - 1)
        return self.times[index] + (board - self.boards[index]) // self.rates[index]

    def when_latest(self, board: int) -> int:
        """Give the same, rounded up."""
        index = max(0, bisect_right(self.boards, board) - 1)
        return self.times[index] - (self.boards[index] - board) // self.rates[index]


@frozen
class Clock:
    """The fastest and the slowest that one set of speed-ups allows; None where no speed-up is concerned."""

    fast: RateMap | None = None
    slow: RateMap | None = None

    def earliest(self, origin: int, board_time: int) -> int:
        """Give the earliest moment by which so much board time can have passed since the origin."""
        if self.fast is None:
            return origin + board_time
        return self.fast.when(self.fast.at(origin) + board_time)

    def latest(self, origin: int, board_time: int) -> int:
        """Give the latest moment by which so much board time must have passed since the origin."""
        if self.slow is None:
            return origin + board_time
        return self.slow.when_latest(self.slow.at(origin) + board_time)

    def most(self, since: int, until: int) -> int:
        """Give the most board time that can pass between two moments."""
        if self.fast is None:
            return until - since
        return self.fast.at(until) - self.fast.at(since)

    def least(self, since: int, until: int) -> int:
        """Give the least board time that must pass between two moments."""
        if self.slow is None:
            return until - since
        return self.slow.at(until) - self.slow.at(since)

    def latest_origin(self, end: int, board_time: int) -> int:
        """Give the latest origin from which so much board time can have passed by the end."""
        if self.fast is None:
            return end - board_time
        return self.fast.when_latest(self.fast.at(end) - board_time)

    def earliest_origin(self, end: int, board_time: int) -> int:
        """Give the earliest origin from which no more than so much board time must have passed by the end."""
        if self.slow is None:
            return end - board_time
        return self.slow.when(self.slow.at(end) - board_time)


REAL_TIME = Clock()


@frozen
class Levels:
    """The levels of a recording over time, for conditions on nothing but inputs; exact about what is not certain."""

    stretches: Mapping[int, tuple[Stretch, ...]]
    _by_input: Mapping[str, int] = field(factory=dict)
    _by_comparison: Mapping[ex.Comparison, int] = field(factory=dict)

    @classmethod
    def of(
        cls, levels: Sequence[Level], initial: Sequence[bool | None], changes: Sequence[Change], delays: Sequence[int]
    ) -> Levels:
        """Lay out every level; a change is not certain from its earliest until it must have been acted on."""
        rows: dict[int, list[Stretch]] = {}
        for level, value in zip(levels, initial, strict=True):
            since, now, row = -LONG, value, list[Stretch]()
            for change in (c for c in changes if c.level == level.index):
                row.append((since, change.earliest, now))
                since = change.latest + delays[level.index]
                row.append((change.earliest, since, None))
                now = None if change.droppable else change.value
            row.append((since, LONG, now))
            rows[level.index] = row
        return cls(
            {index: tuple(row) for index, row in rows.items()},
            {level.input: level.index for level in levels if level.comparison is None},
            {level.comparison: level.index for level in levels if level.comparison is not None},
        )

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
        found = [value for since, until, value in self.stretches[index] if since <= time < until]
        return found[0] if len(set(found)) == 1 else None

    def borders(self) -> list[int]:
        """Give every time at which the certainty of some level changes."""
        return sorted({time for row in self.stretches.values() for since, until, _ in row for time in (since, until)})


def clocks_of(machine: Machine, levels: Levels) -> dict[tuple[int, ...], Clock]:
    """Give the clock of each set of speed-ups that some timing of the machine has."""
    clocks: dict[tuple[int, ...], Clock] = {(): REAL_TIME}
    for timing in machine.timings:
        if timing.speed_ups not in clocks:
            fast, slow = list[tuple[int, int]](), list[tuple[int, int]]()
            for time in levels.borders():
                rows = [machine.speed_ups[number] for number in timing.speed_ups]
                truths = [(levels.truth(row.while_, time), row.times_faster) for row in rows]
                fast.append((time, max([1, *(rate for truth, rate in truths if truth is not False)])))
                slow.append((time, max([1, *(rate for truth, rate in truths if truth is True)])))
            clocks[timing.speed_ups] = Clock(RateMap.of(fast), RateMap.of(slow))
    return clocks
