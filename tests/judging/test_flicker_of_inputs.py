"""A flicker that is too short to count: what a board that looks at its inputs as the supply comes on makes of it, and
what one with a comparison that has two limits does."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from boardgauge.judging.judge import Judge
from boardgauge.language import read_board_text
from boardgauge.machine.chance import Timings
from boardgauge.machine.run import Timeline, Value
from boardgauge.machine.simulate import Simulator
from boardgauge.traces import Channel, Recording, condition, default_wiring
from boardgauge.traces.simulated import recording_of

S, MS = 1_000_000, 1_000
SPEC = """
language = 1
[board]
id = "dryer"
title = "A dryer, invented"
tolerance = "± 5 %"
responds_within = "0.2 s"
filter = "100 ms to 1 s"
[inputs.limit]
kind = "switch"
contact = "normally closed"
[inputs.damp]
kind = "sensor"
unit = "%"
accuracy = "± 3 %"
[rules.tripped]
kind = "lockout"
trips = "limit open"
clears = "only by power loss"
[rules.drying]
kind = "mode"
begins = "power_up"
ends = "damp < 30 % until > 40 %"
[outputs.alarm]
on = "tripped"
[outputs.heat]
on = "drying"
"""


@cache
def judge() -> Judge:
    return Judge.of(read_board_text(SPEC, "dryer.toml"))


def verdict(recording: Recording) -> str:
    board = judge().engine.machine.board
    return judge().judge(condition(recording, default_wiring(board), board)).verdict


@pytest.mark.parametrize("timings", ["nominal", "latest", "random"])
@pytest.mark.parametrize("sees", [True, False])
def test_a_board_in_order_may_act_on_a_flicker_in_which_the_supply_comes_on(timings: Timings, sees: bool) -> None:
    """It looks at its inputs just then; a flicker a moment earlier or later means nothing."""
    board = judge().engine.machine.board
    opens = 990 * MS if sees else 900 * MS
    inputs: dict[str, tuple[tuple[int, Value], ...]] = {
        "power": ((S, True),),
        "limit": ((opens, False), (opens + 20 * MS, True)),
        "damp": ((0, 60),),
    }
    run = Simulator(judge().engine.machine, timings, 1).run(Timeline(inputs, 5 * S))
    assert bool(run.outputs["alarm"].changes) == sees
    assert verdict(recording_of(run, board)) == "conforms"


def test_a_flicker_at_another_time_makes_no_excuse() -> None:
    assert verdict(_recorded(alarm=[(3 * S, 1)], limit=[(3 * S, 0), (3 * S + 20 * MS, 1)])) == "deviates"


def test_a_flicker_through_one_of_two_limits_and_back_makes_no_excuse() -> None:
    """For 70 ms the sensor was beyond where drying ends; what lasts no longer the filter never lets through."""
    assert verdict(_recorded(heat=[(3 * S, 0)], damp=[(3 * S, 20), (3 * S + 70 * MS, 60)])) == "deviates"
    # As long as the filter's first figure, and a board may have seen it.
    assert verdict(_recorded(heat=[(3 * S, 0)], damp=[(3 * S, 20), (3 * S + 100 * MS, 60)])) == "conforms"


def _recorded(**changes: list[tuple[int, float]]) -> Recording:
    """Give a recording of a dryer that begins to dry as the supply comes on, and what changes then."""
    rows: dict[str, list[tuple[int, float]]] = {
        "power": [(0, 0), (S, 1)],
        "limit": [(0, 1)],
        "damp": [(0, 60)],
        "alarm": [(0, 0)],
        "heat": [(0, 0), (S + 50 * MS, 1)],
    }
    return Recording(
        "x.vcd", "VCD", 0, 9 * S, {name: _channel(name, [*row, *changes.get(name, [])]) for name, row in rows.items()}
    )


def _channel(name: str, rows: list[tuple[int, float]]) -> Channel:
    return Channel(name, np.array([time for time, _ in rows], np.int64), np.array([v for _, v in rows], float))
