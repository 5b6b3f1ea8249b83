"""The gas ignition boards of the library, held to what is said of burner sequences.

Source: pre-purge of 30 s, response to a lost flame within 1 s, a volatile lockout cleared by a power cycle and a
non-volatile one by a manual reset alone: from memory. Restart of flame recovery within 1 s of the loss of the flame
signal, else automatic recycling: read in a public document. The boards are invented; no test here says that a burner is
safe.
"""

from __future__ import annotations

import pytest

from boardgauge.machine.chance import TIMINGS, Timings
from boardgauge.machine.run import Run, Timeline, Value
from boards.library_runs import run_of

S = 1_000_000
Rows = tuple[tuple[int, Value], ...]


def run(board: str, timings: Timings, end: int, **inputs: tuple[tuple[float, bool], ...]) -> Run:
    """Run a board through changes in seconds; the limit stands closed, and the draft switch closes at 8 s."""
    given = {"power": ((0, True),), "limit": ((0, True),), "draft": ((8, True),), "heat": ((2, True),), **inputs}
    rows: dict[str, Rows] = {name: tuple((round(t * S), v) for t, v in row) for name, row in given.items()}
    return run_of(board, Timeline(rows, end * S), timings, 7, {})


def ons(found: Run, output: str) -> list[float]:
    """Give the seconds at which an output came on."""
    return [time / S for time, value in found.outputs[output].changes if value]


def offs(found: Run, output: str) -> list[float]:
    """Give the seconds at which an output went off."""
    return [time / S for time, value in found.outputs[output].changes if not value]


@pytest.mark.parametrize("timings", TIMINGS)
def test_gas_flows_only_after_a_purge_of_30_s(timings: Timings) -> None:
    """From the draft proved to the gas, whatever the board makes of its ranges, the first time and the next ones."""
    found = run("hearthgate-spark", timings, 90)
    gas = ons(found, "gas")
    assert len(gas) >= 2
    assert gas[0] - 8 >= 30
    assert gas[1] - offs(found, "gas")[0] >= 30 - 0.2


@pytest.mark.parametrize("timings", TIMINGS)
def test_a_lost_flame_meets_a_spark_within_1_s(timings: Timings) -> None:
    """Lost at 70 s: the spark is there within 1 s, and the gas is shut once the relight is over."""
    found = run("hearthgate-spark", timings, 90, flame=((41, True), (70, False)))
    spark = [time for time in ons(found, "igniter") if time >= 70]
    assert 70 <= spark[0] <= 71
    assert 70 + 3.6 <= offs(found, "gas")[0] <= 70 + 4.4 + 0.8


@pytest.mark.parametrize("timings", TIMINGS)
def test_without_a_relight_a_lost_flame_shuts_the_gas_within_1_s(timings: Timings) -> None:
    """The hot-surface board recycles: gas off at once, a purge, a new trial."""
    found = run("hearthgate", timings, 200, flame=((52.2, True), (100, False)))
    assert 100 <= offs(found, "gas")[0] <= 101
    assert ons(found, "gas")[1] - offs(found, "gas")[0] >= 50 * 0.95 + 17 * 0.95 - 0.2


@pytest.mark.parametrize("timings", TIMINGS)
def test_a_non_volatile_lockout_outlasts_the_supply(timings: Timings) -> None:
    """Three trials, the supply off and on at 200 s: no gas until RESET at 260 s."""
    power = ((0, True), (200, False), (210, True))
    draft = ((8, True), (200, False), (268, True))
    reset = ((260, True), (261, False))
    found = run("hearthgate-spark", timings, 330, power=power, draft=draft, reset=reset)
    gas = ons(found, "gas")
    assert len([time for time in gas if time < 200]) == 3
    assert [time for time in gas if 200 <= time < 260] == []
    assert [time for time in gas if time > 260] != []


@pytest.mark.parametrize("timings", TIMINGS)
def test_a_volatile_lockout_ends_with_the_supply(timings: Timings) -> None:
    """Flame with the gas shut locks out; RESET does not end it, the supply off and on does."""
    flame = ((1, True), (30, False))
    power = ((0, True), (60, False), (70, True))
    reset = ((40, True), (41, False))
    draft = ((8, True), (35, False), (80, True))
    found = run("hearthgate-spark", timings, 130, flame=flame, power=power, reset=reset, draft=draft)
    assert [time for time in ons(found, "gas") if time < 60] == []
    assert ons(found, "gas") != []
