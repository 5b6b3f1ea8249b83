"""Where a plainer way of stepping would go wrong, at nominal times.

Law: all that is due at one moment is one instant, an event compares with the settled picture before it, a lockout in
doubt trips and everything else in doubt ends.
"""

from __future__ import annotations

import pytest

from boardgauge.machine.picture import CannotSettle, ContradictsItself
from boardgauge.machine.settle import Engine
from machine.small_boards import held, machine_of, moved, run, run_tarnbeck, shown, tarnbeck

ON, OFF = True, False
CLOSED, OPEN = True, False


def test_a_bypass_holds_from_its_first_moment() -> None:
    """A safety switch that is open at start trips when the bypass is over, not when the motor starts."""
    engine = Engine(
        machine_of("""
        [inputs.a]
        kind = "call"
        [inputs.s]
        kind = "switch"
        contact = "normally closed"
        [rules.bypass]
        kind = "delay"
        begins = "q begins"
        lasts = "20 s"
        if_begun_again = "starts over"
        [rules.trip]
        kind = "lockout"
        trips = "s open and q and not bypass"
        clears = "only by power loss"
        [outputs.q]
        on = "a and not trip"
        """)
    )
    made = run(engine, {"s": [(0, OPEN)], "a": [(1, ON)]}, 60)
    assert moved(engine, made, "trip") == [(21, "tripped")]
    assert shown(made, "q") == [(1, ON), (21, OFF)]


def test_an_off_delay_leaves_no_gap() -> None:
    """A fan that runs on after its call goes off once, and its rest is counted from there."""
    engine = Engine(
        machine_of("""
        [inputs.q]
        kind = "call"
        [rules.off_delay]
        kind = "delay"
        begins = "q ends"
        lasts = "9 s"
        if_begun_again = "starts over"
        [rules.rest]
        kind = "delay"
        begins = "f ends"
        lasts = "30 s"
        if_begun_again = "starts over"
        [outputs.f]
        on = "(q or off_delay) and not rest"
        """)
    )
    made = run(engine, {"q": [(0, ON), (5, OFF)]}, 100)
    assert shown(made, "f") == [(0, ON), (14, OFF)]
    assert held(engine, made, "rest") == [(14, True), (44, False)]


def test_a_call_that_ends_as_the_switch_opens_trips_nothing() -> None:
    """The high-pressure lockout wants a call; both changes are one instant."""
    made = run_tarnbeck({"y": [(0, ON), (60, OFF)], "hps": [(60, OPEN)]}, 90)
    assert shown(made, "cc") == [(30, ON), (60, OFF)]
    assert moved(tarnbeck(), made, "hp_wait") == []
    assert moved(tarnbeck(), made, "hp_trips") == []


@pytest.mark.parametrize(("trips", "hard"), [((60, 660, 1260), [(1260, "tripped")]), ((60, 1861, 3662), [])])
def test_the_third_trip_inside_the_hour_locks_out_in_its_own_instant(
    trips: tuple[int, ...], hard: list[tuple[int, str]]
) -> None:
    """Three trips inside 60 minutes make the lockout hard; three trips farther apart do not."""
    switch = [edge for trip in trips for edge in ((trip, OPEN), (trip + 10, CLOSED))]
    made = run_tarnbeck({"hps": switch}, trips[-1] + 100)
    assert moved(tarnbeck(), made, "hp_lockout") == hard


def test_two_seconds_full_as_the_other_switch_opens() -> None:
    """The low-pressure time is full in the instant in which the high-pressure switch opens: it locks out."""
    made = run_tarnbeck({"lps": [(51.9, OPEN)], "hps": [(53.9, OPEN)]}, 90)
    assert moved(tarnbeck(), made, "lp_lockout") == [(53.9, "tripped")]
    assert moved(tarnbeck(), made, "hp_trips") == []
    flashes = [time for time, lit in made.lamps["led"].changes if lit and 53_900_000 <= time < 57_000_000]
    assert len(flashes) == 5


def test_a_call_that_ends_as_defrost_is_due_gives_no_defrost() -> None:
    """Valve and auxiliary heat never move, and the cold run stays full."""
    made = run_tarnbeck({"cold": [(0, ON)], "y": [(0, ON), (210, OFF)]}, 250)
    assert moved(tarnbeck(), made, "defrost") == []
    assert moved(tarnbeck(), made, "cold_run") == [(210, "reached")]
    assert shown(made, "rv") == shown(made, "aux") == []


