"""Law: of a board that deviated it is told from when on it was not judged; without supply, it is known again."""

from __future__ import annotations

import numpy as np
import pytest

from boardgauge.command.report import report
from boardgauge.judging import unknown
from boardgauge.judging.judge import Judge
from boardgauge.judging.judgement import Judgement
from boardgauge.language import read_board_text
from boardgauge.traces import Channel, Recording, condition, default_wiring

S = 1_000_000
SPEC = """
language = 1
[board]
id = "follower"
title = "A lamp that follows a call (invented)"
tolerance = "exactly"
responds_within = "0.1 s"
[inputs.a]
kind = "call"
[rules.m]
kind = "mode"
begins = "a begins"
ends = "a ends"
[outputs.q]
on = "m"
"""
SLIPS = {"a": [(0, 0), (5, 1), (8, 0), (12, 1), (14, 0), (25, 1), (28, 0)], "q": [(0, 0), (6, 1), (8, 0), (26, 1)]}
"""Comes on a second late at 5 s, not at all at 12 s, late again at 25 s, and does not go off at 28 s."""


def judged(power: list[tuple[int, int]]) -> Judgement:
    rows = {"power": power, "a": SLIPS["a"], "q": [*SLIPS["q"], (30, 0)]}
    board = read_board_text(SPEC, "follower.toml")
    channels = {
        n: Channel(n, np.array([t for t, _ in r]) * S, np.array([v for _, v in r], float)) for n, r in rows.items()
    }
    recording = Recording("made.vcd", "VCD", 0, 35 * S, channels)
    return Judge.of(board).judge(condition(recording, default_wiring(board), board))


CYCLED = [(0, 0), (1, 1), (18, 0), (20, 1)]


def test_whoever_can_be_followed_is_judged_on() -> None:
    judgement = judged(CYCLED)
    assert [d.time for d in judgement.deviations] == [5_100_000, 12_100_000, 25_100_000, 28_100_000]
    assert judgement.doubts == ()


def test_too_much_to_follow_is_told_and_the_supply_ends_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """What was broken meanwhile is not told, but that nobody looked is; so for each deviation."""
    monkeypatch.setattr(unknown, "MOST_STATES", 1)
    judgement = judged(CYCLED)
    assert judgement.verdict == "deviates"
    assert [d.time for d in judgement.deviations] == [5_100_000, 25_100_000]
    first, second = judgement.doubts
    assert "to 18.000 s" in first.reason
    assert " s on: " in second.reason
    assert first.time < 7 * S < 25 * S < second.time
    text = report(judgement, read_board_text(SPEC, "follower.toml"))
    assert f"  {first.reason}" in text
    assert "in doubt" not in text


def test_with_the_supply_on_it_is_not_judged_to_the_end(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(unknown, "MOST_STATES", 1)
    judgement = judged([(0, 0), (1, 1)])
    assert [d.time for d in judgement.deviations] == [5_100_000]
    (doubt,) = judgement.doubts
    assert " s on: its rules may be in 2 combinations of states, more than 1" in doubt.reason
