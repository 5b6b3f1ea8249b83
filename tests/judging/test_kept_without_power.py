"""What a board keeps without power is not known as a recording begins, and its time stands still while it is kept."""

from __future__ import annotations

import numpy as np
import pytest

from boardgauge.judging.judge import Judge
from boardgauge.judging.judgement import Judgement
from boardgauge.judging.run import Start
from boardgauge.language import read_board_text
from boardgauge.traces import Channel, Recording, condition, default_wiring

S = 1_000_000
SPEC = """
language = 1
[board]
id = "turns"
title = "Two outputs in turn and a rest, invented"
tolerance = "exactly"
responds_within = "0.1 s"
[inputs]
call = { kind = "call" }
[rules.second]
kind = "toggle"
flips = "call ends"
kept_without_power = true
[rules.rest]
kind = "lockout"
trips = "call ends"
clears = "call begins while second"
lasts = "10 s"
kept_without_power = true
[outputs.a]
on = "call and not second"
[outputs.b]
on = "call and second"
[outputs.resting]
on = "rest"
"""


def judged(start: Start | None = None, **edges: list[tuple[float, int]]) -> Judgement:
    board = read_board_text(SPEC, "turns.toml")
    rows = {"power": [(0, 0), (1, 1)], "call": [(0, 0)], "a": [(0, 0)], "b": [(0, 0)], "resting": [(0, 0)], **edges}
    channels = {
        name: Channel(name, np.array([round(t * S) for t, _ in row], np.int64), np.array([v for _, v in row], float))
        for name, row in rows.items()
    }
    return Judge.of(board).judge(
        condition(Recording("made.vcd", "VCD", 0, 60 * S, channels), default_wiring(board), board), start
    )


CALL = [(0, 0), (5, 1)]


@pytest.mark.parametrize("output", ["a", "b"])
def test_either_output_may_have_its_turn_as_a_recording_begins(output: str) -> None:
    assert judged(call=CALL, **{output: CALL}).verdict == "conforms"


def test_a_board_said_to_be_fresh_begins_with_the_first() -> None:
    assert judged("power-up", call=CALL, a=CALL).verdict == "conforms"
    assert judged("power-up", call=CALL, b=CALL).verdict == "deviates"


@pytest.mark.parametrize(("end", "verdict"), [(38, "conforms"), (45, "deviates")])
def test_a_time_that_is_kept_stands_still_without_power(end: float, verdict: str) -> None:
    """10 s from 8 on, the supply gone from 10 to 30: over at 38. (The judge forgets how much had passed: by 40.)"""
    judgement = judged(
        power=[(0, 0), (1, 1), (10, 0), (30, 1)],
        call=[(0, 0), (5, 1), (8, 0)],
        a=[(0, 0), (5, 1), (8, 0)],
        resting=[(0, 0), (8, 1), (10, 0), (30, 1), (end, 0)],
    )
    assert judgement.verdict == verdict
