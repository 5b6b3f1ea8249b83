"""Law: what a timing has run and what is left of it make up its draw, however often it stood still.

A draw is N·k, used up at the rate of the moment, and the seconds beside it, which pass at rate 1 (``timing.draws``).
Here the rate is 1 throughout, so the two simply add, seconds that are less than nothing too.
"""

from __future__ import annotations

from fractions import Fraction

from hypothesis import example, given
from hypothesis import strategies as st

from boardgauge.language.quantities import Duration, Tolerance
from boardgauge.machine.board_time import BoardTime
from boardgauge.machine.chance import Draw
from boardgauge.machine.stopwatch import Going

STRETCHES = st.lists(st.tuples(st.integers(0, 40), st.integers(1, 40)), max_size=6)


@given(st.integers(0, 60), st.integers(-30, 30), STRETCHES)
@example(10, 5, [(1, 12), (3, 1)])
def test_what_ran_and_what_is_left_is_the_whole(board: int, beside: int, stretches: list[tuple[int, int]]) -> None:
    """The first numbers are how long it stood still, the second how long it then ran."""
    duration = Duration(board, Tolerance(Fraction(1), Fraction(1), 100, 100))
    going = Going(0, duration, Draw(Fraction(board), beside), 0, 0)
    now = ran = 0
    for stood, runs in stretches:
        now += stood
        going.since = now
        now += runs
        going.pause(now)
        ran += runs
    going.since = now + 7
    going.work_out(BoardTime())
    assert going.end == now + 7 + max(0, board + beside - ran)
