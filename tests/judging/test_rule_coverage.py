"""What counts as a rule that was exercised.

Law: an accumulator was exercised if it was full, for however short a moment; while it only adds up, nothing is proved.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from boardgauge.boards import board_path
from boardgauge.judging.judge import Judge
from boardgauge.language import read_board
from boardgauge.language.quantities import MIN, S
from boardgauge.machine.compile import compile_board
from boardgauge.machine.run import Timeline
from boardgauge.machine.simulate import Simulator
from boardgauge.traces import condition
from boardgauge.traces.simulated import recording_of

BOARD = read_board(board_path("heat-pump-defrost"))


@pytest.mark.parametrize(("minutes", "exercised"), [(20, False), (100, True)])
def test_an_accumulator_that_is_reset_as_it_is_full_was_exercised(minutes: int, exercised: bool) -> None:
    """The defrost that it sets going resets it in the same instant, so that it never stands full."""
    life = {"power": ((S, True),), "running": ((2 * S, True),), "coil": ((0, Fraction(-10)),)}
    run = Simulator(compile_board(BOARD)).run(Timeline(life, minutes * MIN))
    judgement = Judge.of(BOARD).judge(condition(recording_of(run, BOARD), None, BOARD))
    assert judgement.verdict == "conforms"
    (row,) = (row for row in judgement.rules if row.rule == "frost_run")
    assert row.exercised is exercised
    assert bool(row.timings[0].ended) is exercised
