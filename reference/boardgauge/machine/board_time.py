"""Board time: what real time amounts to while a speed-up shortens some timings.

Law of this module: exact. Real time is whole microseconds, a rate is a whole number, and so board time of a real moment
is a whole number too; only a part of a percentage makes fractions, and coming back to real time rounds up to a
whole microsecond, so that no timing ends before all of its time is used up.
"""

from __future__ import annotations

from bisect import bisect_right
from fractions import Fraction


class BoardTime:
    """The map from real time to board time for timings under the same speed-ups.

    It starts at rate 1 with board time equal to real time and is continued as rates change; what lies before the last
    change is settled.
    """

    def __init__(self) -> None:
        self._real: list[int] = [0]
        self._board: list[int] = [0]
        self._rates: list[int] = [1]

    @property
    def rate(self) -> int:
        """The rate from the last change on."""
        return self._rates[-1]

    def change(self, time: int, rate: int) -> None:
        """Run at ``rate`` from ``time`` on. A time before the last change counts as the time of that change."""
        if rate < 1:
            raise ValueError(f"board time cannot run at a rate of {rate}; 1 is the least")
        if rate == self._rates[-1]:
            return
        time = max(time, self._real[-1]) if len(self._real) > 1 else time
        self._board.append(self.at(time))
        self._real.append(time)
        self._rates.append(rate)

    def at(self, time: int) -> int:
        """Give the board time of a real time (microseconds)."""
        index = max(0, bisect_right(self._real, time) - 1)
        return self._board[index] + (time - self._real[index]) * self._rates[index]

    def when(self, board_time: Fraction | int) -> int:
        """Give the first whole microsecond of real time by which a board time is reached."""
        index = max(0, bisect_right(self._board, board_time) - 1)
        left = Fraction(board_time - self._board[index]) / self._rates[index]
        return self._real[index] - (-left.numerator // left.denominator)
