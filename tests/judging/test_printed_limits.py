"""Limits beside a measured time are printed as they are: rounded they would shut out a time that is right."""

from __future__ import annotations

from boardgauge.command.report import report
from boardgauge.judging.judge import judge
from boardgauge.language import read_board_text
from boardgauge.machine.compile import compile_board
from boardgauge.machine.run import Timeline
from boardgauge.machine.simulate import Simulator
from boardgauge.worksheets.find_the_fault import trace_of

S = 1_000_000
SPEC = """
language = 1
[board]
id = "slow"
title = "A rest of six hours (invented)"
tolerance = "± (4 % + 0.25 s)"
responds_within = "0.2 s"

[rules.rest]
kind = "delay"
begins = "power_up"
lasts = "6 h"

[outputs.motor]
on = "not rest"
"""


def test_a_limit_of_hours_keeps_its_tenths() -> None:
    """6 h ± (4 % + 0.25 s) is 20735.75 s to 22464.25 s; six figures would make 22464.2 s of the greater."""
    board = read_board_text(SPEC, "slow.toml")
    run = Simulator(compile_board(board), "latest").run(Timeline({"power": ((S, True),)}, 23_000 * S))
    judgement = judge(board, trace_of(board, run))
    assert judgement.verdict == "conforms"
    assert "allowed 20735.75 to 22464.25 s" in report(judgement, board)
