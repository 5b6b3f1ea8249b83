"""Common practice of the trade, no source: its figures written as one board, and run.

The figures are what practitioners name, of no maker's board: 5 min from a stop to the next start; the low-pressure
switch overlooked for 120 s at the start only; a hard lockout at the third high-pressure trip within an hour of one
call; 30, 60 or 90 min of running below -1 °C (30 °F) at the coil before a defrost, which ends at 14 °C (57 °F) or after
10 min; with the speed-up link minutes become seconds, so that a defrost that has not begun after 2 min of a simulated
cold coil condemns the board.
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from attrs import evolve

from boardgauge.judging.judge import Judge
from boardgauge.language import read_board_text
from boardgauge.machine.compile import compile_board
from boardgauge.machine.run import Run, Timeline, Value
from boardgauge.machine.simulate import Simulator
from boardgauge.traces import condition, default_wiring
from boardgauge.traces.simulated import recording_of

S = 1_000_000
MIN = 60 * S
PRACTICE = """
language = 1
[board]
id = "practice"
title = "What the trade calls usual (invented board)"
tolerance = "± 5 %"
[inputs]
call = { kind = "call" }
lp = { kind = "switch", contact = "normally closed" }
hp = { kind = "switch", contact = "normally closed" }
pins = { kind = "link" }
coil = { kind = "sensor", unit = "°C" }
[settings.interval]
read = "at power-up"
factory = "60"
positions = [{ name = "30", is = "30 min" }, { name = "60", is = "60 min" }, { name = "90", is = "90 min" }]
[rules.rest]
kind = "delay"
begins = "compressor ends"
lasts = "5 min"
if_begun_again = "starts over"
[rules.overlooked]
kind = "delay"
begins = "compressor begins"
lasts = "120 s"
if_begun_again = "starts over"
[rules.low]
kind = "lockout"
trips = "lp open and compressor and not overlooked"
clears = "only by power loss"
[rules.high]
kind = "lockout"
trips = "hp open and compressor"
clears = "(hp closed and not rest) or not call"
[rules.trips]
kind = "count"
counts = "high begins"
limit = 3
within = "1 h"
forgets = "not call"
[rules.given_up]
kind = "lockout"
trips = "trips reached"
clears = "only by power loss"
[rules.cold_run]
kind = "accumulator"
adds_while = "compressor and coil < -1 °C and not thaw"
target = "interval"
resets = "thaw ends"
[rules.thaw]
kind = "mode"
begins = "cold_run reached and compressor"
ends = "coil > 14 °C or not compressor"
at_most = "10 min"
[outputs.compressor]
on = "call and not rest and not low and not high and not given_up"
[outputs.valve]
on = "thaw"
[speed_ups.link]
while = "pins fitted"
times_faster = 60
what = ["rest", "cold_run", "thaw"]
"""
BOARD = read_board_text(PRACTICE, "practice.toml")
COLD, MILD, WARM = Fraction(-6), Fraction(5), Fraction(15)
Row = tuple[tuple[int, Value], ...]


def run(end: int, interval: str = "60", **inputs: Row) -> Run:
    """Run the board at nominal times; called for from 0 on, the coil mild."""
    given: dict[str, Row] = {"power": ((0, True),), "call": ((0, True),), "coil": ((0, MILD),), **inputs}
    return Simulator(compile_board(BOARD), "nominal", 0, {"interval": interval}).run(Timeline(given, end))


def ons(found: Run, output: str) -> list[int]:
    return [time for time, value in found.outputs[output].changes if value]


def offs(found: Run, output: str) -> list[int]:
    return [time for time, value in found.outputs[output].changes if not value]


def test_a_compressor_rests_for_5_min() -> None:
    """A call that comes back at once waits five minutes from the stop."""
    found = run(30 * MIN, call=((0, True), (10 * MIN, False), (10 * MIN + S, True)))
    assert ons(found, "compressor") == [0, 15 * MIN]


@pytest.mark.parametrize(("closes", "trips"), [(120 * S, False), (120 * S + 1, True)])
def test_low_pressure_is_overlooked_for_120_s_at_a_start(closes: int, trips: bool) -> None:
    """Open from the start and closed again as the two minutes are over: no trip; a moment later: locked out."""
    found = run(10 * MIN, lp=((0, False), (closes, True)))
    assert offs(found, "compressor") == ([120 * S] if trips else [])


def test_low_pressure_is_overlooked_at_the_start_only() -> None:
    """Ten minutes into the run the switch counts at once."""
    found = run(20 * MIN, lp=((0, True), (10 * MIN, False)))
    assert offs(found, "compressor") == [10 * MIN]


@pytest.mark.parametrize(("apart", "hard"), [(29 * MIN, True), (31 * MIN, False)])
def test_the_third_trip_within_an_hour_locks_out_for_good(apart: int, hard: bool) -> None:
    """Three trips of one call in 58 min: the compressor stays off; in 62 min it comes back after its rest."""
    trips = [10 * MIN + n * apart for n in range(3)]
    hp: Row = ((0, True), *((time + later, value) for time in trips for later, value in ((0, False), (S, True))))
    found = run(120 * MIN, hp=hp)
    assert (ons(found, "compressor")[-1] > trips[-1]) is not hard


def test_trips_of_another_call_are_forgotten() -> None:
    """Two trips, the call gone and back, a third: no hard lockout."""
    hp: Row = ((0, True), *((n * MIN + later, value) for n in (10, 20, 40) for later, value in ((0, False), (S, True))))
    found = run(90 * MIN, hp=hp, call=((0, True), (30 * MIN, False), (31 * MIN, True)))
    assert ons(found, "compressor")[-1] == 45 * MIN


@pytest.mark.parametrize("minutes", ["30", "60", "90"])
def test_a_defrost_begins_after_30_60_or_90_min_in_the_cold(minutes: str) -> None:
    """Counted below -1 °C alone: ten mild minutes in between put it off by ten."""
    coil: Row = ((0, COLD), (5 * MIN, MILD), (15 * MIN, COLD))
    assert ons(run(110 * MIN, minutes, coil=coil), "valve")[0] == (int(minutes) + 10) * MIN


@pytest.mark.parametrize(("coil", "lasts"), [(((0, COLD), (66 * MIN, WARM)), 6 * MIN), (((0, COLD),), 10 * MIN)])
def test_a_defrost_ends_by_the_coil_or_by_the_clock(coil: Row, lasts: int) -> None:
    """At 14 °C, or after ten minutes."""
    found = run(75 * MIN, coil=coil)
    assert offs(found, "valve")[0] - ons(found, "valve")[0] == lasts


@pytest.mark.parametrize("minutes", ["30", "60", "90"])
def test_with_the_link_minutes_are_seconds(minutes: str) -> None:
    """The interval in seconds, and a defrost of ten of them."""
    found = run(2 * MIN, minutes, pins=((0, True),), coil=((0, COLD),))
    assert ons(found, "valve")[0] == int(minutes) * S
    assert offs(found, "valve")[0] == (int(minutes) + 10) * S


@pytest.mark.parametrize("minutes", ["30", "60", "90"])
@pytest.mark.parametrize(("defrosts", "verdict"), [(True, "conforms"), (False, "deviates")])
def test_no_defrost_in_2_min_of_a_cold_coil_condemns_the_board(minutes: str, defrosts: bool, verdict: str) -> None:
    """With the link on and the coil held cold it must have begun by then, whatever the interval and its tolerance."""
    found = run(2 * MIN + S, minutes, power=((S, True),), pins=((0, True),), coil=((0, COLD),))
    if not defrosts:
        found = evolve(found, outputs={**found.outputs, "valve": evolve(found.outputs["valve"], changes=())})
    recording = recording_of(found, BOARD)
    wiring = default_wiring(BOARD)
    judgement = Judge.of(BOARD).judge(condition(recording, evolve(wiring, settings={"interval": minutes}), BOARD))
    assert judgement.verdict == verdict
    assert [d.signal for d in judgement.deviations[:1]] == ([] if defrosts else ["valve"])
