"""Laws: what a simulated board does within its ranges never deviates, however its recording is cut, shifted or sampled;
and what it does outside them does.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest
from attrs import evolve
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from boardgauge.judging.judge import Judge
from boardgauge.judging.judgement import Judgement
from boardgauge.language import read_board, read_board_text
from boardgauge.language.model import Board
from boardgauge.machine.run import Run, Timeline
from boardgauge.machine.simulate import Simulator
from boardgauge.traces import Channel, Recording, condition, default_wiring
from boardgauge.traces.simulated import recording_of
from cut_recordings import cut
from motor_boards import SMALL
from timelines import timelines

S = 1_000_000
BOARDS = Path(__file__).parents[2] / "spec" / "boardgauge" / "boards"
EXAMPLES = settings().max_examples
QUICK = settings(
    max_examples=EXAMPLES // 4,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
MODES = st.sampled_from(["nominal", "earliest", "latest", "random", "random"])


@cache
def board_of(name: str) -> Board:
    return read_board_text(SMALL, "small.toml") if name == "small" else read_board(BOARDS / f"{name}.toml")


@cache
def judge_of(name: str) -> Judge:
    return Judge.of(board_of(name))


def simulated(name: str, timeline: Timeline, mode: str, seed: int) -> Run:
    engine = judge_of(name).engine
    return Simulator(engine.machine, mode, seed, engine=engine).run(timeline)  # type: ignore[arg-type]


def verdict(name: str, recording: Recording) -> Judgement:
    board = board_of(name)
    return judge_of(name).judge(condition(recording, default_wiring(board), board))


def sampled(recording: Recording, gap: int, phase: int) -> Recording:
    """Give the recording as a logger would have taken it, a row every ``gap``."""
    rows = np.arange(recording.start + phase, recording.end, gap, dtype=np.int64)
    channels = {}
    for name, channel in recording.channels.items():
        values = channel.values[np.searchsorted(channel.times, rows, side="right") - 1]
        news = np.ones(len(rows), dtype=bool)
        news[1:] = values[1:] != values[:-1]
        channels[name] = Channel(name, rows[news], values[news])
    return evolve(recording, start=int(rows[0]), end=int(rows[-1]), channels=channels, samples=rows)


def shifted(recording: Recording, by: int) -> Recording:
    """Give the recording with another zero of time."""
    channels = {n: Channel(n, c.times + by, c.values) for n, c in recording.channels.items()}
    return evolve(recording, start=recording.start + by, end=recording.end + by, channels=channels)


@pytest.mark.parametrize("name", ["small", "tarnbeck"])
@QUICK
@given(data=st.data(), mode=MODES, seed=st.integers(0, 2**32))
def test_what_a_board_does_within_its_ranges_conforms(name: str, data: st.DataObject, mode: str, seed: int) -> None:
    run = simulated(name, data.draw(timelines(board_of(name))), mode, seed)
    judgement = verdict(name, recording_of(run, board_of(name)))
    assert judgement.verdict == "conforms", judgement.deviations


@pytest.mark.parametrize("name", ["small", "tarnbeck"])
@settings(QUICK, max_examples=EXAMPLES // 10)
@given(data=st.data(), mode=MODES, seed=st.integers(0, 2**32), part=st.floats(0, 0.95))
def test_it_never_deviates_judged_from_a_later_moment_on(
    name: str, data: st.DataObject, mode: str, seed: int, part: float
) -> None:
    run = simulated(name, data.draw(timelines(board_of(name), most=15)), mode, seed)
    judgement = verdict(name, cut(recording_of(run, board_of(name)), int(run.end * part)))
    assert judgement.verdict != "deviates", judgement.deviations


@settings(QUICK, max_examples=EXAMPLES // 7)
@given(
    data=st.data(),
    mode=MODES,
    seed=st.integers(0, 2**32),
    gap=st.sampled_from([1_000, 7_000, 19_000]),
    phase=st.integers(0, 999),
)
def test_it_never_deviates_sampled(data: st.DataObject, mode: str, seed: int, gap: int, phase: int) -> None:
    run = simulated("small", data.draw(timelines(board_of("small"))), mode, seed)
    judgement = verdict("small", sampled(recording_of(run, board_of("small")), gap, phase))
    assert judgement.verdict != "deviates", judgement.deviations


@QUICK
@given(data=st.data(), mode=MODES, seed=st.integers(0, 2**32), by=st.integers(-(10**9), 10**12))
def test_shifting_a_trace_in_time_shifts_the_judgement(data: st.DataObject, mode: str, seed: int, by: int) -> None:
    run = simulated("small", data.draw(timelines(board_of("small"), most=12)), mode, seed)
    recording = _disturbed(recording_of(run, board_of("small")), data)
    here, there = verdict("small", recording), verdict("small", shifted(recording, by))
    assert here.verdict == there.verdict
    assert [d.time + by for d in here.deviations] == [d.time for d in there.deviations]
    assert here.as_json()["deviations"] == there.as_json()["deviations"]


@QUICK
@given(data=st.data(), mode=MODES, seed=st.integers(0, 2**32))
def test_the_order_of_the_channels_means_nothing(data: st.DataObject, mode: str, seed: int) -> None:
    run = simulated("small", data.draw(timelines(board_of("small"), most=12)), mode, seed)
    recording = _disturbed(recording_of(run, board_of("small")), data)
    names = data.draw(st.permutations(sorted(recording.channels)))
    other = evolve(recording, channels={name: recording.channels[name] for name in names})
    assert verdict("small", recording).as_json() == verdict("small", other).as_json()


def _disturbed(recording: Recording, data: st.DataObject) -> Recording:
    """Give the recording with one output changed where it did not change."""
    name = data.draw(st.sampled_from(["motor", "fan", "alarm"]))
    channel = recording.channels[name]
    begin = data.draw(st.integers(recording.start, recording.end - 1))
    index = int(np.searchsorted(channel.times, begin, side="right"))
    limit = int(channel.times[index]) if index < len(channel.times) else recording.end
    if limit - begin < 2 or (index and channel.times[index - 1] == begin):
        return recording
    end = data.draw(st.integers(begin + 1, limit - 1))
    held = channel.values[index - 1] if index else 0.0
    times = np.insert(channel.times, index, [begin, end]).astype(np.int64)
    return evolve(
        recording,
        channels={**recording.channels, name: Channel(name, times, np.insert(channel.values, index, [1 - held, held]))},
    )


@settings(QUICK, max_examples=EXAMPLES // 2)
@given(data=st.data(), mode=MODES, seed=st.integers(0, 2**32))
def test_an_output_edge_moved_outside_its_window_deviates(data: st.DataObject, mode: str, seed: int) -> None:
    """The motor starts when its rest is over: 10 s ± (4 % + 0.1 s) after power-up, so from 9.5 to 10.5 s."""
    on = data.draw(st.integers(1, S))
    timeline = Timeline({"power": ((0, False), (on, True)), "call": ((0, True),), "stop": ((0, True),)}, on + 14 * S)
    recording = recording_of(simulated("small", timeline, mode, seed), board_of("small"))
    at = data.draw(st.one_of(st.integers(on + 1, on + 9_500_000 - 1), st.integers(on + 10_500_001, on + 13 * S)))
    motor = Channel("motor", np.array([0, at], np.int64), np.array([0.0, 1.0]))
    judgement = verdict("small", evolve(recording, channels={**recording.channels, "motor": motor}))
    assert judgement.verdict == "deviates"
    first = judgement.deviations[0]
    assert (first.signal, first.rule) == ("motor", "rest")
    assert first.time == (at if at < on + 9_500_000 else on + 10_500_000)
    assert (first.earliest, first.latest) == (on + 9_500_000, on + 10_500_000)


@settings(QUICK, max_examples=EXAMPLES // 5)
@given(on=st.integers(1, S), at=st.integers(9_500_000, 10_500_000))
def test_an_output_edge_anywhere_in_its_window_conforms(on: int, at: int) -> None:
    timeline = Timeline({"power": ((0, False), (on, True)), "call": ((0, True),), "stop": ((0, True),)}, on + 14 * S)
    recording = recording_of(simulated("small", timeline, "nominal", 0), board_of("small"))
    motor = Channel("motor", np.array([0, on + at], np.int64), np.array([0.0, 1.0]))
    assert verdict("small", evolve(recording, channels={**recording.channels, "motor": motor})).verdict == "conforms"


def test_inputs_on_either_side_of_a_loss_of_power_are_no_moment() -> None:
    """The valve follows its call at once; the call 2 us later comes when the supply has gone."""
    timeline = Timeline(
        {
            "power": ((0, False), (1, True), (S + 2, False)),
            "o": ((0, False), (S + 1, True)),
            "y": ((0, False), (S + 3, True)),
        },
        2 * S,
    )
    run = simulated("tarnbeck", timeline, "nominal", 0)
    assert run.outputs["rv"].changes[0] == (S + 1, True)
    assert verdict("tarnbeck", recording_of(run, board_of("tarnbeck"))).verdict == "conforms"