def test_defrost_is_due_without_the_call_ending() -> None:
    """The other side of the case before: the call stays and defrost begins."""
    made = run_tarnbeck({"cold": [(0, ON)], "y": [(0, ON), (210.000001, OFF)]}, 250)
    assert [time for time, _ in moved(tarnbeck(), made, "defrost")] == [210, 210.000001]


def test_a_pulse_timer_begun_as_it_ends_runs_on_without_a_gap() -> None:
    """A delay begun in the very instant in which it expires runs again, and what follows it does not blink."""
    engine = Engine(
        machine_of("""
        [inputs.a]
        kind = "call"
        [rules.pulse]
        kind = "delay"
        begins = "a begins"
        lasts = "10 s"
        if_begun_again = "runs on"
        [outputs.q]
        on = "pulse"
        """)
    )
    made = run(engine, {"a": [(1, ON), (5, OFF), (11, ON)]}, 60)
    assert shown(made, "q") == [(1, ON), (21, OFF)]


def test_an_input_back_as_the_off_delay_ends_leaves_no_gap() -> None:
    """The input and the end of the time are one instant."""
    engine = Engine(
        machine_of("""
        [inputs.a]
        kind = "call"
        [rules.off_delay]
        kind = "delay"
        begins = "a ends"
        lasts = "10 s"
        if_begun_again = "starts over"
        [outputs.q]
        on = "a or off_delay"
        """)
    )
    made = run(engine, {"a": [(1, ON), (20, OFF), (30, ON)]}, 60)
    assert shown(made, "q") == [(1, ON)]


def test_a_reset_pressed_while_the_cause_stands_clears_nothing() -> None:
    """The lockout stays tripped and the output does not blink."""
    engine = Engine(
        machine_of("""
        [inputs.s]
        kind = "switch"
        contact = "normally closed"
        [inputs.b]
        kind = "button"
        [rules.trip]
        kind = "lockout"
        trips = "s open"
        clears = "b begins"
        [outputs.q]
        on = "not trip"
        """)
    )
    made = run(engine, {"s": [(3, OPEN), (9, CLOSED)], "b": [(5, ON), (6, OFF), (12, ON)]}, 60)
    assert moved(engine, made, "trip") == [(3, "tripped"), (12, "clear")]
    assert shown(made, "q") == [(0, ON), (3, OFF), (12, ON)]


def test_a_lockout_cleared_by_the_delay_it_sets_going_shows() -> None:
    """It clears when the delay is over, not in the instant in which it tripped."""
    engine = Engine(
        machine_of("""
        [inputs.s]
        kind = "switch"
        contact = "normally closed"
        [rules.d]
        kind = "delay"
        begins = "q ends"
        lasts = "30 s"
        if_begun_again = "starts over"
        [rules.trip]
        kind = "lockout"
        trips = "s open for 2 s"
        clears = "not d"
        [outputs.q]
        on = "not trip"
        """)
    )
    made = run(engine, {"s": [(5, OPEN), (8, CLOSED)]}, 60)
    assert moved(engine, made, "trip") == [(7, "tripped"), (37, "clear")]


def test_elapsed_time_counts_under_the_speed_up() -> None:
    """A second of sixty-fold speed takes 59 s off a run that had 149 s to go."""
    made = run_tarnbeck({"cold": [(0, ON)], "fast": [(60, ON), (61, OFF)]}, 200)
    assert [time for time, _ in moved(tarnbeck(), made, "defrost")][:1] == [151]


IGNITION = """
[inputs.heat]
kind = "call"
[inputs.flame]
kind = "signal"
[rules.burner]
kind = "sequence"
begins = "heat"
ends = "not heat"
steps = [
  { name = "purge", lasts = "30 s" },
  { name = "heat_up", lasts = "20 s" },
  { name = "trial", until = "flame", lasts = "4 s", if_not = "end" },
  { name = "firing", until = "not flame" },
]
[rules.on_delay]
kind = "delay"
begins = "firing begins"
lasts = "30 s"
if_begun_again = "starts over"
cut_by = "not firing"
[conditions.heating]
is = "firing and not on_delay"
[rules.off_delay]
kind = "delay"
begins = "heating ends"
lasts = "60 s"
if_begun_again = "starts over"
cut_by = "heating"
[outputs.igniter]
on = "heat_up or trial"
[outputs.gas]
on = "trial or firing"
[outputs.blower]
on = "heating or off_delay"
"""


def test_a_purge_cut_short_is_not_a_purge_that_is_over() -> None:
    """With the call lost in the purge nothing heats up and no gas flows."""
    made = run(machine_of(IGNITION), {"heat": [(1, ON), (20, OFF)]}, 200)
    assert shown(made, "igniter") == shown(made, "gas") == []


