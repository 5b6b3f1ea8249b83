"""Limits beside a measured time are printed as they are: rounded they would shut out a time that is right."""

from __future__ import annotations

from boardgauge.command.report import report
from boardgauge.judging.judge import judge
from boardgauge.language import read_board_text
from boardgauge.machine.compile import compile_board
from boardgauge.machine.run import Timeline
from boardgauge.machine.simulate import Simulator
from boardgauge.traces import condition, default_wiring
from boardgauge.traces.simulated import recording_of
from boardgauge.worksheets.find_the_fault import trace_of
from cut_recordings import cut

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


def test_of_what_ran_before_the_recording_began_nobody_measured_how_long() -> None:
    """The recording begins two hours into the rest: that it lasted no less than allowed is the spec's word."""
    board = read_board_text(SPEC, "slow.toml")
    run = Simulator(compile_board(board), "nominal").run(Timeline({"power": ((S, True),)}, 22_000 * S))
    recording = cut(recording_of(run, board), 7_200 * S)
    told = report(judge(board, condition(recording, default_wiring(board), board)), board)
    assert "rest  ended once, begun before the recording" in told.splitlines()[-1]


def test_a_timing_that_begins_unseen_is_not_told_as_measured() -> None:
    """One delay begins where another ends, and no terminal shows that: 30 s less 18 to 22 s, and 9 s at least."""
    text = (
        SPEC[: SPEC.index("[rules.rest]")].replace("± (4 % + 0.25 s)", "± 10 %")
        + """
[rules.first]
kind = "delay"
begins = "power_up"
lasts = "20 s"

[rules.second]
kind = "delay"
begins = "first ends"
lasts = "10 s"
if_begun_again = "runs on"

[outputs.motor]
on = "not first and not second"

[outputs.fan]
on = "first or second"
"""
    )
    board = read_board_text(text.replace('title = "A rest of six hours', 'title = "Two rests'), "slow.toml")
    run = Simulator(compile_board(board), "nominal").run(Timeline({"power": ((S, True),)}, 40 * S))
    told = report(judge(board, trace_of(board, run)), board)
    assert "conforms" in told
    assert "second  lasted, as far as that shows, 9.000 to 12.000 s (once), allowed 9 to 11 s" in told
