"""The benchmark of diagnosis runs, and its figures are what they say."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from boardgauge.boards import board_path
from boardgauge.faults import fault_of
from boardgauge.language import read_board
from diagnosis import Tally, diagnose_faults


def test_a_fault_that_shows_is_ranked() -> None:
    """A fan that never starts shows in a random life, and is among the first three explanations."""
    board = read_board(board_path("extract-fan"))
    tally = diagnose_faults(board, [fault_of(board, "fan.stuck-off")], 1)
    assert tally.hidden == 0
    assert tally.ranks[0] is not None
    assert tally.ranks[0] <= 3


def test_shares_are_of_the_faults_that_showed() -> None:
    """Of three that showed, one came first, one second and one was not found."""
    told = Tally("board", ranks=[1, 2, None], group_ranks=[1, 1, None], hidden=4, seconds=3.0).told()
    assert told.split() == [
        "board", "3", "4", "33.3", "%", "66.7", "%", "66.7", "%", "66.7", "%", "66.7", "%", "1.0", "s",
    ]  # fmt: skip
