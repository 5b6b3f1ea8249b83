"""Recordings judged by the boards and wirings of the library."""

from __future__ import annotations

from fractions import Fraction
from io import StringIO
from pathlib import Path

import pytest
from attrs import evolve

from boardgauge.boards import board_path, wiring_path
from boardgauge.cases.make_demo import DEMO, FAULTY, GOOD, demo_recordings
from boardgauge.judging.judge import Judge
from boardgauge.judging.judgement import Judgement
from boardgauge.language import read_board
from boardgauge.language.quantities import S
from boardgauge.machine.run import Timeline
from boardgauge.traces import condition, read_recording, read_wiring
from boardgauge.traces.vcd_writer import write_vcd
from boards.library_runs import judge_of, run_of, trace_of

_RECORDINGS = Path(__file__).parents[1] / "recordings"


def _judged(recording: Path, board: str, wiring: str) -> Judgement:
    read = read_board(board_path(board))
    trace = condition(read_recording(recording), read_wiring(wiring_path(wiring)), read)
    assert (trace.unwired, trace.ignored) == ((), ())
    return Judge.of(read).judge(trace)


@pytest.mark.parametrize(
    ("recording", "board", "wiring"),
    [
        ("a09_defrost_warm_ntc__good__adc.vcd", "tarnbeck-thermistor", "tarnbeck"),
        ("s05_hp_two_calls__good__ac60.vcd", "tarnbeck", "tarnbeck-ac60"),
    ],
)
def test_variants_of_tarnbeck_conform(recording: str, board: str, wiring: str) -> None:
    """The thermistor board with its millivolts, and the board of comparators with pulses of 60 Hz."""
    assert _judged(_RECORDINGS / recording, board, wiring).verdict == "conforms"


def test_the_good_board_of_the_demonstration_conforms() -> None:
    """It shows a start, a defrost, a trip and a restart."""
    judgement = _judged(DEMO / GOOD, "quillmere", "quillmere")
    assert judgement.verdict == "conforms"
    shown = {row.rule for row in judgement.rules if row.exercised}
    assert {"anti_short_cycle", "lp_bypass", "frost_time", "defrost", "safety_wait"} <= shown


def test_the_faulty_board_of_the_demonstration_deviates() -> None:
    """It restarts 3 min after a stop; the window of 4 min is told, counted from the stop."""
    judgement = _judged(DEMO / FAULTY, "quillmere", "quillmere")
    assert judgement.verdict == "deviates"
    first = judgement.deviations[0]
    assert (first.rule, first.clause, first.kind) == ("anti_short_cycle", "1.1", "early")
    earliest, latest = judgement.seconds(first.earliest), judgement.seconds(first.latest)
    assert earliest == pytest.approx(560.55 + 232.3, abs=0.1)
    assert latest == pytest.approx(560.55 + 247.7, abs=0.1)


def test_the_demonstration_is_made_by_the_script() -> None:
    """What ships is what the script writes now."""
    for file, recording in demo_recordings().items():
        text = StringIO()
        write_vcd(recording, text, scope="quillmere")
        assert (DEMO / file).read_text(encoding="ascii") == text.getvalue(), file


def test_a_comparison_with_two_limits_is_not_remembered_without_power() -> None:
    """Cold at -6 °C, then -1.5 °C and power off and on: not cold, so no defrost is due."""
    name = "tarnbeck-thermistor"
    timeline = Timeline(
        {
            "power": ((S, True), (100 * S, False), (110 * S, True)),
            "y": ((2 * S, True),),
            "lps": ((0, True),),
            "hps": ((0, True),),
            "j0": ((0, True),),
            "j1": ((0, True),),
            "coil": ((0, Fraction(-6)), (90 * S, Fraction(-3, 2))),
        },
        400 * S,
    )
    trace = trace_of(name, run_of(name, timeline, "nominal", 0, {}), {})
    assert judge_of(name).judge(evolve(trace)).verdict == "conforms"