def test_a_blower_that_never_ran_does_not_run_on() -> None:
    """With the call lost before the on-delay is over there is no heating that could end."""
    changes = {"heat": [(1, ON), (70, OFF)], "flame": [(52, ON), (70, OFF)]}
    assert shown(run(machine_of(IGNITION), changes, 300), "blower") == []
    changes = {"heat": [(1, ON), (90, OFF)], "flame": [(52, ON), (90, OFF)]}
    assert shown(run(machine_of(IGNITION), changes, 300), "blower") == [(82, ON), (150, OFF)]


def test_two_events_of_one_instant_count_once() -> None:
    """A count takes in one event an instant however many coincide."""
    engine = Engine(
        machine_of("""
        [inputs.a]
        kind = "call"
        [inputs.b]
        kind = "call"
        [rules.n]
        kind = "count"
        counts = "a begins or b begins"
        limit = 2
        [outputs.q]
        on = "n reached"
        """)
    )
    made = run(engine, {"a": [(1, ON), (2, OFF), (3, ON)], "b": [(1, ON)]}, 10)
    assert shown(made, "q") == [(3, ON)]


def test_a_delay_that_begins_only_if_it_does_not_is_refused() -> None:
    """The output that begins it is held off by it: no picture agrees with itself."""
    machine = machine_of("""
        [inputs.a]
        kind = "call"
        [rules.d]
        kind = "delay"
        begins = "q begins"
        lasts = "5 s"
        if_begun_again = "starts over"
        [outputs.q]
        on = "a and not d"
        """)
    with pytest.raises(ContradictsItself, match="begins only if it does not begin"):
        run(machine, {"a": [(1, ON)]}, 10)


def test_an_output_that_changes_and_changes_back_in_no_time_is_refused() -> None:
    """A mode begun by a condition that still holds comes back the moment an event has ended it."""
    machine = machine_of("""
        [inputs.a]
        kind = "call"
        [inputs.b]
        kind = "call"
        [rules.m]
        kind = "mode"
        begins = "a"
        ends = "b begins"
        [outputs.q]
        on = "m"
        """)
    with pytest.raises(CannotSettle, match="at 2 s: q changes and changes back in no time"):
        run(machine, {"a": [(1, ON)], "b": [(2, ON)]}, 10)


def test_a_move_on_an_event_that_did_not_last_is_refused() -> None:
    """One thing hands over to another; what counted the gap between them counted nothing."""
    machine = machine_of("""
        [inputs.a]
        kind = "call"
        [rules.x]
        kind = "mode"
        begins = "a begins"
        ends = "not a"
        [rules.y]
        kind = "mode"
        begins = "x ends"
        ends = "a begins"
        [conditions.busy]
        is = "x or y"
        [rules.n]
        kind = "count"
        counts = "busy ends"
        limit = 3
        [outputs.q]
        on = "n reached"
        """)
    with pytest.raises(CannotSettle, match="n moved on an event that did not last"):
        run(machine, {"a": [(1, ON), (2, OFF)]}, 10)


@pytest.mark.parametrize("seed", range(20))
def test_the_restart_delay_keeps_its_range_at_the_terminals(seed: int) -> None:
    """Contactor off at x, on again from x + 42.9 s to x + 47.1 s: 45 s with 4 % and 0.3 s, nothing added."""
    made = run_tarnbeck({"y": [(0, ON), (80, OFF), (90, ON)]}, 200, "random", seed)
    (start, _), (off, _), (again, _) = shown(made, "cc")
    assert 28.5 <= start <= 31.5
    assert 80 <= off <= 80.3
    assert 42.9 - 1e-6 <= again - off <= 47.1 + 1e-6


@pytest.mark.parametrize("seed", range(20))
def test_an_opening_shorter_than_the_time_never_trips_a_longer_one_does(seed: int) -> None:
    """2 s with 4 % and 0.3 s: an opening of 1.59 s never trips; one that lasts trips from 1.62 s to 2.38 s on."""
    made = run_tarnbeck({"lps": [(100, OPEN), (101.59, CLOSED)]}, 130, "random", seed)
    assert moved(tarnbeck(), made, "lp_lockout") == []
    made = run_tarnbeck({"lps": [(100, OPEN)]}, 130, "random", seed)
    ((tripped, _),) = moved(tarnbeck(), made, "lp_lockout")
    assert 101.62 <= tripped <= 102.38
