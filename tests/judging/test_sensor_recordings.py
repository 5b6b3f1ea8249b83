"""A recording of a sensor's ohms or volts gets the verdict that the same one of its degrees gets.

The recording is that of a fictional board; its degrees are turned into what another bench would have recorded.
"""

from __future__ import annotations

from fractions import Fraction as F
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from attrs import evolve

from boardgauge.boards import board_path, wiring_path
from boardgauge.judging.judge import Judge
from boardgauge.judging.judgement import Judgement
from boardgauge.language import Board, read_board
from boardgauge.sensors import Divider, find_curve
from boardgauge.traces import Recording, condition, read_recording, wiring_from
from boardgauge.traces.recording import channel_of
from boardgauge.traces.sensor_scale import BySensor

RECORDING = Path(__file__).parents[1] / "recordings" / "a09_defrost_warm_ntc__good__adc.vcd"
STRAIGHT = 'coil_mv = { signal = "coil", scale = 0.1, offset = -50 }'
VOLTS = 'divider = { fixed = "10 kΩ", tolerance = "± 0.1 %", sensor = "bottom", supply = "5 V" }'
COUNTS = 'divider = { fixed = "10 kΩ", tolerance = "± 0.1 %", sensor = "top", counts = 4095 }'
NTC, PT1000 = find_curve("ntc-10k"), find_curve("pt1000")
OHMS = BySensor(NTC, "°C")


@cache
def board() -> Board:
    return read_board(board_path("tarnbeck-thermistor"))


@cache
def recording() -> Recording:
    return read_recording(RECORDING)


@cache
def judge() -> Judge:
    return Judge.of(board())


def judged(keys: str, changed: Recording) -> Judgement:
    text = wiring_path("tarnbeck").read_text(encoding="utf-8")
    assert STRAIGHT in text
    wiring = wiring_from(text.replace(STRAIGHT, f'coil_mv = {{ signal = "coil", {keys} }}'), "w.toml")
    return judge().judge(condition(changed, wiring, board()))


def told_by(by: BySensor, colder: int = 0, whole: bool = False) -> Recording:
    """Give the recording with its coil as the numbers of a sensor, so many kelvin colder than it was."""
    channel = recording().channels["coil_mv"]
    numbers = np.array([by.number(F(round(mv), 10) - 50 - colder) for mv in channel.values.tolist()])
    return with_coil(np.round(numbers) if whole else numbers)


def with_coil(numbers: np.ndarray) -> Recording:  # type: ignore[type-arg]
    times = recording().channels["coil_mv"].times
    return evolve(recording(), channels={**recording().channels, "coil_mv": channel_of("coil_mv", times, numbers)})


@pytest.mark.parametrize(
    ("by", "keys"),
    [
        (OHMS, 'curve = "ntc-10k", curve_tolerance = "exactly"'),
        (OHMS, 'curve = "ntc-10k"'),
        (BySensor(PT1000, "°C"), 'curve = "pt1000", curve_tolerance = "class A"'),
        (BySensor(NTC, "°C", Divider(F(10_000), "bottom", F(5))), f'curve = "ntc-10k", resolution = 0.001, {VOLTS}'),
    ],
)
def test_a_good_board_conforms(by: BySensor, keys: str) -> None:
    """In ohms or in volts, with the tolerances of a good bench, the good recording conforms as it does in degrees."""
    judgement = judged(keys, told_by(by))
    assert (judgement.verdict, judgement.deviations) == ("conforms", ())


def test_counts_of_a_converter() -> None:
    """In whole counts of twelve bits it conforms as well."""
    by = BySensor(NTC, "°C", Divider(F(10_000), "top", counts=4095))
    assert judged(f'curve = "ntc-10k", {COUNTS}', told_by(by, whole=True)).verdict == "conforms"


def test_a_defrost_that_ends_too_cold() -> None:
    """A board that ends its defrost far below the limit deviates, by ohms as by degrees."""
    by_ohms = judged('curve = "ntc-10k", curve_tolerance = "exactly"', told_by(OHMS, colder=9))
    channel = recording().channels["coil_mv"]
    by_degrees = judged("scale = 0.1, offset = -50", with_coil(channel.values - 90))
    assert by_ohms.verdict == by_degrees.verdict == "deviates"
    first, other = by_ohms.deviations[0], by_degrees.deviations[0]
    assert (first.time, first.channel, first.rule) == (other.time, other.channel, other.rule)


def test_what_the_bench_cannot_tell_is_no_deviation() -> None:
    """With a sensor that may be off by as much, the same recording accuses nobody."""
    judgement = judged('curve = "ntc-10k", curve_tolerance = "± 12 K"', told_by(OHMS, colder=9))
    assert judgement.deviations == ()


def test_an_open_sensor_accuses_nobody() -> None:
    """While the sensor is off the recorder its temperature is not known, and the board may do either."""
    numbers = told_by(OHMS).channels["coil_mv"].values.copy()
    numbers[60:] = 10_000_000.0
    changed = with_coil(numbers)
    assert judged('curve = "ntc-10k"', changed).deviations == ()
    trace = condition(changed, wiring_from(_wired(), "w.toml"), board())
    assert [remark.kind for remark in trace.remarks if remark.signal == "coil"] == ["open sensor"]


def _wired() -> str:
    text = wiring_path("tarnbeck").read_text(encoding="utf-8")
    return text.replace(STRAIGHT, 'coil_mv = { signal = "coil", curve = "ntc-10k" }')
