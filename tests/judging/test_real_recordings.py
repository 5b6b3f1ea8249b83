"""Recordings of a board with known faults get the verdict that its service sheet gives them.

Law: what deviates does so at the moment, on the signal and by the rule of the sheet (recordings/README.md says what
each file is); nothing that is in order deviates. Pin by pin the time is within 0.05 s, in samples within one of them;
the allowed window is within 0.15 s.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest
from attrs import frozen

import boardgauge.boards
from boardgauge.judging.judge import Judge
from boardgauge.judging.judgement import Judgement
from boardgauge.language import read_board
from boardgauge.traces import condition, read_recording, read_wiring

RECORDINGS = Path(__file__).parents[1] / "recordings"
BOARDS = Path(boardgauge.boards.__file__).parent
SAMPLE = 0.02
"""Seconds from one sample to the next in the sampled recordings that deviate."""


@frozen
class First:
    """The first deviation by the sheet; times in seconds from the start of the recording."""

    time: float
    signal: str
    clause: str
    earliest: float | None = None
    latest: float | None = None


DEVIATING = {
    "s01_powerup_restart__f17_restart_short.csv.gz": First(116.1, "cc", "2.4", 123.0, 127.2),
    "s01_powerup_restart__slow7.vcd": First(32.5, "cc", "1.1", 29.5, 32.5),
    "s02_lp_bypass__f01_bypass_short.vcd": First(45.0, "cc", "3.1"),
    "s05_hp_two_calls__f17_restart_short.vcd": First(86.1, "cc", "2.4", 93.0, 97.2),
    "s06_hp_three_trips__f12_led_hard_code.vcd": First(171.1, "led_n", "8.7"),
    "s09_defrost_warm__f15_contactor_chatter.vcd": First(211.1, "cc", "2.5"),
    "s10_defrost_max__f10_fan_on_in_defrost.vcd": First(211.4, "fan", "7.4", 211.1, 211.4),
}
IN_ORDER = (
    "s01_powerup_restart__good.csv.gz",
    "s01_powerup_restart__good.csv.xz",
    "s01_powerup_restart__good.vcd",
    "s03_lp_trip__good.vcd",
    "s03_lp_trip__good__xz.vcd",
    "s05_hp_two_calls__good__logger.csv.gz",
    "s06_hp_three_trips__good.vcd",
    "s09_defrost_warm__f01_bypass_short.vcd",
    "s09_defrost_warm__good.vcd",
    "s09_defrost_warm__slow3.vcd",
    "s12_jumpers_fast__good.vcd",
    "s15_glitches__good.vcd",
)
WITH_OTHER_WIRING = {
    "s05_hp_two_calls__good__ac60.vcd": ("tarnbeck", "tarnbeck-ac60"),
    "a09_defrost_warm_ntc__good__adc.vcd": ("tarnbeck-thermistor", "tarnbeck"),
}


@cache
def judge_of(board: str) -> Judge:
    """Give the judge of a board of the library."""
    return Judge.of(read_board(BOARDS / f"{board}.toml"))


def judgement_of(name: str, board: str = "tarnbeck", wiring: str = "tarnbeck") -> Judgement:
    """Judge a recording with a board and a wiring of the library."""
    judge = judge_of(board)
    wires = read_wiring(BOARDS / "wirings" / f"{wiring}.toml")
    return judge.judge(condition(read_recording(RECORDINGS / name), wires, judge.engine.machine.board))


def test_every_recording_has_its_verdict() -> None:
    """No recording is left out; those of the other boards of the library have a table of their own."""
    listed = {*DEVIATING, *IN_ORDER, *WITH_OTHER_WIRING}
    assert listed == {path.name for path in RECORDINGS.iterdir() if path.is_file() and path.name != "README.md"}


@pytest.mark.parametrize("name", DEVIATING)
def test_a_fault_is_found_where_it_is(name: str) -> None:
    """Verdict, moment, signal, clause and allowed window are those of the sheet."""
    wanted, found = DEVIATING[name], judgement_of(name)
    assert found.verdict == "deviates"
    first = found.deviations[0]
    time = found.seconds(first.time)
    assert time is not None
    assert abs(time - wanted.time) <= (0.05 + SAMPLE if "csv" in name else 0.05)
    assert (first.channel, first.clause) == (wanted.signal, wanted.clause)
    if wanted.earliest is not None:
        assert found.seconds(first.earliest) == pytest.approx(wanted.earliest, abs=0.15)
        assert found.seconds(first.latest) == pytest.approx(wanted.latest, abs=0.15)


@pytest.mark.parametrize("name", IN_ORDER)
def test_a_board_in_order_conforms(name: str) -> None:
    """Pin by pin, in samples, with rows lost, with pins that nothing drives, 3 % slow: it conforms."""
    found = judgement_of(name)
    assert (found.verdict, found.deviations) == ("conforms", ())


@pytest.mark.parametrize("name", WITH_OTHER_WIRING)
def test_a_board_in_order_conforms_by_its_wiring(name: str) -> None:
    """Line-frequency inputs and a thermistor in millivolts are told by their wiring."""
    found = judgement_of(name, *WITH_OTHER_WIRING[name])
    assert (found.verdict, found.deviations) == ("conforms", ())


def test_one_run_is_one_verdict_however_it_was_recorded() -> None:
    """The same run pin by pin and in samples exercises the same rules."""
    exercised = [
        {row.rule for row in judgement_of(f"s01_powerup_restart__good.{ending}").rules if row.exercised}
        for ending in ("vcd", "csv.gz", "csv.xz")
    ]
    assert exercised[0] == exercised[1] == exercised[2]
    assert {"power_up_delay", "restart_delay"} <= exercised[0]
