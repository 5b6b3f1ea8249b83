"""What is wrong with a recorded board is among the first three explanations of its recording."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from boardgauge.boards import board_path, wiring_path
from boardgauge.diagnosis import Diagnosis, diagnose
from boardgauge.language import read_board
from boardgauge.language.quantities import S
from boardgauge.traces import condition, read_recording, read_wiring

RECORDINGS = Path(__file__).resolve().parents[1] / "recordings"


@cache
def diagnosed(name: str) -> Diagnosis:
    board = read_board(board_path("tarnbeck"))
    wiring = read_wiring(wiring_path("tarnbeck"))
    return diagnose(board, condition(read_recording(RECORDINGS / name), wiring, board))


@pytest.mark.parametrize(
    ("name", "fault"),
    [
        ("s02_lp_bypass__f01_bypass_short.vcd", "bypass.lasts.short"),
        ("s10_defrost_max__f10_fan_on_in_defrost.vcd", "fan.on.3.never"),
        ("s06_hp_three_trips__f12_led_hard_code.vcd", "led.2.shows.5-flashes"),
        ("s09_defrost_warm__f15_contactor_chatter.vcd", "cc.chatters"),
        ("s05_hp_two_calls__f17_restart_short.vcd", "restart_delay.lasts.short"),
        ("s01_powerup_restart__f17_restart_short.csv.gz", "restart_delay.lasts.short"),
        ("s01_powerup_restart__slow7.vcd", "clock.slow"),
    ],
)
def test_the_fault_is_among_the_first_three(name: str, fault: str) -> None:
    """Each recording with a fault in its name is explained by that fault."""
    diagnosis = diagnosed(name)
    assert diagnosis.finding == "fault"
    assert fault in [e.faults[0].id for e in diagnosis.explanations[:3]]


def test_how_short_a_measured_time_is() -> None:
    """The restart delay of 45 s was 36 s, and the diagnosis says so."""
    size = diagnosed("s05_hp_two_calls__f17_restart_short.vcd").explanations[0].size
    assert size is not None
    assert size.least is not None
    assert size.greatest is not None
    assert 35 * S < size.least <= size.greatest < 37 * S
    assert size.steady


def test_how_short_a_time_is_that_was_not_measured() -> None:
    """The end of the bypass shows nothing by itself; lengths from 10.8 to 13.2 s explain when the lockout trips."""
    size = diagnosed("s02_lp_bypass__f01_bypass_short.vcd").explanations[0].size
    assert size is not None
    assert size.least is not None
    assert size.greatest is not None
    assert 10 * S < size.least < 12 * S < size.greatest < 14 * S


def test_how_slow_a_clock_is() -> None:
    """A clock that is 7 % slow is said to be between 6 and 8.5 %."""
    size = diagnosed("s01_powerup_restart__slow7.vcd").explanations[0].size
    assert size is not None
    assert size.text == "the clock runs 6.5 to 8.2 % slow"


def test_what_the_fault_predicts_next() -> None:
    """With the restart delay at 36 s, a call now brings the contactor on while a good board waits."""
    predicts = diagnosed("s05_hp_two_calls__f17_restart_short.vcd").explanations[0].predicts
    assert predicts is not None
    assert predicts.startswith("if you switch y on, after 25 s: compressor contactor on")
    assert "(a good board: off, off" in predicts


def test_faults_that_no_step_parts_are_one_group() -> None:
    """At the end of a recording in a hard lockout no single step tells a wrong line from two that are changed over."""
    explanations = diagnosed("s06_hp_three_trips__f12_led_hard_code.vcd").explanations
    assert {e.faults[0].id for e in explanations} == {"led.2.shows.5-flashes", "led.1.swapped.2"}
    assert {e.group for e in explanations} == {1}


@pytest.mark.parametrize("name", ["s03_lp_trip__good.vcd", "s01_powerup_restart__good.csv.gz"])
def test_a_good_board_is_told_as_one(name: str) -> None:
    """A recording that conforms has no explanations: look at the sensor, the wiring and the load."""
    diagnosis = diagnosed(name)
    assert diagnosis.finding == "good board"
    assert diagnosis.explanations == ()
    assert diagnosis.tried == 0
