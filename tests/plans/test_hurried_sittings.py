"""A sitting that leaves a board at some lengths no time for its steps is left away, and planning goes on."""

from __future__ import annotations

from pathlib import Path

import pytest

from boardgauge.language import read_board
from boardgauge.machine.compile import compile_board
from boardgauge.machine.settle import Engine
from boardgauge.machine.terminals import TooShort
from boardgauge.plans.emitting import with_windows
from boardgauge.plans.goals import Sight
from boardgauge.plans.growing import Grown
from boardgauge.plans.making import made_of
from boardgauge.plans.plan import Set, Sitting, Wait, WaitFor
from boardgauge.plans.planning import Planner, Seated
from boardgauge.plans.wish import wish_for

FAN = read_board(Path(__file__).parents[2] / "docs" / "examples" / "fan.toml")
HURRIED = Sitting(
    "1",
    (
        Wait(1_000_000),
        Set({"call": True}, power=True, id="on"),
        Wait(22_000_000),
        Set({"winding": False}),
        Wait(5_000_000),
        Set({"winding": True}),
        WaitFor("motor", True, 0, 60_000_000, 60_000_000),
        Set({"winding": False}),
        Wait(5_000_000),
        Set(power=False),
    ),
)
"""The winding opens again as the motor comes on. An early board starts it as soon as the winding is seen to be closed,
which is within the winding's filter."""


class Hurried(Planner):
    """A planner whose first sitting cannot be done on every board."""

    asked = 0

    def as_steps(self, id_: str, grown: Grown, sights: set[Sight]) -> Seated:
        self.asked += 1
        if self.asked == 1:
            with_windows(HURRIED, self.wish.board, self.killing.engine, self.wish.wired)
        return super().as_steps(id_, grown, sights)


def test_a_sitting_that_leaves_no_time_is_left_away() -> None:
    """Before, planning for the fan of the documentation ended in a fault of ours."""
    with pytest.raises(TooShort, match="sooner than its filter lets through"):
        with_windows(HURRIED, FAN, Engine(compile_board(FAN)), ("power", "call", "winding", "motor", "status"))
    planner = Hurried(wish_for(FAN, ["output stuck on"]), lambda: False, lambda words: None, 1)
    with planner.work:
        planner.grow()
        planner.finish()
    made = made_of(planner)
    assert planner.asked > 1
    assert (made.found, made.faults) == (1, 1)
