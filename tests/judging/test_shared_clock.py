"""One oscillator drives all timings of a board: what one of them shows of it, the others are held to."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from attrs import evolve
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from boardgauge.judging.judge import Judge
from boardgauge.judging.judgement import Judgement
from boardgauge.language import read_board_text
from boardgauge.language.model import Board
from boardgauge.machine.simulate import Simulator
from boardgauge.traces import Channel, Recording, condition, default_wiring
from boardgauge.traces.simulated import recording_of
from timelines import timelines

S = 1_000_000
SPEC = """
language = 1
[board]
id = "two-times"
title = "Two lamps in turn, invented"
tolerance = "± 4 %"
clock = "shared"
[inputs]
go = { kind = "call" }
fast = { kind = "link" }
[rules.first]
kind = "delay"
begins = "go begins"
lasts = "40 s"
if_begun_again = "runs on"
[rules.second]
kind = "delay"
begins = "first expires"
lasts = "60 s"
if_begun_again = "runs on"
[rules.worn]
kind = "accumulator"
adds_while = "go"
target = "50 s"
resets = "go ends"
[outputs.a]
on = "first"
[outputs.b]
on = "second"
[outputs.c]
on = "worn reached"
[speed_ups.link]
while = "fast fitted"
times_faster = 10
what = ["first", "worn"]
"""


def board_of(clock: str) -> Board:
    return read_board_text(SPEC.replace('"shared"', f'"{clock}"'), "two-times.toml")


JUDGES = {clock: Judge.of(board_of(clock)) for clock in ("shared", "independent")}


def recorded(first: float, second: float, worn: float) -> Recording:
    """Give a recording in which each timing lasted so many seconds."""
    edges = {
        "power": [(0, 0), (S, 1)],
        "go": [(0, 0), (2 * S, 1)],
        "fast": [(0, 0)],
        "a": [(0, 0), (2 * S, 1), (round((2 + first) * S), 0)],
        "b": [(0, 0), (round((2 + first) * S), 1), (round((2 + first + second) * S), 0)],
        "c": [(0, 0), (round((2 + worn) * S), 1)],
    }
    channels = {
        name: Channel(name, np.array([t for t, _ in row], np.int64), np.array([v for _, v in row], np.float64))
        for name, row in edges.items()
    }
    return Recording("made.vcd", "VCD", 0, 120 * S, channels)


def judged(clock: str, recording: Recording) -> Judgement:
    judge = JUDGES[clock]
    return judge.judge(condition(recording, default_wiring(judge.engine.machine.board), judge.engine.machine.board))


def test_two_errors_of_one_clock_deviate_and_those_of_two_clocks_conform() -> None:
    recording = recorded(first=40 * 1.02, second=60 * 0.98, worn=50 * 1.02)
    assert judged("independent", recording).verdict == "conforms"
    judgement = judged("shared", recording)
    assert judgement.verdict == "deviates"
    assert judgement.deviations[0].signal == "b"
    assert judgement.deviations[0].rule == "second"


@pytest.mark.parametrize("rate", [0.96, 0.99, 1.0, 1.013, 1.04])
def test_one_clock_that_is_off_everywhere_alike_conforms_and_is_told(rate: float) -> None:
    judgement = judged("shared", recorded(40 * rate, 60 * rate, 50 * rate))
    assert judgement.verdict == "conforms"
    assert judgement.clock_rate is not None
    low, high = judgement.clock_rate
    assert low - Fraction(1, 10**6) <= Fraction(rate) <= high + Fraction(1, 10**6)
    assert high - low < Fraction(1, 10**6)


def test_independent_clocks_have_no_rate_to_tell() -> None:
    assert judged("independent", recorded(40, 60, 50)).clock_rate is None


@settings(max_examples=settings().max_examples // 3, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(data=st.data(), mode=st.sampled_from(["earliest", "latest", "random"]), seed=st.integers(0, 2**32))
def test_a_simulated_board_with_one_clock_conforms_and_its_rate_is_found(
    data: st.DataObject, mode: str, seed: int
) -> None:
    engine = JUDGES["shared"].engine
    board = engine.machine.board
    run = Simulator(engine.machine, mode, seed, engine=engine).run(data.draw(timelines(board)))  # type: ignore[arg-type]
    judgement = judged("shared", recording_of(run, board))
    assert judgement.verdict == "conforms", judgement.deviations
    assert judgement.clock_rate is not None
    assert Fraction(96, 100) <= judgement.clock_rate[0] <= judgement.clock_rate[1] <= Fraction(104, 100)


def test_a_sped_up_timing_tells_the_rate_too() -> None:
    quick = recorded(4 * 1.02, 60 * 0.98, 5 * 1.02)
    fast = Channel("fast", np.array([0], np.int64), np.array([1.0]))
    judgement = judged("shared", evolve(quick, channels={**quick.channels, "fast": fast}))
    assert (judgement.verdict, judgement.deviations[0].rule) == ("deviates", "second")
