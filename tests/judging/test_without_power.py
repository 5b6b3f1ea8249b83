"""Outputs that are on while there is no power: told once, and the judge goes on.

Law: after a deviation without power what is on is excused until it goes off; nothing is demanded of it over and over.
"""

from __future__ import annotations

import numpy as np
import pytest

from boardgauge.judging.judge import Judge
from boardgauge.language import read_board_text
from boardgauge.traces import condition, default_wiring
from boardgauge.traces.recording import Recording, channel_of

S = 1_000_000
SPEC = """
language = 1
[board]
id = "small"
title = "a small board, invented"
responds_within = "{responds}"
[inputs.a]
kind = "call"
[outputs.q]
on = "a"
"""


def found(responds: str, end: int, **rows: list[tuple[int, bool]]) -> list[tuple[int, str]]:
    """Judge a recording and give the time and kind of each deviation."""
    board = read_board_text(SPEC.format(responds=responds), "small.toml")
    channels = {
        name: channel_of(name, np.array([t for t, _ in row]), np.array([float(v) for _, v in row]))
        for name, row in rows.items()
    }
    recording = Recording("drawn", "long CSV", 0, end, channels, None)
    judgement = Judge.of(board).judge(condition(recording, default_wiring(board), board))
    return [(deviation.time, deviation.kind) for deviation in judgement.deviations]


@pytest.mark.parametrize("responds", ["0 s", "0.2 s"])
def test_an_output_that_goes_on_without_power_is_told_once(responds: str) -> None:
    """It was judged for ever where answers are immediate; and once after it each answer time where they are not."""
    power = [(0, False), (S, True), (2 * S, False), (9 * S, True)]
    q = [(0, False), (4 * S, True), (8 * S, False)]
    assert found(responds, 12 * S, power=power, a=[(0, False)], q=q) == [(4 * S, "unasked")]


def test_what_follows_is_judged_again() -> None:
    """With the supply back and the output off, the next wrong change is told as well."""
    power = [(0, False), (S, True), (2 * S, False), (9 * S, True)]
    q = [(0, False), (4 * S, True), (8 * S, False), (11 * S, True)]
    times = {time for time, _ in found("0 s", 12 * S, power=power, a=[(0, False)], q=q)}
    assert times == {4 * S, 11 * S}
