"""The map between real time and board time.

Law: exact, rising, and coming back never gives a moment at which the board time is not yet reached.
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boardgauge.machine.board_time import BoardTime

_CHANGES = st.lists(st.tuples(st.integers(0, 1000), st.integers(1, 60)), max_size=6)


def _made(changes: list[tuple[int, int]]) -> BoardTime:
    made = BoardTime()
    for time, rate in sorted(changes):
        made.change(time, rate)
    return made


def test_a_second_at_sixty_counts_as_a_minute() -> None:
    """What has run before and after counts at rate 1."""
    made = _made([(60, 60), (61, 1)])
    assert [made.at(time) for time in (0, 60, 61, 100)] == [0, 60, 120, 159]
    assert made.when(159) == 100
    assert made.when(Fraction(121, 2)) == 61


@given(_CHANGES, st.integers(0, 3000), st.integers(0, 3000))
def test_board_time_never_stands_still(changes: list[tuple[int, int]], first: int, second: int) -> None:
    """Two real times apart are at least as far apart in board time."""
    made = _made(changes)
    first, second = sorted((first, second))
    assert made.at(second) - made.at(first) >= second - first


@given(_CHANGES, st.fractions(0, 20_000))
def test_coming_back_gives_the_first_whole_microsecond(changes: list[tuple[int, int]], board_time: Fraction) -> None:
    """At it the board time is reached, a microsecond before it is not."""
    made = _made(changes)
    time = made.when(board_time)
    assert made.at(time) >= board_time
    assert time == 0 or made.at(time - 1) < board_time


def test_a_rate_below_one_is_refused() -> None:
    """A speed-up never slows a board down."""
    with pytest.raises(ValueError, match="at a rate of 0"):
        BoardTime().change(5, 0)
