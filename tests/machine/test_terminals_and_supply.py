"""What a simulated board makes of short changes, bouncing contacts, changes at one moment, and gaps of the supply.

Law: shorter than the first figure is never seen, longer than the second always; changes of one moment act together; a
loss of power takes everything that is not kept.
"""

from __future__ import annotations

import pytest

from boardgauge.machine.chance import TIMINGS, Timings
from boardgauge.machine.run import Run
from boardgauge.machine.settle import Engine
from machine.small_boards import held, machine_of, run, shown

ON, OFF = True, False
HEAD = """
language = 1
[board]
id = "small"
title = "a small board (invented)"
tolerance = "exactly"
responds_within = "0.3 s"
filter = "40 ms to 150 ms"
same_moment = "0.1 s"
rides_through = "20 ms to 200 ms"
"""
LATCH = """
[inputs.a]
kind = "call"
[inputs.b]
kind = "call"
[rules.seen]
kind = "lockout"
trips = "a"
clears = "only by power loss"
[rules.both]
kind = "count"
counts = "a begins while b"
limit = 1
kept_without_power = true
[rules.wait]
kind = "delay"
begins = "a begins"
lasts = "10 s"
if_begun_again = "runs on"
kept_without_power = true
[outputs.q]
on = "seen"
[outputs.p]
on = "both reached"
[outputs.w]
on = "wait"
"""
ENGINE = Engine(machine_of(LATCH, HEAD))


def _pulse(length: float, timings: Timings, seed: int = 0) -> Run:
    return run(ENGINE, {"a": [(1, ON), (1 + length, OFF)]}, 5, timings, seed)


@pytest.mark.parametrize("timings", TIMINGS)
def test_a_pulse_is_seen_as_its_filter_says(timings: Timings) -> None:
    """39.999 ms never, 150.001 ms always."""
    for seed in range(10):
        assert shown(_pulse(0.039999, timings, seed), "q") == []
        assert len(shown(_pulse(0.150001, timings, seed), "q")) == 1


def test_a_pulse_between_the_figures_may_be_seen() -> None:
    """Early boards see it, late ones do not, nominal ones from the middle on, random ones either way."""
    assert shown(_pulse(0.1, "earliest"), "q")
    assert not shown(_pulse(0.1, "latest"), "q")
    assert shown(_pulse(0.095, "nominal"), "q")
    assert not shown(_pulse(0.094, "nominal"), "q")
    assert {len(shown(_pulse(0.1, "random", seed), "q")) for seed in range(20)} == {0, 1}


@pytest.mark.parametrize("timings", TIMINGS)
def test_a_pulse_too_short_is_not_seen_though_the_supply_goes_in_its_middle(timings: Timings) -> None:
    """Its length is a matter of the terminal: 30 ms, the last 15 ms of them without power."""
    inputs = {"a": [(1, ON), (1.03, OFF)], "power": [(0.001, ON), (1.015, OFF)]}
    assert shown(run(ENGINE, inputs, 5, timings, 0), "q") == []


def test_a_bouncing_contact_is_one_change() -> None:
    """The nominal moment is where it comes to rest; any board counts from within the bounce."""
    bounce = [(1, ON), (1.005, OFF), (1.01, ON), (1.012, OFF), (1.02, ON)]
    assert shown(run(ENGINE, {"a": bounce}, 5), "q") == [(1.02, ON)]
    for seed in range(10):
        ((time, _),) = shown(run(ENGINE, {"a": bounce}, 5, "random", seed), "q")
        assert 1 <= time <= 1.32


@pytest.mark.parametrize("timings", TIMINGS)
def test_changes_of_one_moment_are_taken_in_together(timings: Timings) -> None:
    """b follows a by 0.05 s, less than the same moment, so a never comes without it."""
    for seed in range(10):
        made = run(ENGINE, {"a": [(1, ON)], "b": [(1.05, ON)]}, 5, timings, seed)
        assert len(shown(made, "p")) == 1


def test_changes_farther_apart_are_two_moments() -> None:
    """At nominal times a is acted on before b comes."""
    assert shown(run(ENGINE, {"a": [(1, ON)], "b": [(1.2, ON)]}, 5), "p") == []


@pytest.mark.parametrize("timings", TIMINGS)
def test_a_gap_of_the_supply_counts_as_its_figures_say(timings: Timings) -> None:
    """19.999 ms does nothing, 200.001 ms is a loss of power; the supply's own edges are told either way."""
    for seed in range(5):
        for gap, lost in ((0.019999, False), (0.200001, True)):
            power = [(0, ON), (3, OFF), (3 + gap, ON)]
            made = run(ENGINE, {"a": [(1, ON), (2, OFF)], "power": power}, 9, timings, seed)
            assert [value for _, value in shown(made, "q")] == ([ON, OFF] if lost else [ON])
            assert len(made.power.changes) == 3


def test_what_is_kept_without_power_is_kept_and_its_time_stands_still() -> None:
    """10 s from 1 s on, 3 s of them without power: over at 14 s. The lockout that is not kept is gone."""
    made = run(ENGINE, {"a": [(1, ON), (2, OFF)], "b": [(0, ON)], "power": [(0, ON), (5, OFF), (8, ON)]}, 30)
    assert shown(made, "w") == [(1, ON), (5, OFF), (8, ON), (14, OFF)]
    assert shown(made, "p") == [(1, ON), (5, OFF), (8, ON)]
    assert held(ENGINE, made, "seen") == [(1, True), (5, False)]


def test_an_input_moved_while_the_supply_is_off_stands_so_at_power_up() -> None:
    """A call that waits begins at power-up."""
    made = run(ENGINE, {"a": [(1, ON)], "power": [(0, OFF), (2, ON)]}, 5)
    assert shown(made, "q") == [(2, ON)]
    assert shown(made, "w") == [(2, ON)]
