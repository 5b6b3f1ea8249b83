"""Plans carried out on simulated boards.

Law: a step that waits is over when the terminal shows what it waits for, to the microsecond, or at its limit; what
follows is timed from there; and a good board that is carried through a plan never deviates.
"""

from __future__ import annotations

from functools import cache
from itertools import pairwise

import pytest

from boardgauge.boards import board_path
from boardgauge.judging.first import FirstJudge
from boardgauge.language import Board, read_board, read_board_text
from boardgauge.machine.chance import TIMINGS, Timings
from boardgauge.machine.compile import compile_board
from boardgauge.machine.scanning import SCAN, ScanningEngine
from boardgauge.machine.settle import Engine
from boardgauge.plans import Measure, Observe, Set, Sitting, Wait, WaitFor, carry_out, trace_of

S = 1_000_000


@cache
def tarnbeck() -> tuple[Board, Engine]:
    """Give a board of the library and what steps it."""
    board = read_board(board_path("tarnbeck"))
    return board, Engine(compile_board(board))


def start(at_most: int = 40 * S) -> Sitting:
    """Give a sitting in which a call starts the compressor after the power-up delay of 30 s ± (4 % + 0.3 s)."""
    return Sitting(
        "1",
        (
            Wait(S),
            Set({"y": True}, True, "on"),
            WaitFor("cc", True, 28_500_000, 31_800_000, at_most, "on", "cc"),
            Measure("power_up_delay", "on", "cc", 28_500_000, 31_800_000),
            Wait(5 * S),
            Observe(4 * S, {"cc": True}, {"led": "1 s lit, 1 s dark"}),
            Set({"y": False}, id="off"),
            WaitFor("cc", False, 0, 300_000, S, "off"),
        ),
    )


@pytest.mark.parametrize("timings", TIMINGS)
def test_a_wait_is_over_when_the_terminal_shows_it(timings: Timings) -> None:
    """The step ends at the very change at the terminal, and the next steps count from there."""
    _, engine = tarnbeck()
    carried = carry_out(start(), engine, timings, 3)
    shown = carried.run.outputs["cc"].changes[0][0]
    assert carried.times[2].came
    assert carried.times[2].ended == shown == S + (carried.measured(carried.sitting.steps[3]) or 0)
    assert carried.times[4].ended == shown + 5 * S


def test_a_wait_goes_on_at_its_limit() -> None:
    """Where it does not come, the plan goes on all the same, and what is counted from it is not measured."""
    _, engine = tarnbeck()
    carried = carry_out(start(10 * S), engine)
    assert not carried.times[2].came
    assert carried.times[2].ended == 11 * S
    step = carried.sitting.steps[3]
    assert isinstance(step, Measure)
    assert carried.measured(step) is None


@pytest.mark.parametrize("timings", TIMINGS)
def test_a_good_board_conforms(timings: Timings) -> None:
    """What a good board does in a plan is allowed, all terminals wired or only some."""
    board, engine = tarnbeck()
    carried = carry_out(start(), engine, timings, 5, reaction=200_000)
    judge = FirstJudge.of(board)
    assert judge.judge(trace_of(carried, board)).verdict == "conforms"
    assert judge.judge(trace_of(carried, board, ("power", *board.inputs, "cc"))).verdict == "conforms"


SEESAW = """
language = 1
[board]
id = "seesaw"
title = "A sequence whose steps hand over to one another at once (invented)"
tolerance = "exactly"
[inputs.a]
kind = "call"
[rules.s]
kind = "sequence"
begins = "a begins"
ends = "not a"
steps = [
  { name = "one", until = "a" },
  { name = "two", until = "a", then = "one" },
]
[outputs.q]
on = "two"
"""


@pytest.mark.parametrize(("held", "settled"), [(9 * S, True), (11 * S, False)])
def test_a_board_that_never_rests_is_not_watched_for_ever(held: int, settled: bool) -> None:
    """After the first change a thousand scans of it are enough; up to there the recording has all of them."""
    machine = compile_board(read_board_text(SEESAW, "seesaw.toml"))
    steps = (Wait(S), Set({}, True), Wait(S), Set({"a": True}), Wait(held), Set({"a": False}))
    carried = carry_out(Sitting("1", steps), ScanningEngine(machine))
    assert carried.settled is settled
    changes = carried.run.outputs["q"].changes
    assert {later - sooner for (sooner, _), (later, _) in pairwise(changes)} == {SCAN}
    assert len(changes) == 1 + (held // SCAN - 1 if settled else 1_000)
