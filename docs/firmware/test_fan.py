"""The firmware of the extract fan, tried against its spec."""

import pytest


@pytest.mark.board_spec("extract-fan", firmware="build/fan.so")
def test_the_fan_runs_on_after_a_stay(firmware_bench):
    """Light for a minute, then none: the fan runs, and runs on for the time that the turn switch is at."""
    firmware_bench.begin({"overrun_time": "short"}, damp="50 %")
    firmware_bench.power()
    firmware_bench.set(light="on")
    assert firmware_bench.wait_for("fan", at_most="1 min")
    firmware_bench.set(light="off")
    assert firmware_bench.wait_for("fan", False, at_most="3 min")
    firmware_bench.check(shows=["occupied", "overrun", "rest"])


@pytest.mark.board_spec("extract-fan", firmware="build/fan.so")
def test_the_third_time_too_hot_is_the_last(firmware_bench):
    """Three times too hot within six hours: the fan stays off, and the lamp says so."""
    firmware_bench.begin(damp="90 %")
    firmware_bench.power()
    for _ in range(3):
        firmware_bench.wait("20 s")
        firmware_bench.set(winding="open")
        firmware_bench.wait("10 s")
        firmware_bench.set(winding="closed")
        firmware_bench.wait("6 min")
    assert not firmware_bench.level("fan")
    firmware_bench.check(shows=["cooling_down", "overheats", "given_up"])


@pytest.mark.board_spec("extract-fan", firmware="build/fan.so", scenarios="scenarios/*.toml")
def test_scenarios(firmware_bench, bench_case):
    """Every scenario beside this file; each is judged at its end."""
    firmware_bench.carry_out(bench_case)
