"""Boards whose rules contradict themselves, gone through as firmware goes through its rules: over and over.

Law: what comes to rest does what it always did, and the rest is refused nowhere: a thing goes on in the next scan.
"""

from __future__ import annotations

from random import Random

import pytest

import small_boards
from boardgauge.faults import engine_of, faults_of
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.run import Run
from boardgauge.machine.scanning import ScanningEngine
from boardgauge.machine.settle import Engine
from boardgauge.machine.simulate import Simulator
from machine.small_boards import Changes, held, machine_of, moved, run, shown

ON, OFF = True, False
CALLS = """
    [inputs.a]
    kind = "call"
    [inputs.b]
    kind = "call"
"""


def scanned(tables: str, changes: Changes, end: float) -> tuple[ScanningEngine, Run]:
    """Run a board of tables that an engine refuses and one that scans does not."""
    machine = machine_of(CALLS + tables)
    with pytest.raises(CannotSettle):
        run(machine, changes, end)
    engine = ScanningEngine(machine)
    return engine, run(engine, changes, end)


@pytest.mark.parametrize("seed", range(12))
def test_a_board_that_comes_to_rest_does_what_it_always_did(seed: int) -> None:
    """Story, terminals and times are the same, instant by instant."""
    chance = Random(seed)
    found = small_boards.life(seed)
    assert found is not None
    machine, happens = found.judge.engine.machine, small_boards.timeline(chance, found.judge)
    try:
        usual = Simulator(machine, "random", seed, engine=Engine(machine)).run(happens)
    except CannotSettle:
        return
    assert Simulator(machine, "random", seed, engine=ScanningEngine(machine)).run(happens) == usual


def test_a_mode_that_begins_anew_as_it_ends_does_so_in_the_next_scan() -> None:
    """What begins it still holds, so for one scan it is off."""
    _, made = scanned(
        """
        [rules.m]
        kind = "mode"
        begins = "a"
        ends = "b begins"
        [outputs.q]
        on = "m"
        """,
        {"a": [(1, ON), (3, OFF)], "b": [(2, ON)]},
        10,
    )
    assert shown(made, "q") == [(1, ON), (2, OFF), (2.01, ON)]


@pytest.mark.parametrize("off", [2.045, 3.5])
def test_a_lockout_that_clears_whenever_it_can_is_over_in_the_next_scan(off: float) -> None:
    """What it trips on it stops itself; then it waits anew for as long as before."""
    _, made = scanned(
        """
        [rules.m]
        kind = "lockout"
        trips = "(q and a) for 1 s"
        clears = "a or not a"
        [outputs.q]
        on = "a and not m"
        """,
        {"a": [(1, ON), (off, OFF)]},
        5,
    )
    trips = [(2, OFF), (2.01, ON), (3.01, OFF), (3.02, ON)]
    assert shown(made, "q") == [(1, ON), *(row for row in trips if row[0] < off), (off, OFF)]


def test_a_sequence_that_comes_around_goes_on_in_the_next_scan() -> None:
    """From its second step, which is over at once, it goes back to the first one."""
    engine, made = scanned(
        """
        [rules.s]
        kind = "sequence"
        begins = "a begins"
        ends = "not a"
        steps = [
          { name = "one", lasts = "2 s exactly" },
          { name = "two", until = "b", then = "one" },
        ]
        [outputs.q]
        on = "two"
        """,
        {"b": [(0, ON)], "a": [(1, ON)]},
        6,
    )
    assert moved(engine, made, "s") == [(1, "one"), (3, "two"), (3.01, "one"), (5.01, "two"), (5.02, "one")]


def test_a_delay_begun_by_what_it_prevents_prevents_it() -> None:
    """A rest that begins with the heating, and lets nothing heat while it runs, lets nothing heat."""
    engine, made = scanned(
        """
        [rules.d]
        kind = "delay"
        begins = "q begins"
        lasts = "5 s exactly"
        if_begun_again = "starts over"
        [outputs.q]
        on = "a and not d"
        """,
        {"a": [(1, ON)]},
        10,
    )
    assert shown(made, "q") == []
    assert held(engine, made, "d")[0] == (1, True)


def test_without_power_nothing_goes_on() -> None:
    """A board that was to go on in the next scan does not, if the supply goes before."""
    _, made = scanned(
        """
        [rules.m]
        kind = "mode"
        begins = "a"
        ends = "b begins"
        [outputs.q]
        on = "m"
        """,
        {"a": [(1, ON)], "b": [(2, ON)], "power": [(0, ON), (2.005, OFF)]},
        3,
    )
    assert shown(made, "q") == [(1, ON), (2, OFF)]
    assert made.story[-1].time == 2_005_000


@pytest.mark.parametrize("seed", range(25))
def test_no_faulty_board_is_refused(seed: int) -> None:
    """Whatever is wrong with a drawn board, it is taken through all that happens to it."""
    chance = Random(seed)
    found = small_boards.life(seed)
    assert found is not None
    happens = small_boards.timeline(chance, found.judge)
    for fault in chance.sample(faults_of(found.board), 6):
        engine = engine_of(fault)
        Simulator(engine.machine, "nominal", seed, engine=engine).run(happens)
