"""Law: a recording read with a reduction conditions to the very trace that the whole recording does."""

from __future__ import annotations

import io
import random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boardgauge.boards import board_path
from boardgauge.judging.evidence import crossings
from boardgauge.judging.judge import Judge
from boardgauge.language import read_board
from boardgauge.language.model import Board
from boardgauge.traces import Recording, Trace, Wave, condition, recording_from, source, wiring_from, write_vcd
from boardgauge.traces.csv_writer import write_long, write_wide
from boardgauge.traces.recording import channel_of
from boardgauge.traces.reduction import Reduction

BOARD = read_board(board_path("tarnbeck-thermistor"))
WIRING = """
language = 1
board = "tarnbeck-thermistor"
[wiring]
id = "w"
title = "w"
[channels.y]
signal = "y"
[channels.fan_volts]
signal = "fan"
threshold = 2.5
{differential}
[channels.coil]
signal = "coil"
{coil}
"""
JUDGE = Judge.of(BOARD)
COMPARISONS = [level.comparison for level in JUDGE.engine.machine.levels if level.comparison is not None]
COILS = ("", "scale = 0.1\noffset = -50", "scale = -2\noffset = 3\nresolution = 1")


def trace_of(recording: Recording, wiring: str, board: Board = BOARD) -> Trace:
    return condition(recording, wiring_from(wiring), board)


def parts(wave: Wave) -> tuple[object, ...]:
    return wave.initial, wave.changes(), wave.recorded_changes()


def same(one: Trace, other: Trace) -> None:
    """Hold two traces against each other, and what every limit of the board makes of their sensors."""
    assert (one.start, one.end, one.ignored, one.remarks) == (other.start, other.end, other.ignored, other.remarks)
    assert list(one.waves) == list(other.waves)
    assert [parts(one.waves[n]) for n in one.waves] == [parts(other.waves[n]) for n in other.waves]
    for comparison in COMPARISONS:
        for first, second in ((one, other), (one.nominal(), other.nominal())):
            found, whole = (crossings(t, comparison, BOARD.inputs[comparison.name]) for t in (first, second))
            assert found is not None
            assert whole is not None
            assert parts(found) == parts(whole)


def made(seed: int, count: int) -> Recording:
    """Make a recording with noisy channels, some values not known, and a channel that is not wired."""
    chance = random.Random(seed)
    times = np.cumsum([0, *(chance.choice([1000, 1000, 1000, 7000]) for _ in range(count - 1))])
    noise = lambda middle, wide: np.array(  # noqa: E731
        [float("nan") if chance.random() < 0.02 else round(middle + wide * chance.gauss(0, 1), 2) for _ in times]
    )
    drift = np.cumsum([chance.choice([-1, 0, 1]) for _ in times]) * chance.choice([0.5, 3])
    channels = {
        "y": np.array([float(chance.random() < 0.5) for _ in times]),
        "power": np.array([float(chance.random() < 0.95) for _ in times]),
        "fan_volts": noise(2.5, 0.6),
        "coil": noise(0, 2) + drift,
        "spare": noise(7, 3),
    }
    made = {name: channel_of(name, times, values) for name, values in channels.items()}
    return Recording("made", "wide CSV", 0, int(times[-1]), made, times)


@settings(max_examples=40, deadline=None)
@given(
    st.integers(0, 10**6),
    st.integers(2, 60),
    st.sampled_from(["", "differential = 0.8"]),
    st.sampled_from(COILS),
    st.sampled_from(["wide", "long", "vcd"]),
    st.integers(100, 3000),
)
def test_the_trace_is_the_same(seed: int, count: int, differential: str, coil: str, form: str, block: int) -> None:
    """Whatever the noise, the threshold, the scale and the format, and however the file is cut into blocks."""
    text = io.StringIO()
    {"wide": write_wide, "long": write_long, "vcd": write_vcd}[form](made(seed, count), text)
    wiring = WIRING.format(differential=differential, coil=coil)
    if seed % 2:
        wiring += '[channels.power]\nsignal = "power"\n'
    data = text.getvalue().encode()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(source, "BLOCK", block)
        whole = recording_from(data, "t")
        less = recording_from(data, "t", reduction=Reduction(wiring_from(wiring), BOARD))
    same(trace_of(less, wiring), trace_of(whole, wiring))


def test_the_verdict_is_the_same() -> None:
    """And so does the judge."""
    text = io.StringIO()
    write_wide(made(11, 300), text)
    wiring = WIRING.format(differential="", coil=COILS[1])
    reduction = Reduction(wiring_from(wiring), BOARD)
    whole, less = (recording_from(text.getvalue().encode(), "t", reduction=r) for r in (None, reduction))
    one, other = JUDGE.judge(trace_of(less, wiring)), JUDGE.judge(trace_of(whole, wiring))
    assert (one.verdict, one.deviations) == (other.verdict, other.deviations)


def test_what_is_left_out() -> None:
    """Of a noisy channel only what crosses is kept, and of one that is not wired only its name."""
    text = io.StringIO()
    write_wide(made(5, 400), text)
    wiring = wiring_from(WIRING.format(differential="differential = 3", coil=""))
    less = recording_from(text.getvalue().encode(), "t", reduction=Reduction(wiring, BOARD))
    kept = {name: len(channel.times) for name, channel in less.channels.items()}
    assert list(kept) == ["y", "power", "fan_volts", "coil", "spare"]
    assert kept["spare"] == kept["power"] == 1
    assert kept["fan_volts"] < 100 < kept["y"]
