"""Laws: what a board had yet to act on as its recording began is not held against it, whatever comes meanwhile."""

from __future__ import annotations

from functools import cache

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from boardgauge.judging.judge import Judge
from boardgauge.judging.judgement import Judgement
from boardgauge.language import read_board_text
from boardgauge.language.model import Board
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.run import Timeline
from boardgauge.machine.simulate import Simulator
from boardgauge.traces import Recording, condition, default_wiring
from boardgauge.traces.simulated import recording_of
from cut_recordings import cut

S = 1_000_000
EXAMPLES = settings().max_examples
QUICK = settings(max_examples=EXAMPLES, deadline=None, suppress_health_check=list(HealthCheck))

SLOW = """
language = 1
[board]
id = "slow"
title = "A board that takes its time, invented"
tolerance = "± 5 %"
responds_within = "2 s"
{more}
[inputs]
a = {{ kind = "call" }}
b = {{ kind = "call" }}
c = {{ kind = "call", responds_within = "0.5 s" }}
[rules.m]
kind = "mode"
begins = "b begins while not a"
ends = "not b"
[rules.n]
kind = "mode"
begins = "a begins while c"
ends = "b ends"
[rules.rest]
kind = "delay"
begins = "c begins"
lasts = "1 s"
if_begun_again = "starts over"
[rules.late]
kind = "lockout"
trips = "rest expires while not a"
clears = "a begins"
[outputs.q]
on = "m"
lag = "2 s"
[outputs.r]
on = "n"
lag = "0.1 s"
[outputs.s]
starts = "late and c"
stops = "not c"
lag = "0.1 s"
"""
MORE = {"plain": "", "filtered": 'filter = "20 ms to 200 ms"', "grouped": 'same_moment = "50 ms"'}
KINDS = pytest.mark.parametrize("kind", sorted(MORE))


@cache
def board_of(kind: str) -> Board:
    return read_board_text(SLOW.format(more=MORE[kind]), f"{kind}.toml")


@cache
def judge_of(kind: str) -> Judge:
    return Judge.of(board_of(kind))


def simulated(kind: str, timeline: Timeline, mode: str, seed: int) -> Recording:
    engine = judge_of(kind).engine
    try:
        run = Simulator(engine.machine, mode, seed, engine=engine).run(timeline)  # type: ignore[arg-type]
    except CannotSettle:
        assume(False)
    return recording_of(run, board_of(kind))


def judged(kind: str, recording: Recording) -> Judgement:
    return judge_of(kind).judge(condition(recording, default_wiring(board_of(kind)), board_of(kind)))


@st.composite
def around(draw: st.DrawFn) -> tuple[Timeline, int]:
    """Draw a timeline with changes near one moment, and that moment; long before and after it, little happens."""
    at = 10 * S
    rows: dict[str, list[tuple[int, bool]]] = {name: [(0, draw(st.booleans()))] for name in "abc"}
    near = st.one_of(st.integers(-2 * S, 2 * S), st.integers(-300_000, 300_000), st.integers(-60_000, 60_000))
    times = {at + by for by in draw(st.lists(near, min_size=2, max_size=6))}
    for time in sorted({*times, draw(st.integers(2 * S, 6 * S)), at + draw(st.integers(5 * S, 12 * S))}):
        name = draw(st.sampled_from("abc"))
        rows[name].append((time, not rows[name][-1][1]))
    inputs = {name: tuple(row) for name, row in rows.items()}
    return Timeline({"power": ((0, False), (S, True)), **inputs}, at + 20 * S), at


@KINDS
@QUICK
@given(drawn=around(), seed=st.integers(0, 2**32), mode=st.sampled_from(["random", "random", "latest", "earliest"]))
def test_a_good_board_cut_within_its_response_is_never_accused(
    kind: str, drawn: tuple[Timeline, int], seed: int, mode: str
) -> None:
    timeline, at = drawn
    judgement = judged(kind, cut(simulated(kind, timeline, mode, seed), at))
    assert judgement.verdict != "deviates", judgement.deviations
