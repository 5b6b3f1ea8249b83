"""How long a running timing still has, under the rates of the speed-ups.

Law of this module: a timing uses up its nominal part in board time, then its seconds at rate 1; stretches in which it
stands still (an accumulator, a loss of power) count for nothing. What has run counts, whatever the rate was.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from attrs import define, field

from boardgauge.language.quantities import Duration, Tolerance
from boardgauge.machine.board_time import BoardTime
from boardgauge.machine.chance import Draw
from boardgauge.machine.table import Machine, Timing


@define(eq=False)
class Going:
    """One timing that was set going; ``since`` is where its present stretch counts from, None while it stands still."""

    timing: int
    duration: Duration
    draw: Draw
    begun: int
    since: int | None
    ran: list[tuple[int, int]] = field(factory=list)
    not_before: int = 0
    end: int = 0

    def pause(self, time: int) -> None:
        """Stand still from a time on."""
        if self.since is not None:
            if time > self.since:
                self.ran.append((self.since, time))
            self.since = None

    def work_out(self, board_time: BoardTime) -> None:
        """Work out ``end`` again."""
        self.end = max(self._over(board_time, self.draw), self.not_before)

    def latest(self, board_time: BoardTime) -> int:
        """Give the latest end the spec allows it."""
        tolerance = self.duration.tolerance or Tolerance()
        return self._over(board_time, Draw(self.duration.percent_longest, tolerance.more))

    def _over(self, board_time: BoardTime, draw: Draw) -> int:
        assert self.since is not None, "a timing that stands still has no end"
        left, real = draw.board, draw.real
        for start, stop in self.ran:
            if left > 0:
                used = board_time.at(stop) - board_time.at(start)
                if used < left:
                    left -= used
                    continue
                real = max(0, real - (stop - board_time.when(board_time.at(start) + left)))
                left = left * 0
            else:
                real = max(0, real - (stop - start))
        if left <= 0:
            return self.since + max(0, real)
        return max(self.since, board_time.when(board_time.at(self.since) + left) + real)


class Rates:
    """The board times of one run: one for each set of speed-ups that some timing is under."""

    def __init__(self, machine: Machine) -> None:
        self._machine = machine
        keys = {timing.speed_ups for timing in machine.timings}
        self._times: dict[tuple[int, ...], BoardTime] = {key: BoardTime() for key in sorted(keys)}

    def of(self, timing: Timing) -> BoardTime:
        """Give the board time of a timing."""
        return self._times[timing.speed_ups]

    def update(self, time: int, holds: Callable[[int], bool]) -> bool:
        """Take over what holds from a time on; tells whether some rate changed. Of several the fastest counts."""
        changed = False
        on = {row.index for row in self._machine.speed_ups if holds(row.index)}
        for key, board_time in self._times.items():
            rate = max((self._machine.speed_ups[i].times_faster for i in key if i in on), default=1)
            if rate != board_time.rate:
                board_time.change(time, rate)
                changed = True
        return changed


def first_end(goings: Iterable[Going]) -> int | None:
    """Give the first end among timings that run."""
    return min((going.end for going in goings if going.since is not None), default=None)
