"""What an accumulator has added up is bounded from outside, and is never less than nothing."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from boardgauge.language import read_board_text
from boardgauge.language.quantities import S
from boardgauge.machine.compile import compile_board
from boardgauge.machine.settle import Engine
from boardgauge.proving.clockwork import Clock, Clockwork, Node

SPEC = """
language = 1
[board]
id = "hours"
title = "Hours run, kept without the supply (invented)"
tolerance = "exactly"
[inputs.run]
kind = "call"
[inputs.reset]
kind = "button"
[rules.hours]
kind = "accumulator"
adds_while = "run"
target = "60 s"
resets = "reset begins"
kept_without_power = true
[outputs.service]
on = "hours reached"
"""
ENGINE = Engine(compile_board(read_board_text(SPEC, "hours.toml")))


@given(st.integers(-S, 60 * S), st.integers(0, S), st.integers(0, 10 * S))
def test_a_loss_of_power_keeps_what_was_added_up(low: int, wide: int, used: int) -> None:
    """A clock may stand before nought, for as long as its beginning is not at the terminal yet: that takes nothing."""
    clockwork = Clockwork(ENGINE)
    timing = ENGINE.machine.regions[clockwork.accumulators[0]].timings[0]
    node = Node(ENGINE.off({}), (Clock(timing, -1, 0, 60 * S, 1, (used, used)),), ((0, 0),))
    least, most = clockwork.without_power(node, ((low, low + wide),)).sums[0]
    assert 0 <= least <= max(0, used + low)
    assert max(0, used + low + wide) <= most or most == 60 * S
